/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The crew's sheet as one page of plain text, for a printer: black, 80 columns, blanks to fill in.
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "sheet.h"
#include "utf8.h"

enum { COLUMNS = 80, BED_WIDTH = 26, POST_WIDTH = 4, DAY_SIZE = 24, LINE_SIZE = 1024 };

struct page {
    FILE *out;
    const json_t *sheet;
};

static const json_t *member(const json_t *object, const char *name)
{
    return json_object_get(object, name);
}

static const char *text_of(const json_t *object, const char *name)
{
    const char *text = json_string_value(member(object, name));
    return text ? text : "";
}

static double number_of(const json_t *object, const char *name)
{
    return json_number_value(member(object, name));
}

static bool is_there(const json_t *object, const char *name)
{
    const json_t *value = member(object, name);
    return value && !json_is_null(value);
}

/* --- times: as they stand in the JSON, which is the nursery's own clock ---------------------- */

/* '04:14' out of '2026-11-26T04:14:00-06:00'. */
static const char *clock_of(const json_t *object, const char *name, char out[DAY_SIZE])
{
    const char *time = text_of(object, name);
    snprintf(out, DAY_SIZE, "%.5s", strlen(time) > 16 ? time + 11 : "--:--");
    return out;
}

/* 'Thu 26 Nov' out of a date or a time. */
static const char *day_of(const char *time, char out[DAY_SIZE])
{
    static const char *const weekdays[] = {"Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"};
    static const char *const months[] = {"Jan", "Feb", "Mar", "Apr", "May", "Jun",
                                         "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"};
    char text[16];
    struct civil_date date;
    snprintf(text, sizeof text, "%.10s", time);
    if (civil_parse_date(text, &date) != STATUS_OK)
        snprintf(out, DAY_SIZE, "?");
    else
        snprintf(out, DAY_SIZE, "%s %d %s", weekdays[((civil_days(date) + 3) % 7 + 7) % 7],
                 date.day, months[date.month - 1]);
    return out;
}

/* 'Thu 04:14'; '-' when there is none. */
static const char *moment_of(const json_t *object, const char *name, char out[DAY_SIZE])
{
    char day[DAY_SIZE];
    char clock[DAY_SIZE];
    if (!is_there(object, name))
        snprintf(out, DAY_SIZE, "-");
    else
        snprintf(out, DAY_SIZE, "%.3s %.5s", day_of(text_of(object, name), day),
                 clock_of(object, name, clock));
    return out;
}

/* --- lines ----------------------------------------------------------------------------------- */

/* Folded at blanks, so many columns of the first line being taken; what follows is indented.
 * Columns are characters. */
static void fold_from(FILE *out, size_t column, const char *indent, const char *text)
{
    for (bool begun = false; *text;) {
        size_t bytes = strcspn(text, " ");
        size_t width = utf8_columns(text, bytes);
        if (begun && column + 1 + width > COLUMNS) {
            fprintf(out, "\n%s", indent);
            column = strlen(indent);
        } else if (begun) {
            fputc(' ', out);
            column++;
        }
        fprintf(out, "%.*s", (int)bytes, text);
        column += width;
        text += bytes;
        text += strspn(text, " ");
        begun = true;
    }
    fputc('\n', out);
}

static void put_folded(FILE *out, const char *first, const char *indent, const char *text)
{
    fputs(first, out);
    fold_from(out, strlen(first), indent, text);
}

/* What the sheet says of a valve, behind its post. */
static void put_of_post(FILE *out, const char *post, const char *text)
{
    utf8_put_padded(out, post, POST_WIDTH);
    fputc(' ', out);
    fold_from(out, POST_WIDTH + 1, "     ", text);
}

/* '4    Drip line', the post as it is painted. */
static void put_place(const struct page *page, const json_t *object, int width)
{
    utf8_put_padded(page->out, text_of(object, "post"), POST_WIDTH);
    fputc(' ', page->out);
    utf8_put_padded(page->out, text_of(object, "bed"), width);
}

