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
    double wind_2m_m_s;         /* 0..75 */
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

MUST_USE enum status et0_of_hour(const struct sun_site *site, const struct et0_hour_in *in,
                                 struct et0_hour_out *out);

#endif
