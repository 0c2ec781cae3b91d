/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "plan.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "plan_work.h"

/* A soak evens the bed when the dry quarter was not filled for so long (5-7 days) [common practice,
 * figure ours]. */
static const int64_t soak_after_s = 5 * CIVIL_DAY_S;

/* Runs start no sooner than this after 'now': someone has to read the plan first. */
static const int64_t lead_time_s = 5 * 60;

/* A zone that runs as early as it can is served within this of its window's opening [our choice];
 * overhead ends with its window. */
static const int64_t served_within_s = 2 * CIVIL_HOUR_S;

/* Overhead: no water from 2 h before to 3 h after freezing hours [our choice]; uniformity is
 * severely impaired above 4 m/s (Yacoubi et al. 2012). */
static const double frost_c = 2.0;
static const int64_t frost_before_s = 2 * CIVIL_HOUR_S;
static const int64_t frost_after_s = 3 * CIVIL_HOUR_S;
static const double windy_m_s = 4.0;

/* Shortest useful runs: 3 mm overhead, 5 minutes once lines are full [common practice]. */
static const double least_overhead_mm = 3.0;
static const double least_micro_min = 5.0;

/* Wanted leaching when the zone does not say: overhead 15 % (extension targets), micro 10 %. */
static const double leaching_overhead = 0.15;
static const double leaching_micro = 0.10;

/* Spread of the next watering time until an ensemble gives it: a tenth each side of weather and of
 * available water (15 % each), with the plant's own coefficient [our choice]. */
static const double weather_spread = 0.15;
static const double water_spread = 0.15;
static const double tenth_z = 1.28;

/* One opening of one zone's window. */
struct turn {
    size_t zone;
    int64_t start_s, end_s;
    bool used; /* already decided */
};

/* What one zone asks for in one opening. */
struct request {
    size_t turn;
    int64_t from_s, until_s;
    int64_t next_by_s; /* the next opening serves the zone by then */
    bool run, rain_hold;
    size_t lead;      /* block that passes first */
    size_t longest;   /* block that sets the minutes */
    int64_t passes_s; /* when; 0: not before the next opening's end */
    int minutes;
    bool soak, lengthened, cut;
    int wanted_minutes;
};

struct zone_work {
    size_t first_block; /* chain through plan_work.next */
    double share_l;     /* sum of pots x available water: by hand and from below */
    int64_t busy_until_s;
    int64_t day; /* local day the sums belong to */
    double minutes_on_day, litres_on_day;
};

struct supply_work {
    struct timetable table;
    int64_t day;
    double litres_on_day;
};

struct planning {
    struct plan_context context;
    struct plan_work *works;
    struct zone_work *zones;
    struct supply_work *supplies;
    struct turn *turns;
    size_t turn_count;
    struct request *requests;
    bool *frost, *frost_or_wind; /* minutes of the tables that overhead avoids */
    struct plan_result *result;
};

/* --- room ------------------------------------------------------------------------------------ */

static bool window_applies(const struct nursery *nursery, const struct nursery_window *window,
                           size_t zone)
{
    if (window->zone == zone)
        return true;
    if (window->zone != NURSERY_NONE)
        return false;
    for (size_t w = 0; w < nursery->window_count; w++)
        if (nursery->windows[w].zone == zone)
            return false;
    return true;
}

static size_t count_turns(const struct plan_input *input)
{
    const struct nursery *nursery = input->nursery;
    size_t openings = 0;
    for (size_t z = 0; z < nursery->zone_count; z++)
        for (size_t w = 0; w < nursery->window_count; w++)
            openings += window_applies(nursery, &nursery->windows[w], z) ? 1 : 0;
    return openings * ((size_t)input->days + 3);
}

static void *carve(unsigned char *room, size_t *used, size_t count, size_t size)
{
    size_t start = (*used + 15) / 16 * 16;
    *used = start + count * size;
    return room ? room + start : NULL;
}

/* Lays the parts out; with room NULL only counts. */
static size_t lay_out(const struct plan_input *input, unsigned char *room, struct planning *p)
{
    const struct nursery *nursery = input->nursery;
    size_t used = 0;
    size_t skies = nursery->cover_count + 1;
    p->context.hourly = carve(room, &used, 2 * skies * input->hour_count, sizeof(double));
    p->context.skies = carve(room, &used, skies, sizeof(struct plan_sky));
    p->context.day_of_hour = carve(room, &used, input->hour_count, 1);
    p->works = carve(room, &used, nursery->block_count, sizeof(struct plan_work));
    p->zones = carve(room, &used, nursery->zone_count, sizeof(struct zone_work));
    p->supplies = carve(room, &used, nursery->supply_count, sizeof(struct supply_work));
    p->turns = carve(room, &used, count_turns(input), sizeof(struct turn));
    p->requests = carve(room, &used, nursery->zone_count, sizeof(struct request));
    p->frost = carve(room, &used, TIMETABLE_MINUTES, sizeof(bool));
    p->frost_or_wind = carve(room, &used, TIMETABLE_MINUTES, sizeof(bool));
    return used;
}

