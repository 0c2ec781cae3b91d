/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check.h"

#include <math.h>

#include "core/pot.h"

static struct retention_curve make(double theta_s, double theta_r, double alpha, double n)
{
    struct retention_curve curve;
    assert_int_equal(retention_make(theta_s, theta_r, alpha, n, &curve), STATUS_OK);
    return curve;
}

static struct pot_figures figures(const struct pot_shape *shape,
                                  const struct retention_curve *curve)
{
    struct pot_figures f;
    assert_int_equal(pot_at_capacity(shape, curve, NULL, 0, &f), STATUS_OK);
    return f;
}

/* --- geometry ----------------------------------------------------------------------------- */

/* V = pi H (D1^2 + D1 D2 + D2^2)/12 and H (A1 + A2 + sqrt(A1 A2))/3, by hand. */
static void pot_at_capacity_volume_equals_cone_and_frustum(void **state)
{
    (void)state;
    struct retention_curve curve = make(.87, .12, .2, 1.65);
    struct pot_shape round = {.top_cm = 16, .bottom_cm = 12, .fill_height_cm = 15};
    struct pot_shape square = {
        .form = POT_SQUARE, .top_cm = 9, .bottom_cm = 6, .fill_height_cm = 10};
    check_near(figures(&round, &curve).volume_l, M_PI * 15 * (256 + 192 + 144) / 12 / 1000, 1e-12,
               "cone");
    check_near(figures(&round, &curve).top_area_m2, M_PI * 64 / 1e4, 1e-12, "surface");
    check_near(figures(&square, &curve).volume_l, 10 * (81 + 36 + 54) / 3.0 / 1000, 1e-12,
               "frustum");
    check_near(figures(&square, &curve).top_area_m2, .0081, 1e-12, "surface");
}

/* Sizes printed by pot makers with a volume: the cone through rim, height and volume needs the
 * bottom width given here (14 x 11.5 in, 24.68 L: 11.8 in; 15.75 x 15 in, 37.93 L: 12.2 in). */
static void published_nursery_pots_need_a_bottom_narrower_than_the_rim(void **state)
{
    (void)state;
    const struct {
        double top_in, height_in, volume_l, bottom_in;
    } rows[] = {{14, 11.5, 24.68, 11.8}, {15.75, 15, 37.93, 12.2}};
    struct retention_curve curve = make(.87, .12, .2, 1.65);
    for (size_t i = 0; i < 2; i++) {
        struct pot_shape shape = {.top_cm = 2.54 * rows[i].top_in,
                                  .bottom_cm = 2.54 * rows[i].bottom_in,
                                  .fill_height_cm = 2.54 * rows[i].height_in};
        check_near(figures(&shape, &curve).volume_l / rows[i].volume_l, 1, .006, "volume");
    }
}

/* Small square pots by maker's list: the printed volume is 61 % (2.6 x 3.44 in, 0.49 pint) and
 * 75 % (3.31 x 3.5 in, 1 pint) of rim x rim x height; a measured volume must win. */
static void published_small_pots_hold_less_than_rim_squared_by_height(void **state)
{
    (void)state;
    const double pint_l = 0.473176;
    const struct {
        double rim_in, height_in, volume_l, share;
    } rows[] = {{2.6, 3.44, .49 * pint_l, .61}, {3.31, 3.5, pint_l, .75}};
    struct retention_curve curve = make(.87, .12, .2, 1.65);
    for (size_t i = 0; i < 2; i++) {
        struct pot_shape shape = {.form = POT_SQUARE,
                                  .top_cm = 2.54 * rows[i].rim_in,
                                  .bottom_cm = 2.54 * rows[i].rim_in,
                                  .fill_height_cm = 2.54 * rows[i].height_in};
        double prism_l = figures(&shape, &curve).volume_l;
        check_near(rows[i].volume_l / prism_l, rows[i].share, .006, "printed share");
        shape.volume_l = rows[i].volume_l;
        check_near(figures(&shape, &curve).volume_l, rows[i].volume_l, 1e-15, "measured wins");
    }
}

/* Two straight-sided limits by maker's sizes: a 4 in square pot of 3 7/8 x 3 7/8 x 4 in cannot hold
 * more than 0.984 L, a nursery quart of 2 7/8 square and 5.5 in no more than 0.745 L. */
