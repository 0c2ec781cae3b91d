/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Feed steps with the real store, the real perchd-fetch and a stand-in service on loopback; time is
 * what the test says. */
#include "check.h"

#include <fcntl.h>
#include <math.h>
#include <signal.h>
#include <stdbool.h>
#include <stdio.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "core/civil.h"
#include "daemon/feed.h"
#include "daemon/feed_child.h"
#include "daemon/import.h"
#include "daemon/store.h"
#include "met_document.h"
#include "nws_document.h"
#include "power_document.h"
#include "standin.h"
#include "variant.h"

static const int64_t NOW = 1935640800 + 540; /* 2031-05-04T06:09:00Z */
static const int64_t SIX_O_CLOCK = 1935640800;
static const struct civil_offset UTC_OFFSET = {0, 0};
static const struct civil_zone UTC = {&UTC_OFFSET, 1};

#define JSON   "Content-Type: application/json\r\n"
#define LATEST "Sun, 04 May 2031 05:12:07 GMT"

struct scene {
    char folder[64];
    char path[128];
    char program[512];
    struct store *store;
    struct standin *standin;
    struct config config;
    /* of the last step */
    struct error error;
    int64_t next_s;
};

static void open_store(struct scene *s)
{
    s->store = store_open(s->path, false, &s->error);
    if (!s->store)
        fail_msg("%s", s->error.text);
}

static int set_up(void **state)
{
    struct scene *s = calloc(1, sizeof *s);
    assert_non_null(s);
    snprintf(s->folder, sizeof s->folder, "/tmp/perchd-test-feed-XXXXXX");
    assert_non_null(mkdtemp(s->folder));
    snprintf(s->path, sizeof s->path, "%s/store.sqlite", s->folder);
    check_program("perchd-fetch", s->program, sizeof s->program);
    open_store(s);
    s->standin = standin_start();
    struct sun_site site = {41.5678, -3.1234, 212};
    s->config.site = site;
    s->config.feed_count = 1;
    snprintf(s->config.feeds[0].name, sizeof s->config.feeds[0].name, "met");
    snprintf(s->config.feeds[0].url, sizeof s->config.feeds[0].url, "%s", standin_url(s->standin));
    snprintf(s->config.feed_contact, sizeof s->config.feed_contact, "grower@nursery.example");
    *state = s;
    return 0;
}

static int tear_down(void **state)
{
    struct scene *s = *state;
    char command[256];
    char out[256];
    char err[256];
    standin_stop(s->standin);
    store_close(s->store);
    snprintf(command, sizeof command, "rm -r %s", s->folder);
    check_run(command, out, sizeof out, err, sizeof err);
    free(s);
    return 0;
}

static enum feed_outcome step(struct scene *s, int64_t now_s)
{
    s->error.text[0] = '\0';
    return feed_step(&s->config, &s->config.feeds[0], s->store, s->program, now_s, NULL, &s->next_s,
                     &s->error);
}

static void expect(struct scene *s, int64_t now_s, enum feed_outcome expected, const char *words)
{
    enum feed_outcome got = step(s, now_s);
    if (got != expected)
        fail_msg("outcome %d instead of %d: %s", (int)got, (int)expected, s->error.text);
    if (!strstr(s->error.text, words))
        fail_msg("words: '%s'", s->error.text);
}

static struct store_feed kept_of(struct scene *s, const char *feed)
{
    struct store_feed state;
    assert_int_equal(store_feed_read(s->store, feed, &state, &s->error), 0);
    return state;
}

static struct store_feed kept(struct scene *s)
{
    struct store_feed state;
    assert_int_equal(store_feed_read(s->store, "met", &state, &s->error), 0);
    return state;
}

/* What is kept of the feed; its host may be asked at once. */
static void set_state(struct scene *s, const struct store_feed *state)
{
    char host[512];
    config_url_host(s->config.feeds[0].url, host, sizeof host);
    assert_int_equal(store_feed_write_with_host(s->store, "met", state, host, 0, &s->error), 0);
}

/* Forgets when the next request is allowed. */
static void allow(struct scene *s)
{
    struct store_feed state = kept(s);
    state.next_allowed_s = 0;
    set_state(s, &state);
}

static void start_afresh(struct scene *s)
{
    const struct store_feed fresh = {.last_modified = ""};
    set_state(s, &fresh);
}

static struct met_document document_at(const struct scene *s, int64_t issued_s, int64_t first_s)
{
    struct met_document document = met_document_new(&s->config.site, issued_s, first_s);
    document.rain_from_s = SIX_O_CLOCK + 45 * 3600;
    document.rain_to_s = SIX_O_CLOCK + 75 * 3600;
    document.rain_mm_h = 0.4;
    return document;
}

static void answer_with(struct scene *s, int status, const char *headers,
                        const struct met_document *document)
{
    size_t length = 0;
    char *text = met_document_write(document, &length);
    assert_non_null(text);
    standin_answer(s->standin, status, headers, text, length);
    free(text);
}

static void answer_good(struct scene *s, const char *headers)
{
    struct met_document document = document_at(s, SIX_O_CLOCK - 2880, SIX_O_CLOCK);
    answer_with(s, 200, headers, &document);
}

/* "Name: Sun, 04 May 2031 06:09:00 GMT\r\n" */
static void http_date(char *out, size_t size, const char *name, int64_t t_s)
{
    static const char *const DAYS[] = {"Thu", "Fri", "Sat", "Sun", "Mon", "Tue", "Wed"};
    static const char *const MONTHS[] = {"Jan", "Feb", "Mar", "Apr", "May", "Jun",
                                         "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"};
    struct civil_date date = civil_from_days(civil_floor_day(t_s) / 86400);
    int64_t second = t_s - civil_floor_day(t_s);
    snprintf(out, size, "%s: %s, %02d %s %04d %02d:%02d:%02d GMT\r\n", name,
             DAYS[(civil_floor_day(t_s) / 86400) % 7], date.day, MONTHS[date.month - 1], date.year,
             (int)(second / 3600), (int)(second / 60 % 60), (int)(second % 60));
}

static double stored_rain_mm(struct scene *s, int64_t at_s, size_t *hours)
{
    struct records records;
    double sum = 0;
    if (store_load(s->store, at_s, &s->config.site, &UTC, 2, 12, &records, &s->error) != 0)
        fail_msg("%s", s->error.text);
    for (size_t i = 0; i < records.offer_count; i++)
        sum += isnan(records.offers[i].raw.rain_mm) ? 0 : records.offers[i].raw.rain_mm;
    *hours = records.offer_count;
    records_free(&records);
    return sum;
}

/* --- the good way ------------------------------------------------------------------------- */

static void feed_step_first_document_is_stored_whole(void **state)
{
    struct scene *s = *state;
    answer_good(s, JSON "Last-Modified: " LATEST "\r\n");
    expect(s, NOW, FEED_ACCEPTED, "");
    assert_string_equal(s->error.text, "");
    struct met_document document = document_at(s, SIX_O_CLOCK - 2880, SIX_O_CLOCK);
    struct store_feed feed = kept(s);
    assert_string_equal(feed.last_modified, LATEST);
    assert_true(feed.issued_s == SIX_O_CLOCK - 2880);
    assert_true(feed.fetched_s == NOW);
    assert_true(feed.first_s == SIX_O_CLOCK);
    assert_true(feed.end_s == SIX_O_CLOCK + met_document_hours(&document) * 3600);
    assert_true(feed.failures == 0 && feed.unreached == 0 && feed.last_error[0] == '\0');
    assert_true(feed.next_allowed_s == s->next_s);
    assert_true(s->next_s >= NOW + 3600 && s->next_s <= NOW + 3600 + 1500);
    size_t hours = 0;
    check_near(stored_rain_mm(s, NOW, &hours), 30 * 0.4, 1e-6, "30 h of 0.4 mm, through SQLite");
    assert_int_equal(hours, (size_t)met_document_hours(&document));
    assert_int_equal(standin_requests(s->standin), 1);
    assert_non_null(strstr(standin_request(s->standin, 0),
                           "User-Agent: perchd/" PERCHD_VERSION " (grower@nursery.example)\r\n"));
    assert_non_null(strstr(standin_request(s->standin, 0),
                           "GET /forecast?lat=41.5678&lon=-3.1234&altitude=212 "));
}

static void feed_step_before_its_time_asks_nothing_even_after_a_restart(void **state)
{
    struct scene *s = *state;
    answer_good(s, JSON);
    expect(s, NOW, FEED_ACCEPTED, "");
    int64_t next_s = s->next_s;
    const int64_t times_s[] = {NOW, NOW + 1, NOW + 599, NOW + 3599, next_s - 1};
    for (size_t i = 0; i < sizeof times_s / sizeof *times_s; i++) {
        store_close(s->store); /* the daemon went down */
        open_store(s);
        expect(s, times_s[i], FEED_NOT_DUE, "");
        assert_true(s->next_s == next_s);
    }
    assert_int_equal(standin_requests(s->standin), 1);
    expect(s, next_s, FEED_ACCEPTED, "");
    assert_int_equal(standin_requests(s->standin), 2);
}

static void feed_step_second_request_is_conditional_to_the_letter(void **state)
{
    struct scene *s = *state;
    char expires[64];
    answer_good(s, JSON "Last-Modified: " LATEST "\r\n");
    expect(s, NOW, FEED_ACCEPTED, "");
    struct store_feed before = kept(s);
    int64_t second_s = s->next_s;
    http_date(expires, sizeof expires, "Expires", second_s + 3 * 3600);
    standin_answer(s->standin, 304, expires, "", 0);
    expect(s, second_s, FEED_UNCHANGED, "");
    assert_null(strstr(standin_request(s->standin, 0), "If-Modified-Since"));
    assert_non_null(
        strstr(standin_request(s->standin, 1), "\r\nIf-Modified-Since: " LATEST "\r\n"));
    struct store_feed after = kept(s);
    assert_string_equal(after.last_modified, LATEST);
    assert_true(after.issued_s == before.issued_s && after.fetched_s == before.fetched_s);
    assert_true(after.expires_s == second_s + 3 * 3600);
    assert_true(s->next_s >= second_s + 3 * 3600 && s->next_s <= second_s + 3 * 3600 + 1500);
}

static void feed_step_same_document_twice_counts_once(void **state)
{
    struct scene *s = *state;
    answer_good(s, JSON);
    size_t hours = 0;
    expect(s, NOW, FEED_ACCEPTED, "");
    double first_mm = stored_rain_mm(s, NOW, &hours);
    expect(s, s->next_s, FEED_ACCEPTED, "");
    check_near(stored_rain_mm(s, NOW + 7200, &hours), first_mm, 1e-9, "rain");
}

