/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The timetable of small nurseries against a search through every start on a grid: what can be done
 * at all is done, and not much later than need be.
 */
#include "world.h"

#include <math.h>

enum { MOST = 4, GRID_MIN = 5, DAY_MIN = 1440 };

struct job {
    int minutes, pulses, pulse_min, pause_min;
    int from_min, until_min; /* of tomorrow */
    double flow_l_min;
};

struct search {
    struct job jobs[MOST];
    size_t count;
    double flow_l_min;
    unsigned valves;
    double used_l_min[DAY_MIN];
    unsigned open[DAY_MIN];
    bool found;
    int best_end_min;
};

static int span_of(const struct job *job)
{
    return job->pulses * job->pulse_min + (job->pulses - 1) * job->pause_min;
}

static void take(struct search *s, const struct job *job, int start_min, int sign)
{
    for (int p = 0; p < job->pulses; p++)
        for (int m = 0; m < job->pulse_min; m++) {
            int at = start_min + p * (job->pulse_min + job->pause_min) + m;
            s->used_l_min[at] += sign * job->flow_l_min;
            s->open[at] += (unsigned)sign;
        }
}

static bool fits(const struct search *s, const struct job *job, int start_min)
{
    for (int p = 0; p < job->pulses; p++)
        for (int m = 0; m < job->pulse_min; m++) {
            int at = start_min + p * (job->pulse_min + job->pause_min) + m;
            if (s->used_l_min[at] + job->flow_l_min > s->flow_l_min * (1.0 + 1e-9) ||
                s->open[at] >= s->valves)
                return false;
        }
    return true;
}

/* Every start on the grid for every job; branches that end no sooner than the best are cut. */
static void search_on(struct search *s, size_t next, int end_min)
{
    if (s->found && end_min >= s->best_end_min)
        return;
    if (next == s->count) {
        s->found = true;
        s->best_end_min = end_min;
        return;
    }
    const struct job *job = &s->jobs[next];
    for (int start = job->from_min; start + span_of(job) <= job->until_min; start += GRID_MIN) {
        if (!fits(s, job, start))
            continue;
        int end = start + span_of(job);
        take(s, job, start, 1);
        search_on(s, next + 1, end > end_min ? end : end_min);
        take(s, job, start, -1);
    }
}

/* Thirsty drip zones with hours of their own and a supply of which they ask too much at once. */
static struct world *small_world(uint64_t *seed, size_t zones)
{
    struct world *w = world_new();
    w->nursery.zone_count = w->nursery.block_count = w->nursery.state_count =
        w->nursery.weighing_count = w->nursery.window_count = zones;
    for (size_t z = 0; z < zones; z++) {
        int start_s = (int)check_between(seed, 48.0, 84.0) * 300; /* 04:00 to 07:00 */
        int length_s = (int)check_between(seed, 8.0, 24.0) * 300;
        w->zones[z] = world_zone();
        w->zones[z].method = DELIVERY_DRIP;
        w->zones[z].flow_l_min = check_between(seed, 20.0, 80.0);
        w->zones[z].emitters_per_pot = 1.0;
        w->zones[z].emitter_l_h = check_between(seed, 0.4, 2.0);
        w->zones[z].emission_uniformity = 0.9;
        w->zones[z].pulses = check_random(seed) < 0.3 ? 2 : 1;
        w->zones[z].pause_min = 15.0;
        w->zones[z].priority = 1 + (int)check_between(seed, 0.0, 4.9);
        w->windows[z] = (struct nursery_window){
            z, {NURSERY_CLOCK, start_s}, {NURSERY_CLOCK, start_s + length_s}, 0x7f};
        w->states[z] = world_state();
        w->blocks[z] = world_block(z, z);
        w->weighings[z] =
            (struct nursery_weighing){z, NOW_S - 3600, check_between(seed, 0.35, 0.5)};
    }
    return w;
}

/* With water for all: what each zone asks for tomorrow. False when one is longer than its hours. */
static bool jobs_of(struct world *w, struct search *s)
{
    w->supplies[0] = world_supply(1e5, 100);
    assert_int_equal(world_plan(w), STATUS_OK);
    int64_t midnight_s = w->result.days[1].start_s;
    s->count = w->nursery.zone_count;
    for (size_t z = 0; z < s->count; z++) {
        const struct plan_run *run = NULL;
        for (size_t r = 0; r < w->result.run_count && !run; r++)
            if (w->result.runs[r].zone == z)
                run = &w->result.runs[r];
        if (!run || run->start_s < midnight_s || run->start_s >= w->result.days[1].end_s)
            return false;
        s->jobs[z] = (struct job){run->minutes,
                                  run->pulses,
                                  run->pulse_min,
                                  run->pause_min,
                                  w->windows[z].start.second / 60,
                                  w->windows[z].end.second / 60,
                                  run->flow_l_min};
    }
    return true;
}

