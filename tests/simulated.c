/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check.h"

#include "simulated.h"

#include <signal.h>
#include <stdio.h>
#include <unistd.h>

void day_open(struct day *day)
{
    day->down = false;
    day->cut_s = day->back_s = 0;
    moved_clock_start(&day->moved, DAY_START_S);
    day->clock = day->moved.now;
    day->service = service_start();
}

void day_close(struct day *day)
{
    service_stop(&day->service);
    moved_clock_end(&day->moved);
}

void day_keep_port(const struct day *day)
{
    char command[256];
    char out[64];
    char err[256];
    snprintf(command, sizeof command, "sed -i 's/^port = 0$/port = %d/' %s", day->service.port,
             day->service.example.config);
    assert_int_equal(check_run(command, out, sizeof out, err, sizeof err), 0);
}

json_t *day_get(const struct day *day, const char *path)
{
    struct answer answer;
    service_ask(&day->service, "GET", path, "", NULL, &answer);
    if (answer.status != 200) {
        client_forget(&answer);
        return NULL;
    }
    json_t *document = json_loads(answer.body, JSON_REJECT_DUPLICATES, NULL);
    client_forget(&answer);
    return document;
}

void day_wait_for_plan(const struct day *day)
{
    for (int i = 0; i < 30000; i++) {
        struct answer answer;
        double made_at_s = 0;
        if (i % 100 == 0)
            kill(day->service.pid, SIGHUP);
        service_ask(&day->service, "GET", "/metrics", "", NULL, &answer);
        const char *made = strstr(answer.body, "\nperchd_plan_made_seconds ");
        if (made)
            made_at_s = strtod(made + 26, NULL);
        client_forget(&answer);
        if (made_at_s >= (double)day->clock[0])
            return;
        usleep(2000);
    }
    fail_msg("no plan of now");
}

const char *day_text(const json_t *object, const char *name)
{
    const char *text = json_string_value(json_object_get(object, name));
    return text ? text : "";
}
