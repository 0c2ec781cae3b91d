/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What people record and the plan obeys: touch checks, unknown runs, events of pots, orders, holds,
 * required waterings.
 */
#include "world.h"

#include <math.h>

#define H CIVIL_HOUR_S

/* --- what is known of the water ------------------------------------------------------------ */

static void a_run(struct world *w, size_t index, int64_t start_s, enum nursery_run_state state)
{
    w->runs[index] = world_run(0, start_s, start_s + H / 2, -1.0, state, NURSERY_IRRIGATION);
    w->nursery.run_count = index + 1;
}

/* Whoever feels or weighs a pot sees it in the plan that is made then, not an hour later. NOW_S is
 * on the hour: the records are of the half hour before a plan at half past. */
static void plan_knows_what_was_found_within_the_hour(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->input.now_s = NOW_S + H / 2;
    assert_int_equal(world_plan(w), STATUS_OK);
    double before_l = w->result.blocks[0].driest_l;
    double refill_l = w->result.blocks[0].refill_l;
    assert_true(before_l < refill_l);
    w->touches[0] = (struct nursery_touch){0, NOW_S + H / 3, NURSERY_DRY, NURSERY_CENTRE_AND_EDGE};
    w->nursery.touch_count = 1;
    assert_int_equal(world_plan(w), STATUS_OK);
    check_near(w->result.blocks[0].driest_l, refill_l, 1e-12, "dry: at its refill point");
    assert_int_equal(w->result.blocks[0].next_s, NOW_S);
    w->nursery.touch_count = 0;
    w->weighings[0] = (struct nursery_weighing){0, NOW_S + H / 3, 0.25};
    assert_int_equal(world_plan(w), STATUS_OK);
    check_near(w->result.blocks[0].depletion_l, 0.25, 1e-12, "as it was weighed");
    assert_int_equal(w->result.blocks[0].known, PLAN_KNOWN_WEIGHED);
    /* a run of the same hour that was over by then is in that weight */
    double next_s = (double)w->result.blocks[0].stress_s;
    double given_l = w->result.blocks[0].given_l;
    w->runs[0] =
        world_run(0, NOW_S + 60, NOW_S + 600, -1.0, NURSERY_RUN_REPORTED, NURSERY_IRRIGATION);
    w->nursery.run_count = 1;
    assert_int_equal(world_plan(w), STATUS_OK);
    check_near(w->result.blocks[0].depletion_l, 0.25, 1e-12, "still");
    check_near((double)w->result.blocks[0].stress_s, next_s, 0.0, "and no wetter");
    check_near(w->result.blocks[0].given_l, given_l, 0.05, "nor given twice");
    world_free(w);
}

static void plan_unknown_run_keeps_a_dry_and_a_wet_side(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->weighings[0] = (struct nursery_weighing){0, NOW_S - 30 * H, 0.3};
    assert_int_equal(world_plan(w), STATUS_OK);
    double without_l = w->result.blocks[0].water_l;
    double air = w->result.blocks[0].air;
    a_run(w, 0, NOW_S - 12 * H, NURSERY_RUN_REPORTED);
    assert_int_equal(world_plan(w), STATUS_OK);
    double with_l = w->result.blocks[0].water_l;
    assert_true(with_l > without_l + 0.05);
    a_run(w, 0, NOW_S - 12 * H, NURSERY_RUN_UNKNOWN);
    assert_int_equal(world_plan(w), STATUS_OK);
    const struct plan_block *block = &w->result.blocks[0];
    assert_true(block->unsure);
    check_near(block->water_l, without_l, 1e-12, "the dry side decides when water is due");
    check_near(block->water_wet_l, with_l, 1e-12, "the wet side had the run");
    assert_true(block->air < air); /* and says whether air is short */
    assert_null(world_notice(w, PLAN_GO_AND_FEEL));
    world_free(w);
}

static void plan_sides_meet_when_both_are_full(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->weighings[0] = (struct nursery_weighing){0, NOW_S - 60 * H, 0.3};
    a_run(w, 0, NOW_S - 36 * H, NURSERY_RUN_UNKNOWN);
    a_run(w, 1, NOW_S - 12 * H, NURSERY_RUN_REPORTED);
    w->runs[1].end_s = w->runs[1].start_s + 5 * H;
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_false(w->result.blocks[0].unsure);
    assert_int_equal(w->result.blocks[0].known, PLAN_KNOWN_FILLED);
    world_free(w);
}

/* Its report may be on its way: the same hours do not water twice at once. */
static void plan_run_just_over_is_not_asked_for_again(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->weighings[0] = (struct nursery_weighing){0, NOW_S - 30 * H, 0.3};
    w->zones[0].method = DELIVERY_SUBIRRIGATION;
    w->windows[0].start.second = 17 * 3600;
    w->windows[0].end.second = 23 * 3600;
    a_run(w, 0, NOW_S - 40 * 60, NURSERY_RUN_UNKNOWN); /* it ended ten minutes ago */
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_true(w->result.run_count > 0);
    assert_int_equal(w->result.runs[0].start_s, NOW_S + 110 * 60);
    w->zones[0].method = DELIVERY_HAND; /* told of when all is done */
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_true(w->result.runs[0].start_s > NOW_S + 12 * H);
    w->windows[0].start.second = 18 * 3600; /* of other hours */
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_int_equal(w->result.runs[0].start_s, NOW_S + 300);
    world_free(w);
}

