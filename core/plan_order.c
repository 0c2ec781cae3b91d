/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The order in which a round is placed. By urgency first; when that leaves one out for want of flow
 * or valves, other orders are tried on the table without giving water: a run that has hours to
 * spare may stand back for one that has none.
 */
#include "plan_work.h"

#include <string.h>

/* Up to so many runs every order is tried, all of them as early as they can be: the schedules in
 * which no run could begin sooner are then all seen, and one of them fits everything if anything
 * does. More runs get a few orders that usually help [our choice of number]. */
enum { ALL_ORDERS_OF = 5 };

struct order {
    size_t *of; /* which request comes at each place */
    bool early;
};

/* The arrays have room for one a zone. */
struct plan_trial {
    struct planning *p;
    size_t count; /* of the requests that run */
    struct order order, best;
    bool *fits, *best_fits; /* by urgency */
    bool done;              /* the best leaves none out */
    struct timetable_run *shapes;
    struct timetable_place *places;
};

size_t plan_order_bytes(const struct nursery *nursery)
{
    return sizeof(struct plan_trial) +
           nursery->zone_count * (sizeof(struct timetable_run) + sizeof(struct timetable_place) +
                                  2 * sizeof(size_t) + 2 * sizeof(bool));
}

/* Parts in falling order of their alignment. */
static void lay_out(struct planning *p)
{
    struct plan_trial *t = p->trial;
    size_t zones = p->context.nursery->zone_count;
    *t = (struct plan_trial){.p = p};
    t->shapes = (struct timetable_run *)(t + 1);
    t->places = (struct timetable_place *)(t->shapes + zones);
    t->order.of = (size_t *)(t->places + zones);
    t->best.of = t->order.of + zones;
    t->fits = (bool *)(t->best.of + zones);
    t->best_fits = t->fits + zones;
}

/* Places a round in the order, notes what fits, takes it all out again. */
static enum status note_fits(struct plan_trial *t)
{
    enum status status = STATUS_OK;
    size_t tried = 0;
    bool windy = false;
    for (; tried < t->count && status == STATUS_OK; tried++) {
        size_t r = t->order.of[tried];
        status = plan_try(t->p, &t->p->requests[r], t->order.early, &t->shapes[tried],
                          &t->places[tried], &windy);
        if (status != STATUS_OK)
            break;
        t->fits[r] = t->places[tried].fit == TIMETABLE_FITS;
    }
    for (size_t i = 0; i < tried; i++) {
        const struct nursery_zone *zone =
            &t->p->context.nursery->zones[t->p->requests[t->order.of[i]].zone];
        if (t->places[i].fit == TIMETABLE_FITS)
            timetable_release(&t->p->supplies[zone->supply].table, &t->shapes[i],
                              t->places[i].start_s);
    }
    return status;
}

/* Whether the most urgent run in which they differ fits in this order. */
static bool is_better(const struct plan_trial *t)
{
    size_t i = 0;
    while (i < t->count && t->fits[i] == t->best_fits[i])
        i++;
    return i < t->count && t->fits[i];
}

static enum status try_order(struct plan_trial *t)
{
    if (t->done)
        return STATUS_OK;
    enum status status = note_fits(t);
    if (status != STATUS_OK || !is_better(t))
        return status;
    memcpy(t->best.of, t->order.of, t->count * sizeof *t->best.of);
    memcpy(t->best_fits, t->fits, t->count * sizeof *t->best_fits);
    t->best.early = t->order.early;
    t->done = true;
    for (size_t i = 0; i < t->count; i++)
        t->done &= t->fits[i];
    return STATUS_OK;
}

/* Every order of the places from `at` on. */
static enum status try_all(struct plan_trial *t, size_t at)
{
    size_t *of = t->order.of;
    enum status status = STATUS_OK;
    if (at == t->count)
        return try_order(t);
    for (size_t i = at; i < t->count && status == STATUS_OK && !t->done; i++) {
        size_t taken = of[i];
        of[i] = of[at];
        of[at] = taken;
        status = try_all(t, at + 1);
        of[at] = of[i];
        of[i] = taken;
    }
    return status;
}

