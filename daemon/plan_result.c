/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "plan_result.h"

#include <stdlib.h>

int plan_result_open(const struct plan_input *input, struct plan_result *result, void **room)
{
    struct plan_result r = {0};
    r.run_capacity = r.unplaced_capacity = plan_runs_most(input);
    r.notice_capacity = plan_notices_most(input);
    r.opening_capacity = plan_openings_most(input) + 1;
    r.runs = calloc(r.run_capacity + 1, sizeof *r.runs);
    r.unplaced = calloc(r.unplaced_capacity + 1, sizeof *r.unplaced);
    r.notices = calloc(r.notice_capacity + 1, sizeof *r.notices);
    r.openings = calloc(r.opening_capacity, sizeof *r.openings);
    r.zones = calloc(input->nursery->zone_count + 1, sizeof *r.zones);
    r.blocks = calloc(input->nursery->block_count + 1, sizeof *r.blocks);
    r.hands = calloc(input->nursery->block_count + 1, sizeof *r.hands);
    *room = malloc(plan_room_bytes(input));
    *result = r;
    if (*room && r.runs && r.unplaced && r.notices && r.openings && r.zones && r.blocks && r.hands)
        return 0;
    plan_result_close(result);
    free(*room);
    *room = NULL;
    return -1;
}

void plan_result_close(struct plan_result *result)
{
    free(result->runs);
    free(result->unplaced);
    free(result->notices);
    free(result->openings);
    free(result->zones);
    free(result->blocks);
    free(result->hands);
    *result = (struct plan_result){0};
}
