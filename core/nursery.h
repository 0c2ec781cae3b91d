/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The nursery as records: what stands where, in which pot and mix, watered by which valve from
 * which supply, and what was done to it. Things refer to each other by index into these arrays;
 * names and ids live outside core. All records are in force at or before the plan's 'now'.
 */
#ifndef PERCHD_CORE_NURSERY_H
#define PERCHD_CORE_NURSERY_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "bench.h"
#include "civil.h"
#include "delivery.h"
#include "demand.h"
#include "et0.h"
#include "pot.h"
#include "sun.h"

#define NURSERY_NONE SIZE_MAX

struct nursery_cover {
    struct et0_cover et0;
    double warmer_c; /* inside minus outside by day at clear noon, 0..15 */
    bool rain;       /* rain reaches the pots */
};

struct nursery_supply {
    double flow_l_min;     /* > 0 */
    size_t valves_at_once; /* >= 1 */
    double daily_limit_l;  /* 0: none */
    double water_ec_ds_m;  /* 0 when not known */
    /* A permit: litres of one period, those drawn in it so far, the period. permit_l 0: none. */
    double permit_l, permit_used_l;
    int64_t permit_from_s, permit_until_s;
};

/* An edge of a window: seconds after local midnight, or relative to that day's sunrise/sunset. */
enum nursery_edge_from {
    NURSERY_CLOCK,
    NURSERY_SUNRISE,
    NURSERY_SUNSET,
};

struct nursery_edge {
    enum nursery_edge_from from;
    int32_t second; /* -43200..172800 */
};

/* Hours in which a zone may run. An end at or before the start is on the next day. */
struct nursery_window {
    size_t zone; /* NURSERY_NONE: every zone that has no window of its own */
    struct nursery_edge start, end;
    unsigned weekdays; /* bit 0 Monday .. bit 6 Sunday, of the day the window starts */
};

struct nursery_zone {
    size_t supply;
    enum delivery_method method;
    double flow_l_min;     /* what the open valve takes, > 0; hand: the hose */
    double rate_mm_h;      /* overhead: application rate on the bed */
    double du_low_quarter; /* fraction, 0 when not measured */
    double du_low_half;    /* fraction, from cans; 0 when not measured */
    enum delivery_cover run_for;
    double emitters_per_pot; /* drip, spray */
    double emitter_l_h;
    double emission_uniformity; /* fraction */
    double leaching_fraction;   /* wanted; < 0: the method's default */
    int pulses;                 /* >= 1, parts of a run */
    double pause_min;           /* between pulses */
    double least_min;           /* shortest useful run; < 0: the method's default */
    double most_min_day;        /* 0: none */
    double most_l_day;          /* 0: none */
    int priority;               /* 1 first .. 5 last */
    bool assumed;               /* a planned run whose end has passed counts as done */
    size_t lead_block;          /* NURSERY_NONE: the neediest leads */
    double metered_share; /* of the flow it was said to have, from meters lately; 0: not known.
                           * Flow and rate above are what the plan counts on, this applied */
};

/* How a grower says what a pot uses. */
enum nursery_use {
    NURSERY_USE_CANOPY,      /* from canopy and height */
    NURSERY_USE_MEASURED,    /* litres lost on a day of known reference ET */
    NURSERY_USE_COEFFICIENT, /* on an area */
};

/* What a block is from at_s on, until its next state. */
struct nursery_state {
    int64_t at_s;
    size_t zone;
    size_t cover; /* NURSERY_NONE: open */
    size_t pot;
    size_t mix;
    bool potted;      /* the plants came into this pot or mix at at_s (else only measured) */
    bool watered_in;  /* with potted: soaked to capacity then */
    double pots;      /* number of pots, >= 0 */
    double ground_m2; /* bed area per pot, > 0 */
    double canopy_cm;
    double plant_height_m;
    bool canopy_measured; /* at at_s; else carried on from an earlier state */
    bool pruned;          /* with canopy_measured: no growth led there */
    double joined;        /* share of the pots that came from another block at at_s, 0..1 */
    enum demand_leaf leaf;
    int64_t leaf_since_s;  /* when that leaf state began */
    double plug_l;         /* with potted: the root ball's volume, 0 when not given */
    bool woody;            /* roots through the pot in 10 weeks, else 6 */
    double air_loss_a_day; /* air space that roots fill, fraction of volume a day; 0: not counted */
};

