/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Request header fields as text, read by the rules of RFC 9110 and nothing else: pure functions on
 * strings, no server needed. A list field may come in several lines: each line is added in turn.
 */
#ifndef PERCHD_DAEMON_FIELD_H
#define PERCHD_DAEMON_FIELD_H

#include <stdbool.h>
#include <stddef.h>

/* Weights are in thousandths (RFC 9110, 12.4.2); FIELD_UNNAMED: the field did not say. */
#define FIELD_UNNAMED (-1)

/* --- Accept-Encoding (12.5.3) -------------------------------------------------------------- */

struct field_codings {
    int gzip, identity, any;
};
#define FIELD_CODINGS_EMPTY                                                                        \
    {                                                                                              \
        FIELD_UNNAMED, FIELD_UNNAMED, FIELD_UNNAMED                                                \
    }

enum field_coding {
    FIELD_CODING_NONE, /* nothing of what we have is accepted: 406 */
    FIELD_CODING_IDENTITY,
    FIELD_CODING_GZIP,
};

/* Elements that do not follow the grammar are passed over. */
void field_codings_add(struct field_codings *codings, const char *line);
enum field_coding field_codings_choose(const struct field_codings *codings, bool have_gzip);

/* --- Accept (12.5.1) ----------------------------------------------------------------------- */

struct field_accept {
    int specificity; /* of the range that decided: 0 none yet, 1 any, 2 type, 3 exact */
    int weight;
    bool seen; /* the field was there and not empty */
};
#define FIELD_ACCEPT_EMPTY                                                                         \
    {                                                                                              \
        0, 0, false                                                                                \
    }

/* media_type: ours, lower case, without parameters ("application/json"). Parameters of a range
 * other than q are ignored. */
void field_accept_add(struct field_accept *accept, const char *line, const char *media_type);
bool field_accept_allows(const struct field_accept *accept);

/* --- Accept-Language (12.5.4) -------------------------------------------------------------- */

/* What we say things in. */
enum field_language { FIELD_ENGLISH, FIELD_SPANISH, FIELD_LANGUAGES };

struct field_languages {
    int weights[FIELD_LANGUAGES], any;
    enum field_language first; /* which was named first: it wins between equal weights */
};
#define FIELD_LANGUAGES_EMPTY                                                                      \
    {                                                                                              \
        {FIELD_UNNAMED, FIELD_UNNAMED}, FIELD_UNNAMED, FIELD_ENGLISH                               \
    }

/* Ranges with a region ('es-MX') name their language; of several the greatest weight counts. */
void field_languages_add(struct field_languages *languages, const char *line);
/* English when nothing of what we have is named, or all of it refused. */
enum field_language field_languages_choose(const struct field_languages *languages);
/* "en", "es". */
const char *field_language_tag(enum field_language language);

/* --- If-None-Match, If-Match (13.1.1, 13.1.2) ----------------------------------------------- */

enum field_compare {
    FIELD_COMPARE_WEAK,   /* If-None-Match: W/ does not matter */
    FIELD_COMPARE_STRONG, /* If-Match: W/ never matches */
};

/* One line: '*' or a list of entity tags. tag: ours, strong, with its quotes. */
bool field_tags_match(const char *line, const char *tag, enum field_compare compare);

/* --- Host (7.2), Origin (RFC 6454) ----------------------------------------------------------- */

#define FIELD_NAME_SIZE 128

/* Another name people reach us by. */
struct field_name {
    char host[FIELD_NAME_SIZE]; /* lower case */
    int port;                   /* 0: none given, that is 80, 443 and the port we listen on */
    bool secure;                /* 'https://': by TLS only, ours or a proxy's */
};

/* 'plan.nursery.example', with ':8443' behind, 'https://' before. False when it is none. */
bool field_name_parse(const char *text, struct field_name *name);

/* Where we can be reached; anything else in Host is another site's page that had its name point
 * at this address (DNS rebinding), or a mistake. */
struct field_host {
    const char *listen; /* address we listen on; a wildcard allows every address, never a name */
    int port;
    bool tls; /* what comes in is TLS */
    const struct field_name *names;
    size_t name_count;
};

/* Accepts 'localhost', loopback addresses and listen, each with our port (none means 80, with TLS
 * 443), and names. */
bool field_host_allowed(const char *value, const struct field_host *own);

/* Accepts 'SCHEME://HOST' where HOST would be allowed and SCHEME is how our page comes from there:
 * https with TLS; without, http, and for names https as well, since a proxy may stand in between,
 * but https alone for those that say so. */
bool field_origin_allowed(const char *value, const struct field_host *own);

/* 'https://...': the page's reader came by TLS, whoever ends it. */
bool field_origin_secure(const char *value);

/* True for an address only this machine can reach (127.0.0.0/8, ::1). */
bool field_address_loopback(const char *address);

/* --- names ---------------------------------------------------------------------------------- */

/* RFC 9110 5.6.2: at least one character, letters, digits and some signs. */
bool field_is_token(const char *text, size_t length);

#endif
