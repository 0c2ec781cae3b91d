/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "weather_learn.h"

#include <math.h>

#include "air.h"
#include "et0.h"

/* Our choices, see the header. */
enum {
    LAG_MOST = 2,
    LAG_HOURS_LEAST = 60,
    LEARN_DAYS_LEAST = 5,
    LEARN_DAY_HOURS = 4,
    RECENT_H = 72
};
static const double LAG_MARGIN = 0.02;
static const double HIGH_SUN_RAD = 0.3; /* below it small errors of time weigh too much */
static const double BIAS_MOST_C = 4;
static const double WINDOW_D = 60;
static const int TRIALS_LEAST = 10;
static const double RAIN_DAY_MM = 1;

static double clamp(double x, double low, double high)
{
    return fmin(fmax(x, low), high);
}

/* --- the lag of a radiation sensor -------------------------------------------------------- */

/* Sums for a correlation. */
struct pairs {
    double n, x, y, xx, yy, xy;
};

static void add_pair(struct pairs *p, double x, double y)
{
    p->n += 1;
    p->x += x;
    p->y += y;
    p->xx += x * x;
    p->yy += y * y;
    p->xy += x * y;
}

static double correlation(const struct pairs *p)
{
    double vx = p->xx - p->x * p->x / p->n;
    double vy = p->yy - p->y * p->y / p->n;
    return vx > 1e-9 && vy > 1e-9 ? (p->xy - p->x * p->y / p->n) / sqrt(vx * vy) : NAN;
}

enum status weather_radiation_lag(const struct sun_site *site, const struct weather_slot *slots,
                                  size_t count, int *lag_h)
{
    struct pairs pairs[2 * LAG_MOST + 1] = {{0}};
    for (size_t i = 0; i < count; i++) {
        const struct weather_raw *raw = &slots[i].raw;
        if (i > 0 && raw->start_s <= slots[i - 1].raw.start_s)
            return STATUS_RANGE;
        if (!status_within(raw->radiation_w_m2, 0, 1600))
            continue;
        for (int lag = -LAG_MOST; lag <= LAG_MOST; lag++) {
            struct sun_hour sun;
            enum status status = sun_of_hour(site, raw->start_s - lag * CIVIL_HOUR_S, &sun);
            if (status != STATUS_OK)
                return status;
            add_pair(&pairs[lag + LAG_MOST], sun.clear_sky_mj_m2,
                     raw->radiation_w_m2 * WEATHER_MJ_A_W);
        }
    }
    double in_time = correlation(&pairs[LAG_MOST]);
    if (pairs[0].n < LAG_HOURS_LEAST || isnan(in_time))
        return STATUS_NO_SOLUTION;
    int best = 0;
    for (int lag = -LAG_MOST; lag <= LAG_MOST; lag++)
        if (correlation(&pairs[lag + LAG_MOST]) > correlation(&pairs[best + LAG_MOST]))
            best = lag;
    *lag_h = correlation(&pairs[best + LAG_MOST]) > in_time + LAG_MARGIN ? best : 0;
    return STATUS_OK;
}

/* --- what measurements teach -------------------------------------------------------------- */

static bool is_measured(const struct weather_slot *slot, enum weather_part part)
{
    return slot->origin[part].source != WEATHER_NOBODY &&
           slot->origin[part].kind == WEATHER_MEASURED;
}

static double dewpoint_of(const struct weather_raw *raw)
{
    if (status_within(raw->dewpoint_c, -70, 40))
        return raw->dewpoint_c;
    return air_dewpoint_c(air_actual_kpa(raw->temperature_c, raw->humidity_pct));
}

/* Radiation, a day of mean solar time at a time. */
struct bright {
    int64_t day;
    int hours, days;
    double measured, estimated;         /* of the day */
    double all_measured, all_estimated; /* of the days that count */
};

static void close_day(struct bright *b)
{
    if (b->hours >= LEARN_DAY_HOURS) {
        b->days++;
        b->all_measured += b->measured;
        b->all_estimated += b->estimated;
    }
    b->hours = 0;
    b->measured = b->estimated = 0;
}

static enum status add_bright(struct bright *b, const struct sun_site *site,
                              const struct weather_slot *slot, const struct weather_hour *hour)
{
    struct sun_hour sun;
    enum status status = sun_of_hour(site, hour->start_s, &sun);
    int64_t day = civil_floor_day(hour->start_s + (int64_t)(site->longitude_deg * 240));
    if (status != STATUS_OK)
        return status;
    if (day != b->day)
        close_day(b);
    b->day = day;
    if (sun.elevation_rad < HIGH_SUN_RAD || !is_measured(slot, WEATHER_SKY) ||
        !status_within(slot->raw.radiation_w_m2, 0, 1600) ||
        hour->radiation == WEATHER_RADIATION_NORMAL)
        return STATUS_OK;
    b->hours++;
    b->measured += slot->raw.radiation_w_m2 * WEATHER_MJ_A_W;
    b->estimated += hour->radiation_mj_m2;
    return STATUS_OK;
}

