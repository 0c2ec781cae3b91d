/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "plan.h"

#include <math.h>
#include <string.h>
#include <gsl/gsl_heapsort.h>

#include "plan_work.h"

/* --- room ------------------------------------------------------------------------------------ */

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
    p->context.figures = carve(room, &used, PLAN_FIGURES_KEPT, sizeof(struct plan_figures));
    p->context.frozen = carve(room, &used, input->hour_count, 1);
    p->context.zone_share_l = carve(room, &used, nursery->zone_count, sizeof(double));
    p->works = carve(room, &used, nursery->block_count, sizeof(struct plan_work));
    p->starts = carve(room, &used, nursery->block_count, sizeof(struct plan_start));
    p->ensemble = carve(room, &used, 1, sizeof(struct ensemble_weather));
    p->zones = carve(room, &used, nursery->zone_count, sizeof(struct plan_zone_work));
    p->supplies = carve(room, &used, nursery->supply_count, sizeof(struct plan_supply_work));
    p->turns = carve(room, &used, plan_turns_most(input), sizeof(struct plan_turn));
    p->requests = carve(room, &used, nursery->zone_count, sizeof(struct plan_request));
    p->frost = carve(room, &used, TIMETABLE_MINUTES, sizeof(bool));
    p->frost_or_wind = carve(room, &used, TIMETABLE_MINUTES, sizeof(bool));
    p->frozen = carve(room, &used, TIMETABLE_MINUTES, sizeof(bool));
    p->trial = carve(room, &used, plan_order_bytes(nursery), 1);
    p->start = carve(room, &used, plan_level_bytes(nursery), 1);
    p->required_done = carve(room, &used, nursery->requirement_count, sizeof(bool));
    p->order = carve(room, &used, plan_runs_most(input), sizeof *p->order);
    return used;
}

size_t plan_room_bytes(const struct plan_input *input)
{
    struct planning p;
    return lay_out(input, NULL, &p) + 16;
}

size_t plan_runs_most(const struct plan_input *input)
{
    return plan_turns_most(input) + input->nursery->run_count + 1;
}

size_t plan_notices_most(const struct plan_input *input)
{
    return 8 * input->nursery->block_count + 14 * input->nursery->zone_count +
           input->nursery->supply_count + input->nursery->requirement_count + 20;
}

size_t plan_openings_most(const struct plan_input *input)
{
    return plan_turns_most(input);
}

/* gsl_heapsort moves elements byte by byte, often: of large ones only the order is sorted, and each
 * then moved once. */
void plan_sort(struct planning *p, void *array, size_t count, size_t size,
               gsl_comparison_fn_t order)
{
    unsigned char *elements = array;
    unsigned char held[PLAN_SORTED_BYTES];
    _Static_assert(sizeof(struct plan_run) <= sizeof held, "the largest that is sorted");
    if (count < 2)
        return;
    gsl_heapsort_index(p->order, array, count, size, order);
    for (size_t i = 0; i < count; i++) {
        size_t to = i;
        if (p->order[i] == i)
            continue;
        memcpy(held, elements + i * size, size);
        for (size_t from = p->order[to]; from != i; from = p->order[to]) {
            memcpy(elements + to * size, elements + from * size, size);
            p->order[to] = to;
            to = from;
        }
        memcpy(elements + to * size, held, size);
        p->order[to] = to;
    }
}

/* --- rounds: openings that overlap are decided together, then placed by class and need -------- */

static int by_urgency(const void *a, const void *b)
{
    const struct plan_request *x = a;
    const struct plan_request *y = b;
    if (x->rank != y->rank)
        return x->rank < y->rank ? -1 : 1;
    if (x->passes_s != y->passes_s)
        return x->passes_s < y->passes_s ? -1 : 1;
    return x->zone < y->zone ? -1 : x->zone > y->zone;
}

static void wait_for_rain(struct planning *p, const struct plan_request *request, int64_t until_s)
{
    size_t index = p->turns[request->turn].zone;
    struct plan_zone *zone = &p->result->zones[index];
    zone->state = PLAN_ZONE_WAIT_RAIN;
    zone->reason = plan_reason_of(PLAN_WAITS_FOR_RAIN, index, request->lead);
    zone->wait_until_s = until_s;
    for (size_t h = plan_hour_at(&p->context, p->context.input->now_s);
         h < plan_hour_at(&p->context, until_s); h++)
        if (p->context.input->hours[h].rain_kind != WEATHER_NORMAL)
            zone->reason.a += p->context.input->hours[h].rain_mm;
}

