/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The example nursery in a folder of a test's own. */
#ifndef PERCHD_TESTS_EXAMPLE_H
#define PERCHD_TESTS_EXAMPLE_H

#include <stdbool.h>

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

#endif
