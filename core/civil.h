/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Dates and local time as pure arithmetic: proleptic Gregorian calendar, seconds since
 * 1970-01-01T00:00:00Z without leap seconds, and a nursery's UTC offsets given as a list. Moments
 * must lie in the years 1..9999 (a day more on either side does no harm); offsets within a day.
 */
#ifndef PERCHD_CORE_CIVIL_H
#define PERCHD_CORE_CIVIL_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "status.h"

#define CIVIL_HOUR_S INT64_C(3600)
#define CIVIL_DAY_S  INT64_C(86400)

struct civil_date {
    int year;  /* 1..9999 */
    int month; /* 1..12 */
    int day;   /* 1..31, valid for the month */
};

/* From from_s on (UTC), local time is UTC + offset_s, until the next entry's from_s. */
struct civil_offset {
    int64_t from_s;
    int32_t offset_s;
};

/* Ascending offsets; the first entry also holds for every earlier moment. count >= 1. */
struct civil_zone {
    const struct civil_offset *offsets;
    size_t count;
};

bool civil_date_valid(struct civil_date date);

/* Days since 1970-01-01 (negative before). The date must be valid. */
int64_t civil_days(struct civil_date date);
struct civil_date civil_from_days(int64_t days);

/* 1 on 1 January, 366 on 31 December of a leap year. */
int civil_day_of_year(struct civil_date date);

/* UTC midnight that starts the UTC date of t_s; floor, so right before 1970 too. */
int64_t civil_floor_day(int64_t t_s);
int64_t civil_floor_hour(int64_t t_s);

/* Offset from UTC in force at t_s. */
int32_t civil_offset_at(const struct civil_zone *zone, int64_t t_s);

/* Local calendar date and second of the local day (0..86399) at t_s. */
struct civil_date civil_local_date(const struct civil_zone *zone, int64_t t_s);
int32_t civil_local_second(const struct civil_zone *zone, int64_t t_s);

/* The UTC moment of a local wall-clock time: days since 1970-01-01 of the local date and seconds
 * into it (may be negative or above 86399: counted on). A time that does not exist (clock put
 * forward) gives the moment of the change; one that exists twice gives the first. */
int64_t civil_local_to_utc(const struct civil_zone *zone, int64_t local_days, int32_t second);

/* RFC 3339 with an offset ('Z' or +hh:mm) to epoch seconds; seconds may have a fraction, which is
 * dropped; ':60', '24:00', missing zones and impossible dates are refused (STATUS_RANGE). */
MUST_USE enum status civil_parse_rfc3339(const char *text, int64_t *t_s);

/* 'YYYY-MM-DD', nothing around it. */
MUST_USE enum status civil_parse_date(const char *text, struct civil_date *date);

/* 'YYYY-MM-DDThh:mm:ss+hh:mm' ('Z' when offset_s is 0) into out (at least CIVIL_TEXT bytes). */
#define CIVIL_TEXT 32
void civil_format_rfc3339(int64_t t_s, int32_t offset_s, char out[CIVIL_TEXT]);

#endif
