/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check.h"

#include <math.h>

#include "core/bench.h"

static struct retention_curve make(double theta_s, double theta_r, double alpha, double n)
{
    struct retention_curve curve;
    assert_int_equal(retention_make(theta_s, theta_r, alpha, n, &curve), STATUS_OK);
    return curve;
}

static double air_pct(const struct retention_curve *curve, double height_cm, double taper)
{
    double mean = bench_mean_saturation(curve, height_cm, taper, 0);
    return 100 * (curve->theta_s - curve->theta_r) * (1 - mean);
}

/* A straight jar of 1000 mL, 12 cm deep, 200 mL drained. */
static struct bench_test jar(void)
{
    return (struct bench_test){.vessel_height_cm = 12,
                               .vessel_volume_ml = 1000,
                               .drained_ml = {200},
                               .replicates = 1,
                               .class_id = BENCH_GENERIC};
}

/* --- the integral against closed forms ---------------------------------------------------- */

/* Straight sides, n = 2: asinh(x)/x; log-logistic b = 2: atan(x)/x; b = 1: ln(1+x)/x, by
 * integration by hand. */
static void bench_mean_saturation_straight_equals_closed_forms(void **state)
{
    (void)state;
    uint64_t seed = 3;
    for (int i = 0; i < 2000; i++) {
        double alpha = exp(check_between(&seed, -4, 0.7));
        double height = check_between(&seed, 2, 30);
        double x = alpha * height;
        struct retention_curve vg = {.9, .2, alpha, 2, .5};
        struct retention_curve b2 = {.9, .2, alpha, 2, 1};
        struct retention_curve b1 = {.9, .2, alpha, 1, 1};
        check_near(bench_mean_saturation(&vg, height, 1, 0), asinh(x) / x, 1e-10, "asinh(x)/x");
        check_near(bench_mean_saturation(&b2, height, 1, 0), atan(x) / x, 1e-10, "atan(x)/x");
        check_near(bench_mean_saturation(&b1, height, 1, 0), log1p(x) / x, 1e-10, "ln(1+x)/x");
    }
}

/* r = r0 + c h: [r0^2 I0 + 2 r0 c I1 + c^2 I2] / [H (r0^2 + r0 r1 + r1^2)/3]. */
static double tapered(double r0, double r1, double height, double i0, double i1, double i2)
{
    double c = (r1 - r0) / height;
    return (r0 * r0 * i0 + 2 * r0 * c * i1 + c * c * i2) /
           (height * (r0 * r0 + r0 * r1 + r1 * r1) / 3);
}

static void bench_mean_saturation_tapered_equals_closed_forms(void **state)
{
    (void)state;
    uint64_t seed = 4;
    for (int i = 0; i < 2000; i++) {
        double a = exp(check_between(&seed, -2.5, 0.7));
        double h = check_between(&seed, 3, 30);
        double r0 = check_between(&seed, .5, 1.5);
        double q = sqrt(1 + a * a * h * h);
        struct retention_curve vg = {.9, .2, a, 2, .5};
        struct retention_curve b2 = {.9, .2, a, 2, 1};
        double vg_mean = tapered(r0, 1, h, asinh(a * h) / a, (q - 1) / (a * a),
                                 (a * h * q - asinh(a * h)) / (2 * a * a * a));
        double b2_mean = tapered(r0, 1, h, atan(a * h) / a, log1p(a * a * h * h) / (2 * a * a),
                                 h / (a * a) - atan(a * h) / (a * a * a));
        check_near(bench_mean_saturation(&vg, h, r0, 0), vg_mean, 1e-9, "tapered, n = 2");
        check_near(bench_mean_saturation(&b2, h, r0, 0), b2_mean, 1e-9, "tapered, b = 2");
    }
}

/* Worked by hand from the closed forms, amp 0.7. */
static void bench_mean_saturation_vectors_are_met(void **state)
{
    (void)state;
    const struct {
        double m, alpha, height, taper, mean, air_pct;
    } rows[] = {{.5, .15, 15, 1, .688959, 21.77286},
                {.5, .15, 15, .8, .664384, 23.49312},
                {1, .10, 20, 1, .553574, 31.24979},
                {.5, .15, 15, 1.25, .713645, 20.04483}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct retention_curve curve = {.9, .2, rows[i].alpha, 2, rows[i].m};
        check_near(bench_mean_saturation(&curve, rows[i].height, rows[i].taper, 0), rows[i].mean,
                   5e-7, "mean saturation");
        check_near(air_pct(&curve, rows[i].height, rows[i].taper), rows[i].air_pct, 5e-6, "air %");
    }
}

/* 32 points leave an error under 5e-6 at alpha H = 300, n = 1.3; 64 points leave less. The
 * reference is the same integral in 4000 logarithmic panels. */
static void bench_mean_saturation_steep_base_keeps_five_digits(void **state)
{
    (void)state;
    struct retention_curve curve = make(.9, .1, 15, 1.3);
    double height = 20;
    double sum = 0;
    double from = 0;
    for (int i = 0; i <= 4000; i++) {
        double to = height * exp(-30 * (1 - i / 4000.0));
        double mid = 0.5 * (from + to);
        sum += (to - from) / 6 *
               (retention_saturation(&curve, from) + 4 * retention_saturation(&curve, mid) +
                retention_saturation(&curve, to));
        from = to;
    }
    check_near(bench_mean_saturation(&curve, height, 1, 0), sum / height, 5e-6, "alpha H = 300");
}

