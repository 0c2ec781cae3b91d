/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Desk calculator: what a pot uses, and what a valve must deliver. */
#include "reckon.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/delivery.h"
#include "core/demand.h"
#include "number.h"

#define COUNT(array) (sizeof(array) / sizeof(array)[0])

/* The declared ranges of the keys lie inside those of core/: a refusal from there is a defect of
 * this file, and is reported as a failure rather than as an answer. */
static int fail(struct reckon_desk *desk)
{
    reckon_refuse(desk, "reckon", "these keys are in range, yet could not be computed together");
    return 1;
}

/* --- use ---------------------------------------------------------------------------------- */

static const struct reckon_key use_keys[] = {
    {"et0_mm", RECKON_NUMBER, true, 0, 20, .about = "reference ET of the day, mm"},
    {"ground_m2", RECKON_NUMBER, true, 0, 25, RECKON_OPEN_MIN,
     .about = "bed area per pot (spacing x row spacing), m2"},
    {"canopy_cm", RECKON_NUMBER, true, 0, 1000, .about = "canopy diameter, cm"},
    {"plant_height_m", RECKON_NUMBER, true, 0, 20, .about = "plant height, m"},
    {"pot_top_cm", RECKON_NUMBER, true, 0, 300, RECKON_OPEN_MIN,
     .about = "diameter of the mix surface, cm"},
    {"transparency", RECKON_NUMBER, false, 1, 3, .fallback = "2",
     .about = "use of a lone plant against a closed stand of the same leaves, M_L"},
    {"wind_2m_m_s", RECKON_NUMBER, false, 0, 75, .fallback = "2",
     .about = "mean wind of the day at 2 m, m/s (taken as 1 to 6)"},
    {"humidity_min_pct", RECKON_NUMBER, false, 0, 100, .fallback = "45",
     .about = "lowest relative humidity of the day, % (taken as 20 to 80)"},
    {"k_cal", RECKON_NUMBER, false, 0, 10, RECKON_OPEN_MIN, .fallback = "1",
     .about = "correction learned from weighings"},
};

static const struct reckon_out use_outs[] = {
    {"ground_cover", "-", "f_c = canopy area / ground area, at most 1"},
    {"density", "-", "K_d = min(1, M_L f_c, f_c^(1/(1+h))); Allen & Pereira 2009"},
    {"kcb_full", "-", "min(1 + 0.1 h, 1.2) + climate term; FAO-56 eqs 99-100"},
    {"transpiration_l", "L", "T = ET0 Kcb_full K_d A_ground, before k_cal"},
    {"evaporation_l", "L", "E = ET0 A_top (0.9 (1-c) + 0.6 c), before k_cal"},
    {"use_l", "L", "k_cal (T + E)"},
    {"k_ground", "-", "use / (ET0 x ground area)"},
    {"k_canopy", "-", "use / (ET0 x canopy area)"},
    {"k_top", "-", "use / (ET0 x area of the pot top)"},
};

/* What the day is reckoned with when wind or humidity lie outside the range of the formula. */
static void note_clamp(struct reckon_desk *desk, const char *key, double value, double low,
                       double high)
{
    char text[32];
    if (value >= low && value <= high)
        return;
    number_format(value < low ? low : high, text, sizeof text);
    reckon_note(desk, "%s outside the formula's range: %s used", key, text);
}

static void give_coefficient(struct reckon_desk *desk, const char *name, double use_l,
                             double et0_mm, double area_m2, const char *area)
{
    if (et0_mm > 0 && area_m2 > 0)
        reckon_give(desk, name, use_l / (et0_mm * area_m2));
    else
        reckon_note(desk, "%s left out: %s is 0", name, et0_mm > 0 ? area : "et0_mm");
}

static void note_doubts(struct reckon_desk *desk, double use_l, double et0_mm,
                        const struct demand_areas *areas)
{
    unsigned doubts = demand_doubts(use_l, et0_mm, 0, areas);
    if (doubts & DEMAND_DOUBT_LITTLE)
        reckon_note(desk, "under 0.02 L on such a day is unusual: check the measures");
    if (doubts & DEMAND_DOUBT_TOP)
        reckon_note(desk, "k_top over 7 is more than published: check the measures");
    if (doubts & DEMAND_DOUBT_GROUND)
        reckon_note(desk, "k_ground over 1.4 is more than published: check the measures");
    if (doubts & DEMAND_DOUBT_SPACING)
        reckon_note(desk, "the pot top is wider than its ground: check the spacing");
}

