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

/* Parts of an hour that come from one source each: humidity belongs to the temperature of its own
 * source, cloud to the radiation. */
enum weather_part {
    WEATHER_AIR, /* temperature and humidity */
    WEATHER_WIND,
    WEATHER_SKY, /* radiation, cloud */
    WEATHER_RAIN,
    WEATHER_PARTS,
};

/* What the integrity checks (weather_check.h) found in a part. From WEATHER_MARK_REJECTED on the
 * part is not used. */
enum weather_mark {
    WEATHER_MARK_GOOD,
    WEATHER_MARK_JUMP,      /* temperature moved more than 8 C within the hour */
    WEATHER_MARK_DRY_RAIN,  /* rain in air below 40 % humidity */
    WEATHER_MARK_BRIGHT,    /* above 1.1 of the clear sky for two hours */
    WEATHER_MARK_REJECTED,  /* limit, not a mark */
    WEATHER_MARK_RANGE,     /* outside weather_raw's range */
    WEATHER_MARK_DEWPOINT,  /* dew point more than 0.5 C above the temperature */
    WEATHER_MARK_STUCK,     /* the very same value for many hours */
    WEATHER_MARK_ABOVE_SKY, /* more radiation than the sun could give */
    WEATHER_MARK_DARK,      /* less than 0.03 of the clear sky all day long */
    WEATHER_MARK_NIGHT,     /* radiation with the sun below the horizon */
    WEATHER_MARK_SHIFTED,   /* radiation that follows the sun an hour or two off */
    WEATHER_MARKS,
};

/* Figures that checking and completing share; the last three our choices. */
#define WEATHER_MJ_A_W          0.0036 /* MJ/m2 in an hour of 1 W/m2 */
#define WEATHER_DEWPOINT_OVER_C 0.5    /* rounding of a saturated hour, not an error */
#define WEATHER_SKY_OVER        1.15   /* times the extraterrestrial: cloud edges, at most */
#define WEATHER_NIGHT_MOST_W_M2 10     /* offset of a sensor at night, at most */

/* Where a part of an hour comes from. */
struct weather_origin {
    size_t source; /* index into the caller's sources; WEATHER_NOBODY: the climate normals */
    enum weather_kind kind;
    int64_t issued_s;           /* 0 when not known */
    enum weather_mark mark;     /* doubts about it, below WEATHER_MARK_REJECTED */
    enum weather_mark replaces; /* why a better source's value was not taken; GOOD: none was */
    bool between;               /* interpolated between known hours */
};

#define WEATHER_NOBODY SIZE_MAX

/* The best that the sources say of an hour. */
struct weather_slot {
    struct weather_raw raw; /* kind and issued_s are not used */
    struct weather_origin origin[WEATHER_PARTS];
};

/* A slot of one source's hour. */
struct weather_slot weather_slot_of(const struct weather_raw *raw, size_t source);

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
    WEATHER_RADIATION_RANGE, /* from the day's highest and lowest temperature */
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
    double lead_h;       /* hours from issue to the hour; 0 when not a forecast */
    double normal_share; /* 0..1: how much of the normals is in temperature, humidity and wind */
    struct weather_origin origin[WEATHER_PARTS];
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

/* Share of a forecast in an hour still to come, the rest being the normals' [our choices]: all of
 * it while the document is younger than a day; then less for every day of lead beyond two, 1 -
 * (lead_d
 * - 2) / 6; of a document older than 3 days at most 0.3; none after 7. */
double weather_forecast_share(double age_h, double lead_h);

struct weather_task {
    const struct sun_site *site;
    const struct weather_normal *normals; /* 12, January first; NULL: none */
    const struct weather_slot *slots;     /* ascending, at most one an hour, gaps allowed */
    size_t slot_count;
    int64_t first_s; /* the hours first_s, first_s + 3600, ... */
    size_t count;
    int64_t now_s; /* forecasts of later hours fade with their age; 0: none does */
    /* Learnt from the site's own sensor, one a source: multiplies radiation that is not measured.
     * NULL: none. */
    const double *radiation_factors;
    size_t factor_count;
};

/* Completes hours. State gaps of up to 3 h between known hours are interpolated (cloud too,
 * radiation and rain never), longer ones and the tail come from the normals, which take over within
 * three hours and not at once. Radiation: the source's; from cloud; from the temperature range of
 * the day of mean solar time (FAO-56 eq 50, inland) when 20 of its hours are known; the normals'.
 * What is not the source's own measurement is multiplied by its factor, up to the clear sky.
 * A value outside its range counts as not known; so does radiation above 1.15 of the
 * extraterrestrial, and a dew point more than 0.5 C above the temperature. Slots of the day before
 * first_s help with the sky of the first night. Without normals a gap that cannot be filled gives
 * STATUS_NO_SOLUTION and *out is untouched beyond *filled hours. STATUS_RANGE: slots not ascending,
 * a site or time that sun_of_hour() refuses, a factor outside 0.3..3. */
MUST_USE enum status weather_complete(const struct weather_task *task, struct weather_hour *out,
                                      size_t *filled);

#endif
