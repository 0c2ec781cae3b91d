/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check.h"

#include <math.h>
#include <stdbool.h>

#include "core/air.h"
#include "core/sun.h"
#include "core/weather.h"

/* 2031-05-04T00:00:00Z, and the middle of that July (15.5 days into it). */
static const int64_t MAY_4 = 1935619200;
static const int64_t JULY_16_NOON = 1941969600;

static const struct sun_site INLAND = {50, 0, 100};

static const struct weather_normal NORMALS[12] = {
    {4, -2, -3, 3.0, 0.45, 60, 12}, {6, -1, -2, 3.0, 0.50, 50, 10}, {10, 1, 0, 3.1, 0.55, 50, 10},
    {15, 4, 3, 2.8, 0.60, 45, 9},   {19, 8, 7, 2.5, 0.62, 60, 9},   {22, 11, 10, 2.4, 0.64, 65, 9},
    {25, 13, 12, 2.2, 0.66, 60, 8}, {24, 13, 12, 2.2, 0.66, 60, 8}, {20, 10, 9, 2.3, 0.60, 55, 8},
    {14, 6, 6, 2.6, 0.55, 60, 9},   {8, 2, 2, 2.8, 0.45, 65, 11},   {5, -1, -1, 3.0, 0.42, 65, 12},
};

static struct weather_raw raw_at(int64_t start_s)
{
    struct weather_raw raw = WEATHER_RAW_EMPTY;
    raw.start_s = start_s;
    raw.issued_s = MAY_4 - 3600;
    raw.temperature_c = 15;
    raw.dewpoint_c = 8;
    raw.humidity_pct = 50; /* disagrees with the dew point on purpose */
    raw.wind_10m_m_s = 3.2;
    raw.cloud_pct = 40;
    raw.rain_mm = 0.4;
    raw.rain_probability = 0.3;
    return raw;
}

/* As if one source gave all hours. */
static enum status complete_raw(const struct sun_site *site, const struct weather_normal *normals,
                                const struct weather_raw *raw, size_t raw_count, int64_t first_s,
                                size_t count, struct weather_hour *out, size_t *filled)
{
    struct weather_slot slots[128];
    assert_true(raw_count <= 128);
    for (size_t i = 0; i < raw_count; i++)
        slots[i] = weather_slot_of(&raw[i], 0);
    struct weather_task task = {.site = site,
                                .normals = normals,
                                .slots = slots,
                                .slot_count = raw_count,
                                .first_s = first_s,
                                .count = count};
    return weather_complete(&task, out, filled);
}

static struct weather_hour complete_one(const struct weather_raw *raw, int64_t start_s)
{
    struct weather_hour hour;
    size_t filled = 0;
    assert_int_equal(complete_raw(&INLAND, NORMALS, raw, 1, start_s, 1, &hour, &filled), STATUS_OK);
    assert_int_equal(filled, 1);
    return hour;
}

/* --- cloud -------------------------------------------------------------------------------- */

static void published_larson_linear_cloud_form(void **state)
{
    (void)state;
    /* Larson et al. 2016 as implemented with an offset of 35 %: G = Gclear (0.35 + 0.65 (1 - C)) */
    check_near(weather_clear_ratio(0), 1.00, 1e-12, "clear");
    check_near(weather_clear_ratio(0.4), 0.74, 1e-12, "C 0.4");
    check_near(weather_clear_ratio(1), 0.35, 1e-12, "overcast");
}

static void weather_clear_ratio_outside_range_is_nan(void **state)
{
    (void)state;
    const double bad[] = {-0.01, 1.01, NAN, INFINITY, -INFINITY, 40};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++)
        assert_true(isnan(weather_clear_ratio(bad[i])));
}

static void weather_cloud_fraction_layers_go_before_total(void **state)
{
    (void)state;
    struct weather_raw raw = raw_at(MAY_4);
    raw.cloud_low_pct = 50;
    raw.cloud_mid_pct = 20;
    raw.cloud_high_pct = 100;
    /* 1 - 0.5 * 0.8 * 0.55 */
    check_near(weather_cloud_fraction(&raw), 0.78, 1e-12, "layers");
    raw.cloud_mid_pct = NAN;
    check_near(weather_cloud_fraction(&raw), 0.40, 1e-12, "a layer missing: total");
    raw.cloud_pct = 101;
    assert_true(isnan(weather_cloud_fraction(&raw)));
    raw.cloud_mid_pct = 120;
    assert_true(isnan(weather_cloud_fraction(&raw)));
}

/* --- normals ------------------------------------------------------------------------------ */

static struct weather_hour normal_at(const struct sun_site *site, int64_t start_s)
{
    struct weather_hour hour;
    assert_int_equal(weather_from_normals(site, NORMALS, start_s, &hour), STATUS_OK);
    return hour;
}

static void weather_from_normals_mid_month_day_reproduces_extremes_and_mean(void **state)
{
    (void)state;
    double sum = 0;
    double highest = -100;
    double lowest = 100;
    int warmest = -1;
    int coldest = -1;
    for (int h = 0; h < 24; h++) {
        double t = normal_at(&INLAND, JULY_16_NOON - 43200 + h * 3600).temperature_c;
        sum += t;
        if (t > highest) {
            highest = t;
            warmest = h;
        }
        if (t < lowest) {
            lowest = t;
            coldest = h;
        }
    }
    /* FAO-56 eq 9: the day's mean is (max + min) / 2; an hour's value is taken at its middle,
     * so it stands at most half an hour beside the extreme (1 - cos(pi/22) of 6 C). */
    check_near(sum / 24, 19, 0.02, "mean");
    check_near(highest, 25, 0.1, "highest");
    check_near(lowest, 13, 0.1, "lowest");
    assert_in_range(warmest, 14, 15);
    assert_in_range(coldest, 3, 4); /* sunrise at 50 N in mid July: about 4 h */
}

