/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "reckon.h"

const struct reckon_topic reckon_water_topics[] = {{0}};
const size_t reckon_water_count = 0;
