/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Numbers as people and files give them, read strictly: the grammar of JSON (RFC 8259), no '+',
 * no hexadecimal, no leading zeros, no 'nan', nothing beyond the range of a double.
 */
#ifndef PERCHD_DAEMON_NUMBER_H
#define PERCHD_DAEMON_NUMBER_H

#include <stdbool.h>
#include <stddef.h>

/* The whole of text[0..length) must be one number. */
bool number_parse(const char *text, size_t length, double *value);

/* The shortest decimal that reads back as value (at most 17 digits), without an exponent from 1 to
 * 1e15; size >= 32. */
void number_format(double value, char *out, size_t size);

#endif
