/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check.h"

#include <ftw.h>
#include <stdio.h>
#include <unistd.h>

#include "daemon/import.h"

static int remove_one(const char *path, const struct stat *status, int type, struct FTW *walk)
{
    (void)status;
    (void)type;
    (void)walk;
    return remove(path);
}

static void import_path_demo_nursery_lands_whole(void **state)
{
    (void)state;
    char folder[] = "/tmp/perchd-test-XXXXXX";
    char path[64];
    struct error error = {""};
    assert_non_null(mkdtemp(folder));
    snprintf(path, sizeof path, "%s/s.sqlite", folder);
    struct store *store = store_open(path, false, &error);
    assert_non_null(store);
    if (import_path(store, PERCHD_SOURCE "/config/demo", NULL, &error))
        fail_msg("%s", error.text);
    const struct sun_site site = {38.15, -8.45, 90};
    const struct civil_offset utc = {0, 0};
    const struct civil_zone zone = {&utc, 1};
    struct records records;
    assert_int_equal(store_load(store, 1785000000, &site, &zone, 14, 8, &records, &error), 0);
    assert_true(records.nursery.block_count >= 14);
    assert_int_equal(records.nursery.zone_count, 7);
    assert_true(records.has_normals);
    records_free(&records);
    store_close(store);
    nftw(folder, remove_one, 8, FTW_DEPTH | FTW_PHYS);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(import_path_demo_nursery_lands_whole)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
