/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What went wrong, in words, owned by the caller and filled by the layer that knows. */
#ifndef PERCHD_DAEMON_ERROR_H
#define PERCHD_DAEMON_ERROR_H

enum error_exit { /* exit codes of every subcommand */
                  EXIT_DONE = 0,
                  EXIT_FAILED = 1, /* at run time */
                  EXIT_USAGE = 2,  /* usage, key, configuration or file content */
};

struct error {
    char text[512];
};

/* Formats into error (which may be NULL) and always returns -1. */
int error_set(struct error *error, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* Makes text from outside fit for logs and pages: everything but printable ASCII becomes '?'. */
void error_make_plain(char *text);

#endif
