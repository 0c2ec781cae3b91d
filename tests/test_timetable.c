/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check.h"

#include <math.h>

#include "core/timetable.h"

#define T0 (INT64_C(1700000000) / 60 * 60)

static struct timetable *a_table(double flow_l_min, size_t valves, int minutes)
{
    struct timetable *table = malloc(sizeof *table);
    assert_non_null(table);
    assert_int_equal(timetable_open(table, T0, T0 + (int64_t)minutes * 60, flow_l_min, valves),
                     STATUS_OK);
    return table;
}

static struct timetable_run a_run(int from, int until, int minutes, double flow_l_min)
{
    return (struct timetable_run){.from_s = T0 + (int64_t)from * 60,
                                  .until_s = T0 + (int64_t)until * 60,
                                  .pulses = 1,
                                  .pulse_min = minutes,
                                  .flow_l_min = flow_l_min};
}

static void timetable_place_early_and_late_runs_keep_their_ends(void **state)
{
    (void)state;
    struct timetable *table = a_table(100.0, 4, 300);
    struct timetable_place place;
    struct timetable_run run = a_run(10, 200, 30, 60.0);
    assert_int_equal(timetable_place(table, &run, &place), STATUS_OK);
    assert_int_equal(place.fit, TIMETABLE_FITS);
    assert_int_equal(place.start_s, T0 + 600);
    run.latest = true;
    assert_int_equal(timetable_place(table, &run, &place), STATUS_OK);
    assert_int_equal(place.end_s, T0 + 200 * 60);
    /* Both ends are taken: the third early one waits for the first. */
    run.latest = false;
    assert_int_equal(timetable_place(table, &run, &place), STATUS_OK);
    assert_int_equal(place.start_s, T0 + 40 * 60);
    free(table);
}

static void timetable_place_pause_of_one_is_used_by_another(void **state)
{
    (void)state;
    struct timetable *table = a_table(50.0, 4, 120);
    struct timetable_place place;
    struct timetable_run pulsed = a_run(0, 120, 10, 50.0);
    pulsed.pulses = 3;
    pulsed.pause_min = 20;
    assert_int_equal(timetable_place(table, &pulsed, &place), STATUS_OK);
    assert_int_equal(place.end_s - place.start_s, 70 * 60);
    struct timetable_run plain = a_run(0, 120, 15, 50.0);
    assert_int_equal(timetable_place(table, &plain, &place), STATUS_OK);
    assert_int_equal(place.start_s, T0 + 10 * 60);
    free(table);
}

static void timetable_place_no_room_says_what_would_do(void **state)
{
    (void)state;
    struct timetable *table = a_table(100.0, 4, 600);
    struct timetable_place place;
    struct timetable_run run = a_run(0, 60, 60, 80.0);
    assert_int_equal(timetable_place(table, &run, &place), STATUS_OK);
    assert_int_equal(place.fit, TIMETABLE_FITS);
    run = a_run(0, 60, 40, 30.0);
    assert_int_equal(timetable_place(table, &run, &place), STATUS_OK);
    assert_int_equal(place.fit, TIMETABLE_FLOW_SHORT);
    check_near(place.flow_more_l_min, 10.0, 1e-6, "80 + 30 of 100");
    assert_int_equal(place.minutes_more, 40);
    run = a_run(0, 60, 90, 10.0);
    assert_int_equal(timetable_place(table, &run, &place), STATUS_OK);
    assert_int_equal(place.fit, TIMETABLE_WINDOW_SHORT);
    assert_int_equal(place.minutes_more, 30);
    free(table);
}

static void timetable_place_barred_minutes_stay_dry(void **state)
{
    (void)state;
    struct timetable *table = a_table(100.0, 4, 100);
    bool barred[TIMETABLE_MINUTES] = {false};
    struct timetable_place place;
    struct timetable_run run = a_run(0, 100, 20, 10.0);
    memset(barred + 10, true, 50);
    run.barred = barred;
    assert_int_equal(timetable_place(table, &run, &place), STATUS_OK);
    assert_int_equal(place.start_s, T0 + 60 * 60);
    memset(barred, true, 100);
    assert_int_equal(timetable_place(table, &run, &place), STATUS_OK);
    assert_int_equal(place.fit, TIMETABLE_FLOW_SHORT);
    check_near(place.flow_more_l_min, 0.0, 0.0, "no flow helps");
    free(table);
}

/* Thousands of random supplies: never beyond the flow, the valves or a window. Recounted from the
 * places alone. */
/* Two people with hoses only where one cannot do it. */
static void timetable_hose_alone_waits_for_the_other_hose(void **state)
{
    (void)state;
    struct timetable *table = a_table(100.0, 9, 100);
    struct timetable_place place;
    struct timetable_run valve = a_run(0, 100, 90, 10.0);
    struct timetable_run hose = a_run(0, 100, 40, 10.0);
    hose.hose = hose.alone = true;
    assert_int_equal(timetable_place(table, &valve, &place), STATUS_OK);
    assert_int_equal(timetable_place(table, &hose, &place), STATUS_OK);
    assert_int_equal(place.start_s, T0); /* a valve needs nobody */
    assert_int_equal(timetable_place(table, &hose, &place), STATUS_OK);
    assert_int_equal(place.start_s, T0 + 40 * 60);
    int64_t second_s = place.start_s;
    assert_int_equal(timetable_place(table, &hose, &place), STATUS_OK);
    assert_int_equal(place.fit, TIMETABLE_FLOW_SHORT);
    check_near(place.flow_more_l_min, 0.0, 0.0, "no flow would help");
    timetable_release(table, &hose, second_s);
    assert_int_equal(timetable_place(table, &hose, &place), STATUS_OK);
    assert_int_equal(place.start_s, second_s);
    hose.alone = false;
    assert_int_equal(timetable_place(table, &hose, &place), STATUS_OK);
    assert_int_equal(place.start_s, T0);
    free(table);
}

