/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check.h"

#include "example.h"

#include <stdio.h>
#include <unistd.h>

#include "daemon/import.h"
#include "daemon/zoneinfo.h"

void example_write(const struct example *nursery, const char *name, const char *text)
{
    char path[128];
    snprintf(path, sizeof path, "%s/%s", nursery->folder, name);
    FILE *f = fopen(path, "w");
    assert_non_null(f);
    fputs(text, f);
    assert_int_equal(fclose(f), 0);
}

static void import_example(const struct example *nursery)
{
    struct config config;
    struct error error;
    if (config_load(nursery->config, &config, &error) != 0)
        fail_msg("%s", error.text);
    struct store *store = store_open(config.store_path, false, &error);
    if (!store || import_path(store, PERCHD_SOURCE "/config/demo", NULL, &error) != 0)
        fail_msg("%s", error.text);
    store_close(store);
}

struct example example_make(const char *feed_url, bool import)
{
    struct example nursery = {"/tmp/perchd-test-XXXXXX", ""};
    char text[1024];
    assert_non_null(mkdtemp(nursery.folder));
    snprintf(nursery.config, sizeof nursery.config, "%s/perchd.conf", nursery.folder);
    snprintf(text, sizeof text,
             "[nursery]\nname = Test nursery\ntime_zone = Europe/Lisbon\nlatitude_deg = 38.15\n"
             "longitude_deg = -8.45\nelevation_m = 90\n[serve]\nport = 0\n[store]\n"
             "path = records.sqlite\n[feed]\nsources = %s\n%s%s%s",
             feed_url ? "met" : "none",
             feed_url ? "contact = tests@nursery.example\nmet_url = " : "",
             feed_url ? feed_url : "", feed_url ? "\n" : "");
    example_write(&nursery, "perchd.conf", text);
    if (import)
        import_example(&nursery);
    return nursery;
}

void example_remove(const struct example *nursery)
{
    char command[96];
    snprintf(command, sizeof command, "rm -r %s", nursery->folder);
    assert_int_equal(system(command), 0);
}

struct office office_open(void)
{
    struct office office = {.example = example_make(NULL, true)};
    assert_int_equal(config_load(office.example.config, &office.config, &office.error), 0);
    assert_int_equal(zoneinfo_load(office.config.time_zone, &office.zone, &office.error), 0);
    office.store = store_open(office.config.store_path, false, &office.error);
    assert_non_null(office.store);
    return office;
}

void office_close(struct office *office)
{
    store_close(office->store);
    zoneinfo_free(&office->zone);
    example_remove(&office->example);
}

void office_feed(struct office *office, const struct weather_raw *hours, size_t count)
{
    const struct store_feed feed = {.issued_s = hours[0].issued_s,
                                    .fetched_s = hours[0].issued_s,
                                    .first_s = hours[0].start_s,
                                    .end_s = hours[count - 1].start_s + CIVIL_HOUR_S};
    snprintf(office->config.feeds[0].name, sizeof office->config.feeds[0].name, "met");
    office->config.feed_count = 1;
    assert_int_equal(store_feed_accept(office->store, "met", hours, count, &feed, &office->error),
                     0);
}

void office_import(struct office *office, const char *name, const char *text)
{
    char path[128];
    example_write(&office->example, name, text);
    snprintf(path, sizeof path, "%s/%s", office->example.folder, name);
    if (import_path(office->store, path, NULL, &office->error) != 0)
        fail_msg("%s", office->error.text);
}

int64_t example_time(const char *text)
{
    int64_t t_s = 0;
    assert_int_equal(civil_parse_rfc3339(text, &t_s), STATUS_OK);
    return t_s;
}
