/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/show/place.h"

#include <criterion/criterion.h>
#include <stdlib.h>
#include <string.h>

/* The document of RFC 6901, section 5, over several lines. */
static const char rfc[] = "{\n"
                          "  \"foo\": [\"bar\", \"baz\"],\n"
                          "  \"\": 0,\n"
                          "  \"a/b\": 1,\n"
                          "  \"c%d\": 2,\n"
                          "  \"e^f\": 3,\n"
                          "  \"g|h\": 4,\n"
                          "  \" \": 7,\n"
                          "  \"m~n\": 8\n"
                          "}\n";

Test(place, finds_what_rfc_6901_names)
{
    static const struct {
        char pointer[16], value[16];
        size_t line;
    } rows[] = {
        {"/foo", "[\"bar\", \"baz\"]", 2},
        {"/foo/0", "\"bar\"", 2},
        {"/foo/1", "\"baz\"", 2},
        {"/", "0", 3},
        {"/a~1b", "1", 4},
        {"/c%d", "2", 5},
        {"/e^f", "3", 6},
        {"/g|h", "4", 7},
        {"/ ", "7", 8},
        {"/m~0n", "8", 9},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct place place;
        cr_assert(place_find(rfc, sizeof rfc - 1, rows[i].pointer, &place), "%s", rows[i].pointer);
        cr_expect_eq(place.line, rows[i].line, "%s: line %zu", rows[i].pointer, place.line);
        cr_expect(place.len == strlen(rows[i].value) && memcmp(rfc + place.start, rows[i].value, place.len) == 0, "%s",
                  rows[i].pointer);
        char back[PLACE_POINTER];
        place_pointer(rfc, sizeof rfc - 1, place.start, back);
        if (i > 0) /* the start of an array is the array itself; of others, the value */
            cr_expect_str_eq(back, rows[i].pointer);
    }
}

Test(place, the_whole_document_has_the_empty_pointer)
{
    struct place place;
    cr_assert(place_find("\n\n {} ", 6, "", &place));
    cr_assert(place.line == 3 && place.start == 3 && place.len == 2);
}

Test(place, what_is_not_there_is_not_found)
{
    static const char *const absent[] = {"/bar", "/foo/2", "/foo/01", "/foo/0/x", "/foo/", "/fo", "/a/b"};
    struct place place;
    for (size_t i = 0; i < sizeof absent / sizeof absent[0]; i++)
        cr_expect(!place_find(rfc, sizeof rfc - 1, absent[i], &place), "%s", absent[i]);
}

Test(place, a_text_that_breaks_off_still_has_places)
{
    static const char broken[] = "{\"a\": [1, {\"b\": tru";
    char pointer[PLACE_POINTER];
    place_pointer(broken, sizeof broken - 1, sizeof broken - 2, pointer);
    cr_assert_str_eq(pointer, "/a/1/b");
    for (size_t len = 0; len < sizeof rfc; len++)
        for (size_t at = 0; at <= len; at += 7)
            place_pointer(rfc, len, at, pointer); /* stays inside whatever is cut off */
}

Test(place, brackets_inside_texts_are_no_brackets)
{
    static const char text[] = "{\"a\": \"}]\\\"{\", \"b\": {\"c\": [[[]]], \"d\": 5}}";
    struct place place;
    cr_assert(place_find(text, sizeof text - 1, "/b/d", &place));
    cr_assert_eq(text[place.start], '5');
}

Test(place, pointers_grow_are_escaped_and_cut_back)
{
    char pointer[PLACE_POINTER] = "";
    size_t was = place_push_key(pointer, "a/b~c");
    cr_assert_eq(was, 0);
    was = place_push_index(pointer, 12);
    cr_assert_str_eq(pointer, "/a~1b~0c/12");
    pointer[was] = '\0';
    cr_assert_str_eq(pointer, "/a~1b~0c");
    char *longest = calloc(1, 4096);
    memset(longest, '~', 4095);
    for (int i = 0; i < 3; i++)
        place_push_key(pointer, longest);
    cr_assert_lt(strlen(pointer), PLACE_POINTER);
    free(longest);
}
