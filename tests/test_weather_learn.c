/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check.h"

#include <math.h>

#include "core/air.h"
#include "core/sun.h"
#include "core/weather_learn.h"

/* 2031-05-04T00:00:00Z */
static const int64_t MIDNIGHT = 1935619200;
static const struct sun_site SITE = {45, 0, 100};
#define HOUR ((int64_t)3600)
enum { DAYS = 14, HOURS = DAYS * 24 };

static const struct weather_normal NORMALS[12] = {
    {4, -2, -3, 3.0, 0.45, 60, 12}, {6, -1, -2, 3.0, 0.50, 50, 10}, {10, 1, 0, 3.1, 0.55, 50, 10},
    {15, 4, 3, 2.8, 0.60, 45, 9},   {19, 8, 7, 2.5, 0.62, 60, 9},   {22, 11, 10, 2.4, 0.64, 65, 9},
    {25, 13, 12, 2.2, 0.66, 60, 8}, {24, 13, 12, 2.2, 0.66, 60, 8}, {20, 10, 9, 2.3, 0.60, 55, 8},
    {14, 6, 6, 2.6, 0.55, 60, 9},   {8, 2, 2, 2.8, 0.45, 65, 11},   {5, -1, -1, 3.0, 0.42, 65, 12},
};

/* --- the lag ------------------------------------------------------------------------------ */

/* A sensor that sees the sun of lag_h hours before, under cloud that comes and goes. */
static void sensor(struct weather_slot slots[HOURS], int lag_h, double cloudiness, uint64_t seed)
{
    for (int h = 0; h < HOURS; h++) {
        struct sun_hour sun;
        struct weather_raw raw = WEATHER_RAW_EMPTY;
        raw.start_s = MIDNIGHT + h * HOUR;
        raw.kind = WEATHER_MEASURED;
        assert_int_equal(sun_of_hour(&SITE, raw.start_s - lag_h * HOUR, &sun), STATUS_OK);
        raw.radiation_w_m2 = sun.clear_sky_mj_m2 / 0.0036 * (1 - cloudiness * check_random(&seed));
        slots[h] = weather_slot_of(&raw, 0);
    }
}

static void weather_radiation_lag_finds_a_shift_under_any_sky(void **state)
{
    (void)state;
    static struct weather_slot slots[HOURS];
    for (int lag = -2; lag <= 2; lag++)
        for (int sky = 0; sky <= 8; sky++) {
            int found = 99;
            sensor(slots, lag, sky / 10.0, (uint64_t)(sky + 1));
            assert_int_equal(weather_radiation_lag(&SITE, slots, 7 * 24, &found), STATUS_OK);
            if (found != lag)
                fail_msg("lag %d under cloudiness %d: found %d", lag, sky, found);
        }
}

static void weather_radiation_lag_needs_hours_and_a_sun(void **state)
{
    (void)state;
    static struct weather_slot slots[HOURS];
    const struct sun_site pole = {85, 0, 0};
    int lag = 99;
    sensor(slots, 1, 0, 1);
    assert_int_equal(weather_radiation_lag(&SITE, slots, 59, &lag), STATUS_NO_SOLUTION);
    assert_int_equal(weather_radiation_lag(&SITE, NULL, 0, &lag), STATUS_NO_SOLUTION);
    for (int h = 0; h < HOURS; h++) {
        slots[h].raw.start_s += 230 * 86400; /* late December */
        slots[h].raw.radiation_w_m2 = 0;
    }
    assert_int_equal(weather_radiation_lag(&pole, slots, HOURS, &lag), STATUS_NO_SOLUTION);
    slots[5].raw.start_s = slots[4].raw.start_s;
    assert_int_equal(weather_radiation_lag(&SITE, slots, HOURS, &lag), STATUS_RANGE);
    assert_int_equal(lag, 99);
}

/* --- learning ----------------------------------------------------------------------------- */

/* A station and a feed that is off it: warmer by warm_c, dew point by moist_c, wind and radiation
 * by factors of the measured. */
struct pair {
    struct weather_slot own[HOURS];
    struct weather_hour without[HOURS];
};

