/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The configuration file: sections and keys as config/perchd.conf explains them. Read once, never
 * changed; every error names file, line and key.
 */
#ifndef PERCHD_DAEMON_CONFIG_H
#define PERCHD_DAEMON_CONFIG_H

#include <stdbool.h>

#include "core/sun.h"
#include "error.h"

enum config_feed {
    CONFIG_FEED_NONE, /* climate normals only */
    CONFIG_FEED_MET,  /* MET Norway Locationforecast 2.0 'complete' */
};

struct config {
    char nursery_name[256];
    char time_zone[64]; /* IANA name, its TZif file readable */
    struct sun_site site;
    enum config_feed feed;
    char feed_url[512];     /* base, without the query; https, or http on loopback */
    char feed_contact[256]; /* mail address or web page; needed when feed is not none */
    char listen[64];        /* address, default 127.0.0.1 */
    int port;               /* 0..65535, 0 any free one, default 8321 */
    char store_path[512];
    int plan_days; /* 1..10, default 7 */
};

/* Default values, then the file. Returns 0, or -1 with error set. */
int config_load(const char *path, struct config *config, struct error *error);

#endif
