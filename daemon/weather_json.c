/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "weather_json.h"

#include <stdio.h>
#include <stdlib.h>

#include "json_put.h"

/* --- small pieces ------------------------------------------------------------------------- */

static json_t *source_name(const struct weather_report *r, size_t source)
{
    return json_string(source == WEATHER_NOBODY ? "normals" : r->records->sources[source].name);
}

static bool set(json_t *object, const char *name, json_t *value)
{
    return json_object_set_new(object, name, value) == 0;
}

static json_t *done(json_t *value, bool good)
{
    if (good)
        return value;
    json_decref(value);
    return NULL;
}

/* --- sources ------------------------------------------------------------------------------ */

/* Hours from now on whose air is a source's, of one kind; NULL with *failed unset when none is. */
static json_t *source_json(const struct weather_report *r, size_t source, enum weather_kind kind,
                           bool *failed)
{
    const struct weather_view *view = r->view;
    int64_t from_s = 0;
    int64_t to_s = 0;
    int64_t issued_s = 0;
    json_int_t hours = 0;
    for (size_t h = 0; h < view->hour_count; h++) {
        const struct weather_hour *hour = &view->hours[h];
        const struct weather_origin *air = &hour->origin[WEATHER_AIR];
        if (air->source != source || air->kind != kind || hour->start_s + CIVIL_HOUR_S <= r->at_s)
            continue;
        if (hours++ == 0)
            from_s = hour->start_s;
        to_s = hour->start_s + CIVIL_HOUR_S;
        issued_s = air->issued_s > issued_s ? air->issued_s : issued_s;
    }
    if (hours == 0)
        return NULL;
    const struct records_source *s = source == WEATHER_NOBODY ? NULL : &r->records->sources[source];
    json_t *object = json_object();
    bool good =
        set(object, "name", source_name(r, source)) &&
        set(object, "kind", json_string(weather_kind_name(kind))) &&
        json_put_time(object, "issued_at", issued_s, r->zone) &&
        json_put_time(object, "fetched_at", s && s->has_document ? s->fetched_s : 0, r->zone) &&
        json_put_time(object, "from", from_s, r->zone) &&
        json_put_time(object, "to", to_s, r->zone) && set(object, "hours", json_integer(hours));
    *failed |= !good;
    return done(object, good);
}

static json_t *sources_json(const struct weather_report *r)
{
    json_t *array = json_array();
    bool failed = array == NULL;
    for (size_t i = 0; i <= r->records->source_count && !failed; i++)
        for (int kind = WEATHER_MEASURED; kind <= WEATHER_NORMAL && !failed; kind++) {
            size_t source = i < r->records->source_count ? i : WEATHER_NOBODY;
            json_t *object = source_json(r, source, (enum weather_kind)kind, &failed);
            if (object)
                failed = json_array_append_new(array, object) != 0;
        }
    return done(array, !failed);
}

/* --- what was learnt and how good it is --------------------------------------------------- */

static json_t *learnt_json(const struct weather_report *r)
{
    json_t *array = json_array();
    bool good = array != NULL;
    for (size_t i = 1; i < r->records->source_count && good; i++) {
        const struct weather_learnt *l = &r->view->learnt[i];
        if (l->hours < WEATHER_LEARN_HOURS && l->radiation_days == 0)
            continue;
        json_t *object = json_object();
        good = set(object, "source", source_name(r, i)) &&
               set(object, "hours", json_integer(l->hours)) &&
               set(object, "temperature_bias_c", json_put_number(l->temperature_bias_c, 2)) &&
               set(object, "dewpoint_bias_c", json_put_number(l->dewpoint_bias_c, 2)) &&
               set(object, "humidity_bias_pct", json_put_number(l->humidity_bias_pct, 1)) &&
               set(object, "wind_ratio", json_put_number(l->wind_ratio, 2)) &&
               set(object, "radiation_factor", json_put_number(l->radiation_factor, 3)) &&
               set(object, "radiation_days", json_integer(l->radiation_days));
        good = json_array_append_new(array, object) == 0 && good;
    }
    return done(array, good);
}

