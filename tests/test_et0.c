/* SPDX-License-Identifier: GPL-3.0-or-later */
/* FAO-56 is Allen, Pereira, Raes & Smith (1998), FAO Irrigation and Drainage Paper 56; ASCE-2005 is
 * ASCE-EWRI (2005), The ASCE Standardized Reference Evapotranspiration Equation. */
#include "check.h"

#include <math.h>

#include "core/air.h"
#include "core/et0.h"
#include "core/sun.h"

#define COUNT(a) (sizeof(a) / sizeof((a)[0]))

static const struct et0_cover OUTDOORS = {1, 0, false};

static int64_t utc(const char *text)
{
    int64_t t_s = 0;
    assert_int_equal(civil_parse_rfc3339(text, &t_s), STATUS_OK);
    return t_s;
}

/* --- hourly, published ----------------------------------------------------------------------- */

/* Example 19 sets the zone meridian to 15 W, though Senegal keeps UTC: 14-15 h there is 15-16 h
 * UTC. Chained results: 0.01, the night hour 0.005. */
static void published_hour_fao56_example_19(void **state)
{
    (void)state;
    const struct sun_site site = {16 + 13.0 / 60, -16.25, 8};
    struct et0_hour_out out;
    struct et0_hour_in in = {
        .start_s = utc("2001-10-01T14:00:00-01:00"),
        .temperature_c = 38,
        .vapour_pressure_kpa = air_actual_kpa(38, 52),
        .wind_2m_m_s = 3.3,
        .radiation_mj_m2 = 2.450,
        .clear_ratio = 0.8,
        .surface = ET0_FAO56,
        .cover = OUTDOORS,
    };
    assert_int_equal(et0_of_hour(&site, &in, &out), STATUS_OK);
    check_near(out.extraterrestrial_mj_m2, 3.543, 0.001, "FAO-56 example 19, 14-15 h, Ra");
    check_near(out.ratio_used, 0.922, 0.0005, "FAO-56 example 19, 14-15 h, Rs/Rso");
    check_near(out.net_radiation_mj_m2, 1.749, 0.001, "FAO-56 example 19, 14-15 h, Rn");
    check_near(out.soil_heat_mj_m2, 0.175, 0.0005, "FAO-56 example 19, 14-15 h, G");
    check_near(out.et0_mm, 0.63, 0.005, "FAO-56 example 19, 14-15 h, ET0");
    check_near(out.et0_mm, 0.62693, 5e-5, "FAO-56 example 19, 14-15 h, ET0 unrounded");

    in.surface = ET0_ASCE2005;
    assert_int_equal(et0_of_hour(&site, &in, &out), STATUS_OK);
    check_near(out.et0_mm, 0.65601, 5e-5, "FAO-56 example 19 with C_d 0.24, unrounded");

    in.start_s = utc("2001-10-01T02:00:00-01:00");
    in.temperature_c = 28;
    in.vapour_pressure_kpa = air_actual_kpa(28, 90);
    in.wind_2m_m_s = 1.9;
    in.radiation_mj_m2 = 0;
    in.surface = ET0_FAO56;
    assert_int_equal(et0_of_hour(&site, &in, &out), STATUS_OK);
    check_near(out.extraterrestrial_mj_m2, 0, 0, "FAO-56 example 19, 02-03 h, Ra");
    check_near(out.net_radiation_mj_m2, -0.100, 0.0005, "FAO-56 example 19, 02-03 h, Rn");
    check_near(out.soil_heat_mj_m2, -0.050, 0.0005, "FAO-56 example 19, 02-03 h, G");
    check_near(out.et0_mm, 0.00, 0.005, "FAO-56 example 19, 02-03 h, ET0");
    check_near(out.et0_mm, 0.00434, 5e-5, "FAO-56 example 19, 02-03 h, ET0 unrounded");

    in.surface = ET0_ASCE2005;
    assert_int_equal(et0_of_hour(&site, &in, &out), STATUS_OK);
    check_near(out.et0_mm, 0.00350, 5e-5, "FAO-56 example 19 with C_d 0.96, unrounded");
}

/* ASCE-2005 Appendix C, Greeley, Colorado, hours stamped at their end in standard time (UTC - 7).
 * Another, older printing of this table has other night values, because cloudiness was carried
 * into the night differently. Another copy has R_nl 0.0332 for hour 13 of 2 July: a slip of 0.332,
 * as the R_n beside it shows. */
struct greeley_hour {
    int day, hour;
    double t, ea, rs, u3, ra, rnl, rn, et;
};
static const struct greeley_hour GREELEY[] = {
    {1, 16, 30.9, 1.09, 2.24, 4.07, 3.26, 0.284, 1.441, 0.61},
    {1, 17, 31.2, 1.15, 1.65, 3.58, 2.52, 0.262, 1.009, 0.48},
    {1, 18, 29.1, 1.21, 0.34, 1.15, 1.68, 0.017, 0.244, 0.14},
    {1, 19, 28.3, 1.21, 0.32, 3.04, 0.81, 0.017, 0.229, 0.22},
    {1, 20, 26.0, 1.13, 0.08, 2.21, 0.09, 0.017, 0.044, 0.12},
    {1, 21, 22.9, 1.20, 0.00, 1.04, 0.00, 0.016, -0.016, 0.04},
    {1, 22, 20.1, 1.35, 0.00, 0.58, 0.00, 0.015, -0.015, 0.01},
    {1, 23, 19.9, 1.35, 0.00, 0.95, 0.00, 0.015, -0.015, 0.02},
    {1, 24, 18.4, 1.32, 0.00, 0.30, 0.00, 0.015, -0.015, 0.01},
    {2, 1, 16.5, 1.26, 0.00, 0.50, 0.00, 0.014, -0.014, 0.01},
    {2, 2, 15.4, 1.34, 0.00, 1.00, 0.00, 0.014, -0.014, 0.01},
    {2, 3, 15.5, 1.31, 0.00, 0.68, 0.00, 0.014, -0.014, 0.01},
    {2, 4, 13.5, 1.26, 0.00, 0.69, 0.00, 0.014, -0.014, 0.01},
    {2, 5, 13.2, 1.24, 0.03, 0.29, 0.05, 0.014, 0.009, 0.01},
    {2, 6, 16.2, 1.31, 0.46, 1.24, 0.72, 0.014, 0.340, 0.10},
    {2, 7, 20.0, 1.36, 1.09, 1.28, 1.59, 0.223, 0.616, 0.19},
    {2, 8, 22.9, 1.39, 1.74, 0.88, 2.43, 0.244, 1.096, 0.32},
    {2, 9, 26.4, 1.25, 2.34, 0.72, 3.19, 0.278, 1.524, 0.46},
};

