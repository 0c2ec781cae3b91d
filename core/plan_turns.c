/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "plan_work.h"

#include <math.h>

/* An order is for now: within these hours, or it is said not to fit [our choice]. */
static const int64_t now_s = 4 * CIVIL_HOUR_S;

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

/* Each hold may cut a piece out of the opening it lies in, which long windows make up to three of a
 * window; an order asks for one more. */
size_t plan_turns_most(const struct plan_input *input)
{
    const struct nursery *nursery = input->nursery;
    size_t turns = 0;
    for (size_t z = 0; z < nursery->zone_count; z++) {
        size_t windows = 0;
        size_t holds = 0;
        for (size_t w = 0; w < nursery->window_count; w++)
            windows += window_applies(nursery, &nursery->windows[w], z) ? 1 : 0;
        for (size_t h = 0; h < nursery->hold_count; h++)
            holds += nursery_hold_closes(nursery, &nursery->holds[h], z) ? 1 : 0;
        turns += windows * ((size_t)input->days + 3 + 3 * holds);
    }
    return turns + nursery->order_count;
}

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

size_t plan_hold_next(const struct nursery *nursery, size_t zone, int64_t from_s, int64_t until_s)
{
    size_t found = NURSERY_NONE;
    for (size_t h = 0; h < nursery->hold_count; h++) {
        const struct nursery_hold *hold = &nursery->holds[h];
        if (hold->from_s < until_s && hold->to_s > from_s &&
            nursery_hold_closes(nursery, hold, zone) &&
            (found == NURSERY_NONE || hold->from_s < nursery->holds[found].from_s))
            found = h;
    }
    return found;
}

static void note_hold(struct planning *p, size_t zone, size_t hold, int64_t start_s)
{
    struct plan_zone_work *work = &p->zones[zone];
    int64_t day = civil_days(civil_local_date(&p->context.nursery->time_zone, start_s));
    if (work->held_next == NURSERY_NONE)
        work->held_next = hold;
    if (day == p->context.first_day + (int64_t)p->context.today + 1 && work->held == NURSERY_NONE)
        work->held = hold;
}

/* Sprays go on dry leaves: sprinklers stop so long before, where that leaves an hour [our choices].
 */
static const int64_t drying_s = 2 * CIVIL_HOUR_S;
static const int64_t least_left_s = CIVIL_HOUR_S;

/* When an opening from start_s on ends for a hold. */
static int64_t hold_ends_s(const struct nursery *nursery, size_t zone,
                           const struct nursery_hold *hold, int64_t start_s)
{
    bool wets = nursery->zones[zone].method == DELIVERY_OVERHEAD;
    int64_t end_s = hold->from_s / 60 * 60;
    if (wets && hold->kind == NURSERY_HOLD_SPRAYING && end_s - drying_s - start_s >= least_left_s)
        end_s -= drying_s;
    return end_s;
}

/* What holds leave of an opening. */
static void add_pieces(struct planning *p, size_t zone, int64_t opened_s, int64_t start_s,
                       int64_t end_s)
{
    const struct nursery *nursery = p->context.nursery;
    while (end_s - start_s >= 60) {
        size_t hold = plan_hold_next(nursery, zone, start_s, end_s);
        size_t ahead =
            hold != NURSERY_NONE ? hold : plan_hold_next(nursery, zone, start_s, end_s + drying_s);
        int64_t until_s = ahead == NURSERY_NONE
                              ? end_s
                              : hold_ends_s(nursery, zone, &nursery->holds[ahead], start_s);
        if (hold != NURSERY_NONE)
            note_hold(p, zone, hold, start_s);
        if (until_s > end_s)
            until_s = end_s;
        if (until_s - start_s >= 60)
            p->turns[p->turn_count++] = (struct plan_turn){.zone = zone,
                                                           .start_s = start_s,
                                                           .end_s = until_s,
                                                           .opened_s = opened_s,
                                                           .order = NURSERY_NONE};
        if (hold == NURSERY_NONE)
            return;
        start_s = (nursery->holds[hold].to_s + 59) / 60 * 60;
    }
}

