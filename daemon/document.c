/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "document.h"

#include <stdbool.h>

#include "utf8.h"

/* Brackets outside strings; whether they match is the parser's business. */
static size_t depth_of(const char *bytes, size_t length)
{
    size_t depth = 0;
    size_t deepest = 0;
    bool inside = false;
    for (size_t i = 0; i < length; i++) {
        if (inside) {
            if (bytes[i] == '\\')
                i++;
            else
                inside = bytes[i] != '"';
        } else if (bytes[i] == '"') {
            inside = true;
        } else if (bytes[i] == '{' || bytes[i] == '[') {
            depth++;
            deepest = depth > deepest ? depth : deepest;
        } else if ((bytes[i] == '}' || bytes[i] == ']') && depth > 0) {
            depth--;
        }
    }
    return deepest;
}

json_t *document_read(const char *bytes, size_t length, struct error *error)
{
    json_error_t why;
    size_t bad = utf8_check(bytes, length);
    if (length == 0)
        error_set(error, "Nothing given; accepted is a JSON document.");
    else if (bad < length)
        error_set(error, "Byte %zu is not UTF-8.", bad + 1);
    else if (depth_of(bytes, length) > DOCUMENT_DEPTH_MAX)
        error_set(error, "Nested deeper than %d; no document accepted here is.",
                  DOCUMENT_DEPTH_MAX);
    else {
        json_t *value = json_loadb(bytes, length, JSON_REJECT_DUPLICATES | JSON_DECODE_ANY, &why);
        if (value)
            return value;
        error_set(error, "Not JSON: line %d, column %d: %s.", why.line, why.column, why.text);
        error_make_plain(error->text); /* it quotes, and may cut a character in two */
    }
    return NULL;
}