/* Tolerances: R_a 0.01, R_n 0.002, ET 0.006 (the inputs are printed rounded). The ratio of the
 * last hour with the sun above 0.3 rad is held through the night. */
static void published_hour_asce2005_greeley(void **state)
{
    (void)state;
    const struct sun_site site = {40.41, -104.78, 1462.4};
    double held = 0.6;
    for (size_t i = 0; i < sizeof GREELEY / sizeof GREELEY[0]; i++) {
        const struct greeley_hour *row = &GREELEY[i];
        struct et0_hour_out out;
        struct et0_hour_in in = {
            .start_s = utc("2000-07-01T00:00:00-07:00") + (row->day - 1) * CIVIL_DAY_S +
                       (row->hour - 1) * CIVIL_HOUR_S,
            .temperature_c = row->t,
            .vapour_pressure_kpa = row->ea,
            .wind_2m_m_s = air_wind_2m_m_s(row->u3, 3),
            .radiation_mj_m2 = row->rs,
            .clear_ratio = held,
            .surface = ET0_ASCE2005,
            .cover = OUTDOORS,
        };
        assert_int_equal(et0_of_hour(&site, &in, &out), STATUS_OK);
        held = out.ratio_used;
        check_near(out.extraterrestrial_mj_m2, row->ra, 0.01, "Greeley hourly, Ra");
        check_near(0.77 * row->rs - out.net_radiation_mj_m2, row->rnl, 0.001, "Greeley, Rnl");
        check_near(out.net_radiation_mj_m2, row->rn, 0.002, "Greeley hourly, Rn");
        check_near(out.et0_mm, row->et, 0.006, "Greeley hourly, ETos");
    }
}

/* Fallon, Nevada, 1 July 2015: measurements of the US Bureau of Reclamation (AgriMet station FALN),
 * ETo by the University of Idaho's program in the ASCE standardized form, both in the test data of
 * the RefET library (Apache-2.0). Hours are stamped at their end in standard time (UTC - 8). */
struct fallon_hour {
    int hour;
    double t_f, dew_f, wind_mph, rs_ly, et;
};
static const struct fallon_hour FALLON_HOURS[] = {
    {0, 79.88, 48.31, 5.81, 0.00, 0.07},    {1, 75.54, 50.55, 2.99, 0.00, 0.02},
    {2, 73.30, 52.04, 4.06, 0.00, 0.03},    {3, 74.79, 52.49, 5.55, 0.00, 0.05},
    {4, 69.89, 52.78, 2.03, 0.00, -0.01},   {5, 67.34, 52.64, 2.96, 0.00, 0.00},
    {6, 68.56, 53.23, 2.61, 1.42, 0.01},    {7, 72.87, 54.35, 3.79, 8.32, 0.05},
    {8, 76.47, 55.17, 3.77, 26.41, 0.25},   {9, 82.00, 55.18, 4.12, 38.35, 0.38},
    {10, 86.40, 52.49, 5.03, 50.17, 0.52},  {11, 91.80, 49.36, 3.33, 61.16, 0.61},
    {12, 93.00, 46.29, 5.56, 66.10, 0.71},  {13, 95.90, 47.41, 5.34, 94.50, 0.95},
    {14, 97.40, 44.04, 3.88, 88.30, 0.87},  {15, 98.50, 44.08, 4.70, 74.33, 0.76},
    {16, 100.20, 44.15, 5.04, 65.79, 0.70}, {17, 101.20, 43.14, 5.36, 53.80, 0.60},
    {18, 101.90, 42.00, 3.11, 44.67, 0.44}, {19, 96.60, 47.10, 2.07, 11.83, 0.08},
    {20, 90.00, 50.20, 11.00, 2.15, 0.17},  {21, 88.00, 50.57, 6.32, 0.00, 0.10},
    {22, 84.80, 50.78, 5.77, 0.00, 0.08},   {23, 86.40, 49.76, 12.15, 0.00, 0.16},
};

static double from_fahrenheit(double f)
{
    return (f - 32) / 1.8;
}

/* International langley (0.041868, as the authors of the file took it; 0.04184 would be 0.07 %
 * less) and mile an hour. */
static const double MJ_A_LANGLEY = 0.041868;
static const double M_S_A_MPH = 0.44704;

/* Every hour within 0.01 of the stored value (0.005 more for its printed digits), but for hour 7:
 * the first after sunrise, when that program holds another cloudiness (0.05 stored, 0.12 here). */
static void published_hour_refet_fallon(void **state)
{
    (void)state;
    const struct sun_site site = {39.4575, -118.77388, 1208.5};
    double held = 0.85; /* a dry, clear evening before */
    double sum = 0;
    for (size_t i = 0; i < COUNT(FALLON_HOURS); i++) {
        const struct fallon_hour *row = &FALLON_HOURS[i];
        struct et0_hour_out out;
        struct et0_hour_in in = {
            .start_s = utc("2015-07-01T00:00:00-08:00") + (row->hour - 1) * CIVIL_HOUR_S,
            .temperature_c = from_fahrenheit(row->t_f),
            .vapour_pressure_kpa = air_saturation_kpa(from_fahrenheit(row->dew_f)),
            .wind_2m_m_s = air_wind_2m_m_s(row->wind_mph * M_S_A_MPH, 3),
            .radiation_mj_m2 = row->rs_ly * MJ_A_LANGLEY,
            .clear_ratio = held,
            .surface = ET0_ASCE2005,
            .cover = OUTDOORS,
        };
        assert_int_equal(et0_of_hour(&site, &in, &out), STATUS_OK);
        held = out.ratio_used;
        sum += out.et0_mm;
        if (row->hour != 7)
            check_near(out.et0_mm, row->et, 0.015, "Fallon hourly, ETo");
    }
    check_near(sum, 7.63, 0.06, "Fallon, sum of the hours (stored: 7.60)");
}

/* --- daily, published ------------------------------------------------------------------------- */

/* FAO-56 example 11 shows 38.8 and 35.8 become 38.7 and 35.7 on its last line; example 12 credits
 * R_ns to eq 39 (it is 38) and multiplies 7.7 where R_n is 7.6. The results stand. */
