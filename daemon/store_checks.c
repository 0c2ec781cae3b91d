/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "store_checks.h"

#include <math.h>
#include <stdio.h>

#include "store_internal.h"

static const char *const kinds[] = {[STORE_SEALED_WATER] = "water", [STORE_SEALED_DUE] = "due"};

/* A statement with its parameters 1 and 2 bound to moments. */
static sqlite3_stmt *between(struct store *store, const char *sql, int64_t from_s, int64_t to_s,
                             struct error *error)
{
    sqlite3_stmt *row = store_statement(store, sql, error);
    if (row) {
        sqlite3_bind_int64(row, 1, from_s);
        sqlite3_bind_int64(row, 2, to_s);
    }
    return row;
}

/* --- sealed ---------------------------------------------------------------------------------- */

int store_sealed_add(struct store *store, struct store_sealed *sealed, struct error *error)
{
    sqlite3_stmt *statement = store_statement(
        store,
        "INSERT INTO sealed (kind, block, sealed_s, made_s, about_s, who, content)"
        " VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7) ON CONFLICT (kind, block, about_s) DO NOTHING",
        error);
    if (!statement)
        return -1;
    store_bind_text(statement, 1, kinds[sealed->kind]);
    store_bind_text(statement, 2, sealed->block);
    sqlite3_bind_int64(statement, 3, sealed->sealed_s);
    sqlite3_bind_int64(statement, 4, sealed->made_s);
    sqlite3_bind_int64(statement, 5, sealed->about_s);
    store_bind_text(statement, 6, sealed->who);
    store_bind_text(statement, 7, sealed->content);
    if (store_run(store, statement, error) != 0)
        return -1;
    sealed->number = sqlite3_last_insert_rowid(store->db);
    return 0;
}

/* A word that was taken back, or put right to another feel, is nothing to hold a plan against. */
int store_sealed_each(struct store *store, enum store_sealed_kind kind, int64_t from_s,
                      int64_t to_s, void (*take)(void *context, const struct store_sealed *sealed),
                      void *context, struct error *error)
{
    sqlite3_stmt *row = between(store,
                                "SELECT number, block, sealed_s, made_s, about_s, who, content"
                                " FROM sealed WHERE sealed_s >= ?1 AND sealed_s <= ?2"
                                " AND kind = ?3 AND (kind = 'water' OR EXISTS (SELECT 1 FROM"
                                "  touch_check AS t WHERE t.block = sealed.block AND"
                                "  at_s = about_s AND feel = 'dry')) ORDER BY number",
                                from_s, to_s, error);
    if (!row)
        return -1;
    store_bind_text(row, 3, kinds[kind]);
    int got = 1;
    while ((got = store_step(store, row, error)) == 1) {
        struct store_sealed sealed = {.number = sqlite3_column_int64(row, 0),
                                      .kind = kind,
                                      .sealed_s = sqlite3_column_int64(row, 2),
                                      .made_s = sqlite3_column_int64(row, 3),
                                      .about_s = sqlite3_column_int64(row, 4),
                                      .who = store_text(row, 5),
                                      .content = store_text(row, 6)};
        snprintf(sealed.block, sizeof sealed.block, "%s", store_text(row, 1));
        take(context, &sealed);
    }
    return got;
}

/* --- weighings and runs ---------------------------------------------------------------------- */

static int read_weighed(struct store *store, const char *sql, const char *block, int64_t from_s,
                        int64_t to_s, struct store_weighed *out, struct error *error)
{
    sqlite3_stmt *row = between(store, sql, from_s, to_s, error);
    if (!row)
        return -1;
    store_bind_text(row, 3, block);
    int got = store_step(store, row, error);
    if (got == 1)
        *out = (struct store_weighed){sqlite3_column_int64(row, 0), store_number(row, 1, NAN)};
    sqlite3_reset(row);
    return got;
}

int store_weighed_after(struct store *store, const char *block, int64_t from_s, int64_t to_s,
                        struct store_weighed *out, struct error *error)
{
    return read_weighed(store,
                        "SELECT at_s, max(0, capacity_kg - now_kg) FROM weighing WHERE block = ?3"
                        " AND at_s > ?1 AND at_s <= ?2 ORDER BY at_s LIMIT 1",
                        block, from_s, to_s, out, error);
}

int store_weighed_before(struct store *store, const char *block, int64_t from_s, int64_t before_s,
                         struct store_weighed *out, struct error *error)
{
    return read_weighed(store,
                        "SELECT at_s, max(0, capacity_kg - now_kg) FROM weighing WHERE block = ?3"
                        " AND at_s > ?1 AND at_s <= ?2 ORDER BY at_s DESC LIMIT 1",
                        block, from_s - before_s, from_s, out, error);
}

