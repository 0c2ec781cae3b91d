/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Writing people's records: one way for every kind, its SQL made from the kind's columns. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "store_internal.h"

static void add_parameter(struct store_sql *text, size_t number)
{
    char piece[24];
    snprintf(piece, sizeof piece, "?%zu", number);
    store_sql_add(text, piece);
}

static void add_equal(struct store_sql *text, const char *before, const struct kind_column *column,
                      const char *operator, size_t number)
{
    store_sql_add(text, before);
    store_sql_column(text, column);
    store_sql_add(text, operator);
    add_parameter(text, number);
}

/* SELECT 1 or 0: is the record with this key the same in every column? */
static void write_compare(struct store_sql *sql, const struct kind *kind)
{
    store_sql_add(sql, "SELECT 1");
    for (size_t i = 0; i < kind->column_count; i++)
        add_equal(sql, " AND ", &kind->columns[i], " IS ", i + 1);
    store_sql_add(sql, " FROM \"");
    store_sql_add(sql, kind->table);
    store_sql_add(sql, "\" WHERE 1");
    for (size_t i = 0; i < kind->column_count; i++)
        if (kind->columns[i].key)
            add_equal(sql, " AND ", &kind->columns[i], " IS ", i + 1);
}

static void write_upsert(struct store_sql *sql, const struct kind *kind)
{
    const char *comma = "";
    store_sql_add(sql, "INSERT INTO \"");
    store_sql_add(sql, kind->table);
    store_sql_add(sql, "\" (");
    for (size_t i = 0; i < kind->column_count; i++) {
        store_sql_add(sql, i ? ", " : "");
        store_sql_column(sql, &kind->columns[i]);
    }
    store_sql_add(sql, ") VALUES (");
    for (size_t i = 0; i < kind->column_count; i++) {
        store_sql_add(sql, i ? ", " : "");
        add_parameter(sql, i + 1);
    }
    store_sql_add(sql, ")");
    if (kind->id == KIND_WINDOWS) /* have no key, see store.h */
        return;
    store_sql_add(sql, " ON CONFLICT (");
    for (size_t i = 0; i < kind->column_count; i++) {
        if (!kind->columns[i].key)
            continue;
        store_sql_add(sql, comma);
        store_sql_column(sql, &kind->columns[i]);
        comma = ", ";
    }
    store_sql_add(sql, ") DO UPDATE SET entered_s = unixepoch()");
    for (size_t i = 0; i < kind->column_count; i++)
        if (!kind->columns[i].key)
            add_equal(sql, ", ", &kind->columns[i], " = ", i + 1);
}

static sqlite3_stmt *made(struct store *store, sqlite3_stmt **kept, const struct kind *kind,
                          void (*write)(struct store_sql *, const struct kind *),
                          struct error *error)
{
    struct store_sql sql = {.length = 0};
    if (!*kept) {
        write(&sql, kind);
        if (sqlite3_prepare_v3(store->db, sql.bytes, -1, SQLITE_PREPARE_PERSISTENT, kept, NULL) !=
            SQLITE_OK) {
            store_fail(store, kind->table, error);
            return NULL;
        }
    }
    sqlite3_reset(*kept);
    sqlite3_clear_bindings(*kept);
    return *kept;
}

static void bind_value(sqlite3_stmt *statement, int index, const struct kind_column *column,
                       const struct kind_value *value)
{
    if (!value->given) {
        /* A batch is part of a key, as a ref is, where 'none' must be equal to 'none'. */
        if (column->key && column->type == KIND_ID)
            store_bind_text(statement, index, "");
        return;
    }
    switch (column->type) {
    case KIND_NUMBER:
        store_bind_number(statement, index, value->number);
        break;
    case KIND_WHOLE:
    case KIND_YES_NO:
    case KIND_MOMENT:
        sqlite3_bind_int64(statement, index, value->whole);
        break;
    case KIND_ID:
    case KIND_REF:
    case KIND_TEXT:
    case KIND_NUMBERS:
    case KIND_CHOICE:
    case KIND_DATE:
    case KIND_EDGE:
    case KIND_DAYS:
        store_bind_text(statement, index, value->text);
        break;
    }
}

static void bind_row(sqlite3_stmt *statement, const struct kind_row *row)
{
    for (size_t i = 0; i < row->kind->column_count; i++)
        bind_value(statement, (int)i + 1, &row->kind->columns[i], &row->values[i]);
}

/* --- what other records must say ---------------------------------------------------------- */

