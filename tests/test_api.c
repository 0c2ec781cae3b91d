/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Writing over HTTP, against the real program. */
#include "check.h"

#include <jansson.h>
#include <math.h>
#include <pthread.h>
#include <signal.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "core/civil.h"
#include "daemon/clock.h"
#include "daemon/kind.h"
#include "service.h"

#define RUN(key, litres)                                                                           \
    "{\"key\": \"" key "\", \"zone\": \"bed-1\", \"start\": \"2026-07-01T05:00:00Z\", "            \
    "\"end\": \"2026-07-01T05:30:00Z\", \"litres\": " litres "}"

static json_t *document_of(const struct answer *answer)
{
    json_error_t why;
    json_t *document = json_loadb(answer->body, answer->length, JSON_REJECT_DUPLICATES, &why);
    if (!document)
        fail_msg("not JSON: %s in %s", why.text, answer->body);
    return document;
}

static json_t *get(const struct service *service, const char *path, const char *fields)
{
    struct answer answer;
    service_ask(service, "GET", path, fields, NULL, &answer);
    if (answer.status != 200)
        fail_msg("%s: %d %s", path, answer.status, answer.body);
    json_t *document = document_of(&answer);
    client_forget(&answer);
    return document;
}

static const char *text_of(const json_t *object, const char *name)
{
    const char *text = json_string_value(json_object_get(object, name));
    return text ? text : "";
}

/* The refusal of one request: its status and the field it names. */
static void assert_refused(const struct service *service, const char *method, const char *path,
                           const char *fields, const char *body, int status, const char *field)
{
    struct answer answer;
    service_ask(service, method, path, fields, body, &answer);
    if (answer.status != status)
        fail_msg("%s %s %.200s: %d instead of %d: %s", method, path, body ? body : "",
                 answer.status, status, answer.body ? answer.body : "");
    json_t *problem = document_of(&answer);
    if (strcmp(text_of(problem, "field"), field) != 0)
        fail_msg("%s %s %.200s: field '%s' instead of '%s'", method, path, body ? body : "",
                 text_of(problem, "field"), field);
    assert_string_not_equal(text_of(problem, "detail"), "");
    assert_int_equal(json_integer_value(json_object_get(problem, "status")), status);
    json_decref(problem);
    client_forget(&answer);
}

/* The plan once there is one. */
static json_t *wait_for_plan(const struct service *service)
{
    for (int i = 0; i < 1500; i++) {
        if (service_status(service, "GET", "/api/v1/plan", "", NULL) == 200)
            return get(service, "/api/v1/plan", "");
        usleep(20000);
    }
    fail_msg("no plan");
    return NULL;
}

/* --- reports of runs ------------------------------------------------------------------------- */

static void post_run_again_gives_the_same_answer(void **state)
{
    (void)state;
    struct service service = service_start();
    struct answer first;
    struct answer again;
    char tag[64];
    char other[64];
    service_ask(&service, "POST", "/api/v1/runs", service.controller, RUN("r-1", "120"), &first);
    assert_int_equal(first.status, 201);
    client_field(&first, "Location", other, sizeof other);
    assert_string_equal(other, "/api/v1/runs/r-1");
    json_t *run = document_of(&first);
    assert_string_equal(text_of(run, "state"), "metered");
    assert_int_equal(json_integer_value(json_object_get(run, "start_s")), 1782882000);
    json_decref(run);
    service_ask(&service, "POST", "/api/v1/runs", service.controller, RUN("r-1", "120.0"), &again);
    assert_int_equal(again.status, 200);
    assert_string_equal(first.body, again.body);
    assert_string_equal(client_field(&first, "ETag", tag, sizeof tag),
                        client_field(&again, "ETag", other, sizeof other));
    client_forget(&first);
    client_forget(&again);
    assert_int_equal(
        service_status(&service, "POST", "/api/v1/runs", service.controller, RUN("r-1", "121")),
        409);
    run = get(&service, "/api/v1/runs/r-1", service.controller);
    check_near(json_number_value(json_object_get(run, "litres")), 120, 0, "what came first stays");
    json_decref(run);
    service_stop(&service);
}

/* Its water would count twice; a piece of other times is another report. */
static void post_run_of_another_key_but_the_same_times_is_refused(void **state)
{
    (void)state;
    struct service service = service_start();
    static const char piece[] =
        "{\"key\": \"r-3\", \"zone\": \"bed-1\", \"start\": \"2026-07-01T05:30:00Z\", "
        "\"end\": \"2026-07-01T05:40:00Z\", \"litres\": 10}";
    struct answer answer;
    char fields[1024];
    char start[32];
    char end[32];
    char body[256];
    assert_int_equal(
        service_status(&service, "POST", "/api/v1/runs", service.controller, RUN("r-1", "120")),
        201);
    service_ask(&service, "POST", "/api/v1/runs", service.controller, RUN("r-2", "130"), &answer);
    assert_int_equal(answer.status, 409);
    json_t *problem = document_of(&answer);
    assert_string_equal(text_of(problem, "instance"), "/api/v1/runs/r-1");
    json_decref(problem);
    client_forget(&answer);
    assert_int_equal(service_status(&service, "POST", "/api/v1/runs", service.controller, piece),
                     201);
    snprintf(fields, sizeof fields, "%sIf-Match: *\r\n", service.controller);
    assert_int_equal(service_status(&service, "PUT", "/api/v1/runs/r-3", fields,
                                    RUN("r-3", "10, \"state\": \"metered\"")),
                     409);
    assert_int_equal(service_status(&service, "PUT", "/api/v1/runs/r-1", fields,
                                    RUN("r-1", "130, \"state\": \"metered\"")),
                     200);
    /* clocks differ: a few minutes ahead are taken */
    civil_format_rfc3339(clock_now_s() + 120, 0, end);
    civil_format_rfc3339(clock_now_s() - 600, 0, start);
    snprintf(body, sizeof body,
             "{\"key\": \"r-4\", \"zone\": \"bed-1\", \"start\": \"%s\", \"end\": \"%s\"}", start,
             end);
    assert_int_equal(service_status(&service, "POST", "/api/v1/runs", service.controller, body),
                     201);
    service_stop(&service);
}

/* What was answered with 201 is there after the hardest end, before anything is asked again. */
static void post_run_survives_a_kill_right_after_its_answer(void **state)
{
    (void)state;
    struct service service = service_start();
    for (int i = 0; i < 5; i++) {
        char body[512];
        char path[64];
        snprintf(body, sizeof body,
                 "{\"key\": \"r-%d\", \"zone\": \"bed-1\", \"start\": \"2026-07-01T0%d:00:00Z\", "
                 "\"end\": \"2026-07-01T0%d:30:00Z\"}",
                 i, i, i);
        assert_int_equal(service_status(&service, "POST", "/api/v1/runs", service.controller, body),
                         201);
        assert_int_equal(service_end(&service, SIGKILL), -SIGKILL);
        service_resume(&service);
        snprintf(path, sizeof path, "/api/v1/runs/r-%d", i);
        assert_int_equal(service_status(&service, "GET", path, "", NULL), 200);
        assert_int_equal(service_status(&service, "POST", "/api/v1/runs", service.controller, body),
                         200);
    }
    service_stop(&service);
}

/* A controller that did not hear the answer repeats itself, whatever a person has put right since.
 */
static void post_run_again_after_a_correction_keeps_the_correction(void **state)
{
    (void)state;
    struct service service = service_start();
    char *grower = service_sign_in(&service);
    static const char first[] =
        "{\"key\":\"k\",\"zone\":\"bed-1\",\"start\":\"2026-07-01T05:00:00Z\","
        "\"end\":\"2026-07-01T05:30:00Z\",\"litres\":900}";
    static const char another[] =
        "{\"key\":\"k\",\"zone\":\"bed-1\",\"start\":\"2026-07-01T05:00:00Z\","
        "\"end\":\"2026-07-01T05:30:00Z\",\"litres\":700}";
    /* as the first one, written otherwise */
    static const char rewritten[] =
        "{\"litres\":9e2,\"zone\":\"bed-1\",\"end\":\"2026-07-01T06:30:00+01:00\",\"key\":\"k\","
        "\"start\":\"2026-07-01T05:00:00Z\",\"state\":\"metered\"}";
    static const char list[] =
        "{\"items\":[{\"key\":\"k\",\"zone\":\"bed-1\",\"start\":\"2026-07-01T05:00:00Z"
        "\",\"end\":\"2026-07-01T05:30:00Z\",\"litres\":900},{\"key\":\"k2\",\"zone\":"
        "\"bed-1\",\"start\":\"2026-07-01T05:30:00Z\",\"end\":\"2026-07-01T05:40:00Z\","
        "\"litres\":300}]}";
    struct answer answer;
    char tag[80];
    char corrected[80];
    char fields[1024];
    service_ask(&service, "POST", "/api/v1/runs", service.controller, first, &answer);
    assert_int_equal(answer.status, 201);
    client_field(&answer, "ETag", tag, sizeof tag);
    client_forget(&answer);
    snprintf(fields, sizeof fields, "%sIf-Match: %s\r\n", grower, tag);
    service_ask(&service, "PATCH", "/api/v1/runs/k", fields, "{\"litres\":850}", &answer);
    assert_int_equal(answer.status, 200);
    client_field(&answer, "ETag", corrected, sizeof corrected);
    client_forget(&answer);
    static const char *const again[] = {first, rewritten};
    for (size_t i = 0; i < 2; i++) {
        service_ask(&service, "POST", "/api/v1/runs", service.controller, again[i], &answer);
        assert_int_equal(answer.status, 200);
        assert_non_null(strstr(answer.body, "\"litres\":850"));
        assert_string_equal(client_field(&answer, "ETag", tag, sizeof tag), corrected);
        assert_string_equal(client_field(&answer, "Location", tag, sizeof tag), "/api/v1/runs/k");
        client_forget(&answer);
    }
    assert_int_equal(service_status(&service, "POST", "/api/v1/runs", service.controller, another),
                     409);
    service_ask(&service, "POST", "/api/v1/runs", service.controller, list, &answer);
    assert_int_equal(answer.status, 201);
    assert_non_null(strstr(answer.body, "\"litres\":850"));
    client_forget(&answer);
    service_ask(&service, "GET", "/api/v1/runs/k", service.controller, NULL, &answer);
    assert_non_null(strstr(answer.body, "\"litres\":850"));
    client_forget(&answer);
    /* A record that is nobody's report is not looked at that way. */
    assert_int_equal(service_status(&service, "POST", "/api/v1/mixes", grower,
                                    "{\"mix\":\"m\",\"class\":\"peat\"}"),
                     201);
    service_ask(&service, "GET", "/api/v1/mixes/m", grower, NULL, &answer);
    client_field(&answer, "ETag", tag, sizeof tag);
    client_forget(&answer);
    snprintf(fields, sizeof fields, "%sIf-Match: %s\r\n", grower, tag);
    assert_int_equal(
        service_status(&service, "PATCH", "/api/v1/mixes/m", fields, "{\"class\":\"coir\"}"), 200);
    assert_int_equal(service_status(&service, "POST", "/api/v1/mixes", grower,
                                    "{\"mix\":\"m\",\"class\":\"peat\"}"),
                     409);
    free(grower);
    service_stop(&service);
}

