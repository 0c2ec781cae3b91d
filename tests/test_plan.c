/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The plan over made-up nurseries: one zone where a case needs to be followed by eye, random ones
 * for what must hold always.
 */
#include "check.h"

#include <math.h>
#include <stdio.h>

#include "world.h"

static void plan_full_pot_waits_and_says_until_when(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->states[0].canopy_cm = 5.0; /* a small plant in a 3 L pot: days of water */
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_int_equal(world_runs_on(w, 1), 0);
    assert_int_equal(w->result.zones[0].state, PLAN_ZONE_WAIT);
    assert_int_equal(w->result.zones[0].reason.code, PLAN_STILL_WET);
    assert_true(w->result.zones[0].wait_until_s > NOW_S + CIVIL_DAY_S);
    assert_int_equal(w->result.blocks[0].known, PLAN_KNOWN_WEIGHED);
    check_near(w->result.blocks[0].depletion_l, w->result.blocks[0].use_today_l, 0.05,
               "two evening hours were lost since the weighing");
    world_free(w);
}

static void plan_thirsty_pot_runs_tomorrow_within_its_window(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->weighings[0].missing_l = 0.4;
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_int_equal(world_runs_on(w, 1), 1);
    const struct plan_run *run = &w->result.runs[0];
    assert_int_equal(run->end_s, NOW_S + 14 * CIVIL_HOUR_S); /* 08:00: overhead ends late */
    assert_int_equal(run->reasons[0].code, PLAN_PASSES_REFILL);
    assert_int_equal(run->sure, PLAN_CERTAIN);
    assert_int_equal(w->result.zones[0].state, PLAN_ZONE_RUN);
    /* What it lacks at 04:00 x margin / (rate x top x capture): recomputed from the result. */
    double lacks_l = w->result.blocks[0].depletion_l;
    double top_m2 = w->result.blocks[0].figures.top_area_m2;
    double capture = fmax(1.0, 1.0 + 0.4 * (M_PI / 4.0 * 0.04 / top_m2 - 1.0));
    double minutes =
        lacks_l * fmax(1.0 / 0.85, 1.0 / (0.4 + 0.6 * 0.8)) / (12.0 * top_m2 * capture) * 60.0;
    assert_true(run->minutes >= (int)minutes && run->minutes <= (int)(minutes * 1.15) + 2);
    check_near(run->litres, 60.0 * run->minutes, 1e-9, "flow x minutes");
    world_free(w);
}

static void plan_made_twice_is_the_same_to_the_last_bit(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->weighings[0].missing_l = 0.4;
    assert_int_equal(world_plan(w), STATUS_OK);
    size_t count = w->result.run_count;
    struct plan_run *first = malloc(count * sizeof *first);
    assert_non_null(first);
    memcpy(first, w->result.runs, count * sizeof *first);
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_int_equal(w->result.run_count, count);
    assert_memory_equal(first, w->result.runs, count * sizeof *first);
    free(first);
    world_free(w);
}

/* 20 mm tomorrow noon: half of it counts, still more than the pot lacks, and the stress limit is
 * far if it fails. */
static void plan_rain_that_covers_it_is_waited_for(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->states[0].canopy_cm = 12.0;
    w->weighings[0].missing_l = 0.20;
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_int_equal(w->result.zones[0].state, PLAN_ZONE_RUN);
    for (size_t h = HISTORY_H + 11; h < HISTORY_H + 17; h++)
        w->hours[h].rain_mm = 5.0;
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_int_equal(w->result.zones[0].state, PLAN_ZONE_WAIT_RAIN);
    assert_int_equal(w->result.zones[0].reason.code, PLAN_WAITS_FOR_RAIN);
    check_near(w->result.zones[0].reason.a, 30.0, 1e-9, "millimetres waited for");
    assert_int_equal(w->result.zones[0].wait_until_s, NOW_S + 38 * CIVIL_HOUR_S);
    assert_int_equal(world_runs_on(w, 1), 0);
    world_free(w);
}

