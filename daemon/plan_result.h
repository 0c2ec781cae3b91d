/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Memory for a plan: core/ takes none itself. */
#ifndef PERCHD_DAEMON_PLAN_RESULT_H
#define PERCHD_DAEMON_PLAN_RESULT_H

#include "core/plan.h"

/* Arrays for the largest plan that can come of the input, empty, and the room to work in, *room. 0,
 * or -1 when memory is short (then nothing is held). */
int plan_result_open(const struct plan_input *input, struct plan_result *result, void **room);

/* Frees the arrays, which may be NULL, and empties the result. The room is free()'d apart: it is
 * not needed any more once the plan is made. */
void plan_result_close(struct plan_result *result);

#endif
