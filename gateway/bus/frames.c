/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Every frame: u8 version, u8 type, then the fields in the order in which they are written here.
 * put_x and get_x of the same part of a struct stand next to each other; change both together, and BUS_VERSION.
 */
#include "gateway/bus/frames.h"

#include "gateway/bus/frames_scene.h"

static struct bytes_out begin(uint8_t *buf, size_t size, enum bus_type type)
{
    struct bytes_out out = {.at = buf, .end = buf + size, .ok = true};
    bytes_put(&out, BUS_VERSION, 1);
    bytes_put(&out, type, 1);
    return out;
}

static struct bytes_in open_frame(const uint8_t *buf, size_t len, enum bus_type type)
{
    struct bytes_in in = {.at = buf, .end = buf + len, .ok = true};
    bool version = bytes_get_u8(&in) == BUS_VERSION;
    bool right = bytes_get_u8(&in) == type;
    in.ok = in.ok && version && right;
    return in;
}

static void put_histograms(struct bytes_out *out, const struct tally *tally)
{
    for (int axis = 0; axis < TALLY_AXES; axis++)
        for (int bin = 0; bin < TALLY_BINS; bin++)
            bytes_put(out, tally->stick[axis][bin], 4);
}

static void get_histograms(struct bytes_in *in, struct tally *tally)
{
    for (int axis = 0; axis < TALLY_AXES; axis++)
        for (int bin = 0; bin < TALLY_BINS; bin++)
            tally->stick[axis][bin] = bytes_get_u32(in);
}

static void put_edge_counts(struct bytes_out *out, const struct edge_counts *c)
{
    bytes_put(out, c->accepted, 8);
    bytes_put(out, c->limited, 8);
    bytes_put(out, c->refused, 8);
    bytes_put(out, c->connects, 8);
    bytes_put(out, c->turned_away, 8);
}

static void get_edge_counts(struct bytes_in *in, struct edge_counts *c)
{
    c->accepted = bytes_get(in, 8);
    c->limited = bytes_get(in, 8);
    c->refused = bytes_get(in, 8);
    c->connects = bytes_get(in, 8);
    c->turned_away = bytes_get(in, 8);
}

static bool snapshot_valid(const struct snapshot *s)
{
    return s->tally.viewers <= BUS_MAX_VIEWERS && tally_valid(&s->tally);
}

size_t frames_encode_snapshot(const struct snapshot *s, uint8_t *buf, size_t size)
{
    struct bytes_out out = begin(buf, size, BUS_SNAPSHOT);
    bytes_put(&out, s->seq, 8);
    bytes_put(&out, s->round, 4);
    frames_scene_put_counts(&out, &s->tally);
    put_histograms(&out, &s->tally);
    put_edge_counts(&out, &s->counts);
    return out.ok && snapshot_valid(s) ? (size_t)(out.at - buf) : 0;
}

bool frames_decode_snapshot(const uint8_t *buf, size_t len, struct snapshot *s)
{
    struct snapshot got = {0};
    struct bytes_in in = open_frame(buf, len, BUS_SNAPSHOT);
    got.seq = bytes_get(&in, 8);
    got.round = bytes_get_u32(&in);
    frames_scene_get_counts(&in, &got.tally);
    get_histograms(&in, &got.tally);
    get_edge_counts(&in, &got.counts);
    if (!bytes_done(&in) || !snapshot_valid(&got))
        return false;
    *s = got;
    return true;
}

size_t frames_encode_scene(const struct scene *s, uint8_t *buf, size_t size)
{
    struct bytes_out out = begin(buf, size, BUS_SCENE);
    frames_scene_put(&out, s);
    return out.ok && frames_scene_valid(s) ? (size_t)(out.at - buf) : 0;
}

/* A scene has one encoding: what does not count (the yaw where it is not known) is zero, and nothing is hidden there.
 */
static bool is_its_encoding(const struct scene *s, const uint8_t *buf, size_t len)
{
    uint8_t again[BUS_FRAME_MAX];
    return frames_encode_scene(s, again, sizeof again) == len && memcmp(again, buf, len) == 0;
}

bool frames_decode_scene(const uint8_t *buf, size_t len, struct scene *s)
{
    struct scene got = {0};
    struct bytes_in in = open_frame(buf, len, BUS_SCENE);
    frames_scene_get(&in, &got);
    if (!bytes_done(&in) || !frames_scene_valid(&got) || !is_its_encoding(&got, buf, len))
        return false;
    *s = got;
    return true;
}
