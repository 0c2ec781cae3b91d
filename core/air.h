/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Pressure, humidity and wind near the ground after FAO-56 (Allen et al. 1998) chapter 3. Vapour
 * pressures are over water, also below 0 C, as FAO-56 has them.
 *
 * The plain formulas return NaN outside the range they state (and for NaN), so that a bad input is
 * caught by whoever checks the end result; those that combine several inputs return a status.
 */
#ifndef PERCHD_CORE_AIR_H
#define PERCHD_CORE_AIR_H

#include "status.h"

/* Ratio of a psychrometer's coefficient to air pressure, 1/C (FAO-56 eq 16). */
#define AIR_PSYCHROMETER_ASMANN  0.000662 /* ventilated, about 5 m/s */
#define AIR_PSYCHROMETER_NATURAL 0.000800 /* naturally ventilated, about 1 m/s */
#define AIR_PSYCHROMETER_INDOOR  0.001200 /* not ventilated, indoors */

/* Air pressure, kPa, of an elevation of -450..6000 m (eq 7). */
double air_pressure_kpa(double elevation_m);

/* Psychrometric constant, kPa/C, of a pressure of 20..120 kPa (eq 8). */
double air_psychrometric_kpa_c(double pressure_kpa);

/* Saturation vapour pressure, kPa, at -100..100 C (eq 11). */
double air_saturation_kpa(double temperature_c);

/* Mean of the saturation pressures at a day's highest and lowest temperature (eq 12). */
double air_saturation_day_kpa(double temperature_max_c, double temperature_min_c);

/* Slope of the saturation curve, kPa/C, at -100..100 C (eq 13). */
double air_slope_kpa_c(double temperature_c);

/* Dew point, C, of a vapour pressure of 1e-6..110 kPa: eq 11 turned round. Annex 3 eq 3-11 is the
 * same with rounded constants, up to 0.02 C away. The vapour pressure of a dew point is
 * air_saturation_kpa() (eq 14). */
double air_dewpoint_c(double vapour_pressure_kpa);

/* Actual vapour pressure, kPa. Humidities are 0..100 %, temperatures -100..100 C.
 * Of an hour (eq 54): */
double air_actual_kpa(double temperature_c, double humidity_pct);
/* of a day, best first: highest and lowest humidity (eq 17), the highest alone when the lowest is
 * doubtful (eq 18), the mean (eq 19), or none: dew point = lowest temperature (eq 48, which is
 * printed with 0.611 where eq 11 has 0.6108). */
double air_actual_day_kpa(double temperature_max_c, double temperature_min_c,
                          double humidity_max_pct, double humidity_min_pct);
double air_actual_day_from_max_kpa(double temperature_min_c, double humidity_max_pct);
double air_actual_day_from_mean_kpa(double temperature_max_c, double temperature_min_c,
                                    double humidity_mean_pct);
double air_actual_day_from_lowest_kpa(double temperature_min_c);

/* From a psychrometer (eqs 15, 16); coefficient is one of AIR_PSYCHROMETER_... or the maker's,
 * 0..0.01. STATUS_RANGE: an input out of range. STATUS_IMPOSSIBLE: wet bulb above dry bulb, or so
 * far below it that the air would hold less than nothing. */
MUST_USE enum status air_actual_from_wet_bulb(double wet_bulb_c, double dry_bulb_c,
                                              double pressure_kpa, double coefficient,
                                              double *actual_kpa);

/* Wind at 2 m over short grass, m/s, of a wind of 0..75 m/s measured at 0.5..200 m (logarithmic
 * profile, eq 47). */
double air_wind_2m_m_s(double wind_m_s, double height_m);

#endif
