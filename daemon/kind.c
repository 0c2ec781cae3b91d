/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "kind.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "core/civil.h"
#include "number.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

/* Short forms for the tables below. */
#define ID(n)           .name = (n), .type = KIND_ID, .required = true, .key = true
#define REF(n, k)       .name = (n), .type = KIND_REF, .of = (k)
#define TEXT(n)         .name = (n), .type = KIND_TEXT
#define NUMBER(n, l, h) .name = (n), .type = KIND_NUMBER, .low = (l), .high = (h)
#define ABOVE(n, l, h)  .name = (n), .type = KIND_NUMBER, .low = (l), .high = (h), .above = true
#define WHOLE(n, l, h)  .name = (n), .type = KIND_WHOLE, .low = (l), .high = (h)
#define CHOICE(n, c)    .name = (n), .type = KIND_CHOICE, .choices = (c)
#define YES_NO(n)       .name = (n), .type = KIND_YES_NO
#define DATE(n, s)      .name = (n), .sql = (s), .type = KIND_DATE
#define MOMENT(n, s)    .name = (n), .sql = (s), .type = KIND_MOMENT
#define REQUIRED        .required = true
#define KEY             .key = true

static const struct kind_column mixes[] = {
    {ID("mix")},
    {TEXT("name")},
    {CHOICE("class",
            "peat peat-perlite coir wood-fibre bark-peat-sand bark-aged bark-fresh generic"),
     REQUIRED},
};

/* Ranges: core/bench.h; a jar above 300 cm or a tonne of mix is a slip of the pen. */
static const struct kind_column bench_tests[] = {
    {REF("mix", KIND_MIXES), REQUIRED, KEY},
    {.name = "batch", .type = KIND_ID, KEY},
    {DATE("tested", NULL), REQUIRED, KEY},
    {.name = "vessel", .type = KIND_ID, KEY},
    {ABOVE("vessel_height_cm", 0, 300), REQUIRED},
    {ABOVE("vessel_volume_ml", 0, 1e6), REQUIRED},
    {ABOVE("vessel_top_cm", 0, 300)},
    {ABOVE("vessel_bottom_cm", 0, 300)},
    {.name = "drained_ml", .type = KIND_NUMBERS, .low = 0, .high = 1e6, REQUIRED},
    {ABOVE("settled_volume_ml", 0, 1e6)},
    {ABOVE("settled_height_cm", 0, 300)},
    {ABOVE("mass_saturated_g", 0, 2e6)},
    {ABOVE("mass_drained_g", 0, 2e6)},
    {ABOVE("mass_dry_g", 0, 2e6)},
    {ABOVE("total_porosity_pct", 10, 99)},
    {ABOVE("drain_min", 0, 10000)},
    {ABOVE("particle_density_g_ml", 0.2, 5)},
    {YES_NO("inverse_taper")},
};

/* Points of a laboratory's curve (EN 13041 and kin). Ranges: core/bench_set.h. */
static const struct kind_column retention_points[] = {
    {REF("mix", KIND_MIXES), REQUIRED, KEY},
    {.name = "batch", .type = KIND_ID, KEY},
    {DATE("tested", NULL), REQUIRED, KEY},
    {NUMBER("suction_cm", 0, 1e5), REQUIRED, KEY},
    {ABOVE("water_pct", 0, 99)},
    {ABOVE("air_pct", 0, 99)},
    {ABOVE("total_porosity_pct", 10, 99)},
    {ABOVE("sd_pct", 0, 50)},
};

static const struct kind_column pots[] = {
    {ID("pot")},
    {TEXT("name")},
    {CHOICE("form", "round square"), REQUIRED},
    {ABOVE("top_cm", 0, 300), REQUIRED},
    {ABOVE("bottom_cm", 0, 300), REQUIRED},
    {ABOVE("height_cm", 0, 150)},
    {NUMBER("fill_height_cm", 1, 100), REQUIRED},
    {ABOVE("volume_l", 0, 5000)},
    {NUMBER("base_cm", -100, 300)},
    {YES_NO("inverse_taper")},
};

