/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "field.h"

#include <arpa/inet.h>
#include <string.h>
#include <strings.h>

enum { WEIGHT_FULL = 1000, HOST_SIZE = FIELD_NAME_SIZE, HTTP_PORT = 80, HTTPS_PORT = 443 };

static const char https_scheme[] = "https://";

/* Part of a line, not terminated. */
struct span {
    const char *start;
    size_t length;
};

static bool is_blank(char c)
{
    return c == ' ' || c == '\t';
}

static struct span trim(struct span s)
{
    while (s.length && is_blank(s.start[0])) {
        s.start++;
        s.length--;
    }
    while (s.length && is_blank(s.start[s.length - 1]))
        s.length--;
    return s;
}

/* Cuts what stands before the next separator outside quotes off *rest; false at the end. */
static bool cut(const char **rest, char separator, struct span *part)
{
    if (!*rest)
        return false;
    bool quoted = false;
    const char *end = *rest;
    for (; *end && (quoted || *end != separator); end++)
        if (*end == '"')
            quoted = !quoted;
    *part = trim((struct span){*rest, (size_t)(end - *rest)});
    *rest = *end ? end + 1 : NULL;
    return true;
}

static bool same(struct span s, const char *text)
{
    return s.length == strlen(text) && strncasecmp(s.start, text, s.length) == 0;
}

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

/* qvalue = 0[.ddd] | 1[.000]; false when it is something else. */
static bool parse_weight(struct span s, int *weight)
{
    if (s.length < 1 || s.length > 5 || (s.start[0] != '0' && s.start[0] != '1') ||
        (s.length > 1 && s.start[1] != '.'))
        return false;
    int value = (s.start[0] - '0') * WEIGHT_FULL;
    int step = WEIGHT_FULL / 10;
    for (size_t i = 2; i < s.length; i++, step /= 10) {
        if (!is_digit(s.start[i]))
            return false;
        value += (s.start[i] - '0') * step;
    }
    if (value > WEIGHT_FULL)
        return false;
    *weight = value;
    return true;
}

/* 'value ; parameter ; q=0.5' to value and weight; false when the weight is malformed. */
static bool parse_weighted(struct span element, struct span *value, int *weight)
{
    char text[256];
    if (element.length >= sizeof text)
        return false;
    memcpy(text, element.start, element.length);
    text[element.length] = '\0';
    const char *rest = text;
    struct span part;
    cut(&rest, ';', &part);
    *value = (struct span){element.start, part.length};
    *weight = WEIGHT_FULL;
    while (cut(&rest, ';', &part))
        if (part.length >= 2 && (part.start[0] == 'q' || part.start[0] == 'Q') &&
            part.start[1] == '=' &&
            !parse_weight((struct span){part.start + 2, part.length - 2}, weight))
            return false;
    return true;
}

void field_codings_add(struct field_codings *codings, const char *line)
{
    struct span element;
    struct span value;
    int weight;
    while (cut(&line, ',', &element)) {
        if (!parse_weighted(element, &value, &weight))
            continue;
        if (same(value, "gzip") || same(value, "x-gzip"))
            codings->gzip = weight;
        else if (same(value, "identity"))
            codings->identity = weight;
        else if (same(value, "*"))
            codings->any = weight;
    }
}

enum field_coding field_codings_choose(const struct field_codings *codings, bool have_gzip)
{
    int gzip = codings->gzip != FIELD_UNNAMED ? codings->gzip : codings->any;
    int identity = codings->identity != FIELD_UNNAMED ? codings->identity : codings->any;
    /* With equal weights gzip is taken when it was named: '*' alone does not ask for it. */
    bool preferred = codings->gzip != FIELD_UNNAMED ? gzip >= identity : gzip > identity;
    if (have_gzip && gzip > 0 && preferred)
        return FIELD_CODING_GZIP;
    return identity != 0 ? FIELD_CODING_IDENTITY : FIELD_CODING_NONE;
}

/* How closely a range names our type: 0 not at all, 1 any, 2 the type, 3 exactly. */
static int range_specificity(struct span range, const char *media_type)
{
    if (same(range, "*/*"))
        return 1;
    if (same(range, media_type))
        return 3;
    size_t type = (size_t)(strchr(media_type, '/') - media_type) + 1;
    bool whole_type = range.length == type + 1 && range.start[type] == '*' &&
                      strncasecmp(range.start, media_type, type) == 0;
    return whole_type ? 2 : 0;
}

