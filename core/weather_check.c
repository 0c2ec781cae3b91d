/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "weather_check.h"

#include <math.h>

/* Limits. FAO-56 annex 5 and ASCE-EWRI 2005 appendix D give the forms (clear-sky envelope, limits,
 * constancy); the figures without a source of their own are our choices. */
static const double HUMIDITY_MOST_PCT = 103; /* sensors read a little over 100 in fog */
static const double NIGHT_LIGHT_W_M2 = 20;   /* no offset any more */
static const double NIGHT_RAD = -0.14;       /* at mid-hour: down during the whole hour */
static const double BRIGHT = 1.1;            /* of the clear sky, two hours running */
static const double DARK = 0.03;             /* of the clear sky, a whole day */
static const double DARK_DAY_MJ_M2 = 2;      /* a day with less sun proves nothing */
static const int DARK_HOURS = 6;             /* with the sun up, known, to judge a day */
static const double JUMP_C = 8;              /* within the hour */
static const double DRY_PCT = 40;            /* it does not rain in such air */
static const double DRY_RAIN_MM = 0.2;       /* one tip of a bucket may be dew */
static const int STUCK_H = 6;
static const int STUCK_WHOLE_H = 12; /* where a station gives whole numbers only */
static const int STUCK_FOG_H = 48;
static const double FOG_PCT = 99;
static const int STUCK_CALM_H = 24;

static bool known(double value)
{
    return !isnan(value);
}

static bool out_of(double value, double low, double high)
{
    return known(value) && !status_within(value, low, high);
}

/* --- an hour by itself -------------------------------------------------------------------- */

static enum weather_mark judge_air(const struct weather_raw *raw)
{
    bool humid = status_within(raw->humidity_pct, 0, HUMIDITY_MOST_PCT);
    if (out_of(raw->temperature_c, -60, 60) || out_of(raw->dewpoint_c, -70, 40) ||
        out_of(raw->humidity_pct, 0, HUMIDITY_MOST_PCT))
        return WEATHER_MARK_RANGE;
    if (raw->dewpoint_c > raw->temperature_c + WEATHER_DEWPOINT_OVER_C && !humid)
        return WEATHER_MARK_DEWPOINT;
    return WEATHER_MARK_GOOD;
}

static enum weather_mark judge_sky(const struct weather_raw *raw, const struct sun_hour *sun)
{
    double given = raw->radiation_w_m2 * WEATHER_MJ_A_W;
    double most = fmax(WEATHER_NIGHT_MOST_W_M2 * WEATHER_MJ_A_W,
                       WEATHER_SKY_OVER * sun->extraterrestrial_mj_m2);
    if (out_of(raw->radiation_w_m2, -WEATHER_NIGHT_MOST_W_M2, 1600) ||
        out_of(raw->cloud_pct, 0, 100))
        return WEATHER_MARK_RANGE;
    if (raw->radiation_w_m2 > NIGHT_LIGHT_W_M2 && sun->elevation_rad < NIGHT_RAD)
        return WEATHER_MARK_NIGHT;
    return given > most ? WEATHER_MARK_ABOVE_SKY : WEATHER_MARK_GOOD;
}

enum status weather_check_hour(const struct sun_site *site, struct weather_offer *offer)
{
    const struct weather_raw *raw = &offer->raw;
    struct sun_hour sun;
    enum status status = sun_of_hour(site, raw->start_s, &sun);
    if (status != STATUS_OK)
        return status;
    offer->mark[WEATHER_AIR] = judge_air(raw);
    offer->mark[WEATHER_WIND] =
        out_of(raw->wind_10m_m_s, 0, 75) ? WEATHER_MARK_RANGE : WEATHER_MARK_GOOD;
    offer->mark[WEATHER_SKY] = judge_sky(raw, &sun);
    offer->mark[WEATHER_RAIN] =
        out_of(raw->rain_mm, 0, 200) ? WEATHER_MARK_RANGE : WEATHER_MARK_GOOD;
    return STATUS_OK;
}

/* --- a sequence --------------------------------------------------------------------------- */

static void set_mark(struct weather_offer *offer, enum weather_part part, enum weather_mark mark)
{
    if (mark > offer->mark[part])
        offer->mark[part] = mark;
}

enum watched { TEMPERATURE, HUMIDITY, WIND };

static double value_of(const struct weather_offer *offer, enum watched what)
{
    return what == TEMPERATURE ? offer->raw.temperature_c
           : what == HUMIDITY  ? offer->raw.humidity_pct
                               : offer->raw.wind_10m_m_s;
}

static int64_t stuck_hours(enum watched what, double value, bool whole)
{
    if (what == HUMIDITY && value >= FOG_PCT)
        return STUCK_FOG_H;
    if (what == WIND && !(value > 0))
        return STUCK_CALM_H;
    return whole ? STUCK_WHOLE_H : STUCK_H;
}

