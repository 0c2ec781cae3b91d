/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "checks.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "core/delivery.h"
#include "json_put.h"
#include "kind.h"
#include "store_checks.h"

enum {
    DAYS = 30,      /* that scores run over */
    RAN_DAYS = 7,   /* zone by zone */
    CANS_MOST = 64, /* as kind.c takes */
    DAWN_H = 6,     /* a weighing so long before a seal is the beginning of the loss */
    HIT_H = 12,     /* so near is a hit [our choice] */
    LITRE_PLACES = 3,
};

struct maker {
    const struct plan_view *view;
    const struct civil_zone *zone;
    struct store *store;
    int64_t now_s;
    json_t *items; /* of the section underway */
    int64_t day;
    struct error *error;
    bool failed;
    /* Sums of the section underway. */
    int count, good;
    double off, off_size, a, b;
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
    if (!json_put_time(object, name, t_s, m->zone))
        m->failed = true;
}

static json_t *ratio(double a, double b)
{
    return b > 0.0 ? json_put_number(a / b, 3) : json_null();
}

static void begin(struct maker *m)
{
    m->items = json_array();
    m->count = m->good = 0;
    m->off = m->off_size = m->a = m->b = 0.0;
}

static json_t *advice(const char *code)
{
    return code ? json_string(code) : json_null();
}

static int64_t since_s(const struct maker *m)
{
    return m->now_s - DAYS * CIVIL_DAY_S;
}

static const char *today_of(const struct maker *m, char out[PLAN_DATE_SIZE])
{
    return plan_date_text(civil_days(civil_local_date(m->zone, m->now_s)), out);
}

static size_t block_named(const struct maker *m, const char *id)
{
    const struct records *records = m->view->records;
    for (size_t b = 0; b < records->nursery.block_count; b++)
        if (strcmp(records->blocks[b].id, id) == 0)
            return b;
    return NURSERY_NONE;
}

/* --- litres a pot a run: cans beside pots ---------------------------------------------------- */

static void take_cans(void *context, const struct store_cans *cans)
{
    struct maker *m = context;
    double catches[CANS_MOST];
    double sorted[CANS_MOST];
    size_t count = 0;
    struct delivery_uniformity uniformity;
    if (!kind_parse_numbers(cans->catches_ml, catches, CANS_MOST, &count) ||
        delivery_uniformity_of(catches, count, sorted, &uniformity) != STATUS_OK)
        return;
    double caught_mm = 10.0 * uniformity.mean / cans->can_cm2;
    double expected_mm = cans->rate_mm_h * cans->minutes / 60.0;
    json_t *object = json_object();
    put(m, object, "zone", json_string(cans->zone));
    put(m, object, "date", json_string(cans->on_date));
    put(m, object, "cans", json_integer((json_int_t)count));
    put(m, object, "expected_mm", json_put_number(expected_mm, 1));
    put(m, object, "caught_mm", json_put_number(caught_mm, 1));
    put(m, object, "ratio",
        isfinite(caught_mm) && isfinite(expected_mm) ? ratio(caught_mm, expected_mm) : json_null());
    put(m, object, "du_low_quarter_pct", json_put_number(100.0 * uniformity.du_low_quarter, 0));
    push(m, m->items, object);
}

static double target_pct(const struct store_caught *caught)
{
    if (isfinite(caught->leaching_pct))
        return caught->leaching_pct;
    if (strcmp(caught->method, "subirrigation") == 0)
        return 0.0;
    return 100.0 * (strcmp(caught->method, "overhead") == 0 ? DELIVERY_LEACH_OVERHEAD
                                                            : DELIVERY_LEACH_MICRO);
}

static void take_caught(void *context, const struct store_caught *caught)
{
    struct maker *m = context;
    double minutes = caught->run_litres / caught->flow_l_min;
    double expected_ml = 1000.0 * caught->emitters_per_pot * caught->emitter_l_h * minutes / 60.0;
    json_t *object = json_object();
    put(m, object, "block", json_string(caught->block));
    put(m, object, "zone", json_string(caught->zone));
    put_time(m, object, "at", caught->at_s);
    put(m, object, "expected_ml", json_put_number(expected_ml, 0));
    put(m, object, "given_ml", json_put_number(caught->given_ml, 0));
    put(m, object, "ratio",
        isfinite(expected_ml) ? ratio(caught->given_ml, expected_ml) : json_null());
    put(m, object, "drained_pct",
        caught->given_ml > 0.0 ? json_put_number(100.0 * caught->drained_ml / caught->given_ml, 1)
                               : json_null());
    put(m, object, "target_pct", json_put_number(target_pct(caught), 1));
    push(m, m->items, object);
}