/* Without the rain that is forecast until the opening, and with no run before it, a block would be
 * due in it: it is not wet, it is expected to be. When the rain fails the opening is still to come.
 */
static bool rain_before(const struct planning *p, const struct plan_request *request)
{
    const struct plan_turn *turn = &p->turns[request->turn];
    bool rains = false;
    bool due = false;
    for (size_t r = 0; r < p->result->run_count; r++)
        if (p->result->runs[r].zone == turn->zone && p->result->runs[r].start_s < turn->start_s)
            return false;
    for (size_t h = p->context.now_hour; h < plan_hour_at(&p->context, turn->start_s); h++)
        rains |= p->context.input->hours[h].rain_kind == WEATHER_FORECAST &&
                 p->context.input->hours[h].rain_mm > 0.0;
    for (size_t b = p->zones[turn->zone].first_block; b != NURSERY_NONE; b = p->works[b].next)
        due |= plan_decides(p, &p->works[b]) && p->result->blocks[b].next_s != 0 &&
               p->result->blocks[b].next_s < request->next_by_s;
    return rains && due;
}

/* What waiting looks like, for the zone's state on the page. */
static void note_decision(struct planning *p, const struct plan_request *request)
{
    const struct plan_turn *turn = &p->turns[request->turn];
    struct plan_zone *zone = &p->result->zones[turn->zone];
    const struct civil_zone *time_zone = &p->context.nursery->time_zone;
    int64_t day = civil_days(civil_local_date(time_zone, turn->start_s));
    if (request->order != NURSERY_NONE ||
        day != p->context.first_day + (int64_t)p->context.today + 1)
        return;
    zone->openings_tomorrow++;
    if (request->run || zone->state == PLAN_ZONE_WAIT_RAIN || zone->state == PLAN_ZONE_EMPTY)
        return;
    if (request->rain_hold) {
        const struct plan_turn *next = plan_turn_next(p, turn);
        bool late = p->context.nursery->zones[turn->zone].method == DELIVERY_OVERHEAD;
        wait_for_rain(p, request, late && next ? next->end_s : request->next_by_s);
        return;
    }
    if (rain_before(p, request)) {
        wait_for_rain(p, request, turn->end_s);
        return;
    }
    zone->state = PLAN_ZONE_WAIT;
    zone->reason = plan_reason_of(PLAN_STILL_WET, turn->zone, NURSERY_NONE);
    zone->wait_until_s = 0;
    for (size_t b = p->zones[turn->zone].first_block; b != NURSERY_NONE; b = p->works[b].next) {
        const struct plan_work *work = &p->works[b];
        struct plan_lookahead look = {true, 1.0, 0.0, work->refill_l};
        int64_t at_s = plan_decides(p, work)
                           ? plan_block_passes(&p->context, work, p->context.hour_count, &look)
                           : 0;
        if (at_s != 0 && (zone->wait_until_s == 0 || at_s < zone->wait_until_s)) {
            zone->wait_until_s = at_s;
            zone->reason.block = b;
        }
    }
}

/* Picks the next round: openings from the first unused one on that overlap, each zone once. An
 * order comes by itself, before the openings that start no sooner. */
static enum status decide_round(struct planning *p, size_t first, size_t *count)
{
    int64_t end_s = p->turns[first].end_s;
    size_t n = 0;
    for (size_t t = first; t < p->turn_count && p->turns[t].start_s < end_s; t++) {
        struct plan_zone_work *zone = &p->zones[p->turns[t].zone];
        if (p->turns[t].used)
            continue;
        if (zone->last_round == first + 1 || (n > 0 && p->turns[first].order != NURSERY_NONE) ||
            p->turns[t].start_s >= p->turns[first].start_s + CIVIL_DAY_S)
            break;
        enum status status = plan_decide(p, t, &p->requests[n]);
        if (status != STATUS_OK)
            return status;
        p->turns[t].used = true;
        zone->last_round = first + 1; /* 0: in none yet */
        if (p->turns[t].end_s > end_s)
            end_s = p->turns[t].end_s;
        note_decision(p, &p->requests[n++]);
    }
    *count = n;
    return STATUS_OK;
}

