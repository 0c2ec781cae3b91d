/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The frame of the desk calculator: reading keys, refusing, printing, whatever the topic. */
#include "check.h"

#include <math.h>
#include <stdio.h>

#include "core/sun.h"
#include "daemon/number.h"
#include "daemon/reckon.h"
#include "desk.h"

#define COUNT(a) (sizeof(a) / sizeof((a)[0]))
#define SUN      "sun latitude_deg=45 date=2026-07-01 "

/* --- numbers ------------------------------------------------------------------------------ */

/* RFC 8259 section 6, and what leaves the range of a double. */
static void number_parse_follows_the_json_grammar(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        double value;
    } good[] = {
        {"0", 0},     {"-0", 0},        {"7", 7},       {"-7.25", -7.25}, {"0.5", 0.5},
        {"1e2", 100}, {"1E+2", 100},    {"1e-2", 0.01}, {"10.0", 10},     {"1.5e3", 1500},
        {"0e9", 0},   {"1e308", 1e308}, {"1e-400", 0},  {"-0.0", 0},      {"123456789", 123456789},
    };
    static const char *const bad[] = {
        "",         "-",   "+5",       "05",    "-05",   "00",    ".5",  "5.",   "1.e2",  "1e",
        "1e+",      "e5",  "0x10",     "0X1p3", "nan",   "NaN",   "inf", "-inf", "1e999", "-1e999",
        " 5",       "5 ",  "5\t",      "5,0",   "1_000", "1 000", "--5", "5-",   "1e5.0", "1ee5",
        "\xd9\xa5", "5\n", "Infinity", "null",  "true",  "\"5\"", "1/2", "5%",
    };
    for (size_t i = 0; i < COUNT(good); i++) {
        double value = NAN;
        if (!number_parse(good[i].text, strlen(good[i].text), &value) || value != good[i].value)
            fail_msg("'%s' gave %g", good[i].text, value);
    }
    for (size_t i = 0; i < COUNT(bad); i++) {
        double value = 7;
        if (number_parse(bad[i], strlen(bad[i]), &value) || value != 7)
            fail_msg("'%s' was taken as %g", bad[i], value);
    }
}

/* The text need not end where the number does. */
static void number_parse_reads_no_further_than_told(void **state)
{
    (void)state;
    double value = 0;
    assert_true(number_parse("12345", 2, &value));
    assert_true(value == 12);
    assert_true(number_parse("1,2", 1, &value));
    assert_false(number_parse("12e5", 3, &value));
    char digits[100];
    memset(digits, '1', sizeof digits);
    assert_false(number_parse(digits, sizeof digits, &value)); /* longer than any number we print */
}

static void number_format_is_short_and_reads_back(void **state)
{
    (void)state;
    static const struct {
        double value;
        const char *text;
    } rows[] = {{90, "90"},       {-450, "-450"},         {6000, "6000"}, {0.16, "0.16"},
                {0.05, "0.05"},   {1388.888, "1388.888"}, {0, "0"},       {-180, "-180"},
                {1e6, "1000000"}, {0.1, "0.1"},           {2, "2"},       {12345.5, "12345.5"}};
    uint64_t seed = 8259;
    char text[32];
    for (size_t i = 0; i < COUNT(rows); i++) {
        number_format(rows[i].value, text, sizeof text);
        assert_string_equal(text, rows[i].text);
    }
    print_message("seed %lu\n", (unsigned long)seed);
    for (int i = 0; i < 20000; i++) {
        double value = check_between(&seed, -1, 1) * pow(10, check_between(&seed, -20, 20));
        double back = NAN;
        number_format(value, text, sizeof text);
        assert_true(number_parse(text, strlen(text), &back) && back == value);
    }
}

/* --- help --------------------------------------------------------------------------------- */

