/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "block_hours.h"

#include <math.h>
#include <stdio.h>

#include "json_put.h"

enum { LITRE_PLACES = 4, RANGE_PLACES = 3 };

struct series {
    const struct plan_view *view;
    const struct plan_trace *trace;
    size_t from, to; /* of the trace's hours: flows in [from, to), levels to `to` as well */
    bool failed;
};

static void put(struct series *s, json_t *object, const char *name, json_t *value)
{
    if (json_object_set_new(object, name, value) != 0)
        s->failed = true;
}

static void push(struct series *s, json_t *array, json_t *value)
{
    if (json_array_append_new(array, value) != 0)
        s->failed = true;
}

static void put_time(struct series *s, json_t *object, const char *name, int64_t t_s)
{
    if (!json_put_time(object, name, t_s, &s->view->input->nursery->time_zone))
        s->failed = true;
}

static int64_t hour_s(const struct series *s, size_t hour)
{
    return s->view->input->hours[s->trace->from + hour].start_s;
}

/* --- which hours ---------------------------------------------------------------------------- */

static size_t hour_at(const struct series *s, int64_t t_s)
{
    int64_t hours = (t_s - hour_s(s, 0) + CIVIL_HOUR_S - 1) / CIVIL_HOUR_S;
    size_t last = s->trace->to - s->trace->from - 1;
    return hours < 0 ? 0 : hours > (int64_t)last ? last : (size_t)hours;
}

static void choose_hours(struct series *s, int past_d, int ahead_d)
{
    const struct civil_zone *zone = &s->view->input->nursery->time_zone;
    int64_t today = s->view->result->days[0].local_days;
    s->from = hour_at(s, civil_local_to_utc(zone, today - past_d, 0));
    s->to = hour_at(s, civil_local_to_utc(zone, today + ahead_d + 1, 0));
    if (s->from < s->trace->first)
        s->from = s->trace->first;
    if (s->to < s->from)
        s->to = s->from;
}

static size_t now_hour(const struct series *s)
{
    return (size_t)((s->view->input->now_s - hour_s(s, 0)) / CIVIL_HOUR_S);
}

/* --- one array a quantity ------------------------------------------------------------------- */

struct quantity {
    const char *name;
    size_t member; /* of struct plan_hour, a double */
    double scale;
    int places;
    bool level;
};

static double member_of(const struct plan_hour *hour, size_t member)
{
    return *(const double *)(const void *)((const char *)hour + member);
}

static void put_arrays(struct series *s, json_t *root)
{
    static const struct quantity quantities[] = {
        {"water_l", offsetof(struct plan_hour, water_l), 1.0, LITRE_PLACES, true},
        {"driest_l", offsetof(struct plan_hour, driest_l), 1.0, RANGE_PLACES, true},
        {"air_pct", offsetof(struct plan_hour, air), 100.0, 1, true},
        {"use_l", offsetof(struct plan_hour, used_l), 1.0, LITRE_PLACES, false},
        {"in_l", offsetof(struct plan_hour, in_l), 1.0, LITRE_PLACES, false},
        {"rain_l", offsetof(struct plan_hour, rain_l), 1.0, LITRE_PLACES, false},
        {"drained_l", offsetof(struct plan_hour, drained_l), 1.0, LITRE_PLACES, false},
        {"adjusted_l", offsetof(struct plan_hour, adjusted_l), 1.0, LITRE_PLACES, false},
        {"rain_mm", offsetof(struct plan_hour, rain_mm), 1.0, 2, false},
        {"et0_mm", offsetof(struct plan_hour, et0_mm), 1.0, 2, false},
    };
    for (size_t q = 0; q < sizeof quantities / sizeof quantities[0]; q++) {
        const struct quantity *what = &quantities[q];
        json_t *array = json_array();
        for (size_t h = s->from; h < s->to + (what->level ? 1 : 0); h++)
            push(s, array,
                 json_put_number(member_of(&s->trace->hours[h], what->member) * what->scale,
                                 what->places));
        put(s, root, what->name, array);
    }
}

/* Beside the hours from now on only. */
static void put_range(struct series *s, json_t *root, const char *name, size_t member)
{
    json_t *array = json_array();
    for (size_t h = now_hour(s) < s->from ? s->from : now_hour(s); h <= s->to; h++)
        push(s, array, json_put_number(member_of(&s->trace->hours[h], member), RANGE_PLACES));
    put(s, root, name, array);
}

