/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What takes long keeps nobody waiting: while a preview works out its plan, a report is written and
 * answered. The HTTP side with both workers in this process; a hook holds the preview where it is.
 */
#include "check.h"

#include <jansson.h>
#include <pthread.h>
#include <semaphore.h>
#include <signal.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stdio.h>
#include <time.h>
#include <unistd.h>

#include "daemon/api.h"
#include "daemon/http.h"
#include "daemon/loop.h"
#include "daemon/setup.h"
#include "service.h"

enum { PLAN_AS_IT_IS = 1, PLAN_OF_THE_CHANGE = 2 };

struct scene {
    struct service service; /* only its folder, tokens and the client's functions */
    struct setup setup;
    struct snapshot_cell *cell;
    struct assets none;
    struct api *api, *long_api;
    struct worker *worker, *long_worker;
    struct http *http;
    pthread_t loop;
    int signal_fd;
    sigset_t mask;
    time_t opened_s;
    int hold_at; /* what is asked for stands still in this of its plans */
    atomic_int plans;
    sem_t reached, go_on;
};

static void hold_plan(void *context)
{
    struct scene *scene = context;
    if (atomic_fetch_add(&scene->plans, 1) + 1 != scene->hold_at)
        return;
    sem_post(&scene->reached);
    while (sem_wait(&scene->go_on) != 0)
        ;
}

static int turn(void *context)
{
    return http_turn(context);
}

static void *serve(void *context)
{
    struct scene *scene = context;
    struct error error;
    const struct loop_work work = {
        .context = scene->http, .fd = http_fd(scene->http), .turn = turn};
    loop_run(scene->signal_fd, &work, &error);
    return NULL;
}

static void scene_open(struct scene *scene, int hold_at)
{
    struct error error = {""};
    char out[256];
    *scene = (struct scene){.service = {.example = example_make(NULL, true)},
                            .opened_s = time(NULL),
                            .hold_at = hold_at};
    struct service *service = &scene->service;
    assert_int_equal(service_command(service, "plants before pumps",
                                     "account add ines --role grower", out, sizeof out),
                     0);
    assert_int_equal(
        service_command(service, "", "token add gate --scope controller", out, sizeof out), 0);
    snprintf(service->controller, sizeof service->controller, "Authorization: Bearer %.*s\r\n",
             (int)strcspn(out, "\n"), out);
    assert_int_equal(setup_load(service->example.config, &scene->setup, &error), 0);
    assert_int_equal(sem_init(&scene->reached, 0, 0), 0);
    assert_int_equal(sem_init(&scene->go_on, 0, 0), 0);
    scene->cell = snapshot_cell_new();
    struct api_options options = {.config = &scene->setup.config,
                                  .zone = &scene->setup.zone,
                                  .cell = scene->cell,
                                  .context = scene,
                                  .planning = hold_plan};
    scene->api = api_open(&options, &error);
    options.beside = scene->api;
    scene->long_api = api_open(&options, &error);
    pthread_sigmask(SIG_SETMASK, NULL, &scene->mask);
    scene->signal_fd = loop_signals(&error);
    assert_true(scene->api && scene->long_api && scene->signal_fd >= 0);
    scene->worker = worker_start(scene->api, 8, &error);
    scene->long_worker = worker_start(scene->long_api, 8, &error);
    const struct http_options http = {.listen = "127.0.0.1",
                                      .limits = HTTP_LIMITS_DEFAULT,
                                      .assets = &scene->none,
                                      .cell = scene->cell,
                                      .zone = &scene->setup.zone,
                                      .worker = scene->worker,
                                      .long_worker = scene->long_worker};
    scene->http = http_open(&http, &error);
    assert_true(scene->worker && scene->long_worker && scene->http);
    service->port = http_port(scene->http);
    assert_int_equal(pthread_create(&scene->loop, NULL, serve, scene), 0);
}

static void scene_close(struct scene *scene)
{
    pthread_kill(scene->loop, SIGTERM);
    pthread_join(scene->loop, NULL);
    pthread_sigmask(SIG_SETMASK, &scene->mask, NULL);
    http_close(scene->http);
    worker_stop(scene->worker);
    worker_stop(scene->long_worker);
    api_close(scene->long_api);
    api_close(scene->api);
    snapshot_cell_free(scene->cell);
    setup_clear(&scene->setup);
    sem_destroy(&scene->reached);
    sem_destroy(&scene->go_on);
    close(scene->signal_fd);
    example_remove(&scene->service.example);
}