struct nursery_block {
    size_t zone;                     /* now, as its last state */
    size_t cover;                    /* NURSERY_NONE: open */
    size_t first_state, state_count; /* in nursery.states, ascending at_s, >= 1 */
    double transparency;             /* M_L */
    double stomatal;                 /* F_s */
    double refill_fraction;          /* of available water, > 0, <= 0.5 */
    double stress_p;                 /* 0 <= p < 1 */
    double theta_low;                /* fraction; 0: default of the mix */
    double capture;                  /* overhead; 0: rule of thumb */
    double k_cal;                    /* > 0 */
    double k_cal_sd;                 /* relative, 0..1 */
    enum nursery_use use;
    double use_l;       /* measured: litres a pot, 0..1000 ... */
    double use_et0_mm;  /* ... on a day of this, 0.5..20 */
    double coefficient; /* 0..100 on the area of ... */
    enum demand_basis coefficient_basis;
    struct demand_place place;
    int priority;        /* as a zone's; 0: the zone's own */
    double salt_ec_ds_m; /* saturation extract that the crop bears; 0 when not known */
};

/* The pot's water at a moment, from weighing it then and at capacity. */
struct nursery_weighing {
    size_t block;
    int64_t at_s;
    double missing_l; /* capacity mass - mass then, 1 kg = 1 L, >= 0 */
};

enum nursery_feel {
    NURSERY_DRY,
    NURSERY_RIGHT,
    NURSERY_WET,
};

enum nursery_place {
    NURSERY_CENTRE,
    NURSERY_EDGE,
    NURSERY_CENTRE_AND_EDGE,
};

/* A finger in a few pots. */
struct nursery_touch {
    size_t block;
    int64_t at_s;
    enum nursery_feel feel;
    enum nursery_place place;
};

/* New runs start no sooner than this after 'now', so that someone can read of them; and what was
 * said to start sooner stays, or it would go on before those who ask for it [our choice]. */
enum { NURSERY_LEAD_S = 300 };

enum nursery_run_state {
    NURSERY_RUN_REPORTED,
    NURSERY_RUN_METERED,
    NURSERY_RUN_CONFIRMED,
    NURSERY_RUN_ASSUMED,
    NURSERY_RUN_UNDERWAY, /* planned, not yet ended at 'now'; started, or within NURSERY_LEAD_S */
    NURSERY_RUN_UNKNOWN,  /* planned and over, and nobody said whether it ran */
};

enum nursery_purpose {
    NURSERY_IRRIGATION,
    NURSERY_FEED,
    NURSERY_WASH_IN,
    NURSERY_COOLING,
    NURSERY_FROST,
    NURSERY_FLUSH, /* of the lines */
    NURSERY_TEST,
};

/* Whether pots keep water of such a run [our choice]: mist that cools, ice and what flushes lines
 * do not count as water held. */
static inline bool nursery_purpose_waters(enum nursery_purpose purpose)
{
    return purpose == NURSERY_IRRIGATION || purpose == NURSERY_FEED || purpose == NURSERY_WASH_IN;
}

struct nursery_run {
    size_t zone;
    int64_t start_s, end_s; /* start < end */
    double litres;          /* through the valve; < 0: flow x time */
    enum nursery_run_state state;
    enum nursery_purpose purpose;
    int pulses, pulse_min, pause_min; /* underway: as planned; 0 pulses: not known */
};

/* 'Water this now.' In force from at_s until until_s, done when a run of the zone began since. */
struct nursery_order {
    size_t zone;
    size_t block; /* whose lack sets the minutes; NURSERY_NONE: the zone's neediest */
    int64_t at_s, until_s;
    double minutes; /* 0: not said */
    double litres;  /* through the valve; 0: not said */
};

