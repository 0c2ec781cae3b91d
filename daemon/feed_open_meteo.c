/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "feed_open_meteo.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "core/civil.h"

static const size_t MOST_ENTRIES = 24 * 40;
static const int64_t GAP_S = 3 * CIVIL_HOUR_S;      /* bridged between known instants */
static const int64_t SETTLED_S = 12 * CIVIL_HOUR_S; /* two runs of a six-hourly model */
static const double FARTHEST_KM = 60;               /* half a cell of the coarsest model */
static const double HEIGHT_M = 250;

/* value = (written - offset) * factor */
struct unit {
    const char *name;
    double factor, offset;
};

#define UNITS_MOST 4

/* The unit that comes back counts, whatever was asked for. */
static const struct {
    const char *name;
    enum feed_quantity quantity;
    struct unit units[UNITS_MOST];
} VARIABLES[] = {
    {"temperature_2m", FEED_TEMPERATURE, {{"\u00b0C", 1, 0}, {"\u00b0F", 5.0 / 9, 32}}},
    {"relative_humidity_2m", FEED_HUMIDITY, {{"%", 1, 0}}},
    {"dew_point_2m", FEED_DEWPOINT, {{"\u00b0C", 1, 0}, {"\u00b0F", 5.0 / 9, 32}}},
    {"wind_speed_10m",
     FEED_WIND,
     {{"m/s", 1, 0}, {"km/h", 1 / 3.6, 0}, {"mp/h", 0.44704, 0}, {"kn", 1852.0 / 3600, 0}}},
    {"cloud_cover", FEED_CLOUD, {{"%", 1, 0}}},
    {"shortwave_radiation", FEED_RADIATION, {{"W/m\u00b2", 1, 0}}},
    {"precipitation", FEED_RAIN, {{"mm", 1, 0}, {"inch", 25.4, 0}}},
    {"precipitation_probability", FEED_PROBABILITY, {{"%", 0.01, 0}}},
};
enum { VARIABLES_COUNT = sizeof VARIABLES / sizeof VARIABLES[0] };

struct reader {
    struct feed_hours hours;
    struct feed_instant *instants;
    size_t count;
};

static const struct unit *find_unit(size_t variable, const char *name)
{
    for (size_t i = 0; name && i < UNITS_MOST && VARIABLES[variable].units[i].name; i++)
        if (strcmp(VARIABLES[variable].units[i].name, name) == 0)
            return &VARIABLES[variable].units[i];
    return NULL;
}

/* --- the document ------------------------------------------------------------------------- */

static int check_cell(const json_t *root, const struct sun_site *site, struct feed_hours *notes,
                      struct error *error)
{
    const json_t *latitude = json_object_get(root, "latitude");
    const json_t *longitude = json_object_get(root, "longitude");
    const json_t *elevation = json_object_get(root, "elevation"); /* left out when not known */
    if (!site)
        return 0;
    if (!json_is_number(latitude) || !json_is_number(longitude))
        return error_set(error, "the document does not say of which place it is");
    double km = feed_distance_km(site, json_number_value(latitude), json_number_value(longitude));
    if (!(km <= FARTHEST_KM))
        return error_set(error,
                         "the document is of latitude %.4f, longitude %.4f, %.0f km from "
                         "what was asked for; accepted are %.0f km",
                         json_number_value(latitude), json_number_value(longitude), km,
                         FARTHEST_KM);
    notes->height_doubtful = json_is_number(elevation) &&
                             fabs(json_number_value(elevation) - site->elevation_m) > HEIGHT_M;
    return 0;
}

/* The times, and room for what happens then. */
static int read_times(struct reader *r, const json_t *times, int64_t now_s, struct error *error)
{
    size_t count = json_array_size(times);
    if (count == 0)
        return error_set(error, "the document has no hourly.time entries");
    if (count > MOST_ENTRIES)
        return error_set(error, "the document has %zu entries, at most %zu are taken", count,
                         MOST_ENTRIES);
    r->instants = calloc(count, sizeof *r->instants);
    if (!r->instants)
        return error_set(error, "out of memory");
    r->count = r->hours.entries = count;
    for (size_t i = 0; i < count; i++) {
        struct feed_instant *instant = &r->instants[i];
        const json_t *time = json_array_get(times, i);
        int64_t at_s = json_is_integer(time) ? json_integer_value(time) : -1;
        bool good = at_s % CIVIL_HOUR_S == 0 && at_s >= now_s - FEED_BEFORE_ISSUE_S &&
                    at_s <= now_s + FEED_AFTER_ISSUE_S;
        instant->at_s = good ? at_s : INT64_MIN;
        instant->order = i;
        r->hours.dropped_entries += good ? 0 : 1;
        for (int q = 0; q < FEED_QUANTITIES; q++)
            instant->values[q] = NAN;
    }
    return 0;
}

