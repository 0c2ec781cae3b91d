/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One block through the hours: what was found and done, the water, and looks ahead. */
#include "plan_work.h"

#include <math.h>

/* What a finger tells, as depletion of available water [our choice]: wet is less than a tenth
 * gone, dry is at the refill point or beyond, right is between. */
static const double touch_wet = 0.1;

static const struct plan_sky *sky_of(const struct plan_context *context,
                                     const struct plan_work *work)
{
    size_t cover = work->now->cover;
    return &context->skies[cover == NURSERY_NONE ? 0 : cover + 1];
}

/* --- what is known ------------------------------------------------------------------------- */

static void set_side(struct plan_side *side, const struct balance_pot *pot, double water_l)
{
    side->state.water_l = water_l;
    side->state.repels &= water_l <= pot->repelled_l; /* it took more: it does not */
}

static void set_water(struct plan_work *work, double water_l, enum plan_known known, int64_t at_s)
{
    water_l = fmin(work->pot.ceiling_l, fmax(0.0, water_l));
    set_side(&work->average, &work->pot, water_l);
    set_side(&work->driest, &work->pot, water_l);
    set_side(&work->wet, &work->pot, water_l);
    work->unsure = false;
    work->known = known;
    work->known_s = at_s;
    work->forgotten_s = 0;
    work->soaked_s = at_s;
    work->due_s = known == PLAN_KNOWN_ASSUMED ? at_s : 0;
}

static void bound(struct plan_side *side, double least_l, double most_l)
{
    side->state.water_l = fmin(most_l, fmax(least_l, side->state.water_l));
}

/* A touch check bounds what is reckoned and keeps it inside: the centre speaks for the average pot,
 * the edge for the driest. The driest is never wetter than the average, nor that than the wet. */
static void feel(const struct nursery_touch *touch, struct plan_work *work)
{
    double ceiling_l = work->pot.ceiling_l;
    double at_refill_l = ceiling_l - work->refill_l;
    double nearly_full_l = ceiling_l - touch_wet * work->pot.available_l;
    double least_l = touch->feel == NURSERY_WET   ? nearly_full_l
                     : touch->feel == NURSERY_DRY ? 0.0
                                                  : at_refill_l;
    double most_l = touch->feel == NURSERY_WET   ? ceiling_l
                    : touch->feel == NURSERY_DRY ? at_refill_l
                                                 : nearly_full_l;
    if (touch->place != NURSERY_EDGE) {
        bound(&work->average, least_l, most_l);
        bound(&work->wet, least_l, most_l);
    }
    if (touch->place != NURSERY_CENTRE)
        bound(&work->driest, least_l, most_l);
    if (touch->place == NURSERY_CENTRE) {
        bound(&work->driest, 0.0, work->average.state.water_l);
    } else {
        bound(&work->average, work->driest.state.water_l, ceiling_l);
        bound(&work->wet, work->average.state.water_l, ceiling_l);
    }
    if (touch->place != NURSERY_EDGE)
        work->unsure = work->wet.state.water_l > work->average.state.water_l;
    if (touch->feel == NURSERY_WET)
        work->average.state.repels = work->driest.state.repels = work->wet.state.repels = false;
    work->forgotten_s = 0;
    if (work->known == PLAN_KNOWN_ASSUMED) {
        work->known = PLAN_KNOWN_TOUCHED;
        work->known_s = touch->at_s;
    }
    work->touched_s = touch->at_s;
}

/* --- finding records ----------------------------------------------------------------------- */

/* First of count elements, each of size bytes and sorted by the size_t it begins with, that is not
 * below key. */
static size_t lower_bound(const void *array, size_t count, size_t size, size_t key)
{
    size_t low = 0;
    while (count > 0) {
        size_t half = count / 2;
        const size_t *at = (const void *)((const char *)array + (low + half) * size);
        if (*at < key) {
            low += half + 1;
            count -= half + 1;
        } else {
            count = half;
        }
    }
    return low;
}

