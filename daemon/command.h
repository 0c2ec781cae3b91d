/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The command line: one table of subcommands, each with its options; help, checking and refusals
 * come from the table. One file a family of subcommands fills in what they do.
 */
#ifndef PERCHD_DAEMON_COMMAND_H
#define PERCHD_DAEMON_COMMAND_H

#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include "access.h"
#include "setup.h"

enum command_kind {
    COMMAND_FLAG,   /* no value */
    COMMAND_TEXT,   /* a value that is not empty: a path */
    COMMAND_NUMBER, /* a whole number, min..max */
    COMMAND_TIME,   /* RFC 3339 with an offset */
};

struct command_option {
    const char *name;  /* with its dashes */
    const char *value; /* as shown in help, NULL for a flag */
    enum command_kind kind;
    int64_t min, max; /* COMMAND_NUMBER */
    const char *about;
};

#define COMMAND_CONFIG_OPTION                                                                      \
    {                                                                                              \
        "--config", "FILE", COMMAND_TEXT, 0, 0,                                                    \
            "the configuration (default " SETUP_CONFIG_PATH ")"                                    \
    }

enum { COMMAND_OPTIONS_MAX = 8 };

/* One call as given on the command line. */
struct command_call {
    const struct command *command;
    const char *text[COMMAND_OPTIONS_MAX]; /* NULL when not given; a flag: its name */
    int64_t number[COMMAND_OPTIONS_MAX];   /* of COMMAND_NUMBER, and seconds of COMMAND_TIME */
    char *const *operands;
    size_t operand_count;
    FILE *out, *err;
};

struct command {
    const char *name;
    const char *operands; /* as shown in help, NULL when there are none; else at least one */
    const char *about;    /* one line */
    const char *details;  /* what help of this subcommand adds, "" when nothing */
    const struct command_option *options;
    size_t option_count;
    int (*run)(const struct command_call *call);                        /* exit code */
    int (*run_raw)(int argc, char *const argv[], FILE *out, FILE *err); /* reads argv itself */
};

extern const struct command command_serve, command_demo, command_plan, command_mixes,
    command_checks, command_weather, command_import, command_check_config, command_token,
    command_account;

/* The whole program: argv as main got it. Returns the exit code. */
int command_main(int argc, char *const argv[], FILE *out, FILE *err);

/* --- for subcommands ------------------------------------------------------------------------ */

/* The option's text, or NULL when it was not given. name must be in the table. */
const char *command_text(const struct command_call *call, const char *name);
int64_t command_number(const struct command_call *call, const char *name, int64_t fallback);

/* Makes a token in the store: 1 with its text, 0 when one of that name is in force, -1 failed. */
int command_make_token(struct store *store, const char *name, enum access_role scope,
                       char text[ACCESS_TEXT_SIZE], struct error *error);

/* Loads the configuration of --config, does the work with it, clears it; the exit code. */
int command_with_setup(const struct command_call *call,
                       int (*work)(const struct command_call *call, const struct setup *setup));

/* Prints 'perchd SUBCOMMAND: text' and returns exit_code. */
int command_fail(const struct command_call *call, int exit_code, const char *text);

#endif