static void weather_from_normals_middle_of_each_month_is_that_month(void **state)
{
    (void)state;
    for (int month = 1; month <= 12; month++) {
        struct civil_date date = {2031, month, month == 2 ? 15 : 16};
        int64_t noon = civil_days(date) * 86400 + 43200;
        if (month == 2 || month == 4 || month == 6 || month == 9 || month == 11)
            noon -= 43200; /* an even number of days has its middle at midnight */
        struct weather_hour hour = normal_at(&INLAND, noon - 3600);
        check_near(hour.wind_2m_m_s, NORMALS[month - 1].wind_2m_m_s, 0.002, "wind");
        check_near(hour.clear_ratio, NORMALS[month - 1].clear_ratio, 0.001, "ratio");
    }
}

static void weather_from_normals_months_turn_by_solar_date(void **state)
{
    (void)state;
    /* The middle of July comes half a day earlier at 180 E, and half a day later at 180 W. */
    struct sun_site east = {10, 180, 0};
    struct sun_site west = {10, -180, 0};
    int64_t middle_s = JULY_16_NOON - 1800; /* the hour whose own middle is noon */
    check_near(normal_at(&east, middle_s - 43200).wind_2m_m_s, 2.2, 1e-9, "180 E");
    check_near(normal_at(&west, middle_s + 43200).wind_2m_m_s, 2.2, 1e-9, "180 W");
    assert_true(normal_at(&west, middle_s).wind_2m_m_s > 2.2005); /* still on from June's 2.4 */
}

static void weather_from_normals_between_months_blends(void **state)
{
    (void)state;
    /* From the middle of December (16 d 12 h) to that of January there are 31 days: at the turn
     * of the year both count half. */
    struct civil_date date = {2032, 1, 1};
    struct weather_hour hour = normal_at(&INLAND, civil_days(date) * 86400);
    check_near(hour.clear_ratio, (0.42 + 0.45) / 2, 0.0005, "ratio");
}

static void weather_from_normals_year_has_no_jumps(void **state)
{
    (void)state;
    struct civil_date date = {2032, 1, 1}; /* a leap year */
    int64_t first = civil_days(date) * 86400;
    struct weather_hour before = normal_at(&INLAND, first - 3600);
    for (int h = 0; h < 366 * 24; h++) {
        struct weather_hour hour = normal_at(&INLAND, first + h * 3600);
        assert_true(fabs(hour.temperature_c - before.temperature_c) < 2.5);
        assert_true(fabs(hour.wind_2m_m_s - before.wind_2m_m_s) < 0.01);
        assert_true(fabs(hour.clear_ratio - before.clear_ratio) < 0.01);
        assert_true(hour.vapour_pressure_kpa <= air_saturation_kpa(hour.temperature_c));
        before = hour;
    }
}

static void weather_from_normals_warmest_hour_follows_the_sun_not_utc(void **state)
{
    (void)state;
    const double longitudes[] = {-180, -120, 0, 75, 180};
    for (size_t i = 0; i < sizeof longitudes / sizeof *longitudes; i++) {
        struct sun_site site = {35, longitudes[i], 0};
        int64_t warmest_s = JULY_16_NOON - 43200 + 15 * 3600 - (int64_t)(longitudes[i] * 240);
        double there = normal_at(&site, warmest_s - 1800).temperature_c;
        assert_true(there >= normal_at(&site, warmest_s - 3 * 3600).temperature_c);
        assert_true(there >= normal_at(&site, warmest_s + 2 * 3600).temperature_c);
        check_near(there, 25, 0.1, "warmest");
    }
}

static void weather_from_normals_dew_point_is_capped_at_temperature(void **state)
{
    (void)state;
    struct weather_normal humid[12];
    memcpy(humid, NORMALS, sizeof humid);
    for (int i = 0; i < 12; i++)
        humid[i].dewpoint_c = humid[i].temperature_max_c - 1;
    struct weather_hour hour;
    assert_int_equal(weather_from_normals(&INLAND, humid, MAY_4, &hour), STATUS_OK);
    check_near(hour.vapour_pressure_kpa, air_saturation_kpa(hour.temperature_c), 1e-12,
               "saturated at night");
    assert_int_equal(weather_from_normals(&INLAND, humid, MAY_4 + 15 * 3600, &hour), STATUS_OK);
    assert_true(hour.vapour_pressure_kpa < air_saturation_kpa(hour.temperature_c));
}

static void weather_from_normals_radiation_is_clear_sky_by_ratio_without_rain(void **state)
{
    (void)state;
    struct sun_hour sun;
    assert_int_equal(sun_of_hour(&INLAND, JULY_16_NOON, &sun), STATUS_OK);
    struct weather_hour hour = normal_at(&INLAND, JULY_16_NOON);
    check_near(hour.radiation_mj_m2, sun.clear_sky_mj_m2 * 0.66, 1e-3, "noon");
    assert_int_equal(hour.radiation, WEATHER_RADIATION_NORMAL);
    assert_int_equal(hour.kind, WEATHER_NORMAL);
    assert_int_equal(hour.rain_kind, WEATHER_NORMAL);
    assert_true(hour.rain_mm == 0 && hour.rain_probability == 0 && hour.lead_h == 0);
}

