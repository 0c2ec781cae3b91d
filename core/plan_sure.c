/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How sure: every block under fifty possible weathers, mixes and plants. */
#include "plan_work.h"

#include <math.h>

/* Spreads, relative [our choices]: of the next days' reference ET where the input does not say, of
 * the water a mix holds by one jar test, of a canopy not measured for weeks. */
static const double usual_et0_spread = 0.15;
static const double water_spread = 0.15;
static const double canopy_spread = 0.15;

/* How much of the plant's own error has gone into what a pot lacks now, by how that is known: all
 * of it since a filling, half since a weighing (made in between), and where the start was assumed
 * twice as much [our choices]. A power of the error's factor: no pow(), since there are fifty a
 * block. */
static double past_factor(enum plan_known known, double use_factor)
{
    switch (known) {
    case PLAN_KNOWN_WEIGHED:
        return sqrt(use_factor);
    case PLAN_KNOWN_ASSUMED:
        return use_factor * use_factor;
    case PLAN_KNOWN_TOUCHED:
    case PLAN_KNOWN_POTTED:
    case PLAN_KNOWN_FILLED:
        break;
    }
    return use_factor;
}

static const double lower_q = 0.1;
static const double upper_q = 0.9;

enum status plan_sure_open(struct planning *p)
{
    const struct plan_input *input = p->context.input;
    struct ensemble_in in = {.seed = 0x70657263}; /* any; fixed, so that plans can be repeated */
    for (size_t d = 0; d < ENSEMBLE_DAYS; d++)
        in.et0_spread[d] = d < input->et0_spread_count ? input->et0_spread[d]
                           : input->et0_spread_count > 0
                               ? input->et0_spread[input->et0_spread_count - 1]
                               : usual_et0_spread;
    for (size_t h = p->context.now_hour; h < p->context.hour_count; h++) {
        const struct weather_hour *hour = &input->hours[h];
        size_t block = (h - p->context.now_hour) / ENSEMBLE_BLOCK_H;
        if (block < ENSEMBLE_BLOCKS && hour->rain_mm > 0.0 && hour->rain_kind == WEATHER_FORECAST)
            in.rain_chance[block] = fmax(in.rain_chance[block], hour->rain_probability);
    }
    return ensemble_draw_weather(&in, p->ensemble);
}

void plan_sure_keep(const struct plan_work *work, struct plan_start *start)
{
    *start = (struct plan_start){
        .average = work->average.state, .driest = work->driest.state, .known = work->known};
}

/* --- one block ------------------------------------------------------------------------------ */

/* What the days ahead ask of the block; the same for all members. */
struct outlook {
    const struct plan_sky *sky;
    struct balance_pot pot[ENSEMBLE_DAYS + 1];
    struct balance_rates rates[ENSEMBLE_DAYS + 1];
    size_t days;
    size_t from, to;               /* hours */
    double margin[ENSEMBLE_HOURS]; /* of the normals' dry side */
    size_t run_hour; /* at the start of which the zone's next run waters; `to`: none */
};

static size_t day_ahead(const struct plan_context *context, size_t h, size_t days)
{
    size_t day = (size_t)context->day_of_hour[h] - context->today;
    return day < days ? day : days - 1;
}

static enum status look_out(const struct planning *p, const struct plan_work *work,
                            struct outlook *o)
{
    const struct plan_context *context = &p->context;
    struct plan_work ahead = *work;
    size_t cover = work->now->cover;
    o->sky = &context->skies[cover == NURSERY_NONE ? 0 : cover + 1];
    o->from = context->now_hour;
    o->to = context->hour_count < o->from + ENSEMBLE_HOURS ? context->hour_count
                                                           : o->from + ENSEMBLE_HOURS;
    o->days = 0;
    size_t last = (size_t)context->day_of_hour[o->to - 1] - context->today;
    for (size_t d = 0; d <= last && d <= ENSEMBLE_DAYS; d++) {
        enum status status = plan_stand_day(context, context->today + d, &ahead);
        if (status != STATUS_OK)
            return status;
        o->pot[d] = ahead.pot;
        o->rates[d] = ahead.rates;
        o->days = d + 1;
    }
    for (size_t h = o->from; h < o->to; h++)
        o->margin[h - o->from] = plan_weather_margin(context, h);
    int64_t run_s = p->result->zones[work->now->zone].next_run_s;
    o->run_hour = run_s > 0 ? plan_hour_at(context, run_s) : o->to;
    if (o->run_hour > o->to)
        o->run_hour = o->to;
    return STATUS_OK;
}

