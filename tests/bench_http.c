/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What serving costs: perchd beside nginx with one worker that serves the same bytes as files, in
 * the same run, taking turns; then crowds, slow senders, memory, start. Prints; judges nothing.
 */
#include <errno.h>
#include <signal.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/epoll.h>
#include <sys/socket.h>
#include <unistd.h>

#include "bench_load.h"
#include "bench_server.h"

enum {
    BLOCKS = 2000,
    HALF_BLOCKS = 1100, /* whose plan has some 120 KB as gzip */
    MANY_BLOCKS = 10000,
    ROUNDS = 7,
    BODY_SIZE = 32 << 20,
    TAG_SIZE = 80,
    IDLE = 900, /* connections at once; above 1000 perchd closes the longest idle */
    CROWD_MOST = 256,
    STARTS = 15,
    DRIP_MOST_S = 60,
};

#define SECONDS 0.3

static const char gzip_field[] = "Accept-Encoding: gzip\r\n";

/* --- beside nginx ---------------------------------------------------------------------------- */

struct resource {
    const char *name, *path, *copy; /* copy: its path as a file */
    bool gzip, unchanged;           /* asked for with the tag of what it is: 304 */
    bool half;                      /* of the smaller nursery */
};

static const struct resource resources[] = {
    {"page", "/index.html", "/index.html", false, false, false},
    {"script", "/app.js", "/app.js", false, false, false},
    {"half a plan, gz", "/api/v1/plan", "/half-plan", true, false, true},
    {"plan, gzip", "/api/v1/plan", "/plan", true, false, false},
    {"plan", "/api/v1/plan", "/plan", false, false, false},
    {"plan, 304", "/api/v1/plan", "/plan", true, true, false},
    {"plan of a zone", "/api/v1/plan?zone=bed-7", "/plan-bed-7", false, false, false},
    {"due", "/api/v1/due", "/due", false, false, false},
    {"due of a zone", "/api/v1/zones/bed-7/due", "/due-bed-7", false, false, false},
};

enum { RESOURCES = sizeof resources / sizeof resources[0], PLAN_GZIP = 3 };

/* The same bytes for nginx, as they are and as gzip where perchd has that. */
static void copy_resource(const struct server *perchd, const struct server *nginx,
                          const struct resource *resource)
{
    static const char *const endings[] = {"", ".gz"};
    char *body = malloc(BODY_SIZE);
    char coding[TAG_SIZE];
    size_t length = 0;
    if (!body)
        load_die("out of memory");
    for (int i = 0; i < 2; i++) {
        int fd = load_dial(perchd->port);
        if (load_get(fd, resource->path, i ? gzip_field : "", body, BODY_SIZE, &length,
                     "Content-Encoding", coding, sizeof coding) != 200)
            load_die("%s: not 200", resource->path);
        close(fd);
        if (i == 0 || strcmp(coding, "gzip") == 0)
            server_nginx_put(nginx, resource->copy, endings[i], body, length);
    }
    free(body);
}

/* What to ask a server for; the tag is the one it gives. */
static struct load load_of(const struct server *server, const struct resource *resource,
                           const char *path, unsigned connections, char *fields, size_t size)
{
    char tag[TAG_SIZE];
    snprintf(fields, size, "%s", resource->gzip ? gzip_field : "");
    if (resource->unchanged) {
        int fd = load_dial(server->port);
        load_get(fd, path, fields, NULL, 0, NULL, "ETag", tag, sizeof tag);
        close(fd);
        size_t used = strlen(fields);
        snprintf(fields + used, size - used, "If-None-Match: %s\r\n", tag);
    }
    return (struct load){server->port, path,    fields,     resource->unchanged ? 304 : 200,
                         connections,  SECONDS, server->pid};
}

static int by_size(const void *a, const void *b)
{
    double x = *(const double *)a;
    double y = *(const double *)b;
    return (x > y) - (x < y);
}

static double median(double *values, size_t count)
{
    qsort(values, count, sizeof *values, by_size);
    return count % 2 ? values[count / 2] : (values[count / 2 - 1] + values[count / 2]) / 2;
}

struct figures { /* one a round */
    double requests_s[ROUNDS], median_ms[ROUNDS], p99_ms[ROUNDS], cpu_us[ROUNDS];
};

static void measure(const struct load *load, struct figures *figures, int round, size_t *bytes)
{
    struct load_result result;
    load_run(load, &result);
    figures->requests_s[round] = result.requests_s;
    figures->median_ms[round] = result.median_ms;
    figures->p99_ms[round] = result.p99_ms;
    figures->cpu_us[round] = result.cpu_us;
    *bytes = result.bytes;
}

