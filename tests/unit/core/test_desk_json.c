/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include <criterion/criterion.h>
#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "gateway/desk/desk_json.h"

static json_t *read_back(const char *buf, size_t len)
{
    json_error_t e;
    cr_assert_gt(len, 0u);
    json_t *j = json_loadb(buf, len, JSON_REJECT_DUPLICATES, &e);
    cr_assert_not_null(j, "%s: %.*s", e.text, (int)len, buf);
    return j;
}

Test(desk_json, small_messages)
{
    char buf[DESK_JSON_SMALL];
    struct desk_member m = {.id = 3, .role = PASS_SPOTTER, .name = "sam-2"};
    size_t len = desk_json_welcome(&m, buf, sizeof buf);
    cr_assert_str_eq((buf[len] = '\0', buf),
                     "{\"type\":\"welcome\",\"protocol\":1,\"role\":\"spotter\",\"name\":\"sam-2\",\"id\":3}");
    len = desk_json_beat(9007199254740991, buf, sizeof buf);
    cr_assert_str_eq((buf[len] = '\0', buf), "{\"type\":\"beat\",\"n\":9007199254740991}");
    len = desk_json_stopped(12, buf, sizeof buf);
    cr_assert_str_eq((buf[len] = '\0', buf), "{\"type\":\"stopped\",\"count\":12}");
    len = desk_json_refused("take", "held", "Somebody \"has\" it.", buf, sizeof buf);
    cr_assert_str_eq((buf[len] = '\0', buf),
                     "{\"type\":\"refused\",\"of\":\"take\",\"code\":\"held\",\"text\":\"Somebody \\\"has\\\" it.\"}");
    for (size_t n = 0; n < len; n++)
        cr_assert_eq(desk_json_refused("take", "held", "Somebody \"has\" it.", buf, n), 0u, "%zu bytes", n);
}

Test(desk_json, every_verdict_fits_a_small_message)
{
    char buf[DESK_JSON_SMALL];
    for (int v = 0; v < DESK_VERDICT_COUNT; v++)
        json_decref(read_back(buf, desk_json_refused("release", desk_state_code((enum desk_verdict)v),
                                                     desk_state_text((enum desk_verdict)v), buf, sizeof buf)));
    for (int r = 0; r < REASON_COUNT; r++)
        json_decref(read_back(buf, desk_json_refused("reset", reason_code((enum reason)r),
                                                     reason_for_desk((enum reason)r), buf, sizeof buf)));
}

static int64_t number(json_t *root, const char *object, const char *key)
{
    json_t *j = json_object_get(
        object ? json_object_get(json_object_get(root, "desk"), object) : json_object_get(root, "desk"), key);
    cr_assert(json_is_integer(j), "%s.%s", object ? object : "desk", key);
    return json_integer_value(j);
}

Test(desk_json, the_scene_has_a_desk_object)
{
    static struct show show;
    struct scene scene = {.seq = 9};
    struct desk_view view = {.session = true,
                             .sent = 1,
                             .telemetry = 2,
                             .refused = 3,
                             .ticks = 4,
                             .skipped = 5,
                             .late_p50_us = 21,
                             .late_p99_us = 6,
                             .late_p999_us = 22,
                             .late_max_us = 23,
                             .late_steps = {24, 25, 26, 27, 28, 29, 30, 31, 32, 33},
                             .page_faults = 34,
                             .locked = true,
                             .counts = {7, 8, 9, 10, 11},
                             .rounds = 12,
                             .stop_count = 13,
                             .stop_confirmed = true};
    struct desk_state state = {.desks = 2, .holder = 4, .holder_name = "dana"};
    char buf[DESK_JSON_SCENE];
    view.clamped[REASON_KEEPOUT] = 77;
    view.clamped[REASON_STAGE_EDGE] = 78;
    json_t *j = read_back(buf, desk_json_scene(&scene, &show, &view, &state, true, buf, sizeof buf));
    json_t *desk = json_object_get(j, "desk");
    cr_assert_str_eq(json_string_value(json_object_get(j, "type")), "scene");
    cr_assert_str_eq(json_string_value(json_object_get(desk, "holder")), "dana");
    cr_assert(json_is_true(json_object_get(desk, "you_hold")));
    cr_assert(json_is_false(json_object_get(desk, "lost")));
    cr_assert(json_is_true(json_object_get(json_object_get(desk, "rig"), "session")));
    cr_assert(json_is_true(json_object_get(json_object_get(desk, "stop"), "confirmed")));
    const int64_t got[] = {
        number(j, "rig", "sent"),        number(j, "rig", "telemetry"),      number(j, "rig", "refused"),
        number(j, "tick", "count"),      number(j, "tick", "skipped"),       number(j, "tick", "late_p99_us"),
        number(j, "counts", "accepted"), number(j, "counts", "limited"),     number(j, "counts", "refused"),
        number(j, "counts", "connects"), number(j, "counts", "turned_away"), number(j, NULL, "rounds"),
        number(j, "stop", "count")};
    for (int i = 0; i < 13; i++)
        cr_assert_eq(got[i], i + 1);
    const json_t *tick = json_object_get(desk, "tick"), *steps = json_object_get(tick, "late_steps");
    cr_assert_eq(number(j, "tick", "late_p50_us"), 21);
    cr_assert_eq(number(j, "tick", "late_p999_us"), 22);
    cr_assert_eq(number(j, "tick", "late_max_us"), 23);
    cr_assert_eq(number(j, "tick", "page_faults"), 34);
    cr_assert_eq(json_array_size(steps), (size_t)DESK_JSON_STEPS);
    for (size_t i = 0; i < DESK_JSON_STEPS; i++)
        cr_assert_eq(json_integer_value(json_array_get(steps, i)), (json_int_t)(24 + i));
    cr_assert(json_is_false(json_object_get(tick, "real_time")) && json_is_true(json_object_get(tick, "locked")));
    cr_assert_eq(json_object_size(json_object_get(desk, "clamps")), 2u);
    cr_assert_eq(number(j, "clamps", "keepout"), 77);
    json_decref(j);
    state.holder = 0;
    state.orders.held = true;
    j = read_back(buf, desk_json_scene(&scene, &show, &view, &state, false, buf, sizeof buf));
    cr_assert(json_is_null(json_object_get(json_object_get(j, "desk"), "holder")));
    cr_assert(json_is_false(json_object_get(json_object_get(j, "desk"), "you_hold")));
    cr_assert(json_is_true(json_object_get(json_object_get(j, "desk"), "lost")));
    json_decref(j);
}

