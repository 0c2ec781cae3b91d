/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A season of the example nursery, watered by the plan of each evening, by plans of every quarter
 * of an hour as the service makes them, and by a timer that is set once. The weather is made up
 * from the nursery's normals with a fixed seed; forecasts of it err. The pots are followed here by
 * a balance of this file's own. Prints; judges nothing.
 */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "core/air.h"
#include "core/balance.h"
#include "core/et0.h"
#include "core/plan.h"
#include "daemon/config.h"
#include "daemon/import.h"
#include "daemon/plan_result.h"
#include "daemon/store.h"
#include "daemon/zoneinfo.h"

#define DEMO PERCHD_SOURCE "/config/demo"

enum { BEFORE = 21, DAYS = 184, AFTER = 10, HOURS = (BEFORE + DAYS + AFTER) * 24, RUNS = 20000 };

struct pot_now {
    struct balance_pot pot;
    struct balance_rates rates;
    struct pot_figures figures;
    struct demand_plant plant;
    double litres_min, dry_share, pots;
    struct balance_state average, driest;
    struct balance_sums sums, dry_sums;
};

struct way { /* of watering */
    double litres[32];
    struct pot_now *pots;
    struct nursery_run *runs; /* of plans: done, and to come */
    size_t run_count;
};

enum { EVENING, SERVED, TIMER, WAYS };
static const char *const way_names[WAYS] = {"evening", "served", "timer"};

struct season {
    struct config config;
    struct civil_zone zone;
    struct records records;
    struct weather_hour hours[HOURS]; /* as it is */
    struct weather_hour seen[HOURS];  /* as a plan sees it */
    double *et0_mm;                   /* [cover + 1][hour] */
    struct way ways[WAYS];
    double timer_min[32];
    double error; /* of today's forecast, as a factor on the sun */
    bool sees_rain;
    uint64_t seed;
};

static void fail(const char *what)
{
    fprintf(stderr, "season: %s\n", what);
    exit(EXIT_FAILURE);
}

static void *room(size_t count, size_t size)
{
    void *memory = calloc(count + 1, size);
    if (!memory)
        fail("no memory");
    return memory;
}

/* 0..1, splitmix64. */
static double chance(struct season *s)
{
    uint64_t z = s->seed += 0x9e3779b97f4a7c15u;
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return (double)((z ^ (z >> 31)) >> 11) / 9007199254740992.0;
}

static void load(struct season *s, int64_t at_s)
{
    char folder[] = "/tmp/perchd-season-XXXXXX";
    char path[64];
    struct error error;
    if (config_load(DEMO "/perchd.conf", &s->config, &error) != 0 ||
        zoneinfo_load(s->config.time_zone, &s->zone, &error) != 0 || !mkdtemp(folder))
        fail("cannot begin");
    snprintf(path, sizeof path, "%s/s.db", folder);
    FILE *report = fopen("/dev/null", "w");
    struct store *store = store_open(path, false, &error);
    if (!report || !store || import_path(store, DEMO, report, &error) != 0 ||
        store_load(store, at_s, &s->config.site, &s->zone, 0, 0, &s->records, &error) != 0)
        fail(error.text);
    fclose(report);
    store_close(store);
    char command[96];
    snprintf(command, sizeof command, "%s-wal", path);
    unlink(command);
    snprintf(command, sizeof command, "%s-shm", path);
    unlink(command);
    unlink(path);
    rmdir(folder);
}

/* Days that are brighter or duller, warmer or cooler than the month's; rain on its wet days, in
 * three hours of the afternoon. */
