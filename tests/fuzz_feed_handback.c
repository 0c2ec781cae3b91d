/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Any bytes as what the fetch program hands back: no crash, and what is taken is in range. */
#include <math.h>
#include <stdint.h>
#include <stdlib.h>

#include "daemon/feed_child.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size);

static void need(int truth)
{
    if (!truth)
        abort();
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size)
{
    struct feed_handback got;
    struct error error;
    const struct adapter *adapter = adapter_find("met");
    if (feed_handback_read((const char *)bytes, size, adapter, &got, &error) != 0)
        return 0;
    need((got.outcome == ADAPTER_DOCUMENT) == (got.hour_count > 0));
    for (size_t i = 0; i < got.hour_count; i++) {
        const struct weather_raw *hour = &got.hours[i];
        need(hour->start_s % 3600 == 0);
        need(i == 0 || hour->start_s > got.hours[i - 1].start_s);
        need(isnan(hour->temperature_c) || fabs(hour->temperature_c) <= 60);
        need(isnan(hour->rain_mm) || (hour->rain_mm >= 0 && hour->rain_mm <= 200));
    }
    feed_handback_free(&got);
    return 0;
}
