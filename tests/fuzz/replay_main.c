/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Runs a fuzz target over the files and folders named on the command line: the corpus as a plain test. */
#include <dirent.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static int run_file(const char *path)
{
    static uint8_t data[1 << 16];
    FILE *f = fopen(path, "rb");
    if (!f)
        return 0;
    size_t n = fread(data, 1, sizeof data, f);
    fclose(f);
    LLVMFuzzerTestOneInput(data, n);
    return 1;
}

int main(int argc, char **argv)
{
    int ran = 0;
    for (int i = 1; i < argc; i++) {
        DIR *dir = opendir(argv[i]);
        if (!dir) {
            ran += run_file(argv[i]);
            continue;
        }
        for (struct dirent *e; (e = readdir(dir));) {
            char path[4096];
            if (e->d_name[0] == '.')
                continue;
            snprintf(path, sizeof path, "%s/%s", argv[i], e->d_name);
            ran += run_file(path);
        }
        closedir(dir);
    }
    printf("1..1\n%s 1 - %d inputs\n", ran > 0 ? "ok" : "not ok", ran);
    return ran > 0 ? 0 : 1;
}
