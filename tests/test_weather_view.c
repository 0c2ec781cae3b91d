/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The weather of a plan, from real records: which source's word stands, what is not used, the
 * ladder down to the climate normals, and the look back on past forecasts.
 */
#include "check.h"

#include <math.h>
#include <stdio.h>

#include "core/air.h"
#include "daemon/config.h"
#include "daemon/import.h"
#include "daemon/planner.h"
#include "daemon/store.h"
#include "daemon/store_station.h"
#include "daemon/verify.h"
#include "daemon/weather_json.h"
#include "daemon/zoneinfo.h"
#include "scratch.h"

#define HOUR ((int64_t)CIVIL_HOUR_S)
#define DAY  ((int64_t)CIVIL_DAY_S)

static const char CONFIG[] = "[nursery]\nname = Test nursery\ntime_zone = Europe/Lisbon\n"
                             "latitude_deg = 38.15\nlongitude_deg = -8.45\nelevation_m = 90\n"
                             "[feed]\nsources = met\ncontact = tests@nursery.example\n"
                             "[store]\npath = records.sqlite\n";

/* 2026-06-10T06:00:00Z */
static const int64_t ISSUED = 1781071200;

struct desk {
    struct scratch scratch;
    struct config config;
    struct civil_zone zone;
    struct store *store;
    struct error error;
};

static void open_desk(struct desk *d)
{
    char path[256];
    scratch_open(&d->scratch);
    snprintf(path, sizeof path, "%s", scratch_write(&d->scratch, "perchd.conf", CONFIG));
    if (config_load(path, &d->config, &d->error) != 0 ||
        zoneinfo_load(d->config.time_zone, &d->zone, &d->error) != 0)
        fail_msg("%s", d->error.text);
    /* a second service, as any later line of the table would be */
    snprintf(d->config.feeds[1].name, sizeof d->config.feeds[1].name, "second");
    d->config.feed_count = 2;
    d->store = store_open(d->config.store_path, false, &d->error);
    if (!d->store || import_path(d->store, PERCHD_SOURCE "/config/demo", NULL, &d->error) != 0)
        fail_msg("%s", d->error.text);
}

static void close_desk(struct desk *d)
{
    store_close(d->store);
    zoneinfo_free(&d->zone);
    scratch_close(&d->scratch);
}

/* Nine days of weather from the issue on: warm_c warmer than 20 C on average, 2 mm of rain an hour
 * on the seventh day. */
static void give_forecast(struct desk *d, const char *feed, int64_t issued_s, double warm_c)
{
    enum { HOURS = 216 };
    static struct weather_raw hours[HOURS];
    for (int h = 0; h < HOURS; h++) {
        struct weather_raw raw = WEATHER_RAW_EMPTY;
        raw.start_s = issued_s + h * HOUR;
        raw.issued_s = issued_s;
        raw.kind = WEATHER_FORECAST;
        double solar_h = (double)(raw.start_s % DAY) / HOUR;
        raw.temperature_c = 20 + warm_c - 6 * cos((solar_h - 3) * 0.2618);
        raw.dewpoint_c = 9;
        raw.wind_10m_m_s = 3;
        raw.cloud_pct = 20;
        raw.rain_mm = h >= 150 && h < 156 ? 2 : 0;
        raw.rain_probability = raw.rain_mm > 0 ? 0.9 : 0;
        hours[h] = raw;
    }
    const struct store_feed state = {.issued_s = issued_s,
                                     .fetched_s = issued_s + 60,
                                     .first_s = issued_s,
                                     .end_s = issued_s + HOURS * HOUR};
    if (store_feed_accept(d->store, feed, hours, HOURS, &state, &d->error) != 0)
        fail_msg("%s", d->error.text);
}

/* Readings every half hour within [from_s, to_s]. */
static void give_readings(struct desk *d, int64_t from_s, int64_t to_s, double warm_c)
{
    for (int64_t t = from_s + 1800; t <= to_s; t += 1800) {
        double solar_h = (double)((t - 900) % DAY) / HOUR;
        struct station_reading r = {
            .end_s = t,
            .period_s = 1800,
            .temperature_c = 20 + warm_c - 6 * cos((solar_h - 3) * 0.2618),
            .humidity_pct = 55 + 10 * cos((solar_h - 3) * 0.2618),
            .dewpoint_c = NAN,
            .wind_m_s = 1.5 + 0.1 * sin((double)t),
            .radiation_w_m2 = fmax(0, 850 * sin((solar_h - 6) * 0.2618)),
            .rain_mm = 0,
        };
        if (store_readings_put(d->store, &r, 1, "test", t, NULL, &d->error) != 0)
            fail_msg("%s", d->error.text);
    }
}

