/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What nobody should send, sent to the real program: every case is answered as its row says, or the
 * connection is closed, and the program goes on answering others. Prints how many cases had which
 * outcome.
 */
#include "check.h"

#include <stdbool.h>
#include <stdio.h>
#include <signal.h>
#include <unistd.h>

#include "service.h"

enum { CLOSED = 0 };

static int outcomes[600];

/* In a request: @ host and port, ^C the controller's field, ^S the station's, ^G a signed-in
 * grower's fields, ^K the grower's cookie alone. */
static char *fill(const struct service *service, const char *grower, const char *request)
{
    size_t size = strlen(request) + 4096;
    char *text = calloc(1, size);
    size_t used = 0;
    assert_non_null(text);
    for (const char *c = request; *c; c++) {
        const char *piece = NULL;
        char host[32];
        int length = -1;
        snprintf(host, sizeof host, "localhost:%d", service->port);
        if (*c == '@')
            piece = host;
        else if (*c == '^' && c[1] == 'C')
            piece = service->controller;
        else if (*c == '^' && c[1] == 'S')
            piece = service->station;
        else if (*c == '^' && c[1] == 'G')
            piece = grower;
        else if (*c == '^' && c[1] == 'K') {
            piece = grower;
            length = (int)strcspn(grower, "\r") + 2;
        }
        if (*c == '^' && piece)
            c++;
        if (piece)
            used += (size_t)snprintf(text + used, size - used, "%.*s",
                                     length < 0 ? (int)strlen(piece) : length, piece);
        else
            text[used++] = *c;
        assert_true(used + 1024 < size);
    }
    return text;
}

static int status_of_bytes(const struct service *service, const char *bytes, size_t length,
                           bool head)
{
    struct answer answer;
    int fd = client_dial(service->port);
    client_send(fd, bytes, length);
    client_read(fd, &answer, head);
    client_forget(&answer);
    close(fd);
    return answer.status;
}

static void expect(const struct service *service, const char *grower, const char *request,
                   int status)
{
    char *text = fill(service, grower, request);
    int got = status_of_bytes(service, text, strlen(text), strncmp(text, "HEAD ", 5) == 0);
    if (got != status)
        fail_msg("%d instead of %d for\n%.400s", got, status, text);
    outcomes[got]++;
    free(text);
    assert_int_equal(service_status(service, "GET", "/healthz", "", NULL), 200);
}

struct row {
    const char *request;
    int status;
};

static void expect_all(const struct row *rows, size_t count)
{
    struct service service = service_start();
    char *grower = service_sign_in(&service);
    for (size_t i = 0; i < count; i++)
        expect(&service, grower, rows[i].request, rows[i].status);
    free(grower);
    service_stop(&service);
}

#define EXPECT_ALL(rows) expect_all((rows), sizeof(rows) / sizeof((rows)[0]))

static void methods_that_an_address_does_not_have(void **state)
{
    (void)state;
    static const char *const methods[] = {"GET",      "HEAD",   "POST",    "PUT",
                                          "PATCH",    "DELETE", "OPTIONS", "TRACE",
                                          "PROPFIND", "get",    "X-1",     "CONNECT"};
    static const struct {
        const char *path, *allowed;
    } paths[] = {
        {"/", "GET HEAD "},
        {"/plan.txt", "GET HEAD "},
        {"/plan.ics", "GET HEAD "},
        {"/metrics", "GET HEAD "},
        {"/healthz", "GET HEAD "},
        {"/api/v1/due", "GET HEAD "},
        {"/api/v1/openapi.json", "GET HEAD "},
        {"/api/v1/weather/readings", "POST "},
        {"/api/v1/session", "GET HEAD POST DELETE "},
        {"/api/v1/blocks", "GET HEAD POST "},
        {"/api/v1/blocks/a,2026-01-01", "GET HEAD PUT PATCH DELETE "},
        {"/api/v1/blocks/a/preview", "POST "},
    };
    struct service service = service_start();
    for (size_t p = 0; p < sizeof paths / sizeof paths[0]; p++)
        for (size_t m = 0; m < sizeof methods / sizeof methods[0]; m++) {
            char request[256];
            char word[16];
            snprintf(word, sizeof word, "%s ", methods[m]);
            if (strstr(paths[p].allowed, word))
                continue;
            snprintf(request, sizeof request, "%s %s HTTP/1.1\r\nHost: @\r\n\r\n", methods[m],
                     paths[p].path);
            expect(&service, "", request, 405);
        }
    service_stop(&service);
}