static void feed_step_newer_issue_replaces_hours_to_come(void **state)
{
    struct scene *s = *state;
    struct met_document later = document_at(s, SIX_O_CLOCK + 3600, SIX_O_CLOCK + 3600);
    size_t hours = 0;
    answer_good(s, JSON);
    later.rain_mm_h = 1.0;
    answer_with(s, 200, JSON, &later);
    expect(s, NOW, FEED_ACCEPTED, "");
    int64_t second_s = s->next_s;
    expect(s, second_s, FEED_ACCEPTED, "");
    check_near(stored_rain_mm(s, second_s, &hours), 30, 1e-6, "the newer issue");
    check_near(stored_rain_mm(s, NOW, &hours), 12, 1e-6, "as it was known before");
}

static void feed_step_expires_is_obeyed_within_bounds(void **state)
{
    struct scene *s = *state;
    int64_t jitter_s = -1;
    static const struct {
        const char *text; /* NULL: offset_s from now */
        int64_t offset_s, delay_s;
    } rows[] = {
        {"", 0, 3600},
        {NULL, 1800, 3600}, /* the usual interval is longer */
        {NULL, 3 * 3600, 3 * 3600},
        {NULL, 13 * 3600, 12 * 3600},
        {NULL, 10 * 365 * (int64_t)86400, 12 * 3600},
        {NULL, -3600, 3600},
        {"Expires: Thu, 01 Jan 1970 00:00:00 GMT\r\n", 0, 3600},
        {"Expires: 0\r\n", 0, 3600},
        {"Expires: when it suits\r\n", 0, 3600},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        char headers[256];
        char expires[96];
        http_date(expires, sizeof expires, "Expires", NOW + rows[i].offset_s);
        snprintf(headers, sizeof headers, JSON "%s", rows[i].text ? rows[i].text : expires);
        answer_good(s, headers);
        allow(s);
        expect(s, NOW, FEED_ACCEPTED, "");
        if (jitter_s < 0)
            jitter_s = s->next_s - NOW - 3600;
        assert_in_range(jitter_s, 0, 1500);
        assert_true(s->next_s == NOW + rows[i].delay_s + jitter_s);
    }
}

static void feed_step_places_are_spread(void **state)
{
    struct scene *s = *state;
    int64_t delays_s[12];
    int different = 0;
    for (int i = 0; i < 12; i++) {
        s->config.site.latitude_deg = 41.5678 + i * 0.0151;
        struct met_document document = document_at(s, SIX_O_CLOCK - 2880, SIX_O_CLOCK);
        answer_with(s, 200, JSON, &document);
        allow(s);
        expect(s, NOW, FEED_ACCEPTED, "");
        delays_s[i] = s->next_s - NOW;
        assert_in_range(delays_s[i], 3600, 5100);
        different += i > 0 && llabs(delays_s[i] - delays_s[i - 1]) > 30;
    }
    assert_true(different >= 8);
}

/* --- refusals and failures ---------------------------------------------------------------- */

struct refusal {
    int status;
    const char *headers, *body, *words;
    int64_t low_s, high_s; /* until the next request */
};

static void feed_step_refusals_wait_by_class(void **state)
{
    struct scene *s = *state;
    static const struct refusal rows[] = {
        {200, JSON, "", "empty", 600, 600},
        {200, JSON, "{\"type\":\"Feature\"}", "properties", 600, 600},
        {200, "Content-Type: text/html\r\n", "<html>", "a web page came", 600, 600},
        {204, "", "", "answered 204", 600, 600},
        {206, JSON, "{", "answered 206", 600, 600},
        {400, "", "<html>", "check latitude", 86400, 86400},
        {401, "", "", "check contact", 21600, 21600},
        {403, "", "<html>", "check contact", 21600, 21600},
        {404, "", "", "check its url", 21600, 21600},
        {410, "", "", "check its url", 21600, 21600},
        {408, "", "", "answered 408", 600, 600},
        {422, "", "", "check latitude", 86400, 86400},
        {429, "", "", "too many requests", 900, 900},
        {429, "Retry-After: 0\r\n", "", "too many", 900, 900},
        {429, "Retry-After: 120\r\n", "", "too many", 900, 900},
        {429, "Retry-After: 7200\r\n", "", "too many", 7200, 7200},
        {429, "Retry-After: 99999999\r\n", "", "too many", 21600, 21600},
        {429, "Retry-After: -60\r\n", "", "too many", 900, 900},
        {500, "", "", "answered 500", 600, 600},
        {502, "", "<html>", "answered 502", 600, 600},
        {503, "Retry-After: 3600\r\n", "", "answered 503", 3600, 3600},
        {503, JSON, "{\"title\":\"Resting\"}", "answered 503: Resting", 600, 600},
        {504, "", "", "answered 504", 600, 600},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        start_afresh(s);
        standin_answer(s->standin, rows[i].status, rows[i].headers, rows[i].body,
                       strlen(rows[i].body));
        expect(s, NOW, FEED_REFUSED, rows[i].words);
        int64_t delay_s = s->next_s - NOW;
        if (delay_s < rows[i].low_s || delay_s > rows[i].high_s)
            fail_msg("row %zu, status %d: %lld s", i, rows[i].status, (long long)delay_s);
        struct store_feed feed = kept(s);
        assert_true(feed.next_allowed_s == s->next_s && feed.failures == 1);
        assert_string_equal(feed.last_error, s->error.text);
        assert_true(feed.last_error_s == NOW);
    }
}

/* Delays of successive failures; each step is made when the one before allows it. */
static void expect_delays(struct scene *s, enum feed_outcome outcome, const int64_t (*ranges)[2],
                          size_t count)
{
    int64_t now_s = NOW;
    for (size_t i = 0; i < count; i++) {
        expect(s, now_s, outcome, "");
        int64_t delay_s = s->next_s - now_s;
        if (delay_s < ranges[i][0] || delay_s > ranges[i][1])
            fail_msg("attempt %zu: %lld s", i + 1, (long long)delay_s);
        now_s = s->next_s;
    }
}

static void feed_step_refused_document_expires_too_within_an_hour(void **state)
{
    struct scene *s = *state;
    static const int64_t rows[][2] = {{-60, 600}, {300, 600}, {1800, 1800}, {86400, 3600}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        char expires[96];
        start_afresh(s);
        http_date(expires, sizeof expires, "Expires", NOW + rows[i][0]);
        standin_answer(s->standin, 200, expires, "<html>", 6);
        expect(s, NOW, FEED_REFUSED, "a web page came");
        assert_true(s->next_s == NOW + rows[i][1]);
    }
}

static void feed_step_server_errors_back_off_to_six_hours(void **state)
{
    struct scene *s = *state;
    static const int64_t ranges[][2] = {{600, 600},     {900, 1200},    {1800, 2400},
                                        {3600, 4800},   {7200, 9600},   {14400, 19200},
                                        {16200, 21600}, {16200, 21600}, {16200, 21600}};
    standin_answer(s->standin, 500, "", "", 0);
    expect_delays(s, FEED_REFUSED, ranges, sizeof ranges / sizeof *ranges);
}

static void feed_step_refused_identity_stops_for_hours(void **state)
{
    struct scene *s = *state;
    static const int64_t ranges[][2] = {
        {21600, 21600}, {43200, 43200}, {86400, 86400}, {86400, 86400}};
    standin_answer(s->standin, 403, "", "", 0);
    expect_delays(s, FEED_REFUSED, ranges, sizeof ranges / sizeof *ranges);
    assert_int_equal(standin_requests(s->standin), 4);
}

static void feed_step_nobody_reached_tries_quickly_then_hourly(void **state)
{
    struct scene *s = *state;
    static const int64_t ranges[][2] = {{5, 5},      {15, 15},     {45, 45},     {600, 600},
                                        {900, 1200}, {1800, 2400}, {2700, 3600}, {2700, 3600}};
    struct standin *gone = standin_start();
    snprintf(s->config.feeds[0].url, sizeof s->config.feeds[0].url, "%s", standin_url(gone));
    standin_stop(gone);
    expect_delays(s, FEED_FAILED, ranges, sizeof ranges / sizeof *ranges);
    struct store_feed feed = kept(s);
    assert_int_equal(feed.failures, 0); /* nobody was bothered */
    assert_int_equal(feed.unreached, 8);
}

static void feed_step_broken_answer_keeps_the_floor(void **state)
{
    struct scene *s = *state;
    static const char cut[] = "HTTP/1.1 200 OK\r\nContent-Length: 500\r\n\r\n{\"type\":";
    standin_answer_raw(s->standin, STANDIN_RESET, cut, sizeof cut - 1);
    expect(s, NOW, FEED_FAILED, "no usable answer");
    assert_true(s->next_s == NOW + 600);
    assert_int_equal(kept(s).failures, 1);
}

static void feed_step_success_forgets_failures(void **state)
{
    struct scene *s = *state;
    standin_answer(s->standin, 500, "", "", 0);
    standin_answer(s->standin, 500, "", "", 0);
    answer_good(s, JSON);
    expect(s, NOW, FEED_REFUSED, "");
    expect(s, s->next_s, FEED_REFUSED, "");
    assert_int_equal(kept(s).failures, 2);
    expect(s, s->next_s, FEED_ACCEPTED, "");
    struct store_feed feed = kept(s);
    assert_int_equal(feed.failures, 0);
    assert_string_equal(feed.last_error, "");
}

static void feed_step_malformed_document_keeps_the_last_good_one(void **state)
{
    struct scene *s = *state;
    size_t hours = 0;
    size_t hours_after = 0;
    static const char cut[] = "{\"type\":\"Feature\",\"properties\":{\"meta\":{}";
    answer_good(s, JSON "Last-Modified: " LATEST "\r\n");
    standin_answer(s->standin, 200, JSON "Last-Modified: Sun, 04 May 2031 07:00:00 GMT\r\n", cut,
                   strlen(cut));
    answer_good(s, JSON);
    expect(s, NOW, FEED_ACCEPTED, "");
    struct store_feed before = kept(s);
    double rain_mm = stored_rain_mm(s, NOW, &hours);
    int64_t second_s = s->next_s;
    expect(s, second_s, FEED_REFUSED, "the document is not JSON");
    struct store_feed after = kept(s);
    assert_true(after.issued_s == before.issued_s && after.end_s == before.end_s &&
                after.fetched_s == before.fetched_s && after.first_s == before.first_s);
    assert_string_equal(after.last_modified, LATEST); /* of what is stored */
    assert_non_null(strstr(after.last_error, "the document is not JSON"));
    check_near(stored_rain_mm(s, NOW, &hours_after), rain_mm, 1e-12, "rain");
    assert_int_equal(hours, hours_after);
    struct records records;
    assert_int_equal(
        store_load(s->store, second_s, &s->config.site, &UTC, 2, 12, &records, &s->error), 0);
    assert_true(records.sources[1].has_document);
    assert_non_null(strstr(records.sources[1].last_error, "not JSON"));
    records_free(&records);
    expect(s, s->next_s, FEED_ACCEPTED, "");
    assert_string_equal(kept(s).last_error, "");
}

