/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "serve.h"

#include <malloc.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <sys/resource.h>
#include <unistd.h>

#include "api.h"
#include "api_describe.h"
#include "assets.h"
#include "clock.h"
#include "cycle.h"
#include "http.h"
#include "log.h"
#include "loop.h"
#include "notify.h"
#include "setup.h"
#include "snapshot.h"
#include "tls.h"
#include "worker.h"

enum {
    /* A step of the planner that takes longer hangs (a fetch is given one minute): the service
     * manager is then no longer told that all is well, and starts us anew. */
    PLANNER_HANGS_MS = 600000,
    NOTIFY_MS = 5000,
    DESCRIPTORS = 2048, /* connections and what else is open */
    ADDRESS_SIZE = 96,
    JOBS_WAITING_MAX = 256,
    LONG_JOBS_WAITING_MAX = 16, /* each takes as long as two plans */
    LARGE_PIECE = 128 * 1024,   /* glibc's own first threshold */
    TLS_RENEW_MS = 3600000,     /* how often the files are looked at without being told */
};

struct service {
    struct http *http;
    struct cycle *cycle;
    struct api *api, *long_api;
    struct worker *worker, *long_worker; /* each has an api */
    struct tls *tls;                     /* NULL: plain HTTP */
    int64_t tls_renewed_ms;
    int64_t notified_ms;
    _Atomic int64_t asked_s; /* when somebody last asked which valves are due, or the start */
};

static int turn(void *context)
{
    return http_turn(((struct service *)context)->http);
}

/* Connections go on with what they have; new ones get what is new. */
static void renew_tls(struct service *service)
{
    struct error error;
    service->tls_renewed_ms = clock_monotonic_ms();
    if (!service->tls)
        return;
    int renewed = tls_renew(service->tls, &error);
    if (renewed < 0)
        log_write(LOG_LEVEL_ERROR, "tls: the certificate from before stays: %s", error.text);
    else if (renewed > 0)
        log_write(LOG_LEVEL_INFO, "tls: a new certificate is in use");
}

static void tick(void *context)
{
    struct service *service = context;
    int64_t now_ms = clock_monotonic_ms();
    if (now_ms - service->tls_renewed_ms > TLS_RENEW_MS)
        renew_tls(service);
    if (now_ms - service->notified_ms < NOTIFY_MS ||
        cycle_busy_ms(service->cycle) > PLANNER_HANGS_MS)
        return;
    service->notified_ms = now_ms;
    notify_alive();
}

static void reload(void *context)
{
    log_write(LOG_LEVEL_INFO, "SIGHUP: planning again; a changed configuration needs a restart");
    renew_tls(context);
    cycle_wake(((struct service *)context)->cycle);
}

static int64_t plan_again(void *context)
{
    return cycle_wake(((struct service *)context)->cycle);
}

/* The line is a promise to whoever reads it: only once connections are accepted. */
static void announce(const struct http *http, FILE *out)
{
    char address[ADDRESS_SIZE];
    char status[ADDRESS_SIZE + 16];
    http_address(http, address, sizeof address);
    fprintf(out, "serving %s\n", address);
    fflush(out);
    snprintf(status, sizeof status, "serving %s", address);
    notify_ready(status);
}

static int run_loop(const struct serve_options *options, struct service *service, int signal_fd,
                    struct error *error)
{
    const struct loop_work work = {
        .context = service,
        .fd = http_fd(service->http),
        .turn = turn,
        .tick = tick,
        .reload = reload,
        .stop_at_ms = options->seconds ? clock_monotonic_ms() + options->seconds * 1000 : 0,
    };
    int result = loop_run(signal_fd, &work, error);
    notify_stopping();
    return result;
}

/* Room for all connections, as far as the machine allows; with less the kernel refuses some. */
static void raise_descriptors(void)
{
    struct rlimit limit;
    if (getrlimit(RLIMIT_NOFILE, &limit) != 0 || limit.rlim_cur >= DESCRIPTORS)
        return;
    limit.rlim_cur = limit.rlim_max < DESCRIPTORS ? limit.rlim_max : DESCRIPTORS;
    if (setrlimit(RLIMIT_NOFILE, &limit) != 0 || limit.rlim_cur < DESCRIPTORS)
        log_write(LOG_LEVEL_WARNING, "serve: only %llu files and connections may be open at once",
                  (unsigned long long)limit.rlim_cur);
}

