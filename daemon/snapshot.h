/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is served: finished bodies, made once by the planner, shared by reference count, replaced
 * by one pointer swap.
 */
#ifndef PERCHD_DAEMON_SNAPSHOT_H
#define PERCHD_DAEMON_SNAPSHOT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "body.h"
#include "plan_index.h"

enum snapshot_which {
    SNAPSHOT_PLAN_JSON,     /* /api/v1/plan */
    SNAPSHOT_PLAN_TEXT,     /* /plan.txt: the crew's sheet */
    SNAPSHOT_SHEET_JSON,    /* /api/v1/sheet; empty when none was issued */
    SNAPSHOT_PLAN_CALENDAR, /* /plan.ics, made from the JSON; empty when that is no plan */
    SNAPSHOT_BODIES,        /* how many */
};

struct snapshot {
    struct body bodies[SNAPSHOT_BODIES];
    struct plan_index *index; /* of the JSON; NULL when it is no plan */
    int64_t made_at_s, good_until_s;
    bool frozen; /* the last plan from before the clock went wrong; set before publishing, as covers
                  */
    int64_t covers; /* it was made with all changes up to this one, see cycle_wake */
    int references; /* guarded by the cell's mutex */
};

/* Takes text for another body of a snapshot that is not published yet. -1 when memory is short. */
int snapshot_add_take(struct snapshot *snapshot, enum snapshot_which which, char *text);

void snapshot_drop(struct snapshot *snapshot); /* one that will not be published */

struct snapshot_cell; /* holds the current snapshot */

struct snapshot_cell *snapshot_cell_new(void);
void snapshot_cell_free(struct snapshot_cell *cell);

/* Takes both texts (malloc'ed); compresses and tags them. NULL when memory is short (then both
 * texts are freed). */
struct snapshot *snapshot_new_take(char *plan_json, char *plan_text, int64_t made_at_s,
                                   int64_t good_until_s);

/* The cell takes the snapshot (NULL: there is none any more); the one before loses the cell's
 * reference. */
void snapshot_publish_take(struct snapshot_cell *cell, struct snapshot *snapshot);

/* Why there is no snapshot yet, in a sentence; constant text. From any thread. */
void snapshot_excuse(struct snapshot_cell *cell, const char *why);
const char *snapshot_why(struct snapshot_cell *cell);

/* A plan with all changes up to this one was tried and did not come out; the one before stays. From
 * any thread. */
void snapshot_failed(struct snapshot_cell *cell, int64_t change);
/* Whether that is so of a change; false again once a snapshot that covers it was published. */
bool snapshot_has_failed(struct snapshot_cell *cell, int64_t change);

/* The current one with a reference of the caller's, or NULL before the first. */
struct snapshot *snapshot_acquire(struct snapshot_cell *cell);
void snapshot_release(struct snapshot_cell *cell, struct snapshot *snapshot);

#endif
