/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The plan: which zones run in which of their windows over the coming days, how much, when, why and
 * how sure. A pure function of the nursery's records, the hours of weather and 'now'. It allocates
 * nothing: the caller lends the room.
 */
#ifndef PERCHD_CORE_PLAN_H
#define PERCHD_CORE_PLAN_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "balance.h"
#include "nursery.h"
#include "status.h"
#include "weather.h"

#define PLAN_DAYS_MAX 11 /* today and ten more */

/* Hours as cold as this are freezing hours for overhead [our choice]. */
#define PLAN_FROST_C 2.0
/* Uniformity is severely impaired above this wind (Yacoubi et al. 2012). */
#define PLAN_WINDY_M_S 4.0
/* A hose where no hose zone says its flow, litres a minute [our choice]. */
#define PLAN_HOSE_L_MIN 15.0

/* Reasons and notices; docs/api.md has the words and the parameters. */
enum plan_code {
    PLAN_PASSES_REFILL,
    PLAN_SIZED_FOR,
    PLAN_EVENS_BED,
    PLAN_LEAST_RUN,
    PLAN_CUT_TO_DAY_LIMIT,
    PLAN_WINDY_HOURS,
    PLAN_STILL_WET,
    PLAN_WAITS_FOR_RAIN,
    PLAN_NO_PLANTS,
    PLAN_NO_WINDOW,
    PLAN_SUPPLY_FULL,
    PLAN_WINDOW_SHORT,
    PLAN_SUPPLY_DAY_LIMIT,
    PLAN_AIR_LOW_IN_POT,
    PLAN_MORE_THAN_DAILY,
    PLAN_PASSES_STRESS,
    PLAN_STRAINED,
    PLAN_MIXED_ZONE,
    PLAN_START_ASSUMED,
    PLAN_POOR_UNIFORMITY,
    PLAN_FROST_IN_WINDOW,
    PLAN_SUPPLY_SHORT,
    PLAN_ORDERED,
    PLAN_REQUIRED,
    PLAN_REQUIRED_MISSED,
    PLAN_HELD,
    PLAN_HOLD_PASSES,
    PLAN_CUT_TO_SUPPLY_LIMIT,
    PLAN_STARVED,
    PLAN_GO_AND_FEEL,
    PLAN_CANOPY_OLD,
    PLAN_NEWLY_POTTED,
    PLAN_CHANGE_WATER,
    PLAN_SALT_HIGH,
    PLAN_POUR_THROUGH_DUE,
    PLAN_DRAINS_MUCH,
    PLAN_TOO_MUCH,
    PLAN_MOVE_BLOCK,
    PLAN_LED_BY_WET,
    PLAN_LEVELLED,
    PLAN_BEFORE_HOLD,
    PLAN_COUNTS_ON_RAIN,
    PLAN_WET_BY_HAND,
    PLAN_DRY_BEFORE_FROST,
    PLAN_OVER_PERMIT,
    PLAN_FLOW_LOW,
    PLAN_FLOW_HIGH,
    PLAN_ODD_USE,
    PLAN_NEVER_FELT,
    PLAN_HOURS_OVER, /* no decision of the plan: why a sheet leaves a zone out */
    PLAN_CODES,      /* how many */
};

/* One reason; which fields count depends on the code. NURSERY_NONE, 0 where they do not. */
struct plan_reason {
    enum plan_code code;
    size_t zone, block, other; /* other: a block, a zone, a supply, the order, hold or requirement
                                * meant */
    double a, b;
    int64_t at_s, until_s;
};

enum plan_sure {
    PLAN_CERTAIN, /* weather known, or forecast less than 48 h ahead */
    PLAN_LIKELY,
    PLAN_OUTLOOK, /* normals, or more than 5 days ahead */
};

#define PLAN_REASONS_MAX 6

/* Whose need set a run's minutes. */
enum plan_led {
    PLAN_LED_NEEDIEST, /* of the blocks that cannot wait, the one that takes longest */
    PLAN_LED_NAMED,    /* the zone's record names it */
    PLAN_LED_WET,      /* in cool weather the one that wet harms */
    PLAN_LED_ORDER,    /* an order names it, or its zone */
    PLAN_LED_EACH,     /* by hand, from below: every pot gets its own */
    PLAN_LED_ASKED,    /* a person's minutes or litres */
    PLAN_LED_REQUIRED, /* nobody's: a required watering */
};

/* From what a pot lacked to a run's minutes. 0 where something does not take part. */
struct plan_sizing {
    enum plan_led led;
    size_t block;                            /* NURSERY_NONE: of no single one */
    bool soak;                               /* the figures are of its dry quarter */
    double full_l, water_l, lacks_l;         /* when the zone was looked at */
    double leaching, multiplier, soak_share; /* the margin is the larger of the first two's; of a
                                              * soak it follows from the last */
    double margin;
    bool rule_of_thumb;                           /* how much a pot catches was not measured */
    double capture, top_m2, ground_m2, canopy_cm; /* overhead */
    double litres_pot_min;
    double all_l; /* every pot's own */
    double need_min;
    int least_min, most_min; /* most: what limits leave */
};

