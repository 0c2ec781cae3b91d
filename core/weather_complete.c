/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "weather.h"

#include <math.h>

#include "air.h"

static const double RATIO_LEAST = 0.3;   /* ASCE-EWRI 2005, hourly */
static const double RATIO_UNKNOWN = 0.6; /* FAO-56 ch. 3: 0.4-0.6 humid, 0.7-0.8 dry nights */
static const double LOW_SUN_RAD = 0.3;   /* ASCE-EWRI 2005: below it Rs/Rso says nothing */
static const int64_t GAP_S = 4 * (int64_t)CIVIL_HOUR_S; /* known hours around 3 missing ones */
static const int64_t HOLD_H = 24;    /* a sky ratio seen with the sun up serves as long */
static const double TAKE_OVER_H = 4; /* our choice: the last known hour still speaks for three */
static const int RANGE_HOURS = 20;   /* our choice: so many of a day's 24 show its range */
static const double FRESH_H = 24;    /* our choices, see weather_forecast_share() */
static const double FADING_H = 72;
static const double FAINT_H = 168;
static const double FAINT_SHARE = 0.3;

/* A value with what it rests on. */
struct known {
    double value; /* NAN: not known */
    struct weather_origin origin;
};

enum state { TEMPERATURE, VAPOUR, WIND, CLOUD, STATES };

static const struct weather_origin FROM_NORMALS = {WEATHER_NOBODY,    WEATHER_NORMAL,    0,
                                                   WEATHER_MARK_GOOD, WEATHER_MARK_GOOD, false};

/* The last sky ratio seen in radiation with the sun well up. */
struct held {
    double ratio; /* NAN: none */
    int64_t at_s;
};

/* The slots, and where in them the hour to be completed stands. */
struct series {
    const struct weather_task *task;
    size_t at; /* first slot with start_s >= the hour's */
    struct held held;
    int range_day; /* day of the year that range_ratio is of; 0: none yet */
    double range_ratio;
};

struct weather_slot weather_slot_of(const struct weather_raw *raw, size_t source)
{
    struct weather_slot slot = {.raw = *raw};
    for (int part = 0; part < WEATHER_PARTS; part++)
        slot.origin[part] = (struct weather_origin){
            source, raw->kind, raw->issued_s, WEATHER_MARK_GOOD, WEATHER_MARK_GOOD, false};
    return slot;
}

double weather_forecast_share(double age_h, double lead_h)
{
    double share = fmin(1, fmax(0, 1 - (lead_h / 24 - 2) / 6));
    if (!(age_h > FRESH_H))
        return 1;
    if (age_h > FAINT_H)
        return 0;
    return age_h > FADING_H ? fmin(FAINT_SHARE, share) : share;
}

/* --- what a slot says --------------------------------------------------------------------- */

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
        (isnan(temperature_c) || raw->dewpoint_c <= temperature_c + WEATHER_DEWPOINT_OVER_C))
        return air_saturation_kpa(fmin(raw->dewpoint_c, temperature_c)); /* fmin passes NAN over */
    return air_actual_kpa(temperature_c, raw->humidity_pct);
}

static double state_of(const struct weather_slot *slot, enum state which)
{
    switch (which) {
    case TEMPERATURE:
        return temperature_of(&slot->raw);
    case VAPOUR:
        return vapour_of(&slot->raw);
    case WIND:
        return air_wind_2m_m_s(slot->raw.wind_10m_m_s, 10);
    case CLOUD:
    case STATES:
        break;
    }
    return weather_cloud_fraction(&slot->raw);
}

static enum weather_part part_of(enum state which)
{
    return which == CLOUD ? WEATHER_SKY : which == WIND ? WEATHER_WIND : WEATHER_AIR;
}

static struct known known_at(const struct weather_slot *slot, enum state which)
{
    struct known k = {state_of(slot, which), slot->origin[part_of(which)]};
    return k;
}

static double blend(double a, double b, double share_of_b)
{
    return a + (b - a) * share_of_b;
}

/* What rests on two hours is no better than the worse and no newer than the older. */
static struct weather_origin worse_of(const struct weather_origin *a,
                                      const struct weather_origin *b)
{
    struct weather_origin worse = b->kind > a->kind ? *b : *a;
    worse.issued_s = a->issued_s < b->issued_s ? a->issued_s : b->issued_s;
    worse.between = true;
    return worse;
}

