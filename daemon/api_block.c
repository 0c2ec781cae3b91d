/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One block looked at closely: how its figures came about, and what a change would do. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "api_internal.h"
#include "block_hours.h"
#include "number.h"
#include "plan_index.h"
#include "planner.h"
#include "query.h"
#include "record_json.h"
#include "snapshot.h"
#include "working.h"

enum { PREVIEW_TRIES = 3 };

/* The id between '/blocks/' and what follows. */
static int read_block(struct api_call *call, char block[RECORDS_ID_SIZE])
{
    size_t length = strcspn(call->path.key, "/");
    if (length >= RECORDS_ID_SIZE)
        return api_refuse(call, PROBLEM_NOT_FOUND, "path", "No block has an id that long.");
    memcpy(block, call->path.key, length);
    block[length] = '\0';
    return 0;
}

/* A plan narrowed to one block, as a document; NULL when it is not in it or memory is short. */
static json_t *narrowed(const struct plan_index *index, const char *block)
{
    const struct plan_narrowing wanted = {.block = block};
    size_t length = 0;
    if (!index || plan_index_lacks(index, &wanted))
        return NULL;
    char *text = plan_index_narrow(index, &wanted, &length);
    json_t *plan = text ? json_loadb(text, length, 0, NULL) : NULL;
    free(text);
    return plan;
}

static int refuse_early(struct api_call *call)
{
    call->answer->retry_after_s = 2;
    return api_refuse(call, PROBLEM_SERVICE_UNAVAILABLE, NULL,
                      "No plan has been worked out yet. Ask again soon.");
}

int api_plan_moment(struct api_call *call, int64_t *made_at_s)
{
    struct snapshot_cell *cell = call->api->options.cell;
    struct snapshot *snapshot = cell ? snapshot_acquire(cell) : NULL;
    if (!snapshot)
        return refuse_early(call);
    *made_at_s = snapshot->made_at_s;
    snapshot_release(cell, snapshot);
    return 0;
}

bool api_is_frozen(const struct api_call *call)
{
    struct snapshot_cell *cell = call->api->options.cell;
    struct snapshot *snapshot = cell ? snapshot_acquire(cell) : NULL;
    bool frozen = snapshot && snapshot->frozen;
    if (snapshot)
        snapshot_release(cell, snapshot);
    return frozen;
}

/* --- working ------------------------------------------------------------------------------ */

int api_working(struct api_call *call)
{
    char block[RECORDS_ID_SIZE];
    struct snapshot_cell *cell = call->api->options.cell;
    if (api_allow(call, ACCESS_READ) != 0 || read_block(call, block) != 0)
        return -1;
    struct snapshot *snapshot = cell ? snapshot_acquire(cell) : NULL;
    if (!snapshot)
        return refuse_early(call);
    json_t *plan = narrowed(snapshot->index, block);
    snapshot_release(cell, snapshot);
    enum field_language language = call->request->language;
    json_t *working = plan ? working_of(plan, block, language) : NULL;
    json_decref(plan);
    if (!working)
        return api_refuse(call, PROBLEM_NOT_FOUND, "path", "The plan has no block of that id.");
    call->answer->language = field_language_tag(language);
    call->answer->tagged = true;
    call->answer->packed = true;
    return api_send_take(call, 200, working);
}

/* --- hours -------------------------------------------------------------------------------- */

enum { PAST_DAYS = 3, PAST_DAYS_MAX = PLANNER_HISTORY_DAYS - 1 };

struct wanted_hours {
    int past_d, ahead_d;
    json_t *document;
};

static int take_hours(void *context, const struct plan_view *view, struct error *error)
{
    struct wanted_hours *wanted = context;
    wanted->document = block_hours_json(view, wanted->past_d, wanted->ahead_d);
    return wanted->document ? 0 : error_set(error, "out of memory");
}

/* A whole number from 0 to most; left alone when not given. */
static int read_days(struct api_call *call, const struct query *query, size_t index,
                     const char *name, int most, int *days)
{
    double number = 0;
    if (!query->given[index])
        return 0;
    const char *text = query->values[index];
    if (!number_parse(text, strlen(text), &number) || !(number >= 0 && number <= most) ||
        number != (double)(int)number)
        return api_refuse(call, PROBLEM_BAD_REQUEST, name,
                          "'%.40s' given, accepted is a whole number from 0 to %d", text, most);
    *days = (int)number;
    return 0;
}

/* Works out the plan of the snapshot again, as this block goes through it: the plan's own figures.
 */