static int litres_section(struct maker *m, json_t *root)
{
    char today[PLAN_DATE_SIZE];
    json_t *section = json_object();
    begin(m);
    int result = store_cans_each(m->store, today_of(m, today), take_cans, m, m->error);
    bool none = json_array_size(m->items) == 0;
    put(m, section, "cans", m->items);
    begin(m);
    if (result == 0)
        result = store_caught_each(m->store, since_s(m), m->now_s, take_caught, m, m->error);
    none &= json_array_size(m->items) == 0;
    put(m, section, "pots", m->items);
    put(m, section, "do", advice(none ? "put_cans" : NULL));
    put(m, root, "litres", section);
    return result;
}

/* --- water lost in a day: a prediction sealed before the weighing ---------------------------- */

int checks_foretell(const struct plan_view *view, struct store_sealed *out, char **content,
                    struct error *error)
{
    const struct plan_trace *trace = view->result->trace;
    const struct plan_hour *hours = trace->hours;
    size_t now =
        (size_t)((view->input->now_s - view->input->hours[trace->from].start_s) / CIVIL_HOUR_S);
    json_t *missing = json_array();
    json_t *least = json_array();
    json_t *most = json_array();
    int failed = !missing || !least || !most;
    for (size_t h = now; h <= now + CHECKS_SEALED_HOURS && trace->from + h < trace->to; h++) {
        failed |= json_array_append_new(
                      missing, json_put_number(hours[h].full_l - hours[h].water_l, 4)) != 0;
        failed |=
            json_array_append_new(least, json_put_number(hours[h].full_l - hours[h].to_l, 4)) != 0;
        failed |=
            json_array_append_new(most, json_put_number(hours[h].full_l - hours[h].from_l, 4)) != 0;
    }
    json_t *figures =
        json_pack("{s:o, s:o, s:o}", "missing_l", missing, "least_l", least, "most_l", most);
    *content =
        figures && !failed ? json_dumps(figures, JSON_COMPACT | JSON_REAL_PRECISION(9)) : NULL;
    json_decref(figures);
    if (!*content)
        return error_set(error, "out of memory for a prediction");
    *out = (struct store_sealed){.kind = STORE_SEALED_WATER,
                                 .made_s = view->input->now_s,
                                 .about_s = view->input->hours[trace->from + now].start_s,
                                 .content = *content};
    memcpy(out->block, view->records->blocks[trace->block].id, sizeof out->block);
    return 0;
}

/* Between the hours' beginnings; NAN outside them. */
static double value_at(const json_t *array, int64_t start_s, int64_t at_s)
{
    double place = (double)(at_s - start_s) / CIVIL_HOUR_S;
    size_t index = place >= 0.0 ? (size_t)place : 0;
    const json_t *before = json_array_get(array, index);
    const json_t *after = json_array_get(array, index + 1);
    if (place < 0.0 || !json_is_number(before) || !json_is_number(after))
        return NAN;
    double share = place - (double)index;
    return (1.0 - share) * json_number_value(before) + share * json_number_value(after);
}

struct open_seals {
    struct maker *m;
    json_t *open;
};

static void score_loss(struct maker *m, json_t *object, double expected_l, double weighed_l,
                       bool inside, bool watered)
{
    put(m, object, "expected_l", json_put_number(expected_l, LITRE_PLACES));
    put(m, object, "weighed_l", json_put_number(weighed_l, LITRE_PLACES));
    put(m, object, "off_l", json_put_number(expected_l - weighed_l, LITRE_PLACES));
    put(m, object, "inside", json_boolean(inside));
    put(m, object, "watered", json_boolean(watered));
    if (watered || !isfinite(expected_l))
        return;
    m->count++;
    m->good += inside;
    m->off += expected_l - weighed_l;
    m->off_size += fabs(expected_l - weighed_l);
}

