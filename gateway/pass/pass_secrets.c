/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The one secret of a show and the folder it lives in. Several processes may start at once on a fresh folder: whoever
 * links its new secret into place first has made it, the others read that one. */
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "gateway/pass/pass.h"

static int complain(const char *path, const char *what, const char *hint, int err)
{
    fprintf(stderr, "state: %s: %s. Hint: %s\n", path, what, hint);
    return -err;
}

/* Makes the folder and those above it, as `mkdir -p` would; its own mode is 0700. */
static int make_folder(const char *dir)
{
    char path[PATH_MAX];
    size_t len = strlen(dir);
    if (len == 0 || len >= sizeof path)
        return complain(dir, "not a usable folder name", "pass --state DIR", ENAMETOOLONG);
    memcpy(path, dir, len + 1);
    for (char *p = path + 1; *p; p++) {
        if (*p != '/')
            continue;
        *p = '\0';
        (void)mkdir(path, 0755); /* the last mkdir tells what is wrong, if anything */
        *p = '/';
    }
    if (mkdir(path, 0700) != 0 && errno != EEXIST) {
        int err = errno;
        return complain(dir, strerror(err), "choose another folder with --state DIR", err);
    }
    return 0;
}

static int check_folder(const char *dir)
{
    struct stat st;
    if (stat(dir, &st) != 0) {
        int err = errno;
        return complain(dir, strerror(err), "choose another folder with --state DIR", err);
    }
    if (!S_ISDIR(st.st_mode))
        return complain(dir, "not a folder", "choose another with --state DIR", ENOTDIR);
    if (st.st_uid != geteuid())
        return complain(dir, "belongs to another user", "run as its owner, or choose another with --state DIR", EPERM);
    if (st.st_mode & (S_IRWXG | S_IRWXO))
        return complain(dir, "others can enter this folder", "chmod 700 it, or choose another with --state DIR", EPERM);
    return 0;
}

static int write_random(int fd)
{
    uint8_t master[PASS_SECRET];
    randombytes_buf(master, sizeof master);
    ssize_t n = write(fd, master, sizeof master);
    sodium_memzero(master, sizeof master);
    if (n != (ssize_t)sizeof master)
        return n < 0 ? -errno : -ENOSPC;
    return fsync(fd) == 0 ? 0 : -errno;
}

/* Puts a whole new secret at `path`, or leaves the one another process has put there meanwhile. */
static int make_secret(const char *path)
{
    char fresh[PATH_MAX];
    if (snprintf(fresh, sizeof fresh, "%s.XXXXXX", path) >= (int)sizeof fresh)
        return complain(path, "name too long", "choose a shorter --state DIR", ENAMETOOLONG);
    int err = 0, fd = mkostemp(fresh, O_CLOEXEC); /* mode 0600 */
    if (fd < 0) {
        err = errno;
        return complain(path, strerror(err), "make the state folder writable", err);
    }
    err = write_random(fd);
    close(fd);
    if (err == 0 && link(fresh, path) != 0 && errno != EEXIST)
        err = -errno;
    (void)unlink(fresh);
    return err == 0 ? 0 : complain(path, strerror(-err), "make room in the state folder", -err);
}

static int read_secret(int fd, const char *path, uint8_t master[PASS_SECRET])
{
    struct stat st;
    if (fstat(fd, &st) != 0 || !S_ISREG(st.st_mode))
        return complain(path, "not a plain file", "remove it; a new one is made at the next start", EINVAL);
    if (st.st_uid != geteuid() || (st.st_mode & (S_IRWXG | S_IRWXO)))
        return complain(path, "others can read this secret",
                        "take it for known: remove it, a new one is made at the next start, and hand out new passes",
                        EPERM);
    uint8_t file[PASS_SECRET + 1]; /* one more, to see a file that is too long */
    ssize_t n = read(fd, file, sizeof file);
    if (n != PASS_SECRET) {
        sodium_memzero(file, sizeof file);
        return complain(path, "not a secret of 32 bytes (cut short?)",
                        "remove it; a new one is made at the next start, and hand out new passes", EINVAL);
    }
    memcpy(master, file, PASS_SECRET);
    sodium_memzero(file, sizeof file);
    return 0;
}

static int open_secret(const char *path)
{
    int fd = open(path, O_RDONLY | O_CLOEXEC | O_NOFOLLOW | O_NONBLOCK);
    if (fd >= 0 || errno != ENOENT)
        return fd < 0 ? complain(path, strerror(errno), "make it readable for the user who runs the show", errno) : fd;
    int err = make_secret(path);
    if (err != 0)
        return err;
    fd = open(path, O_RDONLY | O_CLOEXEC | O_NOFOLLOW | O_NONBLOCK);
    return fd < 0 ? complain(path, strerror(errno), "make it readable for the user who runs the show", errno) : fd;
}

int pass_secrets_load(const char *state_dir, struct pass_secrets *out)
{
    char path[PATH_MAX];
    uint8_t master[PASS_SECRET];
    if (sodium_init() < 0)
        return complain(state_dir, "no source of randomness", "check that this system has getrandom()", EIO);
    int err = make_folder(state_dir);
    if (err == 0)
        err = check_folder(state_dir);
    if (err != 0)
        return err;
    if (snprintf(path, sizeof path, "%s/secret", state_dir) >= (int)sizeof path)
        return complain(state_dir, "name too long", "choose a shorter --state DIR", ENAMETOOLONG);
    int fd = open_secret(path);
    if (fd < 0)
        return fd;
    err = read_secret(fd, path, master);
    close(fd);
    if (err != 0)
        return err;
    crypto_kdf_derive_from_key(out->passes, sizeof out->passes, 1, "showkeys", master);
    crypto_kdf_derive_from_key(out->rig, sizeof out->rig, 2, "showkeys", master);
    sodium_memzero(master, sizeof master);
    return 0;
}
