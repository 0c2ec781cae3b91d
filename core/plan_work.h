/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Inside of the plan, shared by plan.c, plan_weather.c, plan_block.c and plan_review.c only. */
#ifndef PERCHD_CORE_PLAN_WORK_H
#define PERCHD_CORE_PLAN_WORK_H

#include <math.h>

#include <gsl/gsl_heapsort.h>

#include "demand.h"
#include "ensemble.h"
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

/* What a pot holds, kept, since the integrals are dear and many blocks stand alike. */
struct plan_figures {
    size_t pot, mix; /* NURSERY_NONE: nothing kept */
    double theta_low;
    struct pot_figures figures;
};
#define PLAN_FIGURES_KEPT 256

struct plan_context {
    const struct plan_input *input;
    const struct nursery *nursery;
    size_t now_hour; /* index of the hour that holds 'now' */
    size_t hour_count;
    int64_t first_day;          /* local date of the first hour, as days since 1970 */
    size_t today;               /* index of today's local day, counted from first_day */
    unsigned char *day_of_hour; /* index of each hour's local day */
    double gauged_7d_mm;        /* rain read from gauges in the last 7 days */
    struct plan_climate climate[PLAN_LOCAL_DAYS_MAX];
    double *hourly;               /* what the skies point into */
    unsigned char *frozen;        /* of each hour: pots are frozen */
    struct plan_figures *figures; /* PLAN_FIGURES_KEPT lately worked out */
    double *zone_share_l; /* of each zone: sum of pots x available water, by hand and from below */
    struct plan_sky *skies;   /* [0] open, [1 + cover] */
    struct plan_trace *trace; /* of one block; NULL: none */
};

struct plan_side {
    struct balance_state state;
    struct balance_sums sums;
    int64_t first_soak_s; /* of a pot that repels water; 0: none yet */
};

/* One block while the plan is worked out. */
struct plan_work {
    size_t block, next;              /* next block of the same zone, NURSERY_NONE at the end */
    const struct nursery_state *now; /* the state in force */
    size_t next_state;
    size_t run, run_end; /* past runs of the zone still to come */
    size_t weighing, weighing_end;
    size_t touch, touch_end;
    struct pot_figures figures;
    struct balance_pot pot;
    struct demand_plant plant;
    double canopy_cm;         /* on the day of the rates, growth counted */
    bool canopy_old;          /* and measured too long ago */
    double whole_available_l; /* with roots in the whole pot */
    int64_t potted_s;         /* when the plants came into this pot */
    bool potted;              /* told of: not just the first row of the block */
    double plug_share;        /* of the pot's volume; 1: rooted through */
    /* What follows from the plant at terms_canopy_cm, NAN: not worked out; days of local dates. */
    struct demand_terms terms;
    double terms_canopy_cm;
    double leaf_day, potted_day;
    double refill_l; /* depletion at which water is due */
    struct balance_rates rates;
    size_t rates_day;      /* local day the rates hold for */
    double capture;        /* overhead */
    double litres_pot_min; /* reach one pot for each minute of the open valve */
    double driest_share;   /* of it, at the dry quarter */
    /* While a run is unknown the average and the driest pot did not get it, the wet one did. */
    struct plan_side average, driest, wet;
    bool unsure;      /* wet differs */
    bool passing;     /* cannot wait for the opening after the one looked at */
    size_t hour;      /* advanced to the start of this hour */
    size_t dose_hour; /* a planned dose still to come; NURSERY_NONE: none */
    double dose_l;
    int64_t soaked_s; /* the dry quarter was surely filled */
    int64_t known_s;
    enum plan_known known;
    int64_t forgotten_s; /* what was known went with the pot or mix; 0 */
    int64_t touched_s;   /* the last touch check; 0: none */
    bool weighed;
    double use_today_l, use_tomorrow_l;
    double given_l, lost_l; /* ahead: by planned runs, and of that what drained at once */
    double most_water_l;    /* ahead */
    int64_t due_s;          /* the dry quarter is past its refill point since; 0: it is not */
    int64_t spell_s;        /* the dry quarter is past its stress limit since; 0: it is not */
    int spell_h;            /* hours of that which ask something of a plant */
    int64_t strained_s;     /* ahead, with the planned runs: the dry quarter passes its limit; 0 */
    int64_t cut_s;          /* a limit first left its zone short; 0: not yet */
    int64_t starved_s;      /* since then the dry quarter passes its limit; 0 */
    int64_t eased_s;        /* ... and is within it again; 0 */
    int64_t flagging_s; /* ... passes half the way from there to nothing left, or its limit for long
                         * and no limit of the zone's is to blame; 0 */
    struct plan_trace *trace; /* kept of this block; NULL: it is not */
    double hour_in_l;         /* irrigation of the last hour with something in it */
};

