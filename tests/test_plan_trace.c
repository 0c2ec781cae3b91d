/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A block hour by hour: the plan's own water, and mass that closes. */
#include "world.h"

#include <math.h>

#define H CIVIL_HOUR_S

static struct plan_trace trace_of(struct world *w, size_t block)
{
    struct plan_trace trace = {.block = block, .to = w->input.hour_count};
    trace.hours = calloc(trace.to, sizeof *trace.hours);
    assert_non_null(trace.hours);
    return trace;
}

/* world_plan drops the result before, with the trace it had. */
static void plan_traced(struct world *w, struct plan_trace *trace)
{
    assert_int_equal(world_plan(w), STATUS_OK);
    size_t culprit = 0;
    w->result.trace = trace;
    assert_int_equal(plan_make(&w->input, w->room, &w->result, &culprit), STATUS_OK);
    w->result.trace = NULL;
}

static size_t now_hour(const struct world *w)
{
    return (size_t)((w->input.now_s - w->hours[0].start_s) / H);
}

static void assert_closes(const struct plan_trace *trace)
{
    for (size_t h = trace->first; h + 1 < trace->to; h++) {
        const struct plan_hour *hour = &trace->hours[h];
        double next_l = hour->water_l + hour->adjusted_l + hour->in_l + hour->rain_l -
                        hour->used_l - hour->drained_l;
        check_near(hour[1].water_l, next_l, 1e-9, "water of the next hour");
        assert_true(hour->used_l >= 0.0 && hour->drained_l >= 0.0 && hour->rain_l >= 0.0);
        assert_true(hour->driest_l <= hour->water_l + 1e-9);
        assert_true(hour->water_l <= hour->full_l + 1e-9);
    }
}

static void plan_trace_of_any_block_closes_and_is_the_plan(void **state)
{
    (void)state;
    uint64_t seed = 20261125;
    for (int round = 0; round < 6; round++) {
        struct world *w = world_random(&seed);
        size_t block = (size_t)check_between(&seed, 0.0, (double)w->nursery.block_count - 0.001);
        assert_int_equal(world_plan(w), STATUS_OK);
        const struct plan_block untraced = w->result.blocks[block];
        size_t runs = w->result.run_count;
        struct plan_trace trace = trace_of(w, block);
        plan_traced(w, &trace);
        assert_closes(&trace);
        const struct plan_block *planned = &w->result.blocks[block];
        const struct plan_hour *now = &trace.hours[now_hour(w)];
        check_near(planned->water_l, untraced.water_l, 0.0, "as without a trace");
        check_near(planned->given_l, untraced.given_l, 0.0, "as without a trace");
        check_near(planned->lost_l, untraced.lost_l, 0.0, "as without a trace");
        check_near(planned->air_lowest, untraced.air_lowest, 0.0, "as without a trace");
        assert_int_equal(planned->next_s, untraced.next_s);
        assert_int_equal(planned->next_from_s, untraced.next_from_s);
        assert_int_equal(w->result.run_count, runs);
        check_near(now->water_l, planned->water_l, 0.0, "water now");
        check_near(now->full_l - now->driest_l, planned->driest_l, 1e-12, "the dry quarter");
        check_near(now->full_l - now->refill_l, planned->refill_l, 1e-12, "refill");
        check_near(now->air, planned->air, 0.0, "air");
        double given_l = 0.0;
        double used_l = 0.0;
        for (size_t h = now_hour(w); h < trace.to; h++) {
            given_l += trace.hours[h].in_l;
            used_l +=
                trace.hours[h].used_l * (double)(w->hours[h].start_s < w->result.days[1].end_s &&
                                                 w->hours[h].start_s >= w->result.days[1].start_s);
        }
        check_near(given_l, planned->given_l, 1e-9, "what the planned runs give");
        check_near(used_l, planned->use_tomorrow_l, 1e-9, "use tomorrow");
        free(trace.hours);
        world_free(w);
    }
}

