/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Subcommands that work on the store and end: plan, mixes, checks, import, check-config. */
#include "command.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "checks.h"
#include "clock.h"
#include "error.h"
#include "import.h"
#include "mix_view.h"
#include "planner.h"
#include "setup.h"
#include "store.h"

/* --- plan ----------------------------------------------------------------------------------- */

static void print_whole(const struct command_call *call, const char *text)
{
    size_t length = strlen(text);
    fputs(text, call->out);
    if (length == 0 || text[length - 1] != '\n')
        fputc('\n', call->out);
}

static int print_plan(const struct command_call *call, const struct setup *setup)
{
    struct error error;
    struct planner_bodies bodies = {0};
    struct config config = setup->config;
    const char *why = command_text(call, "--why");
    int code = EXIT_DONE;
    if ((why != NULL) + (command_text(call, "--json") != NULL) +
            (command_text(call, "--sheet") != NULL) >
        1)
        return command_fail(call, EXIT_USAGE, "--why, --sheet and --json: one of them");
    struct store *store = store_open(config.store_path, true, &error);
    if (!store)
        return command_fail(call, EXIT_FAILED, error.text);
    int64_t at_s = command_number(call, "--at", clock_now_s());
    config.plan_days = (int)command_number(call, "--days", config.plan_days);
    int failed = why ? planner_why(&config, &setup->zone, store, at_s, why, &bodies.text, &error)
                     : planner_make(&config, &setup->zone, store, at_s, &bodies, &error);
    if (failed)
        code = command_fail(call, EXIT_FAILED, error.text);
    else
        print_whole(call, command_text(call, "--json")    ? bodies.json
                          : command_text(call, "--sheet") ? bodies.sheet_text
                                                          : bodies.text);
    planner_free(&bodies);
    store_close(store);
    return code;
}

static int run_plan(const struct command_call *call)
{
    return command_with_setup(call, print_plan);
}

static const struct command_option plan_options[] = {
    COMMAND_CONFIG_OPTION,
    {"--at", "TIME", COMMAND_TIME, 0, 0, "work it out as of this moment (default now)"},
    {"--days", "N", COMMAND_NUMBER, 1, 10, "days after today (default: the configuration's)"},
    {"--why", "ZONE", COMMAND_TEXT, 0, 0, "one zone in full, and how its figures came about"},
    {"--sheet", NULL, COMMAND_FLAG, 0, 0, "the crew's sheet of then, as /plan.txt"},
    {"--json", NULL, COMMAND_FLAG, 0, 0, "as the JSON of /api/v1/plan instead of text"},
};

const struct command command_plan = {
    .name = "plan",
    .about = "print the plan, from the records alone: nothing is fetched, nothing changed",
    .details = "The same records and the same TIME give the same bytes. TIME is RFC 3339 with an "
               "offset,\nas 2026-07-01T06:00:00+02:00.\n",
    .options = plan_options,
    .option_count = sizeof plan_options / sizeof plan_options[0],
    .run = run_plan,
};

/* --- mixes ---------------------------------------------------------------------------------- */

/* {"mixes": [...]}, each as in the plan's JSON; malloc'ed. */
static char *mixes_json(const struct records *records)
{
    json_t *array = json_array();
    int failed = array == NULL;
    for (size_t m = 0; m < records->nursery.mix_count && !failed; m++)
        failed = json_array_append_new(array, mix_view_json(records, m));
    json_t *root = failed ? NULL : json_pack("{s:O}", "mixes", array);
    char *text = root ? json_dumps(root, JSON_COMPACT | JSON_REAL_PRECISION(9)) : NULL;
    json_decref(root);
    json_decref(array);
    return text;
}

static int print_mixes(const struct command_call *call, const struct setup *setup)
{
    struct error error;
    struct records records = {0};
    struct store *store = store_open(setup->config.store_path, true, &error);
    if (!store)
        return command_fail(call, EXIT_FAILED, error.text);
    int64_t at_s = command_number(call, "--at", clock_now_s());
    int loaded = store_load(store, at_s, &setup->config.site, &setup->zone, 0, 0, &records, &error);
    store_close(store);
    if (loaded != 0)
        return command_fail(call, EXIT_FAILED, error.text);
    char *text = command_text(call, "--json") ? mixes_json(&records) : mix_view_table(&records);
    records_free(&records);
    if (!text)
        return command_fail(call, EXIT_FAILED, "out of memory");
    fprintf(call->out, "%s%s", text, command_text(call, "--json") ? "\n" : "");
    free(text);
    return EXIT_DONE;
}

static int run_mixes(const struct command_call *call)
{
    return command_with_setup(call, print_mixes);
}

static const struct command_option mixes_options[] = {
    COMMAND_CONFIG_OPTION,
    {"--at", "TIME", COMMAND_TIME, 0, 0, "with what was measured by this moment (default now)"},
    {"--json", NULL, COMMAND_FLAG, 0, 0, "as JSON instead of a table"},
};

const struct command command_mixes = {
    .name = "mixes",
    .about = "print what each tested mix holds in each pot, and whether it suits",
    .options = mixes_options,
    .option_count = sizeof mixes_options / sizeof mixes_options[0],
    .run = run_mixes,
};

/* --- checks --------------------------------------------------------------------------------- */

struct checking {
    struct store *store;
    json_t *document;
};

