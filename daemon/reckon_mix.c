/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "reckon.h"

#include <float.h>
#include <string.h>

#include "core/bench.h"
#include "core/judge.h"
#include "core/pot.h"
#include "core/retention.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))
#define NUMBER(name, required, low, high, bound, fallback, about)                                  \
    {                                                                                              \
        name, RECKON_NUMBER, required, low, high, bound, NULL, fallback, about                     \
    }
#define WORD(name, required, words, fallback, about)                                               \
    {                                                                                              \
        name, RECKON_WORD, required, 0, 0, RECKON_CLOSED, words, fallback, about                   \
    }

/* --- the keys of a bench test, shared by two topics --------------------------------------- */

#define BENCH_KEYS(required)                                                                       \
    NUMBER("vessel_height_cm", required, 0, 300, RECKON_OPEN_MIN, NULL,                            \
           "depth of mix above the holes"),                                                        \
        NUMBER("vessel_volume_ml", required, 0, 1e6, RECKON_OPEN_MIN, NULL,                        \
               "volume the mix fills, measured with water"),                                       \
        {"drained_ml",                                                                             \
         RECKON_LIST,                                                                              \
         required,                                                                                 \
         0,                                                                                        \
         1e6,                                                                                      \
         RECKON_OPEN_MIN,                                                                          \
         NULL,                                                                                     \
         NULL,                                                                                     \
         "water drained from the saturated vessel, one a replicate"},                              \
        NUMBER("vessel_top_cm", false, 0.01, 1000, RECKON_CLOSED, "straight sides",                \
               "inside width at the fill line"),                                                   \
        NUMBER("vessel_bottom_cm", false, 0.01, 1000, RECKON_CLOSED, "straight sides",             \
               "inside width at the holes"),                                                       \
        NUMBER("settled_volume_ml", false, 0, 1e6, RECKON_OPEN_MIN, NULL,                          \
               "volume after settling, replaces the vessel's"),                                    \
        NUMBER("settled_height_cm", false, 0, 300, RECKON_OPEN_MIN, NULL,                          \
               "depth after settling, with settled_volume_ml"),                                    \
        NUMBER("mass_saturated_g", false, 0, 1e7, RECKON_OPEN_MIN, NULL, "net of the vessel"),     \
        NUMBER("mass_drained_g", false, 0, 1e7, RECKON_OPEN_MIN, NULL, "net of the vessel"),       \
        NUMBER("mass_dry_g", false, 0, 1e7, RECKON_OPEN_MIN, NULL, "oven-dry, net of the vessel"), \
        NUMBER("total_porosity_pct", false, 0, 100, RECKON_OPEN_MAX, "the class value",            \
               "instead of masses"),                                                               \
        WORD("class", false,                                                                       \
             "peat|peat-perlite|coir|wood-fibre|bark-peat-sand|bark-aged|bark-fresh|generic",      \
             "generic", "kind of mix"),                                                            \
        WORD("inverse_taper", false, "yes", NULL, "a bottom over 5 % wider than the top is meant")

static const char *const bench_names[] = {"vessel_height_cm",
                                          "vessel_volume_ml",
                                          "drained_ml",
                                          "vessel_top_cm",
                                          "vessel_bottom_cm",
                                          "settled_volume_ml",
                                          "settled_height_cm",
                                          "mass_saturated_g",
                                          "mass_drained_g",
                                          "mass_dry_g",
                                          "total_porosity_pct",
                                          "class",
                                          NULL};

/* 0 when the key was not given: what struct bench_test means by 'not known'. */
static double number_or_zero(const struct reckon_desk *desk, const char *key)
{
    return reckon_has(desk, key) ? reckon_number(desk, key) : 0;
}

/* Two keys that come together. */
static int need_both(struct reckon_desk *desk, const char *one, const char *other)
{
    int code = reckon_need(desk, one, other);
    return code != 0 ? code : reckon_need(desk, other, one);
}

