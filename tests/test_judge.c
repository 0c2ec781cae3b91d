/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check.h"

#include <math.h>

#include "core/judge.h"

static struct bench_fit jar(double air, double height_cm)
{
    struct bench_fit fit;
    struct bench_test test = {.vessel_height_cm = height_cm,
                              .vessel_volume_ml = 1000,
                              .drained_ml = {1000 * air},
                              .replicates = 1,
                              .total_porosity = .85,
                              .class_id = BENCH_PEAT};
    assert_int_equal(bench_fit_one(&test, &fit), STATUS_OK);
    return fit;
}

static enum judge_code mix_code(double air, double height_cm, enum judge_use use)
{
    struct bench_fit fit = jar(air, height_cm);
    struct judge_finding finding;
    assert_int_equal(judge_mix(&fit, use, &finding), STATUS_OK);
    return finding.code;
}

/* Bands of a 12 cm vessel: 20-25 % good, 25-30 % for propagation (common practice); under 13 %
 * fails the Australian general nursery guideline. An edge belongs to the band above it. */
static void judge_mix_bands_of_a_12_cm_vessel(void **state)
{
    (void)state;
    const struct {
        double air;
        enum judge_code growing, propagation;
    } rows[] = {
        {.08, JUDGE_TOO_WET, JUDGE_TOO_WET},       {.129, JUDGE_TOO_WET, JUDGE_TOO_WET},
        {.13, JUDGE_RATHER_WET, JUDGE_RATHER_WET}, {.199, JUDGE_RATHER_WET, JUDGE_RATHER_WET},
        {.20, JUDGE_FIT, JUDGE_RATHER_WET},        {.249, JUDGE_FIT, JUDGE_RATHER_WET},
        {.25, JUDGE_RATHER_DRY, JUDGE_FIT},        {.299, JUDGE_RATHER_DRY, JUDGE_FIT},
        {.30, JUDGE_TOO_DRY, JUDGE_RATHER_DRY},    {.45, JUDGE_TOO_DRY, JUDGE_RATHER_DRY}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        assert_int_equal(mix_code(rows[i].air, 12, JUDGE_GROWING_ON), rows[i].growing);
        assert_int_equal(mix_code(rows[i].air, 12, JUDGE_PROPAGATION), rows[i].propagation);
    }
}

/* The same 20 % is another mix in another vessel: it is carried to 12 cm before it is judged. */
static void judge_mix_other_heights_are_converted_first(void **state)
{
    (void)state;
    assert_int_equal(mix_code(.20, 7.6, JUDGE_GROWING_ON), JUDGE_RATHER_DRY);
    assert_int_equal(mix_code(.20, 12, JUDGE_GROWING_ON), JUDGE_FIT);
    assert_int_equal(mix_code(.20, 20, JUDGE_GROWING_ON), JUDGE_TOO_WET);
}

static void judge_mix_chance_follows_the_spread(void **state)
{
    (void)state;
    struct bench_fit fit = jar(.225, 12);
    struct judge_finding finding;
    assert_int_equal(judge_mix(&fit, JUDGE_GROWING_ON, &finding), STATUS_OK);
    check_near(finding.value, .225, 1e-9, "air");
    check_near(finding.value_sd, .015, 1e-4, "SD");
    check_near(finding.chance, erf(.025 / .015 / M_SQRT2), .001, "normal, 2.5 points either side");
    check_near(finding.height_cm, 12, 0, "height");
    check_near(finding.from, .20, 0, "band");
    check_near(finding.to, .25, 0, "band");
    fit.curve.n = NAN;
    assert_int_equal(judge_mix(&fit, JUDGE_GROWING_ON, &finding), STATUS_RANGE);
    struct bench_fit dry = jar(.45, 12);
    assert_int_equal(judge_mix(&dry, JUDGE_GROWING_ON, &finding), STATUS_OK);
    check_near(finding.from, .30, 0, "the last band");
    assert_true(isinf(finding.to));
    check_near(finding.chance, 1, 1e-6, "surely in it");
}

static size_t pot_findings(double air, double height_cm, enum judge_use use,
                           struct judge_finding out[])
{
    struct bench_fit fit = jar(air, 12);
    struct pot_shape shape = {.top_cm = 14, .bottom_cm = 11, .fill_height_cm = height_cm};
    struct pot_figures figures;
    size_t count = 0;
    assert_int_equal(pot_at_capacity(&shape, &fit.curve, &fit, 0, &figures), STATUS_OK);
    assert_int_equal(judge_pot(&shape, &figures, &fit, use, out, &count), STATUS_OK);
    assert_true(count >= 1 && count <= JUDGE_FINDINGS_MAX);
    return count;
}

static const struct judge_finding *find(const struct judge_finding all[], size_t count,
                                        enum judge_code code)
{
    for (size_t i = 0; i < count; i++)
        if (all[i].code == code)
            return &all[i];
    return NULL;
}

static void judge_pot_good_mix_in_a_shallow_pot_is_a_root_rot_risk(void **state)
{
    (void)state;
    struct judge_finding found[JUDGE_FINDINGS_MAX];
    size_t count = pot_findings(.21, 3, JUDGE_GROWING_ON, found);
    assert_int_equal(found[0].code, JUDGE_TOO_WET);
    const struct judge_finding *rot = find(found, count, JUDGE_ROOT_ROT);
    assert_non_null(rot);
    assert_true(rot->chance > .5 && rot->value < .10);
    assert_non_null(find(found, count, JUDGE_VESSEL_FAR));
    count = pot_findings(.13, 2, JUDGE_GROWING_ON, found);
    assert_non_null(find(found, count, JUDGE_NEAR_ANOXIC));
    assert_non_null(find(found, count, JUDGE_BEYOND_RANGE));
}

