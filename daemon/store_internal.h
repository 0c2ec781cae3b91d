/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the store's own files share. Nobody else includes this, or sqlite3.h. */
#ifndef PERCHD_DAEMON_STORE_INTERNAL_H
#define PERCHD_DAEMON_STORE_INTERNAL_H

#include <sqlite3.h>

/* Between the pulses of a zone that says none, minutes [our choice]. */
#define STORE_PAUSE_MIN "30"

#include "store.h"

#define STORE_STATEMENTS_MAX 96

struct store_statement {
    const char *sql; /* a constant of the program: the pointer is the key */
    sqlite3_stmt *statement;
};

struct store {
    sqlite3 *db;
    struct store_statement statements[STORE_STATEMENTS_MAX];
    size_t statement_count;
    sqlite3_stmt *compare[KIND_COUNT]; /* store_put's, made from the columns */
    sqlite3_stmt *upsert[KIND_COUNT];
};

/* store_schema.c: SQL that leads from version i to i + 1. */
extern const char *const store_migrations[];
extern const int store_migration_count;

/* "records: WHAT: SQLite's words"; always -1. */
int store_fail(const struct store *store, const char *what, struct error *error);

int store_execute(struct store *store, const char *sql, struct error *error);

/* The prepared statement of a constant SQL text, reset, nothing bound; NULL with error set. The
 * store owns it. */
sqlite3_stmt *store_statement(struct store *store, const char *sql, struct error *error);

/* 1: a row is there; 0: done (and reset); -1 with error set (and reset). */
int store_step(struct store *store, sqlite3_stmt *statement, struct error *error);

/* Runs to the end, rows ignored. */
int store_run(struct store *store, sqlite3_stmt *statement, struct error *error);

/* A write of several statements: opens a transaction unless one is open (*own tells), and closes
 * what it opened, committing when result is 0. Returns result, or -1. */
int store_scope_open(struct store *store, bool *own, struct error *error);
int store_scope_close(struct store *store, bool own, int result, struct error *error);

/* Text of a column, never NULL. Lives until the next step. */
const char *store_text(sqlite3_stmt *row, int column);
/* Number of a column, or otherwise when it is NULL. */
double store_number(sqlite3_stmt *row, int column, double otherwise);
void store_bind_text(sqlite3_stmt *statement, int index, const char *text); /* copied */
void store_bind_number(sqlite3_stmt *statement, int index, double number);  /* NAN: NULL */

/* As in CSV. */
const char *store_purpose_name(enum nursery_purpose purpose);

/* A statement that is put together from the columns of a kind. What does not fit spoils the whole,
 * which is then refused when prepared: half a WHERE would be a wider one. */
struct store_sql {
    char bytes[8192];
    size_t length;
};
void store_sql_add(struct store_sql *sql, const char *piece);
void store_sql_column(struct store_sql *sql, const struct kind_column *column); /* its name */

/* For planned_run AS p: no report, over by :at, is of it. One of its zone within half an hour of it
 * is, unless it names another planned run as its own. */
#define STORE_UNTOLD                                                                               \
    "NOT EXISTS (SELECT 1 FROM run AS r WHERE r.zone = p.zone AND r.end_s <= :at AND"              \
    "  r.start_s < p.end_s + 1800 AND r.end_s > p.start_s - 1800"                                  \
    "  AND NOT EXISTS (SELECT 1 FROM planned_run AS q WHERE q.zone = r.zone AND"                   \
    "   q.run_id = r.run_id AND q.run_id <> p.run_id))"
/* For run AS r, zone AS z: its litres, as store_load reckons: the pauses gave nothing. */
#define STORE_RUN_LITRES                                                                           \
    "coalesce(r.litres, z.flow_l_min * max(0, (end_s - start_s) / 60.0 -"                          \
    " (coalesce(r.pulses, 1) - 1) * coalesce(z.pause_min, " STORE_PAUSE_MIN ")))"

/* store_load_weather.c: an hour out of start_s, issued_s, kind, temperature_c, dewpoint_c,
 * humidity_pct, wind_10m_m_s, cloud_pct, cloud_low_pct, cloud_mid_pct, cloud_high_pct,
 * radiation_w_m2, rain_mm, rain_probability, from column `from` on. */
struct weather_raw store_hour_of(sqlite3_stmt *row, int from);

/* store_mix.c: the fit of all that was measured on a batch by `until` (a date's text): of every
 * vessel and every suction the latest, fitted together; the figures are those of the newest vessel.
 * 1 found, 0 none, 2 measured but no curve goes with it, -1 failed. */
int store_fit(struct store *store, const char *mix, const char *batch, const char *until,
              struct bench_fit *fit, struct error *error);
/* The day whose measurements hold for pots filled from a batch on `cut`, as seen on `until`: the
 * last one by then, else the first one after. 1 found, 0 none, -1 failed. */
#define STORE_DATE_SIZE 16
int store_batch_day(struct store *store, const char *mix, const char *batch, const char *cut,
                    const char *until, char day[STORE_DATE_SIZE], struct error *error);
/* Columns of a pot for store_pot_of, from column 0 on. */
#define STORE_POT_COLUMNS                                                                          \
    "form, top_cm, bottom_cm, fill_height_cm, height_cm, volume_l, base_cm, inverse_taper"
void store_pot_of(sqlite3_stmt *row, struct pot_shape *shape);

/* A block's state against its pot and mix. 0 fine (*out, unless NULL, is what the pot holds),
 * 1 refused with fault, -1 failed. */
struct store_standing {
    const char *pot, *mix, *batch;
    const char *from; /* date from which it stands so */
    double theta_low; /* fraction, 0 when not given */
    double spacing_cm, row_cm;
};
int store_check_standing(struct store *store, const struct store_standing *standing,
                         struct pot_figures *out, struct kind_fault *fault, struct error *error);

#endif
