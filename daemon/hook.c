/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "hook.h"

#include <errno.h>
#include <fcntl.h>
#include <jansson.h>
#include <signal.h>
#include <spawn.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "clock.h"
#include "log.h"

extern char **environ;

static char *event_text(const struct config *config, const struct store_cause *cause, int64_t now_s)
{
    json_t *event = json_pack("{s:s, s:s, s:I, s:I, s:s}", "code", cause->code, "subject",
                              cause->subject, "since_s", (json_int_t)cause->since_s, "now_s",
                              (json_int_t)now_s, "nursery", config->nursery_name);
    char *text = event ? json_dumps(event, JSON_COMPACT) : NULL;
    json_decref(event);
    return text;
}

/* A pipe that holds the whole text, its end to be read; far less than a pipe's 64 KB. */
static int open_input(const char *text, struct error *error)
{
    int ends[2];
    if (pipe2(ends, O_CLOEXEC) != 0)
        return error_set(error, "no pipe for the hook: %s", strerror(errno));
    ssize_t written = write(ends[1], text, strlen(text));
    close(ends[1]);
    if (written == (ssize_t)strlen(text))
        return ends[0];
    close(ends[0]);
    return error_set(error, "the hook's pipe cannot be written");
}

/* In a group of its own, so that what it started ends with it. */
static int spawn(const char *program, const struct store_cause *cause, int input, pid_t *pid,
                 struct error *error)
{
    char path[512];
    struct store_cause words = *cause;
    char *argv[] = {path, words.code, words.subject, NULL};
    sigset_t none;
    posix_spawn_file_actions_t files;
    posix_spawnattr_t attributes;
    snprintf(path, sizeof path, "%s", program);
    sigemptyset(&none);
    posix_spawn_file_actions_init(&files);
    posix_spawnattr_init(&attributes);
    int rc = posix_spawn_file_actions_adddup2(&files, input, STDIN_FILENO);
    if (rc == 0)
        rc = posix_spawn_file_actions_addopen(&files, STDOUT_FILENO, "/dev/null", O_WRONLY, 0);
    if (rc == 0)
        rc = posix_spawnattr_setsigmask(&attributes, &none);
    if (rc == 0)
        rc = posix_spawnattr_setpgroup(&attributes, 0);
    if (rc == 0)
        rc = posix_spawnattr_setflags(&attributes, POSIX_SPAWN_SETPGROUP | POSIX_SPAWN_SETSIGMASK);
    if (rc == 0)
        rc = posix_spawn(pid, path, &files, &attributes, argv, environ);
    posix_spawnattr_destroy(&attributes);
    posix_spawn_file_actions_destroy(&files);
    return rc == 0 ? 0 : error_set(error, "%s cannot be started: %s", program, strerror(rc));
}

static int wait_for_end(const char *program, pid_t pid, int most_s, struct error *error)
{
    const struct timespec pause = {0, 20 * 1000000L};
    int64_t end_ms = clock_monotonic_ms() + 1000 * (int64_t)most_s;
    int status = 0;
    for (;;) {
        pid_t got = waitpid(pid, &status, WNOHANG);
        if (got == pid)
            break;
        if (got < 0 && errno != EINTR)
            return error_set(error, "%s: %s", program, strerror(errno));
        if (clock_monotonic_ms() >= end_ms) {
            kill(-pid, SIGKILL);
            while (waitpid(pid, &status, 0) < 0 && errno == EINTR)
                ;
            return error_set(error, "%s did not end within %d s and was ended", program, most_s);
        }
        nanosleep(&pause, NULL);
    }
    if (WIFEXITED(status) && WEXITSTATUS(status) == 0)
        return 0;
    return error_set(error, "%s ended with %s %d", program, WIFSIGNALED(status) ? "signal" : "code",
                     WIFSIGNALED(status) ? WTERMSIG(status) : WEXITSTATUS(status));
}

int hook_run(const struct config *config, const struct store_cause *cause, int64_t now_s,
             int most_s, struct error *error)
{
    char *text = event_text(config, cause, now_s);
    if (!text)
        return error_set(error, "out of memory for the hook");
    int input = open_input(text, error);
    free(text);
    if (input < 0)
        return -1;
    pid_t pid = 0;
    int result = spawn(config->hook_program, cause, input, &pid, error);
    close(input);
    return result == 0 ? wait_for_end(config->hook_program, pid, most_s, error) : -1;
}

/* --- causes ---------------------------------------------------------------------------------- */

struct causes {
    struct store_cause list[HOOK_CALLS_MOST];
    size_t count;
};

/* The first ones: an operator who gets more than that at once knows enough. */
static void take(void *context, const struct store_cause *cause)
{
    struct causes *causes = context;
    if (causes->count < HOOK_CALLS_MOST)
        causes->list[causes->count++] = *cause;
}

static bool is_limit(const char *code)
{
    return strcmp(code, "passes_stress") == 0 || strcmp(code, "hold_passes") == 0 ||
           strcmp(code, "starved") == 0;
}

static void take_limits(struct causes *causes, const struct records_notice *notices, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        struct store_cause cause = {.code = "limit_near", .since_s = notices[i].since_s};
        bool again = false;
        memcpy(cause.subject, notices[i].subject, sizeof cause.subject);
        for (size_t c = 0; c < causes->count; c++)
            again |= strcmp(causes->list[c].code, cause.code) == 0 &&
                     strcmp(causes->list[c].subject, cause.subject) == 0;
        if (is_limit(notices[i].code) && !again)
            take(causes, &cause);
    }
}

void hook_call(const struct config *config, struct store *store, int64_t now_s, int64_t asked_s,
               const struct records_notice *notices, size_t notice_count)
{
    struct causes causes = {.count = 0};
    struct error error = {""};
    int64_t end_ms = clock_monotonic_ms() + 1000 * (int64_t)HOOK_MOST_S;
    if (!config->hook_program[0])
        return;
    if (store_hook_causes(store, now_s, asked_s, take, &causes, &error) != 0)
        log_write(LOG_LEVEL_WARNING, "hook: %s", error.text);
    take_limits(&causes, notices, notice_count);
    for (size_t i = 0; i < causes.count; i++) {
        const struct store_cause *cause = &causes.list[i];
        int left_s = (int)((end_ms - clock_monotonic_ms()) / 1000);
        if (left_s < 1) /* the others are called for with the next plan */
            return;
        int due = store_hook_due(store, cause, now_s, HOOK_AGAIN_S, &error);
        if (due == 0)
            continue;
        if (due > 0 && hook_run(config, cause, now_s, left_s, &error) == 0)
            continue;
        log_write(LOG_LEVEL_WARNING, "hook: %s %s: %s", cause->code, cause->subject, error.text);
        break; /* what fails, or hangs, keeps the next plan waiting only once */
    }
}
