/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Bench tests and pots as the core wants them, and whether a block's pot and mix go together. */
#include <string.h>

#include "store_internal.h"

/* Later than every date. */
#define ANY_DATE "9999-12-31"

bool store_bench_of(sqlite3_stmt *row, struct bench_test *test)
{
    const struct bench_prior *prior = bench_prior_named(store_text(row, 11));
    struct bench_test read = {
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
    };
    if (!prior || !kind_parse_numbers(store_text(row, 10), read.drained_ml, BENCH_REPLICATES_MAX,
                                      &read.replicates))
        return false;
    read.class_id = prior->class_id;
    *test = read;
    return true;
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
    };
}

int store_fit(struct store *store, const char *mix, const char *batch, const char *until,
              struct bench_fit *fit, struct error *error)
{
    sqlite3_stmt *row =
        store_statement(store,
                        "SELECT " STORE_BENCH_COLUMNS " FROM bench_test JOIN mix USING (mix)"
                        " WHERE mix = ?1 AND batch = ?2 AND tested <= ?3"
                        " ORDER BY tested DESC LIMIT 1",
                        error);
    if (!row)
        return -1;
    store_bind_text(row, 1, mix);
    store_bind_text(row, 2, batch);
    store_bind_text(row, 3, until);
    int got = store_step(store, row, error);
    if (got != 1)
        return got;
    struct bench_test test;
    bool fitted = store_bench_of(row, &test) && bench_fit_one(&test, fit) == STATUS_OK;
    sqlite3_reset(row);
    return fitted ? 1 : 2;
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
    kind_fault_set(fault, column, "mix '%s'%s%s%s %s", mix, batch[0] ? " batch '" : "", batch,
                   batch[0] ? "'" : "", what);
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
                         struct kind_fault *fault, struct error *error)
{
    struct bench_fit fit = {0};
    struct pot_shape shape = {0};
    struct pot_figures figures;
    const char *mix = standing->mix;
    const char *batch = standing->batch;
    int fitted = store_fit(store, mix, batch, ANY_DATE, &fit, error);
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
    return 0;
}
