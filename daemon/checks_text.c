/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The five checks as text. */
#include "checks.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "utf8.h"

enum { NAME_WIDTH = 22, DAY_SIZE = 24 };

static const json_t *member(const json_t *object, const char *name)
{
    return json_object_get(object, name);
}

static const char *text_of(const json_t *object, const char *name)
{
    const char *text = json_string_value(member(object, name));
    return text ? text : "-";
}

/* '2026-07-01 06:10' of a time. */
static const char *moment_of(const json_t *object, const char *name, char out[DAY_SIZE])
{
    const char *time = text_of(object, name);
    if (strlen(time) > 16)
        snprintf(out, DAY_SIZE, "%.10s %.5s", time, time + 11);
    else
        snprintf(out, DAY_SIZE, "%s", "-");
    return out;
}

/* A number with so many places, or '-'. */
static const char *number_of(const json_t *object, const char *name, int places, char out[DAY_SIZE])
{
    const json_t *value = member(object, name);
    if (json_is_number(value))
        snprintf(out, DAY_SIZE, "%.*f", places, json_number_value(value));
    else
        snprintf(out, DAY_SIZE, "-");
    return out;
}

static const struct {
    const char *code, *words;
} advices[] = {
    {"put_cans", "put ten cans between the pots, run the valve, enter them as catch cans; or catch "
                 "what drains from a pot (drain catches)"},
    {"seal_and_weigh", "seal a prediction for five pots at dawn, weigh them, weigh them again the "
                       "next dawn"},
    {"weigh", "sealed; now weigh those pots"},
    {"test_in_pot",
     "soak and drain a pot of yours for an hour, weigh it, dry it, weigh it: a bench "
     "test whose vessel is the pot"},
    {"say_when_thirsty", "walk for ten days and record 'dry' where you would water now"},
    {"read_meter", "report a run with the litres of its meter"},
    {"read_gauge", "read a rain gauge and enter it"},
    {"use_feed", "there is no feed to hold the gauge against"},
};

static void put_advice(FILE *out, const json_t *section)
{
    const char *code = json_string_value(member(section, "do"));
    for (size_t i = 0; code && i < sizeof advices / sizeof advices[0]; i++)
        if (strcmp(advices[i].code, code) == 0)
            fprintf(out, "   not enough yet: %s\n", advices[i].words);
}

static void put_litres(FILE *out, const json_t *section)
{
    size_t i;
    const json_t *one;
    char a[DAY_SIZE];
    char b[DAY_SIZE];
    char c[DAY_SIZE];
    fputs("1. LITRES A POT A RUN: expected beside caught\n", out);
    json_array_foreach(member(section, "cans"), i, one)
    {
        fprintf(out, "   %s ", text_of(one, "date"));
        utf8_put_padded(out, text_of(one, "zone"), NAME_WIDTH);
        fprintf(out, " expected %s mm, caught %s, ratio %s\n", number_of(one, "expected_mm", 1, a),
                number_of(one, "caught_mm", 1, b), number_of(one, "ratio", 2, c));
    }
    json_array_foreach(member(section, "pots"), i, one)
    {
        fprintf(out, "   %.10s ", moment_of(one, "at", a));
        utf8_put_padded(out, text_of(one, "block"), NAME_WIDTH);
        fprintf(out, " expected %s ml, given %s,", number_of(one, "expected_ml", 0, a),
                number_of(one, "given_ml", 0, b));
        fprintf(out, " drained %s %% of %s\n", number_of(one, "drained_pct", 0, a),
                number_of(one, "target_pct", 0, b));
    }
    put_advice(out, section);
}

static void put_lost(FILE *out, const json_t *section)
{
    size_t i;
    const json_t *one;
    const json_t *score = member(section, "score");
    char a[DAY_SIZE];
    char b[DAY_SIZE];
    char c[DAY_SIZE];
    fputs("2. WATER LOST: sealed before, weighed after\n", out);
    json_array_foreach(member(section, "items"), i, one)
    {
        fprintf(out, "   %s ", moment_of(one, "sealed_at", a));
        utf8_put_padded(out, text_of(one, "block"), NAME_WIDTH);
        fprintf(out, " expected %s l, weighed %s, %s%s\n", number_of(one, "expected_l", 3, a),
                number_of(one, "weighed_l", 3, b),
                json_is_true(member(one, "inside")) ? "inside the range" : "OUTSIDE the range",
                json_is_true(member(one, "watered")) ? "; watered meanwhile: not counted" : "");
    }
    if (json_is_object(score))
        fprintf(out, "   score: %s of %s inside, off by %s l on the whole\n",
                number_of(score, "inside", 0, a), number_of(score, "count", 0, b),
                number_of(score, "mean_off_l", 3, c));
    put_advice(out, section);
}

