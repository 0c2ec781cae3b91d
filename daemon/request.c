/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "request.h"

#include <stdlib.h>
#include <string.h>
#include <strings.h>

enum { AUTHORITY_SIZE = 128 };

static const struct problem too_large = {
    .status = PROBLEM_CONTENT_TOO_LARGE,
    .detail = "The request's body is longer than what is read here."};

static void refuse(struct request *request, enum problem_status status, const char *field,
                   const char *detail)
{
    if (request->refusal.status == PROBLEM_NONE)
        request->refusal = (struct problem){.status = status, .field = field, .detail = detail};
}

static void refuse_bad(struct request *request, const char *field, const char *detail)
{
    refuse(request, PROBLEM_BAD_REQUEST, field, detail);
}

void request_begin(struct request *request, const char *target)
{
    *request = (struct request){.codings = FIELD_CODINGS_EMPTY,
                                .path = "",
                                .authorization = "",
                                .cookie = "",
                                .origin = "",
                                .content_type = "",
                                .content_encoding = ""};
    request->nul = strstr(target, "%00") != NULL;
    const char *query = strchr(target, '?');
    request->query = query && query[1] != '\0';
}

void request_take_url(struct request *request, const struct request_rules *rules, const char *url)
{
    char authority[AUTHORITY_SIZE];
    const char *path = url;
    request->begun = true;
    if (request->nul)
        refuse_bad(request, "path", "Holds an encoded NUL.");
    if (route_split_absolute(url, authority, sizeof authority, &path) &&
        !field_host_allowed(authority, &rules->own))
        refuse(request, PROBLEM_MISDIRECTED_REQUEST, "target", "Not a name of this server.");
    request->path = path;
    request->route = route_find(rules->assets, path);
}

/* A field that may come once. */
static void take_once(struct request *request, const char **member, const char *name,
                      const char *value)
{
    if ((*member)[0] != '\0')
        refuse_bad(request, name, "Given more than once.");
    *member = value;
}

static void take_length(struct request *request, const struct request_rules *rules,
                        const char *value)
{
    if (++request->lengths > 1)
        refuse_bad(request, "Content-Length", "Given more than once.");
    if (strtoull(value, NULL, 10) > rules->body_bytes)
        refuse(request, too_large.status, too_large.field, too_large.detail);
}

static void take_host(struct request *request, const struct request_rules *rules, const char *value)
{
    if (++request->hosts > 1)
        refuse_bad(request, "Host", "Given more than once.");
    if (!field_host_allowed(value, &rules->own))
        refuse(request, PROBLEM_MISDIRECTED_REQUEST, "Host",
               "Not a name of this server. It answers to localhost and to the address it listens "
               "on, each with its port, and to the host_names of its configuration.");
}

static void take_transfer_coding(struct request *request, const char *value)
{
    request->codings_sent++;
    if (strcasecmp(value, "chunked") != 0 || request->codings_sent > 1)
        refuse(request, PROBLEM_NOT_IMPLEMENTED, "Transfer-Encoding",
               "Only 'chunked' is understood, once.");
}

/* The library lets more pass than is safe (two lengths, a space before the colon): what a reader on
 * the way could take for another request than we do is refused. A NUL has cut a value short before
 * we see it, which cannot be told from here. */
void request_take_field(struct request *request, const struct request_rules *rules,
                        const char *name, size_t name_size, const char *value)
{
    if (!field_is_token(name, name_size))
        refuse_bad(request, "header", "A field name holds characters that are not allowed.");
    if (!value)
        refuse_bad(request, "header", "A field has no value.");
    else if (strcasecmp(name, "Content-Length") == 0)
        take_length(request, rules, value);
    else if (strcasecmp(name, "Host") == 0)
        take_host(request, rules, value);
    else if (strcasecmp(name, "Transfer-Encoding") == 0)
        take_transfer_coding(request, value);
    else if (strcasecmp(name, "Accept-Encoding") == 0)
        field_codings_add(&request->codings, value);
    else if (strcasecmp(name, "Accept") == 0 && request->route.media_type)
        field_accept_add(&request->accept, value, request->route.media_type);
    else if (strcasecmp(name, "Authorization") == 0)
        take_once(request, &request->authorization, "Authorization", value);
    else if (strcasecmp(name, "Cookie") == 0)
        take_once(request, &request->cookie, "Cookie", value);
    else if (strcasecmp(name, "Origin") == 0)
        take_once(request, &request->origin, "Origin", value);
    else if (strcasecmp(name, "Content-Type") == 0)
        take_once(request, &request->content_type, "Content-Type", value);
    else if (strcasecmp(name, "Content-Encoding") == 0)
        take_once(request, &request->content_encoding, "Content-Encoding", value);
    else if (strcasecmp(name, "If-None-Match") == 0)
        request->if_none_match = true;
    else if (strcasecmp(name, "If-Match") == 0)
        request->if_match = true;
}