/* The two take turns, and turns in who is first: what else the machine does hits both. */
static void compare(const struct server *perchd, const struct server *nginx,
                    const struct resource *resource, unsigned connections)
{
    char ours_fields[TAG_SIZE * 2];
    char theirs_fields[TAG_SIZE * 2];
    struct figures ours;
    struct figures theirs;
    double requests[ROUNDS];
    double cpu[ROUNDS];
    size_t bytes = 0;
    const struct load our_load =
        load_of(perchd, resource, resource->path, connections, ours_fields, sizeof ours_fields);
    const struct load their_load =
        load_of(nginx, resource, resource->copy, connections, theirs_fields, sizeof theirs_fields);
    for (int round = 0; round < ROUNDS; round++) {
        if (round % 2)
            measure(&their_load, &theirs, round, &bytes);
        measure(&our_load, &ours, round, &bytes);
        if (round % 2 == 0)
            measure(&their_load, &theirs, round, &bytes);
        requests[round] = ours.requests_s[round] / theirs.requests_s[round];
        cpu[round] = ours.cpu_us[round] / theirs.cpu_us[round];
    }
    double ratio = median(requests, ROUNDS);
    printf(
        "%-15s %8zu %4u | %7.0f %6.2f %6.2f %7.1f | %7.0f %6.2f %6.2f %7.1f | %5.2f [%4.2f %5.2f] "
        "%5.2f\n",
        resource->name, bytes, connections, median(ours.requests_s, ROUNDS),
        median(ours.median_ms, ROUNDS), median(ours.p99_ms, ROUNDS), median(ours.cpu_us, ROUNDS),
        median(theirs.requests_s, ROUNDS), median(theirs.median_ms, ROUNDS),
        median(theirs.p99_ms, ROUNDS), median(theirs.cpu_us, ROUNDS), ratio, requests[0],
        requests[ROUNDS - 1], median(cpu, ROUNDS));
    fflush(stdout);
}

static void print_comparison(const struct server *perchd, const struct server *half,
                             const struct server *nginx, const char *only)
{
    static const unsigned connections[] = {1, 16, 64};
    printf("\nServing a plan of %d blocks (half: %d), medians of %d rounds of %.1f s, taking turns "
           "with "
           "nginx (1 worker, the same bytes as files)\n",
           BLOCKS, HALF_BLOCKS, ROUNDS, SECONDS);
    printf("%-15s %8s %4s | %30s | %30s | perchd / nginx\n", "", "", "con-", "perchd         ",
           "nginx          ");
    printf("%-15s %8s %4s | %7s %6s %6s %7s | %7s %6s %6s %7s | %5s [%4s %5s] %5s\n", "", "bytes",
           "nec.", "req/s", "p50 ms", "p99 ms", "CPU us", "req/s", "p50 ms", "p99 ms", "CPU us",
           "req/s", "min", "max", "CPU");
    for (size_t i = 0; i < RESOURCES; i++)
        copy_resource(resources[i].half ? half : perchd, nginx, &resources[i]);
    for (size_t i = 0; i < RESOURCES; i++)
        for (size_t c = 0; c < sizeof connections / sizeof connections[0]; c++)
            if (!only || strcmp(only, resources[i].name) == 0)
                compare(resources[i].half ? half : perchd, nginx, &resources[i], connections[c]);
}

static void print_serving(const struct server *perchd, const struct server *nginx, const char *only)
{
    struct server half;
    server_nursery_make(&half, HALF_BLOCKS);
    server_perchd_start(&half);
    print_comparison(perchd, &half, nginx, only);
    server_stop(&half);
    server_remove(&half);
}

/* --- crowds ---------------------------------------------------------------------------------- */

/* All ask while the server is stopped, so that it finds them ready at once; then the seconds until
 * the last first byte of an answer, or -1 when one does not come within ten. */
