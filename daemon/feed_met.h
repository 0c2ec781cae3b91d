/* SPDX-License-Identifier: GPL-3.0-or-later */
/* MET Norway Locationforecast 2.0 'complete': a document's bytes to hours of weather. Pure: no
 * clock, no file, no network. Structure and units after the service's METJSONForecast schema and
 * its data model page (api.met.no); docs/feed.md says how each oddity is met.
 *
 * A slot [h, h+1) takes the mean of the instants h and h+1; between instants up to 6 h apart
 * values are interpolated, and the temperature of a 6-hour block is bent to reach the block's own
 * extreme. Rain of a slot is its next_1_hours; hours without one share what the latest
 * next_6_hours over them leaves after the 1-hour amounts within it, so no rain counts twice.
 */
#ifndef PERCHD_DAEMON_FEED_MET_H
#define PERCHD_DAEMON_FEED_MET_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "core/sun.h"
#include "core/weather.h"
#include "error.h"

struct feed_met {
    int64_t issued_s;          /* the document's updated_at */
    struct weather_raw *hours; /* malloc'ed, ascending, of kind WEATHER_FORECAST */
    size_t hour_count;         /* >= 1 */
    size_t entries;            /* in the document's series */
    size_t dropped_entries;    /* without a usable time or instant, or far from the issue */
    size_t dropped_values;     /* of an unknown unit, not a number, out of range */
    size_t duplicates;         /* entries for a time that came again later: the later one counts */
    bool disordered;           /* the series was not ascending; it was sorted */
    bool cloud_doubtful;       /* all cloud is within 0..1: a fraction where per cent belongs? */
};

/* Reads a document. site, when given, is the place asked for: a document of a place more than 0.2
 * degrees away is refused. Returns 0 and fills out (free it), or -1 with the reason in error, out
 * untouched: not JSON to the letter (RFC 8259, no key twice, nothing behind it, no 'NaN', no byte
 * order mark), not a forecast, another place, no hour with a temperature. Hostile bytes only cost
 * time linear in their length. */
int feed_met_read(const char *bytes, size_t length, const struct sun_site *site,
                  struct feed_met *out, struct error *error);
void feed_met_free(struct feed_met *met); /* frees what it holds */

/* What was dropped and put right, in a line of words ("" when nothing was). */
void feed_met_describe(const struct feed_met *met, char *out, size_t size);

#endif
