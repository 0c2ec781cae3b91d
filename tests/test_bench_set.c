/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check.h"

#include <math.h>

#include "core/bench_set.h"

static struct retention_curve make(double theta_s, double theta_r, double alpha, double n)
{
    struct retention_curve curve;
    assert_int_equal(retention_make(theta_s, theta_r, alpha, n, &curve), STATUS_OK);
    return curve;
}

static double air_of(const struct retention_curve *curve, double height_cm)
{
    return (curve->theta_s - curve->theta_r) * (1 - bench_mean_saturation(curve, height_cm, 1, 0));
}

static struct bench_test jar_of(const struct retention_curve *curve, double height_cm)
{
    return (struct bench_test){.vessel_height_cm = height_cm,
                               .vessel_volume_ml = 1000,
                               .drained_ml = {1000 * air_of(curve, height_cm)},
                               .replicates = 1};
}

static struct bench_fit fitted(const struct bench_set *set)
{
    struct bench_fit fit;
    assert_int_equal(bench_set_fit(set, &fit), STATUS_OK);
    return fit;
}

/* --- one reading ---------------------------------------------------------------------------- */

static void bench_set_fit_one_test_equals_the_single_fit(void **state)
{
    (void)state;
    struct retention_curve truth = make(.87, .12, .2, 1.65);
    struct bench_test test = jar_of(&truth, 12);
    struct bench_set set = {.tests = &test, .test_count = 1, .class_id = BENCH_PEAT};
    struct bench_fit alone;
    struct bench_test same = test;
    same.class_id = BENCH_PEAT;
    assert_int_equal(bench_fit_one(&same, &alone), STATUS_OK);
    struct bench_fit fit = fitted(&set);
    assert_int_equal(fit.path, BENCH_ONE_VESSEL);
    check_near(fit.curve.alpha_per_cm, alone.curve.alpha_per_cm, 0, "alpha");
}

/* EN 13041 air at 10 cm, inverted by hand: alpha, and the air of straight 7.6, 12 and 20 cm. The
 * first row is a fresh sphagnum peat, porosity 93.1 %, 58 % water at 1 kPa (Cannavo et al. 2011).
 */
static void bench_curve_through_point_vectors_are_met(void **state)
{
    (void)state;
    const struct {
        double air, porosity, theta_r, n, alpha, pots_pct[3];
    } rows[] = {{.35, .931, .03, 1.52, .21539, {14.89, 22.03, 31.11}},
                {.25, .87, .12, 1.65, .14275, {8.88, 14.58, 22.62}}};
    const double pots_cm[] = {7.6, 12, 20};
    for (size_t i = 0; i < 2; i++) {
        struct retention_curve curve;
        assert_int_equal(bench_curve_through_point(rows[i].porosity, rows[i].theta_r, rows[i].n,
                                                   rows[i].air, 10, &curve),
                         STATUS_OK);
        check_near(curve.alpha_per_cm, rows[i].alpha, 6e-6, "alpha");
        check_near(curve.theta_s - retention_theta(&curve, 10), rows[i].air, 1e-12, "the point");
        for (size_t k = 0; k < 3; k++)
            check_near(100 * air_of(&curve, pots_cm[k]), rows[i].pots_pct[k], .0051, "pot air %");
    }
}

/* Cannavo et al. 2011, sphagnum peat fresh: porosity 93.1 %, water 58 % at 1 kPa. */
static void published_cannavo_2011_point_is_a_point_not_a_vessel(void **state)
{
    (void)state;
    struct bench_point point = {.suction_cm = 10, .theta = .58};
    struct bench_set set = {
        .points = &point, .point_count = 1, .total_porosity = .931, .class_id = BENCH_PEAT};
    struct bench_fit fit = fitted(&set);
    assert_int_equal(fit.path, BENCH_ONE_POINT);
    check_near(fit.curve.theta_s - retention_theta(&fit.curve, 10), .351, 1e-9, "air at 1 kPa");
    check_near(fit.vessel_height_cm, 12, 0, "figures are those of a 12 cm vessel");
    check_near(fit.air_space, .221, .002, "which holds far less air");
    assert_true(bench_air_sd(&fit, 5, 1, 0) > bench_air_sd(&fit, 20, 1, 0));
    assert_int_equal(fit.replicates, 0);
}

