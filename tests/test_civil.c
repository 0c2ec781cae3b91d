/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Expected days and moments are those of the POSIX epoch (IEEE Std 1003.1, 'Seconds Since the
 * Epoch') and of RFC 3339's own examples. */
#include "check.h"

#include "core/civil.h"

#define COUNT(a) (sizeof(a) / sizeof((a)[0]))

/* Central European time around the changes of 2026: 29 March and 25 October, both at 01:00 UTC. */
static const struct civil_offset EUROPE_OFFSETS[] = {
    {1761440400, 3600},
    {1774746000, 7200},
    {1792890000, 3600},
};
static const struct civil_zone EUROPE = {EUROPE_OFFSETS, COUNT(EUROPE_OFFSETS)};

static struct civil_date date_of(const char *text)
{
    struct civil_date date = {0};
    assert_int_equal(civil_parse_date(text, &date), STATUS_OK);
    return date;
}

static int64_t utc(const char *text)
{
    int64_t t_s = 0;
    assert_int_equal(civil_parse_rfc3339(text, &t_s), STATUS_OK);
    return t_s;
}

static void assert_date(struct civil_date date, int year, int month, int day)
{
    assert_int_equal(date.year, year);
    assert_int_equal(date.month, month);
    assert_int_equal(date.day, day);
}

/* --- dates -------------------------------------------------------------------------------- */

static void date_valid_edges_are_told(void **state)
{
    (void)state;
    static const struct {
        struct civil_date date;
        bool valid;
    } rows[] = {
        {{2024, 2, 29}, true},  {{2023, 2, 29}, false}, {{2000, 2, 29}, true},
        {{1900, 2, 29}, false}, {{2023, 4, 31}, false}, {{2023, 12, 31}, true},
        {{1, 1, 1}, true},      {{0, 12, 31}, false},   {{9999, 12, 31}, true},
        {{10000, 1, 1}, false}, {{2023, 0, 1}, false},  {{2023, 13, 1}, false},
        {{2023, 1, 0}, false},  {{2023, 1, 32}, false}, {{-4, 1, 1}, false},
        {{2023, -1, 1}, false},
    };
    for (size_t i = 0; i < COUNT(rows); i++)
        if (civil_date_valid(rows[i].date) != rows[i].valid)
            fail_msg("row %zu: %d-%d-%d", i, rows[i].date.year, rows[i].date.month,
                     rows[i].date.day);
}

static void days_known_dates_match(void **state)
{
    (void)state;
    assert_int_equal(civil_days((struct civil_date){1970, 1, 1}), 0);
    assert_int_equal(civil_days((struct civil_date){1969, 12, 31}), -1);
    assert_int_equal(civil_days((struct civil_date){2000, 3, 1}), 11017);
    assert_int_equal(civil_days((struct civil_date){2001, 9, 9}), 11574); /* 10^9 s */
    assert_int_equal(civil_days((struct civil_date){1, 1, 1}), -719162);
    assert_int_equal(civil_days((struct civil_date){9999, 12, 31}), 2932896);
}

/* Walks every day of the years 1..9999: the next day is one of three things. */
static void from_days_every_day_of_the_calendar_follows_the_last(void **state)
{
    (void)state;
    struct civil_date last = {1, 1, 1};
    int in_year = 1;
    for (int64_t days = -719161; days <= 2932896; days++) {
        struct civil_date date = civil_from_days(days);
        bool next_day =
            date.year == last.year && date.month == last.month && date.day == last.day + 1;
        bool next_month = date.year == last.year && date.month == last.month + 1 && date.day == 1;
        bool next_year = date.year == last.year + 1 && date.month == 1 && date.day == 1;
        in_year = next_year ? 1 : in_year + 1;
        if (!civil_date_valid(date) || civil_days(date) != days ||
            civil_day_of_year(date) != in_year ||
            (int)next_day + (int)next_month + (int)next_year != 1)
            fail_msg("day %ld: %d-%d-%d", (long)days, date.year, date.month, date.day);
        last = date;
    }
    assert_date(last, 9999, 12, 31);
}

/* FAO-56 examples 8 (3 September), 18 (6 July), 19 (1 October); table 2.5 of its annex 2. */
static void published_day_of_year_fao56(void **state)
{
    (void)state;
    assert_int_equal(civil_day_of_year(date_of("2001-09-03")), 246);
    assert_int_equal(civil_day_of_year(date_of("2001-07-06")), 187);
    assert_int_equal(civil_day_of_year(date_of("2001-10-01")), 274);
    assert_int_equal(civil_day_of_year(date_of("2000-07-01")), 183); /* leap: Greeley, ASCE 2005 */
    assert_int_equal(civil_day_of_year(date_of("2024-02-29")), 60);
    assert_int_equal(civil_day_of_year(date_of("2024-12-31")), 366);
    assert_int_equal(civil_day_of_year(date_of("2023-12-31")), 365);
}

/* The footnote of FAO-56 table 2.5: J = INT(275 M/9 - 30 + D) - 2, +2 when M < 3, +1 in a leap year
 * when M > 2. */
static void published_day_of_year_fao56_footnote(void **state)
{
    (void)state;
    for (int year = 2023; year <= 2024; year++) {
        for (int64_t d = civil_days((struct civil_date){year, 1, 1});
             d <= civil_days((struct civil_date){year, 12, 31}); d++) {
            struct civil_date date = civil_from_days(d);
            int j = (int)(275.0 * date.month / 9 - 30 + date.day) - 2 + (date.month < 3 ? 2 : 0) +
                    (year == 2024 && date.month > 2 ? 1 : 0);
            assert_int_equal(civil_day_of_year(date), j);
        }
    }
}

static void floor_before_1970_goes_down(void **state)
{
    (void)state;
    assert_int_equal(civil_floor_day(-1), -86400);
    assert_int_equal(civil_floor_day(0), 0);
    assert_int_equal(civil_floor_day(86399), 0);
    assert_int_equal(civil_floor_day(-86400), -86400);
    assert_int_equal(civil_floor_hour(-1), -3600);
    assert_int_equal(civil_floor_hour(3599), 0);
    assert_int_equal(civil_floor_hour(7200), 7200);
}

/* --- local time --------------------------------------------------------------------------- */

static void offset_at_changes_at_the_moment(void **state)
{
    (void)state;
    assert_int_equal(civil_offset_at(&EUROPE, 0), 3600); /* before the list: its first entry */
    assert_int_equal(civil_offset_at(&EUROPE, utc("2026-03-29T00:59:59Z")), 3600);
    assert_int_equal(civil_offset_at(&EUROPE, utc("2026-03-29T01:00:00Z")), 7200);
    assert_int_equal(civil_offset_at(&EUROPE, utc("2026-10-25T00:59:59Z")), 7200);
    assert_int_equal(civil_offset_at(&EUROPE, utc("2026-10-25T01:00:00Z")), 3600);
    assert_int_equal(civil_offset_at(&EUROPE, utc("2040-07-01T00:00:00Z")), 3600);
}

static void local_date_and_second_around_midnight_match(void **state)
{
    (void)state;
    assert_date(civil_local_date(&EUROPE, utc("2026-06-30T21:59:59Z")), 2026, 6, 30);
    assert_int_equal(civil_local_second(&EUROPE, utc("2026-06-30T21:59:59Z")), 86399);
    assert_date(civil_local_date(&EUROPE, utc("2026-06-30T22:00:00Z")), 2026, 7, 1);
    assert_int_equal(civil_local_second(&EUROPE, utc("2026-06-30T22:00:00Z")), 0);
}

/* UTC + 14 and - 12 are the ends of the date line. */
static void local_date_at_the_date_line_differs_by_a_day(void **state)
{
    (void)state;
    static const struct civil_offset east[] = {{0, 14 * 3600}};
    static const struct civil_offset west[] = {{0, -12 * 3600}};
    const struct civil_zone line_east = {east, 1};
    const struct civil_zone line_west = {west, 1};
    int64_t t_s = utc("2024-02-29T11:00:00Z");
    assert_date(civil_local_date(&line_east, t_s), 2024, 3, 1);
    assert_date(civil_local_date(&line_west, t_s), 2024, 2, 28);
}

static void local_to_utc_skipped_hour_gives_the_change(void **state)
{
    (void)state;
    int64_t day = civil_days((struct civil_date){2026, 3, 29});
    int64_t change = utc("2026-03-29T01:00:00Z");
    assert_int_equal(civil_local_to_utc(&EUROPE, day, 2 * 3600 - 1), change - 1);
    assert_int_equal(civil_local_to_utc(&EUROPE, day, 2 * 3600), change);
    assert_int_equal(civil_local_to_utc(&EUROPE, day, 2 * 3600 + 1800), change);
    assert_int_equal(civil_local_to_utc(&EUROPE, day, 3 * 3600), change);
    assert_int_equal(civil_local_to_utc(&EUROPE, day, 3 * 3600 + 1), change + 1);
}

static void local_to_utc_repeated_hour_gives_the_first(void **state)
{
    (void)state;
    int64_t day = civil_days((struct civil_date){2026, 10, 25});
    assert_int_equal(civil_local_to_utc(&EUROPE, day, 2 * 3600 + 1800),
                     utc("2026-10-25T00:30:00Z"));
    assert_int_equal(civil_local_to_utc(&EUROPE, day, 3 * 3600), utc("2026-10-25T02:00:00Z"));
}

static void local_to_utc_days_are_23_24_or_25_hours_long(void **state)
{
    (void)state;
    static const struct {
        int month, day, hours;
    } rows[] = {{3, 28, 24}, {3, 29, 23}, {3, 30, 24}, {10, 24, 24}, {10, 25, 25}, {10, 26, 24}};
    for (size_t i = 0; i < COUNT(rows); i++) {
        int64_t day = civil_days((struct civil_date){2026, rows[i].month, rows[i].day});
        int64_t length =
            civil_local_to_utc(&EUROPE, day + 1, 0) - civil_local_to_utc(&EUROPE, day, 0);
        assert_int_equal(length, rows[i].hours * 3600);
    }
}

static void local_to_utc_seconds_outside_the_day_are_counted_on(void **state)
{
    (void)state;
    int64_t day = civil_days((struct civil_date){2026, 6, 10});
    assert_int_equal(civil_local_to_utc(&EUROPE, day, -1), utc("2026-06-09T23:59:59+02:00"));
    assert_int_equal(civil_local_to_utc(&EUROPE, day, 90000), utc("2026-06-11T01:00:00+02:00"));
}

/* Where local time exists once, going there and back changes nothing. */
static void local_to_utc_round_trip_holds_but_for_the_second_of_twice(void **state)
{
    (void)state;
    for (int64_t t_s = utc("2026-03-01T00:00:00Z"); t_s < utc("2026-11-10T00:00:00Z");
         t_s += 1799) {
        int64_t day = civil_days(civil_local_date(&EUROPE, t_s));
        int64_t back = civil_local_to_utc(&EUROPE, day, civil_local_second(&EUROPE, t_s));
        bool second = t_s >= utc("2026-10-25T01:00:00Z") && t_s < utc("2026-10-25T02:00:00Z");
        assert_int_equal(back, second ? t_s - 3600 : t_s);
    }
}

/* --- text --------------------------------------------------------------------------------- */

/* The first four are the examples of RFC 3339 section 5.8 (its leap second is refused here). */
static void parse_rfc3339_accepts_what_is_a_moment(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        int64_t t_s;
    } rows[] = {
        {"1985-04-12T23:20:50.52Z", 482196050},
        {"1996-12-19T16:39:57-08:00", 851042397},
        {"1937-01-01T12:00:27.87+00:20", -1041337173},
        {"1970-01-01T00:00:00Z", 0},
        {"1970-01-01t00:00:00z", 0},
        {"1969-12-31T23:59:59Z", -1},
        {"2024-02-29T12:00:00+05:30", 1709188200},
        {"2026-07-01T14:00:00-00:00", 1782914400},
        {"0001-01-01T00:00:00Z", -62135596800},
        {"9999-12-31T23:59:59Z", 253402300799},
    };
    for (size_t i = 0; i < COUNT(rows); i++)
        if (utc(rows[i].text) != rows[i].t_s)
            fail_msg("%s gave %ld", rows[i].text, (long)utc(rows[i].text));
}