static void paths_that_lead_nowhere(void **state)
{
    (void)state;
    static const char *const paths[] = {
        "/api",
        "/api/",
        "/api/v1",
        "/api/v1/",
        "/api/v2/plan",
        "/API/v1/plan",
        "/api/v1/plan/",
        "/api/v1//plan",
        "/api/v1/zones/",
        "/api/v1/zones/a/b",
        "/api/v1/zones/bed-1/due/",
        "/api/v1/zones/bed-1/DUE",
        "/api/v1/zone",
        "/api/v1/tokens",
        "/api/v1/token",
        "/api/v1/account",
        "/api/v1/sqlite_master",
        "/api/v1/weather",
        "/api/v1/weather/readings/1",
        "/api/v1/../../etc/passwd",
        "/api/v1/%2e%2e/%2e%2e/etc/passwd",
        "/../records.sqlite",
        "/records.sqlite",
        "/.git/config",
        "/%2e%67it/config",
        "/index.html%2f",
        "/app.js%20",
        "/api/v1/zones/bed-1%2fdue%2f",
        "/api/v1/plan;x=1",
        "//",
        "/\\..\\..",
        "/api/v1/zones/%ff",
        "/api/v1/zones/bed-1'%20or%201=1--",
        "/api/v1/runs/%F0%9F%92%A7",
        "/api/v1/blocks/x,2026-13-01",
        "/api/v1/blocks/a,b,c,d",
        "/api/v1/normals/13",
        "/api/v1/normals/1.5",
        "/api/v1/weighings/a,nonsense",
    };
    struct service service = service_start();
    for (size_t i = 0; i < sizeof paths / sizeof paths[0]; i++) {
        char request[256];
        snprintf(request, sizeof request, "GET %s HTTP/1.1\r\nHost: @\r\n\r\n", paths[i]);
        expect(&service, "", request, 404);
    }
    service_stop(&service);
}

