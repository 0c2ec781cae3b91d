/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Who asks: a token in Authorization, or a session in a cookie; signing in and out. */
#include <stdio.h>
#include <string.h>
#include <strings.h>

#include "api_internal.h"

enum {
    SESSION_S = 14 * 86400, /* without use; a grower's phone is not asked daily [our choice] */
    TOUCH_S = 3600,         /* how often 'last used' is written */
};

static const char cookie_name[] = "perchd_session=";

/* Seconds until the address may try again, 0: now. failed: it just tried in vain. */
static int wait_of(struct api_call *call, bool failed)
{
    struct api *api = call->api->options.beside ? call->api->options.beside : call->api;
    pthread_mutex_lock(&api->mutex);
    int wait_s = access_failures_wait_s(&api->failures, call->request->address, call->now_s);
    if (failed)
        access_failures_add(&api->failures, call->request->address, call->now_s);
    pthread_mutex_unlock(&api->mutex);
    return wait_s;
}

static int refuse_secret(struct api_call *call, const char *field, const char *detail)
{
    int wait_s = wait_of(call, true);
    if (wait_s > 0) {
        call->answer->retry_after_s = wait_s;
        return api_refuse(call, PROBLEM_TOO_MANY_REQUESTS, field,
                          "Too many wrong secrets from this address; one more is looked at in %d "
                          "seconds.",
                          wait_s);
    }
    return api_refuse(call, PROBLEM_UNAUTHORIZED, field, "%s", detail);
}

/* A random secret cannot be guessed, so a right one passes even while its address is blocked:
 * nobody can lock a controller out. */
static int identify_token(struct api_call *call)
{
    static const char wrong[] =
        "Not a token in force. Accepted is 'Bearer TOKEN' with a token from "
        "'perchd token add'.";
    const char *value = call->request->authorization;
    struct access_secret secret;
    struct store_token token;
    struct error error;
    if (strncasecmp(value, "Bearer ", 7) != 0)
        return refuse_secret(call, "Authorization", wrong);
    value += 7 + strspn(value + 7, " ");
    if (!access_secret_parse(value, strlen(value), ACCESS_TOKEN, &secret))
        return refuse_secret(call, "Authorization", wrong);
    int got = store_token_read(call->api->store, secret.id, &token, &error);
    if (got < 0)
        return api_fail(call, &error);
    if (got == 0 || token.revoked_s != 0 || !access_matches(secret.secret, token.hash))
        return refuse_secret(call, "Authorization", wrong);
    call->role = token.role;
    snprintf(call->who, sizeof call->who, "token %s", token.name);
    if (call->now_s - token.used_s >= TOUCH_S &&
        store_token_used(call->api->store, token.id, call->now_s, &error) < 0)
        return api_fail(call, &error);
    return 0;
}

/* The cookie's value in a Cookie field; *length 0 when it is not there. */
static const char *find_cookie(const char *field, size_t *length)
{
    const char *at = field;
    while (*at) {
        at += strspn(at, "; ");
        size_t pair = strcspn(at, ";");
        if (strncmp(at, cookie_name, sizeof cookie_name - 1) == 0) {
            *length = pair - (sizeof cookie_name - 1);
            return at + sizeof cookie_name - 1;
        }
        at += pair;
    }
    *length = 0;
    return at;
}

static bool is_safe(const struct api_call *call)
{
    return api_is(call, "GET") || api_is(call, "HEAD");
}

/* 1 with session and account, 0 when there is no such session in force, -1 with the answer set. */
static int read_session(struct api_call *call, const char *text, size_t length,
                        struct store_session *session, struct store_account *account)
{
    struct access_secret secret;
    struct error error;
    if (!access_secret_parse(text, length, ACCESS_SESSION, &secret))
        return 0;
    int got = store_session_read(call->api->store, secret.id, session, &error);
    if (got == 1 &&
        (session->expires_s <= call->now_s || !access_matches(secret.secret, session->hash)))
        got = 0;
    if (got == 1)
        got = store_account_read(call->api->store, session->account, account, &error);
    if (got < 0)
        return api_fail(call, &error);
    return got == 1 && !account->disabled;
}

