/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "daemon/kind.h"

static const struct kind_column *column_of(enum kind_id id, const char *name)
{
    const struct kind *kind = kind_of(id);
    for (size_t i = 0; i < kind->column_count; i++)
        if (strcmp(kind->columns[i].name, name) == 0)
            return &kind->columns[i];
    fail_msg("no column %s", name);
    return NULL;
}

static void expect_number(enum kind_id id, const char *name, const char *text, double wanted)
{
    struct kind_value value;
    struct kind_fault fault = {.column = ""};
    if (kind_parse(column_of(id, name), text, &value, &fault))
        fail_msg("%s: %s", name, fault.text);
    assert_true(value.given);
    check_near(value.number, wanted, 0, name);
}

static void expect_refused(enum kind_id id, const char *name, const char *text, const char *wanted)
{
    struct kind_value value = {.number = 77};
    struct kind_fault fault = {.column = ""};
    if (kind_parse(column_of(id, name), text, &value, &fault) != -1)
        fail_msg("%s took '%s'", name, text);
    assert_string_equal(fault.column, name);
    assert_string_equal(fault.text, wanted);
    check_near(value.number, text[0] == '\0' ? 0 : 77, 0, "untouched");
}

static void kind_of_every_kind_is_found_by_its_stem(void **state)
{
    (void)state;
    for (int i = 0; i < KIND_COUNT; i++) {
        const struct kind *kind = kind_of((enum kind_id)i);
        assert_int_equal(kind->id, i);
        assert_ptr_equal(kind_named(kind->stem, strlen(kind->stem)), kind);
        assert_true(kind->column_count <= KIND_COLUMNS_MAX);
        for (size_t c = 0; c < kind->column_count; c++) /* parents come first, lead_block aside */
            assert_true(kind->columns[c].type != KIND_REF || (int)kind->columns[c].of < i ||
                        strcmp(kind->columns[c].name, "lead_block") == 0);
    }
    assert_null(kind_named("zone", 4));
    assert_null(kind_named("zonesx", 6));
    assert_null(kind_named("", 0));
}

static void kind_parse_numbers_keep_their_range(void **state)
{
    (void)state;
    expect_number(KIND_POTS, "fill_height_cm", "1", 1);
    expect_number(KIND_POTS, "fill_height_cm", "100", 100);
    expect_number(KIND_POTS, "top_cm", "0.001", 0.001);
    expect_number(KIND_ZONES, "leaching_pct", "0", 0);
    expect_number(KIND_NORMALS, "tmin_c", "-7.5", -7.5);
    expect_refused(KIND_POTS, "fill_height_cm", "0.99",
                   "'0.99' given, accepted is a number from 1 to 100");
    expect_refused(KIND_POTS, "fill_height_cm", "100.1",
                   "'100.1' given, accepted is a number from 1 to 100");
    expect_refused(KIND_POTS, "top_cm", "0",
                   "'0' given, accepted is a number above 0, at most 300");
    expect_refused(KIND_POTS, "top_cm", "12cm",
                   "'12cm' given, accepted is a number above 0, at most 300");
    expect_refused(KIND_POTS, "top_cm", "12,5",
                   "'12,5' given, accepted is a number above 0, at most 300; write decimals with a "
                   "point, not a comma");
    expect_refused(KIND_POTS, "top_cm", "nan",
                   "'nan' given, accepted is a number above 0, at most 300");
    expect_refused(KIND_POTS, "top_cm", " 12",
                   "' 12' given, accepted is a number above 0, at most 300");
    expect_refused(KIND_POTS, "top_cm", "", "empty, accepted is a number above 0, at most 300");
}

static void kind_parse_whole_numbers_take_no_fraction(void **state)
{
    (void)state;
    expect_number(KIND_BLOCKS, "pots", "0", 0);
    expect_number(KIND_BLOCKS, "pots", "1500", 1500);
    expect_refused(KIND_BLOCKS, "pots", "1500.5",
                   "'1500.5' given, accepted is a whole number from 0 to 10000000");
    expect_refused(KIND_BLOCKS, "pots", "-1",
                   "'-1' given, accepted is a whole number from 0 to 10000000");
    expect_refused(KIND_ZONES, "priority", "6",
                   "'6' given, accepted is a whole number from 1 to 5");
}

