/* SPDX-License-Identifier: GPL-3.0-or-later */
/* perchd-fetch: fetches one forecast document, checks and decodes it, hands back one JSON object on
 * standard output. It knows no secret and no database, and lives for seconds. docs/feed.md
 * describes the object.
 */
#include <curl/curl.h>
#include <jansson.h>
#include <math.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/prctl.h>
#include <sys/resource.h>

#include "feed_met.h"
#include "fetch.h"
#include "number.h"

static const char USAGE[] =
    "usage: perchd-fetch --feed met --url BASE --latitude X --longitude Y --elevation Z\n"
    "           --user-agent TEXT [--if-modified-since TEXT] [--timeout SECONDS]\n"
    "Fetches one forecast and writes one JSON object. perchd runs it; docs/feed.md has the rest.\n";

/* --- the command line --------------------------------------------------------------------- */

enum option {
    FEED,
    URL,
    LATITUDE,
    LONGITUDE,
    ELEVATION,
    USER_AGENT,
    IF_MODIFIED_SINCE,
    TIMEOUT,
    OPTIONS
};

static const struct {
    const char *name;
    bool required;
} KNOWN[OPTIONS] = {
    [FEED] = {"--feed", true},
    [URL] = {"--url", true},
    [LATITUDE] = {"--latitude", true},
    [LONGITUDE] = {"--longitude", true},
    [ELEVATION] = {"--elevation", true},
    [USER_AGENT] = {"--user-agent", true},
    [IF_MODIFIED_SINCE] = {"--if-modified-since", false},
    [TIMEOUT] = {"--timeout", false},
};

struct order {
    const char *texts[OPTIONS]; /* "" when not given */
    struct sun_site site;
    long timeout_s;
    char url[1024];
};

static int find_option(const char *name)
{
    for (int i = 0; i < OPTIONS; i++)
        if (strcmp(name, KNOWN[i].name) == 0)
            return i;
    return -1;
}

static int read_options(int argc, char *argv[], struct order *order, struct error *error)
{
    for (int i = 0; i < OPTIONS; i++)
        order->texts[i] = "";
    for (int i = 1; i < argc; i += 2) {
        int which = find_option(argv[i]);
        if (which < 0)
            return error_set(error, "'%s' is not an option", argv[i]);
        if (i + 1 >= argc)
            return error_set(error, "%s needs a value", argv[i]);
        if (order->texts[which][0])
            return error_set(error, "%s is given twice", argv[i]);
        order->texts[which] = argv[i + 1];
    }
    for (int i = 0; i < OPTIONS; i++)
        if (KNOWN[i].required && !order->texts[i][0])
            return error_set(error, "%s is missing", KNOWN[i].name);
    return 0;
}

static int read_number(const struct order *order, enum option which, double low, double high,
                       double *out, struct error *error)
{
    const char *text = order->texts[which];
    if (number_parse(text, strlen(text), out) && *out >= low && *out <= high)
        return 0;
    return error_set(error, "%s: given '%s', accepted is a number from %g to %g", KNOWN[which].name,
                     text, low, high);
}

/* Header lines are made of these texts. */
static int check_plain(const struct order *order, enum option which, struct error *error)
{
    const char *text = order->texts[which];
    for (const char *c = text; *c; c++)
        if (*c < ' ' || *c > '~')
            return error_set(error, "%s: accepted is printable ASCII", KNOWN[which].name);
    if (strlen(text) > 400)
        return error_set(error, "%s: accepted are at most 400 characters", KNOWN[which].name);
    return 0;
}

/* The service answers 403 to more than 4 decimals, and a cache only knows the very same text. */
static double rounded(double value, double per_unit)
{
    return round(value * per_unit) / per_unit + 0.0; /* + 0: no negative zero */
}

