/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check.h"

#include <pthread.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stdio.h>
#include <zlib.h>

#include "daemon/body.h"
#include "daemon/snapshot.h"

/* 'NUMBER NUMBER ...', long enough to be compressed. */
static char *numbered_text(int number)
{
    char *text = malloc(4096);
    assert_non_null(text);
    size_t length = 0;
    for (int i = 0; i < 200; i++)
        length += (size_t)snprintf(text + length, 4096 - length, "%d ", number);
    return text;
}

static struct snapshot *numbered_snapshot(int number)
{
    struct snapshot *snapshot =
        snapshot_new_take(numbered_text(number), numbered_text(number + 1), number, number + 2);
    assert_non_null(snapshot);
    return snapshot;
}

static void body_init_take_repeated_text_gives_gzip_that_unpacks(void **state)
{
    (void)state;
    struct body body;
    char *text = numbered_text(12345);
    assert_int_equal(body_init_take(&body, text, strlen(text), 4), 0);
    assert_non_null(body.gzip);
    assert_true(body.gzip_length < body.length);
    char unpacked[4096];
    z_stream z = {.next_in = (Bytef *)body.gzip,
                  .avail_in = (uInt)body.gzip_length,
                  .next_out = (Bytef *)unpacked,
                  .avail_out = sizeof unpacked};
    assert_int_equal(inflateInit2(&z, 15 + 16), Z_OK);
    assert_int_equal(inflate(&z, Z_FINISH), Z_STREAM_END);
    inflateEnd(&z);
    assert_int_equal(z.total_out, body.length);
    assert_memory_equal(unpacked, body.bytes, body.length);
    body_clear(&body);
}

static void body_init_take_short_text_has_no_gzip(void **state)
{
    (void)state;
    struct body body;
    assert_int_equal(body_init_take(&body, strdup("ok\n"), 3, 9), 0);
    assert_null(body.gzip);
    body_clear(&body);
    assert_int_equal(body_init_take(&body, strdup(""), 0, 9), 0);
    assert_null(body.gzip);
    body_clear(&body);
}

static void body_init_take_equal_bytes_give_equal_bodies(void **state)
{
    (void)state;
    struct body a, b, c;
    char *text = numbered_text(7);
    size_t length = strlen(text);
    assert_int_equal(body_init_take(&a, strdup(text), length, 4), 0);
    assert_int_equal(body_init_take(&b, strdup(text), length, 4), 0);
    text[length - 2] = '8';
    assert_int_equal(body_init_take(&c, text, length, 4), 0);
    assert_string_equal(a.tag, b.tag);
    assert_string_equal(a.gzip_tag, b.gzip_tag);
    assert_string_not_equal(a.tag, a.gzip_tag);
    assert_string_not_equal(a.tag, c.tag);
    assert_int_equal(a.gzip_length, b.gzip_length);
    assert_memory_equal(a.gzip, b.gzip, a.gzip_length);
    assert_int_equal(a.tag[0], '"');
    assert_int_equal(a.tag[strlen(a.tag) - 1], '"');
    body_clear(&a);
    body_clear(&b);
    body_clear(&c);
}

static void snapshot_acquire_before_the_first_gives_null(void **state)
{
    (void)state;
    struct snapshot_cell *cell = snapshot_cell_new();
    assert_non_null(cell);
    assert_null(snapshot_acquire(cell));
    snapshot_cell_free(cell);
    snapshot_cell_free(NULL);
}

static void snapshot_publish_take_replaces_while_the_old_is_held(void **state)
{
    (void)state;
    struct snapshot_cell *cell = snapshot_cell_new();
    snapshot_publish_take(cell, numbered_snapshot(1));
    struct snapshot *old = snapshot_acquire(cell);
    assert_int_equal(old->references, 2);
    snapshot_publish_take(cell, numbered_snapshot(2));
    assert_int_equal(old->references, 1);
    assert_memory_equal(old->bodies[SNAPSHOT_PLAN_JSON].bytes, "1 1 ", 4);
    assert_memory_equal(old->bodies[SNAPSHOT_PLAN_TEXT].bytes, "2 2 ", 4);
    struct snapshot *now = snapshot_acquire(cell);
    assert_int_equal(now->made_at_s, 2);
    assert_int_equal(now->good_until_s, 4);
    snapshot_release(cell, old);
    snapshot_release(cell, now);
    snapshot_cell_free(cell);
}

enum { SWAPS = 300, READERS = 3 };

struct race {
    struct snapshot_cell *cell;
    atomic_bool done;
};

/* Each snapshot seen must be whole: both bodies of the same number. */
static void *read_until_done(void *context)
{
    struct race *race = context;
    size_t torn = 0;
    while (!atomic_load(&race->done)) {
        struct snapshot *snapshot = snapshot_acquire(race->cell);
        long json = strtol(snapshot->bodies[SNAPSHOT_PLAN_JSON].bytes, NULL, 10);
        long text = strtol(snapshot->bodies[SNAPSHOT_PLAN_TEXT].bytes, NULL, 10);
        torn += json != snapshot->made_at_s || text != json + 1;
        snapshot_release(race->cell, snapshot);
    }
    return (void *)torn;
}

static void snapshot_publish_take_under_readers_never_tears(void **state)
{
    (void)state;
    struct race race = {.cell = snapshot_cell_new()};
    pthread_t readers[READERS];
    snapshot_publish_take(race.cell, numbered_snapshot(0));
    for (size_t i = 0; i < READERS; i++)
        assert_int_equal(pthread_create(&readers[i], NULL, read_until_done, &race), 0);
    for (int i = 1; i <= SWAPS; i++)
        snapshot_publish_take(race.cell, numbered_snapshot(i));
    atomic_store(&race.done, true);
    for (size_t i = 0; i < READERS; i++) {
        void *torn;
        pthread_join(readers[i], &torn);
        assert_null(torn);
    }
    snapshot_cell_free(race.cell);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(body_init_take_repeated_text_gives_gzip_that_unpacks),
        cmocka_unit_test(body_init_take_short_text_has_no_gzip),
        cmocka_unit_test(body_init_take_equal_bytes_give_equal_bodies),
        cmocka_unit_test(snapshot_acquire_before_the_first_gives_null),
        cmocka_unit_test(snapshot_publish_take_replaces_while_the_old_is_held),
        cmocka_unit_test(snapshot_publish_take_under_readers_never_tears),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
