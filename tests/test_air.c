/* SPDX-License-Identifier: GPL-3.0-or-later */
/* FAO-56 is Allen, Pereira, Raes & Smith (1998), FAO Irrigation and Drainage Paper 56. Tolerances
 * against printed values are half a unit of the last printed digit unless a reason is given. */
#include "check.h"

#include <math.h>

#include "core/air.h"

/* --- published values ------------------------------------------------------------------------ */

static void published_pressure_fao56_example_2(void **state)
{
    (void)state;
    double kpa = air_pressure_kpa(1800);
    check_near(kpa, 81.8, 0.05, "FAO-56 example 2, pressure");
    check_near(air_psychrometric_kpa_c(kpa), 0.054, 0.0005, "FAO-56 example 2, gamma");
    check_near(air_pressure_kpa(2), 101.3, 0.05, "FAO-56 example 17, pressure");
    check_near(air_pressure_kpa(100), 100.1, 0.05, "FAO-56 example 18, pressure");
}

static void published_psychrometric_fao56_table_2_2(void **state)
{
    (void)state;
    static const double rows[][2] = {{500, 0.064},  {1000, 0.060}, {1500, 0.056}, {1800, 0.054},
                                     {2000, 0.053}, {3000, 0.047}, {4000, 0.041}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        check_near(air_psychrometric_kpa_c(air_pressure_kpa(rows[i][0])), rows[i][1], 0.0005,
                   "FAO-56 annex 2 table 2.2");
}

static void published_saturation_fao56_example_3(void **state)
{
    (void)state;
    check_near(air_saturation_kpa(24.5), 3.075, 0.0005, "FAO-56 example 3, e0(Tmax)");
    check_near(air_saturation_kpa(15), 1.705, 0.0005, "FAO-56 example 3, e0(Tmin)");
    check_near(air_saturation_day_kpa(24.5, 15), 2.39, 0.005, "FAO-56 example 3, es");
    check_near(air_saturation_kpa(19.75), 2.30, 0.005, "FAO-56 example 3, e0(Tmean)");
}

static void published_saturation_fao56_table_2_3(void **state)
{
    (void)state;
    static const double rows[][2] = {{1, 0.657},  {5, 0.872},  {10, 1.228},   {15, 1.705},
                                     {20, 2.338}, {25, 3.168}, {30, 4.243},   {35, 5.623},
                                     {40, 7.376}, {45, 9.582}, {48.5, 11.447}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        check_near(air_saturation_kpa(rows[i][0]), rows[i][1], 0.0005, "FAO-56 annex 2 table 2.3");
}

static void published_slope_fao56_table_2_4(void **state)
{
    (void)state;
    static const double rows[][2] = {{1, 0.047},  {10, 0.082}, {20, 0.145}, {25, 0.189},
                                     {30, 0.243}, {35, 0.311}, {40, 0.393}, {48.5, 0.574}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        check_near(air_slope_kpa_c(rows[i][0]), rows[i][1], 0.0005, "FAO-56 annex 2 table 2.4");
}

/* The printed line of eq 17 in example 5 leaves out the division by 2; its 1.70 has it. */
static void published_actual_fao56_examples_5_and_6(void **state)
{
    (void)state;
    double actual = air_actual_day_kpa(25, 18, 82, 54);
    check_near(air_saturation_kpa(18), 2.064, 0.0005, "FAO-56 example 5, e0(Tmin)");
    check_near(air_saturation_kpa(25), 3.168, 0.0005, "FAO-56 example 5, e0(Tmax)");
    check_near(actual, 1.70, 0.005, "FAO-56 example 5, eq 17");
    check_near(air_actual_day_from_mean_kpa(25, 18, 68), 1.78, 0.005, "FAO-56 example 5, eq 19");
    check_near(air_saturation_day_kpa(25, 18) - actual, 0.91, 0.005, "FAO-56 example 6, deficit");
}

static void published_wind_fao56_example_14(void **state)
{
    (void)state;
    check_near(air_wind_2m_m_s(3.2, 10), 2.4, 0.05, "FAO-56 example 14");
}

static void published_wind_fao56_table_2_9(void **state)
{
    (void)state;
    static const double rows[][2] = {{1, 1.178}, {1.6, 1.051}, {2, 1.000},
                                     {3, 0.921}, {4, 0.872},   {5, 0.838},
                                     {7, 0.792}, {10, 0.748},  {10.5, 0.742}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        check_near(air_wind_2m_m_s(1, rows[i][0]), rows[i][1], 0.0005, "FAO-56 annex 2 table 2.9");
}

static void published_wind_factor_asce2005_greeley(void **state)
{
    (void)state;
    /* ASCE-EWRI 2005 appendix C: 3 m anemometer at 1462.4 m */
    check_near(air_wind_2m_m_s(1, 3), 0.921, 0.0005, "Greeley, wind factor");
    check_near(air_pressure_kpa(1462.4), 85.17, 0.005, "Greeley, pressure");
    check_near(air_psychrometric_kpa_c(85.17), 0.0566, 0.00005, "Greeley, gamma");
}

/* ASCE-EWRI 2005 appendix C, first hours of the hourly table (T, e0, slope). Half a tenth of a
 * degree in the printed temperature moves the slope by 0.0006, which is the tolerance. */
static void published_saturation_asce2005_greeley(void **state)
{
    (void)state;
    static const double rows[][3] = {{30.9, 4.467, 0.2548}, {31.2, 4.544, 0.2586},
                                     {29.1, 4.029, 0.2329}, {28.3, 3.846, 0.2237},
                                     {26.0, 3.361, 0.1989}, {22.9, 2.792, 0.1692}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        check_near(air_saturation_kpa(rows[i][0]), rows[i][1], 0.0006, "Greeley, e0");
        check_near(air_slope_kpa_c(rows[i][0]), rows[i][2], 0.0006, "Greeley, slope");
    }
}

/* Daily slopes of the same appendix (its table C-3): Tmax, Tmin, slope. */
static void published_slope_asce2005_greeley_daily(void **state)
{
    (void)state;
    static const double rows[][3] = {{32.4, 10.9, 0.1585},
                                     {33.6, 12.2, 0.1692},
                                     {32.6, 14.8, 0.1762},
                                     {33.8, 11.8, 0.1684},
                                     {32.7, 15.9, 0.1820}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        check_near(air_slope_kpa_c((rows[i][0] + rows[i][1]) / 2), rows[i][2], 0.0006,
                   "Greeley, daily slope");
}

/* --- edges and properties --------------------------------------------------------------------- */

/* FAO-56 eq 48 is printed with 0.611, eq 11 with 0.6108. */
static void actual_day_from_lowest_uses_its_own_constant(void **state)
{
    (void)state;
    check_near(air_actual_day_from_lowest_kpa(0), 0.611, 1e-12, "eq 48 at 0 C");
    check_near(air_saturation_kpa(0), 0.6108, 1e-12, "eq 11 at 0 C");
    check_near(air_actual_day_from_lowest_kpa(15) / air_saturation_kpa(15), 0.611 / 0.6108, 1e-12,
               "eq 48 / eq 11");
}

static void actual_day_from_max_is_eq_18(void **state)
{
    (void)state;
    /* Inputs of FAO-56 example 5; recomputed from eq 18, not printed there. */
    check_near(air_actual_day_from_max_kpa(18, 82), 1.69247, 5e-6, "eq 18");
}

/* No printed example: wet = dry is saturated air, and the difference takes its printed share. */
static void actual_from_wet_bulb_follows_eq_15(void **state)
{
    (void)state;
    double kpa = 0;
    assert_int_equal(air_actual_from_wet_bulb(20, 20, 101.3, AIR_PSYCHROMETER_ASMANN, &kpa),
                     STATUS_OK);
    check_near(kpa, air_saturation_kpa(20), 1e-12, "wet = dry");
    assert_int_equal(air_actual_from_wet_bulb(20, 25, 100, AIR_PSYCHROMETER_ASMANN, &kpa),
                     STATUS_OK);
    check_near(air_saturation_kpa(20) - kpa, 0.331, 1e-12, "ventilated");
    assert_int_equal(air_actual_from_wet_bulb(20, 25, 100, AIR_PSYCHROMETER_NATURAL, &kpa),
                     STATUS_OK);
    check_near(air_saturation_kpa(20) - kpa, 0.400, 1e-12, "naturally ventilated");
    assert_int_equal(air_actual_from_wet_bulb(20, 25, 100, AIR_PSYCHROMETER_INDOOR, &kpa),
                     STATUS_OK);
    check_near(air_saturation_kpa(20) - kpa, 0.600, 1e-12, "indoors");
}

static void actual_from_wet_bulb_impossible_pairs_are_refused(void **state)
{
    (void)state;
    double kpa = 7;
    assert_int_equal(air_actual_from_wet_bulb(25.1, 25, 100, 0.000662, &kpa), STATUS_IMPOSSIBLE);
    assert_int_equal(air_actual_from_wet_bulb(0, 50, 100, 0.000662, &kpa), STATUS_IMPOSSIBLE);
    assert_int_equal(air_actual_from_wet_bulb(NAN, 25, 100, 0.000662, &kpa), STATUS_RANGE);
    assert_int_equal(air_actual_from_wet_bulb(20, INFINITY, 100, 0.000662, &kpa), STATUS_RANGE);
    assert_int_equal(air_actual_from_wet_bulb(20, 25, 0, 0.000662, &kpa), STATUS_RANGE);
    assert_int_equal(air_actual_from_wet_bulb(20, 25, 100, -1, &kpa), STATUS_RANGE);
    check_near(kpa, 7, 0, "output untouched");
}

static void formulas_outside_their_range_give_nan(void **state)
{
    (void)state;
    static const double absurd[] = {-INFINITY, -1e300, -451, 6001, 1e300, INFINITY, NAN};
    for (size_t i = 0; i < sizeof absurd / sizeof absurd[0]; i++) {
        double x = absurd[i];
        assert_true(isnan(air_pressure_kpa(x)));
        assert_true(isnan(air_psychrometric_kpa_c(x)));
        assert_true(isnan(air_saturation_kpa(x)));
        assert_true(isnan(air_saturation_day_kpa(x, 20)));
        assert_true(isnan(air_saturation_day_kpa(20, x)));
        assert_true(isnan(air_slope_kpa_c(x)));
        assert_true(isnan(air_dewpoint_c(x)));
        assert_true(isnan(air_actual_kpa(x, 50)));
        assert_true(isnan(air_actual_kpa(20, x)));
        assert_true(isnan(air_actual_day_kpa(30, 20, x, 40)));
        assert_true(isnan(air_actual_day_from_max_kpa(20, x)));
        assert_true(isnan(air_actual_day_from_mean_kpa(30, 20, x)));
        assert_true(isnan(air_actual_day_from_lowest_kpa(x)));
        assert_true(isnan(air_wind_2m_m_s(x, 2)));
        assert_true(isnan(air_wind_2m_m_s(2, x)));
    }
    assert_true(isnan(air_dewpoint_c(0)));
    assert_true(isnan(air_wind_2m_m_s(-0.1, 2)));
    assert_true(isnan(air_wind_2m_m_s(2, 0.4)));
    assert_true(isnan(air_actual_kpa(20, 100.1)));
    assert_true(isnan(air_slope_kpa_c(-237.3)));
}

static void dewpoint_inverts_saturation(void **state)
{
    (void)state;
    for (double t = -60; t <= 60; t += 0.25)
        check_near(air_dewpoint_c(air_saturation_kpa(t)), t, 1e-9, "dew point of saturation");
}

/* FAO-56 annex 3 eq 3-11, whose constants are rounded. */
static void published_dewpoint_fao56_eq_3_11(void **state)
{
    (void)state;
    for (double kpa = 0.02; kpa < 19; kpa *= 1.1) {
        double ln = log(kpa);
        check_near(air_dewpoint_c(kpa), (116.91 + 237.3 * ln) / (16.78 - ln), 0.02, "eq 3-11");
    }
}

static void slope_is_the_derivative_of_saturation(void **state)
{
    (void)state;
    for (double t = -60; t <= 60; t += 0.5) {
        double numerical = (air_saturation_kpa(t + 0.01) - air_saturation_kpa(t - 0.01)) / 0.02;
        /* 4098 is 17.27 * 237.3 = 4098.2 rounded */
        check_near(air_slope_kpa_c(t) / numerical, 1, 1e-4, "slope");
    }
}

static void saturation_grows_and_pressure_falls_everywhere(void **state)
{
    (void)state;
    for (double t = -100; t < 100; t += 0.5)
        assert_true(air_saturation_kpa(t) < air_saturation_kpa(t + 0.5));
    for (double z = -450; z < 6000; z += 25)
        assert_true(air_pressure_kpa(z) > air_pressure_kpa(z + 25));
}

static void wind_at_2m_stays_as_measured(void **state)
{
    (void)state;
    check_near(air_wind_2m_m_s(3.7, 2), 3.7, 0, "2 m is 2 m");
    check_near(air_wind_2m_m_s(0, 10), 0, 0, "calm");
    for (double h = 0.5; h < 200; h += 0.5)
        assert_true(air_wind_2m_m_s(5, h) > air_wind_2m_m_s(5, h + 0.5));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(published_wind_factor_asce2005_greeley),
        cmocka_unit_test(published_saturation_asce2005_greeley),
        cmocka_unit_test(published_slope_asce2005_greeley_daily),
        cmocka_unit_test(actual_day_from_lowest_uses_its_own_constant),
        cmocka_unit_test(actual_day_from_max_is_eq_18),
        cmocka_unit_test(actual_from_wet_bulb_follows_eq_15),
        cmocka_unit_test(actual_from_wet_bulb_impossible_pairs_are_refused),
        cmocka_unit_test(formulas_outside_their_range_give_nan),
        cmocka_unit_test(dewpoint_inverts_saturation),
        cmocka_unit_test(published_dewpoint_fao56_eq_3_11),
        cmocka_unit_test(slope_is_the_derivative_of_saturation),
        cmocka_unit_test(saturation_grows_and_pressure_falls_everywhere),
        cmocka_unit_test(wind_at_2m_stays_as_measured),
        cmocka_unit_test(published_pressure_fao56_example_2),
        cmocka_unit_test(published_psychrometric_fao56_table_2_2),
        cmocka_unit_test(published_saturation_fao56_example_3),
        cmocka_unit_test(published_saturation_fao56_table_2_3),
        cmocka_unit_test(published_slope_fao56_table_2_4),
        cmocka_unit_test(published_actual_fao56_examples_5_and_6),
        cmocka_unit_test(published_wind_fao56_example_14),
        cmocka_unit_test(published_wind_fao56_table_2_9),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