/* Rain this evening, before the morning's window: not wet yet, but expected to be. */
static void plan_rain_before_the_window_is_waited_for_not_called_wet(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->states[0].canopy_cm = 12.0;
    w->weighings[0].missing_l = 0.20;
    for (size_t h = HISTORY_H + 2; h < HISTORY_H + 8; h++)
        w->hours[h].rain_mm = 5.0;
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_int_equal(world_runs_on(w, 1), 0);
    assert_int_equal(w->result.zones[0].state, PLAN_ZONE_WAIT_RAIN);
    check_near(w->result.zones[0].reason.a, 30.0, 1e-9, "millimetres waited for");
    /* until the window ends: when the rain fails it is still to come */
    assert_int_equal(w->result.zones[0].wait_until_s, NOW_S + 14 * CIVIL_HOUR_S);
    w->weighings[0].missing_l = 0.0; /* a full pot is simply wet */
    w->states[0].canopy_cm = 5.0;
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_int_equal(w->result.zones[0].state, PLAN_ZONE_WAIT);
    world_free(w);
}

/* The same rain, but the pot would pass its stress limit if it failed: water. */
static void plan_rain_is_not_waited_for_when_failing_would_harm(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->weighings[0].missing_l = 0.40;
    for (size_t h = HISTORY_H + 11; h < HISTORY_H + 17; h++)
        w->hours[h].rain_mm = 5.0;
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_int_equal(w->result.zones[0].state, PLAN_ZONE_RUN);
    assert_false(world_run_says(&w->result.runs[0], PLAN_COUNTS_ON_RAIN)); /* it comes later */
    world_free(w);
}

/* Some rain this evening: the morning's run is the shorter for it and says so, the next does not.
 */
static void plan_run_that_counts_on_rain_says_so(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->weighings[0].missing_l = 0.40;
    assert_int_equal(world_plan(w), STATUS_OK);
    int minutes = w->result.runs[0].minutes;
    for (size_t h = HISTORY_H + 2; h < HISTORY_H + 6; h++)
        w->hours[h].rain_mm = 2.5;
    assert_int_equal(world_plan(w), STATUS_OK);
    const struct plan_run *run = &w->result.runs[0];
    assert_true(run->minutes < minutes);
    assert_true(world_run_says(run, PLAN_COUNTS_ON_RAIN));
    for (size_t r = 1; r < w->result.run_count; r++)
        assert_false(world_run_says(&w->result.runs[r], PLAN_COUNTS_ON_RAIN));
    w->covers[0] = (struct nursery_cover){{0.6, 0.3, true}, 3.0, false};
    w->states[0].cover = w->blocks[0].cover = 0;
    w->nursery.cover_count = 1;
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_false(world_run_says(&w->result.runs[0], PLAN_COUNTS_ON_RAIN));
    world_free(w);
}

static void plan_more_rain_never_more_water(void **state)
{
    (void)state;
    uint64_t seed = 31;
    for (int i = 0; i < 40; i++) {
        struct world *w = world_new();
        w->weighings[0].missing_l = check_between(&seed, 0.0, 0.5);
        w->states[0].canopy_cm = check_between(&seed, 5.0, 30.0);
        assert_int_equal(world_plan(w), STATUS_OK);
        double dry_l = 0.0;
        for (size_t r = 0; r < w->result.run_count; r++)
            dry_l += w->result.runs[r].litres;
        for (size_t h = HISTORY_H; h < HOURS; h++)
            w->hours[h].rain_mm = check_random(&seed) < 0.1 ? check_between(&seed, 0.0, 10.0) : 0.0;
        assert_int_equal(world_plan(w), STATUS_OK);
        double wet_l = 0.0;
        for (size_t r = 0; r < w->result.run_count; r++)
            wet_l += w->result.runs[r].litres;
        /* A run is rounded up to whole minutes: the last one may fall a day earlier or later. */
        assert_true(wet_l <= dry_l * 1.02 + 60.0 * 25.0);
        world_free(w);
    }
}

static void plan_same_plant_in_deeper_pot_never_shorter_interval(void **state)
{
    (void)state;
    struct world *w = world_new();
    assert_int_equal(world_plan(w), STATUS_OK);
    double shallow_d = w->result.blocks[0].interval_d;
    w->states[0].pot = 1;
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_true(w->result.blocks[0].interval_d >= shallow_d);
    assert_true(w->result.blocks[0].figures.air_space > 0.0);
    world_free(w);
}

static void plan_without_records_starts_at_refill_and_says_so(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->nursery.weighing_count = 0;
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_int_equal(w->result.blocks[0].known, PLAN_KNOWN_ASSUMED);
    check_near(w->result.blocks[0].depletion_l, w->result.blocks[0].refill_l, 1e-12,
               "starts at the refill point");
    const struct plan_reason *notice = world_notice(w, PLAN_START_ASSUMED);
    assert_non_null(notice);
    check_near(notice->a, 1.0, 0.0, "one block");
    world_free(w);
}

