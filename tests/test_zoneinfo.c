/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check.h"

#include <stdio.h>
#include <string.h>

#include "daemon/zoneinfo.h"
#include "scratch.h"

/* 2000-01-01 and 2100-12-31. */
#define FIRST_S 946684800
#define LAST_S  4133894400

static int32_t parse_offset(const char *text)
{
    int hour = 0;
    int minute = 0;
    int second = 0;
    assert_int_equal(sscanf(text + 1, "%d:%d:%d", &hour, &minute, &second), 3);
    int32_t offset = hour * 3600 + minute * 60 + second;
    return text[0] == '-' ? -offset : offset;
}

/* The moments around every change that we know of, and others over the whole span: a change that
 * we miss lies between two of those. */
static size_t choose_moments(const struct civil_zone *zone, int64_t *moments, size_t max)
{
    size_t count = 0;
    for (size_t i = 1; i < zone->count && count + 2 < max / 2; i++) {
        moments[count++] = zone->offsets[i].from_s - 1;
        moments[count++] = zone->offsets[i].from_s;
    }
    uint64_t random = 7;
    while (count < max)
        moments[count++] = (int64_t)check_between(&random, FIRST_S, LAST_S);
    return count;
}

/* Against the C library's own reading of the same zone, as 'date' prints it. */
static void compare_with_date(const char *name)
{
    enum { MOMENTS = 2000 };
    static int64_t moments[MOMENTS]; /* too large for the stack of a small machine */
    struct civil_zone zone;
    struct error error = {""};
    struct scratch scratch;
    char command[512];
    char line[64];
    if (zoneinfo_load(name, &zone, &error))
        fail_msg("%s", error.text);
    size_t count = choose_moments(&zone, moments, MOMENTS);
    scratch_open(&scratch);
    FILE *file = fopen(scratch_path(&scratch, "in"), "w");
    assert_non_null(file);
    for (size_t i = 0; i < count; i++)
        fprintf(file, "@%lld\n", (long long)moments[i]);
    fclose(file);
    snprintf(command, sizeof command, "TZ='%s' date -f '%s/in' '+%%::z' > '%s/out'", name,
             scratch.folder, scratch.folder);
    assert_int_equal(system(command), 0);
    file = fopen(scratch_path(&scratch, "out"), "r");
    assert_non_null(file);
    for (size_t i = 0; i < count; i++) {
        assert_non_null(fgets(line, sizeof line, file));
        int32_t got = civil_offset_at(&zone, moments[i]);
        if (got != parse_offset(line))
            fail_msg("%s at %lld: %d s, date says %s", name, (long long)moments[i], got, line);
    }
    fclose(file);
    scratch_close(&scratch);
    zoneinfo_free(&zone);
}

static void zoneinfo_load_zones_agree_with_date_to_2100(void **state)
{
    (void)state;
    static const char *const names[] = {
        "Europe/Lisbon",
        "America/New_York",
        "Pacific/Auckland",
        "Asia/Kathmandu",
        "Australia/Lord_Howe",
        "Africa/Casablanca",
        "Europe/Dublin",
        "America/Santiago",
        "Pacific/Chatham",
        "Asia/Gaza",
        "America/Nuuk",
        "Pacific/Apia",
        "America/Caracas",
        "Asia/Tehran",
        "Antarctica/Troll",
        "Africa/Monrovia",
        "UTC",
        "Etc/GMT-14",
        "Australia/Melbourne",
        "America/St_Johns",
    };
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++)
        compare_with_date(names[i]);
}

/* Every zone that a grower may name. */
static void zoneinfo_load_all_listed_zones_are_read(void **state)
{
    (void)state;
    FILE *list = fopen("/usr/share/zoneinfo/zone.tab", "r");
    char line[256];
    char name[64];
    size_t count = 0;
    assert_non_null(list);
    while (fgets(line, sizeof line, list)) {
        struct civil_zone zone;
        struct error error = {""};
        if (line[0] == '#' || sscanf(line, "%*s %*s %63s", name) != 1)
            continue;
        if (zoneinfo_load(name, &zone, &error))
            fail_msg("%s", error.text);
        for (size_t i = 1; i < zone.count; i++)
            assert_true(zone.offsets[i].from_s > zone.offsets[i - 1].from_s &&
                        zone.offsets[i].offset_s != zone.offsets[i - 1].offset_s);
        zoneinfo_free(&zone);
        count++;
    }
    fclose(list);
    assert_true(count > 300);
}

/* Decree-Law in force in Portugal (EU directive 2000/84/EC): summer time begins on the last Sunday
 * of March and ends on the last Sunday of October, 01:00 UTC. */
