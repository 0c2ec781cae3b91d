/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The weather topics of the desk calculator: sun, air, wind and reference evapotranspiration. */
#include "reckon.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "core/air.h"
#include "core/civil.h"
#include "core/et0.h"
#include "core/sun.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

/* --- keys that several topics share ------------------------------------------------------ */

#define NUMBER_KEY(name, required, min, max, fallback, about)                                      \
    {                                                                                              \
        name, RECKON_NUMBER, required, min, max, RECKON_CLOSED, NULL, fallback, about              \
    }
#define TEMPERATURE_KEY(name, required, about) NUMBER_KEY(name, required, -60, 60, NULL, about)
#define HUMIDITY_KEY(name, about)              NUMBER_KEY(name, false, 0, 100, NULL, about)
#define LATITUDE_KEY                           NUMBER_KEY("latitude_deg", true, -90, 90, NULL, "latitude, north positive")
#define LONGITUDE_KEY(required)                                                                    \
    NUMBER_KEY("longitude_deg", required, -180, 180, NULL, "longitude, east positive")
#define ELEVATION_KEY(required, fallback)                                                          \
    NUMBER_KEY("elevation_m", required, -450, 6000, fallback, "height above the sea, m")
#define WIND_KEY(required, fallback)                                                               \
    NUMBER_KEY("wind_m_s", required, 0, 75, fallback, "mean wind speed, m/s")
#define WIND_HEIGHT_KEY(required, fallback)                                                        \
    NUMBER_KEY("wind_height_m", required, 0.5, 200, fallback, "height of the wind sensor, m")
#define VAPOUR_PRESSURE_KEY(about) NUMBER_KEY("vapour_pressure_kpa", false, 0, 20, NULL, about)
#define COVER_KEYS                                                                                 \
    NUMBER_KEY("transmissivity", false, 0.05, 1, NULL,                                             \
               "share of the radiation that a cover lets through"),                                \
        NUMBER_KEY("wind_factor", false, 0, 1, NULL,                                               \
                   "wind under the cover / wind outdoors; then at least 0.5 m/s is used")
/* One of five ways to a day's vapour pressure. */
#define HUMIDITY_WAYS                                                                              \
    "vapour_pressure_kpa | dewpoint_c | humidity_pct | humidity_max_pct + humidity_min_pct | "     \
    "humidity_max_pct | wet_bulb_c + dry_bulb_c + ventilation"
#define HUMIDITY_KEYS                                                                              \
    VAPOUR_PRESSURE_KEY("actual vapour pressure, kPa; give one of " HUMIDITY_WAYS),                \
        TEMPERATURE_KEY("dewpoint_c", false, "dew point, C"),                                      \
        HUMIDITY_KEY("humidity_pct", "mean relative humidity, %"),                                 \
        HUMIDITY_KEY("humidity_max_pct", "the day's highest relative humidity, %"),                \
        HUMIDITY_KEY("humidity_min_pct",                                                           \
                     "the day's lowest relative humidity, %, with humidity_max_pct"),              \
        TEMPERATURE_KEY("wet_bulb_c", false, "wet bulb of a psychrometer, C"),                     \
        TEMPERATURE_KEY("dry_bulb_c", false, "dry bulb of a psychrometer, C"),                     \
    {                                                                                              \
        "ventilation", RECKON_WORD, false, 0, 0, RECKON_CLOSED, "asmann|natural|indoor", NULL,     \
            "how the psychrometer is ventilated"                                                   \
    }

/* --- parts that several topics share ----------------------------------------------------- */

/* The number of a key that may be absent: NaN then. */
static double number_or_nan(const struct reckon_desk *desk, const char *key)
{
    return reckon_has(desk, key) ? reckon_number(desk, key) : NAN;
}

/* Refuses an upper value below its lower one. */
static void check_order(struct reckon_desk *desk, const char *high, const char *low)
{
    if (reckon_has(desk, high) && reckon_has(desk, low) &&
        reckon_number(desk, high) < reckon_number(desk, low))
        reckon_refuse(desk, high, "given %.60s with %s=%.60s, accepted is not below %s",
                      reckon_word(desk, high), low, reckon_word(desk, low), low);
}

/* Refuses one of two keys without the other. */
static void check_pair(struct reckon_desk *desk, const char *one, const char *other)
{
    reckon_need(desk, one, other);
    reckon_need(desk, other, one);
}

/* At most one way to the day's vapour pressure, each way complete. */
static void check_humidity(struct reckon_desk *desk)
{
    static const char *const ways[] = {"vapour_pressure_kpa", "dewpoint_c", "humidity_pct",
                                       "humidity_max_pct",    "wet_bulb_c", NULL};
    reckon_choose(desk, ways, false, HUMIDITY_WAYS);
    reckon_need(desk, "humidity_min_pct", "humidity_max_pct");
    reckon_need(desk, "humidity_max_pct", "temperature_max_c");
    reckon_need(desk, "humidity_max_pct", "temperature_min_c");
    check_pair(desk, "wet_bulb_c", "dry_bulb_c");
    check_pair(desk, "wet_bulb_c", "ventilation");
    check_order(desk, "humidity_max_pct", "humidity_min_pct");
    check_order(desk, "dry_bulb_c", "wet_bulb_c");
}

