/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Secrets and who may do what. A secret is 'ID-SECRET', both random: the id finds the record, the
 * secret's hash (crypt(3)) is compared with the one stored; the secret itself is never stored.
 * No files, no SQL, no sockets.
 */
#ifndef PERCHD_DAEMON_ACCESS_H
#define PERCHD_DAEMON_ACCESS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "error.h"

/* --- who ---------------------------------------------------------------------------------- */

enum access_role {
    ACCESS_NOBODY,
    ACCESS_CONTROLLER, /* a token: a valve controller */
    ACCESS_STATION,    /* a token: a weather station */
    ACCESS_VIEWER,     /* an account, as those below */
    ACCESS_GROWER,
    ACCESS_ADMIN,
    ACCESS_ROLES,
};

enum access_right {
    ACCESS_NOTHING = 0,
    ACCESS_READ_PLAN = 1,   /* plan, due */
    ACCESS_READ = 2,        /* records */
    ACCESS_REPORT_RUNS = 4, /* and correct one's report */
    ACCESS_REPORT_WEATHER = 8,
    ACCESS_WRITE = 16, /* people's records */
};

/* "controller"; NULL when role is none of them. */
const char *access_role_name(enum access_role role);
/* ACCESS_NOBODY when there is none of that name. */
enum access_role access_role_named(const char *name);
/* A token's; else an account's. */
bool access_role_is_scope(enum access_role role);
bool access_may(enum access_role role, enum access_right right);

/* --- secrets ------------------------------------------------------------------------------ */

#define ACCESS_ID_SIZE     13  /* 12 hexadecimal digits */
#define ACCESS_SECRET_SIZE 65  /* 64 hexadecimal digits: 256 random bits */
#define ACCESS_TEXT_SIZE   96  /* "pt-ID-SECRET" */
#define ACCESS_HASH_SIZE   256 /* longer than any of crypt's (crypt.h allows 384 in general) */

enum access_kind {
    ACCESS_TOKEN,   /* "pt-": for machines, until revoked */
    ACCESS_SESSION, /* "ps-": in a browser's cookie, expires */
};

struct access_secret {
    char id[ACCESS_ID_SIZE];
    char secret[ACCESS_SECRET_SIZE];
};

/* A new one from the kernel's random source. */
int access_secret_make(struct access_secret *secret, struct error *error);
void access_secret_print(const struct access_secret *secret, enum access_kind kind,
                         char out[ACCESS_TEXT_SIZE]);
/* False when text (not terminated) is not of that form. */
bool access_secret_parse(const char *text, size_t length, enum access_kind kind,
                         struct access_secret *secret);

/* What is stored of it. Random secrets of 256 bits need no slow hash: about a millisecond. */
int access_secret_hash(const char *secret, char out[ACCESS_HASH_SIZE], struct error *error);

/* yescrypt, slow on purpose (about 60 ms, 16 MB). */
int access_password_hash(const char *password, char out[ACCESS_HASH_SIZE], struct error *error);

/* Whether text gives hash; for both kinds. Takes as long whatever differs. hash "" takes as long as
 * a password's and gives false: for names that do not exist. */
bool access_matches(const char *text, const char *hash);

/* 10 to 200 bytes of UTF-8 without control characters; error says what is accepted. */
int access_password_check(const char *password, struct error *error);

/* --- failures ----------------------------------------------------------------------------- */

/* How many wrong secrets an address has presented lately: a few at once, then one in a while. */
enum { ACCESS_ADDRESSES = 256, ACCESS_FAILURES_MAX = 10, ACCESS_FORGIVEN_S = 30 };

struct access_failures {
    struct access_address {
        char name[48];
        int64_t since_s; /* of the oldest failure that is not forgiven yet */
        int count;
    } addresses[ACCESS_ADDRESSES];
};

/* Seconds until the address may try again, 0: now. */
int access_failures_wait_s(const struct access_failures *failures, const char *address,
                           int64_t now_s);
void access_failures_add(struct access_failures *failures, const char *address, int64_t now_s);

#endif
