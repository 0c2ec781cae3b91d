/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Everything measured on one batch of mix, fitted together: drain tests in one or more vessels,
 * points of the retention curve (EN 13041 and kin), a known porosity. One vessel or one point
 * leaves only alpha free; more are fitted by weighted least squares on the same vessel integrals,
 * with the class prior as further residuals.
 */
#ifndef PERCHD_CORE_BENCH_SET_H
#define PERCHD_CORE_BENCH_SET_H

#include <stddef.h>

#include "bench.h"
#include "status.h"

#define BENCH_SET_TESTS_MAX  16
#define BENCH_SET_POINTS_MAX 64

/* One point of a retention curve. A laboratory's air capacity at 10 cm is the point
 * (10, total porosity - air): a point, not the air of a 10 cm jar. */
struct bench_point {
    double suction_cm; /* 0..1e5 */
    double theta;      /* 0 < theta < 1 */
    double theta_sd;   /* 0: 1.5 points */
};

struct bench_set {
    const struct bench_test *tests; /* their class_id is not read */
    size_t test_count;              /* 0..BENCH_SET_TESTS_MAX */
    const struct bench_point *points;
    size_t point_count;    /* 0..BENCH_SET_POINTS_MAX; at least one test or point */
    double total_porosity; /* fraction; 0: from the tests, a point at suction 0, or the class */
    enum bench_class class_id;
};

enum bench_set_fault {
    BENCH_SET_FAULT_NONE,
    BENCH_SET_FAULT_COUNT,       /* nothing, or more than the arrays may hold */
    BENCH_SET_FAULT_TEST,        /* test number `index` cannot be: see `test` */
    BENCH_SET_FAULT_SUCTION,     /* point number `index` */
    BENCH_SET_FAULT_THETA,       /* not in 0..1, or its SD not in 0..0.5 */
    BENCH_SET_FAULT_THETA_ORDER, /* more water at a higher suction, beyond its noise */
    BENCH_SET_FAULT_ABOVE_PORES, /* a point above the total porosity, beyond its noise */
    BENCH_SET_FAULT_POROSITY,    /* not in 0..1 */
    BENCH_SET_FAULT_CLASS,
    BENCH_SET_FAULT_NO_CURVE, /* nothing of this class comes near the measurements */
};

struct bench_set_refusal {
    enum bench_set_fault fault;
    size_t index;
    double given;
    double limit;
    struct bench_refusal test;
};

struct bench_set_refusal bench_set_check(const struct bench_set *set);

/* The figures (air, capacity, vessel) of the result are those of the first test; without one they
 * are the curve's in a straight 12 cm vessel, air_space_se then being the fit's own uncertainty.
 * STATUS_RANGE, STATUS_IMPOSSIBLE as bench_set_check finds; STATUS_NO_SOLUTION when no curve comes
 * near the measurements; STATUS_NO_SPACE out of memory. */
MUST_USE enum status bench_set_fit(const struct bench_set *set, struct bench_fit *out);

#endif
