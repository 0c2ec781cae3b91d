/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "power_document.h"

#include <stdio.h>

static const char *const NAMES[] = {"T2M_MAX", "T2M_MIN",           "T2MDEW",
                                    "WS2M",    "ALLSKY_SFC_SW_DWN", "PRECTOTCORR"};
static const char *const UNITS[] = {"C", "C", "C", "m/s", "MJ/m^2/day", "mm/day"};
enum { COUNT = sizeof NAMES / sizeof NAMES[0] };

static double value_of(const struct sun_site *site, int which, struct civil_date date)
{
    struct sun_day sky = {0};
    switch (which) {
    case 0:
        return 20 + date.month;
    case 1:
        return 10 + date.month;
    case 2:
        return 5;
    case 3:
        return 2.5;
    case 4:
        if (sun_of_day(site, civil_day_of_year(date), &sky) != STATUS_OK)
            return -999;
        return 0.7 * sky.clear_sky_mj_m2;
    default:
        return date.day % 5 == 0 ? 5 : 0;
    }
}

char *power_document_write(const struct sun_site *site, int first_year, int years, size_t *length)
{
    char *text = NULL;
    FILE *f = open_memstream(&text, length);
    if (!f)
        return NULL;
    int64_t first = civil_days((struct civil_date){first_year, 1, 1});
    int64_t end = civil_days((struct civil_date){first_year + years, 1, 1});
    fprintf(
        f,
        "{\"type\":\"Feature\",\"geometry\":{\"type\":\"Point\",\"coordinates\":[%.4f,%.4f,%.1f]},"
        "\"properties\":{\"parameter\":{",
        site->longitude_deg, site->latitude_deg, site->elevation_m + 20);
    for (int p = 0; p < COUNT; p++) {
        fprintf(f, "%s\"%s\":{", p ? "," : "", NAMES[p]);
        for (int64_t day = first; day < end; day++) {
            struct civil_date date = civil_from_days(day);
            fprintf(f, "%s\"%04d%02d%02d\":%.2f", day > first ? "," : "", date.year, date.month,
                    date.day, value_of(site, p, date));
        }
        fputs("}", f);
    }
    fputs("}},\"header\":{\"title\":\"x\",\"fill_value\":-999.0,\"time_standard\":\"UTC\"},"
          "\"messages\":[],\"parameters\":{",
          f);
    for (int p = 0; p < COUNT; p++)
        fprintf(f, "%s\"%s\":{\"units\":\"%s\",\"longname\":\"x\"}", p ? "," : "", NAMES[p],
                UNITS[p]);
    fputs("},\"times\":{\"data\":1.0}}\n", f);
    fclose(f);
    return text;
}