static void kind_parse_lists_of_numbers_need_single_spaces(void **state)
{
    (void)state;
    double values[BENCH_REPLICATES_MAX];
    size_t count = 0;
    assert_true(kind_parse_numbers("204 212.5 208", values, BENCH_REPLICATES_MAX, &count));
    assert_int_equal(count, 3);
    check_near(values[1], 212.5, 0, "second replicate");
    assert_false(kind_parse_numbers("1 2 3", values, 2, &count));
    assert_false(kind_parse_numbers("1  2", values, 4, &count));
    assert_false(kind_parse_numbers(" 1", values, 4, &count));
    assert_false(kind_parse_numbers("1 ", values, 4, &count));
    assert_false(kind_parse_numbers("", values, 4, &count));
    assert_int_equal(count, 3);
    expect_refused(KIND_BENCH_TESTS, "drained_ml", "200;201",
                   "'200;201' given, accepted is 1 to 64 numbers, a space between, each from 0 to "
                   "1000000");
    expect_refused(KIND_BENCH_TESTS, "drained_ml", "200 -1",
                   "'200 -1' given, accepted is 1 to 64 numbers, a space between, each from 0 to "
                   "1000000");
}

static void kind_parse_ids_are_lower_case_and_short(void **state)
{
    (void)state;
    static const char *const bad[] = {"A",    "a b", "a_b",
                                      "água", "a.b", "abcdefghijabcdefghijabcdefghijabcdefghijk"};
    struct kind_value value;
    struct kind_fault fault;
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        assert_int_equal(kind_parse(column_of(KIND_MIXES, "mix"), bad[i], &value, &fault), -1);
        assert_non_null(strstr(fault.text, "given, accepted is 1 to 40 of a-z, 0-9 and '-'"));
    }
    assert_int_equal(kind_parse(column_of(KIND_MIXES, "mix"),
                                "abcdefghijabcdefghijabcdefghijabcdefghi-", &value, &fault),
                     0);
    expect_refused(KIND_ZONES, "supply", "The Pump",
                   "'The Pump' given, accepted is an id of supplies.csv: 1 to 40 of a-z, 0-9 and "
                   "'-'");
}

static void kind_parse_words_are_those_listed(void **state)
{
    (void)state;
    expect_refused(KIND_POTS, "form", "oval", "'oval' given, accepted is one of: round square");
    expect_refused(KIND_POTS, "form", "round square",
                   "'round square' given, accepted is one of: round square");
    expect_refused(KIND_POTS, "form", "roun", "'roun' given, accepted is one of: round square");
    expect_refused(KIND_COVERS, "rain", "true", "'true' given, accepted is yes or no");
    struct kind_value value;
    struct kind_fault fault;
    assert_int_equal(kind_parse(column_of(KIND_COVERS, "rain"), "yes", &value, &fault), 0);
    assert_int_equal(value.whole, 1);
    assert_int_equal(kind_parse(column_of(KIND_COVERS, "rain"), "no", &value, &fault), 0);
    assert_int_equal(value.whole, 0);
    assert_int_equal(kind_parse(column_of(KIND_POTS, "form"), "square", &value, &fault), 0);
    assert_string_equal(value.text, "square");
}

/* The classes that a mix may name are those that the core knows, and all of them. */
static void kind_parse_mix_classes_are_the_cores(void **state)
{
    (void)state;
    char list[256] = "";
    for (int i = BENCH_PEAT; i <= BENCH_GENERIC; i++)
        snprintf(list + strlen(list), sizeof list - strlen(list), "%s%s", i ? " " : "",
                 bench_prior_of((enum bench_class)i)->name);
    assert_string_equal(column_of(KIND_MIXES, "class")->choices, list);
}

static void kind_parse_texts_hold_no_control_characters(void **state)
{
    (void)state;
    char text[202];
    struct kind_value value;
    struct kind_fault fault;
    memset(text, 'x', 201);
    text[201] = '\0';
    expect_refused(KIND_MIXES, "name", "a\nb",
                   "'a\nb' given, accepted is up to 200 bytes of text without control characters");
    assert_int_equal(kind_parse(column_of(KIND_MIXES, "name"), text, &value, &fault), -1);
    text[200] = '\0';
    assert_int_equal(kind_parse(column_of(KIND_MIXES, "name"), text, &value, &fault), 0);
}

