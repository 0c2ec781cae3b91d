/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "ensemble.h"

#include <math.h>
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_sort.h>

static const double DAY_CORRELATION = 0.5;                 /* our choice */
static const double RAIN_SPREAD_LN = 0.693147180559945309; /* ln 2 [our choice] */

/* splitmix64 (Steele, Lea, Flood 2014): small, and the same everywhere. */
static uint64_t next_random(uint64_t *state)
{
    uint64_t z = *state += 0x9e3779b97f4a7c15u;
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return z ^ (z >> 31);
}

static double uniform(uint64_t *state)
{
    return (double)(next_random(state) >> 11) * 0x1p-53;
}

/* The middles of 50 equal slices of 0..1, shuffled. */
static void stratify(uint64_t *state, double out[ENSEMBLE_MEMBERS])
{
    for (int m = 0; m < ENSEMBLE_MEMBERS; m++)
        out[m] = (m + 0.5) / ENSEMBLE_MEMBERS;
    for (int m = ENSEMBLE_MEMBERS - 1; m > 0; m--) {
        int other = (int)(uniform(state) * (m + 1));
        double kept = out[m];
        out[m] = out[other];
        out[other] = kept;
    }
}

static void draw_normal(uint64_t *state, double out[ENSEMBLE_MEMBERS])
{
    stratify(state, out);
    for (int m = 0; m < ENSEMBLE_MEMBERS; m++)
        out[m] = gsl_cdf_ugaussian_Pinv(out[m]);
}

static bool spreads_ok(const double *spreads, size_t count, double most)
{
    for (size_t i = 0; i < count; i++)
        if (!status_within(spreads[i], 0, most))
            return false;
    return true;
}

/* Of a log-normal with a relative standard deviation. */
static double sigma_of(double spread)
{
    return sqrt(log(1 + spread * spread));
}

static void draw_et0(const struct ensemble_in *in, uint64_t *state, struct ensemble_weather *out)
{
    double z[ENSEMBLE_MEMBERS];
    double e[ENSEMBLE_MEMBERS];
    for (int d = 0; d < ENSEMBLE_DAYS; d++) {
        double sigma = sigma_of(in->et0_spread[d]);
        draw_normal(state, e);
        for (int m = 0; m < ENSEMBLE_MEMBERS; m++) {
            z[m] = d == 0 ? e[m]
                          : DAY_CORRELATION * z[m] +
                                sqrt(1 - DAY_CORRELATION * DAY_CORRELATION) * e[m];
            out->et0_factor[m][d] = (float)exp(sigma * z[m] - sigma * sigma / 2);
        }
    }
}

static void draw_rain(const struct ensemble_in *in, uint64_t *state, struct ensemble_weather *out)
{
    double falls[ENSEMBLE_MEMBERS];
    double amount[ENSEMBLE_MEMBERS];
    for (int b = 0; b < ENSEMBLE_BLOCKS; b++) {
        double chance = in->rain_chance[b];
        /* The blocks of one storm fall or fail together: a draw serves until a dry block. */
        if (b == 0 || !(in->rain_chance[b - 1] > 0)) {
            stratify(state, falls);
            draw_normal(state, amount);
        }
        for (int m = 0; m < ENSEMBLE_MEMBERS; m++)
            out->rain_factor[m][b] =
                falls[m] < chance ? (float)exp(RAIN_SPREAD_LN * amount[m]) : 0.0F;
    }
}

enum status ensemble_draw_weather(const struct ensemble_in *in, struct ensemble_weather *out)
{
    uint64_t state = in->seed;
    if (!spreads_ok(in->et0_spread, ENSEMBLE_DAYS, 1.5) ||
        !spreads_ok(in->rain_chance, ENSEMBLE_BLOCKS, 1))
        return STATUS_RANGE;
    draw_et0(in, &state, out);
    draw_rain(in, &state, out);
    return STATUS_OK;
}

enum status ensemble_draw_block(uint64_t seed, uint64_t number, double water_spread,
                                double use_spread, struct ensemble_block *out)
{
    uint64_t state = seed ^ (number + 1) * 0xd1342543de82ef95u;
    double z[ENSEMBLE_MEMBERS];
    if (!status_within(water_spread, 0, 1.5) || !status_within(use_spread, 0, 1.5))
        return STATUS_RANGE;
    draw_normal(&state, z);
    for (int m = 0; m < ENSEMBLE_MEMBERS; m++)
        out->water_factor[m] = (float)exp(sigma_of(water_spread) * z[m]);
    draw_normal(&state, z);
    for (int m = 0; m < ENSEMBLE_MEMBERS; m++)
        out->use_factor[m] = (float)exp(sigma_of(use_spread) * z[m]);
    return STATUS_OK;
}

double ensemble_quantile(double values[ENSEMBLE_MEMBERS], double q)
{
    gsl_sort(values, 1, ENSEMBLE_MEMBERS);
    double rank = q * ENSEMBLE_MEMBERS - 0.5;
    if (!(rank > 0))
        return values[0];
    if (rank >= ENSEMBLE_MEMBERS - 1)
        return values[ENSEMBLE_MEMBERS - 1];
    int below = (int)rank;
    double share = rank - below;
    if (share < 1e-9)
        return values[below];
    return isinf(values[below + 1]) ? INFINITY
                                    : values[below] + share * (values[below + 1] - values[below]);
}
