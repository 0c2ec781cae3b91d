/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The only place with SQL: one SQLite file in WAL mode with synchronous FULL, numbered migrations,
 * typed reads and writes. A handle belongs to one thread.
 */
#ifndef PERCHD_DAEMON_STORE_H
#define PERCHD_DAEMON_STORE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "core/weather.h"
#include "error.h"
#include "kind.h"
#include "records.h"

struct store;

/* Opens, creating and migrating as needed. A file of a newer program is refused. NULL with error
 * set on failure. read_only opens an existing file and never migrates. */
struct store *store_open(const char *path, bool read_only, struct error *error);
void store_close(struct store *store); /* NULL is fine */

/* Gives back the memory that holds pages of the file, up to 2 MB: nothing is read for a while. */
void store_rest(struct store *store);

/* --- people's records: rows of kind.h's kinds, checked against those already there --------- */

/* All writes of one begin..commit land together or not at all. */
int store_begin(struct store *store, struct error *error);
int store_commit(struct store *store, struct error *error);
void store_rollback(struct store *store);

enum store_change {
    STORE_SAME, /* was there, word for word */
    STORE_ADDED,
    STORE_CHANGED,
};

/* Adds the row's record or replaces the one with its key. The row's own columns must have passed
 * kind_parse; the rules between columns (kind_check) and between records are checked here, except
 * those of store_check. Returns 0; 1 when the record is refused (fault says why); -1 when the
 * store failed (error says how). */
int store_put(struct store *store, const struct kind_row *row, enum store_change *change,
              struct kind_fault *fault, struct error *error);

/* Windows have no key of their own: those given after a mark replace all older ones of the zones
 * they name. *removed counts the older ones that were not given again. */
int store_windows_mark(struct store *store, int64_t *mark, struct error *error);
int store_windows_sweep(struct store *store, int64_t mark, size_t *removed, struct error *error);

/* What can only be judged when all rows of an import are in: every block's pot and mix go
 * together, lead blocks stand in their zone, normals are none or twelve. Returns 0; 1 refused,
 * with error naming the record; -1 when the store failed. */
int store_check(struct store *store, struct error *error);
/* That part of it which pot events can break: who sells, splits or merges more pots than stand in a
 * block means another block, and it would ask for no water. */
int store_check_stocks(struct store *store, struct error *error);

/* --- weather ------------------------------------------------------------------------------ */

/* What is remembered of a feed between requests and across restarts. */
struct store_feed {
    char last_modified[64];                      /* the server's exact text, "" when none */
    int64_t expires_s;                           /* 0 when none */
    int64_t next_allowed_s;                      /* never ask before; written before each request */
    int64_t issued_s, fetched_s, first_s, end_s; /* of the last accepted document */
    int failures;            /* answers in a row that gave nothing, for backing off */
    int unreached;           /* attempts in a row that reached nobody */
    char asked[24];          /* a mark of the address and place that the rest is about */
    char address[128];       /* what the service made of the place, "" when not asked for */
    int64_t address_s;       /* since when that is known */
    int64_t failing_since_s; /* the first request in a row that gave nothing, 0 when the last did */
    char last_error[512];    /* why the last request gave nothing, where people shall know */
    int64_t last_error_s;
    char warning[512]; /* what people shall know of the last document, though it was taken */
};

int store_feed_read(struct store *store, const char *feed, struct store_feed *out,
                    struct error *error);
int store_feed_write(struct store *store, const char *feed, const struct store_feed *in,
                     struct error *error);
/* What the servers' clocks say of this computer's. All by this computer's clock but there_s. */
struct store_clock {
    int64_t trusted_s; /* of the last plan made while they agreed; 0 when there was none */
    int64_t agreed_s;  /* when a server's clock last agreed; 0 never */
    int64_t wrong_s;   /* when one disagreed, 0 when the last one agreed */
    int64_t there_s;   /* what the server's said then */
};
int store_clock_read(struct store *store, struct store_clock *out, struct error *error);
int store_clock_write(struct store *store, const struct store_clock *in, struct error *error);
/* After the clock was set: no feed and no host waits longer than until then. */
int store_feed_hasten(struct store *store, int64_t until_s, struct error *error);

/* When a host may be asked again, by any feed; 0 when it never was. */
int store_host_read(struct store *store, const char *host, int64_t *next_allowed_s,
                    struct error *error);
/* Both in one transaction: what is not written is not asked. */
int store_feed_write_with_host(struct store *store, const char *feed, const struct store_feed *in,
                               const char *host, int64_t next_allowed_s, struct error *error);
/* Where the climate normals come from. */
struct store_normals {
    bool imported;  /* twelve rows of people: they come before fetched ones */
    char feed[32];  /* whose the fetched ones are, "" without any */
    char place[64]; /* of the fetched ones, as it was written */
};
int store_normals_read(struct store *store, struct store_normals *out, struct error *error);
/* Twelve fetched months and the feed's state in one transaction, in place of any fetched before. */
int store_feed_accept_normals(struct store *store, const char *feed, const char *place,
                              const struct weather_normal normals[12], const struct store_feed *in,
                              struct error *error);
int store_feed_forget_normals(struct store *store, struct error *error);
/* Hours and feed state in one transaction. Every issue of an hour is kept: the key is
 * (feed, start, issued). */
int store_feed_accept(struct store *store, const char *feed, const struct weather_raw *hours,
                      size_t count, const struct store_feed *in, struct error *error);

/* --- planned runs ------------------------------------------------------------------------- */

struct store_planned {
    char zone[RECORDS_ID_SIZE];
    char run_id[RECORDS_RUN_ID_SIZE];
    char order_key[RECORDS_ID_SIZE]; /* "": of no order */
    int64_t start_s, end_s;
    double litres;
    int pulses, pulse_min, pause_min;
    enum nursery_purpose purpose;
    int64_t basis; /* of the records it was planned from */
};

/* Replaces the planned runs that have not started by now_s with runs; before that, those whose end
 * has passed become assumed run records where their zone says so. runs must start after now_s. In
 * store_load an assumed run gives way to every report of its zone within half an hour of it that
 * does not name another run. */
int store_planned_replace(struct store *store, int64_t now_s, const struct store_planned *runs,
                          size_t count, struct error *error);

/* What a plan said at now_s, ascending by code and subject: notices that were open before and are
 * said no longer end at now_s; those since now_s begin. */
int store_notices_replace(struct store *store, int64_t now_s, const struct records_notice *said,
                          size_t count, struct error *error);

/* --- everything for a plan ---------------------------------------------------------------- */

/* Records dated up to at_s, forecasts issued and fetched by at_s (rank: kind, then the latest issue
 * for hours to come; for past hours the issue with the shortest lead, which again is the latest).
 * What the best source of an hour does not say comes from the next one; the hour's kind and issue
 * are then the worst of those that gave temperature, humidity, wind or rain. site and zone are the
 * configuration's; the zone's array stays the caller's. Window of hours: back_days before at_s to
 * ahead_days after; weighings, runs and gauge readings that ended before it are left out. A nursery
 * without blocks is fine, a block whose mix has no bench test by then is an error. Returns 0, or -1
 * with error set; free with records_free. */
int store_load(struct store *store, int64_t at_s, const struct sun_site *site,
               const struct civil_zone *zone, int back_days, int ahead_days, struct records *out,
               struct error *error);

/* Changes whenever another connection or process commits (SQLite's data_version). */
int store_version(struct store *store, int64_t *version, struct error *error);

#endif
