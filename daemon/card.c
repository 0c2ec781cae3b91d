/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "card.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "json_put.h"
#include "utf8.h"

static const double card_et0_mm[] = {2.0, 4.0, 6.0, 8.0};

enum {
    COLUMNS = sizeof card_et0_mm / sizeof card_et0_mm[0],
    HOT = 2, /* the column that says who is first */
    FIRST_MOST = 8,
    BED_WIDTH = 24,
    POST_WIDTH = 4,
};

struct maker {
    const struct plan_view *view;
    struct plan_card_cell *cells; /* zone by zone */
    double *safe_h;               /* block by block */
    bool failed;
};

static void put(struct maker *m, json_t *object, const char *name, json_t *value)
{
    if (json_object_set_new(object, name, value) != 0)
        m->failed = true;
}

static void push(struct maker *m, json_t *array, json_t *value)
{
    if (json_array_append_new(array, value) != 0)
        m->failed = true;
}

static const char *name_of(const struct records_label *label)
{
    return label->name[0] ? label->name : label->id;
}

/* --- zones in the order in which a supply should serve them --------------------------------- */

/* The least time that any of its blocks bears in hot weather. */
static double bears_h(const struct maker *m, size_t zone)
{
    const struct nursery *nursery = m->view->input->nursery;
    double least_h = INFINITY;
    for (size_t b = 0; b < nursery->block_count; b++)
        if (nursery->blocks[b].zone == zone && isfinite(m->safe_h[b * COLUMNS + HOT]))
            least_h = fmin(least_h, m->safe_h[b * COLUMNS + HOT]);
    return least_h;
}

/* Its own class, or the most urgent of its blocks. */
static int class_of(const struct maker *m, size_t zone)
{
    const struct nursery *nursery = m->view->input->nursery;
    int first = nursery->zones[zone].priority;
    for (size_t b = 0; b < nursery->block_count; b++)
        if (nursery->blocks[b].zone == zone && nursery->blocks[b].priority > 0 &&
            nursery->blocks[b].priority < first)
            first = nursery->blocks[b].priority;
    return first;
}

struct place {
    size_t zone;
    int priority;
    double bears_h;
};

static int by_need(const void *a, const void *b)
{
    const struct place *x = a;
    const struct place *y = b;
    if (x->priority != y->priority)
        return x->priority < y->priority ? -1 : 1;
    if (x->bears_h != y->bears_h)
        return x->bears_h < y->bears_h ? -1 : 1;
    return x->zone < y->zone ? -1 : x->zone > y->zone;
}

static json_t *cell_json(struct maker *m, const struct plan_card_cell *cell)
{
    static const char *const hours[] = {"fit", "once", "short"};
    json_t *object = json_object();
    put(m, object, "minutes", json_integer(cell->minutes));
    put(m, object, "every_d", json_integer(cell->every_d));
    put(m, object, "twice", json_boolean(cell->twice));
    put(m, object, "cut", json_boolean(cell->cut));
    put(m, object, "hours", json_string(hours[cell->hours]));
    put(m, object, "pulses", json_integer(cell->pulses));
    put(m, object, "pulse_minutes", json_integer(cell->pulse_min));
    put(m, object, "pause_minutes", json_integer(cell->pause_min));
    put(m, object, "litres", json_put_number(cell->litres, 0));
    put(m, object, "depth_mm", json_put_number(cell->depth_mm, 1));
    put(m, object, "block",
        cell->block == NURSERY_NONE ? json_null()
                                    : json_string(m->view->records->blocks[cell->block].id));
    return object;
}

static json_t *zone_json(struct maker *m, size_t z)
{
    const struct nursery_zone *zone = &m->view->input->nursery->zones[z];
    const struct records_zone_label *label = &m->view->records->zones[z];
    json_t *object = json_object();
    json_t *cells = json_array();
    put(m, object, "zone", json_string(label->label.id));
    put(m, object, "post", json_string(label->post));
    put(m, object, "bed", json_string(name_of(&label->label)));
    put(m, object, "method", json_string(plan_method_name(zone->method)));
    put(m, object, "flow_l_min", json_put_number(zone->flow_l_min, 1));
    put(m, object, "most_min_day",
        zone->most_min_day > 0.0 ? json_put_number(zone->most_min_day, 0) : json_null());
    put(m, object, "most_l_day",
        zone->most_l_day > 0.0 ? json_put_number(zone->most_l_day, 0) : json_null());
    for (size_t i = 0; i < COLUMNS; i++)
        push(m, cells, cell_json(m, &m->cells[z * COLUMNS + i]));
    put(m, object, "cells", cells);
    return object;
}

