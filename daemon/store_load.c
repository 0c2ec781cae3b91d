/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Everything for a plan, read in one transaction. Arrays are sorted by id, so that the same
 * records give the same plan whatever the order they came in.
 */
#include "store_load.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Defaults for what the grower left out [our choices; docs/records.md says so too]. */
#define REFILL_PLUG         0.25
#define REFILL_GROWING      0.35
#define REFILL_ESTABLISHED  0.45
#define STRESS_P            0.5
#define TRANSPARENCY        2.0
#define K_CAL_SD            0.25 /* relative, before any weighing */
#define EMISSION_UNIFORMITY 0.85 /* drip, spray: what new systems are designed for */
#define PULSES_MICRO        2
#define PRIORITY            3
#define WINDOW_DAYS_EVERY   0x7fu

/* --- arrays ------------------------------------------------------------------------------- */

int load_no_memory(struct load *load)
{
    return error_set(load->error, "records: no memory");
}

void *load_room(void *array, size_t count, size_t size)
{
    if (count == 0)
        return array ? array : malloc(8 * size);
    return count < 8 || (count & (count - 1)) != 0 ? array : realloc(array, 2 * count * size);
}

size_t load_find(const void *labels, size_t count, size_t size, const char *id)
{
    size_t low = 0;
    size_t high = count;
    while (low < high) {
        size_t mid = low + (high - low) / 2;
        int order = strcmp((const char *)labels + mid * size, id);
        if (order == 0)
            return mid;
        if (order < 0)
            low = mid + 1;
        else
            high = mid;
    }
    return NURSERY_NONE;
}

int load_each(struct load *load, const char *sql, int (*take)(struct load *, sqlite3_stmt *))
{
    sqlite3_stmt *row = store_statement(load->store, sql, load->error);
    if (!row)
        return -1;
    int at = sqlite3_bind_parameter_index(row, ":at");
    int date = sqlite3_bind_parameter_index(row, ":date");
    int first = sqlite3_bind_parameter_index(row, ":first");
    int end = sqlite3_bind_parameter_index(row, ":end");
    int lead = sqlite3_bind_parameter_index(row, ":lead");
    if (at)
        sqlite3_bind_int64(row, at, load->at_s);
    if (lead)
        sqlite3_bind_int64(row, lead, load->at_s + NURSERY_LEAD_S);
    if (date)
        store_bind_text(row, date, load->date);
    if (first)
        sqlite3_bind_int64(row, first, load->first_s);
    if (end)
        sqlite3_bind_int64(row, end, load->end_s);
    int got = 0;
    while ((got = store_step(load->store, row, load->error)) == 1)
        if (take(load, row)) {
            sqlite3_reset(row);
            return -1;
        }
    return got;
}

static int set_label(struct load *load, struct records_label *label, sqlite3_stmt *row, int id,
                     int name)
{
    *label = (struct records_label){.name = strdup(store_text(row, name))};
    if (!label->name)
        return load_no_memory(load);
    snprintf(label->id, sizeof label->id, "%s", store_text(row, id));
    return 0;
}

int load_note(struct load *load, struct records_note *note, sqlite3_stmt *row, int id, int who,
              int why)
{
    *note = (struct records_note){.who = strdup(store_text(row, who)),
                                  .why = strdup(store_text(row, why))};
    snprintf(note->id, sizeof note->id, "%s", store_text(row, id));
    if (note->who && note->why)
        return 0;
    free(note->who);
    free(note->why);
    return load_no_memory(load);
}

/* --- what stands where -------------------------------------------------------------------- */

static int take_pot(struct load *load, sqlite3_stmt *row)
{
    size_t *count = &load->out->nursery.pot_count;
    GROW(load, load->pots, *count);
    GROW(load, load->out->pots, *count);
    store_pot_of(row, &load->pots[*count]);
    if (set_label(load, &load->out->pots[*count], row, 8, 9))
        return -1;
    (*count)++;
    return 0;
}

static int take_cover(struct load *load, sqlite3_stmt *row)
{
    size_t *count = &load->out->nursery.cover_count;
    GROW(load, load->covers, *count);
    GROW(load, load->out->covers, *count);
    load->covers[*count] = (struct nursery_cover){
        .et0 = {.transmissivity = sqlite3_column_double(row, 2),
                .wind_factor = store_number(row, 3, 1),
                .has_wind_factor = sqlite3_column_type(row, 3) != SQLITE_NULL},
        .warmer_c = store_number(row, 4, 0),
        .rain = sqlite3_column_int(row, 5) != 0,
    };
    if (set_label(load, &load->out->covers[*count], row, 0, 1))
        return -1;
    (*count)++;
    return 0;
}