/* A member's pot: what it can hold is off, what it lacks is off with what it used. */
struct member {
    double water_factor, use_factor, past_factor;
    const float *et0_factor, *rain_factor;
};

static struct balance_pot pot_of(const struct outlook *o, size_t day, const struct member *m)
{
    struct balance_pot pot = o->pot[day];
    pot.ceiling_l += pot.available_l * (m->water_factor - 1.0);
    pot.available_l *= m->water_factor;
    return pot;
}

static struct balance_state state_of(const struct outlook *o, const struct balance_state *now,
                                     const struct member *m)
{
    struct balance_state state = *now;
    double lacks_l = fmax(0.0, o->pot[0].ceiling_l - now->water_l) * m->past_factor;
    struct balance_pot pot = pot_of(o, 0, m);
    state.water_l = fmax(pot.ceiling_l - pot.available_l, pot.ceiling_l - lacks_l);
    return state;
}

/* Feed rain counts half in the plan, for safety; here it falls or fails as a whole. */
static double rain_mm(const struct planning *p, const struct outlook *o, size_t h,
                      const struct member *m)
{
    const struct weather_hour *hour = &p->context.input->hours[h];
    if (hour->rain_kind != WEATHER_FORECAST || !(o->sky->rain_mm[h] > 0.0))
        return o->sky->rain_mm[h];
    return hour->rain_mm * (double)m->rain_factor[(h - o->from) / ENSEMBLE_BLOCK_H];
}

/* The hour's reference ET without the dry side's margin: the factor is the doubt about it. */
static double et0_mm(const struct outlook *o, size_t h, size_t day, const struct member *m)
{
    size_t factor = day < ENSEMBLE_DAYS ? day : ENSEMBLE_DAYS - 1;
    return o->sky->et0_mm[h] / o->margin[h - o->from] * (double)m->et0_factor[factor];
}

/* Hours from now until the driest pot passes its refill point, and its stress limit; INFINITY when
 * it does not. */
static void run_driest(const struct planning *p, const struct outlook *o, const struct member *m,
                       double refill, const struct plan_start *start, double *refill_h,
                       double *stress_h)
{
    struct balance_state state = state_of(o, &start->driest, m);
    struct balance_sums sums = {0};
    struct balance_pot pot = pot_of(o, 0, m);
    struct balance_rates rates = o->rates[0];
    size_t day = 0;
    *refill_h = *stress_h = INFINITY;
    rates.k_cal *= m->use_factor;
    for (size_t h = o->from; h < o->to && isinf(*stress_h); h++) {
        if (day_ahead(&p->context, h, o->days) != day) {
            day = day_ahead(&p->context, h, o->days);
            pot = pot_of(o, day, m);
            rates = o->rates[day];
            rates.k_cal *= m->use_factor;
        }
        double before_l = pot.ceiling_l - state.water_l;
        balance_hour(&pot, &rates, et0_mm(o, h, day, m), rain_mm(p, o, h, m), 0.0, &state, &sums);
        double lacks_l = pot.ceiling_l - state.water_l;
        double part = lacks_l > before_l ? 1.0 / (lacks_l - before_l) : 0.0;
        double due_l = refill * pot.available_l;
        double limit_l = pot.stress_p * pot.available_l;
        if (isinf(*refill_h) && lacks_l >= due_l)
            *refill_h = (double)(h - o->from) + fmax(0.0, (due_l - before_l) * part);
        if (lacks_l >= limit_l)
            *stress_h = (double)(h - o->from) + fmax(0.0, (limit_l - before_l) * part);
    }
}