/* What the pot lost from the weighing before the seal, if there was one, else what it lacks. */
static void judge_seal(struct maker *m, const struct store_sealed *sealed, const json_t *content,
                       const struct store_weighed *weighed)
{
    struct store_weighed before = {0, 0.0};
    size_t block = block_named(m, sealed->block);
    const char *zone =
        block == NURSERY_NONE
            ? ""
            : m->view->records->zones[m->view->input->nursery->blocks[block].zone].label.id;
    int64_t start_s = sealed->about_s;
    double expected_l = value_at(json_object_get(content, "missing_l"), start_s, weighed->at_s);
    double least_l = value_at(json_object_get(content, "least_l"), start_s, weighed->at_s);
    double most_l = value_at(json_object_get(content, "most_l"), start_s, weighed->at_s);
    int began = store_weighed_before(m->store, sealed->block, sealed->sealed_s,
                                     DAWN_H * CIVIL_HOUR_S, &before, m->error);
    int ran = store_ran_between(m->store, zone, began == 1 ? before.at_s : sealed->sealed_s,
                                weighed->at_s, m->error);
    m->failed |= began < 0 || ran < 0;
    bool inside = weighed->missing_l >= least_l && weighed->missing_l <= most_l;
    json_t *object = json_object();
    put(m, object, "number", json_integer(sealed->number));
    put(m, object, "block", json_string(sealed->block));
    put_time(m, object, "sealed_at", sealed->sealed_s);
    put_time(m, object, "weighed_before", began == 1 ? before.at_s : 0);
    put_time(m, object, "weighed_at", weighed->at_s);
    put(m, object, "from_l", json_put_number(least_l - before.missing_l, LITRE_PLACES));
    put(m, object, "to_l", json_put_number(most_l - before.missing_l, LITRE_PLACES));
    score_loss(m, object, expected_l - before.missing_l, weighed->missing_l - before.missing_l,
               inside, ran == 1);
    push(m, m->items, object);
}

static void take_seal(void *context, const struct store_sealed *sealed)
{
    struct open_seals *seals = context;
    struct maker *m = seals->m;
    int64_t until_s = sealed->about_s + CHECKS_SEALED_HOURS * CIVIL_HOUR_S;
    struct store_weighed weighed;
    json_t *content = json_loads(sealed->content, 0, NULL);
    int got = store_weighed_after(m->store, sealed->block, sealed->sealed_s,
                                  until_s < m->now_s ? until_s : m->now_s, &weighed, m->error);
    m->failed |= got < 0;
    if (got == 1 && content) {
        judge_seal(m, sealed, content, &weighed);
    } else if (until_s > m->now_s) {
        json_t *object = json_object();
        put(m, object, "number", json_integer(sealed->number));
        put(m, object, "block", json_string(sealed->block));
        put_time(m, object, "sealed_at", sealed->sealed_s);
        put_time(m, object, "until", until_s);
        push(m, seals->open, object);
    }
    json_decref(content);
}

/* Seals are read first: the score asks the store again for each. */
struct kept_seals {
    struct store_sealed *seals;
    size_t count;
    bool failed;
};

static void keep_seal(void *context, const struct store_sealed *sealed)
{
    struct kept_seals *kept = context;
    struct store_sealed *larger = realloc(kept->seals, (kept->count + 1) * sizeof *larger);
    kept->failed |= !larger;
    if (!larger)
        return;
    kept->seals = larger;
    larger[kept->count] = *sealed;
    larger[kept->count].who = strdup(sealed->who);
    larger[kept->count].content = strdup(sealed->content);
    kept->failed |= !larger[kept->count].who || !larger[kept->count].content;
    kept->count++;
}

static void free_text(const char *text)
{
    union {
        const char *lent;
        char *owned;
    } pointer = {.lent = text};
    free(pointer.owned);
}

static void drop_seals(struct kept_seals *kept)
{
    for (size_t i = 0; i < kept->count; i++) {
        free_text(kept->seals[i].who);
        free_text(kept->seals[i].content);
    }
    free(kept->seals);
}

