/* SPDX-License-Identifier: GPL-3.0-or-later */
/* People's records as resources: lists, one record, adding, changing, removing. Every change is one
 * transaction: look, compare, write, check the whole, note who did it.
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "api_internal.h"
#include "field.h"
#include "query.h"
#include "record_json.h"

enum {
    LIST_DEFAULT = 1000,
    LIST_MAX = 5000,
    POST_MAX = 500, /* records in one POST */
};

/* --- what is there ------------------------------------------------------------------------ */

/* One record as it is served, with its tag. */
struct found {
    json_t *object;
    char *text;
    char tag[BODY_TAG_SIZE];
};

static void found_clear(struct found *found)
{
    json_decref(found->object);
    free(found->text);
    *found = (struct found){0};
}

struct finding {
    const struct api_call *call;
    struct found *found;
};

static int take_found(void *context, const struct kind_row *row)
{
    const struct finding *finding = context;
    struct found *found = finding->found;
    found->object = record_json_of(row, finding->call->api->options.zone, true);
    found->text = found->object ? api_print(found->object) : NULL;
    if (!found->text)
        return -2;
    body_tag(found->text, strlen(found->text), found->tag);
    return 1;
}

/* 1 found, 0 none, -1 with the answer set. */
static int find(struct api_call *call, const struct store_key *key, struct found *found)
{
    struct finding finding = {call, found};
    struct error error;
    *found = (struct found){0};
    int got = store_record_each(call->api->store, key, NULL, 1, take_found, &finding, &error);
    if (got == -1)
        return api_fail(call, &error);
    return got == -2 ? api_no_memory(call) : got;
}

static int read_key(struct api_call *call, struct record_texts *texts, struct store_key *key)
{
    struct record_fault fault;
    texts->used = 0;
    if (record_key_read(call->path.key, call->path.kind, texts, key, &fault) == 0)
        return 0;
    return api_refuse_record(call, PROBLEM_NOT_FOUND, "", &fault);
}

static bool is_whole(const struct store_key *key)
{
    return key->count == store_key_columns(key->kind);
}

/* --- lists -------------------------------------------------------------------------------- */

struct listing {
    const struct api_call *call;
    json_t *items;
    char last[RECORD_KEY_SIZE];
    int count, limit;
    bool more;
};

static int take_item(void *context, const struct kind_row *row)
{
    struct listing *listing = context;
    char key[RECORD_KEY_SIZE];
    char self[API_LOCATION_SIZE];
    char tag[BODY_TAG_SIZE];
    if (listing->count == listing->limit) {
        listing->more = true;
        return 1;
    }
    json_t *object = record_json_of(row, listing->call->api->options.zone, true);
    char *text = object ? api_print(object) : NULL;
    if (text)
        body_tag(text, strlen(text), tag);
    record_key_print(row, key);
    snprintf(self, sizeof self, "/api/v1/%s/%s", row->kind->stem, key);
    snprintf(listing->last, sizeof listing->last, "%s", key);
    int failed = !text || json_object_set_new(object, "self", json_string(self)) ||
                 json_object_set_new(object, "etag", json_string(tag)) ||
                 json_array_append(listing->items, object);
    free(text);
    json_decref(object);
    listing->count++;
    return failed ? -2 : 0;
}

static int read_limit(struct api_call *call, const char *text, int *limit)
{
    char *end = NULL;
    long number = strtol(text, &end, 10);
    if (text[0] < '0' || text[0] > '9' || *end || number < 1 || number > LIST_MAX)
        return api_refuse(call, PROBLEM_BAD_REQUEST, "limit",
                          "'%.40s' given, accepted is a whole number from 1 to %d", text, LIST_MAX);
    *limit = (int)number;
    return 0;
}

