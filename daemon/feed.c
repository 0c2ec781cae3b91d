/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "feed.h"

#include <inttypes.h>
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "core/civil.h"
#include "adapter.h"
#include "feed_child.h"

/* Etiquette (docs/feed.md): no request before Expires, a stop after 403 and 429. A service's own
 * floor, interval and jitter are its adapter's. The back-off starts at ten minutes for all. */
static const int64_t BACKOFF_LEAST_S = 600;
static const int64_t EXPIRES_MOST_S = 12 * (int64_t)CIVIL_HOUR_S;
static const int64_t BACKOFF_MOST_S = 6 * (int64_t)CIVIL_HOUR_S;
static const int64_t THROTTLED_LEAST_S = 900;
static const int64_t STOP_S = 6 * (int64_t)CIVIL_HOUR_S;
static const int64_t STOP_MOST_S = CIVIL_DAY_S;
/* Where nobody was reached nobody is bothered: quick tries, then up to an hour. */
static const int QUICK_S[] = {5, 15, 45};
enum { QUICK_TRIES = 3 };
static const int64_t UNREACHED_MOST_S = 3600;
static const int64_t REFUSED_EXPIRES_MOST_S = 3600;
static const int64_t STATION_OLD_S = CIVIL_DAY_S; /* since its newest report */
static const int64_t SILENT_S = CIVIL_DAY_S;      /* down beside others: no alarm until then */

static const int64_t FEED_RECHECK_S = 3600; /* whether people's normals are still there */
static const int64_t TOO_OLD_S = 4 * (int64_t)CIVIL_DAY_S; /* a feed that stands still */
static const int CHILD_S = 60;
static const int FINISH_S = 5; /* to finish a transfer once the daemon wants to stop */

/* One step's view of things. */
struct step {
    const struct config *config;
    const struct config_feed *feed;
    const struct adapter *adapter;
    struct store *store;
    struct store_feed state;
    char host[512];
    int64_t host_next_s;
    int64_t now_s;
    char latitude[32], longitude[32], elevation[32]; /* as asked, always the same text */
    char asked[sizeof((struct store_feed *)0)->asked];
};

/* --- what is asked ------------------------------------------------------------------------ */

/* FNV-1a: spreads installations, guards nothing. */
static uint64_t hash_text(uint64_t hash, const char *text)
{
    for (; *text; text++)
        hash = (hash ^ (unsigned char)*text) * 0x100000001b3u;
    return hash;
}

static const uint64_t HASH_START = 0xcbf29ce484222325u;

/* + 0: no negative zero. */
static void describe_request(struct step *s)
{
    const struct sun_site *site = &s->config->site;
    config_url_host(s->feed->url, s->host, sizeof s->host);
    adapter_degrees(site->latitude_deg, false, s->latitude);
    adapter_degrees(site->longitude_deg, false, s->longitude);
    snprintf(s->elevation, sizeof s->elevation, "%.0f", round(site->elevation_m) + 0.0);
    uint64_t hash = hash_text(HASH_START, s->feed->url);
    const char *texts[] = {s->latitude, s->longitude, s->elevation, s->config->feed_contact,
                           s->feed->key_path};
    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++)
        hash = hash_text(hash_text(hash, "\n"), texts[i]);
    snprintf(s->asked, sizeof s->asked, "%016" PRIx64, hash);
}

/* 0..1, the same for the same service, place and number. */
static double spread(const struct step *s, int number)
{
    char text[16];
    snprintf(text, sizeof text, "%d", number);
    uint64_t hash = hash_text(hash_text(HASH_START, s->adapter->name), s->latitude);
    hash = hash_text(hash_text(hash, s->longitude), text);
    return (double)(hash % 1000) / 999;
}

/* --- when ---------------------------------------------------------------------------------- */

static int64_t clamp(int64_t x, int64_t low, int64_t high)
{
    return x < low ? low : x > high ? high : x;
}

static int64_t longer(int64_t a, int64_t b)
{
    return a > b ? a : b;
}

/* Seconds until the answer expires, by the service's own clock, at most most_s. */
static int64_t until_expiry(const struct step *s, const struct feed_handback *got, int64_t most_s)
{
    int64_t server_s = got->date_s ? got->date_s : s->now_s;
    return got->expires_s > server_s ? clamp(got->expires_s - server_s, 0, most_s) : 0;
}

