/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "bench_load.h"

#include <arpa/inet.h>
#include <dirent.h>
#include <errno.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/epoll.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

enum { HEAD_SIZE = 4096, REQUEST_SIZE = 1024, EVENTS = 64, SILENCE_MS = 10000 };

struct line { /* a connection */
    int fd;
    size_t used;        /* of head */
    unsigned long left; /* bytes of the body still to come */
    bool in_body;
    double sent_s;
    char head[HEAD_SIZE];
};

struct run {
    const struct load *load;
    char request[REQUEST_SIZE];
    size_t request_length;
    struct line *lines;
    int epoll_fd;
    double *taken_s; /* one an answer, NULL: not kept */
    size_t answers, room;
    size_t bytes;
};

void load_die(const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    fputs("bench: ", stderr);
    vfprintf(stderr, format, arguments);
    fputc('\n', stderr);
    va_end(arguments);
    exit(EXIT_FAILURE);
}

double load_now_s(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

int load_dial(int port)
{
    struct sockaddr_in address = {.sin_family = AF_INET, .sin_port = htons((uint16_t)port)};
    int on = 1;
    address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    int fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    if (fd < 0)
        load_die("socket: %s", strerror(errno));
    if (connect(fd, (const struct sockaddr *)&address, sizeof address) != 0) {
        close(fd);
        return -1;
    }
    setsockopt(fd, IPPROTO_TCP, TCP_NODELAY, &on, sizeof on);
    return fd;
}

/* --- what it costs the server ---------------------------------------------------------------- */

/* Seconds that all threads of a process have run (the first figure of schedstat is nanoseconds). */
static double run_time_s(pid_t pid)
{
    char path[320];
    double sum_s = 0;
    snprintf(path, sizeof path, "/proc/%d/task", (int)pid);
    DIR *folder = opendir(path);
    if (!folder)
        load_die("%s: %s", path, strerror(errno));
    for (const struct dirent *entry; (entry = readdir(folder));) {
        unsigned long long ns = 0;
        snprintf(path, sizeof path, "/proc/%d/task/%s/schedstat", (int)pid, entry->d_name);
        FILE *f = entry->d_name[0] == '.' ? NULL : fopen(path, "r");
        if (f && fscanf(f, "%llu", &ns) == 1)
            sum_s += 1e-9 * (double)ns;
        if (f)
            fclose(f);
    }
    closedir(folder);
    return sum_s;
}

/* --- one answer ------------------------------------------------------------------------------ */

static const char *find_field(const char *head, const char *name)
{
    size_t length = strlen(name);
    for (const char *line = strstr(head, "\r\n"); line; line = strstr(line, "\r\n")) {
        line += 2;
        if (strncasecmp(line, name, length) == 0 && line[length] == ':')
            return line + length + 1 + strspn(line + length + 1, " ");
    }
    return NULL;
}

static unsigned long body_length(const char *head)
{
    const char *text = find_field(head, "Content-Length");
    return text && strncmp(head + 9, "304", 3) != 0 ? strtoul(text, NULL, 10) : 0;
}

/* The head's end in what has come so far, NULL while it has not. */
static char *head_end(struct line *line)
{
    line->head[line->used] = '\0';
    char *end = strstr(line->head, "\r\n\r\n");
    return end ? end + 4 : NULL;
}

/* --- a run ----------------------------------------------------------------------------------- */

static void ask(struct run *run, struct line *line)
{
    line->used = 0;
    line->in_body = false;
    line->sent_s = load_now_s();
    if (send(line->fd, run->request, run->request_length, MSG_NOSIGNAL) !=
        (ssize_t)run->request_length)
        load_die("%s: the server closed", run->load->path);
}

static void take_answer(struct run *run, struct line *line, bool again)
{
    if (run->taken_s) {
        if (run->answers == run->room) {
            run->room = run->room ? 2 * run->room : 65536;
            run->taken_s = realloc(run->taken_s, run->room * sizeof *run->taken_s);
            if (!run->taken_s)
                load_die("out of memory");
        }
        run->taken_s[run->answers] = load_now_s() - line->sent_s;
    }
    run->answers++;
    if (again)
        ask(run, line);
}

static void read_head(struct run *run, struct line *line)
{
    const char *end = head_end(line);
    if (!end) {
        if (line->used + 1 >= HEAD_SIZE)
            load_die("%s: no end of the head", run->load->path);
        return;
    }
    if (atoi(line->head + 9) != run->load->status)
        load_die("%s: %d expected, got %.60s", run->load->path, run->load->status, line->head);
    line->left = run->bytes = body_length(line->head);
    line->left -= line->used - (size_t)(end - line->head);
    line->in_body = true;
}

/* The rest of a body is dropped by the kernel without copying it: the client's cost is no part of
 * what is compared. True when the answer is complete. */
static bool receive(struct run *run, struct line *line)
{
    ssize_t n = line->in_body
                    ? recv(line->fd, NULL, line->left, MSG_TRUNC)
                    : recv(line->fd, line->head + line->used, HEAD_SIZE - 1 - line->used, 0);
    if (n <= 0)
        load_die("%s: the server closed: %s", run->load->path, n < 0 ? strerror(errno) : "");
    if (line->in_body) {
        line->left -= (size_t)n;
    } else {
        line->used += (size_t)n;
        read_head(run, line);
    }
    return line->in_body && line->left == 0;
}

/* Answers until the time is over; then those underway are still read, so that the connections
 * stand as before. */
static void go_on(struct run *run, double seconds)
{
    struct epoll_event events[EVENTS];
    double end_s = load_now_s() + seconds;
    unsigned underway = run->load->connections;
    for (unsigned i = 0; i < underway; i++)
        ask(run, &run->lines[i]);
    while (underway > 0) {
        int n = epoll_wait(run->epoll_fd, events, EVENTS, SILENCE_MS);
        if (n == 0)
            load_die("%s: no answer", run->load->path);
        bool again = load_now_s() < end_s;
        for (int i = 0; i < n; i++) {
            struct line *line = events[i].data.ptr;
            if (receive(run, line)) {
                take_answer(run, line, again);
                underway -= !again;
            }
        }
    }
}

static void open_run(struct run *run, const struct load *load)
{
    int length = snprintf(run->request, sizeof run->request,
                          "GET %s HTTP/1.1\r\nHost: 127.0.0.1:%d\r\n%s\r\n", load->path, load->port,
                          load->fields);
    run->load = load;
    run->request_length = (size_t)length;
    run->lines = calloc(load->connections, sizeof *run->lines);
    run->epoll_fd = epoll_create1(EPOLL_CLOEXEC);
    if (!run->lines || run->epoll_fd < 0)
        load_die("%s", strerror(errno));
    for (unsigned i = 0; i < load->connections; i++) {
        struct line *line = &run->lines[i];
        struct epoll_event event = {.events = EPOLLIN, .data = {.ptr = line}};
        line->fd = load_dial(load->port);
        if (line->fd < 0 || epoll_ctl(run->epoll_fd, EPOLL_CTL_ADD, line->fd, &event) != 0)
            load_die("port %d: %s", load->port, strerror(errno));
    }
}

static void close_run(struct run *run)
{
    for (unsigned i = 0; i < run->load->connections; i++)
        close(run->lines[i].fd);
    close(run->epoll_fd);
    free(run->lines);
    free(run->taken_s);
}

static int by_size(const void *a, const void *b)
{
    double x = *(const double *)a;
    double y = *(const double *)b;
    return (x > y) - (x < y);
}

void load_run(const struct load *load, struct load_result *out)
{
    struct run run = {0};
    open_run(&run, load);
    go_on(&run, load->seconds / 10);
    run.answers = 0;
    run.room = 65536;
    run.taken_s = malloc(run.room * sizeof *run.taken_s);
    if (!run.taken_s)
        load_die("out of memory");
    double cpu_s = run_time_s(load->pid);
    double began_s = load_now_s();
    go_on(&run, load->seconds);
    double took_s = load_now_s() - began_s;
    cpu_s = run_time_s(load->pid) - cpu_s;
    qsort(run.taken_s, run.answers, sizeof *run.taken_s, by_size);
    *out = (struct load_result){
        .requests_s = (double)run.answers / took_s,
        .median_ms = 1e3 * run.taken_s[run.answers / 2],
        .p99_ms = 1e3 * run.taken_s[run.answers * 99 / 100],
        .cpu_us = 1e6 * cpu_s / (double)run.answers,
        .bytes = run.bytes,
    };
    close_run(&run);
}

/* --- one request ----------------------------------------------------------------------------- */

int load_get(int fd, const char *path, const char *fields, char *body, size_t size, size_t *length,
             const char *wanted, char *value, size_t value_size)
{
    struct line line = {.fd = fd};
    struct sockaddr_in own;
    socklen_t own_size = sizeof own;
    char request[REQUEST_SIZE];
    const char *end = NULL;
    getpeername(fd, (struct sockaddr *)&own, &own_size);
    int n = snprintf(request, sizeof request, "GET %s HTTP/1.1\r\nHost: 127.0.0.1:%d\r\n%s\r\n",
                     path, ntohs(own.sin_port), fields);
    if (send(fd, request, (size_t)n, MSG_NOSIGNAL) != n)
        return 0;
    while (!(end = head_end(&line))) {
        ssize_t got = recv(fd, line.head + line.used, HEAD_SIZE - 1 - line.used, 0);
        if (got <= 0)
            return 0;
        line.used += (size_t)got;
    }
    size_t whole = body_length(line.head);
    size_t have = line.used - (size_t)(end - line.head);
    if (body && whole >= size)
        load_die("%s: a body of %zu bytes", path, whole);
    if (body)
        memcpy(body, end, have);
    while (have < whole) {
        ssize_t got =
            body ? recv(fd, body + have, whole - have, 0) : recv(fd, NULL, whole - have, MSG_TRUNC);
        if (got <= 0)
            return 0;
        have += (size_t)got;
    }
    if (body)
        body[whole] = '\0';
    if (length)
        *length = whole;
    const char *field = wanted ? find_field(line.head, wanted) : NULL;
    if (value)
        snprintf(value, value_size, "%.*s", field ? (int)strcspn(field, "\r") : 0,
                 field ? field : "");
    return atoi(line.head + 9);
}
