/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Tokens, accounts, sessions and the record of who changed what. Hashes go in and out; what they
 * are hashes of never comes here.
 */
#ifndef PERCHD_DAEMON_STORE_ACCESS_H
#define PERCHD_DAEMON_STORE_ACCESS_H

#include "access.h"
#include "store.h"

#define STORE_NAME_SIZE 41 /* of tokens and accounts: ids, see kind.h */

struct store_token {
    char id[ACCESS_ID_SIZE];
    char name[STORE_NAME_SIZE];
    enum access_role role;
    char hash[ACCESS_HASH_SIZE];
    int64_t made_s, used_s, revoked_s; /* 0: never */
};

struct store_account {
    char name[STORE_NAME_SIZE];
    enum access_role role;
    char hash[ACCESS_HASH_SIZE];
    bool disabled;
    int64_t made_s, changed_s;
};

struct store_session {
    char id[ACCESS_ID_SIZE];
    char account[STORE_NAME_SIZE];
    char hash[ACCESS_HASH_SIZE];
    int64_t made_s, used_s, expires_s;
};

/* 1: done; 0: a token in force has that name; -1: failed. */
int store_token_add(struct store *store, const struct store_token *token, struct error *error);
/* By id. 1 found, 0 none, -1 failed. Revoked ones are found too. */
int store_token_read(struct store *store, const char *id, struct store_token *out,
                     struct error *error);
/* The one in force of that name: 1 revoked, 0 none, -1 failed. */
int store_token_revoke(struct store *store, const char *name, int64_t now_s, struct error *error);
int store_token_used(struct store *store, const char *id, int64_t now_s, struct error *error);
int store_token_each(struct store *store,
                     void (*take)(void *context, const struct store_token *token), void *context,
                     struct error *error);

/* 1 done, 0 the name is taken, -1 failed. */
int store_account_add(struct store *store, const struct store_account *account,
                      struct error *error);
int store_account_read(struct store *store, const char *name, struct store_account *out,
                       struct error *error);
/* Writes role, hash and disabled, and ends the account's sessions: 1, 0 no such account, -1. */
int store_account_change(struct store *store, const struct store_account *account,
                         struct error *error);
int store_account_each(struct store *store,
                       void (*take)(void *context, const struct store_account *account),
                       void *context, struct error *error);

/* Also removes what has expired by session->made_s. */
int store_session_add(struct store *store, const struct store_session *session,
                      struct error *error);
int store_session_read(struct store *store, const char *id, struct store_session *out,
                       struct error *error);
int store_session_used(struct store *store, const char *id, int64_t now_s, int64_t expires_s,
                       struct error *error);
int store_session_remove(struct store *store, const char *id, struct error *error);

/* One line of the audit record. before and after: JSON, or NULL when there was, or is, nothing. */
struct store_audit {
    int64_t at_s;
    const char *who;    /* "token gate-3", "account ines", "command line" */
    const char *action; /* "add", "change", "remove" */
    const char *what;   /* "zones/north", "token gate-3" */
    const char *before, *after;
};
int store_audit_add(struct store *store, const struct store_audit *line, struct error *error);
/* 1 when a record's last 'add' left it like this, 0 when not, -1 failed. */
int store_audit_added(struct store *store, const char *what, const char *after,
                      struct error *error);
/* The newest first, at most limit. */
int store_audit_each(struct store *store, int limit,
                     void (*take)(void *context, const struct store_audit *line), void *context,
                     struct error *error);

#endif
