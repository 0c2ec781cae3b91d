/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What was planned, what ran, what was weighed and gauged, in the order of time. */
#ifndef PERCHD_DAEMON_STORE_HISTORY_H
#define PERCHD_DAEMON_STORE_HISTORY_H

#include "store.h"

/* Texts are "" and numbers NAN where a record has none; valid during the call. */
struct store_history {
    const char *record; /* "planned", "run", "weighing", "gauge" */
    const char *zone, *block, *key, *state;
    int64_t start_s, end_s; /* equal for a moment */
    double litres, capacity_kg, now_kg, rain_mm;
};

/* Records that start from from_s on and before to_s. Returns 0, or -1 with error. */
int store_history_each(struct store *store, int64_t from_s, int64_t to_s,
                       void (*take)(void *context, const struct store_history *line), void *context,
                       struct error *error);

#endif
