/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Who reaches the service and by which name: reading by sign-in, roles, and a proxy with TLS in
 * front that passes its own name or ours on. Real program, real sockets.
 */
#include "check.h"

#include <stdbool.h>
#include <stdio.h>
#include <unistd.h>

#include "service.h"

enum { WHO = 7, FIELDS = 700 };

/* Nobody, an account of each role, a token of each scope, and a token of nobody's. */
static const char *const names[WHO] = {"nobody",     "viewer",  "grower", "admin",
                                       "controller", "station", "forged"};

struct cast {
    struct service service;
    char fields[WHO][FIELDS];
};

static void sign_in(const struct service *service, const char *name, char fields[FIELDS])
{
    char body[128];
    char cookie[512];
    struct answer answer;
    snprintf(body, sizeof body, "{\"account\":\"%s\",\"password\":\"plants before pumps\"}", name);
    service_ask(service, "POST", "/api/v1/session", "", body, &answer);
    assert_int_equal(answer.status, 201);
    client_field(&answer, "Set-Cookie", cookie, sizeof cookie);
    client_forget(&answer);
    snprintf(fields, FIELDS, "Cookie: %.*s\r\nOrigin: http://localhost:%d\r\n",
             (int)strcspn(cookie, ";"), cookie, service->port);
}

static void wait_for_plan(const struct service *service, const char *fields)
{
    while (service_status(service, "GET", "/api/v1/plan", fields, NULL) == 503)
        usleep(20000);
}

static struct cast cast_start(const char *lines)
{
    struct cast cast = {.service = service_start_with(lines)};
    char words[64];
    char out[512];
    for (int i = 1; i <= 3; i++) {
        snprintf(words, sizeof words, "account add %s --role %s", names[i], names[i]);
        assert_int_equal(
            service_command(&cast.service, "plants before pumps", words, out, sizeof out), 0);
        sign_in(&cast.service, names[i], cast.fields[i]);
    }
    snprintf(cast.fields[4], FIELDS, "%s", cast.service.controller);
    snprintf(cast.fields[5], FIELDS, "%s", cast.service.station);
    snprintf(cast.fields[6], FIELDS,
             "Authorization: Bearer pt-000000000000-"
             "0000000000000000000000000000000000000000000000000000000000000000\r\n");
    wait_for_plan(&cast.service, cast.fields[1]);
    return cast;
}

struct row {
    const char *method, *path, *body;
    int status[WHO]; /* nobody viewer grower admin controller station forged */
};

static void expect_row(const struct cast *cast, const struct row *row)
{
    for (int i = 0; i < WHO; i++) {
        struct answer answer;
        char value[128];
        service_ask(&cast->service, row->method, row->path, cast->fields[i], row->body, &answer);
        /* Who presents wrong secrets all the time is told to wait, in the end. */
        bool slowed = row->status[i] == 401 && answer.status == 429 && i == WHO - 1;
        if (answer.status != row->status[i] && !slowed)
            fail_msg("%d instead of %d for %s %s by %s: %s", answer.status, row->status[i],
                     row->method, row->path, names[i], answer.body ? answer.body : "");
        client_field(&answer, "WWW-Authenticate", value, sizeof value);
        assert_string_equal(value, answer.status == 401 ? "Bearer realm=\"perchd\"" : "");
        client_forget(&answer);
    }
}

/* Another right is never more: what is forged is refused where it matters and passed over where
 * nobody asks. */