static void published_day_fao56_examples_11_and_12(void **state)
{
    (void)state;
    const struct sun_site site = {-22.90, 0, 0};
    struct sun_day sun;
    struct et0_day_out out;
    struct et0_day_in in = {
        .day_of_year = 135,
        .temperature_max_c = 25.1,
        .temperature_min_c = 19.1,
        .vapour_pressure_kpa = 2.1,
        .wind_2m_m_s = 2,
        .cover = OUTDOORS,
    };
    assert_int_equal(sun_of_day(&site, 135, &sun), STATUS_OK);
    assert_int_equal(sun_radiation_from_sunshine(&sun, 220.0 / 31, &in.radiation_mj_m2), STATUS_OK);
    assert_int_equal(et0_of_day(&site, &in, &out), STATUS_OK);
    check_near(out.ratio_used, 0.77, 0.005, "FAO-56 example 11, Rs/Rso");
    check_near(out.net_longwave_mj_m2, 3.5, 0.05, "FAO-56 example 11, Rnl");
    check_near(out.net_longwave_mj_m2, 3.50854, 5e-6, "FAO-56 example 11, Rnl unrounded");
    check_near(out.net_shortwave_mj_m2, 11.1, 0.05, "FAO-56 example 12, Rns");
    check_near(out.net_radiation_mj_m2, 7.6, 0.05, "FAO-56 example 12, Rn");
    check_near(out.net_radiation_mj_m2 * 0.408, 3.1, 0.05, "FAO-56 example 12, Rn in mm");
}

/* A 0.0667 stands in example 17 where gamma is 0.0674; the result does not carry it. */
static void published_day_fao56_example_17(void **state)
{
    (void)state;
    const struct sun_site site = {13 + 44.0 / 60, 0, 2};
    struct sun_day sun;
    struct et0_day_out out;
    struct et0_day_in in = {
        .day_of_year = 105,
        .temperature_max_c = 34.8,
        .temperature_min_c = 25.6,
        .vapour_pressure_kpa = 2.85,
        .wind_2m_m_s = 2,
        .soil_heat_mj_m2 = et0_soil_heat_to_date_mj_m2(29.2, 30.2),
        .cover = OUTDOORS,
    };
    assert_int_equal(sun_of_day(&site, 105, &sun), STATUS_OK);
    assert_int_equal(sun_radiation_from_sunshine(&sun, 8.5, &in.radiation_mj_m2), STATUS_OK);
    assert_int_equal(et0_of_day(&site, &in, &out), STATUS_OK);
    check_near(in.soil_heat_mj_m2, 0.14, 1e-12, "FAO-56 example 17, G");
    check_near(out.net_shortwave_mj_m2, 17.44, 0.005, "FAO-56 example 17, Rns");
    check_near(out.net_longwave_mj_m2, 3.11, 0.005, "FAO-56 example 17, Rnl");
    check_near(out.net_radiation_mj_m2, 14.33, 0.005, "FAO-56 example 17, Rn");
    check_near(out.et0_mm, 5.72, 0.005, "FAO-56 example 17, ET0");
    check_near(out.et0_mm, 5.7161, 5e-5, "FAO-56 example 17, ET0 unrounded");
}

/* Example 18 leaves out the division by 2 of e_s, and divides n by 16.3 where N is 16.1: with 16.3
 * ET0 would be 3.865. */
static void published_day_fao56_example_18(void **state)
{
    (void)state;
    const struct sun_site site = {50.8, 0, 100};
    struct sun_day sun;
    struct et0_day_out out;
    struct et0_day_in in = {
        .day_of_year = 187,
        .temperature_max_c = 21.5,
        .temperature_min_c = 12.3,
        .vapour_pressure_kpa = air_actual_day_kpa(21.5, 12.3, 84, 63),
        .wind_2m_m_s = air_wind_2m_m_s(10 / 3.6, 10),
        .cover = OUTDOORS,
    };
    assert_int_equal(sun_of_day(&site, 187, &sun), STATUS_OK);
    assert_int_equal(sun_radiation_from_sunshine(&sun, 9.25, &in.radiation_mj_m2), STATUS_OK);
    assert_int_equal(et0_of_day(&site, &in, &out), STATUS_OK);
    check_near(in.vapour_pressure_kpa, 1.409, 0.0005, "FAO-56 example 18, ea");
    check_near(in.wind_2m_m_s, 2.078, 0.0005, "FAO-56 example 18, u2");
    check_near(out.net_shortwave_mj_m2, 17.00, 0.005, "FAO-56 example 18, Rns");
    check_near(out.net_longwave_mj_m2, 3.71, 0.005, "FAO-56 example 18, Rnl");
    check_near(out.net_radiation_mj_m2, 13.28, 0.005, "FAO-56 example 18, Rn");
    check_near(out.et0_mm, 3.88, 0.005, "FAO-56 example 18, ET0");
    check_near(out.et0_mm, 3.8803, 5e-5, "FAO-56 example 18, ET0 unrounded");
}

/* FAO-56 annex 2 table 2.8, sigma T^4: what is left of eq 39 in dry air under a clear sky. */
static void published_longwave_fao56_table_2_8(void **state)
{
    (void)state;
    const struct sun_site site = {0, 0, 0};
    static const double rows[][2] = {{1, 27.70},  {10, 31.52}, {20, 36.21}, {25, 38.75},
                                     {30, 41.41}, {35, 44.21}, {40, 47.15}, {48.5, 52.49}};
    for (size_t i = 0; i < COUNT(rows); i++) {
        struct et0_day_out out;
        struct et0_day_in in = {
            .day_of_year = 80,
            .temperature_max_c = rows[i][0],
            .temperature_min_c = rows[i][0],
            .radiation_mj_m2 = 50,
            .cover = OUTDOORS,
        };
        assert_int_equal(et0_of_day(&site, &in, &out), STATUS_OK);
        check_near(out.net_longwave_mj_m2 / 0.34, rows[i][1], 0.005, "FAO-56 annex 2 table 2.8");
    }
}

/* ASCE-2005 Appendix C, Greeley, 1-5 July 2000 (through library copies). Tolerances: R_nl 0.02, R_n
 * 0.03, ETos 0.03, since the original used finer inputs than it prints. */
