/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "feed_nws.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "core/civil.h"

static const size_t MOST_VALUES = 2000;            /* of a layer; a real one has up to 200 */
static const int64_t LONGEST_S = 10 * CIVIL_DAY_S; /* of an interval; real ones reach three days */
static const double BESIDE_KEPT_DEG = 0;
static const double BESIDE_FRESH_DEG =
    0.05; /* two cells: what the service just said must be near */
static const double HEIGHT_M = 250;
static const double MOST_RAIN_MM = 400; /* of an interval, however long */

/* value = (written - offset) * factor */
struct unit {
    const char *name;
    double factor, offset;
};

#define UNITS_MOST 4

static const struct unit UNITS[FEED_QUANTITIES][UNITS_MOST] = {
    [FEED_TEMPERATURE] = {{"degC", 1, 0}, {"degF", 5.0 / 9, 32}, {"K", 1, 273.15}},
    [FEED_DEWPOINT] = {{"degC", 1, 0}, {"degF", 5.0 / 9, 32}, {"K", 1, 273.15}},
    [FEED_HUMIDITY] = {{"percent", 1, 0}},
    [FEED_WIND] = {{"km_h-1", 1 / 3.6, 0}, {"m_s-1", 1, 0}, {"kt", 1852.0 / 3600, 0}},
    [FEED_CLOUD] = {{"percent", 1, 0}},
    [FEED_RAIN] = {{"mm", 1, 0}, {"m", 1000, 0}},
    [FEED_PROBABILITY] = {{"percent", 0.01, 0}},
};

static const struct unit *find_unit(enum feed_quantity quantity, const char *uom)
{
    const char *colon = uom ? strrchr(uom, ':') : NULL;
    const char *name = colon ? colon + 1 : uom;
    for (size_t i = 0; name && i < UNITS_MOST && UNITS[quantity][i].name; i++)
        if (strcmp(UNITS[quantity][i].name, name) == 0)
            return &UNITS[quantity][i];
    return NULL;
}

/* NAN when the unit is not known. */
static double convert(enum feed_quantity quantity, const char *uom, double value)
{
    const struct unit *unit = find_unit(quantity, uom);
    return unit ? (value - unit->offset) * unit->factor : NAN;
}

double feed_nws_take(enum feed_quantity quantity, const char *uom, double value)
{
    return feed_quantity_take(quantity, convert(quantity, uom, value));
}

/* --- intervals ---------------------------------------------------------------------------- */

bool feed_nws_read_time(const char *text, size_t length, int64_t *t_s)
{
    char full[48];
    if (length < 20 || length > 40)
        return false;
    size_t digits = 0;
    while (digits < length && text[length - 1 - digits] >= '0' && text[length - 1 - digits] <= '9')
        digits++;
    char sign = text[length - 1 - digits];
    bool bare = (sign == '+' || sign == '-') && (digits == 2 || digits == 4);
    if (bare) /* +00 and +0000: as RFC 3339 has them */
        snprintf(full, sizeof full, "%.*s%.2s:%.2s", (int)(length - digits), text,
                 text + length - digits, digits == 4 ? text + length - 2 : "00");
    else
        snprintf(full, sizeof full, "%.*s", (int)length, text);
    return civil_parse_rfc3339(full, t_s) == STATUS_OK;
}

/* Up to six digits and their letter; false when they are not there. */
static bool read_part(const char **at, const char *end, char letter, int64_t *number)
{
    const char *c = *at;
    int64_t value = 0;
    while (c < end && *c >= '0' && *c <= '9' && c - *at < 6)
        value = 10 * value + (*c++ - '0');
    if (c == *at || c == end || *c != letter)
        return false;
    *at = c + 1;
    *number = value;
    return true;
}

/* Years and months have no fixed length: only none of them is understood. */
static bool read_duration(const char *text, size_t length, int64_t *seconds)
{
    static const struct {
        char letter;
        bool of_time;
        int64_t seconds;
    } PARTS[] = {{'Y', false, 0},   {'M', false, 0}, {'D', false, 86400},
                 {'H', true, 3600}, {'M', true, 60}, {'S', true, 1}};
    const char *at = text;
    const char *end = text + length;
    bool of_time = false;
    bool any = false;
    *seconds = 0;
    if (at == end || *at++ != 'P')
        return false;
    for (size_t i = 0; i < sizeof PARTS / sizeof *PARTS; i++) {
        int64_t number = 0;
        if (PARTS[i].of_time && !of_time && at < end && *at == 'T') {
            of_time = true;
            any = false;
            at++;
        }
        if (PARTS[i].of_time != of_time || !read_part(&at, end, PARTS[i].letter, &number))
            continue;
        if (number > 0 && PARTS[i].seconds == 0)
            return false;
        *seconds += number * PARTS[i].seconds;
        any = true;
    }
    return any && at == end;
}