/* Runs start no sooner than this. */
static int64_t first_minute_s(const struct plan_input *input)
{
    return (input->now_s + NURSERY_LEAD_S + 59) / 60 * 60;
}

/* The window as it opens on a local day; false on others of the week. */
static bool opens_on(const struct nursery *nursery, const struct nursery_window *window,
                     int64_t day, struct plan_opening *opening)
{
    int weekday = (int)(((day + 3) % 7 + 7) % 7); /* 1970-01-01 was a Thursday */
    if (!(window->weekdays & (1u << weekday)))
        return false;
    opening->start_s = edge_s(nursery, &window->start, day);
    opening->end_s = edge_s(nursery, &window->end, day);
    if (opening->end_s <= opening->start_s)
        opening->end_s = edge_s(nursery, &window->end, day + 1);
    return true;
}

size_t plan_hours_on(const struct nursery *nursery, size_t zone, int64_t day,
                     struct plan_opening *hours, size_t most)
{
    size_t count = 0;
    for (size_t w = 0; w < nursery->window_count && count < most; w++)
        if (window_applies(nursery, &nursery->windows[w], zone) &&
            opens_on(nursery, &nursery->windows[w], day, &hours[count]))
            count++;
    return count;
}

static void add_window(struct planning *p, size_t zone, const struct nursery_window *window,
                       int64_t day)
{
    const struct plan_input *input = p->context.input;
    const struct nursery *nursery = input->nursery;
    struct plan_opening opening;
    if (!opens_on(nursery, window, day, &opening))
        return;
    int64_t opened_s = opening.start_s;
    int64_t start_s = opened_s;
    int64_t end_s = opening.end_s;
    int64_t horizon_s = input->hours[0].start_s + (int64_t)input->hour_count * CIVIL_HOUR_S;
    int64_t last_day = p->context.first_day + (int64_t)p->context.today + input->days;
    if (start_s < first_minute_s(input))
        start_s = first_minute_s(input);
    if (start_s < p->zones[zone].given_until_s)
        start_s = p->zones[zone].given_until_s;
    if (end_s > horizon_s || civil_days(civil_local_date(&nursery->time_zone, start_s)) > last_day)
        return;
    add_pieces(p, zone, opened_s, start_s, end_s);
}

/* Whether a run of the zone has begun since the order was given. */
static bool order_is_done(const struct nursery *nursery, const struct nursery_order *order)
{
    for (size_t r = 0; r < nursery->run_count; r++)
        if (nursery->runs[r].zone == order->zone && nursery->runs[r].start_s >= order->at_s &&
            nursery->runs[r].state != NURSERY_RUN_UNKNOWN && nursery->runs[r].litres != 0.0)
            return true;
    return false;
}

/* A hold is stronger than an order: people may be under the water. */
static void refuse_order(struct planning *p, const struct nursery_order *order, size_t hold)
{
    struct plan_result *result = p->result;
    struct plan_reason why = plan_reason_of(PLAN_HELD, order->zone, order->block);
    double flow_l_min = p->context.nursery->zones[order->zone].flow_l_min;
    double minutes = order->minutes > 0.0 ? order->minutes : order->litres / flow_l_min;
    why.other = hold;
    if (result->unplaced_count < result->unplaced_capacity)
        result->unplaced[result->unplaced_count++] =
            (struct plan_unplaced){order->zone,
                                   first_minute_s(p->context.input),
                                   (int)ceil(minutes),
                                   minutes * flow_l_min,
                                   why,
                                   true};
}

