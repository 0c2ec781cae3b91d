/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check.h"

#include <stdbool.h>
#include <stdio.h>

#include "daemon/field.h"
#include "daemon/route.h"

/* Lines of one field are given with '|' between. */
static void each_line(const char *lines, void (*add)(void *context, const char *line),
                      void *context)
{
    char copy[512];
    snprintf(copy, sizeof copy, "%s", lines);
    for (char *line = copy; line;) {
        char *bar = strchr(line, '|');
        if (bar)
            *bar++ = '\0';
        add(context, line);
        line = bar;
    }
}

static void add_coding(void *context, const char *line)
{
    field_codings_add(context, line);
}

static void field_codings_choose_by_weights(void **state)
{
    (void)state;
    static const struct {
        const char *lines; /* NULL: no field at all */
        enum field_coding with_gzip, without;
    } cases[] = {
        {NULL, FIELD_CODING_IDENTITY, FIELD_CODING_IDENTITY},
        {"", FIELD_CODING_IDENTITY, FIELD_CODING_IDENTITY},
        {"gzip", FIELD_CODING_GZIP, FIELD_CODING_IDENTITY},
        {"GZip", FIELD_CODING_GZIP, FIELD_CODING_IDENTITY},
        {"x-gzip", FIELD_CODING_GZIP, FIELD_CODING_IDENTITY},
        {"gzip, deflate, br", FIELD_CODING_GZIP, FIELD_CODING_IDENTITY},
        {"deflate, br", FIELD_CODING_IDENTITY, FIELD_CODING_IDENTITY},
        {"deflate ,gzip ; q=0.5", FIELD_CODING_GZIP, FIELD_CODING_IDENTITY},
        {"deflate|gzip", FIELD_CODING_GZIP, FIELD_CODING_IDENTITY},
        {"gzip;q=0", FIELD_CODING_IDENTITY, FIELD_CODING_IDENTITY},
        {"gzip;q=0.000", FIELD_CODING_IDENTITY, FIELD_CODING_IDENTITY},
        {"gzip;q=0.001", FIELD_CODING_GZIP, FIELD_CODING_IDENTITY},
        {"gzip;q=0.5, identity", FIELD_CODING_IDENTITY, FIELD_CODING_IDENTITY},
        {"gzip;q=1.0, identity;q=0.5", FIELD_CODING_GZIP, FIELD_CODING_IDENTITY},
        {"identity;q=0", FIELD_CODING_NONE, FIELD_CODING_NONE},
        {"identity;q=0, gzip", FIELD_CODING_GZIP, FIELD_CODING_NONE},
        {"*", FIELD_CODING_IDENTITY, FIELD_CODING_IDENTITY},
        {"*;q=0", FIELD_CODING_NONE, FIELD_CODING_NONE},
        {"*;q=0, identity", FIELD_CODING_IDENTITY, FIELD_CODING_IDENTITY},
        {"*;q=0.5, identity;q=0.1", FIELD_CODING_GZIP, FIELD_CODING_IDENTITY},
        {"*, gzip;q=0", FIELD_CODING_IDENTITY, FIELD_CODING_IDENTITY},
        /* malformed weights are no wish */
        {"gzip;q=2", FIELD_CODING_IDENTITY, FIELD_CODING_IDENTITY},
        {"gzip;q=1.001", FIELD_CODING_IDENTITY, FIELD_CODING_IDENTITY},
        {"gzip;q=0.1234", FIELD_CODING_IDENTITY, FIELD_CODING_IDENTITY},
        {"gzip;q=", FIELD_CODING_IDENTITY, FIELD_CODING_IDENTITY},
        {"gzip;q=-1", FIELD_CODING_IDENTITY, FIELD_CODING_IDENTITY},
        {"gzip;q=x", FIELD_CODING_IDENTITY, FIELD_CODING_IDENTITY},
        {"notgzip", FIELD_CODING_IDENTITY, FIELD_CODING_IDENTITY},
        {"gzi", FIELD_CODING_IDENTITY, FIELD_CODING_IDENTITY},
        {",,,;;;,gzip,,", FIELD_CODING_GZIP, FIELD_CODING_IDENTITY},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct field_codings codings = FIELD_CODINGS_EMPTY;
        if (cases[i].lines)
            each_line(cases[i].lines, add_coding, &codings);
        if (field_codings_choose(&codings, true) != cases[i].with_gzip ||
            field_codings_choose(&codings, false) != cases[i].without)
            fail_msg("Accept-Encoding: %s", cases[i].lines ? cases[i].lines : "(none)");
    }
}

