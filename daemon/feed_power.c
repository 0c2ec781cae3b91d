/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "feed_power.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "core/civil.h"

enum { YEARS = 10, MONTHS = 12 };

static const int LEAST_DAYS = 180;        /* of a month over all years [our choice] */
static const size_t MOST_DAYS = 20 * 366; /* of a parameter */
static const double PLACE_DEG = 0.2;      /* the service echoes the place asked for */
static const double HEIGHT_M = 250;
static const double WET_MM = 1;        /* WMO: a day with precipitation of 1 mm or more */
static const double LEAST_RATIO = 0.1; /* of a record 'normal' */
static const double DARK_RATIO = 0.5;  /* where the sun does not rise it multiplies nothing */
static const double DARK_MJ_M2 = 1;    /* clear-sky radiation of a day too dark to judge by */

enum parameter { TMAX, TMIN, DEWPOINT, WIND, RADIATION, RAIN, PARAMETERS };

struct unit {
    const char *name;
    double factor;
};

#define UNITS_MOST 3

/* Units differ by the 'community' asked for; the one that comes back counts. Bounds: those of
 * feed_hours.c, for a day. */
static const struct {
    const char *name;
    struct unit units[UNITS_MOST];
    double low, high;
} KNOWN[PARAMETERS] = {
    [TMAX] = {"T2M_MAX", {{"C", 1}}, -60, 60},
    [TMIN] = {"T2M_MIN", {{"C", 1}}, -60, 60},
    [DEWPOINT] = {"T2MDEW", {{"C", 1}}, -70, 40},
    [WIND] = {"WS2M", {{"m/s", 1}}, 0, 30},
    [RADIATION] = {"ALLSKY_SFC_SW_DWN",
                   {{"MJ/m^2/day", 1}, {"kW-hr/m^2/day", 3.6}, {"kWh/m^2/day", 3.6}},
                   0,
                   45},
    [RAIN] = {"PRECTOTCORR", {{"mm/day", 1}, {"mm", 1}}, 0, 1000},
};

/* Of a calendar month over all years. */
struct month {
    double sums[PARAMETERS];
    int days[PARAMETERS];
    int wet_days;
    double clear_mj_m2; /* of the days with a radiation */
};

struct reader {
    const struct sun_site *site;
    int first_year;
    struct month months[MONTHS];
    struct feed_hours notes;
};

/* --- the document ------------------------------------------------------------------------- */

/* 0 when the unit is not known. */
static double factor_of(const json_t *root, enum parameter parameter)
{
    const json_t *about =
        json_object_get(json_object_get(root, "parameters"), KNOWN[parameter].name);
    const char *unit = json_string_value(json_object_get(about, "units"));
    for (size_t i = 0; unit && i < UNITS_MOST && KNOWN[parameter].units[i].name; i++)
        if (strcmp(KNOWN[parameter].units[i].name, unit) == 0)
            return KNOWN[parameter].units[i].factor;
    return 0;
}

/* "20300131"; false when it is no day of the years asked for. */
static bool read_day(const struct reader *r, const char *text, struct civil_date *date)
{
    if (strlen(text) != 8 || strspn(text, "0123456789") != 8)
        return false;
    int number = 0;
    for (const char *c = text; *c; c++)
        number = 10 * number + (*c - '0');
    *date = (struct civil_date){number / 10000, number / 100 % 100, number % 100};
    return civil_date_valid(*date) && date->year >= r->first_year &&
           date->year < r->first_year + YEARS;
}

static void add_value(struct reader *r, enum parameter parameter, struct civil_date date,
                      double value)
{
    struct month *month = &r->months[date.month - 1];
    struct sun_day sky;
    if (parameter == RADIATION) {
        if (sun_of_day(r->site, civil_day_of_year(date), &sky) != STATUS_OK)
            return;
        month->clear_mj_m2 += sky.clear_sky_mj_m2;
    }
    month->sums[parameter] += value;
    month->days[parameter]++;
    month->wet_days += parameter == RAIN && value >= WET_MM ? 1 : 0;
}

/* Fill values (-999, or what the header says) are days that are not known, not mistakes. */
static bool is_fill(double value, double fill)
{
    return value == fill || value == -999;
}

static int read_parameter(struct reader *r, const json_t *root, enum parameter parameter,
                          double fill, struct error *error)
{
    json_t *days = json_object_get(
        json_object_get(json_object_get(root, "properties"), "parameter"), KNOWN[parameter].name);
    double factor = factor_of(root, parameter);
    const char *key;
    json_t *value;
    if (!json_is_object(days) || json_object_size(days) > MOST_DAYS)
        return error_set(error, "the document has no daily values of %s", KNOWN[parameter].name);
    if (!(factor > 0))
        return error_set(error, "the document's unit of %s is not known", KNOWN[parameter].name);
    json_object_foreach(days, key, value)
    {
        struct civil_date date;
        double number = json_is_number(value) ? json_number_value(value) : NAN;
        r->notes.entries++;
        if (!read_day(r, key, &date))
            r->notes.dropped_entries++;
        else if (json_is_null(value) || is_fill(number, fill))
            continue;
        else if (number * factor >= KNOWN[parameter].low &&
                 number * factor <= KNOWN[parameter].high)
            add_value(r, parameter, date, number * factor);
        else
            r->notes.dropped_values++;
    }
    return 0;
}

