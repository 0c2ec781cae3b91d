/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check.h"

#include <math.h>

#include "core/ensemble.h"

static struct ensemble_in usual(void)
{
    struct ensemble_in in = {.seed = 7};
    for (int d = 0; d < ENSEMBLE_DAYS; d++)
        in.et0_spread[d] = 0.2;
    return in;
}

static void ensemble_draw_weather_factors_have_mean_one_and_the_spread_asked_for(void **state)
{
    (void)state;
    static struct ensemble_weather w;
    struct ensemble_in in = usual();
    double product = 0;
    double variance = 0;
    for (uint64_t seed = 0; seed < 40; seed++) {
        in.seed = seed;
        assert_int_equal(ensemble_draw_weather(&in, &w), STATUS_OK);
        for (int d = 0; d < ENSEMBLE_DAYS; d++) {
            double mean = 0;
            for (int m = 0; m < ENSEMBLE_MEMBERS; m++)
                mean += w.et0_factor[m][d] / (double)ENSEMBLE_MEMBERS;
            check_near(mean, 1, 0.02 + (d > 0 ? 0.06 : 0), "mean of a day");
            for (int m = 0; m < ENSEMBLE_MEMBERS && d > 0; m++) {
                double today = w.et0_factor[m][d] - 1;
                double before = w.et0_factor[m][d - 1] - 1;
                product += today * before;
                variance += today * today;
            }
        }
    }
    check_near(sqrt(variance / (40.0 * ENSEMBLE_MEMBERS * (ENSEMBLE_DAYS - 1))), 0.2, 0.01,
               "spread");
    check_near(product / variance, 0.5, 0.03, "days hang together");
}

static void ensemble_draw_weather_storm_falls_or_fails_as_one(void **state)
{
    (void)state;
    static struct ensemble_weather w;
    struct ensemble_in in = usual();
    int fell = 0;
    double log_sum = 0;
    for (int b = 4; b < 8; b++)
        in.rain_chance[b] = 0.6;
    in.rain_chance[12] = 1;
    assert_int_equal(ensemble_draw_weather(&in, &w), STATUS_OK);
    for (int m = 0; m < ENSEMBLE_MEMBERS; m++) {
        assert_true(w.rain_factor[m][3] == 0 && w.rain_factor[m][8] == 0);
        for (int b = 5; b < 8; b++)
            assert_true(w.rain_factor[m][b] == w.rain_factor[m][4]);
        fell += w.rain_factor[m][4] > 0;
        log_sum += log(w.rain_factor[m][12]);
    }
    assert_int_equal(fell, 30); /* stratified: exactly the chance */
    check_near(log_sum, 0, 1e-4, "median 1");
}

static void ensemble_draws_are_the_same_for_the_same_seed_only(void **state)
{
    (void)state;
    static struct ensemble_weather a;
    static struct ensemble_weather b;
    struct ensemble_block one;
    struct ensemble_block same;
    struct ensemble_block other;
    struct ensemble_in in = usual();
    assert_int_equal(ensemble_draw_weather(&in, &a), STATUS_OK);
    assert_int_equal(ensemble_draw_weather(&in, &b), STATUS_OK);
    assert_memory_equal(&a, &b, sizeof a);
    in.seed++;
    assert_int_equal(ensemble_draw_weather(&in, &b), STATUS_OK);
    assert_memory_not_equal(&a, &b, sizeof a);
    assert_int_equal(ensemble_draw_block(7, 3, 0.15, 0.25, &one), STATUS_OK);
    assert_int_equal(ensemble_draw_block(7, 3, 0.15, 0.25, &same), STATUS_OK);
    assert_int_equal(ensemble_draw_block(7, 4, 0.15, 0.25, &other), STATUS_OK);
    assert_memory_equal(&one, &same, sizeof one);
    assert_memory_not_equal(&one, &other, sizeof one);
}

