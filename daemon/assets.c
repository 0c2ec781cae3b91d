/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "assets.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum {
    FILES_MAX = 256,
    FILE_BYTES_MAX = 1 << 20,
    DEPTH_MAX = 3,
    PATH_SIZE = 1024,
    GZIP_LEVEL = 12, /* once, at start: the page has a weight to keep to */
};

static const struct {
    const char *ending;
    const char *media_type;
} known_types[] = {
    {".html", "text/html; charset=utf-8"},
    {".css", "text/css; charset=utf-8"},
    {".js", "text/javascript; charset=utf-8"},
    {".mjs", "text/javascript; charset=utf-8"},
    {".json", "application/json"},
    {".svg", "image/svg+xml"},
    {".png", "image/png"},
    {".ico", "image/x-icon"},
    {".woff2", "font/woff2"},
    {".webmanifest", "application/manifest+json"},
    {".txt", "text/plain; charset=utf-8"},
};

static const char *media_type_of(const char *name)
{
    const char *dot = strrchr(name, '.');
    for (size_t i = 0; dot && i < sizeof known_types / sizeof known_types[0]; i++)
        if (strcmp(dot, known_types[i].ending) == 0)
            return known_types[i].media_type;
    return NULL;
}

/* Reads an open regular file whole; closes fd in any case. */
static int read_whole(int fd, const char *path, char **bytes, size_t *length, struct error *error)
{
    struct stat info;
    char *text = NULL;
    size_t got = 0;
    int result = -1;
    if (fstat(fd, &info) != 0 || info.st_size > FILE_BYTES_MAX) {
        error_set(error, "%s: larger than %d bytes, the most a page file may have", path,
                  FILE_BYTES_MAX);
        goto end;
    }
    text = malloc((size_t)info.st_size + 1);
    if (!text) {
        error_set(error, "%s: out of memory", path);
        goto end;
    }
    while (got < (size_t)info.st_size) {
        ssize_t n = read(fd, text + got, (size_t)info.st_size - got);
        if (n < 0 && errno == EINTR)
            continue;
        if (n <= 0) {
            error_set(error, "%s: %s", path, n < 0 ? strerror(errno) : "became shorter");
            goto end;
        }
        got += (size_t)n;
    }
    *bytes = text;
    *length = got;
    text = NULL;
    result = 0;
end:
    free(text);
    close(fd);
    return result;
}

/* The end of the line at 'line', after its newline. */
static const char *line_end(const char *line, const char *end)
{
    const char *newline = memchr(line, '\n', (size_t)(end - line));
    return newline ? newline + 1 : end;
}

/* Past the closing mark of the text that begins at 'at'; a template's ${} may hold further ones. */
static const char *text_end(const char *at, const char *end)
{
    char mark = *at++;
    int inside = 0; /* braces */
    while (at < end && (*at != mark || inside > 0)) {
        if (*at == '\\')
            at += 2;
        else if (inside > 0 && strchr("'\"`", *at))
            at = text_end(at, end);
        else {
            if (*at == '{')
                inside += inside > 0 || (mark == '`' && at[-1] == '$');
            else if (*at == '}' && inside > 0)
                inside--;
            at++;
        }
    }
    return at < end ? at + 1 : end;
}

/* A line of a script without the blanks around its signs, nor its end after one that needs none;
 * texts stay as they are, and so does all from a pattern or comment on. Within the line's own
 * memory. *open: its end is there, but the next line's beginning may make it needless. */
static size_t squeeze(char *line, size_t count, bool *open)
{
    static const char signs[] = "=,:?(){}<>;&|*[]\n";
    const char *end = line + count;
    char *to = line;
    *open = false;
    for (const char *at = line, *next; at < end; at = next) {
        next = at + 1;
        if (strchr("'\"`", *at))
            next = text_end(at, end);
        else if (*at == '/' && (at == line || at[-1] != ' ' || next == end || *next != ' '))
            next = end;
        else if ((*at == ' ' && next < end && (strchr(signs, *next) || strchr(signs, to[-1]))) ||
                 (*at == '\n' && strchr(";,{([", to[-1])))
            continue;
        *open = *at == '\n';
        memmove(to, at, (size_t)(next - at));
        to += next - at;
    }
    return (size_t)(to - line);
}

/* Scripts and styles go out without indents, empty lines and comments that have their lines for
 * themselves, scripts without needless blanks: they are a fifth of the page's weight. Within the
 * folder no text spans lines. */
static size_t make_lighter(char *text, size_t length, bool script)
{
    const char *end = text + length;
    const char *next;
    char *to = text;
    bool inside = false;
    bool open = false;
    for (const char *line = text; line < end; line = next) {
        next = line_end(line, end);
        while (line < next && *line == ' ')
            line++;
        if (line == next)
            continue;
        size_t count = (size_t)(next - line);
        inside = inside || (count >= 2 && memcmp(line, "/*", 2) == 0);
        bool comment = inside || (count >= 2 && memcmp(line, "//", 2) == 0);
        if (inside && memmem(line, count, "*/", 2))
            inside = false;
        if (!comment && *line != '\n') {
            if (open && strchr("})].?:", *line))
                to--;
            memmove(to, line, count);
            to += script ? squeeze(to, count, &open) : count;
            if (!script && count > 1 && to[-1] == '\n' && strchr(";,{}", to[-2]))
                to--;
        }
    }
    *to = '\0';
    return (size_t)(to - text);
}

