/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "reckon.h"

#include <assert.h>
#include <jansson.h>
#include <math.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#include "number.h"

enum {
    KEYS_MAX = 64,
    ANSWERS_MAX = 300, /* a list of suctions may be long */
    NOTES_MAX = 64,
    TEXT_MAX = 320,
    LINE_MAX_BYTES = 2048, /* a refusal may list all keys of a topic */
    LIST_MAX = 256,
};

struct given {
    const char *text; /* in argv */
    double number;
    struct civil_date date;
    int64_t time_s;
    double *list;
    size_t count;
};

struct answer {
    char name[64];
    const struct reckon_out *out;
    double value;
};

struct reckon_desk {
    const struct reckon_topic *topic;
    struct given given[KEYS_MAX]; /* one a topic key, text NULL when absent */
    struct answer answers[ANSWERS_MAX];
    size_t answer_count;
    char notes[NOTES_MAX][TEXT_MAX];
    size_t note_count;
    char refusal[LINE_MAX_BYTES];
};

/* Whatever was given, a message stays one line and leaves a terminal alone. */
static void keep_on_one_line(char *text)
{
    for (char *c = text; *c; c++)
        if ((unsigned char)*c < 0x20 || *c == 0x7f)
            *c = '?';
}

static size_t topic_count(void)
{
    return reckon_weather_count + reckon_mix_count + reckon_water_count;
}

/* The three tables as one. */
static const struct reckon_topic *topic_at(size_t i)
{
    if (i < reckon_weather_count)
        return &reckon_weather_topics[i];
    i -= reckon_weather_count;
    return i < reckon_mix_count ? &reckon_mix_topics[i]
                                : &reckon_water_topics[i - reckon_mix_count];
}

static const struct reckon_topic *find_topic(const char *name)
{
    for (size_t i = 0; i < topic_count(); i++)
        if (strcmp(topic_at(i)->name, name) == 0)
            return topic_at(i);
    return NULL;
}

static void print_topics(FILE *out)
{
    fputs("usage: perchd reckon TOPIC key=value ... [--json]\n"
          "       perchd reckon TOPIC --help\n\ntopics:\n",
          out);
    for (size_t i = 0; i < topic_count(); i++)
        fprintf(out, "  %-13s %s\n", topic_at(i)->name, topic_at(i)->about);
}

/* What a key accepts, in words: the same in help and in refusals. */
static void accepted(const struct reckon_key *key, char *text, size_t size)
{
    char low[32];
    char high[32];
    switch (key->kind) {
    case RECKON_NUMBER:
    case RECKON_LIST:
    case RECKON_INTEGER:
        number_format(key->min, low, sizeof low);
        number_format(key->max, high, sizeof high);
        snprintf(text, size, "%s%s%s to %s%s",
                 key->kind == RECKON_LIST      ? "at most 256, comma-separated, each "
                 : key->kind == RECKON_INTEGER ? "a whole number, "
                                               : "",
                 key->bound == RECKON_OPEN_MIN ? "above " : "", low,
                 key->bound == RECKON_OPEN_MAX ? "below " : "", high);
        break;
    case RECKON_WORD:
        snprintf(text, size, "%s", key->words);
        break;
    case RECKON_DATE:
        snprintf(text, size, "YYYY-MM-DD");
        break;
    case RECKON_TIME:
        snprintf(text, size, "RFC 3339, as 2026-07-01T14:00:00Z");
        break;
    }
}

static void print_help(const struct reckon_topic *topic, FILE *out)
{
    char what[TEXT_MAX];
    fprintf(out, "perchd reckon %s: %s\n\nkeys:\n", topic->name, topic->about);
    for (size_t i = 0; i < topic->key_count; i++) {
        const struct reckon_key *key = &topic->keys[i];
        accepted(key, what, sizeof what);
        fprintf(out, "  %-26s %s%s: %s", key->name, key->required ? "" : "[optional] ", key->about,
                what);
        if (key->fallback)
            fprintf(out, " (default %s)", key->fallback);
        fputc('\n', out);
    }
    fputs("\nanswers:\n", out);
    for (size_t i = 0; i < topic->out_count; i++)
        fprintf(out, "  %-26s %-9s %s\n", topic->outs[i].name, topic->outs[i].unit,
                topic->outs[i].source);
    fputs("\n--json gives one flat object with full precision.\n", out);
}

