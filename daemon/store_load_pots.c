/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Pot events: what happened to plants between two rows of blocks.csv becomes a state of the block,
 * which is the one before with a few figures changed.
 */
#include "store_load.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct event {
    size_t block;
    int64_t at_s;
    char name[16];
    double pots, canopy_cm, plant_height_m, spacing_cm, row_cm; /* < 0 when not given */
    size_t zone, cover, into;
};

/* Events as read, and the states they lead to. */
struct events {
    struct event *all;
    size_t count;
    struct nursery_state *states;
    size_t state_count;
};

static size_t find_or_none(const struct load *load, enum kind_id kind, const char *id)
{
    const struct records *out = load->out;
    if (id[0] == '\0')
        return NURSERY_NONE;
    return kind == KIND_ZONES    ? FIND(out->zones, out->nursery.zone_count, id)
           : kind == KIND_COVERS ? FIND(out->covers, out->nursery.cover_count, id)
                                 : FIND(out->blocks, out->nursery.block_count, id);
}

static int read_events(struct load *load, struct events *events, sqlite3_stmt *row)
{
    int got = 0;
    store_bind_text(row, 1, load->date);
    while ((got = store_step(load->store, row, load->error)) == 1) {
        struct civil_date date;
        size_t block = find_or_none(load, KIND_BLOCKS, store_text(row, 0));
        if (block == NURSERY_NONE || civil_parse_date(store_text(row, 1), &date) != STATUS_OK)
            continue; /* before the block's first state */
        struct event *larger = load_room(events->all, events->count, sizeof *events->all);
        if (!larger) {
            sqlite3_reset(row);
            return load_no_memory(load);
        }
        events->all = larger;
        struct event *event = &events->all[events->count++];
        *event = (struct event){.block = block,
                                .at_s = civil_local_to_utc(load->zone, civil_days(date), 0),
                                .pots = store_number(row, 3, -1),
                                .canopy_cm = store_number(row, 4, -1),
                                .plant_height_m = store_number(row, 5, -1),
                                .spacing_cm = store_number(row, 6, -1),
                                .row_cm = store_number(row, 7, -1),
                                .zone = find_or_none(load, KIND_ZONES, store_text(row, 8)),
                                .cover = find_or_none(load, KIND_COVERS, store_text(row, 9)),
                                .into = find_or_none(load, KIND_BLOCKS, store_text(row, 10))};
        snprintf(event->name, sizeof event->name, "%s", store_text(row, 2));
    }
    return got;
}

static bool is(const struct event *event, const char *name)
{
    return strcmp(event->name, name) == 0;
}

/* Pots that merged into another block are an event of that block too. */
static int add_joined(struct load *load, struct events *events)
{
    size_t count = events->count;
    for (size_t i = 0; i < count; i++) {
        struct event joined = events->all[i];
        if (!is(&joined, "merged") || joined.into == NURSERY_NONE || joined.into == joined.block)
            continue;
        GROW(load, events->all, events->count);
        joined.block = joined.into;
        snprintf(joined.name, sizeof joined.name, "joined");
        events->all[events->count++] = joined;
    }
    return 0;
}

static int event_order(const void *a, const void *b)
{
    const struct event *x = a;
    const struct event *y = b;
    if (x->block != y->block)
        return x->block < y->block ? -1 : 1;
    if (x->at_s != y->at_s)
        return x->at_s < y->at_s ? -1 : 1;
    int names = strcmp(x->name, y->name);
    return names != 0 ? names : x->pots < y->pots ? -1 : x->pots > y->pots;
}

static void change_count(const struct event *event, struct nursery_state *state)
{
    if (is(event, "counted"))
        state->pots = event->pots;
    else if (is(event, "sold") || is(event, "split") || is(event, "merged"))
        state->pots = state->pots > event->pots ? state->pots - event->pots : 0;
    else if (is(event, "ended"))
        state->pots = 0;
    else if (is(event, "joined")) {
        state->pots += event->pots;
        state->joined = state->pots > 0 ? event->pots / state->pots : 0;
    }
}