static const char *exists_sql(enum kind_id id)
{
    switch (id) {
    case KIND_MIXES:
        return "SELECT 1 FROM mix WHERE mix = ?1";
    case KIND_POTS:
        return "SELECT 1 FROM pot WHERE pot = ?1";
    case KIND_COVERS:
        return "SELECT 1 FROM cover WHERE cover = ?1";
    case KIND_SUPPLIES:
        return "SELECT 1 FROM supply WHERE supply = ?1";
    case KIND_ZONES:
        return "SELECT 1 FROM zone WHERE zone = ?1";
    case KIND_BLOCKS:
        return "SELECT 1 FROM block WHERE block = ?1";
    case KIND_BENCH_TESTS:
    case KIND_RETENTION_POINTS:
    case KIND_WINDOWS:
    case KIND_POT_EVENTS:
    case KIND_WEIGHINGS:
    case KIND_TOUCH_CHECKS:
    case KIND_RUNS:
    case KIND_ORDERS:
    case KIND_HOLDS:
    case KIND_REQUIREMENTS:
    case KIND_RAISES:
    case KIND_CATCH_CANS:
    case KIND_DRAIN_CATCHES:
    case KIND_POUR_THROUGHS:
    case KIND_GAUGE:
    case KIND_NORMALS:
    case KIND_HOURS:
    case KIND_COUNT:
        break;
    }
    return NULL;
}

static int check_references(struct store *store, const struct kind_row *row,
                            struct kind_fault *fault, struct error *error)
{
    for (size_t i = 0; i < row->kind->column_count; i++) {
        const struct kind_column *column = &row->kind->columns[i];
        /* Zones come before the blocks that lead them: store_check looks at those. */
        if (column->type != KIND_REF || !row->values[i].given ||
            strcmp(column->name, "lead_block") == 0)
            continue;
        sqlite3_stmt *find = store_statement(store, exists_sql(column->of), error);
        if (!find)
            return -1;
        store_bind_text(find, 1, row->values[i].text);
        int got = store_step(store, find, error);
        sqlite3_reset(find);
        if (got < 0)
            return -1;
        if (got == 0) {
            kind_fault_set(fault, column->name, "'%s' given, accepted is an id of %s.csv",
                           row->values[i].text, kind_of(column->of)->stem);
            return 1;
        }
    }
    return 0;
}

static int check_bench(struct store *store, const struct kind_row *row, struct kind_fault *fault,
                       struct error *error)
{
    sqlite3_stmt *find = store_statement(store, "SELECT class FROM mix WHERE mix = ?1", error);
    if (!find)
        return -1;
    store_bind_text(find, 1, kind_text(row, "mix"));
    int got = store_step(store, find, error);
    if (got != 1)
        return got;
    int refused = kind_check_bench(row, store_text(find, 0), fault);
    sqlite3_reset(find);
    return refused ? 1 : 0;
}

static int check_block(struct store *store, const struct kind_row *row, struct kind_fault *fault,
                       struct error *error)
{
    double spacing_cm = kind_number(row, "spacing_cm", 0);
    const struct store_standing standing = {
        .pot = kind_text(row, "pot"),
        .mix = kind_text(row, "mix"),
        .batch = kind_text(row, "batch"),
        .from = kind_text(row, "from"),
        .theta_low = kind_number(row, "theta_low_pct", 0) / 100,
        .spacing_cm = spacing_cm,
        .row_cm = kind_number(row, "row_cm", spacing_cm),
    };
    int result = store_check_standing(store, &standing, NULL, fault, error);
    if (result != 0)
        return result;
    sqlite3_stmt *insert =
        store_statement(store, "INSERT OR IGNORE INTO block (block) VALUES (?1)", error);
    if (!insert)
        return -1;
    store_bind_text(insert, 1, kind_text(row, "block"));
    return store_run(store, insert, error);
}

#define STANDING_COLUMNS                                                                           \
    "pot, mix, coalesce(batch, ''), coalesce(theta_low_pct, 0) / 100, spacing_cm,"                 \
    " coalesce(row_cm, spacing_cm), from_date"

/* From STANDING_COLUMNS; its texts live until the row's next step. */
static struct store_standing standing_of(sqlite3_stmt *row)
{
    return (struct store_standing){
        .pot = store_text(row, 0),
        .mix = store_text(row, 1),
        .batch = store_text(row, 2),
        .theta_low = sqlite3_column_double(row, 3),
        .spacing_cm = sqlite3_column_double(row, 4),
        .row_cm = sqlite3_column_double(row, 5),
        .from = store_text(row, 6),
    };
}

