/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The wall card: minutes a zone by the day's reference ET, for the day when the machine is dead. */
#ifndef PERCHD_DAEMON_CARD_H
#define PERCHD_DAEMON_CARD_H

#include <jansson.h>

#include "plan_view.h"

/* For the nursery as it stands at the plan's now. 0, or -1 with error. */
int card_json(const struct plan_view *view, json_t **out, struct error *error);

/* One page of at most 80 columns, from card_json's; malloc'ed, NULL when memory is short. */
char *card_text(const char *nursery, const json_t *card);

#endif
