/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Water used by one pot: transpiration scaled by canopy cover (FAO-56 ch. 9; Allen & Pereira 2009)
 * and evaporation from the pot's own top. docs/model.md has the working.
 */
#ifndef PERCHD_CORE_DEMAND_H
#define PERCHD_CORE_DEMAND_H

#include <stdbool.h>

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

/* The same in two steps, since powers are dear and the plant stays: what follows from the plant
 * alone, then a day's climate. */
struct demand_terms {
    struct demand_factors still; /* of the factors: those that no climate changes */
    double height_power;         /* (h/3)^0.3 */
    double transpiring_m2;       /* density x ground x stomatal factor */
};

MUST_USE enum status demand_terms_of(const struct demand_plant *plant, struct demand_terms *out);
/* STATUS_RANGE: a climate that is not finite. */
MUST_USE enum status demand_factors_on(const struct demand_terms *terms,
                                       const struct demand_climate *climate,
                                       struct demand_factors *out);

/* FAO-56 eq 84 with the plant's p (0 <= p < 1): 1 while depletion <= p * available, falling
 * linearly to 0 at available. */
MUST_USE enum status demand_stress(double available_l, double depletion_l, double p, double *ks);

/* --- evaporation as the surface dries ----------------------------------------------------- */

/* The falling line of FAO-56 eq 74, K_r = (TEW - D_e)/(TEW - REW), with a floor: mix goes on losing
 * a little through a dry top. */
struct demand_surface {
    double ready_mm; /* lost since wetting before K_r falls (REW), >= 0 */
    double span_mm;  /* further loss over which K_r falls to least (TEW - REW), > 0 */
    double least;    /* 0..1 */
};

/* Mix: 6 mm, then to 0.2 over 6 more; bark 4 and 4, its coarse top breaks contact sooner [form
 * FAO-56; figures our choice]. */
struct demand_surface demand_surface_of(bool bark);

/* lost_mm: evaporated from the pot top since it was last wetted, depth on the pot top, >= 0. */
MUST_USE enum status demand_surface_reduction(const struct demand_surface *surface, double lost_mm,
                                              double *kr);

/* --- use of one pot ----------------------------------------------------------------------- */

/* Where cover is 0.8 or more, T + E is at most this many times ET0 on the pot's own ground: a
 * closed bed can use no more energy than reaches it, with some carried in by the wind [idea
 * FAO-56 ch. 7 Kc_max 1.05-1.30; figure our choice]. */
#define DEMAND_CAP_COVER       0.8
#define DEMAND_CAP_COEFFICIENT 1.25

struct demand_reductions {
    double ks;         /* 0..1, water stress */
    double kr;         /* 0..1, dry surface */
    double multiplier; /* k_cal x factor of the place, 0..10 */
};

struct demand_use {
    double transpiration_l; /* after K_s and the cap, before the multiplier */
    double evaporation_l;   /* after K_r and the cap, before the multiplier */
    double use_l;           /* multiplier x (T + E) */
    bool capped;
};

/* et0_mm: of any span (hour or day), below 0 counts as 0, at most 100. The cap comes before the
 * multiplier: what a pot is measured to use, and what edge rows get from the side, may pass it.
 * ground_m2 > 0, <= 25. */
MUST_USE enum status demand_use_of(const struct demand_factors *factors, double ground_m2,
                                   double et0_mm, const struct demand_reductions *reductions,
                                   struct demand_use *out);

/* --- factors of the place and of the season ----------------------------------------------- */

/* Outer two rows, beds under 3 m wide [our choice]; fabric against plastic walls (Million & Yeager
 * 2022, HortScience 57:743: 66 % more water); pot-in-pot against above ground (Ruter 1998, J.
 * Environ. Hort. 16:159: 30 % more). */
#define DEMAND_EXPOSED    1.3
#define DEMAND_FABRIC     1.66
#define DEMAND_POT_IN_POT 1.30

struct demand_place {
    bool exposed;
    bool fabric;
    bool pot_in_pot;
};

/* Product of those that hold; of fabric and pot-in-pot only the larger, since a wall inside a
 * socket is not in the wind. */
double demand_place_factor(struct demand_place place);

enum demand_leaf {
    DEMAND_LEAF_FULL,
    DEMAND_LEAF_NONE,      /* bare deciduous stock */
    DEMAND_LEAF_OPENING,   /* five weeks from bare to full */
    DEMAND_LEAF_EVERGREEN, /* evergreen in winter */
};

