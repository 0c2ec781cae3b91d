/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "store_station.h"

#include "store_internal.h"

/* 1 when the row is new or says something else, 0, or -1. */
static int put(struct store *store, const struct station_reading *r, const char *via,
               int64_t received_s, struct error *error)
{
    const double values[] = {r->temperature_c, r->humidity_pct,   r->dewpoint_c,
                             r->wind_m_s,      r->radiation_w_m2, r->rain_mm};
    sqlite3_stmt *write = store_statement(
        store,
        "INSERT INTO station_reading (end_s, period_s, temperature_c, humidity_pct, dewpoint_c,"
        " wind_m_s, radiation_w_m2, rain_mm, via, received_s)"
        " VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10) ON CONFLICT (end_s) DO UPDATE SET"
        " period_s = ?2, temperature_c = ?3, humidity_pct = ?4, dewpoint_c = ?5, wind_m_s = ?6,"
        " radiation_w_m2 = ?7, rain_mm = ?8, via = ?9, received_s = ?10"
        " WHERE period_s IS NOT ?2 OR temperature_c IS NOT ?3 OR humidity_pct IS NOT ?4 OR"
        " dewpoint_c IS NOT ?5 OR wind_m_s IS NOT ?6 OR radiation_w_m2 IS NOT ?7 OR"
        " rain_mm IS NOT ?8",
        error);
    if (!write)
        return -1;
    sqlite3_bind_int64(write, 1, r->end_s);
    sqlite3_bind_double(write, 2, r->period_s);
    for (int i = 0; i < 6; i++)
        store_bind_number(write, 3 + i, values[i]);
    store_bind_text(write, 9, via);
    sqlite3_bind_int64(write, 10, received_s);
    if (store_run(store, write, error))
        return -1;
    return sqlite3_changes(store->db) > 0;
}

int store_readings_put(struct store *store, const struct station_reading *readings, size_t count,
                       const char *via, int64_t received_s, size_t *changed, struct error *error)
{
    bool own = false;
    size_t changes = 0;
    if (store_scope_open(store, &own, error))
        return -1;
    int result = 0;
    for (size_t i = 0; i < count && result == 0; i++) {
        int put_one = -1;
        if (status_within(readings[i].period_s, 10, 3600))
            put_one = put(store, &readings[i], via, received_s, error);
        else
            error_set(error, "a reading's period is %g s, accepted is 10 to 3600",
                      readings[i].period_s);
        changes += put_one > 0 ? 1 : 0;
        result = put_one < 0 ? -1 : 0;
    }
    result = store_scope_close(store, own, result, error);
    if (result == 0 && changed)
        *changed = changes;
    return result;
}
