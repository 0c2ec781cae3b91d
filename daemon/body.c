/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "body.h"

#include <inttypes.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <zlib.h>

enum {
    GZIP_WINDOW_BITS = 15 + 16, /* largest window, gzip wrapper (zlib.h, deflateInit2) */
    GZIP_MEMORY = 8,            /* zlib's default */
};

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
    z_stream z = {.zalloc = Z_NULL};
    if (body->length > UINT32_MAX || deflateInit2(&z, level, Z_DEFLATED, GZIP_WINDOW_BITS,
                                                  GZIP_MEMORY, Z_DEFAULT_STRATEGY) != Z_OK)
        return -1;
    int result = -1;
    char *out = malloc(body->length + 1);
    if (!out)
        goto end;
    z.next_in = (Bytef *)body->bytes;
    z.avail_in = (uInt)body->length;
    z.next_out = (Bytef *)out;
    z.avail_out = (uInt)body->length;
    int rc = deflate(&z, Z_FINISH);
    if (rc == Z_STREAM_END && z.total_out < body->length) {
        char *fitted = realloc(out, z.total_out); /* most of it is not needed */
        body->gzip = fitted ? fitted : out;
        body->gzip_length = z.total_out;
        out = NULL;
    }
    result = 0;
end:
    free(out);
    deflateEnd(&z);
    return result;
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