Test(desk_json, the_spotter_and_what_the_session_allows_are_the_desks)
{
    static struct show show;
    struct scene scene = {.seq = 9};
    struct desk_view view = {.setup = true, .lane_mps = {0, 0.2, 0.25}};
    struct desk_state state = {.spotter = 5, .spotter_name = "sam"};
    char buf[DESK_JSON_SCENE];
    json_t *j = read_back(buf, desk_json_scene(&scene, &show, &view, &state, false, buf, sizeof buf));
    const json_t *desk = json_object_get(j, "desk"), *speeds = json_object_get(desk, "speeds");
    cr_assert_str_eq(json_string_value(json_object_get(desk, "spotter")), "sam");
    cr_assert_eq(number(j, NULL, "spotter_id"), 5);
    cr_assert(json_is_true(json_object_get(desk, "setup")));
    cr_assert_eq(json_number_value(json_object_get(speeds, "audience")), 0.2);
    cr_assert_eq(json_number_value(json_object_get(speeds, "operator")), 0.25);
    json_decref(j);
}

/* The longest there can be, and values that are no numbers, still fit and still are JSON. */
Test(desk_json, the_worst_scene_fits)
{
    static struct show show;
    struct scene s = {.seq = UINT64_MAX,
                      .now_ns = UINT64_MAX,
                      .reasons = UINT64_MAX >> (64 - REASON_COUNT),
                      .stop_reason = REASON_OUT_OF_VOLUME,
                      .goal_set = true,
                      .round = UINT32_MAX,
                      .edges = UINT32_MAX,
                      .round_left_ms = UINT32_MAX,
                      .last_voices = UINT32_MAX,
                      .needed = UINT32_MAX};
    struct desk_view view;
    struct desk_state state = {.desks = UINT32_MAX, .holder = UINT32_MAX};
    char buf[DESK_JSON_SCENE];
    memset(show.keepout_name[0], '"', SHOW_NAME - 1);
    show.policy.guard.volume.keepouts = 1;
    memset(&view, 0xff, sizeof view);
    view.session = view.stop_confirmed = view.setup = view.real_time = view.locked = true;
    state.spotter = UINT32_MAX;
    memset(state.holder_name, 'x', PASS_NAME - 1);
    memset(state.spotter_name, 'x', PASS_NAME - 1);
    s.position = s.velocity = s.wanted = s.goal = (struct vec3){-123456.7891, NAN, -INFINITY};
    s.swing_rad = s.nearest.distance_m = s.margin_m = s.braking_m = s.uncertainty_m = -1e300;
    memset(&s.crowd, 0xff, sizeof s.crowd);
    json_decref(read_back(buf, desk_json_scene(&s, &show, &view, &state, true, buf, sizeof buf)));
    cr_assert_eq(desk_json_scene(&s, &show, &view, &state, true, buf, 100), 0u);
}
