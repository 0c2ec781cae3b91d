/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Inside of the plan, shared by plan.c, plan_weather.c, plan_block.c and plan_review.c only. */
#ifndef PERCHD_CORE_PLAN_WORK_H
#define PERCHD_CORE_PLAN_WORK_H

#include "demand.h"
#include "plan.h"
#include "timetable.h"

#define PLAN_LOCAL_DAYS_MAX 64 /* history and horizon in local days */

/* Weather of one local day as demand wants it. */
struct plan_climate {
    double wind_2m_m_s;
    double humidity_min_pct;
};

/* The hours as one cover sees them. */
struct plan_sky {
    const double *et0_mm;  /* with the margin of normals */
    const double *rain_mm; /* that reaches the pots and counts */
    double wind_factor;    /* of the outside wind, for the coefficient's climate term */
};

struct plan_context {
    const struct plan_input *input;
    const struct nursery *nursery;
    size_t now_hour; /* index of the hour that holds 'now' */
    size_t hour_count;
    int64_t first_day;          /* local date of the first hour, as days since 1970 */
    size_t today;               /* index of today's local day, counted from first_day */
    unsigned char *day_of_hour; /* index of each hour's local day */
    struct plan_climate climate[PLAN_LOCAL_DAYS_MAX];
    double *hourly;         /* what the skies point into */
    struct plan_sky *skies; /* [0] open, [1 + cover] */
};

struct plan_side {
    struct balance_state state;
    struct balance_sums sums;
};

/* One block while the plan is worked out. */
struct plan_work {
    size_t block, next;              /* next block of the same zone, NURSERY_NONE at the end */
    const struct nursery_state *now; /* the state in force */
    size_t next_state;
    size_t run, run_end; /* past runs of the zone still to come */
    size_t weighing, weighing_end;
    struct pot_figures figures;
    struct balance_pot pot;
    struct demand_plant plant;
    struct balance_rates rates;
    size_t rates_day;      /* local day the rates hold for */
    double capture;        /* overhead */
    double litres_pot_min; /* reach one pot for each minute of the open valve */
    double driest_share;   /* of it, at the dry quarter */
    struct plan_side average, driest;
    size_t hour;      /* advanced to the start of this hour */
    size_t dose_hour; /* a planned dose still to come; NURSERY_NONE: none */
    double dose_l;
    int64_t soaked_s; /* the dry quarter was surely filled */
    int64_t known_s;
    enum plan_known known;
    double use_today_l, use_tomorrow_l;
    double most_water_l; /* ahead */
    int64_t due_s;       /* the dry quarter is past its refill point since; 0: it is not */
    int64_t strained_s;  /* ahead, with the planned runs: the dry quarter passes its limit; 0 */
    int64_t flagging_s;  /* ... passes half the way from there to nothing left; 0 */
};

struct plan_lookahead {
    bool driest; /* the dry quarter, else the average pot */
    double et_scale;
    double rain_share;  /* 0: no rain falls */
    double depletion_l; /* the limit */
};

/* plan_weather.c: the reference ET and rain of every cover, days, climate. */
MUST_USE enum status plan_weather_open(struct plan_context *context);

/* plan_block.c */
MUST_USE enum status plan_block_open(const struct plan_context *context, size_t block,
                                     double zone_share_l, struct plan_work *work);
/* Advances both sides to the start of hour `to`. */
MUST_USE enum status plan_block_advance(const struct plan_context *context, struct plan_work *work,
                                        size_t to);
/* When, from the hour the work stands at until hour `to`, the depletion passes the limit without
 * any watering; 0: it does not. Leaves the work as it was. */
int64_t plan_block_passes(const struct plan_context *context, const struct plan_work *work,
                          size_t to, const struct plan_lookahead *look);
double plan_block_refill_l(const struct plan_context *context, const struct plan_work *work);
/* Days from full to the refill point in the weather ahead; NAN when longer than the hours. */
double plan_block_interval_d(const struct plan_context *context, const struct plan_work *work);

/* plan_review.c: days and notices, once all runs stand. */
MUST_USE enum status plan_review(const struct plan_context *context, const struct plan_work *works,
                                 struct plan_result *result);

static inline int64_t plan_hour_s(const struct plan_context *context, size_t hour)
{
    return context->input->hours[0].start_s + (int64_t)hour * CIVIL_HOUR_S;
}

#endif
