/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Peaks levelled: where a supply cannot give what an opening asks for, a zone that bears it goes in
 * its opening before, and all is decided again from there. What does not help is taken back.
 */
#include "plan_work.h"

#include <string.h>

/* Each try costs the rounds once more [our choice]. */
enum { TRIES = 8 };

/* An opening this long before the short one is the one before it [our choice]. */
static const int64_t before_s = 36 * CIVIL_HOUR_S;

/* All that the rounds change, as it was before them. The arrays follow the struct. */
struct plan_before {
    size_t run_count, unplaced_count;
    struct plan_work *works;
    struct plan_zone_work *zones;
    struct plan_supply_work *supplies;
    struct plan_zone *reported;
    bool *required_done;
};

static size_t rounded(size_t bytes)
{
    return (bytes + 15) / 16 * 16;
}

size_t plan_level_bytes(const struct nursery *nursery)
{
    return rounded(sizeof(struct plan_before)) +
           rounded(nursery->block_count * sizeof(struct plan_work)) +
           rounded(nursery->zone_count * sizeof(struct plan_zone_work)) +
           rounded(nursery->supply_count * sizeof(struct plan_supply_work)) +
           rounded(nursery->zone_count * sizeof(struct plan_zone)) +
           rounded(nursery->requirement_count * sizeof(bool));
}

/* Copies count elements of size bytes to *room and moves it on. */
static void *keep(unsigned char **room, const void *from, size_t count, size_t size)
{
    void *kept = *room;
    if (count > 0)
        memcpy(kept, from, count * size);
    *room += rounded(count * size);
    return kept;
}

static void keep_start(struct planning *p)
{
    const struct nursery *n = p->context.nursery;
    struct plan_before *start = p->start;
    unsigned char *room = (unsigned char *)start + rounded(sizeof *start);
    start->run_count = p->result->run_count;
    start->unplaced_count = p->result->unplaced_count;
    start->works = keep(&room, p->works, n->block_count, sizeof *p->works);
    start->zones = keep(&room, p->zones, n->zone_count, sizeof *p->zones);
    start->supplies = keep(&room, p->supplies, n->supply_count, sizeof *p->supplies);
    start->reported = keep(&room, p->result->zones, n->zone_count, sizeof *p->result->zones);
    start->required_done =
        keep(&room, p->required_done, n->requirement_count, sizeof *p->required_done);
}

static void restore(void *to, const void *from, size_t count, size_t size)
{
    if (count > 0)
        memcpy(to, from, count * size);
}

static enum status work_again(struct planning *p)
{
    const struct nursery *n = p->context.nursery;
    const struct plan_before *start = p->start;
    p->result->run_count = start->run_count;
    p->result->unplaced_count = start->unplaced_count;
    restore(p->works, start->works, n->block_count, sizeof *p->works);
    restore(p->zones, start->zones, n->zone_count, sizeof *p->zones);
    restore(p->supplies, start->supplies, n->supply_count, sizeof *p->supplies);
    restore(p->result->zones, start->reported, n->zone_count, sizeof *p->result->zones);
    restore(p->required_done, start->required_done, n->requirement_count, sizeof *p->required_done);
    for (size_t t = 0; t < p->turn_count; t++)
        p->turns[t].used = p->turns[t].ran = false;
    p->missing_l = 0.0;
    p->short_turn = NURSERY_NONE;
    return plan_rounds(p);
}

/* The zone's opening before a moment, if nothing runs in it yet. */
static size_t free_before(const struct planning *p, size_t zone, int64_t t_s)
{
    size_t found = NURSERY_NONE;
    for (size_t t = 0; t < p->turn_count && p->turns[t].start_s < t_s; t++)
        if (p->turns[t].zone == zone && p->turns[t].order == NURSERY_NONE &&
            p->turns[t].end_s <= t_s && p->turns[t].start_s >= t_s - before_s)
            found = t;
    if (found == NURSERY_NONE)
        return NURSERY_NONE;
    const struct plan_turn *turn = &p->turns[found];
    return turn->ran || turn->early || turn->tried ? NURSERY_NONE : found;
}

/* When the zone's first block would be due; INT64_MAX: not within the hours. */
static int64_t due_s(const struct planning *p, size_t zone)
{
    int64_t first_s = INT64_MAX;
    for (size_t b = p->zones[zone].first_block; b != NURSERY_NONE; b = p->works[b].next) {
        int64_t at_s = p->result->blocks[b].next_s;
        if (at_s != 0 && at_s < first_s)
            first_s = at_s;
    }
    return first_s;
}

/* The most tolerant zone on the supply that would be in the way: the last class, then the one that
 * is due last. */
static size_t choose_turn(const struct planning *p)
{
    const struct nursery *n = p->context.nursery;
    const struct plan_turn *shorted = &p->turns[p->short_turn];
    size_t best = NURSERY_NONE;
    for (size_t z = 0; z < n->zone_count; z++) {
        if (n->zones[z].supply != n->zones[shorted->zone].supply ||
            p->zones[z].first_block == NURSERY_NONE)
            continue;
        size_t turn = free_before(p, z, shorted->start_s);
        if (turn == NURSERY_NONE)
            continue;
        size_t other = best == NURSERY_NONE ? z : p->turns[best].zone;
        if (best == NURSERY_NONE || p->zones[z].priority > p->zones[other].priority ||
            (p->zones[z].priority == p->zones[other].priority && due_s(p, z) > due_s(p, other)))
            best = turn;
    }
    return best;
}

enum status plan_level(struct planning *p)
{
    keep_start(p);
    enum status status = work_again(p);
    for (int tries = 0; tries < TRIES && status == STATUS_OK && p->missing_l > 0.0; tries++) {
        double before_l = p->missing_l;
        size_t turn = choose_turn(p);
        if (turn == NURSERY_NONE)
            break;
        p->turns[turn].early = true;
        p->turns[turn].for_s = p->turns[p->short_turn].start_s;
        status = work_again(p);
        if (status != STATUS_OK || p->missing_l < before_l)
            continue;
        p->turns[turn].early = false;
        p->turns[turn].tried = true;
        status = work_again(p);
    }
    return status;
}
