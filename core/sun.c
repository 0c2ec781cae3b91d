/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "sun.h"

#include <math.h>

#include "air.h"

#define PI 3.14159265358979323846

/* Solar constant, MJ/m2/min (FAO-56 eq 21). */
static const double SOLAR_CONSTANT = 0.0820;
static const double MINUTES_A_DAY = 24 * 60;

/* Times whose mean solar date has a civil date: the years 1..9999 UTC. */
static const int64_t FIRST_S = -62135596800;
static const int64_t LAST_S = 253402300799;

static bool site_ok(const struct sun_site *site)
{
    return status_within(site->latitude_deg, -90, 90) &&
           status_within(site->longitude_deg, -180, 180) &&
           status_within(site->elevation_m, -450, 6000);
}

static double radians(double deg)
{
    return deg * (PI / 180);
}

static double clamp(double x, double low, double high)
{
    return x < low ? low : x > high ? high : x;
}

/* Eq 23. */
static double inverse_distance(int day_of_year)
{
    return 1 + 0.033 * cos(2 * PI * day_of_year / 365);
}

/* Eq 24: within 1 degree of an almanac, worst in autumn. */
static double declination(int day_of_year)
{
    return 0.409 * sin(2 * PI * day_of_year / 365 - 1.39);
}

/* Eq 25; the clamp gives 0 in polar night and pi in polar day. */
static double sunset_angle(double latitude_rad, double declination_rad)
{
    return acos(clamp(-tan(latitude_rad) * tan(declination_rad), -1, 1));
}

/* Seasonal correction of solar time, hours (eqs 32, 33). */
static double seasonal_correction_h(int day_of_year)
{
    double b = 2 * PI * (day_of_year - 81) / 364;
    return 0.1645 * sin(2 * b) - 0.1255 * cos(b) - 0.025 * sin(b);
}

/* Eq 37. */
static double clear_share(double elevation_m)
{
    return 0.75 + 2e-5 * elevation_m;
}

/* What eqs 21 and 28 share: the sun of a day seen from a latitude. */
struct arc {
    double sin_sin; /* sin(latitude) sin(declination) */
    double cos_cos;
    double sunset_rad;
    double per_rad; /* MJ/m2 for each radian of hour angle, sun overhead */
};

static struct arc arc_of(double latitude_rad, int day_of_year)
{
    double dec = declination(day_of_year);
    struct arc arc = {
        .sin_sin = sin(latitude_rad) * sin(dec),
        .cos_cos = cos(latitude_rad) * cos(dec),
        .sunset_rad = sunset_angle(latitude_rad, dec),
        .per_rad = MINUTES_A_DAY / (2 * PI) * SOLAR_CONSTANT * inverse_distance(day_of_year),
    };
    return arc;
}

/* Extraterrestrial radiation between two hour angles while the sun is up around solar noon. */
static double arc_radiation(const struct arc *arc, double from_rad, double until_rad)
{
    double from = fmax(from_rad, -arc->sunset_rad);
    double until = fmin(until_rad, arc->sunset_rad);
    if (!(until > from))
        return 0;
    double sum = (until - from) * arc->sin_sin + arc->cos_cos * (sin(until) - sin(from));
    return fmax(0, arc->per_rad * sum); /* rounding at a sun on the horizon */
}

enum status sun_of_day(const struct sun_site *site, int day_of_year, struct sun_day *out)
{
    if (!site_ok(site) || day_of_year < 1 || day_of_year > 366)
        return STATUS_RANGE;
    struct arc arc = arc_of(radians(site->latitude_deg), day_of_year);
    out->extraterrestrial_mj_m2 = arc_radiation(&arc, -PI, PI);
    out->clear_sky_mj_m2 = clear_share(site->elevation_m) * out->extraterrestrial_mj_m2;
    out->day_length_h = 24 / PI * arc.sunset_rad;
    out->declination_rad = declination(day_of_year);
    out->sunset_angle_rad = arc.sunset_rad;
    return STATUS_OK;
}

/* Mean solar time as seconds since 1970 on its own clock: 4 minutes a degree. */
static double mean_solar_s(const struct sun_site *site, double t_s)
{
    return t_s + site->longitude_deg * 240;
}

static double wrap_angle(double angle_rad)
{
    return angle_rad - 2 * PI * floor((angle_rad + PI) / (2 * PI));
}

enum status sun_of_hour(const struct sun_site *site, int64_t start_s, struct sun_hour *out)
{
    if (!site_ok(site) || start_s < FIRST_S || start_s > LAST_S)
        return STATUS_RANGE;
    double solar_s = mean_solar_s(site, (double)start_s + CIVIL_HOUR_S / 2.0);
    double days = floor(solar_s / CIVIL_DAY_S);
    int day_of_year = civil_day_of_year(civil_from_days((int64_t)days));
    double solar_h = (solar_s - days * CIVIL_DAY_S) / CIVIL_HOUR_S;