/* A plan's work and its bodies come and go as large pieces: each of them given back to the kernel
 * when it is freed. Left alone, glibc keeps ever larger ones for the next time (mallopt(3)). */
static void keep_memory_small(void)
{
    mallopt(M_MMAP_THRESHOLD, LARGE_PIECE);
    mallopt(M_TRIM_THRESHOLD, LARGE_PIECE);
}

/* One writes, and is done in a moment; the other works out what-if plans and writes nothing. */
static int open_workers(const struct setup *setup, struct snapshot_cell *cell,
                        struct service *service, struct error *error)
{
    struct api_options api = {.config = &setup->config,
                              .zone = &setup->zone,
                              .cell = cell,
                              .changed = plan_again,
                              .context = service};
    service->api = api_open(&api, error);
    if (!service->api)
        return -1;
    api.beside = service->api;
    service->long_api = api_open(&api, error);
    if (!service->long_api)
        return -1;
    service->worker = worker_start(service->api, JOBS_WAITING_MAX, error);
    service->long_worker = worker_start(service->long_api, LONG_JOBS_WAITING_MAX, error);
    return service->worker && service->long_worker ? 0 : -1;
}

static int open_tls(const struct setup *setup, struct service *service, struct error *error)
{
    char text[400];
    service->tls_renewed_ms = clock_monotonic_ms();
    if (setup->config.tls_certificate[0] && !(service->tls = tls_open(&setup->config, error)))
        return -1;
    if (setup_warns(setup, service->tls, clock_now_s(), text, sizeof text))
        log_write(LOG_LEVEL_WARNING, "serve: %s", text);
    return 0;
}

int serve_run(const struct serve_options *options, FILE *out, struct error *error)
{
    const struct config *config = &options->setup->config;
    struct service service = {.asked_s = clock_now_s()};
    struct assets assets = {0};
    const struct http_limits limits = HTTP_LIMITS_DEFAULT;
    struct snapshot_cell *cell = NULL;
    char *description = NULL;
    int result = -1;
    keep_memory_small();
    raise_descriptors();
    int signal_fd = loop_signals(error); /* before any thread: they inherit what is blocked */
    if (signal_fd < 0 || assets_load(options->place->web, &assets, error) != 0)
        goto end;
    description = api_describe(options->place->openapi, error);
    if (!description)
        goto end;
    cell = snapshot_cell_new();
    if (!cell) {
        error_set(error, "out of memory");
        goto end;
    }
    if (open_workers(options->setup, cell, &service, error) != 0)
        goto end;
    if (open_tls(options->setup, &service, error) != 0)
        goto end;
    const struct http_options http = {
        .listen = config->listen,
        .port = options->port,
        .limits = limits,
        .assets = &assets,
        .cell = cell,
        .zone = &options->setup->zone,
        .asked_s = &service.asked_s,
        .description = description,
        .worker = service.worker,
        .long_worker = service.long_worker,
        .host_names = config->host_names,
        .host_name_count = config->host_name_count,
        .tls = service.tls,
        .reading_signed_in = config->reading_signed_in,
    };
    service.http = http_open(&http, error);
    if (!service.http)
        goto end;
    free(description); /* copied; a quarter of a megabyte */
    description = NULL;
    const struct cycle_options cycle = {config, &options->setup->zone, options->place->fetch, cell,
                                        &service.asked_s};
    service.cycle = cycle_start(&cycle, error);
    if (!service.cycle)
        goto end;
    announce(service.http, out);
    result = run_loop(options, &service, signal_fd, error);
end:
    http_close(service.http); /* first: no one waits on us while a fetch is let finish */
    tls_close(service.tls);
    worker_stop(service.worker); /* does what is still to be written */
    worker_stop(service.long_worker);
    cycle_stop(service.cycle);
    api_close(service.long_api);
    api_close(service.api);
    snapshot_cell_free(cell);
    assets_clear(&assets);
    free(description);
    if (signal_fd >= 0)
        close(signal_fd);
    return result;
}
