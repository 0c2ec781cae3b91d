/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Certificates for tests, made at run time with the openssl command. */
#ifndef PERCHD_TESTS_CERTIFICATE_H
#define PERCHD_TESTS_CERTIFICATE_H

/* Writes folder/NAME.pem, signed by its own key, for localhost, 127.0.0.1 and plan.nursery.example,
 * good for so many days, and folder/NAME.key with mode 0600. */
void certificate_make(const char *folder, const char *name, int days);

#endif
