/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "plan_work.h"

#include <math.h>
#include <string.h>

/* Overhead: no water from 2 h before to 3 h after hours of PLAN_FROST_C [our choice]. */
static const int64_t frost_before_s = 2 * CIVIL_HOUR_S;
static const int64_t frost_after_s = 3 * CIVIL_HOUR_S;

/* A pulse of a drip line or a stake is no shorter: the line has to fill first [our choice, the
 * least run]. */
static const int least_pulse_min = 5;

static void add_unplaced(struct planning *p, const struct plan_request *request, size_t zone,
                         struct plan_reason why)
{
    struct plan_result *result = p->result;
    if (result->unplaced_count == result->unplaced_capacity)
        return;
    result->unplaced[result->unplaced_count++] =
        (struct plan_unplaced){zone,
                               request->from_s,
                               request->wanted_minutes,
                               request->wanted_minutes * p->context.nursery->zones[zone].flow_l_min,
                               why,
                               request->order != NURSERY_NONE};
}

static enum plan_sure sure_of(const struct planning *p, int64_t start_s)
{
    size_t h = plan_hour_at(&p->context, start_s);
    const struct weather_hour *hour =
        &p->context.input->hours[h < p->context.hour_count ? h : p->context.hour_count - 1];
    double ahead_h = (double)(start_s - p->context.input->now_s) / CIVIL_HOUR_S;
    if (hour->kind == WEATHER_NORMAL || ahead_h > 120.0)
        return PLAN_OUTLOOK;
    return ahead_h < 48.0 ? PLAN_CERTAIN : PLAN_LIKELY;
}

static void add_reason(struct plan_run *run, struct plan_reason why)
{
    if (run->reason_count < PLAN_REASONS_MAX)
        run->reasons[run->reason_count++] = why;
}

/* The pots get their water in the balance; of a run that was cut, so much less. */
static double give_water(struct planning *p, const struct plan_run *run,
                         const struct plan_request *request)
{
    const struct nursery_zone *zone = &p->context.nursery->zones[run->zone];
    double part = fmin(1.0, (double)run->minutes / request->wanted_minutes);
    double lead_l = 0.0;
    double most_l = 0.0;
    if (!nursery_purpose_waters(run->purpose))
        return 0.0;
    for (size_t b = p->zones[run->zone].first_block; b != NURSERY_NONE; b = p->works[b].next) {
        struct plan_work *work = &p->works[b];
        work->dose_hour = plan_hour_at(&p->context, run->start_s);
        work->dose_l = zone->method == DELIVERY_SUBIRRIGATION || zone->method == DELIVERY_HAND
                           ? part * plan_own_dose_l(p, request, work)
                           : run->minutes * work->litres_pot_min;
        if (b == request->lead)
            lead_l = work->dose_l;
        most_l = fmax(most_l, work->dose_l);
    }
    return lead_l > 0.0 ? lead_l : most_l; /* an order has no block that leads */
}

void plan_count_run(struct planning *p, size_t zone, int64_t start_s, double minutes, double litres)
{
    size_t day = plan_limit_day(&p->context, start_s);
    p->zones[zone].minutes_on[day] += minutes;
    p->zones[zone].litres_on[day] += litres;
    p->supplies[p->context.nursery->zones[zone].supply].litres_on[day] += litres;
}

/* What a required watering is for; but where blocks are due as well, it waters. */
static enum nursery_purpose purpose_of(const struct planning *p, const struct plan_request *request)
{
    if (request->requirement == NURSERY_NONE)
        return NURSERY_IRRIGATION;
    enum nursery_purpose purpose = p->context.nursery->requirements[request->requirement].purpose;
    return nursery_purpose_waters(purpose) || request->passes_s == 0 ? purpose : NURSERY_IRRIGATION;
}

/* Why it runs: an order or a requirement, a block that is due, or both. */
static void say_cause(const struct planning *p, struct plan_run *run,
                      const struct plan_request *request)
{
    struct plan_reason why;
    if (request->order != NURSERY_NONE) {
        why = plan_reason_of(PLAN_ORDERED, run->zone,
                             p->context.nursery->orders[request->order].block);
        why.other = request->order;
        add_reason(run, why);
        return;
    }
    if (request->requirement != NURSERY_NONE) {
        why = plan_reason_of(PLAN_REQUIRED, run->zone, NURSERY_NONE);
        why.other = request->requirement;
        why.a = p->context.nursery->requirements[request->requirement].minutes;
        add_reason(run, why);
    }
    if (p->turns[request->turn].early) {
        why = plan_reason_of(PLAN_LEVELLED, run->zone, NURSERY_NONE);
        why.at_s = p->turns[request->turn].for_s;
        add_reason(run, why);
    }
    if (request->passes_s == 0)
        return;
    why = plan_reason_of(PLAN_PASSES_REFILL, run->zone, request->lead);
    why.at_s = request->passes_s;
    why.until_s = request->next_by_s;
    add_reason(run, why);
}