/* A pot cannot lack more than it holds, nor weigh less than that: kilograms and grams, or two pots,
 * were mixed up. The mix differs between pots by more than a bench test shows [our choice: a
 * quarter]. */
static int check_weighing(struct store *store, const struct kind_row *row, struct kind_fault *fault,
                          struct error *error)
{
    double missing_kg = kind_number(row, "capacity_kg", 0) - kind_number(row, "now_kg", 0);
    double most_l = 0;
    double least_l = INFINITY;
    int result = 0;
    sqlite3_stmt *state = store_statement(
        store, "SELECT " STANDING_COLUMNS " FROM block_state WHERE block = ?1", error);
    if (!state)
        return -1;
    store_bind_text(state, 1, kind_text(row, "block"));
    int got = 1;
    while (result == 0 && (got = store_step(store, state, error)) == 1) {
        struct pot_figures figures = {0};
        const struct store_standing standing = standing_of(state);
        result = store_check_standing(store, &standing, &figures, fault, error);
        most_l = fmax(most_l, figures.water_l);
        least_l = fmin(least_l, figures.water_l);
    }
    sqlite3_reset(state);
    if (got < 0 || result != 0)
        return got < 0 ? -1 : result;
    if (isfinite(least_l) && kind_number(row, "capacity_kg", 0) < 0.75 * least_l) {
        kind_fault_set(fault, "capacity_kg",
                       "%g given, accepted is at least %.3g: the water alone that its pot holds "
                       "weighs %.3g kg",
                       kind_number(row, "capacity_kg", 0), 0.75 * least_l, least_l);
        fault->least = 0.75 * least_l;
        return 1;
    }
    if (missing_kg <= 1.25 * most_l)
        return 0;
    kind_fault_set(fault, "now_kg",
                   "%g given, %.3g kg below capacity_kg, accepted is at most %.3g below: its pot "
                   "holds %.3g L",
                   kind_number(row, "now_kg", 0), missing_kg, 1.25 * most_l, most_l);
    fault->least = kind_number(row, "now_kg", 0) + missing_kg - 1.25 * most_l;
    return 1;
}

/* More than ten times what the valve gives is another unit or another valve [our choice]. */
static int check_run(struct store *store, const struct kind_row *row, struct kind_fault *fault,
                     struct error *error)
{
    int64_t length_s = kind_get(row, "end")->whole - kind_get(row, "start")->whole;
    sqlite3_stmt *find =
        store_statement(store, "SELECT flow_l_min FROM zone WHERE zone = ?1", error);
    if (!find)
        return -1;
    store_bind_text(find, 1, kind_text(row, "zone"));
    int got = store_step(store, find, error);
    double flow_l_min = got == 1 ? sqlite3_column_double(find, 0) : INFINITY;
    sqlite3_reset(find);
    double most_l = 10.0 * flow_l_min * fmax((double)length_s / 60.0, 1.0);
    if (got < 0 || kind_number(row, "litres", 0) <= most_l)
        return got < 0 ? -1 : 0;
    kind_fault_set(
        fault, "litres",
        "%g given, accepted is at most %g: ten times what %g L a minute are in that time",
        kind_number(row, "litres", 0), most_l, flow_l_min);
    fault->most = most_l;
    return 1;
}

/* Rain counted by two readings would be counted twice. */
static int check_gauge(struct store *store, const struct kind_row *row, struct kind_fault *fault,
                       struct error *error)
{
    sqlite3_stmt *find =
        store_statement(store,
                        "SELECT strftime('%Y-%m-%dT%H:%M:%SZ', from_s, 'unixepoch'),"
                        " strftime('%Y-%m-%dT%H:%M:%SZ', to_s, 'unixepoch') FROM gauge"
                        " WHERE from_s < ?2 AND to_s > ?1 AND NOT (from_s = ?1 AND to_s = ?2)",
                        error);
    if (!find)
        return -1;
    sqlite3_bind_int64(find, 1, kind_get(row, "from")->whole);
    sqlite3_bind_int64(find, 2, kind_get(row, "to")->whole);
    int got = store_step(store, find, error);
    if (got == 1)
        kind_fault_set(fault, "from", "'%s' to '%s' given, but the reading from %s to %s overlaps",
                       kind_text(row, "from"), kind_text(row, "to"), store_text(find, 0),
                       store_text(find, 1));
    sqlite3_reset(find);
    return got;
}

