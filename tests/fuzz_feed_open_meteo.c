/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Any bytes as a forecast document: no crash, and what is taken is sane. */
#include "daemon/feed_open_meteo.h"
#include "fuzz_hours.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size)
{
    const struct sun_site site = {41.5678, -3.1234, 212};
    struct feed_hours got;
    struct error error;
    int64_t wait_s = feed_open_meteo_wait_s((const char *)bytes, size, &site, 1935641400);
    if (wait_s < 60 || wait_s > 90000)
        abort();
    if (feed_open_meteo_read((const char *)bytes, size, size % 2 ? &site : NULL, 1935641400, &got,
                             &error) == 0)
        fuzz_check_hours(&got, &feed_open_meteo);
    return 0;
}
