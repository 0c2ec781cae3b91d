/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "feed_met.h"

#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "core/civil.h"

/* A real series has about 90 entries and reaches ten days; far more of either is not a forecast. */
static const size_t MOST_ENTRIES = 2000;
static const int64_t BEFORE_ISSUE_S = 2 * (int64_t)CIVIL_DAY_S;
static const int64_t AFTER_ISSUE_S = 20 * (int64_t)CIVIL_DAY_S;
static const int64_t BLOCK_S = 6 * (int64_t)CIVIL_HOUR_S;
static const double PLACE_DEG = 0.2; /* the service echoes the place asked for */

enum quantity {
    /* states of the instant, in the order of the entry's array */
    TEMPERATURE,
    DEWPOINT,
    HUMIDITY,
    WIND,
    CLOUD,
    CLOUD_LOW,
    CLOUD_MID,
    CLOUD_HIGH,
    STATES,
    /* of a period */
    RAIN_1H = STATES,
    RAIN_6H,
    PROBABILITY,
    LOWEST,
    HIGHEST,
    QUANTITIES
};

/* Values outside low..high are dropped; those inside are brought into least..most, which only
 * matters where rounding oversteps (humidity 100.4, rain -0.0). Limits: gross physical bounds. */
static const struct {
    const char *name;
    const char *units[2];
    double low, high, least, most;
} KNOWN[QUANTITIES] = {
    /* the service writes both spellings of Celsius */
    [TEMPERATURE] = {"air_temperature", {"celsius", "celcius"}, -60, 60, -60, 60},
    [DEWPOINT] = {"dew_point_temperature", {"celsius", "celcius"}, -70, 40, -70, 40},
    [HUMIDITY] = {"relative_humidity", {"%", "%"}, 0, 103, 0, 100},
    [WIND] = {"wind_speed", {"m/s", "m/s"}, 0, 75, 0, 75},
    [CLOUD] = {"cloud_area_fraction", {"%", "%"}, 0, 100, 0, 100},
    [CLOUD_LOW] = {"cloud_area_fraction_low", {"%", "%"}, 0, 100, 0, 100},
    [CLOUD_MID] = {"cloud_area_fraction_medium", {"%", "%"}, 0, 100, 0, 100},
    [CLOUD_HIGH] = {"cloud_area_fraction_high", {"%", "%"}, 0, 100, 0, 100},
    [RAIN_1H] = {"precipitation_amount", {"mm", "mm"}, -0.05, 200, 0, 200},
    [RAIN_6H] = {"precipitation_amount", {"mm", "mm"}, -0.05, 400, 0, 400},
    [PROBABILITY] = {"probability_of_precipitation", {"%", "%"}, 0, 100, 0, 100},
    [LOWEST] = {"air_temperature_min", {"celsius", "celcius"}, -60, 60, -60, 60},
    [HIGHEST] = {"air_temperature_max", {"celsius", "celcius"}, -60, 60, -60, 60},
};

/* One entry of the series; NAN where it does not say. */
struct entry {
    int64_t at_s;
    size_t order; /* in the document */
    double states[STATES];
    double rain_1h_mm, probability_1h;
    double rain_6h_mm, probability_6h;
    double lowest_6h_c, highest_6h_c;
};

struct reader {
    struct feed_hours met;
    bool unit_known[QUANTITIES];
    struct entry *entries; /* ascending once sorted */
    size_t count;
    int64_t first_s; /* of the first slot */
    size_t slots;
    double *rain_1h_mm; /* by slot, NAN where no 1-hour block starts */
};

/* --- the document ------------------------------------------------------------------------- */

static bool name_among(const char *name, const char *const names[2])
{
    return name && (strcmp(name, names[0]) == 0 || strcmp(name, names[1]) == 0);
}

static void read_units(struct reader *r, const json_t *units)
{
    for (int q = 0; q < QUANTITIES; q++)
        r->unit_known[q] =
            name_among(json_string_value(json_object_get(units, KNOWN[q].name)), KNOWN[q].units);
}

static double read_value(struct reader *r, const json_t *details, enum quantity q)
{
    const json_t *value = json_object_get(details, KNOWN[q].name);
    if (!value || json_is_null(value))
        return NAN;
    double number = json_is_number(value) ? json_number_value(value) : NAN;
    if (r->unit_known[q] && number >= KNOWN[q].low && number <= KNOWN[q].high)
        return fmin(fmax(number, KNOWN[q].least), KNOWN[q].most) + 0.0; /* + 0: no negative zero */
    r->met.dropped_values++;
    return NAN;
}

