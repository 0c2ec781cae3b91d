/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef PERCHD_DAEMON_UTF8_H
#define PERCHD_DAEMON_UTF8_H

#include <stddef.h>
#include <stdio.h>

/* Offset of the first byte that is not part of well-formed UTF-8 (RFC 3629: no overlong forms, no
 * surrogates, nothing above U+10FFFF), or length when all is well. */
size_t utf8_check(const char *text, size_t length);

/* Characters in the first `length` bytes of well-formed UTF-8: each is counted as one column. */
size_t utf8_columns(const char *text, size_t length);

/* Cut or padded with blanks to `width` characters; control characters become '?'. */
void utf8_put_padded(FILE *out, const char *text, int width);

#endif