/* What stands behind a start. */
static bool read_end(const char *text, int64_t start_s, int64_t *end_s)
{
    int64_t duration_s = 0;
    if (!read_duration(text, strlen(text), &duration_s))
        return feed_nws_read_time(text, strlen(text), end_s);
    *end_s = start_s + duration_s;
    return true;
}

bool feed_nws_read_interval(const char *text, int64_t *start_s, int64_t *end_s)
{
    const char *slash = strchr(text, '/');
    int64_t duration_s = 0;
    bool good = false;
    if (!slash)
        return false;
    size_t first = (size_t)(slash - text);
    if (read_duration(text, first, &duration_s)) {
        good = feed_nws_read_time(slash + 1, strlen(slash + 1), end_s);
        *start_s = good ? *end_s - duration_s : 0;
    } else {
        good = feed_nws_read_time(text, first, start_s) && read_end(slash + 1, *start_s, end_s);
    }
    return good && *end_s > *start_s && *end_s - *start_s <= LONGEST_S;
}

/* --- /points ------------------------------------------------------------------------------ */

bool feed_nws_is_cell(const char *text)
{
    size_t letters = strspn(text, "ABCDEFGHIJKLMNOPQRSTUVWXYZ");
    const char *x = text + letters + 1;
    size_t x_digits = letters == 3 && text[letters] == '/' ? strspn(x, "0123456789") : 0;
    const char *y = x + x_digits + 1;
    size_t y_digits = x_digits > 0 && x[x_digits] == ',' ? strspn(y, "0123456789") : 0;
    return x_digits >= 1 && x_digits <= 4 && y_digits >= 1 && y_digits <= 4 && !y[y_digits];
}

int feed_nws_read_point(const char *bytes, size_t length, char cell[FEED_NWS_CELL_SIZE],
                        struct error *error)
{
    int result = -1;
    char text[64] = "";
    json_t *root = feed_parse(bytes, length, error);
    const json_t *properties = json_object_get(root, "properties");
    const char *office = json_string_value(json_object_get(properties, "gridId"));
    const json_t *x = json_object_get(properties, "gridX");
    const json_t *y = json_object_get(properties, "gridY");
    if (!root)
        return -1;
    if (office && json_is_integer(x) && json_is_integer(y))
        snprintf(text, sizeof text, "%.8s/%lld,%lld", office, (long long)json_integer_value(x),
                 (long long)json_integer_value(y));
    if (feed_nws_is_cell(text)) {
        snprintf(cell, FEED_NWS_CELL_SIZE, "%.15s", text);
        result = 0;
    } else {
        error_set(error, "the service does not say in which cell of its grid the place lies");
    }
    json_decref(root);
    return result;
}

/* More than 4 decimals, and zeros at their end, are sent elsewhere by the service. */
enum adapter_outcome feed_nws_resolve(const struct adapter_order *order,
                                      struct adapter_harvest *out, char cell[FEED_NWS_CELL_SIZE],
                                      struct error *error)
{
    char url[ADAPTER_URL_SIZE];
    char latitude[16];
    char longitude[16];
    adapter_degrees(order->site.latitude_deg, true, latitude);
    adapter_degrees(order->site.longitude_deg, true, longitude);
    snprintf(url, sizeof url, "%s/points/%s,%s", order->base, latitude, longitude);
    enum adapter_outcome outcome = adapter_get(order, url, "", out, error);
    if (outcome != ADAPTER_DOCUMENT)
        return outcome == ADAPTER_UNCHANGED ? ADAPTER_REFUSED : outcome;
    return feed_nws_read_point(out->answer.body ? out->answer.body : "", out->answer.length, cell,
                               error) == 0
               ? ADAPTER_DOCUMENT
               : ADAPTER_REFUSED;
}

/* --- the cell's place --------------------------------------------------------------------- */

