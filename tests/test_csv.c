/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check.h"

#include <stdio.h>
#include <string.h>

#include "daemon/csv.h"
#include "daemon/utf8.h"
#include "scratch.h"

/* The whole of a text as 'field|field\n' a row, the header first; the message where it fails. */
static void read_all(const char *text, size_t length, char *out, size_t size)
{
    struct error error = {""};
    struct csv *csv = csv_open_bytes("f.csv", text, length, &error);
    struct csv_row row;
    int got = csv ? 1 : -1;
    out[0] = '\0';
    if (csv)
        row = *csv_header(csv);
    while (got == 1) {
        for (size_t i = 0; i < row.count; i++)
            snprintf(out + strlen(out), size - strlen(out), "%s%s", i ? "|" : "", row.fields[i]);
        snprintf(out + strlen(out), size - strlen(out), "\n");
        got = csv_next(csv, &row, &error);
    }
    if (got < 0)
        snprintf(out + strlen(out), size - strlen(out), "%s", error.text);
    csv_close(csv);
}

static void expect(const char *text, const char *wanted)
{
    char out[2048];
    read_all(text, strlen(text), out, sizeof out);
    assert_string_equal(out, wanted);
}

/* RFC 4180 section 2, rules 1 to 7, with its own examples. */
static void csv_next_published_rfc_4180_examples_are_read(void **state)
{
    (void)state;
    expect("aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n", "aaa|bbb|ccc\nzzz|yyy|xxx\n");
    expect("aaa,bbb,ccc\r\nzzz,yyy,xxx", "aaa|bbb|ccc\nzzz|yyy|xxx\n");
    expect("field_name,field_name,field_name\r\naaa,bbb,ccc\r\n",
           "field_name|field_name|field_name\naaa|bbb|ccc\n");
    expect("\"aaa\",\"bbb\",\"ccc\"\r\nzzz,yyy,xxx", "aaa|bbb|ccc\nzzz|yyy|xxx\n");
    expect("\"aaa\",\"b\r\nbb\",\"ccc\"\r\nzzz,yyy,xxx", "aaa|b\r\nbb|ccc\nzzz|yyy|xxx\n");
    expect("\"aaa\",\"b\"\"bb\",\"ccc\"", "aaa|b\"bb|ccc\n");
}

static void csv_next_usual_files_are_read(void **state)
{
    (void)state;
    expect("a,b\n1,2\n", "a|b\n1|2\n");
    expect("\xef\xbb\xbf"
           "a,b\n1,2\n",
           "a|b\n1|2\n");
    expect("a,b\n,\n1,\n,2\n\n3,4\n\n\n", "a|b\n1|\n|2\n3|4\n"); /* empty rows are no rows */
    expect("a,b\n\"\",\"x\"\n", "a|b\n|x\n");
    expect("a,b\n \"x\" is refused,but spaces stay \n", "a|b\nf.csv:2: a quote inside a field; a "
                                                        "field with quotes is quoted as a whole, "
                                                        "its quotes doubled");
    expect("a,b\n x , y\n", "a|b\n x | y\n");
    expect("a,b\n\"x, y\",\"\"\"z\"\"\"\n", "a|b\nx, y|\"z\"\n");
    expect("nome,água\npé,ção\n", "nome|água\npé|ção\n");
    expect("one\n1\n", "one\n1\n");
}

static void csv_next_broken_rows_are_refused_with_their_line(void **state)
{
    (void)state;
    expect("a,b\n1,2\n3\n", "a|b\n1|2\nf.csv:3: 1 fields, the header has 2");
    expect("a,b\n1,2,5\n", "a|b\nf.csv:2: 3 fields, the header has 2 (a decimal comma, or a comma "
                           "in a text that is not quoted?)");
    expect("a,b\n1,\"2\n3,4\n", "a|b\nf.csv:2: a quote opened here is never closed");
    expect("a,b\n\"1\"x,2\n", "a|b\nf.csv:2: text after a closing quote");
    expect("a,b\n1\r2,3\n", "a|b\nf.csv:2: a carriage return without a line feed; lines end with "
                            "LF or CRLF");
    expect("a,b\n\"x\ny\nz\",1\n2\n", "a|b\nx\ny\nz|1\nf.csv:5: 1 fields, the header has 2");
}

static void csv_open_files_that_are_no_csv_are_refused(void **state)
{
    (void)state;
    char out[2048];
    expect("", "f.csv:1: empty; the first line names the columns");
    expect("\n\n,,\n", "f.csv:1: empty; the first line names the columns");
    expect("\xef\xbb\xbf", "f.csv:1: empty; the first line names the columns");
    expect("a;b\n1;2\n", "f.csv:1: columns separated by semicolons; accepted are commas, and "
                         "decimals with a point");
    expect("a\tb\n", "f.csv:1: columns separated by tabs; accepted are commas, and decimals with a "
                     "point");
    expect("a,b\n1,\xe1gua\n", "f.csv:2: not UTF-8 text; save the file as 'CSV UTF-8'");
    expect("\xff\xfe"
           "a,b",
           "f.csv:1: not UTF-8 text; save the file as 'CSV UTF-8'");
    read_all("a,b\n1,\0\n", 8, out, sizeof out);
    assert_string_equal(out, "f.csv:2: a NUL byte; accepted is UTF-8 text");
}