static void zoneinfo_load_lisbon_changes_at_one_utc(void **state)
{
    (void)state;
    struct civil_zone zone;
    struct error error;
    assert_int_equal(zoneinfo_load("Europe/Lisbon", &zone, &error), 0);
    assert_int_equal(civil_offset_at(&zone, 1774745999), 0); /* 2026-03-29T00:59:59Z */
    assert_int_equal(civil_offset_at(&zone, 1774746000), 3600);
    assert_int_equal(civil_offset_at(&zone, 1792889999), 3600); /* 2026-10-25T00:59:59Z */
    assert_int_equal(civil_offset_at(&zone, 1792890000), 0);
    assert_int_equal(civil_offset_at(&zone, 4109878800), 3600); /* 2100-03-28T01:00:00Z */
    assert_int_equal(civil_offset_at(&zone, 4109878799), 0);
    zoneinfo_free(&zone);
    assert_null(zone.offsets);
}

static void zoneinfo_load_unsafe_names_never_reach_the_file_system(void **state)
{
    (void)state;
    static const char *const names[] = {
        "",
        "/etc/passwd",
        "../zoneinfo/UTC",
        "Europe/../UTC",
        "Europe//Lisbon",
        "Europe/",
        "Europe/Lisbon ",
        "Europe\\Lisbon",
        ":UTC",
        "zone.tab",
        ("aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa"
         "aaaa")};
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        struct civil_zone zone = {NULL, 77};
        struct error error = {""};
        assert_int_equal(zoneinfo_load(names[i], &zone, &error), -1);
        assert_non_null(strstr(error.text, "not a name like Europe/Lisbon"));
        assert_int_equal(zone.count, 77);
    }
}

static void zoneinfo_load_what_is_no_zone_is_refused(void **state)
{
    (void)state;
    struct civil_zone zone;
    struct error error = {""};
    assert_int_equal(zoneinfo_load("Europe/Atlantis", &zone, &error), -1);
    assert_string_equal(error.text, "time zone 'Europe/Atlantis': /usr/share/zoneinfo/Europe/"
                                    "Atlantis: No such file or directory");
    assert_int_equal(zoneinfo_load("Europe", &zone, &error), -1);
    assert_non_null(strstr(error.text, "Is a directory"));
    assert_int_equal(zoneinfo_load("leapseconds", &zone, &error), -1);
    assert_non_null(strstr(error.text, "not a TZif file"));
}

/* --- TZif made by hand -------------------------------------------------------------------- */

struct made {
    unsigned char bytes[512];
    size_t length;
};

static void put(struct made *made, uint64_t value, int size)
{
    for (int i = size - 1; i >= 0; i--)
        made->bytes[made->length++] = (unsigned char)(value >> (8 * i));
}

static void put_header(struct made *made, char version, unsigned leaps, unsigned times,
                       unsigned types)
{
    memcpy(made->bytes + made->length, "TZif", 4);
    made->bytes[made->length + 4] = (unsigned char)version;
    memset(made->bytes + made->length + 5, 0, 15);
    made->length += 20;
    put(made, 0, 4);
    put(made, 0, 4);
    put(made, leaps, 4);
    put(made, times, 4);
    put(made, types, 4);
    put(made, 4, 4); /* designations */
}

/* Version 2: an empty first block, then two types (0 and 3600 s) and one transition. */
static struct made make(const char *footer, int64_t from_s, unsigned type)
{
    struct made made = {.length = 0};
    put_header(&made, '2', 0, 0, 1);
    put(&made, 0, 4);
    put(&made, 0, 2);
    put(&made, 0, 4);
    put_header(&made, '2', 0, 1, 2);
    put(&made, (uint64_t)from_s, 8);
    put(&made, type, 1);
    put(&made, 0, 4);
    put(&made, 0, 2);
    put(&made, 3600, 4);
    put(&made, 0, 2);
    put(&made, 0, 4);
    made.length += (size_t)snprintf((char *)made.bytes + made.length,
                                    sizeof made.bytes - made.length, "\n%s\n", footer);
    return made;
}

static int read_made(const struct made *made, struct civil_zone *zone, struct error *error)
{
    return zoneinfo_read("Made/Up", made->bytes, made->length, zone, error);
}

static void expect_offsets(const char *footer, const int64_t (*expected)[2], size_t count)
{
    struct made made = make(footer, 1000000000, 1);
    struct civil_zone zone;
    struct error error = {""};
    if (read_made(&made, &zone, &error))
        fail_msg("'%s': %s", footer, error.text);
    for (size_t i = 0; i < count; i++)
        if (civil_offset_at(&zone, expected[i][0]) != expected[i][1])
            fail_msg("'%s' at %lld: %d s, expected %lld", footer, (long long)expected[i][0],
                     civil_offset_at(&zone, expected[i][0]), (long long)expected[i][1]);
    zoneinfo_free(&zone);
}

