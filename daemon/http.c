/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "http.h"

#include <arpa/inet.h>
#include <errno.h>
#include <microhttpd.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/socket.h>
#include <unistd.h>

#include "clock.h"
#include "field.h"
#include "http_job.h"
#include "http_reply.h"
#include "metrics.h"
#include "plan_index.h"
#include "problem.h"
#include "query.h"
#include "request.h"
#include "socket.h"

enum {
    TURNS_MAX = 64, /* library turns in one of ours, so that signals are seen under load */
    SWEEP_MS = 1000,
    LISTEN_SIZE = 64,
    ADDRESS_BYTES = 16,
    TEXT_LEVEL = 4, /* once, at start: a third of the time of 6 for a tenth more bytes */
    TURNS_OPEN = 4, /* while a job is open the library always says 0: it would spin */
    SLEEP_OPEN_MS = 5,
    NARROWED_MOST = 16,
    NARROWED_BYTES = 128 << 10, /* a larger part is printed each time: compressing it takes long */
    OBEYED_MS = 30000,          /* a plan of 10,000 blocks takes seconds */
    TAGS_SIZE = 512,            /* If-Match and If-None-Match that the worker gets to see */
};

/* One body and the library's shared, counted responses that send it. */
struct representation {
    const struct body *body;
    const char *media_type;
    struct MHD_Response *identity;
    struct MHD_Response *gzip; /* NULL when the body has none */
};

/* A part of the plan that somebody asked for, kept for the next who does. Lives on while a
 * connection still sends it. */
struct narrowed {
    char *query;
    int open; /* responses, and one for whoever holds the struct */
    struct body body;
    struct representation what;
};

/* The snapshot being served. Its responses live on while a connection still sends them; the last
 * one to go gives the snapshot back. Only the loop's thread touches it. */
struct served {
    struct snapshot_cell *cell;
    struct snapshot *snapshot;
    int open; /* responses, and one for whoever holds the struct */
    struct representation bodies[SNAPSHOT_BODIES];
    struct MHD_Response *due; /* of all zones, as of due_s; NULL: nobody has asked */
    int64_t due_s;
    struct narrowed *narrowed[NARROWED_MOST]; /* a ring; NULL: free */
    size_t narrowed_next;
};

enum phase {
    PHASE_HEAD, /* waiting for a request or in the middle of its headers */
    PHASE_BODY,
    PHASE_REPLY,
};

struct client {
    struct client *previous, *next;
    struct http *http;
    int fd;
    unsigned char address[ADDRESS_BYTES];
    bool closing; /* shut down, not gone yet */
    enum phase phase;
    int64_t since_ms; /* when the phase began */
    struct request request;
    /* of the request underway */
    char *query;
    char *body;
    size_t body_length, body_capacity;
    bool no_memory;       /* for one of these */
    struct http_job *job; /* open, or done and not answered yet */
    bool passed;          /* may read what needs signing in */
};

static void client_enter(struct client *client, enum phase phase)
{
    client->phase = phase;
    client->since_ms = clock_monotonic_ms();
}

struct http {
    struct MHD_Daemon *daemon;
    struct http_limits limits;
    struct snapshot_cell *cell;
    struct representation *pages; /* one an asset */
    struct representation health, description;
    struct body health_body, description_body;
    struct served *served; /* NULL before the first snapshot */
    struct client *clients;
    const struct civil_zone *zone;
    struct worker *worker, *long_worker;
    size_t jobs_open;
    struct metrics metrics;
    size_t bodies_bytes; /* held by clients just now */
    int64_t swept_ms;
    char listen[LISTEN_SIZE];
    struct request_rules rules; /* own.port: the one bound */
    const struct tls *tls;
    bool reading_signed_in;
    _Atomic int64_t *asked_s;
};

/* --- responses ------------------------------------------------------------------------------ */

/* The reply for one coding of a body. drop(holder) is called once no connection needs it, at once
 * on failure. */
static struct MHD_Response *respond_shared(const struct representation *what, bool gzip,
                                           MHD_ContentReaderFreeCallback drop, void *holder)
{
    const struct body *body = what->body;
    const struct http_header headers[] = {
        {"Content-Type", what->media_type}, {"ETag", gzip ? body->gzip_tag : body->tag},
        {"Cache-Control", "no-cache"}, /* keep it, but ask each time: that is a 304 */
        {"Vary", "Accept-Encoding"},        {"Content-Encoding", gzip ? "gzip" : NULL},
    };
    struct MHD_Response *response = MHD_create_response_from_buffer_with_free_callback_cls(
        gzip ? body->gzip_length : body->length, gzip ? body->gzip : body->bytes, drop, holder);
    if (!response)
        drop(holder);
    return http_with_headers(response, headers, sizeof headers / sizeof *headers);
}

static void keep(void *holder)
{
    (void)holder; /* the body outlives the server */
}

static void representation_clear(struct representation *what)
{
    if (what->identity)
        MHD_destroy_response(what->identity);
    if (what->gzip)
        MHD_destroy_response(what->gzip);
    what->identity = NULL;
    what->gzip = NULL;
}

static int representation_init(struct representation *what, const struct body *body,
                               const char *media_type)
{
    *what = (struct representation){.body = body, .media_type = media_type};
    what->identity = respond_shared(what, false, keep, NULL);
    if (body->gzip)
        what->gzip = respond_shared(what, true, keep, NULL);
    if (what->identity && (what->gzip || !body->gzip))
        return 0;
    representation_clear(what);
    return -1;
}

static void served_drop(void *holder)
{
    struct served *served = holder;
    if (--served->open > 0)
        return;
    snapshot_release(served->cell, served->snapshot);
    free(served);
}

static struct MHD_Response *respond_served(struct served *served, const struct representation *what,
                                           bool gzip)
{
    served->open++; /* taken back by served_drop */
    return respond_shared(what, gzip, served_drop, served);
}

