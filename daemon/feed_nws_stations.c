/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "feed_nws_stations.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "core/civil.h"
#include "feed_nws.h"

static const double FARTHEST_KM = 40; /* an hour's weather there is not this place's [our choice] */
static const double HEIGHT_M = 250;
static const size_t MOST_STATIONS = 500;
static const size_t MOST_REPORTS = 2000;
static const int64_t GAP_S = 3 * CIVIL_HOUR_S;   /* bridged between reports */
static const int64_t BACK_S = 3 * CIVIL_DAY_S;   /* asked for the first time */
static const int64_t AGAIN_S = 3 * CIVIL_HOUR_S; /* and later: reports come late */
static const int64_t AHEAD_S = 600;              /* of our clock */

/* --- which station ------------------------------------------------------------------------ */

enum { CANDIDATES = 3, ID_SIZE = 12 };

struct station {
    char id[ID_SIZE];
    double km;
};

static bool is_id(const char *text)
{
    size_t length = strspn(text, "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789");
    return length >= 3 && length < ID_SIZE && text[length] == '\0';
}

static bool read_station(const json_t *feature, const struct sun_site *site, struct station *out)
{
    const json_t *properties = json_object_get(feature, "properties");
    const char *id = json_string_value(json_object_get(properties, "stationIdentifier"));
    const json_t *elevation = json_object_get(json_object_get(properties, "elevation"), "value");
    const json_t *point = json_object_get(json_object_get(feature, "geometry"), "coordinates");
    const json_t *longitude = json_array_get(point, 0);
    const json_t *latitude = json_array_get(point, 1);
    if (!id || !is_id(id) || !json_is_number(longitude) || !json_is_number(latitude))
        return false;
    if (json_is_number(elevation) &&
        !(fabs(json_number_value(elevation) - site->elevation_m) <= HEIGHT_M))
        return false;
    snprintf(out->id, sizeof out->id, "%.11s", id);
    out->km = feed_distance_km(site, json_number_value(latitude), json_number_value(longitude));
    return out->km <= FARTHEST_KM;
}

/* Keeps the nearest few, nearest first. */
static void keep_nearest(struct station nearest[CANDIDATES], size_t *count,
                         const struct station *station)
{
    size_t at = *count;
    while (at > 0 && nearest[at - 1].km > station->km)
        at--;
    if (at == CANDIDATES)
        return;
    if (*count < CANDIDATES)
        (*count)++;
    for (size_t i = *count - 1; i > at; i--)
        nearest[i] = nearest[i - 1];
    nearest[at] = *station;
}

int feed_nws_stations_pick(const char *bytes, size_t length, const struct sun_site *site,
                           char out[ADAPTER_ADDRESS_SIZE], struct error *error)
{
    struct station nearest[CANDIDATES];
    size_t count = 0;
    json_t *root = feed_parse(bytes, length, error);
    const json_t *features = json_object_get(root, "features");
    if (!root)
        return -1;
    for (size_t i = 0; i < json_array_size(features) && i < MOST_STATIONS; i++) {
        struct station station;
        if (read_station(json_array_get(features, i), site, &station))
            keep_nearest(nearest, &count, &station);
    }
    json_decref(root);
    if (count == 0)
        return error_set(error, "no station within %.0f km and %.0f m of height", FARTHEST_KM,
                         HEIGHT_M);
    out[0] = '\0';
    for (size_t i = 0; i < count; i++)
        snprintf(out + strlen(out), ADAPTER_ADDRESS_SIZE - strlen(out), "%s%s", i ? "," : "",
                 nearest[i].id);
    return 0;
}

/* The index-th name of a list; false behind the last and when it is none. */
static bool name_of(const char *list, size_t index, char id[ID_SIZE])
{
    for (size_t i = 0; i < index; i++) {
        list = strchr(list, ',');
        if (!list)
            return false;
        list++;
    }
    size_t length = strcspn(list, ",");
    if (length >= ID_SIZE)
        return false;
    snprintf(id, ID_SIZE, "%.*s", (int)length, list);
    return is_id(id);
}

bool feed_nws_stations_is_list(const char *text)
{
    char id[ID_SIZE];
    size_t commas = 0;
    for (const char *c = text; *c; c++)
        commas += *c == ',';
    for (size_t i = 0; i <= commas; i++)
        if (commas >= CANDIDATES || !name_of(text, i, id))
            return false;
    return true;
}

/* --- reports ------------------------------------------------------------------------------ */

static const struct {
    const char *name;
    enum feed_quantity quantity;
} VALUES[] = {
    {"temperature", FEED_TEMPERATURE},    {"dewpoint", FEED_DEWPOINT},
    {"relativeHumidity", FEED_HUMIDITY},  {"windSpeed", FEED_WIND},
    {"precipitationLastHour", FEED_RAIN},
};

