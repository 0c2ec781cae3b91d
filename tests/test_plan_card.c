/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The wall card: minutes by reference ET alone, as the plan would size them. */
#include "world.h"

#include "core/timetable.h"

#include <math.h>
#include <stdio.h>

#define H CIVIL_HOUR_S

static const double card_mm[] = {2.0, 4.0, 6.0, 8.0};

enum { COLUMNS = sizeof card_mm / sizeof card_mm[0] };

struct card {
    struct plan_card_cell *cells;
    double *safe_h;
};

static struct card card_of(struct world *w, const double *et0_mm, size_t count)
{
    size_t culprit = 0;
    struct card card = {calloc(ZONES * count, sizeof *card.cells),
                        calloc(BLOCKS * count, sizeof *card.safe_h)};
    assert_true(card.cells && card.safe_h);
    assert_int_equal(world_plan(w), STATUS_OK); /* makes the room */
    assert_int_equal(
        plan_card(&w->input, w->room, et0_mm, count, card.cells, card.safe_h, &culprit), STATUS_OK);
    return card;
}

static void card_free(struct card *card)
{
    free(card->cells);
    free(card->safe_h);
}

/* A standard day: wind of 2 m/s and air whose lowest humidity is 45 %. */
static void standard_air(struct world *w)
{
    for (size_t h = 0; h < HOURS; h++) {
        w->hours[h].wind_2m_m_s = 2.0;
        w->hours[h].vapour_pressure_kpa = 0.45 * 4.243; /* of saturation at 30 C, FAO-56 */
    }
}

/* The plan of a zone whose pots were full at dawn: what its next morning's run gives is what the
 * card says for that day's reference ET. */
static void assert_card_is_the_plan(struct world *w, const char *what)
{
    w->weighings[0] = (struct nursery_weighing){0, NOW_S - 12 * H, 0.0}; /* 06:00 */
    w->blocks[0].refill_fraction = 0.05;                                 /* due every day */
    assert_int_equal(world_plan(w), STATUS_OK);
    double day_mm = w->result.days[0].et0_mm;
    const struct plan_run *run = NULL;
    for (size_t r = 0; r < w->result.run_count && !run; r++)
        if (w->result.runs[r].start_s >= w->result.days[1].start_s)
            run = &w->result.runs[r];
    assert_non_null(run);
    int minutes = run->minutes;
    int pulses = run->pulses;
    struct card card = card_of(w, &day_mm, 1);
    if (abs(card.cells[0].minutes - minutes) > 1 + minutes / 50)
        fail_msg("%s: the card says %d min at %.2f mm, the plan %d", what, card.cells[0].minutes,
                 day_mm, minutes);
    assert_int_equal(card.cells[0].pulses, pulses);
    assert_int_equal(card.cells[0].every_d, 1);
    card_free(&card);
}

static void plan_card_at_the_day_s_et_is_the_plan_s_run(void **state)
{
    (void)state;
    for (int method = DELIVERY_OVERHEAD; method <= DELIVERY_HAND; method++) {
        struct world *w = world_new();
        char what[32];
        snprintf(what, sizeof what, "method %d", method);
        standard_air(w);
        w->zones[0].method = (enum delivery_method)method;
        w->zones[0].emitters_per_pot = 1.0;
        w->zones[0].emitter_l_h = 1.0;
        w->zones[0].emission_uniformity = 0.9;
        w->zones[0].pulses = method == DELIVERY_DRIP ? 3 : 1;
        w->zones[0].pause_min = 20.0;
        w->zones[0].least_min = 0.0;
        assert_card_is_the_plan(w, what);
        world_free(w);
    }
}

static void plan_card_counts_the_cover_over_a_block(void **state)
{
    (void)state;
    struct world *w = world_new();
    standard_air(w);
    w->covers[0] = (struct nursery_cover){.et0 = {0.7, 0.3, true}, .rain = false};
    w->nursery.cover_count = 1;
    w->blocks[0].cover = 0;
    w->zones[0].least_min = 0.0;
    assert_card_is_the_plan(w, "under a cover");
    world_free(w);
}

