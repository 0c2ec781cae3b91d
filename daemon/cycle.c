/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cycle.h"

#include <errno.h>
#include <malloc.h>
#include <poll.h>
#include <pthread.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/eventfd.h>
#include <unistd.h>

#include "clock.h"
#include "feed.h"
#include "hook.h"
#include "log.h"
#include "planner.h"
#include "sheet.h"
#include "station_file.h"
#include "verify.h"

enum {
    POLL_MS = 3000, /* how soon an import by another process is noticed */
    REPLAN_S = 900, /* a plan is never older */
    RETRY_S = 60,   /* after a failure */
    VERIFY_EVERY_S = 6 * 3600,
    FEED_RECHECK_S = 3600, /* the feed itself knows when; this bounds a clock set back */
};

struct cycle {
    struct cycle_options options;
    pthread_t thread;
    int stop_fd; /* readable: end */
    int wake_fd; /* readable: plan again */
    _Atomic int64_t busy_since_ms;
    _Atomic int64_t changes; /* told of */

    /* the thread's own */
    struct store *store;
    int64_t version;                            /* of the store when it was last looked at */
    int64_t feed_next_s[CONFIG_FEEDS_MOST + 1]; /* the last: normals */
    int64_t plan_next_s, planned_s;
    struct store_planned *runs; /* planned and underway */
    size_t run_count;
    bool published;
    bool untidy;             /* a plan has left freed memory behind */
    int64_t mark_s, mark_ms; /* the clock and the one that never jumps, when last looked at */
    int64_t since_s;         /* the clock has gone on evenly since then */
    int64_t covers;          /* changes that the plan underway is made with */
    bool unsure;             /* it has not been held against a server's since */
    bool frozen;
    struct station_file *station; /* NULL: there is none */
    char station_said[sizeof(struct error)];
    int64_t verify_next_s;
    char sheet_said[sizeof(struct error)];
    char said[sizeof(struct error)]; /* the planner's last complaint, said once */
};

int64_t cycle_next_s(int64_t now_s, const struct store_planned *runs, size_t count)
{
    int64_t next_s = civil_floor_hour(now_s) + CIVIL_HOUR_S;
    if (next_s > now_s + REPLAN_S)
        next_s = now_s + REPLAN_S;
    for (size_t i = 0; i < count; i++)
        if (runs[i].end_s > now_s && runs[i].end_s < next_s)
            next_s = runs[i].end_s;
    return next_s;
}

/* --- the feed ------------------------------------------------------------------------------- */

/* The services to ask, most trusted first, then the one for normals. NULL behind the last. */
static const struct config_feed *feed_at(const struct config *config, size_t index)
{
    if (index < config->feed_count)
        return &config->feeds[index];
    return index == config->feed_count && config->normals.name[0] ? &config->normals : NULL;
}

static void plan_meanwhile(void *context);

/* True when the plan may come out differently. */
static bool ask_feed(struct cycle *cycle, size_t index, int64_t now_s)
{
    const struct cycle_options *options = &cycle->options;
    const struct config_feed *feed = feed_at(options->config, index);
    struct error error = {""};
    int64_t next_s = now_s + RETRY_S;
    const struct feed_wait wait = {cycle->stop_fd, cycle->wake_fd, plan_meanwhile, cycle};
    enum feed_outcome outcome = feed_step(options->config, feed, cycle->store,
                                          options->fetch_program, now_s, &wait, &next_s, &error);
    cycle->unsure &= outcome == FEED_NOT_DUE;
    cycle->feed_next_s[index] = next_s < now_s + FEED_RECHECK_S ? next_s : now_s + FEED_RECHECK_S;
    switch (outcome) {
    case FEED_NOT_DUE:
        return false;
    case FEED_ACCEPTED:
        log_write(error.text[0] ? LOG_LEVEL_WARNING : LOG_LEVEL_INFO, "feed %s: new %s%s%s",
                  feed->name, index < options->config->feed_count ? "hours of weather" : "normals",
                  error.text[0] ? ": " : "", error.text);
        break;
    case FEED_UNCHANGED:
        log_write(LOG_LEVEL_INFO, "feed %s: nothing new", feed->name);
        break;
    case FEED_REFUSED:
        log_write(LOG_LEVEL_WARNING, "feed %s: refused, the last good hours stay: %s", feed->name,
                  error.text);
        break;
    case FEED_FAILED:
        log_write(LOG_LEVEL_WARNING, "feed %s: no answer: %s", feed->name, error.text);
        break;
    case FEED_CLOCK:
        log_write(LOG_LEVEL_ERROR, "feed %s: %s; the plan is frozen", feed->name, error.text);
        break;
    }
    return true;
}

