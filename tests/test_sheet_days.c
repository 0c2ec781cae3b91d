/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Two days of the crew's sheets by a simulated clock, from the real daemon. */
#include "check.h"

#include <jansson.h>
#include <signal.h>
#include <stdbool.h>
#include <stdio.h>
#include <unistd.h>

#include "core/civil.h"
#include "moved_clock.h"
#include "service.h"

/* 2026-07-01T15:50:00 in Lisbon. */
static const int64_t start_s = 1782917400;

static json_t *get(const struct service *service, const char *path)
{
    struct answer answer;
    service_ask(service, "GET", path, "", NULL, &answer);
    if (answer.status != 200)
        fail_msg("%s: %d %s", path, answer.status, answer.body ? answer.body : "");
    json_t *document = json_loads(answer.body, JSON_REJECT_DUPLICATES, NULL);
    assert_non_null(document);
    client_forget(&answer);
    return document;
}

static int64_t made_at_s(const struct service *service)
{
    struct answer answer;
    service_ask(service, "GET", "/metrics", "", NULL, &answer);
    const char *made = strstr(answer.body, "\nperchd_plan_made_seconds ");
    int64_t at_s = made ? (int64_t)strtod(made + 26, NULL) : 0;
    client_forget(&answer);
    return at_s;
}

/* Until the plan is one of this moment. */
static void wait_for_plan(const struct service *service, const struct moved_clock *clock)
{
    for (int i = 0; i < 15000; i++) {
        if (i % 100 == 0)
            kill(service->pid, SIGHUP);
        if (made_at_s(service) >= clock->now[0])
            return;
        usleep(2000);
    }
    fail_msg("no plan of now");
}

static void go_to(const struct service *service, const struct moved_clock *clock, int64_t now_s)
{
    clock->now[0] = now_s;
    wait_for_plan(service, clock);
}

static long long whole_of(const json_t *object, const char *name)
{
    return json_integer_value(json_object_get(object, name));
}

static const char *text_of(const json_t *object, const char *name)
{
    const char *text = json_string_value(json_object_get(object, name));
    return text ? text : "";
}

static size_t exceptions_of(const json_t *sheet, const char *code)
{
    size_t i;
    size_t count = 0;
    json_t *one;
    json_array_foreach(json_object_get(sheet, "exceptions"), i, one) count +=
        !code || strcmp(text_of(one, "code"), code) == 0;
    return count;
}

static void assert_number(const struct service *service, long long number, const char *for_date)
{
    json_t *sheet = get(service, "/api/v1/sheet");
    json_t *plan = get(service, "/api/v1/plan");
    const json_t *beside = json_object_get(plan, "sheet");
    if (whole_of(sheet, "number") != number)
        fail_msg("sheet %lld instead of %lld", whole_of(sheet, "number"), number);
    assert_string_equal(text_of(sheet, "for"), for_date);
    assert_int_equal(whole_of(beside, "number"), number);
    assert_true(
        json_equal(json_object_get(beside, "exceptions"), json_object_get(sheet, "exceptions")));
    json_decref(sheet);
    json_decref(plan);
}

static bool text_holds(const struct service *service, const char *words)
{
    struct answer answer;
    service_ask(service, "GET", "/plan.txt", "", NULL, &answer);
    assert_int_equal(answer.status, 200);
    bool holds = strstr(answer.body, words) != NULL;
    client_forget(&answer);
    return holds;
}

static void post_hold(const struct service *service, const char *cookie)
{
    assert_int_equal(
        service_status(service, "POST", "/api/v1/holds", cookie,
                       "{\"key\": \"h-1\", \"kind\": \"valve-out\", \"zone\": \"drip-1\", "
                       "\"from\": \"2026-07-01T17:00:00+01:00\", "
                       "\"to\": \"2026-07-03T09:00:00+01:00\"}"),
        201);
}

