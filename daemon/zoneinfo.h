/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Reads a time zone's TZif file (RFC 8536), never the process's TZ. */
#ifndef PERCHD_DAEMON_ZONEINFO_H
#define PERCHD_DAEMON_ZONEINFO_H

#include <stddef.h>

#include "core/civil.h"
#include "error.h"

/* The offsets of an IANA zone name ("Europe/Lisbon") from 2000 to 2100, the footer's rule worked
 * out into entries. *zone owns its array: free with zoneinfo_free. Returns 0, or -1 with error. */
int zoneinfo_load(const char *name, struct civil_zone *zone, struct error *error);
void zoneinfo_free(struct civil_zone *zone);

/* The same from the bytes of a TZif file; name is for messages only. */
int zoneinfo_read(const char *name, const unsigned char *bytes, size_t length,
                  struct civil_zone *zone, struct error *error);

#endif
