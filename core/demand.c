/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "demand.h"

#include <math.h>

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

/* What the climate adds to a full-cover coefficient, for a crop of the usual height. */
static double dryness_of(const struct demand_climate *climate)
{
    double wind = clamp(climate->wind_2m_m_s, 1, 6);
    double humidity = clamp(climate->humidity_min_pct, 20, 80);
    return PER_WIND * (wind - WIND_USUAL_M_S) - PER_HUMIDITY * (humidity - HUMIDITY_USUAL_PCT);
}

/* Litres a millimetre from a wet pot top of which `shaded` lies under leaves. */
static double evaporation_of(double top_m2, double shaded)
{
    return top_m2 * (EVAPORATION_SUN * (1 - shaded) + EVAPORATION_SHADE * shaded);
}

enum status demand_terms_of(const struct demand_plant *plant, struct demand_terms *out)
{
    if (!plant_in_range(plant))
        return STATUS_RANGE;
    double canopy_m2 = circle_m2(plant->canopy_cm);
    double top_m2 = circle_m2(plant->pot_top_cm);
    double cover = fmin(1, canopy_m2 / plant->ground_m2);
    /* Allen & Pereira 2009 (Irrig. Sci. 28:17): what a thin canopy lets through, what the sun
     * sees of a lone tall one; the form from memory. */
    double density =
        fmin(1, fmin(plant->transparency * cover, pow(cover, 1 / (1 + plant->plant_height_m))));
    *out = (struct demand_terms){
        .still = {.ground_cover = cover,
                  .density = density,
                  .kcb_full =
                      fmin(KCB_BARE_HEIGHT + KCB_PER_METRE * plant->plant_height_m, KCB_LIMIT),
                  .evaporation_l_mm = evaporation_of(top_m2, fmin(1, canopy_m2 / top_m2))},
        .height_power = pow(plant->plant_height_m / HEIGHT_USUAL_M, HEIGHT_POWER),
        .transpiring_m2 = density * plant->ground_m2 * plant->stomatal,
    };
    return STATUS_OK;
}

enum status demand_factors_on(const struct demand_terms *terms,
                              const struct demand_climate *climate, struct demand_factors *out)
{
    if (!isfinite(climate->wind_2m_m_s) || !isfinite(climate->humidity_min_pct))
        return STATUS_RANGE;
    *out = terms->still;
    out->kcb_full += dryness_of(climate) * terms->height_power;
    out->transpiration_l_mm = out->kcb_full * terms->transpiring_m2;
    return STATUS_OK;
}

enum status demand_factors_of(const struct demand_plant *plant,
                              const struct demand_climate *climate, struct demand_factors *out)
{
    struct demand_terms terms;
    enum status status = demand_terms_of(plant, &terms);
    return status != STATUS_OK ? status : demand_factors_on(&terms, climate, out);
}

enum status demand_stress(double available_l, double depletion_l, double p, double *ks)
{
    if (!(available_l > 0) || !isfinite(available_l) || !isfinite(depletion_l) ||
        !(p >= 0 && p < 1))
        return STATUS_RANGE;
    if (depletion_l <= p * available_l)
        *ks = 1;
    else
        *ks = clamp((1 - depletion_l / available_l) / (1 - p), 0, 1);
    return STATUS_OK;
}

struct demand_surface demand_surface_of(bool bark)
{
    const struct demand_surface mix = {.ready_mm = 6, .span_mm = 6, .least = 0.2};
    const struct demand_surface coarse = {.ready_mm = 4, .span_mm = 4, .least = 0.2};
    return bark ? coarse : mix;
}

enum status demand_surface_reduction(const struct demand_surface *surface, double lost_mm,
                                     double *kr)
{
    if (!within(surface->ready_mm, 0, 1000) || !(surface->span_mm > 0) ||
        !(surface->span_mm <= 1000) || !within(surface->least, 0, 1) || !(lost_mm >= 0))
        return STATUS_RANGE;
    double fallen = clamp((lost_mm - surface->ready_mm) / surface->span_mm, 0, 1);
    *kr = 1 - (1 - surface->least) * fallen;
    return STATUS_OK;
}

