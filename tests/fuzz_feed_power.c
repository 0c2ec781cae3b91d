/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Any bytes as a document of daily values: no crash, and what is taken is sane. (Ten years do not
 * fit what a fuzzer makes up; what it finds is on the way there.) */
#include <stdlib.h>

#include "daemon/feed_power.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size)
{
    const struct sun_site site = {41.57, -3.12, 640};
    struct weather_normal normals[12];
    struct feed_hours notes;
    struct error error;
    if (feed_power_read((const char *)bytes, size, &site, 2021, normals, &notes, &error) != 0)
        return 0;
    for (size_t m = 0; m < 12; m++)
        if (!(normals[m].temperature_min_c <= normals[m].temperature_max_c &&
              normals[m].clear_ratio >= 0.1 && normals[m].clear_ratio <= 1))
            abort();
    return 0;
}
