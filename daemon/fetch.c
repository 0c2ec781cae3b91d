/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "fetch.h"

#include <arpa/inet.h>
#include <curl/curl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

static const size_t MOST_BODY = 4 * (size_t)1024 * 1024; /* a forecast has 0.15 MiB */
static const size_t MOST_HEADERS = 64 * (size_t)1024;
static const int MOST_REDIRECTS = 3;
static const long CONNECT_S = 15;
static const long SLOW_BYTES_S = 50; /* slower than this for SLOW_S is given up */
static const long SLOW_S = 20;

/* --- URLs --------------------------------------------------------------------------------- */

static bool is_loopback(const char *host)
{
    struct in_addr address;
    if (strcmp(host, "localhost") == 0 || strcmp(host, "[::1]") == 0)
        return true;
    return inet_pton(AF_INET, host, &address) == 1 && (ntohl(address.s_addr) >> 24) == 127;
}

static bool has_part(CURLU *url, CURLUPart part)
{
    char *text = NULL;
    bool has = curl_url_get(url, part, &text, 0) == CURLUE_OK;
    curl_free(text);
    return has;
}

/* How much of a URL may be said: a query may hold a key. */
static int shown(const char *url)
{
    size_t length = strcspn(url, "?#");
    return length < 200 ? (int)length : 200;
}

/* *loopback: whether the host is this computer. */
static int check_parts(CURLU *url, const char *text, bool http_allowed, bool *loopback,
                       struct error *error)
{
    char *scheme = NULL;
    char *host = NULL;
    int result = -1;
    if (curl_url_set(url, CURLUPART_URL, text, 0) != CURLUE_OK ||
        curl_url_get(url, CURLUPART_SCHEME, &scheme, 0) != CURLUE_OK ||
        curl_url_get(url, CURLUPART_HOST, &host, 0) != CURLUE_OK) {
        error_set(error, "'%.*s' is not a URL", shown(text), text);
        goto out;
    }
    *loopback = is_loopback(host);
    if (has_part(url, CURLUPART_USER) || has_part(url, CURLUPART_PASSWORD)) {
        error_set(error, "a user or password in a URL is not accepted");
        goto out;
    }
    if (strcmp(scheme, "https") != 0 &&
        !(http_allowed && *loopback && strcmp(scheme, "http") == 0)) {
        error_set(error, "'%.*s' is neither https nor http on this computer", shown(text), text);
        goto out;
    }
    result = 0;
out:
    curl_free(scheme);
    curl_free(host);
    return result;
}

static int check_url(const char *text, bool base, bool http_allowed, bool *loopback,
                     struct error *error)
{
    CURLU *url = curl_url();
    if (!url)
        return error_set(error, "out of memory");
    int result = check_parts(url, text, http_allowed, loopback, error);
    if (result == 0 && base &&
        (has_part(url, CURLUPART_QUERY) || has_part(url, CURLUPART_FRAGMENT)))
        result = error_set(error, "'%.*s' has a query or a fragment; a base URL has none",
                           shown(text), text);
    curl_url_cleanup(url);
    if (result != 0 && error)
        error_make_plain(error->text);
    return result;
}

int fetch_check_url(const char *url, struct error *error)
{
    bool loopback = false;
    return check_url(url, true, true, &loopback, error);
}

/* --- one transfer ------------------------------------------------------------------------- */

struct transfer {
    CURL *curl;
    char *body;
    size_t length, size;
    size_t header_bytes;
    bool too_large;
    char words[CURL_ERROR_SIZE];
};

/* Counts decoded bytes, so that a small compressed body cannot become a large one. */
static size_t on_body(char *bytes, size_t one, size_t count, void *context)
{
    struct transfer *t = context;
    size_t added = one * count;
    if (added > MOST_BODY - t->length) {
        t->too_large = true;
        return 0;
    }
    if (t->length + added + 1 > t->size) {
        size_t size = 2 * (t->length + added + 1);
        char *body = realloc(t->body, size);
        if (!body)
            return 0;
        t->body = body;
        t->size = size;
    }
    memcpy(t->body + t->length, bytes, added);
    t->length += added;
    t->body[t->length] = '\0';
    return added;
}

static size_t on_header(char *bytes, size_t one, size_t count, void *context)
{
    struct transfer *t = context;
    (void)bytes;
    t->header_bytes += one * count;
    t->too_large |= t->header_bytes > MOST_HEADERS;
    return t->too_large ? 0 : one * count;
}

