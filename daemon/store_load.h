/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the files of store_load share. */
#ifndef PERCHD_DAEMON_STORE_LOAD_H
#define PERCHD_DAEMON_STORE_LOAD_H

#include "store_internal.h"

struct load {
    struct store *store;
    struct error *error;
    int64_t at_s, first_s, end_s; /* of the hours */
    const struct civil_zone *zone;
    char date[STORE_DATE_SIZE];    /* local date of at_s */
    char filled[STORE_DATE_SIZE];  /* when the block being read got its mix */
    char mix[2 * RECORDS_ID_SIZE]; /* and which, with its batch */
    struct records *out;
    /* what out->nursery will point to */
    struct pot_shape *pots;
    struct bench_fit *mixes;
    struct nursery_cover *covers;
    struct nursery_supply *supplies;
    struct nursery_zone *zones;
    struct nursery_window *windows;
    struct nursery_state *states;
    struct nursery_block *blocks;
    struct nursery_weighing *weighings;
    struct nursery_run *runs;
    struct nursery_gauge *gauges;
};

/* The only errors below are no memory and a store that fails; both set load->error and give -1. */
int load_no_memory(struct load *load);

/* Room for one more element of size behind count others: arrays grow when their count reaches a
 * power of two. NULL when there is no memory; array is then still the caller's. */
void *load_room(void *array, size_t count, size_t size);

/* Makes room for array[count], or leaves the calling function with -1. */
#define GROW(load, array, count)                                                                   \
    do {                                                                                           \
        void *larger_ = load_room((array), (count), sizeof *(array));                              \
        if (!larger_)                                                                              \
            return load_no_memory(load);                                                           \
        (array) = larger_;                                                                         \
    } while (0)

/* Index of an id in an array that is sorted by it, whose elements begin with the id;
 * NURSERY_NONE when it is not there. */
size_t load_find(const void *labels, size_t count, size_t size, const char *id);
#define FIND(labels, count, id) load_find((labels), (count), sizeof *(labels), (id))

/* Calls take for every row of a constant SQL text, whose parameters :at, :date, :first and :end are
 * bound to load's. */
int load_each(struct load *load, const char *sql, int (*take)(struct load *, sqlite3_stmt *));

int load_events(struct load *load);  /* store_load_events.c */
int load_weather(struct load *load); /* store_load_weather.c */

#endif
