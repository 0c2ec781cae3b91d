/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The plan as JSON: docs/api.md. */
#include "plan_view.h"

#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "core/timetable.h"
#include "json_put.h"
#include "mix_view.h"

/* Figures are printed to nine digits: beyond what any of them means, and short. */
#define DIGITS JSON_REAL_PRECISION(9)

enum { TEXT_ROOM = 65536 };

struct printer {
    const struct plan_view *view;
    const struct nursery *nursery;
    const struct records *records;
    bool failed; /* memory ran out somewhere; checked once at the end */
    char *text;  /* of the plan so far */
    size_t length, room;
};

static void put(struct printer *p, json_t *object, const char *name, json_t *value)
{
    if (json_object_set_new(object, name, value) != 0)
        p->failed = true;
}

static void push(struct printer *p, json_t *array, json_t *value)
{
    if (json_array_append_new(array, value) != 0)
        p->failed = true;
}

static json_t *number(double value, int places)
{
    return json_put_number(value, places);
}

static void put_time(struct printer *p, json_t *object, const char *name, int64_t t_s)
{
    if (!json_put_time(object, name, t_s, &p->nursery->time_zone))
        p->failed = true;
}

static json_t *date_of(int64_t local_days)
{
    char text[PLAN_DATE_SIZE];
    return json_string(plan_date_text(local_days, text));
}

static json_t *block_id(const struct printer *p, size_t block)
{
    return block == NURSERY_NONE ? json_null() : json_string(p->records->blocks[block].id);
}

static json_t *zone_id(const struct printer *p, size_t zone)
{
    return zone == NURSERY_NONE ? json_null() : json_string(p->records->zones[zone].label.id);
}

static json_t *text_or_null(const char *text)
{
    return text[0] ? json_string(text) : json_null();
}

/* What people said of an order, a hold, a requirement. */
static json_t *said_json(const struct printer *p, enum plan_member member, size_t index)
{
    const struct records *r = p->records;
    if (index == NURSERY_NONE)
        return json_null();
    switch (member) {
    case PLAN_MEMBER_ORDER:
        return json_string(r->orders[index].id);
    case PLAN_MEMBER_ORDER_WHO:
        return text_or_null(r->orders[index].who);
    case PLAN_MEMBER_ORDER_WHY:
        return text_or_null(r->orders[index].why);
    case PLAN_MEMBER_HOLD:
        return json_string(r->holds[index].id);
    case PLAN_MEMBER_HOLD_KIND:
        return json_string(plan_hold_name(p->nursery->holds[index].kind));
    case PLAN_MEMBER_HOLD_WHY:
        return text_or_null(r->holds[index].why);
    case PLAN_MEMBER_REQUIREMENT:
        return json_string(r->requirements[index].id);
    case PLAN_MEMBER_PURPOSE:
        return json_string(plan_purpose_name(p->nursery->requirements[index].purpose));
    case PLAN_MEMBER_TO:
        return zone_id(p, index);
    case PLAN_MEMBER_SUPPLY:
        return json_string(r->supplies[index].id);
    default:
        return json_null();
    }
}

static json_t *params_of(struct printer *p, const struct plan_reason *reason)
{
    const struct plan_word *word = plan_word_of(reason->code);
    json_t *params = json_object();
    for (size_t i = 0; i < PLAN_PARAMS_MAX && word->params[i].name; i++) {
        const char *name = word->params[i].name;
        switch (word->params[i].member) {
        case PLAN_MEMBER_ZONE:
            put(p, params, name, zone_id(p, reason->zone));
            break;
        case PLAN_MEMBER_BLOCK:
            put(p, params, name, block_id(p, reason->block));
            break;
        case PLAN_MEMBER_OTHER:
            put(p, params, name, block_id(p, reason->other));
            break;
        case PLAN_MEMBER_A:
            put(p, params, name, number(reason->a, 2));
            break;
        case PLAN_MEMBER_B:
            put(p, params, name, number(reason->b, 2));
            break;
        case PLAN_MEMBER_AT:
            put_time(p, params, name, reason->at_s);
            break;
        case PLAN_MEMBER_UNTIL:
            put_time(p, params, name, reason->until_s);
            break;
        case PLAN_MEMBER_YES:
            put(p, params, name, json_boolean(reason->b > 0.0));
            break;
        case PLAN_MEMBER_DOUBT:
            put(p, params, name, json_string(plan_doubt_name((unsigned)reason->a)));
            break;
        case PLAN_MEMBER_NONE:
            break;
        default:
            put(p, params, name, said_json(p, word->params[i].member, reason->other));
            break;
        }
    }
    return params;
}

