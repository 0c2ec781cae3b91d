/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "weather_merge.h"

#include <math.h>

enum { BLOCK_H = 6, LEAN_H = 3, SOURCES_MOST = 16 };

static const struct weather_origin NOBODY = {WEATHER_NOBODY,    WEATHER_NORMAL,    0,
                                             WEATHER_MARK_GOOD, WEATHER_MARK_GOOD, false};

/* --- ranking ------------------------------------------------------------------------------ */

static bool is_stale(const struct weather_offer *offer, int64_t now_s)
{
    int64_t by_s = offer->raw.start_s < now_s ? offer->raw.start_s : now_s;
    return offer->raw.kind == WEATHER_FORECAST && offer->raw.issued_s < by_s - WEATHER_STALE_S;
}

/* Whether a goes before b. */
static bool before(const struct weather_offer *a, const struct weather_offer *b, int64_t now_s)
{
    if (a->raw.kind != b->raw.kind)
        return a->raw.kind < b->raw.kind;
    if (is_stale(a, now_s) != is_stale(b, now_s))
        return is_stale(b, now_s);
    if (a->source != b->source)
        return a->source < b->source;
    return a->raw.issued_s > b->raw.issued_s;
}

static bool has_cloud(const struct weather_raw *raw)
{
    return !isnan(weather_cloud_fraction(raw));
}

/* How well an offer serves a part: 0 not at all. */
static int serves(const struct weather_offer *offer, enum weather_part part)
{
    const struct weather_raw *raw = &offer->raw;
    if (weather_mark_rejects(offer->mark[part]))
        return 0;
    switch (part) {
    case WEATHER_AIR:
        if (isnan(raw->temperature_c))
            return 0;
        return isnan(raw->dewpoint_c) && isnan(raw->humidity_pct) ? 1 : 2;
    case WEATHER_WIND:
        return !isnan(raw->wind_10m_m_s);
    case WEATHER_SKY:
        return has_cloud(raw);
    case WEATHER_RAIN:
    case WEATHER_PARTS:
        break;
    }
    return !isnan(raw->rain_mm);
}

/* The best offer of the hour [offers, end) for a part, NULL when there is none. */
static const struct weather_offer *best_of(const struct weather_offer *offers,
                                           const struct weather_offer *end, enum weather_part part,
                                           int64_t now_s)
{
    const struct weather_offer *best = NULL;
    int best_serves = 0;
    for (const struct weather_offer *o = offers; o < end; o++) {
        int how = serves(o, part);
        if (how == 0)
            continue;
        if (!best || how > best_serves || (how == best_serves && before(o, best, now_s))) {
            best = o;
            best_serves = how;
        }
    }
    return best;
}

static enum weather_mark worst_rejected(const struct weather_offer *offers,
                                        const struct weather_offer *end, enum weather_part part)
{
    enum weather_mark worst = WEATHER_MARK_GOOD;
    for (const struct weather_offer *o = offers; o < end; o++)
        if (weather_mark_rejects(o->mark[part]) && o->mark[part] > worst)
            worst = o->mark[part];
    return worst;
}

static void set_origin(struct weather_slot *slot, enum weather_part part,
                       const struct weather_offer *offer)
{
    struct weather_origin *origin = &slot->origin[part];
    origin->source = offer->source;
    origin->kind = offer->raw.kind;
    origin->issued_s = offer->raw.issued_s;
    origin->mark = offer->mark[part];
}

/* --- radiation ---------------------------------------------------------------------------- */

static bool gives_radiation(const struct weather_offer *offer)
{
    return !weather_mark_rejects(offer->mark[WEATHER_SKY]) && !isnan(offer->raw.radiation_w_m2);
}

/* The source's own latest among the hour's offers. */
static bool is_latest(const struct weather_offer *offers, const struct weather_offer *end,
                      const struct weather_offer *offer)
{
    for (const struct weather_offer *o = offers; o < end; o++)
        if (o != offer && o->source == offer->source && gives_radiation(o) &&
            o->raw.issued_s > offer->raw.issued_s)
            return false;
    return true;
}

static void set_radiation(struct weather_slot *slot, const struct weather_offer *offers,
                          const struct weather_offer *end, int64_t now_s)
{
    const struct weather_offer *best = NULL;
    double sum = 0;
    double count = 0;
    for (const struct weather_offer *o = offers; o < end; o++)
        if (gives_radiation(o) && (!best || before(o, best, now_s)))
            best = o;
    if (!best)
        return;
    for (const struct weather_offer *o = offers; o < end; o++)
        if (gives_radiation(o) && o->raw.kind == best->raw.kind &&
            is_stale(o, now_s) == is_stale(best, now_s) && is_latest(offers, end, o)) {
            sum += o->raw.radiation_w_m2;
            count += 1;
        }
    slot->raw.radiation_w_m2 =
        fmax(0, best->raw.kind == WEATHER_MEASURED ? best->raw.radiation_w_m2 : sum / count);
    set_origin(slot, WEATHER_SKY, best);
}

