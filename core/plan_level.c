/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Peaks levelled: where a supply cannot give what an opening asks for, zones that bear it go in
 * their openings before, and all is decided again from there. What does not help is taken back.
 */
#include "plan_work.h"

#include <string.h>

/* Each try costs the rounds once more [our choice]. While they help, each moves twice as many zones
 * as the one before, so that two hundred zones need no more tries than ten. */
enum { TRIES = 14 };

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

/* A zone's opening before the one that is short, on the same supply, if nothing runs in it yet. */
static bool may_relieve(const struct planning *p, const struct plan_turn *turn,
                        const struct plan_turn *shorted)
{
    const struct nursery *n = p->context.nursery;
    return turn->order == NURSERY_NONE && turn->end_s <= shorted->start_s &&
           turn->start_s >= shorted->start_s - before_s &&
           n->zones[turn->zone].supply == n->zones[shorted->zone].supply &&
           p->zones[turn->zone].first_block != NURSERY_NONE &&
           (turn->next == NURSERY_NONE || p->turns[turn->next].end_s > shorted->start_s) &&
           !turn->ran && !turn->early && !turn->tried;
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

/* The opening of the most tolerant zone: the last class, then the one that is due last. */
static struct plan_turn *choose_turn(const struct planning *p, const struct plan_turn *shorted)
{
    struct plan_turn *best = NULL;
    int64_t best_due_s = 0;
    for (size_t t = 0; t < p->turn_count && p->turns[t].start_s < shorted->start_s; t++) {
        struct plan_turn *turn = &p->turns[t];
        if (!may_relieve(p, turn, shorted))
            continue;
        int more = best ? p->zones[turn->zone].priority - p->zones[best->zone].priority : 1;
        int64_t at_s = more >= 0 ? due_s(p, turn->zone) : 0;
        if (more > 0 || (more == 0 && at_s > best_due_s)) {
            best = turn;
            best_due_s = at_s;
        }
    }
    return best;
}

/* Lets up to `most` zones go before the opening that is short. Returns how many there were. */
static size_t move(struct planning *p, size_t shorted, size_t most)
{
    size_t moved = 0;
    for (struct plan_turn *turn = NULL;
         moved < most && (turn = choose_turn(p, &p->turns[shorted])) != NULL; moved++) {
        turn->early = turn->fresh = true;
        turn->for_s = p->turns[shorted].start_s;
    }
    return moved;
}

/* The last move stays, or is taken back; a zone that was moved alone is then not asked again. */
static void settle(struct planning *p, bool stays, bool alone)
{
    for (size_t t = 0; t < p->turn_count; t++) {
        struct plan_turn *turn = &p->turns[t];
        if (turn->fresh && !stays) {
            turn->early = false;
            turn->tried = alone;
        }
        turn->fresh = false;
    }
}

enum status plan_level(struct planning *p)
{
    keep_start(p);
    enum status status = work_again(p);
    size_t shorted = p->short_turn;
    double missing_l = p->missing_l;
    size_t batch = 1;
    bool stays = true;
    for (int tries = 0; tries < TRIES && status == STATUS_OK && missing_l > 0.0; tries++) {
        size_t moved = move(p, shorted, batch);
        if (moved == 0)
            break;
        status = work_again(p);
        stays = status == STATUS_OK && p->missing_l < missing_l;
        settle(p, stays, moved == 1);
        batch = stays ? 2 * moved : moved > 1 ? moved / 2 : 1;
        if (stays) {
            shorted = p->short_turn;
            missing_l = p->missing_l;
        }
    }
    return status == STATUS_OK && !stays ? work_again(p) : status;
}