static int read_order(int argc, char *argv[], struct order *order, struct error *error)
{
    double timeout_s = FETCH_TIMEOUT_S;
    struct sun_site *site = &order->site;
    if (read_options(argc, argv, order, error) != 0 ||
        read_number(order, LATITUDE, -90, 90, &site->latitude_deg, error) != 0 ||
        read_number(order, LONGITUDE, -180, 180, &site->longitude_deg, error) != 0 ||
        read_number(order, ELEVATION, -450, 6000, &site->elevation_m, error) != 0 ||
        check_plain(order, USER_AGENT, error) != 0 ||
        check_plain(order, IF_MODIFIED_SINCE, error) != 0)
        return -1;
    if (order->texts[TIMEOUT][0] &&
        read_number(order, TIMEOUT, 1, FETCH_TIMEOUT_S, &timeout_s, error) != 0)
        return -1;
    order->timeout_s = (long)timeout_s;
    if (strcmp(order->texts[FEED], "met") != 0)
        return error_set(error, "--feed: given '%s', accepted is met", order->texts[FEED]);
    if (strlen(order->texts[USER_AGENT]) < 8) /* the service bans the nameless */
        return error_set(error, "--user-agent: accepted is a program's name and a contact");
    if (strlen(order->texts[URL]) > sizeof order->url - 100)
        return error_set(error, "--url: accepted are at most %zu characters",
                         sizeof order->url - 100);
    if (fetch_check_url(order->texts[URL], error) != 0)
        return -1;
    snprintf(order->url, sizeof order->url, "%s?lat=%.4f&lon=%.4f&altitude=%.0f", order->texts[URL],
             rounded(site->latitude_deg, 1e4), rounded(site->longitude_deg, 1e4),
             rounded(site->elevation_m, 1));
    return 0;
}

/* --- the answer --------------------------------------------------------------------------- */

enum outcome { DOCUMENT, UNCHANGED, REFUSED, STATUS, FAILED };

static const char *const OUTCOMES[] = {"document", "unchanged", "refused", "status", "failed"};

/* What a problem document says of itself, "" when it says nothing. */
static void problem_words(const struct fetch_answer *answer, char *out, size_t size)
{
    static const char *const NAMES[] = {"title", "detail", "reason", "message"};
    json_t *root = answer->body ? json_loadb(answer->body, answer->length, 0, NULL) : NULL;
    out[0] = '\0';
    for (size_t i = 0; i < sizeof NAMES / sizeof *NAMES && !out[0]; i++) {
        const char *text = json_string_value(json_object_get(root, NAMES[i]));
        if (text)
            snprintf(out, size, ": %.100s", text);
    }
    json_decref(root);
    error_make_plain(out);
}

/* A portal or proxy answers 200 with a page of its own. */
static bool is_page(const struct fetch_answer *answer)
{
    const char *body = answer->body ? answer->body : "";
    return strncasecmp(answer->content_type, "text/html", 9) == 0 ||
           body[strspn(body, " \t\r\n")] == '<';
}

static enum outcome read_document(const struct order *order, const struct fetch_answer *answer,
                                  struct feed_met *met, struct error *error)
{
    if (is_page(answer)) {
        error_set(error,
                  "a web page came instead of a forecast (a sign-in page or proxy between?)");
        return REFUSED;
    }
    const char *body = answer->body ? answer->body : "";
    return feed_met_read(body, answer->length, &order->site, met, error) == 0 ? DOCUMENT : REFUSED;
}

static enum outcome judge(const struct order *order, const struct fetch_answer *answer,
                          struct feed_met *met, struct error *error)
{
    char problem[128];
    if (answer->status == 200 || answer->status == 203)
        return read_document(order, answer, met, error);
    if (answer->status == 304)
        return UNCHANGED;
    problem_words(answer, problem, sizeof problem);
    error_set(error, "the service answered %ld%s", answer->status, problem);
    return STATUS;
}

/* --- handing back ------------------------------------------------------------------------- */

static void set_known(json_t *object, const char *name, double value)
{
    if (isfinite(value))
        json_object_set_new(object, name, json_real(value));
}

static json_t *hour_json(const struct weather_raw *hour)
{
    json_t *object = json_object();
    json_object_set_new(object, "start_s", json_integer(hour->start_s));
    set_known(object, "temperature_c", hour->temperature_c);
    set_known(object, "dewpoint_c", hour->dewpoint_c);
    set_known(object, "humidity_pct", hour->humidity_pct);
    set_known(object, "wind_10m_m_s", hour->wind_10m_m_s);
    set_known(object, "cloud_pct", hour->cloud_pct);
    set_known(object, "cloud_low_pct", hour->cloud_low_pct);
    set_known(object, "cloud_mid_pct", hour->cloud_mid_pct);
    set_known(object, "cloud_high_pct", hour->cloud_high_pct);
    set_known(object, "rain_mm", hour->rain_mm);
    set_known(object, "rain_probability", hour->rain_probability);
    return object;
}

