/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* put_x and get_x of the same part of a scene stand next to each other; change both together, and BUS_VERSION. */
#include "gateway/bus/frames_scene.h"

enum { /* flags of a scene */
       RIG_FRESH = 1 << 0,
       RIG_FAULT = 1 << 1,
       RIG_AT_REST = 1 << 2,
       GOAL_SET = 1 << 3,
       YAW_KNOWN = 1 << 4,
       HEAD_KNOWN = 1 << 5,
       SUBJECT_KNOWN = 1 << 6,
       RIG_POWERED = 1 << 7, /* with this one every bit is used */
};

void frames_scene_put_counts(struct bytes_out *out, const struct tally *tally)
{
    bytes_put(out, tally->viewers, 4);
    for (int c = 0; c < CHOICE_COUNT; c++)
        bytes_put(out, tally->votes[c], 4);
    bytes_put(out, tally->sticks, 4);
}

void frames_scene_get_counts(struct bytes_in *in, struct tally *tally)
{
    tally->viewers = bytes_get_u32(in);
    for (int c = 0; c < CHOICE_COUNT; c++)
        tally->votes[c] = bytes_get_u32(in);
    tally->sticks = bytes_get_u32(in);
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
    const double metres[] = {s->swing_rad, s->uncertainty_m, s->margin_m, s->braking_m};
    put_vec(out, s->position);
    put_vec(out, s->velocity);
    put_vec(out, s->wanted);
    put_vec(out, s->goal);
    for (size_t i = 0; i < sizeof metres / sizeof *metres; i++)
        put_real(out, metres[i], -BUS_MAX_REAL, BUS_MAX_REAL);
}

static void get_motion(struct bytes_in *in, struct scene *s)
{
    double *const metres[] = {&s->swing_rad, &s->uncertainty_m, &s->margin_m, &s->braking_m};
    s->position = get_vec(in);
    s->velocity = get_vec(in);
    s->wanted = get_vec(in);
    s->goal = get_vec(in);
    for (size_t i = 0; i < sizeof metres / sizeof *metres; i++)
        *metres[i] = get_real(in, -BUS_MAX_REAL, BUS_MAX_REAL);
}

static int flags_of(const struct scene *s)
{
    return (s->rig_fresh ? RIG_FRESH : 0) | (s->rig_fault ? RIG_FAULT : 0) | (s->rig_at_rest ? RIG_AT_REST : 0) |
           (s->goal_set ? GOAL_SET : 0) | (s->yaw_known ? YAW_KNOWN : 0) | (s->head_known ? HEAD_KNOWN : 0) |
           (s->subject_known ? SUBJECT_KNOWN : 0) | (s->rig_powered ? RIG_POWERED : 0);
}

static void put_state(struct bytes_out *out, const struct scene *s)
{
    bytes_put(out, (uint64_t)flags_of(s), 1);
    bytes_put(out, s->stop_state, 1);
    bytes_put(out, s->stop_category, 1);
    bytes_put(out, s->stop_reason, 1);
    bytes_put(out, s->lane, 1);
    bytes_put(out, s->reasons, 8);
}

static void get_state(struct bytes_in *in, struct scene *s)
{
    uint8_t flags = bytes_get_u8(in);
    s->rig_fresh = flags & RIG_FRESH;
    s->rig_fault = flags & RIG_FAULT;
    s->rig_at_rest = flags & RIG_AT_REST;
    s->goal_set = flags & GOAL_SET;
    s->yaw_known = flags & YAW_KNOWN;
    s->head_known = flags & HEAD_KNOWN;
    s->subject_known = flags & SUBJECT_KNOWN;
    s->rig_powered = flags & RIG_POWERED;
    s->stop_state = (enum stop_state)bytes_get_u8(in);
    s->stop_category = (enum stop_category)bytes_get_u8(in);
    s->stop_reason = (enum reason)bytes_get_u8(in);
    s->lane = (enum lane)bytes_get_u8(in);
    s->reasons = bytes_get(in, 8);
}

/* An index of something, or -1 for nothing, as one byte. */
static void put_index(struct bytes_out *out, int index)
{
    bytes_put(out, (uint64_t)(index + 1), 1);
}

