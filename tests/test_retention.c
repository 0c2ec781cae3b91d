/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check.h"

#include <math.h>

#include "core/retention.h"

static struct retention_curve make(double theta_s, double theta_r, double alpha, double n)
{
    struct retention_curve curve;
    assert_int_equal(retention_make(theta_s, theta_r, alpha, n, &curve), STATUS_OK);
    return curve;
}

static void retention_theta_at_zero_is_saturation(void **state)
{
    (void)state;
    struct retention_curve curve = make(.87, .12, .2, 1.65);
    check_near(retention_theta(&curve, 0), .87, 1e-15, "theta(0)");
    check_near(retention_theta(&curve, -3), .87, 1e-15, "standing water counts as suction 0");
    check_near(retention_theta(&curve, 1e9), .12, 1e-3, "dry end");
    check_near(retention_theta(&curve, INFINITY), .12, 1e-15, "theta(infinity)");
    check_near(retention_theta(&curve, NAN), .12, 1e-15, "theta(NaN)");
}

/* n = 2: theta = theta_r + amp / sqrt(1 + (alpha h)^2), by hand. */
static void retention_theta_n_two_equals_closed_form(void **state)
{
    (void)state;
    struct retention_curve curve = make(.9, .2, .15, 2);
    for (double h = 0.5; h < 400; h *= 1.7)
        check_near(retention_theta(&curve, h), .2 + .7 / sqrt(1 + .0225 * h * h), 1e-14,
                   "van Genuchten 1980, n = 2");
}

/* Free m = 1 is the four-parameter log-logistic, 1/(1 + (h/h50)^b). */
static void retention_theta_m_one_equals_log_logistic(void **state)
{
    (void)state;
    struct retention_curve curve = {.9, .2, 1 / 7.8, 1.12, 1};
    assert_int_equal(retention_check(&curve), STATUS_OK);
    check_near(retention_theta(&curve, 7.8), .55, 1e-14, "half way at h50");
    check_near(retention_theta(&curve, 20), .2 + .7 / (1 + pow(20 / 7.8, 1.12)), 1e-14, "b = 1.12");
}

/* Ansorena 1994 prints bands for theta at 10, 50 and 100 cm; curves through their middles were
 * worked out by hand (three decimals of the parameters are given). */
static void published_ansorena_1994_middle_of_bands_is_met(void **state)
{
    (void)state;
    const struct {
        double porosity, theta_r, alpha, n;
    } rows[] = {{.85, .117, .144, 1.56}, {.90, .100, .181, 1.51}, {.95, .086, .224, 1.48}};
    for (size_t i = 0; i < 3; i++) {
        struct retention_curve curve =
            make(rows[i].porosity, rows[i].theta_r, rows[i].alpha, rows[i].n);
        check_near(retention_theta(&curve, 10), .625, .003, "Ansorena 1994, theta(10 cm) middle");
        check_near(retention_theta(&curve, 50), .355, .003, "Ansorena 1994, theta(50 cm) middle");
        check_near(retention_theta(&curve, 100), .280, .003, "Ansorena 1994, theta(100 cm) middle");
    }
}

static void retention_suction_inverts_saturation(void **state)
{
    (void)state;
    uint64_t seed = 11;
    for (int i = 0; i < 5000; i++) {
        struct retention_curve curve =
            make(.9, .1, exp(check_between(&seed, -6, 2)), check_between(&seed, 1.1, 6));
        double h = exp(check_between(&seed, -2, 6));
        double s = retention_saturation(&curve, h);
        if (s > 1e-6 && s < 1 - 1e-9)
            check_near(retention_suction_cm(&curve, s) / h, 1, 1e-5, "h(S(h))");
    }
}

static void retention_suction_outside_zero_to_one_is_bounded(void **state)
{
    (void)state;
    struct retention_curve curve = make(.9, .1, .2, 1.5);
    check_near(retention_suction_cm(&curve, 1), 0, 0, "saturated");
    check_near(retention_suction_cm(&curve, 1.5), 0, 0, "above saturation");
    check_near(retention_suction_cm(&curve, NAN), 0, 0, "NaN");
    assert_true(isinf(retention_suction_cm(&curve, 0)));
    assert_true(isinf(retention_suction_cm(&curve, -1)));
}

static void retention_theta_falls_with_suction_and_alpha(void **state)
{
    (void)state;
    uint64_t seed = 5;
    for (int i = 0; i < 5000; i++) {
        double alpha = exp(check_between(&seed, -9, 4));
        double n = check_between(&seed, 1.05, 12);
        struct retention_curve curve = make(.9, .1, alpha, n);
        struct retention_curve coarser = make(.9, .1, alpha * 1.3, n);
        double h = exp(check_between(&seed, -4, 6));
        double theta = retention_theta(&curve, h);
        assert_true(theta >= .1 && theta <= .9);
        assert_true(retention_theta(&curve, 1.2 * h) <= theta);
        assert_true(retention_theta(&coarser, h) <= theta);
    }
}

static void retention_check_refuses_what_cannot_be(void **state)
{
    (void)state;
    const struct retention_curve good = {.9, .1, .2, 1.5, 1 - 1 / 1.5};
    const double bad[] = {NAN, INFINITY, -INFINITY, -1, 0, 1e300};
    assert_int_equal(retention_check(&good), STATUS_OK);
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        for (size_t field = 0; field < 5; field++) {
            struct retention_curve curve = good;
            double *fields[] = {&curve.theta_s, &curve.theta_r, &curve.alpha_per_cm, &curve.n,
                                &curve.m};
            *fields[field] = bad[i];
            bool zero_residual = field == 1 && bad[i] == 0;
            assert_int_equal(retention_check(&curve), zero_residual ? STATUS_OK : STATUS_RANGE);
        }
    }
    struct retention_curve above = good;
    above.theta_s = 1.0001;
    assert_int_equal(retention_check(&above), STATUS_RANGE);
    struct retention_curve crossed = {.3, .3, .2, 1.5, .3};
    assert_int_equal(retention_check(&crossed), STATUS_RANGE);
}

static void retention_make_n_at_most_one_is_refused_and_output_kept(void **state)
{
    (void)state;
    struct retention_curve curve = {.5, .4, .3, 7, .2};
    const double bad[] = {1, .5, 0, -2, 50.001, NAN, INFINITY};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++)
        assert_int_equal(retention_make(.9, .1, .2, bad[i], &curve), STATUS_RANGE);
    check_near(curve.n, 7, 0, "output untouched");
}

int main(void)
{
    const struct CMUnitTest cases[] = {
        cmocka_unit_test(retention_theta_at_zero_is_saturation),
        cmocka_unit_test(retention_theta_n_two_equals_closed_form),
        cmocka_unit_test(retention_theta_m_one_equals_log_logistic),
        cmocka_unit_test(published_ansorena_1994_middle_of_bands_is_met),
        cmocka_unit_test(retention_suction_inverts_saturation),
        cmocka_unit_test(retention_suction_outside_zero_to_one_is_bounded),
        cmocka_unit_test(retention_theta_falls_with_suction_and_alpha),
        cmocka_unit_test(retention_check_refuses_what_cannot_be),
        cmocka_unit_test(retention_make_n_at_most_one_is_refused_and_output_kept),
    };
    return cmocka_run_group_tests(cases, NULL, NULL);
}