static void run_without_topic_lists_the_topics(void **state)
{
    (void)state;
    static const char *const topics[] = {"sun ", "air ", "wind ", "et0-day ", "et0-hour "};
    static const char *const ways[] = {"", "--help"};
    for (size_t w = 0; w < COUNT(ways); w++) {
        char out[8192];
        char err[256];
        assert_int_equal(desk_run(DESK_PROGRAM, ways[w], out, sizeof out, err, sizeof err), 0);
        assert_string_equal(err, "");
        for (size_t i = 0; i < COUNT(topics); i++)
            if (!strstr(out, topics[i]))
                fail_msg("no '%s' in %s", topics[i], out);
        for (size_t i = 0; i < reckon_weather_count; i++)
            assert_non_null(strstr(out, reckon_weather_topics[i].name));
        for (size_t i = 0; i < reckon_mix_count; i++)
            assert_non_null(strstr(out, reckon_mix_topics[i].name));
        for (size_t i = 0; i < reckon_water_count; i++)
            assert_non_null(strstr(out, reckon_water_topics[i].name));
    }
}

static void check_help_of(const struct reckon_topic *topic)
{
    char out[16384];
    char err[256];
    char words[128];
    snprintf(words, sizeof words, "%s --help", topic->name);
    assert_int_equal(desk_run(DESK_HERE, words, out, sizeof out, err, sizeof err), 0);
    assert_string_equal(err, "");
    for (size_t i = 0; i < topic->key_count; i++) {
        const char *line = strstr(out, topic->keys[i].name);
        assert_non_null(line);
        assert_non_null(strstr(line, topic->keys[i].about));
        if (topic->keys[i].fallback)
            assert_non_null(strstr(line, topic->keys[i].fallback));
    }
    for (size_t i = 0; i < topic->out_count; i++)
        assert_non_null(strstr(out, topic->outs[i].name));
}

static void help_of_each_topic_names_all_keys_and_answers(void **state)
{
    (void)state;
    for (size_t i = 0; i < reckon_weather_count; i++)
        check_help_of(&reckon_weather_topics[i]);
    for (size_t i = 0; i < reckon_mix_count; i++)
        check_help_of(&reckon_mix_topics[i]);
    for (size_t i = 0; i < reckon_water_count; i++)
        check_help_of(&reckon_water_topics[i]);
}

static void help_says_ranges_units_and_defaults(void **state)
{
    (void)state;
    char out[16384];
    char err[256];
    assert_int_equal(desk_run(DESK_PROGRAM, "sun --help", out, sizeof out, err, sizeof err), 0);
    assert_non_null(strstr(out, "-90 to 90"));
    assert_non_null(strstr(out, "a whole number, 0 to 23"));
    assert_non_null(strstr(out, "-450 to 6000 (default 0)"));
    assert_non_null(strstr(out, "YYYY-MM-DD"));
    assert_non_null(strstr(out, "MJ/m2"));
    assert_int_equal(desk_run(DESK_HERE, "et0-hour --help", out, sizeof out, err, sizeof err), 0);
    assert_non_null(strstr(out, "asce2005|fao56 (default asce2005)"));
    assert_non_null(strstr(out, "RFC 3339"));
}

static void help_wins_over_keys_that_would_be_refused(void **state)
{
    (void)state;
    char out[16384];
    char err[256];
    assert_int_equal(
        desk_run(DESK_HERE, "sun latitude_deg=x foo --help", out, sizeof out, err, sizeof err), 0);
    assert_string_equal(err, "");
    assert_non_null(strstr(out, "latitude_deg"));
}

/* Ranges in the tables are ranges, names are names, and no topic shadows another. */
static void tables_are_in_order(void **state)
{
    (void)state;
    for (size_t t = 0; t < reckon_weather_count; t++) {
        const struct reckon_topic *topic = &reckon_weather_topics[t];
        for (size_t i = 0; i < topic->key_count; i++) {
            const struct reckon_key *key = &topic->keys[i];
            if (key->kind == RECKON_NUMBER || key->kind == RECKON_INTEGER)
                assert_true(key->min < key->max);
            if (key->kind == RECKON_WORD)
                assert_non_null(key->words);
            assert_false(key->required && key->fallback);
            for (size_t j = 0; j < i; j++)
                assert_string_not_equal(key->name, topic->keys[j].name);
        }
        for (size_t j = 0; j < t; j++)
            assert_string_not_equal(topic->name, reckon_weather_topics[j].name);
    }
}

/* --- refusals ----------------------------------------------------------------------------- */

