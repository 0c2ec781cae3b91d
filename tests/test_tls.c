/* SPDX-License-Identifier: GPL-3.0-or-later */
/* TLS from files: the real program asked by curl with the test's own certificate, and the HTTP side
 * with short deadlines against clients that shake hands slowly, badly or not at all.
 */
#include "check.h"

#include <errno.h>
#include <gnutls/gnutls.h>
#include <jansson.h>
#include <signal.h>
#include <stdbool.h>
#include <stdio.h>
#include <sys/prctl.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "certificate.h"
#include "daemon/http.h"
#include "daemon/loop.h"
#include "daemon/tls.h"
#include "scratch.h"
#include "service.h"

#define TLS_LINES "tls_certificate = c.pem\ntls_key = c.key\n"

/* --- a client ----------------------------------------------------------------------------- */

/* One connection whose certificate nobody checks: curl does that. */
struct line {
    int fd;
    gnutls_session_t session;
    gnutls_certificate_credentials_t trust;
};

static void line_prepare(struct line *line, int port)
{
    line->fd = client_dial(port);
    assert_int_equal(gnutls_certificate_allocate_credentials(&line->trust), 0);
    assert_int_equal(gnutls_init(&line->session, GNUTLS_CLIENT), 0);
    assert_int_equal(gnutls_set_default_priority(line->session), 0);
    assert_int_equal(gnutls_credentials_set(line->session, GNUTLS_CRD_CERTIFICATE, line->trust), 0);
    gnutls_transport_set_int(line->session, line->fd);
}

static void line_open(struct line *line, int port)
{
    int code;
    line_prepare(line, port);
    do
        code = gnutls_handshake(line->session);
    while (code < 0 && !gnutls_error_is_fatal(code));
    assert_int_equal(code, 0);
}

static void line_close(struct line *line)
{
    gnutls_deinit(line->session);
    gnutls_certificate_free_credentials(line->trust);
    close(line->fd);
}

static bool line_send(const struct line *line, const char *text)
{
    return gnutls_record_send(line->session, text, strlen(text)) == (ssize_t)strlen(text);
}

/* The status of one short answer on it, 0 when the other side closed. */
static int line_status(const struct line *line)
{
    char text[4096] = "";
    size_t used = 0;
    while (!strstr(text, "ok\n") && used + 1 < sizeof text) {
        ssize_t n = gnutls_record_recv(line->session, text + used, sizeof text - used - 1);
        if (n == GNUTLS_E_AGAIN || n == GNUTLS_E_INTERRUPTED)
            continue;
        if (n <= 0)
            return 0;
        used += (size_t)n;
        text[used] = '\0';
    }
    return (int)strtol(text + strlen("HTTP/1.1 "), NULL, 10);
}

/* What curl says of a path: its exit code; its output in out. */
static int ask(const struct service *service, const char *trusted, const char *options,
               const char *path, char *out, size_t size)
{
    char command[2048];
    char err[512];
    snprintf(command, sizeof command,
             "curl -sS --noproxy '*' --max-time 60 --cacert %s/%s.pem %s https://localhost:%d%s",
             service->example.folder, trusted, options, service->port, path);
    return check_run(command, out, size, err, sizeof err);
}

/* --- the program -------------------------------------------------------------------------- */

static struct example example_with(const char *lines, int days)
{
    struct example example = service_example_with(lines);
    certificate_make(example.folder, "c", days);
    certificate_make(example.folder, "d", days);
    return example;
}

/* The service with a certificate of 30 days. */
static struct service start(void)
{
    struct service service = {.example = example_with(TLS_LINES, 30)};
    char out[512];
    snprintf(service.log, sizeof service.log, "%s/log", service.example.folder);
    assert_int_equal(service_command(&service, "plants before pumps",
                                     "account add ines --role grower", out, sizeof out),
                     0);
    service_resume(&service);
    assert_true(service.tls);
    return service;
}

static bool log_holds(const struct service *service, const char *words)
{
    static char text[65536];
    FILE *f = fopen(service->log, "r");
    assert_non_null(f);
    text[fread(text, 1, sizeof text - 1, f)] = '\0';
    fclose(f);
    return strstr(text, words) != NULL;
}