/* The three forms of POSIX rule, worked by hand for 2027 and the leap year 2028. */
static void zoneinfo_read_footer_forms_follow_the_calendar(void **state)
{
    (void)state;
    /* J60 is 1 March in every year: 2027-03-01T02:00 and 2028-03-01T02:00. */
    expect_offsets("AAA0BBB,J60,J300",
                   (const int64_t[][2]){
                       {1803866399, 0}, {1803866400, 3600}, {1835488799, 0}, {1835488800, 3600}},
                   4);
    /* 59 counts 29 February: 1 March in 2027, 29 February in 2028. */
    expect_offsets("AAA0BBB,59/0,299/0",
                   (const int64_t[][2]){
                       {1803859199, 0}, {1803859200, 3600}, {1835395199, 0}, {1835395200, 3600}},
                   4);
    /* First Monday of February 2027 is the 1st; hours below zero reach into the day before. */
    expect_offsets("AAA0BBB-2,M2.1.1/-3,M11.5.0",
                   (const int64_t[][2]){{1801429199, 0}, {1801429200, 7200}}, 2);
    /* West of Greenwich, quoted names, minutes and seconds. */
    expect_offsets("<-0330>3:30:15", (const int64_t[][2]){{1803866400, -12615}}, 1);
    /* No footer: the last transition stays. */
    expect_offsets("", (const int64_t[][2]){{999999999, 0}, {1000000000, 3600}, {4000000000, 3600}},
                   3);
}

static void zoneinfo_read_bad_footers_are_refused(void **state)
{
    (void)state;
    static const char *const footers[] = {
        "AA0",
        "AAA",
        "AAA25",
        "AAA0BBB",
        "AAA0BBB,",
        "AAA0BBB,M3.5.0",
        "AAA0BBB,M13.1.0,M10.5.0",
        "AAA0BBB,M3.6.0,M10.5.0",
        "AAA0BBB,M3.0.0,M10.5.0",
        "AAA0BBB,M3.5.7,M10.5.0",
        "AAA0BBB,J0,J300",
        "AAA0BBB,J366,J300",
        "AAA0BBB,366,1",
        "AAA0BBB,M3.5.0/168,M10.5.0",
        "AAA0BBB,M3.5.0,M10.5.0x",
        "<AAA0",
        "AAA0:60",
        "AAA-24",
    };
    for (size_t i = 0; i < sizeof footers / sizeof footers[0]; i++) {
        struct made made = make(footers[i], 1000000000, 1);
        struct civil_zone zone;
        struct error error = {""};
        if (read_made(&made, &zone, &error) != -1)
            fail_msg("'%s' was accepted", footers[i]);
        assert_non_null(strstr(error.text, "time zone 'Made/Up': TZif file with an "));
    }
}

static void zoneinfo_read_broken_files_are_refused(void **state)
{
    (void)state;
    struct civil_zone zone;
    struct error error = {""};
    struct made made = make("AAA0", 1000000000, 2); /* there are types 0 and 1 */
    assert_int_equal(read_made(&made, &zone, &error), -1);
    assert_non_null(strstr(error.text, "impossible transitions"));
    made = make("AAA0", 1000000000, 1);
    made.bytes[4] = '\0';
    assert_int_equal(read_made(&made, &zone, &error), -1);
    assert_non_null(strstr(error.text, "version 1"));
    made = make("AAA0", 1000000000, 1);
    memset(made.bytes + 44 + 10 + 32, 0xff, 4); /* 2^32 transitions */
    assert_int_equal(read_made(&made, &zone, &error), -1);
    assert_non_null(strstr(error.text, "cut short"));
    made = make("AAA0", 1000000000, 1);
    made.bytes[44 + 10 + 31] = 1; /* a leap second, its 12 bytes before the footer */
    memmove(made.bytes + made.length - 6 + 12, made.bytes + made.length - 6, 6);
    made.length += 12;
    assert_int_equal(read_made(&made, &zone, &error), -1);
    assert_non_null(strstr(error.text, "counts leap seconds"));
    made = make("AAA0", 1000000000, 1);
    for (size_t length = 0; length < made.length; length++) {
        assert_int_equal(zoneinfo_read("x", made.bytes, length, &zone, &error), -1);
        assert_int_not_equal(error.text[0], '\0');
    }
}

/* No byte of a file may lead beyond it: the sanitizers watch. */
static void zoneinfo_read_mangled_bytes_are_answered(void **state)
{
    (void)state;
    uint64_t random = 42;
    for (int round = 0; round < 5000; round++) {
        struct made made = make("AAA0BBB,M3.5.0,M10.5.0", 1000000000, 1);
        struct civil_zone zone;
        struct error error = {""};
        for (int i = 0; i < 1 + round % 5; i++)
            made.bytes[(size_t)check_between(&random, 0, (double)made.length)] =
                (unsigned char)check_between(&random, 0, 256);
        if (read_made(&made, &zone, &error) == 0) {
            assert_true(zone.count >= 1);
            zoneinfo_free(&zone);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(zoneinfo_load_zones_agree_with_date_to_2100),
        cmocka_unit_test(zoneinfo_load_all_listed_zones_are_read),
        cmocka_unit_test(zoneinfo_load_lisbon_changes_at_one_utc),
        cmocka_unit_test(zoneinfo_load_unsafe_names_never_reach_the_file_system),
        cmocka_unit_test(zoneinfo_load_what_is_no_zone_is_refused),
        cmocka_unit_test(zoneinfo_read_footer_forms_follow_the_calendar),
        cmocka_unit_test(zoneinfo_read_bad_footers_are_refused),
        cmocka_unit_test(zoneinfo_read_broken_files_are_refused),
        cmocka_unit_test(zoneinfo_read_mangled_bytes_are_answered),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