/* A block as the plan finds it, for the ensemble. */
struct plan_start {
    struct balance_state average, driest;
    enum plan_known known;
};

struct plan_lookahead {
    bool driest; /* the dry quarter, else the average pot */
    double et_scale;
    double rain_share;  /* 0: no rain falls */
    double depletion_l; /* the limit */
};

/* Hotter than forecast: so much of reference ET [our choice]. */
#define PLAN_HOTTER 1.25

/* One opening of one zone's window. */
struct plan_turn {
    size_t zone;
    int64_t start_s, end_s;
    int64_t opened_s;  /* before start_s when it is open already */
    size_t order;      /* NURSERY_NONE: of a window */
    size_t next;       /* of the zone's windows; NURSERY_NONE */
    bool used;         /* already decided */
    bool ran;          /* a run was placed in it */
    bool early, tried; /* runs although it could wait, see plan_level.c; that did not help */
    bool fresh;        /* early since the last try */
    int64_t for_s;     /* early: the opening that is relieved */
};

/* What one zone asks for in one opening. */
struct plan_request {
    size_t turn;
    int64_t from_s, until_s;
    int64_t next_by_s; /* the next opening serves the zone by then */
    int64_t due_by_s;  /* within the hours it is due: late placing ends before, with room; 0 */
    bool run, rain_hold;
    size_t zone;      /* the turn's */
    int rank;         /* of its class; an order's is before all */
    size_t lead;      /* block that passes first */
    size_t longest;   /* block that sets the minutes */
    int64_t passes_s; /* when; 0: not before the next opening's end */
    int minutes;
    int most_minutes; /* the zone's daily limits leave */
    bool soak, lengthened, cut, supply_cut;
    double need_minutes; /* before it is lengthened to the least run */
    int wanted_minutes;
    size_t order, requirement; /* NURSERY_NONE: neither */
    struct plan_sizing sizing;
    size_t position; /* in its round, as placed */
    bool soon;       /* placed as early as it can be, whatever its method */
};

/* Local days from today on that daily limits are kept for: the plan's, and the one that the last
 * night's window reaches into. */
#define PLAN_LIMIT_DAYS (PLAN_DAYS_MAX + 1)

struct plan_zone_work {
    size_t first_block; /* chain through plan_work.next */
    int priority;       /* the smallest of its own and its blocks' */
    double leaching;    /* fraction of a run meant to drain */
    bool flush;         /* salt asks for more than the plan gives */
    double drained;     /* caught lately, fraction; < 0: not caught */
    int pulses;         /* of a run: the zone's own, more where much drained */
    size_t lead;        /* block that decides alone; NURSERY_NONE: the neediest */
    bool led_by_wet;    /* since wet harms it more */
    int64_t busy_until_s;
    int64_t given_until_s; /* end of now's hour when it got a run in it: only then is that run in
                            * the balances, so no window is looked at before */
    size_t last_round;     /* of the rounds, the last it was in */
    size_t held;           /* the first hold that takes an opening of tomorrow; NURSERY_NONE */
    size_t held_next;      /* the first hold ahead */
    double cut_l; /* most that was wanted at once and not given, within PLAN_LIMIT_SOON_S */
    double minutes_on[PLAN_LIMIT_DAYS]; /* of the runs that start on that day */
    double litres_on[PLAN_LIMIT_DAYS];
};

struct plan_supply_work {
    struct timetable table;
    double litres_on[PLAN_LIMIT_DAYS];
    double limit_l[PLAN_LIMIT_DAYS]; /* INFINITY: none */
};

struct planning {
    struct plan_context context;
    struct plan_work *works;
    struct plan_start *starts; /* one a block */
    struct ensemble_weather *ensemble;
    struct plan_zone_work *zones;
    struct plan_supply_work *supplies;
    struct plan_turn *turns;
    size_t turn_count;
    struct plan_request *requests;
    bool *frost, *frost_or_wind; /* minutes of the tables that overhead avoids */
    bool *frozen;                /* ... that no method may use */
    bool *required_done;         /* one a requirement */
    struct plan_result *result;
    /* What the supplies leave undone within PLAN_LIMIT_SOON_S, and the first opening of it. */
    double missing_l;
    size_t short_turn;
    size_t *order;             /* plan_sort's, one a run */
    struct plan_before *start; /* to begin the rounds again from */
    struct plan_trial *trial;  /* plan_order.c's */
};

/* plan_weather.c: the reference ET and rain of every cover, days, climate. */
MUST_USE enum status plan_weather_open(struct plan_context *context);

/* What the hour's reference ET was multiplied by, since the normals plan on the dry side. */
double plan_weather_margin(const struct plan_context *context, size_t h);

