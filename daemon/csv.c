/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "csv.h"

#include <errno.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "utf8.h"

struct csv {
    char *name;
    char *bytes; /* fields are cut out in place */
    char *at;
    char *end;
    size_t line;
    struct csv_row header;
};

/* --- the file ----------------------------------------------------------------------------- */

static char *read_file(const char *path, size_t *length, struct error *error)
{
    char *bytes = NULL;
    size_t size = 0;
    size_t got = 0;
    FILE *file = fopen(path, "rb");
    if (!file) {
        error_set(error, "%s: %s", path, strerror(errno));
        return NULL;
    }
    do {
        size = size ? 2 * size : 65536;
        char *larger = realloc(bytes, size);
        if (!larger) {
            error_set(error, "%s: no memory", path);
            goto fail;
        }
        bytes = larger;
        got += fread(bytes + got, 1, size - got, file);
        if (ferror(file)) {
            error_set(error, "%s: %s", path, strerror(errno));
            goto fail;
        }
    } while (got == size && got <= CSV_BYTES_MAX);
    if (got > CSV_BYTES_MAX) {
        error_set(error, "%s: larger than %zu bytes, the most accepted", path, CSV_BYTES_MAX);
        goto fail;
    }
    fclose(file);
    *length = got;
    return bytes;
fail:
    fclose(file);
    free(bytes);
    return NULL;
}

static size_t line_of(const char *bytes, size_t offset)
{
    size_t line = 1;
    for (size_t i = 0; i < offset; i++)
        line += bytes[i] == '\n';
    return line;
}

static int check_bytes(const struct csv *csv, size_t length, struct error *error)
{
    size_t bad = utf8_check(csv->bytes, length);
    if (bad < length)
        return error_set(error, "%s:%zu: not UTF-8 text; save the file as 'CSV UTF-8'", csv->name,
                         line_of(csv->bytes, bad));
    const char *nul = memchr(csv->bytes, '\0', length);
    if (nul)
        return error_set(error, "%s:%zu: a NUL byte; accepted is UTF-8 text", csv->name,
                         line_of(csv->bytes, (size_t)(nul - csv->bytes)));
    return 0;
}

/* --- rows --------------------------------------------------------------------------------- */

/* At a line's end: steps over LF or CRLF. */
static bool take_line_end(struct csv *csv)
{
    if (csv->at < csv->end && *csv->at == '\n')
        csv->at++;
    else if (csv->end - csv->at >= 2 && csv->at[0] == '\r' && csv->at[1] == '\n')
        csv->at += 2;
    else
        return false;
    csv->line++;
    return true;
}

/* From behind the opening quote to behind the closing one; *length of the text put at start. */
static int take_quoted(struct csv *csv, char *start, size_t *length, struct error *error)
{
    size_t opened = csv->line;
    char *to = start;
    for (;; csv->at++) {
        if (csv->at == csv->end)
            return error_set(error, "%s:%zu: a quote opened here is never closed", csv->name,
                             opened);
        if (*csv->at == '"') {
            if (csv->end - csv->at < 2 || csv->at[1] != '"')
                break;
            csv->at++; /* "" stands for one quote */
        }
        csv->line += *csv->at == '\n';
        *to++ = *csv->at;
    }
    csv->at++;
    *length = (size_t)(to - start);
    return 0;
}

static int take_plain(struct csv *csv, size_t *length, struct error *error)
{
    const char *start = csv->at;
    while (csv->at < csv->end && *csv->at != ',' && *csv->at != '\n' && *csv->at != '\r') {
        if (*csv->at == '"')
            return error_set(error,
                             "%s:%zu: a quote inside a field; a field with quotes is quoted as a "
                             "whole, its quotes doubled",
                             csv->name, csv->line);
        csv->at++;
    }
    *length = (size_t)(csv->at - start);
    return 0;
}

