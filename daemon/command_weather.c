/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The subcommand that shows the weather a plan stands on: weather. */
#include "command.h"

#include <math.h>

#include "clock.h"
#include "core/air.h"
#include "error.h"
#include "store.h"
#include "weather_json.h"

enum { HISTORY_DAYS = 21, BEYOND_DAYS = 2, HOURS = 48 };

static double et0_of(const struct setup *setup, const struct weather_hour *h)
{
    struct weather_day day;
    return weather_day_of(&setup->config.site, h, 1, &day) == STATUS_OK ? day.et0_mm : NAN;
}

static const char *source_of(const struct weather_report *r, const struct weather_hour *hour,
                             enum weather_part part)
{
    size_t source = hour->origin[part].source;
    return source == WEATHER_NOBODY ? "normals" : r->records->sources[source].name;
}

/* A mark that explains why a better source was passed over, or a doubt; "" when there is none. */
static const char *remark_of(const struct weather_hour *hour)
{
    for (int part = 0; part < WEATHER_PARTS; part++) {
        const struct weather_origin *o = &hour->origin[part];
        if (o->replaces != WEATHER_MARK_GOOD)
            return weather_mark_name(o->replaces);
        if (o->mark != WEATHER_MARK_GOOD)
            return weather_mark_name(o->mark);
    }
    return "";
}

static void print_hour(FILE *out, const struct weather_report *r, const struct setup *setup,
                       const struct weather_hour *hour)
{
    char time[CIVIL_TEXT];
    double humidity = 100 * hour->vapour_pressure_kpa / air_saturation_kpa(hour->temperature_c);
    civil_format_rfc3339(hour->start_s, civil_offset_at(r->zone, hour->start_s), time);
    fprintf(out, "%.16s %5.1f %4.0f %5.1f %6.2f %5.1f %5.2f  %-9.9s %-9.9s %-9.9s %-9.9s %s\n",
            time, hour->temperature_c, humidity, hour->wind_2m_m_s, hour->radiation_mj_m2,
            hour->rain_mm, et0_of(setup, hour), source_of(r, hour, WEATHER_AIR),
            source_of(r, hour, WEATHER_WIND), source_of(r, hour, WEATHER_SKY),
            source_of(r, hour, WEATHER_RAIN), remark_of(hour));
}

static void print_learnt(FILE *out, const struct weather_report *r)
{
    for (size_t i = 1; i < r->records->source_count; i++) {
        const struct weather_learnt *l = &r->view->learnt[i];
        if (l->hours < WEATHER_LEARN_HOURS && l->radiation_days == 0)
            continue;
        fprintf(out,
                "learnt of %s: temperature %+.1f C, dew point %+.1f C, wind x %.2f (%d of 72 h), "
                "radiation x %.2f (%d days)\n",
                r->records->sources[i].name, l->temperature_bias_c, l->dewpoint_bias_c,
                l->wind_ratio, l->hours, l->radiation_factor, l->radiation_days);
    }
}

static void print_skill(FILE *out, const struct weather_report *r)
{
    bool said = false;
    for (int lead = 0; lead < WEATHER_LEADS; lead++) {
        const struct weather_skill *k = &r->view->skill[lead];
        if (k->trials == 0)
            continue;
        if (!said)
            fprintf(out,
                    "how the forecasts of past days did, against %s (reference ET, mm a day)\n"
                    "lead days  bias   mae  rmse  plan with  rain hit missed false\n",
                    weather_kind_name(r->view->skill_against));
        said = true;
        fprintf(out, "%4d %4d %+5.2f %5.2f %5.2f %10.2f %9d %6d %5d\n", lead, k->trials,
                k->et0_bias_mm, k->et0_mae_mm, k->et0_rmse_mm, k->et0_sd_mm, k->rain_hits,
                k->rain_misses, k->rain_false);
    }
    if (!said)
        fputs("no forecast was held against what came yet\n", out);
}

