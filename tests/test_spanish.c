/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check.h"

#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>

#include "daemon/problem.h"
#include "daemon/spanish.h"

enum { TEXT_MAX = 1024, MARKS_MAX = 6 };

/* --- the sources' own literals ---------------------------------------------------------------- */

static char *read_source(const char *name)
{
    char path[512];
    snprintf(path, sizeof path, "%s/daemon/%s", PERCHD_SOURCE, name);
    FILE *file = fopen(path, "r");
    assert_non_null(file);
    char *text = calloc(1, 1 << 18);
    assert_non_null(text);
    assert_in_range(fread(text, 1, (1 << 18) - 1, file), 1, (1 << 18) - 2);
    fclose(file);
    return text;
}

/* From an opening quote: the literals that stand one after the other, as the compiler joins them.
 * Returns what follows. */
static const char *join(const char *at, char out[TEXT_MAX])
{
    size_t used = 0;
    while (*at == '"') {
        for (at++; *at != '"'; at++) {
            at += *at == '\\';
            assert_true(used + 1 < TEXT_MAX);
            out[used++] = *at;
        }
        at++;
        const char *next = at + strspn(at, " \n");
        at = *next == '"' ? next : at;
    }
    out[used] = '\0';
    return at;
}

typedef void each_literal(const char *literal, const char *where);

/* In what follows a mark up to the statement's end. */
static size_t each_after(const char *source, const char *mark, each_literal *each,
                         const char *where)
{
    char literal[TEXT_MAX];
    size_t count = 0;
    for (const char *at = strstr(source, mark); at; at = strstr(at + 1, mark))
        for (const char *end = at; *end && *end != ';';) {
            if (*end != '"') {
                end++;
                continue;
            }
            end = join(end, literal);
            if (literal[0] && strchr(literal + 1, ' ')) {
                each(literal, where);
                count++;
            }
        }
    return count;
}

static const struct {
    const char *file;
    const char *marks[MARKS_MAX];
} messages[] = {
    {"kind.c", {"kind_fault_set(", "snprintf(out, size,", "const char *what ="}},
    {"kind_check.c",
     {"kind_fault_set(", "refuse_other(", "refuse_over(", "const char *accepted ="}},
    {"record_json.c",
     {"fail(", "snprintf(accepted", "snprintf(given", "snprintf(out, size,",
      "snprintf(fault->text,"}},
    {"store_put.c", {"kind_fault_set(", "error_set("}},
    {"store_mix.c", {"kind_fault_set(", "refuse("}},
    {"store_record.c", {"kind_fault_set("}},
    {"query.c", {"error_set("}},
    {"document.c", {"error_set(", "return \""}},
    {"request.c", {"refuse(", "refuse_bad(", "problem_of(", ".detail ="}},
    {"http.c", {".detail ="}},
    {"planner.c",
     {"const char *what =", "error_set(error, \"block %s", "error_set(error, \"no plan",
      "error_set(error, \"out of memory"}},
    {"weather_view.c", {"error_set(w->error,"}},
    {"store_load.c", {"error_set(load->error,"}},
    {"cycle.c", {"snapshot_excuse("}},
    {"api.c", {"api_refuse("}},
    {"api_block.c", {"api_refuse("}},
    {"api_card.c", {"api_refuse("}},
    {"api_checks.c", {"api_refuse("}},
    {"api_history.c", {"api_refuse("}},
    {"api_record.c", {"api_refuse(", "kind_fault_set(", "snprintf(detail"}},
    {"api_sheet.c", {"api_refuse("}},
    {"api_weather.c", {"api_refuse(", "refuse_reading("}},
    {"api_who.c", {"api_refuse(", "refuse_secret(", "wrong[] ="}},
};

static size_t each_message(each_literal *each)
{
    size_t count = 0;
    for (size_t i = 0; i < sizeof messages / sizeof messages[0]; i++) {
        char *source = read_source(messages[i].file);
        for (size_t k = 0; k < MARKS_MAX && messages[i].marks[k]; k++)
            count += each_after(source, messages[i].marks[k], each, messages[i].file);
        free(source);
    }
    return count;
}

/* --- messages as they come out ---------------------------------------------------------------- */