struct point {
    double x, y; /* degrees east and north of the site */
};

static bool read_corner(const json_t *pair, const struct sun_site *site, struct point *out)
{
    const json_t *longitude = json_array_get(pair, 0);
    const json_t *latitude = json_array_get(pair, 1);
    if (!json_is_number(longitude) || !json_is_number(latitude))
        return false;
    out->x = remainder(json_number_value(longitude) - site->longitude_deg, 360);
    out->y = json_number_value(latitude) - site->latitude_deg;
    return true;
}

/* Whether the ray eastward from the site crosses the edge. */
static bool crosses(struct point a, struct point b)
{
    return (a.y > 0) != (b.y > 0) && a.x - a.y * (b.x - a.x) / (b.y - a.y) > 0;
}

/* The site is at the origin; beside_deg widens the polygon's frame, 0 takes the polygon itself. */
static bool holds_site(const json_t *ring, const struct sun_site *site, double beside_deg)
{
    size_t count = json_array_size(ring);
    struct point previous;
    struct point low = {INFINITY, INFINITY};
    struct point high = {-INFINITY, -INFINITY};
    bool inside = false;
    if (count < 4 || count > 100 || !read_corner(json_array_get(ring, count - 1), site, &previous))
        return false;
    for (size_t i = 0; i < count; i++) {
        struct point corner;
        if (!read_corner(json_array_get(ring, i), site, &corner))
            return false;
        inside ^= crosses(previous, corner);
        low = (struct point){fmin(low.x, corner.x), fmin(low.y, corner.y)};
        high = (struct point){fmax(high.x, corner.x), fmax(high.y, corner.y)};
        previous = corner;
    }
    return inside || (beside_deg > 0 && low.x <= beside_deg && low.y <= beside_deg &&
                      high.x >= -beside_deg && high.y >= -beside_deg);
}

/* --- layers ------------------------------------------------------------------------------- */

static const struct {
    const char *name;
    enum feed_quantity quantity;
} LAYERS[] = {
    {"temperature", FEED_TEMPERATURE},
    {"dewpoint", FEED_DEWPOINT},
    {"relativeHumidity", FEED_HUMIDITY},
    {"skyCover", FEED_CLOUD},
    {"windSpeed", FEED_WIND},
    {"probabilityOfPrecipitation", FEED_PROBABILITY},
    {"quantitativePrecipitation", FEED_RAIN},
};
enum { LAYERS_COUNT = sizeof LAYERS / sizeof LAYERS[0] };

struct piece {
    int64_t start_s, end_s;
    double value;
};

static bool read_span(const struct feed_hours *hours, const json_t *item, struct piece *out)
{
    const char *interval = json_string_value(json_object_get(item, "validTime"));
    return interval && feed_nws_read_interval(interval, &out->start_s, &out->end_s) &&
           out->start_s >= hours->issued_s - FEED_BEFORE_ISSUE_S &&
           out->end_s <= hours->issued_s + FEED_AFTER_ISSUE_S;
}

/* False when there is nothing to lay; counts what is dropped. An amount is judged once it is
 * spread. */
static bool read_piece(struct feed_hours *hours, enum feed_quantity quantity, const char *uom,
                       const json_t *item, struct piece *out)
{
    const json_t *value = json_object_get(item, "value");
    if (!read_span(hours, item, out)) {
        hours->dropped_entries++;
        return false;
    }
    if (json_is_null(value)) /* not applicable */
        return false;
    out->value = json_is_number(value) ? convert(quantity, uom, json_number_value(value)) : NAN;
    if (quantity != FEED_RAIN)
        out->value = feed_quantity_take(quantity, out->value);
    hours->dropped_values += isnan(out->value) ? 1 : 0;
    return !isnan(out->value);
}

static void lay_state(struct feed_hours *hours, enum feed_quantity quantity,
                      const struct piece *piece)
{
    int64_t half_s = CIVIL_HOUR_S / 2;
    for (int64_t t_s = civil_floor_hour(piece->start_s); t_s < piece->end_s; t_s += CIVIL_HOUR_S) {
        struct weather_raw *hour = feed_hours_at(hours, t_s);
        if (!hour || t_s + half_s < piece->start_s || t_s + half_s >= piece->end_s)
            continue;
        double *value = feed_quantity_of(hour, quantity);
        hours->duplicates += isnan(*value) ? 0 : 1;
        *value = piece->value;
    }
}

