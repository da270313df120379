/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/survey/survey.h"

#include <errno.h>
#include <limits.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "gateway/show/show_reach.h"
#include "gateway/survey/caution.h"
#include "gateway/survey/table.h"
#include "gateway/survey/text.h"
#include "gateway/verbs.h"

enum { EXIT_USAGE = 2 };

static const struct {
    const char *name;
    bool (*draw)(const struct draw_input *in, FILE *out);
} sheets[SHEET_COUNT] = {
    {"room", draw_room},           {"reach", draw_reach}, {"heights", draw_levels},
    {"clearance", draw_clearance}, {"fall", draw_fall},
};

static bool is_folder(const char *path)
{
    struct stat s;
    if (stat(path, &s) == 0 && S_ISDIR(s.st_mode))
        return true;
    fprintf(stderr, "steadyhand: --out: expected a folder that is there, found \"%s\" (%s)\n", path,
            strerror(stat(path, &s) == 0 ? ENOTDIR : errno));
    return false;
}

/* Beside its place first, so that what is there is always whole. */
static bool write_sheet(const char *folder, const char *name, int which, const struct draw_input *in, FILE *told)
{
    char path[PATH_MAX], part[PATH_MAX + 8];
    if (snprintf(path, sizeof path, "%s/%s-%s.svg", folder, name, sheets[which].name) >= (int)sizeof path) {
        fprintf(stderr, "steadyhand: survey: %s: the name is too long\n", folder);
        return false;
    }
    snprintf(part, sizeof part, "%s.part", path);
    FILE *file = fopen(part, "we");
    errno = file ? 0 : errno;
    bool good = file && sheets[which].draw(in, file);
    int why = errno;
    good = file && fclose(file) == 0 && good;
    if (good && rename(part, path) == 0) {
        fprintf(told, "  %s\n", path);
        return true;
    }
    fprintf(stderr, "steadyhand: survey: %s could not be written: %s\n", path,
            strerror(why     ? why
                     : errno ? errno
                             : EIO));
    unlink(part);
    return false;
}

/* All that is worked out, in one piece of memory. */
struct work {
    struct show show; /* a copy, which the reach is hung into */
    struct show_reach reach;
    struct site site;
    struct figures figures;
    struct fall fall;
    struct draw_input in;
};

/* A home that is out of reach is told, and drawn all the same: that is how one sees why. */
static bool work_out(struct work *w, const struct show *show, const char *name)
{
    w->show = *show;
    if (!show_reach_build(&w->show, name, &w->reach, stderr) && !w->show.policy.guard.volume.reach)
        return false;
    site_from_show(&w->site, &w->show);
    w->in = (struct draw_input){&w->site, &w->figures, w->show.policy.guard.volume.reach, &w->fall};
    figures_take(&w->figures, &w->site, w->in.reach);
    return fall_new(&w->fall, &w->site);
}

static int draw_all(const struct work *w, const char *folder, const char *name, FILE *out)
{
    int bad = 0;
    fputs("Survey of \"", out);
    text_put(out, w->site.name);
    fputs("\"\n\n", out);
    table_print(&w->in, out);
    fprintf(out, "\nDrawings\n");
    for (int i = 0; i < SHEET_COUNT; i++)
        bad += !write_sheet(folder, name, i, &w->in, out);
    fprintf(out, "\n%s\n", caution_short);
    for (int i = 0; i < CAUTION_COUNT; i++)
        fprintf(out, "- %s\n", caution_text[i]);
    return bad > 0;
}

int survey_write(const struct show *show, const char *folder, const char *name, FILE *out)
{
    if (!is_folder(folder))
        return EXIT_USAGE;
    struct work *w = calloc(1, sizeof *w);
    int status = 1;
    if (w && work_out(w, show, name))
        status = draw_all(w, folder, name, out);
    else
        fprintf(stderr, "steadyhand: survey: it could not be worked out\n");
    if (w) {
        fall_free(&w->fall);
        show_reach_free(&w->show, &w->reach);
        free(w);
    }
    return status;
}

int survey_main(const struct show *show, const struct verb_options *opt)
{
    const char *slash = strrchr(opt->show_path, '/'), *file = slash ? slash + 1 : opt->show_path;
    char name[NAME_MAX + 1];
    snprintf(name, sizeof name, "%s", file);
    size_t n = strnlen(name, sizeof name);
    if (n > 5 && strcmp(name + n - 5, ".json") == 0)
        name[n - 5] = '\0';
    return survey_write(show, opt->out_dir ? opt->out_dir : ".", name, stdout);
}
