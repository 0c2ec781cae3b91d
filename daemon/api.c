/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "api.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "api_internal.h"
#include "clock.h"
#include "document.h"
#include "log.h"
#include "query.h"

enum { GZIP_LEVEL = 4, AUDIT_LINES = 200 };

/* --- paths -------------------------------------------------------------------------------- */

static const struct {
    const char *path;
    enum api_resource resource;
    const char *allow;
} fixed[] = {
    {"/weather/readings", API_READINGS, "POST"},
    {"/session", API_SESSION, "GET, HEAD, POST, DELETE"},
    {"/audit", API_AUDIT, "GET, HEAD"},
    {"/sheets", API_SHEETS, "GET, HEAD, POST"},
    {"/checks", API_CHECKS, "GET, HEAD"},
    {"/predictions", API_FORETOLD, "POST"},
    {"/card", API_CARD, "GET, HEAD"},
    {"/card.txt", API_CARD_TXT, "GET, HEAD"},
    {"/records.csv", API_HISTORY, "GET, HEAD"},
};

static const char sheets[] = "/sheets/";

/* '/ID' and the ending, nothing more. */
static bool ends_with(const char *rest, const char *ending)
{
    size_t id = rest[0] == '/' ? strcspn(rest + 1, "/") : 0;
    return id > 0 && strcmp(rest + 1 + id, ending) == 0;
}

struct api_path api_path_find(const char *path)
{
    struct api_path found = {.resource = API_NONE, .key = ""};
    for (size_t i = 0; i < sizeof fixed / sizeof fixed[0]; i++)
        if (strcmp(path, fixed[i].path) == 0)
            return (struct api_path){fixed[i].resource, NULL, "", fixed[i].allow};
    if (path[0] != '/')
        return found;
    if (strncmp(path, sheets, sizeof sheets - 1) == 0 && !strchr(path + sizeof sheets - 1, '/'))
        return (struct api_path){API_SHEET, NULL, path + sizeof sheets - 1, "GET, HEAD"};
    size_t length = strcspn(path + 1, "/");
    const char *rest = path + 1 + length;
    found.kind = kind_named(path + 1, length);
    if (found.kind && *rest == '\0') {
        found.resource = API_RECORDS;
        found.allow = "GET, HEAD, POST";
    } else if (found.kind && found.kind->id == KIND_BLOCKS && ends_with(rest, "/working")) {
        found = (struct api_path){API_WORKING, NULL, rest + 1, "GET, HEAD"};
    } else if (found.kind && found.kind->id == KIND_BLOCKS && ends_with(rest, "/preview")) {
        found = (struct api_path){API_PREVIEW, NULL, rest + 1, "POST"};
    } else if (found.kind && found.kind->id == KIND_BLOCKS && ends_with(rest, "/hours")) {
        found = (struct api_path){API_HOURS, NULL, rest + 1, "GET, HEAD"};
    } else if (found.kind && rest[1] != '\0' && !strchr(rest + 1, '/')) {
        found.resource = API_RECORD;
        found.key = rest + 1;
        found.allow = "GET, HEAD, PUT, PATCH, DELETE";
    }
    return found;
}

bool api_is_long(const char *method, const char *path)
{
    enum api_resource resource = api_path_find(path).resource;
    return resource == API_PREVIEW || resource == API_HOURS || resource == API_CHECKS ||
           resource == API_FORETOLD || resource == API_CARD || resource == API_CARD_TXT ||
           (resource == API_SHEETS && strcmp(method, "POST") == 0);
}

/* --- answers ------------------------------------------------------------------------------ */

void api_answer_clear(struct api_answer *answer)
{
    body_clear(&answer->body);
    *answer = (struct api_answer){0};
}

bool api_is(const struct api_call *call, const char *method)
{
    return strcmp(call->request->method, method) == 0;
}

int api_send_text_take(struct api_call *call, unsigned status, char *text, const char *media_type)
{
    struct api_answer *answer = call->answer;
    body_clear(&answer->body);
    answer->status = 0;
    if (!text || body_init_take(&answer->body, text, strlen(text), GZIP_LEVEL) != 0)
        return -1;
    answer->status = status;
    answer->media_type = media_type;
    return 0;
}

int api_refuse_with(struct api_call *call, const struct problem *problem)
{
    enum field_language language = call->request->language;
    char *text = problem_text(problem, &language);
    call->answer->tagged = false;
    call->answer->language = field_language_tag(language);
    api_send_text_take(call, problem->status, text, PROBLEM_MEDIA_TYPE);
    return -1;
}

int api_refuse(struct api_call *call, enum problem_status status, const char *field,
               const char *format, ...)
{
    char detail[600];
    va_list args;
    va_start(args, format);
    vsnprintf(detail, sizeof detail, format, args);
    va_end(args);
    const struct problem problem = {.status = status, .field = field, .detail = detail};
    return api_refuse_with(call, &problem);
}

int api_refuse_record(struct api_call *call, enum problem_status status, const char *before,
                      const struct record_fault *fault)
{
    char field[80];
    snprintf(field, sizeof field, "%s%s", before, fault->field);
    const struct problem problem = {.status = status,
                                    .field = field,
                                    .detail = fault->text,
                                    .given = fault->given,
                                    .accepted = fault->accepted,
                                    .least = &fault->least,
                                    .most = &fault->most};
    return api_refuse_with(call, &problem);
}

int api_refuse_kind(struct api_call *call, const char *before, const struct kind_fault *fault)
{
    char field[80];
    snprintf(field, sizeof field, "%s%s", before, fault->column);
    const struct problem problem = {.status = PROBLEM_UNPROCESSABLE,
                                    .field = field,
                                    .detail = fault->text,
                                    .least = &fault->least,
                                    .most = &fault->most};
    return api_refuse_with(call, &problem);
}

