/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Readings of the nursery's own weather station. They are kept as they come; what can be true of
 * them is judged when the plan is made.
 */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "api_internal.h"
#include "record_json.h"
#include "store_station.h"

enum {
    READINGS_MAX = 600,  /* a day of them every 2.5 minutes, after an outage */
    CLOCK_OFF_S = 300,   /* more: the answer warns */
    CLOCK_AHEAD_S = 3600 /* more: refused, it would pass for weather to come */
};

#define VALUE(n)                                                                                   \
    {                                                                                              \
        .name = (n), .type = KIND_NUMBER, .low = -1e5, .high = 1e5                                 \
    }

/* Wide ranges: a broken sensor is for the checks to find, and for people to see. */
static const struct kind_column columns[] = {
    {.name = "at", .type = KIND_MOMENT, .required = true},
    {.name = "period_min", .type = KIND_NUMBER, .required = true, .low = 0.167, .high = 60},
    VALUE("temperature_c"),
    VALUE("humidity_pct"),
    VALUE("dewpoint_c"),
    VALUE("wind_m_s"),
    VALUE("radiation_w_m2"),
    VALUE("rain_mm"),
};

static const struct kind readings_kind = {
    .id = KIND_COUNT,
    .stem = "weather/readings",
    .columns = columns,
    .column_count = sizeof columns / sizeof columns[0],
};

static struct station_reading reading_of(const struct kind_row *row)
{
    return (struct station_reading){
        .end_s = kind_get(row, "at")->whole,
        .period_s = fmax(10, round(60 * kind_number(row, "period_min", NAN))),
        .temperature_c = kind_number(row, "temperature_c", NAN),
        .humidity_pct = kind_number(row, "humidity_pct", NAN),
        .dewpoint_c = kind_number(row, "dewpoint_c", NAN),
        .wind_m_s = kind_number(row, "wind_m_s", NAN),
        .radiation_w_m2 = kind_number(row, "radiation_w_m2", NAN),
        .rain_mm = kind_number(row, "rain_mm", NAN),
    };
}

static int refuse_reading(struct api_call *call, size_t number, const char *field,
                          const char *detail, const char *given, const char *accepted)
{
    char name[80];
    snprintf(name, sizeof name, "%zu/%s", number, field);
    const struct problem problem = {.status = PROBLEM_UNPROCESSABLE,
                                    .field = name,
                                    .detail = detail,
                                    .given = given,
                                    .accepted = accepted};
    return api_refuse_with(call, &problem);
}

static int read_one(struct api_call *call, json_t *object, size_t number,
                    struct station_reading *reading)
{
    struct record_texts texts = {.used = 0};
    struct record_fault fault;
    struct kind_row row;
    char before[32];
    snprintf(before, sizeof before, "%zu/", number);
    if (record_json_read(object, &readings_kind, &texts, &row, &fault) != 0)
        return api_refuse_record(call, PROBLEM_UNPROCESSABLE, before, &fault);
    *reading = reading_of(&row);
    if (reading->end_s > call->now_s + CLOCK_AHEAD_S)
        return refuse_reading(call, number, "at",
                              "More than an hour ahead of this machine's clock: set the device's "
                              "clock.",
                              kind_text(&row, "at"), "a moment that has been");
    bool any = false;
    for (size_t i = 2; i < readings_kind.column_count; i++)
        any |= row.values[i].given;
    return any ? 0
               : refuse_reading(call, number, "temperature_c", "No value at all is given.", NULL,
                                "at least one of the values");
}

/* How far the newest reading is off the moment at which it came, its own period aside. */
static int64_t clock_off_s(const struct api_call *call, const struct station_reading *readings,
                           size_t count)
{
    const struct station_reading *newest = &readings[0];
    for (size_t i = 1; i < count; i++)
        if (readings[i].end_s > newest->end_s)
            newest = &readings[i];
    int64_t off_s = newest->end_s - call->now_s;
    int64_t waited_s = (int64_t)newest->period_s;
    return off_s >= 0 ? off_s : off_s < -waited_s ? off_s + waited_s : 0;
}

static json_t *warnings_of(int64_t off_s)
{
    json_t *warnings = json_array();
    if (warnings && (off_s > CLOCK_OFF_S || off_s < -CLOCK_OFF_S))
        json_array_append_new(
            warnings, json_pack("{s:s, s:I, s:s}", "code", off_s > 0 ? "clock_ahead" : "late",
                                "off_s", (json_int_t)off_s, "detail",
                                off_s > 0 ? "The newest reading is of a moment to come: the "
                                            "device's clock is ahead."
                                          : "The newest reading is old: it was held up, or the "
                                            "device's clock is behind."));
    return warnings;
}

static int keep(struct api_call *call, const struct station_reading *readings, size_t count)
{
    const char *via = strchr(call->who, ' ');
    struct error error;
    size_t changed = 0;
    if (store_readings_put(call->api->store, readings, count, via ? via + 1 : call->who,
                           call->now_s, &changed, &error) != 0)
        return api_fail(call, &error);
    call->changed = changed > 0;
    int64_t off_s = clock_off_s(call, readings, count);
    return api_send_take(call, 200,
                         json_pack("{s:I, s:I, s:I, s:o}", "received", (json_int_t)count, "changed",
                                   (json_int_t)changed, "clock_off_s", (json_int_t)off_s,
                                   "warnings", warnings_of(off_s)));
}

static int take(struct api_call *call, const json_t *list)
{
    size_t count = json_array_size(list);
    if (!json_is_array(list) || count < 1 || count > READINGS_MAX)
        return api_refuse(call, PROBLEM_UNPROCESSABLE, "body",
                          "Accepted is a list of 1 to %d readings {at, period_min, ...}.",
                          READINGS_MAX);
    struct station_reading *readings = calloc(count, sizeof *readings);
    int result = 0;
    if (!readings)
        return api_no_memory(call);
    for (size_t i = 0; i < count && result == 0; i++)
        result = read_one(call, json_array_get(list, i), i, &readings[i]);
    if (result == 0)
        result = keep(call, readings, count);
    free(readings);
    return result;
}

int api_readings(struct api_call *call)
{
    if (api_allow(call, ACCESS_REPORT_WEATHER) != 0)
        return -1;
    json_t *list = api_read_body(call);
    if (!list)
        return -1;
    int result = take(call, list);
    json_decref(list);
    return result;
}
