/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Zones as a whole: what they water, salt and what is meant to drain, unlike blocks on one valve.
 */
#include "plan_work.h"

#include <math.h>

/* A measurement of salt or drainage speaks for so long: pour-throughs are due every two weeks in
 * large pots (extension practice). */
static const int64_t measured_for_s = 14 * CIVIL_DAY_S;

/* Pour-through readings well above the 0.5-1.0 dS/m that feeding wants (nursery best-practice
 * guides, from memory) ask for more leaching [figure our choice]. */
static const double pour_through_most_ds_m = 2.0;

/* More than this part of the water given drains at once: too much for that block [our choice]. */
static const double wasted_most = 0.35;

/* Blocks that differ by less than this in interval and in minutes go together [our choice]. */
static const double fits_within = 1.5;
static const double mixed_from = 2.0;

/* In cool weather a mixed zone is led by a block that holds less air than this after watering, if
 * it has one [our choice]. */
static const double cool_mm = 3.0;
static const double airy_from = 0.15;

static bool planted(const struct nursery *nursery, size_t block)
{
    const struct nursery_block *b = &nursery->blocks[block];
    return nursery->states[b->first_state + b->state_count - 1].pots > 0.0;
}

/* --- salt ---------------------------------------------------------------------------------- */

/* The last reading of a block, not older than it speaks for; NULL: none. */
static const struct nursery_salt *salt_of(const struct planning *p, size_t block)
{
    const struct nursery *nursery = p->context.nursery;
    const struct nursery_salt *last = NULL;
    for (size_t i = 0; i < nursery->salt_count; i++)
        if (nursery->salts[i].block == block)
            last = &nursery->salts[i];
    return last && last->at_s > p->context.input->now_s - measured_for_s ? last : NULL;
}

/* Above what the block bears, on the scale of the method; *limit is that. */
static bool is_salty(const struct nursery_block *block, const struct nursery_salt *salt,
                     double *limit)
{
    switch (salt->method) {
    case NURSERY_POUR_THROUGH:
        *limit = pour_through_most_ds_m;
        break;
    case NURSERY_SATURATED:
        *limit = block->salt_ec_ds_m > 0.0 ? block->salt_ec_ds_m : INFINITY;
        break;
    case NURSERY_EXTRACT_2: /* no limit of its own is known here */
        *limit = INFINITY;
        break;
    }
    return salt->ec_ds_m > *limit;
}

/* Drained of what was given, the largest of the zone's blocks lately; -1 where nobody caught. */
static double drained_of(const struct planning *p, size_t zone)
{
    const struct nursery *nursery = p->context.nursery;
    double most = -1.0;
    for (size_t i = 0; i < nursery->drain_count; i++) {
        const struct nursery_drain *drain = &nursery->drains[i];
        bool last = i + 1 == nursery->drain_count || drain[1].block != drain->block;
        if (last && nursery->blocks[drain->block].zone == zone &&
            drain->at_s > p->context.input->now_s - measured_for_s)
            most = fmax(most, drain->fraction);
    }
    return most;
}

static bool gets_rain(const struct nursery *nursery, size_t block)
{
    size_t cover = nursery->blocks[block].cover;
    return cover == NURSERY_NONE || nursery->covers[cover].rain;
}

bool plan_zone_gets_rain(const struct planning *p, size_t zone)
{
    for (size_t b = p->zones[zone].first_block; b != NURSERY_NONE; b = p->works[b].next)
        if (gets_rain(p->context.nursery, b))
            return true;
    return false;
}

/* The zone's target, raised for salt in the water or found in a pot; rain leaches only what it
 * reaches. */
