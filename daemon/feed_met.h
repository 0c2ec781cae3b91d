/* SPDX-License-Identifier: GPL-3.0-or-later */
/* MET Norway Locationforecast 2.0 'complete': a document's bytes to hours of weather. Structure and
 * units after the service's METJSONForecast schema and its data model page (api.met.no);
 * docs/feed.md says how each oddity is met.
 *
 * A slot [h, h+1) takes the mean of the instants h and h+1; between instants up to 6 h apart
 * values are interpolated, and the temperature of a 6-hour block is bent to reach the block's own
 * extreme. Rain of a slot is its next_1_hours; hours without one share what the latest
 * next_6_hours over them leaves after the 1-hour amounts within it, so no rain counts twice.
 */
#ifndef PERCHD_DAEMON_FEED_MET_H
#define PERCHD_DAEMON_FEED_MET_H

#include "adapter.h"

extern const struct adapter feed_met;

/* Reads a document. site, when given, is the place asked for: a document of a place more than 0.2
 * degrees away is refused. Returns 0 and fills out (free it), or -1 with the reason in error, out
 * untouched: not JSON (feed_parse), not a forecast, another place, no hour with a temperature. */
int feed_met_read(const char *bytes, size_t length, const struct sun_site *site,
                  struct feed_hours *out, struct error *error);

#endif
