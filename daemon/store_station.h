/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Readings of the nursery's own weather station, as they came. */
#ifndef PERCHD_DAEMON_STORE_STATION_H
#define PERCHD_DAEMON_STORE_STATION_H

#include "core/station.h"
#include "store.h"

/* Keeps readings, in one transaction: all or, on failure, none. A reading of a moment that is
 * there already replaces it when it says something else. Values are kept whatever they are, the
 * integrity checks judge them when the plan is made; NAN is 'not given'. via: who brought them, a
 * word for people ("file", a token's name). *changed, unless NULL, counts those new or different.
 * Returns 0, or -1 with error. Each period_s must be 10..3600. */
int store_readings_put(struct store *store, const struct station_reading *readings, size_t count,
                       const char *via, int64_t received_s, size_t *changed, struct error *error);

#endif
