/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The crew's sheet, on the example nursery: when it is issued, what is on it, what changed since.
 */
#include "check.h"

#include <jansson.h>
#include <stdio.h>
#include <unistd.h>

#include "daemon/card.h"
#include "daemon/planner.h"
#include "daemon/sheet.h"
#include "daemon/store_sheet.h"
#include "daemon/utf8.h"
#include "example.h"

/* The plan of a moment as the service makes it: a sheet when it is due, what is planned written
 * down. */
static struct planner_bodies serve_at(struct office *office, const char *time)
{
    struct planner_bodies bodies = {0};
    if (planner_make_and_issue(&office->config, &office->zone, office->store, example_time(time),
                               &bodies, &office->error) != 0 ||
        store_planned_replace(office->store, example_time(time), bodies.runs, bodies.run_count,
                              &office->error) != 0)
        fail_msg("%s", office->error.text);
    assert_string_equal(bodies.sheet_fault.text, "");
    return bodies;
}

static json_t *sheet_of(const struct planner_bodies *bodies)
{
    assert_non_null(bodies->sheet_json);
    json_t *sheet = json_loads(bodies->sheet_json, JSON_REJECT_DUPLICATES, NULL);
    assert_non_null(sheet);
    return sheet;
}

static json_t *sheet_at(struct office *office, const char *time)
{
    struct planner_bodies bodies = serve_at(office, time);
    json_t *sheet = sheet_of(&bodies);
    planner_free(&bodies);
    return sheet;
}

static long long number_of(const json_t *sheet)
{
    return json_integer_value(json_object_get(sheet, "number"));
}

static const char *text_of(const json_t *object, const char *name)
{
    const char *text = json_string_value(json_object_get(object, name));
    return text ? text : "";
}

static const json_t *find_exception(const json_t *sheet, const char *code, const char *zone)
{
    size_t i;
    json_t *one;
    json_array_foreach(json_object_get(sheet, "exceptions"), i,
                       one) if (strcmp(text_of(one, "code"), code) == 0 &&
                                strcmp(text_of(one, "zone"), zone) == 0) return one;
    return NULL;
}

static const json_t *exception_of(const json_t *sheet, const char *code, const char *zone)
{
    const json_t *one = find_exception(sheet, code, zone);
    if (!one)
        fail_msg("no exception '%s' of %s", code, zone);
    return one;
}

/* --- when ------------------------------------------------------------------------------------ */

static void assert_due(const struct office *office, int hour, const char *now, const char *due,
                       const char *day)
{
    struct config config = office->config;
    struct civil_date date;
    config.sheet_hour = hour;
    int64_t due_s = sheet_due_s(&config, &office->zone, example_time(now));
    assert_int_equal(due_s, example_time(due));
    assert_int_equal(civil_parse_date(day, &date), STATUS_OK);
    assert_int_equal(sheet_day(&config, &office->zone, due_s), civil_days(date));
}

static void sheet_due_is_the_nursery_s_hour_whatever_the_clock_does(void **state)
{
    (void)state;
    struct office office = office_open();
    assert_due(&office, 16, "2026-07-01T15:59:59+01:00", "2026-06-30T16:00:00+01:00", "2026-07-01");
    assert_due(&office, 16, "2026-07-01T16:00:00+01:00", "2026-07-01T16:00:00+01:00", "2026-07-02");
    assert_due(&office, 5, "2026-07-01T05:00:00+01:00", "2026-07-01T05:00:00+01:00", "2026-07-01");
    assert_due(&office, 0, "2026-07-01T00:00:00+01:00", "2026-07-01T00:00:00+01:00", "2026-07-01");
    assert_due(&office, 23, "2026-07-01T22:00:00+01:00", "2026-06-30T23:00:00+01:00", "2026-07-01");
    /* Clocks go forward at 01:00, back at 02:00: the hour that is not there, the one that is twice.
     */
    assert_due(&office, 16, "2026-03-29T15:30:00Z", "2026-03-29T15:00:00Z", "2026-03-30");
    assert_due(&office, 1, "2026-03-29T01:30:00Z", "2026-03-29T01:00:00Z", "2026-03-29");
    assert_due(&office, 1, "2026-10-25T01:30:00Z", "2026-10-25T00:00:00Z", "2026-10-25");
    assert_due(&office, 16, "2026-10-25T16:00:00Z", "2026-10-25T16:00:00Z", "2026-10-26");
    office_close(&office);
}