static void bench_curve_through_point_impossible_air_is_refused(void **state)
{
    (void)state;
    struct retention_curve curve = {0};
    assert_int_equal(bench_curve_through_point(.9, .1, 1.5, .81, 10, &curve), STATUS_IMPOSSIBLE);
    assert_int_equal(bench_curve_through_point(.9, .1, 1.5, 0, 10, &curve), STATUS_IMPOSSIBLE);
    assert_int_equal(bench_curve_through_point(.9, .1, 1.5, NAN, 10, &curve), STATUS_IMPOSSIBLE);
    assert_int_equal(bench_curve_through_point(.9, .1, 1.5, .2, 0, &curve), STATUS_RANGE);
    assert_int_equal(bench_curve_through_point(.9, .1, 1, .2, 10, &curve), STATUS_RANGE);
    assert_int_equal(bench_curve_through_point(.9, .1, 1.01, .79999, 1e-9, &curve),
                     STATUS_NO_SOLUTION);
    check_near(curve.n, 0, 0, "output untouched");
}

/* --- several -------------------------------------------------------------------------------- */

/* A mix whose true n and theta_r are off the class's: a second height moves them towards the truth,
 * and the pots between and beyond come out closer than from one jar. */
static void bench_set_fit_second_height_comes_closer(void **state)
{
    (void)state;
    struct retention_curve truth = make(.87, .05, .16, 2.1);
    struct bench_test tests[] = {jar_of(&truth, 6), jar_of(&truth, 18)};
    struct bench_set one = {
        .tests = tests, .test_count = 1, .total_porosity = .87, .class_id = BENCH_GENERIC};
    struct bench_set two = one;
    two.test_count = 2;
    struct bench_fit a = fitted(&one);
    struct bench_fit b = fitted(&two);
    assert_int_equal(b.path, BENCH_SEVERAL);
    assert_true(b.curve.n > a.curve.n);
    for (double h = 3; h <= 40; h += 1) {
        double off_one = fabs(air_of(&a.curve, h) - air_of(&truth, h));
        double off_two = fabs(air_of(&b.curve, h) - air_of(&truth, h));
        if (h >= 9)
            assert_true(off_two < off_one);
        assert_true(off_two < .035);
        assert_true(off_two < 2 * bench_air_sd(&b, h, 1, 0));
    }
    assert_true(bench_air_sd(&b, 18, 1, 0) < bench_air_sd(&a, 18, 1, 0));
    assert_true(b.misfit < .01);
    check_near(b.height_lowest_cm, 6, 0, "span");
    check_near(b.height_highest_cm, 18, 0, "span");
}

/* Two jars of the prior's own mix give that mix back: nothing pulls anywhere. */
static void bench_set_fit_class_mix_is_returned(void **state)
{
    (void)state;
    for (int c = 0; c <= BENCH_GENERIC; c++) {
        const struct bench_prior *p = bench_prior_of((enum bench_class)c);
        struct retention_curve truth = make(p->theta_s, p->theta_r, p->alpha_per_cm, p->n);
        struct bench_test tests[] = {jar_of(&truth, 8), jar_of(&truth, 20)};
        struct bench_set set = {.tests = tests,
                                .test_count = 2,
                                .total_porosity = p->theta_s,
                                .class_id = (enum bench_class)c};
        struct bench_fit fit = fitted(&set);
        check_near(fit.curve.alpha_per_cm / p->alpha_per_cm, 1, 1e-5, p->name);
        check_near(fit.curve.n, p->n, 1e-5, p->name);
        check_near(fit.curve.theta_r, p->theta_r, 1e-5, p->name);
    }
}

