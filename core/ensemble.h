/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Possible weathers and possible pots: members that differ from the plan's best guess as widely as
 * forecasts, rain, bench tests and plants do. Drawn with a fixed seed, so that the same records
 * give the same members.
 */
#ifndef PERCHD_CORE_ENSEMBLE_H
#define PERCHD_CORE_ENSEMBLE_H

#include <stddef.h>
#include <stdint.h>

#include "status.h"

#define ENSEMBLE_MEMBERS 50
#define ENSEMBLE_DAYS    16 /* local days ahead, today first; later ones have the last's factor */
#define ENSEMBLE_HOURS   (ENSEMBLE_DAYS * 24)
#define ENSEMBLE_BLOCK_H 6
#define ENSEMBLE_BLOCKS  (ENSEMBLE_HOURS / ENSEMBLE_BLOCK_H)

struct ensemble_in {
    uint64_t seed;
    double et0_spread[ENSEMBLE_DAYS]; /* relative standard deviation of each day's reference ET,
                                       * 0..1.5 */
    /* Forecast rain of blocks of six hours: whether any falls, and the chance of it, 0..1. */
    double rain_chance[ENSEMBLE_BLOCKS]; /* 0 where no rain is forecast */
};

/* Weather is the same for all blocks of a nursery. */
struct ensemble_weather {
    float et0_factor[ENSEMBLE_MEMBERS][ENSEMBLE_DAYS];    /* mean 1 */
    float rain_factor[ENSEMBLE_MEMBERS][ENSEMBLE_BLOCKS]; /* of the forecast amount; 0: it fails */
};

/* Days are tied to each other by a correlation of 0.5 [our choice: errors of a weather pattern last
 * some days], factors are log-normal with mean 1. Rain that falls is the forecast amount times a
 * log-normal factor of median 1 and a spread of ln 2 ("times or divided by two", a usual figure
 * for the first days) [our choice]. Members are stratified: the 50 quantiles of every draw, in
 * shuffled order. STATUS_RANGE: a spread or chance out of range. */
MUST_USE enum status ensemble_draw_weather(const struct ensemble_in *in,
                                           struct ensemble_weather *out);

/* A block's own errors, independent of other blocks' (number: any, the same gives the same):
 * factors of the available water and of the use, log-normal with median 1. spreads 0..1.5. */
struct ensemble_block {
    float water_factor[ENSEMBLE_MEMBERS];
    float use_factor[ENSEMBLE_MEMBERS];
};
MUST_USE enum status ensemble_draw_block(uint64_t seed, uint64_t number, double water_spread,
                                         double use_spread, struct ensemble_block *out);

/* The q-quantile (0..1) of ENSEMBLE_MEMBERS values, sorted in place, between neighbours by the
 * middle of their ranks; INFINITY is larger than all others. */
double ensemble_quantile(double values[ENSEMBLE_MEMBERS], double q);

#endif
