/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "store_access.h"

#include <stdio.h>
#include <string.h>

#include "store_internal.h"

static void copy(char *out, size_t size, sqlite3_stmt *row, int column)
{
    snprintf(out, size, "%s", store_text(row, column));
}

/* Runs a statement that changes; how many rows it did, or -1. */
static int changed(struct store *store, sqlite3_stmt *statement, struct error *error)
{
    if (!statement || store_run(store, statement, error) != 0)
        return -1;
    return sqlite3_changes(store->db);
}

static int set_at(struct store *store, const char *sql, const char *id, int64_t one_s,
                  int64_t two_s, struct error *error)
{
    sqlite3_stmt *statement = store_statement(store, sql, error);
    if (!statement)
        return -1;
    store_bind_text(statement, 1, id);
    sqlite3_bind_int64(statement, 2, one_s);
    if (sqlite3_bind_parameter_count(statement) > 2)
        sqlite3_bind_int64(statement, 3, two_s);
    return changed(store, statement, error);
}

/* --- tokens ------------------------------------------------------------------------------- */

#define TOKEN_COLUMNS "id, name, scope, hash, made_s, coalesce(used_s, 0), coalesce(revoked_s, 0)"

static struct store_token token_of(sqlite3_stmt *row)
{
    struct store_token token = {
        .role = access_role_named(store_text(row, 2)),
        .made_s = sqlite3_column_int64(row, 4),
        .used_s = sqlite3_column_int64(row, 5),
        .revoked_s = sqlite3_column_int64(row, 6),
    };
    copy(token.id, sizeof token.id, row, 0);
    copy(token.name, sizeof token.name, row, 1);
    copy(token.hash, sizeof token.hash, row, 3);
    return token;
}

int store_token_add(struct store *store, const struct store_token *token, struct error *error)
{
    sqlite3_stmt *statement = store_statement(
        store,
        "INSERT INTO token (id, name, scope, hash, made_s) SELECT ?1, ?2, ?3, ?4, ?5 WHERE"
        " NOT EXISTS (SELECT 1 FROM token WHERE name = ?2 AND revoked_s IS NULL)",
        error);
    if (!statement)
        return -1;
    store_bind_text(statement, 1, token->id);
    store_bind_text(statement, 2, token->name);
    store_bind_text(statement, 3, access_role_name(token->role));
    store_bind_text(statement, 4, token->hash);
    sqlite3_bind_int64(statement, 5, token->made_s);
    return changed(store, statement, error);
}

int store_token_read(struct store *store, const char *id, struct store_token *out,
                     struct error *error)
{
    sqlite3_stmt *row =
        store_statement(store, "SELECT " TOKEN_COLUMNS " FROM token WHERE id = ?1", error);
    if (!row)
        return -1;
    store_bind_text(row, 1, id);
    int got = store_step(store, row, error);
    if (got == 1)
        *out = token_of(row);
    sqlite3_reset(row);
    return got;
}

int store_token_revoke(struct store *store, const char *name, int64_t now_s, struct error *error)
{
    return set_at(store, "UPDATE token SET revoked_s = ?2 WHERE name = ?1 AND revoked_s IS NULL",
                  name, now_s, 0, error);
}

int store_token_used(struct store *store, const char *id, int64_t now_s, struct error *error)
{
    return set_at(store, "UPDATE token SET used_s = ?2 WHERE id = ?1", id, now_s, 0, error);
}

int store_token_each(struct store *store,
                     void (*take)(void *context, const struct store_token *token), void *context,
                     struct error *error)
{
    sqlite3_stmt *row = store_statement(
        store, "SELECT " TOKEN_COLUMNS " FROM token ORDER BY revoked_s IS NOT NULL, name, made_s",
        error);
    int got = row ? 1 : -1;
    while (got == 1 && (got = store_step(store, row, error)) == 1) {
        const struct store_token token = token_of(row);
        take(context, &token);
    }
    return got;
}

