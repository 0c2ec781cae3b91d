/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Does the spread that goes with a pot's air keep its word? Mixes of another form than the one
 * fitted (two lognormal populations of pores; a log-logistic curve) are drained on the bench with
 * noise, fitted, and their true air in other pots is compared with the prediction.
 *
 * The ensemble is invented. Its class medians follow the class priors (the five pore parameters
 * were fitted once to each prior's curve, fine pores kept apart from the coarse ones), its spreads
 * were set so that van Genuchten fits to its draws scatter as the priors say (ln alpha about 0.5,
 * ln(n - 1) about 0.4); so were those of the log-logistic draws. So it tests form and arithmetic,
 * not field truth.
 */
#include "check.h"

#include <math.h>
#include <stdio.h>

#include "core/bench.h"
#include "core/bench_set.h"
#include "core/pot.h"

#define NOISE 0.015
enum {
    CLASSES = BENCH_GENERIC, /* generic is none of its own */
    DRAWS = 120,
    SLICES = 200,
    POTS = 9
};
static const double pots_cm[POTS] = {5.5, 7.6, 10, 12, 15, 18, 24, 30, 40};

enum form {
    TWO_PORES,
    LOG_LOGISTIC,
};

struct medium {
    enum form form;
    double theta_s;
    /* two pores: share of the coarse, median suction (cm) and spread of ln suction of either */
    double share, coarse_cm, coarse_spread, fine_cm, fine_spread;
    /* log-logistic */
    double theta_r, b, h50_cm;
};

static const struct medium two_pores[CLASSES] = {
    [BENCH_PEAT] = {.share = .756, 9.525, 1.296, 250.8, 1.107},
    [BENCH_PEAT_PERLITE] = {.share = .697, 8.461, 1.335, 324.3, 1.334},
    [BENCH_COIR] = {.share = .762, 9.814, 1.351, 247.9, 1.072},
    [BENCH_WOOD_FIBRE] = {.share = .713, 8.322, 1.193, 287.4, 1.388},
    [BENCH_BARK_PEAT_SAND] = {.share = .627, 6.201, 1.315, 459.2, 1.6},
    [BENCH_BARK_AGED] = {.share = .568, 4.366, 1.299, 684.9, 1.6},
    [BENCH_BARK_FRESH] = {.share = .622, 2.529, 1.148, 701.2, 1.6},
};

/* Log-logistic equivalents of the priors. */
static const struct medium log_logistic[CLASSES] = {
    [BENCH_PEAT] = {.theta_r = .18, 1.16, 13},
    [BENCH_PEAT_PERLITE] = {.theta_r = .20, 1.11, 11},
    [BENCH_COIR] = {.theta_r = .18, 1.08, 15},
    [BENCH_WOOD_FIBRE] = {.theta_r = .18, 1.24, 10},
    [BENCH_BARK_PEAT_SAND] = {.theta_r = .22, 1.12, 7.8},
    [BENCH_BARK_AGED] = {.theta_r = .32, 1.15, 5.7},
    [BENCH_BARK_FRESH] = {.theta_r = .29, 1.30, 2.7},
};

static double normal(uint64_t *seed)
{
    double radius = sqrt(-2 * log(1 - check_random(seed)));
    return radius * cos(2 * M_PI * check_random(seed));
}

static double near(double x, double low, double high)
{
    return fmax(low, fmin(x, high));
}

static struct medium draw(enum form form, int class_id, uint64_t *seed)
{
    const struct bench_prior *prior = bench_prior_of((enum bench_class)class_id);
    struct medium m = form == TWO_PORES ? two_pores[class_id] : log_logistic[class_id];
    m.form = form;
    m.theta_s = near(prior->theta_s + prior->theta_s_sd * normal(seed), .5, .97);
    if (form == TWO_PORES) {
        double logit =
            log(m.share / (1 - m.share)) + .08 / (m.share * (1 - m.share)) * normal(seed);
        m.share = 1 / (1 + exp(-logit));
        m.coarse_cm *= exp(.45 * normal(seed));
        m.coarse_spread *= exp(.20 * normal(seed));
        m.fine_cm *= exp(.60 * normal(seed));
        m.fine_spread *= exp(.20 * normal(seed));
    } else {
        m.theta_r = near(m.theta_r + .08 * normal(seed), 0, m.theta_s - .2);
        m.b = fmax(.6, m.b * exp(.18 * normal(seed)));
        m.h50_cm *= exp(.45 * normal(seed));
    }
    return m;
}

/* Water that pores with a lognormal spread of suctions hold at a suction. */
static double pores_held(double suction_cm, double median_cm, double spread)
{
    return .5 * erfc(log(suction_cm / median_cm) / (spread * M_SQRT2));
}

static double theta(const struct medium *m, double suction_cm)
{
    if (suction_cm <= 0)
        return m->theta_s;
    if (m->form == LOG_LOGISTIC)
        return m->theta_r + (m->theta_s - m->theta_r) / (1 + pow(suction_cm / m->h50_cm, m->b));
    return m->theta_s * (m->share * pores_held(suction_cm, m->coarse_cm, m->coarse_spread) +
                         (1 - m->share) * pores_held(suction_cm, m->fine_cm, m->fine_spread));
}

static double true_air(const struct medium *m, double height_cm, double taper)
{
    double water = 0;
    double volume = 0;
    for (int i = 0; i < SLICES; i++) {
        double x = (i + .5) / SLICES;
        double width = taper + (1 - taper) * x;
        water += width * width * theta(m, x * height_cm);
        volume += width * width;
    }
    return m->theta_s - water / volume;
}

/* --- scenarios: what is measured on a medium ------------------------------------------------ */

enum scenario {
    ONE_JAR,          /* 12 cm, one replicate, porosity known */
    ONE_JAR_GENERIC,  /* the same, class not known */
    THREE_REPLICATES, /* 12 cm */
    SHORT_JAR,        /* 7.6 cm core */
    TALL_JAR,         /* 20 cm */
    TWO_JARS,         /* 6 and 18 cm */
    ONE_POINT,        /* EN 13041: 10 cm */
    THREE_POINTS,     /* 10, 50, 100 cm */
    TABLE,            /* ten points, 0 to 100 cm, porosity not known */
    SCENARIOS
};
static const char *const names[SCENARIOS] = {
    "one 12 cm jar",   "the same, class unknown", "three replicates",
    "one 7.6 cm core", "one 20 cm jar",           "6 and 18 cm jars",
    "EN 13041 point",  "points 10, 50, 100 cm",   "table 0-100 cm"};

static struct bench_test drained(const struct medium *m, double height_cm, size_t replicates,
                                 uint64_t *seed)
{
    struct bench_test test = {
        .vessel_height_cm = height_cm, .vessel_volume_ml = 1000, .replicates = replicates};
    double air = true_air(m, height_cm, 1);
    for (size_t i = 0; i < replicates; i++)
        test.drained_ml[i] = 1000 * fmax(.005, air + NOISE * normal(seed));
    return test;
}

static enum status measure(enum scenario scenario, const struct medium *m, int class_id,
                           uint64_t *seed, struct bench_fit *fit)
{
    static const double suctions[] = {0, 1, 3, 6, 10, 20, 30, 50, 70, 100};
    static const double three[] = {10, 50, 100};
    static const double jar_cm[SCENARIOS] = {12, 12, 12, 7.6, 20, 6};
    bool table = scenario == TABLE;
    struct bench_test tests[2];
    struct bench_point points[10];
    struct bench_set set = {.tests = tests,
                            .points = points,
                            .total_porosity = table ? 0 : m->theta_s,
                            .class_id = scenario == ONE_JAR_GENERIC ? BENCH_GENERIC
                                                                    : (enum bench_class)class_id};
    if (scenario <= TWO_JARS) {
        set.test_count = scenario == TWO_JARS ? 2 : 1;
        tests[0] = drained(m, jar_cm[scenario], scenario == THREE_REPLICATES ? 3 : 1, seed);
        tests[1] = drained(m, 18, 1, seed);
    } else {
        set.point_count = scenario == ONE_POINT ? 1 : scenario == THREE_POINTS ? 3 : 10;
        for (size_t i = 0; i < set.point_count; i++) {
            double h = table ? suctions[i] : three[i];
            points[i] =
                (struct bench_point){h, near(theta(m, h) + NOISE * normal(seed), .01, .99), 0};
        }
    }
    return bench_set_fit(&set, fit);
}

struct tally {
    size_t media;
    size_t refused;
    size_t in_one[POTS];
    size_t in_two[POTS]; /* 1.96 SD */
    double square[POTS];
};

static void predict(const struct bench_fit *fit, const struct medium *m, struct tally *tally)
{
    double amplitude = fit->curve.theta_s - fit->curve.theta_r;
    for (size_t k = 0; k < POTS; k++) {
        double mean = bench_mean_saturation(&fit->curve, pots_cm[k], .8, 0);
        double off = fabs(amplitude * (1 - mean) - true_air(m, pots_cm[k], .8));
        double sd = bench_air_sd(fit, pots_cm[k], .8, 0);
        tally->in_one[k] += off < sd;
        tally->in_two[k] += off < 1.96 * sd;
        tally->square[k] += off * off;
    }
    tally->media++;
}

static struct tally run(enum form form, enum scenario scenario)
{
    struct tally tally = {0};
    uint64_t seed = 1000 + 17 * (uint64_t)scenario + (uint64_t)form;
    for (int c = 0; c < CLASSES; c++) {
        for (int i = 0; i < DRAWS; i++) {
            struct bench_fit fit;
            struct medium m = draw(form, c, &seed);
            if (measure(scenario, &m, c, &seed, &fit) == STATUS_OK)
                predict(&fit, &m, &tally);
            else
                tally.refused++;
        }
    }
    return tally;
}

static void print_tally(const char *form, enum scenario scenario, const struct tally *tally)
{
    printf("%s, %s: %zu mixes\n  pot cm ", form, names[scenario], tally->media);
    for (size_t k = 0; k < POTS; k++)
        printf("%7.1f", pots_cm[k]);
    printf("\n  rms pt ");
    for (size_t k = 0; k < POTS; k++)
        printf("%7.2f", 100 * sqrt(tally->square[k] / (double)tally->media));
    printf("\n  in 1 SD");
    for (size_t k = 0; k < POTS; k++)
        printf("%7.3f", (double)tally->in_one[k] / (double)tally->media);
    printf("\n  in 1.96");
    for (size_t k = 0; k < POTS; k++)
        printf("%7.3f", (double)tally->in_two[k] / (double)tally->media);
    printf("\n");
}

/* The stated rates: two thirds in one SD, and 93 % in 1.96, since the errors have longer tails than
 * normal ones; less four standard deviations of the binomial count. And not so many in one SD that
 * the spread says nothing. */
static void hold(const struct tally *tally, double most_one)
{
    const double least_one = 2.0 / 3;
    const double least_two = 0.93;
    double n = (double)tally->media;
    assert_true(tally->refused * 50 < tally->media);
    for (size_t k = 0; k < POTS; k++) {
        double slack_one = 4 * sqrt(least_one * (1 - least_one) / n);
        double slack_two = 4 * sqrt(least_two * (1 - least_two) / n);
        assert_true((double)tally->in_one[k] / n >= least_one - slack_one);
        assert_true((double)tally->in_two[k] / n >= least_two - slack_two);
        assert_true((double)tally->in_one[k] / n <= most_one);
    }
}

static void both_forms(enum scenario scenario, double most_one)
{
    struct tally pores = run(TWO_PORES, scenario);
    struct tally logistic = run(LOG_LOGISTIC, scenario);
    print_tally("two pores", scenario, &pores);
    print_tally("log-logistic", scenario, &logistic);
    hold(&pores, most_one);
    hold(&logistic, most_one);
}

static void bench_air_sd_one_jar_holds_at_the_stated_rate(void **state)
{
    (void)state;
    both_forms(ONE_JAR, .82);
}

static void bench_air_sd_class_unknown_holds_at_the_stated_rate(void **state)
{
    (void)state;
    both_forms(ONE_JAR_GENERIC, .82);
}

static void bench_air_sd_three_replicates_hold_at_the_stated_rate(void **state)
{
    (void)state;
    both_forms(THREE_REPLICATES, .82);
}

static void bench_air_sd_short_jar_holds_at_the_stated_rate(void **state)
{
    (void)state;
    both_forms(SHORT_JAR, .84);
}

static void bench_air_sd_tall_jar_holds_at_the_stated_rate(void **state)
{
    (void)state;
    both_forms(TALL_JAR, .82);
}

static void bench_air_sd_two_jars_hold_at_the_stated_rate(void **state)
{
    (void)state;
    both_forms(TWO_JARS, .82);
}

static void bench_air_sd_one_point_holds_at_the_stated_rate(void **state)
{
    (void)state;
    both_forms(ONE_POINT, .84);
}

/* Points alone say little of shallow pots and their spread is kept wide for deep ones. */
static void bench_air_sd_three_points_hold_at_the_stated_rate(void **state)
{
    (void)state;
    both_forms(THREE_POINTS, .95);
}

static void bench_air_sd_table_holds_at_the_stated_rate(void **state)
{
    (void)state;
    both_forms(TABLE, .82);
}

/* Porosity not known: the capacity's own spread has to carry the class's. */
static void pot_capacity_sd_holds_when_porosity_is_assumed(void **state)
{
    (void)state;
    const struct pot_shape pot = {.top_cm = 18, .bottom_cm = 14.4, .fill_height_cm = 18};
    uint64_t seed = 9;
    size_t in_one = 0;
    size_t media = 0;
    for (int i = 0; i < CLASSES * DRAWS; i++) {
        struct bench_fit fit;
        struct pot_figures figures;
        struct medium m = draw(TWO_PORES, i % CLASSES, &seed);
        struct bench_test test = drained(&m, 12, 1, &seed);
        test.class_id = (enum bench_class)(i % CLASSES);
        if (bench_fit_one(&test, &fit) != STATUS_OK ||
            pot_at_capacity(&pot, &fit.curve, &fit, 0, &figures) != STATUS_OK)
            continue;
        double truth = m.theta_s - true_air(&m, 18, .8);
        in_one += fabs(figures.capacity - truth) < figures.capacity_sd;
        media++;
    }
    double rate = (double)in_one / (double)media;
    printf("capacity, porosity assumed: %.3f of %zu within one SD\n", rate, media);
    assert_true(media > CLASSES * DRAWS * 9 / 10);
    assert_true(rate > 2.0 / 3 - 4 * sqrt(2.0 / 9 / (double)media) && rate < .85);
}

/* Root mean square error of a 12 cm jar, 1.5 points of noise, as another programme found it on an
 * ensemble of its own (straight pots there, tapered here: 5.5 / 7.6 / 12 / 24 / 40 cm). */
static void bench_fit_one_errors_are_those_of_another_ensemble(void **state)
{
    (void)state;
    const struct {
        size_t pot;
        double rms_pct;
    } rows[] = {{0, 2.2}, {1, 1.8}, {3, 1.5}, {6, 2.8}, {8, 4.1}};
    struct tally tally = run(TWO_PORES, ONE_JAR);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        double rms = 100 * sqrt(tally.square[rows[i].pot] / (double)tally.media);
        check_near(rms / rows[i].rms_pct, 1, .25, "error of the air in the pot");
    }
}