static bool factors_in_range(const struct demand_factors *f)
{
    return within(f->ground_cover, 0, 1) && within(f->transpiration_l_mm, 0, 1e4) &&
           within(f->evaporation_l_mm, 0, 1e4);
}

enum status demand_use_of(const struct demand_factors *factors, double ground_m2, double et0_mm,
                          const struct demand_reductions *reductions, struct demand_use *out)
{
    const struct demand_reductions *r = reductions;
    if (!factors_in_range(factors) || !(ground_m2 > 0) || !(ground_m2 <= 25) || !(et0_mm <= 100) ||
        !isfinite(et0_mm) || !within(r->ks, 0, 1) || !within(r->kr, 0, 1) ||
        !within(r->multiplier, 0, 10))
        return STATUS_RANGE;
    double et0 = fmax(0, et0_mm);
    double transpiration = et0 * factors->transpiration_l_mm * r->ks;
    double evaporation = et0 * factors->evaporation_l_mm * r->kr;
    double most = DEMAND_CAP_COEFFICIENT * et0 * ground_m2;
    out->capped = factors->ground_cover >= DEMAND_CAP_COVER && transpiration + evaporation > most;
    double share = out->capped ? most / (transpiration + evaporation) : 1;
    out->transpiration_l = share * transpiration;
    out->evaporation_l = share * evaporation;
    out->use_l = r->multiplier * (out->transpiration_l + out->evaporation_l);
    return STATUS_OK;
}

double demand_place_factor(struct demand_place place)
{
    double wall = fmax(place.fabric ? DEMAND_FABRIC : 1, place.pot_in_pot ? DEMAND_POT_IN_POT : 1);
    return wall * (place.exposed ? DEMAND_EXPOSED : 1);
}

enum status demand_leaf_factor(enum demand_leaf leaf, double days, double leafless, double *factor)
{
    if (!isfinite(days) || !within(leafless, 0.05, 0.10))
        return STATUS_RANGE;
    switch (leaf) {
    case DEMAND_LEAF_FULL:
        *factor = 1;
        return STATUS_OK;
    case DEMAND_LEAF_NONE:
        *factor = leafless;
        return STATUS_OK;
    case DEMAND_LEAF_OPENING:
        *factor = leafless + (1 - leafless) * clamp(days / DEMAND_LEAF_OUT_DAYS, 0, 1);
        return STATUS_OK;
    case DEMAND_LEAF_EVERGREEN:
        *factor = DEMAND_EVERGREEN_WINTER;
        return STATUS_OK;
    }
    return STATUS_RANGE;
}

/* Centimetres put on in `days` at the rate from first to second, 0 when that is no rate. */
static double carried_on(const struct demand_canopy *first, const struct demand_canopy *second,
                         double days)
{
    double span = second->day - first->day;
    double grown = second->canopy_cm - first->canopy_cm;
    return span >= DEMAND_CANOPY_SPAN && grown > 0 ? grown * days / span : 0;
}

enum status demand_canopy_on(const struct demand_canopy *first, const struct demand_canopy *second,
                             double day, double *canopy_cm, bool *old)
{
    double span = second->day - first->day;
    if (!within(first->canopy_cm, 0, 1000) || !within(second->canopy_cm, 0, 1000) ||
        !isfinite(day) || !(span >= 0) || !isfinite(span))
        return STATUS_RANGE;
    double after = day - second->day;
    *old = after > DEMAND_CANOPY_DAYS;
    if (after >= 0) {
        double more = carried_on(first, second, fmin(after, DEMAND_CANOPY_DAYS));
        *canopy_cm = fmin(1000, second->canopy_cm + more);
    } else { /* span > 0 unless the day is before both */
        double part = day > first->day ? (day - first->day) / span : 0;
        *canopy_cm = first->canopy_cm + (second->canopy_cm - first->canopy_cm) * part;
    }
    return STATUS_OK;
}

