/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The CSV file that the nursery's weather station keeps writing: read as it grows.
 *
 * A header row names the columns: time (RFC 3339 with an offset, the end of the period) and any of
 * period_min, temperature_c, humidity_pct, dewpoint_c, wind_m_s, radiation_w_m2, rain_mm (of the
 * period). Without period_min a row's period is the time since the row before, up to an hour. A
 * last line without an end is not complete yet and waits. A file that is replaced or cut is read
 * from its start again; rows that are there already change nothing. A row that cannot be read is
 * left out and counted, the others count: nobody stands by to correct a machine's file. Values are
 * kept whatever they are; the integrity checks judge them.
 */
#ifndef PERCHD_DAEMON_STATION_FILE_H
#define PERCHD_DAEMON_STATION_FILE_H

#include "error.h"
#include "store.h"

struct station_file;

/* Rows older than this are not taken. */
#define STATION_FILE_DAYS 60

/* NULL when memory is short. Nothing is read yet. path is copied. */
struct station_file *station_file_new(const char *path);
void station_file_free(struct station_file *file); /* NULL is fine */

/* Takes what is new. Returns 1 when readings were added or changed, 0 when nothing is new or the
 * file is not there, -1 when it cannot be used (error says why; asked again when it changes).
 * error->text is also set, with 0 or 1, when rows were left out; else "". */
int station_file_poll(struct station_file *file, struct store *store, int64_t now_s,
                      struct error *error);

#endif