static const struct kind_column covers[] = {
    {ID("cover")},
    {TEXT("name")},
    {NUMBER("transmissivity", 0.05, 1), REQUIRED},
    {NUMBER("wind_factor", 0, 1)},
    {NUMBER("warmer_c", 0, 15)},
    {YES_NO("rain"), REQUIRED},
};

static const struct kind_column supplies[] = {
    {ID("supply")},
    {TEXT("name")},
    {ABOVE("flow_l_min", 0, 100000), REQUIRED},
    {WHOLE("valves_at_once", 1, 1000), REQUIRED},
    {NUMBER("daily_limit_l", 0, 1e9)},
    {NUMBER("water_ec_ds_m", 0, 20)},
    {ABOVE("permit_m3", 0, 1e9)},
    {CHOICE("permit_each", "day week month year")},
    {DATE("permit_from", "permit_from")},
};

static const struct kind_column zones[] = {
    {ID("zone")},
    {TEXT("name")},
    {TEXT("post")},
    {WHOLE("walk_order", 1, 9999)},
    {REF("supply", KIND_SUPPLIES), REQUIRED},
    {CHOICE("method", "overhead drip spray subirrigation hand"), REQUIRED},
    {ABOVE("flow_l_min", 0, 100000), REQUIRED},
    {ABOVE("rate_mm_h", 0, 500)},
    {NUMBER("du_low_quarter_pct", 10, 100)},
    {CHOICE("run_for", "average low_half low_quarter")},
    {ABOVE("emitters_per_pot", 0, 100)},
    {ABOVE("emitter_l_h", 0, 1000)},
    {NUMBER("emission_uniformity_pct", 10, 100)},
    {WHOLE("pulses", 1, 12)},
    {NUMBER("pause_min", 0, 240)},
    {NUMBER("least_min", 0, 240)},
    {NUMBER("most_min_day", 0, 1440)},
    {NUMBER("most_l_day", 0, 1e9)},
    {NUMBER("leaching_pct", 0, 50)},
    {WHOLE("priority", 1, 5)},
    {CHOICE("confirm", "assumed reported")},
    {REF("lead_block", KIND_BLOCKS)},
};

static const struct kind_column windows[] = {
    {REF("zone", KIND_ZONES), KEY},
    {.name = "from", .sql = "from_edge", .type = KIND_EDGE, REQUIRED, KEY},
    {.name = "to", .sql = "to_edge", .type = KIND_EDGE, REQUIRED, KEY},
    {.name = "days", .type = KIND_DAYS, KEY},
};

/* Ranges: core/demand.h. */
static const struct kind_column blocks[] = {
    {ID("block")},
    {TEXT("name")},
    {REF("zone", KIND_ZONES), REQUIRED},
    {WHOLE("pots", 0, 10000000), REQUIRED},
    {REF("pot", KIND_POTS), REQUIRED},
    {REF("mix", KIND_MIXES), REQUIRED},
    {.name = "batch", .type = KIND_ID},
    {REF("cover", KIND_COVERS)},
    {DATE("from", "from_date"), REQUIRED, KEY},
    {YES_NO("potted")},
    {YES_NO("watered_in")},
    {ABOVE("spacing_cm", 0, 500), REQUIRED},
    {ABOVE("row_cm", 0, 500)},
    {NUMBER("canopy_cm", 0, 1000)},
    {NUMBER("plant_height_m", 0, 20)},
    {CHOICE("stage", "plug growing established")},
    {ABOVE("refill_pct", 0, 50)},
    {NUMBER("stress_p", 0, 0.95)},
    {ABOVE("theta_low_pct", 0, 80)},
    {ABOVE("capture", 0, 10)},
    {NUMBER("transparency", 1, 3)},
    {ABOVE("stomatal", 0, 1.5)},
    {NUMBER("k_cal", 0.5, 2)},
    {ABOVE("plug_ml", 0, 100000)},
    {CHOICE("growth", "soft woody")},
    {NUMBER("air_loss_pct_day", 0, 1)},
    {ABOVE("use_l_day", 0, 100)},
    {NUMBER("use_et0_mm", 0.5, 20)},
    {ABOVE("coefficient", 0, 20)},
    {CHOICE("coefficient_of", "ground canopy top")},
    {YES_NO("exposed")},
    {YES_NO("fabric")},
    {YES_NO("pot_in_pot")},
    {WHOLE("priority", 1, 5)},
    {ABOVE("salt_ec_ds_m", 0, 20)},
};

