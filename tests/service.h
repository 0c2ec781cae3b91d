/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The real perchd with the example nursery on loopback, and requests with bodies to it. */
#ifndef PERCHD_TESTS_SERVICE_H
#define PERCHD_TESTS_SERVICE_H

#include <stdbool.h>
#include <stdio.h>
#include <sys/types.h>

#include "client.h"
#include "example.h"

struct service {
    struct example example;
    char log[96]; /* its standard error */
    pid_t pid;
    FILE *out;
    int port;
    bool tls;
    char controller[128]; /* "Authorization: Bearer ...\r\n" */
    char station[128];
};

/* Makes the nursery, an account 'ines' (grower, password 'plants before pumps'), tokens 'gate' and
 * 'mast', and starts it; nobody is signed in. */
struct service service_start(void);
/* The same with further lines of [serve], "reading = sign-in\n"; %s in them is the folder. */
struct service service_start_with(const char *lines);
/* Only the nursery in its folder, nothing of it started or let in. */
struct example service_example_with(const char *lines);
/* Starts it again in the same folder, after service_end. */
void service_resume(struct service *service);
/* Sends the signal and waits; the exit code, or minus the signal that ended it. */
int service_end(struct service *service, int with_signal);
/* SIGTERM, which must end it with 0, and removes the folder. */
void service_stop(struct service *service);

/* Signs 'ines' in: fields for later requests, to be freed. */
char *service_sign_in(const struct service *service);

/* A request with a JSON body (NULL: none); fields as client_ask's. */
void service_ask(const struct service *service, const char *method, const char *path,
                 const char *fields, const char *body, struct answer *answer);
int service_status(const struct service *service, const char *method, const char *path,
                   const char *fields, const char *body);

/* Runs 'perchd WORDS --config ...' with input on its standard input; exit code. */
int service_command(const struct service *service, const char *input, const char *words, char *out,
                    size_t size);

#endif
