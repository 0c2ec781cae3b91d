/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The adapter against documents written for the purpose (all values invented; names, units and fill
 * values as the service documents them). */
#include "check.h"

#include <math.h>
#include <stdbool.h>
#include <stdio.h>

#include "core/civil.h"
#include "daemon/feed_power.h"
#include "power_document.h"
#include "variant.h"

static const struct sun_site SITE = {41.57, -3.12, 640};

static int read_doc(const char *text, struct weather_normal normals[12], struct feed_hours *notes,
                    struct error *error)
{
    return feed_power_read(text, strlen(text), &SITE, 2021, normals, notes, error);
}

static void feed_power_read_ten_years_give_twelve_months(void **state)
{
    (void)state;
    static const double days[] = {31, 28.25, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    size_t length = 0;
    char *text = power_document_write(&SITE, 2021, 10, &length);
    struct weather_normal normals[12];
    struct feed_hours notes;
    struct error error = {""};
    if (read_doc(text, normals, &notes, &error) != 0)
        fail_msg("%s", error.text);
    for (int m = 0; m < 12; m++) {
        const struct weather_normal *n = &normals[m];
        /* Days 5, 10, ... 30: six wet ones, in February five. */
        double wet = m == 1 ? 5 * 10 / 282.0 : 6 * 10 / (days[m] * 10);
        check_near(n->temperature_max_c, 21 + m, 1e-9, "warmest");
        check_near(n->temperature_min_c, 11 + m, 1e-9, "coldest");
        check_near(n->dewpoint_c, 5, 1e-9, "dew point");
        check_near(n->wind_2m_m_s, 2.5, 1e-9, "wind at 2 m");
        check_near(n->clear_ratio, 0.7, 5e-4, "radiation by the clear sky's, printed to 0.01 MJ");
        check_near(n->wet_days, wet * days[m], 1e-9, "wet days");
        check_near(n->rain_mm, 5 * wet * days[m], 1e-9, "rain");
    }
    assert_int_equal(notes.entries, 6 * (3652)); /* 2024 and 2028 are leap years */
    assert_int_equal(notes.dropped_entries + notes.dropped_values, 0);
    assert_false(notes.height_doubtful);
    free(text);
}

/* Makes count days of a parameter, from the from-th on, fill values. */
static char *blank(const char *text, const char *parameter, int from, int count)
{
    char name[64];
    char *copy = strdup(text);
    snprintf(name, sizeof name, "\"%s\":{", parameter);
    char *at = strstr(copy, name);
    assert_non_null(at);
    at += strlen(name);
    for (int day = 0; day < from + count; day++) {
        char *value = strchr(at, ':') + 1;
        size_t length = strcspn(value, ",}");
        if (day >= from) { /* as wide as what stands there */
            assert_true(length >= 4);
            memset(value, ' ', length);
            memcpy(value, "-999", 4);
        }
        at = value + length + 1;
    }
    return copy;
}

static void feed_power_read_too_few_days_of_a_month_are_refused(void **state)
{
    (void)state;
    size_t length = 0;
    char *text = power_document_write(&SITE, 2021, 10, &length);
    char *fewer = power_document_write(&SITE, 2021, 6, &length);
    struct weather_normal normals[12];
    struct feed_hours notes;
    struct error error = {""};
    /* Six years have 186 days of January but 169 of February. */
    assert_int_equal(read_doc(fewer, normals, &notes, &error), -1);
    assert_non_null(strstr(error.text, "T2M_MAX has 169 usable days of month 2"));
    /* The dew point is missing in three years: seven are enough. Radiation in four: six are not. */
    char *gap = blank(text, "T2MDEW", 0, 3 * 365);
    if (read_doc(gap, normals, &notes, &error) != 0)
        fail_msg("%s", error.text);
    check_near(normals[0].dewpoint_c, 5, 1e-9, "of the other seven years");
    assert_int_equal(notes.dropped_values, 0); /* a fill value is no mistake */
    char *wide = blank(text, "ALLSKY_SFC_SW_DWN", 0, 4 * 365 + 1);
    assert_int_equal(read_doc(wide, normals, &notes, &error), -1);
    assert_non_null(strstr(error.text, "ALLSKY_SFC_SW_DWN has 169 usable days of month 2"));
    free(wide);
    free(gap);
    free(fewer);
    free(text);
}

enum outcome { R, D, A };

static void feed_power_read_variants(void **state)
{
    (void)state;
    static const struct {
        const char *name, *find, *replace;
        enum outcome outcome;
        const char *words;
    } rows[] = {
        {"as it is", "Feature", "Feature", A, ""},
        {"empty body", NULL, "", R, "empty"},
        {"null", NULL, "null", R, "not JSON"},
        {"empty list", NULL, "[]", R, "'properties.parameter'"},
        {"a number", NULL, "42", R, "not JSON"},
        {"a web page", NULL, "<html>", R, "not JSON"},
        {"a message of the service", NULL, "{\"header\":\"x\",\"messages\":[\"no data\"]}", R,
         "'properties.parameter'"},
        {"parameter a list", "\"parameter\":{", "\"parameter\":[],\"x\":{", R,
         "'properties.parameter'"},
        {"text behind", "\"times\":{\"data\":1.0}}", "\"times\":{\"data\":1.0}}x", R, "not JSON"},
        {"byte order mark", "{\"type\"", "\xef\xbb\xbf{\"type\"", R, "not JSON"},
        {"a day twice", "\"20210102\"", "\"20210101\"", R, "not JSON"},
        {"a parameter missing", "\"WS2M\":{", "\"WS10M\":{", R, "no daily values of WS2M"},
        {"a parameter that is a list", "\"WS2M\":{", "\"WS2M\":[],\"x\":{", R,
         "no daily values of WS2M"},
        {"local solar time", "\"UTC\"", "\"LST\"", R, "not in UTC"},
        {"no time standard", "\"time_standard\"", "\"time\"", R, "not in UTC"},
        {"no header", "\"header\"", "\"head\"", R, "not in UTC"},
        {"unit missing", "\"WS2M\":{\"units\"", "\"WS2M\":{\"unit\"", R, "unit of WS2M"},
        {"unit of wind not known", "\"units\":\"m/s\"", "\"units\":\"mph\"", R, "unit of WS2M"},
        {"Kelvin", "\"T2M_MAX\":{\"units\":\"C\"", "\"T2M_MAX\":{\"units\":\"K\"", R,
         "unit of T2M_MAX"},
        {"kW-hr: nearly all out of range", "MJ/m^2/day", "kW-hr/m^2/day", R, "usable days"},
        {"Wh of another community", "MJ/m^2/day", "Wh/m^2", R, "unit of ALLSKY_SFC_SW_DWN"},
        {"no place", "\"coordinates\"", "\"coords\"", R, "of which place"},
        {"another place", "[-3.1200,41.5700", "[-3.1200,42.5700", R, "latitude 42.57"},
        {"latitude first", "[-3.1200,41.5700", "[41.5700,-3.1200", R, "latitude -3.12"},
        {"ground 600 m lower", "41.5700,660.0", "41.5700,40.0", A, "250 m"},
        {"no height", ",660.0]", "]", A, ""},
        {"fill value", "\"20210101\":21.00", "\"20210101\":-999.0", A, ""},
        {"another fill value", "-999.0,\"time", "21.0,\"time", R,
         "T2M_MAX has 0 usable days of month 1"},
        {"null", "\"20210101\":21.00", "\"20210101\":null", A, ""},
        {"text for a number", "\"20210101\":21.00", "\"20210101\":\"21\"", D, "1 values"},
        {"true for a number", "\"20210101\":21.00", "\"20210101\":true", D, "1 values"},
        {"2000 degrees", "\"20210101\":21.00", "\"20210101\":2000", D, "1 values"},
        {"9999", "\"20210101\":21.00", "\"20210101\":9999", D, "1 values"},
        {"bare NaN", "\"20210101\":21.00", "\"20210101\":NaN", R, "not JSON"},
        {"beyond a double", "\"20210101\":21.00", "\"20210101\":1e999", R, "not JSON"},
        {"negative zero of rain", "\"20210101\":0.00", "\"20210101\":-0.00", A, ""},
        {"rain -1", "\"20210101\":0.00", "\"20210101\":-1", D, "1 values"},
        {"another year", "\"20210101\":21.00", "\"20200101\":21.00", D, "1 entries"},
        {"30 February", "\"20210101\":21.00", "\"20210230\":21.00", D, "1 entries"},
        {"month 13", "\"20210101\":21.00", "\"20211301\":21.00", D, "1 entries"},
        {"an hour's key", "\"20210101\":21.00", "\"2021010106\":21.00", D, "1 entries"},
        {"no date", "\"20210101\":21.00", "\"ANN\":21.00", D, "1 entries"},
        {"coldest above warmest", "\"T2M_MIN\":{", "\"T2M_MIN\":{},\"x\":{", R, "usable days"},
    };
    size_t length = 0;
    size_t outcomes[3] = {0};
    char *base = power_document_write(&SITE, 2021, 10, &length);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        char *text = rows[i].find ? variant_change(base, rows[i].find, rows[i].replace)
                                  : strdup(rows[i].replace);
        struct weather_normal normals[12] = {{.rain_mm = 77}};
        struct feed_hours notes = {.entries = 77};
        struct error error = {""};
        char words[512] = "";
        int result = read_doc(text, normals, &notes, &error);
        if ((result != 0) != (rows[i].outcome == R))
            fail_msg("%s: %s: %s", rows[i].name, result ? "refused" : "taken", error.text);
        if (result == 0) {
            feed_hours_describe(&notes, words, sizeof words);
            bool dropped = notes.dropped_entries + notes.dropped_values > 0;
            if (dropped != (rows[i].outcome == D))
                fail_msg("%s: %s", rows[i].name, words);
            check_near(normals[0].temperature_max_c, 21, 1e-9, rows[i].name);
        } else {
            assert_true(notes.entries == 77 && normals[0].rain_mm == 77); /* untouched */
        }
        if (!strstr(result ? error.text : words, rows[i].words))
            fail_msg("%s: '%s'", rows[i].name, result ? error.text : words);
        outcomes[rows[i].outcome]++;
        free(text);
    }
    printf("variants of power: %zu refused, %zu with parts dropped, %zu taken\n", outcomes[R],
           outcomes[D], outcomes[A]);
    free(base);
}

