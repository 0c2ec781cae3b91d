/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The wall card, worked out for the plan that is served. */
#include "api_internal.h"
#include "card.h"
#include "planner.h"

static int take_card(void *context, const struct plan_view *view, struct error *error)
{
    return card_json(view, context, error);
}

int api_card(struct api_call *call)
{
    const struct api_options *options = &call->api->options;
    struct error error;
    json_t *card = NULL;
    int64_t made_at_s = 0;
    if (api_allow(call, ACCESS_READ_PLAN) != 0 || api_plan_moment(call, &made_at_s) != 0)
        return -1;
    if (planner_view(options->config, options->zone, call->api->store, made_at_s, NULL, take_card,
                     &card, &error) != 0)
        return api_fail(call, &error);
    call->answer->tagged = true;
    call->answer->packed = true;
    if (call->path.resource == API_CARD)
        return api_send_take(call, 200, card);
    char *text = card_text(options->config->nursery_name, card);
    json_decref(card);
    return api_send_text_take(call, 200, text, "text/plain; charset=utf-8");
}
