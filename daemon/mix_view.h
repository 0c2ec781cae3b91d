/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What bench tests say, for people and programs: each tested mix with its doubts and the judgement,
 * and what it holds in each pot of the nursery. Codes are words of closed lists; docs/api.md.
 */
#ifndef PERCHD_DAEMON_MIX_VIEW_H
#define PERCHD_DAEMON_MIX_VIEW_H

#include <jansson.h>

#include "core/judge.h"
#include "records.h"

/* One tested batch of a mix with its pots; a new reference, NULL when memory is short. */
json_t *mix_view_json(const struct records *records, size_t mix);

/* Codes of what the judgement of a mix in a pot finds, for growing on, the verdict first; a new
 * reference, NULL when memory is short. */
json_t *mix_view_codes(const struct pot_shape *shape, const struct pot_figures *figures,
                       const struct bench_fit *fit);

/* Mixes by pots as a table of text, malloc'ed, NULL when memory is short. */
char *mix_view_table(const struct records *records);

#endif