static json_t *reason_json(struct printer *p, const struct plan_reason *reason)
{
    json_t *object = json_object();
    put(p, object, "code", json_string(plan_word_of(reason->code)->name));
    put(p, object, "params", params_of(p, reason));
    return object;
}

static json_t *nursery_json(struct printer *p)
{
    const struct config *config = p->view->config;
    json_t *object = json_object();
    put(p, object, "name", json_string(config->nursery_name));
    put(p, object, "time_zone", json_string(config->time_zone));
    put(p, object, "latitude_deg", number(config->site.latitude_deg, 4));
    put(p, object, "longitude_deg", number(config->site.longitude_deg, 4));
    return object;
}

static bool is_tomorrow(const struct printer *p, int64_t t_s)
{
    const struct plan_day *day = &p->view->result->days[1];
    return t_s >= day->start_s && t_s < day->end_s;
}

static json_t *tomorrow_json(struct printer *p)
{
    const struct plan_result *result = p->view->result;
    const struct plan_day *day = &result->days[1];
    json_t *object = json_object();
    json_int_t zones = 0;
    json_int_t runs = 0;
    int64_t from_s = 0;
    int64_t to_s = 0;
    double flow_l_min = 0.0;
    size_t left_out = 0;
    for (size_t s = 0; s < p->nursery->supply_count; s++)
        flow_l_min = fmax(flow_l_min, p->nursery->supplies[s].flow_l_min);
    for (size_t r = 0; r < result->run_count; r++) {
        const struct plan_run *run = &result->runs[r];
        bool again = false;
        if (!is_tomorrow(p, run->start_s))
            continue;
        for (size_t i = 0; i < r; i++)
            again |= is_tomorrow(p, result->runs[i].start_s) && result->runs[i].zone == run->zone;
        zones += again ? 0 : 1;
        runs++;
        from_s = from_s == 0 ? run->start_s : from_s;
        to_s = run->end_s > to_s ? run->end_s : to_s;
    }
    put(p, object, "date", date_of(day->local_days));
    put(p, object, "zones", json_integer(zones));
    put(p, object, "runs", json_integer(runs));
    put_time(p, object, "from", from_s);
    put_time(p, object, "to", to_s);
    put(p, object, "litres", number(day->litres, 0));
    put(p, object, "peak_l_min", number(day->peak_l_min, 1));
    put(p, object, "supply_flow_l_min", number(flow_l_min, 1));
    put(p, object, "fits", json_boolean(plan_fits_tomorrow(p->view, &left_out)));
    return object;
}

static json_t *first_dry_json(struct printer *p)
{
    const struct plan_result *result = p->view->result;
    size_t first = plan_first_dry(p->view);
    if (first == NURSERY_NONE)
        return json_null();
    json_t *object = json_object();
    put(p, object, "block", block_id(p, first));
    put(p, object, "zone", zone_id(p, p->nursery->blocks[first].zone));
    put_time(p, object, "safe_until", result->blocks[first].next_s);
    put_time(p, object, "safe_until_if_hot", result->blocks[first].next_hot_s);
    return object;
}

