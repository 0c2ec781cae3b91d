/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "world.h"

#include <math.h>

#include "daemon/plan_result.h"

/* A clear July at 45 N: 16 to 30 C, light wind, no rain. */
static void set_weather(struct world *w)
{
    for (size_t h = 0; h < HOURS; h++) {
        int64_t start_s = NOW_S + ((int64_t)h - HISTORY_H) * CIVIL_HOUR_S;
        double hour = (double)(start_s % CIVIL_DAY_S) / CIVIL_HOUR_S + 0.5;
        double sun = fmax(0.0, cos((hour - 12.0) / 16.0 * 2.0 * M_PI));
        w->hours[h] =
            (struct weather_hour){.start_s = start_s,
                                  .temperature_c = 23.0 + 7.0 * cos((hour - 15.0) / 12.0 * M_PI),
                                  .vapour_pressure_kpa = 1.5,
                                  .wind_2m_m_s = 1.5,
                                  .radiation_mj_m2 = 3.0 * sun,
                                  .clear_ratio = 0.8,
                                  .kind = WEATHER_FORECAST,
                                  .rain_kind = WEATHER_FORECAST,
                                  .radiation = WEATHER_RADIATION_CLOUD};
    }
}

struct bench_fit world_mix(double drained_ml, enum bench_class class_id)
{
    struct bench_test jar = {.vessel_height_cm = 12.0,
                             .vessel_volume_ml = 1000.0,
                             .drained_ml = {drained_ml},
                             .replicates = 1,
                             .class_id = class_id};
    struct bench_fit fit;
    assert_int_equal(bench_fit_one(&jar, &fit), STATUS_OK);
    return fit;
}

struct nursery_zone world_zone(void)
{
    return (struct nursery_zone){.supply = 0,
                                 .method = DELIVERY_OVERHEAD,
                                 .flow_l_min = 60.0,
                                 .rate_mm_h = 12.0,
                                 .du_low_quarter = 0.8,
                                 .run_for = DELIVERY_LOW_HALF,
                                 .leaching_fraction = -1.0,
                                 .pulses = 1,
                                 .least_min = -1.0,
                                 .priority = 3,
                                 .assumed = true,
                                 .lead_block = NURSERY_NONE};
}

struct nursery_block world_block(size_t zone, size_t state)
{
    return (struct nursery_block){.zone = zone,
                                  .cover = NURSERY_NONE,
                                  .first_state = state,
                                  .state_count = 1,
                                  .transparency = 2.0,
                                  .stomatal = 1.0,
                                  .refill_fraction = 0.35,
                                  .stress_p = 0.5,
                                  .k_cal = 1.0,
                                  .k_cal_sd = 0.2};
}

struct nursery_state world_state(void)
{
    return (struct nursery_state){.at_s = NOW_S - 90 * CIVIL_DAY_S,
                                  .pots = 400.0,
                                  .ground_m2 = 0.06,
                                  .canopy_cm = 20.0,
                                  .plant_height_m = 0.3};
}

struct nursery_supply world_supply(double flow_l_min, size_t valves_at_once)
{
    return (struct nursery_supply){.flow_l_min = flow_l_min, .valves_at_once = valves_at_once};
}

struct nursery_run world_run(size_t zone, int64_t start_s, int64_t end_s, double litres,
                             enum nursery_run_state state, enum nursery_purpose purpose)
{
    return (struct nursery_run){.zone = zone,
                                .start_s = start_s,
                                .end_s = end_s,
                                .litres = litres,
                                .state = state,
                                .purpose = purpose};
}

/* One overhead zone with one block in 3 L pots, weighed full two hours ago; water may run from
 * 04:00 to 08:00. */
