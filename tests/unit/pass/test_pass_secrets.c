/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include <criterion/criterion.h>
#include <errno.h>
#include <fcntl.h>
#include <pthread.h>
#include <sodium.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "gateway/pass/pass.h"

static void fresh_folder(char dir[64])
{
    snprintf(dir, 64, "/tmp/steadyhand-pass-XXXXXX");
    cr_assert_not_null(mkdtemp(dir));
}

static void put_file(const char *dir, const void *bytes, size_t len, mode_t mode)
{
    char path[128];
    snprintf(path, sizeof path, "%s/secret", dir);
    int fd = open(path, O_WRONLY | O_CREAT | O_TRUNC, 0600);
    cr_assert_geq(fd, 0);
    cr_assert_eq(write(fd, bytes, len), (ssize_t)len);
    cr_assert_eq(fchmod(fd, mode), 0);
    close(fd);
}

static void remove_folder(const char *dir)
{
    char path[128];
    snprintf(path, sizeof path, "%s/secret", dir);
    unlink(path);
    cr_assert_eq(rmdir(dir), 0, "nothing else was left in the state folder");
}

Test(pass_secrets, are_made_once_and_kept)
{
    char dir[64], path[128];
    struct pass_secrets a, b;
    struct stat st;
    fresh_folder(dir);
    cr_assert_eq(pass_secrets_load(dir, &a), 0);
    cr_assert_eq(pass_secrets_load(dir, &b), 0);
    cr_assert_arr_eq(&a, &b, sizeof a);
    cr_assert_neq(memcmp(a.passes, a.rig, PASS_SECRET), 0);
    snprintf(path, sizeof path, "%s/secret", dir);
    cr_assert_eq(stat(path, &st), 0);
    cr_assert_eq(st.st_mode & 07777, 0600u);
    remove_folder(dir);
}

/* Derived outside this program, with the BLAKE2b of Python's hashlib (salt = 1 and 2, person = "showkeys"). */
Test(pass_secrets, are_derived_as_documented)
{
    char dir[64];
    uint8_t master[PASS_SECRET], want[PASS_SECRET];
    struct pass_secrets got;
    for (int i = 0; i < PASS_SECRET; i++)
        master[i] = (uint8_t)(0x40 + i);
    fresh_folder(dir);
    put_file(dir, master, sizeof master, 0600);
    cr_assert_eq(pass_secrets_load(dir, &got), 0);
    sodium_hex2bin(want, sizeof want, "e7c1cb84430b13ccae30c5f915a2495daaea08dda9bd9699edb17b608bb14e5d", 64, NULL,
                   NULL, NULL);
    cr_assert_arr_eq(got.passes, want, sizeof want);
    sodium_hex2bin(want, sizeof want, "bc70c75efa253479cdbd3dd4cbc2c4ccd31d91490a32f8dbe197f0bb1a044133", 64, NULL,
                   NULL, NULL);
    cr_assert_arr_eq(got.rig, want, sizeof want);
    remove_folder(dir);
}

Test(pass_secrets, makes_the_folder_for_its_owner_alone)
{
    char dir[64], deep[96], deeper[128];
    struct pass_secrets s;
    struct stat st;
    fresh_folder(dir);
    snprintf(deep, sizeof deep, "%s/a", dir);
    snprintf(deeper, sizeof deeper, "%s/b", deep);
    cr_assert_eq(pass_secrets_load(deeper, &s), 0);
    cr_assert_eq(stat(deeper, &st), 0);
    cr_assert_eq(st.st_mode & 07777, 0700u);
    remove_folder(deeper);
    cr_assert_eq(rmdir(deep), 0);
    remove_folder(dir);
}

Test(pass_secrets, a_secret_others_can_read_is_refused)
{
    static const mode_t bad[] = {0640, 0604, 0660, 0644, 0620, 0602, 0610};
    char dir[64];
    uint8_t bytes[PASS_SECRET] = {1};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        struct pass_secrets s = {.passes = {7}}, before = s;
        fresh_folder(dir);
        put_file(dir, bytes, sizeof bytes, bad[i]);
        cr_assert_eq(pass_secrets_load(dir, &s), -EPERM, "%o", bad[i]);
        cr_assert_eq(memcmp(&s, &before, sizeof s), 0);
        remove_folder(dir);
    }
}

Test(pass_secrets, a_short_or_long_file_is_refused)
{
    uint8_t bytes[64] = {1};
    static const size_t len[] = {0, 1, 31, 33, 64};
    char dir[64];
    for (size_t i = 0; i < sizeof len / sizeof len[0]; i++) {
        struct pass_secrets s;
        fresh_folder(dir);
        put_file(dir, bytes, len[i], 0600);
        cr_assert_eq(pass_secrets_load(dir, &s), -EINVAL, "%zu bytes", len[i]);
        remove_folder(dir);
    }
}

Test(pass_secrets, a_folder_others_can_enter_is_refused)
{
    char dir[64];
    struct pass_secrets s;
    fresh_folder(dir);
    cr_assert_eq(chmod(dir, 0755), 0);
    cr_assert_eq(pass_secrets_load(dir, &s), -EPERM);
    cr_assert_eq(chmod(dir, 0700), 0);
    cr_assert_eq(pass_secrets_load(dir, &s), 0);
    remove_folder(dir);
}

Test(pass_secrets, odd_files_are_refused)
{
    char dir[64], path[128], link_path[128];
    struct pass_secrets s;
    fresh_folder(dir);
    snprintf(path, sizeof path, "%s/secret", dir);
    cr_assert_eq(symlink("/dev/zero", path), 0);
    cr_assert_lt(pass_secrets_load(dir, &s), 0, "a symbolic link");
    unlink(path);
    cr_assert_eq(mkfifo(path, 0600), 0);
    cr_assert_lt(pass_secrets_load(dir, &s), 0, "a pipe, and it does not hang");
    unlink(path);
    snprintf(link_path, sizeof link_path, "%s/file", dir);
    int fd = open(link_path, O_CREAT | O_WRONLY, 0600);
    close(fd);
    cr_assert_lt(pass_secrets_load(link_path, &s), 0, "a file where a folder should be");
    unlink(link_path);
    cr_assert_lt(pass_secrets_load("", &s), 0);
    remove_folder(dir);
}

static void *load(void *arg)
{
    struct pass_secrets *s = arg;
    return pass_secrets_load(getenv("STEADYHAND_TEST_DIR"), s) == 0 ? s : NULL;
}

/* core, edges and rig start together on a fresh folder. */
Test(pass_secrets, starting_together_gives_one_secret)
{
    enum { TOGETHER = 8 };
    char dir[64];
    pthread_t thread[TOGETHER];
    struct pass_secrets s[TOGETHER];
    fresh_folder(dir);
    setenv("STEADYHAND_TEST_DIR", dir, 1);
    for (int i = 0; i < TOGETHER; i++)
        cr_assert_eq(pthread_create(&thread[i], NULL, load, &s[i]), 0);
    for (int i = 0; i < TOGETHER; i++) {
        void *ok = NULL;
        pthread_join(thread[i], &ok);
        cr_assert_not_null(ok);
        cr_assert_eq(memcmp(&s[i], &s[0], sizeof s[0]), 0);
    }
    remove_folder(dir);
}
