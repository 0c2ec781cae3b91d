/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The HTTP side over real sockets: a child process serves, the test is its client. */
#include "check.h"

#include <errno.h>
#include <jansson.h>
#include <pthread.h>
#include <signal.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stdio.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>
#include <zlib.h>

#include "client.h"
#include "daemon/http.h"
#include "daemon/loop.h"

/* --- the server ----------------------------------------------------------------------------- */

struct setting {
    struct http_limits limits;
    size_t numbers; /* how many times a snapshot says its number: its size */
    bool empty;     /* nothing published until SIGHUP */
    bool plan;      /* a plan of as many blocks instead, one of them in a zone of its own */
};

#define SETTING_DEFAULT                                                                            \
    {                                                                                              \
        .limits = HTTP_LIMITS_DEFAULT, .numbers = 500                                              \
    }

struct server {
    pid_t pid;
    int port;
    char folder[32];
};

static void write_file(const char *folder, const char *name, const char *text)
{
    char path[128];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    FILE *f = fopen(path, "w");
    assert_non_null(f);
    fputs(text, f);
    fclose(f);
}

static void make_page(char *folder)
{
    char path[64];
    strcpy(folder, "/tmp/perchd-test-XXXXXX");
    assert_non_null(mkdtemp(folder));
    snprintf(path, sizeof path, "%s/img", folder);
    assert_int_equal(mkdir(path, 0755), 0);
    write_file(folder, "index.html", "<!doctype html><title>t</title>\n");
    write_file(folder, "app.js",
               "// one line\nexport const x = '// kept';\n/* several\n * lines */\n"
               "  const y = 'a  b'; // kept\n\n    /* one */\n  x(y) /* kept */;\n"
               "const z = [1 / 2, `a, ${b ? `c = ${d({ e })}` : 'f, }'} g`, { h: 'it\\'s, ' }];\n"
               "z = x.replace(/ {2,}/g, ' ');");
    write_file(folder, "img/drop.svg", "<svg xmlns='http://www.w3.org/2000/svg'/>\n");
    write_file(folder, ".secret.txt", "hidden\n");
    write_file(folder, "notes.bak", "unknown type\n");
    snprintf(path, sizeof path, "%s/link.txt", folder);
    assert_int_equal(symlink("/etc/hostname", path), 0);
}

/* 'N N N ...' */
static char *say_number(int number, size_t times)
{
    char *text = malloc(times * 12 + 1);
    size_t length = 0;
    text[0] = '\0';
    for (size_t i = 0; i < times; i++)
        length += (size_t)sprintf(text + length, "%d ", number);
    return text;
}

/* A plan whose zones say which it is; each block takes some hundred bytes. */
static char *say_plan(int number, size_t blocks)
{
    char *text = malloc(blocks * 400 + 400);
    size_t length =
        (size_t)sprintf(text,
                        "{\"schema\":1,\"good_until\":\"x\",\"good_until_s\":9,\"days\":[],"
                        "\"zones\":[{\"id\":\"many\"},{\"id\":\"one\",\"name\":\"%d\"}],"
                        "\"waiting\":[],\"by_hand\":[],\"notices\":[],\"pots\":[],"
                        "\"mixes\":[],\"blocks\":[",
                        number);
    for (size_t i = 0; i < blocks; i++)
        length += (size_t)sprintf(text + length,
                                  "%s{\"id\":\"b%zu\",\"zone\":\"%s\",\"name\":\"%0300d\"}",
                                  i ? "," : "", i, i ? "many" : "one", 7);
    strcpy(text + length, "]}");
    return text;
}

static void publish(struct snapshot_cell *cell, int number, size_t times, bool plan)
{
    snapshot_publish_take(
        cell, snapshot_new_take(plan ? say_plan(number, times) : say_number(number, times),
                                say_number(number, times), number, number));
}

struct serving {
    struct http *http;
    struct snapshot_cell *cell;
    size_t numbers;
    bool plan;
    int number;
};

static int serving_turn(void *context)
{
    return http_turn(((struct serving *)context)->http);
}

static void serving_publish_next(void *context)
{
    struct serving *serving = context;
    publish(serving->cell, ++serving->number, serving->numbers, serving->plan);
}

/* The child: serves until SIGTERM; each SIGHUP publishes the next number. Never returns. */
static void serve(const struct setting *setting, const char *folder, int port_fd)
{
    struct error error;
    struct assets assets;
    struct serving serving = {
        .cell = snapshot_cell_new(), .numbers = setting->numbers, .plan = setting->plan};
    int code = 9;
    int signal_fd = loop_signals(&error);
    if (signal_fd < 0 || assets_load(folder, &assets, &error) != 0)
        goto end;
    const struct http_options options = {
        .listen = "127.0.0.1", .limits = setting->limits, .assets = &assets, .cell = serving.cell};
    if (!setting->empty)
        serving_publish_next(&serving);
    serving.http = http_open(&options, &error);
    if (!serving.http)
        goto end;
    int port = http_port(serving.http);
    if (write(port_fd, &port, sizeof port) != (ssize_t)sizeof port)
        goto end;
    close(port_fd);
    const struct loop_work work = {.context = &serving,
                                   .fd = http_fd(serving.http),
                                   .turn = serving_turn,
                                   .reload = serving_publish_next};
    code = loop_run(signal_fd, &work, &error) == 0 ? 0 : 8;
    http_close(serving.http);
    snapshot_cell_free(serving.cell);
    assets_clear(&assets);
    close(signal_fd);
end:
    exit(code);
}

static struct server server_start(const struct setting *setting)
{
    struct server server;
    int port_pipe[2];
    make_page(server.folder);
    assert_int_equal(pipe(port_pipe), 0);
    fflush(NULL);
    server.pid = fork();
    assert_true(server.pid >= 0);
    if (server.pid == 0) {
        prctl(PR_SET_PDEATHSIG, SIGKILL);
        close(port_pipe[0]);
        serve(setting, server.folder, port_pipe[1]);
    }
    close(port_pipe[1]);
    ssize_t n = read(port_pipe[0], &server.port, sizeof server.port);
    close(port_pipe[0]);
    assert_int_equal(n, sizeof server.port);
    return server;
}

/* A clean stop: everything closed, nothing leaked, exit 0. */
static void server_stop(const struct server *server)
{
    char command[64];
    int status;
    kill(server->pid, SIGTERM);
    assert_int_equal(waitpid(server->pid, &status, 0), server->pid);
    snprintf(command, sizeof command, "rm -r %s", server->folder);
    assert_int_equal(system(command), 0);
    assert_true(WIFEXITED(status));
    assert_int_equal(WEXITSTATUS(status), 0);
}

