/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The page's files, read once at start: what was not there then is not served later, and no
 * request opens a file.
 */
#ifndef PERCHD_DAEMON_ASSETS_H
#define PERCHD_DAEMON_ASSETS_H

#include <stddef.h>

#include "body.h"
#include "error.h"

struct asset {
    char *path;             /* as requested: "/app.js", "/img/drop.svg" */
    const char *media_type; /* with charset where it is text */
    struct body body;
};

/* Ascending by path. */
struct assets {
    struct asset *items;
    size_t count;
};

/* Reads regular files of known types below folder, three folders deep, no hidden ones, no links;
 * .js and .css without indents and without comments on lines of their own, which must hold nothing
 * else and no text that spans lines.
 * A folder without index.html is an error. Returns 0, or -1 with error set. */
int assets_load(const char *folder, struct assets *assets, struct error *error);
void assets_clear(struct assets *assets);

/* NULL when there is none; "/" is "/index.html". */
const struct asset *assets_find(const struct assets *assets, const char *path);

#endif