static json_t *run_json(struct printer *p, const struct plan_run *run)
{
    json_t *object = json_object();
    json_t *reasons = json_array();
    char id[RECORDS_RUN_ID_SIZE];
    put(p, object, "id", json_string(plan_run_id(p->view, run, id)));
    put(p, object, "zone", zone_id(p, run->zone));
    put_time(p, object, "start", run->start_s);
    put_time(p, object, "end", run->end_s);
    put(p, object, "minutes", json_integer(run->minutes));
    put(p, object, "pulses", json_integer(run->pulses));
    put(p, object, "pulse_minutes", json_integer(run->pulse_min));
    put(p, object, "pause_minutes", json_integer(run->pause_min));
    put(p, object, "litres", number(run->litres, 0));
    put(p, object, "litres_from", number(run->litres_from, 0));
    put(p, object, "litres_to", number(run->litres_to, 0));
    put(p, object, "flow_l_min", number(run->flow_l_min, 1));
    put(p, object, "depth_mm", number(run->depth_mm, 1));
    put(p, object, "litres_pot", number(run->litres_pot, 3));
    put(p, object, "by_hand", json_boolean(run->by_hand));
    put(p, object, "underway", json_boolean(run->underway));
    put(p, object, "purpose", json_string(plan_purpose_name(run->purpose)));
    for (size_t i = 0; i < run->reason_count; i++)
        push(p, reasons, reason_json(p, &run->reasons[i]));
    put(p, object, "reasons", reasons);
    put(p, object, "sure", json_string(plan_sure_name(run->sure)));
    return object;
}

/* The hours that start on the day in which any zone may run. */
static json_t *windows_json(struct printer *p, const struct plan_day *day)
{
    const struct plan_result *result = p->view->result;
    json_t *windows = json_array();
    for (size_t w = 0; w < result->opening_count; w++) {
        const struct plan_opening *opening = &result->openings[w];
        if (opening->start_s < day->start_s || opening->start_s >= day->end_s)
            continue;
        json_t *object = json_object();
        put_time(p, object, "start", opening->start_s);
        put_time(p, object, "end", opening->end_s);
        push(p, windows, object);
    }
    return windows;
}

static json_t *day_json(struct printer *p, size_t index)
{
    const struct plan_day *day = &p->view->result->days[index];
    const struct plan_result *result = p->view->result;
    json_t *object = json_object();
    json_t *runs = json_array();
    put(p, object, "date", date_of(day->local_days));
    put(p, object, "et0_mm", number(day->et0_mm, 1));
    put(p, object, "rain_mm", number(day->rain_mm, 1));
    put(p, object, "temperature_max_c", number(day->temperature_max_c, 1));
    put(p, object, "temperature_min_c", number(day->temperature_min_c, 1));
    put(p, object, "weather_kind", json_string(weather_kind_name(day->kind)));
    put(p, object, "litres", number(day->litres, 0));
    put(p, object, "peak_l_min", number(day->peak_l_min, 1));
    put(p, object, "windows", windows_json(p, day));
    for (size_t r = 0; r < result->run_count; r++)
        if (result->runs[r].start_s >= day->start_s && result->runs[r].start_s < day->end_s)
            push(p, runs, run_json(p, &result->runs[r]));
    put(p, object, "runs", runs);
    return object;
}

static json_t *positive(double value, int places)
{
    return value > 0.0 ? number(value, places) : json_null();
}

