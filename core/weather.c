/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "weather.h"

#include <math.h>

#include "air.h"

#define PI 3.14159265358979323846

static const double MJ_A_W = 0.0036;           /* MJ/m2 in an hour of 1 W/m2 */
static const double HIGH_CLOUD_WEIGHT = 0.45;  /* our choice: cirrus lets most radiation through */
static const double WARMEST_SOLAR_H = 15;      /* our choice, between 14 and 15 in most sources */
static const double EARLIEST_COLDEST_H = 3;    /* our choice, for days when the sun hardly sets */
static const double LATEST_COLDEST_H = 9;      /* our choice, for days when it hardly rises */
static const double RATIO_LEAST = 0.3;         /* ASCE-EWRI 2005, hourly */
static const double RATIO_UNKNOWN = 0.6;       /* FAO-56 ch. 3: 0.4-0.6 humid, 0.7-0.8 dry nights */
static const double LOW_SUN_RAD = 0.3;         /* ASCE-EWRI 2005: below it Rs/Rso says nothing */
static const double DEWPOINT_EXCESS_C = 0.5;   /* rounding of a saturated hour, not an error */
static const double RADIATION_EXCESS = 1.15;   /* over extraterrestrial: cloud edges, at most */
static const double RADIATION_NIGHT_W_M2 = 10; /* offset of a sensor at night, at most */
static const int64_t GAP_S = 4 * (int64_t)CIVIL_HOUR_S; /* known hours around 3 missing ones */
static const int64_t HOLD_H = 24; /* a sky ratio seen with the sun up serves as long */

double weather_clear_ratio(double cloud_fraction)
{
    return sun_clear_ratio_from_cloud(100 * cloud_fraction);
}

static bool percent_ok(double pct)
{
    return status_within(pct, 0, 100);
}

double weather_cloud_fraction(const struct weather_raw *raw)
{
    if (percent_ok(raw->cloud_low_pct) && percent_ok(raw->cloud_mid_pct) &&
        percent_ok(raw->cloud_high_pct))
        return 1 - (1 - raw->cloud_low_pct / 100) * (1 - raw->cloud_mid_pct / 100) *
                       (1 - HIGH_CLOUD_WEIGHT * raw->cloud_high_pct / 100);
    return percent_ok(raw->cloud_pct) ? raw->cloud_pct / 100 : NAN;
}

/* --- climate normals ---------------------------------------------------------------------- */

static int month_days(int year, int month)
{
    struct civil_date first = {year, month, 1};
    struct civil_date next = {month == 12 ? year + 1 : year, month == 12 ? 1 : month + 1, 1};
    return (int)(civil_days(next) - civil_days(first));
}

/* Months of the normals to either side of a moment of mean solar time, and the share of the
 * later one: 0 in the middle of the earlier month, 1 in the middle of the later. */
static double month_blend(double solar_s, int *earlier, int *later)
{
    double days = solar_s / CIVIL_DAY_S;
    struct civil_date date = civil_from_days((int64_t)floor(days));
    double into = date.day - 1 + (days - floor(days));
    double length = month_days(date.year, date.month);
    int this_month = date.month - 1;
    int step = into < length / 2 ? -1 : 1;
    int other = (this_month + step + 12) % 12;
    /* Only February's length depends on the year; the neighbour's is taken from this year. */
    double between = (length + month_days(date.year, other + 1)) / 2;
    double share = fabs(into - length / 2) / between; /* of the other month */
    *earlier = step < 0 ? other : this_month;
    *later = step < 0 ? this_month : other;
    return step < 0 ? 1 - share : share;
}

static double blend(double a, double b, double share_of_b)
{
    return a + (b - a) * share_of_b;
}

static struct weather_normal normal_at(const struct weather_normal normals[12], double solar_s)
{
    int i = 0;
    int k = 0;
    double share = month_blend(solar_s, &i, &k);
    const struct weather_normal *a = &normals[i];
    const struct weather_normal *b = &normals[k];
    struct weather_normal n = {
        .temperature_max_c = blend(a->temperature_max_c, b->temperature_max_c, share),
        .temperature_min_c = blend(a->temperature_min_c, b->temperature_min_c, share),
        .dewpoint_c = blend(a->dewpoint_c, b->dewpoint_c, share),
        .wind_2m_m_s = blend(a->wind_2m_m_s, b->wind_2m_m_s, share),
        .clear_ratio = blend(a->clear_ratio, b->clear_ratio, share),
    };
    return n;
}

static bool normal_ok(const struct weather_normal *n)
{
    return status_within(n->temperature_max_c, -60, 60) &&
           status_within(n->temperature_min_c, -60, 60) && status_within(n->dewpoint_c, -70, 40) &&
           status_within(n->wind_2m_m_s, 0, 75) && status_within(n->clear_ratio, 0, 1);
}