static void set_leaching(struct planning *p, size_t zone)
{
    const struct nursery *nursery = p->context.nursery;
    const struct nursery_zone *z = &nursery->zones[zone];
    struct plan_zone_work *work = &p->zones[zone];
    struct delivery_leaching_in in = {z->method, z->leaching_fraction,
                                      nursery->supplies[z->supply].water_ec_ds_m, 0.0,
                                      p->context.gauged_7d_mm};
    struct delivery_leaching out;
    struct delivery_pulses pulses;
    bool salty = false;
    double limit = 0.0;
    for (size_t b = work->first_block; b != NURSERY_NONE; b = p->works[b].next) {
        const struct nursery_block *block = &nursery->blocks[b];
        const struct nursery_salt *salt = salt_of(p, b);
        if (!planted(nursery, b))
            continue;
        if (!gets_rain(nursery, b))
            in.rain_7d_mm = 0.0;
        if (block->salt_ec_ds_m > 0.0 &&
            (in.target_ec_ds_m <= 0.0 || block->salt_ec_ds_m < in.target_ec_ds_m))
            in.target_ec_ds_m = block->salt_ec_ds_m;
        salty |= salt && is_salty(block, salt, &limit);
    }
    work->leaching = 0.0;
    if (delivery_leaching_target(&in, &out) == STATUS_OK) {
        work->leaching = fmin(0.9, out.fraction);
        work->flush = out.flush_by_hand;
    }
    if (salty && z->method != DELIVERY_SUBIRRIGATION)
        work->leaching = fmax(work->leaching, DELIVERY_LEACH_MAX);
    work->drained = drained_of(p, zone);
    work->pulses = z->pulses;
    if (z->method == DELIVERY_OVERHEAD && work->drained > DELIVERY_PULSE_DRAINAGE &&
        z->pulses == 1 &&
        delivery_pulses_of(z->method, 60.0, 0.0, fmin(1.0, work->drained), &pulses) == STATUS_OK)
        work->pulses = pulses.count;
}

/* What each zone waters: its blocks, their shares of what a hose or a tray gives, the most urgent
 * class among them. */
enum status plan_zone_open(struct planning *p, size_t *culprit)
{
    const struct nursery *nursery = p->context.nursery;
    for (size_t z = 0; z < nursery->zone_count; z++) {
        p->zones[z] = (struct plan_zone_work){.first_block = NURSERY_NONE,
                                              .priority = nursery->zones[z].priority,
                                              .lead = nursery->zones[z].lead_block,
                                              .held = NURSERY_NONE,
                                              .held_next = NURSERY_NONE};
        p->context.zone_share_l[z] = 0.0;
    }
    for (size_t b = nursery->block_count; b-- > 0;) {
        const struct nursery_block *block = &nursery->blocks[b];
        struct plan_zone_work *zone = &p->zones[block->zone];
        double pots = nursery->states[block->first_state + block->state_count - 1].pots;
        double share_l = 0.0;
        p->works[b].next = zone->first_block;
        zone->first_block = b;
        if (block->priority > 0 && block->priority < zone->priority && pots > 0.0)
            zone->priority = block->priority;
        *culprit = b;
        enum status status = plan_stand_share_l(&p->context, b, &share_l);
        if (status != STATUS_OK)
            return status;
        p->context.zone_share_l[block->zone] += share_l;
    }
    for (size_t z = 0; z < nursery->zone_count; z++)
        set_leaching(p, z);
    return STATUS_OK;
}

/* --- unlike blocks on one valve -------------------------------------------------------------- */

/* Longer than the hours count as that long. */
static double interval_of(const struct planning *p, size_t block)
{
    double interval_d = p->result->blocks[block].interval_d;
    double longest_d = (double)(p->context.hour_count - p->context.now_hour) / 24.0;
    return isfinite(interval_d) ? fmax(interval_d, 1.0 / 24.0) : longest_d;
}

/* The thirstiest and the most patient block; false without two that differ. */
static bool extremes(const struct planning *p, size_t zone, size_t *thirsty, size_t *patient)
{
    *thirsty = *patient = NURSERY_NONE;
    for (size_t b = p->zones[zone].first_block; b != NURSERY_NONE; b = p->works[b].next) {
        if (!(p->works[b].now->pots > 0.0))
            continue;
        if (*thirsty == NURSERY_NONE || interval_of(p, b) < interval_of(p, *thirsty))
            *thirsty = b;
        if (*patient == NURSERY_NONE || interval_of(p, b) > interval_of(p, *patient))
            *patient = b;
    }
    return *thirsty != NURSERY_NONE &&
           interval_of(p, *patient) >= mixed_from * interval_of(p, *thirsty);
}