static void plan_two_unknown_runs_in_a_row_send_someone_to_feel(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->weighings[0] = (struct nursery_weighing){0, NOW_S - 80 * H, 0.1};
    a_run(w, 0, NOW_S - 36 * H, NURSERY_RUN_UNKNOWN);
    a_run(w, 1, NOW_S - 12 * H, NURSERY_RUN_UNKNOWN);
    assert_int_equal(world_plan(w), STATUS_OK);
    const struct plan_reason *notice = world_notice(w, PLAN_GO_AND_FEEL);
    assert_ptr_equal(notice, &w->result.notices[0]); /* before what may follow from it */
    assert_non_null(notice);
    check_near(notice->a, 2.0, 0.0, "runs");
    assert_int_equal(notice->at_s, NOW_S - 36 * H);
    w->runs[0].state = NURSERY_RUN_REPORTED; /* one alone is no pattern */
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_null(world_notice(w, PLAN_GO_AND_FEEL));
    w->runs[0].state = NURSERY_RUN_UNKNOWN; /* somebody went */
    w->touches[0] =
        (struct nursery_touch){0, NOW_S - 2 * H, NURSERY_RIGHT, NURSERY_CENTRE_AND_EDGE};
    w->nursery.touch_count = 1;
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_null(world_notice(w, PLAN_GO_AND_FEEL));
    world_free(w);
}

static void plan_cooling_counts_for_the_limits_but_not_as_water_held(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->weighings[0] = (struct nursery_weighing){0, NOW_S - 30 * H, 0.3};
    assert_int_equal(world_plan(w), STATUS_OK);
    double without_l = w->result.blocks[0].water_l;
    a_run(w, 0, NOW_S - 6 * H, NURSERY_RUN_REPORTED);
    const enum nursery_purpose dry[] = {NURSERY_COOLING, NURSERY_FROST, NURSERY_FLUSH,
                                        NURSERY_TEST};
    for (size_t i = 0; i < sizeof dry / sizeof dry[0]; i++) {
        w->runs[0].purpose = dry[i];
        assert_int_equal(world_plan(w), STATUS_OK);
        check_near(w->result.blocks[0].water_l, without_l, 1e-12, "no water held");
    }
    const enum nursery_purpose wet[] = {NURSERY_IRRIGATION, NURSERY_FEED, NURSERY_WASH_IN};
    for (size_t i = 0; i < sizeof wet / sizeof wet[0]; i++) {
        w->runs[0].purpose = wet[i];
        assert_int_equal(world_plan(w), STATUS_OK);
        assert_true(w->result.blocks[0].water_l > without_l + 0.05);
    }
    world_free(w);
}

static void touch(struct world *w, enum nursery_feel feel, enum nursery_place place)
{
    w->touches[0] = (struct nursery_touch){0, NOW_S - H, feel, place};
    w->nursery.touch_count = 1;
    assert_int_equal(world_plan(w), STATUS_OK);
}

/* Bounds at the hour before now; the hour since takes a little more, hence the slack. */
static void plan_touch_check_bounds_the_balance(void **state)
{
    (void)state;
    struct world *w = world_new();
    const struct plan_block *block = NULL;
    w->weighings[0] = (struct nursery_weighing){0, NOW_S - 20 * H, 0.0};
    assert_int_equal(world_plan(w), STATUS_OK);
    block = &w->result.blocks[0];
    double refill_l = block->refill_l;
    assert_true(block->depletion_l < refill_l && block->depletion_l > 0.1 * block->available_l);
    double reckoned_l = block->depletion_l;
    touch(w, NURSERY_RIGHT, NURSERY_CENTRE_AND_EDGE); /* agrees: nothing changes */
    block = &w->result.blocks[0];
    check_near(block->depletion_l, reckoned_l, 1e-12, "inside the bounds");
    touch(w, NURSERY_DRY, NURSERY_CENTRE_AND_EDGE);
    block = &w->result.blocks[0];
    assert_true(block->depletion_l >= refill_l && block->driest_l >= refill_l);
    touch(w, NURSERY_WET, NURSERY_CENTRE_AND_EDGE);
    block = &w->result.blocks[0];
    assert_true(block->depletion_l <= 0.1 * block->available_l + 0.02);
    touch(w, NURSERY_DRY, NURSERY_EDGE); /* the edge is dry, the average stays */
    block = &w->result.blocks[0];
    assert_true(block->driest_l >= refill_l);
    check_near(block->depletion_l, reckoned_l, 1e-12, "the average pot");
    touch(w, NURSERY_WET, NURSERY_EDGE); /* nobody is drier than the edge */
    block = &w->result.blocks[0];
    assert_true(block->depletion_l <= 0.1 * block->available_l + 0.02);
    touch(w, NURSERY_DRY, NURSERY_CENTRE);
    block = &w->result.blocks[0];
    assert_true(block->driest_l >= block->depletion_l && block->depletion_l >= refill_l);
    world_free(w);
}

static void plan_touch_check_is_stale_after_three_hot_days(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->nursery.weighing_count = 0;
    w->touches[0] =
        (struct nursery_touch){0, NOW_S - 60 * H, NURSERY_RIGHT, NURSERY_CENTRE_AND_EDGE};
    w->nursery.touch_count = 1;
    for (size_t h = 0; h < HISTORY_H; h++) {
        w->hours[h].radiation_mj_m2 *= 1.2;
        w->hours[h].temperature_c += 6.0;
        w->hours[h].wind_2m_m_s = 3.0;
    }
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_true(w->result.days[0].et0_mm > 5.0);
    assert_int_equal(w->result.blocks[0].known, PLAN_KNOWN_TOUCHED);
    w->touches[0].at_s = NOW_S - 100 * H;
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_int_equal(w->result.blocks[0].known, PLAN_KNOWN_ASSUMED);
    for (size_t h = 0; h < HISTORY_H; h++)
        w->hours[h].radiation_mj_m2 /= 4.0; /* cool days: it still holds */
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_int_equal(w->result.blocks[0].known, PLAN_KNOWN_TOUCHED);
    world_free(w);
}