static int check_groups(struct reckon_desk *desk)
{
    static const char *const ways[] = {"total_porosity_pct", "mass_dry_g", NULL};
    int code = need_both(desk, "vessel_top_cm", "vessel_bottom_cm");
    if (code == 0)
        code = need_both(desk, "settled_volume_ml", "settled_height_cm");
    if (code == 0)
        code = reckon_need(desk, "mass_saturated_g", "mass_dry_g");
    if (code == 0)
        code = reckon_need(desk, "mass_drained_g", "mass_dry_g");
    if (code == 0 && !reckon_has(desk, "mass_saturated_g"))
        code = reckon_need(desk, "mass_dry_g", "mass_drained_g");
    if (code == 0)
        code = reckon_choose(desk, ways, false,
                             "total_porosity_pct | mass_dry_g with mass_saturated_g or "
                             "mass_drained_g");
    return code;
}

static int refuse_porosity(struct reckon_desk *desk, double porosity)
{
    if (reckon_has(desk, "total_porosity_pct"))
        return reckon_refuse(desk, "total_porosity_pct", "given %g, accepted is above 0, below 100",
                             100 * porosity);
    const char *key = reckon_has(desk, "mass_saturated_g") ? "mass_saturated_g" : "mass_drained_g";
    return reckon_refuse(desk, key,
                         "given %s, which makes pores of %.4g %% of the volume; accepted is above "
                         "0, below 100: check the volume and that masses are net",
                         reckon_word(desk, key), 100 * porosity);
}

/* The grower's words for what cannot be. */
static int refuse_test(struct reckon_desk *desk, struct bench_refusal bad)
{
    switch (bad.fault) {
    case BENCH_FAULT_REPLICATES:
        return reckon_refuse(desk, "drained_ml", "given %g replicates, accepted are 1 to %d",
                             bad.given, BENCH_REPLICATES_MAX);
    case BENCH_FAULT_NOTHING_DRAINED:
        return reckon_refuse(desk, "drained_ml", "given 0, accepted is above 0");
    case BENCH_FAULT_DRAINED_ABOVE_VOLUME:
        return reckon_refuse(desk, "drained_ml",
                             "given %g, accepted is at most the %g mL the mix fills: a vessel "
                             "cannot drain more than it holds",
                             bad.given, bad.limit);
    case BENCH_FAULT_SCATTER:
        return reckon_refuse(desk, "drained_ml",
                             "given %g beside %g, accepted are replicates within a factor of two; "
                             "decimal comma? Numbers take a point",
                             bad.given, bad.limit);
    case BENCH_FAULT_INVERSE_TAPER:
        return reckon_refuse(desk, "vessel_bottom_cm",
                             "given %g with a top of %g, accepted is at most 5 %% wider than the "
                             "top, or inverse_taper=yes",
                             bad.given, bad.limit);
    case BENCH_FAULT_SETTLED_LARGER:
        return reckon_refuse(desk,
                             bad.limit == reckon_number(desk, "vessel_volume_ml") &&
                                     bad.given == reckon_number(desk, "settled_volume_ml")
                                 ? "settled_volume_ml"
                                 : "settled_height_cm",
                             "given %g, accepted is at most the vessel's %g", bad.given, bad.limit);
    case BENCH_FAULT_MASS_ORDER:
        return reckon_refuse(desk, "mass_dry_g",
                             "given %g g beside a mass of %g g, accepted is dry below drained, "
                             "drained not above saturated",
                             bad.limit, bad.given);
    case BENCH_FAULT_POROSITY:
        return refuse_porosity(desk, bad.given);
    case BENCH_FAULT_AIR_ABOVE_POROSITY:
        return reckon_refuse(desk, "drained_ml",
                             "given %.4g %% of the volume drained, accepted is at most 5 points "
                             "below the total porosity of %.4g %%",
                             100 * bad.given, 100 * bad.limit);
    case BENCH_FAULT_NO_CURVE:
        return reckon_refuse(desk, "drained_ml",
                             "given %.4g %% of the volume drained, accepted is what a mix of this "
                             "class can release from this height",
                             100 * bad.given);
    case BENCH_FAULT_NONE:
    case BENCH_FAULT_HEIGHT:
    case BENCH_FAULT_VOLUME:
    case BENCH_FAULT_WIDTH:
    case BENCH_FAULT_SETTLED_PAIR:
    case BENCH_FAULT_DRAINED:
    case BENCH_FAULT_MASS:
    case BENCH_FAULT_CLASS:
    case BENCH_FAULT_OTHER:
        break;
    }
    /* The keys' own ranges have refused the rest before. */
    return reckon_refuse(desk, "vessel_height_cm",
                         "given a test that cannot be, accepted is a "
                         "bench test within the ranges of --help");
}