static void narrowed_drop(void *holder)
{
    struct narrowed *narrowed = holder;
    if (--narrowed->open > 0)
        return;
    body_clear(&narrowed->body);
    free(narrowed->query);
    free(narrowed);
}

static void narrowed_close(struct narrowed *narrowed)
{
    if (!narrowed)
        return;
    representation_clear(&narrowed->what);
    narrowed_drop(narrowed);
}

static struct MHD_Response *respond_narrowed(struct narrowed *narrowed, bool gzip)
{
    narrowed->open++; /* taken back by narrowed_drop */
    return respond_shared(&narrowed->what, gzip, narrowed_drop, narrowed);
}

/* Takes text. */
static struct narrowed *narrowed_open_take(const char *query, char *text, size_t length)
{
    struct narrowed *narrowed = calloc(1, sizeof *narrowed);
    if (!narrowed) {
        free(text);
        return NULL;
    }
    narrowed->open = 1;
    narrowed->query = strdup(query);
    narrowed->what =
        (struct representation){.body = &narrowed->body, .media_type = "application/json"};
    if (body_init_take(&narrowed->body, text, length, TEXT_LEVEL) == 0 && narrowed->query) {
        narrowed->what.identity = respond_narrowed(narrowed, false);
        if (narrowed->body.gzip)
            narrowed->what.gzip = respond_narrowed(narrowed, true);
        if (narrowed->what.identity && (narrowed->what.gzip || !narrowed->body.gzip))
            return narrowed;
    }
    narrowed_close(narrowed);
    return NULL;
}

static void served_close(struct served *served)
{
    if (!served)
        return;
    for (size_t i = 0; i < NARROWED_MOST; i++) {
        narrowed_close(served->narrowed[i]);
        served->narrowed[i] = NULL;
    }
    for (size_t i = 0; i < SNAPSHOT_BODIES; i++)
        representation_clear(&served->bodies[i]);
    if (served->due)
        MHD_destroy_response(served->due);
    served->due = NULL;
    served_drop(served);
}

/* Takes the caller's reference to snapshot. */
static struct served *served_open_take(struct snapshot_cell *cell, struct snapshot *snapshot)
{
    static const char *const media_types[SNAPSHOT_BODIES] = {
        [SNAPSHOT_PLAN_JSON] = "application/json",
        [SNAPSHOT_PLAN_TEXT] = "text/plain; charset=utf-8",
        [SNAPSHOT_SHEET_JSON] = "application/json",
        [SNAPSHOT_PLAN_CALENDAR] = "text/calendar; charset=utf-8",
    };
    struct served *served = calloc(1, sizeof *served);
    if (!served) {
        snapshot_release(cell, snapshot);
        return NULL;
    }
    served->cell = cell;
    served->snapshot = snapshot;
    served->open = 1;
    bool complete = true;
    for (size_t i = 0; i < SNAPSHOT_BODIES; i++) {
        struct representation *what = &served->bodies[i];
        what->body = &snapshot->bodies[i];
        what->media_type = media_types[i];
        what->identity = respond_served(served, what, false);
        if (what->body->gzip)
            what->gzip = respond_served(served, what, true);
        complete = complete && what->identity && (what->gzip || !what->body->gzip);
    }
    if (complete)
        return served;
    served_close(served);
    return NULL;
}

/* Without memory for the new snapshot the one before goes on being served. */
static void refresh(struct http *http)
{
    struct snapshot *snapshot = snapshot_acquire(http->cell);
    if (!snapshot) {
        served_close(http->served);
        http->served = NULL;
        return;
    }
    if (http->served && http->served->snapshot == snapshot) {
        snapshot_release(http->cell, snapshot);
        return;
    }
    struct served *served = served_open_take(http->cell, snapshot);
    if (served) {
        served_close(http->served);
        http->served = served;
    }
}

/* --- answering ------------------------------------------------------------------------------ */

struct tag_search {
    const char *header, *tag;
    enum field_compare compare;
    bool found;
};

static enum MHD_Result search_tag(void *cls, enum MHD_ValueKind kind, const char *name,
                                  const char *value)
{
    struct tag_search *search = cls;
    (void)kind;
    if (value && strcasecmp(name, search->header) == 0 &&
        field_tags_match(value, search->tag, search->compare))
        search->found = true;
    return search->found ? MHD_NO : MHD_YES;
}

static bool tag_in(struct MHD_Connection *connection, const char *header, const char *tag,
                   enum field_compare compare)
{
    struct tag_search search = {header, tag, compare, false};
    MHD_get_connection_values(connection, MHD_HEADER_KIND, search_tag, &search);
    return search.found;
}

/* The status is all that differs between 200 and 304: the library sends the same headers, length
 * included, without the body. */
static enum MHD_Result reply_representation(struct MHD_Connection *connection,
                                            const struct request *request,
                                            const struct representation *what)
{
    enum field_coding coding = field_codings_choose(&request->codings, what->gzip != NULL);
    if (coding == FIELD_CODING_NONE) {
        const struct problem problem = {.status = PROBLEM_NOT_ACCEPTABLE,
                                        .field = "Accept-Encoding",
                                        .detail = "Sent as gzip or identity."};
        return http_reply_problem(connection, &problem, NULL);
    }
    bool gzip = coding == FIELD_CODING_GZIP;
    const char *tag = gzip ? what->body->gzip_tag : what->body->tag;
    if (request->if_match && !tag_in(connection, "If-Match", tag, FIELD_COMPARE_STRONG)) {
        const struct problem problem = {.status = PROBLEM_PRECONDITION_FAILED,
                                        .field = "If-Match",
                                        .detail = "The current version has another tag."};
        return http_reply_problem(connection, &problem, NULL);
    }
    unsigned status = MHD_HTTP_OK;
    if (request->if_none_match && tag_in(connection, "If-None-Match", tag, FIELD_COMPARE_WEAK))
        status = MHD_HTTP_NOT_MODIFIED;
    return MHD_queue_response(connection, status, gzip ? what->gzip : what->identity);
}