/* The last 72 hours. */
struct recent {
    double hours, winds;
    double temperature, dewpoint, humidity; /* sums of forecast - measured */
    double wind, wind_forecast;
    double radiation, radiation_forecast;
};

static void add_recent(struct recent *r, const struct weather_slot *slot,
                       const struct weather_hour *hour)
{
    const struct weather_raw *raw = &slot->raw;
    double dewpoint_c = dewpoint_of(raw);
    if (hour->kind == WEATHER_NORMAL)
        return;
    if (is_measured(slot, WEATHER_AIR) && status_within(raw->temperature_c, -60, 60) &&
        isfinite(dewpoint_c)) {
        double measured_pct =
            100 * air_saturation_kpa(dewpoint_c) / air_saturation_kpa(raw->temperature_c);
        r->hours += 1;
        r->temperature += hour->temperature_c - raw->temperature_c;
        r->dewpoint += air_dewpoint_c(hour->vapour_pressure_kpa) - dewpoint_c;
        r->humidity += 100 * hour->vapour_pressure_kpa / air_saturation_kpa(hour->temperature_c) -
                       measured_pct;
    }
    if (is_measured(slot, WEATHER_WIND) && status_within(raw->wind_10m_m_s, 0, 75)) {
        r->winds += 1;
        r->wind += air_wind_2m_m_s(raw->wind_10m_m_s, 10);
        r->wind_forecast += hour->wind_2m_m_s;
    }
    if (is_measured(slot, WEATHER_SKY) && status_within(raw->radiation_w_m2, 0, 1600)) {
        r->radiation += raw->radiation_w_m2 * WEATHER_MJ_A_W;
        r->radiation_forecast += hour->radiation_mj_m2;
    }
}

static void take_recent(const struct recent *r, struct weather_learnt *out)
{
    out->hours = (int)r->hours;
    if (r->hours >= WEATHER_LEARN_HOURS) {
        out->temperature_bias_c = clamp(r->temperature / r->hours, -BIAS_MOST_C, BIAS_MOST_C);
        out->dewpoint_bias_c = clamp(r->dewpoint / r->hours, -BIAS_MOST_C, BIAS_MOST_C);
        out->humidity_bias_pct = r->humidity / r->hours;
    }
    if (r->winds >= WEATHER_LEARN_HOURS && r->wind_forecast > 0)
        out->wind_ratio = clamp(r->wind / r->wind_forecast, 0.4, 1.6);
    if (r->hours >= WEATHER_LEARN_HOURS && r->radiation_forecast > 0)
        out->radiation_ratio = r->radiation / r->radiation_forecast;
}

static enum status et0_of(const struct sun_site *site, const struct weather_hour *hour,
                          double *et0_mm)
{
    struct et0_hour_in in = {hour->start_s,     hour->temperature_c,   hour->vapour_pressure_kpa,
                             hour->wind_2m_m_s, hour->radiation_mj_m2, hour->clear_ratio,
                             ET0_ASCE2005,      {1.0, 0.0, false}};
    struct et0_hour_out out;
    enum status status = et0_of_hour(site, &in, &out);
    if (status == STATUS_OK)
        *et0_mm = fmax(0, out.et0_mm);
    return status;
}

/* Reference ET of the measured hours of the last three days over what the normals say of them. */
static enum status learn_normal_factor(const struct sun_site *site,
                                       const struct weather_normal *normals,
                                       const struct weather_slot *slots, size_t slot_count,
                                       int64_t now_s, double *factor)
{
    double measured_mm = 0;
    double normal_mm = 0;
    int hours = 0;
    for (size_t i = 0; normals && i < slot_count; i++) {
        const struct weather_slot *slot = &slots[i];
        struct weather_hour measured;
        struct weather_hour normal;
        size_t filled = 0;
        double a = 0;
        double b = 0;
        if (slot->raw.start_s < now_s - RECENT_H * CIVIL_HOUR_S ||
            slot->raw.start_s + CIVIL_HOUR_S > now_s || !is_measured(slot, WEATHER_AIR))
            continue;
        struct weather_task task = {.site = site,
                                    .normals = normals,
                                    .slots = slot,
                                    .slot_count = 1,
                                    .first_s = slot->raw.start_s,
                                    .count = 1};
        enum status status = weather_complete(&task, &measured, &filled);
        if (status == STATUS_OK)
            status = weather_from_normals(site, normals, slot->raw.start_s, &normal);
        if (status == STATUS_OK)
            status = et0_of(site, &measured, &a);
        if (status == STATUS_OK)
            status = et0_of(site, &normal, &b);
        if (status != STATUS_OK)
            return status;
        measured_mm += a;
        normal_mm += b;
        hours++;
    }
    if (hours >= WEATHER_LEARN_HOURS && normal_mm > 0)
        *factor = clamp(0.5 + 0.5 * measured_mm / normal_mm, 0.5, 1.6);
    return STATUS_OK;
}

