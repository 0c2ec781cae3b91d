/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "sheet.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "json_put.h"

enum {
    NOON_H = 12,
    LATE_S = 1800, /* after the fixed hour: worth saying */
    FEEL_MOST = 3,
    FIRST_MOST = 5,
    WORDS_SIZE = 400,
};

/* Below it a longer run is called so, though its beginning moved with it [our choice]. */
static const int64_t moved_least_s = 600;

struct maker {
    const struct plan_view *view;
    const struct nursery *nursery;
    const struct records *records;
    int64_t from_s, to_s; /* what the sheet covers */
    bool failed;
};

static void put(struct maker *m, json_t *object, const char *name, json_t *value)
{
    if (json_object_set_new(object, name, value) != 0)
        m->failed = true;
}

static void push(struct maker *m, json_t *array, json_t *value)
{
    if (json_array_append_new(array, value) != 0)
        m->failed = true;
}

static void put_time(struct maker *m, json_t *object, const char *name, int64_t t_s)
{
    if (!json_put_time(object, name, t_s, &m->nursery->time_zone))
        m->failed = true;
}

static const char *name_of(const struct records_label *label)
{
    return label->name[0] ? label->name : label->id;
}

static void put_zone(struct maker *m, json_t *object, size_t zone)
{
    bool known = zone != NURSERY_NONE;
    const struct records_zone_label *label = known ? &m->records->zones[zone] : NULL;
    put(m, object, "zone", known ? json_string(label->label.id) : json_null());
    put(m, object, "post", known ? json_string(label->post) : json_null());
    put(m, object, "bed", known ? json_string(name_of(&label->label)) : json_null());
}

static void put_block(struct maker *m, json_t *object, size_t block)
{
    put_zone(m, object, m->nursery->blocks[block].zone);
    put(m, object, "block", json_string(m->records->blocks[block].id));
    put(m, object, "name", json_string(name_of(&m->records->blocks[block])));
}

/* The code for programs, the words for paper. */
static void put_reason(struct maker *m, json_t *object, const struct plan_reason *reason)
{
    char words[WORDS_SIZE];
    plan_text_reason(m->view, reason, words, sizeof words);
    put(m, object, "reason", plan_reason_json(m->view, reason));
    put(m, object, "words", json_string(words));
}

/* --- when ----------------------------------------------------------------------------------- */

int64_t sheet_due_s(const struct config *config, const struct civil_zone *zone, int64_t now_s)
{
    int64_t day = civil_days(civil_local_date(zone, now_s));
    int64_t due_s = civil_local_to_utc(zone, day, config->sheet_hour * (int32_t)CIVIL_HOUR_S);
    return due_s <= now_s
               ? due_s
               : civil_local_to_utc(zone, day - 1, config->sheet_hour * (int32_t)CIVIL_HOUR_S);
}

int64_t sheet_day(const struct config *config, const struct civil_zone *zone, int64_t due_s)
{
    return civil_days(civil_local_date(zone, due_s)) + (config->sheet_hour >= NOON_H ? 1 : 0);
}

/* --- head ----------------------------------------------------------------------------------- */

/* The hours of the sheet in which a limit is passed. */
struct spell {
    int64_t from_s, to_s; /* 0: never */
    double worst;
};

static struct spell spell_of(const struct maker *m, bool frost)
{
    struct spell spell = {0, 0, NAN};
    for (size_t h = 0; h < m->view->input->hour_count; h++) {
        const struct weather_hour *hour = &m->view->input->hours[h];
        double value = frost ? hour->temperature_c : hour->wind_2m_m_s;
        bool passed = frost ? value <= PLAN_FROST_C : value > PLAN_WINDY_M_S;
        if (!passed || hour->start_s + CIVIL_HOUR_S <= m->from_s || hour->start_s >= m->to_s)
            continue;
        if (spell.from_s == 0)
            spell.from_s = hour->start_s;
        spell.to_s = hour->start_s + CIVIL_HOUR_S;
        spell.worst = frost ? fmin(spell.worst, value) : fmax(spell.worst, value);
    }
    return spell;
}

static json_t *stop_json(struct maker *m, const char *code, const char *unit, double limit,
                         const struct spell *spell)
{
    char worst[32];
    char name[32];
    json_t *object = json_object();
    snprintf(name, sizeof name, "limit_%s", unit);
    snprintf(worst, sizeof worst, "worst_%s", unit);
    put(m, object, "code", json_string(code));
    put(m, object, name, json_put_number(limit, 1));
    put_time(m, object, "from", spell->from_s);
    put_time(m, object, "to", spell->to_s);
    put(m, object, worst, json_put_number(spell->worst, 1));
    return object;
}