static size_t placed_tomorrow(const struct world *w, int *end_min)
{
    size_t placed = 0;
    *end_min = 0;
    for (size_t r = 0; r < w->result.run_count; r++) {
        const struct plan_run *run = &w->result.runs[r];
        if (run->start_s >= w->result.days[1].end_s)
            continue;
        placed++;
        int end = (int)((run->end_s - w->result.days[1].start_s) / 60);
        *end_min = end > *end_min ? end : *end_min;
    }
    return placed;
}

static int first_start_of(const struct search *s)
{
    int first = DAY_MIN;
    for (size_t i = 0; i < s->count; i++)
        first = s->jobs[i].from_min < first ? s->jobs[i].from_min : first;
    return first;
}

/* What the whole grid holds the plan holds, and the last valve shuts within twice the shortest
 * time there is. */
static void plan_small_nurseries_do_what_a_whole_search_does(void **state)
{
    (void)state;
    uint64_t seed = 2026;
    size_t feasible = 0;
    size_t infeasible = 0;
    double worst = 1.0;
    for (int i = 0; i < 600; i++) {
        struct world *w = small_world(&seed, 2 + (size_t)(i % 3));
        struct search s = {.valves = 1 + (unsigned)check_between(&seed, 0.0, 1.9),
                           .flow_l_min = check_between(&seed, 60.0, 120.0)};
        int end_min = 0;
        if (!jobs_of(w, &s)) {
            world_free(w);
            continue;
        }
        for (size_t z = 0; z < s.count; z++)
            s.flow_l_min = fmax(s.flow_l_min, s.jobs[z].flow_l_min);
        w->supplies[0] = world_supply(s.flow_l_min, s.valves);
        search_on(&s, 0, 0);
        assert_int_equal(world_plan(w), STATUS_OK);
        world_check_limits(w);
        size_t placed = placed_tomorrow(w, &end_min);
        if (s.found) {
            if (placed != s.count)
                fail_msg("nursery %d: %zu of %zu placed", i, placed, s.count);
            int first = first_start_of(&s);
            worst = fmax(worst, (double)(end_min - first) / (s.best_end_min - first));
            feasible++;
        } else if (placed != s.count) {
            infeasible++;
        }
        world_free(w);
    }
    print_message("%zu can be done and are, %zu cannot; the last valve shuts at most %.2f times "
                  "as late as it could\n",
                  feasible, infeasible, worst);
    assert_true(feasible > 100 && infeasible > 20);
    assert_true(worst <= 2.0);
}

/* A zone that could run all morning stands back for one whose hours are nearly over. */
static void plan_run_with_hours_to_spare_stands_back(void **state)
{
    (void)state;
    uint64_t seed = 4;
    struct world *w = small_world(&seed, 2);
    int end_min = 0;
    for (size_t z = 0; z < 2; z++) {
        w->zones[z].emitter_l_h = 1.0;
        w->zones[z].pulses = 1;
        w->weighings[z].missing_l = 0.4;
    }
    w->zones[0].priority = 1; /* more urgent, but with time until 10:00 */
    w->windows[0].start.second = 4 * 3600;
    w->windows[0].end.second = 10 * 3600;
    w->zones[1].priority = 5;
    w->windows[1].start.second = 4 * 3600;
    w->windows[1].end.second = 4 * 3600 + 45 * 60;
    w->supplies[0] = world_supply(100.0, 1);
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_int_equal(placed_tomorrow(w, &end_min), 2);
    assert_int_equal(w->result.runs[0].zone, 1);
    w->windows[0].end.second = 4 * 3600 + 45 * 60; /* now one must go without: not the urgent */
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_int_equal(placed_tomorrow(w, &end_min), 1);
    assert_int_equal(w->result.runs[0].zone, 0);
    world_free(w);
}

/* The same among eighty: none of the urgent ones loses by it. */
static void plan_run_of_many_with_few_hours_is_not_left_out(void **state)
{
    (void)state;
    uint64_t seed = 4;
    struct world *w = small_world(&seed, WORLD_MOST);
    int end_min = 0;
    for (size_t z = 0; z < WORLD_MOST; z++) {
        w->zones[z].flow_l_min = 10.0;
        w->zones[z].emitter_l_h = 1.0;
        w->zones[z].pulses = 1;
        w->zones[z].priority = 1;
        w->weighings[z].missing_l = 0.4;
        w->windows[z].start.second = 4 * 3600;
        w->windows[z].end.second = 8 * 3600;
    }
    w->zones[7].priority = 5;
    w->windows[7].end.second = 4 * 3600 + 45 * 60;
    w->supplies[0] = world_supply(250.0, WORLD_MOST);
    assert_int_equal(world_plan(w), STATUS_OK);
    assert_int_equal(placed_tomorrow(w, &end_min), WORLD_MOST);
    world_check_limits(w);
    world_free(w);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(plan_small_nurseries_do_what_a_whole_search_does),
        cmocka_unit_test(plan_run_with_hours_to_spare_stands_back),
        cmocka_unit_test(plan_run_of_many_with_few_hours_is_not_left_out),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
