/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What every subcommand that works on a nursery reads first: configuration and time zone. */
#ifndef PERCHD_DAEMON_SETUP_H
#define PERCHD_DAEMON_SETUP_H

#include "config.h"
#include "core/civil.h"
#include "error.h"
#include "store.h"

#define SETUP_CONFIG_PATH "/etc/perchd/perchd.conf"

struct setup {
    struct config config;
    struct civil_zone zone;
};

/* path NULL: SETUP_CONFIG_PATH. Returns 0, or -1 with error set; then there is nothing to clear. */
int setup_load(const char *path, struct setup *setup, struct error *error);
void setup_clear(struct setup *setup);

/* A plan needs weather: a feed, or climate normals in the store (NULL: there is no store yet).
 * Returns 0, or -1 with error naming what to give. */
int setup_check_weather(const struct setup *setup, struct store *store, struct error *error);

#endif
