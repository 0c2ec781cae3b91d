/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "place.h"

#include <errno.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

/* Folder of the running program, without the slash. */
static int own_folder(char *folder, size_t size, struct error *error)
{
    ssize_t length = readlink("/proc/self/exe", folder, size - 1);
    if (length < 0)
        return error_set(error, "/proc/self/exe: %s", strerror(errno));
    folder[length] = '\0';
    char *slash = strrchr(folder, '/');
    if (!slash)
        return error_set(error, "/proc/self/exe: '%s' is no path", folder);
    *slash = '\0';
    return 0;
}

static bool join(char *out, const char *folder, const char *name)
{
    return snprintf(out, PLACE_SIZE, "%s%s", folder, name) < PLACE_SIZE;
}

static bool is_below(const char *path, const char *folder)
{
    size_t length = strlen(folder);
    return length > 0 && strncmp(path, folder, length) == 0 && path[length] == '/';
}

static bool exists(const char *path)
{
    return access(path, F_OK) == 0;
}

/* Beside the program; a test program lies one folder deeper. */
static bool find_fetch(char *fetch, const char *folder)
{
    return join(fetch, folder, "/perchd-fetch") &&
           (exists(fetch) || (join(fetch, folder, "/../perchd-fetch") && exists(fetch)) ||
            join(fetch, folder, "/perchd-fetch"));
}

int place_find(struct place *place, struct error *error)
{
    char folder[PLACE_SIZE];
    char share[PLACE_SIZE];
    if (own_folder(folder, sizeof folder, error) != 0)
        return -1;
    bool fits = find_fetch(place->fetch, folder) && join(share, folder, "/../share/perchd");
    const char *base = share;
    bool source = false;
    if (!exists(share)) {
        source = is_below(folder, PERCHD_SOURCE);
        base = source ? PERCHD_SOURCE : PERCHD_PREFIX "/share/perchd";
    }
    fits = fits && join(place->web, base, "/web") &&
           join(place->openapi, base, source ? "/docs/openapi.json" : "/openapi.json") &&
           join(place->demo, base, source ? "/config/demo" : "/demo");
    return fits ? 0 : error_set(error, "%s: path too long", folder);
}