static void weather_from_normals_polar_day_and_night_stay_within_extremes(void **state)
{
    (void)state;
    const double latitudes[] = {78, -78, 90, -90};
    for (size_t i = 0; i < 4; i++) {
        struct sun_site site = {latitudes[i], 15, 0};
        for (int64_t t = MAY_4 - 180 * 86400; t < MAY_4 + 185 * 86400; t += 3600) {
            struct weather_hour hour = normal_at(&site, t);
            assert_true(hour.temperature_c >= -2 && hour.temperature_c <= 25);
            assert_true(hour.radiation_mj_m2 >= 0 && hour.radiation_mj_m2 < 5);
        }
    }
}

static void weather_from_normals_bad_values_are_refused(void **state)
{
    (void)state;
    struct weather_hour hour = {.temperature_c = 7};
    for (int field = 0; field < 5; field++) {
        struct weather_normal bad[12];
        memcpy(bad, NORMALS, sizeof bad);
        double *values[] = {&bad[4].temperature_max_c, &bad[4].temperature_min_c,
                            &bad[4].dewpoint_c, &bad[4].wind_2m_m_s, &bad[4].clear_ratio};
        *values[field] = NAN;
        assert_int_equal(weather_from_normals(&INLAND, bad, MAY_4, &hour), STATUS_RANGE);
        *values[field] = 1e9;
        assert_int_equal(weather_from_normals(&INLAND, bad, MAY_4, &hour), STATUS_RANGE);
    }
    struct weather_normal crossed[12];
    memcpy(crossed, NORMALS, sizeof crossed);
    for (int i = 0; i < 12; i++)
        crossed[i].temperature_min_c = 30;
    assert_int_equal(weather_from_normals(&INLAND, crossed, MAY_4, &hour), STATUS_IMPOSSIBLE);
    struct sun_site nowhere = {95, 0, 0};
    assert_int_equal(weather_from_normals(&nowhere, NORMALS, MAY_4, &hour), STATUS_RANGE);
    assert_int_equal(weather_from_normals(&INLAND, NORMALS, INT64_MAX, &hour), STATUS_RANGE);
    assert_int_equal(weather_from_normals(&INLAND, NORMALS, INT64_MIN, &hour), STATUS_RANGE);
    assert_true(hour.temperature_c == 7);
}

/* --- one hour ----------------------------------------------------------------------------- */

static void weather_complete_known_hour_keeps_its_values(void **state)
{
    (void)state;
    struct weather_raw raw = raw_at(MAY_4 + 12 * 3600);
    struct weather_hour hour = complete_one(&raw, raw.start_s);
    struct sun_hour sun;
    assert_int_equal(sun_of_hour(&INLAND, raw.start_s, &sun), STATUS_OK);
    assert_true(hour.start_s == raw.start_s);
    check_near(hour.temperature_c, 15, 0, "temperature");
    check_near(hour.vapour_pressure_kpa, air_saturation_kpa(8), 1e-12, "dew point first");
    check_near(hour.radiation_mj_m2, 0.74 * sun.clear_sky_mj_m2, 1e-12, "radiation from cloud");
    check_near(hour.clear_ratio, 0.74, 1e-12, "ratio");
    check_near(hour.rain_mm, 0.4, 0, "rain");
    check_near(hour.rain_probability, 0.3, 0, "probability");
    check_near(hour.lead_h, 13, 1e-12, "lead");
    assert_int_equal(hour.radiation, WEATHER_RADIATION_CLOUD);
    assert_int_equal(hour.kind, WEATHER_FORECAST);
    assert_int_equal(hour.rain_kind, WEATHER_FORECAST);
}

static void published_fao56_example_14_wind_from_10_m(void **state)
{
    (void)state;
    struct weather_raw raw = raw_at(MAY_4); /* 3.2 m/s at 10 m: FAO-56 example 14, 2.4 m/s */
    check_near(complete_one(&raw, MAY_4).wind_2m_m_s, 2.4, 0.05, "FAO-56 example 14");
}

static void weather_complete_humidity_serves_without_dew_point(void **state)
{
    (void)state;
    struct weather_raw raw = raw_at(MAY_4);
    raw.dewpoint_c = NAN;
    check_near(complete_one(&raw, MAY_4).vapour_pressure_kpa, air_saturation_kpa(15) / 2, 1e-12,
               "50 % of saturation");
}

static void weather_complete_dew_point_above_temperature_is_dropped_or_capped(void **state)
{
    (void)state;
    struct weather_raw raw = raw_at(MAY_4);
    raw.dewpoint_c = 20;
    check_near(complete_one(&raw, MAY_4).vapour_pressure_kpa, air_saturation_kpa(15) / 2, 1e-12,
               "5 C above: the humidity instead");
    raw.dewpoint_c = 15.4;
    check_near(complete_one(&raw, MAY_4).vapour_pressure_kpa, air_saturation_kpa(15), 1e-12,
               "0.4 C above: saturated");
}

static void weather_complete_given_radiation_goes_before_cloud(void **state)
{
    (void)state;
    struct weather_raw raw = raw_at(MAY_4 + 12 * 3600);
    raw.radiation_w_m2 = 500;
    struct weather_hour hour = complete_one(&raw, raw.start_s);
    check_near(hour.radiation_mj_m2, 1.8, 1e-12, "500 W/m2 for an hour");
    assert_int_equal(hour.radiation, WEATHER_RADIATION_GIVEN);
    raw.cloud_pct = NAN;
    struct sun_hour sun;
    assert_int_equal(sun_of_hour(&INLAND, raw.start_s, &sun), STATUS_OK);
    hour = complete_one(&raw, raw.start_s);
    check_near(hour.clear_ratio, 1.8 / sun.clear_sky_mj_m2, 1e-12, "its own ratio by high sun");
}