/* 'Now' is the next hours outside any hold; a window is not asked for. */
static void add_order(struct planning *p, size_t index)
{
    const struct plan_input *input = p->context.input;
    const struct nursery *nursery = input->nursery;
    const struct nursery_order *order = &nursery->orders[index];
    int64_t start_s = first_minute_s(input);
    size_t hold = NURSERY_NONE;
    size_t held = NURSERY_NONE;
    if (order_is_done(nursery, order))
        return;
    while (start_s < order->until_s &&
           (hold = plan_hold_next(nursery, order->zone, start_s, start_s + 60)) != NURSERY_NONE) {
        start_s = (nursery->holds[hold].to_s + 59) / 60 * 60;
        held = hold;
    }
    int64_t end_s = order->until_s < start_s + now_s ? order->until_s / 60 * 60 : start_s + now_s;
    hold = plan_hold_next(nursery, order->zone, start_s, end_s);
    if (hold != NURSERY_NONE)
        end_s = nursery->holds[hold].from_s / 60 * 60;
    int64_t horizon_s = input->hours[0].start_s + (int64_t)input->hour_count * CIVIL_HOUR_S;
    if (end_s > horizon_s)
        end_s = horizon_s;
    if (end_s - start_s >= 60)
        p->turns[p->turn_count++] = (struct plan_turn){
            .zone = order->zone, .start_s = start_s, .end_s = end_s, .order = index};
    else if (held != NURSERY_NONE)
        refuse_order(p, order, held);
}

static int by_start(const void *a, const void *b)
{
    const struct plan_turn *x = a;
    const struct plan_turn *y = b;
    if (x->start_s != y->start_s)
        return x->start_s < y->start_s ? -1 : 1;
    if ((x->order == NURSERY_NONE) != (y->order == NURSERY_NONE))
        return x->order != NURSERY_NONE ? -1 : 1;
    if (x->end_s != y->end_s)
        return x->end_s < y->end_s ? -1 : 1;
    if (x->zone != y->zone)
        return x->zone < y->zone ? -1 : 1;
    return x->order < y->order ? -1 : x->order > y->order;
}

/* Each turn knows its zone's next window; last_round serves as the table. */
static void link_turns(struct planning *p)
{
    for (size_t z = 0; z < p->context.nursery->zone_count; z++)
        p->zones[z].last_round = NURSERY_NONE;
    for (size_t t = p->turn_count; t-- > 0;) {
        struct plan_zone_work *zone = &p->zones[p->turns[t].zone];
        p->turns[t].next = zone->last_round;
        if (p->turns[t].order == NURSERY_NONE)
            zone->last_round = t;
    }
    for (size_t z = 0; z < p->context.nursery->zone_count; z++)
        p->zones[z].last_round = 0;
}

void plan_turns_open(struct planning *p)
{
    const struct plan_input *input = p->context.input;
    const struct nursery *nursery = input->nursery;
    int64_t today = p->context.first_day + (int64_t)p->context.today;
    p->turn_count = 0;
    for (size_t z = 0; z < nursery->zone_count; z++)
        p->zones[z].held = p->zones[z].held_next = NURSERY_NONE;
    for (size_t o = 0; o < nursery->order_count; o++)
        add_order(p, o);
    for (size_t z = 0; z < nursery->zone_count; z++)
        for (size_t w = 0; w < nursery->window_count; w++) {
            if (!window_applies(nursery, &nursery->windows[w], z))
                continue;
            for (int64_t d = today - 1; d <= today + input->days; d++)
                add_window(p, z, &nursery->windows[w], d);
        }
    plan_sort(p, p->turns, p->turn_count, sizeof *p->turns, by_start);
    link_turns(p);
}

/* What the page draws: all zones' hours, merged. The turns are in order of their start. */
enum status plan_turns_report(const struct planning *p)
{
    struct plan_result *result = p->result;
    result->opening_count = 0;
    for (size_t t = 0; t < p->turn_count; t++) {
        const struct plan_turn *turn = &p->turns[t];
        if (turn->order != NURSERY_NONE)
            continue;
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

const struct plan_turn *plan_turn_next(const struct planning *p, const struct plan_turn *turn)
{
    return turn->next == NURSERY_NONE ? NULL : &p->turns[turn->next];
}