static const struct representation *find_representation(const struct http *http,
                                                        const struct route *route)
{
    switch (route->kind) {
    case ROUTE_SNAPSHOT:
    case ROUTE_PLAN:
        return http->served ? &http->served->bodies[route->index] : NULL;
    case ROUTE_ASSET:
        return &http->pages[route->index];
    case ROUTE_HEALTH:
        return &http->health;
    case ROUTE_DESCRIPTION:
        return http->description.body ? &http->description : NULL;
    case ROUTE_METRICS:
    case ROUTE_DUE:
    case ROUTE_API:
    case ROUTE_NONE:
        break;
    }
    return NULL;
}

/* --- what is picked from the plan --------------------------------------------------------- */

static enum MHD_Result reply_no_plan(const struct http *http, struct MHD_Connection *connection)
{
    const struct problem no_plan = {.status = PROBLEM_SERVICE_UNAVAILABLE,
                                    .detail = http ? snapshot_why(http->cell) : NULL};
    return http_reply_problem(connection, &no_plan, NULL);
}

static enum MHD_Result reply_busy(struct MHD_Connection *connection)
{
    static const struct problem busy = {.status = PROBLEM_SERVICE_UNAVAILABLE,
                                        .detail = "Too much is asked at once. Ask again soon."};
    return http_reply_problem(connection, &busy, NULL);
}

static struct MHD_Response *respond_due_all(const struct plan_index *index,
                                            const struct civil_zone *time_zone, int64_t now_s)
{
    static const char start[] = "{\"items\":[";
    size_t zones = plan_index_zones(index);
    size_t used = sizeof start - 1;
    char *text = malloc(used + zones * (PLAN_DUE_SIZE + 1) + 3);
    if (!text)
        return NULL;
    memcpy(text, start, used);
    for (size_t z = 0; z < zones; z++) {
        struct plan_due due;
        plan_index_due(index, z, now_s, &due);
        if (z > 0)
            text[used++] = ',';
        used += plan_due_print(&due, time_zone, text + used);
    }
    text[used] = ']';
    text[used + 1] = '}';
    return http_text_take(text, used + 2, "application/json", NULL);
}

/* It changes with the clock's second only. */
static enum MHD_Result reply_due_all(const struct http *http, struct MHD_Connection *connection)
{
    struct served *served = http->served;
    int64_t now_s = clock_now_s();
    if (!served->due || served->due_s != now_s) {
        struct MHD_Response *due = respond_due_all(served->snapshot->index, http->zone, now_s);
        if (!due)
            return MHD_NO;
        if (served->due)
            MHD_destroy_response(served->due);
        served->due = due;
        served->due_s = now_s;
    }
    return MHD_queue_response(connection, MHD_HTTP_OK, served->due);
}

static enum MHD_Result reply_due(struct client *client, struct MHD_Connection *connection)
{
    static const struct problem no_zone = {
        .status = PROBLEM_NOT_FOUND, .field = "path", .detail = "The plan has no zone of that id."};
    static const struct problem no_clock = {
        .status = PROBLEM_SERVICE_UNAVAILABLE,
        .detail =
            "This computer's clock is wrong, so nobody can say whether a valve should be open. "
            "Set the clock."};
    struct http *http = client->http;
    const struct route *route = &client->request.route;
    const struct plan_index *index = http->served ? http->served->snapshot->index : NULL;
    struct plan_due due;
    char zone[RECORDS_ID_SIZE];
    if (!index || !http->zone)
        return reply_no_plan(http, connection);
    if (http->asked_s)
        atomic_store(http->asked_s, clock_now_s());
    if (http->served->snapshot->frozen)
        return http_reply_problem(connection, &no_clock, NULL);
    if (route->index == 0)
        return reply_due_all(http, connection);
    if (!route_due_zone(route, client->request.path, zone, sizeof zone) ||
        !plan_index_due_of(index, zone, clock_now_s(), &due))
        return http_reply_problem(connection, &no_zone, NULL);
    char *text = malloc(PLAN_DUE_SIZE);
    size_t length = text ? plan_due_print(&due, http->zone, text) : 0;
    return http_reply_text_take(connection, MHD_HTTP_OK, text, length, "application/json", NULL);
}

static enum MHD_Result reply_metrics(struct http *http, struct MHD_Connection *connection)
{
    size_t length = 0;
    http->metrics.jobs_open = http->jobs_open;
    char *text = metrics_print(&http->metrics, http->served ? http->served->snapshot->index : NULL,
                               clock_now_s(), &length);
    return http_reply_text_take(connection, MHD_HTTP_OK, text, length, METRICS_MEDIA_TYPE, NULL);
}

static const struct narrowed *find_narrowed(const struct served *served, const char *query)
{
    for (size_t i = 0; i < NARROWED_MOST; i++)
        if (served->narrowed[i] && strcmp(served->narrowed[i]->query, query) == 0)
            return served->narrowed[i];
    return NULL;
}

/* The oldest gives way. Takes text. */
static const struct narrowed *add_narrowed_take(struct served *served, const char *query,
                                                char *text, size_t length)
{
    struct narrowed *narrowed = narrowed_open_take(query, text, length);
    if (!narrowed)
        return NULL;
    narrowed_close(served->narrowed[served->narrowed_next]);
    served->narrowed[served->narrowed_next] = narrowed;
    served->narrowed_next = (served->narrowed_next + 1) % NARROWED_MOST;
    return narrowed;
}

