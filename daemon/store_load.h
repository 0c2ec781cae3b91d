/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the files of store_load share. */
#ifndef PERCHD_DAEMON_STORE_LOAD_H
#define PERCHD_DAEMON_STORE_LOAD_H

#include "store_internal.h"

/* Pots that left `parent` for `child`: until at_s they have one history. */
struct load_split {
    size_t parent, child;
    int64_t at_s;
};

/* Metered runs of one zone, newest first. */
struct load_meter {
    size_t zone, count;
    double litres[DELIVERY_METERS_MOST], minutes[DELIVERY_METERS_MOST];
};

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
    struct nursery_touch *touches;
    struct nursery_order *orders;
    struct nursery_hold *holds;
    struct nursery_requirement *requirements;
    struct nursery_raise *raises;
    struct nursery_drain *drains;
    struct nursery_salt *salts;
    struct nursery_run *runs;
    struct nursery_gauge *gauges;
    struct load_split *splits; /* ascending at_s; the loader's own */
    size_t split_count;
    struct load_meter meter;
    size_t permit_supply; /* whose runs are being summed */
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

/* A record's id, who and why, from three columns. */
int load_note(struct load *load, struct records_note *note, sqlite3_stmt *row, int id, int who,
              int why);

/* store_load_pots.c: pot events become states of their blocks. */
int load_pot_events(struct load *load);
/* What was found of the parent's pots before a split was of the child's too. */
int load_split_records(struct load *load);

/* store_load_orders.c: what people ask for, forbid, and measured of delivery and salt. */
int load_orders(struct load *load);
int load_cans(struct load *load);

int load_events(struct load *load);  /* store_load_events.c */
int load_weather(struct load *load); /* store_load_weather.c */

#endif
