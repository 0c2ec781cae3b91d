/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How a block's figures came about: the chain from the bench test to the valve's minutes, each
 * quantity with its formula in words, what went into it and where that came from. Made from the
 * plan's own JSON, so that it shows the plan's numbers and no others.
 */
#ifndef PERCHD_DAEMON_WORKING_H
#define PERCHD_DAEMON_WORKING_H

#include <jansson.h>

#include "field.h"

/* plan: narrowed to the block. {"block", "made_at", "steps": [{"quantity", "label", "value",
 * "unit", "formula", "inputs", "labels", "source"}], "words"}; labels name the inputs, words the
 * codes in them. NULL when the block is not in it or memory is short. */
json_t *working_of(const json_t *plan, const char *block, enum field_language language);

#endif