/* Reference ET of tomorrow in the open. */
static double et0_tomorrow_mm(const struct plan_context *context)
{
    double et0_mm = 0.0;
    for (size_t h = context->now_hour; h < context->hour_count; h++)
        if (context->day_of_hour[h] == context->today + 1)
            et0_mm += context->skies[0].et0_mm[h];
    return et0_mm;
}

void plan_zone_lead(struct planning *p)
{
    bool cool = et0_tomorrow_mm(&p->context) < cool_mm;
    for (size_t z = 0; z < p->context.nursery->zone_count && cool; z++) {
        struct plan_zone_work *zone = &p->zones[z];
        size_t thirsty = NURSERY_NONE;
        size_t patient = NURSERY_NONE;
        enum delivery_method method = p->context.nursery->zones[z].method;
        if (zone->lead != NURSERY_NONE || method == DELIVERY_HAND ||
            method == DELIVERY_SUBIRRIGATION || !extremes(p, z, &thirsty, &patient))
            continue;
        for (size_t b = zone->first_block; b != NURSERY_NONE; b = p->works[b].next) {
            double air = p->works[b].figures.air_space;
            if (p->works[b].now->pots > 0.0 && air < airy_from &&
                interval_of(p, b) >= mixed_from * interval_of(p, thirsty) &&
                (zone->lead == NURSERY_NONE || air < p->works[zone->lead].figures.air_space))
                zone->lead = b;
        }
        zone->led_by_wet = zone->lead != NURSERY_NONE;
    }
}

/* Minutes of a zone's valve that bring a block a day's use, were it watered there; 0: not so. */
static double minutes_there(const struct planning *p, size_t block, size_t zone)
{
    const struct nursery_zone *z = &p->context.nursery->zones[zone];
    const struct plan_work *work = &p->works[block];
    double litres_min = z->method == DELIVERY_OVERHEAD
                            ? z->rate_mm_h / 60.0 * work->pot.top_m2 * work->capture
                            : z->emitters_per_pot * z->emitter_l_h / 60.0;
    return litres_min > 0.0 ? p->result->blocks[block].use_tomorrow_l / litres_min : 0.0;
}

static double apart(double a, double b)
{
    return a > 0.0 && b > 0.0 ? fmax(a / b, b / a) : INFINITY;
}

/* How far a block is from the others of a zone, in interval or minutes, whichever is more. */
static double distance(const struct planning *p, size_t block, size_t zone)
{
    double far = 0.0;
    bool any = false;
    for (size_t b = p->zones[zone].first_block; b != NURSERY_NONE; b = p->works[b].next) {
        if (b == block || !(p->works[b].now->pots > 0.0))
            continue;
        if (p->works[b].now->cover != p->works[block].now->cover)
            return INFINITY;
        any = true;
        far = fmax(far, apart(interval_of(p, block), interval_of(p, b)));
        far = fmax(far, apart(minutes_there(p, block, zone), minutes_there(p, b, zone)));
    }
    return any ? far : INFINITY;
}

/* Another zone of the same method whose blocks this one resembles. */
static size_t better_zone(const struct planning *p, size_t block)
{
    const struct nursery *nursery = p->context.nursery;
    size_t own = nursery->blocks[block].zone;
    size_t best = NURSERY_NONE;
    double least = fits_within;
    for (size_t z = 0; z < nursery->zone_count; z++) {
        double far = z != own && nursery->zones[z].method == nursery->zones[own].method
                         ? distance(p, block, z)
                         : INFINITY;
        if (far <= least) {
            least = far;
            best = z;
        }
    }
    return best;
}

static void review_block(const struct planning *p, size_t zone, size_t b)
{
    const struct plan_work *work = &p->works[b];
    struct plan_block *block = &p->result->blocks[b];
    double wanted = p->zones[zone].leaching;
    struct plan_reason n = plan_reason_of(PLAN_TOO_MUCH, zone, b);
    block->given_l = work->given_l;
    block->lost_l = work->lost_l;
    if (work->given_l > 0.0 && work->lost_l / work->given_l > fmax(wasted_most, 1.5 * wanted)) {
        n.a = fmax(0.0, work->lost_l - wanted * work->given_l) * work->now->pots;
        n.b = 100.0 * work->lost_l / work->given_l;
        plan_add_notice(p->result, n);
    }
}