/* Null when there was no run that nobody told of. */
static void put_if_ran(struct series *s, json_t *root)
{
    json_t *array = json_array();
    bool unsure = false;
    for (size_t h = s->from; h <= s->to; h++) {
        unsure |= s->trace->hours[h].wet_l != s->trace->hours[h].water_l;
        push(s, array, json_put_number(s->trace->hours[h].wet_l, RANGE_PLACES));
    }
    if (!unsure) {
        json_decref(array);
        array = json_null();
    }
    put(s, root, "water_if_ran_l", array);
}

/* They change with the state of the plants only. */
static void put_limits(struct series *s, json_t *root)
{
    json_t *array = json_array();
    const struct plan_hour *before = NULL;
    for (size_t h = s->from; h <= s->to; h++) {
        const struct plan_hour *hour = &s->trace->hours[h];
        if (before && fabs(hour->full_l - before->full_l) < 5e-5 &&
            fabs(hour->refill_l - before->refill_l) < 5e-5 &&
            fabs(hour->stress_l - before->stress_l) < 5e-5)
            continue;
        json_t *limits = json_object();
        put(s, limits, "hour", json_integer((json_int_t)(h - s->from)));
        put(s, limits, "full_l", json_put_number(hour->full_l, LITRE_PLACES));
        put(s, limits, "refill_l", json_put_number(hour->refill_l, LITRE_PLACES));
        put(s, limits, "stress_l", json_put_number(hour->stress_l, LITRE_PLACES));
        push(s, array, limits);
        before = hour;
    }
    put(s, root, "limits", array);
}

/* A letter an hour. */
static void put_kinds(struct series *s, json_t *root)
{
    static const char letters[] = {[WEATHER_MEASURED] = 'm',
                                   [WEATHER_ANALYSIS] = 'a',
                                   [WEATHER_FORECAST] = 'f',
                                   [WEATHER_NORMAL] = 'n'};
    char text[24 * 64 + 1];
    size_t length = 0;
    for (size_t h = s->from; h < s->to && length + 1 < sizeof text; h++)
        text[length++] = letters[s->view->input->hours[s->trace->from + h].kind];
    put(s, root, "weather", json_stringn(text, length));
}

/* --- whole days ----------------------------------------------------------------------------- */

static void put_days(struct series *s, json_t *root)
{
    const struct civil_zone *zone = &s->view->input->nursery->time_zone;
    json_t *array = json_array();
    for (size_t h = s->from; h < s->to;) {
        int64_t day = civil_days(civil_local_date(zone, hour_s(s, h)));
        struct plan_hour sum = {.water_l = 0.0};
        json_t *object = json_object();
        char date[PLAN_DATE_SIZE];
        for (; h < s->to && civil_days(civil_local_date(zone, hour_s(s, h))) == day; h++) {
            const struct plan_hour *hour = &s->trace->hours[h];
            sum.et0_mm += hour->et0_mm;
            sum.rain_mm += hour->rain_mm;
            sum.used_l += hour->used_l;
            sum.in_l += hour->in_l;
            sum.drained_l += hour->drained_l;
        }
        put(s, object, "date", json_string(plan_date_text(day, date)));
        put(s, object, "et0_mm", json_put_number(sum.et0_mm, 1));
        put(s, object, "rain_mm", json_put_number(sum.rain_mm, 1));
        put(s, object, "use_l", json_put_number(sum.used_l, LITRE_PLACES));
        put(s, object, "in_l", json_put_number(sum.in_l, LITRE_PLACES));
        put(s, object, "drained_l", json_put_number(sum.drained_l, LITRE_PLACES));
        push(s, array, object);
    }
    put(s, root, "days", array);
}

/* --- marks ---------------------------------------------------------------------------------- */

static bool shown(const struct series *s, int64_t t_s)
{
    return t_s >= hour_s(s, s->from) && t_s < hour_s(s, s->to);
}

/* The zone that watered the block at a moment. */
static size_t zone_at(const struct series *s, int64_t t_s)
{
    const struct nursery *nursery = s->view->input->nursery;
    const struct nursery_block *block = &nursery->blocks[s->trace->block];
    size_t zone = nursery->states[block->first_state].zone;
    for (size_t i = 1; i < block->state_count; i++)
        if (nursery->states[block->first_state + i].at_s <= t_s)
            zone = nursery->states[block->first_state + i].zone;
    return zone;
}