static double psychrometer_coefficient(const char *ventilation)
{
    if (strcmp(ventilation, "asmann") == 0)
        return AIR_PSYCHROMETER_ASMANN;
    return strcmp(ventilation, "natural") == 0 ? AIR_PSYCHROMETER_NATURAL : AIR_PSYCHROMETER_INDOOR;
}

/* Temperatures of a day (or the same twice, of a moment) and air pressure; NaN when not known. */
struct conditions {
    double max_c, min_c;
    double pressure_kpa;
};

static double actual_from_psychrometer(struct reckon_desk *desk, double pressure_kpa)
{
    double actual_kpa = NAN;
    if (isnan(pressure_kpa))
        return NAN;
    enum status status = air_actual_from_wet_bulb(
        reckon_number(desk, "wet_bulb_c"), reckon_number(desk, "dry_bulb_c"), pressure_kpa,
        psychrometer_coefficient(reckon_word(desk, "ventilation")), &actual_kpa);
    if (status != STATUS_OK)
        reckon_refuse(desk, "wet_bulb_c",
                      "given %.60s with dry_bulb_c=%.60s, accepted is one that leaves a vapour "
                      "pressure above 0",
                      reckon_word(desk, "wet_bulb_c"), reckon_word(desk, "dry_bulb_c"));
    return actual_kpa;
}

/* Actual vapour pressure by whichever way was given, after check_humidity(); NaN when none was or
 * what it needs is not known. */
static double actual_of(struct reckon_desk *desk, const struct conditions *air)
{
    if (reckon_has(desk, "vapour_pressure_kpa"))
        return reckon_number(desk, "vapour_pressure_kpa");
    if (reckon_has(desk, "dewpoint_c"))
        return air_saturation_kpa(reckon_number(desk, "dewpoint_c"));
    if (reckon_has(desk, "humidity_pct"))
        return air_actual_day_from_mean_kpa(air->max_c, air->min_c,
                                            reckon_number(desk, "humidity_pct"));
    if (reckon_has(desk, "humidity_min_pct"))
        return air_actual_day_kpa(air->max_c, air->min_c, reckon_number(desk, "humidity_max_pct"),
                                  reckon_number(desk, "humidity_min_pct"));
    if (reckon_has(desk, "humidity_max_pct"))
        return air_actual_day_from_max_kpa(air->min_c, reckon_number(desk, "humidity_max_pct"));
    return reckon_has(desk, "wet_bulb_c") ? actual_from_psychrometer(desk, air->pressure_kpa) : NAN;
}

static void note_supersaturation(struct reckon_desk *desk, double actual_kpa, double saturation_kpa)
{
    if (actual_kpa > saturation_kpa)
        reckon_note(desk,
                    "actual vapour pressure %.4g kPa is above saturation %.4g kPa: deficit 0 used",
                    actual_kpa, saturation_kpa);
}

static struct et0_cover cover_of(struct reckon_desk *desk, double wind_2m_m_s)
{
    struct et0_cover cover = {1, 1, false};
    bool through = reckon_has(desk, "transmissivity");
    cover.has_wind_factor = reckon_has(desk, "wind_factor");
    if (!through && !cover.has_wind_factor)
        return cover;
    cover.transmissivity = reckon_number_or(desk, "transmissivity", 1);
    if (!cover.has_wind_factor) {
        reckon_note(desk, "wind_factor not given: the wind outdoors used");
        return cover;
    }
    cover.wind_factor = reckon_number(desk, "wind_factor");
    if (wind_2m_m_s * cover.wind_factor < 0.5)
        reckon_note(desk, "wind under the cover below 0.5 m/s: 0.5 used");
    return cover;
}

static void give_et0(struct reckon_desk *desk, const char *name, double et0_mm)
{
    reckon_give(desk, name, et0_mm);
    if (et0_mm < 0)
        reckon_note(desk, "%s is below 0: a balance counts it as 0", name);
}

/* --- sun ---------------------------------------------------------------------------------- */

