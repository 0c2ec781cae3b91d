/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Subcommands that stay: serve, demo. */
#include "command.h"

#include <errno.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "clock.h"
#include "error.h"
#include "import.h"
#include "place.h"
#include "planner.h"
#include "serve.h"
#include "setup.h"
#include "store_access.h"

enum { PATH_SIZE = 1024, PORT_MAX = 65535, SECONDS_MAX = 86400, DEMO_PASSWORD = 16 };

/* --- serve ---------------------------------------------------------------------------------- */

/* Creates or migrates the store before anything else starts, so that what is wrong with it stops
 * the start. */
static int check_store(const struct command_call *call, const struct setup *setup)
{
    struct error error;
    struct store *store = store_open(setup->config.store_path, false, &error);
    if (!store)
        return command_fail(call, EXIT_FAILED, error.text);
    int result = setup_check_weather(setup, store, &error);
    store_close(store);
    return result == 0 ? EXIT_DONE : command_fail(call, EXIT_USAGE, error.text);
}

/* What is wrong with these files stops the start as the rest of the configuration does. */
static int check_tls(const struct command_call *call, const struct setup *setup)
{
    struct error error;
    if (!setup->config.tls_certificate[0])
        return EXIT_DONE;
    struct tls *tls = tls_open(&setup->config, &error);
    tls_close(tls);
    return tls ? EXIT_DONE : command_fail(call, EXIT_USAGE, error.text);
}

static int serve(const struct command_call *call, const struct setup *setup, int port,
                 int64_t seconds)
{
    struct error error;
    struct place place;
    const struct serve_options options = {setup, &place, port, seconds};
    if (place_find(&place, &error) != 0 || serve_run(&options, call->out, &error) != 0)
        return command_fail(call, EXIT_FAILED, error.text);
    return EXIT_DONE;
}

static int run_serve(const struct command_call *call)
{
    struct error error;
    struct setup setup;
    if (setup_load(command_text(call, "--config"), &setup, &error) != 0)
        return command_fail(call, EXIT_USAGE, error.text);
    int code = check_store(call, &setup);
    if (code == EXIT_DONE)
        code = check_tls(call, &setup);
    if (code == EXIT_DONE)
        code = serve(call, &setup, (int)command_number(call, "--port", setup.config.port), 0);
    setup_clear(&setup);
    return code;
}

static const struct command_option serve_options[] = {
    COMMAND_CONFIG_OPTION,
    {"--port", "N", COMMAND_NUMBER, 0, PORT_MAX,
     "0 to 65535 instead of the configured port; 0: any free one"},
};

const struct command command_serve = {
    .name = "serve",
    .about = "plan and serve the page and the JSON until told to stop",
    .details = "Prints 'serving http://ADDRESS:PORT/' once it answers. SIGTERM and SIGINT stop it, "
               "SIGHUP makes it\nplan again.\n",
    .options = serve_options,
    .option_count = sizeof serve_options / sizeof serve_options[0],
    .run = run_serve,
};

/* --- demo ----------------------------------------------------------------------------------- */

struct demo {
    char folder[PATH_SIZE];
    char config[PATH_SIZE];
    bool remove; /* ours: made here, gone at the end */
};

static int copy_file(const char *from, const char *to, struct error *error)
{
    char bytes[8192];
    int result = -1;
    FILE *out = NULL;
    FILE *in = fopen(from, "rb");
    if (!in)
        return error_set(error, "%s: %s", from, strerror(errno));
    out = fopen(to, "wbx");
    if (!out) {
        error_set(error, "%s: %s", to, strerror(errno));
        goto end;
    }
    size_t n;
    while ((n = fread(bytes, 1, sizeof bytes, in)) > 0)
        fwrite(bytes, 1, n, out);
    result = ferror(in) || ferror(out) ? -1 : 0;
    if (fclose(out) != 0 || result != 0)
        result = error_set(error, "%s: %s", to, strerror(errno));
end:
    fclose(in);
    return result;
}