static void put_run_corrects_with_the_tag_only(void **state)
{
    (void)state;
    struct service service = service_start();
    struct answer answer;
    char tag[64];
    char fields[512];
    service_ask(&service, "POST", "/api/v1/runs", service.controller, RUN("r-1", "120"), &answer);
    client_field(&answer, "ETag", tag, sizeof tag);
    client_forget(&answer);
    static const char corrected[] =
        "{\"key\": \"r-1\", \"zone\": \"bed-1\", \"start\": \"2026-07-01T05:00:00Z\", "
        "\"end\": \"2026-07-01T05:10:00Z\", \"litres\": 40, \"state\": \"metered\", "
        "\"run\": \"bed-1.20260701T0700\"}";
    assert_refused(&service, "PUT", "/api/v1/runs/r-1", service.controller, corrected, 428,
                   "If-Match");
    snprintf(fields, sizeof fields, "%sIf-Match: \"0000000000000000\"\r\n", service.controller);
    assert_refused(&service, "PUT", "/api/v1/runs/r-1", fields, corrected, 412, "If-Match");
    snprintf(fields, sizeof fields, "%sIf-Match: W/%s\r\n", service.controller, tag);
    assert_refused(&service, "PUT", "/api/v1/runs/r-1", fields, corrected, 412, "If-Match");
    snprintf(fields, sizeof fields, "%sIf-Match: \"x\"\r\nIf-Match: %s\r\n", service.controller,
             tag);
    assert_refused(&service, "PUT", "/api/v1/runs/r-2", fields, corrected, 404, "path");
    service_ask(&service, "PUT", "/api/v1/runs/r-1", fields, corrected, &answer);
    assert_int_equal(answer.status, 200);
    json_t *run = document_of(&answer);
    check_near(json_number_value(json_object_get(run, "litres")), 40, 0, "corrected");
    json_decref(run);
    client_forget(&answer);
    assert_refused(&service, "PUT", "/api/v1/runs/r-1", fields, corrected, 412, "If-Match");
    /* A controller takes nothing away. */
    snprintf(fields, sizeof fields, "%sIf-Match: *\r\n", service.controller);
    assert_refused(&service, "DELETE", "/api/v1/runs/r-1", fields, NULL, 403, "Authorization");
    service_stop(&service);
}

/* --- bodies ---------------------------------------------------------------------------------- */

