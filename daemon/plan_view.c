/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "plan_view.h"

#include <stddef.h>
#include <stdio.h>

static const struct plan_word words[PLAN_CODES] = {
    [PLAN_PASSES_REFILL] = {"passes_refill",
                            PLAN_INFO,
                            {{"block", PLAN_MEMBER_BLOCK},
                             {"at", PLAN_MEMBER_AT},
                             {"next_window", PLAN_MEMBER_UNTIL}}},
    [PLAN_SIZED_FOR] = {"sized_for", PLAN_INFO, {{"block", PLAN_MEMBER_BLOCK}}},
    [PLAN_EVENS_BED] = {"evens_bed", PLAN_INFO, {{0}}},
    [PLAN_LEAST_RUN] = {"least_run", PLAN_INFO, {{"minutes", PLAN_MEMBER_A}}},
    [PLAN_CUT_TO_DAY_LIMIT] = {"cut_to_day_limit",
                               PLAN_WATCH,
                               {{"minutes", PLAN_MEMBER_A}, {"wanted_minutes", PLAN_MEMBER_B}}},
    [PLAN_WINDY_HOURS] = {"windy_hours", PLAN_WATCH, {{0}}},
    [PLAN_STILL_WET] = {"still_wet", PLAN_INFO, {{"block", PLAN_MEMBER_BLOCK}}},
    [PLAN_WAITS_FOR_RAIN] = {"waits_for_rain", PLAN_INFO, {{"rain_mm", PLAN_MEMBER_A}}},
    [PLAN_NO_PLANTS] = {"no_plants", PLAN_INFO, {{0}}},
    [PLAN_NO_WINDOW] = {"no_window", PLAN_WATCH, {{0}}},
    [PLAN_SUPPLY_FULL] = {"supply_full",
                          PLAN_ACT,
                          {{"flow_l_min", PLAN_MEMBER_A}, {"minutes_more", PLAN_MEMBER_B}}},
    [PLAN_WINDOW_SHORT] = {"window_short",
                           PLAN_ACT,
                           {{"minutes", PLAN_MEMBER_A}, {"allowed_minutes", PLAN_MEMBER_B}}},
    [PLAN_SUPPLY_DAY_LIMIT] = {"supply_day_limit",
                               PLAN_ACT,
                               {{"litres", PLAN_MEMBER_A}, {"limit_l", PLAN_MEMBER_B}}},
    [PLAN_AIR_LOW_IN_POT] = {"air_low_in_pot",
                             PLAN_WATCH,
                             {{"block", PLAN_MEMBER_BLOCK},
                              {"air_pct", PLAN_MEMBER_A},
                              {"least_fill_cm", PLAN_MEMBER_B}}},
    [PLAN_MORE_THAN_DAILY] = {"more_than_daily",
                              PLAN_WATCH,
                              {{"block", PLAN_MEMBER_BLOCK},
                               {"zone", PLAN_MEMBER_ZONE},
                               {"interval_h", PLAN_MEMBER_A},
                               {"blocks", PLAN_MEMBER_B}}},
    [PLAN_PASSES_STRESS] = {"passes_stress",
                            PLAN_ACT,
                            {{"block", PLAN_MEMBER_BLOCK},
                             {"zone", PLAN_MEMBER_ZONE},
                             {"at", PLAN_MEMBER_AT},
                             {"blocks", PLAN_MEMBER_A}}},
    [PLAN_STRAINED] = {"strained",
                       PLAN_WATCH,
                       {{"block", PLAN_MEMBER_BLOCK},
                        {"zone", PLAN_MEMBER_ZONE},
                        {"at", PLAN_MEMBER_AT},
                        {"blocks", PLAN_MEMBER_A}}},
    [PLAN_MIXED_ZONE] = {"mixed_zone",
                         PLAN_WATCH,
                         {{"zone", PLAN_MEMBER_ZONE},
                          {"thirsty", PLAN_MEMBER_BLOCK},
                          {"tough", PLAN_MEMBER_OTHER},
                          {"ratio", PLAN_MEMBER_A}}},
    [PLAN_START_ASSUMED] = {"start_assumed", PLAN_WATCH, {{"blocks", PLAN_MEMBER_A}}},
    [PLAN_POOR_UNIFORMITY] = {"poor_uniformity",
                              PLAN_WATCH,
                              {{"zone", PLAN_MEMBER_ZONE}, {"du_pct", PLAN_MEMBER_A}}},
    [PLAN_FROST_IN_WINDOW] = {"frost_in_window",
                              PLAN_WATCH,
                              {{"zone", PLAN_MEMBER_ZONE},
                               {"at", PLAN_MEMBER_AT},
                               {"temperature_c", PLAN_MEMBER_A},
                               {"clear_at", PLAN_MEMBER_UNTIL},
                               {"clear_h", PLAN_MEMBER_B}}},
    [PLAN_SUPPLY_SHORT] = {"supply_short", PLAN_ACT, {{"litres_missing", PLAN_MEMBER_A}}},
    [PLAN_ORDERED] = {"ordered",
                      PLAN_INFO,
                      {{"order", PLAN_MEMBER_ORDER},
                       {"who", PLAN_MEMBER_ORDER_WHO},
                       {"why", PLAN_MEMBER_ORDER_WHY}}},
    [PLAN_REQUIRED] = {"required",
                       PLAN_INFO,
                       {{"requirement", PLAN_MEMBER_REQUIREMENT},
                        {"purpose", PLAN_MEMBER_PURPOSE},
                        {"minutes", PLAN_MEMBER_A}}},
    [PLAN_REQUIRED_MISSED] = {"required_missed",
                              PLAN_ACT,
                              {{"zone", PLAN_MEMBER_ZONE},
                               {"requirement", PLAN_MEMBER_REQUIREMENT},
                               {"purpose", PLAN_MEMBER_PURPOSE},
                               {"minutes", PLAN_MEMBER_A},
                               {"until", PLAN_MEMBER_UNTIL}}},
    [PLAN_HELD] = {"held",
                   PLAN_INFO,
                   {{"hold", PLAN_MEMBER_HOLD},
                    {"kind", PLAN_MEMBER_HOLD_KIND},
                    {"why", PLAN_MEMBER_HOLD_WHY},
                    {"block", PLAN_MEMBER_BLOCK},
                    {"at", PLAN_MEMBER_AT}}},
    [PLAN_HOLD_PASSES] = {"hold_passes",
                          PLAN_ACT,
                          {{"block", PLAN_MEMBER_BLOCK},
                           {"zone", PLAN_MEMBER_ZONE},
                           {"at", PLAN_MEMBER_AT},
                           {"hold", PLAN_MEMBER_HOLD},
                           {"kind", PLAN_MEMBER_HOLD_KIND},
                           {"until", PLAN_MEMBER_UNTIL}}},
    [PLAN_CUT_TO_SUPPLY_LIMIT] = {"cut_to_supply_limit",
                                  PLAN_WATCH,
                                  {{"minutes", PLAN_MEMBER_A}, {"wanted_minutes", PLAN_MEMBER_B}}},
    [PLAN_STARVED] = {"starved",
                      PLAN_ACT,
                      {{"block", PLAN_MEMBER_BLOCK},
                       {"zone", PLAN_MEMBER_ZONE},
                       {"litres_missing", PLAN_MEMBER_A},
                       {"at", PLAN_MEMBER_AT},
                       {"until", PLAN_MEMBER_UNTIL}}},
    [PLAN_GO_AND_FEEL] = {"go_and_feel",
                          PLAN_ACT,
                          {{"zone", PLAN_MEMBER_ZONE},
                           {"runs", PLAN_MEMBER_A},
                           {"at", PLAN_MEMBER_AT}}},
    [PLAN_CHANGE_WATER] = {"change_water",
                           PLAN_WATCH,
                           {{"zone", PLAN_MEMBER_ZONE},
                            {"block", PLAN_MEMBER_BLOCK},
                            {"water_ec_ds_m", PLAN_MEMBER_A}}},
    [PLAN_SALT_HIGH] = {"salt_high",
                        PLAN_WATCH,
                        {{"block", PLAN_MEMBER_BLOCK},
                         {"zone", PLAN_MEMBER_ZONE},
                         {"ec_ds_m", PLAN_MEMBER_A},
                         {"limit_ds_m", PLAN_MEMBER_B}}},
    [PLAN_POUR_THROUGH_DUE] = {"pour_through_due",
                               PLAN_INFO,
                               {{"block", PLAN_MEMBER_BLOCK}, {"blocks", PLAN_MEMBER_A}}},
    [PLAN_DRAINS_MUCH] = {"drains_much",
                          PLAN_WATCH,
                          {{"zone", PLAN_MEMBER_ZONE},
                           {"drained_pct", PLAN_MEMBER_A},
                           {"target_pct", PLAN_MEMBER_B}}},
    [PLAN_TOO_MUCH] = {"too_much",
                       PLAN_INFO,
                       {{"block", PLAN_MEMBER_BLOCK},
                        {"zone", PLAN_MEMBER_ZONE},
                        {"litres_wasted", PLAN_MEMBER_A},
                        {"drained_pct", PLAN_MEMBER_B}}},
    [PLAN_MOVE_BLOCK] = {"move_block",
                         PLAN_INFO,
                         {{"block", PLAN_MEMBER_BLOCK},
                          {"zone", PLAN_MEMBER_ZONE},
                          {"to", PLAN_MEMBER_TO}}},
    [PLAN_LED_BY_WET] = {"led_by_wet",
                         PLAN_WATCH,
                         {{"zone", PLAN_MEMBER_ZONE},
                          {"block", PLAN_MEMBER_BLOCK},
                          {"thirsty", PLAN_MEMBER_OTHER}}},
    [PLAN_COUNTS_ON_RAIN] = {"counts_on_rain", PLAN_INFO, {{"rain_mm", PLAN_MEMBER_A}}},
    [PLAN_BEFORE_HOLD] = {"before_hold",
                          PLAN_INFO,
                          {{"hold", PLAN_MEMBER_HOLD},
                           {"kind", PLAN_MEMBER_HOLD_KIND},
                           {"at", PLAN_MEMBER_AT},
                           {"until", PLAN_MEMBER_UNTIL}}},
    [PLAN_LEVELLED] = {"levelled", PLAN_INFO, {{"at", PLAN_MEMBER_AT}}},
    [PLAN_NEWLY_POTTED] = {"newly_potted",
                           PLAN_WATCH,
                           {{"block", PLAN_MEMBER_BLOCK},
                            {"zone", PLAN_MEMBER_ZONE},
                            {"days", PLAN_MEMBER_A}}},
    [PLAN_WET_BY_HAND] = {"wet_by_hand",
                          PLAN_ACT,
                          {{"zone", PLAN_MEMBER_ZONE},
                           {"block", PLAN_MEMBER_BLOCK},
                           {"blocks", PLAN_MEMBER_A}}},
    [PLAN_DRY_BEFORE_FROST] = {"dry_before_frost",
                               PLAN_ACT,
                               {{"block", PLAN_MEMBER_BLOCK},
                                {"blocks", PLAN_MEMBER_A},
                                {"at", PLAN_MEMBER_AT},
                                {"temperature_c", PLAN_MEMBER_B}}},
    [PLAN_OVER_PERMIT] = {"over_permit",
                          PLAN_ACT,
                          {{"supply", PLAN_MEMBER_SUPPLY},
                           {"litres", PLAN_MEMBER_A},
                           {"permit_l", PLAN_MEMBER_B},
                           {"at", PLAN_MEMBER_AT},
                           {"until", PLAN_MEMBER_UNTIL}}},
    [PLAN_FLOW_LOW] = {"flow_low",
                       PLAN_ACT,
                       {{"zone", PLAN_MEMBER_ZONE},
                        {"flow_pct", PLAN_MEMBER_A},
                        {"counted", PLAN_MEMBER_YES}}},
    [PLAN_FLOW_HIGH] = {"flow_high",
                        PLAN_ACT,
                        {{"zone", PLAN_MEMBER_ZONE}, {"flow_pct", PLAN_MEMBER_A}}},
    [PLAN_ODD_USE] = {"odd_use",
                      PLAN_WATCH,
                      {{"block", PLAN_MEMBER_BLOCK}, {"doubt", PLAN_MEMBER_DOUBT}}},
    [PLAN_HOURS_OVER] = {"hours_over",
                         PLAN_INFO,
                         {{"block", PLAN_MEMBER_BLOCK}, {"at", PLAN_MEMBER_AT}}},
    [PLAN_NEVER_FELT] = {"never_felt",
                         PLAN_INFO,
                         {{"block", PLAN_MEMBER_BLOCK}, {"blocks", PLAN_MEMBER_A}}},
    [PLAN_CANOPY_OLD] = {"canopy_old",
                         PLAN_INFO,
                         {{"block", PLAN_MEMBER_BLOCK}, {"blocks", PLAN_MEMBER_A}}},
};