/* What happens to plants between two rows of blocks.csv. */
static const struct kind_column pot_events[] = {
    {REF("block", KIND_BLOCKS), REQUIRED, KEY},
    {DATE("on", "on_date"), REQUIRED, KEY},
    {CHOICE("event",
            "measured pruned spaced counted sold moved split merged ended leafless leaf-out "
            "in-leaf winter"),
     REQUIRED, KEY},
    {.name = "ref", .type = KIND_ID, KEY},
    {WHOLE("pots", 0, 10000000)},
    {NUMBER("canopy_cm", 0, 1000)},
    {NUMBER("plant_height_m", 0, 20)},
    {ABOVE("spacing_cm", 0, 500)},
    {ABOVE("row_cm", 0, 500)},
    {REF("zone", KIND_ZONES)},
    {REF("cover", KIND_COVERS)},
    {REF("into", KIND_BLOCKS)},
};

static const struct kind_column weighings[] = {
    {REF("block", KIND_BLOCKS), REQUIRED, KEY},
    {MOMENT("at", "at_s"), REQUIRED, KEY},
    {ABOVE("capacity_kg", 0, 5000), REQUIRED},
    {ABOVE("now_kg", 0, 5000), REQUIRED},
};

static const struct kind_column touch_checks[] = {
    {REF("block", KIND_BLOCKS), REQUIRED, KEY},
    {MOMENT("at", "at_s"), REQUIRED, KEY},
    {CHOICE("place", "centre edge both"), REQUIRED, KEY},
    {CHOICE("feel", "dry right wet"), REQUIRED},
    {TEXT("who")},
};

static const struct kind_column runs[] = {
    {ID("key"), .sql = "run_key"},
    {REF("zone", KIND_ZONES), REQUIRED},
    {MOMENT("start", "start_s"), REQUIRED},
    {MOMENT("end", "end_s"), REQUIRED},
    {NUMBER("litres", 0, 1e9)},
    {WHOLE("pulses", 1, 1000)},
    {.name = "run", .sql = "run_id", .type = KIND_TEXT},
    {CHOICE("state", "reported metered confirmed"), REQUIRED},
    {CHOICE("purpose", "irrigation feed wash-in cooling frost flush test")},
};

/* What people ask for and forbid. */
static const struct kind_column orders[] = {
    {ID("key"), .sql = "order_key"},
    {REF("zone", KIND_ZONES)},
    {REF("block", KIND_BLOCKS)},
    {MOMENT("at", "at_s"), REQUIRED},
    {MOMENT("until", "until_s")},
    {ABOVE("minutes", 0, 1440)},
    {ABOVE("litres", 0, 1e9)},
    {TEXT("who")},
    {TEXT("why")},
};

static const struct kind_column holds[] = {
    {ID("key"), .sql = "hold_key"},
    {CHOICE("kind", "skip spraying re-entry picking dispatch valve-out pump-out ban hand-only"),
     REQUIRED},
    {REF("zone", KIND_ZONES)},
    {REF("block", KIND_BLOCKS)},
    {REF("supply", KIND_SUPPLIES)},
    {MOMENT("from", "from_s"), REQUIRED},
    {MOMENT("to", "to_s")},
    {NUMBER("allowed_pct", 1, 99)},
    {TEXT("who")},
    {TEXT("why")},
};

static const struct kind_column requirements[] = {
    {ID("key"), .sql = "requirement_key"},
    {REF("zone", KIND_ZONES), REQUIRED},
    {MOMENT("from", "from_s"), REQUIRED},
    {MOMENT("to", "to_s"), REQUIRED},
    {ABOVE("minutes", 0, 1440), REQUIRED},
    {CHOICE("purpose", "wash-in feed flush test"), REQUIRED},
    {TEXT("who")},
    {TEXT("why")},
};

