/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "plan_calendar.h"

#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { LINE_BYTES = 75, TEXT_SIZE = 1024 }; /* RFC 5545, 3.1 */

struct calendar {
    FILE *out;
    char stamp[24];
    const struct plan_index *index;
};

/* One content line, folded between characters. */
static void put_line(FILE *out, const char *line)
{
    size_t room = LINE_BYTES;
    while (strlen(line) > room) {
        size_t length = room;
        while (length > 1 && ((unsigned char)line[length] & 0xc0) == 0x80)
            length--;
        fprintf(out, "%.*s\r\n ", (int)length, line);
        line += length;
        room = LINE_BYTES - 1; /* the blank counts */
    }
    fprintf(out, "%s\r\n", line);
}

/* NAME:text, with what has a meaning in a text value escaped (3.3.11). */
static void put_text(FILE *out, const char *name, const char *text)
{
    char line[TEXT_SIZE];
    size_t used = (size_t)snprintf(line, sizeof line, "%s:", name);
    for (; *text && used + 3 < sizeof line; text++) {
        if (strchr("\\;,", *text))
            line[used++] = '\\';
        line[used++] = *text;
    }
    line[used] = '\0';
    put_line(out, line);
}

static void format_time(int64_t t_s, char out[24])
{
    char text[CIVIL_TEXT];
    struct civil_date date = civil_from_days(civil_floor_day(t_s) / CIVIL_DAY_S);
    civil_format_rfc3339(t_s, 0, text); /* 2026-07-01T05:00:00Z */
    snprintf(out, 24, "%04d%02d%02dT%.2s%.2s%.2sZ", date.year % 10000, date.month % 100,
             date.day % 100, text + 11, text + 14, text + 17);
}

static void put_time(FILE *out, const char *name, int64_t t_s)
{
    char text[24];
    fprintf(out, "%s:", name);
    format_time(t_s, text);
    fprintf(out, "%s\r\n", text);
}

/* The zone's name, its id when it has none; the caller gives *zones back. */
static const char *name_of(const json_t *zone, const char *id)
{
    const char *name = json_string_value(json_object_get(zone, "name"));
    return name && name[0] ? name : id;
}

static void put_run(void *context, const char *text, size_t length)
{
    const struct calendar *calendar = context;
    json_t *run = json_loadb(text, length, 0, NULL);
    const char *id = json_string_value(json_object_get(run, "id"));
    const char *zone_id = json_string_value(json_object_get(run, "zone"));
    char summary[TEXT_SIZE];
    if (!id || !zone_id) {
        json_decref(run);
        return;
    }
    json_t *zone = plan_index_item(calendar->index, "zones", zone_id);
    snprintf(summary, sizeof summary, "%s: %lld min, %.0f L%s", name_of(zone, zone_id),
             (long long)json_integer_value(json_object_get(run, "minutes")),
             json_number_value(json_object_get(run, "litres")),
             json_is_true(json_object_get(run, "by_hand")) ? ", by hand" : "");
    fputs("BEGIN:VEVENT\r\n", calendar->out);
    char uid[256];
    snprintf(uid, sizeof uid, "%s@perchd", id);
    put_text(calendar->out, "UID", uid);
    fprintf(calendar->out, "DTSTAMP:%s\r\n", calendar->stamp);
    put_time(calendar->out, "DTSTART", json_integer_value(json_object_get(run, "start_s")));
    put_time(calendar->out, "DTEND", json_integer_value(json_object_get(run, "end_s")));
    put_text(calendar->out, "SUMMARY", summary);
    put_text(calendar->out, "LOCATION", zone_id);
    fputs("TRANSP:TRANSPARENT\r\nEND:VEVENT\r\n", calendar->out);
    json_decref(zone);
    json_decref(run);
}

char *plan_calendar_print(const struct plan_index *index)
{
    char *text = NULL;
    size_t length = 0;
    double made_at_s = 0;
    struct calendar calendar = {.out = open_memstream(&text, &length), .index = index};
    if (!calendar.out)
        return NULL;
    plan_index_number(index, NULL, "made_at_s", &made_at_s);
    format_time((int64_t)made_at_s, calendar.stamp);
    fputs("BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//perchd//perchd " PERCHD_VERSION "//EN\r\n"
          "CALSCALE:GREGORIAN\r\nMETHOD:PUBLISH\r\nREFRESH-INTERVAL;VALUE=DURATION:PT1H\r\n",
          calendar.out);
    plan_index_each_run(index, put_run, &calendar);
    fputs("END:VCALENDAR\r\n", calendar.out);
    if (fclose(calendar.out) == 0)
        return text;
    free(text);
    return NULL;
}
