/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a request's head said, and whether it may be answered at all: pure functions on text, in
 * the order in which a server meets it. The server itself (http.c) only carries the pieces here.
 */
#ifndef PERCHD_DAEMON_REQUEST_H
#define PERCHD_DAEMON_REQUEST_H

#include <stdbool.h>
#include <stddef.h>

#include "assets.h"
#include "field.h"
#include "problem.h"
#include "route.h"

/* The same for every request of a server. */
struct request_rules {
    const struct assets *assets;
    struct field_host own;
    size_t body_bytes;       /* most a request may bring */
    size_t body_drain_bytes; /* longer chunked bodies are read up to here, so that 413 arrives */
};

struct request {
    bool begun; /* the head has been read */
    bool nul;   /* an encoded NUL in the target */
    bool query;
    bool if_match, if_none_match;
    unsigned hosts, lengths, codings_sent;
    size_t received;  /* of the body */
    const char *path; /* decoded; valid as long as the connection's memory, as those below */
    /* Fields, "" when the request had none. */
    const char *authorization, *cookie, *origin, *content_type, *content_encoding;
    struct route route;
    struct field_codings codings;
    struct field_accept accept;
    struct problem refusal; /* status 0: none; the first that was found stays */
};

/* target: as it came, before anything is decoded. */
void request_begin(struct request *request, const char *target);

/* url: the target's path (or absolute form), decoded, without query. */
void request_take_url(struct request *request, const struct request_rules *rules, const char *url);

/* After the url, for each field line. value NULL: the line had none. */
void request_take_field(struct request *request, const struct request_rules *rules,
                        const char *name, size_t name_size, const char *value);

/* After the last field. With a refusal the connection must be closed after it: what follows on it
 * could be the body as well as the next request. */
void request_end_head(struct request *request);

/* A piece of the body: counts it. False: so much that the connection is to be closed
 * without an answer. */
bool request_take_body(struct request *request, const struct request_rules *rules, size_t size);

/* The route reads a body that comes with this method. */
bool request_reads_body(const struct request *request, const char *method);

/* After the body: PROBLEM_NONE when the resource itself is to answer. What is detailed stays valid
 * as long as the program runs. */
struct problem request_judge(const struct request *request, const struct request_rules *rules,
                             const char *method);

#endif