static void sheet_is_issued_once_an_hour_with_growing_numbers(void **state)
{
    (void)state;
    static const struct {
        const char *time;
        long long number;
        const char *for_date;
        bool late;
    } steps[] = {
        {"2026-07-01T10:00:00+01:00", 1, "2026-07-01", false}, /* the first one is never late */
        {"2026-07-01T15:59:00+01:00", 1, "2026-07-01", false},
        {"2026-07-01T16:00:00+01:00", 2, "2026-07-02", false},
        {"2026-07-01T16:15:00+01:00", 2, "2026-07-02", false},
        {"2026-07-02T15:45:00+01:00", 2, "2026-07-02", false},
        {"2026-07-02T18:10:00+01:00", 3, "2026-07-03", true}, /* no plan was made in between */
        {"2026-07-06T09:00:00+01:00", 4, "2026-07-06", true}, /* one for the days missed */
        {"2026-07-06T16:29:00+01:00", 5, "2026-07-07", false},
        {"2026-07-05T12:00:00+01:00", 6, "2026-07-05", true}, /* the clock was ahead */
        {"2026-07-05T12:30:00+01:00", 6, "2026-07-05", true},
    };
    struct office office = office_open();
    for (size_t i = 0; i < sizeof steps / sizeof steps[0]; i++) {
        json_t *sheet = sheet_at(&office, steps[i].time);
        if (number_of(sheet) != steps[i].number)
            fail_msg("%s: sheet %lld", steps[i].time, number_of(sheet));
        assert_string_equal(text_of(sheet, "for"), steps[i].for_date);
        assert_int_equal(json_is_true(json_object_get(sheet, "late")), steps[i].late);
        assert_true(json_is_null(json_object_get(sheet, "replaces")));
        json_decref(sheet);
    }
    office_close(&office);
}

/* --- what is on it --------------------------------------------------------------------------- */

static void sheet_covers_every_run_until_the_end_of_its_day(void **state)
{
    (void)state;
    struct office office = office_open();
    struct planner_bodies bodies = serve_at(&office, "2026-07-01T16:00:00+01:00");
    json_t *sheet = sheet_of(&bodies);
    json_t *plan = json_loads(bodies.json, 0, NULL);
    const json_t *days = json_object_get(plan, "days");
    const json_t *runs = json_object_get(sheet, "runs");
    size_t planned = 0;
    for (size_t d = 0; d < 2; d++) {
        size_t i;
        json_t *run;
        json_array_foreach(json_object_get(json_array_get(days, d), "runs"), i, run)
        {
            bool found = false;
            for (size_t r = 0; r < json_array_size(runs); r++)
                found |= strcmp(text_of(json_array_get(runs, r), "run"), text_of(run, "id")) == 0;
            if (!found)
                fail_msg("%s is not on the sheet", text_of(run, "id"));
            planned++;
        }
    }
    assert_true(planned > 3);
    assert_int_equal(json_array_size(runs), planned);
    /* Posts in order within a day. */
    for (size_t r = 1; r < json_array_size(runs); r++) {
        const json_t *a = json_array_get(runs, r - 1);
        const json_t *b = json_array_get(runs, r);
        if (strncmp(text_of(a, "start"), text_of(b, "start"), 10) == 0)
            assert_true(strverscmp(text_of(a, "post"), text_of(b, "post")) <= 0);
        else
            assert_true(strcmp(text_of(a, "start"), text_of(b, "start")) < 0);
    }
    assert_int_equal(json_array_size(json_object_get(sheet, "feel")), 3);
    assert_int_equal(json_array_size(json_object_get(sheet, "stops")), 3);
    assert_int_equal(json_array_size(json_object_get(sheet, "exceptions")), 0);
    const json_t *first = json_object_get(sheet, "first_if_it_fails");
    assert_true(json_array_size(first) > 0);
    /* Which hour that is: not when they are due. */
    assert_non_null(strstr(text_of(json_array_get(first, 0), "words"), "stress"));
    for (size_t i = 1; i < json_array_size(first); i++)
        assert_true(json_integer_value(json_object_get(json_array_get(first, i - 1), "before_s")) <=
                    json_integer_value(json_object_get(json_array_get(first, i), "before_s")));
    /* The plan's own JSON says which sheet it stands beside. */
    assert_int_equal(json_integer_value(json_object_get(json_object_get(plan, "sheet"), "number")),
                     number_of(sheet));
    json_decref(plan);
    json_decref(sheet);
    planner_free(&bodies);
    office_close(&office);
}