/* Leaves are wet, and people come, when a hold follows so soon [our choice]. */
static const int64_t before_hold_s = 12 * CIVIL_HOUR_S;

/* Less does not come through the leaves [our choice, as in the balance]. */
static const double least_rain_mm = 1.0;

static void say_hold(const struct planning *p, struct plan_run *run)
{
    const struct nursery *n = p->context.nursery;
    size_t hold = plan_hold_next(n, run->zone, run->end_s, run->end_s + before_hold_s);
    if (hold == NURSERY_NONE)
        return;
    struct plan_reason why = plan_reason_of(PLAN_BEFORE_HOLD, run->zone, NURSERY_NONE);
    why.other = hold;
    why.at_s = n->holds[hold].from_s;
    why.until_s = n->holds[hold].to_s;
    add_reason(run, why);
}

/* The balances take forecast rain as it comes, so the first run after it is the shorter for it. */
static void say_rain(const struct planning *p, struct plan_run *run,
                     const struct plan_request *request)
{
    const struct plan_context *context = &p->context;
    struct plan_reason why = plan_reason_of(PLAN_COUNTS_ON_RAIN, run->zone, NURSERY_NONE);
    int64_t from_s = p->zones[run->zone].busy_until_s;
    size_t h =
        plan_hour_at(context, from_s > context->input->now_s ? from_s : context->input->now_s);
    for (; h < plan_hour_at(context, request->from_s); h++)
        if (context->input->hours[h].rain_kind == WEATHER_FORECAST)
            why.a += context->input->hours[h].rain_mm;
    if (why.a >= least_rain_mm && plan_zone_gets_rain(p, run->zone))
        add_reason(run, why);
}

static void say_why(const struct planning *p, struct plan_run *run,
                    const struct plan_request *request)
{
    enum delivery_method method = p->context.nursery->zones[run->zone].method;
    struct plan_reason why;
    say_cause(p, run, request);
    if (request->longest != request->lead && request->longest != NURSERY_NONE &&
        method != DELIVERY_HAND && method != DELIVERY_SUBIRRIGATION)
        add_reason(run, plan_reason_of(PLAN_SIZED_FOR, run->zone, request->longest));
    if (request->order == NURSERY_NONE && request->requirement == NURSERY_NONE)
        say_rain(p, run, request); /* minutes that people said stay, whatever falls */
    say_hold(p, run);
    if (request->soak)
        add_reason(run, plan_reason_of(PLAN_EVENS_BED, run->zone, NURSERY_NONE));
    if (request->cut || request->supply_cut) {
        why = plan_reason_of(request->supply_cut ? PLAN_CUT_TO_SUPPLY_LIMIT : PLAN_CUT_TO_DAY_LIMIT,
                             run->zone, NURSERY_NONE);
        why.a = run->minutes;
        why.b = request->wanted_minutes;
        add_reason(run, why);
    } else if (request->lengthened) {
        why = plan_reason_of(PLAN_LEAST_RUN, run->zone, NURSERY_NONE);
        why.a = run->minutes;
        add_reason(run, why);
    }
}

/* Water that was wanted soon and is not given. */
static void count_missing(struct planning *p, const struct plan_request *request, int given,
                          bool supply)
{
    size_t zone = p->turns[request->turn].zone;
    double litres = (request->wanted_minutes - given) * p->context.nursery->zones[zone].flow_l_min;
    if (request->from_s >= p->context.input->now_s + PLAN_LIMIT_SOON_S)
        return;
    if (supply) {
        p->missing_l += litres;
        if (p->short_turn == NURSERY_NONE ||
            p->turns[request->turn].start_s < p->turns[p->short_turn].start_s)
            p->short_turn = request->turn;
    }
    /* What is not given is wanted again next time: the largest is what it lacks. */
    p->zones[zone].cut_l = fmax(p->zones[zone].cut_l, litres);
    for (size_t b = p->zones[zone].first_block; b != NURSERY_NONE; b = p->works[b].next)
        if (p->works[b].cut_s == 0)
            p->works[b].cut_s = request->from_s;
}

