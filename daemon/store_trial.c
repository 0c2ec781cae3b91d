/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "store_trial.h"

#include <stdio.h>

#include "store_internal.h"

int store_archived_feeds(struct store *store, int64_t first_s, char names[][32], size_t most,
                         size_t *count, struct error *error)
{
    sqlite3_stmt *row = store_statement(
        store, "SELECT DISTINCT feed FROM weather_hour WHERE start_s >= ?1 ORDER BY feed", error);
    int got = 0;
    if (!row)
        return -1;
    sqlite3_bind_int64(row, 1, first_s);
    *count = 0;
    while ((got = store_step(store, row, error)) == 1)
        if (*count < most)
            snprintf(names[(*count)++], 32, "%s", store_text(row, 0));
    return got;
}

int store_archived_hours(struct store *store, const char *feed, int64_t from_s, int64_t to_s,
                         int64_t after_s, int64_t by_s, struct weather_offer *offers, size_t most,
                         size_t *count, struct error *error)
{
    sqlite3_stmt *row = store_statement(
        store,
        "SELECT start_s, max(issued_s), kind, temperature_c, dewpoint_c, humidity_pct,"
        " wind_10m_m_s, cloud_pct, cloud_low_pct, cloud_mid_pct, cloud_high_pct, radiation_w_m2,"
        " rain_mm, rain_probability FROM weather_hour WHERE start_s >= ?1 AND start_s < ?2 AND "
        "feed = ?3 AND"
        " issued_s > ?4 AND issued_s <= ?5 GROUP BY start_s ORDER BY start_s",
        error);
    int got = 0;
    if (!row)
        return -1;
    sqlite3_bind_int64(row, 1, from_s);
    sqlite3_bind_int64(row, 2, to_s);
    store_bind_text(row, 3, feed);
    sqlite3_bind_int64(row, 4, after_s);
    sqlite3_bind_int64(row, 5, by_s);
    *count = 0;
    while ((got = store_step(store, row, error)) == 1)
        if (*count < most)
            offers[(*count)++] = (struct weather_offer){.raw = store_hour_of(row, 0)};
    return got;
}

static void bind_day(sqlite3_stmt *write, int from, const struct weather_day *day)
{
    sqlite3_bind_double(write, from, day->temperature_c);
    sqlite3_bind_double(write, from + 1, day->dewpoint_c);
    sqlite3_bind_double(write, from + 2, day->wind_2m_m_s);
    sqlite3_bind_double(write, from + 3, day->radiation_mj_m2);
    sqlite3_bind_double(write, from + 4, day->rain_mm);
    sqlite3_bind_double(write, from + 5, day->et0_mm);
}

static int put_trial(struct store *store, const struct store_trial *trial, struct error *error)
{
    sqlite3_stmt *write = store_statement(
        store,
        "INSERT OR REPLACE INTO forecast_trial (feed, day, lead_d, end_s, against,"
        " forecast_temperature_c, forecast_dewpoint_c, forecast_wind_2m_m_s,"
        " forecast_radiation_mj_m2, forecast_rain_mm, forecast_et0_mm, came_temperature_c,"
        " came_dewpoint_c, came_wind_2m_m_s, came_radiation_mj_m2, came_rain_mm, came_et0_mm)"
        " VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17)",
        error);
    if (!write)
        return -1;
    store_bind_text(write, 1, trial->feed);
    store_bind_text(write, 2, trial->day);
    sqlite3_bind_int(write, 3, trial->lead_d);
    sqlite3_bind_int64(write, 4, trial->end_s);
    sqlite3_bind_int(write, 5, (int)trial->against);
    bind_day(write, 6, &trial->forecast);
    bind_day(write, 12, &trial->came);
    return store_run(store, write, error);
}

int store_trials_put(struct store *store, const struct store_trial *trials, size_t count,
                     struct error *error)
{
    bool own = false;
    int result = 0;
    if (store_scope_open(store, &own, error))
        return -1;
    for (size_t i = 0; i < count && result == 0; i++)
        result = put_trial(store, &trials[i], error);
    return store_scope_close(store, own, result, error);
}

int store_trials_until(struct store *store, char day[16], struct error *error)
{
    sqlite3_stmt *row =
        store_statement(store, "SELECT coalesce(max(day), '') FROM forecast_trial", error);
    if (!row || store_step(store, row, error) != 1)
        return -1;
    snprintf(day, 16, "%s", store_text(row, 0));
    sqlite3_reset(row);
    return 0;
}

int store_archive_thin(struct store *store, int64_t before_s, struct error *error)
{
    sqlite3_stmt *write = store_statement(
        store,
        "DELETE FROM weather_hour WHERE start_s < ?1 AND start_s >= ?1 - 30 * 86400 AND issued_s <"
        " (SELECT max(w.issued_s) FROM weather_hour AS w WHERE w.start_s = weather_hour.start_s"
        "  AND w.feed = weather_hour.feed)",
        error);
    if (!write)
        return -1;
    sqlite3_bind_int64(write, 1, before_s);
    return store_run(store, write, error);
}
