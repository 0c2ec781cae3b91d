/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What somebody should look at, though the plan goes on: dry pots before a frost, peat that repels
 * water, a permit that runs out, meters that disagree, figures that cannot well be, blocks that
 * nobody ever touched.
 */
#include "plan_work.h"

#include <math.h>

/* The day before a frost evergreens and tunnels are looked at for water [common practice, no
 * source; figures our choice]: frost within so long, pots that lack this part of what lets them be
 * watered. */
static const double frost_c = 0.0;
static const int64_t frost_within_s = 36 * CIVIL_HOUR_S;
static const double dry_share = 0.5;

/* Plugs smaller than this may well use next to nothing. */
static const double little_from_l = 1.0;

static bool planted(const struct planning *p, size_t block)
{
    return p->result->blocks[block].pots > 0.0;
}

/* One notice of several blocks: the first, and how many. */
static void count_block(struct plan_reason *n, const struct planning *p, size_t block)
{
    if (n->block == NURSERY_NONE) {
        n->block = block;
        n->zone = p->context.nursery->blocks[block].zone;
    }
    n->a += 1.0;
}

static void add_counted(const struct planning *p, const struct plan_reason *n)
{
    if (n->block != NURSERY_NONE)
        plan_add_notice(p->result, *n);
}

static void review_repelling(const struct planning *p)
{
    for (size_t z = 0; z < p->context.nursery->zone_count; z++) {
        struct plan_reason n = plan_reason_of(PLAN_WET_BY_HAND, z, NURSERY_NONE);
        for (size_t b = p->zones[z].first_block; b != NURSERY_NONE; b = p->works[b].next)
            if (planted(p, b) && p->result->blocks[b].repels)
                count_block(&n, p, b);
        add_counted(p, &n);
    }
}

/* Roots in frozen mix drink nothing, and leaves and tunnels go on drying. */
static void review_before_frost(const struct planning *p)
{
    const struct plan_context *context = &p->context;
    struct plan_reason n = plan_reason_of(PLAN_DRY_BEFORE_FROST, NURSERY_NONE, NURSERY_NONE);
    for (size_t h = context->now_hour; h < context->hour_count && n.at_s == 0; h++)
        if (context->input->hours[h].temperature_c < frost_c &&
            plan_hour_s(context, h) <= context->input->now_s + frost_within_s) {
            n.at_s = plan_hour_s(context, h);
            n.b = context->input->hours[h].temperature_c;
        }
    if (n.at_s == 0 || context->frozen[context->now_hour])
        return;
    for (size_t b = 0; b < context->nursery->block_count; b++) {
        const struct plan_block *block = &p->result->blocks[b];
        const struct nursery_state *now = p->works[b].now;
        bool drinks = now->leaf != DEMAND_LEAF_NONE || now->cover != NURSERY_NONE;
        if (planted(p, b) && drinks && block->driest_l >= dry_share * block->refill_l)
            count_block(&n, p, b);
    }
    add_counted(p, &n);
}

/* What was drawn in the permit's period, and what the plan draws until it ends. */
static void review_permits(const struct planning *p)
{
    const struct nursery *nursery = p->context.nursery;
    for (size_t s = 0; s < nursery->supply_count; s++) {
        const struct nursery_supply *supply = &nursery->supplies[s];
        struct plan_reason n = plan_reason_of(PLAN_OVER_PERMIT, NURSERY_NONE, NURSERY_NONE);
        if (!(supply->permit_l > 0.0))
            continue;
        n.other = s;
        n.a = supply->permit_used_l;
        n.b = supply->permit_l;
        n.until_s = supply->permit_until_s;
        n.at_s = n.a > n.b ? p->context.input->now_s : 0;
        for (size_t r = 0; r < p->result->run_count; r++) { /* ascending start */
            const struct plan_run *run = &p->result->runs[r];
            if (nursery->zones[run->zone].supply != s || run->start_s >= supply->permit_until_s)
                continue;
            n.a += run->litres;
            if (n.at_s == 0 && n.a > n.b)
                n.at_s = run->start_s;
        }
        if (n.at_s != 0)
            plan_add_notice(p->result, n);
    }
}

static void review_meters(const struct planning *p)
{
    const struct nursery *nursery = p->context.nursery;
    for (size_t z = 0; z < nursery->zone_count; z++) {
        double share = nursery->zones[z].metered_share;
        if (!(share > 0.0) || (share >= DELIVERY_FLOW_LOW && share <= DELIVERY_FLOW_HIGH))
            continue;
        struct plan_reason n =
            plan_reason_of(share < 1.0 ? PLAN_FLOW_LOW : PLAN_FLOW_HIGH, z, NURSERY_NONE);
        n.a = 100.0 * share;
        n.b = share >= DELIVERY_FLOW_BROKEN && share < 1.0 ? 1.0 : 0.0; /* counted on */
        plan_add_notice(p->result, n);
    }
}

/* The first doubt about what a pot uses on tomorrow's weather; 0: none. */
static unsigned doubt_of(const struct planning *p, size_t block)
{
    const struct plan_work *work = &p->works[block];
    double et0_mm = p->result->days[1].et0_mm;
    double top_cm = 200.0 * sqrt(work->pot.top_m2 / M_PI);
    double use_l = work->rates.k_cal *
                   (work->rates.transpiration_l_mm + work->rates.evaporation_l_mm) * et0_mm;
    struct demand_areas areas;
    if (work->now->cover != NURSERY_NONE || /* its sky is another */
        demand_areas_of(work->now->ground_m2, work->canopy_cm, top_cm, &areas) != STATUS_OK)
        return 0;
    unsigned doubts = demand_doubts(use_l, et0_mm, work->figures.volume_l, &areas);
    if (work->figures.volume_l < little_from_l || work->now->leaf == DEMAND_LEAF_NONE)
        doubts &= ~(unsigned)DEMAND_DOUBT_LITTLE;
    return doubts & (~doubts + 1u);
}

static void review_figures(const struct planning *p)
{
    for (size_t b = 0; b < p->context.nursery->block_count; b++) {
        unsigned doubt = planted(p, b) ? doubt_of(p, b) : 0;
        if (doubt == 0)
            continue;
        struct plan_reason n = plan_reason_of(PLAN_ODD_USE, p->context.nursery->blocks[b].zone, b);
        n.a = doubt;
        plan_add_notice(p->result, n);
    }
}

static void review_felt(const struct planning *p)
{
    struct plan_reason n = plan_reason_of(PLAN_NEVER_FELT, NURSERY_NONE, NURSERY_NONE);
    for (size_t b = 0; b < p->context.nursery->block_count; b++)
        if (planted(p, b) && p->works[b].touched_s == 0 && !p->works[b].weighed)
            count_block(&n, p, b);
    add_counted(p, &n);
}

void plan_watch_review(const struct planning *p)
{
    review_repelling(p);
    review_before_frost(p);
    review_permits(p);
    review_meters(p);
    review_figures(p);
    review_felt(p);
}