/* --- plants and places --------------------------------------------------------------------- */

static void plan_moved_block_takes_the_runs_of_where_it_stood(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->own_places = true;
    w->nursery.zone_count = 2;
    w->zones[1] = world_zone();
    w->weighings[0] = (struct nursery_weighing){0, NOW_S - 80 * H, 0.4};
    w->states[0].zone = 0;
    w->states[0].cover = NURSERY_NONE;
    w->states[1] = w->states[0];
    w->states[1].at_s = NOW_S - 40 * H;
    w->states[1].zone = 1;
    w->nursery.state_count = 2;
    w->blocks[0].state_count = 2;
    w->blocks[0].zone = 1;
    assert_int_equal(world_plan(w), STATUS_OK);
    double dry_l = w->result.blocks[0].water_l;
    a_run(w, 0, NOW_S - 20 * H, NURSERY_RUN_REPORTED); /* zone 0, after it had left */
    assert_int_equal(world_plan(w), STATUS_OK);
    check_near(w->result.blocks[0].water_l, dry_l, 1e-12, "not on it any more");
    a_run(w, 0, NOW_S - 60 * H, NURSERY_RUN_REPORTED); /* zone 0, while it stood there */
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_true(w->result.blocks[0].water_l > dry_l + 0.05);
    w->runs[0].zone = 1;
    assert_int_equal(world_plan(w), STATUS_OK);
    check_near(w->result.blocks[0].water_l, dry_l, 1e-12, "not on it yet");
    a_run(w, 0, NOW_S - 20 * H, NURSERY_RUN_REPORTED);
    w->runs[0].zone = 1;
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_true(w->result.blocks[0].water_l > dry_l + 0.05);
    world_free(w);
}

/* 10 cm 40 days ago, 20 cm 20 days ago: half a centimetre a day, carried on for 21 days. */
static void plan_canopy_grows_between_measurements_and_a_while_after(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->states[0].at_s = NOW_S - 18 * H - 40 * CIVIL_DAY_S; /* midnights */
    w->states[0].canopy_cm = 10.0;
    w->states[0].canopy_measured = true;
    w->states[1] = w->states[0];
    w->states[1].at_s += 20 * CIVIL_DAY_S;
    w->states[1].canopy_cm = 20.0;
    w->nursery.state_count = 2;
    w->blocks[0].state_count = 2;
    assert_int_equal(world_plan(w), STATUS_OK);
    check_near(w->result.blocks[0].canopy_cm, 20.0 + 0.5 * 20.0, 1e-9, "20 days on");
    assert_false(w->result.blocks[0].canopy_old);
    assert_null(world_notice(w, PLAN_CANOPY_OLD));
    w->states[1].pruned = true; /* cut to 20: no growth led there */
    assert_int_equal(world_plan(w), STATUS_OK);
    check_near(w->result.blocks[0].canopy_cm, 20.0, 1e-9, "pruned");
    w->states[1].pruned = false;
    w->states[0].at_s -= CIVIL_DAY_S;
    w->states[1].at_s -= CIVIL_DAY_S;
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_false(w->result.blocks[0].canopy_old);
    double range_l = w->result.blocks[0].need_to_l - w->result.blocks[0].need_from_l;
    w->states[0].at_s -= 9 * CIVIL_DAY_S;
    w->states[1].at_s -= 9 * CIVIL_DAY_S;
    assert_int_equal(world_plan(w), STATUS_OK);
    check_near(w->result.blocks[0].canopy_cm, 20.0 + 0.5 * 21.0, 1e-9, "no further than 21 days");
    assert_true(w->result.blocks[0].canopy_old);
    assert_non_null(world_notice(w, PLAN_CANOPY_OLD));
    assert_true(w->result.blocks[0].need_to_l - w->result.blocks[0].need_from_l >
                range_l); /* and the range is wider */
    world_free(w);
}

/* A litre of plug in a three litre pot. */
static void plan_newly_potted_plugs_are_told_for_two_weeks(void **state)
{
    (void)state;
    struct world *w = world_new();
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_null(world_notice(w, PLAN_NEWLY_POTTED));
    w->states[0].potted = w->states[0].watered_in = true;
    w->states[0].plug_l = 1.0;
    w->states[0].at_s = NOW_S - 3 * CIVIL_DAY_S;
    w->nursery.weighing_count = 0;
    assert_int_equal(world_plan(w), STATUS_OK);
    const struct plan_reason *notice = world_notice(w, PLAN_NEWLY_POTTED);
    assert_non_null(notice);
    check_near(notice->a, 3.0, 0.0, "days");
    w->states[0].plug_l = 0.0; /* nobody said how large it was: to be felt all the same */
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_non_null(world_notice(w, PLAN_NEWLY_POTTED));
    w->states[0].at_s = NOW_S - 15 * CIVIL_DAY_S;
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_null(world_notice(w, PLAN_NEWLY_POTTED));
    world_free(w);
}

static double use_tomorrow_l(struct world *w)
{
    assert_int_equal(world_plan(w), STATUS_OK);
    return w->result.blocks[0].use_tomorrow_l;
}

