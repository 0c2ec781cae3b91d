/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "plan_work.h"

#include <math.h>

/* A soak evens the bed when the dry quarter was not filled for so long (5-7 days) [common practice,
 * figure ours]. */
static const int64_t soak_after_s = 5 * CIVIL_DAY_S;

/* A zone is served within this of its window's opening [our choice]; overhead that is due later in
 * it is placed before that, where there is room. */
static const int64_t served_within_s = 2 * CIVIL_HOUR_S;

double plan_leaching_of(const struct planning *p, const struct nursery_zone *zone)
{
    return p->zones[zone - p->context.nursery->zones].leaching;
}

bool plan_soak_due(const struct plan_request *request, const struct plan_work *work)
{
    return request->from_s - work->soaked_s >= soak_after_s;
}

double plan_own_dose_l(const struct planning *p, const struct plan_request *request,
                       const struct plan_work *work)
{
    const struct nursery_zone *zone = &p->context.nursery->zones[request->zone];
    double share = work->driest_share > 0.0 ? work->driest_share : 1.0;
    double margin = fmax(1.0 / (1.0 - fmin(0.9, plan_leaching_of(p, zone))), 1.0 / share);
    double lacks_l = plan_lacks_l(work);
    if (plan_soak_due(request, work)) /* what even the driest lacks */
        lacks_l = fmax(lacks_l, work->pot.ceiling_l - work->driest.state.water_l);
    return lacks_l * margin;
}

int plan_least_minutes(const struct nursery_zone *zone)
{
    double least = zone->least_min;
    if (least < 0.0 &&
        delivery_least_minutes(zone->method, zone->rate_mm_h, 0.0, &least) != STATUS_OK)
        least = 0.0;
    return (int)ceil(fmin(least, 1440.0));
}

/* Covers the low half of a bed: as cans measured it, else estimated from its low quarter. */
static double half_multiplier(const struct nursery_zone *zone, double du_low_quarter)
{
    double multiplier = 1.0;
    if (zone->du_low_half > 0.0 && zone->du_low_half <= 1.0)
        return 1.0 / fmax(0.05, zone->du_low_half);
    return delivery_multiplier(du_low_quarter, &multiplier) == STATUS_OK ? multiplier : 1.0;
}

/* How many times the average dose brings to the part of the bed that a run is sized for what the
 * average pot lacks. */
static double uniformity_of(const struct nursery_zone *zone, const struct plan_work *work)
{
    double du = work->driest_share;
    if (zone->method == DELIVERY_DRIP || zone->method == DELIVERY_SPRAY ||
        (zone->method == DELIVERY_OVERHEAD && zone->run_for == DELIVERY_LOW_QUARTER))
        return 1.0 / du;
    if (zone->method == DELIVERY_OVERHEAD && zone->run_for == DELIVERY_LOW_HALF)
        return half_multiplier(zone, du);
    return 1.0;
}

/* Minutes of the open valve that bring `need_l` back into one pot. Margins do not multiply: the
 * larger of leaching and uniformity is taken. What channels through on the way is left to the
 * balance and to the next soak: chasing the last tenth would leach a third of every run. */
double plan_minutes_for(const struct planning *p, const struct nursery_zone *zone,
                        const struct plan_work *work, double need_l)
{
    struct delivery_margin_in in = {.need_l = need_l,
                                    .deficit_l = need_l,
                                    .leaching_fraction = plan_leaching_of(p, zone),
                                    .multiplier = uniformity_of(zone, work),
                                    .intake = {1.0, 0.0}};
    struct delivery_margin margin;
    if (!(work->litres_pot_min > 0.0) || delivery_margin_of(&in, &margin) != STATUS_OK)
        return 0.0;
    return margin.gross_l / work->litres_pot_min;
}

/* Minutes that fill even the dry quarter, or come nearest to it. */
static double minutes_to_soak(const struct plan_work *work)
{
    double lacks_l = work->pot.ceiling_l - work->driest.state.water_l;
    double dose = 1.0;
    bool reached = false;
    if (!(work->litres_pot_min > 0.0) ||
        delivery_dose_fraction(&work->pot.intake, 1.0, &dose, &reached) != STATUS_OK)
        return 0.0;
    return lacks_l * dose / (work->litres_pot_min * work->driest_share);
}

