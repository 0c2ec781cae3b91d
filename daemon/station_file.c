/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "station_file.h"

#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "core/civil.h"
#include "csv.h"
#include "number.h"
#include "store_station.h"

/* At a time; what is left comes with the next poll. */
static const size_t CHUNK = 1024 * (size_t)1024;
static const size_t HEADER_MOST = 4096;
static const int64_t AHEAD_S = 300;         /* a station whose clock runs ahead by more */
static const double PERIOD_UNKNOWN_S = 300; /* of a first row [our choice] */

enum column { TIME, PERIOD, TEMPERATURE, HUMIDITY, DEWPOINT, WIND, RADIATION, RAIN, COLUMNS };

static const char *const NAMES[COLUMNS] = {
    "time",       "period_min", "temperature_c",  "humidity_pct",
    "dewpoint_c", "wind_m_s",   "radiation_w_m2", "rain_mm",
};

struct station_file {
    char *path;
    char *header; /* its line with the end, NULL before it was read */
    int at[COLUMNS];
    dev_t device;
    ino_t inode;
    off_t offset;   /* of the first byte not taken */
    off_t seen;     /* size at the last poll */
    size_t line;    /* lines taken */
    int64_t last_s; /* end of the row before; 0: none */
    double last_period_s;
};

/* What one chunk gave. */
struct taking {
    struct station_reading *readings;
    size_t count;
    bool changed; /* the store */
    size_t left_out;
    char why[200]; /* of the first row left out */
};

struct station_file *station_file_new(const char *path)
{
    struct station_file *file = calloc(1, sizeof *file);
    if (file)
        file->path = strdup(path);
    if (file && !file->path) {
        free(file);
        file = NULL;
    }
    return file;
}

void station_file_free(struct station_file *file)
{
    if (!file)
        return;
    free(file->header);
    free(file->path);
    free(file);
}

static void start_again(struct station_file *file)
{
    free(file->header);
    file->header = NULL;
    file->offset = 0;
    file->line = 0;
    file->last_s = 0;
    file->last_period_s = 0;
}

/* --- rows --------------------------------------------------------------------------------- */

static int find_columns(const struct csv_row *header, int at[COLUMNS], const char *path,
                        struct error *error)
{
    for (int c = 0; c < COLUMNS; c++)
        at[c] = -1;
    for (size_t i = 0; i < header->count; i++) {
        int c = 0;
        while (c < COLUMNS && strcmp(header->fields[i], NAMES[c]) != 0)
            c++;
        if (c == COLUMNS)
            return error_set(error,
                             "%s:1: column '%.60s' is not known; accepted are time, period_min, "
                             "temperature_c, humidity_pct, dewpoint_c, wind_m_s, radiation_w_m2, "
                             "rain_mm",
                             path, header->fields[i]);
        if (at[c] >= 0)
            return error_set(error, "%s:1: column '%s' stands there twice", path, NAMES[c]);
        at[c] = (int)i;
    }
    if (at[TIME] < 0)
        return error_set(error, "%s:1: no column 'time'", path);
    return 0;
}

/* NAN when the column is missing or empty; false when it is no number. */
static bool read_value(const struct csv_row *row, const int at[COLUMNS], enum column which,
                       double *out)
{
    *out = NAN;
    if (at[which] < 0 || row->fields[at[which]][0] == '\0')
        return true;
    const char *text = row->fields[at[which]];
    return number_parse(text, strlen(text), out);
}

static void leave_out(struct taking *t, size_t line, const char *column, const char *given,
                      const char *accepted)
{
    if (t->left_out++ == 0)
        snprintf(t->why, sizeof t->why, "line %zu, %s: '%.40s' given, accepted is %s", line, column,
                 given, accepted);
}

