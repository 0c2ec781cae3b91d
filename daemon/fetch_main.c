/* SPDX-License-Identifier: GPL-3.0-or-later */
/* perchd-fetch: asks one weather service, checks and decodes its answer, hands back one JSON object
 * on standard output. It knows no database and lives for seconds; the one secret it may read, a
 * service's key, goes nowhere but into that service's URL. docs/feed.md describes the object.
 */
#include <curl/curl.h>
#include <jansson.h>
#include <math.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <time.h>

#include "adapter.h"
#include "fetch.h"
#include "number.h"

static const char USAGE[] =
    "usage: perchd-fetch --feed NAME --url BASE --latitude X --longitude Y --elevation Z\n"
    "           --user-agent TEXT [--if-modified-since TEXT] [--address TEXT]\n"
    "           [--key-file PATH] [--now SECONDS] [--since SECONDS] [--timeout SECONDS]\n"
    "Asks one weather service and writes one JSON object. perchd runs it; docs/feed.md has the "
    "rest.\n";

static const double LATEST_S = 253402300799; /* the end of the year 9999 */

/* --- the command line --------------------------------------------------------------------- */

enum option {
    FEED,
    URL,
    LATITUDE,
    LONGITUDE,
    ELEVATION,
    USER_AGENT,
    IF_MODIFIED_SINCE,
    ADDRESS,
    KEY_FILE,
    NOW,
    SINCE,
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
    [ADDRESS] = {"--address", false},
    [KEY_FILE] = {"--key-file", false},
    [NOW] = {"--now", false},
    [SINCE] = {"--since", false},
    [TIMEOUT] = {"--timeout", false},
};

struct errand {
    const char *texts[OPTIONS]; /* "" when not given */
    const struct adapter *adapter;
    struct adapter_order order;
    char base[512];
    char key[ADAPTER_KEY_SIZE];
    int64_t end_ms; /* of everything */
};

static int find_option(const char *name)
{
    for (int i = 0; i < OPTIONS; i++)
        if (strcmp(name, KNOWN[i].name) == 0)
            return i;
    return -1;
}

static int read_options(int argc, char *argv[], struct errand *errand, struct error *error)
{
    for (int i = 0; i < OPTIONS; i++)
        errand->texts[i] = "";
    for (int i = 1; i < argc; i += 2) {
        int which = find_option(argv[i]);
        if (which < 0)
            return error_set(error, "'%s' is not an option", argv[i]);
        if (i + 1 >= argc)
            return error_set(error, "%s needs a value", argv[i]);
        if (errand->texts[which][0])
            return error_set(error, "%s is given twice", argv[i]);
        errand->texts[which] = argv[i + 1];
    }
    for (int i = 0; i < OPTIONS; i++)
        if (KNOWN[i].required && !errand->texts[i][0])
            return error_set(error, "%s is missing", KNOWN[i].name);
    return 0;
}

static int read_number(const struct errand *errand, enum option which, double low, double high,
                       double *out, struct error *error)
{
    const char *text = errand->texts[which];
    if (number_parse(text, strlen(text), out) && *out >= low && *out <= high)
        return 0;
    return error_set(error, "%s: given '%s', accepted is a number from %g to %g", KNOWN[which].name,
                     text, low, high);
}

/* Header lines are made of these texts. */
static int check_plain(const struct errand *errand, enum option which, struct error *error)
{
    const char *text = errand->texts[which];
    for (const char *c = text; *c; c++)
        if (*c < ' ' || *c > '~')
            return error_set(error, "%s: accepted is printable ASCII", KNOWN[which].name);
    if (strlen(text) > 400)
        return error_set(error, "%s: accepted are at most 400 characters", KNOWN[which].name);
    return 0;
}

static int read_adapter(struct errand *errand, struct error *error)
{
    const char *name = errand->texts[FEED];
    char accepted[256] = "";
    errand->adapter = adapter_find(name);
    if (errand->adapter)
        return 0;
    for (size_t i = 0; adapter_at(i); i++)
        snprintf(accepted + strlen(accepted), sizeof accepted - strlen(accepted), "%s%s",
                 i ? ", " : "", adapter_at(i)->name);
    return error_set(error, "--feed: given '%.40s', accepted is one of %s", name, accepted);
}

static int read_base(struct errand *errand, struct error *error)
{
    const char *url = errand->texts[URL];
    size_t length = strlen(url);
    if (length >= sizeof errand->base)
        return error_set(error, "--url: accepted are at most %zu characters",
                         sizeof errand->base - 1);
    if (fetch_check_url(url, error) != 0)
        return -1;
    while (length > 0 && url[length - 1] == '/')
        length--;
    snprintf(errand->base, sizeof errand->base, "%.*s", (int)length, url);
    return 0;
}