/* What was given is shown in at most 60 bytes, never half a character. */
static void kind_parse_long_values_are_shown_cut(void **state)
{
    (void)state;
    char text[256] = "";
    char wanted[256] = "'";
    struct kind_value value;
    struct kind_fault fault;
    for (int i = 0; i < 80; i++)
        strcat(text, "é");
    for (int i = 0; i < 30; i++)
        strcat(wanted, "é");
    strcat(wanted, "' given");
    assert_int_equal(kind_parse(column_of(KIND_MIXES, "mix"), text, &value, &fault), -1);
    assert_memory_equal(fault.text, wanted, strlen(wanted));
}

static void kind_parse_dates_and_moments_are_real_ones(void **state)
{
    (void)state;
    struct kind_value value;
    struct kind_fault fault;
    const struct kind_column *at = column_of(KIND_WEIGHINGS, "at");
    assert_int_equal(kind_parse(at, "2026-03-31T06:00:00+01:00", &value, &fault), 0);
    assert_int_equal(value.whole, 1774933200);
    expect_refused(KIND_WEIGHINGS, "at", "2026-03-31T06:00:00",
                   "'2026-03-31T06:00:00' given, accepted is a moment from 2000 to 2099 like "
                   "2026-03-31T06:00:00+01:00");
    expect_refused(KIND_WEIGHINGS, "at", "1999-12-31T23:59:59Z",
                   "'1999-12-31T23:59:59Z' given, accepted is a moment from 2000 to 2099 like "
                   "2026-03-31T06:00:00+01:00");
    assert_int_equal(kind_parse(at, "2000-01-01T00:00:00Z", &value, &fault), 0);
    assert_int_equal(kind_parse(at, "2100-01-01T00:00:00Z", &value, &fault), -1);
    assert_int_equal(kind_parse(column_of(KIND_BLOCKS, "from"), "2028-02-29", &value, &fault), 0);
    expect_refused(KIND_BLOCKS, "from", "2026-02-29",
                   "'2026-02-29' given, accepted is a date from 2000 to 2099 like 2026-03-31");
    expect_refused(KIND_BLOCKS, "from", "31.3.2026",
                   "'31.3.2026' given, accepted is a date from 2000 to 2099 like 2026-03-31");
    expect_refused(KIND_BLOCKS, "from", "1999-12-31",
                   "'1999-12-31' given, accepted is a date from 2000 to 2099 like 2026-03-31");
}

static void expect_edge(const char *text, enum nursery_edge_from from, int32_t second)
{
    struct nursery_edge edge = {NURSERY_CLOCK, 77};
    if (!kind_parse_edge(text, &edge))
        fail_msg("'%s' refused", text);
    assert_int_equal(edge.from, from);
    assert_int_equal(edge.second, second);
}

static void kind_parse_edge_reads_clock_and_sun(void **state)
{
    (void)state;
    static const char *const bad[] = {
        "",      "4",        "04:60",       "24:01",    "4:0",           "04:000",
        "-1:00", "sunrise ", "sunrise1:00", "sunrise-", "sunrise-12:01", "sunset+1",
        "dawn",  "04:00 ",   "noon",        "sunriseX", "004:00"};
    expect_edge("04:00", NURSERY_CLOCK, 14400);
    expect_edge("4:05", NURSERY_CLOCK, 14700);
    expect_edge("00:00", NURSERY_CLOCK, 0);
    expect_edge("24:00", NURSERY_CLOCK, 86400);
    expect_edge("sunrise", NURSERY_SUNRISE, 0);
    expect_edge("sunrise-1:00", NURSERY_SUNRISE, -3600);
    expect_edge("sunrise+2:30", NURSERY_SUNRISE, 9000);
    expect_edge("sunset+0:30", NURSERY_SUNSET, 1800);
    expect_edge("sunset-12:00", NURSERY_SUNSET, -43200);
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        struct nursery_edge edge = {NURSERY_SUNSET, 77};
        if (kind_parse_edge(bad[i], &edge))
            fail_msg("'%s' accepted", bad[i]);
        assert_int_equal(edge.second, 77);
    }
}