struct sight {
    struct records records;
    struct weather_view view;
    struct weather_report report;
};

static void look(struct desk *d, int64_t at_s, struct sight *s)
{
    if (store_load(d->store, at_s, &d->config.site, &d->zone, 21, d->config.plan_days + 2,
                   &s->records, &d->error) != 0 ||
        weather_view_make(&d->config, &d->zone, &s->records, at_s, 21, 2, &s->view, &d->error) != 0)
        fail_msg("%s", d->error.text);
    s->report = (struct weather_report){&s->view, &s->records, &d->zone, at_s};
}

static void look_away(struct sight *s)
{
    weather_view_free(&s->view);
    records_free(&s->records);
}

static const struct weather_hour *hour_of(const struct sight *s, int64_t start_s)
{
    for (size_t h = 0; h < s->view.hour_count; h++)
        if (s->view.hours[h].start_s == start_s)
            return &s->view.hours[h];
    fail_msg("no such hour");
    return NULL;
}

static double et0_mm(const struct desk *d, const struct sight *s, int64_t from_s)
{
    struct weather_day day;
    assert_int_equal(weather_day_of(&d->config.site, hour_of(s, from_s), 24, &day), STATUS_OK);
    return day.et0_mm;
}

static bool says(const struct sight *s, enum weather_notice notice)
{
    struct weather_said said[WEATHER_SAID_MOST];
    size_t count = weather_notices(&s->report, said);
    for (size_t i = 0; i < count; i++)
        if (said[i].notice == notice)
            return true;
    return false;
}

static void expect_plan_says(struct desk *d, int64_t at_s, const char *json, const char *text)
{
    struct planner_bodies bodies = {0};
    if (planner_make(&d->config, &d->zone, d->store, at_s, &bodies, &d->error) != 0)
        fail_msg("%s", d->error.text);
    if (!strstr(bodies.json, json))
        fail_msg("no %s in the plan", json);
    if (!strstr(bodies.text, text))
        fail_msg("no '%s' in the sheet:\n%s", text, bodies.text);
    assert_true(bodies.run_count > 0); /* silence of the feeds never stops the water */
    planner_free(&bodies);
}

/* --- the ladder --------------------------------------------------------------------------- */