/* More than a daily limit, for one day. */
static const struct kind_column raises[] = {
    {ID("key"), .sql = "raise_key"},
    {REF("zone", KIND_ZONES)},
    {REF("supply", KIND_SUPPLIES)},
    {DATE("on", "on_date"), REQUIRED},
    {ABOVE("most_min_day", 0, 1440)},
    {ABOVE("most_l_day", 0, 1e9)},
    {TEXT("who")},
    {TEXT("why")},
};

/* What was measured of delivery and salt. Ranges: core/delivery.h. */
static const struct kind_column catch_cans[] = {
    {REF("zone", KIND_ZONES), REQUIRED, KEY},
    {DATE("on", "on_date"), REQUIRED, KEY},
    {.name = "catches_ml", .type = KIND_NUMBERS, .low = 0, .high = 1e5, REQUIRED},
    {WHOLE("per_row", 1, 64)},
    {ABOVE("can_cm2", 0, 1e4)},
    {ABOVE("minutes", 0, 1440)},
};

static const struct kind_column drain_catches[] = {
    {REF("block", KIND_BLOCKS), REQUIRED, KEY},
    {MOMENT("at", "at_s"), REQUIRED, KEY},
    {ABOVE("given_ml", 0, 1e6), REQUIRED},
    {NUMBER("drained_ml", 0, 1e6), REQUIRED},
};

static const struct kind_column pour_throughs[] = {
    {REF("block", KIND_BLOCKS), REQUIRED, KEY},
    {MOMENT("at", "at_s"), REQUIRED, KEY},
    {CHOICE("method", "pour-through saturated extract-2"), REQUIRED},
    {NUMBER("ec_ds_m", 0, 30), REQUIRED},
    {NUMBER("ph", 2, 12)},
};

static const struct kind_column gauge[] = {
    {MOMENT("from", "from_s"), REQUIRED, KEY},
    {MOMENT("to", "to_s"), REQUIRED, KEY},
    {NUMBER("rain_mm", 0, 1000), REQUIRED},
};

static const struct kind_column normals[] = {
    {WHOLE("month", 1, 12), REQUIRED, KEY},   {NUMBER("tmax_c", -60, 60), REQUIRED},
    {NUMBER("tmin_c", -60, 60), REQUIRED},    {NUMBER("dewpoint_c", -70, 40), REQUIRED},
    {NUMBER("wind_2m_m_s", 0, 30), REQUIRED}, {NUMBER("clear_ratio", 0.1, 1), REQUIRED},
    {NUMBER("rain_mm", 0, 3000), REQUIRED},   {NUMBER("wet_days", 0, 31), REQUIRED},
};

/* Ranges: core/weather.h. */
static const struct kind_column hours[] = {
    {MOMENT("time", "start_s"), REQUIRED, KEY},
    {NUMBER("temperature_c", -60, 60)},
    {NUMBER("dewpoint_c", -70, 40)},
    {NUMBER("humidity_pct", 0, 100)},
    {NUMBER("wind_10m_m_s", 0, 75)},
    {NUMBER("cloud_pct", 0, 100)},
    {NUMBER("radiation_w_m2", 0, 1600)},
    {NUMBER("rain_mm", 0, 200)},
};

