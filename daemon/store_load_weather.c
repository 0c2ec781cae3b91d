/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The third part of loading: what every source says of the weather. */
#include "store_load.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* Index of a source by name, added when it is new; RECORDS_SOURCES_MOST when there are too many. */
static size_t source_of(struct records *out, const char *name)
{
    for (size_t i = 0; i < out->source_count; i++)
        if (strcmp(out->sources[i].name, name) == 0)
            return i;
    if (out->source_count == RECORDS_SOURCES_MOST)
        return RECORDS_SOURCES_MOST;
    snprintf(out->sources[out->source_count].name, sizeof out->sources[0].name, "%s", name);
    return out->source_count++;
}

struct weather_raw store_hour_of(sqlite3_stmt *row, int from)
{
    return (struct weather_raw){
        .start_s = sqlite3_column_int64(row, from),
        .issued_s = sqlite3_column_int64(row, from + 1),
        .kind = (enum weather_kind)sqlite3_column_int(row, from + 2),
        .temperature_c = store_number(row, from + 3, NAN),
        .dewpoint_c = store_number(row, from + 4, NAN),
        .humidity_pct = store_number(row, from + 5, NAN),
        .wind_10m_m_s = store_number(row, from + 6, NAN),
        .cloud_pct = store_number(row, from + 7, NAN),
        .cloud_low_pct = store_number(row, from + 8, NAN),
        .cloud_mid_pct = store_number(row, from + 9, NAN),
        .cloud_high_pct = store_number(row, from + 10, NAN),
        .radiation_w_m2 = store_number(row, from + 11, NAN),
        .rain_mm = store_number(row, from + 12, NAN),
        .rain_probability = store_number(row, from + 13, NAN),
    };
}

static int take_offer(struct load *load, sqlite3_stmt *row)
{
    struct records *out = load->out;
    size_t source = source_of(out, store_text(row, 0));
    if (source == RECORDS_SOURCES_MOST)
        return 0;
    GROW(load, out->offers, out->offer_count);
    out->offers[out->offer_count++] =
        (struct weather_offer){.raw = store_hour_of(row, 1), .source = source};
    return 0;
}

static int take_reading(struct load *load, sqlite3_stmt *row)
{
    struct records *out = load->out;
    GROW(load, out->readings, out->reading_count);
    out->readings[out->reading_count++] = (struct station_reading){
        .end_s = sqlite3_column_int64(row, 0),
        .period_s = sqlite3_column_double(row, 1),
        .temperature_c = store_number(row, 2, NAN),
        .humidity_pct = store_number(row, 3, NAN),
        .dewpoint_c = store_number(row, 4, NAN),
        .wind_m_s = store_number(row, 5, NAN),
        .radiation_w_m2 = store_number(row, 6, NAN),
        .rain_mm = store_number(row, 7, NAN),
    };
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
    size_t index = source_of(load->out, store_text(row, 0));
    if (index == RECORDS_SOURCES_MOST)
        return 0;
    struct records_source *source = &load->out->sources[index];
    source->has_document = true;
    source->issued_s = sqlite3_column_int64(row, 1);
    source->fetched_s = sqlite3_column_int64(row, 2);
    source->first_s = sqlite3_column_int64(row, 3);
    source->end_s = sqlite3_column_int64(row, 4);
    return 0;
}

static int take_retiring(struct load *load, sqlite3_stmt *row)
{
    size_t index = source_of(load->out, store_text(row, 0));
    if (index < RECORDS_SOURCES_MOST)
        load->out->sources[index].retiring = true;
    return 0;
}

static int take_failure(struct load *load, sqlite3_stmt *row)
{
    size_t index = source_of(load->out, store_text(row, 0));
    if (index == RECORDS_SOURCES_MOST)
        return 0;
    struct records_source *source = &load->out->sources[index];
    snprintf(source->last_error, sizeof source->last_error, "%s", store_text(row, 1));
    source->last_error_s = sqlite3_column_int64(row, 2);
    return 0;
}

static struct weather_day day_of(sqlite3_stmt *row, int column)
{
    return (struct weather_day){
        .temperature_c = sqlite3_column_double(row, column),
        .dewpoint_c = sqlite3_column_double(row, column + 1),
        .wind_2m_m_s = sqlite3_column_double(row, column + 2),
        .radiation_mj_m2 = sqlite3_column_double(row, column + 3),
        .rain_mm = sqlite3_column_double(row, column + 4),
        .et0_mm = sqlite3_column_double(row, column + 5),
    };
}

