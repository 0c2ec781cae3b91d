/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check.h"

#include <math.h>

#include "core/air.h"
#include "core/station.h"

/* 2031-05-04T00:00:00Z */
static const int64_t MIDNIGHT = 1935619200;
#define HOUR ((int64_t)3600)

static struct station_reading reading(int64_t after_midnight_s, double period_s, double value)
{
    return (struct station_reading){.end_s = MIDNIGHT + after_midnight_s,
                                    .period_s = period_s,
                                    .temperature_c = value,
                                    .humidity_pct = 50 + value,
                                    .dewpoint_c = NAN,
                                    .wind_m_s = value / 10,
                                    .radiation_w_m2 = 10 * value,
                                    .rain_mm = value / 100};
}

static size_t hours_of(const struct station_reading *readings, size_t count, int64_t now_s,
                       struct weather_raw hours[24])
{
    size_t made = 0;
    assert_int_equal(station_hours(readings, count, 2, now_s, hours, 24, &made), STATUS_OK);
    return made;
}

static void station_hours_ten_minute_readings_are_averaged_rain_is_summed(void **state)
{
    (void)state;
    struct station_reading readings[12];
    struct weather_raw hours[24];
    for (int i = 0; i < 12; i++)
        readings[i] = reading(600 * (i + 1), 600, i);
    assert_int_equal(hours_of(readings, 12, MIDNIGHT + 2 * HOUR, hours), 2);
    check_near(hours[0].temperature_c, 2.5, 1e-12, "mean of 0..5");
    check_near(hours[1].temperature_c, 8.5, 1e-12, "mean of 6..11");
    check_near(hours[0].humidity_pct, 52.5, 1e-12, "humidity");
    check_near(hours[0].radiation_w_m2, 25, 1e-12, "radiation");
    check_near(hours[0].rain_mm, 0.15, 1e-12, "sum of six");
    check_near(air_wind_2m_m_s(hours[0].wind_10m_m_s, 10), 0.25, 1e-12, "wind at 2 m stays");
    assert_true(isnan(hours[0].dewpoint_c));
    assert_int_equal(hours[0].start_s, MIDNIGHT);
    assert_int_equal(hours[0].kind, WEATHER_MEASURED);
}

static void station_hours_reading_over_two_hours_is_split_by_time(void **state)
{
    (void)state;
    struct weather_raw hours[24];
    /* half past: hourly stamps of a station whose hour ends at :30 */
    const struct station_reading readings[3] = {reading(1800, 3600, 10), reading(5400, 3600, 20),
                                                reading(9000, 3600, 40)};
    assert_int_equal(hours_of(readings, 3, MIDNIGHT + 3 * HOUR, hours), 2);
    assert_int_equal(hours[0].start_s, MIDNIGHT);
    check_near(hours[0].temperature_c, 15, 1e-12, "half of each");
    check_near(hours[0].rain_mm, 0.15, 1e-12, "half of each");
    check_near(hours[1].temperature_c, 30, 1e-12, "half of each");
}

static void station_hours_need_three_quarters_of_an_hour(void **state)
{
    (void)state;
    struct station_reading readings[12];
    struct weather_raw hours[24];
    size_t n = 0;
    for (int i = 0; i < 12; i++)
        if (i >= 3) /* the first quarter is missing */
            readings[n++] = reading(300 * (i + 1), 300, 12);
    assert_int_equal(hours_of(readings, n, MIDNIGHT + HOUR, hours), 1);
    check_near(hours[0].temperature_c, 12, 1e-12, "three quarters are enough");
    check_near(hours[0].rain_mm, 1.44, 1e-12, "rain scaled to the whole hour");
    readings[4].temperature_c = NAN; /* a value missing in one more */
    assert_int_equal(hours_of(readings, n, MIDNIGHT + HOUR, hours), 1);
    assert_true(isnan(hours[0].temperature_c));
    check_near(hours[0].humidity_pct, 62, 1e-12, "the others stay");
    assert_int_equal(hours_of(readings + 1, n - 1, MIDNIGHT + HOUR, hours), 0);
}

static void station_hours_hour_that_is_not_over_is_left_out(void **state)
{
    (void)state;
    struct weather_raw hours[24];
    const struct station_reading readings[2] = {reading(3600, 3600, 10), reading(7200, 3600, 20)};
    assert_int_equal(hours_of(readings, 2, MIDNIGHT + 2 * HOUR - 1, hours), 1);
    assert_int_equal(hours_of(readings, 2, MIDNIGHT + 2 * HOUR, hours), 2);
}

static void station_hours_repeated_moment_counts_once(void **state)
{
    (void)state;
    struct weather_raw hours[24];
    const struct station_reading readings[3] = {reading(1800, 1800, 10), reading(3600, 1800, 99),
                                                reading(3600, 1800, 20)};
    assert_int_equal(hours_of(readings, 3, MIDNIGHT + HOUR, hours), 1);
    check_near(hours[0].temperature_c, 15, 1e-12, "the later word");
}

