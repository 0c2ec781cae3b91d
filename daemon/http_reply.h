/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Responses of the HTTP side: the fields that everything gets, problem documents, texts. */
#ifndef PERCHD_DAEMON_HTTP_REPLY_H
#define PERCHD_DAEMON_HTTP_REPLY_H

#include <microhttpd.h>
#include <stddef.h>

#include "field.h"
#include "problem.h"

struct http_header {
    const char *name, *value; /* value NULL: left out */
};

/* Takes response (which may be NULL); NULL when a header could not be added. */
struct MHD_Response *http_with_headers(struct MHD_Response *response,
                                       const struct http_header *headers, size_t count);

/* What the request wants to be answered in. */
enum field_language http_language(struct MHD_Connection *connection);

/* In the reader's language. allow: for 405. */
enum MHD_Result http_reply_problem(struct MHD_Connection *connection, const struct problem *problem,
                                   const char *allow);

/* A text of this moment (malloc'ed, taken; NULL: no memory); tag NULL: not to be kept. NULL when
 * memory is short. */
struct MHD_Response *http_text_take(char *text, size_t length, const char *media_type,
                                    const char *tag);

/* The same, sent. */
enum MHD_Result http_reply_text_take(struct MHD_Connection *connection, unsigned status, char *text,
                                     size_t length, const char *media_type, const char *tag);

#endif
