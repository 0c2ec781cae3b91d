/* SPDX-License-Identifier: GPL-3.0-or-later */
/* NASA POWER, daily values of a point: ten full years to the twelve rows of a place's climate
 * normals. Parameters, units and fill values after the service's documentation.
 *
 * Each parameter's valid days are averaged over a calendar month of all years; rain and wet days
 * (1 mm or more) are the mean day's times the month's length; the clear ratio is the radiation of
 * the month's days by that of the clear sky on the same days (core/sun). A month for which a
 * parameter has fewer than 180 of about 300 days is refused, and the document with it.
 */
#ifndef PERCHD_DAEMON_FEED_POWER_H
#define PERCHD_DAEMON_FEED_POWER_H

#include "adapter.h"

extern const struct adapter feed_power;

/* Reads a document of the years [first_year, first_year + 10). Returns 0 and fills normals and
 * notes (counts of what was dropped; it holds no hours), or -1 with the reason in error, both
 * untouched: not JSON (feed_parse), another place, not in UTC, units that are not known, too few
 * days. */
int feed_power_read(const char *bytes, size_t length, const struct sun_site *site, int first_year,
                    struct weather_normal normals[12], struct feed_hours *notes,
                    struct error *error);

#endif
