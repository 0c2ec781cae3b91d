/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The adapter against documents written for the purpose (all values invented; shape and field
 * names as the service documents them). */
#include "check.h"

#include <math.h>
#include <stdbool.h>
#include <stdio.h>

#include "core/civil.h"
#include "daemon/feed_met.h"
#include "met_document.h"

static const int64_t SIX_O_CLOCK = 1935640800; /* 2031-05-04T06:00:00Z */
static const struct sun_site SITE = {41.5678, -3.1234, 212};

static char *read_data(const char *name, size_t *length)
{
    char path[512];
    snprintf(path, sizeof path, "%s/tests/%s", PERCHD_SOURCE, name);
    FILE *f = fopen(path, "rb");
    assert_non_null(f);
    char *text = calloc(1, 65536);
    assert_non_null(text);
    *length = fread(text, 1, 65535, f);
    fclose(f);
    return text;
}

static struct feed_hours read_ok(const char *bytes, size_t length)
{
    struct feed_hours met;
    struct error error = {""};
    if (feed_met_read(bytes, length, &SITE, &met, &error) != 0)
        fail_msg("refused: %s", error.text);
    return met;
}

/* The small document with one piece of text replaced. */
static char *variant(const char *find, const char *replace, size_t *length)
{
    char *text = read_data("data/met_small.json", length);
    const char *at = strstr(text, find);
    if (!at)
        fail_msg("the small document does not hold: %s", find);
    size_t head = (size_t)(at - text);
    size_t size = strlen(text) - strlen(find) + strlen(replace) + 1;
    char *changed = malloc(size);
    assert_non_null(changed);
    snprintf(changed, size, "%.*s%s%s", (int)head, text, replace, at + strlen(find));
    *length = size - 1;
    free(text);
    return changed;
}

static double rain_sum(const struct feed_hours *met)
{
    double sum = 0;
    for (size_t i = 0; i < met->hour_count; i++)
        if (!isnan(met->hours[i].rain_mm))
            sum += met->hours[i].rain_mm;
    return sum;
}

/* --- the small document by hand ----------------------------------------------------------- */

static void feed_met_read_small_document_fills_eight_slots(void **state)
{
    (void)state;
    size_t length = 0;
    char *text = read_data("data/met_small.json", &length);
    struct feed_hours met = read_ok(text, length);
    assert_int_equal(met.hour_count, 8);
    assert_true(met.issued_s == SIX_O_CLOCK - 48 * 60);
    for (size_t i = 0; i < 8; i++) {
        assert_true(met.hours[i].start_s == SIX_O_CLOCK + (int64_t)i * 3600);
        assert_true(met.hours[i].issued_s == met.issued_s);
        assert_int_equal(met.hours[i].kind, WEATHER_FORECAST);
        assert_true(isnan(met.hours[i].radiation_w_m2));
    }
    assert_int_equal(met.entries, 4);
    assert_int_equal(met.dropped_entries + met.dropped_values + met.duplicates, 0);
    assert_false(met.disordered || met.cloud_doubtful);
    check_near(rain_sum(&met), 1.8, 1e-9, "1-hour 0.0 + 0.6, then the 6-hour 1.2; not 3.6");
    feed_hours_free(&met);
    free(text);
}