void plan_runs_of(const struct nursery *n, size_t zone, size_t *first, size_t *end)
{
    *first = lower_bound(n->runs, n->run_count, sizeof *n->runs, zone);
    *end = lower_bound(n->runs, n->run_count, sizeof *n->runs, zone + 1);
}

static void find_runs(const struct plan_context *context, size_t zone, struct plan_work *work)
{
    plan_runs_of(context->nursery, zone, &work->run, &work->run_end);
}

static void find_records(const struct plan_context *context, struct plan_work *work)
{
    const struct nursery *n = context->nursery;
    size_t b = work->block;
    work->weighing = lower_bound(n->weighings, n->weighing_count, sizeof *n->weighings, b);
    work->weighing_end = lower_bound(n->weighings, n->weighing_count, sizeof *n->weighings, b + 1);
    work->touch = lower_bound(n->touches, n->touch_count, sizeof *n->touches, b);
    work->touch_end = lower_bound(n->touches, n->touch_count, sizeof *n->touches, b + 1);
}

/* Leaves behind records that were over before start_s. */
static void skip_old_records(const struct plan_context *context, int64_t start_s,
                             struct plan_work *work)
{
    const struct nursery *n = context->nursery;
    while (work->run < work->run_end && n->runs[work->run].start_s < start_s)
        work->run++;
    while (work->weighing < work->weighing_end && n->weighings[work->weighing].at_s < start_s)
        work->weighing++;
    while (work->touch < work->touch_end && n->touches[work->touch].at_s < start_s)
        work->touch++;
}

static void consider(int64_t t_s, int64_t first_s, int64_t *at_s)
{
    if (t_s >= first_s && t_s < *at_s)
        *at_s = t_s;
}

/* The hour of the first thing known of the block: before it nothing can be worked out. */
static size_t first_known_hour(const struct plan_context *context, struct plan_work *work)
{
    const struct nursery *nursery = context->nursery;
    const struct nursery_block *block = plan_block_of(context, work);
    const struct nursery_state *states = &nursery->states[block->first_state];
    int64_t first_s = context->input->hours[0].start_s;
    int64_t at_s = plan_hour_s(context, context->now_hour);
    for (size_t w = work->weighing; w < work->weighing_end; w++)
        consider(nursery->weighings[w].at_s, first_s, &at_s);
    for (size_t t = work->touch; t < work->touch_end; t++)
        consider(nursery->touches[t].at_s, first_s, &at_s);
    for (size_t s = 0; s < block->state_count; s++) {
        int64_t end_s = s + 1 < block->state_count ? states[s + 1].at_s : INT64_MAX;
        if (states[s].potted)
            consider(states[s].at_s, first_s, &at_s);
        if (end_s <= first_s)
            continue;
        int64_t from_s = s == 0 || states[s].at_s < first_s ? first_s : states[s].at_s;
        find_runs(context, states[s].zone, work);
        for (size_t r = work->run; r < work->run_end && nursery->runs[r].start_s < end_s; r++)
            consider(nursery->runs[r].start_s, from_s, &at_s);
    }
    return (size_t)((civil_floor_hour(at_s) - first_s) / CIVIL_HOUR_S);
}

/* The state in force before t_s, or the first one. */
static size_t state_before(const struct plan_context *context, const struct nursery_block *block,
                           int64_t t_s)
{
    size_t last = block->first_state;
    for (size_t s = last + 1; s < block->first_state + block->state_count; s++)
        if (context->nursery->states[s].at_s < t_s)
            last = s;
    return last;
}

