/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the plan asks people to look at, and what they told it beside the water: peat that sheds
 * water, dry pots before a frost, permits, meters, odd figures, raised limits, joined pots, what a
 * run is for.
 */
#include "world.h"

#include <math.h>

#define H CIVIL_HOUR_S

/* --- peat that got too dry ----------------------------------------------------------------- */

/* Class peat: once it lacked more than 0.6 of its available water it refills to 0.8 of container
 * capacity (peat regains about 30 % less after drying: Agronomy 10:1389; figures our choice). */
static struct world *dry_peat(double lacking_share)
{
    struct world *w = world_new();
    w->blocks[0].stress_p = 0.5;
    assert_int_equal(world_plan(w), STATUS_OK);
    double available_l = w->result.blocks[0].available_l;
    w->weighings[0] = (struct nursery_weighing){0, NOW_S - 40 * H, lacking_share * available_l};
    /* from four in the morning for three hours: it would fill any pot */
    w->runs[0] = world_run(0, NOW_S - 38 * H, NOW_S - 35 * H, -1.0, NURSERY_RUN_REPORTED,
                           NURSERY_IRRIGATION);
    w->nursery.run_count = 1;
    return w;
}

static double highest_after_l(struct world *w, int64_t run_s)
{
    w->input.now_s = run_s + 2 * H;
    assert_int_equal(world_plan(w), STATUS_OK);
    w->input.now_s = NOW_S;
    return w->result.blocks[0].water_l;
}

static void plan_peat_that_dried_out_fills_to_four_fifths_and_says_so(void **state)
{
    (void)state;
    struct world *w = dry_peat(0.4);
    double full_l = highest_after_l(w, NOW_S - 38 * H);
    double capacity_l = w->result.blocks[0].figures.water_l;
    assert_null(world_notice(w, PLAN_WET_BY_HAND));
    assert_true(full_l > 0.9 * capacity_l);
    world_free(w);
    w = dry_peat(0.7);
    double half_l = highest_after_l(w, NOW_S - 38 * H);
    assert_true(half_l < 0.80 * capacity_l && half_l > 0.76 * capacity_l);
    const struct plan_reason *notice = world_notice(w, PLAN_WET_BY_HAND);
    assert_non_null(notice);
    assert_int_equal(notice->block, 0);
    check_near(notice->a, 1.0, 0.0, "one block of the zone");
    assert_int_equal(w->result.hand_count, 0);       /* the plan waters it, people wet it */
    w->mixes[0] = world_mix(220.0, BENCH_BARK_AGED); /* bark takes it up */
    w->weighings[0].missing_l = 0.7 * w->result.blocks[0].available_l;
    highest_after_l(w, NOW_S - 38 * H);
    assert_null(world_notice(w, PLAN_WET_BY_HAND));
    world_free(w);
}

static void plan_two_soaks_within_two_days_wet_it_again(void **state)
{
    (void)state;
    struct world *w = dry_peat(0.7);
    w->runs[1] = w->runs[0];
    w->runs[1].start_s += 4 * H;
    w->runs[1].end_s += 4 * H;
    w->nursery.run_count = 2;
    highest_after_l(w, w->runs[1].start_s);
    assert_null(world_notice(w, PLAN_WET_BY_HAND));
    for (size_t h = 0; h < HISTORY_H; h++) /* nothing is used meanwhile */
        w->hours[h].radiation_mj_m2 = w->hours[h].wind_2m_m_s = 0.0;
    w->weighings[0].at_s -= 48 * H;
    w->runs[0].start_s -= 47 * H;
    w->runs[0].end_s -= 47 * H;
    highest_after_l(w, w->runs[1].start_s);
    assert_non_null(world_notice(w, PLAN_WET_BY_HAND)); /* the first soak was too long ago */
    /* a pot that weighs more than four fifths did take it up */
    w->weighings[1] = (struct nursery_weighing){0, w->runs[1].start_s + 90 * 60, 0.0};
    w->nursery.weighing_count = 2;
    highest_after_l(w, w->runs[1].start_s);
    assert_null(world_notice(w, PLAN_WET_BY_HAND));
    world_free(w);
}

/* --- frost --------------------------------------------------------------------------------- */

