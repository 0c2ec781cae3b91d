/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the adapters have in common: a document's bytes to JSON, bounds of what a value may be, the
 * hours they lay out, and words for what was left out. Pure: no clock, no file, no network.
 */
#ifndef PERCHD_DAEMON_FEED_HOURS_H
#define PERCHD_DAEMON_FEED_HOURS_H

#include <jansson.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "core/sun.h"
#include "core/weather.h"
#include "error.h"

/* The values of an hour, by their names in perchd-fetch's answer. */
enum feed_quantity {
    FEED_TEMPERATURE,
    FEED_DEWPOINT,
    FEED_HUMIDITY,
    FEED_WIND,
    FEED_CLOUD,
    FEED_CLOUD_LOW,
    FEED_CLOUD_MID,
    FEED_CLOUD_HIGH,
    FEED_RADIATION,
    FEED_RAIN,
    FEED_PROBABILITY,
    FEED_QUANTITIES
};

/* Hours far from their issue are no forecast and no recent past. */
#define FEED_BEFORE_ISSUE_S (10 * CIVIL_DAY_S)
#define FEED_AFTER_ISSUE_S  (20 * CIVIL_DAY_S)

const char *feed_quantity_name(enum feed_quantity quantity);
double *feed_quantity_of(struct weather_raw *hour, enum feed_quantity quantity);
/* Whether weather_raw may hold it. */
bool feed_quantity_fits(enum feed_quantity quantity, double value);
/* The value, brought into weather_raw's range where rounding oversteps it (humidity to 103 %,
 * radiation from -10 W/m2, rain from -0.05 mm); NAN when it is out of range or not known. */
double feed_quantity_take(enum feed_quantity quantity, double value);

/* What an adapter made of a document. */
struct feed_hours {
    int64_t issued_s;
    struct weather_raw *hours; /* malloc'ed, ascending, each of a kind of the adapter's */
    size_t hour_count;         /* >= 1 */
    size_t entries;            /* in the document's series */
    size_t dropped_entries;    /* without a usable time or state, or far from the issue */
    size_t dropped_values;     /* of an unknown unit, not a number, out of range */
    size_t duplicates;         /* given twice or overlapping: the later one counts */
    bool disordered;           /* the series was not ascending; it was sorted */
    bool cloud_doubtful;       /* all cloud is within 0..1: a fraction where per cent belongs? */
    bool height_doubtful;      /* made for ground more than 250 m higher or lower */
};

/* JSON to the letter (RFC 8259): no key twice, nothing behind it, no 'NaN', no byte order mark.
 * NULL with error. Hostile bytes only cost time linear in their length. */
json_t *feed_parse(const char *bytes, size_t length, struct error *error);

/* -1 with error when [longitude, latitude] is not within most_deg of the site. site may be NULL. */
int feed_check_place(const json_t *longitude_latitude, const struct sun_site *site, double most_deg,
                     struct error *error);

/* Great-circle distance, km. */
double feed_distance_km(const struct sun_site *site, double latitude_deg, double longitude_deg);

/* Values of a moment; NAN where it does not say. */
struct feed_instant {
    int64_t at_s;
    size_t order; /* in the document */
    double values[FEED_QUANTITIES];
};

/* Ascending, one a time: of several values the one written last. Returns how many stay and notes
 * what was put right. */
size_t feed_instants_sort(struct feed_instant *instants, size_t count, struct feed_hours *notes);
/* Lays the states (temperature to cloud layers) into the opened hours: each takes the mean of its
 * two ends; an end is the instant's own value or lies on the line between the next known ones when
 * those are at most gap_s apart. */
void feed_instants_lay(const struct feed_instant *instants, size_t count, int64_t gap_s,
                       struct feed_hours *hours);

/* Opens count empty hours from first_s on, kind and issue set. 0, or -1 with error. */
int feed_hours_open(struct feed_hours *hours, int64_t first_s, size_t count, enum weather_kind kind,
                    struct error *error);
/* The hour [start_s, ...); NULL when it was not opened or start_s is not a whole hour. */
struct weather_raw *feed_hours_at(struct feed_hours *hours, int64_t start_s);
/* Drops what cannot be (dew point above the temperature), the hours that say nothing, and judges
 * the cloud. -1 with error when no hour has a temperature. */
int feed_hours_close(struct feed_hours *hours, struct error *error);
void feed_hours_free(struct feed_hours *hours); /* frees what it holds */

/* A dew point that is above the temperature by more than rounding is dropped, else brought down to
 * it. True when it was dropped. */
bool feed_settle_dewpoint(double temperature_c, double *dewpoint_c);

/* What was dropped and put right, in a line of words ("" when nothing was). */
void feed_hours_describe(const struct feed_hours *hours, char *out, size_t size);

#endif
