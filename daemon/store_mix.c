/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Bench tests and pots as the core wants them, and whether a block's pot and mix go together. */
#include <stdio.h>
#include <string.h>

#include "core/bench_set.h"
#include "store_internal.h"

/* Later than every date. */
#define ANY_DATE "9999-12-31"

/* One test, in the order of the columns that read_tests asks for. */
static bool test_of(sqlite3_stmt *row, struct bench_test *test)
{
    *test = (struct bench_test){
        .vessel_height_cm = sqlite3_column_double(row, 0),
        .vessel_volume_ml = sqlite3_column_double(row, 1),
        .vessel_top_cm = store_number(row, 2, 0),
        .vessel_bottom_cm = store_number(row, 3, 0),
        .settled_volume_ml = store_number(row, 4, 0),
        .settled_height_cm = store_number(row, 5, 0),
        .mass_saturated_g = store_number(row, 6, 0),
        .mass_drained_g = store_number(row, 7, 0),
        .mass_dry_g = store_number(row, 8, 0),
        .total_porosity = store_number(row, 9, 0) / 100,
        .drain_time_min = store_number(row, 11, 0),
        .particle_density_g_ml = store_number(row, 12, 0),
        .inverse_taper = sqlite3_column_int(row, 13) != 0,
        .class_id = BENCH_GENERIC,
    };
    return kind_parse_numbers(store_text(row, 10), test->drained_ml, BENCH_REPLICATES_MAX,
                              &test->replicates);
}

void store_pot_of(sqlite3_stmt *row, struct pot_shape *shape)
{
    *shape = (struct pot_shape){
        .form = strcmp(store_text(row, 0), "square") == 0 ? POT_SQUARE : POT_ROUND,
        .top_cm = sqlite3_column_double(row, 1),
        .bottom_cm = sqlite3_column_double(row, 2),
        .fill_height_cm = sqlite3_column_double(row, 3),
        .height_cm = store_number(row, 4, 0),
        .volume_l = store_number(row, 5, 0),
        .base_cm = store_number(row, 6, 0),
        .inverse_taper = sqlite3_column_int(row, 7) != 0,
    };
}

static sqlite3_stmt *of_batch(struct store *store, const char *sql, const char *mix,
                              const char *batch, const char *until, struct error *error)
{
    sqlite3_stmt *row = store_statement(store, sql, error);
    if (!row)
        return NULL;
    store_bind_text(row, 1, mix);
    store_bind_text(row, 2, batch);
    store_bind_text(row, 3, until);
    return row;
}

/* The class: 1 found, 0 no such mix, -1 failed. */
static int read_class(struct store *store, const char *mix, enum bench_class *class_id,
                      struct error *error)
{
    sqlite3_stmt *row = store_statement(store, "SELECT class FROM mix WHERE mix = ?1", error);
    if (!row)
        return -1;
    store_bind_text(row, 1, mix);
    int got = store_step(store, row, error);
    const struct bench_prior *prior = got == 1 ? bench_prior_named(store_text(row, 0)) : NULL;
    *class_id = prior ? prior->class_id : BENCH_GENERIC;
    sqlite3_reset(row);
    return got;
}

/* Of every vessel the latest test, the newest first. */
static int read_tests(struct store *store, const char *mix, const char *batch, const char *until,
                      struct bench_test tests[BENCH_SET_TESTS_MAX], size_t *count,
                      struct error *error)
{
    int got = 0;
    sqlite3_stmt *row = of_batch(
        store,
        "SELECT vessel_height_cm, vessel_volume_ml, vessel_top_cm, vessel_bottom_cm,"
        " settled_volume_ml, settled_height_cm, mass_saturated_g, mass_drained_g, mass_dry_g,"
        " total_porosity_pct, drained_ml, drain_min, particle_density_g_ml, inverse_taper"
        " FROM bench_test AS b WHERE mix = ?1 AND batch = ?2 AND tested ="
        " (SELECT max(tested) FROM bench_test AS t WHERE t.mix = b.mix AND t.batch = b.batch"
        "  AND t.vessel = b.vessel AND t.tested <= ?3) ORDER BY tested DESC, vessel",
        mix, batch, until, error);
    if (!row)
        return -1;
    while (*count < BENCH_SET_TESTS_MAX && (got = store_step(store, row, error)) == 1)
        if (test_of(row, &tests[*count]))
            (*count)++;
    sqlite3_reset(row);
    return got < 0 ? -1 : 0;
}

/* Of every suction the latest point. */
static int read_points(struct store *store, const char *mix, const char *batch, const char *until,
                       struct bench_point points[BENCH_SET_POINTS_MAX], size_t *count,
                       double *porosity, struct error *error)
{
    int got = 0;
    sqlite3_stmt *row = of_batch(
        store,
        "SELECT suction_cm, water_pct, air_pct, total_porosity_pct, sd_pct"
        " FROM retention_point AS b WHERE mix = ?1 AND batch = ?2 AND tested ="
        " (SELECT max(tested) FROM retention_point AS t WHERE t.mix = b.mix AND t.batch = b.batch"
        "  AND t.suction_cm = b.suction_cm AND t.tested <= ?3) ORDER BY suction_cm",
        mix, batch, until, error);
    if (!row)
        return -1;
    while (*count < BENCH_SET_POINTS_MAX && (got = store_step(store, row, error)) == 1) {
        double pores_pct = store_number(row, 3, 0);
        double water_pct = store_number(row, 1, pores_pct - store_number(row, 2, 0));
        points[(*count)++] = (struct bench_point){sqlite3_column_double(row, 0), water_pct / 100,
                                                  store_number(row, 4, 0) / 100};
        if (pores_pct > 0)
            *porosity = pores_pct / 100;
    }
    sqlite3_reset(row);
    return got < 0 ? -1 : 0;
}

