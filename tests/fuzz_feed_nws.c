/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Any bytes as a document of the grid, as one of a point, as an interval: no crash, and what is
 * taken is sane. */
#include <string.h>

#include "daemon/feed_nws.h"
#include "fuzz_hours.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size);

static void read_interval(const uint8_t *bytes, size_t size)
{
    char text[80];
    int64_t start_s = 0;
    int64_t end_s = 0;
    size_t length = size < sizeof text - 1 ? size : sizeof text - 1;
    memcpy(text, bytes, length);
    text[length] = '\0';
    if (feed_nws_read_interval(text, &start_s, &end_s) && end_s <= start_s)
        abort();
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size)
{
    const struct sun_site site = {33.9, -84.1, 290};
    char cell[FEED_NWS_CELL_SIZE];
    struct feed_hours got;
    struct error error;
    bool elsewhere = false;
    if (size > 0)
        read_interval(bytes, size);
    if (feed_nws_read_point((const char *)bytes, size, cell, &error) == 0 &&
        !feed_nws_is_cell(cell))
        abort();
    if (feed_nws_read_grid((const char *)bytes, size, size % 2 ? &site : NULL, 0, &got, &elsewhere,
                           &error) == 0)
        fuzz_check_hours(&got, &feed_nws);
    return 0;
}