/* Both ends of a mixed zone: the one that another zone would suit. */
static void review_mixed(const struct planning *p, size_t zone)
{
    size_t ends[2];
    if (!extremes(p, zone, &ends[0], &ends[1]))
        return;
    for (size_t b = p->zones[zone].first_block; b != NURSERY_NONE; b = p->works[b].next)
        if (p->works[b].now->pots > 0.0)
            review_block(p, zone, b);
    for (size_t i = 0; i < 2; i++) {
        struct plan_reason n = plan_reason_of(PLAN_MOVE_BLOCK, zone, ends[i]);
        n.other = better_zone(p, ends[i]);
        p->result->blocks[ends[i]].move_to = n.other;
        if (n.other != NURSERY_NONE)
            plan_add_notice(p->result, n);
    }
    if (p->zones[zone].led_by_wet) {
        struct plan_reason n = plan_reason_of(PLAN_LED_BY_WET, zone, p->zones[zone].lead);
        n.other = ends[0];
        plan_add_notice(p->result, n);
    }
}

/* --- salt and drainage, said ----------------------------------------------------------------- */

static void review_salt(const struct planning *p, size_t zone)
{
    const struct nursery *nursery = p->context.nursery;
    struct plan_reason n = plan_reason_of(PLAN_CHANGE_WATER, zone, NURSERY_NONE);
    for (size_t b = p->zones[zone].first_block; b != NURSERY_NONE; b = p->works[b].next) {
        const struct nursery_block *block = &nursery->blocks[b];
        const struct nursery_salt *salt = salt_of(p, b);
        struct plan_reason high = plan_reason_of(PLAN_SALT_HIGH, zone, b);
        if (!planted(nursery, b))
            continue;
        if (block->salt_ec_ds_m > 0.0 &&
            (n.block == NURSERY_NONE ||
             block->salt_ec_ds_m < nursery->blocks[n.block].salt_ec_ds_m))
            n.block = b;
        if (salt && is_salty(block, salt, &high.b)) {
            high.a = salt->ec_ds_m;
            plan_add_notice(p->result, high);
        }
    }
    n.a = nursery->supplies[nursery->zones[zone].supply].water_ec_ds_m;
    if (p->zones[zone].flush && n.block != NURSERY_NONE)
        plan_add_notice(p->result, n);
    if (p->zones[zone].drained > DELIVERY_PULSE_DRAINAGE) {
        struct plan_reason much = plan_reason_of(PLAN_DRAINS_MUCH, zone, NURSERY_NONE);
        much.a = 100.0 * p->zones[zone].drained;
        much.b = 100.0 * p->zones[zone].leaching;
        plan_add_notice(p->result, much);
    }
}

/* Where salt is watched, every two weeks. */
static void review_pour_throughs(const struct planning *p)
{
    const struct nursery *nursery = p->context.nursery;
    struct plan_reason n = plan_reason_of(PLAN_POUR_THROUGH_DUE, NURSERY_NONE, NURSERY_NONE);
    for (size_t b = 0; b < nursery->block_count; b++) {
        bool watched = nursery->blocks[b].salt_ec_ds_m > 0.0;
        for (size_t i = 0; i < nursery->salt_count && !watched; i++)
            watched = nursery->salts[i].block == b;
        if (!watched || !planted(nursery, b) || salt_of(p, b))
            continue;
        if (n.block == NURSERY_NONE)
            n.block = b;
        n.a += 1.0;
    }
    if (n.a > 0.0)
        plan_add_notice(p->result, n);
}

void plan_zone_review(const struct planning *p)
{
    for (size_t b = 0; b < p->context.nursery->block_count; b++) {
        p->result->blocks[b].move_to = NURSERY_NONE;
        p->result->blocks[b].given_l = p->works[b].given_l;
        p->result->blocks[b].lost_l = p->works[b].lost_l;
    }
    for (size_t z = 0; z < p->context.nursery->zone_count; z++) {
        review_mixed(p, z);
        review_salt(p, z);
    }
    review_pour_throughs(p);
}