static void plan_frost_names_frost_free_hours_of_the_day(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->weighings[0].missing_l = 0.4;
    for (size_t h = HISTORY_H + 8; h < HISTORY_H + 13; h++) /* 02:00 to 07:00 */
        w->hours[h].temperature_c = -1.0;
    assert_int_equal(world_plan(w), STATUS_OK);
    const struct plan_reason *notice = world_notice(w, PLAN_FROST_IN_WINDOW);
    assert_non_null(notice);
    /* three hours after the last freezing hour, until sunset (45 N, July: about 19:50) */
    assert_int_equal(notice->until_s, NOW_S + 16 * H);
    check_near(notice->b, 9.6, 0.5, "hours");
    for (size_t h = HISTORY_H + 13; h < HISTORY_H + 40; h++)
        w->hours[h].temperature_c = 1.0; /* all day */
    assert_int_equal(world_plan(w), STATUS_OK);
    notice = world_notice(w, PLAN_FROST_IN_WINDOW);
    assert_non_null(notice);
    assert_int_equal(notice->until_s, 0);
    world_free(w);
}

static void plan_dry_evergreens_are_named_before_a_frost(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->weighings[0].missing_l = 0.25;
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_null(world_notice(w, PLAN_DRY_BEFORE_FROST));
    w->hours[HISTORY_H + 30].temperature_c = -2.0;
    assert_int_equal(world_plan(w), STATUS_OK);
    const struct plan_reason *notice = world_notice(w, PLAN_DRY_BEFORE_FROST);
    assert_non_null(notice);
    check_near(notice->a, 1.0, 0.0, "blocks");
    check_near(notice->b, -2.0, 0.0, "how cold");
    assert_int_equal(notice->at_s, NOW_S + 30 * H);
    w->states[0].leaf = DEMAND_LEAF_NONE; /* bare twigs in the open drink nothing */
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_null(world_notice(w, PLAN_DRY_BEFORE_FROST));
    w->states[0].leaf = DEMAND_LEAF_EVERGREEN;
    w->weighings[0].missing_l = 0.0; /* full */
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_null(world_notice(w, PLAN_DRY_BEFORE_FROST));
    w->weighings[0].missing_l = 0.25;
    w->hours[HISTORY_H + 30].temperature_c = 10.0;
    w->hours[HISTORY_H + 37].temperature_c = -2.0; /* not yet */
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_null(world_notice(w, PLAN_DRY_BEFORE_FROST));
    world_free(w);
}

/* --- permits, meters ----------------------------------------------------------------------- */

static void plan_permit_is_passed_by_the_run_that_passes_it(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->weighings[0].missing_l = 0.4;
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_true(w->result.run_count >= 2);
    double first_l = w->result.runs[0].litres;
    double second_l = w->result.runs[1].litres;
    w->supplies[0].permit_l = 50000.0;
    w->supplies[0].permit_used_l = 50000.0 - first_l - second_l / 2.0;
    w->supplies[0].permit_until_s = NOW_S + 60 * CIVIL_DAY_S;
    assert_int_equal(world_plan(w), STATUS_OK);
    const struct plan_reason *notice = world_notice(w, PLAN_OVER_PERMIT);
    assert_non_null(notice);
    assert_int_equal(notice->other, 0);
    assert_int_equal(notice->at_s, w->result.runs[1].start_s);
    assert_int_equal(notice->until_s, NOW_S + 60 * CIVIL_DAY_S);
    check_near(notice->b, 50000.0, 0.0, "permitted");
    w->supplies[0].permit_until_s = w->result.runs[1].start_s; /* the next period begins */
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_null(world_notice(w, PLAN_OVER_PERMIT));
    w->supplies[0].permit_used_l = 50001.0; /* already */
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_int_equal(world_notice(w, PLAN_OVER_PERMIT)->at_s, NOW_S);
    assert_true(w->result.run_count >= 2); /* said, not obeyed */
    world_free(w);
}

static void plan_meters_off_the_expected_flow_are_said(void **state)
{
    (void)state;
    struct world *w = world_new();
    const struct {
        double share;
        enum plan_code code;
        bool said, counted;
    } cases[] = {{0.0, PLAN_FLOW_LOW, false, false},   {1.0, PLAN_FLOW_LOW, false, false},
                 {0.9, PLAN_FLOW_LOW, false, false},   {0.89, PLAN_FLOW_LOW, true, true},
                 {0.7, PLAN_FLOW_LOW, true, true},     {0.69, PLAN_FLOW_LOW, true, false},
                 {1.15, PLAN_FLOW_HIGH, false, false}, {1.2, PLAN_FLOW_HIGH, true, false}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        w->zones[0].metered_share = cases[i].share;
        assert_int_equal(world_plan(w), STATUS_OK);
        const struct plan_reason *notice = world_notice(w, cases[i].code);
        assert_int_equal(notice != NULL, cases[i].said);
        if (notice) {
            check_near(notice->a, 100.0 * cases[i].share, 1e-9, "per cent");
            assert_int_equal(notice->b > 0.0, cases[i].counted);
        }
    }
    world_free(w);
}

