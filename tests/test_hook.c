/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The operator's program: what it is called for, once, and what happens when it fails or hangs. */
#include "check.h"

#include <jansson.h>
#include <signal.h>
#include <stdbool.h>
#include <stdio.h>
#include <sys/stat.h>
#include <unistd.h>

#include "daemon/config.h"
#include "daemon/hook.h"
#include "daemon/import.h"
#include "moved_clock.h"
#include "service.h"

/* 2026-07-01T16:00:00 in Lisbon. */
static const int64_t now_s = 1782918000;

struct desk {
    struct example example;
    struct config config;
    struct store *store;
    struct error error;
    char calls[128]; /* what the program wrote, a line a call */
};

static void write_program(struct desk *desk, const char *text)
{
    char path[128];
    example_write(&desk->example, "tell", text);
    snprintf(path, sizeof path, "%s/tell", desk->example.folder);
    assert_int_equal(chmod(path, 0700), 0);
    snprintf(desk->config.hook_program, sizeof desk->config.hook_program, "%s", path);
    snprintf(desk->calls, sizeof desk->calls, "%s/calls", desk->example.folder);
}

static const char telling[] = "#!/bin/sh\n"
                              "read -r event\n"
                              "echo \"$1 $2 $event\" >>\"$(dirname \"$0\")/calls\"\n";

static struct desk desk_open(const char *program)
{
    struct desk desk = {.example = example_make(NULL, true)};
    assert_int_equal(config_load(desk.example.config, &desk.config, &desk.error), 0);
    assert_string_equal(desk.config.hook_program, ""); /* none unless named */
    desk.store = store_open(desk.config.store_path, false, &desk.error);
    assert_non_null(desk.store);
    write_program(&desk, program);
    return desk;
}

static void desk_close(struct desk *desk)
{
    store_close(desk->store);
    example_remove(&desk->example);
}

static void desk_import(struct desk *desk, const char *name, const char *text)
{
    char path[128];
    example_write(&desk->example, name, text);
    snprintf(path, sizeof path, "%s/%s", desk->example.folder, name);
    if (import_path(desk->store, path, NULL, &desk->error) != 0)
        fail_msg("%s", desk->error.text);
}

static size_t read_calls(const char *path, char *out, size_t size)
{
    FILE *file = fopen(path, "r");
    size_t length = file ? fread(out, 1, size - 1, file) : 0;
    size_t lines = 0;
    out[length] = '\0';
    for (const char *c = out; *c; c++)
        lines += *c == '\n';
    if (file)
        fclose(file);
    return lines;
}

static size_t calls_of(const struct desk *desk, char *out, size_t size)
{
    return read_calls(desk->calls, out, size);
}

static void call(struct desk *desk, int64_t at_s, int64_t asked_s)
{
    hook_call(&desk->config, desk->store, at_s, asked_s, NULL, 0);
}

static void hook_is_told_of_a_pump_that_is_out_once_in_six_hours(void **state)
{
    (void)state;
    char calls[4096];
    struct desk desk = desk_open(telling);
    call(&desk, now_s, now_s);
    assert_int_equal(calls_of(&desk, calls, sizeof calls), 0);
    desk_import(&desk, "holds.csv",
                "key,kind,supply,from,to,who,why\n"
                "h-1,pump-out,pump,2026-07-01T15:00:00+01:00,2026-07-02T15:00:00+01:00,,\n"
                "h-2,skip,pump,2026-07-01T15:00:00+01:00,2026-07-02T15:00:00+01:00,,\n");
    call(&desk, now_s, now_s);
    assert_int_equal(calls_of(&desk, calls, sizeof calls), 1);
    assert_int_equal(strncmp(calls, "supply_out pump {", 17), 0);
    json_t *event = json_loads(strchr(calls, '{'), JSON_DISABLE_EOF_CHECK, NULL);
    assert_string_equal(json_string_value(json_object_get(event, "code")), "supply_out");
    assert_string_equal(json_string_value(json_object_get(event, "nursery")), "Test nursery");
    assert_int_equal(json_integer_value(json_object_get(event, "since_s")), now_s - 3600);
    json_decref(event);
    call(&desk, now_s + HOOK_AGAIN_S - 1, now_s);
    assert_int_equal(calls_of(&desk, calls, sizeof calls), 1);
    store_close(desk.store); /* a restart does not forget */
    desk.store = store_open(desk.config.store_path, false, &desk.error);
    call(&desk, now_s + HOOK_AGAIN_S - 1, now_s);
    assert_int_equal(calls_of(&desk, calls, sizeof calls), 1);
    call(&desk, now_s + HOOK_AGAIN_S, now_s);
    assert_int_equal(calls_of(&desk, calls, sizeof calls), 2);
    desk_close(&desk);
}