static struct server server_start_default(void)
{
    const struct setting setting = SETTING_DEFAULT;
    return server_start(&setting);
}

static int status_of(int port, const char *method, const char *path, const char *fields)
{
    struct answer answer;
    client_ask(port, method, path, fields, &answer);
    client_forget(&answer);
    return answer.status;
}

static void assert_field(const struct answer *answer, const char *name, const char *expected)
{
    char value[512];
    assert_string_equal(client_field(answer, name, value, sizeof value), expected);
}

/* A problem document of the answer's own status, with some detail. */
static void assert_problem(const struct answer *answer, int status)
{
    assert_int_equal(answer->status, status);
    assert_true(answer->whole);
    assert_field(answer, "Content-Type", "application/problem+json");
    json_t *document = json_loads(answer->body, JSON_REJECT_DUPLICATES, NULL);
    assert_non_null(document);
    assert_int_equal(json_integer_value(json_object_get(document, "status")), status);
    assert_non_null(json_string_value(json_object_get(document, "title")));
    assert_non_null(json_string_value(json_object_get(document, "detail")));
    json_decref(document);
}

/* --- reading -------------------------------------------------------------------------------- */

static void get_plan_gives_the_snapshot_with_its_headers(void **state)
{
    (void)state;
    struct server server = server_start_default();
    struct answer answer;
    char *expected = say_number(1, 500);
    client_ask(server.port, "GET", "/api/v1/plan", "", &answer);
    assert_int_equal(answer.status, 200);
    assert_true(answer.whole);
    assert_string_equal(answer.body, expected);
    assert_field(&answer, "Content-Type", "application/json");
    assert_field(&answer, "Content-Encoding", "");
    assert_field(&answer, "Cache-Control", "no-cache");
    assert_field(&answer, "Vary", "Accept-Encoding");
    assert_field(&answer, "X-Content-Type-Options", "nosniff");
    assert_field(&answer, "Referrer-Policy", "no-referrer");
    assert_non_null(strstr(answer.head, "default-src 'self'"));
    assert_non_null(strstr(answer.head, "\r\nDate: "));
    assert_null(strstr(answer.head, "\r\nServer: "));
    assert_null(strstr(answer.head, "Connection: close"));
    client_forget(&answer);
    client_ask(server.port, "GET", "/plan.txt", "", &answer);
    assert_string_equal(answer.body, expected);
    assert_field(&answer, "Content-Type", "text/plain; charset=utf-8");
    client_forget(&answer);
    free(expected);
    server_stop(&server);
}

static void get_page_serves_known_files_only(void **state)
{
    (void)state;
    struct server server = server_start_default();
    struct answer answer;
    client_ask(server.port, "GET", "/", "", &answer);
    assert_int_equal(answer.status, 200);
    assert_field(&answer, "Content-Type", "text/html; charset=utf-8");
    assert_string_equal(answer.body, "<!doctype html><title>t</title>\n");
    client_forget(&answer);
    client_ask(server.port, "GET", "/app.js?v=2", "", &answer);
    assert_int_equal(answer.status, 200);
    assert_field(&answer, "Content-Type", "text/javascript; charset=utf-8");
    /* without indents, empty lines, comments that have their lines for themselves, blanks around
     * signs and ends after them; texts and patterns as they are */
    assert_string_equal(answer.body,
                        "export const x='// kept';const y='a  b';// kept\n"
                        "x(y)/* kept */;\n"
                        "const z=[1 / 2,`a, ${b ? `c = ${d({ e })}` : 'f, }'} g`,{h:'it\\'s, '}];"
                        "z=x.replace(/ {2,}/g, ' ');");
    client_forget(&answer);
    client_ask(server.port, "GET", "/img/drop.svg", "", &answer);
    assert_int_equal(answer.status, 200);
    assert_field(&answer, "Content-Type", "image/svg+xml");
    client_forget(&answer);
    client_ask(server.port, "GET", "/healthz", "", &answer);
    assert_string_equal(answer.body, "ok\n");
    client_forget(&answer);
    static const char *const absent[] = {
        "/.secret.txt", "/notes.bak",     "/link.txt",      "/img",          "/img/",
        "/../app.js",   "/img/../app.js", "/%2e%2e/app.js", "//app.js",      "/etc/passwd",
        "/app.js/",     "/API/v1/plan",   "/api/v1",        "/api/v1/plans", "*",
    };
    for (size_t i = 0; i < sizeof absent / sizeof absent[0]; i++) {
        client_ask(server.port, "GET", absent[i], "", &answer);
        if (answer.status != 404)
            print_error("%s\n", absent[i]);
        assert_problem(&answer, 404);
        client_forget(&answer);
    }
    server_stop(&server);
}

static void head_gives_the_head_of_get(void **state)
{
    (void)state;
    struct server server = server_start_default();
    static const char *const paths[] = {"/api/v1/plan", "/plan.txt", "/", "/healthz", "/nothing"};
    for (size_t i = 0; i < sizeof paths / sizeof paths[0]; i++) {
        struct answer get;
        struct answer head;
        char length[32];
        char tag[64];
        int fd = client_dial(server.port);
        char request[256];
        /* Two requests at once: a body after HEAD would be taken for the second answer. */
        int n = snprintf(request, sizeof request,
                         "HEAD %s HTTP/1.1\r\nHost: localhost:%d\r\n\r\n"
                         "GET %s HTTP/1.1\r\nHost: localhost:%d\r\n\r\n",
                         paths[i], server.port, paths[i], server.port);
        assert_true(client_send(fd, request, (size_t)n));
        client_read(fd, &head, true);
        client_read(fd, &get, false);
        close(fd);
        assert_int_equal(head.status, get.status);
        assert_true(get.whole && get.length > 0);
        assert_field(&head, "Content-Length",
                     client_field(&get, "Content-Length", length, sizeof length));
        assert_field(&head, "ETag", client_field(&get, "ETag", tag, sizeof tag));
        client_forget(&head);
        client_forget(&get);
    }
    server_stop(&server);
}

