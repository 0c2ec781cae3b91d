/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check.h"

#include <math.h>

#include "core/demand.h"

static struct demand_factors factors_of(double ground_m2, double canopy_cm, double height_m,
                                        double top_cm)
{
    const struct demand_plant plant = {.ground_m2 = ground_m2,
                                       .canopy_cm = canopy_cm,
                                       .plant_height_m = height_m,
                                       .pot_top_cm = top_cm,
                                       .transparency = 2,
                                       .stomatal = 1};
    const struct demand_climate usual = {.wind_2m_m_s = 2, .humidity_min_pct = 45};
    struct demand_factors out;
    assert_int_equal(demand_factors_of(&plant, &usual, &out), STATUS_OK);
    return out;
}

/* Worked by hand from the formulas in docs/model.md: a liner in an 11.4 L pot on 0.30 x 0.30 m,
 * ET0 5 mm. Most of the water is evaporation, as Beeson 2010 (HortScience 45:1260) found for the
 * first weeks. */
static void demand_factors_of_liner_in_large_pot_is_mostly_evaporation(void **state)
{
    (void)state;
    struct demand_factors f = factors_of(0.09, 10, 0.15, 25.4);
    check_near(f.ground_cover, 0.0873, 0.00005, "cover of a 10 cm canopy on 0.09 m2");
    check_near(f.kcb_full, 1.015, 1e-9, "full-cover coefficient at 0.15 m");
    check_near(f.density, 0.1199, 0.00005, "density");
    check_near(5 * f.transpiration_l_mm, 0.0548, 0.00005, "transpiration, L");
    check_near(5 * f.evaporation_l_mm, 0.2162, 0.00005, "evaporation, L");
}

/* The same by hand: 35 cm canopy on 0.16 m2, and 55 cm on 0.30 m2 (market size). */
static void demand_factors_of_growing_plant_follows_hand_working(void **state)
{
    (void)state;
    struct demand_factors f = factors_of(0.16, 35, 0.35, 25.4);
    check_near(f.ground_cover, 0.6013, 0.00005, "cover at 35 cm");
    check_near(f.density, 0.6861, 0.00005, "density at 35 cm");
    check_near(5 * f.transpiration_l_mm, 0.568, 0.0005, "transpiration at 35 cm");
    check_near(5 * f.evaporation_l_mm, 0.152, 0.0005, "evaporation at 35 cm");
    f = factors_of(0.30, 55, 0.75, 25.4);
    check_near(f.ground_cover, 0.7919, 0.00005, "cover at 55 cm");
    check_near(f.density, 0.8752, 0.00005, "density at 55 cm");
    check_near(5 * (f.transpiration_l_mm + f.evaporation_l_mm), 1.563, 0.0005, "use at 55 cm");
}

/* O'Meara 2014 (thesis, Univ. Georgia): hydrangea uptake falls below 0.28, stops at 0.16 by
 * volume; capacity 0.38. Litres in one litre of mix. */
static void demand_stress_published_hydrangea_thresholds_falls_linearly(void **state)
{
    (void)state;
    const double theta[] = {0.38, 0.30, 0.25, 0.22, 0.18, 0.16};
    const double expected[] = {1, 1, 0.75, 0.50, 1.0 / 6, 0};
    for (size_t i = 0; i < 6; i++) {
        double ks = -1;
        assert_int_equal(demand_stress(0.22, 0.38 - theta[i], 0.10 / 0.22, &ks), STATUS_OK);
        check_near(ks, expected[i], 1e-9, "K_s of hydrangea");
    }
}

static void demand_stress_bad_input_is_refused_untouched(void **state)
{
    (void)state;
    const double bad[][3] = {{0, 1, 0.5},   {-1, 1, 0.5},     {NAN, 1, 0.5},
                             {1, NAN, 0.5}, {1, INFINITY, 0}, {INFINITY, 1, 0.5},
                             {1, 1, 1},     {1, 1, -0.1},     {1, 1, NAN}};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        double ks = 7;
        assert_int_equal(demand_stress(bad[i][0], bad[i][1], bad[i][2], &ks), STATUS_RANGE);
        check_near(ks, 7, 0, "output untouched");
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(demand_factors_of_liner_in_large_pot_is_mostly_evaporation),
        cmocka_unit_test(demand_factors_of_growing_plant_follows_hand_working),
        cmocka_unit_test(demand_stress_published_hydrangea_thresholds_falls_linearly),
        cmocka_unit_test(demand_stress_bad_input_is_refused_untouched),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