/* --- figures and people -------------------------------------------------------------------- */

/* Limits of our own; published use of such pots is 0.12 to 1.3 L a day, coefficients on the pot top
 * are 1 to 5 (Schuch & Burger 1997, Beeson 2010). */
static void plan_figures_that_cannot_be_are_said(void **state)
{
    (void)state;
    struct world *w = world_new();
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_null(world_notice(w, PLAN_ODD_USE));
    w->blocks[0].use = NURSERY_USE_MEASURED;
    w->blocks[0].use_et0_mm = 5.0;
    w->blocks[0].use_l = 4.0; /* of a 3 l pot */
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_int_equal((int)world_notice(w, PLAN_ODD_USE)->a, DEMAND_DOUBT_MUCH);
    w->blocks[0].use_l = 0.012;
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_int_equal((int)world_notice(w, PLAN_ODD_USE)->a, DEMAND_DOUBT_LITTLE);
    w->states[0].leaf = DEMAND_LEAF_NONE; /* leafless stock does */
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_null(world_notice(w, PLAN_ODD_USE));
    w->states[0].leaf = DEMAND_LEAF_FULL;
    w->blocks[0].use_l = 0.4;
    w->states[0].ground_m2 = 0.02; /* pots wider than their bed */
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_non_null(world_notice(w, PLAN_ODD_USE));
    w->states[0].pots = 0.0;
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_null(world_notice(w, PLAN_ODD_USE));
    world_free(w);
}

static void plan_blocks_nobody_felt_are_counted(void **state)
{
    (void)state;
    struct world *w = world_new();
    assert_int_equal(world_plan(w), STATUS_OK); /* weighed */
    assert_null(world_notice(w, PLAN_NEVER_FELT));
    w->nursery.weighing_count = 0;
    w->runs[0] = world_run(0, NOW_S - 38 * H, NOW_S - 34 * H, -1.0, NURSERY_RUN_REPORTED,
                           NURSERY_IRRIGATION);
    w->nursery.run_count = 1;
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_int_equal(w->result.blocks[0].known, PLAN_KNOWN_FILLED);
    const struct plan_reason *notice = world_notice(w, PLAN_NEVER_FELT);
    assert_non_null(notice); /* a run that filled it is no hand in the pot */
    assert_int_equal(notice->block, 0);
    check_near(notice->a, 1.0, 0.0, "blocks");
    w->touches[0] = (struct nursery_touch){0, NOW_S - 40 * H, NURSERY_RIGHT, NURSERY_EDGE};
    w->nursery.touch_count = 1;
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_null(world_notice(w, PLAN_NEVER_FELT));
    world_free(w);
}

/* --- raised limits ------------------------------------------------------------------------- */

static void plan_raised_limit_counts_on_its_day_only(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->weighings[0].missing_l = 0.6;
    w->zones[0].most_min_day = 10.0;
    assert_int_equal(world_plan(w), STATUS_OK);
    int64_t tomorrow = w->result.days[1].local_days;
    check_near(w->result.runs[0].minutes, 10.0, 0.0, "cut");
    w->raises[0] = (struct nursery_raise){0, NURSERY_NONE, tomorrow, 25.0, 0.0};
    w->nursery.raise_count = 1;
    assert_int_equal(world_plan(w), STATUS_OK);
    check_near(w->result.runs[0].minutes, 25.0, 0.0, "raised");
    assert_true(w->result.run_count > 1);
    assert_true(w->result.runs[1].minutes <= 10); /* and down again */
    w->raises[0].local_days = tomorrow + 1;
    assert_int_equal(world_plan(w), STATUS_OK);
    check_near(w->result.runs[0].minutes, 10.0, 0.0, "another day");
    w->raises[0] = (struct nursery_raise){0, NURSERY_NONE, tomorrow, 5.0, 0.0};
    assert_int_equal(world_plan(w), STATUS_OK);
    check_near(w->result.runs[0].minutes, 10.0, 0.0, "never lowers");
    world_free(w);
}

static void plan_raised_supply_gives_more_that_day(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->weighings[0].missing_l = 0.6;
    w->supplies[0].daily_limit_l = 900.0;
    assert_int_equal(world_plan(w), STATUS_OK);
    double cut_l = w->result.days[1].litres;
    assert_true(cut_l <= 900.0);
    w->raises[0] =
        (struct nursery_raise){NURSERY_NONE, 0, w->result.days[1].local_days, 0.0, 1500.0};
    w->nursery.raise_count = 1;
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_true(w->result.days[1].litres > 1400.0 && w->result.days[1].litres <= 1500.0);
    assert_true(w->result.days[2].litres <= 900.0);
    world_free(w);
}

