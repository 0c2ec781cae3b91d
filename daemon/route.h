/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a path stands for. The one table of addresses; page files come beside it. */
#ifndef PERCHD_DAEMON_ROUTE_H
#define PERCHD_DAEMON_ROUTE_H

#include <stdbool.h>
#include <stddef.h>

#include "api.h"
#include "assets.h"

enum route_kind {
    ROUTE_NONE,     /* nothing here */
    ROUTE_SNAPSHOT, /* index: enum snapshot_which */
    ROUTE_ASSET,    /* index: into assets.items */
    ROUTE_HEALTH,
    ROUTE_DESCRIPTION,
    ROUTE_METRICS,
    ROUTE_PLAN, /* the plan, narrowed when there is a query; index: SNAPSHOT_PLAN_JSON */
    ROUTE_DUE,  /* index: where the zone's id starts in the path; 0: all zones */
    ROUTE_API,  /* index: where the path goes on after ROUTE_API_PREFIX; 0: /records.csv */
};

#define ROUTE_API_PREFIX "/api/v1"

struct route {
    enum route_kind kind;
    size_t index;
    const char *media_type; /* without parameters, for Accept; NULL: not negotiated */
    const char *allow;      /* for 405 */
    bool query;             /* a query is passed over; else it is refused */
};

/* path: decoded, without query, beginning with '/'. */
struct route route_find(const struct assets *assets, const char *path);

/* The id in a ROUTE_DUE's path: '/api/v1/zones/ID/due'. False when it is longer than size allows.
 */
bool route_due_zone(const struct route *route, const char *path, char *zone, size_t size);

/* method is in the route's allow list. */
bool route_allows(const struct route *route, const char *method);

/* 'http://authority/path' (RFC 9112, 3.2.2) into its parts: *path points into url, authority is
 * copied. False when url is not of that form or the authority does not fit. */
bool route_split_absolute(const char *url, char *authority, size_t size, const char **path);

#endif
