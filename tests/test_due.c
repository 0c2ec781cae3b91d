/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Orders and holds reach the valves with the answer that takes them: the very next question of a
 * controller is answered accordingly. The real daemon, with the real clock and a simulated one.
 */
#include "check.h"

#include <jansson.h>
#include <pthread.h>
#include <signal.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stdio.h>
#include <time.h>
#include <unistd.h>

#include "core/civil.h"
#include "simulated.h"
#include "standin.h"

enum { ROUNDS = 50, FAR_S = 3 * 3600 };

struct due {
    bool open;
    int64_t until_s; /* 0: not in this plan */
    char run[80];
};

static struct due ask_due(const struct service *service, const char *zone)
{
    struct answer answer;
    char path[96];
    snprintf(path, sizeof path, "/api/v1/zones/%s/due", zone);
    service_ask(service, "GET", path, "", NULL, &answer);
    assert_int_equal(answer.status, 200);
    json_t *document = json_loads(answer.body, 0, NULL);
    assert_non_null(document);
    struct due due = {json_is_true(json_object_get(document, "open")),
                      json_integer_value(json_object_get(document, "until_s")), ""};
    snprintf(due.run, sizeof due.run, "%s", day_text(document, "run"));
    json_decref(document);
    client_forget(&answer);
    return due;
}

static void moment(int64_t t_s, char out[CIVIL_TEXT])
{
    civil_format_rfc3339(t_s, 0, out);
}

/* Adds an order or a hold; its tag is left in tag. */
static void add(const struct service *service, const char *grower, const char *kind,
                const char *body, char tag[80])
{
    struct answer answer;
    char path[64];
    snprintf(path, sizeof path, "/api/v1/%s", kind);
    service_ask(service, "POST", path, grower, body, &answer);
    if (answer.status != 201)
        fail_msg("%d: %s", answer.status, answer.body);
    client_field(&answer, "ETag", tag, 80);
    client_forget(&answer);
}

static void change(const struct service *service, const char *grower, const char *method,
                   const char *path, const char *body, char tag[80])
{
    struct answer answer;
    char fields[1024];
    snprintf(fields, sizeof fields, "%sIf-Match: %s\r\n", grower, tag);
    service_ask(service, method, path, fields, body, &answer);
    if (answer.status != (body ? 200 : 204))
        fail_msg("%s %s: %d %s", method, path, answer.status, answer.body);
    client_field(&answer, "ETag", tag, 80);
    client_forget(&answer);
}

static void order_text(char *out, size_t size, const char *key, const char *zone, int64_t at_s,
                       int minutes)
{
    char at[CIVIL_TEXT];
    char until[CIVIL_TEXT];
    moment(at_s, at);
    moment(at_s + FAR_S, until);
    snprintf(out, size,
             "{\"key\":\"%s\",\"zone\":\"%s\",\"at\":\"%s\",\"until\":\"%s\",\"minutes\":%d}", key,
             zone, at, until, minutes);
}

static void hold_text(char *out, size_t size, const char *key, const char *zone, int64_t from_s,
                      int64_t to_s)
{
    char from[CIVIL_TEXT];
    char to[CIVIL_TEXT];
    moment(from_s, from);
    moment(to_s, to);
    snprintf(out, size,
             "{\"key\":\"%s\",\"zone\":\"%s\",\"kind\":\"spraying\",\"from\":\"%s\",\"to\":\"%s\"}",
             key, zone, from, to);
}

/* --- by the real clock -------------------------------------------------------------------- */

/* Reports of another zone all the while, each of which makes a plan of its own: none of them may be
 * taken for the one that is waited for. */
struct chatter {
    const struct service *service;
    atomic_bool stop;
    int sent;
};

static void *report_on(void *argument)
{
    struct chatter *chatter = argument;
    while (!atomic_load(&chatter->stop)) {
        char body[256];
        char start[CIVIL_TEXT];
        char end[CIVIL_TEXT];
        int64_t start_s = (int64_t)time(NULL) - 86400 + chatter->sent * 120;
        moment(start_s, start);
        moment(start_s + 60, end);
        snprintf(body, sizeof body,
                 "{\"key\":\"chat-%d\",\"zone\":\"drip-1\",\"start\":\"%s\",\"end\":\"%s\","
                 "\"litres\":1}",
                 chatter->sent++, start, end);
        service_status(chatter->service, "POST", "/api/v1/runs", chatter->service->controller,
                       body);
        usleep(7000);
    }
    return NULL;
}

/* One round: an order, a hold on it, the hold made shorter, taken away, the order taken away; asked
 * right after each. */
