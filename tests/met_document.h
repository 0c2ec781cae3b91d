/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Writes Locationforecast documents of the size and shape of real ones, with weather that a test
 * can work out for itself: 50 hourly entries with 1-hour and 6-hour blocks, at least 5 hourly ones
 * with a 1-hour block only, a 6-hourly tail, one entry with nothing but its instant at the end.
 */
#ifndef PERCHD_TESTS_MET_DOCUMENT_H
#define PERCHD_TESTS_MET_DOCUMENT_H

#include <stddef.h>
#include <stdint.h>

#include "core/sun.h"

struct met_document {
    struct sun_site site; /* echoed in the geometry */
    int64_t issued_s;
    int64_t first_s; /* of the first entry, on the hour */
    double mean_c;
    double range_c;    /* highest minus lowest of every day */
    double dewpoint_c; /* constant */
    double wind_m_s;
    double cloud_pct;
    int64_t rain_from_s; /* rain_mm_h in each hour within [from, to) */
    int64_t rain_to_s;
    double rain_mm_h;        /* in tenths */
    double rain_probability; /* per cent in every 6-hour block */
};

/* A dry, half-clouded week: 20 C, 10 C between day and night, dew point 9 C, wind 3 m/s. */
struct met_document met_document_new(const struct sun_site *site, int64_t issued_s,
                                     int64_t first_s);

/* malloc'ed, with a NUL behind that *length does not count. */
char *met_document_write(const struct met_document *document, size_t *length);

/* The weather that was written. */
double met_document_temperature_c(const struct met_document *document, int64_t at_s);
double met_document_rain_mm(const struct met_document *document, int64_t start_s, int hours);

/* Hours from the first entry to the first of the 6-hourly tail, entries, and hours covered. */
int met_document_hourly(const struct met_document *document);
int met_document_entries(const struct met_document *document);
int met_document_hours(const struct met_document *document);

#endif
