/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "socket.h"

#include <arpa/inet.h>
#include <errno.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

static const int backlog = 1024; /* clients that wait while the server is at its limit */

union address {
    struct sockaddr any;
    struct sockaddr_in four;
    struct sockaddr_in6 six;
};

/* A numeric address; names would need the resolver before the network may be up. */
static socklen_t fill_address(union address *address, const char *listen_on, int port)
{
    memset(address, 0, sizeof *address);
    if (inet_pton(AF_INET, listen_on, &address->four.sin_addr) == 1) {
        address->four.sin_family = AF_INET;
        address->four.sin_port = htons((uint16_t)port);
        return sizeof address->four;
    }
    if (inet_pton(AF_INET6, listen_on, &address->six.sin6_addr) == 1) {
        address->six.sin6_family = AF_INET6;
        address->six.sin6_port = htons((uint16_t)port);
        return sizeof address->six;
    }
    return 0;
}

int socket_listen(const char *listen_on, int port, int *bound_port, struct error *error)
{
    union address address;
    socklen_t size = fill_address(&address, listen_on, port);
    if (size == 0)
        return error_set(error, "listen: '%s' is no IPv4 or IPv6 address", listen_on);
    int fd = socket(address.any.sa_family, SOCK_STREAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0);
    if (fd < 0)
        return error_set(error, "listen: %s", strerror(errno));
    int on = 1;
    setsockopt(fd, SOL_SOCKET, SO_REUSEADDR, &on, sizeof on);
    if (bind(fd, &address.any, size) != 0 || listen(fd, backlog) != 0 ||
        getsockname(fd, &address.any, &size) != 0) {
        error_set(error, "listen: %s port %d: %s; --port 0 takes any free one", listen_on, port,
                  strerror(errno));
        close(fd);
        return -1;
    }
    *bound_port =
        ntohs(address.any.sa_family == AF_INET ? address.four.sin_port : address.six.sin6_port);
    return fd;
}

void socket_url(const char *scheme, const char *listen_on, int port, char *out, size_t size)
{
    const char *host = listen_on;
    if (strcmp(host, "0.0.0.0") == 0)
        host = "127.0.0.1";
    if (strcmp(host, "::") == 0)
        host = "::1";
    bool six = strchr(host, ':') != NULL;
    snprintf(out, size, "%s://%s%s%s:%d/", scheme, six ? "[" : "", host, six ? "]" : "", port);
}