static void published_square_pots_straight_sided_volume(void **state)
{
    (void)state;
    struct retention_curve curve = make(.87, .12, .2, 1.65);
    struct pot_shape four = {.form = POT_SQUARE,
                             .top_cm = 3.875 * 2.54,
                             .bottom_cm = 3.875 * 2.54,
                             .fill_height_cm = 4 * 2.54};
    struct pot_shape quart = {.form = POT_SQUARE,
                              .top_cm = 2.875 * 2.54,
                              .bottom_cm = 2.875 * 2.54,
                              .fill_height_cm = 5.5 * 2.54};
    check_near(figures(&four, &curve).volume_l, .984, 5e-4, "4 in square");
    check_near(figures(&quart, &curve).volume_l, .745, 5e-4, "nursery quart");
}

static void pot_at_capacity_measured_volume_scales_areas_not_heights(void **state)
{
    (void)state;
    struct retention_curve curve = make(.87, .12, .2, 1.65);
    struct pot_shape shape = {.top_cm = 16, .bottom_cm = 12, .fill_height_cm = 15};
    struct pot_figures drawn = figures(&shape, &curve);
    shape.volume_l = 1.1 * drawn.volume_l;
    struct pot_figures scaled = figures(&shape, &curve);
    check_near(scaled.air_space, drawn.air_space, 1e-15, "air share");
    check_near(scaled.top_area_m2, 1.1 * drawn.top_area_m2, 1e-15, "area");
    check_near(scaled.water_l, 1.1 * drawn.water_l, 1e-14, "water");
    check_near(scaled.wet_layer_cm, drawn.wet_layer_cm, 1e-14, "layer");
}

static void pot_at_capacity_rim_height_interpolates_the_fill_line(void **state)
{
    (void)state;
    struct retention_curve curve = make(.87, .12, .2, 1.65);
    struct pot_shape rim = {.top_cm = 17, .bottom_cm = 12, .fill_height_cm = 12, .height_cm = 15};
    struct pot_shape line = {.top_cm = 16, .bottom_cm = 12, .fill_height_cm = 12};
    struct pot_figures a = figures(&rim, &curve);
    struct pot_figures b = figures(&line, &curve);
    check_near(a.volume_l, b.volume_l, 1e-12, "volume");
    check_near(a.air_space, b.air_space, 1e-12, "air");
}

/* --- water and air ------------------------------------------------------------------------ */

/* Jar 12 cm, air 20 %, porosity 87 %, theta_r 0.12, n 1.65, pot bottom/top 0.8. */
static struct retention_curve reference_mix(double air, double porosity, double theta_r, double n,
                                            double jar_cm)
{
    struct retention_curve curve;
    assert_int_equal(bench_curve_through(porosity, theta_r, n, air, jar_cm, 1, &curve), STATUS_OK);
    return curve;
}

static double cone_air_pct(const struct retention_curve *curve, double height_cm, double taper)
{
    struct pot_shape shape = {.top_cm = 10, .bottom_cm = 10 * taper, .fill_height_cm = height_cm};
    return 100 * figures(&shape, curve).air_space;
}

