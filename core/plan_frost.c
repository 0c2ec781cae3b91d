/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Frozen pots neither use nor take water: their rain lies as snow until they thaw. */
#include "plan_work.h"

/* A pot of mix follows the air with the day's lag: it is taken as frozen while the mean of the last
 * 24 h is below this, and as thawed when that mean is above the other [our choice]. */
static const double freezes_c = -1.0;
static const double thaws_c = 0.5;

enum { LAG_H = 24 };

static void mark_hours(struct plan_context *context)
{
    const struct weather_hour *hours = context->input->hours;
    double sum_c = 0.0;
    bool frozen = false;
    for (size_t h = 0; h < context->hour_count; h++) {
        sum_c += hours[h].temperature_c;
        if (h >= LAG_H)
            sum_c -= hours[h - LAG_H].temperature_c;
        double mean_c = sum_c / (double)(h < LAG_H ? h + 1 : LAG_H);
        frozen = mean_c < freezes_c || (frozen && mean_c < thaws_c);
        context->frozen[h] = frozen;
    }
}

static void freeze_sky(const struct plan_context *context, double *et0_mm, double *rain_mm)
{
    double snow_mm = 0.0;
    for (size_t h = 0; h < context->hour_count; h++) {
        if (context->frozen[h]) {
            et0_mm[h] = 0.0;
            snow_mm += rain_mm[h];
            rain_mm[h] = 0.0;
        } else if (snow_mm > 0.0) {
            rain_mm[h] += snow_mm;
            snow_mm = 0.0;
        }
    }
}

void plan_frost_open(struct plan_context *context)
{
    mark_hours(context);
    for (size_t s = 0; s <= context->nursery->cover_count; s++)
        freeze_sky(context, context->hourly + 2 * s * context->hour_count,
                   context->hourly + (2 * s + 1) * context->hour_count);
}