int store_fit(struct store *store, const char *mix, const char *batch, const char *until,
              struct bench_fit *fit, struct error *error)
{
    struct bench_test tests[BENCH_SET_TESTS_MAX];
    struct bench_point points[BENCH_SET_POINTS_MAX];
    struct bench_set set = {.tests = tests, .points = points};
    int got = read_class(store, mix, &set.class_id, error);
    if (got != 1)
        return got;
    if (read_tests(store, mix, batch, until, tests, &set.test_count, error) ||
        read_points(store, mix, batch, until, points, &set.point_count, &set.total_porosity, error))
        return -1;
    if (set.test_count + set.point_count == 0)
        return 0;
    return bench_set_fit(&set, fit) == STATUS_OK ? 1 : 2;
}

int store_batch_day(struct store *store, const char *mix, const char *batch, const char *cut,
                    const char *until, char day[STORE_DATE_SIZE], struct error *error)
{
    sqlite3_stmt *row = of_batch(store,
                                 "SELECT coalesce("
                                 " (SELECT max(tested) FROM batch_day WHERE mix = ?1 AND batch = ?2"
                                 "   AND tested <= ?4 AND tested <= ?3),"
                                 " (SELECT min(tested) FROM batch_day WHERE mix = ?1 AND batch = ?2"
                                 "   AND tested <= ?3))",
                                 mix, batch, until, error);
    if (!row)
        return -1;
    store_bind_text(row, 4, cut);
    int got = store_step(store, row, error);
    if (got == 1) {
        got = sqlite3_column_type(row, 0) == SQLITE_NULL ? 0 : 1;
        snprintf(day, STORE_DATE_SIZE, "%s", store_text(row, 0));
    }
    sqlite3_reset(row);
    return got;
}

static int find_pot(struct store *store, const char *pot, struct pot_shape *shape,
                    struct error *error)
{
    sqlite3_stmt *row =
        store_statement(store, "SELECT " STORE_POT_COLUMNS " FROM pot WHERE pot = ?1", error);
    if (!row)
        return -1;
    store_bind_text(row, 1, pot);
    int got = store_step(store, row, error);
    if (got != 1)
        return got;
    store_pot_of(row, shape);
    sqlite3_reset(row);
    return 1;
}

static int refuse(struct kind_fault *fault, const char *column, const char *mix, const char *batch,
                  const char *what)
{
    if (batch[0])
        kind_fault_set(fault, column, "mix '%s' batch '%s' %s", mix, batch, what);
    else
        kind_fault_set(fault, column, "mix '%s' %s", mix, what);
    return 1;
}

/* Pots stand at most as dense as circles and squares can [geometry]; 2 % for crooked rims. */
static bool fits_ground(const struct pot_shape *shape, double ground_cm2)
{
    double top_cm = shape->top_cm;
    double least_cm2 = top_cm * top_cm * (shape->form == POT_SQUARE ? 1 : 0.8660254);
    return ground_cm2 >= 0.98 * least_cm2;
}

int store_check_standing(struct store *store, const struct store_standing *standing,
                         struct pot_figures *out, struct kind_fault *fault, struct error *error)
{
    struct bench_fit fit = {0};
    struct pot_shape shape = {0};
    struct pot_figures figures;
    const char *mix = standing->mix;
    const char *batch = standing->batch;
    char day[STORE_DATE_SIZE] = "";
    int fitted = store_batch_day(store, mix, batch, batch[0] ? ANY_DATE : standing->from, ANY_DATE,
                                 day, error);
    if (fitted == 1)
        fitted = store_fit(store, mix, batch, day, &fit, error);
    if (fitted < 0)
        return -1;
    if (fitted == 0)
        return refuse(fault, batch[0] ? "batch" : "mix", mix, batch,
                      "given, accepted is one with a bench test in bench_tests.csv");
    if (fitted == 2)
        return refuse(fault, "mix", mix, batch,
                      "has a bench test whose figures do not go together");
    int found = find_pot(store, standing->pot, &shape, error);
    if (found < 0)
        return -1;
    if (found == 0 ||
        pot_at_capacity(&shape, &fit.curve, &fit, standing->theta_low, &figures) != STATUS_OK) {
        kind_fault_set(fault, "pot", "water and air in pot '%s' with mix '%s' cannot be worked out",
                       standing->pot, mix);
        return 1;
    }
    if (!(figures.available_l > 0)) {
        kind_fault_set(fault, standing->theta_low > 0 ? "theta_low_pct" : "pot",
                       "pot '%s' with mix '%s' holds %.1f %% water at capacity and its lower limit "
                       "is %.1f %%: no water is left for plants",
                       standing->pot, mix, 100 * figures.capacity, 100 * figures.theta_low);
        return 1;
    }
    if (!fits_ground(&shape, standing->spacing_cm * standing->row_cm)) {
        kind_fault_set(fault, "spacing_cm",
                       "%g x %g cm given, accepted is room for a pot %g cm wide (centre to centre)",
                       standing->spacing_cm, standing->row_cm, shape.top_cm);
        return 1;
    }
    if (out)
        *out = figures;
    return 0;
}
