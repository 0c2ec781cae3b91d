/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "query.h"

#include <stdio.h>
#include <string.h>

#include "utf8.h"

static int hex_of(char c)
{
    if (c >= '0' && c <= '9')
        return c - '0';
    if (c >= 'a' && c <= 'f')
        return c - 'a' + 10;
    return c >= 'A' && c <= 'F' ? c - 'A' + 10 : -1;
}

/* False when text does not fit, is wrongly encoded, or holds a NUL. */
static bool decode(const char *text, size_t length, char *out, size_t size)
{
    size_t used = 0;
    for (size_t i = 0; i < length; i++) {
        char c = text[i];
        if (c == '%') {
            if (i + 2 >= length || hex_of(text[i + 1]) < 0 || hex_of(text[i + 2]) < 0)
                return false;
            c = (char)(hex_of(text[i + 1]) * 16 + hex_of(text[i + 2]));
            i += 2;
        }
        if (c == '\0' || used + 1 >= size)
            return false;
        out[used++] = c;
    }
    out[used] = '\0';
    return used > 0 && utf8_check(out, used) == used;
}

static int fail_name(const char *name, size_t length, const char *const *names, struct error *error)
{
    char accepted[200] = "";
    for (size_t i = 0; names[i]; i++) {
        size_t used = strlen(accepted);
        snprintf(accepted + used, sizeof accepted - used, "%s%s", i ? ", " : "", names[i]);
    }
    error_set(error, "'%.*s' given, accepted is %s", (int)(length > 40 ? 40 : length), name,
              accepted);
    if (error)
        error_make_plain(error->text);
    return -1;
}

static int take_pair(const char *text, size_t length, const char *const *names, struct query *query,
                     struct error *error)
{
    const char *equal = memchr(text, '=', length);
    size_t name_length = equal ? (size_t)(equal - text) : length;
    size_t i = 0;
    while (names[i] &&
           (strlen(names[i]) != name_length || memcmp(names[i], text, name_length) != 0))
        i++;
    if (!names[i])
        return fail_name(text, name_length, names, error);
    if (query->given[i])
        return error_set(error, "'%s' given twice, accepted is once", names[i]);
    if (!equal || !decode(equal + 1, length - name_length - 1, query->values[i], QUERY_VALUE_SIZE))
        return error_set(error,
                         "'%s' has no value that can be read; accepted is %s=VALUE, UTF-8, "
                         "percent-encoded, under %d bytes",
                         names[i], names[i], QUERY_VALUE_SIZE);
    query->given[i] = true;
    return 0;
}

int query_read(const char *text, const char *const *names, struct query *query, struct error *error)
{
    memset(query, 0, sizeof *query);
    while (*text) {
        size_t length = strcspn(text, "&");
        if (take_pair(text, length, names, query, error) != 0)
            return -1;
        text += length + (text[length] == '&');
    }
    return 0;
}
