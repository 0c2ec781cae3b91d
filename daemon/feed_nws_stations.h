/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What weather stations near the place observed (api.weather.gov): the stations of the place's grid
 * cell, the nearest one's reports to whole hours. Structure, units and quality letters after the
 * service's OpenAPI description and the MADIS quality control page it refers to.
 *
 * Reports come at odd minutes. States are interpolated in time to the whole hours and a slot takes
 * the mean of its two ends; rain of the last hour goes into the slot that holds the moment half an
 * hour before the report. Measured, but not on the site: of kind WEATHER_ANALYSIS.
 */
#ifndef PERCHD_DAEMON_FEED_NWS_STATIONS_H
#define PERCHD_DAEMON_FEED_NWS_STATIONS_H

#include "adapter.h"

extern const struct adapter feed_nws_stations;

/* Reads an answer of /gridpoints/.../stations: the names of the nearest stations, at most three,
 * nearest first, with commas; none farther than 40 km or 250 m higher or lower. 0, or -1 with
 * error. */
int feed_nws_stations_pick(const char *bytes, size_t length, const struct sun_site *site,
                           char out[ADAPTER_ADDRESS_SIZE], struct error *error);
/* Whether a text is such a list. */
bool feed_nws_stations_is_list(const char *text);

/* Reads an answer of /stations/.../observations; out->issued_s is the newest report used. 0, or -1
 * with error, *out untouched. */
int feed_nws_stations_read(const char *bytes, size_t length, int64_t now_s, struct feed_hours *out,
                           struct error *error);

#endif
