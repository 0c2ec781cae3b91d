/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check.h"

#include <jansson.h>
#include <stdio.h>
#include <unistd.h>

#include "daemon/command.h"
#include "example.h"

/* What one call said. */
struct said {
    int code;
    char *out, *err;
};

/* Words apart by one blank each. */
static struct said call(const char *line)
{
    static char program[] = "perchd";
    char copy[1024];
    char *argv[32] = {program};
    int argc = 1;
    struct said said;
    size_t out_size;
    size_t err_size;
    snprintf(copy, sizeof copy, "%s", line);
    for (char *word = strtok(copy, " "); word; word = strtok(NULL, " "))
        argv[argc++] = word;
    FILE *out = open_memstream(&said.out, &out_size);
    FILE *err = open_memstream(&said.err, &err_size);
    said.code = command_main(argc, argv, out, err);
    fclose(out);
    fclose(err);
    return said;
}

static void forget(struct said *said)
{
    free(said->out);
    free(said->err);
}

static struct said call_with(const char *subcommand, const struct example *nursery,
                             const char *more)
{
    char line[512];
    snprintf(line, sizeof line, "%s --config %s %s", subcommand, nursery->config, more);
    return call(line);
}

/* One line on standard error, of which every word between '|' is part, nothing on output. */
static void assert_refused(const char *line, const char *words)
{
    char copy[256];
    struct said said = call(line);
    snprintf(copy, sizeof copy, "%s", words);
    if (said.code != 2 || said.out[0])
        fail_msg("%s: exit %d, output '%s'", line, said.code, said.out);
    const char *end = strchr(said.err, '\n');
    if (!end || end[1] != '\0')
        fail_msg("%s: not one line: '%s'", line, said.err);
    for (const char *word = strtok(copy, "|"); word; word = strtok(NULL, "|"))
        if (!strstr(said.err, word))
            fail_msg("%s: no '%s' in '%s'", line, word, said.err);
    forget(&said);
}

static const char *const subcommands[] = {"serve",   "demo",   "plan",         "reckon",
                                          "weather", "import", "check-config", "help"};

static void command_main_help_lists_every_subcommand(void **state)
{
    (void)state;
    static const char *const asks[] = {"--help", "-h", "help", "help help"};
    for (size_t i = 0; i < sizeof asks / sizeof asks[0]; i++) {
        struct said said = call(asks[i]);
        assert_int_equal(said.code, 0);
        assert_string_equal(said.err, "");
        for (size_t s = 0; s < sizeof subcommands / sizeof subcommands[0]; s++)
            assert_non_null(strstr(said.out, subcommands[s]));
        forget(&said);
    }
}

static void command_main_help_of_a_subcommand_lists_its_options(void **state)
{
    (void)state;
    for (size_t s = 0; s < sizeof subcommands / sizeof subcommands[0]; s++) {
        char line[64];
        snprintf(line, sizeof line, "help %s", subcommands[s]);
        struct said said = call(line);
        assert_int_equal(said.code, 0);
        assert_non_null(strstr(said.out, "usage: perchd"));
        forget(&said);
    }
    struct said short_way = call("plan --json --help");
    struct said long_way = call("help plan");
    assert_string_equal(short_way.out, long_way.out);
    assert_non_null(strstr(long_way.out, "--config FILE"));
    assert_non_null(strstr(long_way.out, "--at TIME"));
    assert_non_null(strstr(long_way.out, "--json"));
    forget(&short_way);
    forget(&long_way);
}

static void command_main_version_is_one_line(void **state)
{
    (void)state;
    struct said said = call("--version");
    assert_int_equal(said.code, 0);
    assert_string_equal(said.out, "perchd " PERCHD_VERSION "\n");
    forget(&said);
}

static void command_main_without_words_shows_usage_and_gives_2(void **state)
{
    (void)state;
    struct said said = call("");
    assert_int_equal(said.code, 2);
    assert_string_equal(said.out, "");
    assert_non_null(strstr(said.err, "usage: perchd SUBCOMMAND"));
    forget(&said);
}