/* Seconds until the next request after an answer that was good. */
static int64_t usual_delay(const struct step *s, const struct feed_handback *got)
{
    const struct adapter *adapter = s->adapter;
    int64_t jitter_s = (int64_t)(spread(s, 0) * (double)adapter->jitter_s);
    int64_t delay_s = adapter->interval_s;
    if (adapter->phase_s > 0)
        delay_s = civil_floor_hour(s->now_s) + CIVIL_HOUR_S + adapter->phase_s - s->now_s;
    delay_s = longer(delay_s, until_expiry(s, got, EXPIRES_MOST_S)) + jitter_s;
    return longer(delay_s, longer(adapter->floor_s, got->wait_s));
}

/* 10 min, 20 min ... most_s; a part of it by place, so that not all come back at once. */
static int64_t backoff_delay(const struct step *s, int failures, int64_t most_s)
{
    int64_t full_s = BACKOFF_LEAST_S << (failures < 8 ? failures - 1 : 7);
    double share = 0.75 + 0.25 * spread(s, failures);
    full_s = clamp(full_s, BACKOFF_LEAST_S, most_s);
    return clamp((int64_t)((double)full_s * share), BACKOFF_LEAST_S, most_s);
}

static int64_t unreached_delay(const struct step *s, int attempts)
{
    return attempts <= QUICK_TRIES ? QUICK_S[attempts - 1]
                                   : backoff_delay(s, attempts - QUICK_TRIES, UNREACHED_MOST_S);
}

static int64_t stop_delay(int failures)
{
    return clamp(STOP_S << (failures < 3 ? failures - 1 : 2), STOP_S, STOP_MOST_S);
}

/* Seconds until the next request after the failures-th answer in a row that gave nothing. */
static int64_t failure_delay(const struct step *s, const struct feed_handback *got, int failures)
{
    int64_t retry_s = clamp(got->retry_after_s, 0, BACKOFF_MOST_S);
    int64_t backoff_s = longer(retry_s, backoff_delay(s, failures, BACKOFF_MOST_S));
    int status = got->http_status;
    if (got->wait_s > 0) /* in the answer's own words */
        return longer(clamp(got->wait_s, 0, STOP_MOST_S), s->adapter->floor_s);
    if (status == 429)
        return longer(backoff_s, THROTTLED_LEAST_S);
    if (status == 400 || status == 422)
        return STOP_MOST_S;
    if (status >= 400 && status < 500 && status != 408)
        return stop_delay(failures);
    return longer(backoff_s, s->adapter->floor_s);
}

/* --- keeping ------------------------------------------------------------------------------- */

static void time_words(int64_t t_s, char out[CIVIL_TEXT])
{
    civil_format_rfc3339(t_s, 0, out);
}

static bool holds_hours(const struct store_feed *state, int64_t now_s)
{
    return state->failing_since_s == 0 && state->end_s > now_s;
}

/* Whether another service works, so that nobody need be told of this one yet. */
static bool others_work(struct step *s)
{
    for (size_t i = 0; i < s->config->feed_count; i++) {
        struct store_feed other;
        if (strcmp(s->config->feeds[i].name, s->adapter->name) != 0 &&
            store_feed_read(s->store, s->config->feeds[i].name, &other, NULL) == 0 &&
            holds_hours(&other, s->now_s))
            return true;
    }
    return false;
}

/* Keeps the words and the moment of the next request. When they cannot be written, the floor
 * written before this request still holds. for_people: the words are for a person in any case. */
static enum feed_outcome keep_failure(struct step *s, enum feed_outcome outcome, int64_t delay_s,
                                      bool for_people, const struct error *error)
{
    struct store_feed *state = &s->state;
    if (state->failing_since_s == 0 || state->failing_since_s > s->now_s)
        state->failing_since_s = s->now_s;
    bool quiet = !for_people && s->now_s - state->failing_since_s < SILENT_S && others_work(s);
    state->next_allowed_s = s->now_s + delay_s;
    state->last_error_s = quiet ? 0 : s->now_s;
    snprintf(state->last_error, sizeof state->last_error, "%s", quiet ? "" : error->text);
    if (store_feed_write_with_host(s->store, s->adapter->name, state, s->host, s->host_next_s,
                                   NULL) != 0)
        state->next_allowed_s = longer(state->next_allowed_s, s->now_s + s->adapter->floor_s);
    return outcome;
}

