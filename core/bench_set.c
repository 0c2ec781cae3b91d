/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "bench_set.h"

#include <math.h>

#include <gsl/gsl_errno.h>
#include <gsl/gsl_matrix.h>
#include <gsl/gsl_multifit_nlinear.h>
#include <gsl/gsl_vector.h>

/* Standard deviation of a point or a vessel whose own is not known. */
#define READING_SD 0.015
/* The prior as residuals: ln alpha three times as wide as the class, ln(n - 1) at least 0.15,
 * theta_r 0.08; with a free m half an e-fold for ln m. */
#define PRIOR_ALPHA_WIDER 3.0
#define PRIOR_N_LEAST     0.15
#define PRIOR_RESIDUAL_SD 0.08
#define PRIOR_M_SD        0.5
#define POROSITY_SD       0.015
#define SUCTION_MAX_CM    1e5
#define SATURATED_TO_CM   1.0  /* a point below this suction is the porosity */
#define TABLE_TO_CM       90.0 /* a table of 0-100 cm reaches at least this */
#define TABLE_LEAST       5
#define ORDER_SIGMAS      4.0
#define FIGURES_HEIGHT_CM 12.0 /* where the trade's bands belong */
#define FIT_STEPS         200
#define MISFIT_MOST       0.10 /* beyond ten points nothing was fitted */

/* --- checks ------------------------------------------------------------------------------ */

static double point_sd(const struct bench_point *point)
{
    return point->theta_sd > 0 ? point->theta_sd : READING_SD;
}

static struct bench_set_refusal refuse(enum bench_set_fault fault, size_t index, double given,
                                       double limit)
{
    return (struct bench_set_refusal){
        .fault = fault, .index = index, .given = given, .limit = limit};
}

static struct bench_set_refusal check_point(const struct bench_set *set, size_t i)
{
    const struct bench_point *p = &set->points[i];
    if (!status_within(p->suction_cm, 0, SUCTION_MAX_CM))
        return refuse(BENCH_SET_FAULT_SUCTION, i, p->suction_cm, SUCTION_MAX_CM);
    if (!(p->theta > 0 && p->theta < 1))
        return refuse(BENCH_SET_FAULT_THETA, i, p->theta, 1);
    if (!status_within(p->theta_sd, 0, 0.5))
        return refuse(BENCH_SET_FAULT_THETA, i, p->theta_sd, 0.5);
    if (set->total_porosity > 0 && p->theta > set->total_porosity + ORDER_SIGMAS * point_sd(p))
        return refuse(BENCH_SET_FAULT_ABOVE_PORES, i, p->theta, set->total_porosity);
    for (size_t k = 0; k < i; k++) {
        const struct bench_point *q = &set->points[k];
        double rise = p->suction_cm > q->suction_cm   ? p->theta - q->theta
                      : p->suction_cm < q->suction_cm ? q->theta - p->theta
                                                      : 0;
        if (rise > ORDER_SIGMAS * hypot(point_sd(p), point_sd(q)))
            return refuse(BENCH_SET_FAULT_THETA_ORDER, i, p->theta, q->theta);
    }
    return refuse(BENCH_SET_FAULT_NONE, 0, 0, 0);
}

/* A test as bench_check and the fit see it: the set's class and porosity stand in. */
static struct bench_test test_at(const struct bench_set *set, size_t i)
{
    struct bench_test test = set->tests[i];
    test.class_id = set->class_id;
    if (set->total_porosity > 0)
        test.total_porosity = set->total_porosity;
    return test;
}

