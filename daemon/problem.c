/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "problem.h"

#include <jansson.h>

char *problem_new(unsigned status, const char *title, const char *field, const char *detail)
{
    json_t *document =
        json_pack("{s:s, s:i}", "title", title, "status", (int)status); /* in this order */
    if (!document)
        return NULL;
    if (field)
        json_object_set_new(document, "field", json_string(field));
    if (detail)
        json_object_set_new(document, "detail", json_string(detail));
    char *text = json_dumps(document, JSON_INDENT(2));
    json_decref(document);
    return text;
}
