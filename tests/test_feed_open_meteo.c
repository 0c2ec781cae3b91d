/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The adapter against documents written for the purpose (all values invented; field names, unit
 * texts and alignment as the service documents them). */
#include "check.h"

#include <math.h>
#include <stdbool.h>
#include <stdio.h>

#include "core/civil.h"
#include "daemon/feed_open_meteo.h"
#include "variant.h"

static const int64_t SIX_O_CLOCK = 1935640800; /* 2031-05-04T06:00:00Z */
static const struct sun_site SITE = {41.5678, -3.1234, 212};

/* Three stamps, 6 to 8 o'clock, the last one a failed model run's tail. */
static const char SMALL[] =
    "{\"latitude\":41.5,\"longitude\":-3.125,\"generationtime_ms\":0.31,\"utc_offset_seconds\":0,"
    "\"timezone\":\"GMT\",\"timezone_abbreviation\":\"GMT\",\"elevation\":209.0,"
    "\"hourly_units\":{\"time\":\"unixtime\",\"temperature_2m\":\"\u00b0C\","
    "\"relative_humidity_2m\":\"%\",\"dew_point_2m\":\"\u00b0C\",\"wind_speed_10m\":\"m/s\","
    "\"cloud_cover\":\"%\",\"shortwave_radiation\":\"W/m\u00b2\",\"precipitation\":\"mm\","
    "\"precipitation_probability\":\"%\",\"et0_fao_evapotranspiration\":\"mm\"},"
    "\"hourly\":{\"time\":[1935640800,1935644400,1935648000],\"temperature_2m\":[11.2,12.5,null],"
    "\"relative_humidity_2m\":[80,74,null],\"dew_point_2m\":[7.8,8.0,null],"
    "\"wind_speed_10m\":[1.6,2.1,null],\"cloud_cover\":[20,55,null],"
    "\"shortwave_radiation\":[96.0,231.0,null],\"precipitation\":[0.0,0.6,null],"
    "\"precipitation_probability\":[5,48,null],\"et0_fao_evapotranspiration\":[0.05,0.14,null]}}";

static int read_doc(const char *bytes, size_t length, struct feed_hours *out, struct error *error)
{
    return feed_open_meteo_read(bytes, length, &SITE, SIX_O_CLOCK + 600, out, error);
}

static struct feed_hours read_ok(const char *text)
{
    struct feed_hours got;
    struct error error = {""};
    if (read_doc(text, strlen(text), &got, &error) != 0)
        fail_msg("refused: %s", error.text);
    return got;
}

static void feed_open_meteo_read_small_document_puts_periods_into_the_hour_before(void **state)
{
    (void)state;
    struct feed_hours got = read_ok(SMALL);
    const struct weather_raw *h = got.hours;
    assert_int_equal(got.hour_count, 2); /* 5 and 6 o'clock; of 7 nothing is known */
    assert_true(h[0].start_s == SIX_O_CLOCK - 3600 && h[1].start_s == SIX_O_CLOCK);
    check_near(h[0].radiation_w_m2, 96, 0, "05: radiation stamped 06");
    check_near(h[0].rain_mm, 0, 0, "05: rain stamped 06");
    check_near(h[0].rain_probability, 0.05, 1e-12, "05: chance stamped 06");
    assert_true(isnan(h[0].temperature_c)); /* its left end is not in the document */
    check_near(h[1].radiation_w_m2, 231, 0, "06: radiation stamped 07");
    check_near(h[1].rain_mm, 0.6, 0, "06: rain stamped 07");
    check_near(h[1].rain_probability, 0.48, 1e-12, "06: chance stamped 07");
    check_near(h[1].temperature_c, (11.2 + 12.5) / 2, 1e-12, "06: temperature of 06 and 07");
    check_near(h[1].humidity_pct, 77, 1e-12, "06: humidity");
    check_near(h[1].dewpoint_c, 7.9, 1e-12, "06: dew point");
    check_near(h[1].wind_10m_m_s, 1.85, 1e-12, "06: wind");
    check_near(h[1].cloud_pct, 37.5, 1e-12, "06: cloud");
    assert_true(got.issued_s == SIX_O_CLOCK + 600 && h[1].issued_s == got.issued_s);
    assert_int_equal(h[1].kind, WEATHER_FORECAST);
    assert_int_equal(got.dropped_values + got.dropped_entries + got.duplicates, 0);
    feed_hours_free(&got);
}

