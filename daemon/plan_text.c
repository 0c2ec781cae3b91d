/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The plan as a text sheet: one page for a phone, a printer or a terminal. */
#include "plan_view.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "plan_index.h"
#include "utf8.h"
#include "working.h"

enum { NAME_WIDTH = 26, CLOCK_SIZE = 24 };

struct sheet {
    const struct plan_view *view;
    const struct nursery *nursery;
    const struct records *records;
    FILE *out;
    bool zone_said; /* the zone stands before the reason */
};

static const char *const weekdays[] = {"Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"};
static const char *const months[] = {"Jan", "Feb", "Mar", "Apr", "May", "Jun",
                                     "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"};

static const char *weekday_of(int64_t local_days)
{
    return weekdays[((local_days + 3) % 7 + 7) % 7];
}

static void clock_of(const struct sheet *s, int64_t t_s, char out[CLOCK_SIZE])
{
    int second = civil_local_second(&s->nursery->time_zone, t_s);
    snprintf(out, CLOCK_SIZE, "%02d:%02d", second / 3600, second / 60 % 60);
}

/* 'Thu 11:00', or with the date when it is more than six days away. */
static void day_and_clock(const struct sheet *s, int64_t t_s, char out[CLOCK_SIZE])
{
    struct civil_date date = civil_local_date(&s->nursery->time_zone, t_s);
    int64_t days = civil_days(date);
    int64_t today = s->view->result->days[0].local_days;
    char clock[CLOCK_SIZE];
    if (t_s <= 0) {
        snprintf(out, CLOCK_SIZE, "beyond the plan");
        return;
    }
    clock_of(s, t_s, clock);
    if (days - today < 7 && today - days < 7)
        snprintf(out, CLOCK_SIZE, "%s %.5s", weekday_of(days), clock);
    else
        snprintf(out, CLOCK_SIZE, "%d %s %.5s", date.day, months[date.month - 1], clock);
}

static const char *block_name(const struct sheet *s, size_t block)
{
    if (block == NURSERY_NONE)
        return "?";
    const struct records_label *label = &s->records->blocks[block];
    return label->name[0] ? label->name : label->id;
}

static const char *zone_name(const struct sheet *s, size_t zone)
{
    if (zone == NURSERY_NONE)
        return "?";
    const struct records_label *label = &s->records->zones[zone].label;
    return label->name[0] ? label->name : label->id;
}

static void and_more(const struct sheet *s, double blocks)
{
    if (blocks > 1.0)
        fprintf(s->out, " (and %.0f more)", blocks - 1.0);
}

static void say_note(const struct sheet *s, const struct records_note *note)
{
    if (note->who[0])
        fprintf(s->out, ", %s", note->who);
    if (note->why[0])
        fprintf(s->out, ": %s", note->why);
}

/* What people asked for and forbade; the words of a kind are its name with blanks. */
static void say_kind(const struct sheet *s, const char *name)
{
    for (; *name; name++)
        fputc(*name == '_' ? ' ' : *name, s->out);
}

static void say_wish(const struct sheet *s, const struct plan_reason *r)
{
    char at[CLOCK_SIZE];
    char until[CLOCK_SIZE];
    day_and_clock(s, r->at_s, at);
    day_and_clock(s, r->until_s, until);
    bool order = r->code == PLAN_ORDERED;
    bool hold = r->code == PLAN_HELD || r->code == PLAN_HOLD_PASSES;
    if (order) {
        fputs("ordered", s->out);
        say_note(s, &s->records->orders[r->other]);
    } else if (!hold) {
        if (r->code == PLAN_REQUIRED_MISSED)
            fprintf(s->out, "%s: no room by %s for ", zone_name(s, r->zone), until);
        say_kind(s, plan_purpose_name(s->nursery->requirements[r->other].purpose));
        fprintf(s->out, ", %.0f min at least", r->a);
        say_note(s, &s->records->requirements[r->other]);
    } else {
        if (r->code == PLAN_HOLD_PASSES)
            fprintf(s->out, "%s: %s passes its stress limit %s, ", zone_name(s, r->zone),
                    block_name(s, r->block), at);
        fputs("held for ", s->out);
        say_kind(s, plan_hold_name(s->nursery->holds[r->other].kind));
        say_note(s, &s->records->holds[r->other]);
        if (r->code == PLAN_HELD && r->block != NURSERY_NONE && r->at_s > 0)
            fprintf(s->out, "; %s is due %s", block_name(s, r->block), at);
        if (r->code == PLAN_HOLD_PASSES)
            fprintf(s->out, " until %s", until);
    }
}

