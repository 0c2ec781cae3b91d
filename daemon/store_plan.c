/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What was planned, and what becomes of it when its time has passed. */
#include "store_internal.h"

static int run_at(struct store *store, const char *sql, int64_t now_s, struct error *error)
{
    sqlite3_stmt *statement = store_statement(store, sql, error);
    if (!statement)
        return -1;
    sqlite3_bind_int64(statement, 1, now_s);
    return store_run(store, statement, error);
}

static int settle(struct store *store, int64_t now_s, struct error *error)
{
    return run_at(
        store,
        "UPDATE planned_run SET state = CASE WHEN (SELECT confirm FROM zone WHERE"
        " zone.zone = planned_run.zone) IS 'reported' THEN 'unreported' ELSE 'assumed' END"
        " WHERE state = 'planned' AND end_s <= ?1",
        now_s, error);
}

static int insert(struct store *store, int64_t now_s, const struct store_planned *run,
                  struct error *error)
{
    if (!(run->start_s > now_s && run->end_s > run->start_s))
        return error_set(error,
                         "records: a planned run of zone '%s' from %lld to %lld s, accepted is "
                         "later than now (%lld) and an end after the start",
                         run->zone, (long long)run->start_s, (long long)run->end_s,
                         (long long)now_s);
    if (!(run->litres >= 0 && run->litres <= 1e9))
        return error_set(error, "records: a planned run of zone '%s' with %g litres", run->zone,
                         run->litres);
    sqlite3_stmt *statement = store_statement(
        store, "INSERT INTO planned_run (zone, start_s, end_s, litres) VALUES (?1, ?2, ?3, ?4)",
        error);
    if (!statement)
        return -1;
    store_bind_text(statement, 1, run->zone);
    sqlite3_bind_int64(statement, 2, run->start_s);
    sqlite3_bind_int64(statement, 3, run->end_s);
    store_bind_number(statement, 4, run->litres);
    return store_run(store, statement, error);
}

int store_planned_replace(struct store *store, int64_t now_s, const struct store_planned *runs,
                          size_t count, struct error *error)
{
    bool own = false;
    if (store_scope_open(store, &own, error))
        return -1;
    int result = settle(store, now_s, error);
    if (result == 0)
        result = run_at(store, "DELETE FROM planned_run WHERE start_s > ?1", now_s, error);
    for (size_t i = 0; i < count && result == 0; i++)
        result = insert(store, now_s, &runs[i], error);
    return store_scope_close(store, own, result, error);
}
