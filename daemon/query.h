/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The part of an address after '?': name=value pairs with '&' between, percent-encoded. */
#ifndef PERCHD_DAEMON_QUERY_H
#define PERCHD_DAEMON_QUERY_H

#include <stdbool.h>
#include <stddef.h>

#include "error.h"

enum { QUERY_NAMES_MAX = 8, QUERY_VALUE_SIZE = 256 };

struct query {
    bool given[QUERY_NAMES_MAX]; /* in the order of names */
    char values[QUERY_NAMES_MAX][QUERY_VALUE_SIZE];
};

/* names: NULL-terminated, those accepted. Each may come once, with a value of UTF-8 that is not
 * empty. Returns 0, or -1 with error. */
int query_read(const char *text, const char *const *names, struct query *query,
               struct error *error);

#endif