static bool in_range(const struct reckon_key *key, double x)
{
    bool low = key->bound == RECKON_OPEN_MIN ? x > key->min : x >= key->min;
    bool high = key->bound == RECKON_OPEN_MAX ? x < key->max : x <= key->max;
    return low && high;
}

static bool read_list(const struct reckon_key *key, struct given *given)
{
    const char *text = given->text;
    for (;;) {
        size_t length = strcspn(text, ",");
        double value = 0;
        if (given->count == LIST_MAX || !number_parse(text, length, &value) ||
            !in_range(key, value))
            return false;
        given->list[given->count++] = value;
        if (text[length] == '\0')
            return true;
        text += length + 1;
    }
}

static bool word_is_listed(const char *words, const char *word)
{
    size_t length = strlen(word);
    if (strchr(word, '|'))
        return false; /* two words of the list in a row are not a word */
    for (const char *at = words; length > 0 && at;) {
        if (strncmp(at, word, length) == 0 && (at[length] == '|' || at[length] == '\0'))
            return true;
        at = strchr(at, '|');
        if (at)
            at++;
    }
    return false;
}

static bool read_value(const struct reckon_key *key, struct given *given)
{
    switch (key->kind) {
    case RECKON_NUMBER:
    case RECKON_INTEGER:
        return number_parse(given->text, strlen(given->text), &given->number) &&
               in_range(key, given->number) &&
               (key->kind == RECKON_NUMBER || floor(given->number) == given->number);
    case RECKON_LIST:
        return read_list(key, given);
    case RECKON_WORD:
        return word_is_listed(key->words, given->text);
    case RECKON_DATE:
        return civil_parse_date(given->text, &given->date) == STATUS_OK;
    case RECKON_TIME:
        return civil_parse_rfc3339(given->text, &given->time_s) == STATUS_OK;
    }
    return false;
}

static int refuse_unknown(struct reckon_desk *desk, const char *name, const char *value)
{
    char names[LINE_MAX_BYTES / 2];
    size_t used = 0;
    for (size_t i = 0; i < desk->topic->key_count && used < sizeof names; i++)
        used += (size_t)snprintf(names + used, sizeof names - used, "%s%s", i ? ", " : "",
                                 desk->topic->keys[i].name);
    return reckon_refuse(desk, name, "given '%.120s', not a key of %s; accepted are %s", value,
                         desk->topic->name, names);
}

/* The value of one key whose text was noted. */
static int take_value(struct reckon_desk *desk, const struct reckon_key *key, struct given *given)
{
    char what[TEXT_MAX];
    if (key->kind == RECKON_LIST) {
        given->list = calloc(LIST_MAX, sizeof *given->list);
        if (!given->list) {
            reckon_refuse(desk, key->name, "out of memory");
            return 1;
        }
    }
    if (read_value(key, given))
        return 0;
    accepted(key, what, sizeof what);
    return reckon_refuse(desk, key->name, "given '%.120s', accepted is %s", given->text, what);
}

/* One 'key=value' word. */
static int read_word(struct reckon_desk *desk, const char *word)
{
    const struct reckon_topic *topic = desk->topic;
    const char *equals = strchr(word, '=');
    char name[64];
    if (!equals)
        return reckon_refuse(desk, word, "given alone, accepted is key=value, --json or --help");
    size_t length = (size_t)(equals - word);
    snprintf(name, sizeof name, "%.*s", (int)(length < 63 ? length : 63), word);
    for (size_t i = 0; i < topic->key_count; i++) {
        if (strlen(topic->keys[i].name) != length ||
            strncmp(topic->keys[i].name, word, length) != 0)
            continue;
        if (desk->given[i].text)
            return reckon_refuse(desk, name, "given '%.120s' and '%.120s', accepted is one value",
                                 desk->given[i].text, equals + 1);
        desk->given[i].text = equals + 1;
        return take_value(desk, &topic->keys[i], &desk->given[i]);
    }
    return refuse_unknown(desk, name, equals + 1);
}

static int check_required(struct reckon_desk *desk)
{
    char what[TEXT_MAX];
    for (size_t i = 0; i < desk->topic->key_count; i++) {
        const struct reckon_key *key = &desk->topic->keys[i];
        if (key->required && !desk->given[i].text) {
            accepted(key, what, sizeof what);
            return reckon_refuse(desk, key->name, "missing, accepted is %s", what);
        }
    }
    return 0;
}