static void feed_met_read_small_document_states_by_hand(void **state)
{
    (void)state;
    size_t length = 0;
    char *text = read_data("data/met_small.json", &length);
    struct feed_hours met = read_ok(text, length);
    const struct weather_raw *h = met.hours;
    /* Slot 6: means of the instants 6 and 7. */
    check_near(h[0].temperature_c, 12.0, 1e-9, "06 temperature (11.4 + 12.6) / 2");
    check_near(h[0].dewpoint_c, 7.95, 1e-9, "06 dew point");
    check_near(h[0].humidity_pct, 76.25, 1e-9, "06 humidity");
    check_near(h[0].wind_10m_m_s, 1.85, 1e-9, "06 wind");
    check_near(h[0].cloud_pct, 42.2, 1e-9, "06 cloud");
    assert_true(isnan(h[0].cloud_high_pct)); /* said at 6 only */
    check_near(h[0].rain_mm, 0, 0, "06 rain");
    check_near(h[0].rain_probability, 0.41, 1e-9, "06 probability of its 6-hour block");
    check_near(h[1].temperature_c, 12.85, 1e-9, "07 temperature (12.6 + 13.1) / 2");
    assert_true(isnan(h[1].dewpoint_c)); /* not said at 8 */
    check_near(h[1].rain_mm, 0.6, 0, "07 rain");
    /* Slots 8 to 13 lie between the instants 8 and 14. Straight lines, but the temperature dips
     * to the block's lowest, 12.7, which lies farther below 13.1 than 15.0 above 14.9:
     * b = (1.3 + sqrt(1.3^2 - 0.9^2)) / 2 = 1.119 below the line in the middle. */
    check_near(h[2].wind_10m_m_s, 2.2 + 0.9 / 12, 1e-9, "08 wind");
    check_near(h[7].wind_10m_m_s, 3.1 - 0.9 / 12, 1e-9, "13 wind");
    check_near(h[2].cloud_pct, 88 - 48.0 / 12, 1e-9, "08 cloud");
    check_near(h[2].temperature_c, (13.1 + 13.4 - 0.62169) / 2, 1e-4, "08 temperature");
    check_near(h[7].temperature_c, (14.6 - 0.62169 + 14.9) / 2, 1e-4, "13 temperature");
    for (size_t i = 2; i < 8; i++)
        check_near(h[i].rain_mm, 0.2, 1e-9, "08-13 rain 1.2 / 6");
    check_near(h[5].rain_probability, 0.41, 1e-9, "11: the last hour of the block at 6");
    assert_true(isnan(h[6].rain_probability)); /* the block at 8 gives none */
    feed_hours_free(&met);
    free(text);
}

/* --- a full-size document ----------------------------------------------------------------- */

static struct met_document full_document(void)
{
    struct met_document document =
        met_document_new(&SITE, SIX_O_CLOCK - 5 * 3600, SIX_O_CLOCK - 3600);
    document.rain_from_s = SIX_O_CLOCK + 40 * 3600; /* across the end of the 1-hour blocks */
    document.rain_to_s = SIX_O_CLOCK + 80 * 3600;
    document.rain_mm_h = 0.7;
    document.rain_probability = 65;
    return document;
}

static void feed_met_read_full_document_has_every_hour_and_every_drop_once(void **state)
{
    (void)state;
    /* Whatever hour it starts at, the tail starts at 0, 6, 12 or 18. */
    for (int shift = 0; shift < 6; shift++) {
        struct met_document document = full_document();
        document.first_s += shift * 3600;
        size_t length = 0;
        char *text = met_document_write(&document, &length);
        assert_non_null(text);
        assert_true(length > 40000);
        assert_true(met_document_entries(&document) >= 82);
        struct feed_hours met = read_ok(text, length);
        assert_int_equal(met.entries, (size_t)met_document_entries(&document));
        assert_int_equal(met.hour_count, (size_t)met_document_hours(&document));
        assert_int_equal(met.dropped_entries + met.dropped_values + met.duplicates, 0);
        check_near(rain_sum(&met), 40 * 0.7, 1e-6, "rain of the document");
        for (size_t i = 0; i < met.hour_count; i++) {
            const struct weather_raw *h = &met.hours[i];
            assert_true(h->start_s == document.first_s + (int64_t)i * 3600);
            assert_false(isnan(h->temperature_c) || isnan(h->dewpoint_c) ||
                         isnan(h->humidity_pct) || isnan(h->wind_10m_m_s) || isnan(h->cloud_pct) ||
                         isnan(h->rain_mm));
            /* The 5 bare hours have no block of their own, but one over them until the last. */
            if (i < (size_t)met_document_hourly(&document))
                check_near(h->rain_mm, met_document_rain_mm(&document, h->start_s, 1), 1e-9,
                           "1-hour rain");
        }
        feed_hours_free(&met);
        free(text);
    }
}

