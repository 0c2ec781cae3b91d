/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The real program, started as a person or a service manager would. */
#include "check.h"

#include <jansson.h>
#include <pthread.h>
#include <signal.h>
#include <sqlite3.h>
#include <stdbool.h>
#include <stdio.h>
#include <sys/prctl.h>
#include <sys/socket.h>
#include <sys/time.h>
#include <sys/un.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "client.h"
#include "daemon/clock.h"
#include "daemon/cycle.h"
#include "daemon/loop.h"
#include "example.h"
#include "met_document.h"
#include "standin.h"

/* --- a running perchd ------------------------------------------------------------------------ */

struct program {
    pid_t pid;
    FILE *out;
    int port;
    char log[96]; /* its standard error */
};

/* NULL-terminated words after 'perchd'. */
static struct program program_start(char *const words[], const char *log_folder)
{
    struct program program = {.pid = -1};
    char path[256];
    char *argv[16] = {path};
    int ends[2];
    check_program("perchd", path, sizeof path);
    for (size_t i = 0; words[i]; i++)
        argv[i + 1] = words[i];
    snprintf(program.log, sizeof program.log, "%s/log", log_folder);
    assert_int_equal(pipe(ends), 0);
    fflush(NULL);
    program.pid = fork();
    if (program.pid == 0) {
        prctl(PR_SET_PDEATHSIG, SIGKILL);
        dup2(ends[1], STDOUT_FILENO);
        close(ends[0]);
        close(ends[1]);
        if (!freopen(program.log, "w", stderr))
            _exit(126);
        execv(path, argv);
        _exit(127);
    }
    close(ends[1]);
    program.out = fdopen(ends[0], "r");
    return program;
}

/* Reads up to the line that says where; what came before goes to text (may be NULL). */
static bool program_read_port(struct program *program, char *text, size_t size)
{
    char line[512];
    size_t length = 0;
    while (fgets(line, sizeof line, program->out)) {
        if (sscanf(line, "serving http://127.0.0.1:%d/", &program->port) == 1)
            return true;
        if (text && length + strlen(line) < size)
            length += (size_t)snprintf(text + length, size - length, "%s", line);
    }
    return false;
}

static struct program serve(const struct example *example)
{
    char config[96];
    char serve_word[] = "serve";
    char config_word[] = "--config";
    snprintf(config, sizeof config, "%s", example->config);
    char *words[] = {serve_word, config_word, config, NULL};
    struct program program = program_start(words, example->folder);
    if (!program_read_port(&program, NULL, 0))
        fail_msg("no line that says where it serves");
    return program;
}

static int program_wait(struct program *program)
{
    int status;
    assert_int_equal(waitpid(program->pid, &status, 0), program->pid);
    fclose(program->out);
    return WIFEXITED(status) ? WEXITSTATUS(status) : -WTERMSIG(status);
}

static int program_end(struct program *program, int with_signal)
{
    kill(program->pid, with_signal);
    return program_wait(program);
}

static bool log_holds(const struct program *program, const char *words)
{
    char text[16384];
    FILE *f = fopen(program->log, "r");
    assert_non_null(f);
    size_t n = fread(text, 1, sizeof text - 1, f);
    text[n] = '\0';
    fclose(f);
    return strstr(text, words) != NULL;
}

static void pause_a_little(void)
{
    const struct timespec pause = {0, 20000000};
    nanosleep(&pause, NULL);
}

enum { TRIES = 1500 }; /* half a minute: ends a test that waits in vain, judges no speed */

/* The answer to path once it is 200 and holds words. */
static void wait_for(int port, const char *path, const char *words, struct answer *answer)
{
    for (int i = 0; i < TRIES; i++) {
        client_ask(port, "GET", path, "", answer);
        if (answer->status == 200 && strstr(answer->body, words))
            return;
        client_forget(answer);
        pause_a_little();
    }
    fail_msg("%s never held '%s'", path, words);
}

/* What 'perchd plan' prints of the same store. */
static void assert_plan_says(const struct example *example, const char *words)
{
    static char out[1 << 16];
    char path[256];
    char command[512];
    char err[1024];
    check_program("perchd", path, sizeof path);
    snprintf(command, sizeof command, "%s plan --config %s", path, example->config);
    assert_int_equal(check_run(command, out, sizeof out, err, sizeof err), 0);
    assert_non_null(strstr(out, words));
}

static int64_t made_at_s(const struct answer *answer)
{
    json_t *plan = json_loads(answer->body, JSON_REJECT_DUPLICATES, NULL);
    assert_non_null(plan);
    int64_t t_s = json_integer_value(json_object_get(plan, "made_at_s"));
    json_decref(plan);
    return t_s;
}

/* --- cases ------------------------------------------------------------------------------------ */