static void run_unknown_topic_is_refused(void **state)
{
    (void)state;
    static const char *const rows[] = {"moon", "Sun", "su", "sunny", "--json", "latitude_deg=45"};
    for (size_t i = 0; i < COUNT(rows); i++) {
        char out[512];
        char err[1024];
        assert_int_equal(desk_run(DESK_HERE, rows[i], out, sizeof out, err, sizeof err), 2);
        assert_string_equal(out, "");
        assert_non_null(strstr(err, rows[i]));
        assert_non_null(strstr(err, "accepted are sun, air"));
        assert_ptr_equal(strchr(err, '\n'), err + strlen(err) - 1);
    }
}

static void run_bad_keys_name_key_value_and_range(void **state)
{
    (void)state;
    static const char *const rows[][3] = {
        /* words, key, what must be said beside 'accepted' */
        {"sun latitude_deg=91 date=2026-07-01", "latitude_deg", "'91', accepted is -90 to 90"},
        {"sun latitude_deg=+45 date=2026-07-01", "latitude_deg", "'+45'"},
        {"sun latitude_deg=045 date=2026-07-01", "latitude_deg", "'045'"},
        {"sun latitude_deg=0x2d date=2026-07-01", "latitude_deg", "'0x2d'"},
        {"sun latitude_deg=nan date=2026-07-01", "latitude_deg", "'nan'"},
        {"sun latitude_deg=1e999 date=2026-07-01", "latitude_deg", "'1e999'"},
        {"sun latitude_deg= date=2026-07-01", "latitude_deg", "''"},
        {"sun latitude_deg=45,5 date=2026-07-01", "latitude_deg", "'45,5'"},
        {"sun date=2026-07-01", "latitude_deg", "missing, accepted is -90 to 90"},
        {SUN "latitude_deg=46", "latitude_deg", "'45' and '46', accepted is one value"},
        {SUN "latitude_deg=45", "latitude_deg", "'45' and '45'"},
        {SUN "height=3", "height", "'3', not a key of sun; accepted are latitude_deg, date"},
        {SUN "Elevation_m=3", "Elevation_m", "not a key"},
        {SUN "elevation=3", "elevation", "not a key"},
        {SUN "elevation_mm=3", "elevation_mm", "not a key"},
        {SUN "=3", "", "not a key"},
        {SUN "elevation_m", "elevation_m", "accepted is key=value"},
        {SUN "--verbose", "--verbose", "accepted is key=value, --json or --help"},
        {SUN "-j", "-j", "--json"},
        {SUN "elevation_m==3", "elevation_m", "'=3'"},
        {"air ventilation=asmann|natural", "ventilation", "accepted is asmann|natural|indoor"},
        {"air ventilation=asman", "ventilation", "'asman'"},
        {"air ventilation=indoor|", "ventilation", "'indoor|'"},
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        char out[512];
        char err[4096];
        desk_check_refused(DESK_HERE, rows[i][0], rows[i][1]);
        desk_run(DESK_HERE, rows[i][0], out, sizeof out, err, sizeof err);
        if (!strstr(err, rows[i][2]))
            fail_msg("%s: '%s' is not in: %s", rows[i][0], rows[i][2], err);
    }
    desk_check_refused(DESK_PROGRAM, rows[0][0], rows[0][1]);
    desk_check_refused(DESK_PROGRAM, rows[9][0], rows[9][1]);
}

static void run_range_ends_belong_to_the_range(void **state)
{
    (void)state;
    json_decref(desk_answer("sun latitude_deg=90 date=2026-07-01"));
    json_decref(desk_answer("sun latitude_deg=-90 date=2026-07-01"));
    json_decref(desk_answer("sun latitude_deg=45 longitude_deg=180 date=2026-07-01 hour_utc=0"));
    json_decref(desk_answer("sun latitude_deg=45 longitude_deg=-180 date=2026-07-01 hour_utc=23"));
    json_decref(desk_answer("sun latitude_deg=45 date=0001-01-01 elevation_m=6000"));
    json_decref(desk_answer("sun latitude_deg=45 date=9999-12-31 elevation_m=-450"));
    json_decref(desk_answer("wind wind_m_s=75 wind_height_m=200"));
    json_decref(desk_answer("wind wind_m_s=0 wind_height_m=0.5"));
    desk_check_refused(DESK_HERE, "wind wind_m_s=75.00000001 wind_height_m=2", "wind_m_s");
    desk_check_refused(DESK_HERE, "sun latitude_deg=90.00000001 date=2026-07-01", "latitude_deg");
}