static int list(struct api_call *call, const struct store_key *key)
{
    static const char *const names[] = {"after", "limit", NULL};
    struct listing listing = {.call = call, .limit = LIST_DEFAULT};
    struct record_texts texts = {.used = 0};
    struct record_fault fault;
    struct store_key after;
    struct query query;
    struct error error;
    if (query_read(call->request->query, names, &query, &error) != 0)
        return api_refuse(call, PROBLEM_BAD_REQUEST, "query", "%s", error.text);
    if (query.given[1] && read_limit(call, query.values[1], &listing.limit) != 0)
        return -1;
    if (query.given[0] &&
        (record_key_read(query.values[0], key->kind, &texts, &after, &fault) != 0 ||
         !is_whole(&after)))
        return api_refuse(call, PROBLEM_BAD_REQUEST, "after",
                          "'%.100s' given, accepted is the key of a record", query.values[0]);
    listing.items = json_array();
    if (!listing.items)
        return api_no_memory(call);
    int got = store_record_each(call->api->store, key, query.given[0] ? &after : NULL,
                                listing.limit + 1, take_item, &listing, &error);
    if (got < 0) {
        json_decref(listing.items);
        return got == -1 ? api_fail(call, &error) : api_no_memory(call);
    }
    json_t *document = json_pack("{s:o, s:o}", "items", listing.items, "next",
                                 listing.more ? json_string(listing.last) : json_null());
    call->answer->tagged = true;
    call->answer->packed = true;
    return api_send_take(call, 200, document);
}

/* --- one record --------------------------------------------------------------------------- */

static int not_there(struct api_call *call)
{
    return api_refuse(call, PROBLEM_NOT_FOUND, "path", "There is no such record of %s.",
                      call->path.kind->stem);
}

static int send_found(struct api_call *call, unsigned status, const struct found *found)
{
    call->answer->tagged = true;
    return api_send_take(call, status, json_incref(found->object));
}

static int show(struct api_call *call, const struct store_key *key)
{
    struct found found;
    int got = find(call, key, &found);
    if (got == 0)
        return not_there(call);
    if (got == 1)
        send_found(call, 200, &found);
    found_clear(&found);
    return got == 1 ? 0 : -1;
}

/* --- changing ----------------------------------------------------------------------------- */

/* Kinds whose records must still go together with others after a change. */
static bool touches_others(const struct kind *kind)
{
    switch (kind->id) {
    case KIND_MIXES:
    case KIND_BENCH_TESTS:
    case KIND_RETENTION_POINTS:
    case KIND_POTS:
    case KIND_ZONES:
    case KIND_BLOCKS:
    case KIND_NORMALS:
        return true;
    default:
        return false;
    }
}

static int note(struct api_call *call, const char *action, const struct kind *kind, const char *key,
                const char *before, const char *after)
{
    char what[RECORD_KEY_SIZE + 48];
    struct error error;
    snprintf(what, sizeof what, "%s/%s", kind->stem, key);
    const struct store_audit line = {call->now_s, call->who, action, what, before, after};
    return store_audit_add(call->api->store, &line, &error) == 0 ? 0 : api_fail(call, &error);
}

/* When what the row tells of was seen or read; NULL: it tells of no such moment. */
static const char *seen_at(const struct kind *kind)
{
    switch (kind->id) {
    case KIND_GAUGE:
        return "to";
    case KIND_RUNS:
        return "end";
    case KIND_WEIGHINGS:
    case KIND_TOUCH_CHECKS:
    case KIND_DRAIN_CATCHES:
    case KIND_POUR_THROUGHS:
        return "at";
    default:
        return NULL;
    }
}

/* Nobody has read tomorrow's rain. Clocks may differ by five minutes, as with stations. */
static bool is_ahead(const struct api_call *call, const struct kind_row *row,
                     struct kind_fault *fault)
{
    const char *column = seen_at(row->kind);
    if (!column || kind_get(row, column)->whole <= call->now_s + 300)
        return false;
    kind_fault_set(fault, column, "'%s' given, accepted is a moment that has been",
                   kind_text(row, column));
    return true;
}