/* --- an hour ------------------------------------------------------------------------------ */

static void merge_hour(const struct weather_offer *offers, const struct weather_offer *end,
                       int64_t now_s, struct weather_slot *slot)
{
    static const struct weather_raw empty = WEATHER_RAW_EMPTY;
    slot->raw = empty;
    slot->raw.start_s = offers->raw.start_s;
    for (int part = 0; part < WEATHER_PARTS; part++) {
        slot->origin[part] = NOBODY;
        slot->origin[part].replaces = worst_rejected(offers, end, (enum weather_part)part);
    }
    const struct weather_offer *air = best_of(offers, end, WEATHER_AIR, now_s);
    const struct weather_offer *wind = best_of(offers, end, WEATHER_WIND, now_s);
    const struct weather_offer *cloud = best_of(offers, end, WEATHER_SKY, now_s);
    if (air) {
        slot->raw.temperature_c = air->raw.temperature_c;
        slot->raw.dewpoint_c = air->raw.dewpoint_c;
        slot->raw.humidity_pct = fmin(air->raw.humidity_pct, 100);
        if (isnan(air->raw.humidity_pct))
            slot->raw.humidity_pct = NAN; /* fmin passes NAN over */
        set_origin(slot, WEATHER_AIR, air);
    }
    if (wind) {
        slot->raw.wind_10m_m_s = wind->raw.wind_10m_m_s;
        set_origin(slot, WEATHER_WIND, wind);
    }
    if (cloud) {
        slot->raw.cloud_pct = cloud->raw.cloud_pct;
        slot->raw.cloud_low_pct = cloud->raw.cloud_low_pct;
        slot->raw.cloud_mid_pct = cloud->raw.cloud_mid_pct;
        slot->raw.cloud_high_pct = cloud->raw.cloud_high_pct;
        set_origin(slot, WEATHER_SKY, cloud);
    }
    set_radiation(slot, offers, end, now_s);
}

/* --- rain --------------------------------------------------------------------------------- */

/* One block of six hours: slots [slots, end_slot) and the offers of those hours. */
struct block {
    struct weather_slot *slots, *end_slot;
    const struct weather_offer *offers, *end;
};

/* A source's latest rain for the hour. */
static const struct weather_offer *rain_of(const struct block *b, int64_t start_s, size_t source,
                                           bool fact, int64_t now_s)
{
    const struct weather_offer *best = NULL;
    for (const struct weather_offer *o = b->offers; o < b->end; o++)
        if (o->raw.start_s == start_s && (source == WEATHER_NOBODY || o->source == source) &&
            (o->raw.kind != WEATHER_FORECAST) == fact && serves(o, WEATHER_RAIN) &&
            (!best || before(o, best, now_s)))
            best = o;
    return best;
}

static void set_rain(struct weather_slot *slot, const struct weather_offer *offer)
{
    slot->raw.rain_mm = offer->raw.rain_mm;
    slot->raw.rain_probability = offer->raw.rain_probability;
    set_origin(slot, WEATHER_RAIN, offer);
}

/* How many of the block's hours without a fact the source's forecast covers, its best hour in
 * *best. */
static int covers(const struct block *b, size_t source, int64_t now_s,
                  const struct weather_offer **best)
{
    int count = 0;
    *best = NULL;
    for (const struct weather_slot *slot = b->slots; slot < b->end_slot; slot++) {
        const struct weather_offer *o = rain_of(b, slot->raw.start_s, source, false, now_s);
        if (!o || slot->origin[WEATHER_RAIN].kind < WEATHER_FORECAST)
            continue;
        count++;
        if (!*best || before(o, *best, now_s))
            *best = o;
    }
    return count;
}

static void merge_rain(const struct block *b, int64_t now_s)
{
    size_t chosen = WEATHER_NOBODY;
    const struct weather_offer *chosen_best = NULL;
    int most = 0;
    for (struct weather_slot *slot = b->slots; slot < b->end_slot; slot++) {
        const struct weather_offer *o = rain_of(b, slot->raw.start_s, WEATHER_NOBODY, true, now_s);
        if (o)
            set_rain(slot, o);
    }
    for (size_t source = 0; source < SOURCES_MOST; source++) {
        const struct weather_offer *best = NULL;
        int count = covers(b, source, now_s, &best);
        if (count > most || (count == most && best && before(best, chosen_best, now_s))) {
            most = count;
            chosen = source;
            chosen_best = best;
        }
    }
    for (struct weather_slot *slot = b->slots; most > 0 && slot < b->end_slot; slot++) {
        const struct weather_offer *o = rain_of(b, slot->raw.start_s, chosen, false, now_s);
        if (o && slot->origin[WEATHER_RAIN].kind >= WEATHER_FORECAST)
            set_rain(slot, o);
    }
}

