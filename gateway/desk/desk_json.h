/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* What core says to the desks (subprotocol steadyhand.desk.1), written into a caller's buffer. Each returns the length,
 * 0 if it does not fit. No allocation. */
#ifndef STEADYHAND_DESK_DESK_JSON_H
#define STEADYHAND_DESK_DESK_JSON_H

#include "gateway/bus/scene_json.h"
#include "gateway/desk/desk_state.h"

enum { DESK_JSON_SMALL = 512, DESK_JSON_SCENE = SCENE_JSON_MAX + 2560, DESK_JSON_STEPS = 10 };

/* What the desk sees beyond the viewers' scene. */
struct desk_view {
    bool session; /* with the rig */
    uint64_t sent, telemetry, refused;
    uint64_t ticks, skipped;
    uint32_t late_p50_us, late_p99_us, late_p999_us, late_max_us;
    uint64_t late_steps[DESK_JSON_STEPS]; /* ticks by how late they began; the steps are in web/asyncapi.json */
    uint64_t page_faults;                 /* of the tick thread, since everything was in memory */
    bool real_time, locked;               /* priority, memory: granted by the system */
    struct edge_counts counts;
    uint64_t clamped[REASON_COUNT]; /* ticks in which each reason applied */
    uint64_t rounds;
    uint64_t stop_count;
    bool stop_confirmed;
    double lane_mps[LANE_COUNT]; /* each lane's, in this mode and session */
    bool setup;
};

size_t desk_json_welcome(const struct desk_member *member, char *buf, size_t size);
size_t desk_json_beat(uint64_t n, char *buf, size_t size);
size_t desk_json_stopped(uint64_t count, char *buf, size_t size);

/* `of` is a message's name; code and text are ours. */
size_t desk_json_refused(const char *of, const char *code, const char *text, char *buf, size_t size);

size_t desk_json_scene(const struct scene *scene, const struct show *show, const struct desk_view *view,
                       const struct desk_state *state, bool you_hold, char *buf, size_t size);

#endif