/* --- accounts ----------------------------------------------------------------------------- */

#define ACCOUNT_COLUMNS "name, role, hash, disabled, made_s, changed_s"

static struct store_account account_of(sqlite3_stmt *row)
{
    struct store_account account = {
        .role = access_role_named(store_text(row, 1)),
        .disabled = sqlite3_column_int(row, 3) != 0,
        .made_s = sqlite3_column_int64(row, 4),
        .changed_s = sqlite3_column_int64(row, 5),
    };
    copy(account.name, sizeof account.name, row, 0);
    copy(account.hash, sizeof account.hash, row, 2);
    return account;
}

static sqlite3_stmt *bind_account(sqlite3_stmt *statement, const struct store_account *account)
{
    if (!statement)
        return NULL;
    store_bind_text(statement, 1, account->name);
    store_bind_text(statement, 2, access_role_name(account->role));
    store_bind_text(statement, 3, account->hash);
    sqlite3_bind_int(statement, 4, account->disabled);
    sqlite3_bind_int64(statement, 5, account->changed_s);
    return statement;
}

int store_account_add(struct store *store, const struct store_account *account, struct error *error)
{
    sqlite3_stmt *statement =
        store_statement(store,
                        "INSERT INTO account (name, role, hash, disabled, made_s, changed_s)"
                        " VALUES (?1, ?2, ?3, ?4, ?5, ?5) ON CONFLICT DO NOTHING",
                        error);
    return changed(store, bind_account(statement, account), error);
}

int store_account_read(struct store *store, const char *name, struct store_account *out,
                       struct error *error)
{
    sqlite3_stmt *row =
        store_statement(store, "SELECT " ACCOUNT_COLUMNS " FROM account WHERE name = ?1", error);
    if (!row)
        return -1;
    store_bind_text(row, 1, name);
    int got = store_step(store, row, error);
    if (got == 1)
        *out = account_of(row);
    sqlite3_reset(row);
    return got;
}

int store_account_change(struct store *store, const struct store_account *account,
                         struct error *error)
{
    bool own = false;
    if (store_scope_open(store, &own, error))
        return -1;
    sqlite3_stmt *statement = store_statement(
        store,
        "UPDATE account SET role = ?2, hash = ?3, disabled = ?4, changed_s = ?5 WHERE name = ?1",
        error);
    int count = changed(store, bind_account(statement, account), error);
    int ended = -1;
    if (count >= 0) {
        sqlite3_stmt *end = store_statement(store, "DELETE FROM session WHERE account = ?1", error);
        if (end)
            store_bind_text(end, 1, account->name);
        ended = changed(store, end, error);
    }
    return store_scope_close(store, own, ended < 0 ? -1 : 0, error) == 0 ? count : -1;
}

int store_account_each(struct store *store,
                       void (*take)(void *context, const struct store_account *account),
                       void *context, struct error *error)
{
    sqlite3_stmt *row =
        store_statement(store, "SELECT " ACCOUNT_COLUMNS " FROM account ORDER BY name", error);
    int got = row ? 1 : -1;
    while (got == 1 && (got = store_step(store, row, error)) == 1) {
        const struct store_account account = account_of(row);
        take(context, &account);
    }
    return got;
}

/* --- sessions ----------------------------------------------------------------------------- */

int store_session_add(struct store *store, const struct store_session *session, struct error *error)
{
    sqlite3_stmt *old = store_statement(store, "DELETE FROM session WHERE expires_s <= ?1", error);
    if (!old)
        return -1;
    sqlite3_bind_int64(old, 1, session->made_s);
    if (store_run(store, old, error))
        return -1;
    sqlite3_stmt *statement =
        store_statement(store,
                        "INSERT INTO session (id, account, hash, made_s, used_s, expires_s)"
                        " VALUES (?1, ?2, ?3, ?4, ?4, ?5)",
                        error);
    if (!statement)
        return -1;
    store_bind_text(statement, 1, session->id);
    store_bind_text(statement, 2, session->account);
    store_bind_text(statement, 3, session->hash);
    sqlite3_bind_int64(statement, 4, session->made_s);
    sqlite3_bind_int64(statement, 5, session->expires_s);
    return store_run(store, statement, error);
}