static void published_day_asce2005_greeley(void **state)
{
    (void)state;
    const struct sun_site site = {40.41, 0, 1462.4};
    static const struct {
        int j;
        double max_c, min_c, ea, rs, u3, rso, rnl, rn, et;
    } rows[] = {
        {183, 32.4, 10.9, 1.27, 22.4, 1.94, 32.43, 3.96, 13.31, 5.71},
        {184, 33.6, 12.2, 1.19, 26.8, 2.14, 32.39, 5.45, 15.20, 6.71},
        {185, 32.6, 14.8, 1.40, 23.3, 2.06, 32.36, 4.15, 13.78, 5.98},
        {186, 33.8, 11.8, 1.18, 29.0, 1.97, 32.32, 6.14, 16.19, 6.86},
        {187, 32.7, 15.9, 1.59, 27.9, 2.98, 32.27, 5.15, 16.33, 7.03},
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        struct sun_day sun;
        struct et0_day_out out;
        struct et0_day_in in = {
            .day_of_year = rows[i].j,
            .temperature_max_c = rows[i].max_c,
            .temperature_min_c = rows[i].min_c,
            .vapour_pressure_kpa = rows[i].ea,
            .wind_2m_m_s = air_wind_2m_m_s(rows[i].u3, 3),
            .radiation_mj_m2 = rows[i].rs,
            .cover = OUTDOORS,
        };
        assert_int_equal(sun_of_day(&site, rows[i].j, &sun), STATUS_OK);
        assert_int_equal(et0_of_day(&site, &in, &out), STATUS_OK);
        check_near(sun.clear_sky_mj_m2, rows[i].rso, 0.02, "Greeley daily, Rso");
        check_near(out.net_longwave_mj_m2, rows[i].rnl, 0.02, "Greeley daily, Rnl");
        check_near(out.net_radiation_mj_m2, rows[i].rn, 0.03, "Greeley daily, Rn");
        check_near(out.et0_mm, rows[i].et, 0.03, "Greeley daily, ETos");
    }
}

/* Fallon, Nevada, 2015, days (see the hours above): F, langley, F, mile an hour, mm. */
static const struct {
    const char *date;
    double min_f, max_f, rs_ly, dew_f, wind_mph, et;
} FALLON_DAYS[] = {
    {"2015-01-01", 0.11, 31.58, 224.76, 1.26, 1.42, 0.41},
    {"2015-02-20", 26.86, 58.30, 410.29, 22.37, 3.77, 2.26},
    {"2015-04-20", 29.96, 78.86, 671.36, 10.13, 2.55, 4.75},
    {"2015-05-15", 43.69, 49.52, 133.87, 41.18, 6.25, 1.20},
    {"2015-06-10", 57.85, 78.36, 533.70, 58.10, 6.27, 4.66},
    {"2015-07-01", 66.65, 102.80, 674.07, 49.84, 4.80, 7.94},
    {"2015-07-02", 70.51, 100.90, 644.46, 51.47, 5.96, 8.24},
    {"2015-07-03", 68.62, 100.00, 668.58, 54.44, 5.57, 7.95},
    {"2015-07-05", 56.58, 89.80, 696.00, 55.05, 4.36, 6.39},
    {"2015-07-07", 58.53, 90.20, 435.46, 53.40, 3.46, 4.83},
    {"2015-08-12", 55.26, 96.40, 703.89, 33.08, 3.49, 6.69},
};

static double fallon_day(size_t row, enum sun_clear_sky form, struct et0_day_out *out)
{
    const struct sun_site site = {39.4575, -118.77388, 1208.5};
    struct civil_date date;
    assert_int_equal(civil_parse_date(FALLON_DAYS[row].date, &date), STATUS_OK);
    struct et0_day_in in = {
        .day_of_year = civil_day_of_year(date),
        .temperature_max_c = from_fahrenheit(FALLON_DAYS[row].max_f),
        .temperature_min_c = from_fahrenheit(FALLON_DAYS[row].min_f),
        .vapour_pressure_kpa = air_saturation_kpa(from_fahrenheit(FALLON_DAYS[row].dew_f)),
        .wind_2m_m_s = air_wind_2m_m_s(FALLON_DAYS[row].wind_mph * M_S_A_MPH, 3),
        .radiation_mj_m2 = FALLON_DAYS[row].rs_ly * MJ_A_LANGLEY,
        .clear_sky = form,
        .ratio_least = 0.3,
        .cover = OUTDOORS,
    };
    assert_int_equal(et0_of_day(&site, &in, out), STATUS_OK);
    return out->et0_mm;
}

/* 0.15 mm with the simple clear sky, 0.02 with the one the stored values were made with. They were
 * made with Rs/Rso not below 0.3; without that limit, as FAO-56 has it, the overcast 15 May would
 * be 0.165 mm above the stored value. */
static void published_day_refet_fallon(void **state)
{
    (void)state;
    struct et0_day_out out;
    for (size_t i = 0; i < COUNT(FALLON_DAYS); i++) {
        check_near(fallon_day(i, SUN_CLEAR_SIMPLE, &out), FALLON_DAYS[i].et, 0.15,
                   FALLON_DAYS[i].date);
        check_near(fallon_day(i, SUN_CLEAR_ASCE, &out), FALLON_DAYS[i].et, 0.02,
                   FALLON_DAYS[i].date);
    }
}

/* Intermediate values of RefET's own tests for 1 July 2015 (its R_a is 0.03 higher). */
static void published_day_refet_fallon_inside(void **state)
{
    (void)state;
    struct et0_day_out out;
    check_near(fallon_day(5, SUN_CLEAR_ASCE, &out), 7.94248112, 0.005, "ETo");
    check_near(out.net_longwave_mj_m2, 6.55653397, 0.01, "Rnl");
    check_near(out.net_radiation_mj_m2, 15.17437735, 0.01, "Rn");
    check_near((1.35 * out.ratio_used - 0.35), 0.85698609, 0.001, "cloud term");
}

/* Rows of the ETo library's example (Apache-2.0): 43.6 S, 500 m, wind taken as 2 m/s. The library
 * gives 0.01 mm; almost all of its days are reproduced within 0.01, hence 0.015. */