static void plan_card_asks_more_the_hotter_it_is(void **state)
{
    (void)state;
    struct world *w = world_new();
    struct card card = card_of(w, card_mm, COLUMNS);
    for (size_t i = 1; i < COLUMNS; i++) {
        const struct plan_card_cell *cool = &card.cells[i - 1];
        const struct plan_card_cell *hot = &card.cells[i];
        assert_true(hot->every_d <= cool->every_d);
        assert_true((double)hot->minutes / hot->every_d >=
                    (double)cool->minutes / cool->every_d * 0.99);
        assert_true(isnan(card.safe_h[i - 1]) || card.safe_h[i] < card.safe_h[i - 1]);
        check_near(hot->litres, hot->minutes * 60.0, 1e-9, "minutes x flow");
        check_near(hot->depth_mm, hot->minutes * 12.0 / 60.0, 1e-9, "minutes x rate");
        assert_int_equal(hot->block, 0);
    }
    card_free(&card);
    world_free(w);
}

static void plan_card_keeps_the_daily_limit_and_says_so(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->zones[0].most_min_day = 20.0;
    struct card card = card_of(w, card_mm, COLUMNS);
    for (size_t i = 0; i < COLUMNS; i++)
        assert_true(card.cells[i].minutes <= 20);
    assert_true(card.cells[COLUMNS - 1].cut);
    card_free(&card);
    world_free(w);
}

static struct plan_card_cell hottest(struct world *w)
{
    const double hot_mm = 14.0;
    struct card card = card_of(w, &hot_mm, 1);
    struct plan_card_cell cell = card.cells[0];
    card_free(&card);
    return cell;
}

/* Pots that flag within the day want two halves: in the morning and the evening, if the zone may
 * run then. */
static void plan_card_says_what_the_zone_s_hours_have_room_for(void **state)
{
    (void)state;
    struct world *w = world_new();
    const struct nursery_window whole = {
        NURSERY_NONE, {NURSERY_CLOCK, 0}, {NURSERY_CLOCK, 86400}, 0x7f};
    w->blocks[0].stress_p = 0.05;
    w->zones[0].least_min = 0.0;
    w->windows[0] = whole;
    struct plan_card_cell free_cell = hottest(w);
    assert_true(free_cell.twice);
    assert_int_equal(free_cell.hours, PLAN_CARD_FITS);
    int minutes = free_cell.minutes;
    assert_true(minutes > 20);
    /* morning hours alone, long enough */
    w->windows[0].start.second = 4 * 3600;
    w->windows[0].end.second = 4 * 3600 + 60 * minutes;
    struct plan_card_cell cell = hottest(w);
    assert_false(cell.twice);
    assert_int_equal(cell.hours, PLAN_CARD_ONCE);
    assert_int_equal(cell.minutes, minutes);
    /* too short, and not on all days */
    w->windows[0].end.second -= 600;
    w->windows[1] = whole;
    w->windows[0].weekdays = 1u << 2;
    w->windows[1].weekdays = 0x7f & ~(1u << 2);
    w->nursery.window_count = 2;
    cell = hottest(w);
    assert_false(cell.twice);
    assert_int_equal(cell.hours, PLAN_CARD_SHORT);
    assert_int_equal(cell.minutes, minutes - 10);
    /* the evening as well, but with room for less than half */
    w->windows[0] = w->windows[1] = whole;
    w->windows[0].start.second = 4 * 3600;
    w->windows[0].end.second = 4 * 3600 + 60 * (minutes / 2 + 1);
    w->windows[1].start.second = 19 * 3600;
    w->windows[1].end.second = 19 * 3600 + 60 * (minutes / 2 - 5);
    cell = hottest(w);
    assert_true(cell.twice);
    assert_int_equal(cell.hours, PLAN_CARD_SHORT);
    assert_int_equal(cell.minutes, 2 * (minutes / 2 - 5));
    w->windows[1].end.second += 600;
    cell = hottest(w);
    assert_true(cell.twice);
    assert_int_equal(cell.hours, PLAN_CARD_FITS);
    assert_int_equal(cell.minutes, minutes);
    world_free(w);
}

