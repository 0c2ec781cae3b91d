/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Five checks of a sceptic: what perchd said beside what somebody measured, with the score. */
#ifndef PERCHD_DAEMON_CHECKS_H
#define PERCHD_DAEMON_CHECKS_H

#include <jansson.h>

#include "plan_view.h"
#include "store_checks.h"
#include "store.h"

/* How long a sealed prediction of a pot's water runs. */
enum { CHECKS_SEALED_HOURS = 48 };

/* As of the plan's now. 0, or -1 with error. */
int checks_json(const struct plan_view *view, struct store *store, json_t **out,
                struct error *error);

/* As text from checks_json's; malloc'ed, NULL when memory is short. */
char *checks_text(const char *nursery, const json_t *checks);

/* What the traced block (view->result->trace) will lack in the coming hours, to be written down for
 * somebody who is about to weigh it; who and when are still to be filled in. *content, malloc'ed,
 * is what out->content points to. */
int checks_foretell(const struct plan_view *view, struct store_sealed *out, char **content,
                    struct error *error);

#endif