static void say_salt(const struct sheet *s, const struct plan_reason *r)
{
    if (r->code == PLAN_CHANGE_WATER) {
        fprintf(s->out, "%s: water of %.1f dS/m is too salty for %s to be leached by watering: ",
                zone_name(s, r->zone), r->a, block_name(s, r->block));
        fputs("change the water, flush by hand", s->out);
    } else if (r->code == PLAN_SALT_HIGH) {
        fprintf(s->out, "%s: %.1f dS/m of salt, over %.1f", block_name(s, r->block), r->a, r->b);
    } else if (r->code == PLAN_POUR_THROUGH_DUE) {
        fprintf(s->out, "a pour-through of %s is due", block_name(s, r->block));
        and_more(s, r->a);
    } else {
        fprintf(s->out, "%s: %.0f %% was caught draining, %.0f are meant to", zone_name(s, r->zone),
                r->a, r->b);
    }
}

static void say_frost(const struct sheet *s, const struct plan_reason *r, const char *at,
                      const char *until)
{
    if (!s->zone_said)
        fprintf(s->out, "%s: ", zone_name(s, r->zone));
    fprintf(s->out, "no overhead around freezing hours (%.0f C, %s)", r->a, at);
    if (r->until_s > 0)
        fprintf(s->out, "; free of frost from %s for %.0f h: a window there would do", until,
                floor(r->b));
}

/* What somebody should look at. */
static void say_watch(const struct sheet *s, const struct plan_reason *r)
{
    static const char *const doubts[] = {"next to nothing", "more than such a pot holds",
                                         "more than its top can", NULL};
    char at[CLOCK_SIZE];
    char until[CLOCK_SIZE];
    day_and_clock(s, r->at_s, at);
    day_and_clock(s, r->until_s, until);
    switch (r->code) {
    case PLAN_WET_BY_HAND:
        fprintf(s->out,
                "%s: the peat of %s got so dry that it sheds water: wet it by hand, twice within "
                "two days",
                zone_name(s, r->zone), block_name(s, r->block));
        and_more(s, r->a);
        break;
    case PLAN_DRY_BEFORE_FROST:
        fprintf(s->out, "frost (%.0f C) from %s: look at %s, water what is dry before it", r->b, at,
                block_name(s, r->block));
        and_more(s, r->a);
        break;
    case PLAN_OVER_PERMIT:
        fprintf(s->out, "%s: %.1f m3 drawn and planned of the %.1f permitted until %s; over it %s",
                s->records->supplies[r->other].name[0] ? s->records->supplies[r->other].name
                                                       : s->records->supplies[r->other].id,
                r->a / 1000.0, r->b / 1000.0, until,
                r->at_s <= s->view->input->now_s ? "already" : at);
        break;
    case PLAN_FLOW_LOW:
        fprintf(s->out, "%s gives %.0f %% of its flow by the meter: ", zone_name(s, r->zone), r->a);
        fputs(r->b > 0.0 ? "runs are lengthened; look at filter and pressure"
                         : "go and look; runs are NOT lengthened for it",
              s->out);
        break;
    case PLAN_FLOW_HIGH:
        fprintf(s->out, "%s draws %.0f %% of its flow by the meter: look for a leak",
                zone_name(s, r->zone), r->a);
        break;
    case PLAN_ODD_USE:
        fprintf(s->out, "the figures of %s cannot well be: ", block_name(s, r->block));
        if ((unsigned)r->a == DEMAND_DOUBT_SPACING)
            fputs("its pots are wider than their spacing", s->out);
        else if ((unsigned)r->a == DEMAND_DOUBT_GROUND)
            fputs("it would use more than its bed can", s->out);
        else
            fprintf(s->out, "a pot would use %s", doubts[(unsigned)r->a / 2]);
        break;
    case PLAN_HOURS_OVER:
        fprintf(s->out, "%s is due %s, its hours come later", block_name(s, r->block), at);
        break;
    case PLAN_NEVER_FELT:
        fprintf(s->out, "nobody touched or weighed a pot of %s in three weeks",
                block_name(s, r->block));
        and_more(s, r->a);
        break;
    default:
        break;
    }
}

