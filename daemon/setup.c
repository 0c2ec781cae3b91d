/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "setup.h"

#include <stdio.h>
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

bool setup_warns(const struct setup *setup, const struct tls *tls, int64_t now_s, char *out,
                 size_t size)
{
    const struct config *config = &setup->config;
    char day[CIVIL_TEXT];
    if (!tls && !field_address_loopback(config->listen)) {
        snprintf(out, size,
                 "listen = %s without TLS: passwords, cookies and tokens can be read and used on "
                 "the way; give tls_certificate and tls_key, or listen on 127.0.0.1 with a proxy "
                 "that does TLS in front",
                 config->listen);
        return true;
    }
    if (!tls || tls_until_s(tls) > now_s + SETUP_TLS_SOON_S)
        return false;
    civil_format_rfc3339(tls_until_s(tls), civil_offset_at(&setup->zone, tls_until_s(tls)), day);
    snprintf(out, size, "tls_certificate: it %s on %.10s; renew it",
             tls_until_s(tls) > now_s ? "ends" : "ended", day);
    return true;
}