static enum MHD_Result reply_large_take(const struct client *client,
                                        struct MHD_Connection *connection, char *text,
                                        size_t length)
{
    char tag[BODY_TAG_SIZE];
    body_tag(text, length, tag);
    bool known = client->request.if_none_match &&
                 tag_in(connection, "If-None-Match", tag, FIELD_COMPARE_WEAK);
    return http_reply_text_take(connection, known ? MHD_HTTP_NOT_MODIFIED : MHD_HTTP_OK, text,
                                length, "application/json", tag);
}

static enum MHD_Result reply_narrowed(struct client *client, struct MHD_Connection *connection)
{
    static const char *const names[] = {"date", "zone", "block", NULL};
    const struct http *http = client->http;
    struct query query;
    struct error error;
    if (!client->query)
        return reply_busy(connection);
    const struct narrowed *known = http->served ? find_narrowed(http->served, client->query) : NULL;
    if (known)
        return reply_representation(connection, &client->request, &known->what);
    if (query_read(client->query, names, &query, &error) != 0) {
        const struct problem problem = {
            .status = PROBLEM_BAD_REQUEST, .field = "query", .detail = error.text};
        return http_reply_problem(connection, &problem, NULL);
    }
    if (!http->served || !http->served->snapshot->index)
        return reply_no_plan(http, connection);
    const struct plan_narrowing wanted = {query.values[0], query.values[1], query.values[2]};
    const char *lacks = plan_index_lacks(http->served->snapshot->index, &wanted);
    if (lacks) {
        const struct problem problem = {
            .status = PROBLEM_NOT_FOUND, .field = lacks, .detail = "Not in this plan."};
        return http_reply_problem(connection, &problem, NULL);
    }
    size_t length = 0;
    char *text = plan_index_narrow(http->served->snapshot->index, &wanted, &length);
    if (!text)
        return MHD_NO;
    if (length > NARROWED_BYTES)
        return reply_large_take(client, connection, text, length);
    const struct narrowed *narrowed = add_narrowed_take(http->served, client->query, text, length);
    return narrowed ? reply_representation(connection, &client->request, &narrowed->what) : MHD_NO;
}

/* --- what the worker answers ---------------------------------------------------------------- */

/* Forgets all that belongs to one request. A job that is open goes on by itself. */
static void client_forget(struct client *client)
{
    struct http *http = client->http;
    http->bodies_bytes -= client->body_capacity;
    free(client->query);
    free(client->body);
    client->query = NULL;
    client->body = NULL;
    client->body_length = client->body_capacity = 0;
    client->no_memory = false;
    client->passed = false;
    if (client->job) {
        http->jobs_open--;
        worker_release(client->job->worker, &client->job->job);
        client->job = NULL;
    }
}

struct joining {
    const char *name;
    char *out;
    size_t used;
};

static enum MHD_Result join_line(void *cls, enum MHD_ValueKind kind, const char *name,
                                 const char *value)
{
    struct joining *joining = cls;
    (void)kind;
    if (!value || strcasecmp(name, joining->name) != 0)
        return MHD_YES;
    size_t length = strlen(value);
    if (joining->used + length + 3 > TAGS_SIZE)
        return MHD_YES; /* a list that long names versions nobody has */
    joining->used += (size_t)snprintf(joining->out + joining->used, TAGS_SIZE - joining->used,
                                      "%s%s", joining->used ? ", " : "", value);
    return MHD_YES;
}

/* The lines of a list field as one. */
static void join_field(struct MHD_Connection *connection, const char *name, char out[TAGS_SIZE])
{
    struct joining joining = {name, out, 0};
    out[0] = '\0';
    MHD_get_connection_values(connection, MHD_HEADER_KIND, join_line, &joining);
}

/* The client's address as text; of IPv6 the first 64 bits, which one household shares. */
static void write_address(struct MHD_Connection *connection, char *out, size_t size)
{
    const union MHD_ConnectionInfo *info =
        MHD_get_connection_info(connection, MHD_CONNECTION_INFO_CLIENT_ADDRESS);
    snprintf(out, size, "unknown");
    if (!info || !info->client_addr)
        return;
    if (info->client_addr->sa_family == AF_INET) {
        struct sockaddr_in four;
        memcpy(&four, info->client_addr, sizeof four);
        inet_ntop(AF_INET, &four.sin_addr, out, (socklen_t)size);
    } else if (info->client_addr->sa_family == AF_INET6) {
        struct sockaddr_in6 six;
        memcpy(&six, info->client_addr, sizeof six);
        if (!IN6_IS_ADDR_V4MAPPED(&six.sin6_addr) && !IN6_IS_ADDR_LOOPBACK(&six.sin6_addr))
            memset(six.sin6_addr.s6_addr + 8, 0, 8);
        inet_ntop(AF_INET6, &six.sin6_addr, out, (socklen_t)size);
    }
}

/* gate: only ask whether that is allowed; 0: the whole request is the worker's. */
static enum MHD_Result start_job(struct client *client, struct MHD_Connection *connection,
                                 const char *method, enum access_right gate)
{
    struct http *http = client->http;
    const struct request *request = &client->request;
    char if_match[TAGS_SIZE];
    char if_none_match[TAGS_SIZE];
    char address[48];
    if (!http->worker || client->no_memory)
        return reply_busy(connection);
    join_field(connection, "If-Match", if_match);
    join_field(connection, "If-None-Match", if_none_match);
    write_address(connection, address, sizeof address);
    const struct api_request parts = {
        .method = method,
        .path = gate ? request->path : request->path + request->route.index,
        .query = client->query ? client->query : "",
        .authorization = request->authorization,
        .cookie = request->cookie,
        .origin = request->origin,
        .media_type = request->content_type,
        .if_match = if_match,
        .if_none_match = if_none_match,
        .address = address,
        .body_length = client->body_length,
        .language = http_language(connection),
        .secure = http->tls || field_origin_secure(request->origin),
        .gate = gate,
    };
    struct http_job *job = http_job_new_take(&parts, client->body);
    http->bodies_bytes -= client->body_capacity; /* the job's now */
    client->body = NULL;
    client->body_length = client->body_capacity = 0;
    if (!job)
        return reply_busy(connection);
    job->worker = http->long_worker && api_is_long(job->request.method, job->request.path)
                      ? http->long_worker
                      : http->worker;
    if (!worker_post(job->worker, &job->job)) {
        http_job_free(job);
        return reply_busy(connection);
    }
    client->job = job;
    http->jobs_open++;
    return MHD_YES; /* nothing queued: the library calls again */
}

