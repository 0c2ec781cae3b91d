/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Odd answers of HTTP to each service's last request, through the real perchd-fetch: the same
 * outcomes whatever the service. Outcomes of the table: A taken, R not taken and the last good
 * document stays. */
#include "check.h"

#include <jansson.h>
#include <stdbool.h>
#include <stdio.h>

#include "met_document.h"
#include "nws_document.h"
#include "power_document.h"
#include "standin.h"

static const int64_t SIX_O_CLOCK = 1935640800; /* 2031-05-04T06:00:00Z */
static const struct sun_site SITE = {33.9, -84.1, 290};

#define JSON "Content-Type: application/json\r\n"
#define GZIP JSON "Content-Encoding: gzip\r\n"

/* A service with what it answers before the document, and the document. */
struct service {
    const char *feed;
    const char *before[2];
    char *document;
    size_t length;
};

static const char OPEN_METEO[] =
    "{\"latitude\":33.9,\"longitude\":-84.1,\"hourly_units\":{\"time\":\"unixtime\","
    "\"temperature_2m\":\"\u00b0C\"},\"hourly\":{\"time\":[1935640800,1935644400,1935648000],"
    "\"temperature_2m\":[11.2,12.5,13.0]}}";

static struct service service_of(const char *feed)
{
    struct service service = {.feed = feed};
    struct met_document met = met_document_new(&SITE, SIX_O_CLOCK - 2880, SIX_O_CLOCK);
    if (strcmp(feed, "met") == 0) {
        service.document = met_document_write(&met, &service.length);
    } else if (strcmp(feed, "power") == 0) {
        service.document = power_document_write(&SITE, 2021, 10, &service.length);
    } else if (strcmp(feed, "open-meteo") == 0) {
        service.document = strdup(OPEN_METEO);
    } else {
        bool stations = strcmp(feed, "nws-stations") == 0;
        service.before[0] = NWS_POINT;
        service.before[1] = stations ? NWS_STATIONS : NULL;
        service.document = strdup(stations ? NWS_OBSERVATIONS : NWS_GRID);
    }
    assert_non_null(service.document);
    service.length = strlen(service.document);
    return service;
}

/* --- what is sent instead ----------------------------------------------------------------- */

enum body {
    GOOD,
    GOOD_AND_TEXT,
    HALF,
    PACKED,
    PACKED_CUT,
    PACKED_DAMAGED, /* its checksum */
    PACKED_TWICE,
    BOMB,  /* 16 MiB of zeros */
    LARGE, /* 5 MiB */
    WORDS, /* what the row says */
    RAW,   /* a whole answer, after which the connection is closed */
    RAW_RESET,
    RAW_DRIP,
};

struct row {
    const char *name;
    int status;
    const char *headers;
    enum body body;
    const char *words;
    char outcome; /* A or R */
    const char *said;
};

