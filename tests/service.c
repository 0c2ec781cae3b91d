/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check.h"

#include "service.h"

#include <jansson.h>
#include <signal.h>
#include <stdbool.h>
#include <sys/prctl.h>
#include <sys/wait.h>
#include <unistd.h>

#include "daemon/utf8.h"

static void run(struct service *service, int out_fd)
{
    char path[256];
    prctl(PR_SET_PDEATHSIG, SIGKILL);
    dup2(out_fd, STDOUT_FILENO);
    if (!freopen(service->log, "a", stderr))
        _exit(126);
    check_program("perchd", path, sizeof path);
    execl(path, path, "serve", "--config", service->example.config, (char *)NULL);
    _exit(127);
}

void service_resume(struct service *service)
{
    char line[512];
    char scheme[8];
    int ends[2];
    assert_int_equal(pipe(ends), 0);
    fflush(NULL);
    service->pid = fork();
    assert_true(service->pid >= 0);
    if (service->pid == 0)
        run(service, ends[1]);
    close(ends[1]);
    service->out = fdopen(ends[0], "r");
    assert_non_null(service->out);
    while (fgets(line, sizeof line, service->out))
        if (sscanf(line, "serving %7[a-z]://127.0.0.1:%d/", scheme, &service->port) == 2) {
            service->tls = strcmp(scheme, "https") == 0;
            return;
        }
    fail_msg("no line that says where it serves");
}

int service_command(const struct service *service, const char *input, const char *words, char *out,
                    size_t size)
{
    char path[256];
    char command[1024];
    char err[1024];
    check_program("perchd", path, sizeof path);
    snprintf(command, sizeof command, "printf '%%s\\n' '%s' | %s %s --config %s", input, path,
             words, service->example.config);
    int code = check_run(command, out, size, err, sizeof err);
    if (code != 0 && size > strlen(err))
        snprintf(out, size, "%s", err);
    return code;
}

static void make_token(const struct service *service, const char *words, char *fields, size_t size)
{
    char token[256];
    if (service_command(service, "", words, token, sizeof token) != 0)
        fail_msg("%s: %s", words, token);
    snprintf(fields, size, "Authorization: Bearer %.*s\r\n", (int)strcspn(token, "\n"), token);
}

/* The keys of [serve] end with the one that every example has. */
struct example service_example_with(const char *lines)
{
    static const char last[] = "port = 0\n";
    struct example example = example_make(NULL, true);
    char before[2048] = "";
    char after[4096];
    FILE *in = fopen(example.config, "r");
    assert_non_null(in);
    before[fread(before, 1, sizeof before - 1, in)] = '\0';
    fclose(in);
    const char *at = strstr(before, last);
    assert_non_null(at);
    at += sizeof last - 1;
    size_t used = (size_t)snprintf(after, sizeof after, "%.*s", (int)(at - before), before);
    for (const char *c = lines; *c && used + 128 < sizeof after; c++) {
        bool folder = c[0] == '%' && c[1] == 's';
        used += folder ? (size_t)snprintf(after + used, sizeof after - used, "%s", example.folder)
                       : (size_t)snprintf(after + used, sizeof after - used, "%c", *c);
        c += folder;
    }
    snprintf(after + used, sizeof after - used, "%s", at);
    example_write(&example, "perchd.conf", after);
    return example;
}

struct service service_start(void)
{
    return service_start_with("");
}

struct service service_start_with(const char *lines)
{
    struct service service = {.example = service_example_with(lines)};
    char out[512];
    snprintf(service.log, sizeof service.log, "%s/log", service.example.folder);
    make_token(&service, "token add gate --scope controller", service.controller,
               sizeof service.controller);
    make_token(&service, "token add mast --scope station", service.station, sizeof service.station);
    if (service_command(&service, "plants before pumps", "account add ines --role grower", out,
                        sizeof out) != 0)
        fail_msg("%s", out);
    service_resume(&service);
    return service;
}

int service_end(struct service *service, int with_signal)
{
    int status;
    kill(service->pid, with_signal);
    assert_int_equal(waitpid(service->pid, &status, 0), service->pid);
    fclose(service->out);
    return WIFEXITED(status) ? WEXITSTATUS(status) : -WTERMSIG(status);
}

void service_stop(struct service *service)
{
    assert_int_equal(service_end(service, SIGTERM), 0);
    example_remove(&service->example);
}

/* Every exchange as a line of JSON into $PERCHD_EXCHANGES: another program holds them against the
 * description of the API. */
static void record(const char *method, const char *path, const char *request,
                   const struct answer *answer)
{
    const char *file = getenv("PERCHD_EXCHANGES");
    char type[128];
    char coding[32];
    bool packed = client_field(answer, "Content-Encoding", coding, sizeof coding)[0] != '\0';
    FILE *out = file && !packed ? fopen(file, "a") : NULL;
    if (!out)
        return;
    bool plain = request && utf8_check(request, strlen(request)) == strlen(request);
    json_t *line = json_pack("{s:s, s:s, s:s*, s:i, s:s, s:s%}", "method", method, "path", path,
                             "request", plain ? request : NULL, "status", answer->status, "type",
                             client_field(answer, "Content-Type", type, sizeof type), "body",
                             answer->body ? answer->body : "", answer->length);
    char *text = line ? json_dumps(line, JSON_COMPACT) : NULL;
    assert_non_null(text); /* an answer that is not UTF-8 is none of ours */
    fprintf(out, "%s\n", text ? text : "");
    fclose(out);
    free(text);
    json_decref(line);
}

void service_ask(const struct service *service, const char *method, const char *path,
                 const char *fields, const char *body, struct answer *answer)
{
    char head[4096];
    int n = snprintf(head, sizeof head, "%s %s HTTP/1.1\r\nHost: localhost:%d\r\n%s", method, path,
                     service->port, fields);
    if (body)
        n += snprintf(head + n, sizeof head - (size_t)n,
                      "Content-Type: application/json\r\nContent-Length: %zu\r\n", strlen(body));
    n += snprintf(head + n, sizeof head - (size_t)n, "\r\n");
    assert_in_range(n, 1, (int)sizeof head - 1);
    int fd = client_dial(service->port);
    client_send(fd, head, (size_t)n);
    if (body)
        client_send(fd, body, strlen(body));
    client_read(fd, answer, strcmp(method, "HEAD") == 0);
    close(fd);
    record(method, path, body, answer);
}

int service_status(const struct service *service, const char *method, const char *path,
                   const char *fields, const char *body)
{
    struct answer answer;
    service_ask(service, method, path, fields, body, &answer);
    client_forget(&answer);
    return answer.status;
}

char *service_sign_in(const struct service *service)
{
    struct answer answer;
    char cookie[512];
    char *fields = malloc(700);
    assert_non_null(fields);
    service_ask(service, "POST", "/api/v1/session", "",
                "{\"account\": \"ines\", \"password\": \"plants before pumps\"}", &answer);
    assert_int_equal(answer.status, 201);
    client_field(&answer, "Set-Cookie", cookie, sizeof cookie);
    client_forget(&answer);
    snprintf(fields, 700, "Cookie: %.*s\r\nOrigin: http://localhost:%d\r\n",
             (int)strcspn(cookie, ";"), cookie, service->port);
    return fields;
}