static void parse_rfc3339_refuses_what_is_not(void **state)
{
    (void)state;
    static const char *const rows[] = {
        "",
        "2026-07-01",
        "2026-07-01T14:00:00",
        "2026-07-01T14:00Z",
        "2026-07-01 14:00:00Z",
        "2026-07-01T24:00:00Z",
        "2026-07-01T23:60:00Z",
        "1990-12-31T23:59:60Z",
        "2026-02-29T00:00:00Z",
        "2026-13-01T00:00:00Z",
        "2026-7-01T00:00:00Z",
        "2026-07-01T14:00:00.Z",
        "2026-07-01T14:00:00,5Z",
        "2026-07-01T14:00:00+0200",
        "2026-07-01T14:00:00+02",
        "2026-07-01T14:00:00+24:00",
        "2026-07-01T14:00:00+02:60",
        "2026-07-01T14:00:00Z ",
        " 2026-07-01T14:00:00Z",
        "2026-07-01T14:00:00ZZ",
        "2026-07-01T-1:00:00Z",
        "0000-01-01T00:00:00Z",
        "20260701T140000Z",
        "2026-07-01T14:00:00+02:00x",
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        int64_t t_s = 77;
        if (civil_parse_rfc3339(rows[i], &t_s) != STATUS_RANGE || t_s != 77)
            fail_msg("'%s' was taken as %ld", rows[i], (long)t_s);
    }
}