static json_t *stops_json(struct maker *m)
{
    const struct spell wind = spell_of(m, false);
    const struct spell frost = spell_of(m, true);
    json_t *stops = json_array();
    json_t *people = json_object();
    push(m, stops, stop_json(m, "wind", "m_s", PLAN_WINDY_M_S, &wind));
    put(m, people, "code", json_string("people"));
    push(m, stops, people);
    push(m, stops, stop_json(m, "frost", "c", PLAN_FROST_C, &frost));
    return stops;
}

/* --- runs in walking order ------------------------------------------------------------------ */

struct walked {
    const struct records_zone_label *label;
    size_t index; /* of a run, or a zone */
    int64_t day, start_s;
};

/* As people walk: as the zones say, then by the posts' own numbers. */
static int by_walk(const void *a, const void *b)
{
    const struct walked *x = a;
    const struct walked *y = b;
    int order_x = x->label->walk_order > 0 ? x->label->walk_order : INT32_MAX;
    int order_y = y->label->walk_order > 0 ? y->label->walk_order : INT32_MAX;
    if (x->day != y->day)
        return x->day < y->day ? -1 : 1;
    if (order_x != order_y)
        return order_x < order_y ? -1 : 1;
    int post = strverscmp(x->label->post, y->label->post);
    if (post != 0)
        return post;
    if (x->label != y->label)
        return strcmp(x->label->label.id, y->label->label.id);
    return x->start_s < y->start_s ? -1 : x->start_s > y->start_s;
}

static bool is_on(const struct maker *m, const struct plan_run *run)
{
    return run->start_s < m->to_s && run->end_s > m->from_s;
}

/* Millimetres of rain that the run counts on; NAN: none. */
static double rain_of(const struct plan_run *run)
{
    for (size_t i = 0; i < (size_t)run->reason_count; i++)
        if (run->reasons[i].code == PLAN_COUNTS_ON_RAIN)
            return run->reasons[i].a;
    return NAN;
}

/* What of a hose zone's run is for which block: they share its litres by what each is expected to
 * lack. It is the run's own water, so it stands with the run and not with further work by hand. */
static json_t *shares_json(struct maker *m, const struct plan_run *run)
{
    json_t *shares = json_array();
    double lacking_l = 0.0;
    for (size_t b = 0; b < m->nursery->block_count; b++)
        if (m->nursery->blocks[b].zone == run->zone)
            lacking_l += m->view->result->blocks[b].pots * m->view->result->blocks[b].need_l;
    for (size_t b = 0; b < m->nursery->block_count && run->by_hand && lacking_l > 0.0; b++) {
        const struct plan_block *block = &m->view->result->blocks[b];
        if (m->nursery->blocks[b].zone != run->zone || !(block->pots * block->need_l > 0.0))
            continue;
        double litres_pot = block->need_l * run->litres / lacking_l;
        json_t *object = json_object();
        put(m, object, "block", json_string(m->records->blocks[b].id));
        put(m, object, "name", json_string(name_of(&m->records->blocks[b])));
        put(m, object, "pots", json_put_number(block->pots, 0));
        put(m, object, "litres_pot", json_put_number(litres_pot, 2));
        put(m, object, "minutes",
            json_put_number(run->minutes * block->pots * block->need_l / lacking_l, 0));
        put_time(m, object, "limit", block->stress_s);
        push(m, shares, object);
    }
    return shares;
}

static json_t *run_json(struct maker *m, const struct plan_run *run)
{
    char id[RECORDS_RUN_ID_SIZE];
    json_t *object = json_object();
    put_zone(m, object, run->zone);
    put(m, object, "run", json_string(plan_run_id(m->view, run, id)));
    put_time(m, object, "start", run->start_s);
    put_time(m, object, "end", run->end_s);
    put(m, object, "minutes", json_integer(run->minutes));
    put(m, object, "pulses", json_integer(run->pulses));
    put(m, object, "pulse_minutes", json_integer(run->pulse_min));
    put(m, object, "pause_minutes", json_integer(run->pause_min));
    put(m, object, "depth_mm", json_put_number(run->depth_mm, 1));
    put(m, object, "litres_pot",
        isfinite(run->depth_mm) ? json_null() : json_put_number(run->litres_pot, 2));
    put(m, object, "litres", json_put_number(run->litres, 0));
    put(m, object, "by_hand", json_boolean(run->by_hand));
    put(m, object, "blocks", shares_json(m, run));
    put(m, object, "purpose", json_string(plan_purpose_name(run->purpose)));
    put(m, object, "counts_on_rain_mm", json_put_number(rain_of(run), 1));
    return object;
}

