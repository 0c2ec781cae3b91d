/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Five checks of a sceptic on the example nursery: every figure by hand, every gap with advice. */
#include "check.h"

#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <unistd.h>

#include "daemon/checks.h"
#include "daemon/planner.h"
#include "daemon/store_checks.h"
#include "example.h"

struct checking {
    struct store *store;
    json_t *document;
};

static int take(void *context, const struct plan_view *view, struct error *error)
{
    struct checking *checking = context;
    return checks_json(view, checking->store, &checking->document, error);
}

static json_t *checks_at(struct office *office, const char *time)
{
    struct checking checking = {office->store, NULL};
    if (planner_view(&office->config, &office->zone, office->store, example_time(time), NULL, take,
                     &checking, &office->error) != 0)
        fail_msg("%s", office->error.text);
    return checking.document;
}

static const json_t *section(const json_t *checks, const char *name)
{
    const json_t *found = json_object_get(checks, name);
    assert_non_null(found);
    return found;
}

static const char *text_of(const json_t *object, const char *name)
{
    const char *text = json_string_value(json_object_get(object, name));
    return text ? text : "";
}

static double number_of(const json_t *object, const char *name)
{
    const json_t *value = json_object_get(object, name);
    if (!json_is_number(value))
        fail_msg("no number '%s'", name);
    return json_number_value(value);
}

static const json_t *item(const json_t *object, const char *list, size_t i)
{
    const json_t *one = json_array_get(json_object_get(object, list), i);
    if (!one)
        fail_msg("no %zu of %s", i, list);
    return one;
}

#define NOW "2026-07-10T12:00:00+01:00"

static void checks_without_records_say_what_to_do(void **state)
{
    (void)state;
    struct office office = office_open();
    json_t *checks = checks_at(&office, NOW);
    static const struct {
        const char *section, *advice;
    } wanted[] = {{"litres", "put_cans"},      {"water_lost", "seal_and_weigh"},
                  {"capacity", "test_in_pot"}, {"thirst", "say_when_thirsty"},
                  {"meter", "read_meter"},     {"rain", "read_gauge"}};
    for (size_t i = 0; i < sizeof wanted / sizeof wanted[0]; i++)
        assert_string_equal(text_of(section(checks, wanted[i].section), "do"), wanted[i].advice);
    char *text = checks_text("Test nursery", checks);
    assert_non_null(strstr(text, "not enough yet: put ten cans"));
    assert_non_null(strstr(text, "not enough yet: seal a prediction"));
    assert_non_null(strstr(text, "not enough yet: read a rain gauge"));
    free(text);
    json_decref(checks);
    office_close(&office);
}

/* Bed 1 gives 12 mm/h: 5 mm in 25 min. Cans of 100 cm2 with 40 ml hold 4 mm. */
static void checks_hold_cans_against_the_rate(void **state)
{
    (void)state;
    struct office office = office_open();
    office_import(&office, "catch_cans.csv",
                  "zone,on,catches_ml,can_cm2,minutes\n"
                  "bed-1,2026-06-01,90 90 90 90,100,25\n"
                  "bed-1,2026-07-02,30 40 40 50,100,25\n"
                  "bed-1,2026-08-02,10 10 10 10,100,25\n");
    json_t *checks = checks_at(&office, NOW);
    const json_t *litres = section(checks, "litres");
    const json_t *cans = item(litres, "cans", 0);
    assert_int_equal(json_array_size(json_object_get(litres, "cans")), 1); /* the latest by now */
    assert_string_equal(text_of(cans, "date"), "2026-07-02");
    check_near(number_of(cans, "expected_mm"), 5.0, 1e-9, "12 mm/h x 25 min");
    check_near(number_of(cans, "caught_mm"), 4.0, 1e-9, "40 ml / 100 cm2");
    check_near(number_of(cans, "ratio"), 0.8, 1e-9, "caught / expected");
    check_near(number_of(cans, "du_low_quarter_pct"), 75.0, 1e-9, "30 / 40");
    assert_true(json_is_null(json_object_get(litres, "do")));
    json_decref(checks);
    office_close(&office);
}