static json_t *score_json(struct maker *m, const char *good, const char *off, const char *size,
                          int places)
{
    if (m->count == 0)
        return json_null();
    json_t *score = json_object();
    put(m, score, "count", json_integer(m->count));
    put(m, score, good, json_integer(m->good));
    put(m, score, off, json_put_number(m->off / m->count, places));
    put(m, score, size, json_put_number(m->off_size / m->count, places));
    return score;
}

static int lost_section(struct maker *m, json_t *root)
{
    struct open_seals seals = {m, json_array()};
    struct kept_seals kept = {NULL, 0, false};
    json_t *section = json_object();
    begin(m);
    int result = store_sealed_each(m->store, STORE_SEALED_WATER, since_s(m), m->now_s, keep_seal,
                                   &kept, m->error);
    m->failed |= kept.failed;
    for (size_t i = 0; i < kept.count && !m->failed; i++)
        take_seal(&seals, &kept.seals[i]);
    drop_seals(&kept);
    bool none = json_array_size(m->items) == 0;
    const char *what = !none ? NULL : json_array_size(seals.open) > 0 ? "weigh" : "seal_and_weigh";
    put(m, section, "items", m->items);
    put(m, section, "open", seals.open);
    put(m, section, "score", score_json(m, "inside", "mean_off_l", "mean_size_l", LITRE_PLACES));
    put(m, section, "do", advice(what));
    put(m, root, "water_lost", section);
    return result;
}

/* --- how full, how much air: that pot, tested as a vessel ------------------------------------ */

static void take_pot_test(void *context, const struct store_pot_test *test)
{
    struct maker *m = context;
    double drained[CANS_MOST];
    double sum = 0.0;
    size_t count = 0;
    if (!kind_parse_numbers(test->drained_ml, drained, CANS_MOST, &count))
        return;
    for (size_t i = 0; i < count; i++)
        sum += drained[i] / (double)count;
    json_t *object = json_object();
    put(m, object, "tested", json_string(test->tested));
    put(m, object, "vessel", test->vessel[0] ? json_string(test->vessel) : json_null());
    put(m, object, "air_pct", json_put_number(100.0 * sum / test->vessel_volume_ml, 1));
    put(m, object, "capacity_l",
        json_put_number((test->mass_drained_g - test->mass_dry_g) / test->vessel_volume_ml *
                            m->a, /* in the pot's own volume */
                        LITRE_PLACES));
    push(m, m->items, object);
}

/* The first block of each pot and mix. */
static bool is_first_of_its_kind(const struct nursery *nursery, size_t block)
{
    const struct nursery_block *b = &nursery->blocks[block];
    const struct nursery_state *own = &nursery->states[b->first_state + b->state_count - 1];
    for (size_t i = 0; i < block; i++) {
        const struct nursery_block *other = &nursery->blocks[i];
        const struct nursery_state *state =
            &nursery->states[other->first_state + other->state_count - 1];
        if (state->pot == own->pot && state->mix == own->mix)
            return false;
    }
    return true;
}

static int push_capacity(struct maker *m, json_t *items, size_t block, bool *measured)
{
    const struct nursery *nursery = m->view->input->nursery;
    const struct records *records = m->view->records;
    const struct nursery_block *b = &nursery->blocks[block];
    const struct nursery_state *state = &nursery->states[b->first_state + b->state_count - 1];
    const struct pot_figures *figures = &m->view->result->blocks[block].figures;
    const struct records_mix_label *mix = &records->mixes[state->mix];
    char today[PLAN_DATE_SIZE];
    json_t *object = json_object();
    begin(m);
    m->a = figures->volume_l;
    int result = store_pot_test_each(m->store, mix->label.id, mix->batch,
                                     nursery->pots[state->pot].fill_height_cm, today_of(m, today),
                                     take_pot_test, m, m->error);
    *measured |= json_array_size(m->items) > 0;
    put(m, object, "pot", json_string(records->pots[state->pot].id));
    put(m, object, "mix", json_string(mix->label.id));
    put(m, object, "batch", json_string(mix->batch));
    put(m, object, "block", json_string(records->blocks[block].id));
    put(m, object, "volume_l", json_put_number(figures->volume_l, LITRE_PLACES));
    put(m, object, "capacity_l", json_put_number(figures->water_l, LITRE_PLACES));
    put(m, object, "capacity_sd_l",
        json_put_number(figures->capacity_sd * figures->volume_l, LITRE_PLACES));
    put(m, object, "air_pct", json_put_number(100.0 * figures->air_space, 1));
    put(m, object, "air_sd_pct", json_put_number(100.0 * figures->air_space_sd, 1));
    put(m, object, "measured", m->items);
    push(m, items, object);
    return result;
}