/* --- head ------------------------------------------------------------------------------------ */

static void put_clock(FILE *out, const struct store_clock *clock)
{
    char here[CIVIL_TEXT];
    char there[CIVIL_TEXT];
    if (!clock)
        return;
    civil_format_rfc3339(clock->wrong_s, 0, here);
    civil_format_rfc3339(clock->there_s, 0, there);
    fprintf(out,
            "SET THE CLOCK: this computer's says %s,\nthe weather service's %s. No new sheet is "
            "issued until they agree.\n",
            here, there);
}

static void put_stop(const struct page *page, const json_t *stop, char *line, size_t size)
{
    const char *code = text_of(stop, "code");
    char from[DAY_SIZE];
    char to[DAY_SIZE];
    char expected[96] = "none expected";
    size_t used = strlen(line);
    (void)page;
    moment_of(stop, "from", from);
    moment_of(stop, "to", to);
    if (strcmp(code, "people") == 0) {
        snprintf(line + used, size - used, "people in the bed; ");
        return;
    }
    bool frost = strcmp(code, "frost") == 0;
    if (is_there(stop, "from"))
        snprintf(expected, sizeof expected, "expect %.0f %s, %s to %s",
                 number_of(stop, frost ? "worst_c" : "worst_m_s"), frost ? "C" : "m/s", from, to);
    if (frost)
        snprintf(line + used, size - used, "frost, %.0f C and below (%s).",
                 number_of(stop, "limit_c"), expected);
    else
        snprintf(line + used, size - used, "wind above %.0f m/s on sprinklers (%s); ",
                 number_of(stop, "limit_m_s"), expected);
}

/* Said where it is not as usual; of sheets of before nothing is known. */
static void put_weather(FILE *out, const json_t *weather)
{
    const char *rung = text_of(weather, "rung");
    if (strcmp(rung, "normals") == 0)
        fputs("; NO FORECAST: usual weather of the month", out);
    else if (rung[0] && strcmp(rung, "forecast") != 0)
        fprintf(out, "; OLD FORECAST: of %.0f h before", number_of(weather, "age_s") / 3600);
}

/* When it was issued and on what, folded. */
static void put_issued(const struct page *page)
{
    const json_t *sheet = page->sheet;
    char one[DAY_SIZE];
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    if (!out)
        return;
    fprintf(out, "issued %s", moment_of(sheet, "issued_at", one));
    if (json_is_true(member(sheet, "late")))
        fprintf(out, ", late (due %s)", moment_of(sheet, "due_at", one));
    if (is_there(sheet, "replaces"))
        fprintf(out, ", REPLACES SHEET %lld",
                (long long)json_integer_value(member(sheet, "replaces")));
    fputs("; times are local", out);
    put_weather(out, member(sheet, "weather"));
    if (fclose(out) == 0)
        put_folded(page->out, "", "  ", text);
    free(text);
}

static void put_head(const struct page *page, const char *nursery)
{
    const json_t *sheet = page->sheet;
    char line[LINE_SIZE] = "";
    char day[DAY_SIZE];
    char one[DAY_SIZE];
    size_t i;
    const json_t *stop;
    utf8_put_padded(page->out, nursery, COLUMNS - 20);
    fprintf(page->out, "%*s%lld\n", 14, "SHEET ",
            (long long)json_integer_value(member(sheet, "number")));
    fprintf(page->out, "WATERING SHEET FOR %s %.4s", day_of(text_of(sheet, "for"), day),
            text_of(sheet, "for"));
    if (strncmp(text_of(sheet, "for"), text_of(sheet, "covers_from"), 10) != 0)
        fprintf(page->out, ", and today from %s", clock_of(sheet, "covers_from", one));
    fputc('\n', page->out);
    put_issued(page);
    json_array_foreach(member(sheet, "stops"), i, stop) put_stop(page, stop, line, sizeof line);
    put_folded(page->out, "STOP for: ", "  ", line);
}