/* Drip line: two emitters of 2 L/h, 63 L/min. 630 L are ten minutes: 667 ml a pot. */
static void checks_hold_a_caught_pot_against_its_run(void **state)
{
    (void)state;
    struct office office = office_open();
    office_import(&office, "runs.csv",
                  "key,zone,start,end,litres,state\n"
                  "r-1,drip-1,2026-07-09T05:00:00+01:00,2026-07-09T05:10:00+01:00,630,metered\n");
    office_import(&office, "drain_catches.csv",
                  "block,at,given_ml,drained_ml\n"
                  "camellia-10l,2026-07-09T06:00:00+01:00,600,90\n"
                  "photinia-10l,2026-07-09T12:00:00+01:00,600,30\n");
    json_t *checks = checks_at(&office, NOW);
    const json_t *late = item(section(checks, "litres"), "pots", 0);
    const json_t *pot = item(section(checks, "litres"), "pots", 1);
    assert_string_equal(text_of(pot, "block"), "camellia-10l");
    check_near(number_of(pot, "expected_ml"), 667.0, 1e-9, "2 x 2 L/h x 10 min");
    check_near(number_of(pot, "ratio"), 0.9, 1e-9, "600 / 667");
    check_near(number_of(pot, "drained_pct"), 15.0, 1e-9, "90 / 600");
    check_near(number_of(pot, "target_pct"), 10.0, 1e-9, "emitters' usual");
    assert_true(json_is_null(json_object_get(late, "expected_ml"))); /* no run within 4 h */
    json_decref(checks);
    office_close(&office);
}

static int seal(void *context, const struct plan_view *view, struct error *error)
{
    const struct office *office = context;
    struct store_sealed sealed;
    char *content = NULL;
    if (checks_foretell(view, &sealed, &content, error) != 0)
        return -1;
    sealed.sealed_s = view->input->now_s;
    sealed.who = "account ines";
    int result = store_sealed_add(office->store, &sealed, error);
    free(content);
    return result;
}

static void seal_at(struct office *office, const char *block, const char *time)
{
    if (planner_view(&office->config, &office->zone, office->store, example_time(time), block, seal,
                     office, &office->error) != 0)
        fail_msg("%s", office->error.text);
}

/* Weighed 0.3 kg light at six, sealed, weighed again a day later: what it lost is held against what
 * was sealed, which the later weighing did not touch. */
static void checks_score_what_was_sealed_before_the_weighing(void **state)
{
    (void)state;
    struct office office = office_open();
    office_import(&office, "holds.csv",
                  "key,kind,zone,from,to,who,why\n"
                  "h-1,skip,stakes-1,2026-07-08T00:00:00+01:00,2026-07-12T00:00:00+01:00,,\n");
    office_import(&office, "weighings.csv",
                  "block,at,capacity_kg,now_kg\n"
                  "olive-30l,2026-07-08T06:00:00+01:00,30,29.7\n");
    seal_at(&office, "olive-30l", "2026-07-08T07:00:00+01:00");
    json_t *checks = checks_at(&office, "2026-07-08T12:00:00+01:00");
    const json_t *lost = section(checks, "water_lost");
    assert_string_equal(text_of(lost, "do"), "weigh");
    assert_string_equal(text_of(item(lost, "open", 0), "block"), "olive-30l");
    json_decref(checks);

    office_import(&office, "weighings.csv",
                  "block,at,capacity_kg,now_kg\n"
                  "olive-30l,2026-07-09T06:00:00+01:00,30,28.2\n");
    checks = checks_at(&office, NOW);
    lost = section(checks, "water_lost");
    const json_t *one = item(lost, "items", 0);
    check_near(number_of(one, "weighed_l"), 1.5, 1e-9, "29.7 - 28.2 kg");
    check_near(number_of(one, "expected_l") - number_of(one, "weighed_l"), number_of(one, "off_l"),
               2e-3, "off = expected - weighed");
    assert_true(number_of(one, "expected_l") > 0.3 && number_of(one, "expected_l") < 4.0);
    assert_true(number_of(one, "from_l") < number_of(one, "expected_l"));
    assert_true(number_of(one, "to_l") > number_of(one, "expected_l"));
    bool inside = number_of(one, "from_l") <= 1.5 && number_of(one, "to_l") >= 1.5;
    assert_int_equal(json_is_true(json_object_get(one, "inside")), inside);
    assert_int_equal(number_of(json_object_get(lost, "score"), "count"), 1);
    assert_int_equal(number_of(json_object_get(lost, "score"), "inside"), inside);
    json_decref(checks);
    office_close(&office);
}

/* A run in between spoils the comparison: shown, not counted. */
static void checks_do_not_count_a_pot_that_was_watered_meanwhile(void **state)
{
    (void)state;
    struct office office = office_open();
    seal_at(&office, "olive-30l", "2026-07-08T07:00:00+01:00");
    office_import(&office, "runs.csv",
                  "key,zone,start,end,litres,state\n"
                  "r-1,stakes-1,2026-07-08T09:00:00+01:00,2026-07-08T09:10:00+01:00,,reported\n");
    office_import(&office, "weighings.csv",
                  "block,at,capacity_kg,now_kg\n"
                  "olive-30l,2026-07-09T06:00:00+01:00,30,29.5\n");
    json_t *checks = checks_at(&office, NOW);
    const json_t *lost = section(checks, "water_lost");
    assert_true(json_is_true(json_object_get(item(lost, "items", 0), "watered")));
    assert_true(json_is_null(json_object_get(lost, "score")));
    json_decref(checks);
    office_close(&office);
}

