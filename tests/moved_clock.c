/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check.h"

#include "moved_clock.h"

#include <fcntl.h>
#include <stdio.h>
#include <sys/mman.h>
#include <unistd.h>

enum { WORDS = 2 };

void moved_clock_start(struct moved_clock *clock, int64_t now_s)
{
    char library[256];
    char cwd[512];
    char preload[1024];
    const int64_t words[WORDS] = {now_s, 0};
    snprintf(clock->path, sizeof clock->path, "/tmp/perchd-test-clock-%d", (int)getpid());
    int fd = open(clock->path, O_RDWR | O_CREAT | O_TRUNC | O_CLOEXEC, 0600);
    assert_true(fd >= 0);
    assert_int_equal(write(fd, words, sizeof words), sizeof words);
    void *page = mmap(NULL, sizeof words, PROT_READ | PROT_WRITE, MAP_SHARED, fd, 0);
    assert_ptr_not_equal(page, MAP_FAILED);
    clock->now = page;
    close(fd);
    check_program("tests/preload_clock.so", library, sizeof library);
    snprintf(preload, sizeof preload, "%s%s%s", library[0] == '/' ? "" : getcwd(cwd, sizeof cwd),
             library[0] == '/' ? "" : "/", library);
    setenv("PERCHD_CLOCK", clock->path, 1);
    setenv("LD_PRELOAD", preload, 1);
    /* Sanitizers want to come first, but get along. */
    setenv("ASAN_OPTIONS", "verify_asan_link_order=0:detect_leaks=0", 1);
}

void moved_clock_end(struct moved_clock *clock)
{
    unsetenv("LD_PRELOAD");
    unsetenv("PERCHD_CLOCK");
    munmap((void *)(uintptr_t)clock->now, WORDS * sizeof(int64_t));
    unlink(clock->path);
}