static void plan_card_does_not_care_for_today_s_weather(void **state)
{
    (void)state;
    struct world *w = world_new();
    struct card clear = card_of(w, card_mm, COLUMNS);
    for (size_t h = 0; h < HOURS; h++) {
        w->hours[h].temperature_c -= 12.0;
        w->hours[h].vapour_pressure_kpa = 0.9;
        w->hours[h].wind_2m_m_s = 4.0;
        w->hours[h].rain_mm = 1.0;
    }
    struct card dull = card_of(w, card_mm, COLUMNS);
    for (size_t i = 0; i < COLUMNS; i++)
        assert_int_equal(dull.cells[i].minutes, clear.cells[i].minutes);
    card_free(&clear);
    card_free(&dull);
    world_free(w);
}

static void plan_card_of_a_zone_without_pots_is_empty(void **state)
{
    (void)state;
    struct world *w = world_new();
    w->states[0].pots = 0.0;
    struct card card = card_of(w, card_mm, COLUMNS);
    for (size_t i = 0; i < COLUMNS; i++) {
        assert_int_equal(card.cells[i].minutes, 0);
        assert_true(isnan(card.safe_h[i]));
    }
    card_free(&card);
    world_free(w);
}

static void plan_card_of_any_nursery_is_finite_and_within_limits(void **state)
{
    (void)state;
    uint64_t seed = 20261126;
    for (int round = 0; round < 5; round++) {
        struct world *w = world_random(&seed);
        struct card card = card_of(w, card_mm, COLUMNS);
        for (size_t c = 0; c < ZONES * COLUMNS; c++) {
            const struct plan_card_cell *cell = &card.cells[c];
            const struct nursery_zone *zone = &w->zones[c / COLUMNS];
            assert_true(cell->minutes >= 0 && cell->minutes < TIMETABLE_MINUTES);
            assert_true(cell->every_d >= 1 && cell->every_d <= PLAN_CARD_DAYS);
            if (zone->most_min_day > 0.0)
                assert_true(cell->minutes <= zone->most_min_day);
            if (zone->most_l_day > 0.0)
                assert_true(cell->litres <= zone->most_l_day + 1e-9);
        }
        card_free(&card);
        world_free(w);
    }
}

static void plan_card_refuses_an_et_that_cannot_be(void **state)
{
    (void)state;
    struct world *w = world_new();
    const double wrong[] = {0.0, -1.0, 15.1, NAN, INFINITY};
    struct plan_card_cell cell;
    double safe_h;
    size_t culprit = 0;
    assert_int_equal(world_plan(w), STATUS_OK);
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++)
        assert_int_equal(plan_card(&w->input, w->room, &wrong[i], 1, &cell, &safe_h, &culprit),
                         STATUS_RANGE);
    world_free(w);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(plan_card_at_the_day_s_et_is_the_plan_s_run),
        cmocka_unit_test(plan_card_counts_the_cover_over_a_block),
        cmocka_unit_test(plan_card_asks_more_the_hotter_it_is),
        cmocka_unit_test(plan_card_keeps_the_daily_limit_and_says_so),
        cmocka_unit_test(plan_card_says_what_the_zone_s_hours_have_room_for),
        cmocka_unit_test(plan_card_does_not_care_for_today_s_weather),
        cmocka_unit_test(plan_card_of_a_zone_without_pots_is_empty),
        cmocka_unit_test(plan_card_of_any_nursery_is_finite_and_within_limits),
        cmocka_unit_test(plan_card_refuses_an_et_that_cannot_be),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
