/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The wall card: minutes by reference ET alone, from the same sizing as the plan's. */
#include "plan_work.h"

#include <math.h>

enum { DAY_H = 24, DAWN_H = 6, LIGHT_H = 12 };

/* The standard day of FAO-56: wind and lowest humidity for which crop coefficients are given. */
static const struct plan_climate standard = {2.0, 45.0};

/* An hour's share of the day's reference ET: half a sine from six to six. */
static double share_of_hour(int hour)
{
    double sum = 0.0;
    if (hour < DAWN_H || hour >= DAWN_H + LIGHT_H)
        return 0.0;
    for (int h = 0; h < LIGHT_H; h++)
        sum += sin((h + 0.5) / LIGHT_H * M_PI);
    return sin((hour - DAWN_H + 0.5) / LIGHT_H * M_PI) / sum;
}

/* Reference ET under a cover beside that outside, over the hours at hand. */
static double cover_ratio(const struct plan_context *context, size_t cover)
{
    double open_mm = 0.0;
    double under_mm = 0.0;
    if (cover == NURSERY_NONE)
        return 1.0;
    for (size_t h = 0; h < context->hour_count; h++) {
        open_mm += context->skies[0].et0_mm[h];
        under_mm += context->skies[cover + 1].et0_mm[h];
    }
    return open_mm > 0.0 ? under_mm / open_mm : 1.0;
}

/* A pot as it dries from full, from dawn on, on days that are all alike. */
struct drying {
    double lacks_l[PLAN_CARD_DAYS + 1]; /* after so many days */
    double stress_h;                    /* NAN: not within them */
};

static struct drying dry_out(const struct planning *p, const struct plan_work *work, double et0_mm)
{
    struct drying drying = {.stress_h = NAN};
    struct balance_state state = {.water_l = work->pot.ceiling_l};
    struct balance_sums sums = {0};
    double limit_l = work->pot.stress_p * work->pot.available_l;
    double under_mm = et0_mm * cover_ratio(&p->context, work->now->cover);
    for (int h = 0; h < PLAN_CARD_DAYS * DAY_H; h++) {
        double before_l = work->pot.ceiling_l - state.water_l;
        balance_hour(&work->pot, &work->rates, under_mm * share_of_hour((h + DAWN_H) % DAY_H), 0.0,
                     0.0, &state, &sums);
        double lacks_l = work->pot.ceiling_l - state.water_l;
        if (isnan(drying.stress_h) && lacks_l >= limit_l)
            drying.stress_h =
                h + (lacks_l > before_l ? (limit_l - before_l) / (lacks_l - before_l) : 0.0);
        if ((h + 1) % DAY_H == 0)
            drying.lacks_l[(h + 1) / DAY_H] = lacks_l;
    }
    return drying;
}

static bool counts(const struct planning *p, const struct plan_work *work)
{
    return work->now->pots > 0.0 && plan_decides(p, work);
}

/* Days that the zone's first block lasts before it is due. */
static int days_between(const struct planning *p, size_t zone, double et0_mm, bool *twice)
{
    int every_d = PLAN_CARD_DAYS;
    *twice = false;
    for (size_t b = p->zones[zone].first_block; b != NURSERY_NONE; b = p->works[b].next) {
        const struct plan_work *work = &p->works[b];
        int d = 1;
        if (!counts(p, work))
            continue;
        const struct drying drying = dry_out(p, work, et0_mm);
        while (d < every_d && drying.lacks_l[d + 1] <= work->refill_l)
            d++;
        every_d = d < every_d ? d : every_d;
        *twice |= drying.stress_h < DAY_H;
    }
    return every_d;
}

/* The block as it is after so many days, with what it lacks then. */
static struct plan_work dried(const struct planning *p, const struct plan_work *work, double et0_mm,
                              int days)
{
    struct plan_work then = *work;
    const struct drying drying = dry_out(p, work, et0_mm);
    then.average.state.water_l = work->pot.ceiling_l - drying.lacks_l[days];
    return then;
}