/* One document, then silence for ten days. */
static void weather_view_outage_is_climbed_down_rung_by_rung(void **state)
{
    (void)state;
    static const struct {
        int64_t age_s;
        enum weather_rung rung;
        const char *json, *text;
    } STEPS[] = {
        {HOUR, WEATHER_RUNG_FORECAST, "\"rung\":\"forecast\"", "1 h old"},
        {12 * HOUR, WEATHER_RUNG_FORECAST, "\"rung\":\"forecast\"", "12 h old"},
        {12 * HOUR + 60, WEATHER_RUNG_OLD, "\"code\":\"weather_old\"", "12 h old: OLD"},
        {DAY, WEATHER_RUNG_OLD, "\"code\":\"weather_old\"", "24 h old: OLD"},
        {DAY + 60, WEATHER_RUNG_FADING, "\"code\":\"weather_fading\"", "usual weather is in it"},
        {3 * DAY, WEATHER_RUNG_FADING, "\"rung\":\"fading_forecast\"", "72 h old: OLD"},
        {3 * DAY + 60, WEATHER_RUNG_FAINT, "\"rung\":\"faint_forecast\"", "usual weather is in it"},
        {7 * DAY, WEATHER_RUNG_FAINT, "\"rung\":\"faint_forecast\"", "168 h old: OLD"},
        {7 * DAY + 60, WEATHER_RUNG_NORMALS, "\"code\":\"weather_normals\"", "no forecast at hand"},
        {10 * DAY, WEATHER_RUNG_NORMALS, "\"rung\":\"normals\"", "no forecast at hand"},
    };
    struct desk d;
    struct sight s;
    double share = 1;
    open_desk(&d);
    give_forecast(&d, "met", ISSUED, 12);
    for (size_t i = 0; i < sizeof STEPS / sizeof *STEPS; i++) {
        int64_t at_s = ISSUED + STEPS[i].age_s;
        look(&d, at_s, &s);
        assert_int_equal(s.view.rung, STEPS[i].rung);
        if (STEPS[i].rung == WEATHER_RUNG_NORMALS)
            assert_true(s.view.age_s < 0);
        else
            assert_int_equal(s.view.age_s, STEPS[i].age_s);
        /* what a day from now is made of */
        const struct weather_hour *ahead = hour_of(&s, civil_floor_hour(at_s) + DAY);
        assert_true(ahead->normal_share >= 1 - share - 1e-12);
        share = 1 - ahead->normal_share;
        check_near(share,
                   weather_forecast_share((double)STEPS[i].age_s / HOUR,
                                          (double)(ahead->start_s - ISSUED) / HOUR),
                   1e-9, "share of the forecast");
        for (size_t h = 0; h < s.view.hour_count; h++)
            if (s.view.hours[h].start_s >= ISSUED + 216 * HOUR) {
                assert_int_equal(s.view.hours[h].rain_kind, WEATHER_NORMAL);
                check_near(s.view.hours[h].rain_mm, 0, 0, "no rain beyond the last valid hour");
            }
        print_message(
            "ladder: %6.2f h  %-15s share %.2f  ET0 of the next 24 h %.2f mm  +-%.0f %%\n",
            (double)STEPS[i].age_s / HOUR, weather_rung_name(s.view.rung), share,
            et0_mm(&d, &s, civil_floor_hour(at_s)), 100 * s.view.spread);
        look_away(&s);
        expect_plan_says(&d, at_s, STEPS[i].json, STEPS[i].text);
    }
    check_near(share, 0, 0, "nothing is left of it in the end");
    close_desk(&d);
}

static void weather_view_younger_second_feed_takes_over(void **state)
{
    (void)state;
    struct desk d;
    struct sight s;
    open_desk(&d);
    give_forecast(&d, "met", ISSUED, 0);
    give_forecast(&d, "second", ISSUED + 6 * HOUR, 0.5);
    look(&d, ISSUED + 7 * HOUR, &s);
    assert_string_equal(s.records.sources[s.view.leading].name, "met");
    look_away(&s);
    look(&d, ISSUED + 13 * HOUR, &s);
    assert_string_equal(s.records.sources[s.view.leading].name, "second");
    assert_int_equal(s.view.rung, WEATHER_RUNG_FORECAST);
    assert_int_equal(s.view.age_s, 7 * HOUR);
    look_away(&s);
    close_desk(&d);
}

static void weather_view_feeds_that_disagree_are_said_and_widen_the_spread(void **state)
{
    (void)state;
    struct desk d;
    struct sight s;
    open_desk(&d);
    give_forecast(&d, "met", ISSUED, 0);
    give_forecast(&d, "second", ISSUED, 1);
    look(&d, ISSUED + HOUR, &s);
    assert_int_equal(s.view.dispute_count, 0);
    double alike = s.view.spread;
    look_away(&s);
    give_forecast(&d, "second", ISSUED + HOUR, 14);
    look(&d, ISSUED + 2 * HOUR, &s);
    assert_true(s.view.dispute_count > 0);
    assert_true(s.view.disputes[0].differs & WEATHER_DIFFERS_TEMPERATURE);
    assert_true(says(&s, WEATHER_NOTICE_DISPUTE));
    assert_true(s.view.spread >= alike);
    check_near(hour_of(&s, civil_floor_hour(ISSUED) + DAY)->temperature_c, 20 - 6 * cos(3 * 0.2618),
               1e-9, "never swapped silently");
    look_away(&s);
    expect_plan_says(&d, ISSUED + 2 * HOUR, "\"code\":\"feeds_disagree\"",
                     "disagree about a coming day");
    close_desk(&d);
}

/* --- the station -------------------------------------------------------------------------- */

