/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check.h"
#include "variant.h"

#include <math.h>
#include <stdio.h>

char *variant_change(const char *base, const char *find, const char *replace)
{
    const char *at = strstr(base, find);
    if (!at)
        fail_msg("the base document does not hold: %s", find);
    size_t size = strlen(base) - strlen(find) + strlen(replace) + 1;
    char *changed = malloc(size);
    assert_non_null(changed);
    snprintf(changed, size, "%.*s%s%s", (int)(at - base), base, replace, at + strlen(find));
    return changed;
}

double variant_sum(const struct feed_hours *hours, enum feed_quantity quantity)
{
    double sum = 0;
    for (size_t i = 0; i < hours->hour_count; i++) {
        double value = *feed_quantity_of(&hours->hours[i], quantity);
        sum += isnan(value) ? 0 : value;
    }
    return sum;
}

static void check_taken(const struct variant *v, const struct feed_hours *got)
{
    char notes[512];
    feed_hours_describe(got, notes, sizeof notes);
    size_t dropped = got->dropped_entries + got->dropped_values;
    if ((v->outcome == VARIANT_DROPPED) != (dropped > 0))
        fail_msg("%s: %zu dropped", v->name, dropped);
    if (v->words && !strstr(notes, v->words))
        fail_msg("%s: the notes are '%s'", v->name, notes);
    if (!v->words && v->outcome == VARIANT_TAKEN && notes[0])
        fail_msg("%s: noted '%s'", v->name, notes);
    check_near(variant_sum(got, FEED_TEMPERATURE), v->temperature, 1e-6, v->name);
    check_near(variant_sum(got, FEED_RAIN), v->rain_mm, 1e-6, v->name);
    for (size_t i = 0; i < got->hour_count; i++) {
        assert_true(got->hours[i].start_s % 3600 == 0);
        assert_true(i == 0 || got->hours[i].start_s > got->hours[i - 1].start_s);
    }
}

static void run_one(const struct variant *v, const char *base, variant_reader *read)
{
    char *text = v->find ? variant_change(base, v->find, v->replace) : strdup(v->replace);
    struct feed_hours got = {.entries = 77};
    struct error error = {""};
    assert_non_null(text);
    int result = read(text, strlen(text), &got, &error);
    if ((result != 0) != (v->outcome == VARIANT_REFUSED))
        fail_msg("%s: %s: %s", v->name, result ? "refused" : "taken", error.text);
    if (result != 0) {
        assert_int_equal(got.entries, 77); /* untouched */
        if (!strstr(error.text, v->words ? v->words : ""))
            fail_msg("%s: the words are '%s'", v->name, error.text);
        for (const char *c = error.text; *c; c++)
            assert_true(*c >= ' ' && *c <= '~');
    } else {
        check_taken(v, &got);
        feed_hours_free(&got);
    }
    free(text);
}

void variant_run(const char *title, const char *base, const struct variant *rows, size_t count,
                 variant_reader *read)
{
    size_t outcomes[3] = {0};
    for (size_t i = 0; i < count; i++) {
        run_one(&rows[i], base, read);
        outcomes[rows[i].outcome]++;
    }
    printf("variants of %s: %zu refused, %zu with parts dropped, %zu taken\n", title, outcomes[0],
           outcomes[1], outcomes[2]);
}
