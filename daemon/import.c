/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "import.h"

#include <dirent.h>
#include <errno.h>
#include <limits.h>
#include <search.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "clock.h"
#include "csv.h"
#include "record_json.h"
#include "store_access.h"

#define PATH_SIZE 4096

/* One file on its way in. */
struct import {
    struct store *store;
    const char *path;
    const struct kind *kind;
    struct csv *csv;
    size_t field_of[KIND_COLUMNS_MAX]; /* field of each column; CSV_COLUMNS_MAX: not in the file */
    void *keys;                        /* tsearch tree of struct seen */
    size_t rows, added, changed;
    struct error *error;
};

/* The audit record's moments from here are in UTC, which needs no configuration. */
static const struct civil_offset utc_offsets[] = {{0, 0}};
static const struct civil_zone utc = {utc_offsets, 1};

struct seen {
    size_t line;
    char key[]; /* the key's values, a line feed after each */
};

/* --- the header row ----------------------------------------------------------------------- */

static int fail_column(const struct import *in, const char *column, const char *what)
{
    return error_set(in->error, "%s:%zu: column %.60s: %s", in->path, csv_header(in->csv)->line,
                     column, what);
}

static int fail_unknown(const struct import *in, const char *column)
{
    char accepted[400] = "unknown, accepted are:";
    for (size_t i = 0; i < in->kind->column_count; i++) {
        size_t used = strlen(accepted);
        snprintf(accepted + used, sizeof accepted - used, " %s", in->kind->columns[i].name);
    }
    return fail_column(in, column[0] ? column : "(without a name)", accepted);
}

static int match_columns(struct import *in)
{
    const struct csv_row *header = csv_header(in->csv);
    for (size_t c = 0; c < in->kind->column_count; c++)
        in->field_of[c] = CSV_COLUMNS_MAX;
    for (size_t f = 0; f < header->count; f++) {
        size_t c = 0;
        while (c < in->kind->column_count &&
               strcmp(in->kind->columns[c].name, header->fields[f]) != 0)
            c++;
        if (c == in->kind->column_count)
            return fail_unknown(in, header->fields[f]);
        if (in->field_of[c] != CSV_COLUMNS_MAX)
            return fail_column(in, header->fields[f], "given twice, accepted is once");
        in->field_of[c] = f;
    }
    for (size_t c = 0; c < in->kind->column_count; c++)
        if (in->kind->columns[c].required && in->field_of[c] == CSV_COLUMNS_MAX)
            return fail_column(in, in->kind->columns[c].name, "missing, it is needed");
    return 0;
}

/* --- rows --------------------------------------------------------------------------------- */

static int fail_row(const struct import *in, size_t line, const struct kind_fault *fault)
{
    bool named = fault->column[0] != '\0';
    return error_set(in->error, "%s:%zu: %s%s%s%s", in->path, line, named ? "column " : "",
                     fault->column, named ? ": " : "", fault->text);
}

static int compare_seen(const void *a, const void *b)
{
    const struct seen *one = a;
    const struct seen *other = b;
    return strcmp(one->key, other->key);
}

static size_t key_length(const struct kind_row *row)
{
    size_t length = 1;
    for (size_t c = 0; c < row->kind->column_count; c++)
        if (row->kind->columns[c].key)
            length += strlen(kind_text(row, row->kind->columns[c].name)) + 1;
    return length;
}

/* Moments that differ in writing only (another offset) are the same key. */
static void write_key(const struct kind_row *row, char *key, size_t size)
{
    size_t used = 0;
    for (size_t c = 0; c < row->kind->column_count && used < size; c++) {
        if (!row->kind->columns[c].key)
            continue;
        enum kind_type type = row->kind->columns[c].type;
        int length =
            type == KIND_MOMENT || type == KIND_WHOLE
                ? snprintf(key + used, size - used, "%lld\n", (long long)row->values[c].whole)
                : snprintf(key + used, size - used, "%s\n", row->values[c].text);
        used += length > 0 ? (size_t)length : 0;
    }
}

static int check_repeated(struct import *in, const struct kind_row *row, size_t line)
{
    size_t size = key_length(row);
    struct seen *seen = malloc(sizeof *seen + size);
    if (!seen)
        return error_set(in->error, "%s: no memory", in->path);
    seen->line = line;
    seen->key[0] = '\0';
    write_key(row, seen->key, size);
    struct seen **found = tsearch(seen, &in->keys, compare_seen);
    if (found && *found == seen)
        return 0;
    size_t first = found ? (*found)->line : 0;
    free(seen);
    if (!found)
        return error_set(in->error, "%s: no memory", in->path);
    return error_set(in->error, "%s:%zu: the same record as in line %zu, accepted is each once",
                     in->path, line, first);
}

/* --- the audit record --------------------------------------------------------------------- */

/* Months of hours would bury what people want to find; their file is one line of it. */
static bool is_noted_by_row(const struct kind *kind)
{
    return kind->id != KIND_HOURS && kind->id != KIND_WINDOWS;
}

