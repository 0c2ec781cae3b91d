/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "notify.h"

#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

/* One datagram to the socket that $NOTIFY_SOCKET names; '@' stands for the NUL of an abstract one
 * (sd_notify(3), "Notes"). libsystemd does the same and brings six libraries along: a tenth of the
 * daemon's memory and of its start. Nothing to be done when it fails. */
static void notify(const char *state)
{
    const char *path = getenv("NOTIFY_SOCKET");
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    size_t length = path ? strlen(path) : 0;
    if (length < 2 || length >= sizeof address.sun_path || (path[0] != '/' && path[0] != '@'))
        return;
    memcpy(address.sun_path, path, length);
    if (path[0] == '@')
        address.sun_path[0] = '\0';
    int fd = socket(AF_UNIX, SOCK_DGRAM | SOCK_CLOEXEC, 0);
    if (fd < 0)
        return;
    sendto(fd, state, strlen(state), MSG_NOSIGNAL, (const struct sockaddr *)&address,
           (socklen_t)(offsetof(struct sockaddr_un, sun_path) + length));
    close(fd);
}

void notify_ready(const char *status)
{
    char state[256];
    snprintf(state, sizeof state, "READY=1\nSTATUS=%s", status);
    notify(state);
}

void notify_alive(void)
{
    notify("WATCHDOG=1");
}

void notify_stopping(void)
{
    notify("STOPPING=1");
}