/* A late report is only another record: the pot is fuller at once, and a filling run makes it
 * known. */
static void plan_late_run_report_fills_the_pot(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->weighings[0] = (struct nursery_weighing){0, NOW_S - 30 * CIVIL_HOUR_S, 0.3};
    assert_int_equal(world_plan(w), STATUS_OK);
    double before_l = w->result.blocks[0].water_l;
    w->runs[0] = world_run(0, NOW_S - 12 * CIVIL_HOUR_S, NOW_S - 9 * CIVIL_HOUR_S, -1.0,
                           NURSERY_RUN_REPORTED, NURSERY_IRRIGATION);
    w->nursery.run_count = 1;
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_true(w->result.blocks[0].water_l > before_l + 0.1);
    assert_int_equal(w->result.blocks[0].known, PLAN_KNOWN_FILLED);
    world_free(w);
}

static void plan_swapped_mix_takes_hold_at_its_moment(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->states[1] = world_state();
    w->states[1].at_s = NOW_S - 5 * CIVIL_HOUR_S;
    w->states[1].mix = 1;
    w->states[1].potted = true;
    w->states[1].watered_in = true;
    w->nursery.state_count = 2;
    w->blocks[0].state_count = 2;
    w->nursery.weighing_count = 0;
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_int_equal(w->result.blocks[0].known, PLAN_KNOWN_POTTED);
    assert_int_equal(w->result.blocks[0].known_s, NOW_S - 5 * CIVIL_HOUR_S);
    /* The wet peat holds less air in this pot than the jar let hope: said. */
    assert_true(w->result.blocks[0].figures.air_space < 0.15);
    world_free(w);
}

/* A liner's roots reach the ball first: little usable water, short intervals; after the weeks it is
 * the whole pot's. */
static void plan_fresh_potting_asks_sooner_until_rooted(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->states[0].potted = true;
    w->states[0].plug_l = 0.3;
    assert_int_equal(world_plan(w), STATUS_OK); /* potted 90 days ago */
    double rooted_l = w->result.blocks[0].available_l;
    double rooted_d = w->result.blocks[0].interval_d;
    w->states[0].at_s = NOW_S - 2 * CIVIL_DAY_S;
    assert_int_equal(world_plan(w), STATUS_OK);
    double fresh_l = w->result.blocks[0].available_l;
    /* share at 2 days of 42: s + (1 - s) 2/42, s = 0.3 L of the pot */
    double share = 0.3 / w->result.blocks[0].figures.volume_l;
    check_near(fresh_l, rooted_l * (share + (1.0 - share) * 2.0 / 42.0), 1e-9, "rooted share");
    assert_true(w->result.blocks[0].interval_d < rooted_d);
    w->states[0].woody = true;
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_true(w->result.blocks[0].available_l < fresh_l);
    world_free(w);
}

static void plan_air_lost_to_roots_is_taken_off_and_shown(void **state)
{
    (void)state;
    struct world *w = world_new();
    assert_int_equal(world_plan(w), STATUS_OK);
    double air = w->result.blocks[0].air;
    assert_true(w->result.blocks[0].air_lost == 0.0);
    w->states[0].air_loss_a_day = 0.001;
    assert_int_equal(world_plan(w), STATUS_OK);
    check_near(w->result.blocks[0].air_lost, 0.09, 1e-12, "a tenth of a point a day, 90 days");
    check_near(w->result.blocks[0].air, air - 0.09, 1e-12, "less air now");
    world_free(w);
}

static void plan_under_cover_gets_no_rain_and_less_sun(void **state)
{
    (void)state;
    struct world *w = world_new();
    for (size_t h = HISTORY_H - 24; h < HISTORY_H; h++)
        w->hours[h].rain_mm = 2.0;
    w->weighings[0] = (struct nursery_weighing){0, NOW_S - 26 * CIVIL_HOUR_S, 0.3};
    assert_int_equal(world_plan(w), STATUS_OK);
    double open_l = w->result.blocks[0].water_l;
    double open_use_l = w->result.blocks[0].use_tomorrow_l;
    w->covers[0] = (struct nursery_cover){{0.6, 0.3, true}, 3.0, false};
    w->nursery.cover_count = 1;
    w->blocks[0].cover = 0;
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_true(w->result.blocks[0].water_l < open_l);
    assert_true(w->result.blocks[0].use_tomorrow_l < open_use_l);
    world_free(w);
}

