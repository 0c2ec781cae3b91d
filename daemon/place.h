/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where the program's own files are: beside an installed program, or in the source tree that it
 * was built in.
 */
#ifndef PERCHD_DAEMON_PLACE_H
#define PERCHD_DAEMON_PLACE_H

#include "error.h"

#define PLACE_SIZE 1024

struct place {
    char web[PLACE_SIZE];     /* folder of the page's files */
    char demo[PLACE_SIZE];    /* folder of the example nursery */
    char openapi[PLACE_SIZE]; /* the API's description, as far as it is written by hand */
    char fetch[PLACE_SIZE];   /* program that fetches weather */
};

/* Goes by where the running program lies: BIN/../share/perchd when that is there, else the source
 * tree when it lies in it, else the prefix it was configured for. Whether the files are there is
 * seen when they are opened. Returns 0, or -1 with error set. */
int place_find(struct place *place, struct error *error);

#endif
