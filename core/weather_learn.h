/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the nursery's own measurements say about its forecasts: lasting offsets that are taken off
 * the hours to come, an hour's shift in a radiation sensor, how far two sources are apart, and how
 * well past forecasts did.
 */
#ifndef PERCHD_CORE_WEATHER_LEARN_H
#define PERCHD_CORE_WEATHER_LEARN_H

#include "weather_check.h"

/* Finds the shift at which hours of radiation follow the sun best, by the correlation with the
 * clear-sky radiation at lags of -2..2 h. *lag_h is the best one: 1 when the values stand an hour
 * too late. 0 as long as no other beats 0 by 0.02 [our choice]: cloud alone does not do that over
 * days. STATUS_NO_SOLUTION: fewer than 60 hours with radiation known, or no variation (polar
 * night). STATUS_RANGE: hours not ascending, a site or time out of range. */
MUST_USE enum status weather_radiation_lag(const struct sun_site *site,
                                           const struct weather_slot *slots, size_t count,
                                           int *lag_h);

struct weather_learnt {
    double radiation_factor;   /* measured / estimated over up to 3 weeks, 0.7..1.3; 1: not known */
    int radiation_days;        /* that it rests on; 0: too few */
    double temperature_bias_c; /* forecast minus measured over the last 72 h, -4..4 */
    double dewpoint_bias_c;
    double humidity_bias_pct;
    double radiation_ratio; /* measured / forecast over the last 72 h; NAN: not known */
    double wind_ratio;      /* measured / forecast, 0.4..1.6; 1: not known */
    int hours;              /* of the last 72 with temperature and humidity measured; below 48 the
                             * biases and ratios are not known: 0 and 1 */
    double normal_factor;   /* of the normals' reference ET: half what the last 3 days measured over
                             * what the normals say of them, half 1; 0.5..1.6; 1: not known */
};

#define WEATHER_LEARN_HOURS 48

/* Compares measured hours (slots whose parts are WEATHER_MEASURED) with hours completed without
 * them, and with the normals (NULL: none). Both cover the time before now_s; hours ascending and
 * contiguous. What cannot be learnt has the neutral value. */
MUST_USE enum status weather_learn(const struct sun_site *site,
                                   const struct weather_normal *normals,
                                   const struct weather_slot *slots, size_t slot_count,
                                   const struct weather_hour *without, size_t hour_count,
                                   int64_t now_s, struct weather_learnt *out);

/* Takes the lasting errors off what is forecast: temperature, dew point and wind of the offers of
 * kind WEATHER_FORECAST, learnt[] being one a source. Measurements and analyses stay. */
void weather_learnt_apply(const struct weather_learnt *learnt, size_t source_count,
                          struct weather_offer *offers, size_t count);

/* A day's weather in figures, of hours that are complete. */
struct weather_day {
    double temperature_c; /* means */
    double dewpoint_c;
    double wind_2m_m_s;
    double radiation_mj_m2; /* sums */
    double rain_mm;
    double et0_mm;
};

/* hours[0..count): a local day has 23 to 25. STATUS_RANGE: count not 1..26, an hour that
 * et0_of_hour() refuses. */
MUST_USE enum status weather_day_of(const struct sun_site *site, const struct weather_hour *hours,
                                    size_t count, struct weather_day *out);

/* How two sources disagree about a day: bits. Limits are our choices: mean temperature 2.5 C, dew
 * point 3 C, wind by a factor of 1.8 and 1 m/s, radiation by 25 % and 3 MJ/m2, rain 5 mm against
 * less than 1, reference ET by 1 mm or by 25 % and 0.3 mm. */
enum weather_differs {
    WEATHER_DIFFERS_TEMPERATURE = 1,
    WEATHER_DIFFERS_DEWPOINT = 2,
    WEATHER_DIFFERS_WIND = 4,
    WEATHER_DIFFERS_RADIATION = 8,
    WEATHER_DIFFERS_RAIN = 16,
    WEATHER_DIFFERS_ET0 = 32,
};
unsigned weather_day_differs(const struct weather_day *a, const struct weather_day *b);

/* Leads that are told apart, in days: 0 is the day of issue. */
#define WEATHER_LEADS 10

/* A past day's forecast of a lead beside what came. */
struct weather_trial {
    int lead_d;
    double age_d; /* of the day, before now, >= 0 */
    struct weather_day forecast, came;
};

struct weather_skill {
    int trials;
    double et0_bias_mm; /* forecast minus came */
    double et0_mae_mm;
    double et0_rmse_mm;
    double temperature_bias_c;
    double radiation_bias_pct;
    double wind_ratio;                      /* came / forecast, of sums */
    int rain_hits, rain_misses, rain_false; /* days of 1 mm or more */
    double et0_sd_mm;                       /* to plan with, see weather_skill_of() */
};

/* Sums trials up by lead, each weighted by exp(-age / 60 d). The spread to plan with is the root
 * mean square error, at least 0.7 of the prior of that lead, from ten trials on; until then the
 * prior: 0.8, 0.8, 0.9, 0.9, 1.0, 1.0, 1.1, 1.1, 1.2, 1.2 mm a day [our choices, in line with
 * published daily errors of 0.6-1.0 mm: COSMO over four countries 2020 (0.68), GFS over Chile 2024
 * (0.59-0.98)]. Trials of other leads or with values that are not finite are passed over. */
void weather_skill_of(const struct weather_trial *trials, size_t count,
                      struct weather_skill skill[WEATHER_LEADS]);

/* The prior above; leads beyond the last have the last's. */
double weather_prior_sd_mm(int lead_d);

#endif
