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

/* Something that happens while the controller is at work. */
struct event {
    int64_t at_s; /* of the simulated clock, ascending */
    void (*happen)(struct day *day);
};

static void go_to(const struct day *day, int64_t t_s)
{
    if (!day->down)
        day_wait_for_plan(day);
    day->clock[0] = t_s;
}

/* The controller at work while time passes: to the moment at which it wants to wake up, once the
 * plan is up to date; events come first. Ends with one that at_s is 0 of. */
static void run_controller(struct day *day, const char *program, const char *zone, int64_t until_s,
                           const struct event *events)
{
    static struct errand errand;
    char path[256];
    pthread_t thread;
    const char *token = strstr(day->service.controller, "pt-");
    errand = (struct errand){.code = -1};
    day->clock[1] = 0;
    snprintf(errand.command, sizeof errand.command,
             "PERCHD_CLOCK_SLEEPS=1 timeout 300 %s http://127.0.0.1:%d/ %.*s %s %lld",
             strchr(program, '.') ? program : check_program(program, path, sizeof path),
             day->service.port, (int)strcspn(token, "\r"), token, zone, (long long)until_s);
    assert_int_equal(pthread_create(&thread, NULL, run_errand, &errand), 0);
    while (!atomic_load(&errand.over)) {
        int64_t wake_s = day->clock[1];
        for (; wake_s > day->clock[0] && events->at_s != 0 && events->at_s <= wake_s; events++) {
            go_to(day, events->at_s);
            events->happen(day);
        }
        if (wake_s > day->clock[0])
            go_to(day, wake_s);
        usleep(500);
    }
    pthread_join(thread, NULL);
    if (errand.code != 0 || errand.err[0])
        fail_msg("%d: %s%s", errand.code, errand.out, errand.err);
    print_message("%s", errand.out);
    day_wait_for_plan(day);
}

