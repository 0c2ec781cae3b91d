/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "route.h"

#include <string.h>
#include <strings.h>

#include "snapshot.h"

static const char reads[] = "GET, HEAD";
static const char due_start[] = ROUTE_API_PREFIX "/zones/";
static const char due_end[] = "/due";

static const struct {
    const char *path;
    struct route route;
} fixed[] = {
    {"/api/v1/plan", {ROUTE_PLAN, SNAPSHOT_PLAN_JSON, "application/json", reads, true}},
    {"/api/v1/due", {ROUTE_DUE, 0, "application/json", reads, false}},
    {"/api/v1/sheet", {ROUTE_SNAPSHOT, SNAPSHOT_SHEET_JSON, "application/json", reads, false}},
    {"/plan.txt", {ROUTE_SNAPSHOT, SNAPSHOT_PLAN_TEXT, "text/plain", reads, false}},
    {"/plan.ics", {ROUTE_SNAPSHOT, SNAPSHOT_PLAN_CALENDAR, "text/calendar", reads, false}},
    {"/metrics", {ROUTE_METRICS, 0, NULL, reads, false}},
    {"/card.txt", {ROUTE_API, 0, "text/plain", reads, false}},
    {"/records.csv", {ROUTE_API, 0, "text/csv", reads, true}},
    {"/api/v1/openapi.json", {ROUTE_DESCRIPTION, 0, "application/json", reads, false}},
    {"/healthz", {ROUTE_HEALTH, 0, NULL, reads, true}},
};

static bool is_due(const char *path)
{
    const size_t start = sizeof due_start - 1;
    const size_t end = sizeof due_end - 1;
    size_t length = strlen(path);
    return length > start + end && strncmp(path, due_start, start) == 0 &&
           strcmp(path + length - end, due_end) == 0 &&
           !memchr(path + start, '/', length - start - end);
}

bool route_due_zone(const struct route *route, const char *path, char *zone, size_t size)
{
    size_t length = strlen(path + route->index) - (sizeof due_end - 1);
    if (length >= size)
        return false;
    memcpy(zone, path + route->index, length);
    zone[length] = '\0';
    return true;
}

static struct route find_api(const char *path)
{
    const size_t length = sizeof ROUTE_API_PREFIX - 1;
    if (is_due(path))
        return (struct route){ROUTE_DUE, sizeof due_start - 1, "application/json", reads, false};
    if (strncmp(path, ROUTE_API_PREFIX, length) != 0)
        return (struct route){.kind = ROUTE_NONE};
    const struct api_path found = api_path_find(path + length);
    if (found.resource == API_NONE || found.resource == API_HISTORY ||
        found.resource == API_CARD_TXT)
        return (struct route){.kind = ROUTE_NONE};
    return (struct route){ROUTE_API, length, "application/json", found.allow, true};
}

struct route route_find(const struct assets *assets, const char *path)
{
    for (size_t i = 0; i < sizeof fixed / sizeof fixed[0]; i++)
        if (strcmp(path, fixed[i].path) == 0)
            return fixed[i].route;
    const struct asset *asset = assets_find(assets, path);
    if (!asset)
        return find_api(path);
    return (struct route){ROUTE_ASSET, (size_t)(asset - assets->items), NULL, reads, true};
}

bool route_allows(const struct route *route, const char *method)
{
    size_t length = strlen(method);
    for (const char *at = route->allow; at && length; at = strchr(at, ' ')) {
        at += *at == ' ';
        if (strncmp(at, method, length) == 0 && (at[length] == ',' || at[length] == '\0'))
            return true;
    }
    return false;
}

bool route_split_absolute(const char *url, char *authority, size_t size, const char **path)
{
    static const char *const schemes[] = {"http://", "https://"};
    size_t scheme_length = 0;
    for (size_t i = 0; i < sizeof schemes / sizeof schemes[0]; i++)
        if (strncasecmp(url, schemes[i], strlen(schemes[i])) == 0)
            scheme_length = strlen(schemes[i]);
    if (scheme_length == 0)
        return false;
    const char *start = url + scheme_length;
    size_t length = strcspn(start, "/");
    if (length == 0 || length >= size)
        return false;
    memcpy(authority, start, length);
    authority[length] = '\0';
    *path = start[length] ? start + length : "/";
    return true;
}