/* An old cookie is no offence: whoever has one is nobody, and told so where it matters. */
static int identify_session(struct api_call *call)
{
    size_t length = 0;
    const char *text = find_cookie(call->request->cookie, &length);
    struct store_session session = {.hash = ""};
    struct store_account account = {.hash = ""};
    struct error error;
    if (length == 0)
        return 0;
    int got = read_session(call, text, length, &session, &account);
    if (got != 1)
        return got;
    if (!is_safe(call) && call->request->origin[0] == '\0')
        return api_refuse(call, PROBLEM_FORBIDDEN, "Origin",
                          "Missing. With a cookie, only this server's own page may change "
                          "anything.");
    call->role = account.role;
    snprintf(call->who, sizeof call->who, "account %s", account.name);
    snprintf(call->session, sizeof call->session, "%s", session.id);
    if (call->now_s - session.used_s >= TOUCH_S &&
        store_session_used(call->api->store, session.id, call->now_s, call->now_s + SESSION_S,
                           &error) < 0)
        return api_fail(call, &error);
    return 0;
}

int api_identify(struct api_call *call)
{
    return call->request->authorization[0] ? identify_token(call) : identify_session(call);
}

int api_allow(struct api_call *call, enum access_right right)
{
    bool open = !call->api->options.config->reading_signed_in &&
                (right == ACCESS_READ || right == ACCESS_READ_PLAN);
    if (call->role == ACCESS_NOBODY) {
        if (open)
            return 0;
        return api_refuse(call, PROBLEM_UNAUTHORIZED, "Authorization",
                          "Missing. Accepted is 'Bearer TOKEN', or signing in at /api/v1/session.");
    }
    if (access_may(call->role, right))
        return 0;
    return api_refuse(call, PROBLEM_FORBIDDEN, "Authorization", "A %s may not do this.",
                      access_role_name(call->role));
}

/* --- signing in and out ------------------------------------------------------------------- */

static int show_account(struct api_call *call, unsigned status, const char *name,
                        enum access_role role)
{
    return api_send_take(call, status,
                         json_pack("{s:s, s:s}", "account", name, "role", access_role_name(role)));
}

static void set_cookie(struct api_call *call, const char *value, int age_s)
{
    snprintf(call->answer->cookie, sizeof call->answer->cookie,
             "%s%s; Path=/; Max-Age=%d; HttpOnly; SameSite=Strict%s", cookie_name, value, age_s,
             call->request->secure ? "; Secure" : "");
}

static int start_session(struct api_call *call, const struct store_account *account)
{
    struct access_secret secret;
    struct error error;
    char text[ACCESS_TEXT_SIZE];
    struct store_session session = {.made_s = call->now_s, .expires_s = call->now_s + SESSION_S};
    if (access_secret_make(&secret, &error) != 0 ||
        access_secret_hash(secret.secret, session.hash, &error) != 0)
        return api_fail(call, &error);
    snprintf(session.id, sizeof session.id, "%s", secret.id);
    snprintf(session.account, sizeof session.account, "%s", account->name);
    if (store_session_add(call->api->store, &session, &error) != 0)
        return api_fail(call, &error);
    access_secret_print(&secret, ACCESS_SESSION, text);
    set_cookie(call, text, SESSION_S);
    return show_account(call, 201, account->name, account->role);
}

/* Whether the name or the password was wrong is not said, and takes as long either way. */
static int sign_in_as(struct api_call *call, const char *name, const char *password)
{
    struct store_account account = {.hash = ""};
    struct error error;
    if (wait_of(call, false) > 0)
        return refuse_secret(call, "password", "");
    int got = store_account_read(call->api->store, name, &account, &error);
    if (got < 0)
        return api_fail(call, &error);
    bool good = access_matches(password, got == 1 ? account.hash : "");
    if (!good || account.disabled)
        return refuse_secret(call, "password", "Account and password do not go together.");
    return start_session(call, &account);
}

static int sign_in(struct api_call *call)
{
    json_t *document = api_read_body(call);
    if (!document)
        return -1;
    const char *name = json_string_value(json_object_get(document, "account"));
    const char *password = json_string_value(json_object_get(document, "password"));
    int result = name && password && json_object_size(document) == 2
                     ? sign_in_as(call, name, password)
                     : api_refuse(call, PROBLEM_UNPROCESSABLE, "body",
                                  "Accepted is {\"account\": NAME, \"password\": TEXT}.");
    json_decref(document);
    return result;
}

static int sign_out(struct api_call *call)
{
    struct error error;
    if (call->session[0] && store_session_remove(call->api->store, call->session, &error) < 0)
        return api_fail(call, &error);
    set_cookie(call, "", 0);
    call->answer->status = 204;
    return 0;
}

static int who_am_i(struct api_call *call)
{
    const char *name = strchr(call->who, ' ');
    if (!name)
        return api_send_take(call, 200, json_pack("{s:n, s:n}", "account", "role"));
    return show_account(call, 200, name + 1, call->role);
}

int api_session(struct api_call *call)
{
    if (api_is(call, "POST"))
        return sign_in(call);
    if (api_is(call, "DELETE"))
        return sign_out(call);
    return who_am_i(call);
}