static void feed_step_retiring_product_is_used_with_a_warning(void **state)
{
    struct scene *s = *state;
    struct met_document document = document_at(s, SIX_O_CLOCK - 2880, SIX_O_CLOCK);
    answer_with(s, 203, JSON, &document);
    expect(s, NOW, FEED_ACCEPTED, "203");
    assert_non_null(strstr(kept(s).warning, "203"));
    assert_string_equal(kept(s).last_error, ""); /* nothing was refused */
    assert_true(kept(s).end_s > NOW);
    standin_answer(s->standin, 304, "", "", 0);
    standin_answer(s->standin, 500, "", "", 0);
    answer_with(s, 200, JSON, &document);
    expect(s, s->next_s, FEED_REFUSED, "304"); /* without a validator: see below */
    expect(s, s->next_s, FEED_REFUSED, "500");
    assert_non_null(strstr(kept(s).warning, "203"));
    expect(s, s->next_s, FEED_ACCEPTED, "");
    assert_string_equal(kept(s).warning, ""); /* does not outlive the next good document */
}

/* --- unchanged without a document --------------------------------------------------------- */

static void feed_step_304_to_a_first_request_is_refused_and_asked_again(void **state)
{
    struct scene *s = *state;
    standin_answer(s->standin, 304, "", "", 0);
    answer_good(s, JSON);
    expect(s, NOW, FEED_REFUSED, "304");
    assert_true(s->next_s == NOW + 600); /* the floor, not at once */
    expect(s, s->next_s, FEED_ACCEPTED, "");
    assert_null(strstr(standin_request(s->standin, 1), "If-Modified-Since"));
}

static void feed_step_304_after_the_stored_hours_are_past_drops_the_validator(void **state)
{
    struct scene *s = *state;
    answer_good(s, JSON "Last-Modified: " LATEST "\r\n");
    standin_answer(s->standin, 304, "", "", 0);
    expect(s, NOW, FEED_ACCEPTED, "");
    int64_t late_s = kept(s).end_s + 60;
    expect(s, late_s, FEED_REFUSED, "304");
    assert_non_null(strstr(standin_request(s->standin, 1), "If-Modified-Since"));
    expect(s, s->next_s, FEED_REFUSED, "304");
    assert_null(strstr(standin_request(s->standin, 2), "If-Modified-Since"));
    assert_int_equal(standin_requests(s->standin), 3);
}

/* --- clocks and ages ---------------------------------------------------------------------- */

static struct store_clock kept_clock(struct scene *s)
{
    struct store_clock clock;
    assert_int_equal(store_clock_read(s->store, &clock, &s->error), 0);
    return clock;
}

static void feed_step_wrong_clock_stores_nothing(void **state)
{
    struct scene *s = *state;
    const struct {
        int64_t ahead_s; /* of the service's clock */
        const char *more;
        enum feed_outcome expected;
    } rows[] = {
        {0, "", FEED_ACCEPTED},
        {-540, "", FEED_ACCEPTED},
        {540, "", FEED_ACCEPTED},
        {-661, "", FEED_CLOCK},
        {720, "", FEED_CLOCK},
        {3600, "", FEED_CLOCK},
        {-3600, "", FEED_CLOCK},
        {-3600, "Age: 3600\r\n", FEED_ACCEPTED}, /* from a cache on the way */
        {86400, "", FEED_CLOCK},
        {-NOW, "", FEED_CLOCK}, /* 1970 */
        {7 * 365 * (int64_t)86400, "", FEED_CLOCK},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        char headers[256];
        char date[96];
        start_afresh(s);
        http_date(date, sizeof date, "Date", NOW + rows[i].ahead_s + (rows[i].ahead_s == -NOW));
        snprintf(headers, sizeof headers, JSON "%s%s", date, rows[i].more);
        answer_good(s, headers);
        bool refused = rows[i].expected == FEED_CLOCK;
        expect(s, NOW, rows[i].expected, refused ? "set the clock" : "");
        assert_true((kept(s).issued_s == 0) == refused);
        struct store_clock clock = kept_clock(s);
        assert_true((clock.wrong_s == NOW) == refused && (clock.wrong_s == 0) == !refused);
        assert_true((clock.there_s != 0) == refused);
    }
}

static void feed_step_wrong_clock_is_seen_in_any_answer(void **state)
{
    struct scene *s = *state;
    char date[96];
    http_date(date, sizeof date, "Date", NOW + 7200);
    standin_answer(s->standin, 304, date, "", 0);
    expect(s, NOW, FEED_CLOCK, "2031-05-04T08:09:00Z");
    allow(s);
    standin_answer(s->standin, 503, date, "", 0);
    expect(s, NOW, FEED_CLOCK, "set the clock");
}

static void feed_step_wrong_clock_is_asked_about_every_ten_minutes(void **state)
{
    struct scene *s = *state;
    char wrong[96];
    char right[96];
    int64_t now_s = NOW;
    const struct store_clock before = {.trusted_s = NOW - 900, .agreed_s = NOW - 4000};
    assert_int_equal(store_clock_write(s->store, &before, &s->error), 0);
    http_date(wrong, sizeof wrong, "Date", NOW - 86400);
    standin_answer(s->standin, 403, wrong, "", 0); /* not six hours: the clock comes first */
    for (int i = 0; i < 30; i++) {
        expect(s, now_s, FEED_CLOCK, "set the clock");
        assert_true(s->next_s == now_s + 600);
        assert_int_equal(kept(s).failures, 0);
        store_close(s->store); /* a restart knows */
        open_store(s);
        assert_true(kept_clock(s).wrong_s == now_s && kept_clock(s).there_s == NOW - 86400);
        assert_true(kept_clock(s).trusted_s == NOW - 900 && kept_clock(s).agreed_s == NOW - 4000);
        now_s = s->next_s;
    }
    standin_clear(s->standin);
    http_date(right, sizeof right, "Date", now_s + 30);
    standin_answer(s->standin, 503, right, "", 0); /* any answer tells the time */
    expect(s, now_s, FEED_REFUSED, "answered 503");
    assert_true(kept_clock(s).wrong_s == 0 && kept_clock(s).agreed_s == now_s);
    assert_true(kept_clock(s).trusted_s == NOW - 900);
}

static void feed_step_answer_without_a_date_says_nothing_of_the_clock(void **state)
{
    struct scene *s = *state;
    const struct store_clock before = {.wrong_s = NOW - 900, .there_s = 5};
    assert_int_equal(store_clock_write(s->store, &before, &s->error), 0);
    answer_good(s, JSON);
    expect(s, NOW, FEED_ACCEPTED, "");
    assert_true(kept_clock(s).wrong_s == NOW - 900);
    assert_true(kept_clock(s).agreed_s == 0);
}

static void store_feed_hasten_lets_no_feed_wait_longer(void **state)
{
    struct scene *s = *state;
    struct store_feed feed = {.next_allowed_s = NOW + 50000};
    int64_t host_s = 0;
    assert_int_equal(
        store_feed_write_with_host(s->store, "met", &feed, "a:1", NOW + 60000, &s->error), 0);
    feed.next_allowed_s = NOW + 100;
    assert_int_equal(
        store_feed_write_with_host(s->store, "nws", &feed, "b:1", NOW + 100, &s->error), 0);
    assert_int_equal(store_feed_hasten(s->store, NOW + 600, &s->error), 0);
    assert_true(kept_of(s, "met").next_allowed_s == NOW + 600);
    assert_true(kept_of(s, "nws").next_allowed_s == NOW + 100);
    assert_int_equal(store_host_read(s->store, "a:1", &host_s, &s->error), 0);
    assert_true(host_s == NOW + 600);
    assert_int_equal(store_host_read(s->store, "b:1", &host_s, &s->error), 0);
    assert_true(host_s == NOW + 100);
}

static void feed_step_stale_and_future_documents_are_refused(void **state)
{
    struct scene *s = *state;
    const struct {
        int64_t issued_s, first_s, now_s;
        enum feed_outcome expected;
        const char *words;
    } rows[] = {
        {NOW - 10 * 3600, SIX_O_CLOCK, NOW, FEED_ACCEPTED, ""}, /* normal outside the north */
        {NOW - 5 * 86400, NOW - 5 * 86400 - 540, NOW, FEED_REFUSED, "stands still"},
        {NOW + 3600, SIX_O_CLOCK, NOW, FEED_REFUSED, "to come"},
        {SIX_O_CLOCK, SIX_O_CLOCK, SIX_O_CLOCK + 3 * 86400, FEED_ACCEPTED, ""},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        start_afresh(s);
        struct met_document document =
            document_at(s, rows[i].issued_s, civil_floor_hour(rows[i].first_s));
        answer_with(s, 200, JSON, &document);
        expect(s, rows[i].now_s, rows[i].expected, rows[i].words);
    }
}

/* A document of a few hours from first_s on. */
static void answer_short(struct scene *s, int64_t issued_s, int64_t first_s, int count)
{
    char *text = NULL;
    size_t length = 0;
    char time[CIVIL_TEXT];
    FILE *f = open_memstream(&text, &length);
    civil_format_rfc3339(issued_s, 0, time);
    fprintf(f,
            "{\"geometry\":{\"coordinates\":[-3.1234,41.5678]},\"properties\":{\"meta\":{"
            "\"updated_at\":\"%s\",\"units\":{\"air_temperature\":\"celsius\"}},\"timeseries\":[",
            time);
    for (int i = 0; i <= count; i++) {
        civil_format_rfc3339(first_s + i * 3600, 0, time);
        fprintf(f,
                "%s{\"time\":\"%s\",\"data\":{\"instant\":{\"details\":{\"air_temperature\":15}}}}",
                i ? "," : "", time);
    }
    fputs("]}}", f);
    fclose(f);
    standin_answer(s->standin, 200, JSON, text, length);
    free(text);
}

static void feed_step_document_of_past_hours_only_is_refused(void **state)
{
    struct scene *s = *state;
    answer_short(s, SIX_O_CLOCK - 6 * 3600, SIX_O_CLOCK - 5 * 3600, 5);
    expect(s, NOW, FEED_REFUSED, "covers no hour to come");
    allow(s);
    answer_short(s, SIX_O_CLOCK, SIX_O_CLOCK, 3); /* three hours are better than none */
    expect(s, NOW, FEED_ACCEPTED, "");
    assert_true(kept(s).end_s == SIX_O_CLOCK + 3 * 3600);
}

static void feed_step_issue_just_ahead_counts_as_now(void **state)
{
    struct scene *s = *state;
    answer_short(s, NOW + 300, SIX_O_CLOCK, 5);
    expect(s, NOW, FEED_ACCEPTED, "");
    assert_true(kept(s).issued_s == NOW);
    size_t hours = 0;
    stored_rain_mm(s, NOW, &hours);
    assert_int_equal(hours, 5); /* visible to a plan made now */
}

static void feed_step_older_issue_does_not_replace_a_newer_one(void **state)
{
    struct scene *s = *state;
    answer_short(s, SIX_O_CLOCK, SIX_O_CLOCK, 9);
    answer_short(s, SIX_O_CLOCK - 3600, SIX_O_CLOCK, 5);
    expect(s, NOW, FEED_ACCEPTED, "");
    expect(s, s->next_s, FEED_UNCHANGED, "");
    assert_true(kept(s).issued_s == SIX_O_CLOCK);
    assert_true(kept(s).end_s == SIX_O_CLOCK + 9 * 3600);
}

