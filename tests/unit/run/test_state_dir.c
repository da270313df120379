/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/run/state_dir.h"

#include <criterion/criterion.h>
#include <criterion/redirect.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

Test(state_dir, the_default_is_named_after_the_show_file)
{
    char path[64];
    cr_assert(state_dir_default("deploy/shows/model-railway.json", path, sizeof path));
    cr_assert_str_eq(path, ".steadyhand/model-railway");
    cr_assert(state_dir_default("tour", path, sizeof path));
    cr_assert_str_eq(path, ".steadyhand/tour");
    cr_assert(!state_dir_default("a-name-that-is-longer-than-the-room-there-is-for-the-whole-path.json", path, 32));
}

Test(state_dir, only_its_owner_may_enter, .init = cr_redirect_stderr)
{
    char base[] = "/tmp/steadyhand-state-XXXXXX", deep[64], file[64];
    struct stat st;
    cr_assert(mkdtemp(base));
    snprintf(deep, sizeof deep, "%s/a/b", base);
    cr_assert(state_dir_make(deep));
    cr_assert_eq(stat(deep, &st), 0);
    cr_assert_eq(st.st_mode & 07777, 0700);
    cr_assert(state_dir_make(deep), "again is no fault");
    chmod(deep, 0750);
    cr_assert(!state_dir_make(deep), "others may enter");
    chmod(deep, 0700);
    snprintf(file, sizeof file, "%s/a/b/file", base);
    fclose(fopen(file, "w"));
    cr_assert(!state_dir_make(file), "not a folder");
    snprintf(file, sizeof file, "%s/a/b/link", base);
    cr_assert_eq(symlink("/tmp", file), 0);
    cr_assert(!state_dir_make(file), "a link may lead anywhere");
    cr_assert(!state_dir_make("/proc/nothing/here"));
    unlink(file);
    snprintf(file, sizeof file, "%s/a/b/file", base);
    unlink(file);
    rmdir(deep);
    snprintf(deep, sizeof deep, "%s/a", base);
    rmdir(deep);
    cr_assert_eq(rmdir(base), 0);
}

Test(state_dir, one_run_holds_it_and_keeps_the_show, .init = cr_redirect_stderr)
{
    char base[] = "/tmp/steadyhand-state-XXXXXX", show[64], copy[96], text[8] = "";
    struct stat st;
    cr_assert(mkdtemp(base));
    int hold = state_dir_hold(base);
    cr_assert_geq(hold, 0);
    cr_assert_eq(state_dir_hold(base), -1);
    close(hold);
    hold = state_dir_hold(base);
    cr_assert_geq(hold, 0);
    snprintf(show, sizeof show, "%s/original", base);
    FILE *file = fopen(show, "w");
    fputs("{}\n", file);
    fclose(file);
    cr_assert(state_dir_keep_show(base, show, copy, sizeof copy));
    cr_assert_eq(stat(copy, &st), 0);
    cr_assert_eq(st.st_mode & 07777, 0600);
    file = fopen(copy, "r");
    cr_assert(fgets(text, sizeof text, file));
    fclose(file);
    cr_assert_str_eq(text, "{}\n");
    char again[96];
    cr_assert(state_dir_keep_show(base, copy, again, sizeof again), "the copy itself");
    cr_assert(stat(copy, &st) == 0 && st.st_size == 3);
    cr_assert(!state_dir_keep_show(base, "/nowhere", copy, sizeof copy));
    unlink(copy);
    unlink(show);
    snprintf(show, sizeof show, "%s/run.lock", base);
    unlink(show);
    cr_assert_eq(rmdir(base), 0);
}