static void get_with_gzip_gives_bytes_that_unpack_to_the_same(void **state)
{
    (void)state;
    struct server server = server_start_default();
    struct answer plain;
    struct answer packed;
    char unpacked[16384];
    char tag[64];
    client_ask(server.port, "GET", "/api/v1/plan", "Accept-Encoding: gzip;q=0\r\n", &plain);
    assert_field(&plain, "Content-Encoding", "");
    client_ask(server.port, "GET", "/api/v1/plan",
               "Accept-Encoding: br\r\nAccept-Encoding: gzip\r\n", &packed);
    assert_field(&packed, "Content-Encoding", "gzip");
    assert_field(&packed, "Vary", "Accept-Encoding");
    assert_true(packed.whole && packed.length < plain.length);
    z_stream z = {.next_in = (Bytef *)packed.body,
                  .avail_in = (uInt)packed.length,
                  .next_out = (Bytef *)unpacked,
                  .avail_out = sizeof unpacked};
    assert_int_equal(inflateInit2(&z, 15 + 16), Z_OK);
    assert_int_equal(inflate(&z, Z_FINISH), Z_STREAM_END);
    inflateEnd(&z);
    assert_int_equal(z.total_out, plain.length);
    assert_memory_equal(unpacked, plain.body, plain.length);
    assert_string_not_equal(client_field(&plain, "ETag", tag, sizeof tag), "");
    char packed_tag[64];
    client_field(&packed, "ETag", packed_tag, sizeof packed_tag);
    assert_string_not_equal(tag, packed_tag);
    client_forget(&plain);
    client_forget(&packed);
    /* Too short to gain anything: sent as it is, and refused to whom that is not enough. */
    assert_int_equal(status_of(server.port, "GET", "/healthz", "Accept-Encoding: gzip\r\n"), 200);
    client_ask(server.port, "GET", "/healthz", "Accept-Encoding: gzip, identity;q=0\r\n", &plain);
    assert_problem(&plain, 406);
    client_forget(&plain);
    server_stop(&server);
}

static void get_with_accept_is_negotiated(void **state)
{
    (void)state;
    struct server server = server_start_default();
    struct answer answer;
    client_ask(server.port, "GET", "/api/v1/plan", "Accept: text/html\r\n", &answer);
    assert_problem(&answer, 406);
    assert_non_null(strstr(answer.body, "application/json"));
    client_forget(&answer);
    assert_int_equal(
        status_of(server.port, "GET", "/api/v1/plan", "Accept: text/html, */*;q=0.1\r\n"), 200);
    assert_int_equal(status_of(server.port, "GET", "/plan.txt", "Accept: text/*\r\n"), 200);
    assert_int_equal(status_of(server.port, "GET", "/plan.txt", "Accept: image/png\r\n"), 406);
    assert_int_equal(status_of(server.port, "GET", "/app.js", "Accept: image/png\r\n"), 200);
    server_stop(&server);
}

static void get_if_none_match_gives_304_with_the_length_of_200(void **state)
{
    (void)state;
    struct server server = server_start_default();
    struct answer answer;
    char tag[64];
    char length[32];
    char fields[256];
    client_ask(server.port, "GET", "/api/v1/plan", "", &answer);
    client_field(&answer, "ETag", tag, sizeof tag);
    client_field(&answer, "Content-Length", length, sizeof length);
    client_forget(&answer);
    static const char *const before_tag[] = {"If-None-Match: ", "If-None-Match: W/",
                                             "If-None-Match: \"x\", ",
                                             "If-None-Match: \"x\"\r\nif-none-match: "};
    int fd = client_dial(server.port);
    for (size_t i = 0; i < sizeof before_tag / sizeof before_tag[0]; i++) {
        char request[512];
        snprintf(fields, sizeof fields, "%s%s\r\n", before_tag[i], tag);
        int n = snprintf(request, sizeof request,
                         "GET /api/v1/plan HTTP/1.1\r\nHost: localhost:%d\r\n%s\r\n", server.port,
                         fields);
        assert_true(client_send(fd, request, (size_t)n));
        client_read(fd, &answer, false); /* on one connection: a body would break the next */
        assert_int_equal(answer.status, 304);
        assert_field(&answer, "ETag", tag);
        assert_field(&answer, "Content-Length", length);
        client_forget(&answer);
    }
    close(fd);
    assert_int_equal(status_of(server.port, "HEAD", "/api/v1/plan", "If-None-Match: *\r\n"), 304);
    assert_int_equal(status_of(server.port, "GET", "/api/v1/plan", "If-None-Match: \"x\"\r\n"),
                     200);
    /* The tag of the plain bytes is not that of the packed ones. */
    snprintf(fields, sizeof fields, "If-None-Match: %s\r\nAccept-Encoding: gzip\r\n", tag);
    assert_int_equal(status_of(server.port, "GET", "/api/v1/plan", fields), 200);
    snprintf(fields, sizeof fields, "If-Match: %s\r\n", tag);
    assert_int_equal(status_of(server.port, "GET", "/api/v1/plan", fields), 200);
    assert_int_equal(status_of(server.port, "GET", "/api/v1/plan", "If-Match: \"x\"\r\n"), 412);
    server_stop(&server);
}

static void get_plan_before_the_first_snapshot_gives_503(void **state)
{
    (void)state;
    struct setting setting = SETTING_DEFAULT;
    setting.empty = true;
    struct server server = server_start(&setting);
    struct answer answer;
    client_ask(server.port, "GET", "/api/v1/plan", "", &answer);
    assert_problem(&answer, 503);
    assert_field(&answer, "Retry-After", "2");
    assert_field(&answer, "Cache-Control", "no-store");
    client_forget(&answer);
    assert_int_equal(status_of(server.port, "GET", "/plan.txt", ""), 503);
    assert_int_equal(status_of(server.port, "GET", "/", ""), 200);
    assert_int_equal(status_of(server.port, "GET", "/healthz", ""), 200);
    kill(server.pid, SIGHUP);
    for (int i = 0; i < 1000 && status_of(server.port, "GET", "/plan.txt", "") == 503; i++)
        usleep(10000);
    assert_int_equal(status_of(server.port, "GET", "/plan.txt", ""), 200);
    server_stop(&server);
}

static void get_plan_after_publishing_gives_the_new_one(void **state)
{
    (void)state;
    struct server server = server_start_default();
    struct answer answer;
    int fd = client_dial(server.port);
    char request[128];
    int n = snprintf(request, sizeof request,
                     "GET /plan.txt HTTP/1.1\r\nHost: localhost:%d\r\n\r\n", server.port);
    long seen = 0;
    for (int i = 0; i < 1000 && seen != 4; i++) {
        if (i < 3)
            kill(server.pid, SIGHUP);
        assert_true(client_send(fd, request, (size_t)n));
        client_read(fd, &answer, false);
        assert_int_equal(answer.status, 200);
        long number = strtol(answer.body, NULL, 10);
        assert_true(number >= seen);
        seen = number;
        client_forget(&answer);
        usleep(10000);
        if (i >= 3 && seen < 4)
            kill(server.pid, SIGHUP); /* signals of one kind may have merged */
    }
    assert_int_equal(seen, 4);
    close(fd);
    server_stop(&server);
}

