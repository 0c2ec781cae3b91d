/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Writes daily documents of the size and shape of NASA POWER's, with a climate that a test can work
 * out for itself: month m is 20 + m C warmest and 10 + m C coldest every day, dew point 5 C, wind
 * 2.5 m/s, radiation 0.7 of the clear sky's, 5 mm of rain on every fifth day of the month.
 */
#ifndef PERCHD_TESTS_POWER_DOCUMENT_H
#define PERCHD_TESTS_POWER_DOCUMENT_H

#include <stddef.h>

#include "core/sun.h"

/* malloc'ed, with a NUL behind that *length does not count. Days are those of years years from
 * first_year on. */
char *power_document_write(const struct sun_site *site, int first_year, int years, size_t *length);

#endif
