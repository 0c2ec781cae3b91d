/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A time that the test moves: every program started meanwhile has it (preload_clock.c). */
#ifndef PERCHD_TESTS_MOVED_CLOCK_H
#define PERCHD_TESTS_MOVED_CLOCK_H

#include <stdint.h>

struct moved_clock {
    volatile int64_t *now; /* [0] seconds, [1] when whoever sleeps wants to wake up */
    char path[64];
};

/* Stands still until moved. */
void moved_clock_start(struct moved_clock *clock, int64_t now_s);
void moved_clock_end(struct moved_clock *clock);

#endif