static void plan_gauge_replaces_the_feeds_half_rain(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->weighings[0] = (struct nursery_weighing){0, NOW_S - 26 * CIVIL_HOUR_S, 0.5};
    for (size_t h = HISTORY_H - 6; h < HISTORY_H - 2; h++)
        w->hours[h].rain_mm = 3.0;
    assert_int_equal(world_plan(w), STATUS_OK);
    double half_l = w->result.blocks[0].water_l;
    w->gauges[0] = (struct nursery_gauge){NOW_S - 24 * CIVIL_HOUR_S, NOW_S, 0.0};
    w->nursery.gauge_count = 1;
    assert_int_equal(world_plan(w), STATUS_OK);
    double none_l = w->result.blocks[0].water_l;
    w->gauges[0].rain_mm = 12.0;
    assert_int_equal(world_plan(w), STATUS_OK);
    double all_l = w->result.blocks[0].water_l;
    assert_true(none_l < half_l && half_l < all_l);
    world_free(w);
}

/* Due an hour before the next hours end is no reason to water a day early; then the run ends before
 * that. */
static void plan_overhead_due_within_its_hours_ends_before(void **state)
{
    (void)state;
    size_t met = 0;
    for (int i = 0; i < 60; i++) {
        struct world *w = world_new();
        w->weighings[0].missing_l = 0.01 * i;
        assert_int_equal(world_plan(w), STATUS_OK);
        for (size_t r = 0; r < w->result.run_count; r++) {
            const struct plan_run *run = &w->result.runs[r];
            const struct plan_reason *why = &run->reasons[0];
            int64_t opens_s = civil_floor_day(run->start_s) + 4 * CIVIL_HOUR_S;
            if (why->code != PLAN_PASSES_REFILL || run->depth_mm > 18.0 ||
                why->at_s < opens_s + 2 * CIVIL_HOUR_S || why->at_s >= opens_s + 4 * CIVIL_HOUR_S)
                continue;
            assert_true(run->end_s <= why->at_s);
            met++;
        }
        world_free(w);
    }
    assert_true(met > 0);
}

static void plan_frost_keeps_overhead_dry_and_says_so(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->weighings[0].missing_l = 0.4;
    for (size_t h = HISTORY_H + 8; h < HISTORY_H + 13; h++)
        w->hours[h].temperature_c = -1.0;
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_int_equal(world_runs_on(w, 1), 0);
    assert_int_equal(w->result.zones[0].state, PLAN_ZONE_UNPLACED);
    assert_non_null(world_notice(w, PLAN_FROST_IN_WINDOW));
    world_free(w);
}

static void plan_wind_moves_overhead_to_calm_hours(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->weighings[0].missing_l = 0.4;
    for (size_t h = HISTORY_H + 12; h < HISTORY_H + 14; h++)
        w->hours[h].wind_2m_m_s = 7.0; /* 06:00 to 08:00 */
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_int_equal(world_runs_on(w, 1), 1);
    assert_true(w->result.runs[0].end_s <= NOW_S + 12 * CIVIL_HOUR_S);
    for (size_t h = HISTORY_H + 9; h < HISTORY_H + 14; h++)
        w->hours[h].wind_2m_m_s = 7.0; /* no calm hour: run, and say it */
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_int_equal(world_runs_on(w, 1), 1);
    bool said = false;
    for (size_t i = 0; i < w->result.runs[0].reason_count; i++)
        said |= w->result.runs[0].reasons[i].code == PLAN_WINDY_HOURS;
    assert_true(said);
    world_free(w);
}

static void plan_daily_limit_of_a_zone_is_never_passed(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->weighings[0].missing_l = 0.5;
    w->zones[0].most_min_day = 10.0;
    assert_int_equal(world_plan(w), STATUS_OK);
    for (size_t d = 0; d < w->result.day_count; d++) {
        int minutes = 0;
        for (size_t r = 0; r < w->result.run_count; r++)
            if (w->result.runs[r].start_s >= w->result.days[d].start_s &&
                w->result.runs[r].start_s < w->result.days[d].end_s)
                minutes += w->result.runs[r].minutes;
        assert_true(minutes <= 10);
    }
    assert_int_equal(w->result.runs[0].minutes, 10);
    assert_non_null(world_notice(w, PLAN_PASSES_STRESS));
    world_free(w);
}

