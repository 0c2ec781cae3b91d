/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check.h"

#include <stdio.h>

#include "daemon/access.h"

static void access_secret_make_gives_what_parse_takes(void **state)
{
    (void)state;
    struct access_secret made;
    struct access_secret other;
    struct access_secret read;
    char text[ACCESS_TEXT_SIZE];
    assert_int_equal(access_secret_make(&made, NULL), 0);
    assert_int_equal(access_secret_make(&other, NULL), 0);
    assert_string_not_equal(made.id, other.id);
    assert_string_not_equal(made.secret, other.secret);
    access_secret_print(&made, ACCESS_TOKEN, text);
    assert_true(access_secret_parse(text, strlen(text), ACCESS_TOKEN, &read));
    assert_string_equal(read.id, made.id);
    assert_string_equal(read.secret, made.secret);
    assert_false(access_secret_parse(text, strlen(text), ACCESS_SESSION, &read));
    access_secret_print(&made, ACCESS_SESSION, text);
    assert_true(access_secret_parse(text, strlen(text), ACCESS_SESSION, &read));
}

static void access_secret_parse_takes_the_exact_form_only(void **state)
{
    (void)state;
    struct access_secret made;
    char text[ACCESS_TEXT_SIZE + 2];
    assert_int_equal(access_secret_make(&made, NULL), 0);
    access_secret_print(&made, ACCESS_TOKEN, text);
    size_t length = strlen(text);
    for (size_t i = 0; i < length; i++) {
        struct access_secret read;
        char kept = text[i];
        text[i] = 'G';
        assert_false(access_secret_parse(text, length, ACCESS_TOKEN, &read));
        text[i] = '\0';
        assert_false(access_secret_parse(text, length, ACCESS_TOKEN, &read));
        text[i] = kept;
        assert_false(access_secret_parse(text, i, ACCESS_TOKEN, &read));
    }
    struct access_secret read;
    text[length] = 'a';
    assert_false(access_secret_parse(text, length + 1, ACCESS_TOKEN, &read));
}

static void access_matches_only_the_text_that_was_hashed(void **state)
{
    (void)state;
    char hash[ACCESS_HASH_SIZE];
    char again[ACCESS_HASH_SIZE];
    const char *secret = "00112233445566778899aabbccddeeff";
    assert_int_equal(access_secret_hash(secret, hash, NULL), 0);
    assert_int_equal(access_secret_hash(secret, again, NULL), 0);
    assert_string_not_equal(hash, again); /* salted */
    assert_null(strstr(hash, secret));
    assert_true(access_matches(secret, hash));
    assert_true(access_matches(secret, again));
    assert_false(access_matches("00112233445566778899aabbccddeefe", hash));
    assert_false(access_matches("", hash));
    assert_false(access_matches(secret, ""));
    assert_false(access_matches(secret, "$5$rounds=1000$"));
    assert_false(access_matches(secret, "*0"));
    assert_false(access_matches(secret, secret));
    hash[strlen(hash) - 1] = hash[strlen(hash) - 1] == 'a' ? 'b' : 'a';
    assert_false(access_matches(secret, hash));
}

static void access_password_hash_is_yescrypt(void **state)
{
    (void)state;
    char hash[ACCESS_HASH_SIZE];
    assert_int_equal(access_password_hash("wet feet, dry hands", hash, NULL), 0);
    assert_memory_equal(hash, "$y$", 3);
    assert_true(access_matches("wet feet, dry hands", hash));
    assert_false(access_matches("wet feet, dry hand", hash));
}

static void access_password_check_bounds_the_length(void **state)
{
    (void)state;
    struct error error;
    char text[256];
    memset(text, 'x', sizeof text);
    text[201] = '\0';
    assert_int_equal(access_password_check(text, &error), -1);
    assert_non_null(strstr(error.text, "201 bytes given"));
    text[200] = '\0';
    assert_int_equal(access_password_check(text, &error), 0);
    text[10] = '\0';
    assert_int_equal(access_password_check(text, &error), 0);
    text[9] = '\0';
    assert_int_equal(access_password_check(text, &error), -1);
    assert_int_equal(access_password_check("ten\nlines and more", &error), -1);
    assert_int_equal(access_password_check("bad utf-8 \xff here", &error), -1);
}

