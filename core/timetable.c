/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "timetable.h"

#include <math.h>
#include <string.h>

enum { MORE_STEP_MIN = 5, MORE_MOST_MIN = 720 };

/* Flows are measured figures: the last thousandth does not keep a run out. */
static const double flow_slack = 1.0 + 1e-9;

int timetable_span_min(const struct timetable_run *run)
{
    return run->pulses * run->pulse_min + (run->pulses - 1) * run->pause_min;
}

enum status timetable_open(struct timetable *table, int64_t start_s, int64_t end_s,
                           double flow_l_min, size_t valves_at_once)
{
    int64_t first = start_s / 60 * 60;
    if (!(end_s > first) || (end_s - first + 59) / 60 > TIMETABLE_MINUTES ||
        !(flow_l_min > 0.0 && flow_l_min <= 1e9) || valves_at_once == 0)
        return STATUS_RANGE;
    memset(table, 0, sizeof *table);
    table->start_s = first;
    table->minutes = (size_t)((end_s - first + 59) / 60);
    table->flow_l_min = flow_l_min;
    table->valves_at_once = valves_at_once;
    return STATUS_OK;
}

static void take(struct timetable *table, size_t from, size_t until, double flow_l_min, bool hose)
{
    for (size_t m = from; m < until && m < table->minutes; m++) {
        table->used_l_min[m] += flow_l_min;
        table->valves[m]++;
        if (hose)
            table->hoses[m]++;
    }
}

void timetable_release(struct timetable *table, const struct timetable_run *run, int64_t start_s)
{
    size_t at = (size_t)((start_s - table->start_s) / 60);
    for (int pulse = 0; pulse < run->pulses; pulse++) {
        size_t from = at + (size_t)(pulse * (run->pulse_min + run->pause_min));
        for (size_t m = from; m < from + (size_t)run->pulse_min && m < table->minutes; m++) {
            table->valves[m]--;
            if (run->hose)
                table->hoses[m]--;
            table->used_l_min[m] =
                table->valves[m] == 0 ? 0.0 : fmax(0.0, table->used_l_min[m] - run->flow_l_min);
        }
    }
}

void timetable_occupy(struct timetable *table, int64_t start_s, int64_t end_s, double flow_l_min,
                      bool hose)
{
    int64_t table_end_s = table->start_s + (int64_t)table->minutes * 60;
    int64_t from_s = start_s > table->start_s ? start_s : table->start_s;
    int64_t until_s = end_s < table_end_s ? end_s : table_end_s;
    if (from_s < until_s && flow_l_min > 0.0)
        take(table, (size_t)((from_s - table->start_s) / 60),
             (size_t)((until_s - table->start_s + 59) / 60), flow_l_min, hose);
}

/* A minute in which no flow would help. */
static inline bool is_shut(const struct timetable *table, const struct timetable_run *run, size_t m)
{
    return (run->barred && run->barred[m]) || table->valves[m] >= table->valves_at_once ||
           (run->alone && table->hoses[m] > 0);
}

/* The flow that is missing when the run starts at minute `at`: 0 when it fits, INFINITY when no
 * flow would help (a barred minute, too many valves, another hose). */
static double missing_flow(const struct timetable *table, const struct timetable_run *run,
                           size_t at)
{
    double missing = 0.0;
    for (int pulse = 0; pulse < run->pulses; pulse++) {
        size_t from = at + (size_t)(pulse * (run->pulse_min + run->pause_min));
        for (size_t m = from; m < from + (size_t)run->pulse_min; m++) {
            if (is_shut(table, run, m))
                return INFINITY;
            double over = table->used_l_min[m] + run->flow_l_min - table->flow_l_min * flow_slack;
            if (over > missing)
                missing = over;
        }
    }
    return missing;
}

/* The first minute of a run at `at` in which it cannot flow: how many minutes from there, in the
 * run's own direction, no start can help; 0: the run fits. Whatever covers that minute is moved off
 * it. */
static size_t blocked_for(const struct timetable *table, const struct timetable_run *run, size_t at)
{
    double most_l_min = table->flow_l_min * flow_slack - run->flow_l_min;
    for (int pulse = 0; pulse < run->pulses; pulse++) {
        size_t from = at + (size_t)(pulse * (run->pulse_min + run->pause_min));
        size_t to = from + (size_t)run->pulse_min;
        for (size_t m = from; m < to; m++)
            if (table->used_l_min[m] > most_l_min || is_shut(table, run, m))
                return run->latest ? to - m : m + 1 - from;
    }
    return 0;
}