static void weather_complete_impossible_radiation_is_replaced(void **state)
{
    (void)state;
    const struct {
        int hour;
        double w_m2;
        enum weather_radiation expected;
    } rows[] = {
        {12, 1300, WEATHER_RADIATION_CLOUD}, /* above 1.15 of what arrives over the air */
        {12, -5, WEATHER_RADIATION_CLOUD},   {12, INFINITY, WEATHER_RADIATION_CLOUD},
        {0, 11, WEATHER_RADIATION_CLOUD}, /* at night */
        {0, 9, WEATHER_RADIATION_GIVEN},  /* a sensor's offset */
        {12, 4000, WEATHER_RADIATION_CLOUD},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct weather_raw raw = raw_at(MAY_4 + rows[i].hour * 3600);
        raw.radiation_w_m2 = rows[i].w_m2;
        assert_int_equal(complete_one(&raw, raw.start_s).radiation, rows[i].expected);
    }
}

static void weather_complete_without_any_sky_uses_the_normal_ratio(void **state)
{
    (void)state;
    struct weather_raw raw = raw_at(MAY_4 + 12 * 3600);
    raw.cloud_pct = NAN;
    struct weather_hour hour = complete_one(&raw, raw.start_s);
    struct weather_hour normal = normal_at(&INLAND, raw.start_s);
    check_near(hour.radiation_mj_m2, normal.radiation_mj_m2, 1e-12, "radiation");
    assert_int_equal(hour.radiation, WEATHER_RADIATION_NORMAL);
    assert_int_equal(hour.kind, WEATHER_FORECAST); /* the air is the feed's all the same */
    raw.radiation_w_m2 = 4000;
    assert_int_equal(complete_one(&raw, raw.start_s).radiation, WEATHER_RADIATION_NORMAL);
}

static void weather_complete_missing_probability_is_filled_by_kind(void **state)
{
    (void)state;
    struct weather_raw raw = raw_at(MAY_4);
    raw.rain_probability = NAN;
    check_near(complete_one(&raw, MAY_4).rain_probability, 0.5, 0, "forecast");
    raw.kind = WEATHER_MEASURED;
    check_near(complete_one(&raw, MAY_4).rain_probability, 1, 0, "measured");
    check_near(complete_one(&raw, MAY_4).lead_h, 0, 0, "measured: no lead");
    raw.rain_mm = 0;
    check_near(complete_one(&raw, MAY_4).rain_probability, 0, 0, "dry");
}

static void weather_complete_bad_values_count_as_not_known(void **state)
{
    (void)state;
    struct weather_hour normal = normal_at(&INLAND, MAY_4);
    struct weather_raw raw = raw_at(MAY_4);
    raw.temperature_c = 2000;
    struct weather_hour hour = complete_one(&raw, MAY_4);
    check_near(hour.temperature_c, normal.temperature_c, 1e-12, "temperature");
    check_near(hour.vapour_pressure_kpa, normal.vapour_pressure_kpa, 1e-12,
               "humidity of the same source as the temperature");
    check_near(hour.wind_2m_m_s, 2.4, 0.05, "wind stays the feed's");
    assert_int_equal(hour.kind, WEATHER_NORMAL);
    raw = raw_at(MAY_4);
    raw.wind_10m_m_s = -3;
    check_near(complete_one(&raw, MAY_4).wind_2m_m_s, normal.wind_2m_m_s, 1e-12, "wind");
    raw = raw_at(MAY_4);
    raw.rain_mm = 900;
    assert_true(complete_one(&raw, MAY_4).rain_mm == 0);
    assert_int_equal(complete_one(&raw, MAY_4).rain_kind, WEATHER_NORMAL);
    raw.rain_mm = NAN;
    assert_int_equal(complete_one(&raw, MAY_4).rain_kind, WEATHER_NORMAL);
}

/* --- gaps --------------------------------------------------------------------------------- */

/* Two known hours, `missing` unknown ones between them. */
static void complete_gap(int missing, const struct weather_normal *normals,
                         struct weather_hour out[8], size_t *filled, enum status *status)
{
    struct weather_raw raw[2] = {raw_at(MAY_4), raw_at(MAY_4 + (missing + 1) * 3600)};
    raw[1].temperature_c = 19;
    raw[1].dewpoint_c = 10;
    raw[1].wind_10m_m_s = 6.4;
    raw[1].cloud_pct = 80;
    raw[1].issued_s = MAY_4 - 7200;
    *status = complete_raw(&INLAND, normals, raw, 2, MAY_4, (size_t)missing + 2, out, filled);
}

