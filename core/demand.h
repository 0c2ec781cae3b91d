/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Water used by one pot: transpiration scaled by canopy cover (FAO-56 ch. 9; Allen & Pereira 2009)
 * and evaporation from the pot's own top. docs/model.md has the working.
 */
#ifndef PERCHD_CORE_DEMAND_H
#define PERCHD_CORE_DEMAND_H

#include "status.h"

struct demand_plant {
    double ground_m2;      /* bed area per pot, > 0, <= 25 */
    double canopy_cm;      /* canopy diameter, 0..1000 */
    double plant_height_m; /* 0..20 */
    double pot_top_cm;     /* diameter of the substrate surface, > 0, <= 300 */
    double transparency;   /* M_L, 1..3, usual 2 */
    double stomatal;       /* F_s, 0..1.5, usual 1 */
};

struct demand_climate {
    double wind_2m_m_s;      /* mean of the local day; clamped to 1..6 */
    double humidity_min_pct; /* lowest of the local day; clamped to 20..80 */
};

/* What does not change within a day: worked out once, used for each hour. */
struct demand_factors {
    double ground_cover;       /* f_c, 0..1 */
    double density;            /* K_d */
    double kcb_full;           /* full-cover coefficient, FAO-56 eqs 99-100 */
    double transpiration_l_mm; /* litres a pot for each mm of reference ET */
    double evaporation_l_mm;   /* litres a pot for each mm, surface wet (K_r = 1) */
};

MUST_USE enum status demand_factors_of(const struct demand_plant *plant,
                                       const struct demand_climate *climate,
                                       struct demand_factors *out);

/* FAO-56 eq 84 with the plant's p (0 <= p < 1): 1 while depletion <= p * available, falling
 * linearly to 0 at available. */
MUST_USE enum status demand_stress(double available_l, double depletion_l, double p, double *ks);

#endif