struct world *world_new(void)
{
    struct world *w = calloc(1, sizeof *w);
    assert_non_null(w);
    set_weather(w);
    w->pots[0] = (struct pot_shape){
        .form = POT_ROUND, .top_cm = 17.0, .bottom_cm = 13.0, .fill_height_cm = 16.0};
    w->pots[1] = (struct pot_shape){
        .form = POT_ROUND, .top_cm = 17.0, .bottom_cm = 13.0, .fill_height_cm = 24.0};
    w->mixes[0] = world_mix(220.0, BENCH_PEAT_PERLITE);
    w->mixes[1] = world_mix(90.0, BENCH_PEAT);
    w->supplies[0] = world_supply(100.0, 4);
    w->zones[0] = world_zone();
    w->windows[0] = (struct nursery_window){
        NURSERY_NONE, {NURSERY_CLOCK, 4 * 3600}, {NURSERY_CLOCK, 8 * 3600}, 0x7f};
    w->states[0] = world_state();
    w->blocks[0] = world_block(0, 0);
    w->weighings[0] = (struct nursery_weighing){0, NOW_S - 2 * CIVIL_HOUR_S, 0.0};
    w->nursery = (struct nursery){.site = {45.0, 0.0, 100.0},
                                  .time_zone = {&w->offset, 1},
                                  .pots = w->pots,
                                  .pot_count = 2,
                                  .mixes = w->mixes,
                                  .mix_count = 2,
                                  .covers = w->covers,
                                  .supplies = w->supplies,
                                  .supply_count = 1,
                                  .zones = w->zones,
                                  .zone_count = 1,
                                  .windows = w->windows,
                                  .window_count = 1,
                                  .states = w->states,
                                  .state_count = 1,
                                  .blocks = w->blocks,
                                  .block_count = 1,
                                  .weighings = w->weighings,
                                  .weighing_count = 1,
                                  .runs = w->runs,
                                  .touches = w->touches,
                                  .orders = w->orders,
                                  .holds = w->holds,
                                  .requirements = w->requirements,
                                  .raises = w->raises,
                                  .drains = w->drains,
                                  .salts = w->salts,
                                  .gauges = w->gauges};
    w->input = (struct plan_input){.nursery = &w->nursery,
                                   .hours = w->hours,
                                   .hour_count = HOURS,
                                   .now_s = NOW_S,
                                   .days = DAYS};
    return w;
}

static void drop_result(struct world *w)
{
    free(w->room);
    plan_result_close(&w->result);
    w->room = NULL;
}

void world_free(struct world *w)
{
    drop_result(w);
    free(w);
}

/* States stand where their block does, unless a case says otherwise. */
static void follow_blocks(struct world *w)
{
    for (size_t b = 0; b < w->nursery.block_count && !w->own_places; b++)
        for (size_t s = 0; s < w->blocks[b].state_count; s++) {
            w->states[w->blocks[b].first_state + s].zone = w->blocks[b].zone;
            w->states[w->blocks[b].first_state + s].cover = w->blocks[b].cover;
        }
}

enum status world_plan(struct world *w)
{
    size_t culprit = 0;
    drop_result(w);
    assert_int_equal(plan_result_open(&w->input, &w->result, &w->room), 0);
    follow_blocks(w);
    return plan_make(&w->input, w->room, &w->result, &culprit);
}

size_t world_runs_on(const struct world *w, size_t day)
{
    size_t count = 0;
    for (size_t r = 0; r < w->result.run_count; r++)
        count += w->result.runs[r].start_s >= w->result.days[day].start_s &&
                         w->result.runs[r].start_s < w->result.days[day].end_s
                     ? 1
                     : 0;
    return count;
}

const struct plan_reason *world_notice(const struct world *w, enum plan_code code)
{
    for (size_t n = 0; n < w->result.notice_count; n++)
        if (w->result.notices[n].code == code)
            return &w->result.notices[n];
    return NULL;
}

bool world_run_says(const struct plan_run *run, enum plan_code code)
{
    for (size_t i = 0; i < run->reason_count; i++)
        if (run->reasons[i].code == code)
            return true;
    return false;
}