/* Hourly stamps from first_s; temperature 15 + hour of the day / 10, rain 0.04 mm an hour. */
static char *long_document(int64_t first_s, int count, int hole, int hole_length)
{
    static const char *const NAMES[] = {"temperature_2m", "precipitation", "shortwave_radiation"};
    char *text = NULL;
    size_t length = 0;
    FILE *f = open_memstream(&text, &length);
    fputs("{\"latitude\":41.5,\"longitude\":-3.125,\"utc_offset_seconds\":0,\"hourly_units\":{"
          "\"time\":\"unixtime\",\"temperature_2m\":\"\u00b0C\",\"precipitation\":\"mm\","
          "\"shortwave_radiation\":\"W/m\u00b2\"},\"hourly\":{\"time\":[",
          f);
    for (int i = 0; i < count; i++)
        fprintf(f, "%s%lld", i ? "," : "", (long long)(first_s + i * 3600));
    for (int v = 0; v < 3; v++) {
        fprintf(f, "],\"%s\":[", NAMES[v]);
        for (int i = 0; i < count; i++) {
            double hour = (double)((first_s / 3600 + i) % 24);
            double value = v == 0 ? 15 + hour / 10 : v == 1 ? 0.04 : 100 + hour;
            if (i >= hole && i < hole + hole_length)
                fprintf(f, "%snull", i ? "," : "");
            else
                fprintf(f, "%s%g", i ? "," : "", value);
        }
    }
    fputs("]}}", f);
    fclose(f);
    return text;
}

static void feed_open_meteo_read_full_document_gives_settled_past_and_forecast(void **state)
{
    (void)state;
    int64_t midnight_s = civil_floor_day(SIX_O_CLOCK) - 2 * 86400;
    char *text = long_document(midnight_s, 14 * 24, 0, 0);
    struct feed_hours got = read_ok(text);
    size_t analysis = 0;
    assert_int_equal(got.hour_count, 14 * 24);
    for (size_t i = 0; i < got.hour_count; i++) {
        const struct weather_raw *h = &got.hours[i];
        assert_true(h->start_s == midnight_s + ((int64_t)i - 1) * 3600);
        bool settled = h->start_s + 3600 <= SIX_O_CLOCK + 600 - 12 * 3600;
        assert_int_equal(h->kind, settled ? WEATHER_ANALYSIS : WEATHER_FORECAST);
        analysis += settled;
    }
    assert_int_equal(analysis, 1 + 48 + 6 - 12);
    check_near(variant_sum(&got, FEED_RAIN), 14 * 24 * 0.04, 1e-6, "drizzle adds up");
    feed_hours_free(&got);
    free(text);
}

static void feed_open_meteo_read_gaps_of_three_hours_are_bridged_but_not_for_rain(void **state)
{
    (void)state;
    static const struct {
        int length;        /* of the hole in all columns */
        int states, rains; /* hours with temperature, with rain, of 24 stamps */
    } rows[] = {{0, 23, 24}, {1, 23, 23}, {2, 23, 22}, {3, 19, 21}, {5, 17, 19}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        char *text = long_document(SIX_O_CLOCK, 24, 8, rows[i].length);
        struct feed_hours got = read_ok(text);
        int states = 0;
        int rains = 0;
        for (size_t h = 0; h < got.hour_count; h++) {
            states += !isnan(got.hours[h].temperature_c);
            rains += !isnan(got.hours[h].rain_mm);
            assert_true(isnan(got.hours[h].rain_mm) == isnan(got.hours[h].radiation_w_m2));
        }
        assert_int_equal(states, rows[i].states);
        assert_int_equal(rains, rows[i].rains);
        feed_hours_free(&got);
        free(text);
    }
}

/* The sun's own hour: with radiation stamped at the end of each hour, a symmetric day is symmetric
 * about noon only in the slots, an hour before the stamps. */