/* Letters of the service's quality control (MADIS): Z none made, C coarse, S screened, V verified,
 * G good by hand, T made without the humidity. X rejected, Q questioned and B bad by hand are not
 * used, nor is a letter that is not known. */
static bool passed_control(const json_t *value)
{
    const json_t *letter = json_object_get(value, "qualityControl");
    const char *text = json_string_value(letter);
    return !letter || (text && text[0] && !text[1] && strchr("ZCSVGT", text[0]));
}

static double read_value(struct feed_hours *hours, const json_t *properties, size_t which)
{
    const json_t *object = json_object_get(properties, VALUES[which].name);
    const json_t *value = json_object_get(object, "value");
    if (!value || json_is_null(value))
        return NAN;
    const char *unit = json_string_value(json_object_get(object, "unitCode"));
    double number = NAN;
    if (json_is_number(value) && passed_control(object))
        number = feed_nws_take(VALUES[which].quantity, unit, json_number_value(value));
    hours->dropped_values += isnan(number) ? 1 : 0;
    return number;
}

/* The most that one of the layers covers. Shares: middles of the eighths that the codes stand for
 * (METAR code table). */
static double read_cloud(const json_t *properties)
{
    static const struct {
        const char *amount;
        double pct;
    } AMOUNTS[] = {{"CLR", 0},  {"SKC", 0},   {"FEW", 18.75}, {"SCT", 43.75},
                   {"BKN", 75}, {"OVC", 100}, {"VV", 100}};
    const json_t *layers = json_object_get(properties, "cloudLayers");
    double most_pct = NAN;
    for (size_t i = 0; i < json_array_size(layers) && i < 20; i++) {
        const char *amount =
            json_string_value(json_object_get(json_array_get(layers, i), "amount"));
        for (size_t a = 0; amount && a < sizeof AMOUNTS / sizeof *AMOUNTS; a++)
            if (strcmp(AMOUNTS[a].amount, amount) == 0)
                most_pct = fmax(most_pct, AMOUNTS[a].pct); /* NAN loses */
    }
    return most_pct;
}

/* Reports without their raw text are interim ones of every five minutes, without dew point and
 * rain: not used, not worth a word. */
static bool is_interim(const json_t *properties)
{
    const char *raw = json_string_value(json_object_get(properties, "rawMessage"));
    return !raw || raw[strspn(raw, " \t\r\n")] == '\0';
}

static bool read_report(struct feed_hours *hours, const json_t *feature, int64_t now_s,
                        struct feed_instant *out)
{
    const json_t *properties = json_object_get(feature, "properties");
    const char *time = json_string_value(json_object_get(properties, "timestamp"));
    if (json_is_object(properties) && time && is_interim(properties))
        return false;
    if (!time || !feed_nws_read_time(time, strlen(time), &out->at_s) ||
        out->at_s > now_s + AHEAD_S || out->at_s < now_s - FEED_BEFORE_ISSUE_S) {
        hours->dropped_entries++;
        return false;
    }
    for (int q = 0; q < FEED_QUANTITIES; q++)
        out->values[q] = NAN;
    for (size_t v = 0; v < sizeof VALUES / sizeof *VALUES; v++)
        out->values[VALUES[v].quantity] = read_value(hours, properties, v);
    out->values[FEED_CLOUD] = read_cloud(properties);
    hours->dropped_values +=
        feed_settle_dewpoint(out->values[FEED_TEMPERATURE], &out->values[FEED_DEWPOINT]) ? 1 : 0;
    return true;
}

/* Two reports of one hour: the one that has seen more of it. */
static void lay_rain(struct feed_hours *hours, const struct feed_instant *reports, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        struct weather_raw *hour =
            feed_hours_at(hours, civil_floor_hour(reports[i].at_s - CIVIL_HOUR_S / 2));
        if (hour && !isnan(reports[i].values[FEED_RAIN]))
            hour->rain_mm = fmax(hour->rain_mm, reports[i].values[FEED_RAIN]); /* NAN loses */
    }
}

static int make_hours(struct feed_hours *hours, const struct feed_instant *reports, size_t count,
                      struct error *error)
{
    int64_t first_s = civil_floor_hour(reports[0].at_s - CIVIL_HOUR_S / 2);
    int64_t last_s = reports[count - 1].at_s;
    hours->issued_s = last_s;
    /* Slots up to the last report; the one it stands in has no right end and drops out again. */
    if (feed_hours_open(hours, first_s, (size_t)((last_s - first_s) / CIVIL_HOUR_S) + 1,
                        WEATHER_ANALYSIS, error) != 0)
        return -1;
    feed_instants_lay(reports, count, GAP_S, hours);
    lay_rain(hours, reports, count);
    return feed_hours_close(hours, error);
}