static void round_of(const struct service *service, const char *grower, const char *zone, int round)
{
    char body[512];
    char key[32];
    char path[64];
    char order_tag[80];
    char hold_tag[80];
    char again[CIVIL_TEXT];
    int64_t now_s = (int64_t)time(NULL);
    const struct due before = ask_due(service, zone);
    snprintf(key, sizeof key, "k-%d", round);
    order_text(body, sizeof body, key, zone, now_s, 5);
    add(service, grower, "orders", body, order_tag);
    const struct due ordered = ask_due(service, zone);
    if (ordered.until_s == 0 || ordered.until_s > now_s + 3600)
        fail_msg("round %d: ordered, and due says %s at %lld", round, ordered.run,
                 (long long)ordered.until_s);

    hold_text(body, sizeof body, key, zone, now_s - 60, now_s + 7200);
    add(service, grower, "holds", body, hold_tag);
    const struct due held = ask_due(service, zone);
    if (held.open || (held.until_s != 0 && held.until_s < now_s + 7200))
        fail_msg("round %d: held, and due says %s at %lld", round, held.run,
                 (long long)held.until_s);

    snprintf(path, sizeof path, "/api/v1/holds/%s", key);
    moment(now_s + 3600, again);
    snprintf(body, sizeof body, "{\"to\":\"%s\"}", again);
    change(service, grower, "PATCH", path, body, hold_tag);
    const struct due sooner = ask_due(service, zone);
    if (sooner.open || sooner.until_s < now_s + 3600 || sooner.until_s > now_s + 7200)
        fail_msg("round %d: held for an hour, and due says %s at %lld", round, sooner.run,
                 (long long)sooner.until_s);

    change(service, grower, "DELETE", path, NULL, hold_tag);
    const struct due free = ask_due(service, zone);
    if (free.until_s == 0 || free.until_s > now_s + 3600)
        fail_msg("round %d: free again, and due says %s at %lld", round, free.run,
                 (long long)free.until_s);

    snprintf(path, sizeof path, "/api/v1/orders/%s", key);
    change(service, grower, "DELETE", path, NULL, order_tag);
    /* The other runs may have moved a little: the reports go on. */
    const struct due after = ask_due(service, zone);
    if (strcmp(after.run, ordered.run) == 0 && strcmp(after.run, before.run) != 0)
        fail_msg("round %d: %s before the order, %s after it was taken away", round, before.run,
                 after.run);
}

static void orders_and_holds_show_in_the_very_next_answer(void **state)
{
    (void)state;
    struct service service = service_start();
    struct chatter chatter = {.service = &service};
    char *grower = service_sign_in(&service);
    pthread_t thread;
    while (service_status(&service, "GET", "/api/v1/due", "", NULL) == 503)
        usleep(20000);
    assert_int_equal(pthread_create(&thread, NULL, report_on, &chatter), 0);
    for (int round = 0; round < ROUNDS; round++)
        round_of(&service, grower, round % 2 ? "bed-1" : "tunnel-1", round);
    atomic_store(&chatter.stop, true);
    pthread_join(thread, NULL);
    assert_true(chatter.sent > ROUNDS);
    free(grower);
    service_stop(&service);
}

/* Said again after a lost answer, it is no less obeyed. */
static void hold_sent_again_is_obeyed_when_answered(void **state)
{
    (void)state;
    struct service service = service_start();
    char *grower = service_sign_in(&service);
    char body[512];
    char request[2048];
    int64_t now_s = (int64_t)time(NULL);
    while (service_status(&service, "GET", "/api/v1/due", "", NULL) == 503)
        usleep(20000);
    for (int i = 0; i < 20; i++) {
        char key[16];
        snprintf(key, sizeof key, "h-%d", i);
        hold_text(body, sizeof body, key, "bed-1", now_s - 60, now_s + (i + 3) * 86400);
        int n = snprintf(request, sizeof request,
                         "POST /api/v1/holds HTTP/1.1\r\nHost: localhost:%d\r\n%sContent-Type: "
                         "application/json\r\nContent-Length: %zu\r\n\r\n%s",
                         service.port, grower, strlen(body), body);
        int fd = client_dial(service.port);
        client_send(fd, request, (size_t)n);
        close(fd); /* nobody hears the answer */
        int status = service_status(&service, "POST", "/api/v1/holds", grower, body);
        assert_true(status == 200 || status == 201);
        const struct due due = ask_due(&service, "bed-1");
        int64_t end_s = now_s + (i + 3) * 86400;
        if (due.open || (due.until_s != 0 && due.until_s < end_s))
            fail_msg("held until %lld, and due says %s at %lld", (long long)end_s, due.run,
                     (long long)due.until_s);
    }
    free(grower);
    service_stop(&service);
}