/* A format with something in the place of each conversion, those of English being given. */
static size_t print_sample(const char *format, const char *english, char out[TEXT_MAX])
{
    size_t used = 0;
    size_t parts = 0;
    const char *like = english;
    for (; *format; format++) {
        if (*format == '%' && format[1] != '%') {
            for (like = strchr(like, '%'); like && like[1] == '%'; like = strchr(like + 2, '%'))
                ;
            assert_non_null(like);
            like += strcspn(like, "sdgfu");
            used += (size_t)snprintf(out + used, TEXT_MAX - used, *like == 's' ? "zq%zu" : "-%zu.5",
                                     parts++);
            format += strcspn(format, "sdgfu");
            continue;
        }
        format += *format == '%';
        assert_true(used + 1 < TEXT_MAX);
        out[used++] = *format;
    }
    out[used] = '\0';
    assert_true(!like || !strchr(like, '%') || parts > 0);
    return parts;
}

static bool is_letter(char c)
{
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || c == '_' || (c & 0x80);
}

static const char *find_word(const char *text, const char *word, size_t length)
{
    for (const char *at = text; (at = strstr(at, word)); at++)
        if ((at == text || !is_letter(at[-1])) && !is_letter(at[length]))
            return at;
    return NULL;
}

/* No word of it is left but names, which stand in quotes, and words that are the same in both. */
static void assert_other_words(const char *english, const char *spanish, const char *where)
{
    static const char same[] = " PUT PATCH If-Match ETag JSON Transfer-Encoding Allow Bearer TOKEN "
                               "UTF- UTC NUL gzip identity "
                               "application json merge-patch api plan txt csv healthz session "
                               "cookie localhost token add id "
                               "ids a-z bytes control decimal total mon tue wed sunrise- pot "
                               "blocks remarks account password ";
    char word[TEXT_MAX];
    for (const char *at = english; *at;) {
        size_t length = 0;
        while (is_letter(at[length]) || (length > 0 && at[length] == '-'))
            length++;
        if (length == 0) {
            at++;
            continue;
        }
        memcpy(word, at, length);
        word[length] = '\0';
        at += length;
        const char *left = length < 3 ? NULL : find_word(spanish, word, length);
        if (left && !find_word(same, word, length) && !strchr(word, '_') &&
            (left == spanish || left[-1] != '\''))
            fail_msg("%s: '%s' is left in: %s", where, word, spanish);
    }
}

static void expect_spanish(const char *literal, const char *where)
{
    char english[TEXT_MAX];
    char spanish[SPANISH_SIZE];
    print_sample(literal, literal, english);
    if (!spanish_of(english, spanish))
        fail_msg("%s: no Spanish for: %s", where, english);
    assert_other_words(english, spanish, where);
}

/* --- cases ------------------------------------------------------------------------------------ */

static void spanish_of_every_refusal_in_the_sources_is_there(void **state)
{
    (void)state;
    assert_in_range(each_message(expect_spanish), 130, 1000);
}

/* A row is found by what it was made from and not by one before it, and nothing of it is lost. */
static void spanish_rows_give_themselves_with_all_their_parts(void **state)
{
    (void)state;
    for (size_t i = 0; i < spanish_count; i++) {
        const struct spanish_row *row = &spanish_rows[i];
        char english[TEXT_MAX];
        char wanted[TEXT_MAX];
        char spanish[SPANISH_SIZE];
        size_t parts = print_sample(row->english, row->english, english);
        if (print_sample(row->spanish, row->english, wanted) != parts)
            fail_msg("not as many parts: %s", row->spanish);
        if (!spanish_of(english, spanish) || strcmp(spanish, wanted) != 0)
            fail_msg("'%s' instead of '%s'", spanish, wanted);
        assert_other_words(english, spanish, "row");
    }
}

static bool found[512];

static void note_rows(const char *literal, const char *where)
{
    (void)where;
    for (size_t i = 0; i < spanish_count; i++)
        found[i] |= strstr(literal, spanish_rows[i].english) != NULL;
}

static void spanish_rows_are_all_of_use(void **state)
{
    (void)state;
    assert_in_range(spanish_count, 1, sizeof found);
    each_message(note_rows);
    for (size_t i = 0; i < spanish_count; i++)
        if (!found[i])
            fail_msg("nowhere in the sources: %s", spanish_rows[i].english);
}

