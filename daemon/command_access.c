/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Subcommands about who may do what: token, account. */
#include "command.h"

#include <stdarg.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <termios.h>
#include <unistd.h>

#include "access.h"
#include "clock.h"
#include "kind.h"
#include "store_access.h"

enum { PASSWORD_SIZE = 512 };

static const char by[] = "command line";

/* One call with its store open. */
struct desk {
    const struct command_call *call;
    const struct setup *setup;
    struct store *store;
    const char *name; /* of the token or account; "" for list */
    char before[80];  /* what is about to change, for the audit record */
    bool new_password;
    struct error error;
};

static int fail(struct desk *desk)
{
    return command_fail(desk->call, EXIT_FAILED, desk->error.text);
}

static int refuse(const struct desk *desk, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

static int refuse(const struct desk *desk, const char *format, ...)
{
    char text[400];
    va_list args;
    va_start(args, format);
    vsnprintf(text, sizeof text, format, args);
    va_end(args);
    return command_fail(desk->call, EXIT_USAGE, text);
}

static int note(struct desk *desk, const char *action, const char *kind, const char *before,
                const char *after)
{
    char what[STORE_NAME_SIZE + 16];
    snprintf(what, sizeof what, "%s %s", kind, desk->name);
    const struct store_audit line = {clock_now_s(), by, action, what, before, after};
    return store_audit_add(desk->store, &line, &desk->error);
}

static void print_day(const struct desk *desk, int64_t t_s, const char *otherwise)
{
    char text[CIVIL_TEXT];
    if (t_s == 0) {
        fprintf(desk->call->out, " %-10s", otherwise);
        return;
    }
    civil_format_rfc3339(t_s, civil_offset_at(&desk->setup->zone, t_s), text);
    fprintf(desk->call->out, " %.10s", text);
}

/* --- one call ----------------------------------------------------------------------------- */

struct verb {
    const char *word;
    bool named; /* takes a NAME */
    int (*run)(struct desk *desk);
};

static bool is_name(const char *text)
{
    const struct kind_column column = {.name = "name", .type = KIND_ID, .required = true};
    struct kind_value value;
    struct kind_fault fault;
    return kind_parse(&column, text, &value, &fault) == 0;
}

static const struct verb *find_verb(const struct command_call *call, const struct verb *verbs,
                                    size_t count)
{
    for (size_t i = 0; i < count; i++)
        if (strcmp(verbs[i].word, call->operands[0]) == 0 &&
            call->operand_count == (verbs[i].named ? 2u : 1u))
            return &verbs[i];
    return NULL;
}

static int run_verb(const struct command_call *call, const struct verb *verbs, size_t count)
{
    struct desk desk = {.call = call, .name = call->operand_count > 1 ? call->operands[1] : ""};
    const struct verb *verb = find_verb(call, verbs, count);
    struct setup setup;
    if (!verb)
        return refuse(&desk,
                      "'%.60s' given with too many or too few words, or not known; 'perchd "
                      "help' with this subcommand lists what is",
                      call->operands[0]);
    if (verb->named && !is_name(desk.name))
        return refuse(&desk, "name '%.60s' given, accepted is 1 to 40 of a-z, 0-9 and '-'",
                      desk.name);
    if (setup_load(command_text(call, "--config"), &setup, &desk.error) != 0)
        return command_fail(call, EXIT_USAGE, desk.error.text);
    int code = EXIT_FAILED;
    desk.setup = &setup;
    desk.store = store_open(setup.config.store_path, false, &desk.error);
    if (!desk.store)
        fail(&desk);
    else
        code = verb->run(&desk);
    store_close(desk.store);
    setup_clear(&setup);
    return code;
}

/* Changes and their line in the audit record land together. */
static int in_transaction(struct desk *desk, int (*work)(struct desk *desk, void *context),
                          void *context)
{
    if (store_begin(desk->store, &desk->error) != 0)
        return fail(desk);
    int code = work(desk, context);
    if (code == EXIT_DONE && store_commit(desk->store, &desk->error) != 0)
        code = fail(desk);
    if (code != EXIT_DONE)
        store_rollback(desk->store);
    return code;
}

/* --- token -------------------------------------------------------------------------------- */

int command_make_token(struct store *store, const char *name, enum access_role scope,
                       char text[ACCESS_TEXT_SIZE], struct error *error)
{
    struct access_secret secret;
    struct store_token token = {.role = scope, .made_s = clock_now_s()};
    if (access_secret_make(&secret, error) != 0 ||
        access_secret_hash(secret.secret, token.hash, error) != 0)
        return -1;
    snprintf(token.id, sizeof token.id, "%s", secret.id);
    snprintf(token.name, sizeof token.name, "%s", name);
    access_secret_print(&secret, ACCESS_TOKEN, text);
    explicit_bzero(&secret, sizeof secret);
    return store_token_add(store, &token, error);
}

static int add_token(struct desk *desk, void *context)
{
    char *text = context;
    char after[80];
    enum access_role scope = access_role_named(command_text(desk->call, "--scope"));
    int added = command_make_token(desk->store, desk->name, scope, text, &desk->error);
    if (added == 0)
        return refuse(desk, "a token '%s' is in force; revoke it first or choose another name",
                      desk->name);
    snprintf(after, sizeof after, "{\"scope\":\"%s\"}", access_role_name(scope));
    return added < 0 || note(desk, "add", "token", NULL, after) != 0 ? fail(desk) : EXIT_DONE;
}

static int token_add(struct desk *desk)
{
    char text[ACCESS_TEXT_SIZE];
    const char *scope = command_text(desk->call, "--scope");
    if (!scope || !access_role_is_scope(access_role_named(scope)))
        return refuse(desk, "--scope: '%.40s' given, accepted is controller or station",
                      scope ? scope : "nothing");
    int code = in_transaction(desk, add_token, text);
    if (code == EXIT_DONE)
        fprintf(desk->call->out, "%s\n", text);
    explicit_bzero(text, sizeof text);
    if (code == EXIT_DONE && isatty(STDERR_FILENO))
        fputs("This is shown once. Give it to the device as 'Authorization: Bearer TOKEN'.\n",
              desk->call->err);
    return code;
}

/* The scope of the token in force, as the audit record has it. */
static void take_scope(void *context, const struct store_token *token)
{
    struct desk *desk = context;
    if (token->revoked_s == 0 && strcmp(token->name, desk->name) == 0)
        snprintf(desk->before, sizeof desk->before, "{\"scope\":\"%s\"}",
                 access_role_name(token->role));
}

static int revoke_token(struct desk *desk, void *context)
{
    (void)context;
    if (store_token_each(desk->store, take_scope, desk, &desk->error) != 0)
        return fail(desk);
    int done = store_token_revoke(desk->store, desk->name, clock_now_s(), &desk->error);
    if (done == 0)
        return refuse(desk, "no token '%s' is in force", desk->name);
    return done < 0 || note(desk, "remove", "token", desk->before, NULL) != 0 ? fail(desk)
                                                                              : EXIT_DONE;
}

static int token_revoke(struct desk *desk)
{
    return in_transaction(desk, revoke_token, NULL);
}

static void print_token(void *context, const struct store_token *token)
{
    const struct desk *desk = context;
    fprintf(desk->call->out, "%-40s %-10s", token->name, access_role_name(token->role));
    print_day(desk, token->made_s, "");
    print_day(desk, token->used_s, "never");
    print_day(desk, token->revoked_s, "in force");
    fputc('\n', desk->call->out);
}

static int token_list(struct desk *desk)
{
    fprintf(desk->call->out, "%-40s %-10s %-10s %-10s %s\n", "name", "scope", "made", "last used",
            "revoked");
    return store_token_each(desk->store, print_token, desk, &desk->error) == 0 ? EXIT_DONE
                                                                               : fail(desk);
}

static int run_token(const struct command_call *call)
{
    static const struct verb verbs[] = {
        {"add", true, token_add}, {"list", false, token_list}, {"revoke", true, token_revoke}};
    return run_verb(call, verbs, sizeof verbs / sizeof verbs[0]);
}

static const struct command_option token_options[] = {
    COMMAND_CONFIG_OPTION,
    {"--scope", "SCOPE", COMMAND_TEXT, 0, 0,
     "controller (reads the plan, reports runs) or station (reports weather)"},
};

const struct command command_token = {
    .name = "token",
    .operands = "add NAME | list | revoke NAME",
    .about = "let a device in: a valve controller or a weather station",
    .details = "'add' prints the token, this once: the records keep a hash of it only. A revoked "
               "token is refused\nfrom the next request on.\n",
    .options = token_options,
    .option_count = sizeof token_options / sizeof token_options[0],
    .run = run_token,
};

/* --- account ------------------------------------------------------------------------------ */

static bool read_line(FILE *in, char *text, size_t size)
{
    if (!fgets(text, (int)size, in))
        return false;
    text[strcspn(text, "\r\n")] = '\0';
    return true;
}

/* From the terminal without showing it, twice; else the first line of standard input. */
static int read_password(struct desk *desk, char password[PASSWORD_SIZE])
{
    struct termios shown;
    char again[PASSWORD_SIZE];
    bool asks = isatty(STDIN_FILENO) && tcgetattr(STDIN_FILENO, &shown) == 0;
    bool good = true;
    if (asks) {
        struct termios hidden = shown;
        hidden.c_lflag &= ~(tcflag_t)ECHO;
        tcsetattr(STDIN_FILENO, TCSAFLUSH, &hidden);
        fputs("password: ", desk->call->err);
    }
    good = read_line(stdin, password, PASSWORD_SIZE);
    if (asks) {
        fputs("\nagain: ", desk->call->err);
        good = good && read_line(stdin, again, sizeof again) && strcmp(password, again) == 0;
        explicit_bzero(again, sizeof again);
        tcsetattr(STDIN_FILENO, TCSAFLUSH, &shown);
        fputc('\n', desk->call->err);
    }
    if (!good)
        return error_set(&desk->error, "%s",
                         asks ? "the two passwords differ; accepted is the same twice"
                              : "no password on standard input; accepted is one line");
    return access_password_check(password, &desk->error);
}

/* Asks, hashes, wipes. */
static int fill_hash(struct desk *desk, struct store_account *account)
{
    char password[PASSWORD_SIZE] = "";
    int code = EXIT_DONE;
    if (read_password(desk, password) != 0)
        code = command_fail(desk->call, EXIT_USAGE, desk->error.text);
    else if (access_password_hash(password, account->hash, &desk->error) != 0)
        code = fail(desk);
    explicit_bzero(password, sizeof password);
    return code;
}

static void print_state(const struct store_account *account, bool new_password, char out[80])
{
    snprintf(out, 80, "{\"role\":\"%s\",\"disabled\":%s%s}", access_role_name(account->role),
             account->disabled ? "true" : "false",
             new_password ? ",\"password_changed\":true" : "");
}

static int add_account(struct desk *desk, void *context)
{
    const struct store_account *account = context;
    char after[80];
    int added = store_account_add(desk->store, account, &desk->error);
    if (added == 0)
        return refuse(desk, "there is an account '%s'", desk->name);
    print_state(account, false, after);
    return added < 0 || note(desk, "add", "account", NULL, after) != 0 ? fail(desk) : EXIT_DONE;
}

static int account_add(struct desk *desk)
{
    const char *role = command_text(desk->call, "--role");
    struct store_account account = {.role = access_role_named(role ? role : ""),
                                    .changed_s = clock_now_s()};
    if (account.role == ACCESS_NOBODY || access_role_is_scope(account.role))
        return refuse(desk, "--role: '%.40s' given, accepted is viewer, grower or admin",
                      role ? role : "nothing");
    snprintf(account.name, sizeof account.name, "%s", desk->name);
    int code = fill_hash(desk, &account);
    return code == EXIT_DONE ? in_transaction(desk, add_account, &account) : code;
}

static int read_account(struct desk *desk, struct store_account *account)
{
    int got = store_account_read(desk->store, desk->name, account, &desk->error);
    if (got == 0)
        return refuse(desk, "there is no account '%s'", desk->name);
    print_state(account, false, desk->before);
    account->changed_s = clock_now_s();
    return got < 0 ? fail(desk) : EXIT_DONE;
}

static int change_account(struct desk *desk, void *context)
{
    const struct store_account *account = context;
    char after[80];
    print_state(account, desk->new_password, after);
    return store_account_change(desk->store, account, &desk->error) < 0 ||
                   note(desk, "change", "account", desk->before, after) != 0
               ? fail(desk)
               : EXIT_DONE;
}

static int account_password(struct desk *desk)
{
    struct store_account account;
    int code = read_account(desk, &account);
    if (code == EXIT_DONE)
        code = fill_hash(desk, &account);
    account.disabled = false;
    desk->new_password = true;
    return code == EXIT_DONE ? in_transaction(desk, change_account, &account) : code;
}

static int account_disable(struct desk *desk)
{
    struct store_account account;
    int code = read_account(desk, &account);
    account.disabled = true;
    return code == EXIT_DONE ? in_transaction(desk, change_account, &account) : code;
}

static void print_account(void *context, const struct store_account *account)
{
    const struct desk *desk = context;
    fprintf(desk->call->out, "%-40s %-7s", account->name, access_role_name(account->role));
    print_day(desk, account->changed_s, "");
    fprintf(desk->call->out, " %s\n", account->disabled ? "disabled" : "in force");
}

static int account_list(struct desk *desk)
{
    fprintf(desk->call->out, "%-40s %-7s %-10s\n", "name", "role", "changed");
    return store_account_each(desk->store, print_account, desk, &desk->error) == 0 ? EXIT_DONE
                                                                                   : fail(desk);
}

static int run_account(const struct command_call *call)
{
    static const struct verb verbs[] = {{"add", true, account_add},
                                        {"list", false, account_list},
                                        {"password", true, account_password},
                                        {"disable", true, account_disable}};
    return run_verb(call, verbs, sizeof verbs / sizeof verbs[0]);
}

static const struct command_option account_options[] = {
    COMMAND_CONFIG_OPTION,
    {"--role", "ROLE", COMMAND_TEXT, 0, 0, "viewer (reads), grower (changes records) or admin"},
};

const struct command command_account = {
    .name = "account",
    .operands = "add NAME | list | password NAME | disable NAME",
    .about = "let a person in",
    .details = "'add' and 'password' ask for the password, or take the first line of standard "
               "input. 'password'\nalso puts a disabled account in force again; both it and "
               "'disable' end the account's sessions.\n",
    .options = account_options,
    .option_count = sizeof account_options / sizeof account_options[0],
    .run = run_account,
};
