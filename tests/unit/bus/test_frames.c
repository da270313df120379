/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include <criterion/criterion.h>
#include <string.h>

#include "gateway/bus/frames.h"
#include "tests/unit/bus/samples.h"

/* As the layout adds up: header, seq, ..., see frames.c. */
enum {
    SNAPSHOT_BYTES = 2 + 8 + 4 + (4 + 7 * 4 + 4) + 3 * 33 * 4 + 5 * 8,
    DETAIL_BYTES = 8 + 8 + 1,
    TENSION_BYTES = 8,
    PLACE_BYTES = 1 + 4 * 8 + 4,
    MACHINE_BYTES = 1 + 8 + 1 + 8 + 4 * 8 + 3 * 8 + 8,
    SCENE_BYTES = 2 + 8 + 8 + 12 * 8 + 4 * 8 + (5 + 8) + PLACE_BYTES + MACHINE_BYTES + (3 + 4 * 4 + 4 * 8) +
                  (4 + 7 * 4 + 4) + 4, /* without reasons and tensions */
};

static size_t scene_bytes(const struct scene *s)
{
    size_t bytes = SCENE_BYTES + (size_t)s->cords * TENSION_BYTES;
    for (int r = 1; r < REASON_COUNT; r++)
        bytes += ((s->reasons | reason_bit(s->stop_reason)) >> r & 1) * DETAIL_BYTES;
    return bytes;
}

/* Structs are filled from this byte first, so that a comparison of all bytes sees any write. */
enum { UNTOUCHED = 0x5a };

static bool untouched(const void *at, size_t size)
{
    const unsigned char *byte = at;
    for (size_t i = 0; i < size; i++)
        if (byte[i] != UNTOUCHED)
            return false;
    return true;
}

/* Decodes; a refusal must have changed nothing, and what is accepted must encode to the same bytes again. */
static bool snapshot_decodes(const uint8_t *buf, size_t len)
{
    struct snapshot s;
    uint8_t again[BUS_FRAME_MAX];
    memset(&s, UNTOUCHED, sizeof s);
    if (!frames_decode_snapshot(buf, len, &s)) {
        cr_assert(untouched(&s, sizeof s));
        return false;
    }
    cr_assert(tally_valid(&s.tally) && s.tally.viewers <= BUS_MAX_VIEWERS);
    cr_assert_eq(frames_encode_snapshot(&s, again, sizeof again), len);
    cr_assert_arr_eq(again, buf, len);
    return true;
}

static bool scene_decodes(const uint8_t *buf, size_t len)
{
    struct scene s;
    uint8_t again[BUS_FRAME_MAX];
    memset(&s, UNTOUCHED, sizeof s);
    if (!frames_decode_scene(buf, len, &s)) {
        cr_assert(untouched(&s, sizeof s));
        return false;
    }
    for (size_t i = 0; sample_real(&s, i); i++)
        cr_assert(fabs(*sample_real(&s, i)) <= BUS_MAX_REAL);
    cr_assert_eq(frames_encode_scene(&s, again, sizeof again), len);
    cr_assert_arr_eq(again, buf, len);
    return true;
}

Test(frames, snapshots_come_back_as_they_went)
{
    struct random r = {1};
    for (int run = 0; run < 5000; run++) {
        struct snapshot sent = sample_snapshot(&r, 80), got;
        uint8_t buf[BUS_FRAME_MAX];
        size_t len = frames_encode_snapshot(&sent, buf, sizeof buf);
        cr_assert(len > 0 && frames_decode_snapshot(buf, len, &got));
        cr_assert_eq(got.seq, sent.seq);
        cr_assert_eq(got.round, sent.round);
        cr_assert_arr_eq(&got.tally, &sent.tally, sizeof sent.tally);
        cr_assert_arr_eq(&got.counts, &sent.counts, sizeof sent.counts);
    }
}

static void same_state(const struct scene *a, const struct scene *b)
{
    cr_assert(a->seq == b->seq && a->now_ns == b->now_ns);
    cr_assert(a->rig_fresh == b->rig_fresh && a->rig_fault == b->rig_fault && a->rig_at_rest == b->rig_at_rest);
    cr_assert(a->rig_powered == b->rig_powered && a->stop_category == b->stop_category);
    cr_assert(a->goal_set == b->goal_set && a->stop_state == b->stop_state && a->stop_reason == b->stop_reason);
    cr_assert(a->lane == b->lane && a->reasons == b->reasons);
    cr_assert(a->limits_mode == b->limits_mode && a->cords == b->cords && a->tension_cord == b->tension_cord);
    cr_assert(a->yaw_known == b->yaw_known && a->head_known == b->head_known && a->subject_known == b->subject_known);
    cr_assert(a->mode == b->mode && a->poll_phase == b->poll_phase && a->round == b->round);
    cr_assert(a->round_left_ms == b->round_left_ms && a->last_outcome == b->last_outcome);
    cr_assert(a->last_voices == b->last_voices && a->needed == b->needed && a->edges == b->edges);
}