/* The balance cuts a closed bed to the energy that reaches it; this topic shows the formula. */
static void note_cap(struct reckon_desk *desk, const struct demand_factors *factors,
                     double ground_m2, double et0_mm)
{
    const struct demand_reductions none = {.ks = 1, .kr = 1, .multiplier = 1};
    struct demand_use use;
    if (demand_use_of(factors, ground_m2, et0_mm, &none, &use) != STATUS_OK || !use.capped)
        return;
    reckon_note(desk,
                "over a closed bed the balance holds T + E to 1.25 ET0 x ground: %.4g L "
                "before k_cal; not cut here",
                use.use_l);
}

static int run_use(struct reckon_desk *desk)
{
    double et0_mm = reckon_number(desk, "et0_mm");
    const struct demand_plant plant = {
        .ground_m2 = reckon_number(desk, "ground_m2"),
        .canopy_cm = reckon_number(desk, "canopy_cm"),
        .plant_height_m = reckon_number(desk, "plant_height_m"),
        .pot_top_cm = reckon_number(desk, "pot_top_cm"),
        .transparency = reckon_number_or(desk, "transparency", 2),
        .stomatal = 1,
    };
    const struct demand_climate climate = {
        .wind_2m_m_s = reckon_number_or(desk, "wind_2m_m_s", 2),
        .humidity_min_pct = reckon_number_or(desk, "humidity_min_pct", 45),
    };
    double k_cal = reckon_number_or(desk, "k_cal", 1);
    struct demand_factors factors;
    struct demand_areas areas;
    if (demand_factors_of(&plant, &climate, &factors) != STATUS_OK ||
        demand_areas_of(plant.ground_m2, plant.canopy_cm, plant.pot_top_cm, &areas) != STATUS_OK)
        return fail(desk);
    double transpiration_l = et0_mm * factors.transpiration_l_mm;
    double evaporation_l = et0_mm * factors.evaporation_l_mm;
    double use_l = k_cal * (transpiration_l + evaporation_l);
    reckon_give(desk, "ground_cover", factors.ground_cover);
    reckon_give(desk, "density", factors.density);
    reckon_give(desk, "kcb_full", factors.kcb_full);
    reckon_give(desk, "transpiration_l", transpiration_l);
    reckon_give(desk, "evaporation_l", evaporation_l);
    reckon_give(desk, "use_l", use_l);
    give_coefficient(desk, "k_ground", use_l, et0_mm, areas.ground_m2, "ground_m2");
    give_coefficient(desk, "k_canopy", use_l, et0_mm, areas.canopy_m2, "canopy_cm");
    give_coefficient(desk, "k_top", use_l, et0_mm, areas.top_m2, "pot_top_cm");
    note_clamp(desk, "wind_2m_m_s", climate.wind_2m_m_s, 1, 6);
    note_clamp(desk, "humidity_min_pct", climate.humidity_min_pct, 20, 80);
    note_cap(desk, &factors, plant.ground_m2, et0_mm);
    note_doubts(desk, use_l, et0_mm, &areas);
    reckon_note(desk, "K_s = K_r = F_s = 1: well watered, wet surface, usual stomata");
    return 0;
}

/* --- stress ------------------------------------------------------------------------------- */

static const struct reckon_key stress_keys[] = {
    {"available_l", RECKON_NUMBER, true, 0, 1000, RECKON_OPEN_MIN,
     .about = "available water at container capacity, L"},
    {"depletion_l", RECKON_NUMBER, true, 0, 1000, .about = "litres missing to capacity"},
    {"refill_fraction", RECKON_NUMBER, true, 0, 1, RECKON_OPEN_MAX,
     .about = "the plant's p: part of the available water it uses unhindered"},
};

static const struct reckon_out stress_outs[] = {
    {"ks", "-", "(AW - D) / ((1 - p) AW) beyond D = p AW; FAO-56 eq 84"},
};