/* Another record stands in the way: the answer says where. */
static int refuse_other(struct api_call *call, const char *before, const char *key,
                        const char *detail)
{
    char instance[API_LOCATION_SIZE];
    snprintf(instance, sizeof instance, "/api/v1/%s/%s", call->path.kind->stem, key);
    const struct problem problem = {
        .status = PROBLEM_CONFLICT, .field = before, .detail = detail, .instance = instance};
    return api_refuse_with(call, &problem);
}

static int check_twin(struct api_call *call, const struct kind_row *row, const char *before)
{
    char key[RECORDS_ID_SIZE];
    char detail[API_LOCATION_SIZE + 128];
    struct error error;
    if (row->kind->id != KIND_RUNS)
        return 0;
    int got = store_run_twin(call->api->store, row, key, &error);
    if (got <= 0)
        return got == 0 ? 0 : api_fail(call, &error);
    snprintf(detail, sizeof detail,
             "%s/%s is this very run: same zone, start and end. Accepted is one report of it, or "
             "PUT with If-Match to correct that one.",
             row->kind->stem, key);
    return refuse_other(call, before, key, detail);
}

/* What store_put says of a row, as an answer. before: what stands before the field's name. */
static int put(struct api_call *call, const struct kind_row *row, const char *before,
               enum store_change *change)
{
    struct kind_fault fault;
    struct error error;
    if (is_ahead(call, row, &fault))
        return api_refuse_kind(call, before, &fault);
    if (check_twin(call, row, before) != 0)
        return -1;
    int result = store_put(call->api->store, row, change, &fault, &error);
    if (result < 0)
        return api_fail(call, &error);
    if (result == 0)
        return 0;
    return api_refuse_kind(call, before, &fault);
}

static int check_whole(struct api_call *call)
{
    struct error error;
    int result = 0;
    if (touches_others(call->path.kind))
        result = store_check(call->api->store, &error);
    else if (call->path.kind->id == KIND_POT_EVENTS)
        result = store_check_stocks(call->api->store, &error);
    if (result < 0)
        return api_fail(call, &error);
    return result == 0 ? 0 : api_refuse(call, PROBLEM_UNPROCESSABLE, NULL, "%s", error.text);
}

/* Reads the row's record back: what was written is what is answered and noted. */
static int find_again(struct api_call *call, const struct kind_row *row, struct found *found)
{
    struct store_key key = record_key_of(row);
    int got = find(call, &key, found);
    if (got == 0)
        return api_refuse(call, PROBLEM_INTERNAL, NULL, "What was written is not there.");
    return got == 1 ? 0 : -1;
}

/* Work in one transaction: all of it is on disk when this returns 0. */
static int in_transaction(struct api_call *call, int (*work)(struct api_call *, void *),
                          void *context)
{
    struct store *store = call->api->store;
    struct error error;
    if (store_begin(store, &error) != 0)
        return api_fail(call, &error);
    int result = work(call, context);
    if (result == 0 && store_commit(store, &error) != 0)
        result = api_fail(call, &error);
    if (result != 0) {
        store_rollback(store);
        return -1;
    }
    call->api->said[0] = '\0';
    return 0;
}

/* --- adding ------------------------------------------------------------------------------- */

/* A report by machine need not say how it knows: litres are metered. */
static void complete(const struct kind *kind, json_t *object)
{
    if (kind->id != KIND_RUNS || !json_is_object(object) || json_object_get(object, "state"))
        return;
    bool metered = json_is_number(json_object_get(object, "litres"));
    json_object_set_new(object, "state", json_string(metered ? "metered" : "reported"));
}

/* Kinds whose key is the sender's own, so that he may send again what he is not sure of. */
static bool has_senders_key(const struct kind *kind)
{
    return kind->id == KIND_RUNS || kind->id == KIND_ORDERS || kind->id == KIND_HOLDS;
}