/* Whether each deciding block can wait for the next opening, with and without the rain. */
static void look_at_zone(const struct planning *p, struct plan_request *request, size_t zone)
{
    const struct plan_context *context = &p->context;
    size_t to = plan_hour_at(context, request->next_by_s);
    bool dry_with_rain = false;
    bool stressed = false;
    request->passes_s = 0;
    for (size_t b = p->zones[zone].first_block; b != NURSERY_NONE; b = p->works[b].next) {
        const struct plan_work *work = &p->works[b];
        if (!plan_decides(p, work))
            continue;
        struct plan_lookahead look = {true, 1.0, 0.0, work->refill_l};
        int64_t passes_s = plan_block_passes(context, work, to, &look);
        p->works[b].passing = passes_s != 0;
        if (passes_s == 0)
            continue;
        if (work->due_s != 0 && work->due_s < passes_s)
            passes_s = work->due_s;
        if (request->passes_s == 0 || passes_s < request->passes_s) {
            request->passes_s = passes_s;
            request->lead = b;
        }
        struct plan_lookahead wet = look;
        wet.rain_share = 1.0;
        dry_with_rain |= plan_block_passes(context, work, to, &wet) != 0;
        struct plan_lookahead limit = look;
        limit.depletion_l = work->pot.stress_p * work->pot.available_l;
        stressed |= plan_block_passes(context, work, to, &limit) != 0;
    }
    request->run = request->passes_s != 0;
    request->rain_hold = request->run && !dry_with_rain && !stressed;
    if (request->rain_hold)
        request->run = false;
}

/* Whether a block would pass its stress limit before the next opening if it got hotter than
 * forecast. */
static bool may_be_stressed(const struct planning *p, const struct plan_request *request)
{
    size_t to = plan_hour_at(&p->context, request->next_by_s);
    for (size_t b = p->zones[request->zone].first_block; b != NURSERY_NONE; b = p->works[b].next) {
        const struct plan_work *work = &p->works[b];
        struct plan_lookahead look = {true, PLAN_HOTTER, 0.0,
                                      work->pot.stress_p * work->pot.available_l};
        if (work->passing && plan_block_passes(&p->context, work, to, &look) != 0)
            return true;
    }
    return false;
}

/* A little more in hours in which the zone has been watered already is not worth opening it again,
 * unless for plants that would suffer; next to nothing never is [our choices of what is little]. */
static bool hardly_more(const struct planning *p, const struct plan_request *request)
{
    const double little = 0.25;
    const double nothing = 0.05;
    const struct nursery *n = p->context.nursery;
    double flow_l_min = n->zones[request->zone].flow_l_min;
    double given_min = 0.0;
    if (request->order != NURSERY_NONE || request->requirement != NURSERY_NONE)
        return false;
    size_t end = 0;
    size_t r = 0;
    for (plan_runs_of(n, request->zone, &r, &end); r < end; r++) {
        const struct nursery_run *run = &n->runs[r];
        if (run->start_s >= p->turns[request->turn].opened_s && run->start_s < request->from_s &&
            run->state != NURSERY_RUN_UNKNOWN && nursery_purpose_waters(run->purpose))
            given_min += run->litres >= 0.0 ? run->litres / flow_l_min
                                            : (double)(run->end_s - run->start_s) / 60.0;
    }
    return request->need_minutes < nothing * given_min ||
           (request->need_minutes < little * given_min && !may_be_stressed(p, request));
}

/* An order for a block is sized for that one. */
static bool sizes(const struct planning *p, const struct plan_request *request,
                  const struct plan_work *work)
{
    size_t ordered = request->order == NURSERY_NONE
                         ? NURSERY_NONE
                         : p->context.nursery->orders[request->order].block;
    return ordered == NURSERY_NONE ? plan_decides(p, work) : ordered == work->block;
}

