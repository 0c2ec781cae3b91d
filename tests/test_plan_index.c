/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check.h"

#include <jansson.h>
#include <stdio.h>
#include <unistd.h>

#include "daemon/plan_calendar.h"
#include "daemon/plan_index.h"
#include "daemon/planner.h"
#include "daemon/setup.h"
#include "daemon/utf8.h"
#include "example.h"

/* --- a small plan by hand -------------------------------------------------------------------- */

static const char small[] =
    "{\"schema\":1,\"good_until\":\"x\",\"good_until_s\":200000,\"days\":[{\"date\":\"2026-07-01\","
    "\"runs\":[{\"id\":\"b.1\",\"zone\":\"b\",\"start_s\":1000,\"end_s\":4600,\"pulses\":1,"
    "\"pulse_minutes\":60,\"pause_minutes\":0,\"litres\":60,\"by_hand\":false},"
    "{\"id\":\"h.1\",\"zone\":\"h\",\"start_s\":1000,\"end_s\":4600,\"pulses\":1,"
    "\"pulse_minutes\":60,\"pause_minutes\":0,\"litres\":60,\"by_hand\":true}]},"
    "{\"date\":\"2026-07-02\",\"runs\":[{\"id\":\"a.1\",\"zone\":\"a\",\"start_s\":100000,"
    "\"end_s\":104200,\"pulses\":3,\"pulse_minutes\":10,\"pause_minutes\":20,\"litres\":30.4,"
    "\"by_hand\":false}]}],\"zones\":[{\"id\":\"b\",\"name\":\"\\\"],}{\"},{\"id\":\"a\"},{\"id\":"
    "\"h\"}],\"blocks\":[{\"id\":\"one\",\"zone\":\"a\",\"pot\":\"p\",\"mix\":\"m\",\"batch\":\"\"}"
    ","
    "{\"id\":\"two\",\"zone\":\"a\",\"pot\":\"q\",\"mix\":\"m\",\"batch\":\"x\"},{\"id\":\"three\","
    "\"zone\":\"b\",\"pot\":\"p\",\"mix\":\"m\",\"batch\":\"\"}],\"waiting\":[],"
    "\"by_hand\":[{\"zone\":\"a\",\"block\":\"two\"},{\"zone\":\"a\",\"block\":\"one\"},"
    "{\"zone\":\"b\",\"block\":\"three\"}],\"notices\":["
    "{\"code\":\"all\",\"params\":{}},{\"code\":\"zone_a\",\"params\":{\"zone\":\"a\"}},{\"code\":"
    "\"two\",\"params\":{\"block\":\"two\"}},{\"code\":\"three\",\"params\":{\"block\":\"three\"}}]"
    ","
    "\"pots\":[{\"id\":\"p\"},{\"id\":\"q\"}],\"mixes\":[{\"id\":\"m\",\"batch\":\"\"},{\"id\":"
    "\"m\",\"batch\":\"x\"}]}";

static struct plan_index *index_small(void)
{
    struct plan_index *index = plan_index_new(small, sizeof small - 1);
    assert_non_null(index);
    return index;
}

static void assert_due(const struct plan_index *index, const char *zone, int64_t now_s, bool open,
                       int64_t until_s, int64_t ask_again_s, const char *run)
{
    struct plan_due due;
    assert_true(plan_index_due_of(index, zone, now_s, &due));
    if (due.open != open || due.until_s != until_s || due.ask_again_s != ask_again_s ||
        strcmp(due.run, run) != 0)
        fail_msg("%s at %lld: open %d until %lld ask again %lld run '%s'", zone, (long long)now_s,
                 due.open, (long long)due.until_s, (long long)due.ask_again_s, due.run);
    assert_int_equal(due.good_until_s, 200000);
}

static void due_opens_at_the_start_and_closes_at_the_end(void **state)
{
    (void)state;
    struct plan_index *index = index_small();
    assert_due(index, "b", 0, false, 1000, 300, "b.1");
    assert_due(index, "b", 999, false, 1000, 1000, "b.1");
    assert_due(index, "b", 1000, true, 4600, 1060, "b.1");
    assert_due(index, "b", 4599, true, 4600, 4600, "b.1");
    assert_due(index, "b", 4600, false, 0, 4900, "");
    plan_index_free(index);
}