static void feed_open_meteo_read_radiation_is_not_an_hour_late(void **state)
{
    (void)state;
    char *text = NULL;
    size_t length = 0;
    FILE *f = open_memstream(&text, &length);
    const struct sun_site greenwich = {0, 0, 0};
    fputs("{\"latitude\":0,\"longitude\":0,\"hourly_units\":{\"time\":\"unixtime\","
          "\"temperature_2m\":\"\u00b0C\",\"shortwave_radiation\":\"W/"
          "m\u00b2\"},\"hourly\":{\"time\":[",
          f);
    int64_t midnight_s = civil_floor_day(SIX_O_CLOCK);
    for (int i = 1; i <= 24; i++)
        fprintf(f, "%s%lld", i > 1 ? "," : "", (long long)(midnight_s + i * 3600));
    fputs("],\"temperature_2m\":[", f);
    for (int i = 1; i <= 24; i++)
        fprintf(f, "%s20", i > 1 ? "," : "");
    fputs("],\"shortwave_radiation\":[", f);
    for (int i = 1; i <= 24; i++) { /* mean of the hour before, of what reaches the air's top */
        struct sun_hour hour;
        assert_int_equal(sun_of_hour(&greenwich, midnight_s + (i - 1) * 3600, &hour), STATUS_OK);
        fprintf(f, "%s%.1f", i > 1 ? "," : "", hour.clear_sky_mj_m2 * 1e6 / 3600);
    }
    fputs("]}}", f);
    fclose(f);
    struct feed_hours got;
    struct error error = {""};
    if (feed_open_meteo_read(text, length, &greenwich, midnight_s, &got, &error) != 0)
        fail_msg("%s", error.text);
    for (size_t i = 0; i < got.hour_count; i++) {
        struct sun_hour hour;
        if (isnan(got.hours[i].radiation_w_m2))
            continue;
        assert_int_equal(sun_of_hour(&greenwich, got.hours[i].start_s, &hour), STATUS_OK);
        check_near(got.hours[i].radiation_w_m2, hour.clear_sky_mj_m2 * 1e6 / 3600, 0.06,
                   "clear sky of the same hour");
    }
    feed_hours_free(&got);
    free(text);
}

/* Temperature of the small document: one known hour, 11.85; rain 0.6. */
#define T_OK  11.85
#define TIMES "[1935640800,1935644400,1935648000]"
#define TEMPS "[11.2,12.5,null]"
#define RAINS "[0.0,0.6,null]"
#define DEG   "\"temperature_2m\":\"\u00b0C\""
#define R     VARIANT_REFUSED
#define D     VARIANT_DROPPED
#define A     VARIANT_TAKEN