static void bodies_that_do_not_suit_are_refused_by_name(void **state)
{
    (void)state;
    struct service service = service_start();
    static const struct {
        const char *body;
        int status;
        const char *field;
    } cases[] = {
        {"", 400, "body"},
        {"{", 400, "body"},
        {"{}x", 400, "body"},
        {"nothing", 400, "body"},
        {"{\"key\": \"a\", \"key\": \"b\"}", 400, "body"},
        {"{\"key\": \"a\xff\"}", 400, "body"},
        {"{\"key\": \"\xc0\xaf\"}", 400, "body"},
        {"{\"key\": \"\\ud800\"}", 400, "body"},
        {"{\"key\": \"a\\u0000b\"}", 400, "body"},
        {"\xef\xbb\xbf{}", 400, "body"},
        {"{\"litres\": 01}", 400, "body"},
        {"{\"litres\": +1}", 400, "body"},
        {"{\"litres\": .5}", 400, "body"},
        {"{\"litres\": NaN}", 400, "body"},
        {"{\"litres\": 1e999}", 400, "body"},
        {"{\"litres\": 99999999999999999999}", 400, "body"},
        {"{'key': 1}", 400, "body"},
        {"[[[[[[[[[1]]]]]]]]]", 400, "body"},
        {"[1]", 422, ""},
        {"12", 422, ""},
        {"null", 422, ""},
        {"\"text\"", 422, ""},
        {"{}", 422, "key"},
        {"{\"key\": 7}", 422, "key"},
        {"{\"key\": \"R 1\"}", 422, "key"},
        {"{\"key\": null}", 422, "key"},
        {"{\"key\": \"r-1\", \"colour\": \"red\"}", 422, "colour"},
        {"{\"items\": []}", 422, "items"},
        {"{\"items\": [7]}", 422, "items/0/"},
        {"{\"items\": [" RUN("a", "1") ", " RUN("b", "-1") "]}", 422, "items/1/litres"},
        {RUN("r-1", "\"120\""), 422, "litres"},
        {RUN("r-1", "true"), 422, "litres"},
        {RUN("r-1", "[1]"), 422, "litres"},
        {RUN("r-1", "-0.1"), 422, "litres"},
        {RUN("r-1", "1, \"pulses\": 1.5"), 422, "pulses"},
        {RUN("r-1", "1, \"state\": \"guessed\""), 422, "state"},
        {RUN("r-1", "1, \"start_s\": 7"), 422, "start_s"},
        {"{\"key\": \"r-1\", \"zone\": \"nowhere\", \"start\": \"2026-07-01T05:00:00Z\", "
         "\"end\": \"2026-07-01T05:30:00Z\"}",
         422, "zone"},
        {"{\"key\": \"r-1\", \"zone\": \"bed-1\", \"start\": \"2026-07-01T05:00:00Z\", "
         "\"end\": \"2026-07-01T05:00:00Z\"}",
         422, "end"},
        {"{\"key\": \"r-1\", \"zone\": \"bed-1\", \"start\": \"2026-07-01 05:00\", "
         "\"end\": \"2026-07-01T05:00:00Z\"}",
         422, "start"},
        {"{\"key\": \"r-1\", \"zone\": \"bed-1\", \"start\": \"2099-07-01T05:00:00Z\", "
         "\"end\": \"2099-07-01T05:30:00Z\"}",
         422, "end"},
        {RUN("r-1", "900000000"), 422, "litres"},
        {"{\"items\": [" RUN("a", "1") ", " RUN("b", "1") "]}", 409, "items/1/"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++)
        assert_refused(&service, "POST", "/api/v1/runs", service.controller, cases[i].body,
                       cases[i].status, cases[i].field);
    json_t *runs = get(&service, "/api/v1/runs", "");
    assert_int_equal(json_array_size(json_object_get(runs, "items")), 0); /* none of it landed */
    json_decref(runs);
    service_stop(&service);
}

static void bodies_of_another_form_are_refused_unread(void **state)
{
    (void)state;
    struct service service = service_start();
    static const struct {
        const char *fields;
        int status;
        const char *field;
    } cases[] = {
        {"Content-Length: 2\r\n", 415, "Content-Type"},
        {"Content-Length: 2\r\nContent-Type: text/plain\r\n", 415, "Content-Type"},
        {"Content-Length: 2\r\nContent-Type: application/jsonx\r\n", 415, "Content-Type"},
        {"Content-Length: 2\r\nContent-Type: application/json; charset=latin1\r\n", 415,
         "Content-Type"},
        {"Content-Length: 2\r\nContent-Type: application/merge-patch+json\r\n", 415,
         "Content-Type"},
        {"Content-Length: 2\r\nContent-Type: application/json\r\nContent-Encoding: gzip\r\n", 415,
         "Content-Encoding"},
        {"Content-Length: 2\r\nContent-Type: application/json\r\nContent-Type: text/plain\r\n", 400,
         "Content-Type"},
        {"Content-Length: 2\r\nContent-Type: application/json\r\nAuthorization: Bearer a\r\n", 400,
         "Authorization"},
        {"Content-Length: 70000\r\nContent-Type: application/json\r\n", 413, ""},
        {"Content-Length: 2\r\nContent-Type: APPLICATION/JSON ; charset=\"utf-8\"\r\n", 422, "key"},
        {"Content-Length: 2\r\nContent-Type: application/json;charset=UTF-8\r\n", 422, "key"},
        {"Content-Type: application/json\r\n", 411, "Content-Length"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        char request[2048];
        struct answer answer;
        snprintf(request, sizeof request, "POST /api/v1/runs HTTP/1.1\r\nHost: @\r\n%s%s\r\n{}",
                 service.controller, cases[i].fields);
        client_ask_raw(service.port, request, &answer);
        if (answer.status != cases[i].status)
            fail_msg("%s: %d", cases[i].fields, answer.status);
        json_t *problem = document_of(&answer);
        assert_string_equal(text_of(problem, "field"), cases[i].field);
        json_decref(problem);
        client_forget(&answer);
    }
    service_stop(&service);
}

static void bodies_in_pieces_and_chunks_are_put_together(void **state)
{
    (void)state;
    struct service service = service_start();
    struct answer answer;
    char request[4096];
    int n = snprintf(request, sizeof request,
                     "POST /api/v1/runs HTTP/1.1\r\nHost: localhost:%d\r\n%s"
                     "Content-Type: application/json\r\nTransfer-Encoding: chunked\r\n\r\n",
                     service.port, service.controller);
    const char *body = RUN("r-1", "77");
    for (size_t at = 0; at < strlen(body); at += 7) {
        size_t piece = strlen(body + at) < 7 ? strlen(body + at) : 7;
        n += snprintf(request + n, sizeof request - (size_t)n, "%zx\r\n%.*s\r\n", piece, (int)piece,
                      body + at);
    }
    n += snprintf(request + n, sizeof request - (size_t)n, "0\r\n\r\n");
    int fd = client_dial(service.port);
    for (int i = 0; i < n; i += 11)
        assert_true(client_send(fd, request + i, (size_t)(n - i < 11 ? n - i : 11)));
    client_read(fd, &answer, false);
    assert_int_equal(answer.status, 201);
    client_forget(&answer);
    /* The same connection goes on. */
    n = snprintf(request, sizeof request,
                 "GET /api/v1/runs/r-1 HTTP/1.1\r\nHost: localhost:%d\r\n%s\r\n", service.port,
                 service.controller);
    assert_true(client_send(fd, request, (size_t)n));
    client_read(fd, &answer, false);
    assert_int_equal(answer.status, 200);
    client_forget(&answer);
    close(fd);
    service_stop(&service);
}

/* --- who may ---------------------------------------------------------------------------------- */

static void tokens_open_what_their_scope_says(void **state)
{
    (void)state;
    struct service service = service_start();
    char out[512];
    const char *body = RUN("r-1", "1");
    assert_refused(&service, "POST", "/api/v1/runs", "", body, 401, "Authorization");
    assert_refused(&service, "POST", "/api/v1/runs", service.station, body, 403, "Authorization");
    assert_refused(&service, "POST", "/api/v1/mixes", service.controller, "{}", 403,
                   "Authorization");
    assert_refused(&service, "GET", "/api/v1/mixes", service.controller, NULL, 403,
                   "Authorization");
    assert_refused(&service, "GET", "/api/v1/audit", service.controller, NULL, 403,
                   "Authorization");
    assert_refused(&service, "GET", "/api/v1/audit", "", NULL, 401, "Authorization");
    assert_int_equal(service_status(&service, "POST", "/api/v1/runs", service.controller, body),
                     201);
    assert_int_equal(service_command(&service, "", "token revoke gate", out, sizeof out), 0);
    assert_refused(&service, "POST", "/api/v1/runs", service.controller, body, 401,
                   "Authorization");
    assert_int_equal(service_command(&service, "", "token revoke gate", out, sizeof out), 2);
    service_stop(&service);
}

static void tokens_that_are_none_are_refused_and_slowed_down(void **state)
{
    (void)state;
    struct service service = service_start();
    struct answer answer;
    char value[64];
    char forged[160];
    /* The right id with another secret, then what is no token at all. */
    snprintf(forged, sizeof forged, "%s", service.controller);
    forged[strlen(forged) - 3] = forged[strlen(forged) - 3] == '0' ? '1' : '0';
    const char *const wrong[] = {
        forged, "Authorization: Bearer \r\n", "Authorization: Basic Z2F0ZTp4\r\n",
        "Authorization: Bearer pt-000000000000-0\r\n", "Authorization: x\r\n"};
    for (int i = 0; i < 10; i++)
        assert_refused(&service, "POST", "/api/v1/runs", wrong[i % 5], RUN("r-1", "1"), 401,
                       "Authorization");
    service_ask(&service, "POST", "/api/v1/runs", forged, RUN("r-1", "1"), &answer);
    assert_int_equal(answer.status, 429);
    assert_in_range(strtol(client_field(&answer, "Retry-After", value, sizeof value), NULL, 10), 1,
                    30);
    client_forget(&answer);
    service_ask(&service, "POST", "/api/v1/session", "",
                "{\"account\": \"ines\", \"password\": \"plants before pumps\"}", &answer);
    assert_int_equal(answer.status, 429); /* passwords can be guessed: not even looked at */
    client_forget(&answer);
    /* Nobody locks a controller out. */
    assert_int_equal(
        service_status(&service, "POST", "/api/v1/runs", service.controller, RUN("r-1", "1")), 201);
    service_stop(&service);
}

static void sessions_open_and_close_with_the_account(void **state)
{
    (void)state;
    struct service service = service_start();
    struct answer answer;
    char out[512];
    char cookie[512];
    assert_refused(&service, "POST", "/api/v1/session", "",
                   "{\"account\": \"ines\", \"password\": \"plants before pump\"}", 401,
                   "password");
    assert_refused(&service, "POST", "/api/v1/session", "",
                   "{\"account\": \"nobody\", \"password\": \"plants before pumps\"}", 401,
                   "password");
    assert_refused(&service, "POST", "/api/v1/session", "", "{\"account\": \"ines\"}", 422, "body");
    service_ask(&service, "POST", "/api/v1/session", "",
                "{\"account\": \"ines\", \"password\": \"plants before pumps\"}", &answer);
    assert_int_equal(answer.status, 201);
    client_field(&answer, "Set-Cookie", cookie, sizeof cookie);
    assert_non_null(strstr(cookie, "; HttpOnly; SameSite=Strict"));
    assert_null(strstr(cookie, "Secure"));
    client_forget(&answer);
    char *grower = service_sign_in(&service);
    json_t *me = get(&service, "/api/v1/session", grower);
    assert_string_equal(text_of(me, "account"), "ines");
    assert_string_equal(text_of(me, "role"), "grower");
    json_decref(me);
    assert_int_equal(service_status(&service, "POST", "/api/v1/supplies", grower,
                                    "{\"supply\": \"tank\", \"flow_l_min\": 40, "
                                    "\"valves_at_once\": 1}"),
                     201);
    service_ask(&service, "DELETE", "/api/v1/session", grower, NULL, &answer);
    assert_int_equal(answer.status, 204);
    assert_non_null(strstr(answer.head, "Max-Age=0"));
    client_forget(&answer);
    assert_int_equal(service_status(&service, "GET", "/api/v1/audit", grower, NULL), 401);
    free(grower);
    grower = service_sign_in(&service);
    assert_int_equal(service_status(&service, "GET", "/api/v1/audit", grower, NULL), 200);
    assert_int_equal(service_command(&service, "", "account disable ines", out, sizeof out), 0);
    assert_int_equal(service_status(&service, "GET", "/api/v1/audit", grower, NULL), 401);
    assert_refused(&service, "POST", "/api/v1/session", "",
                   "{\"account\": \"ines\", \"password\": \"plants before pumps\"}", 401,
                   "password");
    free(grower);
    service_stop(&service);
}

/* A cookie goes along with whatever page asks: only our own may change anything. */
static void cookies_of_another_origin_change_nothing(void **state)
{
    (void)state;
    struct service service = service_start();
    char *grower = service_sign_in(&service);
    char cookie[400];
    char fields[600];
    const char *body = "{\"supply\": \"tank\", \"flow_l_min\": 40, \"valves_at_once\": 1}";
    snprintf(cookie, sizeof cookie, "%.*s\r\n", (int)strcspn(grower, "\r"), grower);
    assert_refused(&service, "POST", "/api/v1/supplies", cookie, body, 403, "Origin");
    static const char *const others[] = {"http://evil.example",
                                         "null",
                                         "http://localhost",
                                         "http://localhost:1",
                                         "https://evil.example:443",
                                         "localhost",
                                         "http://localhost.evil.example"};
    for (size_t i = 0; i < sizeof others / sizeof others[0]; i++) {
        snprintf(fields, sizeof fields, "%sOrigin: %s\r\n", cookie, others[i]);
        assert_refused(&service, "POST", "/api/v1/supplies", fields, body, 403, "Origin");
        snprintf(fields, sizeof fields, "%sOrigin: %s\r\n", service.controller, others[i]);
        assert_refused(&service, "POST", "/api/v1/runs", fields, RUN("r-1", "1"), 403, "Origin");
    }
    /* Forged and replayed ones are nobody's. */
    snprintf(fields, sizeof fields, "%s", grower);
    char *secret = strstr(fields, "ps-") + 20;
    *secret = *secret == 'a' ? 'b' : 'a';
    assert_refused(&service, "POST", "/api/v1/supplies", fields, body, 401, "Authorization");
    assert_int_equal(service_status(&service, "POST", "/api/v1/supplies", grower, body), 201);
    free(grower);
    service_stop(&service);
}

static void secrets_are_neither_kept_nor_logged(void **state)
{
    (void)state;
    struct service service = service_start();
    char command[512];
    char out[512];
    char err[512];
    char *grower = service_sign_in(&service);
    assert_int_equal(
        service_status(&service, "POST", "/api/v1/runs", service.controller, RUN("r-1", "1")), 201);
    assert_int_equal(service_status(&service, "GET", "/api/v1/nothing", service.controller, NULL),
                     404);
    /* The 64 digits of the token, those of the session, the password. */
    const char *token = strrchr(service.controller, '-') + 1;
    const char *session = strstr(grower, "ps-") + 16;
    snprintf(command, sizeof command, "cd %s && grep -rlaF -e %.64s -e %.64s -e 'plants before' .",
             service.example.folder, token, session);
    assert_int_equal(check_run(command, out, sizeof out, err, sizeof err), 1); /* nowhere */
    free(grower);
    service_stop(&service);
}

/* Who was let in and shut out stands in the audit record, never with a secret. */
static void access_from_the_command_line_is_in_the_audit(void **state)
{
    (void)state;
    static const struct {
        const char *input, *words;
    } calls[] = {
        {"first password of rui", "account add rui --role viewer"},
        {"second password of rui", "account password rui"},
        {"", "account disable rui"},
        {"", "token add pump --scope controller"},
        {"", "token revoke pump"},
    };
    static const struct {
        const char *action, *what, *before, *after;
    } expected[] = {
        /* the newest first */
        {"remove", "token pump", "{\"scope\":\"controller\"}", "null"},
        {"add", "token pump", "null", "{\"scope\":\"controller\"}"},
        {"change", "account rui", "{\"role\":\"viewer\",\"disabled\":false}",
         "{\"role\":\"viewer\",\"disabled\":true}"},
        {"change", "account rui", "{\"role\":\"viewer\",\"disabled\":false}",
         "{\"role\":\"viewer\",\"disabled\":false,\"password_changed\":true}"},
        {"add", "account rui", "null", "{\"role\":\"viewer\",\"disabled\":false}"},
    };
    struct service service = service_start();
    char *grower = service_sign_in(&service);
    char out[512];
    for (size_t i = 0; i < sizeof calls / sizeof calls[0]; i++)
        assert_int_equal(service_command(&service, calls[i].input, calls[i].words, out, sizeof out),
                         0);
    json_t *audit = get(&service, "/api/v1/audit", grower);
    const json_t *lines = json_object_get(audit, "items");
    for (size_t i = 0; i < sizeof expected / sizeof expected[0]; i++) {
        const json_t *line = json_array_get(lines, i);
        char *before = json_dumps(json_object_get(line, "before"), JSON_COMPACT | JSON_ENCODE_ANY);
        char *after = json_dumps(json_object_get(line, "after"), JSON_COMPACT | JSON_ENCODE_ANY);
        assert_string_equal(json_string_value(json_object_get(line, "who")), "command line");
        assert_string_equal(json_string_value(json_object_get(line, "action")), expected[i].action);
        assert_string_equal(json_string_value(json_object_get(line, "what")), expected[i].what);
        assert_string_equal(before, expected[i].before);
        assert_string_equal(after, expected[i].after);
        free(before);
        free(after);
    }
    char *text = json_dumps(audit, JSON_COMPACT);
    assert_null(strstr(text, "$y$"));
    assert_null(strstr(text, "$5$"));
    assert_null(strstr(text, "pt-"));
    assert_null(strstr(text, "of rui"));
    free(text);
    json_decref(audit);
    free(grower);
    service_stop(&service);
}

/* --- weather -----------------------------------------------------------------------------------
 */

static json_t *post_readings(const struct service *service, const char *body)
{
    struct answer answer;
    service_ask(service, "POST", "/api/v1/weather/readings", service->station, body, &answer);
    if (answer.status != 200)
        fail_msg("%d %s", answer.status, answer.body);
    json_t *document = document_of(&answer);
    client_forget(&answer);
    return document;
}

static long long number_of(const json_t *object, const char *name)
{
    return json_integer_value(json_object_get(object, name));
}

/* Readings that end so many seconds from now, one a line. */
static void write_readings(char *body, size_t size, const int *from_now_s, size_t count)
{
    size_t used = (size_t)snprintf(body, size, "[");
    for (size_t i = 0; i < count; i++) {
        char at[CIVIL_TEXT];
        civil_format_rfc3339(clock_now_s() + from_now_s[i], 3600, at);
        used += (size_t)snprintf(body + used, size - used,
                                 "%s{\"at\": \"%s\", \"period_min\": 10, \"temperature_c\": "
                                 "%zu.5, \"rain_mm\": 0}",
                                 i ? ", " : "", at, 10 + i);
    }
    snprintf(body + used, size - used, "]");
}

static void readings_are_kept_once_and_the_clock_is_watched(void **state)
{
    (void)state;
    struct service service = service_start();
    char body[2048];
    write_readings(body, sizeof body, (const int[]){-1200, -600, -5}, 3);
    json_t *answer = post_readings(&service, body);
    assert_int_equal(number_of(answer, "received"), 3);
    assert_int_equal(number_of(answer, "changed"), 3);
    assert_int_equal(json_array_size(json_object_get(answer, "warnings")), 0);
    json_decref(answer);
    answer = post_readings(&service, body);
    assert_int_equal(number_of(answer, "changed"), 0);
    json_decref(answer);
    static const struct {
        int from_now_s;
        const char *code;
    } clocks[] = {{1000, "clock_ahead"}, {-2000, "late"}, {-700, NULL}, {200, NULL}};
    for (size_t i = 0; i < sizeof clocks / sizeof clocks[0]; i++) {
        write_readings(body, sizeof body, &clocks[i].from_now_s, 1);
        answer = post_readings(&service, body);
        const json_t *warnings = json_object_get(answer, "warnings");
        assert_int_equal(json_array_size(warnings), clocks[i].code ? 1 : 0);
        if (clocks[i].code)
            assert_string_equal(text_of(json_array_get(warnings, 0), "code"), clocks[i].code);
        json_decref(answer);
    }
    service_stop(&service);
}

static void readings_that_cannot_be_are_refused_by_name(void **state)
{
    (void)state;
    struct service service = service_start();
#define AT "\"at\": \"2026-07-01T05:00:00Z\", \"period_min\": "
    static const struct {
        const char *body;
        const char *field;
    } cases[] = {
        {"{}", "body"},
        {"[]", "body"},
        {"[7]", "0/"},
        {"[{}]", "0/at"},
        {"[{" AT "10}]", "0/temperature_c"},
        {"[{" AT "0}]", "0/period_min"},
        {"[{" AT "61, \"rain_mm\": 0}]", "0/period_min"},
        {"[{" AT "10, \"rain_mm\": 0}, {" AT "10, \"rain_mm\": \"0\"}]", "1/rain_mm"},
        {"[{" AT "10, \"rain_mm\": 1e6}]", "0/rain_mm"},
        {"[{" AT "10, \"rain\": 1}]", "0/rain"},
        {"[{\"at\": \"2098-07-01T05:00:00Z\", \"period_min\": 5, \"rain_mm\": 0}]", "0/at"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++)
        assert_refused(&service, "POST", "/api/v1/weather/readings", service.station, cases[i].body,
                       422, cases[i].field);
    const char *good = "[{" AT "10, \"rain_mm\": 0}]";
    assert_refused(&service, "POST", "/api/v1/weather/readings", service.controller, good, 403,
                   "Authorization");
    assert_refused(&service, "POST", "/api/v1/weather/readings", "", good, 401, "Authorization");
    assert_refused(&service, "GET", "/api/v1/weather/readings", service.station, NULL, 405,
                   "method");
    char *grower = service_sign_in(&service);
    assert_int_equal(service_status(&service, "POST", "/api/v1/weather/readings", grower, good),
                     200);
    free(grower);
    service_stop(&service);
}

/* --- all kinds of records ----------------------------------------------------------------------
 */

/* Every record of the example, of every kind: read alone it has the tag that the list gave, and
 * given back as it is nothing changes. */
static void records_of_every_kind_read_and_write_back(void **state)
{
    (void)state;
    struct service service = service_start();
    char *grower = service_sign_in(&service);
    size_t records = 0;
    for (int id = 0; id < KIND_COUNT; id++) {
        char path[128];
        snprintf(path, sizeof path, "/api/v1/%s", kind_of((enum kind_id)id)->stem);
        json_t *list = get(&service, path, grower);
        const json_t *items = json_object_get(list, "items");
        for (size_t i = 0; i < json_array_size(items); i++) {
            const json_t *item = json_array_get(items, i);
            struct answer one;
            struct answer back;
            char tag[64];
            char self[256];
            char fields[1024];
            size_t used = 0;
            for (const char *c = text_of(item, "self"); *c; c++)
                used += (size_t)snprintf(self + used, sizeof self - used, *c == ' ' ? "%%20" : "%c",
                                         *c);
            service_ask(&service, "GET", self, grower, NULL, &one);
            if (one.status != 200)
                fail_msg("%s: %d", self, one.status);
            assert_string_equal(client_field(&one, "ETag", tag, sizeof tag), text_of(item, "etag"));
            snprintf(fields, sizeof fields, "%sIf-Match: %s\r\n", grower, tag);
            service_ask(&service, "PUT", self, fields, one.body, &back);
            if (back.status != 200)
                fail_msg("%s: %d %s", self, back.status, back.body);
            assert_string_equal(back.body, one.body);
            client_forget(&one);
            client_forget(&back);
            records++;
        }
        json_decref(list);
    }
    assert_true(records > 50);
    json_t *audit = get(&service, "/api/v1/audit", grower);
    const json_t *lines = json_object_get(audit, "items");
    for (size_t i = 0; i < json_array_size(lines); i++)
        assert_string_not_equal(text_of(json_array_get(lines, i), "action"), "change");
    json_decref(audit);
    free(grower);
    service_stop(&service);
}

static int sell(struct service *service, const char *grower, const char *ref, int pots)
{
    char body[160];
    snprintf(body, sizeof body,
             "{\"block\": \"lavender-3l\", \"on\": \"2026-07-01\", \"event\": \"sold\", "
             "\"ref\": %s, \"pots\": %d}",
             ref, pots);
    return service_status(service, "POST", "/api/v1/pot_events", grower, body);
}

/* Of the 1500 that stand there, in three sales of one day. */
static void records_a_block_is_sold_from_several_times_a_day(void **state)
{
    (void)state;
    struct service service = service_start();
    char *grower = service_sign_in(&service);
    assert_int_equal(sell(&service, grower, "null", 1000), 201);
    assert_int_equal(sell(&service, grower, "null", 1000), 200);
    assert_int_equal(sell(&service, grower, "null", 300), 409);
    assert_int_equal(sell(&service, grower, "\"note-2\"", 300), 201);
    assert_int_equal(sell(&service, grower, "\"note-3\"", 201), 422);
    assert_int_equal(sell(&service, grower, "\"note-3\"", 200), 201);
    json_t *sales = get(&service, "/api/v1/pot_events/lavender-3l,2026-07-01,sold", grower);
    const json_t *items = json_object_get(sales, "items");
    assert_int_equal(json_array_size(items), 3);
    assert_string_equal(text_of(json_array_get(items, 0), "self"),
                        "/api/v1/pot_events/lavender-3l,2026-07-01,sold,");
    assert_string_equal(text_of(json_array_get(items, 0), "ref"), "");
    assert_string_equal(text_of(json_array_get(items, 2), "ref"), "note-3");
    for (size_t i = 0; i < 3; i++) {
        char fields[512];
        const json_t *item = json_array_get(items, i);
        snprintf(fields, sizeof fields, "%sIf-Match: %s\r\n", grower, text_of(item, "etag"));
        assert_int_equal(service_status(&service, "DELETE", text_of(item, "self"), fields, NULL),
                         204);
    }
    json_decref(sales);
    assert_refused(&service, "POST", "/api/v1/pot_events", grower,
                   "{\"block\": \"lavender-3l\", \"on\": \"2026-07-01\", "
                   "\"event\": \"ended\", \"ref\": \"a\"}",
                   422, "ref");
    free(grower);
    service_stop(&service);
}

/* What cannot have been: more pots than stand there, a pot lighter than its water, rain to come. */
static void records_that_cannot_have_been_are_refused(void **state)
{
    (void)state;
    struct service service = service_start();
    char *grower = service_sign_in(&service);
    struct answer answer;
    service_ask(&service, "POST", "/api/v1/pot_events", grower,
                "{\"block\": \"lavender-3l\", \"on\": \"2026-07-01\", \"event\": \"sold\", "
                "\"pots\": 1501}",
                &answer);
    assert_int_equal(answer.status, 422);
    assert_non_null(strstr(answer.body, "accepted is at most the 1500 that stand there then"));
    client_forget(&answer);
    assert_int_equal(service_status(&service, "POST", "/api/v1/pot_events", grower,
                                    "{\"block\": \"lavender-3l\", \"on\": \"2026-07-01\", "
                                    "\"event\": \"sold\", \"pots\": 1500}"),
                     201);
    /* one sold before is one too many on that day */
    assert_int_equal(service_status(&service, "POST", "/api/v1/pot_events", grower,
                                    "{\"block\": \"lavender-3l\", \"on\": \"2026-06-01\", "
                                    "\"event\": \"sold\", \"pots\": 1}"),
                     422);
    assert_refused(&service, "POST", "/api/v1/weighings", grower,
                   "{\"block\": \"choisya-3l\", \"at\": \"2026-07-01T05:00:00Z\", "
                   "\"capacity_kg\": 0.01, \"now_kg\": 0.005}",
                   422, "capacity_kg");
    time_t soon_s = time(NULL) + 3600;
    struct tm soon;
    char body[160];
    gmtime_r(&soon_s, &soon);
    strftime(body, sizeof body,
             "{\"from\": \"2026-07-01T05:00:00Z\", \"to\": \"%Y-%m-%dT%H:%M:%SZ\", \"rain_mm\": 1}",
             &soon);
    assert_refused(&service, "POST", "/api/v1/gauge", grower, body, 422, "to");
    strftime(body, sizeof body,
             "{\"block\": \"choisya-3l\", \"at\": \"%Y-%m-%dT%H:%M:%SZ\", \"place\": \"both\", "
             "\"feel\": \"dry\"}",
             &soon);
    assert_refused(&service, "POST", "/api/v1/touch_checks", grower, body, 422, "at");
    free(grower);
    service_stop(&service);
}

static void records_are_added_changed_and_removed(void **state)
{
    (void)state;
    struct service service = service_start();
    struct answer answer;
    char *grower = service_sign_in(&service);
    char fields[1024];
    char tag[64];
    service_ask(&service, "POST", "/api/v1/weighings", grower,
                "{\"block\": \"lavender-3l\", \"at\": \"2026-07-01T07:00:00+02:00\", "
                "\"capacity_kg\": 3.4, \"now_kg\": 3.1}",
                &answer);
    if (answer.status == 422) { /* the example's blocks may be renamed; any will do */
        json_t *blocks = get(&service, "/api/v1/blocks", "");
        fail_msg("a block of the example, such as %s: %s",
                 text_of(json_array_get(json_object_get(blocks, "items"), 0), "block"),
                 answer.body);
    }
    assert_int_equal(answer.status, 201);
    client_field(&answer, "ETag", tag, sizeof tag);
    char location[128];
    client_field(&answer, "Location", location, sizeof location);
    assert_string_equal(location, "/api/v1/weighings/lavender-3l,2026-07-01T05:00:00Z");
    client_forget(&answer);
    /* Another one of that moment: the answer says where the first is. */
    service_ask(&service, "POST", "/api/v1/weighings", grower,
                "{\"block\": \"lavender-3l\", \"at\": \"2026-07-01T05:00:00Z\", "
                "\"capacity_kg\": 3.4, \"now_kg\": 3.0}",
                &answer);
    assert_int_equal(answer.status, 409);
    json_t *there = document_of(&answer);
    assert_string_equal(text_of(there, "instance"), location);
    json_decref(there);
    client_forget(&answer);
    /* The same moment in another offset is the same record; so is the beginning of the key. */
    assert_int_equal(service_status(&service, "GET",
                                    "/api/v1/weighings/lavender-3l,2026-07-01T00:00:00-05:00",
                                    grower, NULL),
                     200);
    json_t *list = get(&service, "/api/v1/weighings/lavender-3l", grower);
    assert_int_equal(json_array_size(json_object_get(list, "items")), 1);
    json_decref(list);
    snprintf(fields, sizeof fields, "%sIf-Match: %s\r\n", grower, tag);
    service_ask(&service, "PATCH", location, fields, "{\"now_kg\": 3.2}", &answer);
    assert_int_equal(answer.status, 200);
    json_t *weighing = document_of(&answer);
    check_near(json_number_value(json_object_get(weighing, "now_kg")), 3.2, 0, "patched");
    check_near(json_number_value(json_object_get(weighing, "capacity_kg")), 3.4, 0, "kept");
    json_decref(weighing);
    client_field(&answer, "ETag", tag, sizeof tag);
    client_forget(&answer);
    snprintf(fields, sizeof fields, "%sIf-Match: %s\r\n", grower, tag);
    assert_refused(&service, "PATCH", location, fields, "{\"now_kg\": null}", 422, "now_kg");
    assert_refused(&service, "PATCH", location, fields, "{\"at\": \"2026-07-01T05:00:01Z\"}", 422,
                   "at");
    assert_refused(&service, "PATCH", location, fields, "{\"now_kg\": 9}", 422, "now_kg");
    assert_refused(&service, "PATCH", location, fields, "7", 422, "");
    assert_refused(&service, "DELETE", location, grower, NULL, 428, "If-Match");
    assert_int_equal(service_status(&service, "DELETE", location, fields, NULL), 204);
    assert_refused(&service, "DELETE", location, fields, NULL, 404, "path");
    assert_int_equal(service_status(&service, "GET", location, grower, NULL), 404);
    json_t *audit = get(&service, "/api/v1/audit", grower);
    const json_t *lines = json_object_get(audit, "items");
    static const char *const actions[] = {"remove", "change", "add"};
    static const double before_kg[] = {3.2, 3.1, 0};
    static const double after_kg[] = {0, 3.2, 3.1};
    for (size_t i = 0; i < 3; i++) { /* the newest first */
        const json_t *line = json_array_get(lines, i);
        assert_string_equal(text_of(line, "action"), actions[i]);
        assert_string_equal(text_of(line, "who"), "account ines");
        assert_string_equal(text_of(line, "what"), location + strlen("/api/v1/"));
        check_near(json_number_value(json_object_get(json_object_get(line, "before"), "now_kg")),
                   before_kg[i], 0, "before");
        check_near(json_number_value(json_object_get(json_object_get(line, "after"), "now_kg")),
                   after_kg[i], 0, "after");
    }
    json_decref(audit);
    free(grower);
    service_stop(&service);
}

/* What would leave other records hanging is refused, and nothing of it stays. */
static void records_that_others_need_are_not_removed(void **state)
{
    (void)state;
    struct service service = service_start();
    char *grower = service_sign_in(&service);
    char fields[1024];
    snprintf(fields, sizeof fields, "%sIf-Match: *\r\n", grower);
    assert_refused(&service, "DELETE", "/api/v1/zones/bed-1", fields, NULL, 409, "");
    assert_refused(&service, "DELETE", "/api/v1/supplies/pump", fields, NULL, 409, "");
    assert_refused(&service, "DELETE", "/api/v1/normals/7", fields, NULL, 422, "");
    json_t *tests = get(&service, "/api/v1/bench_tests", grower);
    const json_t *items = json_object_get(tests, "items");
    size_t count = json_array_size(items);
    size_t refused = 0;
    for (size_t i = 0; i < count; i++)
        refused += service_status(&service, "DELETE", text_of(json_array_get(items, i), "self"),
                                  fields, NULL) == 422;
    assert_true(refused > 0); /* the last test of a mix that pots are filled with */
    json_decref(tests);
    json_t *normals = get(&service, "/api/v1/normals", grower);
    assert_int_equal(json_array_size(json_object_get(normals, "items")), 12);
    json_decref(normals);
    free(grower);
    service_stop(&service);
}

static void lists_come_in_pages_that_join(void **state)
{
    (void)state;
    struct service service = service_start();
    char body[8192] = "{\"items\": [";
    for (int i = 0; i < 25; i++)
        snprintf(body + strlen(body), sizeof body - strlen(body),
                 "%s{\"key\": \"p-%02d\", \"zone\": \"bed-1\", \"start\": "
                 "\"2026-07-%02dT05:00:00Z\", \"end\": \"2026-07-%02dT05:30:00Z\"}",
                 i ? ", " : "", i, i + 1, i + 1);
    strcat(body, "]}");
    assert_int_equal(service_status(&service, "POST", "/api/v1/runs", service.controller, body),
                     201);
    assert_int_equal(service_status(&service, "POST", "/api/v1/runs", service.controller, body),
                     200);
    char path[128] = "/api/v1/runs?limit=10";
    size_t seen = 0;
    size_t pages = 0;
    for (;;) {
        json_t *page = get(&service, path, "");
        const json_t *items = json_object_get(page, "items");
        for (size_t i = 0; i < json_array_size(items); i++) {
            char key[16];
            snprintf(key, sizeof key, "p-%02zu", seen++);
            assert_string_equal(text_of(json_array_get(items, i), "key"), key);
        }
        pages++;
        bool more = json_is_string(json_object_get(page, "next"));
        snprintf(path, sizeof path, "/api/v1/runs?limit=10&after=%s", text_of(page, "next"));
        json_decref(page);
        if (!more)
            break;
    }
    assert_int_equal(seen, 25);
    assert_int_equal(pages, 3);
    assert_refused(&service, "GET", "/api/v1/runs?limit=0", "", NULL, 400, "limit");
    assert_refused(&service, "GET", "/api/v1/runs?limit=x", "", NULL, 400, "limit");
    assert_refused(&service, "GET", "/api/v1/runs?limit=5&limit=6", "", NULL, 400, "query");
    assert_refused(&service, "GET", "/api/v1/runs?colour=red", "", NULL, 400, "query");
    assert_refused(&service, "GET", "/api/v1/runs?after=%zz", "", NULL, 400, "query");
    assert_refused(&service, "GET", "/api/v1/runs?after=A", "", NULL, 400, "after");
    service_stop(&service);
}

/* --- one block -------------------------------------------------------------------------------- */

static double value_of(const json_t *working, const char *quantity)
{
    const json_t *steps = json_object_get(working, "steps");
    for (size_t i = 0; i < json_array_size(steps); i++)
        if (strcmp(text_of(json_array_get(steps, i), "quantity"), quantity) == 0)
            return json_number_value(json_object_get(json_array_get(steps, i), "value"));
    fail_msg("no step %s", quantity);
    return 0;
}

static const json_t *step_of(const json_t *working, const char *quantity)
{
    size_t i;
    json_t *step;
    json_array_foreach(json_object_get(working, "steps"), i,
                       step) if (strcmp(text_of(step, "quantity"), quantity) == 0) return step;
    return NULL;
}

/* NAN where it takes no part. */
static double input_of(const json_t *step, const char *name)
{
    const json_t *value = json_object_get(json_object_get(step, "inputs"), name);
    return json_is_number(value) ? json_number_value(value) : NAN;
}

/* Figures have five places: a difference of two may be three halves of the last one off. */
static void check_step(const json_t *working, const char *quantity, double wanted, double relative)
{
    check_near(value_of(working, quantity), wanted, relative * fabs(wanted) + 1.5e-5 + 1e-9,
               quantity);
}

static double catch_of(const json_t *step)
{
    double canopy_m = input_of(step, "canopy_cm") / 100;
    double ground_m2 = input_of(step, "ground_m2");
    double top_m2 = input_of(step, "top_m2");
    double shade_m2 = fmin(3.14159265 / 4 * canopy_m * canopy_m, ground_m2);
    return fmin(fmax(1, 1 + 0.4 * (shade_m2 / top_m2 - 1)), ground_m2 / top_m2);
}

/* What was needed, in whole minutes and equal pulses, within the limits. */
static int minutes_of(const json_t *step, double need)
{
    double most = input_of(step, "most_minutes");
    int minutes = (int)fmax(ceil(need), input_of(step, "least_minutes"));
    int pulses = (int)input_of(step, "pulses");
    if (minutes > most)
        minutes = (int)most;
    int each = (minutes + pulses - 1) / pulses;
    if (each * pulses > most)
        each = (int)most / pulses;
    return each * pulses;
}

/* The run's steps, each from the inputs that stand beside it; 0: no run was sized, 1: from what a
 * pot catches of sprinklers, 2: of emitters, 3: every pot its own. */
static int check_run_steps(const json_t *working)
{
    const json_t *lacks = step_of(working, "lacks_l");
    const json_t *margin = step_of(working, "margin");
    const json_t *rate = step_of(working, "pot_l_min");
    const json_t *need = step_of(working, "need_minutes");
    const json_t *minutes = step_of(working, "minutes");
    int how = 0;
    if (!need)
        return how;
    if (lacks) {
        check_step(working, "lacks_l", input_of(lacks, "full_l") - input_of(lacks, "water_l"), 0);
        assert_string_not_equal(text_of(json_object_get(lacks, "inputs"), "block"), "");
        double soak = input_of(margin, "soak_times") / input_of(margin, "dry_share_pct") * 100;
        double usual = fmax(1 / (1 - input_of(margin, "leaching_pct") / 100),
                            input_of(margin, "uniformity_times"));
        check_step(working, "margin", isfinite(soak) ? soak : usual, 1e-3);
        how = isfinite(input_of(rate, "rate_mm_h")) ? 1 : 2;
        check_step(working, "pot_l_min",
                   how == 1
                       ? input_of(rate, "rate_mm_h") / 60 * input_of(rate, "top_m2") *
                             input_of(rate, "capture")
                       : input_of(rate, "emitters_per_pot") * input_of(rate, "emitter_l_h") / 60,
                   1e-3);
        check_step(working, "need_minutes",
                   input_of(need, "lacks_l") * input_of(need, "margin") /
                       input_of(need, "pot_l_min"),
                   1e-3);
    } else {
        how = 3;
        check_step(working, "need_minutes", input_of(need, "all_l") / input_of(need, "flow_l_min"),
                   1e-3);
    }
    const json_t *catch = step_of(working, "capture");
    if (catch && isfinite(input_of(catch, "ground_m2")))
        check_step(working, "capture", catch_of(catch), 1e-3);
    double shown = value_of(working, "minutes");
    if (shown != minutes_of(minutes, input_of(minutes, "need_minutes") - 5e-4) &&
        shown != minutes_of(minutes, input_of(minutes, "need_minutes") + 5e-4))
        fail_msg("%g minutes do not follow: %s", shown, json_dumps(minutes, JSON_COMPACT));
    if (how == 1)
        check_step(working, "depth_mm",
                   shown * input_of(step_of(working, "depth_mm"), "rate_mm_h") / 60, 0.02);
    check_step(working, "litres", shown * input_of(step_of(working, "litres"), "flow_l_min"), 1e-3);
    return how;
}

/* Every block's chain: each step says what it is made of, and steps agree with each other. */
static void working_adds_up_from_the_bench_to_the_valve(void **state)
{
    (void)state;
    struct service service = service_start();
    json_t *plan = wait_for_plan(&service);
    const json_t *blocks = json_object_get(plan, "blocks");
    size_t seen[4] = {0};
    for (size_t b = 0; b < json_array_size(blocks); b++) {
        char path[128];
        const json_t *block = json_array_get(blocks, b);
        snprintf(path, sizeof path, "/api/v1/blocks/%s/working", text_of(block, "id"));
        json_t *working = get(&service, path, "");
        const json_t *steps = json_object_get(working, "steps");
        assert_in_range(json_array_size(steps), 17, 25);
        for (size_t i = 0; i < json_array_size(steps); i++) {
            const json_t *step = json_array_get(steps, i);
            assert_string_not_equal(text_of(step, "formula"), "");
            assert_string_not_equal(text_of(step, "source"), "");
            assert_true(json_object_size(json_object_get(step, "inputs")) > 0);
        }
        double full_l = value_of(working, "full_l");
        check_near(value_of(working, "capacity_pct"),
                   value_of(working, "total_porosity_pct") - value_of(working, "air_pct"), 0.11,
                   "capacity = porosity - air, each to a tenth");
        check_near(value_of(working, "depletion_l"), full_l - value_of(working, "water_l"), 2e-4,
                   "depletion = full - water");
        check_near(value_of(working, "depletion_pct"),
                   100 * value_of(working, "depletion_l") / value_of(working, "available_l"), 0.1,
                   "of the available water");
        check_near(value_of(working, "water_l"),
                   json_number_value(json_object_get(block, "water_l")), 1e-9, "the plan's number");
        seen[check_run_steps(working)]++;
        json_decref(working);
    }
    if (!seen[1] || !seen[2] || !seen[3])
        fail_msg("%zu by sprinklers, %zu by emitters, %zu each its own", seen[1], seen[2], seen[3]);
    json_decref(plan);
    assert_refused(&service, "GET", "/api/v1/blocks/nobody/working", "", NULL, 404, "path");
    assert_refused(&service, "GET", "/api/v1/blocks//working", "", NULL, 404, "path");
    assert_refused(&service, "GET", "/api/v1/zones/bed-1/working", "", NULL, 404, "path");
    service_stop(&service);
}

/* In people's words, all of them in the language that was asked for; figures and names stay. */
static void working_is_said_in_the_readers_language(void **state)
{
    (void)state;
    static const char *const said[] = {"label", "unit", "formula", "source"};
    static const char path[] = "/api/v1/blocks/lavender-3l/working";
    struct service service = service_start();
    json_decref(wait_for_plan(&service));
    struct answer answers[2];
    char english[64];
    char spanish[64];
    char field[256];
    service_ask(&service, "GET", path, "", NULL, &answers[0]);
    service_ask(&service, "GET", path, "Accept-Language: es-MX, en;q=0.8\r\n", NULL, &answers[1]);
    assert_string_equal(client_field(&answers[0], "Content-Language", field, sizeof field), "en");
    assert_string_equal(client_field(&answers[1], "Content-Language", field, sizeof field), "es");
    assert_string_equal(client_field(&answers[1], "Vary", field, sizeof field),
                        "Accept-Encoding, Accept-Language");
    client_field(&answers[0], "ETag", english, sizeof english);
    client_field(&answers[1], "ETag", spanish, sizeof spanish);
    assert_string_not_equal(english, spanish);
    snprintf(field, sizeof field, "Accept-Language: es\r\nIf-None-Match: %s\r\n", spanish);
    assert_int_equal(service_status(&service, "GET", path, field, NULL), 304);
    snprintf(field, sizeof field, "If-None-Match: %s\r\n", spanish);
    assert_int_equal(service_status(&service, "GET", path, field, NULL), 200);
    json_t *documents[] = {document_of(&answers[0]), document_of(&answers[1])};
    const json_t *steps[] = {json_object_get(documents[0], "steps"),
                             json_object_get(documents[1], "steps")};
    assert_true(json_array_size(steps[0]) == json_array_size(steps[1]));
    for (size_t i = 0; i < json_array_size(steps[0]); i++) {
        const json_t *one = json_array_get(steps[0], i);
        const json_t *other = json_array_get(steps[1], i);
        json_t *labels = json_object_get(one, "labels");
        const char *name;
        json_t *label;
        for (size_t k = 0; k < sizeof said / sizeof said[0]; k++)
            if (strchr(text_of(one, said[k]), '_') || strchr(text_of(other, said[k]), '_'))
                fail_msg("%s: %s", said[k], text_of(other, said[k]));
        assert_string_equal(text_of(one, "quantity"), text_of(other, "quantity"));
        assert_string_not_equal(text_of(one, "label"), text_of(other, "label"));
        assert_string_not_equal(text_of(one, "formula"), text_of(other, "formula"));
        assert_true(json_equal(json_object_get(one, "value"), json_object_get(other, "value")));
        assert_true(json_equal(json_object_get(one, "inputs"), json_object_get(other, "inputs")));
        json_object_foreach(labels, name, label) if (strchr(json_string_value(label), '_'))
            fail_msg("%s has no label", name);
    }
    assert_string_equal(text_of(json_object_get(documents[0], "words"), "round"), "round");
    assert_string_equal(text_of(json_object_get(documents[1], "words"), "round"), "redonda");
    for (int i = 0; i < 2; i++) {
        json_decref(documents[i]);
        client_forget(&answers[i]);
    }
    service_stop(&service);
}

/* --- languages -------------------------------------------------------------------------------- */

/* Whole words, so that names and what was given may hold them. */
static void assert_spanish(const json_t *problem, const char *what)
{
    static const char *const words[] = {" is ",     " are ",   " given,",  "accepted", " of ",
                                        " and ",    " or ",    " at most", "number",   " the ",
                                        "the name", "Content", "Request",  "Found",    "Not "};
    const char *names[] = {"title", "given", "detail", "accepted"};
    for (size_t n = 0; n < 4; n++)
        for (size_t i = 0; i < sizeof words / sizeof words[0]; i++)
            if (text_of(problem, names[n])[0] != '"' && /* somebody's own */
                strstr(text_of(problem, names[n]), words[i]))
                fail_msg("%s: %s", what, text_of(problem, names[n]));
    assert_string_not_equal(text_of(problem, "given"), "nothing");
}

static void expect_refused_in_spanish(const struct service *service, const char *method,
                                      const char *path, const char *who, const char *body)
{
    struct answer answer;
    char fields[768];
    char field[64];
    snprintf(fields, sizeof fields, "%sAccept-Language: es-MX,es;q=0.9,en;q=0.8\r\n", who);
    service_ask(service, method, path, fields, body, &answer);
    if (answer.status < 400)
        fail_msg("%s %s %s: %d", method, path, body ? body : "", answer.status);
    client_field(&answer, "Content-Language", field, sizeof field);
    if (strcmp(field, "es") != 0)
        fail_msg("%s %s %s: in '%s': %s", method, path, body ? body : "", field, answer.body);
    assert_string_equal(client_field(&answer, "Vary", field, sizeof field), "Accept-Language");
    json_t *problem = document_of(&answer);
    assert_spanish(problem, path);
    json_decref(problem);
    client_forget(&answer);
}

static void refusals_are_said_in_the_readers_language(void **state)
{
    (void)state;
    static const struct {
        const char *path, *body;
    } bodies[] = {
        {"gauge", ""},
        {"gauge", "[]"},
        {"gauge", "\"nothing\""},
        {"gauge", "{\"from\": "},
        {"gauge", "{\"a\": 1, \"a\": 1}"},
        {"gauge", "{\"a\" 1}"},
        {"gauge", "{} and more"},
        {"gauge", "{\"a\": 1e999}"},
        {"gauge", "oops"},
        {"gauge", "{\"items\": []}"},
        {"session", "{}"},
        {"session", "{\"account\": \"ines\", \"password\": \"wrong\"}"},
        {"sheets", "[]"},
        {"sheets", "{\"remarks\": \"a\\u0001\"}"},
        {"sheets", "{\"remarks\": 1}"},
        {"predictions", "{}"},
        {"predictions", "{\"blocks\": [\"nobody\"]}"},
        {"blocks/lavender-3l/preview", "[]"},
        {"blocks/lavender-3l/preview", "{\"pots\": -1}"},
        {"blocks/lavender-3l/preview", "{\"block\": \"other\"}"},
        {"blocks/nobody/preview", "{}"},
        {"gauge", "{\"from\": \"2026-07-01T05:00:00Z\", \"to\": \"2026-07-01T04:00:00Z\", "
                  "\"rain_mm\": 1}"},
        {"runs", RUN("r-1", "900000000")},
        {"runs", "{\"items\": [" RUN("a", "1") ", " RUN("b", "1") "]}"},
        {"weighings", "{\"block\": \"lavender-3l\", \"at\": \"2026-07-01T05:00:00Z\", "
                      "\"capacity_kg\": 1, \"now_kg\": 2}"},
        {"weighings", "{\"block\": \"nobody\", \"at\": \"2026-07-01T05:00:00Z\", "
                      "\"capacity_kg\": 2, \"now_kg\": 1}"},
        {"weighings", "{\"block\": \"lavender-3l\", \"at\": \"2026-07-01T05:00:00Z\", "
                      "\"capacity_kg\": 0.01, \"now_kg\": 0.005}"},
        {"gauge", "{\"from\": \"2026-07-01T05:00:00Z\", \"to\": \"2027-07-01T04:00:00Z\", "
                  "\"rain_mm\": 1}"},
        {"pot_events", "{\"block\": \"lavender-3l\", \"on\": \"2026-07-01\", "
                       "\"event\": \"sold\", \"pots\": 9000}"},
        {"pots", "{\"pot\": \"p\", \"form\": \"round\", \"top_cm\": 10, \"bottom_cm\": 20, "
                 "\"fill_height_cm\": 9}"},
        {"pots", "{\"pot\": \"p\", \"form\": \"round\", \"top_cm\": 10, \"bottom_cm\": 9, "
                 "\"fill_height_cm\": 9, \"volume_l\": 50}"},
    };
    struct service service = service_start();
    json_decref(wait_for_plan(&service));
    char *grower = service_sign_in(&service);
    char path[256];
    char body[512];
    for (size_t i = 0; i < sizeof bodies / sizeof bodies[0]; i++) {
        snprintf(path, sizeof path, "/api/v1/%s", bodies[i].path);
        expect_refused_in_spanish(&service, "POST", path, grower, bodies[i].body);
    }
    /* every column of every kind, with nothing, another type, and a value that cannot be */
    for (int k = 0; k < KIND_COUNT; k++) {
        const struct kind *kind = kind_of((enum kind_id)k);
        static const char *const values[] = {"null", "{\"a\": 1}", "\"\\u0001 x\"", "-1e9",
                                             "[\"x\"]"};
        snprintf(path, sizeof path, "/api/v1/%s", kind->stem);
        expect_refused_in_spanish(&service, "POST", path, "", "{}");
        for (size_t c = 0; c < kind->column_count; c++) {
            const char *value = values[c % 5];
            if (kind->columns[c].type == KIND_TEXT)
                continue;
            snprintf(body, sizeof body, "{\"%s\": %s}", kind->columns[c].name, value);
            expect_refused_in_spanish(&service, "POST", path, grower, body);
        }
        snprintf(body, sizeof body, "{\"colour\": 1}");
        expect_refused_in_spanish(&service, "POST", path, grower, body);
        expect_refused_in_spanish(&service, "GET", strcat(path, "/no,such,key,at,all"), grower,
                                  NULL);
    }
    expect_refused_in_spanish(&service, "POST", "/api/v1/gauge", service.controller, "{}");
    expect_refused_in_spanish(&service, "POST", "/api/v1/gauge",
                              "Authorization: Bearer nothing\r\n", "{}");
    expect_refused_in_spanish(&service, "PUT", "/api/v1/gauge", grower, "{}");
    expect_refused_in_spanish(&service, "GET", "/api/v1/plan?zone=nowhere", "", NULL);
    expect_refused_in_spanish(&service, "GET", "/api/v1/plan?colour=red", "", NULL);
    expect_refused_in_spanish(&service, "GET", "/api/v1/zones/nowhere/due", "", NULL);
    expect_refused_in_spanish(&service, "GET", "/api/v1/blocks/nobody/working", "", NULL);
    expect_refused_in_spanish(&service, "GET", "/api/v1/sheets/999", "", NULL);
    expect_refused_in_spanish(&service, "GET", "/nowhere", "", NULL);
    expect_refused_in_spanish(&service, "GET", "/api/v1/plan", "Accept: text/html\r\n", NULL);
    expect_refused_in_spanish(&service, "GET", "/plan.txt", "Accept: image/png\r\n", NULL);
    /* the range as figures; English unless it is asked for */
    struct answer answer;
    char field[64];
    service_ask(&service, "POST", "/api/v1/gauge", grower,
                "{\"from\": \"2026-07-01T05:00:00Z\", \"to\": \"2026-07-01T06:00:00Z\", "
                "\"rain_mm\": 5000}",
                &answer);
    assert_string_equal(client_field(&answer, "Content-Language", field, sizeof field), "en");
    json_t *problem = document_of(&answer);
    assert_string_equal(text_of(problem, "detail"),
                        "5000 given, accepted is a number from 0 to 1000");
    check_near(json_number_value(json_object_get(problem, "accepted_min")), 0, 0, "least");
    check_near(json_number_value(json_object_get(problem, "accepted_max")), 1000, 0, "most");
    json_decref(problem);
    client_forget(&answer);
    free(grower);
    service_stop(&service);
}

static double item(const json_t *hours, const char *name, size_t i)
{
    const json_t *value = json_array_get(json_object_get(hours, name), i);
    if (!json_is_number(value))
        fail_msg("no number %zu of %s", i, name);
    return json_number_value(value);
}

/* Mass closes hour by hour, to the digits printed. */
static void assert_hours_close(const json_t *hours)
{
    size_t count = (size_t)json_integer_value(json_object_get(hours, "hours"));
    for (size_t h = 0; h < count; h++)
        check_near(item(hours, "water_l", h) + item(hours, "adjusted_l", h) +
                       item(hours, "in_l", h) + item(hours, "rain_l", h) - item(hours, "use_l", h) -
                       item(hours, "drained_l", h),
                   item(hours, "water_l", h + 1), 4e-4, text_of(hours, "block"));
    assert_int_equal(json_array_size(json_object_get(hours, "use_l")), count);
    assert_int_equal(json_string_length(json_object_get(hours, "weather")), count);
}

static void hours_of_every_block_are_the_plan_s_and_close(void **state)
{
    (void)state;
    struct service service = service_start();
    json_t *plan = wait_for_plan(&service);
    const json_t *blocks = json_object_get(plan, "blocks");
    for (size_t b = 0; b < json_array_size(blocks); b++) {
        char path[128];
        const json_t *block = json_array_get(blocks, b);
        snprintf(path, sizeof path, "/api/v1/blocks/%s/hours", text_of(block, "id"));
        json_t *hours = get(&service, path, "");
        size_t now = (size_t)json_integer_value(json_object_get(hours, "now"));
        assert_hours_close(hours);
        if (json_equal(json_object_get(hours, "made_at"), json_object_get(plan, "made_at"))) {
            check_near(item(hours, "water_l", now),
                       json_number_value(json_object_get(block, "water_l")), 0.0, "water now");
            check_near(item(hours, "air_pct", now),
                       json_number_value(json_object_get(block, "air_pct")), 0.0, "air now");
        }
        assert_true(item(hours, "from_l", 0) <= item(hours, "to_l", 0));
        json_decref(hours);
    }
    json_decref(plan);
    service_stop(&service);
}

/* Whole local days as asked, from the first thing known on. */
static void hours_span_the_days_asked_for(void **state)
{
    (void)state;
    struct service service = service_start();
    json_decref(wait_for_plan(&service));
    json_t *few = get(&service, "/api/v1/blocks/camellia-10l/hours?past_d=0&ahead_d=1", "");
    json_t *many = get(&service, "/api/v1/blocks/camellia-10l/hours?past_d=20", "");
    assert_in_range(json_integer_value(json_object_get(few, "hours")), 1, 50);
    assert_in_range(json_array_size(json_object_get(few, "days")), 1, 2);
    assert_true(json_integer_value(json_object_get(many, "hours")) >= 7 * 24);
    assert_true(json_integer_value(json_object_get(many, "start_s")) <=
                json_integer_value(json_object_get(few, "start_s")));
    assert_true(json_array_size(json_object_get(many, "runs")) >=
                json_array_size(json_object_get(few, "runs")));
    json_decref(few);
    json_decref(many);
    assert_refused(&service, "GET", "/api/v1/blocks/nobody/hours", "", NULL, 404, "path");
    assert_refused(&service, "GET", "/api/v1/blocks/camellia-10l/hours?past_d=21", "", NULL, 400,
                   "past_d");
    assert_refused(&service, "GET", "/api/v1/blocks/camellia-10l/hours?ahead_d=1.5", "", NULL, 400,
                   "ahead_d");
    assert_refused(&service, "GET", "/api/v1/blocks/camellia-10l/hours?days=1", "", NULL, 400,
                   "query");
    service_stop(&service);
}

static void predictions_are_sealed_and_a_dry_pot_is_held_against_the_plan(void **state)
{
    (void)state;
    struct service service = service_start();
    struct answer answer;
    char at[32];
    char body[256];
    char *cookie = service_sign_in(&service);
    json_decref(wait_for_plan(&service));
    assert_refused(&service, "POST", "/api/v1/predictions", "", "{\"blocks\": [\"olive-30l\"]}",
                   401, "Authorization");
    assert_refused(&service, "POST", "/api/v1/predictions", cookie, "{\"blocks\": []}", 422,
                   "blocks");
    assert_refused(&service, "POST", "/api/v1/predictions", cookie, "{\"blocks\": [\"nobody\"]}",
                   422, "blocks");
    service_ask(&service, "POST", "/api/v1/predictions", cookie,
                "{\"blocks\": [\"olive-30l\", \"camellia-10l\"]}", &answer);
    assert_int_equal(answer.status, 201);
    json_t *sealed = document_of(&answer);
    assert_int_equal(json_array_size(json_object_get(sealed, "items")), 2);
    assert_null(strstr(answer.body, "_l\"")); /* no figure is told */
    json_decref(sealed);
    client_forget(&answer);
    civil_format_rfc3339(clock_now_s(), 0, at);
    snprintf(
        body, sizeof body,
        "{\"block\": \"camellia-10l\", \"at\": \"%s\", \"place\": \"both\", \"feel\": \"dry\"}",
        at);
    assert_int_equal(service_status(&service, "POST", "/api/v1/touch_checks", cookie, body), 201);
    json_t *checks = get(&service, "/api/v1/checks", "");
    const json_t *lost = json_object_get(checks, "water_lost");
    assert_int_equal(json_array_size(json_object_get(lost, "open")), 2);
    assert_string_equal(text_of(lost, "do"), "weigh");
    const json_t *taps = json_object_get(json_object_get(checks, "thirst"), "items");
    assert_int_equal(json_array_size(taps), 1);
    assert_string_equal(text_of(json_array_get(taps, 0), "block"), "camellia-10l");
    assert_true(json_integer_value(json_object_get(json_array_get(taps, 0), "sealed_at_s")) <=
                json_integer_value(json_object_get(json_array_get(taps, 0), "said_at_s")));
    json_decref(checks);
    /* put right, and taken back, it is no longer held against the plan */
    char path[128];
    char fields[1024];
    snprintf(path, sizeof path, "/api/v1/touch_checks/camellia-10l,%s,both", at);
    snprintf(fields, sizeof fields, "%sIf-Match: *\r\n", cookie);
    static const struct {
        const char *method, *body;
        size_t taps;
    } changes[] = {{"PATCH", "{\"feel\": \"right\"}", 0},
                   {"PATCH", "{\"feel\": \"dry\"}", 1},
                   {"DELETE", NULL, 0}};
    for (size_t i = 0; i < sizeof changes / sizeof changes[0]; i++) {
        assert_in_range(service_status(&service, changes[i].method, path, fields, changes[i].body),
                        200, 204);
        checks = get(&service, "/api/v1/checks", "");
        taps = json_object_get(json_object_get(checks, "thirst"), "items");
        assert_int_equal(json_array_size(taps), changes[i].taps);
        json_decref(checks);
    }
    assert_int_equal(service_status(&service, "POST", "/api/v1/touch_checks", cookie, body), 201);
    char out[16384];
    assert_int_equal(service_command(&service, "", "checks", out, sizeof out), 0);
    assert_non_null(strstr(out, "4. WHEN IT NEEDS WATER"));
    assert_non_null(strstr(out, "camellia-10l"));
    assert_int_equal(service_command(&service, "", "checks --json", out, sizeof out), 0);
    assert_non_null(strstr(out, "\"water_lost\""));
    free(cookie);
    service_stop(&service);
}

static double water_of(const json_t *plan, const char *name)
{
    return json_number_value(
        json_object_get(json_array_get(json_object_get(plan, "blocks"), 0), name));
}

/* What the preview of a change warns of: one of these words, or NULL, nothing. */
static void expect_warnings(const struct service *service, const char *grower, const char *language,
                            const char *change, const char *words)
{
    struct answer answer;
    char fields[512];
    snprintf(fields, sizeof fields, "%s%s", grower, language);
    service_ask(service, "POST", "/api/v1/blocks/lavender-3l/preview", fields, change, &answer);
    json_t *preview = document_of(&answer);
    client_forget(&answer);
    const json_t *warnings = json_object_get(preview, "warnings");
    const json_t *after =
        json_array_get(json_object_get(json_object_get(preview, "after"), "blocks"), 0);
    const json_t *first = json_array_get(warnings, 0);
    assert_int_equal(json_array_size(warnings), words ? 1 : 0);
    assert_string_equal(text_of(first, "at"), text_of(after, "forgotten_at"));
    if (words && !strstr(text_of(first, "detail"), words))
        fail_msg("%s", text_of(first, "detail"));
    json_decref(preview);
}

static void preview_shows_the_change_and_saves_nothing(void **state)
{
    (void)state;
    struct service service = service_start();
    struct answer answer;
    char *grower = service_sign_in(&service);
    const char *path = "/api/v1/blocks/lavender-3l/preview";
    json_t *blocks = get(&service, "/api/v1/blocks/lavender-3l", "");
    service_ask(&service, "POST", path, grower, "{\"mix\": \"peat-fine\", \"batch\": null}",
                &answer);
    if (answer.status != 200)
        fail_msg("%d %s", answer.status, answer.body);
    json_t *preview = document_of(&answer);
    client_forget(&answer);
    const json_t *before = json_object_get(preview, "before");
    const json_t *after = json_object_get(preview, "after");
    assert_string_equal(text_of(json_array_get(json_object_get(before, "blocks"), 0), "mix"),
                        "bark-aged");
    assert_string_equal(text_of(json_array_get(json_object_get(after, "blocks"), 0), "mix"),
                        "peat-fine");
    assert_string_equal(text_of(json_object_get(preview, "state"), "mix"), "peat-fine");
    /* Fine peat holds more water and less air than aged bark in the same pot. */
    assert_true(water_of(after, "capacity_l") > water_of(before, "capacity_l"));
    assert_true(water_of(after, "air_at_capacity_pct") < water_of(before, "air_at_capacity_pct"));
    json_decref(preview);
    json_t *again = get(&service, "/api/v1/blocks/lavender-3l", "");
    assert_true(json_equal(blocks, again));
    json_decref(again);
    json_decref(blocks);
    json_t *audit = get(&service, "/api/v1/audit", grower);
    assert_string_not_equal(text_of(json_array_get(json_object_get(audit, "items"), 0), "who"),
                            "account ines");
    json_decref(audit);
    assert_refused(&service, "POST", path, grower, "{\"mix\": \"nothing\"}", 422, "mix");
    assert_refused(&service, "POST", path, grower, "{\"colour\": 1}", 422, "colour");
    assert_refused(&service, "POST", path, grower, "{\"block\": \"other\"}", 422, "block");
    assert_refused(&service, "POST", path, grower, "{\"pots\": -1}", 422, "pots");
    assert_refused(&service, "POST", path, grower, "[]", 422, "body");
    assert_refused(&service, "POST", path, "", "{}", 401, "Authorization");
    assert_refused(&service, "POST", path, service.controller, "{}", 403, "Authorization");
    assert_refused(&service, "POST", "/api/v1/blocks/nobody/preview", grower, "{}", 404, "path");
    assert_refused(&service, "GET", path, grower, NULL, 405, "method");
    free(grower);
    service_stop(&service);
}

/* With the pot or the mix goes what was weighed; a soak is something new to know. */
static void preview_warns_that_weighings_no_longer_count(void **state)
{
    (void)state;
    struct service service = service_start();
    char *grower = service_sign_in(&service);
    time_t before_s = time(NULL) - 2 * 86400;
    struct tm before;
    char body[160];
    expect_warnings(&service, grower, "", "{\"mix\": \"peat-fine\", \"batch\": null}", NULL);
    gmtime_r(&before_s, &before);
    strftime(body, sizeof body,
             "{\"block\": \"lavender-3l\", \"at\": \"%Y-%m-%dT%H:%M:%SZ\", "
             "\"capacity_kg\": 3.0, \"now_kg\": 2.7}",
             &before);
    assert_int_equal(service_status(&service, "POST", "/api/v1/weighings", grower, body), 201);
    expect_warnings(&service, grower, "", "{\"mix\": \"peat-fine\", \"batch\": null}",
                    "no longer counts");
    expect_warnings(&service, grower, "Accept-Language: es\r\n",
                    "{\"mix\": \"peat-fine\", \"batch\": null}", "ya no cuenta");
    expect_warnings(&service, grower, "", "{\"pots\": 900}", NULL);
    expect_warnings(&service, grower, "",
                    "{\"mix\": \"peat-fine\", \"batch\": null, \"potted\": true, "
                    "\"watered_in\": true}",
                    NULL);
    free(grower);
    service_stop(&service);
}

/* Every kind is described by its columns, whoever adds one. */
static void description_holds_every_kind(void **state)
{
    (void)state;
    struct service service = service_start();
    json_t *document = get(&service, "/api/v1/openapi.json", "");
    const json_t *paths = json_object_get(document, "paths");
    const json_t *schemas = json_object_get(json_object_get(document, "components"), "schemas");
    assert_string_equal(text_of(document, "openapi"), "3.1.0");
    assert_null(json_object_get(document, "x-each-kind"));
    for (int id = 0; id < KIND_COUNT; id++) {
        const struct kind *kind = kind_of((enum kind_id)id);
        const json_t *schema = json_object_get(schemas, kind->stem);
        const json_t *properties = json_object_get(schema, "properties");
        char path[128];
        snprintf(path, sizeof path, "/api/v1/%s/{key}", kind->stem);
        assert_non_null(json_object_get(json_object_get(paths, path), "delete"));
        for (size_t c = 0; c < kind->column_count; c++)
            assert_non_null(json_object_get(properties, kind->columns[c].name));
    }
    json_decref(document);
    json_decref(wait_for_plan(&service));
    assert_int_equal(service_status(&service, "GET", "/plan.txt", "", NULL), 200);
    assert_int_equal(service_status(&service, "GET", "/healthz", "", NULL), 200);
    service_stop(&service);
}

static void other_formats_say_the_same(void **state)
{
    (void)state;
    struct service service = service_start();
    struct answer answer;
    char value[128];
    json_t *plan = wait_for_plan(&service);
    size_t runs = 0;
    const json_t *days = json_object_get(plan, "days");
    for (size_t d = 0; d < json_array_size(days); d++)
        runs += json_array_size(json_object_get(json_array_get(days, d), "runs"));
    json_decref(plan);
    service_ask(&service, "GET", "/plan.ics", "", NULL, &answer);
    assert_int_equal(answer.status, 200);
    assert_string_equal(client_field(&answer, "Content-Type", value, sizeof value),
                        "text/calendar; charset=utf-8");
    size_t events = 0;
    for (const char *at = answer.body; (at = strstr(at, "BEGIN:VEVENT")); at++)
        events++;
    assert_int_equal(events, runs);
    client_forget(&answer);
    assert_int_equal(
        service_status(&service, "POST", "/api/v1/runs", service.controller, RUN("r-1", "120")),
        201);
    service_ask(&service, "GET", "/records.csv?from=2026-07-01&to=2026-07-01", "", NULL, &answer);
    assert_int_equal(answer.status, 200);
    assert_string_equal(
        answer.body, "record,zone,block,key,state,start,end,litres,capacity_kg,now_kg,rain_mm\r\n"
                     "run,bed-1,,r-1,metered,2026-07-01T06:00:00+01:00,"
                     "2026-07-01T06:30:00+01:00,120,,,\r\n");
    client_forget(&answer);
    assert_int_equal(service_status(&service, "GET", "/records.csv", "", NULL), 200);
    assert_refused(&service, "GET", "/records.csv?from=July", "", NULL, 400, "from");
    assert_refused(&service, "GET", "/records.csv?from=2026-07-02&to=2026-07-01", "", NULL, 400,
                   "from");
    assert_refused(&service, "GET", "/records.csv?from=2020-07-02", "", NULL, 400, "from");
    assert_refused(&service, "GET", "/api/v1/records.csv", "", NULL, 404, "path");
    assert_refused(&service, "GET", "/records.csv", service.controller, NULL, 403, "Authorization");
    assert_refused(&service, "GET", "/records.csv", "Accept: application/json\r\n", NULL, 406,
                   "Accept");
    service_ask(&service, "GET", "/metrics", "", NULL, &answer);
    assert_int_equal(answer.status, 200);
    static const char *const parts[] = {
        "perchd_answers_total{class=\"2xx\"} ", "\nperchd_zones_open ", "\nperchd_blocks 18\n",
        "\nperchd_notices{severity=\"act\"} ", "\nperchd_connections "};
    for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++)
        if (!strstr(answer.body, parts[i]))
            fail_msg("no '%s' in %s", parts[i], answer.body);
    assert_string_equal(answer.body + answer.length - 6, "# EOF\n");
    client_forget(&answer);
    service_stop(&service);
}

struct writer {
    const struct service *service;
    const char *grower;
    const char *path;
    const char *number;
    int done, tries;
};

/* Reads a number, adds one, writes it back, and begins anew when somebody was faster. */
static void *add_ones(void *argument)
{
    struct writer *writer = argument;
    while (writer->done < 20 && writer->tries++ < 2000) {
        struct answer answer;
        char tag[64];
        char fields[1024];
        char body[64];
        service_ask(writer->service, "GET", writer->path, writer->grower, NULL, &answer);
        json_t *block = document_of(&answer);
        snprintf(body, sizeof body, "{\"%s\": %lld}", writer->number,
                 (long long)json_integer_value(json_object_get(block, writer->number)) + 1);
        json_decref(block);
        client_field(&answer, "ETag", tag, sizeof tag);
        client_forget(&answer);
        snprintf(fields, sizeof fields, "%sIf-Match: %s\r\n", writer->grower, tag);
        writer->done += service_status(writer->service, "PATCH", writer->path, fields, body) == 200;
    }
    return NULL;
}

static void writers_racing_on_one_block_lose_nothing(void **state)
{
    (void)state;
    struct service service = service_start();
    char *grower = service_sign_in(&service);
    json_t *blocks = get(&service, "/api/v1/blocks", grower);
    json_t *first = json_array_get(json_object_get(blocks, "items"), 0);
    json_int_t pots = json_integer_value(json_object_get(first, "pots"));
    pthread_t threads[3];
    struct writer writers[3];
    for (size_t i = 0; i < 3; i++) {
        writers[i] = (struct writer){&service, grower, text_of(first, "self"), "pots", 0, 0};
        assert_int_equal(pthread_create(&threads[i], NULL, add_ones, &writers[i]), 0);
    }
    for (size_t i = 0; i < 3; i++) {
        pthread_join(threads[i], NULL);
        assert_int_equal(writers[i].done, 20);
    }
    json_t *after = get(&service, text_of(first, "self"), grower);
    assert_int_equal(json_integer_value(json_object_get(after, "pots")), pots + 60);
    json_decref(after);
    json_decref(blocks);
    free(grower);
    service_stop(&service);
}

static void due_is_short_and_says_what_the_plan_says(void **state)
{
    (void)state;
    struct service service = service_start();
    json_t *plan = wait_for_plan(&service);
    const json_t *zones = json_object_get(plan, "zones");
    json_t *all = get(&service, "/api/v1/due", service.controller);
    assert_int_equal(json_array_size(json_object_get(all, "items")), json_array_size(zones));
    json_decref(all);
    for (size_t z = 0; z < json_array_size(zones); z++) {
        const char *id = text_of(json_array_get(zones, z), "id");
        char path[128];
        struct answer answer;
        snprintf(path, sizeof path, "/api/v1/zones/%s/due", id);
        service_ask(&service, "GET", path, "", NULL, &answer);
        assert_int_equal(answer.status, 200);
        assert_in_range(answer.length, 100, 399);
        json_t *due = document_of(&answer);
        assert_string_equal(text_of(due, "zone"), id);
        assert_true(json_is_boolean(json_object_get(due, "open")));
        assert_true(number_of(due, "ask_again_at_s") > clock_now_s() - 60);
        assert_int_equal(number_of(due, "good_until_s"), number_of(plan, "good_until_s"));
        json_decref(due);
        client_forget(&answer);
    }
    assert_refused(&service, "GET", "/api/v1/zones/nowhere/due", "", NULL, 404, "path");
    assert_refused(&service, "GET", "/api/v1/zones//due", "", NULL, 404, "path");
    assert_refused(&service, "POST", "/api/v1/due", service.controller, "{}", 405, "method");
    assert_refused(&service, "GET", "/api/v1/due?zone=bed-1", "", NULL, 400, "query");
    json_decref(plan);
    service_stop(&service);
}

static void plan_is_narrowed_by_its_query(void **state)
{
    (void)state;
    struct service service = service_start();
    struct answer answer;
    char tag[64];
    char fields[128];
    json_decref(wait_for_plan(&service));
    json_t *plan = get(&service, "/api/v1/plan?zone=bed-1", "");
    const json_t *blocks = json_object_get(plan, "blocks");
    assert_true(json_array_size(blocks) > 0);
    for (size_t b = 0; b < json_array_size(blocks); b++)
        assert_string_equal(text_of(json_array_get(blocks, b), "zone"), "bed-1");
    assert_int_equal(json_array_size(json_object_get(plan, "zones")), 1);
    json_decref(plan);
    service_ask(&service, "GET", "/api/v1/plan?block=lavender-3l", "", NULL, &answer);
    assert_int_equal(answer.status, 200);
    client_field(&answer, "ETag", tag, sizeof tag);
    client_forget(&answer);
    snprintf(fields, sizeof fields, "If-None-Match: %s\r\n", tag);
    assert_int_equal(
        service_status(&service, "GET", "/api/v1/plan?block=lavender-3l", fields, NULL), 304);
    assert_int_equal(service_status(&service, "HEAD", "/api/v1/plan?zone=bed-1", "", NULL), 200);
    service_ask(&service, "GET", "/api/v1/plan?zone=bed-1", "Accept-Encoding: gzip\r\n", NULL,
                &answer);
    assert_int_equal(answer.status, 200);
    client_field(&answer, "Content-Encoding", tag, sizeof tag);
    assert_string_equal(tag, "gzip");
    client_forget(&answer);
    /* more than are kept, twice over: each answer is of its own question */
    plan = get(&service, "/api/v1/plan", "");
    blocks = json_object_get(plan, "blocks");
    assert_true(json_array_size(blocks) > 16);
    for (size_t i = 0; i < 2 * json_array_size(blocks); i++) {
        char path[96];
        const char *id = text_of(json_array_get(blocks, i % json_array_size(blocks)), "id");
        snprintf(path, sizeof path, "/api/v1/plan?block=%s", id);
        json_t *part = get(&service, path, "");
        assert_int_equal(json_array_size(json_object_get(part, "blocks")), 1);
        assert_string_equal(text_of(json_array_get(json_object_get(part, "blocks"), 0), "id"), id);
        json_decref(part);
    }
    json_decref(plan);
    assert_refused(&service, "GET", "/api/v1/plan?zone=nowhere", "", NULL, 404, "zone");
    assert_refused(&service, "GET", "/api/v1/plan?date=2001-01-01", "", NULL, 404, "date");
    assert_refused(&service, "GET", "/api/v1/plan?zone=bed-1&block=no", "", NULL, 404, "block");
    assert_refused(&service, "GET", "/api/v1/plan?days=3", "", NULL, 400, "query");
    assert_refused(&service, "GET", "/api/v1/plan?zone=", "", NULL, 400, "query");
    service_stop(&service);
}

/* A change is in the plan soon after, without waiting for the clock. */
static void changes_reach_the_plan(void **state)
{
    (void)state;
    struct service service = service_start();
    char *grower = service_sign_in(&service);
    char fields[1024];
    snprintf(fields, sizeof fields, "%sIf-Match: *\r\n", grower);
    assert_int_equal(service_status(&service, "PATCH", "/api/v1/zones/bed-1", fields,
                                    "{\"name\": \"Bed One, by the gate\"}"),
                     200);
    bool seen = false;
    for (int i = 0; i < 1500 && !seen; i++) {
        struct answer answer;
        service_ask(&service, "GET", "/api/v1/plan", "", NULL, &answer);
        seen = answer.status == 200 && strstr(answer.body, "Bed One, by the gate");
        client_forget(&answer);
        usleep(20000);
    }
    assert_true(seen);
    free(grower);
    service_stop(&service);
}

/* Reads of records are reads like any other: tags, HEAD, gzip. */
static void records_are_read_conditionally(void **state)
{
    (void)state;
    struct service service = service_start();
    static const char *const paths[] = {"/api/v1/zones", "/api/v1/zones/bed-1",
                                        "/api/v1/zones?limit=2", "/api/v1/blocks"};
    for (size_t i = 0; i < sizeof paths / sizeof paths[0]; i++) {
        struct answer answer;
        char tag[80];
        char length[32];
        char fields[128];
        service_ask(&service, "GET", paths[i], "", NULL, &answer);
        assert_int_equal(answer.status, 200);
        client_field(&answer, "ETag", tag, sizeof tag);
        client_field(&answer, "Content-Length", length, sizeof length);
        assert_true(tag[0] == '"');
        client_forget(&answer);
        char other[32];
        service_ask(&service, "HEAD", paths[i], "", NULL, &answer);
        assert_int_equal(answer.status, 200);
        assert_string_equal(client_field(&answer, "Content-Length", other, sizeof other), length);
        client_forget(&answer);
        snprintf(fields, sizeof fields, "If-None-Match: \"x\", %s\r\n", tag);
        assert_int_equal(service_status(&service, "GET", paths[i], fields, NULL), 304);
        assert_int_equal(service_status(&service, "HEAD", paths[i], fields, NULL), 304);
        assert_int_equal(
            service_status(&service, "GET", paths[i], "If-None-Match: \"x\"\r\n", NULL), 200);
    }
    service_stop(&service);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(post_run_again_gives_the_same_answer),
        cmocka_unit_test(post_run_of_another_key_but_the_same_times_is_refused),
        cmocka_unit_test(post_run_survives_a_kill_right_after_its_answer),
        cmocka_unit_test(post_run_again_after_a_correction_keeps_the_correction),
        cmocka_unit_test(put_run_corrects_with_the_tag_only),
        cmocka_unit_test(bodies_that_do_not_suit_are_refused_by_name),
        cmocka_unit_test(bodies_of_another_form_are_refused_unread),
        cmocka_unit_test(bodies_in_pieces_and_chunks_are_put_together),
        cmocka_unit_test(tokens_open_what_their_scope_says),
        cmocka_unit_test(tokens_that_are_none_are_refused_and_slowed_down),
        cmocka_unit_test(sessions_open_and_close_with_the_account),
        cmocka_unit_test(cookies_of_another_origin_change_nothing),
        cmocka_unit_test(secrets_are_neither_kept_nor_logged),
        cmocka_unit_test(access_from_the_command_line_is_in_the_audit),
        cmocka_unit_test(readings_are_kept_once_and_the_clock_is_watched),
        cmocka_unit_test(readings_that_cannot_be_are_refused_by_name),
        cmocka_unit_test(records_of_every_kind_read_and_write_back),
        cmocka_unit_test(records_a_block_is_sold_from_several_times_a_day),
        cmocka_unit_test(records_that_cannot_have_been_are_refused),
        cmocka_unit_test(records_are_added_changed_and_removed),
        cmocka_unit_test(records_that_others_need_are_not_removed),
        cmocka_unit_test(lists_come_in_pages_that_join),
        cmocka_unit_test(records_are_read_conditionally),
        cmocka_unit_test(working_adds_up_from_the_bench_to_the_valve),
        cmocka_unit_test(working_is_said_in_the_readers_language),
        cmocka_unit_test(refusals_are_said_in_the_readers_language),
        cmocka_unit_test(hours_of_every_block_are_the_plan_s_and_close),
        cmocka_unit_test(hours_span_the_days_asked_for),
        cmocka_unit_test(predictions_are_sealed_and_a_dry_pot_is_held_against_the_plan),
        cmocka_unit_test(preview_shows_the_change_and_saves_nothing),
        cmocka_unit_test(preview_warns_that_weighings_no_longer_count),
        cmocka_unit_test(description_holds_every_kind),
        cmocka_unit_test(other_formats_say_the_same),
        cmocka_unit_test(writers_racing_on_one_block_lose_nothing),
        cmocka_unit_test(due_is_short_and_says_what_the_plan_says),
        cmocka_unit_test(plan_is_narrowed_by_its_query),
        cmocka_unit_test(changes_reach_the_plan),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