static void plan_leaves_set_what_a_plant_uses(void **state)
{
    (void)state;
    struct world *w = world_new();
    double full_l = use_tomorrow_l(w);
    w->states[0].leaf = DEMAND_LEAF_NONE;
    double bare_l = use_tomorrow_l(w);
    w->states[0].leaf = DEMAND_LEAF_OPENING;
    w->states[0].leaf_since_s = NOW_S - 18 * H - 17 * CIVIL_DAY_S;
    double half_l = use_tomorrow_l(w);
    w->states[0].leaf_since_s = NOW_S - 60 * CIVIL_DAY_S;
    double out_l = use_tomorrow_l(w);
    w->states[0].leaf = DEMAND_LEAF_EVERGREEN;
    double winter_l = use_tomorrow_l(w);
    assert_true(bare_l < 0.5 * full_l && bare_l < half_l && half_l < full_l);
    check_near(out_l, full_l, 1e-12, "five weeks on");
    assert_true(winter_l > bare_l && winter_l < full_l);
    world_free(w);
}

/* The pot is kept full by a long run each morning, so that K_s and K_r stay 1. */
static void plan_measured_use_is_what_the_plan_uses(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->blocks[0].refill_fraction = 0.05;
    w->blocks[0].use = NURSERY_USE_MEASURED;
    w->blocks[0].use_l = 0.24;
    w->blocks[0].use_et0_mm = 6.0;
    double use_l = use_tomorrow_l(w);
    check_near(use_l, 0.24 / 6.0 * w->result.days[1].et0_mm, 0.005, "in step with reference ET");
    w->blocks[0].use = NURSERY_USE_COEFFICIENT;
    w->blocks[0].coefficient = 2.0;
    w->blocks[0].coefficient_basis = DEMAND_BASIS_TOP;
    use_l = use_tomorrow_l(w);
    double top_m2 = w->result.blocks[0].figures.top_area_m2;
    check_near(use_l, 2.0 * top_m2 * w->result.days[1].et0_mm, 0.005, "k on its area");
    world_free(w);
}

static void plan_place_raises_the_use(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->blocks[0].refill_fraction = 0.05;
    w->states[0].canopy_cm = 8.0;
    double plain_l = use_tomorrow_l(w);
    w->blocks[0].place.exposed = true;
    check_near(use_tomorrow_l(w) / plain_l, 1.3, 0.02, "exposed");
    w->blocks[0].place.fabric = true;
    check_near(use_tomorrow_l(w) / plain_l, 1.3 * 1.66, 0.03, "and in fabric");
    world_free(w);
}

/* Three days of -6 C around now: no use, no rain taken, no run; the snow melts with the thaw. */
static void plan_frozen_pots_neither_use_nor_take_water(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->zones[0].method = DELIVERY_DRIP;
    w->zones[0].emitters_per_pot = 1.0;
    w->zones[0].emitter_l_h = 2.0;
    w->weighings[0].missing_l = 0.45;
    for (size_t h = HISTORY_H - 48; h < HISTORY_H + 36; h++)
        w->hours[h].temperature_c = -6.0;
    w->hours[HISTORY_H + 20].rain_mm = 10.0;
    w->hours[HISTORY_H + 20].rain_kind = WEATHER_MEASURED;
    assert_int_equal(world_plan(w), STATUS_OK);
    check_near(w->result.blocks[0].use_today_l, 0.0, 1e-12, "nothing used");
    assert_int_equal(world_runs_on(w, 1), 0);
    assert_true(w->result.blocks[0].next_s > NOW_S + 30 * H ||
                w->result.blocks[0].driest_l >= w->result.blocks[0].refill_l);
    world_free(w);
}

/* --- orders -------------------------------------------------------------------------------- */

static void order(struct world *w, double minutes, double litres)
{
    w->orders[0] =
        (struct nursery_order){0, NURSERY_NONE, NOW_S - H, NOW_S + 20 * H, minutes, litres};
    w->nursery.order_count = 1;
}

static void plan_order_runs_now_whatever_the_windows(void **state)
{
    (void)state;
    struct world *w = world_new();
    order(w, 17.0, 0.0);
    assert_int_equal(world_plan(w), STATUS_OK);
    const struct plan_run *run = &w->result.runs[0];
    assert_int_equal(run->start_s, NOW_S + 300);
    assert_int_equal(run->minutes, 17);
    assert_int_equal(run->reasons[0].code, PLAN_ORDERED);
    assert_int_equal(run->reasons[0].other, 0);
    order(w, 0.0, 600.0);
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_int_equal(w->result.runs[0].minutes, 10);
    order(w, 0.0, 0.0);
    w->weighings[0].missing_l = 0.3;
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_true(w->result.runs[0].minutes > 30); /* what the pots lack */
    w->runs[0] =
        world_run(0, NOW_S - 1800, NOW_S - 600, -1.0, NURSERY_RUN_REPORTED, NURSERY_IRRIGATION);
    w->nursery.run_count = 1;
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_false(w->result.run_count > 0 && world_run_says(&w->result.runs[0], PLAN_ORDERED));
    world_free(w);
}

static void plan_order_comes_before_priority_and_need(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->nursery.zone_count = 2;
    w->nursery.block_count = 2;
    w->nursery.state_count = 2;
    w->nursery.weighing_count = 2;
    w->zones[1] = world_zone();
    w->zones[1].priority = 1;
    w->states[1] = world_state();
    w->blocks[1] = world_block(1, 1);
    w->weighings[1] = (struct nursery_weighing){1, NOW_S - 2 * H, 0.6};
    w->supplies[0].valves_at_once = 1;
    w->windows[0].start.second = 18 * 3600; /* open now for both */
    w->windows[0].end.second = 22 * 3600;
    order(w, 30.0, 0.0);
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_true(w->result.run_count >= 2);
    assert_int_equal(w->result.runs[0].zone, 0);
    assert_int_equal(w->result.runs[0].start_s, NOW_S + 300);
    world_free(w);
}

