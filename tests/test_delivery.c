/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check.h"

#include <math.h>

#include "core/delivery.h"

/* Worked by hand: a 27 cm pot, 0.75 L, leaching 15 %, capture 1.6, 12 mm/h, DU_lq 0.75. */
static void delivery_size_overhead_follows_hand_working(void **state)
{
    (void)state;
    const struct delivery_in in = {.method = DELIVERY_OVERHEAD,
                                   .need_l = 0.75,
                                   .leaching_fraction = 0.15,
                                   .pot_top_m2 = M_PI * 0.135 * 0.135,
                                   .capture = 1.6,
                                   .rate_mm_h = 12,
                                   .cover = DELIVERY_LOW_HALF,
                                   .du_low_quarter = 0.75};
    struct delivery_out out;
    assert_int_equal(delivery_size(&in, &out), STATUS_OK);
    check_near(out.gross_l, 0.8824, 0.00005, "gross litres");
    check_near(out.depth_mm, 9.63, 0.005, "depth");
    check_near(out.minutes, 48.2, 0.05, "minutes");
    check_near(out.multiplier, 1.1765, 0.00005, "multiplier");
    check_near(out.minutes_for_uniformity, 56.7, 0.05, "minutes for the low half");
}

/* Lamack (thesis, Virginia Tech): spray stakes of 148, 220 and 270 mL a minute, 600 mL. */
static void delivery_size_published_spray_stakes_give_their_seconds(void **state)
{
    (void)state;
    const double ml_min[] = {148, 220, 270};
    const double seconds[] = {243, 164, 133};
    for (size_t i = 0; i < 3; i++) {
        const struct delivery_in in = {.method = DELIVERY_SPRAY,
                                       .need_l = 0.6,
                                       .emitters = 1,
                                       .emitter_l_h = ml_min[i] * 0.06,
                                       .emission_uniformity = 1};
        struct delivery_out out;
        assert_int_equal(delivery_size(&in, &out), STATUS_OK);
        check_near(out.minutes * 60, seconds[i], 0.5, "seconds for 600 mL");
    }
}

/* Rhoades 1974 as restated in avocado advice: 0.6 in the water, 0.4 wanted, 40 in of ET take 70. */
static void delivery_leaching_requirement_published_avocado_example(void **state)
{
    (void)state;
    double requirement = 0;
    bool poor = true;
    assert_int_equal(delivery_leaching_requirement(0.6, 0.4, &requirement, &poor), STATUS_OK);
    check_near(requirement, 0.43, 0.005, "requirement as printed");
    check_near(40 / (1 - requirement), 70.0, 0.05, "inches to apply");
    assert_false(poor);
}

static void delivery_leach_adjust_keeps_the_retained_water(void **state)
{
    (void)state;
    double minutes = 0;
    assert_int_equal(delivery_leach_adjust(60, 0.35, 0.15, &minutes), STATUS_OK);
    check_near(minutes, 45.9, 0.05, "60 min at 35 % to 15 %");
    assert_int_equal(delivery_leach_adjust(20, 0.48, 0.15, &minutes), STATUS_OK);
    check_near(minutes, 12.2, 0.05, "20 min at 48 % to 15 %");
}

static void delivery_capture_default_stays_between_one_and_the_ground(void **state)
{
    (void)state;
    double capture = 0;
    assert_int_equal(delivery_capture_default(0.16, 0.30, 0.05, &capture), STATUS_OK);
    check_near(capture, 1.88, 1e-12, "wide canopy");
    assert_int_equal(delivery_capture_default(0.01, 0.30, 0.05, &capture), STATUS_OK);
    check_near(capture, 1, 0, "canopy inside the pot");
    assert_int_equal(delivery_capture_default(0.5, 0.055, 0.05, &capture), STATUS_OK);
    check_near(capture, 1.04, 1e-12, "pots that nearly touch");
}

static void delivery_uniformity_of_uneven_count_rounds_up(void **state)
{
    (void)state;
    const double catches[] = {9, 1, 5, 7, 3};
    double scratch[5];
    struct delivery_uniformity u;
    assert_int_equal(delivery_uniformity_of(catches, 5, scratch, &u), STATUS_OK);
    assert_int_equal(u.quarter_count, 2);
    assert_int_equal(u.half_count, 3);
    check_near(u.mean, 5, 1e-12, "mean");
    check_near(u.du_low_quarter, 0.4, 1e-12, "low quarter: (1 + 3)/2 of 5");
    check_near(u.du_low_half, 0.6, 1e-12, "low half: (1 + 3 + 5)/3 of 5");
    check_near(u.cu, 1 - 12.0 / 25, 1e-12, "Christiansen: deviations 4 2 0 2 4");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(delivery_size_overhead_follows_hand_working),
        cmocka_unit_test(delivery_size_published_spray_stakes_give_their_seconds),
        cmocka_unit_test(delivery_leaching_requirement_published_avocado_example),
        cmocka_unit_test(delivery_leach_adjust_keeps_the_retained_water),
        cmocka_unit_test(delivery_capture_default_stays_between_one_and_the_ground),
        cmocka_unit_test(delivery_uniformity_of_uneven_count_rounds_up),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
