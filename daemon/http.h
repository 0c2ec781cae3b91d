/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The HTTP side: listens, limits, answers reads from finished bodies. Runs on one thread, driven
 * from outside: wait until http_fd() is readable or as long as http_turn() said, but never above
 * HTTP_SLEEP_MAX_MS, then call http_turn() again.
 */
#ifndef PERCHD_DAEMON_HTTP_H
#define PERCHD_DAEMON_HTTP_H

#include <stdatomic.h>
#include <stdbool.h>
#include <stddef.h>

#include "assets.h"
#include "core/civil.h"
#include "error.h"
#include "field.h"
#include "snapshot.h"
#include "tls.h"
#include "worker.h"

/* At its connection limit the library (libmicrohttpd 0.9.75) stops watching the listening socket
 * and looks at it again only in the next turn: a longer sleep would leave it deaf. */
#define HTTP_SLEEP_MAX_MS 1000

struct http_limits {
    unsigned connections;     /* at once; more wait in the kernel's queue */
    unsigned idle;            /* at once; above it the one that has waited longest is closed */
    unsigned per_address;     /* at once from one address that is not loopback (a proxy), 0: any */
    bool loopback_counts;     /* for tests: per_address holds for loopback too */
    unsigned idle_s;          /* without a byte in either direction */
    unsigned head_s;          /* from connecting or the answer before, to the end of the headers */
    unsigned body_s;          /* from there to the end of the request's body */
    unsigned reply_s;         /* to send the answer, slow line or not */
    size_t body_bytes;        /* most a request may bring */
    size_t body_drain_bytes;  /* longer chunked bodies are read up to here, so that 413 arrives */
    size_t bodies_bytes;      /* kept at once, of all requests; more get 503 */
    size_t connection_memory; /* bounds request line and headers */
};

#define HTTP_LIMITS_DEFAULT                                                                        \
    {                                                                                              \
        .connections = 1200, .idle = 1000, .per_address = 50, .loopback_counts = false,            \
        .idle_s = 15, .head_s = 20, .body_s = 30, .reply_s = 300, .body_bytes = 65536,             \
        .body_drain_bytes = 1 << 20, .bodies_bytes = 4 << 20, .connection_memory = 8192            \
    }

struct http_options {
    const char *listen; /* address, copied */
    int port;           /* 0: any free one */
    struct http_limits limits;
    const struct assets *assets;   /* must outlive the server */
    struct snapshot_cell *cell;    /* likewise */
    const struct civil_zone *zone; /* likewise: the nursery's, for times */
    const char *description;       /* OpenAPI, copied; NULL: none is served */
    struct worker *worker; /* likewise; its context is a struct api. NULL: 503 for its part */
    struct worker
        *long_worker; /* for what takes long, see api_path_is_long; NULL: worker does it */
    const struct field_name *host_names; /* likewise: other names it answers to */
    size_t host_name_count;
    const struct tls *tls;    /* likewise; NULL: plain HTTP */
    _Atomic int64_t *asked_s; /* likewise: when somebody last asked what is due; NULL: not wanted */
    bool reading_signed_in;   /* plan and records only for who has an account or a token */
};

struct http;

/* Listens. NULL with error set when it cannot. */
struct http *http_open(const struct http_options *options, struct error *error);

/* Closes every connection. NULL is fine. */
void http_close(struct http *http);

/* The port it listens on. */
int http_port(const struct http *http);

/* 'http://127.0.0.1:PORT/', with TLS https: where a browser on this machine finds it. */
void http_address(const struct http *http, char *out, size_t size);

int http_fd(const struct http *http);

/* Serves what is ready, takes over a newly published snapshot, cuts off connections past a
 * deadline. Returns the milliseconds until the next turn is due at the latest. */
int http_turn(struct http *http);

#endif
