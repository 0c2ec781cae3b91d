/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Problem documents (RFC 9457): how every error of the HTTP side is said. */
#ifndef PERCHD_DAEMON_PROBLEM_H
#define PERCHD_DAEMON_PROBLEM_H

#define PROBLEM_MEDIA_TYPE "application/problem+json"

/* {"title": ..., "status": ..., "detail": ...}: type is left out, so 'about:blank', and the title
 * is the status' own phrase (4.2.1). field is the request's part that was wrong ("Host", "?date"),
 * NULL when none. detail must be UTF-8; what is not is left out. malloc'ed; NULL when memory is
 * short. */
char *problem_new(unsigned status, const char *title, const char *field, const char *detail);

#endif