static void ensemble_draw_block_errors_are_independent_and_as_wide_as_asked(void **state)
{
    (void)state;
    double covariance = 0;
    double water = 0;
    double use = 0;
    const int blocks = 200;
    for (int number = 0; number < blocks; number++) {
        struct ensemble_block e;
        assert_int_equal(ensemble_draw_block(7, (uint64_t)number, 0.15, 0.25, &e), STATUS_OK);
        for (int m = 0; m < ENSEMBLE_MEMBERS; m++) {
            double w = log(e.water_factor[m]);
            double u = log(e.use_factor[m]);
            covariance += w * u;
            water += w * w;
            use += u * u;
        }
    }
    check_near(sqrt(water / (blocks * ENSEMBLE_MEMBERS)), sqrt(log(1 + 0.15 * 0.15)), 0.003,
               "water");
    check_near(sqrt(use / (blocks * ENSEMBLE_MEMBERS)), sqrt(log(1 + 0.25 * 0.25)), 0.005, "use");
    check_near(covariance / sqrt(water * use), 0, 0.03, "independent");
}

static void ensemble_draw_nothing_is_sure_and_nonsense_is_refused(void **state)
{
    (void)state;
    static struct ensemble_weather w;
    struct ensemble_block e;
    struct ensemble_in in = {.seed = 1};
    assert_int_equal(ensemble_draw_weather(&in, &w), STATUS_OK);
    assert_int_equal(ensemble_draw_block(1, 1, 0, 0, &e), STATUS_OK);
    for (int m = 0; m < ENSEMBLE_MEMBERS; m++) {
        assert_true(w.et0_factor[m][9] == 1 && w.rain_factor[m][9] == 0);
        assert_true(e.water_factor[m] == 1 && e.use_factor[m] == 1);
    }
    const double bad[] = {NAN, -0.1, 1.6, INFINITY};
    for (size_t i = 0; i < 4; i++) {
        in = usual();
        in.et0_spread[15] = bad[i];
        assert_int_equal(ensemble_draw_weather(&in, &w), STATUS_RANGE);
        in = usual();
        in.rain_chance[63] = bad[i];
        assert_int_equal(ensemble_draw_weather(&in, &w), STATUS_RANGE);
        assert_int_equal(ensemble_draw_block(1, 1, bad[i], 0, &e), STATUS_RANGE);
        assert_int_equal(ensemble_draw_block(1, 1, 0, bad[i], &e), STATUS_RANGE);
    }
}

static void ensemble_quantile_is_between_ranks_and_knows_never(void **state)
{
    (void)state;
    double values[ENSEMBLE_MEMBERS];
    for (int m = 0; m < ENSEMBLE_MEMBERS; m++)
        values[m] = ENSEMBLE_MEMBERS - m; /* 50 .. 1 */
    check_near(ensemble_quantile(values, 0.5), 25.5, 1e-12, "median");
    check_near(ensemble_quantile(values, 0.1), 5.5, 1e-12, "tenth");
    check_near(ensemble_quantile(values, 0), 1, 0, "least");
    check_near(ensemble_quantile(values, 1), 50, 0, "most");
    for (int m = 25; m < ENSEMBLE_MEMBERS; m++)
        values[m] = INFINITY;
    check_near(ensemble_quantile(values, 0.1), 5.5, 1e-12, "tenth");
    assert_true(isinf(ensemble_quantile(values, 0.9)));
    assert_true(isinf(ensemble_quantile(values, 0.5)));
    check_near(ensemble_quantile(values, 0.49), 25, 1e-12, "the last that is");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(ensemble_draw_weather_factors_have_mean_one_and_the_spread_asked_for),
        cmocka_unit_test(ensemble_draw_weather_storm_falls_or_fails_as_one),
        cmocka_unit_test(ensemble_draws_are_the_same_for_the_same_seed_only),
        cmocka_unit_test(ensemble_draw_block_errors_are_independent_and_as_wide_as_asked),
        cmocka_unit_test(ensemble_draw_nothing_is_sure_and_nonsense_is_refused),
        cmocka_unit_test(ensemble_quantile_is_between_ranks_and_knows_never),
    };
    return cmocka_run_group_tests_name("ensemble", tests, NULL, NULL);
}
