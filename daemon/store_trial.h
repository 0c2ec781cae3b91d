/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Forecasts of past days beside what came, and the archive of hours they are made from. */
#ifndef PERCHD_DAEMON_STORE_TRIAL_H
#define PERCHD_DAEMON_STORE_TRIAL_H

#include "core/weather_check.h"
#include "core/weather_learn.h"
#include "store.h"

struct store_trial {
    char feed[32];
    char day[16];  /* the local date */
    int64_t end_s; /* of that day */
    int lead_d;
    enum weather_kind against;
    struct weather_day forecast, came;
};

/* Names of feeds with hours in the archive from first_s on; at most most of them, ascending. */
int store_archived_feeds(struct store *store, int64_t first_s, char names[][32], size_t most,
                         size_t *count, struct error *error);

/* A feed's hours with start in [from_s, to_s), of each the latest issue within (after_s, by_s].
 * *count of them, at most most. */
int store_archived_hours(struct store *store, const char *feed, int64_t from_s, int64_t to_s,
                         int64_t after_s, int64_t by_s, struct weather_offer *offers, size_t most,
                         size_t *count, struct error *error);

/* Keeps trials; one of the same feed, day and lead is replaced. */
int store_trials_put(struct store *store, const struct store_trial *trials, size_t count,
                     struct error *error);

/* Local date up to which trials were made, "" when none was. */
int store_trials_until(struct store *store, char day[16], struct error *error);

/* Of hours that began before before_s only the latest issue of each feed is kept. */
int store_archive_thin(struct store *store, int64_t before_s, struct error *error);

#endif
