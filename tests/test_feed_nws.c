/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The adapter against documents written for the purpose (all values invented; field names,
 * intervals and unit texts as the service's OpenAPI description and grid point page have them). */
#include "check.h"

#include <math.h>
#include <stdbool.h>
#include <stdio.h>

#include "core/civil.h"
#include "daemon/feed_nws.h"
#include "nws_document.h"
#include "variant.h"

static const int64_t FIVE_O_CLOCK = 1935637200; /* 2031-05-04T05:00:00Z */
static const struct sun_site SITE = {33.9, -84.1, 290};

static const char POINT[] = NWS_POINT;

static const char GRID[] = NWS_GRID;

static int read_doc(const char *bytes, size_t length, struct feed_hours *out, struct error *error)
{
    bool elsewhere = false;
    return feed_nws_read_grid(bytes, length, &SITE, 0, out, &elsewhere, error);
}

static struct feed_hours read_ok(const char *text)
{
    struct feed_hours got;
    struct error error = {""};
    if (read_doc(text, strlen(text), &got, &error) != 0)
        fail_msg("refused: %s", error.text);
    return got;
}

static void feed_nws_read_grid_small_document_by_hand(void **state)
{
    (void)state;
    struct feed_hours got = read_ok(GRID);
    const struct weather_raw *h = got.hours;
    assert_int_equal(got.hour_count, 30); /* as far as the wind goes */
    assert_true(got.issued_s == FIVE_O_CLOCK + 2400);
    for (size_t i = 0; i < got.hour_count; i++) {
        assert_true(h[i].start_s == FIVE_O_CLOCK + (int64_t)i * 3600);
        assert_int_equal(h[i].kind, WEATHER_FORECAST);
        check_near(h[i].wind_10m_m_s, 9.26 / 3.6, 1e-12, "9.26 km/h is 2.572 m/s");
        assert_true(isnan(h[i].radiation_w_m2));
    }
    check_near(h[0].wind_10m_m_s, 2.572, 5e-4, "2.572 m/s");
    check_near(h[0].temperature_c, 14.4444, 0, "05");
    check_near(h[1].temperature_c, 14.4444, 0, "06: the same interval");
    check_near(h[2].temperature_c, 15.5556, 0, "07");
    assert_true(isnan(h[3].temperature_c)); /* beyond its last interval */
    for (size_t i = 0; i < 3; i++) {
        check_near(h[i].dewpoint_c, 11.1, 0, "dew point");
        check_near(h[i].humidity_pct, 81, 0, "humidity");
        check_near(h[i].cloud_pct, 35, 0, "sky cover");
    }
    check_near(h[0].rain_mm, 0.5, 1e-12, "05: rain of its own hour");
    for (size_t i = 1; i <= 12; i++)
        check_near(h[i].rain_mm, 0.5, 1e-12,
                   "06-17: 3.0 mm over 6 h, twice, equal and both counted");
    assert_true(isnan(h[13].rain_mm));
    check_near(h[11].rain_probability, 0.2, 1e-12, "16: chance");
    assert_true(isnan(h[12].rain_probability));
    assert_int_equal(got.entries, 10);
    assert_int_equal(got.dropped_entries + got.dropped_values + got.duplicates, 0);
    assert_false(got.height_doubtful);
    feed_hours_free(&got);
}

static void feed_nws_read_point_gives_the_cell(void **state)
{
    (void)state;
    char cell[FEED_NWS_CELL_SIZE] = "";
    struct error error = {""};
    assert_int_equal(feed_nws_read_point(POINT, strlen(POINT), cell, &error), 0);
    assert_string_equal(cell, "ZZZ/12,34");
}

static void feed_nws_read_point_without_a_cell_is_refused(void **state)
{
    (void)state;
    static const char *const rows[][2] = {
        {"\"gridId\":\"ZZZ\"", "\"gridId\":null"},
        {"\"gridId\":\"ZZZ\"", "\"gridId\":\"ZZ/../x\""},
        {"\"gridId\":\"ZZZ\"", "\"gridId\":\"zzz\""},
        {"\"gridId\":\"ZZZ\"", "\"gridId\":\"ZZZZ\""},
        {"\"gridId\":\"ZZZ\"", "\"gridId\":7"},
        {"\"gridX\":12", "\"gridX\":\"12\""},
        {"\"gridX\":12", "\"gridX\":-12"},
        {"\"gridX\":12", "\"gridX\":12.5"},
        {"\"gridX\":12", "\"gridX\":9223372036854775807"},
        {"\"gridY\":34,", ""},
        {"\"properties\":{", "\"properties\":[],\"x\":{"},
        {"}}", "}} more"},
        {"{\"id\"", "[{\"id\""},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        char cell[FEED_NWS_CELL_SIZE] = "untouched";
        struct error error = {""};
        char *text = variant_change(POINT, rows[i][0], rows[i][1]);
        if (feed_nws_read_point(text, strlen(text), cell, &error) == 0)
            fail_msg("%s: taken as %s", rows[i][1], cell);
        assert_string_equal(cell, "untouched");
        assert_true(error.text[0] != '\0');
        free(text);
    }
}

static void feed_nws_is_cell_only_of_office_and_two_numbers(void **state)
{
    (void)state;
    static const char *const good[] = {"ZZZ/12,34", "ABC/0,0", "ABC/1234,1"};
    static const char *const bad[] = {
        "",          "ZZZ",         "ZZZ/",       "ZZZ/12",      "ZZZ/12,",
        "ZZZ/,34",   "ZZ/12,34",    "ZZZ/12,34 ", "ZZZ/12,34/x", "zzz/12,34",
        "ZZZ/-1,34", "ZZZ/12345,1", "../12,34",   "ZZZ/12,34?x"};
    for (size_t i = 0; i < sizeof good / sizeof *good; i++)
        if (!feed_nws_is_cell(good[i]))
            fail_msg("%s", good[i]);
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++)
        if (feed_nws_is_cell(bad[i]))
            fail_msg("%s", bad[i]);
}

