/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Zones as a whole: salt and leaching, cans, drainage, unlike blocks on one valve. */
#include "world.h"

#include <math.h>

#define H CIVIL_HOUR_S

static int minutes_of_first_run(struct world *w)
{
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_true(w->result.run_count > 0);
    return w->result.runs[0].minutes;
}

/* A bed that waters evenly, so that leaching is the larger margin. */
static struct world *even_world(void)
{
    struct world *w = world_new();
    w->zones[0].du_low_quarter = 0.98;
    w->weighings[0].missing_l = 0.4;
    w->supplies[0].water_ec_ds_m = 1.0;
    return w;
}

/* Rhoades: 1.0/(5 x 0.9 - 1.0) = 0.286 against the usual 0.15: (1 - 0.15)/(1 - 0.286) = 1.19. */
static void plan_salty_water_lengthens_runs_to_the_requirement(void **state)
{
    (void)state;
    struct world *w = even_world();
    int usual = minutes_of_first_run(w);
    w->blocks[0].salt_ec_ds_m = 0.9;
    int salty = minutes_of_first_run(w);
    check_near((double)salty / usual, 0.85 / (1.0 - 1.0 / 3.5), 0.04, "gross = net/(1 - LF)");
    assert_null(world_notice(w, PLAN_CHANGE_WATER));
    w->blocks[0].salt_ec_ds_m = 4.0; /* 1/19: below the usual */
    assert_int_equal(minutes_of_first_run(w), usual);
    world_free(w);
}

/* 1.0/(5 x 0.5 - 1.0) = 0.67: more than is ever leached by watering. */
static void plan_water_too_salty_is_said_and_leaching_ends_at_thirty(void **state)
{
    (void)state;
    struct world *w = even_world();
    int usual = minutes_of_first_run(w);
    w->blocks[0].salt_ec_ds_m = 0.5;
    int salty = minutes_of_first_run(w);
    check_near((double)salty / usual, 0.85 / 0.70, 0.04, "30 % and no more");
    const struct plan_reason *notice = world_notice(w, PLAN_CHANGE_WATER);
    assert_non_null(notice);
    check_near(notice->a, 1.0, 0.0, "the water's");
    assert_int_equal(notice->block, 0);
    world_free(w);
}

static void plan_rain_leaches_what_it_reaches(void **state)
{
    (void)state;
    struct world *w = even_world();
    w->zones[0].run_for = DELIVERY_AVERAGE;
    int usual = minutes_of_first_run(w);
    w->gauges[0] = (struct nursery_gauge){NOW_S - 100 * H, NOW_S - 60 * H, 14.0};
    w->nursery.gauge_count = 1;
    w->weighings[0].at_s = NOW_S - 2 * H;
    assert_int_equal(minutes_of_first_run(w), usual);
    w->gauges[0].rain_mm = 16.0;
    check_near((double)minutes_of_first_run(w) / usual, 0.85, 0.03, "nothing for leaching");
    w->covers[0] = (struct nursery_cover){{1.0, 1.0, true}, 0.0, false}; /* a clear roof */
    w->nursery.cover_count = 1;
    w->blocks[0].cover = 0;
    assert_true(minutes_of_first_run(w) > (int)(0.95 * usual));
    world_free(w);
}

static void plan_salt_in_the_pot_leaches_more_and_is_said(void **state)
{
    (void)state;
    struct world *w = even_world();
    int usual = minutes_of_first_run(w);
    w->salts[0] = (struct nursery_salt){0, NOW_S - 72 * H, NURSERY_POUR_THROUGH, 1.2};
    w->nursery.salt_count = 1;
    assert_int_equal(minutes_of_first_run(w), usual);
    assert_null(world_notice(w, PLAN_SALT_HIGH));
    w->salts[0].ec_ds_m = 2.6;
    check_near((double)minutes_of_first_run(w) / usual, 0.85 / 0.70, 0.04, "30 %");
    const struct plan_reason *notice = world_notice(w, PLAN_SALT_HIGH);
    assert_non_null(notice);
    check_near(notice->a, 2.6, 0.0, "reading");
    check_near(notice->b, 2.0, 0.0, "limit of a pour-through");
    assert_null(world_notice(w, PLAN_POUR_THROUGH_DUE));
    w->salts[0].at_s = NOW_S - 15 * CIVIL_DAY_S; /* says nothing any more */
    assert_int_equal(minutes_of_first_run(w), usual);
    assert_null(world_notice(w, PLAN_SALT_HIGH));
    assert_non_null(world_notice(w, PLAN_POUR_THROUGH_DUE));
    w->salts[0].at_s = NOW_S - 72 * H; /* another scale has another limit */
    w->salts[0].method = NURSERY_SATURATED;
    assert_int_equal(minutes_of_first_run(w), usual);
    w->blocks[0].salt_ec_ds_m = 2.0;
    assert_true(minutes_of_first_run(w) > usual);
    world_free(w);
}