/* The interval's total, evenly. A slot that two intervals share takes of both; one that is given
 * twice takes the later. */
static void lay_amount(struct feed_hours *hours, const struct piece *piece)
{
    double per_hour_mm =
        piece->value * (double)CIVIL_HOUR_S / (double)(piece->end_s - piece->start_s);
    if (per_hour_mm > 0 && per_hour_mm < 1e-6)
        per_hour_mm = 0;
    double part_mm = feed_quantity_take(FEED_RAIN, per_hour_mm);
    if (isnan(part_mm) || piece->value > MOST_RAIN_MM) {
        hours->dropped_values++;
        return;
    }
    for (int64_t t_s = civil_floor_hour(piece->start_s); t_s < piece->end_s; t_s += CIVIL_HOUR_S) {
        struct weather_raw *hour = feed_hours_at(hours, t_s);
        int64_t from_s = piece->start_s > t_s ? piece->start_s : t_s;
        int64_t to_s = piece->end_s < t_s + CIVIL_HOUR_S ? piece->end_s : t_s + CIVIL_HOUR_S;
        bool whole = to_s - from_s == CIVIL_HOUR_S;
        if (!hour)
            continue;
        bool known = !isnan(hour->rain_mm);
        double amount_mm = part_mm * (double)(to_s - from_s) / (double)CIVIL_HOUR_S;
        hours->duplicates += whole && known ? 1 : 0;
        hour->rain_mm = whole || !known ? amount_mm : hour->rain_mm + amount_mm;
    }
}

static void lay_layer(struct feed_hours *hours, const json_t *layer, enum feed_quantity quantity)
{
    const json_t *values = json_object_get(layer, "values");
    const char *uom = json_string_value(json_object_get(layer, "uom"));
    for (size_t i = 0; i < json_array_size(values) && i < MOST_VALUES; i++) {
        struct piece piece;
        if (!read_piece(hours, quantity, uom, json_array_get(values, i), &piece))
            continue;
        if (quantity == FEED_RAIN)
            lay_amount(hours, &piece);
        else
            lay_state(hours, quantity, &piece);
    }
}

/* First and last moment of all usable intervals; what cannot be used is counted later. */
static bool find_span(const struct feed_hours *hours, const json_t *properties, int64_t *first_s,
                      int64_t *end_s)
{
    bool any = false;
    for (size_t l = 0; l < LAYERS_COUNT; l++) {
        const json_t *values =
            json_object_get(json_object_get(properties, LAYERS[l].name), "values");
        for (size_t i = 0; i < json_array_size(values) && i < MOST_VALUES; i++) {
            struct piece piece;
            if (!read_span(hours, json_array_get(values, i), &piece))
                continue;
            *first_s = any && *first_s < piece.start_s ? *first_s : piece.start_s;
            *end_s = any && *end_s > piece.end_s ? *end_s : piece.end_s;
            any = true;
        }
    }
    return any;
}

static int read_layers(struct feed_hours *hours, const json_t *properties, struct error *error)
{
    int64_t first_s = 0;
    int64_t end_s = 0;
    for (size_t l = 0; l < LAYERS_COUNT; l++) {
        size_t size =
            json_array_size(json_object_get(json_object_get(properties, LAYERS[l].name), "values"));
        if (size > MOST_VALUES)
            return error_set(error, "%s has %zu values, at most %zu are taken", LAYERS[l].name,
                             size, MOST_VALUES);
        hours->entries += size;
    }
    if (!find_span(hours, properties, &first_s, &end_s))
        return error_set(error, "none of the document's %zu intervals can be used", hours->entries);
    first_s = civil_floor_hour(first_s);
    size_t count = (size_t)((end_s - first_s + CIVIL_HOUR_S - 1) / CIVIL_HOUR_S);
    if (feed_hours_open(hours, first_s, count, WEATHER_FORECAST, error) != 0)
        return -1;
    for (size_t l = 0; l < LAYERS_COUNT; l++)
        lay_layer(hours, json_object_get(properties, LAYERS[l].name), LAYERS[l].quantity);
    return feed_hours_close(hours, error);
}

/* --- the document ------------------------------------------------------------------------- */

