/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "error.h"

#include <stdarg.h>
#include <stdio.h>

int error_set(struct error *error, const char *format, ...)
{
    if (error) {
        va_list args;
        va_start(args, format);
        vsnprintf(error->text, sizeof error->text, format, args);
        va_end(args);
    }
    return -1;
}

void error_make_plain(char *text)
{
    for (; *text; text++)
        if (*text < ' ' || *text > '~')
            *text = '?';
}