static const struct row ROWS[] = {
    {"the document", 200, JSON, GOOD, "", 'A', "document"},
    {"labelled text/plain", 200, "Content-Type: text/plain\r\n", GOOD, "", 'A', "document"},
    {"labelled geo+json", 200, "Content-Type: application/geo+json; charset=utf-8\r\n", GOOD, "",
     'A', "document"},
    {"not labelled", 200, "", GOOD, "", 'A', "document"},
    {"203", 203, JSON, GOOD, "", 'A', "document"},
    {"gzip", 200, GZIP, PACKED, "", 'A', "document"},
    {"empty", 200, JSON, WORDS, "", 'R', "refused"},
    {"null", 200, JSON, WORDS, "null", 'R', "refused"},
    {"a sign-in page", 200, "Content-Type: text/html\r\n", WORDS, "<html>Sign in</html>", 'R',
     "refused"},
    {"a page under a false label", 200, JSON, WORDS, "\n<html>nginx</html>", 'R', "refused"},
    {"the document labelled as a page", 200, "Content-Type: text/html\r\n", GOOD, "", 'R',
     "refused"},
    {"Access Denied", 200, "", WORDS, "Access Denied", 'R', "refused"},
    {"half the document", 200, JSON, HALF, "", 'R', "refused"},
    {"text behind it", 200, JSON, GOOD_AND_TEXT, "", 'R', "refused"},
    {"204", 204, "", WORDS, "", 'R', "status"},
    {"206", 206, JSON, HALF, "", 'R', "status"},
    {"304 without being asked for", 304, "", WORDS, "", 'R', "unchanged"},
    {"400", 400, "", WORDS, "{\"reason\":\"no\"}", 'R', "status"},
    {"403 with a page", 403, "Content-Type: text/html\r\n", WORDS, "<html>", 'R', "status"},
    {"404", 404, "", WORDS, "", 'R', "status"},
    {"410", 410, "", WORDS, "", 'R', "status"},
    {"422", 422, "", WORDS, "", 'R', "status"},
    {"429", 429, "Retry-After: 60\r\n", WORDS, "", 'R', "status"},
    {"500", 500, "", WORDS, "", 'R', "status"},
    {"502 with a page", 502, "Content-Type: text/html\r\n", WORDS, "<html>", 'R', "status"},
    {"503 with the document", 503, JSON, GOOD, "", 'R', "status"},
    {"504", 504, "", WORDS, "", 'R', "status"},
    {"301 in a circle", 301, "Location: /loop\r\n", WORDS, "", 'R', "failed"},
    {"301 to http elsewhere", 301, "Location: http://192.0.2.1/x\r\n", WORDS, "", 'R', "failed"},
    {"301 without a way on", 301, "", WORDS, "", 'R', "status"},
    {"gzip cut", 200, GZIP, PACKED_CUT, "", 'R', "refused"},
    {"gzip damaged", 200, GZIP, PACKED_DAMAGED, "", 'R', "failed"},
    {"gzip twice", 200, GZIP, PACKED_TWICE, "", 'R', "refused"},
    {"plain under a gzip label", 200, GZIP, GOOD, "", 'R', "failed"},
    {"a bomb", 200, GZIP, BOMB, "", 'R', "failed"},
    {"5 MiB", 200, JSON, LARGE, "", 'R', "failed"},
    {"shorter than announced", 0, "", RAW, "HTTP/1.1 200 OK\r\nContent-Length: 99\r\n\r\n{", 'R',
     "failed"},
    {"longer than announced", 0, "", RAW, "HTTP/1.1 200 OK\r\nContent-Length: 2\r\n\r\n{\"a\":1}",
     'R', "refused"},
    {"a chunk cut", 0, "", RAW, "HTTP/1.1 200 OK\r\nTransfer-Encoding: chunked\r\n\r\n20\r\n{", 'R',
     "failed"},
    {"no HTTP", 0, "", RAW, "hello\r\n\r\n", 'R', "failed"},
    {"reset", 0, "", RAW_RESET, "HTTP/1.1 200 OK\r\nContent-Length: 99\r\n\r\n{", 'R', "failed"},
    {"a byte at a time", 0, "", RAW_DRIP,
     "HTTP/1.1 200 OK\r\nContent-Length: 99\r\n\r\n{\"type\":\"Feature\"", 'R', "failed"},
};

static void answer_packed(struct standin *standin, const struct row *row,
                          const struct service *service)
{
    size_t length = 0;
    size_t twice_length = 0;
    unsigned char *gzip = standin_gzip(service->document, service->length, &length);
    void *twice = standin_gzip(gzip, length, &twice_length);
    if (row->body == PACKED_DAMAGED)
        gzip[length - 6] ^= 0x55;
    if (row->body == PACKED_CUT)
        length /= 2;
    if (row->body == PACKED_TWICE)
        standin_answer(standin, row->status, row->headers, twice, twice_length);
    else
        standin_answer(standin, row->status, row->headers, gzip, length);
    free(twice);
    free(gzip);
}

static void answer_large(struct standin *standin, const struct row *row)
{
    size_t length = (row->body == BOMB ? 16 : 5) * (size_t)1024 * 1024;
    size_t packed = 0;
    char *zeros = calloc(1, length);
    assert_non_null(zeros);
    void *bomb = standin_gzip(zeros, length, &packed);
    standin_answer(standin, row->status, row->headers, row->body == BOMB ? bomb : zeros,
                   row->body == BOMB ? packed : length);
    free(bomb);
    free(zeros);
}