struct asking {
    struct scene *scene;
    const char *path, *wish;
    char *grower; /* the header fields of who asks */
    pthread_t thread;
    atomic_bool answered;
    int status;
    char *body;
};

static void *ask(void *argument)
{
    struct asking *asking = argument;
    struct answer answer;
    service_ask(&asking->scene->service, "POST", asking->path, asking->grower, asking->wish,
                &answer);
    asking->status = answer.status;
    asking->body = answer.body;
    atomic_store(&asking->answered, true);
    return NULL;
}

/* Asks in a thread of its own, until it stands still. */
static void asking_start(struct asking *asking, struct scene *scene, const char *path,
                         const char *wish)
{
    *asking = (struct asking){.scene = scene, .path = path, .wish = wish};
    asking->grower = service_sign_in(&scene->service);
    assert_int_equal(pthread_create(&asking->thread, NULL, ask, asking), 0);
    while (sem_wait(&scene->reached) != 0)
        ;
}

/* Lets it go on, and waits for its answer. */
static void asking_end(struct asking *asking, int status)
{
    assert_false(atomic_load(&asking->answered));
    sem_post(&asking->scene->go_on);
    pthread_join(asking->thread, NULL);
    assert_int_equal(asking->status, status);
}

static void asking_forget(struct asking *asking)
{
    free(asking->body);
    free(asking->grower);
}

static const char preview[] = "/api/v1/blocks/lavender-3l/preview";
static const char wider[] = "{\"spacing_cm\": 40}";

/* The same text each time: sent again, it is the same report. */
static int report(struct scene *scene, const char *key)
{
    char body[256];
    char start[32];
    char end[32];
    struct tm when;
    time_t end_s = scene->opened_s - 600;
    time_t start_s = end_s - 600;
    strftime(start, sizeof start, "%Y-%m-%dT%H:%M:%SZ", gmtime_r(&start_s, &when));
    strftime(end, sizeof end, "%Y-%m-%dT%H:%M:%SZ", gmtime_r(&end_s, &when));
    snprintf(body, sizeof body,
             "{\"key\":\"%s\",\"zone\":\"bed-1\",\"start\":\"%s\",\"end\":\"%s\",\"litres\":9}",
             key, start, end);
    return service_status(&scene->service, "POST", "/api/v1/runs", scene->service.controller, body);
}

static void preview_keeps_no_report_waiting(void **state)
{
    (void)state;
    struct scene scene;
    struct asking asking;
    scene_open(&scene, PLAN_OF_THE_CHANGE);
    asking_start(&asking, &scene, preview, wider);
    /* The preview has written its change, and works out what becomes of it. */
    assert_int_equal(report(&scene, "r-1"), 201);
    assert_int_equal(report(&scene, "r-1"), 200);
    assert_int_equal(
        service_status(&scene.service, "GET", "/api/v1/runs/r-1", scene.service.controller, NULL),
        200);
    asking_end(&asking, 200);
    json_t *document = json_loads(asking.body, 0, NULL);
    assert_non_null(json_object_get(document, "after"));
    json_decref(document);
    asking_forget(&asking);
    scene_close(&scene);
}

/* A report that comes between the two plans is in both of them: the first is made again. */
static void preview_compares_plans_of_the_same_records(void **state)
{
    (void)state;
    struct scene scene;
    struct asking asking;
    scene_open(&scene, PLAN_AS_IT_IS);
    asking_start(&asking, &scene, preview, wider);
    assert_int_equal(report(&scene, "r-1"), 201);
    asking_end(&asking, 200);
    assert_int_equal(atomic_load(&scene.plans), 3);
    asking_forget(&asking);
    scene_close(&scene);
}

/* The crew's sheet is planned and compared first, and only then written. */
static void sheet_by_hand_keeps_no_report_waiting(void **state)
{
    (void)state;
    struct scene scene;
    struct asking asking;
    scene_open(&scene, PLAN_AS_IT_IS);
    asking_start(&asking, &scene, "/api/v1/sheets", "{\"remarks\": \"again\"}");
    assert_int_equal(report(&scene, "r-1"), 201);
    asking_end(&asking, 201);
    asking_forget(&asking);
    scene_close(&scene);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(preview_keeps_no_report_waiting),
        cmocka_unit_test(preview_compares_plans_of_the_same_records),
        cmocka_unit_test(sheet_by_hand_keeps_no_report_waiting),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