static json_t *runs_json(struct maker *m)
{
    const struct plan_result *result = m->view->result;
    struct walked *walk = calloc(result->run_count + 1, sizeof *walk);
    json_t *runs = json_array();
    size_t count = 0;
    for (size_t r = 0; walk && r < result->run_count; r++)
        if (is_on(m, &result->runs[r]))
            walk[count++] = (struct walked){
                &m->records->zones[result->runs[r].zone], r,
                civil_days(civil_local_date(&m->nursery->time_zone, result->runs[r].start_s)),
                result->runs[r].start_s};
    if (walk)
        qsort(walk, count, sizeof *walk, by_walk);
    for (size_t i = 0; i < count; i++)
        push(m, runs, run_json(m, &result->runs[walk[i].index]));
    m->failed |= !walk;
    free(walk);
    return runs;
}

/* --- by hand -------------------------------------------------------------------------------- */

static json_t *hand_json(struct maker *m, size_t block, const char *part, double pots,
                         double litres_pot, double minutes)
{
    json_t *object = json_object();
    put_block(m, object, block);
    put(m, object, "part", json_string(part));
    put(m, object, "pots", json_put_number(pots, 0));
    put(m, object, "litres_pot", json_put_number(litres_pot, 2));
    put(m, object, "hose_minutes", json_put_number(ceil(minutes), 0));
    return object;
}

static bool is_listed(const struct plan_result *result, size_t block)
{
    for (size_t i = 0; i < result->hand_count; i++)
        if (result->hands[i].block == block)
            return true;
    return false;
}

/* Beds whose dry quarter strains between runs: their edges want the hose. */
static void push_edges(struct maker *m, json_t *hands)
{
    const struct plan_result *result = m->view->result;
    for (size_t n = 0; n < result->notice_count; n++) {
        const struct plan_reason *notice = &result->notices[n];
        if (notice->code != PLAN_STRAINED || notice->at_s >= m->to_s ||
            is_listed(result, notice->block))
            continue;
        const struct plan_block *block = &result->blocks[notice->block];
        double pots = ceil(block->pots / 4.0);
        json_t *object =
            hand_json(m, notice->block, "edges", pots, block->driest_l,
                      pots * block->driest_l / plan_hose_l_min(m->nursery, notice->zone));
        put_time(m, object, "at", 0);
        put_time(m, object, "limit", notice->at_s);
        put_reason(m, object, notice);
        push(m, hands, object);
    }
}

static json_t *by_hand_json(struct maker *m)
{
    const struct plan_result *result = m->view->result;
    json_t *hands = json_array();
    for (size_t i = 0; i < result->hand_count; i++) {
        const struct plan_hand *hand = &result->hands[i];
        json_t *object = hand_json(m, hand->block, "all", result->blocks[hand->block].pots,
                                   hand->litres_pot, hand->hose_min);
        put_time(m, object, "at", 0);
        put_time(m, object, "limit", hand->limit_s);
        put_reason(m, object, &hand->reason);
        push(m, hands, object);
    }
    push_edges(m, hands);
    return hands;
}

/* --- what is not watered, and what else to know --------------------------------------------- */

static bool runs_on(const struct maker *m, size_t zone)
{
    for (size_t r = 0; r < m->view->result->run_count; r++)
        if (m->view->result->runs[r].zone == zone && is_on(m, &m->view->result->runs[r]))
            return true;
    return false;
}

static bool is_covered(const struct maker *m, int64_t from_s, int64_t to_s)
{
    return from_s < m->to_s && to_s > m->from_s;
}

/* Why a zone gets nothing while the sheet holds: a hold, no room, that it is wet, or that what will
 * be due has no hours before the next run. */
static struct plan_reason why_not(const struct maker *m, size_t zone, int64_t *until_s)
{
    const struct plan_result *result = m->view->result;
    struct plan_reason why = {
        .code = PLAN_STILL_WET, .zone = zone, .block = NURSERY_NONE, .other = NURSERY_NONE};
    for (size_t h = 0; h < m->nursery->hold_count; h++)
        if (nursery_hold_closes(m->nursery, &m->nursery->holds[h], zone) &&
            is_covered(m, m->nursery->holds[h].from_s, m->nursery->holds[h].to_s)) {
            why.code = PLAN_HELD;
            why.other = h;
            *until_s = m->nursery->holds[h].to_s;
            return why;
        }
    for (size_t u = 0; u < result->unplaced_count; u++)
        if (result->unplaced[u].zone == zone && result->unplaced[u].window_start_s < m->to_s)
            return result->unplaced[u].reason;
    if (result->zones[zone].state == PLAN_ZONE_WAIT_RAIN ||
        result->zones[zone].reason.code == PLAN_NO_WINDOW) {
        *until_s = result->zones[zone].wait_until_s;
        return result->zones[zone].reason;
    }
    for (size_t b = 0; b < m->nursery->block_count; b++) {
        int64_t next_s = result->blocks[b].next_s;
        if (m->nursery->blocks[b].zone == zone && next_s != 0 &&
            (*until_s == 0 || next_s < *until_s)) {
            *until_s = next_s;
            why.block = b;
        }
    }
    if (*until_s != 0 && *until_s < m->to_s) { /* due by then, and yet no run */
        why.code = PLAN_HOURS_OVER;
        why.at_s = *until_s;
        *until_s = result->zones[zone].next_run_s;
    }
    return why;
}

