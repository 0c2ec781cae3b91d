/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "route.h"

#include <string.h>
#include <strings.h>

#include "snapshot.h"

static const char reads[] = "GET, HEAD";

static const struct {
    const char *path;
    struct route route;
} fixed[] = {
    {"/api/v1/plan",
     {ROUTE_SNAPSHOT, SNAPSHOT_PLAN_JSON, "application/json",
      "This address sends application/json.", reads, false}},
    {"/plan.txt",
     {ROUTE_SNAPSHOT, SNAPSHOT_PLAN_TEXT, "text/plain", "This address sends text/plain.", reads,
      false}},
    {"/healthz", {ROUTE_HEALTH, 0, NULL, NULL, reads, true}},
};

static struct route find_api(const char *path)
{
    const size_t length = sizeof ROUTE_API_PREFIX - 1;
    if (strncmp(path, ROUTE_API_PREFIX, length) != 0)
        return (struct route){.kind = ROUTE_NONE};
    const struct api_path found = api_path_find(path + length);
    if (found.resource == API_NONE)
        return (struct route){.kind = ROUTE_NONE};
    return (struct route){ROUTE_API,          length,
                          "application/json", "This address sends application/json.",
                          found.allow,        true};
}

struct route route_find(const struct assets *assets, const char *path)
{
    for (size_t i = 0; i < sizeof fixed / sizeof fixed[0]; i++)
        if (strcmp(path, fixed[i].path) == 0)
            return fixed[i].route;
    const struct asset *asset = assets_find(assets, path);
    if (!asset)
        return find_api(path);
    return (struct route){ROUTE_ASSET, (size_t)(asset - assets->items), NULL, NULL, reads, true};
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
    static const char scheme[] = "http://";
    size_t scheme_length = sizeof scheme - 1;
    if (strncasecmp(url, scheme, scheme_length) != 0)
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
