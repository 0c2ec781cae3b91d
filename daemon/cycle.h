/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The planner's thread: asks for weather when it is allowed to, works out the plan when something
 * changed or the clock says so, publishes it. Nothing it meets ends it; it logs and goes on with
 * what it has.
 */
#ifndef PERCHD_DAEMON_CYCLE_H
#define PERCHD_DAEMON_CYCLE_H

#include <stdatomic.h>
#include <stddef.h>
#include <stdint.h>

#include "config.h"
#include "core/civil.h"
#include "error.h"
#include "snapshot.h"
#include "store.h"

/* Everything pointed to must outlive the cycle. */
struct cycle_options {
    const struct config *config;
    const struct civil_zone *zone;
    const char *fetch_program;
    struct snapshot_cell *cell;
    const _Atomic int64_t *asked_s; /* when somebody last asked what is due; NULL: not known */
};

struct cycle;

/* Starts the thread. NULL with error set when it cannot be started. */
struct cycle *cycle_start(const struct cycle_options *options, struct error *error);

/* Plans again now, whatever the clock says, also while a feed is waited for. Returns the number of
 * the change that this is about: a snapshot that covers it, or one that failed with it, has been
 * made with all that was in the store by now. From any thread. */
int64_t cycle_wake(struct cycle *cycle);

/* How long the step underway has taken so far, 0 while waiting. From any thread. */
int64_t cycle_busy_ms(const struct cycle *cycle);

/* Ends the thread, at the latest after the few seconds that a fetch is given to finish. NULL is
 * fine. */
void cycle_stop(struct cycle *cycle);

/* When to plan again at the latest: the next full hour, a planned run's end or a quarter of an hour
 * from now, whichever comes first. runs in any order. */
int64_t cycle_next_s(int64_t now_s, const struct store_planned *runs, size_t count);

#endif
