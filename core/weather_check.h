/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Integrity checks of weather hours, in the spirit of FAO-56 annex 5 and ASCE-EWRI 2005 appendix D:
 * radiation against the clear sky and the sun's place, humidity against temperature, limits, stuck
 * sensors. Values are judged, never changed: a rejected one stays in the records with its mark and
 * the next source's is used.
 */
#ifndef PERCHD_CORE_WEATHER_CHECK_H
#define PERCHD_CORE_WEATHER_CHECK_H

#include "weather.h"

/* What one source says of one hour, and what the checks think of it. */
struct weather_offer {
    struct weather_raw raw;
    size_t source;
    enum weather_mark mark[WEATHER_PARTS];
};

static inline bool weather_mark_rejects(enum weather_mark mark)
{
    return mark > WEATHER_MARK_REJECTED;
}

/* Sets the marks of an hour by itself: limits, dew point above the temperature, more radiation than
 * the sun gives, radiation in the night. What is not known is good. STATUS_RANGE: a site or time
 * that sun_of_hour() refuses, marks untouched. */
MUST_USE enum status weather_check_hour(const struct sun_site *site, struct weather_offer *offer);

/* For sensors, after weather_check_hour(): what only a sequence shows. offers belong to one source,
 * ascending, at most one an hour, gaps allowed. Rejects temperature, humidity and wind that stay at
 * the very same value for 6 h or more (12 h where all are whole numbers; humidity of 99 % or more
 * 48 h; calm 24 h), from the second hour on, and radiation of a day of mean solar time below 0.03
 * of its clear sky; doubts jumps, rain in dry air and radiation above 1.1 of the clear sky for two
 * hours. STATUS_RANGE as above, and hours not ascending. */
MUST_USE enum status weather_check_sensor(const struct sun_site *site, struct weather_offer *offers,
                                          size_t count);

#endif
