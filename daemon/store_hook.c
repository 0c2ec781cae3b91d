/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "store_hook.h"

#include <stdio.h>

#include "store_internal.h"

enum { REPORT_S = 1800, REPORT_OVER_S = 21600, AHEAD_S = 1800, POLLED_S = 900 };

int store_hook_causes(struct store *store, int64_t now_s, int64_t asked_s,
                      void (*take)(void *context, const struct store_cause *cause), void *context,
                      struct error *error)
{
    sqlite3_stmt *row = store_statement(
        store,
        "SELECT 'no_report', zone, max(end_s) FROM planned_run p WHERE state = 'unreported'"
        "  AND end_s <= ?1 - ?3 AND end_s > ?1 - ?4 AND NOT EXISTS (SELECT 1 FROM run r"
        "  WHERE r.zone = p.zone AND r.start_s BETWEEN p.start_s - 1800 AND p.end_s + 1800)"
        "  GROUP BY zone"
        " UNION ALL SELECT 'supply_out', coalesce(supply, ''), min(from_s) FROM hold"
        "  WHERE kind = 'pump-out' AND from_s <= ?1 AND coalesce(to_s, from_s + 86400) > ?1"
        "  GROUP BY coalesce(supply, '')"
        " UNION ALL SELECT 'nobody_polled', '', ?2 WHERE ?2 <= ?1 - ?5"
        "  AND EXISTS (SELECT 1 FROM token WHERE scope = 'controller' AND revoked_s IS NULL)"
        "  AND EXISTS (SELECT 1 FROM planned_run p JOIN zone z USING (zone)"
        "   WHERE p.start_s > ?1 AND p.start_s <= ?1 + ?6 AND z.method IS NOT 'hand')",
        error);
    if (!row)
        return -1;
    sqlite3_bind_int64(row, 1, now_s);
    sqlite3_bind_int64(row, 2, asked_s);
    sqlite3_bind_int64(row, 3, REPORT_S);
    sqlite3_bind_int64(row, 4, REPORT_OVER_S);
    sqlite3_bind_int64(row, 5, POLLED_S);
    sqlite3_bind_int64(row, 6, AHEAD_S);
    int got = 1;
    while ((got = store_step(store, row, error)) == 1) {
        struct store_cause cause = {.since_s = sqlite3_column_int64(row, 2)};
        snprintf(cause.code, sizeof cause.code, "%s", store_text(row, 0));
        snprintf(cause.subject, sizeof cause.subject, "%s", store_text(row, 1));
        take(context, &cause);
    }
    return got;
}

int store_hook_due(struct store *store, const struct store_cause *cause, int64_t now_s,
                   int64_t every_s, struct error *error)
{
    sqlite3_stmt *statement =
        store_statement(store,
                        "INSERT INTO hook_call (code, subject, called_s) VALUES (?1, ?2, ?3)"
                        " ON CONFLICT (code, subject) DO UPDATE SET called_s = excluded.called_s"
                        " WHERE called_s <= ?3 - ?4 OR called_s > ?3",
                        error);
    if (!statement)
        return -1;
    store_bind_text(statement, 1, cause->code);
    store_bind_text(statement, 2, cause->subject);
    sqlite3_bind_int64(statement, 3, now_s);
    sqlite3_bind_int64(statement, 4, every_s);
    if (store_run(store, statement, error) != 0)
        return -1;
    return sqlite3_changes(store->db) > 0 ? 1 : 0;
}