/* Every prefix of a good text is refused and none is read beyond its end (the copy is exact, so a
 * sanitizer build sees it). */
static void parse_rfc3339_cut_anywhere_is_refused(void **state)
{
    (void)state;
    const char *text = "2026-07-01T14:00:00.25+02:00";
    for (size_t n = 0; n < strlen(text); n++) {
        char *cut = strndup(text, n);
        int64_t t_s = 0;
        struct civil_date date;
        assert_int_equal(civil_parse_rfc3339(cut, &t_s), STATUS_RANGE);
        assert_int_equal(civil_parse_date(cut, &date), n == 10 ? STATUS_OK : STATUS_RANGE);
        free(cut);
    }
}

static void parse_date_refuses_what_is_not(void **state)
{
    (void)state;
    static const char *const rows[] = {"",           "2026-02-30",  "2026-2-3",    "26-02-03",
                                       "2026/02/03", "2026-02-03 ", "2026-02-03T", "+026-02-03",
                                       "2026-00-10", "0000-01-01",  "2026-02-3x"};
    for (size_t i = 0; i < COUNT(rows); i++) {
        struct civil_date date = {7, 7, 7};
        if (civil_parse_date(rows[i], &date) != STATUS_RANGE || date.year != 7)
            fail_msg("'%s' was taken", rows[i]);
    }
}