static void read_states(struct reader *r, const json_t *details, struct entry *entry)
{
    for (int q = 0; q < STATES; q++)
        entry->states[q] = read_value(r, details, (enum quantity)q);
    if (feed_settle_dewpoint(entry->states[TEMPERATURE], &entry->states[DEWPOINT]))
        r->met.dropped_values++;
}

static void read_periods(struct reader *r, const json_t *data, struct entry *entry)
{
    const json_t *hour = json_object_get(json_object_get(data, "next_1_hours"), "details");
    const json_t *block = json_object_get(json_object_get(data, "next_6_hours"), "details");
    entry->rain_1h_mm = read_value(r, hour, RAIN_1H);
    entry->probability_1h = read_value(r, hour, PROBABILITY) / 100;
    entry->rain_6h_mm = read_value(r, block, RAIN_6H);
    entry->probability_6h = read_value(r, block, PROBABILITY) / 100;
    entry->lowest_6h_c = read_value(r, block, LOWEST);
    entry->highest_6h_c = read_value(r, block, HIGHEST);
    if (entry->at_s % CIVIL_HOUR_S != 0) { /* a block that fits no slot */
        r->met.dropped_values += isnan(entry->rain_1h_mm) ? 0 : 1;
        r->met.dropped_values += isnan(entry->rain_6h_mm) ? 0 : 1;
        entry->rain_1h_mm = entry->rain_6h_mm = NAN;
        entry->probability_1h = entry->probability_6h = NAN;
    }
}

static bool read_entry(struct reader *r, const json_t *item, struct entry *entry)
{
    const char *time = json_string_value(json_object_get(item, "time"));
    const json_t *data = json_object_get(item, "data");
    const json_t *details = json_object_get(json_object_get(data, "instant"), "details");
    if (!time || !json_is_object(details) || civil_parse_rfc3339(time, &entry->at_s) != STATUS_OK)
        return false;
    if (entry->at_s < r->met.issued_s - BEFORE_ISSUE_S ||
        entry->at_s > r->met.issued_s + AFTER_ISSUE_S)
        return false;
    read_states(r, details, entry);
    read_periods(r, data, entry);
    return true;
}

static int read_series(struct reader *r, const json_t *series, struct error *error)
{
    size_t size = json_array_size(series);
    if (size == 0)
        return error_set(error, "the document has no properties.timeseries entries");
    if (size > MOST_ENTRIES)
        return error_set(error, "the document has %zu entries, at most %zu are taken", size,
                         MOST_ENTRIES);
    r->entries = calloc(size, sizeof *r->entries);
    if (!r->entries)
        return error_set(error, "out of memory");
    for (size_t i = 0; i < size; i++) {
        struct entry *entry = &r->entries[r->count];
        entry->order = i;
        if (read_entry(r, json_array_get(series, i), entry))
            r->count++;
        else
            r->met.dropped_entries++;
    }
    r->met.entries = size;
    if (r->count == 0)
        return error_set(error, "none of the document's %zu entries has a usable time and instant",
                         size);
    return 0;
}

static int read_document(struct reader *r, const json_t *root, const struct sun_site *site,
                         struct error *error)
{
    const json_t *properties = json_object_get(root, "properties");
    const json_t *meta = json_object_get(properties, "meta");
    const json_t *units = json_object_get(meta, "units");
    const char *updated = json_string_value(json_object_get(meta, "updated_at"));
    if (!json_is_object(properties))
        return error_set(error, "the document is JSON without an object 'properties'");
    if (!updated || civil_parse_rfc3339(updated, &r->met.issued_s) != STATUS_OK)
        return error_set(error, "the document's properties.meta.updated_at is not a time");
    if (!json_is_object(units))
        return error_set(error, "the document has no properties.meta.units");
    if (feed_check_place(json_object_get(json_object_get(root, "geometry"), "coordinates"), site,
                         PLACE_DEG, error) != 0)
        return -1;
    read_units(r, units);
    return read_series(r, json_object_get(properties, "timeseries"), error);
}

/* --- the series --------------------------------------------------------------------------- */

static int by_time(const void *left, const void *right)
{
    const struct entry *a = left;
    const struct entry *b = right;
    if (a->at_s != b->at_s)
        return a->at_s < b->at_s ? -1 : 1;
    return a->order < b->order ? -1 : a->order > b->order;
}

/* Ascending, one entry a time: of several the one written last. */
static void sort_entries(struct reader *r)
{
    if (r->count < 2)
        return;
    for (size_t i = 1; i < r->count; i++)
        r->met.disordered |= r->entries[i].at_s < r->entries[i - 1].at_s;
    qsort(r->entries, r->count, sizeof *r->entries, by_time);
    size_t kept = 0;
    for (size_t i = 0; i < r->count; i++) {
        if (i + 1 < r->count && r->entries[i + 1].at_s == r->entries[i].at_s) {
            r->met.duplicates++;
            continue;
        }
        r->entries[kept++] = r->entries[i];
    }
    r->count = kept;
}

