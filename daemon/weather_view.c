/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "weather_view.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/weather_merge.h"

/* Our choices, see docs/model.md 3. */
static const int64_t FRESH_S = 12 * (int64_t)CIVIL_HOUR_S;
static const int64_t RECENT_S = 72 * (int64_t)CIVIL_HOUR_S;
static const int64_t LAG_WINDOW_S = 7 * (int64_t)CIVIL_DAY_S;
enum { HOURS_OF_A_DAY_LEAST = 20, SPREAD_DAYS = 3 };
static const double SUM_OF_DAYS = 0.8; /* errors of days partly cancel in their sum */
static const double OLD_WIDER = 1.2;   /* of a forecast that should have been followed */
static const double OFF_WIDER = 1.2;   /* of one that measurements contradict */
static const double OFF_C = 2;
static const double OFF_HUMIDITY_PCT = 12;
static const double OFF_RADIATION = 0.15; /* relative */
static const double SPREAD_LEAST = 0.1;
static const double SPREAD_MOST = 0.6;

struct workbench {
    const struct config *config;
    const struct civil_zone *zone;
    const struct records *records;
    int64_t at_s, first_s;
    size_t count; /* hours wanted */
    struct weather_offer *offers;
    size_t offer_count;
    struct weather_offer *some; /* room for one source's offers */
    struct weather_slot *slots; /* room for all hours, with a day before */
    struct weather_slot *own;   /* the nursery's own hours */
    size_t own_count, slot_capacity;
    struct weather_hour *hours; /* room for one source's hours */
    struct weather_view *view;
    struct error *error;
};

static int out_of_memory(struct workbench *w)
{
    return error_set(w->error, "weather: out of memory");
}

static int no_sense(struct workbench *w, enum status status)
{
    return error_set(w->error, "the weather hours cannot be worked out (%d)", (int)status);
}

/* --- sources by trust --------------------------------------------------------------------- */

static size_t trust_of(const struct config *config, const char *name)
{
    if (strcmp(name, "station") == 0)
        return 0;
    for (size_t i = 0; i < config->feed_count; i++)
        if (strcmp(config->feeds[i].name, name) == 0)
            return 1 + i;
    return 1 + config->feed_count;
}

static void sort_sources(const struct config *config, struct records *records)
{
    size_t order[RECORDS_SOURCES_MOST];
    size_t new_index[RECORDS_SOURCES_MOST];
    struct records_source sorted[RECORDS_SOURCES_MOST];
    size_t count = records->source_count;
    for (size_t i = 0; i < count; i++) {
        size_t at = i;
        for (; at > 0; at--) {
            const char *one = records->sources[order[at - 1]].name;
            const char *two = records->sources[i].name;
            size_t trust_one = trust_of(config, one);
            size_t trust_two = trust_of(config, two);
            if (trust_one < trust_two || (trust_one == trust_two && strcmp(one, two) < 0))
                break;
            order[at] = order[at - 1];
        }
        order[at] = i;
    }
    for (size_t i = 0; i < count; i++) {
        sorted[i] = records->sources[order[i]];
        new_index[order[i]] = i;
    }
    memcpy(records->sources, sorted, count * sizeof *sorted);
    for (size_t i = 0; i < records->offer_count; i++)
        records->offers[i].source = new_index[records->offers[i].source];
    for (size_t i = 0; i < records->trial_count; i++)
        records->trials[i].source = new_index[records->trials[i].source];
}

/* --- offers ------------------------------------------------------------------------------- */

static int by_hour(const void *one, const void *other)
{
    const struct weather_offer *a = one;
    const struct weather_offer *b = other;
    if (a->raw.start_s != b->raw.start_s)
        return a->raw.start_s < b->raw.start_s ? -1 : 1;
    if (a->source != b->source)
        return a->source < b->source ? -1 : 1;
    return a->raw.issued_s > b->raw.issued_s ? -1 : a->raw.issued_s < b->raw.issued_s;
}

