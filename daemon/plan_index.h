/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where things stand in the plan's JSON: made once when a plan is published, so that a valve's
 * question and a narrowed plan are answered from the finished text, by the clock, without parsing.
 * Reads only what plan_json_print wrote: compact, well formed.
 */
#ifndef PERCHD_DAEMON_PLAN_INDEX_H
#define PERCHD_DAEMON_PLAN_INDEX_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include <jansson.h>

#include "core/civil.h"
#include "records.h"

struct plan_index;

/* text must outlive the index. NULL when it is no plan or memory is short. */
struct plan_index *plan_index_new(const char *text, size_t length);
void plan_index_free(struct plan_index *index); /* NULL is fine */

/* --- should a valve be open -------------------------------------------------------------- */

struct plan_due {
    const char *zone;
    bool open;
    int64_t until_s;     /* open: when to close; closed: when to open next, 0 not in this plan */
    int64_t ask_again_s; /* later than now */
    int64_t good_until_s;
    const char *run; /* id of the run underway or next, "" none */
    double litres;   /* of that run */
};

size_t plan_index_zones(const struct plan_index *index);
/* By number, or by id: false when there is none. */
void plan_index_due(const struct plan_index *index, size_t zone, int64_t now_s,
                    struct plan_due *due);
bool plan_index_due_of(const struct plan_index *index, const char *zone, int64_t now_s,
                       struct plan_due *due);

/* {"zone": ..., "open": ..., ...}, under 400 bytes; returns the length. */
#define PLAN_DUE_SIZE 400
size_t plan_due_print(const struct plan_due *due, const struct civil_zone *time_zone,
                      char out[PLAN_DUE_SIZE]);

/* --- narrowed ---------------------------------------------------------------------------- */

/* "" or NULL: all. */
struct plan_narrowing {
    const char *date; /* "2026-07-01": of days */
    const char *zone;
    const char *block; /* and its zone's runs */
};

/* NULL when everything named is in the plan; else the name of the one that is not: "date". */
const char *plan_index_lacks(const struct plan_index *index, const struct plan_narrowing *wanted);

/* The plan with only what belongs to what is wanted; malloc'ed, NULL when memory is short. Arrays
 * get shorter, everything else is as in the whole. */
char *plan_index_narrow(const struct plan_index *index, const struct plan_narrowing *wanted,
                        size_t *length);

/* --- looked at piece by piece ------------------------------------------------------------- */

/* A number of the plan, or of an object in it ("weather"); false when there is none. */
bool plan_index_number(const struct plan_index *index, const char *object, const char *name,
                       double *value);

/* How many elements of one of the narrowed arrays have this text as a member; name NULL: all. */
size_t plan_index_count(const struct plan_index *index, const char *array, const char *name,
                        const char *text);

/* The element with that id, for the caller to give back; NULL when there is none. */
json_t *plan_index_item(const struct plan_index *index, const char *array, const char *id);

/* Every run's JSON, day by day. */
void plan_index_each_run(const struct plan_index *index,
                         void (*take)(void *context, const char *text, size_t length),
                         void *context);

#endif
