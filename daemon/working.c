/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "working.h"

#include <stdbool.h>
#include <string.h>

/* What inputs and values are read from. */

enum part { PART_BLOCK, PART_MIX, PART_POT, PART_TODAY, PART_TOMORROW, PART_RUN, PART_COUNT };

struct input {
    enum part part;
    const char *name; /* in the plan; NULL ends the list */
};

enum { INPUTS_MAX = 7 };

struct step {
    enum part part;
    const char *name; /* of the value in the plan */
    const char *unit;
    const char *formula;
    struct input inputs[INPUTS_MAX];
    const char *source;
};

/* In the order in which one figure needs the other; the formulas are docs/model.md's. */
static const struct step steps[] = {
    {PART_MIX,
     "air_pct",
     "% of the volume",
     "what drained from the bench vessel / its volume, the mean of the replicates",
     {{PART_MIX, "replicates"}, {PART_MIX, "vessel_height_cm"}, {PART_MIX, "air_se_pct"}},
     "the bench test of the mix (model 1)"},
    {PART_MIX,
     "total_porosity_pct",
     "% of the volume",
     "(saturated - dry mass) / vessel volume, or as given, or the usual one of the class",
     {{PART_MIX, "class"}, {PART_MIX, "doubts"}},
     "the bench test of the mix (model 1)"},
    {PART_MIX,
     "capacity_pct",
     "% of the volume",
     "total porosity - air, in the vessel",
     {{PART_MIX, "total_porosity_pct"}, {PART_MIX, "air_pct"}},
     "the bench test of the mix (model 1)"},
    {PART_MIX,
     "alpha_per_cm",
     "1/cm",
     "the one value for which theta_r + (theta_s - theta_r) (1 + (alpha h)^n)^(1/n - 1), taken "
     "over "
     "the vessel's height, leaves the air that was measured; with more measurements the best fit",
     {{PART_MIX, "theta_s"},
      {PART_MIX, "theta_r"},
      {PART_MIX, "n"},
      {PART_MIX, "vessel_height_cm"},
      {PART_MIX, "air_pct"},
      {PART_MIX, "path"}},
     "the bench test; theta_r and n of the class when one vessel was tested (model 1)"},
    {PART_BLOCK,
     "volume_l",
     "L a pot",
     "fill height x (A1 + A2 + sqrt(A1 A2)) / 3 from the widths at the fill line and the holes, or "
     "the measured volume",
     {{PART_POT, "form"},
      {PART_POT, "top_cm"},
      {PART_POT, "bottom_cm"},
      {PART_POT, "fill_height_cm"},
      {PART_POT, "height_cm"},
      {PART_POT, "volume_l"}},
     "the pot's record (model 2)"},
    {PART_BLOCK,
     "capacity_l",
     "L a pot",
     "the curve over the pot's height above its holes, weighted by its width there, x volume",
     {{PART_BLOCK, "volume_l"},
      {PART_MIX, "theta_s"},
      {PART_MIX, "theta_r"},
      {PART_MIX, "alpha_per_cm"},
      {PART_MIX, "n"},
      {PART_POT, "fill_height_cm"}},
     "the curve in this pot (model 2)"},
    {PART_BLOCK,
     "air_at_capacity_pct",
     "% of the volume",
     "theta_s - capacity / volume",
     {{PART_MIX, "theta_s"},
      {PART_BLOCK, "capacity_l"},
      {PART_BLOCK, "volume_l"},
      {PART_BLOCK, "air_at_capacity_sd_pct"}},
     "the curve in this pot (model 2)"},
    {PART_BLOCK,
     "full_l",
     "L a pot",
     "what daily watering refills: 0.92 of capacity, 0.88 from below, less what roots took",
     {{PART_BLOCK, "capacity_l"}, {PART_BLOCK, "air_lost_pct"}},
     "our choice, 0.85 to 0.95 by method (model 2, 6)"},
    {PART_BLOCK,
     "available_l",
     "L a pot",
     "full - volume x the water that plants cannot draw",
     {{PART_BLOCK, "full_l"}, {PART_BLOCK, "volume_l"}, {PART_MIX, "class"}},
     "the curve at 100 cm, 0.20 in bark, or the block's own limit (model 2, 6)"},
    {PART_TODAY,
     "et0_mm",
     "mm",
     "Penman-Monteith, summed over the hours of today",
     {{PART_TODAY, "temperature_max_c"},
      {PART_TODAY, "temperature_min_c"},
      {PART_TODAY, "weather_kind"}},
     "FAO-56 eq 53 with the constants of ASCE 2005 (model 3, 4)"},
    {PART_BLOCK,
     "use_today_l",
     "L a pot",
     "k_cal (K_s ET0 K_cb K_d A_ground + ET0 A_top K_r (0.9 (1 - c) + 0.6 c)), hour by hour",
     {{PART_TODAY, "et0_mm"}, {PART_BLOCK, "canopy_cm"}},
     "FAO-56 with the canopy and the bed of this block (model 5)"},
    {PART_BLOCK,
     "use_tomorrow_l",
     "L a pot",
     "the same with tomorrow's weather",
     {{PART_TOMORROW, "et0_mm"}, {PART_TOMORROW, "weather_kind"}},
     "FAO-56 with the canopy and the bed of this block (model 5)"},
    {PART_BLOCK,
     "water_l",
     "L a pot",
     "what was known + rain in + water kept - use, hour by hour since then, never above full",
     {{PART_BLOCK, "known_since"}, {PART_BLOCK, "known_how"}, {PART_BLOCK, "full_l"}},
     "weighings, runs, rain, touch checks (model 6)"},
    {PART_BLOCK,
     "depletion_l",
     "L a pot",
     "full - water",
     {{PART_BLOCK, "full_l"}, {PART_BLOCK, "water_l"}},
     "(model 6)"},
    {PART_BLOCK,
     "depletion_pct",
     "% of the available water",
     "depletion / available",
     {{PART_BLOCK, "depletion_l"}, {PART_BLOCK, "available_l"}},
     "(model 6)"},
    {PART_BLOCK,
     "driest_pct",
     "% of the available water",
     "the same of the bed's dry quarter, which gets the average dose times the uniformity",
     {{PART_BLOCK, "depletion_pct"}},
     "(model 6)"},
    {PART_BLOCK,
     "next_at",
     "",
     "the hour in which the dry quarter passes the refill point if nobody waters and no rain falls",
     {{PART_BLOCK, "driest_pct"},
      {PART_BLOCK, "refill_pct"},
      {PART_BLOCK, "use_today_l"},
      {PART_BLOCK, "use_tomorrow_l"},
      {PART_BLOCK, "next_from"},
      {PART_BLOCK, "next_to"}},
     "refill 25, 35 or 45 % by stage, or the block's own (model 8)"},
    {PART_RUN,
     "litres_pot",
     "L a pot",
     "what the leading block's average pot lacks to full at the run's hour, over the larger of "
     "leaching and uniformity",
     {{PART_RUN, "start"}, {PART_RUN, "reasons"}},
     "the plan (model 8)"},
    {PART_RUN,
     "minutes",
     "min",
     "litres a pot / what a pot gets a minute; overhead 60 x depth / application rate, emitters 60 "
     "x litres / (emitters x L/h)",
     {{PART_RUN, "litres_pot"}, {PART_RUN, "depth_mm"}, {PART_RUN, "pulses"}},
     "the zone's record (model 7)"},
    {PART_RUN,
     "litres",
     "L",
     "minutes x flow",
     {{PART_RUN, "minutes"}, {PART_RUN, "flow_l_min"}},
     "the zone's record (model 7)"},
};