const char *const plan_cautions[] = {
    "local_rules", "backflow", "fertiliser_injection", "electricity", "reclaimed_water", "root_rot",
    "feel_pots",   NULL};

const struct plan_word *plan_word_of(enum plan_code code)
{
    return &words[code];
}

const char *plan_severity_name(enum plan_severity severity)
{
    static const char *const names[] = {"act", "watch", "info"};
    return names[severity];
}

const char *plan_sure_name(enum plan_sure sure)
{
    static const char *const names[] = {"certain", "likely", "outlook"};
    return names[sure];
}

const char *plan_known_name(enum plan_known known)
{
    static const char *const names[] = {"assumed", "touched", "potted", "filled", "weighed"};
    return names[known];
}

const char *plan_zone_state_name(enum plan_zone_state state)
{
    static const char *const names[] = {"run",  "wait",  "wait_rain", "unplaced",
                                        "hand", "empty", "held"};
    return names[state];
}

const char *plan_method_name(enum delivery_method method)
{
    static const char *const names[] = {"overhead", "drip", "spray", "subirrigation", "hand"};
    return names[method];
}

const char *plan_led_name(enum plan_led led)
{
    static const char *const names[] = {"neediest", "named", "wet",     "order",
                                        "each",     "asked", "required"};
    return names[led];
}