static int take_text(void *context, const struct kind_row *row)
{
    char **text = context;
    json_t *object = record_json_of(row, &utc, true);
    *text = object ? json_dumps(object, JSON_COMPACT | JSON_REAL_PRECISION(15)) : NULL;
    json_decref(object);
    return *text ? 1 : -2;
}

/* The row's record as it stands in the store, malloc'ed; NULL when it is not there. */
static int read_record(const struct import *in, const struct kind_row *row, char **text)
{
    const struct store_key key = record_key_of(row);
    *text = NULL;
    int got = store_record_each(in->store, &key, NULL, 1, take_text, text, in->error);
    return got == -2 ? error_set(in->error, "%s: no memory", in->path) : got < 0 ? -1 : 0;
}

static int take_item(void *context, const struct kind_row *row)
{
    return json_array_append_new(context, record_json_of(row, &utc, true)) == 0 ? 0 : -2;
}

/* All records of a kind as one text, malloc'ed. */
static int read_all(const struct import *in, char **text)
{
    const struct store_key all = {.kind = in->kind};
    json_t *items = json_array();
    int got =
        items ? store_record_each(in->store, &all, NULL, INT_MAX, take_item, items, in->error) : -2;
    *text = got >= 0 ? json_dumps(items, JSON_COMPACT | JSON_REAL_PRECISION(15)) : NULL;
    json_decref(items);
    return got == -1 ? -1 : *text ? 0 : error_set(in->error, "%s: no memory", in->path);
}

static int note(const struct import *in, const char *action, const char *what, const char *before,
                const char *after)
{
    const struct store_audit line = {clock_now_s(), "command line", action, what, before, after};
    return store_audit_add(in->store, &line, in->error);
}

static int note_row(const struct import *in, const struct kind_row *row, enum store_change change,
                    const char *before)
{
    char key[RECORD_KEY_SIZE];
    char what[RECORD_KEY_SIZE + 48];
    char *after = NULL;
    if (change == STORE_SAME || read_record(in, row, &after) != 0)
        return change == STORE_SAME ? 0 : -1;
    record_key_print(row, key);
    snprintf(what, sizeof what, "%s/%s", row->kind->stem, key);
    int result = note(in, change == STORE_ADDED ? "add" : "change", what,
                      change == STORE_ADDED ? NULL : before, after);
    free(after);
    return result;
}

/* What a file did as a whole, where its rows are not noted one by one. before: of windows. */
static int note_file(const struct import *in, size_t removed, const char *before)
{
    char counts[128];
    char *after = NULL;
    if (in->added + in->changed + removed == 0)
        return 0;
    if (before) {
        int result = read_all(in, &after);
        if (result == 0)
            result = strcmp(before, "[]") == 0 ? note(in, "add", in->kind->stem, NULL, after)
                                               : note(in, "change", in->kind->stem, before, after);
        free(after);
        return result;
    }
    snprintf(counts, sizeof counts, "{\"rows\":%zu,\"added\":%zu,\"changed\":%zu}", in->rows,
             in->added, in->changed);
    return note(in, "add", in->kind->stem, NULL, counts);
}

/* --- rows into the store ------------------------------------------------------------------ */

static int put_row(struct import *in, const struct kind_row *row, size_t line,
                   enum store_change *change)
{
    struct kind_fault fault;
    int result = store_put(in->store, row, change, &fault, in->error);
    return result == 1 ? fail_row(in, line, &fault) : result;
}

static int put_and_note(struct import *in, const struct kind_row *row, size_t line,
                        enum store_change *change)
{
    char *before = NULL;
    if (!is_noted_by_row(in->kind))
        return put_row(in, row, line, change);
    int result = read_record(in, row, &before);
    if (result == 0)
        result = put_row(in, row, line, change);
    if (result == 0)
        result = note_row(in, row, *change, before);
    free(before);
    return result;
}

static int take_row(struct import *in, const struct csv_row *fields)
{
    struct kind_fault fault;
    struct kind_row row = {.kind = in->kind};
    enum store_change change = STORE_SAME;
    for (size_t c = 0; c < in->kind->column_count; c++) {
        const char *text =
            in->field_of[c] == CSV_COLUMNS_MAX ? "" : fields->fields[in->field_of[c]];
        if (kind_parse(&in->kind->columns[c], text, &row.values[c], &fault))
            return fail_row(in, fields->line, &fault);
    }
    if (check_repeated(in, &row, fields->line))
        return -1;
    int result = put_and_note(in, &row, fields->line, &change);
    in->rows++;
    in->added += change == STORE_ADDED;
    in->changed += change == STORE_CHANGED;
    return result;
}

static int take_rows(struct import *in)
{
    struct csv_row fields;
    int got = 0;
    while ((got = csv_next(in->csv, &fields, in->error)) == 1)
        if (take_row(in, &fields))
            return -1;
    return got;
}