static void note_defaults(struct reckon_desk *desk, const struct bench_test *test)
{
    const struct bench_prior *prior = bench_prior_of(test->class_id);
    if (test->vessel_top_cm == 0)
        reckon_note(desk, "vessel_top_cm, vessel_bottom_cm not given: straight sides used");
    if (test->replicates == 1)
        reckon_note(desk, "one replicate: a standard error of 1.5 points used");
    reckon_note(desk, "theta_r %g and n %g are those of class %s", prior->theta_r, prior->n,
                prior->name);
}

static void note_doubts(struct reckon_desk *desk, const struct bench_fit *fit)
{
    static const struct {
        enum bench_doubt doubt;
        const char *text;
    } words[] = {
        {BENCH_REPLICATES_DIFFER, "the replicates differ by more than a bench test should "
                                  "(standard deviation above 3 points): repeat it"},
        {BENCH_SETTLED, "the mix settled by more than 10 %: pack it as it is in the pots"},
        {BENCH_POROSITY_HIGH, "the total porosity is above 1 - bulk density / particle density: "
                              "the mix swelled, or the volume is too small"},
        {BENCH_AIR_TRAPPED, "the total porosity is far below the usual one of that bulk density: "
                            "air was trapped, or pores are closed"},
        {BENCH_MASSES_DISAGREE, "the loss between the saturated and the drained mass is not the "
                                "drained volume"},
        {BENCH_WIDTHS_DISAGREE, "the vessel's volume is far from what its height and widths "
                                "enclose; only the ratio of the widths is used"},
    };
    for (size_t i = 0; i < COUNT(words); i++)
        if (fit->doubts & words[i].doubt)
            reckon_note(desk, "%s", words[i].text);
    if (fit->doubts & BENCH_POROSITY_ASSUMED)
        reckon_note(desk, "total porosity not given: the class value %g %% used",
                    100 * fit->total_porosity);
    if (fit->doubts & BENCH_RESIDUAL_LOWERED)
        reckon_note(desk,
                    "theta_r lowered to %.4g: the class value leaves no room for the "
                    "drained water",
                    fit->curve.theta_r);
    if (fit->doubts & BENCH_OUTLIER)
        reckon_note(desk, "replicate %zu stands apart from the others: repeat it",
                    fit->outlier_index + 1);
}

/* Reads the bench keys and fits the mix: 0, or 2 after a refusal. */
static int fit_from_keys(struct reckon_desk *desk, struct bench_fit *fit)
{
    int code = check_groups(desk);
    if (code != 0)
        return code;
    size_t count = 0;
    const double *drained_ml = reckon_list(desk, "drained_ml", &count);
    struct bench_test test = {
        .vessel_height_cm = reckon_number(desk, "vessel_height_cm"),
        .vessel_volume_ml = reckon_number(desk, "vessel_volume_ml"),
        .vessel_top_cm = number_or_zero(desk, "vessel_top_cm"),
        .vessel_bottom_cm = number_or_zero(desk, "vessel_bottom_cm"),
        .settled_volume_ml = number_or_zero(desk, "settled_volume_ml"),
        .settled_height_cm = number_or_zero(desk, "settled_height_cm"),
        .replicates = count,
        .mass_saturated_g = number_or_zero(desk, "mass_saturated_g"),
        .mass_drained_g = number_or_zero(desk, "mass_drained_g"),
        .mass_dry_g = number_or_zero(desk, "mass_dry_g"),
        .total_porosity = number_or_zero(desk, "total_porosity_pct") / 100,
        .inverse_taper = reckon_has(desk, "inverse_taper"),
    };
    for (size_t i = 0; i < count && i < BENCH_REPLICATES_MAX; i++)
        test.drained_ml[i] = drained_ml[i];
    if (reckon_has(desk, "total_porosity_pct") && test.total_porosity == 0)
        return refuse_porosity(desk, 0);
    test.class_id = bench_prior_named(reckon_word_or(desk, "class", "generic"))->class_id;
    struct bench_refusal bad = bench_check(&test);
    if (bad.fault != BENCH_FAULT_NONE)
        return refuse_test(desk, bad);
    if (bench_fit_one(&test, fit) != STATUS_OK) {
        bad = (struct bench_refusal){BENCH_FAULT_NO_CURVE, 0, drained_ml[0] / test.vessel_volume_ml,
                                     0};
        return refuse_test(desk, bad);
    }
    note_defaults(desk, &test);
    note_doubts(desk, fit);
    return 0;
}

