/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Random frames of every shape that is allowed, and numbers of every shape that is not. */
#ifndef STEADYHAND_TESTS_SAMPLES_H
#define STEADYHAND_TESTS_SAMPLES_H

#include <math.h>

#include "gateway/bus/frames.h"
#include "tests/unit/crowd/viewers.h"

static inline struct snapshot sample_snapshot(struct random *r, uint32_t most_viewers)
{
    struct snapshot s = {.seq = random_u64(r) >> 1, .round = (uint32_t)random_u64(r)};
    for (uint32_t i = random_below(r, most_viewers + 1); i > 0; i--) {
        struct viewer v = viewer_random(r);
        viewer_speaks(&v, &s.tally);
    }
    s.counts = (struct edge_counts){random_u64(r), random_u64(r), random_u64(r) >> 9, random_below(r, 99), 0};
    return s;
}

static inline struct vec3 sample_vec(struct random *r)
{
    return (struct vec3){random_between(r, -9, 9), random_between(r, -0.01, 0.01), random_between(r, -1e6, 1e6)};
}

static inline void sample_motion(struct random *r, struct scene *s)
{
    s->position = sample_vec(r);
    s->velocity = sample_vec(r);
    s->wanted = sample_vec(r);
    s->goal_set = random_below(r, 2);
    s->goal = sample_vec(r);
    s->swing_rad = random_between(r, 0, 0.5);
    s->uncertainty_m = random_between(r, 0, 0.1);
    s->margin_m = random_between(r, 0, 1);
    s->braking_m = random_between(r, 0, 1);
}

static inline void sample_state(struct random *r, struct scene *s)
{
    s->rig_fresh = random_below(r, 2);
    s->rig_fault = random_below(r, 2);
    s->rig_powered = random_below(r, 2);
    s->rig_at_rest = random_below(r, 2);
    s->stop_state = (enum stop_state)random_below(r, STOP_STATE_COUNT);
    s->stop_category = (enum stop_category)random_below(r, 3);
    s->stop_reason = (enum reason)random_below(r, REASON_COUNT);
    s->lane = (enum lane)random_below(r, LANE_COUNT);
    s->reasons = random_u64(r) & random_u64(r) & (((reason_set)1 << REASON_COUNT) - 2);
    s->limits_mode = (enum limits_mode)random_below(r, LIMITS_MODES);
    s->floor_m = random_between(r, -1, 1);
    s->ceiling_m = random_between(r, 1, 4);
    s->speed_mps = random_between(r, 0, 1);
}

/* An index that may stand with the reason, or -1. */
static inline int sample_index(struct random *r, enum reason reason)
{
    static const uint32_t most[] = {
        0, VOLUME_MAX_CORDS, VOLUME_MAX_KEEPOUTS, POLICY_MAX_ZONES, VIEW_MAX_SHAPES, HEAD_AXES, LOCATE_SOURCES + 1};
    return (int)random_below(r, most[reason_index(reason)] + 1) - 1;
}

/* Of the reasons that apply; the rest stay zero, as they do on the way over the bus. */
static inline void sample_details(struct random *r, struct scene *s)
{
    for (int i = 1; i < REASON_COUNT; i++) {
        if (!((s->reasons | reason_bit(s->stop_reason)) >> i & 1))
            continue;
        s->detail[i].value = random_between(r, -2, 100);
        s->detail[i].limit = random_between(r, -2, 100);
        s->detail[i].index = sample_index(r, (enum reason)i);
    }
}

static inline void sample_machine(struct random *r, struct scene *s)
{
    s->nearest.part = (enum volume_part)random_below(r, VOLUME_TETHER + 1);
    s->nearest.bound = (enum volume_bound)random_below(r, VOLUME_TETHER_END + 1);
    s->nearest.distance_m = random_between(r, -1, 3);
    s->nearest.cord = s->nearest.part == VOLUME_CORD ? (int)random_below(r, VOLUME_MAX_CORDS) : -1;
    s->nearest.keepout = s->nearest.bound == VOLUME_KEEPOUT ? (int)random_below(r, VOLUME_MAX_KEEPOUTS) : -1;
    s->cords = (int)random_below(r, VOLUME_MAX_CORDS + 1);
    for (int i = 0; i < s->cords; i++)
        s->tension_n[i] = random_between(r, 0, 80);
    s->tension_margin_n = random_between(r, -5, 40);
    s->tension_cord = (int)random_below(r, VOLUME_MAX_CORDS + 1) - 1;
    s->yaw_known = random_below(r, 2);
    s->yaw_rad = s->yaw_known ? random_between(r, -3, 3) : 0;
    s->head_known = random_below(r, 2);
    for (int i = 0; i < HEAD_AXES && s->head_known; i++)
        s->head[i] = random_between(r, -3, 3);
    s->subject_known = random_below(r, 2);
    if (s->subject_known) {
        s->subject = sample_vec(r);
        s->subject_age_s = random_between(r, 0, 5);
    }
}

static inline void sample_crowd(struct random *r, struct scene *s)
{
    struct snapshot from = sample_snapshot(r, 60);
    s->mode = (enum crowd_mode)random_below(r, CROWD_MODE_COUNT);
    s->audience_scale = random_between(r, 0, 1);
    s->poll_phase = (enum poll_phase)random_below(r, POLL_GRACE + 1);
    s->round = (uint32_t)random_u64(r);
    s->round_left_ms = random_below(r, 60000);
    s->last_outcome = (enum choice)random_below(r, CHOICE_COUNT);
    s->last_voices = (uint32_t)random_u64(r);
    s->needed = (uint32_t)random_u64(r);
    for (int a = 0; a < 3; a++)
        s->blend[a] = random_between(r, -1, 1);
    s->crowd.viewers = from.tally.viewers;
    s->crowd.sticks = from.tally.sticks;
    for (int c = 0; c < CHOICE_COUNT; c++)
        s->crowd.votes[c] = from.tally.votes[c];
    s->edges = random_below(r, 65);
}

static inline struct scene sample_scene(struct random *r)
{
    struct scene s = {.seq = random_u64(r) >> 20, .now_ns = random_u64(r)};
    sample_motion(r, &s);
    sample_state(r, &s);
    sample_details(r, &s);
    sample_machine(r, &s);
    sample_crowd(r, &s);
    return s;
}

/* Every number of a scene that could go bad, one after another; NULL after the last. */
static inline double *sample_real(struct scene *s, size_t i)
{
    double *const real[] = {
        &s->position.x, &s->position.y,     &s->position.z, &s->velocity.x,         &s->velocity.y,
        &s->velocity.z, &s->wanted.x,       &s->wanted.y,   &s->wanted.z,           &s->goal.x,
        &s->goal.y,     &s->goal.z,         &s->swing_rad,  &s->uncertainty_m,      &s->margin_m,
        &s->braking_m,  &s->audience_scale, &s->blend[0],   &s->blend[1],           &s->blend[2],
        &s->floor_m,    &s->ceiling_m,      &s->speed_mps,  &s->nearest.distance_m, &s->tension_margin_n,
    };
    return i < sizeof real / sizeof *real ? real[i] : NULL;
}

static const double sample_odd[] = {NAN, INFINITY, -INFINITY, 1e300, -1e300, 1.0000001e6, 5e-324, -0.0, 1e-9, -1e-9};
enum { SAMPLE_ODD = sizeof sample_odd / sizeof *sample_odd };

#endif