static void make_weather(struct season *s, int64_t first_s)
{
    double bright = 1.0;
    double warm_c = 0.0;
    double rain_mm = 0.0;
    for (size_t h = 0; h < HOURS; h++) {
        struct weather_hour *hour = &s->hours[h];
        int64_t start_s = first_s + (int64_t)h * CIVIL_HOUR_S;
        if (weather_from_normals(&s->config.site, s->records.normals, start_s, hour) != STATUS_OK)
            fail("no weather");
        if (h % 24 == 0) {
            int month = civil_local_date(&s->zone, start_s).month;
            const struct weather_normal *normal = &s->records.normals[month - 1];
            bool wet = chance(s) < normal->wet_days / 30.0;
            rain_mm = wet ? normal->rain_mm / normal->wet_days * 2.0 * chance(s) : 0.0;
            bright = wet ? 0.5 + 0.3 * chance(s) : 0.85 + 0.3 * chance(s);
            warm_c = 4.0 * (chance(s) - 0.5);
        }
        int local_h = civil_local_second(&s->zone, start_s) / 3600;
        hour->radiation_mj_m2 *= bright;
        hour->temperature_c += warm_c;
        hour->rain_mm = local_h >= 15 && local_h < 18 ? rain_mm / 3.0 : 0.0;
        hour->rain_probability = rain_mm > 0.0 ? 1.0 : 0.0;
        hour->kind = hour->rain_kind = WEATHER_MEASURED;
    }
}

static void make_et0(struct season *s)
{
    const struct nursery *n = &s->records.nursery;
    s->et0_mm = room((n->cover_count + 1) * HOURS, sizeof *s->et0_mm);
    for (size_t c = 0; c <= n->cover_count; c++)
        for (size_t h = 0; h < HOURS; h++) {
            const struct weather_hour *w = &s->hours[h];
            struct et0_hour_in in = {w->start_s,     w->temperature_c,   w->vapour_pressure_kpa,
                                     w->wind_2m_m_s, w->radiation_mj_m2, w->clear_ratio,
                                     ET0_ASCE2005,   {1.0, 0.0, false}};
            struct et0_hour_out out;
            if (c > 0) {
                in.cover = n->covers[c - 1].et0;
                in.temperature_c +=
                    n->covers[c - 1].warmer_c * fmin(1.0, fmax(0.0, w->radiation_mj_m2) / 3.2);
            }
            if (et0_of_hour(&s->config.site, &in, &out) != STATUS_OK)
                fail("no reference ET");
            s->et0_mm[c * HOURS + h] = fmax(0.0, out.et0_mm);
        }
}

static size_t sky_of(const struct nursery *n, size_t b)
{
    return n->blocks[b].cover == NURSERY_NONE ? 0 : n->blocks[b].cover + 1;
}

static double share_of(const struct nursery_zone *zone)
{
    if (zone->method == DELIVERY_OVERHEAD)
        return zone->du_low_quarter > 0.0 ? zone->du_low_quarter : 0.75;
    if (zone->method == DELIVERY_SUBIRRIGATION)
        return 1.0;
    return zone->method == DELIVERY_HAND ? 0.8 : zone->emission_uniformity;
}