static void sheet_goes_the_way_people_walk(void **state)
{
    (void)state;
    struct office office = office_open();
    office_import(
        &office, "zones.csv",
        "zone,name,post,walk_order,supply,method,flow_l_min,emitters_per_pot,emitter_l_h\n"
        "drip-1,Drip line,4,2,pump,drip,63,2,2\n"
        "stakes-1,\"Trees, spray stakes\",10,1,pump,spray,70,1,12\n");
    struct planner_bodies bodies = serve_at(&office, "2026-07-01T16:00:00+01:00");
    json_t *sheet = sheet_of(&bodies);
    json_t *plan = json_loads(bodies.json, 0, NULL);
    const json_t *runs = json_object_get(sheet, "runs");
    size_t at[2] = {99, 99};
    size_t last = 0;
    for (size_t r = 0; r < json_array_size(runs); r++) {
        const json_t *run = json_array_get(runs, r);
        if (strncmp(text_of(run, "start"), "2026-07-02", 10) != 0)
            continue;
        if (strcmp(text_of(run, "zone"), "stakes-1") == 0 && at[0] == 99)
            at[0] = last;
        if (strcmp(text_of(run, "zone"), "drip-1") == 0 && at[1] == 99)
            at[1] = last;
        last++;
    }
    assert_int_equal(at[0], 0);
    assert_true(at[1] != 99 && at[1] > at[0]);
    /* The plan tells the order too, for whoever walks with it. */
    size_t z;
    json_t *zone;
    json_array_foreach(json_object_get(plan, "zones"), z, zone)
    {
        const char *id = text_of(zone, "id");
        json_int_t wanted = strcmp(id, "drip-1") == 0 ? 2 : strcmp(id, "stakes-1") == 0;
        const json_t *order = json_object_get(zone, "walk_order");
        assert_true(wanted ? json_integer_value(order) == wanted : json_is_null(order));
    }
    json_decref(plan);
    json_decref(sheet);
    planner_free(&bodies);
    office_close(&office);
}

static void sheet_says_what_is_fed_sprayed_and_held(void **state)
{
    (void)state;
    struct office office = office_open();
    office_import(
        &office, "holds.csv",
        "key,kind,zone,from,to,who,why\n"
        "h-1,spraying,bed-1,2026-07-02T04:00:00+01:00,2026-07-02T20:00:00+01:00,Rui,mites\n"
        "h-2,skip,drip-1,2026-07-01T12:00:00+01:00,2026-07-03T12:00:00+01:00,,\n"
        "h-3,skip,stakes-1,2026-07-05T12:00:00+01:00,2026-07-06T12:00:00+01:00,,\n");
    office_import(&office, "requirements.csv",
                  "key,zone,from,to,minutes,purpose,who,why\n"
                  "q-1,bed-2,2026-07-02T00:00:00+01:00,2026-07-02T12:00:00+01:00,35,feed,Ines,\n");
    json_t *sheet = sheet_at(&office, "2026-07-01T16:00:00+01:00");
    const json_t *notes = json_object_get(sheet, "notes");
    assert_int_equal(json_array_size(notes), 2);
    assert_string_equal(text_of(json_array_get(notes, 0), "zone"), "bed-2");
    assert_string_equal(text_of(json_object_get(json_array_get(notes, 0), "reason"), "code"),
                        "required");
    assert_string_equal(text_of(json_array_get(notes, 1), "zone"), "bed-1");
    assert_non_null(strstr(text_of(json_array_get(notes, 1), "words"), "mites"));
    const json_t *held = NULL;
    size_t i;
    json_t *zone;
    json_array_foreach(json_object_get(sheet, "do_not_water"), i,
                       zone) if (strcmp(text_of(zone, "zone"), "drip-1") == 0) held = zone;
    assert_string_equal(text_of(held, "code"), "held");
    assert_string_equal(text_of(held, "until"), "2026-07-03T12:00:00+01:00");
    bool fed = false;
    json_array_foreach(json_object_get(sheet, "runs"), i, zone) fed |=
        strcmp(text_of(zone, "purpose"), "feed") == 0;
    assert_true(fed);
    json_decref(sheet);
    office_close(&office);
}

