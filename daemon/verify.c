/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "verify.h"

#include <stdio.h>
#include <string.h>

#include "core/weather_merge.h"
#include "store_trial.h"
#include "weather_view.h"

enum { AGAIN_DAYS = 2, DAY_HOURS_MOST = 26, MARGIN_H = 4, DECIDED_AT_H = 6, HOURS_LEAST = 22 };
static const int64_t LATE_S = 3 * (int64_t)CIVIL_HOUR_S;

struct look_back {
    const struct config *config;
    const struct civil_zone *zone;
    struct store *store;
    const struct weather_view *came;
    struct error *error;
};

static void day_text(int64_t day, char out[16])
{
    struct civil_date date = civil_from_days(day);
    snprintf(out, 16, "%04d-%02d-%02d", date.year % 10000, date.month % 100, date.day % 100);
}

/* False when the day is not known well enough. */
static bool what_came(const struct look_back *l, int64_t start_s, size_t hours,
                      struct weather_day *out, enum weather_kind *against)
{
    const struct weather_view *came = l->came;
    size_t from = 0;
    *against = WEATHER_MEASURED;
    while (from < came->hour_count && came->hours[from].start_s < start_s)
        from++;
    if (from + hours > came->hour_count || came->hours[from].start_s - start_s >= CIVIL_HOUR_S)
        return false;
    for (size_t h = from; h < from + hours; h++)
        if (came->hours[h].kind > *against)
            *against = came->hours[h].kind;
    return *against != WEATHER_NORMAL &&
           weather_day_of(&l->config->site, came->hours + from, hours, out) == STATUS_OK;
}

/* 1 when the feed had spoken of the day, 0 when not (enough), -1 when the store failed. */
static int what_was_said(const struct look_back *l, const char *feed, int64_t start_s, size_t hours,
                         int64_t decided_s, struct weather_day *out)
{
    struct weather_offer offers[DAY_HOURS_MOST + 2 * MARGIN_H];
    struct weather_slot slots[DAY_HOURS_MOST + 2 * MARGIN_H];
    struct weather_hour day[DAY_HOURS_MOST];
    size_t count = 0;
    size_t slot_count = 0;
    size_t filled = 0;
    const int64_t margin_s = MARGIN_H * (int64_t)CIVIL_HOUR_S;
    if (hours > DAY_HOURS_MOST)
        return 0;
    if (store_archived_hours(l->store, feed, start_s - margin_s,
                             start_s + (int64_t)hours * CIVIL_HOUR_S + margin_s,
                             decided_s - CIVIL_DAY_S, decided_s, offers,
                             sizeof offers / sizeof *offers, &count, l->error) != 0)
        return -1;
    if (count < HOURS_LEAST ||
        weather_merge(offers, count, decided_s, slots, sizeof slots / sizeof *slots, &slot_count) !=
            STATUS_OK)
        return 0;
    const struct weather_task task = {.site = &l->config->site,
                                      .slots = slots,
                                      .slot_count = slot_count,
                                      .first_s = start_s,
                                      .count = hours};
    return weather_complete(&task, day, &filled) == STATUS_OK && filled == hours &&
           weather_day_of(&l->config->site, day, hours, out) == STATUS_OK;
}

static int try_day(struct look_back *l, char feeds[][32], size_t feed_count, int64_t day,
                   size_t *made)
{
    struct store_trial trials[WEATHER_LEADS];
    struct store_trial trial = {.lead_d = 0};
    int64_t start_s = civil_local_to_utc(l->zone, day, 0);
    trial.end_s = civil_local_to_utc(l->zone, day + 1, 0);
    size_t hours = (size_t)((trial.end_s - start_s) / CIVIL_HOUR_S);
    /* Half-hour zones: the hours that begin within the day. */
    int64_t first_s = civil_floor_hour(start_s + CIVIL_HOUR_S - 1);
    day_text(day, trial.day);
    if (!what_came(l, first_s, hours, &trial.came, &trial.against))
        return 0;
    for (size_t f = 0; f < feed_count; f++) {
        size_t count = 0;
        memcpy(trial.feed, feeds[f], sizeof trial.feed);
        for (int lead = 0; lead < WEATHER_LEADS; lead++) {
            int64_t decided_s =
                civil_local_to_utc(l->zone, day - lead, DECIDED_AT_H * CIVIL_HOUR_S);
            int said = what_was_said(l, feeds[f], first_s, hours, decided_s, &trial.forecast);
            trial.lead_d = lead;
            if (said < 0)
                return -1;
            if (said == 1)
                trials[count++] = trial;
        }
        if (store_trials_put(l->store, trials, count, l->error) != 0)
            return -1;
        *made += count;
    }
    return 0;
}

/* The first day to try. */
static int first_day(struct look_back *l, int64_t last, int64_t *first)
{
    char text[16];
    struct civil_date date;
    if (store_trials_until(l->store, text, l->error) != 0)
        return -1;
    *first = last - VERIFY_ARCHIVE_DAYS + 1;
    if (civil_parse_date(text, &date) == STATUS_OK && civil_days(date) - AGAIN_DAYS + 1 > *first)
        *first = civil_days(date) - AGAIN_DAYS + 1;
    return 0;
}

int verify_days(const struct config *config, const struct civil_zone *zone, struct store *store,
                int64_t at_s, size_t *made, struct error *error)
{
    struct records records;
    struct weather_view came = {.hours = NULL};
    char feeds[RECORDS_SOURCES_MOST][32];
    size_t feed_count = 0;
    struct look_back l = {config, zone, store, &came, error};
    int64_t last = civil_days(civil_local_date(zone, at_s - LATE_S)) - 1;
    int64_t first = 0;
    *made = 0;
    if (first_day(&l, last, &first) != 0)
        return -1;
    if (first > last)
        return 0;
    if (store_archived_feeds(store, civil_local_to_utc(zone, first, 0), feeds, RECORDS_SOURCES_MOST,
                             &feed_count, error) != 0)
        return -1;
    if (feed_count == 0)
        return 0;
    if (store_load(store, at_s, &config->site, zone, VERIFY_ARCHIVE_DAYS + 1, config->plan_days + 1,
                   &records, error) != 0)
        return -1;
    struct error why;
    int result = 0;
    if (weather_view_make(config, zone, &records, at_s, VERIFY_ARCHIVE_DAYS + 1, 1, &came, &why) !=
        0) {
        records_free(&records);
        return 0; /* no weather to look back on */
    }
    for (int64_t day = first; day <= last && result == 0; day++)
        result = try_day(&l, feeds, feed_count, day, made);
    if (result == 0)
        result = store_archive_thin(
            store, civil_floor_hour(at_s) - VERIFY_ARCHIVE_DAYS * (int64_t)CIVIL_DAY_S, error);
    weather_view_free(&came);
    records_free(&records);
    return result;
}
