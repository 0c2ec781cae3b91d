/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "delivery.h"

#include <math.h>
#include <string.h>

#include <gsl/gsl_sort.h>
#include <gsl/gsl_statistics_double.h>

/* Low half of a bed from its low quarter, normal distribution: 0.386 + 0.614 DU_lq, written 0.4 +
 * 0.6 DU_lq in landscape irrigation practice (from memory). */
static const double HALF_FIXED = 0.4;
static const double HALF_PER_QUARTER = 0.6;

/* Beyond half of the water draining away, more water is no answer to its salt. Our choice. */
static const double REQUIREMENT_MAX = 0.5;
static const double EC_AT_FULL_YIELD = 5.0; /* Rhoades 1974; FAO-29 eq 9 */

/* Leaves beyond the pot lead a part of what they catch to the stem. Our choice, inside the 1 to 4
 * that Million & Yeager 2015 (HortScience) measured on 11 species. */
static const double CAPTURE_PER_SPREAD = 0.4;

static bool above(double x, double low, double high)
{
    return x > low && x <= high;
}

static bool within(double x, double low, double high)
{
    return x >= low && x <= high;
}

enum status delivery_multiplier(double du_low_quarter, double *multiplier)
{
    if (!within(du_low_quarter, 0, 1))
        return STATUS_RANGE;
    *multiplier = 1 / (HALF_FIXED + HALF_PER_QUARTER * du_low_quarter);
    return STATUS_OK;
}

/* How many times the average run time the chosen part of an overhead bed needs. */
static enum status cover_multiplier(const struct delivery_in *in, double *multiplier)
{
    if (!within(in->du_low_quarter, 0, 1) || !within(in->du_low_half, 0, 1))
        return STATUS_RANGE;
    double du = 1;
    switch (in->cover) {
    case DELIVERY_AVERAGE:
        break;
    case DELIVERY_LOW_HALF:
        du = in->du_low_half;
        if (!(du > 0) && in->du_low_quarter > 0)
            return delivery_multiplier(in->du_low_quarter, multiplier);
        break;
    case DELIVERY_LOW_QUARTER:
        du = in->du_low_quarter;
        break;
    }
    if (!(du > 0))
        return STATUS_RANGE;
    *multiplier = 1 / du;
    return STATUS_OK;
}

static enum status size_overhead(const struct delivery_in *in, struct delivery_out *size)
{
    if (!above(in->pot_top_m2, 0, 10) || !above(in->capture, 0, 10) ||
        !above(in->rate_mm_h, 0, 500))
        return STATUS_RANGE;
    size->depth_mm = size->gross_l / (in->pot_top_m2 * in->capture);
    size->minutes = 60 * size->depth_mm / in->rate_mm_h;
    return cover_multiplier(in, &size->multiplier);
}

static enum status size_emitters(const struct delivery_in *in, struct delivery_out *size)
{
    if (!above(in->emitters, 0, 1000) || !above(in->emitter_l_h, 0, 10000) ||
        !above(in->emission_uniformity, 0, 1))
        return STATUS_RANGE;
    size->minutes = 60 * size->gross_l / (in->emitters * in->emitter_l_h);
    size->multiplier = 1 / in->emission_uniformity;
    return STATUS_OK;
}

static enum status size_hand(const struct delivery_in *in, struct delivery_out *size)
{
    if (!above(in->hose_l_min, 0, 1000))
        return STATUS_RANGE;
    size->minutes = size->gross_l / in->hose_l_min;
    return STATUS_OK;
}

enum status delivery_size(const struct delivery_in *in, struct delivery_out *out)
{
    struct delivery_out size = {.multiplier = 1};
    enum status status = STATUS_RANGE;
    if (!within(in->need_l, 0, 1000) || !within(in->leaching_fraction, 0, 0.9))
        return STATUS_RANGE;
    size.gross_l = in->need_l / (1 - in->leaching_fraction);
    switch (in->method) {
    case DELIVERY_OVERHEAD:
        status = size_overhead(in, &size);
        break;
    case DELIVERY_DRIP:
    case DELIVERY_SPRAY:
        status = size_emitters(in, &size);
        break;
    case DELIVERY_HAND:
        status = size_hand(in, &size);
        break;
    case DELIVERY_SUBIRRIGATION: /* pots draw what they lost: litres count, not minutes */
        status = STATUS_OK;
        break;
    }
    size.minutes_for_uniformity = size.minutes * size.multiplier;
    if (status != STATUS_OK)
        return status;
    /* Areas or fractions hardly above 0. */
    if (!isfinite(size.depth_mm) || !isfinite(size.minutes_for_uniformity))
        return STATUS_RANGE;
    *out = size;
    return STATUS_OK;
}