static void cycle_next_s_is_the_earliest_of_hour_end_and_quarter(void **state)
{
    (void)state;
    const int64_t hour_s = 1782882000; /* 2026-07-01T05:00:00Z */
    const struct store_planned runs[] = {
        {.zone = "a", .start_s = hour_s, .end_s = hour_s + 300, .litres = 1},
        {.zone = "b", .start_s = hour_s, .end_s = hour_s + 200, .litres = 1},
        {.zone = "c", .start_s = hour_s, .end_s = hour_s + 8000, .litres = 1}};
    assert_int_equal(cycle_next_s(hour_s, NULL, 0), hour_s + 900);
    assert_int_equal(cycle_next_s(hour_s + 3000, NULL, 0), hour_s + 3600);
    assert_int_equal(cycle_next_s(hour_s + 3599, NULL, 0), hour_s + 3600);
    assert_int_equal(cycle_next_s(hour_s, runs, 3), hour_s + 200);
    assert_int_equal(cycle_next_s(hour_s + 200, runs, 3), hour_s + 300);
    assert_int_equal(cycle_next_s(hour_s + 300, runs, 3), hour_s + 1200);
    assert_int_equal(cycle_next_s(hour_s + 7900, runs, 3), hour_s + 8000);
}

static int turn_at_once(void *context)
{
    ++*(int *)context;
    return 0;
}

static void loop_run_ends_at_its_time_even_when_always_busy(void **state)
{
    (void)state;
    struct error error;
    sigset_t mask;
    int turns = 0;
    int ends[2];
    pthread_sigmask(SIG_SETMASK, NULL, &mask);
    int signal_fd = loop_signals(&error);
    assert_true(signal_fd >= 0);
    assert_int_equal(pipe(ends), 0);
    const struct loop_work work = {.context = &turns,
                                   .fd = ends[0],
                                   .turn = turn_at_once,
                                   .stop_at_ms = clock_monotonic_ms() + 50};
    assert_int_equal(loop_run(signal_fd, &work, &error), 0);
    assert_true(turns > 1);
    close(ends[0]);
    close(ends[1]);
    close(signal_fd);
    pthread_sigmask(SIG_SETMASK, &mask, NULL);
}

/* The plan that is served is the one that the command prints for the same moment. */
static void serve_gives_what_plan_prints(void **state)
{
    (void)state;
    struct example example = example_make(NULL, true);
    struct program program = serve(&example);
    struct answer json;
    struct answer text;
    char path[256];
    char command[512];
    char err[1024];
    static char out[1 << 20];
    struct tm when;
    char at[32];
    wait_for(program.port, "/api/v1/plan", "made_at", &json);
    wait_for(program.port, "/plan.txt", "Test nursery", &text);
    time_t t = made_at_s(&json);
    strftime(at, sizeof at, "%Y-%m-%dT%H:%M:%SZ", gmtime_r(&t, &when));
    check_program("perchd", path, sizeof path);
    snprintf(command, sizeof command, "%s plan --config %s --at %s --json", path, example.config,
             at);
    assert_int_equal(check_run(command, out, sizeof out, err, sizeof err), 0);
    assert_int_equal(strncmp(json.body, out, json.length), 0);
    snprintf(command, sizeof command, "%s plan --config %s --at %s --sheet", path, example.config,
             at);
    assert_int_equal(check_run(command, out, sizeof out, err, sizeof err), 0);
    assert_int_equal(strncmp(text.body, out, text.length), 0);
    client_forget(&json);
    client_forget(&text);
    assert_int_equal(program_end(&program, SIGTERM), 0);
    /* After a restart the same moment still gives the same plan. */
    program = serve(&example);
    wait_for(program.port, "/plan.txt", "Test nursery", &text);
    client_forget(&text);
    assert_int_equal(program_end(&program, SIGINT), 0);
    static char again[1 << 20];
    assert_int_equal(check_run(command, again, sizeof again, err, sizeof err), 0);
    assert_string_equal(out, again);
    example_remove(&example);
}

static void serve_gives_the_page_of_the_source_tree(void **state)
{
    (void)state;
    struct example example = example_make(NULL, true);
    struct program program = serve(&example);
    struct answer answer;
    wait_for(program.port, "/", "<html", &answer);
    client_forget(&answer);
    wait_for(program.port, "/healthz", "ok", &answer);
    client_forget(&answer);
    client_ask(program.port, "GET", "/package.json", "", &answer);
    assert_int_equal(answer.status, 404);
    client_forget(&answer);
    assert_int_equal(program_end(&program, SIGTERM), 0);
    example_remove(&example);
}