static void make_pair(struct pair *p, double warm_c, double moist_c, double wind_factor,
                      double sun_factor)
{
    for (int h = 0; h < HOURS; h++) {
        struct sun_hour sun;
        struct weather_raw raw = WEATHER_RAW_EMPTY;
        raw.start_s = MIDNIGHT + h * HOUR;
        raw.kind = WEATHER_MEASURED;
        raw.temperature_c = 16 + 6 * sin(h * 0.2618);
        raw.dewpoint_c = 8;
        raw.wind_10m_m_s = 3;
        assert_int_equal(sun_of_hour(&SITE, raw.start_s, &sun), STATUS_OK);
        raw.radiation_w_m2 = 0.7 * sun.clear_sky_mj_m2 / 0.0036;
        p->own[h] = weather_slot_of(&raw, 0);
        p->without[h] = (struct weather_hour){
            .start_s = raw.start_s,
            .temperature_c = raw.temperature_c + warm_c,
            .vapour_pressure_kpa = air_saturation_kpa(raw.dewpoint_c + moist_c),
            .wind_2m_m_s = air_wind_2m_m_s(3, 10) * wind_factor,
            .radiation_mj_m2 = 0.7 * sun.clear_sky_mj_m2 * sun_factor,
            .kind = WEATHER_FORECAST,
            .radiation = WEATHER_RADIATION_CLOUD,
        };
    }
}

static struct weather_learnt learn(const struct pair *p)
{
    struct weather_learnt learnt;
    assert_int_equal(weather_learn(&SITE, NORMALS, p->own, HOURS, p->without, HOURS,
                                   MIDNIGHT + HOURS * HOUR, &learnt),
                     STATUS_OK);
    return learnt;
}

static void weather_learn_known_errors_are_found(void **state)
{
    (void)state;
    static struct pair p;
    make_pair(&p, 2.5, -1, 1.25, 0.8);
    struct weather_learnt learnt = learn(&p);
    check_near(learnt.temperature_bias_c, 2.5, 1e-9, "warmer");
    check_near(learnt.dewpoint_bias_c, -1, 1e-6, "drier");
    check_near(learnt.wind_ratio, 0.8, 1e-9, "measured over forecast");
    check_near(learnt.radiation_factor, 1.25, 1e-9, "measured over estimated");
    check_near(learnt.radiation_ratio, 1.25, 1e-9, "measured over forecast");
    assert_int_equal(learnt.hours, 72);
    assert_in_range(learnt.radiation_days, DAYS - 1, DAYS);
}

static void weather_learn_is_bounded(void **state)
{
    (void)state;
    static struct pair p;
    make_pair(&p, 12, -12, 10, 0.2);
    struct weather_learnt learnt = learn(&p);
    check_near(learnt.temperature_bias_c, 4, 0, "bound");
    check_near(learnt.dewpoint_bias_c, -4, 0, "bound");
    check_near(learnt.wind_ratio, 0.4, 0, "bound");
    check_near(learnt.radiation_factor, 1.3, 0, "bound");
    make_pair(&p, -12, 12, 0.1, 1.4);
    learnt = learn(&p);
    check_near(learnt.temperature_bias_c, -4, 0, "bound");
    check_near(learnt.wind_ratio, 1.6, 0, "bound");
    check_near(learnt.radiation_factor, 1 / 1.4, 1e-9, "within");
    make_pair(&p, 0, 0, 1, 2);
    check_near(learn(&p).radiation_factor, 0.7, 0, "bound");
}

static void weather_learn_too_little_teaches_nothing(void **state)
{
    (void)state;
    static struct pair p;
    struct weather_learnt learnt;
    make_pair(&p, 3, 3, 2, 0.8);
    for (int h = 0; h < HOURS; h++) {
        if (h >= HOURS - 72 + 47) /* 47 of the last 72 hours */
            p.own[h].origin[WEATHER_AIR].kind = p.own[h].origin[WEATHER_WIND].kind =
                WEATHER_FORECAST;
        if (h < HOURS - 4 * 24) /* four days of radiation */
            p.own[h].raw.radiation_w_m2 = NAN;
    }
    learnt = learn(&p);
    check_near(learnt.temperature_bias_c, 0, 0, "nothing");
    check_near(learnt.wind_ratio, 1, 0, "nothing");
    check_near(learnt.radiation_factor, 1, 0, "nothing");
    assert_int_equal(learnt.radiation_days, 0);
    assert_int_equal(weather_learn(&SITE, NULL, NULL, 0, NULL, 0, MIDNIGHT, &learnt), STATUS_OK);
    check_near(learnt.radiation_factor, 1, 0, "nothing");
    check_near(learnt.normal_factor, 1, 0, "nothing");
}

