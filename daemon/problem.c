/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "problem.h"

#include <jansson.h>
#include <math.h>

#include "spanish.h"

static const struct {
    enum problem_status status;
    const char *title;
} titles[] = {
    {PROBLEM_BAD_REQUEST, "Bad Request"},
    {PROBLEM_UNAUTHORIZED, "Unauthorized"},
    {PROBLEM_FORBIDDEN, "Forbidden"},
    {PROBLEM_NOT_FOUND, "Not Found"},
    {PROBLEM_METHOD_NOT_ALLOWED, "Method Not Allowed"},
    {PROBLEM_NOT_ACCEPTABLE, "Not Acceptable"},
    {PROBLEM_CONFLICT, "Conflict"},
    {PROBLEM_LENGTH_REQUIRED, "Length Required"},
    {PROBLEM_PRECONDITION_FAILED, "Precondition Failed"},
    {PROBLEM_CONTENT_TOO_LARGE, "Content Too Large"},
    {PROBLEM_UNSUPPORTED_MEDIA_TYPE, "Unsupported Media Type"},
    {PROBLEM_MISDIRECTED_REQUEST, "Misdirected Request"},
    {PROBLEM_UNPROCESSABLE, "Unprocessable Content"},
    {PROBLEM_PRECONDITION_REQUIRED, "Precondition Required"},
    {PROBLEM_TOO_MANY_REQUESTS, "Too Many Requests"},
    {PROBLEM_INTERNAL, "Internal Server Error"},
    {PROBLEM_NOT_IMPLEMENTED, "Not Implemented"},
    {PROBLEM_SERVICE_UNAVAILABLE, "Service Unavailable"},
};

static const char *title_of(enum problem_status status)
{
    for (size_t i = 0; i < sizeof titles / sizeof titles[0]; i++)
        if (titles[i].status == status)
            return titles[i].title;
    return "Error";
}

static void put(json_t *document, const char *name, const char *text)
{
    if (text && text[0])
        json_object_set_new(document, name, json_string(text));
}

static void put_bound(json_t *document, const char *name, const double *bound)
{
    if (bound && isfinite(*bound))
        json_object_set_new(document, name,
                            *bound == floor(*bound) ? json_integer((json_int_t)*bound)
                                                    : json_real(*bound));
}

char *problem_text(const struct problem *problem, enum field_language *language)
{
    const char *detail = problem->detail;
    const char *accepted = problem->accepted;
    char said[2][SPANISH_SIZE];
    if (*language == FIELD_SPANISH && detail && spanish_of(detail, said[0])) {
        if (said[0][0] >= 'a' && said[0][0] <= 'z')
            said[0][0] = (char)(said[0][0] - 'a' + 'A'); /* it stands as a sentence of its own */
        detail = said[0];
        if (accepted && spanish_of(accepted, said[1]))
            accepted = said[1];
    } else {
        *language = FIELD_ENGLISH;
    }
    json_t *document = json_pack("{s:s, s:i}", "title", title_of(problem->status), "status",
                                 (int)problem->status); /* in this order */
    if (!document)
        return NULL;
    put(document, "field", problem->field);
    put(document, "given", problem->given);
    put(document, "accepted", accepted);
    put_bound(document, "accepted_min", problem->least);
    put_bound(document, "accepted_max", problem->most);
    put(document, "detail", detail);
    put(document, "instance", problem->instance);
    char *text = json_dumps(document, JSON_INDENT(2) | JSON_REAL_PRECISION(15));
    json_decref(document);
    return text;
}