/* Sensitivities worked out once with an independent programme, points of air in the pot. */
static void pot_at_capacity_sensitivities_are_met(void **state)
{
    (void)state;
    const struct {
        double height_cm, air, jar_point, porosity_point, residual, shape, jar_cm, straight, taller;
    } rows[] = {{5, 8.93, .67, -.06, .31, -1.21, -.83, -.73, 2.11},
                {7.6, 14.21, .89, -.05, .24, -.84, -1.12, -1.07, 1.83},
                {15, 25.30, 1.07, .05, -.26, .77, -1.40, -1.58, 1.14},
                {24, 33.57, 1.06, .16, -.84, 2.08, -1.40, -1.77, .71},
                {40, 42.05, .95, .30, -1.55, 3.16, -1.26, -1.78, .38}};
    struct retention_curve mix = reference_mix(.20, .87, .12, 1.65, 12);
    struct retention_curve jar_point = reference_mix(.21, .87, .12, 1.65, 12);
    struct retention_curve porosity = reference_mix(.20, .88, .12, 1.65, 12);
    struct retention_curve residual = reference_mix(.20, .87, .17, 1.65, 12);
    struct retention_curve shape = reference_mix(.20, .87, .12, 1.85, 12);
    struct retention_curve taller_jar = reference_mix(.20, .87, .12, 1.65, 13);
    for (size_t i = 0; i < 5; i++) {
        double h = rows[i].height_cm;
        double air = cone_air_pct(&mix, h, .8);
        const double to = .0051;
        check_near(air, rows[i].air, to, "air %");
        check_near(cone_air_pct(&jar_point, h, .8) - air, rows[i].jar_point, to,
                   "+1 pt in the jar");
        check_near(cone_air_pct(&porosity, h, .8) - air, rows[i].porosity_point, to,
                   "+1 pt porosity");
        check_near(cone_air_pct(&residual, h, .8) - air, rows[i].residual, to, "theta_r + .05");
        check_near(cone_air_pct(&shape, h, .8) - air, rows[i].shape, to, "n + .2");
        check_near(cone_air_pct(&taller_jar, h, .8) - air, rows[i].jar_cm, to, "jar really 13 cm");
        check_near(cone_air_pct(&mix, h, 1) - air, rows[i].straight, to, "straight");
        check_near(cone_air_pct(&mix, h + 1, .8) - air, rows[i].taller, to, "pot 1 cm taller");
    }
}

static void pot_at_capacity_water_and_air_fill_the_pores(void **state)
{
    (void)state;
    uint64_t seed = 12;
    for (int i = 0; i < 5000; i++) {
        struct retention_curve curve =
            make(check_between(&seed, .4, 1), check_between(&seed, 0, .35),
                 exp(check_between(&seed, -7, 4)), check_between(&seed, 1.1, 6));
        struct pot_shape shape = {.form = i % 2 ? POT_ROUND : POT_SQUARE,
                                  .top_cm = check_between(&seed, 3, 60),
                                  .bottom_cm = check_between(&seed, 3, 60),
                                  .fill_height_cm = check_between(&seed, 1, 100),
                                  .volume_l = i % 3 ? 0 : check_between(&seed, .05, 50),
                                  .base_cm = i % 5 ? 0 : check_between(&seed, -5, 30),
                                  .inverse_taper = true};
        struct pot_figures f = figures(&shape, &curve);
        check_near(f.capacity + f.air_space, f.total_porosity, 1e-12, "capacity + air = pores");
        check_near(f.water_l, f.capacity * f.volume_l, 1e-12, "water");
        check_near(f.available_l, fmax(0, f.water_l - f.theta_low * f.volume_l), 1e-12,
                   "available");
        assert_true(f.air_space >= 0 && f.easily_available_l >= 0 && f.buffer_l >= 0);
        assert_true(f.saturated_layer_cm >= 0 && f.saturated_layer_cm <= f.wet_layer_cm);
        assert_true(f.wet_layer_cm <= shape.fill_height_cm);
    }
}

/* The vessel itself used as a pot gives the bench figure back, whatever the class and taper. */
static void pot_at_capacity_vessel_used_as_pot_returns_the_bench_figure(void **state)
{
    (void)state;
    uint64_t seed = 31;
    for (int i = 0; i < 2000; i++) {
        struct bench_fit fit;
        struct pot_figures f;
        struct bench_test test = {.vessel_height_cm = check_between(&seed, 2, 60),
                                  .vessel_volume_ml = check_between(&seed, 100, 5000),
                                  .vessel_top_cm = 12,
                                  .vessel_bottom_cm = check_between(&seed, 6, 12.5),
                                  .replicates = 1,
                                  .class_id = (enum bench_class)(i % 8)};
        test.drained_ml[0] = test.vessel_volume_ml * check_between(&seed, .01, .6);
        struct pot_shape shape = {.form = i % 2 ? POT_ROUND : POT_SQUARE,
                                  .top_cm = test.vessel_top_cm,
                                  .bottom_cm = test.vessel_bottom_cm,
                                  .fill_height_cm = test.vessel_height_cm,
                                  .volume_l = test.vessel_volume_ml / 1000};
        assert_int_equal(bench_fit_one(&test, &fit), STATUS_OK);
        assert_int_equal(pot_at_capacity(&shape, &fit.curve, &fit, 0, &f), STATUS_OK);
        check_near(f.air_space, fit.air_space, 1e-9, "air");
        check_near(f.capacity, fit.container_capacity, 1e-9, "capacity");
        check_near(f.air_space_sd, .015, 1e-4, "SD is that of the bench");
        check_near(f.water_l, fit.container_capacity * f.volume_l, 1e-9, "water");
    }
}