static json_t *skill_json(const struct weather_report *r)
{
    json_t *array = json_array();
    bool good = array != NULL;
    for (int lead = 0; lead < WEATHER_LEADS && good; lead++) {
        const struct weather_skill *k = &r->view->skill[lead];
        if (k->trials == 0)
            continue;
        json_t *object = json_object();
        good = set(object, "lead_d", json_integer(lead)) &&
               set(object, "days", json_integer(k->trials)) &&
               set(object, "et0_bias_mm", json_put_number(k->et0_bias_mm, 2)) &&
               set(object, "et0_mae_mm", json_put_number(k->et0_mae_mm, 2)) &&
               set(object, "et0_rmse_mm", json_put_number(k->et0_rmse_mm, 2)) &&
               set(object, "et0_sd_mm", json_put_number(k->et0_sd_mm, 2)) &&
               set(object, "temperature_bias_c", json_put_number(k->temperature_bias_c, 1)) &&
               set(object, "radiation_bias_pct", json_put_number(k->radiation_bias_pct, 0)) &&
               set(object, "wind_ratio", json_put_number(k->wind_ratio, 2)) &&
               set(object, "rain_hits", json_integer(k->rain_hits)) &&
               set(object, "rain_misses", json_integer(k->rain_misses)) &&
               set(object, "rain_false", json_integer(k->rain_false));
        good = json_array_append_new(array, object) == 0 && good;
    }
    return done(array, good);
}

static json_t *rejected_json(const struct weather_report *r)
{
    json_t *array = json_array();
    bool good = array != NULL;
    for (size_t i = 0; i < r->view->rejection_count && good; i++) {
        const struct weather_rejection *rejection = &r->view->rejections[i];
        json_t *object = json_object();
        good = set(object, "source", source_name(r, rejection->source)) &&
               set(object, "part", json_string(weather_part_name(rejection->part))) &&
               set(object, "mark", json_string(weather_mark_name(rejection->mark))) &&
               set(object, "hours", json_integer(rejection->hours)) &&
               json_put_time(object, "last", rejection->last_s, r->zone);
        good = json_array_append_new(array, object) == 0 && good;
    }
    return done(array, good);
}

/* The words of the most trusted source whose last attempt gave nothing. */
static json_t *error_json(const struct weather_report *r)
{
    for (size_t i = 1; i < r->records->source_count; i++)
        if (r->records->sources[i].last_error[0])
            return json_string(r->records->sources[i].last_error);
    return json_null();
}

json_t *weather_json(const struct weather_report *r)
{
    const struct weather_view *view = r->view;
    json_t *object = json_object();
    bool good =
        set(object, "rung", json_string(weather_rung_name(view->rung))) &&
        set(object, "age_s", view->age_s < 0 ? json_null() : json_integer(view->age_s)) &&
        set(object, "sources", sources_json(r)) && set(object, "error", error_json(r)) &&
        set(object, "spread", json_put_number(view->spread, 3)) &&
        set(object, "learnt", learnt_json(r)) && set(object, "rejected", rejected_json(r)) &&
        set(object, "skill", skill_json(r)) &&
        set(object, "skill_against",
            view->skilled ? json_string(weather_kind_name(view->skill_against)) : json_null());
    return done(object, good);
}

/* --- hours -------------------------------------------------------------------------------- */

static json_t *origin_json(const struct weather_report *r, const struct weather_hour *hour,
                           enum weather_part part)
{
    const struct weather_origin *o = &hour->origin[part];
    json_t *object = json_object();
    bool good = set(object, "source", source_name(r, o->source)) &&
                set(object, "kind", json_string(weather_kind_name(o->kind)));
    if (o->issued_s > 0)
        good = json_put_time(object, "issued_at", o->issued_s, r->zone) && good;
    if (o->between)
        good = set(object, "between", json_true()) && good;
    if (o->mark != WEATHER_MARK_GOOD)
        good = set(object, "mark", json_string(weather_mark_name(o->mark))) && good;
    if (o->replaces != WEATHER_MARK_GOOD)
        good = set(object, "replaces", json_string(weather_mark_name(o->replaces))) && good;
    return done(object, good);
}

static json_t *hour_json(const struct weather_report *r, const struct weather_hour *hour)
{
    static const char *const radiation[] = {"given", "cloud", "temperature_range", "normals"};
    json_t *object = json_object();
    bool good = json_put_time(object, "start", hour->start_s, r->zone) &&
                set(object, "temperature_c", json_put_number(hour->temperature_c, 2)) &&
                set(object, "vapour_pressure_kpa", json_put_number(hour->vapour_pressure_kpa, 3)) &&
                set(object, "wind_2m_m_s", json_put_number(hour->wind_2m_m_s, 2)) &&
                set(object, "radiation_mj_m2", json_put_number(hour->radiation_mj_m2, 3)) &&
                set(object, "radiation_from", json_string(radiation[hour->radiation])) &&
                set(object, "rain_mm", json_put_number(hour->rain_mm, 2)) &&
                set(object, "rain_probability", json_put_number(hour->rain_probability, 2)) &&
                set(object, "normal_share", json_put_number(hour->normal_share, 2));
    for (int part = 0; part < WEATHER_PARTS && good; part++)
        good = set(object, weather_part_name((enum weather_part)part),
                   origin_json(r, hour, (enum weather_part)part));
    return done(object, good);
}