static void format_rfc3339_matches(void **state)
{
    (void)state;
    static const struct {
        int64_t t_s;
        int32_t offset_s;
        const char *text;
    } rows[] = {
        {0, 0, "1970-01-01T00:00:00Z"},
        {-1, 0, "1969-12-31T23:59:59Z"},
        {1782914400, 7200, "2026-07-01T16:00:00+02:00"},
        {1782914400, -12600, "2026-07-01T10:30:00-03:30"},
        {1709164800, 50400, "2024-02-29T14:00:00+14:00"},
        {253402300799, 0, "9999-12-31T23:59:59Z"},
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        char text[CIVIL_TEXT];
        civil_format_rfc3339(rows[i].t_s, rows[i].offset_s, text);
        assert_string_equal(text, rows[i].text);
    }
}

static void format_rfc3339_reads_back(void **state)
{
    (void)state;
    uint64_t seed = 20260701;
    print_message("seed %lu\n", (unsigned long)seed);
    for (int i = 0; i < 20000; i++) {
        int64_t t_s = (int64_t)check_between(&seed, -6.2e10, 2.5e11);
        int32_t offset_s = (int32_t)check_between(&seed, -56, 56) * 900;
        char text[CIVIL_TEXT];
        civil_format_rfc3339(t_s, offset_s, text);
        assert_int_equal(utc(text), t_s);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(date_valid_edges_are_told),
        cmocka_unit_test(days_known_dates_match),
        cmocka_unit_test(from_days_every_day_of_the_calendar_follows_the_last),
        cmocka_unit_test(published_day_of_year_fao56),
        cmocka_unit_test(published_day_of_year_fao56_footnote),
        cmocka_unit_test(floor_before_1970_goes_down),
        cmocka_unit_test(offset_at_changes_at_the_moment),
        cmocka_unit_test(local_date_and_second_around_midnight_match),
        cmocka_unit_test(local_date_at_the_date_line_differs_by_a_day),
        cmocka_unit_test(local_to_utc_skipped_hour_gives_the_change),
        cmocka_unit_test(local_to_utc_repeated_hour_gives_the_first),
        cmocka_unit_test(local_to_utc_days_are_23_24_or_25_hours_long),
        cmocka_unit_test(local_to_utc_seconds_outside_the_day_are_counted_on),
        cmocka_unit_test(local_to_utc_round_trip_holds_but_for_the_second_of_twice),
        cmocka_unit_test(parse_rfc3339_accepts_what_is_a_moment),
        cmocka_unit_test(parse_rfc3339_refuses_what_is_not),
        cmocka_unit_test(parse_rfc3339_cut_anywhere_is_refused),
        cmocka_unit_test(parse_date_refuses_what_is_not),
        cmocka_unit_test(format_rfc3339_matches),
        cmocka_unit_test(format_rfc3339_reads_back),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