/* --- what changed since ---------------------------------------------------------------------- */

static void sheet_stays_and_marks_a_hold_and_what_it_drops(void **state)
{
    (void)state;
    struct office office = office_open();
    json_t *issued = sheet_at(&office, "2026-07-01T16:00:00+01:00");
    office_import(&office, "holds.csv",
                  "key,kind,zone,supply,from,to,who,why\n"
                  "h-1,valve-out,drip-1,,2026-07-01T17:00:00+01:00,2026-07-03T17:00:00+01:00,Rui,\n"
                  "h-2,pump-out,,pump,2026-07-02T22:00:00+01:00,2026-07-02T23:00:00+01:00,Rui,\n");
    json_t *later = sheet_at(&office, "2026-07-01T17:30:00+01:00");
    assert_int_equal(number_of(later), number_of(issued));
    assert_true(json_equal(json_object_get(issued, "runs"), json_object_get(later, "runs")));
    const json_t *hold = exception_of(later, "hold", "drip-1");
    assert_string_equal(text_of(hold, "hold"), "h-1");
    const json_t *of_supply = exception_of(later, "hold", "");
    assert_string_equal(text_of(of_supply, "bed"), "Pump at the tank");
    const json_t *dropped = exception_of(later, "dropped", "drip-1");
    assert_int_equal(strncmp(text_of(dropped, "start_before"), "2026-07-02", 10), 0);
    assert_true(json_is_null(json_object_get(dropped, "start")));
    /* Still marked once its hour has passed. */
    json_t *after = sheet_at(&office, "2026-07-02T12:00:00+01:00");
    exception_of(after, "dropped", "drip-1");
    exception_of(after, "hold", "drip-1");
    assert_null(find_exception(after, "added", "drip-1"));
    /* The next sheet knows of the hold. */
    json_t *next = sheet_at(&office, "2026-07-02T16:00:00+01:00");
    assert_int_equal(number_of(next), number_of(issued) + 1);
    assert_int_equal(json_array_size(json_object_get(next, "exceptions")), 0);
    json_decref(issued);
    json_decref(later);
    json_decref(after);
    json_decref(next);
    office_close(&office);
}

static void sheet_marks_added_and_longer_runs(void **state)
{
    (void)state;
    struct office office = office_open();
    json_t *issued = sheet_at(&office, "2026-07-01T16:00:00+01:00");
    office_import(&office, "orders.csv",
                  "key,zone,at,until,minutes,who,why\n"
                  "o-1,flood-1,2026-07-01T17:00:00+01:00,2026-07-01T21:00:00+01:00,25,Rui,look\n");
    office_import(
        &office, "requirements.csv",
        "key,zone,from,to,minutes,purpose,who,why\n"
        "q-1,drip-1,2026-07-02T00:00:00+01:00,2026-07-02T12:00:00+01:00,70,flush,Ines,\n");
    json_t *later = sheet_at(&office, "2026-07-01T17:10:00+01:00");
    const json_t *added = exception_of(later, "added", "flood-1");
    assert_int_equal(json_integer_value(json_object_get(added, "minutes")), 25);
    assert_true(json_number_value(json_object_get(added, "litres_pot")) > 0);
    assert_true(json_is_null(json_object_get(added, "depth_mm")));
    assert_true(json_is_null(json_object_get(added, "minutes_before")));
    bool longer = false;
    size_t i;
    json_t *one;
    json_array_foreach(json_object_get(later, "exceptions"), i, one) longer |=
        strcmp(text_of(one, "zone"), "drip-1") == 0 &&
        json_integer_value(json_object_get(one, "minutes")) >= 70 &&
        json_integer_value(json_object_get(one, "minutes_before")) < 70;
    assert_true(longer);
    json_decref(issued);
    json_decref(later);
    office_close(&office);
}

