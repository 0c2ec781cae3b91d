/* SPDX-License-Identifier: GPL-3.0-or-later */
/* perchd: one program, subcommands. */
#include <stdio.h>
#include <string.h>

#include "reckon.h"

int main(int argc, char *argv[])
{
    if (argc >= 2 && strcmp(argv[1], "reckon") == 0)
        return reckon_run(argc - 2, argv + 2, stdout, stderr);
    fputs("usage: perchd reckon TOPIC key=value ...\n", stderr);
    return 2;
}
