/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Any bytes as a forecast document: no crash, and what is taken is sane. */
#include "daemon/feed_met.h"
#include "fuzz_hours.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size)
{
    const struct sun_site site = {41.5678, -3.1234, 212};
    struct feed_hours got;
    struct error error;
    if (feed_met_read((const char *)bytes, size, size % 2 ? &site : NULL, &got, &error) == 0)
        fuzz_check_hours(&got, &feed_met);
    return 0;
}
