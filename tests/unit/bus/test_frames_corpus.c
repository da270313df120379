/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include <criterion/criterion.h>
#include <dirent.h>
#include <stdio.h>
#include <string.h>

#include "gateway/bus/frames.h"

static bool snapshot_decodes(const uint8_t *buf, size_t len)
{
    struct snapshot s;
    return frames_decode_snapshot(buf, len, &s);
}

static bool scene_decodes(const uint8_t *buf, size_t len)
{
    struct scene s;
    return frames_decode_scene(buf, len, &s);
}

static size_t load(const char *folder, const char *name, uint8_t *buf, size_t size)
{
    char path[4096];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    FILE *f = fopen(path, "rb");
    cr_assert(f, "%s", path);
    size_t n = fread(buf, 1, size, f);
    fclose(f);
    return n;
}

/* The fuzzers' corpus is named for what is in it; after a change of layout the good ones must be made anew. */
static void corpus_is_what_it_says(const char *folder, bool (*decodes)(const uint8_t *, size_t))
{
    DIR *dir = opendir(folder);
    int good = 0, bad = 0;
    cr_assert(dir, "%s", folder);
    for (struct dirent *e; (e = readdir(dir));) {
        uint8_t buf[2 * BUS_FRAME_MAX];
        if (e->d_name[0] == '.')
            continue;
        bool says_good = strncmp(e->d_name, "good", 4) == 0;
        size_t n = load(folder, e->d_name, buf, sizeof buf);
        cr_assert_eq(decodes(buf, n), says_good, "%s/%s", folder, e->d_name);
        says_good ? good++ : bad++;
    }
    closedir(dir);
    cr_assert(good >= 3 && bad >= 5);
}

Test(frames_corpus, the_fuzz_corpus_is_up_to_date)
{
    corpus_is_what_it_says(CORPUS "/corpus_snapshot", snapshot_decodes);
    corpus_is_what_it_says(CORPUS "/corpus_scene", scene_decodes);
}
