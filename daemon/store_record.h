/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Reading and removing people's records, one way for every kind of kind.h; store_put writes. */
#ifndef PERCHD_DAEMON_STORE_RECORD_H
#define PERCHD_DAEMON_STORE_RECORD_H

#include "store.h"

/* Values of a kind's key columns, in their order, as kind_parse gives them. */
struct store_key {
    const struct kind *kind;
    size_t count; /* given: all of them for one record, fewer for those that begin so */
    struct kind_value values[KIND_COLUMNS_MAX];
};

/* How many key columns a kind has, and which column is the number-th. */
size_t store_key_columns(const struct kind *kind);
const struct kind_column *store_key_column(const struct kind *kind, size_t number);

/* Records in the order of their keys, those after `after` (NULL: from the first), at most limit.
 * take gets each, its texts valid during the call; it ends the reading by returning another value
 * than 0. Returns 0, take's value, or -1 with error. */
int store_record_each(struct store *store, const struct store_key *key,
                      const struct store_key *after, int limit,
                      int (*take)(void *context, const struct kind_row *row), void *context,
                      struct error *error);

/* Another report of the very same run (zone, start and end), which would count its water twice: 1
 * with its key, 0 none, -1 failed. */
int store_run_twin(struct store *store, const struct kind_row *row, char key[RECORDS_ID_SIZE],
                   struct error *error);

/* 1 removed; 0 there is none; 2 other records still need it (fault says so); -1 failed. What must
 * hold between records afterwards is for store_check. */
int store_record_remove(struct store *store, const struct store_key *key, struct kind_fault *fault,
                        struct error *error);

#endif
