/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "et0.h"

#include <math.h>

#include "air.h"

static const double ALBEDO = 0.23;         /* of the reference grass, eq 38 */
static const double SIGMA_DAY = 4.903e-9;  /* MJ/K4/m2 a day, eq 39 */
static const double KELVIN = 273.16;       /* as FAO-56 has it in eq 39 */
static const double MM_A_MJ = 0.408;       /* 1/2.45, eq 20 */
static const double WIND_FLOOR_M_S = 0.5;  /* FAO-56 ch. 3, for still air */
static const double RATIO_LEAST = 0.3;     /* ASCE-EWRI 2005, hourly */
static const double NUMERATOR_DAY = 900;   /* eq 6 */
static const double NUMERATOR_HOUR = 37;   /* eq 53 */
static const double RESISTANCE_70 = 0.34;  /* C_d for 70 s/m, eqs 6 and 53 */
static const double RESISTANCE_50 = 0.24;  /* ASCE-EWRI 2005, hour by day */
static const double RESISTANCE_200 = 0.96; /* ASCE-EWRI 2005, hour by night */

/* What the combination equation needs, in the units of its step. */
struct combination {
    double available_mj_m2; /* R_n - G */
    double temperature_c;
    double deficit_kpa;
    double wind_2m_m_s;
    double psychrometric_kpa_c;
    double numerator;  /* C_n */
    double resistance; /* C_d */
};

static double combine(const struct combination *c)
{
    double slope = air_slope_kpa_c(c->temperature_c);
    double aerodynamic = c->psychrometric_kpa_c * c->numerator / (c->temperature_c + 273) *
                         c->wind_2m_m_s * c->deficit_kpa;
    return (MM_A_MJ * slope * c->available_mj_m2 + aerodynamic) /
           (slope + c->psychrometric_kpa_c * (1 + c->resistance * c->wind_2m_m_s));
}

static double fourth_power(double temperature_c)
{
    double kelvin = temperature_c + KELVIN;
    return kelvin * kelvin * kelvin * kelvin;
}

/* The two brackets of eq 39. */
static double longwave_factor(double vapour_pressure_kpa, double ratio)
{
    return (0.34 - 0.14 * sqrt(vapour_pressure_kpa)) * (1.35 * ratio - 0.35);
}

static bool cover_ok(const struct et0_cover *cover)
{
    return status_within(cover->transmissivity, 0.05, 1) &&
           (!cover->has_wind_factor || status_within(cover->wind_factor, 0, 1));
}

static double wind_inside(const struct et0_cover *cover, double wind_2m_m_s)
{
    return cover->has_wind_factor ? fmax(WIND_FLOOR_M_S, wind_2m_m_s * cover->wind_factor)
                                  : wind_2m_m_s;
}

static bool hour_ok(const struct et0_hour_in *in)
{
    return status_within(in->temperature_c, -60, 60) &&
           status_within(in->vapour_pressure_kpa, 0, 20) &&
           status_within(in->wind_2m_m_s, 0, 110) && status_within(in->radiation_mj_m2, 0, 5) &&
           status_within(in->clear_ratio, 0, 1) && cover_ok(&in->cover);
}

enum status et0_of_hour(const struct sun_site *site, const struct et0_hour_in *in,
                        struct et0_hour_out *out)
{
    struct sun_hour sun;
    if (!hour_ok(in))
        return STATUS_RANGE;
    enum status status = sun_of_hour(site, in->start_s, &sun);
    if (status != STATUS_OK)
        return status;

    double ratio = sun.elevation_rad < ET0_LOW_SUN_RAD || !(sun.clear_sky_mj_m2 > 0)
                       ? in->clear_ratio
                       : in->radiation_mj_m2 / sun.clear_sky_mj_m2;
    ratio = fmin(1, fmax(RATIO_LEAST, ratio));
    double inside_mj_m2 = in->radiation_mj_m2 * in->cover.transmissivity;
    double longwave = SIGMA_DAY / 24 * fourth_power(in->temperature_c) *
                      longwave_factor(in->vapour_pressure_kpa, ratio);
    double net = (1 - ALBEDO) * inside_mj_m2 - longwave;
    bool day = net >= 0; /* the sign of R_n decides, not the sun (ASCE-EWRI 2005) */
    double soil = net * (day ? 0.1 : 0.5);
    struct combination c = {
        .available_mj_m2 = net - soil,
        .temperature_c = in->temperature_c,
        .deficit_kpa = fmax(0, air_saturation_kpa(in->temperature_c) - in->vapour_pressure_kpa),
        .wind_2m_m_s = wind_inside(&in->cover, in->wind_2m_m_s),
        .psychrometric_kpa_c = air_psychrometric_kpa_c(air_pressure_kpa(site->elevation_m)),
        .numerator = NUMERATOR_HOUR,
        .resistance = in->surface == ET0_FAO56 ? RESISTANCE_70
                      : day                    ? RESISTANCE_50
                                               : RESISTANCE_200,
    };
    out->et0_mm = combine(&c);
    out->net_radiation_mj_m2 = net;
    out->soil_heat_mj_m2 = soil;
    out->extraterrestrial_mj_m2 = sun.extraterrestrial_mj_m2;
    out->radiation_mj_m2 = inside_mj_m2;
    out->ratio_used = ratio;
    return STATUS_OK;
}