/* Ordered, or a day early: every block counts, not those only that cannot wait. */
static bool whole_zone(const struct planning *p, const struct plan_request *request)
{
    return request->order != NURSERY_NONE || p->turns[request->turn].early;
}

/* What a person asked for in minutes or litres comes before what the block lacks. */
static double ordered_minutes(const struct nursery_order *order, const struct nursery_zone *zone,
                              double lacking)
{
    if (order->minutes > 0.0)
        return order->minutes;
    return order->litres > 0.0 ? order->litres / zone->flow_l_min : lacking;
}

static void require_minutes(const struct planning *p, struct plan_request *request)
{
    if (request->requirement == NURSERY_NONE)
        return;
    int minutes = (int)ceil(p->context.nursery->requirements[request->requirement].minutes);
    if (minutes > request->minutes)
        request->minutes = minutes;
    request->lengthened = false;
}

/* The first opening in which a required watering has room takes it. */
static void look_for_requirement(const struct planning *p, struct plan_request *request,
                                 size_t zone)
{
    const struct nursery *nursery = p->context.nursery;
    for (size_t i = 0; i < nursery->requirement_count; i++) {
        const struct nursery_requirement *required = &nursery->requirements[i];
        int64_t from_s = (required->from_s + 59) / 60 * 60;
        int64_t until_s = required->to_s / 60 * 60;
        if (from_s < request->from_s)
            from_s = request->from_s;
        if (until_s > request->until_s)
            until_s = request->until_s;
        if (required->zone != zone || p->required_done[i] ||
            (double)(until_s - from_s) < 60.0 * required->minutes)
            continue;
        request->from_s = from_s;
        request->until_s = until_s;
        request->requirement = i;
        return;
    }
}

/* The figures that a block's minutes come from, for whoever goes through them. */
static struct plan_sizing sizing_of(const struct planning *p, const struct nursery_zone *zone,
                                    const struct plan_work *work, bool soak, double minutes)
{
    struct plan_sizing s = {.block = work->block, .soak = soak};
    s.full_l = work->pot.ceiling_l;
    s.water_l = soak ? work->driest.state.water_l : work->average.state.water_l;
    s.lacks_l = fmax(0.0, s.full_l - s.water_l);
    s.leaching = plan_leaching_of(p, zone);
    s.multiplier = uniformity_of(zone, work);
    s.soak_share = soak ? work->driest_share : 0.0;
    s.litres_pot_min = work->litres_pot_min;
    s.margin = soak && s.lacks_l > 0.0 ? minutes * s.litres_pot_min / s.lacks_l
                                       : fmax(1.0 / (1.0 - s.leaching), s.multiplier);
    if (zone->method == DELIVERY_OVERHEAD) {
        s.capture = work->capture;
        s.top_m2 = work->figures.top_area_m2;
        s.rule_of_thumb = !(plan_block_of(&p->context, work)->capture > 0.0);
        s.ground_m2 = work->now->ground_m2;
        s.canopy_cm = work->now->leaf == DEMAND_LEAF_NONE ? 0.0 : work->canopy_cm;
    }
    return s;
}

static enum plan_led led_by(const struct planning *p, const struct plan_request *request)
{
    const struct plan_zone_work *work = &p->zones[request->zone];
    if (request->order != NURSERY_NONE)
        return PLAN_LED_ORDER;
    if (request->sizing.block == NURSERY_NONE)
        return PLAN_LED_REQUIRED;
    if (work->lead == NURSERY_NONE)
        return PLAN_LED_NEEDIEST;
    return work->led_by_wet ? PLAN_LED_WET : PLAN_LED_NAMED;
}

/* How long: every block that passes its refill point gets what it lacks; trays and hands give each
 * pot its own. */