static void kind_parse_days_gives_bits_from_monday(void **state)
{
    (void)state;
    static const char *const bad[] = {"monday", "Mon", "mon,tue", "mon  tue", "mon tue ",
                                      " mon",   "xyz", "mon mon", "m",        "mo"};
    unsigned days = 0;
    assert_true(kind_parse_days("", &days));
    assert_int_equal(days, 0x7f);
    assert_true(kind_parse_days("mon", &days));
    assert_int_equal(days, 1);
    assert_true(kind_parse_days("sun", &days));
    assert_int_equal(days, 64);
    assert_true(kind_parse_days("fri mon wed", &days));
    assert_int_equal(days, 1 | 4 | 16);
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++)
        if (kind_parse_days(bad[i], &days))
            fail_msg("'%s' accepted", bad[i]);
    assert_int_equal(days, 1 | 4 | 16);
}

/* Every numeric column takes its own limits and nothing beyond them. */
static void kind_parse_all_numeric_columns_keep_their_limits(void **state)
{
    (void)state;
    size_t columns = 0;
    for (int k = 0; k < KIND_COUNT; k++) {
        const struct kind *kind = kind_of((enum kind_id)k);
        for (size_t c = 0; c < kind->column_count; c++) {
            const struct kind_column *column = &kind->columns[c];
            struct kind_value value;
            struct kind_fault fault;
            char text[64];
            if (column->type != KIND_NUMBER && column->type != KIND_WHOLE)
                continue;
            assert_true(column->low < column->high);
            snprintf(text, sizeof text, "%.17g", column->low);
            assert_int_equal(kind_parse(column, text, &value, &fault), column->above ? -1 : 0);
            snprintf(text, sizeof text, "%.17g", column->high);
            assert_int_equal(kind_parse(column, text, &value, &fault), 0);
            snprintf(text, sizeof text, "%.17g", column->high * 1.001);
            assert_int_equal(kind_parse(column, text, &value, &fault), -1);
            snprintf(text, sizeof text, "%.17g", column->low - 0.001);
            assert_int_equal(kind_parse(column, text, &value, &fault), -1);
            columns++;
        }
    }
    assert_true(columns > 60);
}

/* docs/records.md names every column and says what it takes, in these very words. */
static void kind_accepts_every_column_is_in_the_handbook(void **state)
{
    (void)state;
    char *text = calloc(1, 65536);
    FILE *file = fopen(PERCHD_SOURCE "/docs/records.md", "r");
    assert_non_null(text);
    assert_non_null(file);
    assert_true(fread(text, 1, 65535, file) > 0);
    fclose(file);
    for (int k = 0; k < KIND_COUNT; k++) {
        const struct kind *kind = kind_of((enum kind_id)k);
        char wanted[512];
        snprintf(wanted, sizeof wanted, "\n## %s.csv", kind->stem);
        const char *section = strstr(text, wanted);
        assert_non_null(section);
        const char *end = strstr(section + strlen(wanted), "\n## ");
        size_t length = end ? (size_t)(end - section) : strlen(section);
        for (size_t c = 0; c < kind->column_count; c++) {
            char accepted[256];
            kind_accepts(&kind->columns[c], accepted, sizeof accepted);
            snprintf(wanted, sizeof wanted, "\n| `%s` | %s | %s |", kind->columns[c].name,
                     kind->columns[c].required ? "needed" : "", accepted);
            if (!memmem(section, length, wanted, strlen(wanted)))
                fail_msg("%s.csv: not in docs/records.md:%s", kind->stem, wanted);
        }
    }
    free(text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(kind_of_every_kind_is_found_by_its_stem),
        cmocka_unit_test(kind_parse_numbers_keep_their_range),
        cmocka_unit_test(kind_parse_whole_numbers_take_no_fraction),
        cmocka_unit_test(kind_parse_lists_of_numbers_need_single_spaces),
        cmocka_unit_test(kind_parse_ids_are_lower_case_and_short),
        cmocka_unit_test(kind_parse_words_are_those_listed),
        cmocka_unit_test(kind_parse_mix_classes_are_the_cores),
        cmocka_unit_test(kind_parse_texts_hold_no_control_characters),
        cmocka_unit_test(kind_parse_long_values_are_shown_cut),
        cmocka_unit_test(kind_parse_dates_and_moments_are_real_ones),
        cmocka_unit_test(kind_parse_edge_reads_clock_and_sun),
        cmocka_unit_test(kind_parse_days_gives_bits_from_monday),
        cmocka_unit_test(kind_parse_all_numeric_columns_keep_their_limits),
        cmocka_unit_test(kind_accepts_every_column_is_in_the_handbook),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
