/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include <criterion/criterion.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "told.h"

Test(show, a_good_file_is_read_into_si_units)
{
    char *text = told_edited(NULL);
    struct told *told = told_of(text, strlen(text));
    cr_assert_eq(told->errors, 0, "%s", told->text);
    cr_assert_eq(told->warnings, 0, "%s", told->text);
    const struct show *show = &told->show;
    const struct guard_config *guard = &show->policy.guard;
    cr_assert_str_eq(show->name, "The branch line, live");
    cr_assert_eq(guard->volume.outline.cords, 4);
    cr_assert_float_eq(guard->volume.outline.anchor[2].y, 5.8, 1e-12);
    cr_assert_eq(guard->volume.stage[0].corners, 4);
    cr_assert_float_eq(guard->volume.stage[0].x[1], 7.2, 1e-12);
    cr_assert_float_eq(guard->volume.stage[0].z_hi, 2.6, 1e-12);
    cr_assert_eq(guard->volume.keepouts, 7);
    cr_assert_float_eq(
        guard->volume.keepout[1].shape.as.block.centre.z + guard->volume.keepout[1].shape.as.block.half.z, 1.9, 1e-12);
    cr_assert_float_eq(guard->volume.keepout[1].padding_m, 0.15, 1e-12);
    cr_assert_str_eq(show->keepout_name[1], "host's chair");
    cr_assert_float_eq(guard->swing_max_rad, 12 * 3.14159265358979 / 180, 1e-12);
    cr_assert_float_eq(guard->speed_mps, 0.4, 1e-12); /* the fastest lane */
    cr_assert_float_eq(guard->dt_s, 0.01, 1e-12);
    cr_assert_float_eq(show->policy.limits.cell[LANE_AUDIENCE][LIMITS_SHOW].speed_mps, 0.2, 1e-12);
    cr_assert_float_eq(show->policy.lanes.max_nudge_m, 0.4, 1e-12);
    cr_assert_eq(show->policy.telemetry_timeout_ns, 250000000u);
    cr_assert_eq(show->crowd.poll.round_ns, 6000000000u);
    cr_assert_eq(show->first_mode, CROWD_POLL);
    cr_assert_eq(show->admission.pace.interval_ns, 250000000u); /* 4 a second */
    cr_assert_eq(show->admission.pace.tolerance_ns, 7 * 250000000u);
    cr_assert_float_eq(show->sim.noise_rad, 0.1 * 3.14159265358979 / 180, 1e-12);
    cr_assert(show->sim.enabled && show->policy.presence_required);
    cr_assert_eq(show->desk.port, 8081);
    cr_assert_str_eq(show->audience.host, "127.0.0.1");
    told_free(told);
    free(text);
}

/* Each row of bad.json is one edit to good.json: the fault is found where it is, and a hint is given. */
Test(show, every_bad_file_is_refused_with_place_and_hint)
{
    json_t *rows = told_rows("bad.json"), *row;
    size_t i;
    cr_assert_geq(json_array_size(rows), 25);
    json_array_foreach(rows, i, row)
    {
        const char *fault = told_text(row, "fault");
        char *text = told_edited(row), begins[300];
        struct told *told = told_of(text, strlen(text));
        snprintf(begins, sizeof begins, "%s: expected ", told_text(row, "pointer"));
        cr_expect_eq(told->errors, told_number(row, "errors"), "%s: %d errors\n%s", fault, told->errors, told->text);
        cr_expect(told_has(told, told_number(row, "line"), begins, told_text(row, "says")), "%s\n%s", fault,
                  told->text);
        cr_expect(strstr(told->text, "Hint: "), "%s: no hint", fault);
        cr_expect(told_untouched(told), "%s: the show was touched", fault);
        told_free(told);
        free(text);
    }
    json_decref(rows);
}

/* Each row of odd.json is allowed, and warned of. */
Test(show, odd_files_are_warned_of)
{
    json_t *rows = told_rows("odd.json"), *row;
    size_t i;
    json_array_foreach(rows, i, row)
    {
        const char *fault = told_text(row, "fault");
        char *text = told_edited(row), begins[300];
        struct told *told = told_of(text, strlen(text));
        snprintf(begins, sizeof begins, "warning: %s: ", told_text(row, "pointer"));
        cr_expect_eq(told->errors, 0, "%s\n%s", fault, told->text);
        cr_expect_eq(told->warnings, 1, "%s\n%s", fault, told->text);
        cr_expect(told_has(told, told_number(row, "line"), begins, told_text(row, "says")), "%s\n%s", fault,
                  told->text);
        told_free(told);
        free(text);
    }
    json_decref(rows);
}

/* As many faults at once as there are rows of single faults that do not touch the same text: all are told. */
Test(show, all_faults_are_told_not_only_the_first)
{
    static const char *const swaps[][2] = {
        {"\"boom_m\": 0.35", "\"boom_mm\": 350"},     {"\"port\": 9700", "\"port\": 0"},
        {"\"scale\": 1.0", "\"scale\": \"1.0\""},     {"\"mode\": \"poll\"", "\"mode\": \"pole\""},
        {"\"margin_m\": 0.05", "\"margin_m\": -1.0"}, {"\"edges\": 1", "\"edges\": 99"},
        {"[4.0, 2.2, 2.0]", "[4.0, 2.2, 9e9]"},       {"\"port\": 8081", "\"port\": 8080"},
    };
    size_t n = sizeof swaps / sizeof swaps[0];
    char *text = told_edited(NULL);
    for (size_t i = 0; i < n; i++) {
        char *at = strstr(text, swaps[i][0]), *more;
        cr_assert(at);
        *at = '\0';
        cr_assert_gt(asprintf(&more, "%s%s%s", text, swaps[i][1], at + strlen(swaps[i][0])), 0);
        free(text);
        text = more;
    }
    struct told *told = told_of(text, strlen(text));
    cr_assert_eq(told->errors, (int)n, "%s", told->text);
    told_free(told);
    free(text);
}