static void say_reason(const struct sheet *s, const struct plan_reason *r)
{
    char at[CLOCK_SIZE];
    char until[CLOCK_SIZE];
    day_and_clock(s, r->at_s, at);
    day_and_clock(s, r->until_s, until);
    switch (r->code) {
    case PLAN_PASSES_REFILL:
        if (r->at_s <= s->view->input->now_s + CIVIL_HOUR_S)
            fprintf(s->out, "%s is due", block_name(s, r->block));
        else
            fprintf(s->out, "%s is due %s", block_name(s, r->block), at);
        break;
    case PLAN_SIZED_FOR:
        fprintf(s->out, "as long as %s needs", block_name(s, r->block));
        break;
    case PLAN_EVENS_BED:
        fputs("a soak to even the bed", s->out);
        break;
    case PLAN_LEAST_RUN:
        fputs("shortest useful run", s->out);
        break;
    case PLAN_CUT_TO_DAY_LIMIT:
        fprintf(s->out, "cut to the zone's daily limit: %.0f of %.0f min", r->a, r->b);
        break;
    case PLAN_WINDY_HOURS:
        fputs("in wind above 4 m/s, no calm hours left", s->out);
        break;
    case PLAN_STILL_WET:
        if (r->block == NURSERY_NONE)
            fputs("still wet", s->out);
        else
            fprintf(s->out, "still wet, %s first", block_name(s, r->block));
        break;
    case PLAN_WAITS_FOR_RAIN:
        fprintf(s->out, "waits for rain (%.0f mm forecast), then runs anyway", r->a);
        break;
    case PLAN_NO_PLANTS:
        fputs("no plants on it", s->out);
        break;
    case PLAN_NO_WINDOW:
        fputs("no watering hours tomorrow", s->out);
        break;
    case PLAN_SUPPLY_FULL:
        fputs("the supply is taken", s->out);
        if (r->a > 0.0)
            fprintf(s->out, "; fits with %.0f l/min more", ceil(r->a));
        if (r->b > 0.0)
            fprintf(s->out, "%s a window %.0f min longer", r->a > 0.0 ? " or" : "; fits with",
                    r->b);
        break;
    case PLAN_WINDOW_SHORT:
        fprintf(s->out, "needs %.0f min, its window has %.0f", r->a, r->b);
        break;
    case PLAN_SUPPLY_DAY_LIMIT:
        fprintf(s->out, "would take the day to %.0f l of the %.0f allowed", r->a, r->b);
        break;
    case PLAN_AIR_LOW_IN_POT:
        fprintf(s->out, "%s: only %.0f %% air in this pot after watering, roots rot below 10",
                block_name(s, r->block), r->a);
        if (r->b > 0.0)
            fprintf(s->out, " (needs %.0f cm of this mix, or an airier one)", ceil(r->b));
        break;
    case PLAN_MORE_THAN_DAILY:
        fprintf(s->out, "%s: %s goes from full to due in %.0f h, the zone may run once a day",
                zone_name(s, r->zone), block_name(s, r->block), r->a);
        and_more(s, r->b);
        break;
    case PLAN_PASSES_STRESS:
        fprintf(s->out, "%s: %s is under stress from %s, before the plan can water it",
                zone_name(s, r->zone), block_name(s, r->block), at);
        and_more(s, r->a);
        break;
    case PLAN_STRAINED:
        fprintf(s->out, "%s: the dry end of %s is short of water from %s", zone_name(s, r->zone),
                block_name(s, r->block), at);
        and_more(s, r->a);
        break;
    case PLAN_MIXED_ZONE:
        fprintf(s->out, "%s: %s needs water %.1f times as often as ", zone_name(s, r->zone),
                block_name(s, r->block), r->a);
        fprintf(s->out, "%s on the same valve", block_name(s, r->other));
        break;
    case PLAN_START_ASSUMED:
        fprintf(s->out,
                "%.0f blocks were never weighed or surely filled: feel a few pots before trusting "
                "them",
                r->a);
        break;
    case PLAN_POOR_UNIFORMITY:
        fprintf(s->out, "%s waters unevenly (low quarter %.0f %%)", zone_name(s, r->zone), r->a);
        break;
    case PLAN_FROST_IN_WINDOW:
        say_frost(s, r, at, until);
        break;
    case PLAN_SUPPLY_SHORT:
        fprintf(s->out,
                "tomorrow needs %.1f m3 more than the supply can place in the hours allowed",
                r->a / 1000.0);
        break;
    case PLAN_ORDERED:
    case PLAN_REQUIRED:
    case PLAN_REQUIRED_MISSED:
    case PLAN_HELD:
    case PLAN_HOLD_PASSES:
        say_wish(s, r);
        break;
    case PLAN_CUT_TO_SUPPLY_LIMIT:
        fprintf(s->out, "cut to what the supply may give that day: %.0f of %.0f min", r->a, r->b);
        break;
    case PLAN_STARVED:
        fprintf(s->out,
                "%s: limits, hours or frost leave %s up to %.1f m3 short; past its stress limit "
                "from %s",
                zone_name(s, r->zone), block_name(s, r->block), r->a / 1000.0, at);
        if (r->until_s > 0)
            fprintf(s->out, " to %s", until);
        break;
    case PLAN_GO_AND_FEEL:
        fprintf(
            s->out,
            "%s: nobody told of %.0f runs since %s, they count as not given: go and feel the pots",
            zone_name(s, r->zone), r->a, at);
        break;
    case PLAN_NEWLY_POTTED:
        fprintf(s->out,
                "%s: potted %.0f days ago, roots drink from the plug only: short daily runs, feel "
                "the plugs by hand",
                block_name(s, r->block), r->a);
        break;
    case PLAN_CANOPY_OLD:
        fprintf(s->out, "the canopy of %s was measured more than three weeks ago",
                block_name(s, r->block));
        and_more(s, r->a);
        break;
    case PLAN_CHANGE_WATER:
    case PLAN_SALT_HIGH:
    case PLAN_POUR_THROUGH_DUE:
    case PLAN_DRAINS_MUCH:
        say_salt(s, r);
        break;
    case PLAN_TOO_MUCH:
        fprintf(s->out,
                "%s gets too much: %.0f %% of what %s gives it drains, %.1f m3 in this plan",
                block_name(s, r->block), r->b, zone_name(s, r->zone), r->a / 1000.0);
        break;
    case PLAN_MOVE_BLOCK:
        fprintf(s->out, "%s would fare better on %s", block_name(s, r->block),
                zone_name(s, r->other));
        break;
    case PLAN_LED_BY_WET:
        fprintf(s->out, "%s: in this cool weather %s leads, which wet harms most; ",
                zone_name(s, r->zone), block_name(s, r->block));
        fprintf(s->out, "watch %s and water it by hand", block_name(s, r->other));
        break;
    case PLAN_BEFORE_HOLD:
        fputs("before it is held for ", s->out);
        say_kind(s, plan_hold_name(s->nursery->holds[r->other].kind));
        fprintf(s->out, ", %s to %s", at, until);
        break;
    case PLAN_COUNTS_ON_RAIN:
        fprintf(s->out, "counts on rain before it (%.0f mm forecast): if it fails, more is needed",
                r->a);
        break;
    case PLAN_LEVELLED:
        fprintf(s->out, "a day early, since the supply is full %s", at);
        break;
    case PLAN_WET_BY_HAND:
    case PLAN_DRY_BEFORE_FROST:
    case PLAN_OVER_PERMIT:
    case PLAN_FLOW_LOW:
    case PLAN_FLOW_HIGH:
    case PLAN_ODD_USE:
    case PLAN_NEVER_FELT:
    case PLAN_HOURS_OVER:
        say_watch(s, r);
        break;
    case PLAN_CODES:
        break;
    }
}

