/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check.h"

#include <stdio.h>
#include <string.h>

#include "daemon/config.h"
#include "scratch.h"

#define PLACE                                                                                      \
    "[nursery]\n"                                                                                  \
    "time_zone = Europe/Lisbon\n"                                                                  \
    "latitude_deg = 41.76\n"                                                                       \
    "longitude_deg = -8.78\n"                                                                      \
    "elevation_m = 60\n"

static int load(const char *text, struct config *config, struct error *error)
{
    struct scratch scratch;
    scratch_open(&scratch);
    int result = config_load(scratch_write(&scratch, "p.conf", text), config, error);
    scratch_close(&scratch);
    return result;
}

static void expect_good(const char *text, struct config *config)
{
    struct error error = {""};
    if (load(text, config, &error))
        fail_msg("refused: %s", error.text);
}

/* The message begins with the file and, behind it, holds wanted. */
static void expect_refused(const char *text, const char *wanted)
{
    struct error error = {""};
    struct config config;
    memset(&config, 0x5a, sizeof config);
    if (load(text, &config, &error) != -1)
        fail_msg("accepted, expected '%s'", wanted);
    const char *name = strstr(error.text, "/perchd-test-");
    if (error.text[0] != '/' || !name || !strstr(name, wanted))
        fail_msg("said '%s', expected '%s'", error.text, wanted);
    for (size_t i = 0; i < sizeof config; i++)
        assert_int_equal(((const unsigned char *)&config)[i], 0x5a);
}

static void config_load_place_only_gives_defaults(void **state)
{
    (void)state;
    struct config c;
    expect_good(PLACE, &c);
    assert_string_equal(c.nursery_name, "Nursery");
    assert_string_equal(c.time_zone, "Europe/Lisbon");
    check_near(c.site.latitude_deg, 41.76, 0, "latitude");
    check_near(c.site.longitude_deg, -8.78, 0, "longitude");
    check_near(c.site.elevation_m, 60, 0, "elevation");
    assert_int_equal(c.feed_count, 0);
    assert_string_equal(c.normals.name, "");
    assert_string_equal(c.feed_contact, "");
    assert_string_equal(c.listen, "127.0.0.1");
    assert_int_equal(c.port, 8321);
    assert_string_equal(c.store_path, "/var/lib/perchd/perchd.sqlite");
    assert_int_equal(c.plan_days, 7);
}

static void config_load_every_key_is_taken(void **state)
{
    (void)state;
    struct config c;
    expect_good("# a comment\n; another\n\n" PLACE "name = Viveiro Á beira\n"
                "[feed]\nsources = met\ncontact = water@nursery.example\n"
                "met_url = http://127.0.0.1:8080/complete\n"
                "[serve]\nlisten = ::1\nport = 0\n"
                "[store]\npath = /srv/p.sqlite\n"
                "[plan]\ndays = 10\n",
                &c);
    assert_string_equal(c.nursery_name, "Viveiro Á beira");
    assert_int_equal(c.feed_count, 1);
    assert_string_equal(c.feed_contact, "water@nursery.example");
    assert_string_equal(c.feeds[0].name, "met");
    assert_string_equal(c.feeds[0].url, "http://127.0.0.1:8080/complete");
    assert_string_equal(c.listen, "::1");
    assert_int_equal(c.port, 0);
    assert_string_equal(c.store_path, "/srv/p.sqlite");
    assert_int_equal(c.plan_days, 10);
}

static void config_load_shipped_examples_are_good(void **state)
{
    (void)state;
    struct error error = {""};
    struct config c;
    if (config_load(PERCHD_SOURCE "/config/perchd.conf", &c, &error))
        fail_msg("%s", error.text);
    assert_string_equal(c.store_path, "/var/lib/perchd/perchd.sqlite");
    if (config_load(PERCHD_SOURCE "/config/demo/perchd.conf", &c, &error))
        fail_msg("%s", error.text);
    assert_string_equal(c.store_path, PERCHD_SOURCE "/config/demo/demo.sqlite");
}

static void config_load_line_ends_and_mark_are_tolerated(void **state)
{
    (void)state;
    struct config c;
    expect_good("\xef\xbb\xbf[nursery]\r\ntime_zone = UTC\r\nlatitude_deg=0\r\n"
                "longitude_deg  =  0  \r\nelevation_m = -10",
                &c);
    assert_string_equal(c.time_zone, "UTC");
    check_near(c.site.elevation_m, -10, 0, "last line without an end");
}