static void pot_at_capacity_air_rises_with_height_and_taper(void **state)
{
    (void)state;
    uint64_t seed = 32;
    for (int i = 0; i < 5000; i++) {
        struct retention_curve curve =
            make(.9, check_between(&seed, 0, .3), exp(check_between(&seed, -7, 4)),
                 check_between(&seed, 1.1, 5));
        struct pot_shape shape = {.top_cm = check_between(&seed, 4, 50),
                                  .fill_height_cm = check_between(&seed, 1, 90)};
        shape.bottom_cm = shape.top_cm * check_between(&seed, .3, 1);
        struct pot_shape taller = shape;
        taller.fill_height_cm *= 1.1;
        struct pot_shape narrower = shape;
        narrower.bottom_cm *= .9;
        struct pot_shape sand_bed = shape;
        sand_bed.base_cm = 10;
        struct pot_shape saucer = shape;
        saucer.base_cm = -.3;
        double air = figures(&shape, &curve).air_space;
        assert_true(figures(&taller, &curve).air_space >= air - 1e-14);
        assert_true(figures(&narrower, &curve).air_space >= air - 1e-14);
        assert_true(figures(&sand_bed, &curve).air_space >= air - 1e-14);
        assert_true(figures(&saucer, &curve).air_space <= air + 1e-14);
    }
}

/* n = 2: S = 1/sqrt(1 + (alpha h)^2), so air of `a` sits at h = sqrt(1/(1 - a/amp)^2 - 1)/alpha. */
static void pot_at_capacity_layers_equal_the_closed_form(void **state)
{
    (void)state;
    struct retention_curve curve = make(.9, .2, .15, 2);
    struct pot_shape shape = {.top_cm = 15, .bottom_cm = 12, .fill_height_cm = 14};
    double saturated = sqrt(1 / pow(1 - .01 / .7, 2) - 1) / .15;
    double wet = sqrt(1 / pow(1 - .10 / .7, 2) - 1) / .15;
    struct pot_figures f = figures(&shape, &curve);
    check_near(f.saturated_layer_cm, saturated, 1e-9, "theta_s - theta < 0.01");
    check_near(f.wet_layer_cm, wet, 1e-9, "theta_s - theta < 0.10");
    shape.base_cm = -3;
    check_near(figures(&shape, &curve).wet_layer_cm, wet + 3, 1e-9, "3 cm saucer");
    shape.base_cm = 1;
    check_near(figures(&shape, &curve).wet_layer_cm, wet - 1, 1e-9, "water 1 cm below");
    shape.base_cm = 30;
    check_near(figures(&shape, &curve).wet_layer_cm, 0, 0, "sand bed: none");
    shape.base_cm = 0;
    shape.fill_height_cm = 2;
    check_near(figures(&shape, &curve).wet_layer_cm, 2, 0, "the whole pot");
    struct retention_curve holds = make(.5, .42, .15, 2);
    shape.fill_height_cm = 14;
    check_near(figures(&shape, &holds).wet_layer_cm, 14, 0, "never 10 % air anywhere");
}

static void pot_at_capacity_waters_by_suction_are_differences_of_theta(void **state)
{
    (void)state;
    struct retention_curve curve = make(.90, .100, .181, 1.51);
    struct pot_shape shape = {.top_cm = 15, .bottom_cm = 12, .fill_height_cm = 14, .volume_l = 2};
    struct pot_figures f = figures(&shape, &curve);
    /* Ansorena 1994, middle of the bands at 10 / 50 / 100 cm: .625 / .355 / .280. */
    check_near(f.easily_available_l, 2 * (.625 - .355), .008, "10 to 50 cm");
    check_near(f.buffer_l, 2 * (.355 - .280), .008, "50 to 100 cm");
    check_near(f.theta_low, retention_theta(&curve, 100), 1e-15, "default");
    check_near(f.available_l, f.water_l - 2 * f.theta_low, 1e-12, "available");
}