/* Three pulses of ten minutes, twenty between: open 0..600, 1800..2400, 3600..4200. */
static void due_follows_the_pulses(void **state)
{
    (void)state;
    struct plan_index *index = index_small();
    static const struct {
        int64_t at_s, until_s;
        bool open;
    } expected[] = {{0, 600, true},      {599, 600, true},   {600, 1800, false},
                    {1799, 1800, false}, {1800, 2400, true}, {2400, 3600, false},
                    {3600, 4200, true},  {4199, 4200, true}};
    for (size_t i = 0; i < sizeof expected / sizeof expected[0]; i++) {
        struct plan_due due;
        plan_index_due_of(index, "a", 100000 + expected[i].at_s, &due);
        assert_int_equal(due.open, expected[i].open);
        assert_int_equal(due.until_s, 100000 + expected[i].until_s);
    }
    assert_due(index, "a", 104200, false, 0, 104500, "");
    plan_index_free(index);
}

/* A plan that is no longer good opens nothing: the controller's own programme runs. */
static void due_past_good_until_is_closed(void **state)
{
    (void)state;
    struct plan_index *index = index_small();
    assert_due(index, "b", 200000, false, 0, 200300, "");
    assert_due(index, "h", 2000, false, 0, 2300, ""); /* by hand: no valve */
    struct plan_due due;
    assert_false(plan_index_due_of(index, "c", 0, &due));
    assert_false(plan_index_due_of(index, "", 0, &due));
    plan_index_free(index);
}

static void due_print_is_short_whatever_the_names(void **state)
{
    (void)state;
    const struct civil_offset offset = {0, 20700}; /* +05:45 */
    const struct civil_zone zone = {&offset, 1};
    char id[41];
    char run[80];
    char text[PLAN_DUE_SIZE];
    memset(id, 'z', 40);
    id[40] = '\0';
    snprintf(run, sizeof run, "%s.20991231T2359", id);
    const struct plan_due due = {id, false, 4102444799, 4102444798, 4102444797, run, 1e30};
    size_t length = plan_due_print(&due, &zone, text);
    assert_in_range(length, 1, 399);
    json_t *document = json_loadb(text, length, JSON_REJECT_DUPLICATES, NULL);
    assert_non_null(document);
    assert_string_equal(json_string_value(json_object_get(document, "until")),
                        "2100-01-01T05:44:59+05:45");
    assert_int_equal(json_integer_value(json_object_get(document, "until_s")), 4102444799);
    assert_string_equal(json_string_value(json_object_get(document, "run")), run);
    json_decref(document);
}

/* --- narrowed -------------------------------------------------------------------------------- */

static json_t *narrow(const struct plan_index *index, const char *date, const char *zone,
                      const char *block)
{
    const struct plan_narrowing wanted = {date, zone, block};
    size_t length = 0;
    assert_null(plan_index_lacks(index, &wanted));
    char *text = plan_index_narrow(index, &wanted, &length);
    assert_non_null(text);
    json_t *plan = json_loadb(text, length, JSON_REJECT_DUPLICATES, NULL);
    assert_non_null(plan);
    free(text);
    return plan;
}

/* The ids (or codes, or dates) of an array's elements, a space after each. */
static const char *names_in(const json_t *plan, const char *array, const char *name, char *out)
{
    const json_t *items = json_object_get(plan, array);
    out[0] = '\0';
    for (size_t i = 0; i < json_array_size(items); i++) {
        strcat(out, json_string_value(json_object_get(json_array_get(items, i), name)));
        strcat(out, " ");
    }
    return out;
}

static void narrow_to_nothing_gives_the_whole(void **state)
{
    (void)state;
    struct plan_index *index = index_small();
    const struct plan_narrowing all = {"", NULL, ""};
    size_t length = 0;
    char *text = plan_index_narrow(index, &all, &length);
    assert_string_equal(text, small);
    free(text);
    plan_index_free(index);
}

