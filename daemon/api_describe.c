/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "api_describe.h"

#include <jansson.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "kind.h"

/* json_pack of constants never fails but for memory, which the end checks. */
struct describing {
    json_t *paths, *schemas;
    bool failed;
};

static void put(struct describing *d, json_t *object, const char *name, json_t *value)
{
    if (json_object_set_new(object, name, value) != 0)
        d->failed = true;
}

/* --- columns ------------------------------------------------------------------------------ */

static json_t *words(const char *list)
{
    json_t *array = json_array();
    while (list && *list) {
        size_t length = strcspn(list, " ");
        json_array_append_new(array, json_stringn(list, length));
        list += length + (list[length] == ' ');
    }
    return array;
}

static json_t *number_schema(const struct kind_column *column)
{
    return json_pack("{s:s, s:f, s:f}", "type", column->type == KIND_WHOLE ? "integer" : "number",
                     column->above ? "exclusiveMinimum" : "minimum", column->low, "maximum",
                     column->high);
}

static json_t *column_schema(const struct kind_column *column)
{
    switch (column->type) {
    case KIND_ID:
    case KIND_REF:
        return json_pack("{s:s, s:s}", "type", "string", "pattern", "^[a-z0-9-]{1,40}$");
    case KIND_TEXT:
        return json_pack("{s:s, s:i}", "type", "string", "maxLength", 200);
    case KIND_NUMBER:
    case KIND_WHOLE:
        return number_schema(column);
    case KIND_NUMBERS:
        return json_pack("{s:s, s:i, s:i, s:o}", "type", "array", "minItems", 1, "maxItems",
                         BENCH_REPLICATES_MAX, "items", number_schema(column));
    case KIND_YES_NO:
        return json_pack("{s:s}", "type", "boolean");
    case KIND_CHOICE:
        return json_pack("{s:s, s:o}", "type", "string", "enum", words(column->choices));
    case KIND_DATE:
        return json_pack("{s:s, s:s}", "type", "string", "format", "date");
    case KIND_MOMENT:
        return json_pack("{s:s, s:s}", "type", "string", "format", "date-time");
    case KIND_EDGE:
        return json_pack("{s:s, s:s}", "type", "string", "pattern",
                         "^([0-9]{1,2}:[0-9]{2}|(sunrise|sunset)([+-][0-9]{1,2}:[0-9]{2})?)$");
    case KIND_DAYS:
        return json_pack("{s:s, s:{s:s, s:o}}", "type", "array", "items", "type", "string", "enum",
                         words("mon tue wed thu fri sat sun"));
    }
    return NULL;
}

/* What is not required may be null. */
static json_t *or_null(json_t *schema, bool required)
{
    return required ? schema : json_pack("{s:[o, {s:s}]}", "anyOf", schema, "type", "null");
}

static void put_column(struct describing *d, json_t *properties, const struct kind_column *column)
{
    char twin[64];
    put(d, properties, column->name, or_null(column_schema(column), column->required));
    if (column->type != KIND_MOMENT)
        return;
    snprintf(twin, sizeof twin, "%s_s", column->name);
    put(d, properties, twin, or_null(json_pack("{s:s}", "type", "integer"), column->required));
}

/* --- kinds -------------------------------------------------------------------------------- */

static json_t *record_schema(struct describing *d, const struct kind *kind, bool as_given)
{
    json_t *properties = json_object();
    json_t *required = json_array();
    for (size_t i = 0; i < kind->column_count; i++) {
        const struct kind_column *column = &kind->columns[i];
        /* A report by machine need not say how it knows. */
        bool left_out = kind->id == KIND_RUNS && strcmp(column->name, "state") == 0;
        put_column(d, properties, column);
        if (!as_given || (column->required && !left_out))
            json_array_append_new(required, json_string(column->name));
    }
    put(d, properties, "self", json_pack("{s:s}", "type", "string"));
    put(d, properties, "etag", json_pack("{s:s}", "type", "string"));
    return json_pack("{s:s, s:o, s:b, s:o}", "type", "object", "required", required,
                     "additionalProperties", 0, "properties", properties);
}

