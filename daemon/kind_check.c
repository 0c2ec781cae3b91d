/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The rules between the columns of one row. */
#include "kind.h"

#include <math.h>
#include <string.h>

static bool given(const struct kind_row *row, const char *name)
{
    return kind_get(row, name)->given;
}

static int both_or_none(const struct kind_row *row, const char *one, const char *other,
                        struct kind_fault *fault)
{
    if (given(row, one) == given(row, other))
        return 0;
    const char *missing = given(row, one) ? other : one;
    return kind_fault_set(fault, missing, "empty, but %s is given: both or none",
                          given(row, one) ? one : other);
}

static int refuse_over(struct kind_fault *fault, const char *column, double number,
                       const char *limit, double most)
{
    kind_fault_set(fault, column, "%g given, accepted is at most %s (%g)", number, limit, most);
    fault->most = most;
    return -1;
}

/* Another one that is given too, or missing too. */
static int refuse_other(const struct kind_row *row, const char *column, const char *other,
                        const char *accepted, struct kind_fault *fault)
{
    return kind_fault_set(fault, column,
                          given(row, other) ? "given beside %s, accepted is one of %s"
                                            : "empty, as %s, accepted is one of %s",
                          other, accepted);
}

bool kind_bench_test(const struct kind_row *row, const char *class_name, struct bench_test *test)
{
    const struct bench_prior *prior = bench_prior_named(class_name);
    struct bench_test filled = {
        .vessel_height_cm = kind_number(row, "vessel_height_cm", 0),
        .vessel_volume_ml = kind_number(row, "vessel_volume_ml", 0),
        .vessel_top_cm = kind_number(row, "vessel_top_cm", 0),
        .vessel_bottom_cm = kind_number(row, "vessel_bottom_cm", 0),
        .settled_volume_ml = kind_number(row, "settled_volume_ml", 0),
        .settled_height_cm = kind_number(row, "settled_height_cm", 0),
        .mass_saturated_g = kind_number(row, "mass_saturated_g", 0),
        .mass_drained_g = kind_number(row, "mass_drained_g", 0),
        .mass_dry_g = kind_number(row, "mass_dry_g", 0),
        .total_porosity = kind_number(row, "total_porosity_pct", 0) / 100,
        .drain_time_min = kind_number(row, "drain_min", 0),
        .particle_density_g_ml = kind_number(row, "particle_density_g_ml", 0),
        .inverse_taper = kind_get(row, "inverse_taper")->whole != 0,
    };
    if (!prior || !kind_parse_numbers(kind_text(row, "drained_ml"), filled.drained_ml,
                                      BENCH_REPLICATES_MAX, &filled.replicates))
        return false;
    filled.class_id = prior->class_id;
    *test = filled;
    return true;
}

/* Porosity is measured once: by weighing or given. */
static int check_masses(const struct kind_row *row, struct kind_fault *fault)
{
    bool wet = given(row, "mass_saturated_g") || given(row, "mass_drained_g");
    bool dry = given(row, "mass_dry_g");
    if ((wet || dry) && given(row, "total_porosity_pct"))
        return kind_fault_set(fault, "total_porosity_pct",
                              "given beside masses, which say the same: one of the two");
    if (wet && !dry)
        return kind_fault_set(fault, "mass_dry_g",
                              "empty, but a wet mass is given: the porosity needs both");
    if (dry && !wet)
        return kind_fault_set(fault, "mass_saturated_g",
                              "empty, but mass_dry_g is given: the porosity needs it, or "
                              "mass_drained_g");
    return 0;
}

/* A vessel's depth in millimetres makes a straw of it, in metres a tray [our choice of bounds]. */
static int check_vessel(const struct kind_row *row, struct kind_fault *fault)
{
    double height_cm = kind_number(row, "vessel_height_cm", 0);
    double volume_ml = kind_number(row, "vessel_volume_ml", 0);
    double wide_cm = sqrt(4.0 * volume_ml / (M_PI * height_cm));
    if (wide_cm >= 0.1 * height_cm && wide_cm <= 20.0 * height_cm)
        return 0;
    return kind_fault_set(
        fault, "vessel_height_cm",
        "%g given, so deep a vessel of %g mL is %.3g cm wide; accepted is a width "
        "of a tenth of its depth to 20 times it: check centimetres",
        height_cm, volume_ml, wide_cm);
}