static void checks_seal_of_one_moment_stays_the_first(void **state)
{
    (void)state;
    struct office office = office_open();
    seal_at(&office, "olive-30l", "2026-07-08T07:00:00+01:00");
    office_import(&office, "weighings.csv",
                  "block,at,capacity_kg,now_kg\n"
                  "olive-30l,2026-07-08T06:30:00+01:00,30,25\n");
    seal_at(&office, "olive-30l", "2026-07-08T07:00:00+01:00");
    json_t *checks = checks_at(&office, "2026-07-08T08:00:00+01:00");
    assert_int_equal(json_array_size(json_object_get(section(checks, "water_lost"), "open")), 1);
    json_decref(checks);
    office_close(&office);
}

static void add_tap(struct office *office, const char *at, const char *due)
{
    char content[128];
    char rows[128];
    snprintf(rows, sizeof rows, "block,at,place,feel\ncamellia-10l,%s,both,dry\n", at);
    office_import(office, "touch_checks.csv", rows);
    snprintf(content, sizeof content, "{\"next_at_s\": %lld}", (long long)example_time(due));
    struct store_sealed sealed = {.kind = STORE_SEALED_DUE,
                                  .block = "camellia-10l",
                                  .sealed_s = example_time(at),
                                  .made_s = example_time(at) - 600,
                                  .about_s = example_time(at),
                                  .who = "account ines",
                                  .content = content};
    assert_int_equal(store_sealed_add(office->store, &sealed, &office->error), 0);
}

static void checks_show_hits_and_misses_of_thirst(void **state)
{
    (void)state;
    struct office office = office_open();
    add_tap(&office, "2026-07-01T10:00:00+01:00", "2026-07-01T16:00:00+01:00");
    add_tap(&office, "2026-07-03T10:00:00+01:00", "2026-07-02T12:00:00+01:00");
    json_t *checks = checks_at(&office, NOW);
    const json_t *thirst = section(checks, "thirst");
    check_near(number_of(item(thirst, "items", 0), "off_h"), 6.0, 1e-9, "six hours late");
    assert_true(json_is_true(json_object_get(item(thirst, "items", 0), "hit")));
    check_near(number_of(item(thirst, "items", 1), "off_h"), -22.0, 1e-9, "a day early");
    assert_true(json_is_false(json_object_get(item(thirst, "items", 1), "hit")));
    const json_t *score = json_object_get(thirst, "score");
    assert_int_equal(number_of(score, "count"), 2);
    assert_int_equal(number_of(score, "hits"), 1);
    check_near(number_of(score, "mean_off_h"), -8.0, 1e-9, "(6 - 22) / 2");
    check_near(number_of(score, "mean_size_h"), 14.0, 1e-9, "(6 + 22) / 2");
    char *text = checks_text("Test nursery", checks);
    assert_non_null(strstr(text, "MISSED"));
    free(text);
    json_decref(checks);
    office_close(&office);
}

/* The 2 L pot holds 13.6 cm of mix (config/demo/pots.csv): a vessel of that height is that pot. */
static void checks_show_what_was_measured_in_that_pot(void **state)
{
    (void)state;
    struct office office = office_open();
    office_import(&office, "bench_tests.csv",
                  "mix,tested,vessel,vessel_height_cm,vessel_volume_ml,drained_ml,mass_saturated_g,"
                  "mass_drained_g,mass_dry_g\n"
                  "peat-perlite,2026-07-01,own-pot,13.6,1000,200,1200,1000,400\n"
                  "peat-perlite,2026-07-01,tall,20,1000,300,1200,900,400\n");
    json_t *checks = checks_at(&office, NOW);
    const json_t *capacity = section(checks, "capacity");
    size_t found = 0;
    size_t i;
    json_t *one;
    json_array_foreach(json_object_get(capacity, "items"), i, one)
    {
        assert_true(number_of(one, "capacity_l") > 0.1 && number_of(one, "capacity_sd_l") > 0.0);
        if (strcmp(text_of(one, "pot"), "r2") != 0 ||
            strcmp(text_of(one, "mix"), "peat-perlite") != 0)
            continue;
        assert_int_equal(json_array_size(json_object_get(one, "measured")), 1);
        const json_t *test = item(one, "measured", 0);
        assert_string_equal(text_of(test, "vessel"), "own-pot");
        check_near(number_of(test, "air_pct"), 20.0, 1e-9, "200 of 1000 ml");
        check_near(number_of(test, "capacity_l"), 0.6 * number_of(one, "volume_l"), 1e-3,
                   "1000 - 400 g in a litre");
        found++;
    }
    assert_int_equal(found, 1);
    assert_true(json_is_null(json_object_get(capacity, "do")));
    json_decref(checks);
    office_close(&office);
}