struct plan_run {
    size_t zone;
    int64_t start_s, end_s; /* first minute on, first minute off after the last pulse */
    int minutes;            /* water on */
    int pulses, pulse_min, pause_min;
    double litres;                 /* through the valve */
    double litres_from, litres_to; /* what it may turn out to need: tenths of the ensemble; of later
                                    * runs of a zone the same as litres */
    double flow_l_min;
    double depth_mm;   /* overhead; else NAN */
    double litres_pot; /* reach a pot of the leading block */
    bool by_hand;
    bool underway; /* or about to start: NURSERY_LEAD_S */
    enum nursery_purpose purpose;
    struct plan_reason reasons[PLAN_REASONS_MAX];
    size_t reason_count;
    struct plan_sizing sizing; /* unless underway */
    enum plan_sure sure;
};

/* What does not fit. */
struct plan_unplaced {
    size_t zone;
    int64_t window_start_s;
    int minutes;
    double litres;
    struct plan_reason reason;
    bool ordered; /* asked for now */
};

struct plan_day {
    int64_t local_days; /* date, as days since 1970-01-01 */
    int64_t start_s, end_s;
    double et0_mm;  /* whole day, the part that is past included */
    double rain_mm; /* of the hours whose rain is known; NAN when none is */
    double temperature_max_c, temperature_min_c;
    enum weather_kind kind; /* worst of the hours to come */
    double litres;          /* of the runs that start on it */
    double peak_l_min;      /* of any one supply */
};

enum plan_zone_state {
    PLAN_ZONE_RUN,
    PLAN_ZONE_WAIT,
    PLAN_ZONE_WAIT_RAIN,
    PLAN_ZONE_UNPLACED,
    PLAN_ZONE_HAND,
    PLAN_ZONE_EMPTY,
    PLAN_ZONE_HELD,
};

/* A zone as tomorrow finds it. */
struct plan_zone {
    enum plan_zone_state state;
    struct plan_reason reason; /* of waiting; of the run else */
    int64_t wait_until_s;
    int64_t next_run_s;       /* 0: none within the plan */
    size_t sized_run;         /* the first not underway; NURSERY_NONE */
    size_t openings_tomorrow; /* of its windows */
};

/* How the water of a block came to be known, weakest first. */
enum plan_known {
    PLAN_KNOWN_ASSUMED,
    PLAN_KNOWN_TOUCHED,
    PLAN_KNOWN_POTTED,
    PLAN_KNOWN_FILLED,
    PLAN_KNOWN_WEIGHED,
};

/* A block now and ahead; litres of one pot, the average one unless said. */
struct plan_block {
    struct pot_figures figures;
    double pots;
    double ceiling_l;
    double available_l; /* below the ceiling */
    double water_l;
    double depletion_l;
    double driest_l;   /* depletion of the dry-quarter pot */
    double refill_l;   /* depletion at which water is due */
    double air;        /* fraction of the pot's volume, now */
    double air_lowest; /* ahead, within the plan */
    double air_lost;   /* to roots since potting, taken off both; 0 unless set for the block */
    double use_today_l, use_tomorrow_l;
    double interval_d; /* from full to the refill point in this weather; NAN: longer than known */
    /* When it passes the refill point if nobody waters: by the plan's best guess without rain; the
     * earliest and latest tenth of the ensemble. 0: not within the hours. */
    int64_t next_s, next_from_s, next_to_s;
    int64_t next_hot_s; /* the same guess with a quarter more reference ET */
    double harm_chance; /* that it passes its stress limit before its zone's next run */
    double need_l, need_from_l, need_to_l; /* what a pot lacks then: middle, tenths */
    int64_t stress_s; /* passes the stress limit if nobody waters; 0: not within the hours */
    int64_t known_s;
    enum plan_known known;
    int64_t forgotten_s; /* its pot or mix was changed: what was known before counts no longer, and
                          * nothing is known since; 0 */
    bool repels;         /* dried-out peat: does not fill before it was soaked twice */
    bool unsure;         /* runs nobody told of: water_l without, water_wet_l with them */
    double water_wet_l;
    double given_l;   /* by the planned runs */
    double lost_l;    /* of that, drained at once */
    size_t move_to;   /* a zone that would suit it better than its own; NURSERY_NONE */
    double canopy_cm; /* today, growth counted */
    bool canopy_old;  /* measured more than DEMAND_CANOPY_DAYS ago */
};

/* A block to be watered by hand, since its valve may not or does not: most urgent first. */
struct plan_hand {
    size_t zone, block;
    double litres_pot; /* what it lacks now */
    double litres;     /* of all its pots */
    double hose_min;
    int64_t limit_s; /* passes its stress limit if nobody waters, or is past it since */
    struct plan_reason reason;
};