static void feed_power_read_polar_night_and_odd_places(void **state)
{
    (void)state;
    static const struct sun_site sites[] = {{78.2, 15.6, 30}, {0, 0, 0},    {-54.8, -68.3, 30},
                                            {1, 180, 5},      {1, -180, 5}, {-0.0, 0, 0}};
    for (size_t i = 0; i < sizeof sites / sizeof *sites; i++) {
        size_t length = 0;
        char *text = power_document_write(&sites[i], 2021, 10, &length);
        struct weather_normal normals[12];
        struct feed_hours notes;
        struct error error = {""};
        if (feed_power_read(text, length, &sites[i], 2021, normals, &notes, &error) != 0)
            fail_msg("site %zu: %s", i, error.text);
        for (int m = 0; m < 12; m++)
            assert_true(normals[m].clear_ratio >= 0.1 && normals[m].clear_ratio <= 1);
        check_near(normals[5].clear_ratio, 0.7, 2e-2, "June");
        if (i == 0)
            check_near(normals[11].clear_ratio, 0.5, 0, "December of the far north: no sun");
        free(text);
    }
}

static void feed_power_read_cut_and_deep_documents_are_refused(void **state)
{
    (void)state;
    static char deep[100000];
    size_t length = 0;
    char *text = power_document_write(&SITE, 2021, 10, &length);
    struct weather_normal normals[12];
    struct feed_hours notes;
    memset(deep, '[', sizeof deep);
    assert_int_equal(feed_power_read(deep, sizeof deep, &SITE, 2021, normals, &notes, NULL), -1);
    for (size_t cut = 0; cut + 2 < length; cut += length / 97)
        assert_int_equal(feed_power_read(text, cut, &SITE, 2021, normals, &notes, NULL), -1);
    free(text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(feed_power_read_ten_years_give_twelve_months),
        cmocka_unit_test(feed_power_read_too_few_days_of_a_month_are_refused),
        cmocka_unit_test(feed_power_read_variants),
        cmocka_unit_test(feed_power_read_polar_night_and_odd_places),
        cmocka_unit_test(feed_power_read_cut_and_deep_documents_are_refused),
    };
    return cmocka_run_group_tests_name("feed_power", tests, NULL, NULL);
}
