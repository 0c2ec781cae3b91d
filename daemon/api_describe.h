/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The OpenAPI document: what is written by hand (docs/openapi.json), and every kind of record from
 * its columns.
 */
#ifndef PERCHD_DAEMON_API_DESCRIBE_H
#define PERCHD_DAEMON_API_DESCRIBE_H

#include "error.h"

/* The whole document, from the hand-written part at path; malloc'ed. NULL with error. */
char *api_describe(const char *path, struct error *error);

#endif