static bool needs_person(int status)
{
    return status >= 400 && status < 500 && status != 408 && status != 429;
}

/* Expires is obeyed of a document that cannot be used, too, but not for long: it may be a sign-in
 * page's. A host that refuses us or has too much of us is left alone by all its feeds. */
static enum feed_outcome keep_refusal(struct step *s, const struct feed_handback *got,
                                      const struct error *error)
{
    int status = got->http_status;
    s->state.unreached = 0;
    s->state.failures++;
    int64_t delay_s = failure_delay(s, got, s->state.failures);
    if (status < 400)
        delay_s = longer(delay_s, until_expiry(s, got, REFUSED_EXPIRES_MOST_S));
    if (status == 401 || status == 403 || status == 429)
        s->host_next_s = s->now_s + delay_s;
    return keep_failure(s, FEED_REFUSED, delay_s, needs_person(status), error);
}

static void keep_success(struct step *s, const struct feed_handback *got)
{
    s->state.unreached = 0;
    s->state.failures = 0;
    s->state.failing_since_s = 0;
    s->state.last_error[0] = '\0';
    s->state.expires_s = got->expires_s;
    s->state.next_allowed_s = s->now_s + usual_delay(s, got);
}

/* --- judging ------------------------------------------------------------------------------- */

/* A plan made for a wrong day kills plants; nothing is stored while the clocks disagree. What was
 * seen of them is written down first, since the plan depends on it. */
static bool clock_wrong(struct step *s, const struct feed_handback *got, struct error *error)
{
    char here[CIVIL_TEXT];
    char there[CIVIL_TEXT];
    struct store_clock clock = {.trusted_s = 0};
    int64_t off_s = s->now_s - got->date_s;
    if (got->date_s == 0)
        return false;
    bool wrong = off_s < -FEED_CLOCK_S - CHILD_S || off_s > FEED_CLOCK_S;
    if (store_clock_read(s->store, &clock, NULL) == 0) {
        if (!wrong)
            clock.agreed_s = s->now_s;
        clock.wrong_s = wrong ? s->now_s : 0;
        clock.there_s = wrong ? got->date_s : 0;
        store_clock_write(s->store, &clock, NULL);
    }
    time_words(s->now_s, here);
    time_words(got->date_s, there);
    if (wrong)
        error_set(error,
                  "this computer's clock says %s, the weather service's %s: set the clock; nothing "
                  "was stored",
                  here, there);
    return wrong;
}

/* Asked again soon, since the plan is frozen until a server agrees. */
static enum feed_outcome keep_clock(struct step *s, const struct error *error)
{
    return keep_failure(s, FEED_CLOCK, longer(FEED_CLOCK_S, s->adapter->floor_s), true, error);
}

/* 0 when the document's hours are worth storing. */
static int check_age(const struct step *s, const struct feed_handback *got, struct error *error)
{
    char issued[CIVIL_TEXT];
    char last[CIVIL_TEXT];
    int64_t end_s = got->hours[got->hour_count - 1].start_s + CIVIL_HOUR_S;
    time_words(got->issued_s, issued);
    time_words(end_s, last);
    if (got->issued_s > s->now_s + FEED_CLOCK_S)
        return error_set(error, "the forecast says it was issued at %s, which is to come", issued);
    if (got->issued_s < s->now_s - TOO_OLD_S)
        return error_set(error, "the forecast was issued at %s: the service stands still", issued);
    if (!(s->adapter->kinds & 1U << WEATHER_FORECAST))
        return got->issued_s >= s->now_s - STATION_OLD_S
                   ? 0
                   : error_set(error, "the newest report is of %s: the station stands still",
                               issued);
    if (end_s <= s->now_s)
        return error_set(error, "the forecast ends at %s and covers no hour to come", last);
    return 0;
}

static enum feed_outcome keep_unchanged(struct step *s, const struct feed_handback *got,
                                        struct error *error)
{
    if (got->last_modified[0])
        snprintf(s->state.last_modified, sizeof s->state.last_modified, "%s", got->last_modified);
    keep_success(s, got);
    return store_feed_write(s->store, s->adapter->name, &s->state, error) == 0 ? FEED_UNCHANGED
                                                                               : FEED_FAILED;
}