static int add_readings(struct workbench *w)
{
    const struct records *records = w->records;
    size_t most = records->reading_count + 1;
    size_t count = 0;
    struct weather_raw *hours = calloc(most, sizeof *hours);
    if (!hours)
        return out_of_memory(w);
    enum status status =
        station_hours(records->readings, records->reading_count, w->config->station_wind_height_m,
                      w->at_s, hours, most, &count);
    size_t at = 0; /* records' offers ascend as the hours do */
    for (size_t i = 0; i < count && status == STATUS_OK; i++) {
        bool entered = false; /* by hand or file: that goes before the readings */
        while (at < records->offer_count && records->offers[at].raw.start_s < hours[i].start_s)
            at++;
        for (size_t o = at;
             o < records->offer_count && records->offers[o].raw.start_s == hours[i].start_s; o++)
            entered |= records->offers[o].source == 0;
        if (!entered)
            w->offers[w->offer_count++] = (struct weather_offer){.raw = hours[i], .source = 0};
    }
    free(hours);
    return status == STATUS_OK ? 0 : no_sense(w, status);
}

static size_t pick(const struct workbench *w, size_t source, struct weather_offer *out)
{
    size_t count = 0;
    for (size_t i = 0; i < w->offer_count; i++)
        if (w->offers[i].source == source)
            out[count++] = w->offers[i];
    return count;
}

static void put_back_marks(struct workbench *w, size_t source, const struct weather_offer *from)
{
    for (size_t i = 0; i < w->offer_count; i++)
        if (w->offers[i].source == source)
            memcpy(w->offers[i].mark, (from++)->mark, sizeof from->mark);
}

/* Radiation that follows the sun an hour off is marked as a whole. */
static int check_lag(struct workbench *w, size_t source)
{
    size_t count = pick(w, source, w->some);
    size_t slots = 0;
    int lag_h = 0;
    for (size_t i = 0; i < count; i++) {
        const struct weather_offer *o = &w->some[i];
        bool use = o->raw.start_s >= w->at_s - LAG_WINDOW_S && o->raw.start_s < w->at_s &&
                   !weather_mark_rejects(o->mark[WEATHER_SKY]) && slots < w->slot_capacity &&
                   (slots == 0 || o->raw.start_s > w->slots[slots - 1].raw.start_s);
        if (use)
            w->slots[slots++] = weather_slot_of(&o->raw, source);
    }
    enum status status = weather_radiation_lag(&w->config->site, w->slots, slots, &lag_h);
    if (status == STATUS_NO_SOLUTION)
        return 0;
    if (status != STATUS_OK)
        return no_sense(w, status);
    w->view->lag_h[source] = lag_h;
    for (size_t i = 0; i < w->offer_count && lag_h != 0; i++)
        if (w->offers[i].source == source && !isnan(w->offers[i].raw.radiation_w_m2))
            w->offers[i].mark[WEATHER_SKY] = WEATHER_MARK_SHIFTED;
    return 0;
}

static int check_offers(struct workbench *w)
{
    const struct sun_site *site = &w->config->site;
    enum status status = STATUS_OK;
    for (size_t i = 0; i < w->offer_count && status == STATUS_OK; i++)
        status = weather_check_hour(site, &w->offers[i]);
    if (status == STATUS_OK) {
        size_t count = pick(w, 0, w->some);
        status = weather_check_sensor(site, w->some, count);
        put_back_marks(w, 0, w->some);
    }
    if (status != STATUS_OK)
        return no_sense(w, status);
    for (size_t source = 0; source < w->records->source_count; source++)
        if (check_lag(w, source) != 0)
            return -1;
    return 0;
}

static void list_rejections(struct workbench *w)
{
    struct weather_view *view = w->view;
    for (size_t i = 0; i < w->offer_count; i++) {
        const struct weather_offer *o = &w->offers[i];
        if (o->raw.start_s < w->at_s - RECENT_S || o->raw.start_s > w->at_s)
            continue;
        for (int part = 0; part < WEATHER_PARTS; part++) {
            struct weather_rejection *r = view->rejections;
            struct weather_rejection *end = r + view->rejection_count;
            if (!weather_mark_rejects(o->mark[part]))
                continue;
            while (r < end &&
                   (r->source != o->source || (int)r->part != part || r->mark != o->mark[part]))
                r++;
            if (r == end && view->rejection_count == WEATHER_REJECTIONS_MOST)
                continue;
            if (r == end) {
                *r = (struct weather_rejection){o->source, (enum weather_part)part, o->mark[part],
                                                0, 0};
                view->rejection_count++;
            }
            r->hours++;
            r->last_s = o->raw.start_s;
        }
    }
}