static int capacity_section(struct maker *m, json_t *root)
{
    json_t *section = json_object();
    json_t *items = json_array();
    bool measured = false;
    int result = 0;
    for (size_t b = 0; b < m->view->input->nursery->block_count && result == 0; b++)
        if (is_first_of_its_kind(m->view->input->nursery, b))
            result = push_capacity(m, items, b, &measured);
    put(m, section, "items", items);
    put(m, section, "do", advice(measured ? NULL : "test_in_pot"));
    put(m, root, "capacity", section);
    return result;
}

/* --- when it needs water: 'I'd water now' ----------------------------------------------------- */

static void take_tap(void *context, const struct store_sealed *sealed)
{
    struct maker *m = context;
    json_t *content = json_loads(sealed->content, 0, NULL);
    int64_t due_s = json_integer_value(json_object_get(content, "next_at_s"));
    double off_h = (double)(due_s - sealed->about_s) / CIVIL_HOUR_S;
    bool hit = due_s > 0 && fabs(off_h) <= HIT_H;
    json_t *object = json_object();
    put(m, object, "block", json_string(sealed->block));
    put_time(m, object, "said_at", sealed->about_s);
    put_time(m, object, "sealed_at", sealed->made_s);
    put_time(m, object, "due_at", due_s);
    put_time(m, object, "due_from", json_integer_value(json_object_get(content, "next_from_s")));
    put_time(m, object, "due_to", json_integer_value(json_object_get(content, "next_to_s")));
    put(m, object, "off_h", due_s > 0 ? json_put_number(off_h, 1) : json_null());
    put(m, object, "hit", json_boolean(hit));
    push(m, m->items, object);
    m->count++;
    m->good += hit;
    m->off += due_s > 0 ? off_h : 0.0;
    m->off_size += due_s > 0 ? fabs(off_h) : 0.0;
    json_decref(content);
}

static int thirst_section(struct maker *m, json_t *root)
{
    json_t *section = json_object();
    begin(m);
    int result =
        store_sealed_each(m->store, STORE_SEALED_DUE, since_s(m), m->now_s, take_tap, m, m->error);
    put(m, section, "items", m->items);
    put(m, section, "score", score_json(m, "hits", "mean_off_h", "mean_size_h", 1));
    put(m, section, "do", advice(m->count > 0 ? NULL : "say_when_thirsty"));
    put(m, root, "thirst", section);
    return result;
}

/* --- cubic metres and rain -------------------------------------------------------------------- */

static int water_json(struct maker *m, int64_t from_day, int64_t to_day, json_t **out)
{
    double planned_l = 0.0;
    double metered_l = 0.0;
    double all_l = 0.0;
    char date[PLAN_DATE_SIZE];
    int result = store_water_metered(m->store, civil_local_to_utc(m->zone, from_day, 0),
                                     civil_local_to_utc(m->zone, to_day, 0), &planned_l, &metered_l,
                                     &all_l, m->error);
    *out = json_object();
    put(m, *out, "from", json_string(plan_date_text(from_day, date)));
    put(m, *out, "to", json_string(plan_date_text(to_day - 1, date)));
    put(m, *out, "planned_l", json_put_number(planned_l, 0));
    put(m, *out, "metered_l", json_put_number(metered_l, 0));
    /* Where nothing was planned nothing was foretold: that is no 0 % of it. */
    put(m, *out, "ratio", planned_l > 0.0 ? ratio(planned_l, metered_l) : json_null());
    put(m, *out, "planned_all_l", json_put_number(all_l, 0));
    m->b = metered_l;
    return result;
}

