/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The order in which a round is placed. By urgency first; when that leaves one out for want of flow
 * or valves, other orders are tried on the table without giving water: a run that has hours to
 * spare may stand back for one that has none.
 */
#include "plan_work.h"

#include <math.h>

/* Up to so many runs every order is tried, all of them as early as they can be: the schedules in
 * which no run could begin sooner are then all seen, and one of them fits everything if anything
 * does. More runs get a few orders that usually help [our choice of number]. */
enum { ALL_ORDERS_OF = 5, ROUND_MOST = 63 };

struct order {
    size_t of[ROUND_MOST]; /* which request comes at each place */
    bool early;
};

struct trial {
    struct planning *p;
    size_t count; /* of the requests that run */
    struct order best;
    uint64_t best_fits; /* a bit for each that fits, the most urgent highest */
    uint64_t all;
};

/* Places a round in an order, notes what fits, takes it all out again. */
static enum status fits_of(struct trial *t, const struct order *order, uint64_t *fits)
{
    struct timetable_run shapes[ROUND_MOST];
    struct timetable_place places[ROUND_MOST];
    enum status status = STATUS_OK;
    size_t tried = 0;
    bool windy = false;
    *fits = 0;
    for (; tried < t->count && status == STATUS_OK; tried++) {
        size_t r = order->of[tried];
        status = plan_try(t->p, &t->p->requests[r], order->early, &shapes[tried], &places[tried],
                          &windy);
        if (status != STATUS_OK)
            break;
        if (places[tried].fit == TIMETABLE_FITS)
            *fits |= UINT64_C(1) << (t->count - 1 - r);
    }
    for (size_t i = 0; i < tried; i++) {
        const struct nursery_zone *zone =
            &t->p->context.nursery->zones[t->p->requests[order->of[i]].zone];
        if (places[i].fit == TIMETABLE_FITS)
            timetable_release(&t->p->supplies[zone->supply].table, &shapes[i], places[i].start_s);
    }
    return status;
}

static enum status try_order(struct trial *t, const struct order *order)
{
    uint64_t fits = 0;
    if (t->best_fits == t->all)
        return STATUS_OK;
    enum status status = fits_of(t, order, &fits);
    if (status == STATUS_OK && fits > t->best_fits) {
        t->best = *order;
        t->best_fits = fits;
    }
    return status;
}

/* Every order of the places from `at` on. */
static enum status try_all(struct trial *t, struct order *order, size_t at)
{
    enum status status = STATUS_OK;
    if (at == t->count)
        return try_order(t, order);
    for (size_t i = at; i < t->count && status == STATUS_OK && t->best_fits != t->all; i++) {
        size_t taken = order->of[i];
        order->of[i] = order->of[at];
        order->of[at] = taken;
        status = try_all(t, order, at + 1);
        order->of[at] = order->of[i];
        order->of[i] = taken;
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

static enum status try_rules(struct trial *t)
{
    enum status status = STATUS_OK;
    for (int rule = 0; rule < RULES && status == STATUS_OK; rule++) {
        struct order order = {.early = true};
        for (size_t i = 0; i < t->count; i++) {
            double key = key_of(t->p, &t->p->requests[i], (enum rule)rule);
            size_t at = i;
            while (at > 0 &&
                   key_of(t->p, &t->p->requests[order.of[at - 1]], (enum rule)rule) > key) {
                order.of[at] = order.of[at - 1];
                at--;
            }
            order.of[at] = i;
        }
        status = try_order(t, &order);
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

enum status plan_order(struct planning *p, size_t count)
{
    struct trial t = {.p = p, .count = part(p, count)};
    if (t.count < 2 || t.count > ROUND_MOST || !may_collide(p, t.count))
        return STATUS_OK;
    t.all = (UINT64_C(1) << t.count) - 1;
    struct order order = {.early = false};
    for (size_t i = 0; i < t.count; i++)
        order.of[i] = i;
    t.best = order;
    enum status status = try_order(&t, &order);
    order.early = true;
    if (status == STATUS_OK)
        status = try_order(&t, &order);
    if (status == STATUS_OK)
        status = try_rules(&t);
    if (status == STATUS_OK && t.count <= ALL_ORDERS_OF)
        status = try_all(&t, &order, 0);
    if (status != STATUS_OK)
        return status;
    for (size_t i = 0; i < t.count; i++) {
        p->requests[t.best.of[i]].position = i;
        p->requests[t.best.of[i]].soon = t.best.early;
    }
    plan_sort(p, p->requests, t.count, sizeof *p->requests, by_position);
    return STATUS_OK;
}
