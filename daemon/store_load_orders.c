/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What people ask for and forbid, and what they measured of delivery and salt. */
#include "store_load.h"

#include <string.h>

/* Orders and holds that say no end end by themselves [our choice]. */
#define ENDS_AFTER_S "86400"

static size_t zone_at(const struct load *load, sqlite3_stmt *row, int column)
{
    return FIND(load->out->zones, load->out->nursery.zone_count, store_text(row, column));
}

static size_t block_at(const struct load *load, sqlite3_stmt *row, int column)
{
    return FIND(load->out->blocks, load->out->nursery.block_count, store_text(row, column));
}

static int take_order(struct load *load, sqlite3_stmt *row)
{
    struct nursery *n = &load->out->nursery;
    struct nursery_order order = {
        .zone = zone_at(load, row, 1),
        .block = block_at(load, row, 2),
        .at_s = sqlite3_column_int64(row, 3),
        .until_s = sqlite3_column_int64(row, 4),
        .minutes = store_number(row, 5, 0),
        .litres = store_number(row, 6, 0),
    };
    if (order.block != NURSERY_NONE)
        order.zone = load->blocks[order.block].zone;
    if (order.zone == NURSERY_NONE) /* of a block that is not there yet */
        return 0;
    GROW(load, load->orders, n->order_count);
    GROW(load, load->out->orders, n->order_count);
    if (load_note(load, &load->out->orders[n->order_count], row, 0, 7, 8))
        return -1;
    load->orders[n->order_count++] = order;
    return 0;
}

static enum nursery_hold_kind hold_kind_of(const char *text)
{
    static const char *const names[] = {
        [NURSERY_HOLD_SKIP] = "skip",           [NURSERY_HOLD_SPRAYING] = "spraying",
        [NURSERY_HOLD_REENTRY] = "re-entry",    [NURSERY_HOLD_PICKING] = "picking",
        [NURSERY_HOLD_DISPATCH] = "dispatch",   [NURSERY_HOLD_VALVE_OUT] = "valve-out",
        [NURSERY_HOLD_PUMP_OUT] = "pump-out",   [NURSERY_HOLD_BAN] = "ban",
        [NURSERY_HOLD_HAND_ONLY] = "hand-only",
    };
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++)
        if (strcmp(names[i], text) == 0)
            return (enum nursery_hold_kind)i;
    return NURSERY_HOLD_SKIP;
}

/* False when it is about a block that is not there yet: not about everything. */
static bool read_hold(const struct load *load, sqlite3_stmt *row, struct nursery_hold *hold)
{
    *hold = (struct nursery_hold){
        .kind = hold_kind_of(store_text(row, 1)),
        .zone = zone_at(load, row, 2),
        .block = block_at(load, row, 3),
        .supply = FIND(load->out->supplies, load->out->nursery.supply_count, store_text(row, 4)),
        .from_s = sqlite3_column_int64(row, 5),
        .to_s = sqlite3_column_int64(row, 6),
        .allowed = store_number(row, 7, 0) / 100,
    };
    return store_text(row, 3)[0] == '\0' || hold->block != NURSERY_NONE;
}

static int take_hold(struct load *load, sqlite3_stmt *row)
{
    struct nursery *n = &load->out->nursery;
    struct nursery_hold hold;
    if (!read_hold(load, row, &hold))
        return 0;
    GROW(load, load->holds, n->hold_count);
    GROW(load, load->out->holds, n->hold_count);
    if (load_note(load, &load->out->holds[n->hold_count], row, 0, 8, 9))
        return -1;
    load->holds[n->hold_count++] = hold;
    return 0;
}

/* When a hold ended a run that it found going on; the run's end when it did not. One that is dated
 * back to before the run's start ended it when somebody entered it. */
static int64_t cut_of(const struct nursery_run *run, const struct nursery_hold *hold,
                      int64_t entered_s)
{
    int64_t cut_s = hold->from_s > run->start_s ? hold->from_s : entered_s;
    if (cut_s < run->start_s)
        cut_s = run->start_s;
    return cut_s < run->end_s && hold->to_s > run->start_s ? cut_s : run->end_s;
}

/* A run that was not reported had the water of the time before the hold, and does not go on after
 * it. False when none was left of it. */
