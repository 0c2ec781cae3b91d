/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Numbers and times as the API prints them. */
#ifndef PERCHD_DAEMON_JSON_PUT_H
#define PERCHD_DAEMON_JSON_PUT_H

#include <jansson.h>
#include <stdbool.h>
#include <stdint.h>

#include "core/civil.h"

/* Rounded to `places`, so that a figure does not pretend; null when not finite. A new reference. */
json_t *json_put_number(double value, int places);

/* Sets name to RFC 3339 with the zone's offset and name_s to epoch seconds; null both when t_s is
 * 0 or before. False when memory is short. */
bool json_put_time(json_t *object, const char *name, int64_t t_s, const struct civil_zone *zone);

#endif