enum status plan_block_open(const struct plan_context *context, size_t block,
                            struct plan_work *work)
{
    const struct nursery *nursery = context->nursery;
    const struct nursery_block *b = &nursery->blocks[block];
    size_t next = work->next;
    *work = (struct plan_work){.block = block, .next = next, .dose_hour = NURSERY_NONE};
    find_records(context, work);
    work->hour = first_known_hour(context, work);
    int64_t start_s = plan_hour_s(context, work->hour);
    size_t last = state_before(context, b, start_s);
    find_runs(context, nursery->states[last].zone, work);
    skip_old_records(context, start_s, work);
    enum status status = plan_stand_enter(context, &nursery->states[last], work);
    if (status == STATUS_OK)
        status = plan_stand_day(context, context->day_of_hour[work->hour], work);
    if (status != STATUS_OK)
        return status;
    /* A state that begins within the first hour is met again there, with its water. */
    work->next_state = work->now->at_s >= start_s ? last : last + 1;
    set_water(work, work->pot.ceiling_l - work->refill_l, PLAN_KNOWN_ASSUMED, start_s);
    if (context->trace && context->trace->block == block) {
        work->trace = context->trace;
        work->trace->first = work->hour > work->trace->from ? work->hour - work->trace->from : 0;
    }
    return STATUS_OK;
}

/* --- through the hours --------------------------------------------------------------------- */

/* Pots that came from another block are taken to be at their refill point; where they are many,
 * the block is to be felt again. */
static void join_pots(const struct nursery_state *state, struct plan_work *work)
{
    const double many = 0.25; /* [our choice] */
    double newcomer_l = work->pot.ceiling_l - work->refill_l;
    double *average_l = &work->average.state.water_l;
    *average_l += state->joined * (fmin(newcomer_l, *average_l) - *average_l);
    work->driest.state.water_l = fmin(work->driest.state.water_l, newcomer_l);
    if (state->joined > many) {
        work->known = PLAN_KNOWN_ASSUMED;
        work->known_s = state->at_s;
    }
}

static enum status meet_state(const struct plan_context *context, const struct nursery_state *state,
                              struct plan_work *work)
{
    const struct nursery_state *before = work->now;
    bool known = work->known != PLAN_KNOWN_ASSUMED || work->forgotten_s != 0;
    bool moved = state->potted || state->pot != before->pot || state->mix != before->mix;
    enum status status = plan_stand_enter(context, state, work);
    if (status == STATUS_OK)
        status = plan_stand_day(context, context->day_of_hour[work->hour], work);
    if (status != STATUS_OK)
        return status;
    if (state->zone != before->zone) {
        find_runs(context, state->zone, work);
        skip_old_records(context, plan_hour_s(context, work->hour), work);
    }
    if (moved) {
        work->average.state.repels = work->driest.state.repels = work->wet.state.repels = false;
        set_water(work,
                  state->watered_in ? work->pot.ceiling_l : work->pot.ceiling_l - work->refill_l,
                  state->watered_in ? PLAN_KNOWN_POTTED : PLAN_KNOWN_ASSUMED, state->at_s);
        work->forgotten_s = known && !state->watered_in ? state->at_s : 0;
    } else if (state->joined > 0.0) {
        join_pots(state, work);
    }
    return STATUS_OK;
}

static enum status meet_states(const struct plan_context *context, struct plan_work *work,
                               int64_t until_s)
{
    const struct nursery_block *block = plan_block_of(context, work);
    size_t end = block->first_state + block->state_count;
    for (; work->next_state < end; work->next_state++) {
        const struct nursery_state *state = &context->nursery->states[work->next_state];
        if (state->at_s >= until_s)
            break;
        enum status status = meet_state(context, state, work);
        if (status != STATUS_OK)
            return status;
    }
    return STATUS_OK;
}

/* What ran before a pot was weighed is in its weight. */
static void skip_runs_over(const struct plan_context *context, struct plan_work *work, int64_t at_s)
{
    const struct nursery_run *runs = context->nursery->runs;
    while (work->run < work->run_end && runs[work->run].start_s < at_s &&
           runs[work->run].end_s <= at_s)
        work->run++;
}