static void station_hours_absurd_values_are_kept_for_the_checks(void **state)
{
    (void)state;
    struct weather_raw hours[24];
    struct station_reading odd = reading(3600, 3600, 2000);
    odd.wind_m_s = INFINITY;
    assert_int_equal(hours_of(&odd, 1, MIDNIGHT + HOUR, hours), 1);
    check_near(hours[0].temperature_c, 2000, 0, "kept");
    assert_true(isnan(hours[0].wind_10m_m_s));
}

static void station_hours_wind_height_follows_fao56(void **state)
{
    (void)state;
    struct weather_raw hours[24];
    struct station_reading r = reading(3600, 3600, 0);
    size_t made = 0;
    r.wind_m_s = 3.2;
    /* FAO-56 example 14: 3.2 m/s at 10 m are 2.4 m/s at 2 m */
    assert_int_equal(station_hours(&r, 1, 10, MIDNIGHT + HOUR, hours, 24, &made), STATUS_OK);
    check_near(hours[0].wind_10m_m_s, 3.2, 1e-12, "at 10 m as it is");
    r.wind_m_s = 2.4;
    assert_int_equal(station_hours(&r, 1, 2, MIDNIGHT + HOUR, hours, 24, &made), STATUS_OK);
    check_near(hours[0].wind_10m_m_s, 3.2, 0.02, "FAO-56 example 14, turned round");
}

static void station_hours_bad_input_is_refused(void **state)
{
    (void)state;
    struct weather_raw hours[2];
    size_t made = 9;
    struct station_reading readings[3] = {reading(3600, 3600, 1), reading(7200, 3600, 1),
                                          reading(10800, 3600, 1)};
    const int64_t late_s = MIDNIGHT + 9 * HOUR;
    assert_int_equal(station_hours(readings, 3, 2, late_s, hours, 2, &made), STATUS_NO_SPACE);
    assert_int_equal(station_hours(readings, 3, 0.4, late_s, hours, 2, &made), STATUS_RANGE);
    assert_int_equal(station_hours(readings, 3, NAN, late_s, hours, 2, &made), STATUS_RANGE);
    readings[1].period_s = 3601;
    assert_int_equal(station_hours(readings, 3, 2, late_s, hours, 2, &made), STATUS_RANGE);
    readings[1].period_s = NAN;
    assert_int_equal(station_hours(readings, 3, 2, late_s, hours, 2, &made), STATUS_RANGE);
    readings[1] = reading(3599, 3600, 1);
    assert_int_equal(station_hours(readings, 3, 2, late_s, hours, 2, &made), STATUS_RANGE);
    assert_int_equal(made, 9);
    assert_int_equal(station_hours(NULL, 0, 2, late_s, hours, 0, &made), STATUS_OK);
    assert_int_equal(made, 0);
}

/* However the hours are cut into readings, no rain is lost or made. */
static void station_hours_random_periods_keep_the_rain(void **state)
{
    (void)state;
    uint64_t random = 99;
    for (int round = 0; round < 200; round++) {
        static struct station_reading readings[4000];
        struct weather_raw hours[24];
        size_t n = 0;
        size_t made = 0;
        double fell = 0;
        double sum = 0;
        int64_t t = 0;
        while (t < 12 * HOUR) {
            int64_t period = 30 + (int64_t)(1500 * check_random(&random));
            if (t + period > 12 * HOUR)
                period = 12 * HOUR - t;
            if (period < 10)
                break;
            t += period;
            readings[n] = reading(t, (double)period, 10);
            readings[n].rain_mm = check_random(&random);
            fell += readings[n++].rain_mm;
        }
        assert_int_equal(station_hours(readings, n, 2, MIDNIGHT + 12 * HOUR, hours, 24, &made),
                         STATUS_OK);
        for (size_t h = 0; h < made; h++)
            sum += hours[h].rain_mm;
        assert_int_equal(made, 12);
        if (t == 12 * HOUR)
            check_near(sum, fell, 1e-9 * fell, "rain");
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(station_hours_ten_minute_readings_are_averaged_rain_is_summed),
        cmocka_unit_test(station_hours_reading_over_two_hours_is_split_by_time),
        cmocka_unit_test(station_hours_need_three_quarters_of_an_hour),
        cmocka_unit_test(station_hours_hour_that_is_not_over_is_left_out),
        cmocka_unit_test(station_hours_repeated_moment_counts_once),
        cmocka_unit_test(station_hours_absurd_values_are_kept_for_the_checks),
        cmocka_unit_test(station_hours_wind_height_follows_fao56),
        cmocka_unit_test(station_hours_bad_input_is_refused),
        cmocka_unit_test(station_hours_random_periods_keep_the_rain),
    };
    return cmocka_run_group_tests_name("station", tests, NULL, NULL);
}