/* What two readers on the way could take for different requests. */
static void framing_that_can_be_read_in_two_ways(void **state)
{
    (void)state;
#define POST    "POST /api/v1/runs HTTP/1.1\r\nHost: @\r\n^CContent-Type: application/json\r\n"
#define SMUGGLE "GET /healthz HTTP/1.1\r\nHost: @\r\n\r\n"
    static const struct row rows[] = {
        {POST "Content-Length: 2\r\nContent-Length: 3\r\n\r\n{}", 400},
        {POST "Content-Length: 2\r\nContent-Length: 2\r\n\r\n{}", 400},
        {POST "Content-Length: 2\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n" SMUGGLE, 400},
        {POST "Transfer-Encoding: chunked\r\nContent-Length: 44\r\n\r\n0\r\n\r\n" SMUGGLE, 400},
        {POST "Transfer-Encoding: gzip, chunked\r\n\r\n0\r\n\r\n", 501},
        {POST "Transfer-Encoding: chunked, chunked\r\n\r\n0\r\n\r\n", 501},
        {POST "Transfer-Encoding: chunked\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n", 501},
        {POST "Transfer-Encoding: identity\r\n\r\n{}", 501},
        {POST "Transfer-Encoding: xchunked\r\n\r\n{}", 501},
        {POST "Content-Length: -1\r\n\r\n", 400},
        {POST "Content-Length: +2\r\n\r\n{}", 400},
        {POST "Content-Length: two\r\n\r\n{}", 400},
        {POST "Content-Length: 2,2\r\n\r\n{}", 400},
        {POST "Content-Length: 99999999999999999999999\r\n\r\n{}", 413},
        {POST "Content-Length: 65537\r\n\r\n", 413},
        {POST "Transfer-Encoding: chunked\r\n\r\nzz\r\n{}\r\n0\r\n\r\n", 400},
        {POST "Transfer-Encoding: chunked\r\n\r\nFFFFFFFFFFFFFFFFF\r\n", 413},
        {POST "Content-Length : 2\r\n\r\n{}", 400},
        {POST "Transfer Encoding: chunked\r\n\r\n", 400},
        {"GET /healthz HTTP/1.1\r\n\r\n", 400},
        {"GET /healthz HTTP/1.1\r\nHost: @\r\nHost: @\r\n\r\n", 400},
        {"GET /healthz HTTP/1.1\r\nHost: @\r\nHost: evil.example\r\n\r\n", 400},
        {"GET /healthz HTTP/1.1\r\nHost: evil.example\r\n\r\n", 421},
        {"GET /healthz HTTP/1.1\r\nHost: localhost\r\n\r\n", 421},
        {"GET /healthz HTTP/1.1\r\nHost: localhost:1\r\n\r\n", 421},
        {"GET /healthz HTTP/1.1\r\nHost: \r\n\r\n", 421},
        {"GET /healthz HTTP/1.1\r\nHost: 127.0.0.1.evil.example\r\n\r\n", 421},
        {"GET http://evil.example/healthz HTTP/1.1\r\nHost: @\r\n\r\n", 421},
        {"GET http://@/healthz HTTP/1.1\r\nHost: @\r\n\r\n", 200},
        {"GET /api/v1/plan%00 HTTP/1.1\r\nHost: @\r\n\r\n", 400},
        {"GET /healthz HTTP/2.0\r\nHost: @\r\n\r\n", 505},
        {"GET /healthz HTTP/0.9\r\nHost: @\r\n\r\n", 505},
        {"\x16\x03\x01\x02\x01\x01\xfc\x03\x03 hello over TLS\r\n\r\n", 400},
        {"GET\r\n\r\n", CLOSED},
        {"SSH-2.0-client\r\n\r\n", CLOSED},
        {"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n", 505},
    };
    EXPECT_ALL(rows);
}

static void requests_too_long_in_any_part(void **state)
{
    (void)state;
    struct service service = service_start();
    while (service_status(&service, "GET", "/api/v1/due", "", NULL) == 503)
        usleep(20000); /* no plan yet */
    char *request = calloc(1, 40000);
    char *x = calloc(1, 30001);
    memset(x, 'x', 30000);
    static const struct {
        const char *before, *after; /* around so many x */
        int length, status;
    } rows[] = {
        {"GET /", " HTTP/1.1\r\nHost: @\r\n\r\n", 20000, 414},
        {"GET /", " HTTP/1.1\r\nHost: @\r\n\r\n", 2000, 404},
        {"GET /api/v1/runs?after=", " HTTP/1.1\r\nHost: @\r\n\r\n", 2000, 400},
        {"GET /healthz HTTP/1.1\r\nHost: @\r\nCookie: ", "\r\n\r\n", 20000, 431},
        {"GET /healthz HTTP/1.1\r\nHost: @\r\n", ": x\r\n\r\n", 20000, 431},
        {"GET /api/v1/audit HTTP/1.1\r\nHost: @\r\nAuthorization: Bearer ", "\r\n\r\n", 4000, 401},
        {"GET /api/v1/audit HTTP/1.1\r\nHost: @\r\nCookie: perchd_session=", "\r\n\r\n", 1000, 401},
        {"", " /healthz HTTP/1.1\r\nHost: @\r\n\r\n", 2000, 405},
        {"GET /api/v1/zones/", "/due HTTP/1.1\r\nHost: @\r\n\r\n", 3000, 404},
        {"GET /api/v1/zones/", " HTTP/1.1\r\nHost: @\r\n\r\n", 3000, 404},
        {"GET /api/v1/runs HTTP/1.1\r\nHost: @\r\nIf-None-Match: \"", "\"\r\n\r\n", 5000, 200},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        snprintf(request, 40000, "%s%.*s%s", rows[i].before, rows[i].length, x, rows[i].after);
        char *text = fill(&service, "", request);
        int got = status_of_bytes(&service, text, strlen(text), false);
        if (got != rows[i].status)
            fail_msg("%d instead of %d for %.60s", got, rows[i].status, text);
        outcomes[got]++;
        free(text);
        assert_int_equal(service_status(&service, "GET", "/healthz", "", NULL), 200);
    }
    free(request);
    free(x);
    service_stop(&service);
}