/* A run that began as printed is no exception, though the plan no longer has it. The hose zone
 * waits for reports that nobody sends, so its water changes. */
static void sheet_does_not_mark_what_went_as_printed(void **state)
{
    (void)state;
    static const char *const zones[] = {"drip-1", "stakes-1"};
    struct office office = office_open();
    json_decref(sheet_at(&office, "2026-07-01T16:00:00+01:00"));
    for (int hour = 17; hour < 24 + 16; hour++) {
        char time[48];
        snprintf(time, sizeof time, "2026-07-0%dT%02d:00:00+01:00", 1 + hour / 24, hour % 24);
        json_t *sheet = sheet_at(&office, time);
        assert_int_equal(number_of(sheet), 1);
        for (size_t z = 0; z < sizeof zones / sizeof zones[0]; z++) {
            assert_null(find_exception(sheet, "added", zones[z]));
            assert_null(find_exception(sheet, "dropped", zones[z]));
            assert_null(find_exception(sheet, "moved", zones[z]));
        }
        json_decref(sheet);
    }
    office_close(&office);
}

static void sheet_of_a_frozen_plan_is_the_last_one(void **state)
{
    (void)state;
    struct office office = office_open();
    json_decref(sheet_at(&office, "2026-07-01T16:00:00+01:00"));
    const struct store_clock clock = {.trusted_s = example_time("2026-07-01T16:10:00+01:00"),
                                      .wrong_s = example_time("2026-07-04T16:10:00+01:00"),
                                      .there_s = example_time("2026-07-01T16:11:00+01:00")};
    struct planner_bodies bodies = {0};
    assert_int_equal(planner_make_frozen(&office.config, &office.zone, office.store, &clock,
                                         &bodies, &office.error),
                     0);
    json_t *sheet = sheet_of(&bodies);
    assert_int_equal(number_of(sheet), 1);
    assert_non_null(strstr(bodies.sheet_text, "SET THE CLOCK"));
    assert_int_equal(bodies.issued, 0);
    json_decref(sheet);
    planner_free(&bodies);
    office_close(&office);
}

/* --- on paper -------------------------------------------------------------------------------- */

static void assert_fits(const char *text)
{
    int lines = 0;
    for (const char *line = text; *line; line += strcspn(line, "\n") + 1) {
        size_t length = strcspn(line, "\n");
        if (utf8_columns(line, length) > 80)
            fail_msg("wider than 80: %.*s", (int)length, line);
        lines++;
    }
    if (lines > 66)
        fail_msg("%d lines:\n%s", lines, text);
}

static void sheet_text_is_one_page_for_a_printer(void **state)
{
    (void)state;
    static const char *const words[] = {
        "SHEET 1\n",
        "WATERING SHEET FOR Thu 2 Jul 2026",
        "STOP for: wind above 4 m/s",
        "RUNS, IN WALKING ORDER",
        "BY HAND, BEFORE PLANTS COME UNDER STRESS",
        "FEEL THESE POTS",
        "REMARKS",
        "IF A VALVE OR THE PUMP FAILS, THESE FIRST, BEFORE PLANTS COME UNDER STRESS"};
    struct office office = office_open();
    struct planner_bodies bodies = serve_at(&office, "2026-07-01T16:00:00+01:00");
    assert_fits(bodies.sheet_text);
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++)
        if (!strstr(bodies.sheet_text, words[i]))
            fail_msg("no '%s' in\n%s", words[i], bodies.sheet_text);
    assert_null(strstr(bodies.sheet_text, "CHANGED SINCE"));
    planner_free(&bodies);
    office_import(
        &office, "holds.csv",
        "key,kind,zone,from,to,who,why\n"
        "h-1,spraying,drip-1,2026-07-01T17:00:00+01:00,2026-07-03T17:00:00+01:00,Rui,"
        "\"soap against the white fly, nobody goes in before the leaves are dry again\"\n");
    bodies = serve_at(&office, "2026-07-01T17:30:00+01:00");
    assert_fits(bodies.sheet_text);
    assert_non_null(strstr(bodies.sheet_text, "SHEET 1\n"));
    assert_non_null(strstr(bodies.sheet_text, "CHANGED SINCE, as of Wed 17:30"));
    assert_non_null(strstr(bodies.sheet_text, " ! DROPPED 4 Drip line"));
    assert_non_null(strstr(bodies.sheet_text, " ! HOLD 4 Drip line, Wed 17:00 to Fri 17:00: held"));
    assert_non_null(strstr(bodies.sheet_text, " ! MINUTES "));
    assert_non_null(strstr(bodies.sheet_text, "; 6 Flood bench 12, not"));
    assert_non_null(strstr(bodies.sheet_text, "NO FORECAST: usual weather of the month"));
    planner_free(&bodies);
    office_close(&office);
}

