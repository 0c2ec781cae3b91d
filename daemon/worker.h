/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One thread that does jobs in the order in which they came: whatever waits for the disk, or takes
 * long, is done there and not in the loop. It is the only writer of people's records while the
 * service runs.
 */
#ifndef PERCHD_DAEMON_WORKER_H
#define PERCHD_DAEMON_WORKER_H

#include <stdbool.h>
#include <stddef.h>

#include "error.h"

/* The first member of whatever a job needs. Whoever makes one owns it together with the worker; the
 * last to let go frees it. */
struct worker_job {
    void (*run)(struct worker_job *job, void *context); /* on the worker's thread */
    void (*free)(struct worker_job *job);               /* on either */
    struct worker_job *next;                            /* these are the worker's */
    int holders;
    bool done;
};

struct worker;

/* context is handed to each job. At most waiting_max jobs wait. NULL with error set when the thread
 * cannot be started. */
struct worker *worker_start(void *context, size_t waiting_max, struct error *error);

/* False when too many wait already: the job is then the caller's alone. From any thread. */
bool worker_post(struct worker *worker, struct worker_job *job);

/* What run left behind may be read once this is true. */
bool worker_done(struct worker *worker, const struct worker_job *job);

/* The maker lets go, done or not: a job that has begun or waits is done all the same, since what it
 * writes may be what somebody asked for before the connection broke. */
void worker_release(struct worker *worker, struct worker_job *job);

/* Does what waits, then ends the thread. NULL is fine. */
void worker_stop(struct worker *worker);

#endif