static void serve_after_sighup_plans_again(void **state)
{
    (void)state;
    struct example example = example_make(NULL, true);
    struct program program = serve(&example);
    struct answer answer;
    wait_for(program.port, "/api/v1/plan", "made_at", &answer);
    int64_t first_s = made_at_s(&answer);
    int64_t later_s = first_s;
    client_forget(&answer);
    for (int i = 0; i < TRIES && later_s == first_s; i++) {
        kill(program.pid, SIGHUP); /* within the same second the plan is the same */
        pause_a_little();
        wait_for(program.port, "/api/v1/plan", "made_at", &answer);
        later_s = made_at_s(&answer);
        client_forget(&answer);
    }
    assert_true(later_s > first_s);
    assert_true(log_holds(&program, "SIGHUP"));
    assert_int_equal(program_end(&program, SIGTERM), 0);
    example_remove(&example);
}

static void serve_notices_an_import(void **state)
{
    (void)state;
    struct example example = example_make(NULL, true);
    struct program program = serve(&example);
    struct answer answer;
    char path[256];
    char command[512];
    char out[1024];
    char err[1024];
    wait_for(program.port, "/plan.txt", "Test nursery", &answer);
    client_forget(&answer);
    snprintf(command, sizeof command,
             "sed 's/Drip line/Renamed drip line/' " PERCHD_SOURCE
             "/config/demo/zones.csv >%s/zones.csv && %s import --config %s %s/zones.csv",
             example.folder, check_program("perchd", path, sizeof path), example.config,
             example.folder);
    assert_int_equal(check_run(command, out, sizeof out, err, sizeof err), 0);
    wait_for(program.port, "/api/v1/plan", "Renamed drip line", &answer);
    client_forget(&answer);
    assert_int_equal(program_end(&program, SIGTERM), 0);
    example_remove(&example);
}

static void serve_on_a_port_in_use_fails_and_says_so(void **state)
{
    (void)state;
    struct example example = example_make(NULL, true);
    struct program program = serve(&example);
    char path[256];
    char command[512];
    char out[256];
    char err[1024];
    snprintf(command, sizeof command, "%s serve --config %s --port %d",
             check_program("perchd", path, sizeof path), example.config, program.port);
    assert_int_equal(check_run(command, out, sizeof out, err, sizeof err), 1);
    assert_string_equal(out, "");
    assert_non_null(strstr(err, "in use"));
    assert_int_equal(program_end(&program, SIGTERM), 0);
    example_remove(&example);
}

/* --- the feed --------------------------------------------------------------------------------- */

static void answer_forecast(struct standin *standin, int64_t issued_s)
{
    const struct sun_site site = {.latitude_deg = 38.15, .longitude_deg = -8.45, .elevation_m = 90};
    struct met_document document =
        met_document_new(&site, issued_s, civil_floor_hour(clock_now_s()));
    size_t length;
    char *bytes = met_document_write(&document, &length);
    standin_answer(standin, 200,
                   "Content-Type: application/json\r\n"
                   "Last-Modified: Wed, 25 Nov 2026 06:00:00 GMT\r\n",
                   bytes, length);
    free(bytes);
}

static void serve_with_a_feed_plans_from_the_forecast(void **state)
{
    (void)state;
    struct standin *standin = standin_start();
    answer_forecast(standin, clock_now_s() - 1800);
    struct example example = example_make(standin_url(standin), true);
    struct program program = serve(&example);
    struct answer answer;
    /* Without a forecast in store the feed comes before the first plan. */
    wait_for(program.port, "/api/v1/plan", "made_at", &answer);
    assert_non_null(strstr(answer.body, "\"rung\":\"forecast\""));
    client_forget(&answer);
    assert_non_null(strstr(standin_request(standin, 0), "User-Agent: perchd/"));
    assert_int_equal(program_end(&program, SIGTERM), 0);
    assert_true(log_holds(&program, "feed met: new hours"));
    size_t asked = standin_requests(standin);
    /* A restart plans from what is stored and does not ask again before its time. */
    program = serve(&example);
    wait_for(program.port, "/api/v1/plan", "\"rung\":\"forecast\"", &answer);
    client_forget(&answer);
    assert_int_equal(program_end(&program, SIGTERM), 0);
    assert_int_equal(standin_requests(standin), asked);
    standin_stop(standin);
    example_remove(&example);
}

/* As if the time to ask had come while perchd was down. */
static void let_the_feed_be_asked(const struct example *example, const struct standin *standin)
{
    char path[128];
    char host[32];
    struct error error;
    struct store_feed feed;
    snprintf(path, sizeof path, "%s/records.sqlite", example->folder);
    struct store *store = store_open(path, false, &error);
    assert_non_null(store);
    assert_int_equal(store_feed_read(store, "met", &feed, &error), 0);
    feed.next_allowed_s = 0;
    snprintf(host, sizeof host, "127.0.0.1:%d", standin_port(standin));
    assert_int_equal(store_feed_write_with_host(store, "met", &feed, host, 0, &error), 0);
    store_close(store);
}

