/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The nursery's own weather station: readings of minutes to hours of weather. */
#ifndef PERCHD_CORE_STATION_H
#define PERCHD_CORE_STATION_H

#include "weather.h"

/* Means and sums over the period that ends at end_s; NAN where the station does not say. Any value
 * is taken: the integrity checks judge the hours. */
struct station_reading {
    int64_t end_s;
    double period_s; /* 10..3600 */
    double temperature_c;
    double humidity_pct;
    double dewpoint_c;
    double wind_m_s; /* at the height of the site's station */
    double radiation_w_m2;
    double rain_mm; /* of the period */
};

/* Share of an hour that must be covered for the hour to count [our choice]. */
#define STATION_COVER_LEAST 0.75

/* Hours of kind WEATHER_MEASURED out of readings, ascending by end_s (equal ones: the later in the
 * array counts). An hour's mean or sum is that of the readings over it, each by the part of its
 * period within the hour; a value covered for less than STATION_COVER_LEAST of the hour is NAN,
 * rain of a covered hour is scaled to the whole of it. Wind is brought to 10 m from wind_height_m
 * (0.5..200, FAO-56 eq 47). Hours that end after now_s are left out, and hours without any value.
 * STATUS_RANGE: readings not ascending, a period or the height out of range. STATUS_NO_SPACE. */
MUST_USE enum status station_hours(const struct station_reading *readings, size_t reading_count,
                                   double wind_height_m, int64_t now_s, struct weather_raw *hours,
                                   size_t capacity, size_t *hour_count);

#endif