/* From what a pot lacked to the minutes of the zone's next run. */
static json_t *sizing_json(struct printer *p, size_t index)
{
    if (index == NURSERY_NONE)
        return json_null();
    const struct plan_run *run = &p->view->result->runs[index];
    const struct plan_sizing *sizing = &run->sizing;
    bool one = sizing->block != NURSERY_NONE;
    bool thumb = one && sizing->rule_of_thumb;
    json_t *object = json_object();
    char id[RECORDS_RUN_ID_SIZE];
    put(p, object, "run", json_string(plan_run_id(p->view, run, id)));
    put(p, object, "led_by", json_string(plan_led_name(sizing->led)));
    put(p, object, "block", block_id(p, sizing->block));
    put(p, object, "side",
        one ? json_string(sizing->soak ? "dry_quarter" : "average") : json_null());
    put(p, object, "full_l", positive(sizing->full_l, 5));
    put(p, object, "water_l", one ? number(sizing->water_l, 5) : json_null());
    put(p, object, "lacks_l", one ? number(sizing->lacks_l, 5) : json_null());
    put(p, object, "leaching_pct",
        one && !sizing->soak ? number(100.0 * sizing->leaching, 1) : json_null());
    put(p, object, "uniformity_times",
        sizing->soak ? json_null() : positive(sizing->multiplier, 4));
    put(p, object, "dry_share_pct", positive(100.0 * sizing->soak_share, 1));
    put(p, object, "soak_times", positive(sizing->margin * sizing->soak_share, 4));
    put(p, object, "margin", positive(sizing->margin, 4));
    put(p, object, "canopy_cm", thumb ? number(sizing->canopy_cm, 1) : json_null());
    put(p, object, "ground_m2", thumb ? number(sizing->ground_m2, 5) : json_null());
    put(p, object, "top_m2", positive(sizing->top_m2, 6));
    put(p, object, "capture", positive(sizing->capture, 4));
    put(p, object, "pot_l_min", positive(sizing->litres_pot_min, 7));
    put(p, object, "all_l", positive(sizing->all_l, 1));
    put(p, object, "flow_l_min", positive(sizing->all_l > 0.0 ? run->flow_l_min : 0.0, 1));
    put(p, object, "need_minutes", number(sizing->need_min, 3));
    put(p, object, "least_minutes", json_integer(sizing->least_min));
    put(p, object, "most_minutes",
        sizing->most_min < TIMETABLE_MINUTES ? json_integer(sizing->most_min) : json_null());
    return object;
}

static json_t *zone_json(struct printer *p, size_t z)
{
    const struct nursery_zone *zone = &p->nursery->zones[z];
    const struct plan_zone *planned = &p->view->result->zones[z];
    json_t *object = json_object();
    json_t *blocks = json_array();
    json_t *reasons = json_array();
    put(p, object, "id", zone_id(p, z));
    put(p, object, "name", json_string(p->records->zones[z].label.name));
    put(p, object, "post", json_string(p->records->zones[z].post));
    int walk_order = p->records->zones[z].walk_order;
    put(p, object, "walk_order", walk_order > 0 ? json_integer(walk_order) : json_null());
    put(p, object, "method", json_string(plan_method_name(zone->method)));
    put(p, object, "supply", json_string(p->records->supplies[zone->supply].id));
    put(p, object, "priority", json_integer(zone->priority));
    for (size_t b = 0; b < p->nursery->block_count; b++)
        if (p->nursery->blocks[b].zone == z)
            push(p, blocks, block_id(p, b));
    put(p, object, "blocks", blocks);
    put(p, object, "state", json_string(plan_zone_state_name(planned->state)));
    push(p, reasons, reason_json(p, &planned->reason));
    put(p, object, "reasons", reasons);
    put_time(p, object, "next_run_at", planned->next_run_s);
    put(p, object, "rate_mm_h",
        positive(zone->method == DELIVERY_OVERHEAD ? zone->rate_mm_h : 0.0, 2));
    bool emitters = zone->method == DELIVERY_DRIP || zone->method == DELIVERY_SPRAY;
    put(p, object, "emitters_per_pot", positive(emitters ? zone->emitters_per_pot : 0.0, 3));
    put(p, object, "emitter_l_h", positive(emitters ? zone->emitter_l_h : 0.0, 3));
    put(p, object, "sizing", sizing_json(p, planned->sized_run));
    return object;
}

