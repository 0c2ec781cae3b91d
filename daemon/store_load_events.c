/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The second half of loading: what was done, and the weather. */
#include "store_load.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* A report this near to a planned run speaks of that run [our choice]. */
#define REPORT_NEAR_S "1800"

/* --- what was done ------------------------------------------------------------------------ */

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

/* --- weather ------------------------------------------------------------------------------ */

static bool both_missing(double one, double other)
{
    return isnan(one) && isnan(other);
}

/* True when one of the values that decide an hour's pedigree came from next. */
static bool fill_gaps(struct weather_raw *hour, const struct weather_raw *next)
{
    bool filled = false;
    if (isnan(hour->temperature_c) && !isnan(next->temperature_c)) {
        hour->temperature_c = next->temperature_c;
        filled = true;
    }
    if (both_missing(hour->dewpoint_c, hour->humidity_pct) &&
        !both_missing(next->dewpoint_c, next->humidity_pct)) {
        hour->dewpoint_c = next->dewpoint_c;
        hour->humidity_pct = next->humidity_pct;
        filled = true;
    }
    if (isnan(hour->wind_10m_m_s) && !isnan(next->wind_10m_m_s)) {
        hour->wind_10m_m_s = next->wind_10m_m_s;
        filled = true;
    }
    if (isnan(hour->rain_mm) && !isnan(next->rain_mm)) {
        hour->rain_mm = next->rain_mm;
        hour->rain_probability = next->rain_probability;
        filled = true;
    }
    if (isnan(hour->cloud_pct) && isnan(hour->cloud_low_pct) && isnan(hour->cloud_mid_pct) &&
        isnan(hour->cloud_high_pct)) {
        hour->cloud_pct = next->cloud_pct;
        hour->cloud_low_pct = next->cloud_low_pct;
        hour->cloud_mid_pct = next->cloud_mid_pct;
        hour->cloud_high_pct = next->cloud_high_pct;
    }
    if (isnan(hour->radiation_w_m2))
        hour->radiation_w_m2 = next->radiation_w_m2;
    return filled;
}

static struct weather_raw hour_of(sqlite3_stmt *row)
{
    return (struct weather_raw){
        .start_s = sqlite3_column_int64(row, 0),
        .issued_s = sqlite3_column_int64(row, 1),
        .kind = (enum weather_kind)sqlite3_column_int(row, 2),
        .temperature_c = store_number(row, 3, NAN),
        .dewpoint_c = store_number(row, 4, NAN),
        .humidity_pct = store_number(row, 5, NAN),
        .wind_10m_m_s = store_number(row, 6, NAN),
        .cloud_pct = store_number(row, 7, NAN),
        .cloud_low_pct = store_number(row, 8, NAN),
        .cloud_mid_pct = store_number(row, 9, NAN),
        .cloud_high_pct = store_number(row, 10, NAN),
        .radiation_w_m2 = store_number(row, 11, NAN),
        .rain_mm = store_number(row, 12, NAN),
        .rain_probability = store_number(row, 13, NAN),
    };
}

/* Rows come best first within each hour. */
static int take_hour(struct load *load, sqlite3_stmt *row)
{
    struct records *out = load->out;
    struct weather_raw next = hour_of(row);
    struct weather_raw *last = out->hour_count ? &out->hours[out->hour_count - 1] : NULL;
    if (last && last->start_s == next.start_s) {
        if (fill_gaps(last, &next)) {
            last->kind = next.kind;
            last->issued_s = next.issued_s;
        }
        return 0;
    }
    GROW(load, out->hours, out->hour_count);
    out->hours[out->hour_count++] = next;
    return 0;
}

static int take_normal(struct load *load, sqlite3_stmt *row)
{
    int month = sqlite3_column_int(row, 0);
    load->out->normals[month - 1] = (struct weather_normal){
        .temperature_max_c = sqlite3_column_double(row, 1),
        .temperature_min_c = sqlite3_column_double(row, 2),
        .dewpoint_c = sqlite3_column_double(row, 3),
        .wind_2m_m_s = sqlite3_column_double(row, 4),
        .clear_ratio = sqlite3_column_double(row, 5),
        .rain_mm = sqlite3_column_double(row, 6),
        .wet_days = sqlite3_column_double(row, 7),
    };
    load->out->has_normals = month == 12; /* the table holds none or all, see store_check */
    return 0;
}