const char *plan_hold_name(enum nursery_hold_kind kind)
{
    static const char *const names[] = {"skip",      "spraying", "re_entry", "picking",  "dispatch",
                                        "valve_out", "pump_out", "ban",      "hand_only"};
    return names[kind];
}

const char *plan_purpose_name(enum nursery_purpose purpose)
{
    static const char *const names[] = {"irrigation", "feed",  "wash_in", "cooling",
                                        "frost",      "flush", "test"};
    return names[purpose];
}

const char *plan_date_text(int64_t local_days, char out[PLAN_DATE_SIZE])
{
    struct civil_date date = civil_from_days(local_days);
    snprintf(out, PLAN_DATE_SIZE, "%04d-%02d-%02d", date.year % 10000, date.month % 100,
             date.day % 100);
    return out;
}

static bool is_drier(const struct plan_block *a, const struct plan_block *b)
{
    int64_t a_suffers_s = a->stress_s != 0 ? a->stress_s : INT64_MAX;
    int64_t b_suffers_s = b->stress_s != 0 ? b->stress_s : INT64_MAX;
    if (a->next_s != b->next_s)
        return a->next_s < b->next_s;
    if (a_suffers_s != b_suffers_s)
        return a_suffers_s < b_suffers_s;
    return a->driest_l / a->available_l > b->driest_l / b->available_l;
}

