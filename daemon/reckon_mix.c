/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "reckon.h"

const struct reckon_topic reckon_mix_topics[] = {{0}};
const size_t reckon_mix_count = 0;