static bool feed_due(const struct cycle *cycle, size_t index, int64_t now_s)
{
    return now_s >= cycle->feed_next_s[index] || now_s < cycle->planned_s;
}

static bool any_feed_due(const struct cycle *cycle, int64_t now_s)
{
    for (size_t i = 0; feed_at(cycle->options.config, i); i++)
        if (feed_due(cycle, i, now_s))
            return true;
    return false;
}

static bool take_event(int fd)
{
    uint64_t count;
    return read(fd, &count, sizeof count) == (ssize_t)sizeof count;
}

static bool is_ready(int fd)
{
    struct pollfd one = {.fd = fd, .events = POLLIN};
    return poll(&one, 1, 0) > 0;
}

/* True when the plan may come out differently. */
static bool ask_feeds(struct cycle *cycle, int64_t now_s)
{
    bool changed = false;
    for (size_t i = 0; feed_at(cycle->options.config, i) && !is_ready(cycle->stop_fd); i++)
        if (feed_due(cycle, i, now_s)) {
            atomic_store(&cycle->busy_since_ms, clock_monotonic_ms());
            changed |= ask_feed(cycle, i, now_s);
        }
    return changed;
}

/* A forecast from before the restart is worth showing while the feeds are asked. Without one the
 * first plan would stand on normals for the second or two that a feed takes. */
static bool holds_forecast(struct cycle *cycle, int64_t now_s)
{
    const struct config *config = cycle->options.config;
    for (size_t i = 0; i < config->feed_count; i++) {
        struct store_feed feed;
        if (store_feed_read(cycle->store, config->feeds[i].name, &feed, NULL) == 0 &&
            feed.end_s > now_s)
            return true;
    }
    return false;
}

/* --- the nursery's own weather ------------------------------------------------------------- */

/* True when there are new readings. */
static bool read_station(struct cycle *cycle, int64_t now_s)
{
    struct error error;
    if (!cycle->station)
        return false;
    int got = station_file_poll(cycle->station, cycle->store, now_s, &error);
    if (error.text[0] && strcmp(error.text, cycle->station_said) != 0)
        log_write(LOG_LEVEL_WARNING, "station: %s", error.text);
    if (error.text[0] || got > 0)
        snprintf(cycle->station_said, sizeof cycle->station_said, "%s", error.text);
    return got > 0;
}

/* Some times a day: readings of the last days may come late. */
static void look_back(struct cycle *cycle, int64_t now_s)
{
    struct error error;
    size_t made = 0;
    if (now_s < cycle->verify_next_s && now_s >= cycle->planned_s)
        return;
    cycle->verify_next_s = now_s + VERIFY_EVERY_S;
    if (verify_days(cycle->options.config, cycle->options.zone, cycle->store, now_s, &made,
                    &error) != 0)
        log_write(LOG_LEVEL_WARNING, "looking back on forecasts: %s", error.text);
}

/* --- the plan ------------------------------------------------------------------------------- */

/* The new plan's runs, and those underway that are in no plan any more. Without memory the quarter
 * of an hour has to do. */
static void keep_runs(struct cycle *cycle, int64_t now_s, const struct planner_bodies *bodies)
{
    struct store_planned *runs = calloc(cycle->run_count + bodies->run_count + 1, sizeof *runs);
    size_t count = 0;
    for (size_t i = 0; runs && i < cycle->run_count; i++)
        if (cycle->runs[i].start_s <= now_s && cycle->runs[i].end_s > now_s)
            runs[count++] = cycle->runs[i];
    for (size_t i = 0; runs && i < bodies->run_count; i++)
        runs[count++] = bodies->runs[i];
    free(cycle->runs);
    cycle->runs = runs;
    cycle->run_count = count;
}

/* The same complaint is said once, until it changes or a plan succeeds. */
static void complain(struct cycle *cycle, const struct error *error)
{
    if (strcmp(cycle->said, error->text) != 0)
        log_write(LOG_LEVEL_ERROR, "plan: %s; %s", error->text,
                  cycle->published ? "the plan before stays" : "there is no plan to serve yet");
    snprintf(cycle->said, sizeof cycle->said, "%s", error->text);
}

