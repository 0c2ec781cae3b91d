/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The adapter against documents written for the purpose (all values invented; structure, units and
 * quality letters as the service's OpenAPI description and the MADIS page have them). */
#include "check.h"

#include <math.h>
#include <stdbool.h>
#include <stdio.h>

#include "daemon/feed_nws_stations.h"
#include "nws_document.h"
#include "variant.h"

static const int64_t FOUR_O_CLOCK = 1935633600; /* 2031-05-04T04:00:00Z */
static const int64_t NOW = 1935641400;          /* 06:10 */
static const struct sun_site SITE = {33.9, -84.1, 290};

static int read_doc(const char *bytes, size_t length, struct feed_hours *out, struct error *error)
{
    return feed_nws_stations_read(bytes, length, NOW, out, error);
}

static struct feed_hours read_ok(const char *text)
{
    struct feed_hours got;
    struct error error = {""};
    if (read_doc(text, strlen(text), &got, &error) != 0)
        fail_msg("refused: %s", error.text);
    return got;
}

/* --- which station ------------------------------------------------------------------------ */

static void feed_nws_stations_pick_takes_the_nearest_of_like_height(void **state)
{
    (void)state;
    char names[ADAPTER_ADDRESS_SIZE];
    struct error error = {""};
    assert_int_equal(
        feed_nws_stations_pick(NWS_STATIONS, strlen(NWS_STATIONS), &SITE, names, &error), 0);
    /* KHIGH is nearer but 410 m higher, KOUT 92 km away, KFAR the fourth. By distance: 10.8, 17.3,
     * 18.5 km. */
    assert_string_equal(names, "KZZZ,KYYY,KMID");
}

static void feed_nws_stations_pick_without_a_near_one_is_refused(void **state)
{
    (void)state;
    static const char *const rows[][2] = {
        {"", "empty"},
        {"null", "not JSON"},
        {"[]", "no station within 40 km"},
        {"{\"features\":{}}", "no station within 40 km"},
        {"{\"features\":[]}", "no station within 40 km"},
        {"{\"features\":[null,7,{},{\"properties\":{\"stationIdentifier\":\"KZZZ\"}}]}",
         "no station"},
        {"{\"features\":[{\"geometry\":{\"coordinates\":[-85.1,33.9]},\"properties\":{"
         "\"stationIdentifier\":\"KOUT\"}}]}",
         "no station"},
        {"{\"features\":[{\"geometry\":{\"coordinates\":[33.9,-84.1]},\"properties\":{"
         "\"stationIdentifier\":\"KZZZ\"}}]}",
         "no station"},
        {"{\"features\":[{\"geometry\":{\"coordinates\":[-84.1,33.9]},\"properties\":{"
         "\"stationIdentifier\":\"../x\"}}]}",
         "no station"},
        {"{\"features\":[{\"geometry\":{\"coordinates\":[-84.1,33.9]},\"properties\":{"
         "\"stationIdentifier\":\"KZZZ\",\"elevation\":{\"value\":600}}}]}",
         "no station"},
        {"{\"features\":[]} x", "not JSON"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        char names[ADAPTER_ADDRESS_SIZE] = "untouched";
        struct error error = {""};
        if (feed_nws_stations_pick(rows[i][0], strlen(rows[i][0]), &SITE, names, &error) == 0)
            fail_msg("%s: taken", rows[i][0]);
        if (!strstr(error.text, rows[i][1]))
            fail_msg("%s: %s", rows[i][0], error.text);
        assert_string_equal(names, "untouched");
    }
}

static void feed_nws_stations_pick_keeps_order_whatever_the_document_has(void **state)
{
    (void)state;
    uint64_t random = 7;
    for (int round = 0; round < 200; round++) {
        char text[4096] = "{\"features\":[";
        double nearest_deg[12];
        char names[ADAPTER_ADDRESS_SIZE];
        int count = 1 + round % 12;
        for (int i = 0; i < count; i++) {
            nearest_deg[i] = check_between(&random, 0.001, 0.3);
            snprintf(text + strlen(text), sizeof text - strlen(text),
                     "%s{\"geometry\":{\"coordinates\":[-84.1,%.6f]},\"properties\":{"
                     "\"stationIdentifier\":\"K%02d\"}}",
                     i ? "," : "", 33.9 + nearest_deg[i], i);
        }
        strcat(text, "]}");
        assert_int_equal(feed_nws_stations_pick(text, strlen(text), &SITE, names, NULL), 0);
        assert_true(feed_nws_stations_is_list(names));
        for (size_t at = 0; at + 4 < strlen(names); at += 4)
            assert_true(nearest_deg[atoi(names + at + 1)] <= nearest_deg[atoi(names + at + 5)]);
        int best = 0;
        for (int i = 1; i < count; i++)
            best = nearest_deg[i] < nearest_deg[best] ? i : best;
        assert_int_equal(atoi(names + 1), best);
        assert_int_equal(strlen(names), (count < 3 ? (size_t)count : 3) * 4 - 1);
    }
}

static void feed_nws_stations_is_list_only_of_names(void **state)
{
    (void)state;
    static const char *const good[] = {"KZZZ", "KZZZ,KYYY", "KZZZ,KYYY,0123A"};
    static const char *const bad[] = {"",
                                      ",",
                                      "KZZZ,",
                                      ",KZZZ",
                                      "kzzz",
                                      "KZ",
                                      "KZZZ KYYY",
                                      "KZZZ/../x",
                                      "KZZZ,,KYYY",
                                      "A23456789012",
                                      "KAAA,KBBB,KCCC,KDDD",
                                      "KZZZ?x"};
    for (size_t i = 0; i < sizeof good / sizeof *good; i++)
        if (!feed_nws_stations_is_list(good[i]))
            fail_msg("%s", good[i]);
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++)
        if (feed_nws_stations_is_list(bad[i]))
            fail_msg("%s", bad[i]);
}

/* --- reports ------------------------------------------------------------------------------ */

static void feed_nws_stations_read_small_document_by_hand(void **state)
{
    (void)state;
    struct feed_hours got = read_ok(NWS_OBSERVATIONS);
    const struct weather_raw *h = got.hours;
    /* Temperature at 4:00 is 12.1 + 1.2 * 7/60 = 12.24, at 5:00 13.3 + 1.2 * 7/60 = 13.44; of 3:00
     * and 6:00 nothing is known. */
    assert_int_equal(got.hour_count, 3); /* 3 and 5: rain only */
    assert_true(got.issued_s == FOUR_O_CLOCK + 7200 - 420);
    assert_true(h[0].start_s == FOUR_O_CLOCK - 3600 && h[2].start_s == FOUR_O_CLOCK + 3600);
    check_near(h[1].temperature_c, 12.84, 1e-9, "04: (12.24 + 13.44) / 2");
    check_near(h[1].dewpoint_c, (10.0 + 0.6 * 7 / 60 + 10.6 - 0.6 * 7 / 60) / 2, 1e-9,
               "04 dew point");
    check_near(h[1].wind_10m_m_s, (1 + 1 + 1.0 * 7 / 60) / 2, 1e-9, "04 wind, km/h to m/s");
    check_near(h[1].cloud_pct, (100 - 25.0 * 7 / 60 + 75 - 56.25 * 7 / 60) / 2, 1e-9,
               "04 cloud OVC, BKN, FEW");
    check_near(h[0].rain_mm, 0, 0, "03: the report of 03:53");
    check_near(h[1].rain_mm, 0.4, 1e-12, "04: the report of 04:53");
    check_near(h[2].rain_mm, 1.2, 1e-12, "05: the report of 05:53");
    assert_true(isnan(h[0].temperature_c) && isnan(h[2].temperature_c));
    for (size_t i = 0; i < got.hour_count; i++) {
        assert_int_equal(h[i].kind, WEATHER_ANALYSIS);
        assert_true(isnan(h[i].radiation_w_m2) && isnan(h[i].rain_probability));
    }
    assert_int_equal(got.dropped_entries + got.dropped_values + got.duplicates, 0);
    feed_hours_free(&got);
}

/* Reports at five past: the hour before each is mostly the one that just ended. */
static void feed_nws_stations_read_rain_goes_where_most_of_it_fell(void **state)
{
    (void)state;
    static const char *const moves[][2] = {
        {"03:53:00", "04:05:00"}, {"04:53:00", "05:05:00"}, {"05:53:00", "06:05:00"}};
    char *text = strdup(NWS_OBSERVATIONS);
    for (size_t i = 0; i < 3; i++) {
        char *moved = variant_change(text, moves[i][0], moves[i][1]);
        free(text);
        text = moved;
    }
    struct feed_hours got = read_ok(text);
    const double rain_mm[] = {0, 0.4, 1.2};
    for (size_t i = 0; i < 3; i++) {
        assert_true(got.hours[i].start_s == FOUR_O_CLOCK + ((int64_t)i - 1) * 3600);
        check_near(got.hours[i].rain_mm, rain_mm[i], 1e-12, "03, 04, 05");
    }
    feed_hours_free(&got);
    free(text);
}

#define T_OK 12.84
#define RAIN 1.6
#define R    VARIANT_REFUSED
#define D    VARIANT_DROPPED
#define A    VARIANT_TAKEN

static void feed_nws_stations_read_variants(void **state)
{
    (void)state;
    static const struct variant rows[] = {
        {"as it is", "KZZZ", "KZZZ", A, NULL, T_OK, RAIN},
        /* structure */
        {"empty body", NULL, "", R, "empty", 0, 0},
        {"null", NULL, "null", R, "not JSON", 0, 0},
        {"a list", NULL, "[]", R, "'features'", 0, 0},
        {"a number", NULL, "42", R, "not JSON", 0, 0},
        {"a problem document", NULL, "{\"title\":\"Unexpected Problem\",\"status\":500}", R,
         "'features'", 0, 0},
        {"no reports", NULL, "{\"features\":[]}", R, "none of the station's 0 reports", 0, 0},
        {"features an object", "\"features\":[", "\"features\":{},\"x\":[", R, "'features'", 0, 0},
        {"text behind", "\"}}", "\"}}Unexpected error", R, "not JSON", 0, 0},
        {"byte order mark", "{\"type\":\"FeatureC", "\xef\xbb\xbf{\"type\":\"FeatureC", R,
         "not JSON", 0, 0},
        {"invalid UTF-8", "KZZZ", "\xff\xfe", R, "not JSON", 0, 0},
        {"a key twice", "\"dewpoint\"", "\"temperature\"", R, "not JSON", 0, 0},
        {"entries of another type", "\"features\":[", "\"features\":[17,null,[],", D, "3 entries",
         T_OK, RAIN},
        {"one report only", "\"rawMessage\":\"KZZZ 040553Z ...\"", "\"rawMessage\":\"\"", R,
         "no hour a temperature", 0, 0},
        {"raw text of blanks", "\"rawMessage\":\"KZZZ 040553Z ...\"", "\"rawMessage\":\" \"", R,
         "no hour a temperature", 0, 0},
        {"no raw text", "\"rawMessage\":\"KZZZ 040553Z ...\",", "", R, "no hour", 0, 0},
        {"the interim report with raw text", "\"rawMessage\":\"\"", "\"rawMessage\":\"KZZZ\"", D,
         "1 values", T_OK, RAIN}, /* its 99 C; its wind of 50 km/h counts */
        {"no rain of the hour", "\"precipitationLastHour\"", "\"precipitationLast3Hours\"", A, NULL,
         T_OK, 0.4},
        {"null with V", "14.5", "null", R, "no hour a temperature", 0, 0},
        {"null wind", "7.2", "null", A, NULL, T_OK, RAIN},
        {"cloud layers missing", "\"cloudLayers\"", "\"clouds\"", A, NULL, T_OK, RAIN},
        {"cloud layers null", "\"cloudLayers\":[{", "\"cloudLayers\":null,\"x\":[{", A, NULL, T_OK,
         RAIN},
        {"a cloud amount that is no code", "\"FEW\"", "\"9/8\"", A, NULL, T_OK, RAIN},
        /* quality letters */
        {"Z", "74.0,\"qualityControl\":\"V\"", "74.0,\"qualityControl\":\"Z\"", A, NULL, T_OK,
         RAIN},
        {"S", "74.0,\"qualityControl\":\"V\"", "74.0,\"qualityControl\":\"S\"", A, NULL, T_OK,
         RAIN},
        {"X", "74.0,\"qualityControl\":\"V\"", "74.0,\"qualityControl\":\"X\"", D, "1 values", T_OK,
         RAIN},
        {"B", "74.0,\"qualityControl\":\"V\"", "74.0,\"qualityControl\":\"B\"", D, "1 values", T_OK,
         RAIN},
        {"Q", "74.0,\"qualityControl\":\"V\"", "74.0,\"qualityControl\":\"Q\"", D, "1 values", T_OK,
         RAIN},
        {"unknown letter", "74.0,\"qualityControl\":\"V\"", "74.0,\"qualityControl\":\"K\"", D,
         "1 values", T_OK, RAIN},
        {"letter empty", "74.0,\"qualityControl\":\"V\"", "74.0,\"qualityControl\":\"\"", D,
         "1 values", T_OK, RAIN},
        {"letter a number", "74.0,\"qualityControl\":\"V\"", "74.0,\"qualityControl\":1", D,
         "1 values", T_OK, RAIN},
        {"no letter", "74.0,\"qualityControl\":\"V\"", "74.0", A, NULL, T_OK, RAIN},
        {"rain rejected", "1.2,\"qualityControl\":\"V\"", "1.2,\"qualityControl\":\"X\"", D,
         "1 values", T_OK, 0.4},
        /* numbers and units */
        {"text for a number", "74.0", "\"74.0\"", D, "1 values", T_OK, RAIN},
        {"true for a number", "74.0", "true", D, "1 values", T_OK, RAIN},
        {"bare NaN", "74.0", "NaN", R, "not JSON", 0, 0},
        {"beyond a double", "74.0", "1e999", R, "not JSON", 0, 0},
        {"fill -999", "\"value\":1.2", "\"value\":-999", D, "1 values", T_OK, 0.4},
        {"fill 9999", "\"value\":1.2", "\"value\":9999", D, "1 values", T_OK, 0.4},
        {"2000 degrees", "13.3", "2000", D, "1 values", T_OK,
         RAIN}, /* on the line between its neighbours */
        {"humidity 250", "74.0", "250", D, "1 values", T_OK, RAIN},
        {"wind -3", "7.2", "-3", D, "1 values", T_OK, RAIN},
        {"rain -1", "\"value\":1.2", "\"value\":-1", D, "1 values", T_OK, 0.4},
        {"dew point 5 above", "\"value\":10.6", "\"value\":18.3", D, "1 values", T_OK, RAIN},
        {"degF", "wmoUnit:degC\",\"value\":14.5", "wmoUnit:degF\",\"value\":58.1", A, NULL, T_OK,
         RAIN},
        {"bare degC", "wmoUnit:degC\",\"value\":14.5", "degC\",\"value\":14.5", A, NULL, T_OK,
         RAIN},
        {"rain in metres", "wmoUnit:mm\",\"value\":1.2", "unit:m\",\"value\":0.0012", A, NULL, T_OK,
         RAIN},
        {"unknown unit", "wmoUnit:mm\",\"value\":1.2", "wmoUnit:in\",\"value\":1.2", D, "1 values",
         T_OK, 0.4},
        {"no unit", "\"unitCode\":\"wmoUnit:percent\",\"value\":74.0", "\"value\":74.0", D,
         "1 values", T_OK, RAIN},
        /* times */
        {"Z for the offset", "05:53:00+00:00", "05:53:00Z", A, NULL, T_OK, RAIN},
        {"another offset", "2031-05-04T05:53:00+00:00", "2031-05-04T01:53:00-04:00", A, NULL, T_OK,
         RAIN},
        {"no zone", "05:53:00+00:00", "05:53:00", R, "1 of its 4 entries", 0, 0},
        {"to come", "2031-05-04T05:53:00+00:00", "2031-05-04T08:53:00+00:00", R, "no hour", 0, 0},
        {"a month ago", "2031-05-04T05:53:00+00:00", "2031-04-04T05:53:00+00:00", R, "no hour", 0,
         0},
        {"five hours apart", "2031-05-04T03:53:00+00:00", "2031-05-03T22:53:00+00:00", R, "no hour",
         0, 0},
        {"twice the same time, other values", "2031-05-04T03:53:00+00:00",
         "2031-05-04T05:53:00+00:00", R, "no hour", 0, 0},
        {"twice the same time", "2031-05-04T05:20:00+00:00\",\"rawMessage\":\"\"",
         "2031-05-04T05:53:00+00:00\",\"rawMessage\":\"X\"", D, "1 times given twice", T_OK, RAIN},
    };
    variant_run("nws-stations", NWS_OBSERVATIONS, rows, sizeof rows / sizeof *rows, read_doc);
}

static void feed_nws_stations_read_single_report_of_the_documentation(void **state)
{
    (void)state;
    /* One report, no wind, no rain: nothing to interpolate between. */
    static const char one[] =
        "{\"type\":\"FeatureCollection\",\"features\":[{\"type\":\"Feature\",\"properties\":{"
        "\"station\":\"https://weather.example/stations/KZZZ\",\"timestamp\":"
        "\"2031-05-04T04:53:00+00:00\",\"rawMessage\":\"KZZZ 040453Z ...\",\"temperature\":{"
        "\"unitCode\":\"wmoUnit:degC\",\"value\":13.3,\"qualityControl\":\"V\"},\"windSpeed\":{"
        "\"unitCode\":\"wmoUnit:km_h-1\",\"value\":null,\"qualityControl\":\"Z\"}}}]}";
    struct feed_hours got;
    struct error error = {""};
    assert_int_equal(read_doc(one, strlen(one), &got, &error), -1);
    assert_non_null(strstr(error.text, "no hour a temperature"));
}

static void feed_nws_stations_read_three_days_of_reports_fill_every_hour(void **state)
{
    (void)state;
    char *text = NULL;
    size_t length = 0;
    FILE *f = open_memstream(&text, &length);
    fputs("{\"features\":[", f);
    for (int i = 0; i < 72; i++) { /* newest first: 05:53 back to three days before */
        char time[CIVIL_TEXT];
        civil_format_rfc3339(FOUR_O_CLOCK + 7200 - 420 - i * 3600, 0, time);
        fprintf(
            f,
            "%s{\"properties\":{\"timestamp\":\"%s\",\"rawMessage\":\"K\",\"temperature\":{"
            "\"unitCode\":\"wmoUnit:degC\",\"value\":%d},\"precipitationLastHour\":{\"unitCode\":"
            "\"wmoUnit:mm\",\"value\":0.04}}}",
            i ? "," : "", time, i % 24);
    }
    fputs("]}", f);
    fclose(f);
    struct feed_hours got = read_ok(text);
    size_t states = 0;
    for (size_t i = 0; i < got.hour_count; i++)
        states += isnan(got.hours[i].temperature_c) ? 0 : 1;
    assert_int_equal(states, 70); /* of 71 whole hours between the first and the last report */
    check_near(variant_sum(&got, FEED_RAIN), 72 * 0.04, 1e-9, "drizzle adds up");
    feed_hours_free(&got);
    free(text);
}

static void feed_nws_stations_read_cut_and_deep_documents_are_refused(void **state)
{
    (void)state;
    struct feed_hours got;
    static char deep[100000];
    memset(deep, '[', sizeof deep);
    assert_int_equal(read_doc(deep, sizeof deep, &got, NULL), -1);
    for (size_t cut = 0; cut + 1 < sizeof NWS_OBSERVATIONS; cut += 3)
        assert_int_equal(read_doc(NWS_OBSERVATIONS, cut, &got, NULL), -1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(feed_nws_stations_pick_takes_the_nearest_of_like_height),
        cmocka_unit_test(feed_nws_stations_pick_without_a_near_one_is_refused),
        cmocka_unit_test(feed_nws_stations_pick_keeps_order_whatever_the_document_has),
        cmocka_unit_test(feed_nws_stations_is_list_only_of_names),
        cmocka_unit_test(feed_nws_stations_read_small_document_by_hand),
        cmocka_unit_test(feed_nws_stations_read_rain_goes_where_most_of_it_fell),
        cmocka_unit_test(feed_nws_stations_read_variants),
        cmocka_unit_test(feed_nws_stations_read_single_report_of_the_documentation),
        cmocka_unit_test(feed_nws_stations_read_three_days_of_reports_fill_every_hour),
        cmocka_unit_test(feed_nws_stations_read_cut_and_deep_documents_are_refused),
    };
    return cmocka_run_group_tests_name("feed_nws_stations", tests, NULL, NULL);
}
