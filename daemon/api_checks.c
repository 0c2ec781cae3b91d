/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The five checks, and the predictions they are held against. */
#include <stdlib.h>
#include <string.h>

#include "api_internal.h"
#include "checks.h"
#include "json_put.h"
#include "plan_index.h"
#include "planner.h"
#include "snapshot.h"
#include "store_checks.h"

enum { BLOCKS_MOST = 10 };

/* --- the checks ------------------------------------------------------------------------------ */

struct checking {
    struct store *store;
    json_t *document;
};

static int take_checks(void *context, const struct plan_view *view, struct error *error)
{
    struct checking *checking = context;
    return checks_json(view, checking->store, &checking->document, error);
}

int api_checks(struct api_call *call)
{
    const struct api_options *options = &call->api->options;
    struct checking checking = {call->api->store, NULL};
    struct error error;
    int64_t made_at_s = 0;
    if (api_allow(call, ACCESS_READ) != 0 || api_plan_moment(call, &made_at_s) != 0)
        return -1;
    /* Measured up to now, whenever the plan was made. */
    if (planner_view(options->config, options->zone, call->api->store,
                     api_is_frozen(call) ? made_at_s : call->now_s, NULL, take_checks, &checking,
                     &error) != 0)
        return api_fail(call, &error);
    call->answer->packed = true;
    return api_send_take(call, 200, checking.document);
}

/* --- sealing --------------------------------------------------------------------------------- */

struct foretold {
    struct store_sealed sealed;
    char *content;
};

static int foretell(void *context, const struct plan_view *view, struct error *error)
{
    struct foretold *foretold = context;
    return checks_foretell(view, &foretold->sealed, &foretold->content, error);
}

/* A plan each, before the store is held. */
static int foretell_all(struct api_call *call, const json_t *blocks, int64_t made_at_s,
                        struct foretold *foretold)
{
    const struct api_options *options = &call->api->options;
    struct error error;
    for (size_t i = 0; i < json_array_size(blocks); i++) {
        const char *block = json_string_value(json_array_get(blocks, i));
        int got = planner_view(options->config, options->zone, call->api->store, made_at_s, block,
                               foretell, &foretold[i], &error);
        if (got > 0)
            return api_refuse(call, PROBLEM_UNPROCESSABLE, "blocks",
                              "The plan has no block '%.40s'; accepted are ids of blocks.", block);
        if (got < 0)
            return api_fail(call, &error);
        foretold[i].sealed.sealed_s = call->now_s;
        foretold[i].sealed.who = call->who;
    }
    return 0;
}

/* All of them or none. Their figures stay out of sight until it is weighed. */
static int seal(struct api_call *call, struct foretold *foretold, size_t count, json_t *items)
{
    const struct civil_zone *zone = call->api->options.zone;
    struct error error;
    bool complete = true;
    if (store_begin(call->api->store, &error) != 0)
        return api_fail(call, &error);
    for (size_t i = 0; i < count; i++) {
        struct store_sealed *sealed = &foretold[i].sealed;
        if (store_sealed_add(call->api->store, sealed, &error) != 0) {
            store_rollback(call->api->store);
            return api_fail(call, &error);
        }
        json_t *item =
            json_pack("{s:I, s:s}", "number", (json_int_t)sealed->number, "block", sealed->block);
        complete &=
            item && json_put_time(item, "sealed_at", call->now_s, zone) &&
            json_put_time(item, "until", sealed->made_s + CHECKS_SEALED_HOURS * CIVIL_HOUR_S, zone);
        complete &= json_array_append_new(items, item) == 0;
    }
    if (!complete || store_commit(call->api->store, &error) != 0) {
        store_rollback(call->api->store);
        return complete ? api_fail(call, &error) : api_no_memory(call);
    }
    return 0;
}