/* Uptake in bark falls from 0.28 / 0.20 and stops at 0.16 / 0.12 (O'Meara et al. 2014); 0.20 is our
 * choice. The residual of the curve is never taken for it: theta_r of bark is 0.26, and 32 % was
 * held at 1.5 MPa (HortScience 39(3):591, 2004). */
static void pot_at_capacity_lower_end_in_bark_is_one_fifth(void **state)
{
    (void)state;
    const struct pot_shape shape = {
        .top_cm = 15, .bottom_cm = 12, .fill_height_cm = 14, .volume_l = 2};
    for (int c = 0; c <= BENCH_GENERIC; c++) {
        struct bench_fit fit;
        struct pot_figures f;
        struct bench_test test = {.vessel_height_cm = 12,
                                  .vessel_volume_ml = 1000,
                                  .drained_ml = {220},
                                  .replicates = 1,
                                  .class_id = (enum bench_class)c};
        bool bark = c == BENCH_BARK_AGED || c == BENCH_BARK_FRESH || c == BENCH_BARK_PEAT_SAND;
        assert_int_equal(bench_fit_one(&test, &fit), STATUS_OK);
        assert_int_equal(pot_at_capacity(&shape, &fit.curve, &fit, 0, &f), STATUS_OK);
        check_near(f.theta_low, bark ? .20 : retention_theta(&fit.curve, 100), 1e-15, "default");
        assert_int_equal(pot_at_capacity(&shape, &fit.curve, &fit, .3, &f), STATUS_OK);
        check_near(f.available_l, f.water_l - .6, 1e-12, "measured limit");
        check_near(f.capacity_sd, hypot(f.air_space_sd, fit.total_porosity_sd), 1e-15, "SD");
    }
}

static void pot_at_capacity_without_a_fit_has_no_sd(void **state)
{
    (void)state;
    struct retention_curve curve = make(.9, .1, .2, 1.5);
    struct pot_shape shape = {.top_cm = 15, .bottom_cm = 12, .fill_height_cm = 14};
    check_near(figures(&shape, &curve).air_space_sd, 0, 0, "SD");
    check_near(figures(&shape, &curve).capacity_sd, 0, 0, "SD");
}

/* --- profile ------------------------------------------------------------------------------- */

static void pot_profile_mean_by_area_is_the_capacity(void **state)
{
    (void)state;
    enum { POINTS = 4001 };
    static double height_cm[POINTS], theta[POINTS];
    struct retention_curve curve = make(.87, .12, .2, 1.65);
    struct pot_shape shape = {
        .top_cm = 17, .bottom_cm = 12, .fill_height_cm = 12, .height_cm = 15, .base_cm = 2};
    assert_int_equal(pot_profile(&shape, &curve, POINTS, height_cm, theta), STATUS_OK);
    double water = 0;
    double volume = 0;
    for (size_t i = 0; i + 1 < POINTS; i++) {
        double mid = (height_cm[i] + height_cm[i + 1]) / 2;
        double area = pow(12 + 5 * mid / 15, 2);
        water += area * (theta[i] + theta[i + 1]) / 2;
        volume += area;
        assert_true(theta[i + 1] <= theta[i]);
    }
    check_near(water / volume, figures(&shape, &curve).capacity, 1e-7, "capacity");
    check_near(height_cm[0], 0, 0, "base");
    check_near(height_cm[POINTS - 1], 12, 1e-12, "fill line");
    check_near(theta[0], retention_theta(&curve, 2), 1e-15, "base suction");
    assert_int_equal(pot_profile(&shape, &curve, 1, height_cm, theta), STATUS_NO_SPACE);
}

/* --- least fill ----------------------------------------------------------------------------- */