void plan_text_reason(const struct plan_view *view, const struct plan_reason *reason, char *out,
                      size_t size)
{
    FILE *stream = fmemopen(out, size, "w");
    out[0] = '\0';
    if (!stream)
        return;
    const struct sheet s = {view, view->input->nursery, view->records, stream, true};
    say_reason(&s, reason);
    fclose(stream);
    out[size - 1] = '\0';
    out[utf8_check(out, strlen(out))] = '\0'; /* not cut within a character */
}

static void say_zone_reason(const struct sheet *s, const struct plan_reason *r)
{
    struct sheet after = *s;
    after.zone_said = true;
    say_reason(&after, r);
}

static void head(const struct sheet *s)
{
    const struct plan_view *view = s->view;
    struct civil_date date = civil_from_days(view->result->days[1].local_days);
    char made[CLOCK_SIZE];
    char until[CLOCK_SIZE];
    day_and_clock(s, view->input->now_s, made);
    day_and_clock(s, view->result->good_until_s, until);
    fprintf(s->out, "%s\nWATERING PLAN FOR %s %d %s %d\nmade %s, good until %s; times are local\n",
            view->config->nursery_name, weekday_of(view->result->days[1].local_days), date.day,
            months[date.month - 1], date.year, made, until);
}

static size_t say_notices(const struct sheet *s, enum plan_severity severity)
{
    const struct plan_result *result = s->view->result;
    size_t said = 0;
    for (size_t n = 0; n < result->notice_count; n++) {
        if (plan_word_of(result->notices[n].code)->severity != severity)
            continue;
        fputs("   - ", s->out);
        say_reason(s, &result->notices[n]);
        fputc('\n', s->out);
        said++;
    }
    return said;
}