static void bench_set_fit_covariance_is_symmetric_and_positive(void **state)
{
    (void)state;
    struct retention_curve truth = make(.87, .05, .16, 2.1);
    struct bench_test tests[] = {jar_of(&truth, 6), jar_of(&truth, 18), jar_of(&truth, 12)};
    struct bench_set set = {.tests = tests, .test_count = 3, .class_id = BENCH_GENERIC};
    struct bench_fit fit = fitted(&set);
    for (size_t i = 0; i < BENCH_LN_M; i++) {
        assert_true(fit.covariance[i][i] > 0);
        for (size_t k = 0; k < i; k++) {
            check_near(fit.covariance[i][k], fit.covariance[k][i], 1e-12, "symmetric");
            assert_true(fit.covariance[i][k] * fit.covariance[i][k] <=
                        fit.covariance[i][i] * fit.covariance[k][k]);
        }
    }
    assert_true(fit.doubts & BENCH_POROSITY_ASSUMED);
    assert_true(fit.total_porosity_sd < .051);
}

/* A whole table frees m: the log-logistic form (m = 1) is recovered from ten exact points, which a
 * tied m cannot follow as well. */
static void bench_set_fit_table_frees_m(void **state)
{
    (void)state;
    struct retention_curve truth = {.9, .2, 1 / 9.0, 1.3, 1};
    const double suctions[] = {0, 1, 3, 6, 10, 20, 30, 50, 70, 100};
    struct bench_point points[10];
    for (size_t i = 0; i < 10; i++)
        points[i] = (struct bench_point){suctions[i], retention_theta(&truth, suctions[i]), .002};
    struct bench_set set = {.points = points, .point_count = 10, .class_id = BENCH_GENERIC};
    struct bench_fit table = fitted(&set);
    assert_int_equal(table.path, BENCH_TABLE);
    check_near(table.curve.theta_s, .9, .003, "theta_s");
    for (double h = 5; h <= 40; h += 5)
        check_near(100 * air_of(&table.curve, h), 100 * air_of(&truth, h), .3, "air");
    assert_true(table.misfit < .002);
    assert_int_equal(table.doubts & BENCH_POROSITY_ASSUMED, 0);
    set.points = points + 1; /* without saturation it is no table */
    set.point_count = 4;
    assert_int_equal(fitted(&set).path, BENCH_SEVERAL);
}

/* De Boodt's three points with a known porosity, in any order. */
static void bench_set_fit_three_points_in_any_order(void **state)
{
    (void)state;
    struct bench_point points[] = {{10, .625, 0}, {50, .355, 0}, {100, .28, 0}};
    struct bench_point turned[] = {points[2], points[0], points[1]};
    struct bench_set set = {
        .points = points, .point_count = 3, .total_porosity = .9, .class_id = BENCH_PEAT};
    struct bench_fit a = fitted(&set);
    set.points = turned;
    struct bench_fit b = fitted(&set);
    assert_int_equal(a.path, BENCH_SEVERAL);
    for (size_t i = 0; i < 3; i++)
        check_near(retention_theta(&a.curve, points[i].suction_cm), points[i].theta, .01, "point");
    check_near(b.curve.alpha_per_cm / a.curve.alpha_per_cm, 1, 1e-4, "order is of no matter");
    check_near(air_of(&b.curve, 12), air_of(&a.curve, 12), 1e-6, "order is of no matter");
}

/* --- what cannot be ------------------------------------------------------------------------- */

static void refused(const struct bench_set *set, enum bench_set_fault fault, enum status status)
{
    struct bench_fit fit;
    memset(&fit, 0x5a, sizeof fit);
    struct bench_fit before = fit;
    assert_int_equal(bench_set_check(set).fault, fault);
    assert_int_equal(bench_set_fit(set, &fit), status);
    assert_memory_equal(&fit, &before, sizeof fit);
}