static int check_others(struct store *store, const struct kind_row *row, struct kind_fault *fault,
                        struct error *error)
{
    int result = check_references(store, row, fault, error);
    if (result != 0)
        return result;
    if (row->kind->id == KIND_BENCH_TESTS)
        return check_bench(store, row, fault, error);
    if (row->kind->id == KIND_BLOCKS)
        return check_block(store, row, fault, error);
    if (row->kind->id == KIND_WEIGHINGS)
        return check_weighing(store, row, fault, error);
    if (row->kind->id == KIND_RUNS)
        return check_run(store, row, fault, error);
    if (row->kind->id == KIND_GAUGE)
        return check_gauge(store, row, fault, error);
    return 0;
}

/* --- writing ------------------------------------------------------------------------------ */

/* A window with the same words that is there already only gets the newest number. */
static int renumber_window(struct store *store, const struct kind_row *row, bool *had,
                           struct error *error)
{
    sqlite3_stmt *old = store_statement(store,
                                        "UPDATE zone_window SET number = (SELECT max(number) + 1"
                                        " FROM zone_window) WHERE zone IS ?1 AND from_edge IS ?2"
                                        " AND to_edge IS ?3 AND days IS ?4",
                                        error);
    if (!old)
        return -1;
    bind_row(old, row);
    if (store_run(store, old, error))
        return -1;
    *had = sqlite3_changes(store->db) > 0;
    return 0;
}

static int compare(struct store *store, const struct kind_row *row, enum store_change *change,
                   struct error *error)
{
    bool had = false;
    if (row->kind->id == KIND_WINDOWS) {
        if (renumber_window(store, row, &had, error))
            return -1;
        *change = had ? STORE_SAME : STORE_ADDED;
        return 0;
    }
    sqlite3_stmt *same =
        made(store, &store->compare[row->kind->id], row->kind, write_compare, error);
    if (!same)
        return -1;
    bind_row(same, row);
    int got = store_step(store, same, error);
    if (got < 0)
        return -1;
    *change = got == 0 ? STORE_ADDED : sqlite3_column_int(same, 0) ? STORE_SAME : STORE_CHANGED;
    sqlite3_reset(same);
    return 0;
}

int store_put(struct store *store, const struct kind_row *row, enum store_change *change,
              struct kind_fault *fault, struct error *error)
{
    if (kind_check(row, fault))
        return 1;
    int result = check_others(store, row, fault, error);
    if (result != 0)
        return result;
    if (compare(store, row, change, error))
        return -1;
    if (*change == STORE_SAME)
        return 0;
    sqlite3_stmt *upsert =
        made(store, &store->upsert[row->kind->id], row->kind, write_upsert, error);
    if (!upsert)
        return -1;
    bind_row(upsert, row);
    return store_run(store, upsert, error);
}

int store_windows_mark(struct store *store, int64_t *mark, struct error *error)
{
    sqlite3_stmt *row =
        store_statement(store, "SELECT coalesce(max(number), 0) FROM zone_window", error);
    if (!row || store_step(store, row, error) != 1)
        return -1;
    *mark = sqlite3_column_int64(row, 0);
    sqlite3_reset(row);
    return 0;
}

int store_windows_sweep(struct store *store, int64_t mark, size_t *removed, struct error *error)
{
    sqlite3_stmt *sweep =
        store_statement(store,
                        "DELETE FROM zone_window WHERE number <= ?1 AND EXISTS"
                        " (SELECT 1 FROM zone_window AS given"
                        "  WHERE given.number > ?1 AND given.zone IS zone_window.zone)",
                        error);
    if (!sweep)
        return -1;
    sqlite3_bind_int64(sweep, 1, mark);
    if (store_run(store, sweep, error))
        return -1;
    *removed = (size_t)sqlite3_changes(store->db);
    return 0;
}

/* --- the whole ---------------------------------------------------------------------------- */

static int check_standings(struct store *store, struct error *error)
{
    struct kind_fault fault;
    int result = 0;
    sqlite3_stmt *row = store_statement(
        store, "SELECT " STANDING_COLUMNS ", block FROM block_state ORDER BY block, from_date",
        error);
    int got = row ? 1 : -1;
    while (result == 0 && got == 1 && (got = store_step(store, row, error)) == 1) {
        const struct store_standing standing = standing_of(row);
        result = store_check_standing(store, &standing, NULL, &fault, error);
        if (result == 1)
            error_set(error, "block '%s' from %s: %s: %s", store_text(row, 7), store_text(row, 6),
                      fault.column, fault.text);
    }
    sqlite3_reset(row);
    return got < 0 ? -1 : result;
}

