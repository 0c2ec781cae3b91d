/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One polite HTTP GET for perchd-fetch, the only program that links libcurl: bounded in time, bytes
 * and redirects, TLS verified, nothing kept between calls.
 */
#ifndef PERCHD_DAEMON_FETCH_H
#define PERCHD_DAEMON_FETCH_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "error.h"

#define FETCH_TIMEOUT_S 45 /* of all hops together; the daemon waits 60 s */

struct fetch_request {
    const char *url;
    const char *user_agent;
    const char *if_modified_since; /* sent as it is; "": not sent */
    long timeout_s;                /* 1..FETCH_TIMEOUT_S */
};

/* The last hop's answer. */
struct fetch_answer {
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

/* Whether a base URL is one that may be asked: https, or http on this computer (127.0.0.0/8, [::1],
 * localhost); no user, query or fragment. 0, or -1 with error. */
int fetch_check_url(const char *url, struct error *error);

/* 0 with any HTTP answer in *answer (free it), or -1 with the reason in error; then only `reached`
 * is set. At most 4 MiB decoded, 64 KiB of headers, 3 redirects, to https only (and to http on this
 * computer when the first URL was that). */
int fetch_get(const struct fetch_request *request, struct fetch_answer *answer,
              struct error *error);
void fetch_answer_free(struct fetch_answer *answer); /* frees what it holds */

#endif