/* --- changes ---------------------------------------------------------------------------------- */

/* Its hold has a line of its own. */
static bool is_held(const json_t *exception)
{
    return strcmp(text_of(member(exception, "reason"), "code"), "held") == 0;
}

static void put_exception(const struct page *page, const json_t *exception)
{
    const char *code = text_of(exception, "code");
    char line[LINE_SIZE];
    char place[300];
    char start[DAY_SIZE];
    char end[DAY_SIZE];
    char before[DAY_SIZE];
    int minutes = (int)number_of(exception, "minutes");
    int minutes_before = (int)number_of(exception, "minutes_before");
    moment_of(exception, "start", start);
    clock_of(exception, "end", end);
    moment_of(exception, "start_before", before);
    snprintf(place, sizeof place, "%s %s", text_of(exception, "post"),
             is_there(exception, "bed") ? text_of(exception, "bed") : "everywhere");
    if (strcmp(code, "moved") == 0)
        snprintf(line, sizeof line, "MOVED %s: %s-%s, %d min; not %s, %d min", place, start, end,
                 minutes, before, minutes_before);
    else if (strcmp(code, "added") == 0)
        snprintf(line, sizeof line, "ADDED %s: %s-%s, %d min", place, start, end, minutes);
    else
        snprintf(line, sizeof line, "HOLD %s, %s to %s: %s", place, start,
                 moment_of(exception, "end", before), text_of(exception, "words"));
    put_folded(page->out, " ! ", "     ", line);
}

static bool is_together(const json_t *exception)
{
    const char *code = text_of(exception, "code");
    return strcmp(code, "minutes") == 0 || strcmp(code, "dropped") == 0;
}

static void put_one_of(FILE *out, const json_t *one)
{
    char start[DAY_SIZE];
    char end[DAY_SIZE];
    fprintf(out, "%s %s", text_of(one, "post"), text_of(one, "bed"));
    if (strcmp(text_of(one, "code"), "minutes") == 0)
        fprintf(out, " %.0f, not %.0f, %s-%s; ", number_of(one, "minutes"),
                number_of(one, "minutes_before"), clock_of(one, "start", start),
                clock_of(one, "end", end));
    else
        fprintf(out, " %s, %s; ", moment_of(one, "start_before", start),
                is_held(one) ? "held" : text_of(one, "words"));
}

/* In changing weather there are many: one paragraph each, so that the sheet stays a page. */
static void put_together(const struct page *page, const json_t *exceptions, const char *code,
                         const char *title)
{
    char *text = NULL;
    size_t size = 0;
    size_t i;
    const json_t *one;
    FILE *out = open_memstream(&text, &size);
    if (!out)
        return;
    json_array_foreach(exceptions, i, one) if (strcmp(text_of(one, "code"), code) == 0)
        put_one_of(out, one);
    if (fclose(out) == 0 && size > 2) {
        text[size - 2] = '\0';
        put_folded(page->out, title, "     ", text);
    }
    free(text);
}

static void put_exceptions(const struct page *page)
{
    const json_t *exceptions = member(page->sheet, "exceptions");
    char checked[DAY_SIZE];
    size_t i;
    const json_t *one;
    if (json_array_size(exceptions) == 0)
        return;
    fprintf(page->out, "\nCHANGED SINCE, as of %s\n",
            moment_of(page->sheet, "checked_at", checked));
    put_together(page, exceptions, "minutes", " ! MINUTES ");
    put_together(page, exceptions, "dropped", " ! DROPPED ");
    json_array_foreach(exceptions, i, one) if (!is_together(one)) put_exception(page, one);
}

/* --- body ------------------------------------------------------------------------------------- */

/* Nothing in it: nothing printed. */
static bool begin(const struct page *page, const char *name, const char *title)
{
    if (json_array_size(member(page->sheet, name)) == 0)
        return false;
    fprintf(page->out, "\n%s\n", title);
    return true;
}