/* --- joined pots, purposes ------------------------------------------------------------------ */

static void plan_joined_pots_dry_the_block(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->own_places = true;
    w->states[0].cover = NURSERY_NONE;
    w->states[1] = w->states[0];
    w->states[1].at_s = NOW_S - H;
    w->nursery.state_count = 2;
    w->blocks[0].state_count = 2;
    w->weighings[0] = (struct nursery_weighing){0, NOW_S - 2 * H, 0.0};
    assert_int_equal(world_plan(w), STATUS_OK);
    double before_l = w->result.blocks[0].water_l;
    double refill_l = w->result.blocks[0].refill_l;
    w->states[1].joined = 0.2;
    assert_int_equal(world_plan(w), STATUS_OK);
    const struct plan_block *block = &w->result.blocks[0];
    double newcomer_l = block->ceiling_l - refill_l;
    check_near(block->water_l, before_l - 0.2 * (before_l - newcomer_l), 0.02, "mixed");
    check_near(block->driest_l, refill_l, 0.03, "some are at their refill point");
    assert_int_equal(block->known, PLAN_KNOWN_WEIGHED);
    w->states[1].joined = 0.5;
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_int_equal(w->result.blocks[0].known, PLAN_KNOWN_ASSUMED);
    world_free(w);
}

static void plan_run_says_what_it_is_for(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->requirements[0] = (struct nursery_requirement){0, NOW_S, NOW_S + 20 * H, 15.0, NURSERY_FEED};
    w->nursery.requirement_count = 1;
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_true(world_run_says(&w->result.runs[0], PLAN_REQUIRED));
    assert_int_equal(w->result.runs[0].purpose, NURSERY_FEED);
    double fed_l = w->result.blocks[0].given_l;
    w->requirements[0].purpose = NURSERY_FLUSH; /* of the lines: no water held */
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_int_equal(w->result.runs[0].purpose, NURSERY_FLUSH);
    assert_true(w->result.blocks[0].given_l < fed_l - 0.05);
    w->weighings[0].missing_l = 0.5; /* due anyway: then it waters */
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_int_equal(w->result.runs[0].purpose, NURSERY_IRRIGATION);
    world_free(w);
}

static void plan_run_underway_keeps_the_pulses_it_began_with(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->runs[0] =
        world_run(0, NOW_S - H / 2, NOW_S + H, 60.0 * 36, NURSERY_RUN_UNDERWAY, NURSERY_IRRIGATION);
    w->runs[0].pulses = 3;
    w->runs[0].pulse_min = 12;
    w->runs[0].pause_min = 27;
    w->nursery.run_count = 1;
    assert_int_equal(world_plan(w), STATUS_OK);
    const struct plan_run *run = &w->result.runs[0];
    assert_true(run->underway);
    assert_int_equal(run->pulses, 3);
    assert_int_equal(run->pulse_min, 12);
    assert_int_equal(run->pause_min, 27);
    w->runs[0].pulses = 0; /* not known: one */
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_int_equal(w->result.runs[0].pulses, 1);
    assert_int_equal(w->result.runs[0].pulse_min, 36);
    assert_true(w->result.runs[0].litres_pot > 0.05 && w->result.runs[0].litres_pot < 1.0);
    world_free(w);
}

/* Said to start in three minutes: it does, and counts against the limit of its own day. */
static void plan_run_about_to_start_is_kept(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->zones[0].most_min_day = 40.0;
    w->runs[0] = world_run(0, NOW_S + 180, NOW_S + 180 + 1800, 60.0 * 30, NURSERY_RUN_UNDERWAY,
                           NURSERY_IRRIGATION);
    w->nursery.run_count = 1;
    w->weighings[0].missing_l = 0.6;
    w->windows[0].start.second = 18 * 3600;
    w->windows[0].end.second = 22 * 3600;
    assert_int_equal(world_plan(w), STATUS_OK);
    const struct plan_run *run = &w->result.runs[0];
    assert_int_equal(run->start_s, NOW_S + 180);
    assert_int_equal(run->minutes, 30);
    assert_true(run->underway);
    double today_min = 0.0;
    for (size_t r = 0; r < w->result.run_count; r++)
        if (w->result.runs[r].start_s < NOW_S + 6 * H)
            today_min += w->result.runs[r].minutes;
    check_near(today_min, 40.0, 0.5, "ten more minutes are left of the day");
    world_free(w);
}