static void checks_hold_plan_against_meter_and_feed_against_gauge(void **state)
{
    (void)state;
    struct office office = office_open();
    const struct store_planned planned[] = {
        {.zone = "drip-1",
         .start_s = example_time("2026-07-09T05:00:00+01:00"),
         .end_s = example_time("2026-07-09T05:20:00+01:00"),
         .litres = 1000},
        {.zone = "bed-1",
         .start_s = example_time("2026-07-09T05:00:00+01:00"),
         .end_s = example_time("2026-07-09T06:00:00+01:00"),
         .litres = 4000},
    };
    assert_int_equal(store_planned_replace(office.store, example_time("2026-07-09T00:00:00+01:00"),
                                           planned, 2, &office.error),
                     0);
    office_import(&office, "runs.csv",
                  "key,zone,start,end,litres,state\n"
                  "r-1,drip-1,2026-07-09T05:00:00+01:00,2026-07-09T05:20:00+01:00,800,metered\n");
    /* Nothing was planned the day after, and water ran all the same: there is no ratio. */
    office_import(&office, "runs.csv",
                  "key,zone,start,end,litres,state\n"
                  "r-2,drip-1,2026-07-10T05:00:00+01:00,2026-07-10T05:20:00+01:00,700,metered\n");
    office_import(&office, "gauge.csv",
                  "from,to,rain_mm\n2026-07-08T08:00:00+01:00,2026-07-09T08:00:00+01:00,6\n");
    json_t *checks = checks_at(&office, NOW);
    const json_t *yesterday = json_object_get(section(checks, "meter"), "yesterday");
    check_near(number_of(yesterday, "planned_l"), 1000.0, 0.0, "of the zone with a meter");
    check_near(number_of(yesterday, "planned_all_l"), 5000.0, 0.0, "of all");
    check_near(number_of(yesterday, "metered_l"), 800.0, 0.0, "its meter");
    check_near(number_of(yesterday, "ratio"), 1.25, 1e-9, "plan / meter");
    json_t *next = checks_at(&office, "2026-07-11T12:00:00+01:00");
    const json_t *unplanned = json_object_get(section(next, "meter"), "yesterday");
    check_near(number_of(unplanned, "planned_l"), 0.0, 0.0, "nothing was planned");
    check_near(number_of(unplanned, "metered_l"), 700.0, 0.0, "but it ran");
    assert_true(json_is_null(json_object_get(unplanned, "ratio")));
    char *text = checks_text("Test nursery", next);
    assert_non_null(strstr(text, "meter 700: nothing was planned\n"));
    free(text);
    json_decref(next);
    const json_t *rain = section(checks, "rain");
    check_near(number_of(item(rain, "items", 0), "gauge_mm"), 6.0, 0.0, "as read");
    assert_string_equal(text_of(rain, "do"), "use_feed"); /* none in this nursery */
    json_decref(checks);
    /* With a feed: half as much on every hour of the gauge's day. */
    struct weather_raw hours[24];
    for (int h = 0; h < 24; h++) {
        hours[h] = (struct weather_raw)WEATHER_RAW_EMPTY;
        hours[h].start_s = example_time("2026-07-08T08:00:00+01:00") + h * CIVIL_HOUR_S;
        hours[h].issued_s = example_time("2026-07-08T06:00:00+01:00");
        hours[h].temperature_c = 20;
        hours[h].humidity_pct = 60;
        hours[h].wind_10m_m_s = 2;
        hours[h].cloud_pct = 50;
        hours[h].rain_mm = 0.125;
    }
    office_feed(&office, hours, 24);
    checks = checks_at(&office, NOW);
    rain = section(checks, "rain");
    check_near(number_of(item(rain, "items", 0), "feed_mm"), 3.0, 1e-9, "24 x 0.125");
    check_near(number_of(json_object_get(rain, "running"), "ratio"), 0.5, 1e-9, "feed / gauge");
    assert_true(json_is_null(json_object_get(rain, "do")));
    json_decref(checks);
    office_close(&office);
}

