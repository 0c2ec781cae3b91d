/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a block is at a moment: its pot, mix and plant, what a minute of its valve brings to it, and
 * what it uses on a day.
 */
#include "plan_work.h"

#include <math.h>

#include "demand.h"

/* Rain caught by a pot under its own canopy, of what falls on its top, and the first millimetres
 * that leaves hold [our choice]. */
static const double rain_capture = 0.8;
static const double foliage_mm = 1.0;

/* Peat that has lacked more than this of its available water refills to so much of container
 * capacity only (effect published: peat regains about 30 % less after drying, Agronomy 10:1389;
 * figures our choice). */
static const double dried_share = 0.6;
static const double repelled_share = 0.8;

/* Sprinklers are slow enough for the mix to take their water up, and hands and trays give each pot
 * what it lacks: no channelling there; drip and spray follow the measured lines [our choice]. */
static const struct delivery_intake no_channelling = {1.0, 0.0};

/* Low-quarter share where nobody measured it: heads, drippers, hand [our choice]. */
static const double unmeasured_overhead = 0.75;
static const double unmeasured_micro = 0.85;
static const double unmeasured_hand = 0.8;

static const struct nursery_zone *zone_of(const struct plan_context *context,
                                          const struct plan_work *work)
{
    return &context->nursery->zones[work->now->zone];
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

/* Bare twigs lead no water to the stem. */
static double leafy_canopy_cm(const struct plan_work *work)
{
    return work->now->leaf == DEMAND_LEAF_NONE ? 0.0 : work->canopy_cm;
}

static enum status set_delivery(const struct plan_context *context, struct plan_work *work)
{
    const struct nursery_zone *zone = zone_of(context, work);
    double top_m2 = work->figures.top_area_m2;
    double canopy_m = leafy_canopy_cm(work) / 100.0;
    double share_l = context->zone_share_l[work->now->zone];
    work->capture = plan_block_of(context, work)->capture;
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
            share_l > 0.0 ? zone->flow_l_min * work->whole_available_l / share_l : 0.0;
        break;
    }
    return work->litres_pot_min >= 0.0 && work->litres_pot_min <= 1e6 ? STATUS_OK : STATUS_RANGE;
}

/* --- canopy -------------------------------------------------------------------------------- */

static double local_day_of(const struct plan_context *context, int64_t t_s)
{
    return (double)civil_days(civil_local_date(&context->nursery->time_zone, t_s));
}

/* A new plant, or one that was cut, did not grow there from the measurement before. */
static bool grown_into(const struct nursery_state *state)
{
    return !state->potted && !state->pruned;
}

/* The canopy on a local date: between two measurements on the line, after the last carried on at
 * the last rate for a while. Without any, what the state says. */
static enum status set_canopy(const struct plan_context *context, double date,
                              struct plan_work *work)
{
    const struct nursery_block *block = plan_block_of(context, work);
    const struct nursery_state *states = &context->nursery->states[block->first_state];
    const struct nursery_state *before = NULL;
    const struct nursery_state *last = NULL;
    const struct nursery_state *after = NULL;
    work->canopy_cm = work->now->canopy_cm;
    work->canopy_old = false;
    if (block->state_count == 1 && !states[0].canopy_measured)
        return STATUS_OK;
    for (size_t s = 0; s < block->state_count && !after; s++) {
        if (!states[s].canopy_measured)
            continue;
        if (&states[s] > work->now) {
            after = &states[s];
        } else {
            before = last;
            last = &states[s];
        }
    }
    if (!last)
        return STATUS_OK;
    const struct nursery_state *first = after && grown_into(after)   ? last
                                        : before && grown_into(last) ? before
                                                                     : last;
    const struct nursery_state *second = first == last && after && grown_into(after) ? after : last;
    const struct demand_canopy from = {local_day_of(context, first->at_s), first->canopy_cm};
    const struct demand_canopy to = {local_day_of(context, second->at_s), second->canopy_cm};
    return demand_canopy_on(&from, &to, date, &work->canopy_cm, &work->canopy_old);
}