static void feed_step_issue_stored_under_a_clock_ahead_gives_way(void **state)
{
    struct scene *s = *state;
    answer_short(s, SIX_O_CLOCK, SIX_O_CLOCK, 9);
    answer_short(s, SIX_O_CLOCK, SIX_O_CLOCK, 9);
    expect(s, NOW, FEED_ACCEPTED, "");
    struct store_feed ahead = kept(s);
    ahead.issued_s = NOW + 86400;
    ahead.next_allowed_s = 0;
    set_state(s, &ahead);
    expect(s, NOW + 60, FEED_ACCEPTED, "");
    assert_true(kept(s).issued_s == SIX_O_CLOCK);
}

/* --- configuration, clocks that jump, a store that cannot be written ----------------------- */

static void feed_step_changed_place_ends_a_long_stop_and_the_validator(void **state)
{
    struct scene *s = *state;
    answer_good(s, JSON "Last-Modified: " LATEST "\r\n");
    standin_answer(s->standin, 422, "", "", 0);
    expect(s, NOW, FEED_ACCEPTED, "");
    int64_t second_s = s->next_s;
    expect(s, second_s, FEED_REFUSED, "check latitude");
    assert_true(s->next_s == second_s + 86400);

    s->config.site.latitude_deg = 41.6;
    struct met_document document = document_at(s, SIX_O_CLOCK - 7200, SIX_O_CLOCK);
    answer_with(s, 200, JSON, &document);
    expect(s, second_s + 60, FEED_NOT_DUE, ""); /* the floor holds for any place */
    assert_true(s->next_s == second_s + 660);
    expect(s, s->next_s, FEED_ACCEPTED, "");
    assert_non_null(strstr(standin_request(s->standin, 2), "lat=41.6000&"));
    assert_null(strstr(standin_request(s->standin, 2), "If-Modified-Since"));
}

static void feed_step_clock_that_ran_ahead_does_not_block_for_years(void **state)
{
    struct scene *s = *state;
    answer_good(s, JSON);
    expect(s, NOW, FEED_ACCEPTED, "");
    struct store_feed ahead = kept(s);
    ahead.next_allowed_s = NOW + 7 * 365 * (int64_t)86400;
    set_state(s, &ahead);
    expect(s, NOW, FEED_NOT_DUE, "");
    assert_true(s->next_s == NOW + 600);
    assert_true(kept(s).next_allowed_s == NOW + 600);
    expect(s, NOW + 600, FEED_ACCEPTED, "");
}

static void feed_step_store_that_cannot_be_written_asks_nothing(void **state)
{
    struct scene *s = *state;
    answer_good(s, JSON);
    store_close(s->store);
    s->store = store_open(s->path, true, &s->error);
    assert_non_null(s->store);
    assert_int_equal(step(s, NOW), FEED_FAILED);
    assert_true(s->error.text[0] != '\0');
    assert_true(s->next_s >= NOW + 600);
    assert_int_equal(standin_requests(s->standin), 0);
}

static void write_script(struct scene *s, const char *body)
{
    snprintf(s->program, sizeof s->program, "%s/fetch", s->folder);
    FILE *f = fopen(s->program, "w");
    assert_non_null(f);
    fprintf(f, "#!/bin/sh\n%s\n", body);
    fclose(f);
    assert_int_equal(chmod(s->program, 0755), 0);
}

static void feed_step_crash_during_a_request_keeps_the_floor(void **state)
{
    struct scene *s = *state;
    write_script(s, "kill -9 $PPID");
    store_close(s->store);
    s->store = NULL;
    pid_t pid = fork();
    if (pid == 0) { /* the daemon that dies in the middle of its request */
        struct error error;
        struct store *store = store_open(s->path, false, &error);
        int64_t next_s = 0;
        if (store)
            feed_step(&s->config, &s->config.feeds[0], store, s->program, NOW, NULL, &next_s,
                      &error);
        _exit(0);
    }
    int status = 0;
    waitpid(pid, &status, 0);
    assert_true(WIFSIGNALED(status) && WTERMSIG(status) == SIGKILL);
    open_store(s);
    check_program("perchd-fetch", s->program, sizeof s->program);
    answer_good(s, JSON);
    expect(s, NOW + 5, FEED_NOT_DUE, "");
    assert_true(s->next_s == NOW + 600);
    assert_int_equal(standin_requests(s->standin), 0);
    expect(s, NOW + 600, FEED_ACCEPTED, "");
}

static void feed_step_missing_error_and_program_are_survived(void **state)
{
    struct scene *s = *state;
    snprintf(s->program, sizeof s->program, "%s/nothing-here", s->folder);
    assert_int_equal(feed_step(&s->config, &s->config.feeds[0], s->store, s->program, NOW, NULL,
                               &s->next_s, NULL),
                     FEED_FAILED);
    assert_non_null(strstr(kept(s).last_error, "cannot be started"));
    assert_true(s->next_s == NOW + 600);
}

/* --- several services --------------------------------------------------------------------- */

/* Adds a service that is asked at url. */
static void add_feed(struct scene *s, const char *name, const char *url)
{
    struct config_feed *feed = &s->config.feeds[s->config.feed_count++];
    snprintf(feed->name, sizeof feed->name, "%s", name);
    snprintf(feed->url, sizeof feed->url, "%s", url);
}

static void expect_of(struct scene *s, size_t feed, int64_t now_s, enum feed_outcome expected,
                      const char *words)
{
    s->error.text[0] = '\0';
    enum feed_outcome got = feed_step(&s->config, &s->config.feeds[feed], s->store, s->program,
                                      now_s, NULL, &s->next_s, &s->error);
    if (got != expected)
        fail_msg("%s: outcome %d instead of %d: %s", s->config.feeds[feed].name, (int)got,
                 (int)expected, s->error.text);
    if (!strstr(s->error.text, words))
        fail_msg("words: '%s'", s->error.text);
}

/* Three days back to eleven ahead, 0.1 mm in every hour. */
static void answer_open_meteo(struct standin *standin, const char *headers)
{
    static const char *const NAMES[] = {"temperature_2m", "precipitation"};
    char *text = NULL;
    size_t length = 0;
    FILE *f = open_memstream(&text, &length);
    fputs("{\"latitude\":41.5,\"longitude\":-3.125,\"hourly_units\":{\"time\":\"unixtime\","
          "\"temperature_2m\":\"\u00b0C\",\"precipitation\":\"mm\"},\"hourly\":{\"time\":[",
          f);
    for (int i = 0; i < 14 * 24; i++)
        fprintf(f, "%s%lld", i ? "," : "", (long long)(SIX_O_CLOCK + (i - 54) * 3600));
    for (int v = 0; v < 2; v++) {
        fprintf(f, "],\"%s\":[", NAMES[v]);
        for (int i = 0; i < 14 * 24; i++)
            fprintf(f, "%s%s", i ? "," : "", v == 0 ? "17.5" : "0.1");
    }
    fputs("]}}", f);
    fclose(f);
    standin_answer(standin, 200, headers, text, length);
    free(text);
}

static void feed_step_each_service_has_its_own_state_and_hours(void **state)
{
    struct scene *s = *state;
    struct standin *other = standin_start();
    add_feed(s, "open-meteo", standin_url(other));
    answer_good(s, JSON "Last-Modified: " LATEST "\r\n");
    answer_open_meteo(other, JSON);
    expect_of(s, 0, NOW, FEED_ACCEPTED, "");
    expect_of(s, 1, NOW, FEED_ACCEPTED, ""); /* another host: at once */
    assert_true(s->next_s >= NOW + 3600 && s->next_s <= NOW + 3600 + 900);
    struct store_feed second = kept_of(s, "open-meteo");
    assert_true(second.issued_s == NOW && second.first_s == SIX_O_CLOCK - 55 * 3600);
    assert_string_equal(second.last_modified, "");
    assert_string_equal(kept(s).last_modified, LATEST);
    /* It gives no validator, and is sent none. */
    expect_of(s, 1, s->next_s, FEED_ACCEPTED, "");
    assert_null(strstr(standin_request(other, 1), "If-Modified-Since"));
    standin_stop(other);
}

static void feed_step_feeds_of_one_host_share_its_floor_across_restarts(void **state)
{
    struct scene *s = *state;
    add_feed(s, "open-meteo", standin_url(s->standin));
    answer_good(s, JSON);
    answer_open_meteo(s->standin, JSON);
    expect_of(s, 0, NOW, FEED_ACCEPTED, "");
    for (int64_t after_s = 0; after_s < 600; after_s += 299) {
        store_close(s->store); /* the daemon went down */
        open_store(s);
        expect_of(s, 1, NOW + after_s, FEED_NOT_DUE, "");
        assert_true(s->next_s == NOW + 600);
    }
    assert_int_equal(standin_requests(s->standin), 1);
    expect_of(s, 1, NOW + 600, FEED_ACCEPTED, "");
    assert_int_equal(standin_requests(s->standin), 2);
}

static void feed_step_host_floor_from_a_clock_ahead_does_not_block(void **state)
{
    struct scene *s = *state;
    struct store_feed fresh = {.last_modified = ""};
    char host[512];
    config_url_host(s->config.feeds[0].url, host, sizeof host);
    assert_int_equal(
        store_feed_write_with_host(s->store, "met", &fresh, host, NOW + 400 * 86400, &s->error), 0);
    answer_good(s, JSON);
    expect(s, NOW, FEED_NOT_DUE, "");
    assert_true(s->next_s == NOW + 600);
    expect(s, NOW + 600, FEED_ACCEPTED, "");
}

static void feed_step_host_that_refuses_stops_all_its_feeds(void **state)
{
    struct scene *s = *state;
    static const struct {
        int status;
        int64_t stop_s; /* of the other feed */
    } rows[] = {{403, 21600}, {401, 21600}, {429, 900}, {500, 600}, {404, 600}};
    add_feed(s, "open-meteo", standin_url(s->standin));
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        start_afresh(s);
        standin_answer(s->standin, rows[i].status, "", "", 0);
        expect_of(s, 0, NOW, FEED_REFUSED, "");
        expect_of(s, 1, NOW + 1, FEED_NOT_DUE, "");
        if (s->next_s != NOW + rows[i].stop_s)
            fail_msg("status %d: %lld s", rows[i].status, (long long)(s->next_s - NOW));
    }
}

static void feed_step_unreached_host_does_not_delay_its_other_feed(void **state)
{
    struct scene *s = *state;
    struct standin *gone = standin_start();
    snprintf(s->config.feeds[0].url, sizeof s->config.feeds[0].url, "%s", standin_url(gone));
    add_feed(s, "open-meteo", standin_url(gone));
    standin_stop(gone);
    expect_of(s, 0, NOW, FEED_FAILED, "");
    expect_of(s, 1, NOW + 1, FEED_FAILED, "");
    assert_true(s->next_s == NOW + 6);
}