struct plan_input {
    const struct nursery *nursery;
    const struct weather_hour *hours; /* contiguous, complete, from history to horizon */
    size_t hour_count;
    int64_t now_s;            /* inside the hours */
    int days;                 /* after today, 1..PLAN_DAYS_MAX - 1 */
    const double *et0_spread; /* of each local day's reference ET, today first, relative, 0..1.5;
                               * later days have the last's */
    size_t et0_spread_count;  /* 0: 0.15 throughout */
    double normal_factor;     /* of reference ET from the normals, learnt; 0: 1 */
};

/* Bytes of working room the caller lends for an input; aligned as malloc does. */
size_t plan_room_bytes(const struct plan_input *input);

/* Hours in which at least one zone may run; those of several zones merged where they meet. */
struct plan_opening {
    int64_t start_s, end_s;
};

struct plan_result {
    struct plan_run *runs; /* ascending start, then zone */
    size_t run_count, run_capacity;
    struct plan_unplaced *unplaced;
    size_t unplaced_count, unplaced_capacity;
    struct plan_reason *notices; /* most urgent first */
    size_t notice_count, notice_capacity;
    struct plan_hand *hands; /* room for one a block */
    size_t hand_count;
    struct plan_zone *zones;       /* one a zone */
    struct plan_block *blocks;     /* one a block */
    struct plan_opening *openings; /* ascending */
    size_t opening_count, opening_capacity;
    struct plan_day days[PLAN_DAYS_MAX];
    size_t day_count;
    int64_t good_until_s;     /* end of the local tomorrow */
    struct plan_trace *trace; /* filled unless NULL */
};

/* One hour of a block: litres of its average pot unless said. Levels are those at the hour's start,
 * before what was found in it. Mass closes: the next hour's water = water + adjusted + in + rain -
 * used - drained. */
struct plan_hour {
    double water_l;
    double driest_l;           /* water of the dry-quarter pot */
    double wet_l;              /* with the runs that nobody told of; water_l where there are none */
    double air;                /* fraction of the pot's volume, with wet_l */
    double full_l;             /* capacity as practised */
    double refill_l, stress_l; /* water at which it is due, and at which the plant strains */
    double adjusted_l;         /* by what was found: weighings, touch checks, potting */
    double in_l, rain_l;       /* irrigation and rain that reached the pot */
    double used_l, drained_l;
    double rain_mm, et0_mm; /* under its cover, as the plan counts them */
    double from_l, to_l;    /* ahead: tenths of the ensemble, with the planned runs; else NAN */
};

/* The hours of one block as the plan goes through them; from and to count input->hours. Before the
 * first thing known of the block nothing can be worked out: first is moved on to that hour. from
 * is at or before now's hour. */
struct plan_trace {
    size_t block;
    size_t from, to;
    struct plan_hour *hours; /* room for to - from */
    size_t first;            /* of the hours filled, counted from `from` */
};

/* What a hose gives at a zone: the zone's own, or a hose zone's of the same supply. */
double plan_hose_l_min(const struct nursery *nursery, size_t zone);

/* Capacities that are always enough for an input. */
size_t plan_runs_most(const struct plan_input *input);
size_t plan_notices_most(const struct plan_input *input);
size_t plan_openings_most(const struct plan_input *input);

/* What a zone's watering hours have room for on its day of fewest. */
enum plan_card_hours {
    PLAN_CARD_FITS,
    PLAN_CARD_ONCE,  /* wanted in two halves, but the hours are of one part of the day */
    PLAN_CARD_SHORT, /* and the minutes are cut to them */
};

/* What a zone needs on days of one reference ET, every day the same. */
struct plan_card_cell {
    int minutes; /* each time; 0: no plants */
    int every_d; /* days from one time to the next, 1..PLAN_CARD_DAYS */
    bool twice;  /* half of it morning and evening: one time a day is too late */
    bool cut;    /* to the zone's daily limit */
    enum plan_card_hours hours;
    int pulses, pulse_min, pause_min;
    double litres, depth_mm; /* each time; depth NAN unless overhead */
    size_t block;            /* that sets the minutes */
};

#define PLAN_CARD_DAYS 14

/* For the day when the machine is dead: what the plan would give zones and blocks as they stand now
 * on days of each reference ET (mm, above 0, at most 15), from full pots, without rain, in the wind
 * and humidity of a standard day. cells: zone by zone; safe_h: block by block, hours from a full
 * pot in the morning until its stress limit, NAN when longer than PLAN_CARD_DAYS. Errors as of
 * plan_make. */
MUST_USE enum status plan_card(const struct plan_input *input, void *room, const double *et0_mm,
                               size_t count, struct plan_card_cell *cells, double *safe_h,
                               size_t *culprit);

/* STATUS_RANGE: now outside the hours, days out of range, a figure of the nursery that cannot be.
 * STATUS_IMPOSSIBLE: a pot and mix that hold no available water. STATUS_NO_SPACE: an array of the
 * result is too short. On failure *culprit is the block at fault, or NURSERY_NONE. */
MUST_USE enum status plan_make(const struct plan_input *input, void *room,
                               struct plan_result *result, size_t *culprit);

#endif
