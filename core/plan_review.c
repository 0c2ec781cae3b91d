/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "plan_work.h"

#include <math.h>
#include <string.h>

/* Air below a tenth of the pot starves roots (the general minimum of extension texts; Ansorena
 * 1994 gives 10-30 % after irrigation). */
static const double least_air = 0.10;

/* Below this a bed is watered badly (Univ. of Florida AE194: under 60 % poor). */
static const double poor_uniformity = 0.60;

/* Blocks on one valve that differ by more than this in how often they need water cannot both be
 * served well [our choice]. */
static const double mixed_ratio = 2.0;

static bool passes_soon(const struct plan_context *context, int64_t at_s)
{
    return at_s != 0 && at_s <= context->input->now_s + PLAN_STRESS_SOON_S;
}

/* One notice a zone: the first of its blocks to pass, and how many do. */
static void review_stress(const struct planning *p, bool flagging)
{
    const struct plan_context *context = &p->context;
    for (size_t z = 0; z < context->nursery->zone_count; z++) {
        struct plan_reason n =
            plan_reason_of(flagging ? PLAN_PASSES_STRESS : PLAN_STRAINED, z, NURSERY_NONE);
        for (size_t b = p->zones[z].first_block; b != NURSERY_NONE; b = p->works[b].next) {
            int64_t at_s = flagging ? p->works[b].flagging_s : p->works[b].strained_s;
            if (!passes_soon(context, at_s) || plan_hold_explains(p, z, at_s) ||
                (!flagging && passes_soon(context, p->works[b].flagging_s)))
                continue;
            n.a += 1.0;
            if (n.block == NURSERY_NONE || at_s < n.at_s) {
                n.block = b;
                n.at_s = at_s;
            }
        }
        if (n.block != NURSERY_NONE)
            plan_add_notice(p->result, n);
    }
}

static void review_supply(const struct plan_context *context, struct plan_result *result)
{
    int64_t tomorrow = context->first_day + (int64_t)context->today + 1;
    double missing_l = 0.0;
    for (size_t u = 0; u < result->unplaced_count; u++) {
        const struct plan_unplaced *unplaced = &result->unplaced[u];
        if (civil_days(civil_local_date(&context->nursery->time_zone, unplaced->window_start_s)) !=
            tomorrow)
            continue;
        if (unplaced->reason.code == PLAN_FROST_IN_WINDOW)
            plan_add_notice(result, unplaced->reason);
        else
            missing_l += unplaced->litres;
    }
    if (missing_l > 0.0) {
        struct plan_reason n = plan_reason_of(PLAN_SUPPLY_SHORT, NURSERY_NONE, NURSERY_NONE);
        n.a = missing_l;
        plan_add_notice(result, n);
    }
}

static enum status review_pots(const struct plan_context *context, const struct plan_work *works,
                               struct plan_result *result)
{
    for (size_t b = 0; b < context->nursery->block_count; b++) {
        const struct plan_work *work = &works[b];
        size_t zone = context->nursery->blocks[b].zone;
        if (work->now->pots <= 0.0)
            continue;
        if (work->figures.air_space < least_air) {
            struct plan_reason n = plan_reason_of(PLAN_AIR_LOW_IN_POT, zone, b);
            n.a = 100.0 * work->figures.air_space;
            enum status status =
                pot_least_fill_cm(&context->nursery->pots[work->now->pot],
                                  &context->nursery->mixes[work->now->mix].curve, least_air, &n.b);
            if (status != STATUS_OK && status != STATUS_NO_SOLUTION)
                return status;
            plan_add_notice(result, n);
        }
    }
    return STATUS_OK;
}

/* Zones that may run once a day only, with pots that go from full to due in less. */
static void review_intervals(const struct planning *p)
{
    const struct plan_context *context = &p->context;
    struct plan_result *result = p->result;
    for (size_t z = 0; z < context->nursery->zone_count; z++) {
        struct plan_reason n = plan_reason_of(PLAN_MORE_THAN_DAILY, z, NURSERY_NONE);
        double least_d = 1.0;
        for (size_t b = p->zones[z].first_block; b != NURSERY_NONE; b = p->works[b].next) {
            const struct plan_block *block = &result->blocks[b];
            if (!(block->pots > 0.0) || !(block->interval_d < 1.0))
                continue;
            n.b += 1.0;
            if (block->interval_d < least_d) {
                least_d = block->interval_d;
                n.block = b;
            }
        }
        n.a = 24.0 * least_d;
        if (n.block != NURSERY_NONE && result->zones[z].openings_tomorrow < 2)
            plan_add_notice(result, n);
    }
}

