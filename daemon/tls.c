/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tls.h"

#include <errno.h>
#include <fcntl.h>
#include <gnutls/gnutls.h>
#include <gnutls/x509.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum {
    CHAIN_MAX = 16,      /* certificates of a chain; public ones have two to four */
    FILE_MAX = 64 << 10, /* bytes */
};

/* A file's bytes with a NUL behind. */
struct text {
    unsigned char *bytes;
    size_t length;
};

/* One certificate and key. Those before stay until the end, a few kilobytes each: nothing says when
 * the last handshake that chose them is over, and they are renewed some times a year. */
struct pair {
    struct pair *before;
    struct text files[2]; /* as read, to see whether they changed */
    gnutls_pcert_st chain[CHAIN_MAX];
    unsigned count;
    gnutls_privkey_t key;
    int64_t until_s;
};

struct tls {
    const struct config *config;
    struct pair *current;
};

enum file { FILE_CERTIFICATE, FILE_KEY };

/* --- errors ------------------------------------------------------------------------------- */

static int fail(const struct config *config, enum file file, struct error *error, const char *what)
{
    bool key = file == FILE_KEY;
    return error_set(error, "%s:%d: %s: '%.200s': %s", config->path,
                     key ? config->tls_key_line : config->tls_certificate_line,
                     key ? "tls_key" : "tls_certificate",
                     key ? config->tls_key : config->tls_certificate, what);
}

static int fail_code(const struct config *config, enum file file, struct error *error,
                     const char *what, int code)
{
    char text[200];
    snprintf(text, sizeof text, "%s (%s)", what, gnutls_strerror(code));
    return fail(config, file, error, text);
}

/* --- files -------------------------------------------------------------------------------- */

static void wipe(struct text *text)
{
    if (text->bytes)
        explicit_bzero(text->bytes, text->length);
    free(text->bytes);
    *text = (struct text){NULL, 0};
}

static int read_all(int fd, struct text *text)
{
    text->bytes = calloc(1, FILE_MAX + 1);
    if (!text->bytes)
        return ENOMEM;
    while (text->length <= FILE_MAX) {
        ssize_t n = read(fd, text->bytes + text->length, FILE_MAX + 1 - text->length);
        if (n < 0 && errno == EINTR)
            continue;
        if (n < 0)
            return errno;
        if (n == 0)
            break;
        text->length += (size_t)n;
    }
    if (text->length > FILE_MAX)
        return EFBIG;
    text->bytes[text->length] = '\0';
    return 0;
}

static int read_file(const struct config *config, enum file file, struct text *text,
                     struct error *error)
{
    struct stat about;
    int fd = open(file == FILE_KEY ? config->tls_key : config->tls_certificate,
                  O_RDONLY | O_CLOEXEC | O_NONBLOCK);
    int result = -1;
    if (fd < 0 || fstat(fd, &about) != 0) {
        fail(config, file, error, strerror(errno));
        goto end;
    }
    if (!S_ISREG(about.st_mode)) {
        fail(config, file, error, "not a file; accepted is one in PEM");
        goto end;
    }
    if (file == FILE_KEY && (about.st_mode & (S_IROTH | S_IWOTH | S_IWGRP)) != 0) {
        fail(config, file, error,
             "others on this machine can read or change it; accepted is mode 0640 or 0600, the "
             "group being perchd's");
        goto end;
    }
    int code = read_all(fd, text);
    result = code == 0
                 ? 0
                 : fail(config, file, error,
                        code == EFBIG ? "longer than 64 KB, the most accepted" : strerror(code));
end:
    if (fd >= 0)
        close(fd);
    return result;
}

/* --- a pair ------------------------------------------------------------------------------- */

static void pair_free(struct pair *pair)
{
    for (unsigned i = 0; i < pair->count; i++)
        gnutls_pcert_deinit(&pair->chain[i]);
    if (pair->key)
        gnutls_privkey_deinit(pair->key);
    wipe(&pair->files[FILE_CERTIFICATE]);
    wipe(&pair->files[FILE_KEY]);
    free(pair);
}

static gnutls_datum_t datum_of(const struct text *text)
{
    return (gnutls_datum_t){text->bytes, (unsigned)text->length};
}

