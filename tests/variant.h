/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Odd variants of a document, one row each, run through a real adapter's reader: refused as a
 * whole, taken with something dropped, or taken whole. What the rows of a table came to is printed.
 */
#ifndef PERCHD_TESTS_VARIANT_H
#define PERCHD_TESTS_VARIANT_H

#include <stddef.h>

#include "daemon/error.h"
#include "daemon/feed_hours.h"

enum variant_outcome {
    VARIANT_REFUSED, /* R */
    VARIANT_DROPPED, /* D */
    VARIANT_TAKEN,   /* A */
};

struct variant {
    const char *name;
    const char *find,
        *replace; /* in the base document, the first time; find NULL: replace is all */
    enum variant_outcome outcome;
    const char *words;  /* of a refusal, or of the notes; NULL: any, or none */
    double temperature; /* sum of the hours' temperatures, C; of taken documents */
    double rain_mm;     /* sum of the hours' rain */
};

/* 0 or -1 with error, as the adapters' readers. */
typedef int variant_reader(const char *bytes, size_t length, struct feed_hours *out,
                           struct error *error);

void variant_run(const char *title, const char *base, const struct variant *rows, size_t count,
                 variant_reader *read);

/* malloc'ed: base with the first `find` replaced. */
char *variant_change(const char *base, const char *find, const char *replace);

/* Sums over the hours where the value is known. */
double variant_sum(const struct feed_hours *hours, enum feed_quantity quantity);

#endif
