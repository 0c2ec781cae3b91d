/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "utf8.h"

/* Length of the sequence that starts here and the range of its second byte (RFC 3629, table of
 * section 4); 0 when no sequence starts so. */
static size_t sequence(unsigned char first, unsigned char *low, unsigned char *high)
{
    *low = first == 0xe0 ? 0xa0 : first == 0xf0 ? 0x90 : 0x80;
    *high = first == 0xed ? 0x9f : first == 0xf4 ? 0x8f : 0xbf;
    if (first < 0x80)
        return 1;
    if (first >= 0xc2 && first <= 0xdf)
        return 2;
    if (first >= 0xe0 && first <= 0xef)
        return 3;
    return first >= 0xf0 && first <= 0xf4 ? 4 : 0;
}

size_t utf8_check(const char *text, size_t length)
{
    const unsigned char *bytes = (const unsigned char *)text;
    size_t at = 0;
    while (at < length) {
        unsigned char low = 0;
        unsigned char high = 0;
        size_t size = sequence(bytes[at], &low, &high);
        if (size == 0 || size > length - at)
            return at;
        if (size > 1 && (bytes[at + 1] < low || bytes[at + 1] > high))
            return at;
        for (size_t i = 2; i < size; i++)
            if (bytes[at + i] < 0x80 || bytes[at + i] > 0xbf)
                return at;
        at += size;
    }
    return length;
}

size_t utf8_columns(const char *text, size_t length)
{
    size_t columns = 0;
    for (size_t i = 0; i < length; i++)
        columns += ((unsigned char)text[i] & 0xc0) != 0x80;
    return columns;
}

void utf8_put_padded(FILE *out, const char *text, int width)
{
    int printed = 0;
    while (*text && printed < width) {
        unsigned char byte = (unsigned char)*text++;
        fputc(byte < 0x20 || byte == 0x7f ? '?' : byte, out);
        while (((unsigned char)*text & 0xc0) == 0x80)
            fputc(*text++, out);
        printed++;
    }
    fprintf(out, "%*s", width - printed, "");
}