static void feed_nws_read_interval_forms(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        int64_t start_s, seconds; /* after 5 o'clock; 0: not understood */
    } rows[] = {
        {"2031-05-04T05:00:00+00:00/PT2H", 0, 7200},
        {"2031-05-04T05:00:00Z/PT2H", 0, 7200},
        {"2031-05-04T05:00:00+0000/PT2H", 0, 7200},
        {"2031-05-04T05:00:00+00/PT2H", 0, 7200},
        {"2031-05-04T00:00:00-05:00/PT2H", 0, 7200},
        {"2031-05-04T10:45:00+05:45/PT2H", 0, 7200},
        {"2031-05-04T05:00:00+00:00/P1DT6H", 0, 108000},
        {"2031-05-04T05:00:00+00:00/P3D", 0, 259200},
        {"2031-05-04T05:00:00+00:00/PT90M", 0, 5400},
        {"2031-05-04T05:00:00+00:00/PT1H30M", 0, 5400},
        {"2031-05-04T05:00:00+00:00/PT3600S", 0, 3600},
        {"2031-05-04T05:00:00+00:00/P0Y0M1D", 0, 86400},
        {"2031-05-04T05:00:00+00:00/2031-05-04T08:00:00+00:00", 0, 10800},
        {"PT6H/2031-05-04T08:00:00+00:00", -10800, 21600},
        {"2031-05-04T05:00:00+00:00/P10D", 0, 864000},
        {"NOW/PT6H", 0, 0},
        {"2031-05-04T05:00:00+00:00/NOW", 0, 0},
        {"2031-05-04T05:00:00+00:00/PT0H", 0, 0},
        {"2031-05-04T05:00:00+00:00/P1M", 0, 0},
        {"2031-05-04T05:00:00+00:00/P1Y", 0, 0},
        {"2031-05-04T05:00:00+00:00/P1W", 0, 0},
        {"2031-05-04T05:00:00+00:00/-PT2H", 0, 0},
        {"2031-05-04T05:00:00+00:00/PT-2H", 0, 0},
        {"2031-05-04T05:00:00+00:00/P400D", 0, 0},
        {"2031-05-04T05:00:00+00:00/PT9999999H", 0, 0},
        {"2031-05-04T05:00:00+00:00/PT", 0, 0},
        {"2031-05-04T05:00:00+00:00/P", 0, 0},
        {"2031-05-04T05:00:00+00:00/P1DT", 0, 0},
        {"2031-05-04T05:00:00+00:00/PT2", 0, 0},
        {"2031-05-04T05:00:00+00:00/PT2M1H", 0, 0},
        {"2031-05-04T05:00:00+00:00/PT2H ", 0, 0},
        {"2031-05-04T05:00:00+00:00/", 0, 0},
        {"/PT2H", 0, 0},
        {"/", 0, 0},
        {"", 0, 0},
        {"2031-05-04T05:00:00+00:00", 0, 0},
        {"2031-05-04T05:00:00+00:00PT2H", 0, 0},
        {"2031-05-04T08:00:00+00:00/2031-05-04T05:00:00+00:00", 0, 0},
        {"2031-05-04T05:00:00/PT2H", 0, 0},
        {"2031-05-04 05:00:00Z/PT2H", 0, 0},
        {"2031-05-04T05:00:60Z/PT2H", 0, 0},
        {"2031-05-04T24:00:00Z/PT2H", 0, 0},
        {"2031-02-30T05:00:00Z/PT2H", 0, 0},
        {"2031-05-04T05:00:00+000/PT2H", 0, 0},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        int64_t start_s = 77;
        int64_t end_s = 77;
        bool good = feed_nws_read_interval(rows[i].text, &start_s, &end_s);
        if (good != (rows[i].seconds != 0))
            fail_msg("'%s': %s", rows[i].text, good ? "understood" : "not understood");
        if (good &&
            (start_s != FIVE_O_CLOCK + rows[i].start_s || end_s - start_s != rows[i].seconds))
            fail_msg("'%s': %lld + %lld", rows[i].text, (long long)(start_s - FIVE_O_CLOCK),
                     (long long)(end_s - start_s));
    }
}

