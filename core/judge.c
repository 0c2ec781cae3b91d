/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "judge.h"

#include <math.h>

#define VESSEL_CM   12.0
#define NEAR_ANOXIC 0.05 /* trade's figure for a base without air (from memory) */
#define ROT_AIR     0.10 /* least air by a university's nursery advice, and the trade's */
#define OFTEN_AIR   0.30 /* upper end of general nursery stock */
#define ROT_CHANCE  0.25
#define FAR_RATIO   2.0
#define RANGE_LOW   2.5
#define RANGE_HIGH  40.0
#define EDGES       4
#define EDGE_SLACK  1e-9 /* 20 % is 20 %, however the curve rounds it */

/* Edges between too wet | rather wet | fit | rather dry | too dry.
 * 12 cm vessel, growing on: under 13 % fails the Australian general nursery guideline (13-30 %);
 * 20-25 % good, up to 30 % needs watering more often, above it is hard to keep watered (common
 * practice). Propagation: 25-30 % suits (common practice); above, mist keeps up.
 * In the pot, growing on: under 10 % too little (Univ. California extension), 13-30 % as above;
 * over 30 % it wants water more often, but no air is too much for a pot by itself: tall ones are
 * airy and yet hold litres, and how long those last is the plan's to say. Propagation: cuttings
 * 20-30 % (from memory). */
static const double mix_edges[][EDGES] = {
    [JUDGE_PROPAGATION] = {.13, .25, .30, INFINITY},
    [JUDGE_GROWING_ON] = {.13, .20, .25, .30},
};
static const double pot_edges[][EDGES] = {
    [JUDGE_PROPAGATION] = {.10, .20, .30, INFINITY},
    [JUDGE_GROWING_ON] = {.10, .13, .30, INFINITY},
};

/* Chance that a normal value lies in from..to. */
static double chance_within(double value, double sd, double from, double to)
{
    if (!(sd > 0))
        return 0;
    double low = 0.5 * erfc((value - from) / (sd * M_SQRT2));
    double high = isinf(to) ? 1 : 0.5 * erfc((value - to) / (sd * M_SQRT2));
    return high - low;
}

static struct judge_finding finding(enum judge_code code, double value, double sd, double from,
                                    double to, double height_cm)
{
    return (struct judge_finding){
        code, value, sd, from, to, height_cm, chance_within(value, sd, from, to)};
}

static struct judge_finding verdict(const double edges[EDGES], double air, double sd,
                                    double height_cm)
{
    size_t band = 0;
    while (band < EDGES && air + EDGE_SLACK >= edges[band])
        band++;
    double from = band == 0 ? 0 : edges[band - 1];
    double to = band == EDGES ? INFINITY : edges[band];
    return finding((enum judge_code)(JUDGE_TOO_WET + (int)band), air, sd, from, to, height_cm);
}

static bool use_known(enum judge_use use)
{
    return use == JUDGE_PROPAGATION || use == JUDGE_GROWING_ON;
}

static double vessel_air(const struct retention_curve *curve, double height_cm)
{
    return (curve->theta_s - curve->theta_r) * (1 - bench_mean_saturation(curve, height_cm, 1, 0));
}

enum status judge_mix(const struct bench_fit *fit, enum judge_use use, struct judge_finding *out)
{
    if (retention_check(&fit->curve) != STATUS_OK || !use_known(use))
        return STATUS_RANGE;
    *out = verdict(mix_edges[use], vessel_air(&fit->curve, VESSEL_CM),
                   bench_air_sd(fit, VESSEL_CM, 1, 0), VESSEL_CM);
    return STATUS_OK;
}

/* Root rot: by the estimate, or by a fair chance in spite of it. */
static size_t judge_rot(double air, double sd, double height_cm, struct judge_finding out[])
{
    size_t count = 0;
    struct judge_finding rot = finding(JUDGE_ROOT_ROT, air, sd, 0, ROT_AIR, height_cm);
    rot.chance = chance_within(air, sd, -INFINITY, ROT_AIR);
    if (air >= ROT_AIR)
        rot.code = JUDGE_ROOT_ROT_POSSIBLE;
    if (air < ROT_AIR || rot.chance > ROT_CHANCE)
        out[count++] = rot;
    if (air < NEAR_ANOXIC)
        out[count++] = finding(JUDGE_NEAR_ANOXIC, air, sd, 0, NEAR_ANOXIC, height_cm);
    return count;
}