static void judge_pot_near_the_limit_the_risk_is_possible(void **state)
{
    (void)state;
    struct judge_finding found[JUDGE_FINDINGS_MAX];
    size_t count = pot_findings(.10, 12, JUDGE_GROWING_ON, found);
    const struct judge_finding *rot = find(found, count, JUDGE_ROOT_ROT_POSSIBLE);
    assert_non_null(rot);
    assert_null(find(found, count, JUDGE_ROOT_ROT));
    assert_true(rot->chance > .25 && rot->chance < .5);
    assert_int_equal(found[0].code, JUDGE_RATHER_WET);
}

static void judge_pot_deep_pot_needs_watering_often(void **state)
{
    (void)state;
    struct judge_finding found[JUDGE_FINDINGS_MAX];
    size_t count = pot_findings(.24, 24, JUDGE_GROWING_ON, found);
    assert_int_equal(found[0].code, JUDGE_RATHER_DRY);
    assert_non_null(find(found, count, JUDGE_WATER_OFTEN));
    assert_null(find(found, count, JUDGE_ROOT_ROT_POSSIBLE));
    count = pot_findings(.22, 12, JUDGE_GROWING_ON, found);
    assert_int_equal(found[0].code, JUDGE_FIT);
    assert_int_equal(count, 1);
    pot_findings(.22, 12, JUDGE_PROPAGATION, found);
    assert_int_equal(found[0].code, JUDGE_FIT);
}

static void judge_pot_without_a_bench_test_claims_no_chance(void **state)
{
    (void)state;
    struct judge_finding found[JUDGE_FINDINGS_MAX];
    struct retention_curve curve;
    struct pot_figures figures;
    size_t count = 0;
    struct pot_shape shape = {.top_cm = 14, .bottom_cm = 11, .fill_height_cm = 8};
    assert_int_equal(retention_make(.9, .1, .2, 1.5, &curve), STATUS_OK);
    assert_int_equal(pot_at_capacity(&shape, &curve, NULL, 0, &figures), STATUS_OK);
    assert_int_equal(judge_pot(&shape, &figures, NULL, JUDGE_GROWING_ON, found, &count), STATUS_OK);
    assert_int_equal(count, 1);
    check_near(found[0].chance, 0, 0, "no SD, no chance");
    figures.air_space = NAN;
    assert_int_equal(judge_pot(&shape, &figures, NULL, JUDGE_GROWING_ON, found, &count),
                     STATUS_RANGE);
    figures.air_space = .2;
    assert_int_equal(judge_pot(&shape, &figures, NULL, (enum judge_use)7, found, &count),
                     STATUS_RANGE);
}

/* A curve through the middle of Ansorena's 1994 bands (porosity 0.90) lies within each of them. */
static void published_ansorena_1994_middle_lies_within_its_own_bands(void **state)
{
    (void)state;
    struct retention_curve curve;
    struct judge_band_finding found[JUDGE_BANDS];
    assert_int_equal(retention_make(.90, .100, .181, 1.51, &curve), STATUS_OK);
    assert_int_equal(judge_by_bands(&curve, found), STATUS_OK);
    for (size_t i = 0; i < JUDGE_BANDS; i++) {
        const char *name = found[i].band->name;
        if (strncmp(name, "ideal_", 6) == 0)
            assert_int_equal(found[i].side, 0);
        if (strcmp(name, "ideal_air") == 0)
            check_near(found[i].value, .90 - .625, .003, "air at 10 cm");
        if (strcmp(name, "ideal_easy_water") == 0)
            check_near(found[i].value, .625 - .355, .003, "10 to 50 cm");
        if (strcmp(name, "ideal_reserve") == 0)
            check_near(found[i].value, .355 - .280, .003, "50 to 100 cm");
    }
}

static void judge_by_bands_value_belongs_to_the_bands_method(void **state)
{
    (void)state;
    struct bench_fit fit = jar(.20, 12);
    struct judge_band_finding found[JUDGE_BANDS];
    assert_int_equal(judge_by_bands(&fit.curve, found), STATUS_OK);
    for (size_t i = 0; i < JUDGE_BANDS; i++) {
        const struct judge_band *band = found[i].band;
        if (band->quantity == JUDGE_AIR && band->vessel_cm == 12)
            check_near(found[i].value, .20, 1e-9, "the jar's own height");
        if (band->quantity == JUDGE_AIR && band->vessel_cm == 7.6)
            assert_true(found[i].value < .15);
        if (band->quantity == JUDGE_AIR && band->suction_cm == 10)
            assert_true(found[i].value > .25);
        assert_int_equal(found[i].side, found[i].value < band->from ? -1
                                        : found[i].value > band->to ? 1
                                                                    : 0);
    }
    fit.curve.m = -1;
    assert_int_equal(judge_by_bands(&fit.curve, found), STATUS_RANGE);
}

int main(void)
{
    const struct CMUnitTest cases[] = {
        cmocka_unit_test(judge_mix_bands_of_a_12_cm_vessel),
        cmocka_unit_test(judge_mix_other_heights_are_converted_first),
        cmocka_unit_test(judge_mix_chance_follows_the_spread),
        cmocka_unit_test(judge_pot_good_mix_in_a_shallow_pot_is_a_root_rot_risk),
        cmocka_unit_test(judge_pot_near_the_limit_the_risk_is_possible),
        cmocka_unit_test(judge_pot_deep_pot_needs_watering_often),
        cmocka_unit_test(judge_pot_without_a_bench_test_claims_no_chance),
        cmocka_unit_test(published_ansorena_1994_middle_lies_within_its_own_bands),
        cmocka_unit_test(judge_by_bands_value_belongs_to_the_bands_method),
    };
    return cmocka_run_group_tests(cases, NULL, NULL);
}