struct bench_set_refusal bench_set_check(const struct bench_set *set)
{
    if (set->test_count > BENCH_SET_TESTS_MAX || set->point_count > BENCH_SET_POINTS_MAX ||
        set->test_count + set->point_count == 0)
        return refuse(BENCH_SET_FAULT_COUNT, 0, (double)(set->test_count + set->point_count),
                      BENCH_SET_POINTS_MAX);
    if ((int)set->class_id < 0 || set->class_id > BENCH_GENERIC)
        return refuse(BENCH_SET_FAULT_CLASS, 0, (double)set->class_id, BENCH_GENERIC);
    if (!(set->total_porosity >= 0 && set->total_porosity < 1))
        return refuse(BENCH_SET_FAULT_POROSITY, 0, set->total_porosity, 1);
    for (size_t i = 0; i < set->test_count; i++) {
        struct bench_test test = test_at(set, i);
        struct bench_refusal bad = bench_check(&test);
        struct bench_set_refusal whole = refuse(BENCH_SET_FAULT_TEST, i, bad.given, bad.limit);
        whole.test = bad;
        if (bad.fault != BENCH_FAULT_NONE)
            return whole;
    }
    for (size_t i = 0; i < set->point_count; i++) {
        struct bench_set_refusal bad = check_point(set, i);
        if (bad.fault != BENCH_SET_FAULT_NONE)
            return bad;
    }
    return refuse(BENCH_SET_FAULT_NONE, 0, 0, 0);
}

/* --- least squares ----------------------------------------------------------------------- */

struct reading {
    bool vessel;      /* air over a vessel, else theta at a suction */
    double height_cm; /* vessel, or suction */
    double taper;
    double value;
    double sd;
};

struct problem {
    struct reading readings[BENCH_SET_TESTS_MAX + BENCH_SET_POINTS_MAX];
    size_t count;
    bool free_m;
    double centre[BENCH_PARAMETERS];
    double spread[BENCH_PARAMETERS];
};

static size_t parameter_count(const struct problem *problem)
{
    return problem->free_m ? BENCH_PARAMETERS : BENCH_PARAMETERS - 1;
}

static double predicted(const struct retention_curve *curve, const struct reading *reading)
{
    if (!reading->vessel)
        return retention_theta(curve, reading->height_cm);
    double mean = bench_mean_saturation(curve, reading->height_cm, reading->taper, 0);
    return (curve->theta_s - curve->theta_r) * (1 - mean);
}

static int residuals(const gsl_vector *at, void *params, gsl_vector *f)
{
    const struct problem *problem = params;
    double parameters[BENCH_PARAMETERS] = {0};
    struct retention_curve curve;
    size_t count = parameter_count(problem);
    for (size_t i = 0; i < count; i++)
        parameters[i] = gsl_vector_get(at, i);
    bench_curve_of(parameters, problem->free_m, &curve);
    for (size_t i = 0; i < problem->count; i++) {
        const struct reading *r = &problem->readings[i];
        gsl_vector_set(f, i, (predicted(&curve, r) - r->value) / r->sd);
    }
    for (size_t i = 0; i < count; i++)
        gsl_vector_set(f, problem->count + i,
                       (parameters[i] - problem->centre[i]) / problem->spread[i]);
    return GSL_SUCCESS;
}

/* Levenberg-Marquardt from the prior's centre; the prior keeps every parameter determined. */
static enum status solve(const struct problem *problem, const double start[], struct bench_fit *fit)
{
    enum status status = STATUS_NO_SPACE;
    size_t p = parameter_count(problem);
    size_t n = problem->count + p;
    struct problem copy = *problem;
    gsl_multifit_nlinear_parameters settings = gsl_multifit_nlinear_default_parameters();
    gsl_multifit_nlinear_fdf f = {.f = residuals, .n = n, .p = p, .params = &copy};
    gsl_vector_const_view at = gsl_vector_const_view_array(start, p);
    gsl_multifit_nlinear_workspace *work =
        gsl_multifit_nlinear_alloc(gsl_multifit_nlinear_trust, &settings, n, p);
    gsl_matrix *covariance = gsl_matrix_calloc(p, p);
    int info = 0;
    if (!work || !covariance)
        goto done;
    status = STATUS_NO_SOLUTION;
    if (gsl_multifit_nlinear_init(&at.vector, &f, work) != GSL_SUCCESS)
        goto done;
    /* Stopping for want of progress or steps still leaves the best point so far; whether that is
     * good enough is judged by the misfit. */
    (void)gsl_multifit_nlinear_driver(FIT_STEPS, 1e-10, 1e-10, 0, NULL, NULL, &info, work);
    if (gsl_multifit_nlinear_covar(gsl_multifit_nlinear_jac(work), 0, covariance) != GSL_SUCCESS)
        goto done;
    for (size_t i = 0; i < p; i++) {
        fit->parameters[i] = gsl_vector_get(gsl_multifit_nlinear_position(work), i);
        for (size_t k = 0; k < p; k++)
            fit->covariance[i][k] = gsl_matrix_get(covariance, i, k);
    }
    status = STATUS_OK;
done:
    gsl_matrix_free(covariance);
    gsl_multifit_nlinear_free(work);
    return status;
}