static void same_machine(const struct scene *a, const struct scene *b)
{
    const struct volume_clearance *p = &a->nearest, *q = &b->nearest;
    cr_assert(p->part == q->part && p->cord == q->cord);
    cr_assert(p->bound == q->bound && p->keepout == q->keepout);
    for (int r = 0; r < REASON_COUNT; r++)
        cr_assert(a->detail[r].value == b->detail[r].value && a->detail[r].limit == b->detail[r].limit &&
                      a->detail[r].index == b->detail[r].index,
                  "%s", reason_code((enum reason)r));
    for (int i = 0; i < VOLUME_MAX_CORDS; i++)
        cr_assert_eq(a->tension_n[i], b->tension_n[i]);
    for (int i = 0; i < HEAD_AXES; i++)
        cr_assert_eq(a->head[i], b->head[i]);
    cr_assert(a->yaw_rad == b->yaw_rad && a->subject_age_s == b->subject_age_s);
    cr_assert(a->subject.x == b->subject.x && a->subject.y == b->subject.y && a->subject.z == b->subject.z);
}

Test(frames, scenes_come_back_as_they_went_but_for_the_histograms)
{
    struct random r = {2};
    static const struct tally nobody;
    for (int run = 0; run < 5000; run++) {
        struct scene sent = sample_scene(&r), got;
        uint8_t buf[BUS_FRAME_MAX];
        sent.crowd.stick[1][7] = 3;
        size_t len = frames_encode_scene(&sent, buf, sizeof buf);
        cr_assert(len > 0 && frames_decode_scene(buf, len, &got));
        same_state(&got, &sent);
        same_machine(&got, &sent);
        for (size_t i = 0; sample_real(&sent, i); i++)
            cr_assert_eq(*sample_real(&got, i), *sample_real(&sent, i), "number %zu", i);
        cr_assert(got.crowd.viewers == sent.crowd.viewers && got.crowd.sticks == sent.crowd.sticks);
        cr_assert_arr_eq(got.crowd.votes, sent.crowd.votes, sizeof sent.crowd.votes);
        cr_assert_arr_eq(got.crowd.stick, nobody.stick, sizeof nobody.stick);
    }
}

/* More of what no scene may say. */
static void worse(struct scene *s, const int bad[])
{
    if (bad[10])
        s->nearest = (struct volume_clearance){.part = VOLUME_CORD, .cord = VOLUME_MAX_CORDS};
    if (bad[11])
        s->nearest.part = (enum volume_part)(VOLUME_TETHER + 1);
    if (bad[12])
        s->nearest.bound = (enum volume_bound)(VOLUME_TETHER_END + 1);
    if (bad[13])
        s->limits_mode = LIMITS_MODES;
    if (bad[14])
        s->cords = VOLUME_MAX_CORDS + 1;
    if (bad[15])
        s->tension_cord = VOLUME_MAX_CORDS;
    if (bad[16]) {
        s->reasons |= reason_bit(REASON_TENSION_LIMIT);
        s->detail[REASON_TENSION_LIMIT].index = VOLUME_MAX_CORDS;
    }
    if (bad[17]) {
        s->stop_reason = REASON_CORD_SLACK;
        s->detail[REASON_CORD_SLACK].index = -2;
    }
}

/* Held against bytes written out by hand, so that both ends cannot drift together. */
Test(frames, the_layout_is_little_endian_and_fixed)
{
    struct snapshot s = {.seq = 0x0102030405060708, .round = 0xa1b2c3d4, .tally = {.viewers = 3}};
    const uint8_t head[] = {BUS_VERSION, 1, 8, 7, 6, 5, 4, 3, 2, 1, 0xd4, 0xc3, 0xb2, 0xa1, 3, 0, 0, 0, 2, 0, 0, 0};
    uint8_t buf[BUS_FRAME_MAX];
    s.tally.votes[CHOICE_STAY] = 2;
    cr_assert_eq(frames_encode_snapshot(&s, buf, sizeof buf), SNAPSHOT_BYTES);
    cr_assert_arr_eq(buf, head, sizeof head);

    struct scene scene = {.seq = 9, .now_ns = 256, .position = {1.5, 0, 0}, .nearest.part = VOLUME_BOOM};
    const uint8_t scene_head[] = {BUS_VERSION, 2, 9, 0, 0, 0, 0, 0, 0, 0, 0, 1,    0,
                                  0,           0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0xf8, 0x3f};
    cr_assert_eq(frames_encode_scene(&scene, buf, sizeof buf), SCENE_BYTES);
    cr_assert_arr_eq(buf, scene_head, sizeof scene_head);
}

