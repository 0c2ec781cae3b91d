/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "adapter.h"

#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "feed_met.h"
#include "feed_nws.h"
#include "feed_nws_stations.h"
#include "feed_open_meteo.h"
#include "feed_power.h"

/* One line a feed. */
static const struct adapter *const ADAPTERS[] = {
    &feed_met,          /* MET Norway Locationforecast */
    &feed_nws,          /* US National Weather Service, grid */
    &feed_nws_stations, /* the same service, observations */
    &feed_open_meteo,   /* Open-Meteo */
    &feed_power,        /* NASA POWER, climate normals */
    NULL,
};

const struct adapter *adapter_at(size_t index)
{
    for (size_t i = 0; ADAPTERS[i]; i++)
        if (i == index)
            return ADAPTERS[i];
    return NULL;
}

const struct adapter *adapter_find(const char *name)
{
    for (size_t i = 0; ADAPTERS[i]; i++)
        if (strcmp(ADAPTERS[i]->name, name) == 0)
            return ADAPTERS[i];
    return NULL;
}

const char *adapter_outcome_name(enum adapter_outcome outcome)
{
    static const char *const NAMES[ADAPTER_OUTCOMES] = {"document", "unchanged", "refused",
                                                        "status", "failed"};
    return NAMES[outcome];
}

void adapter_answer_free(struct adapter_answer *answer)
{
    free(answer->body);
    answer->body = NULL;
    answer->length = 0;
}

void adapter_harvest_free(struct adapter_harvest *harvest)
{
    adapter_answer_free(&harvest->answer);
    feed_hours_free(&harvest->hours);
}

void adapter_degrees(double degrees, bool trimmed, char out[16])
{
    /* + 0: no negative zero */
    int length = snprintf(out, 16, "%.4f", round(degrees * 1e4) / 1e4 + 0.0);
    while (trimmed && length > 1 && strchr(out, '.') &&
           (out[length - 1] == '0' || out[length - 1] == '.'))
        out[--length] = '\0';
}

/* What a problem document says of itself, "" when it says nothing. */
static void problem_words(const struct adapter_answer *answer, char *out, size_t size)
{
    static const char *const NAMES[] = {"title", "detail", "reason", "message"};
    json_t *root = answer->body ? json_loadb(answer->body, answer->length, 0, NULL) : NULL;
    out[0] = '\0';
    for (size_t i = 0; i < sizeof NAMES / sizeof *NAMES && !out[0]; i++) {
        const char *text = json_string_value(json_object_get(root, NAMES[i]));
        if (text)
            snprintf(out, size, ": %.100s", text);
    }
    json_decref(root);
    error_make_plain(out);
}

/* A portal or proxy answers 200 with a page of its own. */
static bool is_page(const struct adapter_answer *answer)
{
    const char *body = answer->body ? answer->body : "";
    return strncasecmp(answer->content_type, "text/html", 9) == 0 ||
           body[strspn(body, " \t\r\n")] == '<';
}

static enum adapter_outcome judge(const struct adapter_answer *answer, struct error *error)
{
    char problem[128];
    if (answer->status == 304)
        return ADAPTER_UNCHANGED;
    if (answer->status != 200 && answer->status != 203) {
        problem_words(answer, problem, sizeof problem);
        error_set(error, "the service answered %ld%s", answer->status, problem);
        return ADAPTER_STATUS;
    }
    if (!is_page(answer))
        return ADAPTER_DOCUMENT;
    error_set(error, "a web page came instead of a forecast (a sign-in page or proxy between?)");
    return ADAPTER_REFUSED;
}

enum adapter_outcome adapter_get(const struct adapter_order *order, const char *url,
                                 const char *if_modified_since, struct adapter_harvest *out,
                                 struct error *error)
{
    bool reached = out->answer.reached;
    adapter_answer_free(&out->answer);
    int failed =
        order->get(order->context, url, order->accept, if_modified_since, &out->answer, error);
    out->answer.reached |= reached;
    return failed ? ADAPTER_FAILED : judge(&out->answer, error);
}