/* --- requests that should not be ------------------------------------------------------------ */

struct abuse {
    const char *request; /* '@' is the server's address */
    int status;          /* expected; 0: closed without an answer */
};

/* Statuses that the library gives by itself have its own page, not a problem document. */
static const struct abuse abuses[] = {
    /* methods */
    {"POST /api/v1/plan HTTP/1.1\r\nHost: @\r\nContent-Length: 2\r\n\r\n{}", 405},
    {"PUT /plan.txt HTTP/1.1\r\nHost: @\r\nContent-Length: 0\r\n\r\n", 405},
    {"DELETE / HTTP/1.1\r\nHost: @\r\n\r\n", 405},
    {"OPTIONS / HTTP/1.1\r\nHost: @\r\n\r\n", 405},
    {"TRACE / HTTP/1.1\r\nHost: @\r\n\r\n", 405},
    {"get / HTTP/1.1\r\nHost: @\r\n\r\n", 405},
    {"FROBNICATE /healthz HTTP/1.1\r\nHost: @\r\n\r\n", 405},
    {"POST /nothing HTTP/1.1\r\nHost: @\r\nContent-Length: 0\r\n\r\n", 404},
    {"OPTIONS * HTTP/1.1\r\nHost: @\r\n\r\n", 404},
    {"POST / HTTP/1.1\r\nHost: @\r\nTransfer-Encoding: chunked\r\n\r\n2\r\n{}\r\n0\r\n\r\n", 405},
    /* a GET's body is taken and forgotten */
    {"GET /healthz HTTP/1.1\r\nHost: @\r\nContent-Length: 5\r\n\r\nhello", 200},
    {"GET /healthz HTTP/1.1\r\nHost: @\r\nExpect: 100-continue\r\nContent-Length: 5\r\n\r\nhello",
     200},
    /* query */
    {"GET /api/v1/plan?day=tomorrow HTTP/1.1\r\nHost: @\r\n\r\n", 400},
    {"GET /plan.txt?x HTTP/1.1\r\nHost: @\r\n\r\n", 400},
    {"GET /healthz?x=1 HTTP/1.1\r\nHost: @\r\n\r\n", 200},
    /* hosts: rebinding */
    {"GET / HTTP/1.1\r\n\r\n", 400},
    {"GET / HTTP/1.0\r\n\r\n", 200},
    {"GET / HTTP/1.1\r\nHost:\r\n\r\n", 421},
    {"GET / HTTP/1.1\r\nHost: nursery.example\r\n\r\n", 421},
    {"GET / HTTP/1.0\r\nHost: nursery.example\r\n\r\n", 421},
    {"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n", 421},
    {"GET / HTTP/1.1\r\nHost: 192.0.2.1:80\r\n\r\n", 421},
    {"GET / HTTP/1.1\r\nHost: @\r\nHost: @\r\n\r\n", 400},
    {"GET / HTTP/1.1\r\nHost: @\r\nhost: nursery.example\r\n\r\n", 400},
    {"GET http://@/healthz HTTP/1.1\r\nHost: @\r\n\r\n", 200},
    {"GET http://nursery.example/healthz HTTP/1.1\r\nHost: @\r\n\r\n", 421},
    {"GET http://@ HTTP/1.1\r\nHost: @\r\n\r\n", 200},
    {"GET https://@/ HTTP/1.1\r\nHost: @\r\n\r\n", 200},
    {"GET https://evil.example/ HTTP/1.1\r\nHost: @\r\n\r\n", 421},
    {"GET ftp://@/ HTTP/1.1\r\nHost: @\r\n\r\n", 404},
    /* framing that two readers could see differently */
    {"POST / HTTP/1.1\r\nHost: @\r\nContent-Length: 4\r\nTransfer-Encoding: chunked\r\n\r\n"
     "0\r\n\r\n",
     400},
    {"POST / HTTP/1.1\r\nHost: @\r\nTransfer-Encoding: chunked\r\nContent-Length: 4\r\n\r\n"
     "0\r\n\r\n",
     400},
    {"POST / HTTP/1.1\r\nHost: @\r\nContent-Length: 4\r\nContent-Length: 5\r\n\r\nabcde", 400},
    {"POST / HTTP/1.1\r\nHost: @\r\nContent-Length: 4\r\ncontent-length: 4\r\n\r\nabcd", 400},
    {"POST / HTTP/1.1\r\nHost: @\r\nTransfer-Encoding: gzip, chunked\r\n\r\n0\r\n\r\n", 501},
    {"POST / HTTP/1.1\r\nHost: @\r\nTransfer-Encoding: identity\r\n\r\n", 501},
    {"POST / HTTP/1.1\r\nHost: @\r\nTransfer-Encoding: xchunked\r\n\r\n0\r\n\r\n", 501},
    {"POST / HTTP/1.1\r\nHost: @\r\nTransfer-Encoding: chunked\r\nTransfer-Encoding: "
     "chunked\r\n\r\n"
     "0\r\n\r\n",
     501},
    {"GET / HTTP/1.1\r\nHost: @\r\nTransfer-Encoding:\r\n\r\n", 501},
    {"POST / HTTP/1.1\r\nHost: @\r\nContent-Length: -1\r\n\r\n", 400},
    {"POST / HTTP/1.1\r\nHost: @\r\nContent-Length: +5\r\n\r\nhello", 400},
    {"POST / HTTP/1.1\r\nHost: @\r\nContent-Length: five\r\n\r\nhello", 400},
    {"POST / HTTP/1.1\r\nHost: @\r\nContent-Length: 99999999999999999999999\r\n\r\n", 413},
    {"POST / HTTP/1.1\r\nHost: @\r\nContent-Length : 5\r\n\r\nhello", 400},
    {"GET / HTTP/1.1\r\nHost: @\r\nFoo : bar\r\n\r\n", 400},
    {"GET / HTTP/1.1\r\nHost: @\r\nF(o: bar\r\n\r\n", 400},
    /* too much */
    {"POST / HTTP/1.1\r\nHost: @\r\nContent-Length: 65537\r\n\r\n", 413},
    {"GET / HTTP/1.1\r\nHost: @\r\nContent-Length: 10000000\r\nExpect: 100-continue\r\n\r\n", 413},
    /* targets */
    {"GET /app.js%00.html HTTP/1.1\r\nHost: @\r\n\r\n", 400},
    {"GET /%00 HTTP/1.1\r\nHost: @\r\n\r\n", 400},
    {"GET /healthz?%00 HTTP/1.1\r\nHost: @\r\n\r\n", 400},
    {"GET /app%2Ejs HTTP/1.1\r\nHost: @\r\n\r\n", 200},
    {"GET /app%zzjs HTTP/1.1\r\nHost: @\r\n\r\n", 404},
    {"GET /%c0%ae%c0%ae/app.js HTTP/1.1\r\nHost: @\r\n\r\n", 404},
    {"GET app.js HTTP/1.1\r\nHost: @\r\n\r\n", 404},
    {"GET /../../etc/passwd HTTP/1.1\r\nHost: @\r\n\r\n", 404},
    /* versions */
    {"GET / HTTP/2.0\r\nHost: @\r\n\r\n", 505},
    {"GET / HTTP/0.9\r\nHost: @\r\n\r\n", 505},
};