/* text with every KIND replaced; malloc'ed. */
static char *named(const char *text, const char *stem)
{
    static const char mark[] = "KIND";
    char *out = NULL;
    size_t length = 0;
    FILE *stream = open_memstream(&out, &length);
    if (!stream)
        return NULL;
    for (const char *at; (at = strstr(text, mark)); text = at + sizeof mark - 1)
        fprintf(stream, "%.*s%s", (int)(at - text), text, stem);
    fputs(text, stream);
    if (fclose(stream) == 0)
        return out;
    free(out);
    return NULL;
}

/* What the kinds add to one object of the document, as text: parsing it for each kind only to print
 * it again would take longer than all else at start. */
struct addition {
    const char *mark; /* a member that stands in its place until the document is printed */
    char *template;   /* with KIND in it, from the document */
    FILE *out;
    char *text;
    size_t length;
};

/* "{...}" without its braces. */
static void add_members(struct describing *d, struct addition *addition, const char *stem)
{
    char *text = named(addition->template, stem);
    size_t length = text ? strlen(text) : 0;
    if (length < 3)
        d->failed = true;
    else
        fprintf(addition->out, "%s%.*s", ftell(addition->out) > 0 ? "," : "", (int)length - 2,
                text + 1);
    free(text);
}

static void put_kind(struct describing *d, const struct kind *kind, struct addition *paths,
                     struct addition *schemas)
{
    char name[96];
    snprintf(name, sizeof name, "%s_given", kind->stem);
    put(d, d->schemas, kind->stem, record_schema(d, kind, false));
    put(d, d->schemas, name, record_schema(d, kind, true));
    add_members(d, paths, kind->stem);
    add_members(d, schemas, kind->stem);
}

static int open_addition(struct addition *addition, const json_t *template, const char *member)
{
    char *text = json_dumps(json_object_get(template, member), JSON_COMPACT);
    addition->template = text;
    addition->out = text ? open_memstream(&addition->text, &addition->length) : NULL;
    return addition->out ? 0 : -1;
}

static int close_addition(struct addition *addition)
{
    int result = addition->out ? fclose(addition->out) : -1;
    addition->out = NULL;
    return result;
}

/* text with the mark's member replaced; takes text. */
static char *insert_take(char *text, const struct addition *addition)
{
    char *out = NULL;
    const char *at = text ? strstr(text, addition->mark) : NULL;
    if (at && asprintf(&out, "%.*s%s%s", (int)(at - text), text, addition->text,
                       at + strlen(addition->mark)) < 0)
        out = NULL;
    free(text);
    return out;
}

static char *complete(json_t *document)
{
    static const char name[] = "x-each-kind";
    struct describing d = {.paths = json_object_get(document, "paths"),
                           .schemas =
                               json_object_get(json_object_get(document, "components"), "schemas")};
    struct addition paths = {.mark = "\"@paths\":null"};
    struct addition schemas = {.mark = "\"@schemas\":null"};
    const json_t *template = json_object_get(document, name);
    char *text = NULL;
    if (open_addition(&paths, template, "paths") != 0 ||
        open_addition(&schemas, template, "schemas") != 0)
        goto end;
    for (int id = 0; id < KIND_COUNT && !d.failed; id++)
        put_kind(&d, kind_of((enum kind_id)id), &paths, &schemas);
    put(&d, d.paths, "@paths", json_null());
    put(&d, d.schemas, "@schemas", json_null());
    json_object_del(document, name);
    if (close_addition(&paths) != 0 || close_addition(&schemas) != 0 || d.failed)
        goto end;
    text = json_dumps(document, JSON_COMPACT | JSON_REAL_PRECISION(15));
    text = insert_take(insert_take(text, &paths), &schemas);
end:
    close_addition(&paths);
    close_addition(&schemas);
    free(paths.text);
    free(schemas.text);
    free(paths.template);
    free(schemas.template);
    return text;
}

char *api_describe(const char *path, struct error *error)
{
    json_error_t why;
    json_t *document = json_load_file(path, JSON_REJECT_DUPLICATES, &why);
    if (!document) {
        error_set(error, "%s: line %d: %s", path, why.line, why.text);
        return NULL;
    }
    char *text = complete(document);
    json_decref(document);
    if (!text)
        error_set(error, "%s: not the description of the API, or out of memory", path);
    return text;
}