static double period_of(struct station_file *file, int64_t end_s, double period_min)
{
    int64_t since_s = end_s - file->last_s;
    if (!isnan(period_min))
        return period_min * 60;
    if (file->last_s > 0 && since_s >= 10 && since_s <= CIVIL_HOUR_S)
        return (double)since_s;
    return file->last_period_s > 0 ? file->last_period_s : PERIOD_UNKNOWN_S;
}

static void take_row(struct station_file *file, const struct csv_row *row, int64_t now_s,
                     struct taking *t)
{
    const int *at = file->at;
    size_t line = file->line;
    double values[COLUMNS];
    struct station_reading r;
    const char *time = row->fields[at[TIME]];
    if (civil_parse_rfc3339(time, &r.end_s) != STATUS_OK) {
        leave_out(t, line, "time", time, "a time with an offset, as 2026-07-01T06:00:00Z");
        return;
    }
    for (int c = PERIOD; c < COLUMNS; c++)
        if (!read_value(row, at, (enum column)c, &values[c])) {
            leave_out(t, line, NAMES[c], row->fields[at[c]], "a number or nothing");
            return;
        }
    if (r.end_s > now_s + AHEAD_S) {
        leave_out(t, line, "time", time, "a time that has come: set the station's clock");
        return;
    }
    r.period_s = period_of(file, r.end_s, values[PERIOD]);
    if (!(r.period_s >= 10 && r.period_s <= CIVIL_HOUR_S)) {
        leave_out(t, line, "period_min", row->fields[at[PERIOD]], "minutes from 1/6 to 60");
        return;
    }
    file->last_s = r.end_s;
    file->last_period_s = r.period_s;
    if (r.end_s < now_s - STATION_FILE_DAYS * (int64_t)CIVIL_DAY_S)
        return;
    r.temperature_c = values[TEMPERATURE];
    r.humidity_pct = values[HUMIDITY];
    r.dewpoint_c = values[DEWPOINT];
    r.wind_m_s = values[WIND];
    r.radiation_w_m2 = values[RADIATION];
    r.rain_mm = values[RAIN];
    t->readings[t->count++] = r;
}

/* One line, with its end: read together with the header, so that a broken one spoils no other. */
static void take_line(struct station_file *file, const char *text, size_t length, char *room,
                      int64_t now_s, struct taking *t)
{
    struct csv_row row;
    struct error why;
    size_t header = strlen(file->header);
    memcpy(room, file->header, header);
    memcpy(room + header, text, length);
    struct csv *csv = csv_open_bytes("station", room, header + length, &why);
    int got = csv ? csv_next(csv, &row, &why) : -1;
    file->line++;
    if (got == 1)
        take_row(file, &row, now_s, t);
    else if (got < 0 && t->left_out++ == 0)
        snprintf(t->why, sizeof t->why, "line %zu, %.180s", file->line, why.text);
    csv_close(csv);
}

/* --- the file ----------------------------------------------------------------------------- */

static size_t whole_lines(const char *bytes, size_t length, size_t *lines)
{
    size_t end = 0;
    *lines = 0;
    for (size_t i = 0; i < length; i++)
        if (bytes[i] == '\n') {
            end = i + 1;
            (*lines)++;
        }
    return end;
}

/* The header's line, once it is whole: 1, 0 not yet, -1. */
static int read_header(struct station_file *file, int fd, struct error *error)
{
    char text[4096 + 1];
    ssize_t length = pread(fd, text, HEADER_MOST, 0);
    if (length < 0)
        return error_set(error, "%s: %s", file->path, strerror(errno));
    const char *end = memchr(text, '\n', (size_t)length);
    if (!end)
        return length < (ssize_t)HEADER_MOST
                   ? 0
                   : error_set(error, "%s: no header row in its first 4096 bytes", file->path);
    size_t size = (size_t)(end - text) + 1;
    struct csv *csv = csv_open_bytes(file->path, text, size, error);
    int result = csv ? find_columns(csv_header(csv), file->at, file->path, error) : -1;
    csv_close(csv);
    if (result != 0)
        return -1;
    text[size] = '\0';
    file->header = strdup(text);
    if (!file->header)
        return error_set(error, "%s: out of memory", file->path);
    file->offset = (off_t)size;
    file->line = 1;
    return 1;
}

