/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The kinds of record that people give: their columns, types, units and ranges, in one table that
 * the import, the store and docs/records.md share. Text becomes checked values here; no SQL, no
 * files.
 */
#ifndef PERCHD_DAEMON_KIND_H
#define PERCHD_DAEMON_KIND_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "core/nursery.h"

/* In an order in which every kind comes after those it refers to. */
enum kind_id {
    KIND_MIXES,
    KIND_BENCH_TESTS,
    KIND_RETENTION_POINTS,
    KIND_POTS,
    KIND_COVERS,
    KIND_SUPPLIES,
    KIND_ZONES,
    KIND_WINDOWS,
    KIND_BLOCKS,
    KIND_POT_EVENTS,
    KIND_WEIGHINGS,
    KIND_TOUCH_CHECKS,
    KIND_RUNS,
    KIND_ORDERS,
    KIND_HOLDS,
    KIND_REQUIREMENTS,
    KIND_RAISES,
    KIND_CATCH_CANS,
    KIND_DRAIN_CATCHES,
    KIND_POUR_THROUGHS,
    KIND_GAUGE,
    KIND_NORMALS,
    KIND_HOURS,
    KIND_COUNT,
};

enum kind_type {
    KIND_ID,      /* [a-z0-9-]{1,40} */
    KIND_REF,     /* an id of kind `of` */
    KIND_TEXT,    /* up to 200 bytes of UTF-8, no control characters */
    KIND_NUMBER,  /* low..high */
    KIND_WHOLE,   /* low..high, a whole number */
    KIND_NUMBERS, /* 1..64 of them, one space between */
    KIND_YES_NO,
    KIND_CHOICE, /* one of `choices` */
    KIND_DATE,   /* 2000-01-01..2099-12-31 */
    KIND_MOMENT, /* RFC 3339, those years */
    KIND_EDGE,   /* of a window: 04:00, sunrise-1:00, sunset+0:30 */
    KIND_DAYS,   /* mon tue wed */
};

struct kind_column {
    const char *name; /* in CSV, with its unit */
    const char *sql;  /* in the store; NULL: the same */
    enum kind_type type;
    bool required;
    bool key;        /* part of what makes a record the same one */
    bool above;      /* low itself is not accepted */
    double low;      /* numbers */
    double high;     /* numbers */
    enum kind_id of; /* KIND_REF */
    const char *choices;
};

#define KIND_COLUMNS_MAX 40

struct kind {
    enum kind_id id;
    const char *stem;  /* of the CSV file's name */
    const char *table; /* in the store */
    const struct kind_column *columns;
    size_t column_count;
};

const struct kind *kind_of(enum kind_id id);
/* NULL when no kind has that stem. */
const struct kind *kind_named(const char *stem, size_t length);

/* One value: which member counts follows from the column's type. */
struct kind_value {
    bool given;
    double number;    /* KIND_NUMBER */
    int64_t whole;    /* KIND_WHOLE, KIND_YES_NO (0, 1), KIND_MOMENT (epoch seconds) */
    const char *text; /* as given, the caller's; every other type */
};

struct kind_row {
    const struct kind *kind;
    struct kind_value values[KIND_COLUMNS_MAX]; /* one a column */
};

/* What is wrong with a row, in the grower's words. */
struct kind_fault {
    const char *column; /* "" when not one column's fault */
    char text[400];
    double least, most; /* of a number, what is accepted; NaN: no bound, or not so simply said */
};

/* Always returns -1. */
int kind_fault_set(struct kind_fault *fault, const char *column, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* Text to value; "" is a value not given. The text must outlive the value. Returns 0, or -1 with
 * fault saying what was given and what is accepted. */
int kind_parse(const struct kind_column *column, const char *text, struct kind_value *value,
               struct kind_fault *fault);

/* What a column takes, in words: "a number above 0, at most 500". */
void kind_accepts(const struct kind_column *column, char *out, size_t size);

/* A value of a row by its column's name, which must be one of the kind's. */
const struct kind_value *kind_get(const struct kind_row *row, const char *name);
double kind_number(const struct kind_row *row, const char *name, double otherwise);
const char *kind_text(const struct kind_row *row, const char *name);
bool kind_is(const struct kind_row *row, const char *name, const char *choice);

/* The rules between the columns of one row, without looking at other records. */
int kind_check(const struct kind_row *row, struct kind_fault *fault);

/* Forms that the store keeps as text; false when text is not one. */
bool kind_parse_edge(const char *text, struct nursery_edge *edge);
bool kind_parse_days(const char *text, unsigned *weekdays);
/* 1..max numbers with single spaces between; *count of them into values. */
bool kind_parse_numbers(const char *text, double *values, size_t max, size_t *count);

/* A bench test from its row; class_name is the mix's. False when the class or a number is none. */
bool kind_bench_test(const struct kind_row *row, const char *class_name, struct bench_test *test);

/* Whether the test can be and gives a curve, after kind_check. */
int kind_check_bench(const struct kind_row *row, const char *class_name, struct kind_fault *fault);

#endif
