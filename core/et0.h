/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Reference evapotranspiration: FAO-56 Penman-Monteith by day (eq 6) and by hour (eq 53), the
 * hourly surface resistances of ASCE-EWRI 2005, Hargreaves-Samani (eq 52). Under a cover the
 * equation is worked again with what reaches the plants, never scaled.
 */
#ifndef PERCHD_CORE_ET0_H
#define PERCHD_CORE_ET0_H

#include <stdbool.h>
#include <stdint.h>

#include "status.h"
#include "sun.h"

enum et0_surface {
    ET0_ASCE2005, /* C_d 0.24 while R_n >= 0, else 0.96: 50 and 200 s/m */
    ET0_FAO56,    /* C_d 0.34 always: 70 s/m */
};

/* While the sun stands lower at mid-hour, Rs/Rso of the hour says nothing about cloud (ASCE-EWRI
 * 2005). */
#define ET0_LOW_SUN_RAD 0.3

/* What stands between sky and plants. Outdoors: { 1, 0, false }. */
struct et0_cover {
    double transmissivity; /* of solar radiation, 0.05..1 */
    double wind_factor;    /* inside wind / outside wind, 0..1, used when has_wind_factor */
    bool has_wind_factor;  /* then u2 = max(0.5 m/s, u2 * wind_factor) */
};

struct et0_hour_in {
    int64_t start_s;            /* the hour [start_s, start_s + 3600) UTC */
    double temperature_c;       /* -60..60, mean of the hour */
    double vapour_pressure_kpa; /* actual, 0..20 */
    double wind_2m_m_s;         /* 0..110: 75 measured at 0.5 m */
    double radiation_mj_m2;     /* outdoors, 0..5 an hour */
    double clear_ratio;         /* Rs/Rso used in the cloud term when the sun stands below 0.3 rad
                                 * at mid-hour (then the day's own ratio says nothing), 0..1 */
    enum et0_surface surface;
    struct et0_cover cover;
};

struct et0_hour_out {
    double et0_mm; /* may be below 0 at night */
    double net_radiation_mj_m2;
    double soil_heat_mj_m2;
    double extraterrestrial_mj_m2;
    double radiation_mj_m2; /* above the plants: after the cover */
    double ratio_used;      /* Rs/Rso in the cloud term, 0.3..1 */
};

/* STATUS_RANGE: site, time or an input outside the ranges above. No allocation. */
MUST_USE enum status et0_of_hour(const struct sun_site *site, const struct et0_hour_in *in,
                                 struct et0_hour_out *out);

struct et0_day_in {
    int day_of_year;          /* 1..366 */
    double temperature_max_c; /* -60..60, not below the lowest */
    double temperature_min_c;
    double vapour_pressure_kpa; /* actual, 0..20: see air.h for the ways to it */
    double wind_2m_m_s;         /* 0..110; no floor outdoors */
    double radiation_mj_m2;     /* outdoors, 0..50 a day: measured or by sun.h */
    double soil_heat_mj_m2;     /* -50..50; 0 for a day or ten (eq 42), monthly below */
    enum sun_clear_sky clear_sky;
    double ratio_least; /* lower limit of Rs/Rso, 0..1: 0 as in FAO-56, 0.3 as in ASCE-EWRI 2005 */
    struct et0_cover cover;
};

struct et0_day_out {
    double et0_mm;          /* may be below 0 in cold, dark weather */
    double radiation_mj_m2; /* above the plants: after the cover */
    double net_shortwave_mj_m2;
    double net_longwave_mj_m2;
    double net_radiation_mj_m2;
    double ratio_used; /* Rs/Rso in the cloud term, 0..1 */
    bool no_sun;       /* polar night: ratio_used is ET0_RATIO_UNKNOWN */
};

/* Rs/Rso where neither sun nor cloud says anything: the upper end of what FAO-56 chapter 4 gives
 * for the night in humid places (0.4-0.6). */
#define ET0_RATIO_UNKNOWN 0.6

/* FAO-56 eq 6. STATUS_RANGE: site or an input outside the ranges above. STATUS_IMPOSSIBLE:
 * temperature_max_c below temperature_min_c. */
MUST_USE enum status et0_of_day(const struct sun_site *site, const struct et0_day_in *in,
                                struct et0_day_out *out);

/* Heat into the soil over a month, MJ/m2 a day, from monthly mean temperatures (-60..60 C):
 * eq 43 when the next month is known, else eq 44. NaN outside the range. FAO-56 prints eq 41,
 * which they come from, with a sum where a difference is meant. */
double et0_soil_heat_mj_m2(double previous_c, double next_c);
double et0_soil_heat_to_date_mj_m2(double previous_c, double current_c);

/* Hargreaves-Samani, mm a day (eq 52). The mean is given apart from the extremes because some
 * records have a better one than their middle. Below -17.8 C the equation goes below 0.
 * STATUS_RANGE: temperatures -60..60 C, extraterrestrial 0..50 MJ/m2 a day. STATUS_IMPOSSIBLE:
 * temperature_max_c below temperature_min_c. */
MUST_USE enum status et0_from_temperature(double extraterrestrial_mj_m2, double temperature_mean_c,
                                          double temperature_max_c, double temperature_min_c,
                                          double *et0_mm);

#endif
