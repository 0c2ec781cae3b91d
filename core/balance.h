/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Water held by one pot, hour by hour. Mass closes every hour: in + adjusted = change in store +
 * used + drained. docs/model.md, 'Water held'.
 */
#ifndef PERCHD_CORE_BALANCE_H
#define PERCHD_CORE_BALANCE_H

#include <stdbool.h>
#include <stddef.h>

#include "status.h"

/* How a dose finds its way: share that stays when it is d of the deficit. Lamack & Niemiera 1993,
 * spray stakes on bark: 67 % of a whole deficit at once, 84 % in pulses; overhead rain is slow
 * enough to be taken up, trays and beds draw what they lack [our choice]. */
enum balance_wetting {
    BALANCE_WETTING_SLOW,   /* all stays until the pot is full */
    BALANCE_WETTING_PULSED, /* min(1, 1.17 - 0.33 d) */
    BALANCE_WETTING_DRENCH, /* min(1, 1.18 - 0.51 d) */
};

/* What is fixed while a pot, its mix and its plant stay as they are. */
struct balance_pot {
    double ceiling_l;   /* what a daily watering fills it to, > 0 */
    double available_l; /* of that, above the low limit, > 0, <= ceiling */
    double stress_p;    /* 0 <= p < 1: K_s falls below 1 beyond p available */
    double top_m2;      /* substrate surface, > 0 */
    double first_mm;    /* loss from the top before K_r falls, > 0 */
    double rain_l_mm;   /* litres that reach the mix for each mm of rain; 0 under cover */
    double foliage_mm;  /* of a day's rain, held by leaves, 0 or more */
    enum balance_wetting wetting;
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
    double dry_top_mm; /* lost from the top since it was last wetted */
    double leaf_mm;    /* rain the foliage still holds back in this wet spell */
    bool filled;       /* the last dose surely filled the pot */
};

/* Totals of the hours advanced, added to whatever is in it. */
struct balance_sums {
    double in_l; /* rain and irrigation that reached the pot */
    double used_l;
    double drained_l;
    double stress_h; /* hours with K_s < 1 */
};

/* One hour. et0_mm < 0 counts as 0; rain_mm >= 0; dose_l >= 0 is irrigation that reaches this pot.
 * Inputs must be finite (checked at the edge by the caller). */
void balance_hour(const struct balance_pot *pot, const struct balance_rates *rates, double et0_mm,
                  double rain_mm, double dose_l, struct balance_state *state,
                  struct balance_sums *sums);

/* Litres of a dose that stay in a pot that lacks deficit_l; never falls with a larger dose. */
double balance_retained(enum balance_wetting wetting, double dose_l, double deficit_l);

/* The least dose that surely brings the whole deficit back; a multiple of it >= 1. */
double balance_filling_multiple(enum balance_wetting wetting);

/* Checks a pot's figures; STATUS_RANGE. */
MUST_USE enum status balance_check(const struct balance_pot *pot);

#endif