static void feed_step_one_of_two_down_is_no_alarm_for_a_day(void **state)
{
    struct scene *s = *state;
    struct standin *other = standin_start();
    add_feed(s, "open-meteo", standin_url(other));
    answer_good(s, JSON);
    standin_answer(other, 500, "", "", 0);
    expect_of(s, 0, NOW, FEED_ACCEPTED, "");
    int64_t now_s = NOW;
    while (now_s < NOW + 86400) {
        expect_of(s, 1, now_s, FEED_REFUSED, "answered 500"); /* for the log */
        assert_string_equal(kept_of(s, "open-meteo").last_error, "");
        assert_true(kept_of(s, "open-meteo").failing_since_s == NOW);
        now_s = s->next_s;
    }
    expect_of(s, 1, now_s, FEED_REFUSED, "answered 500");
    assert_non_null(strstr(kept_of(s, "open-meteo").last_error, "answered 500"));
    standin_stop(other);
}

static void feed_step_one_of_two_down_is_an_alarm_where_a_person_must_act(void **state)
{
    struct scene *s = *state;
    static const int statuses[] = {400, 401, 403, 404};
    struct standin *other = standin_start();
    add_feed(s, "open-meteo", standin_url(other));
    answer_good(s, JSON);
    expect_of(s, 0, NOW, FEED_ACCEPTED, "");
    for (size_t i = 0; i < sizeof statuses / sizeof *statuses; i++) {
        char host[512];
        const struct store_feed fresh = {.last_modified = ""};
        config_url_host(standin_url(other), host, sizeof host);
        assert_int_equal(
            store_feed_write_with_host(s->store, "open-meteo", &fresh, host, 0, &s->error), 0);
        standin_answer(other, statuses[i], "", "", 0);
        expect_of(s, 1, NOW, FEED_REFUSED, "");
        assert_true(kept_of(s, "open-meteo").last_error[0] != '\0');
    }
    standin_stop(other);
}

static void feed_step_both_down_is_an_alarm_of_both(void **state)
{
    struct scene *s = *state;
    struct standin *other = standin_start();
    add_feed(s, "open-meteo", standin_url(other));
    standin_answer(s->standin, 500, "", "", 0);
    standin_answer(other, 500, "", "", 0);
    expect_of(s, 0, NOW, FEED_REFUSED, "");
    expect_of(s, 1, NOW, FEED_REFUSED, "");
    assert_true(kept(s).last_error[0] && kept_of(s, "open-meteo").last_error[0]);
    standin_stop(other);
}

static void feed_step_wait_in_the_answers_words_is_kept_above_the_floor(void **state)
{
    struct scene *s = *state;
    static const struct {
        const char *body;
        int64_t low_s, high_s;
    } rows[] = {
        {"{\"error\":true,\"reason\":\"Minutely limit\"}", 300, 300},
        {"{\"error\":true,\"reason\":\"Hourly limit\"}", 3120, 3120},
        {"{\"error\":true,\"reason\":\"Daily limit\"}", 64320, 64320 + 1800},
        {"{\"error\":true,\"reason\":\"Too bad\"}", 900, 900},
    };
    s->config.feed_count = 0;
    add_feed(s, "open-meteo", standin_url(s->standin));
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        char host[512];
        const struct store_feed fresh = {.last_modified = ""};
        config_url_host(standin_url(s->standin), host, sizeof host);
        assert_int_equal(
            store_feed_write_with_host(s->store, "open-meteo", &fresh, host, 0, &s->error), 0);
        standin_answer(s->standin, 429, JSON, rows[i].body, strlen(rows[i].body));
        expect_of(s, 0, NOW, FEED_REFUSED, "too many requests");
        if (s->next_s < NOW + rows[i].low_s || s->next_s > NOW + rows[i].high_s)
            fail_msg("%s: %lld s", rows[i].body, (long long)(s->next_s - NOW));
    }
}

static void feed_step_half_a_document_with_words_behind_is_refused(void **state)
{
    struct scene *s = *state;
    static const char half[] = "{\"latitude\":41.5,\"longitude\":-3.125,\"hourly_units\":{"
                               "\"time\":\"unixtime\"},\"hourly\":{\"time\":[1935640800,"
                               "Unexpected error while streaming data: timeoutReached";
    s->config.feed_count = 0;
    add_feed(s, "open-meteo", standin_url(s->standin));
    standin_answer(s->standin, 200, JSON, half, strlen(half));
    expect_of(s, 0, NOW, FEED_REFUSED, "the document is not JSON");
    assert_true(kept_of(s, "open-meteo").issued_s == 0);
}

static void feed_step_unknown_feed_is_said(void **state)
{
    struct scene *s = *state;
    s->config.feed_count = 0;
    add_feed(s, "nobody", standin_url(s->standin));
    expect_of(s, 0, NOW, FEED_FAILED, "no feed 'nobody'");
    assert_true(s->next_s > NOW);
}

/* --- a service that calls the place its own name -------------------------------------------- */

#define GEO "Content-Type: application/geo+json; charset=utf-8\r\n"

/* Only nws, at its place. */
static void be_in_the_us(struct scene *s)
{
    const struct sun_site site = {33.9, -84.1, 290};
    s->config.site = site;
    s->config.feed_count = 0;
    add_feed(s, "nws", standin_url(s->standin));
}

static void answer_text(struct scene *s, int status, const char *headers, const char *text)
{
    standin_answer(s->standin, status, headers, text, strlen(text));
}

static void expect_request(struct scene *s, size_t index, const char *line)
{
    if (strncmp(standin_request(s->standin, index), line, strlen(line)) != 0)
        fail_msg("request %zu: %.100s", index, standin_request(s->standin, index));
}

static void start_nws(struct scene *s)
{
    be_in_the_us(s);
    answer_text(s, 200, GEO, NWS_POINT);
    answer_text(s, 200, GEO "Last-Modified: " LATEST "\r\n", NWS_GRID);
    expect_of(s, 0, NOW, FEED_ACCEPTED, "");
}

static void feed_step_nws_asks_for_the_cell_once_and_keeps_it(void **state)
{
    struct scene *s = *state;
    start_nws(s);
    expect_request(s, 0, "GET /forecast/points/33.9,-84.1 HTTP/1.1\r\n");
    expect_request(s, 1, "GET /forecast/gridpoints/ZZZ/12,34 HTTP/1.1\r\n");
    for (size_t i = 0; i < 2; i++)
        assert_non_null(
            strstr(standin_request(s->standin, i), "\r\nAccept: application/geo+json\r\n"));
    struct store_feed feed = kept_of(s, "nws");
    assert_string_equal(feed.address, "ZZZ/12,34");
    assert_true(feed.address_s == NOW && feed.issued_s == SIX_O_CLOCK - 1200);
    assert_true(s->next_s >= NOW + 3600 && s->next_s <= NOW + 3600 + 900);
    answer_text(s, 304, "", "");
    expect_of(s, 0, s->next_s, FEED_UNCHANGED, "");
    expect_request(s, 2, "GET /forecast/gridpoints/ZZZ/12,34 HTTP/1.1\r\n");
    assert_non_null(
        strstr(standin_request(s->standin, 2), "\r\nIf-Modified-Since: " LATEST "\r\n"));
    assert_true(kept_of(s, "nws").address_s == NOW);
    assert_int_equal(standin_requests(s->standin), 3);
}

static void feed_step_nws_asks_for_the_cell_again_after_a_week(void **state)
{
    struct scene *s = *state;
    start_nws(s);
    answer_text(s, 200, GEO, NWS_POINT);
    answer_text(s, 200, GEO, NWS_GRID);
    int64_t later_s = NOW + 7 * 86400;
    expect_of(s, 0, later_s, FEED_REFUSED, "stands still"); /* the same old issue */
    expect_request(s, 2, "GET /forecast/points/");
    expect_request(s, 3, "GET /forecast/gridpoints/");
    assert_null(strstr(standin_request(s->standin, 3), "If-Modified-Since"));
    assert_true(kept_of(s, "nws").address_s == later_s);
}

static void feed_step_nws_cell_that_is_gone_is_asked_for_once_more(void **state)
{
    struct scene *s = *state;
    char *moved = NULL;
    start_nws(s);
    answer_text(s, 404, "Content-Type: application/problem+json\r\n", "{\"title\":\"Not Found\"}");
    moved = strdup(NWS_POINT);
    memcpy(strstr(moved, "\"gridX\":12") + 8, "13", 2);
    answer_text(s, 200, GEO, moved);
    answer_text(s, 200, GEO, NWS_GRID);
    expect_of(s, 0, s->next_s, FEED_ACCEPTED, "");
    expect_request(s, 2, "GET /forecast/gridpoints/ZZZ/12,34 ");
    expect_request(s, 3, "GET /forecast/points/");
    expect_request(s, 4, "GET /forecast/gridpoints/ZZZ/13,34 ");
    assert_string_equal(kept_of(s, "nws").address, "ZZZ/13,34");
    assert_int_equal(standin_requests(s->standin), 5);
    free(moved);
}

static void feed_step_nws_cell_gone_for_good_stops_for_hours(void **state)
{
    struct scene *s = *state;
    start_nws(s);
    answer_text(s, 404, "", "");
    answer_text(s, 200, GEO, NWS_POINT);
    answer_text(s, 404, "", "{\"title\":\"Marine Forecast Not Supported\"}");
    int64_t second_s = s->next_s;
    expect_of(s, 0, second_s, FEED_REFUSED, "Marine Forecast Not Supported");
    assert_int_equal(standin_requests(s->standin), 5); /* once, not in circles */
    assert_true(s->next_s == second_s + 21600);
    assert_string_equal(kept_of(s, "nws").address, "");
    assert_non_null(strstr(kept_of(s, "nws").last_error, "United States"));
}

static void feed_step_nws_cell_that_moved_away_is_asked_for_once_more(void **state)
{
    struct scene *s = *state;
    static const char here[] = "[-84.11,33.89],[-84.11,33.91],[-84.09,33.91],[-84.09,33.89],"
                               "[-84.11,33.89]";
    static const char away[] = "[-85.11,33.89],[-85.11,33.91],[-85.09,33.91],[-85.09,33.89],"
                               "[-85.11,33.89]";
    char *moved = strdup(NWS_GRID);
    memcpy(strstr(moved, here), away, sizeof away - 1);
    start_nws(s);
    answer_text(s, 200, GEO, moved);
    answer_text(s, 200, GEO, NWS_POINT);
    answer_text(s, 200, GEO, NWS_GRID);
    expect_of(s, 0, s->next_s, FEED_ACCEPTED, "");
    assert_int_equal(standin_requests(s->standin), 5);
    answer_text(s, 200, GEO, moved); /* and if it stays away: refused, and no circle */
    answer_text(s, 200, GEO, NWS_POINT);
    answer_text(s, 200, GEO, moved);
    expect_of(s, 0, s->next_s, FEED_REFUSED, "does not hold the nursery");
    assert_int_equal(standin_requests(s->standin), 8);
    assert_string_equal(kept_of(s, "nws").address, "");
    free(moved);
}

