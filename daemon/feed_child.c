/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "feed_child.h"

#include <errno.h>
#include <fcntl.h>
#include <jansson.h>
#include <math.h>
#include <poll.h>
#include <signal.h>
#include <spawn.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "core/civil.h"

extern char **environ;

static const size_t MOST_OUTPUT = 4 * (size_t)1024 * 1024;
static const int64_t END_MS = 1000;           /* between asking a child to end and making it */
static const size_t MOST_HOURS = 31 * 24;     /* what feed_hours.h lets an adapter give */
static const int64_t LATEST_S = 253402300799; /* the end of the year 9999 */

/* --- running ------------------------------------------------------------------------------ */

static int64_t monotonic_ms(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

/* Own process group, so that a key press at a terminal does not cut the transfer; no signal
 * blocked or ignored, whatever the daemon does with its own. */
static int spawn(char *const argv[], int output_fd, pid_t *pid, struct error *error)
{
    posix_spawn_file_actions_t files;
    posix_spawnattr_t attributes;
    sigset_t none;
    sigset_t all;
    sigemptyset(&none);
    sigfillset(&all);
    posix_spawn_file_actions_init(&files);
    posix_spawnattr_init(&attributes);
    posix_spawn_file_actions_addopen(&files, STDIN_FILENO, "/dev/null", O_RDONLY, 0);
    posix_spawn_file_actions_adddup2(&files, output_fd, STDOUT_FILENO);
    posix_spawnattr_setsigmask(&attributes, &none);
    posix_spawnattr_setsigdefault(&attributes, &all);
    posix_spawnattr_setpgroup(&attributes, 0);
    posix_spawnattr_setflags(&attributes, POSIX_SPAWN_SETSIGMASK | POSIX_SPAWN_SETSIGDEF |
                                              POSIX_SPAWN_SETPGROUP);
    int failed = posix_spawn(pid, argv[0], &files, &attributes, argv, environ);
    posix_spawn_file_actions_destroy(&files);
    posix_spawnattr_destroy(&attributes);
    if (failed)
        return error_set(error, "%s cannot be started: %s", argv[0], strerror(failed));
    return 0;
}

struct reading {
    int fd;
    struct feed_wait wait; /* stop_fd -1 also when already seen */
    int64_t deadline_ms, stop_ms;
    bool stopped;
    char *bytes;
    size_t length, size;
};

enum read_state { READ_MORE, READ_END, READ_BROKEN };

static enum read_state read_some(struct reading *r, struct error *error)
{
    if (r->length == r->size) {
        size_t size = r->size ? 2 * r->size : 65536;
        char *bytes = size <= 2 * MOST_OUTPUT ? realloc(r->bytes, size) : NULL;
        if (!bytes) {
            error_set(error, "the fetch program hands back more than %zu bytes", MOST_OUTPUT);
            return READ_BROKEN;
        }
        r->bytes = bytes;
        r->size = size;
    }
    ssize_t n = read(r->fd, r->bytes + r->length, r->size - r->length);
    if (n < 0 && errno != EINTR) {
        error_set(error, "the fetch program's pipe cannot be read: %s", strerror(errno));
        return READ_BROKEN;
    }
    r->length += n > 0 ? (size_t)n : 0;
    if (r->length > MOST_OUTPUT) {
        error_set(error, "the fetch program hands back more than %zu bytes", MOST_OUTPUT);
        return READ_BROKEN;
    }
    return n == 0 ? READ_END : READ_MORE;
}

static int read_all(struct reading *r, struct error *error)
{
    for (;;) {
        int64_t left_ms = r->deadline_ms - monotonic_ms();
        if (left_ms <= 0)
            return error_set(error, r->stopped ? "the fetch was given up to stop the service"
                                               : "the fetch program did not end in time");
        struct pollfd fds[3] = {
            {r->fd, POLLIN, 0}, {r->wait.stop_fd, POLLIN, 0}, {r->wait.wake_fd, POLLIN, 0}};
        if (poll(fds, 3, (int)left_ms) < 0 && errno != EINTR)
            return error_set(error, "waiting for the fetch program failed: %s", strerror(errno));
        if (fds[1].revents) {
            int64_t stop_ms = monotonic_ms() + r->stop_ms;
            r->stopped = true;
            r->wait.stop_fd = -1;
            r->deadline_ms = stop_ms < r->deadline_ms ? stop_ms : r->deadline_ms;
        }
        if (fds[2].revents && r->wait.wake)
            r->wait.wake(r->wait.context);
        if (!fds[0].revents)
            continue;
        enum read_state state = read_some(r, error);
        if (state != READ_MORE)
            return state == READ_END ? 0 : -1;
    }
}

/* Waits up to wait_ms for the child to be gone. */
static bool reap(pid_t pid, int64_t wait_ms, int *status)
{
    int64_t end_ms = monotonic_ms() + wait_ms;
    for (;;) {
        pid_t got = waitpid(pid, status, WNOHANG);
        if (got == pid || (got < 0 && errno != EINTR))
            return true;
        if (monotonic_ms() >= end_ms)
            return false;
        const struct timespec pause = {0, 5 * 1000000L};
        nanosleep(&pause, NULL);
    }
}

/* The child's wait status; it is gone afterwards in any case. */
static int end_child(pid_t pid, bool finished)
{
    int status = -1;
    if (!finished)
        kill(pid, SIGTERM);
    if (!reap(pid, END_MS, &status)) {
        kill(pid, SIGKILL);
        while (waitpid(pid, &status, 0) < 0 && errno == EINTR)
            ;
    }
    return status;
}

static int check_end(const char *program, int status, struct error *error)
{
    if (WIFEXITED(status) && WEXITSTATUS(status) <= EXIT_FAILED)
        return 0;
    if (WIFEXITED(status) &&
        WEXITSTATUS(status) == 127) /* where spawning does not tell by itself */
        return error_set(error, "%s cannot be started", program);
    return error_set(error, "the fetch program ended with %s %d",
                     WIFSIGNALED(status) ? "signal" : "code",
                     WIFSIGNALED(status) ? WTERMSIG(status) : WEXITSTATUS(status));
}

int feed_child_run(char *const argv[], int most_s, const struct feed_wait *wait, int stop_s,
                   char **output, size_t *length, bool *stopped, struct error *error)
{
    int ends[2];
    pid_t pid = 0;
    *stopped = false;
    if (pipe2(ends, O_CLOEXEC) != 0)
        return error_set(error, "no pipe for the fetch program: %s", strerror(errno));
    int result = spawn(argv, ends[1], &pid, error);
    close(ends[1]);
    struct reading r = {
        .fd = ends[0],
        .wait = wait ? *wait : (struct feed_wait){.stop_fd = -1, .wake_fd = -1},
        .deadline_ms = monotonic_ms() + (int64_t)most_s * 1000,
        .stop_ms = (int64_t)stop_s * 1000,
    };
    if (result == 0) {
        result = read_all(&r, error);
        int status = end_child(pid, result == 0);
        *stopped = r.stopped;
        if (result == 0)
            result = check_end(argv[0], status, error);
    }
    close(ends[0]);
    if (result != 0) {
        free(r.bytes);
        return -1;
    }
    *output = r.bytes;
    *length = r.length;
    return 0;
}

/* --- what was handed back ----------------------------------------------------------------- */

static int read_text(const json_t *root, const char *name, char *out, size_t size)
{
    const char *text = json_string_value(json_object_get(root, name));
    if (!text)
        return -1;
    snprintf(out, size, "%s", text);
    error_make_plain(out);
    return 0;
}

static int read_integer(const json_t *root, const char *name, int64_t low, int64_t high,
                        int64_t *out)
{
    const json_t *value = json_object_get(root, name);
    if (!json_is_integer(value))
        return -1;
    *out = json_integer_value(value);
    return *out >= low && *out <= high ? 0 : -1;
}

static int read_outcome(const json_t *root, enum adapter_outcome *out)
{
    const char *name = json_string_value(json_object_get(root, "outcome"));
    for (int i = 0; name && i < ADAPTER_OUTCOMES; i++)
        if (strcmp(name, adapter_outcome_name((enum adapter_outcome)i)) == 0) {
            *out = (enum adapter_outcome)i;
            return 0;
        }
    return -1;
}

static int read_head(const json_t *root, struct feed_handback *out)
{
    int64_t status = 0;
    const json_t *reached = json_object_get(root, "reached");
    if (!json_is_boolean(reached) || read_outcome(root, &out->outcome) != 0 ||
        read_integer(root, "http_status", 0, 999, &status) != 0 ||
        read_integer(root, "expires_s", 0, INT64_MAX, &out->expires_s) != 0 ||
        read_integer(root, "date_s", 0, LATEST_S, &out->date_s) != 0 ||
        read_integer(root, "retry_after_s", 0, INT64_MAX, &out->retry_after_s) != 0 ||
        read_integer(root, "wait_s", 0, INT64_MAX, &out->wait_s) != 0 ||
        read_integer(root, "issued_s", 0, LATEST_S, &out->issued_s) != 0 ||
        read_text(root, "address", out->address, sizeof out->address) != 0 ||
        read_text(root, "last_modified", out->last_modified, sizeof out->last_modified) != 0 ||
        read_text(root, "notes", out->notes, sizeof out->notes) != 0 ||
        read_text(root, "error", out->error, sizeof out->error) != 0)
        return -1;
    out->http_status = (int)status;
    out->reached = json_is_true(reached);
    return 0;
}

/* A value that is missing is not known; one that is out of range should not have come here. */
static int read_value(const json_t *item, enum feed_quantity quantity, struct weather_raw *hour)
{
    const json_t *value = json_object_get(item, feed_quantity_name(quantity));
    if (!value)
        return 0;
    double number = json_is_number(value) ? json_number_value(value) : NAN;
    *feed_quantity_of(hour, quantity) = number;
    return feed_quantity_fits(quantity, number) ? 0 : -1;
}

static int read_hour(const json_t *item, const struct adapter *adapter, int64_t issued_s,
                     struct weather_raw *out)
{
    struct weather_raw hour = WEATHER_RAW_EMPTY;
    int64_t kind = 0;
    if (!json_is_object(item) || read_integer(item, "kind", 0, WEATHER_NORMAL, &kind) != 0 ||
        !(adapter->kinds & 1U << kind) ||
        read_integer(item, "start_s", issued_s - FEED_BEFORE_ISSUE_S - CIVIL_HOUR_S,
                     issued_s + FEED_AFTER_ISSUE_S + CIVIL_DAY_S, &hour.start_s) != 0 ||
        hour.start_s % CIVIL_HOUR_S != 0)
        return -1;
    for (int q = 0; q < FEED_QUANTITIES; q++)
        if (read_value(item, (enum feed_quantity)q, &hour) != 0)
            return -1;
    hour.kind = (enum weather_kind)kind;
    hour.issued_s = issued_s;
    *out = hour;
    return 0;
}

static int read_hours(const json_t *root, const struct adapter *adapter, struct feed_handback *out)
{
    const json_t *hours = json_object_get(root, "hours");
    size_t count = json_array_size(hours);
    bool expected = out->outcome == ADAPTER_DOCUMENT && !adapter->gives_normals;
    if (!json_is_array(hours) || count > MOST_HOURS || expected != (count > 0))
        return -1;
    if (count == 0)
        return 0;
    out->hours = calloc(count, sizeof *out->hours);
    if (!out->hours)
        return -1;
    for (size_t i = 0; i < count; i++) {
        if (read_hour(json_array_get(hours, i), adapter, out->issued_s, &out->hours[i]) != 0 ||
            (i > 0 && out->hours[i].start_s <= out->hours[i - 1].start_s))
            return -1;
        out->hour_count++;
    }
    return 0;
}

/* The order of struct weather_normal, the ranges of a record 'normal'. */
static int read_normal(const json_t *row, struct weather_normal *out)
{
    static const double RANGES[7][2] = {{-60, 60}, {-60, 60}, {-70, 40}, {0, 30},
                                        {0.1, 1},  {0, 3000}, {0, 31}};
    double values[7];
    if (json_array_size(row) != 7)
        return -1;
    for (size_t i = 0; i < 7; i++) {
        const json_t *value = json_array_get(row, i);
        values[i] = json_is_number(value) ? json_number_value(value) : NAN;
        if (!(values[i] >= RANGES[i][0] && values[i] <= RANGES[i][1]))
            return -1;
    }
    *out = (struct weather_normal){values[0], values[1], values[2], values[3],
                                   values[4], values[5], values[6]};
    return out->temperature_min_c <= out->temperature_max_c &&
                   out->dewpoint_c <= out->temperature_max_c
               ? 0
               : -1;
}

static int read_normals(const json_t *root, const struct adapter *adapter,
                        struct feed_handback *out)
{
    const json_t *months = json_object_get(root, "normals");
    bool expected = out->outcome == ADAPTER_DOCUMENT && adapter->gives_normals;
    if (!json_is_array(months) || json_array_size(months) != (expected ? 12 : 0))
        return -1;
    for (size_t m = 0; expected && m < 12; m++)
        if (read_normal(json_array_get(months, m), &out->normals[m]) != 0)
            return -1;
    out->has_normals = expected;
    return 0;
}

int feed_handback_read(const char *bytes, size_t length, const struct adapter *adapter,
                       struct feed_handback *out, struct error *error)
{
    struct feed_handback read = {.hour_count = 0};
    json_t *root = json_loadb(bytes ? bytes : "", length, JSON_REJECT_DUPLICATES, NULL);
    int result = root && read_head(root, &read) == 0 && read_normals(root, adapter, &read) == 0
                     ? read_hours(root, adapter, &read)
                     : -1;
    json_decref(root);
    if (result != 0) {
        feed_handback_free(&read);
        return error_set(error, "the fetch program handed back something else than its answer");
    }
    *out = read;
    return 0;
}

void feed_handback_free(struct feed_handback *handback)
{
    free(handback->hours);
    handback->hours = NULL;
    handback->hour_count = 0;
}