void request_end_head(struct request *request)
{
    if (request->lengths > 0 && request->codings_sent > 0)
        refuse_bad(request, "Content-Length", "Given together with Transfer-Encoding.");
}

bool request_take_body(struct request *request, const struct request_rules *rules, size_t size)
{
    request->received += size;
    return request->received <= rules->body_drain_bytes;
}

bool request_reads_body(const struct request *request, const char *method)
{
    return request->route.kind == ROUTE_API &&
           (strcmp(method, "POST") == 0 || strcmp(method, "PUT") == 0 ||
            strcmp(method, "PATCH") == 0);
}

static struct problem problem_of(enum problem_status status, const char *field, const char *detail)
{
    return (struct problem){.status = status, .field = field, .detail = detail};
}

/* Also 'application/json; charset=utf-8'; with PATCH 'application/merge-patch+json' (RFC 7396). */
static bool is_json(const char *type, const char *method)
{
    static const char json[] = "application/json";
    static const char patch[] = "application/merge-patch+json";
    size_t length = strcspn(type, "; ");
    const char *rest = type + length + strspn(type + length, " ");
    bool named = (length == sizeof json - 1 && strncasecmp(type, json, length) == 0) ||
                 (strcmp(method, "PATCH") == 0 && length == sizeof patch - 1 &&
                  strncasecmp(type, patch, length) == 0);
    if (!named || *rest == '\0')
        return named;
    rest += 1 + strspn(rest + 1, " ");
    return strcasecmp(rest, "charset=utf-8") == 0 || strcasecmp(rest, "charset=\"utf-8\"") == 0;
}

static struct problem judge_body(const struct request *request, const char *method)
{
    if (request->lengths == 0 && request->codings_sent == 0)
        return problem_of(PROBLEM_LENGTH_REQUIRED, "Content-Length",
                          "Missing, so that the request has no body; accepted is a JSON document.");
    if (request->content_encoding[0] != '\0')
        return problem_of(PROBLEM_UNSUPPORTED_MEDIA_TYPE, "Content-Encoding",
                          "Accepted is a body as it is, without a coding.");
    if (!is_json(request->content_type, method))
        return problem_of(PROBLEM_UNSUPPORTED_MEDIA_TYPE, "Content-Type",
                          "Accepted is application/json, and application/merge-patch+json with "
                          "PATCH.");
    return problem_of(PROBLEM_NONE, NULL, NULL);
}

static struct problem judge_method(const struct request *request, const struct request_rules *rules,
                                   const char *method)
{
    bool safe = strcmp(method, "GET") == 0 || strcmp(method, "HEAD") == 0;
    if (!route_allows(&request->route, method))
        return problem_of(PROBLEM_METHOD_NOT_ALLOWED, "method",
                          "Not for this address; the Allow field lists those that are.");
    if (!safe && request->origin[0] != '\0' && !field_origin_allowed(request->origin, &rules->own))
        return problem_of(PROBLEM_FORBIDDEN, "Origin",
                          "Another site's page may not change anything here.");
    return problem_of(PROBLEM_NONE, NULL, NULL);
}

struct problem request_judge(const struct request *request, const struct request_rules *rules,
                             const char *method)
{
    const struct route *route = &request->route;
    if (request->received > rules->body_bytes)
        return too_large;
    if (route->kind == ROUTE_NONE)
        return problem_of(PROBLEM_NOT_FOUND, "path",
                          "Nothing is here. There are /, /api/v1/plan, /plan.txt and /healthz.");
    struct problem problem = judge_method(request, rules, method);
    if (problem.status != PROBLEM_NONE)
        return problem;
    if (request->query && !route->query)
        return problem_of(PROBLEM_BAD_REQUEST, "query", "This address takes no query.");
    if (!field_accept_allows(&request->accept))
        return (struct problem){.status = PROBLEM_NOT_ACCEPTABLE,
                                .field = "Accept",
                                .accepted = route->media_type,
                                .detail = "This address sends one kind of answer only."};
    return request_reads_body(request, method) ? judge_body(request, method)
                                               : problem_of(PROBLEM_NONE, NULL, NULL);
}
