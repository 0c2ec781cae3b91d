/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The desk calculator: 'perchd reckon TOPIC key=value ...'. This header is the frame that topics
 * are hung into: declared keys with ranges, declared outputs with units and source. The frame
 * parses, checks, prints help, the table or one flat JSON object; a topic only computes.
 * docs/reckon.md says what a person sees.
 */
#ifndef PERCHD_DAEMON_RECKON_H
#define PERCHD_DAEMON_RECKON_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include "core/civil.h"

enum reckon_kind {
    RECKON_NUMBER,  /* one number, JSON grammar, min..max */
    RECKON_LIST,    /* comma-separated numbers, each min..max */
    RECKON_WORD,    /* one of words ("a|b|c") */
    RECKON_DATE,    /* YYYY-MM-DD */
    RECKON_TIME,    /* RFC 3339 */
    RECKON_INTEGER, /* as RECKON_NUMBER, without a fraction */
};

enum reckon_bound {
    RECKON_CLOSED,   /* min <= x <= max */
    RECKON_OPEN_MIN, /* min <  x <= max */
    RECKON_OPEN_MAX, /* min <= x <  max */
};

struct reckon_key {
    const char *name;
    enum reckon_kind kind;
    bool required;
    double min, max; /* RECKON_NUMBER, RECKON_LIST and RECKON_INTEGER */
    enum reckon_bound bound;
    const char *words;    /* RECKON_WORD: accepted words with '|' between */
    const char *fallback; /* default as printed in help, NULL when there is none */
    const char *about;    /* one line for help */
};

struct reckon_out {
    const char *name;
    const char *unit;   /* as printed in the table, "-" for a pure number */
    const char *source; /* formula's source, short */
};

struct reckon_desk; /* the keys given and the answers so far of one call */

struct reckon_topic {
    const char *name;
    const char *about;
    const struct reckon_key *keys;
    size_t key_count;
    const struct reckon_out *outs;
    size_t out_count;
    /* 0 done, 1 failed at run time, 2 refused; a refusal goes through reckon_refuse(). */
    int (*run)(struct reckon_desk *desk);
};

/* One table a subject, each in its own file: reckon_weather.c, reckon_mix.c, reckon_water.c. */
extern const struct reckon_topic reckon_weather_topics[];
extern const size_t reckon_weather_count;
extern const struct reckon_topic reckon_mix_topics[];
extern const size_t reckon_mix_count;
extern const struct reckon_topic reckon_water_topics[];
extern const size_t reckon_water_count;

/* argv without 'perchd reckon'. Returns the exit code. On 1 and 2 exactly one line goes to err, on
 * 2 nothing to out. */
int reckon_run(int argc, char *const argv[], FILE *out, FILE *err);

/* --- for topics ------------------------------------------------------------------------- */

bool reckon_has(const struct reckon_desk *desk, const char *key);
/* Value of a key that is known to be given (else a bug: asserts). */
double reckon_number(const struct reckon_desk *desk, const char *key);
/* Value of a key, or fallback with the note 'KEY not given: FALLBACK used'. */
double reckon_number_or(struct reckon_desk *desk, const char *key, double fallback);
struct civil_date reckon_date(const struct reckon_desk *desk, const char *key);
int64_t reckon_time(const struct reckon_desk *desk, const char *key);
const double *reckon_list(const struct reckon_desk *desk, const char *key, size_t *count);
/* The text of a key as it was given, of any kind; NULL when it was not. */
const char *reckon_word(const struct reckon_desk *desk, const char *key);
const char *reckon_word_or(struct reckon_desk *desk, const char *key, const char *fallback);

/* Counts how many of the NULL-terminated names are given. */
size_t reckon_count(const struct reckon_desk *desk, const char *const *names);

/* One way among several to give the same thing: each option is the key it is known by. Returns 0
 * when exactly one was given (or none, unless required), else refuses and returns 2. ways is the
 * choice in words, "a_c | b_c + d_c". */
int reckon_choose(struct reckon_desk *desk, const char *const *options, bool required,
                  const char *ways);
/* Refuses key without needed: 0, or 2. */
int reckon_need(struct reckon_desk *desk, const char *key, const char *needed);

/* An answer; a value that is not finite is left out and a note says so. Names must be among the
 * topic's declared outs, except numbered ones (theta_1) that reckon_give_numbered() makes. */
void reckon_give(struct reckon_desk *desk, const char *name, double value);
void reckon_give_numbered(struct reckon_desk *desk, const char *stem, size_t number, double value);
void reckon_note(struct reckon_desk *desk, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

/* Refuses: one line 'KEY: what was given, what is accepted'. Always returns 2. The format says
 * "given X, accepted is Y" so that all refusals read alike. The first refusal of a call is kept, so
 * that a topic may make all its checks in a row and then ask once. */
int reckon_refuse(struct reckon_desk *desk, const char *key, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* Whether something was refused: the topic then returns 2. */
bool reckon_refused(const struct reckon_desk *desk);

#endif