int store_ran_between(struct store *store, const char *zone, int64_t from_s, int64_t to_s,
                      struct error *error)
{
    sqlite3_stmt *row =
        between(store,
                "SELECT EXISTS (SELECT 1 FROM run WHERE zone = ?3 AND start_s >= ?1 AND start_s <"
                " ?2) OR EXISTS (SELECT 1 FROM planned_run WHERE zone = ?3 AND start_s >= ?1 AND"
                " start_s < ?2 AND state IS NOT 'unreported')",
                from_s, to_s, error);
    if (!row)
        return -1;
    store_bind_text(row, 3, zone);
    int got = store_step(store, row, error);
    int ran = got == 1 ? sqlite3_column_int(row, 0) : got;
    sqlite3_reset(row);
    return ran;
}

/* --- cans, drainage, pots -------------------------------------------------------------------- */

int store_cans_each(struct store *store, const char *until,
                    void (*take)(void *context, const struct store_cans *cans), void *context,
                    struct error *error)
{
    sqlite3_stmt *row = store_statement(
        store,
        "SELECT c.zone, max(c.on_date), c.catches_ml, c.can_cm2, c.minutes, z.rate_mm_h"
        " FROM catch_cans c JOIN zone z USING (zone) WHERE c.on_date <= ?1 GROUP BY c.zone"
        " ORDER BY c.zone",
        error);
    if (!row)
        return -1;
    store_bind_text(row, 1, until);
    int got = 1;
    while ((got = store_step(store, row, error)) == 1) {
        const struct store_cans cans = {store_text(row, 0),        store_text(row, 1),
                                        store_text(row, 2),        store_number(row, 3, NAN),
                                        store_number(row, 4, NAN), store_number(row, 5, NAN)};
        take(context, &cans);
    }
    return got;
}

int store_caught_each(struct store *store, int64_t from_s, int64_t to_s,
                      void (*take)(void *context, const struct store_caught *caught), void *context,
                      struct error *error)
{
    sqlite3_stmt *row =
        between(store,
                "SELECT d.block, z.zone, z.method, d.at_s, d.given_ml, d.drained_ml,"
                " (SELECT litres FROM (SELECT litres, start_s FROM run WHERE zone = z.zone"
                "   AND start_s <= d.at_s AND start_s > d.at_s - 14400"
                "   UNION ALL SELECT litres, start_s FROM planned_run WHERE zone = z.zone"
                "   AND start_s <= d.at_s AND start_s > d.at_s - 14400)"
                "  WHERE litres IS NOT NULL ORDER BY start_s DESC LIMIT 1),"
                " z.flow_l_min, z.emitters_per_pot, z.emitter_l_h, z.leaching_pct"
                " FROM drain_catch d JOIN block_state b ON b.block = d.block AND b.from_date ="
                "  (SELECT max(from_date) FROM block_state WHERE block = d.block)"
                " JOIN zone z ON z.zone = b.zone WHERE d.at_s >= ?1 AND d.at_s <= ?2"
                " ORDER BY d.at_s DESC, d.block",
                from_s, to_s, error);
    if (!row)
        return -1;
    int got = 1;
    while ((got = store_step(store, row, error)) == 1) {
        const struct store_caught caught = {.block = store_text(row, 0),
                                            .zone = store_text(row, 1),
                                            .method = store_text(row, 2),
                                            .at_s = sqlite3_column_int64(row, 3),
                                            .given_ml = store_number(row, 4, NAN),
                                            .drained_ml = store_number(row, 5, NAN),
                                            .run_litres = store_number(row, 6, NAN),
                                            .flow_l_min = store_number(row, 7, NAN),
                                            .emitters_per_pot = store_number(row, 8, NAN),
                                            .emitter_l_h = store_number(row, 9, NAN),
                                            .leaching_pct = store_number(row, 10, NAN)};
        take(context, &caught);
    }
    return got;
}

int store_pot_test_each(struct store *store, const char *mix, const char *batch,
                        double fill_height_cm, const char *until,
                        void (*take)(void *context, const struct store_pot_test *test),
                        void *context, struct error *error)
{
    sqlite3_stmt *row = store_statement(
        store,
        "SELECT tested, vessel, drained_ml, vessel_height_cm, vessel_volume_ml, mass_drained_g,"
        " mass_dry_g FROM bench_test WHERE mix = ?1 AND batch = ?2 AND tested <= ?3"
        " AND abs(vessel_height_cm - ?4) <= 0.05 * ?4 ORDER BY tested DESC, vessel",
        error);
    if (!row)
        return -1;
    store_bind_text(row, 1, mix);
    store_bind_text(row, 2, batch);
    store_bind_text(row, 3, until);
    store_bind_number(row, 4, fill_height_cm);
    int got = 1;
    while ((got = store_step(store, row, error)) == 1) {
        const struct store_pot_test test = {store_text(row, 0),        store_text(row, 1),
                                            store_text(row, 2),        store_number(row, 3, NAN),
                                            store_number(row, 4, NAN), store_number(row, 5, NAN),
                                            store_number(row, 6, NAN)};
        take(context, &test);
    }
    return got;
}