/* Small parts are printed once a plan, large ones each time; asked for again, both are unchanged
 * until the plan is another. */
static void get_part_of_a_plan_small_and_large(void **state)
{
    (void)state;
    static const char *const parts[] = {"/api/v1/plan?zone=one", "/api/v1/plan?zone=many"};
    struct setting setting = SETTING_DEFAULT;
    setting.numbers = 800;
    setting.plan = true;
    struct server server = server_start(&setting);
    for (size_t i = 0; i < 2; i++) {
        struct answer answer;
        char tag[64];
        char fields[128];
        client_ask(server.port, "GET", parts[i], "", &answer);
        assert_int_equal(answer.status, 200);
        assert_true(i == 0 ? answer.length < 2000 : answer.length > 200000);
        client_field(&answer, "ETag", tag, sizeof tag);
        client_forget(&answer);
        snprintf(fields, sizeof fields, "If-None-Match: %s\r\n", tag);
        assert_int_equal(status_of(server.port, "GET", parts[i], fields), 304);
        client_ask(server.port, "GET", parts[i], "Accept-Encoding: gzip\r\n", &answer);
        assert_field(&answer, "Content-Encoding", i == 0 ? "gzip" : "");
        client_forget(&answer);
    }
    char now[16];
    char before[16] = "\"1\"";
    kill(server.pid, SIGHUP);
    do { /* no sleep: asks until it is there */
        struct answer answer;
        client_ask(server.port, "GET", parts[0], "", &answer);
        const char *name = strstr(answer.body, "\"name\":");
        assert_non_null(name);
        snprintf(now, sizeof now, "%.3s", name + 7);
        client_forget(&answer);
    } while (strcmp(now, before) == 0);
    assert_string_equal(now, "\"2\"");
    server_stop(&server);
}

static void requests_out_of_order_are_refused_by_the_book(void **state)
{
    (void)state;
    struct server server = server_start_default();
    for (size_t i = 0; i < sizeof abuses / sizeof abuses[0]; i++) {
        struct answer answer;
        client_ask_raw(server.port, abuses[i].request, &answer);
        if (answer.status != abuses[i].status)
            fail_msg("%d, not %d for %s", answer.status, abuses[i].status, abuses[i].request);
        if (answer.status == 405)
            assert_field(&answer, "Allow", "GET, HEAD");
        if (answer.status == 404 || answer.status == 405 || answer.status == 421)
            assert_problem(&answer, abuses[i].status);
        client_forget(&answer);
    }
    assert_int_equal(status_of(server.port, "GET", "/healthz", ""), 200);
    server_stop(&server);
}

/* What follows a refused request on the same connection must not be served as a second one. */
static void requests_with_doubtful_framing_close_the_connection(void **state)
{
    (void)state;
    struct server server = server_start_default();
    static const char *const fields[] = {
        "Content-Length: 4\r\nTransfer-Encoding: chunked\r\n",
        "Content-Length: 4\r\nContent-Length: 40\r\n",
        "Transfer-Encoding: gzip, chunked\r\n",
        "Content-Length: 70000\r\n",
        "X y: z\r\n",
    };
    for (size_t i = 0; i < sizeof fields / sizeof fields[0]; i++) {
        char request[512];
        struct answer answer;
        int fd = client_dial(server.port);
        int n = snprintf(request, sizeof request, "POST / HTTP/1.1\r\nHost: localhost:%d\r\n%s\r\n",
                         server.port, fields[i]);
        assert_true(client_send(fd, request, (size_t)n));
        client_read(fd, &answer, false);
        assert_problem(&answer, i == 2 ? 501 : i == 3 ? 413 : 400);
        assert_field(&answer, "Connection", "close");
        client_forget(&answer);
        assert_true(client_closed(fd));
        close(fd);
    }
    server_stop(&server);
}

static void request_line_or_headers_too_long_are_refused(void **state)
{
    (void)state;
    struct server server = server_start_default();
    struct answer answer;
    char *request = calloc(1, 16000);
    memset(request, 'a', 15000);
    memcpy(request, "GET /", 5);
    strcpy(request + 12000, " HTTP/1.1\r\nHost: @\r\n\r\n");
    client_ask_raw(server.port, request, &answer);
    assert_int_equal(answer.status, 414);
    client_forget(&answer);
    memset(request, 'a', 15000);
    memcpy(request, "GET / HTTP/1.1\r\nFoo: ", 21);
    strcpy(request + 12000, "\r\nHost: @\r\n\r\n");
    client_ask_raw(server.port, request, &answer);
    assert_int_equal(answer.status, 431);
    client_forget(&answer);
    free(request);
    server_stop(&server);
}

/* Sends count chunks of 4096 bytes and the end. */
static void send_chunks(int fd, int port, int count)
{
    char chunk[4096 + 16];
    int n = snprintf(chunk, sizeof chunk,
                     "POST / HTTP/1.1\r\nHost: localhost:%d\r\nTransfer-Encoding: chunked\r\n\r\n",
                     port);
    client_send(fd, chunk, (size_t)n);
    memset(chunk, 'x', sizeof chunk);
    memcpy(chunk, "1000\r\n", 6);
    memcpy(chunk + 6 + 4096, "\r\n", 2);
    bool open = true;
    for (int i = 0; i < count && open; i++)
        open = client_send(fd, chunk, 6 + 4096 + 2);
    client_send(fd, "0\r\n\r\n", 5);
}