static const char *do_not_code(enum plan_code code)
{
    switch (code) {
    case PLAN_HELD:
        return "held";
    case PLAN_STILL_WET:
        return "wet";
    case PLAN_WAITS_FOR_RAIN:
        return "rain";
    case PLAN_HOURS_OVER:
        return "hours_over";
    default:
        return "no_room";
    }
}

static bool is_hosed(const struct maker *m, const json_t *hands, size_t zone)
{
    for (size_t i = 0; i < json_array_size(hands); i++) {
        const char *id = json_string_value(json_object_get(json_array_get(hands, i), "zone"));
        if (id && strcmp(id, m->records->zones[zone].label.id) == 0)
            return true;
    }
    return false;
}

/* hands: blocks of a zone may be there although its valve stays shut. */
static json_t *do_not_json(struct maker *m, const json_t *hands)
{
    struct walked *walk = calloc(m->nursery->zone_count + 1, sizeof *walk);
    json_t *array = json_array();
    size_t count = 0;
    for (size_t z = 0; walk && z < m->nursery->zone_count; z++)
        if (!runs_on(m, z) && m->view->result->zones[z].state != PLAN_ZONE_EMPTY)
            walk[count++] = (struct walked){&m->records->zones[z], z, 0, 0};
    if (walk)
        qsort(walk, count, sizeof *walk, by_walk);
    for (size_t i = 0; i < count; i++) {
        int64_t until_s = 0;
        const struct plan_reason why = why_not(m, walk[i].index, &until_s);
        json_t *object = json_object();
        put_zone(m, object, walk[i].index);
        put(m, object, "code", json_string(do_not_code(why.code)));
        put_reason(m, object, &why);
        put_time(m, object, "until", until_s);
        put(m, object, "by_hand", json_boolean(is_hosed(m, hands, walk[i].index)));
        push(m, array, object);
    }
    m->failed |= !walk;
    free(walk);
    return array;
}

static json_t *note_json(struct maker *m, const struct plan_reason *reason, size_t zone,
                         int64_t from_s, int64_t to_s)
{
    json_t *object = json_object();
    put_zone(m, object, zone);
    put_reason(m, object, reason);
    put_time(m, object, "from", from_s);
    put_time(m, object, "to", to_s);
    return object;
}

static struct plan_reason hold_reason(const struct nursery *nursery, size_t index)
{
    const struct nursery_hold *hold = &nursery->holds[index];
    size_t zone = hold->zone != NURSERY_NONE    ? hold->zone
                  : hold->block != NURSERY_NONE ? nursery->blocks[hold->block].zone
                                                : NURSERY_NONE;
    return (struct plan_reason){
        .code = PLAN_HELD, .zone = zone, .block = hold->block, .other = index};
}

/* Feed and spray: what must be watered in, and where nobody waters since somebody sprays. */
static json_t *notes_json(struct maker *m)
{
    json_t *notes = json_array();
    for (size_t i = 0; i < m->nursery->requirement_count; i++) {
        const struct nursery_requirement *required = &m->nursery->requirements[i];
        const struct plan_reason why = {.code = PLAN_REQUIRED,
                                        .zone = required->zone,
                                        .block = NURSERY_NONE,
                                        .other = i,
                                        .a = required->minutes};
        if (is_covered(m, required->from_s, required->to_s))
            push(m, notes, note_json(m, &why, required->zone, required->from_s, required->to_s));
    }
    for (size_t h = 0; h < m->nursery->hold_count; h++) {
        const struct nursery_hold *hold = &m->nursery->holds[h];
        const struct plan_reason why = hold_reason(m->nursery, h);
        if ((hold->kind == NURSERY_HOLD_SPRAYING || hold->kind == NURSERY_HOLD_REENTRY) &&
            is_covered(m, hold->from_s, hold->to_s))
            push(m, notes, note_json(m, &why, why.zone, hold->from_s, hold->to_s));
    }
    return notes;
}

