/* SPDX-License-Identifier: GPL-3.0-or-later */
/* JSON from outside, read strictly (RFC 8259): one value and nothing after it, well-formed UTF-8,
 * no name twice in an object, numbers within a double or 64 bits, nested no deeper than we use.
 */
#ifndef PERCHD_DAEMON_DOCUMENT_H
#define PERCHD_DAEMON_DOCUMENT_H

#include <jansson.h>
#include <stddef.h>

#include "error.h"

enum { DOCUMENT_DEPTH_MAX = 8 };

/* The caller gives the value back with json_decref. NULL with error saying what was wrong where,
 * and what is accepted. */
json_t *document_read(const char *bytes, size_t length, struct error *error);

#endif