static double answer_crowd(const struct server *server, const char *path, unsigned clients)
{
    static int fds[CROWD_MOST];
    struct epoll_event event = {.events = EPOLLIN | EPOLLONESHOT};
    char request[256];
    unsigned answered = 0;
    int n = snprintf(request, sizeof request, "GET %s HTTP/1.1\r\nHost: 127.0.0.1:%d\r\n%s\r\n",
                     path, server->port, gzip_field);
    int epoll_fd = epoll_create1(EPOLL_CLOEXEC);
    for (unsigned i = 0; i < clients; i++) { /* known to the server, then idle */
        fds[i] = load_dial(server->port);
        if (load_get(fds[i], "/healthz", "", NULL, 0, NULL, NULL, NULL, 0) != 200)
            load_die("/healthz: not 200");
        epoll_ctl(epoll_fd, EPOLL_CTL_ADD, fds[i], &event);
    }
    kill(server->pid, SIGSTOP);
    for (unsigned i = 0; i < clients; i++)
        if (send(fds[i], request, (size_t)n, MSG_NOSIGNAL) != n)
            load_die("%s: %s", path, strerror(errno));
    double began_s = load_now_s();
    kill(server->pid, SIGCONT);
    while (answered < clients && epoll_wait(epoll_fd, &event, 1, 10000) == 1)
        answered++;
    double took_s = load_now_s() - began_s;
    for (unsigned i = 0; i < clients; i++)
        close(fds[i]);
    close(epoll_fd);
    return answered == clients ? took_s : -1;
}

static void print_crowds(const struct server *perchd, const struct server *nginx)
{
    static const unsigned crowds[] = {64, 127, 128, 129, 256};
    copy_resource(perchd, nginx, &resources[PLAN_GZIP]);
    printf("\nClients ready at one moment: ms until the last has its answer's start, medians of 5\n"
           "%-15s %8s | %8s %8s\n",
           "", "clients", "perchd", "nginx");
    for (size_t i = 0; i < sizeof crowds / sizeof crowds[0]; i++) {
        double ours[5];
        double theirs[5];
        for (int round = 0; round < 5; round++) {
            ours[round] = 1e3 * answer_crowd(perchd, "/api/v1/plan", crowds[i]);
            theirs[round] = 1e3 * answer_crowd(nginx, "/plan", crowds[i]);
        }
        printf("%-15s %8u | %8.1f %8.1f\n", "plan, gzip", crowds[i], median(ours, 5),
               median(theirs, 5));
    }
}

/* One byte of a header a second; seconds until it is cut off. */
static double drip(const struct server *server)
{
    static const char start[] = "GET /healthz HTTP/1.1\r\nX: ";
    int fd = load_dial(server->port);
    double began_s = load_now_s();
    ssize_t sent = send(fd, start, sizeof start - 1, MSG_NOSIGNAL);
    while (sent > 0 && load_now_s() < began_s + DRIP_MOST_S) {
        char byte;
        struct timeval second = {.tv_sec = 1};
        setsockopt(fd, SOL_SOCKET, SO_RCVTIMEO, &second, sizeof second);
        ssize_t n = recv(fd, &byte, 1, 0);
        if (n == 0 || (n < 0 && errno != EAGAIN))
            break;
        sent = send(fd, "x", 1, MSG_NOSIGNAL);
    }
    close(fd);
    return load_now_s() - began_s;
}

/* --- memory ---------------------------------------------------------------------------------- */

static void open_idle(const struct server *server, int *fds, unsigned count, bool ask)
{
    for (unsigned i = 0; i < count; i++) {
        fds[i] = load_dial(server->port);
        if (fds[i] < 0)
            load_die("port %d: %s", server->port, strerror(errno));
        if (ask && load_get(fds[i], "/healthz", "", NULL, 0, NULL, NULL, NULL, 0) != 200)
            load_die("/healthz: not 200");
    }
    usleep(100000); /* until the last is accepted */
}

static void close_idle(const int *fds, unsigned count)
{
    for (unsigned i = 0; i < count; i++)
        close(fds[i]);
}

/* KB a connection; after one answer, else only connected. */
static double idle_kb(struct server *server, bool ask)
{
    static int fds[IDLE];
    double before_mb = server_resident_mb(server);
    open_idle(server, fds, IDLE, ask);
    double kb = (server_resident_mb(server) - before_mb) * 1024 / IDLE;
    close_idle(fds, IDLE);
    return kb;
}

static void print_idle(struct server *nginx)
{
    double kb[2][2];
    struct server perchd;
    struct server *const servers[] = {&perchd, nginx};
    server_nursery_make(&perchd, 0);
    for (int s = 0; s < 2; s++)
        for (int ask = 0; ask < 2; ask++) {
            (s ? server_nginx_start : server_perchd_start)(servers[s]);
            sleep(s ? 0 : 5); /* until the first plan is put away */
            kb[s][ask] = idle_kb(servers[s], ask);
            server_stop(servers[s]);
        }
    server_remove(&perchd);
    printf("\nMemory of %d idle connections, KB each\n%-31s %8s %8s\n", IDLE, "", "perchd",
           "nginx");
    printf("%-31s %8.1f %8.1f\n", "connected", kb[0][0], kb[1][0]);
    printf("%-31s %8.1f %8.1f\n", "after one answer", kb[0][1], kb[1][1]);
}