static void run_whole_numbers_may_be_written_as_json_has_them(void **state)
{
    (void)state;
    const char *base = "sun latitude_deg=45 longitude_deg=5 date=2026-07-01 hour_utc=";
    static const char *const same[] = {"10", "10.0", "1e1", "1.0E+1"};
    json_t *first = NULL;
    for (size_t i = 0; i < COUNT(same); i++) {
        char words[128];
        snprintf(words, sizeof words, "%s%s", base, same[i]);
        json_t *answer = desk_answer(words);
        if (!first)
            first = json_incref(answer);
        assert_true(json_equal(first, answer));
        json_decref(answer);
    }
    json_decref(first);
}

/* A value with line ends and terminal codes: still one line, nothing a terminal obeys. */
static void run_hostile_text_stays_on_one_line(void **state)
{
    (void)state;
    static const char *const words[] = {
        "sun latitude_deg=4\n5 date=2026-07-01",
        "sun latitude_deg=\033[2J date=2026-07-01",
        "sun lati\ntude=5",
        "sun\n",
        "sun \r\nfoo",
        "sun date=\x7f",
        "sun date=\x01\x02\x03",
    };
    for (size_t i = 0; i < COUNT(words); i++) {
        char out[512];
        char err[4096];
        assert_int_equal(desk_run(DESK_HERE, words[i], out, sizeof out, err, sizeof err), 2);
        assert_string_equal(out, "");
        assert_ptr_equal(strchr(err, '\n'), err + strlen(err) - 1);
        for (const char *c = err; c[1]; c++)
            assert_true((unsigned char)*c >= 0x20 && *c != 0x7f);
    }
}

static void run_very_long_words_are_refused_in_bounds(void **state)
{
    (void)state;
    static char huge[70000];
    static char value[70100];
    char topic[] = "sun";
    char *const argv_key[] = {topic, huge};
    char *const argv_value[] = {topic, value};
    char *const argv_topic[] = {huge};
    memset(huge, 'a', sizeof huge - 1);
    snprintf(value, sizeof value, "latitude_deg=%s", huge);
    const struct {
        int argc;
        char *const *argv;
    } calls[] = {{2, argv_key}, {2, argv_value}, {1, argv_topic}};
    for (size_t i = 0; i < COUNT(calls); i++) {
        char *text = NULL;
        size_t size = 0;
        FILE *err = open_memstream(&text, &size);
        assert_int_equal(reckon_run(calls[i].argc, calls[i].argv, stdout, err), 2);
        fclose(err);
        assert_true(size > 20 && size < 2200);
        free(text);
    }
}

static void run_list_takes_256_values_and_no_more(void **state)
{
    (void)state;
    for (int count = 256; count <= 257; count++) {
        char list[1024] = "";
        char words[1400];
        char out[65536];
        char err[4096];
        for (int i = 0; i < count; i++)
            strcat(list, i ? ",1" : "1");
        snprintf(words, sizeof words,
                 "retention theta_s=0.8 theta_r=0.1 alpha_per_cm=0.1 n=1.5 suction_cm=%s --json",
                 list);
        int code = desk_run(DESK_HERE, words, out, sizeof out, err, sizeof err);
        assert_int_equal(code, count == 256 ? 0 : 2);
        if (code == 2)
            assert_non_null(strstr(err, "at most 256"));
    }
}

static void run_list_holes_are_refused(void **state)
{
    (void)state;
    static const char *const lists[] = {"", ",", "1,", ",1", "1,,2", "1;2", "1, 2", "1,x", "1,nan"};
    for (size_t i = 0; i < COUNT(lists); i++) {
        char topic[] = "uniformity";
        char word[64];
        char *const argv[] = {topic, word};
        char *text = NULL;
        size_t size = 0;
        FILE *err = open_memstream(&text, &size);
        snprintf(word, sizeof word, "catches=%s", lists[i]);
        assert_int_equal(reckon_run(2, argv, stdout, err), 2);
        fclose(err);
        assert_non_null(strstr(text, ": catches: "));
        free(text);
    }
}

/* --- answers ------------------------------------------------------------------------------ */

