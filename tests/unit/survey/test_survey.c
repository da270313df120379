/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include <criterion/criterion.h>
#include <dirent.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "gateway/survey/caution.h"
#include "gateway/survey/survey.h"
#include "tests/unit/survey/rooms.h"
#include "tests/unit/survey/xml.h"

enum { SHEETS = 5 };

static const char *const names[SHEETS] = {"room", "reach", "heights", "clearance", "fall"};

static char *read_new(const char *folder, const char *name)
{
    char path[256], *text = NULL;
    size_t size = 0;
    snprintf(path, sizeof path, "%s/show-%s.svg", folder, name);
    FILE *file = fopen(path, "r");
    cr_assert(file, "%s", path);
    cr_assert(getdelim(&text, &size, '\0', file) > 0);
    fclose(file);
    unlink(path);
    return text;
}

struct survey {
    char *sheet[SHEETS], *table;
    int status;
};

static struct survey survey_new(const struct show *show)
{
    char folder[] = "/tmp/steadyhand-survey-XXXXXX";
    struct survey s;
    size_t size;
    cr_assert(mkdtemp(folder));
    FILE *out = open_memstream(&s.table, &size);
    s.status = survey_write(show, folder, "show", out);
    fclose(out);
    for (int i = 0; s.status == 0 && i < SHEETS; i++)
        s.sheet[i] = read_new(folder, names[i]);
    cr_assert_eq(rmdir(folder), 0, "more was left than the sheets");
    return s;
}

static void survey_free(struct survey *s)
{
    for (int i = 0; i < SHEETS; i++)
        free(s->sheet[i]);
    free(s->table);
}

/* The beginning of a caution, as a line of it stands in a drawing. */
static bool says(const char *sheet, const char *caution)
{
    char start[24];
    snprintf(start, sizeof start, "%.*s", (int)(strcspn(caution, "'") < 20 ? strcspn(caution, "'") : 20), caution);
    return strstr(sheet, start);
}

static void check_sheets(const struct survey *s)
{
    for (int i = 0; i < SHEETS; i++) {
        const char *why, *at;
        cr_assert(xml_well_formed(s->sheet[i], &why, &at), "%s: expected %s at: %.120s", names[i], why, at);
        cr_assert(!strstr(s->sheet[i], "nan") && !strstr(s->sheet[i], "inf\""));
        cr_assert(!strstr(s->sheet[i], "http") || strstr(s->sheet[i], "http://www.w3.org/2000/svg"));
        for (int c = 0; c < CAUTION_COUNT; c++)
            cr_assert(says(s->sheet[i], caution_text[c]), "%s: %s", names[i], caution_text[c]);
    }
    for (int c = 0; c < CAUTION_COUNT; c++)
        cr_assert(strstr(s->table, caution_text[c]));
}

Test(survey, a_plain_room_is_drawn_and_told)
{
    static struct show show;
    rooms_plain(&show);
    struct survey s = survey_new(&show);
    cr_assert_eq(s.status, 0);
    check_sheets(&s);
    cr_assert(strstr(s.table, "48.0 m3, 6.00 x 4.00 m, z 1.00 to 3.00 m"), "%s", s.table);
    cr_assert(strstr(s.table, "worst tension margin"));
    cr_assert(strstr(s.table, "K1 \"box\"") || strstr(s.table, "edge of the stage"), "%s", s.table);
    cr_assert(strstr(s.sheet[0], ">A4<") && strstr(s.sheet[0], ">K1<") && strstr(s.sheet[0], ">H<"));
    survey_free(&s);
}

Test(survey, a_room_with_everything_is_too, .timeout = 300)
{
    static struct show show;
    rooms_rich(&show);
    struct survey s = survey_new(&show);
    cr_assert_eq(s.status, 0);
    check_sheets(&s);
    cr_assert(strstr(s.sheet[0], "host &#38; &#60;b&#62;chair&#60;/b&#62; &#34;left&#34;"));
    static const char *const labels[] = {">K5<", ">S1<", ">V1<", ">T<", ">A2 A6<", "0.10 m/s", "yields"};
    for (size_t i = 0; i < sizeof labels / sizeof labels[0]; i++)
        cr_assert(strstr(s.sheet[0], labels[i]), "%s", labels[i]);
    cr_assert(!strchr(s.table, '\a') && !strstr(s.table, "\xE2\x80\xAE"));
    survey_free(&s);
}

Test(survey, the_same_show_gives_the_same_bytes)
{
    static struct show show;
    rooms_plain(&show);
    struct survey a = survey_new(&show), b = survey_new(&show);
    for (int i = 0; i < SHEETS; i++)
        cr_assert_str_eq(a.sheet[i], b.sheet[i]);
    survey_free(&a);
    survey_free(&b);
}

Test(survey, cords_that_nobody_spoke_of_are_said_to_be_unknown)
{
    static struct show show;
    rooms_plain(&show);
    show.cords.given = false;
    struct survey s = survey_new(&show);
    cr_assert_eq(s.status, 0);
    check_sheets(&s);
    cr_assert(strstr(s.table, "tensions and reach       not known"));
    cr_assert(strstr(s.sheet[1], "Nothing here says that the rig holds"));
    survey_free(&s);
}

Test(survey, a_rig_that_holds_nowhere_is_still_drawn)
{
    static struct show show;
    rooms_plain(&show);
    show.cords.rig.mass_kg = 500;
    struct survey s = survey_new(&show);
    cr_assert_eq(s.status, 0);
    check_sheets(&s);
    cr_assert(strstr(s.table, "beyond the upper limit"), "%s", s.table);
    cr_assert(strstr(s.table, "the cords hold the load nowhere on the stage"));
    survey_free(&s);
}

/* One cord, or none at all: nothing holds what one of them lets go. */
Test(survey, few_cords_bound_nothing_and_do_no_harm)
{
    static struct show show;
    for (int cords = 0; cords <= 2; cords++) {
        rooms_plain(&show);
        show.policy.guard.volume.outline.cords = show.cords.rig.cords = cords;
        show.cords.given = cords > 0;
        struct survey s = survey_new(&show);
        cr_assert_eq(s.status, 0, "%d cords", cords);
        check_sheets(&s);
        survey_free(&s);
    }
}

Test(survey, no_folder_is_told_and_nothing_written)
{
    static struct show show;
    rooms_plain(&show);
    cr_assert_eq(survey_write(&show, "/nowhere/at/all", "show", stdout), 2);
    cr_assert_eq(survey_write(&show, "/dev/null", "show", stdout), 2);
}

Test(survey, limits_that_make_no_sense_are_told)
{
    static struct show show;
    rooms_plain(&show);
    show.cords.rig.max_n[2] = 1;
    struct survey s = survey_new(&show);
    cr_assert_eq(s.status, 1);
    free(s.table);
}
