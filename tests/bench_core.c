/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the model's steps cost: nanoseconds, and times the cost of one pow() measured in the same
 * run, so that figures from two machines can be laid side by side. Prints; judges nothing.
 */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "core/balance.h"
#include "core/bench.h"
#include "core/demand.h"
#include "core/et0.h"
#include "core/plan.h"
#include "core/pot.h"
#include "daemon/plan_result.h"

static const struct sun_site site = {52.1, 5.2, 3};

/* One call each; the return value keeps the work from being dropped. */
typedef double (*step_fn)(int i);

static double step_pow(int i)
{
    return pow(1.5 + i % 7, 0.37);
}

static double step_et0(int i)
{
    struct et0_hour_in in = {
        1751025600 + 3600 * (i % 24), 22, 1.6, 2.5, 1.5, 0.7, ET0_ASCE2005, {1, 0, false}};
    struct et0_hour_out out = {0};
    return et0_of_hour(&site, &in, &out) == STATUS_OK ? out.et0_mm : NAN;
}

static double step_use(int i)
{
    const struct demand_plant plant = {0.09, 28, 0.35, 20, 2, 1};
    const struct demand_climate climate = {2.5, 40 + i % 5};
    const struct demand_reductions reductions = {1, 1, 1};
    struct demand_factors factors;
    struct demand_use use;
    if (demand_factors_of(&plant, &climate, &factors) != STATUS_OK ||
        demand_use_of(&factors, plant.ground_m2, 0.4, &reductions, &use) != STATUS_OK)
        return NAN;
    return use.use_l;
}

static enum status fit(int i, struct bench_fit *out)
{
    const struct bench_test test = {.vessel_height_cm = 12,
                                    .vessel_volume_ml = 1000,
                                    .drained_ml = {210 + i % 3, 205, 214},
                                    .replicates = 3,
                                    .class_id = BENCH_BARK_AGED};
    return bench_fit_one(&test, out);
}

static double step_fit(int i)
{
    struct bench_fit out;
    return fit(i, &out) == STATUS_OK ? out.curve.alpha_per_cm : NAN;
}

static double step_pot(int i)
{
    static const struct pot_shape shape = {.top_cm = 16, .bottom_cm = 12, .fill_height_cm = 15};
    struct pot_figures figures;
    struct bench_fit out;
    if (fit(i, &out) != STATUS_OK ||
        pot_at_capacity(&shape, &out.curve, NULL, 0, &figures) != STATUS_OK)
        return NAN;
    return figures.water_l;
}

/* A day goes by, a run every morning. */
static double step_balance(int i)
{
    static const struct balance_rates rates = {0.06, 0.02, 0, 1};
    static struct balance_state state = {.water_l = 1.2};
    struct balance_pot pot = {.ceiling_l = 1.4,
                              .available_l = 0.8,
                              .stress_p = 0.5,
                              .top_m2 = 0.02,
                              .surface = demand_surface_of(true),
                              .rain_l_mm = 0.016,
                              .foliage_mm = 1,
                              .intake = delivery_intake_of(DELIVERY_DRIP, true)};
    struct balance_sums sums = {0};
    int hour = i % 24;
    balance_hour(&pot, &rates, hour > 6 && hour < 18 ? 0.4 : 0, i % 100 == 50 ? 3 : 0,
                 hour == 5 ? 0.4 : 0, &state, &sums);
    return state.water_l;
}

/* --- a whole plan -------------------------------------------------------------------------- */

/* Alike zones of alike blocks, 21 days back and 9 ahead, as the daemon asks for. */
enum { HOURS = 30 * 24, BLOCKS_A_ZONE = 10, PAST_DAYS = 21, FEW = 200, MANY = 10000, TIGHT = 2000 };

struct farm {
    struct pot_shape pot;
    struct bench_fit mix;
    struct nursery_supply supply;
    struct nursery_window window;
    size_t zone_count, block_count;
    struct nursery_zone *zones;
    struct nursery_block *blocks;
    struct nursery_state *states;
    struct nursery_run *runs; /* one a zone and past day */
    struct weather_hour hours[HOURS];
    struct civil_offset utc;
    struct nursery nursery;
    struct plan_input input;
    struct plan_result result;
    void *room;
};

static void *room_for(size_t count, size_t size)
{
    void *room = calloc(count + 1, size);
    if (!room)
        exit(EXIT_FAILURE);
    return room;
}

