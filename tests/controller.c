/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A plain valve controller, as an example: asks for every zone whether its valve should be open,
 * opens and closes it, and reports each run when it is over, with the pulses that it had. What
 * could not be reported is kept and sent later; past good_until, or when nobody answers, valves are
 * closed (a real one would run its stand-by programme). usage: controller URL TOKEN
 * UNTIL-EPOCH-SECONDS
 */
#include <curl/curl.h>
#include <jansson.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

enum { ZONES_MAX = 64, REPORTS_MAX = 256, ASK_S = 300 };

struct valve {
    char zone[48];
    char run[96]; /* underway, "" none; between its pulses the valve is closed */
    bool open;
    int pulses;
    time_t began_s, closed_s;
};

struct controller {
    CURL *curl;
    const char *url;
    struct curl_slist *fields;
    struct valve valves[ZONES_MAX];
    size_t valve_count;
    char *reports[REPORTS_MAX]; /* not taken yet */
    size_t report_count, taken;
};

struct text {
    char *bytes;
    size_t length;
};

static size_t take(char *bytes, size_t size, size_t count, void *context)
{
    struct text *text = context;
    char *larger = realloc(text->bytes, text->length + size * count + 1);
    if (!larger)
        return 0;
    memcpy(larger + text->length, bytes, size * count);
    text->bytes = larger;
    text->length += size * count;
    larger[text->length] = '\0';
    return size * count;
}

/* The answer's document, NULL when there is none; *status 0 when nobody answered. */
static json_t *ask(struct controller *c, const char *path, const char *body, long *status)
{
    struct text text = {NULL, 0};
    char url[512];
    snprintf(url, sizeof url, "%s%s", c->url, path);
    curl_easy_setopt(c->curl, CURLOPT_URL, url);
    curl_easy_setopt(c->curl, CURLOPT_HTTPHEADER, c->fields);
    curl_easy_setopt(c->curl, CURLOPT_WRITEFUNCTION, take);
    curl_easy_setopt(c->curl, CURLOPT_WRITEDATA, &text);
    curl_easy_setopt(c->curl, CURLOPT_HTTPGET, 1L);
    if (body)
        curl_easy_setopt(c->curl, CURLOPT_COPYPOSTFIELDS, body);
    *status = 0;
    if (curl_easy_perform(c->curl) == CURLE_OK)
        curl_easy_getinfo(c->curl, CURLINFO_RESPONSE_CODE, status);
    json_t *document = text.bytes ? json_loads(text.bytes, 0, NULL) : NULL;
    free(text.bytes);
    return document;
}

/* 201 and 200 (it had come before) are done; so is what will never be taken. */
static void send_reports(struct controller *c)
{
    size_t kept = 0;
    for (size_t i = 0; i < c->report_count; i++) {
        long status = 0;
        json_decref(ask(c, "api/v1/runs", c->reports[i], &status));
        if (status == 0 || status == 429 || status >= 500) {
            c->reports[kept++] = c->reports[i];
            continue;
        }
        if (status != 200 && status != 201)
            fprintf(stderr, "report refused with %ld: %s\n", status, c->reports[i]);
        c->taken += status == 201;
        free(c->reports[i]);
    }
    c->report_count = kept;
}

/* The run is over. Its key is made of what never changes, so that sending twice is safe. */
static void note_report(struct controller *c, struct valve *valve)
{
    char start[32];
    char end[32];
    char key[80];
    struct tm tm;
    strftime(start, sizeof start, "%Y-%m-%dT%H:%M:%SZ", gmtime_r(&valve->began_s, &tm));
    strftime(end, sizeof end, "%Y-%m-%dT%H:%M:%SZ", gmtime_r(&valve->closed_s, &tm));
    snprintf(key, sizeof key, "%.29s-%ld", valve->zone, (long)valve->began_s);
    json_t *report =
        json_pack("{s:s, s:s, s:s, s:s, s:i, s:s}", "key", key, "zone", valve->zone, "start", start,
                  "end", end, "pulses", valve->pulses, "run", valve->run);
    char *text = json_dumps(report, JSON_COMPACT);
    json_decref(report);
    printf("%s..%s %d x %s\n", start, end + 11, valve->pulses, valve->run);
    if (text && c->report_count < REPORTS_MAX)
        c->reports[c->report_count++] = text;
    valve->run[0] = '\0';
    valve->pulses = 0;
}

