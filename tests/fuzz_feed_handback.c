/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Any bytes as what the fetch program hands back, for each adapter: no crash, and what is taken is
 * in range. */
#include <math.h>
#include <stdint.h>
#include <stdlib.h>

#include "daemon/feed_child.h"
#include "fuzz_hours.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size);

static void need(int truth)
{
    if (!truth)
        abort();
}

static void check_normals(const struct feed_handback *got)
{
    for (size_t m = 0; m < 12; m++) {
        const struct weather_normal *normal = &got->normals[m];
        need(normal->temperature_min_c <= normal->temperature_max_c);
        need(normal->clear_ratio > 0 && normal->clear_ratio <= 1);
        need(normal->rain_mm >= 0 && normal->wet_days >= 0 && normal->wet_days <= 31);
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size)
{
    for (size_t i = 0; adapter_at(i); i++) {
        struct feed_handback got;
        struct error error;
        if (feed_handback_read((const char *)bytes, size, adapter_at(i), &got, &error) != 0)
            continue;
        need((got.outcome == ADAPTER_DOCUMENT) == (got.hour_count > 0 || got.has_normals));
        need(got.has_normals == (got.outcome == ADAPTER_DOCUMENT && adapter_at(i)->gives_normals));
        if (got.has_normals)
            check_normals(&got);
        struct feed_hours hours = {.issued_s = got.issued_s, .hours = got.hours};
        hours.hour_count = got.hour_count;
        if (got.hour_count > 0) {
            for (size_t h = 0; h < got.hour_count; h++) /* between two values not its business */
                got.hours[h].dewpoint_c = NAN;
            fuzz_check_hours(&hours, adapter_at(i));
            got.hours = NULL;
        }
        feed_handback_free(&got);
    }
    return 0;
}
