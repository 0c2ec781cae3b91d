/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The table of weather services: how each is asked, how often, and the one function that turns its
 * answers into hours. A new feed is one file with a struct adapter and one line in adapter.c.
 * perchd-fetch calls the functions; the daemon uses the rest and never meets the outside's bytes.
 */
#ifndef PERCHD_DAEMON_ADAPTER_H
#define PERCHD_DAEMON_ADAPTER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "core/sun.h"
#include "core/weather.h"
#include "error.h"
#include "feed_hours.h"

enum {
    ADAPTER_NAME_SIZE = 32,
    ADAPTER_ADDRESS_SIZE = 128,
    ADAPTER_KEY_SIZE = 256,
    ADAPTER_URL_SIZE = 1200,
};

/* The last hop's answer to one GET. */
struct adapter_answer {
    long status;  /* HTTP; 0 when none came */
    bool reached; /* the host may have seen a request: it counts against the host's patience */
    char *body;   /* malloc'ed, decoded, NUL behind it; NULL when none came */
    size_t length;
    char content_type[128];
    char last_modified[64]; /* the exact text; "" when none, too long, not plain or later than Date
                             */
    int64_t expires_s;      /* 0 when none or not a date */
    int64_t date_s;         /* the service's clock: Date, and Age where a cache answered */
    int64_t retry_after_s;  /* from now; 0 when none */
};
void adapter_answer_free(struct adapter_answer *answer); /* frees what it holds */

/* What perchd-fetch was asked for, and the way out. Texts are "" when there is none. */
struct adapter_order {
    struct sun_site site;
    int64_t now_s;                 /* the daemon's clock */
    int64_t since_s;               /* hours before it are there already; 0: none */
    const char *base;              /* URL without a query and without a slash at its end */
    const char *accept;            /* the adapter's own */
    const char *if_modified_since; /* the exact text of the last Last-Modified */
    const char *address;           /* what the last harvest's address was */
    const char *key;
    /* One GET: 0 with any HTTP answer (free it), -1 with error and only `reached` set. */
    int (*get)(void *context, const char *url, const char *accept, const char *if_modified_since,
               struct adapter_answer *answer, struct error *error);
    void *context;
};

enum adapter_outcome {
    ADAPTER_DOCUMENT,  /* hours, or normals */
    ADAPTER_UNCHANGED, /* 304 */
    ADAPTER_REFUSED,   /* 200 or 203 with a body that cannot be used */
    ADAPTER_STATUS,    /* any other HTTP status */
    ADAPTER_FAILED,    /* no HTTP answer */
};
#define ADAPTER_OUTCOMES 5
const char *adapter_outcome_name(enum adapter_outcome outcome);

/* What comes of it. */
struct adapter_harvest {
    struct adapter_answer answer; /* of the last request; reached of any */
    struct feed_hours hours;      /* with ADAPTER_DOCUMENT */
    struct weather_normal normals[12];
    bool has_normals;                   /* instead of hours */
    char address[ADAPTER_ADDRESS_SIZE]; /* to be handed in next time; printable ASCII */
    int64_t wait_s;                     /* not asked again before, where the answer says so; 0 */
};
void adapter_harvest_free(struct adapter_harvest *harvest); /* frees what it holds */

/* A service. Times in seconds. */
struct adapter {
    const char *name;     /* in [feed] sources, the store, the plan */
    const char *url;      /* base unless the configuration has another */
    const char *accept;   /* the Accept header, always the same */
    const char *absent;   /* what 404 and 410 mean, " (in words for a person)"; NULL: a wrong url */
    bool gives_normals;   /* instead of hours */
    bool takes_validator; /* answers If-Modified-Since */
    unsigned kinds;       /* bits 1 << enum weather_kind that its hours may have */
    int64_t floor_s;      /* between two requests to its host, whatever happens */
    int64_t interval_s;   /* usual */
    int64_t jitter_s;     /* added, by place */
    int64_t phase_s;      /* > 0: asked so long after a full hour (plus jitter) */
    int64_t address_keep_s;   /* how long an address holds; 0: none is used */
    bool takes_key;           /* configuration key NAME_key_file */
    const char *key_host;     /* the host that needs a key; NULL */
    const char *private_host; /* only with NAME_non_commercial = yes; NULL */
    enum adapter_outcome (*fetch)(const struct adapter_order *order, struct adapter_harvest *out,
                                  struct error *error);
};

/* NULL when there is none of that name. */
const struct adapter *adapter_find(const char *name);
/* NULL behind the last. */
const struct adapter *adapter_at(size_t index);

/* --- for adapters ------------------------------------------------------------------------- */

/* One GET, judged by its status; ADAPTER_DOCUMENT: a body that is not a web page, still to be read.
 * out->answer is replaced. */
enum adapter_outcome adapter_get(const struct adapter_order *order, const char *url,
                                 const char *if_modified_since, struct adapter_harvest *out,
                                 struct error *error);
/* Degrees with at most 4 decimals, always the same text; trimmed: without zeros at the end. */
void adapter_degrees(double degrees, bool trimmed, char out[16]);

#endif
