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
    const char *name; /* "peat", "peat-perlite", ...: as in CSV, JSON and reckon */
    double theta_s, theta_s_sd;
    double theta_r;
    double n;
    double alpha_per_cm;
    double ln_alpha_sd;
    double ln_n1_sd; /* of ln(n - 1) */
    enum bench_class class_id;
    bool bark; /* plants still draw at 0.20: see pot.h */
    bool peat; /* mostly peat: repels water once it was dry */
};

const struct bench_prior *bench_prior_of(enum bench_class class_id);
/* NULL when no class has that name. */
const struct bench_prior *bench_prior_named(const char *name);

#define BENCH_REPLICATES_MAX 64
/* Inside widths of vessels and pots; a hair and a basin. */
#define BENCH_WIDTH_MIN_CM 0.01
#define BENCH_WIDTH_MAX_CM 1000.0
/* A bottom wider than the top by more than this ratio must be said to be meant. */
#define BENCH_TAPER_MOST 1.05

struct bench_test {
    double vessel_height_cm; /* depth of mix above the holes, > 0, <= 300 */
    double vessel_volume_ml; /* > 0, <= 1e6 */
    double vessel_top_cm;    /* inside widths, 0.01..1000; 0, 0 when straight or not known */
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
    bool inverse_taper;           /* a bottom over 5 % wider than the rim is meant */
    double drain_time_min;        /* 0 when not known */
    double particle_density_g_ml; /* 0: 1.55 (organic), 2.65 in classes that may hold sand */
};

/* Why a test cannot be used; the words live with who speaks to the grower. */
enum bench_fault {
    BENCH_FAULT_NONE,
    BENCH_FAULT_HEIGHT,               /* vessel height outside its range */
    BENCH_FAULT_VOLUME,               /* vessel volume outside its range */
    BENCH_FAULT_WIDTH,                /* one width without the other, or outside 0.01..1000 cm */
    BENCH_FAULT_INVERSE_TAPER,        /* bottom over 5 % wider than the top, not said to be so */
    BENCH_FAULT_SETTLED_PAIR,         /* settled volume and height come together */
    BENCH_FAULT_SETTLED_LARGER,       /* settled mix above the vessel's own volume or height */
    BENCH_FAULT_REPLICATES,           /* none, or more than BENCH_REPLICATES_MAX */
    BENCH_FAULT_DRAINED,              /* not a number, or negative */
    BENCH_FAULT_NOTHING_DRAINED,      /* zero */
    BENCH_FAULT_DRAINED_ABOVE_VOLUME, /* index says which replicate */
    BENCH_FAULT_SCATTER,              /* largest above twice the smallest: decimal comma? */
    BENCH_FAULT_MASS,                 /* negative, not a number, or no pair with the dry mass */
    BENCH_FAULT_MASS_ORDER,           /* not dry < drained <= saturated */
    BENCH_FAULT_POROSITY,             /* total porosity not in 0..1, or 1 and more by mass */
    BENCH_FAULT_AIR_ABOVE_POROSITY,   /* drained water leaves under 5 % of pores to hold any */
    BENCH_FAULT_CLASS,
    BENCH_FAULT_OTHER,    /* drain time or particle density out of range */
    BENCH_FAULT_NO_CURVE, /* no curve of this class releases that much from that vessel */
};

struct bench_refusal {
    enum bench_fault fault;
    size_t index; /* replicate, where it matters */
    double given;
    double limit;
};

enum bench_path {
    BENCH_ONE_VESSEL, /* alpha by a bracketed root, the rest from the class */
    BENCH_SEVERAL,    /* weighted least squares with the class prior as residuals */
    BENCH_ONE_POINT,  /* alpha in closed form through one retention point, the rest by class */
    BENCH_TABLE,      /* as BENCH_SEVERAL with a free m: a table of points from 0 to 100 cm */
};

/* What the least-squares paths fit: ln alpha, ln(n - 1) (ln n with a free m), theta_r, theta_s,
 * ln m (with a free m only). */
enum {
    BENCH_LN_ALPHA,
    BENCH_LN_N,
    BENCH_THETA_R,
    BENCH_THETA_S,
    BENCH_LN_M,
    BENCH_PARAMETERS,
};

/* Doubts about a usable test, as bits. */
enum bench_doubt {
    BENCH_ONE_REPLICATE = 1 << 0,    /* default SD 1.5 points used */
    BENCH_POROSITY_ASSUMED = 1 << 1, /* theta_s is the class value */
    BENCH_RESIDUAL_LOWERED = 1 << 2, /* theta_r cut so that the drained water fits */
    BENCH_REPLICATES_DIFFER = 1 << 3,
    BENCH_SETTLED = 1 << 4,          /* settling over 10 % */
    BENCH_POROSITY_HIGH = 1 << 5,    /* above 1 - rho_b / rho_p: swollen, or volume too small */
    BENCH_OUTLIER = 1 << 6,          /* one replicate stands apart: outlier_index */
    BENCH_DRAINED_SHORT = 1 << 7,    /* drained less than an hour: air is 1-3 points low */
    BENCH_AIR_TRAPPED = 1 << 8,      /* porosity far below the usual one of that bulk density */
    BENCH_MASSES_DISAGREE = 1 << 9,  /* saturated - drained mass is not the drained volume */
    BENCH_WIDTHS_DISAGREE = 1 << 10, /* volume far from what height and widths enclose */
};