static void set_pot(const struct nursery *n, size_t b, struct pot_now *now)
{
    const struct nursery_block *block = &n->blocks[b];
    const struct nursery_state *state = &n->states[block->first_state + block->state_count - 1];
    const struct nursery_zone *zone = &n->zones[block->zone];
    const struct bench_fit *mix = &n->mixes[state->mix];
    double capture = block->capture;
    if (pot_at_capacity(&n->pots[state->pot], &mix->curve, mix, block->theta_low, &now->figures) !=
        STATUS_OK)
        fail("a pot that cannot be");
    double top_m2 = now->figures.top_area_m2;
    double canopy_m = state->canopy_cm / 100.0;
    double share = zone->method == DELIVERY_SUBIRRIGATION ? 0.88 : 0.92;
    bool micro = zone->method == DELIVERY_DRIP || zone->method == DELIVERY_SPRAY;
    if (capture <= 0.0 && delivery_capture_default(M_PI / 4.0 * canopy_m * canopy_m,
                                                   state->ground_m2, top_m2, &capture) != STATUS_OK)
        fail("no capture");
    now->pots = state->pots;
    now->plant = (struct demand_plant){state->ground_m2,      state->canopy_cm,
                                       state->plant_height_m, 200.0 * sqrt(top_m2 / M_PI),
                                       block->transparency,   block->stomatal};
    now->pot = (struct balance_pot){
        .ceiling_l = share * now->figures.water_l,
        .available_l =
            share * now->figures.water_l - now->figures.volume_l * now->figures.theta_low,
        .stress_p = block->stress_p,
        .top_m2 = top_m2,
        .surface = demand_surface_of(bench_prior_of(mix->class_id)->bark),
        .rain_l_mm = fmin((block->capture > 0.0 ? block->capture : 0.8) * top_m2, state->ground_m2),
        .foliage_mm = 1.0,
        .intake = micro ? delivery_intake_of(zone->method, zone->pulses > 1)
                        : (struct delivery_intake){1.0, 0.0}};
    now->dry_share = share_of(zone);
    now->litres_min = zone->method == DELIVERY_OVERHEAD
                          ? zone->rate_mm_h / 60.0 * top_m2 * capture
                          : zone->emitters_per_pot * zone->emitter_l_h / 60.0;
    now->average.water_l = now->driest.water_l = now->pot.ceiling_l;
}

/* A hose or a tray gives by size. */
static void share_out(const struct nursery *n, struct pot_now *pots)
{
    for (size_t z = 0; z < n->zone_count; z++) {
        double all_l = 0.0;
        if (n->zones[z].method != DELIVERY_HAND && n->zones[z].method != DELIVERY_SUBIRRIGATION)
            continue;
        for (size_t b = 0; b < n->block_count; b++)
            all_l += n->blocks[b].zone == z ? pots[b].pots * pots[b].pot.available_l : 0.0;
        for (size_t b = 0; b < n->block_count; b++)
            if (n->blocks[b].zone == z)
                pots[b].litres_min = n->zones[z].flow_l_min * pots[b].pot.available_l / all_l;
    }
}

static void set_rates(const struct season *s, size_t b, size_t day, struct pot_now *now)
{
    const struct nursery *n = &s->records.nursery;
    size_t sky = sky_of(n, b);
    struct demand_climate climate = {0.0, 100.0};
    struct demand_factors factors;
    for (size_t h = day * 24; h < day * 24 + 24; h++) {
        climate.wind_2m_m_s += s->hours[h].wind_2m_m_s / 24.0;
        climate.humidity_min_pct =
            fmin(climate.humidity_min_pct, 100.0 * s->hours[h].vapour_pressure_kpa /
                                               air_saturation_kpa(s->hours[h].temperature_c));
    }
    if (sky > 0 && n->covers[sky - 1].et0.has_wind_factor)
        climate.wind_2m_m_s *= n->covers[sky - 1].et0.wind_factor;
    if (demand_factors_of(&now->plant, &climate, &factors) != STATUS_OK)
        fail("a plant that cannot be");
    now->rates = (struct balance_rates){factors.transpiration_l_mm, factors.evaporation_l_mm,
                                        factors.ground_cover >= DEMAND_CAP_COVER
                                            ? DEMAND_CAP_COEFFICIENT * now->plant.ground_m2
                                            : 0,
                                        n->blocks[b].k_cal};
}

/* One hour of every pot; minutes[zone] of its valve fall in it. */
static void live_hour(const struct season *s, struct way *way, size_t h, const double *minutes)
{
    const struct nursery *n = &s->records.nursery;
    for (size_t b = 0; b < n->block_count; b++) {
        struct pot_now *now = &way->pots[b];
        size_t sky = sky_of(n, b);
        double et0_mm = s->et0_mm[sky * HOURS + h];
        double rain_mm = sky > 0 && !n->covers[sky - 1].rain ? 0.0 : s->hours[h].rain_mm;
        double dose_l = minutes[n->blocks[b].zone] * now->litres_min;
        if (h % 24 == 0)
            set_rates(s, b, h / 24, now);
        balance_hour(&now->pot, &now->rates, et0_mm, rain_mm, dose_l, &now->average, &now->sums);
        balance_hour(&now->pot, &now->rates, et0_mm, rain_mm, dose_l * now->dry_share, &now->driest,
                     &now->dry_sums);
    }
    for (size_t z = 0; z < n->zone_count; z++)
        way->litres[z] += minutes[z] * n->zones[z].flow_l_min;
}

