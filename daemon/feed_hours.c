/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "feed_hours.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "core/civil.h"

static const double DEWPOINT_EXCESS_C = 0.5; /* rounding of saturated air, not an error */
static const size_t CLOUDS_TO_JUDGE = 24;
static const size_t MOST_HOURS = 24 * 40;

/* low..high is believed, least..most is what weather_raw may hold. Limits: gross physical bounds.
 */
static const struct {
    const char *name;
    size_t offset;
    double low, high, least, most;
} QUANTITIES[FEED_QUANTITIES] = {
#define AT(field) #field, offsetof(struct weather_raw, field)
    [FEED_TEMPERATURE] = {AT(temperature_c), -60, 60, -60, 60},
    [FEED_DEWPOINT] = {AT(dewpoint_c), -70, 40, -70, 40},
    [FEED_HUMIDITY] = {AT(humidity_pct), 0, 103, 0, 100},
    [FEED_WIND] = {AT(wind_10m_m_s), 0, 75, 0, 75},
    [FEED_CLOUD] = {AT(cloud_pct), 0, 100, 0, 100},
    [FEED_CLOUD_LOW] = {AT(cloud_low_pct), 0, 100, 0, 100},
    [FEED_CLOUD_MID] = {AT(cloud_mid_pct), 0, 100, 0, 100},
    [FEED_CLOUD_HIGH] = {AT(cloud_high_pct), 0, 100, 0, 100},
    [FEED_RADIATION] = {AT(radiation_w_m2), -10, 1600, 0, 1600},
    [FEED_RAIN] = {AT(rain_mm), -0.05, 200, 0, 200},
    [FEED_PROBABILITY] = {AT(rain_probability), 0, 1, 0, 1},
#undef AT
};

const char *feed_quantity_name(enum feed_quantity quantity)
{
    return QUANTITIES[quantity].name;
}

double *feed_quantity_of(struct weather_raw *hour, enum feed_quantity quantity)
{
    return (double *)(void *)((char *)hour + QUANTITIES[quantity].offset);
}

bool feed_quantity_fits(enum feed_quantity quantity, double value)
{
    return value >= QUANTITIES[quantity].least && value <= QUANTITIES[quantity].most;
}

double feed_quantity_take(enum feed_quantity quantity, double value)
{
    if (!(value >= QUANTITIES[quantity].low && value <= QUANTITIES[quantity].high))
        return NAN;
    /* + 0: no negative zero */
    return fmin(fmax(value, QUANTITIES[quantity].least), QUANTITIES[quantity].most) + 0.0;
}

json_t *feed_parse(const char *bytes, size_t length, struct error *error)
{
    json_error_t problem;
    if (length == 0) {
        error_set(error, "the document is empty");
        return NULL;
    }
    json_t *root = json_loadb(bytes, length, JSON_REJECT_DUPLICATES, &problem);
    if (!root) {
        error_make_plain(problem.text); /* may quote the document */
        error_set(error, "the document is not JSON: line %d, column %d: %s", problem.line,
                  problem.column, problem.text);
    }
    return root;
}

/* The standard puts longitude first; one example of a service has them the other way round. */
int feed_check_place(const json_t *longitude_latitude, const struct sun_site *site, double most_deg,
                     struct error *error)
{
    const json_t *longitude = json_array_get(longitude_latitude, 0);
    const json_t *latitude = json_array_get(longitude_latitude, 1);
    if (!site)
        return 0;
    if (!json_is_number(longitude) || !json_is_number(latitude))
        return error_set(error, "the document does not say of which place it is");
    double east = json_number_value(longitude);
    double north = json_number_value(latitude);
    double turn = fabs(east - site->longitude_deg);
    if (fabs(north - site->latitude_deg) <= most_deg && fmin(turn, fabs(360 - turn)) <= most_deg)
        return 0;
    return error_set(error,
                     "the document is of latitude %.4f, longitude %.4f; asked for was %.4f, %.4f",
                     north, east, site->latitude_deg, site->longitude_deg);
}