static int take_supply(struct load *load, sqlite3_stmt *row)
{
    size_t *count = &load->out->nursery.supply_count;
    GROW(load, load->supplies, *count);
    GROW(load, load->out->supplies, *count);
    load->supplies[*count] = (struct nursery_supply){
        .flow_l_min = sqlite3_column_double(row, 2),
        .valves_at_once = (size_t)sqlite3_column_int64(row, 3),
        .daily_limit_l = store_number(row, 4, 0),
        .water_ec_ds_m = store_number(row, 5, 0),
    };
    if (set_label(load, &load->out->supplies[*count], row, 0, 1))
        return -1;
    (*count)++;
    return 0;
}

static enum delivery_method method_of(const char *text)
{
    static const char *const names[] = {
        [DELIVERY_OVERHEAD] = "overhead",
        [DELIVERY_DRIP] = "drip",
        [DELIVERY_SPRAY] = "spray",
        [DELIVERY_SUBIRRIGATION] = "subirrigation",
    };
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++)
        if (strcmp(names[i], text) == 0)
            return (enum delivery_method)i;
    return DELIVERY_HAND;
}

/* Without a word of the grower's: the low half where cans have measured it, else the average. */
static enum delivery_cover run_for_of(const char *text, bool measured)
{
    if (strcmp(text, "low_quarter") == 0)
        return DELIVERY_LOW_QUARTER;
    if (strcmp(text, "low_half") == 0 || (text[0] == '\0' && measured))
        return DELIVERY_LOW_HALF;
    return DELIVERY_AVERAGE;
}

static struct nursery_zone zone_of(sqlite3_stmt *row)
{
    enum delivery_method method = method_of(store_text(row, 4));
    bool micro = method == DELIVERY_DRIP || method == DELIVERY_SPRAY;
    double leaching_pct = store_number(row, 16, -100);
    return (struct nursery_zone){
        .method = method,
        .flow_l_min = sqlite3_column_double(row, 5),
        .rate_mm_h = store_number(row, 6, 0),
        .du_low_quarter = store_number(row, 7, 0) / 100,
        .run_for = run_for_of(store_text(row, 8), sqlite3_column_type(row, 7) != SQLITE_NULL),
        .emitters_per_pot = store_number(row, 9, 0),
        .emitter_l_h = store_number(row, 10, 0),
        .emission_uniformity = store_number(row, 11, micro ? 100 * EMISSION_UNIFORMITY : 100) / 100,
        .pulses = (int)store_number(row, 12, micro ? PULSES_MICRO : 1),
        .pause_min = sqlite3_column_double(row, 13),
        .least_min = store_number(row, 14, -1),
        .most_min_day = store_number(row, 15, 0),
        .leaching_fraction = leaching_pct < 0 ? -1 : leaching_pct / 100,
        .most_l_day = store_number(row, 17, 0),
        .priority = (int)store_number(row, 18, PRIORITY),
        .assumed = strcmp(store_text(row, 19), "reported") != 0,
        .lead_block = NURSERY_NONE,
    };
}

static int take_zone(struct load *load, sqlite3_stmt *row)
{
    struct nursery *n = &load->out->nursery;
    GROW(load, load->zones, n->zone_count);
    GROW(load, load->out->zones, n->zone_count);
    struct nursery_zone *zone = &load->zones[n->zone_count];
    struct records_zone_label *label = &load->out->zones[n->zone_count];
    *zone = zone_of(row);
    zone->supply = FIND(load->out->supplies, n->supply_count, store_text(row, 3));
    if (set_label(load, &label->label, row, 0, 1))
        return -1;
    n->zone_count++;
    label->post = strdup(store_text(row, 2));
    label->walk_order = (int)store_number(row, 20, 0);
    return label->post ? 0 : load_no_memory(load);
}

static int take_window(struct load *load, sqlite3_stmt *row)
{
    struct nursery *n = &load->out->nursery;
    GROW(load, load->windows, n->window_count);
    struct nursery_window *window = &load->windows[n->window_count];
    const char *zone = store_text(row, 0);
    *window = (struct nursery_window){.zone = NURSERY_NONE, .weekdays = WINDOW_DAYS_EVERY};
    if (zone[0] != '\0')
        window->zone = FIND(load->out->zones, n->zone_count, zone);
    if (!kind_parse_edge(store_text(row, 1), &window->start) ||
        !kind_parse_edge(store_text(row, 2), &window->end) ||
        !kind_parse_days(store_text(row, 3), &window->weekdays))
        return error_set(load->error, "records: a window of zone '%s' that cannot be read", zone);
    n->window_count++;
    return 0;
}

