/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Any bytes as a request's body, as its query, as a key in its address and as a credential: nothing
 * reads past an end, and what was taken as a record is one that comes out as JSON and goes in
 * again.
 */
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/access.h"
#include "daemon/document.h"
#include "daemon/query.h"
#include "daemon/record_json.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size);

static void document_need(int truth)
{
    if (!truth)
        abort();
}

/* Taken once, a record is taken again as it was printed, and prints the same. */
static void take_record(json_t *document, const struct kind *kind, struct record_texts *texts)
{
    static const struct civil_offset utc = {0, 0};
    const struct civil_zone zone = {&utc, 1};
    struct record_fault fault;
    struct kind_row row;
    texts->used = 0;
    if (record_json_read(document, kind, texts, &row, &fault) != 0) {
        document_need(fault.text[0] != '\0');
        return;
    }
    json_t *once = record_json_of(&row, &zone, true);
    document_need(once != NULL);
    texts->used = 0;
    document_need(record_json_read(once, kind, texts, &row, &fault) == 0);
    json_t *again = record_json_of(&row, &zone, true);
    document_need(again && json_equal(once, again));
    json_decref(once);
    json_decref(again);
}

static void take_texts(const char *text, size_t size, struct record_texts *texts)
{
    static const char *const names[] = {"after", "limit", "date", NULL};
    struct record_fault fault;
    struct access_secret secret;
    struct error error;
    static struct query query;
    if (query_read(text, names, &query, &error) == 0)
        for (size_t i = 0; i < 3; i++)
            document_need(!query.given[i] || query.values[i][0]);
    for (int id = 0; id < KIND_COUNT; id++) {
        struct store_key key;
        texts->used = 0;
        if (record_key_read(text, kind_of((enum kind_id)id), texts, &key, &fault) == 0)
            document_need(key.count >= 1 &&
                          key.count <= store_key_columns(kind_of((enum kind_id)id)));
    }
    if (access_secret_parse(text, size, ACCESS_TOKEN, &secret))
        document_need(strlen(secret.secret) == ACCESS_SECRET_SIZE - 1);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size)
{
    static struct record_texts texts;
    struct error error = {""};
    char *text = malloc(size + 1);
    document_need(text != NULL);
    if (size > 0)
        memcpy(text, bytes, size);
    text[size] = '\0';
    json_t *document = document_read(text, size, &error);
    document_need(document || error.text[0]);
    for (int id = 0; document && id < KIND_COUNT; id++)
        take_record(document, kind_of((enum kind_id)id), &texts);
    json_decref(document);
    take_texts(text, size, &texts);
    free(text);
    return 0;
}
