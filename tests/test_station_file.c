/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A station's file that grows, against a real store. */
#include "check.h"

#include <fcntl.h>
#include <math.h>
#include <stdio.h>
#include <sys/stat.h>
#include <unistd.h>

#include "core/civil.h"
#include "daemon/station_file.h"
#include "daemon/store_internal.h"
#include "scratch.h"

/* 2026-06-01T12:00:00Z */
static const int64_t NOON = 1780315200;

#define HEADER "time,temperature_c,humidity_pct,wind_m_s,radiation_w_m2,rain_mm\n"

struct desk {
    struct scratch scratch;
    char csv[256];
    struct store *store;
    struct station_file *file;
    struct error error;
};

static void open_desk(struct desk *d)
{
    scratch_open(&d->scratch);
    snprintf(d->csv, sizeof d->csv, "%s", scratch_path(&d->scratch, "station.csv"));
    d->store = store_open(scratch_path(&d->scratch, "records.sqlite"), false, &d->error);
    d->file = station_file_new(d->csv);
    assert_non_null(d->store);
    assert_non_null(d->file);
}

static void close_desk(struct desk *d)
{
    station_file_free(d->file);
    store_close(d->store);
    scratch_close(&d->scratch);
}

static void append(struct desk *d, const char *text)
{
    FILE *f = fopen(d->csv, "ab");
    assert_non_null(f);
    fputs(text, f);
    assert_int_equal(fclose(f), 0);
}

static int poll_at(struct desk *d, int64_t now_s)
{
    return station_file_poll(d->file, d->store, now_s, &d->error);
}

