/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the model's steps cost: nanoseconds, and times the cost of one pow() measured in the same
 * run, so that figures from two machines can be laid side by side. Prints; judges nothing.
 */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include "core/bench.h"
#include "core/demand.h"
#include "core/et0.h"
#include "core/pot.h"

static const struct sun_site site = {52.1, 5.2, 3};

/* One call each; the return value keeps the work from being dropped. */
typedef double (*step_fn)(int i);

static double step_pow(int i)
{
    return pow(1.5 + i % 7, 0.37);
}

static double step_et0(int i)
{
    struct et0_hour_in in = {
        1751025600 + 3600 * (i % 24), 22, 1.6, 2.5, 1.5, 0.7, ET0_ASCE2005, {1, 0, false}};
    struct et0_hour_out out = {0};
    return et0_of_hour(&site, &in, &out) == STATUS_OK ? out.et0_mm : NAN;
}

static double step_use(int i)
{
    const struct demand_plant plant = {0.09, 28, 0.35, 20, 2, 1};
    const struct demand_climate climate = {2.5, 40 + i % 5};
    const struct demand_reductions reductions = {1, 1, 1};
    struct demand_factors factors;
    struct demand_use use;
    if (demand_factors_of(&plant, &climate, &factors) != STATUS_OK ||
        demand_use_of(&factors, plant.ground_m2, 0.4, &reductions, &use) != STATUS_OK)
        return NAN;
    return use.use_l;
}

static enum status fit(int i, struct bench_fit *out)
{
    const struct bench_test test = {.vessel_height_cm = 12,
                                    .vessel_volume_ml = 1000,
                                    .drained_ml = {210 + i % 3, 205, 214},
                                    .replicates = 3,
                                    .class_id = BENCH_BARK_AGED};
    return bench_fit_one(&test, out);
}

static double step_fit(int i)
{
    struct bench_fit out;
    return fit(i, &out) == STATUS_OK ? out.curve.alpha_per_cm : NAN;
}

static double step_pot(int i)
{
    static const struct pot_shape shape = {.top_cm = 16, .bottom_cm = 12, .fill_height_cm = 15};
    struct pot_figures figures;
    struct bench_fit out;
    if (fit(i, &out) != STATUS_OK ||
        pot_at_capacity(&shape, &out.curve, NULL, 0, &figures) != STATUS_OK)
        return NAN;
    return figures.water_l;
}

struct step {
    const char *name;
    step_fn run;
    int times;
};

static const struct step steps[] = {
    {"pow(), the yardstick", step_pow, 4000000},
    {"reference ET of one hour", step_et0, 400000},
    {"factors and use of one pot and hour", step_use, 400000},
    {"bench test to curve", step_fit, 1000},
    {"bench test to curve, then a pot filled", step_pot, 1000},
};

static double now_ns(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return 1e9 * (double)t.tv_sec + (double)t.tv_nsec;
}

/* Best of five, so that a busy machine disturbs less. */
static double cost_ns(const struct step *step, double *sum)
{
    double best = INFINITY;
    for (int round = 0; round < 5; round++) {
        double began = now_ns();
        for (int i = 0; i < step->times; i++)
            *sum += step->run(i);
        best = fmin(best, (now_ns() - began) / step->times);
    }
    return best;
}

int main(void)
{
    double sum = 0;
    double yardstick = 0;
    printf("%-42s %12s %12s\n", "", "ns", "x pow()");
    for (size_t i = 0; i < sizeof steps / sizeof steps[0]; i++) {
        double ns = cost_ns(&steps[i], &sum);
        if (i == 0)
            yardstick = ns;
        printf("%-42s %12.1f %12.1f\n", steps[i].name, ns, ns / yardstick);
    }
    return isfinite(sum) ? EXIT_SUCCESS : EXIT_FAILURE;
}
