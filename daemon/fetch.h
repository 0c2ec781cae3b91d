/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One polite HTTP GET for perchd-fetch, the only program that links libcurl: bounded in time, bytes
 * and redirects, TLS verified, nothing kept between calls.
 */
#ifndef PERCHD_DAEMON_FETCH_H
#define PERCHD_DAEMON_FETCH_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "adapter.h"
#include "error.h"

#define FETCH_TIMEOUT_S 45 /* of all hops together; the daemon waits 60 s */

struct fetch_request {
    const char *url;
    const char *user_agent;
    const char *accept;
    const char *if_modified_since; /* sent as it is; "": not sent */
    int64_t timeout_ms;            /* > 0 */
};

/* Whether a base URL is one that may be asked: https, or http on this computer (127.0.0.0/8, [::1],
 * localhost); no user, query or fragment. 0, or -1 with error. */
int fetch_check_url(const char *url, struct error *error);

/* 0 with any HTTP answer in *answer (free it), or -1 with the reason in error; then only `reached`
 * is set. At most 4 MiB decoded, 64 KiB of headers, 3 redirects, to https only (and to http on this
 * computer when the first URL was that). */
int fetch_get(const struct fetch_request *request, struct adapter_answer *answer,
              struct error *error);

/* Milliseconds of a clock that nobody sets. */
int64_t fetch_monotonic_ms(void);
#endif