void field_accept_add(struct field_accept *accept, const char *line, const char *media_type)
{
    struct span element;
    struct span range;
    int weight;
    while (cut(&line, ',', &element)) {
        if (element.length == 0)
            continue;
        accept->seen = true;
        if (!parse_weighted(element, &range, &weight))
            continue;
        int specificity = range_specificity(range, media_type);
        if (specificity > accept->specificity ||
            (specificity == accept->specificity && weight > accept->weight)) {
            accept->specificity = specificity;
            accept->weight = specificity ? weight : 0;
        }
    }
}

bool field_accept_allows(const struct field_accept *accept)
{
    return !accept->seen || accept->weight > 0;
}

static const char *const language_tags[FIELD_LANGUAGES] = {
    [FIELD_ENGLISH] = "en",
    [FIELD_SPANISH] = "es",
};

const char *field_language_tag(enum field_language language)
{
    return language_tags[language];
}

void field_languages_add(struct field_languages *languages, const char *line)
{
    struct span element;
    struct span range;
    int weight;
    while (cut(&line, ',', &element)) {
        if (!parse_weighted(element, &range, &weight))
            continue;
        if (same(range, "*"))
            languages->any = weight;
        const char *dash = memchr(range.start, '-', range.length);
        if (dash)
            range.length = (size_t)(dash - range.start);
        for (int i = 0; i < FIELD_LANGUAGES; i++) {
            if (!same(range, language_tags[i]))
                continue;
            if (languages->weights[!i] == FIELD_UNNAMED)
                languages->first = (enum field_language)i;
            if (weight > languages->weights[i])
                languages->weights[i] = weight;
        }
    }
}

enum field_language field_languages_choose(const struct field_languages *languages)
{
    int weights[FIELD_LANGUAGES];
    for (int i = 0; i < FIELD_LANGUAGES; i++)
        weights[i] =
            languages->weights[i] != FIELD_UNNAMED ? languages->weights[i] : languages->any;
    int ahead = weights[FIELD_SPANISH] - weights[FIELD_ENGLISH];
    if (weights[FIELD_SPANISH] <= 0 || ahead < 0)
        return FIELD_ENGLISH;
    return ahead > 0 ? FIELD_SPANISH : languages->first;
}

bool field_tags_match(const char *line, const char *tag, enum field_compare compare)
{
    struct span element;
    while (cut(&line, ',', &element)) {
        if (same(element, "*"))
            return true;
        bool weak = element.length >= 2 && element.start[0] == 'W' && element.start[1] == '/';
        if (weak && compare == FIELD_COMPARE_STRONG)
            continue;
        if (weak) {
            element.start += 2;
            element.length -= 2;
        }
        if (element.length == strlen(tag) && memcmp(element.start, tag, element.length) == 0)
            return true;
    }
    return false;
}

bool field_address_loopback(const char *address)
{
    struct in_addr four;
    struct in6_addr six;
    if (inet_pton(AF_INET, address, &four) == 1)
        return ntohl(four.s_addr) >> 24 == 127;
    return inet_pton(AF_INET6, address, &six) == 1 && IN6_IS_ADDR_LOOPBACK(&six);
}

/* The same address in whatever spelling; *is_address: host is an address at all. */
static bool same_address(const char *host, const char *listen, bool *is_address)
{
    struct in_addr four[2];
    struct in6_addr six[2];
    if (inet_pton(AF_INET, host, &four[0]) == 1) {
        *is_address = true;
        return inet_pton(AF_INET, listen, &four[1]) == 1 && four[0].s_addr == four[1].s_addr;
    }
    *is_address = inet_pton(AF_INET6, host, &six[0]) == 1;
    return *is_address && inet_pton(AF_INET6, listen, &six[1]) == 1 &&
           IN6_ARE_ADDR_EQUAL(&six[0], &six[1]);
}

static bool name_allowed(const char *host, const char *listen)
{
    bool is_address = false;
    if (strcasecmp(host, "localhost") == 0 || field_address_loopback(host) ||
        same_address(host, listen, &is_address))
        return true;
    /* An address cannot be rebound, so with a wildcard each of ours is fine. */
    return is_address && (strcmp(listen, "0.0.0.0") == 0 || strcmp(listen, "::") == 0);
}

/* 1..5 digits; -1 when it is something else. */
static int parse_port(const char *text)
{
    int port = 0;
    size_t n = 0;
    for (; is_digit(text[n]) && n < 5; n++)
        port = port * 10 + (text[n] - '0');
    return n > 0 && text[n] == '\0' ? port : -1;
}