static void weather_complete_gap_of_three_hours_is_interpolated(void **state)
{
    (void)state;
    struct weather_hour out[8];
    size_t filled = 0;
    enum status status = STATUS_RANGE;
    complete_gap(3, NULL, out, &filled, &status);
    assert_int_equal(status, STATUS_OK);
    assert_int_equal(filled, 5);
    check_near(out[1].temperature_c, 16, 1e-12, "a quarter of the way");
    check_near(out[3].temperature_c, 18, 1e-12, "three quarters");
    check_near(out[2].vapour_pressure_kpa, (air_saturation_kpa(8) + air_saturation_kpa(10)) / 2,
               1e-12, "vapour");
    check_near(out[2].wind_2m_m_s, (out[0].wind_2m_m_s + out[4].wind_2m_m_s) / 2, 1e-12, "wind");
    check_near(out[2].clear_ratio, weather_clear_ratio(0.6), 1e-12, "cloud, not radiation");
    check_near(out[2].lead_h, 4, 1e-12, "lead of the older issue");
    for (int i = 1; i <= 3; i++) {
        assert_int_equal(out[i].kind, WEATHER_FORECAST);
        assert_true(out[i].rain_mm == 0); /* never interpolated */
        assert_int_equal(out[i].rain_kind, WEATHER_NORMAL);
    }
}

static void weather_complete_gap_of_four_hours_comes_from_normals(void **state)
{
    (void)state;
    struct weather_hour out[8];
    size_t filled = 0;
    enum status status = STATUS_RANGE;
    complete_gap(4, NORMALS, out, &filled, &status);
    assert_int_equal(status, STATUS_OK);
    for (int i = 1; i <= 4; i++) {
        double normal_c = normal_at(&INLAND, MAY_4 + i * 3600).temperature_c;
        double last_c = out[0].temperature_c - normal_at(&INLAND, MAY_4).temperature_c;
        assert_int_equal(out[i].kind, WEATHER_NORMAL);
        check_near(out[i].normal_share, 1, 0, "all of it");
        /* three hours lean to the last known one */
        check_near(out[i].temperature_c, normal_c + last_c * (1 - i / 4.0), 1e-12, "normal");
    }
    assert_int_equal(out[5].kind, WEATHER_FORECAST);
}

static void weather_complete_gap_without_normals_stops_there(void **state)
{
    (void)state;
    struct weather_hour out[8];
    memset(out, 0x55, sizeof out);
    struct weather_hour untouched = out[1];
    size_t filled = 9;
    enum status status = STATUS_OK;
    complete_gap(4, NULL, out, &filled, &status);
    assert_int_equal(status, STATUS_NO_SOLUTION);
    assert_int_equal(filled, 1);
    assert_memory_equal(&out[1], &untouched, sizeof untouched);
}

static void weather_complete_gap_of_one_variable_leaves_the_others(void **state)
{
    (void)state;
    struct weather_raw raw[5];
    for (int i = 0; i < 5; i++) {
        raw[i] = raw_at(MAY_4 + i * 3600);
        raw[i].temperature_c = 15 + i;
    }
    raw[1].wind_10m_m_s = raw[2].wind_10m_m_s = NAN;
    raw[3].wind_10m_m_s = 6.2;
    struct weather_hour out[5];
    size_t filled = 0;
    assert_int_equal(complete_raw(&INLAND, NULL, raw, 5, MAY_4, 5, out, &filled), STATUS_OK);
    check_near(out[1].wind_2m_m_s, air_wind_2m_m_s(4.2, 10), 1e-9, "a third of the way");
    check_near(out[1].temperature_c, 16, 0, "own temperature");
    check_near(out[1].rain_mm, 0.4, 0, "own rain");
}

static void weather_complete_interpolates_from_before_the_first_hour(void **state)
{
    (void)state;
    struct weather_raw raw[2] = {raw_at(MAY_4 - 3600), raw_at(MAY_4 + 3600)};
    raw[1].temperature_c = 17;
    struct weather_hour out;
    size_t filled = 0;
    assert_int_equal(complete_raw(&INLAND, NULL, raw, 2, MAY_4, 1, &out, &filled), STATUS_OK);
    check_near(out.temperature_c, 16, 1e-12, "between");
}

static void weather_complete_tail_and_head_come_from_normals(void **state)
{
    (void)state;
    struct weather_raw raw = raw_at(MAY_4 + 3600);
    struct weather_hour out[3];
    size_t filled = 0;
    assert_int_equal(complete_raw(&INLAND, NORMALS, &raw, 1, MAY_4, 3, out, &filled), STATUS_OK);
    assert_int_equal(out[0].kind, WEATHER_NORMAL);
    assert_int_equal(out[1].kind, WEATHER_FORECAST);
    assert_int_equal(out[2].kind, WEATHER_NORMAL);
}

static void weather_complete_without_raw_is_all_normals(void **state)
{
    (void)state;
    struct weather_hour out[48];
    size_t filled = 0;
    assert_int_equal(complete_raw(&INLAND, NORMALS, NULL, 0, MAY_4, 48, out, &filled), STATUS_OK);
    assert_int_equal(filled, 48);
    for (int i = 0; i < 48; i++) {
        assert_int_equal(out[i].kind, WEATHER_NORMAL);
        assert_true(out[i].start_s == MAY_4 + i * 3600);
    }
    assert_int_equal(complete_raw(&INLAND, NULL, NULL, 0, MAY_4, 0, out, &filled), STATUS_OK);
    assert_int_equal(filled, 0);
}

static void weather_complete_mixed_kinds_give_the_worst(void **state)
{
    (void)state;
    struct weather_raw raw[2] = {raw_at(MAY_4), raw_at(MAY_4 + 2 * 3600)};
    raw[0].kind = WEATHER_MEASURED;
    struct weather_hour out[3];
    size_t filled = 0;
    assert_int_equal(complete_raw(&INLAND, NULL, raw, 2, MAY_4, 3, out, &filled), STATUS_OK);
    assert_int_equal(out[0].kind, WEATHER_MEASURED);
    assert_int_equal(out[1].kind, WEATHER_FORECAST);
    assert_int_equal(out[0].rain_kind, WEATHER_MEASURED);
}