static void chunked_body_too_long_gives_413_and_endless_is_cut(void **state)
{
    (void)state;
    struct server server = server_start_default();
    struct answer answer;
    int fd = client_dial(server.port);
    send_chunks(fd, server.port, 16); /* 65536 bytes: just allowed */
    client_read(fd, &answer, false);
    assert_problem(&answer, 405);
    client_forget(&answer);
    send_chunks(fd, server.port, 17);
    client_read(fd, &answer, false);
    assert_problem(&answer, 413);
    client_forget(&answer);
    close(fd);
    fd = client_dial(server.port);
    send_chunks(fd, server.port, 4096); /* 16 MB */
    assert_true(client_closed(fd));
    close(fd);
    assert_int_equal(status_of(server.port, "GET", "/healthz", ""), 200);
    server_stop(&server);
}

/* --- traps of the library (0.9.75), each once found the hard way ---------------------------- */

/* Answering in the first call of the handler would close the connection after each reply. */
static void get_many_times_keeps_one_connection(void **state)
{
    (void)state;
    struct server server = server_start_default();
    char request[256];
    int fd = client_dial(server.port);
    int n = snprintf(request, sizeof request,
                     "GET /plan.txt HTTP/1.1\r\nHost: localhost:%d\r\nContent-Length: 3\r\n\r\nabc",
                     server.port);
    for (int i = 0; i < 20; i++) {
        struct answer answer;
        assert_true(client_send(fd, request, (size_t)n));
        client_read(fd, &answer, false);
        assert_int_equal(answer.status, 200);
        assert_true(answer.whole);
        assert_null(strstr(answer.head, "Connection: close"));
        client_forget(&answer);
    }
    close(fd);
    server_stop(&server);
}

static void pipelined_requests_are_answered_in_order(void **state)
{
    (void)state;
    struct server server = server_start_default();
    static const char *const paths[] = {"/plan.txt", "/nothing", "/app.js"};
    static const int statuses[] = {200, 404, 200};
    char *requests = calloc(300, 128);
    size_t length = 0;
    for (int i = 0; i < 300; i++)
        length +=
            (size_t)sprintf(requests + length, "GET %s HTTP/1.1\r\nHost: localhost:%d\r\n\r\n",
                            paths[i % 3], server.port);
    int fd = client_dial(server.port);
    assert_true(client_send(fd, requests, length));
    for (int i = 0; i < 300; i++) {
        struct answer answer;
        client_read(fd, &answer, false);
        assert_int_equal(answer.status, statuses[i % 3]);
        assert_true(answer.whole);
        client_forget(&answer);
    }
    close(fd);
    free(requests);
    server_stop(&server);
}

/* With exactly 128 (or 256) connections ready at once the library's own thread sleeps on work. */
static void answer_all_ready_at_once(int count)
{
    struct server server = server_start_default();
    int *fds = calloc((size_t)count, sizeof *fds);
    char request[128];
    int n = snprintf(request, sizeof request,
                     "GET /plan.txt HTTP/1.1\r\nHost: localhost:%d\r\n\r\n", server.port);
    struct answer answer;
    int status;
    for (int i = 0; i < count; i++) { /* accepted and idle */
        fds[i] = client_dial(server.port);
        assert_true(client_send(fds[i], request, (size_t)n));
        client_read(fds[i], &answer, false);
        assert_int_equal(answer.status, 200);
        client_forget(&answer);
    }
    kill(server.pid, SIGSTOP);
    assert_int_equal(waitpid(server.pid, &status, WUNTRACED), server.pid);
    assert_true(WIFSTOPPED(status));
    for (int i = 0; i < count; i++)
        assert_true(client_send(fds[i], request, (size_t)n));
    kill(server.pid, SIGCONT);
    int answered = 0;
    for (int i = 0; i < count; i++) {
        client_read(fds[i], &answer, false);
        answered += answer.status == 200 && answer.whole;
        client_forget(&answer);
        if (answer.status == 0)
            break; /* ten seconds of silence are enough */
    }
    for (int i = 0; i < count; i++)
        close(fds[i]);
    free(fds);
    assert_int_equal(answered, count);
    server_stop(&server);
}

static void requests_ready_at_once_127_are_all_answered(void **state)
{
    (void)state;
    answer_all_ready_at_once(127);
}

static void requests_ready_at_once_128_are_all_answered(void **state)
{
    (void)state;
    answer_all_ready_at_once(128);
}

static void requests_ready_at_once_256_are_all_answered(void **state)
{
    (void)state;
    answer_all_ready_at_once(256);
}

/* At the limit the library looks at the listening socket only when it is called again. */
static void connections_at_the_limit_make_room_by_themselves(void **state)
{
    (void)state;
    struct setting setting = SETTING_DEFAULT;
    setting.limits.connections = 5;
    setting.limits.idle_s = 1;
    struct server server = server_start(&setting);
    int fds[5];
    for (size_t i = 0; i < 5; i++)
        fds[i] = client_dial(server.port);
    assert_int_equal(status_of(server.port, "GET", "/healthz", ""), 200);
    for (size_t i = 0; i < 5; i++)
        close(fds[i]);
    server_stop(&server);
}

/* A thousand that hang on: newcomers are answered at once, and above the limit those that have
 * waited longest make room. */
static void connections_idle_above_the_limit_are_closed_from_the_oldest(void **state)
{
    (void)state;
    enum { MANY = 1100, KEPT = 1000 };
    const struct rlimit room = {4096, 4096};
    struct rlimit was;
    struct setting setting = SETTING_DEFAULT;
    setting.limits.idle_s = 0; /* nothing else closes them */
    setting.limits.head_s = 3600;
    getrlimit(RLIMIT_NOFILE, &was);
    if (was.rlim_cur < room.rlim_cur && setrlimit(RLIMIT_NOFILE, &room) != 0)
        skip();
    struct server server = server_start(&setting);
    static int fds[MANY];
    for (size_t i = 0; i < MANY; i++) {
        fds[i] = client_dial(server.port);
        if (i % 100 == 99)
            assert_int_equal(status_of(server.port, "GET", "/healthz", ""), 200);
    }
    assert_int_equal(status_of(server.port, "GET", "/api/v1/plan", ""), 200);
    for (size_t i = 0; i < MANY - KEPT; i++)
        assert_true(client_closed(fds[i]));
    for (size_t i = 2 * (MANY - KEPT); i < MANY; i += 37) { /* the rest is still there */
        char byte;
        assert_int_equal(recv(fds[i], &byte, 1, MSG_DONTWAIT), -1);
        assert_int_equal(errno, EAGAIN);
    }
    for (size_t i = 0; i < MANY; i++)
        close(fds[i]);
    server_stop(&server);
}

