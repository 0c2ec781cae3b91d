/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The daily look back: what each feed had said of a day, held against what came. */
#ifndef PERCHD_DAEMON_VERIFY_H
#define PERCHD_DAEMON_VERIFY_H

#include "config.h"
#include "core/civil.h"
#include "error.h"
#include "store.h"

/* Days that stay in the archive with every issue; --at within them sees the forecasts of then. */
#define VERIFY_ARCHIVE_DAYS 15

/* Makes the trials of the local days that ended at least three hours before at_s and were not
 * tried yet, and once more those of the last two tried, in case late readings changed what came; at
 * most VERIFY_ARCHIVE_DAYS back. A forecast of lead L is what a plan made at six o'clock of the
 * L-th day before had: the latest issue by then, not older than a day. Then thins the archive.
 * *made counts trials. 0, or -1 with error. */
int verify_days(const struct config *config, const struct civil_zone *zone, struct store *store,
                int64_t at_s, size_t *made, struct error *error);

#endif
