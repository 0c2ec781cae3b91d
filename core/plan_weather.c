/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "plan_work.h"

#include <math.h>

#include "air.h"
#include "et0.h"

/* Climate normals plan on the dry side: the 80th percentile of a day's reference ET lies 0.84
 * standard deviations above its mean, and that deviation is about 0.22 of the mean in a
 * mid-latitude summer (1.1-1.3 mm of 5-6 mm) [our choice, to be replaced by the site's own]. */
static const double normal_margin = 1.0 + 0.84 * 0.22;

/* Rain of a grid feed, past or to come, counts half until a gauge says better [our choice]. */
static const double feed_rain_share = 0.5;

/* Radiation at which the inside of a cover is warmer by its full figure: clear noon, MJ an hour. */
static const double clear_noon_mj_m2 = 3.2;

double plan_weather_margin(const struct plan_context *context, size_t h)
{
    const struct weather_hour *hour = &context->input->hours[h];
    double learnt = context->input->normal_factor > 0.0 ? context->input->normal_factor : 1.0;
    double share = hour->kind == WEATHER_NORMAL ? 1.0 : hour->normal_share;
    return h < context->now_hour ? 1.0 : 1.0 + share * (normal_margin * learnt - 1.0);
}

static enum status hour_under(const struct plan_context *context, size_t h,
                              const struct nursery_cover *cover, double *et0_mm)
{
    const struct weather_hour *hour = &context->input->hours[h];
    struct et0_hour_in in = {hour->start_s,     hour->temperature_c,   hour->vapour_pressure_kpa,
                             hour->wind_2m_m_s, hour->radiation_mj_m2, hour->clear_ratio,
                             ET0_ASCE2005,      {1.0, 0.0, false}};
    struct et0_hour_out out;
    if (cover) {
        in.cover = cover->et0;
        in.temperature_c +=
            cover->warmer_c * fmin(1.0, fmax(0.0, hour->radiation_mj_m2) / clear_noon_mj_m2);
    }
    enum status status = et0_of_hour(&context->nursery->site, &in, &out);
    if (status != STATUS_OK)
        return status;
    *et0_mm = fmax(0.0, out.et0_mm);
    *et0_mm *= plan_weather_margin(context, h);
    return STATUS_OK;
}

/* A gauge's reading spread over its hours as the feed spread its own, or evenly. */
static void apply_gauge(const struct plan_context *context, const struct nursery_gauge *gauge,
                        double *rain_mm)
{
    const struct weather_hour *hours = context->input->hours;
    double fed = 0.0;
    double count = 0.0;
    for (size_t h = 0; h < context->hour_count; h++) {
        if (hours[h].start_s >= gauge->from_s && hours[h].start_s < gauge->to_s) {
            fed += hours[h].rain_mm;
            count += 1.0;
        }
    }
    for (size_t h = 0; h < context->hour_count; h++) {
        if (hours[h].start_s >= gauge->from_s && hours[h].start_s < gauge->to_s)
            rain_mm[h] =
                fed > 0.0 ? gauge->rain_mm * hours[h].rain_mm / fed : gauge->rain_mm / count;
    }
}

static void fill_rain(const struct plan_context *context, double *rain_mm)
{
    for (size_t h = 0; h < context->hour_count; h++) {
        const struct weather_hour *hour = &context->input->hours[h];
        double share = hour->rain_kind == WEATHER_MEASURED ? 1.0
                       : hour->rain_kind == WEATHER_NORMAL ? 0.0
                                                           : feed_rain_share;
        rain_mm[h] = share * fmax(0.0, hour->rain_mm);
    }
    for (size_t g = 0; g < context->nursery->gauge_count; g++)
        apply_gauge(context, &context->nursery->gauges[g], rain_mm);
}

/* Mean wind and lowest humidity of each local day. */
static void fill_climate(struct plan_context *context)
{
    double hours_of_day[PLAN_LOCAL_DAYS_MAX] = {0};
    for (size_t d = 0; d < PLAN_LOCAL_DAYS_MAX; d++)
        context->climate[d] = (struct plan_climate){0.0, 100.0};
    for (size_t h = 0; h < context->hour_count; h++) {
        const struct weather_hour *hour = &context->input->hours[h];
        struct plan_climate *day = &context->climate[context->day_of_hour[h]];
        double humidity =
            100.0 * hour->vapour_pressure_kpa / air_saturation_kpa(hour->temperature_c);
        day->wind_2m_m_s += hour->wind_2m_m_s;
        day->humidity_min_pct = fmin(day->humidity_min_pct, humidity);
        hours_of_day[context->day_of_hour[h]] += 1.0;
    }
    for (size_t d = 0; d < PLAN_LOCAL_DAYS_MAX; d++)
        if (hours_of_day[d] > 0.0)
            context->climate[d].wind_2m_m_s /= hours_of_day[d];
}

static enum status fill_days(struct plan_context *context)
{
    const struct civil_zone *zone = &context->nursery->time_zone;
    for (size_t h = 0; h < context->hour_count; h++) {
        int64_t day = civil_days(civil_local_date(zone, plan_hour_s(context, h)));
        if (h == 0)
            context->first_day = day;
        if (day < context->first_day || day - context->first_day >= PLAN_LOCAL_DAYS_MAX)
            return STATUS_RANGE;
        context->day_of_hour[h] = (unsigned char)(day - context->first_day);
    }
    int64_t today = civil_days(civil_local_date(zone, context->input->now_s));
    context->today = (size_t)(today - context->first_day);
    return STATUS_OK;
}

static double gauged_in_a_week_mm(const struct plan_context *context)
{
    double sum_mm = 0.0;
    for (size_t g = 0; g < context->nursery->gauge_count; g++)
        if (context->nursery->gauges[g].to_s > context->input->now_s - 7 * CIVIL_DAY_S)
            sum_mm += fmax(0.0, context->nursery->gauges[g].rain_mm);
    return sum_mm;
}

enum status plan_weather_open(struct plan_context *context)
{
    enum status status = fill_days(context);
    if (status != STATUS_OK)
        return status;
    fill_climate(context);
    context->gauged_7d_mm = gauged_in_a_week_mm(context);
    size_t n = context->hour_count;
    for (size_t s = 0; s <= context->nursery->cover_count; s++) {
        const struct nursery_cover *cover = s == 0 ? NULL : &context->nursery->covers[s - 1];
        double *et0_mm = context->hourly + 2 * s * n;
        double *rain_mm = et0_mm + n;
        for (size_t h = 0; h < n && status == STATUS_OK; h++)
            status = hour_under(context, h, cover, &et0_mm[h]);
        if (status != STATUS_OK)
            return status;
        if (!cover || cover->rain)
            fill_rain(context, rain_mm);
        else
            for (size_t h = 0; h < n; h++)
                rain_mm[h] = 0.0;
        context->skies[s].et0_mm = et0_mm;
        context->skies[s].rain_mm = rain_mm;
        context->skies[s].wind_factor =
            cover && cover->et0.has_wind_factor ? cover->et0.wind_factor : 1.0;
    }
    return STATUS_OK;
}
