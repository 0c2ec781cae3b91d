/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Several sources, one hour: for each part of it the word of the best source. */
#ifndef PERCHD_CORE_WEATHER_MERGE_H
#define PERCHD_CORE_WEATHER_MERGE_H

#include "weather_check.h"

/* A forecast issued longer than this before the hour (or before now, for an hour to come) ranks
 * behind those of younger documents [our choice]. */
#define WEATHER_STALE_S (12 * (int64_t)CIVIL_HOUR_S)

/* Merges offers, ascending by start_s, any number an hour; a lower source number is trusted more.
 *
 * Rank within an hour: the better kind; then documents that are not stale; then the more trusted
 * source; then the later issue. Temperature and humidity come from one source (one that has both
 * goes before one that has not), wind from one, cloud from one. Radiation: the best source's, and
 * where two or more sources forecast it their mean (averages of models beat each of them: Perez et
 * al. 2013, Solar Energy 94). Rain: measurements and analyses always count; the other hours of
 * a block of six (00, 06, 12, 18 UTC) all come from one source, the one that covers most of them,
 * of equals the better ranked: hours of two sources would double or lose a storm. Over three hours
 * after a change of source temperature, dew point and wind lean to the one before.
 *
 * Parts marked as rejected are passed over, and the slot remembers the worst such mark. Slots are
 * written ascending; *slot_count of them. STATUS_NO_SPACE: capacity is too short. STATUS_RANGE:
 * offers not ascending or not at whole hours. */
MUST_USE enum status weather_merge(const struct weather_offer *offers, size_t offer_count,
                                   int64_t now_s, struct weather_slot *slots, size_t capacity,
                                   size_t *slot_count);

#endif
