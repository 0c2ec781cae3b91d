/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "worker.h"

#include <pthread.h>
#include <stdlib.h>
#include <string.h>

struct worker {
    pthread_t thread;
    pthread_mutex_t mutex;
    pthread_cond_t posted;
    void *context;
    size_t waiting_max;

    /* guarded by mutex */
    struct worker_job *first, *last;
    size_t waiting;
    bool stop;
};

static void let_go(struct worker *worker, struct worker_job *job)
{
    pthread_mutex_lock(&worker->mutex);
    int left = --job->holders;
    pthread_mutex_unlock(&worker->mutex);
    if (left == 0)
        job->free(job);
}

/* NULL when it is time to end. */
static struct worker_job *next_job(struct worker *worker)
{
    pthread_mutex_lock(&worker->mutex);
    while (!worker->first && !worker->stop)
        pthread_cond_wait(&worker->posted, &worker->mutex);
    struct worker_job *job = worker->first;
    if (job) {
        worker->first = job->next;
        worker->waiting--;
    }
    pthread_mutex_unlock(&worker->mutex);
    return job;
}

static void *run(void *argument)
{
    struct worker *worker = argument;
    struct worker_job *job;
    while ((job = next_job(worker))) {
        job->run(job, worker->context);
        pthread_mutex_lock(&worker->mutex);
        job->done = true;
        pthread_mutex_unlock(&worker->mutex);
        let_go(worker, job);
    }
    return NULL;
}

struct worker *worker_start(void *context, size_t waiting_max, struct error *error)
{
    struct worker *worker = calloc(1, sizeof *worker);
    if (!worker) {
        error_set(error, "worker: out of memory");
        return NULL;
    }
    worker->context = context;
    worker->waiting_max = waiting_max;
    int rc = pthread_mutex_init(&worker->mutex, NULL);
    if (rc != 0)
        goto fail;
    rc = pthread_cond_init(&worker->posted, NULL);
    if (rc != 0)
        goto fail_mutex;
    rc = pthread_create(&worker->thread, NULL, run, worker);
    if (rc == 0)
        return worker;
    pthread_cond_destroy(&worker->posted);
fail_mutex:
    pthread_mutex_destroy(&worker->mutex);
fail:
    free(worker);
    error_set(error, "worker: %s", strerror(rc));
    return NULL;
}

bool worker_post(struct worker *worker, struct worker_job *job)
{
    pthread_mutex_lock(&worker->mutex);
    bool room = worker->waiting < worker->waiting_max && !worker->stop;
    if (room) {
        job->next = NULL;
        job->done = false;
        job->holders = 2;
        if (worker->first)
            worker->last->next = job;
        else
            worker->first = job;
        worker->last = job;
        worker->waiting++;
        pthread_cond_signal(&worker->posted);
    }
    pthread_mutex_unlock(&worker->mutex);
    return room;
}

bool worker_done(struct worker *worker, const struct worker_job *job)
{
    pthread_mutex_lock(&worker->mutex);
    bool done = job->done;
    pthread_mutex_unlock(&worker->mutex);
    return done;
}

void worker_release(struct worker *worker, struct worker_job *job)
{
    let_go(worker, job);
}

void worker_stop(struct worker *worker)
{
    if (!worker)
        return;
    pthread_mutex_lock(&worker->mutex);
    worker->stop = true;
    pthread_cond_signal(&worker->posted);
    pthread_mutex_unlock(&worker->mutex);
    pthread_join(worker->thread, NULL);
    pthread_cond_destroy(&worker->posted);
    pthread_mutex_destroy(&worker->mutex);
    free(worker);
}
