/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The one status type of core/. Every core function that can fail returns it and writes its
 * outputs only on STATUS_OK. A doubtful but usable result is a flag in the result, never a status.
 */
#ifndef PERCHD_CORE_STATUS_H
#define PERCHD_CORE_STATUS_H

#include <stdbool.h>

enum status {
    STATUS_OK = 0,
    STATUS_RANGE,       /* an input is not finite or outside the documented range */
    STATUS_IMPOSSIBLE,  /* each input is in range, together they cannot be (air above pores ...) */
    STATUS_NO_SOLUTION, /* a solver found no answer within its bounds */
    STATUS_NO_SPACE,    /* a caller's array is too short */
};

#if defined(__GNUC__)
#define MUST_USE __attribute__((warn_unused_result))
#else
#define MUST_USE
#endif

/* In the positive form, so that NaN is outside every range. */
static inline bool status_within(double x, double low, double high)
{
    return x >= low && x <= high;
}

#endif