/* Takes the bodies' texts. */
static int publish(struct cycle *cycle, int64_t made_s, bool frozen, struct planner_bodies *bodies,
                   struct error *error)
{
    struct snapshot *snapshot =
        snapshot_new_take(bodies->json, bodies->sheet_text, made_s, bodies->good_until_s);
    bodies->json = NULL;
    bodies->sheet_text = NULL;
    if (snapshot && bodies->sheet_json) {
        int failed = snapshot_add_take(snapshot, SNAPSHOT_SHEET_JSON, bodies->sheet_json);
        bodies->sheet_json = NULL;
        if (failed) {
            snapshot_drop(snapshot);
            snapshot = NULL;
        }
    }
    if (!snapshot)
        return error_set(error, "out of memory for the plan's bodies");
    snapshot->frozen = frozen;
    snapshot->covers = cycle->covers;
    snapshot_publish_take(cycle->options.cell, snapshot);
    cycle->published = true;
    return 0;
}

/* Whether a server's clock has agreed with this one since it last jumped; without services there is
 * nobody to ask. */
static bool is_trusted(const struct cycle *cycle, const struct store_clock *clock, int64_t now_s)
{
    return !feed_at(cycle->options.config, 0) ||
           (clock->wrong_s == 0 && clock->agreed_s >= cycle->since_s && clock->agreed_s <= now_s);
}

/* What is published is what is written down as planned: if it cannot be written, the plan before
 * stays, and so does its record. Under a clock that may have jumped ahead nothing is written: runs
 * that never were would count as past. */
static int write_down(struct cycle *cycle, int64_t now_s, struct store_clock *clock,
                      const struct planner_bodies *bodies, struct error *error)
{
    if (cycle->unsure)
        return 0;
    int result = store_planned_replace(cycle->store, now_s, bodies->runs, bodies->run_count, error);
    if (result == 0)
        result = store_notices_replace(cycle->store, now_s, bodies->notices, bodies->notice_count,
                                       error);
    if (result == 0 && is_trusted(cycle, clock, now_s)) {
        clock->trusted_s = now_s;
        result = store_clock_write(cycle->store, clock, error);
    }
    return result;
}

static void say_sheet(struct cycle *cycle, const struct planner_bodies *bodies)
{
    const char *fault = bodies->sheet_fault.text;
    if (fault[0] && strcmp(fault, cycle->sheet_said) != 0)
        log_write(LOG_LEVEL_ERROR, "sheet: %s; the plan goes on without it", fault);
    snprintf(cycle->sheet_said, sizeof cycle->sheet_said, "%s", fault);
}

static int make_plan(struct cycle *cycle, int64_t now_s, struct store_clock *clock,
                     struct error *error)
{
    const struct cycle_options *options = &cycle->options;
    struct planner_bodies bodies = {0};
    /* A sheet is a promise to the crew: not by a clock that may have jumped. */
    int made = cycle->unsure ? planner_make(options->config, options->zone, cycle->store, now_s,
                                            &bodies, error)
                             : planner_make_and_issue(options->config, options->zone, cycle->store,
                                                      now_s, &bodies, error);
    if (made != 0)
        return -1;
    say_sheet(cycle, &bodies);
    int result = write_down(cycle, now_s, clock, &bodies, error);
    if (result == 0)
        result = publish(cycle, now_s, false, &bodies, error);
    if (result == 0)
        keep_runs(cycle, now_s, &bodies);
    if (result == 0 && !cycle->unsure)
        hook_call(options->config, cycle->store, now_s,
                  options->asked_s ? atomic_load(options->asked_s) : now_s, bodies.notices,
                  bodies.notice_count);
    planner_free(&bodies);
    return result;
}

/* The last plan from before, said to be that; without one there is none to serve. */
static int freeze_plan(struct cycle *cycle, const struct store_clock *clock, struct error *error)
{
    struct planner_bodies bodies = {0};
    if (clock->trusted_s == 0) {
        snapshot_excuse(cycle->options.cell,
                        "This computer's clock and the weather service's disagree, and there is no "
                        "plan from before. Set the clock.");
        snapshot_publish_take(cycle->options.cell, NULL); /* one made before it was known */
        cycle->published = false;
        return error_set(error, "no plan is made while the clock is wrong");
    }
    if (planner_make_frozen(cycle->options.config, cycle->options.zone, cycle->store, clock,
                            &bodies, error) != 0)
        return -1;
    int result = publish(cycle, clock->trusted_s, true, &bodies, error);
    planner_free(&bodies);
    return result;
}

