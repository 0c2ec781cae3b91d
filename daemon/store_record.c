/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "store_record.h"

#include <stdio.h>
#include <string.h>

#include "store_internal.h"

size_t store_key_columns(const struct kind *kind)
{
    size_t count = 0;
    for (size_t i = 0; i < kind->column_count; i++)
        count += kind->columns[i].key;
    return count;
}

const struct kind_column *store_key_column(const struct kind *kind, size_t number)
{
    for (size_t i = 0; i < kind->column_count; i++)
        if (kind->columns[i].key && number-- == 0)
            return &kind->columns[i];
    return NULL;
}

/* What a key is compared by: 'not given' sorts and equals as empty text. */
static void add_key(struct store_sql *sql, const struct kind_column *column)
{
    store_sql_add(sql, column->required ? "" : "coalesce(");
    store_sql_column(sql, column);
    store_sql_add(sql, column->required ? "" : ", '')");
}

static void add_keys(struct store_sql *sql, const struct kind *kind)
{
    for (size_t i = 0; i < store_key_columns(kind); i++) {
        store_sql_add(sql, i ? ", " : "");
        add_key(sql, store_key_column(kind, i));
    }
}

/* WHERE key = ?1 AND ... */
static void add_where(struct store_sql *sql, const struct store_key *key)
{
    store_sql_add(sql, " WHERE 1");
    for (size_t i = 0; i < key->count; i++) {
        char piece[32];
        snprintf(piece, sizeof piece, " = ?%zu", i + 1);
        store_sql_add(sql, " AND ");
        add_key(sql, store_key_column(key->kind, i));
        store_sql_add(sql, piece);
    }
}

static void bind_key(sqlite3_stmt *statement, const struct store_key *key, int first)
{
    for (size_t i = 0; i < key->count; i++) {
        const struct kind_value *value = &key->values[i];
        int index = first + (int)i;
        switch (store_key_column(key->kind, i)->type) {
        case KIND_NUMBER:
            store_bind_number(statement, index, value->number);
            break;
        case KIND_WHOLE:
        case KIND_YES_NO:
        case KIND_MOMENT:
            sqlite3_bind_int64(statement, index, value->whole);
            break;
        case KIND_ID:
        case KIND_REF:
        case KIND_TEXT:
        case KIND_NUMBERS:
        case KIND_CHOICE:
        case KIND_DATE:
        case KIND_EDGE:
        case KIND_DAYS:
            store_bind_text(statement, index, value->given ? value->text : "");
            break;
        }
    }
}

/* Rare and of many shapes, so prepared for the occasion. */
static sqlite3_stmt *prepare(struct store *store, const struct store_sql *sql, struct error *error)
{
    sqlite3_stmt *statement = NULL;
    if (sqlite3_prepare_v2(store->db, sql->bytes, -1, &statement, NULL) != SQLITE_OK)
        store_fail(store, "cannot prepare", error);
    return statement;
}

/* --- reading ------------------------------------------------------------------------------ */

static void write_select(struct store_sql *sql, const struct store_key *key,
                         const struct store_key *after)
{
    store_sql_add(sql, "SELECT ");
    for (size_t i = 0; i < key->kind->column_count; i++) {
        store_sql_add(sql, i ? ", " : "");
        store_sql_column(sql, &key->kind->columns[i]);
    }
    store_sql_add(sql, " FROM \"");
    store_sql_add(sql, key->kind->table);
    store_sql_add(sql, "\"");
    add_where(sql, key);
    if (after) {
        store_sql_add(sql, " AND (");
        add_keys(sql, key->kind);
        store_sql_add(sql, ") > (");
        for (size_t i = 0; i < after->count; i++) {
            char piece[32];
            snprintf(piece, sizeof piece, "%s?%zu", i ? ", " : "", key->count + i + 1);
            store_sql_add(sql, piece);
        }
        store_sql_add(sql, ")");
    }
    store_sql_add(sql, " ORDER BY ");
    add_keys(sql, key->kind);
}