static void bench_set_fit_what_cannot_be_is_refused(void **state)
{
    (void)state;
    struct bench_set set = {.class_id = BENCH_PEAT};
    refused(&set, BENCH_SET_FAULT_COUNT, STATUS_RANGE);
    struct bench_point points[] = {{10, .6, 0}, {50, .35, 0}};
    set.points = points;
    set.point_count = BENCH_SET_POINTS_MAX + 1;
    refused(&set, BENCH_SET_FAULT_COUNT, STATUS_RANGE);
    set.point_count = 2;
    set.total_porosity = 1;
    refused(&set, BENCH_SET_FAULT_POROSITY, STATUS_RANGE);
    set.total_porosity = .5;
    refused(&set, BENCH_SET_FAULT_ABOVE_PORES, STATUS_IMPOSSIBLE);
    set.total_porosity = .9;
    points[1].theta = .75;
    refused(&set, BENCH_SET_FAULT_THETA_ORDER, STATUS_IMPOSSIBLE);
    points[1].theta = 1;
    refused(&set, BENCH_SET_FAULT_THETA, STATUS_RANGE);
    points[1].theta = NAN;
    refused(&set, BENCH_SET_FAULT_THETA, STATUS_RANGE);
    points[1] = (struct bench_point){-1, .5, 0};
    refused(&set, BENCH_SET_FAULT_SUCTION, STATUS_RANGE);
    points[1] = (struct bench_point){INFINITY, .5, 0};
    refused(&set, BENCH_SET_FAULT_SUCTION, STATUS_RANGE);
    points[1] = (struct bench_point){50, .35, -1};
    refused(&set, BENCH_SET_FAULT_THETA, STATUS_RANGE);
    set.point_count = 1;
    set.class_id = (enum bench_class)42;
    refused(&set, BENCH_SET_FAULT_CLASS, STATUS_RANGE);
    struct retention_curve truth = make(.87, .12, .2, 1.65);
    struct bench_test tests[] = {jar_of(&truth, 12), jar_of(&truth, 20)};
    tests[1].drained_ml[0] = 2000;
    struct bench_set jars = {.tests = tests, .test_count = 2, .class_id = BENCH_PEAT};
    refused(&jars, BENCH_SET_FAULT_TEST, STATUS_IMPOSSIBLE);
    assert_int_equal(bench_set_check(&jars).index, 1);
    assert_int_equal(bench_set_check(&jars).test.fault, BENCH_FAULT_DRAINED_ABOVE_VOLUME);
}

/* Random jars and points, many of them contradictory: a status, or a sound curve. */
static void bench_set_fit_any_input_gives_a_status_or_a_sound_curve(void **state)
{
    (void)state;
    uint64_t seed = 5;
    size_t usable = 0;
    for (int i = 0; i < 300; i++) {
        struct bench_test tests[3];
        struct bench_point points[8];
        struct bench_fit fit;
        struct bench_set set = {.tests = tests,
                                .test_count = (size_t)check_between(&seed, 0, 4),
                                .points = points,
                                .point_count = (size_t)check_between(&seed, 0, 9),
                                .class_id = (enum bench_class)check_between(&seed, 0, 8)};
        for (size_t k = 0; k < 3; k++)
            tests[k] = (struct bench_test){.vessel_height_cm = exp(check_between(&seed, -3, 5.5)),
                                           .vessel_volume_ml = 1000,
                                           .drained_ml = {check_between(&seed, 1, 800)},
                                           .replicates = 1};
        double theta = check_between(&seed, .4, .99);
        for (size_t k = 0; k < 8; k++) {
            points[k] = (struct bench_point){k == 0 ? 0 : exp(check_between(&seed, -2, 8)), theta,
                                             check_between(&seed, 0, .2)};
            theta *= check_between(&seed, .6, 1.01);
        }
        if (bench_set_fit(&set, &fit) != STATUS_OK)
            continue;
        usable++;
        assert_int_equal(retention_check(&fit.curve), STATUS_OK);
        double sd = bench_air_sd(&fit, 12, 1, 0);
        assert_true(sd >= 0 && sd <= .5 && fit.misfit <= .1);
        check_near(fit.air_space + fit.container_capacity, fit.total_porosity, 1e-12, "closes");
    }
    assert_true(usable > 40);
}