static void pot_least_fill_gives_the_target_with_the_walls_continued(void **state)
{
    (void)state;
    uint64_t seed = 41;
    int solved = 0;
    for (int i = 0; i < 1500; i++) {
        struct retention_curve curve =
            make(.9, .1, exp(check_between(&seed, -4, 1)), check_between(&seed, 1.2, 3));
        struct pot_shape shape = {.top_cm = 16,
                                  .bottom_cm = check_between(&seed, 8, 24),
                                  .fill_height_cm = 14,
                                  .height_cm = i % 2 ? 15 : 0,
                                  .inverse_taper = true};
        double target = check_between(&seed, .02, .6);
        double fill = 0;
        if (pot_least_fill_cm(&shape, &curve, target, &fill) != STATUS_OK)
            continue;
        assert_true(fill >= 1 && fill <= 100);
        double slope = (16 - shape.bottom_cm) / (i % 2 ? 15 : 14);
        struct pot_shape filled = shape;
        filled.fill_height_cm = fill;
        filled.height_cm = 0;
        filled.top_cm = shape.bottom_cm + slope * fill;
        double air = figures(&filled, &curve).air_space;
        if (fill > 1) {
            check_near(air, target, 1e-7, "air at the least fill");
            solved++;
        } else {
            assert_true(air >= target);
        }
    }
    assert_true(solved > 500);
}

static void pot_least_fill_none_reaches_the_target(void **state)
{
    (void)state;
    struct retention_curve curve = make(.9, .3, .05, 1.5);
    struct pot_shape shape = {.top_cm = 16, .bottom_cm = 12, .fill_height_cm = 14};
    double fill = 7;
    assert_int_equal(pot_least_fill_cm(&shape, &curve, .59, &fill), STATUS_NO_SOLUTION);
    assert_int_equal(pot_least_fill_cm(&shape, &curve, 0, &fill), STATUS_RANGE);
    assert_int_equal(pot_least_fill_cm(&shape, &curve, 1, &fill), STATUS_RANGE);
    assert_int_equal(pot_least_fill_cm(&shape, &curve, NAN, &fill), STATUS_RANGE);
    check_near(fill, 7, 0, "output untouched");
    /* A pot that narrows upwards closes before 100 cm. */
    struct pot_shape cone = {
        .top_cm = 2, .bottom_cm = 20, .fill_height_cm = 10, .inverse_taper = true};
    assert_int_equal(pot_least_fill_cm(&cone, &curve, .5, &fill), STATUS_NO_SOLUTION);
}

/* --- time ----------------------------------------------------------------------------------- */

static void pot_rooted_share_grows_from_the_plug_to_the_whole(void **state)
{
    (void)state;
    double share = 0;
    assert_int_equal(pot_rooted_share(.1, 0, POT_SOFT, &share), STATUS_OK);
    check_near(share, .1, 1e-15, "the plug's own");
    assert_int_equal(pot_rooted_share(.1, 21, POT_SOFT, &share), STATUS_OK);
    check_near(share, .55, 1e-12, "half way at three weeks");
    assert_int_equal(pot_rooted_share(.1, 35, POT_WOODY, &share), STATUS_OK);
    check_near(share, .55, 1e-12, "half way at five weeks");
    assert_int_equal(pot_rooted_share(.1, 1e9, POT_WOODY, &share), STATUS_OK);
    check_near(share, 1, 1e-12, "rooted through");
    assert_int_equal(pot_rooted_share(-.1, 1, POT_SOFT, &share), STATUS_RANGE);
    assert_int_equal(pot_rooted_share(.1, NAN, POT_SOFT, &share), STATUS_RANGE);
}

/* Cannavo et al. 2011, HortScience 46:1394: air .35 fresh, .14 after 196 days of roots. */
static void published_cannavo_2011_roots_cost_a_tenth_of_a_point_a_day(void **state)
{
    (void)state;
    double left = 0;
    assert_int_equal(pot_air_with_roots(.35, POT_ROOT_LOSS_A_DAY, 196, &left), STATUS_OK);
    check_near(left, .14, .02, "printed .14, .124 by difference of its other figures");
    assert_int_equal(pot_air_with_roots(.35, 0, 196, &left), STATUS_OK);
    check_near(left, .35, 1e-15, "off by default");
    assert_int_equal(pot_air_with_roots(.05, .001, 196, &left), STATUS_OK);
    check_near(left, 0, 0, "never below none");
    assert_int_equal(pot_air_with_roots(.35, .02, 196, &left), STATUS_RANGE);
    assert_int_equal(pot_air_with_roots(NAN, .001, 196, &left), STATUS_RANGE);
}

/* --- what cannot be ------------------------------------------------------------------------- */