/* The hour's own value, else one between the nearest known hours when no more than three are
 * missing, else NAN. */
static struct known state_at(const struct series *s, int64_t start_s, enum state which)
{
    const struct weather_slot *slots = s->task->slots;
    size_t count = s->task->slot_count;
    struct known none = {NAN, FROM_NORMALS};
    size_t next = s->at;
    if (next < count && slots[next].raw.start_s == start_s) {
        struct known own = known_at(&slots[next], which);
        if (!isnan(own.value))
            return own;
        none.origin.replaces = own.origin.replaces;
        next++;
    }
    size_t last = s->at;
    while (last > 0 && isnan(state_of(&slots[last - 1], which)) &&
           slots[last - 1].raw.start_s > start_s - GAP_S)
        last--;
    while (next < count && isnan(state_of(&slots[next], which)) &&
           slots[next].raw.start_s < start_s + GAP_S)
        next++;
    if (last == 0 || next >= count || slots[next].raw.start_s - slots[last - 1].raw.start_s > GAP_S)
        return none;
    struct known a = known_at(&slots[last - 1], which);
    struct known b = known_at(&slots[next], which);
    double share = (double)(start_s - slots[last - 1].raw.start_s) /
                   (double)(slots[next].raw.start_s - slots[last - 1].raw.start_s);
    struct known between = {blend(a.value, b.value, share), worse_of(&a.origin, &b.origin)};
    between.origin.replaces = none.origin.replaces;
    return between;
}

static const struct weather_slot *own_slot(const struct series *s, int64_t start_s)
{
    const struct weather_task *task = s->task;
    return s->at < task->slot_count && task->slots[s->at].raw.start_s == start_s
               ? &task->slots[s->at]
               : NULL;
}

/* --- forecasts that grow old -------------------------------------------------------------- */

static double lead_h(const struct weather_origin *origin, int64_t start_s)
{
    if (origin->kind != WEATHER_FORECAST || origin->issued_s == 0 || origin->issued_s >= start_s)
        return 0;
    return (double)(start_s - origin->issued_s) / CIVIL_HOUR_S;
}

/* What is left of a value for an hour still to come. */
static double share_left(const struct weather_task *task, const struct known *k, int64_t start_s)
{
    if (!task->normals || task->now_s == 0 || start_s + CIVIL_HOUR_S <= task->now_s ||
        k->origin.kind != WEATHER_FORECAST || k->origin.issued_s == 0 || isnan(k->value))
        return 1;
    return weather_forecast_share((double)(task->now_s - k->origin.issued_s) / CIVIL_HOUR_S,
                                  lead_h(&k->origin, start_s));
}

static void fade(struct known *k, double normal, double share)
{
    if (share > 0)
        k->value = blend(normal, k->value, share);
    else
        *k = (struct known){NAN, FROM_NORMALS};
}

static double normal_of(const struct weather_hour *normal, enum state which)
{
    switch (which) {
    case TEMPERATURE:
        return normal->temperature_c;
    case VAPOUR:
        return normal->vapour_pressure_kpa;
    case WIND:
        return normal->wind_2m_m_s;
    case CLOUD:
    case STATES:
        break;
    }
    return NAN;
}

/* The normals' value, still leaning towards the hour last known. */
static enum status take_over(const struct series *s, int64_t start_s, enum state which,
                             const struct weather_hour *normal, struct known *k)
{
    const struct weather_task *task = s->task;
    struct weather_hour then;
    enum weather_mark replaces = k->origin.replaces;
    *k = (struct known){normal_of(normal, which), FROM_NORMALS};
    k->origin.replaces = replaces;
    if (s->at == 0)
        return STATUS_OK;
    const struct weather_slot *last = &task->slots[s->at - 1];
    double since_h = (double)(start_s - last->raw.start_s) / CIVIL_HOUR_S;
    struct known known = known_at(last, which);
    if (!(since_h < TAKE_OVER_H) || isnan(known.value))
        return STATUS_OK;
    enum status status = weather_from_normals(task->site, task->normals, last->raw.start_s, &then);
    if (status == STATUS_OK)
        k->value += (known.value - normal_of(&then, which)) *
                    share_left(task, &known, last->raw.start_s) * (1 - since_h / TAKE_OVER_H);
    return status;
}

