/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include <criterion/criterion.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "gateway/survey/svg.h"
#include "gateway/survey/text.h"
#include "tests/unit/survey/xml.h"

static bool good(const char *text)
{
    const char *why, *at;
    return xml_well_formed(text, &why, &at);
}

#define HEAD "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"

/* The judge first: what the XML recommendation calls not well-formed is refused. */
Test(xml, the_judge_tells_good_from_bad)
{
    cr_assert(good(HEAD "<a b=\"1\"><c/>x &amp; &#60; \xC3\xBC</a>\n"));
    static const char *const bad[] = {
        "<a/>",
        HEAD,
        HEAD "<a>",
        HEAD "<a></b>",
        HEAD "<a/><b/>",
        HEAD "<a b=1/>",
        HEAD "<a>&</a>",
        HEAD "<a>&nbsp;</a>",
        HEAD "<a>\x07</a>",
        HEAD "<a>\xFF</a>",
        HEAD "<a>\xED\xA0\x80</a>",
        HEAD "<a>\xEF\xBF\xBF</a>",
        HEAD "<a b=\"<\"/>",
        HEAD "<a b=\"1\" b=\"2\"/>",
        HEAD "<a>]]></a>",
        HEAD "<a><b id=\"x\"/><b id=\"x\"/></a>",
        HEAD "<a><!-- --></a>",
        HEAD "<a/>x",
    };
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++)
        cr_assert(!good(bad[i]), "%s", bad[i]);
}

static char *picture_new(const char *text, double number, bool *whole)
{
    char *bytes;
    size_t size;
    struct svg svg = {.out = open_memstream(&bytes, &size)};
    svg_begin(&svg, 100, 50, text, text);
    svg_text(&svg, "small", SVG_END, 1, 2, "%s", text);
    svg_line(&svg, "grid", number, -0.001, 1.5, 2.25);
    svg_clip_begin(&svg, "c");
    svg_rect(&svg, "cut", 0, 0, -1, 3);
    svg_clip_use(&svg, "c");
    svg_loops_begin(&svg, "band-a");
    svg_loop(&svg, (struct plan_point[]){{0, 0}, {1, 0}, {1, 1}}, 3);
    svg_loops_end(&svg);
    svg_polygon(&svg, "cord", (struct plan_point[]){{0, 0}, {1, 0}}, 2);
    svg_clip_end(&svg);
    *whole = svg_end(&svg);
    fclose(svg.out);
    return bytes;
}

Test(svg, whatever_the_text_it_is_well_formed)
{
    static const char *const texts[] = {
        "",
        "plain",
        "</text><script>alert(1)</script>",
        "a & b < c > d \" e ' f ]]> &amp; &#60;",
        "\x01\x02\t\n\x7F\xC2\x85",
        "\xFF\xC0\x80\xED\xA0\x80\xF4\x90\x80\x80\xE2\x82",
        "\xEF\xBF\xBE\xEF\xBF\xBF",
        "B\xC3\xBChne \xE8\x88\x9E\xE5\x8F\xB0 \xF0\x9F\x8E\xA5",
        "\xE2\x80\256desrever\xE2\x81\xA6",
    };
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
        const char *why, *at;
        bool whole;
        char *bytes = picture_new(texts[i], 1, &whole);
        cr_assert(whole);
        cr_assert(xml_well_formed(bytes, &why, &at), "text %zu: expected %s at: %.80s", i, why, at);
        cr_assert(!strstr(bytes, "<script"));
        cr_assert(!strstr(bytes, "\xE2\x80\xAE") && !strstr(bytes, "\xE2\x81\xA6"));
        free(bytes);
    }
}

Test(svg, numbers_are_short_and_none_is_no_number)
{
    bool whole;
    char *bytes = picture_new("x", 12.5, &whole);
    cr_assert(strstr(bytes, "<line class=\"grid\" x1=\"12.5\" y1=\"0\" x2=\"1.5\" y2=\"2.25\"/>"), "%s", bytes);
    cr_assert(strstr(bytes, "width=\"0\" height=\"3\""));
    free(bytes);
    static const double bad[] = {INFINITY, -INFINITY, NAN, 1e10};
    for (size_t i = 0; i < 4; i++) {
        bytes = picture_new("x", bad[i], &whole);
        cr_assert(!whole, "%g was let through", bad[i]);
        cr_assert(!strstr(bytes, "nan") && !strstr(bytes, "inf"));
        free(bytes);
    }
}

Test(svg, a_full_disk_is_noticed)
{
    FILE *full = fopen("/dev/full", "w");
    if (!full)
        cr_skip_test("there is no /dev/full here");
    struct svg svg = {.out = full};
    svg_begin(&svg, 10, 10, "t", "d");
    cr_assert(!svg_end(&svg));
    fclose(full);
}

Test(text, comes_out_character_by_character)
{
    char bytes[TEXT_BYTES];
    const char *text = "a\xC3\xBC\xE8\x88\x9E\xF0\x9F\x8E\xA5\x80z";
    static const char *const expected[] = {"a", "\xC3\xBC", "\xE8\x88\x9E", "\xF0\x9F\x8E\xA5", "\xEF\xBF\xBD", "z"};
    for (size_t i = 0; i < 6; i++) {
        text = text_next(text, bytes);
        cr_assert_str_eq(bytes, expected[i]);
    }
    cr_assert(!*text);
}