static json_t *supply_json(struct printer *p, size_t s)
{
    const struct nursery_supply *supply = &p->nursery->supplies[s];
    json_t *object = json_object();
    put(p, object, "id", json_string(p->records->supplies[s].id));
    put(p, object, "name", json_string(p->records->supplies[s].name));
    put(p, object, "flow_l_min", number(supply->flow_l_min, 1));
    put(p, object, "valves_at_once", json_integer((json_int_t)supply->valves_at_once));
    put(p, object, "daily_limit_l",
        supply->daily_limit_l > 0.0 ? number(supply->daily_limit_l, 0) : json_null());
    return object;
}

static json_t *pot_json(struct printer *p, size_t i)
{
    const struct pot_shape *pot = &p->nursery->pots[i];
    json_t *object = json_object();
    put(p, object, "id", json_string(p->records->pots[i].id));
    put(p, object, "name", json_string(p->records->pots[i].name));
    put(p, object, "form", json_string(pot->form == POT_SQUARE ? "square" : "round"));
    put(p, object, "top_cm", number(pot->top_cm, 2));
    put(p, object, "bottom_cm", number(pot->bottom_cm, 2));
    put(p, object, "fill_height_cm", number(pot->fill_height_cm, 2));
    put(p, object, "height_cm", pot->height_cm > 0.0 ? number(pot->height_cm, 2) : json_null());
    put(p, object, "volume_l", pot->volume_l > 0.0 ? number(pot->volume_l, 3) : json_null());
    return object;
}

static json_t *mix_json(struct printer *p, size_t m)
{
    return mix_view_json(p->records, m);
}

/* The state of a block in force at the plan's now. */
static const struct nursery_state *state_of(const struct printer *p, size_t b)
{
    const struct nursery_block *block = &p->nursery->blocks[b];
    return &p->nursery->states[block->first_state + block->state_count - 1];
}

static json_t *block_json(struct printer *p, size_t b)
{
    const struct plan_block *block = &p->view->result->blocks[b];
    const struct pot_figures *figures = &block->figures;
    const struct nursery_state *state = state_of(p, b);
    json_t *object = json_object();
    put(p, object, "id", block_id(p, b));
    put(p, object, "name", json_string(p->records->blocks[b].name));
    put(p, object, "zone", zone_id(p, p->nursery->blocks[b].zone));
    put(p, object, "pot", json_string(p->records->pots[state->pot].id));
    put(p, object, "mix", json_string(p->records->mixes[state->mix].label.id));
    put(p, object, "batch", json_string(p->records->mixes[state->mix].batch));
    put(p, object, "mix_tested", json_string(p->records->mixes[state->mix].tested));
    put(p, object, "pots", number(block->pots, 0));
    put(p, object, "water_l", number(block->water_l, 4));
    put(p, object, "volume_l", number(figures->volume_l, 4));
    put(p, object, "capacity_l", number(figures->water_l, 4));
    put(p, object, "full_l", number(block->ceiling_l, 4));
    put(p, object, "available_l", number(block->available_l, 4));
    put(p, object, "depletion_l", number(block->depletion_l, 4));
    put(p, object, "depletion_pct", number(100.0 * block->depletion_l / block->available_l, 1));
    put(p, object, "driest_pct", number(100.0 * block->driest_l / block->available_l, 1));
    put(p, object, "refill_pct", number(100.0 * block->refill_l / block->available_l, 1));
    put(p, object, "air_pct", number(100.0 * block->air, 1));
    put(p, object, "air_lowest_pct", number(100.0 * block->air_lowest, 1));
    put(p, object, "air_at_capacity_pct", number(100.0 * figures->air_space, 1));
    put(p, object, "air_at_capacity_sd_pct", number(100.0 * figures->air_space_sd, 1));
    put(p, object, "air_lost_pct", number(100.0 * block->air_lost, 1));
    put(p, object, "findings",
        mix_view_codes(&p->nursery->pots[state->pot], figures, &p->nursery->mixes[state->mix]));
    put(p, object, "wet_layer_cm", number(figures->wet_layer_cm, 1));
    put(p, object, "saturated_layer_cm", number(figures->saturated_layer_cm, 1));
    put(p, object, "use_today_l", number(block->use_today_l, 4));
    put(p, object, "use_tomorrow_l", number(block->use_tomorrow_l, 4));
    put(p, object, "interval_d", number(block->interval_d, 2));
    put_time(p, object, "next_at", block->next_s);
    put_time(p, object, "next_from", block->next_from_s);
    put_time(p, object, "next_to", block->next_to_s);
    put(p, object, "harm_chance_pct", number(100.0 * block->harm_chance, 0));
    put_time(p, object, "known_since", block->known_s);
    put(p, object, "known_how", json_string(plan_known_name(block->known)));
    put_time(p, object, "forgotten_at", block->forgotten_s);
    put(p, object, "unsure", json_boolean(block->unsure));
    put(p, object, "water_if_ran_l", number(block->water_wet_l, 4));
    put(p, object, "given_ahead_l", number(block->given_l, 3));
    put(p, object, "drained_ahead_l", number(block->lost_l, 3));
    put(p, object, "move_to", zone_id(p, block->move_to));
    put(p, object, "ground_m2", number(state->ground_m2, 5));
    put(p, object, "canopy_cm", number(block->canopy_cm, 1));
    put(p, object, "canopy_old", json_boolean(block->canopy_old));
    return object;
}

