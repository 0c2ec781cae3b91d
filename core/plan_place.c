/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "plan_work.h"

#include <math.h>
#include <string.h>

/* Overhead: no water from 2 h before to 3 h after freezing hours [our choice]; uniformity is
 * severely impaired above 4 m/s (Yacoubi et al. 2012). */
static const double frost_c = 2.0;
static const int64_t frost_before_s = 2 * CIVIL_HOUR_S;
static const int64_t frost_after_s = 3 * CIVIL_HOUR_S;
static const double windy_m_s = 4.0;

static void add_unplaced(struct planning *p, const struct plan_request *request, size_t zone,
                         struct plan_reason why)
{
    struct plan_result *result = p->result;
    if (result->unplaced_count == result->unplaced_capacity)
        return;
    result->unplaced[result->unplaced_count++] = (struct plan_unplaced){
        zone, request->from_s, request->wanted_minutes,
        request->wanted_minutes * p->context.nursery->zones[zone].flow_l_min, why};
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
    for (size_t b = p->zones[run->zone].first_block; b != NURSERY_NONE; b = p->works[b].next) {
        struct plan_work *work = &p->works[b];
        work->dose_hour = plan_hour_at(&p->context, run->start_s);
        work->dose_l = zone->method == DELIVERY_SUBIRRIGATION || zone->method == DELIVERY_HAND
                           ? part * plan_own_dose_l(p, zone, work)
                           : run->minutes * work->litres_pot_min;
        if (b == request->lead)
            lead_l = work->dose_l;
    }
    return lead_l;
}

void plan_count_run(struct planning *p, size_t zone, int64_t start_s, double minutes, double litres)
{
    size_t day = plan_limit_day(&p->context, start_s);
    p->zones[zone].minutes_on[day] += minutes;
    p->zones[zone].litres_on[day] += litres;
    p->supplies[p->context.nursery->zones[zone].supply].litres_on[day] += litres;
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
                             .sure = sure_of(p, place->start_s)};
    run->litres = run->minutes * z->flow_l_min;
    run->depth_mm = z->method == DELIVERY_OVERHEAD ? z->rate_mm_h * run->minutes / 60.0 : NAN;
    run->litres_pot = give_water(p, run, request);
    struct plan_reason why = plan_reason_of(PLAN_PASSES_REFILL, zone, request->lead);
    why.at_s = request->passes_s;
    why.until_s = request->next_by_s;
    add_reason(run, why);
    if (request->longest != request->lead && request->longest != NURSERY_NONE && !run->by_hand &&
        z->method != DELIVERY_SUBIRRIGATION)
        add_reason(run, plan_reason_of(PLAN_SIZED_FOR, zone, request->longest));
    if (request->soak)
        add_reason(run, plan_reason_of(PLAN_EVENS_BED, zone, NURSERY_NONE));
    if (request->cut) {
        why = plan_reason_of(PLAN_CUT_TO_DAY_LIMIT, zone, NURSERY_NONE);
        why.a = run->minutes;
        why.b = request->wanted_minutes;
        add_reason(run, why);
    } else if (request->lengthened) {
        why = plan_reason_of(PLAN_LEAST_RUN, zone, NURSERY_NONE);
        why.a = run->minutes;
        add_reason(run, why);
    }
    if (windy)
        add_reason(run, plan_reason_of(PLAN_WINDY_HOURS, zone, NURSERY_NONE));
    p->zones[zone].busy_until_s = run->end_s;
    plan_count_run(p, zone, run->start_s, run->minutes, run->litres);
    return STATUS_OK;
}

static struct timetable_run shape_of(const struct nursery_zone *zone,
                                     const struct plan_request *request)
{
    struct timetable_run shape = {.from_s = request->from_s,
                                  .until_s = request->until_s,
                                  .pulses = zone->pulses,
                                  .pause_min = (int)ceil(zone->pause_min),
                                  .flow_l_min = zone->flow_l_min,
                                  .latest = zone->method == DELIVERY_OVERHEAD};
    if (shape.pulses > request->minutes)
        shape.pulses = request->minutes;
    if (shape.pulses < 1)
        shape.pulses = 1;
    shape.pulse_min = (request->minutes + shape.pulses - 1) / shape.pulses;
    if (shape.pulses * shape.pulse_min > request->most_minutes) /* whole minutes, but no more */
        shape.pulse_min = request->most_minutes / shape.pulses;
    return shape;
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
        return why;
    }
    struct plan_reason why = plan_reason_of(PLAN_SUPPLY_FULL, zone, NURSERY_NONE);
    why.a = place->flow_more_l_min;
    why.b = place->minutes_more;
    return why;
}