/* What a response holds until its last byte is sent. */
struct holder {
    struct http_job *job;
};

static void holder_drop(void *cls)
{
    struct holder *holder = cls;
    worker_release(holder->job->worker, &holder->job->job);
    free(holder);
}

/* Takes the client's hold on the job. */
static struct MHD_Response *respond_job_take(struct http_job *job, bool gzip)
{
    const struct api_answer *answer = &job->answer;
    const struct body *body = &answer->body;
    struct holder *holder = malloc(sizeof *holder);
    char retry_after[16];
    snprintf(retry_after, sizeof retry_after, "%d", answer->retry_after_s);
    const struct http_header headers[] = {
        {"Content-Type", answer->media_type},
        {"Content-Encoding", gzip ? "gzip" : NULL},
        {"Content-Language", answer->language},
        {"Vary", answer->packed && answer->language ? "Accept-Encoding, Accept-Language"
                 : answer->packed                   ? "Accept-Encoding"
                 : answer->language                 ? "Accept-Language"
                                                    : NULL},
        {"ETag", !answer->tagged ? NULL
                 : gzip          ? body->gzip_tag
                                 : body->tag},
        {"Cache-Control", answer->tagged ? "private, no-cache" : "no-store"},
        {"Location", answer->location[0] ? answer->location : NULL},
        {"Set-Cookie", answer->cookie[0] ? answer->cookie : NULL},
        {"Retry-After", answer->retry_after_s > 0 ? retry_after : NULL},
        {"WWW-Authenticate",
         answer->status == PROBLEM_UNAUTHORIZED ? "Bearer realm=\"perchd\"" : NULL},
    };
    if (!holder) {
        worker_release(job->worker, &job->job);
        return NULL;
    }
    *holder = (struct holder){job};
    static char nothing[1];
    char *bytes = gzip ? body->gzip : body->bytes;
    struct MHD_Response *response = MHD_create_response_from_buffer_with_free_callback_cls(
        gzip ? body->gzip_length : body->length, bytes ? bytes : nothing, holder_drop, holder);
    if (!response)
        holder_drop(holder);
    return http_with_headers(response, headers, sizeof headers / sizeof *headers);
}

static bool covers(const struct http *http, int64_t change)
{
    return change == 0 || (http->served && http->served->snapshot->covers >= change);
}

/* Whether what is served was made with the change, or no plan comes out, or that took too long. */
static bool is_settled(const struct client *client, int64_t change)
{
    return covers(client->http, change) || snapshot_has_failed(client->http->cell, change) ||
           clock_monotonic_ms() - client->since_ms > OBEYED_MS;
}

/* The change is kept, but the valves go on by the plan from before: whoever holds a bed must know.
 */
static enum MHD_Result reply_disobeyed(struct client *client, struct MHD_Connection *connection)
{
    static const struct problem disobeyed = {
        .status = PROBLEM_SERVICE_UNAVAILABLE,
        .detail =
            "It is saved, but no plan was made with it, and so no valve obeys it yet: open or "
            "close them by hand. The log says why. Sending the same again asks anew."};
    struct http *http = client->http;
    worker_release(client->job->worker, &client->job->job);
    client->job = NULL;
    http->jobs_open--;
    return http_reply_problem(connection, &disobeyed, NULL);
}

static enum MHD_Result reply_job(struct client *client, struct MHD_Connection *connection)
{
    struct http *http = client->http;
    struct http_job *job = client->job;
    if (!worker_done(job->worker, &job->job) || !is_settled(client, job->answer.change))
        return MHD_YES;
    if (http->served && !covers(http, job->answer.change))
        return reply_disobeyed(client, connection);
    client->job = NULL;
    http->jobs_open--;
    const struct api_answer *answer = &job->answer;
    bool gzip = answer->packed && answer->body.gzip &&
                field_codings_choose(&client->request.codings, true) == FIELD_CODING_GZIP;
    unsigned status = answer->status;
    bool reads = strcmp(job->method, "GET") == 0 || strcmp(job->method, "HEAD") == 0;
    if (status == MHD_HTTP_OK && answer->tagged && reads &&
        field_tags_match(job->request.if_none_match,
                         gzip ? answer->body.gzip_tag : answer->body.tag, FIELD_COMPARE_WEAK))
        status = MHD_HTTP_NOT_MODIFIED;
    struct MHD_Response *response = respond_job_take(job, gzip);
    if (!response)
        return MHD_NO;
    enum MHD_Result result =
        status == 0 ? MHD_NO : MHD_queue_response(connection, status, response);
    MHD_destroy_response(response);
    return result;
}

/* What needs no worker. */
static enum MHD_Result reply_here(struct client *client, struct MHD_Connection *connection)
{
    static const struct problem not_issued = {
        .status = PROBLEM_NOT_FOUND, .field = "path", .detail = "None has been issued yet."};
    const struct request *request = &client->request;
    const struct route *route = &request->route;
    if (route->kind == ROUTE_METRICS)
        return reply_metrics(client->http, connection);
    if (route->kind == ROUTE_DUE)
        return reply_due(client, connection);
    if (route->kind == ROUTE_PLAN && request->query)
        return reply_narrowed(client, connection);
    const struct representation *what = find_representation(client->http, route);
    if (!what)
        return reply_no_plan(client->http, connection);
    if (route->kind == ROUTE_SNAPSHOT && what->body->length == 0)
        return http_reply_problem(connection, &not_issued, NULL);
    return reply_representation(connection, request, what);
}

