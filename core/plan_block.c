/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "plan_work.h"

#include <math.h>

#include "demand.h"

/* Rain caught by a pot under its own canopy, of what falls on its top, and the first millimetres
 * that leaves hold [our choice]. */
static const double rain_capture = 0.8;
static const double foliage_mm = 1.0;

/* Sprinklers are slow enough for the mix to take their water up, and hands and trays give each pot
 * what it lacks: no channelling there; drip and spray follow the measured lines [our choice]. */
static const struct delivery_intake no_channelling = {1.0, 0.0};

/* Low-quarter share where nobody measured it: heads, drippers, hand [our choice]. */
static const double unmeasured_overhead = 0.75;
static const double unmeasured_micro = 0.85;
static const double unmeasured_hand = 0.8;

static const struct nursery_block *block_of(const struct plan_context *context,
                                            const struct plan_work *work)
{
    return &context->nursery->blocks[work->block];
}

static const struct nursery_zone *zone_of(const struct plan_context *context,
                                          const struct plan_work *work)
{
    return &context->nursery->zones[block_of(context, work)->zone];
}

static const struct plan_sky *sky_of(const struct plan_context *context,
                                     const struct plan_work *work)
{
    size_t cover = block_of(context, work)->cover;
    return &context->skies[cover == NURSERY_NONE ? 0 : cover + 1];
}

double plan_block_refill_l(const struct plan_context *context, const struct plan_work *work)
{
    return block_of(context, work)->refill_fraction * work->pot.available_l;
}

static double driest_share(const struct nursery_zone *zone)
{
    switch (zone->method) {
    case DELIVERY_OVERHEAD:
        return zone->du_low_quarter > 0.0 ? zone->du_low_quarter : unmeasured_overhead;
    case DELIVERY_DRIP:
    case DELIVERY_SPRAY:
        return zone->emission_uniformity > 0.0 ? zone->emission_uniformity : unmeasured_micro;
    case DELIVERY_HAND:
        return unmeasured_hand;
    case DELIVERY_SUBIRRIGATION:
        break;
    }
    return 1.0;
}

static struct delivery_intake intake_of(const struct nursery_zone *zone)
{
    if (zone->method != DELIVERY_DRIP && zone->method != DELIVERY_SPRAY)
        return no_channelling;
    return delivery_intake_of(zone->method, zone->pulses > 1);
}

static enum status set_delivery(const struct plan_context *context, double zone_share_l,
                                struct plan_work *work)
{
    const struct nursery_zone *zone = zone_of(context, work);
    double top_m2 = work->figures.top_area_m2;
    double canopy_m = work->now->canopy_cm / 100.0;
    work->capture = block_of(context, work)->capture;
    if (work->capture <= 0.0) {
        enum status status = delivery_capture_default(M_PI / 4.0 * canopy_m * canopy_m,
                                                      work->now->ground_m2, top_m2, &work->capture);
        if (status != STATUS_OK)
            return status;
    }
    work->driest_share = driest_share(zone);
    switch (zone->method) {
    case DELIVERY_OVERHEAD:
        work->litres_pot_min = zone->rate_mm_h / 60.0 * top_m2 * work->capture;
        break;
    case DELIVERY_DRIP:
    case DELIVERY_SPRAY:
        work->litres_pot_min = zone->emitters_per_pot * zone->emitter_l_h / 60.0;
        break;
    case DELIVERY_SUBIRRIGATION:
    case DELIVERY_HAND: /* shared out by what each pot can hold */
        work->litres_pot_min =
            zone_share_l > 0.0 ? zone->flow_l_min * work->pot.available_l / zone_share_l : 0.0;
        break;
    }
    return work->litres_pot_min >= 0.0 && work->litres_pot_min <= 1e6 ? STATUS_OK : STATUS_RANGE;
}