enum status weather_learn(const struct sun_site *site, const struct weather_normal *normals,
                          const struct weather_slot *slots, size_t slot_count,
                          const struct weather_hour *without, size_t hour_count, int64_t now_s,
                          struct weather_learnt *out)
{
    struct weather_learnt learnt = {
        .radiation_factor = 1, .radiation_ratio = NAN, .wind_ratio = 1, .normal_factor = 1};
    struct bright bright = {.day = INT64_MIN};
    struct recent recent = {0};
    size_t at = 0;
    for (size_t h = 0; h < hour_count; h++) {
        const struct weather_hour *hour = &without[h];
        if (hour->start_s + CIVIL_HOUR_S > now_s)
            break;
        while (at < slot_count && slots[at].raw.start_s < hour->start_s)
            at++;
        if (at == slot_count || slots[at].raw.start_s != hour->start_s)
            continue;
        enum status status = add_bright(&bright, site, &slots[at], hour);
        if (status != STATUS_OK)
            return status;
        if (hour->start_s >= now_s - RECENT_H * CIVIL_HOUR_S)
            add_recent(&recent, &slots[at], hour);
    }
    close_day(&bright);
    if (bright.days >= LEARN_DAYS_LEAST && bright.all_estimated > 0) {
        learnt.radiation_factor = clamp(bright.all_measured / bright.all_estimated, 0.7, 1.3);
        learnt.radiation_days = bright.days;
    }
    take_recent(&recent, &learnt);
    enum status status =
        learn_normal_factor(site, normals, slots, slot_count, now_s, &learnt.normal_factor);
    if (status == STATUS_OK)
        *out = learnt;
    return status;
}

void weather_learnt_apply(const struct weather_learnt *learnt, size_t source_count,
                          struct weather_offer *offers, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        struct weather_raw *raw = &offers[i].raw;
        if (raw->kind != WEATHER_FORECAST || offers[i].source >= source_count)
            continue;
        const struct weather_learnt *l = &learnt[offers[i].source];
        raw->temperature_c -= l->temperature_bias_c;
        if (!isnan(raw->dewpoint_c))
            raw->dewpoint_c = fmin(raw->dewpoint_c - l->dewpoint_bias_c, raw->temperature_c);
        raw->wind_10m_m_s *= l->wind_ratio;
    }
}

/* --- days --------------------------------------------------------------------------------- */

enum status weather_day_of(const struct sun_site *site, const struct weather_hour *hours,
                           size_t count, struct weather_day *out)
{
    struct weather_day day = {0};
    if (!(count >= 1 && count <= 26))
        return STATUS_RANGE;
    for (size_t h = 0; h < count; h++) {
        double et0_mm = 0;
        enum status status = et0_of(site, &hours[h], &et0_mm);
        if (status != STATUS_OK)
            return status;
        day.temperature_c += hours[h].temperature_c / (double)count;
        day.dewpoint_c += air_dewpoint_c(hours[h].vapour_pressure_kpa) / (double)count;
        day.wind_2m_m_s += hours[h].wind_2m_m_s / (double)count;
        day.radiation_mj_m2 += hours[h].radiation_mj_m2;
        day.rain_mm += hours[h].rain_mm;
        day.et0_mm += et0_mm;
    }
    *out = day;
    return STATUS_OK;
}