/* One person waters by hand at a time, as long as there is time for it. */
static void plan_hose_zones_come_one_after_the_other(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->nursery.zone_count = w->nursery.block_count = w->nursery.state_count = 2;
    w->nursery.weighing_count = 2;
    w->zones[0].method = DELIVERY_HAND;
    w->zones[1] = w->zones[0];
    w->states[1] = world_state();
    w->blocks[1] = world_block(1, 1);
    w->weighings[0].missing_l = 0.2;
    w->weighings[1] = (struct nursery_weighing){1, NOW_S - 2 * H, 0.2};
    w->supplies[0] = world_supply(1000.0, 9);
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_true(w->result.run_count >= 2);
    assert_int_equal(w->result.runs[0].zone + w->result.runs[1].zone, 1);
    assert_int_equal(w->result.runs[1].start_s, w->result.runs[0].end_s);
    w->windows[0].end.second = /* too short for one after the other */
        w->windows[0].start.second + w->result.runs[0].minutes * 90;
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_true(w->result.runs[1].start_s < w->result.runs[0].end_s);
    world_free(w);
}

/* With its own hours open and dry pots, and others that could wait: first the order, then the rest.
 */
static void plan_order_comes_before_its_zones_own_hours(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->windows[0].start.second = 18 * 3600;
    w->windows[0].end.second = 21 * 3600; /* shut before the order has to be carried out */
    w->weighings[0].missing_l = 0.3;
    order(w, 5.0, 0.0);
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_true(w->result.run_count >= 2);
    const struct plan_run *first = &w->result.runs[0];
    const struct plan_run *second = &w->result.runs[1];
    assert_int_equal(first->start_s, NOW_S + 300);
    assert_int_equal(first->minutes, 5);
    assert_true(world_run_says(first, PLAN_ORDERED));
    assert_false(world_run_says(first, PLAN_SIZED_FOR));
    assert_true(second->start_s >= first->end_s && second->start_s < NOW_S + 3 * H);
    assert_true(second->minutes > 30);
    /* hours that end within the order's have had their run with it */
    w->windows[0].end.second = 18 * 3600 + 40 * 60;
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_int_equal(w->result.runs[0].minutes, 5);
    assert_true(w->result.run_count == 1 || w->result.runs[1].start_s > NOW_S + 12 * H);
    w->windows[0].end.second = 21 * 3600;
    assert_int_equal(world_plan(w), STATUS_OK);
    /* and it counts: without the order the zone's own run is longer by it */
    int with = w->result.runs[1].minutes;
    w->nursery.order_count = 0;
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_in_range(w->result.runs[0].minutes - with, 3, 6);
    world_free(w);
}

static void hold(struct world *w, enum nursery_hold_kind kind, int64_t from_s, int64_t to_s)
{
    w->holds[0] = (struct nursery_hold){kind, 0, NURSERY_NONE, NURSERY_NONE, from_s, to_s, 0.0};
    w->nursery.hold_count = 1;
}

/* The run that makes way for spraying says so, for its leaves are wet and people come. */
static void plan_run_before_a_hold_names_it(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->weighings[0].missing_l = 0.3;
    assert_int_equal(world_plan(w), STATUS_OK);
    int64_t start_s = w->result.runs[0].start_s;
    assert_false(world_run_says(&w->result.runs[0], PLAN_BEFORE_HOLD));
    hold(w, NURSERY_HOLD_SPRAYING, start_s + 60, start_s + 6 * H);
    assert_int_equal(world_plan(w), STATUS_OK);
    const struct plan_run *run = &w->result.runs[0];
    assert_true(run->end_s <= w->holds[0].from_s);
    assert_true(world_run_says(run, PLAN_BEFORE_HOLD));
    assert_int_equal(run->reasons[run->reason_count - 1].at_s, w->holds[0].from_s);
    w->holds[0].from_s = NOW_S + 14 * H + H / 2; /* half an hour after the hours: on dry leaves */
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_true(w->result.runs[0].end_s <= w->holds[0].from_s - 2 * H);
    w->holds[0].kind = NURSERY_HOLD_PICKING; /* whom wet leaves do no harm */
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_true(w->result.runs[0].end_s > w->holds[0].from_s - 2 * H);
    w->holds[0].from_s = w->result.runs[0].end_s + 16 * H; /* long after */
    w->holds[0].to_s = w->holds[0].from_s + H;
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_false(world_run_says(&w->result.runs[0], PLAN_BEFORE_HOLD));
    world_free(w);
}

static void plan_hold_is_stronger_than_an_order(void **state)
{
    (void)state;
    struct world *w = world_new();
    order(w, 17.0, 0.0);
    hold(w, NURSERY_HOLD_SPRAYING, NOW_S - H, NOW_S + 3 * H);
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_int_equal(w->result.runs[0].start_s, NOW_S + 3 * H); /* as soon as it is over */
    w->holds[0].to_s = NOW_S + 30 * H;                          /* beyond the order's own end */
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_true(w->result.unplaced_count > 0);
    assert_true(w->result.unplaced[0].ordered);
    assert_int_equal(w->result.unplaced[0].reason.code, PLAN_HELD);
    world_free(w);
}

