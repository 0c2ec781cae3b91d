/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "setup.h"

#include <unistd.h>

#include "clock.h"
#include "zoneinfo.h"

int setup_load(const char *path, struct setup *setup, struct error *error)
{
    if (!path && access(SETUP_CONFIG_PATH, F_OK) != 0)
        return error_set(error, "no --config given, and %s is not there", SETUP_CONFIG_PATH);
    if (config_load(path ? path : SETUP_CONFIG_PATH, &setup->config, error) != 0)
        return -1;
    return zoneinfo_load(setup->config.time_zone, &setup->zone, error);
}

void setup_clear(struct setup *setup)
{
    zoneinfo_free(&setup->zone);
}

int setup_check_weather(const struct setup *setup, struct store *store, struct error *error)
{
    if (setup->config.feed_count > 0 || setup->config.normals.name[0])
        return 0;
    struct records records;
    bool normals = false;
    if (store) {
        if (store_load(store, clock_now_s(), &setup->config.site, &setup->zone, 1, 1, &records,
                       error) != 0)
            return -1;
        normals = records.has_normals;
        records_free(&records);
    }
    if (normals)
        return 0;
    return error_set(error,
                     "no weather to plan from: [feed] sources is 'none' and %s holds no climate "
                     "normals; give a feed, or import twelve months in normals.csv",
                     setup->config.store_path);
}