static void config_load_relative_store_counts_from_the_file(void **state)
{
    (void)state;
    struct scratch scratch;
    struct config c;
    struct error error = {""};
    char expected[128];
    scratch_open(&scratch);
    scratch_write(&scratch, "p.conf", PLACE "[store]\npath = data/p.sqlite\n");
    assert_int_equal(config_load(scratch.path, &c, &error), 0);
    snprintf(expected, sizeof expected, "%s/data/p.sqlite", scratch.folder);
    assert_string_equal(c.store_path, expected);
    scratch_close(&scratch);
}

static void config_load_missing_file_says_so(void **state)
{
    (void)state;
    struct config c;
    struct error error = {""};
    assert_int_equal(config_load("/nowhere/p.conf", &c, &error), -1);
    assert_string_equal(error.text, "/nowhere/p.conf: No such file or directory");
    assert_int_equal(config_load("/tmp", &c, &error), -1);
    assert_string_equal(error.text, "/tmp: Is a directory");
}

static void config_load_missing_keys_are_named(void **state)
{
    (void)state;
    expect_refused("", "p.conf: [nursery] time_zone: missing");
    expect_refused("[nursery]\ntime_zone = UTC\n", "[nursery] latitude_deg: missing");
    expect_refused("[nursery]\ntime_zone = UTC\nlatitude_deg = 1\nlongitude_deg = 1\n",
                   "[nursery] elevation_m: missing");
    expect_refused(PLACE "[feed]\nsources = met\n", "[feed] contact: missing, needed");
}

static void config_load_unknown_and_repeated_are_refused(void **state)
{
    (void)state;
    expect_refused(PLACE "colour = green\n",
                   "p.conf:6: key: 'colour' given, accepted is in that section one of: name "
                   "time_zone latitude_deg longitude_deg elevation_m");
    expect_refused(PLACE "[serve]\ndays = 7\n", "p.conf:7: key: 'days' given");
    expect_refused("name = x\n" PLACE, "p.conf:1: name:");
    expect_refused(PLACE "latitude_deg = 41.76\n", "p.conf:6: latitude_deg: '41.76' given, "
                                                   "accepted is each key once");
    expect_refused(PLACE "[plan]\n[nursery]\n",
                   "p.conf:7: section: '[nursery]' given, accepted is each section once");
    expect_refused(PLACE "[weather]\n", "p.conf:6: section: '[weather]' given, accepted is one of");
    expect_refused(PLACE "[Plan]\n", "p.conf:6: section: '[Plan]'");
    expect_refused(PLACE "[plan] days = 3\n", "p.conf:6: a section is a name in brackets");
    expect_refused(PLACE "[plan\n", "p.conf:6: a section is a name in brackets");
}

static void config_load_lines_the_library_would_misread_are_refused(void **state)
{
    (void)state;
    char text[512];
    char filler[200];
    memset(filler, 'x', sizeof filler);
    snprintf(text, sizeof text, PLACE "name = %.183s\n", filler); /* 190 bytes */
    struct config c;
    expect_good(text, &c);
    assert_int_equal(strlen(c.nursery_name), 183);
    snprintf(text, sizeof text, PLACE "name = %.184s\n", filler);
    expect_refused(text, "p.conf:6: longer than 190 bytes");
    snprintf(text, sizeof text, PLACE "# %.190s\n", filler);
    expect_refused(text, "p.conf:6: longer than 190 bytes");
    expect_refused(PLACE "name = Plants ; and more\n", "p.conf:6: ' ;' within a line");
    expect_refused(PLACE "name = Plants\t;more\n", "p.conf:6: ' ;' within a line");
    expect_refused(PLACE " name = x\n", "p.conf:6: an indented line");
    expect_refused(PLACE "name = x\n\tand y\n", "p.conf:7: an indented line");
    expect_refused(PLACE "name\n", "p.conf:6: neither 'key = value'");
    expect_refused(PLACE "name = a\x01z\n", "p.conf:6: a control character");
    expect_refused(PLACE "name = a\rz\n", "p.conf:6: a control character");
    expect_refused(PLACE "name = \xff\n", "p.conf:6: not UTF-8");
    expect_refused(PLACE "name =\n", "p.conf:6: name: '' given, accepted is a value");
}