/* The data folder with the example's configuration in it; one already there is kept. */
static int prepare(struct demo *demo, const char *wanted, const struct place *place,
                   struct error *error)
{
    char source[PATH_SIZE + 16];
    if (wanted) {
        if (mkdir(wanted, 0755) != 0 && errno != EEXIST)
            return error_set(error, "--data: %s: %s", wanted, strerror(errno));
        snprintf(demo->folder, sizeof demo->folder, "%s", wanted);
    } else {
        const char *tmp = getenv("TMPDIR"); /* where mktemp(1) and others put theirs */
        snprintf(demo->folder, sizeof demo->folder, "%.512s/perchd-demo-XXXXXX",
                 tmp && tmp[0] == '/' ? tmp : "/tmp");
        if (!mkdtemp(demo->folder))
            return error_set(error, "%s: %s", demo->folder, strerror(errno));
        demo->remove = true;
    }
    if (snprintf(demo->config, sizeof demo->config, "%s/perchd.conf", demo->folder) >=
        (int)sizeof demo->config)
        return error_set(error, "--data: '%.40s...' is too long", wanted);
    snprintf(source, sizeof source, "%s/perchd.conf", place->demo);
    return access(demo->config, F_OK) == 0 ? 0 : copy_file(source, demo->config, error);
}

/* Records of the example with times counted from today. */
static const char *const dated[] = {"pot_events", "weighings"};

/* '{-1T08:40}' or '{-9}': days from today, minutes into that day (< 0: a date), and where the text
 * goes on. */
static bool parse_ago(const char *text, long *days, int *minutes, const char **rest)
{
    const char *digits = "0123456789";
    char *end = NULL;
    *days = strtol(text + 1, &end, 10);
    const char *clock = end + 1;
    *minutes = -1;
    *rest = clock;
    if (end != text + 1 && *end == '}')
        return *days >= -20 && *days <= 0;
    if (end == text + 1 || *end != 'T' || strspn(clock, digits) != 2 || clock[2] != ':' ||
        strspn(clock + 3, digits) != 2 || clock[5] != '}')
        return false;
    *minutes =
        ((clock[0] - '0') * 10 + clock[1] - '0') * 60 + (clock[3] - '0') * 10 + clock[4] - '0';
    *rest = clock + 6;
    return *days >= -20 && *days <= 0;
}

/* '{-1T08:40}' is 08:40 of yesterday's local date, '{-9}' the date nine days ago: the example was
 * always weighed and measured lately. Writes the dated line; a line that would grow too long is
 * refused. */
static int date_line(const struct setup *setup, const char *line, FILE *out, struct error *error)
{
    long days = 0;
    int minutes = 0;
    const char *rest = NULL;
    char text[CIVIL_TEXT];
    const char *open = strchr(line, '{');
    if (!open)
        return fputs(line, out) < 0 ? error_set(error, "%s", strerror(errno)) : 0;
    if (!parse_ago(open, &days, &minutes, &rest))
        return error_set(error, "'%.40s': not of the form {-1T08:40}", open);
    int64_t today = civil_days(civil_local_date(&setup->zone, clock_now_s()));
    int64_t t_s = civil_local_to_utc(&setup->zone, today + days, minutes < 0 ? 0 : minutes * 60);
    civil_format_rfc3339(t_s, civil_offset_at(&setup->zone, t_s), text);
    if (minutes < 0)
        *strchr(text, 'T') = '\0';
    fprintf(out, "%.*s%s%s", (int)(open - line), line, text, rest);
    return 0;
}

/* Records of the example that are given as days ago, into a CSV file with dates, and that into the
 * store. A data folder that has been shown before keeps its own. */
static int import_dated(const struct setup *setup, const struct place *place, const char *name,
                        struct store *store, const char *folder, struct error *error)
{
    char from[PATH_SIZE + 32];
    char to[PATH_SIZE + 32];
    char line[256];
    int result = 0;
    snprintf(from, sizeof from, "%s/%s.csv.in", place->demo, name);
    snprintf(to, sizeof to, "%s/%s.csv", folder, name);
    if (access(to, F_OK) == 0)
        return 0;
    FILE *in = fopen(from, "r");
    if (!in)
        return error_set(error, "%s: %s", from, strerror(errno));
    FILE *out = fopen(to, "w");
    if (!out)
        result = error_set(error, "%s: %s", to, strerror(errno));
    while (result == 0 && fgets(line, sizeof line, in))
        result = date_line(setup, line, out, error);
    fclose(in);
    if (out && fclose(out) != 0)
        result = error_set(error, "%s: %s", to, strerror(errno));
    return result == 0 ? import_path(store, to, NULL, error) : result;
}

static int import_all_dated(const struct setup *setup, const struct place *place,
                            struct store *store, const char *folder, struct error *error)
{
    int result = 0;
    for (size_t i = 0; i < sizeof dated / sizeof dated[0] && result == 0; i++)
        result = import_dated(setup, place, dated[i], store, folder, error);
    return result;
}