static void command_main_refusals_name_what_is_accepted(void **state)
{
    (void)state;
    assert_refused("water",
                   "'water'|serve, demo, plan, mixes, checks, weather, reckon, import, token, "
                   "account, check-config, help");
    assert_refused("help water", "'water'|serve");
    assert_refused("-v", "'-v'|serve");
    assert_refused("plan --when now",
                   "--when|--config, --at, --days, --why, --sheet, --json, --help");
    assert_refused("plan -x", "'-x'|--config");
    assert_refused("plan --at", "--at|needs a value|--at TIME");
    assert_refused("plan --json --json", "--json|given twice");
    assert_refused("plan --json=yes", "--json|takes no value");
    assert_refused("plan tomorrow", "'tomorrow'|options only");
    assert_refused("plan --at tomorrow", "'tomorrow'|with its offset|2026-");
    assert_refused("plan --at 2026-07-01T06:00:00", "offset");
    assert_refused("plan --at 2026-02-30T06:00:00Z", "2026-02-30");
    assert_refused("plan --config=", "--config|not empty");
    assert_refused("serve --port 65536", "--port|'65536'|from 0 to 65535");
    assert_refused("serve --port -1", "'-1'|from 0 to 65535");
    assert_refused("serve --port +1", "'+1'");
    assert_refused("serve --port 80x", "'80x'");
    assert_refused("serve --port=", "''|from 0 to 65535");
    assert_refused("demo --seconds 0", "'0'|from 1 to");
    assert_refused("demo --seconds 99999999999999999999", "from 1 to");
    assert_refused("import", "nothing given|PATH");
    assert_refused("import --", "nothing given|PATH");
    assert_refused("check-config --port 1", "--port|--config");
}

static void commands_without_a_good_configuration_are_refused(void **state)
{
    (void)state;
    struct example nursery = example_make(NULL, false);
    char line[256];
    static const char *const asks[] = {"plan", "serve", "check-config", "import x.csv"};
    for (size_t i = 0; i < sizeof asks / sizeof asks[0]; i++) {
        snprintf(line, sizeof line, "%s --config %s/absent.conf", asks[i], nursery.folder);
        assert_refused(line, "absent.conf|No such file");
    }
    example_write(&nursery, "bad.conf", "[nursery]\nname = x\nlatitude = 3\n");
    for (size_t i = 0; i < sizeof asks / sizeof asks[0]; i++) {
        snprintf(line, sizeof line, "%s --config %s/bad.conf", asks[i], nursery.folder);
        assert_refused(line, "bad.conf:3|latitude");
    }
    example_remove(&nursery);
}

static void check_config_wants_weather_from_somewhere(void **state)
{
    (void)state;
    char line[256];
    struct example nursery = example_make(NULL, false);
    snprintf(line, sizeof line, "check-config --config %s", nursery.config);
    assert_refused(line, "no weather|normals.csv");
    snprintf(line, sizeof line, "serve --config %s", nursery.config);
    assert_refused(line, "no weather|normals.csv"); /* now with an empty store */
    snprintf(line, sizeof line, "check-config --config %s", nursery.config);
    assert_refused(line, "no weather|normals.csv");
    example_remove(&nursery);

    nursery = example_make(NULL, true);
    struct said said = call_with("check-config", &nursery, "");
    assert_int_equal(said.code, 0);
    assert_non_null(strstr(said.out, "Test nursery"));
    assert_non_null(strstr(said.out, "good"));
    forget(&said);
    example_remove(&nursery);

    nursery = example_make("http://127.0.0.1:9/forecast", false);
    said = call_with("check-config", &nursery, "");
    assert_int_equal(said.code, 0);
    assert_non_null(strstr(said.out, "http://127.0.0.1:9/forecast"));
    assert_non_null(strstr(said.out, "not there yet"));
    forget(&said);
    example_remove(&nursery);
}

