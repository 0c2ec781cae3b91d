/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Any bytes as a bench test. A text that starts with 'bench ', 'retention ' or 'pot ' goes through
 * the desk calculator; anything else is taken as the numbers of a set of tests and points and of a
 * pot. Whatever comes in: an answer that closes or a refusal, never NaN, no endless loop.
 */
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "core/bench_set.h"
#include "core/judge.h"
#include "core/pot.h"
#include "daemon/reckon.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size);

static void bench_need(int truth)
{
    if (!truth)
        abort();
}

/* --- as text -------------------------------------------------------------------------------- */

/* One line, ended. */
static int is_one_line(const char *text)
{
    const char *end = strchr(text, '\n');
    return end && end[1] == '\0';
}

static void bench_reckon(char *text)
{
    enum { WORDS = 48 };
    static char out[1 << 16];
    static char err[1 << 13];
    char *argv[WORDS];
    int argc = 0;
    char *rest = text;
    for (char *word = strsep(&rest, " \n"); word && argc < WORDS; word = strsep(&rest, " \n"))
        if (*word)
            argv[argc++] = word;
    memset(out, 0, sizeof out);
    memset(err, 0, sizeof err);
    FILE *out_file = fmemopen(out, sizeof out - 1, "w");
    FILE *err_file = fmemopen(err, sizeof err - 1, "w");
    bench_need(out_file && err_file);
    int code = reckon_run(argc, argv, out_file, err_file);
    fclose(out_file);
    fclose(err_file);
    bench_need(code == 0 || code == 2);
    bench_need(code == 0 ? out[0] && !err[0] : !out[0] && is_one_line(err));
    bench_need(!strstr(out, " nan ") && !strstr(out, " inf ") && !strstr(out, " -nan "));
}

static int is_text(const uint8_t *bytes, size_t size)
{
    static const char *const topics[] = {"bench ", "retention ", "pot "};
    for (size_t i = 0; i < 3; i++)
        if (size >= strlen(topics[i]) && memcmp(bytes, topics[i], strlen(topics[i])) == 0)
            return 1;
    return 0;
}

/* --- as numbers ----------------------------------------------------------------------------- */

struct source {
    const uint8_t *bytes;
    size_t left;
};

static uint8_t next_byte(struct source *from)
{
    if (from->left == 0)
        return 0;
    from->left--;
    return *from->bytes++;
}

/* Half of the numbers are raw doubles, half are steps of 0.05 that a bench would show. */
static double next_number(struct source *from)
{
    uint8_t kind = next_byte(from);
    if (kind & 1) {
        double raw = 0;
        if (from->left < sizeof raw)
            return 0;
        memcpy(&raw, from->bytes, sizeof raw);
        from->bytes += sizeof raw;
        from->left -= sizeof raw;
        return raw;
    }
    return 0.05 * (next_byte(from) + 256 * (kind >> 3));
}

static void next_test(struct source *from, struct bench_test *test)
{
    uint8_t given = next_byte(from);
    memset(test, 0, sizeof *test);
    test->vessel_height_cm = next_number(from);
    test->vessel_volume_ml = next_number(from);
    test->replicates = next_byte(from) % 5;
    for (size_t i = 0; i < test->replicates; i++)
        test->drained_ml[i] = next_number(from);
    if (given & 1) {
        test->vessel_top_cm = next_number(from);
        test->vessel_bottom_cm = next_number(from);
    }
    if (given & 2) {
        test->settled_volume_ml = next_number(from);
        test->settled_height_cm = next_number(from);
    }
    if (given & 4) {
        test->mass_saturated_g = next_number(from);
        test->mass_drained_g = next_number(from);
        test->mass_dry_g = next_number(from);
    }
    if (given & 8)
        test->total_porosity = next_number(from) / 100;
    if (given & 16)
        test->drain_time_min = next_number(from);
    test->inverse_taper = given & 32;
    test->class_id = (enum bench_class)(next_byte(from) % 9);
}

static void check_fit(const struct bench_fit *fit)
{
    bench_need(retention_check(&fit->curve) == STATUS_OK);
    bench_need(fit->air_space >= 0 && fit->air_space <= 1 && fit->total_porosity <= 1);
    bench_need(fabs(fit->air_space + fit->container_capacity - fit->total_porosity) < 1e-9);
    bench_need(fit->air_space_se >= 0 && fit->air_space_se <= 1);
    bench_need(fit->total_porosity_sd >= 0 && fit->total_porosity_sd <= 1);
}

static void check_pot(struct source *from, const struct bench_fit *fit)
{
    struct pot_shape shape = {.form = (enum pot_form)(next_byte(from) & 1), .inverse_taper = true};
    struct pot_figures f;
    struct judge_finding findings[JUDGE_FINDINGS_MAX];
    size_t count = 0;
    double fill = 0;
    shape.top_cm = next_number(from);
    shape.bottom_cm = next_number(from);
    shape.fill_height_cm = next_number(from);
    shape.height_cm = next_number(from);
    shape.volume_l = next_number(from);
    shape.base_cm = next_number(from) - 5;
    if (pot_at_capacity(&shape, &fit->curve, fit, next_number(from) / 100, &f) != STATUS_OK)
        return;
    bench_need(f.air_space >= 0 && f.air_space <= 1 && f.water_l >= 0 && f.available_l >= 0);
    bench_need(f.air_space_sd >= 0 && f.air_space_sd <= .5);
    bench_need(fabs(f.air_space + f.capacity - f.total_porosity) < 1e-9);
    bench_need(f.wet_layer_cm >= f.saturated_layer_cm && f.wet_layer_cm <= shape.fill_height_cm);
    bench_need(judge_pot(&shape, &f, fit, JUDGE_GROWING_ON, findings, &count) == STATUS_OK);
    bench_need(count >= 1 && count <= JUDGE_FINDINGS_MAX);
    if (pot_least_fill_cm(&shape, &fit->curve, next_number(from) / 100, &fill) == STATUS_OK)
        bench_need(fill >= 1 && fill <= 100);
}

static void bench_numbers(const uint8_t *bytes, size_t size)
{
    struct source from = {bytes, size};
    struct bench_test tests[3];
    struct bench_point points[8];
    struct bench_fit fit;
    uint8_t shape = next_byte(&from);
    struct bench_set set = {.tests = tests,
                            .test_count = shape & 3,
                            .points = points,
                            .point_count = (shape >> 2) & 7,
                            .class_id = (enum bench_class)(next_byte(&from) % 9)};
    for (size_t i = 0; i < set.test_count; i++)
        next_test(&from, &tests[i]);
    for (size_t i = 0; i < set.point_count; i++) {
        points[i].suction_cm = next_number(&from);
        points[i].theta = next_number(&from) / 100;
        points[i].theta_sd = next_number(&from) / 1000;
    }
    if (shape & 32)
        set.total_porosity = next_number(&from) / 100;
    if (set.test_count > 0 && bench_fit_one(&tests[0], &fit) == STATUS_OK) {
        check_fit(&fit);
        check_pot(&from, &fit);
    }
    if (bench_set_fit(&set, &fit) == STATUS_OK) {
        check_fit(&fit);
        check_pot(&from, &fit);
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size)
{
    if (size > 2048)
        return 0;
    if (!is_text(bytes, size)) {
        bench_numbers(bytes, size);
        return 0;
    }
    char *text = malloc(size + 1);
    bench_need(text != NULL);
    memcpy(text, bytes, size);
    text[size] = '\0';
    bench_reckon(text);
    free(text);
    return 0;
}