/* Cans that measured the low half: 1/0.7 in place of 1/(0.4 + 0.6 x 0.6) from the quarter. */
static void plan_measured_low_half_comes_before_the_estimate(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->weighings[0].missing_l = 0.4;
    w->zones[0].du_low_quarter = 0.6;
    w->zones[0].leaching_fraction = 0.0;
    int estimated = minutes_of_first_run(w);
    w->zones[0].du_low_half = 0.7;
    check_near((double)minutes_of_first_run(w) / estimated, 0.76 / 0.7, 0.03, "1/0.7");
    world_free(w);
}

static void plan_much_drainage_makes_overhead_pulse(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->weighings[0].missing_l = 0.4;
    w->zones[0].pause_min = 20.0;
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_int_equal(w->result.runs[0].pulses, 1);
    w->drains[0] = (struct nursery_drain){0, NOW_S - 50 * H, 0.34};
    w->nursery.drain_count = 1;
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_int_equal(w->result.runs[0].pulses, 3);
    const struct plan_reason *notice = world_notice(w, PLAN_DRAINS_MUCH);
    assert_non_null(notice);
    check_near(notice->a, 34.0, 1e-9, "per cent");
    w->drains[0].fraction = 0.2;
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_int_equal(w->result.runs[0].pulses, 1);
    assert_null(world_notice(w, PLAN_DRAINS_MUCH));
    world_free(w);
}

/* --- unlike blocks ------------------------------------------------------------------------- */

/* Zone 0 waters a large thirsty plant and a small one, zone 1 small ones only. */
static struct world *mixed_world(void)
{
    struct world *w = world_new();
    w->nursery.zone_count = 2;
    w->nursery.block_count = w->nursery.state_count = w->nursery.weighing_count = 3;
    w->zones[1] = world_zone();
    w->supplies[0].flow_l_min = 300.0;
    for (size_t b = 0; b < 3; b++) {
        w->states[b] = world_state();
        w->states[b].canopy_cm = b == 0 ? 28.0 : 5.0;
        w->blocks[b] = world_block(b == 2 ? 1 : 0, b);
        w->weighings[b] = (struct nursery_weighing){b, NOW_S - H, 0.2};
    }
    return w;
}

static void plan_mixed_zone_says_who_gets_too_much_and_where_it_would_fit(void **state)
{
    (void)state;
    struct world *w = mixed_world();
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_non_null(world_notice(w, PLAN_MIXED_ZONE));
    const struct plan_reason *much = world_notice(w, PLAN_TOO_MUCH);
    assert_non_null(much);
    assert_int_equal(much->block, 1); /* the small one */
    const struct plan_block *small = &w->result.blocks[1];
    check_near(much->b, 100.0 * small->lost_l / small->given_l, 1e-9, "per cent");
    check_near(much->a, (small->lost_l - 0.15 * small->given_l) * 400.0, 1e-6, "litres wasted");
    const struct plan_reason *move = world_notice(w, PLAN_MOVE_BLOCK);
    assert_non_null(move);
    assert_int_equal(move->block, 1);
    assert_int_equal(move->other, 1);
    assert_int_equal(small->move_to, 1);
    assert_int_equal(w->result.blocks[0].move_to, NURSERY_NONE);
    w->zones[1].method = DELIVERY_DRIP; /* another way of watering: no place for it */
    w->zones[1].emitters_per_pot = 1.0;
    w->zones[1].emitter_l_h = 2.0;
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_null(world_notice(w, PLAN_MOVE_BLOCK));
    world_free(w);
}

static void plan_alike_blocks_on_one_valve_are_no_matter(void **state)
{
    (void)state;
    struct world *w = mixed_world();
    w->states[0].canopy_cm = 9.0;
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_null(world_notice(w, PLAN_MIXED_ZONE));
    assert_null(world_notice(w, PLAN_TOO_MUCH));
    assert_null(world_notice(w, PLAN_MOVE_BLOCK));
    world_free(w);
}

