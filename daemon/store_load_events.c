/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The second part of loading: what was done. */
#include "store_load.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* A report this near to a planned run speaks of that run, unless it names another [our choice]. */

/* Metered runs speak of the flow for so long, and two of them at least [our choice]. */
#define METERED_FOR_S "1209600"
enum { METERS_LEAST = 2 };

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

/* As in CSV and in the store. */
static const char *const purposes[] = {
    [NURSERY_IRRIGATION] = "irrigation",
    [NURSERY_FEED] = "feed",
    [NURSERY_WASH_IN] = "wash-in",
    [NURSERY_COOLING] = "cooling",
    [NURSERY_FROST] = "frost",
    [NURSERY_FLUSH] = "flush",
    [NURSERY_TEST] = "test",
};

const char *store_purpose_name(enum nursery_purpose purpose)
{
    return purposes[purpose];
}

static enum nursery_purpose purpose_of(const char *text)
{
    for (size_t i = 0; i < sizeof purposes / sizeof purposes[0]; i++)
        if (strcmp(purposes[i], text) == 0)
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
        .pulses = (int)store_number(row, 5, 0),
        .pulse_min = (int)store_number(row, 7, 0),
        .pause_min = (int)store_number(row, 8, 0),
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
    " purpose, NULL, NULL FROM run"
    " WHERE end_s <= :at AND end_s > :first"
    " UNION ALL "
    "SELECT zone, start_s, end_s, litres, CASE WHEN end_s > :at THEN 4 WHEN state = 'assumed' THEN"
    " 3 WHEN state = 'unreported' OR confirm IS 'reported' THEN 5 ELSE 3 END, p.pulses,"
    " purpose, pulse_min, p.pause_min"
    " FROM planned_run AS p JOIN zone USING (zone) WHERE end_s > :first"
    " AND (start_s <= :at OR (start_s < :lead AND stands))"
    " AND " STORE_UNTOLD " ORDER BY zone, start_s, end_s, state";

/* --- what meters and permits say ------------------------------------------------------------ */

/* The last metered runs of the zone being read, newest first. */
static int take_metered(struct load *load, sqlite3_stmt *row)
{
    struct load_meter *meter = &load->meter;
    size_t zone = FIND(load->out->zones, load->out->nursery.zone_count, store_text(row, 0));
    if (zone == NURSERY_NONE)
        return 0;
    if (zone != meter->zone)
        *meter = (struct load_meter){.zone = zone};
    double minutes = (sqlite3_column_double(row, 2) - sqlite3_column_double(row, 1)) / 60 -
                     (store_number(row, 4, 1) - 1) * load->zones[zone].pause_min;
    if (meter->count == DELIVERY_METERS_MOST || !(minutes > 0))
        return 0;
    meter->litres[meter->count] = sqlite3_column_double(row, 3);
    meter->minutes[meter->count++] = minutes;
    double share = 0;
    if (meter->count >= METERS_LEAST &&
        delivery_metered_share(meter->litres, meter->minutes, meter->count,
                               load->zones[zone].flow_l_min, &share) == STATUS_OK)
        load->zones[zone].metered_share = share;
    return 0;
}

/* A flow somewhat below what it was said to be is what the plan counts on. */
static void apply_meters(struct load *load)
{
    for (size_t z = 0; z < load->out->nursery.zone_count; z++) {
        struct nursery_zone *zone = &load->zones[z];
        double share = zone->metered_share;
        if (!(share >= DELIVERY_FLOW_BROKEN && share < DELIVERY_FLOW_LOW))
            continue;
        zone->flow_l_min *= share;
        zone->rate_mm_h *= share;
        zone->emitter_l_h *= share;
    }
}

static int load_meters(struct load *load)
{
    load->meter = (struct load_meter){.zone = NURSERY_NONE};
    int result = load_each(load,
                           "SELECT zone, start_s, end_s, litres, pulses FROM run"
                           " WHERE state = 'metered' AND litres IS NOT NULL AND end_s <= :at"
                           " AND end_s > :at - " METERED_FOR_S " ORDER BY zone, end_s DESC",
                           take_metered);
    if (result == 0)
        apply_meters(load);
    return result;
}

/* The first day of the permit's period that holds `date`, counted from `from`, and the day after
 * its last. */
static void permit_period(const char *each, struct civil_date from, struct civil_date date,
                          int64_t *first, int64_t *after)
{
    int64_t today = civil_days(date);
    if (strcmp(each, "day") == 0 || strcmp(each, "week") == 0) {
        int64_t length = each[0] == 'd' ? 1 : 7;
        int64_t over = (today - civil_days(from)) % length;
        *first = today - (over < 0 ? over + length : over);
        *after = *first + length;
        return;
    }
    bool monthly = strcmp(each, "month") == 0;
    struct civil_date start = {date.year, monthly ? date.month : from.month, from.day};
    if (civil_days(start) > today) {
        start.month -= monthly ? 1 : 0;
        start.year -= monthly && start.month > 0 ? 0 : 1;
        start.month = start.month == 0 ? 12 : start.month;
    }
    struct civil_date end = start;
    end.month += monthly ? 1 : 0;
    end.year += monthly && end.month <= 12 ? 0 : 1;
    end.month = end.month > 12 ? 1 : end.month;
    *first = civil_days(start);
    *after = civil_days(end);
}

static int take_drawn(struct load *load, sqlite3_stmt *row)
{
    size_t zone = FIND(load->out->zones, load->out->nursery.zone_count, store_text(row, 0));
    if (zone == NURSERY_NONE || load->zones[zone].supply != load->permit_supply ||
        sqlite3_column_int(row, 4) == NURSERY_RUN_UNDERWAY)
        return 0; /* the plan counts what is underway */
    double litres = litres_of(&load->zones[zone], row);
    double minutes = (sqlite3_column_double(row, 2) - sqlite3_column_double(row, 1)) / 60;
    load->supplies[load->permit_supply].permit_used_l +=
        litres >= 0 ? litres : load->zones[zone].flow_l_min * minutes;
    return 0;
}

static int take_permit(struct load *load, sqlite3_stmt *row)
{
    struct civil_date from = {2001, 1, 1}; /* a Monday */
    int64_t first = 0;
    int64_t after = 0;
    size_t index = FIND(load->out->supplies, load->out->nursery.supply_count, store_text(row, 0));
    if (index == NURSERY_NONE ||
        (store_text(row, 3)[0] && civil_parse_date(store_text(row, 3), &from) != STATUS_OK))
        return 0;
    if (from.day > 28) /* every month has it */
        from.day = 28;
    permit_period(store_text(row, 2), from, civil_local_date(load->zone, load->at_s), &first,
                  &after);
    load->supplies[index].permit_l = 1000 * sqlite3_column_double(row, 1);
    load->supplies[index].permit_until_s = civil_local_to_utc(load->zone, after, 0);
    load->supplies[index].permit_from_s = civil_local_to_utc(load->zone, first, 0);
    return 0;
}

static int load_permits(struct load *load)
{
    int64_t first_s = load->first_s;
    int result = load_each(load,
                           "SELECT supply, permit_m3, permit_each, permit_from FROM supply"
                           " WHERE permit_m3 IS NOT NULL ORDER BY supply",
                           take_permit);
    for (size_t s = 0; s < load->out->nursery.supply_count && result == 0; s++) {
        if (!(load->supplies[s].permit_l > 0))
            continue;
        load->permit_supply = s;
        load->first_s = load->supplies[s].permit_from_s;
        result = load_each(load, runs_sql, take_drawn);
    }
    load->first_s = first_s;
    return result;
}

/* --- notices ------------------------------------------------------------------------------ */

static int take_notice(struct load *load, sqlite3_stmt *row)
{
    struct records *out = load->out;
    GROW(load, out->notices, out->notice_count);
    struct records_notice *notice = &out->notices[out->notice_count++];
    *notice = (struct records_notice){.since_s = sqlite3_column_int64(row, 2)};
    snprintf(notice->code, sizeof notice->code, "%s", store_text(row, 0));
    snprintf(notice->subject, sizeof notice->subject, "%s", store_text(row, 1));
    return 0;
}

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
        load_split_records(load) || load_each(load, runs_sql, take_run) || load_permits(load) ||
        load_meters(load) ||
        load_each(load,
                  "SELECT code, subject, since_s FROM notice WHERE since_s <= :at AND"
                  " (until_s IS NULL OR until_s > :at) ORDER BY code, subject",
                  take_notice))
        return -1;
    return load_each(load,
                     "SELECT from_s, to_s, rain_mm FROM gauge WHERE to_s <= :at AND to_s > :first"
                     " ORDER BY from_s, to_s",
                     take_gauge);
}
