/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "import.h"

#include <dirent.h>
#include <errno.h>
#include <search.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "csv.h"

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
    int result = store_put(in->store, &row, &change, &fault, in->error);
    if (result == 1)
        return fail_row(in, fields->line, &fault);
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
    if (store_windows_mark(in->store, &mark, in->error) || take_rows(in))
        return -1;
    return store_windows_sweep(in->store, mark, removed, in->error);
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
        result = kind->id == KIND_WINDOWS ? take_windows(&in, &removed) : take_rows(&in);
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