static int run_stress(struct reckon_desk *desk)
{
    double ks = 0;
    double available_l = reckon_number(desk, "available_l");
    double depletion_l = reckon_number(desk, "depletion_l");
    if (demand_stress(available_l, depletion_l, reckon_number(desk, "refill_fraction"), &ks) !=
        STATUS_OK)
        return fail(desk);
    reckon_give(desk, "ks", ks);
    if (depletion_l > available_l)
        reckon_note(desk, "depletion is beyond the available water: uptake has stopped");
    return 0;
}

/* --- deliver ------------------------------------------------------------------------------ */

static const struct reckon_key deliver_keys[] = {
    {"method", RECKON_WORD, true, .words = "overhead|drip|spray|subirrigation|hand",
     .about = "how the water comes"},
    {"need_l", RECKON_NUMBER, true, 0, 1000, .about = "net litres to put back into a pot"},
    {"leaching_fraction", RECKON_NUMBER, false, 0, 0.9, .fallback = "0",
     .about = "part of the water that shall run through"},
    {"pot_top_cm", RECKON_NUMBER, false, 0, 300, RECKON_OPEN_MIN,
     .about = "overhead: diameter of the pot top, cm"},
    {"capture", RECKON_NUMBER, false, 0, 10, RECKON_OPEN_MIN,
     .about = "overhead: caught by a pot with its plant / without"},
    {"rate_mm_h", RECKON_NUMBER, false, 0, 500, RECKON_OPEN_MIN,
     .about = "overhead: application rate, mm/h"},
    {"cover", RECKON_WORD, false, .words = "average|low_half|low_quarter", .fallback = "average",
     .about = "overhead: part of the bed that shall get its need"},
    {"du_low_quarter", RECKON_NUMBER, false, 0, 1, RECKON_OPEN_MIN,
     .about = "overhead: lowest quarter of the catches / mean, a fraction"},
    {"du_low_half", RECKON_NUMBER, false, 0, 1, RECKON_OPEN_MIN,
     .about = "overhead: lowest half of the catches / mean, a fraction"},
    {"emitters", RECKON_NUMBER, false, 0, 1000, RECKON_OPEN_MIN,
     .about = "drip, spray: emitters per pot"},
    {"emitter_l_h", RECKON_NUMBER, false, 0, 10000, RECKON_OPEN_MIN,
     .about = "drip, spray: flow of one emitter, L/h"},
    {"emission_uniformity", RECKON_NUMBER, false, 0, 1, RECKON_OPEN_MIN, .fallback = "1",
     .about = "drip, spray: a fraction"},
    {"hose_l_min", RECKON_NUMBER, false, 0, 1000, RECKON_OPEN_MIN,
     .about = "hand: flow of the hose, L/min"},
};

static const struct reckon_out deliver_outs[] = {
    {"gross_l", "L", "need / (1 - leaching fraction), into the pot"},
    {"depth_mm", "mm", "gross / (area of the pot top x capture), before the multiplier"},
    {"minutes", "min", "before the multiplier"},
    {"multiplier", "-", "1, 1/DU_lh, 1/(0.4 + 0.6 DU_lq), 1/DU_lq or 1/EU"},
    {"minutes_for_uniformity", "min", "minutes x multiplier"},
};

enum {
    OVERHEAD = 1 << DELIVERY_OVERHEAD,
    EMITTERS = 1 << DELIVERY_DRIP | 1 << DELIVERY_SPRAY,
    HAND = 1 << DELIVERY_HAND,
};

/* Keys that belong to some methods only. */
static const struct method_key {
    const char *name;
    unsigned methods;
    bool needed;
} method_keys[] = {
    {"pot_top_cm", OVERHEAD, true},
    {"capture", OVERHEAD, true},
    {"rate_mm_h", OVERHEAD, true},
    {"cover", OVERHEAD, false},
    {"du_low_quarter", OVERHEAD, false},
    {"du_low_half", OVERHEAD, false},
    {"emitters", EMITTERS, true},
    {"emitter_l_h", EMITTERS, true},
    {"emission_uniformity", EMITTERS, false},
    {"hose_l_min", HAND, true},
};

static enum delivery_method method_of(const char *word)
{
    static const char *const words[] = {
        [DELIVERY_OVERHEAD] = "overhead", [DELIVERY_DRIP] = "drip",
        [DELIVERY_SPRAY] = "spray",       [DELIVERY_SUBIRRIGATION] = "subirrigation",
        [DELIVERY_HAND] = "hand",
    };
    size_t i = 0;
    while (i + 1 < COUNT(words) && strcmp(word, words[i]) != 0)
        i++;
    return (enum delivery_method)i; /* the frame has let through no other word */
}