static const char *verdict_words(enum judge_code code)
{
    switch (code) {
    case JUDGE_TOO_WET:
        return "too wet, roots lack air";
    case JUDGE_RATHER_WET:
        return "rather wet";
    case JUDGE_FIT:
        return "fit";
    case JUDGE_RATHER_DRY:
        return "suits, but needs watering more often";
    case JUDGE_TOO_DRY:
        return "hard to keep watered";
    default:
        return NULL;
    }
}

static void note_mix(struct reckon_desk *desk, const struct bench_fit *fit)
{
    struct judge_finding growing;
    struct judge_finding propagation;
    if (judge_mix(fit, JUDGE_GROWING_ON, &growing) != STATUS_OK ||
        judge_mix(fit, JUDGE_PROPAGATION, &propagation) != STATUS_OK)
        return;
    reckon_note(desk,
                "in a straight 12 cm vessel, where the trade's bands belong: %.1f %% air; "
                "growing on: %s; propagation: %s",
                100 * growing.value, verdict_words(growing.code), verdict_words(propagation.code));
}

static void note_pot_finding(struct reckon_desk *desk, const struct judge_finding *f)
{
    double pct = 100 * f->value;
    switch (f->code) {
    case JUDGE_ROOT_ROT:
        reckon_note(desk, "root rot: %.1f %% air after watering, under 10 %%", pct);
        break;
    case JUDGE_ROOT_ROT_POSSIBLE:
        reckon_note(desk,
                    "root rot possible: a chance of %.0f %% that air after watering is under "
                    "10 %%",
                    100 * f->chance);
        break;
    case JUDGE_NEAR_ANOXIC:
        reckon_note(desk, "the base of the pot is as good as without air: %.1f %% in all", pct);
        break;
    case JUDGE_WATER_OFTEN:
        reckon_note(desk, "needs watering often: %.1f %% air after watering, over 30 %%", pct);
        break;
    case JUDGE_VESSEL_FAR:
        reckon_note(desk,
                    "the pot is %.2g times as deep as the vessel: test in a vessel of about "
                    "the pot's depth",
                    f->value);
        break;
    case JUDGE_BEYOND_RANGE:
        reckon_note(desk, "the standard deviation holds for 2.5 to 40 cm; the pot is %g cm deep",
                    f->value);
        break;
    case JUDGE_TOO_WET:
    case JUDGE_RATHER_WET:
    case JUDGE_FIT:
    case JUDGE_RATHER_DRY:
    case JUDGE_TOO_DRY:
        reckon_note(desk, "in this pot, growing on: %s", verdict_words(f->code));
        break;
    }
}

static void note_pot(struct reckon_desk *desk, const struct pot_shape *shape,
                     const struct pot_figures *figures, const struct bench_fit *fit)
{
    struct judge_finding findings[JUDGE_FINDINGS_MAX];
    size_t count = 0;
    if (judge_pot(shape, figures, fit, JUDGE_GROWING_ON, findings, &count) != STATUS_OK)
        return;
    for (size_t i = 0; i < count; i++)
        note_pot_finding(desk, &findings[i]);
}

/* --- perchd reckon bench ------------------------------------------------------------------ */

static const struct reckon_key bench_keys[] = {BENCH_KEYS(true)};

static const struct reckon_out bench_outs[] = {
    {"air_space_pct", "%", "drained / volume, mean of replicates"},
    {"air_space_se_pct", "%", "s / sqrt(n), 1.5 points for one replicate"},
    {"total_porosity_pct", "%", "(saturated - dry) / volume, given, or class"},
    {"container_capacity_pct", "%", "total porosity - air space"},
    {"theta_s", "-", "total porosity"},
    {"theta_r", "-", "class prior"},
    {"alpha_per_cm", "1/cm", "van Genuchten 1980 through the vessel's air"},
    {"n", "-", "class prior, m = 1 - 1/n"},
    {"m", "-", "1 - 1/n"},
    {"bulk_density_g_ml", "g/mL", "dry mass / volume"},
};

