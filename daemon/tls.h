/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The certificate and its private key, from two files in PEM. Renewed files are taken up while
 * connections go on: a handshake uses what was current when it chose.
 */
#ifndef PERCHD_DAEMON_TLS_H
#define PERCHD_DAEMON_TLS_H

#include <stdint.h>

#include <gnutls/abstract.h>

#include "config.h"
#include "error.h"

struct tls;

/* Reads both files of config. A key that others on this machine can read, one that does not go with
 * the certificate, a file that is none: NULL with error set to file, line and key of the
 * configuration. */
struct tls *tls_open(const struct config *config, struct error *error);
void tls_close(struct tls *tls); /* NULL is fine; no connection may be left */

/* Reads the files again. 1: they are new and used from now on; 0: the same as before; -1 with error
 * set: what was there before stays in use. */
int tls_renew(struct tls *tls, struct error *error);

/* The end of the certificate's time. */
int64_t tls_until_s(const struct tls *tls);

/* What GnuTLS sends and signs with; valid until tls_close. */
void tls_current(const struct tls *tls, gnutls_pcert_st **chain, unsigned *count,
                 gnutls_privkey_t *key);

#endif
