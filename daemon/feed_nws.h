/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The raw grid of the US National Weather Service (api.weather.gov): a place to its grid cell, a
 * cell's document to hours of weather. Structure, intervals and units after the service's OpenAPI
 * description and its page about grid points.
 *
 * A layer is a list of values with an interval each. States (temperature, cloud, wind) hold for
 * every slot whose middle lies in the interval, equal neighbours being merged by the service; an
 * amount of precipitation is the total of its interval and spread evenly over it. A document begins
 * some hours before its issue: those are forecasts that were never checked, of kind
 * WEATHER_FORECAST like the others.
 */
#ifndef PERCHD_DAEMON_FEED_NWS_H
#define PERCHD_DAEMON_FEED_NWS_H

#include "adapter.h"

extern const struct adapter feed_nws;

/* Office and cell as "ZZZ/12,34". */
enum { FEED_NWS_CELL_SIZE = 16 };

/* Reads an answer of /points. 0, or -1 with error. */
int feed_nws_read_point(const char *bytes, size_t length, char cell[FEED_NWS_CELL_SIZE],
                        struct error *error);
/* Whether a text is a cell as above. */
bool feed_nws_is_cell(const char *text);
/* Asks /points for the order's place. */
enum adapter_outcome feed_nws_resolve(const struct adapter_order *order,
                                      struct adapter_harvest *out, char cell[FEED_NWS_CELL_SIZE],
                                      struct error *error);

/* Reads an answer of /gridpoints. site, when given, must lie in the cell's polygon, or at most
 * beside_deg beside it; *elsewhere says that this was what failed. 0, or -1 with error, *out
 * untouched. */
int feed_nws_read_grid(const char *bytes, size_t length, const struct sun_site *site,
                       double beside_deg, struct feed_hours *out, bool *elsewhere,
                       struct error *error);

/* The value in weather_raw's unit, NAN when the unit is not one of the known ones (only what
 * stands behind a colon counts) or the value is out of range. uom may be NULL: NAN. */
double feed_nws_take(enum feed_quantity quantity, const char *uom, double value);

/* 'start/duration', 'start/end' or 'duration/end'; offsets Z, +00:00, +0000, +00; durations of
 * days, hours, minutes and seconds, above 0 and at most ten days. False for anything else. */
bool feed_nws_read_interval(const char *text, int64_t *start_s, int64_t *end_s);
/* One end of it. */
bool feed_nws_read_time(const char *text, size_t length, int64_t *t_s);

#endif