static void config_load_semicolon_inside_a_word_is_kept(void **state)
{
    (void)state;
    struct config c;
    expect_good(PLACE "name = a;b #c\n", &c);
    assert_string_equal(c.nursery_name, "a;b #c");
}

static void config_load_nul_byte_is_refused(void **state)
{
    (void)state;
    static const char text[] = PLACE "name = a\0b\n";
    struct scratch scratch;
    struct config c;
    struct error error = {""};
    scratch_open(&scratch);
    scratch_write_bytes(&scratch, "p.conf", text, sizeof text - 1);
    assert_int_equal(config_load(scratch.path, &c, &error), -1);
    assert_non_null(strstr(error.text, "p.conf:6: a NUL byte"));
    scratch_close(&scratch);
}

/* A place with one line exchanged for another. */
static void expect_place_refused(const char *line, const char *wanted)
{
    static const char *const lines[] = {"time_zone = UTC", "latitude_deg = 1", "longitude_deg = 1",
                                        "elevation_m = 1"};
    char text[512] = "[nursery]\n";
    size_t key = strcspn(line, " =");
    for (size_t i = 0; i < 4; i++) {
        const char *taken = strncmp(lines[i], line, key) == 0 ? line : lines[i];
        snprintf(text + strlen(text), sizeof text - strlen(text), "%s\n", taken);
    }
    expect_refused(text, wanted);
}

static void config_load_bad_place_is_refused_with_line_and_key(void **state)
{
    (void)state;
    expect_place_refused("time_zone = Europe/Nowhere",
                         "p.conf:2: time_zone: 'Europe/Nowhere' given, accepted is a zone of the "
                         "IANA list");
    expect_place_refused("time_zone = ../../../etc/passwd", "not a name like");
    expect_place_refused("time_zone = /usr/share/zoneinfo/UTC", "not a name like");
    expect_place_refused("time_zone = tzdata.zi", "p.conf:2: time_zone:");
    expect_place_refused("latitude_deg = 90.1",
                         "p.conf:3: latitude_deg: '90.1' given, accepted is a number from -90 to "
                         "90");
    expect_place_refused("latitude_deg = 41,76", "p.conf:3: latitude_deg: '41,76' given");
    expect_place_refused("latitude_deg = nan", "p.conf:3: latitude_deg: 'nan' given");
    expect_place_refused("latitude_deg = 0x10", "p.conf:3: latitude_deg: '0x10' given");
    expect_place_refused("latitude_deg = 1e999", "p.conf:3: latitude_deg: '1e999' given");
    expect_place_refused("longitude_deg = -180.5", "p.conf:4: longitude_deg: '-180.5' given");
    expect_place_refused("elevation_m = 6001",
                         "p.conf:5: elevation_m: '6001' given, accepted is a number from -450 to "
                         "6000");
}

static void config_load_bad_service_values_are_refused(void **state)
{
    (void)state;
    expect_refused(PLACE "[serve]\nport = 65536\n",
                   "p.conf:7: port: '65536' given, accepted is a whole number from 0 to 65535");
    expect_refused(PLACE "[serve]\nport = 80.5\n", "p.conf:7: port: '80.5' given");
    expect_refused(PLACE "[serve]\nport = -1\n", "p.conf:7: port: '-1' given");
    expect_refused(PLACE "[serve]\nlisten = localhost\n",
                   "p.conf:7: listen: 'localhost' given, accepted is an IPv4 or IPv6 address");
    expect_refused(PLACE "[plan]\ndays = 0\n", "p.conf:7: days: '0' given, accepted is a whole "
                                               "number from 1 to 10");
    expect_refused(PLACE "[plan]\ndays = 11\n", "p.conf:7: days: '11' given");
    expect_refused(PLACE "[feed]\nsources = both\n",
                   "p.conf:7: sources: 'both' given, accepted is none, or in the order of trust, "
                   "with commas, each once: met");
    expect_refused(PLACE "[feed]\nsources = met, met\n", "p.conf:7: sources: 'met, met' given");
    expect_refused(PLACE "[feed]\nsources = met,\n", "p.conf:7: sources: 'met,' given");
    expect_refused(PLACE "[feed]\nsources = none, met\n", "p.conf:7: sources: 'none, met' given");
    expect_refused(PLACE "[feed]\nnormals = met\n",
                   "p.conf:7: normals: 'met' given, accepted is file");
    expect_refused(PLACE "[feed]\nmet_url = https://a.example/\nmet_url = https://b.example/\n",
                   "p.conf:8: met_url: 'https://b.example/' given, accepted is each key once");
    expect_refused(PLACE "[feed]\nmet_url =\n", "p.conf:7: met_url: '' given, accepted is a value");
    expect_refused(PLACE "[feed]\nmet_key_file = x\n", "p.conf:7: key: 'met_key_file' given");
    expect_refused(PLACE "[feed]\ncontact = nobody\n",
                   "p.conf:7: contact: 'nobody' given, accepted is a mail address or");
    expect_refused(PLACE "[feed]\ncontact = a b@c.example\n", "p.conf:7: contact:");
    expect_refused(PLACE "[feed]\ncontact = (a)@c.example\n", "p.conf:7: contact:");
}