/* Drops the entries without a usable time, once their values are in. */
static int keep_timed(struct reader *r, struct error *error)
{
    size_t kept = 0;
    for (size_t i = 0; i < r->count; i++) {
        double *values = r->instants[i].values;
        if (feed_settle_dewpoint(values[FEED_TEMPERATURE], &values[FEED_DEWPOINT]))
            r->hours.dropped_values++;
        if (r->instants[i].at_s != INT64_MIN)
            r->instants[kept++] = r->instants[i];
    }
    r->count = feed_instants_sort(r->instants, kept, &r->hours);
    if (r->count == 0)
        return error_set(error, "none of the document's %zu entries has a usable time",
                         r->hours.entries);
    return 0;
}

/* A column may be missing or of an unknown unit; then it is not known. One of another length than
 * the times belongs to nobody knows which times. */
static int read_column(struct reader *r, size_t variable, const json_t *hourly, const json_t *units,
                       struct error *error)
{
    const char *name = VARIABLES[variable].name;
    enum feed_quantity quantity = VARIABLES[variable].quantity;
    const json_t *column = json_object_get(hourly, name);
    const struct unit *unit = find_unit(variable, json_string_value(json_object_get(units, name)));
    if (!column || json_is_null(column))
        return 0;
    if (!json_is_array(column) || json_array_size(column) != r->count)
        return error_set(error, "hourly.%s has %zu values for %zu times", name,
                         json_array_size(column), r->count);
    for (size_t i = 0; i < r->count; i++) {
        const json_t *value = json_array_get(column, i);
        double *out = &r->instants[i].values[quantity];
        if (json_is_null(value))
            continue;
        if (unit && json_is_number(value))
            *out = feed_quantity_take(quantity,
                                      (json_number_value(value) - unit->offset) * unit->factor);
        r->hours.dropped_values += isnan(*out) ? 1 : 0;
    }
    return 0;
}

static int read_document(struct reader *r, const json_t *root, const struct sun_site *site,
                         int64_t now_s, struct error *error)
{
    const json_t *hourly = json_object_get(root, "hourly");
    const json_t *units = json_object_get(root, "hourly_units");
    const json_t *offset = json_object_get(root, "utc_offset_seconds");
    const char *reason = json_string_value(json_object_get(root, "reason"));
    const char *time_unit = json_string_value(json_object_get(units, "time"));
    if (!json_is_object(hourly) || !json_is_object(units))
        return error_set(error, "the document has no 'hourly' with 'hourly_units'%s%.100s",
                         reason ? ": " : "", reason ? reason : "");
    if (!time_unit || strcmp(time_unit, "unixtime") != 0)
        return error_set(error, "the document's times are not in the seconds asked for");
    if (offset && json_integer_value(offset) != 0)
        return error_set(error, "the document's times are not in UTC");
    if (check_cell(root, site, &r->hours, error) != 0 ||
        read_times(r, json_object_get(hourly, "time"), now_s, error) != 0)
        return -1;
    for (size_t v = 0; v < VARIABLES_COUNT; v++)
        if (read_column(r, v, hourly, units, error) != 0)
            return -1;
    return keep_timed(r, error);
}

/* --- hours -------------------------------------------------------------------------------- */

/* Radiation, rain and its probability are of the hour that ends at their stamp. */
static void lay_periods(struct reader *r)
{
    for (size_t i = 0; i < r->count; i++) {
        const struct feed_instant *instant = &r->instants[i];
        struct weather_raw *hour = feed_hours_at(&r->hours, instant->at_s - CIVIL_HOUR_S);
        if (!hour)
            continue;
        hour->radiation_w_m2 = instant->values[FEED_RADIATION];
        hour->rain_mm = instant->values[FEED_RAIN];
        hour->rain_probability = instant->values[FEED_PROBABILITY];
    }
}

static int make_hours(struct reader *r, int64_t now_s, struct error *error)
{
    int64_t first_s = r->instants[0].at_s - CIVIL_HOUR_S;
    int64_t end_s = r->instants[r->count - 1].at_s;
    r->hours.issued_s = now_s;
    if (feed_hours_open(&r->hours, first_s, (size_t)((end_s - first_s) / CIVIL_HOUR_S),
                        WEATHER_FORECAST, error) != 0)
        return -1;
    for (size_t i = 0; i < r->hours.hour_count; i++)
        if (r->hours.hours[i].start_s + CIVIL_HOUR_S <= now_s - SETTLED_S)
            r->hours.hours[i].kind = WEATHER_ANALYSIS;
    feed_instants_lay(r->instants, r->count, GAP_S, &r->hours);
    lay_periods(r);
    return feed_hours_close(&r->hours, error);
}

