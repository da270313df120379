/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* How long a scene can get, and what happens where there is no room for it. */
#include <criterion/criterion.h>
#include <jansson.h>
#include <stdio.h>
#include <string.h>

#include "gateway/bus/json_text.h"
#include "gateway/bus/scene_json.h"
#include "tests/unit/bus/samples.h"

static struct show show;

static void begin(void)
{
    show.policy.guard.volume.stages = 1;
    show.policy.guard.volume.stage[0].z_hi = 3;
    show.policy.guard.volume.keepouts = show.policy.zones = show.policy.view.shapes = 1;
}

TestSuite(scene_size, .init = begin);

/* Each reason first and all after it, for both audiences, a name of 63 bytes that all need six, every number at its
 * longest: it must fit. */
Test(scene_size, the_longest_scene_fits)
{
    struct scene s = {.seq = UINT64_MAX, .now_ns = UINT64_MAX, .goal_set = true};
    s.cords = VOLUME_MAX_CORDS;
    s.yaw_known = s.head_known = s.subject_known = true;
    s.nearest = (struct volume_clearance){.part = VOLUME_CORD, .cord = 7, .bound = VOLUME_KEEPOUT};
    for (int i = 0; i < VOLUME_MAX_CORDS; i++)
        s.tension_n[i] = s.head[i / 2] = s.subject.x = s.subject.y = s.subject.z = -99999.99;
    for (int i = 0; i < REASON_COUNT; i++)
        s.detail[i] = (struct reason_detail){-999999.999, -999999.999, 0};
    for (size_t i = 0; sample_real(&s, i); i++)
        *sample_real(&s, i) = -999999.9999;
    s.blend[0] = s.blend[1] = s.blend[2] = -0.9999;
    s.audience_scale = 0.999;
    s.round = s.round_left_ms = s.last_voices = s.needed = s.edges = s.crowd.viewers = s.crowd.sticks = UINT32_MAX;
    memset(s.crowd.votes, 0xff, sizeof s.crowd.votes);
    s.last_outcome = CHOICE_PEDESTAL_DOWN;
    memset(show.keepout_name[0], '\a', SHOW_NAME - 1);
    size_t most = 0;
    for (int first = 1; first < REASON_COUNT; first++)
        for (int desk = 0; desk < 2; desk++) {
            s.reasons = (((reason_set)1 << REASON_COUNT) - 1) & ~(((reason_set)1 << first) - 1);
            char buf[SCENE_JSON_MAX];
            size_t len = scene_json(&s, &show, desk, buf, sizeof buf);
            cr_assert_gt(len, 0);
            most = len > most ? len : most;
        }
    cr_assert_leq(most, SCENE_JSON_MAX - 256, "%zu bytes: room is left for longer sentences", most);
}

Test(scene_size, no_room_is_said_not_overrun)
{
    struct random r = {4};
    struct scene s = sample_scene(&r);
    char whole[SCENE_JSON_MAX], buf[SCENE_JSON_MAX];
    size_t len = scene_json(&s, &show, true, whole, sizeof whole);
    for (size_t size = 0; size <= len; size++) {
        memset(buf, '#', sizeof buf);
        cr_assert_eq(scene_json(&s, &show, true, buf, size), size < len ? 0 : len);
        for (size_t i = size; i < sizeof buf; i++)
            cr_assert_eq(buf[i], '#');
    }
    cr_assert_arr_eq(buf, whole, len);
}

Test(scene_size, the_desk_can_add_its_object)
{
    struct random r = {5};
    struct scene s = sample_scene(&r);
    char buf[SCENE_JSON_MAX];
    struct json_text t;
    size_t len = scene_json(&s, &show, true, buf, sizeof buf);
    json_text_resume(&t, buf, len, sizeof buf);
    json_text_raw(&t, ",\"desk\":{\"holder\":");
    json_text_string(&t, "dana \"d\"", SHOW_NAME);
    json_text_raw(&t, "}}");
    json_t *root = json_loadb(buf, json_text_len(&t), JSON_REJECT_DUPLICATES, NULL);
    cr_assert_eq(json_object_size(root), 32);
    cr_assert_str_eq(json_string_value(json_object_get(json_object_get(root, "desk"), "holder")), "dana \"d\"");
    json_decref(root);
}