/* plan_frost.c: which hours pots are frozen in, and what that does to the skies. */
void plan_frost_open(struct plan_context *context);

/* plan_stand.c: what a block is at a moment: pot, plant, delivery. */
MUST_USE enum status plan_stand_enter(const struct plan_context *context,
                                      const struct nursery_state *state, struct plan_work *work);
/* The rates of a local day, with roots and canopy grown so far. */
MUST_USE enum status plan_stand_day(const struct plan_context *context, size_t day,
                                    struct plan_work *work);
/* Pots times available water of the block's last state: its share of a tray's or hose's litres. */
MUST_USE enum status plan_stand_share_l(const struct plan_context *context, size_t block,
                                        double *share_l);
static inline const struct nursery_block *plan_block_of(const struct plan_context *context,
                                                        const struct plan_work *work)
{
    return &context->nursery->blocks[work->block];
}

/* plan_block.c */
/* The nursery's runs of a zone: [*first, *end), ascending. */
void plan_runs_of(const struct nursery *n, size_t zone, size_t *first, size_t *end);
MUST_USE enum status plan_block_open(const struct plan_context *context, size_t block,
                                     struct plan_work *work);
/* Takes over what was weighed and felt in now's hour, without waiting for its end: who felt a pot
 * wants to see it. What the hour uses is still to come off. */
void plan_block_meet_now(const struct plan_context *context, struct plan_work *work);
/* Advances both sides to the start of hour `to`. */
MUST_USE enum status plan_block_advance(const struct plan_context *context, struct plan_work *work,
                                        size_t to);
/* When, from the hour the work stands at until hour `to`, the depletion passes the limit without
 * any watering; 0: it does not. Leaves the work as it was. */
int64_t plan_block_passes(const struct plan_context *context, const struct plan_work *work,
                          size_t to, const struct plan_lookahead *look);
/* Days from full to the refill point in the weather ahead; NAN when longer than the hours. */
double plan_block_interval_d(const struct plan_context *context, const struct plan_work *work);

/* Air in the pot at a moment, as a fraction of its volume, and what roots took of it. */
double plan_block_air(const struct plan_work *work, int64_t at_s, double *lost);

/* plan_sure.c: the range of what may come, from fifty possible weathers, mixes and plants. */
MUST_USE enum status plan_sure_open(struct planning *p);
void plan_sure_keep(const struct plan_work *work, struct plan_start *start);
/* Once all runs stand: fills the ranges of blocks and runs. */
MUST_USE enum status plan_sure(struct planning *p);
/* The same range for every hour of the traced block. */
MUST_USE enum status plan_sure_trace(const struct planning *p);

/* plan_review.c: days and notices, once all runs stand. */
MUST_USE enum status plan_review(const struct planning *p);
/* plan_watch.c: figures and findings that somebody should look at. */
void plan_watch_review(const struct planning *p);
/* plan_zone.c: what a zone waters, how much of it is meant to drain, which block leads. */
MUST_USE enum status plan_zone_open(struct planning *p, size_t *culprit);
/* Once the blocks are reported: in cool weather a mixed zone is led by the one that wet harms. */
void plan_zone_lead(struct planning *p);
void plan_zone_review(const struct planning *p);
bool plan_zone_gets_rain(const struct planning *p, size_t zone);

/* plan_hold.c: what holds and limits let happen, the list for the hose. */
void plan_hold_review(const struct planning *p);
/* Whether a zone's next hold is why something passes a limit then: the hold says so itself. */
bool plan_hold_explains(const struct planning *p, size_t zone, int64_t at_s);
/* Litres a day each supply may give, bans counted. */
void plan_hold_limits(struct planning *p);

/* How far ahead a stress limit passed is somebody's business now. */
#define PLAN_STRESS_SOON_S (3 * CIVIL_DAY_S)
/* How far ahead it is said what limits leave a zone short of: the days that are no mere outlook. */
#define PLAN_LIMIT_SOON_S (5 * CIVIL_DAY_S)

static inline int64_t plan_hour_s(const struct plan_context *context, size_t hour)
{
    return context->input->hours[0].start_s + (int64_t)hour * CIVIL_HOUR_S;
}

static inline size_t plan_hour_at(const struct plan_context *context, int64_t t_s)
{
    int64_t hour = (t_s - context->input->hours[0].start_s) / CIVIL_HOUR_S;
    if (hour < 0)
        return 0;
    return hour > (int64_t)context->hour_count ? context->hour_count : (size_t)hour;
}

