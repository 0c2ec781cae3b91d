/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "snapshot.h"

#include <pthread.h>
#include <stdlib.h>
#include <string.h>

#include "plan_calendar.h"

/* Level 4: measured on 2 MB plans, twice as fast as 6 for two points of size. */
enum { GZIP_LEVEL = 4 };

struct snapshot_cell {
    pthread_mutex_t mutex; /* held for a few instructions, never while freeing */
    struct snapshot *current;
    const char *why; /* there is none */
    int64_t failed;  /* the latest change that a plan could not be made with */
};

struct snapshot_cell *snapshot_cell_new(void)
{
    struct snapshot_cell *cell = calloc(1, sizeof *cell);
    if (cell && pthread_mutex_init(&cell->mutex, NULL) != 0) {
        free(cell);
        cell = NULL;
    }
    if (cell)
        cell->why = "No plan has been worked out yet. Ask again soon.";
    return cell;
}

static void snapshot_free(struct snapshot *snapshot)
{
    for (size_t i = 0; i < SNAPSHOT_BODIES; i++)
        body_clear(&snapshot->bodies[i]);
    plan_index_free(snapshot->index);
    free(snapshot);
}

void snapshot_cell_free(struct snapshot_cell *cell)
{
    if (!cell)
        return;
    if (cell->current)
        snapshot_release(cell, cell->current);
    pthread_mutex_destroy(&cell->mutex);
    free(cell);
}

int snapshot_add_take(struct snapshot *snapshot, enum snapshot_which which, char *text)
{
    body_clear(&snapshot->bodies[which]);
    return body_init_take(&snapshot->bodies[which], text, strlen(text), GZIP_LEVEL);
}

void snapshot_drop(struct snapshot *snapshot)
{
    snapshot_free(snapshot);
}

struct snapshot *snapshot_new_take(char *plan_json, char *plan_text, int64_t made_at_s,
                                   int64_t good_until_s)
{
    struct snapshot *snapshot = calloc(1, sizeof *snapshot);
    if (!snapshot) {
        free(plan_json);
        free(plan_text);
        return NULL;
    }
    int json = body_init_take(&snapshot->bodies[SNAPSHOT_PLAN_JSON], plan_json, strlen(plan_json),
                              GZIP_LEVEL);
    int text = body_init_take(&snapshot->bodies[SNAPSHOT_PLAN_TEXT], plan_text, strlen(plan_text),
                              GZIP_LEVEL);
    if (json != 0 || text != 0) {
        snapshot_free(snapshot);
        return NULL;
    }
    const struct body *plan = &snapshot->bodies[SNAPSHOT_PLAN_JSON];
    snapshot->index = plan_index_new(plan->bytes, plan->length);
    char *calendar = snapshot->index ? plan_calendar_print(snapshot->index) : strdup("");
    if (!calendar || body_init_take(&snapshot->bodies[SNAPSHOT_PLAN_CALENDAR], calendar,
                                    strlen(calendar), GZIP_LEVEL) != 0) {
        snapshot_free(snapshot);
        return NULL;
    }
    char *no_sheet = strdup("");
    if (!no_sheet || snapshot_add_take(snapshot, SNAPSHOT_SHEET_JSON, no_sheet) != 0) {
        snapshot_free(snapshot);
        return NULL;
    }
    snapshot->made_at_s = made_at_s;
    snapshot->good_until_s = good_until_s;
    snapshot->references = 1; /* whoever holds it; the cell after publishing */
    return snapshot;
}

void snapshot_publish_take(struct snapshot_cell *cell, struct snapshot *snapshot)
{
    pthread_mutex_lock(&cell->mutex);
    struct snapshot *before = cell->current;
    cell->current = snapshot;
    pthread_mutex_unlock(&cell->mutex);
    if (before)
        snapshot_release(cell, before);
}

void snapshot_excuse(struct snapshot_cell *cell, const char *why)
{
    pthread_mutex_lock(&cell->mutex);
    cell->why = why;
    pthread_mutex_unlock(&cell->mutex);
}

const char *snapshot_why(struct snapshot_cell *cell)
{
    pthread_mutex_lock(&cell->mutex);
    const char *why = cell->why;
    pthread_mutex_unlock(&cell->mutex);
    return why;
}

void snapshot_failed(struct snapshot_cell *cell, int64_t change)
{
    pthread_mutex_lock(&cell->mutex);
    cell->failed = change;
    pthread_mutex_unlock(&cell->mutex);
}

bool snapshot_has_failed(struct snapshot_cell *cell, int64_t change)
{
    pthread_mutex_lock(&cell->mutex);
    bool covered = cell->current && cell->current->covers >= change;
    bool failed = cell->failed >= change && !covered;
    pthread_mutex_unlock(&cell->mutex);
    return failed;
}

struct snapshot *snapshot_acquire(struct snapshot_cell *cell)
{
    pthread_mutex_lock(&cell->mutex);
    struct snapshot *current = cell->current;
    if (current)
        current->references++;
    pthread_mutex_unlock(&cell->mutex);
    return current;
}

void snapshot_release(struct snapshot_cell *cell, struct snapshot *snapshot)
{
    pthread_mutex_lock(&cell->mutex);
    int left = --snapshot->references;
    pthread_mutex_unlock(&cell->mutex);
    if (left == 0)
        snapshot_free(snapshot);
}