/* Sums of the small document: temperature 14.4444 twice and 15.5556, rain 6.5 mm. */
#define T_OK    44.4444
#define FIRST_T "{\"validTime\":\"2031-05-04T05:00:00+00:00/PT2H\",\"value\":14.4444}"
#define RAIN_6  "{\"validTime\":\"2031-05-04T06:00:00+00:00/PT6H\",\"value\":3.0}"
#define T_UNIT  "\"temperature\":{\"uom\":\"wmoUnit:degC\""
#define W_UNIT  "\"uom\":\"wmoUnit:km_h-1\""
#define Q_UNIT  "\"uom\":\"wmoUnit:mm\""
#define R       VARIANT_REFUSED
#define D       VARIANT_DROPPED
#define A       VARIANT_TAKEN
#define LATE    "{\"validTime\":\"2031-05-04T05:00:00+00:00/PT2H\""

static void feed_nws_read_grid_variants(void **state)
{
    (void)state;
    static const struct variant rows[] = {
        {"as it is", "ZZZ", "ZZZ", A, NULL, T_OK, 6.5},
        /* structure */
        {"empty body", NULL, "", R, "empty", 0, 0},
        {"null", NULL, "null", R, "not JSON", 0, 0},
        {"empty list", NULL, "[]", R, "'properties'", 0, 0},
        {"a text", NULL, "\"x\"", R, "not JSON", 0, 0},
        {"a number", NULL, "42", R, "not JSON", 0, 0},
        {"Access Denied", NULL, "<HTML><HEAD><TITLE>Access Denied</TITLE>", R, "not JSON", 0, 0},
        {"a problem document with 200", NULL,
         "{\"type\":\"urn:x:ForecastGridExpired\",\"title\":\"Forecast Grid "
         "Expired\",\"status\":503}",
         R, "'properties'", 0, 0},
        {"properties missing", "\"properties\"", "\"property\"", R, "'properties'", 0, 0},
        {"properties a list", "\"properties\":{", "\"properties\":[],\"x\":{", R, "'properties'", 0,
         0},
        {"text behind", "[]}}}", "[]}}}Unexpected error", R, "not JSON", 0, 0},
        {"byte order mark", "{\"type\":\"Feature\"", "\xef\xbb\xbf{\"type\":\"Feature\"", R,
         "not JSON", 0, 0},
        {"invalid UTF-8", "ZZZ", "\xff\xfe", R, "not JSON", 0, 0},
        {"lone surrogate", "ZZZ", "\\ud800", R, "not JSON", 0, 0},
        {"a key twice", "\"skyCover\"", "\"dewpoint\"", R, "not JSON", 0, 0},
        {"no layer at all", "\"temperature\":{", "\"minTemperature\":{", R, "no hour a temperature",
         0, 0},
        {"an empty layer without uom", "\"pressure\":{\"values\":[]}",
         "\"pressure\":{\"values\":[]}", A, NULL, T_OK, 6.5},
        {"an empty layer that is used", "\"skyCover\":{\"uom\":\"wmoUnit:percent\",",
         "\"skyCover\":{\"values\":[]},\"x\":{", A, NULL, T_OK, 6.5},
        {"a layer that is a list", "\"skyCover\":{", "\"skyCover\":[],\"x\":{", A, NULL, T_OK, 6.5},
        {"values no list", "\"skyCover\":{\"uom\":\"wmoUnit:percent\",\"values\":",
         "\"skyCover\":{\"values\":5,\"x\":", A, NULL, T_OK, 6.5},
        {"entries of another type", "\"values\":[{\"validTime\":\"2031-05-04T05:00:00+00:00/PT1H\"",
         "\"values\":[17,null,[],{\"validTime\":\"2031-05-04T05:00:00+00:00/PT1H\"", D, "3 entries",
         T_OK, 6.5},
        {"an entry without time", LATE, "{\"time\":\"x\"", D, "1 entries", 15.5556, 6.5},
        {"null: not applicable", "14.4444", "null", A, NULL, 15.5556, 6.5},
        {"all null", RAIN_6, "{\"validTime\":\"2031-05-04T06:00:00+00:00/PT6H\",\"value\":null}", A,
         NULL, T_OK, 3.5},
        /* numbers */
        {"text for a number", "14.4444", "\"14.4444\"", D, "1 values", 15.5556, 6.5},
        {"true for a number", "14.4444", "true", D, "1 values", 15.5556, 6.5},
        {"bare NaN", "14.4444", "NaN", R, "not JSON", 0, 0},
        {"bare Infinity", "14.4444", "Infinity", R, "not JSON", 0, 0},
        {"beyond a double", "14.4444", "1e999", R, "not JSON", 0, 0},
        {"fill -999", "14.4444", "-999", D, "1 values", 15.5556, 6.5},
        {"fill 9999", "14.4444", "9999", D, "1 values", 15.5556, 6.5},
        {"fill 32767", "14.4444", "32767", D, "1 values", 15.5556, 6.5},
        {"thousands of degrees", "14.4444", "2000", D, "1 values", 15.5556, 6.5},
        {"-150 degrees", "14.4444", "-150", D, "1 values", 15.5556, 6.5},
        {"wind -3", "9.26", "-3", D, "1 values", T_OK, 6.5},
        {"wind 300 km/h", "9.26", "300", D, "1 values", T_OK, 6.5},
        {"humidity 250", "81", "250", D, "1 values", T_OK, 6.5},
        {"humidity 101", "81", "101", A, NULL, T_OK, 6.5},
        {"sky 130", "\"value\":35", "\"value\":130", D, "1 values", T_OK, 6.5},
        {"chance 120", "\"value\":20", "\"value\":120", D, "1 values", T_OK, 6.5},
        {"rain -1", "\"value\":0.5", "\"value\":-1", D, "1 values", T_OK, 6},
        {"rain 900 mm in an hour", "\"value\":0.5", "\"value\":900", D, "1 values", T_OK, 6},
        {"rain 390 mm in six hours", RAIN_6,
         "{\"validTime\":\"2031-05-04T06:00:00+00:00/PT6H\",\"value\":390}", A, NULL, T_OK, 393.5},
        {"rain 900 mm in six hours", RAIN_6,
         "{\"validTime\":\"2031-05-04T06:00:00+00:00/PT6H\",\"value\":900}", D, "1 values", T_OK,
         3.5},
        {"negative zero of rain", "\"value\":0.5", "\"value\":-0.0", A, NULL, T_OK, 6},
        {"dew point 5 above", "11.1", "20.6", D, "3 values", T_OK, 6.5},
        {"dew point 0.3 above", "11.1", "14.7", A, NULL, T_OK, 6.5},
        /* units: what stands behind the colon */
        {"unit:degC", T_UNIT, "\"temperature\":{\"uom\":\"unit:degC\"", A, NULL, T_OK, 6.5},
        {"wmo:degC", T_UNIT, "\"temperature\":{\"uom\":\"wmo:degC\"", A, NULL, T_OK, 6.5},
        {"degC", T_UNIT, "\"temperature\":{\"uom\":\"degC\"", A, NULL, T_OK, 6.5},
        {"a whole URL", T_UNIT, "\"temperature\":{\"uom\":\"https://x.example/unit:degC\"", A, NULL,
         T_OK, 6.5},
        {"degF", T_UNIT, "\"temperature\":{\"uom\":\"wmoUnit:degF\"", D, "3 values",
         (2 * (14.4444 - 32) + 15.5556 - 32) / 1.8, 6.5}, /* the dew points are above it */
        {"Celsius", T_UNIT, "\"temperature\":{\"uom\":\"wmoUnit:Celsius\"", R, "no hour", 0, 0},
        {"no uom", T_UNIT, "\"temperature\":{\"u\":\"wmoUnit:degC\"", R, "2 values could not", 0,
         0},
        {"uom null", T_UNIT, "\"temperature\":{\"uom\":null", R, "no hour", 0, 0},
        {"wind of unknown unit", W_UNIT, "\"uom\":\"nwsUnit:beaufort\"", D, "1 values", T_OK, 6.5},
        {"wind without unit", W_UNIT, "\"u\":1", D, "1 values", T_OK, 6.5},
        {"rain in metres", Q_UNIT, "\"uom\":\"unit:m\"", D, "3 values", T_OK, 0}, /* 500 mm/h */
        {"rain of unknown unit", Q_UNIT, "\"uom\":\"wmoUnit:in\"", D, "3 values", T_OK, 0},
        /* times */
        {"90 minutes of state", FIRST_T,
         "{\"validTime\":\"2031-05-04T05:00:00Z/PT90M\",\"value\":14}", A, NULL, 14 + 15.5556, 6.5},
        {"91 minutes of state", FIRST_T,
         "{\"validTime\":\"2031-05-04T05:00:00Z/PT91M\",\"value\":14}", A, NULL, 28 + 15.5556, 6.5},
        {"start and end", FIRST_T,
         "{\"validTime\":\"2031-05-04T05:00:00Z/2031-05-04T07:00:00Z\",\"value\":14}", A, NULL,
         28 + 15.5556, 6.5},
        {"duration and end", FIRST_T, "{\"validTime\":\"PT2H/2031-05-04T07:00:00Z\",\"value\":14}",
         A, NULL, 28 + 15.5556, 6.5},
        {"NOW", FIRST_T, "{\"validTime\":\"NOW/PT2H\",\"value\":14}", D, "1 entries", 15.5556, 6.5},
        {"no length", FIRST_T, "{\"validTime\":\"2031-05-04T05:00:00Z/PT0H\",\"value\":14}", D,
         "1 entries", 15.5556, 6.5},
        {"a month", FIRST_T, "{\"validTime\":\"2031-05-04T05:00:00Z/P1M\",\"value\":14}", D,
         "1 entries", 15.5556, 6.5},
        {"400 days", FIRST_T, "{\"validTime\":\"2031-05-04T05:00:00Z/P400D\",\"value\":14}", D,
         "1 entries", 15.5556, 6.5},
        {"no slash", FIRST_T, "{\"validTime\":\"2031-05-04T05:00:00Z\",\"value\":14}", D,
         "1 entries", 15.5556, 6.5},
        {"three days merged", FIRST_T,
         "{\"validTime\":\"2031-05-04T05:00:00Z/PT72H\",\"value\":14}", A, "given twice",
         71 * 14 + 15.5556, 6.5},
        {"overlapping rain: the later", RAIN_6,
         "{\"validTime\":\"2031-05-04T05:00:00Z/PT6H\",\"value\":6.0}", A, "given twice", T_OK, 9},
        {"rain across slots", RAIN_6, "{\"validTime\":\"2031-05-04T06:30:00Z/PT3H\",\"value\":3.0}",
         A, NULL, T_OK, 6.5},
        {"year 1969", FIRST_T, "{\"validTime\":\"1969-05-04T05:00:00Z/PT2H\",\"value\":14}", D,
         "1 entries", 15.5556, 6.5},
        {"year 9999", FIRST_T, "{\"validTime\":\"9999-05-04T05:00:00Z/PT2H\",\"value\":14}", D,
         "1 entries", 15.5556, 6.5},
        {"updateTime missing", "updateTime", "updatedTime", R, "updateTime", 0, 0},
        {"updateTime no time", "2031-05-04T05:40:00+00:00", "yesterday", R, "updateTime", 0, 0},
        {"updateTime +0000", "2031-05-04T05:40:00+00:00", "2031-05-04T05:40:00+0000", A, NULL, T_OK,
         6.5},
        {"issued a month ago", "2031-05-04T05:40:00+00:00", "2031-04-04T05:40:00+00:00", R,
         "none of the document's", 0, 0},
        /* place */
        {"a cell that does not hold the site", "[[[-84.11,33.89],[-84.11,33.91],",
         "[[[-84.09,33.88],[-84.09,33.91],", R, "does not hold", 0, 0},
        {"a cell elsewhere", "-84.11,33.89],[-84.11,33.91],[-84.09,33.91],[-84.09,33.89],[-84.11",
         "-94.11,33.89],[-94.11,33.91],[-94.09,33.91],[-94.09,33.89],[-94.11", R, "does not hold",
         0, 0},
        {"latitude first",
         "-84.11,33.89],[-84.11,33.91],[-84.09,33.91],[-84.09,33.89],[-84.11,33.89",
         "33.89,-84.11],[33.91,-84.11],[33.91,-84.09],[33.89,-84.09],[33.89,-84.11", R,
         "does not hold", 0, 0},
        {"no polygon", "\"geometry\"", "\"geometries\"", R, "does not hold", 0, 0},
        {"corners in words", "[-84.11,33.89],[-84.11,33.91]", "[\"-84.11\",33.89],[-84.11,33.91]",
         R, "does not hold", 0, 0},
        {"ground 600 m higher", "287.4", "890", A, "250 m", T_OK, 6.5},
        {"no elevation", "\"elevation\"", "\"height\"", A, NULL, T_OK, 6.5},
    };
    variant_run("nws", GRID, rows, sizeof rows / sizeof *rows, read_doc);
}

