/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Every frame: u8 version, u8 type, then the fields in the order in which they are written here.
 * put_x and get_x of the same part of a struct stand next to each other; change both together, and BUS_VERSION.
 */
#include "gateway/bus/frames.h"

#include "gateway/bus/bytes.h"

enum { /* flags of a scene */
       RIG_FRESH = 1 << 0,
       RIG_FAULT = 1 << 1,
       RIG_AT_REST = 1 << 2,
       GOAL_SET = 1 << 3,
       FLAGS_ALL = (1 << 4) - 1,
};

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

/* viewers, votes and sticks: all of a tally but its histograms */
static void put_counts(struct bytes_out *out, const struct tally *tally)
{
    bytes_put(out, tally->viewers, 4);
    for (int c = 0; c < CHOICE_COUNT; c++)
        bytes_put(out, tally->votes[c], 4);
    bytes_put(out, tally->sticks, 4);
}

static void get_counts(struct bytes_in *in, struct tally *tally)
{
    tally->viewers = bytes_get_u32(in);
    for (int c = 0; c < CHOICE_COUNT; c++)
        tally->votes[c] = bytes_get_u32(in);
    tally->sticks = bytes_get_u32(in);
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
    put_counts(&out, &s->tally);
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
    get_counts(&in, &got.tally);
    get_histograms(&in, &got.tally);
    get_edge_counts(&in, &got.counts);
    if (!bytes_done(&in) || !snapshot_valid(&got))
        return false;
    *s = got;
    return true;
}

/* A number brought into range; NaN becomes 0. */
static void put_real(struct bytes_out *out, double value, double least, double most)
{
    if (value != value)
        value = 0;
    bytes_put_double(out, value < least ? least : value > most ? most : value);
}

/* Written so that NaN fails. */
static double get_real(struct bytes_in *in, double least, double most)
{
    double value = bytes_get_double(in);
    in->ok = in->ok && value >= least && value <= most;
    return value;
}

static void put_vec(struct bytes_out *out, struct vec3 v)
{
    put_real(out, v.x, -BUS_MAX_REAL, BUS_MAX_REAL);
    put_real(out, v.y, -BUS_MAX_REAL, BUS_MAX_REAL);
    put_real(out, v.z, -BUS_MAX_REAL, BUS_MAX_REAL);
}

static struct vec3 get_vec(struct bytes_in *in)
{
    double x = get_real(in, -BUS_MAX_REAL, BUS_MAX_REAL);
    double y = get_real(in, -BUS_MAX_REAL, BUS_MAX_REAL);
    double z = get_real(in, -BUS_MAX_REAL, BUS_MAX_REAL);
    return (struct vec3){x, y, z};
}

static void put_motion(struct bytes_out *out, const struct scene *s)
{
    const double metres[] = {s->swing_rad, s->uncertainty_m, s->clearance_m, s->margin_m, s->braking_m};
    put_vec(out, s->position);
    put_vec(out, s->velocity);
    put_vec(out, s->wanted);
    put_vec(out, s->goal);
    for (size_t i = 0; i < sizeof metres / sizeof *metres; i++)
        put_real(out, metres[i], -BUS_MAX_REAL, BUS_MAX_REAL);
}

static void get_motion(struct bytes_in *in, struct scene *s)
{
    double *const metres[] = {&s->swing_rad, &s->uncertainty_m, &s->clearance_m, &s->margin_m, &s->braking_m};
    s->position = get_vec(in);
    s->velocity = get_vec(in);
    s->wanted = get_vec(in);
    s->goal = get_vec(in);
    for (size_t i = 0; i < sizeof metres / sizeof *metres; i++)
        *metres[i] = get_real(in, -BUS_MAX_REAL, BUS_MAX_REAL);
}

static void put_state(struct bytes_out *out, const struct scene *s)
{
    int flags = (s->rig_fresh ? RIG_FRESH : 0) | (s->rig_fault ? RIG_FAULT : 0) | (s->rig_at_rest ? RIG_AT_REST : 0) |
                (s->goal_set ? GOAL_SET : 0);
    bytes_put(out, (uint64_t)flags, 1);
    bytes_put(out, s->stop_state, 1);
    bytes_put(out, s->stop_reason, 1);
    bytes_put(out, s->lane, 1);
    bytes_put(out, s->reasons, 8);
    bytes_put(out, (uint64_t)(s->keepout + 1), 1);
}