static const struct kind kinds[KIND_COUNT] = {
    {KIND_MIXES, "mixes", "mix", mixes, COUNT(mixes)},
    {KIND_BENCH_TESTS, "bench_tests", "bench_test", bench_tests, COUNT(bench_tests)},
    {KIND_RETENTION_POINTS, "retention_points", "retention_point", retention_points,
     COUNT(retention_points)},
    {KIND_POTS, "pots", "pot", pots, COUNT(pots)},
    {KIND_COVERS, "covers", "cover", covers, COUNT(covers)},
    {KIND_SUPPLIES, "supplies", "supply", supplies, COUNT(supplies)},
    {KIND_ZONES, "zones", "zone", zones, COUNT(zones)},
    {KIND_WINDOWS, "windows", "zone_window", windows, COUNT(windows)},
    {KIND_BLOCKS, "blocks", "block_state", blocks, COUNT(blocks)},
    {KIND_POT_EVENTS, "pot_events", "pot_event", pot_events, COUNT(pot_events)},
    {KIND_WEIGHINGS, "weighings", "weighing", weighings, COUNT(weighings)},
    {KIND_TOUCH_CHECKS, "touch_checks", "touch_check", touch_checks, COUNT(touch_checks)},
    {KIND_RUNS, "runs", "run", runs, COUNT(runs)},
    {KIND_ORDERS, "orders", "watering_order", orders, COUNT(orders)},
    {KIND_HOLDS, "holds", "hold", holds, COUNT(holds)},
    {KIND_REQUIREMENTS, "requirements", "requirement", requirements, COUNT(requirements)},
    {KIND_RAISES, "raises", "limit_raise", raises, COUNT(raises)},
    {KIND_CATCH_CANS, "catch_cans", "catch_cans", catch_cans, COUNT(catch_cans)},
    {KIND_DRAIN_CATCHES, "drain_catches", "drain_catch", drain_catches, COUNT(drain_catches)},
    {KIND_POUR_THROUGHS, "pour_throughs", "pour_through", pour_throughs, COUNT(pour_throughs)},
    {KIND_GAUGE, "gauge", "gauge", gauge, COUNT(gauge)},
    {KIND_NORMALS, "normals", "normal", normals, COUNT(normals)},
    {KIND_HOURS, "hours", "station_hour", hours, COUNT(hours)},
};

const struct kind *kind_of(enum kind_id id)
{
    return &kinds[id];
}

const struct kind *kind_named(const char *stem, size_t length)
{
    for (size_t i = 0; i < KIND_COUNT; i++)
        if (strlen(kinds[i].stem) == length && memcmp(kinds[i].stem, stem, length) == 0)
            return &kinds[i];
    return NULL;
}

int kind_fault_set(struct kind_fault *fault, const char *column, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    *fault = (struct kind_fault){.column = column, .least = NAN, .most = NAN};
    vsnprintf(fault->text, sizeof fault->text, format, args);
    va_end(args);
    return -1;
}

/* --- what a column takes, in words -------------------------------------------------------- */

static void accepts_number(const struct kind_column *column, char *out, size_t size)
{
    const char *what = column->type == KIND_WHOLE     ? "a whole number"
                       : column->type == KIND_NUMBERS ? "1 to 64 numbers, a space between, each"
                                                      : "a number";
    if (column->above)
        snprintf(out, size, "%s above %.10g, at most %.10g", what, column->low, column->high);
    else
        snprintf(out, size, "%s from %.10g to %.10g", what, column->low, column->high);
}

void kind_accepts(const struct kind_column *column, char *out, size_t size)
{
    switch (column->type) {
    case KIND_ID:
        snprintf(out, size, "1 to 40 of a-z, 0-9 and '-'");
        break;
    case KIND_REF:
        snprintf(out, size, "an id of %s.csv: 1 to 40 of a-z, 0-9 and '-'", kinds[column->of].stem);
        break;
    case KIND_TEXT:
        snprintf(out, size, "up to 200 bytes of text without control characters");
        break;
    case KIND_NUMBER:
    case KIND_WHOLE:
    case KIND_NUMBERS:
        accepts_number(column, out, size);
        break;
    case KIND_YES_NO:
        snprintf(out, size, "yes or no");
        break;
    case KIND_CHOICE:
        snprintf(out, size, "one of: %s", column->choices);
        break;
    case KIND_DATE:
        snprintf(out, size, "a date from 2000 to 2099 like 2026-03-31");
        break;
    case KIND_MOMENT:
        snprintf(out, size, "a moment from 2000 to 2099 like 2026-03-31T06:00:00+01:00");
        break;
    case KIND_EDGE:
        snprintf(out, size,
                 "a time like 04:00, or sunrise or sunset, or up to 12 hours from it "
                 "like sunrise-1:00 or sunset+0:30");
        break;
    case KIND_DAYS:
        snprintf(out, size, "days like mon tue wed, a space between; empty for every day");
        break;
    }
}

/* --- text to values ----------------------------------------------------------------------- */

static bool is_id(const char *text)
{
    size_t length = strspn(text, "abcdefghijklmnopqrstuvwxyz0123456789-");
    return length >= 1 && length <= 40 && text[length] == '\0';
}