static json_t *waiting_json(struct printer *p)
{
    json_t *array = json_array();
    for (size_t z = 0; z < p->nursery->zone_count; z++) {
        const struct plan_zone *zone = &p->view->result->zones[z];
        if (zone->state != PLAN_ZONE_WAIT && zone->state != PLAN_ZONE_WAIT_RAIN &&
            zone->state != PLAN_ZONE_HELD)
            continue;
        json_t *object = json_object();
        put(p, object, "zone", zone_id(p, z));
        put(p, object, "reason", reason_json(p, &zone->reason));
        put_time(p, object, "until", zone->wait_until_s);
        push(p, array, object);
    }
    return array;
}

static json_t *unplaced_json(struct printer *p)
{
    const struct plan_result *result = p->view->result;
    json_t *array = json_array();
    for (size_t u = 0; u < result->unplaced_count; u++) {
        const struct plan_unplaced *unplaced = &result->unplaced[u];
        if (!unplaced->ordered && !is_tomorrow(p, unplaced->window_start_s))
            continue;
        json_t *object = json_object();
        put(p, object, "zone", zone_id(p, unplaced->zone));
        put(p, object, "date",
            date_of(
                civil_days(civil_local_date(&p->nursery->time_zone, unplaced->window_start_s))));
        put(p, object, "ordered", json_boolean(unplaced->ordered));
        put(p, object, "minutes", json_integer(unplaced->minutes));
        put(p, object, "litres", number(unplaced->litres, 0));
        put(p, object, "reason", reason_json(p, &unplaced->reason));
        push(p, array, object);
    }
    return array;
}

static json_t *hand_json(struct printer *p, size_t i)
{
    const struct plan_hand *hand = &p->view->result->hands[i];
    json_t *object = json_object();
    put(p, object, "zone", zone_id(p, hand->zone));
    put(p, object, "block", block_id(p, hand->block));
    put_time(p, object, "limit_at", hand->limit_s);
    put(p, object, "litres_pot", number(hand->litres_pot, 3));
    put(p, object, "litres", number(hand->litres, 0));
    put(p, object, "hose_minutes", number(ceil(hand->hose_min), 0));
    put(p, object, "reason", reason_json(p, &hand->reason));
    return object;
}

/* What a notice is about: the first of these that it names. Where it speaks of the first of several
 * blocks, that one may change from plan to plan: then it is about their zone, or the nursery. */