static void timetable_place_random_days_keep_every_limit(void **state)
{
    (void)state;
    uint64_t seed = 5;
    enum { RUNS = 24, MINUTES = 400 };
    struct timetable *table = malloc(sizeof *table);
    assert_non_null(table);
    for (int day = 0; day < 2000; day++) {
        double flow = check_between(&seed, 20.0, 200.0);
        size_t valves = 1 + (size_t)check_between(&seed, 0.0, 5.0);
        double used[MINUTES] = {0};
        size_t open[MINUTES] = {0};
        assert_int_equal(timetable_open(table, T0, T0 + MINUTES * 60, flow, valves), STATUS_OK);
        for (int r = 0; r < RUNS; r++) {
            int from = (int)check_between(&seed, 0.0, 300.0);
            struct timetable_run run =
                a_run(from, from + (int)check_between(&seed, 5.0, 100.0),
                      1 + (int)check_between(&seed, 0.0, 40.0), check_between(&seed, 1.0, 120.0));
            struct timetable_place place;
            run.pulses = 1 + (int)check_between(&seed, 0.0, 3.0);
            run.pause_min = (int)check_between(&seed, 0.0, 20.0);
            run.latest = check_random(&seed) < 0.5;
            assert_int_equal(timetable_place(table, &run, &place), STATUS_OK);
            if (place.fit != TIMETABLE_FITS)
                continue;
            assert_true(place.start_s >= run.from_s && place.end_s <= run.until_s);
            for (int p = 0; p < run.pulses; p++)
                for (int m = 0; m < run.pulse_min; m++) {
                    size_t at = (size_t)((place.start_s - T0) / 60 +
                                         p * (run.pulse_min + run.pause_min) + m);
                    used[at] += run.flow_l_min;
                    open[at]++;
                }
        }
        for (int m = 0; m < MINUTES; m++) {
            assert_true(used[m] <= flow * (1.0 + 1e-6));
            assert_true(open[m] <= valves);
        }
    }
    free(table);
}

/* A single run that does not fit is refused only when no start minute would do: every start is
 * tried here by brute force. */
static void timetable_place_refuses_only_what_cannot_fit(void **state)
{
    (void)state;
    uint64_t seed = 6;
    enum { MINUTES = 120 };
    struct timetable *table = malloc(sizeof *table);
    assert_non_null(table);
    for (int day = 0; day < 3000; day++) {
        double used[MINUTES] = {0};
        assert_int_equal(timetable_open(table, T0, T0 + MINUTES * 60, 100.0, 99), STATUS_OK);
        for (int i = 0; i < 4; i++) {
            int from = (int)check_between(&seed, 0.0, 110.0);
            int until = from + (int)check_between(&seed, 1.0, 40.0);
            double flow = check_between(&seed, 10.0, 90.0);
            timetable_occupy(table, T0 + from * 60, T0 + until * 60, flow, false);
            for (int m = from; m < until && m < MINUTES; m++)
                used[m] += flow;
        }
        struct timetable_run run =
            a_run(0, MINUTES, 1 + (int)check_between(&seed, 0.0, 60.0), 50.0);
        struct timetable_place place;
        assert_int_equal(timetable_place(table, &run, &place), STATUS_OK);
        bool possible = false;
        for (int s = 0; s + run.pulse_min <= MINUTES; s++) {
            bool free_here = true;
            for (int m = s; m < s + run.pulse_min; m++)
                free_here &= used[m] + 50.0 <= 100.0;
            possible |= free_here;
        }
        assert_int_equal(place.fit == TIMETABLE_FITS, possible);
    }
    free(table);
}

static void timetable_nonsense_is_refused(void **state)
{
    (void)state;
    struct timetable *table = a_table(100.0, 4, 100);
    struct timetable_place place;
    struct timetable_run run = a_run(0, 100, 20, NAN);
    assert_int_equal(timetable_place(table, &run, &place), STATUS_RANGE);
    run = a_run(-5, 100, 20, 10.0);
    assert_int_equal(timetable_place(table, &run, &place), STATUS_RANGE);
    run = a_run(0, 100, 0, 10.0);
    assert_int_equal(timetable_place(table, &run, &place), STATUS_RANGE);
    assert_int_equal(timetable_open(table, T0, T0 + 60, NAN, 1), STATUS_RANGE);
    assert_int_equal(timetable_open(table, T0, T0, 1.0, 1), STATUS_RANGE);
    assert_int_equal(timetable_open(table, T0, T0 + INT64_C(86400) * 30, 1.0, 1), STATUS_RANGE);
    free(table);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(timetable_place_early_and_late_runs_keep_their_ends),
        cmocka_unit_test(timetable_place_pause_of_one_is_used_by_another),
        cmocka_unit_test(timetable_place_no_room_says_what_would_do),
        cmocka_unit_test(timetable_place_barred_minutes_stay_dry),
        cmocka_unit_test(timetable_hose_alone_waits_for_the_other_hose),
        cmocka_unit_test(timetable_place_random_days_keep_every_limit),
        cmocka_unit_test(timetable_place_refuses_only_what_cannot_fit),
        cmocka_unit_test(timetable_nonsense_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
