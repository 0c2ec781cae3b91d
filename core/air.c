/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "air.h"

#include <math.h>

double air_pressure_kpa(double elevation_m)
{
    if (!status_within(elevation_m, -450, 6000))
        return NAN;
    return 101.3 * pow((293 - 0.0065 * elevation_m) / 293, 5.26);
}

double air_psychrometric_kpa_c(double pressure_kpa)
{
    if (!status_within(pressure_kpa, 20, 120))
        return NAN;
    /* c_p / (epsilon lambda) = 1.013e-3 / (0.622 * 2.45), printed rounded in eq 8 */
    return 0.665e-3 * pressure_kpa;
}

/* Eqs 11 and 48 differ in the first constant only. */
static double saturation(double at_zero_kpa, double temperature_c)
{
    if (!status_within(temperature_c, -100, 100))
        return NAN;
    return at_zero_kpa * exp(17.27 * temperature_c / (temperature_c + 237.3));
}

double air_saturation_kpa(double temperature_c)
{
    return saturation(0.6108, temperature_c);
}

double air_saturation_day_kpa(double temperature_max_c, double temperature_min_c)
{
    return (air_saturation_kpa(temperature_max_c) + air_saturation_kpa(temperature_min_c)) / 2;
}

double air_slope_kpa_c(double temperature_c)
{
    double kelvin_like = temperature_c + 237.3;
    return 4098 * air_saturation_kpa(temperature_c) / (kelvin_like * kelvin_like);
}

double air_dewpoint_c(double vapour_pressure_kpa)
{
    if (!status_within(vapour_pressure_kpa, 1e-6, 110))
        return NAN;
    double ln = log(vapour_pressure_kpa / 0.6108);
    return 237.3 * ln / (17.27 - ln);
}

static double fraction(double humidity_pct)
{
    return status_within(humidity_pct, 0, 100) ? humidity_pct / 100 : NAN;
}

double air_actual_kpa(double temperature_c, double humidity_pct)
{
    return air_saturation_kpa(temperature_c) * fraction(humidity_pct);
}

double air_actual_day_kpa(double temperature_max_c, double temperature_min_c,
                          double humidity_max_pct, double humidity_min_pct)
{
    /* The line of FAO-56 example 5 leaves the division by 2 out; its result has it. */
    return (air_actual_kpa(temperature_min_c, humidity_max_pct) +
            air_actual_kpa(temperature_max_c, humidity_min_pct)) /
           2;
}

double air_actual_day_from_max_kpa(double temperature_min_c, double humidity_max_pct)
{
    return air_actual_kpa(temperature_min_c, humidity_max_pct);
}

double air_actual_day_from_mean_kpa(double temperature_max_c, double temperature_min_c,
                                    double humidity_mean_pct)
{
    return air_saturation_day_kpa(temperature_max_c, temperature_min_c) *
           fraction(humidity_mean_pct);
}

double air_actual_day_from_lowest_kpa(double temperature_min_c)
{
    return saturation(0.611, temperature_min_c);
}

enum status air_actual_from_wet_bulb(double wet_bulb_c, double dry_bulb_c, double pressure_kpa,
                                     double coefficient, double *actual_kpa)
{
    if (!status_within(wet_bulb_c, -100, 100) || !status_within(dry_bulb_c, -100, 100) ||
        !status_within(pressure_kpa, 20, 120) || !status_within(coefficient, 0, 0.01))
        return STATUS_RANGE;
    double kpa =
        air_saturation_kpa(wet_bulb_c) - coefficient * pressure_kpa * (dry_bulb_c - wet_bulb_c);
    if (wet_bulb_c > dry_bulb_c || kpa < 0)
        return STATUS_IMPOSSIBLE;
    *actual_kpa = kpa;
    return STATUS_OK;
}

double air_wind_2m_m_s(double wind_m_s, double height_m)
{
    if (!status_within(wind_m_s, 0, 75) || !status_within(height_m, 0.5, 200))
        return NAN;
    if (height_m == 2)
        return wind_m_s; /* eq 47 gives 1.0002 there */
    return wind_m_s * 4.87 / log(67.8 * height_m - 5.42);
}
