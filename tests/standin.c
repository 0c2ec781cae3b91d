/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check.h"
#include "standin.h"

#include <arpa/inet.h>
#include <fcntl.h>
#include <netinet/in.h>
#include <poll.h>
#include <pthread.h>
#include <stdbool.h>
#include <stdio.h>
#include <sys/socket.h>
#include <unistd.h>
#include <zlib.h>

enum { MOST_ANSWERS = 64, MOST_REQUESTS = 256, REQUEST_SIZE = 8192 };

struct answer {
    enum standin_manner manner;
    char *bytes;
    size_t length;
};

struct standin {
    int listen_fd;
    int stop[2]; /* a pipe: readable when the thread shall end */
    char url[64];
    int port;
    pthread_t thread;
    pthread_mutex_t mutex; /* guards what follows */
    struct answer answers[MOST_ANSWERS];
    size_t answer_count, next;
    char *requests[MOST_REQUESTS];
    size_t request_count;
};

enum waited { WAITED_OVER, WAITED_READY, WAITED_STOP };

static enum waited wait_on(const struct standin *s, int fd, short events, int most_ms)
{
    struct pollfd fds[2] = {{fd, events, 0}, {s->stop[0], POLLIN, 0}};
    int n = poll(fds, 2, most_ms);
    if (fds[1].revents)
        return WAITED_STOP;
    return n > 0 ? WAITED_READY : WAITED_OVER;
}

static bool wait_for(const struct standin *s, int fd, short events, int most_ms)
{
    return wait_on(s, fd, events, most_ms) == WAITED_READY;
}

static void read_request(struct standin *s, int fd)
{
    char *text = calloc(1, REQUEST_SIZE);
    size_t length = 0;
    while (text && length < REQUEST_SIZE - 1 && !strstr(text, "\r\n\r\n") &&
           wait_for(s, fd, POLLIN, 10000)) {
        ssize_t n = recv(fd, text + length, REQUEST_SIZE - 1 - length, 0);
        if (n <= 0)
            break;
        length += (size_t)n;
    }
    pthread_mutex_lock(&s->mutex);
    if (length > 0 && s->request_count < MOST_REQUESTS)
        s->requests[s->request_count++] = text;
    else
        free(text);
    pthread_mutex_unlock(&s->mutex);
}

static struct answer take_answer(struct standin *s)
{
    struct answer copy = {STANDIN_WHOLE, NULL, 0};
    pthread_mutex_lock(&s->mutex);
    if (s->answer_count > 0) {
        size_t last = s->answer_count - 1;
        size_t which = s->next < last ? s->next : last;
        const struct answer *a = &s->answers[which];
        s->next = which + 1;
        copy = *a;
        copy.bytes = malloc(a->length + 1);
        if (copy.bytes)
            memcpy(copy.bytes, a->bytes, a->length);
    }
    pthread_mutex_unlock(&s->mutex);
    return copy;
}

static void send_all(const struct standin *s, int fd, const char *bytes, size_t length)
{
    while (length > 0 && wait_for(s, fd, POLLOUT, 10000)) {
        ssize_t n = send(fd, bytes, length, MSG_NOSIGNAL);
        if (n <= 0)
            return;
        bytes += n;
        length -= (size_t)n;
    }
}

static void drip(const struct standin *s, int fd, const char *bytes, size_t length)
{
    for (size_t i = 0; i < length; i++) {
        if (send(fd, bytes + i, 1, MSG_NOSIGNAL) != 1 || wait_on(s, fd, POLLIN, 50) != WAITED_OVER)
            return; /* the client left, or the test is over */
    }
}

static void give(const struct standin *s, int fd, const struct answer *answer)
{
    if (!answer->bytes)
        return;
    if (answer->manner == STANDIN_DRIP)
        drip(s, fd, answer->bytes, answer->length);
    else
        send_all(s, fd, answer->bytes, answer->length);
    if (answer->manner == STANDIN_HOLD)
        wait_for(s, fd, POLLIN, 60000);
    if (answer->manner == STANDIN_RESET) {
        const struct linger at_once = {1, 0};
        setsockopt(fd, SOL_SOCKET, SO_LINGER, &at_once, sizeof at_once);
    }
}

