/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What was planned, and what becomes of it when its time has passed. */
#include "store_internal.h"

#include <stdio.h>
#include <stdlib.h>

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
    sqlite3_stmt *statement = store_statement(store,
                                              "INSERT INTO planned_run (zone, start_s, end_s, "
                                              "litres, pulses, pulse_min, pause_min, purpose, "
                                              "run_id, order_key, stands) VALUES (?1, ?2, ?3, "
                                              "?4, ?5, ?6, ?7, ?8, ?9, nullif(?10, ''), "
                                              "(SELECT changes FROM plan_basis) = ?11)",
                                              error);
    if (!statement)
        return -1;
    store_bind_text(statement, 1, run->zone);
    sqlite3_bind_int64(statement, 2, run->start_s);
    sqlite3_bind_int64(statement, 3, run->end_s);
    store_bind_number(statement, 4, run->litres);
    sqlite3_bind_int(statement, 5, run->pulses);
    sqlite3_bind_int(statement, 6, run->pulse_min);
    sqlite3_bind_int(statement, 7, run->pause_min);
    store_bind_text(statement, 8, store_purpose_name(run->purpose));
    store_bind_text(statement, 9, run->run_id);
    store_bind_text(statement, 10, run->order_key);
    sqlite3_bind_int64(statement, 11, run->basis);
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

/* Runs a statement of code, subject, since and now. */
static int write_notice(struct store *store, const char *sql, const struct records_notice *notice,
                        int64_t now_s, struct error *error)
{
    sqlite3_stmt *statement = store_statement(store, sql, error);
    if (!statement)
        return -1;
    store_bind_text(statement, 1, notice->code);
    store_bind_text(statement, 2, notice->subject);
    sqlite3_bind_int64(statement, 3, notice->since_s);
    sqlite3_bind_int64(statement, 4, now_s);
    return store_run(store, statement, error);
}

static int end_notices(struct store *store, int64_t now_s, const struct records_notice *said,
                       size_t count, struct error *error)
{
    sqlite3_stmt *open = store_statement(
        store, "SELECT code, subject, since_s FROM notice WHERE until_s IS NULL", error);
    int got = open ? 0 : -1;
    while (got >= 0 && (got = store_step(store, open, error)) == 1) {
        struct records_notice notice = {.since_s = sqlite3_column_int64(open, 2)};
        snprintf(notice.code, sizeof notice.code, "%s", store_text(open, 0));
        snprintf(notice.subject, sizeof notice.subject, "%s", store_text(open, 1));
        if (count > 0 && bsearch(&notice, said, count, sizeof notice, records_notice_order))
            continue;
        got = write_notice(store,
                           "UPDATE notice SET until_s = max(?4, since_s) WHERE code = ?1 AND"
                           " subject = ?2 AND since_s = ?3",
                           &notice, now_s, error);
    }
    if (open)
        sqlite3_reset(open);
    return got;
}

int store_notices_replace(struct store *store, int64_t now_s, const struct records_notice *said,
                          size_t count, struct error *error)
{
    bool own = false;
    if (store_scope_open(store, &own, error))
        return -1;
    int result = end_notices(store, now_s, said, count, error);
    for (size_t i = 0; i < count && result == 0; i++) {
        if (said[i].since_s < now_s) /* open already */
            continue;
        result = write_notice(store,
                              "INSERT INTO notice (code, subject, since_s) SELECT ?1, ?2, ?3"
                              " WHERE ?4 >= ?3 ON CONFLICT DO UPDATE SET until_s = NULL",
                              &said[i], now_s, error);
    }
    return store_scope_close(store, own, result, error);
}
