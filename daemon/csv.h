/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Comma-separated files after RFC 4180, read strictly: UTF-8, LF or CRLF, a byte order mark
 * tolerated, a header row, as many fields in each row as the header has. Errors say 'FILE:LINE:'.
 */
#ifndef PERCHD_DAEMON_CSV_H
#define PERCHD_DAEMON_CSV_H

#include <stddef.h>

#include "error.h"

#define CSV_BYTES_MAX   ((size_t)32 * 1024 * 1024)
#define CSV_COLUMNS_MAX 64
#define CSV_FIELD_MAX   4096 /* bytes */

struct csv;

struct csv_row {
    size_t line; /* where the row starts, 1 for the first line of the file */
    size_t count;
    char *fields[CSV_COLUMNS_MAX]; /* NUL-terminated, owned by the reader */
};

/* Reads the file and its header row. NULL with error set when it cannot be read, is too large, is
 * not UTF-8, holds a NUL, or has no header or one separated by semicolons or tabs. */
struct csv *csv_open(const char *path, struct error *error);
/* The same from memory; bytes are copied. name stands for the file in messages. */
struct csv *csv_open_bytes(const char *name, const char *bytes, size_t length, struct error *error);
void csv_close(struct csv *csv); /* NULL is fine */

const struct csv_row *csv_header(const struct csv *csv);

/* The next row that is not empty: 1, 0 at the end, -1 with error set. Fields live until
 * csv_close. */
int csv_next(struct csv *csv, struct csv_row *row, struct error *error);

#endif
