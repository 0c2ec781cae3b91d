/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What people forbid: which valves a hold shuts, what a ban lets through, what that does to the
 * plants, and the list for the hose.
 */
#include "plan_work.h"

#include <math.h>

#include <gsl/gsl_heapsort.h>

/* --- limits -------------------------------------------------------------------------------- */

/* Minutes of the valve that give back what a block uses on a local day, nothing held back. */
static double minutes_of_day(const struct plan_context *context, const struct plan_work *work,
                             size_t day)
{
    struct plan_work then = *work;
    size_t cover = work->now->cover;
    const struct plan_sky *sky = &context->skies[cover == NURSERY_NONE ? 0 : cover + 1];
    double et0_mm = 0.0;
    if (!(work->now->pots > 0.0) || plan_stand_day(context, day, &then) != STATUS_OK ||
        !(then.litres_pot_min > 0.0))
        return 0.0;
    for (size_t h = 0; h < context->hour_count; h++)
        if (context->day_of_hour[h] == day)
            et0_mm += sky->et0_mm[h];
    double use_l =
        then.rates.k_cal * (then.rates.transpiration_l_mm + then.rates.evaporation_l_mm) * et0_mm;
    return use_l / then.litres_pot_min;
}

/* What the zones of a supply would need on a day: the thirstiest block of each sets its minutes. */
static double need_of_day_l(const struct planning *p, size_t supply, size_t day)
{
    const struct nursery *nursery = p->context.nursery;
    double litres = 0.0;
    for (size_t z = 0; z < nursery->zone_count; z++) {
        double minutes = 0.0;
        if (nursery->zones[z].supply != supply)
            continue;
        for (size_t b = p->zones[z].first_block; b != NURSERY_NONE; b = p->works[b].next)
            minutes = fmax(minutes, minutes_of_day(&p->context, &p->works[b], day));
        litres += minutes * nursery->zones[z].flow_l_min;
    }
    return litres;
}

static bool bans(const struct nursery_hold *hold, size_t supply, int64_t from_s, int64_t to_s)
{
    return hold->kind == NURSERY_HOLD_BAN &&
           (hold->supply == NURSERY_NONE || hold->supply == supply) && hold->from_s < to_s &&
           hold->to_s > from_s;
}

static double limit_of_day_l(const struct planning *p, size_t supply, size_t day)
{
    const struct plan_context *context = &p->context;
    const struct nursery *nursery = context->nursery;
    int64_t local = context->first_day + (int64_t)(context->today + day);
    int64_t from_s = civil_local_to_utc(&nursery->time_zone, local, 0);
    int64_t to_s = civil_local_to_utc(&nursery->time_zone, local + 1, 0);
    double daily_l = nursery->supplies[supply].daily_limit_l;
    for (size_t i = 0; i < nursery->raise_count && daily_l > 0.0; i++)
        if (nursery->raises[i].supply == supply && nursery->raises[i].local_days == local)
            daily_l = fmax(daily_l, nursery->raises[i].most_l);
    double limit_l = daily_l > 0.0 ? daily_l : INFINITY;
    double need_l = -1.0;
    for (size_t h = 0; h < nursery->hold_count; h++) {
        const struct nursery_hold *hold = &nursery->holds[h];
        if (!bans(hold, supply, from_s, to_s))
            continue;
        if (need_l < 0.0)
            need_l = need_of_day_l(p, supply, context->today + day);
        limit_l = fmin(limit_l, hold->allowed * need_l);
    }
    return limit_l;
}

void plan_hold_limits(struct planning *p)
{
    size_t last_day = p->context.day_of_hour[p->context.hour_count - 1];
    for (size_t s = 0; s < p->context.nursery->supply_count; s++)
        for (size_t day = 0; day < PLAN_LIMIT_DAYS; day++)
            p->supplies[s].limit_l[day] = limit_of_day_l(
                p, s, day + p->context.today > last_day ? last_day - p->context.today : day);
}

/* --- what it does to the plants ------------------------------------------------------------ */

/* The first opening of a zone that begins after a hold, or the end of the hours. */
static int64_t served_after_s(const struct planning *p, size_t zone, int64_t t_s)
{
    for (size_t t = 0; t < p->turn_count; t++)
        if (p->turns[t].zone == zone && p->turns[t].start_s >= t_s)
            return p->turns[t].end_s;
    return plan_hour_s(&p->context, p->context.hour_count);
}

/* A hold during which, or before the opening after it, a block passes its stress limit. */
static void review_hold(const struct planning *p, size_t zone, size_t index)
{
    const struct nursery_hold *hold = &p->context.nursery->holds[index];
    int64_t served_s = served_after_s(p, zone, hold->to_s);
    struct plan_reason n = plan_reason_of(PLAN_HOLD_PASSES, zone, NURSERY_NONE);
    n.other = index;
    n.until_s = hold->to_s;
    for (size_t b = p->zones[zone].first_block; b != NURSERY_NONE; b = p->works[b].next) {
        int64_t at_s = p->works[b].strained_s;
        if (at_s == 0 || at_s < hold->from_s || at_s > served_s)
            continue;
        if (n.block == NURSERY_NONE || at_s < n.at_s) {
            n.block = b;
            n.at_s = at_s;
        }
    }
    if (n.block != NURSERY_NONE)
        plan_add_notice(p->result, n);
}

