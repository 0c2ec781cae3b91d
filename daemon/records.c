/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "records.h"

#include <stdlib.h>
#include <string.h>

/* The core's arrays are const to everyone but their owner. */
static void free_const(const void *memory)
{
    union {
        const void *lent;
        void *owned;
    } pointer = {.lent = memory};
    free(pointer.owned);
}

static void free_labels(struct records_label *labels, size_t count)
{
    for (size_t i = 0; labels && i < count; i++)
        free(labels[i].name);
    free(labels);
}

static void free_notes(struct records_note *notes, size_t count)
{
    for (size_t i = 0; notes && i < count; i++) {
        free(notes[i].who);
        free(notes[i].why);
    }
    free(notes);
}

int records_notice_order(const void *a, const void *b)
{
    const struct records_notice *x = a;
    const struct records_notice *y = b;
    int codes = strcmp(x->code, y->code);
    return codes != 0 ? codes : strcmp(x->subject, y->subject);
}

void records_free(struct records *records)
{
    struct nursery *n = &records->nursery;
    free_labels(records->pots, n->pot_count);
    free_labels(records->covers, n->cover_count);
    free_labels(records->supplies, n->supply_count);
    free_labels(records->blocks, n->block_count);
    for (size_t i = 0; records->mixes && i < n->mix_count; i++)
        free(records->mixes[i].label.name);
    free(records->mixes);
    for (size_t i = 0; records->zones && i < n->zone_count; i++) {
        free(records->zones[i].label.name);
        free(records->zones[i].post);
    }
    free(records->zones);
    free(records->notices);
    free(records->offers);
    free(records->readings);
    free(records->trials);
    free_notes(records->orders, n->order_count);
    free_notes(records->holds, n->hold_count);
    free_notes(records->requirements, n->requirement_count);
    free_const(n->pots);
    free_const(n->mixes);
    free_const(n->covers);
    free_const(n->supplies);
    free_const(n->zones);
    free_const(n->windows);
    free_const(n->states);
    free_const(n->blocks);
    free_const(n->weighings);
    free_const(n->touches);
    free_const(n->orders);
    free_const(n->holds);
    free_const(n->requirements);
    free_const(n->raises);
    free_const(n->drains);
    free_const(n->salts);
    free_const(n->runs);
    free_const(n->gauges);
    *records = (struct records){0};
}