json_t *weather_json_hours(const struct weather_report *r, int64_t from_s, size_t count)
{
    json_t *array = json_array();
    bool good = array != NULL;
    for (size_t h = 0; h < r->view->hour_count && good; h++)
        if (r->view->hours[h].start_s >= from_s && json_array_size(array) < count)
            good = json_array_append_new(array, hour_json(r, &r->view->hours[h])) == 0;
    return done(array, good);
}

/* --- notices ------------------------------------------------------------------------------ */

static void say(struct weather_said *said, size_t *count, enum weather_notice notice, size_t source,
                size_t other, size_t index)
{
    if (*count < WEATHER_SAID_MOST)
        said[(*count)++] = (struct weather_said){notice, source, other, index};
}

size_t weather_notices(const struct weather_report *r, struct weather_said said[WEATHER_SAID_MOST])
{
    static const enum weather_notice OF_RUNG[] = {
        [WEATHER_RUNG_OLD] = WEATHER_NOTICE_OLD,
        [WEATHER_RUNG_FADING] = WEATHER_NOTICE_FADING,
        [WEATHER_RUNG_FAINT] = WEATHER_NOTICE_FADING,
        [WEATHER_RUNG_NORMALS] = WEATHER_NOTICE_NORMALS,
    };
    const struct weather_view *view = r->view;
    size_t count = 0;
    if (view->rung != WEATHER_RUNG_FORECAST)
        say(said, &count, OF_RUNG[view->rung], view->leading, WEATHER_NOBODY, 0);
    for (size_t i = 1; i < r->records->source_count; i++)
        if (r->records->sources[i].last_error[0])
            say(said, &count, WEATHER_NOTICE_REFUSED, i, WEATHER_NOBODY, 0);
    for (size_t i = 0; i < view->rejection_count; i++) {
        const struct weather_rejection *rejection = &view->rejections[i];
        if (rejection->mark == WEATHER_MARK_SHIFTED)
            say(said, &count, WEATHER_NOTICE_SHIFTED, rejection->source, WEATHER_NOBODY, i);
        else if (rejection->source == 0)
            say(said, &count, WEATHER_NOTICE_REJECTED, 0, WEATHER_NOBODY, i);
    }
    for (size_t i = 0; i < view->dispute_count; i++)
        say(said, &count, WEATHER_NOTICE_DISPUTE, view->disputes[i].source, view->disputes[i].other,
            i);
    if (view->station_differs)
        say(said, &count, WEATHER_NOTICE_BIAS, view->leading, WEATHER_NOBODY, 0);
    for (size_t i = 1; i < r->records->source_count; i++)
        if (r->records->sources[i].retiring)
            say(said, &count, WEATHER_NOTICE_RETIRING, i, WEATHER_NOBODY, 0);
    return count;
}

const char *weather_notice_name(enum weather_notice notice)
{
    static const char *const names[] = {"weather_old",     "weather_fading",  "weather_normals",
                                        "weather_refused", "sensor_rejected", "sensor_shifted",
                                        "feeds_disagree",  "forecast_off",    "weather_retiring"};
    return names[notice];
}

static double age_h(const struct weather_report *r)
{
    return (double)r->view->age_s / CIVIL_HOUR_S;
}

static json_t *day_json(const struct weather_report *r, int64_t day_s)
{
    struct civil_date date = civil_local_date(r->zone, day_s);
    char text[16];
    snprintf(text, sizeof text, "%04d-%02d-%02d", date.year % 10000, date.month % 100,
             date.day % 100);
    return json_string(text);
}

