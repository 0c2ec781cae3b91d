/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check.h"

#include <math.h>

#include "core/sun.h"
#include "core/weather_check.h"

/* 2031-05-04T00:00:00Z, on the meridian. */
static const int64_t MIDNIGHT = 1935619200;
static const struct sun_site SITE = {45, 0, 100};
#define HOUR ((int64_t)3600)
#define DAYS 3

static struct weather_offer offer(int hour)
{
    struct weather_offer o = {.raw = WEATHER_RAW_EMPTY};
    o.raw.start_s = MIDNIGHT + hour * HOUR;
    o.raw.kind = WEATHER_MEASURED;
    return o;
}

/* Three clear days of a good station. */
static void good_days(struct weather_offer offers[DAYS * 24])
{
    for (int h = 0; h < DAYS * 24; h++) {
        struct sun_hour sun;
        offers[h] = offer(h);
        assert_int_equal(sun_of_hour(&SITE, offers[h].raw.start_s, &sun), STATUS_OK);
        offers[h].raw.temperature_c = 15 + 6 * sin(h * 0.2618) + 0.01 * h;
        offers[h].raw.humidity_pct = 65 - 20 * sin(h * 0.2618) + 0.01 * h;
        offers[h].raw.wind_10m_m_s = 2 + sin(h * 0.3);
        offers[h].raw.radiation_w_m2 = 0.9 * sun.clear_sky_mj_m2 / 0.0036;
        offers[h].raw.rain_mm = 0;
    }
}

static void judge(struct weather_offer *offers, size_t count)
{
    for (size_t i = 0; i < count; i++)
        assert_int_equal(weather_check_hour(&SITE, &offers[i]), STATUS_OK);
    assert_int_equal(weather_check_sensor(&SITE, offers, count), STATUS_OK);
}

static int count_marks(const struct weather_offer *offers, size_t count, enum weather_part part,
                       enum weather_mark mark)
{
    int found = 0;
    for (size_t i = 0; i < count; i++)
        found += offers[i].mark[part] == mark;
    return found;
}

static void weather_check_good_station_is_good(void **state)
{
    (void)state;
    struct weather_offer offers[DAYS * 24];
    good_days(offers);
    judge(offers, DAYS * 24);
    for (int part = 0; part < WEATHER_PARTS; part++)
        assert_int_equal(count_marks(offers, DAYS * 24, (enum weather_part)part, WEATHER_MARK_GOOD),
                         DAYS * 24);
}

static void weather_check_hour_limits_reject_their_part_only(void **state)
{
    (void)state;
    const struct {
        double temperature_c, dewpoint_c, humidity_pct, wind, radiation, rain;
        enum weather_part part;
        enum weather_mark mark;
    } CASES[] = {
        {61, NAN, 50, 1, 0, 0, WEATHER_AIR, WEATHER_MARK_RANGE},
        {-60.1, NAN, 50, 1, 0, 0, WEATHER_AIR, WEATHER_MARK_RANGE},
        {20, NAN, 104, 1, 0, 0, WEATHER_AIR, WEATHER_MARK_RANGE},
        {20, NAN, -1, 1, 0, 0, WEATHER_AIR, WEATHER_MARK_RANGE},
        {20, -71, NAN, 1, 0, 0, WEATHER_AIR, WEATHER_MARK_RANGE},
        {INFINITY, NAN, 50, 1, 0, 0, WEATHER_AIR, WEATHER_MARK_RANGE},
        {20, 20.6, NAN, 1, 0, 0, WEATHER_AIR, WEATHER_MARK_DEWPOINT},
        {20, NAN, 50, 76, 0, 0, WEATHER_WIND, WEATHER_MARK_RANGE},
        {20, NAN, 50, -0.1, 0, 0, WEATHER_WIND, WEATHER_MARK_RANGE},
        {20, NAN, 50, 1, 1700, 0, WEATHER_SKY, WEATHER_MARK_RANGE},
        {20, NAN, 50, 1, -11, 0, WEATHER_SKY, WEATHER_MARK_RANGE},
        {20, NAN, 50, 1, 25, 0, WEATHER_SKY, WEATHER_MARK_NIGHT}, /* midnight */
        {20, NAN, 50, 1, 0, 201, WEATHER_RAIN, WEATHER_MARK_RANGE},
        {20, NAN, 50, 1, 0, -0.1, WEATHER_RAIN, WEATHER_MARK_RANGE},
        {20, 20.4, NAN, 1, 9, 0, WEATHER_AIR, WEATHER_MARK_GOOD}, /* rounding, night offset */
        {20, 25, 80, 1, 0, 0, WEATHER_AIR, WEATHER_MARK_GOOD},    /* humidity serves */
        {20, NAN, 103, 1, 0, 200, WEATHER_RAIN, WEATHER_MARK_GOOD},
        {NAN, NAN, NAN, NAN, NAN, NAN, WEATHER_AIR, WEATHER_MARK_GOOD}, /* not known is no fault */
    };
    for (size_t i = 0; i < sizeof CASES / sizeof *CASES; i++) {
        struct weather_offer o = offer(0);
        o.raw.temperature_c = CASES[i].temperature_c;
        o.raw.dewpoint_c = CASES[i].dewpoint_c;
        o.raw.humidity_pct = CASES[i].humidity_pct;
        o.raw.wind_10m_m_s = CASES[i].wind;
        o.raw.radiation_w_m2 = CASES[i].radiation;
        o.raw.rain_mm = CASES[i].rain;
        assert_int_equal(weather_check_hour(&SITE, &o), STATUS_OK);
        for (int part = 0; part < WEATHER_PARTS; part++) {
            enum weather_mark wanted =
                part == (int)CASES[i].part ? CASES[i].mark : WEATHER_MARK_GOOD;
            if (o.mark[part] != wanted)
                fail_msg("case %zu part %d: mark %d, wanted %d", i, part, (int)o.mark[part],
                         (int)wanted);
        }
    }
}

