/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Days of the example nursery by a simulated clock: the real daemon, and controllers that a
 * nursery could use (tests/controller.c, tests/controller.sh), which ask, open valves and report.
 */
#include "check.h"

#include <jansson.h>
#include <pthread.h>
#include <signal.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stdio.h>
#include <unistd.h>

#include "core/civil.h"
#include "simulated.h"

struct errand {
    char command[1024];
    char out[16384], err[4096];
    int code;
    atomic_bool over;
};

static void *run_errand(void *argument)
{
    struct errand *errand = argument;
    errand->code = check_run(errand->command, errand->out, sizeof errand->out, errand->err,
                             sizeof errand->err);
    atomic_store(&errand->over, true);
    return NULL;
}

/* The controller at work while time passes: to the moment at which it wants to wake up, once the
 * plan is up to date. */
static void run_controller(const struct day *day, const char *program, const char *zone,
                           int64_t until_s)
{
    static struct errand errand;
    char path[256];
    pthread_t thread;
    const char *token = strstr(day->service.controller, "pt-");
    errand = (struct errand){.code = -1};
    day->clock[1] = 0;
    snprintf(errand.command, sizeof errand.command,
             "PERCHD_CLOCK_SLEEPS=1 %s http://127.0.0.1:%d/ %.*s %s %lld",
             strchr(program, '.') ? program : check_program(program, path, sizeof path),
             day->service.port, (int)strcspn(token, "\r"), token, zone, (long long)until_s);
    assert_int_equal(pthread_create(&thread, NULL, run_errand, &errand), 0);
    while (!atomic_load(&errand.over)) {
        int64_t wake_s = day->clock[1];
        if (wake_s > day->clock[0]) {
            day_wait_for_plan(day);
            day->clock[0] = wake_s;
        }
        usleep(500);
    }
    pthread_join(thread, NULL);
    if (errand.code != 0 || errand.err[0])
        fail_msg("%d: %s%s", errand.code, errand.out, errand.err);
    print_message("%s", errand.out);
    day_wait_for_plan(day);
}

/* Minutes of water of all reports that name a run: its time less the pauses. */
static double minutes_of(const json_t *runs, const char *id, double pause_min)
{
    double minutes = 0;
    for (size_t i = 0; i < json_array_size(runs); i++) {
        const json_t *run = json_array_get(runs, i);
        if (strcmp(day_text(run, "run"), id) == 0)
            minutes += (double)(json_integer_value(json_object_get(run, "end_s")) -
                                json_integer_value(json_object_get(run, "start_s"))) /
                           60 -
                       (json_number_value(json_object_get(run, "pulses")) - 1) * pause_min;
    }
    return minutes;
}

/* Every planned run that is over by now, and that no end cut in two, was reported with the minutes
 * it should have. */
static void assert_day_closes(const struct day *day, const char *date, const char *only_zone)
{
    struct answer answer;
    char path[128];
    json_t *reported = day_get(day, "/api/v1/runs?limit=5000");
    json_t *zones = day_get(day, "/api/v1/zones");
    assert_non_null(reported);
    assert_non_null(zones);
    const json_t *runs = json_object_get(reported, "items");
    snprintf(path, sizeof path, "/records.csv?from=%s&to=%s", date, date);
    service_ask(&day->service, "GET", path, "", NULL, &answer);
    assert_int_equal(answer.status, 200);
    size_t planned = 0;
    for (char *line = strstr(answer.body, "\r\n"); line && line[2]; line = strstr(line, "\r\n")) {
        char zone[48];
        char start[32];
        char end[32];
        int64_t from_s = 0;
        int64_t end_s = 0;
        double litres = 0;
        line += 2;
        if (sscanf(line, "planned,%47[^,],,,%*[^,],%31[^,],%31[^,],%lf", zone, start, end,
                   &litres) != 4 ||
            civil_parse_rfc3339(start, &from_s) != STATUS_OK ||
            civil_parse_rfc3339(end, &end_s) != STATUS_OK || end_s >= day->clock[0] ||
            (from_s <= day->cut_s && end_s >= day->cut_s))
            continue;
        char id[128];
        double flow_l_min = 0;
        double pause_min = 30; /* when none is given */
        bool by_hand = false;
        snprintf(id, sizeof id, "%s.%.4s%.2s%.2sT%.2s%.2s", zone, start, start + 5, start + 8,
                 start + 11, start + 14);
        for (size_t z = 0; z < json_array_size(json_object_get(zones, "items")); z++) {
            const json_t *one = json_array_get(json_object_get(zones, "items"), z);
            if (strcmp(day_text(one, "zone"), zone) != 0)
                continue;
            flow_l_min = json_number_value(json_object_get(one, "flow_l_min"));
            if (json_is_number(json_object_get(one, "pause_min")))
                pause_min = json_number_value(json_object_get(one, "pause_min"));
            by_hand = strcmp(day_text(one, "method"), "hand") == 0;
        }
        if (by_hand || (only_zone && strcmp(only_zone, zone) != 0))
            continue;
        planned++;
        check_near(minutes_of(runs, id, pause_min) * flow_l_min, litres, flow_l_min * 0.51, id);
    }
    assert_true(planned > 0);
    client_forget(&answer);
    json_decref(reported);
    json_decref(zones);
}

static void controller_waters_a_day_and_the_balance_closes(void **state)
{
    (void)state;
    struct day day;
    day_open(&day);
    day_wait_for_plan(&day);
    run_controller(&day, "tests/controller", "", DAY_START_S + 5 * 3600);
    /* The hardest end in the midst of it, and on with other processes. */
    day.cut_s = day.clock[0];
    assert_int_equal(service_end(&day.service, SIGKILL), -SIGKILL);
    service_resume(&day.service);
    day_wait_for_plan(&day);
    run_controller(&day, "tests/controller", "", DAY_START_S + 7 * 3600);
    assert_day_closes(&day, "2026-07-01", NULL);
    /* The plan counts on what was reported: blocks are known by what filled them. */
    json_t *plan = day_get(&day, "/api/v1/plan");
    const json_t *blocks = json_object_get(plan, "blocks");
    size_t filled = 0;
    for (size_t b = 0; b < json_array_size(blocks); b++)
        filled += strcmp(day_text(json_array_get(blocks, b), "known_how"), "filled") == 0;
    assert_true(filled > 0);
    json_decref(plan);
    day_close(&day);
}

static void shell_controller_waters_a_zone_in_the_morning(void **state)
{
    (void)state;
    struct day day;
    day_open(&day);
    day_wait_for_plan(&day);
    run_controller(&day, "tests/controller.sh", "drip-1", DAY_START_S + 5 * 3600);
    assert_day_closes(&day, "2026-07-01", "drip-1");
    day_close(&day);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(controller_waters_a_day_and_the_balance_closes),
        cmocka_unit_test(shell_controller_waters_a_zone_in_the_morning),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