static void say(const struct day *day, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

/* A line of what happened, with the day's clock. */
static void say(const struct day *day, const char *format, ...)
{
    char text[256];
    int minute = (int)((day->clock[0] - DAY_START_S) / 60);
    va_list args;
    va_start(args, format);
    vsnprintf(text, sizeof text, format, args);
    va_end(args);
    print_message("%02d:%02d %s\n", minute / 60, minute % 60, text);
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
            (from_s <= day->back_s && end_s >= day->cut_s))
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

/* --- what happens that day ---------------------------------------------------------------- */

static void kill_daemon(struct day *day)
{
    struct answer answer;
    size_t open = 0;
    service_ask(&day->service, "GET", "/api/v1/due", "", NULL, &answer);
    for (const char *at = answer.body; (at = strstr(at, "\"open\":true")); at++)
        open++;
    client_forget(&answer);
    assert_true(open > 0);
    assert_int_equal(service_end(&day->service, SIGKILL), -SIGKILL);
    day->down = true;
    day->cut_s = day->clock[0];
    say(day, "the daemon is killed while %zu valves are open", open);
}

static void start_daemon(struct day *day)
{
    service_resume(&day->service);
    day->down = false;
    if (day->back_s == 0)
        day->back_s = day->clock[0];
    day_wait_for_plan(day);
    say(day, "the daemon is started again; the controller had its valves shut meanwhile");
}

static void restart_daemon(struct day *day)
{
    assert_int_equal(service_end(&day->service, SIGTERM), 0);
    service_resume(&day->service);
    say(day, "the daemon is stopped and started again");
}

/* Sends a report as the controller would; what it is answered. */
static int report(const struct day *day, const json_t *run)
{
    char *text = json_dumps(run, JSON_COMPACT);
    int status =
        service_status(&day->service, "POST", "/api/v1/runs", day->service.controller, text);
    free(text);
    return status;
}

/* A person puts right what the controller said of its first run; then the controller, which does
 * not know, says the same again. */
static void correct_and_repeat(struct day *day)
{
    json_t *runs = day_get(day, "/api/v1/runs");
    const json_t *first = json_array_get(json_object_get(runs, "items"), 0);
    char path[128];
    char fields[512];
    char tag[80];
    struct answer answer;
    assert_non_null(first);
    json_t *again =
        json_pack("{s:O, s:O, s:O, s:O, s:O, s:O}", "key", json_object_get(first, "key"), "zone",
                  json_object_get(first, "zone"), "start", json_object_get(first, "start"), "end",
                  json_object_get(first, "end"), "pulses", json_object_get(first, "pulses"), "run",
                  json_object_get(first, "run"));
    assert_int_equal(report(day, again), 200); /* an answer that was lost */
    snprintf(path, sizeof path, "/api/v1/runs/%s", day_text(first, "key"));
    snprintf(fields, sizeof fields, "%sIf-Match: %s\r\n", day->service.controller,
             day_text(first, "etag"));
    service_ask(&day->service, "PATCH", path, fields, "{\"litres\":1234}", &answer);
    assert_int_equal(answer.status, 200);
    client_field(&answer, "ETag", tag, sizeof tag);
    client_forget(&answer);
    assert_int_equal(report(day, again), 200);
    json_t *now = day_get(day, path);
    check_near(json_number_value(json_object_get(now, "litres")), 1234, 0, "corrected");
    say(day, "the report %s is corrected to 1234 l, sent again by its controller, and stays so",
        day_text(first, "key"));
    json_decref(now);
    json_decref(again);
    json_decref(runs);
}

/* Two pieces of this morning's watering by hose, the later one first. */
static void report_by_hand(struct day *day)
{
    static const char *const pieces[2][3] = {
        {"hand-b", "2026-07-01T08:10:00+01:00", "2026-07-01T08:30:00+01:00"},
        {"hand-a", "2026-07-01T07:40:00+01:00", "2026-07-01T08:00:00+01:00"}};
    for (size_t i = 0; i < 2; i++) {
        json_t *run = json_pack("{s:s, s:s, s:s, s:s, s:i, s:s}", "key", pieces[i][0], "zone",
                                "hand-1", "start", pieces[i][1], "end", pieces[i][2], "litres", 360,
                                "run", "hand-1.morning");
        assert_int_equal(report(day, run), 201);
        assert_int_equal(report(day, run), 200);
        json_decref(run);
    }
    say(day, "hand-1's morning is reported in two pieces, hours late, the later one first");
}

static void order_evening(struct day *day)
{
    char *grower = service_sign_in(&day->service);
    char at[CIVIL_TEXT];
    char body[256];
    civil_format_rfc3339(day->clock[0], 0, at);
    snprintf(
        body, sizeof body,
        "{\"key\":\"evening\",\"zone\":\"bed-2\",\"at\":\"%s\",\"minutes\":12,\"who\":\"Ines\","
        "\"why\":\"edges wilt\"}",
        at);
    assert_int_equal(service_status(&day->service, "POST", "/api/v1/orders", grower, body), 201);
    free(grower);
    say(day, "Ines orders twelve minutes for bed-2");
}

/* --- the balance of the day ----------------------------------------------------------------- */

/* Litres of a report: said, or by flow and time without the pauses. */
static double litres_of(const json_t *run, const json_t *zone)
{
    double pause_min = json_number_value(json_object_get(zone, "pause_min"));
    double minutes = (double)(json_integer_value(json_object_get(run, "end_s")) -
                              json_integer_value(json_object_get(run, "start_s"))) /
                     60;
    double pulses = json_number_value(json_object_get(run, "pulses"));
    if (json_is_number(json_object_get(run, "litres")))
        return json_number_value(json_object_get(run, "litres"));
    if (pulses > 1)
        minutes -= (pulses - 1) * (pause_min > 0 ? pause_min : 30);
    return minutes * json_number_value(json_object_get(zone, "flow_l_min"));
}

struct sum {
    double litres;
    size_t runs;
};

static struct sum recorded_of(const json_t *runs, const json_t *zone)
{
    struct sum sum = {0, 0};
    for (size_t r = 0; r < json_array_size(runs); r++)
        if (strcmp(day_text(json_array_get(runs, r), "zone"), day_text(zone, "zone")) == 0) {
            sum.litres += litres_of(json_array_get(runs, r), zone);
            sum.runs++;
        }
    return sum;
}

/* What the plan reckons with for a block of the zone: its past runs of the day. The block's own
 * water must add up as well: what was in it, came, was used and drained. */
static struct sum reckoned_of(const struct day *day, const char *block)
{
    struct sum sum = {0, 0};
    char path[128];
    snprintf(path, sizeof path, "/api/v1/blocks/%s/hours?past_d=1&ahead_d=0", block);
    json_t *hours = day_get(day, path);
    assert_non_null(hours);
    const json_t *runs = json_object_get(hours, "runs");
    for (size_t r = 0; r < json_array_size(runs); r++) {
        const json_t *run = json_array_get(runs, r);
        const char *state = day_text(run, "state");
        int64_t start_s = json_integer_value(json_object_get(run, "start_s"));
        /* 'unreported' is known to have been planned only, and no water of it is reckoned with */
        if (start_s < DAY_START_S || start_s >= DAY_START_S + 86400 ||
            strcmp(state, "planned") == 0 || strcmp(state, "unreported") == 0)
            continue;
        sum.litres += json_number_value(json_object_get(run, "litres"));
        sum.runs++;
    }
    const json_t *water = json_object_get(hours, "water_l");
    for (size_t h = 0; h + 1 < json_array_size(water); h++) {
        double next = json_number_value(json_array_get(water, h));
        static const char *const parts[] = {"in_l", "adjusted_l", "use_l", "drained_l"};
        for (size_t i = 0; i < 4; i++)
            next += (i < 2 ? 1 : -1) *
                    json_number_value(json_array_get(json_object_get(hours, parts[i]), h));
        check_near(json_number_value(json_array_get(water, h + 1)), next, 5e-4, block);
    }
    json_decref(hours);
    return sum;
}

/* The litres of the sheet for a zone, from /records.csv. */
static double planned_of(const char *csv, const char *zone)
{
    double sum = 0;
    char start[64];
    snprintf(start, sizeof start, "\r\nplanned,%s,", zone);
    for (const char *line = csv; (line = strstr(line, start)); line++) {
        double litres = 0;
        if (sscanf(line + 2, "planned,%*[^,],,,%*[^,],%*[^,],%*[^,],%lf", &litres) == 1)
            sum += litres;
    }
    return sum;
}

static void assert_litres_close(const struct day *day)
{
    struct answer answer;
    json_t *reports = day_get(day, "/api/v1/runs?limit=5000");
    json_t *zones = day_get(day, "/api/v1/zones");
    json_t *plan = day_get(day, "/api/v1/plan");
    const json_t *items = json_object_get(zones, "items");
    const json_t *blocks = json_object_get(plan, "blocks");
    struct sum all = {0, 0};
    double all_planned = 0;
    service_ask(&day->service, "GET", "/records.csv?from=2026-07-01&to=2026-07-01", "", NULL,
                &answer);
    print_message("%-10s %9s %9s %9s  litres, reports\n", "zone", "planned", "recorded",
                  "reckoned");
    for (size_t z = 0; z < json_array_size(items); z++) {
        const json_t *zone = json_array_get(items, z);
        const char *name = day_text(zone, "zone");
        const struct sum recorded = recorded_of(json_object_get(reports, "items"), zone);
        double planned = planned_of(answer.body, name);
        size_t of_zone = 0;
        for (size_t b = 0; b < json_array_size(blocks); b++) {
            const json_t *block = json_array_get(blocks, b);
            if (strcmp(day_text(block, "zone"), name) != 0)
                continue;
            const struct sum reckoned = reckoned_of(day, day_text(block, "id"));
            check_near(reckoned.litres, recorded.litres, 0.51 * (double)recorded.runs + 0.01, name);
            if (of_zone++ == 0)
                print_message("%-10s %9.0f %9.0f %9.0f  %zu\n", name, planned, recorded.litres,
                              reckoned.litres, recorded.runs);
        }
        assert_true(of_zone > 0);
        assert_true(recorded.runs > 0); /* a hot day after dry ones: every zone ran */
        all.litres += recorded.litres;
        all.runs += recorded.runs;
        all_planned += planned;
    }
    print_message("%-10s %9.0f %9.0f %9s  %zu\n", "all", all_planned, all.litres, "", all.runs);
    assert_int_equal(all.runs, json_array_size(json_object_get(reports, "items")));
    client_forget(&answer);
    json_decref(reports);
    json_decref(zones);
    json_decref(plan);
}

static void controller_waters_a_day_and_the_balance_closes(void **state)
{
    (void)state;
    /* between the whole minutes at which the controller wakes up: never in the middle of its
     * asking, so that every such day is the same */
    static const int64_t hour_s = 3600;
    static const int64_t half_s = 30;
    const struct event events[] = {
        {DAY_START_S + 4 * hour_s + 300 + half_s, kill_daemon},
        {DAY_START_S + 4 * hour_s + 1020 + half_s, start_daemon},
        {DAY_START_S + 13 * hour_s + half_s, restart_daemon},
        {DAY_START_S + 14 * hour_s + half_s, correct_and_repeat},
        {DAY_START_S + 15 * hour_s + half_s, report_by_hand},
        {DAY_START_S + 19 * hour_s + half_s, order_evening},
        {0, NULL},
    };
    struct day day;
    day_open(&day);
    day_keep_port(&day);
    day_wait_for_plan(&day);
    run_controller(&day, "tests/controller", "", DAY_START_S + 24 * hour_s, events);
    assert_day_closes(&day, "2026-07-01", NULL);
    assert_litres_close(&day);
    /* The plan counts on what was reported: blocks are known by what filled them. */
    json_t *plan = day_get(&day, "/api/v1/plan");
    const json_t *blocks = json_object_get(plan, "blocks");
    size_t filled = 0;
    for (size_t b = 0; b < json_array_size(blocks); b++)
        filled += strcmp(day_text(json_array_get(blocks, b), "known_how"), "filled") == 0;
    assert_true(filled > 0);
    json_decref(plan);
    /* and the evening's order was carried out */
    json_t *runs = day_get(&day, "/api/v1/runs?limit=5000");
    bool evening = false;
    for (size_t r = 0; r < json_array_size(json_object_get(runs, "items")); r++) {
        const json_t *run = json_array_get(json_object_get(runs, "items"), r);
        evening |= strcmp(day_text(run, "zone"), "bed-2") == 0 &&
                   json_integer_value(json_object_get(run, "start_s")) >= DAY_START_S + 19 * hour_s;
    }
    assert_true(evening);
    json_decref(runs);
    day_close(&day);
}

static void shell_controller_waters_a_zone_in_the_morning(void **state)
{
    (void)state;
    struct day day;
    day_open(&day);
    day_wait_for_plan(&day);
    static const struct event none[] = {{0, NULL}};
    run_controller(&day, "tests/controller.sh", "drip-1", DAY_START_S + 5 * 3600, none);
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