/* The list is newest first, so order in the document tells nothing. */
static int read_features(struct feed_hours *hours, const json_t *features, int64_t now_s,
                         struct error *error)
{
    size_t size = json_array_size(features);
    size_t count = 0;
    if (size > MOST_REPORTS)
        return error_set(error, "the document has %zu reports, at most %zu are taken", size,
                         MOST_REPORTS);
    struct feed_instant *reports = calloc(size + 1, sizeof *reports);
    if (!reports)
        return error_set(error, "out of memory");
    hours->entries = size;
    for (size_t i = 0; i < size; i++) {
        reports[count].order = i;
        if (read_report(hours, json_array_get(features, i), now_s, &reports[count]))
            count++;
    }
    count = feed_instants_sort(reports, count, hours);
    hours->disordered = false;
    int result = count > 0
                     ? make_hours(hours, reports, count, error)
                     : error_set(error, "none of the station's %zu reports can be used", size);
    free(reports);
    return result;
}

int feed_nws_stations_read(const char *bytes, size_t length, int64_t now_s, struct feed_hours *out,
                           struct error *error)
{
    struct feed_hours hours = {.issued_s = 0};
    json_t *root = feed_parse(bytes, length, error);
    const json_t *features = json_object_get(root, "features");
    int result = -1;
    if (root && !json_is_array(features))
        error_set(error, "the document is JSON without a list 'features'");
    else if (root)
        result = read_features(&hours, features, now_s, error);
    json_decref(root);
    if (result == 0)
        *out = hours;
    else
        feed_hours_free(&hours);
    return result;
}

/* --- asking ------------------------------------------------------------------------------- */

static enum adapter_outcome get_list(const struct adapter_order *order, struct adapter_harvest *out,
                                     struct error *error)
{
    char cell[FEED_NWS_CELL_SIZE];
    char url[ADAPTER_URL_SIZE];
    enum adapter_outcome outcome = feed_nws_resolve(order, out, cell, error);
    if (outcome != ADAPTER_DOCUMENT)
        return outcome;
    snprintf(url, sizeof url, "%s/gridpoints/%s/stations", order->base, cell);
    outcome = adapter_get(order, url, "", out, error);
    if (outcome != ADAPTER_DOCUMENT)
        return outcome;
    return feed_nws_stations_pick(out->answer.body ? out->answer.body : "", out->answer.length,
                                  &order->site, out->address, error) == 0
               ? ADAPTER_DOCUMENT
               : ADAPTER_REFUSED;
}

static enum adapter_outcome get_reports(const struct adapter_order *order, const char *id,
                                        struct adapter_harvest *out, struct error *error)
{
    char url[ADAPTER_URL_SIZE];
    char start[CIVIL_TEXT];
    int64_t start_s = order->now_s - BACK_S;
    if (order->since_s - AGAIN_S > start_s && order->since_s <= order->now_s)
        start_s = order->since_s - AGAIN_S;
    civil_format_rfc3339(start_s, 0, start);
    snprintf(url, sizeof url, "%s/stations/%s/observations?start=%s&limit=500", order->base, id,
             start);
    enum adapter_outcome outcome = adapter_get(order, url, "", out, error);
    if (outcome != ADAPTER_DOCUMENT)
        return outcome;
    return feed_nws_stations_read(out->answer.body ? out->answer.body : "", out->answer.length,
                                  order->now_s, &out->hours, error) == 0
               ? ADAPTER_DOCUMENT
               : ADAPTER_REFUSED;
}

/* The next station is only asked when the nearer one has nothing usable or is gone; trouble of the
 * service would be the same there. */
static enum adapter_outcome fetch(const struct adapter_order *order, struct adapter_harvest *out,
                                  struct error *error)
{
    char id[ID_SIZE];
    enum adapter_outcome outcome = ADAPTER_REFUSED;
    if (order->address[0] && feed_nws_stations_is_list(order->address)) {
        snprintf(out->address, sizeof out->address, "%s", order->address);
    } else {
        outcome = get_list(order, out, error);
        if (outcome != ADAPTER_DOCUMENT)
            return outcome;
    }
    for (size_t i = 0; name_of(out->address, i, id); i++) {
        outcome = get_reports(order, id, out, error);
        bool gone = outcome == ADAPTER_STATUS && out->answer.status == 404;
        if (outcome != ADAPTER_REFUSED && !gone)
            return outcome;
    }
    out->address[0] = '\0'; /* look for others next time */
    return outcome;
}

/* Reports come a few minutes before the hour and reach the service within a quarter of an hour. */
const struct adapter feed_nws_stations = {
    .name = "nws-stations",
    .url = "https://api.weather.gov",
    .accept = "application/geo+json",
    .absent = " (the service covers land of the United States and its territories)",
    .kinds = 1U << WEATHER_ANALYSIS,
    .floor_s = 300,
    .interval_s = 3600,
    .jitter_s = 600,
    .phase_s = 300,
    .address_keep_s = 7 * CIVIL_DAY_S,
    .fetch = fetch,
};