/* Bytes that are no text: NULs, controls and broken UTF-8 in every part. */
static void bytes_that_are_no_text(void **state)
{
    (void)state;
    struct service service = service_start();
    static const struct {
        const char *bytes;
        size_t length;
        int status;
    } rows[] = {
#define BYTES(text, status) {(text), sizeof(text) - 1, (status)}
        BYTES("\0\0\0\0\r\n\r\n", CLOSED),
        BYTES("\xff\xfe\xfd\r\n\r\n", CLOSED),
        BYTES("\x80\x2e\x01\x00\x02\r\n\r\n", CLOSED),
        BYTES("\r\n\r\n\r\n\r\nnonsense\r\n\r\n", CLOSED),
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        int got = status_of_bytes(&service, rows[i].bytes, rows[i].length, false);
        if (got != rows[i].status)
            fail_msg("row %zu: %d", i, got);
        outcomes[got]++;
        assert_int_equal(service_status(&service, "GET", "/healthz", "", NULL), 200);
    }
    /* What the library lets pass, as docs/operating.md says: lines that end with a line feed alone,
     * and a NUL that ends a field's value early, which never makes more of it than it was. */
    static const struct {
        const char *before, *after;
        int status;
    } let_through[] = {
        {"GET /healthz HTTP/1.1\nHost: ", "\n\n", 200},
        {"GET /healthz HTTP/1.1\r\nHost: ", "\r\nX-Nul: a^b\r\n\r\n", 200},
        {"GET /healthz HTTP/1.1\r\nHost: ", "^.evil.example\r\n\r\n", 200},
        {"GET /api/v1/audit HTTP/1.1\r\nHost: ", "\r\nAuthorization: Bearer ^x\r\n\r\n", 401},
        {"GET /api/v1/audit HTTP/1.1\r\nHost: ", "\r\nCookie: perchd_session=^x\r\n\r\n", 401},
    };
    for (size_t i = 0; i < sizeof let_through / sizeof let_through[0]; i++) {
        char text[400];
        int n = snprintf(text, sizeof text, "%slocalhost:%d%s", let_through[i].before, service.port,
                         let_through[i].after);
        char *nul = memchr(text, '^', (size_t)n);
        if (nul)
            *nul = '\0';
        int got = status_of_bytes(&service, text, (size_t)n, false);
        if (got != let_through[i].status)
            fail_msg("%d instead of %d in row %zu", got, let_through[i].status, i);
        outcomes[got]++;
    }
    uint64_t seed = 6;
    for (int i = 0; i < 30; i++) { /* noise: any refusal or a closed line, never a hang */
        char noise[400];
        for (size_t n = 0; n < sizeof noise; n++)
            noise[n] = (char)(unsigned char)check_between(&seed, 0, 256);
        memcpy(noise + sizeof noise - 4, "\r\n\r\n", 4);
        int got = status_of_bytes(&service, noise, sizeof noise, false);
        assert_true(got == CLOSED || got >= 400);
        outcomes[got]++;
    }
    assert_int_equal(service_status(&service, "GET", "/healthz", "", NULL), 200);
    service_stop(&service);
}