static void narrow_to_a_zone_keeps_what_belongs_to_it(void **state)
{
    (void)state;
    char names[256];
    struct plan_index *index = index_small();
    json_t *plan = narrow(index, NULL, "a", NULL);
    assert_string_equal(names_in(plan, "zones", "id", names), "a ");
    assert_string_equal(names_in(plan, "blocks", "id", names), "one two ");
    assert_string_equal(names_in(plan, "days", "date", names), "2026-07-01 2026-07-02 ");
    assert_string_equal(names_in(plan, "notices", "code", names), "all zone_a two ");
    assert_string_equal(names_in(plan, "by_hand", "block", names), "two one ");
    assert_string_equal(names_in(plan, "pots", "id", names), "p q ");
    const json_t *days = json_object_get(plan, "days");
    assert_int_equal(json_array_size(json_object_get(json_array_get(days, 0), "runs")), 0);
    assert_string_equal(names_in(json_array_get(days, 1), "runs", "id", names), "a.1 ");
    assert_int_equal(json_integer_value(json_object_get(plan, "good_until_s")), 200000);
    json_decref(plan);
    plan_index_free(index);
}

static void narrow_to_a_block_keeps_its_zone_pot_and_mix(void **state)
{
    (void)state;
    char names[256];
    struct plan_index *index = index_small();
    json_t *plan = narrow(index, "2026-07-02", NULL, "two");
    assert_string_equal(names_in(plan, "zones", "id", names), "a ");
    assert_string_equal(names_in(plan, "blocks", "id", names), "two ");
    assert_string_equal(names_in(plan, "notices", "code", names), "all zone_a two ");
    assert_string_equal(names_in(plan, "by_hand", "block", names), "two ");
    assert_string_equal(names_in(plan, "pots", "id", names), "q ");
    assert_string_equal(names_in(plan, "mixes", "batch", names), "x ");
    assert_string_equal(names_in(plan, "days", "date", names), "2026-07-02 ");
    json_decref(plan);
    plan_index_free(index);
}

static void lacks_names_what_is_not_in_the_plan(void **state)
{
    (void)state;
    struct plan_index *index = index_small();
    static const struct {
        struct plan_narrowing wanted;
        const char *lacks;
    } cases[] = {
        {{"2026-07-03", NULL, NULL}, "date"}, {{NULL, "c", NULL}, "zone"},
        {{NULL, NULL, "four"}, "block"},      {{NULL, "b", "two"}, "block"},
        {{NULL, "a", "tw"}, "block"},         {{"2026-07-0", "a", "two"}, "date"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++)
        assert_string_equal(plan_index_lacks(index, &cases[i].wanted), cases[i].lacks);
    plan_index_free(index);
}

/* --- as a calendar ---------------------------------------------------------------------------- */

static void calendar_lines_are_short_and_whole(void **state)
{
    (void)state;
    static const char plan[] =
        "{\"made_at_s\":1782882000,\"good_until_s\":2000000000,\"days\":[{\"date\":\"2026-07-01\","
        "\"runs\":[{\"id\":\"b.20260701T0700\",\"zone\":\"b\",\"start_s\":1782882000,\"end_s\":"
        "1782885601,\"minutes\":60,\"pulses\":1,\"litres\":1200,\"by_hand\":true}]}],\"zones\":[{"
        "\"id\":\"b\",\"name\":\"Bed, the long one; \\\"\u00c1rbol\\\" \u00e1\u00e9\u00ed"
        "\u00f3\u00fa\u00e1\u00e9\u00ed\u00f3\u00fa\u00e1\u00e9\u00ed\u00f3\u00fa\u00e1\u00e9"
        "\u00ed\u00f3\u00fa behind the house and on\"}]}";
    struct plan_index *index = plan_index_new(plan, sizeof plan - 1);
    assert_non_null(index);
    char *text = plan_calendar_print(index);
    assert_non_null(text);
    for (const char *line = text; *line;) {
        const char *end = strstr(line, "\r\n");
        assert_non_null(end);
        assert_in_range(end - line, 1, 75);
        assert_null(memchr(line, '\n', (size_t)(end - line)));
        assert_int_equal(utf8_check(line, (size_t)(end - line)), end - line); /* no torn letter */
        line = end + 2;
    }
    char *out = text; /* unfolded */
    for (const char *in = text; *in; in += strncmp(in, "\r\n ", 3) == 0 ? 3 : 1)
        if (strncmp(in, "\r\n ", 3) != 0)
            *out++ = *in;
    *out = '\0';
    static const char *const parts[] = {
        "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:",
        "\r\nUID:b.20260701T0700@perchd\r\nDTSTAMP:20260701T050000Z\r\n"
        "DTSTART:20260701T050000Z\r\nDTEND:20260701T060001Z\r\nSUMMARY:Bed\\, the long one\\; "
        "\"\u00c1rbol\" \u00e1",
        "behind the house and on: 60 min\\, 1200 L\\, by hand\r\n",
        "END:VEVENT\r\nEND:VCALENDAR\r\n",
    };
    for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++)
        if (!strstr(text, parts[i]))
            fail_msg("'%s' is not in '%s'", parts[i], text);
    free(text);
    plan_index_free(index);
}

