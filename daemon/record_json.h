/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Records of kind.h's kinds as JSON objects and back: names and ranges are the columns' own, so a
 * record says the same as in CSV. Numbers are numbers, yes and no are true and false, lists are
 * arrays, what is not given is null.
 */
#ifndef PERCHD_DAEMON_RECORD_JSON_H
#define PERCHD_DAEMON_RECORD_JSON_H

#include <jansson.h>

#include "core/civil.h"
#include "kind.h"
#include "store_record.h"

#define RECORD_KEY_SIZE 512

/* Every column of row; twins: NAME_s in epoch seconds beside each moment NAME. zone: for moments.
 * NULL when memory is short. */
json_t *record_json_of(const struct kind_row *row, const struct civil_zone *zone, bool twins);

/* What was wrong with an object. */
struct record_fault {
    char field[48]; /* "litres", "items/3/litres"; "" when not one field's fault */
    char given[80];
    char accepted[200];
    char text[400];     /* given and accepted in a sentence */
    double least, most; /* as of struct kind_fault */
};

/* The texts of a row that came from JSON. */
struct record_texts {
    char bytes[8192];
    size_t used;
};

/* Object to row; the row's texts live in texts. Names other than the kind's columns are refused,
 * but for "self" and "etag", which lists add. Returns 0, or -1 with fault. */
int record_json_read(json_t *object, const struct kind *kind, struct record_texts *texts,
                     struct kind_row *row, struct record_fault *fault);

/* A key in an address: its columns with commas between, 'north,2026-03-01'. Fewer columns are the
 * key of all records that begin so. key's texts live in texts. */
int record_key_read(const char *text, const struct kind *kind, struct record_texts *texts,
                    struct store_key *key, struct record_fault *fault);
/* Of the row's record; moments in UTC. */
void record_key_print(const struct kind_row *row, char out[RECORD_KEY_SIZE]);
/* The row's own key, its texts the row's. */
struct store_key record_key_of(const struct kind_row *row);

#endif