double feed_distance_km(const struct sun_site *site, double latitude_deg, double longitude_deg)
{
    static const double RADIUS_KM = 6371; /* mean radius of the earth */
    static const double RAD = 3.14159265358979323846 / 180;
    double dy = sin((latitude_deg - site->latitude_deg) * RAD / 2);
    double dx = sin((longitude_deg - site->longitude_deg) * RAD / 2);
    double h = dy * dy + cos(site->latitude_deg * RAD) * cos(latitude_deg * RAD) * dx * dx;
    return 2 * RADIUS_KM * asin(fmin(1, sqrt(h)));
}

static int by_time(const void *left, const void *right)
{
    const struct feed_instant *a = left;
    const struct feed_instant *b = right;
    if (a->at_s != b->at_s)
        return a->at_s < b->at_s ? -1 : 1;
    return a->order < b->order ? -1 : a->order > b->order;
}

size_t feed_instants_sort(struct feed_instant *instants, size_t count, struct feed_hours *notes)
{
    size_t kept = 0;
    for (size_t i = 1; i < count; i++)
        notes->disordered |= instants[i].at_s < instants[i - 1].at_s;
    if (count > 1)
        qsort(instants, count, sizeof *instants, by_time);
    for (size_t i = 0; i < count; i++) {
        if (i + 1 < count && instants[i + 1].at_s == instants[i].at_s) {
            for (int q = 0; q < FEED_QUANTITIES; q++)
                if (isnan(instants[i + 1].values[q]))
                    instants[i + 1].values[q] = instants[i].values[q];
            notes->duplicates++;
            continue;
        }
        instants[kept++] = instants[i];
    }
    return kept;
}

/* Where the known values of q around a moment stand. */
struct track {
    size_t last, next; /* indices; count: none */
};

static double value_at(const struct feed_instant *instants, size_t count, enum feed_quantity q,
                       struct track track, int64_t at_s, int64_t gap_s)
{
    if (track.next < count && instants[track.next].at_s == at_s)
        return instants[track.next].values[q];
    if (track.last >= count || track.next >= count)
        return NAN;
    const struct feed_instant *a = &instants[track.last];
    const struct feed_instant *b = &instants[track.next];
    if (b->at_s - a->at_s > gap_s)
        return NAN;
    double share = (double)(at_s - a->at_s) / (double)(b->at_s - a->at_s);
    return a->values[q] + (b->values[q] - a->values[q]) * share;
}

/* Moves on to the first known value at or after at_s; moments only ascend, so all of them together
 * cost one walk. */
static struct track walk(const struct feed_instant *instants, size_t count, enum feed_quantity q,
                         struct track track, int64_t at_s)
{
    while (track.next < count &&
           (instants[track.next].at_s < at_s || isnan(instants[track.next].values[q]))) {
        if (!isnan(instants[track.next].values[q]))
            track.last = track.next;
        track.next++;
    }
    return track;
}

void feed_instants_lay(const struct feed_instant *instants, size_t count, int64_t gap_s,
                       struct feed_hours *hours)
{
    for (int q = FEED_TEMPERATURE; q <= FEED_CLOUD_HIGH; q++) {
        enum feed_quantity quantity = (enum feed_quantity)q;
        struct track track = {count, 0};
        for (size_t i = 0; i < hours->hour_count; i++) {
            struct weather_raw *hour = &hours->hours[i];
            int64_t end_s = hour->start_s + CIVIL_HOUR_S;
            track = walk(instants, count, quantity, track, hour->start_s);
            double from = value_at(instants, count, quantity, track, hour->start_s, gap_s);
            track = walk(instants, count, quantity, track, end_s);
            double to = value_at(instants, count, quantity, track, end_s, gap_s);
            *feed_quantity_of(hour, quantity) = (from + to) / 2;
        }
    }
}