    struct arc arc = arc_of(radians(site->latitude_deg), day_of_year);
    double angle = wrap_angle(PI / 12 * (solar_h + seasonal_correction_h(day_of_year) - 12));
    double from = angle - PI / 24;
    double until = angle + PI / 24;
    /* The hour around solar midnight can hold the end of one light period and the start of the
     * next where the sun hardly sets: each is looked for one turn away. */
    double ra = arc_radiation(&arc, from, until) +
                arc_radiation(&arc, from - 2 * PI, until - 2 * PI) +
                arc_radiation(&arc, from + 2 * PI, until + 2 * PI);
    out->extraterrestrial_mj_m2 = ra;
    out->clear_sky_mj_m2 = clear_share(site->elevation_m) * ra;
    out->elevation_rad = asin(clamp(arc.sin_sin + arc.cos_cos * cos(angle), -1, 1));
    out->hour_angle_rad = angle;
    out->sunset_angle_rad = arc.sunset_rad;
    out->day_of_year = day_of_year;
    return STATUS_OK;
}

enum status sun_rise_and_set(const struct sun_site *site, struct civil_date date, int64_t *rise_s,
                             int64_t *set_s, int *up)
{
    if (!site_ok(site) || !civil_date_valid(date))
        return STATUS_RANGE;
    int day_of_year = civil_day_of_year(date);
    double sunset = sunset_angle(radians(site->latitude_deg), declination(day_of_year));
    double noon_s = (double)civil_days(date) * CIVIL_DAY_S - site->longitude_deg * 240 +
                    (12 - seasonal_correction_h(day_of_year)) * CIVIL_HOUR_S;
    double half_s = sunset * (12 / PI) * CIVIL_HOUR_S;
    *rise_s = llround(noon_s - half_s);
    *set_s = llround(noon_s + half_s);
    *up = sunset <= 0 ? 0 : sunset >= PI ? 2 : 1;
    return STATUS_OK;
}

enum status sun_radiation_from_sunshine(const struct sun_day *day, double sunshine_h,
                                        double *radiation_mj_m2)
{
    if (!status_within(sunshine_h, 0, 24))
        return STATUS_RANGE;
    double share = day->day_length_h > 0 ? fmin(1, sunshine_h / day->day_length_h) : 0;
    *radiation_mj_m2 = (0.25 + 0.50 * share) * day->extraterrestrial_mj_m2;
    return STATUS_OK;
}

enum status sun_radiation_from_range(const struct sun_day *day, double temperature_range_c,
                                     double coefficient, double *radiation_mj_m2)
{
    if (!status_within(temperature_range_c, 0, 120) || !status_within(coefficient, 0.05, 0.5))
        return STATUS_RANGE;
    double estimate = coefficient * sqrt(temperature_range_c) * day->extraterrestrial_mj_m2;
    *radiation_mj_m2 = fmin(estimate, day->clear_sky_mj_m2);
    return STATUS_OK;
}

double sun_clear_ratio_from_cloud(double cloud_pct)
{
    return status_within(cloud_pct, 0, 100) ? 0.35 + 0.65 * (1 - cloud_pct / 100) : NAN;
}

/* Sine of the day's mean sun height weighted by radiation (Annex 3 eq 3-16). */
static double mean_sun_sine(double latitude_rad, int day_of_year)
{
    double angle = 0.85 + 0.3 * latitude_rad * sin(2 * PI * day_of_year / 365 - 1.39) -
                   0.42 * latitude_rad * latitude_rad;
    return fmax(0, sin(angle));
}

/* Beam and diffuse share of the extraterrestrial radiation in clean air (K_t = 1). */
static double clear_share_full(double sun_sine, double pressure_kpa, double vapour_pressure_kpa,
                               bool asce)
{
    if (!(sun_sine > 0))
        return 0;
    double water_mm = 0.14 * vapour_pressure_kpa * pressure_kpa + 2.1;
    double by_water =
        asce ? 0.075 * pow(water_mm / sun_sine, 0.4) : 0.091 * pow(water_mm / sun_sine, 0.25);
    double beam = 0.98 * exp(-0.00146 * pressure_kpa / sun_sine - by_water);
    double diffuse = beam >= 0.15 ? 0.35 - (asce ? 0.36 : 0.33) * beam : 0.18 + 0.82 * beam;
    return beam + diffuse;
}

enum status sun_clear_sky_of_day(const struct sun_site *site, int day_of_year,
                                 double vapour_pressure_kpa, enum sun_clear_sky form,
                                 double *clear_sky_mj_m2)
{
    struct sun_day day;
    enum status status = sun_of_day(site, day_of_year, &day);
    if (status != STATUS_OK)
        return status;
    if (!status_within(vapour_pressure_kpa, 0, 20))
        return STATUS_RANGE;
    if (form == SUN_CLEAR_SIMPLE) {
        *clear_sky_mj_m2 = day.clear_sky_mj_m2;
        return STATUS_OK;
    }
    double sine = mean_sun_sine(radians(site->latitude_deg), day_of_year);
    double share = clear_share_full(sine, air_pressure_kpa(site->elevation_m), vapour_pressure_kpa,
                                    form == SUN_CLEAR_ASCE);
    *clear_sky_mj_m2 = share * day.extraterrestrial_mj_m2;
    return STATUS_OK;
}
