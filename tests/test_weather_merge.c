/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check.h"

#include <math.h>

#include "core/weather_merge.h"

/* 2031-05-04T00:00:00Z */
static const int64_t MIDNIGHT = 1935619200;
#define HOUR  ((int64_t)3600)
#define SLOTS 64

static struct weather_offer offer(size_t source, enum weather_kind kind, int hour, int64_t issued_s)
{
    struct weather_offer o = {.raw = WEATHER_RAW_EMPTY, .source = source};
    o.raw.start_s = MIDNIGHT + hour * HOUR;
    o.raw.issued_s = issued_s;
    o.raw.kind = kind;
    return o;
}

/* A feed's hour that says everything. */
static struct weather_offer full(size_t source, int hour, int64_t issued_s, double level)
{
    struct weather_offer o = offer(source, WEATHER_FORECAST, hour, issued_s);
    o.raw.temperature_c = level;
    o.raw.dewpoint_c = level - 5;
    o.raw.wind_10m_m_s = level / 10;
    o.raw.cloud_pct = level;
    o.raw.rain_mm = level / 100;
    return o;
}

static size_t merge(const struct weather_offer *offers, size_t count, int64_t now_s,
                    struct weather_slot slots[SLOTS])
{
    size_t made = 0;
    assert_int_equal(weather_merge(offers, count, now_s, slots, SLOTS, &made), STATUS_OK);
    return made;
}

static void weather_merge_each_part_takes_its_best_source(void **state)
{
    (void)state;
    struct weather_slot slots[SLOTS];
    struct weather_offer offers[3] = {offer(0, WEATHER_MEASURED, 5, 0), full(1, 5, MIDNIGHT, 20),
                                      full(2, 5, MIDNIGHT + HOUR, 30)};
    offers[0].raw.wind_10m_m_s = 1.5;
    offers[0].raw.radiation_w_m2 = 300;
    assert_int_equal(merge(offers, 3, MIDNIGHT + 6 * HOUR, slots), 1);
    check_near(slots[0].raw.temperature_c, 20, 0, "the more trusted feed");
    check_near(slots[0].raw.dewpoint_c, 15, 0, "with its own dew point");
    check_near(slots[0].raw.wind_10m_m_s, 1.5, 0, "measured");
    check_near(slots[0].raw.radiation_w_m2, 300, 0, "measured");
    check_near(slots[0].raw.rain_mm, 0.2, 0, "the more trusted feed");
    assert_int_equal(slots[0].origin[WEATHER_AIR].source, 1);
    assert_int_equal(slots[0].origin[WEATHER_WIND].source, 0);
    assert_int_equal(slots[0].origin[WEATHER_SKY].kind, WEATHER_MEASURED);
    assert_int_equal(slots[0].origin[WEATHER_RAIN].issued_s, MIDNIGHT);
}

static void weather_merge_temperature_and_humidity_come_from_one_source(void **state)
{
    (void)state;
    struct weather_slot slots[SLOTS];
    struct weather_offer offers[2] = {offer(0, WEATHER_MEASURED, 5, 0), full(1, 5, MIDNIGHT, 20)};
    offers[0].raw.temperature_c = 11;
    merge(offers, 2, MIDNIGHT, slots);
    check_near(slots[0].raw.temperature_c, 20, 0, "a thermometer alone gives no pair");
    offers[0].raw.humidity_pct = 60;
    merge(offers, 2, MIDNIGHT, slots);
    check_near(slots[0].raw.temperature_c, 11, 0, "measured");
    check_near(slots[0].raw.humidity_pct, 60, 0, "measured");
    assert_true(isnan(slots[0].raw.dewpoint_c));
}

static void weather_merge_stale_document_goes_behind_a_younger_one(void **state)
{
    (void)state;
    struct weather_slot slots[SLOTS];
    const int64_t now_s = MIDNIGHT + 20 * HOUR;
    struct weather_offer offers[2] = {full(1, 40, now_s - 12 * HOUR, 20),
                                      full(2, 40, now_s - HOUR, 30)};
    merge(offers, 2, now_s, slots);
    check_near(slots[0].raw.temperature_c, 20, 0, "twelve hours are not stale");
    offers[0].raw.issued_s--;
    merge(offers, 2, now_s, slots);
    check_near(slots[0].raw.temperature_c, 30, 0, "a second more is");
    /* of past hours the lead counts, not today's age */
    offers[0] = full(1, 2, MIDNIGHT - 10 * HOUR, 20);
    offers[1] = full(2, 2, MIDNIGHT, 30);
    merge(offers, 2, now_s, slots);
    check_near(slots[0].raw.temperature_c, 20, 0, "ten hours ahead of its hour");
}