static void feed_open_meteo_read_variants(void **state)
{
    (void)state;
    static const struct variant rows[] = {
        /* structure */
        {"empty body", NULL, "", R, "empty", 0, 0},
        {"null", NULL, "null", R, "not JSON", 0, 0},
        {"empty list", NULL, "[]", R, "no 'hourly'", 0, 0},
        {"a text", NULL, "\"x\"", R, "not JSON", 0, 0},
        {"a number", NULL, "42", R, "not JSON", 0, 0},
        {"a web page", NULL, "<html>nginx</html>", R, "not JSON", 0, 0},
        {"an error with 200", NULL, "{\"error\":true,\"reason\":\"out of \u00e9\"}", R,
         "no 'hourly' with 'hourly_units': out of ??", 0, 0},
        {"hourly missing", "\"hourly\":", "\"daily\":", R, "no 'hourly'", 0, 0},
        {"hourly a list", "\"hourly\":{", "\"hourly\":[],\"x\":{", R, "no 'hourly'", 0, 0},
        {"hourly_units missing", "\"hourly_units\"", "\"units\"", R, "no 'hourly'", 0, 0},
        {"time missing", "\"time\":[", "\"times\":[", R, "no hourly.time", 0, 0},
        {"time empty", TIMES, "[]", R, "no hourly.time", 0, 0},
        {"text behind", "0.14,null]}}", "0.14,null]}}Unexpected error while streaming", R,
         "not JSON", 0, 0},
        {"half a document and text", "\"precipitation\":[0.0,",
         "\"precipitation\":[0.0,Unexpected error while streaming data: timeoutReached", R,
         "not JSON", 0, 0},
        {"byte order mark", "{\"latitude\"", "\xef\xbb\xbf{\"latitude\"", R, "not JSON", 0, 0},
        {"invalid UTF-8", "GMT", "\xff\xfe", R, "not JSON", 0, 0},
        {"lone surrogate", "GMT", "\\ud800", R, "not JSON", 0, 0},
        {"a key twice", "\"elevation\"", "\"latitude\"", R, "not JSON", 0, 0},
        {"a list of one place", NULL, NULL, A, NULL, T_OK, 0.6}, /* filled in below */
        {"a list of two places", NULL, NULL, R, "no 'hourly'", 0, 0},
        {"columns of unequal length", TEMPS, "[11.2,12.5]", R, "2 values for 3 times", 0, 0},
        {"a column too long", RAINS, "[0.0,0.6,null,1]", R, "4 values for 3 times", 0, 0},
        {"a column no list", RAINS, "0.6", R, "0 values", 0, 0},
        {"a column missing", "\"cloud_cover\":[20,55,null],", "", A, NULL, T_OK, 0.6},
        {"a column null", RAINS, "null", A, NULL, T_OK, 0},
        {"all null", TEMPS, "[null,null,null]", R, "no hour a temperature", 0, 0},
        {"rain all null", RAINS, "[null,null,null]", A, NULL, T_OK, 0},
        {"null in the middle", TEMPS, "[11.2,null,12.4]", A, NULL, 11.5 + 12.1, 0.6},
        {"no elevation", ",\"elevation\":209.0", "", A, NULL, T_OK, 0.6},
        /* numbers */
        {"text for a number", "[11.2,12.5,", "[11.2,\"12.5\",", R, "no hour a temperature", 0, 0},
        {"text for rain", "[0.0,0.6,", "[0.0,\"0.6\",", D, "1 values dropped", T_OK, 0},
        {"true for a number", "[80,74,", "[80,true,", D, "1 values dropped", T_OK, 0.6},
        {"bare NaN", "12.5", "NaN", R, "not JSON", 0, 0},
        {"bare -Infinity", "12.5", "-Infinity", R, "not JSON", 0, 0},
        {"beyond a double", "12.5", "1e999", R, "not JSON", 0, 0},
        {"hexadecimal", "12.5", "0xC", R, "not JSON", 0, 0},
        {"fill -999", "[0.0,0.6,", "[0.0,-999,", D, "1 values", T_OK, 0},
        {"fill 9999", "[0.0,0.6,", "[0.0,9999,", D, "1 values", T_OK, 0},
        {"fill 32767", "231.0", "32767", D, "1 values", T_OK, 0.6},
        {"2000 degrees", "12.5,null", "12.5,2000", D, "1 values", T_OK, 0.6},
        {"-150 degrees", "12.5,null", "12.5,-150", D, "1 values", T_OK, 0.6},
        {"wind -3", "[1.6,2.1,", "[1.6,-3,", D, "1 values", T_OK, 0.6},
        {"humidity 250", "[80,74,", "[80,250,", D, "1 values", T_OK, 0.6},
        {"radiation 4000", "231.0", "4000", D, "1 values", T_OK, 0.6},
        {"rain -1", "[0.0,0.6,", "[0.0,-1,", D, "1 values", T_OK, 0},
        {"rain 900", "[0.0,0.6,", "[0.0,900,", D, "1 values", T_OK, 0},
        {"negative zero of rain", "[0.0,0.6,", "[-0.0,0.6,", A, NULL, T_OK, 0.6},
        {"humidity 101", "[80,74,", "[80,101,", A, NULL, T_OK, 0.6},
        {"radiation -3", "96.0", "-3.0", A, NULL, T_OK, 0.6},
        {"dew point 5 above", "[7.8,8.0,", "[7.8,17.5,", D, "1 values", T_OK, 0.6},
        {"dew point 0.3 above", "[7.8,8.0,", "[7.8,12.8,", A, NULL, T_OK, 0.6},
        {"cloud 130", "[20,55,", "[20,130,", D, "1 values", T_OK, 0.6},
        /* units: the one that comes back counts */
        {"Fahrenheit", DEG, "\"temperature_2m\":\"\u00b0F\"", D,
         "2 values", /* the dew points, in Celsius, are above it */
         ((11.2 - 32) / 1.8 + (12.5 - 32) / 1.8) / 2, 0.6},
        {"inches", "\"precipitation\":\"mm\"", "\"precipitation\":\"inch\"", A, NULL, T_OK,
         0.6 * 25.4},
        {"unknown unit of temperature", DEG, "\"temperature_2m\":\"K\"", R,
         "2 values could not be used", 0, 0},
        {"unknown unit of rain", "\"precipitation\":\"mm\"", "\"precipitation\":\"cm\"", D,
         "2 values", T_OK, 0},
        {"unit of rain missing", "\"precipitation\":\"mm\",", "", D, "2 values", T_OK, 0},
        {"unit of rain no text", "\"precipitation\":\"mm\"", "\"precipitation\":1", D, "2 values",
         T_OK, 0},
        /* times */
        {"times in words", "\"time\":\"unixtime\"", "\"time\":\"iso8601\"", R, "not in the seconds",
         0, 0},
        {"an offset", "\"utc_offset_seconds\":0", "\"utc_offset_seconds\":20700", R, "not in UTC",
         0, 0},
        /* place */
        {"a cell 12 km away", "\"latitude\":41.5", "\"latitude\":41.46", A, NULL, T_OK, 0.6},
        {"another place", "\"latitude\":41.5", "\"latitude\":42.5", R, "104 km", 0, 0},
        {"latitude and longitude exchanged", "\"latitude\":41.5,\"longitude\":-3.125",
         "\"latitude\":-3.125,\"longitude\":41.5", R, "km from", 0, 0},
        {"no place", "\"latitude\":41.5,", "", R, "of which place", 0, 0},
        {"ground 600 m higher", "209.0", "812.0", A, "250 m", T_OK, 0.6},
    };
    struct variant all[sizeof rows / sizeof *rows];
    char one[sizeof SMALL + 8];
    char two[2 * sizeof SMALL + 8];
    snprintf(one, sizeof one, "[%s]", SMALL);
    snprintf(two, sizeof two, "[%s,%s]", SMALL, SMALL);
    memcpy(all, rows, sizeof rows);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        if (!all[i].find && !all[i].replace)
            all[i].replace = all[i].outcome == A ? one : two;
    variant_run("open-meteo", SMALL, all, sizeof rows / sizeof *rows, read_doc);
}