static void feed_nws_read_grid_tells_another_cell_from_other_refusals(void **state)
{
    (void)state;
    const struct sun_site beside = {33.9, -84.12, 290};
    struct feed_hours got;
    struct error error;
    bool elsewhere = false;
    assert_int_equal(feed_nws_read_grid(GRID, strlen(GRID), &beside, 0, &got, &elsewhere, &error),
                     -1);
    assert_true(elsewhere);
    assert_int_equal(
        feed_nws_read_grid(GRID, strlen(GRID), &beside, 0.05, &got, &elsewhere, &error), 0);
    assert_false(elsewhere);
    feed_hours_free(&got);
    assert_int_equal(feed_nws_read_grid("{", 1, &SITE, 0, &got, &elsewhere, &error), -1);
    assert_false(elsewhere);
}

static void feed_nws_read_grid_across_the_date_line(void **state)
{
    (void)state;
    const struct sun_site site = {33.9, 179.995, 290};
    struct feed_hours got;
    struct error error;
    bool elsewhere = false;
    char *text = variant_change(GRID,
                                "[-84.11,33.89],[-84.11,33.91],[-84.09,33.91],[-84.09,33.89],"
                                "[-84.11,33.89]",
                                "[179.98,33.89],[179.98,33.91],[-179.99,33.91],[-179.99,33.89],"
                                "[179.98,33.89]");
    assert_int_equal(feed_nws_read_grid(text, strlen(text), &site, 0, &got, &elsewhere, &error), 0);
    feed_hours_free(&got);
    free(text);
}