static const char *subject_of(const json_t *params)
{
    static const char *const names[] = {"block", "zone", "supply", "source", "requirement"};
    bool several = json_object_get(params, "blocks") != NULL;
    for (size_t i = several ? 1 : 0; i < sizeof names / sizeof names[0]; i++) {
        const char *subject = json_string_value(json_object_get(params, names[i]));
        if (subject)
            return subject;
    }
    return "";
}

/* Since when plans have said this; noted for the next one. */
static int64_t since_of(struct printer *p, const char *code, const json_t *params)
{
    struct plan_said *said = p->view->said;
    struct records_notice notice = {.since_s = p->view->input->now_s};
    snprintf(notice.code, sizeof notice.code, "%s", code);
    snprintf(notice.subject, sizeof notice.subject, "%.40s", subject_of(params));
    const struct records_notice *before =
        p->records->notice_count > 0
            ? bsearch(&notice, p->records->notices, p->records->notice_count, sizeof notice,
                      records_notice_order)
            : NULL;
    if (before)
        notice.since_s = before->since_s;
    if (said) {
        struct records_notice *larger =
            realloc(said->notices, (said->count + 1) * sizeof *said->notices);
        p->failed |= !larger;
        if (larger) {
            said->notices = larger;
            said->notices[said->count++] = notice;
        }
    }
    return notice.since_s;
}

static void push_notice(struct printer *p, json_t *notices, const char *code,
                        enum plan_severity severity, json_t *params)
{
    json_t *object = json_object();
    put(p, object, "code", json_string(code));
    put(p, object, "severity", json_string(plan_severity_name(severity)));
    put_time(p, object, "since", since_of(p, code, params));
    put(p, object, "params", params);
    push(p, notices, object);
}

static void push_weather_notices(struct printer *p, json_t *notices)
{
    struct weather_report report = plan_weather_report(p->view);
    struct weather_said said[WEATHER_SAID_MOST];
    size_t count = weather_notices(&report, said);
    for (size_t i = 0; i < count; i++)
        push_notice(p, notices, weather_notice_name(said[i].notice), PLAN_WATCH,
                    weather_notice_params(&report, &said[i]));
}

/* How far apart the clocks are, in hours. */
static void push_clock_notice(struct printer *p, json_t *notices)
{
    const struct store_clock *clock = p->view->clock;
    if (!clock)
        return;
    json_t *params = json_object();
    put(p, params, "apart_h",
        number(fabs((double)(clock->wrong_s - clock->there_s)) / CIVIL_HOUR_S, 2));
    push_notice(p, notices, "clock_wrong", PLAN_ACT, params);
}

static json_t *notices_json(struct printer *p)
{
    const struct plan_result *result = p->view->result;
    json_t *array = json_array();
    push_clock_notice(p, array);
    for (int severity = PLAN_ACT; severity <= PLAN_INFO; severity++) {
        for (size_t n = 0; n < result->notice_count; n++) {
            const struct plan_word *word = plan_word_of(result->notices[n].code);
            if ((int)word->severity == severity)
                push_notice(p, array, word->name, word->severity,
                            params_of(p, &result->notices[n]));
        }
        if (severity == PLAN_WATCH)
            push_weather_notices(p, array);
    }
    return array;
}

/* --- the text ------------------------------------------------------------------------------- */

/* Printed member by member and list by list: the whole as a tree would take ten times the room of
 * its text, 150 MB of 10,000 blocks. */
static int append(const char *bytes, size_t size, void *context)
{
    struct printer *p = context;
    if (p->room - p->length <= size) {
        size_t room = 2 * p->room + size + TEXT_ROOM;
        char *larger = realloc(p->text, room);
        if (!larger)
            return -1;
        p->text = larger;
        p->room = room;
    }
    memcpy(p->text + p->length, bytes, size);
    p->length += size;
    p->text[p->length] = '\0';
    return 0;
}

static void print(struct printer *p, const char *text)
{
    if (append(text, strlen(text), p) != 0)
        p->failed = true;
}

