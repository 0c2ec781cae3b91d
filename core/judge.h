/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Is this mix fit for propagation or for growing on, by itself and in a given pot? Codes with
 * parameters; the words live with whoever speaks to the grower. A band belongs to the method it
 * was printed for (a 12 cm vessel, a 7.6 cm core, a point at 10 cm): the mix is carried to that
 * height before it is judged, and the air in the pot is judged apart.
 */
#ifndef PERCHD_CORE_JUDGE_H
#define PERCHD_CORE_JUDGE_H

#include <stddef.h>

#include "bench.h"
#include "pot.h"
#include "status.h"

enum judge_use {
    JUDGE_PROPAGATION,
    JUDGE_GROWING_ON,
};

enum judge_code {
    /* The verdict, one for each call, first in the list: value in band from..to. */
    JUDGE_TOO_WET, /* roots lack air, root rot follows */
    JUDGE_RATHER_WET,
    JUDGE_FIT,
    JUDGE_RATHER_DRY, /* suits, but needs watering more often */
    JUDGE_TOO_DRY,    /* hard to keep watered */
    /* What may come with it. */
    JUDGE_ROOT_ROT,          /* air in the pot under `to` (10 %) at container capacity */
    JUDGE_ROOT_ROT_POSSIBLE, /* not the best estimate, but a chance of over one in four */
    JUDGE_NEAR_ANOXIC,       /* under 5 %: the base of the pot is as good as without air */
    JUDGE_WATER_OFTEN,       /* air in the pot over `from` (30 %) */
    JUDGE_VESSEL_FAR,        /* value: pot depth / vessel height, beyond a factor of two */
    JUDGE_BEYOND_RANGE,      /* value: pot depth in cm, outside the 2.5-40 cm that SDs hold for */
};

struct judge_finding {
    enum judge_code code;
    double value;     /* air as a fraction, unless the code says otherwise */
    double value_sd;  /* 0 when not known */
    double from, to;  /* the band or limit, same unit; to may be infinite */
    double height_cm; /* the vessel or pot the value belongs to */
    double chance;    /* that the true value lies in from..to, normal errors; 0 without an SD */
};

#define JUDGE_FINDINGS_MAX 8

/* The mix by the air it would show in a straight 12 cm vessel. */
MUST_USE enum status judge_mix(const struct bench_fit *fit, enum judge_use use,
                               struct judge_finding *out);

/* The mix in a pot. fit may be NULL when only the curve is known. */
MUST_USE enum status judge_pot(const struct pot_shape *shape, const struct pot_figures *figures,
                               const struct bench_fit *fit, enum judge_use use,
                               struct judge_finding out[JUDGE_FINDINGS_MAX], size_t *count);

/* --- published bands --------------------------------------------------------------------- */

enum judge_quantity {
    JUDGE_TOTAL_POROSITY,
    JUDGE_AIR,
    JUDGE_CAPACITY,
    JUDGE_EASY_WATER, /* theta(10) - theta(50) */
    JUDGE_RESERVE,    /* theta(50) - theta(100) */
};

struct judge_band {
    const char *name; /* "guide_air", stable: a key for words */
    enum judge_quantity quantity;
    double vessel_cm;  /* straight vessel the band belongs to; 0: a point of the curve */
    double suction_cm; /* the point, when vessel_cm is 0 */
    double from, to;
};

#define JUDGE_BANDS 9
extern const struct judge_band judge_bands[JUDGE_BANDS];

struct judge_band_finding {
    const struct judge_band *band;
    double value; /* the mix, carried to the band's method */
    int side;     /* -1 below, 0 within, 1 above */
};

MUST_USE enum status judge_by_bands(const struct retention_curve *curve,
                                    struct judge_band_finding out[JUDGE_BANDS]);

#endif
