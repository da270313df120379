/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/show/show.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "gateway/show/check.h"
#include "gateway/show/fill.h"

/* What usually lies behind a message of the JSON parser. */
static const char *syntax_hint(const json_error_t *error, const struct faults *faults)
{
    static const struct {
        const char *said, *hint;
    } hints[] = {
        {"duplicate object key", "each key may stand once in its object; leave one of the two out"},
        {"near '/'", "JSON has no comments"},
        {"near '#'", "JSON has no comments"},
        {"string or '}' expected near '}'", "leave out the comma before }"},
        {"string or '}' expected", "keys are written in double quotes"},
        {"' expected near '\"", "a comma is missing before this"},
        {"near ''", "texts are written in double quotes"},
        {"near 'NaN'", "NaN is not a number JSON knows; write the value itself"},
        {"near 'Infinity'", "infinity is not a number JSON knows; write the value itself"},
        {"real number overflow", "the number is too large to be meant"},
        {"too big integer", "the number is too large to be meant"},
        {"near '0'", "leave out zeros in front of a number"},
        {"UTF-8", "save the file as UTF-8"},
    };
    if (faults->len == 0)
        return "the file is empty; start from one in deploy/shows";
    for (size_t i = 0; i < sizeof hints / sizeof hints[0]; i++)
        if (strstr(error->text, hints[i].said))
            return hints[i].hint;
    return "look at this line and the one before it for a missing comma, quote or bracket";
}

/* The parser knows the place itself, so it is told as it stands rather than through faults_error(). The parser is
 * silent when memory runs out. */
static void refuse_syntax(struct faults *faults, const json_error_t *error)
{
    char pointer[PLACE_POINTER] = "";
    if (!error->text[0]) {
        faults_error(faults, "", "expected enough memory to read the file, found none left. Hint: end other programs.");
        return;
    }
    if (error->position > 0)
        place_pointer(faults->text, faults->len, (size_t)error->position - 1, pointer);
    faults_error_at(faults, error->line > 0 ? (size_t)error->line : 0, pointer, "expected JSON, found: %s. Hint: %s.",
                    error->text, syntax_hint(error, faults));
}

/* A last look by those who will use the values: they may know a rule this loader does not. */
static void check_users(const struct show *show, struct faults *faults)
{
    if (!policy_config_valid(&show->policy))
        faults_error(faults, "",
                     "expected values the policy accepts, found some it refuses. Hint: compare /rig, /room "
                     "and /limits with a file in deploy/shows.");
    if (!crowd_config_valid(&show->crowd))
        faults_error(faults, "/audience",
                     "expected rules of a vote that can be kept, found some that cannot. Hint: "
                     "compare with a file in deploy/shows.");
}

static void check_all(const json_t *root, struct layout_draft *draft, struct faults *faults)
{
    struct field_reader reader = {.faults = faults};
    field_read_object(&reader, &layout_file, root, draft);
    check_room(draft, faults);
    check_zone(draft, faults);
    check_rig(draft, faults);
    check_cords(draft, faults);
    check_limits(draft, faults);
    check_modes(draft, faults);
    fill_show(draft, &draft->show);
    check_home(&draft->show, faults);
    check_view(&draft->show, faults);
    if (faults->errors == 0)
        check_users(&draft->show, faults);
}

static int parse(struct faults *faults, struct show *show)
{
    json_error_t error = {.line = -1};
    struct layout_draft *draft = calloc(1, sizeof *draft);
    json_t *root = draft ? json_loadb(faults->text, faults->len, JSON_REJECT_DUPLICATES, &error) : NULL;
    if (root)
        check_all(root, draft, faults);
    else
        refuse_syntax(faults, &error);
    if (faults->errors == 0)
        *show = draft->show;
    json_decref(root);
    free(draft);
    if (faults->errors > FAULTS_TOLD)
        fprintf(faults->out, "%s: and %d more errors.\n", faults->file, faults->errors - FAULTS_TOLD);
    return faults->errors;
}

int show_parse(const char *name, const char *text, size_t len, struct show *show, FILE *err, int *warnings)
{
    struct faults faults = {.out = err, .file = name, .text = text, .len = len, .mute_warnings = !warnings};
    int errors = parse(&faults, show);
    if (warnings)
        *warnings = faults.warnings;
    return errors;
}

/* Why the file cannot be a show file, before it is read; NULL if it can. */
static const char *unfit(const struct stat *st)
{
    if (!S_ISREG(st->st_mode))
        return "not a regular file";
    if (st->st_size > SHOW_FILE_MAX)
        return "larger than a show file can be (256 KiB)";
    return NULL;
}

/* The whole file in a new buffer, or NULL with a line on err. */
static char *read_new(const char *path, size_t *len, FILE *err)
{
    struct stat st;
    const char *why = NULL;
    char *text = NULL;
    FILE *file = NULL;
    if (stat(path, &st) != 0)
        why = strerror(errno);
    else if (!(why = unfit(&st)) && !(file = fopen(path, "re")))
        why = strerror(errno);
    else if (!why && !(text = malloc(SHOW_FILE_MAX + 1)))
        why = "out of memory";
    if (text) {
        *len = fread(text, 1, SHOW_FILE_MAX + 1, file);
        why = ferror(file)           ? "cannot be read"
              : *len > SHOW_FILE_MAX ? "larger than a show file can be (256 KiB)"
                                     : NULL;
    }
    if (file)
        fclose(file);
    if (!why)
        return text;
    fprintf(err, "%s: expected a show file, found: %s. Hint: give the path of a file like those in deploy/shows.\n",
            path, why);
    free(text);
    return NULL;
}

int show_check(const char *path, struct show *show, FILE *err, int *warnings)
{
    size_t len = 0;
    if (warnings)
        *warnings = 0;
    char *text = read_new(path, &len, err);
    if (!text)
        return -1;
    int errors = show_parse(path, text, len, show, err, warnings);
    free(text);
    return errors;
}

int show_load(const char *path, struct show *show, FILE *err)
{
    return show_check(path, show, err, NULL);
}