/* The normals' reference ET is corrected by half of what the last three days showed. */
static void weather_learn_normal_factor_goes_half_the_way(void **state)
{
    (void)state;
    static struct pair p;
    make_pair(&p, 0, 0, 1, 1);
    double measured_mm = 0;
    double normal_mm = 0;
    for (int h = HOURS - 72; h < HOURS; h += 24) {
        struct weather_day day;
        struct weather_hour hours[24];
        size_t filled = 0;
        struct weather_task task = {.site = &SITE,
                                    .normals = NORMALS,
                                    .slots = &p.own[h],
                                    .slot_count = 24,
                                    .first_s = p.own[h].raw.start_s,
                                    .count = 24};
        assert_int_equal(weather_complete(&task, hours, &filled), STATUS_OK);
        assert_int_equal(weather_day_of(&SITE, hours, 24, &day), STATUS_OK);
        measured_mm += day.et0_mm;
        for (int i = 0; i < 24; i++)
            assert_int_equal(weather_from_normals(&SITE, NORMALS, hours[i].start_s, &hours[i]),
                             STATUS_OK);
        assert_int_equal(weather_day_of(&SITE, hours, 24, &day), STATUS_OK);
        normal_mm += day.et0_mm;
    }
    assert_true(fabs(measured_mm / normal_mm - 1) > 0.05); /* or the case shows nothing */
    check_near(learn(&p).normal_factor, 0.5 + 0.5 * measured_mm / normal_mm, 0.02, "half");
}

static void weather_learnt_apply_touches_forecasts_of_its_source_only(void **state)
{
    (void)state;
    const struct weather_learnt learnt[2] = {
        {.temperature_bias_c = 9, .wind_ratio = 9, .dewpoint_bias_c = 9},
        {.temperature_bias_c = 2, .wind_ratio = 0.5, .dewpoint_bias_c = -3}};
    struct weather_offer offers[4];
    for (size_t i = 0; i < 4; i++) {
        struct weather_raw raw = WEATHER_RAW_EMPTY;
        raw.temperature_c = 20;
        raw.dewpoint_c = 17;
        raw.wind_10m_m_s = 4;
        raw.kind = i == 2 ? WEATHER_ANALYSIS : WEATHER_FORECAST;
        offers[i] = (struct weather_offer){.raw = raw, .source = i == 3 ? 2 : 1};
    }
    offers[1].raw.dewpoint_c = NAN;
    weather_learnt_apply(learnt, 2, offers, 4);
    check_near(offers[0].raw.temperature_c, 18, 0, "corrected");
    check_near(offers[0].raw.dewpoint_c, 18, 0, "corrected, at most the temperature");
    check_near(offers[0].raw.wind_10m_m_s, 2, 0, "corrected");
    assert_true(isnan(offers[1].raw.dewpoint_c));
    check_near(offers[2].raw.temperature_c, 20, 0, "an analysis is no forecast");
    check_near(offers[3].raw.temperature_c, 20, 0, "a source nothing is known of");
}

/* --- days and skill ----------------------------------------------------------------------- */

static void weather_day_differs_names_what_differs(void **state)
{
    (void)state;
    const struct weather_day day = {20, 10, 2, 20, 0, 4};
    const struct {
        struct weather_day other;
        unsigned bits;
    } CASES[] = {
        {{20, 10, 2, 20, 0, 4}, 0},
        {{22.5, 12.9, 2.9, 22.9, 4.9, 4.9}, 0},
        {{22.6, 10, 2, 20, 0, 4}, WEATHER_DIFFERS_TEMPERATURE},
        {{20, 6.9, 2, 20, 0, 4}, WEATHER_DIFFERS_DEWPOINT},
        {{20, 10, 3.7, 20, 0, 4}, WEATHER_DIFFERS_WIND},
        {{20, 10, 2, 14, 0, 4}, WEATHER_DIFFERS_RADIATION},
        {{20, 10, 2, 20, 5, 4}, WEATHER_DIFFERS_RAIN},
        {{20, 10, 2, 20, 0, 5.1}, WEATHER_DIFFERS_ET0},
        {{20, 10, 2, 20, 0, 2.9}, WEATHER_DIFFERS_ET0},
    };
    for (size_t i = 0; i < sizeof CASES / sizeof *CASES; i++) {
        assert_int_equal(weather_day_differs(&day, &CASES[i].other), CASES[i].bits);
        assert_int_equal(weather_day_differs(&CASES[i].other, &day), CASES[i].bits);
    }
    const struct weather_day calm = {20, 10, 0.4, 20, 0, 0.2};
    const struct weather_day breeze = {20, 10, 1.2, 20, 0, 0.4};
    assert_int_equal(weather_day_differs(&calm, &breeze), 0); /* small things differ by factors */
}

