/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The log: one line an event on standard error. A message is logged once, where it is handled. */
#ifndef PERCHD_DAEMON_LOG_H
#define PERCHD_DAEMON_LOG_H

enum log_level {
    LOG_LEVEL_ERROR,   /* something the daemon is for did not happen */
    LOG_LEVEL_WARNING, /* it goes on, a person should look */
    LOG_LEVEL_INFO,
};

/* Writes 'perchd: LEVEL: message' in one write, so lines of several threads do not mix. Control
 * characters become spaces, what exceeds 1,000 bytes is cut. */
void log_write(enum log_level level, const char *format, ...) __attribute__((format(printf, 2, 3)));

#endif
