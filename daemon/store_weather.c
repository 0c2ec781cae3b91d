/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What feeds gave: their state between requests, every issue of every hour. */
#include <stdio.h>

#include "store_internal.h"

int store_feed_read(struct store *store, const char *feed, struct store_feed *out,
                    struct error *error)
{
    sqlite3_stmt *row = store_statement(
        store,
        "SELECT last_modified, expires_s, next_allowed_s, issued_s, fetched_s,"
        " first_s, end_s, failures, last_error, last_error_s, unreached, asked, address,"
        " address_s, failing_since_s, warning"
        " FROM feed WHERE feed = ?1",
        error);
    if (!row)
        return -1;
    store_bind_text(row, 1, feed);
    int got = store_step(store, row, error);
    if (got < 0)
        return -1;
    struct store_feed read = {.last_modified = ""};
    if (got == 1) {
        snprintf(read.last_modified, sizeof read.last_modified, "%s", store_text(row, 0));
        read.expires_s = sqlite3_column_int64(row, 1);
        read.next_allowed_s = sqlite3_column_int64(row, 2);
        read.issued_s = sqlite3_column_int64(row, 3);
        read.fetched_s = sqlite3_column_int64(row, 4);
        read.first_s = sqlite3_column_int64(row, 5);
        read.end_s = sqlite3_column_int64(row, 6);
        read.failures = sqlite3_column_int(row, 7);
        snprintf(read.last_error, sizeof read.last_error, "%s", store_text(row, 8));
        read.last_error_s = sqlite3_column_int64(row, 9);
        read.unreached = sqlite3_column_int(row, 10);
        snprintf(read.asked, sizeof read.asked, "%s", store_text(row, 11));
        snprintf(read.address, sizeof read.address, "%s", store_text(row, 12));
        read.address_s = sqlite3_column_int64(row, 13);
        read.failing_since_s = sqlite3_column_int64(row, 14);
        snprintf(read.warning, sizeof read.warning, "%s", store_text(row, 15));
        sqlite3_reset(row);
    }
    *out = read;
    return 0;
}

int store_feed_write(struct store *store, const char *feed, const struct store_feed *in,
                     struct error *error)
{
    sqlite3_stmt *write =
        store_statement(store,
                        "INSERT OR REPLACE INTO feed (feed, last_modified, expires_s,"
                        " next_allowed_s, issued_s, fetched_s, first_s, end_s, failures,"
                        " last_error, last_error_s, unreached, asked, address, address_s,"
                        " failing_since_s, warning) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9,"
                        " ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17)",
                        error);
    if (!write)
        return -1;
    store_bind_text(write, 1, feed);
    store_bind_text(write, 2, in->last_modified);
    sqlite3_bind_int64(write, 3, in->expires_s);
    sqlite3_bind_int64(write, 4, in->next_allowed_s);
    sqlite3_bind_int64(write, 5, in->issued_s);
    sqlite3_bind_int64(write, 6, in->fetched_s);
    sqlite3_bind_int64(write, 7, in->first_s);
    sqlite3_bind_int64(write, 8, in->end_s);
    sqlite3_bind_int(write, 9, in->failures);
    store_bind_text(write, 10, in->last_error);
    sqlite3_bind_int64(write, 11, in->last_error_s);
    sqlite3_bind_int(write, 12, in->unreached);
    store_bind_text(write, 13, in->asked);
    store_bind_text(write, 14, in->address);
    sqlite3_bind_int64(write, 15, in->address_s);
    sqlite3_bind_int64(write, 16, in->failing_since_s);
    store_bind_text(write, 17, in->warning);
    return store_run(store, write, error);
}

int store_host_read(struct store *store, const char *host, int64_t *next_allowed_s,
                    struct error *error)
{
    sqlite3_stmt *row =
        store_statement(store, "SELECT next_allowed_s FROM feed_host WHERE host = ?1", error);
    if (!row)
        return -1;
    store_bind_text(row, 1, host);
    int got = store_step(store, row, error);
    if (got < 0)
        return -1;
    *next_allowed_s = got == 1 ? sqlite3_column_int64(row, 0) : 0;
    if (got == 1)
        sqlite3_reset(row);
    return 0;
}

static int write_host(struct store *store, const char *host, int64_t next_allowed_s,
                      struct error *error)
{
    sqlite3_stmt *write = store_statement(
        store, "INSERT OR REPLACE INTO feed_host (host, next_allowed_s) VALUES (?1, ?2)", error);
    if (!write)
        return -1;
    store_bind_text(write, 1, host);
    sqlite3_bind_int64(write, 2, next_allowed_s);
    return store_run(store, write, error);
}