static void add_language(void *context, const char *line)
{
    field_languages_add(context, line);
}

static void field_languages_choose_by_weights(void **state)
{
    (void)state;
    static const struct {
        const char *lines; /* NULL: no field at all */
        enum field_language language;
    } cases[] = {
        {NULL, FIELD_ENGLISH},
        {"", FIELD_ENGLISH},
        {"en", FIELD_ENGLISH},
        {"es", FIELD_SPANISH},
        {"ES", FIELD_SPANISH},
        {"es-MX", FIELD_SPANISH},
        {"es-419, es;q=0.9, en;q=0.8", FIELD_SPANISH},
        {"en-US,en;q=0.9,es;q=0.8", FIELD_ENGLISH},
        {"es;q=0.8, en;q=0.9", FIELD_ENGLISH},
        {"es;q=0.8|en;q=0.7", FIELD_SPANISH},
        {"fr, es;q=0.2", FIELD_SPANISH},
        {"fr, de", FIELD_ENGLISH},
        /* equal weights: what stands first */
        {"es, en", FIELD_SPANISH},
        {"en, es", FIELD_ENGLISH},
        {"fr, es-AR;q=0.5, en-GB;q=0.5", FIELD_SPANISH},
        /* '*' is what is not named */
        {"*", FIELD_ENGLISH},
        {"*;q=0.5, es", FIELD_SPANISH},
        {"*, es;q=0.5", FIELD_ENGLISH},
        {"*, en;q=0.5", FIELD_SPANISH},
        {"en;q=0, *", FIELD_SPANISH},
        {"es;q=0, *", FIELD_ENGLISH},
        /* refused, but something has to be said */
        {"es;q=0", FIELD_ENGLISH},
        {"en;q=0", FIELD_ENGLISH},
        {"*;q=0", FIELD_ENGLISH},
        {"en;q=0, es;q=0", FIELD_ENGLISH},
        {"en;q=0, es;q=0.001", FIELD_SPANISH},
        /* of one language's ranges the greatest */
        {"es-MX;q=0.9, es;q=0, en;q=0.5", FIELD_SPANISH},
        {"en;q=0.5, es;q=0.1, es-ES;q=0.6", FIELD_SPANISH},
        /* not ours, and no wish */
        {"est", FIELD_ENGLISH},
        {"e", FIELD_ENGLISH},
        {"-es", FIELD_ENGLISH},
        {"x-es", FIELD_ENGLISH},
        {"es;q=2", FIELD_ENGLISH},
        {"es;q=", FIELD_ENGLISH},
        {"es;q=-1", FIELD_ENGLISH},
        {"\"es\"", FIELD_ENGLISH},
        {",,;;-;,*-*,es-,,", FIELD_SPANISH},
        {"es\xff", FIELD_ENGLISH},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct field_languages languages = FIELD_LANGUAGES_EMPTY;
        if (cases[i].lines)
            each_line(cases[i].lines, add_language, &languages);
        if (field_languages_choose(&languages) != cases[i].language)
            fail_msg("Accept-Language: %s", cases[i].lines ? cases[i].lines : "(none)");
    }
    assert_string_equal(field_language_tag(FIELD_ENGLISH), "en");
    assert_string_equal(field_language_tag(FIELD_SPANISH), "es");
}

static void add_json(void *context, const char *line)
{
    field_accept_add(context, line, "application/json");
}

static void field_accept_allows_by_the_closest_range(void **state)
{
    (void)state;
    static const struct {
        const char *lines;
        bool allows;
    } cases[] = {
        {NULL, true},
        {"", true},
        {"*/*", true},
        {"application/*", true},
        {"application/json", true},
        {"Application/JSON", true},
        {"application/json;charset=utf-8", true},
        {"text/html, application/xhtml+xml, */*;q=0.8", true},
        {"text/html|application/json", true},
        {"text/html", false},
        {"text/*", false},
        {"application/jsonx", false},
        {"application/jso", false},
        {"application/json;q=0", false},
        {"application/json;q=0, */*", false},
        {"*/*;q=0, application/json", true},
        {"application/*;q=0, */*", false},
        {"*/*;q=0", false},
        {"application", false},
        {"/", false},
        {"*", false},
        {"text/html;x=\"a,application/json\"", false},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct field_accept accept = FIELD_ACCEPT_EMPTY;
        if (cases[i].lines)
            each_line(cases[i].lines, add_json, &accept);
        if (field_accept_allows(&accept) != cases[i].allows)
            fail_msg("Accept: %s", cases[i].lines ? cases[i].lines : "(none)");
    }
}