static void published_day_eto_library_rows(void **state)
{
    (void)state;
    const struct sun_site site = {-43.6, 172, 500};
    static const struct {
        const char *date;
        double rs, max_c, min_c, ea, et, hargreaves;
    } rows[] = {
        {"2000-01-01", 13.4, 17.7, 13.7, 1.60, 2.31, 2.79},
        {"2000-01-06", 25.3, 15.8, 11.5, 1.28, 3.64, 2.70},
        {"2003-07-15", 8.3, 15.6, -1.5, 0.59, 1.33, 1.14},
        {"2008-02-10", 20.7, 23.6, 14.9, 1.77, 3.76, 3.95},
        {"2012-11-20", 7.3, 15.6, 9.3, 1.24, 1.59, 3.02},
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        struct civil_date date;
        struct sun_day sun;
        struct et0_day_out out;
        double mm = 0;
        assert_int_equal(civil_parse_date(rows[i].date, &date), STATUS_OK);
        struct et0_day_in in = {
            .day_of_year = civil_day_of_year(date),
            .temperature_max_c = rows[i].max_c,
            .temperature_min_c = rows[i].min_c,
            .vapour_pressure_kpa = rows[i].ea,
            .wind_2m_m_s = 2,
            .radiation_mj_m2 = rows[i].rs,
            .cover = OUTDOORS,
        };
        assert_int_equal(et0_of_day(&site, &in, &out), STATUS_OK);
        check_near(out.et0_mm, rows[i].et, 0.015, rows[i].date);
        assert_int_equal(sun_of_day(&site, in.day_of_year, &sun), STATUS_OK);
        assert_int_equal(et0_from_temperature(sun.extraterrestrial_mj_m2,
                                              (rows[i].max_c + rows[i].min_c) / 2, rows[i].max_c,
                                              rows[i].min_c, &mm),
                         STATUS_OK);
        check_near(mm, rows[i].hargreaves, 0.0075, rows[i].date);
    }
}

/* Rows of the penmon library (MIT), 41.42 N, 109 m: only temperatures, wind 2 m/s, dew point 2 C
 * below the lowest (FAO-56's advice for dry places); 0.02. */
static void published_day_penmon_temperatures_only(void **state)
{
    (void)state;
    const struct sun_site site = {41.42, 0, 109};
    static const double rows[][4] = {{228, 19.8, 29.9, 4.49}, {229, 15.1, 29.9, 5.13},
                                     {230, 13.4, 29.6, 5.24}, {231, 12.7, 31.1, 5.62},
                                     {232, 16.2, 32.8, 5.66}, {233, 16.9, 33.6, 5.72},
                                     {234, 16.0, 35.5, 6.27}};
    for (size_t i = 0; i < COUNT(rows); i++) {
        struct sun_day sun;
        struct et0_day_out out;
        struct et0_day_in in = {
            .day_of_year = (int)rows[i][0],
            .temperature_max_c = rows[i][2],
            .temperature_min_c = rows[i][1],
            .vapour_pressure_kpa = air_actual_day_from_lowest_kpa(rows[i][1] - 2),
            .wind_2m_m_s = 2,
            .cover = OUTDOORS,
        };
        assert_int_equal(sun_of_day(&site, in.day_of_year, &sun), STATUS_OK);
        assert_int_equal(sun_radiation_from_range(&sun, rows[i][2] - rows[i][1], SUN_RANGE_INLAND,
                                                  &in.radiation_mj_m2),
                         STATUS_OK);
        assert_int_equal(et0_of_day(&site, &in, &out), STATUS_OK);
        check_near(out.et0_mm, rows[i][3], 0.02, "penmon");
    }
}

/* The same place with all inputs: 264 W/m2, humidity 37 to 88 %: 5.3 mm. */
static void published_day_penmon_all_inputs(void **state)
{
    (void)state;
    const struct sun_site site = {41.42, 0, 109};
    struct et0_day_out out;
    struct et0_day_in in = {
        .day_of_year = 228,
        .temperature_max_c = 29.9,
        .temperature_min_c = 19.8,
        .vapour_pressure_kpa = air_actual_day_kpa(29.9, 19.8, 88, 37),
        .wind_2m_m_s = 2,
        .radiation_mj_m2 = 264 * 0.0864,
        .cover = OUTDOORS,
    };
    assert_int_equal(et0_of_day(&site, &in, &out), STATUS_OK);
    check_near(out.et0_mm, 5.3, 0.05, "penmon, J 228");
    check_near(out.et0_mm, 5.282, 0.0005, "penmon, J 228, unrounded");
}

/* FAO-56 figure 18, Cabinda (Angola): loose, 0.2 mm, because the program that made it had its own
 * ways with humidity and soil heat. */
static void published_month_fao56_cabinda(void **state)
{
    (void)state;
    const struct sun_site site = {-5.33, 0, 20};
    static const struct {
        int j;
        double min_c, max_c, rh, wind_km_d, sun_h, rs, et;
    } rows[] = {
        {15, 22.8, 29.6, 81, 78, 4.0, 15.7, 3.4},   {46, 22.7, 30.3, 82, 69, 4.6, 16.9, 3.7},
        {74, 23.0, 30.6, 80, 78, 5.1, 17.4, 3.8},   {105, 23.0, 30.2, 82, 69, 5.0, 16.4, 3.5},
        {135, 22.0, 28.6, 84, 69, 3.8, 13.5, 2.9},  {166, 19.2, 26.5, 81, 69, 3.3, 12.2, 2.6},
        {196, 17.6, 25.1, 78, 78, 3.2, 12.3, 2.6},  {227, 18.6, 25.3, 78, 78, 2.6, 12.4, 2.6},
        {258, 20.5, 26.5, 78, 104, 2.0, 12.4, 2.8}, {288, 22.5, 28.0, 79, 130, 2.2, 12.9, 3.1},
        {319, 23.0, 28.7, 80, 104, 3.2, 14.4, 3.3}, {349, 23.0, 29.1, 82, 95, 3.8, 15.2, 3.4},
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        struct sun_day sun;
        struct et0_day_out out;
        struct et0_day_in in = {
            .day_of_year = rows[i].j,
            .temperature_max_c = rows[i].max_c,
            .temperature_min_c = rows[i].min_c,
            .vapour_pressure_kpa =
                air_actual_day_from_mean_kpa(rows[i].max_c, rows[i].min_c, rows[i].rh),
            .wind_2m_m_s = rows[i].wind_km_d / 86.4,
            .cover = OUTDOORS,
        };
        assert_int_equal(sun_of_day(&site, rows[i].j, &sun), STATUS_OK);
        assert_int_equal(sun_radiation_from_sunshine(&sun, rows[i].sun_h, &in.radiation_mj_m2),
                         STATUS_OK);
        assert_int_equal(et0_of_day(&site, &in, &out), STATUS_OK);
        check_near(in.radiation_mj_m2, rows[i].rs, 0.2, "Cabinda, Rs");
        check_near(out.et0_mm, rows[i].et, 0.2, "Cabinda, ET0");
    }
}

/* PyETo's test of Hargreaves-Samani; its mean is given, not the middle of the extremes. */
static void published_from_temperature_pyeto(void **state)
{
    (void)state;
    double mm = 0;
    assert_int_equal(et0_from_temperature(38.93715, 35, 38, 28, &mm), STATUS_OK);
    check_near(mm, 6.1, 0.05, "PyETo, Hargreaves-Samani");
}