static void meet_weighings(const struct plan_context *context, struct plan_work *work,
                           int64_t until_s)
{
    for (; work->weighing < work->weighing_end; work->weighing++) {
        const struct nursery_weighing *weighing = &context->nursery->weighings[work->weighing];
        if (weighing->at_s >= until_s)
            break;
        int64_t soaked_s = work->soaked_s;
        skip_runs_over(context, work, weighing->at_s);
        set_water(work, work->pot.ceiling_l - weighing->missing_l, PLAN_KNOWN_WEIGHED,
                  weighing->at_s);
        work->soaked_s = soaked_s;
        work->weighed = true;
    }
    for (; work->touch < work->touch_end; work->touch++) {
        const struct nursery_touch *touch = &context->nursery->touches[work->touch];
        if (touch->at_s >= until_s)
            break;
        feel(touch, work);
    }
}

/* Litres for one pot from past and planned runs that start within the hour; *unknown_l those of
 * which nobody knows. */
static double dose_of_hour(const struct plan_context *context, struct plan_work *work,
                           int64_t until_s, double *unknown_l)
{
    double dose_l = 0.0;
    for (; work->run < work->run_end; work->run++) {
        const struct nursery_run *run = &context->nursery->runs[work->run];
        if (run->start_s >= until_s)
            break;
        if (!nursery_purpose_waters(run->purpose))
            continue;
        double flow_l_min = context->nursery->zones[run->zone].flow_l_min;
        double minutes = run->litres >= 0.0 ? run->litres / flow_l_min
                                            : (double)(run->end_s - run->start_s) / 60.0;
        if (run->state == NURSERY_RUN_UNKNOWN)
            *unknown_l += minutes * work->litres_pot_min;
        else
            dose_l += minutes * work->litres_pot_min;
    }
    if (work->dose_hour == work->hour) {
        dose_l += work->dose_l;
        work->dose_hour = NURSERY_NONE;
    }
    return dose_l;
}

/* So many hours of day past the stress limit without a break are as bad as flagging: that is no
 * noon between two waterings. Hours of less ET ask little of a plant, a warm night's are such. [our
 * choices] */
enum { LONG_STRAIN_H = 6 };
static const double little_et0_mm = 0.15;

/* Since when the dry quarter is past its limit, and for how many such hours; hours that are past
 * count, so that nothing is called less urgent while plants stand in it. */
static void note_spell(struct plan_work *work, bool beyond, double et0_mm, int64_t end_s)
{
    if (!beyond || work->spell_s == 0) {
        work->spell_s = beyond ? end_s : 0;
        work->spell_h = 0;
    }
    work->spell_h += beyond && et0_mm > little_et0_mm;
}

/* Ahead, with the planned runs: when the dry quarter passes its limits, and is back. */
static void note_strain(struct plan_work *work, double depletion_l, int64_t end_s)
{
    double limit = work->pot.stress_p;
    bool beyond = depletion_l > limit * work->pot.available_l;
    if (beyond && work->strained_s == 0)
        work->strained_s = end_s;
    if (beyond && work->cut_s != 0 && work->starved_s == 0)
        work->starved_s = end_s;
    if (!beyond && work->starved_s != 0 && work->eased_s == 0)
        work->eased_s = end_s;
    if (work->flagging_s == 0 && depletion_l > (1.0 + limit) / 2.0 * work->pot.available_l)
        work->flagging_s = end_s;
    if (work->flagging_s == 0 && work->starved_s == 0 && work->spell_h >= LONG_STRAIN_H)
        work->flagging_s = work->spell_s;
}

/* Two soaks within this wet a mix again that repelled water [our choice]. */
static const int64_t rewets_within_s = 48 * CIVIL_HOUR_S;

static void note_soak(struct plan_side *side, int64_t end_s)
{
    if (!side->state.filled || !side->state.repels)
        return;
    bool again = side->first_soak_s != 0 && end_s - side->first_soak_s <= rewets_within_s;
    side->state.repels = !again;
    side->first_soak_s = again ? 0 : end_s;
}

