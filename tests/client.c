/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check.h"

#include "client.h"

#include <arpa/inet.h>
#include <errno.h>
#include <stdio.h>
#include <strings.h>
#include <sys/socket.h>
#include <sys/time.h>
#include <unistd.h>

int client_dial(int port)
{
    struct sockaddr_in address = {.sin_family = AF_INET, .sin_port = htons((uint16_t)port)};
    struct timeval patience = {.tv_sec = 10};
    address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    int fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    assert_true(fd >= 0);
    setsockopt(fd, SOL_SOCKET, SO_RCVTIMEO, &patience, sizeof patience);
    setsockopt(fd, SOL_SOCKET, SO_SNDTIMEO, &patience, sizeof patience);
    assert_int_equal(connect(fd, (const struct sockaddr *)&address, sizeof address), 0);
    return fd;
}

bool client_send(int fd, const char *text, size_t length)
{
    while (length > 0) {
        ssize_t n = send(fd, text, length, MSG_NOSIGNAL);
        if (n < 0 && errno == EINTR)
            continue;
        if (n <= 0)
            return false;
        text += n;
        length -= (size_t)n;
    }
    return true;
}

static ssize_t receive(int fd, char *out, size_t size)
{
    ssize_t n;
    do
        n = recv(fd, out, size, 0);
    while (n < 0 && errno == EINTR);
    return n;
}

const char *client_field(const struct answer *answer, const char *name, char *out, size_t size)
{
    size_t length = strlen(name);
    out[0] = '\0';
    for (const char *line = strstr(answer->head, "\r\n"); line; line = strstr(line, "\r\n")) {
        line += 2;
        if (strncasecmp(line, name, length) != 0 || line[length] != ':')
            continue;
        const char *value = line + length + 1 + strspn(line + length + 1, " ");
        snprintf(out, size, "%.*s", (int)strcspn(value, "\r"), value);
        break;
    }
    return out;
}

/* Byte by byte, so that what follows stays in the socket. */
static bool read_head(int fd, struct answer *answer)
{
    size_t n = 0;
    while (n + 1 < sizeof answer->head && receive(fd, answer->head + n, 1) == 1) {
        n++;
        if (n >= 4 && memcmp(answer->head + n - 4, "\r\n\r\n", 4) == 0)
            return true;
    }
    return false;
}

void client_read(int fd, struct answer *answer, bool without_body)
{
    char length[32];
    memset(answer, 0, sizeof *answer);
    if (!read_head(fd, answer))
        return;
    answer->status = (int)strtol(answer->head + strlen("HTTP/1.1 "), NULL, 10);
    if (answer->status == 100) { /* go on; the answer itself follows */
        client_read(fd, answer, without_body);
        return;
    }
    client_field(answer, "Content-Length", length, sizeof length);
    size_t size = without_body || answer->status == 304 ? 0 : strtoul(length, NULL, 10);
    answer->body = calloc(1, size + 1);
    assert_non_null(answer->body);
    while (answer->length < size) {
        ssize_t n = receive(fd, answer->body + answer->length, size - answer->length);
        if (n <= 0)
            break;
        answer->length += (size_t)n;
    }
    answer->whole = answer->length == size;
}

void client_ask_raw(int port, const char *request, struct answer *answer)
{
    char text[16384];
    size_t n = 0;
    for (const char *c = request; *c && n + 32 < sizeof text; c++) {
        if (*c == '@')
            n += (size_t)snprintf(text + n, sizeof text - n, "127.0.0.1:%d", port);
        else
            text[n++] = *c;
    }
    int fd = client_dial(port);
    client_send(fd, text, n);
    client_read(fd, answer, strncmp(request, "HEAD ", 5) == 0);
    close(fd);
}

void client_ask(int port, const char *method, const char *path, const char *fields,
                struct answer *answer)
{
    char request[8192];
    snprintf(request, sizeof request, "%s %s HTTP/1.1\r\nHost: @\r\n%s\r\n", method, path, fields);
    client_ask_raw(port, request, answer);
}

bool client_closed(int fd)
{
    char byte;
    ssize_t n = receive(fd, &byte, 1);
    return n == 0 || (n < 0 && errno == ECONNRESET);
}

void client_forget(struct answer *answer)
{
    free(answer->body);
    answer->body = NULL;
}
