/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Water held by one pot, hour by hour. Mass closes every hour: in + adjusted = change in store +
 * used + drained. docs/model.md, 'Water held'.
 */
#ifndef PERCHD_CORE_BALANCE_H
#define PERCHD_CORE_BALANCE_H

#include <stdbool.h>
#include <stddef.h>

#include "delivery.h"
#include "demand.h"
#include "status.h"

/* What is fixed while a pot, its mix and its plant stay as they are. */
struct balance_pot {
    double ceiling_l;              /* what a daily watering fills it to, > 0 */
    double available_l;            /* of that, above the low limit, > 0, <= ceiling */
    double stress_p;               /* 0 <= p < 1: K_s falls below 1 beyond p available */
    double top_m2;                 /* substrate surface, > 0 */
    struct demand_surface surface; /* how K_r falls as the top dries */
    double rain_l_mm;  /* litres that reach the mix for each mm of rain; 0 under cover */
    double foliage_mm; /* of a day's rain, held by leaves, 0 or more */
    struct delivery_intake intake; /* what stays of a dose; intercept 1, slope 0: all */
    /* Peat that once lacked more than dried_l takes water up to repelled_l only, until the caller
     * clears `repels`; dried_l 0: no such mix. */
    double dried_l, repelled_l;
};

/* Litres a pot uses for each mm of reference evapotranspiration; hold for one local day. */
struct balance_rates {
    double transpiration_l_mm;
    double evaporation_l_mm; /* from a wet top */
    double most_l_mm;        /* energy cap on the sum; 0: none */
    double k_cal;
};

struct balance_state {
    double water_l;
    double dry_top_l; /* evaporated from the top since it was last wetted */
    double leaf_mm;   /* rain the foliage still holds back in this wet spell */
    bool filled;      /* the last dose surely filled the pot */
    bool repels;      /* it got so dry that it does not fill; only the caller clears it */
};

/* Totals of the hours advanced, added to whatever is in it. */
struct balance_sums {
    double in_l; /* rain and irrigation that reached the pot */
    double used_l;
    double drained_l;
    double stress_h; /* hours with K_s < 1 */
};

/* FAO-56 eq 84 beyond p, and K_r of a drying top; balance_hour takes them where they are below 1.
 */
double balance_stress(const struct balance_pot *pot, double depletion_l);
double balance_top(const struct balance_pot *pot, double dry_top_l);
/* The part of an hour with rain or irrigation; used_l is what the plant and the top would use. */
void balance_wet_hour(const struct balance_pot *pot, double rain_mm, double dose_l, double used_l,
                      struct balance_state *state, struct balance_sums *sums);

/* One hour. et0_mm < 0 counts as 0; rain_mm >= 0; dose_l >= 0 is irrigation that reaches this pot.
 * Inputs must be finite (checked at the edge by the caller). Inline, for a plan takes some hundred
 * steps for each block. */
static inline void balance_hour(const struct balance_pot *pot, const struct balance_rates *rates,
                                double et0_mm, double rain_mm, double dose_l,
                                struct balance_state *state, struct balance_sums *sums)
{
    double depletion_l = pot->ceiling_l - state->water_l;
    double transpired = 0.0;
    double evaporated = 0.0;
    double ks = 1.0;
    if (depletion_l > pot->stress_p * pot->available_l) {
        ks = balance_stress(pot, depletion_l);
        sums->stress_h += 1.0;
        state->repels |= pot->dried_l > 0.0 && depletion_l > pot->dried_l;
    }
    if (et0_mm > 0.0) {
        double most_l = rates->most_l_mm * et0_mm;
        transpired = rates->transpiration_l_mm * et0_mm;
        evaporated = rates->evaporation_l_mm * et0_mm;
        if (state->dry_top_l > pot->surface.ready_mm * pot->top_m2)
            evaporated *= balance_top(pot, state->dry_top_l);
        if (most_l > 0.0 && transpired + evaporated > most_l) {
            double scale = most_l / (transpired + evaporated);
            transpired *= scale;
            evaporated *= scale;
        }
        transpired *= rates->k_cal * ks;
        evaporated *= rates->k_cal;
        state->dry_top_l += evaporated;
    }
    double used = transpired + evaporated;
    if (rain_mm > 0.0 || dose_l > 0.0) {
        balance_wet_hour(pot, rain_mm, dose_l, used, state, sums);
        return;
    }
    state->leaf_mm = pot->foliage_mm;
    used = used < state->water_l ? used : state->water_l;
    state->water_l -= used;
    sums->used_l += used;
}

/* Litres of a dose that stay in a pot that lacks deficit_l; never falls with a larger dose. 0 for
 * figures that are not above 0. */
double balance_retained(const struct delivery_intake *intake, double dose_l, double deficit_l);

/* Checks a pot's figures; STATUS_RANGE. */
MUST_USE enum status balance_check(const struct balance_pot *pot);

#endif
