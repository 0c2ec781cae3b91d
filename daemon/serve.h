/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The service: planner's thread and HTTP side wired together around one snapshot cell. */
#ifndef PERCHD_DAEMON_SERVE_H
#define PERCHD_DAEMON_SERVE_H

#include <stdint.h>
#include <stdio.h>

#include "error.h"
#include "place.h"
#include "setup.h"

struct serve_options {
    const struct setup *setup;
    const struct place *place;
    int port;        /* 0..65535, 0 any free one */
    int64_t seconds; /* stops by itself after so long, 0: never */
};

/* Prints 'serving http://127.0.0.1:PORT/' to out (and flushes) once it listens; returns 0 after
 * SIGTERM, SIGINT or the time, or -1 with error set. */
int serve_run(const struct serve_options *options, FILE *out, struct error *error);

#endif
