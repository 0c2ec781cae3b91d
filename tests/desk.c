/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check.h"

#include <math.h>
#include <stdio.h>

#include "daemon/reckon.h"
#include "desk.h"

enum { WORDS_MAX = 64 };

static int run_program(const char *words, char *out, size_t out_size, char *err, size_t err_size)
{
    char program[1024];
    char command[6144];
    check_program("perchd", program, sizeof program);
    snprintf(command, sizeof command, "%s reckon %s", program, words);
    return check_run(command, out, out_size, err, err_size);
}

static void keep(char *to, size_t size, FILE *stream, char **text)
{
    fclose(stream);
    snprintf(to, size, "%s", *text);
    free(*text);
}

static int run_here(const char *words, char *out, size_t out_size, char *err, size_t err_size)
{
    char *argv[WORDS_MAX];
    int argc = 0;
    char *rest = NULL;
    char *copy = strdup(words);
    char *out_text = NULL;
    char *err_text = NULL;
    size_t size = 0;
    FILE *out_stream = open_memstream(&out_text, &size);
    FILE *err_stream = open_memstream(&err_text, &size);
    assert_true(copy && out_stream && err_stream);
    for (char *word = strtok_r(copy, " ", &rest); word; word = strtok_r(NULL, " ", &rest)) {
        assert_true(argc < WORDS_MAX);
        argv[argc++] = word;
    }
    int code = reckon_run(argc, argv, out_stream, err_stream);
    keep(out, out_size, out_stream, &out_text);
    keep(err, err_size, err_stream, &err_text);
    free(copy);
    return code;
}

int desk_run(enum desk_way way, const char *words, char *out, size_t out_size, char *err,
             size_t err_size)
{
    return way == DESK_PROGRAM ? run_program(words, out, out_size, err, err_size)
                               : run_here(words, out, out_size, err, err_size);
}

static void check_flat(const json_t *answer, const char *words)
{
    const char *key = NULL;
    json_t *value = NULL;
    assert_true(json_is_array(json_object_get(answer, "notes")));
    json_object_foreach((json_t *)(uintptr_t)answer, key, value)
    {
        if (strcmp(key, "notes") != 0 && !(json_is_real(value) && isfinite(json_real_value(value))))
            fail_msg("%s: '%s' is not a finite number", words, key);
    }
}

static json_t *answer_by(enum desk_way way, const char *words)
{
    char command[4096];
    char out[16384];
    char err[4096];
    snprintf(command, sizeof command, "%s --json", words);
    int code = desk_run(way, command, out, sizeof out, err, sizeof err);
    if (code != 0 || err[0] != '\0')
        fail_msg("%s: exit %d: %s", words, code, err);
    json_t *answer = json_loads(out, JSON_REJECT_DUPLICATES, NULL);
    if (!json_is_object(answer))
        fail_msg("%s: not an object: %s", words, out);
    check_flat(answer, words);
    return answer;
}

json_t *desk_answer(const char *words)
{
    return answer_by(DESK_HERE, words);
}

double desk_number(const json_t *answer, const char *key)
{
    const json_t *value = json_object_get(answer, key);
    if (!json_is_number(value))
        fail_msg("no number '%s'", key);
    return json_number_value(value);
}

bool desk_has(const json_t *answer, const char *key)
{
    return json_object_get(answer, key) != NULL;
}

bool desk_noted(const json_t *answer, const char *part)
{
    const json_t *notes = json_object_get(answer, "notes");
    for (size_t i = 0; i < json_array_size(notes); i++)
        if (strstr(json_string_value(json_array_get(notes, i)), part))
            return true;
    return false;
}

void desk_check_figures(const char *source, const char *words, const struct desk_figure *figures,
                        size_t count)
{
    json_t *here = answer_by(DESK_HERE, words);
    json_t *program = answer_by(DESK_PROGRAM, words);
    for (size_t i = 0; i < count; i++) {
        char what[256];
        snprintf(what, sizeof what, "%s, %s", source, figures[i].key);
        check_near(desk_number(program, figures[i].key), figures[i].value, figures[i].tolerance,
                   what);
    }
    assert_true(json_equal(here, program));
    json_decref(here);
    json_decref(program);
}

void desk_check_refused(enum desk_way way, const char *words, const char *key)
{
    char out[4096];
    char err[4096];
    char name[128];
    int code = desk_run(way, words, out, sizeof out, err, sizeof err);
    snprintf(name, sizeof name, ": %s: ", key);
    const char *end = strchr(err, '\n');
    if (code != 2 || out[0] != '\0' || !end || end[1] != '\0' || !strstr(err, name) ||
        !strstr(err, "accepted"))
        fail_msg("'%s' gave %d, out '%s', err '%s'; wanted a refusal of %s", words, code, out, err,
                 key);
}