static const struct reckon_key sun_keys[] = {
    LATITUDE_KEY,
    {"date", RECKON_DATE, true, 0, 0, RECKON_CLOSED, NULL, NULL, "date"},
    LONGITUDE_KEY(false),
    ELEVATION_KEY(false, "0"),
    {"hour_utc", RECKON_INTEGER, false, 0, 23, RECKON_CLOSED, NULL, NULL,
     "the hour that starts then, UTC; needs longitude_deg"},
};
static const struct reckon_out sun_outs[] = {
    {"extraterrestrial_mj_m2", "MJ/m2", "FAO-56 eq 21; of an hour eq 28"},
    {"clear_sky_mj_m2", "MJ/m2", "FAO-56 eq 37"},
    {"day_length_h", "h", "FAO-56 eq 34"},
    {"declination_rad", "rad", "FAO-56 eq 24"},
    {"sunset_angle_rad", "rad", "FAO-56 eq 25"},
    {"sun_elevation_deg", "deg", "FAO-56 eq 3-15, mid-hour"},
};

static void note_polar(struct reckon_desk *desk, double day_length_h)
{
    if (day_length_h <= 0)
        reckon_note(desk, "polar night: the sun stays below the horizon");
    else if (day_length_h >= 24)
        reckon_note(desk, "polar day: the sun does not set");
}

static int run_sun(struct reckon_desk *desk)
{
    struct sun_day day;
    struct sun_hour hour;
    int code = reckon_need(desk, "hour_utc", "longitude_deg");
    if (code != 0)
        return code;
    struct sun_site site = {.latitude_deg = reckon_number(desk, "latitude_deg"),
                            .elevation_m = reckon_number_or(desk, "elevation_m", 0)};
    struct civil_date date = reckon_date(desk, "date");
    int day_of_year = civil_day_of_year(date);
    bool hourly = reckon_has(desk, "hour_utc");
    if (reckon_has(desk, "longitude_deg"))
        site.longitude_deg = reckon_number(desk, "longitude_deg");
    if (hourly) {
        int64_t start_s = civil_days(date) * CIVIL_DAY_S +
                          (int64_t)reckon_number(desk, "hour_utc") * CIVIL_HOUR_S;
        if (sun_of_hour(&site, start_s, &hour) != STATUS_OK)
            return reckon_refuse(desk, "date", "given %.20s, accepted are the years 1 to 9999",
                                 reckon_word(desk, "date"));
        if (hour.day_of_year != day_of_year)
            reckon_note(desk, "by mean solar time that hour belongs to day number %d, not %d",
                        hour.day_of_year, day_of_year);
        day_of_year = hour.day_of_year;
    }
    if (sun_of_day(&site, day_of_year, &day) != STATUS_OK)
        return reckon_refuse(desk, "latitude_deg", "given %.60s, accepted is -90 to 90",
                             reckon_word(desk, "latitude_deg"));
    reckon_give(desk, "extraterrestrial_mj_m2",
                hourly ? hour.extraterrestrial_mj_m2 : day.extraterrestrial_mj_m2);
    reckon_give(desk, "clear_sky_mj_m2", hourly ? hour.clear_sky_mj_m2 : day.clear_sky_mj_m2);
    reckon_give(desk, "day_length_h", day.day_length_h);
    reckon_give(desk, "declination_rad", day.declination_rad);
    reckon_give(desk, "sunset_angle_rad", day.sunset_angle_rad);
    if (hourly)
        reckon_give(desk, "sun_elevation_deg", hour.elevation_rad * 180 / M_PI);
    note_polar(desk, day.day_length_h);
    return 0;
}

/* --- air ---------------------------------------------------------------------------------- */

#define TEMPERATURE_WAYS "temperature_c | temperature_max_c + temperature_min_c"
#define PRESSURE_WAYS    "pressure_kpa | elevation_m"

static const struct reckon_key air_keys[] = {
    TEMPERATURE_KEY("temperature_c", false, "air temperature, C; give one of " TEMPERATURE_WAYS),
    TEMPERATURE_KEY("temperature_max_c", false, "the day's highest temperature, C"),
    TEMPERATURE_KEY("temperature_min_c", false, "the day's lowest temperature, C"),
    NUMBER_KEY("pressure_kpa", false, 30, 120, NULL,
               "air pressure, kPa; give one of " PRESSURE_WAYS),
    ELEVATION_KEY(false, NULL),
    HUMIDITY_KEYS,
};
static const struct reckon_out air_outs[] = {
    {"pressure_kpa", "kPa", "FAO-56 eq 7"},         {"psychrometric_kpa_c", "kPa/C", "FAO-56 eq 8"},
    {"saturation_kpa", "kPa", "FAO-56 eqs 11, 12"}, {"actual_kpa", "kPa", "FAO-56 eqs 14-19"},
    {"deficit_kpa", "kPa", "saturation - actual"},  {"slope_kpa_c", "kPa/C", "FAO-56 eq 13"},
};