static bool cut_run(const struct load *load, struct nursery_run *run, int64_t cut_s)
{
    if (run->litres > 0)
        run->litres *= (double)(cut_s - run->start_s) / (double)(run->end_s - run->start_s);
    run->end_s = cut_s;
    if (run->state == NURSERY_RUN_UNDERWAY && cut_s <= load->at_s)
        run->state = load->zones[run->zone].assumed ? NURSERY_RUN_ASSUMED : NURSERY_RUN_UNKNOWN;
    return cut_s > run->start_s;
}

static int take_cut(struct load *load, sqlite3_stmt *row)
{
    struct nursery *n = &load->out->nursery;
    struct nursery known = *n; /* as far as the question goes */
    struct nursery_hold hold;
    size_t kept = 0;
    if (!read_hold(load, row, &hold))
        return 0;
    known.zones = load->zones;
    known.blocks = load->blocks;
    for (size_t r = 0; r < n->run_count; r++) {
        struct nursery_run run = load->runs[r];
        bool said = run.state != NURSERY_RUN_ASSUMED && run.state != NURSERY_RUN_UNDERWAY &&
                    run.state != NURSERY_RUN_UNKNOWN;
        int64_t cut_s =
            said || run.zone == NURSERY_NONE || !nursery_hold_closes(&known, &hold, run.zone)
                ? run.end_s
                : cut_of(&run, &hold, sqlite3_column_int64(row, 8));
        if (cut_s == run.end_s || cut_run(load, &run, cut_s))
            load->runs[kept++] = run;
    }
    n->run_count = kept;
    return 0;
}

static enum nursery_purpose required_purpose_of(const char *text)
{
    return strcmp(text, "wash-in") == 0 ? NURSERY_WASH_IN
           : strcmp(text, "feed") == 0  ? NURSERY_FEED
           : strcmp(text, "flush") == 0 ? NURSERY_FLUSH
                                        : NURSERY_TEST;
}

static int take_requirement(struct load *load, sqlite3_stmt *row)
{
    struct nursery *n = &load->out->nursery;
    GROW(load, load->requirements, n->requirement_count);
    GROW(load, load->out->requirements, n->requirement_count);
    if (load_note(load, &load->out->requirements[n->requirement_count], row, 0, 6, 7))
        return -1;
    load->requirements[n->requirement_count++] = (struct nursery_requirement){
        .zone = zone_at(load, row, 1),
        .from_s = sqlite3_column_int64(row, 2),
        .to_s = sqlite3_column_int64(row, 3),
        .minutes = sqlite3_column_double(row, 4),
        .purpose = required_purpose_of(store_text(row, 5)),
    };
    return 0;
}

static int take_raise(struct load *load, sqlite3_stmt *row)
{
    struct nursery *n = &load->out->nursery;
    struct civil_date date;
    if (civil_parse_date(store_text(row, 2), &date) != STATUS_OK)
        return 0;
    GROW(load, load->raises, n->raise_count);
    load->raises[n->raise_count++] = (struct nursery_raise){
        .zone = zone_at(load, row, 0),
        .supply = FIND(load->out->supplies, n->supply_count, store_text(row, 1)),
        .local_days = civil_days(date),
        .most_min = store_number(row, 3, 0),
        .most_l = store_number(row, 4, 0),
    };
    return 0;
}

static int take_basis(struct load *load, sqlite3_stmt *row)
{
    load->out->basis = sqlite3_column_int64(row, 0);
    return 0;
}

static int take_drain(struct load *load, sqlite3_stmt *row)
{
    struct nursery *n = &load->out->nursery;
    size_t block = block_at(load, row, 0);
    if (block == NURSERY_NONE)
        return 0;
    GROW(load, load->drains, n->drain_count);
    load->drains[n->drain_count++] = (struct nursery_drain){
        .block = block,
        .at_s = sqlite3_column_int64(row, 1),
        .fraction = sqlite3_column_double(row, 3) / sqlite3_column_double(row, 2),
    };
    return 0;
}