static void take_ran(void *context, const struct store_ran *ran)
{
    static const char *const how[] = {
        [STORE_RAN_SILENT] = "silent", [STORE_RAN_ASSUMED] = "assumed", [STORE_RAN_TOLD] = "told"};
    struct maker *m = context;
    json_t *object = json_object();
    char date[PLAN_DATE_SIZE];
    put(m, object, "date", json_string(plan_date_text(m->day, date)));
    put(m, object, "zone", json_string(ran->zone));
    put(m, object, "planned_l", json_put_number(ran->planned_l, 0));
    put(m, object, "ran_l", json_put_number(ran->ran_l, 0));
    put(m, object, "how", json_string(how[ran->how]));
    push(m, m->items, object);
}

static int meter_section(struct maker *m, json_t *root)
{
    int64_t today = civil_days(civil_local_date(m->zone, m->now_s));
    json_t *section = json_object();
    json_t *yesterday = NULL;
    json_t *running = NULL;
    begin(m);
    int result = water_json(m, today - 1, today, &yesterday);
    if (result == 0)
        result = water_json(m, today - DAYS, today, &running);
    for (m->day = today; result == 0 && m->day > today - RAN_DAYS; m->day--)
        result = store_ran_each(m->store, civil_local_to_utc(m->zone, m->day, 0),
                                civil_local_to_utc(m->zone, m->day + 1, 0), m->now_s, take_ran, m,
                                m->error);
    put(m, section, "yesterday", yesterday);
    put(m, section, "running", running ? running : json_null());
    put(m, section, "zones", m->items);
    put(m, section, "do", advice(m->b > 0.0 ? NULL : "read_meter"));
    put(m, root, "meter", section);
    return result;
}

static void take_gauged(void *context, const struct store_gauged *gauged)
{
    struct maker *m = context;
    json_t *object = json_object();
    put_time(m, object, "from", gauged->from_s);
    put_time(m, object, "to", gauged->to_s);
    put(m, object, "gauge_mm", json_put_number(gauged->rain_mm, 1));
    put(m, object, "feed_mm", json_put_number(gauged->feed_mm, 1));
    put(m, object, "ratio",
        isfinite(gauged->feed_mm) ? ratio(gauged->feed_mm, gauged->rain_mm) : json_null());
    push(m, m->items, object);
    if (!isfinite(gauged->feed_mm))
        return;
    m->count++;
    m->a += gauged->feed_mm;
    m->b += gauged->rain_mm;
}

static int rain_section(struct maker *m, json_t *root)
{
    const struct config *config = m->view->config;
    const char *feed = config->feed_count > 0 ? config->feeds[0].name : "";
    json_t *section = json_object();
    json_t *running = json_object();
    begin(m);
    int result = store_gauged_each(m->store, feed, since_s(m), m->now_s, take_gauged, m, m->error);
    const char *what = json_array_size(m->items) == 0 ? "read_gauge"
                       : m->count == 0                ? "use_feed"
                                                      : NULL;
    put(m, running, "count", json_integer(m->count));
    put(m, running, "gauge_mm", json_put_number(m->b, 1));
    put(m, running, "feed_mm", json_put_number(m->a, 1));
    put(m, running, "ratio", ratio(m->a, m->b));
    put(m, section, "feed", feed[0] ? json_string(feed) : json_null());
    put(m, section, "items", m->items);
    put(m, section, "running", running);
    put(m, section, "do", advice(what));
    put(m, root, "rain", section);
    return result;
}

/* ---------------------------------------------------------------------------------------------- */

int checks_json(const struct plan_view *view, struct store *store, json_t **out,
                struct error *error)
{
    struct maker m = {.view = view,
                      .zone = &view->input->nursery->time_zone,
                      .store = store,
                      .now_s = view->input->now_s,
                      .error = error};
    json_t *root = json_object();
    error_set(error, "out of memory for the checks"); /* unless the store says more */
    put_time(&m, root, "made_at", m.now_s);
    put(&m, root, "days", json_integer(DAYS));
    int result = litres_section(&m, root);
    if (result == 0)
        result = lost_section(&m, root);
    if (result == 0)
        result = capacity_section(&m, root);
    if (result == 0)
        result = thirst_section(&m, root);
    if (result == 0)
        result = meter_section(&m, root);
    if (result == 0)
        result = rain_section(&m, root);
    if (result == 0 && !m.failed) {
        *out = root;
        return 0;
    }
    json_decref(root);
    return -1;
}