static void serve_with_a_stored_forecast_plans_again_with_the_new_one(void **state)
{
    (void)state;
    struct standin *standin = standin_start();
    int64_t issued_s = clock_now_s() - 1200;
    answer_forecast(standin, issued_s - 1800);
    struct example example = example_make(standin_url(standin), true);
    struct program program = serve(&example);
    struct answer answer;
    char words[64];
    wait_for(program.port, "/api/v1/plan", "made_at", &answer);
    client_forget(&answer);
    assert_int_equal(program_end(&program, SIGTERM), 0);
    let_the_feed_be_asked(&example, standin);
    answer_forecast(standin, issued_s);
    program = serve(&example);
    snprintf(words, sizeof words, "\"issued_at_s\":%lld", (long long)issued_s);
    wait_for(program.port, "/api/v1/plan", words, &answer);
    client_forget(&answer);
    assert_int_equal(program_end(&program, SIGTERM), 0);
    standin_stop(standin);
    example_remove(&example);
}

/* As answer_forecast, by a service whose clock is ahead of this computer's. */
static void answer_dated(struct standin *standin, int64_t issued_s, int64_t ahead_s)
{
    const struct sun_site site = {.latitude_deg = 38.15, .longitude_deg = -8.45, .elevation_m = 90};
    struct met_document document =
        met_document_new(&site, issued_s, civil_floor_hour(clock_now_s()));
    char headers[128];
    size_t length;
    char *bytes = met_document_write(&document, &length);
    size_t used = (size_t)sprintf(headers, "Content-Type: application/json\r\n");
    time_t date = (time_t)(clock_now_s() + ahead_s);
    struct tm utc;
    strftime(headers + used, sizeof headers - used, "Date: %a, %d %b %Y %H:%M:%S GMT\r\n",
             gmtime_r(&date, &utc));
    standin_clear(standin);
    standin_answer(standin, 200, headers, bytes, length);
    free(bytes);
}

/* The answer to path once it is a problem that holds words. */
static void wait_for_problem(int port, const char *path, const char *words, struct answer *answer)
{
    for (int i = 0; i < TRIES; i++) {
        client_ask(port, "GET", path, "", answer);
        if (answer->status == 503 && strstr(answer->body, words))
            return;
        client_forget(answer);
        pause_a_little();
    }
    fail_msg("%s never refused with '%s'", path, words);
}

/* The first notice's code. */
static void expect_first_notice(const struct answer *answer, const char *code, const char *severity)
{
    json_t *plan = json_loads(answer->body, 0, NULL);
    const json_t *notice = json_array_get(json_object_get(plan, "notices"), 0);
    assert_string_equal(json_string_value(json_object_get(notice, "code")), code);
    assert_string_equal(json_string_value(json_object_get(notice, "severity")), severity);
    check_near(json_number_value(json_object_get(json_object_get(notice, "params"), "apart_h")), 2,
               0.02, "hours apart");
    json_decref(plan);
}