/* --- holds --------------------------------------------------------------------------------- */

static void plan_hold_shuts_the_valve_and_says_what_it_displaces(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->weighings[0].missing_l = 0.35;
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_int_equal(w->result.zones[0].state, PLAN_ZONE_RUN);
    /* tomorrow 00:00 to 20:00: the run of 04:00 to 08:00 cannot be */
    hold(w, NURSERY_HOLD_PICKING, NOW_S + 6 * H, NOW_S + 26 * H);
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_int_equal(world_runs_on(w, 1), 0);
    assert_int_equal(w->result.zones[0].state, PLAN_ZONE_HELD);
    assert_int_equal(w->result.zones[0].reason.code, PLAN_HELD);
    assert_int_equal(w->result.zones[0].reason.block, 0);
    assert_int_equal(w->result.zones[0].wait_until_s, NOW_S + 26 * H);
    const struct plan_reason *notice = world_notice(w, PLAN_HOLD_PASSES);
    assert_non_null(notice); /* thirsty: it passes its limit before the day after */
    assert_int_equal(notice->other, 0);
    assert_true(notice->at_s > NOW_S && notice->at_s < NOW_S + 38 * H);
    assert_int_equal(w->result.hand_count, 1);
    assert_int_equal(w->result.hands[0].block, 0);
    assert_true(w->result.hands[0].litres > 0.0 && w->result.hands[0].limit_s > 0);
    assert_true(w->result.hands[0].reason.at_s ==
                w->result.blocks[0].next_s); /* due, not past its limit */
    world_free(w);
}

/* A day that will be held makes the plan water the day before. */
static void plan_waters_ahead_of_a_hold(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->states[0].canopy_cm = 14.0;
    w->weighings[0].missing_l = 0.0;
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_int_equal(w->result.zones[0].state, PLAN_ZONE_WAIT);
    hold(w, NURSERY_HOLD_SPRAYING, NOW_S + 20 * H, NOW_S + 90 * H);
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_int_equal(w->result.zones[0].state, PLAN_ZONE_RUN);
    world_free(w);
}

static void plan_hand_only_and_pump_out_list_blocks_by_their_limit(void **state)
{
    (void)state;
    const enum nursery_hold_kind kinds[] = {NURSERY_HOLD_HAND_ONLY, NURSERY_HOLD_PUMP_OUT};
    for (size_t k = 0; k < 2; k++) {
        struct world *w = world_new();
        w->nursery.block_count = w->nursery.state_count = w->nursery.weighing_count = 4;
        for (size_t b = 0; b < 4; b++) {
            w->states[b] = world_state();
            w->blocks[b] = world_block(0, b);
            w->weighings[b] = (struct nursery_weighing){b, NOW_S - H, 0.1 * (double)b};
        }
        w->holds[0] = (struct nursery_hold){kinds[k], NURSERY_NONE,   NURSERY_NONE, 0,
                                            NOW_S,    NOW_S + 60 * H, 0.0};
        w->nursery.hold_count = 1;
        assert_int_equal(world_plan(w), STATUS_OK);
        assert_int_equal(world_runs_on(w, 0) + world_runs_on(w, 1), 0);
        assert_int_equal(w->result.hand_count, 4);
        for (size_t i = 0; i < 4; i++) {
            const struct plan_hand *hand = &w->result.hands[i];
            assert_int_equal(hand->block, 3 - i); /* the driest first */
            check_near(hand->litres, hand->litres_pot * 400.0, 1e-9, "all its pots");
            check_near(hand->hose_min, hand->litres / 15.0, 1e-9, "a hose of 15 L/min");
            assert_true(i == 0 || hand->limit_s >= w->result.hands[i - 1].limit_s);
        }
        world_free(w);
    }
}

static double litres_on(const struct world *w, size_t day)
{
    return w->result.days[day].litres;
}

/* Half of what the plants use may be drawn: the urgent zone gets its own first. */
static void plan_ban_lets_a_part_through_by_priority(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->nursery.zone_count = 2;
    w->nursery.block_count = w->nursery.state_count = w->nursery.weighing_count = 2;
    w->zones[1] = world_zone();
    w->zones[0].priority = 5;
    w->zones[1].priority = 1;
    w->supplies[0] = world_supply(300.0, 4);
    for (size_t b = 0; b < 2; b++) {
        w->states[b] = world_state();
        w->blocks[b] = world_block(b, b);
        w->weighings[b] = (struct nursery_weighing){b, NOW_S - H, 0.4};
    }
    assert_int_equal(world_plan(w), STATUS_OK);
    double whole_l = 0.0;
    for (size_t d = 1; d < 6; d++)
        whole_l += litres_on(w, d);
    w->holds[0] = (struct nursery_hold){
        NURSERY_HOLD_BAN, NURSERY_NONE, NURSERY_NONE, 0, NOW_S, NOW_S + 9 * CIVIL_DAY_S, 0.5};
    w->nursery.hold_count = 1;
    assert_int_equal(world_plan(w), STATUS_OK);
    double part_l = 0.0;
    double of_zone[2] = {0.0, 0.0};
    for (size_t d = 1; d < 6; d++)
        part_l += litres_on(w, d);
    for (size_t r = 0; r < w->result.run_count; r++)
        of_zone[w->result.runs[r].zone] += w->result.runs[r].litres;
    assert_true(part_l < 0.7 * whole_l && part_l > 0.2 * whole_l);
    assert_true(of_zone[1] > of_zone[0]);
    const struct plan_reason *starved = world_notice(w, PLAN_STARVED);
    assert_non_null(starved);
    assert_int_equal(starved->zone, 0);
    assert_true(starved->a > 0.0 && starved->at_s > 0);
    double most_l = 0.0; /* what is not given is wanted again: days do not add up */
    for (size_t u = 0; u < w->result.unplaced_count; u++)
        if (w->result.unplaced[u].zone == 0)
            most_l = fmax(most_l, w->result.unplaced[u].litres);
    assert_true(most_l > 0.0 && starved->a <= most_l);
    world_free(w);
}