int api_hours(struct api_call *call)
{
    static const char *const names[] = {"past_d", "ahead_d", NULL};
    const struct config *config = call->api->options.config;
    struct wanted_hours wanted = {PAST_DAYS, config->plan_days, NULL};
    char block[RECORDS_ID_SIZE];
    struct query query;
    struct error error;
    int64_t made_at_s = 0;
    if (api_allow(call, ACCESS_READ) != 0 || read_block(call, block) != 0)
        return -1;
    if (query_read(call->request->query, names, &query, &error) != 0)
        return api_refuse(call, PROBLEM_BAD_REQUEST, "query", "%s", error.text);
    if (read_days(call, &query, 0, names[0], PAST_DAYS_MAX, &wanted.past_d) != 0 ||
        read_days(call, &query, 1, names[1], config->plan_days, &wanted.ahead_d) != 0 ||
        api_plan_moment(call, &made_at_s) != 0)
        return -1;
    int got = planner_view(config, call->api->options.zone, call->api->store, made_at_s, block,
                           take_hours, &wanted, &error);
    if (got > 0)
        return api_refuse(call, PROBLEM_NOT_FOUND, "path", "The plan has no block of that id.");
    if (got < 0)
        return api_fail(call, &error);
    call->answer->tagged = true;
    call->answer->packed = true;
    return api_send_take(call, 200, wanted.document);
}

/* --- preview ------------------------------------------------------------------------------ */

struct latest {
    const struct api_call *call;
    const char *date;
    json_t *object;
};

static int take_latest(void *context, const struct kind_row *row)
{
    struct latest *latest = context;
    if (latest->object && strcmp(kind_text(row, "from"), latest->date) > 0)
        return 1; /* later than the change: the one before is what it starts from */
    json_decref(latest->object);
    latest->object = record_json_of(row, latest->call->api->options.zone, false);
    return latest->object ? 0 : -2;
}

/* The block as it stands on the change's day, with the change. */
static json_t *changed_state(struct api_call *call, const char *block, json_t *change)
{
    char today[16];
    struct error error;
    struct civil_date date = civil_local_date(call->api->options.zone, call->now_s);
    const struct store_key key = {
        .kind = kind_of(KIND_BLOCKS), .count = 1, .values = {{.given = true, .text = block}}};
    snprintf(today, sizeof today, "%04d-%02d-%02d", date.year % 10000, date.month % 100,
             date.day % 100);
    if (!json_object_get(change, "from"))
        json_object_set_new(change, "from", json_string(today));
    const char *from = json_string_value(json_object_get(change, "from"));
    struct latest latest = {.call = call, .date = from ? from : today};
    int got = store_record_each(call->api->store, &key, NULL, 10000, take_latest, &latest, &error);
    if (got < 0 || !latest.object) {
        json_decref(latest.object);
        if (got == -1)
            api_fail(call, &error);
        else if (got == -2)
            api_no_memory(call);
        else
            api_refuse(call, PROBLEM_NOT_FOUND, "path", "There is no block of that id.");
        return NULL;
    }
    /* What was done to the pots then is not done to them again. */
    json_object_set_new(latest.object, "potted", json_null());
    json_object_set_new(latest.object, "watered_in", json_null());
    if (json_object_update(latest.object, change) != 0) {
        json_decref(latest.object);
        api_no_memory(call);
        return NULL;
    }
    return latest.object;
}

static void read_no_more(void *context)
{
    struct api *api = context;
    store_rollback(api->store);
    if (api->options.planning)
        api->options.planning(api->options.context);
}

/* The plan of the records as they are in this transaction, which ends before it is worked out:
 * nobody waits for that with what he has to write. */
static json_t *plan_of(struct api_call *call, const char *block)
{
    const struct planner_reading reading = {read_no_more, call->api};
    struct planner_bodies bodies = {0};
    struct error error;
    if (planner_try(call->api->options.config, call->api->options.zone, call->api->store,
                    call->now_s, &reading, &bodies, &error) != 0) {
        api_refuse(call, PROBLEM_UNPROCESSABLE, NULL, "No plan comes out: %s", error.text);
        return NULL;
    }
    struct plan_index *index = plan_index_new(bodies.json, strlen(bodies.json));
    json_t *plan = narrowed(index, block);
    plan_index_free(index);
    planner_free(&bodies);
    if (!plan)
        api_refuse(call, PROBLEM_NOT_FOUND, "path", "The plan has no block of that id.");
    return plan;
}