/* A closed gate says why; an open one lets the request go on. */
static enum MHD_Result reply_gate(struct client *client, struct MHD_Connection *connection)
{
    struct http *http = client->http;
    if (!worker_done(client->job->worker, &client->job->job))
        return MHD_YES;
    if (!client->job->answer.passed)
        return reply_job(client, connection);
    worker_release(client->job->worker, &client->job->job);
    client->job = NULL;
    client->passed = true;
    http->jobs_open--;
    return reply_here(client, connection);
}

static bool is_gated(const struct client *client)
{
    switch (client->request.route.kind) {
    case ROUTE_PLAN:
    case ROUTE_SNAPSHOT:
    case ROUTE_DUE:
    case ROUTE_METRICS:
        return client->http->reading_signed_in && !client->passed;
    default: /* the page's own files, its description, its health; the rest is the api's to judge */
        return false;
    }
}

static enum MHD_Result reply(struct client *client, struct MHD_Connection *connection,
                             const char *method)
{
    const struct request *request = &client->request;
    const struct route *route = &request->route;
    if (client->job)
        return client->job->request.gate ? reply_gate(client, connection)
                                         : reply_job(client, connection);
    const struct problem problem = request_judge(request, &client->http->rules, method);
    client_enter(client, PHASE_REPLY);
    if (problem.status != PROBLEM_NONE)
        return http_reply_problem(connection, &problem, route->allow);
    if (route->kind == ROUTE_API)
        return start_job(client, connection, method, ACCESS_NOTHING);
    if (is_gated(client))
        return start_job(client, connection, method, ACCESS_READ_PLAN);
    return reply_here(client, connection);
}

/* --- reading the request -------------------------------------------------------------------- */

static enum MHD_Result read_field(void *cls, enum MHD_ValueKind kind, const char *name,
                                  size_t name_size, const char *value, size_t value_size)
{
    struct client *client = cls;
    (void)kind;
    (void)value_size;
    request_take_field(&client->request, &client->http->rules, name, name_size, value);
    return MHD_YES;
}

static void read_head(struct client *client, struct MHD_Connection *connection, const char *url)
{
    request_take_url(&client->request, &client->http->rules, url);
    MHD_get_connection_values_n(connection, MHD_HEADER_KIND, read_field, client);
    request_end_head(&client->request);
}

static struct client *client_of(struct MHD_Connection *connection)
{
    const union MHD_ConnectionInfo *info =
        MHD_get_connection_info(connection, MHD_CONNECTION_INFO_SOCKET_CONTEXT);
    return info ? info->socket_context : NULL;
}

/* Called for each request line, before anything is decoded. */
static void *on_target(void *cls, const char *target, struct MHD_Connection *connection)
{
    struct client *client = client_of(connection);
    (void)cls;
    if (!client)
        return NULL;
    request_begin(&client->request, target);
    client_forget(client);
    if (client->request.query) { /* the library decodes target in place afterwards */
        client->query = strdup(strchr(target, '?') + 1);
        client->no_memory = client->query == NULL;
    }
    return client;
}

/* A piece of the body. False: the connection is to be closed without an answer. */
static bool take_body(struct client *client, const char *method, const char *data, size_t size)
{
    struct http *http = client->http;
    if (!request_take_body(&client->request, &http->rules, size))
        return false;
    if (!request_reads_body(&client->request, method) || client->no_memory ||
        client->request.received > http->limits.body_bytes)
        return true; /* passed over */
    if (client->body_length + size > client->body_capacity) {
        size_t capacity = 2 * client->body_capacity + size;
        char *body =
            http->bodies_bytes + capacity - client->body_capacity > http->limits.bodies_bytes
                ? NULL
                : realloc(client->body, capacity);
        client->no_memory = body == NULL;
        if (!body)
            return true; /* read to its end, then refused */
        http->bodies_bytes += capacity - client->body_capacity;
        client->body = body;
        client->body_capacity = capacity;
    }
    memcpy(client->body + client->body_length, data, size);
    client->body_length += size;
    return true;
}

/* The library calls with the headers alone first, then with pieces of a body, then once more to be
 * answered. Answering the first call would close the connection afterwards: that is for refusals
 * only, whose body (if it has one) must not be taken for the next request. */
static enum MHD_Result on_request(void *cls, struct MHD_Connection *connection, const char *url,
                                  const char *method, const char *version, const char *upload_data,
                                  size_t *upload_data_size, void **con_cls)
{
    struct client *client = *con_cls;
    (void)cls;
    (void)version;
    if (!client)
        return MHD_NO;
    struct request *request = &client->request;
    if (!request->begun) {
        read_head(client, connection, url);
        bool refused = request->refusal.status != PROBLEM_NONE;
        client_enter(client, refused ? PHASE_REPLY : PHASE_BODY);
        return refused ? http_reply_problem(connection, &request->refusal, NULL) : MHD_YES;
    }
    if (*upload_data_size > 0) {
        bool go_on = take_body(client, method, upload_data, *upload_data_size);
        *upload_data_size = 0;
        return go_on ? MHD_YES : MHD_NO;
    }
    return reply(client, connection, method);
}

static void on_completed(void *cls, struct MHD_Connection *connection, void **con_cls,
                         enum MHD_RequestTerminationCode code)
{
    struct client *client = *con_cls;
    struct http *http = cls;
    const union MHD_ConnectionInfo *info =
        MHD_get_connection_info(connection, MHD_CONNECTION_INFO_HTTP_STATUS);
    (void)code;
    if (info && info->http_status < 600)
        http->metrics.answers[info->http_status / 100]++;
    if (client) {
        client_forget(client);
        client_enter(client, PHASE_HEAD);
    }
}