/* A server's clock disagrees, or time has run back behind the last plan that had one agree. */
static bool is_wrong(struct store_clock *clock, int64_t now_s)
{
    if (clock->wrong_s == 0 && now_s < clock->trusted_s - FEED_CLOCK_S) {
        clock->wrong_s = now_s;
        clock->there_s = clock->trusted_s;
    }
    return clock->wrong_s != 0;
}

static int plan_or_freeze(struct cycle *cycle, int64_t now_s, struct error *error)
{
    struct store_clock clock;
    if (store_clock_read(cycle->store, &clock, error) != 0)
        return -1;
    bool wrong = is_wrong(&clock, now_s);
    if (wrong != cycle->frozen)
        log_write(wrong ? LOG_LEVEL_ERROR : LOG_LEVEL_INFO,
                  wrong ? "clock: it is wrong; the plan from before stays"
                        : "clock: a server agrees again");
    cycle->frozen = wrong;
    return wrong ? freeze_plan(cycle, &clock, error) : make_plan(cycle, now_s, &clock, error);
}

static void plan(struct cycle *cycle, int64_t now_s)
{
    struct error error = {""};
    cycle->planned_s = now_s;
    cycle->covers = atomic_load(&cycle->changes); /* before the records are read */
    if (plan_or_freeze(cycle, now_s, &error) != 0) {
        complain(cycle, &error);
        snapshot_failed(cycle->options.cell, cycle->covers);
        cycle->plan_next_s = now_s + RETRY_S;
        return;
    }
    if (cycle->said[0])
        log_write(LOG_LEVEL_INFO, "plan: works again");
    cycle->said[0] = '\0';
    cycle->untidy = true;
    cycle->plan_next_s = cycle_next_s(now_s, cycle->runs, cycle->run_count);
    int64_t sheet_s = sheet_due_s(cycle->options.config, cycle->options.zone, cycle->plan_next_s);
    if (sheet_s > now_s)
        cycle->plan_next_s = sheet_s;
}

/* What people order and hold cannot wait until a service has answered. */
static void plan_meanwhile(void *context)
{
    struct cycle *cycle = context;
    take_event(cycle->wake_fd);
    plan(cycle, clock_now_s());
}

/* --- the thread ----------------------------------------------------------------------------- */

/* Others' commits only: our own do not count. */
static bool store_changed(struct cycle *cycle)
{
    int64_t version = cycle->version;
    struct error error;
    if (store_version(cycle->store, &version, &error) != 0)
        complain(cycle, &error);
    bool changed = version != cycle->version;
    cycle->version = version;
    return changed;
}

/* A clock that was set is held against a server's soon. */
static void watch_clock(struct cycle *cycle, int64_t now_s, bool first)
{
    int64_t now_ms = clock_monotonic_ms();
    int64_t off_s = now_s - cycle->mark_s - (now_ms - cycle->mark_ms) / 1000;
    cycle->mark_s = now_s;
    cycle->mark_ms = now_ms;
    if (!first && off_s >= -FEED_CLOCK_S && off_s <= FEED_CLOCK_S)
        return;
    struct error error;
    cycle->since_s = now_s;
    cycle->unsure =
        feed_at(cycle->options.config, 0) != NULL && (!first || any_feed_due(cycle, now_s));
    struct store_clock clock;
    if (first && (store_clock_read(cycle->store, &clock, &error) != 0 || clock.wrong_s == 0))
        return;
    if (!first)
        log_write(LOG_LEVEL_WARNING, "clock: it was set by %lld s", (long long)off_s);
    memset(cycle->feed_next_s, 0, sizeof cycle->feed_next_s);
    if (store_feed_hasten(cycle->store, now_s + FEED_CLOCK_S, &error) != 0)
        complain(cycle, &error);
}

/* A round after a plan: by then the loop has let go of the plan before. */
static void tidy(struct cycle *cycle)
{
    if (!cycle->untidy)
        return;
    cycle->untidy = false;
    store_rest(cycle->store);
    malloc_trim(0);
}