/* --- setting it up ----------------------------------------------------------------------- */

static bool is_table(const struct bench_set *set)
{
    double lowest = INFINITY;
    double highest = 0;
    size_t different = 0;
    for (size_t i = 0; i < set->point_count; i++) {
        bool seen = false;
        for (size_t k = 0; k < i; k++)
            seen = seen || set->points[k].suction_cm == set->points[i].suction_cm;
        different += seen ? 0 : 1;
        lowest = fmin(lowest, set->points[i].suction_cm);
        highest = fmax(highest, set->points[i].suction_cm);
    }
    return different >= TABLE_LEAST && lowest <= SATURATED_TO_CM && highest >= TABLE_TO_CM;
}

static void add_reading(struct problem *problem, struct reading reading)
{
    problem->readings[problem->count++] = reading;
}

static void set_prior(struct problem *problem, const struct bench_prior *prior, double porosity,
                      double porosity_sd)
{
    double *centre = problem->centre;
    double *spread = problem->spread;
    centre[BENCH_LN_ALPHA] = log(prior->alpha_per_cm);
    spread[BENCH_LN_ALPHA] = PRIOR_ALPHA_WIDER * prior->ln_alpha_sd;
    centre[BENCH_LN_N] = problem->free_m ? log(prior->n) : log(prior->n - 1);
    spread[BENCH_LN_N] = fmax(prior->ln_n1_sd, PRIOR_N_LEAST);
    centre[BENCH_THETA_R] = prior->theta_r;
    spread[BENCH_THETA_R] = PRIOR_RESIDUAL_SD;
    centre[BENCH_THETA_S] = porosity;
    spread[BENCH_THETA_S] = porosity_sd;
    centre[BENCH_LN_M] = log(1 - 1 / prior->n);
    spread[BENCH_LN_M] = PRIOR_M_SD;
}

/* The total porosity to start from and how well it is known: given, from the tests' masses, else
 * the class. A point at saturation is a reading like the others. */
static void find_porosity(const struct bench_set *set, const struct bench_fit tests[],
                          struct bench_fit *fit)
{
    const struct bench_prior *prior = bench_prior_of(set->class_id);
    double sum = 0;
    size_t known = 0;
    for (size_t i = 0; i < set->test_count; i++) {
        if (tests[i].doubts & BENCH_POROSITY_ASSUMED)
            continue;
        sum += tests[i].total_porosity;
        known++;
    }
    fit->total_porosity = prior->theta_s;
    fit->total_porosity_sd = prior->theta_s_sd;
    if (set->total_porosity > 0)
        fit->total_porosity = set->total_porosity;
    else if (known > 0)
        fit->total_porosity = sum / (double)known;
    if (set->total_porosity > 0 || known > 0)
        fit->total_porosity_sd = POROSITY_SD;
    else
        fit->doubts |= BENCH_POROSITY_ASSUMED;
}

static bool has_saturated_point(const struct bench_set *set)
{
    for (size_t i = 0; i < set->point_count; i++)
        if (set->points[i].suction_cm <= SATURATED_TO_CM)
            return true;
    return false;
}

static void set_readings(struct problem *problem, const struct bench_set *set,
                         const struct bench_fit tests[])
{
    for (size_t i = 0; i < set->test_count; i++)
        add_reading(problem,
                    (struct reading){true, tests[i].vessel_height_cm, tests[i].vessel_taper,
                                     tests[i].air_space, bench_noise(&tests[i])});
    for (size_t i = 0; i < set->point_count; i++)
        add_reading(problem, (struct reading){false, set->points[i].suction_cm, 1,
                                              set->points[i].theta, point_sd(&set->points[i])});
}