/* Set once, for the hottest week: what the thirstiest block uses a day, over the uniformity. */
static void set_timer(struct season *s)
{
    const struct nursery *n = &s->records.nursery;
    for (size_t b = 0; b < n->block_count; b++) {
        struct pot_now now;
        double most_l = 0.0;
        double week_l[7] = {0};
        memset(&now, 0, sizeof now);
        set_pot(n, b, &now);
        now.litres_min = s->ways[TIMER].pots[b].litres_min;
        for (size_t day = BEFORE; day < BEFORE + DAYS; day++) {
            double sum_l = 0.0;
            set_rates(s, b, day, &now);
            week_l[day % 7] = 0.0;
            for (size_t h = day * 24; h < day * 24 + 24; h++)
                week_l[day % 7] += now.rates.k_cal *
                                   (now.rates.transpiration_l_mm + now.rates.evaporation_l_mm) *
                                   s->et0_mm[sky_of(n, b) * HOURS + h];
            for (size_t d = 0; d < 7; d++)
                sum_l += week_l[d] / 7.0;
            most_l = fmax(most_l, sum_l);
        }
        double minutes = most_l / now.litres_min / now.dry_share;
        size_t zone = n->blocks[b].zone;
        s->timer_min[zone] = fmax(s->timer_min[zone], minutes);
        if (n->zones[zone].most_min_day > 0.0)
            s->timer_min[zone] = fmin(s->timer_min[zone], n->zones[zone].most_min_day);
    }
}

/* Past hours as they were; two days ahead as a forecast that errs by a tenth or so and sees two
 * rains of three; then the normals. */
static void look_ahead(struct season *s, size_t now_h)
{
    memcpy(s->seen, s->hours, sizeof s->seen);
    for (size_t h = now_h; h < HOURS; h++) {
        struct weather_hour *hour = &s->seen[h];
        if (h >= now_h + 48) {
            if (weather_from_normals(&s->config.site, s->records.normals, hour->start_s, hour) !=
                STATUS_OK)
                fail("no weather");
            continue;
        }
        hour->kind = hour->rain_kind = WEATHER_FORECAST;
        hour->radiation_mj_m2 *= s->error;
        hour->rain_mm = s->sees_rain ? hour->rain_mm : 0.0;
    }
}

static int run_order(const void *a, const void *b)
{
    const struct nursery_run *x = a;
    const struct nursery_run *y = b;
    if (x->zone != y->zone)
        return x->zone < y->zone ? -1 : 1;
    return x->start_s < y->start_s ? -1 : x->start_s > y->start_s;
}

/* What of the last plan has run, runs or is about to; the rest is planned anew. */
static void settle(struct way *way, int64_t now_s)
{
    size_t kept = 0;
    for (size_t r = 0; r < way->run_count; r++) {
        struct nursery_run run = way->runs[r];
        run.state = run.end_s <= now_s ? NURSERY_RUN_REPORTED : NURSERY_RUN_UNDERWAY;
        if (run.start_s <= now_s || run.start_s < now_s + NURSERY_LEAD_S)
            way->runs[kept++] = run;
    }
    way->run_count = kept;
}