/* Whether the row is what its record was added as, while the record was corrected since: its sender
 * did not hear of that, and repeats himself. 1 with found, the record as it now stands; 0; -1 with
 * the answer set. */
static int repeats_first(struct api_call *call, const struct kind_row *row, const char *key,
                         struct found *found)
{
    char what[RECORD_KEY_SIZE + 48];
    struct error error;
    if (!has_senders_key(row->kind))
        return 0;
    const struct store_key store_key = record_key_of(row);
    int got = find(call, &store_key, found);
    if (got != 1)
        return got;
    json_t *object = record_json_of(row, call->api->options.zone, true);
    char *given = object ? api_print(object) : NULL;
    json_decref(object);
    snprintf(what, sizeof what, "%s/%s", row->kind->stem, key);
    got = !given ? api_no_memory(call)
          : strcmp(given, found->text) == 0
              ? 0
              : store_audit_added(call->api->store, what, given, &error);
    if (given && got < 0)
        api_fail(call, &error);
    free(given);
    if (got != 1)
        found_clear(found);
    return got;
}

/* 0 with *added, or -1 with the answer set. found: the record as it now stands. */
static int add_one(struct api_call *call, json_t *object, const char *before, struct found *found,
                   char key[RECORD_KEY_SIZE], bool *added)
{
    struct record_texts *texts = calloc(1, sizeof *texts);
    char detail[API_LOCATION_SIZE + 128];
    enum store_change change = STORE_SAME;
    struct record_fault fault;
    struct kind_row row;
    int result = -1;
    *found = (struct found){0};
    *added = false;
    if (!texts)
        return api_no_memory(call);
    complete(call->path.kind, object);
    if (record_json_read(object, call->path.kind, texts, &row, &fault) != 0) {
        api_refuse_record(call, PROBLEM_UNPROCESSABLE, before, &fault);
        goto end;
    }
    record_key_print(&row, key);
    result = repeats_first(call, &row, key, found);
    if (result != 0) {
        result = result == 1 ? 0 : -1;
        goto end;
    }
    result = -1;
    if (put(call, &row, before, &change) != 0)
        goto end;
    if (change == STORE_CHANGED) {
        snprintf(detail, sizeof detail,
                 "%s/%s is there already and says something else. Accepted is the same again, "
                 "or PUT with If-Match to correct it.",
                 call->path.kind->stem, key);
        refuse_other(call, before, key, detail);
        goto end;
    }
    *added = change == STORE_ADDED;
    result = find_again(call, &row, found);
    if (result == 0 && *added)
        result = note(call, "add", call->path.kind, key, NULL, found->text);
    if (result == 0 && *added && call->path.kind->id == KIND_TOUCH_CHECKS)
        result = api_note_dry(call, &row);
end:
    free(texts);
    return result;
}

struct adding {
    json_t *body;
    struct found found; /* of a single record */
    json_t *items;      /* of several */
    char key[RECORD_KEY_SIZE];
    size_t added;
};

static int add_single(struct api_call *call, void *context)
{
    struct adding *adding = context;
    bool added = false;
    int result = add_one(call, adding->body, "", &adding->found, adding->key, &added);
    adding->added += added;
    return result == 0 && added ? check_whole(call) : result;
}

static int add_several(struct api_call *call, void *context)
{
    struct adding *adding = context;
    const json_t *items = json_object_get(adding->body, "items");
    for (size_t i = 0; i < json_array_size(items); i++) {
        char before[32];
        bool added = false;
        snprintf(before, sizeof before, "items/%zu/", i);
        int result =
            add_one(call, json_array_get(items, i), before, &adding->found, adding->key, &added);
        adding->added += added;
        if (result == 0)
            result = json_array_append(adding->items, adding->found.object);
        found_clear(&adding->found);
        if (result != 0)
            return -1;
    }
    return adding->added > 0 ? check_whole(call) : 0;
}