/* Two half cosines: up from the coldest moment (sunrise) to the warmest, down again to the next
 * sunrise, so that the day's mean is (max + min) / 2 at every day length. The form is the one of
 * de Wit (1978) as compared by Reicosky et al. (1989, Agric. For. Meteorol. 46), from memory;
 * the warmest hour is our choice. */
static double temperature_at(const struct weather_normal *n, const struct sun_hour *sun)
{
    double solar_h = 12 + sun->hour_angle_rad * 12 / PI;
    double coldest_h = 12 - sun->sunset_angle_rad * 12 / PI;
    coldest_h = fmin(fmax(coldest_h, EARLIEST_COLDEST_H), LATEST_COLDEST_H);
    double mean = (n->temperature_max_c + n->temperature_min_c) / 2;
    double amplitude = (n->temperature_max_c - n->temperature_min_c) / 2;
    double rising_h = WARMEST_SOLAR_H - coldest_h;
    if (solar_h >= coldest_h && solar_h < WARMEST_SOLAR_H)
        return mean - amplitude * cos(PI * (solar_h - coldest_h) / rising_h);
    double since_h = solar_h - WARMEST_SOLAR_H + (solar_h < WARMEST_SOLAR_H ? 24 : 0);
    return mean + amplitude * cos(PI * since_h / (24 - rising_h));
}

static double clamp_ratio(double ratio)
{
    return fmin(fmax(ratio, RATIO_LEAST), 1);
}

enum status weather_from_normals(const struct sun_site *site,
                                 const struct weather_normal normals[12], int64_t start_s,
                                 struct weather_hour *out)
{
    struct sun_hour sun;
    enum status status = sun_of_hour(site, start_s, &sun);
    if (status != STATUS_OK)
        return status;
    double solar_s = (double)start_s + CIVIL_HOUR_S / 2.0 + site->longitude_deg * 240;
    struct weather_normal n = normal_at(normals, solar_s);
    if (!normal_ok(&n))
        return STATUS_RANGE;
    if (n.temperature_min_c > n.temperature_max_c)
        return STATUS_IMPOSSIBLE;
    struct weather_hour hour = {
        .start_s = start_s,
        .temperature_c = temperature_at(&n, &sun),
        .wind_2m_m_s = n.wind_2m_m_s,
        .radiation_mj_m2 = sun.clear_sky_mj_m2 * n.clear_ratio,
        .clear_ratio = clamp_ratio(n.clear_ratio),
        .rain_mm = 0,
        .rain_probability = 0,
        .kind = WEATHER_NORMAL,
        .rain_kind = WEATHER_NORMAL,
        .radiation = WEATHER_RADIATION_NORMAL,
        .lead_h = 0,
    };
    hour.vapour_pressure_kpa = air_saturation_kpa(fmin(n.dewpoint_c, hour.temperature_c));
    *out = hour;
    return STATUS_OK;
}

/* --- completing hours --------------------------------------------------------------------- */

/* A value with what it rests on. */
struct known {
    double value; /* NAN: not known */
    enum weather_kind kind;
    int64_t issued_s;
};

enum state { TEMPERATURE, VAPOUR, WIND, CLOUD };

/* The raw hours, and where in them the hour to be completed stands. */
struct series {
    const struct weather_raw *raw;
    size_t count;
    size_t at; /* first with start_s >= the hour's */
};

static double temperature_of(const struct weather_raw *raw)
{
    return status_within(raw->temperature_c, -60, 60) ? raw->temperature_c : NAN;
}

/* From the dew point first, since a feed's humidity is often worked out from it; a dew point
 * above the temperature is an error and the humidity is asked. */
static double vapour_of(const struct weather_raw *raw)
{
    double temperature_c = temperature_of(raw);
    if (status_within(raw->dewpoint_c, -70, 40) &&
        (isnan(temperature_c) || raw->dewpoint_c <= temperature_c + DEWPOINT_EXCESS_C))
        return air_saturation_kpa(fmin(raw->dewpoint_c, temperature_c)); /* fmin passes NAN over */
    return air_actual_kpa(temperature_c, raw->humidity_pct);
}

static double state_of(const struct weather_raw *raw, enum state which)
{
    switch (which) {
    case TEMPERATURE:
        return temperature_of(raw);
    case VAPOUR:
        return vapour_of(raw);
    case WIND:
        return air_wind_2m_m_s(raw->wind_10m_m_s, 10);
    case CLOUD:
        break;
    }
    return weather_cloud_fraction(raw);
}

static struct known known_at(const struct weather_raw *raw, enum state which)
{
    struct known k = {state_of(raw, which), raw->kind, raw->issued_s};
    return k;
}