/* All our choice; bare stock's settable range is 0.05..0.10. */
#define DEMAND_LEAFLESS         0.075
#define DEMAND_LEAF_OUT_DAYS    35.0
#define DEMAND_EVERGREEN_WINTER 0.6

/* What transpiration is multiplied by (it belongs into F_s). days: since leaf-out began, any
 * finite number, used by DEMAND_LEAF_OPENING only; leafless: 0.05..0.10. */
MUST_USE enum status demand_leaf_factor(enum demand_leaf leaf, double days, double leafless,
                                        double *factor);

/* --- canopy between two measurements ------------------------------------------------------ */

/* Growth is carried on at its last rate for so long and no further; then a measurement is old. */
#define DEMAND_CANOPY_DAYS 21.0
/* Two measurements closer than this give no rate: reading error would be taken for growth. */
#define DEMAND_CANOPY_SPAN 7.0

struct demand_canopy {
    double day; /* any day count */
    double canopy_cm;
};

/* Straight line from first to second; before the first its value; after the second its rate for
 * DEMAND_CANOPY_DAYS if the plant grew (a canopy that became smaller was cut: that is no rate)
 * [all our choice].
 * first->day <= second->day (equal days: the second only). *old when the second is more than
 * DEMAND_CANOPY_DAYS back. Result 0..1000 cm. */
MUST_USE enum status demand_canopy_on(const struct demand_canopy *first,
                                      const struct demand_canopy *second, double day,
                                      double *canopy_cm, bool *old);

/* --- a grower's own figure instead of canopy and height ----------------------------------- */

/* A coefficient says nothing without the area it stands on: published ones run from 0.2 (ground)
 * to 5 (pot top) for the same plants. */
enum demand_basis {
    DEMAND_BASIS_GROUND,
    DEMAND_BASIS_CANOPY,
    DEMAND_BASIS_TOP,
};

struct demand_areas {
    double ground_m2; /* 0..25; 0 where not known */
    double canopy_m2; /* 0..80; 0 where not known */
    double top_m2;    /* 0..8; 0 where not known */
};

/* From spacing and diameters; canopy_cm may be 0. Ranges as in struct demand_plant. */
MUST_USE enum status demand_areas_of(double ground_m2, double canopy_cm, double pot_top_cm,
                                     struct demand_areas *out);

/* k_to = k_from A_from / A_to: the litres stay. k 0..100; both areas > 0, or STATUS_RANGE. */
MUST_USE enum status demand_coefficient_convert(double k, enum demand_basis from,
                                                enum demand_basis to,
                                                const struct demand_areas *areas, double *out);

/* use_l: litres a pot lost on a day (0..1000) of reference ET et0_mm (0.5..20: below half a
 * millimetre the quotient says nothing). areas->top_m2 > 0. Of the litres the pot top takes what
 * it would evaporate wet (shaded when the canopy is not known), at most all; the rest is
 * transpiration. ground_cover, density and kcb_full are 0: not used, and no cap on what was
 * measured. */
MUST_USE enum status demand_factors_from_use(double use_l, double et0_mm,
                                             const struct demand_areas *areas,
                                             struct demand_factors *out);

/* The same from a coefficient (0..100) on the area of its basis (> 0). areas->top_m2 > 0. */
MUST_USE enum status demand_factors_from_coefficient(double k, enum demand_basis basis,
                                                     const struct demand_areas *areas,
                                                     struct demand_factors *out);

/* --- figures to look at twice ------------------------------------------------------------- */

enum demand_doubt {
    DEMAND_DOUBT_LITTLE = 1,  /* under 0.02 L on a day of 2 mm or more */
    DEMAND_DOUBT_MUCH = 2,    /* over 3 L from a pot of at most 12 L */
    DEMAND_DOUBT_TOP = 4,     /* over 7 x ET0 on the pot top */
    DEMAND_DOUBT_GROUND = 8,  /* over 1.4 x ET0 on its ground */
    DEMAND_DOUBT_SPACING = 16 /* the pot top is wider than its ground */
};

/* Sum of the above [limits our choice: published use of such pots is 0.12-1.3 L, coefficients on
 * the pot top 1-5]. What is not known is 0 and raises no doubt; NaN raises none. */
unsigned demand_doubts(double use_l, double et0_mm, double volume_l,
                       const struct demand_areas *areas);

#endif
