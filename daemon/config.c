/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "config.h"

#include <arpa/inet.h>
#include <errno.h>
#include <ini.h>
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>

#include "adapter.h"
#include "number.h"
#include "utf8.h"
#include "zoneinfo.h"

/* The INI library cuts longer lines without a word. */
#define LINE_MAX_BYTES 190

enum key_type {
    KEY_TEXT,
    KEY_NUMBER,
    KEY_WHOLE,
    KEY_ZONE,
    KEY_SOURCES,
    KEY_NORMALS,
    KEY_CONTACT,
    KEY_ADDRESS,
    KEY_PATH,
    KEY_NAMES,
    KEY_READING,
};

struct key {
    const char *section, *name;
    enum key_type type;
    bool required;
    size_t offset, size; /* of the member in struct config */
    double low, high;
};

#define MEMBER(m) offsetof(struct config, m), sizeof(((struct config *)0)->m)

static const struct key keys[] = {
    {"nursery", "name", KEY_TEXT, false, MEMBER(nursery_name), 0, 0},
    {"nursery", "time_zone", KEY_ZONE, true, MEMBER(time_zone), 0, 0},
    {"nursery", "latitude_deg", KEY_NUMBER, true, MEMBER(site.latitude_deg), -90, 90},
    {"nursery", "longitude_deg", KEY_NUMBER, true, MEMBER(site.longitude_deg), -180, 180},
    {"nursery", "elevation_m", KEY_NUMBER, true, MEMBER(site.elevation_m), -450, 6000},
    {"feed", "sources", KEY_SOURCES, false, MEMBER(feeds), 0, 0},
    {"feed", "contact", KEY_CONTACT, false, MEMBER(feed_contact), 0, 0},
    {"feed", "normals", KEY_NORMALS, false, MEMBER(normals), 0, 0},
    {"station", "csv", KEY_PATH, false, MEMBER(station_csv), 0, 0},
    {"station", "wind_height_m", KEY_NUMBER, false, MEMBER(station_wind_height_m), 0.5, 200},
    {"serve", "listen", KEY_ADDRESS, false, MEMBER(listen), 0, 0},
    {"serve", "port", KEY_WHOLE, false, MEMBER(port), 0, 65535},
    {"serve", "host_names", KEY_NAMES, false, MEMBER(host_names), 0, 0},
    {"serve", "reading", KEY_READING, false, MEMBER(reading_signed_in), 0, 0},
    {"serve", "tls_certificate", KEY_PATH, false, MEMBER(tls_certificate), 0, 0},
    {"serve", "tls_key", KEY_PATH, false, MEMBER(tls_key), 0, 0},
    {"store", "path", KEY_PATH, false, MEMBER(store_path), 0, 0},
    {"hook", "program", KEY_PATH, false, MEMBER(hook_program), 0, 0},
    {"plan", "days", KEY_WHOLE, false, MEMBER(plan_days), 1, 10},
    {"plan", "sheet_hour", KEY_WHOLE, false, MEMBER(sheet_hour), 0, 23},
};

#define KEY_COUNT (sizeof keys / sizeof keys[0])

static const char *const sections[] = {"nursery", "feed", "station", "serve",
                                       "store",   "plan", "hook"};

#define SECTION_COUNT (sizeof sections / sizeof sections[0])

/* [feed] keys that each service has for itself, NAME_url and so on. */
enum own_key { OWN_URL, OWN_KEY_FILE, OWN_NON_COMMERCIAL, OWN_KEYS };
static const char *const OWN_NAMES[OWN_KEYS] = {"url", "key_file", "non_commercial"};

enum { ADAPTERS_MOST = 16 };

struct own {
    int line[OWN_KEYS]; /* 0: not given */
    struct config_feed feed;
    bool non_commercial;
};

struct reading {
    const char *path;
    FILE *file;
    int line;
    bool failed;
    bool section_seen[SECTION_COUNT];
    int key_line[KEY_COUNT]; /* 0: not given */
    struct own own[ADAPTERS_MOST];
    struct config *config;
    struct error *error;
};

static int fail(struct reading *r, const char *key, const char *given, const char *accepted)
{
    r->failed = true;
    return error_set(r->error, "%s:%d: %s: '%.100s' given, accepted is %s", r->path, r->line, key,
                     given, accepted);
}

