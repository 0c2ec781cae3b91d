/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The example nursery in a folder of a test's own. */
#ifndef PERCHD_TESTS_EXAMPLE_H
#define PERCHD_TESTS_EXAMPLE_H

#include <stdbool.h>
#include <stdint.h>

#include "core/civil.h"
#include "daemon/config.h"
#include "daemon/error.h"
#include "daemon/store.h"

struct example {
    char folder[64];
    char config[96]; /* folder/perchd.conf, port 0 */
};

/* Writes the configuration, with feed_url as feed unless it is NULL, and imports the example's
 * records when import is true; fails the test when that fails. */
struct example example_make(const char *feed_url, bool import);
void example_remove(const struct example *nursery);

/* Writes a file into the folder. */
void example_write(const struct example *nursery, const char *name, const char *text);

/* The example with its records open in this process, at rest. */
struct office {
    struct example example;
    struct config config;
    struct civil_zone zone;
    struct store *store;
    struct error error;
};

struct office office_open(void);
void office_close(struct office *office);
/* Lets feed 'met' have given these hours, issued as the first of them says. */
void office_feed(struct office *office, const struct weather_raw *hours, size_t count);
/* Writes one CSV into the folder and imports it. */
void office_import(struct office *office, const char *name, const char *text);

/* '2026-07-10T12:00:00+01:00' as epoch seconds. */
int64_t example_time(const char *text);

#endif