static void plan_supply_limit_cuts_a_run_rather_than_dropping_it(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->weighings[0].missing_l = 0.4;
    assert_int_equal(world_plan(w), STATUS_OK);
    double wanted_l = w->result.runs[0].litres;
    w->supplies[0].daily_limit_l = floor(0.6 * wanted_l);
    assert_int_equal(world_plan(w), STATUS_OK);
    const struct plan_run *run = &w->result.runs[0];
    assert_true(world_run_says(run, PLAN_CUT_TO_SUPPLY_LIMIT));
    assert_true(run->litres <= w->supplies[0].daily_limit_l && run->litres > 0.4 * wanted_l);
    world_free(w);
}

/* --- required waterings -------------------------------------------------------------------- */

static void plan_required_watering_runs_although_the_pots_are_full(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->requirements[0] =
        (struct nursery_requirement){0, NOW_S + 6 * H, NOW_S + 54 * H, 21.0, NURSERY_FEED};
    w->nursery.requirement_count = 1;
    w->states[0].canopy_cm = 5.0;
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_int_equal(world_runs_on(w, 1), 1);
    const struct plan_run *run = &w->result.runs[0];
    assert_true(run->minutes >= 21);
    assert_int_equal(run->reasons[0].code, PLAN_REQUIRED);
    assert_null(world_notice(w, PLAN_REQUIRED_MISSED));
    hold(w, NURSERY_HOLD_PICKING, NOW_S, NOW_S + 48 * H); /* no opening is left for it */
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_non_null(world_notice(w, PLAN_REQUIRED_MISSED));
    w->nursery.hold_count = 0;
    w->requirements[0].from_s = NOW_S - 24 * H; /* met by a run of the past */
    w->runs[0] = world_run(0, NOW_S - 12 * H, NOW_S - 12 * H + 21 * 60, -1.0, NURSERY_RUN_REPORTED,
                           NURSERY_FEED);
    w->nursery.run_count = 1;
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_int_equal(world_runs_on(w, 1), 0);
    world_free(w);
}

/* --- always -------------------------------------------------------------------------------- */

static bool closes(const struct world *w, const struct nursery_hold *hold, size_t zone)
{
    if (hold->zone != NURSERY_NONE)
        return hold->zone == zone;
    if (hold->block != NURSERY_NONE)
        return w->blocks[hold->block].zone == zone;
    return true;
}

static void plan_random_nurseries_obey_every_hold(void **state)
{
    (void)state;
    uint64_t seed = 78;
    size_t runs = 0;
    for (int i = 0; i < 80; i++) {
        struct world *w = world_random(&seed);
        for (size_t h = 0; h < 4; h++) {
            int64_t from_s = NOW_S + (int64_t)(check_between(&seed, -10.0, 100.0) * 60.0) * 60;
            w->holds[h] = (struct nursery_hold){
                (enum nursery_hold_kind)(h % 5),
                h % 2 ? (size_t)check_between(&seed, 0.0, 11.9) : NURSERY_NONE,
                h % 2 ? NURSERY_NONE : (size_t)check_between(&seed, 0.0, 29.9),
                NURSERY_NONE,
                from_s,
                from_s + (int64_t)(check_between(&seed, 1.0, 3000.0) * 60.0),
                0.0};
        }
        w->nursery.hold_count = 4;
        assert_int_equal(world_plan(w), STATUS_OK);
        world_check_limits(w);
        world_check_daily_limits(w);
        for (size_t r = 0; r < w->result.run_count; r++)
            for (size_t h = 0; h < 4; h++)
                assert_true(!closes(w, &w->holds[h], w->result.runs[r].zone) ||
                            w->result.runs[r].end_s <= w->holds[h].from_s ||
                            w->result.runs[r].start_s >= w->holds[h].to_s);
        runs += w->result.run_count;
        world_free(w);
    }
    assert_true(runs > 1000);
}

static void plan_wishes_that_cannot_be_are_refused(void **state)
{
    (void)state;
    struct world *w = world_new();
    order(w, NAN, 0.0);
    assert_int_equal(world_plan(w), STATUS_RANGE);
    order(w, 1.0, 0.0);
    w->orders[0].zone = 9;
    assert_int_equal(world_plan(w), STATUS_RANGE);
    w->nursery.order_count = 0;
    hold(w, NURSERY_HOLD_SKIP, NOW_S, NOW_S);
    assert_int_equal(world_plan(w), STATUS_RANGE);
    w->holds[0].to_s = NOW_S + H;
    w->holds[0].allowed = NAN;
    assert_int_equal(world_plan(w), STATUS_RANGE);
    w->nursery.hold_count = 0;
    w->requirements[0] = (struct nursery_requirement){0, NOW_S, NOW_S + H, INFINITY, NURSERY_FEED};
    w->nursery.requirement_count = 1;
    assert_int_equal(world_plan(w), STATUS_RANGE);
    world_free(w);
}

/* Whatever was recorded and is asked for, in the middle of the hours or not: a plan comes out, and
 * keeps every limit. */