/* The hose zone waits for reports. */
static void hook_is_told_when_nobody_reports_a_run(void **state)
{
    (void)state;
    char calls[4096];
    struct desk desk = desk_open(telling);
    const struct store_planned runs[] = {
        {.zone = "hand-1", .start_s = now_s - 4000, .end_s = now_s - 3000, .litres = 100},
        {.zone = "drip-1", .start_s = now_s - 4000, .end_s = now_s - 3000, .litres = 100}};
    assert_int_equal(store_planned_replace(desk.store, now_s - 5000, runs, 2, &desk.error), 0);
    assert_int_equal(store_planned_replace(desk.store, now_s - 1500, NULL, 0, &desk.error), 0);
    call(&desk, now_s - 1500, now_s); /* within the half hour */
    assert_int_equal(calls_of(&desk, calls, sizeof calls), 0);
    call(&desk, now_s, now_s);
    assert_int_equal(calls_of(&desk, calls, sizeof calls), 1);
    assert_int_equal(strncmp(calls, "no_report hand-1 {", 18), 0);
    desk_close(&desk);
    desk = desk_open(telling);
    assert_int_equal(store_planned_replace(desk.store, now_s - 5000, runs, 2, &desk.error), 0);
    assert_int_equal(store_planned_replace(desk.store, now_s - 1500, NULL, 0, &desk.error), 0);
    desk_import(&desk, "runs.csv",
                "key,zone,start,end,litres,state\n"
                "r-1,hand-1,2026-07-01T14:55:00+01:00,2026-07-01T15:10:00+01:00,90,reported\n");
    call(&desk, now_s, now_s);
    assert_int_equal(calls_of(&desk, calls, sizeof calls), 0);
    desk_close(&desk);
}

static void hook_is_told_of_limits_by_zone(void **state)
{
    (void)state;
    char calls[4096];
    struct desk desk = desk_open(telling);
    const struct records_notice notices[] = {{"passes_stress", "bed-1", now_s - 60},
                                             {"starved", "bed-1", now_s - 60},
                                             {"starved", "bed-2", now_s - 60},
                                             {"canopy_old", "fern-2l", now_s - 60}};
    hook_call(&desk.config, desk.store, now_s, now_s, notices, 4);
    assert_int_equal(calls_of(&desk, calls, sizeof calls), 2);
    assert_non_null(strstr(calls, "limit_near bed-1 {"));
    assert_non_null(strstr(calls, "limit_near bed-2 {"));
    desk_close(&desk);
}

static void hook_that_fails_or_is_missing_is_an_error(void **state)
{
    (void)state;
    const struct store_cause cause = {"supply_out", "pump", now_s};
    struct desk desk = desk_open("#!/bin/sh\nexit 3\n");
    assert_int_equal(hook_run(&desk.config, &cause, now_s, 5, &desk.error), -1);
    assert_non_null(strstr(desk.error.text, "code 3"));
    snprintf(desk.config.hook_program, sizeof desk.config.hook_program, "%s/nothing",
             desk.example.folder);
    assert_int_equal(hook_run(&desk.config, &cause, now_s, 5, &desk.error), -1);
    assert_non_null(strstr(desk.error.text, "nothing"));
    desk_close(&desk);
}

/* It and what it started are gone afterwards. */
static void hook_that_hangs_is_ended(void **state)
{
    (void)state;
    const struct store_cause cause = {"supply_out", "pump", now_s};
    struct desk desk = desk_open("#!/bin/sh\necho $$ >\"$(dirname \"$0\")/calls\"\nsleep 600\n");
    char calls[64];
    assert_int_equal(hook_run(&desk.config, &cause, now_s, 1, &desk.error), -1);
    assert_non_null(strstr(desk.error.text, "did not end within 1 s"));
    assert_int_equal(calls_of(&desk, calls, sizeof calls), 1);
    pid_t pid = (pid_t)strtol(calls, NULL, 10);
    assert_true(pid > 1);
    assert_int_equal(kill(pid, 0), -1);
    desk_close(&desk);
}

/* --- the real daemon ---------------------------------------------------------------------------
 */

static void wait_for_calls(const struct service *service, const struct desk *paths,
                           const char *words, char *calls, size_t size)
{
    for (int i = 0; i < 1500; i++) {
        if (i % 100 == 0)
            kill(service->pid, SIGHUP);
        read_calls(paths->calls, calls, size);
        if (strstr(calls, words))
            return;
        usleep(20000);
    }
    fail_msg("never called for '%s': %s", words, calls);
}

/* A controller has a token, valves are to open at four in the morning, and it does not ask. */
static void daemon_calls_when_nobody_polls_before_a_run(void **state)
{
    (void)state;
    struct moved_clock clock;
    struct desk paths = {.error = {""}};
    char calls[8192];
    char config[160];
    /* 02:30 of 2 July in Lisbon. */
    moved_clock_start(&clock, 1782955800);
    struct service service = service_start();
    assert_int_equal(service_end(&service, SIGTERM), 0);
    paths.example = service.example;
    write_program(&paths, telling);
    snprintf(config, sizeof config, "%s", service.example.config);
    FILE *file = fopen(config, "a");
    assert_non_null(file);
    fprintf(file, "[hook]\nprogram = tell\n");
    fclose(file);
    service_resume(&service);
    while (service_status(&service, "GET", "/api/v1/due", "", NULL) != 200)
        usleep(20000);
    read_calls(paths.calls, calls, sizeof calls);
    assert_null(strstr(calls, "nobody_polled"));
    clock.now[0] += 75 * 60; /* 03:45: runs from 04:00 on */
    wait_for_calls(&service, &paths, "nobody_polled  {", calls, sizeof calls);
    service_stop(&service);
    moved_clock_end(&clock);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(hook_is_told_of_a_pump_that_is_out_once_in_six_hours),
        cmocka_unit_test(hook_is_told_when_nobody_reports_a_run),
        cmocka_unit_test(hook_is_told_of_limits_by_zone),
        cmocka_unit_test(hook_that_fails_or_is_missing_is_an_error),
        cmocka_unit_test(hook_that_hangs_is_ended),
        cmocka_unit_test(daemon_calls_when_nobody_polls_before_a_run),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
