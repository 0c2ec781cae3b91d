/* SPDX-License-Identifier: GPL-3.0-or-later */
/* CSV files of kind.h's kinds into the store. docs/records.md describes the columns. */
#ifndef PERCHD_DAEMON_IMPORT_H
#define PERCHD_DAEMON_IMPORT_H

#include <stdio.h>

#include "error.h"
#include "store.h"

/* Imports one file, its kind given by its name (zones.csv), or every such file of a folder in the
 * order in which they need each other. All of it lands, or nothing. report (may be NULL) gets one
 * line a file. Returns 0, or -1 with error 'FILE:LINE: column COLUMN: ...'. */
int import_path(struct store *store, const char *path, FILE *report, struct error *error);

#endif