static void two_days_of_sheets_and_a_change_in_between(void **state)
{
    (void)state;
    struct moved_clock clock;
    moved_clock_start(&clock, start_s);
    struct service service = service_start();
    wait_for_plan(&service, &clock);
    assert_number(&service, 1, "2026-07-01"); /* at once, for what is left of the day */
    go_to(&service, &clock, start_s + 10 * 60);
    assert_number(&service, 2, "2026-07-02");
    json_t *issued = get(&service, "/api/v1/sheets/2");
    assert_string_equal(text_of(issued, "issued_at"), "2026-07-01T16:00:00+01:00");
    assert_true(json_is_null(json_object_get(issued, "exceptions")));
    assert_false(text_holds(&service, "CHANGED SINCE"));

    /* Somebody shuts a valve: the sheet stays, the change is marked. */
    go_to(&service, &clock, start_s + 80 * 60);
    char *cookie = service_sign_in(&service);
    post_hold(&service, cookie);
    go_to(&service, &clock, start_s + 85 * 60);
    json_t *changed = get(&service, "/api/v1/sheet");
    assert_int_equal(exceptions_of(changed, "hold"), 1);
    assert_true(exceptions_of(changed, "dropped") >= 1);
    assert_true(json_equal(json_object_get(changed, "runs"), json_object_get(issued, "runs")));
    assert_true(text_holds(&service, "CHANGED SINCE, as of Wed 17:15"));
    assert_true(text_holds(&service, " ! DROPPED 4 Drip line"));
    json_decref(changed);

    /* The hardest end: neither a new number nor a lost one. */
    assert_int_equal(service_end(&service, SIGKILL), -SIGKILL);
    service_resume(&service);
    wait_for_plan(&service, &clock);
    assert_number(&service, 2, "2026-07-02");
    json_t *again = get(&service, "/api/v1/sheets/2");
    assert_true(json_equal(issued, again));
    json_decref(again);
    free(cookie);

    json_t *card = get(&service, "/api/v1/card");
    assert_int_equal(json_array_size(json_object_get(card, "et0_mm")), 4);
    json_decref(card);
    assert_int_equal(service_status(&service, "GET", "/card.txt", "", NULL), 200);

    /* The next day's hour. */
    go_to(&service, &clock, start_s + 10 * 60 + 24 * 3600);
    assert_number(&service, 3, "2026-07-03");
    json_t *next = get(&service, "/api/v1/sheet");
    assert_int_equal(exceptions_of(next, NULL), 0);
    json_decref(next);
    json_t *list = get(&service, "/api/v1/sheets");
    const json_t *items = json_object_get(list, "items");
    assert_int_equal(json_array_size(items), 3);
    for (size_t i = 0; i < 3; i++)
        assert_int_equal(whole_of(json_array_get(items, i), "number"), 3 - (long long)i);
    json_decref(list);
    again = get(&service, "/api/v1/sheets/2");
    assert_true(json_equal(issued, again));
    json_decref(again);
    json_decref(issued);
    service_stop(&service);
    moved_clock_end(&clock);
}

static void reissued_by_hand_a_sheet_says_what_it_replaces(void **state)
{
    (void)state;
    struct moved_clock clock;
    struct answer answer;
    char location[64];
    moved_clock_start(&clock, start_s + 10 * 60);
    struct service service = service_start();
    wait_for_plan(&service, &clock);
    assert_int_equal(service_status(&service, "POST", "/api/v1/sheets", "", "{}"), 401);
    assert_int_equal(service_status(&service, "POST", "/api/v1/sheets", service.controller, "{}"),
                     403);
    char *cookie = service_sign_in(&service);
    assert_int_equal(service_status(&service, "POST", "/api/v1/sheets", cookie, "{\"who\": 1}"),
                     422);
    assert_int_equal(
        service_status(&service, "POST", "/api/v1/sheets", cookie, "{\"remarks\": \"a\\nb\"}"),
        422);
    post_hold(&service, cookie);
    go_to(&service, &clock, start_s + 80 * 60);
    service_ask(&service, "POST", "/api/v1/sheets", cookie,
                "{\"remarks\": \"Valve 4 is being mended.\"}", &answer);
    assert_int_equal(answer.status, 201);
    assert_string_equal(client_field(&answer, "Location", location, sizeof location),
                        "/api/v1/sheets/2");
    client_forget(&answer);
    go_to(&service, &clock, start_s + 81 * 60);
    json_t *sheet = get(&service, "/api/v1/sheet");
    assert_int_equal(whole_of(sheet, "number"), 2);
    assert_int_equal(whole_of(sheet, "replaces"), 1);
    assert_string_equal(text_of(sheet, "by"), "account ines");
    assert_string_equal(text_of(sheet, "for"), "2026-07-02");
    assert_int_equal(exceptions_of(sheet, NULL), 0);
    assert_true(text_holds(&service, "REPLACES SHEET 1"));
    assert_true(text_holds(&service, "Valve 4 is being mended."));
    json_decref(sheet);
    /* The hour has its sheet: none is issued on top. */
    go_to(&service, &clock, start_s + 3 * 3600);
    assert_number(&service, 2, "2026-07-02");
    assert_int_equal(service_status(&service, "GET", "/api/v1/sheets/3", "", NULL), 404);
    assert_int_equal(service_status(&service, "GET", "/api/v1/sheets/x", "", NULL), 404);
    assert_int_equal(service_status(&service, "GET", "/api/v1/sheets?limit=0", "", NULL), 400);
    json_t *list = get(&service, "/api/v1/sheets?limit=1");
    assert_int_equal(whole_of(list, "next"), 2);
    json_decref(list);
    list = get(&service, "/api/v1/sheets?limit=1&after=2");
    assert_int_equal(whole_of(json_array_get(json_object_get(list, "items"), 0), "number"), 1);
    assert_true(json_is_null(json_object_get(list, "next")));
    json_decref(list);
    free(cookie);
    service_stop(&service);
    moved_clock_end(&clock);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(two_days_of_sheets_and_a_change_in_between),
        cmocka_unit_test(reissued_by_hand_a_sheet_says_what_it_replaces),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