/* What the average pot lacks when its zone runs next. */
static double run_average(const struct planning *p, const struct outlook *o, const struct member *m,
                          const struct plan_start *start)
{
    struct balance_state state = state_of(o, &start->average, m);
    struct balance_sums sums = {0};
    struct balance_pot pot = pot_of(o, 0, m);
    for (size_t h = o->from; h < o->run_hour; h++) {
        size_t day = day_ahead(&p->context, h, o->days);
        struct balance_rates rates = o->rates[day];
        rates.k_cal *= m->use_factor;
        pot = pot_of(o, day, m);
        balance_hour(&pot, &rates, et0_mm(o, h, day, m), rain_mm(p, o, h, m), 0.0, &state, &sums);
    }
    return fmax(0.0, pot.ceiling_l - state.water_l);
}

static int64_t moment_of(const struct planning *p, double hours)
{
    if (isinf(hours))
        return 0;
    int64_t from_s = plan_hour_s(&p->context, p->context.now_hour);
    return from_s + (int64_t)(hours * CIVIL_HOUR_S) / 60 * 60;
}

static enum status draw_block(const struct planning *p, const struct plan_work *work,
                              bool canopy_old, struct ensemble_block *draws)
{
    const struct nursery_block *block = plan_block_of(&p->context, work);
    double grown = canopy_old ? canopy_spread : 0.0;
    double use_spread = sqrt(block->k_cal_sd * block->k_cal_sd + grown * grown);
    return ensemble_draw_block(0x626c6f63, work->block, water_spread, fmin(use_spread, 1.5), draws);
}

static struct member member_of(const struct planning *p, const struct ensemble_block *draws,
                               enum plan_known known, int i)
{
    double use = (double)draws->use_factor[i];
    return (struct member){(double)draws->water_factor[i], use, past_factor(known, use),
                           p->ensemble->et0_factor[i], p->ensemble->rain_factor[i]};
}

static enum status sure_of_block(const struct planning *p, const struct plan_work *work,
                                 struct plan_block *out)
{
    const struct nursery_block *block = plan_block_of(&p->context, work);
    const struct plan_start *start = &p->starts[work->block];
    double refill_h[ENSEMBLE_MEMBERS];
    double stress_h[ENSEMBLE_MEMBERS];
    double need_l[ENSEMBLE_MEMBERS];
    struct ensemble_block draws;
    struct outlook o = {.days = 0};
    int harmed = 0;
    if (work->now->pots <= 0.0)
        return STATUS_OK; /* no plants, no doubt */
    enum status status = look_out(p, work, &o);
    if (status == STATUS_OK)
        status = draw_block(p, work, out->canopy_old, &draws);
    if (status != STATUS_OK)
        return status;
    double run_h = o.run_hour < o.to ? (double)(o.run_hour - o.from) : INFINITY;
    for (int i = 0; i < ENSEMBLE_MEMBERS; i++) {
        const struct member m = member_of(p, &draws, start->known, i);
        run_driest(p, &o, &m, block->refill_fraction, start, &refill_h[i], &stress_h[i]);
        need_l[i] = run_average(p, &o, &m, start);
        harmed += stress_h[i] < run_h;
    }
    out->harm_chance = (double)harmed / ENSEMBLE_MEMBERS;
    out->next_from_s = moment_of(p, ensemble_quantile(refill_h, lower_q));
    out->next_to_s = moment_of(p, ensemble_quantile(refill_h, upper_q));
    out->need_from_l = ensemble_quantile(need_l, lower_q);
    out->need_to_l = ensemble_quantile(need_l, upper_q);
    out->need_l = ensemble_quantile(need_l, 0.5);
    return STATUS_OK;
}

