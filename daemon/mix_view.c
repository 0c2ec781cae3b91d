/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "mix_view.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

static const char *path_name(enum bench_path path)
{
    static const char *const names[] = {"one_vessel", "several", "one_point", "table"};
    return names[path];
}

static const char *code_name(enum judge_code code)
{
    static const char *const names[] = {
        "too_wet",           "rather_wet",  "fit",         "rather_dry", "too_dry",     "root_rot",
        "root_rot_possible", "near_anoxic", "water_often", "vessel_far", "beyond_range"};
    return names[code];
}

static const struct {
    unsigned doubt;
    const char *name;
} doubts[] = {{BENCH_ONE_REPLICATE, "one_replicate"},
              {BENCH_POROSITY_ASSUMED, "porosity_assumed"},
              {BENCH_RESIDUAL_LOWERED, "residual_lowered"},
              {BENCH_REPLICATES_DIFFER, "replicates_differ"},
              {BENCH_SETTLED, "settled"},
              {BENCH_POROSITY_HIGH, "porosity_high"},
              {BENCH_OUTLIER, "outlier"},
              {BENCH_DRAINED_SHORT, "drained_short"},
              {BENCH_AIR_TRAPPED, "air_trapped"},
              {BENCH_MASSES_DISAGREE, "masses_disagree"},
              {BENCH_WIDTHS_DISAGREE, "widths_disagree"}};

/* Rounded; null when not finite. */
static json_t *figure(double value, int places)
{
    double scale = pow(10.0, places);
    return isfinite(value) ? json_real(round(value * scale) / scale) : json_null();
}

static json_t *finding_json(const struct judge_finding *finding)
{
    bool air = finding->code != JUDGE_VESSEL_FAR && finding->code != JUDGE_BEYOND_RANGE;
    double unit = air ? 100.0 : 1.0;
    return json_pack("{s:s, s:o, s:o, s:o, s:o, s:o, s:o}", "code", code_name(finding->code),
                     "value", figure(unit * finding->value, 1), "value_sd",
                     figure(unit * finding->value_sd, 1), "from", figure(unit * finding->from, 1),
                     "to", figure(unit * finding->to, 1), "height_cm",
                     figure(finding->height_cm, 1), "chance", figure(finding->chance, 2));
}

static json_t *findings_json(const struct pot_shape *shape, const struct pot_figures *figures,
                             const struct bench_fit *fit,
                             json_t *(*item)(const struct judge_finding *))
{
    struct judge_finding findings[JUDGE_FINDINGS_MAX];
    size_t count = 0;
    json_t *array = json_array();
    if (judge_pot(shape, figures, fit, JUDGE_GROWING_ON, findings, &count) != STATUS_OK)
        count = 0;
    for (size_t i = 0; i < count; i++)
        if (json_array_append_new(array, item(&findings[i])) != 0) {
            json_decref(array);
            return NULL;
        }
    return array;
}

static json_t *code_json(const struct judge_finding *finding)
{
    return json_string(code_name(finding->code));
}

json_t *mix_view_codes(const struct pot_shape *shape, const struct pot_figures *figures,
                       const struct bench_fit *fit)
{
    return findings_json(shape, figures, fit, code_json);
}

static json_t *pot_json(const struct records *records, size_t mix, size_t pot)
{
    const struct bench_fit *fit = &records->nursery.mixes[mix];
    const struct pot_shape *shape = &records->nursery.pots[pot];
    struct pot_figures f;
    if (pot_at_capacity(shape, &fit->curve, fit, 0.0, &f) != STATUS_OK)
        return json_pack("{s:s}", "pot", records->pots[pot].id);
    return json_pack(
        "{s:s, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o}", "pot", records->pots[pot].id,
        "air_pct", figure(100.0 * f.air_space, 1), "air_sd_pct", figure(100.0 * f.air_space_sd, 1),
        "capacity_pct", figure(100.0 * f.capacity, 1), "water_l", figure(f.water_l, 4),
        "available_l", figure(f.available_l, 4), "easily_available_l",
        figure(f.easily_available_l, 4), "buffer_l", figure(f.buffer_l, 4), "saturated_layer_cm",
        figure(f.saturated_layer_cm, 1), "wet_layer_cm", figure(f.wet_layer_cm, 1), "findings",
        findings_json(shape, &f, fit, finding_json));
}

/* The mix in a straight 12 cm vessel, where the usual bands belong. */
static json_t *judged(const struct bench_fit *fit, enum judge_use use)
{
    struct judge_finding finding;
    if (judge_mix(fit, use, &finding) != STATUS_OK)
        return json_null();
    return finding_json(&finding);
}