/* Cool days: the wet mix with little air leads, though the other one is thirstier. */
static void plan_in_cool_weather_the_airless_block_leads(void **state)
{
    (void)state;
    struct world *w = mixed_world();
    w->states[1].mix = 1; /* 9 % drained from a jar of peat */
    assert_int_equal(world_plan(w), STATUS_OK);
    double warm_l = w->result.days[1].litres;
    assert_null(world_notice(w, PLAN_LED_BY_WET));
    for (size_t h = 0; h < HOURS; h++) {
        w->hours[h].radiation_mj_m2 *= 0.35;
        w->hours[h].temperature_c -= 10.0;
        w->hours[h].vapour_pressure_kpa = 1.0;
    }
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_true(w->result.days[1].et0_mm < 3.0);
    const struct plan_reason *notice = world_notice(w, PLAN_LED_BY_WET);
    assert_non_null(notice);
    assert_int_equal(notice->block, 1);
    assert_int_equal(notice->other, 0);
    assert_true(w->result.days[1].litres < warm_l);
    w->zones[0].lead_block = 0; /* a grower's word comes first */
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_null(world_notice(w, PLAN_LED_BY_WET));
    world_free(w);
}

/* --- peaks --------------------------------------------------------------------------------- */

/* Alike zones, all due on the same morning. */
static struct world *peak_world(size_t zones)
{
    struct world *w = world_new();
    w->nursery.zone_count = w->nursery.block_count = w->nursery.state_count =
        w->nursery.weighing_count = zones;
    for (size_t b = 0; b < zones; b++) {
        w->zones[b] = world_zone();
        w->zones[b].priority = b == 0 ? 3 : 5;
        w->states[b] = world_state();
        w->states[b].canopy_cm = 9.0;
        w->blocks[b] = world_block(b, b);
        w->weighings[b] = (struct nursery_weighing){b, NOW_S - H, 0.0};
    }
    return w;
}

static size_t runs_of(const struct world *w, size_t zone, size_t day)
{
    size_t count = 0;
    for (size_t r = 0; r < w->result.run_count; r++)
        count += w->result.runs[r].zone == zone &&
                         w->result.runs[r].start_s >= w->result.days[day].start_s &&
                         w->result.runs[r].start_s < w->result.days[day].end_s
                     ? 1
                     : 0;
    return count;
}

static void plan_peak_sends_the_tolerant_zone_a_day_earlier(void **state)
{
    (void)state;
    struct world *w = peak_world(2);
    assert_int_equal(world_plan(w), STATUS_OK);
    size_t day = 1;
    while (day < 6 && runs_of(w, 0, day) == 0)
        day++;
    assert_true(day >= 2 && day < 6); /* both the same morning, none before it */
    assert_int_equal(runs_of(w, 1, day), 1);
    assert_int_equal(runs_of(w, 1, day - 1), 0);
    double both_l = w->result.days[day].litres;
    w->supplies[0].daily_limit_l = ceil(0.55 * both_l);
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_int_equal(runs_of(w, 0, day), 1);
    assert_int_equal(runs_of(w, 1, day - 1), 1);
    for (size_t r = 0; r < w->result.run_count; r++)
        if (w->result.runs[r].zone == 1) {
            assert_true(world_run_says(&w->result.runs[r], PLAN_LEVELLED));
            break;
        }
    world_check_limits(w);
    world_check_daily_limits(w);
    world_free(w);
}

static double undone_l(const struct world *w)
{
    double litres = 0.0;
    for (size_t u = 0; u < w->result.unplaced_count; u++)
        litres += w->result.unplaced[u].litres;
    return litres;
}

/* Random pairs of zones on a supply whose day is short: what cannot be given is little, although a
 * morning on which both are due asks for more than there is. */
static void plan_peak_levelled_keeps_limits_and_leaves_little_undone(void **state)
{
    (void)state;
    uint64_t seed = 5;
    size_t levelled = 0;
    for (int i = 0; i < 60; i++) {
        struct world *w = peak_world(2);
        for (size_t b = 0; b < 2; b++)
            w->states[b].canopy_cm = check_between(&seed, 5.0, 9.0);
        assert_int_equal(world_plan(w), STATUS_OK);
        double most_l = 0.0;
        double all_l = 0.0;
        for (size_t d = 1; d < w->result.day_count; d++) {
            most_l = fmax(most_l, w->result.days[d].litres);
            all_l += w->result.days[d].litres;
        }
        w->supplies[0].daily_limit_l = most_l * check_between(&seed, 0.55, 0.9);
        assert_int_equal(world_plan(w), STATUS_OK);
        world_check_limits(w);
        world_check_daily_limits(w);
        assert_true(undone_l(w) <= 0.25 * all_l);
        for (size_t r = 0; r < w->result.run_count; r++)
            levelled += world_run_says(&w->result.runs[r], PLAN_LEVELLED) ? 1 : 0;
        world_free(w);
    }
    assert_true(levelled > 10);
}