/* --- radiation ---------------------------------------------------------------------------- */

/* Radiation the source gives, MJ/m2 of the hour, NAN when it gives none or one that cannot be. */
static double given_radiation(const struct weather_slot *slot, const struct sun_hour *sun)
{
    if (!slot || !status_within(slot->raw.radiation_w_m2, 0, 1600))
        return NAN;
    double most = fmax(WEATHER_NIGHT_MOST_W_M2 * WEATHER_MJ_A_W,
                       WEATHER_SKY_OVER * sun->extraterrestrial_mj_m2);
    double given = slot->raw.radiation_w_m2 * WEATHER_MJ_A_W;
    return given <= most ? given : NAN;
}

static void hold_ratio(struct held *held, const struct weather_slot *slot, int64_t start_s,
                       const struct sun_hour *sun)
{
    double given = given_radiation(slot, sun);
    if (!isnan(given) && sun->elevation_rad >= LOW_SUN_RAD) {
        held->ratio = given / sun->clear_sky_mj_m2;
        held->at_s = start_s;
    } else if (start_s - held->at_s > HOLD_H * CIVIL_HOUR_S) {
        held->ratio = NAN;
    }
}

/* Rs/Rso of the day of mean solar time that the hour belongs to, from its temperature range; NAN
 * when too few of its hours are known. */
static double ratio_from_range(struct series *s, int64_t start_s, const struct sun_hour *sun)
{
    const struct weather_task *task = s->task;
    if (s->range_day == sun->day_of_year)
        return s->range_ratio;
    s->range_day = sun->day_of_year;
    s->range_ratio = NAN;
    int64_t shift_s = (int64_t)(task->site->longitude_deg * 240) + CIVIL_HOUR_S / 2;
    int64_t day_s = civil_floor_day(start_s + shift_s) - shift_s;
    double highest = -INFINITY;
    double lowest = INFINITY;
    int known = 0;
    size_t i = s->at < task->slot_count ? s->at : task->slot_count;
    while (i > 0 && task->slots[i - 1].raw.start_s >= day_s)
        i--;
    for (; i < task->slot_count && task->slots[i].raw.start_s < day_s + CIVIL_DAY_S; i++) {
        double temperature_c = temperature_of(&task->slots[i].raw);
        if (isnan(temperature_c))
            continue;
        highest = fmax(highest, temperature_c);
        lowest = fmin(lowest, temperature_c);
        known++;
    }
    struct sun_day day;
    double radiation = 0;
    if (known >= RANGE_HOURS && sun_of_day(task->site, sun->day_of_year, &day) == STATUS_OK &&
        day.clear_sky_mj_m2 > 0 &&
        sun_radiation_from_range(&day, highest - lowest, SUN_RANGE_INLAND, &radiation) == STATUS_OK)
        s->range_ratio = radiation / day.clear_sky_mj_m2;
    return s->range_ratio;
}

static double clamp_ratio(double ratio)
{
    return fmin(fmax(ratio, RATIO_LEAST), 1);
}

/* The learnt factor never lifts radiation above the clear sky. */
static double corrected(const struct weather_task *task, const struct weather_origin *origin,
                        double radiation, double clear_sky)
{
    if (origin->kind == WEATHER_MEASURED || origin->source >= task->factor_count)
        return radiation;
    return fmin(radiation * task->radiation_factors[origin->source], fmax(radiation, clear_sky));
}

struct sky {
    const struct sun_hour *sun;
    const struct weather_slot *own;
    const struct weather_hour *normal; /* NULL: none */
    struct known cloud;
    double cloud_share; /* of the cloud in the sky, the rest being the normals' */
    double given_share; /* the same of radiation that the source gives */
    bool faded;         /* nothing of the forecast's temperature is left */
};

/* Rs/Rso of the hour by what is known of its sky, radiation aside; NAN when nothing is. */
static double sky_ratio(struct series *s, int64_t start_s, const struct sky *sky,
                        enum weather_radiation *how)
{
    *how = WEATHER_RADIATION_CLOUD;
    if (!isnan(sky->cloud.value) && sky->cloud_share > 0) {
        double ratio = weather_clear_ratio(sky->cloud.value);
        return sky->normal ? blend(sky->normal->clear_ratio, ratio, sky->cloud_share) : ratio;
    }
    *how = WEATHER_RADIATION_RANGE;
    return sky->faded ? NAN : ratio_from_range(s, start_s, sky->sun);
}

