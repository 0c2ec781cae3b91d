/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What every test file includes first: cmocka and a comparison of doubles that prints what was
 * compared (cmocka 1.1.5 compares through float).
 */
#ifndef PERCHD_TESTS_CHECK_H
#define PERCHD_TESTS_CHECK_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

/* |got - expected| <= tolerance, NaN never passes; `what` names source and quantity. */
#define check_near(got, expected, tolerance, what)                                                 \
    check_near_at((got), (expected), (tolerance), (what), __FILE__, __LINE__)
void check_near_at(double got, double expected, double tolerance, const char *what,
                   const char *file, int line);

/* Deterministic random numbers for property tests: a 64-bit state, 0 <= x < 1 (splitmix64). */
double check_random(uint64_t *state);
double check_between(uint64_t *state, double low, double high);

/* Runs a shell command with standard output and error caught (each cut at its size); returns the
 * exit code, or -1. */
int check_run(const char *command, char *out, size_t out_size, char *err, size_t err_size);

/* Path of a program of the build under test ("perchd"); static storage per call site's buffer. */
const char *check_program(const char *name, char *buffer, size_t size);

#endif