static void judge_height(const json_t *properties, const struct sun_site *site,
                         struct feed_hours *hours)
{
    const json_t *elevation = json_object_get(json_object_get(properties, "elevation"), "value");
    hours->height_doubtful = site && json_is_number(elevation) &&
                             fabs(json_number_value(elevation) - site->elevation_m) > HEIGHT_M;
}

static int read_document(const json_t *root, const struct sun_site *site, double beside_deg,
                         struct feed_hours *hours, bool *elsewhere, struct error *error)
{
    const json_t *properties = json_object_get(root, "properties");
    const json_t *geometry = json_object_get(root, "geometry");
    const char *updated = json_string_value(json_object_get(properties, "updateTime"));
    if (!json_is_object(properties))
        return error_set(error, "the document is JSON without an object 'properties'");
    if (!updated || !feed_nws_read_time(updated, strlen(updated), &hours->issued_s))
        return error_set(error, "the document's properties.updateTime is not a time");
    *elsewhere = site && !holds_site(json_array_get(json_object_get(geometry, "coordinates"), 0),
                                     site, beside_deg);
    if (*elsewhere)
        return error_set(error, "the grid cell of the document does not hold the nursery");
    judge_height(properties, site, hours);
    return read_layers(hours, properties, error);
}

int feed_nws_read_grid(const char *bytes, size_t length, const struct sun_site *site,
                       double beside_deg, struct feed_hours *out, bool *elsewhere,
                       struct error *error)
{
    struct feed_hours hours = {.issued_s = 0};
    *elsewhere = false;
    json_t *root = feed_parse(bytes, length, error);
    int result = root ? read_document(root, site, beside_deg, &hours, elsewhere, error) : -1;
    json_decref(root);
    if (result == 0)
        *out = hours;
    else
        feed_hours_free(&hours);
    return result;
}

/* --- asking ------------------------------------------------------------------------------- */

static enum adapter_outcome get_grid(const struct adapter_order *order, const char *cell,
                                     bool fresh, struct adapter_harvest *out, bool *elsewhere,
                                     struct error *error)
{
    char url[ADAPTER_URL_SIZE];
    snprintf(url, sizeof url, "%s/gridpoints/%s", order->base, cell);
    *elsewhere = false;
    enum adapter_outcome outcome =
        adapter_get(order, url, fresh ? "" : order->if_modified_since, out, error);
    if (outcome == ADAPTER_STATUS && out->answer.status == 404)
        *elsewhere = true;
    if (outcome != ADAPTER_DOCUMENT)
        return outcome;
    return feed_nws_read_grid(out->answer.body ? out->answer.body : "", out->answer.length,
                              &order->site, fresh ? BESIDE_FRESH_DEG : BESIDE_KEPT_DEG, &out->hours,
                              elsewhere, error) == 0
               ? ADAPTER_DOCUMENT
               : ADAPTER_REFUSED;
}

/* Offices redraw their grids: a kept cell that is gone or lies elsewhere is asked for once more. */
static enum adapter_outcome fetch(const struct adapter_order *order, struct adapter_harvest *out,
                                  struct error *error)
{
    char cell[FEED_NWS_CELL_SIZE] = "";
    bool elsewhere = false;
    enum adapter_outcome outcome = ADAPTER_REFUSED;
    if (feed_nws_is_cell(order->address)) {
        snprintf(cell, sizeof cell, "%.15s", order->address);
        snprintf(out->address, sizeof out->address, "%s", cell);
        outcome = get_grid(order, cell, false, out, &elsewhere, error);
        if (!elsewhere)
            return outcome;
    }
    out->address[0] = '\0';
    outcome = feed_nws_resolve(order, out, cell, error);
    if (outcome != ADAPTER_DOCUMENT)
        return outcome;
    outcome = get_grid(order, cell, true, out, &elsewhere, error);
    if (!elsewhere)
        snprintf(out->address, sizeof out->address, "%s", cell);
    return outcome;
}

/* Accept is always the same: caches on the way have served day-old variants of other kinds. */
const struct adapter feed_nws = {
    .name = "nws",
    .url = "https://api.weather.gov",
    .accept = "application/geo+json",
    .absent = " (the service covers land of the United States and its territories)",
    .takes_validator = true,
    .kinds = 1U << WEATHER_FORECAST,
    .floor_s = 600,
    .interval_s = 3600,
    .jitter_s = 900,
    .address_keep_s = 7 * CIVIL_DAY_S,
    .fetch = fetch,
};