int store_session_read(struct store *store, const char *id, struct store_session *out,
                       struct error *error)
{
    sqlite3_stmt *row = store_statement(
        store, "SELECT id, account, hash, made_s, used_s, expires_s FROM session WHERE id = ?1",
        error);
    if (!row)
        return -1;
    store_bind_text(row, 1, id);
    int got = store_step(store, row, error);
    if (got == 1) {
        copy(out->id, sizeof out->id, row, 0);
        copy(out->account, sizeof out->account, row, 1);
        copy(out->hash, sizeof out->hash, row, 2);
        out->made_s = sqlite3_column_int64(row, 3);
        out->used_s = sqlite3_column_int64(row, 4);
        out->expires_s = sqlite3_column_int64(row, 5);
    }
    sqlite3_reset(row);
    return got;
}

int store_session_used(struct store *store, const char *id, int64_t now_s, int64_t expires_s,
                       struct error *error)
{
    return set_at(store, "UPDATE session SET used_s = ?2, expires_s = ?3 WHERE id = ?1", id, now_s,
                  expires_s, error);
}

int store_session_remove(struct store *store, const char *id, struct error *error)
{
    sqlite3_stmt *statement = store_statement(store, "DELETE FROM session WHERE id = ?1", error);
    if (!statement)
        return -1;
    store_bind_text(statement, 1, id);
    return changed(store, statement, error);
}

/* --- the audit record --------------------------------------------------------------------- */

int store_audit_add(struct store *store, const struct store_audit *line, struct error *error)
{
    sqlite3_stmt *statement =
        store_statement(store,
                        "INSERT INTO audit (at_s, who, action, what, before, after)"
                        " VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
                        error);
    if (!statement)
        return -1;
    sqlite3_bind_int64(statement, 1, line->at_s);
    store_bind_text(statement, 2, line->who);
    store_bind_text(statement, 3, line->action);
    store_bind_text(statement, 4, line->what);
    store_bind_text(statement, 5, line->before); /* NULL binds NULL */
    store_bind_text(statement, 6, line->after);
    return store_run(store, statement, error);
}

int store_audit_added(struct store *store, const char *what, const char *after, struct error *error)
{
    sqlite3_stmt *row = store_statement(
        store,
        "SELECT after IS ?2 FROM audit WHERE what = ?1 AND action = 'add' ORDER BY number DESC"
        " LIMIT 1",
        error);
    if (!row)
        return -1;
    store_bind_text(row, 1, what);
    store_bind_text(row, 2, after);
    int got = store_step(store, row, error);
    int same = got == 1 && sqlite3_column_int(row, 0) == 1;
    sqlite3_reset(row);
    return got < 0 ? -1 : same;
}

int store_audit_each(struct store *store, int limit,
                     void (*take)(void *context, const struct store_audit *line), void *context,
                     struct error *error)
{
    sqlite3_stmt *row = store_statement(
        store,
        "SELECT at_s, who, action, what, before, after FROM audit ORDER BY number DESC LIMIT ?1",
        error);
    int got = row ? 1 : -1;
    if (row)
        sqlite3_bind_int(row, 1, limit);
    while (got == 1 && (got = store_step(store, row, error)) == 1) {
        const struct store_audit line = {
            .at_s = sqlite3_column_int64(row, 0),
            .who = store_text(row, 1),
            .action = store_text(row, 2),
            .what = store_text(row, 3),
            .before = (const char *)sqlite3_column_text(row, 4),
            .after = (const char *)sqlite3_column_text(row, 5),
        };
        take(context, &line);
    }
    return got;
}
