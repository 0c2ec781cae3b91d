/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Plays the fuzz targets' seeds, and what fuzzing found, without a fuzzer. A target aborts when it
 * finds something wrong.
 */
#include "check.h"

#include <dirent.h>
#include <stdio.h>

#define LLVMFuzzerTestOneInput fuzz_feed_met
#include "fuzz_feed_met.c"
#undef LLVMFuzzerTestOneInput
#define LLVMFuzzerTestOneInput fuzz_feed_open_meteo
#include "fuzz_feed_open_meteo.c"
#undef LLVMFuzzerTestOneInput
#define LLVMFuzzerTestOneInput fuzz_feed_nws
#include "fuzz_feed_nws.c"
#undef LLVMFuzzerTestOneInput
#define LLVMFuzzerTestOneInput fuzz_feed_nws_stations
#include "fuzz_feed_nws_stations.c"
#undef LLVMFuzzerTestOneInput
#define LLVMFuzzerTestOneInput fuzz_feed_power
#include "fuzz_feed_power.c"
#undef LLVMFuzzerTestOneInput
#define LLVMFuzzerTestOneInput fuzz_feed_handback
#include "fuzz_feed_handback.c"
#undef LLVMFuzzerTestOneInput

#define LLVMFuzzerTestOneInput fuzz_document
#include "fuzz_document.c"
#undef LLVMFuzzerTestOneInput

enum { MOST_SEED = 1 << 20 };

static void play_file(const char *path, int (*target)(const uint8_t *, size_t))
{
    FILE *f = fopen(path, "rb");
    assert_non_null(f);
    uint8_t *buffer = malloc(MOST_SEED);
    assert_non_null(buffer);
    size_t length = fread(buffer, 1, MOST_SEED, f);
    fclose(f);
    uint8_t *exact = malloc(length ? length : 1); /* so that a step beyond the end is seen */
    assert_non_null(exact);
    memcpy(exact, buffer, length);
    assert_int_equal(target(exact, length), 0);
    free(exact);
    free(buffer);
}

static void play(const char *name, int (*target)(const uint8_t *, size_t))
{
    char folder[512];
    char path[1024];
    size_t played = 0;
    snprintf(folder, sizeof folder, "%s/tests/seeds/%s", PERCHD_SOURCE, name);
    DIR *dir = opendir(folder);
    assert_non_null(dir);
    for (struct dirent *entry = readdir(dir); entry; entry = readdir(dir)) {
        if (entry->d_name[0] == '.')
            continue;
        snprintf(path, sizeof path, "%s/%s", folder, entry->d_name);
        play_file(path, target);
        played++;
    }
    closedir(dir);
    assert_true(played > 0);
}

static void seeds_document_pass(void **state)
{
    (void)state;
    play("document", fuzz_document);
}

static void seeds_feed_met_pass(void **state)
{
    (void)state;
    play("feed_met", fuzz_feed_met);
}

static void seeds_feed_open_meteo_pass(void **state)
{
    (void)state;
    play("feed_open_meteo", fuzz_feed_open_meteo);
}

static void seeds_feed_nws_pass(void **state)
{
    (void)state;
    play("feed_nws", fuzz_feed_nws);
}

static void seeds_feed_nws_stations_pass(void **state)
{
    (void)state;
    play("feed_nws_stations", fuzz_feed_nws_stations);
}

static void seeds_feed_power_pass(void **state)
{
    (void)state;
    play("feed_power", fuzz_feed_power);
}

static void seeds_feed_handback_pass(void **state)
{
    (void)state;
    play("feed_handback", fuzz_feed_handback);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(seeds_document_pass),          cmocka_unit_test(seeds_feed_met_pass),
        cmocka_unit_test(seeds_feed_open_meteo_pass),   cmocka_unit_test(seeds_feed_nws_pass),
        cmocka_unit_test(seeds_feed_nws_stations_pass), cmocka_unit_test(seeds_feed_power_pass),
        cmocka_unit_test(seeds_feed_handback_pass),
    };
    return cmocka_run_group_tests_name("seeds", tests, NULL, NULL);
}
