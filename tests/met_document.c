/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "met_document.h"

#include <math.h>
#include <stdio.h>

#include "core/civil.h"

#define PI 3.14159265358979323846

enum { BOTH_BLOCKS = 50, LEAST_BARE = 5, TAIL = 27 };

struct met_document met_document_new(const struct sun_site *site, int64_t issued_s, int64_t first_s)
{
    struct met_document document = {
        .site = *site,
        .issued_s = issued_s,
        .first_s = first_s,
        .mean_c = 20,
        .range_c = 10,
        .dewpoint_c = 9,
        .wind_m_s = 3,
        .cloud_pct = 50,
    };
    return document;
}

double met_document_temperature_c(const struct met_document *document, int64_t at_s)
{
    double solar_h = (double)at_s / 3600 + document->site.longitude_deg / 15;
    return document->mean_c + document->range_c / 2 * cos(2 * PI * (solar_h - 15) / 24);
}

double met_document_rain_mm(const struct met_document *document, int64_t start_s, int hours)
{
    int wet = 0;
    for (int i = 0; i < hours; i++) {
        int64_t at_s = start_s + i * (int64_t)CIVIL_HOUR_S;
        wet += at_s >= document->rain_from_s && at_s < document->rain_to_s;
    }
    return wet * document->rain_mm_h;
}

/* The tail begins at 0, 6, 12 or 18 h UTC, as the service has it. */
int met_document_hourly(const struct met_document *document)
{
    int hourly = BOTH_BLOCKS + LEAST_BARE;
    while ((document->first_s / CIVIL_HOUR_S + hourly) % 6 != 0)
        hourly++;
    return hourly;
}

int met_document_entries(const struct met_document *document)
{
    return met_document_hourly(document) + TAIL;
}

int met_document_hours(const struct met_document *document)
{
    return met_document_hourly(document) + (TAIL - 1) * 6;
}

static const char UNITS[] =
    "{\"air_pressure_at_sea_level\":\"hPa\",\"air_temperature\":\"celsius\","
    "\"air_temperature_max\":\"celsius\",\"air_temperature_min\":\"celsius\","
    "\"air_temperature_percentile_10\":\"celsius\",\"air_temperature_percentile_90\":\"celsius\","
    "\"cloud_area_fraction\":\"%\",\"cloud_area_fraction_high\":\"%\","
    "\"cloud_area_fraction_low\":\"%\",\"cloud_area_fraction_medium\":\"%\","
    "\"dew_point_temperature\":\"celsius\",\"fog_area_fraction\":\"%\","
    "\"precipitation_amount\":\"mm\",\"precipitation_amount_max\":\"mm\","
    "\"precipitation_amount_min\":\"mm\",\"probability_of_precipitation\":\"%\","
    "\"relative_humidity\":\"%\",\"ultraviolet_index_clear_sky\":\"1\","
    "\"wind_from_direction\":\"degrees\",\"wind_speed\":\"m/s\","
    "\"wind_speed_of_gust\":\"m/s\"}";

static double humidity_pct(double temperature_c, double dewpoint_c)
{
    return 100 * exp(17.27 * dewpoint_c / (dewpoint_c + 237.3) -
                     17.27 * temperature_c / (temperature_c + 237.3));
}

static void write_instant(FILE *f, const struct met_document *d, int64_t at_s)
{
    double temperature_c = met_document_temperature_c(d, at_s);
    fprintf(f,
            "\"instant\":{\"details\":{\"air_pressure_at_sea_level\":1016.3,"
            "\"air_temperature\":%.1f,\"air_temperature_percentile_10\":%.1f,"
            "\"air_temperature_percentile_90\":%.1f,\"cloud_area_fraction\":%.1f,"
            "\"dew_point_temperature\":%.1f,\"fog_area_fraction\":0.0,\"relative_humidity\":%.1f,"
            "\"ultraviolet_index_clear_sky\":1.2,\"wind_from_direction\":231.6,"
            "\"wind_speed\":%.1f,\"wind_speed_of_gust\":%.1f}}",
            temperature_c, temperature_c - 1, temperature_c + 1, d->cloud_pct, d->dewpoint_c,
            humidity_pct(temperature_c, d->dewpoint_c), d->wind_m_s, 2 * d->wind_m_s);
}

static void write_hour_block(FILE *f, const struct met_document *d, int64_t at_s)
{
    double rain_mm = met_document_rain_mm(d, at_s, 1);
    fprintf(f,
            ",\"next_1_hours\":{\"summary\":{\"symbol_code\":\"%s\"},\"details\":{"
            "\"precipitation_amount\":%.1f,\"precipitation_amount_max\":%.1f,"
            "\"precipitation_amount_min\":0.0}}",
            rain_mm > 0 ? "rain" : "cloudy", rain_mm, 2 * rain_mm);
}

static void write_six_hour_block(FILE *f, const struct met_document *d, int64_t at_s)
{
    double lowest_c = met_document_temperature_c(d, at_s);
    double highest_c = lowest_c;
    for (int i = 1; i <= 6; i++) {
        double c = met_document_temperature_c(d, at_s + i * (int64_t)CIVIL_HOUR_S);
        lowest_c = fmin(lowest_c, c);
        highest_c = fmax(highest_c, c);
    }
    double rain_mm = met_document_rain_mm(d, at_s, 6);
    fprintf(f,
            ",\"next_6_hours\":{\"summary\":{\"symbol_code\":\"%s\"},\"details\":{"
            "\"air_temperature_max\":%.1f,\"air_temperature_min\":%.1f,"
            "\"precipitation_amount\":%.1f,\"probability_of_precipitation\":%.1f}}",
            rain_mm > 0 ? "rain" : "cloudy", highest_c, lowest_c, rain_mm, d->rain_probability);
}

static void write_entry(FILE *f, const struct met_document *d, int index)
{
    int hourly = met_document_hourly(d);
    int last = met_document_entries(d) - 1;
    int64_t hours = index <= hourly ? index : hourly + (index - hourly) * 6;
    int64_t at_s = d->first_s + hours * CIVIL_HOUR_S;
    char time[CIVIL_TEXT];
    civil_format_rfc3339(at_s, 0, time);
    fprintf(f, "%s{\"time\":\"%s\",\"data\":{", index > 0 ? "," : "", time);
    write_instant(f, d, at_s);
    if (index < BOTH_BLOCKS || (index >= hourly && index < last - 1))
        fputs(",\"next_12_hours\":{\"summary\":{\"symbol_code\":\"cloudy\","
              "\"symbol_confidence\":\"certain\"},\"details\":{}}",
              f);
    if (index < hourly)
        write_hour_block(f, d, at_s);
    if (index < BOTH_BLOCKS || (index >= hourly && index < last))
        write_six_hour_block(f, d, at_s);
    fputs("}}", f);
}

char *met_document_write(const struct met_document *document, size_t *length)
{
    char *text = NULL;
    char issued[CIVIL_TEXT];
    FILE *f = open_memstream(&text, length);
    if (!f)
        return NULL;
    civil_format_rfc3339(document->issued_s, 0, issued);
    fprintf(
        f,
        "{\"type\":\"Feature\",\"geometry\":{\"type\":\"Point\",\"coordinates\":[%.4f,%.4f,%.0f]},"
        "\"properties\":{\"meta\":{\"updated_at\":\"%s\",\"units\":%s},\"timeseries\":[",
        document->site.longitude_deg, document->site.latitude_deg, document->site.elevation_m,
        issued, UNITS);
    for (int i = 0; i < met_document_entries(document); i++)
        write_entry(f, document, i);
    fputs("]}}\n", f);
    fclose(f);
    return text;
}