static bool is_script(const char *media_type)
{
    return strncmp(media_type, "text/javascript", 15) == 0;
}

static int add_file(struct assets *assets, int fd, const char *path, const char *request_path,
                    const char *media_type, struct error *error)
{
    char *bytes;
    size_t length;
    if (read_whole(fd, path, &bytes, &length, error) != 0)
        return -1;
    if (is_script(media_type) || strncmp(media_type, "text/css", 8) == 0)
        length = make_lighter(bytes, length, is_script(media_type));
    struct asset *asset = &assets->items[assets->count];
    *asset = (struct asset){.path = strdup(request_path), .media_type = media_type};
    if (body_init_take(&asset->body, bytes, length, GZIP_LEVEL) != 0 || !asset->path) {
        body_clear(&asset->body);
        free(asset->path);
        return error_set(error, "%s: out of memory", path);
    }
    assets->count++;
    return 0;
}

static int add_folder(struct assets *assets, const char *root, const char *below, int depth,
                      struct error *error);

static int add_entry(struct assets *assets, const char *root, const char *request_path, int depth,
                     struct error *error)
{
    char path[PATH_SIZE];
    if (snprintf(path, sizeof path, "%s%s", root, request_path) >= (int)sizeof path)
        return error_set(error, "%s%s: path too long", root, request_path);
    int fd = open(path, O_RDONLY | O_NOFOLLOW | O_CLOEXEC | O_NONBLOCK);
    if (fd < 0) /* a link is passed over, an unreadable file is a fault of the installation */
        return errno == ELOOP ? 0 : error_set(error, "%s: %s", path, strerror(errno));
    struct stat info;
    const char *media_type = media_type_of(request_path);
    bool known = fstat(fd, &info) == 0;
    if (known && S_ISREG(info.st_mode) && media_type) {
        if (assets->count < FILES_MAX)
            return add_file(assets, fd, path, request_path, media_type, error);
        close(fd);
        return error_set(error, "%s: more than %d page files", root, FILES_MAX);
    }
    close(fd);
    if (known && S_ISDIR(info.st_mode) && depth < DEPTH_MAX)
        return add_folder(assets, root, request_path, depth + 1, error);
    return 0;
}

static int add_folder(struct assets *assets, const char *root, const char *below, int depth,
                      struct error *error)
{
    char path[PATH_SIZE];
    if (snprintf(path, sizeof path, "%s%s", root, below) >= (int)sizeof path)
        return error_set(error, "%s%s: path too long", root, below);
    DIR *folder = opendir(path);
    if (!folder)
        return error_set(error, "%s: %s", path, strerror(errno));
    int result = 0;
    const struct dirent *entry;
    while (result == 0 && (entry = readdir(folder))) {
        if (entry->d_name[0] == '.' || strcmp(entry->d_name, "package.json") == 0)
            continue; /* the latter tells a test runner what the scripts are */
        if (snprintf(path, sizeof path, "%s/%s", below, entry->d_name) < (int)sizeof path)
            result = add_entry(assets, root, path, depth, error);
    }
    closedir(folder);
    return result;
}

static int by_path(const void *a, const void *b)
{
    return strcmp(((const struct asset *)a)->path, ((const struct asset *)b)->path);
}

int assets_load(const char *folder, struct assets *assets, struct error *error)
{
    *assets = (struct assets){.items = calloc(FILES_MAX, sizeof *assets->items)};
    if (!assets->items)
        return error_set(error, "%s: out of memory", folder);
    int result = add_folder(assets, folder, "", 0, error);
    if (result == 0) {
        qsort(assets->items, assets->count, sizeof *assets->items, by_path);
        if (!assets_find(assets, "/"))
            result = error_set(error, "%s: no index.html, so no page to serve", folder);
    }
    if (result != 0)
        assets_clear(assets);
    return result;
}

void assets_clear(struct assets *assets)
{
    for (size_t i = 0; i < assets->count; i++) {
        free(assets->items[i].path);
        body_clear(&assets->items[i].body);
    }
    free(assets->items);
    *assets = (struct assets){0};
}

static int path_is(const void *path, const void *asset)
{
    return strcmp(path, ((const struct asset *)asset)->path);
}

const struct asset *assets_find(const struct assets *assets, const char *path)
{
    const char *wanted = strcmp(path, "/") == 0 ? "/index.html" : path;
    if (assets->count == 0)
        return NULL;
    return bsearch(wanted, assets->items, assets->count, sizeof *assets->items, path_is);
}
