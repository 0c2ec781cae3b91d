/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the operator's program is called for, and when it last was. */
#ifndef PERCHD_DAEMON_STORE_HOOK_H
#define PERCHD_DAEMON_STORE_HOOK_H

#include "store.h"

struct store_cause {
    char code[32];
    char subject[RECORDS_ID_SIZE]; /* a zone, block, supply; "" the nursery */
    int64_t since_s;
};

/* "no_report": a planned run of a zone that waits for reports ended half an hour to six hours ago
 * and nobody told of it. "supply_out": a hold for a pump that is out is in force. "nobody_polled":
 * a valve is to open within half an hour, there is a controller's token, and asked_s, when somebody
 * last asked which valves are due, is a quarter of an hour ago. */
int store_hook_causes(struct store *store, int64_t now_s, int64_t asked_s,
                      void (*take)(void *context, const struct store_cause *cause), void *context,
                      struct error *error);

/* Whether to call for a cause now: 1, and it is noted, when the last call for it is every_s ago or
 * never was; 0 else; -1 failed. */
int store_hook_due(struct store *store, const struct store_cause *cause, int64_t now_s,
                   int64_t every_s, struct error *error);

#endif