/* The example's records into the store, and the plan's sheet to out. */
static int load_and_print(const struct setup *setup, const struct place *place, const char *folder,
                          FILE *out, struct error *error)
{
    struct planner_bodies bodies = {0};
    int result = -1;
    struct store *store = store_open(setup->config.store_path, false, error);
    if (!store)
        return -1;
    if (import_path(store, place->demo, NULL, error) == 0 &&
        import_all_dated(setup, place, store, folder, error) == 0 &&
        planner_make(&setup->config, &setup->zone, store, clock_now_s(), &bodies, error) == 0) {
        fprintf(out, "%s\n", bodies.text);
        fflush(out);
        result = 0;
    }
    planner_free(&bodies);
    store_close(store);
    return result;
}

static int note_let_in(struct store *store, const char *what, const char *after,
                       struct error *error)
{
    const struct store_audit line = {clock_now_s(), "command line", "add", what, NULL, after};
    return store_audit_add(store, &line, error);
}

/* Someone to sign in as, and a token to try a controller with. A data folder that has been shown
 * before keeps those it has: of them only hashes are left. */
static int let_in(const struct setup *setup, FILE *out, struct error *error)
{
    struct access_secret secret;
    char token[ACCESS_TEXT_SIZE];
    struct store_account account = {.name = "admin", .role = ACCESS_ADMIN};
    int result = -1;
    struct store *store = store_open(setup->config.store_path, false, error);
    if (!store || access_secret_make(&secret, error) != 0)
        goto end;
    account.changed_s = clock_now_s();
    secret.secret[DEMO_PASSWORD] = '\0';
    int made = access_password_hash(secret.secret, account.hash, error) == 0
                   ? store_account_add(store, &account, error)
                   : -1;
    if (made == 1 && note_let_in(store, "account admin", "{\"role\":\"admin\"}", error) != 0)
        made = -1;
    if (made == 1)
        fprintf(out, "account admin, password %s\n", secret.secret);
    if (made >= 0)
        made = command_make_token(store, "controller", ACCESS_CONTROLLER, token, error);
    if (made == 1 &&
        note_let_in(store, "token controller", "{\"scope\":\"controller\"}", error) != 0)
        made = -1;
    if (made == 1)
        fprintf(out, "controller's token %s\n", token);
    result = made < 0 ? -1 : 0;
end:
    store_close(store);
    return result;
}

static void clean_up(const struct demo *demo, const char *store_path)
{
    static const char *const endings[] = {"", "-wal", "-shm"};
    char path[PATH_SIZE];
    if (!demo->remove)
        return;
    for (size_t i = 0; store_path && i < sizeof endings / sizeof endings[0]; i++)
        if (snprintf(path, sizeof path, "%s%s", store_path, endings[i]) < (int)sizeof path)
            unlink(path);
    unlink(demo->config);
    for (size_t i = 0; i < sizeof dated / sizeof dated[0]; i++)
        if (snprintf(path, sizeof path, "%s/%s.csv", demo->folder, dated[i]) < (int)sizeof path)
            unlink(path);
    rmdir(demo->folder);
}

static int run_demo(const struct command_call *call)
{
    struct error error;
    struct place place;
    struct setup setup;
    struct demo demo = {.remove = false};
    const char *store_path = NULL;
    int code = EXIT_FAILED;
    if (place_find(&place, &error) != 0 ||
        prepare(&demo, command_text(call, "--data"), &place, &error) != 0 ||
        setup_load(demo.config, &setup, &error) != 0) {
        command_fail(call, code, error.text);
        goto end;
    }
    store_path = setup.config.store_path;
    if (load_and_print(&setup, &place, demo.folder, call->out, &error) != 0 ||
        let_in(&setup, call->out, &error) != 0)
        command_fail(call, code, error.text);
    else
        code = serve(call, &setup, (int)command_number(call, "--port", 0),
                     command_number(call, "--seconds", 0));
    clean_up(&demo, store_path);
    setup_clear(&setup);
    return code;
end:
    clean_up(&demo, NULL);
    return code;
}

static const struct command_option demo_options[] = {
    {"--port", "N", COMMAND_NUMBER, 0, PORT_MAX, "0 to 65535 (default 0: any free one)"},
    {"--seconds", "N", COMMAND_NUMBER, 1, SECONDS_MAX,
     "stop after N seconds (default: until stopped)"},
    {"--data", "DIR", COMMAND_TEXT, 0, 0,
     "keep the records in DIR (default: a folder that is removed)"},
};

const struct command command_demo = {
    .name = "demo",
    .about = "show the example nursery: tomorrow's plan here, then the page on this machine",
    .details = "Plans from the climate of the month; nothing is fetched.\n",
    .options = demo_options,
    .option_count = sizeof demo_options / sizeof demo_options[0],
    .run = run_demo,
};