static void weather_merge_rejected_part_is_passed_over_and_remembered(void **state)
{
    (void)state;
    struct weather_slot slots[SLOTS];
    struct weather_offer offers[2] = {offer(0, WEATHER_MEASURED, 5, 0), full(1, 5, MIDNIGHT, 20)};
    offers[0].raw.temperature_c = 11;
    offers[0].raw.humidity_pct = 60;
    offers[0].raw.wind_10m_m_s = 2;
    offers[0].mark[WEATHER_AIR] = WEATHER_MARK_STUCK;
    offers[0].mark[WEATHER_WIND] = WEATHER_MARK_JUMP; /* a doubt is no reason */
    merge(offers, 2, MIDNIGHT, slots);
    check_near(slots[0].raw.temperature_c, 20, 0, "the next source");
    assert_int_equal(slots[0].origin[WEATHER_AIR].replaces, WEATHER_MARK_STUCK);
    assert_int_equal(slots[0].origin[WEATHER_AIR].mark, WEATHER_MARK_GOOD);
    check_near(slots[0].raw.wind_10m_m_s, 2, 0, "doubted, used");
    assert_int_equal(slots[0].origin[WEATHER_WIND].mark, WEATHER_MARK_JUMP);
    assert_int_equal(slots[0].origin[WEATHER_WIND].replaces, WEATHER_MARK_GOOD);
    merge(offers, 1, MIDNIGHT, slots);
    assert_true(isnan(slots[0].raw.temperature_c));
    assert_int_equal(slots[0].origin[WEATHER_AIR].source, WEATHER_NOBODY);
    assert_int_equal(slots[0].origin[WEATHER_AIR].replaces, WEATHER_MARK_STUCK);
}

static void weather_merge_radiation_of_two_forecasts_is_their_mean(void **state)
{
    (void)state;
    struct weather_slot slots[SLOTS];
    struct weather_offer offers[4] = {full(1, 12, MIDNIGHT, 20), full(1, 12, MIDNIGHT - HOUR, 20),
                                      full(2, 12, MIDNIGHT, 20), full(3, 12, MIDNIGHT, 20)};
    offers[0].raw.radiation_w_m2 = 600;
    offers[1].raw.radiation_w_m2 = 0; /* an older issue of the same source */
    offers[2].raw.radiation_w_m2 = 700;
    merge(offers, 4, MIDNIGHT, slots);
    check_near(slots[0].raw.radiation_w_m2, 650, 0, "mean of two");
    offers[2].mark[WEATHER_SKY] = WEATHER_MARK_ABOVE_SKY;
    merge(offers, 4, MIDNIGHT, slots);
    check_near(slots[0].raw.radiation_w_m2, 600, 0, "the one left");
    offers[3] = offer(0, WEATHER_MEASURED, 12, 0);
    offers[3].raw.radiation_w_m2 = 500;
    merge(offers, 4, MIDNIGHT, slots);
    check_near(slots[0].raw.radiation_w_m2, 500, 0, "a measurement is no part of a mean");
}

/* A storm that one feed puts at 7 h and the other at 10 h falls once. */
static void weather_merge_rain_block_comes_from_one_feed(void **state)
{
    (void)state;
    struct weather_slot slots[SLOTS];
    struct weather_offer offers[12];
    size_t n = 0;
    double sum = 0;
    for (int hour = 6; hour < 12; hour++) {
        struct weather_offer a = full(1, hour, MIDNIGHT, 20);
        struct weather_offer b = full(2, hour, MIDNIGHT, 20);
        a.raw.rain_mm = hour == 10 ? 8 : 0;
        b.raw.rain_mm = hour == 7 ? 8 : 0;
        if (hour != 10) /* the more trusted feed lacks an hour */
            offers[n++] = a;
        offers[n++] = b;
    }
    assert_int_equal(merge(offers, n, MIDNIGHT, slots), 6);
    for (int i = 0; i < 6; i++) {
        assert_int_equal(slots[i].origin[WEATHER_RAIN].source, 2);
        assert_int_equal(slots[i].origin[WEATHER_AIR].source, i == 4 ? 2 : 1);
        sum += slots[i].raw.rain_mm;
    }
    check_near(sum, 8, 1e-12, "once");
}

static void weather_merge_measured_rain_counts_beside_the_forecast_of_the_rest(void **state)
{
    (void)state;
    struct weather_slot slots[SLOTS];
    struct weather_offer offers[16];
    size_t n = 0;
    for (int hour = 6; hour < 12; hour++) {
        if (hour < 9) {
            offers[n] = offer(0, WEATHER_MEASURED, hour, 0);
            offers[n++].raw.rain_mm = 0;
        }
        offers[n] = full(1, hour, MIDNIGHT, 20);
        offers[n++].raw.rain_mm = 1;
    }
    merge(offers, n, MIDNIGHT + 9 * HOUR, slots);
    for (int i = 0; i < 6; i++)
        check_near(slots[i].raw.rain_mm, i < 3 ? 0 : 1, 0, "facts, then the forecast");
}