static void review_zones(const struct planning *p)
{
    const struct plan_context *context = &p->context;
    struct plan_result *result = p->result;
    double longest_d = (double)(context->hour_count - context->now_hour) / 24.0;
    for (size_t z = 0; z < context->nursery->zone_count; z++) {
        struct plan_reason n = plan_reason_of(PLAN_MIXED_ZONE, z, NURSERY_NONE);
        double least = INFINITY;
        double most = 0.0;
        for (size_t b = p->zones[z].first_block; b != NURSERY_NONE; b = p->works[b].next) {
            const struct plan_block *block = &result->blocks[b];
            if (block->pots <= 0.0)
                continue;
            double interval_d = isfinite(block->interval_d) ? block->interval_d : longest_d;
            if (interval_d < least) {
                least = interval_d;
                n.block = b;
            }
            if (interval_d > most) {
                most = interval_d;
                n.other = b;
            }
        }
        if (least > 0.0 && most / least >= mixed_ratio) {
            n.a = most / least;
            plan_add_notice(result, n);
        }
        double du = context->nursery->zones[z].du_low_quarter;
        if (context->nursery->zones[z].method == DELIVERY_OVERHEAD && du > 0.0 &&
            du < poor_uniformity) {
            struct plan_reason poor = plan_reason_of(PLAN_POOR_UNIFORMITY, z, NURSERY_NONE);
            poor.a = 100.0 * du;
            plan_add_notice(result, poor);
        }
    }
}

static void review_knowledge(const struct plan_context *context, struct plan_result *result)
{
    double assumed = 0.0;
    for (size_t b = 0; b < context->nursery->block_count; b++)
        if (result->blocks[b].pots > 0.0 && result->blocks[b].known == PLAN_KNOWN_ASSUMED)
            assumed += 1.0;
    if (assumed > 0.0) {
        struct plan_reason n = plan_reason_of(PLAN_START_ASSUMED, NURSERY_NONE, NURSERY_NONE);
        n.a = assumed;
        plan_add_notice(result, n);
    }
}

static void review_blocks(const struct plan_context *context, const struct plan_work *works,
                          struct plan_result *result)
{
    for (size_t b = 0; b < context->nursery->block_count; b++) {
        struct plan_block *block = &result->blocks[b];
        double most_l = fmax(works[b].most_water_l, block->water_wet_l);
        block->air_lowest = fmax(0.0, works[b].figures.total_porosity -
                                          most_l / works[b].figures.volume_l - block->air_lost);
        block->use_today_l = works[b].use_today_l;
        block->use_tomorrow_l = works[b].use_tomorrow_l;
    }
}

/* Sums of the whole day, of what is known of it; the kind is the worst of the hours to come. */
static void review_weather_of(const struct plan_context *context, struct plan_day *day,
                              size_t index)
{
    size_t rain_hours = 0;
    day->temperature_max_c = -INFINITY;
    day->temperature_min_c = INFINITY;
    day->kind = WEATHER_MEASURED;
    for (size_t h = 0; h < context->hour_count; h++) {
        const struct weather_hour *hour = &context->input->hours[h];
        if (context->day_of_hour[h] != index)
            continue;
        day->et0_mm += context->skies[0].et0_mm[h];
        if (hour->rain_kind != WEATHER_NORMAL) {
            day->rain_mm += hour->rain_mm;
            rain_hours++;
        }
        day->temperature_max_c = fmax(day->temperature_max_c, hour->temperature_c);
        day->temperature_min_c = fmin(day->temperature_min_c, hour->temperature_c);
        if (h >= context->now_hour && hour->kind > day->kind)
            day->kind = hour->kind;
    }
    if (rain_hours == 0)
        day->rain_mm = NAN;
}

/* The most that flows from one supply at one moment: at the start of some run. Pulses are counted
 * as they lie. */
static bool flows_at(const struct plan_run *run, int64_t t_s)
{
    if (t_s < run->start_s || t_s >= run->end_s)
        return false;
    int64_t cycle_s = (int64_t)(run->pulse_min + run->pause_min) * 60;
    return cycle_s <= 0 || (t_s - run->start_s) % cycle_s < (int64_t)run->pulse_min * 60;
}

/* Runs are in order of their start: none that began longest_s before t_s still flows. */
static double flow_at(const struct plan_context *context, const struct plan_result *result,
                      size_t run, int64_t t_s, int64_t longest_s)
{
    size_t supply = context->nursery->zones[result->runs[run].zone].supply;
    double flow = 0.0;
    for (size_t r = run + 1; r-- > 0 && result->runs[r].start_s > t_s - longest_s;)
        if (context->nursery->zones[result->runs[r].zone].supply == supply &&
            flows_at(&result->runs[r], t_s))
            flow += result->runs[r].flow_l_min;
    for (size_t r = run + 1; r < result->run_count && result->runs[r].start_s <= t_s; r++)
        if (context->nursery->zones[result->runs[r].zone].supply == supply &&
            flows_at(&result->runs[r], t_s))
            flow += result->runs[r].flow_l_min;
    return flow;
}