/* --- blocks ------------------------------------------------------------------------------- */

static double refill_of(sqlite3_stmt *row)
{
    const char *stage = store_text(row, 13);
    double preset = strcmp(stage, "plug") == 0          ? REFILL_PLUG
                    : strcmp(stage, "established") == 0 ? REFILL_ESTABLISHED
                                                        : REFILL_GROWING;
    return store_number(row, 14, 100 * preset) / 100;
}

/* A mix as it was measured on a day; *index of it, fitted when it is met first. */
static int need_mix(struct load *load, const char *mix, const char *batch, const char *day,
                    size_t *index)
{
    struct records *out = load->out;
    size_t count = out->nursery.mix_count;
    for (size_t i = 0; i < count; i++)
        if (strcmp(out->mixes[i].label.id, mix) == 0 && strcmp(out->mixes[i].batch, batch) == 0 &&
            strcmp(out->mixes[i].tested, day) == 0) {
            *index = i;
            return 0;
        }
    GROW(load, load->mixes, count);
    GROW(load, load->out->mixes, count);
    int fitted = store_fit(load->store, mix, batch, day, &load->mixes[count], load->error);
    if (fitted != 1)
        return fitted == -1 ? -1
                            : error_set(load->error,
                                        "mix '%s' batch '%s': what was measured by %s cannot be "
                                        "worked out",
                                        mix, batch, day);
    sqlite3_stmt *row =
        store_statement(load->store, "SELECT mix, name FROM mix WHERE mix = ?1", load->error);
    if (!row)
        return -1;
    store_bind_text(row, 1, mix);
    struct records_mix_label *label = &out->mixes[count];
    int got = store_step(load->store, row, load->error);
    if (got != 1 || set_label(load, &label->label, row, 0, 1)) {
        sqlite3_reset(row);
        return -1;
    }
    sqlite3_reset(row);
    snprintf(label->batch, sizeof label->batch, "%s", batch);
    snprintf(label->tested, sizeof label->tested, "%s", day);
    *index = count;
    out->nursery.mix_count++;
    return 0;
}

/* A named batch is known better with every test of it. Without a name, pots keep the measurements
 * of the delivery they were filled from: the last by the day they got this mix, else the first. */
static int mix_of_state(struct load *load, sqlite3_stmt *row, size_t *index)
{
    char day[STORE_DATE_SIZE];
    char mix[RECORDS_ID_SIZE];
    char batch[RECORDS_ID_SIZE];
    char both[sizeof load->mix];
    snprintf(mix, sizeof mix, "%s", store_text(row, 5));
    snprintf(batch, sizeof batch, "%s", store_text(row, 6));
    snprintf(both, sizeof both, "%s/%s", mix, batch);
    if (load->filled[0] == '\0' || strcmp(both, load->mix) != 0 ||
        sqlite3_column_int(row, 7) != 0) {
        snprintf(load->filled, sizeof load->filled, "%s", store_text(row, 1));
        snprintf(load->mix, sizeof load->mix, "%s", both);
    }
    int got = store_batch_day(load->store, mix, batch, batch[0] ? load->date : load->filled,
                              load->date, day, load->error);
    if (got == 0)
        return error_set(load->error,
                         "block '%s' from %s: mix '%s' batch '%s' has no bench test by %s",
                         store_text(row, 0), store_text(row, 1), mix, batch, load->date);
    return got < 0 ? -1 : need_mix(load, mix, batch, day, index);
}