/* Which holds were known: a later one is an exception. */
static json_t *holds_json(struct maker *m)
{
    json_t *holds = json_array();
    for (size_t h = 0; h < m->nursery->hold_count; h++)
        if (is_covered(m, m->nursery->holds[h].from_s, m->nursery->holds[h].to_s))
            push(m, holds, json_string(m->records->holds[h].id));
    return holds;
}

/* --- pots to feel --------------------------------------------------------------------------- */

enum feel_reason {
    FEEL_UNTOLD, /* runs that nobody told of */
    FEEL_NEVER,  /* never weighed, surely filled or felt */
    FEEL_OLD,    /* the oldest word of it */
    FEEL_WIDE,   /* the widest range of when it is due */
    FEEL_REASONS,
};

/* How much a block asks to be felt for a reason; 0: not at all. */
static double feel_weight(const struct maker *m, size_t block, enum feel_reason reason)
{
    const struct plan_block *b = &m->view->result->blocks[block];
    if (!(b->pots > 0.0))
        return 0.0;
    switch (reason) {
    case FEEL_UNTOLD:
        return b->unsure ? b->water_wet_l - b->water_l + 1.0 : 0.0;
    case FEEL_NEVER:
        return b->known == PLAN_KNOWN_ASSUMED ? b->pots : 0.0;
    case FEEL_OLD:
        return b->known == PLAN_KNOWN_ASSUMED
                   ? 0.0
                   : (double)(m->view->input->now_s - b->known_s) / CIVIL_DAY_S;
    case FEEL_WIDE:
        return b->next_to_s > 0 && b->next_from_s > 0
                   ? (double)(b->next_to_s - b->next_from_s) / CIVIL_HOUR_S
                   : 0.0;
    case FEEL_REASONS:
        break;
    }
    return 0.0;
}

static size_t choose_feel(const struct maker *m, enum feel_reason reason, const size_t *chosen,
                          size_t count)
{
    size_t best = NURSERY_NONE;
    double most = 0.0;
    for (size_t b = 0; b < m->nursery->block_count; b++) {
        bool taken = false;
        for (size_t i = 0; i < count; i++)
            taken |= chosen[i] == b;
        double weight = feel_weight(m, b, reason);
        if (taken || !(weight > most))
            continue;
        best = b;
        most = weight;
    }
    return best;
}

static json_t *feel_json(struct maker *m)
{
    static const char *const codes[] = {"untold_runs", "never_confirmed", "longest_unseen",
                                        "widest_range"};
    static const char *const words[] = {"runs that nobody told of", "never confirmed",
                                        "seen longest ago", "hardest to foretell"};
    /* One of each, then what is left of the first that has more. */
    static const enum feel_reason order[] = {FEEL_UNTOLD, FEEL_NEVER, FEEL_WIDE, FEEL_OLD,
                                             FEEL_UNTOLD, FEEL_NEVER, FEEL_WIDE};
    size_t chosen[FEEL_MOST];
    size_t count = 0;
    json_t *array = json_array();
    for (size_t i = 0; i < sizeof order / sizeof order[0] && count < FEEL_MOST; i++) {
        size_t block = choose_feel(m, order[i], chosen, count);
        if (block == NURSERY_NONE)
            continue;
        chosen[count++] = block;
        json_t *object = json_object();
        put_block(m, object, block);
        put(m, object, "code", json_string(codes[order[i]]));
        put(m, object, "words", json_string(words[order[i]]));
        push(m, array, object);
    }
    return array;
}

/* --- when something fails ------------------------------------------------------------------- */

/* The blocks that pass their stress limit first if nobody waters. */
static json_t *first_json(struct maker *m)
{
    const struct plan_block *blocks = m->view->result->blocks;
    json_t *array = json_array();
    int64_t after_s = 0;
    size_t after = NURSERY_NONE;
    for (int n = 0; n < FIRST_MOST; n++) {
        size_t best = NURSERY_NONE;
        for (size_t b = 0; b < m->nursery->block_count; b++) {
            int64_t at_s = blocks[b].stress_s;
            bool later = after == NURSERY_NONE || at_s > after_s || (at_s == after_s && b > after);
            if (at_s != 0 && later && (best == NURSERY_NONE || at_s < blocks[best].stress_s))
                best = b;
        }
        if (best == NURSERY_NONE)
            break;
        json_t *object = json_object();
        put_block(m, object, best);
        put_time(m, object, "before", blocks[best].stress_s);
        put(m, object, "words", json_string("if nobody waters, plants come under stress then"));
        push(m, array, object);
        after = best;
        after_s = blocks[best].stress_s;
    }
    return array;
}