static void get_state(struct bytes_in *in, struct scene *s)
{
    uint8_t flags = bytes_get_u8(in);
    in->ok = in->ok && flags <= FLAGS_ALL;
    s->rig_fresh = flags & RIG_FRESH;
    s->rig_fault = flags & RIG_FAULT;
    s->rig_at_rest = flags & RIG_AT_REST;
    s->goal_set = flags & GOAL_SET;
    s->stop_state = (enum stop_state)bytes_get_u8(in);
    s->stop_reason = (enum reason)bytes_get_u8(in);
    s->lane = (enum lane)bytes_get_u8(in);
    s->reasons = bytes_get(in, 8);
    s->keepout = bytes_get_u8(in) - 1;
}

static void put_crowd(struct bytes_out *out, const struct scene *s)
{
    bytes_put(out, s->mode, 1);
    bytes_put(out, s->poll_phase, 1);
    bytes_put(out, s->last_outcome, 1);
    bytes_put(out, s->round, 4);
    bytes_put(out, s->round_left_ms, 4);
    bytes_put(out, s->last_voices, 4);
    bytes_put(out, s->needed, 4);
    put_real(out, s->audience_scale, 0, 1);
    for (int i = 0; i < 3; i++)
        put_real(out, s->blend[i], -1, 1);
    put_counts(out, &s->crowd);
    bytes_put(out, s->edges, 4);
}

static void get_crowd(struct bytes_in *in, struct scene *s)
{
    s->mode = (enum crowd_mode)bytes_get_u8(in);
    s->poll_phase = (enum poll_phase)bytes_get_u8(in);
    s->last_outcome = (enum choice)bytes_get_u8(in);
    s->round = bytes_get_u32(in);
    s->round_left_ms = bytes_get_u32(in);
    s->last_voices = bytes_get_u32(in);
    s->needed = bytes_get_u32(in);
    s->audience_scale = get_real(in, 0, 1);
    for (int i = 0; i < 3; i++)
        s->blend[i] = get_real(in, -1, 1);
    get_counts(in, &s->crowd);
    s->edges = bytes_get_u32(in);
}

/* The enums and sets; numbers are checked as they are read. */
static bool scene_valid(const struct scene *s)
{
    reason_set known = (((reason_set)1 << REASON_COUNT) - 1) & ~(reason_set)1;
    _Static_assert(REASON_COUNT < 64, "a reason set has one bit a reason");
    return (unsigned)s->stop_state < STOP_STATE_COUNT && (unsigned)s->stop_reason < REASON_COUNT &&
           (unsigned)s->lane < LANE_COUNT && (unsigned)s->mode < CROWD_MODE_COUNT &&
           (unsigned)s->poll_phase <= POLL_GRACE && (unsigned)s->last_outcome < CHOICE_COUNT &&
           (s->reasons & ~known) == 0 && s->keepout >= -1 && s->keepout < VOLUME_MAX_KEEPOUTS;
}

size_t frames_encode_scene(const struct scene *s, uint8_t *buf, size_t size)
{
    struct bytes_out out = begin(buf, size, BUS_SCENE);
    bytes_put(&out, s->seq, 8);
    bytes_put(&out, s->now_ns, 8);
    put_motion(&out, s);
    put_state(&out, s);
    put_crowd(&out, s);
    return out.ok && scene_valid(s) ? (size_t)(out.at - buf) : 0;
}

bool frames_decode_scene(const uint8_t *buf, size_t len, struct scene *s)
{
    struct scene got = {0};
    struct bytes_in in = open_frame(buf, len, BUS_SCENE);
    got.seq = bytes_get(&in, 8);
    got.now_ns = bytes_get(&in, 8);
    get_motion(&in, &got);
    get_state(&in, &got);
    get_crowd(&in, &got);
    if (!bytes_done(&in) || !scene_valid(&got))
        return false;
    *s = got;
    return true;
}