static int set_options(struct transfer *t, const struct fetch_request *request, bool loopback,
                       struct curl_slist *headers)
{
    CURLcode code = CURLE_OK;
#define SET(option, value) code = code ? code : curl_easy_setopt(t->curl, (option), (value))
    SET(CURLOPT_ERRORBUFFER, t->words);
    SET(CURLOPT_NOSIGNAL, 1L);
    SET(CURLOPT_PROTOCOLS_STR, loopback ? "http,https" : "https");
    SET(CURLOPT_FOLLOWLOCATION, 0L); /* each hop is checked here */
    SET(CURLOPT_HTTP_VERSION, (long)CURL_HTTP_VERSION_1_1);
    SET(CURLOPT_SSLVERSION, (long)CURL_SSLVERSION_TLSv1_2);
    SET(CURLOPT_SSL_VERIFYPEER, 1L);
    SET(CURLOPT_SSL_VERIFYHOST, 2L);
    SET(CURLOPT_ACCEPT_ENCODING, "gzip");
    SET(CURLOPT_USERAGENT, request->user_agent);
    SET(CURLOPT_HTTPHEADER, headers);
    SET(CURLOPT_CONNECTTIMEOUT, CONNECT_S);
    SET(CURLOPT_LOW_SPEED_LIMIT, SLOW_BYTES_S);
    SET(CURLOPT_LOW_SPEED_TIME, SLOW_S);
    SET(CURLOPT_WRITEFUNCTION, on_body);
    SET(CURLOPT_WRITEDATA, t);
    SET(CURLOPT_HEADERFUNCTION, on_header);
    SET(CURLOPT_HEADERDATA, t);
    if (loopback)
        SET(CURLOPT_PROXY, "");
    const char *authorities = getenv("SSL_CERT_FILE"); /* as other TLS programs have it */
    if (authorities && authorities[0])
        SET(CURLOPT_CAINFO, authorities);
#undef SET
    return code == CURLE_OK ? 0 : -1;
}

static bool add_header(struct curl_slist **headers, const char *name, const char *value)
{
    char line[512];
    int n = snprintf(line, sizeof line, "%s: %s", name, value);
    struct curl_slist *longer =
        n > 0 && (size_t)n < sizeof line ? curl_slist_append(*headers, line) : NULL;
    if (!longer)
        return false;
    *headers = longer;
    return true;
}

/* --- the answer's headers ----------------------------------------------------------------- */

/* The last one of that name; "" when there is none or it does not fit. */
static void copy_header(CURL *curl, const char *name, char *out, size_t size)
{
    struct curl_header *header = NULL;
    out[0] = '\0';
    if (curl_easy_header(curl, name, 0, CURLH_HEADER, -1, &header) != CURLHE_OK ||
        strlen(header->value) >= size)
        return;
    snprintf(out, size, "%s", header->value);
}

static int64_t date_header(CURL *curl, const char *name)
{
    char text[64];
    copy_header(curl, name, text, sizeof text);
    time_t t = curl_getdate(text, NULL);
    return t > 0 ? (int64_t)t : 0;
}

/* A cache on the way hands out old answers with their old Date and says how old they are. */
static int64_t age_header(CURL *curl)
{
    char text[16];
    copy_header(curl, "Age", text, sizeof text);
    int64_t age_s = 0;
    for (const char *c = text; *c; c++) {
        if (*c < '0' || *c > '9')
            return 0;
        age_s = 10 * age_s + (*c - '0');
    }
    return age_s <= 86400 ? age_s : 0;
}

/* A validator that is to be sent back: as it came, or not at all. One from the future would be
 * made up. */
static void copy_validator(CURL *curl, struct adapter_answer *answer)
{
    char *text = answer->last_modified;
    copy_header(curl, "Last-Modified", text, sizeof answer->last_modified);
    bool plain = true;
    for (const char *c = text; *c; c++)
        plain &= *c >= ' ' && *c <= '~';
    if (!plain || (answer->date_s != 0 && curl_getdate(text, NULL) > answer->date_s))
        text[0] = '\0';
}