/* The prior's centre with alpha from the first reading that alone gives one. */
static void set_start(const struct problem *problem, const struct bench_prior *prior,
                      double porosity, double start[])
{
    struct retention_curve curve;
    for (size_t i = 0; i < BENCH_PARAMETERS; i++)
        start[i] = problem->centre[i];
    for (size_t i = 0; i < problem->count; i++) {
        const struct reading *r = &problem->readings[i];
        enum status status =
            r->vessel ? bench_curve_through(porosity, prior->theta_r, prior->n, r->value,
                                            r->height_cm, r->taper, &curve)
                      : bench_curve_through_point(porosity, prior->theta_r, prior->n,
                                                  porosity - r->value, r->height_cm, &curve);
        if (status == STATUS_OK) {
            start[BENCH_LN_ALPHA] = log(curve.alpha_per_cm);
            return;
        }
    }
}

static double misfit_of(const struct problem *problem, const struct retention_curve *curve)
{
    double square = 0;
    for (size_t i = 0; i < problem->count; i++) {
        double off = predicted(curve, &problem->readings[i]) - problem->readings[i].value;
        square += off * off;
    }
    return sqrt(square / (double)problem->count);
}

static void set_span(const struct bench_set *set, const struct bench_fit tests[],
                     struct bench_fit *fit)
{
    /* A point at suction h tells about vessels of about 2 h, whose mean suction that is. */
    fit->height_lowest_cm = INFINITY;
    for (size_t i = 0; i < set->test_count + set->point_count; i++) {
        double seen = i < set->test_count ? tests[i].vessel_height_cm
                                          : 2 * set->points[i - set->test_count].suction_cm;
        if (seen <= 2 * SATURATED_TO_CM)
            continue;
        fit->height_lowest_cm = fmin(fit->height_lowest_cm, seen);
        fit->height_highest_cm = fmax(fit->height_highest_cm, seen);
    }
    if (fit->height_highest_cm == 0)
        fit->height_lowest_cm = fit->height_highest_cm = FIGURES_HEIGHT_CM;
}

/* The vessel the figures belong to: the first test's, else a straight one of 12 cm. */
static void set_figures(const struct bench_set *set, const struct bench_fit tests[],
                        struct bench_fit *fit)
{
    fit->total_porosity = fit->curve.theta_s;
    fit->vessel_height_cm = FIGURES_HEIGHT_CM;
    fit->vessel_taper = 1;
    if (set->test_count > 0) {
        fit->vessel_height_cm = tests[0].vessel_height_cm;
        fit->vessel_taper = tests[0].vessel_taper;
        fit->air_space = tests[0].air_space;
        fit->air_space_sd = tests[0].air_space_sd;
        fit->air_space_se = tests[0].air_space_se;
        fit->replicates = tests[0].replicates;
        fit->bulk_density_g_ml = tests[0].bulk_density_g_ml;
        fit->outlier_index = tests[0].outlier_index;
    } else {
        struct reading vessel = {true, FIGURES_HEIGHT_CM, 1, 0, 0};
        fit->air_space = predicted(&fit->curve, &vessel);
        if (fit->path != BENCH_ONE_POINT)
            fit->air_space_se = bench_air_sd(fit, FIGURES_HEIGHT_CM, 1, 0);
        fit->air_space_sd = fit->air_space_se;
    }
    fit->container_capacity = fit->total_porosity - fit->air_space;
}

static enum status fit_several(const struct bench_set *set, const struct bench_fit tests[],
                               struct bench_fit *fit)
{
    const struct bench_prior *prior = bench_prior_of(set->class_id);
    struct problem problem = {.free_m = is_table(set)};
    double start[BENCH_PARAMETERS];
    fit->path = problem.free_m ? BENCH_TABLE : BENCH_SEVERAL;
    set_readings(&problem, set, tests);
    set_prior(&problem, prior, fit->total_porosity, fit->total_porosity_sd);
    set_start(&problem, prior, fit->total_porosity, start);
    enum status status = solve(&problem, start, fit);
    if (status != STATUS_OK)
        return status;
    bench_curve_of(fit->parameters, problem.free_m, &fit->curve);
    fit->misfit = misfit_of(&problem, &fit->curve);
    if (retention_check(&fit->curve) != STATUS_OK || !(fit->misfit <= MISFIT_MOST))
        return STATUS_NO_SOLUTION;
    fit->total_porosity_sd = sqrt(fmax(0, fit->covariance[BENCH_THETA_S][BENCH_THETA_S]));
    return STATUS_OK;
}