/* What the hose gives is what the pots get, whole or cut by the zone's limit. */
static void plan_by_hand_pots_get_what_the_hose_gives(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->weighings[0].missing_l = 0.4;
    w->zones[0].method = DELIVERY_HAND;
    w->zones[0].flow_l_min = 20.0;
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_int_equal(world_runs_on(w, 1), 1);
    double whole_l = w->result.runs[0].litres_pot * w->states[0].pots;
    check_near(w->result.runs[0].litres, whole_l, 20.0, "to the next whole minute");
    w->zones[0].most_min_day = floor(w->result.runs[0].minutes / 2.0);
    assert_int_equal(world_plan(w), STATUS_OK);
    check_near(w->result.runs[0].minutes, w->zones[0].most_min_day, 0.0, "cut in half");
    check_near(w->result.runs[0].litres_pot * w->states[0].pots, w->result.runs[0].litres, 20.0,
               "so are the pots' litres");
    world_free(w);
}

static void plan_empty_nursery_is_a_plan(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->nursery.block_count = 0;
    w->nursery.zone_count = 0;
    w->nursery.supply_count = 0;
    w->nursery.weighing_count = 0;
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_int_equal(w->result.run_count, 0);
    assert_int_equal(w->result.day_count, DAYS + 1);
    world_free(w);
}

static void plan_no_plants_no_water(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->states[0].pots = 0.0;
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_int_equal(w->result.run_count, 0);
    assert_int_equal(w->result.zones[0].state, PLAN_ZONE_EMPTY);
    assert_int_equal(w->result.blocks[0].next_s, 0);
    world_free(w);
}

static void plan_nonsense_is_refused(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->input.now_s = NOW_S + 400 * CIVIL_DAY_S;
    assert_int_equal(world_plan(w), STATUS_RANGE);
    w->input.now_s = NOW_S;
    w->zones[0].flow_l_min = NAN;
    assert_int_equal(world_plan(w), STATUS_RANGE);
    w->zones[0].flow_l_min = 60.0;
    w->blocks[0].zone = 7;
    assert_int_equal(world_plan(w), STATUS_RANGE);
    w->blocks[0].zone = 0;
    w->blocks[0].theta_low = 0.99;
    assert_true(world_plan(w) != STATUS_OK);
    world_free(w);
}

static void plan_daily_limit_counts_what_ran_today(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->weighings[0].missing_l = 0.5;
    w->zones[0].most_min_day = 30.0;
    /* 20 of the 30 minutes ran just now, and it may run until midnight. */
    w->windows[0].start.second = 0;
    w->windows[0].end.second = 24 * 3600 - 60;
    w->runs[0] = world_run(0, NOW_S - 30 * 60, NOW_S - 10 * 60, 20.0 * w->zones[0].flow_l_min,
                           NURSERY_RUN_REPORTED, NURSERY_IRRIGATION);
    w->nursery.run_count = 1;
    assert_int_equal(world_plan(w), STATUS_OK);
    int today = 0;
    int tomorrow = 0;
    for (size_t r = 0; r < w->result.run_count; r++) {
        if (w->result.runs[r].start_s < w->result.days[0].end_s)
            today += w->result.runs[r].minutes;
        else if (w->result.runs[r].start_s < w->result.days[1].end_s)
            tomorrow += w->result.runs[r].minutes;
    }
    assert_int_equal(today, 10);
    assert_int_equal(tomorrow, 30);
    world_free(w);
}

/* A run's minutes follow from the figures that are told of them. */
static void assert_sized(const struct world *w, const struct plan_run *run)
{
    const struct plan_sizing *s = &run->sizing;
    const struct nursery_zone *zone = &w->zones[run->zone];
    bool own = zone->method == DELIVERY_HAND || zone->method == DELIVERY_SUBIRRIGATION;
    if (run->underway)
        return;
    int minutes = (int)fmax(fmax(1.0, ceil(s->need_min - 1e-9)), s->least_min);
    if (minutes > s->most_min)
        minutes = s->most_min;
    int each = (minutes + run->pulses - 1) / run->pulses;
    if (each * run->pulses > s->most_min)
        each = s->most_min / run->pulses;
    assert_int_equal(run->minutes, each * run->pulses);
    if (s->led == PLAN_LED_EACH)
        check_near(s->need_min, s->all_l / zone->flow_l_min, 1e-9, "all pots");
    assert_int_equal(own, s->led == PLAN_LED_EACH);
    assert_int_equal(own, s->block == NURSERY_NONE);
    if (own)
        return;
    assert_int_equal(w->blocks[s->block].zone, run->zone);
    check_near(s->lacks_l, s->full_l - s->water_l, 1e-12, "lacks");
    check_near(s->need_min, s->lacks_l * s->margin / s->litres_pot_min, 1e-6, "needs");
    if (!s->soak)
        check_near(s->margin, fmax(1.0 / (1.0 - s->leaching), s->multiplier), 1e-9, "margin");
    else
        assert_true(s->margin * s->soak_share >= 1.0 - 1e-9);
}

