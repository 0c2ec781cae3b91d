/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The API's refusals in Spanish. Whoever refuses does so in English, deep in layers that know no
 * reader and serve the log and the command line too; where the answer is made, what they said is
 * recognised by the format it was made from, and said again.
 */
#ifndef PERCHD_DAEMON_SPANISH_H
#define PERCHD_DAEMON_SPANISH_H

#include <stdbool.h>
#include <stddef.h>

#define SPANISH_SIZE 1200

/* The printf format that a message, or a part of one, is made from; and the same in Spanish, with a
 * %s for each of its conversions, in their order. The first row that fits a message is taken. */
struct spanish_row {
    const char *english, *spanish;
};
extern const struct spanish_row spanish_rows[];
extern const size_t spanish_count;

/* What was put in for a text is said in Spanish where it is a message too; what somebody gave, in
 * quotes or as JSON, stays as it is. False when the message is none of the rows'. */
bool spanish_of(const char *english, char out[SPANISH_SIZE]);

#endif
