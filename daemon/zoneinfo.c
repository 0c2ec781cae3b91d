/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "zoneinfo.h"

#include <errno.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define FOLDER     "/usr/share/zoneinfo"
#define FILE_MAX   ((size_t)256 * 1024) /* the largest file of tzdata has 4 KB */
#define FIRST_YEAR 2000
#define LAST_YEAR  2100
/* POSIX rules give at most two changes a year; files give as many explicit ones as they hold. */
#define RULE_ENTRIES ((size_t)2 * (LAST_YEAR - FIRST_YEAR + 2))

/* --- the binary part, RFC 8536 section 3 -------------------------------------------------- */

struct header {
    unsigned char version;
    size_t isutcnt, isstdcnt, leapcnt, timecnt, typecnt, charcnt;
};

#define HEADER_SIZE 44

static size_t read_u32(const unsigned char *at)
{
    return (size_t)at[0] << 24 | (size_t)at[1] << 16 | (size_t)at[2] << 8 | at[3];
}

static int64_t read_i64(const unsigned char *at)
{
    uint64_t bits = (uint64_t)read_u32(at) << 32 | read_u32(at + 4);
    return bits <= INT64_MAX ? (int64_t)bits : -(int64_t)(UINT64_MAX - bits) - 1;
}

static int32_t read_i32(const unsigned char *at)
{
    int64_t bits = (int64_t)read_u32(at);
    return (int32_t)(bits <= INT32_MAX ? bits : bits - ((int64_t)1 << 32));
}

static bool read_header(const unsigned char *bytes, size_t length, struct header *out)
{
    if (length < HEADER_SIZE || memcmp(bytes, "TZif", 4) != 0)
        return false;
    out->version = bytes[4];
    out->isutcnt = read_u32(bytes + 20);
    out->isstdcnt = read_u32(bytes + 24);
    out->leapcnt = read_u32(bytes + 28);
    out->timecnt = read_u32(bytes + 32);
    out->typecnt = read_u32(bytes + 36);
    out->charcnt = read_u32(bytes + 40);
    return true;
}

/* Counts are below 2^32 and size_t has 64 bits on the supported machines: no overflow. */
static size_t data_size(const struct header *h, size_t time_size)
{
    return h->timecnt * (time_size + 1) + h->typecnt * 6 + h->charcnt +
           h->leapcnt * (time_size + 4) + h->isstdcnt + h->isutcnt;
}

/* --- a list of entries that grows --------------------------------------------------------- */

struct list {
    struct civil_offset *entries;
    size_t count, capacity;
};

/* Drops entries that change nothing. Entries come in ascending order. */
static void list_add(struct list *list, int64_t from_s, int32_t offset_s)
{
    if (list->count > 0 && list->entries[list->count - 1].offset_s == offset_s)
        return;
    if (list->count > 0 && list->entries[list->count - 1].from_s >= from_s)
        return;
    if (list->count < list->capacity)
        list->entries[list->count++] = (struct civil_offset){from_s, offset_s};
}

/* --- the footer: a POSIX TZ string, RFC 8536 section 3.3 ---------------------------------- */

enum rule_form {
    RULE_JULIAN, /* Jn: 1..365, 29 February never counted */
    RULE_DAY,    /* n: 0..365 */
    RULE_WEEK,   /* Mm.w.d */
};

struct rule {
    enum rule_form form;
    int month, week, day;
    int32_t second; /* local wall time, -167..167 h */
};

struct footer {
    int32_t standard_s, summer_s; /* offsets east of Greenwich */
    bool has_summer;
    struct rule start, end;
};

static bool take_int(const char **at, int most, int *value)
{
    int number = 0;
    const char *p = *at;
    if (*p < '0' || *p > '9')
        return false;
    while (*p >= '0' && *p <= '9') {
        number = number * 10 + (*p++ - '0');
        if (number > most)
            return false;
    }
    *at = p;
    *value = number;
    return true;
}

static bool take_name(const char **at)
{
    const char *p = *at;
    if (*p == '<') {
        p += strcspn(p, ">");
        if (*p != '>')
            return false;
        *at = p + 1;
        return true;
    }
    while ((*p >= 'a' && *p <= 'z') || (*p >= 'A' && *p <= 'Z'))
        p++;
    bool enough = p - *at >= 3;
    *at = p;
    return enough;
}

/* [+-]hh[:mm[:ss]] in seconds. */
static bool take_time(const char **at, int most_hours, int32_t *second)
{
    int parts[3] = {0, 0, 0};
    int sign = **at == '-' ? -1 : 1;
    if (**at == '-' || **at == '+')
        (*at)++;
    if (!take_int(at, most_hours, &parts[0]))
        return false;
    for (int i = 1; i < 3 && **at == ':'; i++) {
        (*at)++;
        if (!take_int(at, 59, &parts[i]))
            return false;
    }
    *second = sign * (parts[0] * 3600 + parts[1] * 60 + parts[2]);
    return true;
}