static int gather_offers(struct workbench *w)
{
    const struct records *records = w->records;
    size_t most = records->offer_count + records->reading_count + 1;
    w->offers = calloc(most, sizeof *w->offers);
    w->some = calloc(most, sizeof *w->some);
    if (!w->offers || !w->some)
        return out_of_memory(w);
    if (records->offer_count > 0)
        memcpy(w->offers, records->offers, records->offer_count * sizeof *w->offers);
    w->offer_count = records->offer_count;
    if (add_readings(w) != 0)
        return -1;
    qsort(w->offers, w->offer_count, sizeof *w->offers, by_hour);
    return 0;
}

/* --- completing --------------------------------------------------------------------------- */

static struct weather_task task_of(const struct workbench *w, const struct weather_slot *slots,
                                   size_t slot_count)
{
    return (struct weather_task){
        .site = &w->config->site,
        .normals = w->records->has_normals ? w->records->normals : NULL,
        .slots = slots,
        .slot_count = slot_count,
        .first_s = w->first_s,
        .count = w->count,
        .now_s = w->at_s,
    };
}

/* Hours as if one source were alone; *filled of them. */
static int complete_alone(struct workbench *w, size_t source, const double *factors, size_t *filled)
{
    size_t slots = 0;
    size_t count = pick(w, source, w->some);
    enum status status = weather_merge(w->some, count, w->at_s, w->slots, w->slot_capacity, &slots);
    if (status != STATUS_OK)
        return no_sense(w, status);
    struct weather_task task = task_of(w, w->slots, slots);
    task.radiation_factors = factors;
    task.factor_count = factors ? w->records->source_count : 0;
    if (!task.normals && slots > 0 && w->slots[0].raw.start_s > task.first_s) {
        size_t gone = (size_t)((w->slots[0].raw.start_s - task.first_s) / CIVIL_HOUR_S);
        task.count -= gone < task.count ? gone : task.count;
        task.first_s = w->slots[0].raw.start_s;
    }
    status = weather_complete(&task, w->hours, filled);
    return status == STATUS_OK || status == STATUS_NO_SOLUTION ? 0 : no_sense(w, status);
}

static int learn(struct workbench *w)
{
    const struct records *records = w->records;
    const struct weather_normal *normals = records->has_normals ? records->normals : NULL;
    size_t count = pick(w, 0, w->some);
    enum status status =
        weather_merge(w->some, count, w->at_s, w->own, w->slot_capacity, &w->own_count);
    for (size_t source = 0; source < records->source_count && status == STATUS_OK; source++) {
        size_t filled = 0;
        if (source > 0 && w->own_count > 0 && complete_alone(w, source, NULL, &filled) != 0)
            return -1;
        status = weather_learn(&w->config->site, normals, w->own, w->own_count, w->hours, filled,
                               w->at_s, &w->view->learnt[source]);
    }
    if (status != STATUS_OK)
        return no_sense(w, status);
    weather_learnt_apply(w->view->learnt, records->source_count, w->offers, w->offer_count);
    return 0;
}

static void fill_factors(const struct workbench *w, double factors[RECORDS_SOURCES_MOST])
{
    for (size_t i = 0; i < RECORDS_SOURCES_MOST; i++)
        factors[i] = i < w->records->source_count ? w->view->learnt[i].radiation_factor : 1;
}

/* Without normals the hours begin and end with the sources. */
static int complete_all(struct workbench *w)
{
    double factors[RECORDS_SOURCES_MOST];
    const struct records *records = w->records;
    size_t slots = 0;
    enum status status =
        weather_merge(w->offers, w->offer_count, w->at_s, w->slots, w->slot_capacity, &slots);
    if (status != STATUS_OK)
        return no_sense(w, status);
    if (!records->has_normals) {
        if (slots == 0)
            return error_set(w->error, "no weather at all: neither climate normals (import "
                                       "normals.csv) nor an accepted forecast");
        if (w->slots[0].raw.start_s > w->first_s) {
            w->count -= (size_t)((w->slots[0].raw.start_s - w->first_s) / CIVIL_HOUR_S);
            w->first_s = w->slots[0].raw.start_s;
        }
    }
    struct weather_task task = task_of(w, w->slots, slots);
    fill_factors(w, factors);
    task.radiation_factors = factors;
    task.factor_count = records->source_count;
    status = weather_complete(&task, w->view->hours, &w->view->hour_count);
    if (status != STATUS_OK && (status != STATUS_NO_SOLUTION || records->has_normals))
        return no_sense(w, status);
    return 0;
}