/* --- lines, before the INI library sees them ---------------------------------------------- */

static int fail_line(struct reading *r, const char *what)
{
    r->failed = true;
    return error_set(r->error, "%s:%d: %s", r->path, r->line, what);
}

static int check_section(struct reading *r, const char *text)
{
    size_t length = strcspn(text + 1, "]");
    if (text[1 + length] != ']' || text[2 + length + strspn(text + 2 + length, " \t")] != '\0')
        return fail_line(r, "a section is a name in brackets, nothing behind it: [nursery]");
    for (size_t i = 0; i < SECTION_COUNT; i++) {
        if (strlen(sections[i]) != length || strncmp(sections[i], text + 1, length) != 0)
            continue;
        if (r->section_seen[i])
            return fail(r, "section", text, "each section once");
        r->section_seen[i] = true;
        return 0;
    }
    return fail(r, "section", text, "one of [nursery] [feed] [station] [serve] [store] [plan]");
}

static int check_line(struct reading *r, const char *text)
{
    size_t length = strlen(text);
    if (utf8_check(text, length) < length)
        return fail_line(r, "not UTF-8 text");
    for (size_t i = 0; i < length; i++)
        if (((unsigned char)text[i] < 0x20 && text[i] != '\t') || text[i] == 0x7f)
            return fail_line(r, "a control character");
    if (text[strspn(text, " \t")] == '\0' || text[0] == '#' || text[0] == ';')
        return 0;
    if (text[0] == ' ' || text[0] == '\t')
        return fail_line(r, "an indented line; accepted are lines that start at the margin, a "
                            "value on its key's line");
    if (text[0] == '[')
        return check_section(r, text);
    if (!strchr(text, '='))
        return fail_line(r, "neither 'key = value' nor a [section] nor a # comment");
    if (strstr(text, " ;") || strstr(text, "\t;"))
        return fail_line(r, "' ;' within a line; comments stand on lines of their own");
    return 0;
}

/* Reads one line like fgets; refuses what the library would misread. */
static char *next_line(char *text, int size, void *stream)
{
    struct reading *r = stream;
    if (r->failed || size <= LINE_MAX_BYTES + 1)
        return NULL;
    size_t length = 0;
    int c = getc(r->file);
    if (c == EOF)
        return NULL;
    r->line++;
    for (; c != EOF && c != '\n'; c = getc(r->file)) {
        if (length == LINE_MAX_BYTES || c == '\0') {
            fail_line(r, c == '\0' ? "a NUL byte" : "longer than 190 bytes, the most accepted");
            return NULL;
        }
        text[length++] = (char)c;
    }
    if (length > 0 && text[length - 1] == '\r')
        length--;
    text[length] = '\0';
    if (r->line == 1 && strncmp(text, "\xef\xbb\xbf", 3) == 0) {
        length -= 3;
        memmove(text, text + 3, length + 1);
    }
    return check_line(r, text) ? NULL : text;
}

/* --- values ------------------------------------------------------------------------------- */

static bool is_graphic(const char *text)
{
    for (; *text; text++)
        if (*text <= 0x20 || *text == 0x7f || (unsigned char)*text >= 0x80)
            return false;
    return true;
}

static bool is_contact(const char *text)
{
    const char *at = strchr(text, '@');
    bool mail = at && at != text && strchr(at, '.') && at[1] != '.';
    return is_graphic(text) && !strpbrk(text, "()<>\"\\") &&
           (mail || strncmp(text, "https://", 8) == 0 || strncmp(text, "http://", 7) == 0);
}

/* Plain http never leaves the machine. */
static bool is_loopback(const char *host, size_t length)
{
    char name[64];
    struct in_addr address;
    if (length >= sizeof name)
        return false;
    memcpy(name, host, length);
    name[length] = '\0';
    return strcmp(name, "localhost") == 0 || strcmp(name, "[::1]") == 0 ||
           (inet_pton(AF_INET, name, &address) == 1 && ntohl(address.s_addr) >> 24 == 127);
}

static bool is_url(const char *text)
{
    bool secure = strncmp(text, "https://", 8) == 0;
    if (!is_graphic(text) || strpbrk(text, "?#@\\\"<>") ||
        (!secure && strncmp(text, "http://", 7) != 0))
        return false;
    const char *host = text + (secure ? 8 : 7);
    size_t length = host[0] == '[' ? strcspn(host, "]") + 1 : strcspn(host, ":/");
    if (strcspn(host, "/") == 0 || length > strlen(host))
        return false;
    return secure || is_loopback(host, length);
}

