/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A block hour by hour, past and ahead, as JSON: docs/api.md. */
#ifndef PERCHD_DAEMON_BLOCK_HOURS_H
#define PERCHD_DAEMON_BLOCK_HOURS_H

#include <jansson.h>

#include "plan_view.h"

/* What view->result->trace holds, from the start of the local day past_d days ago to the end of the
 * one ahead_d days from today, as far as it is known; NULL when memory is short. */
json_t *block_hours_json(const struct plan_view *view, int past_d, int ahead_d);

#endif