static int check_document(struct reader *r, const json_t *root, struct error *error)
{
    const json_t *properties = json_object_get(root, "properties");
    const json_t *point = json_object_get(json_object_get(root, "geometry"), "coordinates");
    const json_t *elevation = json_array_get(point, 2);
    const char *standard =
        json_string_value(json_object_get(json_object_get(root, "header"), "time_standard"));
    if (!json_is_object(json_object_get(properties, "parameter")))
        return error_set(error, "the document is JSON without 'properties.parameter'");
    if (!standard || strcmp(standard, "UTC") != 0) /* local solar time unless asked otherwise */
        return error_set(error, "the document's days are not in UTC");
    if (feed_check_place(point, r->site, PLACE_DEG, error) != 0)
        return -1;
    r->notes.height_doubtful = json_is_number(elevation) &&
                               fabs(json_number_value(elevation) - r->site->elevation_m) > HEIGHT_M;
    return 0;
}

/* --- normals ------------------------------------------------------------------------------ */

static double ratio_of(const struct month *month)
{
    if (!(month->clear_mj_m2 > DARK_MJ_M2 * month->days[RADIATION]))
        return DARK_RATIO;
    return fmin(fmax(month->sums[RADIATION] / month->clear_mj_m2, LEAST_RATIO), 1);
}

static int make_month(const struct month *month, int number, struct weather_normal *out,
                      struct error *error)
{
    /* Mean lengths; three of ten years or so are leap years. */
    static const double LENGTHS[MONTHS] = {31, 28.25, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    double means[PARAMETERS];
    for (int p = 0; p < PARAMETERS; p++) {
        if (month->days[p] < LEAST_DAYS)
            return error_set(error, "%s has %d usable days of month %d in ten years; needed are %d",
                             KNOWN[p].name, month->days[p], number, LEAST_DAYS);
        means[p] = month->sums[p] / month->days[p];
    }
    if (!(means[TMIN] <= means[TMAX]))
        return error_set(error, "month %d is coldest at %.1f C and warmest at %.1f C", number,
                         means[TMIN], means[TMAX]);
    *out = (struct weather_normal){
        .temperature_max_c = means[TMAX],
        .temperature_min_c = means[TMIN],
        .dewpoint_c = fmin(means[DEWPOINT], means[TMAX]),
        .wind_2m_m_s = means[WIND],
        .clear_ratio = ratio_of(month),
        .rain_mm = means[RAIN] * LENGTHS[number - 1],
        .wet_days = (double)month->wet_days / month->days[RAIN] * LENGTHS[number - 1],
    };
    return 0;
}

static int make_normals(const struct reader *r, struct weather_normal normals[12],
                        struct error *error)
{
    for (int m = 0; m < MONTHS; m++)
        if (make_month(&r->months[m], m + 1, &normals[m], error) != 0)
            return -1;
    return 0;
}

int feed_power_read(const char *bytes, size_t length, const struct sun_site *site, int first_year,
                    struct weather_normal normals[12], struct feed_hours *notes,
                    struct error *error)
{
    struct reader r = {.site = site, .first_year = first_year};
    struct weather_normal made[MONTHS];
    json_t *root = feed_parse(bytes, length, error);
    const json_t *fill = json_object_get(json_object_get(root, "header"), "fill_value");
    int result = root ? check_document(&r, root, error) : -1;
    for (int p = 0; p < PARAMETERS && result == 0; p++)
        result = read_parameter(&r, root, (enum parameter)p,
                                json_is_number(fill) ? json_number_value(fill) : -999, error);
    json_decref(root);
    if (result != 0 || make_normals(&r, made, error) != 0)
        return -1;
    memcpy(normals, made, sizeof made);
    *notes = r.notes;
    return 0;
}

/* --- asking ------------------------------------------------------------------------------- */

static enum adapter_outcome fetch(const struct adapter_order *order, struct adapter_harvest *out,
                                  struct error *error)
{
    char url[ADAPTER_URL_SIZE];
    char latitude[16];
    char longitude[16];
    int year = civil_from_days(civil_floor_day(order->now_s) / CIVIL_DAY_S).year;
    adapter_degrees(order->site.latitude_deg, false, latitude);
    adapter_degrees(order->site.longitude_deg, false, longitude);
    snprintf(url, sizeof url,
             "%s?parameters=T2M_MAX,T2M_MIN,T2MDEW,WS2M,ALLSKY_SFC_SW_DWN,PRECTOTCORR&community=AG&"
             "longitude=%s&latitude=%s&start=%04d0101&end=%04d1231&format=JSON&time-standard=UTC",
             order->base, longitude, latitude, year - YEARS, year - 1);
    enum adapter_outcome outcome = adapter_get(order, url, "", out, error);
    if (outcome != ADAPTER_DOCUMENT)
        return outcome;
    if (feed_power_read(out->answer.body ? out->answer.body : "", out->answer.length, &order->site,
                        year - YEARS, out->normals, &out->hours, error) != 0)
        return ADAPTER_REFUSED;
    out->has_normals = true;
    return ADAPTER_DOCUMENT;
}

/* Asked once for a place; ten years later there are ten other years. */
const struct adapter feed_power = {
    .name = "power",
    .url = "https://power.larc.nasa.gov/api/temporal/daily/point",
    .accept = "application/json",
    .gives_normals = true,
    .floor_s = 3600,
    .interval_s = 5 * 365 * CIVIL_DAY_S,
    .jitter_s = 6 * CIVIL_HOUR_S,
    .fetch = fetch,
};