static bool is_address(const char *text)
{
    unsigned char address[16];
    return inet_pton(AF_INET, text, address) == 1 || inet_pton(AF_INET6, text, address) == 1;
}

/* A relative path counts from the configuration file's folder. */
static bool set_path(const struct reading *r, const char *text, char *out, size_t size)
{
    const char *slash = strrchr(r->path, '/');
    int folder = text[0] == '/' || !slash ? 0 : (int)(slash - r->path) + 1;
    return (size_t)snprintf(out, size, "%.*s%s", folder, r->path, text) < size;
}

static int set_number(struct reading *r, const struct key *key, const char *text, char *member)
{
    double number = 0;
    char accepted[80];
    bool whole = key->type == KEY_WHOLE;
    if (number_parse(text, strlen(text), &number) && number >= key->low && number <= key->high &&
        (!whole || floor(number) == number)) {
        int rounded = (int)number;
        if (whole)
            memcpy(member, &rounded, sizeof rounded);
        else
            memcpy(member, &number, sizeof number);
        return 0;
    }
    snprintf(accepted, sizeof accepted, "a %snumber from %g to %g", whole ? "whole " : "", key->low,
             key->high);
    return fail(r, key->name, text, accepted);
}

static int set_zone(struct reading *r, const struct key *key, const char *text)
{
    struct civil_zone zone;
    struct error why;
    if (zoneinfo_load(text, &zone, &why) == 0) {
        zoneinfo_free(&zone);
        return 0;
    }
    r->failed = true;
    return error_set(r->error,
                     "%s:%d: %s: '%.63s' given, accepted is a zone of the IANA list like "
                     "Europe/Lisbon (%.200s)",
                     r->path, r->line, key->name, text, why.text);
}

/* The names of the adapters that give hours, or of those that give normals. */
static void list_adapters(bool normals, char *out, size_t size)
{
    out[0] = '\0';
    for (size_t i = 0; adapter_at(i); i++)
        if (adapter_at(i)->gives_normals == normals)
            snprintf(out + strlen(out), size - strlen(out), "%s%s", out[0] ? ", " : "",
                     adapter_at(i)->name);
}

static int add_source(struct reading *r, const struct key *key, const char *text, const char *name)
{
    struct config *config = r->config;
    const struct adapter *adapter = adapter_find(name);
    char names[200];
    char accepted[300];
    list_adapters(false, names, sizeof names);
    snprintf(accepted, sizeof accepted,
             "none, or in the order of trust, with commas, each once: %s", names);
    if (!adapter || adapter->gives_normals || config->feed_count == CONFIG_FEEDS_MOST)
        return fail(r, key->name, text, accepted);
    for (size_t i = 0; i < config->feed_count; i++)
        if (strcmp(config->feeds[i].name, name) == 0)
            return fail(r, key->name, text, accepted);
    struct config_feed *feed = &config->feeds[config->feed_count++];
    snprintf(feed->name, sizeof feed->name, "%s", adapter->name);
    return 0;
}

static int set_sources(struct reading *r, const struct key *key, const char *text)
{
    char name[LINE_MAX_BYTES + 1];
    if (strcmp(text, "none") == 0)
        return 0;
    for (const char *at = text;; at++) {
        at += strspn(at, " \t");
        size_t length = strcspn(at, ",");
        size_t bare = length;
        while (bare > 0 && (at[bare - 1] == ' ' || at[bare - 1] == '\t'))
            bare--;
        snprintf(name, sizeof name, "%.*s", (int)bare, at);
        if (add_source(r, key, text, name) != 0)
            return -1;
        at += length;
        if (*at == '\0')
            return 0;
    }
}

