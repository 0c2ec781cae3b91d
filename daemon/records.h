/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Everything a plan is made of, as read from the store for one moment: the core's nursery with the
 * ids and names that core does not know, the weather hours, the normals. Immutable once loaded.
 */
#ifndef PERCHD_DAEMON_RECORDS_H
#define PERCHD_DAEMON_RECORDS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "core/nursery.h"
#include "core/weather.h"

#define RECORDS_ID_SIZE 41 /* [a-z0-9-]{1,40} */

struct records_label {
    char id[RECORDS_ID_SIZE];
    char *name; /* UTF-8, never NULL, "" when none */
};

struct records_zone_label {
    struct records_label label;
    char *post; /* as painted on the valve's post, "" when none */
};

/* A bench-tested batch of a mix. */
struct records_mix_label {
    struct records_label label;  /* of the mix */
    char batch[RECORDS_ID_SIZE]; /* "" when the mix has no batches */
    char tested[16];             /* date of the newest measurement in it */
};

/* Where the weather came from. */
struct records_source {
    bool has_feed;    /* a document was ever accepted */
    char name[32];    /* "met" */
    int64_t issued_s; /* by the document itself */
    int64_t fetched_s;
    int64_t first_s, end_s; /* hours it covered */
    char last_error[512];   /* why the last attempt gave nothing new, "" when it did */
    int64_t last_error_s;
};

struct records {
    struct nursery nursery; /* points into the arrays below */
    struct records_label *pots;
    struct records_mix_label *mixes;
    struct records_label *covers;
    struct records_label *supplies;
    struct records_zone_label *zones;
    struct records_label *blocks;
    struct weather_raw *hours; /* ascending, the best known for each hour, issued by then */
    size_t hour_count;
    struct weather_normal normals[12];
    bool has_normals;
    struct records_source source;
};

void records_free(struct records *records);

#endif