static void change_stand(const struct event *event, struct nursery_state *state)
{
    if (event->spacing_cm > 0)
        state->ground_m2 =
            event->spacing_cm * (event->row_cm > 0 ? event->row_cm : event->spacing_cm) / 1e4;
    if (is(event, "moved")) {
        state->zone = event->zone;
        state->cover = event->cover;
    }
}

static void change_plant(const struct event *event, struct nursery_state *state)
{
    if (is(event, "measured") || is(event, "pruned")) {
        state->canopy_cm = event->canopy_cm;
        state->canopy_measured = true;
        state->pruned = is(event, "pruned");
        if (event->plant_height_m >= 0)
            state->plant_height_m = event->plant_height_m;
    }
    bool leaves = true;
    if (is(event, "leafless"))
        state->leaf = DEMAND_LEAF_NONE;
    else if (is(event, "leaf-out"))
        state->leaf = DEMAND_LEAF_OPENING;
    else if (is(event, "in-leaf"))
        state->leaf = DEMAND_LEAF_FULL;
    else if (is(event, "winter"))
        state->leaf = DEMAND_LEAF_EVERGREEN;
    else
        leaves = false;
    if (leaves)
        state->leaf_since_s = event->at_s;
}

static int push_state(struct load *load, struct events *events, const struct nursery_state *state)
{
    GROW(load, events->states, events->state_count);
    events->states[events->state_count++] = *state;
    return 0;
}

/* last: the state before; becomes the one after. */
static int apply_event(struct load *load, struct events *events, const struct event *event,
                       struct nursery_state *last)
{
    struct nursery_state state = *last;
    state.at_s = event->at_s;
    state.potted = state.watered_in = state.canopy_measured = state.pruned = false;
    state.plug_l = state.joined = 0;
    change_count(event, &state);
    change_stand(event, &state);
    change_plant(event, &state);
    if (is(event, "split") && event->into != NURSERY_NONE && event->into != event->block) {
        GROW(load, load->splits, load->split_count);
        load->splits[load->split_count++] =
            (struct load_split){event->block, event->into, event->at_s};
    }
    *last = state;
    return push_state(load, events, &state);
}

/* Rows of blocks.csv and events of one block, by date; leaves stay as they are until told. */
static int merge_block(struct load *load, struct events *events, size_t block, size_t *next)
{
    struct nursery_block *b = &load->blocks[block];
    size_t first = events->state_count;
    struct nursery_state last = {.zone = b->zone, .cover = b->cover};
    for (size_t s = b->first_state; s < b->first_state + b->state_count; s++) {
        struct nursery_state state = load->states[s];
        int64_t until_s =
            s + 1 < b->first_state + b->state_count ? load->states[s + 1].at_s : INT64_MAX;
        if (events->state_count > first) {
            state.leaf = last.leaf;
            state.leaf_since_s = last.leaf_since_s;
            if (!state.canopy_measured && state.canopy_cm <= 0)
                state.canopy_cm = last.canopy_cm;
        }
        last = state;
        if (push_state(load, events, &state))
            return -1;
        for (; *next < events->count && events->all[*next].block == block &&
               events->all[*next].at_s < until_s;
             (*next)++)
            if (events->all[*next].at_s >= state.at_s &&
                apply_event(load, events, &events->all[*next], &last))
                return -1;
    }
    b->first_state = first;
    b->state_count = events->state_count - first;
    b->zone = last.zone;
    b->cover = last.cover;
    return 0;
}

static int by_time(const void *a, const void *b)
{
    const struct load_split *x = a;
    const struct load_split *y = b;
    return x->at_s != y->at_s     ? (x->at_s < y->at_s ? -1 : 1)
           : x->child != y->child ? (x->child < y->child ? -1 : 1)
                                  : 0;
}