static json_t *supply_json(struct maker *m, size_t s, struct place *places)
{
    const struct nursery *nursery = m->view->input->nursery;
    const struct nursery_supply *supply = &nursery->supplies[s];
    json_t *object = json_object();
    json_t *zones = json_array();
    size_t count = 0;
    for (size_t z = 0; z < nursery->zone_count; z++)
        if (nursery->zones[z].supply == s && m->cells[z * COLUMNS].minutes > 0)
            places[count++] = (struct place){z, class_of(m, z), bears_h(m, z)};
    qsort(places, count, sizeof *places, by_need);
    for (size_t i = 0; i < count; i++)
        push(m, zones, zone_json(m, places[i].zone));
    put(m, object, "supply", json_string(m->view->records->supplies[s].id));
    put(m, object, "name", json_string(name_of(&m->view->records->supplies[s])));
    put(m, object, "flow_l_min", json_put_number(supply->flow_l_min, 1));
    put(m, object, "valves_at_once", json_integer((json_int_t)supply->valves_at_once));
    put(m, object, "daily_limit_l",
        supply->daily_limit_l > 0.0 ? json_put_number(supply->daily_limit_l, 0) : json_null());
    put(m, object, "zones", zones);
    return object;
}

/* --- when something fails ------------------------------------------------------------------- */

static json_t *safe_json(struct maker *m, size_t block)
{
    const struct nursery *nursery = m->view->input->nursery;
    size_t zone = nursery->blocks[block].zone;
    json_t *object = json_object();
    json_t *hours = json_array();
    put(m, object, "block", json_string(m->view->records->blocks[block].id));
    put(m, object, "name", json_string(name_of(&m->view->records->blocks[block])));
    put(m, object, "zone", json_string(m->view->records->zones[zone].label.id));
    put(m, object, "post", json_string(m->view->records->zones[zone].post));
    for (size_t i = 0; i < COLUMNS; i++)
        push(m, hours, json_put_number(m->safe_h[block * COLUMNS + i], 0));
    put(m, object, "safe_h", hours);
    return object;
}

static json_t *first_json(struct maker *m, struct place *places)
{
    const struct nursery *nursery = m->view->input->nursery;
    json_t *array = json_array();
    size_t count = 0;
    for (size_t b = 0; b < nursery->block_count; b++)
        if (isfinite(m->safe_h[b * COLUMNS + HOT]))
            places[count++] = (struct place){b, 0, m->safe_h[b * COLUMNS + HOT]};
    qsort(places, count, sizeof *places, by_need);
    for (size_t i = 0; i < count && i < FIRST_MOST; i++)
        push(m, array, safe_json(m, places[i].zone));
    return array;
}

/* --- all of it ------------------------------------------------------------------------------ */

static json_t *whole_json(struct maker *m)
{
    static const char *const assumes[] = {"as_they_stand", "full_pots", "no_rain", "standard_day",
                                          "even_days"};
    const struct nursery *nursery = m->view->input->nursery;
    struct place *places = calloc(nursery->zone_count + nursery->block_count + 1, sizeof *places);
    json_t *root = json_object();
    json_t *columns = json_array();
    json_t *supplies = json_array();
    json_t *codes = json_array();
    m->failed |=
        !places || !json_put_time(root, "made_at", m->view->input->now_s, &nursery->time_zone);
    for (size_t i = 0; i < COLUMNS; i++)
        push(m, columns, json_put_number(card_et0_mm[i], 1));
    for (size_t s = 0; places && s < nursery->supply_count; s++)
        push(m, supplies, supply_json(m, s, places));
    for (size_t i = 0; i < sizeof assumes / sizeof assumes[0]; i++)
        push(m, codes, json_string(assumes[i]));
    put(m, root, "et0_mm", columns);
    put(m, root, "supplies", supplies);
    put(m, root, "first_if_it_fails", places ? first_json(m, places) : json_array());
    put(m, root, "assumes", codes);
    free(places);
    return root;
}

int card_json(const struct plan_view *view, json_t **out, struct error *error)
{
    const struct nursery *nursery = view->input->nursery;
    struct maker m = {.view = view};
    size_t culprit = NURSERY_NONE;
    void *room = malloc(plan_room_bytes(view->input));
    m.cells = calloc(nursery->zone_count * COLUMNS + 1, sizeof *m.cells);
    m.safe_h = calloc(nursery->block_count * COLUMNS + 1, sizeof *m.safe_h);
    json_t *root = NULL;
    if (room && m.cells && m.safe_h &&
        plan_card(view->input, room, card_et0_mm, COLUMNS, m.cells, m.safe_h, &culprit) ==
            STATUS_OK)
        root = whole_json(&m);
    free(room);
    free(m.cells);
    free(m.safe_h);
    if (root && !m.failed) {
        *out = root;
        return 0;
    }
    json_decref(root);
    return error_set(error, "out of memory for the wall card"); /* the plan itself came out */
}

/* --- on paper ------------------------------------------------------------------------------- */

static const json_t *member(const json_t *object, const char *name)
{
    return json_object_get(object, name);
}

static const char *text_of(const json_t *object, const char *name)
{
    const char *text = json_string_value(member(object, name));
    return text ? text : "";
}

