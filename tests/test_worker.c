/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check.h"

#include <pthread.h>
#include <stdatomic.h>
#include <stdio.h>
#include <time.h>

#include "daemon/worker.h"

struct count {
    struct worker_job job;
    int number;
    int result; /* written by the worker, read once it is done */
    atomic_int *freed;
};

struct tally {
    int order[2048]; /* the worker's alone, read after it has stopped */
    size_t count;
    pthread_mutex_t gate; /* a job waits for it */
};

static void count_free(struct worker_job *job)
{
    atomic_fetch_add(((struct count *)job)->freed, 1);
    free(job);
}

static void count_run(struct worker_job *job, void *context)
{
    struct count *count = (struct count *)job;
    struct tally *tally = context;
    pthread_mutex_lock(&tally->gate);
    pthread_mutex_unlock(&tally->gate);
    tally->order[tally->count++] = count->number;
    count->result = count->number * 2;
}

static struct count *count_new(int number, atomic_int *freed)
{
    struct count *count = calloc(1, sizeof *count);
    assert_non_null(count);
    count->job.run = count_run;
    count->job.free = count_free;
    count->number = number;
    count->freed = freed;
    return count;
}

static void wait_for(struct worker *worker, const struct count *count)
{
    const struct timespec pause = {0, 1000000};
    while (!worker_done(worker, &count->job))
        nanosleep(&pause, NULL);
}

static struct worker *start(struct tally *tally, size_t waiting_max)
{
    struct error error;
    *tally = (struct tally){.gate = PTHREAD_MUTEX_INITIALIZER};
    struct worker *worker = worker_start(tally, waiting_max, &error);
    assert_non_null(worker);
    return worker;
}

static void worker_done_shows_what_run_left(void **state)
{
    (void)state;
    struct tally tally;
    atomic_int freed = 0;
    struct worker *worker = start(&tally, 4);
    for (int i = 0; i < 100; i++) {
        struct count *count = count_new(i, &freed);
        assert_true(worker_post(worker, &count->job));
        wait_for(worker, count);
        assert_int_equal(count->result, 2 * i);
        worker_release(worker, &count->job);
    }
    worker_stop(worker);
    assert_int_equal(atomic_load(&freed), 100);
}

static void worker_post_above_the_limit_is_refused(void **state)
{
    (void)state;
    struct tally tally;
    atomic_int freed = 0;
    struct worker *worker = start(&tally, 3);
    int posted = 0;
    pthread_mutex_lock(&tally.gate);
    /* One may be running already, three wait. */
    for (int i = 0; i < 10; i++) {
        struct count *count = count_new(i, &freed);
        if (worker_post(worker, &count->job)) {
            posted++;
            worker_release(worker, &count->job);
        } else {
            count_free(&count->job);
        }
    }
    pthread_mutex_unlock(&tally.gate);
    worker_stop(worker);
    assert_in_range(posted, 3, 4);
    assert_int_equal(atomic_load(&freed), 10);
    assert_int_equal(tally.count, posted);
}

static void worker_stop_does_what_waits_in_order(void **state)
{
    (void)state;
    struct tally tally;
    atomic_int freed = 0;
    struct worker *worker = start(&tally, 100);
    pthread_mutex_lock(&tally.gate);
    for (int i = 0; i < 50; i++) {
        struct count *count = count_new(i, &freed);
        assert_true(worker_post(worker, &count->job));
        worker_release(worker, &count->job); /* nobody waits for the answer */
    }
    pthread_mutex_unlock(&tally.gate);
    worker_stop(worker);
    assert_int_equal(tally.count, 50);
    for (int i = 0; i < 50; i++)
        assert_int_equal(tally.order[i], i);
    assert_int_equal(atomic_load(&freed), 50);
}

struct poster {
    struct worker *worker;
    atomic_int *freed;
    int done;
};

static void *post_many(void *argument)
{
    struct poster *poster = argument;
    for (int i = 0; i < 200; i++) {
        struct count *count = count_new(i, poster->freed);
        if (!worker_post(poster->worker, &count->job)) {
            count_free(&count->job);
            continue;
        }
        if (i % 3 != 0) {
            wait_for(poster->worker, count);
            poster->done += count->result == 2 * i;
        }
        worker_release(poster->worker, &count->job);
    }
    return NULL;
}

static void worker_post_from_many_threads_loses_nothing(void **state)
{
    (void)state;
    struct tally tally;
    atomic_int freed = 0;
    struct poster posters[4];
    pthread_t threads[4];
    struct worker *worker = start(&tally, 1000);
    for (size_t i = 0; i < 4; i++) {
        posters[i] = (struct poster){worker, &freed, 0};
        assert_int_equal(pthread_create(&threads[i], NULL, post_many, &posters[i]), 0);
    }
    for (size_t i = 0; i < 4; i++) {
        pthread_join(threads[i], NULL);
        assert_int_equal(posters[i].done, 133);
    }
    worker_stop(worker);
    assert_int_equal(tally.count, 800);
    assert_int_equal(atomic_load(&freed), 800);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(worker_done_shows_what_run_left),
        cmocka_unit_test(worker_post_above_the_limit_is_refused),
        cmocka_unit_test(worker_stop_does_what_waits_in_order),
        cmocka_unit_test(worker_post_from_many_threads_loses_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