static double ask(struct desk *d, const char *sql)
{
    sqlite3_stmt *row = NULL;
    assert_int_equal(sqlite3_prepare_v2(d->store->db, sql, -1, &row, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_step(row), SQLITE_ROW);
    double value = sqlite3_column_type(row, 0) == SQLITE_NULL ? NAN : sqlite3_column_double(row, 0);
    sqlite3_finalize(row);
    return value;
}

static void station_file_rows_come_in_as_the_file_grows(void **state)
{
    (void)state;
    struct desk d;
    open_desk(&d);
    assert_int_equal(poll_at(&d, NOON), 0); /* not there yet */
    append(&d, HEADER "2026-06-01T11:50:00Z,20.5,60,1.2,700,0\n2026-06-01T11:5");
    assert_int_equal(poll_at(&d, NOON), 1);
    assert_string_equal(d.error.text, "");
    check_near(ask(&d, "SELECT count(*) FROM station_reading"), 1, 0, "the whole line");
    assert_int_equal(poll_at(&d, NOON), 0);
    append(&d, "5:00Z,21,59,1.3,710,0.2\r\n");
    assert_int_equal(poll_at(&d, NOON), 1);
    check_near(ask(&d, "SELECT temperature_c FROM station_reading ORDER BY end_s DESC"), 21, 0,
               "completed line");
    check_near(ask(&d, "SELECT period_s FROM station_reading ORDER BY end_s DESC"), 300, 0,
               "since the row before");
    check_near(ask(&d, "SELECT rain_mm FROM station_reading ORDER BY end_s DESC"), 0.2, 0, "rain");
    close_desk(&d);
}

static void station_file_header_that_comes_late_or_with_a_mark_is_taken(void **state)
{
    (void)state;
    struct desk d;
    open_desk(&d);
    append(&d, "\xef\xbb\xbftime,period_min,tempera");
    assert_int_equal(poll_at(&d, NOON), 0);
    append(&d, "ture_c,dewpoint_c\r\n2026-06-01T13:50:00+02:00,10,20,\r\n");
    assert_int_equal(poll_at(&d, NOON), 1);
    check_near(ask(&d, "SELECT end_s FROM station_reading"), (double)NOON - 600, 0, "offset");
    check_near(ask(&d, "SELECT period_s FROM station_reading"), 600, 0, "period");
    assert_true(isnan(ask(&d, "SELECT dewpoint_c FROM station_reading")));
    close_desk(&d);
}

static void station_file_bad_rows_are_left_out_the_others_count(void **state)
{
    (void)state;
    struct desk d;
    open_desk(&d);
    append(&d, HEADER "2026-06-01T11:00:00Z,20,60,1,700,0\n"
                      "2026-06-01T11:10:00Z,20,60,1\n"           /* too few fields */
                      "2026-06-01 11:20:00,20,60,1,700,0\n"      /* no offset */
                      "2026-06-01T11:30:00Z,warm,60,1,700,0\n"   /* a word */
                      "2026-06-01T11:40:00Z,\"20,60,1,700,0\n"   /* a quote that stays open */
                      "2026-06-01T11:45:00Z,2\xff,60,1,700,0\n"  /* not UTF-8 */
                      "2026-06-01T12:10:00Z,20,60,1,700,0\n"     /* to come */
                      "2026-06-01T11:50:00Z,2000,60,1,700,0\n"); /* absurd: kept */
    assert_int_equal(poll_at(&d, NOON), 1);
    assert_non_null(strstr(d.error.text, "station.csv: 6 rows left out, the first: line 3"));
    check_near(ask(&d, "SELECT count(*) FROM station_reading"), 2, 0, "the good ones");
    check_near(ask(&d, "SELECT max(temperature_c) FROM station_reading"), 2000, 0, "kept");
    close_desk(&d);
}

static void station_file_refusals_say_what_is_accepted(void **state)
{
    (void)state;
    static const struct {
        const char *text, *words;
    } CASES[] = {
        {"time;temperature_c\n", "semicolons; accepted are commas"},
        {"time,temp\n", "column 'temp' is not known; accepted are time, period_min"},
        {"time,time\n", "column 'time' stands there twice"},
        {"temperature_c\n", "no column 'time'"},
    };
    for (size_t i = 0; i < sizeof CASES / sizeof *CASES; i++) {
        struct desk d;
        open_desk(&d);
        append(&d, CASES[i].text);
        assert_int_equal(poll_at(&d, NOON), -1);
        if (!strstr(d.error.text, CASES[i].words))
            fail_msg("no '%s' in '%s'", CASES[i].words, d.error.text);
        assert_int_equal(poll_at(&d, NOON), 0); /* said once, until it changes */
        close_desk(&d);
    }
    struct desk d;
    open_desk(&d);
    assert_int_equal(mkdir(d.csv, 0700), 0);
    assert_int_equal(poll_at(&d, NOON), -1);
    assert_int_equal(rmdir(d.csv), 0);
    assert_int_equal(mkfifo(d.csv, 0600), 0);
    assert_int_equal(poll_at(&d, NOON), -1); /* and does not wait for a writer */
    close_desk(&d);
}

static void station_file_rotation_and_restart_lose_and_repeat_nothing(void **state)
{
    (void)state;
    struct desk d;
    char old[280];
    open_desk(&d);
    append(&d, HEADER "2026-06-01T11:00:00Z,20,60,1,700,0\n2026-06-01T11:10:00Z,20,60,1,700,0\n");
    assert_int_equal(poll_at(&d, NOON), 1);
    snprintf(old, sizeof old, "%s.1", d.csv);
    assert_int_equal(rename(d.csv, old), 0);
    assert_int_equal(poll_at(&d, NOON), 0); /* between the two */
    append(&d, HEADER "2026-06-01T11:20:00Z,20,60,1,700,0\n");
    assert_int_equal(poll_at(&d, NOON), 1);
    check_near(ask(&d, "SELECT count(*) FROM station_reading"), 3, 0, "rotated");
    /* cut and written again */
    assert_int_equal(truncate(d.csv, 0), 0);
    append(&d, HEADER);
    assert_int_equal(poll_at(&d, NOON), 0);
    append(&d, "2026-06-01T11:30:00Z,20,60,1,700,0\n");
    assert_int_equal(poll_at(&d, NOON), 1);
    /* a daemon that starts anew reads all of it: nothing changes */
    station_file_free(d.file);
    d.file = station_file_new(d.csv);
    assert_int_equal(poll_at(&d, NOON), 0);
    check_near(ask(&d, "SELECT count(*) FROM station_reading"), 4, 0, "once each");
    /* a corrected row does */
    append(&d, "2026-06-01T11:30:00Z,22,60,1,700,0\n");
    assert_int_equal(poll_at(&d, NOON), 1);
    check_near(ask(&d, "SELECT temperature_c FROM station_reading ORDER BY end_s DESC"), 22, 0,
               "corrected");
    close_desk(&d);
}

static void station_file_years_of_rows_come_in_chunks_the_old_ones_not_at_all(void **state)
{
    (void)state;
    struct desk d;
    open_desk(&d);
    FILE *f = fopen(d.csv, "w");
    assert_non_null(f);
    fputs(HEADER, f);
    for (int i = 180 * 144; i > 0; i--) { /* half a year of ten minutes: over a megabyte */
        char time[CIVIL_TEXT];
        civil_format_rfc3339(NOON - i * 600, 0, time);
        fprintf(f, "%s,%d.5,60,1.25,700.125,0.000000000000\n", time, i % 30);
    }
    assert_int_equal(fclose(f), 0);
    assert_int_equal(poll_at(&d, NOON), 1);
    assert_string_equal(d.error.text, "");
    check_near(ask(&d, "SELECT count(*) FROM station_reading"), STATION_FILE_DAYS * 144, 1,
               "sixty days");
    assert_int_equal(poll_at(&d, NOON), 0);
    close_desk(&d);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(station_file_rows_come_in_as_the_file_grows),
        cmocka_unit_test(station_file_header_that_comes_late_or_with_a_mark_is_taken),
        cmocka_unit_test(station_file_bad_rows_are_left_out_the_others_count),
        cmocka_unit_test(station_file_refusals_say_what_is_accepted),
        cmocka_unit_test(station_file_rotation_and_restart_lose_and_repeat_nothing),
        cmocka_unit_test(station_file_years_of_rows_come_in_chunks_the_old_ones_not_at_all),
    };
    return cmocka_run_group_tests_name("station_file", tests, NULL, NULL);
}