static void print_table(const struct reckon_desk *desk, FILE *out)
{
    for (size_t i = 0; i < desk->answer_count; i++) {
        const struct answer *a = &desk->answers[i];
        fprintf(out, "%-28s %14.6g  %-9s %s\n", a->name, a->value, a->out ? a->out->unit : "-",
                a->out ? a->out->source : "");
    }
    for (size_t i = 0; i < desk->note_count; i++)
        fprintf(out, "note: %s\n", desk->notes[i]);
}

/* 0, or -1 when there was no memory or no room for the text. */
static int print_json(const struct reckon_desk *desk, FILE *out)
{
    json_t *root = json_object();
    json_t *notes = json_array();
    int bad = !root || !notes;
    for (size_t i = 0; i < desk->answer_count && !bad; i++)
        bad = json_object_set_new(root, desk->answers[i].name, json_real(desk->answers[i].value));
    for (size_t i = 0; i < desk->note_count && !bad; i++)
        bad = json_array_append_new(notes, json_string(desk->notes[i]));
    if (!bad)
        bad = json_object_set(root, "notes", notes);
    if (!bad)
        bad = json_dumpf(root, out, JSON_INDENT(1) | JSON_REAL_PRECISION(17));
    json_decref(notes);
    json_decref(root);
    if (bad)
        return -1;
    fputc('\n', out);
    return 0;
}

static bool is_among(int argc, char *const argv[], const char *word)
{
    for (int i = 0; i < argc; i++)
        if (strcmp(argv[i], word) == 0)
            return true;
    return false;
}

/* Reads the words after the topic, runs it. */
static int work(struct reckon_desk *desk, int argc, char *const argv[])
{
    int code = 0;
    for (int i = 0; i < argc && code == 0; i++)
        if (strcmp(argv[i], "--json") != 0)
            code = read_word(desk, argv[i]);
    if (code == 0)
        code = check_required(desk);
    if (code == 0)
        code = desk->topic->run(desk);
    assert((code != 0) == reckon_refused(desk));
    return code;
}

/* What was printed has reached the other side, or 1 and a line that says it has not. */
static int finish(FILE *out, FILE *err, int bad)
{
    if (fflush(out) == 0 && !ferror(out) && !bad)
        return 0;
    fputs("perchd reckon: the answer could not be written\n", err);
    return 1;
}

static int run_topic(const struct reckon_topic *topic, int argc, char *const argv[], FILE *out,
                     FILE *err)
{
    assert(topic->key_count <= KEYS_MAX);
    struct reckon_desk *desk = calloc(1, sizeof *desk);
    if (!desk) {
        fputs("perchd reckon: out of memory\n", err);
        return 1;
    }
    desk->topic = topic;
    int code = work(desk, argc, argv);
    int bad = 0;
    if (code != 0)
        fprintf(err, "perchd reckon %s: %s\n", topic->name, desk->refusal);
    else if (is_among(argc, argv, "--json"))
        bad = print_json(desk, out);
    else
        print_table(desk, out);
    if (code == 0)
        code = finish(out, err, bad);
    for (size_t i = 0; i < topic->key_count; i++)
        free(desk->given[i].list);
    free(desk);
    return code;
}

int reckon_run(int argc, char *const argv[], FILE *out, FILE *err)
{
    if (argc == 0 || strcmp(argv[0], "--help") == 0) {
        print_topics(out);
        return finish(out, err, 0);
    }
    const struct reckon_topic *topic = find_topic(argv[0]);
    if (!topic) {
        char given[64];
        snprintf(given, sizeof given, "%s", argv[0]);
        keep_on_one_line(given);
        fprintf(err, "perchd reckon: topic '%s' given, accepted are", given);
        for (size_t i = 0; i < topic_count(); i++)
            fprintf(err, "%s %s", i ? "," : "", topic_at(i)->name);
        fputc('\n', err);
        return 2;
    }
    if (is_among(argc - 1, argv + 1, "--help")) {
        print_help(topic, out);
        return finish(out, err, 0);
    }
    return run_topic(topic, argc - 1, argv + 1, out, err);
}

static const struct given *find_given(const struct reckon_desk *desk, const char *key)
{
    for (size_t i = 0; i < desk->topic->key_count; i++)
        if (strcmp(desk->topic->keys[i].name, key) == 0)
            return &desk->given[i];
    assert(0 && "key is declared");
    return NULL;
}

bool reckon_has(const struct reckon_desk *desk, const char *key)
{
    return find_given(desk, key)->text != NULL;
}

double reckon_number(const struct reckon_desk *desk, const char *key)
{
    assert(reckon_has(desk, key));
    return find_given(desk, key)->number;
}