static enum weather_kind worse(enum weather_kind a, enum weather_kind b)
{
    return a > b ? a : b;
}

/* The hour's own value, else one between the nearest known hours when no more than three are
 * missing, else NAN. */
static struct known state_at(const struct series *s, int64_t start_s, enum state which)
{
    struct known none = {NAN, WEATHER_NORMAL, 0};
    size_t next = s->at;
    if (next < s->count && s->raw[next].start_s == start_s) {
        struct known own = known_at(&s->raw[next], which);
        if (!isnan(own.value))
            return own;
        next++;
    }
    size_t last = s->at;
    while (last > 0 && isnan(state_of(&s->raw[last - 1], which)) &&
           s->raw[last - 1].start_s > start_s - GAP_S)
        last--;
    while (next < s->count && isnan(state_of(&s->raw[next], which)) &&
           s->raw[next].start_s < start_s + GAP_S)
        next++;
    if (last == 0 || next >= s->count || s->raw[next].start_s - s->raw[last - 1].start_s > GAP_S)
        return none;
    struct known a = known_at(&s->raw[last - 1], which);
    struct known b = known_at(&s->raw[next], which);
    double share = (double)(start_s - s->raw[last - 1].start_s) /
                   (double)(s->raw[next].start_s - s->raw[last - 1].start_s);
    struct known between = {blend(a.value, b.value, share), worse(a.kind, b.kind),
                            a.issued_s < b.issued_s ? a.issued_s : b.issued_s};
    return between;
}

static const struct weather_raw *own_hour(const struct series *s, int64_t start_s)
{
    return s->at < s->count && s->raw[s->at].start_s == start_s ? &s->raw[s->at] : NULL;
}

/* Radiation the source gives, MJ/m2 of the hour, NAN when it gives none or one that cannot be. */
static double given_radiation(const struct weather_raw *raw, const struct sun_hour *sun)
{
    if (!raw || !status_within(raw->radiation_w_m2, 0, 1600))
        return NAN;
    double most =
        fmax(RADIATION_NIGHT_W_M2 * MJ_A_W, RADIATION_EXCESS * sun->extraterrestrial_mj_m2);
    double given = raw->radiation_w_m2 * MJ_A_W;
    return given <= most ? given : NAN;
}

/* The last sky ratio seen in radiation with the sun well up. */
struct held {
    double ratio; /* NAN: none */
    int64_t at_s;
};

static void hold_ratio(struct held *held, const struct weather_raw *raw, int64_t start_s,
                       const struct sun_hour *sun)
{
    double given = given_radiation(raw, sun);
    if (!isnan(given) && sun->elevation_rad >= LOW_SUN_RAD) {
        held->ratio = given / sun->clear_sky_mj_m2;
        held->at_s = start_s;
    } else if (start_s - held->at_s > HOLD_H * CIVIL_HOUR_S) {
        held->ratio = NAN;
    }
}

/* Radiation and sky ratio by the best that is known; false when normals are needed and wanting. */
static bool set_radiation(struct weather_hour *hour, const struct weather_raw *raw, double cloud,
                          const struct held *held, const struct sun_hour *sun,
                          const struct weather_hour *normal)
{
    double given = given_radiation(raw, sun);
    double ratio = !isnan(cloud)         ? weather_clear_ratio(cloud)
                   : !isnan(held->ratio) ? held->ratio
                   : normal              ? normal->clear_ratio
                                         : RATIO_UNKNOWN;
    hour->clear_ratio = clamp_ratio(ratio);
    if (!isnan(given)) {
        hour->radiation = WEATHER_RADIATION_GIVEN;
        hour->radiation_mj_m2 = given;
    } else if (!isnan(cloud)) {
        hour->radiation = WEATHER_RADIATION_CLOUD;
        hour->radiation_mj_m2 = sun->clear_sky_mj_m2 * ratio;
    } else if (normal) {
        hour->radiation = WEATHER_RADIATION_NORMAL;
        hour->radiation_mj_m2 = normal->radiation_mj_m2;
    } else if (sun->clear_sky_mj_m2 > 0) {
        return false;
    } else {
        hour->radiation = WEATHER_RADIATION_CLOUD; /* the night needs no sky to be dark */
        hour->radiation_mj_m2 = 0;
    }
    return true;
}

/* Rain is never interpolated and never taken from the normals. */
static void set_rain(struct weather_hour *hour, const struct weather_raw *raw)
{
    hour->rain_mm = 0;
    hour->rain_probability = 0;
    hour->rain_kind = WEATHER_NORMAL;
    if (!raw || raw->kind == WEATHER_NORMAL || !status_within(raw->rain_mm, 0, 200))
        return;
    hour->rain_mm = raw->rain_mm;
    hour->rain_kind = raw->kind;
    bool fell = raw->rain_mm > 0;
    if (status_within(raw->rain_probability, 0, 1))
        hour->rain_probability = raw->rain_probability;
    else if (fell)
        hour->rain_probability = raw->kind == WEATHER_FORECAST ? 0.5 : 1;
}