static struct store_planned planned_on(const char *zone, const char *id, int day, int hour,
                                       double litres)
{
    char at[] = "2026-07-00T00:00:00+01:00";
    snprintf(at, sizeof at, "2026-07-%02dT%02d:00:00+01:00", day, hour);
    struct store_planned run = {
        .start_s = example_time(at), .end_s = example_time(at) + 1800, .litres = litres};
    snprintf(run.zone, sizeof run.zone, "%s", zone);
    snprintf(run.run_id, sizeof run.run_id, "%s", id);
    return run;
}

/* What nobody told of counts on bed-1, drip-1 and tunnel-1, not on hand-1. */
static void checks_sum_what_ran_by_day_and_zone(void **state)
{
    (void)state;
    struct office office = office_open();
    const struct store_planned planned[] = {
        planned_on("bed-1", "a", 8, 5, 1000),   planned_on("bed-1", "b", 8, 7, 500),
        planned_on("tunnel-1", "c", 9, 5, 300), planned_on("tunnel-1", "d", 9, 6, 100),
        planned_on("tunnel-1", "e", 9, 12, 50), planned_on("drip-1", "f", 8, 5, 300),
        planned_on("hand-1", "g", 9, 8, 200),   planned_on("bed-1", "h", 10, 5, 900),
        planned_on("bed-1", "i", 10, 12, 900), /* is not over */
        planned_on("bed-1", "j", 3, 23, 70),   /* seven days ago */
    };
    assert_int_equal(store_planned_replace(office.store, example_time("2026-07-01T00:00:00+01:00"),
                                           planned, sizeof planned / sizeof *planned,
                                           &office.error),
                     0);
    office_import(&office, "runs.csv",
                  "key,run,zone,start,end,litres,state\n"
                  "r-1,,bed-1,2026-07-08T05:00:00+01:00,2026-07-08T05:30:00+01:00,900,metered\n"
                  "r-2,,bed-1,2026-07-08T07:20:00+01:00,2026-07-08T07:30:00+01:00,100,metered\n"
                  "r-3,c,tunnel-1,2026-07-09T05:20:00+01:00,2026-07-09T05:50:00+01:00,250,metered\n"
                  "r-4,,stakes-1,2026-07-09T09:00:00+01:00,2026-07-09T09:10:00+01:00,,confirmed\n");
    json_t *checks = checks_at(&office, NOW);
    static const struct {
        const char *date, *zone, *how;
        double planned_l, ran_l;
    } wanted[] = {
        {"2026-07-10", "bed-1", "assumed", 900, 900},
        {"2026-07-09", "hand-1", "silent", 200, 0},
        {"2026-07-09", "stakes-1", "told", 0, 700},              /* 70 L/min x 10 min */
        {"2026-07-09", "tunnel-1", "told", 450, 250 + 100 + 50}, /* r-3 is of c alone */
        {"2026-07-08", "bed-1", "told", 1500, 1000},
        {"2026-07-08", "drip-1", "assumed", 300, 300},
    };
    const json_t *zones = json_object_get(section(checks, "meter"), "zones");
    assert_int_equal(json_array_size(zones), sizeof wanted / sizeof *wanted);
    for (size_t i = 0; i < sizeof wanted / sizeof *wanted; i++) {
        const json_t *one = json_array_get(zones, i);
        assert_string_equal(text_of(one, "date"), wanted[i].date);
        assert_string_equal(text_of(one, "zone"), wanted[i].zone);
        assert_string_equal(text_of(one, "how"), wanted[i].how);
        check_near(number_of(one, "planned_l"), wanted[i].planned_l, 0.0, wanted[i].zone);
        check_near(number_of(one, "ran_l"), wanted[i].ran_l, 0.0, wanted[i].zone);
    }
    json_decref(checks);
    office_close(&office);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(checks_sum_what_ran_by_day_and_zone),
        cmocka_unit_test(checks_without_records_say_what_to_do),
        cmocka_unit_test(checks_hold_cans_against_the_rate),
        cmocka_unit_test(checks_hold_a_caught_pot_against_its_run),
        cmocka_unit_test(checks_score_what_was_sealed_before_the_weighing),
        cmocka_unit_test(checks_do_not_count_a_pot_that_was_watered_meanwhile),
        cmocka_unit_test(checks_seal_of_one_moment_stays_the_first),
        cmocka_unit_test(checks_show_hits_and_misses_of_thirst),
        cmocka_unit_test(checks_show_what_was_measured_in_that_pot),
        cmocka_unit_test(checks_hold_plan_against_meter_and_feed_against_gauge),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
