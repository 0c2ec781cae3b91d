/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What must hold of every document that an adapter takes, whatever the bytes. */
#ifndef PERCHD_TESTS_FUZZ_HOURS_H
#define PERCHD_TESTS_FUZZ_HOURS_H

#include <math.h>
#include <stdlib.h>

#include "daemon/adapter.h"

/* Aborts when it does not; frees the hours. */
static inline void fuzz_check_hours(struct feed_hours *got, const struct adapter *adapter)
{
    char words[512];
    int bad = got->hour_count == 0;
    for (size_t i = 0; i < got->hour_count; i++) {
        struct weather_raw *hour = &got->hours[i];
        bad |= hour->start_s % 3600 != 0 || !(adapter->kinds & 1U << hour->kind);
        bad |= i > 0 && hour->start_s <= got->hours[i - 1].start_s;
        bad |= hour->issued_s != got->issued_s || hour->dewpoint_c > hour->temperature_c;
        for (int q = 0; q < FEED_QUANTITIES; q++) {
            double value = *feed_quantity_of(hour, (enum feed_quantity)q);
            bad |= !isnan(value) && !feed_quantity_fits((enum feed_quantity)q, value);
        }
    }
    feed_hours_describe(got, words, sizeof words);
    feed_hours_free(got);
    if (bad)
        abort();
}

#endif