/* Whatever a scene says, it fits. */
Test(frames, the_longest_scene_fits)
{
    struct scene s = {.cords = VOLUME_MAX_CORDS, .nearest.part = VOLUME_BOOM};
    uint8_t buf[BUS_FRAME_MAX];
    s.reasons = (((reason_set)1 << REASON_COUNT) - 1) & ~(reason_set)1;
    size_t len = frames_encode_scene(&s, buf, sizeof buf);
    cr_assert(len > 0 && scene_decodes(buf, len));
    cr_assert_eq(len, scene_bytes(&s));
}

/* What does not count is zero: nothing else is let through there. */
Test(frames, a_scene_has_one_encoding)
{
    struct random r = {11};
    struct scene s = sample_scene(&r), got;
    uint8_t buf[BUS_FRAME_MAX];
    s.yaw_known = s.head_known = s.subject_known = true;
    s.yaw_rad = 1;
    s.head[1] = 2;
    s.subject.z = 3;
    size_t len = frames_encode_scene(&s, buf, sizeof buf);
    cr_assert(len > 0 && frames_decode_scene(buf, len, &got));
    size_t flags = 2 + 8 + 8 + 12 * 8 + 4 * 8;
    for (int bit = 4; bit < 7; bit++) {
        buf[flags] ^= (uint8_t)(1 << bit);
        cr_assert_not(scene_decodes(buf, len), "bit %d", bit);
        buf[flags] ^= (uint8_t)(1 << bit);
    }
    s.yaw_known = false; /* what is known no more is left out */
    len = frames_encode_scene(&s, buf, sizeof buf);
    cr_assert(frames_decode_scene(buf, len, &got));
    cr_assert_eq(got.yaw_rad, 0);
}

Test(frames, every_truncation_and_every_extension_is_refused)
{
    struct random r = {3};
    struct snapshot snapshot = sample_snapshot(&r, 50);
    struct scene scene = sample_scene(&r);
    uint8_t buf[BUS_FRAME_MAX] = {0};
    size_t len = frames_encode_snapshot(&snapshot, buf, sizeof buf);
    for (size_t n = 0; n < sizeof buf; n++)
        cr_assert_eq(snapshot_decodes(buf, n), n == len, "%zu bytes", n);
    memset(buf, 0, sizeof buf);
    len = frames_encode_scene(&scene, buf, sizeof buf);
    for (size_t n = 0; n < sizeof buf; n++)
        cr_assert_eq(scene_decodes(buf, n), n == len, "%zu bytes", n);
}

Test(frames, every_corrupted_byte_is_refused_or_gives_a_valid_struct)
{
    struct random r = {4};
    for (int run = 0; run < 3; run++) {
        struct snapshot snapshot = sample_snapshot(&r, 30);
        struct scene scene = sample_scene(&r);
        uint8_t buf[BUS_FRAME_MAX];
        size_t refused = 0;
        size_t len = frames_encode_snapshot(&snapshot, buf, sizeof buf);
        for (size_t at = 0; at < len; at++)
            for (int flip = 1; flip < 256; flip++) {
                buf[at] ^= (uint8_t)flip;
                refused += !snapshot_decodes(buf, len);
                buf[at] ^= (uint8_t)flip;
            }
        cr_assert_gt(refused, 3 * TALLY_BINS * 4 * 255, "no bin can change alone");
        len = frames_encode_scene(&scene, buf, sizeof buf);
        for (size_t at = 0; at < len; at++)
            for (int flip = 1; flip < 256; flip++) {
                buf[at] ^= (uint8_t)flip;
                scene_decodes(buf, len);
                buf[at] ^= (uint8_t)flip;
            }
    }
}

Test(frames, random_bytes_are_refused)
{
    struct random r = {5};
    for (int run = 0; run < 200000; run++) {
        uint8_t buf[BUS_FRAME_MAX];
        size_t len = random_below(&r, 2) ? random_below(&r, 600) : random_below(&r, 2) ? SNAPSHOT_BYTES : SCENE_BYTES;
        for (size_t i = 0; i < len; i++)
            buf[i] = (uint8_t)random_u64(&r);
        buf[0] = BUS_VERSION;
        buf[1] = (uint8_t)(1 + random_below(&r, 2));
        cr_assert_not(snapshot_decodes(buf, len));
        cr_assert_not(scene_decodes(buf, len));
    }
}