static int check_bench_test(const struct kind_row *row, struct kind_fault *fault)
{
    if (both_or_none(row, "vessel_top_cm", "vessel_bottom_cm", fault) ||
        both_or_none(row, "settled_volume_ml", "settled_height_cm", fault) ||
        check_vessel(row, fault))
        return -1;
    return check_masses(row, fault);
}

/* What the point holds: its water, or its air beside the pores it is counted from. */
static int check_point(const struct kind_row *row, struct kind_fault *fault)
{
    if (given(row, "water_pct") == given(row, "air_pct"))
        return refuse_other(row, "water_pct", "air_pct", "water_pct and air_pct", fault);
    if (!given(row, "air_pct"))
        return 0;
    if (!given(row, "total_porosity_pct"))
        return kind_fault_set(
            fault, "total_porosity_pct",
            "empty, but air_pct is given: the water is what is left of the pores");
    if (kind_number(row, "air_pct", 0) >= kind_number(row, "total_porosity_pct", 0))
        return kind_fault_set(
            fault, "air_pct", "%g given, accepted is below the total porosity (%g)",
            kind_number(row, "air_pct", 0), kind_number(row, "total_porosity_pct", 0));
    return 0;
}

static int refuse_porosity(const struct kind_row *row, double porosity, struct kind_fault *fault)
{
    const char *wet = given(row, "mass_saturated_g") ? "mass_saturated_g" : "mass_drained_g";
    if (given(row, "total_porosity_pct"))
        return kind_fault_set(fault, "total_porosity_pct",
                              "%g given, accepted is above 0, below "
                              "100",
                              100 * porosity);
    return kind_fault_set(fault, wet,
                          "'%s' given, which makes pores of %.4g %% of the volume, accepted is "
                          "above 0, below 100: check the volume, and that the vessel is taken off",
                          kind_text(row, wet), 100 * porosity);
}

static int refuse_bench(const struct kind_row *row, struct bench_refusal bad,
                        struct kind_fault *fault)
{
    switch (bad.fault) {
    case BENCH_FAULT_INVERSE_TAPER:
        return refuse_over(fault, "vessel_bottom_cm", bad.given, "vessel_top_cm", bad.limit);
    case BENCH_FAULT_SETTLED_LARGER:
        return kind_fault_set(fault,
                              bad.given == kind_number(row, "settled_volume_ml", 0) &&
                                      bad.limit == kind_number(row, "vessel_volume_ml", 0)
                                  ? "settled_volume_ml"
                                  : "settled_height_cm",
                              "%g given, accepted is at most the vessel's (%g)", bad.given,
                              bad.limit);
    case BENCH_FAULT_NOTHING_DRAINED:
        return kind_fault_set(fault, "drained_ml",
                              "0 given: let the vessel drain through open "
                              "holes for an hour and measure again");
    case BENCH_FAULT_DRAINED_ABOVE_VOLUME:
        return kind_fault_set(fault, "drained_ml",
                              "%g given, accepted is at most the mix's volume (%g mL)", bad.given,
                              bad.limit);
    case BENCH_FAULT_SCATTER:
        return kind_fault_set(fault, "drained_ml",
                              "%g given beside %g, accepted are replicates within a factor of two "
                              "(a decimal comma, another vessel?)",
                              bad.given, bad.limit);
    case BENCH_FAULT_MASS_ORDER:
        return kind_fault_set(fault,
                              bad.limit == kind_number(row, "mass_dry_g", 0) ? "mass_dry_g"
                                                                             : "mass_saturated_g",
                              "%g g given beside %g g, accepted is dry below drained and drained "
                              "not above saturated",
                              bad.limit, bad.given);
    case BENCH_FAULT_POROSITY:
        return refuse_porosity(row, bad.given, fault);
    case BENCH_FAULT_AIR_ABOVE_POROSITY:
        return kind_fault_set(fault, "drained_ml",
                              "%.4g %% of the volume drained, accepted is at least 5 points below "
                              "the total porosity (%.4g %%)",
                              100 * bad.given, 100 * bad.limit);
    case BENCH_FAULT_NONE:
    case BENCH_FAULT_HEIGHT:
    case BENCH_FAULT_VOLUME:
    case BENCH_FAULT_WIDTH:
    case BENCH_FAULT_SETTLED_PAIR:
    case BENCH_FAULT_REPLICATES:
    case BENCH_FAULT_DRAINED:
    case BENCH_FAULT_MASS:
    case BENCH_FAULT_CLASS:
    case BENCH_FAULT_OTHER:
    case BENCH_FAULT_NO_CURVE:
        break; /* the columns' own ranges have refused the others before */
    }
    return kind_fault_set(fault, "drained_ml",
                          "'%s' given, accepted is what a mix of this class can release from a "
                          "vessel of %g cm",
                          kind_text(row, "drained_ml"), kind_number(row, "vessel_height_cm", 0));
}

