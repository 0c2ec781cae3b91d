/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One chain by hand, from the jar on the bench to minutes on the valve. Every figure in the
 * comments was worked apart from this program (Simpson's rule with thousands of strips and
 * bisection for the integrals, a desk calculator for the rest), so that a slip in core would show.
 */
#include "check.h"

#include "core/bench.h"
#include "core/delivery.h"
#include "core/demand.h"
#include "core/pot.h"

static void chain_from_jar_to_minutes_agrees_with_the_hand_working(void **state)
{
    (void)state;
    /* 1. The jar: straight, 12 cm of a peat-perlite mix in 1000 mL, total porosity 85 % known;
     * 210, 200 and 205 mL drained: air space 20.5 %, spread 5 mL, standard error 2.887 mL. */
    struct bench_test jar = {.vessel_height_cm = 12.0,
                             .vessel_volume_ml = 1000.0,
                             .drained_ml = {210.0, 200.0, 205.0},
                             .replicates = 3,
                             .total_porosity = 0.85,
                             .class_id = BENCH_PEAT_PERLITE};
    struct bench_fit fit;
    assert_int_equal(bench_fit_one(&jar, &fit), STATUS_OK);
    check_near(fit.air_space, 0.205, 1e-12, "air in the jar");
    check_near(fit.air_space_se, 0.0028868, 1e-6, "its standard error");
    check_near(fit.container_capacity, 0.645, 1e-12, "85 - 20.5");
    /* The class lends theta_r 0.07 and n 1.48. The alpha for which the jar, suction 0 at the holes
     * and 12 cm at the top, holds 64.5 % on average: 0.254687 a cm. */
    check_near(fit.curve.alpha_per_cm, 0.254687, 1e-6, "alpha");

    /* 2. The pot: round, 16 cm wide at the fill line, 12 at the holes, 14 cm of mix. Volume
     * pi 14 (16^2 + 16 12 + 12^2)/12 = 2169.79 mL. The same curve over this shape holds 1311.94
     * mL: capacity 60.46 %, air 24.54 % (the jar's 20.5 would have been wrong by four points). */
    struct pot_shape shape = {
        .form = POT_ROUND, .top_cm = 16.0, .bottom_cm = 12.0, .fill_height_cm = 14.0};
    struct pot_figures pot;
    assert_int_equal(pot_at_capacity(&shape, &fit.curve, &fit, 0.0, &pot), STATUS_OK);
    check_near(pot.volume_l, 2.169793, 1e-6, "volume");
    check_near(pot.water_l, 1.311940, 2e-6, "water at capacity");
    check_near(pot.air_space, 0.245362, 1e-6, "air at capacity");
    /* Plants stop drawing freely at 100 cm of suction: theta 0.234455, so 0.803221 L can be had. */
    check_near(pot.theta_low, 0.234455, 1e-6, "theta at 100 cm");
    check_near(pot.available_l, 0.803221, 2e-6, "available");

    /* 3. The plant: canopy 15 cm wide, 15 cm tall, pots 20 x 20 cm. The day is FAO-56 example 18
     * (Uccle, 6 July): reference ET 3.88 mm, wind 2.078 m/s at 2 m, lowest humidity 63 %.
     * Cover 0.017671/0.04 = 0.441786; density 0.441786^(1/1.15) = 0.491461; full-cover coefficient
     * 1.015 + (0.04 0.0776 - 0.004 18)(0.05)^0.3 = 0.986953. T = 3.8803 x 0.986953 x 0.491461 x
     * 0.04 = 0.075285 L. The canopy shades 0.878906 of the top: E = 3.8803 x 0.0201062 x
     * (0.9 x 0.121094 + 0.6 x 0.878906) = 0.049645 L. Together 0.12493 L a day. */
    struct demand_plant plant = {0.04, 15.0, 0.15, 16.0, 2.0, 1.0};
    struct demand_climate day = {2.0776, 63.0};
    struct demand_factors use;
    assert_int_equal(demand_factors_of(&plant, &day, &use), STATUS_OK);
    double t_l = use.transpiration_l_mm * 3.8803;
    double e_l = use.evaporation_l_mm * 3.8803;
    check_near(t_l, 0.075285, 1e-6, "transpiration");
    check_near(e_l, 0.049645, 1e-6, "evaporation from the top");

    /* 4. The valve: that day's use under sprinklers of 12 mm/h, capture 1.2, leaching 15 %.
     * 0.12493/0.85 = 0.146977 L into each pot, 6.0917 mm on the bed, 30.458 minutes. */
    struct delivery_in in = {.method = DELIVERY_OVERHEAD,
                             .need_l = t_l + e_l,
                             .leaching_fraction = 0.15,
                             .pot_top_m2 = pot.top_area_m2,
                             .capture = 1.2,
                             .rate_mm_h = 12.0,
                             .cover = DELIVERY_AVERAGE};
    struct delivery_out run;
    assert_int_equal(delivery_size(&in, &run), STATUS_OK);
    check_near(run.gross_l, 0.146977, 1e-6, "into the pot");
    check_near(run.depth_mm, 6.0917, 1e-4, "on the bed");
    check_near(run.minutes, 30.458, 1e-3, "minutes");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(chain_from_jar_to_minutes_agrees_with_the_hand_working),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