/* --- what there is to say ----------------------------------------------------------------- */

static size_t hour_at(const struct workbench *w, int64_t t_s)
{
    return t_s < w->first_s ? 0 : (size_t)((t_s - w->first_s) / CIVIL_HOUR_S);
}

static void set_rung(struct workbench *w)
{
    struct weather_view *view = w->view;
    int hours_of[RECORDS_SOURCES_MOST] = {0};
    int most = 0;
    size_t from = hour_at(w, w->at_s);
    view->age_s = -1;
    view->leading = WEATHER_NOBODY;
    for (size_t h = from; h < view->hour_count && h < from + 24; h++) {
        const struct weather_origin *air = &view->hours[h].origin[WEATHER_AIR];
        if (air->source == WEATHER_NOBODY || air->kind != WEATHER_FORECAST ||
            view->hours[h].kind != WEATHER_FORECAST)
            continue;
        int64_t age_s = w->at_s - air->issued_s;
        if (view->age_s < 0 || age_s < view->age_s)
            view->age_s = age_s > 0 ? age_s : 0;
        if (++hours_of[air->source] > most) {
            most = hours_of[air->source];
            view->leading = air->source;
        }
    }
    if (view->age_s < 0)
        view->rung = WEATHER_RUNG_NORMALS;
    else
        view->rung = view->age_s <= FRESH_S           ? WEATHER_RUNG_FORECAST
                     : view->age_s <= CIVIL_DAY_S     ? WEATHER_RUNG_OLD
                     : view->age_s <= 3 * CIVIL_DAY_S ? WEATHER_RUNG_FADING
                                                      : WEATHER_RUNG_FAINT;
}

/* Lasting differences worth a word and a wider margin. */
static bool is_off(const struct weather_learnt *l)
{
    return l->hours >= WEATHER_LEARN_HOURS &&
           (fabs(l->temperature_bias_c) > OFF_C || fabs(l->humidity_bias_pct) > OFF_HUMIDITY_PCT ||
            fabs(l->radiation_ratio - 1) > OFF_RADIATION || l->wind_ratio < 0.5 ||
            l->wind_ratio > 1.5);
}

/* A local day's figures of hours that start at start_s; false when too little of it is known. */
static bool day_figures(const struct workbench *w, const struct weather_hour *hours, size_t count,
                        int64_t first_s, int64_t day, struct weather_day *out)
{
    int64_t start_s = civil_local_to_utc(w->zone, day, 0);
    int64_t end_s = civil_local_to_utc(w->zone, day + 1, 0);
    size_t known = 0;
    if (start_s < first_s || (end_s - first_s) / CIVIL_HOUR_S > (int64_t)count)
        return false;
    size_t from = (size_t)((start_s - first_s + CIVIL_HOUR_S - 1) / CIVIL_HOUR_S);
    size_t hours_long = (size_t)((end_s - start_s) / CIVIL_HOUR_S);
    for (size_t h = from; h < from + hours_long && h < count; h++)
        known += hours[h].kind != WEATHER_NORMAL;
    return known >= HOURS_OF_A_DAY_LEAST && from + hours_long <= count &&
           weather_day_of(&w->config->site, hours + from, hours_long, out) == STATUS_OK;
}