int store_feed_write_with_host(struct store *store, const char *feed, const struct store_feed *in,
                               const char *host, int64_t next_allowed_s, struct error *error)
{
    bool own = false;
    if (store_scope_open(store, &own, error))
        return -1;
    int result = write_host(store, host, next_allowed_s, error);
    if (result == 0)
        result = store_feed_write(store, feed, in, error);
    return store_scope_close(store, own, result, error);
}

int store_clock_read(struct store *store, struct store_clock *out, struct error *error)
{
    struct store_clock read = {.trusted_s = 0};
    sqlite3_stmt *row =
        store_statement(store, "SELECT trusted_s, agreed_s, wrong_s, there_s FROM clock", error);
    int got = row ? store_step(store, row, error) : -1;
    if (got < 0)
        return -1;
    if (got == 1) {
        read.trusted_s = sqlite3_column_int64(row, 0);
        read.agreed_s = sqlite3_column_int64(row, 1);
        read.wrong_s = sqlite3_column_int64(row, 2);
        read.there_s = sqlite3_column_int64(row, 3);
        sqlite3_reset(row);
    }
    *out = read;
    return 0;
}

int store_clock_write(struct store *store, const struct store_clock *in, struct error *error)
{
    sqlite3_stmt *write =
        store_statement(store,
                        "INSERT OR REPLACE INTO clock (one, trusted_s, agreed_s, wrong_s, there_s)"
                        " VALUES (1, ?1, ?2, ?3, ?4)",
                        error);
    if (!write)
        return -1;
    sqlite3_bind_int64(write, 1, in->trusted_s);
    sqlite3_bind_int64(write, 2, in->agreed_s);
    sqlite3_bind_int64(write, 3, in->wrong_s);
    sqlite3_bind_int64(write, 4, in->there_s);
    return store_run(store, write, error);
}

int store_feed_hasten(struct store *store, int64_t until_s, struct error *error)
{
    static const char *const changes[] = {
        "UPDATE feed SET next_allowed_s = ?1 WHERE next_allowed_s > ?1",
        "UPDATE feed_host SET next_allowed_s = ?1 WHERE next_allowed_s > ?1"};
    for (size_t i = 0; i < sizeof changes / sizeof changes[0]; i++) {
        sqlite3_stmt *change = store_statement(store, changes[i], error);
        if (!change)
            return -1;
        sqlite3_bind_int64(change, 1, until_s);
        if (store_run(store, change, error) != 0)
            return -1;
    }
    return 0;
}

/* The same issue fetched again keeps the moment when it was first known. */
static int write_hour(struct store *store, const char *feed, const struct weather_raw *hour,
                      int64_t fetched_s, struct error *error)
{
    const double numbers[] = {hour->temperature_c, hour->dewpoint_c,      hour->humidity_pct,
                              hour->wind_10m_m_s,  hour->cloud_pct,       hour->cloud_low_pct,
                              hour->cloud_mid_pct, hour->cloud_high_pct,  hour->radiation_w_m2,
                              hour->rain_mm,       hour->rain_probability};
    sqlite3_stmt *write = store_statement(
        store,
        "INSERT INTO weather_hour (start_s, feed, issued_s, fetched_s, kind, temperature_c,"
        " dewpoint_c, humidity_pct, wind_10m_m_s, cloud_pct, cloud_low_pct, cloud_mid_pct,"
        " cloud_high_pct, radiation_w_m2, rain_mm, rain_probability)"
        " VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16)"
        " ON CONFLICT (start_s, feed, issued_s) DO UPDATE SET"
        " fetched_s = min(fetched_s, ?4), kind = ?5, temperature_c = ?6, dewpoint_c = ?7,"
        " humidity_pct = ?8, wind_10m_m_s = ?9, cloud_pct = ?10, cloud_low_pct = ?11,"
        " cloud_mid_pct = ?12, cloud_high_pct = ?13, radiation_w_m2 = ?14, rain_mm = ?15,"
        " rain_probability = ?16",
        error);
    if (!write)
        return -1;
    sqlite3_bind_int64(write, 1, hour->start_s);
    store_bind_text(write, 2, feed);
    sqlite3_bind_int64(write, 3, hour->issued_s);
    sqlite3_bind_int64(write, 4, fetched_s);
    sqlite3_bind_int(write, 5, (int)hour->kind);
    for (size_t i = 0; i < sizeof numbers / sizeof numbers[0]; i++)
        store_bind_number(write, 6 + (int)i, numbers[i]);
    return store_run(store, write, error);
}