/* --- issuing -------------------------------------------------------------------------------- */

static struct maker maker_of(const struct plan_view *view)
{
    return (struct maker){.view = view, .nursery = view->input->nursery, .records = view->records};
}

static json_t *content_json(const struct plan_view *view, int64_t day)
{
    struct maker m = maker_of(view);
    m.from_s = view->input->now_s;
    m.to_s = civil_local_to_utc(&m.nursery->time_zone, day + 1, 0);
    json_t *root = json_object();
    put_time(&m, root, "covers_from", m.from_s);
    put_time(&m, root, "covers_to", m.to_s);
    put(&m, root, "weather",
        json_pack("{s:s, s:o}", "rung", weather_rung_name(view->weather->rung), "age_s",
                  view->weather->age_s < 0 ? json_null() : json_integer(view->weather->age_s)));
    put(&m, root, "stops", stops_json(&m));
    put(&m, root, "runs", runs_json(&m));
    put(&m, root, "by_hand", by_hand_json(&m));
    put(&m, root, "do_not_water", do_not_json(&m, json_object_get(root, "by_hand")));
    put(&m, root, "notes", notes_json(&m));
    put(&m, root, "holds", holds_json(&m));
    put(&m, root, "feel", feel_json(&m));
    put(&m, root, "first_if_it_fails", first_json(&m));
    if (!m.failed)
        return root;
    json_decref(root);
    return NULL;
}

int sheet_issue(const struct plan_view *view, struct store *store, const struct sheet_order *order,
                int64_t *number, struct error *error)
{
    const struct civil_zone *zone = &view->input->nursery->time_zone;
    int64_t now_s = view->input->now_s;
    struct store_sheet last;
    int got = store_sheet_latest(store, now_s, &last, error);
    if (got < 0)
        return -1;
    struct store_sheet sheet = {.issued_s = now_s, .due_s = sheet_due_s(view->config, zone, now_s)};
    bool is_there = got == 1 && last.due_s >= sheet.due_s;
    sheet.replaces = got == 1 && order->again ? last.number : 0;
    if (got == 1)
        store_sheet_clear(&last);
    if (is_there && !order->again)
        return 0;
    int64_t day = sheet_day(view->config, zone, sheet.due_s);
    json_t *content = content_json(view, day);
    char *text = content ? json_dumps(content, JSON_COMPACT | JSON_REAL_PRECISION(9)) : NULL;
    char *remarks = strdup(order->remarks);
    json_decref(content);
    plan_date_text(day, sheet.for_date);
    snprintf(sheet.who, sizeof sheet.who, "%s", order->who);
    sheet.content = text;
    sheet.remarks = remarks;
    int result = text && remarks ? store_sheet_add(store, &sheet, error)
                                 : error_set(error, "out of memory for the crew's sheet");
    *number = sheet.number;
    store_sheet_clear(&sheet);
    return result == 0 ? 1 : -1;
}

/* --- what changed since --------------------------------------------------------------------- */

/* A run as it is now: begun as planned, or still to come. */
struct actual {
    size_t zone;
    int64_t start_s, end_s;
    int minutes;
    double litres;
    double depth_mm, litres_pot; /* NAN of one that began: only its litres were written down */
    bool matched;
};

struct comparison {
    struct maker m;
    const json_t *issued; /* the sheet's runs */
    bool *matched;        /* one of them each */
    struct actual *actual;
    size_t count, capacity;
    json_t *exceptions;
};

static int64_t whole_of(const json_t *object, const char *name)
{
    return json_integer_value(json_object_get(object, name));
}

static const char *text_of(const json_t *object, const char *name)
{
    const char *text = json_string_value(json_object_get(object, name));
    return text ? text : "";
}

static size_t zone_named(const struct records *records, const char *id)
{
    for (size_t z = 0; z < records->nursery.zone_count; z++)
        if (strcmp(records->zones[z].label.id, id) == 0)
            return z;
    return NURSERY_NONE;
}

static void take_begun(void *context, const struct store_planned *run)
{
    struct comparison *c = context;
    size_t zone = zone_named(c->m.records, run->zone);
    if (zone == NURSERY_NONE || run->end_s <= c->m.from_s)
        return;
    if (c->count == c->capacity) {
        size_t capacity = 2 * c->capacity + 64;
        struct actual *larger = realloc(c->actual, capacity * sizeof *larger);
        c->m.failed |= !larger;
        if (!larger)
            return;
        c->actual = larger;
        c->capacity = capacity;
    }
    c->actual[c->count++] =
        (struct actual){.zone = zone,
                        .start_s = run->start_s,
                        .end_s = run->end_s,
                        .minutes = (int)lround(run->litres / c->m.nursery->zones[zone].flow_l_min),
                        .litres = run->litres,
                        .depth_mm = NAN,
                        .litres_pot = NAN};
}

