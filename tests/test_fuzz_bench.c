/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Plays the seeds of the bench fuzz target, and what fuzzing found, without a fuzzer; then the same
 * with bytes changed at random from a fixed seed. The target aborts when something is wrong.
 */
#include "check.h"

#include <dirent.h>
#include <stdio.h>

#include "fuzz_bench.c"

enum { MOST_SEED = 2048, SEEDS_MAX = 128, CHANGED = 40 };

struct seed {
    uint8_t bytes[MOST_SEED];
    size_t size;
};

/* An exact copy, so that a step beyond its end is seen by the sanitizers. */
static void play(const uint8_t *bytes, size_t size)
{
    uint8_t *exact = malloc(size > 0 ? size : 1);
    assert_non_null(exact);
    memcpy(exact, bytes, size);
    assert_int_equal(LLVMFuzzerTestOneInput(exact, size), 0);
    free(exact);
}

static size_t read_seeds(struct seed seeds[SEEDS_MAX])
{
    char path[1024];
    size_t count = 0;
    DIR *folder = opendir(PERCHD_SOURCE "/tests/seeds/bench");
    assert_non_null(folder);
    for (struct dirent *entry = readdir(folder); entry; entry = readdir(folder)) {
        if (entry->d_name[0] == '.')
            continue;
        snprintf(path, sizeof path, "%s/tests/seeds/bench/%s", PERCHD_SOURCE, entry->d_name);
        FILE *f = fopen(path, "rb");
        assert_non_null(f);
        assert_true(count < SEEDS_MAX);
        seeds[count].size = fread(seeds[count].bytes, 1, MOST_SEED, f);
        count++;
        fclose(f);
    }
    closedir(folder);
    return count;
}

static void fuzz_bench_seeds_are_answered_or_refused(void **state)
{
    (void)state;
    static struct seed seeds[SEEDS_MAX];
    size_t count = read_seeds(seeds);
    assert_true(count >= 20);
    for (size_t i = 0; i < count; i++)
        play(seeds[i].bytes, seeds[i].size);
}

static void fuzz_bench_changed_seeds_are_answered_or_refused(void **state)
{
    (void)state;
    static struct seed seeds[SEEDS_MAX];
    uint64_t random = 99;
    size_t count = read_seeds(seeds);
    for (size_t i = 0; i < count * CHANGED; i++) {
        struct seed seed = seeds[i % count];
        for (int k = 0; k < 3 && seed.size > 0; k++) {
            size_t at = (size_t)check_between(&random, 0, (double)seed.size);
            seed.bytes[at] = (uint8_t)check_between(&random, 0, 256);
        }
        if (check_random(&random) < .2)
            seed.size = (size_t)check_between(&random, 0, (double)seed.size);
        play(seed.bytes, seed.size);
    }
}

int main(void)
{
    const struct CMUnitTest cases[] = {
        cmocka_unit_test(fuzz_bench_seeds_are_answered_or_refused),
        cmocka_unit_test(fuzz_bench_changed_seeds_are_answered_or_refused),
    };
    return cmocka_run_group_tests(cases, NULL, NULL);
}