static void put_capacity(FILE *out, const json_t *section)
{
    size_t i;
    const json_t *one;
    char a[DAY_SIZE];
    char b[DAY_SIZE];
    fputs("3. HOW FULL, HOW MUCH AIR: worked out beside measured in that pot\n", out);
    json_array_foreach(member(section, "items"), i, one)
    {
        size_t t;
        const json_t *test;
        fprintf(out, "   ");
        utf8_put_padded(out, text_of(one, "pot"), 10);
        fputc(' ', out);
        utf8_put_padded(out, text_of(one, "mix"), NAME_WIDTH);
        fprintf(out, " %s +- %s l,", number_of(one, "capacity_l", 2, a),
                number_of(one, "capacity_sd_l", 2, b));
        fprintf(out, " air %s +- %s %%\n", number_of(one, "air_pct", 0, a),
                number_of(one, "air_sd_pct", 0, b));
        json_array_foreach(member(one, "measured"), t, test)
            fprintf(out, "      %s: %s l, air %s %%\n", text_of(test, "tested"),
                    number_of(test, "capacity_l", 2, a), number_of(test, "air_pct", 0, b));
    }
    put_advice(out, section);
}

static void put_thirst(FILE *out, const json_t *section)
{
    size_t i;
    const json_t *one;
    const json_t *score = member(section, "score");
    char a[DAY_SIZE];
    char b[DAY_SIZE];
    char c[DAY_SIZE];
    fputs("4. WHEN IT NEEDS WATER: you said so, perchd had said\n", out);
    json_array_foreach(member(section, "items"), i, one)
    {
        fprintf(out, "   ");
        utf8_put_padded(out, text_of(one, "block"), NAME_WIDTH);
        fprintf(out, " you %s, perchd %s, %s h%s\n", moment_of(one, "said_at", a),
                moment_of(one, "due_at", b), number_of(one, "off_h", 0, c),
                json_is_true(member(one, "hit")) ? "" : ": MISSED");
    }
    if (json_is_object(score))
        fprintf(out, "   score: %s of %s within 12 h, off by %s h on the whole\n",
                number_of(score, "hits", 0, a), number_of(score, "count", 0, b),
                number_of(score, "mean_off_h", 1, c));
    put_advice(out, section);
}

static void put_water(FILE *out, const char *name, const json_t *water)
{
    char a[DAY_SIZE];
    char b[DAY_SIZE];
    char c[DAY_SIZE];
    fprintf(out, "   %s (%s to %s): planned %s l, meter %s", name, text_of(water, "from"),
            text_of(water, "to"), number_of(water, "planned_l", 0, a),
            number_of(water, "metered_l", 0, b));
    if (json_number_value(member(water, "metered_l")) > 0.0 && json_is_null(member(water, "ratio")))
        fputs(": nothing was planned\n", out);
    else
        fprintf(out, ", plan/meter %s\n", number_of(water, "ratio", 2, c));
}

static void put_meters(FILE *out, const json_t *meter, const json_t *rain)
{
    const json_t *running = member(rain, "running");
    char a[DAY_SIZE];
    char b[DAY_SIZE];
    char c[DAY_SIZE];
    fputs("5. CUBIC METRES AND RAIN\n", out);
    put_water(out, "yesterday", member(meter, "yesterday"));
    put_water(out, "running", member(meter, "running"));
    put_advice(out, meter);
    fprintf(out, "   rain: feed %s mm, gauge %s mm, feed/gauge %s\n",
            number_of(running, "feed_mm", 1, a), number_of(running, "gauge_mm", 1, b),
            number_of(running, "ratio", 2, c));
    put_advice(out, rain);
}

char *checks_text(const char *nursery, const json_t *checks)
{
    char *text = NULL;
    size_t size = 0;
    char made[DAY_SIZE];
    FILE *out = open_memstream(&text, &size);
    if (!out)
        return NULL;
    fprintf(out, "%s\nFIVE CHECKS, %s, the last %.0f days\n\n", nursery,
            moment_of(checks, "made_at", made), json_number_value(member(checks, "days")));
    put_litres(out, member(checks, "litres"));
    put_lost(out, member(checks, "water_lost"));
    put_capacity(out, member(checks, "capacity"));
    put_thirst(out, member(checks, "thirst"));
    put_meters(out, member(checks, "meter"), member(checks, "rain"));
    if (fclose(out) == 0)
        return text;
    free(text);
    return NULL;
}
