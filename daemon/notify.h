/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the service manager is told, when there is one (sd_notify(3)). */
#ifndef PERCHD_DAEMON_NOTIFY_H
#define PERCHD_DAEMON_NOTIFY_H

void notify_ready(const char *status);
void notify_alive(void); /* feeds the watchdog */
void notify_stopping(void);

#endif