/* One place is an object, several are an array; an array of one is still the one asked for. */
static const json_t *only_place(const json_t *root)
{
    return json_array_size(root) == 1 ? json_array_get(root, 0) : root;
}

int feed_open_meteo_read(const char *bytes, size_t length, const struct sun_site *site,
                         int64_t now_s, struct feed_hours *out, struct error *error)
{
    struct reader r = {.count = 0};
    int result = -1;
    json_t *root = feed_parse(bytes, length, error);
    if (!root || read_document(&r, only_place(root), site, now_s, error) != 0 || !r.instants ||
        make_hours(&r, now_s, error) != 0)
        goto out;
    *out = r.hours;
    r.hours.hours = NULL;
    result = 0;
out:
    json_decref(root);
    free(r.instants);
    feed_hours_free(&r.hours);
    if (result != 0 && error)
        error_make_plain(error->text); /* may quote the document */
    return result;
}

/* --- asking ------------------------------------------------------------------------------- */

/* The words of the server's rate limiter begin with Minutely, Hourly or Daily, or speak of
 * concurrent requests. At midnight not all come back at once. */
int64_t feed_open_meteo_wait_s(const char *bytes, size_t length, const struct sun_site *site,
                               int64_t now_s)
{
    json_t *root = json_loadb(bytes ? bytes : "", length, 0, NULL);
    const char *reason = json_string_value(json_object_get(root, "reason"));
    int64_t wait_s = 900;
    if (reason && (strncmp(reason, "Minutely", 8) == 0 || strstr(reason, "oncurrent")))
        wait_s = 60;
    else if (reason && strncmp(reason, "Hourly", 6) == 0)
        wait_s = civil_floor_hour(now_s) + CIVIL_HOUR_S - now_s + 60;
    else if (reason && strncmp(reason, "Daily", 5) == 0)
        wait_s = civil_floor_day(now_s) + CIVIL_DAY_S - now_s + 60 +
                 (int64_t)(fabs(site->latitude_deg + site->longitude_deg) * 1e4) % 1800;
    json_decref(root);
    return wait_s;
}

/* Eight variables over 14 days count as one request. A day more than the plan needs: the interval
 * that ends at the last midnight is not in the document. */
static void write_url(const struct adapter_order *order, char *url, size_t size)
{
    char latitude[16];
    char longitude[16];
    adapter_degrees(order->site.latitude_deg, false, latitude);
    adapter_degrees(order->site.longitude_deg, false, longitude);
    int n = snprintf(url, size, "%s?latitude=%s&longitude=%s&elevation=%.0f&hourly=", order->base,
                     latitude, longitude, round(order->site.elevation_m) + 0.0);
    size_t used = n > 0 ? (size_t)n : 0;
    for (size_t v = 0; v < VARIABLES_COUNT; v++)
        used += (size_t)snprintf(url + used, size - used, "%s%s", v ? "," : "", VARIABLES[v].name);
    snprintf(url + used, size - used,
             "&past_days=2&forecast_days=12&timeformat=unixtime&timezone=GMT&wind_speed_unit=ms"
             "%s%s",
             order->key[0] ? "&apikey=" : "", order->key);
}

static enum adapter_outcome fetch(const struct adapter_order *order, struct adapter_harvest *out,
                                  struct error *error)
{
    char url[ADAPTER_URL_SIZE + ADAPTER_KEY_SIZE];
    write_url(order, url, sizeof url);
    enum adapter_outcome outcome = adapter_get(order, url, "", out, error);
    const struct adapter_answer *answer = &out->answer;
    if (outcome == ADAPTER_STATUS && answer->status == 429 && answer->retry_after_s == 0)
        out->wait_s = feed_open_meteo_wait_s(answer->body, answer->length, &order->site,
                                             answer->date_s ? answer->date_s : order->now_s);
    if (outcome != ADAPTER_DOCUMENT)
        return outcome;
    return feed_open_meteo_read(answer->body ? answer->body : "", answer->length, &order->site,
                                order->now_s, &out->hours, error) == 0
               ? ADAPTER_DOCUMENT
               : ADAPTER_REFUSED;
}

/* The free host is for non-commercial use only (its terms); a nursery is not. The service gives no
 * validator and no Expires: global models refresh 6-hourly, regional ones 1- to 3-hourly. */
const struct adapter feed_open_meteo = {
    .name = "open-meteo",
    .url = "https://customer-api.open-meteo.com/v1/forecast",
    .accept = "application/json",
    .kinds = 1U << WEATHER_FORECAST | 1U << WEATHER_ANALYSIS,
    .floor_s = 300,
    .interval_s = 3600,
    .jitter_s = 900,
    .takes_key = true,
    .key_host = "customer-api.open-meteo.com",
    .private_host = "open-meteo.com",
    .fetch = fetch,
};