static void people_and_devices_out_of_their_place(void **state)
{
    (void)state;
#define BODY(text) "Content-Type: application/json\r\nContent-Length: 2\r\n\r\n" text
    static const struct row rows[] = {
        /* devices beyond their scope */
        {"GET /api/v1/blocks HTTP/1.1\r\nHost: @\r\n^C\r\n", 403},
        {"GET /api/v1/runs HTTP/1.1\r\nHost: @\r\n^C\r\n", 403},
        {"GET /api/v1/audit HTTP/1.1\r\nHost: @\r\n^C\r\n", 403},
        {"GET /api/v1/blocks/lavender-3l/working HTTP/1.1\r\nHost: @\r\n^C\r\n", 403},
        {"GET /records.csv HTTP/1.1\r\nHost: @\r\n^S\r\n", 403},
        {"GET /api/v1/runs/r-1 HTTP/1.1\r\nHost: @\r\n^S\r\n", 403},
        {"POST /api/v1/holds HTTP/1.1\r\nHost: @\r\n^C" BODY("{}"), 403},
        {"POST /api/v1/orders HTTP/1.1\r\nHost: @\r\n^C" BODY("{}"), 403},
        {"POST /api/v1/blocks HTTP/1.1\r\nHost: @\r\n^S" BODY("{}"), 403},
        {"POST /api/v1/runs HTTP/1.1\r\nHost: @\r\n^S" BODY("{}"), 403},
        {"POST /api/v1/weather/readings HTTP/1.1\r\nHost: @\r\n^C" BODY("[]"), 403},
        {"POST /api/v1/blocks/lavender-3l/preview HTTP/1.1\r\nHost: @\r\n^C" BODY("{}"), 403},
        {"PUT /api/v1/zones/bed-1 HTTP/1.1\r\nHost: @\r\nIf-Match: *\r\n^C" BODY("{}"), 403},
        {"PATCH /api/v1/zones/bed-1 HTTP/1.1\r\nHost: @\r\nIf-Match: *\r\n^S" BODY("{}"), 403},
        {"DELETE /api/v1/zones/bed-1 HTTP/1.1\r\nHost: @\r\nIf-Match: *\r\n^C\r\n", 403},
        {"DELETE /api/v1/runs/r-1 HTTP/1.1\r\nHost: @\r\nIf-Match: *\r\n^C\r\n", 403},
        /* nobody */
        {"POST /api/v1/mixes HTTP/1.1\r\nHost: @\r\n" BODY("{}"), 401},
        {"POST /api/v1/holds HTTP/1.1\r\nHost: @\r\n" BODY("{}"), 401},
        {"PUT /api/v1/zones/bed-1 HTTP/1.1\r\nHost: @\r\nIf-Match: *\r\n" BODY("{}"), 401},
        {"PATCH /api/v1/zones/bed-1 HTTP/1.1\r\nHost: @\r\nIf-Match: *\r\n" BODY("{}"), 401},
        {"DELETE /api/v1/zones/bed-1 HTTP/1.1\r\nHost: @\r\nIf-Match: *\r\n\r\n", 401},
        {"POST /api/v1/blocks/lavender-3l/preview HTTP/1.1\r\nHost: @\r\n" BODY("{}"), 401},
        /* cookies: forged, cut, doubled, in the wrong place */
        {"GET /api/v1/audit HTTP/1.1\r\nHost: @\r\nCookie: perchd_session=\r\n\r\n", 401},
        {"GET /api/v1/audit HTTP/1.1\r\nHost: @\r\nCookie: perchd_session=ps-1\r\n\r\n", 401},
        {"GET /api/v1/audit HTTP/1.1\r\nHost: @\r\nCookie: perchd_session=ps-000000000000-"
         "0000000000000000000000000000000000000000000000000000000000000000\r\n\r\n",
         401},
        {"GET /api/v1/audit HTTP/1.1\r\nHost: @\r\nCookie: PERCHD_SESSION=x; a=b;;; c\r\n\r\n",
         401},
        {"GET /api/v1/audit HTTP/1.1\r\nHost: @\r\nCookie: a=b\r\nCookie: c=d\r\n\r\n", 400},
        {"GET /api/v1/audit?^K HTTP/1.1\r\nHost: @\r\n\r\n", 400},
        {"GET /api/v1/audit HTTP/1.1\r\nHost: @\r\n^G\r\n", 200},
        /* another site's page */
        {"POST /api/v1/mixes HTTP/1.1\r\nHost: @\r\n^K" BODY("{}"), 403},
        {"POST /api/v1/mixes HTTP/1.1\r\nHost: @\r\nOrigin: http://evil.example\r\n^K" BODY("{}"),
         403},
        {"POST /api/v1/mixes HTTP/1.1\r\nHost: @\r\nOrigin: null\r\n^K" BODY("{}"), 403},
        {"POST /api/v1/mixes HTTP/1.1\r\nHost: @\r\nOrigin: file://\r\n^K" BODY("{}"), 403},
        {"POST /api/v1/mixes HTTP/1.1\r\nHost: @\r\nOrigin: ftp://@\r\n^K" BODY("{}"), 403},
        {"POST /api/v1/mixes HTTP/1.1\r\nHost: @\r\nOrigin: http://@\r\nOrigin: "
         "http://@\r\n^K" BODY("{}"),
         400},
        {"POST /api/v1/session HTTP/1.1\r\nHost: @\r\nOrigin: http://evil.example\r\n" BODY("{}"),
         403},
        {"DELETE /api/v1/session HTTP/1.1\r\nHost: @\r\n^K\r\n", 403},
        {"POST /api/v1/mixes HTTP/1.1\r\nHost: @\r\n^GContent-Type: "
         "application/x-www-form-urlencoded\r\nContent-Length: 5\r\n\r\nmix=a",
         415},
        {"POST /api/v1/mixes HTTP/1.1\r\nHost: @\r\n^GContent-Type: text/plain\r\n"
         "Content-Length: 2\r\n\r\n{}",
         415},
        {"POST /api/v1/mixes HTTP/1.1\r\nHost: @\r\n^GContent-Type: multipart/form-data; "
         "boundary=\r\nContent-Length: 2\r\n\r\n{}",
         415},
        /* tokens that are none: the tenth within a while slows this address down, so few here */
        {"GET /api/v1/audit HTTP/1.1\r\nHost: @\r\nAuthorization: Bearer x\r\n\r\n", 401},
        {"GET /api/v1/audit HTTP/1.1\r\nHost: @\r\nAuthorization: Digest x\r\n\r\n", 401},
        {"GET /api/v1/audit HTTP/1.1\r\nHost: @\r\nAuthorization:\r\n\r\n", 401},
        {"GET /api/v1/audit HTTP/1.1\r\nHost: @\r\n^C^S\r\n", 400},
        /* conditions */
        {"PUT /api/v1/zones/bed-1 HTTP/1.1\r\nHost: @\r\n^G" BODY("{}"), 428},
        {"DELETE /api/v1/zones/bed-1 HTTP/1.1\r\nHost: @\r\n^G\r\n", 428},
        {"DELETE /api/v1/zones/bed-1 HTTP/1.1\r\nHost: @\r\nIf-Match: bare\r\n^G\r\n", 412},
        {"DELETE /api/v1/zones/bed-1 HTTP/1.1\r\nHost: @\r\nIf-Match: \"a\", W/\"b\"\r\n^G\r\n",
         412},
        {"DELETE /api/v1/zones/nowhere HTTP/1.1\r\nHost: @\r\nIf-Match: *\r\n^G\r\n", 404},
        {"DELETE /api/v1/weighings/lavender-3l HTTP/1.1\r\nHost: @\r\nIf-Match: *\r\n^G\r\n", 404},
        {"GET /api/v1/plan HTTP/1.1\r\nHost: @\r\nAccept: text/html\r\n\r\n", 406},
        {"GET /plan.ics HTTP/1.1\r\nHost: @\r\nAccept: application/json\r\n\r\n", 406},
        {"GET /api/v1/blocks HTTP/1.1\r\nHost: @\r\nAccept: image/png\r\n\r\n", 406},
        {"GET /api/v1/openapi.json HTTP/1.1\r\nHost: @\r\nAccept-Encoding: identity;q=0\r\n"
         "\r\n",
         406},
        {"GET /plan.txt?x=1 HTTP/1.1\r\nHost: @\r\n\r\n", 400},
        {"GET /api/v1/plan?zone=bed-1&zone=bed-2 HTTP/1.1\r\nHost: @\r\n\r\n", 400},
        {"GET /api/v1/plan?zone=%ff HTTP/1.1\r\nHost: @\r\n\r\n", 400},
        {"GET /api/v1/plan?zone=%0 HTTP/1.1\r\nHost: @\r\n\r\n", 400},
        {"GET /api/v1/plan?%7aone=bed-1 HTTP/1.1\r\nHost: @\r\n\r\n", 400},
        {"GET /api/v1/runs?limit=9999 HTTP/1.1\r\nHost: @\r\n\r\n", 400},
        {"GET /api/v1/runs?limit=-1 HTTP/1.1\r\nHost: @\r\n\r\n", 400},
        {"GET /api/v1/runs?limit=1;drop HTTP/1.1\r\nHost: @\r\n\r\n", 400},
    };
    EXPECT_ALL(rows);
}

