/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/serve/pages.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static const struct {
    const char *ending, *type;
} types[] = {
    {".html", "text/html; charset=utf-8"},
    {".js", "text/javascript; charset=utf-8"},
    {".css", "text/css; charset=utf-8"},
    {".json", "application/json"},
    {".svg", "image/svg+xml"},
    {".png", "image/png"},
    {".ico", "image/x-icon"},
    {".woff2", "font/woff2"},
    {".webmanifest", "application/manifest+json"},
    {".txt", "text/plain; charset=utf-8"},
};

static const char *type_of(const char *name)
{
    const char *dot = strrchr(name, '.');
    for (size_t i = 0; dot && i < sizeof types / sizeof *types; i++)
        if (strcmp(dot, types[i].ending) == 0)
            return types[i].type;
    return "application/octet-stream";
}

/* FNV-1a, 64 bit: tells versions of our own files apart, no more. */
static uint64_t fingerprint(const uint8_t *data, size_t len)
{
    uint64_t h = 14695981039346656037u;
    for (size_t i = 0; i < len; i++)
        h = (h ^ data[i]) * 1099511628211u;
    return h;
}

static bool read_whole(int fd, uint8_t *data, size_t len)
{
    for (size_t got = 0; got < len;) {
        ssize_t n = read(fd, data + got, len - got);
        if (n <= 0)
            return false;
        got += (size_t)n;
    }
    return true;
}

static bool complain(const char *folder, const char *name, const char *what)
{
    fprintf(stderr, "web folder %s: %s%s%s. Hint: build the pages first, or name their folder with --web.\n", folder,
            name, *name ? ": " : "", what);
    return false;
}

static bool load_file(struct pages *pages, const char *folder, const char *name, int fd)
{
    struct stat st;
    if (fstat(fd, &st) < 0)
        return complain(folder, name, strerror(errno));
    if (!S_ISREG(st.st_mode))
        return true;
    if (st.st_size > PAGES_FILE_MAX || pages->count == PAGES_MAX || strlen(name) >= PAGES_NAME)
        return complain(folder, name, "too large, too many files, or too long a name");
    struct page *page = &pages->page[pages->count];
    page->len = (size_t)st.st_size;
    page->data = malloc(page->len + 1);
    if (!page->data || !read_whole(fd, page->data, page->len)) {
        free(page->data);
        return complain(folder, name, "cannot be read");
    }
    snprintf(page->name, sizeof page->name, "%s", name);
    snprintf(page->etag, sizeof page->etag, "\"%016" PRIx64 "\"", fingerprint(page->data, page->len));
    page->type = type_of(name);
    pages->count++;
    return true;
}

static bool load_entries(struct pages *pages, const char *folder, DIR *dir)
{
    for (struct dirent *entry; (entry = readdir(dir));) {
        if (entry->d_name[0] == '.')
            continue;
        int fd = openat(dirfd(dir), entry->d_name, O_RDONLY | O_CLOEXEC | O_NONBLOCK);
        if (fd < 0)
            return complain(folder, entry->d_name, strerror(errno));
        bool ok = load_file(pages, folder, entry->d_name, fd);
        close(fd);
        if (!ok)
            return false;
    }
    return true;
}

static const struct page *by_name(const struct pages *pages, const char *name)
{
    for (int i = 0; i < pages->count; i++)
        if (strcmp(pages->page[i].name, name) == 0)
            return &pages->page[i];
    return NULL;
}

bool pages_load(struct pages *pages, const char *folder, const char *index)
{
    memset(pages, 0, sizeof *pages);
    DIR *dir = opendir(folder);
    if (!dir)
        return complain(folder, "", strerror(errno));
    bool ok = load_entries(pages, folder, dir);
    closedir(dir);
    pages->index = by_name(pages, index);
    if (ok && !pages->index)
        ok = complain(folder, index, "is missing");
    if (!ok)
        pages_free(pages);
    return ok;
}

void pages_free(struct pages *pages)
{
    for (int i = 0; i < pages->count; i++)
        free(pages->page[i].data);
    memset(pages, 0, sizeof *pages);
}

const struct page *pages_find(const struct pages *pages, const char *path)
{
    if (path[0] != '/')
        return NULL;
    if (path[1] == '\0')
        return pages->index;
    const struct page *page = by_name(pages, path + 1);
    if (page)
        return page;
    char html[PAGES_NAME]; /* "/stop" is stop.html */
    int n = snprintf(html, sizeof html, "%s.html", path + 1);
    return n > 0 && (size_t)n < sizeof html ? by_name(pages, html) : NULL;
}

size_t pages_head(const struct pages_answer *answer, char *head)
{
    int n = snprintf(head, PAGES_HEAD_MAX,
                     "HTTP/1.1 %s\r\n"
                     "Content-Type: %s\r\n"
                     "Content-Length: %zu\r\n"
                     "Cache-Control: no-cache\r\n"
                     "%s%s%s%s"
                     "Content-Security-Policy: default-src 'self'; connect-src 'self'; object-src 'none'; "
                     "base-uri 'none'; form-action 'none'; frame-ancestors 'none'\r\n"
                     "X-Content-Type-Options: nosniff\r\n"
                     "X-Frame-Options: DENY\r\n"
                     "Referrer-Policy: no-referrer\r\n"
                     "Cross-Origin-Resource-Policy: same-origin\r\n"
                     "Connection: %s\r\n\r\n",
                     answer->status, answer->type, answer->length, answer->etag ? "ETag: " : "",
                     answer->etag ? answer->etag : "", answer->etag ? "\r\n" : "", answer->extra ? answer->extra : "",
                     answer->close ? "close" : "keep-alive");
    return n > 0 && n < PAGES_HEAD_MAX ? (size_t)n : 0;
}