bool plan_hold_explains(const struct planning *p, size_t zone, int64_t at_s)
{
    size_t hold = p->zones[zone].held_next;
    return hold != NURSERY_NONE && at_s >= p->context.nursery->holds[hold].from_s &&
           at_s <= served_after_s(p, zone, p->context.nursery->holds[hold].to_s);
}

/* A limit that leaves a crop short: how much was not given in the days ahead, and until when. */
static void review_limit(const struct planning *p, size_t zone)
{
    struct plan_reason n = plan_reason_of(PLAN_STARVED, zone, NURSERY_NONE);
    n.a = p->zones[zone].cut_l;
    for (size_t b = p->zones[zone].first_block; b != NURSERY_NONE && n.a > 0.0;
         b = p->works[b].next) {
        const struct plan_work *work = &p->works[b];
        if (work->starved_s == 0 || work->starved_s > p->context.input->now_s + PLAN_LIMIT_SOON_S)
            continue;
        if (n.block == NURSERY_NONE || work->starved_s < n.at_s) {
            n.block = b;
            n.at_s = work->starved_s;
            n.until_s = work->eased_s;
        }
    }
    if (n.block != NURSERY_NONE)
        plan_add_notice(p->result, n);
}

/* --- the list for the hose ----------------------------------------------------------------- */

double plan_hose_l_min(const struct nursery *nursery, size_t zone)
{
    for (size_t z = 0; z < nursery->zone_count; z++)
        if (nursery->zones[z].method == DELIVERY_HAND &&
            (z == zone || nursery->zones[z].supply == nursery->zones[zone].supply))
            return nursery->zones[z].flow_l_min;
    return PLAN_HOSE_L_MIN;
}

/* Blocks that flag although the plan runs, that a limit leaves past their stress limit, or that a
 * hold keeps dry past their refill point. Zones that are watered by hand have their runs. */
static bool needs_hose(const struct planning *p, size_t block)
{
    const struct nursery *nursery = p->context.nursery;
    const struct plan_work *work = &p->works[block];
    const struct plan_block *out = &p->result->blocks[block];
    size_t zone = nursery->blocks[block].zone;
    size_t hold = p->zones[zone].held_next;
    if (!(work->now->pots > 0.0) || nursery->zones[zone].method == DELIVERY_HAND)
        return false;
    if (hold != NURSERY_NONE && out->next_s != 0 && out->next_s < nursery->holds[hold].to_s &&
        p->result->zones[zone].state == PLAN_ZONE_HELD)
        return true;
    int64_t soon_s = p->context.input->now_s + PLAN_STRESS_SOON_S;
    return (work->flagging_s != 0 && work->flagging_s <= soon_s) ||
           (work->starved_s != 0 && work->starved_s <= soon_s);
}

static int hand_order(const void *a, const void *b)
{
    const struct plan_hand *x = a;
    const struct plan_hand *y = b;
    int64_t first = x->limit_s == 0 ? INT64_MAX : x->limit_s;
    int64_t second = y->limit_s == 0 ? INT64_MAX : y->limit_s;
    if (first != second)
        return first < second ? -1 : 1;
    return x->block < y->block ? -1 : x->block > y->block;
}

/* What lies ahead, or since when it is so already. */
static int64_t or_since_s(const struct plan_work *work, int64_t ahead_s)
{
    return work->flagging_s != 0 && work->flagging_s < ahead_s ? work->flagging_s : ahead_s;
}

static void list_hands(const struct planning *p)
{
    const struct nursery *nursery = p->context.nursery;
    struct plan_result *result = p->result;
    result->hand_count = 0;
    for (size_t b = 0; b < nursery->block_count; b++) {
        const struct plan_block *block = &result->blocks[b];
        size_t zone = nursery->blocks[b].zone;
        if (!needs_hose(p, b))
            continue;
        double litres = block->driest_l * block->pots;
        bool held = result->zones[zone].state == PLAN_ZONE_HELD;
        const struct plan_work *work = &p->works[b];
        struct plan_reason why = plan_reason_of(held ? PLAN_HELD : PLAN_STRAINED, zone, b);
        why.other = p->zones[zone].held_next;
        why.at_s = held ? block->next_s : or_since_s(work, work->strained_s);
        why.a = 1.0;
        result->hands[result->hand_count++] =
            (struct plan_hand){zone,
                               b,
                               block->driest_l,
                               litres,
                               litres / plan_hose_l_min(nursery, zone),
                               or_since_s(work, block->stress_s),
                               why};
    }
    gsl_heapsort(result->hands, result->hand_count, sizeof *result->hands, hand_order);
}

/* A required watering that no opening of its time had room for. */
static void review_requirements(const struct planning *p)
{
    for (size_t i = 0; i < p->context.nursery->requirement_count; i++) {
        const struct nursery_requirement *required = &p->context.nursery->requirements[i];
        struct plan_reason n = plan_reason_of(PLAN_REQUIRED_MISSED, required->zone, NURSERY_NONE);
        n.other = i;
        n.a = required->minutes;
        n.until_s = required->to_s;
        if (!p->required_done[i] &&
            required->to_s <= plan_hour_s(&p->context, p->context.hour_count))
            plan_add_notice(p->result, n);
    }
}

void plan_hold_review(const struct planning *p)
{
    review_requirements(p);
    for (size_t z = 0; z < p->context.nursery->zone_count; z++) {
        if (p->zones[z].held_next != NURSERY_NONE)
            review_hold(p, z, p->zones[z].held_next);
        review_limit(p, z);
    }
    list_hands(p);
}