static void weather_complete_night_holds_the_ratio_seen_by_day(void **state)
{
    (void)state;
    /* Measured radiation without cloud: half of the clear sky by day, nothing at night. */
    struct weather_raw raw[24];
    for (int i = 0; i < 24; i++) {
        struct sun_hour sun;
        raw[i] = raw_at(MAY_4 + (i + 6) * 3600);
        raw[i].cloud_pct = NAN;
        assert_int_equal(sun_of_hour(&INLAND, raw[i].start_s, &sun), STATUS_OK);
        raw[i].radiation_w_m2 = sun.clear_sky_mj_m2 / 0.0036 / 2;
    }
    struct weather_hour out[6];
    size_t filled = 0;
    int64_t night_s = MAY_4 + 22 * 3600;
    assert_int_equal(complete_raw(&INLAND, NULL, raw, 24, night_s, 6, out, &filled), STATUS_OK);
    for (int i = 0; i < 6; i++)
        check_near(out[i].clear_ratio, 0.5, 1e-9, "held through the night");
}

static void weather_complete_night_without_sky_or_normals_is_dark(void **state)
{
    (void)state;
    struct weather_raw raw = raw_at(MAY_4);
    raw.cloud_pct = NAN;
    struct weather_hour out;
    size_t filled = 0;
    assert_int_equal(complete_raw(&INLAND, NULL, &raw, 1, MAY_4, 1, &out, &filled), STATUS_OK);
    assert_true(out.radiation_mj_m2 == 0);
    check_near(out.clear_ratio, 0.6, 0, "FAO-56 ch. 3 for nights nothing is known of");
    raw = raw_at(MAY_4 + 12 * 3600);
    raw.cloud_pct = NAN;
    assert_int_equal(complete_raw(&INLAND, NULL, &raw, 1, raw.start_s, 1, &out, &filled),
                     STATUS_NO_SOLUTION);
}

static void weather_complete_disorder_and_bad_site_are_refused(void **state)
{
    (void)state;
    struct weather_raw raw[2] = {raw_at(MAY_4 + 3600), raw_at(MAY_4)};
    struct weather_hour out;
    size_t filled = 3;
    assert_int_equal(complete_raw(&INLAND, NORMALS, raw, 2, MAY_4, 1, &out, &filled), STATUS_RANGE);
    assert_int_equal(filled, 0);
    raw[0] = raw[1];
    assert_int_equal(complete_raw(&INLAND, NORMALS, raw, 2, MAY_4, 1, &out, &filled), STATUS_RANGE);
    struct sun_site nowhere = {NAN, 0, 0};
    assert_int_equal(complete_raw(&nowhere, NORMALS, raw, 1, MAY_4, 1, &out, &filled),
                     STATUS_RANGE);
    assert_int_equal(complete_raw(&INLAND, NORMALS, NULL, 0, INT64_MAX - 5, 3, &out, &filled),
                     STATUS_RANGE);
}

static double any_double(uint64_t *seed)
{
    static const double odd[] = {NAN, INFINITY, -INFINITY, 0, -0.0, 1e308, -999, 9999, 32767};
    double pick = check_random(seed);
    return pick < 0.3 ? odd[(size_t)(pick / 0.3 * 9)] : check_between(seed, -80, 120);
}

static void weather_complete_random_raw_hours_give_only_sane_hours(void **state)
{
    (void)state;
    uint64_t seed = 20260501;
    for (int round = 0; round < 300; round++) {
        struct weather_raw raw[40];
        size_t count = 0;
        for (int i = 0; i < 40; i++) {
            if (check_random(&seed) < 0.3)
                continue;
            struct weather_raw r = {MAY_4 + i * 3600,
                                    (int64_t)check_between(&seed, 0, 2e9),
                                    (enum weather_kind)(int)check_between(&seed, 0, 4),
                                    any_double(&seed),
                                    any_double(&seed),
                                    any_double(&seed),
                                    any_double(&seed),
                                    any_double(&seed),
                                    any_double(&seed),
                                    any_double(&seed),
                                    any_double(&seed),
                                    any_double(&seed) * 10,
                                    any_double(&seed),
                                    any_double(&seed)};
            raw[count++] = r;
        }
        struct sun_site site = {check_between(&seed, -90, 90), check_between(&seed, -180, 180), 0};
        struct weather_hour out[40];
        size_t filled = 0;
        assert_int_equal(complete_raw(&site, NORMALS, raw, count, MAY_4, 40, out, &filled),
                         STATUS_OK);
        assert_int_equal(filled, 40);
        for (int i = 0; i < 40; i++) {
            const struct weather_hour *h = &out[i];
            assert_true(h->temperature_c >= -60 && h->temperature_c <= 60);
            assert_true(h->vapour_pressure_kpa >= 0 &&
                        h->vapour_pressure_kpa <= air_saturation_kpa(h->temperature_c));
            assert_true(h->wind_2m_m_s >= 0 && h->wind_2m_m_s <= 75);
            assert_true(h->radiation_mj_m2 >= 0 && h->radiation_mj_m2 <= 6);
            assert_true(h->clear_ratio >= 0.3 && h->clear_ratio <= 1);
            assert_true(h->rain_mm >= 0 && h->rain_mm <= 200);
            assert_true(h->rain_probability >= 0 && h->rain_probability <= 1);
            assert_true(h->lead_h >= 0);
            assert_true(h->rain_kind != WEATHER_NORMAL || h->rain_mm == 0);
        }
    }
}

