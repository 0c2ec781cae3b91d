/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The short-lived child that fetches (perchd-fetch): started, bounded in time and output, stopped
 * politely; what it hands back is read as if it came from a stranger.
 */
#ifndef PERCHD_DAEMON_FEED_CHILD_H
#define PERCHD_DAEMON_FEED_CHILD_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "core/weather.h"
#include "error.h"

enum feed_handback_outcome {
    FEED_HANDBACK_DOCUMENT,  /* hours */
    FEED_HANDBACK_UNCHANGED, /* 304 */
    FEED_HANDBACK_REFUSED,   /* 200 or 203 with a body that cannot be used */
    FEED_HANDBACK_STATUS,    /* any other HTTP status */
    FEED_HANDBACK_FAILED,    /* no HTTP answer */
};

struct feed_handback {
    enum feed_handback_outcome outcome;
    int http_status;        /* 0 without an answer */
    bool reached;           /* the host may have seen the request */
    char last_modified[64]; /* exact text, "" when none is to be sent back */
    int64_t expires_s;      /* 0 when unknown, as the next two */
    int64_t date_s;         /* the service's clock */
    int64_t retry_after_s;
    int64_t issued_s;
    char notes[256];           /* what was dropped from a document, in words */
    char error[256];           /* why there is none, in words */
    struct weather_raw *hours; /* malloc'ed, ascending, in weather_raw's ranges */
    size_t hour_count;         /* >= 1 with FEED_HANDBACK_DOCUMENT, else 0 */
};

/* Runs argv[0] (a path) with argv for at most most_s seconds, its standard output into *output
 * (malloc'ed, at most 4 MiB), standard input empty, standard error shared. Once stop_fd (-1: none)
 * is readable the child is given stop_s to finish. A child out of time is told to end, a second
 * later made to. Returns 0 when the child ended by itself with exit code 0 or 1, else -1 with
 * error; *stopped says whether stop_fd was readable by then. */
int feed_child_run(char *const argv[], int most_s, int stop_fd, int stop_s, char **output,
                   size_t *length, bool *stopped, struct error *error);

/* Reads what the child wrote. -1 with error, *out untouched, when it is not exactly what
 * perchd-fetch writes: a key missing or of another type, a value out of range, hours that do not
 * ascend in whole hours within 2 days before and 20 days after their issue. Free *out. */
int feed_handback_read(const char *bytes, size_t length, struct feed_handback *out,
                       struct error *error);
void feed_handback_free(struct feed_handback *handback);

#endif