/* '57', '57+' in two halves, '60/5d' every five days, '20!' for want of leave, '57^' once though it
 * wants two halves, '40>' for want of hours. */
static void put_cell(FILE *out, const json_t *cell)
{
    char text[32];
    int every_d = (int)json_integer_value(member(cell, "every_d"));
    char days[16] = "";
    if (every_d > 1)
        snprintf(days, sizeof days, "/%dd", every_d);
    const char *hours = text_of(cell, "hours");
    snprintf(text, sizeof text, "%lld%s%s%s%s",
             (long long)json_integer_value(member(cell, "minutes")),
             json_is_true(member(cell, "twice")) ? "+" : "",
             json_is_true(member(cell, "cut")) ? "!" : "",
             strcmp(hours, "once") == 0    ? "^"
             : strcmp(hours, "short") == 0 ? ">"
                                           : "",
             days);
    fprintf(out, " %8s", text);
}

static void put_zone(FILE *out, const json_t *zone)
{
    const json_t *cells = member(zone, "cells");
    const json_t *hot = json_array_get(cells, HOT);
    size_t i;
    const json_t *cell;
    utf8_put_padded(out, text_of(zone, "post"), POST_WIDTH);
    fputc(' ', out);
    utf8_put_padded(out, text_of(zone, "bed"), BED_WIDTH);
    json_array_foreach(cells, i, cell) put_cell(out, cell);
    if (json_integer_value(member(hot, "pulses")) > 1)
        fprintf(out, " %2lldx/%-3lld", (long long)json_integer_value(member(hot, "pulses")),
                (long long)json_integer_value(member(hot, "pause_minutes")));
    else
        fputs("        ", out);
    if (json_is_number(member(zone, "most_min_day")))
        fprintf(out, "%4.0f", json_number_value(member(zone, "most_min_day")));
    fputc('\n', out);
}

static void put_supply(FILE *out, const json_t *supply)
{
    size_t i;
    const json_t *zone;
    fprintf(out, "\n%.30s: %.0f l/min, %lld valves at once", text_of(supply, "name"),
            json_number_value(member(supply, "flow_l_min")),
            (long long)json_integer_value(member(supply, "valves_at_once")));
    if (json_is_number(member(supply, "daily_limit_l")))
        fprintf(out, ", %.1f m3 a day",
                json_number_value(member(supply, "daily_limit_l")) / 1000.0);
    fputs("; in this order:\n", out);
    json_array_foreach(member(supply, "zones"), i, zone) put_zone(out, zone);
}

static void put_first(FILE *out, const json_t *card)
{
    size_t i;
    const json_t *block;
    fputs("\nIF A VALVE OR THE PUMP FAILS, DO THESE FIRST: hours from full to stress\n", out);
    json_array_foreach(member(card, "first_if_it_fails"), i, block)
    {
        const json_t *hours = member(block, "safe_h");
        utf8_put_padded(out, text_of(block, "post"), POST_WIDTH);
        fputc(' ', out);
        utf8_put_padded(out, text_of(block, "name"), BED_WIDTH);
        for (size_t c = 0; c < json_array_size(hours); c++)
            if (json_is_number(json_array_get(hours, c)))
                fprintf(out, " %6.0f h", json_number_value(json_array_get(hours, c)));
            else
                fprintf(out, " %8s", "long");
        fputc('\n', out);
    }
}

char *card_text(const char *nursery, const json_t *card)
{
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    if (!out)
        return NULL;
    utf8_put_padded(out, nursery, 56);
    fprintf(out, " as of %.10s\n", text_of(card, "made_at"));
    fputs("WALL CARD: MINUTES BY THE DAY'S REFERENCE ET, for when the machine is dead\n\n", out);
    fprintf(out, "%-29s%9s%9s%9s%9s pulses/ most\n", "", "2 mm", "4 mm", "6 mm", "8 mm");
    fprintf(out, "%-29s%9s%9s%9s%9s pause  a day\n", "post bed", "dull", "mild", "clear",
            "hot,wind");
    size_t i;
    const json_t *supply;
    json_array_foreach(member(card, "supplies"), i, supply) put_supply(out, supply);
    fputs("\n60/5d: 60 minutes every 5 days. 57+: in two halves, six hours apart or more.\n"
          "57^: wants halves too, but the zone's hours do not reach so far: give it\n"
          "all at once, and look at the plants between. 40>: all that its hours have room\n"
          "for, 20!: the zone's own limit, and too little: look at the plants. 3x/20: in 3\n"
          "parts with 20 minutes between; the minutes are those of water. After rain that\n"
          "ran out of the pots leave a day out. Feel the pots.\n",
          out);
    put_first(out, card);
    fputs("\nIt assumes pots and plants as they stood that day, full pots to begin with, no\n"
          "rain, a wind of 2 m/s, air of 45 % at its driest, and days alike. Print it anew\n"
          "each month, and when blocks are moved, potted or spaced.\n",
          out);
    if (fclose(out) == 0)
        return text;
    free(text);
    return NULL;
}