static int write_document(struct store *store, const char *feed, const struct store_feed *in,
                          struct error *error)
{
    sqlite3_stmt *write =
        store_statement(store,
                        "INSERT INTO feed_document (feed, issued_s, fetched_s, first_s, end_s)"
                        " VALUES (?1, ?2, ?3, ?4, ?5) ON CONFLICT (feed, issued_s) DO UPDATE SET"
                        " first_s = min(first_s, ?4), end_s = max(end_s, ?5)",
                        error);
    if (!write)
        return -1;
    store_bind_text(write, 1, feed);
    sqlite3_bind_int64(write, 2, in->issued_s);
    sqlite3_bind_int64(write, 3, in->fetched_s);
    sqlite3_bind_int64(write, 4, in->first_s);
    sqlite3_bind_int64(write, 5, in->end_s);
    return store_run(store, write, error);
}

static int check_hour(const struct weather_raw *hour, struct error *error)
{
    if (hour->start_s % CIVIL_HOUR_S != 0)
        return error_set(error, "records: an hour that starts at %lld s, not at a whole hour",
                         (long long)hour->start_s);
    if (hour->kind > WEATHER_NORMAL)
        return error_set(error, "records: an hour of unknown kind %d", (int)hour->kind);
    return 0;
}

int store_feed_accept(struct store *store, const char *feed, const struct weather_raw *hours,
                      size_t count, const struct store_feed *in, struct error *error)
{
    bool own = false;
    if (store_scope_open(store, &own, error))
        return -1;
    int result = 0;
    for (size_t i = 0; i < count && result == 0; i++) {
        result = check_hour(&hours[i], error);
        if (result == 0)
            result = write_hour(store, feed, &hours[i], in->fetched_s, error);
    }
    if (result == 0)
        result = write_document(store, feed, in, error);
    if (result == 0)
        result = store_feed_write(store, feed, in, error);
    return store_scope_close(store, own, result, error);
}

/* --- climate normals ---------------------------------------------------------------------- */

int store_normals_read(struct store *store, struct store_normals *out, struct error *error)
{
    struct store_normals read = {.imported = false};
    sqlite3_stmt *row = store_statement(
        store,
        "SELECT (SELECT count(*) FROM normal) = 12, coalesce(max(feed), ''),"
        " coalesce(max(place), '') FROM feed_normal WHERE (SELECT count(*) FROM feed_normal) = 12",
        error);
    if (!row || store_step(store, row, error) != 1)
        return -1;
    read.imported = sqlite3_column_int(row, 0) != 0;
    snprintf(read.feed, sizeof read.feed, "%s", store_text(row, 1));
    snprintf(read.place, sizeof read.place, "%s", store_text(row, 2));
    sqlite3_reset(row);
    *out = read;
    return 0;
}

static int write_normal(struct store *store, const char *feed, const char *place, int month,
                        const struct weather_normal *normal, int64_t fetched_s, struct error *error)
{
    const double numbers[] = {normal->temperature_max_c, normal->temperature_min_c,
                              normal->dewpoint_c,        normal->wind_2m_m_s,
                              normal->clear_ratio,       normal->rain_mm,
                              normal->wet_days};
    sqlite3_stmt *write = store_statement(
        store,
        "INSERT OR REPLACE INTO feed_normal (month, feed, place, fetched_s, tmax_c, tmin_c,"
        " dewpoint_c, wind_2m_m_s, clear_ratio, rain_mm, wet_days)"
        " VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11)",
        error);
    if (!write)
        return -1;
    sqlite3_bind_int(write, 1, month);
    store_bind_text(write, 2, feed);
    store_bind_text(write, 3, place);
    sqlite3_bind_int64(write, 4, fetched_s);
    for (size_t i = 0; i < sizeof numbers / sizeof numbers[0]; i++)
        store_bind_number(write, 5 + (int)i, numbers[i]);
    return store_run(store, write, error);
}

int store_feed_accept_normals(struct store *store, const char *feed, const char *place,
                              const struct weather_normal normals[12], const struct store_feed *in,
                              struct error *error)
{
    bool own = false;
    if (store_scope_open(store, &own, error))
        return -1;
    int result = 0;
    for (int m = 0; m < 12 && result == 0; m++)
        result = write_normal(store, feed, place, m + 1, &normals[m], in->fetched_s, error);
    if (result == 0)
        result = store_feed_write(store, feed, in, error);
    return store_scope_close(store, own, result, error);
}

int store_feed_forget_normals(struct store *store, struct error *error)
{
    sqlite3_stmt *forget = store_statement(store, "DELETE FROM feed_normal", error);
    return forget ? store_run(store, forget, error) : -1;
}