static void feed_met_read_tail_temperature_reaches_the_days_extremes(void **state)
{
    (void)state;
    struct met_document document = full_document();
    document.site.longitude_deg = -3.1234 - 0.1; /* within what counts as the same place */
    document.range_c = 16;
    size_t length = 0;
    char *text = met_document_write(&document, &length);
    struct feed_hours met = read_ok(text, length);
    double worst = 0;
    double sum = 0;
    size_t first = (size_t)met_document_hourly(&document);
    for (size_t i = 0; i < met.hour_count; i++) {
        double truth = (met_document_temperature_c(&document, met.hours[i].start_s) +
                        met_document_temperature_c(&document, met.hours[i].start_s + 3600)) /
                       2;
        double off = met.hours[i].temperature_c - truth;
        if (i < first) {
            check_near(off, 0, 0.06, "hourly part: rounding to tenths only");
            continue;
        }
        worst = fmax(worst, fabs(off));
        sum += off;
    }
    /* A straight line over 6 h of a cosine of amplitude 8 is up to 8 (1 - cos(pi/4)) = 2.3 off. */
    assert_true(worst < 1.0);
    assert_true(fabs(sum / (double)(met.hour_count - first)) < 0.1);
    feed_hours_free(&met);
    free(text);
}

/* --- variants ----------------------------------------------------------------------------- */

struct refusal {
    const char *name, *find, *replace, *words;
};