int api_fail(struct api_call *call, const struct error *error)
{
    if (strcmp(call->api->said, error->text) != 0)
        log_write(LOG_LEVEL_ERROR, "%s", error->text);
    snprintf(call->api->said, sizeof call->api->said, "%s", error->text);
    call->answer->retry_after_s = 10;
    return api_refuse(call, PROBLEM_SERVICE_UNAVAILABLE, NULL,
                      "The records cannot be read or written just now; nothing was changed.");
}

int api_no_memory(struct api_call *call)
{
    const struct error error = {"out of memory"};
    return api_fail(call, &error);
}

char *api_print(const json_t *document)
{
    return json_dumps(document, JSON_COMPACT | JSON_REAL_PRECISION(15) | JSON_ENCODE_ANY);
}

int api_send_take(struct api_call *call, unsigned status, json_t *document)
{
    char *text = document ? api_print(document) : NULL;
    json_decref(document);
    return text ? api_send_text_take(call, status, text, "application/json") : api_no_memory(call);
}

json_t *api_read_body(struct api_call *call)
{
    struct error error;
    json_t *document = document_read(call->request->body, call->request->body_length, &error);
    if (!document)
        api_refuse(call, PROBLEM_BAD_REQUEST, "body", "%s", error.text);
    return document;
}

/* --- the audit record --------------------------------------------------------------------- */

struct listing {
    json_t *items;
    const struct civil_zone *zone;
};

static json_t *document_or_null(const char *text)
{
    json_t *document = text ? json_loads(text, JSON_DECODE_ANY, NULL) : NULL;
    return document ? document : json_null();
}

static void list_audit(void *context, const struct store_audit *line)
{
    struct listing *listing = context;
    char at[CIVIL_TEXT];
    civil_format_rfc3339(line->at_s, civil_offset_at(listing->zone, line->at_s), at);
    json_array_append_new(
        listing->items,
        json_pack("{s:s, s:I, s:s, s:s, s:s, s:o, s:o}", "at", at, "at_s", (json_int_t)line->at_s,
                  "who", line->who, "action", line->action, "what", line->what, "before",
                  document_or_null(line->before), "after", document_or_null(line->after)));
}

static int api_audit(struct api_call *call)
{
    struct error error;
    if (api_allow(call, ACCESS_WRITE) != 0)
        return -1;
    struct listing listing = {json_array(), call->api->options.zone};
    if (!listing.items)
        return api_no_memory(call);
    if (store_audit_each(call->api->store, AUDIT_LINES, list_audit, &listing, &error) != 0) {
        json_decref(listing.items);
        return api_fail(call, &error);
    }
    call->answer->packed = true;
    return api_send_take(call, 200, json_pack("{s:o}", "items", listing.items));
}

/* --- all of them -------------------------------------------------------------------------- */

static int dispatch(struct api_call *call)
{
    switch (call->path.resource) {
    case API_RECORDS:
        return api_records(call);
    case API_RECORD:
        return api_record(call);
    case API_READINGS:
        return api_readings(call);
    case API_SESSION:
        return api_session(call);
    case API_AUDIT:
        return api_audit(call);
    case API_WORKING:
        return api_working(call);
    case API_PREVIEW:
        return api_preview(call);
    case API_HOURS:
        return api_hours(call);
    case API_SHEETS:
        return api_sheets(call);
    case API_SHEET:
        return api_sheet(call);
    case API_CHECKS:
        return api_checks(call);
    case API_FORETOLD:
        return api_predictions(call);
    case API_CARD:
    case API_CARD_TXT:
        return api_card(call);
    case API_HISTORY:
        return api_history(call);
    case API_NONE:
        break;
    }
    return api_refuse(call, PROBLEM_NOT_FOUND, "path", "Nothing is here.");
}

/* Orders and holds: whoever was told that one is taken may count on the valve, also who was told
 * again after the first answer was lost. */
static bool obeyed_at_once(const struct api_call *call)
{
    unsigned status = call->answer->status;
    return call->path.kind &&
           (call->path.kind->id == KIND_ORDERS || call->path.kind->id == KIND_HOLDS) &&
           !api_is(call, "GET") && !api_is(call, "HEAD") && status >= 200 && status < 300;
}

void api_answer(struct api *api, const struct api_request *request, struct api_answer *answer)
{
    struct api_call call = {
        .api = api,
        .request = request,
        .path = api_path_find(request->path),
        .answer = answer,
        .now_s = clock_now_s(),
    };
    *answer = (struct api_answer){0};
    if (api_identify(&call) == 0 && request->gate)
        answer->passed = api_allow(&call, request->gate) == 0;
    else if (answer->status == 0)
        dispatch(&call);
    bool at_once = obeyed_at_once(&call);
    int64_t change = (call.changed || at_once) && api->options.changed
                         ? api->options.changed(api->options.context)
                         : 0;
    answer->change = at_once ? change : 0;
}

struct api *api_open(const struct api_options *options, struct error *error)
{
    struct api *api = calloc(1, sizeof *api);
    if (!api) {
        error_set(error, "out of memory");
        return NULL;
    }
    api->options = *options;
    if (pthread_mutex_init(&api->mutex, NULL) != 0) {
        error_set(error, "out of memory");
        free(api);
        return NULL;
    }
    api->store = store_open(options->config->store_path, false, error);
    if (!api->store) {
        api_close(api);
        return NULL;
    }
    return api;
}

void api_close(struct api *api)
{
    if (!api)
        return;
    store_close(api->store);
    pthread_mutex_destroy(&api->mutex);
    free(api);
}