static int take_document(struct load *load, sqlite3_stmt *row)
{
    struct records_source *source = &load->out->source;
    source->has_feed = true;
    snprintf(source->name, sizeof source->name, "%s", store_text(row, 0));
    source->issued_s = sqlite3_column_int64(row, 1);
    source->fetched_s = sqlite3_column_int64(row, 2);
    source->first_s = sqlite3_column_int64(row, 3);
    source->end_s = sqlite3_column_int64(row, 4);
    return 0;
}

static int take_failure(struct load *load, sqlite3_stmt *row)
{
    struct records_source *source = &load->out->source;
    if (source->has_feed && strcmp(source->name, store_text(row, 0)) != 0)
        return 0;
    snprintf(source->name, sizeof source->name, "%s", store_text(row, 0));
    snprintf(source->last_error, sizeof source->last_error, "%s", store_text(row, 1));
    source->last_error_s = sqlite3_column_int64(row, 2);
    return 0;
}

/* --- all together ------------------------------------------------------------------------- */

/* 0..4 are enum nursery_run_state. Reports that end later than now are not known yet. */
static const char runs_sql[] =
    "SELECT zone, start_s, end_s, litres,"
    " CASE state WHEN 'reported' THEN 0 WHEN 'metered' THEN 1 ELSE 2 END AS state, pulses FROM run"
    " WHERE end_s <= :at AND end_s > :first"
    " UNION ALL "
    "SELECT zone, start_s, end_s, litres, CASE WHEN end_s > :at THEN 4 ELSE 3 END, NULL"
    " FROM planned_run AS p JOIN zone USING (zone) WHERE start_s <= :at AND end_s > :first AND"
    " (end_s > :at OR state = 'assumed' OR (state = 'planned' AND confirm IS NOT 'reported'))"
    " AND NOT EXISTS (SELECT 1 FROM run AS r WHERE r.zone = p.zone AND r.end_s <= :at AND"
    "  r.start_s < p.end_s + " REPORT_NEAR_S " AND r.end_s > p.start_s - " REPORT_NEAR_S ")"
    " ORDER BY zone, start_s, end_s, state";

int load_events(struct load *load)
{
    if (load_each(load,
                  "SELECT block, at_s, capacity_kg, now_kg FROM weighing WHERE at_s <= :at AND"
                  " at_s >= :first ORDER BY block, at_s",
                  take_weighing) ||
        load_each(load, runs_sql, take_run))
        return -1;
    return load_each(load,
                     "SELECT from_s, to_s, rain_mm FROM gauge WHERE to_s <= :at AND to_s > :first"
                     " ORDER BY from_s, to_s",
                     take_gauge);
}

/* kind 0 is WEATHER_MEASURED: an hour is measured when it is over. */
static const char hours_sql[] =
    "SELECT start_s, issued_s, kind, temperature_c, dewpoint_c, humidity_pct, wind_10m_m_s,"
    " cloud_pct, cloud_low_pct, cloud_mid_pct, cloud_high_pct, radiation_w_m2, rain_mm,"
    " rain_probability, 1 AS rank, feed FROM weather_hour WHERE start_s >= :first AND"
    " start_s < :end AND issued_s <= :at AND fetched_s <= :at AND"
    " (kind <> 0 OR start_s + 3600 <= :at)"
    " UNION ALL "
    "SELECT start_s, 0, 0, temperature_c, dewpoint_c, humidity_pct, wind_10m_m_s, cloud_pct,"
    " NULL, NULL, NULL, radiation_w_m2, rain_mm, NULL, 0, '' FROM station_hour"
    " WHERE start_s >= :first AND start_s < :end AND start_s + 3600 <= :at"
    " ORDER BY start_s, kind, rank, issued_s DESC, feed";

int load_weather(struct load *load)
{
    if (load_each(load, hours_sql, take_hour) ||
        load_each(
            load,
            "SELECT month, tmax_c, tmin_c, dewpoint_c, wind_2m_m_s, clear_ratio, rain_mm, wet_days"
            " FROM normal WHERE (SELECT count(*) FROM normal) = 12 ORDER BY month",
            take_normal) ||
        load_each(load,
                  "SELECT feed, issued_s, fetched_s, first_s, end_s FROM feed_document"
                  " WHERE fetched_s <= :at AND issued_s <= :at"
                  " ORDER BY fetched_s DESC, issued_s DESC, feed LIMIT 1",
                  take_document))
        return -1;
    return load_each(load,
                     "SELECT feed, last_error, last_error_s FROM feed WHERE last_error <> '' AND"
                     " last_error_s <= :at ORDER BY last_error_s, feed",
                     take_failure);
}