static int take_checks(void *context, const struct plan_view *view, struct error *error)
{
    struct checking *checking = context;
    return checks_json(view, checking->store, &checking->document, error);
}

static int print_checks(const struct command_call *call, const struct setup *setup)
{
    struct error error;
    struct checking checking = {store_open(setup->config.store_path, true, &error), NULL};
    if (!checking.store)
        return command_fail(call, EXIT_FAILED, error.text);
    int64_t at_s = command_number(call, "--at", clock_now_s());
    int failed = planner_view(&setup->config, &setup->zone, checking.store, at_s, NULL, take_checks,
                              &checking, &error);
    store_close(checking.store);
    if (failed)
        return command_fail(call, EXIT_FAILED, error.text);
    char *text = command_text(call, "--json")
                     ? json_dumps(checking.document, JSON_COMPACT | JSON_REAL_PRECISION(9))
                     : checks_text(setup->config.nursery_name, checking.document);
    json_decref(checking.document);
    if (!text)
        return command_fail(call, EXIT_FAILED, "out of memory");
    print_whole(call, text);
    free(text);
    return EXIT_DONE;
}

static int run_checks(const struct command_call *call)
{
    return command_with_setup(call, print_checks);
}

static const struct command_option checks_options[] = {
    COMMAND_CONFIG_OPTION,
    {"--at", "TIME", COMMAND_TIME, 0, 0, "with what was measured by this moment (default now)"},
    {"--json", NULL, COMMAND_FLAG, 0, 0, "as the JSON of /api/v1/checks instead of text"},
};

const struct command command_checks = {
    .name = "checks",
    .about = "print what was foretold beside what was measured, with the score",
    .options = checks_options,
    .option_count = sizeof checks_options / sizeof checks_options[0],
    .run = run_checks,
};

/* --- import --------------------------------------------------------------------------------- */

static int import_paths(const struct command_call *call, const struct setup *setup)
{
    struct error error;
    int code = EXIT_DONE;
    struct store *store = store_open(setup->config.store_path, false, &error);
    if (!store)
        return command_fail(call, EXIT_FAILED, error.text);
    for (size_t i = 0; code == EXIT_DONE && i < call->operand_count; i++)
        if (import_path(store, call->operands[i], call->out, &error) != 0)
            code = command_fail(call, EXIT_USAGE, error.text);
    store_close(store);
    return code;
}

static int run_import(const struct command_call *call)
{
    return command_with_setup(call, import_paths);
}

static const struct command_option import_options[] = {COMMAND_CONFIG_OPTION};

const struct command command_import = {
    .name = "import",
    .operands = "PATH ...",
    .about = "take records from CSV files, or from all CSV files of a folder",
    .details =
        "A file's name says what it holds, as zones.csv. Each PATH lands as a whole or, when it "
        "is\nrefused with file, line, column and what is accepted, not at all. Records that "
        "are there\nalready are kept or replaced by their id, never removed.\n",
    .options = import_options,
    .option_count = sizeof import_options / sizeof import_options[0],
    .run = run_import,
};

/* --- check-config --------------------------------------------------------------------------- */

static int check_config(const struct command_call *call, const struct setup *setup)
{
    const struct config *config = &setup->config;
    struct error error;
    char warning[400];
    struct store *store = NULL;
    bool there = access(config->store_path, F_OK) == 0;
    if (there) {
        store = store_open(config->store_path, true, &error);
        if (!store)
            return command_fail(call, EXIT_FAILED, error.text);
    }
    int result = setup_check_weather(setup, store, &error);
    store_close(store);
    struct tls *tls = NULL;
    if (result == 0 && config->tls_certificate[0] && !(tls = tls_open(config, &error)))
        result = -1;
    if (result != 0)
        return command_fail(call, EXIT_USAGE, error.text);
    fprintf(call->out, "nursery  %s, %s, %.4f %.4f, %.0f m\n", config->nursery_name,
            config->time_zone, config->site.latitude_deg, config->site.longitude_deg,
            config->site.elevation_m);
    fprintf(call->out, "feeds    %s\n", config->feed_count == 0 ? "none" : "in the order of trust");
    for (size_t i = 0; i < config->feed_count; i++)
        fprintf(call->out, "         %s %s\n", config->feeds[i].name, config->feeds[i].url);
    fprintf(call->out, "normals  %s\n",
            config->normals.name[0] ? config->normals.url : "normals.csv");
    fprintf(call->out, "records  %s%s\n", config->store_path, there ? "" : " (not there yet)");
    fprintf(call->out, "serve    %s port %d, %s, reading %s\n", config->listen, config->port,
            tls ? "TLS" : "plain HTTP", config->reading_signed_in ? "by sign-in" : "open");
    if (setup_warns(setup, tls, clock_now_s(), warning, sizeof warning))
        fprintf(call->out, "warning: %s\n", warning);
    fprintf(call->out, "configuration good\n");
    tls_close(tls);
    return EXIT_DONE;
}

static int run_check_config(const struct command_call *call)
{
    return command_with_setup(call, check_config);
}

static const struct command_option check_config_options[] = {COMMAND_CONFIG_OPTION};

const struct command command_check_config = {
    .name = "check-config",
    .about = "read the configuration, say what is wrong with file, line and key, change nothing",
    .options = check_config_options,
    .option_count = sizeof check_config_options / sizeof check_config_options[0],
    .run = run_check_config,
};