/* One of two ways; a dry bulb stands for the first. */
static void check_temperatures(struct reckon_desk *desk)
{
    static const char *const highest[] = {"temperature_c", "temperature_max_c", NULL};
    static const char *const lowest[] = {"temperature_c", "temperature_min_c", NULL};
    static const char *const moment[] = {"temperature_c", "dry_bulb_c", NULL};
    reckon_choose(desk, highest, false, TEMPERATURE_WAYS);
    reckon_choose(desk, lowest, false, TEMPERATURE_WAYS);
    reckon_choose(desk, moment, false, "temperature_c | dry_bulb_c, which stands for it");
    check_pair(desk, "temperature_max_c", "temperature_min_c");
    check_order(desk, "temperature_max_c", "temperature_min_c");
}

static struct conditions conditions_of(const struct reckon_desk *desk)
{
    struct conditions air;
    if (reckon_has(desk, "temperature_max_c")) {
        air.max_c = reckon_number(desk, "temperature_max_c");
        air.min_c = reckon_number(desk, "temperature_min_c");
    } else {
        air.max_c =
            number_or_nan(desk, reckon_has(desk, "dry_bulb_c") ? "dry_bulb_c" : "temperature_c");
        air.min_c = air.max_c;
    }
    air.pressure_kpa = reckon_has(desk, "elevation_m")
                           ? air_pressure_kpa(reckon_number(desk, "elevation_m"))
                           : number_or_nan(desk, "pressure_kpa");
    return air;
}

static void give_air(struct reckon_desk *desk, const struct conditions *air, double actual_kpa)
{
    bool warm = !isnan(air->max_c);
    double saturation = air_saturation_day_kpa(air->max_c, air->min_c);
    if (!isnan(air->pressure_kpa)) {
        reckon_give(desk, "pressure_kpa", air->pressure_kpa);
        reckon_give(desk, "psychrometric_kpa_c", air_psychrometric_kpa_c(air->pressure_kpa));
    } else {
        reckon_note(desk, "pressure_kpa, psychrometric_kpa_c left out: they need " PRESSURE_WAYS);
    }
    if (warm) {
        reckon_give(desk, "saturation_kpa", saturation);
        reckon_give(desk, "slope_kpa_c", air_slope_kpa_c((air->max_c + air->min_c) / 2));
    } else {
        reckon_note(desk, "saturation_kpa, slope_kpa_c left out: they need " TEMPERATURE_WAYS);
    }
    if (!isnan(actual_kpa))
        reckon_give(desk, "actual_kpa", actual_kpa);
    else if (reckon_has(desk, "humidity_pct"))
        reckon_note(desk, "actual_kpa left out: with humidity_pct it needs " TEMPERATURE_WAYS);
    else if (reckon_has(desk, "wet_bulb_c"))
        reckon_note(desk, "actual_kpa left out: with wet_bulb_c it needs " PRESSURE_WAYS);
    else
        reckon_note(desk, "actual_kpa left out: it needs " HUMIDITY_WAYS);
    if (warm && !isnan(actual_kpa))
        reckon_give(desk, "deficit_kpa", fmax(0, saturation - actual_kpa));
    else
        reckon_note(desk, "deficit_kpa left out: it needs saturation_kpa and actual_kpa");
    note_supersaturation(desk, actual_kpa, saturation);
}

static int run_air(struct reckon_desk *desk)
{
    static const char *const pressures[] = {"pressure_kpa", "elevation_m", NULL};
    check_temperatures(desk);
    reckon_choose(desk, pressures, false, PRESSURE_WAYS);
    check_humidity(desk);
    if (reckon_refused(desk))
        return 2;
    struct conditions air = conditions_of(desk);
    double actual = actual_of(desk, &air);
    if (reckon_refused(desk))
        return 2;
    give_air(desk, &air, actual);
    return 0;
}

/* --- wind --------------------------------------------------------------------------------- */

static const struct reckon_key wind_keys[] = {
    WIND_KEY(true, NULL),
    WIND_HEIGHT_KEY(true, NULL),
};
static const struct reckon_out wind_outs[] = {
    {"wind_2m_m_s", "m/s", "FAO-56 eq 47"},
};

static int run_wind(struct reckon_desk *desk)
{
    reckon_give(
        desk, "wind_2m_m_s",
        air_wind_2m_m_s(reckon_number(desk, "wind_m_s"), reckon_number(desk, "wind_height_m")));
    return 0;
}

/* --- et0-day ------------------------------------------------------------------------------ */

