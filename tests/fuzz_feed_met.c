/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Any bytes as a forecast document: no crash, and what is taken is sane. */
#include <math.h>
#include <stdint.h>
#include <stdlib.h>

#include "daemon/feed_met.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size);

static void need(int truth)
{
    if (!truth)
        abort();
}

static int known_within(double x, double low, double high)
{
    return isnan(x) || (x >= low && x <= high);
}

static void check_hour(const struct weather_raw *hour)
{
    need(hour->start_s % 3600 == 0 && hour->kind == WEATHER_FORECAST);
    need(known_within(hour->temperature_c, -60, 60) && known_within(hour->dewpoint_c, -70, 40));
    need(!(hour->dewpoint_c > hour->temperature_c));
    need(known_within(hour->humidity_pct, 0, 100) && known_within(hour->wind_10m_m_s, 0, 75));
    need(known_within(hour->cloud_pct, 0, 100) && known_within(hour->cloud_low_pct, 0, 100));
    need(known_within(hour->cloud_mid_pct, 0, 100) && known_within(hour->cloud_high_pct, 0, 100));
    need(known_within(hour->rain_mm, 0, 200) && known_within(hour->rain_probability, 0, 1));
    need(isnan(hour->radiation_w_m2));
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size)
{
    const struct sun_site site = {41.5678, -3.1234, 212};
    struct feed_hours met;
    struct error error;
    char words[512];
    if (feed_met_read((const char *)bytes, size, size % 2 ? &site : NULL, &met, &error) != 0)
        return 0;
    need(met.hour_count > 0);
    for (size_t i = 0; i < met.hour_count; i++) {
        check_hour(&met.hours[i]);
        need(i == 0 || met.hours[i].start_s > met.hours[i - 1].start_s);
        need(met.hours[i].issued_s == met.issued_s);
    }
    feed_hours_describe(&met, words, sizeof words);
    feed_hours_free(&met);
    return 0;
}