static void review_runs(const struct planning *p)
{
    struct plan_result *result = p->result;
    int64_t longest_s = 0;
    size_t d = 0;
    for (size_t r = 0; r < result->run_count; r++)
        if (result->runs[r].end_s - result->runs[r].start_s > longest_s)
            longest_s = result->runs[r].end_s - result->runs[r].start_s;
    for (size_t r = 0; r < result->run_count; r++) {
        const struct plan_run *run = &result->runs[r];
        while (d < result->day_count && run->start_s >= result->days[d].end_s)
            d++;
        if (d == result->day_count)
            return;
        struct plan_day *day = &result->days[d];
        if (run->start_s < day->start_s)
            continue;
        day->litres += run->litres;
        for (int pulse = 0; pulse < run->pulses; pulse++) {
            int64_t t_s = run->start_s + (int64_t)pulse * (run->pulse_min + run->pause_min) * 60;
            day->peak_l_min =
                fmax(day->peak_l_min, flow_at(&p->context, result, r, t_s, longest_s));
        }
    }
}

static void review_days(const struct plan_context *context, struct plan_result *result)
{
    const struct civil_zone *zone = &context->nursery->time_zone;
    int64_t today = context->first_day + (int64_t)context->today;
    result->day_count = (size_t)context->input->days + 1;
    for (size_t d = 0; d < result->day_count; d++) {
        int64_t local = today + (int64_t)d;
        struct plan_day day = {.local_days = local,
                               .start_s = civil_local_to_utc(zone, local, 0),
                               .end_s = civil_local_to_utc(zone, local + 1, 0)};
        review_weather_of(context, &day, context->today + d);
        result->days[d] = day;
    }
    result->good_until_s = result->days[1].end_s;
}

/* Runs that nobody told of, the last ones of a zone without anything known since: two in a row, and
 * someone goes and feels. */
static void review_unknown(const struct planning *p)
{
    const struct nursery *nursery = p->context.nursery;
    size_t r = 0;
    for (size_t z = 0; z < nursery->zone_count; z++) {
        struct plan_reason n = plan_reason_of(PLAN_GO_AND_FEEL, z, NURSERY_NONE);
        int64_t seen_s = 0;
        for (size_t b = p->zones[z].first_block; b != NURSERY_NONE; b = p->works[b].next) {
            int64_t at_s = p->works[b].touched_s;
            if (p->result->blocks[b].known == PLAN_KNOWN_WEIGHED &&
                p->result->blocks[b].known_s > at_s)
                at_s = p->result->blocks[b].known_s;
            seen_s = at_s > seen_s ? at_s : seen_s;
        }
        while (r < nursery->run_count && nursery->runs[r].zone < z)
            r++;
        for (; r < nursery->run_count && nursery->runs[r].zone == z; r++) { /* sorted by zone */
            const struct nursery_run *run = &nursery->runs[r];
            if (run->start_s < seen_s)
                continue;
            if (run->state != NURSERY_RUN_UNKNOWN) {
                n.a = 0.0;
                continue;
            }
            if (n.a == 0.0)
                n.at_s = run->start_s;
            n.a += 1.0;
        }
        if (n.a >= 2.0)
            plan_add_notice(p->result, n);
    }
}

/* In the season only: plants that use water grow. */
static void review_canopies(const struct planning *p)
{
    const double season_mm = 2.0; /* reference ET of tomorrow [our choice] */
    struct plan_reason n = plan_reason_of(PLAN_CANOPY_OLD, NURSERY_NONE, NURSERY_NONE);
    for (size_t b = 0; b < p->context.nursery->block_count; b++) {
        const struct plan_block *block = &p->result->blocks[b];
        if (!(block->pots > 0.0) || !block->canopy_old || p->works[b].now->leaf == DEMAND_LEAF_NONE)
            continue;
        if (n.block == NURSERY_NONE)
            n.block = b;
        n.a += 1.0;
    }
    if (n.a > 0.0 && p->result->days[1].et0_mm >= season_mm)
        plan_add_notice(p->result, n);
}

/* Young roots drink from the plug only: the balance knows when it was told the plug's volume, and
 * people should look all the same. */
static void review_potted(const struct planning *p)
{
    const int64_t look_s = 14 * CIVIL_DAY_S; /* common practice, no source */
    for (size_t b = 0; b < p->context.nursery->block_count; b++) {
        const struct plan_work *work = &p->works[b];
        int64_t since_s = p->context.input->now_s - work->potted_s;
        if (!(work->now->pots > 0.0) || !work->potted || since_s > look_s)
            continue;
        struct plan_reason n = plan_reason_of(PLAN_NEWLY_POTTED, work->now->zone, b);
        n.a = floor((double)since_s / CIVIL_DAY_S);
        plan_add_notice(p->result, n);
    }
}

enum status plan_review(const struct planning *p)
{
    const struct plan_context *context = &p->context;
    const struct plan_work *works = p->works;
    struct plan_result *result = p->result;
    review_blocks(context, works, result);
    review_unknown(p); /* what follows may be for want of a report only */
    review_stress(p, true);
    review_stress(p, false);
    plan_hold_review(p);
    review_supply(context, result);
    enum status status = review_pots(context, works, result);
    if (status != STATUS_OK)
        return status;
    review_intervals(p);
    review_zones(p);
    plan_zone_review(p);
    review_knowledge(context, result);
    review_days(context, result);
    review_runs(p);
    review_potted(p);
    review_canopies(p);
    plan_watch_review(p);
    return STATUS_OK;
}