/* First place inside [first, last] (start minutes), from the side the run prefers. */
static bool search(const struct timetable *table, const struct timetable_run *run, size_t first,
                   size_t last, size_t *at)
{
    size_t count = last - first + 1;
    for (size_t i = 0; i < count;) {
        size_t start = run->latest ? last - i : first + i;
        size_t blocked = blocked_for(table, run, start);
        if (blocked == 0) {
            *at = start;
            return true;
        }
        i += blocked;
    }
    return false;
}

/* The least flow that is missing anywhere inside. */
static double least_missing(const struct timetable *table, const struct timetable_run *run,
                            size_t first, size_t last)
{
    double least = INFINITY;
    for (size_t at = first; at <= last; at++)
        least = fmin(least, missing_flow(table, run, at));
    return least;
}

static bool run_is_sound(const struct timetable *table, const struct timetable_run *run)
{
    int64_t table_end_s = table->start_s + (int64_t)table->minutes * 60;
    return run->pulses >= 1 && run->pulses <= 1000 && run->pulse_min >= 1 &&
           run->pulse_min <= TIMETABLE_MINUTES && run->pause_min >= 0 &&
           run->pause_min <= TIMETABLE_MINUTES && run->flow_l_min > 0.0 && run->flow_l_min <= 1e9 &&
           run->from_s >= table->start_s && run->until_s <= table_end_s &&
           run->from_s <= run->until_s;
}

/* How much longer the window would have to be, on the side the run prefers not, or 0. */
static int minutes_more(const struct timetable *table, const struct timetable_run *run,
                        size_t first, size_t until, size_t span)
{
    for (size_t more = MORE_STEP_MIN; more <= MORE_MOST_MIN; more += MORE_STEP_MIN) {
        size_t from = run->latest && first >= more ? first - more : run->latest ? 0 : first;
        size_t to = run->latest ? until : until + more;
        if (to > table->minutes || (run->latest && first < more) || to - from < span)
            continue;
        size_t at = 0;
        if (search(table, run, from, to - span, &at))
            return (int)more;
    }
    return 0;
}

enum status timetable_find(struct timetable *table, const struct timetable_run *run,
                           struct timetable_place *place)
{
    if (!run_is_sound(table, run))
        return STATUS_RANGE;
    struct timetable_place result = {TIMETABLE_FITS, 0, 0, 0, 0.0};
    size_t span = (size_t)timetable_span_min(run);
    size_t first = (size_t)((run->from_s - table->start_s + 59) / 60);
    size_t until = (size_t)((run->until_s - table->start_s) / 60);
    size_t at = 0;
    if (until < first + span) {
        result.fit = TIMETABLE_WINDOW_SHORT;
        result.minutes_more = (int)(first + span - until);
    } else if (!search(table, run, first, until - span, &at)) {
        result.fit = TIMETABLE_FLOW_SHORT;
    } else {
        for (int pulse = 0; pulse < run->pulses; pulse++) {
            size_t from = at + (size_t)(pulse * (run->pulse_min + run->pause_min));
            take(table, from, from + (size_t)run->pulse_min, run->flow_l_min, run->hose);
        }
        result.start_s = table->start_s + (int64_t)at * 60;
        result.end_s = result.start_s + (int64_t)span * 60;
    }
    *place = result;
    return STATUS_OK;
}

enum status timetable_place(struct timetable *table, const struct timetable_run *run,
                            struct timetable_place *place)
{
    struct timetable_place result;
    enum status status = timetable_find(table, run, &result);
    if (status != STATUS_OK)
        return status;
    if (result.fit == TIMETABLE_FLOW_SHORT) {
        size_t span = (size_t)timetable_span_min(run);
        size_t first = (size_t)((run->from_s - table->start_s + 59) / 60);
        size_t until = (size_t)((run->until_s - table->start_s) / 60);
        double missing = least_missing(table, run, first, until - span);
        result.flow_more_l_min = isfinite(missing) ? missing : 0.0;
        result.minutes_more = minutes_more(table, run, first, until, span);
    }
    *place = result;
    return STATUS_OK;
}
