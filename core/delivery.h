/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From litres a pot needs to what a valve must do: depth, minutes, uniformity, leaching. */
#ifndef PERCHD_CORE_DELIVERY_H
#define PERCHD_CORE_DELIVERY_H

#include <stdbool.h>
#include <stddef.h>

#include "status.h"

enum delivery_method {
    DELIVERY_OVERHEAD,
    DELIVERY_DRIP,
    DELIVERY_SPRAY,
    DELIVERY_SUBIRRIGATION,
    DELIVERY_HAND,
};

enum delivery_cover { /* which part of the bed a run time is sized for */
                      DELIVERY_AVERAGE,
                      DELIVERY_LOW_HALF,
                      DELIVERY_LOW_QUARTER,
};

struct delivery_in {
    enum delivery_method method;
    double need_l;            /* net litres a pot, 0..1000 */
    double leaching_fraction; /* 0..0.9 */
    double pot_top_m2;        /* overhead */
    double capture;           /* overhead: caught with plant / caught without, > 0, <= 10 */
    double rate_mm_h;         /* overhead, > 0, <= 500 */
    enum delivery_cover cover;
    double du_low_quarter;      /* fraction > 0, <= 1; 0 when not measured */
    double du_low_half;         /* fraction > 0, <= 1; 0 when not measured */
    double emitters;            /* drip, spray: per pot, > 0 */
    double emitter_l_h;         /* > 0 */
    double emission_uniformity; /* fraction > 0, <= 1 */
    double hose_l_min;          /* hand, > 0 */
};

struct delivery_out {
    double gross_l;    /* into the pot: need / (1 - leaching fraction) */
    double depth_mm;   /* overhead: gross / (top area x capture); else 0 */
    double minutes;    /* before the multiplier; 0 for sub-irrigation (litres drawn) */
    double multiplier; /* for uniformity, >= 1 */
    double minutes_for_uniformity;
};

MUST_USE enum status delivery_size(const struct delivery_in *in, struct delivery_out *out);

struct delivery_uniformity {
    double mean;
    double du_low_quarter; /* fractions */
    double du_low_half;
    double cu;
    size_t quarter_count; /* cans in the lowest quarter: n/4 rounded up */
    size_t half_count;
};

/* catches: n >= 4, none negative, mean > 0; scratch has room for n values (sorted copy). */
MUST_USE enum status delivery_uniformity_of(const double *catches, size_t n, double *scratch,
                                            struct delivery_uniformity *out);

/* 1/(0.4 + 0.6 DU_lq). */
MUST_USE enum status delivery_multiplier(double du_low_quarter, double *multiplier);

/* Rhoades 1974, FAO-29: ECw/(5 ECe - ECw), at most 0.5; *poor_water when the cap was reached. */
MUST_USE enum status delivery_leaching_requirement(double water_ec_ds_m, double target_ec_ds_m,
                                                   double *requirement, bool *poor_water);

/* minutes (1 - measured) / (1 - target). */
MUST_USE enum status delivery_leach_adjust(double minutes, double measured_fraction,
                                           double target_fraction, double *minutes_new);

/* The measured rule of thumb for an unmeasured capture: 1 + 0.4 (min(canopy, ground)/top - 1), at
 * least 1 and at most ground/top [our choice inside the published 1..4]. Areas in m2, > 0. */
MUST_USE enum status delivery_capture_default(double canopy_m2, double ground_m2, double top_m2,
                                              double *capture);

#endif