static void fill_nursery(struct farm *f, int64_t first_s)
{
    f->pot = (struct pot_shape){.top_cm = 16, .bottom_cm = 12, .fill_height_cm = 15};
    /* enough for every zone in its window, so that nothing has to be decided twice */
    f->supply = (struct nursery_supply){.flow_l_min = 90.0 * (double)f->zone_count,
                                        .valves_at_once = f->zone_count};
    f->window = (struct nursery_window){
        NURSERY_NONE, {NURSERY_CLOCK, 3 * 3600}, {NURSERY_CLOCK, 9 * 3600}, 0x7f};
    for (size_t z = 0; z < f->zone_count; z++)
        f->zones[z] = (struct nursery_zone){.method = DELIVERY_OVERHEAD,
                                            .flow_l_min = 90,
                                            .rate_mm_h = 14,
                                            .leaching_fraction = -1,
                                            .pulses = 1,
                                            .least_min = -1,
                                            .priority = 3,
                                            .lead_block = NURSERY_NONE};
    for (size_t r = 0; r < f->zone_count * PAST_DAYS; r++) {
        int64_t start_s = first_s + (int64_t)(r % PAST_DAYS) * CIVIL_DAY_S + 5 * CIVIL_HOUR_S;
        f->runs[r] = (struct nursery_run){.zone = r / PAST_DAYS,
                                          .start_s = start_s,
                                          .end_s = start_s + 1500,
                                          .litres = -1,
                                          .state = NURSERY_RUN_ASSUMED,
                                          .purpose = NURSERY_IRRIGATION};
    }
    for (size_t b = 0; b < f->block_count; b++) {
        f->states[b] = (struct nursery_state){.at_s = first_s,
                                              .zone = b % f->zone_count,
                                              .cover = NURSERY_NONE,
                                              .potted = true,
                                              .watered_in = true,
                                              .pots = 500,
                                              .ground_m2 = 0.09,
                                              .canopy_cm = 20 + (double)(b % 10),
                                              .plant_height_m = 0.35};
        f->blocks[b] = (struct nursery_block){.zone = b % f->zone_count,
                                              .cover = NURSERY_NONE,
                                              .first_state = b,
                                              .state_count = 1,
                                              .transparency = 2,
                                              .stomatal = 1,
                                              .refill_fraction = 0.35,
                                              .stress_p = 0.5,
                                              .k_cal = 1};
    }
}

static struct farm *farm_new(size_t blocks)
{
    struct weather_normal normals[12];
    size_t filled = 0;
    int64_t first_s = 1751328000; /* 2025-07-01 */
    struct farm *f = room_for(1, sizeof *f);
    f->block_count = blocks;
    f->zone_count = blocks / BLOCKS_A_ZONE;
    f->zones = room_for(f->zone_count, sizeof *f->zones);
    f->blocks = room_for(blocks, sizeof *f->blocks);
    f->states = room_for(blocks, sizeof *f->states);
    f->runs = room_for(f->zone_count * PAST_DAYS, sizeof *f->runs);
    for (size_t m = 0; m < 12; m++)
        normals[m] = (struct weather_normal){26, 14, 12, 2, 0.7, 30, 5};
    fill_nursery(f, first_s);
    const struct weather_task task = {
        .site = &site, .normals = normals, .first_s = first_s, .count = HOURS};
    if (fit(0, &f->mix) != STATUS_OK || weather_complete(&task, f->hours, &filled) != STATUS_OK)
        exit(EXIT_FAILURE);
    f->nursery = (struct nursery){.site = site,
                                  .time_zone = {&f->utc, 1},
                                  .pots = &f->pot,
                                  .pot_count = 1,
                                  .mixes = &f->mix,
                                  .mix_count = 1,
                                  .supplies = &f->supply,
                                  .supply_count = 1,
                                  .zones = f->zones,
                                  .zone_count = f->zone_count,
                                  .windows = &f->window,
                                  .window_count = 1,
                                  .states = f->states,
                                  .state_count = f->block_count,
                                  .blocks = f->blocks,
                                  .block_count = f->block_count,
                                  .runs = f->runs,
                                  .run_count = f->zone_count * PAST_DAYS};
    f->input = (struct plan_input){.nursery = &f->nursery,
                                   .hours = f->hours,
                                   .hour_count = HOURS,
                                   .now_s = first_s + 21 * CIVIL_DAY_S + 6 * CIVIL_HOUR_S,
                                   .days = 7};
    if (plan_result_open(&f->input, &f->result, &f->room) != 0)
        exit(EXIT_FAILURE);
    return f;
}