/* Four suctions, one of them read twice, are no table of five. */
static void bench_set_fit_repeated_suctions_count_once(void **state)
{
    (void)state;
    struct bench_point points[] = {
        {0, .9, 0}, {10, .62, 0}, {10, .63, 0}, {50, .36, 0}, {100, .28, 0}};
    struct bench_set set = {.points = points, .point_count = 5, .class_id = BENCH_PEAT};
    assert_int_equal(fitted(&set).path, BENCH_SEVERAL);
    points[2].suction_cm = 20;
    points[2].theta = .5;
    assert_int_equal(fitted(&set).path, BENCH_TABLE);
}

/* The class does not hold alpha back: a mix four times as coarse is followed. */
static void bench_set_fit_far_alpha_is_followed(void **state)
{
    (void)state;
    const struct bench_prior *p = bench_prior_of(BENCH_PEAT);
    struct retention_curve truth = make(.92, p->theta_r, 4 * p->alpha_per_cm, p->n);
    struct bench_test tests[] = {jar_of(&truth, 6), jar_of(&truth, 18)};
    struct bench_set set = {
        .tests = tests, .test_count = 2, .total_porosity = .92, .class_id = BENCH_PEAT};
    struct bench_fit fit = fitted(&set);
    assert_true(fit.misfit < .004);
    check_near(fit.curve.alpha_per_cm / truth.alpha_per_cm, 1, .06, "alpha");
}

/* A point an e-fold below the lowest height seen, on top of the rest. */
static void bench_air_sd_below_the_lowest_vessel_grows(void **state)
{
    (void)state;
    struct retention_curve truth = make(.87, .12, .2, 1.65);
    struct bench_test tests[] = {jar_of(&truth, 6), jar_of(&truth, 18)};
    struct bench_set set = {
        .tests = tests, .test_count = 2, .total_porosity = .87, .class_id = BENCH_GENERIC};
    struct bench_fit fit = fitted(&set);
    double far = bench_air_sd(&fit, 3, 1, 0);
    fit.height_lowest_cm = 3;
    double seen = bench_air_sd(&fit, 3, 1, 0);
    check_near(sqrt(far * far - seen * seen), .010 * log(2), 1e-9, "a factor of two");
}

int main(void)
{
    const struct CMUnitTest cases[] = {
        cmocka_unit_test(bench_set_fit_one_test_equals_the_single_fit),
        cmocka_unit_test(bench_curve_through_point_vectors_are_met),
        cmocka_unit_test(published_cannavo_2011_point_is_a_point_not_a_vessel),
        cmocka_unit_test(bench_curve_through_point_impossible_air_is_refused),
        cmocka_unit_test(bench_set_fit_second_height_comes_closer),
        cmocka_unit_test(bench_set_fit_class_mix_is_returned),
        cmocka_unit_test(bench_set_fit_covariance_is_symmetric_and_positive),
        cmocka_unit_test(bench_set_fit_table_frees_m),
        cmocka_unit_test(bench_set_fit_three_points_in_any_order),
        cmocka_unit_test(bench_set_fit_what_cannot_be_is_refused),
        cmocka_unit_test(bench_set_fit_any_input_gives_a_status_or_a_sound_curve),
        cmocka_unit_test(bench_set_fit_repeated_suctions_count_once),
        cmocka_unit_test(bench_set_fit_far_alpha_is_followed),
        cmocka_unit_test(bench_air_sd_below_the_lowest_vessel_grows),
    };
    return cmocka_run_group_tests(cases, NULL, NULL);
}