/* As the plan sizes a run: the blocks that would be due before the next time get what they lack. */
static double minutes_of(const struct planning *p, size_t zone, double et0_mm,
                         struct plan_card_cell *cell)
{
    const struct nursery_zone *z = &p->context.nursery->zones[zone];
    double minutes = 0.0;
    double litres = 0.0;
    for (size_t b = p->zones[zone].first_block; b != NURSERY_NONE; b = p->works[b].next) {
        const struct plan_work *work = &p->works[b];
        const struct plan_work then = dried(p, work, et0_mm, cell->every_d);
        const struct plan_work later = dried(
            p, work, et0_mm, cell->every_d < PLAN_CARD_DAYS ? cell->every_d + 1 : PLAN_CARD_DAYS);
        /* Full pots are the start: no soak is due. */
        const struct plan_request request = {.zone = zone, .from_s = work->soaked_s};
        litres += work->now->pots * plan_own_dose_l(p, &request, &then);
        if (!counts(p, work) || plan_lacks_l(&later) <= work->refill_l)
            continue;
        double needs = plan_minutes_for(p, z, &then, plan_lacks_l(&then));
        if (cell->block == NURSERY_NONE || needs > minutes) {
            minutes = needs;
            cell->block = b;
        }
    }
    return z->method == DELIVERY_SUBIRRIGATION || z->method == DELIVERY_HAND
               ? litres / z->flow_l_min
               : minutes;
}

static int most_minutes(const struct nursery_zone *zone)
{
    double most = TIMETABLE_MINUTES;
    if (zone->most_min_day > 0.0)
        most = fmin(most, zone->most_min_day);
    if (zone->most_l_day > 0.0)
        most = fmin(most, zone->most_l_day / zone->flow_l_min);
    return (int)floor(most);
}

/* Two halves of a day's water begin so far apart at least [our choice]; the hours of a zone on one
 * day that are looked at. */
static const int64_t halves_apart_s = 6 * CIVIL_HOUR_S;
enum { HOURS_MOST = 16, WEEK_D = 7 };

/* Minutes from the first open to the last closed that the hours of a day have room for: one time,
 * and each of two times apart. */
struct room {
    int once_min, half_min;
};

static struct room room_of(const struct plan_opening *hours, size_t count)
{
    int64_t once_s = 0;
    int64_t half_s = 0;
    for (size_t i = 0; i < count; i++) {
        int64_t length_s = hours[i].end_s - hours[i].start_s;
        once_s = length_s > once_s ? length_s : once_s;
        for (size_t j = 0; j < count; j++) {
            int64_t other_s = hours[j].end_s - hours[j].start_s;
            int64_t each_s = hours[j].end_s - hours[i].start_s - halves_apart_s;
            each_s = length_s < each_s ? length_s : each_s;
            each_s = other_s < each_s ? other_s : each_s;
            half_s = each_s > half_s ? each_s : half_s;
        }
    }
    return (struct room){(int)(once_s / 60), (int)(half_s / 60)};
}

/* On the day of the week that has least; a zone without any hours is not bound by them. */
static struct room least_room(const struct planning *p, size_t zone)
{
    struct room least = {TIMETABLE_MINUTES, TIMETABLE_MINUTES};
    int64_t tomorrow = p->context.first_day + (int64_t)p->context.today + 1;
    for (int64_t day = tomorrow; day < tomorrow + WEEK_D; day++) {
        struct plan_opening hours[HOURS_MOST];
        size_t count = plan_hours_on(p->context.nursery, zone, day, hours, HOURS_MOST);
        const struct room room = room_of(hours, count);
        if (count > 0 && room.once_min < least.once_min)
            least.once_min = room.once_min;
        if (count > 0 && room.half_min < least.half_min)
            least.half_min = room.half_min;
    }
    return least;
}

/* Minutes of water, at most those asked for, whose pulses and pauses have room. */
static int fitting(const struct planning *p, const struct nursery_zone *zone,
                   const struct plan_request *asked, int minutes, int room_min)
{
    struct plan_request request = *asked;
    for (request.minutes = minutes; request.minutes > 1; request.minutes--) {
        const struct timetable_run shape = plan_shape_of(p, zone, &request);
        if (timetable_span_min(&shape) <= room_min)
            break;
    }
    return request.minutes;
}