/* Whether a moment is on another date than the sheet's. */
static bool is_other_day(const struct page *page, const char *moment)
{
    char date[sizeof "2026-01-01"];
    snprintf(date, sizeof date, "%.10s", moment);
    return strcmp(date, text_of(page->sheet, "for")) != 0;
}

static void put_run(const struct page *page, const json_t *run)
{
    size_t i;
    const json_t *share;
    char start[DAY_SIZE];
    char end[DAY_SIZE];
    char pulses[24] = "";
    char each[24];
    int count = (int)number_of(run, "pulses");
    const char *purpose = text_of(run, "purpose");
    bool other_day = is_other_day(page, text_of(run, "start"));
    if (count > 1)
        snprintf(pulses, sizeof pulses, "%dx%.0f/%.0f", count, number_of(run, "pulse_minutes"),
                 number_of(run, "pause_minutes"));
    if (is_there(run, "depth_mm"))
        snprintf(each, sizeof each, "%.1f mm", number_of(run, "depth_mm"));
    else
        snprintf(each, sizeof each, "%.2f l", number_of(run, "litres_pot"));
    put_place(page, run, BED_WIDTH);
    fprintf(page->out, " %c%.5s-%.5s %4.0f %8s %8s %7.2f\n", other_day ? '*' : ' ',
            clock_of(run, "start", start), clock_of(run, "end", end), number_of(run, "minutes"),
            pulses, each, number_of(run, "litres") / 1000.0);
    fputs("     on __:__ off __:__ meter ______ to ______ by ____ [ ]dry [ ]right [ ]wet\n",
          page->out);
    if (strcmp(purpose, "irrigation") != 0)
        fprintf(page->out, "     FOR %s\n", purpose);
    if (is_there(run, "counts_on_rain_mm"))
        fprintf(page->out,
                "     COUNTS ON RAIN before it (%.0f mm forecast): if it fails, ask for more\n",
                number_of(run, "counts_on_rain_mm"));
    json_array_foreach(member(run, "blocks"), i, share)
    {
        fputs("     by hose, of it: ", page->out);
        utf8_put_padded(page->out, text_of(share, "name"), BED_WIDTH);
        fprintf(page->out, " %3.0f min %6.2f l/pot\n", number_of(share, "minutes"),
                number_of(share, "litres_pot"));
    }
}

static void put_runs(const struct page *page)
{
    size_t i;
    const json_t *run;
    bool other_day = false;
    if (!begin(page, "runs",
               "RUNS, IN WALKING ORDER\n"
               "post bed                         start-stop   min   pulses each pot      m3")) {
        fputs("\nNOTHING RUNS\n", page->out);
        return;
    }
    json_array_foreach(member(page->sheet, "runs"), i, run)
    {
        put_run(page, run);
        other_day |= is_other_day(page, text_of(run, "start"));
    }
    if (other_day)
        fputs("* today still\n", page->out);
}

static void put_hands(const struct page *page)
{
    size_t i;
    const json_t *hand;
    char limit[DAY_SIZE];
    if (!begin(page, "by_hand",
               "BY HAND, BEFORE PLANTS COME UNDER STRESS\n"
               "post block                      part    pots  l/pot hose min before"))
        return;
    json_array_foreach(member(page->sheet, "by_hand"), i, hand)
    {
        utf8_put_padded(page->out, text_of(hand, "post"), POST_WIDTH);
        fputc(' ', page->out);
        utf8_put_padded(page->out, text_of(hand, "name"), BED_WIDTH);
        fprintf(page->out, " %-5s %6.0f %6.2f %8.0f %s\n", text_of(hand, "part"),
                number_of(hand, "pots"), number_of(hand, "litres_pot"),
                number_of(hand, "hose_minutes"), moment_of(hand, "limit", limit));
    }
}