/* The point's noise as it reaches the air of the 12 cm vessel: by a difference of half a point. */
static double point_noise(const struct bench_set *set, const struct retention_curve *curve)
{
    const struct bench_point *point = &set->points[0];
    struct reading vessel = {true, FIGURES_HEIGHT_CM, 1, 0, 0};
    struct retention_curve up;
    double air = curve->theta_s - point->theta;
    double step = fmin(0.005, 0.5 * air);
    if (bench_curve_through_point(curve->theta_s, curve->theta_r, curve->n, air - step,
                                  point->suction_cm, &up) != STATUS_OK)
        return point_sd(point);
    double slope = (predicted(curve, &vessel) - predicted(&up, &vessel)) / step;
    return fmin(slope * point_sd(point), BENCH_SD_MOST);
}

static enum status fit_point(const struct bench_set *set, struct bench_fit *fit)
{
    const struct bench_prior *prior = bench_prior_of(set->class_id);
    double air = fit->total_porosity - set->points[0].theta;
    double theta_r = fmax(0, fmin(prior->theta_r, set->points[0].theta - BENCH_HELD_LEAST));
    fit->path = BENCH_ONE_POINT;
    if (theta_r < prior->theta_r)
        fit->doubts |= BENCH_RESIDUAL_LOWERED;
    if (!(air > 0))
        return STATUS_IMPOSSIBLE;
    enum status status = bench_curve_through_point(fit->total_porosity, theta_r, prior->n, air,
                                                   set->points[0].suction_cm, &fit->curve);
    if (status == STATUS_OK)
        fit->air_space_se = point_noise(set, &fit->curve);
    return status;
}

static enum status fit_tests(const struct bench_set *set, struct bench_fit tests[],
                             struct bench_fit *fit)
{
    for (size_t i = 0; i < set->test_count; i++) {
        struct bench_test test = test_at(set, i);
        enum status status = bench_fit_one(&test, &tests[i]);
        if (status != STATUS_OK)
            return status;
        fit->doubts |=
            tests[i].doubts & ~(unsigned)(BENCH_POROSITY_ASSUMED | BENCH_RESIDUAL_LOWERED);
    }
    return STATUS_OK;
}

static enum status status_of(const struct bench_set_refusal *bad)
{
    switch (bad->fault) {
    case BENCH_SET_FAULT_NONE:
        return STATUS_OK;
    case BENCH_SET_FAULT_TEST:
        return bench_status_of(bad->test.fault);
    case BENCH_SET_FAULT_THETA_ORDER:
    case BENCH_SET_FAULT_ABOVE_PORES:
        return STATUS_IMPOSSIBLE;
    case BENCH_SET_FAULT_NO_CURVE:
        return STATUS_NO_SOLUTION;
    case BENCH_SET_FAULT_COUNT:
    case BENCH_SET_FAULT_SUCTION:
    case BENCH_SET_FAULT_THETA:
    case BENCH_SET_FAULT_POROSITY:
    case BENCH_SET_FAULT_CLASS:
        return STATUS_RANGE;
    }
    return STATUS_RANGE;
}

enum status bench_set_fit(const struct bench_set *set, struct bench_fit *out)
{
    struct bench_set_refusal bad = bench_set_check(set);
    struct bench_fit tests[BENCH_SET_TESTS_MAX];
    struct bench_fit fit = {.class_id = set->class_id};
    if (bad.fault != BENCH_SET_FAULT_NONE)
        return status_of(&bad);
    enum status status = fit_tests(set, tests, &fit);
    if (status != STATUS_OK)
        return status;
    if (set->test_count == 1 && set->point_count == 0) {
        *out = tests[0];
        return STATUS_OK;
    }
    find_porosity(set, tests, &fit);
    set_span(set, tests, &fit);
    bool point_alone = set->test_count == 0 && set->point_count == 1;
    status = point_alone ? fit_point(set, &fit) : fit_several(set, tests, &fit);
    if (status != STATUS_OK)
        return status;
    if (has_saturated_point(set))
        fit.doubts &= ~(unsigned)BENCH_POROSITY_ASSUMED;
    set_figures(set, tests, &fit);
    *out = fit;
    return STATUS_OK;
}