static void print_text(FILE *out, const struct weather_report *r, const struct setup *setup,
                       int64_t hours)
{
    struct weather_said said[WEATHER_SAID_MOST];
    char words[700];
    int64_t from_s = civil_floor_hour(r->at_s);
    fprintf(out, "rung: %s", weather_rung_name(r->view->rung));
    if (r->view->age_s >= 0)
        fprintf(out, ", '%s', %.0f h old", r->records->sources[r->view->leading].name,
                (double)r->view->age_s / CIVIL_HOUR_S);
    fprintf(out, "; reference ET of the coming days +-%.0f %%\n", 100 * r->view->spread);
    size_t count = weather_notices(r, said);
    for (size_t i = 0; i < count; i++) {
        weather_notice_words(r, &said[i], words, sizeof words);
        fprintf(out, "- %s\n", words);
    }
    print_learnt(out, r);
    print_skill(out, r);
    fputs("hour from            C    %   m/s  MJ/m2    mm   ET0  air       wind      sky       "
          "rain\n",
          out);
    for (size_t h = 0; h < r->view->hour_count; h++) {
        int64_t start_s = r->view->hours[h].start_s;
        if (hours < 0 ? start_s >= from_s + hours * CIVIL_HOUR_S && start_s < from_s
                      : start_s >= from_s && start_s < from_s + hours * CIVIL_HOUR_S)
            print_hour(out, r, setup, &r->view->hours[h]);
    }
}

static int print_json(FILE *out, const struct weather_report *r, int64_t hours)
{
    int64_t from_s = civil_floor_hour(r->at_s) + (hours < 0 ? hours * CIVIL_HOUR_S : 0);
    json_t *root = weather_json(r);
    json_t *array = weather_json_hours(r, from_s, (size_t)(hours < 0 ? -hours : hours));
    int failed = !root || !array || json_object_set(root, "hours", array) != 0 ||
                 json_dumpf(root, out, JSON_COMPACT | JSON_REAL_PRECISION(9)) != 0;
    json_decref(array);
    json_decref(root);
    fputc('\n', out);
    return failed ? -1 : 0;
}

static int print_weather(const struct command_call *call, const struct setup *setup)
{
    struct error error;
    struct records records;
    struct weather_view view;
    int64_t at_s = command_number(call, "--at", clock_now_s());
    int64_t hours = command_number(call, "--hours", HOURS);
    struct store *store = store_open(setup->config.store_path, true, &error);
    if (!store)
        return command_fail(call, EXIT_FAILED, error.text);
    int failed = store_load(store, at_s, &setup->config.site, &setup->zone, HISTORY_DAYS,
                            setup->config.plan_days + BEYOND_DAYS, &records, &error);
    store_close(store);
    if (failed)
        return command_fail(call, EXIT_FAILED, error.text);
    failed = weather_view_make(&setup->config, &setup->zone, &records, at_s, HISTORY_DAYS,
                               BEYOND_DAYS, &view, &error);
    if (!failed) {
        const struct weather_report report = {&view, &records, &setup->zone, at_s};
        if (command_text(call, "--json"))
            failed = print_json(call->out, &report, hours);
        else
            print_text(call->out, &report, setup, hours);
        weather_view_free(&view);
        if (failed)
            error_set(&error, "out of memory");
    }
    records_free(&records);
    return failed ? command_fail(call, EXIT_FAILED, error.text) : EXIT_DONE;
}

static int run_weather(const struct command_call *call)
{
    return command_with_setup(call, print_weather);
}

static const struct command_option weather_options[] = {
    COMMAND_CONFIG_OPTION,
    {"--at", "TIME", COMMAND_TIME, 0, 0, "as known at this moment (default now)"},
    {"--hours", "N", COMMAND_NUMBER, -504, 288,
     "so many hours from now on, or back when below 0 (default 48)"},
    {"--json", NULL, COMMAND_FLAG, 0, 0, "as JSON instead of a table"},
};

const struct command command_weather = {
    .name = "weather",
    .about = "print the weather a plan stands on, hour by hour, and where each part came from",
    .details = "Nothing is fetched. Marks behind an hour say why a better source's value was not "
               "taken.\n",
    .options = weather_options,
    .option_count = sizeof weather_options / sizeof weather_options[0],
    .run = run_weather,
};
