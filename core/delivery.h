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

/* Of an overhead bed's two uniformities the chosen cover must have its own (the low half may be
 * estimated from the low quarter), else STATUS_RANGE. Only the method's own fields are read. */
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

/* 1/(0.4 + 0.6 DU_lq), DU_lq 0..1: the run-time multiplier that covers the low half (landscape
 * irrigation practice, from memory). */
MUST_USE enum status delivery_multiplier(double du_low_quarter, double *multiplier);

/* Rhoades 1974, FAO-29: ECw/(5 ECe - ECw), at most 0.5; *poor_water when the cap was reached. dS/m,
 * 0..100, target (saturation extract) above 0. */
MUST_USE enum status delivery_leaching_requirement(double water_ec_ds_m, double target_ec_ds_m,
                                                   double *requirement, bool *poor_water);

/* minutes (1 - measured) / (1 - target): what stayed stays (Univ. Florida EP529, from memory).
 * minutes 0..1e6, both fractions 0 <= x < 1. */
MUST_USE enum status delivery_leach_adjust(double minutes, double measured_fraction,
                                           double target_fraction, double *minutes_new);

/* The measured rule of thumb for an unmeasured capture: 1 + 0.4 (min(canopy, ground)/top - 1), at
 * least 1 and at most ground/top [our choice inside the published 1..4]. Areas in m2, > 0. */
MUST_USE enum status delivery_capture_default(double canopy_m2, double ground_m2, double top_m2,
                                              double *capture);

/* Part of the water over a bed that stays in the pots: capture A_top/A_ground (1 - LF). Pots on 0.5
 * m spacing keep a tenth (Beeson & Yeager, HortScience 31:606, measured 7 %). Areas > 0; capture is
 * cut to ground/top; fraction 0..0.9. */
MUST_USE enum status delivery_bed_efficiency(double top_m2, double ground_m2, double capture,
                                             double leaching_fraction, double *efficiency);

/* Keller & Karmeli 1974 (from memory): (1 - 1.27 CV/sqrt(n)) q_min/q_mean, not below 0. cv: of
 * manufacture, 0..1; emitters: per pot, 1..1000; flows of the line > 0, q_min <= q_mean. */
MUST_USE enum status delivery_emission_uniformity(double cv, double emitters, double least_l_h,
                                                  double mean_l_h, double *uniformity);

/* Flow by the meter: below this share of the expected, runs are lengthened; below the other a line
 * leaks or stands still, and the meter is no measure of what pots get; above the third something
 * leaks after it [our choice]. */
#define DELIVERY_FLOW_LOW    0.90
#define DELIVERY_FLOW_BROKEN 0.70
#define DELIVERY_FLOW_HIGH   1.15
#define DELIVERY_METERS_MOST 5

/* The middle of metered flow / expected flow. n: 1..DELIVERY_METERS_MOST runs; litres >= 0, minutes
 * > 0, flow_l_min > 0. */
MUST_USE enum status delivery_metered_share(const double *litres, const double *minutes, size_t n,
                                            double flow_l_min, double *share);

/* --- how much should run through ---------------------------------------------------------- */

/* Usual targets: below 15 % (Univ. Florida EP529; Auburn), 10-15 % (Florida BMP manual). Sprinklers
 * take the upper, emitters and the hose the lower; sub-irrigation leaches nothing. */
#define DELIVERY_LEACH_OVERHEAD 0.15
#define DELIVERY_LEACH_MICRO    0.10
/* The plan raises a target for salt so far and no further: then change the water [our choice]. */
#define DELIVERY_LEACH_MAX 0.3
/* Gauged rain of 7 days that has leached enough: rain counts as leaching (restated with Rhoades
 * 1974); the depth is our choice. */
#define DELIVERY_LEACH_RAIN_MM 15.0

struct delivery_leaching_in {
    enum delivery_method method;
    double own_fraction;   /* the zone's own target, 0..0.9; below 0: the method's usual one */
    double water_ec_ds_m;  /* 0..100; 0 when not known */
    double target_ec_ds_m; /* saturation extract, 0..100; 0 when not known */
    double rain_7d_mm;     /* gauged, >= 0 */
};

enum delivery_leaching_reason {
    DELIVERY_LEACHING_USUAL,
    DELIVERY_LEACHING_OWN,
    DELIVERY_LEACHING_SALT, /* raised to the leaching requirement */
    DELIVERY_LEACHING_RAIN, /* none: rain has done it */
};

struct delivery_leaching {
    double fraction; /* 0..0.9 */
    enum delivery_leaching_reason reason;
    bool flush_by_hand; /* the requirement is more than this plan gives: change water, flush */
};