/* Host and port of 'HOST', 'HOST:PORT', '[HOST]:PORT'; *port 0 when none is given. */
static bool split_host(const char *value, char host[HOST_SIZE], int *port)
{
    bool bracketed = value[0] == '[';
    const char *start = value + bracketed;
    size_t length = strcspn(start, bracketed ? "]" : ":");
    if (length == 0 || length >= HOST_SIZE || (bracketed && start[length] != ']'))
        return false;
    memcpy(host, start, length);
    host[length] = '\0';
    if (bracketed != (strchr(host, ':') != NULL))
        return false;
    const char *rest = start + length + bracketed;
    *port = *rest == '\0' ? 0 : *rest == ':' ? parse_port(rest + 1) : -1;
    return *port == 0 ? *rest == '\0' : *port > 0;
}

/* Whether a port, 0 for one that was not given, is one of the name's. */
static bool port_allowed(int port, const struct field_name *name, const struct field_host *own)
{
    if (name->port == 0 && !name->secure)
        return port == 0 || port == HTTP_PORT || port == HTTPS_PORT || port == own->port;
    int wanted = name->port ? name->port : HTTPS_PORT;
    bool usual = wanted == HTTPS_PORT || (wanted == HTTP_PORT && !name->secure);
    return port == wanted || (port == 0 && usual);
}

static const struct field_name *find_name(const char *host, int port, const struct field_host *own)
{
    for (size_t i = 0; i < own->name_count; i++)
        if (strcasecmp(own->names[i].host, host) == 0 && port_allowed(port, &own->names[i], own))
            return &own->names[i];
    return NULL;
}

bool field_host_allowed(const char *value, const struct field_host *own)
{
    char host[HOST_SIZE];
    int port = 0;
    if (!split_host(value, host, &port))
        return false;
    int meant = port ? port : own->tls ? HTTPS_PORT : HTTP_PORT;
    return (meant == own->port && name_allowed(host, own->listen)) ||
           find_name(host, port, own) != NULL;
}

bool field_origin_secure(const char *value)
{
    return strncmp(value, https_scheme, sizeof https_scheme - 1) == 0;
}

bool field_origin_allowed(const char *value, const struct field_host *own)
{
    static const char http_scheme[] = "http://";
    char host[HOST_SIZE];
    int port = 0;
    bool secure = field_origin_secure(value);
    size_t scheme = secure ? sizeof https_scheme - 1 : sizeof http_scheme - 1;
    if ((!secure && strncmp(value, http_scheme, scheme) != 0) ||
        !split_host(value + scheme, host, &port))
        return false;
    int meant = port ? port : secure ? HTTPS_PORT : HTTP_PORT;
    if (meant == own->port && secure == own->tls && name_allowed(host, own->listen))
        return true;
    const struct field_name *name = find_name(host, meant, own);
    return name && (secure || (!name->secure && !own->tls));
}

static bool is_host_name(const char *text, size_t length)
{
    for (size_t i = 0; i < length; i++) {
        bool edge = i == 0 || i + 1 == length || text[i - 1] == '.' || text[i + 1] == '.';
        bool inside = text[i] == '-' || text[i] == '.';
        if (!(is_digit(text[i]) || (text[i] >= 'a' && text[i] <= 'z') || (inside && !edge)))
            return false;
    }
    return length > 0 && length < FIELD_NAME_SIZE;
}

bool field_name_parse(const char *text, struct field_name *name)
{
    struct field_name read = {.secure = field_origin_secure(text)};
    const char *start = text + (read.secure ? sizeof https_scheme - 1 : 0);
    size_t length = strcspn(start, ":");
    for (size_t i = 0; i < length && i + 1 < sizeof read.host; i++)
        read.host[i] = (char)(start[i] >= 'A' && start[i] <= 'Z' ? start[i] - 'A' + 'a' : start[i]);
    if (length >= sizeof read.host || !is_host_name(read.host, length))
        return false;
    read.port = start[length] == ':' ? parse_port(start + length + 1) : 0;
    if (read.port < 0 || read.port > 65535 || (read.port == 0 && start[length] == ':'))
        return false;
    *name = read;
    return true;
}

bool field_is_token(const char *text, size_t length)
{
    for (size_t i = 0; i < length; i++) {
        char c = text[i];
        bool letter = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z');
        if (!letter && !is_digit(c) && (c == '\0' || !strchr("!#$%&'*+-.^_`|~", c)))
            return false;
    }
    return length > 0;
}
