/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The plan's runs as a calendar (RFC 5545). */
#ifndef PERCHD_DAEMON_PLAN_CALENDAR_H
#define PERCHD_DAEMON_PLAN_CALENDAR_H

#include "plan_index.h"

/* malloc'ed; NULL when memory is short. Times in UTC; lines end with CR LF, none is longer than 75
 * bytes. */
char *plan_calendar_print(const struct plan_index *index);

#endif
