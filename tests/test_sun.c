/* SPDX-License-Identifier: GPL-3.0-or-later */
/* FAO-56 is Allen, Pereira, Raes & Smith (1998), FAO Irrigation and Drainage Paper 56. */
#include "check.h"

#include <math.h>

#include "core/sun.h"

/* Half a unit of the last printed digit. FAO-56 labels d_r "rad" in example 8; it has no unit. */
static void published_day_fao56_examples_8_and_9(void **state)
{
    (void)state;
    const struct sun_site site = {-20, 0, 0};
    struct sun_day day;
    assert_int_equal(sun_of_day(&site, 246, &day), STATUS_OK);
    check_near(day.declination_rad, 0.120, 0.0005, "FAO-56 example 8, declination");
    check_near(day.sunset_angle_rad, 1.527, 0.0005, "FAO-56 example 8, sunset angle");
    check_near(day.extraterrestrial_mj_m2, 32.2, 0.05, "FAO-56 example 8, Ra");
    check_near(day.extraterrestrial_mj_m2, 32.1940, 5e-5, "FAO-56 example 8, Ra unrounded");
    check_near(day.extraterrestrial_mj_m2 * 0.408, 13.1, 0.05, "FAO-56 example 8, Ra in mm");
    check_near(day.day_length_h, 11.7, 0.05, "FAO-56 example 9, N");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(published_day_fao56_examples_8_and_9),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