Test(frames, no_room_is_said_not_overrun)
{
    struct random r = {6};
    struct snapshot snapshot = sample_snapshot(&r, 30);
    struct scene scene = sample_scene(&r);
    for (size_t size = 0; size < BUS_FRAME_MAX; size++) {
        uint8_t buf[BUS_FRAME_MAX];
        memset(buf, UNTOUCHED, sizeof buf);
        cr_assert_eq(frames_encode_snapshot(&snapshot, buf, size), size < SNAPSHOT_BYTES ? 0 : SNAPSHOT_BYTES);
        cr_assert(untouched(buf + size, sizeof buf - size));
        memset(buf, UNTOUCHED, sizeof buf);
        cr_assert_eq(frames_encode_scene(&scene, buf, size), size < scene_bytes(&scene) ? 0 : scene_bytes(&scene));
        cr_assert(untouched(buf + size, sizeof buf - size));
    }
}

Test(frames, an_incoherent_crowd_is_refused_on_both_sides)
{
    struct random r = {7};
    uint8_t buf[BUS_FRAME_MAX];
    struct snapshot good = sample_snapshot(&r, 30), bad = good;
    bad.tally.stick[2][4]++;
    cr_assert_eq(frames_encode_snapshot(&bad, buf, sizeof buf), 0);
    bad = good;
    bad.tally.votes[1] += good.tally.viewers;
    cr_assert_eq(frames_encode_snapshot(&bad, buf, sizeof buf), 0);
    bad = good;
    bad.tally.viewers = BUS_MAX_VIEWERS;
    size_t len = frames_encode_snapshot(&bad, buf, sizeof buf);
    cr_assert(snapshot_decodes(buf, len));
    memcpy(buf + 14, &(uint32_t){BUS_MAX_VIEWERS + 1}, 4); /* little-endian test machines; the layout test says where */
    cr_assert_not(snapshot_decodes(buf, len), "a crowd that no edge can hold");
}

Test(frames, numbers_gone_bad_do_not_silence_a_scene)
{
    struct random r = {8};
    for (size_t i = 0;; i++)
        for (int odd = 0; odd < SAMPLE_ODD; odd++) {
            struct scene sent = sample_scene(&r), got;
            uint8_t buf[BUS_FRAME_MAX];
            if (!sample_real(&sent, i))
                return;
            *sample_real(&sent, i) = sample_odd[odd];
            size_t len = frames_encode_scene(&sent, buf, sizeof buf);
            cr_assert(len > 0 && frames_decode_scene(buf, len, &got));
            double value = *sample_real(&got, i);
            cr_assert(fabs(value) <= BUS_MAX_REAL);
            cr_assert(isnan(sample_odd[odd]) ? value == 0 : value == 0 || (value > 0) == (sample_odd[odd] > 0));
            same_state(&got, &sent);
            same_machine(&got, &sent);
        }
}

/* Each field of the scene that is an enum or a set, one beyond its last value. */
Test(frames, values_out_of_range_are_refused_on_both_sides)
{
    struct random r = {9};
    for (int field = 0; field < 19; field++) {
        struct scene s = sample_scene(&r);
        uint8_t buf[BUS_FRAME_MAX];
        int bad[19] = {0};
        bad[field] = 1;
        if (bad[0])
            s.stop_state = STOP_STATE_COUNT;
        if (bad[18])
            s.stop_category = (enum stop_category)3;
        if (bad[1])
            s.stop_reason = REASON_COUNT;
        if (bad[2])
            s.lane = LANE_COUNT;
        if (bad[3])
            s.mode = CROWD_MODE_COUNT;
        if (bad[4])
            s.poll_phase = (enum poll_phase)(POLL_GRACE + 1);
        if (bad[5])
            s.last_outcome = CHOICE_COUNT;
        if (bad[6])
            s.reasons |= (reason_set)1 << REASON_COUNT;
        if (bad[7])
            s.reasons |= 1; /* "none" is not a reason to give */
        if (bad[8])
            s.nearest = (struct volume_clearance){.bound = VOLUME_KEEPOUT, .keepout = VOLUME_MAX_KEEPOUTS};
        if (bad[9])
            s.nearest = (struct volume_clearance){.bound = VOLUME_KEEPOUT, .keepout = -1};
        worse(&s, bad);
        cr_assert_eq(frames_encode_scene(&s, buf, sizeof buf), 0, "field %d", field);
    }
}

Test(frames, one_type_is_not_taken_for_another)
{
    struct random r = {10};
    struct snapshot snapshot = sample_snapshot(&r, 30);
    struct scene scene = sample_scene(&r);
    uint8_t buf[BUS_FRAME_MAX];
    size_t len = frames_encode_snapshot(&snapshot, buf, sizeof buf);
    cr_assert(snapshot_decodes(buf, len) && !scene_decodes(buf, len));
    buf[0] = BUS_VERSION + 1;
    cr_assert_not(snapshot_decodes(buf, len), "a version we do not speak");
    len = frames_encode_scene(&scene, buf, sizeof buf);
    cr_assert(scene_decodes(buf, len) && !snapshot_decodes(buf, len));
}