/* Requests cut off in the middle of an open job, many times over: nothing is left hanging. */
static void connections_broken_off_while_the_worker_is_at_it(void **state)
{
    (void)state;
    struct service service = service_start();
    static const char password[] = "{\"account\": \"nobody\", \"password\": \"wrong, but long\"}";
    char request[512];
    int n = snprintf(request, sizeof request,
                     "POST /api/v1/session HTTP/1.1\r\nHost: localhost:%d\r\n"
                     "Content-Type: application/json\r\nContent-Length: %zu\r\n\r\n%s",
                     service.port, sizeof password - 1, password);
    for (int i = 0; i < 50; i++) {
        int fd = client_dial(service.port);
        client_send(fd, request, (size_t)n);
        close(fd);
        outcomes[CLOSED]++;
    }
    assert_int_equal(service_status(&service, "GET", "/healthz", "", NULL), 200);
    assert_int_equal(service_status(&service, "GET", "/api/v1/runs", "", NULL), 200);
    service_stop(&service);
}

static void cases_are_many(void **state)
{
    (void)state;
    int total = 0;
    for (int status = 0; status < 600; status++) {
        if (outcomes[status] > 0)
            print_message("abuse: %3d cases ended with %d\n", outcomes[status], status);
        total += outcomes[status];
    }
    print_message("abuse: %d cases\n", total);
    assert_true(total > 150);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(methods_that_an_address_does_not_have),
        cmocka_unit_test(paths_that_lead_nowhere),
        cmocka_unit_test(framing_that_can_be_read_in_two_ways),
        cmocka_unit_test(requests_too_long_in_any_part),
        cmocka_unit_test(bytes_that_are_no_text),
        cmocka_unit_test(people_and_devices_out_of_their_place),
        cmocka_unit_test(connections_broken_off_while_the_worker_is_at_it),
        cmocka_unit_test(cases_are_many),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
