/* SPDX-License-Identifier: GPL-3.0-or-later */
/* plan = f(records, weather, now): loads the records of a moment, calls core, renders the bodies.
 */
#ifndef PERCHD_DAEMON_PLANNER_H
#define PERCHD_DAEMON_PLANNER_H

#include <stdint.h>

#include "config.h"
#include "core/civil.h"
#include "error.h"
#include "plan_view.h"
#include "store.h"

/* How far back the records of a plan reach. */
enum { PLANNER_HISTORY_DAYS = 21 };

struct planner_bodies {
    char *json; /* malloc'ed, the caller frees */
    char *text;
    struct store_planned *runs; /* malloc'ed: all runs of the plan that start after now */
    size_t run_count;
    struct records_notice *notices; /* malloc'ed: all that the plan says, in order */
    size_t notice_count;
    int64_t good_until_s;
    char *sheet_json;         /* the crew's sheet with its exceptions; NULL: none was issued */
    char *sheet_text;         /* and as a page */
    int64_t issued;           /* number of the sheet that was issued with this plan; 0: none was */
    struct error sheet_fault; /* why there is no sheet, "" when all is well */
};

/* Works out the plan at at_s. Same records, same at_s: the same bytes. Returns 0, or -1 with
 * error. */
int planner_make(const struct config *config, const struct civil_zone *zone, struct store *store,
                 int64_t at_s, struct planner_bodies *out, struct error *error);
/* The same; done is called once, when the records have been read (or could not be), before the plan
 * is worked out, which takes long: a transaction that shows other records may end then. */
struct planner_reading {
    void (*done)(void *context);
    void *context;
};
int planner_try(const struct config *config, const struct civil_zone *zone, struct store *store,
                int64_t at_s, const struct planner_reading *reading, struct planner_bodies *out,
                struct error *error);
/* As planner_make, and issues the crew's sheet when it is due. */
int planner_make_and_issue(const struct config *config, const struct civil_zone *zone,
                           struct store *store, int64_t at_s, struct planner_bodies *out,
                           struct error *error);
/* Works out the plan of before the clock went wrong: as planner_make at clock->trusted_s, with a
 * notice that no new one is made. */
int planner_make_frozen(const struct config *config, const struct civil_zone *zone,
                        struct store *store, const struct store_clock *clock,
                        struct planner_bodies *out, struct error *error);
/* One zone of the plan at at_s in full, as text that the caller frees. -1 with error also when
 * there is no such zone. */
int planner_why(const struct config *config, const struct civil_zone *zone, struct store *store,
                int64_t at_s, const char *zone_id, char **text, struct error *error);
/* Works out the plan at at_s and lends it to use, whose result is returned; -1 when there is no
 * plan. block: an id, whose hours are then in view->result->trace; 1 when there is none of that id.
 */
typedef int planner_use(void *context, const struct plan_view *view, struct error *error);
int planner_view(const struct config *config, const struct civil_zone *zone, struct store *store,
                 int64_t at_s, const char *block, planner_use *use, void *context,
                 struct error *error);
void planner_free(struct planner_bodies *bodies);

#endif