static void put_do_not(const struct page *page)
{
    size_t i;
    const json_t *zone;
    if (!begin(page, "do_not_water", "DO NOT WATER"))
        return;
    json_array_foreach(member(page->sheet, "do_not_water"), i, zone)
    {
        char line[LINE_SIZE];
        char until[DAY_SIZE];
        snprintf(line, sizeof line, "%s: %s%s%s%s%s", text_of(zone, "bed"),
                 strcmp(text_of(zone, "code"), "no_room") == 0 ? "NO ROOM FOR IT: " : "",
                 text_of(zone, "words"), is_there(zone, "until") ? "; until " : "",
                 is_there(zone, "until") ? moment_of(zone, "until", until) : "",
                 json_is_true(member(zone, "by_hand"))
                     ? ". KEEP THE VALVE SHUT: only its blocks under BY HAND, by hose"
                     : "");
        put_of_post(page->out, text_of(zone, "post"), line);
    }
}

static void put_notes(const struct page *page)
{
    size_t i;
    const json_t *note;
    if (!begin(page, "notes", "FEED AND SPRAY"))
        return;
    json_array_foreach(member(page->sheet, "notes"), i, note)
    {
        char line[LINE_SIZE];
        char from[DAY_SIZE];
        char to[DAY_SIZE];
        snprintf(line, sizeof line, "%s: %s; %s to %s",
                 is_there(note, "zone") ? text_of(note, "bed") : "everywhere",
                 text_of(note, "words"), moment_of(note, "from", from), moment_of(note, "to", to));
        put_of_post(page->out, text_of(note, "post"), line);
    }
}

static void put_feel(const struct page *page)
{
    size_t i;
    const json_t *pot;
    if (!begin(page, "feel", "FEEL THESE POTS"))
        return;
    json_array_foreach(member(page->sheet, "feel"), i, pot)
    {
        utf8_put_padded(page->out, text_of(pot, "post"), POST_WIDTH);
        fputc(' ', page->out);
        utf8_put_padded(page->out, text_of(pot, "name"), BED_WIDTH);
        fprintf(page->out, " [ ]dry [ ]right [ ]wet  %s\n", text_of(pot, "words"));
    }
}

static void put_first(const struct page *page)
{
    size_t i;
    const json_t *block;
    if (!begin(page, "first_if_it_fails",
               "IF A VALVE OR THE PUMP FAILS, THESE FIRST, BEFORE PLANTS COME UNDER STRESS"))
        return;
    json_array_foreach(member(page->sheet, "first_if_it_fails"), i, block)
    {
        char before[DAY_SIZE];
        fprintf(page->out, "%zu. ", i + 1);
        utf8_put_padded(page->out, text_of(block, "name"), BED_WIDTH);
        fprintf(page->out, " post ");
        utf8_put_padded(page->out, text_of(block, "post"), POST_WIDTH);
        fprintf(page->out, " before %s\n", moment_of(block, "before", before));
    }
}

static void put_page(const struct page *page, const char *nursery)
{
    put_head(page, nursery);
    put_exceptions(page);
    put_runs(page);
    put_hands(page);
    put_do_not(page);
    put_notes(page);
    put_feel(page);
    fputs("\nREMARKS\n", page->out);
    if (is_there(page->sheet, "remarks"))
        put_folded(page->out, "", "", text_of(page->sheet, "remarks"));
    fputs("_______________________________________________________________________________\n",
          page->out);
    put_first(page);
}

char *sheet_text(const char *nursery, const json_t *sheet, const struct store_clock *clock)
{
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    if (!out)
        return NULL;
    put_clock(out, clock);
    if (sheet) {
        const struct page page = {out, sheet};
        put_page(&page, nursery);
    } else {
        fprintf(out, "%s\nNo sheet has been issued yet.\n", nursery);
    }
    if (fclose(out) == 0)
        return text;
    free(text);
    return NULL;
}