static double lead_h(const struct known *k, int64_t start_s)
{
    if (k->kind != WEATHER_FORECAST || k->issued_s == 0 || k->issued_s >= start_s)
        return 0;
    return (double)(start_s - k->issued_s) / CIVIL_HOUR_S;
}

/* What the sources say of an hour's state. */
struct states {
    struct known temperature, vapour, wind, cloud;
};

static struct states states_at(const struct series *s, int64_t start_s)
{
    struct states states = {
        state_at(s, start_s, TEMPERATURE),
        state_at(s, start_s, VAPOUR),
        state_at(s, start_s, WIND),
        state_at(s, start_s, CLOUD),
    };
    if (isnan(states.temperature.value))
        states.vapour.value = NAN; /* humidity belongs to the temperature of its own source */
    return states;
}

static bool lacks_air(const struct states *states)
{
    return isnan(states->temperature.value) || isnan(states->vapour.value) ||
           isnan(states->wind.value);
}

static void fill(struct known *k, double normal)
{
    struct known climate = {normal, WEATHER_NORMAL, 0};
    if (isnan(k->value))
        *k = climate;
}

static void set_air(struct weather_hour *hour, const struct states *states)
{
    const struct known *temperature = &states->temperature;
    const struct known *vapour = &states->vapour;
    const struct known *wind = &states->wind;
    hour->temperature_c = temperature->value;
    hour->vapour_pressure_kpa = fmin(vapour->value, air_saturation_kpa(temperature->value));
    hour->wind_2m_m_s = wind->value;
    hour->kind = worse(temperature->kind, worse(vapour->kind, wind->kind));
    hour->lead_h = fmax(lead_h(temperature, hour->start_s),
                        fmax(lead_h(vapour, hour->start_s), lead_h(wind, hour->start_s)));
}

static enum status complete_hour(const struct sun_site *site, const struct weather_normal *normals,
                                 const struct series *s, const struct held *held, int64_t start_s,
                                 const struct sun_hour *sun, struct weather_hour *out)
{
    struct weather_hour hour = {.start_s = start_s};
    struct weather_hour normal;
    struct states states = states_at(s, start_s);
    bool use_normal = normals && (lacks_air(&states) || isnan(states.cloud.value));
    if (use_normal) {
        enum status status = weather_from_normals(site, normals, start_s, &normal);
        if (status != STATUS_OK)
            return status;
        fill(&states.temperature, normal.temperature_c);
        fill(&states.vapour, normal.vapour_pressure_kpa);
        fill(&states.wind, normal.wind_2m_m_s);
    }
    if (lacks_air(&states) || !set_radiation(&hour, own_hour(s, start_s), states.cloud.value, held,
                                             sun, use_normal ? &normal : NULL))
        return STATUS_NO_SOLUTION;
    set_air(&hour, &states);
    set_rain(&hour, own_hour(s, start_s));
    *out = hour;
    return STATUS_OK;
}

static bool ascending(const struct weather_raw *raw, size_t count)
{
    for (size_t i = 1; i < count; i++)
        if (raw[i].start_s <= raw[i - 1].start_s)
            return false;
    return true;
}

enum status weather_complete(const struct sun_site *site, const struct weather_normal *normals,
                             const struct weather_raw *raw, size_t raw_count, int64_t first_s,
                             size_t count, struct weather_hour *out, size_t *filled)
{
    struct series series = {raw, raw_count, 0};
    struct held held = {NAN, 0};
    struct sun_hour sun;
    *filled = 0;
    if (!ascending(raw, raw_count) || sun_of_hour(site, first_s, &sun) != STATUS_OK)
        return STATUS_RANGE;
    /* The hours before the first are gone through for the sky ratio they leave behind. */
    int64_t before_s = HOLD_H * CIVIL_HOUR_S;
    for (int64_t t = first_s - before_s; *filled < count; t += CIVIL_HOUR_S) {
        while (series.at < raw_count && raw[series.at].start_s < t)
            series.at++;
        enum status status = sun_of_hour(site, t, &sun);
        if (status != STATUS_OK)
            return status;
        hold_ratio(&held, own_hour(&series, t), t, &sun);
        if (t < first_s)
            continue;
        status = complete_hour(site, normals, &series, &held, t, &sun, &out[*filled]);
        if (status != STATUS_OK)
            return status;
        (*filled)++;
    }
    return STATUS_OK;
}