static const struct reckon_key et0_day_keys[] = {
    LATITUDE_KEY,
    ELEVATION_KEY(true, NULL),
    {"date", RECKON_DATE, true, 0, 0, RECKON_CLOSED, NULL, NULL, "date"},
    TEMPERATURE_KEY("temperature_max_c", true, "the day's highest temperature, C"),
    TEMPERATURE_KEY("temperature_min_c", true, "the day's lowest temperature, C"),
    HUMIDITY_KEYS,
    WIND_KEY(false, "2"),
    WIND_HEIGHT_KEY(false, "2"),
    NUMBER_KEY("radiation_mj_m2", false, 0, 50, "from the temperature range, FAO-56 eq 50",
               "solar radiation of the day outdoors, MJ/m2; or sunshine_h"),
    /* beyond 24 only so that 'an hour above the day length' holds in polar day too */
    NUMBER_KEY("sunshine_h", false, 0, 25, NULL,
               "bright sunshine, h, at most 1 h above the day length"),
    NUMBER_KEY("radiation_coefficient", false, 0.05, 0.5, "0.16",
               "of the temperature range, FAO-56 eq 50; 0.19 on a coast"),
    TEMPERATURE_KEY("month_mean_previous_c", false,
                    "for monthly soil heat: mean temperature of the month before, C"),
    TEMPERATURE_KEY("month_mean_next_c", false,
                    "mean temperature of the month after, C; or month_mean_current_c"),
    TEMPERATURE_KEY("month_mean_current_c", false, "mean temperature of this month, C"),
    COVER_KEYS,
};
static const struct reckon_out et0_day_outs[] = {
    {"et0_mm", "mm/d", "FAO-56 eq 6"},
    {"radiation_mj_m2", "MJ/m2", "FAO-56 eqs 35, 50, through the cover"},
    {"net_shortwave_mj_m2", "MJ/m2", "FAO-56 eq 38"},
    {"net_longwave_mj_m2", "MJ/m2", "FAO-56 eq 39"},
    {"net_radiation_mj_m2", "MJ/m2", "FAO-56 eq 40"},
    {"soil_heat_mj_m2", "MJ/m2", "FAO-56 eqs 42-44"},
    {"et0_temperature_mm", "mm/d", "FAO-56 eq 52, outdoors"},
    {"extraterrestrial_mj_m2", "MJ/m2", "FAO-56 eq 21"},
    {"clear_sky_mj_m2", "MJ/m2", "FAO-56 eq 37"},
    {"actual_kpa", "kPa", "FAO-56 eqs 14-19, 48"},
    {"wind_2m_m_s", "m/s", "FAO-56 eq 47, outdoors"},
};

static void check_et0_day(struct reckon_desk *desk)
{
    static const char *const radiation[] = {"radiation_mj_m2", "sunshine_h", NULL};
    static const char *const months[] = {"month_mean_next_c", "month_mean_current_c", NULL};
    check_order(desk, "temperature_max_c", "temperature_min_c");
    check_humidity(desk);
    reckon_need(desk, "wind_height_m", "wind_m_s");
    reckon_choose(desk, radiation, false, "radiation_mj_m2 | sunshine_h");
    reckon_need(desk, "month_mean_next_c", "month_mean_previous_c");
    reckon_need(desk, "month_mean_current_c", "month_mean_previous_c");
    reckon_choose(desk, months, reckon_has(desk, "month_mean_previous_c"),
                  "month_mean_next_c | month_mean_current_c");
}

static double day_actual(struct reckon_desk *desk, const struct conditions *air)
{
    double actual = actual_of(desk, air);
    if (!isnan(actual) || reckon_refused(desk))
        return actual;
    reckon_note(desk, "humidity not given: dew point = temperature_min_c used (FAO-56 eq 48)");
    return air_actual_day_from_lowest_kpa(air->min_c);
}

static double day_wind(struct reckon_desk *desk)
{
    if (!reckon_has(desk, "wind_m_s")) {
        reckon_note(desk, "wind_m_s not given: 2 m/s at 2 m used");
        return 2;
    }
    double wind = reckon_number(desk, "wind_m_s");
    return air_wind_2m_m_s(wind, reckon_number_or(desk, "wind_height_m", 2));
}

/* Refuses sunshine that the day cannot have held; cuts what a recorder may overstate. */
static double day_sunshine(struct reckon_desk *desk, double day_length_h)
{
    double sunshine = reckon_number(desk, "sunshine_h");
    if (sunshine > day_length_h + 1)
        reckon_refuse(desk, "sunshine_h",
                      "given %.60s, accepted is 0 to 1 h above the day length of %.4g h",
                      reckon_word(desk, "sunshine_h"), day_length_h);
    else if (sunshine > day_length_h)
        reckon_note(desk, "sunshine_h %.60s is above the day length: cut to %.4g",
                    reckon_word(desk, "sunshine_h"), day_length_h);
    return fmin(sunshine, day_length_h);
}