static enum feed_outcome on_unchanged(struct step *s, const struct feed_handback *got,
                                      struct error *error)
{
    if (s->state.last_modified[0] && s->state.end_s > s->now_s)
        return keep_unchanged(s, got, error);
    /* Nothing to be unchanged from: ask for the whole document next time. */
    s->state.last_modified[0] = '\0';
    error_set(error, "the service says 'unchanged' (304), but no forecast for the hours to come is "
                     "stored; the whole document is asked for next");
    return keep_refusal(s, got, error);
}

/* Words for the log; only a product that is being retired is also something for people. */
static void warn(struct step *s, const struct feed_handback *got, struct error *error)
{
    error->text[0] = '\0';
    s->state.warning[0] = '\0';
    if (got->notes[0])
        error_set(error, "accepted with some parts left out: %s", got->notes);
    if (got->http_status != 203)
        return;
    error_set(error, "accepted, but the service says that this kind of document is being retired "
                     "or is a trial (203): look for a newer perchd");
    snprintf(s->state.warning, sizeof s->state.warning, "%s", error->text);
}

/* A place as normals are kept for. */
static void place_words(const struct config *config, char out[64])
{
    char latitude[16];
    char longitude[16];
    adapter_degrees(config->site.latitude_deg, false, latitude);
    adapter_degrees(config->site.longitude_deg, false, longitude);
    snprintf(out, 64, "%s %s %.0f", latitude, longitude, round(config->site.elevation_m) + 0.0);
}

static bool has_normals(const struct config *config, const struct store_normals *normals)
{
    char place[64];
    place_words(config, place);
    return strcmp(normals->feed, config->normals.name) == 0 && strcmp(normals->place, place) == 0;
}

static enum feed_outcome on_normals(struct step *s, const struct feed_handback *got,
                                    struct error *error)
{
    char place[64];
    struct error problem;
    place_words(s->config, place);
    warn(s, got, error);
    s->state.issued_s = s->state.fetched_s = s->now_s;
    keep_success(s, got);
    if (store_feed_accept_normals(s->store, s->adapter->name, place, got->normals, &s->state,
                                  &problem) == 0)
        return FEED_ACCEPTED;
    *error = problem;
    s->state.next_allowed_s = s->now_s + s->adapter->floor_s;
    return FEED_FAILED;
}

static enum feed_outcome on_document(struct step *s, struct feed_handback *got, struct error *error)
{
    if (check_age(s, got, error) != 0)
        return keep_refusal(s, got, error);
    /* From a cache that lags behind; unless what is stored bears a time of a clock that ran ahead.
     */
    if (got->issued_s < s->state.issued_s && s->state.issued_s <= s->now_s) {
        got->last_modified[0] = '\0';
        return keep_unchanged(s, got, error);
    }
    int64_t issued_s = got->issued_s > s->now_s ? s->now_s : got->issued_s;
    for (size_t i = 0; i < got->hour_count; i++)
        got->hours[i].issued_s = issued_s;
    warn(s, got, error);
    struct store_feed *state = &s->state;
    snprintf(state->last_modified, sizeof state->last_modified, "%s", got->last_modified);
    state->issued_s = issued_s;
    state->fetched_s = s->now_s;
    state->first_s = got->hours[0].start_s;
    state->end_s = got->hours[got->hour_count - 1].start_s + CIVIL_HOUR_S;
    keep_success(s, got);
    struct error problem;
    if (store_feed_accept(s->store, s->adapter->name, got->hours, got->hour_count, state,
                          &problem) == 0)
        return FEED_ACCEPTED;
    *error = problem;
    state->next_allowed_s = s->now_s + s->adapter->floor_s;
    return FEED_FAILED;
}

/* The service's own words with what a person can do about it. */
static void explain_status(const struct step *s, const struct feed_handback *got, int64_t until_s,
                           struct error *error)
{
    char until[CIVIL_TEXT];
    const char *advice = "";
    time_words(until_s, until);
    if (got->http_status == 401 || got->http_status == 403)
        advice = s->feed->key_path[0]
                     ? " (it refuses this program, address or key: check contact and key file)"
                     : " (it refuses this program or address: check contact)";
    else if (got->http_status == 400 || got->http_status == 422)
        advice = " (it has no weather for this place: check latitude, longitude, elevation)";
    else if (got->http_status == 404 || got->http_status == 410)
        advice = s->adapter->absent ? s->adapter->absent : " (check its url)";
    else if (got->http_status == 429)
        advice = " (too many requests)";
    error_set(error, "%s%s; not asked again before %s", got->error, advice, until);
}