enum status demand_areas_of(double ground_m2, double canopy_cm, double pot_top_cm,
                            struct demand_areas *out)
{
    if (!(ground_m2 > 0) || !(ground_m2 <= 25) || !within(canopy_cm, 0, 1000) ||
        !(pot_top_cm > 0) || !(pot_top_cm <= 300))
        return STATUS_RANGE;
    out->ground_m2 = ground_m2;
    out->canopy_m2 = circle_m2(canopy_cm);
    out->top_m2 = circle_m2(pot_top_cm);
    return STATUS_OK;
}

static bool areas_in_range(const struct demand_areas *areas)
{
    return within(areas->ground_m2, 0, 25) && within(areas->canopy_m2, 0, 80) &&
           within(areas->top_m2, 0, 8);
}

/* 0 for a basis that is none. */
static double area_of(enum demand_basis basis, const struct demand_areas *areas)
{
    switch (basis) {
    case DEMAND_BASIS_GROUND:
        return areas->ground_m2;
    case DEMAND_BASIS_CANOPY:
        return areas->canopy_m2;
    case DEMAND_BASIS_TOP:
        return areas->top_m2;
    }
    return 0;
}

enum status demand_coefficient_convert(double k, enum demand_basis from, enum demand_basis to,
                                       const struct demand_areas *areas, double *out)
{
    if (!within(k, 0, 100) || !areas_in_range(areas) || !(area_of(from, areas) > 0) ||
        !(area_of(to, areas) > 0))
        return STATUS_RANGE;
    double converted = from == to ? k : k * area_of(from, areas) / area_of(to, areas);
    if (!isfinite(converted))
        return STATUS_RANGE;
    *out = converted;
    return STATUS_OK;
}

static void split_litres(double total_l_mm, const struct demand_areas *areas,
                         struct demand_factors *out)
{
    double shaded = areas->canopy_m2 > 0 ? fmin(1, areas->canopy_m2 / areas->top_m2) : 1;
    *out = (struct demand_factors){0};
    out->evaporation_l_mm = fmin(total_l_mm, evaporation_of(areas->top_m2, shaded));
    out->transpiration_l_mm = total_l_mm - out->evaporation_l_mm;
}

enum status demand_factors_from_use(double use_l, double et0_mm, const struct demand_areas *areas,
                                    struct demand_factors *out)
{
    if (!within(use_l, 0, 1000) || !within(et0_mm, 0.5, 20) || !areas_in_range(areas) ||
        !(areas->top_m2 > 0))
        return STATUS_RANGE;
    split_litres(use_l / et0_mm, areas, out);
    return STATUS_OK;
}

enum status demand_factors_from_coefficient(double k, enum demand_basis basis,
                                            const struct demand_areas *areas,
                                            struct demand_factors *out)
{
    if (!within(k, 0, 100) || !areas_in_range(areas) || !(area_of(basis, areas) > 0) ||
        !(areas->top_m2 > 0))
        return STATUS_RANGE;
    split_litres(k * area_of(basis, areas), areas, out);
    return STATUS_OK;
}

unsigned demand_doubts(double use_l, double et0_mm, double volume_l,
                       const struct demand_areas *areas)
{
    unsigned doubts = 0;
    if (use_l < 0.02 && et0_mm >= 2)
        doubts |= DEMAND_DOUBT_LITTLE;
    if (use_l > 3 && volume_l > 0 && volume_l <= 12)
        doubts |= DEMAND_DOUBT_MUCH;
    if (areas->top_m2 > 0 && use_l > 7 * et0_mm * areas->top_m2)
        doubts |= DEMAND_DOUBT_TOP;
    if (areas->ground_m2 > 0 && use_l > 1.4 * et0_mm * areas->ground_m2)
        doubts |= DEMAND_DOUBT_GROUND;
    if (areas->ground_m2 > 0 && areas->top_m2 > areas->ground_m2)
        doubts |= DEMAND_DOUBT_SPACING;
    return doubts;
}