/* The first line of a file that not everybody may read. The key itself is in no message. */
static int read_key(struct errand *errand, struct error *error)
{
    const char *path = errand->texts[KEY_FILE];
    struct stat about;
    if (!path[0])
        return 0;
    if (!errand->adapter->takes_key)
        return error_set(error, "--key-file: the feed %s takes no key", errand->adapter->name);
    FILE *f = fopen(path, "re");
    if (!f)
        return error_set(error, "--key-file: '%s' cannot be read", path);
    bool secret = fstat(fileno(f), &about) == 0 && (about.st_mode & 07) == 0;
    bool read = fgets(errand->key, sizeof errand->key, f) != NULL;
    fclose(f);
    size_t length = read ? strcspn(errand->key, " \t\r\n") : 0;
    errand->key[length] = '\0';
    if (!secret)
        return error_set(error,
                         "--key-file: '%s' can be read by everybody; accepted is a file that "
                         "others cannot read (mode 640 or 600)",
                         path);
    for (size_t i = 0; i < length; i++)
        if (!strchr("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-._~",
                    errand->key[i]))
            length = 0;
    if (length < 4 || length > sizeof errand->key - 2)
        return error_set(error,
                         "--key-file: '%s' has no key on its first line; accepted are 4 to "
                         "%zu letters, digits, '-', '.', '_', '~'",
                         path, sizeof errand->key - 2);
    return 0;
}

static int read_errand(int argc, char *argv[], struct errand *errand, struct error *error)
{
    double timeout_s = FETCH_TIMEOUT_S;
    double now_s = (double)time(NULL);
    double since_s = 0;
    struct adapter_order *order = &errand->order;
    struct sun_site *site = &order->site;
    if (read_options(argc, argv, errand, error) != 0 || read_adapter(errand, error) != 0 ||
        read_number(errand, LATITUDE, -90, 90, &site->latitude_deg, error) != 0 ||
        read_number(errand, LONGITUDE, -180, 180, &site->longitude_deg, error) != 0 ||
        read_number(errand, ELEVATION, -450, 6000, &site->elevation_m, error) != 0 ||
        check_plain(errand, USER_AGENT, error) != 0 ||
        check_plain(errand, IF_MODIFIED_SINCE, error) != 0 ||
        check_plain(errand, ADDRESS, error) != 0)
        return -1;
    if (errand->texts[TIMEOUT][0] &&
        read_number(errand, TIMEOUT, 1, FETCH_TIMEOUT_S, &timeout_s, error) != 0)
        return -1;
    if (errand->texts[NOW][0] && read_number(errand, NOW, 0, LATEST_S, &now_s, error) != 0)
        return -1;
    if (errand->texts[SINCE][0] && read_number(errand, SINCE, 0, LATEST_S, &since_s, error) != 0)
        return -1;
    if (strlen(errand->texts[USER_AGENT]) < 8) /* services ban the nameless */
        return error_set(error, "--user-agent: accepted is a program's name and a contact");
    if (read_base(errand, error) != 0 || read_key(errand, error) != 0)
        return -1;
    errand->end_ms = fetch_monotonic_ms() + (int64_t)(timeout_s * 1000);
    order->now_s = (int64_t)now_s;
    order->since_s = (int64_t)since_s;
    order->base = errand->base;
    order->accept = errand->adapter->accept;
    order->if_modified_since = errand->texts[IF_MODIFIED_SINCE];
    order->address = errand->texts[ADDRESS];
    order->key = errand->key;
    return 0;
}

/* --- the way out -------------------------------------------------------------------------- */

static int get(void *context, const char *url, const char *accept, const char *if_modified_since,
               struct adapter_answer *answer, struct error *error)
{
    const struct errand *errand = context;
    struct fetch_request request = {
        .url = url,
        .user_agent = errand->texts[USER_AGENT],
        .accept = accept,
        .if_modified_since = if_modified_since,
        .timeout_ms = errand->end_ms - fetch_monotonic_ms(),
    };
    return fetch_get(&request, answer, error);
}

/* --- handing back ------------------------------------------------------------------------- */

/* A service may quote what it was asked with. */
static void blot_out(char *text, const char *key)
{
    size_t length = strlen(key);
    for (char *at = length ? strstr(text, key) : NULL; at; at = strstr(at, key))
        memset(at, '*', length);
}