static void weather_view_station_hours_stand_before_forecasts(void **state)
{
    (void)state;
    struct desk d;
    struct sight s;
    open_desk(&d);
    give_forecast(&d, "met", ISSUED, 5);
    give_readings(&d, ISSUED, ISSUED + 10 * HOUR, 0);
    look(&d, ISSUED + 10 * HOUR, &s);
    const struct weather_hour *past = hour_of(&s, ISSUED + 8 * HOUR);
    assert_int_equal(past->kind, WEATHER_MEASURED);
    assert_int_equal(past->radiation, WEATHER_RADIATION_GIVEN);
    assert_int_equal(past->rain_kind, WEATHER_MEASURED);
    assert_int_equal(past->origin[WEATHER_AIR].source, 0);
    check_near(past->wind_2m_m_s, 1.5, 0.11, "measured at 2 m");
    const struct weather_hour *next = hour_of(&s, ISSUED + 10 * HOUR);
    assert_int_equal(next->kind, WEATHER_FORECAST);
    assert_false(says(&s, WEATHER_NOTICE_BIAS)); /* ten hours teach nothing */
    look_away(&s);
    close_desk(&d);
}

static void weather_view_lasting_error_is_learnt_said_and_taken_off(void **state)
{
    (void)state;
    struct desk d;
    struct sight s;
    const int64_t at_s = ISSUED + 6 * DAY;
    open_desk(&d);
    for (int64_t t = ISSUED; t < at_s; t += 6 * HOUR)
        give_forecast(&d, "met", t, 3);
    give_readings(&d, ISSUED, at_s, 0);
    look(&d, at_s, &s);
    const struct weather_learnt *l = &s.view.learnt[s.view.leading];
    check_near(l->temperature_bias_c, 3, 0.15, "3 C too warm");
    assert_true(l->wind_ratio < 0.75); /* 3 m/s at 10 m are 2.24 at 2 m, measured are 1.5 */
    assert_in_range(l->radiation_days, 5, 7);
    assert_true(says(&s, WEATHER_NOTICE_BIAS));
    /* noon tomorrow: 26 + 3 C forecast, 26 C after what was learnt */
    check_near(hour_of(&s, at_s + DAY + 9 * HOUR)->temperature_c, 26, 0.3, "taken off");
    assert_true(hour_of(&s, at_s + DAY)->lead_h > 0);
    look_away(&s);
    expect_plan_says(&d, at_s, "\"code\":\"forecast_off\"", "corrected for");
    close_desk(&d);
}

static void weather_view_bad_sensor_is_kept_marked_and_replaced(void **state)
{
    (void)state;
    struct desk d;
    struct sight s;
    const int64_t at_s = ISSUED + 30 * HOUR;
    open_desk(&d);
    for (int64_t t = ISSUED; t < at_s; t += 6 * HOUR)
        give_forecast(&d, "met", t, 0);
    give_readings(&d, ISSUED, at_s, 0);
    for (int64_t t = at_s - 10 * HOUR + 1800; t <= at_s; t += 1800) { /* the last ten hours stuck */
        struct station_reading r = {t, 1800, 31.4, 55, NAN, 1.2 + 0.01 * (double)(t % 7), 0, 0};
        r.radiation_w_m2 = NAN;
        assert_int_equal(store_readings_put(d.store, &r, 1, "test", t, NULL, &d.error), 0);
    }
    look(&d, at_s, &s);
    const struct weather_hour *bad = hour_of(&s, at_s - 5 * HOUR);
    assert_int_equal(bad->origin[WEATHER_AIR].kind, WEATHER_FORECAST);
    assert_int_equal(bad->origin[WEATHER_AIR].replaces, WEATHER_MARK_STUCK);
    assert_int_equal(bad->origin[WEATHER_WIND].kind, WEATHER_MEASURED);
    assert_int_equal(s.view.rejection_count, 1);
    assert_int_equal(s.view.rejections[0].hours, 9);
    assert_true(says(&s, WEATHER_NOTICE_REJECTED));
    bool kept = false;
    for (size_t i = 0; i < s.records.reading_count; i++)
        kept |= s.records.readings[i].end_s == at_s && s.records.readings[i].temperature_c == 31.4;
    assert_true(kept);
    look_away(&s);
    expect_plan_says(&d, at_s, "\"mark\":\"stuck\"", "did not move for hours: 9 h not used");
    close_desk(&d);
}