static void connections_of_loopback_are_not_counted(void **state)
{
    (void)state;
    struct setting setting = SETTING_DEFAULT;
    setting.limits.per_address = 3;
    struct server server = server_start(&setting);
    int fds[6];
    for (size_t i = 0; i < 6; i++)
        fds[i] = client_dial(server.port);
    assert_int_equal(status_of(server.port, "GET", "/healthz", ""), 200);
    for (size_t i = 0; i < 6; i++)
        close(fds[i]);
    server_stop(&server);
}

static void connections_of_one_address_are_limited(void **state)
{
    (void)state;
    struct setting setting = SETTING_DEFAULT;
    setting.limits.per_address = 3;
    setting.limits.loopback_counts = true;
    struct server server = server_start(&setting);
    int fds[3];
    char request[128];
    struct answer answer;
    int n = snprintf(request, sizeof request, "GET /healthz HTTP/1.1\r\nHost: localhost:%d\r\n\r\n",
                     server.port);
    for (size_t i = 0; i < 3; i++) {
        fds[i] = client_dial(server.port);
        assert_true(client_send(fds[i], request, (size_t)n));
        client_read(fds[i], &answer, false);
        assert_int_equal(answer.status, 200);
        client_forget(&answer);
    }
    assert_int_equal(status_of(server.port, "GET", "/healthz", ""), 0);
    for (size_t i = 0; i < 3; i++)
        close(fds[i]);
    server_stop(&server);
}

/* Sends one byte after the other, a tenth of a second between; how many went out before the other
 * side closed. */
static int drip(int fd, int most)
{
    int sent = 0;
    char byte;
    while (sent < most && client_send(fd, "a", 1)) {
        sent++;
        usleep(100000);
        if (recv(fd, &byte, 1, MSG_DONTWAIT) == 0)
            break;
    }
    return sent;
}

enum { DRIPS = 150 }; /* fifteen seconds: only a server without the deadline lets all through */

static void headers_dripped_are_cut_at_the_deadline(void **state)
{
    (void)state;
    struct setting setting = SETTING_DEFAULT;
    setting.limits.head_s = 1;
    struct server server = server_start(&setting);
    static const char start[] = "GET / HTTP/1.1\r\nFoo: ";
    int fd = client_dial(server.port);
    assert_true(client_send(fd, start, sizeof start - 1));
    assert_true(drip(fd, DRIPS) < DRIPS);
    close(fd);
    /* The second request of a connection has the same deadline as the first. */
    struct answer answer;
    char request[128];
    int n = snprintf(request, sizeof request, "GET / HTTP/1.1\r\nHost: localhost:%d\r\n\r\n%s",
                     server.port, start);
    fd = client_dial(server.port);
    assert_true(client_send(fd, request, (size_t)n));
    client_read(fd, &answer, false);
    assert_int_equal(answer.status, 200);
    client_forget(&answer);
    assert_true(drip(fd, DRIPS) < DRIPS);
    close(fd);
    server_stop(&server);
}

static void body_dripped_is_cut_at_the_deadline(void **state)
{
    (void)state;
    struct setting setting = SETTING_DEFAULT;
    setting.limits.body_s = 1;
    struct server server = server_start(&setting);
    char request[128];
    int fd = client_dial(server.port);
    int n = snprintf(request, sizeof request,
                     "POST / HTTP/1.1\r\nHost: localhost:%d\r\nContent-Length: 1000\r\n\r\n",
                     server.port);
    assert_true(client_send(fd, request, (size_t)n));
    assert_true(drip(fd, DRIPS) < DRIPS);
    close(fd);
    server_stop(&server);
}

static void answer_sipped_is_cut_at_the_deadline(void **state)
{
    (void)state;
    struct setting setting = SETTING_DEFAULT;
    setting.limits.reply_s = 1;
    setting.numbers = 4000000; /* 8 MB: more than the sockets hold */
    struct server server = server_start(&setting);
    char request[128];
    char sip[1024];
    size_t drunk = 0;
    ssize_t got;
    int sips = 0;
    int fd = client_dial(server.port);
    int n = snprintf(request, sizeof request,
                     "GET /plan.txt HTTP/1.1\r\nHost: localhost:%d\r\n\r\n", server.port);
    assert_true(client_send(fd, request, (size_t)n));
    for (; sips < 30; sips++) { /* three seconds of sipping, then all that is left */
        drunk += (size_t)((got = recv(fd, sip, sizeof sip, 0)) > 0 ? got : 0);
        usleep(100000);
    }
    while ((got = recv(fd, sip, sizeof sip, 0)) > 0)
        drunk += (size_t)got;
    assert_true(drunk < 8000000);
    close(fd);
    server_stop(&server);
}

/* --- publishing under load, in one process for the thread sanitizer -------------------------- */

enum { SWAPS = 400 };

struct load {
    struct serving serving;
    int signal_fd;
    atomic_bool published_all;
    int result;
};

static void *serve_until_stopped(void *context)
{
    struct load *load = context;
    struct error error;
    const struct loop_work work = {
        .context = &load->serving, .fd = http_fd(load->serving.http), .turn = serving_turn};
    load->result = loop_run(load->signal_fd, &work, &error);
    return NULL;
}

static void *publish_many(void *context)
{
    struct load *load = context;
    for (int i = 2; i < SWAPS; i++)
        publish(load->serving.cell, i, 3000, false);
    atomic_store(&load->published_all, true);
    return NULL;
}

/* One number, 3,000 times, and nothing else. */
static bool is_whole_number_text(const char *body)
{
    long number = strtol(body, NULL, 10);
    char *expected = say_number((int)number, 3000);
    bool same = number > 0 && strcmp(body, expected) == 0;
    free(expected);
    return same;
}