/* What the zone's hours leave of what its pots would want. */
static void fit_hours(const struct planning *p, size_t zone, struct plan_request *request,
                      struct plan_card_cell *cell)
{
    const struct nursery_zone *z = &p->context.nursery->zones[zone];
    const struct room room = least_room(p, zone);
    int half = (request->minutes + 1) / 2;
    int once = fitting(p, z, request, request->minutes, room.once_min);
    int each = cell->twice ? fitting(p, z, request, half, room.half_min) : 0;
    if (cell->twice && each == half)
        return;
    if (once == request->minutes) {
        cell->hours = cell->twice ? PLAN_CARD_ONCE : PLAN_CARD_FITS;
        cell->twice = false;
        return;
    }
    cell->hours = PLAN_CARD_SHORT;
    cell->twice &= 2 * each > once;
    request->minutes = cell->twice ? 2 * each : once;
}

static struct plan_card_cell cell_of(const struct planning *p, size_t zone, double et0_mm)
{
    const struct nursery_zone *z = &p->context.nursery->zones[zone];
    struct plan_card_cell cell = {.block = NURSERY_NONE, .every_d = 1, .depth_mm = NAN};
    bool planted = false;
    for (size_t b = p->zones[zone].first_block; b != NURSERY_NONE; b = p->works[b].next)
        planted |= counts(p, &p->works[b]);
    if (!planted)
        return cell;
    cell.every_d = days_between(p, zone, et0_mm, &cell.twice);
    int minutes = (int)ceil(fmin(minutes_of(p, zone, et0_mm, &cell), TIMETABLE_MINUTES) - 1e-9);
    int least = plan_least_minutes(z);
    minutes = minutes < least ? least : minutes < 1 ? 1 : minutes;
    struct plan_request request = {
        .minutes = minutes, .most_minutes = most_minutes(z), .order = NURSERY_NONE};
    cell.cut = minutes > request.most_minutes;
    if (cell.cut)
        request.minutes = request.most_minutes;
    fit_hours(p, zone, &request, &cell);
    const struct timetable_run shape = plan_shape_of(p, z, &request);
    cell.pulses = shape.pulses;
    cell.pulse_min = shape.pulse_min;
    cell.pause_min = shape.pulses > 1 ? shape.pause_min : 0;
    cell.minutes = shape.pulses * shape.pulse_min;
    cell.litres = cell.minutes * z->flow_l_min;
    if (z->method == DELIVERY_OVERHEAD)
        cell.depth_mm = z->rate_mm_h * cell.minutes / 60.0;
    return cell;
}

/* The rates of a standard day, with the canopy and roots of today. */
static enum status stand_standard(struct planning *p, size_t *culprit)
{
    p->context.climate[p->context.today] = standard;
    for (size_t b = 0; b < p->context.nursery->block_count; b++) {
        enum status status = plan_stand_day(&p->context, p->context.today, &p->works[b]);
        if (status != STATUS_OK) {
            *culprit = b;
            return status;
        }
    }
    return STATUS_OK;
}

enum status plan_card(const struct plan_input *input, void *room, const double *et0_mm,
                      size_t count, struct plan_card_cell *cells, double *safe_h, size_t *culprit)
{
    struct planning p = {.result = NULL};
    *culprit = NURSERY_NONE;
    for (size_t i = 0; i < count; i++)
        if (!(et0_mm[i] > 0.0 && et0_mm[i] <= 15.0))
            return STATUS_RANGE;
    enum status status = plan_open(input, room, &p, culprit);
    if (status == STATUS_OK)
        status = stand_standard(&p, culprit);
    if (status != STATUS_OK)
        return status;
    for (size_t z = 0; z < input->nursery->zone_count; z++)
        for (size_t i = 0; i < count; i++)
            cells[z * count + i] = cell_of(&p, z, et0_mm[i]);
    for (size_t b = 0; b < input->nursery->block_count; b++)
        for (size_t i = 0; i < count; i++)
            safe_h[b * count + i] =
                p.works[b].now->pots > 0.0 ? dry_out(&p, &p.works[b], et0_mm[i]).stress_h : NAN;
    return STATUS_OK;
}