/* Full double precision: what is read back is what core computed, to the last bit. */
static void json_numbers_are_exact(void **state)
{
    (void)state;
    uint64_t seed = 17;
    print_message("seed %lu\n", (unsigned long)seed);
    for (int i = 0; i < 300; i++) {
        struct sun_site site = {check_between(&seed, -90, 90), 0, check_between(&seed, -450, 6000)};
        struct sun_day day;
        char words[256];
        snprintf(words, sizeof words, "sun latitude_deg=%.17g elevation_m=%.17g date=2023-04-20",
                 site.latitude_deg, site.elevation_m);
        assert_int_equal(sun_of_day(&site, 110, &day), STATUS_OK);
        json_t *answer = desk_answer(words);
        assert_true(desk_number(answer, "extraterrestrial_mj_m2") == day.extraterrestrial_mj_m2);
        assert_true(desk_number(answer, "clear_sky_mj_m2") == day.clear_sky_mj_m2);
        assert_true(desk_number(answer, "sunset_angle_rad") == day.sunset_angle_rad);
        json_decref(answer);
    }
}

static void json_has_the_declared_answers_and_notes(void **state)
{
    (void)state;
    json_t *answer = desk_answer("sun latitude_deg=45 longitude_deg=5 date=2026-07-01 hour_utc=12");
    for (size_t i = 0; i < reckon_weather_topics[0].out_count; i++)
        assert_true(desk_has(answer, reckon_weather_topics[0].outs[i].name));
    assert_int_equal(json_object_size(answer), reckon_weather_topics[0].out_count + 1);
    json_decref(answer);
}

static void json_never_has_a_negative_zero(void **state)
{
    (void)state;
    char out[4096];
    char err[256];
    const char *words = "et0-day latitude_deg=80 elevation_m=0 date=2026-12-21 "
                        "temperature_max_c=-20 temperature_min_c=-20 --json";
    assert_int_equal(desk_run(DESK_HERE, words, out, sizeof out, err, sizeof err), 0);
    assert_null(strstr(out, "-0.0,"));
}

static void table_shows_value_unit_source_and_notes(void **state)
{
    (void)state;
    char out[4096];
    char err[256];
    assert_int_equal(desk_run(DESK_PROGRAM, "sun latitude_deg=-20 date=2001-09-03", out, sizeof out,
                              err, sizeof err),
                     0);
    assert_string_equal(err, "");
    const char *line = strstr(out, "extraterrestrial_mj_m2");
    assert_non_null(line);
    assert_ptr_equal(strstr(line, "32.194  MJ/m2"), strstr(out, "32.194"));
    assert_non_null(strstr(line, "FAO-56 eq 21"));
    assert_non_null(strstr(out, "note: elevation_m not given: 0 used\n"));
}

static void json_option_may_stand_anywhere(void **state)
{
    (void)state;
    static const char *const rows[] = {"sun --json latitude_deg=45 date=2026-07-01",
                                       "sun latitude_deg=45 --json date=2026-07-01",
                                       "sun latitude_deg=45 date=2026-07-01 --json"};
    for (size_t i = 0; i < COUNT(rows); i++) {
        char out[4096];
        char err[256];
        assert_int_equal(desk_run(DESK_HERE, rows[i], out, sizeof out, err, sizeof err), 0);
        assert_int_equal(out[0], '{');
        assert_int_equal(out[strlen(out) - 1], '\n');
    }
}

/* A disk that is full: exit 1 and one line, for the table, JSON and help. */
static void run_unwritable_output_fails(void **state)
{
    (void)state;
    static const char *const rows[] = {"sun latitude_deg=45 date=2026-07-01 >/dev/full",
                                       "sun latitude_deg=45 date=2026-07-01 --json >/dev/full",
                                       "sun --help >/dev/full", ">/dev/full"};
    for (size_t i = 0; i < COUNT(rows); i++) {
        char out[256];
        char err[1024];
        assert_int_equal(desk_run(DESK_PROGRAM, rows[i], out, sizeof out, err, sizeof err), 1);
        assert_true(strlen(err) > 0);
        assert_ptr_equal(strchr(err, '\n'), err + strlen(err) - 1);
    }
}

/* --- at random ---------------------------------------------------------------------------- */

static size_t below(uint64_t *seed, size_t count)
{
    return (size_t)(check_random(seed) * (double)count);
}