static void access_may_keeps_each_role_to_its_own(void **state)
{
    (void)state;
    static const struct {
        enum access_role role;
        const char *name;
        unsigned rights;
    } expected[] = {
        {ACCESS_CONTROLLER, "controller", ACCESS_READ_PLAN | ACCESS_REPORT_RUNS},
        {ACCESS_STATION, "station", ACCESS_REPORT_WEATHER},
        {ACCESS_VIEWER, "viewer", ACCESS_READ_PLAN | ACCESS_READ},
        {ACCESS_GROWER, "grower", 31},
        {ACCESS_ADMIN, "admin", 31},
        {ACCESS_NOBODY, NULL, 0},
    };
    for (size_t i = 0; i < sizeof expected / sizeof expected[0]; i++) {
        for (unsigned right = 1; right <= ACCESS_WRITE; right *= 2)
            assert_int_equal(access_may(expected[i].role, (enum access_right)right),
                             (expected[i].rights & right) != 0);
        if (!expected[i].name)
            continue;
        assert_string_equal(access_role_name(expected[i].role), expected[i].name);
        assert_int_equal(access_role_named(expected[i].name), expected[i].role);
    }
    assert_int_equal(access_role_named("root"), ACCESS_NOBODY);
    assert_null(access_role_name(ACCESS_NOBODY));
    assert_false(access_may((enum access_role)99, ACCESS_READ));
    assert_true(access_role_is_scope(ACCESS_STATION));
    assert_false(access_role_is_scope(ACCESS_VIEWER));
}

static void access_failures_block_after_ten_and_forgive_in_time(void **state)
{
    (void)state;
    struct access_failures *failures = calloc(1, sizeof *failures);
    const int64_t t_s = 1782882000;
    for (int i = 0; i < 10; i++) {
        assert_int_equal(access_failures_wait_s(failures, "192.0.2.1", t_s), 0);
        access_failures_add(failures, "192.0.2.1", t_s);
    }
    assert_int_equal(access_failures_wait_s(failures, "192.0.2.1", t_s), 30);
    assert_int_equal(access_failures_wait_s(failures, "192.0.2.1", t_s + 29), 1);
    assert_int_equal(access_failures_wait_s(failures, "192.0.2.2", t_s), 0);
    assert_int_equal(access_failures_wait_s(failures, "192.0.2.1", t_s + 30), 0);
    access_failures_add(failures, "192.0.2.1", t_s + 30);
    assert_int_equal(access_failures_wait_s(failures, "192.0.2.1", t_s + 31), 29);
    assert_int_equal(access_failures_wait_s(failures, "192.0.2.1", t_s + 400), 0);
    /* A clock set back neither frees nor locks for longer. */
    access_failures_add(failures, "192.0.2.3", t_s);
    assert_int_equal(access_failures_wait_s(failures, "192.0.2.3", t_s - 100000), 0);
    free(failures);
}

/* Many addresses push each other out, never one that is blocked for one with a single failure. */
static void access_failures_keep_the_worst_when_full(void **state)
{
    (void)state;
    struct access_failures *failures = calloc(1, sizeof *failures);
    const int64_t t_s = 1782882000;
    char name[32];
    for (int i = 0; i < 10; i++)
        access_failures_add(failures, "198.51.100.7", t_s);
    for (int i = 0; i < 2000; i++) {
        snprintf(name, sizeof name, "203.0.113.%d", i);
        access_failures_add(failures, name, t_s);
    }
    assert_true(access_failures_wait_s(failures, "198.51.100.7", t_s) > 0);
    free(failures);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(access_secret_make_gives_what_parse_takes),
        cmocka_unit_test(access_secret_parse_takes_the_exact_form_only),
        cmocka_unit_test(access_matches_only_the_text_that_was_hashed),
        cmocka_unit_test(access_password_hash_is_yescrypt),
        cmocka_unit_test(access_password_check_bounds_the_length),
        cmocka_unit_test(access_may_keeps_each_role_to_its_own),
        cmocka_unit_test(access_failures_block_after_ten_and_forgive_in_time),
        cmocka_unit_test(access_failures_keep_the_worst_when_full),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
