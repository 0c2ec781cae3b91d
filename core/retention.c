/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "retention.h"

#include <math.h>

/* Widest parameters taken: far outside any mix, inside what pow() keeps finite. */
#define ALPHA_MAX_PER_CM 1e4
#define EXPONENT_MAX     50.0

enum status retention_check(const struct retention_curve *curve)
{
    bool water = curve->theta_r >= 0 && curve->theta_r < curve->theta_s && curve->theta_s <= 1;
    bool alpha = curve->alpha_per_cm > 0 && curve->alpha_per_cm <= ALPHA_MAX_PER_CM;
    bool n = curve->n > 0 && curve->n <= EXPONENT_MAX;
    bool m = curve->m > 0 && curve->m <= EXPONENT_MAX;
    return water && alpha && n && m ? STATUS_OK : STATUS_RANGE;
}

enum status retention_make(double theta_s, double theta_r, double alpha_per_cm, double n,
                           struct retention_curve *out)
{
    struct retention_curve curve = {theta_s, theta_r, alpha_per_cm, n, 0};
    if (!(n > 1 && n <= EXPONENT_MAX))
        return STATUS_RANGE;
    curve.m = 1 - 1 / n;
    if (retention_check(&curve) != STATUS_OK)
        return STATUS_RANGE;
    *out = curve;
    return STATUS_OK;
}

double retention_saturation(const struct retention_curve *curve, double suction_cm)
{
    if (!(suction_cm > 0))
        return isnan(suction_cm) ? 0 : 1;
    return exp(-curve->m * log1p(pow(curve->alpha_per_cm * suction_cm, curve->n)));
}

double retention_theta(const struct retention_curve *curve, double suction_cm)
{
    return curve->theta_r +
           (curve->theta_s - curve->theta_r) * retention_saturation(curve, suction_cm);
}

double retention_suction_cm(const struct retention_curve *curve, double saturation)
{
    if (!(saturation < 1))
        return 0;
    if (!(saturation > 0))
        return INFINITY;
    /* expm1 keeps the small suctions just below saturation. */
    double scaled = expm1(-log(saturation) / curve->m);
    return pow(scaled, 1 / curve->n) / curve->alpha_per_cm;
}
