/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "record_json.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "number.h"

/* --- row to JSON -------------------------------------------------------------------------- */

static json_t *number_json(double number)
{
    return number == floor(number) && fabs(number) < 1e15 ? json_integer((json_int_t)number)
                                                          : json_real(number);
}

static json_t *numbers_json(const char *text)
{
    double values[BENCH_REPLICATES_MAX];
    size_t count = 0;
    json_t *array = json_array();
    if (array && kind_parse_numbers(text, values, BENCH_REPLICATES_MAX, &count))
        for (size_t i = 0; i < count; i++)
            json_array_append_new(array, number_json(values[i]));
    return array;
}

static json_t *words_json(const char *text)
{
    json_t *array = json_array();
    while (array && *text) {
        size_t length = strcspn(text, " ");
        json_array_append_new(array, json_stringn(text, length));
        text += length + (text[length] == ' ');
    }
    return array;
}

static json_t *moment_json(int64_t t_s, const struct civil_zone *zone)
{
    char text[CIVIL_TEXT];
    civil_format_rfc3339(t_s, civil_offset_at(zone, t_s), text);
    return json_string(text);
}

static json_t *value_json(const struct kind_column *column, const struct kind_value *value,
                          const struct civil_zone *zone)
{
    if (!value->given)
        return json_null();
    switch (column->type) {
    case KIND_NUMBER:
        return number_json(value->number);
    case KIND_WHOLE:
        return json_integer(value->whole);
    case KIND_YES_NO:
        return json_boolean(value->whole != 0);
    case KIND_MOMENT:
        return moment_json(value->whole, zone);
    case KIND_NUMBERS:
        return numbers_json(value->text);
    case KIND_DAYS:
        return words_json(value->text);
    case KIND_ID:
    case KIND_REF:
    case KIND_TEXT:
    case KIND_CHOICE:
    case KIND_DATE:
    case KIND_EDGE:
        return json_string(value->text);
    }
    return json_null();
}

json_t *record_json_of(const struct kind_row *row, const struct civil_zone *zone, bool twins)
{
    json_t *object = json_object();
    char twin[64];
    for (size_t i = 0; object && i < row->kind->column_count; i++) {
        const struct kind_column *column = &row->kind->columns[i];
        int failed =
            json_object_set_new(object, column->name, value_json(column, &row->values[i], zone));
        if (!failed && twins && column->type == KIND_MOMENT) {
            snprintf(twin, sizeof twin, "%s_s", column->name);
            failed = json_object_set_new(object, twin,
                                         row->values[i].given ? json_integer(row->values[i].whole)
                                                              : json_null());
        }
        if (failed) {
            json_decref(object);
            object = NULL;
        }
    }
    return object;
}

/* --- JSON to row -------------------------------------------------------------------------- */

static int fail(struct record_fault *fault, const char *field, const char *given,
                const char *accepted)
{
    *fault = (struct record_fault){.field = "", .least = NAN, .most = NAN};
    snprintf(fault->field, sizeof fault->field, "%.47s", field);
    snprintf(fault->given, sizeof fault->given, "%s", given);
    snprintf(fault->accepted, sizeof fault->accepted, "%s", accepted);
    snprintf(fault->text, sizeof fault->text, "%s given, accepted is %s", given, accepted);
    return -1;
}

static const char *keep(struct record_texts *texts, const char *text, size_t length)
{
    if (texts->used + length + 1 > sizeof texts->bytes)
        return NULL;
    char *start = texts->bytes + texts->used;
    memcpy(start, text, length);
    start[length] = '\0';
    texts->used += length + 1;
    return start;
}

/* At most 60 bytes of a value as JSON, cut between characters. */
static void show(const json_t *value, char *out, size_t size)
{
    char *text = json_dumps(value, JSON_ENCODE_ANY | JSON_COMPACT);
    size_t length = text ? strnlen(text, 61) : 0;
    if (length == 61) {
        length = 60;
        while (length > 0 && ((unsigned char)text[length] & 0xc0) == 0x80)
            length--;
    }
    snprintf(out, size, "%.*s", (int)length, text ? text : "");
    free(text);
}