/* run: underway or next as the plan has it. */
static void set_valve(struct controller *c, struct valve *valve, bool open, const char *run,
                      time_t now_s)
{
    bool another = !run || strcmp(run, valve->run) != 0;
    if (valve->open && (!open || another))
        valve->closed_s = now_s;
    if (valve->run[0] && another)
        note_report(c, valve);
    if (open && (!valve->open || another)) {
        if (valve->pulses++ == 0)
            valve->began_s = now_s;
        snprintf(valve->run, sizeof valve->run, "%s", run);
    }
    valve->open = open;
}

static struct valve *valve_of(struct controller *c, const char *zone)
{
    for (size_t i = 0; i < c->valve_count; i++)
        if (strcmp(c->valves[i].zone, zone) == 0)
            return &c->valves[i];
    if (c->valve_count == ZONES_MAX)
        return NULL;
    struct valve *valve = &c->valves[c->valve_count++];
    snprintf(valve->zone, sizeof valve->zone, "%s", zone);
    return valve;
}

/* Obeys; returns when to ask again. */
static time_t obey(struct controller *c, const json_t *due, time_t now_s, time_t again_s)
{
    const char *zone = json_string_value(json_object_get(due, "zone"));
    struct valve *valve = zone ? valve_of(c, zone) : NULL;
    json_int_t ask_s = json_integer_value(json_object_get(due, "ask_again_at_s"));
    const char *run = json_string_value(json_object_get(due, "run"));
    bool good = now_s < json_integer_value(json_object_get(due, "good_until_s"));
    if (valve)
        set_valve(c, valve, good && run && json_is_true(json_object_get(due, "open")), run, now_s);
    return ask_s > now_s && ask_s < again_s ? (time_t)ask_s : again_s;
}

static time_t poll_once(struct controller *c, time_t now_s)
{
    time_t again_s = now_s + ASK_S;
    long status = 0;
    json_t *document = ask(c, "api/v1/due", NULL, &status);
    const json_t *items = json_object_get(document, "items");
    if (status != 200)
        for (size_t i = 0; i < c->valve_count; i++)
            set_valve(c, &c->valves[i], false, NULL, now_s);
    for (size_t i = 0; status == 200 && i < json_array_size(items); i++)
        again_s = obey(c, json_array_get(items, i), now_s, again_s);
    json_decref(document);
    send_reports(c);
    return again_s;
}

int main(int argc, char *argv[])
{
    if (argc != 4) {
        fprintf(stderr, "usage: controller URL TOKEN UNTIL\n");
        return 2;
    }
    static struct controller c;
    char field[256];
    c.url = argv[1];
    snprintf(field, sizeof field, "Authorization: Bearer %s", argv[2]);
    c.fields = curl_slist_append(NULL, field);
    c.fields = curl_slist_append(c.fields, "Content-Type: application/json");
    c.curl = curl_easy_init();
    long until_s = strtol(argv[3], NULL, 10);
    while (time(NULL) < until_s) {
        time_t again_s = poll_once(&c, time(NULL));
        if (again_s > time(NULL))
            sleep((unsigned)(again_s - time(NULL)));
    }
    for (size_t i = 0; i < c.valve_count; i++)
        set_valve(&c, &c.valves[i], false, NULL, time(NULL));
    send_reports(&c);
    printf("%zu reports taken, %zu not\n", c.taken, c.report_count);
    curl_slist_free_all(c.fields);
    curl_easy_cleanup(c.curl);
    return c.report_count == 0 ? 0 : 1;
}