static const json_t *named(const json_t *array, const char *id, const char *batch)
{
    for (size_t i = 0; i < json_array_size(array); i++) {
        const json_t *item = json_array_get(array, i);
        const char *own = json_string_value(json_object_get(item, "id"));
        const char *own_batch = json_string_value(json_object_get(item, "batch"));
        if (own && id && strcmp(own, id) == 0 &&
            (!batch || (own_batch && strcmp(own_batch, batch) == 0)))
            return item;
    }
    return NULL;
}

static const char *text_of(const json_t *object, const char *name)
{
    return json_string_value(json_object_get(object, name));
}

static bool find_parts(const json_t *plan, const char *block, const json_t *parts[PART_COUNT])
{
    const json_t *days = json_object_get(plan, "days");
    parts[PART_BLOCK] = named(json_object_get(plan, "blocks"), block, NULL);
    if (!parts[PART_BLOCK])
        return false;
    parts[PART_POT] = named(json_object_get(plan, "pots"), text_of(parts[PART_BLOCK], "pot"), NULL);
    /* A batch tested again comes several times: the block's own test. */
    const json_t *mixes = json_object_get(plan, "mixes");
    const char *tested = text_of(parts[PART_BLOCK], "mix_tested");
    for (size_t i = 0; i < json_array_size(mixes); i++) {
        const json_t *mix = json_array_get(mixes, i);
        const char *own = text_of(mix, "tested");
        if (!parts[PART_MIX] || (own && tested && strcmp(own, tested) == 0))
            parts[PART_MIX] = mix;
    }
    parts[PART_TODAY] = json_array_get(days, 0);
    parts[PART_TOMORROW] = json_array_get(days, 1);
    for (size_t d = 0; d < json_array_size(days) && !parts[PART_RUN]; d++)
        parts[PART_RUN] = json_array_get(json_object_get(json_array_get(days, d), "runs"), 0);
    return true;
}

static json_t *step_json(const struct step *step, const json_t *const parts[PART_COUNT])
{
    json_t *inputs = json_object();
    for (size_t i = 0; i < INPUTS_MAX && step->inputs[i].name; i++)
        json_object_set(inputs, step->inputs[i].name,
                        json_object_get(parts[step->inputs[i].part], step->inputs[i].name));
    return json_pack("{s:s, s:O, s:s, s:s, s:o, s:s}", "quantity", step->name, "value",
                     json_object_get(parts[step->part], step->name), "unit", step->unit, "formula",
                     step->formula, "inputs", inputs, "source", step->source);
}

json_t *working_of(const json_t *plan, const char *block)
{
    const json_t *parts[PART_COUNT] = {NULL};
    if (!find_parts(plan, block, parts))
        return NULL;
    json_t *list = json_array();
    for (size_t i = 0; i < sizeof steps / sizeof steps[0]; i++)
        /* Without a run in the plan its steps are left out. */
        if (json_object_get(parts[steps[i].part], steps[i].name) &&
            json_array_append_new(list, step_json(&steps[i], parts)) != 0) {
            json_decref(list);
            return NULL;
        }
    return json_pack("{s:s, s:O, s:O, s:o}", "block", block, "made_at",
                     json_object_get(plan, "made_at"), "made_at_s",
                     json_object_get(plan, "made_at_s"), "steps", list);
}