/* A logger whose stamps are an hour late. */
static void weather_view_shifted_radiation_is_found_and_not_used(void **state)
{
    (void)state;
    struct desk d;
    struct sight s;
    const int64_t at_s = ISSUED + 5 * DAY;
    open_desk(&d);
    give_forecast(&d, "met", ISSUED, 0);
    give_readings(&d, ISSUED, at_s, 0);
    look(&d, at_s, &s);
    int in_time_h = s.view.lag_h[0]; /* the sine of the test is not quite the sun */
    look_away(&s);
    assert_int_equal(in_time_h, 0);
    for (int64_t t = ISSUED + 1800; t <= at_s; t += 1800) {
        double solar_h = (double)((t - 900) % DAY) / HOUR;
        struct station_reading r = {t, 1800, 20 + 0.1 * (double)(t / 1800 % 9), 60, NAN, NAN, 0, 0};
        r.humidity_pct = 50 + 0.1 * (double)(t / 1800 % 11);
        r.radiation_w_m2 = fmax(0, 850 * sin((solar_h - 7.6) * 0.2618));
        assert_int_equal(store_readings_put(d.store, &r, 1, "test", t, NULL, &d.error), 0);
    }
    look(&d, at_s, &s);
    assert_int_equal(s.view.lag_h[0], 1);
    assert_true(says(&s, WEATHER_NOTICE_SHIFTED));
    assert_int_equal(hour_of(&s, at_s - 18 * HOUR)->origin[WEATHER_SKY].kind, WEATHER_FORECAST);
    assert_int_equal(hour_of(&s, at_s - 18 * HOUR)->origin[WEATHER_SKY].replaces,
                     WEATHER_MARK_SHIFTED);
    look_away(&s);
    close_desk(&d);
}

/* Three days into an outage the station says how far the month is off its normals. */
static void weather_view_station_corrects_the_normals(void **state)
{
    (void)state;
    struct desk d;
    struct sight s;
    const int64_t at_s = ISSUED + 12 * DAY;
    open_desk(&d);
    look(&d, at_s, &s);
    check_near(s.view.learnt[0].normal_factor, 1, 0, "no station");
    look_away(&s);
    give_readings(&d, at_s - 4 * DAY, at_s, 12);
    look(&d, at_s, &s);
    assert_int_equal(s.view.rung, WEATHER_RUNG_NORMALS);
    assert_true(s.view.learnt[0].normal_factor > 1.05);
    double factor = s.view.learnt[0].normal_factor;
    look_away(&s);
    give_readings(&d, at_s - 4 * DAY, at_s, -10);
    look(&d, at_s, &s);
    assert_true(s.view.learnt[0].normal_factor < factor - 0.1);
    look_away(&s);
    close_desk(&d);
}

/* --- looking back ------------------------------------------------------------------------- */

static void verify_days_holds_forecasts_against_what_came(void **state)
{
    (void)state;
    struct desk d;
    struct sight s;
    const int64_t at_s = ISSUED + 12 * DAY;
    size_t made = 0;
    open_desk(&d);
    for (int64_t t = ISSUED; t < at_s; t += 6 * HOUR)
        give_forecast(&d, "met", t, 4);
    give_readings(&d, ISSUED, at_s, 0);
    assert_int_equal(verify_days(&d.config, &d.zone, d.store, at_s, &made, &d.error), 0);
    assert_true(made > 50);
    look(&d, at_s, &s);
    assert_int_equal(s.view.skill_against, WEATHER_MEASURED);
    /* whole days 11 to 21 June, each tried with every lead that was issued by then */
    assert_int_equal(s.view.skill[0].trials, 11);
    assert_int_equal(s.view.skill[1].trials, 10);
    assert_int_equal(s.view.skill[5].trials, 6);
    for (int lead = 0; lead < 8; lead++) {
        check_near(s.view.skill[lead].temperature_bias_c, 4, 0.1, "4 C too warm");
        assert_true(s.view.skill[lead].et0_bias_mm > 0.1);
        assert_true(s.view.skill[lead].et0_rmse_mm >= s.view.skill[lead].et0_mae_mm - 1e-9);
    }
    check_near(s.view.skill[1].et0_sd_mm,
               fmax(s.view.skill[1].et0_rmse_mm, 0.7 * weather_prior_sd_mm(1)), 1e-12, "used");
    /* seven-day-old forecasts of rain that did not fall */
    assert_true(s.view.skill[6].rain_false > 0);
    assert_int_equal(s.view.skill[0].rain_false, 0);
    double before = s.view.skill[1].et0_bias_mm;
    look_away(&s);
    /* again: only the last two days, the same trials */
    assert_int_equal(verify_days(&d.config, &d.zone, d.store, at_s, &made, &d.error), 0);
    assert_in_range(made, 1, 20);
    look(&d, at_s, &s);
    assert_int_equal(s.view.skill[0].trials, 11);
    check_near(s.view.skill[1].et0_bias_mm, before, 1e-9, "the same");
    look_away(&s);
    close_desk(&d);
}