static int take_state(struct load *load, sqlite3_stmt *row)
{
    struct nursery *n = &load->out->nursery;
    struct civil_date date;
    size_t mix = NURSERY_NONE;
    if (mix_of_state(load, row, &mix))
        return -1;
    if (civil_parse_date(store_text(row, 1), &date) != STATUS_OK)
        return error_set(load->error, "block '%s': '%s' is no date", store_text(row, 0),
                         store_text(row, 1));
    GROW(load, load->states, n->state_count);
    double spacing_cm = sqlite3_column_double(row, 9);
    load->states[n->state_count++] = (struct nursery_state){
        .at_s = civil_local_to_utc(load->zone, civil_days(date), 0),
        .zone = FIND(load->out->zones, n->zone_count, store_text(row, 2)),
        .cover = FIND(load->out->covers, n->cover_count, store_text(row, 21)),
        .pot = FIND(load->out->pots, n->pot_count, store_text(row, 4)),
        .mix = mix,
        .potted = sqlite3_column_int(row, 7) != 0,
        .watered_in = sqlite3_column_int(row, 8) != 0,
        .pots = (double)sqlite3_column_int64(row, 3),
        .ground_m2 = spacing_cm * store_number(row, 10, spacing_cm) / 1e4,
        .canopy_cm = sqlite3_column_double(row, 11),
        .plant_height_m = sqlite3_column_double(row, 12),
        .canopy_measured = sqlite3_column_type(row, 11) != SQLITE_NULL,
        .plug_l = store_number(row, 23, 0) / 1000,
        .woody = strcmp(store_text(row, 24), "woody") == 0,
        .air_loss_a_day = store_number(row, 25, 0) / 100,
    };
    return 0;
}

/* A block is what its latest state says; only the name may come from an earlier one. */
static int set_block(struct load *load, sqlite3_stmt *row, size_t index)
{
    const struct nursery *n = &load->out->nursery;
    struct nursery_block *block = &load->blocks[index];
    size_t first = block->first_state;
    *block = (struct nursery_block){
        .zone = load->states[n->state_count - 1].zone,
        .cover = load->states[n->state_count - 1].cover,
        .first_state = first,
        .state_count = n->state_count - first,
        .refill_fraction = refill_of(row),
        .stress_p = store_number(row, 15, STRESS_P),
        .theta_low = store_number(row, 16, 0) / 100,
        .capture = store_number(row, 17, 0),
        .transparency = store_number(row, 18, TRANSPARENCY),
        .stomatal = store_number(row, 19, 1),
        .k_cal = store_number(row, 20, 1),
        .k_cal_sd = K_CAL_SD,
        .use_l = store_number(row, 26, 0),
        .use_et0_mm = store_number(row, 27, 0),
        .coefficient = store_number(row, 28, 0),
        .coefficient_basis = strcmp(store_text(row, 29), "canopy") == 0 ? DEMAND_BASIS_CANOPY
                             : strcmp(store_text(row, 29), "top") == 0  ? DEMAND_BASIS_TOP
                                                                        : DEMAND_BASIS_GROUND,
        .place = {.exposed = sqlite3_column_int(row, 30) != 0,
                  .fabric = sqlite3_column_int(row, 31) != 0,
                  .pot_in_pot = sqlite3_column_int(row, 32) != 0},
        .priority = sqlite3_column_int(row, 33),
        .salt_ec_ds_m = store_number(row, 34, 0),
    };
    block->use = block->use_l > 0         ? NURSERY_USE_MEASURED
                 : block->coefficient > 0 ? NURSERY_USE_COEFFICIENT
                                          : NURSERY_USE_CANOPY;
    const char *name = store_text(row, 22);
    if (name[0] == '\0')
        return 0;
    free(load->out->blocks[index].name);
    load->out->blocks[index].name = strdup(name);
    return load->out->blocks[index].name ? 0 : load_no_memory(load);
}

static int take_block(struct load *load, sqlite3_stmt *row)
{
    struct nursery *n = &load->out->nursery;
    const char *id = store_text(row, 0);
    if (n->block_count == 0 || strcmp(load->out->blocks[n->block_count - 1].id, id) != 0) {
        GROW(load, load->blocks, n->block_count);
        GROW(load, load->out->blocks, n->block_count);
        load->blocks[n->block_count] = (struct nursery_block){.first_state = n->state_count};
        if (set_label(load, &load->out->blocks[n->block_count], row, 0, 22))
            return -1;
        load->filled[0] = '\0';
        n->block_count++;
    }
    return take_state(load, row) ? -1 : set_block(load, row, n->block_count - 1);
}

/* What was measured last, whether or not a block stands in it. */
static int take_batch(struct load *load, sqlite3_stmt *row)
{
    size_t index = 0;
    return need_mix(load, store_text(row, 0), store_text(row, 1), store_text(row, 2), &index);
}

static int take_lead(struct load *load, sqlite3_stmt *row)
{
    const struct nursery *n = &load->out->nursery;
    size_t zone = FIND(load->out->zones, n->zone_count, store_text(row, 0));
    size_t block = FIND(load->out->blocks, n->block_count, store_text(row, 1));
    /* A lead block that does not stand there now leads nothing. */
    if (zone != NURSERY_NONE && block != NURSERY_NONE && load->blocks[block].zone == zone)
        load->zones[zone].lead_block = block;
    return 0;
}