static void feed_open_meteo_read_odd_times(void **state)
{
    (void)state;
    /* With values at 8 o'clock too: slots 6 and 7 are 11.85 and 12.75. */
    char *warm = variant_change(SMALL, TEMPS, "[11.2,12.5,13.0]");
    char *base = variant_change(warm, RAINS, "[0.0,0.6,0.2]");
    static const struct variant rows[] = {
        {"as it is", "1935644400", "1935644400", A, NULL, 24.6, 0.8},
        {"a time in words", "1935644400", "\"2031-05-04T07:00\"", D, "1 entries", 24.2, 0.2},
        {"null", "1935644400", "null", D, "1 entries", 24.2, 0.2},
        {"a fraction", "1935644400", "1935644400.5", D, "1 entries", 24.2, 0.2},
        {"half past", "1935644400", "1935646200", D, "1 entries", 24.2, 0.2},
        {"1969", "1935644400", "-86400", D, "1 entries", 24.2, 0.2},
        {"2131", "1935644400", "5091404400", D, "1 entries", 24.2, 0.2},
        {"milliseconds", TIMES, "[1935640800000,1935644400000,1935648000000]", R,
         "none of the document's 3", 0, 0},
        {"the same time twice", TIMES, "[1935640800,1935644400,1935644400]", A, "given twice", 12.1,
         0.2},
        {"reversed", TIMES, "[1935648000,1935644400,1935640800]", A, "out of order", 24.6, 0.8},
        {"three hours apart", TIMES, "[1935640800,1935651600,1935662400]", A, NULL,
         3 * 11.85 + 3 * 12.75, 0.8},
        {"five hours apart", TIMES, "[1935640800,1935658800,1935676800]", R,
         "no hour a temperature", 0, 0},
        {"ten days ago", TIMES, "[1934640000,1934643600,1934647200]", R, "none of the", 0, 0},
    };
    variant_run("open-meteo, times", base, rows, sizeof rows / sizeof *rows, read_doc);
    free(base);
    free(warm);
}

static void feed_open_meteo_read_wind_follows_the_unit_that_came_back(void **state)
{
    (void)state;
    static const struct {
        const char *unit;
        double factor;
    } rows[] = {{"km/h", 1 / 3.6}, {"mp/h", 0.44704}, {"kn", 0.514444444}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        char unit[64];
        snprintf(unit, sizeof unit, "\"wind_speed_10m\":\"%s\"", rows[i].unit);
        char *text = variant_change(SMALL, "\"wind_speed_10m\":\"m/s\"", unit);
        struct feed_hours got = read_ok(text);
        check_near(got.hours[1].wind_10m_m_s, 1.85 * rows[i].factor, 1e-8, rows[i].unit);
        feed_hours_free(&got);
        free(text);
    }
}

static void feed_open_meteo_read_cloud_as_fractions_is_noted(void **state)
{
    (void)state;
    char column[64 + 48 * 5] = "\"cloud_cover\":[";
    char *text = long_document(SIX_O_CLOCK, 48, 0, 0);
    char *units =
        variant_change(text, "\"shortwave_radiation\":\"W/m\u00b2\"", "\"cloud_cover\":\"%\"");
    for (int i = 0; i < 48; i++)
        strcat(column, i ? ",0.6" : "0.6");
    strcat(column, "],\"shortwave_radiation\":[");
    char *doubtful = variant_change(units, "\"shortwave_radiation\":[", column);
    struct feed_hours got = read_ok(doubtful);
    assert_true(got.cloud_doubtful);
    feed_hours_free(&got);
    free(doubtful);
    free(units);
    free(text);
}

