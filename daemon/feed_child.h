/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The short-lived child that fetches (perchd-fetch): started, bounded in time and output, stopped
 * politely; what it hands back is read as if it came from a stranger.
 */
#ifndef PERCHD_DAEMON_FEED_CHILD_H
#define PERCHD_DAEMON_FEED_CHILD_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "adapter.h"
#include "core/weather.h"
#include "error.h"

struct feed_handback {
    enum adapter_outcome outcome;
    int http_status;        /* 0 without an answer */
    bool reached;           /* the host may have seen the request */
    char last_modified[64]; /* exact text, "" when none is to be sent back */
    int64_t expires_s;      /* 0 when unknown, as the next two */
    int64_t date_s;         /* the service's clock */
    int64_t retry_after_s;
    int64_t wait_s; /* not asked again before, by the answer's own words */
    int64_t issued_s;
    char address[ADAPTER_ADDRESS_SIZE]; /* to be handed in next time */
    char notes[256];                    /* what was dropped from a document, in words */
    char error[256];                    /* why there is none, in words */
    struct weather_raw *hours;          /* malloc'ed, ascending, in weather_raw's ranges */
    size_t hour_count;                  /* >= 1 with a document of hours, else 0 */
    bool has_normals;                   /* a document of normals */
    struct weather_normal normals[12];
};

/* What may end or interrupt the wait for a child. */
struct feed_wait {
    int stop_fd; /* readable: come to an end; -1: none */
    int wake_fd; /* readable: wake is called, and must make it unreadable; -1: none */
    void (*wake)(void *context); /* must leave the feeds alone */
    void *context;
};

/* Runs argv[0] (a path) with argv for at most most_s seconds, its standard output into *output
 * (malloc'ed, at most 4 MiB), standard input empty, standard error shared. wait NULL: nothing ends
 * or interrupts it. Once stop_fd is readable the child is given stop_s to finish. A child out of
 * time is told to end, a second later made to. Returns 0 when the child ended by itself with exit
 * code 0 or 1, else -1 with error; *stopped says whether stop_fd was readable by then. */
int feed_child_run(char *const argv[], int most_s, const struct feed_wait *wait, int stop_s,
                   char **output, size_t *length, bool *stopped, struct error *error);

/* Reads what the child wrote. -1 with error, *out untouched, when it is not exactly what
 * perchd-fetch writes for that adapter: a key missing or of another type, a value out of range, a
 * kind the adapter does not give, hours that do not ascend in whole hours within 10 days before and
 * 20 days after their issue. Free *out. */
int feed_handback_read(const char *bytes, size_t length, const struct adapter *adapter,
                       struct feed_handback *out, struct error *error);
void feed_handback_free(struct feed_handback *handback);

#endif