static int take_lines(struct station_file *file, const char *bytes, size_t length, size_t lines,
                      int64_t now_s, struct taking *t, struct error *error)
{
    char *room = file->header ? malloc(strlen(file->header) + length) : NULL;
    t->count = 0;
    free(t->readings);
    t->readings = calloc(lines + 1, sizeof *t->readings);
    if (!room || !t->readings) {
        free(room);
        return error_set(error, "%s: out of memory", file->path);
    }
    for (size_t i = 0; i < length;) {
        size_t line = (size_t)((const char *)memchr(bytes + i, '\n', length - i) - bytes) + 1 - i;
        take_line(file, bytes + i, line, room, now_s, t);
        i += line;
    }
    free(room);
    return 0;
}

/* One chunk of whole lines. *more: others may be left. */
static int take_chunk(struct station_file *file, int fd, struct store *store, int64_t now_s,
                      struct taking *t, bool *more, struct error *error)
{
    size_t lines = 0;
    size_t changed = 0;
    int result = 0;
    char *bytes = malloc(CHUNK);
    *more = false;
    if (!bytes)
        return error_set(error, "%s: out of memory", file->path);
    ssize_t length = pread(fd, bytes, CHUNK, file->offset);
    if (length < 0)
        result = error_set(error, "%s: %s", file->path, strerror(errno));
    size_t whole = result == 0 ? whole_lines(bytes, (size_t)length, &lines) : 0;
    if (whole == 0 && length == (ssize_t)CHUNK)
        result = error_set(error, "%s: a line without an end", file->path);
    if (result == 0 && whole > 0)
        result = take_lines(file, bytes, whole, lines, now_s, t, error);
    if (result == 0 && whole > 0)
        result = store_readings_put(store, t->readings, t->count, "file", now_s, &changed, error);
    if (result == 0) {
        file->offset += (off_t)whole;
        *more = length == (ssize_t)CHUNK;
        t->changed |= changed > 0;
    }
    free(bytes);
    return result;
}

static int take_file(struct station_file *file, int fd, struct store *store, int64_t now_s,
                     struct taking *t, struct error *error)
{
    struct stat state;
    bool more = true;
    if (fstat(fd, &state) != 0 || !S_ISREG(state.st_mode))
        return error_set(error, "%s: is not a file that can be read", file->path);
    if (state.st_dev != file->device || state.st_ino != file->inode ||
        state.st_size < file->offset) {
        start_again(file);
        file->device = state.st_dev;
        file->inode = state.st_ino;
        file->seen = -1;
    }
    if (state.st_size == file->seen)
        return 0;
    file->seen = state.st_size;
    int result = file->header ? 1 : read_header(file, fd, error);
    while (result > 0 && more)
        result = take_chunk(file, fd, store, now_s, t, &more, error) == 0 ? 1 : -1;
    return result < 0 ? -1 : 0;
}

int station_file_poll(struct station_file *file, struct store *store, int64_t now_s,
                      struct error *error)
{
    struct taking t = {.readings = NULL};
    error->text[0] = '\0';
    int fd = open(file->path, O_RDONLY | O_CLOEXEC | O_NONBLOCK);
    if (fd < 0)
        return errno == ENOENT ? 0 : error_set(error, "%s: %s", file->path, strerror(errno));
    int result = take_file(file, fd, store, now_s, &t, error);
    if (result == 0) {
        error->text[0] = '\0';
        if (t.left_out > 0)
            error_set(error, "%s: %zu rows left out, the first: %s", file->path, t.left_out, t.why);
        result = t.changed ? 1 : 0;
    }
    free(t.readings);
    close(fd);
    return result;
}