static void feed_step_nws_canonical_spelling_is_followed(void **state)
{
    struct scene *s = *state;
    be_in_the_us(s);
    answer_text(s, 301, "Location: /forecast/points/33.9000,-84.1000\r\n", "");
    answer_text(s, 200, GEO, NWS_POINT);
    answer_text(s, 200, GEO, NWS_GRID);
    expect_of(s, 0, NOW, FEED_ACCEPTED, "");
    expect_request(s, 1, "GET /forecast/points/33.9000,-84.1000 ");
}

static void feed_step_nws_answers_without_a_grid_wait_by_class(void **state)
{
    struct scene *s = *state;
    static const struct {
        int status;
        const char *headers, *body, *words;
        int64_t delay_s;
    } rows[] = {
        {503, "Content-Type: application/problem+json\r\n",
         "{\"type\":\"urn:x:ForecastGridExpired\",\"title\":\"Forecast Grid "
         "Expired\",\"status\":503}",
         "answered 503: Forecast Grid Expired", 600},
        {500, "", "{\"title\":\"Unexpected Problem\"}", "answered 500: Unexpected Problem", 600},
        {502, "Content-Type: text/html\r\n", "<html>nginx</html>", "answered 502", 600},
        {403, "Content-Type: text/html\r\n", "<HTML><TITLE>Access Denied", "check contact", 21600},
        {404, "", "{\"title\":\"Data Unavailable For Requested Point\"}", "United States", 21600},
        {200, "Content-Type: text/html\r\n", "<html>", "a web page came", 600},
        {200, GEO, "{\"properties\":{}}", "in which cell", 600},
        {304, "", "", "", 600},
        {400, "", "{\"title\":\"Invalid Parameter\"}", "check latitude", 86400},
    };
    be_in_the_us(s);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        char host[512];
        const struct store_feed fresh = {.last_modified = ""};
        config_url_host(standin_url(s->standin), host, sizeof host);
        assert_int_equal(store_feed_write_with_host(s->store, "nws", &fresh, host, 0, &s->error),
                         0);
        standin_clear(s->standin);
        answer_text(s, rows[i].status, rows[i].headers, rows[i].body);
        expect_of(s, 0, NOW, FEED_REFUSED, rows[i].words);
        assert_true(s->next_s == NOW + rows[i].delay_s);
        assert_int_equal(standin_requests(s->standin), i + 1); /* no grid is asked for */
    }
}

static void feed_step_nws_stale_grid_with_200_is_refused(void **state)
{
    struct scene *s = *state;
    start_nws(s);
    answer_text(s, 200, GEO, NWS_GRID);
    expect_of(s, 0, SIX_O_CLOCK + 4 * 86400, FEED_REFUSED, "stands still");
}

static void feed_step_kept_address_from_a_stranger_is_not_used(void **state)
{
    struct scene *s = *state;
    struct store_feed feed;
    start_nws(s);
    feed = kept_of(s, "nws");
    snprintf(feed.address, sizeof feed.address, "../../alerts");
    assert_int_equal(store_feed_write(s->store, "nws", &feed, &s->error), 0);
    answer_text(s, 200, GEO, NWS_POINT);
    answer_text(s, 200, GEO, NWS_GRID);
    expect_of(s, 0, s->next_s, FEED_ACCEPTED, "");
    expect_request(s, 2, "GET /forecast/points/");
}

static void start_stations(struct scene *s)
{
    be_in_the_us(s);
    snprintf(s->config.feeds[0].name, sizeof s->config.feeds[0].name, "nws-stations");
    answer_text(s, 200, GEO, NWS_POINT);
    answer_text(s, 200, GEO, NWS_STATIONS);
    answer_text(s, 200, GEO, NWS_OBSERVATIONS);
    expect_of(s, 0, NOW, FEED_ACCEPTED, "");
}

static void feed_step_stations_are_looked_up_once_and_asked_for_what_is_new(void **state)
{
    struct scene *s = *state;
    start_stations(s);
    expect_request(s, 0, "GET /forecast/points/33.9,-84.1 ");
    expect_request(s, 1, "GET /forecast/gridpoints/ZZZ/12,34/stations ");
    expect_request(s, 2,
                   "GET /forecast/stations/KZZZ/observations?start=2031-05-01T06:09:00Z&"
                   "limit=500 HTTP/1.1\r\n");
    struct store_feed feed = kept_of(s, "nws-stations");
    assert_string_equal(feed.address, "KZZZ,KYYY,KMID");
    assert_true(feed.end_s == SIX_O_CLOCK);
    assert_true(feed.issued_s == SIX_O_CLOCK - 420); /* the newest report */
    /* The next time is 5 to 15 minutes past the hour. */
    assert_true(s->next_s >= SIX_O_CLOCK + 3600 + 300 && s->next_s <= SIX_O_CLOCK + 3600 + 900);
    expect_of(s, 0, s->next_s, FEED_ACCEPTED, ""); /* the same reports once more: no harm */
    expect_request(s, 3, "GET /forecast/stations/KZZZ/observations?start=2031-05-04T03:00:00Z&");
    assert_int_equal(standin_requests(s->standin), 4);
}

static void feed_step_stations_measured_hours_reach_the_plan(void **state)
{
    struct scene *s = *state;
    size_t hours = 0;
    start_stations(s);
    check_near(stored_rain_mm(s, NOW, &hours), 1.6, 1e-9, "rain of the three reports");
    assert_int_equal(hours, 3);
}

static void feed_step_stations_next_one_stands_in_for_a_silent_one(void **state)
{
    struct scene *s = *state;
    start_stations(s);
    answer_text(s, 200, GEO, "{\"features\":[]}");
    answer_text(s, 404, "", "");
    answer_text(s, 200, GEO, NWS_OBSERVATIONS);
    expect_of(s, 0, s->next_s, FEED_ACCEPTED, "");
    expect_request(s, 3, "GET /forecast/stations/KZZZ/");
    expect_request(s, 4, "GET /forecast/stations/KYYY/");
    expect_request(s, 5, "GET /forecast/stations/KMID/");
    assert_string_equal(kept_of(s, "nws-stations").address, "KZZZ,KYYY,KMID");
    answer_text(s, 503, "", "{\"title\":\"Resource Unavailable\"}"); /* not the station's fault */
    expect_of(s, 0, s->next_s, FEED_REFUSED, "Resource Unavailable");
    assert_int_equal(standin_requests(s->standin), 7);
    standin_clear(s->standin);
    answer_text(s, 200, GEO, "{\"features\":[]}"); /* all silent: looked up again next time */
    expect_of(s, 0, s->next_s, FEED_REFUSED, "none of the station's 0 reports");
    assert_int_equal(standin_requests(s->standin), 10);
    assert_string_equal(kept_of(s, "nws-stations").address, "");
}

static void feed_step_stations_that_stand_still_are_refused(void **state)
{
    struct scene *s = *state;
    start_stations(s);
    expect_of(s, 0, SIX_O_CLOCK + 86400, FEED_REFUSED, "the station stands still");
    assert_true(kept_of(s, "nws-stations").end_s == SIX_O_CLOCK);
}

static void feed_step_stations_none_near_is_said(void **state)
{
    struct scene *s = *state;
    be_in_the_us(s);
    snprintf(s->config.feeds[0].name, sizeof s->config.feeds[0].name, "nws-stations");
    answer_text(s, 200, GEO, NWS_POINT);
    answer_text(s, 200, GEO, "{\"features\":[]}");
    expect_of(s, 0, NOW, FEED_REFUSED, "no station within 40 km");
    assert_int_equal(standin_requests(s->standin), 2);
}

static void feed_step_grid_and_stations_share_their_host(void **state)
{
    struct scene *s = *state;
    start_stations(s);
    add_feed(s, "nws", standin_url(s->standin));
    expect_of(s, 1, NOW + 1, FEED_NOT_DUE, "");
    assert_true(s->next_s == NOW + 300); /* the floor of the one that asked */
}

/* --- climate normals ---------------------------------------------------------------------- */

/* No feeds; normals are asked for at the stand-in. */
static void ask_for_normals(struct scene *s)
{
    struct config_feed *feed = &s->config.normals;
    s->config.feed_count = 0;
    snprintf(feed->name, sizeof feed->name, "power");
    snprintf(feed->url, sizeof feed->url, "%s", standin_url(s->standin));
}

static void answer_normals(struct scene *s)
{
    size_t length = 0;
    char *text = power_document_write(&s->config.site, 2021, 10, &length);
    standin_answer(s->standin, 200, JSON, text, length);
    free(text);
}

static void expect_normals(struct scene *s, int64_t now_s, enum feed_outcome expected,
                           const char *words)
{
    s->error.text[0] = '\0';
    enum feed_outcome got = feed_step(&s->config, &s->config.normals, s->store, s->program, now_s,
                                      NULL, &s->next_s, &s->error);
    if (got != expected)
        fail_msg("outcome %d instead of %d: %s", (int)got, (int)expected, s->error.text);
    if (!strstr(s->error.text, words))
        fail_msg("words: '%s'", s->error.text);
}

/* Warmest of January as a plan would have it, NAN without normals. */
static double planned_january_c(struct scene *s)
{
    struct records records;
    if (store_load(s->store, NOW, &s->config.site, &UTC, 2, 12, &records, &s->error) != 0)
        fail_msg("%s", s->error.text);
    double january_c = records.has_normals ? records.normals[0].temperature_max_c : NAN;
    records_free(&records);
    return january_c;
}

static void import_normals(struct scene *s)
{
    char path[128];
    snprintf(path, sizeof path, "%s/normals.csv", s->folder);
    FILE *f = fopen(path, "w");
    assert_non_null(f);
    fputs("month,tmax_c,tmin_c,dewpoint_c,wind_2m_m_s,clear_ratio,rain_mm,wet_days\n", f);
    for (int m = 1; m <= 12; m++)
        fprintf(f, "%d,30,10,5,2,0.6,40,5\n", m);
    fclose(f);
    if (import_path(s->store, path, NULL, &s->error) != 0)
        fail_msg("%s", s->error.text);
}