/* Above everything: what follows is of another day. */
static size_t say_clock(const struct sheet *s)
{
    const struct store_clock *clock = s->view->clock;
    char here[CIVIL_TEXT];
    char there[CIVIL_TEXT];
    if (!clock)
        return 0;
    civil_format_rfc3339(clock->wrong_s, 0, here);
    civil_format_rfc3339(clock->there_s, 0, there);
    fprintf(s->out,
            "   - SET THE CLOCK: this computer's says %s, the weather service's %s.\n"
            "     This is the last plan from before; no new one is made until they agree.\n",
            here, there);
    return 1;
}

static bool is_tomorrow(const struct sheet *s, int64_t t_s)
{
    const struct plan_day *day = &s->view->result->days[1];
    return t_s >= day->start_s && t_s < day->end_s;
}

static void tomorrow_in_a_sentence(const struct sheet *s)
{
    const struct plan_result *result = s->view->result;
    char from[CLOCK_SIZE];
    char to[CLOCK_SIZE];
    int64_t from_s = 0;
    int64_t to_s = 0;
    size_t runs = 0;
    size_t left_out = 0;
    for (size_t r = 0; r < result->run_count; r++) {
        if (!is_tomorrow(s, result->runs[r].start_s))
            continue;
        runs++;
        from_s = from_s == 0 ? result->runs[r].start_s : from_s;
        to_s = result->runs[r].end_s > to_s ? result->runs[r].end_s : to_s;
    }
    bool all = plan_fits_tomorrow(s->view, &left_out);
    fputs("2. Tomorrow: ", s->out);
    if (runs == 0) {
        fputs("nothing runs", s->out);
    } else {
        clock_of(s, from_s, from);
        clock_of(s, to_s, to);
        fprintf(s->out, "%zu run%s, %.5s to %.5s, %.1f m3, peak %.0f l/min", runs,
                runs == 1 ? "" : "s", from, to, result->days[1].litres / 1000.0,
                result->days[1].peak_l_min);
    }
    if (left_out > 0)
        fprintf(s->out, "; %zu do%s NOT fit, see below\n", left_out, left_out == 1 ? "es" : "");
    else if (!all)
        fputs("; NOT all that is wanted fits, see below\n", s->out);
    else
        fputs(runs > 0 ? "; everything fits\n" : "\n", s->out);
}

static void first_to_dry(const struct sheet *s)
{
    const struct plan_result *result = s->view->result;
    size_t first = plan_first_dry(s->view);
    char safe[CLOCK_SIZE];
    char hot[CLOCK_SIZE];
    fputs("3. First to dry: ", s->out);
    if (first == NURSERY_NONE) {
        fputs("no block within the plan\n", s->out);
        return;
    }
    day_and_clock(s, result->blocks[first].next_s, safe);
    day_and_clock(s, result->blocks[first].next_hot_s, hot);
    fprintf(s->out, "%s (%s), ", block_name(s, first),
            zone_name(s, s->nursery->blocks[first].zone));
    if (result->blocks[first].next_s <= s->view->input->now_s)
        fputs("due now\n", s->out);
    else
        fprintf(s->out, "safe until %s, %s if hot\n", safe, hot);
}

static void not_watered(const struct sheet *s)
{
    const struct plan_result *result = s->view->result;
    size_t said = 0;
    fputs("4. Not watered tomorrow:", s->out);
    for (size_t z = 0; z < s->nursery->zone_count; z++) {
        const struct plan_zone *zone = &result->zones[z];
        char until[CLOCK_SIZE];
        if (zone->state == PLAN_ZONE_RUN || zone->state == PLAN_ZONE_HAND)
            continue;
        fprintf(s->out, "%s   - %s: ", said++ == 0 ? "\n" : "", zone_name(s, z));
        say_zone_reason(s, &zone->reason);
        if (zone->wait_until_s > 0) {
            day_and_clock(s, zone->wait_until_s, until);
            fprintf(s->out, "; until %s", until);
        }
        fputc('\n', s->out);
    }
    if (said == 0)
        fputs(" nothing\n", s->out);
}

