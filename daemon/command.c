/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "command.h"

#include <assert.h>
#include <errno.h>
#include <inttypes.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "core/civil.h"
#include "error.h"
#include "reckon.h"

static int run_help(int argc, char *const argv[], FILE *out, FILE *err);

static const struct command command_reckon = {
    .name = "reckon",
    .about = "work out one step of the model from numbers: 'perchd reckon' lists the topics",
    .run_raw = reckon_run,
};

static const struct command command_help = {
    .name = "help",
    .about = "say how perchd, or the subcommand named after it, is used",
    .run_raw = run_help,
};

static const struct command *const commands[] = {
    &command_serve,  &command_demo,    &command_plan,         &command_mixes,
    &command_checks, &command_weather, &command_reckon,       &command_import,
    &command_token,  &command_account, &command_check_config, &command_help,
};

enum { COMMANDS = sizeof commands / sizeof commands[0] };

static const struct command *find_command(const char *name)
{
    for (size_t i = 0; i < COMMANDS; i++)
        if (strcmp(commands[i]->name, name) == 0)
            return commands[i];
    return NULL;
}

/* --- help ----------------------------------------------------------------------------------- */

static void print_help(FILE *out)
{
    fputs("usage: perchd SUBCOMMAND [OPTION ...]\n"
          "       perchd --help | --version\n\n"
          "perchd tells a container nursery what to water tomorrow.\n\nsubcommands:\n",
          out);
    for (size_t i = 0; i < COMMANDS; i++)
        fprintf(out, "  %-13s %s\n", commands[i]->name, commands[i]->about);
    fputs("\n'perchd help SUBCOMMAND' lists its options.\n"
          "Exit codes: 0 done, 1 failed at run time, 2 usage, configuration or file content.\n",
          out);
}

static void print_command_help(const struct command *command, FILE *out)
{
    fprintf(out, "usage: perchd %s", command->name);
    for (size_t i = 0; i < command->option_count; i++) {
        const struct command_option *option = &command->options[i];
        fprintf(out, " [%s%s%s]", option->name, option->value ? " " : "",
                option->value ? option->value : "");
    }
    fprintf(out, "%s%s\n\n%s\n", command->operands ? " " : "",
            command->operands ? command->operands : "", command->about);
    if (command->option_count)
        fputs("\noptions:\n", out);
    for (size_t i = 0; i < command->option_count; i++) {
        const struct command_option *option = &command->options[i];
        char left[32];
        snprintf(left, sizeof left, "%s%s%s", option->name, option->value ? " " : "",
                 option->value ? option->value : "");
        fprintf(out, "  %-16s %s\n", left, option->about);
    }
    if (command->details)
        fprintf(out, "\n%s", command->details);
}

static int refuse_subcommand(const char *given, FILE *err)
{
    fprintf(err, "perchd: unknown subcommand '%s'; accepted:", given);
    for (size_t i = 0; i < COMMANDS; i++)
        fprintf(err, "%s %s", i ? "," : "", commands[i]->name);
    fputc('\n', err);
    return EXIT_USAGE;
}

static int run_help(int argc, char *const argv[], FILE *out, FILE *err)
{
    if (argc == 0) {
        print_help(out);
        return EXIT_DONE;
    }
    const struct command *command = find_command(argv[0]);
    if (!command)
        return refuse_subcommand(argv[0], err);
    if (command == &command_reckon)
        return reckon_run(0, NULL, out, err);
    if (command == &command_help)
        print_help(out);
    else
        print_command_help(command, out);
    return EXIT_DONE;
}

/* --- options -------------------------------------------------------------------------------- */

static bool parse_whole(const char *text, int64_t *number)
{
    char *end;
    errno = 0;
    *number = strtoll(text, &end, 10);
    return errno == 0 && end != text && *end == '\0' &&
           (text[0] == '-' || (text[0] >= '0' && text[0] <= '9'));
}

/* Checks a value against its option; 0, or the exit code after saying what is accepted. */
static int take_value(struct command_call *call, size_t index, const char *text)
{
    const struct command_option *option = &call->command->options[index];
    int64_t *number = &call->number[index];
    char accepted[96] = "";
    if (option->kind == COMMAND_NUMBER &&
        !(parse_whole(text, number) && *number >= option->min && *number <= option->max))
        snprintf(accepted, sizeof accepted, "a whole number from %" PRId64 " to %" PRId64,
                 option->min, option->max);
    if (option->kind == COMMAND_TIME && civil_parse_rfc3339(text, number) != STATUS_OK)
        snprintf(accepted, sizeof accepted, "a time with its offset, as 2026-07-01T06:00:00+02:00");
    if (option->kind == COMMAND_TEXT && text[0] == '\0')
        snprintf(accepted, sizeof accepted, "%s that is not empty", option->value);
    if (accepted[0]) {
        fprintf(call->err, "perchd %s: %s: '%s' given; accepted: %s\n", call->command->name,
                option->name, text, accepted);
        return EXIT_USAGE;
    }
    call->text[index] = text;
    return 0;
}

static int refuse_option(const struct command_call *call, const char *given)
{
    const struct command *command = call->command;
    fprintf(call->err, "perchd %s: unknown option '%s'; accepted:", command->name, given);
    for (size_t i = 0; i < command->option_count; i++)
        fprintf(call->err, " %s,", command->options[i].name);
    fputs(" --help\n", call->err);
    return EXIT_USAGE;
}