static void size_run(const struct planning *p, struct plan_request *request, size_t zone)
{
    const struct plan_context *context = &p->context;
    const struct nursery_zone *z = &context->nursery->zones[zone];
    double minutes = 0.0;
    double litres = 0.0;
    struct plan_sizing *sizing = &request->sizing;
    sizing->block = NURSERY_NONE;
    for (size_t b = p->zones[zone].first_block; b != NURSERY_NONE; b = p->works[b].next) {
        const struct plan_work *work = &p->works[b];
        litres += work->now->pots * plan_own_dose_l(p, request, work);
        if (!sizes(p, request, work) || (!whole_zone(p, request) && !work->passing))
            continue;
        double needs = plan_minutes_for(p, z, work, plan_lacks_l(work));
        bool soak = plan_soak_due(request, work) && minutes_to_soak(work) > needs;
        if (soak) {
            needs = minutes_to_soak(work);
            request->soak = true;
        }
        /* one whose average pot lacks nothing, but not its dry quarter, gets the least run */
        if (needs > minutes || sizing->block == NURSERY_NONE)
            *sizing = sizing_of(p, z, work, soak, needs);
        if (needs > minutes) {
            minutes = needs;
            request->longest = b;
        }
    }
    sizing->led = led_by(p, request);
    if (z->method == DELIVERY_SUBIRRIGATION || z->method == DELIVERY_HAND) {
        minutes = litres / z->flow_l_min;
        request->soak &= z->method == DELIVERY_HAND;
        *sizing =
            (struct plan_sizing){.led = PLAN_LED_EACH, .block = NURSERY_NONE, .all_l = litres};
    }
    bool told = request->order != NURSERY_NONE && /* people know */
                (context->nursery->orders[request->order].minutes > 0.0 ||
                 context->nursery->orders[request->order].litres > 0.0);
    int least = told ? 1 : plan_least_minutes(z);
    if (told) {
        request->longest = NURSERY_NONE;
        *sizing = (struct plan_sizing){.led = PLAN_LED_ASKED, .block = NURSERY_NONE};
    }
    if (request->order != NURSERY_NONE)
        minutes = ordered_minutes(&context->nursery->orders[request->order], z, minutes);
    request->need_minutes = minutes;
    request->minutes = (int)ceil(fmin(minutes, 10080.0) - 1e-9);
    if (request->minutes < 1)
        request->minutes = 1;
    request->lengthened = request->minutes < least;
    if (request->lengthened)
        request->minutes = least;
    require_minutes(p, request);
    request->wanted_minutes = request->minutes;
    sizing->need_min = minutes;
    sizing->least_min = least;
    if (request->requirement != NURSERY_NONE)
        sizing->least_min =
            (int)fmax(least, ceil(p->context.nursery->requirements[request->requirement].minutes));
}

/* A zone's limits on one of the plan's days: its own, or what a person raised them to. */
static void limits_on(const struct planning *p, size_t zone, size_t day, double *most_min,
                      double *most_l)
{
    const struct nursery *n = p->context.nursery;
    int64_t local = p->context.first_day + (int64_t)(p->context.today + day);
    *most_min = n->zones[zone].most_min_day;
    *most_l = n->zones[zone].most_l_day;
    for (size_t i = 0; i < n->raise_count; i++) {
        if (n->raises[i].zone != zone || n->raises[i].local_days != local)
            continue;
        if (*most_min > 0.0)
            *most_min = fmax(*most_min, n->raises[i].most_min);
        if (*most_l > 0.0)
            *most_l = fmax(*most_l, n->raises[i].most_l);
    }
}

/* Minutes that the zone's own daily limits leave, whichever day of its opening the run starts on.
 */
static double minutes_left(const struct planning *p, const struct plan_request *request,
                           size_t zone)
{
    const struct nursery_zone *z = &p->context.nursery->zones[zone];
    const struct plan_zone_work *work = &p->zones[zone];
    size_t last = plan_limit_day(&p->context, request->until_s - 60);
    double left = INFINITY;
    for (size_t day = plan_limit_day(&p->context, request->from_s); day <= last; day++) {
        double most_min = 0.0;
        double most_l = 0.0;
        limits_on(p, zone, day, &most_min, &most_l);
        if (most_min > 0.0)
            left = fmin(left, most_min - work->minutes_on[day]);
        if (most_l > 0.0)
            left = fmin(left, (most_l - work->litres_on[day]) / z->flow_l_min);
    }
    return left;
}