static void built_on(const struct sheet *s)
{
    const struct plan_view *view = s->view;
    const struct weather_view *weather = view->weather;
    const struct weather_report report = plan_weather_report(view);
    const struct plan_day *day = &view->result->days[1];
    struct weather_said said[WEATHER_SAID_MOST];
    char issued[CLOCK_SIZE];
    char words[700];
    fputs("5. Built on: ", s->out);
    if (weather->rung == WEATHER_RUNG_NORMALS) {
        fputs("climate normals of the month, on the dry side; no forecast at hand\n", s->out);
    } else {
        day_and_clock(s, view->input->now_s - weather->age_s, issued);
        fprintf(s->out, "forecast '%s' issued %s, %.0f h old%s\n",
                s->records->sources[weather->leading].name, issued,
                (double)weather->age_s / CIVIL_HOUR_S,
                weather->rung == WEATHER_RUNG_FORECAST ? "" : ": OLD");
    }
    size_t count = weather_notices(&report, said);
    for (size_t i = 0; i < count; i++) {
        if (said[i].notice == WEATHER_NOTICE_OLD || said[i].notice == WEATHER_NOTICE_NORMALS)
            continue; /* said above */
        weather_notice_words(&report, &said[i], words, sizeof words);
        fprintf(s->out, "   %s\n", words);
    }
    fprintf(s->out, "   tomorrow: reference ET %.1f mm, %.0f to %.0f C, rain ", day->et0_mm,
            day->temperature_min_c, day->temperature_max_c);
    if (isfinite(day->rain_mm))
        fprintf(s->out, "%.1f mm\n", day->rain_mm);
    else
        fputs("none counted\n", s->out);
}

static void print_run(const struct sheet *s, const struct plan_run *run)
{
    char from[CLOCK_SIZE];
    char to[CLOCK_SIZE];
    char pulses[24] = "";
    char amount[24];
    clock_of(s, run->start_s, from);
    clock_of(s, run->end_s, to);
    if (run->pulses > 1)
        snprintf(pulses, sizeof pulses, "%dx%d/%d", run->pulses, run->pulse_min, run->pause_min);
    if (isfinite(run->depth_mm))
        snprintf(amount, sizeof amount, "%.1f mm", run->depth_mm);
    else
        snprintf(amount, sizeof amount, "%.2f l/pot", run->litres_pot);
    fprintf(s->out, "%.5s-%.5s  %-4.4s ", from, to, s->records->zones[run->zone].post);
    utf8_put_padded(s->out, zone_name(s, run->zone), NAME_WIDTH);
    fprintf(s->out, " %4d %9s %10s %6.1f\n", run->minutes, pulses, amount, run->litres / 1000.0);
    fputs("             ", s->out);
    if (run->underway)
        fputs(run->start_s > s->view->input->now_s ? "about to start" : "under way", s->out);
    for (size_t i = 0; i < run->reason_count; i++) {
        if (i > 0)
            fputs("; ", s->out);
        say_zone_reason(s, &run->reasons[i]);
    }
    fputc('\n', s->out);
}

static void print_runs(const struct sheet *s, const char *title, size_t day, bool by_hand)
{
    const struct plan_result *result = s->view->result;
    bool titled = false;
    for (size_t r = 0; r < result->run_count; r++) {
        const struct plan_run *run = &result->runs[r];
        if (run->by_hand != by_hand || run->start_s < result->days[day].start_s ||
            run->start_s >= result->days[day].end_s)
            continue;
        if (!titled)
            fprintf(s->out,
                    "\n%s\nstart-stop   post zone                        min    pulses     "
                    "amount     m3\n",
                    title);
        titled = true;
        print_run(s, run);
    }
}

static void print_unplaced(const struct sheet *s)
{
    const struct plan_result *result = s->view->result;
    bool titled = false;
    for (size_t u = 0; u < result->unplaced_count; u++) {
        const struct plan_unplaced *unplaced = &result->unplaced[u];
        if (!unplaced->ordered && !is_tomorrow(s, unplaced->window_start_s))
            continue;
        if (!titled)
            fputs("\nDOES NOT FIT\n", s->out);
        titled = true;
        utf8_put_padded(s->out, zone_name(s, unplaced->zone), NAME_WIDTH);
        fprintf(s->out, " %d min, %.1f m3: ", unplaced->minutes, unplaced->litres / 1000.0);
        say_zone_reason(s, &unplaced->reason);
        fputc('\n', s->out);
    }
}