static void spanish_of_what_somebody_gave_stays(void **state)
{
    (void)state;
    static const char *const cases[][2] = {
        {"'1,5' given, accepted is a number above 0, at most 500; write decimals with a point, not "
         "a comma",
         "recibido: '1,5'; se acepta un número mayor que 0, como mucho 500; escriba los decimales "
         "con punto, no con coma"},
        {"nothing given, accepted is one of: dry right wet",
         "recibido: nada; se acepta uno de: dry right wet"},
        {"\"nothing\" given, accepted is a whole number from 1 to 9",
         "recibido: \"nothing\"; se acepta un número entero de 1 a 9"},
        {"'yes or no' given, accepted is an id of pots.csv",
         "recibido: 'yes or no'; se acepta un id de pots.csv"},
        {"[\"a number\"] given, accepted is an object",
         "recibido: [\"a number\"]; se acepta un objeto"},
        {"-1e-05 given, accepted is at most top_cm (1e+03)",
         "recibido: -1e-05; se acepta como mucho 'top_cm' (1e+03)"},
        {"block 'a' from 2026-01-05: spacing_cm: 5 x 5 cm given, accepted is room for a pot 12 cm "
         "wide (centre to centre)",
         "bloque 'a' desde 2026-01-05: 'spacing_cm': recibido: 5 x 5 cm; se acepta sitio para una "
         "maceta de 12 cm de ancho (de centro a centro)"},
        {"'%s%n ñandú' given, accepted is another block",
         "recibido: '%s%n ñandú'; se acepta otro bloque"},
        {"No plan comes out: block a: a figure is outside its range",
         "No sale ningún plan: bloque 'a': una cifra está fuera de su rango"},
        {"'' given, accepted is another block", "recibido: ''; se acepta otro bloque"},
    };
    char spanish[SPANISH_SIZE];
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        assert_true(spanish_of(cases[i][0], spanish));
        assert_string_equal(spanish, cases[i][1]);
    }
    assert_false(spanish_of("", spanish));
    assert_false(spanish_of("something else", spanish));
    assert_false(spanish_of("many days given, accepted", spanish));
}

/* Whatever stands in it, it ends, and nothing is written past its end. */
static void spanish_of_a_long_and_odd_message_ends(void **state)
{
    (void)state;
    char english[SPANISH_SIZE + 600];
    char spanish[SPANISH_SIZE];
    for (size_t length = 0; length + 40 < sizeof english; length += 37) {
        size_t used = 0;
        while (used < length)
            used += (size_t)snprintf(english + used, sizeof english - used, "%s",
                                     used % 2 ? "' given, accepted is 'ñ" : "from 1 to 2: ");
        english[length] = '\0';
        spanish_of(english, spanish);
    }
}

static void problem_text_says_it_in_one_language(void **state)
{
    (void)state;
    const double least = 0;
    const double most = 0.1;
    struct problem problem = {.status = PROBLEM_UNPROCESSABLE,
                              .field = "litres",
                              .given = "nothing",
                              .accepted = "a number from 0 to 0.1",
                              .least = &least,
                              .most = &most,
                              .detail = "nothing given, accepted is a number from 0 to 0.1"};
    enum field_language language = FIELD_SPANISH;
    char *text = problem_text(&problem, &language);
    assert_string_equal(text,
                        "{\n  \"title\": \"Contenido no aceptable\",\n  \"status\": 422,\n"
                        "  \"field\": \"litres\",\n  \"given\": \"nada\",\n"
                        "  \"accepted\": \"un número de 0 a 0.1\",\n  \"accepted_min\": 0,\n"
                        "  \"accepted_max\": 0.1,\n"
                        "  \"detail\": \"Recibido: nada; se acepta un número de 0 a 0.1\"\n}");
    assert_int_equal(language, FIELD_SPANISH);
    free(text);
    /* what somebody sent stays as it came */
    problem.given = "\"nothing\"";
    text = problem_text(&problem, &language);
    assert_non_null(strstr(text, "\"given\": \"\\\"nothing\\\"\""));
    free(text);
    problem.detail = "no words for this";
    text = problem_text(&problem, &language);
    assert_non_null(strstr(text, "a number from 0 to 0.1"));
    assert_non_null(strstr(text, "\"Unprocessable Content\""));
    assert_int_equal(language, FIELD_ENGLISH);
    free(text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(spanish_of_every_refusal_in_the_sources_is_there),
        cmocka_unit_test(spanish_rows_give_themselves_with_all_their_parts),
        cmocka_unit_test(spanish_rows_are_all_of_use),
        cmocka_unit_test(spanish_of_what_somebody_gave_stays),
        cmocka_unit_test(spanish_of_a_long_and_odd_message_ends),
        cmocka_unit_test(problem_text_says_it_in_one_language),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
