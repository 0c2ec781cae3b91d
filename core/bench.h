/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From a bench test (a vessel filled, saturated, drained) to the mix's porosities and its fitted
 * retention curve. A vessel drains to equilibrium over its own height: suction is 0 at the holes
 * and rises 1 cm per cm (Passioura 2006; Milks, Fonteno & Larson 1989).
 */
#ifndef PERCHD_CORE_BENCH_H
#define PERCHD_CORE_BENCH_H

#include <stdbool.h>
#include <stddef.h>

#include "retention.h"
#include "status.h"

enum bench_class {
    BENCH_PEAT,
    BENCH_PEAT_PERLITE,
    BENCH_COIR,
    BENCH_WOOD_FIBRE,
    BENCH_BARK_PEAT_SAND,
    BENCH_BARK_AGED,
    BENCH_BARK_FRESH,
    BENCH_GENERIC,
};

/* Prior of a mix class: centre and spread of the curve's parameters. */
struct bench_prior {
    enum bench_class class_id;
    const char *name; /* "peat", "peat-perlite", ...: as in CSV, JSON and reckon */
    double theta_s, theta_s_sd;
    double theta_r;
    double n;
    double alpha_per_cm;
    double ln_alpha_sd;
    double ln_n1_sd; /* of ln(n - 1) */
    bool bark;       /* plants still draw at 0.20: see pot.h */
};

const struct bench_prior *bench_prior_of(enum bench_class class_id);
/* NULL when no class has that name. */
const struct bench_prior *bench_prior_named(const char *name);

#define BENCH_REPLICATES_MAX 64

struct bench_test {
    double vessel_height_cm; /* depth of mix above the holes, > 0, <= 300 */
    double vessel_volume_ml; /* > 0, <= 1e6 */
    double vessel_top_cm;    /* inside widths; 0, 0 when straight or not known */
    double vessel_bottom_cm;
    double settled_volume_ml; /* 0, 0 when not given; replace volume and height */
    double settled_height_cm;
    double drained_ml[BENCH_REPLICATES_MAX];
    size_t replicates;       /* >= 1 */
    double mass_saturated_g; /* 0 when not weighed; net of the vessel, 1 g = 1 mL */
    double mass_drained_g;
    double mass_dry_g;
    double total_porosity; /* fraction, 0 when not known */
    enum bench_class class_id;
};

enum bench_path {
    BENCH_ONE_VESSEL, /* alpha by a bracketed root, the rest from the class */
    BENCH_SEVERAL,    /* weighted least squares with the class prior as residuals */
};

/* Doubts about a usable test, as bits. */
enum bench_doubt {
    BENCH_ONE_REPLICATE = 1 << 0,    /* default SD 1.5 points used */
    BENCH_POROSITY_ASSUMED = 1 << 1, /* theta_s is the class value */
    BENCH_RESIDUAL_LOWERED = 1 << 2, /* theta_r cut so that the drained water fits */
    BENCH_REPLICATES_DIFFER = 1 << 3,
    BENCH_SETTLED = 1 << 4,       /* settling over 10 % */
    BENCH_POROSITY_HIGH = 1 << 5, /* above 1 - rho_b / 1.55 */
};

struct bench_fit {
    struct retention_curve curve;
    enum bench_class class_id;
    enum bench_path path;
    double total_porosity;     /* fraction */
    double air_space;          /* fraction of the vessel, mean of the replicates */
    double air_space_se;       /* standard error of that mean, fraction */
    double container_capacity; /* fraction, total porosity - air */
    double vessel_height_cm;   /* the height the figures belong to (settled when given) */
    double vessel_taper;       /* bottom width / top width, 1 when straight */
    unsigned doubts;           /* enum bench_doubt */
};

/* STATUS_RANGE: an input outside the ranges above. STATUS_IMPOSSIBLE: nothing drained, drained
 * above the volume, air above porosity, porosity >= 1, masses in the wrong order. */
MUST_USE enum status bench_fit_one(const struct bench_test *test, struct bench_fit *out);

/* Mean saturation (theta - theta_r)/(theta_s - theta_r) over a vessel of height_cm whose width
 * grows linearly from taper (bottom/top, > 0) to 1; base at suction base_cm >= 0. 64-point
 * Gauss-Legendre. 0..1. */
double bench_mean_saturation(const struct retention_curve *curve, double height_cm, double taper,
                             double base_cm);

#endif
