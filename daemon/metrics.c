/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "metrics.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>

static void put_family(FILE *out, const char *name, const char *type, const char *help)
{
    fprintf(out, "# TYPE perchd_%s %s\n# HELP perchd_%s %s\n", name, type, name, help);
}

static void put_gauge(FILE *out, const char *name, const char *help, double value)
{
    put_family(out, name, "gauge", help);
    fprintf(out, "perchd_%s %.15g\n", name, value);
}

static void put_server(FILE *out, const struct metrics *metrics)
{
    put_family(out, "answers", "counter", "Answers by class of status.");
    for (int i = 2; i < 6; i++)
        fprintf(out, "perchd_answers_total{class=\"%dxx\"} %" PRIu64 "\n", i, metrics->answers[i]);
    put_family(out, "connections_accepted", "counter", "Connections since the start.");
    fprintf(out, "perchd_connections_accepted_total %" PRIu64 "\n", metrics->connections_total);
    put_gauge(out, "connections", "Connections just now.", (double)metrics->connections);
    put_gauge(out, "jobs_open", "Requests that wait for the worker.", (double)metrics->jobs_open);
}

static void put_plan(FILE *out, const struct plan_index *index, int64_t now_s)
{
    static const char *const severities[] = {"act", "watch", "info"};
    double made_at_s = 0;
    double good_until_s = 0;
    double age_s = 0;
    size_t open = 0;
    plan_index_number(index, NULL, "made_at_s", &made_at_s);
    plan_index_number(index, NULL, "good_until_s", &good_until_s);
    put_gauge(out, "plan_made_seconds", "When the plan was made, since 1970.", made_at_s);
    put_gauge(out, "plan_good_until_seconds", "Until when it is good, since 1970.", good_until_s);
    if (plan_index_number(index, "weather", "age_s", &age_s))
        put_gauge(out, "weather_age_seconds", "Age of the newest document of a feed.",
                  age_s + (double)now_s - made_at_s);
    put_gauge(out, "blocks", "Blocks in the plan.",
              (double)plan_index_count(index, "blocks", NULL, NULL));
    for (size_t z = 0; z < plan_index_zones(index); z++) {
        struct plan_due due;
        plan_index_due(index, z, now_s, &due);
        open += due.open;
    }
    put_gauge(out, "zones", "Zones in the plan.", (double)plan_index_zones(index));
    put_gauge(out, "zones_open", "Zones whose valve should be open now.", (double)open);
    put_gauge(out, "unplaced", "Runs that do not fit tomorrow.",
              (double)plan_index_count(index, "unplaced", NULL, NULL));
    put_family(out, "notices", "gauge", "Notices by severity.");
    for (size_t i = 0; i < sizeof severities / sizeof severities[0]; i++)
        fprintf(out, "perchd_notices{severity=\"%s\"} %zu\n", severities[i],
                plan_index_count(index, "notices", "severity", severities[i]));
}

char *metrics_print(const struct metrics *metrics, const struct plan_index *index, int64_t now_s,
                    size_t *length)
{
    char *text = NULL;
    FILE *out = open_memstream(&text, length);
    if (!out)
        return NULL;
    put_family(out, "build", "info", "The program.");
    fputs("perchd_build_info{version=\"" PERCHD_VERSION "\"} 1\n", out);
    put_server(out, metrics);
    if (index)
        put_plan(out, index, now_s);
    fputs("# EOF\n", out);
    if (fclose(out) == 0)
        return text;
    free(text);
    return NULL;
}