static void feed_met_read_broken_structure_is_refused_with_words(void **state)
{
    (void)state;
    static const struct refusal rows[] = {
        {"properties missing", "\"properties\":{", "\"other\":{", "properties"},
        {"properties an array", "\"properties\":{\"meta\":{", "\"properties\":[],\"x\":{\"meta\":{",
         "properties"},
        {"timeseries missing", "\"timeseries\"", "\"series\"", "timeseries"},
        {"timeseries an object", "\"timeseries\":[", "\"timeseries\":{},\"y\":[", "timeseries"},
        {"timeseries empty", "\"timeseries\":[", "\"timeseries\":[],\"y\":[", "timeseries"},
        {"meta missing", "\"meta\"", "\"mata\"", "updated_at"},
        {"updated_at missing", "\"updated_at\"", "\"updated\"", "updated_at"},
        {"updated_at no time", "2031-05-04T05:12:00Z", "yesterday", "updated_at"},
        {"updated_at a number", "\"2031-05-04T05:12:00Z\"", "1935637920", "updated_at"},
        {"updated_at far from series", "2031-05-04T05:12:00Z", "2030-05-04T05:12:00Z", "usable"},
        {"units missing", "\"units\"", "\"unit\"", "units"},
        {"temperature in fahrenheit", "\"air_temperature\":\"celsius\"",
         "\"air_temperature\":\"fahrenheit\"", "temperature in celsius"},
        {"temperature without unit", "\"air_temperature\":\"celsius\",", "",
         "temperature in celsius"},
        {"another place", "[-3.1234,41.5678,212]", "[-3.1234,42.5678,212]", "latitude 42.5678"},
        {"latitude first", "[-3.1234,41.5678,212]", "[41.5678,-3.1234,212]", "latitude -3.1234"},
        {"no place", "\"coordinates\"", "\"coords\"", "of which place"},
        {"a place in words", "[-3.1234,41.5678,212]", "[\"-3.1234\",\"41.5678\"]",
         "of which place"},
        {"a key twice", "\"relative_humidity\":79.0", "\"air_temperature\":79.0", "not JSON"},
        {"bare NaN", "11.4,", "NaN,", "not JSON"},
        {"bare Infinity", "11.4,", "-Infinity,", "not JSON"},
        {"beyond a double", "11.4,", "1e999,", "not JSON"},
        {"beyond an integer", "11.4,", "99999999999999999999,", "not JSON"},
        {"hexadecimal", "11.4,", "0x1p3,", "not JSON"},
        {"decimal comma", "11.4,", "11,4,", "not JSON"},
        {"lone surrogate", "fair_day", "\\ud800", "not JSON"},
        {"escaped NUL", "fair_day", "\\u0000", "not JSON"},
        {"invalid UTF-8", "fair_day", "\xff\xfe", "not JSON"},
        {"unended text", "fair_day\"", "fair_day", "not JSON"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        size_t length = 0;
        char *text = variant(rows[i].find, rows[i].replace, &length);
        struct feed_hours met = {.entries = 77};
        struct error error = {""};
        if (feed_met_read(text, length, &SITE, &met, &error) == 0)
            fail_msg("%s: not refused", rows[i].name);
        if (!strstr(error.text, rows[i].words))
            fail_msg("%s: the words are '%s'", rows[i].name, error.text);
        assert_int_equal(met.entries, 77); /* untouched */
        free(text);
    }
}

static void refuse_bytes(const char *name, const char *bytes, size_t length, const char *words)
{
    struct feed_hours met;
    struct error error = {""};
    if (feed_met_read(bytes, length, &SITE, &met, &error) == 0)
        fail_msg("%s: not refused", name);
    if (!strstr(error.text, words))
        fail_msg("%s: the words are '%s'", name, error.text);
}

static void feed_met_read_other_roots_and_no_json_are_refused(void **state)
{
    (void)state;
    static const char *const rows[][2] = {
        {"", "empty"},
        {"null", "not JSON"},
        {"[]", "properties"},
        {"\"x\"", "not JSON"},
        {"42", "not JSON"},
        {"{}", "properties"},
        {" \n\t", "not JSON"},
        {"<html><head><title>Access Denied</title></head></html>", "not JSON"},
        {"{\"type\":\"Feature\"", "not JSON"},
        {"{\"error\":true,\"reason\":\"overloaded\"}", "properties"},
        {"{\"status\":503,\"title\":\"Unavailable\",\"detail\":\"later\"}", "properties"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        refuse_bytes(rows[i][0], rows[i][0], strlen(rows[i][0]), rows[i][1]);
    refuse_bytes("NUL bytes", "{\0}", 3, "not JSON");
}

static void feed_met_read_text_behind_or_before_the_document_is_refused(void **state)
{
    (void)state;
    size_t length = 0;
    char *text = read_data("data/met_small.json", &length);
    char *longer = malloc(length + 64);
    assert_non_null(longer);
    int n = snprintf(longer, length + 64, "%sUnexpected error while streaming", text);
    refuse_bytes("behind", longer, (size_t)n, "not JSON");
    n = snprintf(longer, length + 64, "\xef\xbb\xbf%s", text);
    refuse_bytes("byte order mark", longer, (size_t)n, "not JSON");
    for (size_t cut = 1; cut + 2 < length; cut += 7)
        refuse_bytes("cut", text, cut, "not JSON");
    free(longer);
    free(text);
}

static void feed_met_read_deep_nesting_is_refused(void **state)
{
    (void)state;
    size_t depth = 100000;
    char *text = malloc(depth);
    assert_non_null(text);
    memset(text, '[', depth);
    refuse_bytes("100000 deep", text, depth, "not JSON");
    free(text);
}

static void feed_met_read_words_of_a_refusal_are_plain_text(void **state)
{
    (void)state;
    const char bytes[] = "{\"\x1b[31m\xc3\xa9\n";
    struct feed_hours met;
    struct error error = {""};
    assert_int_equal(feed_met_read(bytes, sizeof bytes - 1, NULL, &met, &error), -1);
    for (const char *c = error.text; *c; c++)
        assert_true(*c >= ' ' && *c <= '~');
}

static void feed_met_read_too_many_entries_are_refused(void **state)
{
    (void)state;
    char *text = NULL;
    size_t length = 0;
    FILE *f = open_memstream(&text, &length);
    fputs("{\"geometry\":{\"coordinates\":[-3.1234,41.5678]},\"properties\":{\"meta\":{"
          "\"updated_at\":\"2031-05-04T05:12:00Z\",\"units\":{}},\"timeseries\":[0",
          f);
    for (int i = 0; i < 2000; i++)
        fputs(",0", f);
    fputs("]}}", f);
    fclose(f);
    refuse_bytes("2001 entries", text, length, "2001 entries");
    free(text);
}

struct acceptance {
    const char *name, *find, *replace;
    size_t hours, dropped_entries, dropped_values;
    double rain_mm;
};

static void feed_met_read_bad_parts_are_dropped_and_counted(void **state)
{
    (void)state;
    /* 0.0 at 6; at 7 a fifth of the 1.8 that hour 6 leaves to 7-11; 1.2 from 8 on. */
    const double WITHOUT_7 = 0.0 + 1.8 / 5 + 1.2;
    const struct acceptance rows[] = {
        /* an entry without time, instant or details: its neighbours carry on */
        {"no time", "\"time\":\"2031-05-04T07:00:00Z\",", "", 8, 1, 0, WITHOUT_7},
        {"no instant", "\"instant\":{\"details\":{\"air_temperature\":12.6",
         "\"instance\":{\"details\":{\"air_temperature\":12.6", 8, 1, 0, WITHOUT_7},
        {"details an array", "\"details\":{\"air_temperature\":12.6,",
         "\"details\":[],\"z\":{\"a\":1,", 8, 1, 0, WITHOUT_7},
        {"an entry of another type", "\"timeseries\":[", "\"timeseries\":[17,null,[],", 8, 3, 0,
         1.8},
        /* times */
        {"offset", "2031-05-04T07:00:00Z", "2031-05-04T12:45:00+05:45", 8, 0, 0, 1.8},
        {"+00:00", "2031-05-04T07:00:00Z", "2031-05-04T07:00:00+00:00", 8, 0, 0, 1.8},
        {"fraction", "2031-05-04T07:00:00Z", "2031-05-04T07:00:00.000Z", 8, 0, 0, 1.8},
        {"lower case", "2031-05-04T07:00:00Z", "2031-05-04t07:00:00z", 8, 0, 0, 1.8},
        {"+0000", "2031-05-04T07:00:00Z", "2031-05-04T07:00:00+0000", 8, 1, 0, WITHOUT_7},
        {"no zone", "2031-05-04T07:00:00Z", "2031-05-04T07:00:00", 8, 1, 0, WITHOUT_7},
        {"a space", "2031-05-04T07:00:00Z", "2031-05-04 07:00:00Z", 8, 1, 0, WITHOUT_7},
        {"leap second", "2031-05-04T07:00:00Z", "2031-05-04T06:59:60Z", 8, 1, 0, WITHOUT_7},
        {"hour 24", "2031-05-04T07:00:00Z", "2031-05-03T24:00:00Z", 8, 1, 0, WITHOUT_7},
        {"30 February", "2031-05-04T07:00:00Z", "2031-02-30T07:00:00Z", 8, 1, 0, WITHOUT_7},
        {"year 1969", "2031-05-04T07:00:00Z", "1969-05-04T07:00:00Z", 8, 1, 0, WITHOUT_7},
        {"year 9999", "2031-05-04T07:00:00Z", "9999-05-04T07:00:00Z", 8, 1, 0, WITHOUT_7},
        /* values: without the instant at 7, slots 6 and 7 are interpolated from 6 and 8 */
        {"text for a number", "12.6", "\"12.6\"", 8, 0, 1, 1.8},
        {"true for a number", "12.6", "true", 8, 0, 1, 1.8},
        {"null", "12.6", "null", 8, 0, 0, 1.8},
        {"fill -999", "12.6", "-999", 8, 0, 1, 1.8},
        {"fill 9999", "12.6", "9999", 8, 0, 1, 1.8},
        {"fill 32767", "12.6", "32767", 8, 0, 1, 1.8},
        {"2000 degrees", "12.6", "2000", 8, 0, 1, 1.8},
        {"-150 degrees", "12.6", "-150.0", 8, 0, 1, 1.8},
        {"wind below 0", "\"wind_speed\":2.0", "\"wind_speed\":-3", 8, 0, 1, 1.8},
        {"humidity 250", "73.5", "250", 8, 0, 1, 1.8},
        {"dew point 5 above", "\"dew_point_temperature\":8.0", "\"dew_point_temperature\":17.6", 8,
         0, 1, 1.8},
        {"wind in km/h", "\"wind_speed\":\"m/s\"", "\"wind_speed\":\"km/h\"", 8, 0, 4, 1.8},
        {"celcius", "\"air_temperature\":\"celsius\"", "\"air_temperature\":\"celcius\"", 8, 0, 0,
         1.8},
        /* rain: an hour without its 1-hour amount shares what the 6-hour block over it leaves */
        {"rain -1", "\"precipitation_amount\":0.6", "\"precipitation_amount\":-1", 8, 0, 1,
         WITHOUT_7},
        {"rain 900", "\"precipitation_amount\":0.6", "\"precipitation_amount\":900", 8, 0, 1,
         WITHOUT_7},
        {"negative zero", "\"precipitation_amount\":0.6", "\"precipitation_amount\":-0.0", 8, 0, 0,
         1.2},
        {"slightly below 0", "\"precipitation_amount\":0.6", "\"precipitation_amount\":-0.04", 8, 0,
         0, 1.2},
        {"6-hour rain 500", "\"precipitation_amount\":1.2", "\"precipitation_amount\":500", 8, 0, 1,
         0.0 + 0.6 + 4 * (1.2 / 4)},
        {"rain in inches", "\"precipitation_amount\":\"mm\"", "\"precipitation_amount\":\"in\"", 8,
         0, 4, 0},
        /* order and number */
        {"extra keys everywhere", "\"meta\":{", "\"novelty\":[1,{\"a\":null}],\"meta\":{\"b\":[],",
         8, 0, 0, 1.8},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        size_t length = 0;
        char *text = variant(rows[i].find, rows[i].replace, &length);
        struct feed_hours met = read_ok(text, length);
        if (met.hour_count != rows[i].hours || met.dropped_entries != rows[i].dropped_entries ||
            met.dropped_values != rows[i].dropped_values)
            fail_msg("%s: %zu hours, %zu entries and %zu values dropped", rows[i].name,
                     met.hour_count, met.dropped_entries, met.dropped_values);
        for (size_t k = 0; k < met.hour_count; k++)
            assert_false(met.hours[k].temperature_c < -60 || met.hours[k].temperature_c > 60);
        check_near(rain_sum(&met), rows[i].rain_mm, 1e-9, rows[i].name);
        feed_hours_free(&met);
        free(text);
    }
}

static void feed_met_read_missing_instant_is_interpolated_but_not_rain(void **state)
{
    (void)state;
    size_t length = 0;
    char *text = variant("12.6", "null", &length);
    struct feed_hours met = read_ok(text, length);
    /* at 7: halfway from 11.4 to 13.1 */
    check_near(met.hours[0].temperature_c, (11.4 + 12.25) / 2, 1e-9, "06");
    check_near(met.hours[1].rain_mm, 0.6, 0, "07 rain stands");
    feed_hours_free(&met);
    free(text);
}

static void feed_met_read_humidity_just_over_saturation_is_saturation(void **state)
{
    (void)state;
    size_t length = 0;
    char *text = variant("\"relative_humidity\":79.0", "\"relative_humidity\":102.6", &length);
    struct feed_hours met = read_ok(text, length);
    check_near(met.hours[0].humidity_pct, (100 + 73.5) / 2, 1e-9, "capped at 100");
    feed_hours_free(&met);
    free(text);
    text = variant("\"dew_point_temperature\":7.9", "\"dew_point_temperature\":11.8", &length);
    met = read_ok(text, length);
    check_near(met.hours[0].dewpoint_c, (11.4 + 8.0) / 2, 1e-9, "capped at the temperature");
    assert_int_equal(met.dropped_values, 0);
    feed_hours_free(&met);
    free(text);
}

static void feed_met_read_time_given_twice_takes_the_last(void **state)
{
    (void)state;
    size_t length = 0;
    char *text =
        variant("\"timeseries\":[",
                "\"timeseries\":[{\"time\":\"2031-05-04T06:00:00Z\",\"data\":{\"instant\":{"
                "\"details\":{\"air_temperature\":-20.0}},\"next_1_hours\":{\"details\":{"
                "\"precipitation_amount\":9.0}}}},",
                &length);
    struct feed_hours met = read_ok(text, length);
    assert_int_equal(met.duplicates, 1);
    check_near(met.hours[0].temperature_c, 12.0, 1e-9, "the last counts");
    check_near(rain_sum(&met), 1.8, 1e-9, "its rain too");
    char words[256];
    feed_hours_describe(&met, words, sizeof words);
    assert_non_null(strstr(words, "1 times given twice"));
    feed_hours_free(&met);
    free(text);
}

static void feed_met_read_disordered_series_is_sorted(void **state)
{
    (void)state;
    size_t length = 0;
    char *text = read_data("data/met_small.json", &length);
    *strstr(text, "06:00:00Z") = '1'; /* 16:00 */
    struct feed_hours met = read_ok(text, length);
    assert_true(met.disordered);
    assert_true(met.hours[0].start_s == SIX_O_CLOCK + 3600);
    for (size_t i = 1; i < met.hour_count; i++)
        assert_true(met.hours[i].start_s > met.hours[i - 1].start_s);
    feed_hours_free(&met);
    free(text);
}

/* --- gaps and spacings -------------------------------------------------------------------- */

/* A series of entries `spacing_s` apart, temperature rising 1 C an hour from 0. */
static struct feed_hours read_spaced(int count, int64_t spacing_s, int skip_from, int skip_to)
{
    char *text = NULL;
    size_t length = 0;
    FILE *f = open_memstream(&text, &length);
    fputs("{\"type\":\"Feature\",\"geometry\":{\"coordinates\":[-3.1234,41.5678]},"
          "\"properties\":{\"meta\":{\"updated_at\":\"2031-05-04T05:12:00Z\",\"units\":{"
          "\"air_temperature\":\"celsius\",\"cloud_area_fraction\":\"%\"}},\"timeseries\":[",
          f);
    for (int i = 0; i < count; i++) {
        char time[CIVIL_TEXT];
        int64_t at_s = SIX_O_CLOCK + i * spacing_s;
        civil_format_rfc3339(at_s, 0, time);
        if (i >= skip_from && i < skip_to)
            continue;
        fprintf(f,
                "%s{\"time\":\"%s\",\"data\":{\"instant\":{\"details\":{\"air_temperature\":%.4f,"
                "\"cloud_area_fraction\":0.7}}}}",
                i > 0 ? "," : "", time, (double)(at_s - SIX_O_CLOCK) / 3600);
    }
    fputs("]}}", f);
    fclose(f);
    struct feed_hours met = read_ok(text, length);
    free(text);
    return met;
}

static void feed_met_read_spacings_give_hourly_slots(void **state)
{
    (void)state;
    const int64_t spacings_s[] = {1800, 3600, 3 * 3600, 6 * 3600};
    for (size_t i = 0; i < 4; i++) {
        struct feed_hours met = read_spaced(9, spacings_s[i], 0, 0);
        assert_int_equal(met.hour_count, (size_t)(8 * spacings_s[i] / 3600));
        for (size_t h = 0; h < met.hour_count; h++)
            check_near(met.hours[h].temperature_c, (double)h + 0.5, 1e-3, "on the line");
        feed_hours_free(&met);
    }
}

static void feed_met_read_gaps_up_to_six_hours_are_bridged(void **state)
{
    (void)state;
    struct feed_hours met = read_spaced(40, 3600, 10, 11);
    assert_int_equal(met.hour_count, 39);
    feed_hours_free(&met);
    met = read_spaced(40, 3600, 10, 15); /* 5 missing: 6 h between known ones */
    assert_int_equal(met.hour_count, 39);
    check_near(met.hours[11].temperature_c, 11.5, 1e-3, "bridged");
    feed_hours_free(&met);
    met = read_spaced(60, 3600, 10, 40); /* 30 missing: nothing is made up */
    assert_int_equal(met.hour_count, 59 - 31);
    check_near(met.hours[8].temperature_c, 8.5, 1e-3, "before");
    check_near(met.hours[9].temperature_c, 40.5, 1e-3, "after");
    feed_hours_free(&met);
}

static void feed_met_read_cloud_as_fraction_is_doubted_not_changed(void **state)
{
    (void)state;
    struct feed_hours met = read_spaced(30, 3600, 0, 0);
    assert_true(met.cloud_doubtful);
    check_near(met.hours[0].cloud_pct, 0.7, 1e-9, "as given");
    feed_hours_free(&met);
    met = read_spaced(20, 3600, 0, 0); /* too few to judge */
    assert_false(met.cloud_doubtful);
    feed_hours_free(&met);
}

static void feed_met_read_drizzle_sums_up(void **state)
{
    (void)state;
    struct met_document document = full_document();
    document.rain_from_s = document.first_s;
    document.rain_to_s = document.first_s + 24 * 3600;
    document.rain_mm_h = 0.1;
    size_t length = 0;
    char *text = met_document_write(&document, &length);
    struct feed_hours met = read_ok(text, length);
    check_near(rain_sum(&met), 2.4, 1e-6, "24 h of 0.1 mm");
    feed_hours_free(&met);
    free(text);
}

static void feed_met_read_without_place_takes_any(void **state)
{
    (void)state;
    size_t length = 0;
    char *text = read_data("data/met_small.json", &length);
    struct feed_hours met;
    struct error error;
    assert_int_equal(feed_met_read(text, length, NULL, &met, &error), 0);
    feed_hours_free(&met);
    free(text);
}

static void feed_met_read_place_across_the_date_line_is_the_same(void **state)
{
    (void)state;
    size_t length = 0;
    struct sun_site site = {-17, 179.95, 0};
    struct met_document document = met_document_new(&site, SIX_O_CLOCK, SIX_O_CLOCK);
    document.site.longitude_deg = -179.95;
    char *text = met_document_write(&document, &length);
    struct feed_hours met;
    struct error error;
    assert_int_equal(feed_met_read(text, length, &site, &met, &error), 0);
    feed_hours_free(&met);
    free(text);
}

static void feed_met_read_any_changed_byte_neither_crashes_nor_gives_nonsense(void **state)
{
    (void)state;
    uint64_t seed = 42;
    size_t length = 0;
    char *text = read_data("data/met_small.json", &length);
    size_t taken = 0;
    for (int round = 0; round < 4000; round++) {
        size_t at = (size_t)(check_random(&seed) * (double)length);
        char before = text[at];
        text[at] = (char)(int)(check_random(&seed) * 256);
        struct feed_hours met;
        struct error error = {""};
        if (feed_met_read(text, length, &SITE, &met, &error) == 0) {
            taken++;
            for (size_t i = 0; i < met.hour_count; i++) {
                const struct weather_raw *h = &met.hours[i];
                assert_false(h->temperature_c < -60 || h->temperature_c > 60);
                assert_false(h->dewpoint_c > h->temperature_c + 1e-9);
                assert_false(h->rain_mm < 0 || h->rain_mm > 200);
                assert_false(h->rain_probability < 0 || h->rain_probability > 1);
                assert_true(h->start_s % 3600 == 0);
            }
            feed_hours_free(&met);
        } else {
            assert_true(error.text[0] != '\0');
        }
        text[at] = before;
    }
    assert_true(taken > 100 && taken < 4000);
    free(text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(feed_met_read_small_document_fills_eight_slots),
        cmocka_unit_test(feed_met_read_small_document_states_by_hand),
        cmocka_unit_test(feed_met_read_full_document_has_every_hour_and_every_drop_once),
        cmocka_unit_test(feed_met_read_tail_temperature_reaches_the_days_extremes),
        cmocka_unit_test(feed_met_read_broken_structure_is_refused_with_words),
        cmocka_unit_test(feed_met_read_other_roots_and_no_json_are_refused),
        cmocka_unit_test(feed_met_read_text_behind_or_before_the_document_is_refused),
        cmocka_unit_test(feed_met_read_deep_nesting_is_refused),
        cmocka_unit_test(feed_met_read_words_of_a_refusal_are_plain_text),
        cmocka_unit_test(feed_met_read_too_many_entries_are_refused),
        cmocka_unit_test(feed_met_read_bad_parts_are_dropped_and_counted),
        cmocka_unit_test(feed_met_read_missing_instant_is_interpolated_but_not_rain),
        cmocka_unit_test(feed_met_read_humidity_just_over_saturation_is_saturation),
        cmocka_unit_test(feed_met_read_time_given_twice_takes_the_last),
        cmocka_unit_test(feed_met_read_disordered_series_is_sorted),
        cmocka_unit_test(feed_met_read_spacings_give_hourly_slots),
        cmocka_unit_test(feed_met_read_gaps_up_to_six_hours_are_bridged),
        cmocka_unit_test(feed_met_read_cloud_as_fraction_is_doubted_not_changed),
        cmocka_unit_test(feed_met_read_drizzle_sums_up),
        cmocka_unit_test(feed_met_read_without_place_takes_any),
        cmocka_unit_test(feed_met_read_place_across_the_date_line_is_the_same),
        cmocka_unit_test(feed_met_read_any_changed_byte_neither_crashes_nor_gives_nonsense),
    };
    return cmocka_run_group_tests_name("feed_met", tests, NULL, NULL);
}