static int post_several(struct api_call *call, struct adding *adding)
{
    size_t count = json_array_size(json_object_get(adding->body, "items"));
    if (count < 1 || count > POST_MAX)
        return api_refuse(call, PROBLEM_UNPROCESSABLE, "items",
                          "%zu records given, accepted are 1 to %d", count, POST_MAX);
    adding->items = json_array();
    if (!adding->items)
        return api_no_memory(call);
    if (in_transaction(call, add_several, adding) != 0)
        return -1;
    call->changed = adding->added > 0;
    return api_send_take(call, call->changed ? 201 : 200,
                         json_pack("{s:O}", "items", adding->items));
}

static int post_single(struct api_call *call, struct adding *adding)
{
    if (in_transaction(call, add_single, adding) != 0)
        return -1;
    call->changed = adding->added > 0;
    snprintf(call->answer->location, sizeof call->answer->location, "/api/v1/%s/%s",
             call->path.kind->stem, adding->key);
    return send_found(call, call->changed ? 201 : 200, &adding->found);
}

static int post(struct api_call *call)
{
    struct adding adding = {.body = api_read_body(call)};
    if (!adding.body)
        return -1;
    bool several =
        json_object_size(adding.body) == 1 && json_is_array(json_object_get(adding.body, "items"));
    int result = several ? post_several(call, &adding) : post_single(call, &adding);
    json_decref(adding.body);
    json_decref(adding.items);
    found_clear(&adding.found);
    return result;
}

/* --- replacing and removing --------------------------------------------------------------- */

struct changing {
    struct store_key key;
    json_t *body; /* NULL: remove */
    struct found before, after;
    bool same;
};

/* The record must be there, and as the client last saw it. */
static int look_first(struct api_call *call, struct changing *changing)
{
    int got = find(call, &changing->key, &changing->before);
    if (got < 0)
        return -1;
    if (got == 0)
        return not_there(call);
    if (field_tags_match(call->request->if_match, changing->before.tag, FIELD_COMPARE_STRONG))
        return 0;
    return api_refuse(call, PROBLEM_PRECONDITION_FAILED, "If-Match",
                      "Changed since: the current version has the tag %s. Read it again, then "
                      "decide.",
                      changing->before.tag);
}

/* RFC 7396 for flat objects: null takes a member out, others take its place. Moments' twins of what
 * was there go, lest they contradict. */
static json_t *merged(const struct api_call *call, const struct changing *changing)
{
    json_t *object = json_deep_copy(changing->before.object);
    char twin[64];
    for (size_t i = 0; object && i < call->path.kind->column_count; i++) {
        snprintf(twin, sizeof twin, "%s_s", call->path.kind->columns[i].name);
        json_object_del(object, twin);
    }
    if (object && json_object_update(object, changing->body) != 0) {
        json_decref(object);
        return NULL;
    }
    return object;
}

static int check_key(struct api_call *call, const struct store_key *key, const struct kind_row *row)
{
    const struct store_key given = record_key_of(row);
    for (size_t i = 0; i < key->count; i++) {
        const struct kind_column *column = store_key_column(key->kind, i);
        const struct kind_value *one = &key->values[i];
        const struct kind_value *other = &given.values[i];
        bool numeric = column->type == KIND_NUMBER;
        bool whole = column->type == KIND_WHOLE || column->type == KIND_MOMENT;
        bool same = one->given == other->given &&
                    (!one->given || (numeric ? one->number == other->number
                                     : whole ? one->whole == other->whole
                                             : strcmp(one->text, other->text) == 0));
        if (!same)
            return api_refuse(call, PROBLEM_UNPROCESSABLE, column->name,
                              "Not the one in the address; a record keeps its key. Remove it and "
                              "add another.");
    }
    return 0;
}

