/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The daemon's side of fetching weather: when a request is allowed, the short-lived child that
 * makes it, checking what it hands back, storing it. The outside's bytes never enter this process.
 */
#ifndef PERCHD_DAEMON_FEED_H
#define PERCHD_DAEMON_FEED_H

#include <stdint.h>

#include "config.h"
#include "error.h"
#include "feed_child.h"
#include "store.h"

/* A clock off by more is a wrong one. */
#define FEED_CLOCK_S INT64_C(600)

enum feed_outcome {
    FEED_NOT_DUE,   /* nothing was asked; *next_s says when it will be */
    FEED_ACCEPTED,  /* new hours or normals stored */
    FEED_UNCHANGED, /* 304 */
    FEED_REFUSED,   /* an answer that cannot be used; the last good hours stay */
    FEED_FAILED,    /* no answer, or the child failed */
    FEED_CLOCK,     /* the service's clock and this computer's disagree; kept in the store */
};

/* One step of one service, one of config's: asks if it and its host may be asked, waits for the
 * child at most 60 s. fetch_program is the path of perchd-fetch. wait (NULL: nothing ends
 * the wait): once its stop_fd is readable the child is given 5 s to finish its transfer; wake may
 * read and write the store. *next_s: do not call again before. error holds the words of
 * FEED_REFUSED and FEED_FAILED; they are also kept in the store for people, unless another service
 * has hours and this one has been down for less than a day. Of FEED_ACCEPTED error holds a warning
 * that belongs in the log, or "". What is not written to the store first is not asked. */
enum feed_outcome feed_step(const struct config *config, const struct config_feed *feed,
                            struct store *store, const char *fetch_program, int64_t now_s,
                            const struct feed_wait *wait, int64_t *next_s, struct error *error);

/* Forgets fetched normals that the configuration does not ask for, or that are of another place.
 * Once at start, before the first plan. 0, or -1 with error. */
int feed_settle_normals(const struct config *config, struct store *store, struct error *error);

#endif