static void hold_that_no_plan_comes_out_with_says_so(void **state)
{
    (void)state;
    struct service service = service_start();
    char *grower = service_sign_in(&service);
    char command[256];
    char out[256];
    char err[256];
    char body[512];
    struct answer answer;
    int64_t now_s = (int64_t)time(NULL);
    while (service_status(&service, "GET", "/api/v1/due", "", NULL) == 503)
        usleep(20000);
    snprintf(command, sizeof command, "sqlite3 %s/records.sqlite 'DELETE FROM normal'",
             service.example.folder);
    assert_int_equal(check_run(command, out, sizeof out, err, sizeof err), 0);
    hold_text(body, sizeof body, "h-1", "bed-1", now_s, now_s + 86400);
    service_ask(&service, "POST", "/api/v1/holds", grower, body, &answer);
    assert_int_equal(answer.status, 503);
    assert_non_null(strstr(answer.body, "saved"));
    assert_non_null(strstr(answer.body, "by hand"));
    client_forget(&answer);
    assert_int_equal(service_status(&service, "GET", "/api/v1/holds/h-1", grower, NULL), 200);
    free(grower);
    service_stop(&service);
}

/* A service that keeps us waiting for its weather does not keep people waiting. */
static void hold_is_obeyed_while_a_feed_hangs(void **state)
{
    (void)state;
    struct standin *standin = standin_start();
    standin_answer_raw(standin, STANDIN_HOLD, "HTTP/1.1 200 OK\r\n", 17);
    struct service service = {.example = example_make(standin_url(standin), true)};
    char out[256];
    char body[512];
    char tag[80];
    int64_t now_s = (int64_t)time(NULL);
    snprintf(service.log, sizeof service.log, "%s/log", service.example.folder);
    assert_int_equal(service_command(&service, "plants before pumps",
                                     "account add ines --role grower", out, sizeof out),
                     0);
    service_resume(&service);
    char *grower = service_sign_in(&service);
    while (standin_requests(standin) == 0)
        usleep(20000);
    hold_text(body, sizeof body, "h-1", "bed-1", now_s, now_s + 3 * 86400);
    add(&service, grower, "holds", body, tag);
    const struct due due = ask_due(&service, "bed-1");
    assert_true(due.until_s == 0 || due.until_s >= now_s + 3 * 86400);
    change(&service, grower, "DELETE", "/api/v1/holds/h-1", NULL, tag);
    const struct due after = ask_due(&service, "bed-1");
    assert_true(after.until_s > 0 && after.until_s < now_s + 3 * 86400);
    free(grower);
    service_stop(&service);
    standin_stop(standin);
}

/* --- by a simulated clock ------------------------------------------------------------------- */

/* Time goes on to the moment, and the plan with it. */
static void go_to(const struct day *day, int64_t t_s)
{
    day->clock[0] = t_s;
    day_wait_for_plan(day);
}

/* The notice of a code about a zone. */
static json_t *notice_of(const json_t *plan, const char *code, const char *zone)
{
    const json_t *notices = json_object_get(plan, "notices");
    for (size_t i = 0; i < json_array_size(notices); i++) {
        json_t *notice = json_array_get(notices, i);
        if (strcmp(day_text(notice, "code"), code) == 0 &&
            strcmp(day_text(json_object_get(notice, "params"), "zone"), zone) == 0)
            return notice;
    }
    return NULL;
}

static void holds_shut_an_open_valve_and_end_by_themselves(void **state)
{
    (void)state;
    struct day day;
    char body[512];
    char tag[80];
    day_open(&day);
    char *grower = service_sign_in(&day.service);
    go_to(&day, DAY_START_S + 13 * 3600);
    order_text(body, sizeof body, "o-1", "bed-1", day.clock[0], 30);
    add(&day.service, grower, "orders", body, tag);
    const struct due ordered = ask_due(&day.service, "bed-1");
    assert_true(ordered.until_s <= day.clock[0] + 900);
    go_to(&day, ordered.until_s + 300);
    assert_true(ask_due(&day.service, "bed-1").open);
    /* people go in */
    int64_t end_s = day.clock[0] + 1200;
    hold_text(body, sizeof body, "h-1", "bed-1", day.clock[0], end_s);
    add(&day.service, grower, "holds", body, tag);
    const struct due held = ask_due(&day.service, "bed-1");
    assert_false(held.open);
    assert_true(held.until_s == 0 || held.until_s >= end_s);
    /* A minute before its end it holds; afterwards nothing has to be asked for again. */
    day.clock[0] = end_s - 60;
    assert_false(ask_due(&day.service, "bed-1").open);
    go_to(&day, end_s + 1);
    const struct due after = ask_due(&day.service, "bed-1");
    assert_true(after.open || after.until_s > 0);
    /* an order that was carried out is not carried out again */
    order_text(body, sizeof body, "o-2", "tunnel-1", day.clock[0], 4);
    add(&day.service, grower, "orders", body, tag);
    const struct due two = ask_due(&day.service, "tunnel-1");
    char run[128];
    char start[CIVIL_TEXT];
    char end[CIVIL_TEXT];
    moment(two.until_s, start);
    moment(two.until_s + 240, end);
    go_to(&day, two.until_s + 60);
    assert_true(ask_due(&day.service, "tunnel-1").open);
    go_to(&day, two.until_s + 240);
    snprintf(run, sizeof run, "%s", two.run);
    snprintf(body, sizeof body,
             "{\"key\":\"r-2\",\"zone\":\"tunnel-1\",\"start\":\"%s\",\"end\":\"%s\","
             "\"litres\":132,\"run\":\"%s\"}",
             start, end, run);
    assert_int_equal(
        service_status(&day.service, "POST", "/api/v1/runs", day.service.controller, body), 201);
    go_to(&day, two.until_s + 600);
    const struct due done = ask_due(&day.service, "tunnel-1");
    assert_false(done.open);
    assert_true(done.until_s == 0 || done.until_s > day.clock[0] + 3600);
    free(grower);
    day_close(&day);
}