static void feed_open_meteo_read_odd_places_are_fine(void **state)
{
    (void)state;
    static const struct sun_site sites[] = {
        {70.2, 25.1, 10}, {0, 0, 0}, {-0.0, -180, 5}, {12, 180, 5}, {-89.9, 0, 2800}};
    for (size_t i = 0; i < sizeof sites / sizeof *sites; i++) {
        char place[80];
        struct feed_hours got;
        struct error error = {""};
        double longitude = sites[i].longitude_deg < -179 ? 180 : sites[i].longitude_deg;
        snprintf(place, sizeof place, "\"latitude\":%g,\"longitude\":%g", sites[i].latitude_deg,
                 longitude);
        char *text = variant_change(SMALL, "\"latitude\":41.5,\"longitude\":-3.125", place);
        if (feed_open_meteo_read(text, strlen(text), &sites[i], SIX_O_CLOCK, &got, &error) != 0)
            fail_msg("site %zu: %s", i, error.text);
        feed_hours_free(&got);
        free(text);
    }
}

static void feed_open_meteo_wait_follows_the_reasons_word(void **state)
{
    (void)state;
    static const struct {
        const char *body;
        int64_t low_s, high_s;
    } rows[] = {
        {"{\"error\":true,\"reason\":\"Minutely limit exceeded.\"}", 60, 60},
        {"{\"error\":true,\"reason\":\"Hourly limit exceeded.\"}", 3000 + 60, 3000 + 60},
        {"{\"error\":true,\"reason\":\"Daily limit exceeded.\"}", 17 * 3600 + 3000 + 60,
         17 * 3600 + 3000 + 60 + 1800},
        {"{\"error\":true,\"reason\":\"Too many concurrent requests\"}", 60, 60},
        {"{\"error\":true,\"reason\":\"Something else\"}", 900, 900},
        {"{\"error\":true}", 900, 900},
        {"<html>", 900, 900},
        {"", 900, 900},
        {"[\"Minutely\"]", 900, 900},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        int64_t wait_s =
            feed_open_meteo_wait_s(rows[i].body, strlen(rows[i].body), &SITE, SIX_O_CLOCK + 600);
        if (wait_s < rows[i].low_s || wait_s > rows[i].high_s)
            fail_msg("%s: %lld s", rows[i].body, (long long)wait_s);
    }
    assert_true(feed_open_meteo_wait_s(NULL, 0, &SITE, SIX_O_CLOCK) == 900);
}

static void feed_open_meteo_read_cut_documents_are_refused(void **state)
{
    (void)state;
    for (size_t cut = 0; cut + 1 < sizeof SMALL; cut++) {
        struct feed_hours got;
        assert_int_equal(read_doc(SMALL, cut, &got, NULL), -1);
    }
}

static void feed_open_meteo_read_deep_nesting_is_refused(void **state)
{
    (void)state;
    struct feed_hours got;
    static char deep[100000];
    memset(deep, '[', sizeof deep);
    assert_int_equal(read_doc(deep, sizeof deep, &got, NULL), -1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(feed_open_meteo_read_small_document_puts_periods_into_the_hour_before),
        cmocka_unit_test(feed_open_meteo_read_full_document_gives_settled_past_and_forecast),
        cmocka_unit_test(feed_open_meteo_read_gaps_of_three_hours_are_bridged_but_not_for_rain),
        cmocka_unit_test(feed_open_meteo_read_radiation_is_not_an_hour_late),
        cmocka_unit_test(feed_open_meteo_read_variants),
        cmocka_unit_test(feed_open_meteo_read_odd_times),
        cmocka_unit_test(feed_open_meteo_read_wind_follows_the_unit_that_came_back),
        cmocka_unit_test(feed_open_meteo_read_cloud_as_fractions_is_noted),
        cmocka_unit_test(feed_open_meteo_read_odd_places_are_fine),
        cmocka_unit_test(feed_open_meteo_wait_follows_the_reasons_word),
        cmocka_unit_test(feed_open_meteo_read_cut_documents_are_refused),
        cmocka_unit_test(feed_open_meteo_read_deep_nesting_is_refused),
    };
    return cmocka_run_group_tests_name("feed_open_meteo", tests, NULL, NULL);
}