/* Sixty zones due the same morning on a supply whose day has water for two thirds: the others go
 * before. */
static void plan_peak_of_many_zones_is_levelled_whole(void **state)
{
    (void)state;
    struct world *w = peak_world(60);
    w->supplies[0] = world_supply(60.0 * 60, 60);
    assert_int_equal(world_plan(w), STATUS_OK);
    double most_l = 0.0;
    for (size_t d = 1; d < w->result.day_count; d++)
        most_l = fmax(most_l, w->result.days[d].litres);
    w->supplies[0].daily_limit_l = ceil(0.66 * most_l);
    assert_int_equal(world_plan(w), STATUS_OK);
    world_check_limits(w);
    world_check_daily_limits(w);
    size_t levelled = 0;
    for (size_t r = 0; r < w->result.run_count; r++)
        levelled += world_run_says(&w->result.runs[r], PLAN_LEVELLED) ? 1 : 0;
    assert_true(levelled > 8);
    for (size_t u = 0; u < w->result.unplaced_count; u++) /* later days are levelled when nearer */
        assert_true(w->result.unplaced[u].window_start_s >= NOW_S + 5 * 24 * H);
    world_free(w);
}

/* Clocks go forward or back at 01:00 UTC of the plan's third night; water may run from 23:30 to
 * 04:30. Every run lies in those hours by the clock on the wall, and no local day has more minutes
 * than the zone may run. */
static void plan_keeps_hours_and_limits_when_clocks_change(void **state)
{
    (void)state;
    const int64_t change_s = NOW_S + 2 * CIVIL_DAY_S + 7 * H;
    for (int forward = 0; forward < 2; forward++) {
        struct civil_offset offsets[2] = {{0, forward ? 3600 : 7200},
                                          {change_s, forward ? 7200 : 3600}};
        struct world *w = world_new();
        const struct civil_zone *zone = &w->nursery.time_zone;
        w->nursery.time_zone = (struct civil_zone){offsets, 2};
        w->windows[0].start.second = 23 * 3600 + 1800;
        w->windows[0].end.second = 4 * 3600 + 1800;
        w->zones[0].most_min_day = 100.0;
        w->states[0].canopy_cm = 28.0;
        assert_int_equal(world_plan(w), STATUS_OK);
        world_check_limits(w);
        world_check_daily_limits(w);
        bool that_night = false;
        for (size_t r = 0; r < w->result.run_count; r++) {
            const struct plan_run *run = &w->result.runs[r];
            int32_t start = civil_local_second(zone, run->start_s);
            int32_t end = civil_local_second(zone, run->end_s);
            assert_true(start >= 23 * 3600 + 1800 || start < 4 * 3600 + 1800);
            assert_true(end > 23 * 3600 + 1800 || end <= 4 * 3600 + 1800);
            that_night |= run->start_s < change_s + 4 * H && run->end_s > change_s - 3 * H;
            double minutes = 0.0;
            int64_t day = civil_days(civil_local_date(zone, run->start_s));
            for (size_t q = 0; q < w->result.run_count; q++)
                if (civil_days(civil_local_date(zone, w->result.runs[q].start_s)) == day)
                    minutes += w->result.runs[q].minutes;
            assert_true(minutes <= 100.0);
        }
        assert_true(that_night && w->result.run_count >= 6);
        assert_int_equal(w->result.days[3].end_s - w->result.days[3].start_s,
                         CIVIL_DAY_S + (forward ? -H : H));
        world_free(w);
    }
}

/* While one run pauses between its pulses, another takes the flow. */
static void plan_pauses_of_one_run_serve_another(void **state)
{
    (void)state;
    struct world *w = peak_world(2);
    w->supplies[0].valves_at_once = 1;
    for (size_t z = 0; z < 2; z++) {
        w->zones[z].method = DELIVERY_DRIP;
        w->zones[z].emitters_per_pot = 1.0;
        w->zones[z].emitter_l_h = 2.0;
        w->zones[z].emission_uniformity = 0.9;
        w->zones[z].pulses = 2;
        w->zones[z].pause_min = 30.0;
        w->weighings[z].missing_l = 0.4;
    }
    assert_int_equal(world_plan(w), STATUS_OK);
    const struct plan_run *a = &w->result.runs[0];
    const struct plan_run *b = &w->result.runs[1];
    assert_true(a->zone != b->zone && a->pulses == 2 && b->pulses == 2);
    assert_true(b->start_s >= a->start_s + 60 * a->pulse_min && b->start_s < a->end_s);
    world_check_limits(w);
    world_free(w);
}

