/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A bare HTTP client on loopback for the tests: it sends what it is told, right or wrong, and
 * shows what came back.
 */
#ifndef PERCHD_TESTS_CLIENT_H
#define PERCHD_TESTS_CLIENT_H

#include <stdbool.h>
#include <stddef.h>

struct answer {
    int status;      /* 0: closed, or silent for ten seconds, before a whole head came */
    char head[4096]; /* status line and fields */
    char *body;      /* malloc'ed, terminated; client_forget frees */
    size_t length;
    bool whole; /* as many bytes as Content-Length said */
};

/* A connection to 127.0.0.1:port whose reads give up after ten seconds; fails the test when there
 * is none. */
int client_dial(int port);

/* Sends all of text; false when the other side is gone. */
bool client_send(int fd, const char *text, size_t length);

/* Reads one answer; without_body after HEAD and for 304. Pipelined answers come one by one. */
void client_read(int fd, struct answer *answer, bool without_body);

/* One request on a connection of its own: method, path and further fields ("Name: value\r\n"). */
void client_ask(int port, const char *method, const char *path, const char *fields,
                struct answer *answer);

/* As client_ask, with the request's every byte given; '@' stands for 127.0.0.1:port. */
void client_ask_raw(int port, const char *request, struct answer *answer);

/* A field's value in answer->head, copied into out, "" when absent. */
const char *client_field(const struct answer *answer, const char *name, char *out, size_t size);

/* Nothing more comes: the other side closed (waits up to ten seconds). */
bool client_closed(int fd);

void client_forget(struct answer *answer);

#endif
