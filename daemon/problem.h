/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Problem documents (RFC 9457): how every error of the HTTP side is said. */
#ifndef PERCHD_DAEMON_PROBLEM_H
#define PERCHD_DAEMON_PROBLEM_H

#define PROBLEM_MEDIA_TYPE "application/problem+json"

/* The statuses we give beside 200 and 304 (RFC 9110, 15). */
enum problem_status {
    PROBLEM_NONE = 0,
    PROBLEM_BAD_REQUEST = 400,
    PROBLEM_NOT_FOUND = 404,
    PROBLEM_METHOD_NOT_ALLOWED = 405,
    PROBLEM_NOT_ACCEPTABLE = 406,
    PROBLEM_PRECONDITION_FAILED = 412,
    PROBLEM_CONTENT_TOO_LARGE = 413,
    PROBLEM_MISDIRECTED_REQUEST = 421,
    PROBLEM_NOT_IMPLEMENTED = 501,
    PROBLEM_SERVICE_UNAVAILABLE = 503,
};

struct problem {
    enum problem_status status;
    const char *field;  /* the request's part that was wrong ("Host", "query"), NULL when none */
    const char *detail; /* UTF-8: what was given, what is accepted */
};

/* {"title": ..., "status": ..., "field": ..., "detail": ...}: type is left out, so 'about:blank',
 * and the title is the status' own phrase (4.2.1). malloc'ed; NULL when memory is short. */
char *problem_text(const struct problem *problem);

#endif