static void *serve(void *context)
{
    struct standin *s = context;
    while (wait_for(s, s->listen_fd, POLLIN, -1)) {
        int fd = accept4(s->listen_fd, NULL, NULL, SOCK_CLOEXEC);
        if (fd < 0)
            continue;
        read_request(s, fd);
        struct answer answer = take_answer(s);
        give(s, fd, &answer);
        free(answer.bytes);
        if (answer.manner != STANDIN_RESET)
            shutdown(fd, SHUT_WR);
        close(fd);
    }
    return NULL;
}

struct standin *standin_start(void)
{
    struct standin *s = calloc(1, sizeof *s);
    struct sockaddr_in address = {.sin_family = AF_INET, .sin_addr = {htonl(INADDR_LOOPBACK)}};
    socklen_t size = sizeof address;
    assert_non_null(s);
    s->listen_fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    assert_true(s->listen_fd >= 0);
    assert_int_equal(bind(s->listen_fd, (struct sockaddr *)&address, sizeof address), 0);
    assert_int_equal(listen(s->listen_fd, 16), 0);
    assert_int_equal(getsockname(s->listen_fd, (struct sockaddr *)&address, &size), 0);
    s->port = ntohs(address.sin_port);
    snprintf(s->url, sizeof s->url, "http://127.0.0.1:%d/forecast", s->port);
    assert_int_equal(pipe2(s->stop, O_CLOEXEC), 0);
    pthread_mutex_init(&s->mutex, NULL);
    assert_int_equal(pthread_create(&s->thread, NULL, serve, s), 0);
    return s;
}

void standin_stop(struct standin *s)
{
    close(s->stop[1]);
    pthread_join(s->thread, NULL);
    close(s->stop[0]);
    close(s->listen_fd);
    standin_clear(s);
    for (size_t i = 0; i < s->request_count; i++)
        free(s->requests[i]);
    pthread_mutex_destroy(&s->mutex);
    free(s);
}

int standin_port(const struct standin *s)
{
    return s->port;
}

const char *standin_url(const struct standin *s)
{
    return s->url;
}

void standin_answer_raw(struct standin *s, enum standin_manner manner, const void *bytes,
                        size_t length)
{
    char *copy = malloc(length + 1);
    assert_non_null(copy);
    memcpy(copy, bytes, length);
    pthread_mutex_lock(&s->mutex);
    assert_true(s->answer_count < MOST_ANSWERS);
    struct answer answer = {manner, copy, length};
    s->answers[s->answer_count++] = answer;
    pthread_mutex_unlock(&s->mutex);
}

void standin_answer(struct standin *s, int status, const char *headers, const void *body,
                    size_t length)
{
    char *bytes = malloc(strlen(headers) + length + 256);
    assert_non_null(bytes);
    int head =
        sprintf(bytes, "HTTP/1.1 %d Answer\r\n%sContent-Length: %zu\r\nConnection: close\r\n\r\n",
                status, headers, length);
    if (length > 0)
        memcpy(bytes + head, body, length);
    standin_answer_raw(s, STANDIN_WHOLE, bytes, (size_t)head + length);
    free(bytes);
}

void standin_clear(struct standin *s)
{
    pthread_mutex_lock(&s->mutex);
    for (size_t i = 0; i < s->answer_count; i++)
        free(s->answers[i].bytes);
    s->answer_count = s->next = 0;
    pthread_mutex_unlock(&s->mutex);
}

size_t standin_requests(struct standin *s)
{
    pthread_mutex_lock(&s->mutex);
    size_t count = s->request_count;
    pthread_mutex_unlock(&s->mutex);
    return count;
}

const char *standin_request(struct standin *s, size_t index)
{
    pthread_mutex_lock(&s->mutex);
    const char *text = index < s->request_count ? s->requests[index] : "";
    pthread_mutex_unlock(&s->mutex);
    return text;
}

void *standin_gzip(const void *bytes, size_t length, size_t *gzip_length)
{
    z_stream z = {.next_in = Z_NULL};
    assert_int_equal(deflateInit2(&z, 9, Z_DEFLATED, 15 + 16, 9, Z_DEFAULT_STRATEGY), Z_OK);
    size_t size = deflateBound(&z, length) + 64;
    unsigned char *out = malloc(size);
    assert_non_null(out);
    unsigned char *in = malloc(length + 1);
    assert_non_null(in);
    memcpy(in, bytes, length);
    z.next_in = in;
    z.avail_in = (unsigned)length;
    z.next_out = out;
    z.avail_out = (unsigned)size;
    assert_int_equal(deflate(&z, Z_FINISH), Z_STREAM_END);
    *gzip_length = z.total_out;
    deflateEnd(&z);
    free(in);
    return out;
}