/* The leading feed's coming days against those of the next one that has them. */
static int compare_feeds(struct workbench *w)
{
    struct weather_view *view = w->view;
    double factors[RECORDS_SOURCES_MOST];
    struct weather_day leading[SPREAD_DAYS];
    bool known[SPREAD_DAYS] = {false};
    int64_t today = civil_days(civil_local_date(w->zone, w->at_s));
    size_t filled = 0;
    if (view->leading == WEATHER_NOBODY)
        return 0;
    fill_factors(w, factors);
    if (complete_alone(w, view->leading, factors, &filled) != 0)
        return -1;
    for (int d = 0; d < SPREAD_DAYS && filled > 0; d++)
        known[d] =
            day_figures(w, w->hours, filled, w->hours[0].start_s, today + 1 + d, &leading[d]);
    for (size_t other = 1; other < w->records->source_count; other++) {
        if (other == view->leading || !w->records->sources[other].has_document)
            continue;
        if (complete_alone(w, other, factors, &filled) != 0)
            return -1;
        for (int d = 0; d < SPREAD_DAYS && filled > 0; d++) {
            struct weather_day day;
            if (!known[d] || view->dispute_count == WEATHER_DISPUTES_MOST ||
                !day_figures(w, w->hours, filled, w->hours[0].start_s, today + 1 + d, &day))
                continue;
            unsigned differs = weather_day_differs(&leading[d], &day);
            if (differs)
                view->disputes[view->dispute_count++] = (struct weather_dispute){
                    view->leading,
                    other,
                    civil_local_to_utc(w->zone, today + 1 + d, 0),
                    differs,
                    leading[d].et0_mm,
                    day.et0_mm,
                };
        }
    }
    return 0;
}

static int set_skill(struct workbench *w)
{
    const struct records *records = w->records;
    struct weather_view *view = w->view;
    struct weather_trial *trials = calloc(records->trial_count + 1, sizeof *trials);
    size_t count = 0;
    if (!trials)
        return out_of_memory(w);
    view->skill_against = WEATHER_MEASURED;
    for (size_t i = 0; i < records->trial_count; i++)
        if (records->trials[i].source == view->leading) {
            trials[count++] = records->trials[i].trial;
            if (records->trials[i].against > view->skill_against)
                view->skill_against = records->trials[i].against;
        }
    weather_skill_of(trials, count, view->skill);
    view->skilled = count > 0;
    free(trials);
    return 0;
}

/* A coming day's error in mm; wider where the forecast is old or disputed. */
static double day_sd_mm(const struct workbench *w, int64_t day_s, int ahead)
{
    const struct weather_view *view = w->view;
    int64_t lead = ahead + view->age_s / CIVIL_DAY_S;
    double most_mm = weather_prior_sd_mm(WEATHER_LEADS);
    double sd_mm = view->rung == WEATHER_RUNG_NORMALS || lead >= WEATHER_LEADS
                       ? most_mm
                       : view->skill[lead].et0_sd_mm;
    if (view->rung != WEATHER_RUNG_FORECAST && view->rung != WEATHER_RUNG_NORMALS)
        sd_mm = fmin(OLD_WIDER * sd_mm, fmax(sd_mm, most_mm));
    if (view->station_differs)
        sd_mm *= OFF_WIDER;
    for (size_t i = 0; i < view->dispute_count; i++)
        if (view->disputes[i].day_s == day_s)
            sd_mm =
                fmax(sd_mm, fabs(view->disputes[i].et0_mm - view->disputes[i].other_et0_mm) / 2);
    return sd_mm;
}

static double bounded(double spread)
{
    return fmin(fmax(spread, SPREAD_LEAST), SPREAD_MOST);
}

static void set_spread(struct workbench *w)
{
    struct weather_view *view = w->view;
    int64_t today = civil_days(civil_local_date(w->zone, w->at_s));
    double squares = 0;
    double et0_mm = 0;
    int days = 0;
    for (int d = 0; d < WEATHER_SPREAD_DAYS; d++) {
        struct weather_day day;
        int64_t day_s = civil_local_to_utc(w->zone, today + d, 0);
        size_t from = hour_at(w, day_s);
        view->et0_spread[d] = d > 0 ? view->et0_spread[d - 1] : SPREAD_MOST;
        if (from + 24 > view->hour_count ||
            weather_day_of(&w->config->site, view->hours + from, 24, &day) != STATUS_OK)
            continue;
        double sd_mm = day_sd_mm(w, day_s, d);
        view->et0_spread[d] = bounded(day.et0_mm > 0 ? sd_mm / day.et0_mm : SPREAD_MOST);
        if (d == 0 || d > SPREAD_DAYS)
            continue;
        squares += sd_mm * sd_mm;
        et0_mm += day.et0_mm;
        days++;
    }
    view->spread = bounded(
        days > 0 && et0_mm > 0 ? SUM_OF_DAYS * sqrt(squares / days) * days / et0_mm : SPREAD_MOST);
}

/* --- all ---------------------------------------------------------------------------------- */