static void weather_merge_change_of_source_is_leant_over_three_hours(void **state)
{
    (void)state;
    struct weather_slot slots[SLOTS];
    struct weather_offer offers[16];
    size_t n = 0;
    for (int hour = 0; hour < 8; hour++) {
        if (hour < 3) {
            offers[n] = offer(0, WEATHER_MEASURED, hour, 0);
            offers[n].raw.temperature_c = 16;
            offers[n].raw.dewpoint_c = 9;
            offers[n++].raw.wind_10m_m_s = 0.5;
        }
        offers[n++] = full(1, hour, MIDNIGHT, 20); /* 20 C, dew point 15, wind 2 */
    }
    assert_int_equal(merge(offers, n, MIDNIGHT + 3 * HOUR, slots), 8);
    const double air[] = {16, 16, 16, 17, 18, 19, 20, 20};
    const double dew[] = {9, 9, 9, 10.5, 12, 13.5, 15, 15};
    const double wind[] = {0.5, 0.5, 0.5, 0.875, 1.25, 1.625, 2, 2};
    for (int i = 0; i < 8; i++) {
        check_near(slots[i].raw.temperature_c, air[i], 1e-12, "temperature");
        check_near(slots[i].raw.dewpoint_c, dew[i], 1e-12, "dew point");
        check_near(slots[i].raw.wind_10m_m_s, wind[i], 1e-12, "wind");
        check_near(slots[i].raw.rain_mm, 0.2, 1e-12, "rain is never leant");
        assert_int_equal(slots[i].origin[WEATHER_AIR].kind,
                         i < 3 ? WEATHER_MEASURED : WEATHER_FORECAST);
    }
}

static void weather_merge_bad_input_is_refused(void **state)
{
    (void)state;
    struct weather_slot slots[2];
    size_t made = 7;
    struct weather_offer offers[3] = {full(1, 2, MIDNIGHT, 20), full(1, 1, MIDNIGHT, 20),
                                      full(1, 3, MIDNIGHT, 20)};
    assert_int_equal(weather_merge(offers, 3, MIDNIGHT, slots, 2, &made), STATUS_RANGE);
    offers[1] = full(1, 2, MIDNIGHT, 20);
    offers[0] = full(1, 1, MIDNIGHT, 20);
    assert_int_equal(weather_merge(offers, 3, MIDNIGHT, slots, 2, &made), STATUS_NO_SPACE);
    offers[1].raw.start_s++;
    assert_int_equal(weather_merge(offers, 3, MIDNIGHT, slots, 2, &made), STATUS_RANGE);
    assert_int_equal(made, 7);
    assert_int_equal(weather_merge(NULL, 0, MIDNIGHT, slots, 0, &made), STATUS_OK);
    assert_int_equal(made, 0);
}

/* Whatever the sources say, an hour's parts are words of its own offers or leant between them. */
static void weather_merge_random_offers_give_no_invented_rain(void **state)
{
    (void)state;
    uint64_t random = 4711;
    for (int round = 0; round < 300; round++) {
        struct weather_offer offers[SLOTS * 3];
        struct weather_slot slots[SLOTS];
        size_t n = 0;
        double most[SLOTS] = {0};
        for (int hour = 0; hour < 48; hour++)
            for (size_t source = 0; source < 3; source++) {
                if (check_random(&random) < 0.3)
                    continue;
                enum weather_kind kind = source == 0 ? WEATHER_MEASURED : WEATHER_FORECAST;
                offers[n] = full(source, hour, MIDNIGHT - 3600 * (int)(30 * check_random(&random)),
                                 30 * check_random(&random));
                offers[n].raw.kind = kind;
                most[hour] = fmax(most[hour], offers[n].raw.rain_mm);
                if (check_random(&random) < 0.2)
                    offers[n].raw.rain_mm = NAN;
                n++;
            }
        size_t count = merge(offers, n, MIDNIGHT + 20 * HOUR, slots);
        for (size_t i = 0; i < count; i++) {
            size_t hour = (size_t)((slots[i].raw.start_s - MIDNIGHT) / HOUR);
            assert_true(isnan(slots[i].raw.rain_mm) || slots[i].raw.rain_mm <= most[hour]);
            assert_true(slots[i].raw.temperature_c >= -30 && slots[i].raw.temperature_c <= 60);
            assert_true(slots[i].raw.dewpoint_c <= slots[i].raw.temperature_c);
            assert_true(slots[i].raw.wind_10m_m_s >= 0);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(weather_merge_each_part_takes_its_best_source),
        cmocka_unit_test(weather_merge_temperature_and_humidity_come_from_one_source),
        cmocka_unit_test(weather_merge_stale_document_goes_behind_a_younger_one),
        cmocka_unit_test(weather_merge_rejected_part_is_passed_over_and_remembered),
        cmocka_unit_test(weather_merge_radiation_of_two_forecasts_is_their_mean),
        cmocka_unit_test(weather_merge_rain_block_comes_from_one_feed),
        cmocka_unit_test(weather_merge_measured_rain_counts_beside_the_forecast_of_the_rest),
        cmocka_unit_test(weather_merge_change_of_source_is_leant_over_three_hours),
        cmocka_unit_test(weather_merge_bad_input_is_refused),
        cmocka_unit_test(weather_merge_random_offers_give_no_invented_rain),
    };
    return cmocka_run_group_tests_name("weather_merge", tests, NULL, NULL);
}