static bool catches_in_range(const double *catches, size_t n)
{
    for (size_t i = 0; i < n; i++)
        if (!within(catches[i], 0, 1e9))
            return false;
    return true;
}

enum status delivery_uniformity_of(const double *catches, size_t n, double *scratch,
                                   struct delivery_uniformity *out)
{
    if (n < 4 || !catches_in_range(catches, n))
        return STATUS_RANGE;
    memcpy(scratch, catches, n * sizeof *scratch);
    gsl_sort(scratch, 1, n);
    double mean = gsl_stats_mean(scratch, 1, n);
    if (!(mean > 0))
        return STATUS_RANGE;
    out->mean = mean;
    out->quarter_count = (n + 3) / 4;
    out->half_count = (n + 1) / 2;
    /* fmin: even catches may round to a hair above 1. */
    out->du_low_quarter = fmin(1, gsl_stats_mean(scratch, 1, out->quarter_count) / mean);
    out->du_low_half = fmin(1, gsl_stats_mean(scratch, 1, out->half_count) / mean);
    /* Christiansen 1942. */
    out->cu = 1 - gsl_stats_absdev_m(scratch, 1, n, mean) / mean;
    return STATUS_OK;
}

enum status delivery_metered_share(const double *litres, const double *minutes, size_t n,
                                   double flow_l_min, double *share)
{
    double shares[DELIVERY_METERS_MOST];
    if (n < 1 || n > DELIVERY_METERS_MOST || !above(flow_l_min, 0, 1e6))
        return STATUS_RANGE;
    for (size_t i = 0; i < n; i++) {
        if (!within(litres[i], 0, 1e9) || !above(minutes[i], 0, 1e6))
            return STATUS_RANGE;
        shares[i] = litres[i] / minutes[i] / flow_l_min;
    }
    gsl_sort(shares, 1, n);
    *share = gsl_stats_median_from_sorted_data(shares, 1, n);
    return STATUS_OK;
}

enum status delivery_leaching_requirement(double water_ec_ds_m, double target_ec_ds_m,
                                          double *requirement, bool *poor_water)
{
    if (!within(water_ec_ds_m, 0, 100) || !above(target_ec_ds_m, 0, 100))
        return STATUS_RANGE;
    double spare = EC_AT_FULL_YIELD * target_ec_ds_m - water_ec_ds_m;
    double exact = spare > 0 ? water_ec_ds_m / spare : INFINITY;
    *poor_water = exact >= REQUIREMENT_MAX;
    *requirement = fmin(exact, REQUIREMENT_MAX);
    return STATUS_OK;
}

enum status delivery_leach_adjust(double minutes, double measured_fraction, double target_fraction,
                                  double *minutes_new)
{
    if (!within(minutes, 0, 1e6) || !(measured_fraction >= 0 && measured_fraction < 1) ||
        !(target_fraction >= 0 && target_fraction < 1))
        return STATUS_RANGE;
    *minutes_new = minutes * (1 - measured_fraction) / (1 - target_fraction);
    return STATUS_OK;
}

enum status delivery_capture_default(double canopy_m2, double ground_m2, double top_m2,
                                     double *capture)
{
    if (!within(canopy_m2, 0, 1e4) || !above(ground_m2, 0, 1e4) || !above(top_m2, 0, 1e4))
        return STATUS_RANGE;
    double spread = fmin(canopy_m2, ground_m2) / top_m2;
    double led = fmax(1, 1 + CAPTURE_PER_SPREAD * (spread - 1));
    /* A pot cannot catch more than falls on its share of the bed. */
    *capture = fmin(led, ground_m2 / top_m2);
    return STATUS_OK;
}

enum status delivery_bed_efficiency(double top_m2, double ground_m2, double capture,
                                    double leaching_fraction, double *efficiency)
{
    if (!above(top_m2, 0, 1e4) || !above(ground_m2, 0, 1e4) || !above(capture, 0, 10) ||
        !within(leaching_fraction, 0, 0.9))
        return STATUS_RANGE;
    *efficiency = fmin(1, capture * top_m2 / ground_m2) * (1 - leaching_fraction);
    return STATUS_OK;
}