enum status plan_rounds(struct planning *p)
{
    for (size_t t = 0; t < p->turn_count; t++) {
        size_t count = 0;
        if (p->turns[t].used)
            continue;
        enum status status = decide_round(p, t, &count);
        if (status != STATUS_OK)
            return status;
        plan_sort(p, p->requests, count, sizeof *p->requests, by_urgency);
        status = plan_order(p, count);
        if (status != STATUS_OK)
            return status;
        for (size_t i = 0; i < count; i++) {
            if (p->requests[i].run)
                status = plan_place(p, &p->requests[i]);
            if (status != STATUS_OK)
                return status;
        }
    }
    return STATUS_OK;
}
/* --- before and after ------------------------------------------------------------------------ */

static bool zone_is_sound(const struct nursery *nursery, const struct nursery_zone *zone)
{
    return zone->supply < nursery->supply_count && zone->pulses >= 1 && zone->flow_l_min > 0.0 &&
           zone->flow_l_min <= 1e6 && zone->pause_min >= 0.0 && zone->pause_min <= 1440.0 &&
           (zone->method != DELIVERY_OVERHEAD ||
            (zone->rate_mm_h > 0.0 && zone->rate_mm_h <= 500.0));
}

static bool block_is_sound(const struct nursery *nursery, const struct nursery_block *block)
{
    if (block->zone >= nursery->zone_count || block->state_count == 0 ||
        block->first_state + block->state_count > nursery->state_count ||
        !(block->refill_fraction > 0.0 && block->refill_fraction <= 1.0) ||
        !(block->k_cal > 0.0 && block->k_cal <= 10.0))
        return false;
    for (size_t s = block->first_state; s < block->first_state + block->state_count; s++) {
        const struct nursery_state *state = &nursery->states[s];
        if (state->zone >= nursery->zone_count || !(state->pots >= 0.0) ||
            (state->cover != NURSERY_NONE && state->cover >= nursery->cover_count))
            return false;
    }
    return nursery->states[block->first_state + block->state_count - 1].zone == block->zone;
}

static bool optional(size_t index, size_t count)
{
    return index == NURSERY_NONE || index < count;
}

static bool wishes_are_sound(const struct nursery *nursery)
{
    bool good = true;
    for (size_t i = 0; i < nursery->order_count; i++) {
        const struct nursery_order *order = &nursery->orders[i];
        good &= order->zone < nursery->zone_count && optional(order->block, nursery->block_count) &&
                order->minutes >= 0.0 && order->minutes <= 1440.0 && order->litres >= 0.0 &&
                order->litres <= 1e9;
    }
    for (size_t i = 0; i < nursery->hold_count; i++) {
        const struct nursery_hold *hold = &nursery->holds[i];
        good &= optional(hold->zone, nursery->zone_count) &&
                optional(hold->block, nursery->block_count) &&
                optional(hold->supply, nursery->supply_count) && hold->to_s > hold->from_s &&
                status_within(hold->allowed, 0.0, 1.0);
    }
    for (size_t i = 0; i < nursery->requirement_count; i++)
        good &= nursery->requirements[i].zone < nursery->zone_count &&
                status_within(nursery->requirements[i].minutes, 0.0, 1440.0);
    return good;
}

static bool inputs_are_sound(const struct plan_input *input)
{
    const struct nursery *nursery = input->nursery;
    if (input->days < 1 || input->days >= PLAN_DAYS_MAX || input->hour_count < 2 ||
        input->hour_count > 24 * (PLAN_LOCAL_DAYS_MAX - 2) ||
        input->now_s < input->hours[0].start_s ||
        input->now_s >= input->hours[input->hour_count - 1].start_s ||
        nursery->time_zone.count == 0)
        return false;
    for (size_t z = 0; z < nursery->zone_count; z++)
        if (!zone_is_sound(nursery, &nursery->zones[z]))
            return false;
    for (size_t b = 0; b < nursery->block_count; b++)
        if (!block_is_sound(nursery, &nursery->blocks[b]))
            return false;
    return wishes_are_sound(nursery);
}

