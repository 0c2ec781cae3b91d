/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is asked of /api/v1 beyond finished bodies: records, reports, signing in. A job of the
 * worker's: a request's parts go in, an answer comes out; no sockets here. Every write is on disk
 * before its answer exists.
 */
#ifndef PERCHD_DAEMON_API_H
#define PERCHD_DAEMON_API_H

#include <pthread.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "access.h"
#include "body.h"
#include "config.h"
#include "core/civil.h"
#include "kind.h"
#include "problem.h"
#include "snapshot.h"
#include "store.h"
#include "worker.h"

/* The path below /api/v1 in its parts. */
enum api_resource {
    API_NONE,
    API_RECORDS,  /* /blocks */
    API_RECORD,   /* /blocks/KEY */
    API_READINGS, /* /weather/readings */
    API_SESSION,  /* /session */
    API_AUDIT,    /* /audit */
    API_WORKING,  /* /blocks/ID/working */
    API_PREVIEW,  /* /blocks/ID/preview */
    API_HOURS,    /* /blocks/ID/hours */
    API_SHEETS,   /* /sheets */
    API_SHEET,    /* /sheets/NUMBER */
    API_CHECKS,   /* /checks */
    API_FORETOLD, /* /predictions */
    API_CARD,     /* /card */
    API_CARD_TXT, /* /card.txt, at the root */
    API_HISTORY,  /* /records.csv, at the root */
};

struct api_path {
    enum api_resource resource;
    const struct kind *kind; /* of records */
    const char *key;         /* the rest of the path, in it */
    const char *allow;       /* methods */
};

/* path: after '/api/v1'. API_NONE when nothing is there. */
struct api_path api_path_find(const char *path);

/* Works out a plan: not for a thread that others wait for. */
bool api_is_long(const char *method, const char *path);

/* Texts are NUL-terminated, "" when the request had none, and live as long as the call. */
struct api_request {
    const char *method;
    const char *path; /* after '/api/v1' */
    const char *query;
    const char *authorization, *cookie, *origin;
    const char *media_type;
    const char *if_match, *if_none_match; /* lists of several lines joined */
    const char *address;                  /* who asks, for throttling */
    const char *body;
    size_t body_length;
    bool secure;                  /* over TLS */
    enum field_language language; /* to answer in */
    enum access_right gate; /* ACCESS_NOTHING; else only asked: may whoever this is do that? */
};

#define API_LOCATION_SIZE 640

struct api_answer {
    bool passed; /* the gate is open; there is nothing else in the answer */
    unsigned status;
    struct body body; /* empty when there is none */
    const char *media_type;
    const char *language; /* of the words in the body, a tag; NULL: none a reader would miss */
    bool tagged;          /* the body's tag is the resource's */
    bool packed;          /* may be sent as gzip */
    char location[API_LOCATION_SIZE];
    char cookie[256]; /* Set-Cookie */
    const char *allow;
    int retry_after_s;
    int64_t change; /* 0; else the answer is to be sent once a plan was made with this change */
};

void api_answer_clear(struct api_answer *answer);

/* All that is pointed to must outlive the api. */
struct api_options {
    const struct config *config;
    const struct civil_zone *zone;
    struct snapshot_cell *cell; /* what is served just now; may be NULL */
    /* Records changed: plan again. Returns the number of the change, see cycle_wake. May be NULL.
     */
    int64_t (*changed)(void *context);
    void *context;
    struct api *beside; /* of another thread, with which wrong secrets are counted; NULL: alone */
    /* What was asked for has read its records, and works out its plan or has it, writing nothing
     * yet. For tests; may be NULL. */
    void (*planning)(void *context);
};

/* What the worker's thread has. */
struct api {
    struct api_options options;
    struct store *store;   /* its own connection */
    pthread_mutex_t mutex; /* guards failures */
    struct access_failures failures;
    char said[sizeof(struct error)]; /* the store's last complaint, said once */
};

/* NULL with error set when the store cannot be opened. */
struct api *api_open(const struct api_options *options, struct error *error);
void api_close(struct api *api); /* NULL is fine */

/* Always leaves an answer; status 0 when memory is short. */
void api_answer(struct api *api, const struct api_request *request, struct api_answer *answer);

#endif
