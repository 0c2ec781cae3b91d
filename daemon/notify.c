/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "notify.h"

#include <systemd/sd-daemon.h>

void notify_ready(const char *status)
{
    sd_notifyf(0, "READY=1\nSTATUS=%s", status);
}

void notify_alive(void)
{
    sd_notify(0, "WATCHDOG=1");
}

void notify_stopping(void)
{
    sd_notify(0, "STOPPING=1");
}