/* Radiation and sky ratio by the best that is known; false when normals are needed and wanting. */
static bool set_radiation(struct series *s, struct weather_hour *hour, const struct sky *sky)
{
    const struct sun_hour *sun = sky->sun;
    double given = given_radiation(sky->own, sun);
    enum weather_radiation how = WEATHER_RADIATION_CLOUD;
    double ratio = sky_ratio(s, hour->start_s, sky, &how);
    double night = !isnan(sky->cloud.value) || isnan(s->held.ratio) ? ratio : s->held.ratio;
    hour->clear_ratio = clamp_ratio(!isnan(night) ? night
                                    : sky->normal ? sky->normal->clear_ratio
                                                  : RATIO_UNKNOWN);
    hour->origin[WEATHER_SKY] = sky->cloud.origin;
    if (!isnan(given) && (!sky->normal || sky->given_share > 0)) {
        const struct weather_origin *origin = &sky->own->origin[WEATHER_SKY];
        hour->origin[WEATHER_SKY] = *origin;
        hour->radiation = WEATHER_RADIATION_GIVEN;
        given = corrected(s->task, origin, given, sun->clear_sky_mj_m2);
        hour->radiation_mj_m2 =
            sky->normal ? blend(sky->normal->radiation_mj_m2, given, sky->given_share) : given;
    } else if (!isnan(ratio)) {
        hour->radiation = how;
        hour->radiation_mj_m2 = corrected(s->task, &sky->cloud.origin, sun->clear_sky_mj_m2 * ratio,
                                          sun->clear_sky_mj_m2);
    } else if (sky->normal) {
        hour->radiation = WEATHER_RADIATION_NORMAL;
        hour->radiation_mj_m2 = sky->normal->radiation_mj_m2;
    } else if (sun->clear_sky_mj_m2 > 0) {
        return false;
    } else {
        hour->radiation = WEATHER_RADIATION_CLOUD; /* the night needs no sky to be dark */
        hour->radiation_mj_m2 = 0;
    }
    return true;
}

/* --- rain --------------------------------------------------------------------------------- */

/* Rain is never interpolated and never taken from the normals. */
static void set_rain(struct weather_hour *hour, const struct weather_slot *slot)
{
    hour->rain_mm = 0;
    hour->rain_probability = 0;
    hour->rain_kind = WEATHER_NORMAL;
    hour->origin[WEATHER_RAIN] = FROM_NORMALS;
    if (!slot)
        return;
    const struct weather_raw *raw = &slot->raw;
    const struct weather_origin *origin = &slot->origin[WEATHER_RAIN];
    hour->origin[WEATHER_RAIN].replaces = origin->replaces;
    if (origin->kind == WEATHER_NORMAL || !status_within(raw->rain_mm, 0, 200))
        return;
    hour->origin[WEATHER_RAIN] = *origin;
    hour->rain_mm = raw->rain_mm;
    hour->rain_kind = origin->kind;
    if (status_within(raw->rain_probability, 0, 1))
        hour->rain_probability = raw->rain_probability;
    else if (raw->rain_mm > 0)
        hour->rain_probability = origin->kind == WEATHER_FORECAST ? 0.5 : 1;
}

/* --- an hour ------------------------------------------------------------------------------ */

static enum weather_kind worse(enum weather_kind a, enum weather_kind b)
{
    return a > b ? a : b;
}

static void set_air(struct weather_hour *hour, const struct known states[STATES])
{
    const struct weather_origin *air = &states[TEMPERATURE].origin;
    const struct weather_origin *vapour = &states[VAPOUR].origin;
    const struct weather_origin *wind = &states[WIND].origin;
    hour->temperature_c = states[TEMPERATURE].value;
    hour->vapour_pressure_kpa =
        fmin(states[VAPOUR].value, air_saturation_kpa(states[TEMPERATURE].value));
    hour->wind_2m_m_s = fmax(0, states[WIND].value);
    hour->kind = worse(air->kind, worse(vapour->kind, wind->kind));
    hour->lead_h = fmax(lead_h(air, hour->start_s),
                        fmax(lead_h(vapour, hour->start_s), lead_h(wind, hour->start_s)));
    hour->origin[WEATHER_AIR] = vapour->kind > air->kind ? *vapour : *air;
    hour->origin[WEATHER_WIND] = *wind;
}