/* What the dose of an hour tells: which pots it filled. */
static void note_dose(struct plan_work *work, int64_t end_s)
{
    note_soak(&work->average, end_s);
    note_soak(&work->driest, end_s);
    note_soak(&work->wet, end_s);
    work->wet.state.filled = false;
    if (work->average.state.filled) {
        work->known = PLAN_KNOWN_FILLED;
        work->forgotten_s = 0;
        work->known_s = end_s;
        work->average.state.filled = false;
    }
    if (work->driest.state.filled) {
        work->soaked_s = end_s;
        work->driest.state.filled = false;
    }
}

static inline void note_hour(const struct plan_context *context, struct plan_work *work,
                             double et0_mm, size_t h)
{
    double depletion_l = work->pot.ceiling_l - work->driest.state.water_l;
    if (depletion_l < work->refill_l)
        work->due_s = 0;
    else if (work->due_s == 0)
        work->due_s = plan_hour_s(context, h + 1);
    bool spell = work->spell_s != 0;
    bool beyond = depletion_l > work->pot.stress_p * work->pot.available_l;
    if (beyond || spell)
        note_spell(work, beyond, et0_mm, plan_hour_s(context, h + 1));
    if (h < context->now_hour || work->now->pots <= 0.0)
        return;
    const struct plan_side *wet = work->unsure ? &work->wet : &work->average;
    if (wet->state.water_l > work->most_water_l)
        work->most_water_l = wet->state.water_l;
    if (beyond || spell)
        note_strain(work, depletion_l, plan_hour_s(context, h + 1));
}

/* The wet side parts from the average one with the first run that nobody told of, and meets it
 * again when both are full. */
static void advance_wet(const struct plan_context *context, struct plan_work *work,
                        const struct plan_sky *sky, const struct plan_side *before, double dose_l)
{
    size_t h = work->hour;
    if (!work->unsure) {
        work->wet = *before;
        work->unsure = true;
    }
    balance_hour(&work->pot, &work->rates, sky->et0_mm[h], sky->rain_mm[h],
                 context->frozen[h] ? 0.0 : dose_l, &work->wet.state, &work->wet.sums);
    if (work->wet.state.water_l - work->average.state.water_l < 1e-9)
        work->unsure = false;
}

/* An hour in which something was found or done, or a wet side is carried. */
static void advance_hour(const struct plan_context *context, struct plan_work *work)
{
    const struct plan_sky *sky = sky_of(context, work);
    size_t h = work->hour;
    int64_t end_s = plan_hour_s(context, h + 1);
    double unknown_l = 0.0;
    double dose_l = dose_of_hour(context, work, end_s, &unknown_l);
    double given_l = dose_l;
    work->hour_in_l = given_l;
    if (context->frozen[h] && dose_l > 0.0) { /* ice takes no water: it runs off */
        work->average.sums.in_l += dose_l;
        work->average.sums.drained_l += dose_l;
        dose_l = 0.0;
    }
    const struct plan_side before = work->average;
    balance_hour(&work->pot, &work->rates, sky->et0_mm[h], sky->rain_mm[h], dose_l,
                 &work->average.state, &work->average.sums);
    balance_hour(&work->pot, &work->rates, sky->et0_mm[h], sky->rain_mm[h],
                 dose_l * work->driest_share, &work->driest.state, &work->driest.sums);
    if (work->unsure || unknown_l > 0.0)
        advance_wet(context, work, sky, &before, dose_l + unknown_l);
    if (given_l > 0.0 && h >= context->now_hour) {
        work->given_l += given_l;
        work->lost_l += given_l - dose_l + work->average.sums.drained_l - before.sums.drained_l;
    }
    note_dose(work, end_s);
    note_hour(context, work, sky->et0_mm[h], h);
    work->hour++;
}