/* A plan of this moment, whose runs the way follows until the next one. */
static void plan_now(struct season *s, struct way *way, size_t now_h, int64_t now_s)
{
    struct nursery n = s->records.nursery;
    struct plan_result r = {0};
    size_t culprit = 0;
    size_t from = now_h - BEFORE * 24;
    settle(way, now_s);
    n.runs = way->runs;
    n.run_count = way->run_count;
    struct plan_input input = {.nursery = &n,
                               .hours = s->seen + from,
                               .hour_count = (BEFORE + 9) * 24,
                               .now_s = now_s,
                               .days = 3};
    void *memory = NULL;
    if (plan_result_open(&input, &r, &memory) != 0)
        fail("no memory");
    if (plan_make(&input, memory, &r, &culprit) != STATUS_OK)
        fail("no plan");
    for (size_t i = 0; i < r.run_count; i++) {
        const struct plan_run *run = &r.runs[i];
        if (run->start_s >= now_s + CIVIL_DAY_S || run->underway)
            continue;
        if (way->run_count == RUNS)
            fail("more runs than there is room for");
        way->runs[way->run_count++] = (struct nursery_run){.zone = run->zone,
                                                           .start_s = run->start_s,
                                                           .end_s = run->end_s,
                                                           .litres = run->litres,
                                                           .pulses = run->pulses,
                                                           .pulse_min = run->pulse_min,
                                                           .pause_min = run->pause_min};
    }
    qsort(way->runs, way->run_count, sizeof *way->runs, run_order);
    free(memory);
    plan_result_close(&r);
}

static void planned_minutes(const struct season *s, const struct way *way, size_t h,
                            double *minutes)
{
    const struct nursery *n = &s->records.nursery;
    int64_t start_s = s->hours[h].start_s;
    memset(minutes, 0, 32 * sizeof *minutes);
    for (size_t r = 0; r < way->run_count; r++) {
        const struct nursery_run *run = &way->runs[r];
        if (run->start_s >= start_s && run->start_s < start_s + CIVIL_HOUR_S)
            minutes[run->zone] += run->litres / n->zones[run->zone].flow_l_min;
    }
}

/* Whether the zone has watering hours on the day: the timer keeps to them as the plan does. */
static bool opens_on(const struct nursery *n, size_t zone, int64_t t_s,
                     const struct civil_zone *local)
{
    int64_t day = civil_days(civil_local_date(local, t_s));
    unsigned weekday = 1u << (((day + 3) % 7 + 7) % 7);
    bool own = false;
    bool open = false;
    bool common = false;
    for (size_t w = 0; w < n->window_count; w++) {
        own |= n->windows[w].zone == zone;
        open |= n->windows[w].zone == zone && (n->windows[w].weekdays & weekday);
        common |= n->windows[w].zone == NURSERY_NONE && (n->windows[w].weekdays & weekday);
    }
    return own ? open : common;
}

static void live(struct season *s)
{
    const struct nursery *n = &s->records.nursery;
    for (size_t h = BEFORE * 24; h < (BEFORE + DAYS) * 24; h++) {
        double minutes[32];
        int local_h = civil_local_second(&s->zone, s->hours[h].start_s) / 3600;
        if (local_h == 18) {
            s->error = 0.85 + 0.3 * chance(s);
            s->sees_rain = chance(s) < 0.67;
        }
        look_ahead(s, h);
        if (local_h == 18)
            plan_now(s, &s->ways[EVENING], h, s->hours[h].start_s);
        planned_minutes(s, &s->ways[EVENING], h, minutes);
        live_hour(s, &s->ways[EVENING], h, minutes);
        for (int64_t quarter = 0; quarter < 4; quarter++)
            plan_now(s, &s->ways[SERVED], h, s->hours[h].start_s + 900 * quarter);
        planned_minutes(s, &s->ways[SERVED], h, minutes);
        live_hour(s, &s->ways[SERVED], h, minutes);
        memset(minutes, 0, sizeof minutes);
        if (local_h == 6)
            for (size_t z = 0; z < n->zone_count; z++)
                minutes[z] = opens_on(n, z, s->hours[h].start_s, &s->zone) ? s->timer_min[z] : 0.0;
        live_hour(s, &s->ways[TIMER], h, minutes);
    }
}