static int seal_blocks(struct api_call *call, const json_t *blocks, int64_t made_at_s)
{
    struct foretold foretold[BLOCKS_MOST] = {0};
    json_t *items = json_array();
    int result = items ? foretell_all(call, blocks, made_at_s, foretold) : api_no_memory(call);
    if (result == 0)
        result = seal(call, foretold, json_array_size(blocks), items);
    for (size_t i = 0; i < BLOCKS_MOST; i++)
        free(foretold[i].content);
    if (result == 0)
        return api_send_take(call, 201, json_pack("{s:o}", "items", items));
    json_decref(items);
    return -1;
}

int api_predictions(struct api_call *call)
{
    int64_t made_at_s = 0;
    if (api_allow(call, ACCESS_WRITE) != 0)
        return -1;
    json_t *document = api_read_body(call);
    if (!document)
        return -1;
    const json_t *blocks = json_object_get(document, "blocks");
    bool good = json_is_object(document) && json_object_size(document) == 1 &&
                json_array_size(blocks) >= 1 && json_array_size(blocks) <= BLOCKS_MOST;
    for (size_t i = 0; i < json_array_size(blocks); i++)
        good &= json_is_string(json_array_get(blocks, i));
    int result = !good ? api_refuse(call, PROBLEM_UNPROCESSABLE, "blocks",
                                    "Accepted is {\"blocks\": [...]} with 1 to %d ids of blocks.",
                                    BLOCKS_MOST)
                       : api_plan_moment(call, &made_at_s);
    if (result == 0)
        result = seal_blocks(call, blocks, made_at_s);
    json_decref(document);
    return result;
}

/* --- 'I'd water now' ------------------------------------------------------------------------- */

static json_t *planned_block(struct snapshot *snapshot, const char *block)
{
    const struct plan_narrowing wanted = {.block = block};
    size_t length = 0;
    if (!snapshot->index || plan_index_lacks(snapshot->index, &wanted))
        return NULL;
    char *text = plan_index_narrow(snapshot->index, &wanted, &length);
    json_t *plan = text ? json_loadb(text, length, 0, NULL) : NULL;
    free(text);
    json_t *blocks = json_object_get(plan, "blocks");
    json_t *found = NULL;
    for (size_t i = 0; i < json_array_size(blocks); i++) {
        json_t *one = json_array_get(blocks, i);
        const char *id = json_string_value(json_object_get(one, "id"));
        if (id && strcmp(id, block) == 0)
            found = json_incref(one);
    }
    json_decref(plan);
    return found;
}

/* What the plan that is served said of the block, before this word of it was known. */
int api_note_dry(struct api_call *call, const struct kind_row *row)
{
    static const char *const names[] = {"next_at_s", "next_from_s", "next_to_s", "driest_pct",
                                        "refill_pct"};
    struct snapshot_cell *cell = call->api->options.cell;
    struct snapshot *snapshot = cell && kind_is(row, "feel", "dry") ? snapshot_acquire(cell) : NULL;
    if (!snapshot)
        return 0;
    struct store_sealed sealed = {.kind = STORE_SEALED_DUE,
                                  .sealed_s = call->now_s,
                                  .made_s = snapshot->made_at_s,
                                  .about_s = kind_get(row, "at")->whole,
                                  .who = call->who};
    struct error error;
    const char *block = kind_text(row, "block");
    json_t *planned = snapshot->frozen ? NULL : planned_block(snapshot, block);
    snapshot_release(cell, snapshot);
    json_t *content = json_object();
    for (size_t i = 0; planned && i < sizeof names / sizeof names[0]; i++)
        json_object_set(content, names[i], json_object_get(planned, names[i]));
    char *text = planned ? api_print(content) : NULL;
    json_decref(content);
    json_decref(planned);
    if (!text)
        return 0;
    sealed.content = text;
    memcpy(sealed.block, block, strlen(block) + 1);
    int result = store_sealed_add(call->api->store, &sealed, &error);
    free(text);
    return result == 0 ? 0 : api_fail(call, &error);
}