static int run_bench(struct reckon_desk *desk)
{
    struct bench_fit fit;
    int code = fit_from_keys(desk, &fit);
    if (code != 0)
        return code;
    reckon_give(desk, "air_space_pct", 100 * fit.air_space);
    reckon_give(desk, "air_space_se_pct", 100 * fit.air_space_se);
    reckon_give(desk, "total_porosity_pct", 100 * fit.total_porosity);
    reckon_give(desk, "container_capacity_pct", 100 * fit.container_capacity);
    reckon_give(desk, "theta_s", fit.curve.theta_s);
    reckon_give(desk, "theta_r", fit.curve.theta_r);
    reckon_give(desk, "alpha_per_cm", fit.curve.alpha_per_cm);
    reckon_give(desk, "n", fit.curve.n);
    reckon_give(desk, "m", fit.curve.m);
    if (fit.bulk_density_g_ml > 0)
        reckon_give(desk, "bulk_density_g_ml", fit.bulk_density_g_ml);
    note_mix(desk, &fit);
    return 0;
}

/* --- perchd reckon retention -------------------------------------------------------------- */

#define CURVE_KEYS(required)                                                                       \
    NUMBER("theta_s", required, 0, 1, RECKON_OPEN_MIN, NULL, "water content at saturation"),       \
        NUMBER("theta_r", required, 0, 1, RECKON_OPEN_MAX, NULL, "residual water content"),        \
        NUMBER("alpha_per_cm", required, 0, 1e4, RECKON_OPEN_MIN, NULL, "van Genuchten alpha"),    \
        NUMBER("n", required, 0, 50, RECKON_OPEN_MIN, NULL,                                        \
               "van Genuchten n, above 1 unless m is given"),                                      \
        NUMBER("m", false, 0, 50, RECKON_OPEN_MIN, "1 - 1/n", "van Genuchten m")

static const char *const curve_names[] = {"theta_s", "theta_r", "alpha_per_cm", "n", "m", NULL};

static int curve_from_keys(struct reckon_desk *desk, struct retention_curve *curve)
{
    curve->theta_s = reckon_number(desk, "theta_s");
    curve->theta_r = reckon_number(desk, "theta_r");
    curve->alpha_per_cm = reckon_number(desk, "alpha_per_cm");
    curve->n = reckon_number(desk, "n");
    if (!(curve->theta_r < curve->theta_s))
        return reckon_refuse(desk, "theta_r", "given %g, accepted is below theta_s = %g",
                             curve->theta_r, curve->theta_s);
    if (!reckon_has(desk, "m") && !(curve->n > 1))
        return reckon_refuse(desk, "n", "given %g, accepted is above 1 unless m is given",
                             curve->n);
    curve->m = reckon_number_or(desk, "m", 1 - 1 / curve->n);
    if (retention_check(curve) != STATUS_OK)
        return reckon_refuse(desk, "n", "given %g with m = %g, accepted is 0 to 50 each", curve->n,
                             curve->m);
    return 0;
}

static const struct reckon_key retention_keys[] = {
    CURVE_KEYS(true),
    {"suction_cm", RECKON_LIST, true, 0, 1e9, RECKON_CLOSED, NULL, NULL,
     "suction, cm of water, positive"},
};

static const struct reckon_out retention_outs[] = {
    {"theta_1, theta_2, ...", "-", "van Genuchten 1980, one for each suction"},
};

static int run_retention(struct reckon_desk *desk)
{
    struct retention_curve curve;
    size_t count = 0;
    int code = curve_from_keys(desk, &curve);
    if (code != 0)
        return code;
    const double *suction_cm = reckon_list(desk, "suction_cm", &count);
    for (size_t i = 0; i < count; i++)
        reckon_give_numbered(desk, "theta", i + 1, retention_theta(&curve, suction_cm[i]));
    return 0;
}

/* --- perchd reckon pot -------------------------------------------------------------------- */