static void plan_random_records_always_give_a_plan(void **state)
{
    (void)state;
    uint64_t seed = 79;
    size_t ordered = 0;
    size_t kept = 0;
    for (int i = 0; i < 200; i++) {
        struct world *w = world_random(&seed);
        size_t underway = (size_t)check_between(&seed, 0.0, ZONES - 0.1);
        w->windows[0].start.second = (int)check_between(&seed, 0.0, 24.0) * 3600;
        w->windows[0].end.second =
            (w->windows[0].start.second + (int)check_between(&seed, 10.0, 900.0) * 60) % 86400;
        w->nursery.order_count = (size_t)check_between(&seed, 0.0, 2.99);
        for (size_t o = 0; o < w->nursery.order_count; o++) {
            int64_t at_s = NOW_S - (int64_t)check_between(&seed, 0.0, 30000.0);
            w->orders[o] = (struct nursery_order){
                (size_t)check_between(&seed, 0.0, ZONES - 0.1),
                NURSERY_NONE,
                at_s,
                NOW_S + (int64_t)check_between(&seed, 1.0, 40000.0),
                check_random(&seed) < 0.7 ? check_between(&seed, 1.0, 200.0) : 0.0,
                check_random(&seed) < 0.2 ? 500.0 : 0.0};
        }
        w->nursery.requirement_count = 1;
        w->requirements[0] = (struct nursery_requirement){
            (size_t)check_between(&seed, 0.0, ZONES - 0.1), NOW_S - 3600,
            NOW_S + (int64_t)check_between(&seed, 1.0, 200000.0), check_between(&seed, 1.0, 60.0),
            (enum nursery_purpose)(i % 7)};
        w->nursery.run_count = 0;
        for (size_t z = 0; z < ZONES && w->nursery.run_count < 8; z++) {
            int64_t start_s = NOW_S - (int64_t)check_between(&seed, 601.0, 20000.0);
            enum nursery_run_state how = (enum nursery_run_state)(z % 6);
            if (z == underway && w->zones[z].flow_l_min <= w->supplies[0].flow_l_min) {
                how = NURSERY_RUN_UNDERWAY;
                start_s = NOW_S + (int64_t)check_between(&seed, -9.9, 4.9) * 60;
            } else if (how == NURSERY_RUN_UNDERWAY || check_random(&seed) < 0.5)
                continue;
            w->runs[w->nursery.run_count] = world_run(
                z, start_s, start_s + 600, w->zones[z].flow_l_min * 10.0, how, NURSERY_IRRIGATION);
            w->runs[w->nursery.run_count].pulses = 1;
            w->runs[w->nursery.run_count++].pulse_min = 10;
        }
        assert_int_equal(world_plan(w), STATUS_OK);
        world_check_limits(w);
        world_check_daily_limits(w);
        for (size_t r = 0; r < w->result.run_count; r++) {
            ordered += world_run_says(&w->result.runs[r], PLAN_ORDERED);
            kept += w->result.runs[r].underway;
        }
        world_free(w);
    }
    print_message("%zu runs ordered, %zu underway\n", ordered, kept);
    assert_true(ordered > 50 && kept > 50);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(plan_knows_what_was_found_within_the_hour),
        cmocka_unit_test(plan_unknown_run_keeps_a_dry_and_a_wet_side),
        cmocka_unit_test(plan_sides_meet_when_both_are_full),
        cmocka_unit_test(plan_run_just_over_is_not_asked_for_again),
        cmocka_unit_test(plan_two_unknown_runs_in_a_row_send_someone_to_feel),
        cmocka_unit_test(plan_cooling_counts_for_the_limits_but_not_as_water_held),
        cmocka_unit_test(plan_touch_check_bounds_the_balance),
        cmocka_unit_test(plan_touch_check_is_stale_after_three_hot_days),
        cmocka_unit_test(plan_moved_block_takes_the_runs_of_where_it_stood),
        cmocka_unit_test(plan_canopy_grows_between_measurements_and_a_while_after),
        cmocka_unit_test(plan_newly_potted_plugs_are_told_for_two_weeks),
        cmocka_unit_test(plan_leaves_set_what_a_plant_uses),
        cmocka_unit_test(plan_measured_use_is_what_the_plan_uses),
        cmocka_unit_test(plan_place_raises_the_use),
        cmocka_unit_test(plan_frozen_pots_neither_use_nor_take_water),
        cmocka_unit_test(plan_order_runs_now_whatever_the_windows),
        cmocka_unit_test(plan_order_comes_before_priority_and_need),
        cmocka_unit_test(plan_run_before_a_hold_names_it),
        cmocka_unit_test(plan_hose_zones_come_one_after_the_other),
        cmocka_unit_test(plan_order_comes_before_its_zones_own_hours),
        cmocka_unit_test(plan_hold_is_stronger_than_an_order),
        cmocka_unit_test(plan_hold_shuts_the_valve_and_says_what_it_displaces),
        cmocka_unit_test(plan_waters_ahead_of_a_hold),
        cmocka_unit_test(plan_hand_only_and_pump_out_list_blocks_by_their_limit),
        cmocka_unit_test(plan_ban_lets_a_part_through_by_priority),
        cmocka_unit_test(plan_supply_limit_cuts_a_run_rather_than_dropping_it),
        cmocka_unit_test(plan_required_watering_runs_although_the_pots_are_full),
        cmocka_unit_test(plan_random_nurseries_obey_every_hold),
        cmocka_unit_test(plan_random_records_always_give_a_plan),
        cmocka_unit_test(plan_wishes_that_cannot_be_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
