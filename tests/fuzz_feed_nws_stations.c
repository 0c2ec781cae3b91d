/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Any bytes as a station's reports, as a list of stations: no crash, and what is taken is sane. */
#include <string.h>

#include "daemon/feed_nws_stations.h"
#include "fuzz_hours.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size)
{
    const struct sun_site site = {33.9, -84.1, 290};
    char names[ADAPTER_ADDRESS_SIZE];
    struct feed_hours got;
    struct error error;
    if (feed_nws_stations_pick((const char *)bytes, size, &site, names, &error) == 0 &&
        !feed_nws_stations_is_list(names))
        abort();
    size_t length = size < sizeof names - 1 ? size : sizeof names - 1;
    if (length > 0)
        memcpy(names, bytes, length);
    names[length] = '\0';
    if (feed_nws_stations_is_list(names) && strlen(names) < 3)
        abort();
    if (feed_nws_stations_read((const char *)bytes, size, 1935641400, &got, &error) == 0)
        fuzz_check_hours(&got, &feed_nws_stations);
    return 0;
}