/* --- old forecasts, the sky without cloud, learnt factors ---------------------------------- */

static void weather_forecast_share_falls_with_age_and_lead(void **state)
{
    (void)state;
    static const struct {
        double age_h, lead_h, share;
    } CASES[] = {
        {0, 0, 1},        {24, 200, 1},    {24.1, 48, 1},        {24.1, 120, 0.5}, {24.1, 192, 0},
        {72, 96, 2 / 3.}, {72.1, 48, 0.3}, {72.1, 180, 1 / 12.}, {168, 24, 0.3},   {168.1, 24, 0},
    };
    for (size_t i = 0; i < sizeof CASES / sizeof *CASES; i++)
        check_near(weather_forecast_share(CASES[i].age_h, CASES[i].lead_h), CASES[i].share, 1e-12,
                   "share");
}

static void weather_complete_old_forecast_is_blended_with_the_normals(void **state)
{
    (void)state;
    struct weather_hour fresh;
    struct weather_hour old;
    size_t filled = 0;
    const int64_t noon_s = MAY_4 + 36 * 3600;
    struct weather_raw raw = raw_at(noon_s);
    raw.issued_s = noon_s - 108 * 3600; /* four and a half days of lead: a share of 7/12 */
    struct weather_slot slot = weather_slot_of(&raw, 0);
    struct weather_task task = {.site = &INLAND,
                                .normals = NORMALS,
                                .slots = &slot,
                                .slot_count = 1,
                                .first_s = noon_s,
                                .count = 1};
    assert_int_equal(weather_complete(&task, &fresh, &filled), STATUS_OK);
    check_near(fresh.normal_share, 0, 0, "no now, no age");
    task.now_s = raw.issued_s + 48 * 3600;
    assert_int_equal(weather_complete(&task, &old, &filled), STATUS_OK);
    struct weather_hour normal = normal_at(&INLAND, noon_s);
    double share = 7 / 12.;
    check_near(old.normal_share, 1 - share, 1e-12, "share");
    check_near(old.temperature_c, share * fresh.temperature_c + (1 - share) * normal.temperature_c,
               1e-12, "temperature");
    check_near(old.vapour_pressure_kpa,
               share * fresh.vapour_pressure_kpa + (1 - share) * normal.vapour_pressure_kpa, 1e-12,
               "vapour");
    check_near(old.wind_2m_m_s, share * fresh.wind_2m_m_s + (1 - share) * normal.wind_2m_m_s, 1e-12,
               "wind");
    check_near(old.radiation_mj_m2,
               share * fresh.radiation_mj_m2 + (1 - share) * normal.radiation_mj_m2, 1e-9,
               "radiation");
    check_near(old.rain_mm, fresh.rain_mm, 0, "rain stays");
    assert_int_equal(old.kind, WEATHER_FORECAST);
    task.now_s = noon_s + 3600; /* what is past is not faded */
    assert_int_equal(weather_complete(&task, &old, &filled), STATUS_OK);
    check_near(old.temperature_c, fresh.temperature_c, 0, "past");
    task.now_s = raw.issued_s + 169 * 3600 - 3600 * 80; /* and a week-old one is gone */
    slot.origin[WEATHER_AIR].issued_s = slot.origin[WEATHER_WIND].issued_s =
        slot.origin[WEATHER_SKY].issued_s = task.now_s - 169 * 3600;
    assert_int_equal(weather_complete(&task, &old, &filled), STATUS_OK);
    assert_int_equal(old.kind, WEATHER_NORMAL);
    check_near(old.temperature_c, normal.temperature_c, 1e-12, "the normals");
    check_near(old.radiation_mj_m2, normal.radiation_mj_m2, 1e-12, "the normals");
}

/* FAO-56 example 15: Lyon, July, Tmax 26.6, Tmin 14.8 C: Rs 22.3 MJ/m2 a day. */
static void published_fao56_example_15_radiation_from_temperatures_by_hours(void **state)
{
    (void)state;
    const struct sun_site lyon = {45.72, 0, 200}; /* its longitude only moves the clock */
    const int64_t day_s = 1941926400;             /* 2031-07-16, near the printed day 196 */
    struct weather_raw raw[24];
    struct weather_hour out[24];
    size_t filled = 0;
    double sum = 0;
    for (int h = 0; h < 24; h++) {
        struct weather_raw empty = WEATHER_RAW_EMPTY;
        raw[h] = empty;
        raw[h].start_s = day_s + h * 3600;
        raw[h].temperature_c = 20.7 - 5.9 * cos((h - 3) * 0.2617993878);
        raw[h].dewpoint_c = 12;
        raw[h].wind_10m_m_s = 2;
    }
    assert_int_equal(complete_raw(&lyon, NORMALS, raw, 24, day_s, 24, out, &filled), STATUS_OK);
    for (int h = 0; h < 24; h++) {
        assert_int_equal(out[h].radiation, WEATHER_RADIATION_RANGE);
        sum += out[h].radiation_mj_m2;
    }
    check_near(sum, 22.3, 0.25, "FAO-56 example 15"); /* hours of the clear sky sum to 1 % */
    raw[4].cloud_pct = 50;
    assert_int_equal(complete_raw(&lyon, NORMALS, raw, 19, day_s, 19, out, &filled), STATUS_OK);
    assert_int_equal(out[12].radiation, WEATHER_RADIATION_NORMAL); /* too few hours of the day */
}