size_t plan_room_bytes(const struct plan_input *input)
{
    struct planning p;
    return lay_out(input, NULL, &p) + 16;
}

size_t plan_runs_most(const struct plan_input *input)
{
    return count_turns(input) + input->nursery->run_count + 1;
}

size_t plan_notices_most(const struct plan_input *input)
{
    return 4 * input->nursery->block_count + 4 * input->nursery->zone_count + 16;
}

size_t plan_openings_most(const struct plan_input *input)
{
    return count_turns(input);
}

/* --- openings of windows --------------------------------------------------------------------- */

static int64_t edge_s(const struct nursery *nursery, const struct nursery_edge *edge, int64_t day)
{
    int64_t rise_s = 0;
    int64_t set_s = 0;
    int up = 0;
    if (edge->from == NURSERY_CLOCK)
        return civil_local_to_utc(&nursery->time_zone, day, edge->second);
    if (sun_rise_and_set(&nursery->site, civil_from_days(day), &rise_s, &set_s, &up) != STATUS_OK)
        return 0;
    return ((edge->from == NURSERY_SUNRISE ? rise_s : set_s) + edge->second) / 60 * 60;
}

static void add_turn(struct planning *p, size_t zone, const struct nursery_window *window,
                     int64_t day)
{
    const struct plan_input *input = p->context.input;
    const struct nursery *nursery = input->nursery;
    int weekday = (int)(((day + 3) % 7 + 7) % 7); /* 1970-01-01 was a Thursday */
    if (!(window->weekdays & (1u << weekday)))
        return;
    int64_t start_s = edge_s(nursery, &window->start, day);
    int64_t end_s = edge_s(nursery, &window->end, day);
    if (end_s <= start_s)
        end_s = edge_s(nursery, &window->end, day + 1);
    int64_t from_s = (input->now_s + lead_time_s + 59) / 60 * 60;
    int64_t horizon_s = input->hours[0].start_s + (int64_t)input->hour_count * CIVIL_HOUR_S;
    int64_t last_day = p->context.first_day + (int64_t)p->context.today + input->days;
    if (start_s < from_s)
        start_s = from_s;
    if (end_s - start_s < 60 || end_s > horizon_s ||
        civil_days(civil_local_date(&nursery->time_zone, start_s)) > last_day)
        return;
    p->turns[p->turn_count++] = (struct turn){zone, start_s, end_s, false};
}

static int by_start(const void *a, const void *b)
{
    const struct turn *x = a;
    const struct turn *y = b;
    if (x->start_s != y->start_s)
        return x->start_s < y->start_s ? -1 : 1;
    if (x->end_s != y->end_s)
        return x->end_s < y->end_s ? -1 : 1;
    return x->zone < y->zone ? -1 : x->zone > y->zone;
}

static void open_turns(struct planning *p)
{
    const struct plan_input *input = p->context.input;
    const struct nursery *nursery = input->nursery;
    int64_t today = p->context.first_day + (int64_t)p->context.today;
    p->turn_count = 0;
    for (size_t z = 0; z < nursery->zone_count; z++)
        for (size_t w = 0; w < nursery->window_count; w++) {
            if (!window_applies(nursery, &nursery->windows[w], z))
                continue;
            for (int64_t d = today - 1; d <= today + input->days; d++)
                add_turn(p, z, &nursery->windows[w], d);
        }
    qsort(p->turns, p->turn_count, sizeof *p->turns, by_start);
}

/* What the page draws: all zones' hours, merged. The turns are in order of their start. */
static enum status report_openings(const struct planning *p)
{
    struct plan_result *result = p->result;
    result->opening_count = 0;
    for (size_t t = 0; t < p->turn_count; t++) {
        const struct turn *turn = &p->turns[t];
        struct plan_opening *last =
            result->opening_count > 0 ? &result->openings[result->opening_count - 1] : NULL;
        if (last && turn->start_s <= last->end_s) {
            if (turn->end_s > last->end_s)
                last->end_s = turn->end_s;
            continue;
        }
        if (result->opening_count == result->opening_capacity)
            return STATUS_NO_SPACE;
        result->openings[result->opening_count++] =
            (struct plan_opening){turn->start_s, turn->end_s};
    }
    return STATUS_OK;
}

/* The zone's next opening after this one, or none. */
static const struct turn *next_turn(const struct planning *p, const struct turn *turn)
{
    for (const struct turn *t = turn + 1; t < p->turns + p->turn_count; t++)
        if (t->zone == turn->zone)
            return t;
    return NULL;
}