static void serve_over_tls_is_what_a_strict_client_takes(void **state)
{
    (void)state;
    struct service service = start();
    static char out[1 << 20];
    assert_int_equal(ask(&service, "c", "", "/healthz", out, sizeof out), 0);
    assert_string_equal(out, "ok\n");
    /* long answers come whole, packed and not */
    assert_int_equal(ask(&service, "c", "", "/api/v1/openapi.json", out, sizeof out), 0);
    json_t *document = json_loads(out, 0, NULL);
    assert_non_null(document);
    json_decref(document);
    assert_true(strlen(out) > 100000);
    assert_int_equal(ask(&service, "c", "--compressed", "/api/v1/openapi.json", out, sizeof out),
                     0);
    document = json_loads(out, 0, NULL);
    assert_non_null(document);
    json_decref(document);
    /* many on one connection */
    assert_int_equal(ask(&service, "c", "-o /dev/null -w '%{http_code} %{num_connects}\\n'",
                         "/[a-z].txt", out, sizeof out),
                     0);
    assert_string_equal(strchr(out, '\n') + 1 + 6 * 24, "404 0\n");
    /* not by another certificate, not by an old protocol */
    assert_int_equal(ask(&service, "d", "", "/healthz", out, sizeof out), 60); /* curl(1) */
    assert_int_equal(ask(&service, "c", "--tls-max 1.1", "/healthz", out, sizeof out), 35);
    assert_int_equal(ask(&service, "c", "--tlsv1.2 --tls-max 1.2", "/healthz", out, sizeof out), 0);
    service_stop(&service);
}

static void sessions_over_tls_are_for_tls_only(void **state)
{
    (void)state;
    struct service service = start();
    char options[1024];
    char out[4096];
    snprintf(options, sizeof options,
             "-i -c %s/jar -H 'Content-Type: application/json' --data-binary "
             "'{\"account\":\"ines\",\"password\":\"plants before pumps\"}'",
             service.example.folder);
    assert_int_equal(ask(&service, "c", options, "/api/v1/session", out, sizeof out), 0);
    assert_non_null(strstr(out, " 201 "));
    assert_non_null(strstr(out, "HttpOnly; SameSite=Strict; Secure"));
    static const struct {
        const char *origin;
        const char *status;
    } rows[] = {{"https", "201"}, {"http", "403"}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        snprintf(options, sizeof options,
                 "-o /dev/null -w '%%{http_code}' -b %s/jar -H 'Origin: %s://localhost:%d' -H "
                 "'Content-Type: application/json' --data-binary "
                 "'{\"mix\":\"m-%zu\",\"class\":\"peat\"}'",
                 service.example.folder, rows[i].origin, service.port, i);
        assert_int_equal(ask(&service, "c", options, "/api/v1/mixes", out, sizeof out), 0);
        assert_string_equal(out, rows[i].status);
    }
    service_stop(&service);
}

static void plain_http_on_the_tls_port_gets_nothing(void **state)
{
    (void)state;
    struct service service = start();
    static const char *const starts[] = {
        "GET /healthz HTTP/1.1\r\nHost: localhost\r\n\r\n", "\x80\x2e\x01\x03\x01", "\r\n\r\n\r\n",
        "\x16\x03\x01\xff\xff nonsense, and more of it so that it could be a record"};
    char out[64];
    for (size_t i = 0; i < sizeof starts / sizeof starts[0]; i++) {
        char byte[64];
        int fd = client_dial(service.port);
        client_send(fd, starts[i], strlen(starts[i]));
        shutdown(fd, SHUT_WR);
        ssize_t n = recv(fd, byte, sizeof byte, 0);
        assert_true(n <= 0 || byte[0] == 0x15); /* an alert (RFC 8446, 5.1), no HTTP */
        close(fd);
        assert_int_equal(ask(&service, "c", "", "/healthz", out, sizeof out), 0);
    }
    service_stop(&service);
}

/* Asks until new connections get the certificate. */
static bool comes_to_trust(const struct service *service, const char *name)
{
    char out[64];
    for (int i = 0; i < 200; i++) {
        if (ask(service, name, "", "/healthz", out, sizeof out) == 0)
            return true;
        usleep(20000);
    }
    return false;
}

