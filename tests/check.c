/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check.h"

#include <math.h>
#include <stdio.h>
#include <sys/wait.h>
#include <unistd.h>

void check_near_at(double got, double expected, double tolerance, const char *what,
                   const char *file, int line)
{
    if (fabs(got - expected) <= tolerance)
        return;
    print_error("%s: got %.10g, expected %.10g within %g\n", what, got, expected, tolerance);
    _fail(file, line);
}

double check_random(uint64_t *state)
{
    uint64_t z = (*state += 0x9e3779b97f4a7c15u);
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return (double)((z ^ (z >> 31)) >> 11) * 0x1.0p-53;
}

double check_between(uint64_t *state, double low, double high)
{
    return low + (high - low) * check_random(state);
}

static void read_back(const char *path, char *text, size_t size)
{
    FILE *f = fopen(path, "rb");
    size_t n = f ? fread(text, 1, size - 1, f) : 0;
    text[n] = '\0';
    if (f)
        fclose(f);
    unlink(path);
}

int check_run(const char *command, char *out, size_t out_size, char *err, size_t err_size)
{
    char out_path[] = "/tmp/perchd-test-out-XXXXXX";
    char err_path[] = "/tmp/perchd-test-err-XXXXXX";
    char full[8192];
    int out_fd = mkstemp(out_path);
    int err_fd = mkstemp(err_path);
    if (out_fd < 0 || err_fd < 0)
        return -1;
    close(out_fd);
    close(err_fd);
    snprintf(full, sizeof full, "( %s ) >%s 2>%s </dev/null", command, out_path, err_path);
    int status = system(full);
    read_back(out_path, out, out_size);
    read_back(err_path, err, err_size);
    return status >= 0 && WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

const char *check_program(const char *name, char *buffer, size_t size)
{
    const char *build = getenv("PERCHD_BUILD");
    snprintf(buffer, size, "%s/%s", build ? build : "build", name);
    return buffer;
}
