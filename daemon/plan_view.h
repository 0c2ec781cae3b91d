/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A finished plan with the ids and names it needs to be told: what the JSON and the text sheet are
 * printed from. Borrowed pointers; nothing here changes once made.
 */
#ifndef PERCHD_DAEMON_PLAN_VIEW_H
#define PERCHD_DAEMON_PLAN_VIEW_H

#include <jansson.h>

#include "config.h"
#include "core/plan.h"
#include "records.h"
#include "store.h"
#include "weather_json.h"

struct plan_said;

struct plan_view {
    const struct config *config;
    const struct records *records;
    const struct plan_input *input;
    const struct plan_result *result;
    const struct weather_view *weather;
    const struct store_clock *clock; /* given: wrong, and this is the last plan from before */
    struct plan_said *said;          /* given: what plan_json_print says goes there too */
    const json_t *sheet; /* the crew's, as sheet.h gives it; NULL: none was issued by then */
};

/* Notices as said, for the record of since when; the array is malloc'ed. */
struct plan_said {
    struct records_notice *notices;
    size_t count;
};

enum plan_severity {
    PLAN_ACT, /* needs a person now */
    PLAN_WATCH,
    PLAN_INFO,
};

/* Which member of struct plan_reason a parameter is. */
enum plan_member {
    PLAN_MEMBER_NONE,
    PLAN_MEMBER_ZONE,
    PLAN_MEMBER_BLOCK,
    PLAN_MEMBER_OTHER,
    PLAN_MEMBER_A,
    PLAN_MEMBER_B,
    PLAN_MEMBER_AT,
    PLAN_MEMBER_UNTIL,
    PLAN_MEMBER_ORDER, /* other is an order, hold, requirement: its id, or what people said of it */
    PLAN_MEMBER_ORDER_WHO,
    PLAN_MEMBER_ORDER_WHY,
    PLAN_MEMBER_HOLD,
    PLAN_MEMBER_HOLD_KIND,
    PLAN_MEMBER_HOLD_WHY,
    PLAN_MEMBER_REQUIREMENT,
    PLAN_MEMBER_PURPOSE,
    PLAN_MEMBER_TO,     /* other is a zone */
    PLAN_MEMBER_SUPPLY, /* other is a supply */
    PLAN_MEMBER_YES,    /* b is 0 or 1 */
    PLAN_MEMBER_DOUBT,  /* a is one enum demand_doubt */
};

struct plan_param {
    const char *name;
    enum plan_member member;
};

#define PLAN_PARAMS_MAX 6

/* The words of a code: its name in JSON, how urgent it is as a notice, its parameters. */
struct plan_word {
    const char *name;
    enum plan_severity severity;
    struct plan_param params[PLAN_PARAMS_MAX];
};

const struct plan_word *plan_word_of(enum plan_code code);
const char *plan_severity_name(enum plan_severity severity);
const char *plan_sure_name(enum plan_sure sure);
const char *plan_known_name(enum plan_known known);
const char *plan_zone_state_name(enum plan_zone_state state);
const char *plan_method_name(enum delivery_method method);
const char *plan_led_name(enum plan_led led);
const char *plan_hold_name(enum nursery_hold_kind kind);
const char *plan_purpose_name(enum nursery_purpose purpose);
const char *plan_doubt_name(unsigned doubt); /* enum demand_doubt */

/* '2026-07-01' of days since 1970-01-01; out is returned. */
#define PLAN_DATE_SIZE 16
const char *plan_date_text(int64_t local_days, char out[PLAN_DATE_SIZE]);
/* A run's id: its zone and local start, 'bed-1.20260701T0530'. */
const char *plan_run_id(const struct plan_view *view, const struct plan_run *run,
                        char out[RECORDS_RUN_ID_SIZE]);

/* Whether all that is wanted tomorrow is given: nothing of that day is left out (so many are), and
 * no limit or hold has a block past its stress limit on it. What was ordered for now is not of it.
 */
bool plan_fits_tomorrow(const struct plan_view *view, size_t *left_out);

/* The block that is first to be due; of those that are, the one that suffers first, or lacks most.
 * NURSERY_NONE: none is within the plan. */
size_t plan_first_dry(const struct plan_view *view);

struct weather_report plan_weather_report(const struct plan_view *view);

/* Codes of the standing cautions, NULL at the end. */
extern const char *const plan_cautions[];

/* A reason as {"code", "params"}, NULL when memory is short; and in words, without its zone, cut to
 * size. */
json_t *plan_reason_json(const struct plan_view *view, const struct plan_reason *reason);
void plan_text_reason(const struct plan_view *view, const struct plan_reason *reason, char *out,
                      size_t size);

/* Both return malloc'ed text, or NULL when memory is short. */
char *plan_json_print(const struct plan_view *view);
char *plan_text_print(const struct plan_view *view);
/* One zone in full: its runs, what did not fit, its blocks; how their figures came about, made from
 * json, the same plan as plan_json_print gave it. */
char *plan_text_why(const struct plan_view *view, size_t zone, const char *json);

#endif