static void cut_to_limits(const struct planning *p, struct plan_request *request, size_t zone)
{
    double left = fmin(minutes_left(p, request, zone), TIMETABLE_MINUTES);
    request->most_minutes = left >= 1.0 ? (int)floor(left) : 0;
    request->cut = request->most_minutes < request->minutes;
    if (request->cut)
        request->minutes = request->most_minutes;
}

/* A report may be on its way for so long: meanwhile the zone is not watered again in the same
 * hours, since it would get twice what it needs [our choice]. */
static const int64_t report_within_s = 2 * CIVIL_HOUR_S;

/* Who waters by hand tells of it when he is through with these hours. */
static int64_t report_due_s(const struct planning *p, const struct plan_turn *turn)
{
    const struct nursery *n = p->context.nursery;
    int64_t due_s = 0;
    size_t end = 0;
    size_t r = 0;
    for (plan_runs_of(n, turn->zone, &r, &end); r < end; r++) {
        const struct nursery_run *run = &n->runs[r];
        if (run->state != NURSERY_RUN_UNKNOWN || run->start_s < turn->opened_s)
            continue;
        int64_t by_s = n->zones[turn->zone].method == DELIVERY_HAND ? turn->end_s
                                                                    : run->end_s + report_within_s;
        due_s = by_s > due_s ? by_s : due_s;
    }
    return due_s;
}

enum status plan_decide(struct planning *p, size_t turn_index, struct plan_request *request)
{
    const struct plan_turn *turn = &p->turns[turn_index];
    struct plan_zone_work *zone = &p->zones[turn->zone];
    const struct plan_turn *next = plan_turn_next(p, turn);
    *request = (struct plan_request){.turn = turn_index,
                                     .from_s = turn->start_s,
                                     .until_s = turn->end_s,
                                     .lead = NURSERY_NONE,
                                     .longest = NURSERY_NONE,
                                     .order = turn->order,
                                     .zone = turn->zone,
                                     .rank = turn->order != NURSERY_NONE ? 0 : zone->priority,
                                     .requirement = NURSERY_NONE};
    if (request->from_s < zone->busy_until_s)
        request->from_s = zone->busy_until_s;
    if (turn->order == NURSERY_NONE && request->from_s < report_due_s(p, turn))
        request->from_s = (report_due_s(p, turn) + 59) / 60 * 60;
    if (request->until_s - request->from_s < 60) /* it has just run in these hours */
        return STATUS_OK;
    request->next_by_s = plan_hour_s(&p->context, p->context.hour_count);
    if (next)
        request->next_by_s = next->end_s < next->start_s + served_within_s
                                 ? next->end_s
                                 : next->start_s + served_within_s;
    if (turn->order == NURSERY_NONE)
        look_for_requirement(p, request, turn->zone);
    for (size_t b = zone->first_block; b != NURSERY_NONE; b = p->works[b].next) {
        enum status status = plan_block_advance(&p->context, &p->works[b],
                                                plan_hour_at(&p->context, request->from_s));
        if (status != STATUS_OK)
            return status;
    }
    look_at_zone(p, request, turn->zone);
    if (request->order != NURSERY_NONE || request->requirement != NURSERY_NONE) {
        request->run = true;
        request->rain_hold = false;
    }
    bool early = turn->early && !request->run && !request->rain_hold;
    if (request->run || early) {
        size_run(p, request, turn->zone);
        cut_to_limits(p, request, turn->zone);
        if (hardly_more(p, request))
            request->run = early = false;
    }
    int64_t due_by_s = request->passes_s / 60 * 60;
    if (request->run && due_by_s < request->until_s &&
        due_by_s - request->from_s >= 60 * (int64_t)request->minutes)
        request->due_by_s = due_by_s;
    if (early) /* too full yet to be worth a run */
        request->run = !request->lengthened;
    return STATUS_OK;
}
