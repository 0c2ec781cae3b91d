/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "clock.h"

#include <time.h>

int64_t clock_now_s(void)
{
    struct timespec now;
    clock_gettime(CLOCK_REALTIME, &now);
    return now.tv_sec;
}

int64_t clock_monotonic_ms(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}
