/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The crew's sheets as they were issued: only ever added to. */
#ifndef PERCHD_DAEMON_STORE_SHEET_H
#define PERCHD_DAEMON_STORE_SHEET_H

#include "store.h"

struct store_sheet {
    int64_t number;   /* grows by one, never given twice */
    int64_t issued_s; /* which is also the moment of its plan */
    int64_t due_s;    /* the fixed hour it was issued for */
    char for_date[16];
    int64_t replaces; /* 0: none */
    char who[64];     /* "perchd" at the fixed hour, else as in the audit record */
    char *remarks;    /* malloc'ed, "" when none */
    char *content;    /* malloc'ed JSON: what is on it */
};

/* 1 found (to be cleared), 0 none, -1 failed. The last one issued by at_s; one by its number. */
int store_sheet_latest(struct store *store, int64_t at_s, struct store_sheet *out,
                       struct error *error);
int store_sheet_read(struct store *store, int64_t number, struct store_sheet *out,
                     struct error *error);
void store_sheet_clear(struct store_sheet *sheet);

/* Adds it under the next number, which is set. */
int store_sheet_add(struct store *store, struct store_sheet *sheet, struct error *error);

/* Newest first, those before a number (0: all), at most limit; content is NULL. */
int store_sheet_each(struct store *store, int64_t before, int limit,
                     void (*take)(void *context, const struct store_sheet *sheet), void *context,
                     struct error *error);

/* Planned runs that start in [from_s, to_s), whatever became of them, ascending. */
int store_planned_each(struct store *store, int64_t from_s, int64_t to_s,
                       void (*take)(void *context, const struct store_planned *run), void *context,
                       struct error *error);

#endif
