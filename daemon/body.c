/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "body.h"

#include <inttypes.h>
#include <libdeflate.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* FNV-1a, 64 bits (Fowler, Noll and Vo: offset and prime of the 64-bit form). Tells our own
 * versions of one resource apart; it defends against nobody. */
static uint64_t hash(const char *bytes, size_t length)
{
    uint64_t h = 0xcbf29ce484222325u;
    for (size_t i = 0; i < length; i++)
        h = (h ^ (unsigned char)bytes[i]) * 0x100000001b3u;
    return h;
}

/* Leaves body->gzip NULL when the result would not be shorter. The wrapper holds no time, so equal
 * bytes compress to equal bytes. */
static int compress_bytes(struct body *body, int level)
{
    struct libdeflate_compressor *compressor = libdeflate_alloc_compressor(level);
    char *out = compressor ? malloc(body->length + 1) : NULL;
    if (!out) {
        libdeflate_free_compressor(compressor);
        return -1;
    }
    size_t length =
        libdeflate_gzip_compress(compressor, body->bytes, body->length, out, body->length);
    libdeflate_free_compressor(compressor);
    if (length == 0) { /* no shorter */
        free(out);
        return 0;
    }
    char *fitted = realloc(out, length); /* most of it is not needed */
    body->gzip = fitted ? fitted : out;
    body->gzip_length = length;
    return 0;
}

void body_tag(const char *bytes, size_t length, char out[BODY_TAG_SIZE])
{
    snprintf(out, BODY_TAG_SIZE, "\"%016" PRIx64 "\"", hash(bytes, length));
}

int body_init_take(struct body *body, char *bytes, size_t length, int level)
{
    memset(body, 0, sizeof *body);
    body->bytes = bytes;
    body->length = length;
    if (compress_bytes(body, level) != 0) {
        body_clear(body);
        return -1;
    }
    uint64_t h = hash(bytes, length);
    body_tag(bytes, length, body->tag);
    snprintf(body->gzip_tag, sizeof body->gzip_tag, "\"%016" PRIx64 "-gzip\"", h);
    return 0;
}

void body_clear(struct body *body)
{
    free(body->bytes);
    free(body->gzip);
    memset(body, 0, sizeof *body);
}