struct total {
    double m3, drained_m3, stress_h;
};

static struct total total_of(const struct season *s, const struct way *way, size_t zone)
{
    const struct nursery *n = &s->records.nursery;
    struct total total = {.m3 = way->litres[zone] / 1000.0};
    for (size_t b = 0; b < n->block_count; b++) {
        if (n->blocks[b].zone != zone)
            continue;
        total.drained_m3 += way->pots[b].sums.drained_l * way->pots[b].pots / 1000.0;
        total.stress_h += way->pots[b].dry_sums.stress_h;
    }
    return total;
}

static void print_row(const char *name, const struct total *of)
{
    printf("%-24.24s", name);
    for (size_t w = 0; w < WAYS; w++)
        printf(" %7.0f", of[w].m3);
    printf("  ");
    for (size_t w = 0; w < WAYS; w++)
        printf(" %7.0f", of[w].drained_m3);
    printf("  ");
    for (size_t w = 0; w < WAYS; w++)
        printf(" %7.0f", of[w].stress_h);
    printf("\n");
}

static void print_table(const struct season *s)
{
    const struct nursery *n = &s->records.nursery;
    struct total all[WAYS] = {{0}};
    printf(
        "%d days from 1 March, weather made from the normals. evening: each day's plan as it was "
        "at 18:00; served: as planned anew every quarter of an hour; timer: every day with "
        "watering hours what the hottest week takes, within the zone's daily limit\n\n"
        "%-24s %-25s %-25s %-25s\n%-24s",
        DAYS, "", " m3", "drained, m3", "stress, h", "zone");
    for (size_t i = 0; i < 3; i++)
        for (size_t w = 0; w < WAYS; w++)
            printf("%s %7s", i > 0 && w == 0 ? "  " : "", way_names[w]);
    printf("\n");
    for (size_t z = 0; z < n->zone_count; z++) {
        struct total of[WAYS];
        for (size_t w = 0; w < WAYS; w++) {
            of[w] = total_of(s, &s->ways[w], z);
            all[w].m3 += of[w].m3;
            all[w].drained_m3 += of[w].drained_m3;
            all[w].stress_h += of[w].stress_h;
        }
        print_row(s->records.zones[z].label.name, of);
    }
    print_row("all", all);
    puts("\ndrained: from the pots, rain counted; stress: hours in which the dry quarter of a "
         "block is past its limit, summed over blocks");
}

int main(void)
{
    int64_t first_s = civil_days((struct civil_date){2026, 3, 1}) * CIVIL_DAY_S + 6 * CIVIL_HOUR_S -
                      BEFORE * CIVIL_DAY_S; /* midnight there */
    struct season *s = room(1, sizeof *s);
    s->seed = 7;
    load(s, first_s + BEFORE * CIVIL_DAY_S);
    const struct nursery *n = &s->records.nursery;
    if (n->zone_count > 32)
        fail("more zones than there is room for");
    make_weather(s, first_s);
    make_et0(s);
    for (size_t w = 0; w < WAYS; w++) {
        s->ways[w].pots = room(n->block_count, sizeof *s->ways[w].pots);
        s->ways[w].runs = room(RUNS, sizeof *s->ways[w].runs);
        for (size_t b = 0; b < n->block_count; b++)
            set_pot(n, b, &s->ways[w].pots[b]);
        share_out(n, s->ways[w].pots);
    }
    set_timer(s);
    live(s);
    print_table(s);
    for (size_t w = 0; w < WAYS; w++) {
        free(s->ways[w].pots);
        free(s->ways[w].runs);
    }
    free(s->et0_mm);
    records_free(&s->records);
    zoneinfo_free(&s->zone);
    free(s);
    return EXIT_SUCCESS;
}