static void shell(const struct service *service, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

static void shell(const struct service *service, const char *format, ...)
{
    char words[512];
    char command[640];
    char out[256];
    char err[256];
    va_list args;
    va_start(args, format);
    vsnprintf(words, sizeof words, format, args);
    va_end(args);
    snprintf(command, sizeof command, "cd %s && %s", service->example.folder, words);
    assert_int_equal(check_run(command, out, sizeof out, err, sizeof err), 0);
}

static void renewed_files_are_taken_up_while_connections_go_on(void **state)
{
    (void)state;
    static const char request[] = "GET /healthz HTTP/1.1\r\nHost: plan.nursery.example\r\n\r\n";
    struct service service = {.example = example_with(TLS_LINES "host_names = "
                                                                "plan.nursery.example\n",
                                                      30)};
    char out[64];
    struct line line;
    snprintf(service.log, sizeof service.log, "%s/log", service.example.folder);
    service_resume(&service);
    line_open(&line, service.port);
    assert_true(line_send(&line, request));
    assert_int_equal(line_status(&line), 200);
    /* only one of the two is new yet: what was there stays */
    shell(&service, "cp c.pem old.pem && cp d.key c.key");
    kill(service.pid, SIGHUP);
    while (!log_holds(&service, "the certificate from before stays"))
        usleep(20000);
    assert_true(log_holds(&service, "not the key of the certificate"));
    assert_int_equal(ask(&service, "old", "", "/healthz", out, sizeof out), 0);
    shell(&service, "cp d.pem c.pem");
    kill(service.pid, SIGHUP);
    assert_true(comes_to_trust(&service, "d"));
    assert_int_equal(ask(&service, "old", "", "/healthz", out, sizeof out), 60);
    assert_true(line_send(&line, request)); /* the connection from before goes on */
    assert_int_equal(line_status(&line), 200);
    line_close(&line);
    service_stop(&service);
}

static void files_that_are_no_good_stop_the_start_by_name(void **state)
{
    (void)state;
    static const struct {
        const char *lines, *setup, *key, *says;
    } rows[] = {
        {TLS_LINES, "rm c.pem", "tls_certificate", "No such file"},
        {TLS_LINES, "rm c.key", "tls_key", "No such file"},
        {TLS_LINES, "chmod 644 c.key", "tls_key", "mode 0640 or 0600"},
        {TLS_LINES, "chmod 660 c.key", "tls_key", "mode 0640 or 0600"},
        {TLS_LINES, "cp d.key c.key", "tls_key", "not the key of the certificate"},
        {TLS_LINES, "echo hello >c.pem", "tls_certificate", "no certificate"},
        {TLS_LINES, "echo hello >c.key", "tls_key", "no private key"},
        {TLS_LINES, ": >c.pem", "tls_certificate", "no certificate"},
        {TLS_LINES, "cp c.key c.pem", "tls_certificate", "no certificate"},
        {TLS_LINES, "rm c.key && mkdir -m 700 c.key", "tls_key", "not a file"},
        {TLS_LINES, "rm c.key && mkfifo -m 600 c.key", "tls_key", "not a file"},
        {TLS_LINES, "head -c 70000 /dev/zero >c.pem", "tls_certificate", "longer than 64 KB"},
        {TLS_LINES, "openssl ec -in d.key -aes128 -passout pass:secret -out c.key 2>/dev/null",
         "tls_key", "without a password"},
        {"tls_certificate = c.pem\n", ":", "tls_certificate", "given without tls_key"},
        {"tls_key = c.key\n", ":", "tls_key", "given without tls_certificate"},
        {"tls_key =\n", ":", "tls_key", "a value"},
        {"host_names = a.example, b_c.example\n", ":", "host_names", "https://plan.nursery"},
        {"host_names = a,b,c,d,e,f,g,h,i\n", ":", "host_names", "at most 8"},
        {"host_names = a.example,\n", ":", "host_names", "names with commas"},
        {"reading = closed\n", ":", "reading", "open or sign-in"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct service service = {.example = example_with(rows[i].lines, 30)};
        char out[1024];
        char name[64];
        shell(&service, "%s", rows[i].setup);
        snprintf(name, sizeof name, ": %s: ", rows[i].key);
        static const char *const words[] = {"check-config", "serve"};
        for (size_t w = 0; w < 2; w++) {
            int code = service_command(&service, "", words[w], out, sizeof out);
            if (code != 2 || !strstr(out, "perchd.conf:") || !strstr(out, name) ||
                !strstr(out, rows[i].says))
                fail_msg("row %zu, %s: %d %s", i, words[w], code, out);
        }
        example_remove(&service.example);
    }
}

static void check_config_warns_of_what_can_be_overheard(void **state)
{
    (void)state;
    static const struct {
        const char *lines;
        int days;
        const char *warning; /* NULL: none */
    } rows[] = {
        {"", 30, NULL},
        {"listen = 0.0.0.0\n", 30, "warning: listen = 0.0.0.0 without TLS"},
        {"listen = 0.0.0.0\n" TLS_LINES, 30, NULL},
        {TLS_LINES, 3, "warning: tls_certificate: it ends on 2"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct service service = {.example = example_with(rows[i].lines, rows[i].days)};
        char out[2048];
        snprintf(service.log, sizeof service.log, "%s/log", service.example.folder);
        assert_int_equal(service_command(&service, "", "check-config", out, sizeof out), 0);
        assert_non_null(strstr(out, "configuration good"));
        const char *warning = strstr(out, "warning: ");
        if (!rows[i].warning != !warning || (warning && !strstr(warning, rows[i].warning)))
            fail_msg("row %zu: %s", i, out);
        service_resume(&service); /* and it does start, saying the same */
        assert_int_equal(log_holds(&service, "warning: serve: "), rows[i].warning != NULL);
        service_stop(&service);
    }
}

/* --- the HTTP side with short deadlines ----------------------------------------------------- */

struct server {
    pid_t pid;
    int port;
    struct scratch scratch;
};

static int serving_turn(void *context)
{
    return http_turn(context);
}

/* The child. Never returns. */
static void serve(const struct config *config, const struct http_limits *limits, int port_fd)
{
    struct error error;
    const struct assets none = {NULL, 0};
    struct snapshot_cell *cell = snapshot_cell_new();
    struct tls *tls = tls_open(config, &error);
    int signal_fd = loop_signals(&error);
    const struct http_options options = {
        .listen = "127.0.0.1", .limits = *limits, .assets = &none, .cell = cell, .tls = tls};
    struct http *http = tls ? http_open(&options, &error) : NULL;
    int port = http ? http_port(http) : 0;
    int code = 9;
    if (http && write(port_fd, &port, sizeof port) == (ssize_t)sizeof port) {
        const struct loop_work work = {.context = http, .fd = http_fd(http), .turn = serving_turn};
        code = loop_run(signal_fd, &work, &error) == 0 ? 0 : 8;
    }
    http_close(http);
    tls_close(tls);
    snapshot_cell_free(cell);
    close(signal_fd);
    close(port_fd);
    exit(code);
}

static void server_start(struct server *server, const struct http_limits *limits)
{
    static struct config config;
    int ends[2];
    scratch_open(&server->scratch);
    const char *folder = server->scratch.folder;
    certificate_make(folder, "c", 30);
    config = (struct config){.path = "test.conf"};
    snprintf(config.tls_certificate, sizeof config.tls_certificate, "%s/c.pem", folder);
    snprintf(config.tls_key, sizeof config.tls_key, "%s/c.key", folder);
    assert_int_equal(pipe(ends), 0);
    fflush(NULL);
    server->pid = fork();
    assert_true(server->pid >= 0);
    if (server->pid == 0) {
        prctl(PR_SET_PDEATHSIG, SIGKILL);
        serve(&config, limits, ends[1]);
    }
    close(ends[1]);
    ssize_t n = read(ends[0], &server->port, sizeof server->port);
    close(ends[0]);
    assert_int_equal(n, sizeof server->port);
}

static void server_stop(struct server *server)
{
    int status;
    kill(server->pid, SIGTERM);
    assert_int_equal(waitpid(server->pid, &status, 0), server->pid);
    scratch_close(&server->scratch);
    assert_true(WIFEXITED(status));
    assert_int_equal(WEXITSTATUS(status), 0);
}

static bool serves(const struct server *server)
{
    struct line line;
    char request[96];
    snprintf(request, sizeof request, "GET /healthz HTTP/1.1\r\nHost: localhost:%d\r\n\r\n",
             server->port);
    line_open(&line, server->port);
    bool good = line_send(&line, request) && line_status(&line) == 200;
    line_close(&line);
    return good;
}

/* A client that begins a handshake and sends a byte of it now and then holds no place. */
static void handshakes_never_finished_are_cut_at_the_deadline(void **state)
{
    (void)state;
    struct http_limits limits = HTTP_LIMITS_DEFAULT;
    struct server server;
    limits.idle_s = 60; /* the deadline alone decides */
    limits.head_s = 2;
    server_start(&server, &limits);
    int silent = client_dial(server.port);
    int dripping = client_dial(server.port);
    /* A record that announces 512 bytes of a ClientHello. */
    static const char start[] = "\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03";
    bool open = true;
    for (size_t sent = 0; open && sent < 200; sent++) {
        char byte = sent < sizeof start - 1 ? start[sent] : 'x';
        open = client_send(dripping, &byte, 1);
        char end;
        ssize_t n = recv(dripping, &end, 1, MSG_DONTWAIT);
        open = open && n != 0 && (n > 0 || errno == EAGAIN || errno == EWOULDBLOCK);
        usleep(100000);
    }
    assert_false(open);
    assert_true(client_closed(silent));
    close(silent);
    close(dripping);
    assert_true(serves(&server));
    server_stop(&server);
}

static void headers_dripped_over_tls_are_cut_at_the_deadline(void **state)
{
    (void)state;
    struct http_limits limits = HTTP_LIMITS_DEFAULT;
    struct server server;
    struct line line;
    limits.idle_s = 60;
    limits.head_s = 2;
    server_start(&server, &limits);
    line_open(&line, server.port);
    bool open = line_send(&line, "GET /healthz HTTP/1.1\r\nHost: ");
    assert_true(open);
    for (int i = 0; open && i < 200; i++) {
        char end;
        open = line_send(&line, "x");
        ssize_t n = recv(line.fd, &end, 1, MSG_DONTWAIT | MSG_PEEK);
        open = open && n != 0;
        usleep(100000);
    }
    assert_false(open);
    line_close(&line);
    assert_true(serves(&server));
    server_stop(&server);
}

static void idle_lines_over_tls_make_room_from_the_oldest(void **state)
{
    (void)state;
    struct http_limits limits = HTTP_LIMITS_DEFAULT;
    struct server server;
    struct line lines[12];
    int silent[12];
    limits.idle = 10;
    server_start(&server, &limits);
    for (size_t i = 0; i < 12; i++)
        line_open(&lines[i], server.port);
    for (size_t i = 0; i < 12; i++) /* these never say a word */
        silent[i] = client_dial(server.port);
    assert_true(serves(&server));
    for (size_t i = 0; i < 12; i++) {
        if (i == 0)
            assert_true(client_closed(lines[0].fd) || line_status(&lines[0]) == 0);
        line_close(&lines[i]);
        close(silent[i]);
    }
    assert_true(serves(&server));
    server_stop(&server);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(serve_over_tls_is_what_a_strict_client_takes),
        cmocka_unit_test(sessions_over_tls_are_for_tls_only),
        cmocka_unit_test(plain_http_on_the_tls_port_gets_nothing),
        cmocka_unit_test(renewed_files_are_taken_up_while_connections_go_on),
        cmocka_unit_test(files_that_are_no_good_stop_the_start_by_name),
        cmocka_unit_test(check_config_warns_of_what_can_be_overheard),
        cmocka_unit_test(handshakes_never_finished_are_cut_at_the_deadline),
        cmocka_unit_test(headers_dripped_over_tls_are_cut_at_the_deadline),
        cmocka_unit_test(idle_lines_over_tls_make_room_from_the_oldest),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