/* One round; the clock is read anew each time, so that a jump is met at the next round. */
static void step(struct cycle *cycle, bool first)
{
    tidy(cycle);
    int64_t now_s = clock_now_s();
    watch_clock(cycle, now_s, first);
    bool due = store_changed(cycle) || first || take_event(cycle->wake_fd) ||
               now_s >= cycle->plan_next_s || now_s < cycle->planned_s;
    due |= read_station(cycle, now_s);
    bool feed = any_feed_due(cycle, now_s);
    if (due && (!feed || !first || holds_forecast(cycle, now_s))) {
        plan(cycle, now_s);
        due = false;
    }
    if (feed && ask_feeds(cycle, now_s))
        due = true;
    if (first) { /* nobody may be asked yet: then the clock has not run far ahead either */
        due |= cycle->unsure;
        cycle->unsure = false;
    }
    if (due && !is_ready(cycle->stop_fd))
        plan(cycle, clock_now_s());
    if (!is_ready(cycle->stop_fd) && !cycle->frozen && !cycle->unsure)
        look_back(cycle, now_s);
}

/* False when it is time to end. */
static bool wait_a_while(struct cycle *cycle)
{
    struct pollfd fds[] = {{.fd = cycle->stop_fd, .events = POLLIN},
                           {.fd = cycle->wake_fd, .events = POLLIN}};
    while (poll(fds, 2, POLL_MS) < 0 && errno == EINTR) {
    }
    return !(fds[0].revents & POLLIN);
}

static bool open_store(struct cycle *cycle)
{
    struct error error;
    cycle->store = store_open(cycle->options.config->store_path, false, &error);
    if (!cycle->store || feed_settle_normals(cycle->options.config, cycle->store, &error) != 0)
        complain(cycle, &error);
    return cycle->store != NULL;
}

static void *run(void *context)
{
    struct cycle *cycle = context;
    bool first = true;
    do {
        atomic_store(&cycle->busy_since_ms, clock_monotonic_ms());
        if (cycle->store || open_store(cycle)) {
            step(cycle, first);
            first = false;
        }
        atomic_store(&cycle->busy_since_ms, 0);
    } while (wait_a_while(cycle));
    store_close(cycle->store);
    return NULL;
}

static void cycle_free(struct cycle *cycle)
{
    if (cycle->stop_fd >= 0)
        close(cycle->stop_fd);
    if (cycle->wake_fd >= 0)
        close(cycle->wake_fd);
    free(cycle->runs);
    station_file_free(cycle->station);
    free(cycle);
}

struct cycle *cycle_start(const struct cycle_options *options, struct error *error)
{
    struct cycle *cycle = calloc(1, sizeof *cycle);
    if (!cycle) {
        error_set(error, "planner: out of memory");
        return NULL;
    }
    cycle->options = *options;
    if (options->config->station_csv[0])
        cycle->station = station_file_new(options->config->station_csv);
    cycle->stop_fd = eventfd(0, EFD_NONBLOCK | EFD_CLOEXEC);
    cycle->wake_fd = eventfd(0, EFD_NONBLOCK | EFD_CLOEXEC);
    int rc = cycle->stop_fd < 0 || cycle->wake_fd < 0
                 ? errno
                 : pthread_create(&cycle->thread, NULL, run, cycle);
    if (rc != 0) {
        error_set(error, "planner: %s", strerror(rc));
        cycle_free(cycle);
        return NULL;
    }
    return cycle;
}

static void signal_event(int fd)
{
    uint64_t one = 1;
    ssize_t ignored = write(fd, &one, sizeof one);
    (void)ignored; /* fails only when it is set already */
}

int64_t cycle_wake(struct cycle *cycle)
{
    int64_t change = atomic_fetch_add(&cycle->changes, 1) + 1;
    signal_event(cycle->wake_fd);
    return change;
}

int64_t cycle_busy_ms(const struct cycle *cycle)
{
    int64_t since_ms = atomic_load(&cycle->busy_since_ms);
    return since_ms == 0 ? 0 : clock_monotonic_ms() - since_ms;
}

void cycle_stop(struct cycle *cycle)
{
    if (!cycle)
        return;
    signal_event(cycle->stop_fd);
    pthread_join(cycle->thread, NULL);
    cycle_free(cycle);
}
