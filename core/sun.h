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

/* Each function: STATUS_RANGE when the site, the day number, the date or a time outside the years
 * 1..9999 is out of range. */

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
    int day_of_year;         /* that day */
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

/* Solar radiation of a day, MJ/m2, from hours of bright sunshine with the Angstrom constants 0.25
 * and 0.50 (eq 35). sunshine_h 0..24; hours beyond the day length count as the day length. */
MUST_USE enum status sun_radiation_from_sunshine(const struct sun_day *day, double sunshine_h,
                                                 double *radiation_mj_m2);

/* Coefficient of eq 50, 1/sqrt(C). */
#define SUN_RANGE_INLAND 0.16
#define SUN_RANGE_COAST  0.19

/* Solar radiation of a day, MJ/m2, from the temperature range, never above the clear sky (eq 50).
 * temperature_range_c 0..120 (highest - lowest), coefficient 0.05..0.5. */
MUST_USE enum status sun_radiation_from_range(const struct sun_day *day, double temperature_range_c,
                                              double coefficient, double *radiation_mj_m2);

/* Share of the clear-sky radiation under a cloud cover of 0..100 %: 0.35 + 0.65 (1 - C), after
 * Larson et al. 2016; NaN outside the range. */
double sun_clear_ratio_from_cloud(double cloud_pct);

/* Clear-sky radiation that knows about the air: beam and diffuse through pressure and vapour. For
 * checks against figures that were made with it; sun_day and sun_hour carry the simple form. */
enum sun_clear_sky {
    SUN_CLEAR_SIMPLE, /* eq 37 */
    SUN_CLEAR_FAO,    /* FAO-56 Annex 3 eqs 3-14 to 3-20, clean air */
    SUN_CLEAR_ASCE,   /* ASCE-EWRI 2005 Appendix D, clean air */
};

/* Of a whole day, MJ/m2. vapour_pressure_kpa 0..20. */
MUST_USE enum status sun_clear_sky_of_day(const struct sun_site *site, int day_of_year,
                                          double vapour_pressure_kpa, enum sun_clear_sky form,
                                          double *clear_sky_mj_m2);

#endif
