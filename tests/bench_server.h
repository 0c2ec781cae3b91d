/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The servers that the benchmarks ask: perchd with a made-up nursery, and nginx with the same bytes
 * as files. Each in a folder of its own below /tmp. Ends the program with words when it cannot.
 */
#ifndef PERCHD_TESTS_BENCH_SERVER_H
#define PERCHD_TESTS_BENCH_SERVER_H

#include <stddef.h>
#include <sys/types.h>

struct server {
    char folder[64];
    int port;
    pid_t started;             /* the process to end */
    pid_t pid;                 /* the one that answers: nginx's worker */
    double start_ms, first_ms; /* from exec to the first answer at all, and to one of `first` */
};

/* Records of that many blocks, ten a zone, with a pot, a mix and figures of their own each. 0: the
 * example nursery of config/demo. */
void server_nursery_make(struct server *server, size_t blocks);

/* Starts perchd there; returns when it has answered /healthz and then has a plan. */
void server_perchd_start(struct server *server);

/* nginx: one worker, an empty folder `root` in its own folder. */
void server_nginx_make(struct server *server);
void server_nginx_start(struct server *server);

/* A file for nginx to serve; name is a path that starts with '/'. */
void server_nginx_put(const struct server *server, const char *name, const char *ending,
                      const char *bytes, size_t length);

void server_stop(struct server *server);
void server_remove(struct server *server);

/* Bytes of the process's memory that are resident now, and most so far. */
double server_resident_mb(const struct server *server);
double server_peak_mb(const struct server *server);

#endif