static void take_planned(struct comparison *c)
{
    const struct plan_result *result = c->m.view->result;
    for (size_t r = 0; r < result->run_count; r++) {
        const struct plan_run *run = &result->runs[r];
        struct store_planned as_stored = {
            .start_s = run->start_s, .end_s = run->end_s, .litres = run->litres};
        if (run->start_s <= c->m.view->input->now_s || run->start_s >= c->m.to_s)
            continue;
        memcpy(as_stored.zone, c->m.records->zones[run->zone].label.id, sizeof as_stored.zone);
        size_t before = c->count;
        take_begun(c, &as_stored);
        if (c->count == before)
            continue;
        c->actual[before].depth_mm = run->depth_mm;
        c->actual[before].litres_pot = isfinite(run->depth_mm) ? NAN : run->litres_pot;
    }
}

static void push_exception(struct comparison *c, const char *code, size_t zone,
                           const json_t *issued, const struct actual *now)
{
    struct maker *m = &c->m;
    json_t *object = json_object();
    put(m, object, "code", json_string(code));
    put_zone(m, object, zone);
    put(m, object, "run", issued ? json_string(text_of(issued, "run")) : json_null());
    put_time(m, object, "start_before", issued ? whole_of(issued, "start_s") : 0);
    put(m, object, "minutes_before",
        issued ? json_integer(whole_of(issued, "minutes")) : json_null());
    put_time(m, object, "start", now ? now->start_s : 0);
    put_time(m, object, "end", now ? now->end_s : 0);
    put(m, object, "minutes", now ? json_integer(now->minutes) : json_null());
    put(m, object, "litres", now ? json_put_number(now->litres, 0) : json_null());
    put(m, object, "depth_mm", json_put_number(now ? now->depth_mm : NAN, 1));
    put(m, object, "litres_pot", json_put_number(now ? now->litres_pot : NAN, 2));
    put(m, object, "hold", json_null());
    if (now || zone == NURSERY_NONE) {
        put(m, object, "reason", json_null());
        put(m, object, "words", json_string(""));
    } else {
        int64_t until_s = 0;
        const struct plan_reason why = why_not(m, zone, &until_s);
        put_reason(m, object, &why);
    }
    push(m, c->exceptions, object);
}

/* What would be printed otherwise now is marked, be it by a minute: of two figures for one run
 * neither is believed. */
static void compare_pair(struct comparison *c, const json_t *issued, const struct actual *now)
{
    int64_t start_s = whole_of(issued, "start_s");
    int64_t off_s = now->start_s > start_s ? now->start_s - start_s : start_s - now->start_s;
    bool longer = now->minutes != whole_of(issued, "minutes");
    if (off_s >= moved_least_s || (off_s != 0 && !longer))
        push_exception(c, "moved", now->zone, issued, now);
    else if (longer)
        push_exception(c, "minutes", now->zone, issued, now);
}

/* The actual run of the same zone nearest in time that has no partner yet; within half a day, or
 * exactly then. */
static struct actual *partner_of(struct comparison *c, const json_t *issued, bool exact)
{
    struct actual *best = NULL;
    int64_t start_s = whole_of(issued, "start_s");
    int64_t least_s = exact ? 0 : CIVIL_DAY_S / 2;
    size_t zone = zone_named(c->m.records, text_of(issued, "zone"));
    for (size_t i = 0; i < c->count; i++) {
        struct actual *a = &c->actual[i];
        int64_t off_s = a->start_s > start_s ? a->start_s - start_s : start_s - a->start_s;
        if (a->matched || a->zone != zone || off_s > least_s || (best && off_s == least_s))
            continue;
        best = a;
        least_s = off_s;
    }
    return best;
}

static void pair_runs(struct comparison *c, bool exact)
{
    size_t i;
    json_t *issued;
    json_array_foreach(c->issued, i, issued)
    {
        struct actual *now = c->matched[i] ? NULL : partner_of(c, issued, exact);
        if (!now)
            continue;
        now->matched = true;
        c->matched[i] = true;
        compare_pair(c, issued, now);
    }
}