static int replace(struct api_call *call, struct changing *changing)
{
    struct record_texts *texts = calloc(1, sizeof *texts);
    json_t *object = api_is(call, "PATCH") && json_is_object(changing->body)
                         ? merged(call, changing)
                         : json_incref(changing->body);
    enum store_change change = STORE_SAME;
    struct record_fault fault;
    struct kind_row row;
    int result = -1;
    if (!texts || !object) {
        api_no_memory(call);
        goto end;
    }
    if (record_json_read(object, call->path.kind, texts, &row, &fault) != 0) {
        api_refuse_record(call, PROBLEM_UNPROCESSABLE, "", &fault);
        goto end;
    }
    result = check_key(call, &changing->key, &row);
    if (result == 0)
        result = put(call, &row, "", &change);
    if (result == 0)
        result = find_again(call, &row, &changing->after);
    changing->same = change == STORE_SAME;
end:
    json_decref(object);
    free(texts);
    return result;
}

static int take_away(struct api_call *call, const struct changing *changing)
{
    struct kind_fault fault;
    struct error error;
    int result = store_record_remove(call->api->store, &changing->key, &fault, &error);
    if (result == 1)
        return 0;
    if (result == 0)
        return not_there(call);
    if (result == 2)
        return api_refuse(call, PROBLEM_CONFLICT, NULL, "Not removed: %s.", fault.text);
    return api_fail(call, &error);
}

static int change(struct api_call *call, void *context)
{
    struct changing *changing = context;
    int result = look_first(call, changing);
    if (result == 0)
        result = changing->body ? replace(call, changing) : take_away(call, changing);
    if (result == 0 && !changing->same)
        result = check_whole(call);
    if (result == 0 && !changing->same)
        result = note(call, changing->body ? "change" : "remove", call->path.kind, call->path.key,
                      changing->before.text, changing->after.text);
    return result;
}

static int change_or_remove(struct api_call *call, const struct store_key *key)
{
    struct changing changing = {.key = *key};
    int result = -1;
    if (call->request->if_match[0] == '\0')
        return api_refuse(
            call, PROBLEM_PRECONDITION_REQUIRED, "If-Match",
            "Missing. Accepted is the ETag of the version that this change is about.");
    if (!api_is(call, "DELETE")) {
        changing.body = api_read_body(call);
        if (!changing.body)
            return -1;
    }
    if (in_transaction(call, change, &changing) != 0)
        goto end;
    call->changed = !changing.same;
    call->answer->status = 204;
    result = changing.body ? send_found(call, 200, &changing.after) : 0;
end:
    json_decref(changing.body);
    found_clear(&changing.before);
    found_clear(&changing.after);
    return result;
}

/* --- the resources ------------------------------------------------------------------------ */

static bool reads(const struct api_call *call)
{
    return api_is(call, "GET") || api_is(call, "HEAD");
}

/* A controller adds reports of runs and corrects them; all else is a grower's. */
static enum access_right right_of(const struct api_call *call)
{
    bool runs = call->path.kind->id == KIND_RUNS;
    if (reads(call))
        return runs && call->path.resource == API_RECORD && call->role == ACCESS_CONTROLLER
                   ? ACCESS_REPORT_RUNS
                   : ACCESS_READ;
    return runs && !api_is(call, "DELETE") ? ACCESS_REPORT_RUNS : ACCESS_WRITE;
}

int api_records(struct api_call *call)
{
    const struct store_key all = {.kind = call->path.kind};
    if (api_allow(call, right_of(call)) != 0)
        return -1;
    return reads(call) ? list(call, &all) : post(call);
}

int api_record(struct api_call *call)
{
    struct record_texts texts = {.used = 0};
    struct store_key key;
    if (api_allow(call, right_of(call)) != 0 || read_key(call, &texts, &key) != 0)
        return -1;
    if (!is_whole(&key) && reads(call))
        return list(call, &key);
    if (!is_whole(&key))
        return api_refuse(call, PROBLEM_NOT_FOUND, "path",
                          "The key of several records; a change is of one.");
    return reads(call) ? show(call, &key) : change_or_remove(call, &key);
}