/* --- edges and properties --------------------------------------------------------------------- */

static const struct sun_site NURSERY = {45.7, 4.8, 200};

static struct et0_hour_in summer_noon(void)
{
    struct et0_hour_in in = {
        .start_s = utc("2026-07-01T11:00:00Z"),
        .temperature_c = 27,
        .vapour_pressure_kpa = 1.4,
        .wind_2m_m_s = 2,
        .radiation_mj_m2 = 2.8,
        .clear_ratio = 0.7,
        .surface = ET0_ASCE2005,
        .cover = OUTDOORS,
    };
    return in;
}

static struct et0_day_in summer_day(void)
{
    struct et0_day_in in = {
        .day_of_year = 182,
        .temperature_max_c = 29,
        .temperature_min_c = 15,
        .vapour_pressure_kpa = 1.4,
        .wind_2m_m_s = 2,
        .radiation_mj_m2 = 24,
        .cover = OUTDOORS,
    };
    return in;
}

static double hour_mm(const struct et0_hour_in *in)
{
    struct et0_hour_out out;
    assert_int_equal(et0_of_hour(&NURSERY, in, &out), STATUS_OK);
    return out.et0_mm;
}

static double day_mm(const struct et0_day_in *in)
{
    struct et0_day_out out;
    assert_int_equal(et0_of_day(&NURSERY, in, &out), STATUS_OK);
    return out.et0_mm;
}

static void of_hour_bad_inputs_are_refused(void **state)
{
    (void)state;
    static const double absurd[] = {NAN, INFINITY, -INFINITY, -1e300, 1e300, -61};
    struct et0_hour_out out = {.et0_mm = 7};
    for (size_t i = 0; i < COUNT(absurd); i++) {
        for (int field = 0; field < 7; field++) {
            struct et0_hour_in in = summer_noon();
            in.cover = (struct et0_cover){0.6, 0.4, true};
            double *fields[] = {&in.temperature_c,    &in.vapour_pressure_kpa,
                                &in.wind_2m_m_s,      &in.radiation_mj_m2,
                                &in.clear_ratio,      &in.cover.transmissivity,
                                &in.cover.wind_factor};
            *fields[field] = absurd[i];
            assert_int_equal(et0_of_hour(&NURSERY, &in, &out), STATUS_RANGE);
        }
    }
    const struct sun_site nowhere = {NAN, 0, 0};
    struct et0_hour_in in = summer_noon();
    assert_int_equal(et0_of_hour(&nowhere, &in, &out), STATUS_RANGE);
    in.cover.transmissivity = 0.04;
    assert_int_equal(et0_of_hour(&NURSERY, &in, &out), STATUS_RANGE);
    in = summer_noon();
    in.start_s = INT64_MAX;
    assert_int_equal(et0_of_hour(&NURSERY, &in, &out), STATUS_RANGE);
    check_near(out.et0_mm, 7, 0, "output untouched");
}

static void of_day_bad_inputs_are_refused(void **state)
{
    (void)state;
    static const double absurd[] = {NAN, INFINITY, -INFINITY, -1e300, 1e300, -61};
    struct et0_day_out out = {.et0_mm = 7};
    for (size_t i = 0; i < COUNT(absurd); i++) {
        for (int field = 0; field < 7; field++) {
            struct et0_day_in in = summer_day();
            double *fields[] = {&in.temperature_max_c,   &in.temperature_min_c,
                                &in.vapour_pressure_kpa, &in.wind_2m_m_s,
                                &in.radiation_mj_m2,     &in.soil_heat_mj_m2,
                                &in.cover.transmissivity};
            *fields[field] = absurd[i];
            assert_int_equal(et0_of_day(&NURSERY, &in, &out), STATUS_RANGE);
        }
    }
    struct et0_day_in in = summer_day();
    in.day_of_year = 0;
    assert_int_equal(et0_of_day(&NURSERY, &in, &out), STATUS_RANGE);
    in = summer_day();
    in.temperature_max_c = 14.9;
    assert_int_equal(et0_of_day(&NURSERY, &in, &out), STATUS_IMPOSSIBLE);
    check_near(out.et0_mm, 7, 0, "output untouched");
}

static void from_temperature_bad_inputs_are_refused(void **state)
{
    (void)state;
    double mm = 7;
    assert_int_equal(et0_from_temperature(NAN, 20, 25, 15, &mm), STATUS_RANGE);
    assert_int_equal(et0_from_temperature(-1, 20, 25, 15, &mm), STATUS_RANGE);
    assert_int_equal(et0_from_temperature(40, NAN, 25, 15, &mm), STATUS_RANGE);
    assert_int_equal(et0_from_temperature(40, 20, 61, 15, &mm), STATUS_RANGE);
    assert_int_equal(et0_from_temperature(40, 20, 25, -INFINITY, &mm), STATUS_RANGE);
    assert_int_equal(et0_from_temperature(40, 20, 15, 25, &mm), STATUS_IMPOSSIBLE);
    check_near(mm, 7, 0, "output untouched");
    assert_true(isnan(et0_soil_heat_mj_m2(NAN, 20)));
    assert_true(isnan(et0_soil_heat_mj_m2(20, 61)));
    assert_true(isnan(et0_soil_heat_to_date_mj_m2(-61, 20)));
}

/* FAO-56 prints eq 41 with a sum of temperatures; eqs 43 and 44 have the difference. */
static void soil_heat_is_a_difference(void **state)
{
    (void)state;
    check_near(et0_soil_heat_mj_m2(16.1, 18.8), 0.07 * 2.7, 1e-12, "eq 43");
    check_near(et0_soil_heat_to_date_mj_m2(18.8, 16.1), -0.14 * 2.7, 1e-12, "eq 44");
    struct et0_day_in in = summer_day();
    double before = day_mm(&in);
    in.soil_heat_mj_m2 = 1;
    assert_true(day_mm(&in) < before);
}