/* --- connections ---------------------------------------------------------------------------- */

/* As an IPv6 address; IPv4 is mapped (RFC 4291, 2.5.5.2). Zeros when it is neither. */
static void read_address(const struct sockaddr *from, unsigned char out[ADDRESS_BYTES])
{
    memset(out, 0, ADDRESS_BYTES);
    if (from && from->sa_family == AF_INET6) {
        struct sockaddr_in6 six;
        memcpy(&six, from, sizeof six);
        memcpy(out, six.sin6_addr.s6_addr, ADDRESS_BYTES);
    } else if (from && from->sa_family == AF_INET) {
        struct sockaddr_in four;
        memcpy(&four, from, sizeof four);
        out[10] = out[11] = 0xff;
        memcpy(out + 12, &four.sin_addr, 4);
    }
}

static bool is_loopback(const unsigned char address[ADDRESS_BYTES])
{
    struct in6_addr six;
    memcpy(&six, address, sizeof six);
    return IN6_IS_ADDR_LOOPBACK(&six) || (IN6_IS_ADDR_V4MAPPED(&six) && address[12] == 127);
}

/* One device must not take all places. The library's own limit knows no exception for a proxy on
 * this machine, behind which everybody has one address. */
static enum MHD_Result on_accept(void *cls, const struct sockaddr *from, socklen_t size)
{
    const struct http *http = cls;
    unsigned char address[ADDRESS_BYTES];
    unsigned count = 0;
    (void)size;
    read_address(from, address);
    if (http->limits.per_address == 0 || (is_loopback(address) && !http->limits.loopback_counts))
        return MHD_YES;
    for (const struct client *client = http->clients; client; client = client->next)
        count += memcmp(client->address, address, ADDRESS_BYTES) == 0 && !client->closing;
    return count < http->limits.per_address ? MHD_YES : MHD_NO;
}

static void client_close(struct client *client)
{
    client->closing = true;
    shutdown(client->fd, SHUT_RDWR); /* the library sees the end and closes it */
}

/* Makes room: the one that has waited longest without a request underway goes. */
static void close_oldest_idle(struct http *http)
{
    struct client *oldest = NULL;
    size_t open = 0;
    for (struct client *client = http->clients; client; client = client->next) {
        open += !client->closing;
        if (client->phase == PHASE_HEAD && !client->closing &&
            (!oldest || client->since_ms <= oldest->since_ms))
            oldest = client; /* of equal ones the last in the list came first */
    }
    if (oldest && open > http->limits.idle)
        client_close(oldest);
}

static void client_add(struct http *http, struct MHD_Connection *connection, void **context)
{
    struct client *client = calloc(1, sizeof *client);
    *context = client;
    if (!client)
        return; /* on_request then closes it */
    http->metrics.connections_total++;
    http->metrics.connections++;
    client->http = http;
    client->fd = MHD_get_connection_info(connection, MHD_CONNECTION_INFO_CONNECTION_FD)->connect_fd;
    client_enter(client, PHASE_HEAD);
    client->next = http->clients;
    if (http->clients)
        http->clients->previous = client;
    http->clients = client;
    const union MHD_ConnectionInfo *info =
        MHD_get_connection_info(connection, MHD_CONNECTION_INFO_CLIENT_ADDRESS);
    read_address(info ? info->client_addr : NULL, client->address);
    if (http->metrics.connections > http->limits.idle)
        close_oldest_idle(http);
}

static void client_remove(struct http *http, struct client *client)
{
    if (!client)
        return;
    http->metrics.connections--;
    if (client->next)
        client->next->previous = client->previous;
    if (client->previous)
        client->previous->next = client->next;
    else
        http->clients = client->next;
    client_forget(client);
    free(client);
}

static void on_connection(void *cls, struct MHD_Connection *connection, void **context,
                          enum MHD_ConnectionNotificationCode code)
{
    struct http *http = cls;
    if (code == MHD_CONNECTION_NOTIFY_STARTED)
        client_add(http, connection, context);
    else
        client_remove(http, *context);
}

/* The library's timeout counts from the last byte, so that one byte a second holds a connection
 * for ever: each phase has a deadline of its own beside it. */
static void sweep(struct http *http)
{
    int64_t now_ms = clock_monotonic_ms();
    if (now_ms - http->swept_ms < SWEEP_MS)
        return;
    http->swept_ms = now_ms;
    for (struct client *client = http->clients; client; client = client->next) {
        unsigned limit_s = client->phase == PHASE_HEAD   ? http->limits.head_s
                           : client->phase == PHASE_BODY ? http->limits.body_s
                                                         : http->limits.reply_s;
        if (!client->closing && now_ms - client->since_ms > (int64_t)limit_s * 1000)
            client_close(client);
    }
}

int http_turn(struct http *http)
{
    MHD_UNSIGNED_LONG_LONG timeout_ms = 0;
    refresh(http);
    /* Its descriptor is edge-triggered: as long as it says 0 there is work it already knows of. */
    for (int i = 0; i < TURNS_MAX && timeout_ms == 0; i++) {
        MHD_run(http->daemon);
        if (MHD_get_timeout(http->daemon, &timeout_ms) != MHD_YES)
            timeout_ms = HTTP_SLEEP_MAX_MS;
        if (http->jobs_open > 0 && i + 1 >= TURNS_OPEN)
            break;
    }
    sweep(http);
    if (http->jobs_open > 0)
        return SLEEP_OPEN_MS;
    return timeout_ms < HTTP_SLEEP_MAX_MS ? (int)timeout_ms : HTTP_SLEEP_MAX_MS;
}

/* --- opening and closing -------------------------------------------------------------------- */

