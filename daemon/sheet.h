/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The crew's sheet: what one page of paper says of a day. Issued once at a fixed hour with a number
 * and kept as it was; whatever the plan says later stands beside it as marked exceptions.
 */
#ifndef PERCHD_DAEMON_SHEET_H
#define PERCHD_DAEMON_SHEET_H

#include <jansson.h>

#include "plan_view.h"
#include "store_sheet.h"

/* The last moment at or before now_s at which a sheet was due: the configured hour of the nursery's
 * day. */
int64_t sheet_due_s(const struct config *config, const struct civil_zone *zone, int64_t now_s);

/* The local date it is for, as days since 1970-01-01: from noon on the next day. */
int64_t sheet_day(const struct config *config, const struct civil_zone *zone, int64_t due_s);

/* Issues the sheet that is due at the plan's now, unless there is one; again: one more all the
 * same, that replaces the last. 1 issued (*number is its), 0 not due, -1 with error. Call it within
 * a transaction when others may write. */
struct sheet_order {
    const char *who;
    const char *remarks; /* "" when none */
    bool again;
};
int sheet_issue(const struct plan_view *view, struct store *store, const struct sheet_order *order,
                int64_t *number, struct error *error);

/* The sheet that is current at the plan's now with what the plan says otherwise since; *out is NULL
 * when none was issued. 0, or -1 with error. */
int sheet_current(const struct plan_view *view, struct store *store, json_t **out,
                  struct error *error);

/* A sheet as it was issued, without exceptions. NULL when memory is short. */
json_t *sheet_json(const struct store_sheet *sheet, const struct civil_zone *zone);
/* Its line in a list of sheets. */
json_t *sheet_line(const struct store_sheet *sheet, const struct civil_zone *zone);

/* One page of at most 80 columns. sheet: as sheet_current gives it, NULL: none was issued yet.
 * clock: as the plan's view has it. malloc'ed; NULL when memory is short. */
char *sheet_text(const char *nursery, const json_t *sheet, const struct store_clock *clock);

#endif
