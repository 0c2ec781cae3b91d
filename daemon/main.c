/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <errno.h>
#include <stdio.h>
#include <string.h>

#include <gsl/gsl_errno.h>

#include "command.h"
#include "error.h"

int main(int argc, char *argv[])
{
    /* GSL would abort; core looks at what GSL returns. */
    gsl_set_error_handler_off();
    int code = command_main(argc, argv, stdout, stderr);
    /* What could not be written was not done: a full disk must not look like success. */
    int broken = ferror(stdout);
    if ((fclose(stdout) != 0 || broken) && code == EXIT_DONE) {
        fprintf(stderr, "perchd: standard output: %s\n", strerror(errno));
        code = EXIT_FAILED;
    }
    return code;
}