static bool take_char(const char **at, char c)
{
    if (**at != c)
        return false;
    (*at)++;
    return true;
}

static bool take_rule(const char **at, struct rule *rule)
{
    rule->second = 7200;
    if (take_char(at, 'M')) {
        rule->form = RULE_WEEK;
        if (!take_int(at, 12, &rule->month) || rule->month < 1 || !take_char(at, '.') ||
            !take_int(at, 5, &rule->week) || rule->week < 1 || !take_char(at, '.') ||
            !take_int(at, 6, &rule->day))
            return false;
    } else if (take_char(at, 'J')) {
        rule->form = RULE_JULIAN;
        if (!take_int(at, 365, &rule->day) || rule->day < 1)
            return false;
    } else {
        rule->form = RULE_DAY;
        if (!take_int(at, 365, &rule->day))
            return false;
    }
    return !take_char(at, '/') || take_time(at, 167, &rule->second);
}

static bool parse_footer(const char *text, struct footer *out)
{
    const char *at = text;
    struct footer parsed = {0};
    if (!take_name(&at) || !take_time(&at, 24, &parsed.standard_s))
        return false;
    parsed.standard_s = -parsed.standard_s; /* POSIX counts west as positive */
    if (*at != '\0') {
        parsed.has_summer = true;
        parsed.summer_s = parsed.standard_s + 3600;
        if (!take_name(&at))
            return false;
        if (*at != ',') {
            if (!take_time(&at, 24, &parsed.summer_s))
                return false;
            parsed.summer_s = -parsed.summer_s;
        }
        if (!take_char(&at, ',') || !take_rule(&at, &parsed.start) || !take_char(&at, ',') ||
            !take_rule(&at, &parsed.end) || *at != '\0')
            return false;
    }
    *out = parsed;
    return true;
}

/* Days since 1970-01-01 of the rule's day in a year. */
static int64_t rule_days(const struct rule *rule, int year)
{
    struct civil_date first = {year, 1, 1};
    if (rule->form == RULE_DAY)
        return civil_days(first) + rule->day;
    if (rule->form == RULE_JULIAN) {
        struct civil_date leap = {year, 2, 29};
        return civil_days(first) + rule->day - 1 + (rule->day >= 60 && civil_date_valid(leap));
    }
    first.month = rule->month;
    struct civil_date next = {rule->month == 12 ? year + 1 : year, rule->month % 12 + 1, 1};
    int64_t days = civil_days(first);
    /* 1970-01-01 was a Thursday, which POSIX numbers 4; days are positive from 2000 on. */
    int64_t weekday = (days + 4) % 7;
    days += (rule->day - weekday + 7) % 7 + 7 * ((int64_t)rule->week - 1);
    while (days >= civil_days(next)) /* week 5 is the last one */
        days -= 7;
    return days;
}

static void add_footer(struct list *list, const struct footer *footer, int64_t after_s)
{
    if (!footer->has_summer) {
        list_add(list, after_s + 1, footer->standard_s);
        return;
    }
    for (int year = FIRST_YEAR; year <= LAST_YEAR; year++) {
        int64_t start_s = rule_days(&footer->start, year) * CIVIL_DAY_S + footer->start.second -
                          footer->standard_s;
        int64_t end_s =
            rule_days(&footer->end, year) * CIVIL_DAY_S + footer->end.second - footer->summer_s;
        bool north = start_s <= end_s;
        if ((north ? start_s : end_s) > after_s)
            list_add(list, north ? start_s : end_s, north ? footer->summer_s : footer->standard_s);
        if ((north ? end_s : start_s) > after_s)
            list_add(list, north ? end_s : start_s, north ? footer->standard_s : footer->summer_s);
    }
}

/* --- all together ------------------------------------------------------------------------- */

static int64_t first_moment(void)
{
    const struct civil_date first = {FIRST_YEAR, 1, 1};
    return civil_days(first) * CIVIL_DAY_S;
}

/* The explicit transitions; *last_s the last of them. False when a type index is out of range. */
static bool add_transitions(struct list *list, const unsigned char *data, const struct header *h,
                            int64_t *last_s)
{
    const unsigned char *indices = data + h->timecnt * 8;
    const unsigned char *types = indices + h->timecnt;
    int64_t before_s = INT64_MIN;
    list_add(list, first_moment(), read_i32(types)); /* type 0 until the first transition */
    for (size_t i = 0; i < h->timecnt; i++) {
        int64_t from_s = read_i64(data + 8 * i);
        if (indices[i] >= h->typecnt || (i > 0 && from_s <= before_s))
            return false;
        before_s = from_s;
        int32_t offset_s = read_i32(types + 6 * (size_t)indices[i]);
        if (offset_s <= -CIVIL_DAY_S || offset_s >= CIVIL_DAY_S)
            return false;
        if (from_s <= first_moment())
            list->entries[0].offset_s = offset_s;
        else
            list_add(list, from_s, offset_s);
    }
    *last_s = before_s > first_moment() ? before_s : first_moment();
    return true;
}