static int put_state(struct api_call *call, json_t *object, const char *block)
{
    struct record_texts *texts = calloc(1, sizeof *texts);
    enum store_change change = STORE_SAME;
    struct record_fault fault;
    struct kind_fault refused;
    struct error error;
    struct kind_row row;
    int result = -1;
    if (!texts)
        return api_no_memory(call);
    if (record_json_read(object, kind_of(KIND_BLOCKS), texts, &row, &fault) != 0) {
        api_refuse_record(call, PROBLEM_UNPROCESSABLE, "", &fault);
    } else if (strcmp(kind_text(&row, "block"), block) != 0) {
        api_refuse(call, PROBLEM_UNPROCESSABLE, "block", "Not the one in the address.");
    } else {
        result = store_put(call->api->store, &row, &change, &refused, &error);
        if (result < 0)
            api_fail(call, &error);
        if (result > 0)
            api_refuse_kind(call, "", &refused);
    }
    free(texts);
    return result == 0 ? 0 : -1;
}

/* When the plan's block lost what was known of it, for people to read; NULL: it did not. */
static json_t *forgotten_of(const json_t *plan)
{
    const json_t *block = json_array_get(json_object_get(plan, "blocks"), 0);
    json_t *at = json_object_get(block, "forgotten_at");
    return json_is_string(at) ? at : NULL;
}

/* What the figures of before and after do not show by themselves. */
static json_t *warnings_json(const json_t *before, const json_t *after,
                             enum field_language language)
{
    static const char *const words[FIELD_LANGUAGES] = {
        "In another pot or mix what was weighed, felt or filled before no longer counts: it is "
        "taken to be at its refill point until a pot is weighed or felt.",
        "En otra maceta u otro sustrato ya no cuenta lo que se pesó, se tocó o se llenó antes: se "
        "supone en su punto de riego hasta que se pese o se toque una maceta."};
    json_t *warnings = json_array();
    json_t *at = forgotten_of(after);
    if (at && !(forgotten_of(before) && json_equal(at, forgotten_of(before))))
        json_array_append_new(warnings, json_pack("{s:s, s:O, s:s}", "code", "weighings_forgotten",
                                                  "at", at, "detail", words[language]));
    return warnings;
}

static int send_preview(struct api_call *call, json_t *state, json_t *before, json_t *after)
{
    enum field_language language = call->request->language;
    call->answer->packed = true;
    call->answer->language = field_language_tag(language);
    return api_send_take(call, 200,
                         json_pack("{s:O, s:O, s:O, s:o}", "state", state, "before", before,
                                   "after", after, "warnings",
                                   warnings_json(before, after, language)));
}

/* Both plans are of the same records but for the change: when others wrote in between, once more.
 * 1: that is so. 0, or -1 with the answer set. */
static int compare(struct api_call *call, const char *block, json_t *change, bool last)
{
    struct store *store = call->api->store;
    struct error error;
    json_t *state = NULL;
    json_t *after = NULL;
    int64_t first = 0;
    int64_t then = 0;
    int result = -1;
    if (store_version(store, &first, &error) != 0)
        return api_fail(call, &error);
    json_t *before = plan_of(call, block);
    if (!before)
        return -1;
    if (store_begin(store, &error) != 0 || store_version(store, &then, &error) != 0) {
        api_fail(call, &error);
        goto end;
    }
    if (first != then && !last) {
        result = 1;
        goto end;
    }
    state = changed_state(call, block, change);
    after = state && put_state(call, state, block) == 0 ? plan_of(call, block) : NULL;
    if (after)
        result = send_preview(call, state, before, after);
end:
    store_rollback(store);
    json_decref(before);
    json_decref(state);
    json_decref(after);
    return result;
}

/* Written, read for a plan, and taken back: nobody else sees it. */
int api_preview(struct api_call *call)
{
    char block[RECORDS_ID_SIZE];
    if (call->role == ACCESS_NOBODY)
        return api_refuse(call, PROBLEM_UNAUTHORIZED, "Authorization",
                          "A preview works out two plans: sign in first.");
    if (api_allow(call, ACCESS_READ) != 0 || read_block(call, block) != 0)
        return -1;
    json_t *change = api_read_body(call);
    if (!change)
        return -1;
    int result = 1;
    if (!json_is_object(change))
        result = api_refuse(call, PROBLEM_UNPROCESSABLE, "body",
                            "Accepted is an object with what would change, as {\"pot\": \"r5\"}.");
    for (int tries = PREVIEW_TRIES; result == 1; tries--)
        result = compare(call, block, change, tries <= 1);
    json_decref(change);
    return result;
}