static int load_nursery(struct load *load)
{
    if (load_each(load, "SELECT " STORE_POT_COLUMNS ", pot, name FROM pot ORDER BY pot",
                  take_pot) ||
        load_each(load,
                  "SELECT cover, name, transmissivity, wind_factor, warmer_c, rain FROM cover"
                  " ORDER BY cover",
                  take_cover) ||
        load_each(load,
                  "SELECT supply, name, flow_l_min, valves_at_once, daily_limit_l, water_ec_ds_m"
                  " FROM supply"
                  " ORDER BY supply",
                  take_supply) ||
        load_each(
            load,
            "SELECT zone, name, post, supply, method, flow_l_min, rate_mm_h, du_low_quarter_pct,"
            " run_for, emitters_per_pot, emitter_l_h, emission_uniformity_pct, pulses,"
            " coalesce(pause_min, " STORE_PAUSE_MIN
            "), least_min, most_min_day, leaching_pct, most_l_day, priority, confirm,"
            " walk_order FROM zone ORDER BY zone",
            take_zone) ||
        load_each(load,
                  "SELECT zone, from_edge, to_edge, days FROM zone_window"
                  " ORDER BY zone, from_edge, to_edge, days",
                  take_window) ||
        load_each(load,
                  "SELECT block, from_date, zone, pots, pot, mix, coalesce(batch, ''), potted,"
                  " watered_in, spacing_cm, row_cm, canopy_cm, plant_height_m, stage, refill_pct,"
                  " stress_p, theta_low_pct, capture, transparency, stomatal, k_cal, cover, name, "
                  "plug_ml, growth,"
                  " air_loss_pct_day, use_l_day, use_et0_mm, coefficient, coefficient_of, exposed, "
                  "fabric,"
                  " pot_in_pot, priority, salt_ec_ds_m FROM block_state WHERE from_date <= :date "
                  "ORDER BY block, from_date",
                  take_block) ||
        load_pot_events(load) || load_cans(load))
        return -1;
    if (load_each(load,
                  "SELECT mix, batch, max(tested) FROM batch_day WHERE tested <= :date"
                  " GROUP BY mix, batch ORDER BY mix, batch",
                  take_batch))
        return -1;
    return load_each(load,
                     "SELECT zone, lead_block FROM zone WHERE lead_block IS NOT NULL ORDER BY zone",
                     take_lead);
}

static void hand_over(struct load *load)
{
    struct nursery *n = &load->out->nursery;
    n->pots = load->pots;
    n->mixes = load->mixes;
    n->covers = load->covers;
    n->supplies = load->supplies;
    n->zones = load->zones;
    n->windows = load->windows;
    n->states = load->states;
    n->blocks = load->blocks;
    n->weighings = load->weighings;
    n->touches = load->touches;
    n->orders = load->orders;
    n->holds = load->holds;
    n->requirements = load->requirements;
    n->raises = load->raises;
    n->drains = load->drains;
    n->salts = load->salts;
    n->runs = load->runs;
    n->gauges = load->gauges;
}

int store_load(struct store *store, int64_t at_s, const struct sun_site *site,
               const struct civil_zone *zone, int back_days, int ahead_days, struct records *out,
               struct error *error)
{
    struct records loaded = {.nursery = {.site = *site, .time_zone = *zone}};
    struct civil_date today = civil_local_date(zone, at_s);
    struct load load = {.store = store, .error = error, .at_s = at_s, .zone = zone, .out = &loaded};
    load.first_s = civil_floor_hour(at_s) - (int64_t)back_days * CIVIL_DAY_S;
    load.end_s = civil_floor_hour(at_s) + (int64_t)ahead_days * CIVIL_DAY_S;
    snprintf(load.date, sizeof load.date, "%04d-%02d-%02d", today.year % 10000, today.month % 100,
             today.day % 100);
    bool own = sqlite3_get_autocommit(store->db) != 0;
    if (own && store_execute(store, "BEGIN", error))
        return -1;
    int result = load_nursery(&load);
    if (result == 0)
        result = load_events(&load);
    if (result == 0)
        result = load_orders(&load);
    if (result == 0)
        result = load_weather(&load);
    if (own)
        store_rollback(store); /* nothing was written */
    free(load.splits);
    hand_over(&load);
    if (result != 0) {
        records_free(&loaded);
        return -1;
    }
    *out = loaded;
    return 0;
}