/* A text of our own, copied. */
static int open_text(struct representation *what, struct body *body, const char *text,
                     const char *media_type)
{
    char *copy = strdup(text);
    if (!copy || body_init_take(body, copy, strlen(copy), TEXT_LEVEL) != 0)
        return -1;
    return representation_init(what, body, media_type);
}

static int open_pages(struct http *http, const char *description)
{
    http->pages = calloc(http->rules.assets->count + 1, sizeof *http->pages);
    if (!http->pages)
        return -1;
    for (size_t i = 0; i < http->rules.assets->count; i++)
        if (representation_init(&http->pages[i], &http->rules.assets->items[i].body,
                                http->rules.assets->items[i].media_type) != 0)
            return -1;
    if (open_text(&http->health, &http->health_body, "ok\n", "text/plain; charset=utf-8") != 0)
        return -1;
    return description ? open_text(&http->description, &http->description_body, description,
                                   "application/json")
                       : 0;
}

/* The library sets each session's pointer to its connection. */
static int on_handshake(gnutls_session_t session, const gnutls_datum_t *authorities,
                        int authority_count, const gnutls_pk_algorithm_t *algorithms,
                        int algorithm_count, gnutls_pcert_st **chain, unsigned *count,
                        gnutls_privkey_t *key)
{
    struct MHD_Connection *connection = gnutls_session_get_ptr(session);
    const struct client *client = connection ? client_of(connection) : NULL;
    (void)authorities;
    (void)authority_count;
    (void)algorithms;
    (void)algorithm_count;
    if (!client)
        return -1; /* no memory for it: the handshake fails */
    tls_current(client->http->tls, chain, count, key);
    return 0;
}

/* The library takes fd, also when it fails. */
static struct MHD_Daemon *start_daemon(struct http *http, int fd)
{
    const struct http_limits *limits = &http->limits;
    char priorities[] = "NORMAL:-VERS-ALL:+VERS-TLS1.3:+VERS-TLS1.2"; /* RFC 8996 */
    const struct MHD_OptionItem tls[] = {
        /* POSIX: a function's address fits. NOLINTNEXTLINE(performance-no-int-to-ptr) */
        {MHD_OPTION_HTTPS_CERT_CALLBACK, 0, (void *)(uintptr_t)on_handshake},
        {MHD_OPTION_HTTPS_PRIORITIES, 0, priorities},
        {MHD_OPTION_END, 0, NULL},
    };
    const struct MHD_OptionItem plain[] = {{MHD_OPTION_END, 0, NULL}};
    unsigned flags = MHD_USE_EPOLL | MHD_USE_TURBO; /* no thread of its own */
    return MHD_start_daemon(flags | (http->tls ? MHD_USE_TLS : 0), 0, on_accept, http, on_request,
                            http,                                                          /* */
                            MHD_OPTION_LISTEN_SOCKET, fd,                                  /* */
                            MHD_OPTION_CONNECTION_LIMIT, limits->connections,              /* */
                            MHD_OPTION_CONNECTION_TIMEOUT, limits->idle_s,                 /* */
                            MHD_OPTION_CONNECTION_MEMORY_LIMIT, limits->connection_memory, /* */
                            MHD_OPTION_STRICT_FOR_CLIENT, 1,                   /* no Host: 400 */
                            MHD_OPTION_URI_LOG_CALLBACK, on_target, http,      /* */
                            MHD_OPTION_NOTIFY_CONNECTION, on_connection, http, /* */
                            MHD_OPTION_NOTIFY_COMPLETED, on_completed, http,   /* */
                            MHD_OPTION_ARRAY, http->tls ? tls : plain,         /* */
                            MHD_OPTION_END);
}

struct http *http_open(const struct http_options *options, struct error *error)
{
    struct http *http = calloc(1, sizeof *http);
    if (!http) {
        error_set(error, "http: out of memory");
        return NULL;
    }
    http->limits = options->limits;
    http->cell = options->cell;
    http->worker = options->worker;
    http->long_worker = options->long_worker;
    http->zone = options->zone;
    http->tls = options->tls;
    http->reading_signed_in = options->reading_signed_in;
    http->asked_s = options->asked_s;
    snprintf(http->listen, sizeof http->listen, "%s", options->listen);
    http->rules = (struct request_rules){
        .assets = options->assets,
        .own = {.listen = http->listen,
                .tls = options->tls != NULL,
                .names = options->host_names,
                .name_count = options->host_name_count},
        .body_bytes = options->limits.body_bytes,
        .body_drain_bytes = options->limits.body_drain_bytes,
    };
    int fd = socket_listen(http->listen, options->port, &http->rules.own.port, error);
    if (fd < 0)
        goto fail;
    if (open_pages(http, options->description) != 0) {
        error_set(error, "http: out of memory");
        close(fd);
        goto fail;
    }
    http->daemon = start_daemon(http, fd);
    if (!http->daemon) {
        error_set(error, "http: the server could not be started: %s", strerror(errno));
        goto fail;
    }
    return http;
fail:
    http_close(http);
    return NULL;
}

void http_close(struct http *http)
{
    if (!http)
        return;
    if (http->daemon)
        MHD_stop_daemon(http->daemon);
    served_close(http->served);
    for (size_t i = 0; http->pages && i < http->rules.assets->count; i++)
        representation_clear(&http->pages[i]);
    free(http->pages);
    representation_clear(&http->health);
    representation_clear(&http->description);
    body_clear(&http->health_body);
    body_clear(&http->description_body);
    free(http);
}

int http_port(const struct http *http)
{
    return http->rules.own.port;
}

void http_address(const struct http *http, char *out, size_t size)
{
    socket_url(http->tls ? "https" : "http", http->listen, http->rules.own.port, out, size);
}

int http_fd(const struct http *http)
{
    return MHD_get_daemon_info(http->daemon, MHD_DAEMON_INFO_EPOLL_FD)->epoll_fd;
}