static const struct reckon_topic *random_topic(uint64_t *seed)
{
    size_t i = below(seed, reckon_weather_count + reckon_mix_count + reckon_water_count);
    if (i < reckon_weather_count)
        return &reckon_weather_topics[i];
    i -= reckon_weather_count;
    return i < reckon_mix_count ? &reckon_mix_topics[i]
                                : &reckon_water_topics[i - reckon_mix_count];
}

/* A value that the key's own range accepts. */
static void good_value(uint64_t *seed, const struct reckon_key *key, char *text, size_t size)
{
    double x = check_between(seed, key->min, key->max);
    const char *words = key->words ? key->words : "";
    struct civil_date date = civil_from_days((int64_t)check_between(seed, -719162, 2932896));
    switch (key->kind) {
    case RECKON_NUMBER:
        snprintf(text, size, "%.*g", 1 + (int)below(seed, 17), x);
        break;
    case RECKON_INTEGER:
        snprintf(text, size, "%.0f", x);
        break;
    case RECKON_LIST:
        snprintf(text, size, "%.4f,%.4f,%.4f,%.4f", x, check_between(seed, key->min, key->max),
                 check_between(seed, key->min, key->max), x);
        break;
    case RECKON_WORD:
        for (size_t skip = below(seed, 3); skip > 0 && strchr(words, '|'); skip--)
            words = strchr(words, '|') + 1;
        snprintf(text, size, "%.*s", (int)strcspn(words, "|"), words);
        break;
    case RECKON_DATE:
        snprintf(text, size, "%04d-%02d-%02d", date.year, date.month, date.day);
        break;
    case RECKON_TIME:
        civil_format_rfc3339((int64_t)check_between(seed, -6.2e10, 2.5e11),
                             ((int32_t)below(seed, 105) - 52) * 900, text);
        break;
    }
}

static void garbage_value(uint64_t *seed, char *text, size_t size)
{
    static const char *const odd[] = {
        "",       "nan",  "inf",     "-1", "1e308", "-1e308", "0",          "1e-320",
        "90",     "365",  "1,2,3,4", ",",  "5,0",   "yes",    "2024-02-29", "2026-07-01T00:00:00Z",
        "asmann", "%s%n", "\xff"};
    if (check_random(seed) < 0.7) {
        snprintf(text, size, "%s", odd[below(seed, COUNT(odd))]);
        return;
    }
    size_t length = below(seed, size - 1);
    for (size_t i = 0; i < length; i++)
        text[i] = (char)(1 + below(seed, 255));
    text[length] = '\0';
}

enum { WORDS_MAX = 40, WORD_SIZE = 120 };

static int run_random(uint64_t *seed, const struct reckon_topic *topic, double chance_of_garbage,
                      bool *json, char **out, char **err)
{
    char words[WORDS_MAX][WORD_SIZE];
    char *argv[WORDS_MAX];
    int argc = 0;
    size_t size = 0;
    snprintf(words[argc++], WORD_SIZE, "%s", topic->name);
    for (size_t i = 0; i < topic->key_count && argc < WORDS_MAX - 2; i++) {
        char value[64];
        const struct reckon_key *key = &topic->keys[i];
        bool bad = check_random(seed) < chance_of_garbage;
        if (!(key->required ? check_random(seed) > chance_of_garbage / 4
                            : check_random(seed) < 0.4))
            continue;
        if (bad)
            garbage_value(seed, value, sizeof value);
        else
            good_value(seed, key, value, sizeof value);
        snprintf(words[argc++], WORD_SIZE, "%s=%s", key->name, value);
    }
    *json = check_random(seed) < 0.5;
    if (*json)
        snprintf(words[argc++], WORD_SIZE, "--json");
    for (int i = 0; i < argc; i++)
        argv[i] = words[i];
    FILE *out_stream = open_memstream(out, &size);
    FILE *err_stream = open_memstream(err, &size);
    int code = reckon_run(argc, argv, out_stream, err_stream);
    fclose(out_stream);
    fclose(err_stream);
    return code;
}

static void check_all_finite(const char *out)
{
    json_t *answer = json_loads(out, JSON_REJECT_DUPLICATES, NULL);
    const char *key = NULL;
    json_t *value = NULL;
    if (!answer)
        fail_msg("not JSON: %s", out);
    json_object_foreach(answer, key, value)
        assert_true(json_is_array(value) || isfinite(json_number_value(value)));
    json_decref(answer);
}