static void publish_under_load_never_mixes_snapshots(void **state)
{
    (void)state;
    struct load load = {.serving = {.cell = snapshot_cell_new()}};
    struct error error;
    struct assets assets;
    char folder[32];
    sigset_t mask;
    pthread_t server, publisher;
    make_page(folder);
    assert_int_equal(assets_load(folder, &assets, &error), 0);
    pthread_sigmask(SIG_SETMASK, NULL, &mask);
    load.signal_fd = loop_signals(&error);
    const struct http_options options = {.listen = "127.0.0.1",
                                         .limits = HTTP_LIMITS_DEFAULT,
                                         .assets = &assets,
                                         .cell = load.serving.cell};
    publish(load.serving.cell, 1, 3000, false);
    load.serving.http = http_open(&options, &error);
    assert_non_null(load.serving.http);
    int port = http_port(load.serving.http);
    pthread_create(&server, NULL, serve_until_stopped, &load);
    pthread_create(&publisher, NULL, publish_many, &load);
    char request[128];
    int n = snprintf(request, sizeof request,
                     "GET /plan.txt HTTP/1.1\r\nHost: localhost:%d\r\n\r\n", port);
    int fds[4];
    for (size_t i = 0; i < 4; i++)
        fds[i] = client_dial(port);
    long last = 0;
    int torn = 0;
    while (last < SWAPS - 1 && torn == 0) {
        bool final = atomic_load(&load.published_all);
        for (size_t i = 0; i < 4; i++)
            client_send(fds[i], request, (size_t)n);
        for (size_t i = 0; i < 4; i++) {
            struct answer answer;
            client_read(fds[i], &answer, false);
            torn += answer.status != 200 || !answer.whole || !is_whole_number_text(answer.body);
            last = answer.body ? strtol(answer.body, NULL, 10) : 0;
            client_forget(&answer);
        }
        assert_true(!final || last == SWAPS - 1);
    }
    for (size_t i = 0; i < 4; i++)
        close(fds[i]);
    pthread_join(publisher, NULL);
    pthread_kill(server, SIGTERM);
    pthread_join(server, NULL);
    pthread_sigmask(SIG_SETMASK, &mask, NULL);
    http_close(load.serving.http);
    snapshot_cell_free(load.serving.cell);
    assets_clear(&assets);
    close(load.signal_fd);
    char command[64];
    snprintf(command, sizeof command, "rm -r %s", folder);
    assert_int_equal(system(command), 0);
    assert_int_equal(load.result, 0);
    assert_int_equal(torn, 0);
}

/* --- opening -------------------------------------------------------------------------------- */

static void http_open_refuses_what_it_cannot_listen_on(void **state)
{
    (void)state;
    struct error error;
    const struct assets none = {NULL, 0};
    struct snapshot_cell *cell = snapshot_cell_new();
    struct http_options options = {
        .listen = "127.0.0.1", .limits = HTTP_LIMITS_DEFAULT, .assets = &none, .cell = cell};
    struct http *first = http_open(&options, &error);
    assert_non_null(first);
    options.port = http_port(first);
    assert_null(http_open(&options, &error));
    assert_non_null(strstr(error.text, "in use"));
    http_close(first);
    options.listen = "somewhere";
    assert_null(http_open(&options, &error));
    assert_non_null(strstr(error.text, "somewhere"));
    snapshot_cell_free(cell);
}

static void http_address_names_what_a_browser_here_can_reach(void **state)
{
    (void)state;
    static const struct {
        const char *listen, *expected;
    } cases[] = {
        {"127.0.0.1", "127.0.0.1"}, {"0.0.0.0", "127.0.0.1"}, {"::1", "[::1]"}, {"::", "[::1]"}};
    const struct assets none = {NULL, 0};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct error error;
        struct snapshot_cell *cell = snapshot_cell_new();
        const struct http_options options = {.listen = cases[i].listen,
                                             .limits = HTTP_LIMITS_DEFAULT,
                                             .assets = &none,
                                             .cell = cell};
        struct http *http = http_open(&options, &error);
        if (!http && strchr(cases[i].listen, ':')) {
            snapshot_cell_free(cell);
            continue; /* a machine without IPv6 */
        }
        assert_non_null(http);
        char address[64];
        char expected[64];
        http_address(http, address, sizeof address);
        snprintf(expected, sizeof expected, "http://%s:%d/", cases[i].expected, http_port(http));
        assert_string_equal(address, expected);
        http_close(http);
        snapshot_cell_free(cell);
    }
}

static void assets_load_refuses_a_folder_without_a_page(void **state)
{
    (void)state;
    struct assets assets;
    struct error error;
    char folder[] = "/tmp/perchd-test-XXXXXX";
    assert_non_null(mkdtemp(folder));
    assert_int_equal(assets_load(folder, &assets, &error), -1);
    assert_non_null(strstr(error.text, "index.html"));
    rmdir(folder);
    assert_int_equal(assets_load(folder, &assets, &error), -1);
    assert_non_null(strstr(error.text, folder));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(get_plan_gives_the_snapshot_with_its_headers),
        cmocka_unit_test(get_page_serves_known_files_only),
        cmocka_unit_test(head_gives_the_head_of_get),
        cmocka_unit_test(get_with_gzip_gives_bytes_that_unpack_to_the_same),
        cmocka_unit_test(get_with_accept_is_negotiated),
        cmocka_unit_test(get_if_none_match_gives_304_with_the_length_of_200),
        cmocka_unit_test(get_plan_before_the_first_snapshot_gives_503),
        cmocka_unit_test(get_plan_after_publishing_gives_the_new_one),
        cmocka_unit_test(get_part_of_a_plan_small_and_large),
        cmocka_unit_test(requests_out_of_order_are_refused_by_the_book),
        cmocka_unit_test(requests_with_doubtful_framing_close_the_connection),
        cmocka_unit_test(request_line_or_headers_too_long_are_refused),
        cmocka_unit_test(chunked_body_too_long_gives_413_and_endless_is_cut),
        cmocka_unit_test(get_many_times_keeps_one_connection),
        cmocka_unit_test(pipelined_requests_are_answered_in_order),
        cmocka_unit_test(requests_ready_at_once_127_are_all_answered),
        cmocka_unit_test(requests_ready_at_once_128_are_all_answered),
        cmocka_unit_test(requests_ready_at_once_256_are_all_answered),
        cmocka_unit_test(connections_at_the_limit_make_room_by_themselves),
        cmocka_unit_test(connections_idle_above_the_limit_are_closed_from_the_oldest),
        cmocka_unit_test(connections_of_loopback_are_not_counted),
        cmocka_unit_test(connections_of_one_address_are_limited),
        cmocka_unit_test(headers_dripped_are_cut_at_the_deadline),
        cmocka_unit_test(body_dripped_is_cut_at_the_deadline),
        cmocka_unit_test(answer_sipped_is_cut_at_the_deadline),
        cmocka_unit_test(publish_under_load_never_mixes_snapshots),
        cmocka_unit_test(http_open_refuses_what_it_cannot_listen_on),
        cmocka_unit_test(http_address_names_what_a_browser_here_can_reach),
        cmocka_unit_test(assets_load_refuses_a_folder_without_a_page),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