static const json_t *hand_of(const json_t *sheet, const char *zone, const char *part)
{
    size_t i;
    json_t *one;
    json_array_foreach(json_object_get(sheet, "by_hand"), i,
                       one) if (strcmp(text_of(one, "zone"), zone) == 0 &&
                                (!part || strcmp(text_of(one, "part"), part) == 0)) return one;
    return NULL;
}

/* What a hose zone's run gives its blocks is the run's; by hand stands what comes on top. A valve
 * that is held while its blocks get the hose says both. */
static void sheet_lists_no_water_twice(void **state)
{
    (void)state;
    struct office office = office_open();
    office_import(
        &office, "holds.csv",
        "key,kind,zone,from,to,who,why\n"
        "h-1,valve-out,drip-1,2026-07-01T12:00:00+01:00,2026-07-05T12:00:00+01:00,Rui,\n");
    struct planner_bodies bodies = serve_at(&office, "2026-07-01T16:00:00+01:00");
    json_t *sheet = sheet_of(&bodies);
    size_t hosed = 0;
    size_t shut = 0;
    size_t i;
    json_t *one;
    json_array_foreach(json_object_get(sheet, "runs"), i, one)
    {
        const json_t *shares = json_object_get(one, "blocks");
        double minutes = 0.0;
        for (size_t b = 0; b < json_array_size(shares); b++)
            minutes += json_number_value(json_object_get(json_array_get(shares, b), "minutes"));
        if (json_is_false(json_object_get(one, "by_hand"))) {
            assert_int_equal(json_array_size(shares), 0);
            continue;
        }
        hosed++;
        assert_true(json_array_size(shares) > 0);
        assert_null(hand_of(sheet, text_of(one, "zone"), "all"));
        check_near(minutes, json_number_value(json_object_get(one, "minutes")),
                   0.5 * (double)json_array_size(shares), "shares of the run");
    }
    json_array_foreach(json_object_get(sheet, "do_not_water"), i, one)
    {
        bool is_hosed = hand_of(sheet, text_of(one, "zone"), NULL) != NULL;
        assert_int_equal(json_is_true(json_object_get(one, "by_hand")), is_hosed);
        shut += is_hosed;
    }
    assert_true(hosed > 0 && shut > 0);
    assert_non_null(strstr(bodies.sheet_text, "     by hose, of it: "));
    assert_non_null(strstr(bodies.sheet_text, "KEEP THE VALVE SHUT"));
    assert_fits(bodies.sheet_text);
    json_decref(sheet);
    planner_free(&bodies);
    office_close(&office);
}

/* Ten hours of rain are forecast for the evening: a printed run does not change when they fail. */
static void sheet_run_that_counts_on_rain_says_so(void **state)
{
    (void)state;
    struct office office = office_open();
    enum { HOURS = 72 };
    struct weather_raw hours[HOURS];
    for (int h = 0; h < HOURS; h++) {
        hours[h] = (struct weather_raw)WEATHER_RAW_EMPTY;
        hours[h].start_s = example_time("2026-07-01T16:00:00+01:00") + h * CIVIL_HOUR_S;
        hours[h].issued_s = example_time("2026-07-01T15:00:00+01:00");
        hours[h].temperature_c = 24;
        hours[h].humidity_pct = 60;
        hours[h].wind_10m_m_s = 2;
        hours[h].cloud_pct = 30;
        hours[h].rain_mm = h < 10 ? 1.0 : 0.0;
    }
    office_feed(&office, hours, HOURS);
    struct planner_bodies bodies = serve_at(&office, "2026-07-01T16:00:00+01:00");
    json_t *sheet = sheet_of(&bodies);
    size_t i;
    json_t *run;
    size_t wet = 0;
    json_array_foreach(json_object_get(sheet, "runs"), i, run)
    {
        double rain_mm = json_number_value(json_object_get(run, "counts_on_rain_mm"));
        wet += rain_mm > 0.0 ? 1 : 0;
        if (strcmp(text_of(run, "zone"), "tunnel-1") == 0) /* under cover */
            assert_true(rain_mm == 0.0);
    }
    assert_true(wet > 0 && wet < i);
    assert_non_null(strstr(bodies.sheet_text, "COUNTS ON RAIN before it (10 mm forecast)"));
    json_decref(sheet);
    planner_free(&bodies);
    office_close(&office);
}