double reckon_number_or(struct reckon_desk *desk, const char *key, double fallback)
{
    char text[32];
    if (reckon_has(desk, key))
        return reckon_number(desk, key);
    number_format(fallback, text, sizeof text);
    reckon_note(desk, "%s not given: %s used", key, text);
    return fallback;
}

struct civil_date reckon_date(const struct reckon_desk *desk, const char *key)
{
    assert(reckon_has(desk, key));
    return find_given(desk, key)->date;
}

int64_t reckon_time(const struct reckon_desk *desk, const char *key)
{
    assert(reckon_has(desk, key));
    return find_given(desk, key)->time_s;
}

const double *reckon_list(const struct reckon_desk *desk, const char *key, size_t *count)
{
    const struct given *given = find_given(desk, key);
    *count = given->count;
    return given->list;
}

const char *reckon_word(const struct reckon_desk *desk, const char *key)
{
    return find_given(desk, key)->text;
}

const char *reckon_word_or(struct reckon_desk *desk, const char *key, const char *fallback)
{
    if (reckon_has(desk, key))
        return reckon_word(desk, key);
    reckon_note(desk, "%s not given: %s used", key, fallback);
    return fallback;
}

size_t reckon_count(const struct reckon_desk *desk, const char *const *names)
{
    size_t count = 0;
    for (; *names; names++)
        count += reckon_has(desk, *names) ? 1 : 0;
    return count;
}

int reckon_choose(struct reckon_desk *desk, const char *const *options, bool required,
                  const char *ways)
{
    const char *first = NULL;
    for (const char *const *option = options; *option; option++) {
        if (!reckon_has(desk, *option))
            continue;
        if (first)
            return reckon_refuse(desk, *option, "given together with %s, accepted is %s of %s",
                                 first, required ? "exactly one" : "at most one", ways);
        first = *option;
    }
    if (!first && required)
        return reckon_refuse(desk, options[0], "missing, accepted is exactly one of %s", ways);
    return 0;
}

int reckon_need(struct reckon_desk *desk, const char *key, const char *needed)
{
    char what[TEXT_MAX];
    if (!reckon_has(desk, key) || reckon_has(desk, needed))
        return 0;
    accepted(&desk->topic->keys[find_given(desk, needed) - desk->given], what, sizeof what);
    return reckon_refuse(desk, needed, "missing, accepted is %s with %s=%.120s", what, key,
                         reckon_word(desk, key));
}

static void add_answer(struct reckon_desk *desk, const char *name, const struct reckon_out *out,
                       double value)
{
    if (!isfinite(value)) {
        reckon_note(desk, "%s cannot be computed from these keys", name);
        return;
    }
    if (desk->answer_count == ANSWERS_MAX)
        return;
    struct answer *answer = &desk->answers[desk->answer_count++];
    snprintf(answer->name, sizeof answer->name, "%s", name);
    answer->out = out;
    answer->value = value + 0.0; /* -0 is written as 0 */
}

void reckon_give(struct reckon_desk *desk, const char *name, double value)
{
    for (size_t i = 0; i < desk->topic->out_count; i++) {
        if (strcmp(desk->topic->outs[i].name, name) == 0) {
            add_answer(desk, name, &desk->topic->outs[i], value);
            return;
        }
    }
    assert(0 && "answer is declared");
}

void reckon_give_numbered(struct reckon_desk *desk, const char *stem, size_t number, double value)
{
    char name[64];
    snprintf(name, sizeof name, "%.40s_%zu", stem, number);
    add_answer(desk, name, NULL, value);
}

void reckon_note(struct reckon_desk *desk, const char *format, ...)
{
    if (desk->note_count == NOTES_MAX)
        return;
    va_list args;
    va_start(args, format);
    vsnprintf(desk->notes[desk->note_count++], TEXT_MAX, format, args);
    va_end(args);
}

int reckon_refuse(struct reckon_desk *desk, const char *key, const char *format, ...)
{
    if (reckon_refused(desk))
        return 2;
    int n = snprintf(desk->refusal, sizeof desk->refusal, "%.64s: ", key);
    va_list args;
    va_start(args, format);
    vsnprintf(desk->refusal + n, sizeof desk->refusal - (size_t)n, format, args);
    va_end(args);
    keep_on_one_line(desk->refusal);
    return 2;
}

bool reckon_refused(const struct reckon_desk *desk)
{
    return desk->refusal[0] != '\0';
}