static void weather_check_more_than_the_sun_gives_is_rejected(void **state)
{
    (void)state;
    struct sun_hour sun;
    struct weather_offer noon = offer(12);
    assert_int_equal(sun_of_hour(&SITE, noon.raw.start_s, &sun), STATUS_OK);
    noon.raw.radiation_w_m2 = 1.14 * sun.extraterrestrial_mj_m2 / 0.0036;
    assert_int_equal(weather_check_hour(&SITE, &noon), STATUS_OK);
    assert_int_equal(noon.mark[WEATHER_SKY], WEATHER_MARK_GOOD);
    noon.raw.radiation_w_m2 = 1.16 * sun.extraterrestrial_mj_m2 / 0.0036;
    assert_int_equal(weather_check_hour(&SITE, &noon), STATUS_OK);
    assert_int_equal(noon.mark[WEATHER_SKY], WEATHER_MARK_ABOVE_SKY);
}

static void weather_check_sensor_that_does_not_move_is_rejected(void **state)
{
    (void)state;
    struct weather_offer offers[DAYS * 24];
    good_days(offers);
    for (int h = 30; h < 35; h++)
        offers[h].raw.temperature_c = 17.3; /* five hours: a calm night */
    for (int h = 40; h < 46; h++)
        offers[h].raw.temperature_c = 17.4; /* six: stuck, from the second on */
    judge(offers, DAYS * 24);
    assert_int_equal(count_marks(offers, DAYS * 24, WEATHER_AIR, WEATHER_MARK_STUCK), 5);
    assert_int_equal(offers[40].mark[WEATHER_AIR], WEATHER_MARK_GOOD);
    assert_int_equal(offers[45].mark[WEATHER_AIR], WEATHER_MARK_STUCK);
    assert_int_equal(count_marks(offers, DAYS * 24, WEATHER_WIND, WEATHER_MARK_STUCK), 0);
}

static void weather_check_whole_numbers_calm_and_fog_are_given_longer(void **state)
{
    (void)state;
    struct weather_offer offers[DAYS * 24];
    good_days(offers);
    for (int h = 0; h < DAYS * 24; h++)
        offers[h].raw.temperature_c = h < 11 ? 9 : round(offers[h].raw.temperature_c);
    for (int h = 20; h < 43; h++)
        offers[h].raw.wind_10m_m_s = 0; /* 23 hours of calm */
    for (int h = 10; h < 57; h++)
        offers[h].raw.humidity_pct = 100; /* 47 hours of fog */
    judge(offers, DAYS * 24);
    assert_int_equal(count_marks(offers, DAYS * 24, WEATHER_AIR, WEATHER_MARK_STUCK), 0);
    assert_int_equal(count_marks(offers, DAYS * 24, WEATHER_WIND, WEATHER_MARK_STUCK), 0);
    good_days(offers);
    for (int h = 0; h < DAYS * 24; h++)
        offers[h].raw.temperature_c = h < 12 ? 9 : round(offers[h].raw.temperature_c) + 20;
    for (int h = 20; h < 44; h++)
        offers[h].raw.wind_10m_m_s = 0;
    for (int h = 12; h < 60; h++)
        offers[h].raw.humidity_pct = 100;
    judge(offers, DAYS * 24);
    assert_int_equal(count_marks(offers, DAYS * 24, WEATHER_WIND, WEATHER_MARK_STUCK), 23);
    assert_int_equal(count_marks(offers, DAYS * 24, WEATHER_AIR, WEATHER_MARK_STUCK), 11 + 47);
}