/* How far the pot is from what the mix was seen at. */
static size_t judge_reach(const struct bench_fit *fit, double height_cm, struct judge_finding out[])
{
    bool spanned = fit->path == BENCH_SEVERAL || fit->path == BENCH_TABLE;
    double low_cm = spanned ? fit->height_lowest_cm : fit->vessel_height_cm;
    double high_cm = spanned ? fit->height_highest_cm : fit->vessel_height_cm;
    double ratio = height_cm < low_cm ? height_cm / low_cm : fmax(1, height_cm / high_cm);
    size_t count = 0;
    if (ratio > FAR_RATIO || ratio < 1 / FAR_RATIO)
        out[count++] = finding(JUDGE_VESSEL_FAR, ratio, 0, 1 / FAR_RATIO, FAR_RATIO, height_cm);
    if (!status_within(height_cm, RANGE_LOW, RANGE_HIGH))
        out[count++] = finding(JUDGE_BEYOND_RANGE, height_cm, 0, RANGE_LOW, RANGE_HIGH, height_cm);
    return count;
}

enum status judge_pot(const struct pot_shape *shape, const struct pot_figures *figures,
                      const struct bench_fit *fit, enum judge_use use,
                      struct judge_finding out[JUDGE_FINDINGS_MAX], size_t *count)
{
    double air = figures->air_space;
    double sd = figures->air_space_sd;
    double height_cm = shape->fill_height_cm;
    size_t found = 0;
    if (!status_within(air, 0, 1) || !status_within(sd, 0, 1) || !(height_cm > 0) ||
        !use_known(use))
        return STATUS_RANGE;
    out[found++] = verdict(pot_edges[use], air, sd, height_cm);
    found += judge_rot(air, sd, height_cm, out + found);
    if (air > OFTEN_AIR)
        out[found++] = finding(JUDGE_WATER_OFTEN, air, sd, OFTEN_AIR, 1, height_cm);
    if (fit)
        found += judge_reach(fit, height_cm, out + found);
    *count = found;
    return STATUS_OK;
}

/* --- published bands --------------------------------------------------------------------- */

/* Nursery guides' TP / AS / CC (Yeager et al. 1997-2013, from memory) belong to the 7.6 cm core;
 * the Australian guideline's to a 12 cm pipe; air, easily available water and reserve (De Boodt &
 * Verdonck 1972 from memory; Ansorena 1994 prints 20-30 and 4-10) to points of the curve. */
const struct judge_band judge_bands[JUDGE_BANDS] = {
    {"guide_porosity", JUDGE_TOTAL_POROSITY, 7.6, 0, .50, .85},
    {"guide_air", JUDGE_AIR, 7.6, 0, .10, .30},
    {"guide_capacity", JUDGE_CAPACITY, 7.6, 0, .45, .65},
    {"nursery_air", JUDGE_AIR, 12, 0, .13, .30},
    {"practice_air", JUDGE_AIR, 12, 0, .20, .25},
    {"ideal_porosity", JUDGE_TOTAL_POROSITY, 0, 0, .85, 1},
    {"ideal_air", JUDGE_AIR, 0, 10, .20, .30},
    {"ideal_easy_water", JUDGE_EASY_WATER, 0, 10, .20, .30},
    {"ideal_reserve", JUDGE_RESERVE, 0, 50, .04, .10},
};

static double band_value(const struct retention_curve *curve, const struct judge_band *band)
{
    double air = band->vessel_cm > 0 ? vessel_air(curve, band->vessel_cm)
                                     : curve->theta_s - retention_theta(curve, band->suction_cm);
    switch (band->quantity) {
    case JUDGE_TOTAL_POROSITY:
        return curve->theta_s;
    case JUDGE_AIR:
        return air;
    case JUDGE_CAPACITY:
        return curve->theta_s - air;
    case JUDGE_EASY_WATER:
        return retention_theta(curve, 10) - retention_theta(curve, 50);
    case JUDGE_RESERVE:
        return retention_theta(curve, 50) - retention_theta(curve, 100);
    }
    return 0;
}

enum status judge_by_bands(const struct retention_curve *curve,
                           struct judge_band_finding out[JUDGE_BANDS])
{
    if (retention_check(curve) != STATUS_OK)
        return STATUS_RANGE;
    for (size_t i = 0; i < JUDGE_BANDS; i++) {
        const struct judge_band *band = &judge_bands[i];
        double value = band_value(curve, band);
        int side = value < band->from ? -1 : value > band->to ? 1 : 0;
        out[i] = (struct judge_band_finding){band, value, side};
    }
    return STATUS_OK;
}