/* --- a state ------------------------------------------------------------------------------- */

static enum status figures_of(const struct plan_context *context, size_t pot, size_t mix,
                              double theta_low, struct pot_figures *figures)
{
    const struct bench_fit *fit = &context->nursery->mixes[mix];
    struct plan_figures *kept = &context->figures[(31 * pot + mix) % PLAN_FIGURES_KEPT];
    if (kept->pot != pot || kept->mix != mix || kept->theta_low != theta_low) {
        enum status status = pot_at_capacity(&context->nursery->pots[pot], &fit->curve, fit,
                                             theta_low, &kept->figures);
        kept->pot = status == STATUS_OK ? pot : NURSERY_NONE;
        kept->mix = mix;
        kept->theta_low = theta_low;
        if (status != STATUS_OK)
            return status;
    }
    *figures = kept->figures;
    return STATUS_OK;
}

/* Takes over a state: pot, mix, plant. The water is the caller's business. */
enum status plan_stand_enter(const struct plan_context *context, const struct nursery_state *state,
                             struct plan_work *work)
{
    const struct nursery *nursery = context->nursery;
    const struct nursery_block *block = plan_block_of(context, work);
    if (state->pot >= nursery->pot_count || state->mix >= nursery->mix_count)
        return STATUS_RANGE;
    const struct bench_fit *mix = &nursery->mixes[state->mix];
    enum status status =
        figures_of(context, state->pot, state->mix, block->theta_low, &work->figures);
    if (status != STATUS_OK)
        return status;
    work->now = state;
    const struct nursery_zone *zone = zone_of(context, work);
    double share = zone->method == DELIVERY_SUBIRRIGATION ? POT_CEILING_FLOOD : POT_CEILING_DAILY;
    double low_l = work->figures.volume_l * work->figures.theta_low;
    double top_m2 = work->figures.top_area_m2;
    bool leaves = state->leaf != DEMAND_LEAF_NONE && state->canopy_cm > 0.0;
    work->pot = (struct balance_pot){
        .ceiling_l = share * work->figures.water_l,
        .available_l = share * work->figures.water_l - low_l,
        .stress_p = block->stress_p,
        .top_m2 = top_m2,
        .surface = demand_surface_of(bench_prior_of(mix->class_id)->bark),
        .rain_l_mm = fmin(block->capture > 0.0 ? block->capture * top_m2 : rain_capture * top_m2,
                          state->ground_m2),
        .foliage_mm = leaves ? foliage_mm : 0.0,
        .intake = intake_of(zone),
        .repelled_l = fmin(share, repelled_share) * work->figures.water_l,
    };
    if (!(work->pot.available_l > 0.0))
        return STATUS_IMPOSSIBLE;
    work->whole_available_l = work->pot.available_l;
    if (state->potted || work->potted_s == 0) {
        work->potted_s = state->at_s;
        work->potted = state->potted;
        work->plug_share = state->potted && state->plug_l > 0.0
                               ? fmin(1.0, state->plug_l / work->figures.volume_l)
                               : 1.0;
    }
    work->potted_day = local_day_of(context, work->potted_s);
    work->leaf_day = local_day_of(context, state->leaf_since_s);
    work->terms_canopy_cm = NAN;
    work->rates_day = NURSERY_NONE;
    return balance_check(&work->pot);
}

enum status plan_stand_share_l(const struct plan_context *context, size_t block, double *share_l)
{
    const struct nursery_block *b = &context->nursery->blocks[block];
    const struct nursery_state *last =
        &context->nursery->states[b->first_state + b->state_count - 1];
    struct plan_work work = {.block = block};
    enum status status = plan_stand_enter(context, last, &work);
    if (status == STATUS_OK)
        *share_l = last->pots * work.whole_available_l;
    return status;
}

/* --- a day --------------------------------------------------------------------------------- */