/* The first run of each zone: as much less or more as its neediest block may lack. */
static void spread_runs(const struct planning *p)
{
    struct plan_result *result = p->result;
    for (size_t r = 0; r < result->run_count; r++) {
        struct plan_run *run = &result->runs[r];
        run->litres_from = run->litres_to = run->litres;
        if (run->underway || run->start_s != result->zones[run->zone].next_run_s)
            continue;
        const struct plan_block *widest = NULL;
        for (size_t b = p->zones[run->zone].first_block; b != NURSERY_NONE; b = p->works[b].next) {
            const struct plan_block *block = &result->blocks[b];
            if (block->pots > 0.0 && block->need_l > 0.0 &&
                (!widest ||
                 block->need_l / block->available_l > widest->need_l / widest->available_l))
                widest = block;
        }
        if (!widest)
            continue;
        run->litres_from = run->litres * fmin(1.0, widest->need_from_l / widest->need_l);
        run->litres_to = run->litres * fmax(1.0, widest->need_to_l / widest->need_l);
    }
}

enum status plan_sure(struct planning *p)
{
    for (size_t b = 0; b < p->context.nursery->block_count; b++) {
        enum status status = sure_of_block(p, &p->works[b], &p->result->blocks[b]);
        if (status != STATUS_OK)
            return status;
    }
    spread_runs(p);
    return STATUS_OK;
}

/* --- every hour of one block --------------------------------------------------------------- */

/* What the average pot lacks at each hour from now on, in the tenths of the members, with the runs
 * as they are planned. */
static void trace_members(const struct planning *p, const struct outlook *o,
                          const struct member members[ENSEMBLE_MEMBERS],
                          const struct plan_start *start, struct plan_trace *trace)
{
    struct balance_state states[ENSEMBLE_MEMBERS];
    double lacks_l[ENSEMBLE_MEMBERS];
    struct balance_sums sums = {0};
    size_t to = trace->to < o->to ? trace->to : o->to;
    for (int i = 0; i < ENSEMBLE_MEMBERS; i++)
        states[i] = state_of(o, &start->average, &members[i]);
    for (size_t h = o->from; h < to; h++) {
        size_t day = day_ahead(&p->context, h, o->days);
        struct plan_hour *hour = h < trace->from ? NULL : &trace->hours[h - trace->from];
        double dose_l = !hour || p->context.frozen[h] ? 0.0 : hour->in_l;
        for (int i = 0; i < ENSEMBLE_MEMBERS; i++) {
            const struct member *m = &members[i];
            struct balance_pot pot = pot_of(o, day, m);
            struct balance_rates rates = o->rates[day];
            rates.k_cal *= m->use_factor;
            lacks_l[i] = pot.ceiling_l - states[i].water_l;
            balance_hour(&pot, &rates, et0_mm(o, h, day, m), rain_mm(p, o, h, m), dose_l,
                         &states[i], &sums);
        }
        if (!hour)
            continue;
        hour->from_l = fmax(0.0, hour->full_l - ensemble_quantile(lacks_l, upper_q));
        hour->to_l = fmin(hour->full_l, hour->full_l - ensemble_quantile(lacks_l, lower_q));
    }
}

enum status plan_sure_trace(const struct planning *p)
{
    struct plan_trace *trace = p->result->trace;
    const struct plan_work *work = &p->works[trace->block];
    const struct plan_start *start = &p->starts[trace->block];
    struct member members[ENSEMBLE_MEMBERS];
    struct ensemble_block draws;
    struct outlook o = {.days = 0};
    if (work->now->pots <= 0.0)
        return STATUS_OK;
    enum status status = look_out(p, work, &o);
    if (status == STATUS_OK)
        status = draw_block(p, work, p->result->blocks[trace->block].canopy_old, &draws);
    if (status != STATUS_OK)
        return status;
    for (int i = 0; i < ENSEMBLE_MEMBERS; i++)
        members[i] = member_of(p, &draws, start->known, i);
    trace_members(p, &o, members, start, trace);
    return STATUS_OK;
}
