/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A stand-in for a weather service: a thread with a real socket on loopback that gives scripted
 * answers, one a connection, and keeps what the clients sent.
 */
#ifndef PERCHD_TESTS_STANDIN_H
#define PERCHD_TESTS_STANDIN_H

#include <stddef.h>

enum standin_manner {
    STANDIN_WHOLE, /* send, close */
    STANDIN_RESET, /* send, then break the connection */
    STANDIN_HOLD,  /* send, then keep silent until the client leaves */
    STANDIN_DRIP,  /* a byte every 50 ms */
};

struct standin;

struct standin *standin_start(void); /* asserts */
void standin_stop(struct standin *standin);
int standin_port(const struct standin *standin);

/* "http://127.0.0.1:PORT/forecast", owned by the stand-in. */
const char *standin_url(const struct standin *standin);

/* Adds an answer; the last one repeats. headers are whole lines ("Name: value\r\n..."); length and
 * 'Connection: close' are added. */
void standin_answer(struct standin *standin, int status, const char *headers, const void *body,
                    size_t length);
/* The same, with the bytes of the whole answer. */
void standin_answer_raw(struct standin *standin, enum standin_manner manner, const void *bytes,
                        size_t length);
/* Forgets the answers that were not given yet. */
void standin_clear(struct standin *standin);

/* Requests so far, and the text of one (request line and headers); "" when there is none. */
size_t standin_requests(struct standin *standin);
const char *standin_request(struct standin *standin, size_t index);

/* malloc'ed gzip of the bytes. */
void *standin_gzip(const void *bytes, size_t length, size_t *gzip_length);

#endif