/* What a column takes, in JSON's words. */
static void accepts_json(const struct kind_column *column, char *out, size_t size)
{
    switch (column->type) {
    case KIND_YES_NO:
        snprintf(out, size, "true or false");
        break;
    case KIND_DAYS:
        snprintf(out, size, "an array of days like [\"mon\", \"tue\"]");
        break;
    case KIND_NUMBERS:
        snprintf(out, size,
                 column->above ? "an array of 1 to 64 numbers, each above %.10g, at most %.10g"
                               : "an array of 1 to 64 numbers, each from %.10g to %.10g",
                 column->low, column->high);
        break;
    case KIND_ID:
    case KIND_REF:
    case KIND_TEXT:
    case KIND_NUMBER:
    case KIND_WHOLE:
    case KIND_CHOICE:
    case KIND_DATE:
    case KIND_MOMENT:
    case KIND_EDGE:
        kind_accepts(column, out, size);
        break;
    }
}

static const char *number_text(const json_t *value, struct record_texts *texts)
{
    char text[40];
    if (json_is_integer(value))
        snprintf(text, sizeof text, "%lld", (long long)json_integer_value(value));
    else
        number_format(json_real_value(value), text, sizeof text);
    return keep(texts, text, strlen(text));
}

/* Members with single spaces between, as CSV has them; NULL when one is of another type. */
static const char *list_text(const json_t *array, bool numbers, struct record_texts *texts)
{
    char text[2048];
    size_t used = 0;
    for (size_t i = 0; i < json_array_size(array); i++) {
        const json_t *member = json_array_get(array, i);
        const char *one = json_string_value(member);
        if (numbers)
            one = json_is_number(member) ? number_text(member, texts) : NULL;
        if (!one || strchr(one, ' ') || used + strlen(one) + 2 > sizeof text)
            return NULL;
        used += (size_t)snprintf(text + used, sizeof text - used, "%s%s", i ? " " : "", one);
    }
    return keep(texts, text, used);
}

/* The value as CSV would write it; NULL when it is of another type than the column takes. */
static const char *value_text(const struct kind_column *column, const json_t *value,
                              struct record_texts *texts)
{
    switch (column->type) {
    case KIND_NUMBER:
    case KIND_WHOLE:
        return json_is_number(value) ? number_text(value, texts) : NULL;
    case KIND_YES_NO:
        return json_is_boolean(value) ? (json_is_true(value) ? "yes" : "no") : NULL;
    case KIND_NUMBERS:
    case KIND_DAYS:
        return json_is_array(value) ? list_text(value, column->type == KIND_NUMBERS, texts) : NULL;
    case KIND_ID:
    case KIND_REF:
    case KIND_TEXT:
    case KIND_CHOICE:
    case KIND_DATE:
    case KIND_MOMENT:
    case KIND_EDGE:
        return json_is_string(value)
                   ? keep(texts, json_string_value(value), json_string_length(value))
                   : NULL;
    }
    return NULL;
}

static int read_value(const struct kind_column *column, const json_t *value,
                      struct record_texts *texts, struct kind_value *out,
                      struct record_fault *fault)
{
    struct kind_fault why;
    const char *text = !value || json_is_null(value) ? "" : value_text(column, value, texts);
    if (text && kind_parse(column, text, out, &why) == 0)
        return 0;
    char given[80] = "nothing";
    char accepted[200];
    if (value && !json_is_null(value))
        show(value, given, sizeof given);
    accepts_json(column, accepted, sizeof accepted);
    fail(fault, column->name, given, accepted);
    if (column->type == KIND_NUMBER || column->type == KIND_WHOLE || column->type == KIND_NUMBERS) {
        fault->least = column->low;
        fault->most = column->high;
    }
    return -1;
}

/* A column, or the twin in epoch seconds of a moment. */
static bool is_known(const struct kind *kind, const char *name)
{
    for (size_t i = 0; i < kind->column_count; i++) {
        const struct kind_column *column = &kind->columns[i];
        size_t length = strlen(column->name);
        if (strcmp(column->name, name) == 0)
            return true;
        if (column->type == KIND_MOMENT && strncmp(name, column->name, length) == 0 &&
            strcmp(name + length, "_s") == 0)
            return true;
    }
    return strcmp(name, "self") == 0 || strcmp(name, "etag") == 0;
}