static void csv_next_limits_are_kept(void **state)
{
    (void)state;
    char text[8192];
    char out[8192];
    size_t length = 0;
    memset(text, 'x', CSV_FIELD_MAX);
    text[CSV_FIELD_MAX] = '\n';
    read_all(text, CSV_FIELD_MAX + 1, out, sizeof out);
    assert_int_equal(strlen(out), CSV_FIELD_MAX + 1);
    memset(text, 'x', CSV_FIELD_MAX + 1);
    read_all(text, CSV_FIELD_MAX + 1, out, sizeof out);
    assert_string_equal(out, "f.csv:1: a field of 4097 bytes, accepted are 4096 at most");
    for (size_t i = 0; i < CSV_COLUMNS_MAX; i++)
        length += (size_t)snprintf(text + length, sizeof text - length, "%sc%zu", i ? "," : "", i);
    read_all(text, length, out, sizeof out);
    assert_non_null(strstr(out, "|c63\n"));
    length += (size_t)snprintf(text + length, sizeof text - length, ",more");
    read_all(text, length, out, sizeof out);
    assert_string_equal(out, "f.csv:1: more than 64 fields");
}

static void csv_open_path_is_named_in_messages(void **state)
{
    (void)state;
    struct scratch scratch;
    struct error error = {""};
    char wanted[512];
    scratch_open(&scratch);
    assert_null(csv_open("/nowhere/f.csv", &error));
    assert_string_equal(error.text, "/nowhere/f.csv: No such file or directory");
    assert_null(csv_open(scratch.folder, &error));
    snprintf(wanted, sizeof wanted, "%s: Is a directory", scratch.folder);
    assert_string_equal(error.text, wanted);
    struct csv *csv = csv_open(scratch_write(&scratch, "f.csv", "a,b\n1\n"), &error);
    struct csv_row row;
    assert_non_null(csv);
    assert_int_equal(csv_header(csv)->line, 1);
    assert_int_equal(csv_next(csv, &row, &error), -1);
    snprintf(wanted, sizeof wanted, "%s:2: 1 fields, the header has 2", scratch.path);
    assert_string_equal(error.text, wanted);
    csv_close(csv);
    csv_close(NULL);
    scratch_close(&scratch);
}

/* A file of many buffers' length comes through whole. */
static void csv_open_long_file_is_read_to_its_end(void **state)
{
    (void)state;
    struct scratch scratch;
    struct error error = {""};
    struct csv_row row;
    size_t rows = 0;
    scratch_open(&scratch);
    FILE *file = fopen(scratch_path(&scratch, "f.csv"), "w");
    assert_non_null(file);
    fputs("number,text\n", file);
    for (int i = 0; i < 50000; i++)
        fprintf(file, "%d,\"a, \"\"%d\"\"\"\r\n", i, i);
    fclose(file);
    struct csv *csv = csv_open(scratch.path, &error);
    assert_non_null(csv);
    while (csv_next(csv, &row, &error) == 1) {
        char wanted[64];
        snprintf(wanted, sizeof wanted, "a, \"%zu\"", rows);
        assert_string_equal(row.fields[1], wanted);
        assert_int_equal(row.line, rows + 2);
        rows++;
    }
    assert_int_equal(rows, 50000);
    csv_close(csv);
    scratch_close(&scratch);
}

static void csv_next_random_bytes_are_answered(void **state)
{
    (void)state;
    static const char alphabet[] = "a1,,,\"\"\n\n\r\n;\t \xc3\xa9";
    uint64_t random = 4180;
    for (int round = 0; round < 20000; round++) {
        char text[64];
        char out[4096];
        size_t length = (size_t)check_between(&random, 0, sizeof text);
        for (size_t i = 0; i < length; i++)
            text[i] = alphabet[(size_t)check_between(&random, 0, sizeof alphabet - 1)];
        read_all(text, length, out, sizeof out);
        assert_int_not_equal(out[0], '\0');
    }
}

/* RFC 3629: section 4's table, its limits on both sides. */
static void utf8_check_published_sequences_are_told_apart(void **state)
{
    (void)state;
    static const char *const good[] = {"",
                                       "a",
                                       "\x7f",
                                       "\xc2\x80",
                                       "\xdf\xbf",
                                       "\xe0\xa0\x80",
                                       "\xed\x9f\xbf",
                                       "\xee\x80\x80",
                                       "\xef\xbf\xbf",
                                       "\xf0\x90\x80\x80",
                                       "\xf4\x8f\xbf\xbf"};
    static const char *const bad[] = {"\x80",
                                      "\xbf",
                                      "\xc0\x80",
                                      "\xc1\xbf",
                                      "\xc2",
                                      "\xc2\x41",
                                      "\xe0\x9f\xbf",
                                      "\xed\xa0\x80",
                                      "\xe2\x82",
                                      "\xe2\x28\xa1",
                                      "\xe2\x82\x28",
                                      "\xf0\x8f\xbf\xbf",
                                      "\xf4\x90\x80\x80",
                                      "\xf5\x80\x80\x80",
                                      "\xf0\x90\x80",
                                      "\xff"};
    for (size_t i = 0; i < sizeof good / sizeof good[0]; i++)
        assert_int_equal(utf8_check(good[i], strlen(good[i])), strlen(good[i]));
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        char text[16];
        snprintf(text, sizeof text, "ab%s", bad[i]);
        assert_int_equal(utf8_check(text, strlen(text)), 2);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(csv_next_published_rfc_4180_examples_are_read),
        cmocka_unit_test(csv_next_usual_files_are_read),
        cmocka_unit_test(csv_next_broken_rows_are_refused_with_their_line),
        cmocka_unit_test(csv_open_files_that_are_no_csv_are_refused),
        cmocka_unit_test(csv_next_limits_are_kept),
        cmocka_unit_test(csv_open_path_is_named_in_messages),
        cmocka_unit_test(csv_open_long_file_is_read_to_its_end),
        cmocka_unit_test(csv_next_random_bytes_are_answered),
        cmocka_unit_test(utf8_check_published_sequences_are_told_apart),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