static void field_tags_match_lists_weak_and_star(void **state)
{
    (void)state;
    static const struct {
        const char *line;
        bool weak, strong;
    } cases[] = {
        {"\"a1\"", true, true},
        {"W/\"a1\"", true, false},
        {"*", true, true},
        {" * ", true, true},
        {"\"x\", \"a1\"", true, true},
        {"\"x\",W/\"a1\"", true, false},
        {"\"x\" ,\t\"a1\" , \"y\"", true, true},
        {"\"x,\"a1\"", false, false},
        {"\"a,b\", \"a1\"", true, true},
        {"a1", false, false},
        {"\"A1\"", false, false},
        {"\"a1", false, false},
        {"\"a11\"", false, false},
        {"w/\"a1\"", false, false},
        {"", false, false},
        {"\"*\"", false, false},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++)
        if (field_tags_match(cases[i].line, "\"a1\"", FIELD_COMPARE_WEAK) != cases[i].weak ||
            field_tags_match(cases[i].line, "\"a1\"", FIELD_COMPARE_STRONG) != cases[i].strong)
            fail_msg("If-None-Match: %s", cases[i].line);
}

static void field_host_allowed_names_addresses_and_port(void **state)
{
    (void)state;
    static const struct {
        const char *value, *listen;
        bool allowed;
    } cases[] = {
        {"localhost:8321", "127.0.0.1", true},
        {"LocalHost:8321", "127.0.0.1", true},
        {"127.0.0.1:8321", "127.0.0.1", true},
        {"127.9.9.9:8321", "127.0.0.1", true},
        {"[::1]:8321", "127.0.0.1", true},
        {"[0:0:0:0:0:0:0:1]:8321", "::1", true},
        {"192.0.2.7:8321", "192.0.2.7", true},
        {"192.0.2.8:8321", "192.0.2.7", false},
        {"[2001:db8::7]:8321", "2001:db8:0::7", true},
        {"[2001:db8::8]:8321", "2001:db8::7", false},
        {"192.0.2.8:8321", "0.0.0.0", true},
        {"[2001:db8::8]:8321", "::", true},
        {"192.0.2.8:8321", "127.0.0.1", false},
        {"nursery.example:8321", "0.0.0.0", false},
        {"nursery.example:8321", "127.0.0.1", false},
        {"localhost.nursery.example:8321", "127.0.0.1", false},
        {"127.0.0.1.nursery.example:8321", "127.0.0.1", false},
        {"localhost", "127.0.0.1", false},
        {"localhost:", "127.0.0.1", false},
        {"localhost:8322", "127.0.0.1", false},
        {"localhost:+8321", "127.0.0.1", false},
        {"localhost:0x2081", "127.0.0.1", false},
        {"localhost:108321", "127.0.0.1", false},
        {"localhost:8321:8321", "127.0.0.1", false},
        {"localhost:8321/", "127.0.0.1", false},
        {"user@localhost:8321", "127.0.0.1", false},
        {"::1:8321", "::1", false},
        {"[::1:8321", "::1", false},
        {"[127.0.0.1]:8321", "127.0.0.1", false},
        {"2130706433:8321", "127.0.0.1", false},
        {"", "127.0.0.1", false},
        {":8321", "127.0.0.1", false},
        {"localhost.:8321", "127.0.0.1", false},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        const struct field_host own = {.listen = cases[i].listen, .port = 8321};
        if (field_host_allowed(cases[i].value, &own) != cases[i].allowed)
            fail_msg("Host: '%s' while listening on %s", cases[i].value, cases[i].listen);
    }
    const struct field_host web = {.listen = "127.0.0.1", .port = 80};
    assert_true(field_host_allowed("localhost", &web));
}