static void pot_at_capacity_what_cannot_be_is_refused(void **state)
{
    (void)state;
    struct retention_curve curve = make(.9, .1, .2, 1.5);
    const struct pot_shape good = {
        .top_cm = 15, .bottom_cm = 12, .fill_height_cm = 14, .height_cm = 15, .volume_l = 2};
    const double bad[] = {NAN, INFINITY, -INFINITY, -1, 1e300};
    struct pot_figures f;
    memset(&f, 0x5a, sizeof f);
    struct pot_figures before = f;
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        struct pot_shape shape = good;
        double *fields[] = {&shape.top_cm,    &shape.bottom_cm, &shape.fill_height_cm,
                            &shape.height_cm, &shape.volume_l,  &shape.base_cm};
        for (size_t k = 0; k < 6; k++) {
            shape = good;
            if (k == 5 && bad[i] == -1)
                continue; /* a 1 cm saucer */
            *fields[k] = bad[i];
            assert_int_equal(pot_at_capacity(&shape, &curve, NULL, 0, &f), STATUS_RANGE);
        }
    }
    struct pot_shape shape = good;
    shape.fill_height_cm = 15.1;
    assert_int_equal(pot_at_capacity(&shape, &curve, NULL, 0, &f), STATUS_RANGE);
    shape = good;
    shape.fill_height_cm = .9;
    assert_int_equal(pot_at_capacity(&shape, &curve, NULL, 0, &f), STATUS_RANGE);
    shape = good;
    shape.form = (enum pot_form)2;
    assert_int_equal(pot_at_capacity(&shape, &curve, NULL, 0, &f), STATUS_RANGE);
    shape = good;
    shape.bottom_cm = 15.8;
    assert_int_equal(pot_at_capacity(&shape, &curve, NULL, 0, &f), STATUS_IMPOSSIBLE);
    assert_int_equal(pot_at_capacity(&good, &curve, NULL, .91, &f), STATUS_RANGE);
    assert_int_equal(pot_at_capacity(&good, &curve, NULL, NAN, &f), STATUS_RANGE);
    curve.alpha_per_cm = NAN;
    assert_int_equal(pot_at_capacity(&good, &curve, NULL, 0, &f), STATUS_RANGE);
    assert_memory_equal(&f, &before, sizeof f);
    shape.bottom_cm = 15.7;
    curve.alpha_per_cm = .2;
    assert_int_equal(pot_at_capacity(&shape, &curve, NULL, 0, &f), STATUS_OK);
}

int main(void)
{
    const struct CMUnitTest cases[] = {
        cmocka_unit_test(pot_at_capacity_volume_equals_cone_and_frustum),
        cmocka_unit_test(published_nursery_pots_need_a_bottom_narrower_than_the_rim),
        cmocka_unit_test(published_small_pots_hold_less_than_rim_squared_by_height),
        cmocka_unit_test(published_square_pots_straight_sided_volume),
        cmocka_unit_test(pot_at_capacity_measured_volume_scales_areas_not_heights),
        cmocka_unit_test(pot_at_capacity_rim_height_interpolates_the_fill_line),
        cmocka_unit_test(pot_at_capacity_sensitivities_are_met),
        cmocka_unit_test(pot_at_capacity_water_and_air_fill_the_pores),
        cmocka_unit_test(pot_at_capacity_vessel_used_as_pot_returns_the_bench_figure),
        cmocka_unit_test(pot_at_capacity_air_rises_with_height_and_taper),
        cmocka_unit_test(pot_at_capacity_layers_equal_the_closed_form),
        cmocka_unit_test(pot_at_capacity_waters_by_suction_are_differences_of_theta),
        cmocka_unit_test(pot_at_capacity_lower_end_in_bark_is_one_fifth),
        cmocka_unit_test(pot_at_capacity_without_a_fit_has_no_sd),
        cmocka_unit_test(pot_profile_mean_by_area_is_the_capacity),
        cmocka_unit_test(pot_least_fill_gives_the_target_with_the_walls_continued),
        cmocka_unit_test(pot_least_fill_none_reaches_the_target),
        cmocka_unit_test(pot_rooted_share_grows_from_the_plug_to_the_whole),
        cmocka_unit_test(published_cannavo_2011_roots_cost_a_tenth_of_a_point_a_day),
        cmocka_unit_test(pot_at_capacity_what_cannot_be_is_refused),
    };
    return cmocka_run_group_tests(cases, NULL, NULL);
}