/* One hour of each kind, random over the whole documented range: always an answer, never NaN. */
static void of_hour_in_range_always_answers(void **state)
{
    (void)state;
    uint64_t seed = 1948;
    print_message("seed %lu\n", (unsigned long)seed);
    for (int i = 0; i < 100000; i++) {
        const struct sun_site site = {check_between(&seed, -90, 90),
                                      check_between(&seed, -180, 180),
                                      check_between(&seed, -450, 6000)};
        struct et0_hour_out out;
        struct et0_hour_in in = {
            .start_s = (int64_t)check_between(&seed, -6.2e10, 2.5e11),
            .temperature_c = check_between(&seed, -60, 60),
            .vapour_pressure_kpa = check_between(&seed, 0, 20),
            .wind_2m_m_s = check_between(&seed, 0, 110),
            .radiation_mj_m2 = check_between(&seed, 0, 5),
            .clear_ratio = check_random(&seed),
            .surface = check_random(&seed) < 0.5 ? ET0_ASCE2005 : ET0_FAO56,
            .cover = {check_between(&seed, 0.05, 1), check_random(&seed),
                      check_random(&seed) < 0.5},
        };
        assert_int_equal(et0_of_hour(&site, &in, &out), STATUS_OK);
        assert_true(isfinite(out.et0_mm) && isfinite(out.net_radiation_mj_m2) &&
                    isfinite(out.soil_heat_mj_m2) && isfinite(out.extraterrestrial_mj_m2));
        assert_true(out.ratio_used >= 0.3 && out.ratio_used <= 1);
        check_near(out.radiation_mj_m2, in.radiation_mj_m2 * in.cover.transmissivity, 1e-12, "Rs");
        check_near(out.soil_heat_mj_m2,
                   out.net_radiation_mj_m2 * (out.net_radiation_mj_m2 >= 0 ? 0.1 : 0.5), 1e-12,
                   "G");
    }
}

static void of_day_in_range_always_answers(void **state)
{
    (void)state;
    uint64_t seed = 1956;
    print_message("seed %lu\n", (unsigned long)seed);
    for (int i = 0; i < 100000; i++) {
        const struct sun_site site = {check_between(&seed, -90, 90), 0,
                                      check_between(&seed, -450, 6000)};
        struct sun_day sun;
        struct et0_day_out out;
        double low = check_between(&seed, -60, 60);
        double mm = NAN;
        struct et0_day_in in = {
            .day_of_year = 1 + (int)check_between(&seed, 0, 366),
            .temperature_max_c = check_between(&seed, low, 60),
            .temperature_min_c = low,
            .vapour_pressure_kpa = check_between(&seed, 0, 20),
            .wind_2m_m_s = check_between(&seed, 0, 110),
            .radiation_mj_m2 = check_between(&seed, 0, 50),
            .soil_heat_mj_m2 = check_between(&seed, -17, 17),
            .clear_sky = (enum sun_clear_sky)check_between(&seed, 0, 3),
            .cover = {check_between(&seed, 0.05, 1), check_random(&seed),
                      check_random(&seed) < 0.5},
        };
        assert_int_equal(et0_of_day(&site, &in, &out), STATUS_OK);
        assert_true(isfinite(out.et0_mm) && isfinite(out.net_longwave_mj_m2));
        assert_true(out.ratio_used >= 0 && out.ratio_used <= 1);
        check_near(out.net_shortwave_mj_m2 - out.net_longwave_mj_m2, out.net_radiation_mj_m2, 1e-9,
                   "eq 40");
        assert_int_equal(sun_of_day(&site, in.day_of_year, &sun), STATUS_OK);
        assert_int_equal(
            et0_from_temperature(sun.extraterrestrial_mj_m2, low, in.temperature_max_c, low, &mm),
            STATUS_OK);
        assert_true(isfinite(mm));
    }
}

static void of_day_at_the_poles_has_an_answer(void **state)
{
    (void)state;
    struct et0_day_in in = summer_day();
    struct et0_day_out out;
    in.temperature_max_c = -20;
    in.temperature_min_c = -30;
    in.vapour_pressure_kpa = air_actual_day_from_lowest_kpa(-30);
    for (double latitude = -90; latitude <= 90; latitude += 180) {
        const struct sun_site site = {latitude, 0, 0};
        for (int j = 1; j <= 366; j++) {
            struct sun_day sun;
            assert_int_equal(sun_of_day(&site, j, &sun), STATUS_OK);
            in.day_of_year = j;
            in.radiation_mj_m2 = 0.7 * sun.extraterrestrial_mj_m2;
            assert_int_equal(et0_of_day(&site, &in, &out), STATUS_OK);
            assert_true(isfinite(out.et0_mm));
            assert_int_equal(out.no_sun, sun.day_length_h == 0);
            if (out.no_sun)
                check_near(out.ratio_used, ET0_RATIO_UNKNOWN, 0, "polar night");
        }
    }
}

/* More light through the cover never dries less: the sky's part does not change with it. */
static void of_hour_grows_with_transmissivity(void **state)
{
    (void)state;
    uint64_t seed = 35;
    print_message("seed %lu\n", (unsigned long)seed);
    for (int i = 0; i < 20000; i++) {
        struct et0_hour_in in = summer_noon();
        in.start_s = utc("2026-01-01T00:00:00Z") + (int64_t)check_between(&seed, 0, 8760) * 3600;
        in.temperature_c = check_between(&seed, -10, 45);
        in.vapour_pressure_kpa = check_between(&seed, 0.1, 4);
        in.wind_2m_m_s = check_between(&seed, 0, 10);
        in.radiation_mj_m2 = check_between(&seed, 0, 4);
        in.clear_ratio = check_random(&seed);
        in.surface = i % 2 ? ET0_ASCE2005 : ET0_FAO56;
        in.cover.transmissivity = check_between(&seed, 0.05, 0.9);
        double less = hour_mm(&in);
        in.cover.transmissivity += check_between(&seed, 0, 0.1);
        assert_true(hour_mm(&in) >= less - 1e-12);
    }
}

/* Under a high sun in air that is not bone dry, more radiation always outweighs the clearer sky
 * it stands for. (With a low sun and dry air eq 39 can win: not a slip, but not for this test.) */
static void of_hour_and_of_day_grow_with_radiation(void **state)
{
    (void)state;
    struct et0_hour_in in = summer_noon();
    struct et0_day_in day = summer_day();
    double last = -INFINITY;
    for (in.radiation_mj_m2 = 0; in.radiation_mj_m2 <= 4; in.radiation_mj_m2 += 0.05) {
        double mm = hour_mm(&in);
        assert_true(mm >= last);
        last = mm;
    }
    last = -INFINITY;
    for (day.radiation_mj_m2 = 0; day.radiation_mj_m2 <= 35; day.radiation_mj_m2 += 0.25) {
        double mm = day_mm(&day);
        assert_true(mm >= last);
        last = mm;
    }
}