/* With commas between: NAME, NAME:PORT, https://NAME. */
static int set_host_names(struct reading *r, const struct key *key, const char *text)
{
    struct config *config = r->config;
    char item[LINE_MAX_BYTES + 1];
    for (const char *at = text;;) {
        at += strspn(at, " \t");
        size_t length = strcspn(at, ",");
        size_t bare = length;
        while (bare > 0 && (at[bare - 1] == ' ' || at[bare - 1] == '\t'))
            bare--;
        snprintf(item, sizeof item, "%.*s", (int)bare, at);
        if (config->host_name_count == CONFIG_NAMES_MOST)
            return fail(r, key->name, text, "at most 8 names");
        if (!field_name_parse(item, &config->host_names[config->host_name_count++]))
            return fail(r, key->name, item,
                        "names with commas between, each like plan.nursery.example, "
                        "plan.nursery.example:8443 or https://plan.nursery.example");
        at += length;
        if (*at == '\0')
            return 0;
        at++;
    }
}

static int set_reading(struct reading *r, const struct key *key, const char *text)
{
    r->config->reading_signed_in = strcmp(text, "sign-in") == 0;
    return r->config->reading_signed_in || strcmp(text, "open") == 0
               ? 0
               : fail(r, key->name, text, "open or sign-in");
}

static int set_normals(struct reading *r, const struct key *key, const char *text)
{
    char names[200];
    char accepted[300];
    const struct adapter *adapter = adapter_find(text);
    if (strcmp(text, "file") == 0)
        return 0;
    list_adapters(true, names, sizeof names);
    snprintf(accepted, sizeof accepted, "file%s%s", names[0] ? ", " : "", names);
    if (!adapter || !adapter->gives_normals)
        return fail(r, key->name, text, accepted);
    snprintf(r->config->normals.name, sizeof r->config->normals.name, "%s", adapter->name);
    return 0;
}

static int set_text(struct reading *r, const struct key *key, const char *text, char *member)
{
    if (key->type == KEY_CONTACT && !is_contact(text))
        return fail(r, key->name, text, "a mail address or the address of a web page");
    if (key->type == KEY_ADDRESS && !is_address(text))
        return fail(r, key->name, text, "an IPv4 or IPv6 address like 127.0.0.1");
    if (key->type == KEY_PATH) {
        if (!set_path(r, text, member, key->size))
            return fail(r, key->name, text, "a path of less than 512 bytes");
        return 0;
    }
    if (strlen(text) >= key->size)
        return fail(r, key->name, text, "a shorter value");
    memcpy(member, text, strlen(text) + 1);
    return 0;
}

static int set(struct reading *r, const struct key *key, const char *text)
{
    char *member = (char *)r->config + key->offset;
    switch (key->type) {
    case KEY_NUMBER:
    case KEY_WHOLE:
        return set_number(r, key, text, member);
    case KEY_SOURCES:
        return set_sources(r, key, text);
    case KEY_NORMALS:
        return set_normals(r, key, text);
    case KEY_NAMES:
        return set_host_names(r, key, text);
    case KEY_READING:
        return set_reading(r, key, text);
    case KEY_ZONE:
        if (set_zone(r, key, text))
            return -1;
        return set_text(r, key, text, member);
    case KEY_TEXT:
    case KEY_CONTACT:
    case KEY_ADDRESS:
    case KEY_PATH:
        return set_text(r, key, text, member);
    }
    return -1;
}

/* Whether the adapter has such a key at all. */
static bool has_own(const struct adapter *adapter, enum own_key which)
{
    return which == OWN_URL || (which == OWN_KEY_FILE && adapter->takes_key) ||
           (which == OWN_NON_COMMERCIAL && adapter->private_host);
}

/* "open-meteo" and OWN_URL: "open_meteo_url" */
static void own_name(const struct adapter *adapter, enum own_key which, char *out, size_t size)
{
    snprintf(out, size, "%s_%s", adapter->name, OWN_NAMES[which]);
    for (char *c = out; *c; c++)
        if (*c == '-')
            *c = '_';
}

static int set_own(struct reading *r, size_t index, enum own_key which, const char *name,
                   const char *text)
{
    struct own *own = &r->own[index];
    if (own->line[which] != 0)
        return fail(r, name, text, "each key once");
    own->line[which] = r->line;
    switch (which) {
    case OWN_URL:
        if (!is_url(text) || strlen(text) >= sizeof own->feed.url)
            return fail(r, name, text,
                        "https://..., or http://... on this machine, without '?' and '#'");
        snprintf(own->feed.url, sizeof own->feed.url, "%s", text);
        return 0;
    case OWN_KEY_FILE:
        if (!set_path(r, text, own->feed.key_path, sizeof own->feed.key_path))
            return fail(r, name, text, "a path of less than 512 bytes");
        return 0;
    case OWN_NON_COMMERCIAL:
        own->non_commercial = strcmp(text, "yes") == 0;
        if (!own->non_commercial && strcmp(text, "no") != 0)
            return fail(r, name, text, "yes or no");
        return 0;
    case OWN_KEYS:
        break;
    }
    return -1;
}