static void check_stuck(struct weather_offer *offers, size_t count, enum watched what)
{
    bool whole = true;
    for (size_t i = 0; i < count && whole; i++) {
        double value = value_of(&offers[i], what);
        whole = isnan(value) || value == floor(value);
    }
    for (size_t first = 0, end = 0; first < count; first = end) {
        double value = value_of(&offers[first], what);
        for (end = first + 1; end < count && value_of(&offers[end], what) == value &&
                              offers[end].raw.start_s == offers[end - 1].raw.start_s + CIVIL_HOUR_S;
             end++)
            ;
        if (isnan(value) || (int64_t)(end - first) < stuck_hours(what, value, whole))
            continue;
        for (size_t i = first + 1; i < end; i++)
            set_mark(&offers[i], what == WIND ? WEATHER_WIND : WEATHER_AIR, WEATHER_MARK_STUCK);
    }
}

static bool is_bright(const struct weather_offer *offer, const struct sun_hour *sun)
{
    return sun->elevation_rad > 0 &&
           offer->raw.radiation_w_m2 * WEATHER_MJ_A_W > BRIGHT * sun->clear_sky_mj_m2;
}

/* A day's radiation beside what a clear sky would have given. */
struct dark {
    int64_t day; /* of mean solar time */
    size_t first;
    int hours;
    double given_mj_m2, clear_mj_m2;
};

static void close_day(struct weather_offer *offers, size_t end, const struct dark *d)
{
    if (d->hours < DARK_HOURS || d->clear_mj_m2 < DARK_DAY_MJ_M2 ||
        d->given_mj_m2 >= DARK * d->clear_mj_m2)
        return;
    for (size_t i = d->first; i < end; i++)
        if (known(offers[i].raw.radiation_w_m2))
            set_mark(&offers[i], WEATHER_SKY, WEATHER_MARK_DARK);
}

static void check_neighbours(struct weather_offer *before, struct weather_offer *offer)
{
    if (offer->raw.rain_mm > DRY_RAIN_MM && offer->raw.humidity_pct < DRY_PCT)
        set_mark(offer, WEATHER_RAIN, WEATHER_MARK_DRY_RAIN);
    if (before && fabs(offer->raw.temperature_c - before->raw.temperature_c) > JUMP_C)
        set_mark(offer, WEATHER_AIR, WEATHER_MARK_JUMP);
}

static enum status check_days(const struct sun_site *site, struct weather_offer *offers,
                              size_t count)
{
    struct dark dark = {.day = INT64_MIN};
    bool bright = false;
    for (size_t i = 0; i < count; i++) {
        struct sun_hour sun;
        struct weather_offer *before = i > 0 ? &offers[i - 1] : NULL;
        int64_t start_s = offers[i].raw.start_s;
        enum status status = sun_of_hour(site, start_s, &sun);
        if (status != STATUS_OK)
            return status;
        if (before && before->raw.start_s != start_s - CIVIL_HOUR_S)
            before = NULL;
        bool now_bright = is_bright(&offers[i], &sun);
        if (now_bright && bright && before) {
            set_mark(before, WEATHER_SKY, WEATHER_MARK_BRIGHT);
            set_mark(&offers[i], WEATHER_SKY, WEATHER_MARK_BRIGHT);
        }
        bright = now_bright;
        check_neighbours(before, &offers[i]);
        int64_t solar_s = start_s + CIVIL_HOUR_S / 2 + (int64_t)(site->longitude_deg * 240);
        int64_t day = civil_floor_day(solar_s);
        if (day != dark.day) {
            close_day(offers, i, &dark);
            dark = (struct dark){.day = day, .first = i};
        }
        if (sun.elevation_rad > 0 && known(offers[i].raw.radiation_w_m2)) {
            dark.hours++;
            dark.given_mj_m2 += offers[i].raw.radiation_w_m2 * WEATHER_MJ_A_W;
            dark.clear_mj_m2 += sun.clear_sky_mj_m2;
        }
    }
    close_day(offers, count, &dark);
    return STATUS_OK;
}

enum status weather_check_sensor(const struct sun_site *site, struct weather_offer *offers,
                                 size_t count)
{
    for (size_t i = 1; i < count; i++)
        if (offers[i].raw.start_s <= offers[i - 1].raw.start_s)
            return STATUS_RANGE;
    enum status status = check_days(site, offers, count);
    if (status != STATUS_OK)
        return status;
    check_stuck(offers, count, TEMPERATURE);
    check_stuck(offers, count, HUMIDITY);
    check_stuck(offers, count, WIND);
    return STATUS_OK;
}