static void feed_step_normals_are_fetched_once_and_kept_for_years(void **state)
{
    struct scene *s = *state;
    ask_for_normals(s);
    answer_normals(s);
    assert_true(isnan(planned_january_c(s)));
    expect_normals(s, NOW, FEED_ACCEPTED, "");
    expect_request(s, 0,
                   "GET /forecast?parameters=T2M_MAX,T2M_MIN,T2MDEW,WS2M,ALLSKY_SFC_SW_DWN,"
                   "PRECTOTCORR&community=AG&longitude=-3.1234&latitude=41.5678&"
                   "start=20210101&end=20301231&format=JSON&time-standard=UTC HTTP/1.1\r\n");
    check_near(planned_january_c(s), 21, 1e-9, "warmest of January");
    struct store_normals normals;
    assert_int_equal(store_normals_read(s->store, &normals, &s->error), 0);
    assert_string_equal(normals.feed, "power"); /* their origin */
    assert_false(normals.imported);
    assert_true(s->next_s > NOW + 4 * 365 * (int64_t)86400);
    for (int years = 0; years < 5; years++) {
        store_close(s->store);
        open_store(s);
        assert_int_equal(feed_settle_normals(&s->config, s->store, &s->error), 0);
        expect_normals(s, NOW + years * 365 * (int64_t)86400, FEED_NOT_DUE, "");
        check_near(planned_january_c(s), 21, 1e-9, "kept");
    }
    assert_int_equal(standin_requests(s->standin), 1);
}

static void feed_step_imported_normals_win_and_nothing_is_asked(void **state)
{
    struct scene *s = *state;
    ask_for_normals(s);
    answer_normals(s);
    import_normals(s);
    expect_normals(s, NOW, FEED_NOT_DUE, "");
    assert_int_equal(standin_requests(s->standin), 0);
    check_near(planned_january_c(s), 30, 0, "imported");
}

static void feed_step_normals_imported_later_win(void **state)
{
    struct scene *s = *state;
    ask_for_normals(s);
    answer_normals(s);
    expect_normals(s, NOW, FEED_ACCEPTED, "");
    import_normals(s);
    check_near(planned_january_c(s), 30, 0, "imported");
    assert_int_equal(feed_settle_normals(&s->config, s->store, &s->error), 0);
    check_near(planned_january_c(s), 30, 0, "imported");
}

static void feed_step_normals_of_another_place_are_forgotten_and_asked_again(void **state)
{
    struct scene *s = *state;
    ask_for_normals(s);
    answer_normals(s);
    expect_normals(s, NOW, FEED_ACCEPTED, "");
    s->config.site.latitude_deg = 40.1;
    assert_int_equal(feed_settle_normals(&s->config, s->store, &s->error), 0);
    assert_true(isnan(planned_january_c(s)));
    answer_normals(s);
    expect_normals(s, NOW + 60, FEED_NOT_DUE, ""); /* its host's floor of an hour */
    assert_true(s->next_s == NOW + 3600);
    expect_normals(s, s->next_s, FEED_ACCEPTED, "");
    check_near(planned_january_c(s), 21, 1e-9, "of the new place");
}

static void feed_step_normals_no_longer_wanted_are_forgotten_and_can_come_back(void **state)
{
    struct scene *s = *state;
    ask_for_normals(s);
    answer_normals(s);
    expect_normals(s, NOW, FEED_ACCEPTED, "");
    s->config.normals.name[0] = '\0'; /* normals = file */
    assert_int_equal(feed_settle_normals(&s->config, s->store, &s->error), 0);
    assert_true(isnan(planned_january_c(s)));
    ask_for_normals(s);
    expect_normals(s, NOW + 3600, FEED_ACCEPTED, ""); /* not in five years */
    check_near(planned_january_c(s), 21, 1e-9, "again");
}

static void feed_step_normals_refused_keep_nothing_and_back_off(void **state)
{
    struct scene *s = *state;
    ask_for_normals(s);
    standin_answer(s->standin, 200, JSON, "{\"header\":{}}", 13);
    expect_normals(s, NOW, FEED_REFUSED, "'properties.parameter'");
    assert_true(isnan(planned_january_c(s)));
    assert_true(s->next_s == NOW + 3600); /* its floor */
    answer_normals(s);
    expect_normals(s, s->next_s, FEED_ACCEPTED, "");
    check_near(planned_january_c(s), 21, 1e-9, "then");
}

static void feed_step_normals_from_a_stranger_are_not_believed(void **state)
{
    struct scene *s = *state;
    static const char month[] = "[15,10,8,2.5,0.7,40,5]";
    static const char *const rows[][2] = {
        {NULL, NULL}, /* taken */
        {"[15,10,8,2.5,0.7,40,5]]", "[15,10,8,2.5,0.7,40,5],[15,10,8,2.5,0.7,40,5]]"},
        {"[15,10,8,2.5,0.7,40,5],", ""},
        {"[15,", "[5,"},         /* colder than the coldest */
        {"15,10,8", "15,10,16"}, /* dew point above */
        {"0.7", "1.7"},
        {"0.7", "0"},
        {"2.5", "-1"},
        {"40", "\"40\""},
        {"5]", "32]"},
        {"5]", "5,1]"},
        {"\"hours\":[]", "\"hours\":[{\"start_s\":1935640800,\"kind\":2,\"temperature_c\":1}]"},
        {"document", "refused"},
    };
    char good[2048] = "{\"outcome\":\"document\",\"http_status\":200,\"reached\":true,"
                      "\"last_modified\":\"\",\"expires_s\":0,\"date_s\":0,\"retry_after_s\":0,"
                      "\"wait_s\":0,\"address\":\"\",\"issued_s\":0,\"notes\":\"\",\"error\":\"\","
                      "\"hours\":[],\"normals\":[";
    for (int m = 0; m < 12; m++)
        snprintf(good + strlen(good), sizeof good - strlen(good), "%s%s", m ? "," : "", month);
    strcat(good, "]}");
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct feed_handback got = {.http_status = 77};
        char *text = rows[i][0] ? variant_change(good, rows[i][0], rows[i][1]) : strdup(good);
        int result = feed_handback_read(text, strlen(text), adapter_find("power"), &got, &s->error);
        if ((result == 0) != (i == 0))
            fail_msg("row %zu: %d", i, result);
        assert_int_equal(got.http_status, i == 0 ? 200 : 77);
        assert_int_equal(feed_handback_read(text, strlen(text), adapter_find("met"), &got, NULL),
                         -1);
        free(text);
    }
}

/* --- the child ---------------------------------------------------------------------------- */

static int run_script(struct scene *s, const char *body, int most_s, int stop_fd, bool *stopped)
{
    char *output = NULL;
    size_t length = 0;
    write_script(s, body);
    char *argv[] = {s->program, NULL};
    s->error.text[0] = '\0';
    const struct feed_wait wait = {.stop_fd = stop_fd, .wake_fd = -1};
    int result = feed_child_run(argv, most_s, &wait, 1, &output, &length, stopped, &s->error);
    if (result == 0)
        free(output);
    return result;
}