enum nursery_hold_kind {
    NURSERY_HOLD_SKIP,
    NURSERY_HOLD_SPRAYING,
    NURSERY_HOLD_REENTRY,
    NURSERY_HOLD_PICKING,
    NURSERY_HOLD_DISPATCH,
    NURSERY_HOLD_VALVE_OUT,
    NURSERY_HOLD_PUMP_OUT,
    NURSERY_HOLD_BAN, /* only a part of the need may be drawn */
    NURSERY_HOLD_HAND_ONLY,
};

/* No valve of this place opens from from_s until to_s; a ban lets allowed of the need through. At
 * most one of zone, block, supply is not NURSERY_NONE; none: the whole nursery. A block's hold
 * closes its valve. */
struct nursery_hold {
    enum nursery_hold_kind kind;
    size_t zone, block, supply;
    int64_t from_s, to_s;
    double allowed; /* ban: fraction, 0..1 */
};

/* At least so many minutes in some opening between. */
struct nursery_requirement {
    size_t zone;
    int64_t from_s, to_s;
    double minutes;
    enum nursery_purpose purpose;
};

/* For one day a zone or a supply may give more than its limit: a person said so. One of zone and
 * supply is NURSERY_NONE. */
struct nursery_raise {
    size_t zone, supply;
    int64_t local_days;      /* the date, as days since 1970-01-01 */
    double most_min, most_l; /* 0: not raised */
};

/* Caught under a pot after a run: leaching as it is. */
struct nursery_drain {
    size_t block;
    int64_t at_s;
    double fraction; /* drained / given, 0..1 */
};

enum nursery_extract {
    NURSERY_POUR_THROUGH,
    NURSERY_SATURATED,
    NURSERY_EXTRACT_2, /* one part mix, two parts water */
};

struct nursery_salt {
    size_t block;
    int64_t at_s;
    enum nursery_extract method; /* its scale */
    double ec_ds_m;
};

/* Rain read from a gauge: replaces the feed's for the hours within. */
struct nursery_gauge {
    int64_t from_s, to_s;
    double rain_mm;
};

struct nursery {
    struct sun_site site;
    struct civil_zone time_zone;
    const struct pot_shape *pots;
    size_t pot_count;
    const struct bench_fit *mixes; /* one a (mix, batch) with a bench test */
    size_t mix_count;
    const struct nursery_cover *covers;
    size_t cover_count;
    const struct nursery_supply *supplies;
    size_t supply_count;
    const struct nursery_zone *zones;
    size_t zone_count;
    const struct nursery_window *windows;
    size_t window_count;
    const struct nursery_state *states;
    size_t state_count;
    const struct nursery_block *blocks;
    size_t block_count;
    const struct nursery_weighing *weighings; /* ascending block, then at_s */
    size_t weighing_count;
    const struct nursery_touch *touches; /* ascending block, then at_s */
    size_t touch_count;
    const struct nursery_order *orders;
    size_t order_count;
    const struct nursery_hold *holds;
    size_t hold_count;
    const struct nursery_requirement *requirements;
    size_t requirement_count;
    const struct nursery_raise *raises;
    size_t raise_count;
    const struct nursery_drain *drains; /* ascending block, then at_s */
    size_t drain_count;
    const struct nursery_salt *salts; /* ascending block, then at_s */
    size_t salt_count;
    const struct nursery_run *runs; /* ascending zone, then start_s */
    size_t run_count;
    const struct nursery_gauge *gauges;
    size_t gauge_count;
};

/* Whether a hold keeps a zone's valve shut while it lasts; a ban only makes it give less. */
static inline bool nursery_hold_closes(const struct nursery *nursery,
                                       const struct nursery_hold *hold, size_t zone)
{
    const struct nursery_zone *z = &nursery->zones[zone];
    if (hold->kind == NURSERY_HOLD_BAN ||
        (hold->kind == NURSERY_HOLD_HAND_ONLY && z->method == DELIVERY_HAND))
        return false;
    if (hold->zone != NURSERY_NONE)
        return hold->zone == zone;
    if (hold->block != NURSERY_NONE)
        return nursery->blocks[hold->block].zone == zone;
    return hold->supply == NURSERY_NONE || hold->supply == z->supply;
}

#endif