/* The first hour from now on in which something was found or done, at most `to`. */
static size_t next_record_hour(const struct plan_context *context, const struct plan_work *work,
                               size_t to)
{
    const struct nursery *n = context->nursery;
    const struct nursery_block *block = plan_block_of(context, work);
    int64_t at_s = plan_hour_s(context, to);
    if (work->unsure)
        return work->hour;
    if (work->next_state < block->first_state + block->state_count &&
        n->states[work->next_state].at_s < at_s)
        at_s = n->states[work->next_state].at_s;
    if (work->weighing < work->weighing_end && n->weighings[work->weighing].at_s < at_s)
        at_s = n->weighings[work->weighing].at_s;
    if (work->touch < work->touch_end && n->touches[work->touch].at_s < at_s)
        at_s = n->touches[work->touch].at_s;
    if (work->run < work->run_end && n->runs[work->run].start_s < at_s)
        at_s = n->runs[work->run].start_s;
    size_t hour = plan_hour_at(context, at_s);
    if (work->dose_hour != NURSERY_NONE && work->dose_hour < hour)
        hour = work->dose_hour;
    return hour < work->hour ? work->hour : hour;
}

/* Hours of one local day in which nothing was found or done: the bulk of them. */
static void advance_quietly(const struct plan_context *context, struct plan_work *work, size_t to)
{
    const struct plan_sky *sky = sky_of(context, work);
    const struct balance_rates rates = work->rates;
    size_t h = work->hour;
    for (; h < to && context->day_of_hour[h] == work->rates_day; h++) {
        balance_hour(&work->pot, &rates, sky->et0_mm[h], sky->rain_mm[h], 0.0, &work->average.state,
                     &work->average.sums);
        balance_hour(&work->pot, &rates, sky->et0_mm[h], sky->rain_mm[h], 0.0, &work->driest.state,
                     &work->driest.sums);
        note_hour(context, work, sky->et0_mm[h], h);
    }
    work->hour = h;
}

/* What the average pot used of today's and tomorrow's hours. */
static void note_use(const struct plan_context *context, struct plan_work *work, size_t day,
                     double used_l)
{
    if (day == context->today)
        work->use_today_l += used_l;
    else if (day == context->today + 1)
        work->use_tomorrow_l += used_l;
}

/* --- one block, hour by hour, kept --------------------------------------------------------- */

double plan_block_air(const struct plan_work *work, int64_t at_s, double *lost)
{
    const struct pot_figures *figures = &work->figures;
    double water_l = work->unsure ? work->wet.state.water_l : work->average.state.water_l;
    double days = fmax(0.0, (double)(at_s - work->potted_s) / CIVIL_DAY_S);
    double left = figures->air_space;
    *lost = 0.0;
    if (pot_air_with_roots(figures->air_space, work->now->air_loss_a_day, days, &left) == STATUS_OK)
        *lost = figures->air_space - left;
    return fmax(0.0, (figures->total_porosity * figures->volume_l - water_l) / figures->volume_l -
                         *lost);
}

/* Where an hour is kept, or NULL. */
static struct plan_hour *traced_hour(const struct plan_trace *trace, size_t hour)
{
    return trace && hour >= trace->from && hour < trace->to ? &trace->hours[hour - trace->from]
                                                            : NULL;
}

static void trace_levels(const struct plan_context *context, const struct plan_work *work,
                         struct plan_hour *out)
{
    const struct plan_sky *sky = sky_of(context, work);
    int64_t at_s =
        work->hour == context->now_hour ? context->input->now_s : plan_hour_s(context, work->hour);
    double lost = 0.0;
    *out = (struct plan_hour){.water_l = work->average.state.water_l,
                              .driest_l = work->driest.state.water_l,
                              .full_l = work->pot.ceiling_l,
                              .refill_l = work->pot.ceiling_l - work->refill_l,
                              .stress_l =
                                  work->pot.ceiling_l - work->pot.stress_p * work->pot.available_l,
                              .rain_mm = sky->rain_mm[work->hour],
                              .et0_mm = sky->et0_mm[work->hour],
                              .from_l = NAN,
                              .to_l = NAN};
    out->wet_l = work->unsure ? work->wet.state.water_l : out->water_l;
    out->air = plan_block_air(work, at_s, &lost);
}