static void verify_days_without_forecasts_or_with_a_day_underway_does_nothing(void **state)
{
    (void)state;
    struct desk d;
    size_t made = 9;
    open_desk(&d);
    assert_int_equal(verify_days(&d.config, &d.zone, d.store, ISSUED, &made, &d.error), 0);
    assert_int_equal(made, 0);
    give_forecast(&d, "met", ISSUED, 0);
    assert_int_equal(verify_days(&d.config, &d.zone, d.store, ISSUED + 20 * HOUR, &made, &d.error),
                     0);
    assert_int_equal(made, 0);
    close_desk(&d);
}

/* One document and silence: every day was only spoken of by it. */
static void verify_days_old_documents_count_for_their_own_lead_only(void **state)
{
    (void)state;
    struct desk d;
    struct sight s;
    const int64_t at_s = ISSUED + 6 * DAY;
    size_t made = 0;
    open_desk(&d);
    give_forecast(&d, "met", ISSUED, 0);
    give_readings(&d, ISSUED, at_s, 0);
    assert_int_equal(verify_days(&d.config, &d.zone, d.store, at_s, &made, &d.error), 0);
    assert_int_equal(made, 5); /* 11 to 15 June */
    look(&d, at_s, &s);
    for (int lead = 0; lead < WEATHER_LEADS; lead++)
        assert_int_equal(s.view.skill[lead].trials, lead < 5 ? 1 : 0);
    look_away(&s);
    close_desk(&d);
}

/* What a plan of last week was made from stays to be seen. */
static void verify_days_thinning_leaves_plans_of_the_last_days_as_they_were(void **state)
{
    (void)state;
    struct desk d;
    struct planner_bodies before = {0};
    struct planner_bodies after = {0};
    const int64_t at_s = ISSUED + 30 * DAY;
    size_t made = 0;
    open_desk(&d);
    for (int64_t t = ISSUED; t < at_s; t += 12 * HOUR)
        give_forecast(&d, "met", t, (double)((t / HOUR) % 7));
    assert_int_equal(planner_make(&d.config, &d.zone, d.store, at_s - 10 * DAY, &before, &d.error),
                     0);
    assert_int_equal(verify_days(&d.config, &d.zone, d.store, at_s, &made, &d.error), 0);
    assert_int_equal(planner_make(&d.config, &d.zone, d.store, at_s - 10 * DAY, &after, &d.error),
                     0);
    assert_string_equal(before.text, after.text);
    planner_free(&before);
    planner_free(&after);
    close_desk(&d);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(weather_view_outage_is_climbed_down_rung_by_rung),
        cmocka_unit_test(weather_view_younger_second_feed_takes_over),
        cmocka_unit_test(weather_view_feeds_that_disagree_are_said_and_widen_the_spread),
        cmocka_unit_test(weather_view_station_hours_stand_before_forecasts),
        cmocka_unit_test(weather_view_lasting_error_is_learnt_said_and_taken_off),
        cmocka_unit_test(weather_view_bad_sensor_is_kept_marked_and_replaced),
        cmocka_unit_test(weather_view_shifted_radiation_is_found_and_not_used),
        cmocka_unit_test(weather_view_station_corrects_the_normals),
        cmocka_unit_test(verify_days_holds_forecasts_against_what_came),
        cmocka_unit_test(verify_days_without_forecasts_or_with_a_day_underway_does_nothing),
        cmocka_unit_test(verify_days_old_documents_count_for_their_own_lead_only),
        cmocka_unit_test(verify_days_thinning_leaves_plans_of_the_last_days_as_they_were),
    };
    return cmocka_run_group_tests_name("weather_view", tests, NULL, NULL);
}