static void hold_that_lets_a_block_pass_its_limit_says_when(void **state)
{
    (void)state;
    struct day day;
    char body[512];
    char tag[80];
    day_open(&day);
    char *grower = service_sign_in(&day.service);
    go_to(&day, DAY_START_S + 2 * 3600);
    hold_text(body, sizeof body, "h-1", "tunnel-1", day.clock[0], day.clock[0] + 5 * 86400);
    add(&day.service, grower, "holds", body, tag);
    json_t *plan = day_get(&day, "/api/v1/plan"); /* at once, as due */
    const json_t *passes = notice_of(plan, "hold_passes", "tunnel-1");
    assert_non_null(passes);
    const json_t *params = json_object_get(passes, "params");
    int64_t at_s = json_integer_value(json_object_get(params, "at_s"));
    assert_true(at_s > day.clock[0] && at_s < day.clock[0] + 5 * 86400);
    assert_string_equal(day_text(params, "hold"), "h-1");
    json_decref(plan);
    change(&day.service, grower, "DELETE", "/api/v1/holds/h-1", NULL, tag);
    plan = day_get(&day, "/api/v1/plan");
    assert_null(notice_of(plan, "hold_passes", "tunnel-1"));
    json_decref(plan);
    free(grower);
    day_close(&day);
}

/* Whatever people order, a zone gets no more in a day than it may. */
static void orders_do_not_pass_the_daily_limit(void **state)
{
    (void)state;
    struct day day;
    char body[512];
    char tag[80];
    day_open(&day);
    char *grower = service_sign_in(&day.service);
    go_to(&day, DAY_START_S + 10 * 3600);
    for (int i = 0; i < 6; i++) { /* 6 x 60 minutes, 120 are allowed (config/demo/zones.csv) */
        char key[8];
        snprintf(key, sizeof key, "o-%d", i);
        order_text(body, sizeof body, key, "tunnel-1", day.clock[0] + i * 3600, 60);
        add(&day.service, grower, "orders", body, tag);
    }
    json_t *plan = day_get(&day, "/api/v1/plan?zone=tunnel-1");
    const json_t *today = json_array_get(json_object_get(plan, "days"), 0);
    const json_t *runs = json_object_get(today, "runs");
    double minutes = 0;
    for (size_t i = 0; i < json_array_size(runs); i++)
        minutes += json_number_value(json_object_get(json_array_get(runs, i), "minutes"));
    assert_true(minutes > 0);
    if (minutes > 120)
        fail_msg("%g minutes", minutes);
    /* and due opens no longer than that */
    int64_t open_s = 0;
    for (int64_t t_s = day.clock[0]; t_s < DAY_START_S + 86400; t_s += 60) {
        day.clock[0] = t_s;
        open_s += ask_due(&day.service, "tunnel-1").open ? 60 : 0;
    }
    assert_true(open_s > 0 && open_s <= 120 * 60);
    json_decref(plan);
    free(grower);
    day_close(&day);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(orders_and_holds_show_in_the_very_next_answer),
        cmocka_unit_test(hold_sent_again_is_obeyed_when_answered),
        cmocka_unit_test(hold_that_no_plan_comes_out_with_says_so),
        cmocka_unit_test(hold_is_obeyed_while_a_feed_hangs),
        cmocka_unit_test(holds_shut_an_open_valve_and_end_by_themselves),
        cmocka_unit_test(hold_that_lets_a_block_pass_its_limit_says_when),
        cmocka_unit_test(orders_do_not_pass_the_daily_limit),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
