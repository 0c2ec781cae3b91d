/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A pot filled with a mix: water and air at container capacity, the saturated layer over the
 * holes, available water. Truncated cone or square frustum; suction rises 1 cm per cm from the
 * holes (Passioura 2006).
 */
#ifndef PERCHD_CORE_POT_H
#define PERCHD_CORE_POT_H

#include <stdbool.h>
#include <stddef.h>

#include "bench.h"
#include "retention.h"
#include "status.h"

enum pot_form {
    POT_ROUND,
    POT_SQUARE,
};

#define POT_TAPER_MOST BENCH_TAPER_MOST

struct pot_shape {
    enum pot_form form;
    double top_cm;         /* inside width at the fill line, or at the rim when height_cm > 0 */
    double bottom_cm;      /* inside width at the holes */
    double fill_height_cm; /* depth of mix above the holes, 1..100 */
    double height_cm;      /* rim above the holes; 0 when top_cm is at the fill line */
    double volume_l;       /* measured volume of the mix; 0 when computed from the widths */
    bool inverse_taper;    /* a bottom over 5 % wider than the top is meant */
    double base_cm;        /* suction at the holes when drained: 0 free draining, z for a water
                              table z below (sand bed, wick), -z standing z deep in a saucer */
};

struct pot_figures {
    double volume_l;
    double top_area_m2;        /* substrate surface at the fill line */
    double total_porosity;     /* fraction */
    double capacity;           /* container capacity, fraction of volume */
    double air_space;          /* fraction at container capacity */
    double air_space_sd;       /* fraction; 0 when no bench fit was given */
    double capacity_sd;        /* fraction; the porosity's own error on top of the air's */
    double water_l;            /* at container capacity */
    double theta_low;          /* lower end of available water, fraction */
    double available_l;        /* capacity - volume theta_low, >= 0 */
    double easily_available_l; /* volume (theta(10) - theta(50)) */
    double buffer_l;           /* volume (theta(50) - theta(100)) */
    double saturated_layer_cm; /* from the base while theta_s - theta < 0.01 */
    double wet_layer_cm;       /* from the base while theta_s - theta < 0.10: air below 10 % */
};

/* Ranges: widths 0.01..1000 cm, fill height 1..100 cm and at most the height, volume 0..1e4 L, base
 * -100..300 cm. STATUS_RANGE outside them, STATUS_IMPOSSIBLE for a bottom over 5 % wider than the
 * top that is not said to be so.
 *
 * theta_low <= 0 asks for the default: theta(100 cm), or 0.20 in bark classes (O'Meara et al.
 * 2014 thresholds; our choice). fit may be NULL when only a curve is known: then no SD. */
MUST_USE enum status pot_at_capacity(const struct pot_shape *shape,
                                     const struct retention_curve *curve,
                                     const struct bench_fit *fit, double theta_low,
                                     struct pot_figures *out);

/* Water content by height at container capacity: count >= 2 points, from the base up. */
MUST_USE enum status pot_profile(const struct pot_shape *shape, const struct retention_curve *curve,
                                 size_t count, double height_cm[], double theta[]);

/* Share of container capacity that a pot refills to in daily practice (a bench curve is the
 * drainage branch; 0.85-0.95 by method, from memory) and on a flood bed (our own choice). */
#define POT_CEILING_DAILY 0.92
#define POT_CEILING_FLOOD 0.88

enum pot_growth {
    POT_SOFT,  /* rooted through in 6 weeks */
    POT_WOODY, /* in 10 */
};

/* Share of a freshly potted pot's water that roots reach, 0..1: linear from plug_share at potting
 * to 1 when rooted through (our own choice). plug_share 0..1, days >= 0, else STATUS_RANGE. */
MUST_USE enum status pot_rooted_share(double plug_share, double days, enum pot_growth growth,
                                      double *share);

/* Air space that is left when roots and ageing fill pores: air - loss_a_day x days, at least 0. A
 * peat in 1.1 L lost 21 points in 196 days (Cannavo et al. 2011), about 0.001 a day; the loss is a
 * setting, 0 by default. loss_a_day 0..0.01, days 0..3650, else STATUS_RANGE. */
#define POT_ROOT_LOSS_A_DAY 0.001
MUST_USE enum status pot_air_with_roots(double air_space, double loss_a_day, double days,
                                        double *air_left);

/* Least fill height (1..100 cm, walls continued at their slope) that gives target_air (fraction).
 * STATUS_NO_SOLUTION when none does. */
MUST_USE enum status pot_least_fill_cm(const struct pot_shape *shape,
                                       const struct retention_curve *curve, double target_air,
                                       double *fill_height_cm);

#endif