static enum delivery_cover cover_of(const char *word)
{
    return strcmp(word, "low_half") == 0      ? DELIVERY_LOW_HALF
           : strcmp(word, "low_quarter") == 0 ? DELIVERY_LOW_QUARTER
                                              : DELIVERY_AVERAGE;
}

static int check_method_keys(struct reckon_desk *desk, enum delivery_method method)
{
    const char *word = reckon_word(desk, "method");
    for (size_t i = 0; i < COUNT(method_keys); i++) {
        const struct method_key *key = &method_keys[i];
        bool belongs = key->methods & 1u << method;
        if (!belongs && reckon_has(desk, key->name))
            return reckon_refuse(desk, key->name, "given '%.60s', accepted is none with method=%s",
                                 reckon_word(desk, key->name), word);
        int code = belongs && key->needed ? reckon_need(desk, "method", key->name) : 0;
        if (code != 0)
            return code;
    }
    return 0;
}

/* The chosen part of the bed needs its uniformity; what was given and is not used is said. */
static int check_cover(struct reckon_desk *desk, enum delivery_cover cover)
{
    bool half = reckon_has(desk, "du_low_half");
    bool quarter = reckon_has(desk, "du_low_quarter");
    if (cover == DELIVERY_LOW_QUARTER && !quarter)
        return reckon_refuse(desk, "du_low_quarter",
                             "missing, accepted is above 0 to 1 with cover=low_quarter");
    if (cover == DELIVERY_LOW_HALF && !half && !quarter)
        return reckon_refuse(desk, "du_low_half",
                             "missing, accepted is above 0 to 1 with cover=low_half (or "
                             "du_low_quarter, from which it is estimated)");
    if (half && cover != DELIVERY_LOW_HALF)
        reckon_note(desk, "du_low_half is not used by this cover");
    if (quarter && (cover == DELIVERY_AVERAGE || (cover == DELIVERY_LOW_HALF && half)))
        reckon_note(desk, "du_low_quarter is not used by this cover%s",
                    half ? ": the measured low half is" : "");
    if (quarter && !half && cover == DELIVERY_LOW_HALF)
        reckon_note(desk, "low half estimated from the low quarter: 0.4 + 0.6 DU_lq");
    return 0;
}

static double number_or_none(const struct reckon_desk *desk, const char *key)
{
    return reckon_has(desk, key) ? reckon_number(desk, key) : 0;
}

/* Fills what belongs to the method; 0, or 2 refused. */
static int read_method(struct reckon_desk *desk, struct delivery_in *in)
{
    switch (in->method) {
    case DELIVERY_OVERHEAD: {
        double radius_m = reckon_number(desk, "pot_top_cm") / 200;
        in->pot_top_m2 = M_PI * radius_m * radius_m;
        in->capture = reckon_number(desk, "capture");
        in->rate_mm_h = reckon_number(desk, "rate_mm_h");
        in->cover = cover_of(reckon_word_or(desk, "cover", "average"));
        in->du_low_quarter = number_or_none(desk, "du_low_quarter");
        in->du_low_half = number_or_none(desk, "du_low_half");
        return check_cover(desk, in->cover);
    }
    case DELIVERY_DRIP:
    case DELIVERY_SPRAY:
        in->emitters = reckon_number(desk, "emitters");
        in->emitter_l_h = reckon_number(desk, "emitter_l_h");
        in->emission_uniformity = reckon_number_or(desk, "emission_uniformity", 1);
        return 0;
    case DELIVERY_HAND:
        in->hose_l_min = reckon_number(desk, "hose_l_min");
        return 0;
    case DELIVERY_SUBIRRIGATION:
        return 0;
    }
    return 0;
}