/* 1 when it is no such key. */
static int handle_own(struct reading *r, const char *name, const char *text)
{
    char own[64];
    for (size_t i = 0; adapter_at(i) && i < ADAPTERS_MOST; i++)
        for (int which = 0; which < OWN_KEYS; which++) {
            own_name(adapter_at(i), (enum own_key)which, own, sizeof own);
            if (strcmp(own, name) == 0 && has_own(adapter_at(i), (enum own_key)which))
                return text[0] == '\0' ? fail(r, name, text, "a value, or no such line")
                                       : set_own(r, i, (enum own_key)which, name, text);
        }
    return 1;
}

static void add_name(char *out, size_t size, const char *name)
{
    snprintf(out + strlen(out), size - strlen(out), "%s%s",
             out[0] ? " " : "in that section one of: ", name);
}

static int fail_unknown(struct reading *r, const char *section, const char *name)
{
    char accepted[400] = "";
    char own[64];
    if (section[0] == '\0')
        return fail(r, name, name, "a key below its section, the first line being [nursery]");
    for (size_t i = 0; i < KEY_COUNT; i++)
        if (strcmp(keys[i].section, section) == 0)
            add_name(accepted, sizeof accepted, keys[i].name);
    for (size_t i = 0; adapter_at(i) && strcmp(section, "feed") == 0; i++)
        for (int which = 0; which < OWN_KEYS; which++)
            if (has_own(adapter_at(i), (enum own_key)which)) {
                own_name(adapter_at(i), (enum own_key)which, own, sizeof own);
                add_name(accepted, sizeof accepted, own);
            }
    return fail(r, "key", name, accepted);
}

static int handle(void *user, const char *section, const char *name, const char *value)
{
    struct reading *r = user;
    for (size_t i = 0; i < KEY_COUNT && !r->failed; i++) {
        if (strcmp(keys[i].section, section) != 0 || strcmp(keys[i].name, name) != 0)
            continue;
        if (r->key_line[i] != 0)
            return fail(r, name, value, "each key once") == 0;
        r->key_line[i] = r->line;
        if (value[0] == '\0')
            return fail(r, name, value, "a value, or no such line") == 0;
        return set(r, &keys[i], value) == 0;
    }
    if (!r->failed && strcmp(section, "feed") == 0) {
        int result = handle_own(r, name, value);
        if (result <= 0)
            return result == 0;
    }
    if (!r->failed)
        fail_unknown(r, section, name);
    return 0;
}

/* --- the whole file ----------------------------------------------------------------------- */

void config_url_host(const char *url, char *out, size_t size)
{
    const char *host = strstr(url, "://");
    host = host ? host + 3 : url;
    size_t length = strcspn(host, "/");
    snprintf(out, size, "%.*s", (int)length, host);
    for (char *c = out; *c; c++)
        if (*c >= 'A' && *c <= 'Z')
            *c = (char)(*c - 'A' + 'a');
}

/* Whether the URL's host is that one or below it; a port and a dot at the end do not matter. */
static bool is_at(const char *url, const char *wanted)
{
    char host[512];
    config_url_host(url, host, sizeof host);
    host[strcspn(host, ":")] = '\0';
    size_t length = strlen(host);
    if (length > 0 && host[length - 1] == '.')
        host[--length] = '\0';
    size_t size = strlen(wanted);
    return length >= size && strcmp(host + length - size, wanted) == 0 &&
           (length == size || host[length - size - 1] == '.');
}

