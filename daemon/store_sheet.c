/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "store_sheet.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "store_internal.h"

#define SHEET_COLUMNS "number, issued_s, due_s, for_date, coalesce(replaces, 0), who, remarks"

static int take_sheet(sqlite3_stmt *row, bool content, struct store_sheet *out, struct error *error)
{
    *out = (struct store_sheet){
        .number = sqlite3_column_int64(row, 0),
        .issued_s = sqlite3_column_int64(row, 1),
        .due_s = sqlite3_column_int64(row, 2),
        .replaces = sqlite3_column_int64(row, 4),
        .remarks = strdup(store_text(row, 6)),
        .content = content ? strdup(store_text(row, 7)) : NULL,
    };
    snprintf(out->for_date, sizeof out->for_date, "%s", store_text(row, 3));
    snprintf(out->who, sizeof out->who, "%s", store_text(row, 5));
    if (out->remarks && (out->content || !content))
        return 1;
    store_sheet_clear(out);
    return error_set(error, "out of memory");
}

void store_sheet_clear(struct store_sheet *sheet)
{
    free(sheet->remarks);
    free(sheet->content);
    *sheet = (struct store_sheet){0};
}

static int read_one(struct store *store, const char *sql, int64_t value, struct store_sheet *out,
                    struct error *error)
{
    sqlite3_stmt *row = store_statement(store, sql, error);
    if (!row)
        return -1;
    sqlite3_bind_int64(row, 1, value);
    int got = store_step(store, row, error);
    if (got == 1)
        got = take_sheet(row, true, out, error);
    sqlite3_reset(row);
    return got;
}

int store_sheet_latest(struct store *store, int64_t at_s, struct store_sheet *out,
                       struct error *error)
{
    return read_one(store,
                    "SELECT " SHEET_COLUMNS ", content FROM sheet WHERE issued_s <= ?1"
                    " ORDER BY number DESC LIMIT 1",
                    at_s, out, error);
}

int store_sheet_read(struct store *store, int64_t number, struct store_sheet *out,
                     struct error *error)
{
    return read_one(store, "SELECT " SHEET_COLUMNS ", content FROM sheet WHERE number = ?1", number,
                    out, error);
}

int store_sheet_add(struct store *store, struct store_sheet *sheet, struct error *error)
{
    sqlite3_stmt *statement = store_statement(
        store,
        "INSERT INTO sheet (issued_s, due_s, for_date, replaces, who, remarks, content)"
        " VALUES (?1, ?2, ?3, nullif(?4, 0), ?5, ?6, ?7)",
        error);
    if (!statement)
        return -1;
    sqlite3_bind_int64(statement, 1, sheet->issued_s);
    sqlite3_bind_int64(statement, 2, sheet->due_s);
    store_bind_text(statement, 3, sheet->for_date);
    sqlite3_bind_int64(statement, 4, sheet->replaces);
    store_bind_text(statement, 5, sheet->who);
    store_bind_text(statement, 6, sheet->remarks);
    store_bind_text(statement, 7, sheet->content);
    if (store_run(store, statement, error) != 0)
        return -1;
    sheet->number = sqlite3_last_insert_rowid(store->db);
    return 0;
}

int store_sheet_each(struct store *store, int64_t before, int limit,
                     void (*take)(void *context, const struct store_sheet *sheet), void *context,
                     struct error *error)
{
    sqlite3_stmt *row =
        store_statement(store,
                        "SELECT " SHEET_COLUMNS " FROM sheet WHERE ?1 = 0 OR number < ?1"
                        " ORDER BY number DESC LIMIT ?2",
                        error);
    if (!row)
        return -1;
    sqlite3_bind_int64(row, 1, before);
    sqlite3_bind_int(row, 2, limit);
    int got = 1;
    while ((got = store_step(store, row, error)) == 1) {
        struct store_sheet sheet;
        if (take_sheet(row, false, &sheet, error) != 1) {
            sqlite3_reset(row);
            return -1;
        }
        take(context, &sheet);
        store_sheet_clear(&sheet);
    }
    return got;
}

int store_planned_each(struct store *store, int64_t from_s, int64_t to_s,
                       void (*take)(void *context, const struct store_planned *run), void *context,
                       struct error *error)
{
    sqlite3_stmt *row = store_statement(store,
                                        "SELECT zone, start_s, end_s, litres FROM planned_run"
                                        " WHERE start_s >= ?1 AND start_s < ?2"
                                        " ORDER BY start_s, zone",
                                        error);
    if (!row)
        return -1;
    sqlite3_bind_int64(row, 1, from_s);
    sqlite3_bind_int64(row, 2, to_s);
    int got = 1;
    while ((got = store_step(store, row, error)) == 1) {
        struct store_planned run = {.start_s = sqlite3_column_int64(row, 1),
                                    .end_s = sqlite3_column_int64(row, 2),
                                    .litres = store_number(row, 3, 0.0)};
        snprintf(run.zone, sizeof run.zone, "%s", store_text(row, 0));
        take(context, &run);
    }
    return got;
}