static void farm_free(struct farm *f)
{
    free(f->zones);
    free(f->blocks);
    free(f->states);
    free(f->runs);
    plan_result_close(&f->result);
    free(f->room);
    free(f);
}

static struct farm *small;
static struct farm *large;
static struct farm *tight;

/* Pots that need water every other day, at most, on a supply that is a seventh too small: other
 * orders and days are tried. */
static void make_tight(struct farm *f)
{
    f->pot = (struct pot_shape){.top_cm = 28, .bottom_cm = 22, .fill_height_cm = 25};
    f->supply.flow_l_min = 90.0 * 0.06 * (double)f->zone_count;
    for (size_t z = 0; z < f->zone_count; z++) {
        f->zones[z].rate_mm_h = 30;
        f->zones[z].priority = 1 + (int)(z % 3);
    }
    for (size_t r = 0; r < f->zone_count * PAST_DAYS; r++)
        f->runs[r].end_s = f->runs[r].start_s + 2400;
    for (size_t b = 0; b < f->block_count; b++) {
        f->states[b].ground_m2 = 0.16;
        f->states[b].canopy_cm = 14 + (double)(b % f->zone_count % 7);
        f->blocks[b].refill_fraction = 0.25 + 0.05 * (double)(b % f->zone_count % 4);
    }
}

/* Planned once each call. */
static double step_plan(struct farm *farm, int i)
{
    size_t culprit = 0;
    farm->input.now_s += i % 2 ? CIVIL_HOUR_S : -CIVIL_HOUR_S;
    if (plan_make(&farm->input, farm->room, &farm->result, &culprit) != STATUS_OK)
        return NAN;
    return (double)farm->result.run_count;
}

static double step_small(int i)
{
    return step_plan(small, i);
}

static double step_large(int i)
{
    return step_plan(large, i);
}

static double step_tight(int i)
{
    return step_plan(tight, i);
}

struct step {
    const char *name;
    step_fn run;
    int times; /* calls a round */
    int parts; /* of one call, for its cost */
};

static const struct step steps[] = {
    {"pow(), the yardstick", step_pow, 4000000, 1},
    {"reference ET of one hour", step_et0, 400000, 1},
    {"factors and use of one pot and hour", step_use, 400000, 1},
    {"bench test to curve", step_fit, 1000, 1},
    {"bench test to curve, then a pot filled", step_pot, 1000, 1},
    {"balance, a block-hour of one pot", step_balance, 1000000, 1},
    {"plan of 200 blocks, per block-hour", step_small, 5, FEW *HOURS},
    {"plan of 10000 blocks, per block-hour", step_large, 1, MANY *HOURS},
    {"plan of 2000, supply short, per block-hour", step_tight, 1, TIGHT *HOURS},
};

static double now_ns(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return 1e9 * (double)t.tv_sec + (double)t.tv_nsec;
}

/* Best of five, so that a busy machine disturbs less. */
static double cost_ns(const struct step *step, double *sum)
{
    double best = INFINITY;
    for (int round = 0; round < 5; round++) {
        double began = now_ns();
        for (int i = 0; i < step->times; i++)
            *sum += step->run(i);
        best = fmin(best, (now_ns() - began) / step->times / step->parts);
    }
    return best;
}

/* usage: bench_core [PART OF A NAME] */
int main(int argc, char **argv)
{
    double sum = 0;
    double yardstick = 0;
    small = farm_new(FEW);
    large = farm_new(MANY);
    tight = farm_new(TIGHT);
    make_tight(tight);
    printf("%-42s %12s %12s\n", "", "ns", "x pow()");
    for (size_t i = 0; i < sizeof steps / sizeof steps[0]; i++) {
        if (argc > 1 && i > 0 && !strstr(steps[i].name, argv[1]))
            continue;
        double ns = cost_ns(&steps[i], &sum);
        if (i == 0)
            yardstick = ns;
        printf("%-42s %12.1f %12.1f\n", steps[i].name, ns, ns / yardstick);
    }
    farm_free(small);
    farm_free(large);
    farm_free(tight);
    return isfinite(sum) ? EXIT_SUCCESS : EXIT_FAILURE;
}