static enum feed_outcome on_status(struct step *s, const struct feed_handback *got,
                                   struct error *error)
{
    int64_t delay_s = failure_delay(s, got, s->state.failures + 1);
    explain_status(s, got, s->now_s + delay_s, error);
    return keep_refusal(s, got, error);
}

static enum feed_outcome on_no_answer(struct step *s, bool reached, const struct error *error)
{
    const struct feed_handback nothing = {.hour_count = 0};
    if (!reached) {
        s->host_next_s = s->now_s;
        s->state.unreached = s->state.unreached < 1000 ? s->state.unreached + 1 : 1000;
        return keep_failure(s, FEED_FAILED, unreached_delay(s, s->state.unreached), false, error);
    }
    s->state.unreached = 0;
    s->state.failures++;
    return keep_failure(s, FEED_FAILED, failure_delay(s, &nothing, s->state.failures), false,
                        error);
}

static void keep_address(struct step *s, const struct feed_handback *got)
{
    if (strcmp(s->state.address, got->address) == 0)
        return;
    snprintf(s->state.address, sizeof s->state.address, "%s", got->address);
    s->state.address_s = s->now_s;
}

static enum feed_outcome judge(struct step *s, struct feed_handback *got, struct error *error)
{
    keep_address(s, got);
    if (clock_wrong(s, got, error))
        return keep_clock(s, error);
    error_set(error, "%s", got->error);
    switch (got->outcome) {
    case ADAPTER_DOCUMENT:
        return got->has_normals ? on_normals(s, got, error) : on_document(s, got, error);
    case ADAPTER_UNCHANGED:
        return on_unchanged(s, got, error);
    case ADAPTER_REFUSED:
        return keep_refusal(s, got, error);
    case ADAPTER_STATUS:
        return on_status(s, got, error);
    case ADAPTER_FAILED:
        break;
    }
    return on_no_answer(s, got->reached, error);
}

/* --- asking -------------------------------------------------------------------------------- */

static char *mutable_text(const char *text)
{
    union { /* execve's argv is not const, though nothing writes to it */
        const char *text;
        char *argument;
    } u = {.text = text};
    return u.argument;
}

static int run_child(struct step *s, const char *program, const struct feed_wait *wait,
                     struct feed_handback *got, bool *stopped, struct error *error)
{
    char agent[400];
    char now[32];
    char since[32] = "";
    char *output = NULL;
    size_t length = 0;
    snprintf(agent, sizeof agent, "perchd/%s (%s)", PERCHD_VERSION, s->config->feed_contact);
    snprintf(now, sizeof now, "%" PRId64, s->now_s);
    if (s->state.end_s > 0 && s->state.issued_s > 0)
        snprintf(since, sizeof since, "%" PRId64, s->state.end_s);
    const char *pairs[][2] = {{"--feed", s->adapter->name},
                              {"--url", s->feed->url},
                              {"--latitude", s->latitude},
                              {"--longitude", s->longitude},
                              {"--elevation", s->elevation},
                              {"--user-agent", agent},
                              {"--now", now},
                              {"--since", since},
                              {"--if-modified-since", s->state.last_modified},
                              {"--address", s->state.address},
                              {"--key-file", s->feed->key_path}};
    char *argv[2 * (sizeof pairs / sizeof *pairs) + 2] = {mutable_text(program)};
    size_t count = 1;
    for (size_t i = 0; i < sizeof pairs / sizeof *pairs; i++) {
        if (!pairs[i][1][0])
            continue;
        argv[count++] = mutable_text(pairs[i][0]);
        argv[count++] = mutable_text(pairs[i][1]);
    }
    int result = feed_child_run(argv, CHILD_S, wait, FINISH_S, &output, &length, stopped, error);
    if (result == 0)
        result = feed_handback_read(output, length, s->adapter, got, error);
    free(output);
    return result;
}

static enum feed_outcome ask(struct step *s, const char *program, const struct feed_wait *wait,
                             struct error *error)
{
    struct feed_handback got = {.hour_count = 0};
    bool stopped = false;
    s->state.next_allowed_s = s->host_next_s = s->now_s + s->adapter->floor_s;
    if (store_feed_write_with_host(s->store, s->adapter->name, &s->state, s->host, s->host_next_s,
                                   error) != 0)
        return FEED_FAILED; /* a request that is not written down is not made */
    if (run_child(s, program, wait, &got, &stopped, error) != 0) {
        if (stopped)
            return FEED_FAILED; /* nobody's fault */
        return on_no_answer(s, true, error);
    }
    enum feed_outcome outcome = judge(s, &got, error);
    feed_handback_free(&got);
    return outcome;
}

