/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A library to preload into any program: the time is what the file in $PERCHD_CLOCK holds (eight
 * bytes, seconds), and whoever has PERCHD_CLOCK_DRIVES set moves it on by sleeping. So a day passes
 * in seconds for the real daemon and the real controllers. Clocks that measure spans stay as they
 * are.
 */
#include <fcntl.h>
#include <stdint.h>
#include <stdlib.h>
#include <sys/mman.h>
#include <sys/syscall.h>
#include <sys/time.h>
#include <time.h>
#include <unistd.h>

enum { LOOK_NS = 500000, WORDS = 2 };

static volatile int64_t *shared(void)
{
    static volatile int64_t *seconds;
    const char *path = getenv("PERCHD_CLOCK");
    if (seconds || !path)
        return seconds;
    int fd = open(path, O_RDWR | O_CLOEXEC);
    void *page =
        fd < 0 ? MAP_FAILED
               : mmap(NULL, WORDS * sizeof *seconds, PROT_READ | PROT_WRITE, MAP_SHARED, fd, 0);
    if (fd >= 0)
        close(fd);
    if (page != MAP_FAILED)
        seconds = page;
    return seconds;
}

static int64_t now_s(void)
{
    volatile int64_t *seconds = shared();
    return seconds ? *seconds : 0;
}

time_t time(time_t *out)
{
    if (out)
        *out = (time_t)now_s();
    return (time_t)now_s();
}

int gettimeofday(struct timeval *restrict out, void *restrict zone)
{
    (void)zone;
    *out = (struct timeval){.tv_sec = (time_t)now_s()};
    return 0;
}

int clock_gettime(clockid_t clock, struct timespec *out)
{
    if (clock != CLOCK_REALTIME)
        return (int)syscall(SYS_clock_gettime, clock, out);
    *out = (struct timespec){.tv_sec = (time_t)now_s()};
    return 0;
}

int nanosleep(const struct timespec *wanted, struct timespec *left)
{
    const struct timespec look = {0, LOOK_NS};
    volatile int64_t *seconds = shared();
    if (!seconds || !getenv("PERCHD_CLOCK_SLEEPS"))
        return (int)syscall(SYS_nanosleep, wanted, left);
    int64_t until_s = seconds[0] + wanted->tv_sec;
    seconds[1] = until_s;
    while (seconds[0] < until_s)
        syscall(SYS_nanosleep, &look, NULL);
    return 0;
}

int clock_nanosleep(clockid_t clock, int flags, const struct timespec *wanted,
                    struct timespec *left)
{
    (void)clock;
    (void)flags;
    return nanosleep(wanted, left);
}

unsigned sleep(unsigned wanted_s)
{
    const struct timespec wanted = {(time_t)wanted_s, 0};
    nanosleep(&wanted, NULL);
    return 0;
}
