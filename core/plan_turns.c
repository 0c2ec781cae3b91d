/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "plan_work.h"

#include <gsl/gsl_heapsort.h>

/* Runs start no sooner than this after 'now': someone has to read the plan first. */
static const int64_t lead_time_s = 5 * 60;

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

size_t plan_turns_most(const struct plan_input *input)
{
    const struct nursery *nursery = input->nursery;
    size_t openings = 0;
    for (size_t z = 0; z < nursery->zone_count; z++)
        for (size_t w = 0; w < nursery->window_count; w++)
            openings += window_applies(nursery, &nursery->windows[w], z) ? 1 : 0;
    return openings * ((size_t)input->days + 3);
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
    p->turns[p->turn_count++] = (struct plan_turn){zone, start_s, end_s, false};
}

static int by_start(const void *a, const void *b)
{
    const struct plan_turn *x = a;
    const struct plan_turn *y = b;
    if (x->start_s != y->start_s)
        return x->start_s < y->start_s ? -1 : 1;
    if (x->end_s != y->end_s)
        return x->end_s < y->end_s ? -1 : 1;
    return x->zone < y->zone ? -1 : x->zone > y->zone;
}

void plan_turns_open(struct planning *p)
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
    gsl_heapsort(p->turns, p->turn_count, sizeof *p->turns, by_start);
}

/* What the page draws: all zones' hours, merged. The turns are in order of their start. */
enum status plan_turns_report(const struct planning *p)
{
    struct plan_result *result = p->result;
    result->opening_count = 0;
    for (size_t t = 0; t < p->turn_count; t++) {
        const struct plan_turn *turn = &p->turns[t];
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
const struct plan_turn *plan_turn_next(const struct planning *p, const struct plan_turn *turn)
{
    for (const struct plan_turn *t = turn + 1; t < p->turns + p->turn_count; t++)
        if (t->zone == turn->zone)
            return t;
    return NULL;
}