/* Index of the first entry at or after at_s; r->count when there is none. */
static size_t entry_from(const struct reader *r, int64_t at_s)
{
    size_t low = 0;
    size_t high = r->count;
    while (low < high) {
        size_t mid = low + (high - low) / 2;
        if (r->entries[mid].at_s < at_s)
            low = mid + 1;
        else
            high = mid;
    }
    return low;
}

/* --- states ------------------------------------------------------------------------------- */

/* Height of the parabola 4 b s (1 - s) that lifts the straight line from `from` to `to` until its
 * highest point is `peak`: (from + to)/2 + b + d^2/(16 b) = peak with d = to - from. */
static double lift_to(double from, double to, double peak)
{
    double above = peak - (from + to) / 2;
    double half = (to - from) / 2;
    return (above + sqrt(fmax(0, above * above - half * half))) / 2;
}

/* Six hours between two instants hide the afternoon; the block's own extremes show it. Of two
 * extremes beyond both ends the one farther out is taken. */
static double bend_c(const struct entry *a, const struct entry *b, double share)
{
    double from = a->states[TEMPERATURE];
    double to = b->states[TEMPERATURE];
    double over = a->highest_6h_c - fmax(from, to); /* NAN fails both tests below */
    double under = fmin(from, to) - a->lowest_6h_c;
    double bow = 4 * share * (1 - share);
    if (b->at_s - a->at_s != BLOCK_S)
        return 0;
    if (over > 0 && !(under > over))
        return bow * lift_to(from, to, a->highest_6h_c);
    if (under > 0)
        return -bow * lift_to(-from, -to, -a->lowest_6h_c);
    return 0;
}

/* The state at a moment: the entry's own, else between known ones at most 6 h apart, else NAN. */
static double state_at(const struct reader *r, enum quantity q, int64_t at_s)
{
    size_t next = entry_from(r, at_s);
    size_t last = next;
    if (next < r->count && r->entries[next].at_s == at_s && !isnan(r->entries[next].states[q]))
        return r->entries[next].states[q];
    while (last > 0 && isnan(r->entries[last - 1].states[q]) &&
           r->entries[last - 1].at_s > at_s - BLOCK_S)
        last--;
    while (next < r->count && isnan(r->entries[next].states[q]) &&
           r->entries[next].at_s < at_s + BLOCK_S)
        next++;
    if (last == 0 || next >= r->count)
        return NAN;
    const struct entry *a = &r->entries[last - 1];
    const struct entry *b = &r->entries[next];
    if (b->at_s - a->at_s > BLOCK_S)
        return NAN;
    double share = (double)(at_s - a->at_s) / (double)(b->at_s - a->at_s);
    double value = a->states[q] + (b->states[q] - a->states[q]) * share;
    return q == TEMPERATURE ? value + bend_c(a, b, share) : value;
}

static double *state_field(struct weather_raw *hour, enum quantity q)
{
    switch (q) {
    case TEMPERATURE:
        return &hour->temperature_c;
    case DEWPOINT:
        return &hour->dewpoint_c;
    case HUMIDITY:
        return &hour->humidity_pct;
    case WIND:
        return &hour->wind_10m_m_s;
    case CLOUD:
        return &hour->cloud_pct;
    case CLOUD_LOW:
        return &hour->cloud_low_pct;
    case CLOUD_MID:
        return &hour->cloud_mid_pct;
    default:
        return &hour->cloud_high_pct;
    }
}

static void set_states(const struct reader *r, struct weather_raw *hour)
{
    for (int q = 0; q < STATES; q++)
        *state_field(hour, (enum quantity)q) =
            (state_at(r, (enum quantity)q, hour->start_s) +
             state_at(r, (enum quantity)q, hour->start_s + CIVIL_HOUR_S)) /
            2;
    /* The bent temperature may come below the dew point between two instants. */
    if (hour->dewpoint_c > hour->temperature_c)
        hour->dewpoint_c = hour->temperature_c;
}

/* --- rain --------------------------------------------------------------------------------- */

static int lay_slots(struct reader *r, struct error *error)
{
    int64_t first_s = civil_floor_hour(r->entries[0].at_s);
    int64_t end_s = r->entries[r->count - 1].at_s + BLOCK_S;
    r->first_s = first_s;
    r->slots = (size_t)((end_s - first_s) / CIVIL_HOUR_S);
    if (feed_hours_open(&r->met, first_s, r->slots, WEATHER_FORECAST, error) != 0)
        return -1;
    r->rain_1h_mm = malloc(r->slots * sizeof *r->rain_1h_mm);
    if (!r->rain_1h_mm)
        return error_set(error, "out of memory");
    for (size_t i = 0; i < r->slots; i++)
        r->rain_1h_mm[i] = NAN;
    for (size_t i = 0; i < r->count; i++)
        if (!isnan(r->entries[i].rain_1h_mm))
            r->rain_1h_mm[(r->entries[i].at_s - first_s) / CIVIL_HOUR_S] = r->entries[i].rain_1h_mm;
    return 0;
}