static int take_trial(struct load *load, sqlite3_stmt *row)
{
    struct records *out = load->out;
    size_t source = source_of(out, store_text(row, 0));
    double age_d = (double)(load->at_s - sqlite3_column_int64(row, 1)) / CIVIL_DAY_S;
    if (source == RECORDS_SOURCES_MOST)
        return 0;
    GROW(load, out->trials, out->trial_count);
    out->trials[out->trial_count++] = (struct records_trial){
        .source = source,
        .trial = {sqlite3_column_int(row, 2), age_d > 0 ? age_d : 0, day_of(row, 4),
                  day_of(row, 10)},
        .against = (enum weather_kind)sqlite3_column_int(row, 3),
    };
    return 0;
}

/* Of every source and hour the latest issue: SQLite takes the other columns from the row of max().
 * kind 0 is WEATHER_MEASURED: an hour is measured when it is over. */
static const char offers_sql[] =
    "SELECT feed, start_s, max(issued_s), kind, temperature_c, dewpoint_c, humidity_pct,"
    " wind_10m_m_s, cloud_pct, cloud_low_pct, cloud_mid_pct, cloud_high_pct, radiation_w_m2,"
    " rain_mm, rain_probability FROM weather_hour WHERE start_s >= :first AND start_s < :end AND"
    " issued_s <= :at AND fetched_s <= :at AND (kind <> 0 OR start_s + 3600 <= :at)"
    " GROUP BY start_s, feed"
    " UNION ALL "
    "SELECT 'station', start_s, 0, 0, temperature_c, dewpoint_c, humidity_pct, wind_10m_m_s,"
    " cloud_pct, NULL, NULL, NULL, radiation_w_m2, rain_mm, NULL FROM station_hour"
    " WHERE start_s >= :first AND start_s < :end AND start_s + 3600 <= :at"
    " ORDER BY start_s, feed";

/* Trials of 60 days: their weight has fallen to a third by then. */
static const char trials_sql[] =
    "SELECT feed, end_s, lead_d, against, forecast_temperature_c, forecast_dewpoint_c,"
    " forecast_wind_2m_m_s, forecast_radiation_mj_m2, forecast_rain_mm, forecast_et0_mm,"
    " came_temperature_c, came_dewpoint_c, came_wind_2m_m_s, came_radiation_mj_m2, came_rain_mm,"
    " came_et0_mm FROM forecast_trial WHERE end_s <= :at AND end_s > :at - 86400 * 60"
    " ORDER BY feed, end_s, lead_d";

int load_weather(struct load *load)
{
    source_of(load->out, "station");
    if (load_each(load, offers_sql, take_offer) ||
        load_each(load,
                  "SELECT end_s, period_s, temperature_c, humidity_pct, dewpoint_c, wind_m_s,"
                  " radiation_w_m2, rain_mm FROM station_reading WHERE end_s > :first AND"
                  " end_s <= :at ORDER BY end_s",
                  take_reading) ||
        load_each(
            load,
            "SELECT month, tmax_c, tmin_c, dewpoint_c, wind_2m_m_s, clear_ratio, rain_mm, wet_days"
            " FROM normal WHERE (SELECT count(*) FROM normal) = 12"
            " UNION ALL "
            "SELECT month, tmax_c, tmin_c, dewpoint_c, wind_2m_m_s, clear_ratio, rain_mm, wet_days"
            " FROM feed_normal WHERE (SELECT count(*) FROM normal) <> 12 AND"
            " (SELECT count(*) FROM feed_normal) = 12 ORDER BY month",
            take_normal) ||
        load_each(load,
                  "SELECT feed, issued_s, max(fetched_s), first_s, end_s FROM feed_document"
                  " WHERE fetched_s <= :at AND issued_s <= :at GROUP BY feed ORDER BY feed",
                  take_document))
        return -1;
    if (load_each(load, trials_sql, take_trial))
        return -1;
    if (load_each(load,
                  "SELECT feed FROM feed WHERE warning <> '' AND fetched_s <= :at ORDER BY feed",
                  take_retiring))
        return -1;
    return load_each(load,
                     "SELECT feed, last_error, last_error_s FROM feed WHERE last_error <> '' AND"
                     " last_error_s <= :at ORDER BY feed",
                     take_failure);
}