static enum status add_run(struct planning *p, const struct plan_request *request,
                           const struct timetable_run *shape, const struct timetable_place *place,
                           bool windy)
{
    struct plan_result *result = p->result;
    size_t zone = p->turns[request->turn].zone;
    const struct nursery_zone *z = &p->context.nursery->zones[zone];
    if (result->run_count == result->run_capacity)
        return STATUS_NO_SPACE;
    struct plan_run *run = &result->runs[result->run_count++];
    *run = (struct plan_run){.zone = zone,
                             .start_s = place->start_s,
                             .end_s = place->end_s,
                             .minutes = shape->pulses * shape->pulse_min,
                             .pulses = shape->pulses,
                             .pulse_min = shape->pulse_min,
                             .pause_min = shape->pulses > 1 ? shape->pause_min : 0,
                             .flow_l_min = z->flow_l_min,
                             .by_hand = z->method == DELIVERY_HAND,
                             .purpose = purpose_of(p, request),
                             .sizing = request->sizing,
                             .sure = sure_of(p, place->start_s)};
    run->sizing.most_min = request->most_minutes;
    run->litres = run->minutes * z->flow_l_min;
    run->depth_mm = z->method == DELIVERY_OVERHEAD ? z->rate_mm_h * run->minutes / 60.0 : NAN;
    run->litres_pot = give_water(p, run, request);
    say_why(p, run, request);
    if (windy)
        add_reason(run, plan_reason_of(PLAN_WINDY_HOURS, zone, NURSERY_NONE));
    if (request->requirement != NURSERY_NONE)
        p->required_done[request->requirement] = true;
    if (request->cut || request->supply_cut)
        count_missing(p, request, run->minutes, request->supply_cut);
    p->turns[request->turn].ran = true;
    /* it is in the balances from the next hour on */
    int64_t counted_s = plan_hour_s(&p->context, plan_hour_at(&p->context, run->start_s) + 1);
    p->zones[zone].busy_until_s = run->end_s > counted_s ? run->end_s : counted_s;
    plan_count_run(p, zone, run->start_s, run->minutes, run->litres);
    return STATUS_OK;
}

struct timetable_run plan_shape_of(const struct planning *p, const struct nursery_zone *zone,
                                   const struct plan_request *request)
{
    struct timetable_run shape = {.from_s = request->from_s,
                                  .until_s = request->until_s,
                                  .pulses = p->zones[zone - p->context.nursery->zones].pulses,
                                  .pause_min = (int)ceil(zone->pause_min),
                                  .flow_l_min = zone->flow_l_min,
                                  .hose = zone->method == DELIVERY_HAND,
                                  .latest = zone->method == DELIVERY_OVERHEAD &&
                                            request->order == NURSERY_NONE};
    bool micro = zone->method == DELIVERY_DRIP || zone->method == DELIVERY_SPRAY;
    int most = micro ? request->minutes / least_pulse_min : request->minutes;
    if (shape.pulses > most)
        shape.pulses = most;
    if (shape.pulses < 1)
        shape.pulses = 1;
    shape.pulse_min = (request->minutes + shape.pulses - 1) / shape.pulses;
    if (shape.pulses * shape.pulse_min > request->most_minutes) /* whole minutes, but no more */
        shape.pulse_min = request->most_minutes / shape.pulses;
    return shape;
}

/* The first frost-free stretch of daylight from the opening on: hours in which it could run. */
static void find_clear(const struct planning *p, size_t zone, const struct timetable_run *shape,
                       struct plan_reason *why)
{
    const struct nursery *n = p->context.nursery;
    const struct timetable *table = &p->supplies[n->zones[zone].supply].table;
    int64_t rise_s = 0;
    int64_t set_s = 0;
    int up = 0;
    struct civil_date date = civil_local_date(&n->time_zone, shape->until_s);
    if (sun_rise_and_set(&n->site, date, &rise_s, &set_s, &up) != STATUS_OK || up != 1)
        return;
    int64_t from_s = rise_s > shape->from_s ? rise_s : shape->from_s;
    int64_t first = (from_s - table->start_s + 59) / 60;
    int64_t end = (set_s - table->start_s) / 60;
    for (int64_t m = first, since = first; m < end && m < (int64_t)table->minutes; m++) {
        if (p->frost[m])
            since = m + 1;
        else if (m + 1 - since >= timetable_span_min(shape)) {
            why->until_s = table->start_s + since * 60;
            while (m < end && m < (int64_t)table->minutes && !p->frost[m])
                m++;
            why->b = (double)(m - since) / 60.0;
            return;
        }
    }
}