enum status delivery_emission_uniformity(double cv, double emitters, double least_l_h,
                                         double mean_l_h, double *uniformity)
{
    /* 1.27: mean of the lowest quarter of a normal distribution, in standard deviations. */
    const double low_quarter_sd = 1.27;
    if (!within(cv, 0, 1) || !within(emitters, 1, 1000) || !above(least_l_h, 0, 1e4) ||
        !above(mean_l_h, 0, 1e4) || !(least_l_h <= mean_l_h))
        return STATUS_RANGE;
    *uniformity = fmax(0, 1 - low_quarter_sd * cv / sqrt(emitters)) * (least_l_h / mean_l_h);
    return STATUS_OK;
}

static double usual_leaching(enum delivery_method method)
{
    switch (method) {
    case DELIVERY_OVERHEAD:
        return DELIVERY_LEACH_OVERHEAD;
    case DELIVERY_SUBIRRIGATION:
        return 0;
    case DELIVERY_DRIP:
    case DELIVERY_SPRAY:
    case DELIVERY_HAND:
        break;
    }
    return DELIVERY_LEACH_MICRO;
}

/* 0 when either EC is not known. */
static enum status salt_requirement(const struct delivery_leaching_in *in, double *requirement)
{
    bool poor = false;
    *requirement = 0;
    if (in->water_ec_ds_m == 0 || in->target_ec_ds_m == 0)
        return STATUS_OK;
    return delivery_leaching_requirement(in->water_ec_ds_m, in->target_ec_ds_m, requirement, &poor);
}

enum status delivery_leaching_target(const struct delivery_leaching_in *in,
                                     struct delivery_leaching *out)
{
    double requirement = 0;
    if (!(in->own_fraction <= 0.9) || !(in->rain_7d_mm >= 0) ||
        !within(in->water_ec_ds_m, 0, 100) || !within(in->target_ec_ds_m, 0, 100) ||
        salt_requirement(in, &requirement) != STATUS_OK)
        return STATUS_RANGE;
    bool own = in->own_fraction >= 0;
    struct delivery_leaching target = {
        .fraction = own ? in->own_fraction : usual_leaching(in->method),
        .reason = own ? DELIVERY_LEACHING_OWN : DELIVERY_LEACHING_USUAL,
    };
    double floor = fmin(requirement, DELIVERY_LEACH_MAX);
    if (in->method == DELIVERY_SUBIRRIGATION) {
        target.fraction = 0;
        target.flush_by_hand = requirement > DELIVERY_LEACH_MICRO;
    } else if (floor > target.fraction) {
        target.fraction = floor;
        target.reason = DELIVERY_LEACHING_SALT;
    }
    if (in->method != DELIVERY_SUBIRRIGATION)
        target.flush_by_hand = requirement > fmax(target.fraction, DELIVERY_LEACH_MAX);
    if (in->rain_7d_mm >= DELIVERY_LEACH_RAIN_MM) {
        target.fraction = 0;
        target.reason = DELIVERY_LEACHING_RAIN;
        target.flush_by_hand = false;
    }
    *out = target;
    return STATUS_OK;
}

struct delivery_intake delivery_intake_of(enum delivery_method method, bool pulsed)
{
    const struct delivery_intake at_once = {.intercept = 1.18, .slope = 0.51};
    const struct delivery_intake in_pulses = {.intercept = 1.17, .slope = 0.33};
    const struct delivery_intake from_below = {.intercept = 1, .slope = 0};
    if (method == DELIVERY_SUBIRRIGATION)
        return from_below;
    return pulsed ? in_pulses : at_once;
}

static bool intake_in_range(const struct delivery_intake *intake)
{
    return above(intake->intercept, 0, 2) && within(intake->slope, 0, 2);
}

/* Dose that leaves most behind: where d (a - b d) turns. */
static double fullest_dose(const struct delivery_intake *intake)
{
    return intake->slope > 0 ? intake->intercept / (2 * intake->slope) : INFINITY;
}

enum status delivery_retained_share(const struct delivery_intake *intake, double dose_fraction,
                                    double *share)
{
    if (!intake_in_range(intake) || !(dose_fraction >= 0) || !isfinite(dose_fraction))
        return STATUS_RANGE;
    double turn = fullest_dose(intake);
    double on_line = fmin(dose_fraction, turn);
    double kept = fmin(1, intake->intercept - intake->slope * on_line);
    *share = dose_fraction > turn ? kept * (turn / dose_fraction) : kept;
    return STATUS_OK;
}