enum rule {
    RULE_SPARE,    /* least time to spare in its hours first */
    RULE_DEADLINE, /* whose hours end first */
    RULE_FLOW,     /* the largest flow first */
    RULES,
};

static double key_of(const struct planning *p, const struct plan_request *request, enum rule rule)
{
    double flow_l_min = p->context.nursery->zones[request->zone].flow_l_min;
    switch (rule) {
    case RULE_SPARE:
        return (double)(request->until_s - request->from_s) - 60.0 * request->minutes;
    case RULE_DEADLINE:
        return (double)request->until_s;
    case RULE_FLOW:
    case RULES:
        break;
    }
    return -flow_l_min;
}

static enum status try_rules(struct plan_trial *t)
{
    const struct plan_request *requests = t->p->requests;
    size_t *of = t->order.of;
    enum status status = STATUS_OK;
    for (enum rule rule = 0; rule < RULES && status == STATUS_OK; rule++) {
        for (size_t i = 0; i < t->count; i++) {
            double key = key_of(t->p, &requests[i], rule);
            size_t at = i;
            for (; at > 0 && key_of(t->p, &requests[of[at - 1]], rule) > key; at--)
                of[at] = of[at - 1];
            of[at] = i;
        }
        status = try_order(t);
    }
    return status;
}

/* When the flows of all together are within their supplies' there is nothing to order. */
static bool may_collide(const struct planning *p, size_t count)
{
    const struct nursery *n = p->context.nursery;
    for (size_t s = 0; s < n->supply_count; s++) {
        double flow_l_min = 0.0;
        size_t valves = 0;
        for (size_t i = 0; i < count; i++) {
            const struct nursery_zone *zone = &n->zones[p->requests[i].zone];
            if (zone->supply != s)
                continue;
            flow_l_min += zone->flow_l_min;
            valves++;
        }
        if (flow_l_min > n->supplies[s].flow_l_min || valves > n->supplies[s].valves_at_once)
            return true;
    }
    return false;
}

static int by_position(const void *a, const void *b)
{
    const struct plan_request *x = a;
    const struct plan_request *y = b;
    return x->position < y->position ? -1 : x->position > y->position;
}

/* Requests that run come first, in their order of urgency; those that do not, after them. */
static size_t part(struct planning *p, size_t count)
{
    struct plan_request *requests = p->requests;
    size_t running = 0;
    for (size_t i = 0; i < count; i++)
        running += requests[i].run && requests[i].minutes > 0 ? 1 : 0;
    size_t next = 0;
    size_t rest = running;
    for (size_t i = 0; i < count; i++)
        requests[i].position = requests[i].run && requests[i].minutes > 0 ? next++ : rest++;
    plan_sort(p, requests, count, sizeof *requests, by_position);
    return running;
}

static void in_urgency(struct plan_trial *t)
{
    for (size_t i = 0; i < t->count; i++)
        t->order.of[i] = i;
}

enum status plan_order(struct planning *p, size_t count)
{
    struct plan_trial *t = p->trial;
    lay_out(p);
    t->count = part(p, count);
    if (t->count < 2 || !may_collide(p, t->count))
        return STATUS_OK;
    in_urgency(t);
    memcpy(t->best.of, t->order.of, t->count * sizeof *t->best.of);
    memset(t->best_fits, 0, t->count * sizeof *t->best_fits);
    enum status status = try_order(t);
    t->order.early = true;
    if (status == STATUS_OK)
        status = try_order(t);
    if (status == STATUS_OK)
        status = try_rules(t);
    in_urgency(t);
    if (status == STATUS_OK && t->count <= ALL_ORDERS_OF)
        status = try_all(t, 0);
    if (status != STATUS_OK)
        return status;
    for (size_t i = 0; i < t->count; i++) {
        p->requests[t->best.of[i]].position = i;
        p->requests[t->best.of[i]].soon = t->best.early;
    }
    plan_sort(p, p->requests, t->count, sizeof *p->requests, by_position);
    return STATUS_OK;
}
