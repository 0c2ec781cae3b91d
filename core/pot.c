/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "pot.h"

#include <math.h>

#include <gsl/gsl_errno.h>
#include <gsl/gsl_roots.h>

/* Ends of the easily available and the buffer water, cm of suction (De Boodt & Verdonck 1972). */
#define EASY_FROM_CM 10.0
#define EASY_TO_CM   50.0
#define BUFFER_TO_CM 100.0
/* Lower end of available water in bark: uptake falls from 0.28 / 0.20 and stops at 0.16 / 0.12
 * (O'Meara et al. 2014); 0.20 is our choice. */
#define BARK_LOW 0.20
/* Air below these shares marks the saturated and the wet layer. */
#define SATURATED_AIR 0.01
#define WET_AIR       0.10
#define FILL_MIN_CM   1.0
#define FILL_MAX_CM   100.0

static const double quarter_pi = 0.78539816339744830962;

/* Width at the fill line: with a rim height the wall is straight between bottom and rim. */
static double fill_width_cm(const struct pot_shape *shape)
{
    if (shape->height_cm > 0)
        return shape->bottom_cm +
               (shape->top_cm - shape->bottom_cm) * shape->fill_height_cm / shape->height_cm;
    return shape->top_cm;
}

static enum status check_shape(const struct pot_shape *shape)
{
    bool form = shape->form == POT_ROUND || shape->form == POT_SQUARE;
    bool widths = status_within(shape->top_cm, BENCH_WIDTH_MIN_CM, BENCH_WIDTH_MAX_CM) &&
                  status_within(shape->bottom_cm, BENCH_WIDTH_MIN_CM, BENCH_WIDTH_MAX_CM);
    bool fill = shape->fill_height_cm >= FILL_MIN_CM && shape->fill_height_cm <= FILL_MAX_CM;
    bool rim = shape->height_cm == 0 ||
               (shape->height_cm >= shape->fill_height_cm && shape->height_cm <= 1000);
    bool volume = shape->volume_l >= 0 && shape->volume_l <= 1e4;
    bool base = shape->base_cm >= -FILL_MAX_CM && shape->base_cm <= 300;
    if (!(form && widths && fill && rim && volume && base))
        return STATUS_RANGE;
    if (!shape->inverse_taper && shape->bottom_cm > POT_TAPER_MOST * shape->top_cm)
        return STATUS_IMPOSSIBLE;
    return STATUS_OK;
}

/* Cone and frustum share the rule V = H (A1 + A2 + sqrt(A1 A2)) / 3. */
static double widths_volume_l(const struct pot_shape *shape)
{
    double a = fill_width_cm(shape);
    double b = shape->bottom_cm;
    double square_ml = shape->fill_height_cm * (a * a + a * b + b * b) / 3;
    return (shape->form == POT_ROUND ? quarter_pi : 1) * square_ml / 1000;
}

static double top_area_m2(const struct pot_shape *shape)
{
    double width = fill_width_cm(shape);
    return (shape->form == POT_ROUND ? quarter_pi : 1) * width * width / 1e4;
}

/* Height from the base up to which the air is below `air`: suction at that air, less the base's. */
static double layer_cm(const struct retention_curve *curve, const struct pot_shape *shape,
                       double air)
{
    double saturation = 1 - air / (curve->theta_s - curve->theta_r);
    double up = retention_suction_cm(curve, saturation) - shape->base_cm;
    return fmax(0, fmin(up, shape->fill_height_cm));
}

static double default_low(const struct retention_curve *curve, const struct bench_fit *fit)
{
    if (fit && bench_prior_of(fit->class_id)->bark)
        return BARK_LOW;
    return retention_theta(curve, BUFFER_TO_CM);
}

static double pot_air(const struct pot_shape *shape, const struct retention_curve *curve)
{
    double taper = shape->bottom_cm / fill_width_cm(shape);
    double mean = bench_mean_saturation(curve, shape->fill_height_cm, taper, shape->base_cm);
    return (curve->theta_s - curve->theta_r) * (1 - mean);
}

enum status pot_at_capacity(const struct pot_shape *shape, const struct retention_curve *curve,
                            const struct bench_fit *fit, double theta_low, struct pot_figures *out)
{
    enum status status = check_shape(shape);
    if (status == STATUS_OK)
        status = retention_check(curve);
    if (status != STATUS_OK)
        return status;
    if (!(theta_low <= curve->theta_s))
        return STATUS_RANGE;
    struct pot_figures f = {0};
    double drawn_l = widths_volume_l(shape);
    f.volume_l = shape->volume_l > 0 ? shape->volume_l : drawn_l;
    f.top_area_m2 = top_area_m2(shape) * f.volume_l / drawn_l;
    f.total_porosity = curve->theta_s;
    f.air_space = pot_air(shape, curve);
    if (!(f.air_space >= 0))
        return STATUS_NO_SPACE; /* the integral had no memory for its table */
    f.capacity = curve->theta_s - f.air_space;
    if (fit) {
        f.air_space_sd = bench_air_sd(fit, shape->fill_height_cm,
                                      shape->bottom_cm / fill_width_cm(shape), shape->base_cm);
        f.capacity_sd = hypot(f.air_space_sd, fit->total_porosity_sd);
    }
    f.water_l = f.capacity * f.volume_l;
    f.theta_low = theta_low > 0 ? theta_low : default_low(curve, fit);
    f.available_l = fmax(0, f.water_l - f.volume_l * f.theta_low);
    double easy_to = retention_theta(curve, EASY_TO_CM);
    f.easily_available_l = f.volume_l * (retention_theta(curve, EASY_FROM_CM) - easy_to);
    f.buffer_l = f.volume_l * (easy_to - retention_theta(curve, BUFFER_TO_CM));
    f.saturated_layer_cm = layer_cm(curve, shape, SATURATED_AIR);
    f.wet_layer_cm = layer_cm(curve, shape, WET_AIR);
    *out = f;
    return STATUS_OK;
}

