/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Places runs on one supply: whole minutes, within each run's own window, never beyond the supply's
 * flow and number of open valves. While a pulsed run pauses, others may use the flow.
 */
#ifndef PERCHD_CORE_TIMETABLE_H
#define PERCHD_CORE_TIMETABLE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "status.h"

#define TIMETABLE_MINUTES 18720 /* thirteen days: the longest stretch one table covers */

/* What is taken, minute by minute, from start_s on. */
struct timetable {
    int64_t start_s; /* a whole minute */
    size_t minutes;  /* 1..TIMETABLE_MINUTES */
    double flow_l_min;
    size_t valves_at_once;
    double used_l_min[TIMETABLE_MINUTES];
    uint16_t valves[TIMETABLE_MINUTES];
    uint16_t hoses[TIMETABLE_MINUTES];
};

struct timetable_run {
    int64_t from_s, until_s; /* window; whole minutes inside the table */
    int pulses;              /* >= 1 */
    int pulse_min;           /* minutes of one pulse, >= 1 */
    int pause_min;           /* between pulses, >= 0 */
    double flow_l_min;       /* > 0 */
    bool hose;               /* somebody stands there with it */
    bool alone;              /* not while another hose runs */
    bool latest;             /* as late as the window allows, else as early */
    const bool *barred;      /* minutes of the table that must not be used; NULL: none */
};

enum timetable_fit {
    TIMETABLE_FITS,
    TIMETABLE_WINDOW_SHORT, /* longer than its window even on an idle supply */
    TIMETABLE_FLOW_SHORT,   /* other runs, or the supply itself, leave too little flow */
};

struct timetable_place {
    enum timetable_fit fit;
    int64_t start_s, end_s; /* TIMETABLE_FITS: first minute on, first minute off after the last */
    int minutes_more;       /* else: a window longer by this would do (0: none within 12 h) */
    double
        flow_more_l_min; /* else: so much more flow would do inside the window; 0: no flow would */
};

/* STATUS_RANGE when the table would be longer than TIMETABLE_MINUTES or the flow is not > 0. */
MUST_USE enum status timetable_open(struct timetable *table, int64_t start_s, int64_t end_s,
                                    double flow_l_min, size_t valves_at_once);

/* Takes flow for something that runs already, whatever the limits; parts outside are ignored. */
void timetable_occupy(struct timetable *table, int64_t start_s, int64_t end_s, double flow_l_min,
                      bool hose);

/* Finds a place and takes it. STATUS_RANGE for a run that is not as described above. */
MUST_USE enum status timetable_place(struct timetable *table, const struct timetable_run *run,
                                     struct timetable_place *place);

/* The same without what would make it fit, which takes longest to find. */
MUST_USE enum status timetable_find(struct timetable *table, const struct timetable_run *run,
                                    struct timetable_place *place);

/* Gives back what a run that was placed took. */
void timetable_release(struct timetable *table, const struct timetable_run *run, int64_t start_s);

/* Minutes from the first minute on to the last off. */
int timetable_span_min(const struct timetable_run *run);

#endif