static void push_run(struct series *s, json_t *runs, const char *state, int64_t start_s,
                     int64_t end_s, double litres)
{
    json_t *object = json_object();
    put_time(s, object, "start", start_s);
    put_time(s, object, "end", end_s);
    put(s, object, "litres", json_put_number(litres, 0));
    put(s, object, "state", json_string(state));
    push(s, runs, object);
}

static void put_runs(struct series *s, json_t *root)
{
    static const char *const states[] = {
        [NURSERY_RUN_REPORTED] = "reported",   [NURSERY_RUN_METERED] = "metered",
        [NURSERY_RUN_CONFIRMED] = "confirmed", [NURSERY_RUN_ASSUMED] = "assumed",
        [NURSERY_RUN_UNDERWAY] = "underway",   [NURSERY_RUN_UNKNOWN] = "unreported"};
    const struct nursery *nursery = s->view->input->nursery;
    const struct plan_result *result = s->view->result;
    json_t *runs = json_array();
    for (size_t r = 0; r < nursery->run_count; r++) {
        const struct nursery_run *run = &nursery->runs[r];
        if (!shown(s, run->start_s) || run->zone != zone_at(s, run->start_s))
            continue;
        push_run(s, runs, run->start_s > s->view->input->now_s ? "planned" : states[run->state],
                 run->start_s, run->end_s,
                 run->litres >= 0.0 ? run->litres
                                    : nursery->zones[run->zone].flow_l_min *
                                          (double)(run->end_s - run->start_s) / 60.0);
    }
    for (size_t r = 0; r < result->run_count; r++) {
        const struct plan_run *run = &result->runs[r];
        if (!run->underway && shown(s, run->start_s) &&
            run->zone == nursery->blocks[s->trace->block].zone)
            push_run(s, runs, "planned", run->start_s, run->end_s, run->litres);
    }
    put(s, root, "runs", runs);
}

static void push_found(struct series *s, json_t *found, int64_t at_s, const char *what,
                       const char *place, json_t *missing)
{
    json_t *object = json_object();
    put_time(s, object, "at", at_s);
    put(s, object, "what", json_string(what));
    put(s, object, "place", place ? json_string(place) : json_null());
    put(s, object, "missing_l", missing);
    push(s, found, object);
}

static void put_found(struct series *s, json_t *root)
{
    static const char *const feels[] = {"dry", "right", "wet"};
    static const char *const places[] = {"centre", "edge", "both"};
    const struct nursery *nursery = s->view->input->nursery;
    json_t *found = json_array();
    for (size_t i = 0; i < nursery->weighing_count; i++) {
        const struct nursery_weighing *weighing = &nursery->weighings[i];
        if (weighing->block == s->trace->block && shown(s, weighing->at_s))
            push_found(s, found, weighing->at_s, "weighed", NULL,
                       json_put_number(weighing->missing_l, RANGE_PLACES));
    }
    for (size_t i = 0; i < nursery->touch_count; i++) {
        const struct nursery_touch *touch = &nursery->touches[i];
        if (touch->block == s->trace->block && shown(s, touch->at_s))
            push_found(s, found, touch->at_s, feels[touch->feel], places[touch->place],
                       json_null());
    }
    put(s, root, "found", found);
}

/* -------------------------------------------------------------------------------------------- */

json_t *block_hours_json(const struct plan_view *view, int past_d, int ahead_d)
{
    struct series s = {.view = view, .trace = view->result->trace};
    json_t *root = json_object();
    choose_hours(&s, past_d, ahead_d);
    put(&s, root, "block", json_string(view->records->blocks[s.trace->block].id));
    put_time(&s, root, "made_at", view->input->now_s);
    put_time(&s, root, "start", hour_s(&s, s.from));
    put(&s, root, "step_s", json_integer(CIVIL_HOUR_S));
    put(&s, root, "hours", json_integer((json_int_t)(s.to - s.from)));
    put(&s, root, "now", json_integer((json_int_t)now_hour(&s) - (json_int_t)s.from));
    put_arrays(&s, root);
    put_range(&s, root, "from_l", offsetof(struct plan_hour, from_l));
    put_range(&s, root, "to_l", offsetof(struct plan_hour, to_l));
    put_if_ran(&s, root);
    put_limits(&s, root);
    put_kinds(&s, root);
    put_days(&s, root);
    put_runs(&s, root);
    put_found(&s, root);
    if (!s.failed)
        return root;
    json_decref(root);
    return NULL;
}