static void give_delivery(struct reckon_desk *desk, const struct delivery_in *in,
                          const struct delivery_out *out)
{
    reckon_give(desk, "gross_l", out->gross_l);
    if (in->method == DELIVERY_SUBIRRIGATION) {
        reckon_note(desk, "sub-irrigation: the pots draw these litres, no minutes follow");
        return;
    }
    if (in->method == DELIVERY_OVERHEAD)
        reckon_give(desk, "depth_mm", out->depth_mm);
    reckon_give(desk, "minutes", out->minutes);
    if (in->method == DELIVERY_HAND) {
        reckon_note(desk, "hand: minutes of hose a pot; how even a hand waters is not known");
        return;
    }
    reckon_give(desk, "multiplier", out->multiplier);
    reckon_give(desk, "minutes_for_uniformity", out->minutes_for_uniformity);
    if (in->leaching_fraction > 0 && out->multiplier > 1)
        reckon_note(desk, "both margins applied as given; the plan uses only the larger");
}

static int run_deliver(struct reckon_desk *desk)
{
    struct delivery_in in = {
        .method = method_of(reckon_word(desk, "method")),
        .need_l = reckon_number(desk, "need_l"),
    };
    struct delivery_out out;
    int code = check_method_keys(desk, in.method);
    if (code != 0)
        return code;
    in.leaching_fraction = reckon_number_or(desk, "leaching_fraction", 0);
    code = read_method(desk, &in);
    if (code != 0)
        return code;
    if (delivery_size(&in, &out) != STATUS_OK) /* flows, areas or fractions hardly above 0 */
        return reckon_refuse(desk, "need_l",
                             "given %s, accepted is what can be given in finite time",
                             reckon_word(desk, "need_l"));
    give_delivery(desk, &in, &out);
    return 0;
}

/* --- uniformity --------------------------------------------------------------------------- */

static const struct reckon_key uniformity_keys[] = {
    {"catches", RECKON_LIST, true, 0, 1e6, .about = "catch cans, at least 4, any one unit"},
};

static const struct reckon_out uniformity_outs[] = {
    {"mean", "as given", "mean of all cans"},
    {"du_low_quarter_pct", "%", "mean of the lowest quarter / mean of all"},
    {"du_low_half_pct", "%", "mean of the lowest half / mean of all"},
    {"cu_pct", "%", "1 - sum |x - mean| / (n mean); Christiansen 1942"},
    {"multiplier", "-", "1 / (0.4 + 0.6 DU_lq)"},
    {"multiplier_low_half", "-", "1 / DU_lh, measured"},
    {"multiplier_low_quarter", "-", "1 / DU_lq, measured"},
};

static void give_inverse(struct reckon_desk *desk, const char *name, double fraction)
{
    if (fraction > 0 && isfinite(1 / fraction))
        reckon_give(desk, name, 1 / fraction);
    else
        reckon_note(desk, "%s left out: these cans caught nothing", name);
}

static void give_uniformity(struct reckon_desk *desk, const struct delivery_uniformity *u,
                            double multiplier)
{
    reckon_give(desk, "mean", u->mean);
    reckon_give(desk, "du_low_quarter_pct", 100 * u->du_low_quarter);
    reckon_give(desk, "du_low_half_pct", 100 * u->du_low_half);
    reckon_give(desk, "cu_pct", 100 * u->cu);
    reckon_give(desk, "multiplier", multiplier);
    give_inverse(desk, "multiplier_low_half", u->du_low_half);
    give_inverse(desk, "multiplier_low_quarter", u->du_low_quarter);
}

static int run_uniformity(struct reckon_desk *desk)
{
    size_t n = 0;
    const double *catches = reckon_list(desk, "catches", &n);
    struct delivery_uniformity u;
    double multiplier = 0;
    if (n < 4)
        return reckon_refuse(desk, "catches", "given %zu, accepted are 4 cans or more", n);
    double *scratch = calloc(n, sizeof *scratch);
    if (!scratch)
        return fail(desk);
    enum status status = delivery_uniformity_of(catches, n, scratch, &u);
    free(scratch);
    if (status != STATUS_OK)
        return reckon_refuse(desk, "catches", "given a mean of 0, accepted is a mean above 0");
    if (delivery_multiplier(u.du_low_quarter, &multiplier) != STATUS_OK)
        return fail(desk);
    give_uniformity(desk, &u, multiplier);
    reckon_note(desk, "lowest quarter: %zu of %zu cans (n/4 rounded up)", u.quarter_count, n);
    reckon_note(desk, "lowest half: %zu of %zu cans (n/2 rounded up)", u.half_count, n);
    if (u.du_low_quarter < 0.6) /* Univ. Florida AE194 */
        reckon_note(desk, "low quarter under 60 %% is poor, 80 %% or more is good: mend before "
                          "lengthening runs");
    if (n % 4 != 0)
        reckon_note(desk, "a multiple of 4 cans gives an exact quarter");
    return 0;
}