static void read_headers(CURL *curl, struct adapter_answer *answer)
{
    curl_off_t retry_after_s = 0;
    curl_easy_getinfo(curl, CURLINFO_RESPONSE_CODE, &answer->status);
    curl_easy_getinfo(curl, CURLINFO_RETRY_AFTER, &retry_after_s);
    answer->retry_after_s = retry_after_s > 0 ? retry_after_s : 0; /* a date may be past */
    answer->date_s = date_header(curl, "Date");
    answer->expires_s = date_header(curl, "Expires");
    copy_header(curl, "Content-Type", answer->content_type, sizeof answer->content_type);
    copy_validator(curl, answer);
    answer->date_s += answer->date_s != 0 ? age_header(curl) : 0;
}

/* --- hops --------------------------------------------------------------------------------- */

int64_t fetch_monotonic_ms(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

static bool never_connected(CURL *curl, CURLcode code)
{
    double connected_s = 0;
    if (code == CURLE_COULDNT_RESOLVE_HOST || code == CURLE_COULDNT_RESOLVE_PROXY ||
        code == CURLE_COULDNT_CONNECT)
        return true;
    curl_easy_getinfo(curl, CURLINFO_CONNECT_TIME, &connected_s);
    return code == CURLE_OPERATION_TIMEDOUT && connected_s == 0;
}

static int perform(struct transfer *t, const char *url, int64_t left_ms, bool *reached,
                   struct error *error)
{
    t->length = 0;
    t->header_bytes = 0;
    t->words[0] = '\0';
    if (left_ms <= 0)
        return error_set(error, "no complete answer in time");
    curl_easy_setopt(t->curl, CURLOPT_TIMEOUT_MS, (long)left_ms);
    CURLcode code = curl_easy_setopt(t->curl, CURLOPT_URL, url);
    if (code == CURLE_OK)
        code = curl_easy_perform(t->curl);
    *reached |= !never_connected(t->curl, code);
    if (code == CURLE_OK)
        return 0;
    if (t->too_large)
        return error_set(error, "the answer is larger than %zu bytes of body or %zu of headers",
                         MOST_BODY, MOST_HEADERS);
    error_set(error, "no usable answer: %s", t->words[0] ? t->words : curl_easy_strerror(code));
    if (error)
        error_make_plain(error->text);
    return -1;
}

/* Where the answer sends us, NULL when it does not; the handle keeps the text until the next hop.
 */
static const char *redirect_of(CURL *curl)
{
    long status = 0;
    char *url = NULL;
    curl_easy_getinfo(curl, CURLINFO_RESPONSE_CODE, &status);
    if (status != 301 && status != 302 && status != 303 && status != 307 && status != 308)
        return NULL;
    curl_easy_getinfo(curl, CURLINFO_REDIRECT_URL, &url);
    return url;
}

static int follow(struct transfer *t, const struct fetch_request *request, bool from_loopback,
                  bool *reached, struct error *error)
{
    int64_t end_ms = fetch_monotonic_ms() + request->timeout_ms;
    char *url = strdup(request->url);
    int result = -1;
    for (int hop = 0; url; hop++) {
        bool loopback = false;
        if (perform(t, url, end_ms - fetch_monotonic_ms(), reached, error) != 0)
            break;
        const char *next = redirect_of(t->curl);
        if (!next) {
            result = 0;
            break;
        }
        if (hop == MOST_REDIRECTS) {
            error_set(error, "more than %d redirects", MOST_REDIRECTS);
            break;
        }
        if (check_url(next, false, from_loopback, &loopback, error) != 0)
            break;
        free(url);
        url = strdup(next);
    }
    free(url);
    return result;
}

int fetch_get(const struct fetch_request *request, struct adapter_answer *answer,
              struct error *error)
{
    struct transfer t = {.curl = NULL};
    struct curl_slist *headers = NULL;
    struct adapter_answer got = {.status = 0};
    bool loopback = false;
    int result = -1;
    if (check_url(request->url, false, true, &loopback, error) != 0)
        goto out;
    t.curl = curl_easy_init();
    if (!t.curl || !add_header(&headers, "Accept", request->accept) ||
        (request->if_modified_since[0] &&
         !add_header(&headers, "If-Modified-Since", request->if_modified_since)) ||
        set_options(&t, request, loopback, headers) != 0) {
        error_set(error, "the request could not be prepared");
        goto out;
    }
    if (follow(&t, request, loopback, &got.reached, error) != 0)
        goto out;
    read_headers(t.curl, &got);
    got.body = t.body;
    got.length = t.length;
    t.body = NULL;
    result = 0;
out:
    *answer = got;
    free(t.body);
    curl_slist_free_all(headers);
    curl_easy_cleanup(t.curl);
    return result;
}
