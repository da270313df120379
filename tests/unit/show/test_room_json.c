/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include <criterion/criterion.h>
#include <stdlib.h>
#include <string.h>

#include "gateway/show/room_json.h"
#include "told.h"

static double at(const json_t *list, size_t i)
{
    const json_t *value = json_array_get(list, i);
    cr_assert(json_is_number(value));
    return json_number_value(value);
}

static double number(const json_t *object, const char *key)
{
    const json_t *value = json_object_get(object, key);
    cr_assert(json_is_number(value), "%s", key);
    return json_number_value(value);
}

static void check_geometry(const json_t *room, const struct show *show)
{
    const struct volume *volume = &show->policy.guard.volume;
    const json_t *stage = json_object_get(room, "stage"), *footprint = json_object_get(stage, "footprint");
    const json_t *boxes = json_object_get(room, "keep_outs"), *anchors = json_object_get(room, "anchors");
    cr_assert_eq(json_array_size(footprint), 4);
    cr_assert_float_eq(at(json_array_get(footprint, 2), 1), volume->stage[0].y[2], 1e-9);
    cr_assert_float_eq(number(stage, "floor"), 0.9, 1e-9);
    cr_assert_float_eq(number(stage, "ceiling"), 2.6, 1e-9);
    cr_assert_eq(json_array_size(boxes), 2);
    const json_t *box = json_array_get(boxes, 0);
    cr_assert_str_eq(json_string_value(json_object_get(box, "name")), "signal box");
    cr_assert_float_eq(at(json_object_get(box, "from"), 1), 3.2, 1e-9);
    cr_assert_float_eq(at(json_object_get(box, "to"), 2), 1.7, 1e-9);
    cr_assert_float_eq(number(box, "padding"), 0.05, 1e-9);
    cr_assert_eq(json_array_size(anchors), 4);
    cr_assert_float_eq(at(json_array_get(anchors, 1), 0), 7.8, 1e-9);
    cr_assert_float_eq(at(json_object_get(room, "home"), 2), 2.0, 1e-9);
}

Test(room_json, reads_back_as_what_the_protocol_says)
{
    char *text = told_edited(NULL);
    struct told *told = told_of(text, strlen(text));
    cr_assert_eq(told->errors, 0);
    char *said = room_json_new(&told->show);
    json_t *room = json_loads(said, JSON_REJECT_DUPLICATES, NULL);
    cr_assert(room, "%s", said);
    cr_assert_str_eq(json_string_value(json_object_get(room, "type")), "room");
    cr_assert_str_eq(json_string_value(json_object_get(room, "name")), told->show.name);
    cr_assert_str_eq(json_string_value(json_object_get(room, "rules")), told->show.rules);
    cr_assert_eq(json_object_size(room), 13);
    check_geometry(room, &told->show);
    const json_t *outline = json_object_get(room, "outline"), *speed = json_object_get(room, "speed");
    cr_assert_float_eq(number(outline, "body_radius"), 0.14, 1e-9);
    cr_assert_float_eq(number(outline, "boom"), 0.35, 1e-9);
    cr_assert_float_eq(number(room, "margin"), 0.05, 1e-9);
    cr_assert_float_eq(number(room, "step_m"), 0.4, 1e-9);
    cr_assert_float_eq(number(room, "round_s"), 6, 1e-9);
    cr_assert_float_eq(number(speed, "audience"), 0.2, 1e-9);
    cr_assert_float_eq(number(speed, "operator"), 0.4, 1e-9);
    const json_t *choices = json_object_get(room, "choices");
    cr_assert_eq(json_array_size(choices), CHOICE_COUNT);
    for (int c = 0; c < CHOICE_COUNT; c++)
        cr_assert_str_eq(json_string_value(json_array_get(choices, (size_t)c)), choice_name((enum choice)c));
    json_decref(room);
    free(said);
    told_free(told);
    free(text);
}

/* A name may hold what JSON and HTML think special. */
Test(room_json, texts_are_escaped)
{
    char *text = told_edited(NULL);
    struct told *told = told_of(text, strlen(text));
    snprintf(told->show.name, sizeof told->show.name, "a \"b\" \\ </script> \u00e9");
    char *said = room_json_new(&told->show);
    json_t *room = json_loads(said, 0, NULL);
    cr_assert_str_eq(json_string_value(json_object_get(room, "name")), told->show.name);
    json_decref(room);
    free(said);
    told_free(told);
    free(text);
}