static void read_tag(const struct server *server, char tag[TAG_SIZE])
{
    int fd = load_dial(server->port);
    if (load_get(fd, "/api/v1/plan", "", NULL, 0, NULL, "ETag", tag, TAG_SIZE) != 200)
        load_die("/api/v1/plan: not 200");
    close(fd);
}

/* A plan made while another is served takes most. */
static void plan_again(const struct server *server)
{
    char before[TAG_SIZE];
    char now[TAG_SIZE];
    sleep(2); /* its tag holds the second in which it was made */
    read_tag(server, before);
    kill(server->pid, SIGHUP);
    do {
        usleep(100000);
        read_tag(server, now);
    } while (strcmp(before, now) == 0);
    sleep(5); /* until what came after it is done as well, and put away */
}

static void print_resident(size_t blocks, unsigned connections)
{
    static int fds[CROWD_MOST];
    char name[64];
    struct server server;
    server_nursery_make(&server, blocks);
    server_perchd_start(&server);
    plan_again(&server);
    open_idle(&server, fds, connections, true);
    snprintf(name, sizeof name, blocks ? "%zu blocks" : "the example nursery", blocks);
    printf("%-31s %8u %8.1f %8.1f %8.0f\n", name, connections, server_resident_mb(&server),
           server_peak_mb(&server), server.first_ms);
    close_idle(fds, connections);
    server_stop(&server);
    server_remove(&server);
}

static void print_memory(void)
{
    printf(
        "\nResident memory, MB (peak: while a plan is made), and ms from start to the first plan\n"
        "%-31s %8s %8s %8s %8s\n",
        "", "connec.", "now", "peak", "plan ms");
    print_resident(0, 0);
    print_resident(0, CROWD_MOST);
    print_resident(BLOCKS, CROWD_MOST);
    print_resident(MANY_BLOCKS, CROWD_MOST);
}

/* --- start ----------------------------------------------------------------------------------- */

static void print_starts(struct server *nginx)
{
    struct server perchd;
    double ours[STARTS];
    double theirs[STARTS];
    server_nursery_make(&perchd, 0);
    for (int i = 0; i < STARTS; i++) {
        server_perchd_start(&perchd);
        server_stop(&perchd);
        server_nginx_start(nginx);
        server_stop(nginx);
        ours[i] = perchd.start_ms;
        theirs[i] = nginx->start_ms;
    }
    server_remove(&perchd);
    double our_median = median(ours, STARTS);
    double their_median = median(theirs, STARTS);
    printf("\nFrom start to /healthz answered, ms, the example nursery, %d starts\n"
           "%-31s %8s %8s %8s\n",
           STARTS, "", "median", "least", "most");
    printf("%-31s %8.1f %8.1f %8.1f\n", "perchd", our_median, ours[0], ours[STARTS - 1]);
    printf("%-31s %8.1f %8.1f %8.1f\n", "nginx", their_median, theirs[0], theirs[STARTS - 1]);
}

/* --------------------------------------------------------------------------------------------- */

static bool wanted(int argc, char **argv, const char *part)
{
    return argc < 2 || strcmp(argv[1], part) == 0;
}

/* usage: bench_http [serve [RESOURCE] | crowd | drip | idle | memory | start] */
int main(int argc, char **argv)
{
    struct server perchd;
    struct server nginx;
    double load[3] = {0};
    getloadavg(load, 3);
    printf("load average at the start %.2f %.2f %.2f, %ld processors\n", load[0], load[1], load[2],
           sysconf(_SC_NPROCESSORS_ONLN));
    server_nursery_make(&perchd, BLOCKS);
    server_nginx_make(&nginx);
    server_perchd_start(&perchd);
    server_nginx_start(&nginx);
    if (wanted(argc, argv, "serve"))
        print_serving(&perchd, &nginx, argc > 2 ? argv[2] : NULL);
    if (wanted(argc, argv, "crowd"))
        print_crowds(&perchd, &nginx);
    if (wanted(argc, argv, "drip"))
        printf("\nOne byte of a header a second: cut off after %.1f s\n", drip(&perchd));
    server_stop(&perchd);
    server_stop(&nginx);
    if (wanted(argc, argv, "idle"))
        print_idle(&nginx);
    if (wanted(argc, argv, "memory"))
        print_memory();
    if (wanted(argc, argv, "start"))
        print_starts(&nginx);
    server_remove(&perchd);
    server_remove(&nginx);
    return EXIT_SUCCESS;
}