static void config_load_url_leaves_the_machine_only_by_https(void **state)
{
    (void)state;
    static const char *const good[] = {"https://weather.example/v1", "https://weather.example:8443",
                                       "http://localhost:9/x",       "http://127.8.8.8/",
                                       "http://[::1]:9/x",           "http://127.0.0.1"};
    static const char *const bad[] = {"http://weather.example/v1",
                                      "http://127.0.0.1.weather.example/",
                                      "http://localhost.weather.example/",
                                      "http://128.0.0.1/",
                                      "http://127.0.0.1@weather.example/",
                                      "https://user@weather.example/",
                                      "https://weather.example/?lat=1",
                                      "https://weather.example/#x",
                                      "https:///x",
                                      "https://",
                                      "http://[::1",
                                      "http://[::2]/",
                                      "ftp://weather.example/",
                                      "file:///etc/passwd",
                                      "weather.example",
                                      "https://weather.example/a b",
                                      "https://weather.example/\"",
                                      "https://wétér.example/"};
    char text[512];
    struct config c;
    for (size_t i = 0; i < sizeof good / sizeof good[0]; i++) {
        snprintf(text, sizeof text,
                 PLACE "[feed]\nsources = met\ncontact = a@b.example\nmet_url = %s\n", good[i]);
        expect_good(text, &c);
        assert_string_equal(c.feeds[0].url, good[i]);
    }
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        snprintf(text, sizeof text, PLACE "[feed]\nmet_url = %s\n", bad[i]);
        expect_refused(text, "p.conf:7: met_url: '");
    }
}

#define FEED PLACE "[feed]\ncontact = a@b.example\n" /* seven and eight lines */

static void config_load_sources_keep_their_order(void **state)
{
    (void)state;
    struct config c;
    expect_good(FEED "sources = open-meteo ,met\nopen_meteo_url = https://wx.example/v1/forecast\n",
                &c);
    assert_int_equal(c.feed_count, 2);
    assert_string_equal(c.feeds[0].name, "open-meteo");
    assert_string_equal(c.feeds[0].url, "https://wx.example/v1/forecast");
    assert_string_equal(c.feeds[0].key_path, "");
    assert_string_equal(c.feeds[1].name, "met");
    assert_string_equal(c.feeds[1].url,
                        "https://api.met.no/weatherapi/locationforecast/2.0/complete");
    assert_string_equal(c.normals.name, "");
}

static void config_load_normals_can_be_asked_for(void **state)
{
    (void)state;
    struct config c;
    expect_good(FEED "normals = power\n", &c);
    assert_int_equal(c.feed_count, 0);
    assert_string_equal(c.normals.name, "power");
    assert_string_equal(c.normals.url, "https://power.larc.nasa.gov/api/temporal/daily/point");
    expect_good(FEED "normals = file\n", &c);
    assert_string_equal(c.normals.name, "");
    expect_refused(PLACE "[feed]\nnormals = power\n", "[feed] contact: missing");
    expect_refused(FEED "sources = power\n", "sources: 'power' given"); /* gives no hours */
    expect_refused(FEED "normals = met\n", "normals: 'met' given, accepted is file, power");
}