static void push_new_holds(struct comparison *c, const json_t *known)
{
    struct maker *m = &c->m;
    for (size_t h = 0; h < m->nursery->hold_count; h++) {
        const struct nursery_hold *hold = &m->nursery->holds[h];
        const char *id = m->records->holds[h].id;
        const struct plan_reason why = hold_reason(m->nursery, h);
        bool was_known = !is_covered(m, hold->from_s, hold->to_s);
        size_t i;
        const json_t *one;
        json_array_foreach(known, i, one) was_known |= strcmp(json_string_value(one), id) == 0;
        if (was_known)
            continue;
        push_exception(c, "hold", NURSERY_NONE, NULL, NULL);
        json_t *object = json_array_get(c->exceptions, json_array_size(c->exceptions) - 1);
        put_zone(m, object, why.zone);
        if (hold->supply != NURSERY_NONE)
            put(m, object, "bed", json_string(name_of(&m->records->supplies[hold->supply])));
        put(m, object, "hold", json_string(id));
        put_time(m, object, "start", hold->from_s);
        put_time(m, object, "end", hold->to_s);
        put_reason(m, object, &why);
    }
}

static int compare(struct comparison *c, struct store *store, const json_t *content,
                   struct error *error)
{
    size_t i;
    json_t *issued;
    int64_t now_s = c->m.view->input->now_s;
    c->issued = json_object_get(content, "runs");
    c->matched = calloc(json_array_size(c->issued) + 1, sizeof *c->matched);
    if (!c->matched)
        return error_set(error, "out of memory");
    if (store_planned_each(store, c->m.from_s - CIVIL_DAY_S, now_s + 1, take_begun, c, error) != 0)
        return -1;
    take_planned(c);
    pair_runs(c, true);
    pair_runs(c, false);
    json_array_foreach(c->issued, i, issued) if (!c->matched[i]) push_exception(
        c, "dropped", zone_named(c->m.records, text_of(issued, "zone")), issued, NULL);
    for (size_t a = 0; a < c->count; a++)
        if (!c->actual[a].matched && c->actual[a].start_s >= c->m.from_s &&
            c->actual[a].start_s < c->m.to_s)
            push_exception(c, "added", c->actual[a].zone, NULL, &c->actual[a]);
    push_new_holds(c, json_object_get(content, "holds"));
    return c->m.failed ? error_set(error, "out of memory") : 0;
}

/* --- as JSON -------------------------------------------------------------------------------- */

json_t *sheet_line(const struct store_sheet *sheet, const struct civil_zone *zone)
{
    bool late =
        sheet->number > 1 && sheet->replaces == 0 && sheet->issued_s - sheet->due_s > LATE_S;
    json_t *root = json_pack(
        "{s:I, s:s, s:o, s:s, s:o, s:b}", "number", (json_int_t)sheet->number, "for",
        sheet->for_date, "replaces",
        sheet->replaces > 0 ? json_integer(sheet->replaces) : json_null(), "by", sheet->who,
        "remarks", sheet->remarks[0] ? json_string(sheet->remarks) : json_null(), "late", late);
    if (root && json_put_time(root, "issued_at", sheet->issued_s, zone) &&
        json_put_time(root, "due_at", sheet->due_s, zone))
        return root;
    json_decref(root);
    return NULL;
}

json_t *sheet_json(const struct store_sheet *sheet, const struct civil_zone *zone)
{
    json_t *root = sheet_line(sheet, zone);
    json_t *content = json_loads(sheet->content, 0, NULL);
    bool good = root && content && json_object_update(root, content) == 0 &&
                json_object_set_new(root, "checked_at", json_null()) == 0 &&
                json_object_set_new(root, "checked_at_s", json_null()) == 0 &&
                json_object_set_new(root, "exceptions", json_null()) == 0;
    json_decref(content);
    if (good)
        return root;
    json_decref(root);
    return NULL;
}

int sheet_current(const struct plan_view *view, struct store *store, json_t **out,
                  struct error *error)
{
    struct comparison c = {.m = maker_of(view)};
    struct store_sheet sheet;
    *out = NULL;
    int got = store_sheet_latest(store, view->input->now_s, &sheet, error);
    if (got <= 0)
        return got;
    json_t *root = sheet_json(&sheet, &view->input->nursery->time_zone);
    store_sheet_clear(&sheet);
    c.exceptions = json_array();
    int result = -1;
    if (!root || !c.exceptions) {
        error_set(error, "out of memory for the crew's sheet");
    } else {
        c.m.from_s = whole_of(root, "covers_from_s");
        c.m.to_s = whole_of(root, "covers_to_s");
        result = compare(&c, store, root, error);
        put_time(&c.m, root, "checked_at", view->input->now_s);
        if (json_object_set(root, "exceptions", c.exceptions) != 0 || c.m.failed)
            result = error_set(error, "out of memory for the crew's sheet");
    }
    free(c.actual);
    free(c.matched);
    json_decref(c.exceptions);
    if (result == 0)
        *out = root;
    else
        json_decref(root);
    return result;
}