/* Takes over a state: pot, mix, plant. The water is the caller's business. */
static enum status enter_state(const struct plan_context *context,
                               const struct nursery_state *state, struct plan_work *work)
{
    const struct nursery *nursery = context->nursery;
    const struct nursery_block *block = block_of(context, work);
    const struct nursery_zone *zone = zone_of(context, work);
    if (state->pot >= nursery->pot_count || state->mix >= nursery->mix_count)
        return STATUS_RANGE;
    const struct bench_fit *mix = &nursery->mixes[state->mix];
    enum status status = pot_at_capacity(&nursery->pots[state->pot], &mix->curve, mix,
                                         block->theta_low, &work->figures);
    if (status != STATUS_OK)
        return status;
    work->now = state;
    double share = zone->method == DELIVERY_SUBIRRIGATION ? POT_CEILING_FLOOD : POT_CEILING_DAILY;
    double low_l = work->figures.volume_l * work->figures.theta_low;
    double top_m2 = work->figures.top_area_m2;
    work->pot = (struct balance_pot){
        .ceiling_l = share * work->figures.water_l,
        .available_l = share * work->figures.water_l - low_l,
        .stress_p = block->stress_p,
        .top_m2 = top_m2,
        .surface = demand_surface_of(bench_prior_of(mix->class_id)->bark),
        .rain_l_mm = fmin(block->capture > 0.0 ? block->capture * top_m2 : rain_capture * top_m2,
                          state->ground_m2),
        .foliage_mm = state->canopy_cm > 0.0 ? foliage_mm : 0.0,
        .intake = intake_of(zone),
    };
    if (!(work->pot.available_l > 0.0))
        return STATUS_IMPOSSIBLE;
    work->whole_available_l = work->pot.available_l;
    if (state->potted || work->potted_s == 0) {
        work->potted_s = state->at_s;
        work->plug_share = state->potted && state->plug_l > 0.0
                               ? fmin(1.0, state->plug_l / work->figures.volume_l)
                               : 1.0;
    }
    work->plant = (struct demand_plant){state->ground_m2,      state->canopy_cm,
                                        state->plant_height_m, 200.0 * sqrt(top_m2 / M_PI),
                                        block->transparency,   block->stomatal};
    work->rates_day = NURSERY_NONE;
    return balance_check(&work->pot);
}

/* Freshly potted plants reach only part of the pot's water. */
static enum status set_rooted(const struct plan_context *context, size_t day,
                              struct plan_work *work)
{
    double share = 1.0;
    if (work->plug_share < 1.0) {
        int64_t potted_day =
            civil_days(civil_local_date(&context->nursery->time_zone, work->potted_s));
        double days = (double)(context->first_day + (int64_t)day - potted_day);
        enum status status = pot_rooted_share(work->plug_share, fmax(0.0, days),
                                              work->now->woody ? POT_WOODY : POT_SOFT, &share);
        if (status != STATUS_OK)
            return status;
    }
    work->pot.available_l = work->whole_available_l * share;
    return STATUS_OK;
}

static enum status set_rates(const struct plan_context *context, size_t day, struct plan_work *work)
{
    if (set_rooted(context, day, work) != STATUS_OK)
        return STATUS_RANGE;
    const struct plan_climate *climate = &context->climate[day];
    struct demand_climate in = {climate->wind_2m_m_s * sky_of(context, work)->wind_factor,
                                climate->humidity_min_pct};
    struct demand_factors factors;
    enum status status = demand_factors_of(&work->plant, &in, &factors);
    if (status != STATUS_OK)
        return status;
    work->rates.transpiration_l_mm = factors.transpiration_l_mm;
    work->rates.evaporation_l_mm = factors.evaporation_l_mm;
    work->rates.most_l_mm = factors.ground_cover >= DEMAND_CAP_COVER
                                ? DEMAND_CAP_COEFFICIENT * work->plant.ground_m2
                                : 0.0;
    work->rates.k_cal = block_of(context, work)->k_cal;
    work->rates_day = day;
    return STATUS_OK;
}

static void set_water(struct plan_work *work, double water_l, enum plan_known known, int64_t at_s)
{
    water_l = fmin(work->pot.ceiling_l, fmax(0.0, water_l));
    work->average.state.water_l = water_l;
    work->driest.state.water_l = water_l;
    work->known = known;
    work->known_s = at_s;
    work->soaked_s = at_s;
    work->due_s = known == PLAN_KNOWN_ASSUMED ? at_s : 0;
}

/* The hour of the first thing known of the block: before it nothing can be worked out. */
static size_t first_known_hour(const struct plan_context *context, const struct plan_work *work)
{
    const struct nursery *nursery = context->nursery;
    const struct nursery_block *block = block_of(context, work);
    int64_t first_s = context->input->hours[0].start_s;
    int64_t at_s = plan_hour_s(context, context->now_hour);
    for (size_t r = work->run; r < work->run_end; r++)
        if (nursery->runs[r].start_s >= first_s && nursery->runs[r].start_s < at_s)
            at_s = nursery->runs[r].start_s;
    for (size_t w = work->weighing; w < work->weighing_end; w++)
        if (nursery->weighings[w].at_s >= first_s && nursery->weighings[w].at_s < at_s)
            at_s = nursery->weighings[w].at_s;
    for (size_t s = block->first_state; s < block->first_state + block->state_count; s++)
        if (nursery->states[s].potted && nursery->states[s].at_s >= first_s &&
            nursery->states[s].at_s < at_s)
            at_s = nursery->states[s].at_s;
    return (size_t)((civil_floor_hour(at_s) - first_s) / CIVIL_HOUR_S);
}