/* Every call ends in an answer, or in one line and nothing else. */
static void check_outcome(int code, bool json, const char *out, const char *err)
{
    if (code == 0) {
        assert_string_equal(err, "");
        if (json)
            check_all_finite(out);
        else
            assert_true(!strstr(out, " nan ") && !strstr(out, " inf ") && !strstr(out, "-nan"));
        return;
    }
    if (code != 2)
        fail_msg("exit %d: %s", code, err);
    assert_string_equal(out, "");
    assert_true(strlen(err) > 0 && strchr(err, '\n') == err + strlen(err) - 1);
}

static void run_random_keys_end_with_an_answer_or_a_refusal(void **state)
{
    (void)state;
    uint64_t seed = 4711;
    int answered = 0;
    int refused = 0;
    print_message("seed %lu\n", (unsigned long)seed);
    for (int i = 0; i < 20000; i++) {
        const struct reckon_topic *topic = random_topic(&seed);
        char *out = NULL;
        char *err = NULL;
        bool json = false;
        int code = run_random(&seed, topic, i % 2 ? 0.1 : 0, &json, &out, &err);
        check_outcome(code, json, out, err);
        answered += code == 0 ? 1 : 0;
        refused += code == 2 ? 1 : 0;
        free(out);
        free(err);
    }
    print_message("%d answered, %d refused\n", answered, refused);
    assert_true(answered > 1000 && refused > 1000);
}

/* Random bytes as words, after a real topic's name. */
static void run_random_bytes_are_refused(void **state)
{
    (void)state;
    uint64_t seed = 1234;
    print_message("seed %lu\n", (unsigned long)seed);
    for (int i = 0; i < 5000; i++) {
        char word[200];
        char topic[32];
        char *argv[] = {topic, word};
        char *out = NULL;
        char *err = NULL;
        size_t size = 0;
        size_t length = below(&seed, sizeof word);
        snprintf(topic, sizeof topic, "%s", random_topic(&seed)->name);
        for (size_t c = 0; c < length; c++)
            word[c] = (char)(1 + below(&seed, 255));
        word[length] = '\0';
        FILE *out_stream = open_memstream(&out, &size);
        FILE *err_stream = open_memstream(&err, &size);
        int code = reckon_run(2, argv, out_stream, err_stream);
        fclose(out_stream);
        fclose(err_stream);
        assert_int_equal(code, 2);
        check_outcome(code, false, out, err);
        free(out);
        free(err);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(number_parse_follows_the_json_grammar),
        cmocka_unit_test(number_parse_reads_no_further_than_told),
        cmocka_unit_test(number_format_is_short_and_reads_back),
        cmocka_unit_test(run_without_topic_lists_the_topics),
        cmocka_unit_test(help_of_each_topic_names_all_keys_and_answers),
        cmocka_unit_test(help_says_ranges_units_and_defaults),
        cmocka_unit_test(help_wins_over_keys_that_would_be_refused),
        cmocka_unit_test(tables_are_in_order),
        cmocka_unit_test(run_unknown_topic_is_refused),
        cmocka_unit_test(run_bad_keys_name_key_value_and_range),
        cmocka_unit_test(run_range_ends_belong_to_the_range),
        cmocka_unit_test(run_whole_numbers_may_be_written_as_json_has_them),
        cmocka_unit_test(run_hostile_text_stays_on_one_line),
        cmocka_unit_test(run_very_long_words_are_refused_in_bounds),
        cmocka_unit_test(run_list_takes_256_values_and_no_more),
        cmocka_unit_test(run_list_holes_are_refused),
        cmocka_unit_test(json_numbers_are_exact),
        cmocka_unit_test(json_has_the_declared_answers_and_notes),
        cmocka_unit_test(json_never_has_a_negative_zero),
        cmocka_unit_test(table_shows_value_unit_source_and_notes),
        cmocka_unit_test(json_option_may_stand_anywhere),
        cmocka_unit_test(run_unwritable_output_fails),
        cmocka_unit_test(run_random_keys_end_with_an_answer_or_a_refusal),
        cmocka_unit_test(run_random_bytes_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
