/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the api's own files share. */
#ifndef PERCHD_DAEMON_API_INTERNAL_H
#define PERCHD_DAEMON_API_INTERNAL_H

#include <jansson.h>

#include "api.h"
#include "record_json.h"
#include "store_access.h"

/* One request on its way. */
struct api_call {
    struct api *api;
    const struct api_request *request;
    struct api_path path;
    struct api_answer *answer;
    int64_t now_s;
    enum access_role role;        /* of who asks */
    char who[64];                 /* "token gate-3", for the audit record */
    char session[ACCESS_ID_SIZE]; /* "" without one */
    bool changed;                 /* something was written */
};

/* api_method "POST" is this request's. */
bool api_is(const struct api_call *call, const char *method);

/* Each sets the answer and returns -1, so that a refusal ends a function. */
int api_refuse(struct api_call *call, enum problem_status status, const char *field,
               const char *format, ...) __attribute__((format(printf, 4, 5)));
int api_refuse_with(struct api_call *call, const struct problem *problem);
/* before: what stands before the field's name, "items/3/". */
int api_refuse_record(struct api_call *call, enum problem_status status, const char *before,
                      const struct record_fault *fault);
int api_refuse_kind(struct api_call *call, const char *before, const struct kind_fault *fault);
/* The store failed: logged once, 503. */
int api_fail(struct api_call *call, const struct error *error);
int api_no_memory(struct api_call *call);

/* Takes document (NULL: no memory). Returns 0, or -1 with the answer set all the same. */
int api_send_take(struct api_call *call, unsigned status, json_t *document);
/* Takes text (NULL: no memory); the answer's status is 0 on failure. */
int api_send_text_take(struct api_call *call, unsigned status, char *text, const char *media_type);
/* Compact text of a document; malloc'ed, NULL when memory is short. */
char *api_print(const json_t *document);

/* The body as a document, or NULL with the answer set. */
json_t *api_read_body(struct api_call *call);

/* api_who.c: who asks, and whether he may. 0, or -1 with the answer set. */
int api_identify(struct api_call *call);
int api_allow(struct api_call *call, enum access_right right);
int api_session(struct api_call *call);

/* api_record.c */
int api_records(struct api_call *call);
int api_record(struct api_call *call);

/* api_block.c */
/* When the plan that is served was made; -1 with the answer set when there is none. */
int api_plan_moment(struct api_call *call, int64_t *made_at_s);
/* No plan is made, since this computer's clock is wrong. */
bool api_is_frozen(const struct api_call *call);
int api_working(struct api_call *call);
int api_preview(struct api_call *call);
int api_hours(struct api_call *call);

/* api_sheet.c */
int api_sheets(struct api_call *call);
int api_sheet(struct api_call *call);

/* api_checks.c */
int api_checks(struct api_call *call);
int api_predictions(struct api_call *call);
/* A touch check that was just added: what the plan had said of its block. */
int api_note_dry(struct api_call *call, const struct kind_row *row);

/* api_card.c */
int api_card(struct api_call *call);

/* api_history.c */
int api_history(struct api_call *call);

/* api_weather.c */
int api_readings(struct api_call *call);

#endif