/* Which of the days of the limits a moment lies on. */
static inline size_t plan_limit_day(const struct plan_context *context, int64_t t_s)
{
    int64_t day = civil_days(civil_local_date(&context->nursery->time_zone, t_s)) -
                  context->first_day - (int64_t)context->today;
    return day < 0 ? 0 : day < PLAN_LIMIT_DAYS ? (size_t)day : PLAN_LIMIT_DAYS - 1;
}

static inline double plan_lacks_l(const struct plan_work *work)
{
    return fmax(0.0, work->pot.ceiling_l - work->average.state.water_l);
}

static inline bool plan_decides(const struct planning *p, const struct plan_work *work)
{
    const struct nursery_block *block = &p->context.nursery->blocks[work->block];
    size_t lead = p->zones[block->zone].lead;
    return work->now->pots > 0.0 && (lead == NURSERY_NONE || lead == work->block);
}

static inline void plan_add_notice(struct plan_result *result, struct plan_reason notice)
{
    if (result->notice_count < result->notice_capacity)
        result->notices[result->notice_count++] = notice;
}

static inline struct plan_reason plan_reason_of(enum plan_code code, size_t zone, size_t block)
{
    return (struct plan_reason){.code = code, .zone = zone, .block = block, .other = NURSERY_NONE};
}

/* plan_turns.c: the openings of windows, ascending by start. */
size_t plan_turns_most(const struct plan_input *input);
void plan_turns_open(struct planning *p);
MUST_USE enum status plan_turns_report(const struct planning *p);
/* The zone's watering hours that begin on a local day, whatever holds they have; how many. */
size_t plan_hours_on(const struct nursery *nursery, size_t zone, int64_t day,
                     struct plan_opening *hours, size_t most);
/* The first hold of a zone that is in force in [from_s, until_s), or NURSERY_NONE. */
size_t plan_hold_next(const struct nursery *nursery, size_t zone, int64_t from_s, int64_t until_s);
/* The zone's next opening after this one, or NULL. */
const struct plan_turn *plan_turn_next(const struct planning *p, const struct plan_turn *turn);

/* plan.c: sorts at most plan_runs_most elements of at most PLAN_SORTED_BYTES. */
#define PLAN_SORTED_BYTES 1024
void plan_sort(struct planning *p, void *array, size_t count, size_t size,
               gsl_comparison_fn_t order);
/* plan.c: every block as it stands at now. */
MUST_USE enum status plan_open(const struct plan_input *input, void *room, struct planning *p,
                               size_t *culprit);
/* plan.c: all openings decided and placed in turn. */
MUST_USE enum status plan_rounds(struct planning *p);
/* plan_level.c: the rounds, again with tolerant zones a day earlier where a supply was short. */
size_t plan_level_bytes(const struct nursery *nursery);
MUST_USE enum status plan_level(struct planning *p);

/* plan_decide.c: run in this opening or wait, and how long. */
MUST_USE enum status plan_decide(struct planning *p, size_t turn_index,
                                 struct plan_request *request);
int plan_least_minutes(const struct nursery_zone *zone);
/* Minutes of the open valve that bring need_l back into one pot. */
double plan_minutes_for(const struct planning *p, const struct nursery_zone *zone,
                        const struct plan_work *work, double need_l);
double plan_leaching_of(const struct planning *p, const struct nursery_zone *zone);
/* Whether the dry quarter was not filled for so long that the bed is to be evened. */
bool plan_soak_due(const struct plan_request *request, const struct plan_work *work);
/* Litres that a hand or a tray gives each pot of a block: its own lack with the larger margin,
 * where a soak is due that of the driest. */
double plan_own_dose_l(const struct planning *p, const struct plan_request *request,
                       const struct plan_work *work);

/* plan_place.c: how a request's minutes are given in pulses. */
struct timetable_run plan_shape_of(const struct planning *p, const struct nursery_zone *zone,
                                   const struct plan_request *request);
/* plan_place.c: a time on the supply, or why there is none. */
void plan_mark_weather(struct planning *p, int64_t table_start_s);
/* Takes a run off its zone's and supply's day. */
void plan_count_run(struct planning *p, size_t zone, int64_t start_s, double minutes,
                    double litres);
MUST_USE enum status plan_place(struct planning *p, const struct plan_request *request);
/* Where a request would go now; takes it in the supply's table. early: as soon as it can, whatever
 * its method. */
MUST_USE enum status plan_try(struct planning *p, const struct plan_request *request, bool early,
                              struct timetable_run *shape, struct timetable_place *place,
                              bool *windy);

/* plan_order.c: in which order a round's requests, sorted by urgency, are placed so that as many
 * fit as can, none at the cost of a more urgent one. */
size_t plan_order_bytes(const struct nursery *nursery);
MUST_USE enum status plan_order(struct planning *p, size_t count);

#endif
