/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check.h"

#include "certificate.h"

#include <stdio.h>

void certificate_make(const char *folder, const char *name, int days)
{
    char command[1024];
    char out[4096];
    char err[4096];
    snprintf(command, sizeof command,
             "umask 077 && openssl req -x509 -newkey ec -pkeyopt ec_paramgen_curve:prime256v1 "
             "-nodes -keyout %s/%s.key -out %s/%s.pem -days %d -subj '/CN=%s' -addext "
             "subjectAltName=DNS:localhost,DNS:plan.nursery.example,IP:127.0.0.1",
             folder, name, folder, name, days, name);
    if (check_run(command, out, sizeof out, err, sizeof err) != 0)
        fail_msg("%s\n%s", command, err);
}