/* --- cubic metres and rain ------------------------------------------------------------------- */

int store_water_metered(struct store *store, int64_t from_s, int64_t to_s, double *planned_l,
                        double *metered_l, double *planned_all_l, struct error *error)
{
    sqlite3_stmt *row = between(
        store,
        "WITH metered AS (SELECT zone, sum(litres) AS litres FROM run WHERE state = 'metered'"
        "  AND start_s >= ?1 AND start_s < ?2 GROUP BY zone),"
        " planned AS (SELECT zone, sum(litres) AS litres FROM planned_run"
        "  WHERE start_s >= ?1 AND start_s < ?2 GROUP BY zone)"
        " SELECT (SELECT total(litres) FROM planned WHERE zone IN (SELECT zone FROM metered)),"
        " (SELECT total(litres) FROM metered), (SELECT total(litres) FROM planned)",
        from_s, to_s, error);
    if (!row)
        return -1;
    int got = store_step(store, row, error);
    if (got == 1) {
        *planned_l = store_number(row, 0, 0.0);
        *metered_l = store_number(row, 1, 0.0);
        *planned_all_l = store_number(row, 2, 0.0);
    }
    sqlite3_reset(row);
    return got == 1 ? 0 : -1;
}

int store_ran_each(struct store *store, int64_t from_s, int64_t to_s, int64_t at_s,
                   void (*take)(void *context, const struct store_ran *ran), void *context,
                   struct error *error)
{
    sqlite3_stmt *row = store_statement(
        store,
        "SELECT zone, total(planned_l), total(ran_l), max(how) FROM ("
        " SELECT zone, litres AS planned_l, done * litres AS ran_l, done AS how FROM ("
        "  SELECT zone, litres, (state = 'assumed' OR (state <> 'unreported' AND"
        "    confirm IS NOT 'reported')) AND " STORE_UNTOLD " AS done"
        "   FROM planned_run AS p JOIN zone USING (zone)"
        "   WHERE start_s >= :from AND start_s < :to AND end_s <= :at)"
        " UNION ALL SELECT zone, 0, " STORE_RUN_LITRES ", 2 FROM run AS r JOIN zone AS z"
        "  USING (zone) WHERE start_s >= :from AND start_s < :to AND end_s <= :at)"
        " GROUP BY zone",
        error);
    if (!row)
        return -1;
    sqlite3_bind_int64(row, sqlite3_bind_parameter_index(row, ":from"), from_s);
    sqlite3_bind_int64(row, sqlite3_bind_parameter_index(row, ":to"), to_s);
    sqlite3_bind_int64(row, sqlite3_bind_parameter_index(row, ":at"), at_s);
    int got = 1;
    while ((got = store_step(store, row, error)) == 1) {
        const struct store_ran ran = {store_text(row, 0), store_number(row, 1, 0.0),
                                      store_number(row, 2, 0.0),
                                      (enum store_ran_how)sqlite3_column_int(row, 3)};
        take(context, &ran);
    }
    return got;
}

int store_gauged_each(struct store *store, const char *feed, int64_t from_s, int64_t to_s,
                      void (*take)(void *context, const struct store_gauged *gauged), void *context,
                      struct error *error)
{
    sqlite3_stmt *row =
        between(store,
                "SELECT g.from_s, g.to_s, g.rain_mm, (SELECT CASE WHEN count(*) * 3600 >="
                "  g.to_s - g.from_s - 3600 THEN total(rain_mm) END FROM"
                "  (SELECT start_s, rain_mm, max(issued_s) FROM weather_hour WHERE feed = ?3"
                "   AND start_s >= g.from_s AND start_s < g.to_s AND issued_s <= start_s + 3600"
                "   AND rain_mm IS NOT NULL GROUP BY start_s))"
                " FROM gauge g WHERE g.to_s > ?1 AND g.to_s <= ?2 ORDER BY g.to_s DESC",
                from_s, to_s, error);
    if (!row)
        return -1;
    store_bind_text(row, 3, feed);
    int got = 1;
    while ((got = store_step(store, row, error)) == 1) {
        const struct store_gauged gauged = {sqlite3_column_int64(row, 0),
                                            sqlite3_column_int64(row, 1), store_number(row, 2, NAN),
                                            store_number(row, 3, NAN)};
        take(context, &gauged);
    }
    return got;
}