static bool trace_is_sound(const struct plan_input *input, const struct plan_trace *trace)
{
    return trace->block < input->nursery->block_count && trace->from < trace->to &&
           trace->to <= input->hour_count &&
           input->hours[0].start_s + (int64_t)trace->from * CIVIL_HOUR_S <= input->now_s;
}

static enum status open_blocks(struct planning *p, size_t *culprit)
{
    enum status status = plan_zone_open(p, culprit);
    for (size_t b = 0; b < p->context.nursery->block_count && status == STATUS_OK; b++) {
        *culprit = b;
        status = plan_block_open(&p->context, b, &p->works[b]);
        if (status == STATUS_OK)
            status = plan_block_advance(&p->context, &p->works[b], p->context.now_hour);
        if (status == STATUS_OK)
            plan_block_meet_now(&p->context, &p->works[b]);
    }
    if (status == STATUS_OK)
        *culprit = NURSERY_NONE;
    return status;
}

/* A finger's word holds for three hot days [figure of 5 mm our choice]. */
static bool touch_is_stale(const struct plan_context *context, int64_t touched_s)
{
    const double hot_mm = 5.0;
    int hot_days = 0;
    for (size_t day = 0; day < context->today; day++) {
        double et0_mm = 0.0;
        int64_t start_s =
            civil_local_to_utc(&context->nursery->time_zone, context->first_day + (int64_t)day, 0);
        for (size_t h = 0; h < context->now_hour; h++)
            if (context->day_of_hour[h] == day)
                et0_mm += context->skies[0].et0_mm[h];
        hot_days += start_s >= touched_s && et0_mm >= hot_mm ? 1 : 0;
    }
    return hot_days >= 3;
}

static void report_block(const struct planning *p, const struct plan_work *work,
                         struct plan_block *out)
{
    const struct plan_context *context = &p->context;
    struct plan_lookahead look = {true, 1.0, 0.0, work->refill_l};
    size_t to = context->hour_count;
    *out = (struct plan_block){.figures = work->figures,
                               .pots = work->now->pots,
                               .ceiling_l = work->pot.ceiling_l,
                               .available_l = work->pot.available_l,
                               .water_l = work->average.state.water_l,
                               .refill_l = look.depletion_l,
                               .known = work->known,
                               .known_s = work->known_s,
                               .forgotten_s = work->forgotten_s,
                               .unsure = work->unsure,
                               .repels = work->driest.state.repels || work->average.state.repels,
                               .canopy_cm = work->canopy_cm,
                               .canopy_old = work->canopy_old};
    out->water_wet_l = work->unsure ? work->wet.state.water_l : out->water_l;
    if (out->known == PLAN_KNOWN_TOUCHED && touch_is_stale(context, work->touched_s))
        out->known = PLAN_KNOWN_ASSUMED;
    out->depletion_l = work->pot.ceiling_l - work->average.state.water_l;
    out->driest_l = work->pot.ceiling_l - work->driest.state.water_l;
    out->air = plan_block_air(work, context->input->now_s, &out->air_lost);
    out->interval_d = plan_block_interval_d(context, work);
    if (work->now->pots <= 0.0)
        return; /* a block with no plants asks for no water */
    out->next_s = plan_block_passes(context, work, to, &look);
    look.et_scale = PLAN_HOTTER;
    out->next_hot_s = plan_block_passes(context, work, to, &look);
    look.et_scale = 1.0;
    look.depletion_l = work->pot.stress_p * work->pot.available_l;
    out->stress_s = plan_block_passes(context, work, to, &look);
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
        memset(p->supplies[s].litres_on, 0, sizeof p->supplies[s].litres_on);
    }
    plan_hold_limits(p);
    plan_mark_weather(p, start_s);
    return STATUS_OK;
}

static double litres_of(const struct nursery_run *run, const struct nursery_zone *zone)
{
    return run->litres >= 0.0 ? run->litres
                              : zone->flow_l_min * (double)(run->end_s - run->start_s) / 60.0;
}