static struct kind_row row_of(sqlite3_stmt *statement, const struct kind *kind)
{
    struct kind_row row = {.kind = kind};
    for (size_t i = 0; i < kind->column_count; i++) {
        struct kind_value *value = &row.values[i];
        int column = (int)i;
        value->text = store_text(statement, column);
        value->given = value->text[0] != '\0'; /* NULL, or '' in a key */
        value->number = sqlite3_column_double(statement, column);
        value->whole = sqlite3_column_int64(statement, column);
    }
    return row;
}

int store_record_each(struct store *store, const struct store_key *key,
                      const struct store_key *after, int limit,
                      int (*take)(void *context, const struct kind_row *row), void *context,
                      struct error *error)
{
    struct store_sql sql = {.length = 0};
    int result = 0;
    int got = 1;
    write_select(&sql, key, after);
    sqlite3_stmt *statement = prepare(store, &sql, error);
    if (!statement)
        return -1;
    bind_key(statement, key, 1);
    if (after)
        bind_key(statement, after, (int)key->count + 1);
    for (int n = 0; result == 0 && n < limit; n++) {
        got = store_step(store, statement, error);
        if (got != 1)
            break;
        const struct kind_row row = row_of(statement, key->kind);
        result = take(context, &row);
    }
    sqlite3_finalize(statement);
    return got < 0 ? -1 : result;
}

/* The row's own record comes first: what was reported twice before can still be corrected. */
int store_run_twin(struct store *store, const struct kind_row *row, char key[RECORDS_ID_SIZE],
                   struct error *error)
{
    sqlite3_stmt *find =
        store_statement(store,
                        "SELECT run_key, run_key <> ?4 FROM run WHERE zone = ?1 AND start_s = ?2"
                        " AND end_s = ?3 ORDER BY 2, 1 LIMIT 1",
                        error);
    if (!find)
        return -1;
    store_bind_text(find, 1, kind_text(row, "zone"));
    sqlite3_bind_int64(find, 2, kind_get(row, "start")->whole);
    sqlite3_bind_int64(find, 3, kind_get(row, "end")->whole);
    store_bind_text(find, 4, kind_text(row, "key"));
    int got = store_step(store, find, error);
    if (got == 1) {
        snprintf(key, RECORDS_ID_SIZE, "%s", store_text(find, 0));
        got = sqlite3_column_int(find, 1);
    }
    sqlite3_reset(find);
    return got;
}

/* --- removing ----------------------------------------------------------------------------- */

/* A block is there as long as it has a state: weighings and zones name it. */
static int remove_block(struct store *store, const struct store_key *key, struct error *error)
{
    if (key->kind->id != KIND_BLOCKS)
        return 0;
    sqlite3_stmt *statement =
        store_statement(store,
                        "DELETE FROM block WHERE block = ?1 AND NOT EXISTS"
                        " (SELECT 1 FROM block_state WHERE block_state.block = ?1)",
                        error);
    if (!statement)
        return -1;
    store_bind_text(statement, 1, key->values[0].text);
    return store_run(store, statement, error);
}

int store_record_remove(struct store *store, const struct store_key *key, struct kind_fault *fault,
                        struct error *error)
{
    struct store_sql sql = {.length = 0};
    store_sql_add(&sql, "DELETE FROM \"");
    store_sql_add(&sql, key->kind->table);
    store_sql_add(&sql, "\"");
    add_where(&sql, key);
    sqlite3_stmt *statement = prepare(store, &sql, error);
    if (!statement)
        return -1;
    bind_key(statement, key, 1);
    int result = store_run(store, statement, error);
    int count = sqlite3_changes(store->db);
    int why = sqlite3_extended_errcode(store->db);
    sqlite3_finalize(statement);
    if (result == 0 && count > 0) {
        result = remove_block(store, key, error);
        why = sqlite3_extended_errcode(store->db);
    }
    if (result == 0)
        return count > 0 ? 1 : 0;
    if (why != SQLITE_CONSTRAINT_FOREIGNKEY)
        return -1;
    kind_fault_set(fault, "", "other records still name it; accepted is to remove those first");
    return 2;
}