struct bench_fit {
    struct retention_curve curve;
    enum bench_class class_id;
    enum bench_path path;
    double total_porosity;     /* fraction */
    double air_space;          /* fraction of the vessel, mean of the replicates */
    double air_space_se;       /* standard error of that mean, fraction */
    double air_space_sd;       /* that of a replicate, fraction; 0.015 when there is one */
    size_t replicates;         /* 0 when the figures are not measured but read off the curve */
    double total_porosity_sd;  /* fraction */
    double container_capacity; /* fraction, total porosity - air */
    double vessel_height_cm;   /* the height the figures belong to (settled when given) */
    double vessel_taper;       /* bottom width / top width, 1 when straight */
    unsigned doubts;           /* enum bench_doubt */
    size_t outlier_index;      /* replicate, with BENCH_OUTLIER */
    double bulk_density_g_ml;  /* 0 without a dry mass */
    /* Of the least-squares paths; zero otherwise. */
    double parameters[BENCH_PARAMETERS];
    double covariance[BENCH_PARAMETERS][BENCH_PARAMETERS];
    double misfit;           /* root mean square of (fitted - measured), fraction */
    double height_lowest_cm; /* span of vessel heights that the mix was seen at */
    double height_highest_cm;
};

/* Pores that must stay filled above theta_r when a vessel has drained, else theta_r gives way. */
#define BENCH_HELD_LEAST 0.05

/* What is wrong with a test before it is fitted; fault BENCH_FAULT_NONE when nothing is. */
struct bench_refusal bench_check(const struct bench_test *test);
enum status bench_status_of(enum bench_fault fault);

/* STATUS_RANGE: an input outside the ranges above. STATUS_IMPOSSIBLE: nothing drained, drained
 * above the volume, air above porosity, porosity >= 1, masses in the wrong order, replicates
 * that differ by more than a factor of two. STATUS_NO_SOLUTION: BENCH_FAULT_NO_CURVE. */
MUST_USE enum status bench_fit_one(const struct bench_test *test, struct bench_fit *out);

/* The curve with these theta_s, theta_r and n (m = 1 - 1/n) whose mean air space over one drained
 * vessel is `air` (fractions); the root in alpha is unique. height_cm (0, 300], taper (0, 1e5].
 * STATUS_IMPOSSIBLE unless 0 < air < theta_s - theta_r; STATUS_NO_SOLUTION when alpha would leave
 * 1e-6..1e4 per cm. */
MUST_USE enum status bench_curve_through(double theta_s, double theta_r, double n, double air,
                                         double height_cm, double taper,
                                         struct retention_curve *curve);

/* The same through one point of the curve: pores of `air` are empty at suction_cm (EN 13041: 10
 * cm), alpha = (S^(-1/m) - 1)^(1/n) / h with S = 1 - air/(theta_s - theta_r). */
MUST_USE enum status bench_curve_through_point(double theta_s, double theta_r, double n, double air,
                                               double suction_cm, struct retention_curve *curve);

/* The curve of least-squares parameters, each brought inside its bounds. */
void bench_curve_of(const double parameters[BENCH_PARAMETERS], bool free_m,
                    struct retention_curve *curve);

/* Particle density, g/mL, of a mix with that organic share of its dry mass: 1/rho = organic/1.55 +
 * ash/2.65 (EN 13041, from memory). NaN unless 0 <= organic <= 1. */
double bench_particle_density_g_ml(double organic);

/* Pore space that 238 substrates of that dry bulk density had in the mean, fraction: 0.9672 - 0.38
 * x (g/mL) (Acta Hort. 294, paper 2, 1991). Not for closed pores such as polystyrene. */
double bench_usual_porosity(double bulk_density_g_ml);

/* The standard error that is passed on, fraction. Two or three readings that happen to agree do
 * not make a mean sure: their spread is pooled with the usual 1.5 points, which count as four
 * readings more, and never falls below half a point. */
double bench_noise(const struct bench_fit *fit);

/* A share of the volume cannot be less sure than this. */
#define BENCH_SD_MOST 0.5

/* Standard deviation (fraction) of the air space that the fit predicts for a pot of that depth,
 * taper and base suction: bench noise times the sensitivity of the pot's air to the vessel's,
 * plus a shape error that grows with ln(depth / vessel height). Fitted to a synthetic ensemble of
 * two-pore mixes, 2.5-40 cm: a floor, not a bound. */
double bench_air_sd(const struct bench_fit *fit, double height_cm, double taper, double base_cm);

/* Mean saturation (theta - theta_r)/(theta_s - theta_r) over a vessel of height_cm whose width
 * grows linearly from taper (bottom/top, > 0) to 1; base at suction base_cm, negative when the
 * base stands -base_cm deep in water (a saucer). 64-point Gauss-Legendre above the water. 0..1. */
double bench_mean_saturation(const struct retention_curve *curve, double height_cm, double taper,
                             double base_cm);

#endif