enum status delivery_dose_fraction(const struct delivery_intake *intake, double refill_fraction,
                                   double *dose_fraction, bool *reached)
{
    double a = intake->intercept;
    double b = intake->slope;
    if (!intake_in_range(intake) || !within(refill_fraction, 0, 1))
        return STATUS_RANGE;
    double under_root = a * a - 4 * b * refill_fraction;
    *reached = under_root >= 0;
    /* Lesser root of d (a - b d) = refill, in the form that holds for b = 0; a small dose that
     * stays whole is itself. */
    if (*reached)
        *dose_fraction = fmax(refill_fraction, 2 * refill_fraction / (a + sqrt(under_root)));
    else
        *dose_fraction = fullest_dose(intake);
    return STATUS_OK;
}

static bool margins_in_range(const struct delivery_margin_in *in)
{
    const double rounding = 1 + 1e-9; /* need and deficit may come by two ways to the same figure */
    return within(in->deficit_l, 0, 1000) && within(in->need_l, 0, in->deficit_l * rounding) &&
           within(in->leaching_fraction, 0, 0.9) && within(in->multiplier, 1, 20);
}

static void take_larger(struct delivery_margin *margin, enum delivery_margin_kind kind,
                        double litres)
{
    if (!(litres > margin->gross_l))
        return;
    margin->gross_l = litres;
    margin->kind = kind;
}

enum status delivery_margin_of(const struct delivery_margin_in *in, struct delivery_margin *out)
{
    struct delivery_margin m = {.gross_l = in->need_l, .kind = DELIVERY_MARGIN_NONE};
    double dose = 0;
    if (!margins_in_range(in))
        return STATUS_RANGE;
    double refill = in->need_l > 0 ? fmin(1, in->need_l / in->deficit_l) : 0;
    enum status status = delivery_dose_fraction(&in->intake, refill, &dose, &m.refills);
    if (status != STATUS_OK)
        return status;
    m.for_leaching_l = in->need_l / (1 - in->leaching_fraction);
    m.for_channelling_l = dose * in->deficit_l;
    m.for_uniformity_l = in->need_l * in->multiplier;
    take_larger(&m, DELIVERY_MARGIN_LEACHING, m.for_leaching_l);
    take_larger(&m, DELIVERY_MARGIN_CHANNELLING, m.for_channelling_l);
    take_larger(&m, DELIVERY_MARGIN_UNIFORMITY, m.for_uniformity_l);
    *out = m;
    return STATUS_OK;
}

enum status delivery_least_minutes(enum delivery_method method, double rate_mm_h,
                                   double line_fill_min, double *minutes)
{
    switch (method) {
    case DELIVERY_OVERHEAD:
        if (!above(rate_mm_h, 0.01, 500)) /* slower is no sprinkler */
            return STATUS_RANGE;
        *minutes = 60 * DELIVERY_LEAST_OVERHEAD_MM / rate_mm_h;
        return STATUS_OK;
    case DELIVERY_DRIP:
    case DELIVERY_SPRAY:
        if (!within(line_fill_min, 0, 120))
            return STATUS_RANGE;
        *minutes = line_fill_min + DELIVERY_LEAST_EMITTER_MIN;
        return STATUS_OK;
    case DELIVERY_SUBIRRIGATION:
    case DELIVERY_HAND:
        *minutes = 0;
        return STATUS_OK;
    }
    return STATUS_RANGE;
}

/* Three to four pulses do most of what many do (Lamack; Fare et al. 1994 with three). */
static int pulse_count(double minutes, double least_minutes)
{
    const int most = 3;
    int count = most;
    while (count > 1 && minutes < count * least_minutes)
        count--;
    return minutes > 0 ? count : 1;
}

enum status delivery_pulses_of(enum delivery_method method, double minutes, double least_minutes,
                               double caught_drainage, struct delivery_pulses *out)
{
    if (!within(minutes, 0, 1e5) || !within(least_minutes, 0, 1e5) || !(caught_drainage <= 1))
        return STATUS_RANGE;
    struct delivery_pulses pulses = {.count = 1};
    bool overhead = method == DELIVERY_OVERHEAD;
    if (overhead ? caught_drainage > DELIVERY_PULSE_DRAINAGE
                 : method == DELIVERY_DRIP || method == DELIVERY_SPRAY)
        pulses.count = pulse_count(minutes, least_minutes);
    pulses.minutes_each = minutes / pulses.count;
    pulses.pause_min = pulses.count > 1 ? DELIVERY_PULSE_PAUSE_MIN : 0;
    pulses.longer_wet = overhead && pulses.count > 1;
    pulses.leaf_mm = overhead ? DELIVERY_LEAF_MM * (pulses.count - 1) : 0;
    *out = pulses;
    return STATUS_OK;
}
