/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "store_history.h"

#include <math.h>

#include "store_internal.h"

static const char history_sql[] =
    "SELECT 'planned', zone, NULL, NULL, state, start_s, end_s, litres, NULL, NULL, NULL"
    " FROM planned_run WHERE start_s >= ?1 AND start_s < ?2"
    " UNION ALL SELECT 'run', r.zone, NULL, run_key, state, start_s, end_s,"
    " " STORE_RUN_LITRES ", NULL, NULL, NULL"
    " FROM run AS r JOIN zone AS z USING (zone) WHERE start_s >= ?1 AND start_s < ?2"
    " UNION ALL SELECT 'weighing', NULL, block, NULL, NULL, at_s, at_s, NULL, capacity_kg, now_kg,"
    " NULL FROM weighing WHERE at_s >= ?1 AND at_s < ?2"
    " UNION ALL SELECT 'gauge', NULL, NULL, NULL, NULL, from_s, to_s, NULL, NULL, NULL, rain_mm"
    " FROM gauge WHERE from_s >= ?1 AND from_s < ?2"
    " ORDER BY 6, 1, 2, 3, 4";

int store_history_each(struct store *store, int64_t from_s, int64_t to_s,
                       void (*take)(void *context, const struct store_history *line), void *context,
                       struct error *error)
{
    sqlite3_stmt *row = store_statement(store, history_sql, error);
    if (!row)
        return -1;
    sqlite3_bind_int64(row, 1, from_s);
    sqlite3_bind_int64(row, 2, to_s);
    int got = 1;
    while ((got = store_step(store, row, error)) == 1) {
        const struct store_history line = {
            .record = store_text(row, 0),
            .zone = store_text(row, 1),
            .block = store_text(row, 2),
            .key = store_text(row, 3),
            .state = store_text(row, 4),
            .start_s = sqlite3_column_int64(row, 5),
            .end_s = sqlite3_column_int64(row, 6),
            .litres = store_number(row, 7, NAN),
            .capacity_kg = store_number(row, 8, NAN),
            .now_kg = store_number(row, 9, NAN),
            .rain_mm = store_number(row, 10, NAN),
        };
        take(context, &line);
    }
    return got;
}
