/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Open-Meteo forecast API (of a paid or own server): a document's bytes to hours of weather.
 * Structure, units and alignment after the service's documentation page, its OpenAPI description
 * and its server's source.
 *
 * States are instants at their stamp: a slot [h, h+1) takes the mean of the instants h and h+1.
 * Radiation is the mean and rain the sum of the hour *before* the stamp: what is stamped h belongs
 * to slot h-1. The document has no issue time; it counts as issued when it was asked for. Its hours
 * that ended 12 h ago or more come from model runs that had begun by then and are of kind
 * WEATHER_ANALYSIS, younger ones may still be forecast by an older run [our choice].
 */
#ifndef PERCHD_DAEMON_FEED_OPEN_METEO_H
#define PERCHD_DAEMON_FEED_OPEN_METEO_H

#include "adapter.h"

extern const struct adapter feed_open_meteo;

/* Reads a document asked for at now_s. site, when given, is the place asked for: a grid cell more
 * than 60 km away is refused. Returns 0 and fills out (free it), or -1 with the reason in error,
 * out untouched. */
int feed_open_meteo_read(const char *bytes, size_t length, const struct sun_site *site,
                         int64_t now_s, struct feed_hours *out, struct error *error);

/* Seconds to wait after 429, by the reason's own words: a minute, until the full hour, until
 * midnight UTC; a quarter of an hour when they say nothing of it. */
int64_t feed_open_meteo_wait_s(const char *bytes, size_t length, const struct sun_site *site,
                               int64_t now_s);

#endif