/* One field and what ends it: *last tells whether the row ended with it. */
static int take_field(struct csv *csv, char **field, bool *last, struct error *error)
{
    size_t length = 0;
    bool quoted = csv->at < csv->end && *csv->at == '"';
    char *start = csv->at + quoted;
    size_t line = csv->line;
    csv->at += quoted;
    if (quoted ? take_quoted(csv, start, &length, error) : take_plain(csv, &length, error))
        return -1;
    if (length > CSV_FIELD_MAX)
        return error_set(error, "%s:%zu: a field of %zu bytes, accepted are %d at most", csv->name,
                         line, length, CSV_FIELD_MAX);
    *last = true;
    char *stop = start + length;
    if (csv->at < csv->end && *csv->at == ',') {
        csv->at++;
        *last = false;
    } else if (csv->at < csv->end && !take_line_end(csv)) {
        if (quoted)
            return error_set(error, "%s:%zu: text after a closing quote", csv->name, csv->line);
        return error_set(error,
                         "%s:%zu: a carriage return without a line feed; lines end with LF "
                         "or CRLF",
                         csv->name, csv->line);
    }
    *stop = '\0'; /* the buffer has a byte to spare at its end */
    *field = start;
    return 0;
}

static int take_row(struct csv *csv, struct csv_row *row, struct error *error)
{
    bool last = false;
    row->line = csv->line;
    row->count = 0;
    while (!last) {
        if (row->count == CSV_COLUMNS_MAX)
            return error_set(error, "%s:%zu: more than %d fields", csv->name, row->line,
                             CSV_COLUMNS_MAX);
        if (take_field(csv, &row->fields[row->count], &last, error))
            return -1;
        row->count++;
    }
    return 0;
}

/* Spreadsheets leave such rows behind the last one. */
static bool is_empty(const struct csv_row *row)
{
    for (size_t i = 0; i < row->count; i++)
        if (row->fields[i][0] != '\0')
            return false;
    return true;
}

static int take_filled_row(struct csv *csv, struct csv_row *row, struct error *error)
{
    do {
        if (csv->at == csv->end)
            return 0;
        if (take_row(csv, row, error))
            return -1;
    } while (is_empty(row));
    return 1;
}

int csv_next(struct csv *csv, struct csv_row *row, struct error *error)
{
    int got = take_filled_row(csv, row, error);
    if (got != 1 || row->count == csv->header.count)
        return got;
    return error_set(error, "%s:%zu: %zu fields, the header has %zu%s", csv->name, row->line,
                     row->count, csv->header.count,
                     row->count > csv->header.count
                         ? " (a decimal comma, or a comma in a text that is not quoted?)"
                         : "");
}

static int take_header(struct csv *csv, struct error *error)
{
    int got = take_filled_row(csv, &csv->header, error);
    if (got < 0)
        return -1;
    if (got == 0)
        return error_set(error, "%s:1: empty; the first line names the columns", csv->name);
    const char *only = csv->header.fields[0];
    if (csv->header.count == 1 && (strchr(only, ';') || strchr(only, '\t')))
        return error_set(error,
                         "%s:%zu: columns separated by %s; accepted are commas, and decimals "
                         "with a point",
                         csv->name, csv->header.line, strchr(only, ';') ? "semicolons" : "tabs");
    return 0;
}

/* --- opening ------------------------------------------------------------------------------ */

/* Takes bytes, which has room for one more. */
static struct csv *open_take(const char *name, char *bytes, size_t length, struct error *error)
{
    struct csv *csv = calloc(1, sizeof *csv);
    if (!csv || !(csv->name = strdup(name))) {
        error_set(error, "%s: no memory", name);
        free(bytes);
        free(csv);
        return NULL;
    }
    csv->bytes = bytes;
    csv->at = bytes;
    csv->end = bytes + length;
    csv->line = 1;
    *csv->end = '\0';
    if (length >= 3 && memcmp(bytes, "\xef\xbb\xbf", 3) == 0)
        csv->at += 3;
    if (check_bytes(csv, length, error) || take_header(csv, error)) {
        csv_close(csv);
        return NULL;
    }
    return csv;
}

struct csv *csv_open_bytes(const char *name, const char *bytes, size_t length, struct error *error)
{
    char *copy = malloc(length + 1);
    if (!copy) {
        error_set(error, "%s: no memory", name);
        return NULL;
    }
    memcpy(copy, bytes, length);
    return open_take(name, copy, length, error);
}

struct csv *csv_open(const char *path, struct error *error)
{
    size_t length = 0;
    char *bytes = read_file(path, &length, error);
    /* read_file stops only when it had room left */
    return bytes ? open_take(path, bytes, length, error) : NULL;
}

void csv_close(struct csv *csv)
{
    if (!csv)
        return;
    free(csv->name);
    free(csv->bytes);
    free(csv);
}

const struct csv_row *csv_header(const struct csv *csv)
{
    return &csv->header;
}
