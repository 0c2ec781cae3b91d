/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "demand.h"

#include <math.h>
#include <stdbool.h>

/* FAO-56 (Allen et al. 1998) ch. 9, eqs 99-100: full cover over grass. */
static const double KCB_BARE_HEIGHT = 1.0; /* intercept; + 0.1 per metre of height */
static const double KCB_PER_METRE = 0.1;
static const double KCB_LIMIT = 1.2;
static const double WIND_USUAL_M_S = 2.0; /* the climate for which tables hold */
static const double HUMIDITY_USUAL_PCT = 45.0;
static const double PER_WIND = 0.04; /* per m/s */
static const double PER_HUMIDITY = 0.004;
static const double HEIGHT_USUAL_M = 3.0;
static const double HEIGHT_POWER = 0.3;

/* Wet substrate in the sun and under leaves, set to Beeson 2010 (HortScience 45:1260): 160 mL a
 * day under the leaves of a daily watered 11.4 L pot, 3.2 mm on its top. Our choice. */
static const double EVAPORATION_SUN = 0.9;
static const double EVAPORATION_SHADE = 0.6;

static bool within(double x, double low, double high)
{
    return x >= low && x <= high;
}

static double clamp(double x, double low, double high)
{
    return x < low ? low : x > high ? high : x;
}

static double circle_m2(double diameter_cm)
{
    double radius_m = diameter_cm / 200.0;
    return M_PI * radius_m * radius_m;
}

static bool plant_in_range(const struct demand_plant *p)
{
    return p->ground_m2 > 0 && p->ground_m2 <= 25 && within(p->canopy_cm, 0, 1000) &&
           within(p->plant_height_m, 0, 20) && p->pot_top_cm > 0 && p->pot_top_cm <= 300 &&
           within(p->transparency, 1, 3) && within(p->stomatal, 0, 1.5);
}

static double kcb_full_of(double height_m, const struct demand_climate *climate)
{
    double wind = clamp(climate->wind_2m_m_s, 1, 6);
    double humidity = clamp(climate->humidity_min_pct, 20, 80);
    double dryness =
        PER_WIND * (wind - WIND_USUAL_M_S) - PER_HUMIDITY * (humidity - HUMIDITY_USUAL_PCT);
    return fmin(KCB_BARE_HEIGHT + KCB_PER_METRE * height_m, KCB_LIMIT) +
           dryness * pow(height_m / HEIGHT_USUAL_M, HEIGHT_POWER);
}

/* Litres a millimetre from a wet pot top of which `shaded` lies under leaves. */
static double evaporation_of(double top_m2, double shaded)
{
    return top_m2 * (EVAPORATION_SUN * (1 - shaded) + EVAPORATION_SHADE * shaded);
}

enum status demand_factors_of(const struct demand_plant *plant,
                              const struct demand_climate *climate, struct demand_factors *out)
{
    if (!plant_in_range(plant) || !isfinite(climate->wind_2m_m_s) ||
        !isfinite(climate->humidity_min_pct))
        return STATUS_RANGE;
    double canopy_m2 = circle_m2(plant->canopy_cm);
    double top_m2 = circle_m2(plant->pot_top_cm);
    double cover = fmin(1, canopy_m2 / plant->ground_m2);
    out->ground_cover = cover;
    /* Allen & Pereira 2009 (Irrig. Sci. 28:17): what a thin canopy lets through, what the sun
     * sees of a lone tall one; the form from memory. */
    out->density =
        fmin(1, fmin(plant->transparency * cover, pow(cover, 1 / (1 + plant->plant_height_m))));
    out->kcb_full = kcb_full_of(plant->plant_height_m, climate);
    out->transpiration_l_mm = out->kcb_full * out->density * plant->ground_m2 * plant->stomatal;
    out->evaporation_l_mm = evaporation_of(top_m2, fmin(1, canopy_m2 / top_m2));
    return STATUS_OK;
}

enum status demand_stress(double available_l, double depletion_l, double p, double *ks)
{
    if (!(available_l > 0) || !isfinite(available_l) || !isfinite(depletion_l) ||
        !(p >= 0 && p < 1))
        return STATUS_RANGE;
    if (depletion_l <= p * available_l)
        *ks = 1;
    else
        *ks = clamp((available_l - depletion_l) / ((1 - p) * available_l), 0, 1);
    return STATUS_OK;
}