static bool day_ok(const struct et0_day_in *in)
{
    return status_within(in->temperature_max_c, -60, 60) &&
           status_within(in->temperature_min_c, -60, 60) &&
           status_within(in->vapour_pressure_kpa, 0, 20) &&
           status_within(in->wind_2m_m_s, 0, 110) && status_within(in->radiation_mj_m2, 0, 50) &&
           status_within(in->soil_heat_mj_m2, -50, 50) && status_within(in->ratio_least, 0, 1) &&
           cover_ok(&in->cover);
}

enum status et0_of_day(const struct sun_site *site, const struct et0_day_in *in,
                       struct et0_day_out *out)
{
    double clear_mj_m2 = 0;
    if (!day_ok(in))
        return STATUS_RANGE;
    enum status status = sun_clear_sky_of_day(site, in->day_of_year, in->vapour_pressure_kpa,
                                              in->clear_sky, &clear_mj_m2);
    if (status != STATUS_OK)
        return status;
    if (in->temperature_max_c < in->temperature_min_c)
        return STATUS_IMPOSSIBLE;

    bool no_sun = !(clear_mj_m2 > 0);
    double ratio = no_sun ? ET0_RATIO_UNKNOWN : in->radiation_mj_m2 / clear_mj_m2;
    ratio = fmin(1, fmax(in->ratio_least, ratio));
    double inside_mj_m2 = in->radiation_mj_m2 * in->cover.transmissivity;
    double shortwave = (1 - ALBEDO) * inside_mj_m2;
    double longwave = SIGMA_DAY *
                      (fourth_power(in->temperature_max_c) + fourth_power(in->temperature_min_c)) /
                      2 * longwave_factor(in->vapour_pressure_kpa, ratio);
    double saturation = air_saturation_day_kpa(in->temperature_max_c, in->temperature_min_c);
    struct combination c = {
        .available_mj_m2 = shortwave - longwave - in->soil_heat_mj_m2,
        .temperature_c = (in->temperature_max_c + in->temperature_min_c) / 2,
        .deficit_kpa = fmax(0, saturation - in->vapour_pressure_kpa),
        .wind_2m_m_s = wind_inside(&in->cover, in->wind_2m_m_s),
        .psychrometric_kpa_c = air_psychrometric_kpa_c(air_pressure_kpa(site->elevation_m)),
        .numerator = NUMERATOR_DAY,
        .resistance = RESISTANCE_70,
    };
    out->et0_mm = combine(&c);
    out->radiation_mj_m2 = inside_mj_m2;
    out->net_shortwave_mj_m2 = shortwave;
    out->net_longwave_mj_m2 = longwave;
    out->net_radiation_mj_m2 = shortwave - longwave;
    out->ratio_used = ratio;
    out->no_sun = no_sun;
    return STATUS_OK;
}

static double difference(double factor, double later_c, double earlier_c)
{
    if (!status_within(later_c, -60, 60) || !status_within(earlier_c, -60, 60))
        return NAN;
    return factor * (later_c - earlier_c);
}

double et0_soil_heat_mj_m2(double previous_c, double next_c)
{
    return difference(0.07, next_c, previous_c);
}

double et0_soil_heat_to_date_mj_m2(double previous_c, double current_c)
{
    return difference(0.14, current_c, previous_c);
}

enum status et0_from_temperature(double extraterrestrial_mj_m2, double temperature_mean_c,
                                 double temperature_max_c, double temperature_min_c, double *et0_mm)
{
    if (!status_within(extraterrestrial_mj_m2, 0, 50) ||
        !status_within(temperature_mean_c, -60, 60) || !status_within(temperature_max_c, -60, 60) ||
        !status_within(temperature_min_c, -60, 60))
        return STATUS_RANGE;
    if (temperature_max_c < temperature_min_c)
        return STATUS_IMPOSSIBLE;
    *et0_mm = 0.0023 * (temperature_mean_c + 17.8) * sqrt(temperature_max_c - temperature_min_c) *
              MM_A_MJ * extraterrestrial_mj_m2;
    return STATUS_OK;
}
