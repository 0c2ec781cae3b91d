/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Water held by a mix at a suction: van Genuchten 1980,
 * theta = theta_r + (theta_s - theta_r) (1 + (alpha h)^n)^-m, h in cm of water, positive.
 */
#ifndef PERCHD_CORE_RETENTION_H
#define PERCHD_CORE_RETENTION_H

#include <stdbool.h>
#include <stddef.h>

#include "status.h"

struct retention_curve {
    double theta_s;      /* volume fraction at saturation, theta_r < theta_s <= 1 */
    double theta_r;      /* residual fraction, 0 <= theta_r */
    double alpha_per_cm; /* > 0, <= 1e4 */
    double n;            /* > 1 (or > 0 with a free m), <= 50 */
    double m;            /* > 0, <= 50; 1 - 1/n unless fitted free */
};

/* Fills m = 1 - 1/n and checks. */
MUST_USE enum status retention_make(double theta_s, double theta_r, double alpha_per_cm, double n,
                                    struct retention_curve *out);
MUST_USE enum status retention_check(const struct retention_curve *curve);

/* The curve must have passed retention_check; suction_cm < 0 counts as 0, NaN gives theta_r. */
double retention_theta(const struct retention_curve *curve, double suction_cm);

/* Effective saturation (theta - theta_r)/(theta_s - theta_r) at a suction: 1 for suction <= 0, 0
 * for NaN. The curve must have passed retention_check. */
double retention_saturation(const struct retention_curve *curve, double suction_cm);

/* The inverse in closed form, h = ((S^(-1/m) - 1)^(1/n))/alpha: 0 for saturation >= 1 or NaN,
 * infinity for saturation <= 0. */
double retention_suction_cm(const struct retention_curve *curve, double saturation);

#endif
