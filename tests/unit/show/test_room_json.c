/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include <criterion/criterion.h>
#include <math.h>
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

static const json_t *one(const json_t *room, const char *list, size_t i)
{
    const json_t *item = json_array_get(json_object_get(room, list), i);
    cr_assert(item, "%s/%zu", list, i);
    return item;
}

/* The box around an outline. */
struct extent {
    double x_lo, x_hi, y_lo, y_hi;
};

static struct extent extent_of(const json_t *item, const char *key)
{
    const json_t *outline = json_object_get(item, key), *corner;
    struct extent e = {INFINITY, -INFINITY, INFINITY, -INFINITY};
    size_t i;
    cr_assert_geq(json_array_size(outline), 3, "%s", key);
    json_array_foreach(outline, i, corner)
    {
        cr_assert_eq(json_array_size(corner), 2);
        e = (struct extent){fmin(e.x_lo, at(corner, 0)), fmax(e.x_hi, at(corner, 0)), fmin(e.y_lo, at(corner, 1)),
                            fmax(e.y_hi, at(corner, 1))};
    }
    return e;
}

static void expect_extent(const json_t *item, const char *key, double x_lo, double x_hi, double y_lo, double y_hi)
{
    struct extent e = extent_of(item, key);
    cr_expect_float_eq(e.x_lo, x_lo, 2e-3, "%s: x from %g", key, e.x_lo);
    cr_expect_float_eq(e.x_hi, x_hi, 2e-3, "%s: x to %g", key, e.x_hi);
    cr_expect_float_eq(e.y_lo, y_lo, 2e-3, "%s: y from %g", key, e.y_lo);
    cr_expect_float_eq(e.y_hi, y_hi, 2e-3, "%s: y to %g", key, e.y_hi);
}

static void check_geometry(const json_t *room)
{
    const json_t *stage = one(room, "stages", 0), *anchors = json_object_get(room, "anchors");
    expect_extent(stage, "footprint", 0.8, 7.2, 0.8, 5.2);
    cr_assert_float_eq(number(stage, "floor"), 0.9, 1e-9);
    cr_assert_float_eq(number(stage, "ceiling"), 2.6, 1e-9);
    cr_assert_eq(json_array_size(anchors), 4);
    cr_assert_float_eq(at(json_array_get(anchors, 1), 0), 7.8, 1e-9);
    cr_assert_float_eq(at(json_object_get(room, "home"), 2), 2.0, 1e-9);
}

/* Each shape once, as good.json has them. */
static void check_solids(const json_t *room)
{
    const json_t *box = one(room, "keep_outs", 0), *turned = one(room, "keep_outs", 6);
    cr_assert_str_eq(json_string_value(json_object_get(box, "name")), "signal box");
    cr_assert_float_eq(number(box, "padding"), 0.05, 1e-9);
    cr_assert(json_is_false(json_object_get(box, "yields")));
    expect_extent(box, "plan", 5.2, 6.2, 3.2, 4.0);
    expect_extent(box, "front", 5.2, 6.2, 0, 1.7);
    expect_extent(one(room, "keep_outs", 2), "plan", 0.8, 1.4, 0.8, 1.4);
    expect_extent(one(room, "keep_outs", 2), "front", 0.8, 1.4, 1.2, 2.2);
    expect_extent(one(room, "keep_outs", 3), "plan", 2.4, 2.6, 0.5, 0.7);
    expect_extent(one(room, "keep_outs", 3), "front", 2.4, 2.6, 2.5, 2.7);
    expect_extent(one(room, "keep_outs", 4), "front", 6.77, 7.13, 2.87, 2.93);
    expect_extent(one(room, "keep_outs", 5), "plan", -0.3, 8.3, 6.2, 6.3); /* cut off where the room ends */
    double c = cos(30 / 57.29577951308232), s = sin(30 / 57.29577951308232), w = 0.25 * c + 0.2 * s,
           d = 0.25 * s + 0.2 * c;
    cr_expect_eq(json_array_size(json_object_get(one(room, "keep_outs", 5), "front")), 0); /* behind everything */
    expect_extent(turned, "plan", 6.65 - w, 6.65 + w, 1 - d, 1 + d);
    cr_assert(json_is_true(json_object_get(turned, "yields")));
    cr_assert_float_eq(number(one(room, "slow_zones", 0), "speed_mps"), 0.12, 1e-9);
    expect_extent(one(room, "slow_zones", 0), "front", 4.6, 6.8, 0, 2.2);
    cr_assert_str_eq(json_string_value(json_object_get(one(room, "view_keep_outs", 0), "name")), "window");
}

static void check_machine(const json_t *room)
{
    const json_t *outline = json_object_get(room, "outline"), *limb = one(outline, "limbs", 0);
    cr_assert_float_eq(number(outline, "body_radius"), 0.14, 1e-9);
    cr_assert_float_eq(number(outline, "boom"), 0.35, 1e-9);
    cr_assert_str_eq(json_string_value(json_object_get(outline, "yaw")), "pan");
    cr_assert_float_eq(at(json_object_get(limb, "to"), 1), 0.2, 1e-9);
    cr_assert_float_eq(number(limb, "radius"), 0.06, 1e-9);
    cr_assert_float_eq(number(json_object_get(room, "cords"), "max_n"), 80, 1e-9);
    cr_assert_str_eq(json_string_value(json_object_get(json_object_get(room, "tether"), "kind")), "straight");
    cr_assert_float_eq(number(json_object_get(room, "head"), "hfov_wide_deg"), 65, 1e-9);
    cr_assert_float_eq(number(json_object_get(room, "head"), "zoom_max"), 4, 1e-9);
    cr_assert_float_eq(number(json_object_get(room, "subject"), "radius"), 0.3, 1e-9);
}

/* What a show does not have is null, or no items. */
Test(room_json, a_plain_show_has_less_to_draw)
{
    char *text = told_file("plain.json");
    struct told *told = told_of(text, strlen(text));
    char *said = room_json_new(&told->show);
    json_t *room = json_loads(said, JSON_REJECT_DUPLICATES, NULL);
    static const char *const none[] = {"tether", "cords", "head", "subject"};
    for (size_t i = 0; i < 4; i++)
        cr_expect(json_is_null(json_object_get(room, none[i])), "%s", none[i]);
    cr_expect_eq(json_array_size(json_object_get(room, "slow_zones")), 0);
    cr_expect_eq(json_array_size(json_object_get(room, "keep_outs")), 2);
    json_decref(room);
    free(said);
    told_free(told);
    free(text);
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
    cr_assert_eq(json_object_size(room), 19);
    check_geometry(room);
    check_solids(room);
    check_machine(room);
    const json_t *speed = json_object_get(room, "speed");
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