/* Freshly potted plants reach only part of the pot's water. */
static enum status set_rooted(const struct plan_context *context, double date,
                              struct plan_work *work)
{
    double share = 1.0;
    if (work->plug_share < 1.0) {
        double days = date - work->potted_day;
        enum status status = pot_rooted_share(work->plug_share, fmax(0.0, days),
                                              work->now->woody ? POT_WOODY : POT_SOFT, &share);
        if (status != STATUS_OK)
            return status;
    }
    work->pot.available_l = work->whole_available_l * share;
    work->pot.dried_l = bench_prior_of(context->nursery->mixes[work->now->mix].class_id)->peat
                            ? dried_share * work->pot.available_l
                            : 0.0;
    return STATUS_OK;
}

/* From canopy and height, or a grower's own figure in their place. */
static enum status factors_of(const struct plan_context *context, size_t day,
                              struct plan_work *work, struct demand_factors *factors)
{
    const struct nursery_block *block = plan_block_of(context, work);
    const struct plan_climate *climate = &context->climate[day];
    size_t cover = work->now->cover;
    const struct plan_sky *sky = &context->skies[cover == NURSERY_NONE ? 0 : cover + 1];
    double top_cm = 200.0 * sqrt(work->pot.top_m2 / M_PI);
    struct demand_areas areas;
    enum status status;
    switch (block->use) {
    case NURSERY_USE_MEASURED:
        status = demand_areas_of(work->now->ground_m2, work->canopy_cm, top_cm, &areas);
        return status != STATUS_OK
                   ? status
                   : demand_factors_from_use(block->use_l, block->use_et0_mm, &areas, factors);
    case NURSERY_USE_COEFFICIENT:
        status = demand_areas_of(work->now->ground_m2, work->canopy_cm, top_cm, &areas);
        return status != STATUS_OK
                   ? status
                   : demand_factors_from_coefficient(block->coefficient, block->coefficient_basis,
                                                     &areas, factors);
    case NURSERY_USE_CANOPY:
        break;
    }
    const struct demand_climate in = {climate->wind_2m_m_s * sky->wind_factor,
                                      climate->humidity_min_pct};
    if (work->terms_canopy_cm != work->canopy_cm) {
        const struct demand_plant plant = {work->now->ground_m2,      work->canopy_cm,
                                           work->now->plant_height_m, top_cm,
                                           block->transparency,       block->stomatal};
        status = demand_terms_of(&plant, &work->terms);
        if (status != STATUS_OK)
            return status;
        work->terms_canopy_cm = work->canopy_cm;
    }
    return demand_factors_on(&work->terms, &in, factors);
}

enum status plan_stand_day(const struct plan_context *context, size_t day, struct plan_work *work)
{
    const struct nursery_block *block = plan_block_of(context, work);
    double date = (double)context->first_day + (double)day;
    struct demand_factors factors;
    double leaves = 1.0;
    double opened_days = date - work->leaf_day;
    enum status status = set_canopy(context, date, work);
    if (status == STATUS_OK)
        status = set_rooted(context, date, work);
    if (status == STATUS_OK)
        status = set_delivery(context, work);
    if (status == STATUS_OK)
        status = factors_of(context, day, work, &factors);
    if (status == STATUS_OK)
        status = demand_leaf_factor(work->now->leaf, opened_days, DEMAND_LEAFLESS, &leaves);
    if (status != STATUS_OK)
        return status;
    work->rates.transpiration_l_mm = factors.transpiration_l_mm * leaves;
    work->rates.evaporation_l_mm = factors.evaporation_l_mm;
    work->rates.most_l_mm = factors.ground_cover >= DEMAND_CAP_COVER
                                ? DEMAND_CAP_COEFFICIENT * work->now->ground_m2
                                : 0.0;
    work->rates.k_cal = block->k_cal * demand_place_factor(block->place);
    work->refill_l = block->refill_fraction * work->pot.available_l;
    work->rates_day = day;
    return STATUS_OK;
}