/* --- any text --------------------------------------------------------------------------------- */

/* Cut anywhere it is refused or, where it happens to be whole, read within its bounds. */
static void new_of_a_cut_text_reads_nothing_beyond_it(void **state)
{
    (void)state;
    for (size_t length = 0; length < sizeof small - 1; length++) {
        char *cut = malloc(length + 1); /* the sanitizer watches its end */
        memcpy(cut, small, length);
        cut[length] = '\0';
        plan_index_free(plan_index_new(cut, length));
        free(cut);
    }
    assert_null(plan_index_new("1 1 1 ", 6));
    assert_null(plan_index_new("[]", 2));
    assert_null(plan_index_new("{}", 2));
}

/* --- the example's plan ------------------------------------------------------------------------
 */

static void index_of_the_examples_plan_agrees_with_its_json(void **state)
{
    (void)state;
    struct example example = example_make(NULL, true);
    struct setup setup;
    struct error error;
    struct planner_bodies bodies = {0};
    assert_int_equal(setup_load(example.config, &setup, &error), 0);
    struct store *store = store_open(setup.config.store_path, true, &error);
    assert_non_null(store);
    const int64_t at_s = 1782882000; /* 2026-07-01T05:00:00Z */
    assert_int_equal(planner_make(&setup.config, &setup.zone, store, at_s, &bodies, &error), 0);
    struct plan_index *index = plan_index_new(bodies.json, strlen(bodies.json));
    json_t *plan = json_loads(bodies.json, 0, NULL);
    assert_non_null(index);
    assert_int_equal(plan_index_zones(index), json_array_size(json_object_get(plan, "zones")));
    const json_t *days = json_object_get(plan, "days");
    size_t runs = 0;
    for (size_t d = 0; d < json_array_size(days); d++) {
        const json_t *list = json_object_get(json_array_get(days, d), "runs");
        for (size_t r = 0; r < json_array_size(list); r++) {
            const json_t *run = json_array_get(list, r);
            struct plan_due due;
            int64_t start_s = json_integer_value(json_object_get(run, "start_s"));
            int64_t good_s = json_integer_value(json_object_get(plan, "good_until_s"));
            const char *zone = json_string_value(json_object_get(run, "zone"));
            if (json_is_true(json_object_get(run, "by_hand")) || start_s >= good_s)
                continue;
            runs++;
            assert_true(plan_index_due_of(index, zone, start_s, &due));
            assert_true(due.open);
            assert_string_equal(due.run, json_string_value(json_object_get(run, "id")));
            assert_true(plan_index_due_of(index, zone, start_s - 1, &due));
            assert_int_equal(due.until_s, start_s);
        }
    }
    assert_true(runs > 0);
    size_t length = 0;
    char *whole = plan_index_narrow(index, &(struct plan_narrowing){NULL, NULL, NULL}, &length);
    assert_string_equal(whole, bodies.json);
    free(whole);
    json_decref(plan);
    plan_index_free(index);
    planner_free(&bodies);
    store_close(store);
    setup_clear(&setup);
    example_remove(&example);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(due_opens_at_the_start_and_closes_at_the_end),
        cmocka_unit_test(due_follows_the_pulses),
        cmocka_unit_test(due_past_good_until_is_closed),
        cmocka_unit_test(due_print_is_short_whatever_the_names),
        cmocka_unit_test(narrow_to_nothing_gives_the_whole),
        cmocka_unit_test(narrow_to_a_zone_keeps_what_belongs_to_it),
        cmocka_unit_test(narrow_to_a_block_keeps_its_zone_pot_and_mix),
        cmocka_unit_test(lacks_names_what_is_not_in_the_plan),
        cmocka_unit_test(calendar_lines_are_short_and_whole),
        cmocka_unit_test(new_of_a_cut_text_reads_nothing_beyond_it),
        cmocka_unit_test(index_of_the_examples_plan_agrees_with_its_json),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