static int take_salt(struct load *load, sqlite3_stmt *row)
{
    struct nursery *n = &load->out->nursery;
    const char *method = store_text(row, 2);
    size_t block = block_at(load, row, 0);
    if (block == NURSERY_NONE)
        return 0;
    GROW(load, load->salts, n->salt_count);
    load->salts[n->salt_count++] = (struct nursery_salt){
        .block = block,
        .at_s = sqlite3_column_int64(row, 1),
        .method = strcmp(method, "saturated") == 0   ? NURSERY_SATURATED
                  : strcmp(method, "extract-2") == 0 ? NURSERY_EXTRACT_2
                                                     : NURSERY_POUR_THROUGH,
        .ec_ds_m = sqlite3_column_double(row, 3),
    };
    return 0;
}

/* Cans say more than a typed figure: uniformity, and the rate where their area is known. */
static int take_cans(struct load *load, sqlite3_stmt *row)
{
    double catches_ml[64];
    double scratch[64];
    size_t count = 0;
    struct delivery_uniformity cans;
    struct nursery_zone *zone = NULL;
    size_t index = zone_at(load, row, 0);
    if (index == NURSERY_NONE || !kind_parse_numbers(store_text(row, 1), catches_ml, 64, &count) ||
        delivery_uniformity_of(catches_ml, count, scratch, &cans) != STATUS_OK)
        return 0;
    zone = &load->zones[index];
    zone->du_low_quarter = cans.du_low_quarter;
    zone->du_low_half = cans.du_low_half;
    if (store_text(row, 4)[0] == '\0')
        zone->run_for = DELIVERY_LOW_HALF;
    double rate_mm_h = 10 * cans.mean / store_number(row, 2, 0) * 60 / store_number(row, 3, 0);
    if (zone->method == DELIVERY_OVERHEAD && rate_mm_h > 0.01 && rate_mm_h <= 500)
        zone->rate_mm_h = rate_mm_h;
    return 0;
}

int load_cans(struct load *load)
{
    return load_each(load,
                     "SELECT c.zone, catches_ml, can_cm2, minutes, run_for FROM catch_cans AS c"
                     " JOIN zone USING (zone) WHERE on_date = (SELECT max(on_date) FROM catch_cans"
                     " AS d WHERE d.zone = c.zone AND d.on_date <= :date) ORDER BY 1",
                     take_cans);
}

int load_orders(struct load *load)
{
    if (load_each(load,
                  "SELECT order_key, zone, block, at_s, coalesce(until_s, at_s + " ENDS_AFTER_S
                  ") AS ends_s, minutes, litres, who, why FROM watering_order"
                  " WHERE at_s <= :at AND coalesce(until_s, at_s + " ENDS_AFTER_S ") > :at"
                  " ORDER BY at_s, order_key",
                  take_order) ||
        load_each(load,
                  "SELECT hold_key, kind, zone, block, supply, from_s,"
                  " coalesce(to_s, from_s + " ENDS_AFTER_S "), allowed_pct, who, why FROM hold"
                  " WHERE coalesce(to_s, from_s + " ENDS_AFTER_S ") > :at"
                  " ORDER BY from_s, hold_key",
                  take_hold) ||
        load_each(load,
                  "SELECT hold_key, kind, zone, block, supply, from_s,"
                  " coalesce(to_s, from_s + " ENDS_AFTER_S "), allowed_pct, entered_s FROM hold"
                  " WHERE coalesce(to_s, from_s + " ENDS_AFTER_S ") > :first AND from_s < :end"
                  " ORDER BY from_s, hold_key",
                  take_cut) ||
        load_each(load,
                  "SELECT requirement_key, zone, from_s, to_s, minutes, purpose, who, why"
                  " FROM requirement WHERE to_s > :at ORDER BY from_s, requirement_key",
                  take_requirement) ||
        load_each(load,
                  "SELECT zone, supply, on_date, most_min_day, most_l_day FROM limit_raise"
                  " WHERE on_date >= :date ORDER BY on_date, raise_key",
                  take_raise) ||
        load_each(load, "SELECT changes FROM plan_basis", take_basis))
        return -1;
    if (load_each(load,
                  "SELECT block, at_s, given_ml, drained_ml FROM drain_catch WHERE at_s <= :at"
                  " ORDER BY block, at_s",
                  take_drain))
        return -1;
    return load_each(load,
                     "SELECT block, at_s, method, ec_ds_m FROM pour_through WHERE at_s <= :at"
                     " ORDER BY block, at_s",
                     take_salt);
}
