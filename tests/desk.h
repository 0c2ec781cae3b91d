/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Asking the desk calculator, 'perchd reckon', from a test: in this process, or through the real
 * program of the build under test. Words are parted by blanks; nothing is quoted.
 */
#ifndef PERCHD_TESTS_DESK_H
#define PERCHD_TESTS_DESK_H

#include <stdbool.h>
#include <stddef.h>

#include <jansson.h>

enum desk_way {
    DESK_HERE,    /* reckon_run() */
    DESK_PROGRAM, /* a child: 'perchd reckon WORDS' */
};

/* The exit code; what was printed is cut at its size. */
int desk_run(enum desk_way way, const char *words, char *out, size_t out_size, char *err,
             size_t err_size);

/* The answer to --json of a call that must succeed: one flat object, every member but "notes" a
 * finite number. The caller drops it. */
json_t *desk_answer(const char *words);

double desk_number(const json_t *answer, const char *key);
bool desk_has(const json_t *answer, const char *key);
/* Whether a note holds part. */
bool desk_noted(const json_t *answer, const char *part);

struct desk_figure {
    const char *key;
    double value, tolerance;
};
/* The same figures in this process and through the program. */
void desk_check_figures(const char *source, const char *words, const struct desk_figure *figures,
                        size_t count);
/* desk_check("FAO-56 example 2", "air elevation_m=1800", {"pressure_kpa", 81.8, 0.05}, ...) */
#define desk_check(source, words, ...)                                                             \
    do {                                                                                           \
        const struct desk_figure figures[] = {__VA_ARGS__};                                        \
        desk_check_figures((source), (words), figures, sizeof figures / sizeof figures[0]);        \
    } while (0)

/* Exit 2, nothing on standard output, one line on standard error that names the key and says what
 * is accepted. */
void desk_check_refused(enum desk_way way, const char *words, const char *key);

#endif