static void find_records(const struct plan_context *context, struct plan_work *work)
{
    const struct nursery *nursery = context->nursery;
    size_t zone = block_of(context, work)->zone;
    work->run = 0;
    while (work->run < nursery->run_count && nursery->runs[work->run].zone < zone)
        work->run++;
    work->run_end = work->run;
    while (work->run_end < nursery->run_count && nursery->runs[work->run_end].zone == zone)
        work->run_end++;
    work->weighing = 0;
    while (work->weighing < nursery->weighing_count &&
           nursery->weighings[work->weighing].block < work->block)
        work->weighing++;
    work->weighing_end = work->weighing;
    while (work->weighing_end < nursery->weighing_count &&
           nursery->weighings[work->weighing_end].block == work->block)
        work->weighing_end++;
}

/* Leaves behind records that were over before the hour the work starts at. */
static void skip_old_records(const struct plan_context *context, struct plan_work *work)
{
    const struct nursery *nursery = context->nursery;
    int64_t start_s = plan_hour_s(context, work->hour);
    while (work->run < work->run_end && nursery->runs[work->run].start_s < start_s)
        work->run++;
    while (work->weighing < work->weighing_end && nursery->weighings[work->weighing].at_s < start_s)
        work->weighing++;
}

enum status plan_block_open(const struct plan_context *context, size_t block, double zone_share_l,
                            struct plan_work *work)
{
    size_t next = work->next;
    *work = (struct plan_work){.block = block, .next = next, .dose_hour = NURSERY_NONE};
    find_records(context, work);
    work->hour = first_known_hour(context, work);
    skip_old_records(context, work);
    const struct nursery_block *b = block_of(context, work);
    int64_t start_s = plan_hour_s(context, work->hour);
    size_t last = b->first_state;
    for (size_t s = b->first_state + 1; s < b->first_state + b->state_count; s++)
        if (context->nursery->states[s].at_s < start_s)
            last = s;
    enum status status = enter_state(context, &context->nursery->states[last], work);
    if (status == STATUS_OK)
        status = set_delivery(context, zone_share_l, work);
    if (status != STATUS_OK)
        return status;
    status = set_rooted(context, context->day_of_hour[work->hour], work);
    if (status != STATUS_OK)
        return status;
    /* A state that begins within the first hour is met again there, with its water. */
    work->next_state = work->now->at_s >= start_s ? last : last + 1;
    set_water(work, work->pot.ceiling_l - plan_block_refill_l(context, work), PLAN_KNOWN_ASSUMED,
              start_s);
    return STATUS_OK;
}

static enum status meet_states(const struct plan_context *context, struct plan_work *work,
                               int64_t until_s)
{
    const struct nursery_block *block = block_of(context, work);
    size_t end = block->first_state + block->state_count;
    for (; work->next_state < end; work->next_state++) {
        const struct nursery_state *state = &context->nursery->states[work->next_state];
        if (state->at_s >= until_s)
            break;
        bool moved = state->potted || state->pot != work->now->pot || state->mix != work->now->mix;
        double share_min = work->litres_pot_min;
        double before_l = work->pot.available_l;
        enum status status = enter_state(context, state, work);
        if (status != STATUS_OK)
            return status;
        /* Zone shares by hand and from below follow the pot's own size. */
        double share_l = before_l > 0.0 && share_min > 0.0
                             ? zone_of(context, work)->flow_l_min * before_l / share_min
                             : 0.0;
        status = set_delivery(context, share_l, work);
        if (status == STATUS_OK)
            status = set_rooted(context, context->day_of_hour[work->hour], work);
        if (status != STATUS_OK)
            return status;
        if (moved)
            set_water(work,
                      state->watered_in ? work->pot.ceiling_l
                                        : work->pot.ceiling_l - plan_block_refill_l(context, work),
                      state->watered_in ? PLAN_KNOWN_POTTED : PLAN_KNOWN_ASSUMED, state->at_s);
    }
    return STATUS_OK;
}