/* What the service's terms want before it may be asked. */
static int check_terms(struct reading *r, const struct adapter *adapter, const struct own *own,
                       const struct config_feed *feed)
{
    char key[64];
    bool paid = adapter->key_host && is_at(feed->url, adapter->key_host);
    if (paid && !feed->key_path[0]) {
        own_name(adapter, OWN_KEY_FILE, key, sizeof key);
        return error_set(
            r->error,
            "%s: [feed] %s: missing; %s needs a key: give the file that holds it, or a "
            "server of your own as url",
            r->path, key, adapter->key_host);
    }
    if (adapter->private_host && !paid && is_at(feed->url, adapter->private_host) &&
        !own->non_commercial) {
        char accepted[200];
        own_name(adapter, OWN_NON_COMMERCIAL, key, sizeof key);
        snprintf(accepted, sizeof accepted,
                 "a paid or own server; this one is free for non-commercial use only, which you "
                 "state with %s = yes",
                 key);
        own_name(adapter, OWN_URL, key, sizeof key);
        r->line = own->line[OWN_URL];
        return fail(r, key, feed->url, accepted);
    }
    return 0;
}

/* Address and key of a service that is to be asked. */
static int complete_feed(struct reading *r, struct config_feed *feed)
{
    for (size_t i = 0; adapter_at(i) && i < ADAPTERS_MOST; i++) {
        const struct adapter *adapter = adapter_at(i);
        const struct own *own = &r->own[i];
        if (strcmp(adapter->name, feed->name) != 0)
            continue;
        snprintf(feed->url, sizeof feed->url, "%s",
                 own->feed.url[0] ? own->feed.url : adapter->url);
        memcpy(feed->key_path, own->feed.key_path, sizeof feed->key_path);
        return check_terms(r, adapter, own, feed);
    }
    return -1;
}

static int check_feeds(struct reading *r, bool has_contact)
{
    struct config *config = r->config;
    for (size_t i = 0; i < config->feed_count; i++)
        if (complete_feed(r, &config->feeds[i]) != 0)
            return -1;
    if (config->normals.name[0] && complete_feed(r, &config->normals) != 0)
        return -1;
    if ((config->feed_count > 0 || config->normals.name[0]) && !has_contact)
        return error_set(r->error,
                         "%s: [feed] contact: missing, needed to fetch weather: the mail address "
                         "or web page where the weather service can reach you",
                         r->path);
    return 0;
}

static int line_of(const struct reading *r, const char *name)
{
    for (size_t i = 0; i < KEY_COUNT; i++)
        if (strcmp(keys[i].name, name) == 0)
            return r->key_line[i];
    return 0;
}

/* Both or neither; whether the files are any good is seen where they are needed. */
static int check_tls(struct reading *r)
{
    struct config *config = r->config;
    config->tls_certificate_line = line_of(r, "tls_certificate");
    config->tls_key_line = line_of(r, "tls_key");
    if ((config->tls_certificate_line == 0) == (config->tls_key_line == 0))
        return 0;
    bool key = config->tls_key_line != 0;
    return error_set(r->error, "%s:%d: %s: given without %s; accepted are both, or neither",
                     r->path, key ? config->tls_key_line : config->tls_certificate_line,
                     key ? "tls_key" : "tls_certificate", key ? "tls_certificate" : "tls_key");
}

static int check_whole(struct reading *r)
{
    bool has_contact = false;
    for (size_t i = 0; i < KEY_COUNT; i++) {
        if (keys[i].required && r->key_line[i] == 0)
            return error_set(r->error, "%s: [%s] %s: missing", r->path, keys[i].section,
                             keys[i].name);
        has_contact |= keys[i].type == KEY_CONTACT && r->key_line[i] != 0;
    }
    return check_tls(r) == 0 ? check_feeds(r, has_contact) : -1;
}

int config_load(const char *path, struct config *config, struct error *error)
{
    struct config read = {
        .nursery_name = "Nursery",
        .station_wind_height_m = 2,
        .listen = "127.0.0.1",
        .port = 8321,
        .store_path = "/var/lib/perchd/perchd.sqlite",
        .plan_days = 7,
        .sheet_hour = 16,
    };
    struct reading r = {.path = path, .config = &read, .error = error};
    snprintf(read.path, sizeof read.path, "%s", path);
    r.file = fopen(path, "rb");
    if (!r.file)
        return error_set(error, "%s: %s", path, strerror(errno));
    int wrong = ini_parse_stream(next_line, &r, handle, &r);
    if (ferror(r.file) && !r.failed) {
        r.failed = true;
        error_set(error, "%s: %s", path, strerror(errno));
    } else if (wrong != 0 && !r.failed) {
        r.failed = true;
        error_set(error, "%s:%d: not readable", path, wrong);
    }
    fclose(r.file);
    if (r.failed || check_whole(&r))
        return -1;
    *config = read;
    return 0;
}
