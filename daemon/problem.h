/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Problem documents (RFC 9457): how every error of the HTTP side is said. */
#ifndef PERCHD_DAEMON_PROBLEM_H
#define PERCHD_DAEMON_PROBLEM_H

#include "field.h"

#define PROBLEM_MEDIA_TYPE "application/problem+json"

/* The statuses of errors that we give (RFC 9110, 15; RFC 6585 for 428 and 429). */
enum problem_status {
    PROBLEM_NONE = 0,
    PROBLEM_BAD_REQUEST = 400,
    PROBLEM_UNAUTHORIZED = 401,
    PROBLEM_FORBIDDEN = 403,
    PROBLEM_NOT_FOUND = 404,
    PROBLEM_METHOD_NOT_ALLOWED = 405,
    PROBLEM_NOT_ACCEPTABLE = 406,
    PROBLEM_CONFLICT = 409,
    PROBLEM_LENGTH_REQUIRED = 411,
    PROBLEM_PRECONDITION_FAILED = 412,
    PROBLEM_CONTENT_TOO_LARGE = 413,
    PROBLEM_UNSUPPORTED_MEDIA_TYPE = 415,
    PROBLEM_MISDIRECTED_REQUEST = 421,
    PROBLEM_UNPROCESSABLE = 422,
    PROBLEM_PRECONDITION_REQUIRED = 428,
    PROBLEM_TOO_MANY_REQUESTS = 429,
    PROBLEM_INTERNAL = 500,
    PROBLEM_NOT_IMPLEMENTED = 501,
    PROBLEM_SERVICE_UNAVAILABLE = 503,
};

/* All UTF-8; NULL or "": left out. */
struct problem {
    enum problem_status status;
    const char *field;  /* the request's part that was wrong ("Host", "query", "litres") */
    const char *detail; /* what was given, what is accepted, in a sentence */
    const char *given;
    const char *accepted;
    const double *least, *most; /* of a number, what is accepted; NULL or NaN: left out */
    const char *instance;       /* the address of the record that is in the way */
};

/* {"title": ..., "status": ..., "field": ..., "given": ..., "accepted": ..., "accepted_min": ...,
 * "accepted_max": ..., "detail": ..., "instance": ...}: type
 * is left out, so 'about:blank', and the title is the status' own phrase (4.2.1). What is accepted
 * and the detail are said in *language, or all in English where that has no words for them, which
 * *language then is. malloc'ed; NULL when memory is short. */
char *problem_text(const struct problem *problem, enum field_language *language);

#endif