json_t *mix_view_json(const struct records *records, size_t mix)
{
    const struct bench_fit *fit = &records->nursery.mixes[mix];
    const struct records_mix_label *label = &records->mixes[mix];
    json_t *pots = json_array();
    json_t *doubt_list = json_array();
    int failed = !pots || !doubt_list;
    for (size_t p = 0; p < records->nursery.pot_count && !failed; p++)
        failed = json_array_append_new(pots, pot_json(records, mix, p));
    for (size_t d = 0; d < sizeof doubts / sizeof doubts[0] && !failed; d++)
        if (fit->doubts & doubts[d].doubt)
            failed = json_array_append_new(doubt_list, json_string(doubts[d].name));
    if (failed) {
        json_decref(pots);
        json_decref(doubt_list);
        return NULL;
    }
    return json_pack(
        "{s:s, s:s, s:s, s:s, s:s, s:s, s:o, s:o, s:o, s:o, s:o, s:i, s:o, s:o, s:o, s:o, s:o, s:o,"
        " s:o, s:o}",
        "id", label->label.id, "name", label->label.name, "batch", label->batch, "tested",
        label->tested, "class", bench_prior_of(fit->class_id)->name, "path", path_name(fit->path),
        "air_pct", figure(100.0 * fit->air_space, 1), "air_se_pct",
        figure(100.0 * fit->air_space_se, 1), "total_porosity_pct",
        figure(100.0 * fit->total_porosity, 1), "capacity_pct",
        figure(100.0 * fit->container_capacity, 1), "vessel_height_cm",
        figure(fit->vessel_height_cm, 1), "replicates", (int)fit->replicates, "theta_s",
        figure(fit->curve.theta_s, 4), "theta_r", figure(fit->curve.theta_r, 4), "alpha_per_cm",
        figure(fit->curve.alpha_per_cm, 5), "n", figure(fit->curve.n, 4), "doubts", doubt_list,
        "growing_on", judged(fit, JUDGE_GROWING_ON), "propagation", judged(fit, JUDGE_PROPAGATION),
        "pots", pots);
}

static const char *verdict(const struct pot_shape *shape, const struct pot_figures *figures,
                           const struct bench_fit *fit)
{
    struct judge_finding findings[JUDGE_FINDINGS_MAX];
    size_t count = 0;
    if (judge_pot(shape, figures, fit, JUDGE_GROWING_ON, findings, &count) != STATUS_OK ||
        count == 0)
        return "-";
    for (size_t i = 1; i < count; i++)
        if (findings[i].code == JUDGE_ROOT_ROT || findings[i].code == JUDGE_NEAR_ANOXIC)
            return "too wet: root rot";
    switch (findings[0].code) {
    case JUDGE_TOO_WET:
        return "too wet";
    case JUDGE_RATHER_WET:
        return "rather wet";
    case JUDGE_FIT:
        return "fit";
    default: /* the other verdicts; findings that come with one are not first */
        return "fit, waters more often";
    }
}

static void print_mix(const struct records *records, size_t mix, FILE *out)
{
    const struct bench_fit *fit = &records->nursery.mixes[mix];
    const struct records_mix_label *label = &records->mixes[mix];
    fprintf(out,
            "\n%s%s%s, tested %s, %s: air %.1f +- %.1f %% in its %.1f cm vessel, pores %.1f %%",
            label->label.id, label->batch[0] ? " / " : "", label->batch, label->tested,
            bench_prior_of(fit->class_id)->name, 100.0 * fit->air_space, 100.0 * fit->air_space_se,
            fit->vessel_height_cm, 100.0 * fit->total_porosity);
    for (size_t d = 0; d < sizeof doubts / sizeof doubts[0]; d++)
        if (fit->doubts & doubts[d].doubt)
            fprintf(out, "; %s", doubts[d].name);
    fputs("\n  pot               depth   volume   air +- sd   water  usable  wet layer\n", out);
    for (size_t p = 0; p < records->nursery.pot_count; p++) {
        const struct pot_shape *shape = &records->nursery.pots[p];
        struct pot_figures f;
        if (pot_at_capacity(shape, &fit->curve, fit, 0.0, &f) != STATUS_OK) {
            fprintf(out, "  %-16s cannot be worked out\n", records->pots[p].id);
            continue;
        }
        fprintf(out, "  %-16s %4.1f cm %6.2f l %5.1f +- %-4.1f %5.2f l %5.2f l   %4.1f cm   %s\n",
                records->pots[p].id, shape->fill_height_cm, f.volume_l, 100.0 * f.air_space,
                100.0 * f.air_space_sd, f.water_l, f.available_l, f.wet_layer_cm,
                verdict(shape, &f, fit));
    }
}

char *mix_view_table(const struct records *records)
{
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    if (!out)
        return NULL;
    fputs("What each mix holds in each pot at container capacity: air in per cent of the pot with "
          "one\nstandard deviation, water and what plants can use of it in litres, the layer over "
          "the holes with\nunder 10 % air. Judged for growing on.\n",
          out);
    for (size_t m = 0; m < records->nursery.mix_count; m++)
        print_mix(records, m, out);
    if (records->nursery.mix_count == 0)
        fputs("\nno mix has a bench test yet\n", out);
    if (fclose(out) != 0) {
        free(text);
        return NULL;
    }
    return text;
}
