/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "station.h"

#include <math.h>

#include "air.h"

enum value { TEMPERATURE, HUMIDITY, DEWPOINT, WIND, RADIATION, RAIN, VALUES };

/* One hour while its readings come in: sums by seconds, and the seconds. */
struct gathering {
    int64_t start_s;
    double sum[VALUES], seconds[VALUES];
};

static double value_of(const struct station_reading *r, enum value which)
{
    switch (which) {
    case TEMPERATURE:
        return r->temperature_c;
    case HUMIDITY:
        return r->humidity_pct;
    case DEWPOINT:
        return r->dewpoint_c;
    case WIND:
        return r->wind_m_s;
    case RADIATION:
        return r->radiation_w_m2;
    case RAIN:
        return r->rain_mm / r->period_s; /* a rate, so that all are averaged alike */
    case VALUES:
        break;
    }
    return NAN;
}

static void gather(struct gathering *g, const struct station_reading *r)
{
    double from_s = fmax((double)(r->end_s - g->start_s) - r->period_s, 0);
    double to_s = fmin((double)(r->end_s - g->start_s), CIVIL_HOUR_S);
    if (!(to_s > from_s))
        return;
    for (int v = 0; v < VALUES; v++) {
        double value = value_of(r, (enum value)v);
        if (isfinite(value)) {
            g->sum[v] += value * (to_s - from_s);
            g->seconds[v] += to_s - from_s;
        }
    }
}

static double mean_of(const struct gathering *g, enum value which)
{
    return g->seconds[which] >= STATION_COVER_LEAST * CIVIL_HOUR_S
               ? g->sum[which] / g->seconds[which]
               : NAN;
}

/* Wind at 10 m whose 2 m wind is that of the wind at height. */
static double wind_10m(double wind_m_s, double height_m)
{
    double factor = air_wind_2m_m_s(1, height_m) / air_wind_2m_m_s(1, 10);
    return wind_m_s * factor;
}

/* False when the hour says nothing. */
static bool finish(const struct gathering *g, double height_m, struct weather_raw *out)
{
    struct weather_raw hour = WEATHER_RAW_EMPTY;
    hour.start_s = g->start_s;
    hour.kind = WEATHER_MEASURED;
    hour.temperature_c = mean_of(g, TEMPERATURE);
    hour.humidity_pct = mean_of(g, HUMIDITY);
    hour.dewpoint_c = mean_of(g, DEWPOINT);
    hour.wind_10m_m_s = wind_10m(mean_of(g, WIND), height_m);
    hour.radiation_w_m2 = mean_of(g, RADIATION);
    hour.rain_mm = CIVIL_HOUR_S * mean_of(g, RAIN);
    bool says = !isnan(hour.temperature_c) || !isnan(hour.humidity_pct) ||
                !isnan(hour.dewpoint_c) || !isnan(hour.wind_10m_m_s) ||
                !isnan(hour.radiation_w_m2) || !isnan(hour.rain_mm);
    if (says)
        *out = hour;
    return says;
}

static bool readings_ok(const struct station_reading *readings, size_t count)
{
    for (size_t i = 0; i < count; i++)
        if (!status_within(readings[i].period_s, 10, CIVIL_HOUR_S) ||
            (i > 0 && readings[i].end_s < readings[i - 1].end_s))
            return false;
    return true;
}

static bool is_last_of_its_time(const struct station_reading *readings, size_t count, size_t i)
{
    return i + 1 == count || readings[i + 1].end_s != readings[i].end_s;
}

enum status station_hours(const struct station_reading *readings, size_t reading_count,
                          double wind_height_m, int64_t now_s, struct weather_raw *hours,
                          size_t capacity, size_t *hour_count)
{
    size_t made = 0;
    if (!readings_ok(readings, reading_count) || !status_within(wind_height_m, 0.5, 200))
        return STATUS_RANGE;
    /* A reading reaches into two hours at most: the one it ends in and the one before. */
    for (size_t first = 0; first < reading_count;) {
        struct gathering g = {.start_s = civil_floor_hour(readings[first].end_s - 1)};
        int64_t end_s = g.start_s + CIVIL_HOUR_S;
        size_t i = first;
        size_t next = reading_count;
        for (; i < reading_count && readings[i].end_s < end_s + CIVIL_HOUR_S; i++) {
            if (readings[i].end_s > end_s && next == reading_count)
                next = i;
            if (is_last_of_its_time(readings, reading_count, i))
                gather(&g, &readings[i]);
        }
        first = next < i ? next : i;
        if (end_s > now_s)
            break;
        if (made == capacity)
            return STATUS_NO_SPACE;
        made += finish(&g, wind_height_m, &hours[made]) ? 1 : 0;
    }
    *hour_count = made;
    return STATUS_OK;
}