/* What ran today counts against today's limits, what is about to run against those of its day. */
static void count_todays_runs(struct planning *p)
{
    const struct nursery *nursery = p->context.nursery;
    int64_t today = p->context.first_day + (int64_t)p->context.today;
    for (size_t r = 0; r < nursery->run_count; r++) {
        const struct nursery_run *run = &nursery->runs[r];
        const struct nursery_zone *zone = &nursery->zones[run->zone];
        if (civil_days(civil_local_date(&nursery->time_zone, run->start_s)) >= today)
            plan_count_run(p, run->zone, run->start_s, litres_of(run, zone) / zone->flow_l_min,
                           litres_of(run, zone));
    }
}

static void set_pulses(struct plan_run *run, const struct nursery_run *planned)
{
    bool known = planned->pulses > 0;
    run->pulses = known ? planned->pulses : 1;
    run->pulse_min = known ? planned->pulse_min : run->minutes;
    run->pause_min = known ? planned->pause_min : 0;
}

/* What a pot of the zone's leading block, or else of its first one with plants, gets of it. */
static double litres_pot_of(const struct planning *p, size_t zone, double minutes)
{
    size_t lead = p->zones[zone].lead;
    for (size_t b = p->zones[zone].first_block; b != NURSERY_NONE && lead == NURSERY_NONE;
         b = p->works[b].next)
        if (p->works[b].now->pots > 0.0)
            lead = b;
    return lead == NURSERY_NONE ? 0.0 : minutes * p->works[lead].litres_pot_min;
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
        double litres = litres_of(run, zone);
        result->runs[result->run_count++] =
            (struct plan_run){.zone = run->zone,
                              .start_s = run->start_s,
                              .end_s = run->end_s,
                              .minutes = (int)lround(litres / zone->flow_l_min),
                              .litres = litres,
                              .flow_l_min = zone->flow_l_min,
                              .depth_mm = zone->method == DELIVERY_OVERHEAD
                                              ? zone->rate_mm_h * litres / zone->flow_l_min / 60.0
                                              : NAN,
                              .by_hand = zone->method == DELIVERY_HAND,
                              .litres_pot = litres_pot_of(p, run->zone, litres / zone->flow_l_min),
                              .underway = true,
                              .purpose = run->purpose,
                              .sure = PLAN_CERTAIN};
        set_pulses(&result->runs[result->run_count - 1], run);
        timetable_occupy(&p->supplies[zone->supply].table, run->start_s, run->end_s,
                         zone->flow_l_min, zone->method == DELIVERY_HAND);
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

/* Zones that a hold keeps shut tomorrow, with the first of their blocks to be due. */
static void report_held(struct planning *p)
{
    struct plan_result *result = p->result;
    for (size_t z = 0; z < p->context.nursery->zone_count; z++) {
        struct plan_zone *zone = &result->zones[z];
        size_t hold = p->zones[z].held;
        if (hold == NURSERY_NONE || zone->state == PLAN_ZONE_RUN || zone->state == PLAN_ZONE_EMPTY)
            continue;
        zone->state = PLAN_ZONE_HELD;
        zone->wait_until_s = p->context.nursery->holds[hold].to_s;
        zone->reason = plan_reason_of(PLAN_HELD, z, NURSERY_NONE);
        zone->reason.other = hold;
        for (size_t b = p->zones[z].first_block; b != NURSERY_NONE; b = p->works[b].next) {
            int64_t at_s = result->blocks[b].next_s;
            if (at_s != 0 && (zone->reason.at_s == 0 || at_s < zone->reason.at_s)) {
                zone->reason.at_s = at_s;
                zone->reason.block = b;
            }
        }
    }
}

/* Requirements that a run of the past has met. */
static void note_met(struct planning *p)
{
    const struct nursery *nursery = p->context.nursery;
    for (size_t i = 0; i < nursery->requirement_count; i++) {
        const struct nursery_requirement *required = &nursery->requirements[i];
        p->required_done[i] = false;
        for (size_t r = 0; r < nursery->run_count; r++) {
            const struct nursery_run *run = &nursery->runs[r];
            double minutes =
                litres_of(run, &nursery->zones[run->zone]) / nursery->zones[run->zone].flow_l_min;
            p->required_done[i] |=
                run->zone == required->zone && run->state != NURSERY_RUN_UNKNOWN &&
                run->start_s >= required->from_s && run->start_s < required->to_s &&
                minutes >= required->minutes - 1.0;
        }
    }
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
        if (!run->underway)
            zone->sized_run = r;
        if (civil_days(civil_local_date(&nursery->time_zone, run->start_s)) == tomorrow &&
            zone->state != PLAN_ZONE_UNPLACED) {
            zone->state = run->by_hand ? PLAN_ZONE_HAND : PLAN_ZONE_RUN;
            if (run->reason_count > 0)
                zone->reason = run->reasons[0];
        }
    }
    report_held(p);
}

