/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A folder of a test case's own, and files in it. */
#ifndef PERCHD_TESTS_SCRATCH_H
#define PERCHD_TESTS_SCRATCH_H

#include <stddef.h>

struct scratch {
    char folder[64];
    char path[256]; /* of the last scratch_path or scratch_write */
};

void scratch_open(struct scratch *scratch);
void scratch_close(struct scratch *scratch); /* removes all of it */

/* Path of a name in the folder; lives until the next call. */
const char *scratch_path(struct scratch *scratch, const char *name);
const char *scratch_write(struct scratch *scratch, const char *name, const char *text);
const char *scratch_write_bytes(struct scratch *scratch, const char *name, const void *bytes,
                                size_t length);

#endif