static void serve_under_a_wrong_clock_keeps_the_plan_from_before(void **state)
{
    (void)state;
    struct standin *standin = standin_start();
    struct answer answer;
    int64_t issued_s = clock_now_s() - 3600;
    /* Never a plan under a clock that was agreed to: none is served, and it is said why. */
    answer_dated(standin, issued_s, 7200);
    struct example example = example_make(standin_url(standin), true);
    struct program program = serve(&example);
    wait_for_problem(program.port, "/api/v1/plan", "Set the clock", &answer);
    client_forget(&answer);
    client_ask(program.port, "GET", "/plan.txt", "", &answer);
    assert_int_equal(answer.status, 503);
    client_forget(&answer);
    assert_int_equal(program_end(&program, SIGTERM), 0);
    assert_true(log_holds(&program, "the plan is frozen"));

    /* The clocks agree: a plan. */
    let_the_feed_be_asked(&example, standin);
    answer_dated(standin, issued_s, 0);
    program = serve(&example);
    wait_for(program.port, "/api/v1/plan", "\"rung\":\"forecast\"", &answer);
    assert_null(strstr(answer.body, "clock_wrong"));
    int64_t made_s = made_at_s(&answer);
    client_forget(&answer);
    assert_int_equal(program_end(&program, SIGTERM), 0);

    /* They disagree again: that plan stays, said to be from before, and nobody is told to open a
     * valve by this clock. */
    let_the_feed_be_asked(&example, standin);
    answer_dated(standin, issued_s + 600, -7200);
    program = serve(&example);
    wait_for(program.port, "/api/v1/plan", "clock_wrong", &answer);
    assert_true(made_at_s(&answer) == made_s);
    expect_first_notice(&answer, "clock_wrong", "act");
    client_forget(&answer);
    wait_for(program.port, "/plan.txt", "SET THE CLOCK", &answer);
    client_forget(&answer);
    client_ask(program.port, "GET", "/api/v1/due", "", &answer);
    assert_int_equal(answer.status, 503);
    assert_non_null(strstr(answer.body, "clock is wrong"));
    client_forget(&answer);
    assert_int_equal(program_end(&program, SIGTERM), 0);

    /* A restart knows, without asking. */
    size_t asked = standin_requests(standin);
    program = serve(&example);
    wait_for(program.port, "/api/v1/plan", "clock_wrong", &answer);
    assert_true(made_at_s(&answer) == made_s);
    client_forget(&answer);
    assert_int_equal(program_end(&program, SIGTERM), 0);
    assert_int_equal(standin_requests(standin), asked);

    /* They agree: a new plan. */
    let_the_feed_be_asked(&example, standin);
    answer_dated(standin, issued_s + 1200, 0);
    program = serve(&example);
    char words[64];
    snprintf(words, sizeof words, "\"issued_at_s\":%lld", (long long)(issued_s + 1200));
    wait_for(program.port, "/api/v1/plan", words, &answer);
    assert_null(strstr(answer.body, "clock_wrong"));
    assert_true(made_at_s(&answer) >= made_s); /* its weather is what shows that it is new */
    client_forget(&answer);
    client_ask(program.port, "GET", "/api/v1/due", "", &answer);
    assert_int_equal(answer.status, 200);
    client_forget(&answer);
    assert_int_equal(program_end(&program, SIGTERM), 0);
    standin_stop(standin);
    example_remove(&example);
}

static void serve_with_a_retiring_document_plans_from_it_and_says_so(void **state)
{
    (void)state;
    const struct sun_site site = {.latitude_deg = 38.15, .longitude_deg = -8.45, .elevation_m = 90};
    struct standin *standin = standin_start();
    struct met_document document =
        met_document_new(&site, clock_now_s() - 1800, civil_floor_hour(clock_now_s()));
    struct answer answer;
    size_t length;
    char *bytes = met_document_write(&document, &length);
    standin_answer(standin, 203, "Content-Type: application/json\r\n", bytes, length);
    free(bytes);
    struct example example = example_make(standin_url(standin), true);
    struct program program = serve(&example);
    wait_for(program.port, "/api/v1/plan", "\"code\":\"weather_retiring\"", &answer);
    assert_non_null(strstr(answer.body, "\"rung\":\"forecast\""));
    assert_null(strstr(answer.body, "weather_refused"));
    client_forget(&answer);
    assert_plan_says(&example, "'met' says that it gives up");
    assert_int_equal(program_end(&program, SIGTERM), 0);
    let_the_feed_be_asked(&example, standin);
    standin_clear(standin);
    int64_t issued_s = clock_now_s() - 900;
    answer_forecast(standin, issued_s); /* with 200 */
    char words[64];
    program = serve(&example);
    snprintf(words, sizeof words, "\"issued_at_s\":%lld", (long long)issued_s);
    wait_for(program.port, "/api/v1/plan", words, &answer);
    assert_null(strstr(answer.body, "weather_retiring"));
    client_forget(&answer);
    assert_int_equal(program_end(&program, SIGTERM), 0);
    standin_stop(standin);
    example_remove(&example);
}

static void serve_withdraws_a_plan_made_before_the_clock_was_known_to_be_wrong(void **state)
{
    (void)state;
    struct standin *standin = standin_start();
    struct answer answer;
    int64_t issued_s = clock_now_s() - 1800;
    answer_forecast(standin, issued_s); /* without a Date: says nothing of the clock */
    struct example example = example_make(standin_url(standin), true);
    struct program program = serve(&example);
    wait_for(program.port, "/api/v1/plan", "made_at", &answer);
    client_forget(&answer);
    assert_int_equal(program_end(&program, SIGTERM), 0);
    let_the_feed_be_asked(&example, standin);
    answer_dated(standin, issued_s + 60, 7200);
    program = serve(&example); /* first plans from what is stored, then asks */
    wait_for_problem(program.port, "/api/v1/plan", "Set the clock", &answer);
    client_forget(&answer);
    assert_int_equal(program_end(&program, SIGTERM), 0);
    standin_stop(standin);
    example_remove(&example);
}

