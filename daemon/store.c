/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "store.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "store_internal.h"

/* 'prch': tells the file from other SQLite files (PRAGMA application_id). */
#define APPLICATION_ID 0x70726368

/* --- helpers for the store's files -------------------------------------------------------- */

int store_fail(const struct store *store, const char *what, struct error *error)
{
    return error_set(error, "records: %s: %s", what, sqlite3_errmsg(store->db));
}

int store_execute(struct store *store, const char *sql, struct error *error)
{
    return sqlite3_exec(store->db, sql, NULL, NULL, NULL) == SQLITE_OK
               ? 0
               : store_fail(store, "cannot write", error);
}

sqlite3_stmt *store_statement(struct store *store, const char *sql, struct error *error)
{
    for (size_t i = 0; i < store->statement_count; i++) {
        if (store->statements[i].sql != sql)
            continue;
        sqlite3_reset(store->statements[i].statement);
        sqlite3_clear_bindings(store->statements[i].statement);
        return store->statements[i].statement;
    }
    sqlite3_stmt *statement = NULL;
    if (store->statement_count == STORE_STATEMENTS_MAX) {
        error_set(error, "records: more statements than the program has room for");
    } else if (sqlite3_prepare_v3(store->db, sql, -1, SQLITE_PREPARE_PERSISTENT, &statement,
                                  NULL) != SQLITE_OK) {
        store_fail(store, "cannot prepare", error);
    } else {
        store->statements[store->statement_count].sql = sql;
        store->statements[store->statement_count++].statement = statement;
    }
    return statement;
}

int store_step(struct store *store, sqlite3_stmt *statement, struct error *error)
{
    int code = sqlite3_step(statement);
    if (code == SQLITE_ROW)
        return 1;
    int result = code == SQLITE_DONE ? 0 : store_fail(store, "cannot read or write", error);
    sqlite3_reset(statement);
    return result;
}

int store_run(struct store *store, sqlite3_stmt *statement, struct error *error)
{
    int got = 0;
    do
        got = store_step(store, statement, error);
    while (got == 1);
    return got;
}

const char *store_text(sqlite3_stmt *row, int column)
{
    const unsigned char *text = sqlite3_column_text(row, column);
    return text ? (const char *)text : "";
}

double store_number(sqlite3_stmt *row, int column, double otherwise)
{
    return sqlite3_column_type(row, column) == SQLITE_NULL ? otherwise
                                                           : sqlite3_column_double(row, column);
}

void store_bind_text(sqlite3_stmt *statement, int index, const char *text)
{
    sqlite3_bind_text(statement, index, text, -1, SQLITE_TRANSIENT);
}

void store_bind_number(sqlite3_stmt *statement, int index, double number)
{
    if (isnan(number))
        sqlite3_bind_null(statement, index);
    else
        sqlite3_bind_double(statement, index, number);
}

void store_sql_add(struct store_sql *sql, const char *piece)
{
    static const char spoilt[] = "statement too long";
    size_t length = strlen(piece);
    if (sql->length + length >= sizeof sql->bytes) {
        memcpy(sql->bytes, spoilt, sizeof spoilt);
        sql->length = sizeof sql->bytes;
        return;
    }
    memcpy(sql->bytes + sql->length, piece, length + 1);
    sql->length += length;
}

void store_sql_column(struct store_sql *sql, const struct kind_column *column)
{
    store_sql_add(sql, "\"");
    store_sql_add(sql, column->sql ? column->sql : column->name);
    store_sql_add(sql, "\"");
}

/* --- transactions ------------------------------------------------------------------------- */

int store_begin(struct store *store, struct error *error)
{
    return store_execute(store, "BEGIN IMMEDIATE", error);
}

int store_commit(struct store *store, struct error *error)
{
    return store_execute(store, "COMMIT", error);
}

void store_rollback(struct store *store)
{
    if (!sqlite3_get_autocommit(store->db))
        sqlite3_exec(store->db, "ROLLBACK", NULL, NULL, NULL);
}

int store_scope_open(struct store *store, bool *own, struct error *error)
{
    *own = sqlite3_get_autocommit(store->db) != 0;
    return *own ? store_begin(store, error) : 0;
}

int store_scope_close(struct store *store, bool own, int result, struct error *error)
{
    if (!own)
        return result;
    if (result == 0)
        result = store_commit(store, error);
    if (result != 0)
        store_rollback(store);
    return result;
}