/* What was learnt of another place or service does not hold. */
static void forget_other(struct step *s)
{
    struct store_feed *state = &s->state;
    int64_t floor_s = s->now_s + s->adapter->floor_s;
    snprintf(state->asked, sizeof state->asked, "%s", s->asked);
    state->last_modified[0] = '\0';
    state->address[0] = '\0';
    state->issued_s = 0;
    state->failures = state->unreached = 0;
    if (state->next_allowed_s > floor_s)
        state->next_allowed_s = floor_s;
}

/* Whether a request is allowed now; puts right what a changed configuration or clock left. */
static bool is_due(struct step *s)
{
    struct store_feed *state = &s->state;
    int64_t floor_s = s->now_s + s->adapter->floor_s;
    int64_t most_s = longer(STOP_MOST_S, s->adapter->interval_s + s->adapter->jitter_s);
    if (strcmp(state->asked, s->asked) != 0)
        forget_other(s);
    if (s->now_s - state->address_s >= s->adapter->address_keep_s || state->address_s > s->now_s)
        state->address[0] = '\0';
    /* written under a clock that ran ahead */
    if (state->next_allowed_s > s->now_s + most_s)
        state->next_allowed_s = floor_s;
    if (s->host_next_s > s->now_s + STOP_MOST_S)
        s->host_next_s = floor_s;
    return longer(state->next_allowed_s, s->host_next_s) <= s->now_s;
}

/* Normals are asked for once a place and years; not while people's own are there. */
static bool wants_normals(struct step *s, struct error *error)
{
    struct store_normals normals;
    if (store_normals_read(s->store, &normals, error) != 0 || normals.imported) {
        s->state.next_allowed_s = longer(s->state.next_allowed_s, s->now_s + FEED_RECHECK_S);
        return false;
    }
    if (!has_normals(s->config, &normals) && s->state.next_allowed_s > s->now_s + STOP_MOST_S)
        s->state.next_allowed_s = s->now_s;
    return true;
}

static enum feed_outcome step_read(struct step *s, const char *fetch_program,
                                   const struct feed_wait *wait, struct error *error)
{
    if (s->adapter->gives_normals && !wants_normals(s, error))
        return FEED_NOT_DUE;
    int64_t allowed_s = s->state.next_allowed_s;
    int64_t host_s = s->host_next_s;
    if (is_due(s))
        return ask(s, fetch_program, wait, error);
    if ((s->state.next_allowed_s != allowed_s || s->host_next_s != host_s) &&
        store_feed_write_with_host(s->store, s->adapter->name, &s->state, s->host, s->host_next_s,
                                   error) != 0)
        return FEED_FAILED;
    return FEED_NOT_DUE;
}

int feed_settle_normals(const struct config *config, struct store *store, struct error *error)
{
    struct store_normals normals;
    if (store_normals_read(store, &normals, error) != 0)
        return -1;
    if (!normals.feed[0] || has_normals(config, &normals))
        return 0;
    return store_feed_forget_normals(store, error);
}

enum feed_outcome feed_step(const struct config *config, const struct config_feed *feed,
                            struct store *store, const char *fetch_program, int64_t now_s,
                            const struct feed_wait *wait, int64_t *next_s, struct error *error)
{
    struct step s = {.config = config, .feed = feed, .store = store, .now_s = now_s};
    struct error words = {""};
    enum feed_outcome outcome = FEED_FAILED;
    s.adapter = adapter_find(feed->name);
    *next_s = now_s + BACKOFF_LEAST_S;
    if (!s.adapter) {
        error_set(&words, "there is no feed '%s'", feed->name);
        goto out;
    }
    describe_request(&s);
    if (store_feed_read(store, feed->name, &s.state, &words) == 0 &&
        store_host_read(store, s.host, &s.host_next_s, &words) == 0) {
        outcome = step_read(&s, fetch_program, wait, &words);
        *next_s = longer(s.state.next_allowed_s, s.host_next_s);
    }
out:
    if (error)
        *error = words;
    return outcome;
}