static void weather_check_gap_ends_a_run_of_equal_values(void **state)
{
    (void)state;
    struct weather_offer offers[DAYS * 24];
    good_days(offers);
    for (int h = 40; h < 46; h++)
        offers[h].raw.wind_10m_m_s = 1.1;
    memmove(&offers[43], &offers[44], (DAYS * 24 - 44) * sizeof *offers); /* hour 43 is missing */
    judge(offers, DAYS * 24 - 1);
    assert_int_equal(count_marks(offers, DAYS * 24 - 1, WEATHER_WIND, WEATHER_MARK_STUCK), 0);
}

static void weather_check_dark_day_is_rejected_as_a_whole(void **state)
{
    (void)state;
    struct weather_offer offers[DAYS * 24];
    good_days(offers);
    for (int h = 24; h < 48; h++)
        offers[h].raw.radiation_w_m2 *= 0.02 / 0.9;
    judge(offers, DAYS * 24);
    assert_int_equal(count_marks(offers, DAYS * 24, WEATHER_SKY, WEATHER_MARK_DARK), 24);
    assert_int_equal(offers[23].mark[WEATHER_SKY], WEATHER_MARK_GOOD);
    good_days(offers);
    for (int h = 24; h < 48; h++)
        offers[h].raw.radiation_w_m2 *= 0.05 / 0.9; /* a black storm all day, but a day */
    judge(offers, DAYS * 24);
    assert_int_equal(count_marks(offers, DAYS * 24, WEATHER_SKY, WEATHER_MARK_DARK), 0);
}

static void weather_check_doubts_do_not_reject(void **state)
{
    (void)state;
    struct weather_offer offers[DAYS * 24];
    good_days(offers);
    offers[30].raw.temperature_c += 9;
    offers[40].raw.rain_mm = 1;
    offers[40].raw.humidity_pct = 30;
    offers[36].raw.radiation_w_m2 *= 1.12 / 0.9; /* 12 and 13 h: cloud edges for two hours */
    offers[37].raw.radiation_w_m2 *= 1.12 / 0.9;
    offers[60].raw.radiation_w_m2 *= 1.12 / 0.9; /* one hour alone */
    judge(offers, DAYS * 24);
    assert_int_equal(offers[30].mark[WEATHER_AIR], WEATHER_MARK_JUMP);
    assert_int_equal(offers[40].mark[WEATHER_RAIN], WEATHER_MARK_DRY_RAIN);
    assert_int_equal(count_marks(offers, DAYS * 24, WEATHER_SKY, WEATHER_MARK_BRIGHT), 2);
    for (int part = 0; part < WEATHER_PARTS; part++)
        for (int h = 0; h < DAYS * 24; h++)
            assert_false(weather_mark_rejects(offers[h].mark[part]));
}

static void weather_check_polar_night_and_bad_input_do_not_crash(void **state)
{
    (void)state;
    const struct sun_site pole = {80, 0, 0};
    const struct sun_site nowhere = {91, 0, 0};
    struct weather_offer offers[48];
    for (int h = 0; h < 48; h++) {
        offers[h] = offer(h);
        offers[h].raw.start_s = 1950480000 + h * HOUR; /* 2031-10-22, then on into the dark */
        offers[h].raw.radiation_w_m2 = 0;
        assert_int_equal(weather_check_hour(&pole, &offers[h]), STATUS_OK);
    }
    assert_int_equal(weather_check_sensor(&pole, offers, 48), STATUS_OK);
    assert_int_equal(count_marks(offers, 48, WEATHER_SKY, WEATHER_MARK_GOOD), 48);
    assert_int_equal(weather_check_hour(&nowhere, &offers[0]), STATUS_RANGE);
    offers[1].raw.start_s = offers[0].raw.start_s;
    assert_int_equal(weather_check_sensor(&pole, offers, 48), STATUS_RANGE);
    assert_int_equal(weather_check_sensor(&pole, NULL, 0), STATUS_OK);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(weather_check_good_station_is_good),
        cmocka_unit_test(weather_check_hour_limits_reject_their_part_only),
        cmocka_unit_test(weather_check_more_than_the_sun_gives_is_rejected),
        cmocka_unit_test(weather_check_sensor_that_does_not_move_is_rejected),
        cmocka_unit_test(weather_check_whole_numbers_calm_and_fog_are_given_longer),
        cmocka_unit_test(weather_check_gap_ends_a_run_of_equal_values),
        cmocka_unit_test(weather_check_dark_day_is_rejected_as_a_whole),
        cmocka_unit_test(weather_check_doubts_do_not_reject),
        cmocka_unit_test(weather_check_polar_night_and_bad_input_do_not_crash),
    };
    return cmocka_run_group_tests_name("weather_check", tests, NULL, NULL);
}
