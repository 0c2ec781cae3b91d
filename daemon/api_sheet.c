/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The crew's sheets: a list, one as it was issued, and issuing one by hand. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "api_internal.h"
#include "planner.h"
#include "query.h"
#include "sheet.h"
#include "utf8.h"

enum { LIST_DEFAULT = 30, LIST_MOST = 400, REMARKS_MOST = 500 };

/* A whole number above 0 in decimal; 0 when it is none. */
static int64_t read_number(const char *text)
{
    char *end = NULL;
    if (text[0] < '1' || text[0] > '9' || strlen(text) > 15)
        return 0;
    long long number = strtoll(text, &end, 10);
    return *end == '\0' ? number : 0;
}

/* --- lists ---------------------------------------------------------------------------------- */

struct listing {
    json_t *items;
    const struct civil_zone *zone;
    int64_t last;
    bool failed;
};

static void take_line(void *context, const struct store_sheet *sheet)
{
    struct listing *listing = context;
    listing->last = sheet->number;
    if (json_array_append_new(listing->items, sheet_line(sheet, listing->zone)) != 0)
        listing->failed = true;
}

static int list_sheets(struct api_call *call)
{
    static const char *const names[] = {"limit", "after", NULL};
    struct query query;
    struct error error;
    int64_t limit = LIST_DEFAULT;
    int64_t after = 0;
    if (api_allow(call, ACCESS_READ_PLAN) != 0)
        return -1;
    if (query_read(call->request->query, names, &query, &error) != 0)
        return api_refuse(call, PROBLEM_BAD_REQUEST, "query", "%s", error.text);
    if (query.given[0])
        limit = read_number(query.values[0]);
    if (query.given[1])
        after = read_number(query.values[1]);
    if (limit < 1 || limit > LIST_MOST)
        return api_refuse(call, PROBLEM_BAD_REQUEST, "limit",
                          "'%.40s' given, accepted is a whole number from 1 to %d", query.values[0],
                          LIST_MOST);
    if (query.given[1] && after < 1)
        return api_refuse(call, PROBLEM_BAD_REQUEST, "after",
                          "'%.40s' given, accepted is a sheet's number", query.values[1]);
    struct listing listing = {json_array(), call->api->options.zone, 0, false};
    if (store_sheet_each(call->api->store, after, (int)limit, take_line, &listing, &error) != 0) {
        json_decref(listing.items);
        return api_fail(call, &error);
    }
    bool more = json_array_size(listing.items) == (size_t)limit && listing.last > 1;
    call->answer->tagged = true;
    call->answer->packed = true;
    if (listing.failed) {
        json_decref(listing.items);
        return api_no_memory(call);
    }
    return api_send_take(call, 200,
                         json_pack("{s:o, s:o}", "items", listing.items, "next",
                                   more ? json_integer(listing.last) : json_null()));
}

/* --- one ------------------------------------------------------------------------------------ */

static int send_sheet(struct api_call *call, unsigned status, int64_t number)
{
    struct store_sheet sheet;
    struct error error;
    int got = number > 0 ? store_sheet_read(call->api->store, number, &sheet, &error) : 0;
    if (got < 0)
        return api_fail(call, &error);
    if (got == 0)
        return api_refuse(call, PROBLEM_NOT_FOUND, "path", "There is no sheet of that number.");
    json_t *document = sheet_json(&sheet, call->api->options.zone);
    store_sheet_clear(&sheet);
    call->answer->tagged = true;
    call->answer->packed = true;
    return api_send_take(call, status, document);
}

int api_sheet(struct api_call *call)
{
    if (api_allow(call, ACCESS_READ_PLAN) != 0)
        return -1;
    return send_sheet(call, 200, read_number(call->path.key));
}

/* --- by hand -------------------------------------------------------------------------------- */

struct issuing {
    struct api_call *call;
    struct sheet_order order;
    int64_t number;
};

static int note_issue(struct api_call *call, int64_t number, struct error *error)
{
    char what[40];
    snprintf(what, sizeof what, "sheets/%lld", (long long)number);
    const struct store_audit line = {call->now_s, call->who, "create", what, NULL, NULL};
    return store_audit_add(call->api->store, &line, error);
}

/* The plan is there: only now is the store held, so that reports need not wait for it. */
static int issue(void *context, const struct plan_view *view, struct error *error)
{
    struct issuing *issuing = context;
    const struct api_options *options = &issuing->call->api->options;
    struct store *store = issuing->call->api->store;
    if (options->planning)
        options->planning(options->context);
    if (store_begin(store, error) != 0)
        return -1;
    if (sheet_issue(view, store, &issuing->order, &issuing->number, error) == 1 &&
        note_issue(issuing->call, issuing->number, error) == 0 && store_commit(store, error) == 0)
        return 0;
    store_rollback(store);
    return -1;
}

/* {"remarks"}, or nothing in it; remarks lives as long as document. */
static int read_remarks(struct api_call *call, const json_t *document, const char **remarks)
{
    const json_t *value = json_object_get(document, "remarks");
    const char *text = json_string_value(value);
    *remarks = text ? text : "";
    if (!json_is_object(document) || json_object_size(document) > (value ? 1 : 0))
        return api_refuse(call, PROBLEM_UNPROCESSABLE, "body",
                          "Accepted is {} or {\"remarks\": \"...\"}.");
    if (value && !json_is_null(value) && (!text || strlen(text) > REMARKS_MOST))
        return api_refuse(call, PROBLEM_UNPROCESSABLE, "remarks",
                          "Accepted are up to %d bytes of text.", REMARKS_MOST);
    for (const char *c = *remarks; *c; c++)
        if ((unsigned char)*c < 0x20 || *c == 0x7f)
            return api_refuse(call, PROBLEM_UNPROCESSABLE, "remarks",
                              "Accepted is text on one line, without control characters.");
    return 0;
}

/* From the plan of this moment: what people just changed is on it. */
static int issue_again(struct api_call *call, const char *remarks)
{
    const struct api_options *options = &call->api->options;
    struct issuing issuing = {call, {call->who, remarks, true}, 0};
    struct error error;
    if (planner_view(options->config, options->zone, call->api->store, call->now_s, NULL, issue,
                     &issuing, &error) != 0)
        return api_fail(call, &error);
    call->changed = true;
    snprintf(call->answer->location, sizeof call->answer->location, "/api/v1/sheets/%lld",
             (long long)issuing.number);
    return send_sheet(call, 201, issuing.number);
}

static int post_sheet(struct api_call *call)
{
    const char *remarks = "";
    if (api_allow(call, ACCESS_WRITE) != 0)
        return -1;
    json_t *document = api_read_body(call);
    if (!document)
        return -1;
    int result = read_remarks(call, document, &remarks);
    if (result == 0 && api_is_frozen(call))
        result = api_refuse(call, PROBLEM_SERVICE_UNAVAILABLE, NULL,
                            "This computer's clock is wrong: no sheet is issued. Set the clock.");
    else if (result == 0)
        result = issue_again(call, remarks);
    json_decref(document);
    return result;
}

int api_sheets(struct api_call *call)
{
    return api_is(call, "POST") ? post_sheet(call) : list_sheets(call);
}