static struct weather_trial trial(int lead_d, double age_d, double forecast_mm, double came_mm)
{
    return (struct weather_trial){.lead_d = lead_d,
                                  .age_d = age_d,
                                  .forecast = {20, 10, 2, 20, 2, forecast_mm},
                                  .came = {19, 10, 1, 16, 0, came_mm}};
}

static void weather_skill_of_trials_is_summed_by_lead(void **state)
{
    (void)state;
    struct weather_skill skill[WEATHER_LEADS];
    struct weather_trial trials[14];
    for (int i = 0; i < 12; i++)
        trials[i] = trial(1, 5, i % 2 ? 5 : 3, 3.5); /* +1.5, -0.5 */
    trials[12] = trial(2, 5, 6, 4);
    trials[13] = trial(11, 5, 99, 4); /* no such lead */
    weather_skill_of(trials, 14, skill);
    assert_int_equal(skill[1].trials, 12);
    check_near(skill[1].et0_bias_mm, 0.5, 1e-12, "bias");
    check_near(skill[1].et0_mae_mm, 1, 1e-12, "mean absolute error");
    check_near(skill[1].et0_rmse_mm, sqrt(1.25), 1e-12, "root mean square error");
    check_near(skill[1].et0_sd_mm, sqrt(1.25), 1e-12, "used");
    check_near(skill[1].temperature_bias_c, 1, 1e-12, "temperature");
    check_near(skill[1].radiation_bias_pct, 25, 1e-12, "radiation");
    check_near(skill[1].wind_ratio, 0.5, 1e-12, "wind");
    assert_int_equal(skill[1].rain_false, 12);
    assert_int_equal(skill[1].rain_hits, 0);
    check_near(skill[2].et0_rmse_mm, 2, 1e-12, "one trial");
    check_near(skill[2].et0_sd_mm, weather_prior_sd_mm(2), 0, "one trial proves nothing");
    check_near(skill[0].et0_sd_mm, weather_prior_sd_mm(0), 0, "none");
}

static void weather_skill_of_good_forecasts_keeps_some_doubt_and_forgets(void **state)
{
    (void)state;
    struct weather_skill skill[WEATHER_LEADS];
    struct weather_trial trials[20];
    for (int i = 0; i < 20; i++)
        trials[i] = trial(3, i, 4, 4);
    weather_skill_of(trials, 20, skill);
    check_near(skill[3].et0_sd_mm, 0.7 * weather_prior_sd_mm(3), 1e-12, "at least");
    trials[0] = trial(3, 0, 6, 4);
    trials[1] = trial(3, 60, 4, 4);
    weather_skill_of(trials, 2, skill);
    /* weights 1 and 1/e */
    check_near(skill[3].et0_bias_mm, 2 / (1 + exp(-1)), 1e-12, "the older weighs less");
    trials[0].forecast.et0_mm = NAN;
    trials[1].age_d = -1;
    weather_skill_of(trials, 2, skill);
    assert_int_equal(skill[3].trials, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(weather_radiation_lag_finds_a_shift_under_any_sky),
        cmocka_unit_test(weather_radiation_lag_needs_hours_and_a_sun),
        cmocka_unit_test(weather_learn_known_errors_are_found),
        cmocka_unit_test(weather_learn_is_bounded),
        cmocka_unit_test(weather_learn_too_little_teaches_nothing),
        cmocka_unit_test(weather_learn_normal_factor_goes_half_the_way),
        cmocka_unit_test(weather_learnt_apply_touches_forecasts_of_its_source_only),
        cmocka_unit_test(weather_day_differs_names_what_differs),
        cmocka_unit_test(weather_skill_of_trials_is_summed_by_lead),
        cmocka_unit_test(weather_skill_of_good_forecasts_keeps_some_doubt_and_forgets),
    };
    return cmocka_run_group_tests_name("weather_learn", tests, NULL, NULL);
}
