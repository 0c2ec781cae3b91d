/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The listening socket. */
#ifndef PERCHD_DAEMON_SOCKET_H
#define PERCHD_DAEMON_SOCKET_H

#include <stddef.h>

#include "error.h"

/* A non-blocking TCP socket that listens on a numeric IPv4 or IPv6 address; port 0 takes any free
 * one. Returns the descriptor and the port bound, or -1 with error set. */
int socket_listen(const char *listen_on, int port, int *bound_port, struct error *error);

/* Where a browser on this machine finds it: 'SCHEME://127.0.0.1:PORT/', also for a wildcard. */
void socket_url(const char *scheme, const char *listen_on, int port, char *out, size_t size);

#endif