static int take_windows(struct import *in, size_t *removed)
{
    int64_t mark = 0;
    char *before = NULL;
    int result = read_all(in, &before);
    if (result == 0)
        result = store_windows_mark(in->store, &mark, in->error);
    if (result == 0)
        result = take_rows(in);
    if (result == 0)
        result = store_windows_sweep(in->store, mark, removed, in->error);
    if (result == 0)
        result = note_file(in, *removed, before);
    free(before);
    return result;
}

static int take_hours(struct import *in)
{
    int result = take_rows(in);
    return result == 0 ? note_file(in, 0, NULL) : result;
}

/* --- files -------------------------------------------------------------------------------- */

static void write_report(const struct import *in, size_t removed, FILE *report)
{
    fprintf(report, "%s.csv: %zu rows, %zu added, %zu changed", in->kind->stem, in->rows, in->added,
            in->changed);
    if (removed > 0)
        fprintf(report, ", %zu removed", removed);
    fputc('\n', report);
}

static int take_file(struct store *store, const struct kind *kind, const char *path, FILE *report,
                     struct error *error)
{
    size_t removed = 0;
    struct import in = {.store = store, .path = path, .kind = kind, .error = error};
    in.csv = csv_open(path, error);
    if (!in.csv)
        return -1;
    int result = match_columns(&in);
    if (result == 0)
        result = kind->id == KIND_WINDOWS ? take_windows(&in, &removed)
                 : kind->id == KIND_HOURS ? take_hours(&in)
                                          : take_rows(&in);
    if (result == 0)
        write_report(&in, removed, report);
    tdestroy(in.keys, free);
    csv_close(in.csv);
    return result;
}

static const struct kind *kind_of_file(const char *path)
{
    const char *slash = strrchr(path, '/');
    const char *stem = slash ? slash + 1 : path;
    size_t length = strlen(stem);
    if (length < 4 || strcmp(stem + length - 4, ".csv") != 0)
        return NULL;
    return kind_named(stem, length - 4);
}

static int fail_name(const char *path, struct error *error)
{
    char accepted[300] = "";
    for (int i = 0; i < KIND_COUNT; i++) {
        size_t used = strlen(accepted);
        snprintf(accepted + used, sizeof accepted - used, " %s.csv",
                 kind_of((enum kind_id)i)->stem);
    }
    return error_set(error,
                     "%.150s: not a name that says what it holds, accepted are a folder or"
                     "%s",
                     path, accepted);
}

/* Other CSV files of the folder are named, lest a slip in a name go unseen. */
static int report_others(const char *path, FILE *report, struct error *error)
{
    DIR *folder = opendir(path);
    if (!folder)
        return error_set(error, "%s: %s", path, strerror(errno));
    for (const struct dirent *entry = readdir(folder); entry; entry = readdir(folder)) {
        size_t length = strlen(entry->d_name);
        if (length > 4 && strcmp(entry->d_name + length - 4, ".csv") == 0 &&
            !kind_of_file(entry->d_name))
            fprintf(report, "%s: not one of perchd's files, left out\n", entry->d_name);
    }
    closedir(folder);
    return 0;
}

static int take_folder(struct store *store, const char *path, FILE *report, struct error *error)
{
    char file[PATH_SIZE];
    size_t files = 0;
    for (int i = 0; i < KIND_COUNT; i++) {
        const struct kind *kind = kind_of((enum kind_id)i);
        struct stat status;
        if ((size_t)snprintf(file, sizeof file, "%s/%s.csv", path, kind->stem) >= sizeof file)
            return error_set(error, "%.200s...: a path that is too long", path);
        if (stat(file, &status) != 0 && errno == ENOENT)
            continue;
        if (take_file(store, kind, file, report, error))
            return -1;
        files++;
    }
    return files > 0 ? report_others(path, report, error) : fail_name(path, error);
}

static int take_path(struct store *store, const char *path, FILE *report, struct error *error)
{
    struct stat status;
    if (stat(path, &status) != 0)
        return error_set(error, "%s: %s", path, strerror(errno));
    if (S_ISDIR(status.st_mode))
        return take_folder(store, path, report, error);
    const struct kind *kind = kind_of_file(path);
    return kind ? take_file(store, kind, path, report, error) : fail_name(path, error);
}

/* The report is held back until everything has landed. */
static int import_all(struct store *store, const char *path, FILE *report, struct error *error)
{
    if (store_begin(store, error))
        return -1;
    if (take_path(store, path, report, error) == 0 && store_check(store, error) == 0 &&
        store_commit(store, error) == 0)
        return 0;
    store_rollback(store);
    return -1;
}

int import_path(struct store *store, const char *path, FILE *report, struct error *error)
{
    char *lines = NULL;
    size_t length = 0;
    FILE *held = open_memstream(&lines, &length);
    if (!held)
        return error_set(error, "%s: no memory", path);
    int result = import_all(store, path, held, error);
    if (fclose(held) != 0 && result == 0)
        length = 0; /* landed, only the words are lost */
    if (result == 0 && report)
        fwrite(lines, 1, length, report);
    free(lines);
    return result;
}