static void field_name_parse_takes_names_with_ports(void **state)
{
    (void)state;
    static const struct {
        const char *text, *host;
        int port;
        bool secure;
    } good[] = {
        {"plan.nursery.example", "plan.nursery.example", 0, false},
        {"Plan.Nursery.Example:8443", "plan.nursery.example", 8443, false},
        {"https://plan.nursery.example", "plan.nursery.example", 0, true},
        {"https://a-1.example:8443", "a-1.example", 8443, true},
        {"box", "box", 0, false},
        {"192.0.2.7:443", "192.0.2.7", 443, false},
    };
    static const char *const bad[] = {
        "",
        " ",
        "a b",
        "-a.example",
        "a-.example",
        "a..example",
        ".example",
        "example.",
        "a.example:",
        "a.example:0",
        "a:b",
        "a:65536",
        "http://a",
        "https://",
        "a.example/x",
        "https://a.example/",
        "*.example",
        "a_b.example",
        "a.example,",
        "\xc3\xa4.example",
        "[::1]:80",
        "user@a.example",
    };
    struct field_name name;
    for (size_t i = 0; i < sizeof good / sizeof good[0]; i++) {
        if (!field_name_parse(good[i].text, &name))
            fail_msg("refused: %s", good[i].text);
        assert_string_equal(name.host, good[i].host);
        assert_int_equal(name.port, good[i].port);
        assert_int_equal(name.secure, good[i].secure);
    }
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++)
        if (field_name_parse(bad[i], &name))
            fail_msg("accepted: '%s'", bad[i]);
}

/* open: a name without port; fixed: with one; proxied: by a proxy's TLS only. */
static const struct field_name others[] = {
    {"open.example", 0, false}, {"fixed.example", 8443, false}, {"proxied.example", 0, true}};

static void field_host_allowed_takes_other_names_with_their_ports(void **state)
{
    (void)state;
    static const struct {
        const char *value;
        bool allowed;
    } cases[] = {
        {"open.example", true},          {"OPEN.example", true},
        {"open.example:80", true},       {"open.example:443", true},
        {"open.example:8321", true},     {"open.example:8443", false},
        {"fixed.example:8443", true},    {"fixed.example", false},
        {"fixed.example:8321", false},   {"proxied.example", true},
        {"proxied.example:443", true},   {"proxied.example:80", false},
        {"proxied.example:8321", false}, {"other.example", false},
        {"a.open.example", false},       {"open.example.evil.example", false},
        {"open.example:0", false},       {"open.example:", false},
        {"localhost:8321", true},        {"localhost", false},
    };
    const struct field_host own = {
        .listen = "127.0.0.1", .port = 8321, .names = others, .name_count = 3};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++)
        if (field_host_allowed(cases[i].value, &own) != cases[i].allowed)
            fail_msg("Host: '%s'", cases[i].value);
    const struct field_host tls = {.listen = "127.0.0.1", .port = 443, .tls = true};
    assert_true(field_host_allowed("localhost", &tls)); /* what a browser leaves out with https */
    assert_false(field_host_allowed("localhost:80", &tls));
}

static void field_origin_allowed_wants_the_scheme_of_the_name(void **state)
{
    (void)state;
    static const struct {
        const char *value;
        bool plain, tls; /* while we serve plain HTTP; while we do TLS ourselves */
    } cases[] = {
        {"http://localhost:8321", true, false},
        {"https://localhost:8321", false, true},
        {"http://127.0.0.1:8321", true, false},
        {"http://localhost", false, false},
        {"http://open.example", true, false},
        {"https://open.example", true, true},
        {"http://open.example:8321", true, false},
        {"https://open.example:8321", true, true},
        {"https://open.example:9", false, false},
        {"http://fixed.example:8443", true, false},
        {"https://fixed.example:8443", true, true},
        {"https://fixed.example", false, false},
        {"https://proxied.example", true, true},
        {"http://proxied.example", false, false},
        {"http://proxied.example:443", false, false},
        {"https://proxied.example.evil.example", false, false},
        {"https://evil.example", false, false},
        {"null", false, false},
        {"https://", false, false},
        {"proxied.example", false, false},
        {"file://", false, false},
        {"HTTPS://proxied.example", false, false}, /* browsers send lower case (RFC 6454, 6.1) */
        {"https://proxied.example/", false, false},
        {"", false, false},
    };
    struct field_host own = {.listen = "127.0.0.1", .port = 8321, .names = others, .name_count = 3};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        own.tls = false;
        if (field_origin_allowed(cases[i].value, &own) != cases[i].plain)
            fail_msg("Origin: '%s' over plain HTTP", cases[i].value);
        own.tls = true;
        if (field_origin_allowed(cases[i].value, &own) != cases[i].tls)
            fail_msg("Origin: '%s' over TLS", cases[i].value);
    }
}