static void print_value_take(struct printer *p, json_t *value)
{
    if (json_dump_callback(value, append, p, JSON_COMPACT | JSON_ENCODE_ANY | DIGITS) != 0)
        p->failed = true;
    json_decref(value);
}

static void print_name(struct printer *p, const char *name)
{
    print(p, p->length > 1 ? ",\"" : "\"");
    print(p, name);
    print(p, "\":");
}

static void print_member_take(struct printer *p, const char *name, json_t *value)
{
    print_name(p, name);
    print_value_take(p, value);
}

static void print_members_take(struct printer *p, json_t *object)
{
    const char *name;
    json_t *value;
    json_object_foreach(object, name, value) print_member_take(p, name, json_incref(value));
    json_decref(object);
}

static void print_list(struct printer *p, const char *name, size_t count,
                       json_t *(*item)(struct printer *, size_t))
{
    print_name(p, name);
    print(p, "[");
    for (size_t i = 0; i < count && !p->failed; i++) {
        if (i > 0)
            print(p, ",");
        print_value_take(p, item(p, i));
    }
    print(p, "]");
}

json_t *plan_reason_json(const struct plan_view *view, const struct plan_reason *reason)
{
    struct printer p = {.view = view, .nursery = view->input->nursery, .records = view->records};
    json_t *object = reason_json(&p, reason);
    if (!p.failed)
        return object;
    json_decref(object);
    return NULL;
}

/* Of the crew's sheet: which one, and what is otherwise since. */
static json_t *sheet_json_of(struct printer *p)
{
    static const char *const names[] = {"number", "for", "issued_at", "issued_at_s", "exceptions"};
    json_t *object = json_object();
    if (!p->view->sheet) {
        json_decref(object);
        return json_null();
    }
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++)
        if (json_object_set(object, names[i], json_object_get(p->view->sheet, names[i])) != 0)
            p->failed = true;
    return object;
}

/* What stands before the lists. */
static json_t *head_json(struct printer *p)
{
    struct weather_report report = plan_weather_report(p->view);
    json_t *head = json_object();
    json_t *summary = json_object();
    put(p, head, "schema", json_integer(1));
    put(p, head, "nursery", nursery_json(p));
    put_time(p, head, "made_at", p->view->input->now_s);
    put_time(p, head, "good_until", p->view->result->good_until_s);
    put(p, head, "weather", weather_json(&report));
    put(p, summary, "tomorrow", tomorrow_json(p));
    put(p, summary, "first_dry", first_dry_json(p));
    put(p, head, "summary", summary);
    return head;
}

static json_t *cautions_json(struct printer *p)
{
    json_t *cautions = json_array();
    for (size_t i = 0; plan_cautions[i]; i++)
        push(p, cautions, json_string(plan_cautions[i]));
    return cautions;
}

char *plan_json_print(const struct plan_view *view)
{
    struct printer p = {.view = view, .nursery = view->input->nursery, .records = view->records};
    const struct plan_result *result = view->result;
    print(&p, "{");
    print_members_take(&p, head_json(&p));
    print_list(&p, "days", result->day_count, day_json);
    print_list(&p, "zones", p.nursery->zone_count, zone_json);
    print_list(&p, "supplies", p.nursery->supply_count, supply_json);
    print_list(&p, "pots", p.nursery->pot_count, pot_json);
    print_list(&p, "mixes", p.nursery->mix_count, mix_json);
    print_list(&p, "blocks", p.nursery->block_count, block_json);
    print_member_take(&p, "waiting", waiting_json(&p));
    print_member_take(&p, "unplaced", unplaced_json(&p));
    print_list(&p, "by_hand", result->hand_count, hand_json);
    print_member_take(&p, "notices", notices_json(&p));
    print_member_take(&p, "sheet", sheet_json_of(&p));
    print_member_take(&p, "cautions", cautions_json(&p));
    print(&p, "}");
    char *fitted = p.failed ? NULL : realloc(p.text, p.length + 1);
    if (!fitted)
        free(p.text);
    return fitted;
}