/* Damp air, or air said to hold more than it can, dries nothing by itself. */
static void of_hour_above_saturation_counts_no_deficit(void **state)
{
    (void)state;
    struct et0_hour_in in = summer_noon();
    in.start_s = utc("2026-07-01T00:00:00Z");
    in.radiation_mj_m2 = 0;
    in.temperature_c = 10;
    in.vapour_pressure_kpa = 1.3; /* e0(10 C) is 1.228 */
    in.wind_2m_m_s = 0;
    double calm = hour_mm(&in);
    assert_true(calm < 0);
    in.wind_2m_m_s = 8; /* a negative deficit would make this more negative */
    double windy = hour_mm(&in);
    assert_true(windy < 0 && windy > calm);
}

static void of_hour_wind_factor_has_a_floor_only_when_given(void **state)
{
    (void)state;
    struct et0_hour_in in = summer_noon();
    in.wind_2m_m_s = 0.5;
    double at_floor = hour_mm(&in);
    in.wind_2m_m_s = 0.2;
    double below = hour_mm(&in);
    assert_true(below < at_floor); /* outdoors: as measured */
    in.cover.has_wind_factor = true;
    in.cover.wind_factor = 1;
    check_near(hour_mm(&in), at_floor, 1e-15, "0.2 m/s raised to 0.5");
    in.wind_2m_m_s = 5;
    in.cover.wind_factor = 0.1;
    check_near(hour_mm(&in), at_floor, 1e-15, "5 m/s times 0.1");
    in.cover.wind_factor = 0;
    check_near(hour_mm(&in), at_floor, 1e-15, "still house");
}

/* Shade takes shortwave; the sky above is as cloudy as before. */
static void of_day_cover_leaves_longwave_alone(void **state)
{
    (void)state;
    struct et0_day_in in = summer_day();
    struct et0_day_out open;
    struct et0_day_out shaded;
    assert_int_equal(et0_of_day(&NURSERY, &in, &open), STATUS_OK);
    in.cover.transmissivity = 0.5;
    assert_int_equal(et0_of_day(&NURSERY, &in, &shaded), STATUS_OK);
    check_near(shaded.net_longwave_mj_m2, open.net_longwave_mj_m2, 1e-15, "Rnl");
    check_near(shaded.net_shortwave_mj_m2, open.net_shortwave_mj_m2 / 2, 1e-12, "Rns");
    check_near(shaded.radiation_mj_m2, 12, 1e-12, "Rs inside");
    check_near(shaded.ratio_used, open.ratio_used, 0, "Rs/Rso");
    assert_true(shaded.et0_mm < open.et0_mm && shaded.et0_mm > open.et0_mm / 2);
}

/* The ratio of the hour itself counts from 0.3 rad on, the held one below; limits 0.3 to 1. */
static void of_hour_clear_ratio_counts_while_the_sun_is_low(void **state)
{
    (void)state;
    struct et0_hour_in in = summer_noon();
    struct et0_hour_out out;
    in.clear_ratio = 0.9;
    in.radiation_mj_m2 = 1.5;
    int held = 0;
    int own = 0;
    for (int h = 0; h < 24; h++) {
        struct sun_hour sun;
        in.start_s = utc("2026-07-01T00:00:00Z") + h * CIVIL_HOUR_S;
        assert_int_equal(sun_of_hour(&NURSERY, in.start_s, &sun), STATUS_OK);
        assert_int_equal(et0_of_hour(&NURSERY, &in, &out), STATUS_OK);
        if (sun.elevation_rad < 0.3) {
            check_near(out.ratio_used, 0.9, 0, "held");
            held++;
        } else {
            check_near(out.ratio_used, fmin(1, 1.5 / sun.clear_sky_mj_m2), 1e-15, "own");
            own++;
        }
    }
    assert_true(held > 8 && own > 8);
    in.start_s = utc("2026-07-01T00:00:00Z");
    in.clear_ratio = 0;
    assert_int_equal(et0_of_hour(&NURSERY, &in, &out), STATUS_OK);
    check_near(out.ratio_used, 0.3, 0, "lower limit");
}

/* With everything else equal, 50 and 200 s/m against 70: more by day, less by night. */
static void of_hour_surfaces_differ_the_right_way(void **state)
{
    (void)state;
    struct et0_hour_in in = summer_noon();
    double asce_day = hour_mm(&in);
    in.surface = ET0_FAO56;
    assert_true(asce_day > hour_mm(&in));
    in.start_s = utc("2026-07-01T00:00:00Z");
    in.radiation_mj_m2 = 0;
    double fao_night = hour_mm(&in);
    in.surface = ET0_ASCE2005;
    assert_true(hour_mm(&in) < fao_night && fao_night > 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(published_hour_fao56_example_19),
        cmocka_unit_test(published_hour_asce2005_greeley),
        cmocka_unit_test(published_hour_refet_fallon),
        cmocka_unit_test(published_day_fao56_examples_11_and_12),
        cmocka_unit_test(published_day_fao56_example_17),
        cmocka_unit_test(published_day_fao56_example_18),
        cmocka_unit_test(published_longwave_fao56_table_2_8),
        cmocka_unit_test(published_day_asce2005_greeley),
        cmocka_unit_test(published_day_refet_fallon),
        cmocka_unit_test(published_day_refet_fallon_inside),
        cmocka_unit_test(published_day_eto_library_rows),
        cmocka_unit_test(published_day_penmon_temperatures_only),
        cmocka_unit_test(published_day_penmon_all_inputs),
        cmocka_unit_test(published_month_fao56_cabinda),
        cmocka_unit_test(published_from_temperature_pyeto),
        cmocka_unit_test(of_hour_bad_inputs_are_refused),
        cmocka_unit_test(of_day_bad_inputs_are_refused),
        cmocka_unit_test(from_temperature_bad_inputs_are_refused),
        cmocka_unit_test(soil_heat_is_a_difference),
        cmocka_unit_test(of_hour_in_range_always_answers),
        cmocka_unit_test(of_day_in_range_always_answers),
        cmocka_unit_test(of_day_at_the_poles_has_an_answer),
        cmocka_unit_test(of_hour_grows_with_transmissivity),
        cmocka_unit_test(of_hour_and_of_day_grow_with_radiation),
        cmocka_unit_test(of_hour_above_saturation_counts_no_deficit),
        cmocka_unit_test(of_hour_wind_factor_has_a_floor_only_when_given),
        cmocka_unit_test(of_day_cover_leaves_longwave_alone),
        cmocka_unit_test(of_hour_clear_ratio_counts_while_the_sun_is_low),
        cmocka_unit_test(of_hour_surfaces_differ_the_right_way),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