/* Twelve zones of every method on a pump that is too small for all of them. */
struct world *world_random(uint64_t *seed)
{
    struct world *w = world_new();
    w->nursery.zone_count = ZONES;
    w->nursery.block_count = BLOCKS;
    w->nursery.state_count = BLOCKS;
    w->nursery.weighing_count = BLOCKS;
    w->nursery.window_count = 2;
    w->windows[1] = (struct nursery_window){
        NURSERY_NONE, {NURSERY_CLOCK, 22 * 3600}, {NURSERY_SUNRISE, 1800}, 0x7f};
    if (check_random(seed) < 0.5)
        w->nursery.window_count = 1;
    w->supplies[0].flow_l_min = check_between(seed, 60.0, 400.0);
    w->supplies[0].valves_at_once = 1 + (size_t)check_between(seed, 0.0, 4.0);
    w->supplies[0].daily_limit_l = check_random(seed) < 0.3 ? 20000.0 : 0.0;
    for (size_t z = 0; z < ZONES; z++) {
        struct nursery_zone *zone = &w->zones[z];
        *zone = world_zone();
        zone->method = (enum delivery_method)(z % 5);
        zone->flow_l_min = check_between(seed, 10.0, 120.0);
        zone->rate_mm_h = check_between(seed, 4.0, 20.0);
        zone->emitters_per_pot = 1.0;
        zone->emitter_l_h = check_between(seed, 1.0, 12.0);
        zone->emission_uniformity = check_between(seed, 0.6, 0.95);
        zone->pulses = zone->method == DELIVERY_DRIP || zone->method == DELIVERY_SPRAY ? 3 : 1;
        zone->pause_min = 20.0;
        zone->priority = 1 + (int)check_between(seed, 0.0, 5.0);
        zone->most_min_day = check_random(seed) < 0.3 ? 40.0 : 0.0;
        zone->most_l_day = check_random(seed) < 0.3 ? 1500.0 : 0.0;
    }
    for (size_t b = 0; b < BLOCKS; b++) {
        w->states[b] = world_state();
        w->states[b].pots = check_between(seed, 0.0, 600.0);
        w->states[b].canopy_cm = check_between(seed, 2.0, 50.0);
        w->states[b].ground_m2 = check_between(seed, 0.03, 0.2);
        w->states[b].mix = b % 2;
        w->states[b].pot = (b / 2) % 2;
        w->blocks[b] = world_block(b % ZONES, b);
        w->weighings[b] = (struct nursery_weighing){b, NOW_S - 3600, check_between(seed, 0.0, 0.6)};
    }
    for (size_t h = HISTORY_H; h < HOURS; h++) {
        w->hours[h].rain_mm = check_random(seed) < 0.03 ? check_between(seed, 0.0, 15.0) : 0.0;
        w->hours[h].wind_2m_m_s = check_between(seed, 0.0, 5.0);
    }
    return w;
}

static bool inside_an_opening(const struct plan_result *result, const struct plan_run *run)
{
    for (size_t o = 0; o < result->opening_count; o++)
        if (run->start_s >= result->openings[o].start_s && run->end_s <= result->openings[o].end_s)
            return true;
    return false;
}

void world_check_limits(const struct world *w)
{
    const struct plan_result *result = &w->result;
    enum { BEFORE = 1440, MINUTES = BEFORE + 10 * 1440 };
    double *used = calloc(MINUTES, sizeof *used);
    unsigned *open = calloc(MINUTES, sizeof *open);
    assert_non_null(used);
    assert_non_null(open);
    for (size_t r = 0; r < result->run_count; r++) {
        const struct plan_run *run = &result->runs[r];
        if (!run->underway) {
            assert_true(run->start_s >= NOW_S + NURSERY_LEAD_S);
            assert_true(world_run_says(run, PLAN_ORDERED) || inside_an_opening(result, run));
        }
        assert_int_equal(run->minutes, run->pulses * run->pulse_min);
        for (int p = 0; p < run->pulses; p++)
            for (int m = 0; m < run->pulse_min; m++) {
                int64_t at = BEFORE + (run->start_s - NOW_S) / 60 +
                             p * (run->pulse_min + run->pause_min) + m;
                assert_true(at >= 0 && at < MINUTES);
                used[at] += run->flow_l_min;
                open[at]++;
            }
        for (size_t other = 0; other < r; other++)
            assert_true(result->runs[other].zone != run->zone ||
                        result->runs[other].end_s <= run->start_s);
    }
    for (int m = 0; m < MINUTES; m++) {
        assert_true(used[m] <= w->supplies[0].flow_l_min * (1.0 + 1e-6));
        assert_true(open[m] <= w->supplies[0].valves_at_once);
    }
    free(used);
    free(open);
}

/* Minutes and litres of the runs that start on a day, of a zone and of the supply. */
void world_check_daily_limits(const struct world *w)
{
    const struct plan_result *result = &w->result;
    for (size_t d = 0; d < result->day_count; d++) {
        double minutes[WORLD_MOST] = {0};
        double litres[WORLD_MOST] = {0};
        double supplied = 0.0;
        for (size_t r = 0; r < result->run_count; r++) {
            const struct plan_run *run = &result->runs[r];
            if (run->start_s < result->days[d].start_s || run->start_s >= result->days[d].end_s)
                continue;
            minutes[run->zone] += run->minutes;
            litres[run->zone] += run->litres;
            supplied += run->litres;
        }
        for (size_t z = 0; z < w->nursery.zone_count; z++) {
            const struct nursery_zone *zone = &w->zones[z];
            assert_true(zone->most_min_day == 0.0 || minutes[z] <= zone->most_min_day);
            assert_true(zone->most_l_day == 0.0 || litres[z] <= zone->most_l_day * (1.0 + 1e-9));
        }
        assert_true(w->supplies[0].daily_limit_l == 0.0 ||
                    supplied <= w->supplies[0].daily_limit_l * (1.0 + 1e-9));
    }
}