static int take_chain(const struct config *config, struct pair *pair, struct error *error)
{
    const gnutls_datum_t text = datum_of(&pair->files[FILE_CERTIFICATE]);
    gnutls_x509_crt_t first;
    unsigned count = CHAIN_MAX;
    int code =
        gnutls_pcert_list_import_x509_raw(pair->chain, &count, &text, GNUTLS_X509_FMT_PEM, 0);
    if (code < 0 || count == 0)
        return fail_code(config, FILE_CERTIFICATE, error,
                         "no certificate; accepted is PEM, the server's own first, then those that "
                         "vouch for it",
                         code);
    pair->count = count;
    code = gnutls_pcert_export_x509(&pair->chain[0], &first);
    if (code < 0)
        return fail_code(config, FILE_CERTIFICATE, error, "not readable", code);
    pair->until_s = (int64_t)gnutls_x509_crt_get_expiration_time(first);
    gnutls_x509_crt_deinit(first);
    return 0;
}

static int take_key(const struct config *config, struct pair *pair, struct error *error)
{
    const gnutls_datum_t text = datum_of(&pair->files[FILE_KEY]);
    int code = gnutls_privkey_init(&pair->key);
    if (code == 0)
        code = gnutls_privkey_import_x509_raw(pair->key, &text, GNUTLS_X509_FMT_PEM, NULL, 0);
    if (code < 0)
        return fail_code(config, FILE_KEY, error,
                         "no private key; accepted is PEM without a password", code);
    return 0;
}

/* The library that signs would notice only in a handshake. */
static int check_match(const struct config *config, const struct pair *pair, struct error *error)
{
    const gnutls_datum_t certificate = datum_of(&pair->files[FILE_CERTIFICATE]);
    const gnutls_datum_t key = datum_of(&pair->files[FILE_KEY]);
    gnutls_certificate_credentials_t both;
    int code = gnutls_certificate_allocate_credentials(&both);
    if (code < 0)
        return fail_code(config, FILE_KEY, error, "out of memory", code);
    code = gnutls_certificate_set_x509_key_mem2(both, &certificate, &key, GNUTLS_X509_FMT_PEM, NULL,
                                                0);
    gnutls_certificate_free_credentials(both);
    return code >= 0 ? 0
                     : fail_code(config, FILE_KEY, error,
                                 "not the key of the certificate in tls_certificate", code);
}

static struct pair *pair_read(const struct config *config, struct error *error)
{
    struct pair *pair = calloc(1, sizeof *pair);
    if (!pair) {
        error_set(error, "tls: out of memory");
        return NULL;
    }
    if (read_file(config, FILE_CERTIFICATE, &pair->files[FILE_CERTIFICATE], error) == 0 &&
        read_file(config, FILE_KEY, &pair->files[FILE_KEY], error) == 0 &&
        take_chain(config, pair, error) == 0 && take_key(config, pair, error) == 0 &&
        check_match(config, pair, error) == 0)
        return pair;
    pair_free(pair);
    return NULL;
}

/* --- the whole ---------------------------------------------------------------------------- */

struct tls *tls_open(const struct config *config, struct error *error)
{
    struct tls *tls = calloc(1, sizeof *tls);
    if (!tls) {
        error_set(error, "tls: out of memory");
        return NULL;
    }
    tls->config = config;
    tls->current = pair_read(config, error);
    if (tls->current)
        return tls;
    free(tls);
    return NULL;
}

void tls_close(struct tls *tls)
{
    if (!tls)
        return;
    for (struct pair *pair = tls->current; pair;) {
        struct pair *before = pair->before;
        pair_free(pair);
        pair = before;
    }
    free(tls);
}

static bool same(const struct text *one, const struct text *other)
{
    return one->length == other->length && memcmp(one->bytes, other->bytes, one->length) == 0;
}

int tls_renew(struct tls *tls, struct error *error)
{
    struct pair *pair = pair_read(tls->config, error);
    if (!pair)
        return -1;
    if (same(&pair->files[FILE_CERTIFICATE], &tls->current->files[FILE_CERTIFICATE]) &&
        same(&pair->files[FILE_KEY], &tls->current->files[FILE_KEY])) {
        pair_free(pair);
        return 0;
    }
    pair->before = tls->current;
    tls->current = pair;
    return 1;
}

int64_t tls_until_s(const struct tls *tls)
{
    return tls->current->until_s;
}

void tls_current(const struct tls *tls, gnutls_pcert_st **chain, unsigned *count,
                 gnutls_privkey_t *key)
{
    *chain = tls->current->chain;
    *count = tls->current->count;
    *key = tls->current->key;
}
