/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Sun geometry and radiation on a level surface after FAO-56 chapter 3 (eqs 21-37), with the
 * hours that contain sunrise or sunset clipped to the sunset angle (ASCE-EWRI 2005).
 */
#ifndef PERCHD_CORE_SUN_H
#define PERCHD_CORE_SUN_H

#include <stdbool.h>
#include <stdint.h>

#include "civil.h"
#include "status.h"

struct sun_site {
    double latitude_deg;  /* -90..90, north positive */
    double longitude_deg; /* -180..180, east positive */
    double elevation_m;   /* -450..6000 */
};

struct sun_day {
    double extraterrestrial_mj_m2; /* Ra, eq 21 */
    double clear_sky_mj_m2;        /* Rso = (0.75 + 2e-5 z) Ra, eq 37 */
    double day_length_h;           /* N, eq 34: 0 in polar night, 24 in polar day */
    double declination_rad;        /* eq 24 */
    double sunset_angle_rad;       /* eq 25: 0..pi */
};

struct sun_hour {
    double extraterrestrial_mj_m2;
    double clear_sky_mj_m2;
    double elevation_rad;    /* sun height at mid-hour, negative below the horizon; eq 3-15 */
    double hour_angle_rad;   /* at mid-hour, -pi..pi, 0 at solar noon; eq 31 */
    double sunset_angle_rad; /* of the day of mean solar time at mid-hour */
};

/* day_of_year 1..366; the divisor is always 365 as printed in eqs 23 and 24. */
MUST_USE enum status sun_of_day(const struct sun_site *site, int day_of_year, struct sun_day *out);

/* The hour [start_s, start_s + 3600). The day number is that of mean solar time at mid-hour. */
MUST_USE enum status sun_of_hour(const struct sun_site *site, int64_t start_s,
                                 struct sun_hour *out);

/* Geometric sunrise and sunset (centre of the disc, no refraction) of a date of mean solar time,
 * to a few minutes: for placing windows, not for almanacs. *up is 1 when the sun rises and sets,
 * 0 in polar night, 2 in polar day (then both times are solar midnight and the next one). */
MUST_USE enum status sun_rise_and_set(const struct sun_site *site, struct civil_date date,
                                      int64_t *rise_s, int64_t *set_s, int *up);

#endif