static bool is_text(const char *text)
{
    size_t length = strlen(text);
    for (size_t i = 0; i < length; i++)
        if ((unsigned char)text[i] < 0x20 || text[i] == 0x7f)
            return false;
    return length <= 200;
}

static bool in_range(const struct kind_column *column, double number)
{
    return column->above ? number > column->low && number <= column->high
                         : number >= column->low && number <= column->high;
}

static bool is_choice(const char *choices, const char *text)
{
    size_t length = strlen(text);
    if (strchr(text, ' '))
        return false;
    for (const char *at = choices; at && *at; at = strchr(at, ' ') ? strchr(at, ' ') + 1 : NULL)
        if (strncmp(at, text, length) == 0 && (at[length] == ' ' || at[length] == '\0'))
            return true;
    return false;
}

static bool is_date(const char *text)
{
    struct civil_date date;
    return civil_parse_date(text, &date) == STATUS_OK && date.year >= 2000 && date.year <= 2099;
}

static bool is_moment(const char *text, int64_t *t_s)
{
    const struct civil_date first = {2000, 1, 1};
    const struct civil_date end = {2100, 1, 1};
    return civil_parse_rfc3339(text, t_s) == STATUS_OK && *t_s >= civil_days(first) * CIVIL_DAY_S &&
           *t_s < civil_days(end) * CIVIL_DAY_S;
}

bool kind_parse_numbers(const char *text, double *values, size_t max, size_t *count)
{
    size_t n = 0;
    for (;;) {
        size_t length = strcspn(text, " ");
        if (n == max || !number_parse(text, length, &values[n]))
            return false;
        n++;
        if (text[length] == '\0')
            break;
        text += length + 1;
    }
    *count = n;
    return true;
}

/* h:mm or hh:mm, up to 24:00. */
static bool parse_clock(const char *text, int32_t *second)
{
    int32_t hour = 0;
    size_t digits = strspn(text, "0123456789");
    if (digits < 1 || digits > 2 || text[digits] != ':' ||
        strspn(text + digits + 1, "0123456789") != 2 || text[digits + 3] != '\0')
        return false;
    for (size_t i = 0; i < digits; i++)
        hour = hour * 10 + (text[i] - '0');
    int32_t minute = (text[digits + 1] - '0') * 10 + (text[digits + 2] - '0');
    *second = hour * 3600 + minute * 60;
    return minute <= 59 && *second <= 86400;
}

bool kind_parse_edge(const char *text, struct nursery_edge *edge)
{
    struct nursery_edge parsed = {NURSERY_CLOCK, 0};
    if (strncmp(text, "sunrise", 7) == 0)
        parsed.from = NURSERY_SUNRISE;
    else if (strncmp(text, "sunset", 6) == 0)
        parsed.from = NURSERY_SUNSET;
    if (parsed.from == NURSERY_CLOCK) {
        if (!parse_clock(text, &parsed.second))
            return false;
    } else {
        const char *rest = text + (parsed.from == NURSERY_SUNRISE ? 7 : 6);
        if (*rest != '\0' && ((*rest != '+' && *rest != '-') ||
                              !parse_clock(rest + 1, &parsed.second) || parsed.second > 43200))
            return false;
        if (*rest == '-')
            parsed.second = -parsed.second;
    }
    *edge = parsed;
    return true;
}

bool kind_parse_days(const char *text, unsigned *weekdays)
{
    static const char names[] = "mon tue wed thu fri sat sun";
    unsigned bits = 0;
    if (*text == '\0') {
        *weekdays = 0x7f;
        return true;
    }
    for (;;) {
        unsigned day = 0;
        while (day < 7 && strncmp(text, names + 4 * (size_t)day, 3) != 0)
            day++;
        if (day == 7 || (text[3] != ' ' && text[3] != '\0') || (bits & (1u << day)))
            return false;
        bits |= 1u << day;
        if (text[3] == '\0')
            break;
        text += 4;
    }
    *weekdays = bits;
    return true;
}