static void print_hands(const struct sheet *s)
{
    const struct plan_result *result = s->view->result;
    if (result->hand_count > 0)
        fputs("\nBY HAND, MOST URGENT FIRST\nblock                      zone               limit "
              "at   "
              "      l/pot   hose min\n",
              s->out);
    for (size_t i = 0; i < result->hand_count; i++) {
        const struct plan_hand *hand = &result->hands[i];
        char limit[CLOCK_SIZE];
        day_and_clock(s, hand->limit_s, limit);
        utf8_put_padded(s->out, block_name(s, hand->block), NAME_WIDTH);
        fputc(' ', s->out);
        utf8_put_padded(s->out, zone_name(s, hand->zone), 18);
        fprintf(s->out, " %-15s %8.2f %10.0f\n             ", limit, hand->litres_pot,
                ceil(hand->hose_min));
        say_reason(s, &hand->reason);
        fputc('\n', s->out);
    }
}

static void print_blocks(const struct sheet *s)
{
    const struct plan_result *result = s->view->result;
    fputs("\nBLOCKS NOW (litres of one pot; air in per cent of the pot)\n"
          "block                      pots  holds  lacks  due at  air  in use/day  next due if "
          "nobody waters\n",
          s->out);
    for (size_t b = 0; b < s->nursery->block_count; b++) {
        const struct plan_block *block = &result->blocks[b];
        char next[CLOCK_SIZE];
        day_and_clock(s, block->next_s, next);
        utf8_put_padded(s->out, block_name(s, b), NAME_WIDTH);
        fprintf(s->out, " %4.0f %6.2f %6.2f %6.2f %5.0f %7.2f       %s%s\n", block->pots,
                block->water_l, block->depletion_l, block->refill_l, 100.0 * block->air,
                block->use_tomorrow_l,
                block->next_s != 0 && block->next_s <= s->view->input->now_s ? "now, " : "", next);
    }
}

static void print_cautions(FILE *out)
{
    fputs("\nThis plan advises, people decide. Feel a few pots before trusting a new block. Follow "
          "local water,\nplumbing, electrical and fertiliser-injection rules first; have backflow "
          "devices fitted and tested by\nsomeone licensed, and electrical work done by someone "
          "qualified. Reclaimed water needs its own care.\nToo much water in cool weather rots "
          "roots.\n",
          out);
}

char *plan_text_print(const struct plan_view *view)
{
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    if (!out)
        return NULL;
    struct sheet s = {view, view->input->nursery, view->records, out, false};
    head(&s);
    fputs("\n1. Needs a person:\n", out);
    if (say_clock(&s) + say_notices(&s, PLAN_ACT) == 0)
        fputs("   - nothing urgent\n", out);
    tomorrow_in_a_sentence(&s);
    first_to_dry(&s);
    not_watered(&s);
    built_on(&s);
    print_runs(&s, "STILL TO COME TODAY", 0, false);
    print_runs(&s, "BY HAND TODAY", 0, true);
    print_runs(&s, "TOMORROW'S RUNS", 1, false);
    print_runs(&s, "TOMORROW BY HAND", 1, true);
    print_unplaced(&s);
    print_hands(&s);
    fputs("\nWATCH\n", out);
    if (say_notices(&s, PLAN_WATCH) + say_notices(&s, PLAN_INFO) == 0)
        fputs("   - nothing\n", out);
    print_blocks(&s);
    print_cautions(out);
    if (fclose(out) != 0) {
        free(text);
        return NULL;
    }
    return text;
}

/* --- why -------------------------------------------------------------------------------------- */

static void why_zone(const struct sheet *s, size_t z)
{
    const struct nursery_zone *zone = &s->nursery->zones[z];
    const struct plan_zone *planned = &s->view->result->zones[z];
    char until[CLOCK_SIZE];
    fprintf(s->out, "%s (%s): %s on %s, %.0f l/min, class %d\n", zone_name(s, z),
            s->records->zones[z].label.id, plan_method_name(zone->method),
            s->records->supplies[zone->supply].id, zone->flow_l_min, zone->priority);
    if (zone->method == DELIVERY_OVERHEAD)
        fprintf(s->out, "%.1f mm/h, low quarter %.0f %%\n", zone->rate_mm_h,
                100.0 * zone->du_low_quarter);
    fprintf(s->out, "Tomorrow: %s: ", plan_zone_state_name(planned->state));
    say_reason(s, &planned->reason);
    if (planned->wait_until_s > 0) {
        day_and_clock(s, planned->wait_until_s, until);
        fprintf(s->out, "; until %s", until);
    }
    fputc('\n', s->out);
}