static void open_zones(struct planning *p)
{
    for (size_t z = 0; z < p->context.nursery->zone_count; z++) {
        bool planted = false;
        for (size_t b = p->zones[z].first_block; b != NURSERY_NONE; b = p->works[b].next)
            planted |= p->works[b].now->pots > 0.0;
        p->result->zones[z] = (struct plan_zone){
            .state = planted ? PLAN_ZONE_WAIT : PLAN_ZONE_EMPTY,
            .sized_run = NURSERY_NONE,
            .reason = plan_reason_of(planted ? PLAN_NO_WINDOW : PLAN_NO_PLANTS, z, NURSERY_NONE)};
    }
}

/* Zones that were given water in now's hour, whether it is over or not. */
static void note_given(struct planning *p)
{
    const struct nursery *nursery = p->context.nursery;
    int64_t from_s = plan_hour_s(&p->context, p->context.now_hour);
    for (size_t r = 0; r < nursery->run_count; r++) {
        const struct nursery_run *run = &nursery->runs[r];
        if (run->start_s >= from_s && run->state != NURSERY_RUN_UNKNOWN &&
            nursery_purpose_waters(run->purpose) && run->litres != 0.0)
            p->zones[run->zone].given_until_s = from_s + CIVIL_HOUR_S;
    }
}

enum status plan_open(const struct plan_input *input, void *room, struct planning *p,
                      size_t *culprit)
{
    *culprit = NURSERY_NONE;
    if (!inputs_are_sound(input))
        return STATUS_RANGE;
    lay_out(input, room, p);
    p->context.input = input;
    p->context.nursery = input->nursery;
    p->context.hour_count = input->hour_count;
    p->context.now_hour = plan_hour_at(&p->context, input->now_s);
    enum status status = plan_weather_open(&p->context);
    if (status != STATUS_OK)
        return status;
    plan_frost_open(&p->context);
    for (size_t i = 0; i < PLAN_FIGURES_KEPT; i++)
        p->context.figures[i].pot = NURSERY_NONE;
    return open_blocks(p, culprit);
}

enum status plan_make(const struct plan_input *input, void *room, struct plan_result *result,
                      size_t *culprit)
{
    struct planning p = {.result = result};
    *culprit = NURSERY_NONE;
    if (result->trace && !trace_is_sound(input, result->trace))
        return STATUS_RANGE;
    p.context.trace = result->trace;
    result->run_count = result->unplaced_count = result->notice_count = result->hand_count = 0;
    enum status status = plan_open(input, room, &p, culprit);
    if (status == STATUS_OK)
        status = open_supplies(&p);
    if (status != STATUS_OK)
        return status;
    for (size_t b = 0; b < input->nursery->block_count; b++) {
        plan_sure_keep(&p.works[b], &p.starts[b]);
        report_block(&p, &p.works[b], &result->blocks[b]);
    }
    plan_zone_lead(&p);
    open_zones(&p);
    note_given(&p);
    plan_turns_open(&p);
    status = plan_turns_report(&p);
    count_todays_runs(&p);
    note_met(&p);
    if (status == STATUS_OK)
        status = keep_underway(&p);
    if (status == STATUS_OK)
        status = plan_level(&p);
    for (size_t b = 0; b < input->nursery->block_count && status == STATUS_OK; b++)
        status = plan_block_advance(&p.context, &p.works[b], p.context.hour_count);
    if (status != STATUS_OK)
        return status;
    plan_sort(&p, result->runs, result->run_count, sizeof *result->runs, run_order);
    report_zones(&p);
    status = plan_sure_open(&p);
    if (status == STATUS_OK)
        status = plan_sure(&p);
    if (status == STATUS_OK && result->trace)
        status = plan_sure_trace(&p);
    return status == STATUS_OK ? plan_review(&p) : status;
}