int feed_hours_open(struct feed_hours *hours, int64_t first_s, size_t count, enum weather_kind kind,
                    struct error *error)
{
    if (count == 0 || count > MOST_HOURS)
        return error_set(error, "the document spans %zu hours, accepted are 1 to %zu", count,
                         MOST_HOURS);
    hours->hours = malloc(count * sizeof *hours->hours);
    if (!hours->hours)
        return error_set(error, "out of memory");
    for (size_t i = 0; i < count; i++) {
        struct weather_raw hour = WEATHER_RAW_EMPTY;
        hour.start_s = first_s + (int64_t)i * CIVIL_HOUR_S;
        hour.issued_s = hours->issued_s;
        hour.kind = kind;
        hours->hours[i] = hour;
    }
    hours->hour_count = count;
    return 0;
}

struct weather_raw *feed_hours_at(struct feed_hours *hours, int64_t start_s)
{
    if (hours->hour_count == 0 || start_s < hours->hours[0].start_s || start_s % CIVIL_HOUR_S != 0)
        return NULL;
    size_t i = (size_t)((start_s - hours->hours[0].start_s) / CIVIL_HOUR_S);
    return i < hours->hour_count ? &hours->hours[i] : NULL;
}

bool feed_settle_dewpoint(double temperature_c, double *dewpoint_c)
{
    if (*dewpoint_c > temperature_c + DEWPOINT_EXCESS_C) {
        *dewpoint_c = NAN;
        return true;
    }
    if (*dewpoint_c > temperature_c)
        *dewpoint_c = temperature_c;
    return false;
}

/* The chance of rain alone is no weather. */
static bool says_something(struct weather_raw *hour)
{
    for (int q = 0; q < FEED_PROBABILITY; q++)
        if (!isnan(*feed_quantity_of(hour, (enum feed_quantity)q)))
            return true;
    return false;
}

static void judge_cloud(struct feed_hours *hours)
{
    size_t known = 0;
    double most = 0;
    for (size_t i = 0; i < hours->hour_count; i++) {
        double cloud = hours->hours[i].cloud_pct;
        if (isnan(cloud))
            continue;
        known++;
        most = fmax(most, cloud);
    }
    hours->cloud_doubtful = known >= CLOUDS_TO_JUDGE && most > 0 && most <= 1;
}

int feed_hours_close(struct feed_hours *hours, struct error *error)
{
    size_t with_temperature = 0;
    size_t kept = 0;
    judge_cloud(hours);
    for (size_t i = 0; i < hours->hour_count; i++) {
        struct weather_raw *hour = &hours->hours[i];
        hours->dropped_values +=
            feed_settle_dewpoint(hour->temperature_c, &hour->dewpoint_c) ? 1 : 0;
        if (!says_something(hour))
            continue;
        with_temperature += isnan(hour->temperature_c) ? 0 : 1;
        hours->hours[kept++] = *hour;
    }
    hours->hour_count = kept;
    if (with_temperature == 0)
        return error_set(error,
                         "the document gives no hour a temperature in celsius (%zu of its %zu "
                         "entries and %zu values could not be used)",
                         hours->dropped_entries, hours->entries, hours->dropped_values);
    return 0;
}

void feed_hours_free(struct feed_hours *hours)
{
    free(hours->hours);
    hours->hours = NULL;
    hours->hour_count = 0;
}

static void add_words(char *out, size_t size, const char *words, size_t count)
{
    size_t used = strlen(out);
    char number[24] = "";
    if (count > 0)
        snprintf(number, sizeof number, "%zu ", count);
    snprintf(out + used, size - used, "%s%s%s", used ? ", " : "", number, words);
}

void feed_hours_describe(const struct feed_hours *hours, char *out, size_t size)
{
    out[0] = '\0';
    if (hours->dropped_entries)
        add_words(out, size, "entries could not be used", hours->dropped_entries);
    if (hours->dropped_values)
        add_words(out, size, "values dropped (unit, type or range)", hours->dropped_values);
    if (hours->duplicates)
        add_words(out, size, "times given twice (the last counts)", hours->duplicates);
    if (hours->disordered)
        add_words(out, size, "series out of order (sorted)", 0);
    if (hours->cloud_doubtful)
        add_words(out, size, "cloud never above 1 %: a fraction instead of per cent?", 0);
    if (hours->height_doubtful)
        add_words(out, size, "made for ground more than 250 m higher or lower than the nursery", 0);
}
