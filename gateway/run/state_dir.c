/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/run/state_dir.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include "gateway/show/show.h"

static bool complain(const char *path, const char *what)
{
    fprintf(stderr, "steadyhand: %s: %s\n", path, what);
    return false;
}

bool state_dir_default(const char *show_path, char *path, size_t size)
{
    const char *slash = strrchr(show_path, '/');
    const char *name = slash ? slash + 1 : show_path;
    size_t len = strlen(name);
    if (len > 5 && strcmp(name + len - 5, ".json") == 0)
        len -= 5;
    return (size_t)snprintf(path, size, ".steadyhand/%.*s", (int)len, name) < size;
}

static bool make_parents(const char *path)
{
    char part[4096];
    if ((size_t)snprintf(part, sizeof part, "%s", path) >= sizeof part)
        return complain(path, "the path is too long");
    for (char *slash = strchr(part + 1, '/'); slash; slash = strchr(slash + 1, '/')) {
        *slash = '\0';
        if (mkdir(part, 0700) != 0 && errno != EEXIST)
            return complain(part, strerror(errno));
        *slash = '/';
    }
    return true;
}

bool state_dir_make(const char *path)
{
    struct stat st;
    if (!make_parents(path))
        return false;
    if (mkdir(path, 0700) != 0 && errno != EEXIST)
        return complain(path, strerror(errno));
    if (lstat(path, &st) != 0)
        return complain(path, strerror(errno));
    if (!S_ISDIR(st.st_mode))
        return complain(path, "expected a folder, found something else. Hint: choose another with --state");
    if (st.st_uid != geteuid())
        return complain(path, "expected a folder of your own, found another user's. Hint: choose another with --state");
    if (st.st_mode & 077)
        return complain(path,
                        "others may enter this folder, and what is in it is secret. Hint: chmod 700 it, or choose "
                        "another with --state");
    return true;
}

int state_dir_hold(const char *path)
{
    char lock[4096];
    snprintf(lock, sizeof lock, "%s/run.lock", path);
    int fd = open(lock, O_RDWR | O_CREAT | O_CLOEXEC | O_NOFOLLOW, 0600);
    if (fd >= 0 && flock(fd, LOCK_EX | LOCK_NB) == 0)
        return fd;
    complain(lock, errno == EWOULDBLOCK ? "a show is already running from this folder. Hint: end it, or choose another "
                                          "folder with --state"
                                        : strerror(errno));
    if (fd >= 0)
        close(fd);
    return -1;
}

static bool copy_all(FILE *from, FILE *to)
{
    char buffer[4096];
    size_t n, total = 0;
    while ((n = fread(buffer, 1, sizeof buffer, from)) > 0 && (total += n) <= SHOW_FILE_MAX)
        if (fwrite(buffer, 1, n, to) != n)
            return false;
    return !ferror(from) && total <= SHOW_FILE_MAX;
}

/* Copying a file onto itself would empty it. */
static bool same_file(const char *a, const char *b)
{
    struct stat st_a, st_b;
    return stat(a, &st_a) == 0 && stat(b, &st_b) == 0 && st_a.st_dev == st_b.st_dev && st_a.st_ino == st_b.st_ino;
}

bool state_dir_keep_show(const char *path, const char *show_path, char *copy, size_t size)
{
    if ((size_t)snprintf(copy, size, "%s/show.json", path) >= size)
        return complain(path, "the path is too long");
    if (same_file(show_path, copy))
        return true;
    int fd = open(copy, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC | O_NOFOLLOW, 0600);
    FILE *from = fopen(show_path, "re"), *to = fd >= 0 ? fdopen(fd, "w") : NULL;
    bool good = from && to && copy_all(from, to);
    if (from)
        fclose(from);
    if (to && fclose(to) != 0)
        good = false;
    return good || complain(copy, "cannot be written");
}