/* --- opening ------------------------------------------------------------------------------ */

static int read_pragma(struct store *store, const char *sql, int64_t *value, struct error *error)
{
    sqlite3_stmt *statement = store_statement(store, sql, error);
    int got = statement ? store_step(store, statement, error) : -1;
    if (got < 0)
        return -1;
    *value = got == 1 ? sqlite3_column_int64(statement, 0) : 0;
    sqlite3_reset(statement);
    return 0;
}

static int migrate(struct store *store, int64_t from, struct error *error)
{
    char version[64];
    if (store_begin(store, error))
        return -1;
    for (int64_t i = from; i < store_migration_count; i++)
        if (store_execute(store, store_migrations[i], error))
            goto fail;
    snprintf(version, sizeof version, "PRAGMA user_version=%d", store_migration_count);
    if (store_execute(store, version, error) || store_commit(store, error))
        goto fail;
    return 0;
fail:
    store_rollback(store);
    return -1;
}

static int claim(struct store *store, struct error *error)
{
    char id[64];
    snprintf(id, sizeof id, "PRAGMA application_id=%d", APPLICATION_ID);
    return store_execute(store, id, error);
}

static int check_version(struct store *store, const char *path, bool read_only, struct error *error)
{
    int64_t version = 0;
    int64_t application = 0;
    int64_t tables = 0;
    if (read_pragma(store, "PRAGMA user_version", &version, error) ||
        read_pragma(store, "PRAGMA application_id", &application, error) ||
        read_pragma(store, "SELECT count(*) FROM sqlite_schema", &tables, error))
        return -1;
    if (application != APPLICATION_ID && (version != 0 || application != 0 || tables != 0))
        return error_set(error, "%s: a database, but not one of perchd's", path);
    if (version > store_migration_count)
        return error_set(error,
                         "%s: written by a newer perchd (records version %lld, this program knows "
                         "up to %d)",
                         path, (long long)version, store_migration_count);
    if (version == store_migration_count)
        return 0;
    if (read_only)
        return error_set(error,
                         "%s: written by an older perchd (records version %lld, needed is %d); "
                         "start the service once to bring it up to date",
                         path, (long long)version, store_migration_count);
    return claim(store, error) || migrate(store, version, error) ? -1 : 0;
}

struct store *store_open(const char *path, bool read_only, struct error *error)
{
    struct store *store = calloc(1, sizeof *store);
    int flags = (read_only ? SQLITE_OPEN_READONLY : SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE) |
                SQLITE_OPEN_NOMUTEX | SQLITE_OPEN_PRIVATECACHE;
    if (!store) {
        error_set(error, "%s: no memory", path);
        return NULL;
    }
    if (sqlite3_open_v2(path, &store->db, flags, NULL) != SQLITE_OK) {
        error_set(error, "%s: %s", path, store->db ? sqlite3_errmsg(store->db) : "no memory");
        goto fail;
    }
    /* Another process (an import beside the service) is waited for. */
    sqlite3_busy_timeout(store->db, 10000);
    sqlite3_db_config(store->db, SQLITE_DBCONFIG_DEFENSIVE, 1, NULL);
    sqlite3_db_config(store->db, SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0, NULL);
    if (!read_only && store_execute(store, "PRAGMA journal_mode=WAL", error))
        goto fail_path;
    if (store_execute(store,
                      "PRAGMA synchronous=FULL;"
                      "PRAGMA foreign_keys=ON;",
                      error) ||
        check_version(store, path, read_only, error))
        goto fail_path;
    return store;
fail_path:
    if (error && strncmp(error->text, path, strlen(path)) != 0) {
        struct error why = *error;
        error_set(error, "%.200s: %.250s", path, why.text);
    }
fail:
    store_close(store);
    return NULL;
}

void store_close(struct store *store)
{
    if (!store)
        return;
    for (size_t i = 0; i < store->statement_count; i++)
        sqlite3_finalize(store->statements[i].statement);
    for (size_t i = 0; i < KIND_COUNT; i++) {
        sqlite3_finalize(store->compare[i]);
        sqlite3_finalize(store->upsert[i]);
    }
    sqlite3_close(store->db);
    free(store);
}

void store_rest(struct store *store)
{
    sqlite3_db_release_memory(store->db);
}

int store_version(struct store *store, int64_t *version, struct error *error)
{
    return read_pragma(store, "PRAGMA data_version", version, error);
}