static void meet_weighings(const struct plan_context *context, struct plan_work *work,
                           int64_t until_s)
{
    for (; work->weighing < work->weighing_end; work->weighing++) {
        const struct nursery_weighing *weighing = &context->nursery->weighings[work->weighing];
        if (weighing->at_s >= until_s)
            break;
        int64_t soaked_s = work->soaked_s;
        set_water(work, work->pot.ceiling_l - weighing->missing_l, PLAN_KNOWN_WEIGHED,
                  weighing->at_s);
        work->soaked_s = soaked_s;
    }
}

/* Litres for one pot from past and planned runs that start within the hour. */
static double dose_of_hour(const struct plan_context *context, struct plan_work *work,
                           int64_t until_s)
{
    double dose_l = 0.0;
    for (; work->run < work->run_end; work->run++) {
        const struct nursery_run *run = &context->nursery->runs[work->run];
        if (run->start_s >= until_s)
            break;
        double minutes = run->litres >= 0.0 ? run->litres / zone_of(context, work)->flow_l_min
                                            : (double)(run->end_s - run->start_s) / 60.0;
        dose_l += minutes * work->litres_pot_min;
    }
    if (work->dose_hour == work->hour) {
        dose_l += work->dose_l;
        work->dose_hour = NURSERY_NONE;
    }
    return dose_l;
}

static void note_hour(const struct plan_context *context, struct plan_work *work, double used_l)
{
    size_t day = context->day_of_hour[work->hour];
    int64_t end_s = plan_hour_s(context, work->hour + 1);
    if (day == context->today)
        work->use_today_l += used_l;
    else if (day == context->today + 1)
        work->use_tomorrow_l += used_l;
    if (work->average.state.filled) {
        work->known = PLAN_KNOWN_FILLED;
        work->known_s = end_s;
        work->average.state.filled = false;
    }
    if (work->driest.state.filled) {
        work->soaked_s = end_s;
        work->driest.state.filled = false;
    }
    double depletion_l = work->pot.ceiling_l - work->driest.state.water_l;
    if (depletion_l < plan_block_refill_l(context, work))
        work->due_s = 0;
    else if (work->due_s == 0)
        work->due_s = end_s;
    if (work->hour < context->now_hour || work->now->pots <= 0.0)
        return;
    work->most_water_l = fmax(work->most_water_l, work->average.state.water_l);
    double limit = work->pot.stress_p;
    if (work->strained_s == 0 && depletion_l > limit * work->pot.available_l)
        work->strained_s = end_s;
    if (work->flagging_s == 0 && depletion_l > (1.0 + limit) / 2.0 * work->pot.available_l)
        work->flagging_s = end_s;
}

enum status plan_block_advance(const struct plan_context *context, struct plan_work *work,
                               size_t to)
{
    const struct plan_sky *sky = sky_of(context, work);
    for (; work->hour < to; work->hour++) {
        int64_t until_s = plan_hour_s(context, work->hour + 1);
        enum status status = meet_states(context, work, until_s);
        size_t day = context->day_of_hour[work->hour];
        if (status == STATUS_OK && day != work->rates_day)
            status = set_rates(context, day, work);
        if (status != STATUS_OK)
            return status;
        meet_weighings(context, work, until_s);
        double dose_l = dose_of_hour(context, work, until_s);
        double used_before_l = work->average.sums.used_l;
        balance_hour(&work->pot, &work->rates, sky->et0_mm[work->hour], sky->rain_mm[work->hour],
                     dose_l, &work->average.state, &work->average.sums);
        balance_hour(&work->pot, &work->rates, sky->et0_mm[work->hour], sky->rain_mm[work->hour],
                     dose_l * work->driest_share, &work->driest.state, &work->driest.sums);
        note_hour(context, work, work->average.sums.used_l - used_before_l);
    }
    return STATUS_OK;
}

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
            set_rates(context, context->day_of_hour[h], &ahead) != STATUS_OK)
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
    struct plan_lookahead look = {false, 1.0, 0.0, plan_block_refill_l(context, work)};
    full.average.state = (struct balance_state){.water_l = work->pot.ceiling_l};
    int64_t at_s = plan_block_passes(context, &full, context->hour_count, &look);
    return at_s == 0 ? NAN : (double)(at_s - plan_hour_s(context, work->hour)) / CIVIL_DAY_S;
}
