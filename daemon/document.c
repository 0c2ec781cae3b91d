/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "document.h"

#include <stdbool.h>
#include <string.h>

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

static const char *words_of(enum json_error_code code)
{
    switch (code) {
    case json_error_premature_end_of_input:
        return "it ends too soon";
    case json_error_end_of_input_expected:
        return "something follows after its end";
    case json_error_invalid_syntax:
        return "something else belongs here";
    case json_error_duplicate_key:
        return "a name is given twice";
    case json_error_numeric_overflow:
        return "a number is too large";
    default:
        return "this cannot be read";
    }
}

/* Where the parser stopped and why, in our own words; what it quotes is the sender's. */
static void refuse_json(const json_error_t *why, struct error *error)
{
    const char *words = words_of(json_error_code(why));
    const char *near = strstr(why->text, " near '");
    int length = near ? (int)strlen(near + 7) - 1 : 0;
    if (length > 0)
        error_set(error, "Not JSON: line %d, column %d: %s, near '%.*s'.", why->line, why->column,
                  words, length, near + 7);
    else
        error_set(error, "Not JSON: line %d, column %d: %s.", why->line, why->column, words);
    error_make_plain(error->text); /* it quotes, and may cut a character in two */
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
        refuse_json(&why, error);
    }
    return NULL;
}
