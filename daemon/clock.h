/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The only place that asks for the time. */
#ifndef PERCHD_DAEMON_CLOCK_H
#define PERCHD_DAEMON_CLOCK_H

#include <stdint.h>

/* Seconds since 1970-01-01T00:00:00Z by the machine's clock, which may jump. */
int64_t clock_now_s(void);

/* Milliseconds since some moment before the program started; never jumps. For deadlines. */
int64_t clock_monotonic_ms(void);

#endif
