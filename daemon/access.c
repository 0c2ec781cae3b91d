/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "access.h"

#include <crypt.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/random.h>

#include "utf8.h"

enum {
    ID_BYTES = 6,
    SECRET_BYTES = 32,
    SALT_BYTES = 32,
    SHA_ROUNDS = 1000, /* the least that crypt(5) has */
    PASSWORD_MIN = 10,
    PASSWORD_MAX = 200,
};

/* --- who ---------------------------------------------------------------------------------- */

static const struct {
    const char *name;
    bool scope;
    unsigned rights;
} roles[ACCESS_ROLES] = {
    [ACCESS_NOBODY] = {NULL, false, 0},
    [ACCESS_CONTROLLER] = {"controller", true, ACCESS_READ_PLAN | ACCESS_REPORT_RUNS},
    [ACCESS_STATION] = {"station", true, ACCESS_REPORT_WEATHER},
    [ACCESS_VIEWER] = {"viewer", false, ACCESS_READ_PLAN | ACCESS_READ},
    [ACCESS_GROWER] = {"grower", false,
                       ACCESS_READ_PLAN | ACCESS_READ | ACCESS_REPORT_RUNS | ACCESS_REPORT_WEATHER |
                           ACCESS_WRITE},
    [ACCESS_ADMIN] = {"admin", false,
                      ACCESS_READ_PLAN | ACCESS_READ | ACCESS_REPORT_RUNS | ACCESS_REPORT_WEATHER |
                          ACCESS_WRITE},
};

const char *access_role_name(enum access_role role)
{
    return role > ACCESS_NOBODY && role < ACCESS_ROLES ? roles[role].name : NULL;
}

enum access_role access_role_named(const char *name)
{
    for (int role = ACCESS_NOBODY + 1; role < ACCESS_ROLES; role++)
        if (strcmp(roles[role].name, name) == 0)
            return (enum access_role)role;
    return ACCESS_NOBODY;
}

bool access_role_is_scope(enum access_role role)
{
    return role > ACCESS_NOBODY && role < ACCESS_ROLES && roles[role].scope;
}

bool access_may(enum access_role role, enum access_right right)
{
    return role > ACCESS_NOBODY && role < ACCESS_ROLES && (roles[role].rights & right) == right;
}

/* --- secrets ------------------------------------------------------------------------------ */

static const char *const marks[] = {[ACCESS_TOKEN] = "pt-", [ACCESS_SESSION] = "ps-"};
enum { MARK_LENGTH = 3 };

static int draw(unsigned char *bytes, size_t count, struct error *error)
{
    ssize_t got;
    do
        got = getrandom(bytes, count, 0);
    while (got < 0 && errno == EINTR);
    /* Up to 256 bytes come whole (getrandom(2)). */
    return got == (ssize_t)count ? 0 : error_set(error, "no random bytes: %s", strerror(errno));
}

static void print_hex(const unsigned char *bytes, size_t count, char *out)
{
    static const char digits[] = "0123456789abcdef";
    for (size_t i = 0; i < count; i++) {
        out[2 * i] = digits[bytes[i] >> 4];
        out[2 * i + 1] = digits[bytes[i] & 15];
    }
    out[2 * count] = '\0';
}

int access_secret_make(struct access_secret *secret, struct error *error)
{
    unsigned char bytes[ID_BYTES + SECRET_BYTES];
    if (draw(bytes, sizeof bytes, error) != 0)
        return -1;
    print_hex(bytes, ID_BYTES, secret->id);
    print_hex(bytes + ID_BYTES, SECRET_BYTES, secret->secret);
    explicit_bzero(bytes, sizeof bytes);
    return 0;
}

void access_secret_print(const struct access_secret *secret, enum access_kind kind,
                         char out[ACCESS_TEXT_SIZE])
{
    snprintf(out, ACCESS_TEXT_SIZE, "%s%s-%s", marks[kind], secret->id, secret->secret);
}

static bool take_hex(const char *text, size_t digits, char *out)
{
    for (size_t i = 0; i < digits; i++) {
        if (!((text[i] >= '0' && text[i] <= '9') || (text[i] >= 'a' && text[i] <= 'f')))
            return false;
        out[i] = text[i];
    }
    out[digits] = '\0';
    return true;
}

bool access_secret_parse(const char *text, size_t length, enum access_kind kind,
                         struct access_secret *secret)
{
    enum { ID = ACCESS_ID_SIZE - 1, SECRET = ACCESS_SECRET_SIZE - 1 };
    return length == MARK_LENGTH + ID + 1 + SECRET && memcmp(text, marks[kind], MARK_LENGTH) == 0 &&
           take_hex(text + MARK_LENGTH, ID, secret->id) && text[MARK_LENGTH + ID] == '-' &&
           take_hex(text + MARK_LENGTH + ID + 1, SECRET, secret->secret);
}

