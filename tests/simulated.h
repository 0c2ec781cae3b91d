/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The real daemon with the example nursery under a clock that a test moves on. */
#ifndef PERCHD_TESTS_SIMULATED_H
#define PERCHD_TESTS_SIMULATED_H

#include <jansson.h>
#include <stdbool.h>

#include "moved_clock.h"
#include "service.h"

/* 2026-07-01T00:00:00 in Lisbon. */
#define DAY_START_S 1782860400

struct day {
    struct service service;
    struct moved_clock moved;
    volatile int64_t *clock; /* its */
    bool down;               /* the daemon is */
    int64_t cut_s, back_s;   /* when it was ended in the midst of things, and back; 0: never */
};

/* Midnight, the service started; every program started from now on has the simulated time. */
void day_open(struct day *day);
void day_close(struct day *day);

/* The daemon gets the same port again when it is started anew. */
void day_keep_port(const struct day *day);

/* Until the plan is one of this very moment: in life planning takes no time, and so nobody acts on
 * a plan that is about to be replaced. */
void day_wait_for_plan(const struct day *day);

/* A document of the API; NULL unless it was answered with 200. */
json_t *day_get(const struct day *day, const char *path);

/* A member's text, "" when there is none. */
const char *day_text(const json_t *object, const char *name);

#endif