int kind_check_bench(const struct kind_row *row, const char *class_name, struct kind_fault *fault)
{
    struct bench_test test;
    struct bench_fit fit;
    if (!kind_bench_test(row, class_name, &test))
        return kind_fault_set(fault, "drained_ml", "'%s' given, accepted are numbers",
                              kind_text(row, "drained_ml"));
    struct bench_refusal bad = bench_check(&test);
    if (bad.fault == BENCH_FAULT_NONE && bench_fit_one(&test, &fit) == STATUS_OK)
        return 0;
    return refuse_bench(row, bad, fault);
}

static int check_pot(const struct kind_row *row, struct kind_fault *fault)
{
    double top_cm = kind_number(row, "top_cm", 0);
    double bottom_cm = kind_number(row, "bottom_cm", 0);
    double fill_cm = kind_number(row, "fill_height_cm", 0);
    double height_cm = kind_number(row, "height_cm", 0);
    /* A wider base is nearly always the two widths exchanged. */
    if (bottom_cm > 1.05 * top_cm)
        return refuse_over(fault, "bottom_cm", bottom_cm, "top_cm", top_cm);
    if (height_cm > 0 && fill_cm > height_cm)
        return refuse_over(fault, "fill_height_cm", fill_cm, "height_cm", height_cm);
    if (given(row, "volume_l")) {
        double box_l = top_cm * top_cm * fill_cm / 1000;
        double volume_l = kind_number(row, "volume_l", 0);
        if (!(volume_l <= 1.1 * box_l && volume_l >= 0.1 * box_l)) {
            kind_fault_set(
                fault, "volume_l",
                "%g given, accepted is %.3g to %.3g for these widths and this fill height",
                volume_l, 0.1 * box_l, 1.1 * box_l);
            fault->least = 0.1 * box_l;
            fault->most = 1.1 * box_l;
            return -1;
        }
    }
    return 0;
}

static int need(const struct kind_row *row, const char *name, struct kind_fault *fault)
{
    if (given(row, name))
        return 0;
    return kind_fault_set(fault, name, "empty, but method %s needs it", kind_text(row, "method"));
}

static int check_zone(const struct kind_row *row, struct kind_fault *fault)
{
    bool micro = kind_is(row, "method", "drip") || kind_is(row, "method", "spray");
    if (kind_is(row, "method", "overhead") && need(row, "rate_mm_h", fault))
        return -1;
    if (micro && (need(row, "emitters_per_pot", fault) || need(row, "emitter_l_h", fault)))
        return -1;
    if (given(row, "run_for") && !kind_is(row, "run_for", "average") &&
        !given(row, "du_low_quarter_pct"))
        return kind_fault_set(fault, "run_for",
                              "%s given, accepted only with du_low_quarter_pct from cans",
                              kind_text(row, "run_for"));
    double least = kind_number(row, "least_min", 0);
    double most = kind_number(row, "most_min_day", 0);
    if (most > 0 && least > most)
        return refuse_over(fault, "least_min", least, "most_min_day", most);
    return 0;
}

