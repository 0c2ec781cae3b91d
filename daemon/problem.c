/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "problem.h"

#include <jansson.h>

static const char *title_of(enum problem_status status)
{
    switch (status) {
    case PROBLEM_NONE:
        break;
    case PROBLEM_BAD_REQUEST:
        return "Bad Request";
    case PROBLEM_NOT_FOUND:
        return "Not Found";
    case PROBLEM_METHOD_NOT_ALLOWED:
        return "Method Not Allowed";
    case PROBLEM_NOT_ACCEPTABLE:
        return "Not Acceptable";
    case PROBLEM_PRECONDITION_FAILED:
        return "Precondition Failed";
    case PROBLEM_CONTENT_TOO_LARGE:
        return "Content Too Large";
    case PROBLEM_MISDIRECTED_REQUEST:
        return "Misdirected Request";
    case PROBLEM_NOT_IMPLEMENTED:
        return "Not Implemented";
    case PROBLEM_SERVICE_UNAVAILABLE:
        return "Service Unavailable";
    }
    return "Error";
}

char *problem_text(const struct problem *problem)
{
    json_t *document = json_pack("{s:s, s:i}", "title", title_of(problem->status), "status",
                                 (int)problem->status); /* in this order */
    if (!document)
        return NULL;
    if (problem->field)
        json_object_set_new(document, "field", json_string(problem->field));
    if (problem->detail)
        json_object_set_new(document, "detail", json_string(problem->detail));
    char *text = json_dumps(document, JSON_INDENT(2));
    json_decref(document);
    return text;
}
