/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "loop.h"

#include <errno.h>
#include <poll.h>
#include <pthread.h>
#include <signal.h>
#include <stdbool.h>
#include <string.h>
#include <sys/signalfd.h>
#include <unistd.h>

#include "clock.h"

enum { SLEEP_MAX_MS = 1000 }; /* http.h says why; ticks count on it too */

int loop_signals(struct error *error)
{
    sigset_t set;
    sigemptyset(&set);
    sigaddset(&set, SIGTERM);
    sigaddset(&set, SIGINT);
    sigaddset(&set, SIGHUP);
    const struct sigaction ignore = {.sa_handler = SIG_IGN};
    int rc = pthread_sigmask(SIG_BLOCK, &set, NULL);
    if (rc != 0 || sigaction(SIGPIPE, &ignore, NULL) != 0)
        return error_set(error, "loop: signals: %s", strerror(rc ? rc : errno));
    int fd = signalfd(-1, &set, SFD_NONBLOCK | SFD_CLOEXEC);
    return fd >= 0 ? fd : error_set(error, "loop: signals: %s", strerror(errno));
}

/* True when one of them asks to stop. */
static bool take_signals(int signal_fd, const struct loop_work *work)
{
    struct signalfd_siginfo info;
    bool stop = false;
    while (read(signal_fd, &info, sizeof info) == (ssize_t)sizeof info) {
        if (info.ssi_signo != SIGHUP)
            stop = true;
        else if (work->reload)
            work->reload(work->context);
    }
    return stop;
}

static int shorter_sleep(int sleep_ms, int64_t stop_at_ms)
{
    if (sleep_ms < 0 || sleep_ms > SLEEP_MAX_MS)
        sleep_ms = SLEEP_MAX_MS;
    if (stop_at_ms == 0)
        return sleep_ms;
    int64_t left_ms = stop_at_ms - clock_monotonic_ms();
    return left_ms < 0 ? 0 : left_ms < sleep_ms ? (int)left_ms : sleep_ms;
}

int loop_run(int signal_fd, const struct loop_work *work, struct error *error)
{
    struct pollfd fds[] = {{.fd = signal_fd, .events = POLLIN}, {.fd = work->fd, .events = POLLIN}};
    for (;;) {
        int sleep_ms = work->turn(work->context);
        fds[0].revents = 0; /* an interrupted poll leaves what was there */
        if (poll(fds, 2, shorter_sleep(sleep_ms, work->stop_at_ms)) < 0 && errno != EINTR)
            return error_set(error, "loop: poll: %s", strerror(errno));
        if (fds[0].revents && take_signals(signal_fd, work))
            return 0;
        if (work->stop_at_ms != 0 && clock_monotonic_ms() >= work->stop_at_ms)
            return 0;
        if (work->tick)
            work->tick(work->context);
    }
}