/* --- deciding -------------------------------------------------------------------------------- */

static size_t hour_at(const struct plan_context *context, int64_t t_s)
{
    int64_t hour = (t_s - context->input->hours[0].start_s) / CIVIL_HOUR_S;
    if (hour < 0)
        return 0;
    return hour > (int64_t)context->hour_count ? context->hour_count : (size_t)hour;
}

static double leaching_of(const struct nursery_zone *zone)
{
    if (zone->leaching_fraction >= 0.0)
        return zone->leaching_fraction;
    switch (zone->method) {
    case DELIVERY_OVERHEAD:
        return leaching_overhead;
    case DELIVERY_DRIP:
    case DELIVERY_SPRAY:
        return leaching_micro;
    case DELIVERY_SUBIRRIGATION:
    case DELIVERY_HAND:
        break;
    }
    return 0.0;
}

static int least_minutes(const struct nursery_zone *zone)
{
    double least = zone->least_min;
    if (least < 0.0)
        least = zone->method == DELIVERY_OVERHEAD ? least_overhead_mm / zone->rate_mm_h * 60.0
                : zone->method == DELIVERY_HAND   ? 0.0
                                                  : least_micro_min;
    return (int)ceil(fmin(least, 1440.0));
}

/* Minutes of the open valve that bring `need_l` back into one pot. Margins do not multiply: the
 * larger of leaching and uniformity is taken. */
static double minutes_for(const struct nursery_zone *zone, const struct plan_work *work,
                          double need_l)
{
    double margin = 1.0 / (1.0 - fmin(0.9, leaching_of(zone)));
    if (zone->method == DELIVERY_OVERHEAD && zone->run_for != DELIVERY_AVERAGE) {
        double du = work->driest_share;
        double uniform = zone->run_for == DELIVERY_LOW_HALF ? 1.0 / (0.4 + 0.6 * du) : 1.0 / du;
        margin = fmax(margin, uniform);
    } else if (zone->method == DELIVERY_DRIP || zone->method == DELIVERY_SPRAY) {
        margin = fmax(margin, 1.0 / work->driest_share);
    }
    return work->litres_pot_min > 0.0 ? need_l * margin / work->litres_pot_min : 0.0;
}

/* Minutes that fill even the dry quarter. */
static double minutes_to_soak(const struct plan_work *work)
{
    double need_l = (work->pot.ceiling_l - work->driest.state.water_l) *
                    balance_filling_multiple(work->pot.wetting);
    return work->litres_pot_min > 0.0 ? need_l / (work->litres_pot_min * work->driest_share) : 0.0;
}

static double lacks_l(const struct plan_work *work)
{
    return fmax(0.0, work->pot.ceiling_l - work->average.state.water_l);
}

static bool decides(const struct planning *p, const struct plan_work *work)
{
    const struct nursery_block *block = &p->context.nursery->blocks[work->block];
    size_t lead = p->context.nursery->zones[block->zone].lead_block;
    return work->now->pots > 0.0 && (lead == NURSERY_NONE || lead == work->block);
}