static int fail_unknown(const struct kind *kind, const char *name, struct record_fault *fault)
{
    char given[80];
    char accepted[400] = "one of:";
    snprintf(given, sizeof given, "the name '%.40s'", name);
    for (size_t i = 0; i < kind->column_count; i++) {
        size_t used = strlen(accepted);
        snprintf(accepted + used, sizeof accepted - used, " %s", kind->columns[i].name);
    }
    accepted[sizeof fault->accepted - 1] = '\0';
    fail(fault, "", given, accepted);
    snprintf(fault->field, sizeof fault->field, "%.40s", name);
    return -1;
}

/* Twins are for reading; one that says something else than its moment is a slip. */
static int check_twins(const json_t *object, const struct kind_row *row, struct record_fault *fault)
{
    char twin[64];
    for (size_t i = 0; i < row->kind->column_count; i++) {
        const struct kind_column *column = &row->kind->columns[i];
        if (column->type != KIND_MOMENT)
            continue;
        snprintf(twin, sizeof twin, "%s_s", column->name);
        const json_t *value = json_object_get(object, twin);
        bool same = !value || (json_is_null(value) && !row->values[i].given) ||
                    (json_is_integer(value) && row->values[i].given &&
                     json_integer_value(value) == row->values[i].whole);
        if (same)
            continue;
        char given[80];
        char accepted[120];
        show(value, given, sizeof given);
        snprintf(accepted, sizeof accepted, "the same moment as %s, or no such member",
                 column->name);
        return fail(fault, twin, given, accepted);
    }
    return 0;
}

int record_json_read(json_t *object, const struct kind *kind, struct record_texts *texts,
                     struct kind_row *row, struct record_fault *fault)
{
    char given[80];
    *row = (struct kind_row){.kind = kind};
    if (!json_is_object(object)) {
        show(object, given, sizeof given);
        return fail(fault, "", given, "an object");
    }
    for (void *at = json_object_iter(object); at; at = json_object_iter_next(object, at))
        if (!is_known(kind, json_object_iter_key(at)))
            return fail_unknown(kind, json_object_iter_key(at), fault);
    for (size_t i = 0; i < kind->column_count; i++)
        if (read_value(&kind->columns[i], json_object_get(object, kind->columns[i].name), texts,
                       &row->values[i], fault))
            return -1;
    return check_twins(object, row, fault);
}

/* --- keys --------------------------------------------------------------------------------- */

int record_key_read(const char *text, const struct kind *kind, struct record_texts *texts,
                    struct store_key *key, struct record_fault *fault)
{
    size_t columns = store_key_columns(kind);
    *key = (struct store_key){.kind = kind};
    for (;;) {
        struct kind_fault why;
        size_t length = strcspn(text, ",");
        const struct kind_column *column = store_key_column(kind, key->count);
        const char *part = column ? keep(texts, text, length) : NULL;
        if (!part)
            return fail(fault, "path", "a longer key", "fewer commas");
        if (kind_parse(column, part, &key->values[key->count], &why)) {
            fail(fault, "path", why.text, "");
            snprintf(fault->text, sizeof fault->text, "key %s: %.350s", why.column, why.text);
            fault->given[0] = '\0';
            return -1;
        }
        key->count++;
        if (text[length] == '\0')
            break;
        text += length + 1;
    }
    return key->count <= columns ? 0 : -1;
}

struct store_key record_key_of(const struct kind_row *row)
{
    struct store_key key = {.kind = row->kind};
    for (size_t i = 0; i < row->kind->column_count; i++)
        if (row->kind->columns[i].key)
            key.values[key.count++] = row->values[i];
    return key;
}

void record_key_print(const struct kind_row *row, char out[RECORD_KEY_SIZE])
{
    size_t used = 0;
    const char *comma = "";
    out[0] = '\0';
    for (size_t i = 0; i < row->kind->column_count && used < RECORD_KEY_SIZE; i++) {
        const struct kind_column *column = &row->kind->columns[i];
        const struct kind_value *value = &row->values[i];
        char text[CIVIL_TEXT + 32] = "";
        const char *part = value->given ? value->text : "";
        if (!column->key)
            continue;
        if (value->given && column->type == KIND_MOMENT)
            civil_format_rfc3339(value->whole, 0, text);
        else if (value->given && column->type == KIND_NUMBER)
            number_format(value->number, text, sizeof text);
        used += (size_t)snprintf(out + used, RECORD_KEY_SIZE - used, "%s%s", comma,
                                 text[0] ? text : part);
        comma = ",";
    }
}