/* --- changes of source -------------------------------------------------------------------- */

static const struct weather_offer *find_offer(const struct weather_offer *offers, size_t count,
                                              int64_t start_s, enum weather_part part,
                                              size_t source, int64_t now_s)
{
    const struct weather_offer *best = NULL;
    size_t low = 0;
    size_t high = count;
    while (low < high) {
        size_t mid = low + (high - low) / 2;
        if (offers[mid].raw.start_s < start_s)
            low = mid + 1;
        else
            high = mid;
    }
    for (; low < count && offers[low].raw.start_s == start_s; low++)
        if (offers[low].source == source && serves(&offers[low], part) &&
            (!best || before(&offers[low], best, now_s)))
            best = &offers[low];
    return best;
}

/* After a change of source in slots[at] the new one leans to what the old one knew. */
static void lean(const struct weather_offer *offers, size_t offer_count, struct weather_slot *slots,
                 size_t count, size_t at, enum weather_part part, int64_t now_s)
{
    const struct weather_slot *last = &slots[at - 1];
    size_t source = slots[at].origin[part].source;
    if (source == WEATHER_NOBODY || last->origin[part].source == WEATHER_NOBODY ||
        last->origin[part].source == source || slots[at].origin[part].kind == WEATHER_MEASURED)
        return;
    const struct weather_offer *own =
        find_offer(offers, offer_count, last->raw.start_s, part, source, now_s);
    if (!own || slots[at].raw.start_s - last->raw.start_s > CIVIL_HOUR_S)
        return;
    double air_c = last->raw.temperature_c - own->raw.temperature_c;
    double dew_c = last->raw.dewpoint_c - own->raw.dewpoint_c;
    double wind = last->raw.wind_10m_m_s - own->raw.wind_10m_m_s;
    for (size_t k = 0; k < LEAN_H && at + k < count; k++) {
        struct weather_raw *raw = &slots[at + k].raw;
        double share = 1 - (double)(k + 1) / (LEAN_H + 1);
        if (slots[at + k].origin[part].source != source)
            break;
        if (part == WEATHER_WIND) {
            raw->wind_10m_m_s = fmax(0, raw->wind_10m_m_s + wind * share);
        } else {
            raw->temperature_c += air_c * share;
            raw->dewpoint_c += isnan(dew_c) ? air_c * share : dew_c * share;
            raw->dewpoint_c =
                isnan(raw->dewpoint_c) ? NAN : fmin(raw->dewpoint_c, raw->temperature_c);
        }
    }
}

static void lean_all(const struct weather_offer *offers, size_t offer_count,
                     struct weather_slot *slots, size_t count, int64_t now_s)
{
    for (size_t at = count; at-- > 1;) { /* later ones first: each looks at what is untouched */
        lean(offers, offer_count, slots, count, at, WEATHER_AIR, now_s);
        lean(offers, offer_count, slots, count, at, WEATHER_WIND, now_s);
    }
}

/* --- all ---------------------------------------------------------------------------------- */

static int64_t block_of(int64_t start_s)
{
    int64_t hours = start_s / CIVIL_HOUR_S;
    return (hours - (hours % BLOCK_H + BLOCK_H) % BLOCK_H) / BLOCK_H;
}

static bool offers_ok(const struct weather_offer *offers, size_t count)
{
    for (size_t i = 0; i < count; i++)
        if (offers[i].raw.start_s % CIVIL_HOUR_S != 0 ||
            (i > 0 && offers[i].raw.start_s < offers[i - 1].raw.start_s))
            return false;
    return true;
}

enum status weather_merge(const struct weather_offer *offers, size_t offer_count, int64_t now_s,
                          struct weather_slot *slots, size_t capacity, size_t *slot_count)
{
    size_t made = 0;
    size_t block_slot = 0;
    size_t block_offer = 0;
    if (!offers_ok(offers, offer_count))
        return STATUS_RANGE;
    for (size_t i = 0, end = 0; i < offer_count; i = end) {
        for (end = i + 1; end < offer_count && offers[end].raw.start_s == offers[i].raw.start_s;)
            end++;
        if (made == capacity)
            return STATUS_NO_SPACE;
        merge_hour(&offers[i], offers + end, now_s, &slots[made++]);
        if (end < offer_count &&
            block_of(offers[end].raw.start_s) == block_of(offers[i].raw.start_s))
            continue;
        struct block block = {&slots[block_slot], slots + made, &offers[block_offer], offers + end};
        merge_rain(&block, now_s);
        block_slot = made;
        block_offer = end;
    }
    lean_all(offers, offer_count, slots, made, now_s);
    *slot_count = made;
    return STATUS_OK;
}