/* Solar radiation outdoors by the way that was given, else from the temperature range. */
static double day_radiation(struct reckon_desk *desk, const struct sun_day *day, double range_c)
{
    double radiation = NAN;
    enum status status = STATUS_OK;
    bool measured = reckon_has(desk, "radiation_mj_m2");
    bool sunshine = reckon_has(desk, "sunshine_h");
    if ((measured || sunshine) && reckon_has(desk, "radiation_coefficient"))
        reckon_note(desk, "radiation_coefficient is not used: %s is given",
                    measured ? "radiation_mj_m2" : "sunshine_h");
    if (measured)
        return reckon_number(desk, "radiation_mj_m2");
    if (sunshine) {
        status =
            sun_radiation_from_sunshine(day, day_sunshine(desk, day->day_length_h), &radiation);
    } else {
        reckon_note(desk,
                    "radiation_mj_m2 and sunshine_h not given: radiation from the temperature "
                    "range used (FAO-56 eq 50)");
        status = sun_radiation_from_range(
            day, range_c, reckon_number_or(desk, "radiation_coefficient", SUN_RANGE_INLAND),
            &radiation);
    }
    return status == STATUS_OK ? radiation : NAN;
}

static double day_soil_heat(struct reckon_desk *desk)
{
    if (reckon_has(desk, "month_mean_next_c"))
        return et0_soil_heat_mj_m2(reckon_number(desk, "month_mean_previous_c"),
                                   reckon_number(desk, "month_mean_next_c"));
    if (reckon_has(desk, "month_mean_current_c"))
        return et0_soil_heat_to_date_mj_m2(reckon_number(desk, "month_mean_previous_c"),
                                           reckon_number(desk, "month_mean_current_c"));
    reckon_note(desk, "month means not given: soil heat 0 used (FAO-56 eq 42)");
    return 0;
}

/* One day at the desk: what was made of the keys, and what came out. */
struct desk_day {
    struct sun_site site;
    struct conditions air;
    struct sun_day sun;
    struct et0_day_in in;
    struct et0_day_out out;
    double by_temperature_mm;
};

static void read_day(struct reckon_desk *desk, struct desk_day *d)
{
    d->site.latitude_deg = reckon_number(desk, "latitude_deg");
    d->site.elevation_m = reckon_number(desk, "elevation_m");
    d->air = conditions_of(desk);
    d->in.day_of_year = civil_day_of_year(reckon_date(desk, "date"));
    d->in.temperature_max_c = d->air.max_c;
    d->in.temperature_min_c = d->air.min_c;
    d->in.vapour_pressure_kpa = day_actual(desk, &d->air);
    d->in.wind_2m_m_s = day_wind(desk);
    d->in.soil_heat_mj_m2 = day_soil_heat(desk);
    d->in.clear_sky = SUN_CLEAR_SIMPLE;
    d->in.cover = cover_of(desk, d->in.wind_2m_m_s);
}

static enum status solve_day(struct reckon_desk *desk, struct desk_day *d)
{
    enum status status = sun_of_day(&d->site, d->in.day_of_year, &d->sun);
    if (status != STATUS_OK)
        return status;
    d->in.radiation_mj_m2 = day_radiation(desk, &d->sun, d->air.max_c - d->air.min_c);
    status = et0_of_day(&d->site, &d->in, &d->out);
    if (status != STATUS_OK)
        return status;
    return et0_from_temperature(d->sun.extraterrestrial_mj_m2, (d->air.max_c + d->air.min_c) / 2,
                                d->air.max_c, d->air.min_c, &d->by_temperature_mm);
}

static void note_day(struct reckon_desk *desk, const struct desk_day *d)
{
    note_polar(desk, d->sun.day_length_h);
    if (d->out.no_sun)
        reckon_note(desk, "no sun that day: Rs/Rso %.2g used in the cloud term", d->out.ratio_used);
    else if (d->in.radiation_mj_m2 > d->sun.clear_sky_mj_m2)
        reckon_note(desk, "radiation is above the clear sky's %.4g MJ/m2: Rs/Rso 1 used",
                    d->sun.clear_sky_mj_m2);
    note_supersaturation(desk, d->in.vapour_pressure_kpa,
                         air_saturation_day_kpa(d->air.max_c, d->air.min_c));
}

static int run_et0_day(struct reckon_desk *desk)
{
    struct desk_day d = {0};
    check_et0_day(desk);
    if (reckon_refused(desk))
        return 2;
    read_day(desk, &d);
    enum status status = solve_day(desk, &d);
    if (reckon_refused(desk))
        return 2;
    if (status != STATUS_OK)
        return reckon_refuse(desk, "et0-day",
                             "given keys that contradict each other, accepted is "
                             "a day that can be");
    give_et0(desk, "et0_mm", d.out.et0_mm);
    reckon_give(desk, "radiation_mj_m2", d.out.radiation_mj_m2);
    reckon_give(desk, "net_shortwave_mj_m2", d.out.net_shortwave_mj_m2);
    reckon_give(desk, "net_longwave_mj_m2", d.out.net_longwave_mj_m2);
    reckon_give(desk, "net_radiation_mj_m2", d.out.net_radiation_mj_m2);
    reckon_give(desk, "soil_heat_mj_m2", d.in.soil_heat_mj_m2);
    give_et0(desk, "et0_temperature_mm", d.by_temperature_mm);
    reckon_give(desk, "extraterrestrial_mj_m2", d.sun.extraterrestrial_mj_m2);
    reckon_give(desk, "clear_sky_mj_m2", d.sun.clear_sky_mj_m2);
    reckon_give(desk, "actual_kpa", d.in.vapour_pressure_kpa);
    reckon_give(desk, "wind_2m_m_s", d.in.wind_2m_m_s);
    note_day(desk, &d);
    return 0;
}

