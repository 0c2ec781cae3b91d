/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A request that the worker answers: everything it may look at is copied, since the connection may
 * be gone before it is done.
 */
#ifndef PERCHD_DAEMON_HTTP_JOB_H
#define PERCHD_DAEMON_HTTP_JOB_H

#include "api.h"
#include "worker.h"

struct http_job {
    struct worker_job job;
    struct worker *worker; /* whose job it is */
    struct api_request request;
    struct api_answer answer;
    char method[8];
    char address[48];
    char *texts; /* what request points to */
    size_t texts_size;
    char *body;
};

/* Texts of parts are copied; body (may be NULL) is taken, also on failure. NULL when memory is
 * short. */
struct http_job *http_job_new_take(const struct api_request *parts, char *body);
void http_job_free(struct http_job *job);

#endif