/* Points text at the footer, made a string in place of a copy: at most 255 bytes. */
static bool copy_footer(const unsigned char *at, size_t length, char text[256])
{
    if (length < 2 || at[0] != '\n')
        return false;
    const unsigned char *end = memchr(at + 1, '\n', length - 1);
    if (!end || end - at - 1 > 255 || memchr(at + 1, '\0', (size_t)(end - at - 1)))
        return false;
    memcpy(text, at + 1, (size_t)(end - at - 1));
    text[end - at - 1] = '\0';
    return true;
}

static const char *read_all(const unsigned char *bytes, size_t length, struct list *list)
{
    struct header h;
    struct footer footer;
    char text[256];
    int64_t last_s = 0;
    if (!read_header(bytes, length, &h))
        return "not a TZif file";
    if (h.version < '2')
        return "TZif version 1, accepted is 2 or later";
    size_t first = HEADER_SIZE + data_size(&h, 4);
    if (first > length || !read_header(bytes + first, length - first, &h))
        return "TZif file cut short";
    size_t at = first + HEADER_SIZE;
    if (data_size(&h, 8) > length - at)
        return "TZif file cut short";
    if (h.typecnt < 1 || h.typecnt > 256)
        return "TZif file without types";
    if (h.leapcnt != 0)
        return "counts leap seconds, accepted are zones that do not";
    list->capacity = 1 + h.timecnt + RULE_ENTRIES;
    list->entries = calloc(list->capacity, sizeof *list->entries);
    if (!list->entries)
        return "no memory";
    if (!add_transitions(list, bytes + at, &h, &last_s))
        return "TZif file with impossible transitions";
    at += data_size(&h, 8);
    if (!copy_footer(bytes + at, length - at, text))
        return "TZif file without its footer";
    if (text[0] == '\0') /* RFC 8536: nothing is known of later times */
        return NULL;
    if (!parse_footer(text, &footer))
        return "TZif file with an unreadable footer";
    if (footer.standard_s <= -CIVIL_DAY_S || footer.standard_s >= CIVIL_DAY_S ||
        footer.summer_s <= -CIVIL_DAY_S || footer.summer_s >= CIVIL_DAY_S)
        return "TZif file with an impossible offset";
    add_footer(list, &footer, last_s);
    return NULL;
}

int zoneinfo_read(const char *name, const unsigned char *bytes, size_t length,
                  struct civil_zone *zone, struct error *error)
{
    struct list list = {0};
    const char *wrong = read_all(bytes, length, &list);
    if (wrong) {
        free(list.entries);
        return error_set(error, "time zone '%s': %s", name, wrong);
    }
    zone->offsets = list.entries;
    zone->count = list.count;
    return 0;
}

/* Letters, digits, '_', '-', '+' and single '/' between parts: no way out of the folder. */
static bool name_is_safe(const char *name)
{
    size_t length = strlen(name);
    return length >= 1 && length <= 63 &&
           strspn(name, "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789_+-/") ==
               length &&
           name[0] != '/' && name[length - 1] != '/' && !strstr(name, "//");
}

int zoneinfo_load(const char *name, struct civil_zone *zone, struct error *error)
{
    char path[sizeof FOLDER + 65];
    if (!name_is_safe(name))
        return error_set(error, "time zone '%.63s': not a name like Europe/Lisbon", name);
    snprintf(path, sizeof path, "%s/%s", FOLDER, name);
    FILE *file = fopen(path, "rb");
    if (!file)
        return error_set(error, "time zone '%s': %s: %s", name, path, strerror(errno));
    unsigned char *bytes = malloc(FILE_MAX);
    size_t length = bytes ? fread(bytes, 1, FILE_MAX, file) : 0;
    int result = -1;
    if (!bytes)
        error_set(error, "time zone '%s': no memory", name);
    else if (ferror(file))
        error_set(error, "time zone '%s': %s: %s", name, path, strerror(errno));
    else
        result = zoneinfo_read(name, bytes, length, zone, error);
    free(bytes);
    fclose(file);
    return result;
}

void zoneinfo_free(struct civil_zone *zone)
{
    union {
        const struct civil_offset *lent;
        struct civil_offset *owned;
    } offsets = {.lent = zone->offsets};
    free(offsets.owned);
    *zone = (struct civil_zone){0};
}