static json_t *hours_json(const struct feed_met *met)
{
    json_t *array = json_array();
    for (size_t i = 0; i < met->hour_count; i++)
        json_array_append_new(array, hour_json(&met->hours[i]));
    return array;
}

/* 0, or -1 when it could not be written. A value that could not be allocated is left out, and the
 * daemon refuses what is not complete. */
static int hand_back(enum outcome outcome, const struct fetch_answer *answer,
                     const struct feed_met *met, const struct error *error)
{
    char notes[512];
    json_t *root = json_object();
    feed_met_describe(met, notes, sizeof notes);
    json_object_set_new(root, "outcome", json_string(OUTCOMES[outcome]));
    json_object_set_new(root, "http_status", json_integer(answer->status));
    json_object_set_new(root, "reached", json_boolean(answer->reached));
    json_object_set_new(root, "last_modified", json_string(answer->last_modified));
    json_object_set_new(root, "expires_s", json_integer(answer->expires_s));
    json_object_set_new(root, "date_s", json_integer(answer->date_s));
    json_object_set_new(root, "retry_after_s", json_integer(answer->retry_after_s));
    json_object_set_new(root, "issued_s", json_integer(met->issued_s));
    json_object_set_new(root, "notes", json_string(notes));
    json_object_set_new(root, "error", json_string(error->text));
    json_object_set_new(root, "hours", hours_json(met));
    int result = json_dumpf(root, stdout, JSON_COMPACT);
    json_decref(root);
    if (result == 0 && (putchar('\n') == EOF || fflush(stdout) != 0))
        result = -1;
    return result;
}

static enum outcome run(const struct order *order, struct fetch_answer *answer,
                        struct feed_met *met, struct error *error)
{
    struct fetch_request request = {
        .url = order->url,
        .user_agent = order->texts[USER_AGENT],
        .if_modified_since = order->texts[IF_MODIFIED_SINCE],
        .timeout_s = order->timeout_s,
    };
    if (fetch_get(&request, answer, error) != 0)
        return FAILED;
    return judge(order, answer, met, error);
}

/* It needs no core file, no privilege and little time. */
static void limit_itself(void)
{
    const struct rlimit no_core = {0, 0};
    const struct rlimit cpu_s = {30, 35};
    setrlimit(RLIMIT_CORE, &no_core);
    setrlimit(RLIMIT_CPU, &cpu_s);
    const struct sigaction ignore = {.sa_handler = SIG_IGN};
    prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0);
    sigaction(SIGPIPE, &ignore, NULL);
}

int main(int argc, char *argv[])
{
    struct order order = {.timeout_s = 0};
    struct error error = {""};
    struct fetch_answer answer = {.status = 0};
    struct feed_met met = {.hour_count = 0};
    if (argc == 2 && strcmp(argv[1], "--version") == 0)
        return puts("perchd-fetch " PERCHD_VERSION) == EOF ? EXIT_FAILED : EXIT_DONE;
    if (argc == 2 && strcmp(argv[1], "--help") == 0)
        return fputs(USAGE, stdout) == EOF ? EXIT_FAILED : EXIT_DONE;
    if (read_order(argc, argv, &order, &error) != 0) {
        fprintf(stderr, "perchd-fetch: %s\n%s", error.text, USAGE);
        return EXIT_USAGE;
    }
    limit_itself();
    curl_global_init(CURL_GLOBAL_DEFAULT);
    enum outcome outcome = run(&order, &answer, &met, &error);
    int result = hand_back(outcome, &answer, &met, &error);
    fetch_answer_free(&answer);
    feed_met_free(&met);
    curl_global_cleanup();
    if (result != 0) {
        fputs("perchd-fetch: standard output cannot be written\n", stderr);
        return EXIT_FAILED;
    }
    return outcome == DOCUMENT || outcome == UNCHANGED ? EXIT_DONE : EXIT_FAILED;
}
