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
#include "core/station.h"
#include "core/weather_check.h"
#include "core/weather_learn.h"

#define RECORDS_RUN_ID_SIZE (RECORDS_ID_SIZE + 32) /* the zone's id and when it starts */
#define RECORDS_ID_SIZE     41                     /* [a-z0-9-]{1,40} */

struct records_label {
    char id[RECORDS_ID_SIZE];
    char *name; /* UTF-8, never NULL, "" when none */
};

struct records_zone_label {
    struct records_label label;
    char *post;     /* as painted on the valve's post, "" when none */
    int walk_order; /* 1 first; 0: not said */
};

/* A bench-tested batch of a mix. */
struct records_mix_label {
    struct records_label label;  /* of the mix */
    char batch[RECORDS_ID_SIZE]; /* "" when the mix has no batches */
    char tested[16];             /* date of the newest measurement in it */
};

/* Who said so and why: of an order, a hold, a requirement. */
struct records_note {
    char id[RECORDS_ID_SIZE];
    char *who; /* never NULL, "" when not given */
    char *why;
};

/* A notice that plans have given without a break. */
struct records_notice {
    char code[32];
    char subject[RECORDS_ID_SIZE]; /* the zone, block or other thing it is about; "" the nursery */
    int64_t since_s;
};

/* Who speaks of the weather. */
struct records_source {
    char name[32];     /* "station": the nursery's own; else the feed's */
    bool has_document; /* of a feed: one was ever accepted */
    int64_t issued_s;  /* by the document itself */
    int64_t fetched_s;
    int64_t first_s, end_s; /* hours it covered */
    char last_error[512];   /* why the last attempt gave nothing new, "" when it did */
    int64_t last_error_s;
    bool retiring; /* of a feed: its last document was marked as being retired (203) */
};

#define RECORDS_SOURCES_MOST 16

/* A past day's forecast beside what came. */
struct records_trial {
    size_t source;
    struct weather_trial trial;
    enum weather_kind against; /* worst kind of the hours that came */
};

struct records {
    struct nursery nursery; /* points into the arrays below */
    struct records_label *pots;
    struct records_mix_label *mixes;
    struct records_label *covers;
    struct records_label *supplies;
    struct records_zone_label *zones;
    struct records_label *blocks;
    struct records_note *orders;
    struct records_note *holds;
    struct records_note *requirements;
    int64_t basis;                  /* counts the changes of what runs are planned by */
    struct records_notice *notices; /* ascending code, then subject */
    size_t notice_count;
    struct weather_offer *offers; /* ascending start_s; the latest issue by then of every source
                                   * for every hour; marks not set */
    size_t offer_count;
    struct station_reading *readings; /* ascending */
    size_t reading_count;
    struct records_trial *trials; /* of the last 60 days */
    size_t trial_count;
    struct records_source sources[RECORDS_SOURCES_MOST]; /* [0]: the nursery's own; feeds by name */
    size_t source_count;                                 /* >= 1 */
    struct weather_normal normals[12];
    bool has_normals;
};

/* For qsort and bsearch of notices: by code, then subject. */
int records_notice_order(const void *a, const void *b);

void records_free(struct records *records);

#endif
