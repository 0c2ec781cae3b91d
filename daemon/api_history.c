/* SPDX-License-Identifier: GPL-3.0-or-later */
/* /records.csv: the nursery's water record for a spreadsheet (RFC 4180). */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "api_internal.h"
#include "number.h"
#include "query.h"
#include "store_history.h"

enum { DAYS_DEFAULT = 31, DAYS_MAX = 400 };

struct sheet {
    FILE *out;
    const struct civil_zone *zone;
};

static void put_time(const struct sheet *sheet, int64_t t_s)
{
    char text[CIVIL_TEXT];
    civil_format_rfc3339(t_s, civil_offset_at(sheet->zone, t_s), text);
    fprintf(sheet->out, ",%s", text);
}

static void put_number(const struct sheet *sheet, double number)
{
    char text[32] = "";
    if (!isnan(number))
        number_format(number, text, sizeof text);
    fprintf(sheet->out, ",%s", text);
}

/* All texts are ids and words of ours: nothing to quote. */
static void put_line(void *context, const struct store_history *line)
{
    const struct sheet *sheet = context;
    fprintf(sheet->out, "%s,%s,%s,%s,%s", line->record, line->zone, line->block, line->key,
            line->state);
    put_time(sheet, line->start_s);
    put_time(sheet, line->end_s);
    put_number(sheet, line->litres);
    put_number(sheet, line->capacity_kg);
    put_number(sheet, line->now_kg);
    put_number(sheet, line->rain_mm);
    fputs("\r\n", sheet->out);
}

/* Days of the nursery's calendar, `to` included. */
static int read_days(struct api_call *call, int64_t *from_day, int64_t *to_day)
{
    static const char *const names[] = {"from", "to", NULL};
    int64_t days[2] = {0, civil_days(civil_local_date(call->api->options.zone, call->now_s))};
    struct civil_date date;
    struct query query;
    struct error error;
    if (query_read(call->request->query, names, &query, &error) != 0)
        return api_refuse(call, PROBLEM_BAD_REQUEST, "query", "%s", error.text);
    for (int i = 1; i >= 0; i--) {
        if (i == 0)
            days[0] = days[1] - DAYS_DEFAULT + 1;
        if (!query.given[i])
            continue;
        if (civil_parse_date(query.values[i], &date) != STATUS_OK || date.year < 2000 ||
            date.year > 2099)
            return api_refuse(call, PROBLEM_BAD_REQUEST, names[i],
                              "'%.40s' given, accepted is a date from 2000 to 2099 like 2026-03-31",
                              query.values[i]);
        days[i] = civil_days(date);
    }
    if (days[0] > days[1] || days[1] - days[0] >= DAYS_MAX)
        return api_refuse(call, PROBLEM_BAD_REQUEST, "from",
                          "%lld days given, accepted are 1 to %d, up to and with the last",
                          (long long)days[1] - days[0] + 1, DAYS_MAX);
    *from_day = days[0];
    *to_day = days[1];
    return 0;
}

int api_history(struct api_call *call)
{
    const struct civil_zone *zone = call->api->options.zone;
    int64_t from_day = 0;
    int64_t to_day = 0;
    char *text = NULL;
    size_t length = 0;
    struct error error;
    if (api_allow(call, ACCESS_READ) != 0 || read_days(call, &from_day, &to_day) != 0)
        return -1;
    struct sheet sheet = {open_memstream(&text, &length), zone};
    if (!sheet.out)
        return api_no_memory(call);
    fputs("record,zone,block,key,state,start,end,litres,capacity_kg,now_kg,rain_mm\r\n", sheet.out);
    int result =
        store_history_each(call->api->store, civil_local_to_utc(zone, from_day, 0),
                           civil_local_to_utc(zone, to_day + 1, 0), put_line, &sheet, &error);
    if (fclose(sheet.out) != 0 || result != 0) {
        free(text);
        return result != 0 ? api_fail(call, &error) : api_no_memory(call);
    }
    call->answer->tagged = true;
    call->answer->packed = true;
    return api_send_text_take(call, 200, text, "text/csv; charset=utf-8; header=present");
}
