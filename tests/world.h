/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Made-up nurseries for tests of the plan. */
#ifndef PERCHD_TESTS_WORLD_H
#define PERCHD_TESTS_WORLD_H

#include "check.h"

#include "core/plan.h"

enum { HISTORY_H = 21 * 24, AHEAD_H = 10 * 24, HOURS = HISTORY_H + AHEAD_H, DAYS = 7 };
/* Of a random nursery; what there is room for, of each. */
enum { ZONES = 12, BLOCKS = 30, WORLD_MOST = 80 };

/* 2026-07-01T18:00:00Z, at 45 N 0 E and UTC: the site's clock is the sun's. */
#define NOW_S INT64_C(1782928800)

struct world {
    struct nursery nursery;
    struct civil_offset offset;
    struct pot_shape pots[2];
    struct bench_fit mixes[2];
    struct nursery_cover covers[1];
    struct nursery_supply supplies[2];
    struct nursery_zone zones[WORLD_MOST];
    struct nursery_window windows[WORLD_MOST];
    struct nursery_state states[WORLD_MOST];
    struct nursery_block blocks[WORLD_MOST];
    struct nursery_weighing weighings[WORLD_MOST];
    struct nursery_run runs[8];
    struct nursery_gauge gauges[1];
    struct nursery_touch touches[4];
    struct nursery_order orders[2];
    struct nursery_hold holds[4];
    struct nursery_requirement requirements[2];
    struct nursery_raise raises[2];
    struct nursery_drain drains[2];
    struct nursery_salt salts[2];
    struct weather_hour hours[HOURS];
    struct plan_input input;
    struct plan_result result;
    void *room;
    bool own_places; /* states say their own zone and cover */
};

struct bench_fit world_mix(double drained_ml, enum bench_class class_id);
struct nursery_zone world_zone(void);
struct nursery_block world_block(size_t zone, size_t state);
struct nursery_state world_state(void);
struct nursery_supply world_supply(double flow_l_min, size_t valves_at_once);
struct nursery_run world_run(size_t zone, int64_t start_s, int64_t end_s, double litres,
                             enum nursery_run_state state, enum nursery_purpose purpose);

/* One overhead zone with one block in 3 L pots, weighed full two hours ago; water may run from
 * 04:00 to 08:00, and it is 18:00. */
struct world *world_new(void);
void world_free(struct world *w);
enum status world_plan(struct world *w);

/* Twelve zones of every method on a pump that is too small for all of them. */
struct world *world_random(uint64_t *seed);

size_t world_runs_on(const struct world *w, size_t day);
const struct plan_reason *world_notice(const struct world *w, enum plan_code code);
bool world_run_says(const struct plan_run *run, enum plan_code code);

/* What no plan may do: beyond the supply, outside an opening, a zone in two runs at once. */
void world_check_limits(const struct world *w);
/* Minutes and litres of the runs that start on a day, of a zone and of the supply. */
void world_check_daily_limits(const struct world *w);

#endif