static void reading_open_lets_everybody_read(void **state)
{
    (void)state;
    static const struct row rows[] = {
        {"GET", "/", NULL, {200, 200, 200, 200, 200, 200, 200}},
        {"GET", "/healthz", NULL, {200, 200, 200, 200, 200, 200, 200}},
        {"GET", "/api/v1/plan", NULL, {200, 200, 200, 200, 200, 200, 200}},
        {"GET", "/api/v1/due", NULL, {200, 200, 200, 200, 200, 200, 200}},
        {"GET", "/api/v1/blocks", NULL, {200, 200, 200, 200, 403, 403, 401}},
        {"GET", "/records.csv", NULL, {200, 200, 200, 200, 403, 403, 401}},
        {"GET", "/api/v1/audit", NULL, {401, 403, 200, 200, 403, 403, 401}},
        {"GET", "/api/v1/session", NULL, {200, 200, 200, 200, 200, 200, 401}},
        {"POST", "/api/v1/mixes", "{}", {401, 403, 422, 422, 403, 403, 401}},
        {"POST", "/api/v1/runs", "{}", {401, 403, 422, 422, 422, 403, 401}},
    };
    struct cast cast = cast_start("");
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        expect_row(&cast, &rows[i]);
    service_stop(&cast.service);
}

static void reading_by_sign_in_opens_the_page_only(void **state)
{
    (void)state;
    static const struct row rows[] = {
        /* what one needs in order to sign in, and to see that the service lives */
        {"GET", "/", NULL, {200, 200, 200, 200, 200, 200, 200}},
        {"GET", "/page.js", NULL, {200, 200, 200, 200, 200, 200, 200}},
        {"GET", "/healthz", NULL, {200, 200, 200, 200, 200, 200, 200}},
        {"GET", "/api/v1/openapi.json", NULL, {200, 200, 200, 200, 200, 200, 200}},
        {"GET", "/api/v1/session", NULL, {200, 200, 200, 200, 200, 200, 401}},
        /* the plan, in every form */
        {"GET", "/api/v1/plan", NULL, {401, 200, 200, 200, 200, 403, 401}},
        {"HEAD", "/api/v1/plan", NULL, {401, 200, 200, 200, 200, 403, 401}},
        {"GET", "/api/v1/plan?zone=bed-1", NULL, {401, 200, 200, 200, 200, 403, 401}},
        {"GET", "/api/v1/due", NULL, {401, 200, 200, 200, 200, 403, 401}},
        {"GET", "/api/v1/zones/bed-1/due", NULL, {401, 200, 200, 200, 200, 403, 401}},
        {"GET", "/plan.txt", NULL, {401, 200, 200, 200, 200, 403, 401}},
        {"GET", "/plan.ics", NULL, {401, 200, 200, 200, 200, 403, 401}},
        {"GET", "/metrics", NULL, {401, 200, 200, 200, 200, 403, 401}},
        /* records */
        {"GET", "/api/v1/blocks", NULL, {401, 200, 200, 200, 403, 403, 401}},
        {"GET", "/records.csv", NULL, {401, 200, 200, 200, 403, 403, 401}},
        {"GET", "/api/v1/blocks/lavender-3l/working", NULL, {401, 200, 200, 200, 403, 403, 401}},
        {"GET", "/api/v1/audit", NULL, {401, 403, 200, 200, 403, 403, 401}},
        {"POST", "/api/v1/runs", "{}", {401, 403, 422, 422, 422, 403, 401}},
    };
    struct cast cast = cast_start("reading = sign-in\n");
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        expect_row(&cast, &rows[i]);
    service_stop(&cast.service);
}

/* Conditions, codings and one connection for many hold behind the gate too. */
static void reading_by_sign_in_is_reading_like_any_other(void **state)
{
    (void)state;
    struct cast cast = cast_start("reading = sign-in\n");
    struct answer answer;
    char tag[80];
    char request[2048];
    service_ask(&cast.service, "GET", "/plan.txt", cast.fields[1], NULL, &answer);
    client_field(&answer, "ETag", tag, sizeof tag);
    client_forget(&answer);
    int n = snprintf(request, sizeof request,
                     "GET /plan.txt HTTP/1.1\r\nHost: localhost:%d\r\n%sIf-None-Match: %s\r\n\r\n"
                     "GET /plan.txt HTTP/1.1\r\nHost: localhost:%d\r\n\r\n"
                     "GET /plan.txt HTTP/1.1\r\nHost: localhost:%d\r\n%sAccept-Encoding: gzip\r\n"
                     "\r\n",
                     cast.service.port, cast.fields[1], tag, cast.service.port, cast.service.port,
                     cast.fields[1]);
    int fd = client_dial(cast.service.port);
    assert_true(client_send(fd, request, (size_t)n));
    client_read(fd, &answer, false);
    assert_int_equal(answer.status, 304);
    client_forget(&answer);
    client_read(fd, &answer, false); /* whoever passed on this line before is not this one */
    assert_int_equal(answer.status, 401);
    client_forget(&answer);
    client_read(fd, &answer, false);
    assert_int_equal(answer.status, 200);
    client_field(&answer, "Content-Encoding", tag, sizeof tag);
    assert_string_equal(tag, "gzip");
    client_forget(&answer);
    close(fd);
    service_stop(&cast.service);
}

