/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "planner.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "plan_result.h"
#include "plan_view.h"
#include "sheet.h"

/* How far back the balance may have to start, and how far beyond the last day it looks. */
enum { HISTORY_DAYS = PLANNER_HISTORY_DAYS, BEYOND_DAYS = 2 };

struct workshop {
    const struct planner_reading *reading; /* NULL: nobody waits for that */
    struct records records;
    struct weather_view weather;
    void *room;
    struct plan_result result;
    struct plan_trace trace;
};

static void close_workshop(struct workshop *w)
{
    weather_view_free(&w->weather);
    free(w->room);
    plan_result_close(&w->result);
    free(w->trace.hours);
    records_free(&w->records);
}

static int make_weather(struct workshop *w, const struct config *config,
                        const struct civil_zone *zone, int64_t at_s, struct plan_input *input,
                        struct error *error)
{
    if (weather_view_make(config, zone, &w->records, at_s, HISTORY_DAYS, BEYOND_DAYS, &w->weather,
                          error) != 0)
        return -1;
    input->hours = w->weather.hours;
    input->hour_count = w->weather.hour_count;
    input->days = w->weather.days;
    input->et0_spread = w->weather.et0_spread;
    input->et0_spread_count = WEATHER_SPREAD_DAYS;
    input->normal_factor = w->weather.learnt[0].normal_factor;
    return 0;
}

static int refuse(enum status status, size_t culprit, const struct records *records,
                  struct error *error)
{
    const char *what = status == STATUS_IMPOSSIBLE
                           ? "its pot and mix hold no water that plants can use"
                       : status == STATUS_NO_SPACE ? "the plan is larger than it may be"
                                                   : "a figure is outside its range";
    if (culprit != NURSERY_NONE)
        return error_set(error, "block %s: %s", records->blocks[culprit].id, what);
    return error_set(error, "no plan: %s", what);
}

static int list_runs(const struct workshop *w, const struct plan_view *view,
                     struct planner_bodies *out, struct error *error)
{
    int64_t at_s = view->input->now_s;
    out->runs = calloc(w->result.run_count + 1, sizeof *out->runs);
    if (!out->runs)
        return error_set(error, "out of memory");
    for (size_t r = 0; r < w->result.run_count; r++) {
        const struct plan_run *run = &w->result.runs[r];
        struct store_planned *planned = &out->runs[out->run_count];
        if (run->start_s <= at_s)
            continue;
        memcpy(planned->zone, w->records.zones[run->zone].label.id, sizeof planned->zone);
        plan_run_id(view, run, planned->run_id);
        for (size_t i = 0; i < run->reason_count; i++)
            if (run->reasons[i].code == PLAN_ORDERED)
                memcpy(planned->order_key, w->records.orders[run->reasons[i].other].id,
                       sizeof planned->order_key);
        planned->start_s = run->start_s;
        planned->end_s = run->end_s;
        planned->litres = run->litres;
        planned->pulses = run->pulses;
        planned->pulse_min = run->pulse_min;
        planned->pause_min = run->pause_min;
        planned->purpose = run->purpose;
        planned->basis = w->records.basis;
        out->run_count++;
    }
    return 0;
}

/* The index of a zone by its id. */
static int find_zone(const struct records *records, const char *id, size_t *zone,
                     struct error *error)
{
    char known[300] = "";
    for (size_t z = 0; z < records->nursery.zone_count; z++) {
        const char *label = records->zones[z].label.id;
        size_t used = strlen(known);
        if (strcmp(label, id) == 0) {
            *zone = z;
            return 0;
        }
        snprintf(known + used, sizeof known - used, " %s", label);
    }
    return error_set(error, "zone '%.60s' given, accepted are:%s", id, known);
}

/* Room for all hours of one block; 1 when there is no block of that id. */
static int open_trace(struct workshop *w, const struct plan_input *input, const char *block,
                      struct error *error)
{
    size_t b = 0;
    while (b < input->nursery->block_count && strcmp(w->records.blocks[b].id, block) != 0)
        b++;
    if (b == input->nursery->block_count) {
        error_set(error, "block '%.60s' given, there is none of that id", block);
        return 1;
    }
    w->trace = (struct plan_trace){.block = b, .to = input->hour_count};
    w->trace.hours = calloc(input->hour_count, sizeof *w->trace.hours);
    w->result.trace = &w->trace;
    return w->trace.hours ? 0 : error_set(error, "out of memory");
}

/* The plan of a moment in the workshop; to be closed whatever comes out. */
static int work_out(struct workshop *w, const struct config *config, const struct civil_zone *zone,
                    struct store *store, int64_t at_s, const char *block, struct plan_input *input,
                    struct error *error)
{
    size_t culprit = NURSERY_NONE;
    *input = (struct plan_input){.now_s = at_s};
    int failed = store_load(store, at_s, &config->site, zone, HISTORY_DAYS,
                            config->plan_days + BEYOND_DAYS, &w->records, error);
    input->nursery = &w->records.nursery;
    if (w->reading)
        w->reading->done(w->reading->context);
    if (!failed)
        failed = make_weather(w, config, zone, at_s, input, error);
    if (!failed && plan_result_open(input, &w->result, &w->room) != 0)
        failed =
            error_set(error, "out of memory for a plan of %zu blocks", input->nursery->block_count);
    if (!failed && block)
        failed = open_trace(w, input, block, error);
    if (failed)
        return failed;
    enum status status = plan_make(input, w->room, &w->result, &culprit);
    free(w->room); /* 20 MB of 10,000 blocks, before as much is printed */
    w->room = NULL;
    return status == STATUS_OK ? 0 : refuse(status, culprit, &w->records, error);
}