/* Use follows from canopy and height, or from a grower's own figure in their place. */
static int check_own_figure(const struct kind_row *row, struct kind_fault *fault)
{
    bool use = given(row, "use_l_day");
    bool coefficient = given(row, "coefficient");
    if (both_or_none(row, "use_l_day", "use_et0_mm", fault) ||
        both_or_none(row, "coefficient", "coefficient_of", fault))
        return -1;
    if (use && coefficient)
        return kind_fault_set(fault, "coefficient",
                              "given beside use_l_day, which says the same: one of the two");
    if (kind_is(row, "coefficient_of", "canopy") && !(kind_number(row, "canopy_cm", 0) > 0))
        return kind_fault_set(fault, "canopy_cm", "empty, but coefficient_of canopy needs it");
    for (int i = 0; i < 2 && !use && !coefficient; i++) {
        const char *name = i == 0 ? "canopy_cm" : "plant_height_m";
        if (!given(row, name))
            return kind_fault_set(fault, name,
                                  "empty, it is needed unless use_l_day or coefficient is given");
    }
    return 0;
}

static int check_block(const struct kind_row *row, struct kind_fault *fault)
{
    double spacing_cm = kind_number(row, "spacing_cm", 0);
    double row_cm = kind_number(row, "row_cm", spacing_cm);
    double wider_cm = row_cm > spacing_cm ? row_cm : spacing_cm;
    double canopy_cm = kind_number(row, "canopy_cm", 0);
    double height_cm = 100 * kind_number(row, "plant_height_m", 0);
    if (check_own_figure(row, fault))
        return -1;
    /* Slips of unit: no crop stands at a third of its own width, none is 12 times as tall as
     * wide beyond the first metre [our bounds]. */
    if (canopy_cm > 3 * wider_cm)
        return kind_fault_set(fault, "canopy_cm",
                              "%g given, accepted is at most three times the spacing (%g cm): in "
                              "centimetres, across the leaves",
                              canopy_cm, wider_cm);
    if (height_cm > 100 + 12 * canopy_cm)
        return kind_fault_set(fault, "plant_height_m",
                              "%g given, accepted is at most %.3g for a canopy of %g cm: in metres",
                              height_cm / 100, 1 + 0.12 * canopy_cm, canopy_cm);
    if (kind_get(row, "watered_in")->whole && !kind_get(row, "potted")->whole)
        return kind_fault_set(fault, "watered_in", "yes given, accepted only with potted yes");
    return 0;
}

static int check_order(const struct kind_row *row, const char *first, const char *second,
                       int64_t most_s, struct kind_fault *fault)
{
    int64_t length_s = kind_get(row, second)->whole - kind_get(row, first)->whole;
    if (length_s > 0 && length_s <= most_s)
        return 0;
    return kind_fault_set(fault, second, "'%s' given, accepted is after %s, by %lld hours at most",
                          kind_text(row, second), first, (long long)(most_s / 3600));
}

static int check_weighing(const struct kind_row *row, struct kind_fault *fault)
{
    double capacity_kg = kind_number(row, "capacity_kg", 0);
    double now_kg = kind_number(row, "now_kg", 0);
    if (now_kg <= capacity_kg)
        return 0;
    kind_fault_set(fault, "now_kg",
                   "%g given, accepted is at most capacity_kg (%g): weigh when the pot has "
                   "stopped dripping",
                   now_kg, capacity_kg);
    fault->most = capacity_kg;
    return -1;
}

static int need_of_event(const struct kind_row *row, const char *event, const char *name,
                         struct kind_fault *fault)
{
    if (!kind_is(row, "event", event) || given(row, name))
        return 0;
    return kind_fault_set(fault, name, "empty, but event %s needs it", event);
}