static void plan_trace_shows_what_was_found_and_done(void **state)
{
    (void)state;
    struct world *w = world_new();
    struct plan_trace trace = trace_of(w, 0);
    w->weighings[0] = (struct nursery_weighing){0, NOW_S - 30 * H + 600, 0.3};
    w->weighings[1] = (struct nursery_weighing){0, NOW_S - 4 * H + 600, 0.05};
    w->nursery.weighing_count = 2;
    w->runs[0] = world_run(0, NOW_S - 12 * H, NOW_S - 12 * H + 1200, -1.0, NURSERY_RUN_REPORTED,
                           NURSERY_IRRIGATION);
    w->nursery.run_count = 1;
    for (size_t h = 0; h < HOURS; h++)
        if (w->hours[h].start_s == NOW_S - 8 * H) {
            w->hours[h].rain_mm = 6.0;
            w->hours[h].rain_kind = WEATHER_MEASURED;
        }
    plan_traced(w, &trace);
    assert_closes(&trace);
    size_t now = now_hour(w);
    assert_int_equal(trace.first, now - 30); /* nothing is known before */
    assert_true(trace.hours[now - 12].in_l > 0.1);
    check_near(trace.hours[now - 8].rain_mm, 6.0, 0.0, "rain that fell");
    assert_true(trace.hours[now - 8].rain_l > 0.05);
    assert_true(fabs(trace.hours[now - 4].adjusted_l) > 1e-6);
    check_near(trace.hours[now - 4].water_l + trace.hours[now - 4].adjusted_l,
               trace.hours[now - 4].full_l - 0.05, 1e-12, "as weighed");
    assert_true(trace.hours[now - 11].adjusted_l == 0.0);
    free(trace.hours);
    world_free(w);
}

static void plan_trace_has_a_range_ahead_that_widens(void **state)
{
    (void)state;
    struct world *w = world_new();
    struct plan_trace trace = trace_of(w, 0);
    w->nursery.window_count = 0; /* nobody waters: the members drift apart */
    plan_traced(w, &trace);
    size_t now = now_hour(w);
    assert_true(isnan(trace.hours[now - 1].from_l) && isnan(trace.hours[now - 1].to_l));
    for (size_t h = now; h < trace.to; h++)
        assert_true(trace.hours[h].from_l <= trace.hours[h].to_l);
    const struct plan_hour *soon = &trace.hours[now + 12];
    const struct plan_hour *later = &trace.hours[now + 30];
    assert_true(later->to_l - later->from_l > soon->to_l - soon->from_l);
    assert_true(soon->from_l < soon->water_l && soon->water_l < soon->to_l);
    free(trace.hours);
    world_free(w);
}

static void plan_trace_keeps_both_sides_of_an_unknown_run(void **state)
{
    (void)state;
    struct world *w = world_new();
    struct plan_trace trace = trace_of(w, 0);
    w->weighings[0] = (struct nursery_weighing){0, NOW_S - 30 * H, 0.3};
    w->runs[0] =
        world_run(0, NOW_S - 12 * H, NOW_S - 11 * H, -1.0, NURSERY_RUN_UNKNOWN, NURSERY_IRRIGATION);
    w->nursery.run_count = 1;
    plan_traced(w, &trace);
    size_t now = now_hour(w);
    check_near(trace.hours[now - 13].wet_l, trace.hours[now - 13].water_l, 0.0, "before");
    assert_true(trace.hours[now].wet_l > trace.hours[now].water_l + 0.05);
    check_near(trace.hours[now].wet_l, w->result.blocks[0].water_wet_l, 0.0, "the plan's");
    assert_closes(&trace);
    free(trace.hours);
    world_free(w);
}

static void plan_trace_refuses_what_is_not_there(void **state)
{
    (void)state;
    struct world *w = world_new();
    struct plan_trace trace = trace_of(w, 0);
    size_t culprit = 0;
    const struct plan_trace wrong[] = {
        {.block = 1, .to = trace.to, .hours = trace.hours},
        {.to = trace.to + 1, .hours = trace.hours},
        {.from = 5, .to = 5, .hours = trace.hours},
        {.from = now_hour(w) + 1, .to = trace.to, .hours = trace.hours},
    };
    assert_int_equal(world_plan(w), STATUS_OK);
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
        struct plan_trace one = wrong[i];
        w->result.trace = &one;
        assert_int_equal(plan_make(&w->input, w->room, &w->result, &culprit), STATUS_RANGE);
    }
    w->result.trace = NULL;
    free(trace.hours);
    world_free(w);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(plan_trace_of_any_block_closes_and_is_the_plan),
        cmocka_unit_test(plan_trace_shows_what_was_found_and_done),
        cmocka_unit_test(plan_trace_has_a_range_ahead_that_widens),
        cmocka_unit_test(plan_trace_keeps_both_sides_of_an_unknown_run),
        cmocka_unit_test(plan_trace_refuses_what_is_not_there),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