static void plan_random_nurseries_keep_every_limit(void **state)
{
    (void)state;
    uint64_t seed = 77;
    size_t runs = 0;
    size_t unplaced = 0;
    for (int i = 0; i < 120; i++) {
        struct world *w = world_random(&seed);
        assert_int_equal(world_plan(w), STATUS_OK);
        world_check_limits(w);
        world_check_daily_limits(w);
        for (size_t r = 0; r < w->result.run_count; r++)
            assert_sized(w, &w->result.runs[r]);
        runs += w->result.run_count;
        unplaced += w->result.unplaced_count;
        for (size_t u = 0; u < w->result.unplaced_count; u++) {
            const struct plan_reason *why = &w->result.unplaced[u].reason;
            assert_true(why->code == PLAN_SUPPLY_FULL || why->code == PLAN_WINDOW_SHORT ||
                        why->code == PLAN_SUPPLY_DAY_LIMIT || why->code == PLAN_CUT_TO_DAY_LIMIT);
        }
        for (size_t b = 0; b < BLOCKS; b++) {
            const struct plan_block *block = &w->result.blocks[b];
            assert_true(isfinite(block->water_l) && block->water_l >= 0.0 &&
                        block->water_l <= block->ceiling_l + 1e-12);
            assert_true(block->next_s == 0 || block->next_from_s <= block->next_s);
            assert_true(block->next_s == 0 ||
                        (block->next_hot_s != 0 && block->next_hot_s <= block->next_s));
            assert_true(block->next_to_s == 0 || block->next_to_s >= block->next_s);
        }
        world_free(w);
    }
    print_message("%zu runs placed, %zu left over\n", runs, unplaced);
    assert_true(runs > 1000 && unplaced > 100);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(plan_full_pot_waits_and_says_until_when),
        cmocka_unit_test(plan_thirsty_pot_runs_tomorrow_within_its_window),
        cmocka_unit_test(plan_made_twice_is_the_same_to_the_last_bit),
        cmocka_unit_test(plan_rain_that_covers_it_is_waited_for),
        cmocka_unit_test(plan_rain_before_the_window_is_waited_for_not_called_wet),
        cmocka_unit_test(plan_rain_is_not_waited_for_when_failing_would_harm),
        cmocka_unit_test(plan_run_that_counts_on_rain_says_so),
        cmocka_unit_test(plan_more_rain_never_more_water),
        cmocka_unit_test(plan_same_plant_in_deeper_pot_never_shorter_interval),
        cmocka_unit_test(plan_without_records_starts_at_refill_and_says_so),
        cmocka_unit_test(plan_late_run_report_fills_the_pot),
        cmocka_unit_test(plan_swapped_mix_takes_hold_at_its_moment),
        cmocka_unit_test(plan_fresh_potting_asks_sooner_until_rooted),
        cmocka_unit_test(plan_air_lost_to_roots_is_taken_off_and_shown),
        cmocka_unit_test(plan_under_cover_gets_no_rain_and_less_sun),
        cmocka_unit_test(plan_gauge_replaces_the_feeds_half_rain),
        cmocka_unit_test(plan_overhead_due_within_its_hours_ends_before),
        cmocka_unit_test(plan_frost_keeps_overhead_dry_and_says_so),
        cmocka_unit_test(plan_wind_moves_overhead_to_calm_hours),
        cmocka_unit_test(plan_daily_limit_of_a_zone_is_never_passed),
        cmocka_unit_test(plan_daily_limit_counts_what_ran_today),
        cmocka_unit_test(plan_by_hand_pots_get_what_the_hose_gives),
        cmocka_unit_test(plan_empty_nursery_is_a_plan),
        cmocka_unit_test(plan_no_plants_no_water),
        cmocka_unit_test(plan_nonsense_is_refused),
        cmocka_unit_test(plan_random_nurseries_keep_every_limit),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