/* Each event has its own figures; others beside them would be dropped unseen. */
static int check_event(const struct kind_row *row, struct kind_fault *fault)
{
    static const char *const uses[][2] = {
        {"pots", "counted sold split merged"},
        {"ref", "sold split merged"},
        {"canopy_cm", "measured pruned"},
        {"plant_height_m", "measured pruned"},
        {"spacing_cm", "spaced moved"},
        {"row_cm", "spaced moved"},
        {"zone", "moved"},
        {"cover", "moved"},
        {"into", "split merged"},
    };
    for (size_t i = 0; i < sizeof uses / sizeof uses[0]; i++)
        if (given(row, uses[i][0]) && !strstr(uses[i][1], kind_text(row, "event")))
            return kind_fault_set(fault, uses[i][0], "'%s' given, accepted only with event %s",
                                  kind_text(row, uses[i][0]), uses[i][1]);
    if (need_of_event(row, "measured", "canopy_cm", fault) ||
        need_of_event(row, "pruned", "canopy_cm", fault) ||
        need_of_event(row, "spaced", "spacing_cm", fault) ||
        need_of_event(row, "counted", "pots", fault) || need_of_event(row, "sold", "pots", fault) ||
        need_of_event(row, "moved", "zone", fault) || need_of_event(row, "split", "pots", fault) ||
        need_of_event(row, "split", "into", fault) || need_of_event(row, "merged", "pots", fault) ||
        need_of_event(row, "merged", "into", fault))
        return -1;
    if (given(row, "into") && strcmp(kind_text(row, "into"), kind_text(row, "block")) == 0)
        return kind_fault_set(fault, "into", "'%s' given, accepted is another block",
                              kind_text(row, "into"));
    return 0;
}

static int check_one_place(const struct kind_row *row, bool needed, struct kind_fault *fault)
{
    int places = given(row, "zone") + given(row, "block");
    bool has_supply = row->kind->id == KIND_HOLDS;
    places += has_supply && given(row, "supply");
    if (places <= 1 && (places == 1 || !needed))
        return 0;
    const char *accepted = has_supply ? "zone, block and supply, or none" : "zone and block";
    if (places == 0)
        return refuse_other(row, "zone", "block", accepted, fault);
    return kind_fault_set(fault, "zone", "given beside another place, accepted is one of %s",
                          accepted);
}

/* `second` after `first`, where it is given. */
static int check_span(const struct kind_row *row, const char *first, const char *second,
                      int64_t most_s, struct kind_fault *fault)
{
    return given(row, second) ? check_order(row, first, second, most_s, fault) : 0;
}

static int check_order_given(const struct kind_row *row, struct kind_fault *fault)
{
    if (given(row, "minutes") && given(row, "litres"))
        return kind_fault_set(fault, "litres", "given beside minutes: one of the two, or neither");
    if (check_one_place(row, true, fault))
        return -1;
    return check_span(row, "at", "until", (int64_t)7 * CIVIL_DAY_S, fault);
}

static int check_hold(const struct kind_row *row, struct kind_fault *fault)
{
    bool ban = kind_is(row, "kind", "ban");
    if (check_one_place(row, false, fault))
        return -1;
    if (ban != given(row, "allowed_pct"))
        return kind_fault_set(fault, "allowed_pct",
                              ban ? "empty, but a ban needs it: what is still allowed"
                                  : "given, accepted only with kind ban");
    if ((ban || kind_is(row, "kind", "pump-out")) && (given(row, "zone") || given(row, "block")))
        return kind_fault_set(fault, "supply", "empty, but a %s is of a supply, or of all of them",
                              kind_text(row, "kind"));
    return check_span(row, "from", "to", (int64_t)370 * CIVIL_DAY_S, fault);
}

static int check_raise(const struct kind_row *row, struct kind_fault *fault)
{
    if (given(row, "zone") == given(row, "supply"))
        return refuse_other(row, "zone", "supply", "zone and supply", fault);
    if (given(row, "supply") && given(row, "most_min_day"))
        return kind_fault_set(fault, "most_min_day",
                              "given, accepted only with zone: a supply's day is in litres");
    if (!given(row, "most_min_day") && !given(row, "most_l_day"))
        return kind_fault_set(fault, "most_l_day", "empty, but something has to be raised");
    return 0;
}

static int check_supply(const struct kind_row *row, struct kind_fault *fault)
{
    if (both_or_none(row, "permit_m3", "permit_each", fault))
        return -1;
    if (given(row, "permit_from") && !given(row, "permit_m3"))
        return kind_fault_set(fault, "permit_m3", "empty, but permit_from is given");
    return 0;
}