/* One option at argv[*at], as '--name value' or '--name=value'; *at moves to its last word. */
static int take_option(struct command_call *call, int argc, char *const argv[], int *at)
{
    const struct command *command = call->command;
    const char *word = argv[*at];
    size_t length = strcspn(word, "=");
    size_t i = 0;
    while (i < command->option_count && (strlen(command->options[i].name) != length ||
                                         strncmp(command->options[i].name, word, length) != 0))
        i++;
    if (i == command->option_count)
        return refuse_option(call, word);
    const struct command_option *option = &command->options[i];
    const char *complaint = NULL;
    if (call->text[i])
        complaint = "given twice";
    else if (option->kind == COMMAND_FLAG && word[length] == '=')
        complaint = "takes no value";
    else if (option->kind != COMMAND_FLAG && word[length] != '=' && *at + 1 >= argc)
        complaint = "needs a value";
    if (complaint) {
        fprintf(call->err, "perchd %s: %s: %s; accepted: %s%s%s once\n", command->name,
                option->name, complaint, option->name, option->value ? " " : "",
                option->value ? option->value : "");
        return EXIT_USAGE;
    }
    if (option->kind == COMMAND_FLAG) {
        call->text[i] = option->name;
        return 0;
    }
    return take_value(call, i, word[length] == '=' ? word + length + 1 : argv[++*at]);
}

static int check_operands(const struct command_call *call)
{
    const struct command *command = call->command;
    if (command->operands && call->operand_count == 0)
        fprintf(call->err, "perchd %s: nothing given; accepted: %s\n", command->name,
                command->operands);
    else if (!command->operands && call->operand_count > 0)
        fprintf(call->err, "perchd %s: '%s' given; accepted: options only (perchd help %s)\n",
                command->name, call->operands[0], command->name);
    else
        return 0;
    return EXIT_USAGE;
}

/* Options and operands in any order; after '--' everything is an operand. operands has room. */
static int take_words(struct command_call *call, int argc, char *const argv[], char **operands)
{
    bool only_operands = false;
    for (int at = 0; at < argc; at++) {
        bool option = !only_operands && argv[at][0] == '-' && argv[at][1] != '\0';
        if (option && strcmp(argv[at], "--") == 0) {
            only_operands = true;
        } else if (option) {
            int code = take_option(call, argc, argv, &at);
            if (code != 0)
                return code;
        } else {
            operands[call->operand_count++] = argv[at];
        }
    }
    return check_operands(call);
}

static bool wants_help(int argc, char *const argv[])
{
    for (int at = 0; at < argc && strcmp(argv[at], "--") != 0; at++)
        if (strcmp(argv[at], "--help") == 0)
            return true;
    return false;
}

static int run_parsed(const struct command *command, int argc, char *const argv[], FILE *out,
                      FILE *err)
{
    struct command_call call = {.command = command, .out = out, .err = err};
    assert(command->option_count <= COMMAND_OPTIONS_MAX);
    if (wants_help(argc, argv)) {
        print_command_help(command, out);
        return EXIT_DONE;
    }
    char **operands = calloc((size_t)argc + 1, sizeof *operands);
    if (!operands)
        return command_fail(&call, EXIT_FAILED, "out of memory");
    call.operands = operands;
    int code = take_words(&call, argc, argv, operands);
    if (code == 0)
        code = command->run(&call);
    free(operands);
    return code;
}

/* --- for subcommands and main --------------------------------------------------------------- */

static size_t option_index(const struct command_call *call, const char *name)
{
    size_t i = 0;
    while (i < call->command->option_count && strcmp(call->command->options[i].name, name) != 0)
        i++;
    assert(i < call->command->option_count);
    return i;
}

const char *command_text(const struct command_call *call, const char *name)
{
    return call->text[option_index(call, name)];
}

int64_t command_number(const struct command_call *call, const char *name, int64_t fallback)
{
    size_t i = option_index(call, name);
    return call->text[i] ? call->number[i] : fallback;
}

int command_fail(const struct command_call *call, int exit_code, const char *text)
{
    fprintf(call->err, "perchd %s: %s\n", call->command->name, text);
    return exit_code;
}

int command_with_setup(const struct command_call *call,
                       int (*work)(const struct command_call *call, const struct setup *setup))
{
    struct error error;
    struct setup setup;
    if (setup_load(command_text(call, "--config"), &setup, &error) != 0)
        return command_fail(call, EXIT_USAGE, error.text);
    int code = work(call, &setup);
    setup_clear(&setup);
    return code;
}

int command_main(int argc, char *const argv[], FILE *out, FILE *err)
{
    if (argc < 2) {
        print_help(err);
        return EXIT_USAGE;
    }
    const char *word = argv[1];
    if (strcmp(word, "--help") == 0 || strcmp(word, "-h") == 0) {
        print_help(out);
        return EXIT_DONE;
    }
    if (strcmp(word, "--version") == 0) {
        fputs("perchd " PERCHD_VERSION "\n", out);
        return EXIT_DONE;
    }
    const struct command *command = find_command(word);
    if (!command)
        return refuse_subcommand(word, err);
    if (command->run_raw)
        return command->run_raw(argc - 2, argv + 2, out, err);
    return run_parsed(command, argc - 2, argv + 2, out, err);
}
