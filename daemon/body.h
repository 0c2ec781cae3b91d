/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Bytes that are served many times: compressed and tagged once, then never changed. */
#ifndef PERCHD_DAEMON_BODY_H
#define PERCHD_DAEMON_BODY_H

#include <stddef.h>

#define BODY_TAG_SIZE 40

struct body {
    char *bytes;
    size_t length;
    char *gzip; /* NULL when it would not be shorter */
    size_t gzip_length;
    char tag[BODY_TAG_SIZE];      /* strong entity tag of bytes, quoted */
    char gzip_tag[BODY_TAG_SIZE]; /* of gzip: another representation, another tag */
};

/* Takes bytes (malloc'ed). level: libdeflate's 1..12. Equal bytes always give an equal body.
 * Returns 0, or -1 when memory is short (bytes are then freed and *body is empty). */
int body_init_take(struct body *body, char *bytes, size_t length, int level);

/* The tag that body_init_take gives these bytes. */
void body_tag(const char *bytes, size_t length, char out[BODY_TAG_SIZE]);

void body_clear(struct body *body);

#endif
