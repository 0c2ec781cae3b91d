/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What every subcommand that works on a nursery reads first: configuration and time zone. */
#ifndef PERCHD_DAEMON_SETUP_H
#define PERCHD_DAEMON_SETUP_H

#include "config.h"
#include "core/civil.h"
#include "error.h"
#include "store.h"
#include "tls.h"

#define SETUP_CONFIG_PATH "/etc/perchd/perchd.conf"

/* A certificate that ends sooner should have been renewed: public ones live 90 days and less, and
 * what renews them begins a month ahead [our choice]. */
enum { SETUP_TLS_SOON_S = 7 * 86400 };

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

/* Whether a person should think again about how the service can be reached; out says about what.
 * tls: NULL when it is plain HTTP. */
bool setup_warns(const struct setup *setup, const struct tls *tls, int64_t now_s, char *out,
                 size_t size);

#endif