/* An hour in which something was found or done, kept where the block is traced. */
static enum status advance_kept(const struct plan_context *context, struct plan_work *work)
{
    struct plan_hour *hour = traced_hour(work->trace, work->hour);
    int64_t until_s = plan_hour_s(context, work->hour + 1);
    double before_l = work->average.state.water_l;
    if (hour)
        trace_levels(context, work, hour);
    enum status status = meet_states(context, work, until_s);
    if (status != STATUS_OK)
        return status;
    meet_weighings(context, work, until_s);
    double found_l = work->average.state.water_l;
    const struct balance_sums sums = work->average.sums;
    advance_hour(context, work);
    if (!hour)
        return STATUS_OK;
    hour->adjusted_l = found_l - before_l;
    hour->in_l = work->hour_in_l;
    hour->rain_l = fmax(0.0, work->average.sums.in_l - sums.in_l - work->hour_in_l);
    hour->used_l = work->average.sums.used_l - sums.used_l;
    hour->drained_l = work->average.sums.drained_l - sums.drained_l;
    return STATUS_OK;
}

enum status plan_block_advance(const struct plan_context *context, struct plan_work *work,
                               size_t to)
{
    while (work->hour < to) {
        size_t day = context->day_of_hour[work->hour];
        double before_l = work->average.sums.used_l;
        if (day != work->rates_day) {
            enum status status = plan_stand_day(context, day, work);
            if (status != STATUS_OK)
                return status;
        }
        size_t record = work->trace ? work->hour : next_record_hour(context, work, to);
        if (record > work->hour) {
            advance_quietly(context, work, record);
        } else {
            enum status status = advance_kept(context, work);
            if (status != STATUS_OK)
                return status;
        }
        note_use(context, work, day, work->average.sums.used_l - before_l);
    }
    return STATUS_OK;
}

void plan_block_meet_now(const struct plan_context *context, struct plan_work *work)
{
    struct plan_hour *over = traced_hour(work->trace, work->hour - 1);
    double before_l = work->average.state.water_l;
    meet_weighings(context, work, context->input->now_s + 1);
    if (over) /* the trace counts it to the hour that is over */
        over->adjusted_l += work->average.state.water_l - before_l;
}

/* --- looks ahead --------------------------------------------------------------------------- */

int64_t plan_block_passes(const struct plan_context *context, const struct plan_work *work,
                          size_t to, const struct plan_lookahead *look)
{
    const struct plan_sky *sky = sky_of(context, work);
    struct plan_work ahead = *work;
    struct balance_state state = look->driest ? work->driest.state : work->average.state;
    struct balance_sums sums = {0};
    double limit_l = work->pot.ceiling_l - look->depletion_l;
    if (state.water_l <= limit_l)
        return plan_hour_s(context, work->hour);
    for (size_t h = work->hour; h < to; h++) {
        if (context->day_of_hour[h] != ahead.rates_day &&
            plan_stand_day(context, context->day_of_hour[h], &ahead) != STATUS_OK)
            return 0;
        double before_l = state.water_l;
        balance_hour(&ahead.pot, &ahead.rates, sky->et0_mm[h] * look->et_scale,
                     sky->rain_mm[h] * look->rain_share, 0.0, &state, &sums);
        if (state.water_l <= limit_l) {
            double part = (before_l - limit_l) / (before_l - state.water_l);
            return plan_hour_s(context, h) + (int64_t)(part * CIVIL_HOUR_S) / 60 * 60;
        }
    }
    return 0;
}

double plan_block_interval_d(const struct plan_context *context, const struct plan_work *work)
{
    struct plan_work full = *work;
    struct plan_lookahead look = {false, 1.0, 0.0, work->refill_l};
    full.average.state = (struct balance_state){.water_l = work->pot.ceiling_l};
    int64_t at_s = plan_block_passes(context, &full, context->hour_count, &look);
    return at_s == 0 ? NAN : (double)(at_s - plan_hour_s(context, work->hour)) / CIVIL_DAY_S;
}