/* What a 6-hour block leaves for each of its hours that has no 1-hour amount. */
static double share_of_block(const struct reader *r, const struct entry *block)
{
    size_t first = (size_t)((block->at_s - r->first_s) / CIVIL_HOUR_S);
    double left_mm = block->rain_6h_mm;
    int uncovered = 0;
    for (size_t i = first; i < first + 6 && i < r->slots; i++) {
        if (isnan(r->rain_1h_mm[i]))
            uncovered++;
        else
            left_mm -= r->rain_1h_mm[i];
    }
    return uncovered > 0 ? fmax(0, left_mm) / uncovered : 0;
}

/* The latest block with the wanted value that covers the hour, NULL when there is none. */
static const struct entry *block_over(const struct reader *r, int64_t start_s, bool rain)
{
    for (size_t i = entry_from(r, start_s + 1); i > 0; i--) {
        const struct entry *entry = &r->entries[i - 1];
        if (entry->at_s <= start_s - BLOCK_S)
            return NULL;
        if (!isnan(rain ? entry->rain_6h_mm : entry->probability_6h))
            return entry;
    }
    return NULL;
}

static void set_rain(const struct reader *r, size_t slot, struct weather_raw *hour)
{
    const struct entry *block = block_over(r, hour->start_s, true);
    hour->rain_mm = r->rain_1h_mm[slot];
    if (isnan(hour->rain_mm) && block)
        hour->rain_mm = share_of_block(r, block);
    size_t own = entry_from(r, hour->start_s);
    if (own < r->count && r->entries[own].at_s == hour->start_s)
        hour->rain_probability = r->entries[own].probability_1h;
    block = block_over(r, hour->start_s, false);
    if (isnan(hour->rain_probability) && block)
        hour->rain_probability = block->probability_6h;
}

/* --- hours -------------------------------------------------------------------------------- */

static int make_hours(struct reader *r, struct error *error)
{
    if (lay_slots(r, error) != 0)
        return -1;
    for (size_t i = 0; i < r->slots; i++) {
        set_states(r, &r->met.hours[i]);
        set_rain(r, i, &r->met.hours[i]);
    }
    return feed_hours_close(&r->met, error);
}

int feed_met_read(const char *bytes, size_t length, const struct sun_site *site,
                  struct feed_hours *out, struct error *error)
{
    struct reader r = {.count = 0};
    int result = -1;
    json_t *root = feed_parse(bytes, length, error);
    if (!root || read_document(&r, root, site, error) != 0 || !r.entries)
        goto out;
    sort_entries(&r);
    if (make_hours(&r, error) != 0)
        goto out;
    *out = r.met;
    r.met.hours = NULL;
    result = 0;
out:
    json_decref(root);
    free(r.entries);
    free(r.rain_1h_mm);
    free(r.met.hours);
    return result;
}

/* The service answers 403 to more than 4 decimals, and a cache only knows the very same text. */
static enum adapter_outcome fetch(const struct adapter_order *order, struct adapter_harvest *out,
                                  struct error *error)
{
    char url[ADAPTER_URL_SIZE];
    char latitude[16];
    char longitude[16];
    adapter_degrees(order->site.latitude_deg, false, latitude);
    adapter_degrees(order->site.longitude_deg, false, longitude);
    snprintf(url, sizeof url, "%s?lat=%s&lon=%s&altitude=%.0f", order->base, latitude, longitude,
             round(order->site.elevation_m) + 0.0);
    enum adapter_outcome outcome = adapter_get(order, url, order->if_modified_since, out, error);
    if (outcome != ADAPTER_DOCUMENT)
        return outcome;
    return feed_met_read(out->answer.body ? out->answer.body : "", out->answer.length, &order->site,
                         &out->hours, error) == 0
               ? ADAPTER_DOCUMENT
               : ADAPTER_REFUSED;
}

/* The service wants no request before Expires and none on the hour (terms of service). */
const struct adapter feed_met = {
    .name = "met",
    .url = "https://api.met.no/weatherapi/locationforecast/2.0/complete",
    .accept = "application/json",
    .takes_validator = true,
    .kinds = 1U << WEATHER_FORECAST,
    .floor_s = 600,
    .interval_s = 3600,
    .jitter_s = 1500,
    .fetch = fetch,
};
