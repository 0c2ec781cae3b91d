/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "number.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static size_t digits(const char *text, size_t at, size_t length)
{
    size_t start = at;
    while (at < length && text[at] >= '0' && text[at] <= '9')
        at++;
    return at - start;
}

bool number_parse(const char *text, size_t length, double *value)
{
    size_t at = 0;
    char copy[64];
    if (length == 0 || length >= sizeof copy)
        return false;
    if (text[at] == '-')
        at++;
    size_t whole = digits(text, at, length);
    if (whole == 0 || (whole > 1 && text[at] == '0'))
        return false;
    at += whole;
    if (at < length && text[at] == '.') {
        size_t fraction = digits(text, at + 1, length);
        if (fraction == 0)
            return false;
        at += 1 + fraction;
    }
    if (at < length && (text[at] == 'e' || text[at] == 'E')) {
        at++;
        if (at < length && (text[at] == '+' || text[at] == '-'))
            at++;
        size_t exponent = digits(text, at, length);
        if (exponent == 0)
            return false;
        at += exponent;
    }
    if (at != length)
        return false;
    memcpy(copy, text, length);
    copy[length] = '\0';
    /* strtod obeys the locale; the programs never leave the C locale. */
    double number = strtod(copy, NULL);
    if (!isfinite(number))
        return false;
    *value = number;
    return true;
}

void number_format(double value, char *out, size_t size)
{
    for (int precision = 1; precision <= 17; precision++) {
        snprintf(out, size, "%.*g", precision, value);
        if (strtod(out, NULL) == value)
            break;
    }
    /* 1e+03 is what a machine says: whole numbers of a usual size in full. */
    if (strchr(out, 'e') && fabs(value) >= 1 && fabs(value) < 1e15)
        snprintf(out, size, "%.0f", value);
}
