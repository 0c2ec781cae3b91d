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

int main(void)
{
    const struct CMUnitTest tests[] = {
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