static bool lacks_air(const struct known states[STATES])
{
    return isnan(states[TEMPERATURE].value) || isnan(states[VAPOUR].value) ||
           isnan(states[WIND].value);
}

static enum status complete_hour(struct series *s, int64_t start_s, const struct sun_hour *sun,
                                 struct weather_hour *out)
{
    const struct weather_task *task = s->task;
    struct weather_hour hour = {.start_s = start_s};
    struct weather_hour normal;
    struct known states[STATES];
    double share[STATES];
    const struct weather_slot *own = own_slot(s, start_s);
    struct known given = {own ? own->raw.radiation_w_m2 : NAN, FROM_NORMALS};
    if (own)
        given.origin = own->origin[WEATHER_SKY];
    double given_share = share_left(task, &given, start_s);
    double least = given_share;
    for (int i = 0; i < STATES; i++)
        states[i] = state_at(s, start_s, (enum state)i);
    if (isnan(states[TEMPERATURE].value))
        states[VAPOUR].value = NAN; /* humidity belongs to the temperature of its own source */
    for (int i = 0; i < STATES; i++) {
        share[i] = share_left(task, &states[i], start_s);
        least = fmin(least, share[i]);
    }
    bool use_normal =
        task->normals && (lacks_air(states) || isnan(states[CLOUD].value) || least < 1);
    if (use_normal) {
        enum status status = weather_from_normals(task->site, task->normals, start_s, &normal);
        for (int i = 0; i < CLOUD && status == STATUS_OK; i++) {
            if (!isnan(states[i].value) && share[i] < 1)
                fade(&states[i], normal_of(&normal, (enum state)i), share[i]);
            if (isnan(states[i].value)) {
                share[i] = 0;
                status = take_over(s, start_s, (enum state)i, &normal, &states[i]);
            }
        }
        if (status != STATUS_OK)
            return status;
        hour.normal_share = 1 - fmin(share[TEMPERATURE], fmin(share[VAPOUR], share[WIND]));
    }
    struct sky sky = {sun,          own,         use_normal ? &normal : NULL, states[CLOUD],
                      share[CLOUD], given_share, share[TEMPERATURE] <= 0};
    if (lacks_air(states) || !set_radiation(s, &hour, &sky))
        return STATUS_NO_SOLUTION;
    set_air(&hour, states);
    set_rain(&hour, sky.own);
    *out = hour;
    return STATUS_OK;
}

static bool task_ok(const struct weather_task *task)
{
    for (size_t i = 1; i < task->slot_count; i++)
        if (task->slots[i].raw.start_s <= task->slots[i - 1].raw.start_s)
            return false;
    for (size_t i = 0; i < task->factor_count; i++)
        if (!status_within(task->radiation_factors[i], 0.3, 3))
            return false;
    return true;
}

enum status weather_complete(const struct weather_task *task, struct weather_hour *out,
                             size_t *filled)
{
    struct series series = {.task = task, .held = {NAN, 0}};
    struct sun_hour sun;
    *filled = 0;
    if (!task_ok(task) || sun_of_hour(task->site, task->first_s, &sun) != STATUS_OK)
        return STATUS_RANGE;
    /* The hours before the first are gone through for the sky ratio they leave behind. */
    int64_t before_s = HOLD_H * CIVIL_HOUR_S;
    for (int64_t t = task->first_s - before_s; *filled < task->count; t += CIVIL_HOUR_S) {
        while (series.at < task->slot_count && task->slots[series.at].raw.start_s < t)
            series.at++;
        enum status status = sun_of_hour(task->site, t, &sun);
        if (status != STATUS_OK)
            return status;
        hold_ratio(&series.held, own_slot(&series, t), t, &sun);
        if (t < task->first_s)
            continue;
        status = complete_hour(&series, t, &sun, &out[*filled]);
        if (status != STATUS_OK)
            return status;
        (*filled)++;
    }
    return STATUS_OK;
}