size_t plan_first_dry(const struct plan_view *view)
{
    const struct plan_block *blocks = view->result->blocks;
    size_t first = NURSERY_NONE;
    for (size_t b = 0; b < view->input->nursery->block_count; b++)
        if (blocks[b].next_s != 0 &&
            (first == NURSERY_NONE || is_drier(&blocks[b], &blocks[first])))
            first = b;
    return first;
}

const char *plan_run_id(const struct plan_view *view, const struct plan_run *run,
                        char out[RECORDS_RUN_ID_SIZE])
{
    const struct civil_zone *zone = &view->input->nursery->time_zone;
    int minute = civil_local_second(zone, run->start_s) / 60;
    struct civil_date date = civil_local_date(zone, run->start_s);
    snprintf(out, RECORDS_RUN_ID_SIZE, "%.40s.%04d%02d%02dT%02d%02d",
             view->records->zones[run->zone].label.id, date.year % 10000, date.month % 100,
             date.day % 100, minute / 60 % 24, minute % 60);
    return out;
}

const char *plan_doubt_name(unsigned doubt)
{
    switch (doubt) {
    case DEMAND_DOUBT_LITTLE:
        return "little";
    case DEMAND_DOUBT_MUCH:
        return "much";
    case DEMAND_DOUBT_TOP:
        return "top";
    case DEMAND_DOUBT_GROUND:
        return "ground";
    default:
        return "spacing";
    }
}

bool plan_fits_tomorrow(const struct plan_view *view, size_t *left_out)
{
    const struct plan_result *result = view->result;
    const struct plan_day *day = &result->days[1];
    bool fits = true;
    *left_out = 0;
    for (size_t u = 0; u < result->unplaced_count; u++)
        *left_out += result->unplaced[u].window_start_s >= day->start_s &&
                     result->unplaced[u].window_start_s < day->end_s;
    for (size_t n = 0; n < result->notice_count; n++) {
        const struct plan_reason *notice = &result->notices[n];
        fits &= !((notice->code == PLAN_STARVED || notice->code == PLAN_HOLD_PASSES) &&
                  notice->at_s < day->end_s &&
                  (notice->until_s == 0 || notice->until_s > day->start_s));
    }
    return fits && *left_out == 0;
}

struct weather_report plan_weather_report(const struct plan_view *view)
{
    return (struct weather_report){view->weather, view->records, &view->input->nursery->time_zone,
                                   view->input->now_s};
}