/* --- et0-hour ----------------------------------------------------------------------------- */

#define HOUR_HUMIDITY_WAYS  "humidity_pct | dewpoint_c | vapour_pressure_kpa"
#define HOUR_RADIATION_WAYS "radiation_mj_m2 | radiation_w_m2 | cloud_pct"

static const struct reckon_key et0_hour_keys[] = {
    LATITUDE_KEY,
    LONGITUDE_KEY(true),
    ELEVATION_KEY(true, NULL),
    {"time", RECKON_TIME, true, 0, 0, RECKON_CLOSED, NULL, NULL, "start of the hour"},
    TEMPERATURE_KEY("temperature_c", true, "mean air temperature of the hour, C"),
    HUMIDITY_KEY("humidity_pct",
                 "mean relative humidity, %; give exactly one of " HOUR_HUMIDITY_WAYS),
    TEMPERATURE_KEY("dewpoint_c", false, "dew point, C"),
    VAPOUR_PRESSURE_KEY("actual vapour pressure, kPa"),
    WIND_KEY(true, NULL),
    WIND_HEIGHT_KEY(true, NULL),
    NUMBER_KEY(
        "radiation_mj_m2", false, 0, 5, NULL,
        "solar radiation of the hour outdoors, MJ/m2; give exactly one of " HOUR_RADIATION_WAYS),
    /* 5 MJ/m2 in an hour */
    NUMBER_KEY("radiation_w_m2", false, 0, 1388.888, NULL, "its mean, W/m2"),
    NUMBER_KEY("cloud_pct", false, 0, 100, NULL, "cloud cover, %"),
    {"surface", RECKON_WORD, false, 0, 0, RECKON_CLOSED, "asce2005|fao56", "asce2005",
     "resistance of the reference surface: 50 by day and 200 s/m by night, or 70"},
    NUMBER_KEY("clear_ratio", false, 0, 1, "from cloud_pct, else 0.6",
               "Rs/Rso in the cloud term while the sun stands below 0.3 rad"),
    COVER_KEYS,
};
static const struct reckon_out et0_hour_outs[] = {
    {"et0_mm", "mm/h", "FAO-56 eq 53, ASCE-EWRI 2005"},
    {"net_radiation_mj_m2", "MJ/m2", "FAO-56 eq 40"},
    {"soil_heat_mj_m2", "MJ/m2", "FAO-56 eqs 45, 46"},
    {"extraterrestrial_mj_m2", "MJ/m2", "FAO-56 eq 28, clipped at sunset"},
    {"radiation_mj_m2", "MJ/m2", "through the cover"},
    {"clear_sky_mj_m2", "MJ/m2", "FAO-56 eq 37"},
    {"sun_elevation_deg", "deg", "FAO-56 eq 3-15, mid-hour"},
    {"ratio_used", "-", "Rs/Rso in the cloud term, 0.3 to 1"},
    {"actual_kpa", "kPa", "FAO-56 eqs 14, 54"},
    {"wind_2m_m_s", "m/s", "FAO-56 eq 47, outdoors"},
};

static void check_et0_hour(struct reckon_desk *desk)
{
    static const char *const humidity[] = {"humidity_pct", "dewpoint_c", "vapour_pressure_kpa",
                                           NULL};
    static const char *const radiation[] = {"radiation_mj_m2", "radiation_w_m2", "cloud_pct", NULL};
    reckon_choose(desk, humidity, true, HOUR_HUMIDITY_WAYS);
    reckon_choose(desk, radiation, true, HOUR_RADIATION_WAYS);
}

static double hour_actual(const struct reckon_desk *desk, double temperature_c)
{
    if (reckon_has(desk, "humidity_pct"))
        return air_actual_kpa(temperature_c, reckon_number(desk, "humidity_pct"));
    if (reckon_has(desk, "dewpoint_c"))
        return air_saturation_kpa(reckon_number(desk, "dewpoint_c"));
    return reckon_number(desk, "vapour_pressure_kpa");
}

static double hour_radiation(const struct reckon_desk *desk, const struct sun_hour *sun)
{
    if (reckon_has(desk, "radiation_mj_m2"))
        return reckon_number(desk, "radiation_mj_m2");
    if (reckon_has(desk, "radiation_w_m2"))
        return reckon_number(desk, "radiation_w_m2") * CIVIL_HOUR_S / 1e6;
    return sun->clear_sky_mj_m2 * sun_clear_ratio_from_cloud(reckon_number(desk, "cloud_pct"));
}