static void feed_child_run_misbehaving_children_are_ended_with_words(void **state)
{
    struct scene *s = *state;
    static const struct {
        const char *body, *words;
    } rows[] = {
        {"exit 2", "code 2"},
        {"kill -11 $$", "signal 11"},
        {"exec sleep 60", "did not end in time"},
        {"trap '' TERM; exec sleep 60", "did not end in time"},
        {"exec >&-; trap '' TERM; exec sleep 60", "signal 9"},
        {"head -c 5000000 /dev/zero; exec sleep 60", "more than 4194304 bytes"},
        {"cat /dev/zero", "more than 4194304 bytes"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        bool stopped = true;
        if (run_script(s, rows[i].body, 1, -1, &stopped) == 0)
            fail_msg("%s: taken", rows[i].body);
        if (!strstr(s->error.text, rows[i].words))
            fail_msg("%s: %s", rows[i].body, s->error.text);
        assert_false(stopped);
        assert_true(waitpid(-1, NULL, WNOHANG) < 0); /* no child is left */
    }
    bool stopped = true;
    assert_int_equal(run_script(s, "exit 1", 5, -1, &stopped), 0);
    assert_int_equal(run_script(s, "cat; exit 0", 5, -1, &stopped), 0); /* input is empty */
    char *argv[] = {s->folder, NULL};                                   /* a folder */
    char *output = NULL;
    size_t length = 0;
    assert_int_equal(feed_child_run(argv, 1, NULL, 1, &output, &length, &stopped, &s->error), -1);
    assert_non_null(strstr(s->error.text, "cannot be started"));
}

static void feed_child_run_lets_signals_through_to_the_child(void **state)
{
    struct scene *s = *state;
    sigset_t block;
    sigset_t before;
    bool stopped = false;
    sigemptyset(&block);
    sigaddset(&block, SIGTERM);
    sigprocmask(SIG_BLOCK, &block, &before); /* as a daemon with a signal descriptor does */
    int result = run_script(s, "kill -TERM $$; exit 0", 5, -1, &stopped);
    sigprocmask(SIG_SETMASK, &before, NULL);
    assert_int_equal(result, -1);
    assert_non_null(strstr(s->error.text, "signal 15"));
}

static void feed_step_stop_lets_a_transfer_finish(void **state)
{
    struct scene *s = *state;
    int stop[2];
    assert_int_equal(pipe2(stop, O_CLOEXEC), 0);
    assert_int_equal(write(stop[1], "x", 1), 1);
    answer_good(s, JSON);
    const struct feed_wait wait = {.stop_fd = stop[0], .wake_fd = -1};
    assert_int_equal(feed_step(&s->config, &s->config.feeds[0], s->store, s->program, NOW, &wait,
                               &s->next_s, &s->error),
                     FEED_ACCEPTED);
    close(stop[0]);
    close(stop[1]);
}

struct waking {
    int fd;
    int times;
};

static void count_waking(void *context)
{
    struct waking *waking = context;
    char byte;
    assert_int_equal(read(waking->fd, &byte, 1), 1);
    waking->times++;
}

static void feed_child_run_wakes_its_caller_and_reads_on(void **state)
{
    struct scene *s = *state;
    int wake[2];
    char *output = NULL;
    size_t length = 0;
    bool stopped = false;
    assert_int_equal(pipe2(wake, O_CLOEXEC), 0);
    struct waking waking = {wake[0], 0};
    const struct feed_wait wait = {-1, wake[0], count_waking, &waking};
    char *argv[] = {s->program, NULL};
    write_script(s, "echo a; sleep 0.3; echo b");
    assert_int_equal(write(wake[1], "xy", 2), 2);
    assert_int_equal(feed_child_run(argv, 30, &wait, 1, &output, &length, &stopped, &s->error), 0);
    assert_int_equal(waking.times, 2);
    assert_int_equal(length, 4);
    assert_memory_equal(output, "a\nb\n", 4);
    assert_false(stopped);
    free(output);
    close(wake[0]);
    close(wake[1]);
}

static void feed_child_run_stop_gives_up_a_child_that_goes_on(void **state)
{
    struct scene *s = *state;
    int stop[2];
    bool stopped = false;
    assert_int_equal(pipe2(stop, O_CLOEXEC), 0);
    close(stop[1]); /* hung up counts as well */
    assert_int_equal(run_script(s, "exec sleep 60", 30, stop[0], &stopped), -1);
    assert_non_null(strstr(s->error.text, "to stop the service"));
    assert_true(stopped);
    close(stop[0]);
}

static void feed_step_fetch_that_was_stopped_is_nobodys_fault(void **state)
{
    struct scene *s = *state;
    int stop[2];
    assert_int_equal(pipe2(stop, O_CLOEXEC), 0);
    close(stop[1]);
    write_script(s, "exit 2");
    const struct feed_wait wait = {.stop_fd = stop[0], .wake_fd = -1};
    assert_int_equal(feed_step(&s->config, &s->config.feeds[0], s->store, s->program, NOW, &wait,
                               &s->next_s, &s->error),
                     FEED_FAILED);
    struct store_feed feed = kept(s);
    assert_true(feed.failures == 0 && feed.last_error[0] == '\0');
    assert_true(feed.next_allowed_s == NOW + 600);
    close(stop[0]);
}

/* --- what the child hands back ------------------------------------------------------------ */

static const char HANDBACK[] =
    "{\"outcome\":\"document\",\"http_status\":200,\"reached\":true,\"last_modified\":\"\","
    "\"expires_s\":0,\"date_s\":0,\"retry_after_s\":0,\"wait_s\":0,\"address\":\"\",\"issued_s\":"
    "1935637920,\"notes\":\"\","
    "\"error\":\"\",\"hours\":[{\"start_s\":1935640800,\"kind\":2,\"temperature_c\":12.5,\"rain_"
    "mm\":0.0},"
    "{\"start_s\":1935644400,\"kind\":2,\"temperature_c\":13.5,\"rain_probability\":1}],"
    "\"normals\":[]}\n";

static int read_changed(const char *find, const char *replace, struct feed_handback *out,
                        struct error *error)
{
    char text[2048];
    const char *at = strstr(HANDBACK, find);
    if (!at)
        fail_msg("no '%s'", find);
    int n = snprintf(text, sizeof text, "%.*s%s%s", (int)(at - HANDBACK), HANDBACK, replace,
                     at + strlen(find));
    return feed_handback_read(text, (size_t)n, adapter_find("met"), out, error);
}

static void feed_handback_read_takes_what_perchd_fetch_writes(void **state)
{
    (void)state;
    struct feed_handback got;
    struct error error;
    assert_int_equal(read_changed("\n", " ", &got, &error), 0);
    assert_int_equal(got.hour_count, 2);
    check_near(got.hours[0].temperature_c, 12.5, 0, "temperature");
    assert_true(isnan(got.hours[0].rain_probability)); /* not there: not known */
    check_near(got.hours[1].rain_probability, 1, 0, "probability");
    assert_true(got.hours[1].issued_s == 1935637920);
    assert_int_equal(got.hours[1].kind, WEATHER_FORECAST);
    feed_handback_free(&got);
}

static void feed_handback_read_anything_else_is_refused(void **state)
{
    (void)state;
    static const char *const rows[][2] = {
        {"\"document\"", "\"documents\""},
        {"\"document\"", "7"},
        {"\"document\"", "\"failed\""}, /* but with hours */
        {"\"http_status\":200,", ""},
        {"200", "\"200\""},
        {"200", "200.0"},
        {"200", "1000"},
        {"true", "1"},
        {"\"last_modified\":\"\",", ""},
        {"\"expires_s\":0", "\"expires_s\":-1"},
        {"\"date_s\":0", "\"date_s\":1e9"},
        {"\"date_s\":0", "\"date_s\":999999999999"},
        {"1935637920", "9223372036854775807"},
        {"1935637920", "1825637920"}, /* hours far from their issue */
        {"\"notes\":\"\",", ""},
        {"\"error\":\"\",", "\"error\":null,"},
        {"\"hours\":[", "\"hours\":{},\"x\":["},
        {"\"start_s\":1935640800", "\"start_s\":1935640801"},
        {"\"start_s\":1935640800", "\"start_s\":1935644400"}, /* twice the same */
        {"\"start_s\":1935640800", "\"start_s\":1935648000"}, /* descending */
        {"\"start_s\":1935640800,", ""},
        {"12.5", "60.01"},
        {"12.5", "\"12.5\""},
        {"12.5", "null"},
        {"12.5", "NaN"},
        {"\"rain_mm\":0.0", "\"rain_mm\":-0.1"},
        {"\"rain_mm\":0.0", "\"rain_mm\":201"},
        {"\"rain_probability\":1", "\"rain_probability\":1.5"},
        {"\"temperature_c\":13.5", "\"radiation_w_m2\":1601"},
        {"\"temperature_c\":13.5", "\"temperature_c\":13.5,\"temperature_c\":14"},
        {"}\n", "} more"},
        {"{\"outcome\"", "[{\"outcome\""},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct feed_handback got = {.http_status = 77};
        struct error error = {""};
        if (read_changed(rows[i][0], rows[i][1], &got, &error) == 0)
            fail_msg("%s for %s: taken", rows[i][1], rows[i][0]);
        assert_non_null(strstr(error.text, "something else"));
        assert_int_equal(got.http_status, 77);
    }
    struct feed_handback got;
    assert_int_equal(feed_handback_read(NULL, 0, adapter_find("met"), &got, NULL), -1);
    assert_int_equal(feed_handback_read("", 0, adapter_find("met"), &got, NULL), -1);
}

static void feed_step_stranger_in_place_of_the_child_is_not_believed(void **state)
{
    struct scene *s = *state;
    char body[4096];
    snprintf(body, sizeof body, "cat <<'END'\n%s\nEND", HANDBACK);
    *strstr(body, "12.5") = '9'; /* 92.5 C */
    write_script(s, body);
    expect(s, NOW, FEED_FAILED, "something else");
    assert_true(kept(s).issued_s == 0);
    assert_true(s->next_s == NOW + 600);
}

#define CASE(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        CASE(feed_step_first_document_is_stored_whole),
        CASE(feed_step_before_its_time_asks_nothing_even_after_a_restart),
        CASE(feed_step_second_request_is_conditional_to_the_letter),
        CASE(feed_step_same_document_twice_counts_once),
        CASE(feed_step_newer_issue_replaces_hours_to_come),
        CASE(feed_step_expires_is_obeyed_within_bounds),
        CASE(feed_step_places_are_spread),
        CASE(feed_step_refusals_wait_by_class),
        CASE(feed_step_refused_document_expires_too_within_an_hour),
        CASE(feed_step_server_errors_back_off_to_six_hours),
        CASE(feed_step_refused_identity_stops_for_hours),
        CASE(feed_step_nobody_reached_tries_quickly_then_hourly),
        CASE(feed_step_broken_answer_keeps_the_floor),
        CASE(feed_step_success_forgets_failures),
        CASE(feed_step_malformed_document_keeps_the_last_good_one),
        CASE(feed_step_retiring_product_is_used_with_a_warning),
        CASE(feed_step_304_to_a_first_request_is_refused_and_asked_again),
        CASE(feed_step_304_after_the_stored_hours_are_past_drops_the_validator),
        CASE(feed_step_wrong_clock_stores_nothing),
        CASE(feed_step_wrong_clock_is_seen_in_any_answer),
        CASE(feed_step_wrong_clock_is_asked_about_every_ten_minutes),
        CASE(feed_step_answer_without_a_date_says_nothing_of_the_clock),
        CASE(store_feed_hasten_lets_no_feed_wait_longer),
        CASE(feed_step_stale_and_future_documents_are_refused),
        CASE(feed_step_document_of_past_hours_only_is_refused),
        CASE(feed_step_issue_just_ahead_counts_as_now),
        CASE(feed_step_older_issue_does_not_replace_a_newer_one),
        CASE(feed_step_issue_stored_under_a_clock_ahead_gives_way),
        CASE(feed_step_changed_place_ends_a_long_stop_and_the_validator),
        CASE(feed_step_clock_that_ran_ahead_does_not_block_for_years),
        CASE(feed_step_store_that_cannot_be_written_asks_nothing),
        CASE(feed_step_crash_during_a_request_keeps_the_floor),
        CASE(feed_step_missing_error_and_program_are_survived),
        CASE(feed_step_each_service_has_its_own_state_and_hours),
        CASE(feed_step_feeds_of_one_host_share_its_floor_across_restarts),
        CASE(feed_step_host_floor_from_a_clock_ahead_does_not_block),
        CASE(feed_step_host_that_refuses_stops_all_its_feeds),
        CASE(feed_step_unreached_host_does_not_delay_its_other_feed),
        CASE(feed_step_one_of_two_down_is_no_alarm_for_a_day),
        CASE(feed_step_one_of_two_down_is_an_alarm_where_a_person_must_act),
        CASE(feed_step_both_down_is_an_alarm_of_both),
        CASE(feed_step_wait_in_the_answers_words_is_kept_above_the_floor),
        CASE(feed_step_half_a_document_with_words_behind_is_refused),
        CASE(feed_step_unknown_feed_is_said),
        CASE(feed_step_nws_asks_for_the_cell_once_and_keeps_it),
        CASE(feed_step_nws_asks_for_the_cell_again_after_a_week),
        CASE(feed_step_nws_cell_that_is_gone_is_asked_for_once_more),
        CASE(feed_step_nws_cell_gone_for_good_stops_for_hours),
        CASE(feed_step_nws_cell_that_moved_away_is_asked_for_once_more),
        CASE(feed_step_nws_canonical_spelling_is_followed),
        CASE(feed_step_nws_answers_without_a_grid_wait_by_class),
        CASE(feed_step_nws_stale_grid_with_200_is_refused),
        CASE(feed_step_kept_address_from_a_stranger_is_not_used),
        CASE(feed_step_stations_are_looked_up_once_and_asked_for_what_is_new),
        CASE(feed_step_stations_measured_hours_reach_the_plan),
        CASE(feed_step_stations_next_one_stands_in_for_a_silent_one),
        CASE(feed_step_stations_that_stand_still_are_refused),
        CASE(feed_step_stations_none_near_is_said),
        CASE(feed_step_grid_and_stations_share_their_host),
        CASE(feed_step_normals_are_fetched_once_and_kept_for_years),
        CASE(feed_step_imported_normals_win_and_nothing_is_asked),
        CASE(feed_step_normals_imported_later_win),
        CASE(feed_step_normals_of_another_place_are_forgotten_and_asked_again),
        CASE(feed_step_normals_no_longer_wanted_are_forgotten_and_can_come_back),
        CASE(feed_step_normals_refused_keep_nothing_and_back_off),
        CASE(feed_step_normals_from_a_stranger_are_not_believed),
        CASE(feed_child_run_misbehaving_children_are_ended_with_words),
        CASE(feed_child_run_lets_signals_through_to_the_child),
        CASE(feed_step_stop_lets_a_transfer_finish),
        CASE(feed_child_run_wakes_its_caller_and_reads_on),
        CASE(feed_child_run_stop_gives_up_a_child_that_goes_on),
        CASE(feed_step_fetch_that_was_stopped_is_nobodys_fault),
        cmocka_unit_test(feed_handback_read_takes_what_perchd_fetch_writes),
        cmocka_unit_test(feed_handback_read_anything_else_is_refused),
        CASE(feed_step_stranger_in_place_of_the_child_is_not_believed),
    };
    return cmocka_run_group_tests_name("feed", tests, NULL, NULL);
}
