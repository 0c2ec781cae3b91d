/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The weather of a plan as JSON: docs/api.md. */
#ifndef PERCHD_DAEMON_WEATHER_JSON_H
#define PERCHD_DAEMON_WEATHER_JSON_H

#include <jansson.h>

#include "weather_view.h"

struct weather_report {
    const struct weather_view *view;
    const struct records *records;
    const struct civil_zone *zone;
    int64_t at_s;
};

/* The plan's weather part; a new reference, NULL when memory is short. */
json_t *weather_json(const struct weather_report *report);

/* Every hour from from_s on with where each part of it came from; a new reference or NULL. */
json_t *weather_json_hours(const struct weather_report *report, int64_t from_s, size_t count);

/* What people should know of the weather, all to be watched. */
enum weather_notice {
    WEATHER_NOTICE_OLD,      /* the newest forecast is over 12 h old */
    WEATHER_NOTICE_FADING,   /* over a day: the normals are mixed in */
    WEATHER_NOTICE_NORMALS,  /* no forecast */
    WEATHER_NOTICE_REFUSED,  /* the last attempt at a feed gave nothing */
    WEATHER_NOTICE_REJECTED, /* values of the nursery's own sensors are not used */
    WEATHER_NOTICE_SHIFTED,  /* its radiation sensor's clock is an hour or two off */
    WEATHER_NOTICE_DISPUTE,  /* two feeds disagree about a day */
    WEATHER_NOTICE_BIAS,     /* the forecast is lastingly off what the nursery measures */
    WEATHER_NOTICE_RETIRING, /* a feed says that it gives up this kind of document */
};

struct weather_said {
    enum weather_notice notice;
    size_t source, other; /* WEATHER_NOBODY: none */
    size_t index;         /* of the rejection or dispute */
};

#define WEATHER_SAID_MOST 40

/* All that is to be said, in the order above; the count of it. */
size_t weather_notices(const struct weather_report *report,
                       struct weather_said said[WEATHER_SAID_MOST]);
const char *weather_notice_name(enum weather_notice notice);
/* Parameters of a notice; a new reference or NULL. */
json_t *weather_notice_params(const struct weather_report *report, const struct weather_said *said);
/* The notice in words, one line without an end. */
void weather_notice_words(const struct weather_report *report, const struct weather_said *said,
                          char *out, size_t size);

#endif