static void reading_by_sign_in_ends_with_the_account_and_the_token(void **state)
{
    (void)state;
    struct cast cast = cast_start("reading = sign-in\n");
    char out[256];
    assert_int_equal(service_command(&cast.service, "", "account disable viewer", out, sizeof out),
                     0);
    assert_int_equal(service_status(&cast.service, "GET", "/api/v1/plan", cast.fields[1], NULL),
                     401);
    assert_int_equal(service_command(&cast.service, "", "token revoke gate", out, sizeof out), 0);
    assert_int_equal(service_status(&cast.service, "GET", "/api/v1/due", cast.fields[4], NULL),
                     401);
    assert_int_equal(service_status(&cast.service, "GET", "/api/v1/plan", cast.fields[2], NULL),
                     200);
    assert_int_equal(
        service_status(&cast.service, "DELETE", "/api/v1/session", cast.fields[2], NULL), 204);
    assert_int_equal(service_status(&cast.service, "GET", "/api/v1/plan", cast.fields[2], NULL),
                     401);
    service_stop(&cast.service);
}

/* --- behind a proxy ----------------------------------------------------------------------- */

/* What a proxy that ends TLS at https://plan.nursery.example sends on. */
#define PASSED_ON                                                                                  \
    "X-Forwarded-For: 203.0.113.9\r\nX-Forwarded-Proto: https\r\n"                                 \
    "X-Forwarded-Host: plan.nursery.example\r\nForwarded: for=203.0.113.9;proto=https\r\n"         \
    "Via: 1.1 proxy\r\n"

static void ask_as(const struct service *service, const char *host, const char *method,
                   const char *path, const char *fields, const char *body, struct answer *answer)
{
    char request[4096];
    int n = snprintf(request, sizeof request, "%s %s HTTP/1.1\r\nHost: %s\r\n" PASSED_ON "%s",
                     method, path, host, fields);
    if (body)
        n += snprintf(request + n, sizeof request - (size_t)n,
                      "Content-Type: application/json\r\nContent-Length: %zu\r\n", strlen(body));
    n += snprintf(request + n, sizeof request - (size_t)n, "\r\n%s", body ? body : "");
    int fd = client_dial(service->port);
    client_send(fd, request, (size_t)n);
    client_read(fd, answer, false);
    close(fd);
}

static int status_as(const struct service *service, const char *host, const char *method,
                     const char *path, const char *fields, const char *body)
{
    struct answer answer;
    ask_as(service, host, method, path, fields, body, &answer);
    client_forget(&answer);
    return answer.status;
}

