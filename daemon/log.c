/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "log.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

enum { LINE_MAX_BYTES = 1000 };

static const char *const level_names[] = {"error", "warning", "info"};

/* What came from outside must not start a line of its own. */
static void flatten(char *text)
{
    for (; *text; text++)
        if ((unsigned char)*text < 0x20 || *text == 0x7f)
            *text = ' ';
}

void log_write(enum log_level level, const char *format, ...)
{
    char line[LINE_MAX_BYTES + 2];
    int head = snprintf(line, LINE_MAX_BYTES, "perchd: %s: ", level_names[level]);
    va_list args;
    va_start(args, format);
    vsnprintf(line + head, (size_t)(LINE_MAX_BYTES - head), format, args);
    va_end(args);
    flatten(line);
    size_t length = strlen(line);
    line[length++] = '\n';
    ssize_t ignored = write(STDERR_FILENO, line, length);
    (void)ignored; /* there is nowhere left to say so */
}