static void answer(struct standin *standin, const struct row *row, const struct service *service)
{
    char *longer = NULL;
    switch (row->body) {
    case GOOD:
        standin_answer(standin, row->status, row->headers, service->document, service->length);
        break;
    case GOOD_AND_TEXT:
        longer = malloc(service->length + 32);
        assert_non_null(longer);
        sprintf(longer, "%sUnexpected error", service->document);
        standin_answer(standin, row->status, row->headers, longer, strlen(longer));
        free(longer);
        break;
    case HALF:
        standin_answer(standin, row->status, row->headers, service->document, service->length / 2);
        break;
    case PACKED:
    case PACKED_CUT:
    case PACKED_DAMAGED:
    case PACKED_TWICE:
        answer_packed(standin, row, service);
        break;
    case BOMB:
    case LARGE:
        answer_large(standin, row);
        break;
    case WORDS:
        standin_answer(standin, row->status, row->headers, row->words, strlen(row->words));
        break;
    case RAW:
        standin_answer_raw(standin, STANDIN_WHOLE, row->words, strlen(row->words));
        break;
    case RAW_RESET:
        standin_answer_raw(standin, STANDIN_RESET, row->words, strlen(row->words));
        break;
    case RAW_DRIP:
        standin_answer_raw(standin, STANDIN_DRIP, row->words, strlen(row->words));
        break;
    }
}

/* --- the runs ----------------------------------------------------------------------------- */

static void run_row(const struct row *row, const struct service *service)
{
    static char out[1 << 20];
    char err[1024];
    char program[512];
    char command[1024];
    struct standin *standin = standin_start();
    for (size_t i = 0; i < 2 && service->before[i]; i++)
        standin_answer(standin, 200, JSON, service->before[i], strlen(service->before[i]));
    answer(standin, row, service);
    snprintf(command, sizeof command,
             "%s --feed %s --url %s --latitude 33.9 --longitude -84.1 --elevation 290 --now %lld "
             "--user-agent 'perchd/0 (grower@nursery.example)'%s",
             check_program("perchd-fetch", program, sizeof program), service->feed,
             standin_url(standin), (long long)(SIX_O_CLOCK + 600),
             row->body == RAW_DRIP ? " --timeout 1" : "");
    int code = check_run(command, out, sizeof out, err, sizeof err);
    json_t *root = json_loads(out, JSON_REJECT_DUPLICATES, NULL);
    const char *said = json_string_value(json_object_get(root, "outcome"));
    if (!said || strcmp(said, row->said) != 0)
        fail_msg("%s, %s: %s: %s%s", service->feed, row->name, said ? said : "(nothing)",
                 json_string_value(json_object_get(root, "error")), err);
    assert_int_equal(code, row->outcome == 'A' || strcmp(said, "unchanged") == 0 ? 0 : 1);
    size_t given = json_array_size(json_object_get(root, "hours")) +
                   json_array_size(json_object_get(root, "normals"));
    if ((given > 0) != (row->outcome == 'A'))
        fail_msg("%s, %s: %zu hours or months", service->feed, row->name, given);
    assert_true(json_is_true(json_object_get(root, "reached")));
    json_decref(root);
    standin_stop(standin);
}

static void run_all(const char *feed)
{
    struct service service = service_of(feed);
    size_t taken = 0;
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        run_row(&ROWS[i], &service);
        taken += ROWS[i].outcome == 'A' ? 1 : 0;
    }
    printf("answers to %s: %zu refused, %zu taken\n", feed, sizeof ROWS / sizeof *ROWS - taken,
           taken);
    free(service.document);
}

static void fetch_met_odd_answers(void **state)
{
    (void)state;
    run_all("met");
}

static void fetch_nws_odd_answers(void **state)
{
    (void)state;
    run_all("nws");
}

static void fetch_nws_stations_odd_answers(void **state)
{
    (void)state;
    run_all("nws-stations");
}

static void fetch_open_meteo_odd_answers(void **state)
{
    (void)state;
    run_all("open-meteo");
}

static void fetch_power_odd_answers(void **state)
{
    (void)state;
    run_all("power");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(fetch_met_odd_answers),
        cmocka_unit_test(fetch_nws_odd_answers),
        cmocka_unit_test(fetch_nws_stations_odd_answers),
        cmocka_unit_test(fetch_open_meteo_odd_answers),
        cmocka_unit_test(fetch_power_odd_answers),
    };
    return cmocka_run_group_tests_name("fetch_feeds", tests, NULL, NULL);
}
