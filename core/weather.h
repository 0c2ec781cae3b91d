/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Hours of weather with a pedigree: what a feed, a station or the site's climate normals say about
 * one UTC hour, made complete (radiation from cloud, normals where nothing else is known) so that
 * evapotranspiration and the balance can be worked out for every hour.
 */
#ifndef PERCHD_CORE_WEATHER_H
#define PERCHD_CORE_WEATHER_H

#include <math.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "status.h"
#include "sun.h"

/* Best first. */
enum weather_kind {
    WEATHER_MEASURED, /* on the site */
    WEATHER_ANALYSIS,
    WEATHER_FORECAST,
    WEATHER_NORMAL, /* the site's climate for that month */
};

/* One hour as a source gives it: the slot [start_s, start_s + 3600) UTC, means and sums of that
 * hour. NAN where the source does not say. */
struct weather_raw {
    int64_t start_s;
    int64_t issued_s; /* when the source made it; 0 when not known */
    enum weather_kind kind;
    double temperature_c; /* -60..60 */
    double dewpoint_c;    /* -70..40 */
    double humidity_pct;  /* 0..100 */
    double wind_10m_m_s;  /* 0..75 */
    double cloud_pct;     /* total, 0..100 */
    double cloud_low_pct; /* layers, 0..100 */
    double cloud_mid_pct;
    double cloud_high_pct;
    double radiation_w_m2;   /* mean of the hour on the level, 0..1600 */
    double rain_mm;          /* 0..200 */
    double rain_probability; /* 0..1 */
};

#define WEATHER_RAW_EMPTY                                                                          \
    {                                                                                              \
        0, 0, WEATHER_FORECAST, NAN, NAN, NAN, NAN, NAN, NAN, NAN, NAN, NAN, NAN, NAN              \
    }

/* A month of the site's climate: means. */
struct weather_normal {
    double temperature_max_c;
    double temperature_min_c;
    double dewpoint_c;
    double wind_2m_m_s;
    double clear_ratio; /* mean Rs / Rso of the month, 0..1 */
    double rain_mm;     /* of the month */
    double wet_days;    /* of the month */
};

enum weather_radiation {
    WEATHER_RADIATION_GIVEN,
    WEATHER_RADIATION_CLOUD,
    WEATHER_RADIATION_NORMAL,
};

/* A complete hour. */
struct weather_hour {
    int64_t start_s;
    double temperature_c;
    double vapour_pressure_kpa;
    double wind_2m_m_s;
    double radiation_mj_m2; /* of the hour */
    double clear_ratio;     /* Rs/Rso of this hour's sky, for hours of low sun, 0.3..1 */
    double rain_mm;
    double rain_probability; /* 0..1; where the source does not say: 0 without rain, with rain 0.5
                              * of a forecast [our choice], 1 of a measurement or analysis */
    enum weather_kind kind;  /* worst of temperature, humidity and wind */
    enum weather_kind rain_kind; /* WEATHER_NORMAL: no rain counted */
    enum weather_radiation radiation;
    double lead_h; /* hours from issue to the hour; 0 when not a forecast */
};

/* Cloud fraction 0..1 to Rs/Rso: 0.35 + 0.65 (1 - C) (Larson et al. 2016); NAN outside. */
double weather_clear_ratio(double cloud_fraction);
/* Effective cloud of a raw hour: layers 1 - (1-C_low)(1-C_mid)(1-0.45 C_high) [our choice] or the
 * total when not all three layers are known; NAN when neither is. */
double weather_cloud_fraction(const struct weather_raw *raw);

/* One hour out of the normals (January first): temperature between the month's extremes by the
 * time of day, coldest at sunrise and warmest at 15 h solar time, so that the mean of a day is the
 * mean of the extremes; dew point constant, at most the temperature; wind constant; months blended
 * between their middles; no rain. STATUS_RANGE: a value out of weather_raw's ranges or a ratio
 * outside 0..1. STATUS_IMPOSSIBLE: a lowest temperature above the highest. */
MUST_USE enum status weather_from_normals(const struct sun_site *site,
                                          const struct weather_normal normals[12], int64_t start_s,
                                          struct weather_hour *out);

/* Completes the hours first_s, first_s + 3600, ... (count of them). raw is ascending by start_s,
 * at most one an hour, and may have gaps: state gaps of up to 3 h between known hours are
 * interpolated (cloud too, radiation and rain never), longer ones and the tail come from the
 * normals. A raw value outside its range counts as not known; so does radiation above 1.15 of the
 * extraterrestrial, and a dew point more than 0.5 C above the temperature. Raw hours of the day
 * before first_s help with the sky of the first night. normals may be NULL: then a gap that cannot
 * be filled gives STATUS_NO_SOLUTION and *out is untouched beyond *filled hours. STATUS_RANGE: raw
 * not ascending, a site or time that sun_of_hour() refuses. */
MUST_USE enum status weather_complete(const struct sun_site *site,
                                      const struct weather_normal *normals,
                                      const struct weather_raw *raw, size_t raw_count,
                                      int64_t first_s, size_t count, struct weather_hour *out,
                                      size_t *filled);

#endif