/* Whether each deciding block can wait for the next opening, with and without the rain. */
static void look_at_zone(const struct planning *p, struct request *request, size_t zone)
{
    const struct plan_context *context = &p->context;
    size_t to = hour_at(context, request->next_by_s);
    bool dry_with_rain = false;
    bool stressed = false;
    request->passes_s = 0;
    for (size_t b = p->zones[zone].first_block; b != NURSERY_NONE; b = p->works[b].next) {
        const struct plan_work *work = &p->works[b];
        if (!decides(p, work))
            continue;
        struct plan_lookahead look = {true, 1.0, 0.0, plan_block_refill_l(context, work)};
        int64_t passes_s = plan_block_passes(context, work, to, &look);
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

/* How long: every block that passes its refill point gets what it lacks; trays and hands give each
 * pot its own. */
static void size_run(const struct planning *p, struct request *request, size_t zone)
{
    const struct plan_context *context = &p->context;
    const struct nursery_zone *z = &context->nursery->zones[zone];
    size_t to = hour_at(context, request->next_by_s);
    double minutes = 0.0;
    double litres = 0.0;
    for (size_t b = p->zones[zone].first_block; b != NURSERY_NONE; b = p->works[b].next) {
        const struct plan_work *work = &p->works[b];
        struct plan_lookahead look = {true, 1.0, 0.0, plan_block_refill_l(context, work)};
        litres += work->now->pots * lacks_l(work) / (1.0 - fmin(0.9, leaching_of(z)));
        if (!decides(p, work) || plan_block_passes(context, work, to, &look) == 0)
            continue;
        double needs = minutes_for(z, work, lacks_l(work));
        if (request->from_s - work->soaked_s >= soak_after_s && minutes_to_soak(work) > needs) {
            needs = minutes_to_soak(work);
            request->soak = true;
        }
        if (needs > minutes) {
            minutes = needs;
            request->longest = b;
        }
    }
    if (z->method == DELIVERY_SUBIRRIGATION || z->method == DELIVERY_HAND) {
        minutes = litres / z->flow_l_min;
        request->soak = false;
    }
    int least = least_minutes(z);
    request->minutes = (int)ceil(fmin(minutes, 10080.0) - 1e-9);
    if (request->minutes < 1)
        request->minutes = 1;
    request->lengthened = request->minutes < least;
    if (request->lengthened)
        request->minutes = least;
    request->wanted_minutes = request->minutes;
}

/* The zone's own daily limits. */
static void cut_to_limits(struct planning *p, struct request *request, size_t zone)
{
    const struct nursery_zone *z = &p->context.nursery->zones[zone];
    struct zone_work *work = &p->zones[zone];
    int64_t day = civil_days(civil_local_date(&p->context.nursery->time_zone, request->from_s));
    if (work->day != day) {
        work->day = day;
        work->minutes_on_day = 0.0;
        work->litres_on_day = 0.0;
    }
    double most = request->minutes;
    if (z->most_min_day > 0.0)
        most = fmin(most, z->most_min_day - work->minutes_on_day);
    if (z->most_l_day > 0.0)
        most = fmin(most, (z->most_l_day - work->litres_on_day) / z->flow_l_min);
    if (most < request->minutes) {
        request->cut = true;
        request->minutes = most >= 1.0 ? (int)floor(most) : 0;
    }
}

static enum status decide(struct planning *p, size_t turn_index, struct request *request)
{
    const struct turn *turn = &p->turns[turn_index];
    struct zone_work *zone = &p->zones[turn->zone];
    const struct turn *next = next_turn(p, turn);
    *request = (struct request){.turn = turn_index,
                                .from_s = turn->start_s,
                                .until_s = turn->end_s,
                                .lead = NURSERY_NONE,
                                .longest = NURSERY_NONE};
    if (request->from_s < zone->busy_until_s)
        request->from_s = zone->busy_until_s;
    request->next_by_s = plan_hour_s(&p->context, p->context.hour_count);
    if (next) {
        bool late = p->context.nursery->zones[turn->zone].method == DELIVERY_OVERHEAD;
        request->next_by_s = late || next->end_s < next->start_s + served_within_s
                                 ? next->end_s
                                 : next->start_s + served_within_s;
    }
    for (size_t b = zone->first_block; b != NURSERY_NONE; b = p->works[b].next) {
        enum status status =
            plan_block_advance(&p->context, &p->works[b], hour_at(&p->context, request->from_s));
        if (status != STATUS_OK)
            return status;
    }
    look_at_zone(p, request, turn->zone);
    if (request->run) {
        size_run(p, request, turn->zone);
        cut_to_limits(p, request, turn->zone);
    }
    return STATUS_OK;
}

/* --- placing --------------------------------------------------------------------------------- */

static struct plan_reason reason(enum plan_code code, size_t zone, size_t block)
{
    return (struct plan_reason){.code = code, .zone = zone, .block = block, .other = NURSERY_NONE};
}

static void add_unplaced(struct planning *p, const struct request *request, size_t zone,
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
    size_t h = hour_at(&p->context, start_s);
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

/* The pots get their water in the balance. */
static double give_water(struct planning *p, const struct plan_run *run, size_t lead)
{
    const struct nursery_zone *zone = &p->context.nursery->zones[run->zone];
    double lead_l = 0.0;
    for (size_t b = p->zones[run->zone].first_block; b != NURSERY_NONE; b = p->works[b].next) {
        struct plan_work *work = &p->works[b];
        work->dose_hour = hour_at(&p->context, run->start_s);
        work->dose_l =
            zone->method == DELIVERY_SUBIRRIGATION || zone->method == DELIVERY_HAND
                ? lacks_l(work) / (1.0 - fmin(0.9, leaching_of(zone))) / work->driest_share
                : run->minutes * work->litres_pot_min;
        if (b == lead)
            lead_l = work->dose_l;
    }
    return lead_l;
}

static enum status add_run(struct planning *p, const struct request *request,
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
    run->litres_pot = give_water(p, run, request->lead);
    struct plan_reason why = reason(PLAN_PASSES_REFILL, zone, request->lead);
    why.at_s = request->passes_s;
    why.until_s = request->next_by_s;
    add_reason(run, why);
    if (request->longest != request->lead && request->longest != NURSERY_NONE && !run->by_hand &&
        z->method != DELIVERY_SUBIRRIGATION)
        add_reason(run, reason(PLAN_SIZED_FOR, zone, request->longest));
    if (request->soak)
        add_reason(run, reason(PLAN_EVENS_BED, zone, NURSERY_NONE));
    if (request->cut) {
        why = reason(PLAN_CUT_TO_DAY_LIMIT, zone, NURSERY_NONE);
        why.a = run->minutes;
        why.b = request->wanted_minutes;
        add_reason(run, why);
    } else if (request->lengthened) {
        why = reason(PLAN_LEAST_RUN, zone, NURSERY_NONE);
        why.a = run->minutes;
        add_reason(run, why);
    }
    if (windy)
        add_reason(run, reason(PLAN_WINDY_HOURS, zone, NURSERY_NONE));
    p->zones[zone].busy_until_s = run->end_s;
    p->zones[zone].minutes_on_day += run->minutes;
    p->zones[zone].litres_on_day += run->litres;
    p->supplies[z->supply].litres_on_day += run->litres;
    return STATUS_OK;
}

static struct timetable_run shape_of(const struct nursery_zone *zone, const struct request *request)
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
    return shape;
}

/* Why it did not fit, and what would make it fit. */
static struct plan_reason why_not(const struct planning *p, size_t zone,
                                  const struct timetable_run *shape,
                                  const struct timetable_place *place, bool frost)
{
    if (place->fit == TIMETABLE_WINDOW_SHORT) {
        struct plan_reason why = reason(PLAN_WINDOW_SHORT, zone, NURSERY_NONE);
        why.a = timetable_span_min(shape);
        why.b = (double)(shape->until_s - shape->from_s) / 60.0;
        return why;
    }
    if (frost) {
        struct plan_reason why = reason(PLAN_FROST_IN_WINDOW, zone, NURSERY_NONE);
        size_t from = hour_at(&p->context, shape->from_s - frost_after_s);
        size_t to = hour_at(&p->context, shape->until_s + frost_before_s);
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
    struct plan_reason why = reason(PLAN_SUPPLY_FULL, zone, NURSERY_NONE);
    why.a = place->flow_more_l_min;
    why.b = place->minutes_more;
    return why;
}

static bool supply_has(struct planning *p, const struct request *request, size_t zone,
                       struct plan_reason *why)
{
    const struct nursery_zone *z = &p->context.nursery->zones[zone];
    const struct nursery_supply *supply = &p->context.nursery->supplies[z->supply];
    struct supply_work *work = &p->supplies[z->supply];
    int64_t day = civil_days(civil_local_date(&p->context.nursery->time_zone, request->from_s));
    if (work->day != day) {
        work->day = day;
        work->litres_on_day = 0.0;
    }
    double litres = work->litres_on_day + request->minutes * z->flow_l_min;
    if (supply->daily_limit_l <= 0.0 || litres <= supply->daily_limit_l)
        return true;
    *why = reason(PLAN_SUPPLY_DAY_LIMIT, zone, NURSERY_NONE);
    why->a = litres;
    why->b = supply->daily_limit_l;
    return false;
}

static enum status place_request(struct planning *p, const struct request *request)
{
    size_t zone = p->turns[request->turn].zone;
    const struct nursery_zone *z = &p->context.nursery->zones[zone];
    struct plan_reason why;
    if (request->minutes < 1) {
        why = reason(PLAN_CUT_TO_DAY_LIMIT, zone, NURSERY_NONE);
        why.b = request->wanted_minutes;
        add_unplaced(p, request, zone, why);
        return STATUS_OK;
    }
    if (!supply_has(p, request, zone, &why)) {
        add_unplaced(p, request, zone, why);
        return STATUS_OK;
    }
    struct timetable *table = &p->supplies[z->supply].table;
    struct timetable_run shape = shape_of(z, request);
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

/* --- rounds: openings that overlap are decided together, then placed by class and need -------- */

static int more_urgent(const struct planning *p, const struct request *a, const struct request *b)
{
    const struct nursery_zone *x = &p->context.nursery->zones[p->turns[a->turn].zone];
    const struct nursery_zone *y = &p->context.nursery->zones[p->turns[b->turn].zone];
    if (x->priority != y->priority)
        return x->priority < y->priority;
    if (a->passes_s != b->passes_s)
        return a->passes_s < b->passes_s;
    return p->turns[a->turn].zone < p->turns[b->turn].zone;
}

/* Insertion sort: a round holds a few hundred zones at most, and qsort has no context. */
static void sort_requests(const struct planning *p, struct request *requests, size_t count)
{
    for (size_t i = 1; i < count; i++) {
        struct request moved = requests[i];
        size_t at = i;
        while (at > 0 && more_urgent(p, &moved, &requests[at - 1])) {
            requests[at] = requests[at - 1];
            at--;
        }
        requests[at] = moved;
    }
}

/* What waiting looks like, for the zone's state on the page. */
static void note_decision(struct planning *p, const struct request *request)
{
    const struct turn *turn = &p->turns[request->turn];
    struct plan_zone *zone = &p->result->zones[turn->zone];
    const struct civil_zone *time_zone = &p->context.nursery->time_zone;
    int64_t day = civil_days(civil_local_date(time_zone, turn->start_s));
    if (day != p->context.first_day + (int64_t)p->context.today + 1)
        return;
    zone->openings_tomorrow++;
    if (request->run || zone->state == PLAN_ZONE_WAIT_RAIN || zone->state == PLAN_ZONE_EMPTY)
        return;
    if (request->rain_hold) {
        zone->state = PLAN_ZONE_WAIT_RAIN;
        zone->reason = reason(PLAN_WAITS_FOR_RAIN, turn->zone, request->lead);
        zone->wait_until_s = request->next_by_s;
        for (size_t h = hour_at(&p->context, p->context.input->now_s);
             h < hour_at(&p->context, request->next_by_s); h++)
            if (p->context.input->hours[h].rain_kind != WEATHER_NORMAL)
                zone->reason.a += p->context.input->hours[h].rain_mm;
        return;
    }
    zone->state = PLAN_ZONE_WAIT;
    zone->reason = reason(PLAN_STILL_WET, turn->zone, NURSERY_NONE);
    zone->wait_until_s = 0;
    for (size_t b = p->zones[turn->zone].first_block; b != NURSERY_NONE; b = p->works[b].next) {
        const struct plan_work *work = &p->works[b];
        struct plan_lookahead look = {true, 1.0, 0.0, plan_block_refill_l(&p->context, work)};
        int64_t at_s = decides(p, work)
                           ? plan_block_passes(&p->context, work, p->context.hour_count, &look)
                           : 0;
        if (at_s != 0 && (zone->wait_until_s == 0 || at_s < zone->wait_until_s)) {
            zone->wait_until_s = at_s;
            zone->reason.block = b;
        }
    }
}

/* Picks the next round: openings from the first unused one on that overlap, each zone once. */
static enum status decide_round(struct planning *p, size_t first, size_t *count)
{
    int64_t end_s = p->turns[first].end_s;
    size_t n = 0;
    for (size_t t = first; t < p->turn_count && p->turns[t].start_s < end_s; t++) {
        bool again = false;
        if (p->turns[t].used)
            continue;
        for (size_t i = 0; i < n; i++)
            again |= p->turns[p->requests[i].turn].zone == p->turns[t].zone;
        if (again || p->turns[t].start_s >= p->turns[first].start_s + CIVIL_DAY_S)
            break;
        enum status status = decide(p, t, &p->requests[n]);
        if (status != STATUS_OK)
            return status;
        p->turns[t].used = true;
        if (p->turns[t].end_s > end_s)
            end_s = p->turns[t].end_s;
        note_decision(p, &p->requests[n++]);
    }
    *count = n;
    return STATUS_OK;
}

static enum status work_rounds(struct planning *p)
{
    for (size_t t = 0; t < p->turn_count; t++) {
        size_t count = 0;
        if (p->turns[t].used)
            continue;
        enum status status = decide_round(p, t, &count);
        if (status != STATUS_OK)
            return status;
        sort_requests(p, p->requests, count);
        for (size_t i = 0; i < count; i++) {
            if (p->requests[i].run)
                status = place_request(p, &p->requests[i]);
            if (status != STATUS_OK)
                return status;
        }
    }
    return STATUS_OK;
}

/* --- before and after ------------------------------------------------------------------------ */

static bool inputs_are_sound(const struct plan_input *input)
{
    const struct nursery *nursery = input->nursery;
    if (input->days < 1 || input->days >= PLAN_DAYS_MAX || input->hour_count < 2 ||
        input->hour_count > 24 * (PLAN_LOCAL_DAYS_MAX - 2) ||
        input->now_s < input->hours[0].start_s ||
        input->now_s >= input->hours[input->hour_count - 1].start_s ||
        nursery->time_zone.count == 0)
        return false;
    for (size_t z = 0; z < nursery->zone_count; z++) {
        const struct nursery_zone *zone = &nursery->zones[z];
        if (zone->supply >= nursery->supply_count || zone->pulses < 1 ||
            !(zone->flow_l_min > 0.0 && zone->flow_l_min <= 1e6) ||
            !(zone->pause_min >= 0.0 && zone->pause_min <= 1440.0) ||
            (zone->method == DELIVERY_OVERHEAD &&
             !(zone->rate_mm_h > 0.0 && zone->rate_mm_h <= 500.0)))
            return false;
    }
    for (size_t b = 0; b < nursery->block_count; b++) {
        const struct nursery_block *block = &nursery->blocks[b];
        if (block->zone >= nursery->zone_count || block->state_count == 0 ||
            block->first_state + block->state_count > nursery->state_count ||
            (block->cover != NURSERY_NONE && block->cover >= nursery->cover_count) ||
            !(block->refill_fraction > 0.0 && block->refill_fraction <= 1.0) ||
            !(block->k_cal > 0.0 && block->k_cal <= 10.0))
            return false;
    }
    return true;
}

/* Sums that by-hand and from-below zones share their water by: pots x available water, from the
 * block's last state. */
static enum status open_blocks(struct planning *p, size_t *culprit)
{
    const struct nursery *nursery = p->context.nursery;
    for (size_t z = 0; z < nursery->zone_count; z++)
        p->zones[z] = (struct zone_work){.first_block = NURSERY_NONE, .day = INT64_MIN};
    for (size_t b = nursery->block_count; b-- > 0;) {
        struct zone_work *zone = &p->zones[nursery->blocks[b].zone];
        p->works[b].next = zone->first_block;
        zone->first_block = b;
        *culprit = b;
        enum status status = plan_block_open(&p->context, b, 0.0, &p->works[b]);
        if (status != STATUS_OK)
            return status;
        zone->share_l += p->works[b].now->pots * p->works[b].pot.available_l;
    }
    for (size_t b = 0; b < nursery->block_count; b++) {
        *culprit = b;
        enum status status = plan_block_open(
            &p->context, b, p->zones[nursery->blocks[b].zone].share_l, &p->works[b]);
        if (status == STATUS_OK)
            status = plan_block_advance(&p->context, &p->works[b], p->context.now_hour);
        if (status != STATUS_OK)
            return status;
    }
    *culprit = NURSERY_NONE;
    return STATUS_OK;
}

static void report_block(const struct planning *p, const struct plan_work *work,
                         struct plan_block *out)
{
    const struct plan_context *context = &p->context;
    const struct nursery_block *block = &context->nursery->blocks[work->block];
    double spread = sqrt(weather_spread * weather_spread + water_spread * water_spread +
                         block->k_cal_sd * block->k_cal_sd);
    struct plan_lookahead look = {true, 1.0, 0.0, plan_block_refill_l(context, work)};
    size_t to = context->hour_count;
    *out = (struct plan_block){.figures = work->figures,
                               .pots = work->now->pots,
                               .ceiling_l = work->pot.ceiling_l,
                               .available_l = work->pot.available_l,
                               .water_l = work->average.state.water_l,
                               .refill_l = look.depletion_l,
                               .known = work->known,
                               .known_s = work->known_s};
    out->depletion_l = work->pot.ceiling_l - work->average.state.water_l;
    out->driest_l = work->pot.ceiling_l - work->driest.state.water_l;
    out->air = (work->figures.total_porosity * work->figures.volume_l - out->water_l) /
               work->figures.volume_l;
    out->interval_d = plan_block_interval_d(context, work);
    if (work->now->pots <= 0.0)
        return; /* a block with no plants asks for no water */
    out->next_s = plan_block_passes(context, work, to, &look);
    look.et_scale = 1.0 + tenth_z * spread;
    out->next_hot_s = plan_block_passes(context, work, to, &look);
    look.et_scale = 1.0 / (1.0 + tenth_z * spread);
    out->next_mild_s = plan_block_passes(context, work, to, &look);
    look.et_scale = 1.0;
    look.depletion_l = work->pot.stress_p * work->pot.available_l;
    out->stress_s = plan_block_passes(context, work, to, &look);
}

static void mark_frost_and_wind(struct planning *p, int64_t table_start_s)
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

/* Tables from now to the horizon; runs that are under way hold their flow. */
static enum status open_supplies(struct planning *p)
{
    const struct plan_input *input = p->context.input;
    const struct nursery *nursery = input->nursery;
    int64_t start_s = input->now_s / 60 * 60;
    int64_t end_s = plan_hour_s(&p->context, p->context.hour_count);
    if (end_s > start_s + TIMETABLE_MINUTES * 60)
        end_s = start_s + TIMETABLE_MINUTES * 60;
    for (size_t s = 0; s < nursery->supply_count; s++) {
        enum status status =
            timetable_open(&p->supplies[s].table, start_s, end_s, nursery->supplies[s].flow_l_min,
                           nursery->supplies[s].valves_at_once);
        if (status != STATUS_OK)
            return status;
        p->supplies[s].day = INT64_MIN;
        p->supplies[s].litres_on_day = 0.0;
    }
    mark_frost_and_wind(p, start_s);
    return STATUS_OK;
}

static enum status keep_underway(struct planning *p)
{
    const struct nursery *nursery = p->context.nursery;
    struct plan_result *result = p->result;
    for (size_t r = 0; r < nursery->run_count; r++) {
        const struct nursery_run *run = &nursery->runs[r];
        const struct nursery_zone *zone = &nursery->zones[run->zone];
        if (run->state != NURSERY_RUN_UNDERWAY)
            continue;
        if (result->run_count == result->run_capacity)
            return STATUS_NO_SPACE;
        double litres = run->litres >= 0.0
                            ? run->litres
                            : zone->flow_l_min * (double)(run->end_s - run->start_s) / 60.0;
        result->runs[result->run_count++] =
            (struct plan_run){.zone = run->zone,
                              .start_s = run->start_s,
                              .end_s = run->end_s,
                              .minutes = (int)lround(litres / zone->flow_l_min),
                              .pulses = 1,
                              .pulse_min = (int)lround(litres / zone->flow_l_min),
                              .litres = litres,
                              .flow_l_min = zone->flow_l_min,
                              .depth_mm = zone->method == DELIVERY_OVERHEAD
                                              ? zone->rate_mm_h * litres / zone->flow_l_min / 60.0
                                              : NAN,
                              .by_hand = zone->method == DELIVERY_HAND,
                              .underway = true,
                              .sure = PLAN_CERTAIN};
        timetable_occupy(&p->supplies[zone->supply].table, run->start_s, run->end_s,
                         zone->flow_l_min);
        p->zones[run->zone].busy_until_s = run->end_s;
    }
    return STATUS_OK;
}

static int run_order(const void *a, const void *b)
{
    const struct plan_run *x = a;
    const struct plan_run *y = b;
    if (x->start_s != y->start_s)
        return x->start_s < y->start_s ? -1 : 1;
    return x->zone < y->zone ? -1 : x->zone > y->zone;
}

/* What tomorrow brings each zone, from its runs and what did not fit. */
static void report_zones(struct planning *p)
{
    const struct nursery *nursery = p->context.nursery;
    struct plan_result *result = p->result;
    int64_t tomorrow = p->context.first_day + (int64_t)p->context.today + 1;
    for (size_t u = result->unplaced_count; u-- > 0;) {
        const struct plan_unplaced *unplaced = &result->unplaced[u];
        int64_t day = civil_days(civil_local_date(&nursery->time_zone, unplaced->window_start_s));
        if (day == tomorrow) {
            result->zones[unplaced->zone].state = PLAN_ZONE_UNPLACED;
            result->zones[unplaced->zone].reason = unplaced->reason;
        }
    }
    for (size_t r = result->run_count; r-- > 0;) {
        const struct plan_run *run = &result->runs[r];
        struct plan_zone *zone = &result->zones[run->zone];
        zone->next_run_s = run->start_s;
        if (civil_days(civil_local_date(&nursery->time_zone, run->start_s)) == tomorrow &&
            zone->state != PLAN_ZONE_UNPLACED) {
            zone->state = run->by_hand ? PLAN_ZONE_HAND : PLAN_ZONE_RUN;
            if (run->reason_count > 0)
                zone->reason = run->reasons[0];
        }
    }
}

static void open_zones(struct planning *p)
{
    for (size_t z = 0; z < p->context.nursery->zone_count; z++) {
        bool planted = false;
        for (size_t b = p->zones[z].first_block; b != NURSERY_NONE; b = p->works[b].next)
            planted |= p->works[b].now->pots > 0.0;
        p->result->zones[z] = (struct plan_zone){
            .state = planted ? PLAN_ZONE_WAIT : PLAN_ZONE_EMPTY,
            .reason = reason(planted ? PLAN_NO_WINDOW : PLAN_NO_PLANTS, z, NURSERY_NONE)};
    }
}

enum status plan_make(const struct plan_input *input, void *room, struct plan_result *result,
                      size_t *culprit)
{
    struct planning p = {.result = result};
    *culprit = NURSERY_NONE;
    if (!inputs_are_sound(input))
        return STATUS_RANGE;
    lay_out(input, room, &p);
    p.context.input = input;
    p.context.nursery = input->nursery;
    p.context.hour_count = input->hour_count;
    p.context.now_hour = hour_at(&p.context, input->now_s);
    result->run_count = result->unplaced_count = result->notice_count = 0;
    enum status status = plan_weather_open(&p.context);
    if (status == STATUS_OK)
        status = open_blocks(&p, culprit);
    if (status == STATUS_OK)
        status = open_supplies(&p);
    if (status != STATUS_OK)
        return status;
    for (size_t b = 0; b < input->nursery->block_count; b++)
        report_block(&p, &p.works[b], &result->blocks[b]);
    open_zones(&p);
    open_turns(&p);
    status = report_openings(&p);
    if (status == STATUS_OK)
        status = keep_underway(&p);
    if (status == STATUS_OK)
        status = work_rounds(&p);
    for (size_t b = 0; b < input->nursery->block_count && status == STATUS_OK; b++)
        status = plan_block_advance(&p.context, &p.works[b], p.context.hour_count);
    if (status != STATUS_OK)
        return status;
    qsort(result->runs, result->run_count, sizeof *result->runs, run_order);
    report_zones(&p);
    return plan_review(&p.context, p.works, result);
}
