/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The configuration file: sections and keys as config/perchd.conf explains them. Read once, never
 * changed; every error names file, line and key.
 */
#ifndef PERCHD_DAEMON_CONFIG_H
#define PERCHD_DAEMON_CONFIG_H

#include <stdbool.h>
#include <stddef.h>

#include "core/sun.h"
#include "error.h"
#include "field.h"

enum { CONFIG_FEEDS_MOST = 8, CONFIG_NAMES_MOST = 8 };

/* A weather service that is asked. */
struct config_feed {
    char name[32];      /* an adapter's */
    char url[512];      /* base, without the query; https, or http on loopback */
    char key_path[512]; /* file with the service's key, "" when none is needed */
};

struct config {
    char path[512]; /* of the file, for errors that are found later; cut when longer */
    char nursery_name[256];
    char time_zone[64]; /* IANA name, its TZif file readable */
    struct sun_site site;
    struct config_feed feeds[CONFIG_FEEDS_MOST]; /* most trusted first */
    size_t feed_count;                           /* 0: climate normals only */
    struct config_feed normals;                  /* asked once for normals; name "": never */
    char feed_contact[256];       /* mail address or web page; needed when a service is asked */
    char station_csv[512];        /* a file that grows, "" when there is none */
    double station_wind_height_m; /* 0.5..200, default 2 */
    char listen[64];              /* address, default 127.0.0.1 */
    int port;                     /* 0..65535, 0 any free one, default 8321 */
    struct field_name host_names[CONFIG_NAMES_MOST]; /* other names it answers to */
    size_t host_name_count;
    bool reading_signed_in; /* reading needs an account or a token; default: it is open */
    char tls_certificate[512], tls_key[512]; /* both, or both "": plain HTTP */
    int tls_certificate_line, tls_key_line;  /* of the file */
    char store_path[512];
    char hook_program[512]; /* called when somebody must know, "" when there is none */
    int plan_days;          /* 1..10, default 7 */
    int sheet_hour; /* 0..23 of the nursery's day, when the crew's sheet is issued, default 16 */
};

/* Default values, then the file. Returns 0, or -1 with error set. */
int config_load(const char *path, struct config *config, struct error *error);

/* The part of a URL that is the host's name and port. */
void config_url_host(const char *url, char *out, size_t size);

#endif