static int get_index(struct bytes_in *in)
{
    return bytes_get_u8(in) - 1;
}

static bool has_detail(const struct scene *s, int r)
{
    return ((s->reasons | reason_bit(s->stop_reason)) >> r & 1) != 0;
}

/* Of each reason that is there, in their order. */
static void put_details(struct bytes_out *out, const struct scene *s)
{
    for (int r = REASON_NONE + 1; r < REASON_COUNT; r++) {
        if (!has_detail(s, r))
            continue;
        put_real(out, s->detail[r].value, -BUS_MAX_REAL, BUS_MAX_REAL);
        put_real(out, s->detail[r].limit, -BUS_MAX_REAL, BUS_MAX_REAL);
        put_index(out, reason_index((enum reason)r) == REASON_INDEX_NONE ? -1 : s->detail[r].index);
    }
}

static void get_details(struct bytes_in *in, struct scene *s)
{
    for (int r = REASON_NONE + 1; r < REASON_COUNT && in->ok; r++) {
        if (!has_detail(s, r))
            continue;
        s->detail[r].value = get_real(in, -BUS_MAX_REAL, BUS_MAX_REAL);
        s->detail[r].limit = get_real(in, -BUS_MAX_REAL, BUS_MAX_REAL);
        s->detail[r].index = get_index(in);
    }
}

static void put_place(struct bytes_out *out, const struct scene *s)
{
    bytes_put(out, s->limits_mode, 1);
    put_real(out, s->floor_m, -BUS_MAX_REAL, BUS_MAX_REAL);
    put_real(out, s->ceiling_m, -BUS_MAX_REAL, BUS_MAX_REAL);
    put_real(out, s->speed_mps, 0, BUS_MAX_REAL);
    put_real(out, s->nearest.distance_m, -BUS_MAX_REAL, BUS_MAX_REAL);
    bytes_put(out, s->nearest.part, 1);
    put_index(out, s->nearest.part == VOLUME_CORD ? s->nearest.cord : -1);
    bytes_put(out, s->nearest.bound, 1);
    put_index(out, s->nearest.bound == VOLUME_KEEPOUT ? s->nearest.keepout : -1);
}

static void get_place(struct bytes_in *in, struct scene *s)
{
    s->limits_mode = (enum limits_mode)bytes_get_u8(in);
    s->floor_m = get_real(in, -BUS_MAX_REAL, BUS_MAX_REAL);
    s->ceiling_m = get_real(in, -BUS_MAX_REAL, BUS_MAX_REAL);
    s->speed_mps = get_real(in, 0, BUS_MAX_REAL);
    s->nearest.distance_m = get_real(in, -BUS_MAX_REAL, BUS_MAX_REAL);
    s->nearest.part = (enum volume_part)bytes_get_u8(in);
    s->nearest.cord = get_index(in);
    s->nearest.bound = (enum volume_bound)bytes_get_u8(in);
    s->nearest.keepout = get_index(in);
}

static void put_machine(struct bytes_out *out, const struct scene *s)
{
    bytes_put(out, (uint64_t)s->cords, 1);
    for (int i = 0; i < s->cords && i < VOLUME_MAX_CORDS; i++)
        put_real(out, s->tension_n[i], -BUS_MAX_REAL, BUS_MAX_REAL);
    put_real(out, s->tension_margin_n, -BUS_MAX_REAL, BUS_MAX_REAL);
    put_index(out, s->tension_cord);
    put_real(out, s->yaw_known ? s->yaw_rad : 0, -BUS_MAX_REAL, BUS_MAX_REAL);
    for (int i = 0; i < HEAD_AXES; i++)
        put_real(out, s->head_known ? s->head[i] : 0, -BUS_MAX_REAL, BUS_MAX_REAL);
    put_vec(out, s->subject_known ? s->subject : (struct vec3){0, 0, 0});
    put_real(out, s->subject_known ? s->subject_age_s : 0, 0, BUS_MAX_REAL);
}