static void feed_nws_read_grid_cut_and_deep_documents_are_refused(void **state)
{
    (void)state;
    struct feed_hours got;
    static char deep[100000];
    memset(deep, '[', sizeof deep);
    assert_int_equal(read_doc(deep, sizeof deep, &got, NULL), -1);
    for (size_t cut = 0; cut + 1 < sizeof GRID; cut += 3)
        assert_int_equal(read_doc(GRID, cut, &got, NULL), -1);
}

static void feed_nws_read_grid_too_many_values_are_refused(void **state)
{
    (void)state;
    char *text = NULL;
    size_t length = 0;
    struct feed_hours got;
    struct error error = {""};
    FILE *f = open_memstream(&text, &length);
    const char *at = strstr(GRID, FIRST_T);
    fprintf(f, "%.*s", (int)(at - GRID), GRID);
    for (int i = 0; i < 2000; i++)
        fputs(FIRST_T ",", f);
    fputs(at, f);
    fclose(f);
    assert_int_equal(read_doc(text, length, &got, &error), -1);
    assert_non_null(strstr(error.text, "temperature has 2002 values"));
    free(text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(feed_nws_read_grid_small_document_by_hand),
        cmocka_unit_test(feed_nws_read_point_gives_the_cell),
        cmocka_unit_test(feed_nws_read_point_without_a_cell_is_refused),
        cmocka_unit_test(feed_nws_is_cell_only_of_office_and_two_numbers),
        cmocka_unit_test(feed_nws_read_interval_forms),
        cmocka_unit_test(feed_nws_read_grid_variants),
        cmocka_unit_test(feed_nws_read_grid_tells_another_cell_from_other_refusals),
        cmocka_unit_test(feed_nws_read_grid_across_the_date_line),
        cmocka_unit_test(feed_nws_read_grid_cut_and_deep_documents_are_refused),
        cmocka_unit_test(feed_nws_read_grid_too_many_values_are_refused),
    };
    return cmocka_run_group_tests_name("feed_nws", tests, NULL, NULL);
}
