/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The one event loop: waits for signals and for one descriptor, never longer than a second. */
#ifndef PERCHD_DAEMON_LOOP_H
#define PERCHD_DAEMON_LOOP_H

#include <stdint.h>

#include "error.h"

struct loop_work {
    void *context;
    int fd;                        /* readable when turn has something to do */
    int (*turn)(void *context);    /* does it; milliseconds until it must be called again */
    void (*tick)(void *context);   /* after each wait, so at least once a second; may be NULL */
    void (*reload)(void *context); /* on SIGHUP; may be NULL */
    int64_t stop_at_ms;            /* on the monotonic clock; 0: never */
};

/* Blocks SIGTERM, SIGINT and SIGHUP in this thread and those it starts from now on, ignores
 * SIGPIPE, and returns a descriptor that reads the signals; -1 with error set. */
int loop_signals(struct error *error);

/* Returns 0 after SIGTERM, SIGINT or stop_at_ms, or -1 with error set. */
int loop_run(int signal_fd, const struct loop_work *work, struct error *error);

#endif
