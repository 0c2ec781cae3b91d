/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "balance.h"

#include <math.h>

double balance_top(const struct balance_pot *pot, double dry_top_l)
{
    double kr = 1.0;
    return demand_surface_reduction(&pot->surface, dry_top_l / pot->top_m2, &kr) == STATUS_OK ? kr
                                                                                              : 1.0;
}

double balance_stress(const struct balance_pot *pot, double depletion_l)
{
    double ks = (pot->available_l - depletion_l) / ((1.0 - pot->stress_p) * pot->available_l);
    return fmin(1.0, fmax(0.0, ks)); /* FAO-56 eq 84 */
}

double balance_retained(const struct delivery_intake *intake, double dose_l, double deficit_l)
{
    double share = 0.0;
    if (!(dose_l > 0.0) || !(deficit_l > 0.0) ||
        delivery_retained_share(intake, dose_l / deficit_l, &share) != STATUS_OK)
        return 0.0;
    return fmin(share * dose_l, deficit_l);
}

enum status balance_check(const struct balance_pot *pot)
{
    bool good = pot->ceiling_l > 0.0 && pot->ceiling_l <= 1e6 && pot->available_l > 0.0 &&
                pot->available_l <= pot->ceiling_l && pot->stress_p >= 0.0 && pot->stress_p < 1.0 &&
                pot->top_m2 > 0.0 && pot->top_m2 <= 100.0 && pot->surface.ready_mm >= 0.0 &&
                pot->surface.span_mm > 0.0 && pot->rain_l_mm >= 0.0 && pot->rain_l_mm <= 100.0 &&
                pot->foliage_mm >= 0.0 && pot->foliage_mm <= 10.0 && pot->dried_l >= 0.0 &&
                pot->repelled_l >= 0.0 && pot->repelled_l <= pot->ceiling_l;
    return good ? STATUS_OK : STATUS_RANGE;
}

/* Leaves hold back the first millimetres of a wet spell and are dry again after an hour without
 * rain by day or night [our choice: a spell ends with the first dry hour]. */
static double rain_through_leaves(const struct balance_pot *pot, double rain_mm,
                                  struct balance_state *state)
{
    if (!(rain_mm > 0.0)) {
        state->leaf_mm = pot->foliage_mm;
        return 0.0;
    }
    double held = fmin(state->leaf_mm, rain_mm);
    state->leaf_mm -= held;
    return rain_mm - held;
}

void balance_wet_hour(const struct balance_pot *pot, double rain_mm, double dose_l, double used_l,
                      struct balance_state *state, struct balance_sums *sums)
{
    double rain_l = rain_through_leaves(pot, rain_mm, state) * pot->rain_l_mm;
    double most_l = state->repels ? fmax(pot->repelled_l, state->water_l) : pot->ceiling_l;
    double deficit_l = fmax(0.0, most_l - state->water_l);
    double kept_l = balance_retained(&pot->intake, dose_l, deficit_l);
    if (dose_l > 0.0)
        state->filled = kept_l >= deficit_l * (1.0 - 1e-9);
    double with_in = state->water_l + kept_l + rain_l;
    double used = fmin(used_l, with_in);
    double after = with_in - used;
    double spilled = fmax(0.0, after - most_l);
    if (dose_l + rain_l > pot->top_m2) /* more than 1 mm on the top wets it again */
        state->dry_top_l = 0.0;
    state->water_l = after - spilled;
    sums->in_l += rain_l + dose_l;
    sums->used_l += used;
    sums->drained_l += spilled + (dose_l - kept_l);
}