enum status pot_profile(const struct pot_shape *shape, const struct retention_curve *curve,
                        size_t count, double height_cm[], double theta[])
{
    enum status status = check_shape(shape);
    if (status == STATUS_OK)
        status = retention_check(curve);
    if (status != STATUS_OK)
        return status;
    if (count < 2)
        return STATUS_NO_SPACE;
    for (size_t i = 0; i < count; i++) {
        height_cm[i] = shape->fill_height_cm * (double)i / (double)(count - 1);
        theta[i] = retention_theta(curve, shape->base_cm + height_cm[i]);
    }
    return STATUS_OK;
}

struct fill_search {
    struct pot_shape shape;
    const struct retention_curve *curve;
    double slope;
    double target_air;
};

/* Air above the target in the same pot filled to height_cm, walls continued. */
static double fill_excess(double height_cm, void *params)
{
    const struct fill_search *search = params;
    struct pot_shape shape = search->shape;
    shape.fill_height_cm = height_cm;
    shape.top_cm = shape.bottom_cm + search->slope * height_cm;
    shape.height_cm = 0;
    return pot_air(&shape, search->curve) - search->target_air;
}

/* A pot that narrows upwards ends where its walls meet. */
static double highest_fill_cm(const struct fill_search *search)
{
    if (search->slope >= 0)
        return FILL_MAX_CM;
    return fmin(FILL_MAX_CM, 0.999 * search->shape.bottom_cm / -search->slope);
}

/* Brent between two fills whose air is below and above the target. */
static enum status solve_fill(struct fill_search *search, double low, double high, double *root)
{
    gsl_function f = {fill_excess, search};
    gsl_root_fsolver *solver = gsl_root_fsolver_alloc(gsl_root_fsolver_brent);
    if (!solver)
        return STATUS_NO_SPACE;
    int code = gsl_root_fsolver_set(solver, &f, low, high);
    for (int i = 0; i < 200 && code == GSL_SUCCESS; i++) {
        code = gsl_root_fsolver_iterate(solver);
        if (gsl_root_test_interval(gsl_root_fsolver_x_lower(solver),
                                   gsl_root_fsolver_x_upper(solver), 1e-9, 0) == GSL_SUCCESS)
            break;
    }
    *root = gsl_root_fsolver_root(solver);
    gsl_root_fsolver_free(solver);
    return code == GSL_SUCCESS ? STATUS_OK : STATUS_NO_SOLUTION;
}

enum status pot_least_fill_cm(const struct pot_shape *shape, const struct retention_curve *curve,
                              double target_air, double *fill_height_cm)
{
    enum status status = check_shape(shape);
    if (status == STATUS_OK)
        status = retention_check(curve);
    if (status != STATUS_OK)
        return status;
    if (!(target_air > 0 && target_air < 1))
        return STATUS_RANGE;
    double rise = shape->height_cm > 0 ? shape->height_cm : shape->fill_height_cm;
    struct fill_search search = {*shape, curve, (shape->top_cm - shape->bottom_cm) / rise,
                                 target_air};
    double high = highest_fill_cm(&search);
    double root = FILL_MIN_CM;
    if (high < FILL_MIN_CM || fill_excess(high, &search) < 0)
        return STATUS_NO_SOLUTION;
    if (fill_excess(FILL_MIN_CM, &search) < 0)
        status = solve_fill(&search, FILL_MIN_CM, high, &root);
    if (status != STATUS_OK)
        return status;
    *fill_height_cm = root;
    return STATUS_OK;
}

enum status pot_rooted_share(double plug_share, double days, enum pot_growth growth, double *share)
{
    double through_days = growth == POT_SOFT ? 42 : 70;
    if (!status_within(plug_share, 0, 1) || !(days >= 0))
        return STATUS_RANGE;
    *share = plug_share + (1 - plug_share) * fmin(1, days / through_days);
    return STATUS_OK;
}

enum status pot_air_with_roots(double air_space, double loss_a_day, double days, double *air_left)
{
    if (!status_within(air_space, 0, 1) || !status_within(loss_a_day, 0, 0.01) ||
        !status_within(days, 0, 3650))
        return STATUS_RANGE;
    *air_left = fmax(0, air_space - loss_a_day * days);
    return STATUS_OK;
}