/* crypt_data is 32 KB and holds what it was given: never on the stack, wiped when done. */
static bool crypt_into(const char *text, const char *setting, char out[ACCESS_HASH_SIZE])
{
    struct crypt_data *data = calloc(1, sizeof *data);
    bool good = false;
    if (!data)
        return false;
    const char *hash = crypt_r(text, setting, data);
    /* A failure is a text that begins with '*' (crypt(3)). */
    if (hash && hash[0] != '*' && strlen(hash) < ACCESS_HASH_SIZE) {
        memcpy(out, hash, strlen(hash) + 1);
        good = true;
    }
    explicit_bzero(data, sizeof *data);
    free(data);
    return good;
}

static int hash_with(const char *text, const char *prefix, unsigned long cost,
                     char out[ACCESS_HASH_SIZE], struct error *error)
{
    unsigned char salt[SALT_BYTES];
    char setting[CRYPT_GENSALT_OUTPUT_SIZE];
    if (draw(salt, sizeof salt, error) != 0)
        return -1;
    if (!crypt_gensalt_rn(prefix, cost, (const char *)salt, sizeof salt, setting, sizeof setting) ||
        !crypt_into(text, setting, out))
        return error_set(error, "the secret could not be hashed: %s", strerror(errno));
    return 0;
}

int access_secret_hash(const char *secret, char out[ACCESS_HASH_SIZE], struct error *error)
{
    return hash_with(secret, "$5$", SHA_ROUNDS, out, error);
}

int access_password_hash(const char *password, char out[ACCESS_HASH_SIZE], struct error *error)
{
    return hash_with(password, "$y$", 0, out, error); /* 0: the library's own cost */
}

/* Looks at every byte of both, wherever they differ first. */
static bool equal(const char *one, const char *other)
{
    size_t length = strlen(one);
    unsigned char differ = strlen(other) != length;
    volatile unsigned char all = differ;
    for (size_t i = 0; !differ && i < length; i++)
        all = (unsigned char)(all | ((unsigned char)one[i] ^ (unsigned char)other[i]));
    return all == 0;
}

bool access_matches(const char *text, const char *hash)
{
    /* yescrypt at the library's own cost: only its time matters. */
    static const char nobody[] = "$y$j9T$F5Jx5fExrKuPp53xLKQ..1$";
    char got[ACCESS_HASH_SIZE] = "";
    bool good = crypt_into(text, hash[0] ? hash : nobody, got);
    good = good && hash[0] && equal(got, hash);
    explicit_bzero(got, sizeof got);
    return good;
}

int access_password_check(const char *password, struct error *error)
{
    size_t length = strlen(password);
    bool plain = utf8_check(password, length) == length;
    for (size_t i = 0; i < length; i++)
        plain = plain && (unsigned char)password[i] >= 0x20 && password[i] != 0x7f;
    if (plain && length >= PASSWORD_MIN && length <= PASSWORD_MAX)
        return 0;
    return error_set(error,
                     "a password of %zu bytes given%s; accepted: %d to %d bytes of text without "
                     "control characters",
                     length, plain ? "" : " with others than text", PASSWORD_MIN, PASSWORD_MAX);
}

/* --- failures ----------------------------------------------------------------------------- */

/* Failures that are not forgiven yet. */
static int count_at(const struct access_address *address, int64_t now_s)
{
    int64_t forgiven = (now_s - address->since_s) / ACCESS_FORGIVEN_S;
    if (now_s < address->since_s) /* the clock was set back */
        forgiven = 0;
    return forgiven >= address->count ? 0 : address->count - (int)forgiven;
}

int access_failures_wait_s(const struct access_failures *failures, const char *address,
                           int64_t now_s)
{
    for (size_t i = 0; i < ACCESS_ADDRESSES; i++) {
        const struct access_address *one = &failures->addresses[i];
        if (strcmp(one->name, address) != 0)
            continue;
        if (count_at(one, now_s) < ACCESS_FAILURES_MAX)
            return 0;
        int64_t into_s = now_s >= one->since_s ? (now_s - one->since_s) % ACCESS_FORGIVEN_S : 0;
        return (int)(ACCESS_FORGIVEN_S - into_s);
    }
    return 0;
}

/* The address's own place, else the one with the least to remember. */
static struct access_address *place_of(struct access_failures *failures, const char *address,
                                       int64_t now_s)
{
    struct access_address *least = &failures->addresses[0];
    for (size_t i = 0; i < ACCESS_ADDRESSES; i++) {
        struct access_address *one = &failures->addresses[i];
        if (strcmp(one->name, address) == 0)
            return one;
        if (count_at(one, now_s) < count_at(least, now_s))
            least = one;
    }
    least->count = 0;
    snprintf(least->name, sizeof least->name, "%s", address);
    return least;
}

void access_failures_add(struct access_failures *failures, const char *address, int64_t now_s)
{
    struct access_address *place = place_of(failures, address, now_s);
    int count = count_at(place, now_s);
    if (count == 0 || now_s < place->since_s)
        place->since_s = now_s;
    else /* whole steps are forgiven, the step underway goes on */
        place->since_s += (now_s - place->since_s) / ACCESS_FORGIVEN_S * ACCESS_FORGIVEN_S;
    place->count = count < ACCESS_FAILURES_MAX ? count + 1 : count;
}