static const struct reckon_key pot_keys[] = {
    WORD("shape", true, "round|square", NULL, "cross-section"),
    NUMBER("top_cm", true, 0.01, 1000, RECKON_CLOSED, NULL,
           "inside width at the fill line, at the rim when height_cm is given"),
    NUMBER("bottom_cm", true, 0.01, 1000, RECKON_CLOSED, NULL, "inside width at the holes"),
    NUMBER("fill_height_cm", true, 1, 100, RECKON_CLOSED, NULL, "depth of mix above the holes"),
    NUMBER("height_cm", false, 1, 1000, RECKON_CLOSED, "top_cm is at the fill line",
           "rim above the holes"),
    NUMBER("volume_l", false, 0, 1e4, RECKON_OPEN_MIN, "from the widths",
           "measured volume of the mix; scales areas, never heights"),
    NUMBER("theta_low", false, 0, 1, RECKON_CLOSED, "theta(100 cm), 0.2 in bark",
           "lower end of available water"),
    NUMBER("target_air_pct", false, 0, 100, RECKON_OPEN_MIN, NULL,
           "air wanted, for least_fill_height_cm"),
    BENCH_KEYS(false),
    CURVE_KEYS(false),
};

static const struct reckon_out pot_outs[] = {
    {"volume_l", "L", "H (A1 + A2 + sqrt(A1 A2)) / 3, or measured"},
    {"total_porosity_pct", "%", "theta_s"},
    {"container_capacity_pct", "%", "mean theta over the pot, suction = height"},
    {"air_space_pct", "%", "total porosity - container capacity"},
    {"air_space_sd_pct", "%", "bench noise x sensitivity, and shape error"},
    {"water_l", "L", "container capacity x volume"},
    {"theta_low", "-", "lower end of available water"},
    {"available_l", "L", "water above theta_low"},
    {"easily_available_l", "L", "10 to 50 cm, De Boodt & Verdonck 1972"},
    {"buffer_l", "L", "50 to 100 cm, De Boodt & Verdonck 1972"},
    {"saturated_layer_cm", "cm", "theta_s - theta < 0.01"},
    {"wet_layer_cm", "cm", "theta_s - theta < 0.10"},
    {"least_fill_height_cm", "cm", "least fill with the target air, 1 to 100 cm"},
};

/* The mix of the pot, by bench keys or by the curve's parameters. */
static int mix_from_keys(struct reckon_desk *desk, struct bench_fit *fit, bool *tested,
                         struct retention_curve *curve)
{
    static const char *const ways = "vessel_height_cm, vessel_volume_ml, drained_ml | theta_s, "
                                    "theta_r, alpha_per_cm, n";
    static const char *const bench_lead[] = {"vessel_height_cm", "vessel_volume_ml", "drained_ml"};
    static const char *const curve_lead[] = {"theta_s", "theta_r", "alpha_per_cm", "n"};
    size_t bench_given = reckon_count(desk, bench_names);
    size_t curve_given = reckon_count(desk, curve_names);
    if ((bench_given > 0) == (curve_given > 0))
        return reckon_refuse(desk, "vessel_height_cm", "%s, accepted is exactly one of %s",
                             curve_given > 0 ? "given together with a curve" : "missing", ways);
    *tested = bench_given > 0;
    const char *const *lead = *tested ? bench_lead : curve_lead;
    for (size_t i = 0; i < (*tested ? COUNT(bench_lead) : COUNT(curve_lead)); i++)
        if (!reckon_has(desk, lead[i]))
            return reckon_refuse(desk, lead[i], "missing, accepted is exactly one of %s", ways);
    if (!*tested)
        return curve_from_keys(desk, curve);
    int code = fit_from_keys(desk, fit);
    if (code == 0)
        *curve = fit->curve;
    return code;
}

static int shape_from_keys(struct reckon_desk *desk, struct pot_shape *shape)
{
    *shape = (struct pot_shape){
        .form = strcmp(reckon_word(desk, "shape"), "round") == 0 ? POT_ROUND : POT_SQUARE,
        .top_cm = reckon_number(desk, "top_cm"),
        .bottom_cm = reckon_number(desk, "bottom_cm"),
        .fill_height_cm = reckon_number(desk, "fill_height_cm"),
        .height_cm = number_or_zero(desk, "height_cm"),
        .volume_l = number_or_zero(desk, "volume_l"),
        .inverse_taper = reckon_has(desk, "inverse_taper"),
    };
    if (shape->height_cm > 0 && shape->height_cm < shape->fill_height_cm)
        return reckon_refuse(desk, "height_cm",
                             "given %g, accepted is at least fill_height_cm = %g", shape->height_cm,
                             shape->fill_height_cm);
    if (!shape->inverse_taper && shape->bottom_cm > POT_TAPER_MOST * shape->top_cm)
        return reckon_refuse(desk, "bottom_cm",
                             "given %g with a top of %g, accepted is at most 5 %% wider than the "
                             "top, or inverse_taper=yes",
                             shape->bottom_cm, shape->top_cm);
    if (shape->height_cm == 0)
        reckon_note(desk, "height_cm not given: top_cm is the width at the fill line");
    if (shape->volume_l == 0)
        reckon_note(desk, "volume_l not given: computed from the widths and the fill height");
    return 0;
}