static void plan_twice_and_after_importing_again_gives_the_same_bytes(void **state)
{
    (void)state;
    static const char *const ways[] = {"--at 2026-07-01T06:00:00+01:00",
                                       "--at 2026-07-01T06:00:00+01:00 --json",
                                       "--json --at=2026-01-15T18:30:00Z"};
    struct example nursery = example_make(NULL, true);
    struct said first[3];
    for (size_t i = 0; i < 3; i++) {
        first[i] = call_with("plan", &nursery, ways[i]);
        assert_int_equal(first[i].code, 0);
        struct said second = call_with("plan", &nursery, ways[i]);
        assert_string_equal(first[i].out, second.out);
        forget(&second);
    }
    struct said import = call_with("import", &nursery, PERCHD_SOURCE "/config/demo");
    assert_int_equal(import.code, 0);
    assert_non_null(strstr(import.out, "zones.csv"));
    forget(&import);
    for (size_t i = 0; i < 3; i++) {
        struct said again = call_with("plan", &nursery, ways[i]);
        assert_string_equal(first[i].out, again.out);
        forget(&again);
        forget(&first[i]);
    }
    example_remove(&nursery);
}

static void plan_json_is_of_the_moment_asked_for(void **state)
{
    (void)state;
    struct example nursery = example_make(NULL, true);
    struct said said = call_with("plan", &nursery, "--json --at 2026-07-01T06:00:00+01:00");
    json_t *plan = json_loads(said.out, JSON_REJECT_DUPLICATES, NULL);
    assert_non_null(plan);
    assert_int_equal(json_integer_value(json_object_get(plan, "made_at_s")), 1782882000);
    json_decref(plan);
    forget(&said);
    /* without --at it is of now */
    said = call_with("plan", &nursery, "--json");
    plan = json_loads(said.out, 0, NULL);
    assert_non_null(plan);
    assert_true(json_integer_value(json_object_get(plan, "made_at_s")) > 1700000000);
    json_decref(plan);
    forget(&said);
    example_remove(&nursery);
}

static void plan_without_a_store_fails_at_run_time(void **state)
{
    (void)state;
    struct example nursery = example_make(NULL, false);
    struct said said = call_with("plan", &nursery, "");
    assert_int_equal(said.code, 1);
    assert_string_equal(said.out, "");
    assert_non_null(strstr(said.err, "records.sqlite"));
    forget(&said);
    example_remove(&nursery);
}

static void import_with_a_bad_row_changes_nothing(void **state)
{
    (void)state;
    struct example nursery = example_make(NULL, true);
    static const char at[] = "--at 2026-07-01T06:00:00+01:00";
    struct said before = call_with("plan", &nursery, at);
    example_write(&nursery, "supplies.csv",
                  "supply,name,flow_l_min,valves_at_once\nmain,Changed,100,2\nother,Broken,-5,2\n");
    char path[128];
    snprintf(path, sizeof path, "%s/supplies.csv", nursery.folder);
    struct said said = call_with("import", &nursery, path);
    assert_int_equal(said.code, 2);
    assert_string_equal(said.out, "");
    assert_non_null(strstr(said.err, "supplies.csv:3"));
    assert_non_null(strstr(said.err, "flow_l_min"));
    assert_non_null(strstr(said.err, "-5"));
    forget(&said);
    struct said after = call_with("plan", &nursery, at);
    assert_string_equal(before.out, after.out);
    forget(&before);
    forget(&after);
    example_remove(&nursery);
}

static void program_that_cannot_write_its_output_fails(void **state)
{
    (void)state;
    char program[256];
    char command[512];
    char out[64];
    char err[256];
    snprintf(command, sizeof command, "%s help >/dev/full",
             check_program("perchd", program, sizeof program));
    assert_int_equal(check_run(command, out, sizeof out, err, sizeof err), 1);
    assert_non_null(strstr(err, "standard output"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(command_main_help_lists_every_subcommand),
        cmocka_unit_test(command_main_help_of_a_subcommand_lists_its_options),
        cmocka_unit_test(command_main_version_is_one_line),
        cmocka_unit_test(command_main_without_words_shows_usage_and_gives_2),
        cmocka_unit_test(command_main_refusals_name_what_is_accepted),
        cmocka_unit_test(commands_without_a_good_configuration_are_refused),
        cmocka_unit_test(check_config_wants_weather_from_somewhere),
        cmocka_unit_test(plan_twice_and_after_importing_again_gives_the_same_bytes),
        cmocka_unit_test(plan_json_is_of_the_moment_asked_for),
        cmocka_unit_test(plan_without_a_store_fails_at_run_time),
        cmocka_unit_test(import_with_a_bad_row_changes_nothing),
        cmocka_unit_test(program_that_cannot_write_its_output_fails),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