static void config_load_paid_host_needs_its_key_file(void **state)
{
    (void)state;
    struct config c;
    expect_refused(FEED "sources = open-meteo\n", "[feed] open_meteo_key_file: missing; "
                                                  "customer-api.open-meteo.com needs a key");
    expect_good(FEED "sources = open-meteo\nopen_meteo_key_file = /etc/perchd/key\n", &c);
    assert_string_equal(c.feeds[0].key_path, "/etc/perchd/key");
    assert_string_equal(c.feeds[0].url, "https://customer-api.open-meteo.com/v1/forecast");
    /* Not asked: its keys may be incomplete. */
    expect_good(FEED "sources = met\nopen_meteo_url = https://api.open-meteo.com/v1/forecast\n",
                &c);
}

static void config_load_free_host_needs_a_statement(void **state)
{
    (void)state;
    static const char *const free_hosts[] = {
        "https://api.open-meteo.com/v1/forecast",     "https://API.Open-Meteo.COM/v1/forecast",
        "https://api.open-meteo.com:443/v1/forecast", "https://api.open-meteo.com./v1/forecast",
        "https://archive-api.open-meteo.com/v1",      "https://open-meteo.com/v1/forecast"};
    char text[512];
    struct config c;
    for (size_t i = 0; i < sizeof free_hosts / sizeof free_hosts[0]; i++) {
        snprintf(text, sizeof text, FEED "sources = open-meteo\nopen_meteo_url = %s\n",
                 free_hosts[i]);
        expect_refused(text, "p.conf:9: open_meteo_url: '");
        expect_refused(text, "state with open_meteo_non_commercial = yes");
        strcat(text, "open_meteo_key_file = key\n"); /* a key makes it no other host */
        expect_refused(text, "non-commercial use only");
        strcat(text, "open_meteo_non_commercial = no\n");
        expect_refused(text, "non-commercial use only");
        strcpy(strstr(text, "= no\n"), "= yes\n");
        expect_good(text, &c);
    }
    expect_good(FEED "sources = open-meteo\nopen_meteo_url = https://my-open-meteo.com/v1\n", &c);
    expect_refused(FEED "open_meteo_non_commercial = true\n",
                   "p.conf:8: open_meteo_non_commercial: 'true' given, accepted is yes or no");
}

/* Whatever the bytes, the reader ends with an answer; a refusal has words. */
static void config_load_mangled_files_are_answered(void **state)
{
    (void)state;
    static const char good[] = PLACE "[feed]\nsources = met\ncontact = a@b.example\n[plan]\n"
                                     "days = 7\n[serve]\nport = 80\n";
    uint64_t random = 20260301;
    struct scratch scratch;
    scratch_open(&scratch);
    for (int round = 0; round < 400; round++) {
        char text[sizeof good];
        struct config c;
        struct error error = {""};
        memcpy(text, good, sizeof good);
        for (int i = 0; i < 1 + round % 4; i++)
            text[(size_t)check_between(&random, 0, sizeof good - 1)] =
                (char)(int)check_between(&random, 0, 255);
        scratch_write_bytes(&scratch, "p.conf", text, sizeof good - 1);
        int result = config_load(scratch.path, &c, &error);
        assert_true(result == 0 || (result == -1 && error.text[0] != '\0'));
    }
    scratch_close(&scratch);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(config_load_place_only_gives_defaults),
        cmocka_unit_test(config_load_every_key_is_taken),
        cmocka_unit_test(config_load_shipped_examples_are_good),
        cmocka_unit_test(config_load_line_ends_and_mark_are_tolerated),
        cmocka_unit_test(config_load_relative_store_counts_from_the_file),
        cmocka_unit_test(config_load_missing_file_says_so),
        cmocka_unit_test(config_load_missing_keys_are_named),
        cmocka_unit_test(config_load_unknown_and_repeated_are_refused),
        cmocka_unit_test(config_load_lines_the_library_would_misread_are_refused),
        cmocka_unit_test(config_load_semicolon_inside_a_word_is_kept),
        cmocka_unit_test(config_load_nul_byte_is_refused),
        cmocka_unit_test(config_load_bad_place_is_refused_with_line_and_key),
        cmocka_unit_test(config_load_bad_service_values_are_refused),
        cmocka_unit_test(config_load_url_leaves_the_machine_only_by_https),
        cmocka_unit_test(config_load_sources_keep_their_order),
        cmocka_unit_test(config_load_normals_can_be_asked_for),
        cmocka_unit_test(config_load_paid_host_needs_its_key_file),
        cmocka_unit_test(config_load_free_host_needs_a_statement),
        cmocka_unit_test(config_load_mangled_files_are_answered),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