int planner_view(const struct config *config, const struct civil_zone *zone, struct store *store,
                 int64_t at_s, const char *block, planner_use *use, void *context,
                 struct error *error)
{
    struct workshop w = {0};
    struct plan_input input;
    int failed = work_out(&w, config, zone, store, at_s, block, &input, error);
    if (!failed) {
        const struct plan_view view = {.config = config,
                                       .records = &w.records,
                                       .input = &input,
                                       .result = &w.result,
                                       .weather = &w.weather};
        failed = use(context, &view, error);
    }
    close_workshop(&w);
    return failed;
}

/* The crew's sheet is beside the plan: what is wrong with it never keeps the plan back. */
static void add_sheet(struct plan_view *view, struct store *store, bool issue,
                      struct planner_bodies *out, json_t **sheet)
{
    const struct sheet_order daily = {.who = "perchd", .remarks = ""};
    int64_t number = 0;
    if (issue) {
        int got = store_begin(store, &out->sheet_fault);
        if (got == 0) {
            got = sheet_issue(view, store, &daily, &number, &out->sheet_fault);
            if (got < 0 || store_commit(store, &out->sheet_fault) != 0)
                store_rollback(store);
            else if (got == 1)
                out->issued = number;
        }
    }
    if (sheet_current(view, store, sheet, &out->sheet_fault) != 0)
        *sheet = NULL;
    view->sheet = *sheet;
    if (*sheet)
        out->sheet_json = json_dumps(*sheet, JSON_COMPACT | JSON_REAL_PRECISION(9));
    out->sheet_text = sheet_text(view->config->nursery_name, *sheet, view->clock);
}

struct order {
    int64_t at_s;
    const struct store_clock *clock; /* given: wrong; the notice that no new plan is made */
    const char *why;                 /* a zone that text tells in full, NULL: all as a sheet */
    bool issue;                      /* the crew's sheet, when it is due */
    const struct planner_reading *reading;
};

static int print_bodies(struct workshop *w, const struct plan_view *view, const struct order *order,
                        struct planner_bodies *bodies, struct error *error)
{
    size_t why_zone = 0;
    if (order->why && find_zone(&w->records, order->why, &why_zone, error) != 0)
        return -1;
    bodies->json = plan_json_print(view);
    bodies->text = !order->why    ? plan_text_print(view)
                   : bodies->json ? plan_text_why(view, why_zone, bodies->json)
                                  : NULL;
    bodies->good_until_s = w->result.good_until_s;
    if (!bodies->json || !bodies->text || !bodies->sheet_text)
        return error_set(error, "out of memory for the plan");
    return list_runs(w, view, bodies, error);
}

static int make(const struct config *config, const struct civil_zone *zone, struct store *store,
                const struct order *order, struct planner_bodies *out, struct error *error)
{
    struct workshop w = {.reading = order->reading};
    struct planner_bodies bodies = {0};
    struct plan_input input;
    json_t *sheet = NULL;
    int failed = work_out(&w, config, zone, store, order->at_s, NULL, &input, error);
    if (!failed) {
        struct plan_said said = {NULL, 0};
        struct plan_view view = {.config = config,
                                 .records = &w.records,
                                 .input = &input,
                                 .result = &w.result,
                                 .weather = &w.weather,
                                 .clock = order->clock,
                                 .said = &said};
        add_sheet(&view, store, order->issue, &bodies, &sheet);
        failed = print_bodies(&w, &view, order, &bodies, error);
        bodies.notices = said.notices;
        bodies.notice_count = said.count;
        if (said.count > 0)
            qsort(said.notices, said.count, sizeof *said.notices, records_notice_order);
    }
    json_decref(sheet);
    close_workshop(&w);
    if (failed)
        planner_free(&bodies);
    else
        *out = bodies;
    return failed;
}

int planner_make(const struct config *config, const struct civil_zone *zone, struct store *store,
                 int64_t at_s, struct planner_bodies *out, struct error *error)
{
    const struct order order = {.at_s = at_s};
    return make(config, zone, store, &order, out, error);
}

int planner_try(const struct config *config, const struct civil_zone *zone, struct store *store,
                int64_t at_s, const struct planner_reading *reading, struct planner_bodies *out,
                struct error *error)
{
    const struct order order = {.at_s = at_s, .reading = reading};
    return make(config, zone, store, &order, out, error);
}

int planner_make_and_issue(const struct config *config, const struct civil_zone *zone,
                           struct store *store, int64_t at_s, struct planner_bodies *out,
                           struct error *error)
{
    const struct order order = {.at_s = at_s, .issue = true};
    return make(config, zone, store, &order, out, error);
}

int planner_make_frozen(const struct config *config, const struct civil_zone *zone,
                        struct store *store, const struct store_clock *clock,
                        struct planner_bodies *out, struct error *error)
{
    const struct order order = {.at_s = clock->trusted_s, .clock = clock};
    return make(config, zone, store, &order, out, error);
}

int planner_why(const struct config *config, const struct civil_zone *zone, struct store *store,
                int64_t at_s, const char *zone_id, char **text, struct error *error)
{
    struct planner_bodies bodies = {0};
    const struct order order = {.at_s = at_s, .why = zone_id};
    if (make(config, zone, store, &order, &bodies, error) != 0)
        return -1;
    *text = bodies.text;
    bodies.text = NULL;
    planner_free(&bodies);
    return 0;
}

void planner_free(struct planner_bodies *bodies)
{
    free(bodies->json);
    free(bodies->text);
    free(bodies->runs);
    free(bodies->notices);
    free(bodies->sheet_json);
    free(bodies->sheet_text);
    *bodies = (struct planner_bodies){0};
}