/* Rs/Rso for the cloud term of an hour with a low sun, and a word about it. */
static double hour_clear_ratio(struct reckon_desk *desk, bool low_sun)
{
    double ratio = ET0_RATIO_UNKNOWN;
    bool given = reckon_has(desk, "clear_ratio");
    if (given)
        ratio = reckon_number(desk, "clear_ratio");
    else if (reckon_has(desk, "cloud_pct"))
        ratio = sun_clear_ratio_from_cloud(reckon_number(desk, "cloud_pct"));
    if (given && !low_sun)
        reckon_note(desk, "clear_ratio is not used: the sun stands above 0.3 rad");
    else if (given && ratio < 0.3)
        reckon_note(desk, "clear_ratio %.60s is below 0.3: 0.3 used",
                    reckon_word(desk, "clear_ratio"));
    else if (!given && low_sun)
        reckon_note(desk, "clear_ratio not given: %.4g used%s", ratio,
                    reckon_has(desk, "cloud_pct") ? ", from cloud_pct" : "");
    return ratio;
}

static void give_hour(struct reckon_desk *desk, const struct sun_hour *sun,
                      const struct et0_hour_in *in, const struct et0_hour_out *out)
{
    give_et0(desk, "et0_mm", out->et0_mm);
    reckon_give(desk, "net_radiation_mj_m2", out->net_radiation_mj_m2);
    reckon_give(desk, "soil_heat_mj_m2", out->soil_heat_mj_m2);
    reckon_give(desk, "extraterrestrial_mj_m2", out->extraterrestrial_mj_m2);
    reckon_give(desk, "radiation_mj_m2", out->radiation_mj_m2);
    reckon_give(desk, "clear_sky_mj_m2", sun->clear_sky_mj_m2);
    reckon_give(desk, "sun_elevation_deg", sun->elevation_rad * 180 / M_PI);
    reckon_give(desk, "ratio_used", out->ratio_used);
    reckon_give(desk, "actual_kpa", in->vapour_pressure_kpa);
    reckon_give(desk, "wind_2m_m_s", in->wind_2m_m_s);
}

static int run_et0_hour(struct reckon_desk *desk)
{
    struct sun_hour sun;
    struct et0_hour_out out;
    check_et0_hour(desk);
    if (reckon_refused(desk))
        return 2;
    struct sun_site site = {reckon_number(desk, "latitude_deg"),
                            reckon_number(desk, "longitude_deg"),
                            reckon_number(desk, "elevation_m")};
    struct et0_hour_in in = {
        .start_s = reckon_time(desk, "time"),
        .temperature_c = reckon_number(desk, "temperature_c"),
        .wind_2m_m_s =
            air_wind_2m_m_s(reckon_number(desk, "wind_m_s"), reckon_number(desk, "wind_height_m")),
    };
    if (sun_of_hour(&site, in.start_s, &sun) != STATUS_OK)
        return reckon_refuse(desk, "time", "given %.60s, accepted are the years 1 to 9999 UTC",
                             reckon_word(desk, "time"));
    const char *surface = reckon_word_or(desk, "surface", "asce2005");
    in.surface = strcmp(surface, "fao56") == 0 ? ET0_FAO56 : ET0_ASCE2005;
    in.vapour_pressure_kpa = hour_actual(desk, in.temperature_c);
    in.radiation_mj_m2 = hour_radiation(desk, &sun);
    in.clear_ratio = hour_clear_ratio(desk, sun.elevation_rad < ET0_LOW_SUN_RAD);
    in.cover = cover_of(desk, in.wind_2m_m_s);
    if (et0_of_hour(&site, &in, &out) != STATUS_OK)
        return reckon_refuse(desk, "et0-hour",
                             "given keys that contradict each other, accepted "
                             "is an hour that can be");
    give_hour(desk, &sun, &in, &out);
    note_supersaturation(desk, in.vapour_pressure_kpa, air_saturation_kpa(in.temperature_c));
    return 0;
}

/* --- the table ---------------------------------------------------------------------------- */

#define TOPIC(name, about, stem)                                                                   \
    {                                                                                              \
        name, about, stem##_keys, COUNT(stem##_keys), stem##_outs, COUNT(stem##_outs), run_##stem  \
    }

const struct reckon_topic reckon_weather_topics[] = {
    TOPIC("sun", "solar radiation above the air and under a clear sky, day length, sun height",
          sun),
    TOPIC("air", "air pressure, humidity and the slope of the saturation curve", air),
    TOPIC("wind", "wind at 2 m from wind at another height", wind),
    TOPIC("et0-day", "reference evapotranspiration of a day (or of a month's mean day)", et0_day),
    TOPIC("et0-hour", "reference evapotranspiration of an hour", et0_hour),
};
const size_t reckon_weather_count = COUNT(reckon_weather_topics);
