/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The weather of a plan: every source's hours checked, corrected by what the nursery's own sensors
 * teach, merged and completed, with what there is to say about them.
 */
#ifndef PERCHD_DAEMON_WEATHER_VIEW_H
#define PERCHD_DAEMON_WEATHER_VIEW_H

#include "config.h"
#include "error.h"
#include "records.h"

/* How far the ladder had to be climbed down, by the age of the youngest forecast for the coming
 * day. */
enum weather_rung {
    WEATHER_RUNG_FORECAST, /* not older than 12 h: as fresh as many places get it */
    WEATHER_RUNG_OLD,      /* up to a day: used as it is */
    WEATHER_RUNG_FADING,   /* up to 3 days: the later its hours, the more of the normals in them */
    WEATHER_RUNG_FAINT,    /* up to 7 days: mostly the normals */
    WEATHER_RUNG_NORMALS,  /* none */
};

/* Hours of a source's part that were not used. */
struct weather_rejection {
    size_t source;
    enum weather_part part;
    enum weather_mark mark;
    int hours; /* in the last 72 h */
    int64_t last_s;
};

/* Two feeds that tell different weather for a day. */
struct weather_dispute {
    size_t source, other;
    int64_t day_s;    /* its start */
    unsigned differs; /* bits of enum weather_differs */
    double et0_mm, other_et0_mm;
};

#define WEATHER_REJECTIONS_MOST 16
#define WEATHER_DISPUTES_MOST   4
#define WEATHER_SPREAD_DAYS     12

struct weather_view {
    struct weather_hour *hours; /* contiguous, from history to horizon */
    size_t hour_count;
    int days; /* after today that the hours reach, at most the configuration's */
    enum weather_rung rung;
    int64_t age_s;  /* of the youngest forecast for the coming day; < 0: there is none */
    size_t leading; /* source that gives most of the coming day; WEATHER_NOBODY: the normals */
    struct weather_learnt learnt[RECORDS_SOURCES_MOST]; /* one a source */
    bool station_differs; /* the leading feed is lastingly off what the nursery measures */
    int lag_h[RECORDS_SOURCES_MOST]; /* of its radiation */
    struct weather_rejection rejections[WEATHER_REJECTIONS_MOST];
    size_t rejection_count;
    struct weather_dispute disputes[WEATHER_DISPUTES_MOST];
    size_t dispute_count;
    struct weather_skill skill[WEATHER_LEADS]; /* of the leading source */
    bool skilled;                              /* there is a trial of it */
    enum weather_kind skill_against;           /* worst kind that came */
    double spread; /* of reference ET over the coming three days, relative, 0.1..0.6 */
    double et0_spread[WEATHER_SPREAD_DAYS]; /* of each local day's, today first */
};

/* Sorts the records' sources by trust: the nursery's own, the configuration's feeds in their order,
 * others by name. Then works the hours out from history_days before at_s to beyond_days after the
 * plan's last day. Without normals the hours reach as far as the feeds do. Returns 0, or -1 with
 * error; free with weather_view_free. */
int weather_view_make(const struct config *config, const struct civil_zone *zone,
                      struct records *records, int64_t at_s, int history_days, int beyond_days,
                      struct weather_view *out, struct error *error);
void weather_view_free(struct weather_view *view);

const char *weather_rung_name(enum weather_rung rung);
const char *weather_part_name(enum weather_part part);
const char *weather_mark_name(enum weather_mark mark);
const char *weather_kind_name(enum weather_kind kind);

#endif
