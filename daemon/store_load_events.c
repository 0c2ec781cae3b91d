/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The second part of loading: what was done. */
#include "store_load.h"

#include <math.h>
#include <string.h>

/* A report this near to a planned run speaks of that run [our choice]. */
#define REPORT_NEAR_S "1800"

static int take_weighing(struct load *load, sqlite3_stmt *row)
{
    struct nursery *n = &load->out->nursery;
    size_t block = FIND(load->out->blocks, n->block_count, store_text(row, 0));
    if (block == NURSERY_NONE) /* weighed before the block's first state */
        return 0;
    GROW(load, load->weighings, n->weighing_count);
    load->weighings[n->weighing_count++] = (struct nursery_weighing){
        .block = block,
        .at_s = sqlite3_column_int64(row, 1),
        .missing_l = sqlite3_column_double(row, 2) - sqlite3_column_double(row, 3),
    };
    return 0;
}

static int take_touch(struct load *load, sqlite3_stmt *row)
{
    struct nursery *n = &load->out->nursery;
    const char *feel = store_text(row, 2);
    const char *place = store_text(row, 3);
    size_t block = FIND(load->out->blocks, n->block_count, store_text(row, 0));
    if (block == NURSERY_NONE)
        return 0;
    GROW(load, load->touches, n->touch_count);
    load->touches[n->touch_count++] = (struct nursery_touch){
        .block = block,
        .at_s = sqlite3_column_int64(row, 1),
        .feel = strcmp(feel, "dry") == 0   ? NURSERY_DRY
                : strcmp(feel, "wet") == 0 ? NURSERY_WET
                                           : NURSERY_RIGHT,
        .place = strcmp(place, "centre") == 0 ? NURSERY_CENTRE
                 : strcmp(place, "edge") == 0 ? NURSERY_EDGE
                                              : NURSERY_CENTRE_AND_EDGE,
    };
    return 0;
}

static enum nursery_purpose purpose_of(const char *text)
{
    static const char *const names[] = {
        [NURSERY_IRRIGATION] = "irrigation",
        [NURSERY_FEED] = "feed",
        [NURSERY_WASH_IN] = "wash-in",
        [NURSERY_COOLING] = "cooling",
        [NURSERY_FROST] = "frost",
        [NURSERY_FLUSH] = "flush",
        [NURSERY_TEST] = "test",
    };
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++)
        if (strcmp(names[i], text) == 0)
            return (enum nursery_purpose)i;
    return NURSERY_IRRIGATION;
}

/* Litres of a report; negative when flow and time have to say. The pauses between reported pulses
 * gave nothing. */
static double litres_of(const struct nursery_zone *zone, sqlite3_stmt *row)
{
    double pulses = store_number(row, 5, 0);
    double minutes = (sqlite3_column_double(row, 2) - sqlite3_column_double(row, 1)) / 60;
    if (sqlite3_column_type(row, 3) != SQLITE_NULL || pulses < 2)
        return store_number(row, 3, -1);
    return zone->flow_l_min * fmax(0, minutes - (pulses - 1) * zone->pause_min);
}

static int take_run(struct load *load, sqlite3_stmt *row)
{
    struct nursery *n = &load->out->nursery;
    size_t zone = FIND(load->out->zones, n->zone_count, store_text(row, 0));
    GROW(load, load->runs, n->run_count);
    load->runs[n->run_count++] = (struct nursery_run){
        .zone = zone,
        .start_s = sqlite3_column_int64(row, 1),
        .end_s = sqlite3_column_int64(row, 2),
        .litres = zone == NURSERY_NONE ? -1 : litres_of(&load->zones[zone], row),
        .state = (enum nursery_run_state)sqlite3_column_int(row, 4),
        .purpose = purpose_of(store_text(row, 6)),
    };
    return 0;
}

static int take_gauge(struct load *load, sqlite3_stmt *row)
{
    struct nursery *n = &load->out->nursery;
    GROW(load, load->gauges, n->gauge_count);
    load->gauges[n->gauge_count++] = (struct nursery_gauge){
        .from_s = sqlite3_column_int64(row, 0),
        .to_s = sqlite3_column_int64(row, 1),
        .rain_mm = sqlite3_column_double(row, 2),
    };
    return 0;
}

/* 0..5 are enum nursery_run_state. Reports that end later than now are not known yet. What a zone
 * that reports has left unsaid is unknown, 5. */
static const char runs_sql[] =
    "SELECT zone, start_s, end_s, litres,"
    " CASE state WHEN 'reported' THEN 0 WHEN 'metered' THEN 1 ELSE 2 END AS state, pulses,"
    " purpose FROM run"
    " WHERE end_s <= :at AND end_s > :first"
    " UNION ALL "
    "SELECT zone, start_s, end_s, litres, CASE WHEN end_s > :at THEN 4 WHEN state = 'assumed' THEN"
    " 3 WHEN state = 'unreported' OR confirm IS 'reported' THEN 5 ELSE 3 END, NULL, NULL"
    " FROM planned_run AS p JOIN zone USING (zone) WHERE start_s <= :at AND end_s > :first"
    " AND NOT EXISTS (SELECT 1 FROM run AS r WHERE r.zone = p.zone AND r.end_s <= :at AND"
    "  r.start_s < p.end_s + " REPORT_NEAR_S " AND r.end_s > p.start_s - " REPORT_NEAR_S ")"
    " ORDER BY zone, start_s, end_s, state";

int load_events(struct load *load)
{
    if (load_each(load,
                  "SELECT block, at_s, capacity_kg, now_kg FROM weighing WHERE at_s <= :at AND"
                  " at_s >= :first ORDER BY block, at_s",
                  take_weighing) ||
        load_each(load,
                  "SELECT block, at_s, feel, place FROM touch_check WHERE at_s <= :at AND"
                  " at_s >= :first ORDER BY block, at_s, place",
                  take_touch) ||
        load_split_records(load) || load_each(load, runs_sql, take_run))
        return -1;
    return load_each(load,
                     "SELECT from_s, to_s, rain_mm FROM gauge WHERE to_s <= :at AND to_s > :first"
                     " ORDER BY from_s, to_s",
                     take_gauge);
}