static int give_least_fill(struct reckon_desk *desk, const struct pot_shape *shape,
                           const struct retention_curve *curve)
{
    double fill_height_cm = 0;
    if (!reckon_has(desk, "target_air_pct"))
        return 0;
    double target = reckon_number(desk, "target_air_pct");
    if (pot_least_fill_cm(shape, curve, target / 100, &fill_height_cm) == STATUS_OK)
        reckon_give(desk, "least_fill_height_cm", fill_height_cm);
    else
        reckon_note(desk, "least_fill_height_cm left out: no fill from 1 to 100 cm gives %g %% air",
                    target);
    return 0;
}

static void give_figures(struct reckon_desk *desk, const struct pot_figures *f, bool tested)
{
    reckon_give(desk, "volume_l", f->volume_l);
    reckon_give(desk, "total_porosity_pct", 100 * f->total_porosity);
    reckon_give(desk, "container_capacity_pct", 100 * f->capacity);
    reckon_give(desk, "air_space_pct", 100 * f->air_space);
    if (tested)
        reckon_give(desk, "air_space_sd_pct", 100 * f->air_space_sd);
    reckon_give(desk, "water_l", f->water_l);
    reckon_give(desk, "theta_low", f->theta_low);
    reckon_give(desk, "available_l", f->available_l);
    reckon_give(desk, "easily_available_l", f->easily_available_l);
    reckon_give(desk, "buffer_l", f->buffer_l);
    reckon_give(desk, "saturated_layer_cm", f->saturated_layer_cm);
    reckon_give(desk, "wet_layer_cm", f->wet_layer_cm);
}

static int run_pot(struct reckon_desk *desk)
{
    struct bench_fit fit = {0};
    struct retention_curve curve = {0};
    struct pot_shape shape;
    struct pot_figures figures;
    bool tested = false;
    int code = shape_from_keys(desk, &shape);
    if (code == 0)
        code = mix_from_keys(desk, &fit, &tested, &curve);
    if (code != 0)
        return code;
    double theta_low = 0;
    if (reckon_has(desk, "theta_low")) /* 0 itself would ask for the default */
        theta_low =
            reckon_number(desk, "theta_low") > 0 ? reckon_number(desk, "theta_low") : DBL_MIN;
    if (theta_low > curve.theta_s)
        return reckon_refuse(desk, "theta_low", "given %g, accepted is at most theta_s = %g",
                             theta_low, curve.theta_s);
    if (pot_at_capacity(&shape, &curve, tested ? &fit : NULL, theta_low, &figures) != STATUS_OK)
        return reckon_refuse(desk, "top_cm",
                             "given a pot that cannot be, accepted is one within "
                             "the ranges of --help");
    if (!reckon_has(desk, "theta_low"))
        reckon_note(desk, "theta_low not given: %.6g used, %s", figures.theta_low,
                    tested && bench_prior_of(fit.class_id)->bark
                        ? "the lower end of uptake in bark (O'Meara et al. 2014, our choice)"
                        : "theta at 100 cm of suction");
    give_figures(desk, &figures, tested);
    note_pot(desk, &shape, &figures, tested ? &fit : NULL);
    return give_least_fill(desk, &shape, &curve);
}

const struct reckon_topic reckon_mix_topics[] = {
    {"bench", "air, porosity and the retention curve of a mix from a drain test", bench_keys,
     COUNT(bench_keys), bench_outs, COUNT(bench_outs), run_bench},
    {"retention", "water content at a suction", retention_keys, COUNT(retention_keys),
     retention_outs, COUNT(retention_outs), run_retention},
    {"pot", "water and air in a drained pot", pot_keys, COUNT(pot_keys), pot_outs, COUNT(pot_outs),
     run_pot},
};
const size_t reckon_mix_count = COUNT(reckon_mix_topics);