/* A browser's day behind it: the page, signing in, writing, reading back. */
static void use_through_proxy(const struct service *service, const char *host, const char *mix)
{
    static const char origin[] = "Origin: https://plan.nursery.example\r\n";
    static const char sign_in_body[] =
        "{\"account\":\"ines\",\"password\":\"plants before pumps\"}";
    struct answer answer;
    char cookie[512];
    char fields[FIELDS];
    char body[64];
    assert_int_equal(status_as(service, host, "GET", "/", "", NULL), 200);
    ask_as(service, host, "POST", "/api/v1/session", origin, sign_in_body, &answer);
    assert_int_equal(answer.status, 201);
    client_field(&answer, "Set-Cookie", cookie, sizeof cookie);
    client_forget(&answer);
    assert_non_null(strstr(cookie, "; HttpOnly; SameSite=Strict; Secure"));
    snprintf(fields, sizeof fields, "Cookie: %.*s\r\n%s", (int)strcspn(cookie, ";"), cookie,
             origin);
    snprintf(body, sizeof body, "{\"mix\":\"%s\",\"class\":\"peat\"}", mix);
    assert_int_equal(status_as(service, host, "POST", "/api/v1/mixes", fields, body), 201);
    assert_int_equal(status_as(service, host, "GET", "/api/v1/audit", fields, NULL), 200);
    /* a page that came to the same name without TLS, or from elsewhere, writes nothing */
    static const char *const others[] = {"http://plan.nursery.example", "https://evil.example",
                                         "null", "https://plan.nursery.example:8443"};
    for (size_t i = 0; i < sizeof others / sizeof others[0]; i++) {
        snprintf(fields, sizeof fields, "Cookie: %.*s\r\nOrigin: %s\r\n", (int)strcspn(cookie, ";"),
                 cookie, others[i]);
        if (status_as(service, host, "POST", "/api/v1/mixes", fields, body) != 403)
            fail_msg("Origin %s", others[i]);
    }
}

static void proxies_pass_their_name_or_ours(void **state)
{
    (void)state;
    struct service service = service_start_with("host_names = https://plan.nursery.example\n");
    char ours[64];
    use_through_proxy(&service, "plan.nursery.example", "m-1");
    snprintf(ours, sizeof ours, "localhost:%d", service.port);
    use_through_proxy(&service, ours, "m-2");
    service_stop(&service);
}

/* What a proxy says of itself is said by anybody: it opens no name, and a cookie is Secure by the
 * page's own Origin only. */
static void forwarded_fields_are_not_believed(void **state)
{
    (void)state;
    static const char body[] = "{\"account\":\"ines\",\"password\":\"plants before pumps\"}";
    struct service service = service_start();
    struct answer answer;
    char cookie[512];
    char ours[64];
    snprintf(ours, sizeof ours, "localhost:%d", service.port);
    assert_int_equal(status_as(&service, "plan.nursery.example", "GET", "/", "", NULL), 421);
    assert_int_equal(status_as(&service, ours, "POST", "/api/v1/session",
                               "Origin: https://plan.nursery.example\r\n", body),
                     403);
    ask_as(&service, ours, "POST", "/api/v1/session", "", body, &answer);
    assert_int_equal(answer.status, 201);
    client_field(&answer, "Set-Cookie", cookie, sizeof cookie);
    client_forget(&answer);
    assert_null(strstr(cookie, "Secure"));
    service_stop(&service);
}

static void other_names_answer_on_plain_http(void **state)
{
    (void)state;
    struct service service = service_start_with("host_names = box.lan, gate.lan:8080\n");
    char with_port[64];
    snprintf(with_port, sizeof with_port, "box.lan:%d", service.port);
    assert_int_equal(status_as(&service, "box.lan", "GET", "/healthz", "", NULL), 200);
    assert_int_equal(status_as(&service, with_port, "GET", "/healthz", "", NULL), 200);
    assert_int_equal(status_as(&service, "gate.lan:8080", "GET", "/healthz", "", NULL), 200);
    assert_int_equal(status_as(&service, "gate.lan", "GET", "/healthz", "", NULL), 421);
    assert_int_equal(status_as(&service, "other.lan", "GET", "/healthz", "", NULL), 421);
    service_stop(&service);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reading_open_lets_everybody_read),
        cmocka_unit_test(reading_by_sign_in_opens_the_page_only),
        cmocka_unit_test(reading_by_sign_in_is_reading_like_any_other),
        cmocka_unit_test(reading_by_sign_in_ends_with_the_account_and_the_token),
        cmocka_unit_test(proxies_pass_their_name_or_ours),
        cmocka_unit_test(forwarded_fields_are_not_believed),
        cmocka_unit_test(other_names_answer_on_plain_http),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