static int count_planned(const struct example *example, int64_t start_s)
{
    char path[128];
    sqlite3 *db = NULL;
    sqlite3_stmt *row = NULL;
    snprintf(path, sizeof path, "%s/records.sqlite", example->folder);
    assert_int_equal(sqlite3_open_v2(path, &db, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_prepare_v2(db,
                                        "SELECT count(*) FROM planned_run WHERE state = 'planned'"
                                        " AND start_s = ?1",
                                        -1, &row, NULL),
                     SQLITE_OK);
    sqlite3_bind_int64(row, 1, start_s);
    assert_int_equal(sqlite3_step(row), SQLITE_ROW);
    int count = sqlite3_column_int(row, 0);
    sqlite3_finalize(row);
    sqlite3_close(db);
    return count;
}

/* This computer's clock is two hours ahead of the service's: what it takes for past is to come. */
static void serve_under_a_clock_ahead_counts_no_run_as_past(void **state)
{
    (void)state;
    struct standin *standin = standin_start();
    struct answer answer;
    struct error error;
    char path[128];
    int64_t now_s = clock_now_s();
    struct store_planned run = {.start_s = now_s - 4000, .end_s = now_s - 3000, .litres = 100};
    answer_forecast(standin, now_s - 1800);
    struct example example = example_make(standin_url(standin), true);
    struct program program = serve(&example);
    wait_for(program.port, "/api/v1/plan", "made_at", &answer);
    json_t *plan = json_loads(answer.body, 0, NULL);
    const json_t *zone = json_array_get(json_object_get(plan, "zones"), 0);
    snprintf(run.zone, sizeof run.zone, "%s", json_string_value(json_object_get(zone, "id")));
    json_decref(plan);
    client_forget(&answer);
    assert_int_equal(program_end(&program, SIGTERM), 0);
    snprintf(path, sizeof path, "%s/records.sqlite", example.folder);
    struct store *store = store_open(path, false, &error);
    assert_int_equal(store_planned_replace(store, now_s - 5000, &run, 1, &error), 0);
    store_close(store);
    let_the_feed_be_asked(&example, standin);
    answer_dated(standin, now_s - 1700, -7200);
    program = serve(&example);
    wait_for_problem(program.port, "/api/v1/plan", "Set the clock", &answer);
    client_forget(&answer);
    assert_int_equal(program_end(&program, SIGTERM), 0);
    assert_int_equal(count_planned(&example, run.start_s), 1);

    let_the_feed_be_asked(&example, standin);
    answer_dated(standin, now_s - 1600, 0);
    program = serve(&example); /* the clocks agree: now it is past */
    wait_for(program.port, "/api/v1/plan", "made_at", &answer);
    client_forget(&answer);
    for (int i = 0; i < TRIES && count_planned(&example, run.start_s) > 0; i++)
        pause_a_little();
    assert_int_equal(count_planned(&example, run.start_s), 0);
    assert_int_equal(program_end(&program, SIGTERM), 0);
    standin_stop(standin);
    example_remove(&example);
}

/* As if perchd had run under a clock a day ahead that was put right while it was down. */
static void serve_before_its_last_trusted_plan_keeps_that(void **state)
{
    (void)state;
    struct example example = example_make("http://127.0.0.1:9/forecast", true);
    struct answer answer;
    struct error error;
    char path[128];
    int64_t trusted_s = clock_now_s() + 86400;
    const struct store_clock clock = {.trusted_s = trusted_s, .agreed_s = trusted_s};
    snprintf(path, sizeof path, "%s/records.sqlite", example.folder);
    struct store *store = store_open(path, false, &error);
    assert_int_equal(store_clock_write(store, &clock, &error), 0);
    store_close(store);
    struct program program = serve(&example);
    wait_for(program.port, "/api/v1/plan", "clock_wrong", &answer);
    assert_true(made_at_s(&answer) == trusted_s);
    client_forget(&answer);
    assert_int_equal(program_end(&program, SIGTERM), 0);
    example_remove(&example);
}

static void serve_with_a_broken_document_plans_from_normals_and_says_why(void **state)
{
    (void)state;
    struct standin *standin = standin_start();
    standin_answer(standin, 200, "Content-Type: application/json\r\n", "{\"type\": ", 9);
    struct example example = example_make(standin_url(standin), true);
    struct program program = serve(&example);
    struct answer answer;
    wait_for(program.port, "/api/v1/plan", "\"rung\":\"normals\"", &answer);
    json_t *plan = json_loads(answer.body, 0, NULL);
    const char *why = json_string_value(json_object_get(json_object_get(plan, "weather"), "error"));
    assert_non_null(why);
    assert_true(log_holds(&program, "feed met: refused"));
    json_decref(plan);
    client_forget(&answer);
    assert_int_equal(program_end(&program, SIGTERM), 0);
    standin_stop(standin);
    example_remove(&example);
}

static void serve_while_the_feed_hangs_answers_503_and_stops_cleanly(void **state)
{
    (void)state;
    struct standin *standin = standin_start();
    standin_answer_raw(standin, STANDIN_HOLD, "HTTP/1.1 200 OK\r\n", 17);
    struct example example = example_make(standin_url(standin), true);
    struct program program = serve(&example);
    struct answer answer;
    char value[16];
    client_ask(program.port, "GET", "/api/v1/plan", "", &answer);
    assert_int_equal(answer.status, 503);
    assert_string_equal(client_field(&answer, "Retry-After", value, sizeof value), "2");
    client_forget(&answer);
    wait_for(program.port, "/healthz", "ok", &answer);
    client_forget(&answer);
    while (standin_requests(standin) == 0)
        pause_a_little();
    assert_int_equal(program_end(&program, SIGTERM), 0);
    standin_stop(standin);
    example_remove(&example);
}

static void serve_with_an_unplannable_store_keeps_serving_and_says_why(void **state)
{
    (void)state;
    /* A feed is named but never answers anything, and there are no normals: no plan can be made. */
    struct example example = example_make("http://127.0.0.1:9/forecast", false);
    struct program program = serve(&example);
    for (int i = 0; i < TRIES && !log_holds(&program, "plan: "); i++)
        pause_a_little();
    assert_true(log_holds(&program, "feed met: no answer"));
    assert_true(log_holds(&program, "there is no plan to serve yet"));
    struct answer answer;
    client_ask(program.port, "GET", "/api/v1/plan", "", &answer);
    assert_int_equal(answer.status, 503);
    client_forget(&answer);
    assert_int_equal(program_end(&program, SIGTERM), 0);
    example_remove(&example);
}

/* --- the service manager ---------------------------------------------------------------------- */

static void serve_tells_the_service_manager(void **state)
{
    (void)state;
    struct example example = example_make(NULL, true);
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    struct timeval patience = {.tv_sec = 10};
    char message[256];
    snprintf(address.sun_path, sizeof address.sun_path, "%s/notify", example.folder);
    int fd = socket(AF_UNIX, SOCK_DGRAM | SOCK_CLOEXEC, 0);
    assert_int_equal(bind(fd, (const struct sockaddr *)&address, sizeof address), 0);
    setsockopt(fd, SOL_SOCKET, SO_RCVTIMEO, &patience, sizeof patience);
    setenv("NOTIFY_SOCKET", address.sun_path, 1);
    struct program program = serve(&example);
    unsetenv("NOTIFY_SOCKET");
    ssize_t n = recv(fd, message, sizeof message - 1, 0);
    assert_true(n > 0);
    message[n] = '\0';
    assert_non_null(strstr(message, "READY=1"));
    assert_non_null(strstr(message, "STATUS=serving http://127.0.0.1:"));
    n = recv(fd, message, sizeof message - 1, 0);
    message[n > 0 ? n : 0] = '\0';
    assert_non_null(strstr(message, "WATCHDOG=1"));
    assert_int_equal(program_end(&program, SIGTERM), 0);
    bool stopping = false;
    while (!stopping && (n = recv(fd, message, sizeof message - 1, MSG_DONTWAIT)) > 0) {
        message[n] = '\0';
        stopping = strstr(message, "STOPPING=1") != NULL;
    }
    assert_true(stopping);
    close(fd);
    example_remove(&example);
}

/* --- demo ------------------------------------------------------------------------------------- */

static void demo_prints_the_sheet_serves_and_stops_by_itself(void **state)
{
    (void)state;
    struct example example = example_make(NULL, false); /* for its folder */
    char data[128];
    char demo_word[] = "demo";
    char data_word[] = "--data";
    char seconds_word[] = "--seconds";
    char seconds[] = "1";
    static char text[1 << 16];
    snprintf(data, sizeof data, "%s/data", example.folder);
    char *words[] = {demo_word, data_word, data, NULL, seconds, NULL};
    struct program program = program_start(words, example.folder);
    struct answer answer;
    assert_true(program_read_port(&program, text, sizeof text));
    assert_non_null(strstr(text, "Vivero Ejemplo"));
    assert_non_null(strstr(text, "TOMORROW"));
    wait_for(program.port, "/api/v1/plan", "Vivero Ejemplo", &answer);
    client_forget(&answer);
    assert_int_equal(program_end(&program, SIGINT), 0);
    words[3] = seconds_word; /* and once more on what is there, stopping by itself */
    program = program_start(words, example.folder);
    assert_true(program_read_port(&program, text, sizeof text));
    assert_int_equal(program_wait(&program), 0);
    /* What --data kept can be gone on with. */
    char path[256];
    char command[512];
    char err[1024];
    snprintf(command, sizeof command, "%s plan --config %s/perchd.conf",
             check_program("perchd", path, sizeof path), data);
    assert_int_equal(check_run(command, text, sizeof text, err, sizeof err), 0);
    assert_non_null(strstr(text, "Vivero Ejemplo"));
    example_remove(&example);
}

static void demo_without_data_leaves_nothing_behind(void **state)
{
    (void)state;
    struct example example = example_make(NULL, false);
    char path[256];
    char command[512];
    static char out[1 << 16];
    char err[1024];
    snprintf(command, sizeof command,
             "TMPDIR=%s %s demo --seconds 1 && ls -A %s | grep -c perchd-demo || true",
             example.folder, check_program("perchd", path, sizeof path), example.folder);
    assert_int_equal(check_run(command, out, sizeof out, err, sizeof err), 0);
    assert_non_null(strstr(out, "serving http://127.0.0.1:"));
    assert_string_equal(err, "");
    assert_non_null(strstr(out, "\n0\n"));
    example_remove(&example);
}

static void demo_refuses_a_folder_it_cannot_make(void **state)
{
    (void)state;
    char path[256];
    char command[512];
    char out[256];
    char err[1024];
    snprintf(command, sizeof command, "%s demo --data /nowhere/at/all",
             check_program("perchd", path, sizeof path));
    assert_int_equal(check_run(command, out, sizeof out, err, sizeof err), 1);
    assert_non_null(strstr(err, "/nowhere/at/all"));
}

/* --- installing ------------------------------------------------------------------------------- */

static void installed_program_finds_its_files_from_where_it_lies(void **state)
{
    (void)state;
    struct example example = example_make(NULL, false);
    char build[256];
    char command[2048];
    static char out[1 << 16];
    char err[4096];
    *strrchr((char *)(uintptr_t)check_program("perchd", build, sizeof build), '/') = '\0';
    snprintf(command, sizeof command,
             "mkdir -p %s/p/bin %s/p/share/perchd && cp %s/perchd %s/p/bin && "
             "cp -r " PERCHD_SOURCE "/web %s/p/share/perchd/web && "
             "cp " PERCHD_SOURCE "/docs/openapi.json %s/p/share/perchd && "
             "cp -r " PERCHD_SOURCE "/config/demo %s/p/share/perchd/demo && "
             "sed -i 's/Vivero Ejemplo/Elsewhere/' %s/p/share/perchd/demo/perchd.conf && "
             "cd / && %s/p/bin/perchd demo --seconds 1",
             example.folder, example.folder, build, example.folder, example.folder, example.folder,
             example.folder, example.folder, example.folder);
    assert_int_equal(check_run(command, out, sizeof out, err, sizeof err), 0);
    assert_non_null(strstr(out, "Elsewhere"));
    assert_non_null(strstr(out, "serving http://127.0.0.1:"));
    example_remove(&example);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(cycle_next_s_is_the_earliest_of_hour_end_and_quarter),
        cmocka_unit_test(loop_run_ends_at_its_time_even_when_always_busy),
        cmocka_unit_test(serve_gives_what_plan_prints),
        cmocka_unit_test(serve_gives_the_page_of_the_source_tree),
        cmocka_unit_test(serve_after_sighup_plans_again),
        cmocka_unit_test(serve_notices_an_import),
        cmocka_unit_test(serve_on_a_port_in_use_fails_and_says_so),
        cmocka_unit_test(serve_with_a_feed_plans_from_the_forecast),
        cmocka_unit_test(serve_with_a_stored_forecast_plans_again_with_the_new_one),
        cmocka_unit_test(serve_under_a_wrong_clock_keeps_the_plan_from_before),
        cmocka_unit_test(serve_with_a_retiring_document_plans_from_it_and_says_so),
        cmocka_unit_test(serve_withdraws_a_plan_made_before_the_clock_was_known_to_be_wrong),
        cmocka_unit_test(serve_under_a_clock_ahead_counts_no_run_as_past),
        cmocka_unit_test(serve_before_its_last_trusted_plan_keeps_that),
        cmocka_unit_test(serve_with_a_broken_document_plans_from_normals_and_says_why),
        cmocka_unit_test(serve_while_the_feed_hangs_answers_503_and_stops_cleanly),
        cmocka_unit_test(serve_with_an_unplannable_store_keeps_serving_and_says_why),
        cmocka_unit_test(serve_tells_the_service_manager),
        cmocka_unit_test(demo_prints_the_sheet_serves_and_stops_by_itself),
        cmocka_unit_test(demo_without_data_leaves_nothing_behind),
        cmocka_unit_test(demo_refuses_a_folder_it_cannot_make),
        cmocka_unit_test(installed_program_finds_its_files_from_where_it_lies),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