static void field_is_token_refuses_separators(void **state)
{
    (void)state;
    assert_true(field_is_token("Accept-Encoding", 15));
    assert_true(field_is_token("x!#$%&'*+-.^_`|~9", 17));
    assert_false(field_is_token("", 0));
    assert_false(field_is_token("Foo ", 4));
    assert_false(field_is_token("Fo:o", 4));
    assert_false(field_is_token("Fo\0o", 4));
    assert_false(field_is_token("F\xc3\xb6", 3));
}

static void field_functions_random_bytes_do_no_harm(void **state)
{
    (void)state;
    static const char alphabet[] = "gzip identity*;=,q01.\"W/[]:@\\ax-\t ";
    uint64_t seed = 20240611;
    for (int round = 0; round < 20000; round++) {
        char line[48];
        size_t length = (size_t)check_between(&seed, 0, sizeof line - 1);
        for (size_t i = 0; i < length; i++)
            line[i] = alphabet[(size_t)check_between(&seed, 0, sizeof alphabet - 1)];
        line[length] = '\0';
        struct field_codings codings = FIELD_CODINGS_EMPTY;
        struct field_accept accept = FIELD_ACCEPT_EMPTY;
        const struct field_host own = {.listen = "127.0.0.1", .port = 8321};
        field_codings_add(&codings, line);
        assert_in_range(codings.gzip + 1, 0, 1001);
        assert_in_range(codings.identity + 1, 0, 1001);
        field_accept_add(&accept, line, "application/json");
        assert_in_range(accept.weight, 0, 1000);
        field_tags_match(line, "\"a1\"", FIELD_COMPARE_WEAK);
        field_host_allowed(line, &own);
        field_origin_allowed(line, &own);
        struct field_name name;
        if (field_name_parse(line, &name))
            assert_true(name.port >= 0 && name.port <= 65535 && name.host[0] != '\0');
    }
}

static void route_split_absolute_takes_the_authority(void **state)
{
    (void)state;
    char authority[16];
    const char *path;
    assert_true(route_split_absolute("http://a:1/x", authority, sizeof authority, &path));
    assert_string_equal(authority, "a:1");
    assert_string_equal(path, "/x");
    assert_true(route_split_absolute("HTTP://a", authority, sizeof authority, &path));
    assert_string_equal(path, "/");
    assert_false(route_split_absolute("/x", authority, sizeof authority, &path));
    assert_false(route_split_absolute("http:///x", authority, sizeof authority, &path));
    assert_true(route_split_absolute("https://a/x", authority, sizeof authority, &path));
    assert_string_equal(authority, "a");
    assert_false(route_split_absolute("ftp://a/x", authority, sizeof authority, &path));
    assert_false(
        route_split_absolute("http://0123456789abcdef/", authority, sizeof authority, &path));
}

static void route_allows_whole_methods_only(void **state)
{
    (void)state;
    const struct assets none = {NULL, 0};
    const struct route route = route_find(&none, "/api/v1/plan");
    assert_int_equal(route.kind, ROUTE_PLAN);
    assert_true(route_allows(&route, "GET"));
    assert_true(route_allows(&route, "HEAD"));
    assert_false(route_allows(&route, "GE"));
    assert_false(route_allows(&route, "EAD"));
    assert_false(route_allows(&route, "GET,"));
    assert_false(route_allows(&route, "get"));
    assert_false(route_allows(&route, ""));
    assert_false(route_allows(&route, "POST"));
    assert_int_equal(route_find(&none, "/").kind, ROUTE_NONE);
    assert_int_equal(route_find(&none, "/api/v1/plan/").kind, ROUTE_NONE);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(field_codings_choose_by_weights),
        cmocka_unit_test(field_languages_choose_by_weights),
        cmocka_unit_test(field_accept_allows_by_the_closest_range),
        cmocka_unit_test(field_tags_match_lists_weak_and_star),
        cmocka_unit_test(field_host_allowed_names_addresses_and_port),
        cmocka_unit_test(field_name_parse_takes_names_with_ports),
        cmocka_unit_test(field_host_allowed_takes_other_names_with_their_ports),
        cmocka_unit_test(field_origin_allowed_wants_the_scheme_of_the_name),
        cmocka_unit_test(field_is_token_refuses_separators),
        cmocka_unit_test(field_functions_random_bytes_do_no_harm),
        cmocka_unit_test(route_split_absolute_takes_the_authority),
        cmocka_unit_test(route_allows_whole_methods_only),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
