/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "civil.h"

#include <stdio.h>
#include <string.h>

static int64_t floor_div(int64_t a, int64_t b)
{
    int64_t q = a / b;
    return a % b < 0 ? q - 1 : q;
}

static bool is_leap(int year)
{
    return (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
}

static int month_length(int year, int month)
{
    static const int lengths[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    return month == 2 && is_leap(year) ? 29 : lengths[month - 1];
}

bool civil_date_valid(struct civil_date date)
{
    return date.year >= 1 && date.year <= 9999 && date.month >= 1 && date.month <= 12 &&
           date.day >= 1 && date.day <= month_length(date.year, date.month);
}

/* The two conversions count in 400-year eras that start on 1 March, where the leap day is last
 * (well-known arithmetic of the proleptic Gregorian calendar). */
int64_t civil_days(struct civil_date date)
{
    int64_t y = date.year - (date.month <= 2);
    int64_t era = floor_div(y, 400);
    int64_t year_of_era = y - era * 400;
    int64_t day_of_year = (153 * (date.month + (date.month > 2 ? -3 : 9)) + 2) / 5 + date.day - 1;
    int64_t day_of_era = year_of_era * 365 + year_of_era / 4 - year_of_era / 100 + day_of_year;
    return era * 146097 + day_of_era - 719468;
}

struct civil_date civil_from_days(int64_t days)
{
    int64_t z = days + 719468;
    int64_t era = floor_div(z, 146097);
    int64_t day_of_era = z - era * 146097;
    int64_t year_of_era =
        (day_of_era - day_of_era / 1460 + day_of_era / 36524 - day_of_era / 146096) / 365;
    int64_t day_of_year = day_of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    int64_t mp = (5 * day_of_year + 2) / 153;
    struct civil_date date;
    date.day = (int)(day_of_year - (153 * mp + 2) / 5 + 1);
    date.month = (int)(mp < 10 ? mp + 3 : mp - 9);
    date.year = (int)(year_of_era + era * 400 + (date.month <= 2));
    return date;
}

int civil_day_of_year(struct civil_date date)
{
    struct civil_date first = {date.year, 1, 1};
    return (int)(civil_days(date) - civil_days(first)) + 1;
}

int64_t civil_floor_day(int64_t t_s)
{
    return floor_div(t_s, CIVIL_DAY_S) * CIVIL_DAY_S;
}

int64_t civil_floor_hour(int64_t t_s)
{
    return floor_div(t_s, CIVIL_HOUR_S) * CIVIL_HOUR_S;
}

int32_t civil_offset_at(const struct civil_zone *zone, int64_t t_s)
{
    size_t low = 0;
    size_t high = zone->count;
    while (high - low > 1) {
        size_t mid = low + (high - low) / 2;
        if (zone->offsets[mid].from_s <= t_s)
            low = mid;
        else
            high = mid;
    }
    return zone->offsets[low].offset_s;
}

struct civil_date civil_local_date(const struct civil_zone *zone, int64_t t_s)
{
    return civil_from_days(floor_div(t_s + civil_offset_at(zone, t_s), CIVIL_DAY_S));
}

int32_t civil_local_second(const struct civil_zone *zone, int64_t t_s)
{
    int64_t local = t_s + civil_offset_at(zone, t_s);
    return (int32_t)(local - civil_floor_day(local));
}

int64_t civil_local_to_utc(const struct civil_zone *zone, int64_t local_days, int32_t second)
{
    int64_t local = local_days * CIVIL_DAY_S + second;
    /* No offset reaches a day, so only entries within a day of the guess can matter. */
    for (size_t i = 0; i < zone->count; i++) {
        int64_t t = local - zone->offsets[i].offset_s;
        int64_t from = i == 0 ? INT64_MIN : zone->offsets[i].from_s;
        int64_t until = i + 1 < zone->count ? zone->offsets[i + 1].from_s : INT64_MAX;
        if (t >= until)
            continue;
        return t >= from ? t : from; /* t < from: the hour that was skipped */
    }
    return local - zone->offsets[zone->count - 1].offset_s;
}

static bool two_digits(const char *text, int *value)
{
    if (text[0] < '0' || text[0] > '9' || text[1] < '0' || text[1] > '9')
        return false;
    *value = (text[0] - '0') * 10 + (text[1] - '0');
    return true;
}

static bool parse_date_part(const char *text, struct civil_date *date)
{
    int century = 0;
    int year = 0;
    if (strnlen(text, 10) < 10 || !two_digits(text, &century) || !two_digits(text + 2, &year) ||
        text[4] != '-' || !two_digits(text + 5, &date->month) || text[7] != '-' ||
        !two_digits(text + 8, &date->day))
        return false;
    date->year = century * 100 + year;
    return civil_date_valid(*date);
}

enum status civil_parse_date(const char *text, struct civil_date *date)
{
    struct civil_date parsed;
    if (!parse_date_part(text, &parsed) || text[10] != '\0')
        return STATUS_RANGE;
    *date = parsed;
    return STATUS_OK;
}

enum status civil_parse_rfc3339(const char *text, int64_t *t_s)
{
    struct civil_date date;
    int hour = 0;
    int minute = 0;
    int second = 0;
    int64_t offset = 0;
    if (!parse_date_part(text, &date) || (text[10] != 'T' && text[10] != 't') ||
        strnlen(text, 20) < 20 || !two_digits(text + 11, &hour) || text[13] != ':' ||
        !two_digits(text + 14, &minute) || text[16] != ':' || !two_digits(text + 17, &second) ||
        hour > 23 || minute > 59 || second > 59)
        return STATUS_RANGE;
    const char *rest = text + 19;
    if (*rest == '.') {
        rest++;
        if (*rest < '0' || *rest > '9')
            return STATUS_RANGE;
        while (*rest >= '0' && *rest <= '9')
            rest++;
    }
    if (*rest == 'Z' || *rest == 'z') {
        rest++;
    } else if (*rest == '+' || *rest == '-') {
        int hours = 0;
        int minutes = 0;
        if (strnlen(rest, 6) < 6 || !two_digits(rest + 1, &hours) || rest[3] != ':' ||
            !two_digits(rest + 4, &minutes) || hours > 23 || minutes > 59)
            return STATUS_RANGE;
        offset = hours * 3600 + minutes * 60;
        if (*rest == '-')
            offset = -offset;
        rest += 6;
    } else {
        return STATUS_RANGE;
    }
    if (*rest != '\0')
        return STATUS_RANGE;
    *t_s = civil_days(date) * CIVIL_DAY_S + (int64_t)(hour * 3600 + minute * 60 + second - offset);
    return STATUS_OK;
}

void civil_format_rfc3339(int64_t t_s, int32_t offset_s, char out[CIVIL_TEXT])
{
    int64_t local = t_s + offset_s;
    struct civil_date date = civil_from_days(floor_div(local, CIVIL_DAY_S));
    int second = (int)(local - civil_floor_day(local));
    int ahead = offset_s < 0 ? -offset_s : offset_s;
    char zone[8] = "Z";
    if (offset_s != 0)
        snprintf(zone, sizeof zone, "%c%02d:%02d", offset_s < 0 ? '-' : '+', ahead / 3600 % 24,
                 ahead / 60 % 60);
    snprintf(out, CIVIL_TEXT, "%04d-%02d-%02dT%02d:%02d:%02d%s", date.year % 10000, date.month,
             date.day, second / 3600, second / 60 % 60, second % 60, zone);
}
