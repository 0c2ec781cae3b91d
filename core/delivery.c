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
    if (!above(du_low_quarter, 0, 1))
        return STATUS_RANGE;
    *multiplier = 1 / (HALF_FIXED + HALF_PER_QUARTER * du_low_quarter);
    return STATUS_OK;
}

/* How many times the average run time the chosen part of an overhead bed needs. */
static enum status cover_multiplier(const struct delivery_in *in, double *multiplier)
{
    if (!within(in->du_low_quarter, 0, 1) || !within(in->du_low_half, 0, 1))
        return STATUS_RANGE;
    switch (in->cover) {
    case DELIVERY_AVERAGE:
        *multiplier = 1;
        return STATUS_OK;
    case DELIVERY_LOW_HALF:
        if (!(in->du_low_half > 0))
            return delivery_multiplier(in->du_low_quarter, multiplier);
        *multiplier = 1 / in->du_low_half;
        return STATUS_OK;
    case DELIVERY_LOW_QUARTER:
        if (!(in->du_low_quarter > 0))
            return STATUS_RANGE;
        *multiplier = 1 / in->du_low_quarter;
        return STATUS_OK;
    }
    return STATUS_RANGE;
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
    if (status == STATUS_OK)
        *out = size;
    return status;
}

static bool catches_in_range(const double *catches, size_t n)
{
    bool wet = false;
    for (size_t i = 0; i < n; i++) {
        if (!within(catches[i], 0, 1e9))
            return false;
        wet = wet || catches[i] > 0;
    }
    return wet;
}

enum status delivery_uniformity_of(const double *catches, size_t n, double *scratch,
                                   struct delivery_uniformity *out)
{
    if (n < 4 || !catches_in_range(catches, n))
        return STATUS_RANGE;
    memcpy(scratch, catches, n * sizeof *scratch);
    gsl_sort(scratch, 1, n);
    double mean = gsl_stats_mean(scratch, 1, n);
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