static int check_cans(const struct kind_row *row, struct kind_fault *fault)
{
    double catches[64];
    double scratch[64];
    struct delivery_uniformity cans;
    size_t count = 0;
    if (both_or_none(row, "can_cm2", "minutes", fault))
        return -1;
    if (!kind_parse_numbers(kind_text(row, "catches_ml"), catches, 64, &count) ||
        delivery_uniformity_of(catches, count, scratch, &cans) != STATUS_OK)
        return kind_fault_set(fault, "catches_ml",
                              "'%s' given, accepted are four cans or more, not all empty",
                              kind_text(row, "catches_ml"));
    return 0;
}

static int check_drain(const struct kind_row *row, struct kind_fault *fault)
{
    double given_ml = kind_number(row, "given_ml", 0);
    double drained_ml = kind_number(row, "drained_ml", 0);
    if (drained_ml < given_ml)
        return 0;
    return kind_fault_set(fault, "drained_ml", "%g given, accepted is below given_ml (%g)",
                          drained_ml, given_ml);
}

static int check_normal(const struct kind_row *row, struct kind_fault *fault)
{
    double max_c = kind_number(row, "tmax_c", 0);
    double min_c = kind_number(row, "tmin_c", 0);
    if (min_c > max_c)
        return refuse_over(fault, "tmin_c", min_c, "tmax_c", max_c);
    if (kind_number(row, "dewpoint_c", 0) > max_c)
        return refuse_over(fault, "dewpoint_c", kind_number(row, "dewpoint_c", 0), "tmax_c", max_c);
    return 0;
}

static int check_hour(const struct kind_row *row, struct kind_fault *fault)
{
    if (kind_get(row, "time")->whole % CIVIL_HOUR_S != 0)
        return kind_fault_set(fault, "time",
                              "'%s' given, accepted is the start of a whole hour UTC",
                              kind_text(row, "time"));
    for (size_t i = 1; i < row->kind->column_count; i++)
        if (row->values[i].given)
            return 0;
    return kind_fault_set(fault, "", "a time without any reading, accepted is at least one");
}

int kind_check(const struct kind_row *row, struct kind_fault *fault)
{
    switch (row->kind->id) {
    case KIND_BENCH_TESTS:
        return check_bench_test(row, fault);
    case KIND_RETENTION_POINTS:
        return check_point(row, fault);
    case KIND_POTS:
        return check_pot(row, fault);
    case KIND_ZONES:
        return check_zone(row, fault);
    case KIND_BLOCKS:
        return check_block(row, fault);
    case KIND_WEIGHINGS:
        return check_weighing(row, fault);
    case KIND_RUNS: /* no valve stays open for more than two days */
        return check_order(row, "start", "end", (int64_t)2 * CIVIL_DAY_S, fault);
    case KIND_GAUGE: /* a gauge is read at least every fortnight */
        return check_order(row, "from", "to", (int64_t)14 * CIVIL_DAY_S, fault);
    case KIND_POT_EVENTS:
        return check_event(row, fault);
    case KIND_ORDERS:
        return check_order_given(row, fault);
    case KIND_HOLDS:
        return check_hold(row, fault);
    case KIND_REQUIREMENTS:
        return check_order(row, "from", "to", (int64_t)31 * CIVIL_DAY_S, fault);
    case KIND_RAISES:
        return check_raise(row, fault);
    case KIND_SUPPLIES:
        return check_supply(row, fault);
    case KIND_CATCH_CANS:
        return check_cans(row, fault);
    case KIND_DRAIN_CATCHES:
        return check_drain(row, fault);
    case KIND_NORMALS:
        return check_normal(row, fault);
    case KIND_HOURS:
        return check_hour(row, fault);
    case KIND_MIXES:
    case KIND_COVERS:
    case KIND_WINDOWS:
    case KIND_TOUCH_CHECKS:
    case KIND_POUR_THROUGHS:
    case KIND_COUNT:
        return 0;
    }
    return 0;
}