/* Whether the supply's daily volume has room on each day of the opening. */
static bool supply_has(const struct planning *p, const struct timetable_run *shape, size_t zone,
                       struct plan_reason *why)
{
    const struct nursery_zone *z = &p->context.nursery->zones[zone];
    double limit_l = p->context.nursery->supplies[z->supply].daily_limit_l;
    size_t last = plan_limit_day(&p->context, shape->until_s - 60);
    double most_l = 0.0;
    for (size_t day = plan_limit_day(&p->context, shape->from_s); day <= last; day++)
        most_l = fmax(most_l, p->supplies[z->supply].litres_on[day]);
    double litres = most_l + shape->pulses * shape->pulse_min * z->flow_l_min;
    if (limit_l <= 0.0 || litres <= limit_l)
        return true;
    *why = plan_reason_of(PLAN_SUPPLY_DAY_LIMIT, zone, NURSERY_NONE);
    why->a = litres;
    why->b = limit_l;
    return false;
}

enum status plan_place(struct planning *p, const struct plan_request *request)
{
    size_t zone = p->turns[request->turn].zone;
    const struct nursery_zone *z = &p->context.nursery->zones[zone];
    struct plan_reason why;
    if (request->minutes < 1) {
        why = plan_reason_of(PLAN_CUT_TO_DAY_LIMIT, zone, NURSERY_NONE);
        why.b = request->wanted_minutes;
        add_unplaced(p, request, zone, why);
        return STATUS_OK;
    }
    struct timetable_run shape = shape_of(z, request);
    if (!supply_has(p, &shape, zone, &why)) {
        add_unplaced(p, request, zone, why);
        return STATUS_OK;
    }
    struct timetable *table = &p->supplies[z->supply].table;
    struct timetable_place place;
    bool overhead = z->method == DELIVERY_OVERHEAD;
    bool windy = false;
    shape.barred = overhead ? p->frost_or_wind : NULL;
    enum status status = timetable_place(table, &shape, &place);
    if (status == STATUS_OK && overhead && place.fit == TIMETABLE_FLOW_SHORT) {
        windy = true; /* calm hours first, then any that do not freeze */
        shape.barred = p->frost;
        status = timetable_place(table, &shape, &place);
    }
    if (status != STATUS_OK)
        return status;
    if (place.fit == TIMETABLE_FITS)
        return add_run(p, request, &shape, &place, windy);
    bool frost = overhead && place.fit == TIMETABLE_FLOW_SHORT && place.flow_more_l_min <= 0.0 &&
                 p->frost[(shape.until_s - table->start_s) / 60 - 1];
    add_unplaced(p, request, zone, why_not(p, zone, &shape, &place, frost));
    return STATUS_OK;
}
void plan_mark_weather(struct planning *p, int64_t table_start_s)
{
    const struct plan_context *context = &p->context;
    memset(p->frost, 0, TIMETABLE_MINUTES * sizeof *p->frost);
    memset(p->frost_or_wind, 0, TIMETABLE_MINUTES * sizeof *p->frost_or_wind);
    for (size_t h = 0; h < context->hour_count; h++) {
        const struct weather_hour *hour = &context->input->hours[h];
        bool freezes = hour->temperature_c <= frost_c;
        bool blows = hour->wind_2m_m_s > windy_m_s;
        if (!freezes && !blows)
            continue;
        int64_t from_s = hour->start_s - (freezes ? frost_before_s : 0);
        int64_t to_s = hour->start_s + CIVIL_HOUR_S + (freezes ? frost_after_s : 0);
        for (int64_t t = from_s; t < to_s; t += 60) {
            int64_t minute = (t - table_start_s) / 60;
            if (t < table_start_s || minute >= TIMETABLE_MINUTES)
                continue;
            p->frost_or_wind[minute] = true;
            p->frost[minute] |= freezes;
        }
    }
}