/* A little more in hours that have had their run does not open the valve again. */
static void plan_hours_that_had_their_run_get_no_second_for_a_little(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->windows[0].start.second = 12 * 3600;
    w->windows[0].end.second = 22 * 3600;
    w->runs[0] = world_run(0, NOW_S - 3 * H, NOW_S - H, 60.0 * 100, NURSERY_RUN_REPORTED,
                           NURSERY_IRRIGATION);
    w->nursery.run_count = 1;
    w->weighings[0] = (struct nursery_weighing){0, NOW_S - H / 2, 0.08};
    w->blocks[0].refill_fraction = 0.05;
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_true(w->result.run_count == 0 || w->result.runs[0].start_s > NOW_S + 12 * H);
    w->runs[0].start_s -= 4 * H; /* before these hours */
    w->runs[0].end_s -= 4 * H;
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_true(w->result.runs[0].start_s < NOW_S + 4 * H);
    assert_true(w->result.runs[0].minutes < 25);
    w->runs[0].start_s += 4 * H;
    w->runs[0].end_s += 4 * H;
    w->weighings[0].missing_l = 0.6; /* much more */
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_true(w->result.runs[0].start_s < NOW_S + 4 * H);
    world_free(w);
}

/* A day past the stress limit because the hours of today are over is for a person, whether or
 * not the plan found it while there still were hours. */
static void watch_long_stress_between_hours_asks_for_the_hose(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->windows[0].start = (struct nursery_edge){NURSERY_CLOCK, 14 * 3600}; /* 20 h from now */
    w->windows[0].end = (struct nursery_edge){NURSERY_CLOCK, 16 * 3600};
    do { /* to just past its limit */
        w->weighings[0].missing_l += 0.02;
        assert_int_equal(world_plan(w), STATUS_OK);
    } while (w->result.blocks[0].stress_s == 0 ||
             w->result.blocks[0].stress_s > NOW_S + CIVIL_HOUR_S);
    const struct plan_reason *stress = world_notice(w, PLAN_PASSES_STRESS);
    assert_non_null(stress);
    assert_in_range(stress->at_s, NOW_S - 2 * CIVIL_HOUR_S, NOW_S + 3 * CIVIL_HOUR_S);
    assert_int_equal(w->result.hand_count, 1);
    assert_null(world_notice(w, PLAN_STRAINED));
    /* hours at dawn are soon enough */
    w->windows[0].start = (struct nursery_edge){NURSERY_CLOCK, 2 * 3600};
    w->windows[0].end = (struct nursery_edge){NURSERY_CLOCK, 4 * 3600};
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_null(world_notice(w, PLAN_PASSES_STRESS));
    assert_non_null(world_notice(w, PLAN_STRAINED));
    /* not when most of that day is behind the plants already */
    w->weighings[0].at_s = NOW_S - 8 * CIVIL_HOUR_S;
    assert_int_equal(world_plan(w), STATUS_OK);
    stress = world_notice(w, PLAN_PASSES_STRESS);
    assert_non_null(stress);
    assert_int_equal(w->result.hand_count, 1); /* since when it is so, there as well */
    assert_in_range(stress->at_s, NOW_S - 8 * CIVIL_HOUR_S, NOW_S - 6 * CIVIL_HOUR_S);
    assert_int_equal(w->result.hands[0].limit_s, stress->at_s);
    assert_int_equal(w->result.hands[0].reason.at_s, stress->at_s);
    world_free(w);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(watch_long_stress_between_hours_asks_for_the_hose),
        cmocka_unit_test(plan_peat_that_dried_out_fills_to_four_fifths_and_says_so),
        cmocka_unit_test(plan_two_soaks_within_two_days_wet_it_again),
        cmocka_unit_test(plan_frost_names_frost_free_hours_of_the_day),
        cmocka_unit_test(plan_dry_evergreens_are_named_before_a_frost),
        cmocka_unit_test(plan_permit_is_passed_by_the_run_that_passes_it),
        cmocka_unit_test(plan_meters_off_the_expected_flow_are_said),
        cmocka_unit_test(plan_figures_that_cannot_be_are_said),
        cmocka_unit_test(plan_blocks_nobody_felt_are_counted),
        cmocka_unit_test(plan_raised_limit_counts_on_its_day_only),
        cmocka_unit_test(plan_raised_supply_gives_more_that_day),
        cmocka_unit_test(plan_joined_pots_dry_the_block),
        cmocka_unit_test(plan_run_says_what_it_is_for),
        cmocka_unit_test(plan_run_underway_keeps_the_pulses_it_began_with),
        cmocka_unit_test(plan_run_about_to_start_is_kept),
        cmocka_unit_test(plan_hours_that_had_their_run_get_no_second_for_a_little),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