/* Why it did not fit, and what would make it fit. */
static struct plan_reason why_not(const struct planning *p, size_t zone,
                                  const struct timetable_run *shape,
                                  const struct timetable_place *place, bool frost)
{
    if (place->fit == TIMETABLE_WINDOW_SHORT) {
        struct plan_reason why = plan_reason_of(PLAN_WINDOW_SHORT, zone, NURSERY_NONE);
        why.a = timetable_span_min(shape);
        why.b = (double)(shape->until_s - shape->from_s) / 60.0;
        return why;
    }
    if (frost) {
        struct plan_reason why = plan_reason_of(PLAN_FROST_IN_WINDOW, zone, NURSERY_NONE);
        size_t from = plan_hour_at(&p->context, shape->from_s - frost_after_s);
        size_t to = plan_hour_at(&p->context, shape->until_s + frost_before_s);
        why.a = INFINITY;
        for (size_t h = from; h < to && h < p->context.hour_count; h++) {
            double t = p->context.input->hours[h].temperature_c;
            if (t < why.a) {
                why.a = t;
                why.at_s = plan_hour_s(&p->context, h);
            }
        }
        find_clear(p, zone, shape, &why);
        return why;
    }
    struct plan_reason why = plan_reason_of(PLAN_SUPPLY_FULL, zone, NURSERY_NONE);
    why.a = place->flow_more_l_min;
    why.b = place->minutes_more;
    return why;
}

/* Litres that the supply has left on the fullest day of the opening. */
static double supply_left_l(const struct planning *p, const struct plan_request *request,
                            const struct nursery_zone *zone, double *limit_l)
{
    const struct plan_supply_work *supply = &p->supplies[zone->supply];
    size_t last = plan_limit_day(&p->context, request->until_s - 60);
    double left_l = INFINITY;
    for (size_t day = plan_limit_day(&p->context, request->from_s); day <= last; day++) {
        double day_l = supply->limit_l[day] - supply->litres_on[day];
        if (day_l < left_l) {
            left_l = day_l;
            *limit_l = supply->limit_l[day];
        }
    }
    return left_l;
}

/* A run gets what its supply's day leaves, unless that is too little to be of use. */
static bool cut_to_supply(const struct planning *p, struct plan_request *request,
                          const struct nursery_zone *zone, struct plan_reason *why)
{
    double limit_l = 0.0;
    double left_l = supply_left_l(p, request, zone, &limit_l);
    double wanted_l = request->minutes * zone->flow_l_min;
    double most = fmin(floor(left_l / zone->flow_l_min), TIMETABLE_MINUTES);
    int minutes = most >= 1.0 ? (int)most : 0;
    if (request->most_minutes > minutes) /* pulses are rounded up to whole minutes, but no more */
        request->most_minutes = minutes;
    if (request->minutes <= minutes)
        return true;
    request->supply_cut = true;
    request->minutes = minutes;
    if (minutes >= 1 && minutes >= plan_least_minutes(zone))
        return true;
    *why = plan_reason_of(PLAN_SUPPLY_DAY_LIMIT, p->turns[request->turn].zone, NURSERY_NONE);
    why->a = limit_l - left_l + wanted_l;
    why->b = limit_l;
    return false;
}

/* Calm hours first, then any that do not freeze; with a hose first where nobody waters with
 * another, since few nurseries have two to do it. */
static enum status find_place(struct planning *p, struct timetable *table,
                              enum delivery_method method, struct timetable_run *shape,
                              struct timetable_place *place, bool *windy)
{
    bool overhead = method == DELIVERY_OVERHEAD;
    shape->barred = overhead ? p->frost_or_wind : p->frozen;
    shape->alone = shape->hose;
    enum status status = timetable_find(table, shape, place);
    *windy = false;
    if (status == STATUS_OK && shape->alone && place->fit == TIMETABLE_FLOW_SHORT) {
        shape->alone = false;
        status = timetable_find(table, shape, place);
    }
    if (status == STATUS_OK && overhead && place->fit == TIMETABLE_FLOW_SHORT) {
        *windy = true;
        shape->barred = p->frost;
        status = timetable_find(table, shape, place);
    }
    return status;
}

