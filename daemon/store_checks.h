/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a sceptic measured, beside what was planned: reads for checks.h, and sealed predictions. */
#ifndef PERCHD_DAEMON_STORE_CHECKS_H
#define PERCHD_DAEMON_STORE_CHECKS_H

#include "store.h"

/* --- predictions, sealed: only ever added to ------------------------------------------------ */

enum store_sealed_kind {
    STORE_SEALED_WATER, /* what a pot will lack, hour by hour */
    STORE_SEALED_DUE,   /* when it is due, as somebody says that he would water it */
};

struct store_sealed {
    int64_t number;
    enum store_sealed_kind kind;
    char block[RECORDS_ID_SIZE];
    int64_t sealed_s;    /* when it was written down */
    int64_t made_s;      /* the plan it is out of */
    int64_t about_s;     /* water: the first hour; due: when he said so */
    const char *who;     /* valid during the call */
    const char *content; /* JSON, valid during the call */
};

/* The next number is set. A second word on the same block and moment changes nothing. */
int store_sealed_add(struct store *store, struct store_sealed *sealed, struct error *error);

/* Those of a kind sealed from from_s on by to_s, oldest first; of due ones those whose touch check
 * stands and still says dry. */
int store_sealed_each(struct store *store, enum store_sealed_kind kind, int64_t from_s,
                      int64_t to_s, void (*take)(void *context, const struct store_sealed *sealed),
                      void *context, struct error *error);

/* --- what was measured ----------------------------------------------------------------------- */

/* A weighing of a block. */
struct store_weighed {
    int64_t at_s;
    double missing_l; /* 1 kg = 1 L */
};
/* The first one dated in (from_s, to_s]; before: the last one dated in (from_s - before_s, from_s].
 * 1 found, 0 none, -1 failed. */
int store_weighed_after(struct store *store, const char *block, int64_t from_s, int64_t to_s,
                        struct store_weighed *out, struct error *error);
int store_weighed_before(struct store *store, const char *block, int64_t from_s, int64_t before_s,
                         struct store_weighed *out, struct error *error);
/* Whether a run of the zone is recorded, or was planned, that starts in [from_s, to_s). 1, 0, -1.
 */
int store_ran_between(struct store *store, const char *zone, int64_t from_s, int64_t to_s,
                      struct error *error);

/* The latest cans of every zone by a date. */
struct store_cans {
    const char *zone, *on_date, *catches_ml; /* valid during the call */
    double can_cm2, minutes, rate_mm_h;      /* NAN when not given */
};
int store_cans_each(struct store *store, const char *until,
                    void (*take)(void *context, const struct store_cans *cans), void *context,
                    struct error *error);

/* Drainage caught under pots in [from_s, to_s], with the run just before it. */
struct store_caught {
    const char *block, *zone, *method; /* valid during the call */
    int64_t at_s;
    double given_ml, drained_ml;
    double run_litres, flow_l_min;        /* of the last run that began within 4 h; NAN: none */
    double emitters_per_pot, emitter_l_h; /* NAN when not given */
    double leaching_pct;                  /* NAN: the method's own */
};
int store_caught_each(struct store *store, int64_t from_s, int64_t to_s,
                      void (*take)(void *context, const struct store_caught *caught), void *context,
                      struct error *error);

/* Tests of a mix in a vessel of about a pot's own height, latest first. */
struct store_pot_test {
    const char *tested, *vessel, *drained_ml; /* valid during the call */
    double vessel_height_cm, vessel_volume_ml, mass_drained_g, mass_dry_g;
};
int store_pot_test_each(struct store *store, const char *mix, const char *batch,
                        double fill_height_cm, const char *until,
                        void (*take)(void *context, const struct store_pot_test *test),
                        void *context, struct error *error);

/* Metered and planned litres of the zones that had a meter, of runs that start in [from_s, to_s).
 */
int store_water_metered(struct store *store, int64_t from_s, int64_t to_s, double *planned_l,
                        double *metered_l, double *planned_all_l, struct error *error);

/* By zone, what was planned and what ran of runs that start in [from_s, to_s) and are over by at_s.
 * What nobody told of ran as planned where that is how the zone is counted, else not at all. */
enum store_ran_how { STORE_RAN_SILENT, STORE_RAN_ASSUMED, STORE_RAN_TOLD };
struct store_ran {
    const char *zone; /* valid during the call */
    double planned_l, ran_l;
    enum store_ran_how how; /* the surest of its runs */
};
int store_ran_each(struct store *store, int64_t from_s, int64_t to_s, int64_t at_s,
                   void (*take)(void *context, const struct store_ran *ran), void *context,
                   struct error *error);

/* Gauge readings that end in (from_s, to_s], with the rain that a feed's latest word on each of
 * their hours gives; NAN where it has no word on all of them. */
struct store_gauged {
    int64_t from_s, to_s;
    double rain_mm, feed_mm;
};
int store_gauged_each(struct store *store, const char *feed, int64_t from_s, int64_t to_s,
                      void (*take)(void *context, const struct store_gauged *gauged), void *context,
                      struct error *error);

#endif