/* Standing d deep, the part under water is full and the rest drains from the water's surface. */
static void bench_mean_saturation_saucer_equals_two_parts(void **state)
{
    (void)state;
    struct retention_curve curve = make(.9, .2, .15, 2);
    double drained = asinh(.15 * 12) / .15;
    check_near(bench_mean_saturation(&curve, 15, 1, -3), (3 + drained) / 15, 1e-10, "3 cm saucer");
    check_near(bench_mean_saturation(&curve, 15, 1, -15), 1, 1e-15, "flooded to the top");
    check_near(bench_mean_saturation(&curve, 15, 1, -40), 1, 1e-15, "under water");
    double from = asinh(.15 * 20) / .15;
    double to = asinh(.15 * 35) / .15;
    check_near(bench_mean_saturation(&curve, 15, 1, 20), (to - from) / 15, 1e-10,
               "water table 20 cm below");
}

static void bench_mean_saturation_is_monotone(void **state)
{
    (void)state;
    uint64_t seed = 21;
    for (int i = 0; i < 10000; i++) {
        double alpha = exp(check_between(&seed, -8, 5));
        double height = check_between(&seed, .5, 100);
        double taper = check_between(&seed, .2, 2);
        double n = check_between(&seed, 1.1, 5);
        struct retention_curve curve = make(.9, .1, alpha, n);
        struct retention_curve coarse = make(.9, .1, alpha * 1.1, n);
        double mean = bench_mean_saturation(&curve, height, taper, 0);
        double slack = 1e-14;
        assert_true(mean >= 0 && mean <= 1);
        assert_true(bench_mean_saturation(&curve, 1.1 * height, taper, 0) <= mean + slack);
        assert_true(bench_mean_saturation(&coarse, height, taper, 0) <= mean + slack);
        assert_true(bench_mean_saturation(&curve, height, 1.1 * taper, 0) >= mean - slack);
        assert_true(bench_mean_saturation(&curve, height, taper, 5) <= mean + slack);
        assert_true(bench_mean_saturation(&curve, height, taper, -height / 9) >= mean - slack);
    }
}

/* --- one vessel --------------------------------------------------------------------------- */

/* Inverse vectors worked out once with an independent bisection: jar air, porosity, theta_r, n,
 * jar height give alpha and the air of straight pots of 4 / 7.6 / 10 / 15 / 25 cm and of a 15 cm
 * cone with bottom/top 0.8. */
static void bench_curve_through_inverse_vectors_are_met(void **state)
{
    (void)state;
    const struct {
        double air, porosity, theta_r, n, jar_cm, alpha, pots_pct[5], cone_pct;
    } rows[] = {
        {.20, .87, .12, 1.65, 12, .20316, {6.18, 13.14, 17.11, 23.72, 32.50}, 25.30},
        {.28, .79, .25, 1.80, 7.6, .76425, {19.23, 28.00, 31.45, 36.00, 40.73}, 37.30},
        {.12, .71, .12, 1.77, 5.2, .31753, {8.96, 17.12, 21.14, 27.15, 34.22}, 28.68},
    };
    const double pots_cm[] = {4, 7.6, 10, 15, 25};
    for (size_t i = 0; i < 3; i++) {
        struct retention_curve curve;
        assert_int_equal(bench_curve_through(rows[i].porosity, rows[i].theta_r, rows[i].n,
                                             rows[i].air, rows[i].jar_cm, 1, &curve),
                         STATUS_OK);
        check_near(curve.alpha_per_cm, rows[i].alpha, 6e-6, "alpha of the jar");
        for (size_t k = 0; k < 5; k++)
            check_near(air_pct(&curve, pots_cm[k], 1), rows[i].pots_pct[k], .0051, "pot air %");
        check_near(air_pct(&curve, 15, .8), rows[i].cone_pct, .0051, "cone air %");
    }
}

static void bench_fit_one_vessel_as_pot_returns_its_air(void **state)
{
    (void)state;
    uint64_t seed = 8;
    for (int i = 0; i < 3000; i++) {
        struct bench_test test = jar();
        struct bench_fit fit;
        test.class_id = (enum bench_class)(i % 8);
        test.vessel_height_cm = check_between(&seed, 2, 60);
        test.vessel_top_cm = 10;
        test.vessel_bottom_cm = check_between(&seed, 5, 10.4);
        test.drained_ml[0] = check_between(&seed, 5, 650);
        assert_int_equal(bench_fit_one(&test, &fit), STATUS_OK);
        check_near(air_pct(&fit.curve, fit.vessel_height_cm, fit.vessel_taper),
                   test.drained_ml[0] / 10, 1e-9, "vessel used as pot");
    }
}

int main(void)
{
    const struct CMUnitTest cases[] = {
        cmocka_unit_test(bench_mean_saturation_straight_equals_closed_forms),
        cmocka_unit_test(bench_mean_saturation_tapered_equals_closed_forms),
        cmocka_unit_test(bench_mean_saturation_vectors_are_met),
        cmocka_unit_test(bench_mean_saturation_steep_base_keeps_five_digits),
        cmocka_unit_test(bench_mean_saturation_saucer_equals_two_parts),
        cmocka_unit_test(bench_mean_saturation_is_monotone),
        cmocka_unit_test(bench_curve_through_inverse_vectors_are_met),
        cmocka_unit_test(bench_fit_one_vessel_as_pot_returns_its_air),
    };
    return cmocka_run_group_tests(cases, NULL, NULL);
}