static int check_reach(struct workbench *w, int beyond_days)
{
    struct weather_view *view = w->view;
    int64_t end_s = w->first_s + (int64_t)view->hour_count * CIVIL_HOUR_S;
    if (view->hour_count < 48 || w->at_s < w->first_s || w->at_s >= end_s - 24 * CIVIL_HOUR_S)
        return error_set(w->error, "the forecast at hand does not reach a day ahead and there are "
                                   "no climate normals (import normals.csv)");
    int64_t days = (end_s - w->at_s) / CIVIL_DAY_S - (w->records->has_normals ? beyond_days : 0);
    int most = w->config->plan_days;
    view->days = (int)(days < most ? (days < 1 ? 1 : days) : most);
    return 0;
}

static int work(struct workbench *w, int beyond_days)
{
    w->slot_capacity = w->count + 48;
    w->slots = calloc(w->slot_capacity, sizeof *w->slots);
    w->own = calloc(w->slot_capacity, sizeof *w->own);
    w->hours = calloc(w->count, sizeof *w->hours);
    w->view->hours = calloc(w->count, sizeof *w->view->hours);
    if (!w->slots || !w->own || !w->hours || !w->view->hours)
        return out_of_memory(w);
    if (gather_offers(w) != 0 || check_offers(w) != 0)
        return -1;
    list_rejections(w);
    if (learn(w) != 0 || complete_all(w) != 0 || check_reach(w, beyond_days) != 0)
        return -1;
    set_rung(w);
    w->view->station_differs =
        w->view->leading != WEATHER_NOBODY && is_off(&w->view->learnt[w->view->leading]);
    if (set_skill(w) != 0 || compare_feeds(w) != 0)
        return -1;
    set_spread(w);
    return 0;
}

int weather_view_make(const struct config *config, const struct civil_zone *zone,
                      struct records *records, int64_t at_s, int history_days, int beyond_days,
                      struct weather_view *out, struct error *error)
{
    struct weather_view view = {.hours = NULL};
    struct workbench w = {
        .config = config,
        .zone = zone,
        .records = records,
        .at_s = at_s,
        .first_s = civil_floor_hour(at_s) - (int64_t)history_days * CIVIL_DAY_S,
        .count = (size_t)(history_days + config->plan_days + beyond_days) * 24,
        .view = &view,
        .error = error,
    };
    sort_sources(config, records);
    int result = work(&w, beyond_days);
    free(w.offers);
    free(w.some);
    free(w.slots);
    free(w.own);
    free(w.hours);
    if (result != 0)
        weather_view_free(&view);
    else
        *out = view;
    return result;
}

void weather_view_free(struct weather_view *view)
{
    free(view->hours);
    *view = (struct weather_view){.hours = NULL};
}

const char *weather_rung_name(enum weather_rung rung)
{
    static const char *const names[] = {"forecast", "old_forecast", "fading_forecast",
                                        "faint_forecast", "normals"};
    return names[rung];
}

const char *weather_part_name(enum weather_part part)
{
    static const char *const names[] = {"air", "wind", "sky", "rain"};
    return part < WEATHER_PARTS ? names[part] : "";
}

const char *weather_mark_name(enum weather_mark mark)
{
    static const char *const names[WEATHER_MARKS] = {
        [WEATHER_MARK_GOOD] = "good",
        [WEATHER_MARK_JUMP] = "jump",
        [WEATHER_MARK_DRY_RAIN] = "rain_in_dry_air",
        [WEATHER_MARK_BRIGHT] = "bright",
        [WEATHER_MARK_REJECTED] = "",
        [WEATHER_MARK_RANGE] = "out_of_range",
        [WEATHER_MARK_DEWPOINT] = "dew_point_above_air",
        [WEATHER_MARK_STUCK] = "stuck",
        [WEATHER_MARK_ABOVE_SKY] = "above_the_sun",
        [WEATHER_MARK_DARK] = "dark_all_day",
        [WEATHER_MARK_NIGHT] = "light_at_night",
        [WEATHER_MARK_SHIFTED] = "shifted",
    };
    return mark < WEATHER_MARKS ? names[mark] : "";
}

const char *weather_kind_name(enum weather_kind kind)
{
    static const char *const names[] = {"measured", "analysis", "forecast", "normal"};
    return names[kind];
}