json_t *weather_notice_params(const struct weather_report *r, const struct weather_said *said)
{
    const struct weather_view *view = r->view;
    json_t *params = json_object();
    bool good = params != NULL;
    switch (said->notice) {
    case WEATHER_NOTICE_OLD:
    case WEATHER_NOTICE_FADING:
        good = set(params, "age_h", json_put_number(age_h(r), 0));
        break;
    case WEATHER_NOTICE_NORMALS:
        break;
    case WEATHER_NOTICE_REFUSED:
        good = set(params, "source", source_name(r, said->source)) &&
               set(params, "text", json_string(r->records->sources[said->source].last_error));
        break;
    case WEATHER_NOTICE_REJECTED:
        good = set(params, "part",
                   json_string(weather_part_name(view->rejections[said->index].part))) &&
               set(params, "mark",
                   json_string(weather_mark_name(view->rejections[said->index].mark))) &&
               set(params, "hours", json_integer(view->rejections[said->index].hours));
        break;
    case WEATHER_NOTICE_SHIFTED:
        good = set(params, "source", source_name(r, said->source)) &&
               set(params, "hours", json_integer(view->lag_h[said->source]));
        break;
    case WEATHER_NOTICE_DISPUTE:
        good = set(params, "source", source_name(r, said->source)) &&
               set(params, "other", source_name(r, said->other)) &&
               set(params, "day", day_json(r, view->disputes[said->index].day_s)) &&
               set(params, "et0_mm", json_put_number(view->disputes[said->index].et0_mm, 1)) &&
               set(params, "other_et0_mm",
                   json_put_number(view->disputes[said->index].other_et0_mm, 1)) &&
               set(params, "rain",
                   json_boolean(view->disputes[said->index].differs & WEATHER_DIFFERS_RAIN));
        break;
    case WEATHER_NOTICE_BIAS:
        good = set(params, "source", source_name(r, said->source)) &&
               set(params, "temperature_c",
                   json_put_number(view->learnt[said->source].temperature_bias_c, 1)) &&
               set(params, "humidity_pct",
                   json_put_number(view->learnt[said->source].humidity_bias_pct, 0)) &&
               set(params, "radiation_pct",
                   json_put_number(100 * (view->learnt[said->source].radiation_ratio - 1), 0)) &&
               set(params, "wind_ratio", json_put_number(view->learnt[said->source].wind_ratio, 1));
        break;
    case WEATHER_NOTICE_RETIRING:
        good = set(params, "source", source_name(r, said->source));
        break;
    }
    return done(params, good);
}

static const char *part_words(enum weather_part part)
{
    static const char *const words[] = {"temperature or humidity", "wind", "radiation", "rain"};
    return words[part];
}

static const char *mark_words(enum weather_mark mark)
{
    switch (mark) {
    case WEATHER_MARK_STUCK:
        return "did not move for hours";
    case WEATHER_MARK_ABOVE_SKY:
        return "is more than the sun can give";
    case WEATHER_MARK_DARK:
        return "stayed dark all day";
    case WEATHER_MARK_NIGHT:
        return "shows light at night";
    case WEATHER_MARK_DEWPOINT:
        return "has a dew point above the air's temperature";
    default:
        return "is outside what can be";
    }
}

void weather_notice_words(const struct weather_report *r, const struct weather_said *said,
                          char *out, size_t size)
{
    const struct weather_view *view = r->view;
    const struct records_source *sources = r->records->sources;
    const struct weather_rejection *rejection = &view->rejections[said->index];
    const struct weather_dispute *dispute = &view->disputes[said->index];
    const struct weather_learnt *l =
        &view->learnt[said->source == WEATHER_NOBODY ? 0 : said->source];
    switch (said->notice) {
    case WEATHER_NOTICE_OLD:
        snprintf(out, size, "the forecast is %.0f h old, nothing newer came", age_h(r));
        return;
    case WEATHER_NOTICE_FADING:
        snprintf(out, size,
                 "the forecast is %.0f h old: the later the hour, the more of the "
                 "month's usual weather is in it",
                 age_h(r));
        return;
    case WEATHER_NOTICE_NORMALS:
        snprintf(out, size, "no forecast: the month's usual weather, on the dry side");
        return;
    case WEATHER_NOTICE_REFUSED:
        snprintf(out, size, "feed '%s': %s", sources[said->source].name,
                 sources[said->source].last_error);
        return;
    case WEATHER_NOTICE_REJECTED:
        snprintf(out, size, "the station's %s %s: %d h not used", part_words(rejection->part),
                 mark_words(rejection->mark), rejection->hours);
        return;
    case WEATHER_NOTICE_SHIFTED:
        snprintf(out, size, "radiation of '%s' follows the sun %d h %s: check its clock; not used",
                 sources[said->source].name, abs(view->lag_h[said->source]),
                 view->lag_h[said->source] > 0 ? "late" : "early");
        return;
    case WEATHER_NOTICE_DISPUTE:
        snprintf(out, size,
                 "'%s' and '%s' disagree about a coming day (reference ET %.1f, %.1f "
                 "mm%s): margins are wider",
                 sources[said->source].name, sources[said->other].name, dispute->et0_mm,
                 dispute->other_et0_mm,
                 dispute->differs & WEATHER_DIFFERS_RAIN ? "; one of them rains" : "");
        return;
    case WEATHER_NOTICE_BIAS:
        snprintf(out, size,
                 "'%s' is off what the station measures (%+.1f C, %+.0f %% humidity, wind x %.1f): "
                 "corrected for",
                 sources[said->source].name, l->temperature_bias_c, l->humidity_bias_pct,
                 l->wind_ratio);
        return;
    case WEATHER_NOTICE_RETIRING:
        snprintf(out, size,
                 "'%s' says that it gives up this kind of document: look for a newer perchd",
                 sources[said->source].name);
        return;
    }
}
