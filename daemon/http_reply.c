/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "http_reply.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

/* On everything we send: nothing but our own files is loaded, run, framed or sniffed. */
static const struct http_header common_headers[] = {
    {"Content-Security-Policy",
     "default-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"},
    {"X-Content-Type-Options", "nosniff"},
    {"Referrer-Policy", "no-referrer"},
    {"Cross-Origin-Resource-Policy", "same-origin"},
};

static bool add_headers(struct MHD_Response *response, const struct http_header *headers,
                        size_t count)
{
    for (size_t i = 0; i < count; i++)
        if (headers[i].value &&
            MHD_add_response_header(response, headers[i].name, headers[i].value) != MHD_YES)
            return false;
    return true;
}

/* Takes response (which may be NULL); NULL when a header could not be added. */
struct MHD_Response *http_with_headers(struct MHD_Response *response,
                                       const struct http_header *headers, size_t count)
{
    if (response &&
        (!add_headers(response, common_headers, sizeof common_headers / sizeof *common_headers) ||
         !add_headers(response, headers, count))) {
        MHD_destroy_response(response);
        return NULL;
    }
    return response;
}

static enum MHD_Result add_language(void *cls, enum MHD_ValueKind kind, const char *name,
                                    const char *value)
{
    (void)kind;
    if (value && strcasecmp(name, "Accept-Language") == 0)
        field_languages_add(cls, value);
    return MHD_YES;
}

enum field_language http_language(struct MHD_Connection *connection)
{
    struct field_languages languages = FIELD_LANGUAGES_EMPTY;
    MHD_get_connection_values(connection, MHD_HEADER_KIND, add_language, &languages);
    return field_languages_choose(&languages);
}

enum MHD_Result http_reply_problem(struct MHD_Connection *connection, const struct problem *problem,
                                   const char *allow)
{
    enum field_language language = http_language(connection);
    char *text = problem_text(problem, &language);
    const struct http_header headers[] = {
        {"Content-Type", PROBLEM_MEDIA_TYPE},
        {"Content-Language", field_language_tag(language)},
        {"Vary", "Accept-Language"},
        {"Cache-Control", "no-store"},
        {"Allow", problem->status == PROBLEM_METHOD_NOT_ALLOWED ? allow : NULL},
        {"Retry-After", problem->status == PROBLEM_SERVICE_UNAVAILABLE ? "2" : NULL},
    };
    if (!text)
        return MHD_NO; /* closes the connection: all that is left without memory */
    struct MHD_Response *response =
        MHD_create_response_from_buffer(strlen(text), text, MHD_RESPMEM_MUST_FREE);
    if (!response)
        free(text);
    response = http_with_headers(response, headers, sizeof headers / sizeof *headers);
    if (!response)
        return MHD_NO;
    enum MHD_Result result = MHD_queue_response(connection, problem->status, response);
    MHD_destroy_response(response);
    return result;
}

struct MHD_Response *http_text_take(char *text, size_t length, const char *media_type,
                                    const char *tag)
{
    const struct http_header headers[] = {
        {"Content-Type", media_type},
        {"Cache-Control", tag ? "no-cache" : "no-store"},
        {"ETag", tag},
    };
    if (!text)
        return NULL;
    struct MHD_Response *response =
        MHD_create_response_from_buffer(length, text, MHD_RESPMEM_MUST_FREE);
    if (!response)
        free(text);
    return http_with_headers(response, headers, sizeof headers / sizeof *headers);
}

enum MHD_Result http_reply_text_take(struct MHD_Connection *connection, unsigned status, char *text,
                                     size_t length, const char *media_type, const char *tag)
{
    struct MHD_Response *response = http_text_take(text, length, media_type, tag);
    if (!response)
        return MHD_NO;
    enum MHD_Result result = MHD_queue_response(connection, status, response);
    MHD_destroy_response(response);
    return result;
}