/* The child's states begin with its parent's, unless it stood somewhere before. */
static int share_history(struct load *load, struct events *events, struct load_split *split)
{
    const struct nursery_block parent = load->blocks[split->parent];
    const struct nursery_block child = load->blocks[split->child];
    size_t first = events->state_count;
    if (!events->states || events->states[child.first_state].at_s < split->at_s) {
        split->at_s = 0; /* nothing is shared */
        return 0;
    }
    for (size_t s = parent.first_state; s < parent.first_state + parent.state_count; s++) {
        struct nursery_state state = events->states[s];
        if (state.at_s < split->at_s && push_state(load, events, &state))
            return -1;
    }
    for (size_t s = child.first_state; s < child.first_state + child.state_count; s++) {
        struct nursery_state state = events->states[s];
        if (push_state(load, events, &state))
            return -1;
    }
    load->blocks[split->child].first_state = first;
    load->blocks[split->child].state_count = events->state_count - first;
    return 0;
}

int load_pot_events(struct load *load)
{
    struct events events = {0};
    struct nursery *n = &load->out->nursery;
    size_t next = 0;
    sqlite3_stmt *row = store_statement(
        load->store,
        "SELECT block, on_date, event, pots, canopy_cm, plant_height_m, spacing_cm, row_cm, zone,"
        " cover, \"into\" FROM pot_event WHERE on_date <= ?1 ORDER BY block, on_date, event",
        load->error);
    int result = row ? read_events(load, &events, row) : -1;
    if (result == 0)
        result = add_joined(load, &events);
    if (result == 0 && events.count > 0)
        qsort(events.all, events.count, sizeof *events.all, event_order);
    if (result != 0 || events.count == 0)
        goto end;
    for (size_t b = 0; b < n->block_count && result == 0; b++) {
        while (next < events.count && events.all[next].block < b)
            next++;
        result = merge_block(load, &events, b, &next);
    }
    if (load->split_count > 0)
        qsort(load->splits, load->split_count, sizeof *load->splits, by_time);
    for (size_t i = 0; i < load->split_count && result == 0; i++)
        result = share_history(load, &events, &load->splits[i]);
    if (result == 0) {
        free(load->states);
        load->states = events.states;
        n->state_count = events.state_count;
        events.states = NULL;
    }
end:
    free(events.all);
    free(events.states);
    return result;
}

static int weighing_order(const void *a, const void *b)
{
    const struct nursery_weighing *x = a;
    const struct nursery_weighing *y = b;
    return x->block != y->block ? (x->block < y->block ? -1 : 1)
           : x->at_s != y->at_s ? (x->at_s < y->at_s ? -1 : 1)
                                : 0;
}

static int touch_order(const void *a, const void *b)
{
    const struct nursery_touch *x = a;
    const struct nursery_touch *y = b;
    return x->block != y->block ? (x->block < y->block ? -1 : 1)
           : x->at_s != y->at_s ? (x->at_s < y->at_s ? -1 : 1)
                                : (int)x->place - (int)y->place;
}

int load_split_records(struct load *load)
{
    struct nursery *n = &load->out->nursery;
    for (size_t i = 0; i < load->split_count; i++) {
        const struct load_split *split = &load->splits[i];
        size_t weighings = n->weighing_count;
        size_t touches = n->touch_count;
        for (size_t w = 0; w < weighings; w++) {
            struct nursery_weighing copy = load->weighings[w];
            if (copy.block != split->parent || copy.at_s >= split->at_s)
                continue;
            copy.block = split->child;
            GROW(load, load->weighings, n->weighing_count);
            load->weighings[n->weighing_count++] = copy;
        }
        for (size_t t = 0; t < touches; t++) {
            struct nursery_touch copy = load->touches[t];
            if (copy.block != split->parent || copy.at_s >= split->at_s)
                continue;
            copy.block = split->child;
            GROW(load, load->touches, n->touch_count);
            load->touches[n->touch_count++] = copy;
        }
    }
    if (n->weighing_count > 0)
        qsort(load->weighings, n->weighing_count, sizeof *load->weighings, weighing_order);
    if (n->touch_count > 0)
        qsort(load->touches, n->touch_count, sizeof *load->touches, touch_order);
    return 0;
}
