/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "scratch.h"

#include "check.h"

#include <ftw.h>
#include <stdio.h>
#include <unistd.h>

void scratch_open(struct scratch *scratch)
{
    /* In memory where that is possible: durable writes make nothing surer here. */
    snprintf(scratch->folder, sizeof scratch->folder, "%s/perchd-test-XXXXXX",
             access("/dev/shm", W_OK) == 0 ? "/dev/shm" : "/tmp");
    assert_non_null(mkdtemp(scratch->folder));
}

static int remove_one(const char *path, const struct stat *status, int type, struct FTW *walk)
{
    (void)status;
    (void)type;
    (void)walk;
    return remove(path);
}

void scratch_close(struct scratch *scratch)
{
    nftw(scratch->folder, remove_one, 8, FTW_DEPTH | FTW_PHYS);
}

const char *scratch_path(struct scratch *scratch, const char *name)
{
    snprintf(scratch->path, sizeof scratch->path, "%s/%s", scratch->folder, name);
    return scratch->path;
}

const char *scratch_write_bytes(struct scratch *scratch, const char *name, const void *bytes,
                                size_t length)
{
    FILE *file = fopen(scratch_path(scratch, name), "wb");
    assert_non_null(file);
    assert_int_equal(fwrite(bytes, 1, length, file), length);
    assert_int_equal(fclose(file), 0);
    return scratch->path;
}

const char *scratch_write(struct scratch *scratch, const char *name, const char *text)
{
    return scratch_write_bytes(scratch, name, text, strlen(text));
}