/* Taking the jar's air for the pot's is wrong by 10 to 16 points in shallow and deep pots. */
static void bench_fit_one_beats_the_jar_figure_itself(void **state)
{
    (void)state;
    uint64_t seed = 4;
    double naive = 0;
    double fitted = 0;
    for (int i = 0; i < 300; i++) {
        struct bench_fit fit;
        struct medium m = draw(TWO_PORES, i % CLASSES, &seed);
        if (measure(ONE_JAR, &m, i % CLASSES, &seed, &fit) != STATUS_OK)
            continue;
        double truth = true_air(&m, 5.5, 1);
        double mean = bench_mean_saturation(&fit.curve, 5.5, 1, 0);
        naive += pow(fit.air_space - truth, 2);
        fitted += pow((fit.curve.theta_s - fit.curve.theta_r) * (1 - mean) - truth, 2);
    }
    assert_true(fitted * 9 < naive);
}

int main(void)
{
    const struct CMUnitTest cases[] = {
        cmocka_unit_test(bench_air_sd_one_jar_holds_at_the_stated_rate),
        cmocka_unit_test(bench_air_sd_class_unknown_holds_at_the_stated_rate),
        cmocka_unit_test(bench_air_sd_three_replicates_hold_at_the_stated_rate),
        cmocka_unit_test(bench_air_sd_short_jar_holds_at_the_stated_rate),
        cmocka_unit_test(bench_air_sd_tall_jar_holds_at_the_stated_rate),
        cmocka_unit_test(bench_air_sd_two_jars_hold_at_the_stated_rate),
        cmocka_unit_test(bench_air_sd_one_point_holds_at_the_stated_rate),
        cmocka_unit_test(bench_air_sd_three_points_hold_at_the_stated_rate),
        cmocka_unit_test(bench_air_sd_table_holds_at_the_stated_rate),
        cmocka_unit_test(pot_capacity_sd_holds_when_porosity_is_assumed),
        cmocka_unit_test(bench_fit_one_errors_are_those_of_another_ensemble),
        cmocka_unit_test(bench_fit_one_beats_the_jar_figure_itself),
    };
    return cmocka_run_group_tests(cases, NULL, NULL);
}