static void get_machine(struct bytes_in *in, struct scene *s)
{
    s->cords = bytes_get_u8(in);
    in->ok = in->ok && s->cords <= VOLUME_MAX_CORDS;
    for (int i = 0; in->ok && i < s->cords; i++)
        s->tension_n[i] = get_real(in, -BUS_MAX_REAL, BUS_MAX_REAL);
    s->tension_margin_n = get_real(in, -BUS_MAX_REAL, BUS_MAX_REAL);
    s->tension_cord = get_index(in);
    s->yaw_rad = get_real(in, -BUS_MAX_REAL, BUS_MAX_REAL);
    for (int i = 0; i < HEAD_AXES; i++)
        s->head[i] = get_real(in, -BUS_MAX_REAL, BUS_MAX_REAL);
    s->subject = get_vec(in);
    s->subject_age_s = get_real(in, 0, BUS_MAX_REAL);
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
    frames_scene_put_counts(out, &s->crowd);
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
    frames_scene_get_counts(in, &s->crowd);
    s->edges = bytes_get_u32(in);
}

/* May this index stand with this reason? */
static bool index_fits(enum reason r, int index)
{
    static const int count[] = {
        [REASON_INDEX_CORD] = VOLUME_MAX_CORDS, [REASON_INDEX_KEEPOUT] = VOLUME_MAX_KEEPOUTS,
        [REASON_INDEX_ZONE] = POLICY_MAX_ZONES, [REASON_INDEX_VIEW] = VIEW_MAX_SHAPES,
        [REASON_INDEX_AXIS] = HEAD_AXES,        [REASON_INDEX_SOURCE] = LOCATE_SOURCES + 1,
    };
    return reason_index(r) == REASON_INDEX_NONE || (index >= -1 && index < count[reason_index(r)]);
}

static bool details_valid(const struct scene *s)
{
    for (int r = REASON_NONE + 1; r < REASON_COUNT; r++)
        if (has_detail(s, r) && !index_fits((enum reason)r, s->detail[r].index))
            return false;
    return true;
}

static bool nearest_valid(const struct volume_clearance *c)
{
    return (unsigned)c->part <= VOLUME_TETHER && (unsigned)c->bound <= VOLUME_TETHER_END &&
           (c->part != VOLUME_CORD || (c->cord >= 0 && c->cord < VOLUME_MAX_CORDS)) &&
           (c->bound != VOLUME_KEEPOUT || (c->keepout >= 0 && c->keepout < VOLUME_MAX_KEEPOUTS));
}

/* The enums, sets and indexes; numbers are checked as they are read. */
bool frames_scene_valid(const struct scene *s)
{
    reason_set known = (((reason_set)1 << REASON_COUNT) - 1) & ~(reason_set)1;
    _Static_assert(REASON_COUNT < 64, "a reason set has one bit a reason");
    return (unsigned)s->stop_state < STOP_STATE_COUNT && (unsigned)s->stop_category <= STOP_CATEGORY_2 &&
           (unsigned)s->stop_reason < REASON_COUNT && (unsigned)s->lane < LANE_COUNT &&
           (unsigned)s->mode < CROWD_MODE_COUNT && (unsigned)s->poll_phase <= POLL_GRACE &&
           (unsigned)s->last_outcome < CHOICE_COUNT && (s->reasons & ~known) == 0 &&
           (unsigned)s->limits_mode < LIMITS_MODES && s->cords >= 0 && s->cords <= VOLUME_MAX_CORDS &&
           s->tension_cord >= -1 && s->tension_cord < VOLUME_MAX_CORDS && nearest_valid(&s->nearest) &&
           details_valid(s);
}

void frames_scene_put(struct bytes_out *out, const struct scene *s)
{
    bytes_put(out, s->seq, 8);
    bytes_put(out, s->now_ns, 8);
    put_motion(out, s);
    put_state(out, s);
    put_details(out, s);
    put_place(out, s);
    put_machine(out, s);
    put_crowd(out, s);
}

void frames_scene_get(struct bytes_in *in, struct scene *s)
{
    s->seq = bytes_get(in, 8);
    s->now_ns = bytes_get(in, 8);
    get_motion(in, s);
    get_state(in, s);
    if (in->ok && (unsigned)s->stop_reason < REASON_COUNT)
        get_details(in, s);
    get_place(in, s);
    get_machine(in, s);
    get_crowd(in, s);
}