static void sheet_text_without_a_sheet_says_so(void **state)
{
    (void)state;
    struct office office = office_open();
    struct planner_bodies bodies = {0};
    assert_int_equal(planner_make(&office.config, &office.zone, office.store,
                                  example_time("2026-07-01T16:00:00+01:00"), &bodies,
                                  &office.error),
                     0);
    assert_null(bodies.sheet_json);
    assert_non_null(strstr(bodies.sheet_text, "No sheet has been issued yet."));
    json_t *plan = json_loads(bodies.json, 0, NULL);
    assert_true(json_is_null(json_object_get(plan, "sheet")));
    json_decref(plan);
    planner_free(&bodies);
    office_close(&office);
}

/* --- the wall card --------------------------------------------------------------------------- */

static int take_card(void *context, const struct plan_view *view, struct error *error)
{
    return card_json(view, context, error);
}

static void card_lists_every_planted_zone_in_the_order_of_its_supply(void **state)
{
    (void)state;
    struct office office = office_open();
    json_t *card = NULL;
    assert_int_equal(planner_view(&office.config, &office.zone, office.store,
                                  example_time("2026-07-01T10:00:00+01:00"), NULL, take_card, &card,
                                  &office.error),
                     0);
    const json_t *supplies = json_object_get(card, "supplies");
    assert_int_equal(json_array_size(supplies), 1);
    const json_t *zones = json_object_get(json_array_get(supplies, 0), "zones");
    assert_int_equal(json_array_size(zones), 7);
    /* Young plants first, the hose last: config/demo/zones.csv has the classes. */
    assert_string_equal(text_of(json_array_get(zones, 0), "zone"), "tunnel-1");
    assert_string_equal(text_of(json_array_get(zones, 6), "zone"), "hand-1");
    const json_t *first = json_object_get(card, "first_if_it_fails");
    for (size_t i = 1; i < json_array_size(first); i++)
        assert_true(json_number_value(json_array_get(
                        json_object_get(json_array_get(first, i - 1), "safe_h"), 2)) <=
                    json_number_value(
                        json_array_get(json_object_get(json_array_get(first, i), "safe_h"), 2)));
    char *text = card_text("Test nursery", card);
    assert_non_null(text);
    assert_fits(text);
    assert_non_null(strstr(text, "WALL CARD"));
    assert_non_null(strstr(text, "Pump at the tank: 140 l/min, 3 valves at once"));
    free(text);
    json_decref(card);
    office_close(&office);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sheet_due_is_the_nursery_s_hour_whatever_the_clock_does),
        cmocka_unit_test(sheet_is_issued_once_an_hour_with_growing_numbers),
        cmocka_unit_test(sheet_covers_every_run_until_the_end_of_its_day),
        cmocka_unit_test(sheet_goes_the_way_people_walk),
        cmocka_unit_test(sheet_says_what_is_fed_sprayed_and_held),
        cmocka_unit_test(sheet_stays_and_marks_a_hold_and_what_it_drops),
        cmocka_unit_test(sheet_marks_added_and_longer_runs),
        cmocka_unit_test(sheet_does_not_mark_what_went_as_printed),
        cmocka_unit_test(sheet_of_a_frozen_plan_is_the_last_one),
        cmocka_unit_test(sheet_text_is_one_page_for_a_printer),
        cmocka_unit_test(sheet_lists_no_water_twice),
        cmocka_unit_test(sheet_run_that_counts_on_rain_says_so),
        cmocka_unit_test(sheet_text_without_a_sheet_says_so),
        cmocka_unit_test(card_lists_every_planted_zone_in_the_order_of_its_supply),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