/* A line has to fill before it waters: a short run is not cut into pulses of two minutes. */
static void plan_pulses_of_emitters_are_no_shorter_than_five_minutes(void **state)
{
    (void)state;
    const struct {
        double minutes;
        int pulses;
    } cases[] = {{6.0, 1}, {9.0, 1}, {10.0, 2}, {14.0, 2}, {15.0, 3}, {40.0, 3}};
    struct world *w = world_new();
    w->zones[0].method = DELIVERY_DRIP;
    w->zones[0].emitters_per_pot = 1.0;
    w->zones[0].emitter_l_h = 4.0;
    w->zones[0].emission_uniformity = 0.9;
    w->zones[0].pulses = 3;
    w->zones[0].pause_min = 20.0;
    w->nursery.order_count = 1;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        w->orders[0] =
            (struct nursery_order){0, NURSERY_NONE, NOW_S, NOW_S + 5 * H, cases[i].minutes, 0.0};
        assert_int_equal(world_plan(w), STATUS_OK);
        assert_int_equal(w->result.runs[0].pulses, cases[i].pulses);
        assert_true(w->result.runs[0].minutes >= (int)cases[i].minutes);
    }
    world_free(w);
}

/* A hose that gives each pot what the average lacks leaves the dry quarter behind for good: every
 * five days it gives what the driest lack. */
static void plan_by_hand_the_driest_are_filled_every_five_days(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->zones[0].method = DELIVERY_HAND;
    w->zones[0].flow_l_min = 20.0;
    w->states[0].pots = 100.0;
    w->weighings[0] = (struct nursery_weighing){0, NOW_S - 145 * H, 0.0};
    for (size_t r = 0; r < 6; r++) /* 0.1 l a pot: less than they use */
        w->runs[r] =
            world_run(0, NOW_S - (int64_t)(138 - 24 * r) * H, NOW_S - (int64_t)(137 - 24 * r) * H,
                      10.0, NURSERY_RUN_REPORTED, NURSERY_IRRIGATION);
    w->nursery.run_count = 6;
    assert_int_equal(world_plan(w), STATUS_OK);
    const struct plan_block *block = &w->result.blocks[0];
    const struct plan_run *run = &w->result.runs[0];
    assert_true(world_run_says(run, PLAN_EVENS_BED));
    assert_true(block->driest_l > block->depletion_l + 0.02);
    assert_true(run->litres > 100.0 * block->driest_l / 0.8);
    w->weighings[0].at_s = NOW_S - 40 * H; /* filled lately: the average is enough */
    w->nursery.run_count = 0;
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_false(world_run_says(&w->result.runs[0], PLAN_EVENS_BED));
    world_free(w);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(plan_salty_water_lengthens_runs_to_the_requirement),
        cmocka_unit_test(plan_water_too_salty_is_said_and_leaching_ends_at_thirty),
        cmocka_unit_test(plan_rain_leaches_what_it_reaches),
        cmocka_unit_test(plan_salt_in_the_pot_leaches_more_and_is_said),
        cmocka_unit_test(plan_measured_low_half_comes_before_the_estimate),
        cmocka_unit_test(plan_much_drainage_makes_overhead_pulse),
        cmocka_unit_test(plan_mixed_zone_says_who_gets_too_much_and_where_it_would_fit),
        cmocka_unit_test(plan_alike_blocks_on_one_valve_are_no_matter),
        cmocka_unit_test(plan_in_cool_weather_the_airless_block_leads),
        cmocka_unit_test(plan_peak_sends_the_tolerant_zone_a_day_earlier),
        cmocka_unit_test(plan_peak_levelled_keeps_limits_and_leaves_little_undone),
        cmocka_unit_test(plan_peak_of_many_zones_is_levelled_whole),
        cmocka_unit_test(plan_keeps_hours_and_limits_when_clocks_change),
        cmocka_unit_test(plan_pauses_of_one_run_serve_another),
        cmocka_unit_test(plan_pulses_of_emitters_are_no_shorter_than_five_minutes),
        cmocka_unit_test(plan_by_hand_the_driest_are_filled_every_five_days),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