enum status plan_try(struct planning *p, const struct plan_request *request, bool early,
                     struct timetable_run *shape, struct timetable_place *place, bool *windy)
{
    const struct nursery_zone *z = &p->context.nursery->zones[request->zone];
    *shape = plan_shape_of(p, z, request);
    shape->latest &= !early;
    if (shape->latest && request->due_by_s > 0) {
        shape->until_s = request->due_by_s;
        enum status status =
            find_place(p, &p->supplies[z->supply].table, z->method, shape, place, windy);
        if (status != STATUS_OK || (place->fit == TIMETABLE_FITS && !*windy))
            return status;
        if (place->fit == TIMETABLE_FITS)
            timetable_release(&p->supplies[z->supply].table, shape, place->start_s);
        shape->until_s = request->until_s;
        *windy = false;
    }
    return find_place(p, &p->supplies[z->supply].table, z->method, shape, place, windy);
}

static void leave_out(struct planning *p, const struct plan_request *request, size_t zone,
                      struct plan_reason why)
{
    count_missing(p, request, 0, why.code == PLAN_SUPPLY_FULL || why.code == PLAN_SUPPLY_DAY_LIMIT);
    add_unplaced(p, request, zone, why);
}

enum status plan_place(struct planning *p, const struct plan_request *asked)
{
    struct plan_request request = *asked;
    size_t zone = p->turns[request.turn].zone;
    const struct nursery_zone *z = &p->context.nursery->zones[zone];
    struct plan_reason why;
    if (request.minutes < 1) {
        why = plan_reason_of(PLAN_CUT_TO_DAY_LIMIT, zone, NURSERY_NONE);
        why.b = request.wanted_minutes;
        leave_out(p, &request, zone, why);
        return STATUS_OK;
    }
    if (!cut_to_supply(p, &request, z, &why)) {
        leave_out(p, &request, zone, why);
        return STATUS_OK;
    }
    struct timetable *table = &p->supplies[z->supply].table;
    struct timetable_run shape;
    struct timetable_place place;
    bool windy = false;
    enum status status = plan_try(p, &request, request.soon, &shape, &place, &windy);
    if (status != STATUS_OK)
        return status;
    if (place.fit == TIMETABLE_FITS)
        return add_run(p, &request, &shape, &place, windy);
    status = timetable_place(table, &shape, &place); /* and what would make it fit */
    if (status != STATUS_OK)
        return status;
    bool frost = place.fit == TIMETABLE_FLOW_SHORT && place.flow_more_l_min <= 0.0 &&
                 shape.barred[(shape.until_s - table->start_s) / 60 - 1];
    leave_out(p, &request, zone, why_not(p, zone, &shape, &place, frost));
    return STATUS_OK;
}

/* Minutes from from_s to to_s of a table. */
static void mark(bool *minutes, int64_t table_start_s, int64_t from_s, int64_t to_s)
{
    int64_t from = from_s < table_start_s ? 0 : (from_s - table_start_s) / 60;
    int64_t to = (to_s - table_start_s) / 60;
    for (int64_t m = from; m < to && m < TIMETABLE_MINUTES; m++)
        minutes[m] = true;
}

void plan_mark_weather(struct planning *p, int64_t table_start_s)
{
    const struct plan_context *context = &p->context;
    memset(p->frost, 0, TIMETABLE_MINUTES * sizeof *p->frost);
    memset(p->frost_or_wind, 0, TIMETABLE_MINUTES * sizeof *p->frost_or_wind);
    memset(p->frozen, 0, TIMETABLE_MINUTES * sizeof *p->frozen);
    for (size_t h = 0; h < context->hour_count; h++) {
        const struct weather_hour *hour = &context->input->hours[h];
        int64_t end_s = hour->start_s + CIVIL_HOUR_S;
        if (hour->temperature_c <= PLAN_FROST_C) {
            mark(p->frost, table_start_s, hour->start_s - frost_before_s, end_s + frost_after_s);
            mark(p->frost_or_wind, table_start_s, hour->start_s - frost_before_s,
                 end_s + frost_after_s);
        }
        if (hour->wind_2m_m_s > PLAN_WINDY_M_S)
            mark(p->frost_or_wind, table_start_s, hour->start_s, end_s);
        if (context->frozen[h]) {
            mark(p->frozen, table_start_s, hour->start_s, end_s);
            mark(p->frost, table_start_s, hour->start_s, end_s);
            mark(p->frost_or_wind, table_start_s, hour->start_s, end_s);
        }
    }
}
