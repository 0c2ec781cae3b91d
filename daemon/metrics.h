/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Figures for whoever watches the service, as OpenMetrics text. */
#ifndef PERCHD_DAEMON_METRICS_H
#define PERCHD_DAEMON_METRICS_H

#include <stddef.h>
#include <stdint.h>

#include "plan_index.h"

#define METRICS_MEDIA_TYPE "application/openmetrics-text; version=1.0.0; charset=utf-8"

struct metrics {
    uint64_t answers[6]; /* by the status' first digit; 0: closed without one */
    uint64_t connections_total;
    size_t connections; /* just now */
    size_t jobs_open;   /* that the worker has not answered yet */
};

/* index NULL: no plan yet. malloc'ed; NULL when memory is short. */
char *metrics_print(const struct metrics *metrics, const struct plan_index *index, int64_t now_s,
                    size_t *length);

#endif
