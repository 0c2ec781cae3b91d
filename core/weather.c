/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "weather.h"

#include <math.h>

#include "air.h"

#define PI 3.14159265358979323846

static const double HIGH_CLOUD_WEIGHT = 0.45; /* our choice: cirrus lets most radiation through */
static const double WARMEST_SOLAR_H = 15;     /* our choice, between 14 and 15 in most sources */
static const double EARLIEST_COLDEST_H = 3;   /* our choice, for days when the sun hardly sets */
static const double LATEST_COLDEST_H = 9;     /* our choice, for days when it hardly rises */
static const double RATIO_LEAST = 0.3;        /* ASCE-EWRI 2005, hourly */

double weather_clear_ratio(double cloud_fraction)
{
    return sun_clear_ratio_from_cloud(100 * cloud_fraction);
}

static bool percent_ok(double pct)
{
    return status_within(pct, 0, 100);
}

double weather_cloud_fraction(const struct weather_raw *raw)
{
    if (percent_ok(raw->cloud_low_pct) && percent_ok(raw->cloud_mid_pct) &&
        percent_ok(raw->cloud_high_pct))
        return 1 - (1 - raw->cloud_low_pct / 100) * (1 - raw->cloud_mid_pct / 100) *
                       (1 - HIGH_CLOUD_WEIGHT * raw->cloud_high_pct / 100);
    return percent_ok(raw->cloud_pct) ? raw->cloud_pct / 100 : NAN;
}

/* --- climate normals ---------------------------------------------------------------------- */

static int month_days(int year, int month)
{
    struct civil_date first = {year, month, 1};
    struct civil_date next = {month == 12 ? year + 1 : year, month == 12 ? 1 : month + 1, 1};
    return (int)(civil_days(next) - civil_days(first));
}

/* Months of the normals to either side of a moment of mean solar time, and the share of the
 * later one: 0 in the middle of the earlier month, 1 in the middle of the later. */
static double month_blend(double solar_s, int *earlier, int *later)
{
    double days = solar_s / CIVIL_DAY_S;
    struct civil_date date = civil_from_days((int64_t)floor(days));
    double into = date.day - 1 + (days - floor(days));
    double length = month_days(date.year, date.month);
    int this_month = date.month - 1;
    int step = into < length / 2 ? -1 : 1;
    int other = (this_month + step + 12) % 12;
    /* Only February's length depends on the year; the neighbour's is taken from this year. */
    double between = (length + month_days(date.year, other + 1)) / 2;
    double share = fabs(into - length / 2) / between; /* of the other month */
    *earlier = step < 0 ? other : this_month;
    *later = step < 0 ? this_month : other;
    return step < 0 ? 1 - share : share;
}

static double blend(double a, double b, double share_of_b)
{
    return a + (b - a) * share_of_b;
}

static struct weather_normal normal_at(const struct weather_normal normals[12], double solar_s)
{
    int i = 0;
    int k = 0;
    double share = month_blend(solar_s, &i, &k);
    const struct weather_normal *a = &normals[i];
    const struct weather_normal *b = &normals[k];
    struct weather_normal n = {
        .temperature_max_c = blend(a->temperature_max_c, b->temperature_max_c, share),
        .temperature_min_c = blend(a->temperature_min_c, b->temperature_min_c, share),
        .dewpoint_c = blend(a->dewpoint_c, b->dewpoint_c, share),
        .wind_2m_m_s = blend(a->wind_2m_m_s, b->wind_2m_m_s, share),
        .clear_ratio = blend(a->clear_ratio, b->clear_ratio, share),
    };
    return n;
}

static bool normal_ok(const struct weather_normal *n)
{
    return status_within(n->temperature_max_c, -60, 60) &&
           status_within(n->temperature_min_c, -60, 60) && status_within(n->dewpoint_c, -70, 40) &&
           status_within(n->wind_2m_m_s, 0, 75) && status_within(n->clear_ratio, 0, 1);
}

/* Two half cosines: up from the coldest moment (sunrise) to the warmest, down again to the next
 * sunrise, so that the day's mean is (max + min) / 2 at every day length. The form is the one of
 * de Wit (1978) as compared by Reicosky et al. (1989, Agric. For. Meteorol. 46), from memory;
 * the warmest hour is our choice. */
static double temperature_at(const struct weather_normal *n, const struct sun_hour *sun)
{
    double solar_h = 12 + sun->hour_angle_rad * 12 / PI;
    double coldest_h = 12 - sun->sunset_angle_rad * 12 / PI;
    coldest_h = fmin(fmax(coldest_h, EARLIEST_COLDEST_H), LATEST_COLDEST_H);
    double mean = (n->temperature_max_c + n->temperature_min_c) / 2;
    double amplitude = (n->temperature_max_c - n->temperature_min_c) / 2;
    double rising_h = WARMEST_SOLAR_H - coldest_h;
    if (solar_h >= coldest_h && solar_h < WARMEST_SOLAR_H)
        return mean - amplitude * cos(PI * (solar_h - coldest_h) / rising_h);
    double since_h = solar_h - WARMEST_SOLAR_H + (solar_h < WARMEST_SOLAR_H ? 24 : 0);
    return mean + amplitude * cos(PI * since_h / (24 - rising_h));
}

static double clamp_ratio(double ratio)
{
    return fmin(fmax(ratio, RATIO_LEAST), 1);
}

enum status weather_from_normals(const struct sun_site *site,
                                 const struct weather_normal normals[12], int64_t start_s,
                                 struct weather_hour *out)
{
    struct sun_hour sun;
    enum status status = sun_of_hour(site, start_s, &sun);
    if (status != STATUS_OK)
        return status;
    double solar_s = (double)start_s + CIVIL_HOUR_S / 2.0 + site->longitude_deg * 240;
    struct weather_normal n = normal_at(normals, solar_s);
    if (!normal_ok(&n))
        return STATUS_RANGE;
    if (n.temperature_min_c > n.temperature_max_c)
        return STATUS_IMPOSSIBLE;
    struct weather_hour hour = {
        .start_s = start_s,
        .temperature_c = temperature_at(&n, &sun),
        .wind_2m_m_s = n.wind_2m_m_s,
        .radiation_mj_m2 = sun.clear_sky_mj_m2 * n.clear_ratio,
        .clear_ratio = clamp_ratio(n.clear_ratio),
        .rain_mm = 0,
        .rain_probability = 0,
        .kind = WEATHER_NORMAL,
        .rain_kind = WEATHER_NORMAL,
        .radiation = WEATHER_RADIATION_NORMAL,
        .lead_h = 0,
    };
    hour.vapour_pressure_kpa = air_saturation_kpa(fmin(n.dewpoint_c, hour.temperature_c));
    *out = hour;
    return STATUS_OK;
}