static bool numbers_fit(const struct kind_column *column, const char *text)
{
    double values[BENCH_REPLICATES_MAX];
    size_t count = 0;
    if (!kind_parse_numbers(text, values, BENCH_REPLICATES_MAX, &count))
        return false;
    for (size_t i = 0; i < count; i++)
        if (!in_range(column, values[i]))
            return false;
    return true;
}

static bool parse_by_type(const struct kind_column *column, const char *text,
                          struct kind_value *value)
{
    struct nursery_edge edge;
    unsigned weekdays = 0;
    switch (column->type) {
    case KIND_ID:
    case KIND_REF:
        return is_id(text);
    case KIND_TEXT:
        return is_text(text);
    case KIND_NUMBER:
        return number_parse(text, strlen(text), &value->number) && in_range(column, value->number);
    case KIND_WHOLE:
        if (!number_parse(text, strlen(text), &value->number) || !in_range(column, value->number) ||
            floor(value->number) != value->number)
            return false;
        value->whole = (int64_t)value->number;
        return true;
    case KIND_NUMBERS:
        return numbers_fit(column, text);
    case KIND_YES_NO:
        value->whole = strcmp(text, "yes") == 0;
        return value->whole || strcmp(text, "no") == 0;
    case KIND_CHOICE:
        return is_choice(column->choices, text);
    case KIND_DATE:
        return is_date(text);
    case KIND_MOMENT:
        return is_moment(text, &value->whole);
    case KIND_EDGE:
        return kind_parse_edge(text, &edge);
    case KIND_DAYS:
        return kind_parse_days(text, &weekdays);
    }
    return false;
}

/* 12,5: what a spreadsheet writes in half of the world. */
static bool looks_like_decimal_comma(const char *text)
{
    const char *rest = text + (*text == '-');
    size_t whole = strspn(rest, "0123456789");
    return whole > 0 && rest[whole] == ',' && rest[whole + 1] != '\0' &&
           rest[whole + 1 + strspn(rest + whole + 1, "0123456789")] == '\0';
}

/* At most 60 bytes of what was given, cut between characters. */
static int shown(const char *text)
{
    size_t length = strnlen(text, 61);
    if (length == 61) {
        length = 60;
        while (length > 0 && ((unsigned char)text[length] & 0xc0) == 0x80)
            length--;
    }
    return (int)length;
}

int kind_parse(const struct kind_column *column, const char *text, struct kind_value *value,
               struct kind_fault *fault)
{
    char accepted[200];
    bool number =
        column->type == KIND_NUMBER || column->type == KIND_WHOLE || column->type == KIND_NUMBERS;
    struct kind_value parsed = {.given = true, .text = text};
    kind_accepts(column, accepted, sizeof accepted);
    if (*text == '\0') {
        *value = (struct kind_value){.text = ""};
        if (!column->required)
            return 0;
        kind_fault_set(fault, column->name, "empty, accepted is %s", accepted);
    } else if (!parse_by_type(column, text, &parsed)) {
        kind_fault_set(
            fault, column->name,
            number && looks_like_decimal_comma(text)
                ? "'%.*s' given, accepted is %s; write decimals with a point, not a comma"
                : "'%.*s' given, accepted is %s",
            shown(text), text, accepted);
    } else {
        *value = parsed;
        return 0;
    }
    if (number) {
        fault->least = column->low;
        fault->most = column->high;
    }
    return -1;
}

/* --- rows --------------------------------------------------------------------------------- */

const struct kind_value *kind_get(const struct kind_row *row, const char *name)
{
    static const struct kind_value none = {.text = ""};
    for (size_t i = 0; i < row->kind->column_count; i++)
        if (strcmp(row->kind->columns[i].name, name) == 0)
            return &row->values[i];
    return &none;
}

double kind_number(const struct kind_row *row, const char *name, double otherwise)
{
    const struct kind_value *value = kind_get(row, name);
    return value->given ? value->number : otherwise;
}

const char *kind_text(const struct kind_row *row, const char *name)
{
    const struct kind_value *value = kind_get(row, name);
    return value->given ? value->text : "";
}

bool kind_is(const struct kind_row *row, const char *name, const char *choice)
{
    return strcmp(kind_text(row, name), choice) == 0;
}