static void why_runs(const struct sheet *s, size_t z)
{
    const struct plan_result *result = s->view->result;
    fputs("\nITS RUNS IN THIS PLAN\n", s->out);
    for (size_t r = 0; r < result->run_count; r++) {
        char day[CLOCK_SIZE];
        if (result->runs[r].zone != z)
            continue;
        day_and_clock(s, result->runs[r].start_s, day);
        fprintf(s->out, "%.3s ", day);
        print_run(s, &result->runs[r]);
    }
    for (size_t u = 0; u < result->unplaced_count; u++) {
        const struct plan_unplaced *unplaced = &result->unplaced[u];
        char day[CLOCK_SIZE];
        if (unplaced->zone != z)
            continue;
        day_and_clock(s, unplaced->window_start_s, day);
        fprintf(s->out, "%s does not fit, %d min: ", day, unplaced->minutes);
        say_reason(s, &unplaced->reason);
        fputc('\n', s->out);
    }
}

static void why_block(const struct sheet *s, size_t b)
{
    const struct plan_block *block = &s->view->result->blocks[b];
    char due[CLOCK_SIZE];
    char limit[CLOCK_SIZE];
    char known[CLOCK_SIZE];
    day_and_clock(s, block->next_s, due);
    day_and_clock(s, block->stress_s, limit);
    day_and_clock(s, block->known_s, known);
    fprintf(s->out, "\n%s, %.0f pots\n", block_name(s, b), block->pots);
    fprintf(s->out,
            "  a pot holds %.3f of %.3f l; lacks %.3f, in the dry quarter %.3f, due at %.3f\n",
            block->water_l, block->ceiling_l, block->depletion_l, block->driest_l, block->refill_l);
    fprintf(s->out, "  due %s, past its stress limit %s, if nobody waters; ", due, limit);
    fprintf(s->out, "uses %.3f l today, %.3f tomorrow\n", block->use_today_l,
            block->use_tomorrow_l);
    fprintf(s->out, "  known: %s, %s%s\n", plan_known_name(block->known), known,
            block->forgotten_s != 0 ? "; in another pot or mix since then: what was weighed or "
                                      "felt before counts no longer"
                                    : "");
}

/* The chain of a block's figures, one a line; what is not there is left out. */
static void why_figures(const struct sheet *s, size_t b, const struct plan_index *index)
{
    const struct plan_narrowing wanted = {.block = s->records->blocks[b].id};
    size_t length = 0;
    char *narrowed = index ? plan_index_narrow(index, &wanted, &length) : NULL;
    json_t *plan = narrowed ? json_loadb(narrowed, length, 0, NULL) : NULL;
    json_t *working = plan ? working_of(plan, wanted.block, FIELD_ENGLISH) : NULL;
    size_t i;
    json_t *step;
    json_array_foreach(json_object_get(working, "steps"), i, step)
    {
        const json_t *value = json_object_get(step, "value");
        if (!json_is_number(value))
            continue;
        fprintf(s->out, "  %s = %.4g %s: ", json_string_value(json_object_get(step, "quantity")),
                json_number_value(value), json_string_value(json_object_get(step, "unit")));
        fprintf(s->out, "%s\n", json_string_value(json_object_get(step, "formula")));
    }
    json_decref(working);
    json_decref(plan);
    free(narrowed);
}

char *plan_text_why(const struct plan_view *view, size_t zone, const char *json)
{
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    if (!out)
        return NULL;
    struct plan_index *index = plan_index_new(json, strlen(json));
    struct sheet s = {view, view->input->nursery, view->records, out, false};
    why_zone(&s, zone);
    why_runs(&s, zone);
    fputs("\nITS BLOCKS\n", out);
    for (size_t b = 0; b < s.nursery->block_count; b++) {
        if (s.nursery->blocks[b].zone != zone)
            continue;
        why_block(&s, b);
        why_figures(&s, b, index);
    }
    plan_index_free(index);
    if (fclose(out) != 0) {
        free(text);
        return NULL;
    }
    return text;
}