/* --- leaching ----------------------------------------------------------------------------- */

static const struct reckon_key leaching_keys[] = {
    {"water_ec_ds_m", RECKON_NUMBER, true, 0, 100, .about = "EC of the irrigation water, dS/m"},
    {"target_ec_ds_m", RECKON_NUMBER, true, 0, 100, RECKON_OPEN_MIN,
     .about = "EC wanted in the mix, saturation extract, dS/m"},
    {"et_mm", RECKON_NUMBER, false, 0, 10000, .about = "water used, mm, of any span"},
};

static const struct reckon_out leaching_outs[] = {
    {"leaching_requirement", "-", "ECw / (5 ECe - ECw), at most 0.5; Rhoades 1974, FAO-29"},
    {"applied_mm", "mm", "ET / (1 - requirement)"},
};

static int run_leaching(struct reckon_desk *desk)
{
    double requirement = 0;
    bool poor = false;
    if (delivery_leaching_requirement(reckon_number(desk, "water_ec_ds_m"),
                                      reckon_number(desk, "target_ec_ds_m"), &requirement,
                                      &poor) != STATUS_OK)
        return fail(desk);
    reckon_give(desk, "leaching_requirement", requirement);
    if (reckon_has(desk, "et_mm"))
        reckon_give(desk, "applied_mm", reckon_number(desk, "et_mm") / (1 - requirement));
    else
        reckon_note(desk, "applied_mm left out: et_mm not given");
    if (poor)
        reckon_note(desk, "poor water: cut to 0.5, more of it is no answer; change water");
    if (requirement > DELIVERY_LEACH_MAX)
        reckon_note(desk, "the plan goes up to 0.3, then asks to change water or flush by hand");
    reckon_note(desk, "target is of a saturation extract; a pour-through is another scale");
    return 0;
}

/* --- leach-adjust ------------------------------------------------------------------------- */

static const struct reckon_key leach_adjust_keys[] = {
    {"minutes", RECKON_NUMBER, true, 0, 10000, RECKON_OPEN_MIN, .about = "run time now, min"},
    {"measured_fraction", RECKON_NUMBER, true, 0, 1, RECKON_OPEN_MAX,
     .about = "caught drainage / water that entered the pot"},
    {"target_fraction", RECKON_NUMBER, true, 0, 1, RECKON_OPEN_MAX, .about = "the same, wanted"},
};

static const struct reckon_out leach_adjust_outs[] = {
    {"minutes_new", "min", "minutes (1 - measured) / (1 - target): what stayed stays"},
};

static int run_leach_adjust(struct reckon_desk *desk)
{
    double minutes_new = 0;
    if (delivery_leach_adjust(reckon_number(desk, "minutes"),
                              reckon_number(desk, "measured_fraction"),
                              reckon_number(desk, "target_fraction"), &minutes_new) != STATUS_OK)
        return fail(desk);
    reckon_give(desk, "minutes_new", minutes_new);
    return 0;
}

#define TOPIC(word, what, table, function)                                                         \
    {                                                                                              \
        .name = (word), .about = (what), .keys = table##_keys, .key_count = COUNT(table##_keys),   \
        .outs = table##_outs, .out_count = COUNT(table##_outs), .run = (function)                  \
    }

const struct reckon_topic reckon_water_topics[] = {
    TOPIC("use", "litres a pot uses in a day", use, run_use),
    TOPIC("stress", "how far a drying pot slows its plant", stress, run_stress),
    TOPIC("deliver", "from net litres to depth and minutes", deliver, run_deliver),
    TOPIC("uniformity", "what catch cans say of a bed", uniformity, run_uniformity),
    TOPIC("leaching", "how much must run through for salt", leaching, run_leaching),
    TOPIC("leach-adjust", "run time for another leaching fraction", leach_adjust, run_leach_adjust),
};
const size_t reckon_water_count = COUNT(reckon_water_topics);