static void weather_complete_learnt_factor_stays_below_the_clear_sky(void **state)
{
    (void)state;
    struct weather_hour plain;
    struct weather_hour more;
    size_t filled = 0;
    const double factors[] = {1.2, 0.8};
    struct weather_raw raw = raw_at(MAY_4 + 12 * 3600);
    struct weather_slot slot = weather_slot_of(&raw, 0);
    struct weather_task task = {
        .site = &INLAND, .slots = &slot, .slot_count = 1, .first_s = raw.start_s, .count = 1};
    assert_int_equal(weather_complete(&task, &plain, &filled), STATUS_OK);
    task.radiation_factors = factors;
    task.factor_count = 2;
    assert_int_equal(weather_complete(&task, &more, &filled), STATUS_OK);
    check_near(more.radiation_mj_m2, 1.2 * plain.radiation_mj_m2, 1e-12, "its source's factor");
    slot.raw.cloud_pct = 0;
    assert_int_equal(weather_complete(&task, &more, &filled), STATUS_OK);
    check_near(more.radiation_mj_m2, plain.radiation_mj_m2 / weather_clear_ratio(0.4), 1e-9,
               "not above the clear sky");
    for (int part = 0; part < WEATHER_PARTS; part++)
        slot.origin[part].source = 1;
    assert_int_equal(weather_complete(&task, &more, &filled), STATUS_OK);
    check_near(more.radiation_mj_m2, 0.8 * plain.radiation_mj_m2 / weather_clear_ratio(0.4), 1e-9,
               "the other source's");
    slot.raw.radiation_w_m2 = 500;
    slot.origin[WEATHER_SKY].kind = WEATHER_MEASURED;
    assert_int_equal(weather_complete(&task, &more, &filled), STATUS_OK);
    check_near(more.radiation_mj_m2, 1.8, 1e-12, "a measurement stays");
    const double bad[] = {NAN, 0.2, 4};
    for (size_t i = 0; i < 3; i++) {
        task.radiation_factors = &bad[i];
        task.factor_count = 1;
        assert_int_equal(weather_complete(&task, &more, &filled), STATUS_RANGE);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(published_larson_linear_cloud_form),
        cmocka_unit_test(weather_clear_ratio_outside_range_is_nan),
        cmocka_unit_test(weather_cloud_fraction_layers_go_before_total),
        cmocka_unit_test(weather_from_normals_mid_month_day_reproduces_extremes_and_mean),
        cmocka_unit_test(weather_from_normals_middle_of_each_month_is_that_month),
        cmocka_unit_test(weather_from_normals_months_turn_by_solar_date),
        cmocka_unit_test(weather_from_normals_between_months_blends),
        cmocka_unit_test(weather_from_normals_year_has_no_jumps),
        cmocka_unit_test(weather_from_normals_warmest_hour_follows_the_sun_not_utc),
        cmocka_unit_test(weather_from_normals_dew_point_is_capped_at_temperature),
        cmocka_unit_test(weather_from_normals_radiation_is_clear_sky_by_ratio_without_rain),
        cmocka_unit_test(weather_from_normals_polar_day_and_night_stay_within_extremes),
        cmocka_unit_test(weather_from_normals_bad_values_are_refused),
        cmocka_unit_test(weather_complete_known_hour_keeps_its_values),
        cmocka_unit_test(published_fao56_example_14_wind_from_10_m),
        cmocka_unit_test(weather_complete_humidity_serves_without_dew_point),
        cmocka_unit_test(weather_complete_dew_point_above_temperature_is_dropped_or_capped),
        cmocka_unit_test(weather_complete_given_radiation_goes_before_cloud),
        cmocka_unit_test(weather_complete_impossible_radiation_is_replaced),
        cmocka_unit_test(weather_complete_without_any_sky_uses_the_normal_ratio),
        cmocka_unit_test(weather_complete_missing_probability_is_filled_by_kind),
        cmocka_unit_test(weather_complete_bad_values_count_as_not_known),
        cmocka_unit_test(weather_complete_gap_of_three_hours_is_interpolated),
        cmocka_unit_test(weather_complete_gap_of_four_hours_comes_from_normals),
        cmocka_unit_test(weather_complete_gap_without_normals_stops_there),
        cmocka_unit_test(weather_complete_gap_of_one_variable_leaves_the_others),
        cmocka_unit_test(weather_complete_interpolates_from_before_the_first_hour),
        cmocka_unit_test(weather_complete_tail_and_head_come_from_normals),
        cmocka_unit_test(weather_complete_without_raw_is_all_normals),
        cmocka_unit_test(weather_complete_mixed_kinds_give_the_worst),
        cmocka_unit_test(weather_complete_night_holds_the_ratio_seen_by_day),
        cmocka_unit_test(weather_complete_night_without_sky_or_normals_is_dark),
        cmocka_unit_test(weather_complete_disorder_and_bad_site_are_refused),
        cmocka_unit_test(weather_complete_random_raw_hours_give_only_sane_hours),
        cmocka_unit_test(weather_forecast_share_falls_with_age_and_lead),
        cmocka_unit_test(weather_complete_old_forecast_is_blended_with_the_normals),
        cmocka_unit_test(published_fao56_example_15_radiation_from_temperatures_by_hours),
        cmocka_unit_test(weather_complete_learnt_factor_stays_below_the_clear_sky),
    };
    return cmocka_run_group_tests_name("weather", tests, NULL, NULL);
}