/* A mix whose class changed takes its bench tests along; tests and points of one batch go
 * together. */
static int check_benches(struct store *store, struct error *error)
{
    sqlite3_stmt *row =
        store_statement(store,
                        "SELECT mix, batch, tested, class FROM batch_day JOIN mix USING (mix)"
                        " ORDER BY mix, batch, tested",
                        error);
    int got = row ? 1 : -1;
    while (got == 1 && (got = store_step(store, row, error)) == 1) {
        struct bench_fit fit;
        int fitted = store_fit(store, store_text(row, 0), store_text(row, 1), store_text(row, 2),
                               &fit, error);
        if (fitted == 1)
            continue;
        if (fitted != -1)
            error_set(error,
                      "mix '%s' batch '%s': what was measured by %s gives no curve for a mix of "
                      "class %s",
                      store_text(row, 0), store_text(row, 1), store_text(row, 2),
                      store_text(row, 3));
        sqlite3_reset(row);
        return fitted == -1 ? -1 : 1;
    }
    return got;
}

static int check_leads(struct store *store, struct error *error)
{
    sqlite3_stmt *row =
        store_statement(store,
                        "SELECT zone.zone, lead_block FROM zone WHERE lead_block IS NOT NULL"
                        " AND NOT EXISTS (SELECT 1 FROM block_state AS s"
                        "  WHERE s.block = lead_block AND s.zone = zone.zone) ORDER BY 1",
                        error);
    int got = row ? store_step(store, row, error) : -1;
    if (got == 1) {
        error_set(error, "zone '%s': lead_block: '%s' given, accepted is a block of that zone",
                  store_text(row, 0), store_text(row, 1));
        sqlite3_reset(row);
    }
    return got;
}

static int check_normals(struct store *store, struct error *error)
{
    sqlite3_stmt *row = store_statement(store, "SELECT count(*) FROM normal", error);
    int got = row ? store_step(store, row, error) : -1;
    if (got != 1)
        return -1;
    int months = sqlite3_column_int(row, 0);
    sqlite3_reset(row);
    if (months == 0 || months == 12)
        return 0;
    error_set(error, "normals: %d months given, accepted are all 12", months);
    return 1;
}

/* Of a day the count comes first and the end last. */
int store_check_stocks(struct store *store, struct error *error)
{
    sqlite3_stmt *row = store_statement(
        store,
        "SELECT block, from_date AS day, 0 AS rank, 'stands' AS event, pots FROM block_state"
        " UNION ALL SELECT block, on_date, 1 + (event = 'ended'), event, coalesce(pots, 0)"
        "  FROM pot_event WHERE event IN ('counted', 'sold', 'split', 'merged', 'ended')"
        " UNION ALL SELECT \"into\", on_date, 1, 'joined', coalesce(pots, 0)"
        "  FROM pot_event WHERE event = 'merged' AND \"into\" <> block"
        " ORDER BY block, day, rank, event, pots",
        error);
    char block[RECORDS_ID_SIZE] = "";
    int64_t pots = -1; /* before the block's first row */
    int got = row ? 1 : -1;
    while (got == 1 && (got = store_step(store, row, error)) == 1) {
        const char *event = store_text(row, 3);
        int64_t moved = sqlite3_column_int64(row, 4);
        if (strcmp(block, store_text(row, 0)) != 0) {
            snprintf(block, sizeof block, "%s", store_text(row, 0));
            pots = -1;
        }
        bool stands = strcmp(event, "stands") == 0;
        if (pots < 0 && !stands)
            continue;
        if (stands || strcmp(event, "counted") == 0)
            pots = moved;
        else if (strcmp(event, "joined") == 0)
            pots += moved;
        else if (strcmp(event, "ended") == 0)
            pots = 0;
        else if (moved <= pots)
            pots -= moved;
        else {
            error_set(error,
                      "block '%s', %s on %s: pots: %lld given, accepted is at most the %lld that "
                      "stand there then",
                      block, event, store_text(row, 1), (long long)moved, (long long)pots);
            sqlite3_reset(row);
            return 1;
        }
    }
    return got;
}

int store_check(struct store *store, struct error *error)
{
    int result = check_benches(store, error);
    if (result == 0)
        result = check_standings(store, error);
    if (result == 0)
        result = check_leads(store, error);
    if (result == 0)
        result = store_check_stocks(store, error);
    if (result == 0)
        result = check_normals(store, error);
    return result;
}