unsigned weather_day_differs(const struct weather_day *a, const struct weather_day *b)
{
    unsigned bits = 0;
    double wind = fmax(a->wind_2m_m_s, b->wind_2m_m_s);
    double calm = fmin(a->wind_2m_m_s, b->wind_2m_m_s);
    double sun = fabs(a->radiation_mj_m2 - b->radiation_mj_m2);
    double et0 = fabs(a->et0_mm - b->et0_mm);
    if (fabs(a->temperature_c - b->temperature_c) > 2.5)
        bits |= WEATHER_DIFFERS_TEMPERATURE;
    if (fabs(a->dewpoint_c - b->dewpoint_c) > 3)
        bits |= WEATHER_DIFFERS_DEWPOINT;
    if (wind > 1.8 * calm && wind > calm + 1)
        bits |= WEATHER_DIFFERS_WIND;
    if (sun > 3 && sun > 0.25 * fmax(a->radiation_mj_m2, b->radiation_mj_m2))
        bits |= WEATHER_DIFFERS_RADIATION;
    if (fmax(a->rain_mm, b->rain_mm) >= 5 && fmin(a->rain_mm, b->rain_mm) < 1)
        bits |= WEATHER_DIFFERS_RAIN;
    if (et0 > 1 || (et0 > 0.3 && et0 > 0.25 * fmax(a->et0_mm, b->et0_mm)))
        bits |= WEATHER_DIFFERS_ET0;
    return bits;
}

/* --- how forecasts did -------------------------------------------------------------------- */

double weather_prior_sd_mm(int lead_d)
{
    static const double PRIOR[WEATHER_LEADS] = {0.8, 0.8, 0.9, 0.9, 1.0, 1.0, 1.1, 1.1, 1.2, 1.2};
    return PRIOR[lead_d < 0 ? 0 : lead_d < WEATHER_LEADS ? lead_d : WEATHER_LEADS - 1];
}

/* Weighted sums of one lead's trials. */
struct sums {
    double weight, error, size, square, temperature;
    double radiation, radiation_came, wind, wind_came;
};

static bool trial_ok(const struct weather_trial *t)
{
    const struct weather_day *f = &t->forecast;
    const struct weather_day *c = &t->came;
    return t->lead_d >= 0 && t->lead_d < WEATHER_LEADS && t->age_d >= 0 && isfinite(f->et0_mm) &&
           isfinite(c->et0_mm) && isfinite(f->temperature_c) && isfinite(c->temperature_c) &&
           isfinite(f->radiation_mj_m2) && isfinite(c->radiation_mj_m2) &&
           isfinite(f->wind_2m_m_s) && isfinite(c->wind_2m_m_s) && isfinite(f->rain_mm) &&
           isfinite(c->rain_mm);
}

static void add_trial(const struct weather_trial *t, struct sums *s, struct weather_skill *skill)
{
    double w = exp(-t->age_d / WINDOW_D);
    double error = t->forecast.et0_mm - t->came.et0_mm;
    bool wet = t->came.rain_mm >= RAIN_DAY_MM;
    bool said = t->forecast.rain_mm >= RAIN_DAY_MM;
    s->weight += w;
    s->error += w * error;
    s->size += w * fabs(error);
    s->square += w * error * error;
    s->temperature += w * (t->forecast.temperature_c - t->came.temperature_c);
    s->radiation += w * t->forecast.radiation_mj_m2;
    s->radiation_came += w * t->came.radiation_mj_m2;
    s->wind += w * t->forecast.wind_2m_m_s;
    s->wind_came += w * t->came.wind_2m_m_s;
    skill->trials++;
    skill->rain_hits += wet && said;
    skill->rain_misses += wet && !said;
    skill->rain_false += !wet && said;
}

void weather_skill_of(const struct weather_trial *trials, size_t count,
                      struct weather_skill skill[WEATHER_LEADS])
{
    struct sums sums[WEATHER_LEADS] = {{0}};
    for (int lead = 0; lead < WEATHER_LEADS; lead++)
        skill[lead] =
            (struct weather_skill){.wind_ratio = 1, .et0_sd_mm = weather_prior_sd_mm(lead)};
    for (size_t i = 0; i < count; i++)
        if (trial_ok(&trials[i]))
            add_trial(&trials[i], &sums[trials[i].lead_d], &skill[trials[i].lead_d]);
    for (int lead = 0; lead < WEATHER_LEADS; lead++) {
        const struct sums *s = &sums[lead];
        struct weather_skill *k = &skill[lead];
        if (!(s->weight > 0))
            continue;
        k->et0_bias_mm = s->error / s->weight;
        k->et0_mae_mm = s->size / s->weight;
        k->et0_rmse_mm = sqrt(s->square / s->weight);
        k->temperature_bias_c = s->temperature / s->weight;
        if (s->radiation_came > 0)
            k->radiation_bias_pct = 100 * (s->radiation / s->radiation_came - 1);
        if (s->wind > 0)
            k->wind_ratio = s->wind_came / s->wind;
        if (k->trials >= TRIALS_LEAST)
            k->et0_sd_mm = fmax(k->et0_rmse_mm, 0.7 * weather_prior_sd_mm(lead));
    }
}