static json_t *hour_json(struct weather_raw *hour)
{
    json_t *object = json_object();
    json_object_set_new(object, "start_s", json_integer(hour->start_s));
    json_object_set_new(object, "kind", json_integer((int)hour->kind));
    for (int q = 0; q < FEED_QUANTITIES; q++) {
        double value = *feed_quantity_of(hour, (enum feed_quantity)q);
        if (isfinite(value))
            json_object_set_new(object, feed_quantity_name((enum feed_quantity)q),
                                json_real(value));
    }
    return object;
}

static json_t *hours_json(const struct feed_hours *hours)
{
    json_t *array = json_array();
    for (size_t i = 0; i < hours->hour_count; i++)
        json_array_append_new(array, hour_json(&hours->hours[i]));
    return array;
}

static json_t *normals_json(const struct adapter_harvest *harvest)
{
    json_t *array = json_array();
    for (size_t m = 0; harvest->has_normals && m < 12; m++) {
        const struct weather_normal *n = &harvest->normals[m];
        json_array_append_new(array, json_pack("[f, f, f, f, f, f, f]", n->temperature_max_c,
                                               n->temperature_min_c, n->dewpoint_c, n->wind_2m_m_s,
                                               n->clear_ratio, n->rain_mm, n->wet_days));
    }
    return array;
}

/* 0, or -1 when it could not be written. A value that could not be allocated is left out, and the
 * daemon refuses what is not complete. */
static int hand_back(const struct errand *errand, enum adapter_outcome outcome,
                     struct adapter_harvest *harvest, struct error *error)
{
    char notes[512];
    struct adapter_answer *answer = &harvest->answer;
    json_t *root = json_object();
    feed_hours_describe(&harvest->hours, notes, sizeof notes);
    char *texts[] = {notes, error->text, answer->last_modified, harvest->address};
    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++)
        blot_out(texts[i], errand->key);
    json_object_set_new(root, "outcome", json_string(adapter_outcome_name(outcome)));
    json_object_set_new(root, "http_status", json_integer(answer->status));
    json_object_set_new(root, "reached", json_boolean(answer->reached));
    json_object_set_new(root, "last_modified", json_string(answer->last_modified));
    json_object_set_new(root, "expires_s", json_integer(answer->expires_s));
    json_object_set_new(root, "date_s", json_integer(answer->date_s));
    json_object_set_new(root, "retry_after_s", json_integer(answer->retry_after_s));
    json_object_set_new(root, "wait_s", json_integer(harvest->wait_s));
    json_object_set_new(root, "address", json_string(harvest->address));
    json_object_set_new(root, "issued_s", json_integer(harvest->hours.issued_s));
    json_object_set_new(root, "notes", json_string(notes));
    json_object_set_new(root, "error", json_string(error->text));
    json_object_set_new(root, "hours", hours_json(&harvest->hours));
    json_object_set_new(root, "normals", normals_json(harvest));
    int result = json_dumpf(root, stdout, JSON_COMPACT);
    json_decref(root);
    if (result == 0 && (putchar('\n') == EOF || fflush(stdout) != 0))
        result = -1;
    return result;
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
    struct errand errand = {.key = ""};
    struct error error = {""};
    struct adapter_harvest harvest = {.wait_s = 0};
    if (argc == 2 && strcmp(argv[1], "--version") == 0)
        return puts("perchd-fetch " PERCHD_VERSION) == EOF ? EXIT_FAILED : EXIT_DONE;
    if (argc == 2 && strcmp(argv[1], "--help") == 0)
        return fputs(USAGE, stdout) == EOF ? EXIT_FAILED : EXIT_DONE;
    if (read_errand(argc, argv, &errand, &error) != 0) {
        fprintf(stderr, "perchd-fetch: %s\n%s", error.text, USAGE);
        return EXIT_USAGE;
    }
    limit_itself();
    curl_global_init(CURL_GLOBAL_DEFAULT);
    errand.order.get = get;
    errand.order.context = &errand;
    enum adapter_outcome outcome = errand.adapter->fetch(&errand.order, &harvest, &error);
    int result = hand_back(&errand, outcome, &harvest, &error);
    adapter_harvest_free(&harvest);
    curl_global_cleanup();
    if (result != 0) {
        fputs("perchd-fetch: standard output cannot be written\n", stderr);
        return EXIT_FAILED;
    }
    return outcome == ADAPTER_DOCUMENT || outcome == ADAPTER_UNCHANGED ? EXIT_DONE : EXIT_FAILED;
}