/* Both EC values known: the requirement, at most DELIVERY_LEACH_MAX, is a floor. Pots watered from
 * below cannot be leached from below: fraction 0, flush_by_hand when salt asks for more than the
 * micro target. */
MUST_USE enum status delivery_leaching_target(const struct delivery_leaching_in *in,
                                              struct delivery_leaching *out);

/* --- water that runs through a pot that is not yet full ----------------------------------- */

/* Share of a dose that stays = min(1, intercept - slope dose/deficit). */
struct delivery_intake {
    double intercept; /* 0..2 */
    double slope;     /* 0..2 */
};

/* Lines through Lamack's spray stakes (thesis, Virginia Tech; Lamack & Niemiera 1993): deficit 600
 * mL, doses of 400 and 600 mL; at once 84 and 67 % stayed, in pulses of 100 mL every 30 min 95 and
 * 84 %. Taken for every method from above; from below nothing runs through. */
struct delivery_intake delivery_intake_of(enum delivery_method method, bool pulsed);

/* dose_fraction: dose/deficit, >= 0. Past the dose at which the line would have more water leave
 * less behind (1.16 at once, 1.77 pulsed; the trials ended at 1) the litres kept stay what they
 * were, so that more water never keeps less. */
MUST_USE enum status delivery_retained_share(const struct delivery_intake *intake,
                                             double dose_fraction, double *share);

/* The dose, as a part of the deficit, that leaves refill_fraction (0..1) of the deficit in the pot.
 * When no dose does, the one that leaves most and *reached false. */
MUST_USE enum status delivery_dose_fraction(const struct delivery_intake *intake,
                                            double refill_fraction, double *dose_fraction,
                                            bool *reached);

/* --- margins do not multiply -------------------------------------------------------------- */

struct delivery_margin_in {
    double need_l;            /* to stay in the average pot, 0..1000 */
    double deficit_l;         /* missing to capacity, >= need, <= 1000 */
    double leaching_fraction; /* 0..0.9 */
    double multiplier;        /* for uniformity, 1..20 */
    struct delivery_intake intake;
};

enum delivery_margin_kind {
    DELIVERY_MARGIN_NONE,
    DELIVERY_MARGIN_LEACHING,
    DELIVERY_MARGIN_CHANNELLING,
    DELIVERY_MARGIN_UNIFORMITY,
};

struct delivery_margin {
    double gross_l; /* into the average pot, the largest of the three below and the need */
    double for_leaching_l;
    double for_channelling_l;
    double for_uniformity_l;
    enum delivery_margin_kind kind; /* which one was used */
    bool refills;                   /* false: at this intake no single run can put back the need */
};

/* Each margin already wets the pots past their need: what runs through a channelled pot is its
 * leachate, and what evens a bed leaches its wet half. So the largest is used [our choice; a
 * product of all three would over-water by half]. Give gross_l to delivery_size() with leaching 0
 * and the average cover. */
MUST_USE enum status delivery_margin_of(const struct delivery_margin_in *in,
                                        struct delivery_margin *out);

/* --- shortest run, pulses ----------------------------------------------------------------- */

#define DELIVERY_LEAST_OVERHEAD_MM 3.0 /* common practice; our choice of figure */
#define DELIVERY_LEAST_EMITTER_MIN 5.0 /* after the line has filled */
#define DELIVERY_LEAF_MM           0.7 /* each overhead start wets leaves before pots; our choice */
#define DELIVERY_PULSE_PAUSE_MIN   30.0 /* Lamack; Karam & Niemiera 1994: 20-60, longer is better */
#define DELIVERY_PULSE_DRAINAGE    0.25 /* caught drainage over which overhead is pulsed */

/* rate_mm_h: overhead, > 0, <= 500; line_fill_min: drip and spray, 0..120. Sub-irrigation and the
 * hose have no least: 0. */
MUST_USE enum status delivery_least_minutes(enum delivery_method method, double rate_mm_h,
                                            double line_fill_min, double *minutes);

struct delivery_pulses {
    int count; /* 1..3 */
    double minutes_each;
    double pause_min; /* between two; 0 when there is one */
    bool longer_wet;  /* overhead in pulses: leaves stay wet through the pauses */
    double leaf_mm;   /* overhead: lost on leaves by the further starts */
};

/* Overhead: one, since each start wets the leaves anew, unless caught drainage (fraction, below 0
 * when not measured) is over DELIVERY_PULSE_DRAINAGE. Drip and spray: as many of three as are each
 * at least least_minutes. Others one. minutes 0..1e5, least_minutes >= 0. */
MUST_USE enum status delivery_pulses_of(enum delivery_method method, double minutes,
                                        double least_minutes, double caught_drainage,
                                        struct delivery_pulses *out);

#endif
