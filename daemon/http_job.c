/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "http_job.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { MEMBERS = 8 };

/* The members of struct api_request that are copied one after the other. */
static void list_members(struct api_request *request, const char **list[MEMBERS])
{
    list[0] = &request->path;
    list[1] = &request->query;
    list[2] = &request->authorization;
    list[3] = &request->cookie;
    list[4] = &request->origin;
    list[5] = &request->media_type;
    list[6] = &request->if_match;
    list[7] = &request->if_none_match;
}

static void run(struct worker_job *base, void *context)
{
    struct http_job *job = (struct http_job *)base;
    api_answer(context, &job->request, &job->answer);
}

static void free_base(struct worker_job *base)
{
    http_job_free((struct http_job *)base);
}

static int copy_texts(struct http_job *job)
{
    const char **list[MEMBERS];
    list_members(&job->request, list);
    for (size_t i = 0; i < MEMBERS; i++)
        job->texts_size += strlen(*list[i]) + 1;
    job->texts = malloc(job->texts_size);
    if (!job->texts)
        return -1;
    char *at = job->texts;
    for (size_t i = 0; i < MEMBERS; i++) {
        size_t length = strlen(*list[i]) + 1;
        memcpy(at, *list[i], length);
        *list[i] = at;
        at += length;
    }
    return 0;
}

struct http_job *http_job_new_take(const struct api_request *parts, char *body)
{
    struct http_job *job = calloc(1, sizeof *job);
    if (!job) {
        free(body);
        return NULL;
    }
    job->job.run = run;
    job->job.free = free_base;
    job->request = *parts;
    job->body = body;
    snprintf(job->method, sizeof job->method, "%s", parts->method);
    snprintf(job->address, sizeof job->address, "%s", parts->address);
    job->request.method = job->method;
    job->request.address = job->address;
    job->request.body = body ? body : "";
    if (copy_texts(job) == 0)
        return job;
    http_job_free(job);
    return NULL;
}

/* Passwords and tokens pass through here: nothing of them is left lying about. */
void http_job_free(struct http_job *job)
{
    if (job->texts)
        explicit_bzero(job->texts, job->texts_size);
    if (job->body)
        explicit_bzero(job->body, job->request.body_length);
    api_answer_clear(&job->answer);
    free(job->texts);
    free(job->body);
    free(job);
}
