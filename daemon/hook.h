/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The operator's own program - a message, a horn - called when somebody must know. */
#ifndef PERCHD_DAEMON_HOOK_H
#define PERCHD_DAEMON_HOOK_H

#include "config.h"
#include "store_hook.h"

/* How long the program may take for all causes of one plan, since the next waits; how long the same
 * cause is not called for again. */
enum { HOOK_MOST_S = 20, HOOK_AGAIN_S = 6 * 3600, HOOK_CALLS_MOST = 8 };

/* Runs 'PROGRAM CODE SUBJECT' with {"code", "subject", "since_s", "now_s", "nursery"} on its
 * standard input and waits for it, most_s at most. -1 with error when it could not be run, ended
 * with another code than 0, or was ended for taking too long. */
int hook_run(const struct config *config, const struct store_cause *cause, int64_t now_s,
             int most_s, struct error *error);

/* Calls for every cause that is due: those of the store, and the notices that a plant is about to
 * pass its limit. What goes wrong is logged; nothing is called twice within HOOK_AGAIN_S. */
void hook_call(const struct config *config, struct store *store, int64_t now_s, int64_t asked_s,
               const struct records_notice *notices, size_t notice_count);

#endif
