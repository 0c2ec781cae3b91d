/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Load for the benchmarks: some keep-alive connections to a server on loopback, each with one
 * request underway, and what that cost the server. Ends the program with words when it cannot.
 */
#ifndef PERCHD_TESTS_BENCH_LOAD_H
#define PERCHD_TESTS_BENCH_LOAD_H

#include <stddef.h>
#include <sys/types.h>

struct load {
    int port;
    const char *path;
    const char *fields; /* "Name: value\r\n"... */
    int status;         /* every answer must have it */
    unsigned connections;
    double seconds; /* measured, after a tenth of that to warm up */
    pid_t pid;      /* the server's */
};

struct load_result {
    double requests_s;
    double median_ms, p99_ms;
    double cpu_us; /* the server's own run time, all its threads, per request */
    size_t bytes;  /* of one body */
};

void load_run(const struct load *load, struct load_result *out);

/* --- pieces, for other measurements ------------------------------------------------------ */

__attribute__((format(printf, 1, 2), noreturn)) void load_die(const char *format, ...);

double load_now_s(void);

/* A connection to 127.0.0.1:port; -1 when nobody listens. */
int load_dial(int port);

/* One GET on a connection; the status, 0 when it was closed instead. Fills body (unless NULL) up to
 * size, ends it, and gives its length and the named field ("" when absent). */
int load_get(int fd, const char *path, const char *fields, char *body, size_t size, size_t *length,
             const char *wanted, char *value, size_t value_size);

#endif