Test(show, control_characters_never_reach_the_terminal)
{
    static const char text[] = "{\"a\\u001b[2J\\u009b31m\": 1, \"b\": \"\\u001b\"}";
    struct told *told = told_of(text, strlen(text));
    cr_assert_gt(told->errors, 0);
    for (const unsigned char *c = (const unsigned char *)told->text; *c; c++)
        cr_assert(*c == '\n' || (*c >= 0x20 && *c != 0x7f && !(c[0] == 0xc2 && c[1] < 0xa0)), "byte %02x", *c);
    told_free(told);
}

Test(show, a_flood_of_faults_is_counted_but_not_all_printed)
{
    char *text;
    size_t size, lines = 0;
    FILE *out = open_memstream(&text, &size);
    fputc('{', out);
    for (int i = 0; i < 5000; i++)
        fprintf(out, "%s\"k%d\": 1", i ? "," : "", i);
    fputc('}', out);
    fclose(out);
    struct told *told = told_of(text, size);
    for (const char *c = told->text; *c; c++)
        lines += *c == '\n';
    cr_assert_eq(told->errors, 5000 + 6); /* and the six parts that are missing */
    cr_assert_eq(lines, 101);
    cr_assert(strstr(told->text, "and 4906 more errors"));
    told_free(told);
    free(text);
}

static int load_text(const char *text, mode_t mode, struct show *show, char **said)
{
    char path[] = "/tmp/steadyhand-show-XXXXXX";
    size_t size;
    int fd = mkstemp(path);
    FILE *file = fdopen(fd, "w"), *err = open_memstream(said, &size);
    fputs(text, file);
    fclose(file);
    chmod(path, mode);
    int errors = show_load(path, show, err);
    fclose(err);
    unlink(path);
    return errors;
}

Test(show, files_are_read_from_disk_and_warnings_kept_back)
{
    struct show *show = calloc(1, sizeof *show);
    json_t *rows = told_rows("odd.json");
    char *text = told_edited(json_array_get(rows, 0)), *said = NULL;
    cr_assert_eq(load_text(text, 0600, show, &said), 0, "%s", said);
    cr_assert_str_eq(said, "");
    cr_assert_eq(show->rig_port, 9700);
    free(said);
    free(text);
    json_decref(rows);
    free(show);
}

Test(show, what_cannot_be_read_is_minus_one)
{
    struct show *show = calloc(1, sizeof *show);
    char *big = malloc(SHOW_FILE_MAX + 2), *said = NULL;
    memset(big, ' ', SHOW_FILE_MAX + 1);
    big[SHOW_FILE_MAX + 1] = '\0';
    cr_assert_eq(load_text(big, 0600, show, &said), -1);
    cr_assert(strstr(said, "larger than a show file can be"));
    free(said);
    FILE *err = fopen("/dev/null", "w");
    cr_assert_eq(show_load("/nowhere/show.json", show, err), -1);
    cr_assert_eq(show_load("/tmp", show, err), -1);
    cr_assert_eq(show_load("/dev/null", show, err), -1);
    fclose(err);
    free(big);
    free(show);
}

/* RFC 8259 and RFC 7493 (I-JSON), rows of tests/reference/json.json. The loader is at least as strict as I-JSON: it
 * refuses all that is refused there as "not JSON", and takes all that is plainly good as far as its keys. Where the
 * rows leave a choice it refuses: a bare string, an escaped NUL, a number that overflows, a byte order mark, nesting
 * beyond 2048. */
Test(show, the_json_it_takes_is_strict)
{
    json_t *c = json_load_file(REFERENCE "/json.json", 0, NULL), *row;
    json_t *rows = json_object_get(json_object_get(c, "expect"), "rows");
    size_t i, good = 0, bad = 0;
    json_array_foreach(rows, i, row)
    {
        const char *hex = told_text(row, "hex"), *why = told_text(row, "why");
        bool reject = strcmp(told_text(row, "rfc8259"), "reject") == 0;
        bool accept = strcmp(told_text(row, "rfc8259"), "accept") == 0 &&
                      strcmp(told_text(row, "ijson"), "accept") == 0 && !strstr(why, "escaped NUL");
        char bytes[8192];
        size_t len = strlen(hex) / 2;
        cr_assert_lt(len, sizeof bytes);
        for (size_t k = 0; k < len; k++)
            bytes[k] = (char)strtol((char[]){hex[2 * k], hex[2 * k + 1], 0}, NULL, 16);
        struct told *told = told_of(bytes, len);
        bool not_json = strstr(told->text, "expected JSON, found") != NULL;
        cr_assert_gt(told->errors, 0);
        if (reject || strcmp(told_text(row, "ijson"), "reject") == 0)
            cr_expect(not_json || strstr(why, "noncharacter"), "%s\n%s", why, told->text);
        if (accept)
            cr_expect(!not_json, "%s\n%s", why, told->text);
        good += accept;
        bad += reject;
        told_free(told);
    }
    cr_assert(good >= 4 && bad >= 12, "%zu good, %zu bad rows", good, bad);
    json_decref(c);
}
