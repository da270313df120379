/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/bus/scene_json.h"

#include "gateway/bus/json_text.h"

#define DEG_PER_RAD 57.295779513082321

/* A page keeps numbers as IEEE 754 doubles: whole ones are exact up to here (RFC 7493, 2.2). */
#define EXACT_MAX ((1ULL << 53) - 1)

static const char *const state_name[STOP_STATE_COUNT] = {"stopped", "ready", "running"};
static const char *const lane_name[LANE_COUNT] = {"idle", "audience", "operator"};
static const char *const phase_name[] = {"off", "open", "grace"};

static void word(struct json_text *t, const char *key, const char *const *names, unsigned count, unsigned i)
{
    json_text_raw(t, key);
    json_text_string(t, i < count ? names[i] : NULL, SHOW_NAME);
}

static void whole(struct json_text *t, const char *key, uint64_t value)
{
    json_text_raw(t, key);
    json_text_unsigned(t, value < EXACT_MAX ? value : EXACT_MAX);
}

static void real(struct json_text *t, const char *key, double value, int decimals)
{
    double bounded = value > BUS_MAX_REAL ? BUS_MAX_REAL : value < -BUS_MAX_REAL ? -BUS_MAX_REAL : value;
    json_text_raw(t, key);
    json_text_real(t, bounded, decimals);
}

static void flag(struct json_text *t, const char *key, bool value)
{
    json_text_raw(t, key);
    json_text_raw(t, value ? "true" : "false");
}

static void vec(struct json_text *t, const char *key, struct vec3 v)
{
    json_text_raw(t, key);
    real(t, "[", v.x, 4);
    real(t, ",", v.y, 4);
    real(t, ",", v.z, 4);
    json_text_raw(t, "]");
}

static void write_head(struct json_text *t, const struct scene *s)
{
    whole(t, "{\"type\":\"scene\",\"seq\":", s->seq);
    whole(t, ",\"t_ms\":", s->now_ns / 1000000);
    word(t, ",\"state\":", state_name, STOP_STATE_COUNT, s->stop_state);
    word(t, ",\"lane\":", lane_name, LANE_COUNT, s->lane);
    json_text_raw(t, ",\"mode\":");
    json_text_string(t, crowd_mode_name(s->mode), SHOW_NAME);
}

static void write_motion(struct json_text *t, const struct scene *s)
{
    vec(t, ",\"pos\":", s->position);
    vec(t, ",\"vel\":", s->velocity);
    vec(t, ",\"wanted\":", s->wanted);
    if (s->goal_set)
        vec(t, ",\"goal\":", s->goal);
    else
        json_text_raw(t, ",\"goal\":null");
    real(t, ",\"clearance_m\":", s->clearance_m, 4);
    real(t, ",\"margin_m\":", s->margin_m, 4);
    real(t, ",\"braking_m\":", s->braking_m, 4);
    real(t, ",\"swing_deg\":", s->swing_rad * DEG_PER_RAD, 2);
    real(t, ",\"uncertainty_m\":", s->uncertainty_m, 4);
    json_text_raw(t, !s->rig_fresh ? ",\"rig\":\"lost\"" : s->rig_fault ? ",\"rig\":\"fault\"" : ",\"rig\":\"ok\"");
    flag(t, ",\"at_rest\":", s->rig_at_rest);
}

/* The keep-out's name where the reason shown is about one. */
static const char *zone_name(const struct scene *s, const struct show *show, enum reason shown)
{
    bool about_one = shown == REASON_KEEPOUT || shown == REASON_OUT_OF_VOLUME;
    bool known = s->keepout >= 0 && s->keepout < show->policy.guard.volume.keepouts && s->keepout < VOLUME_MAX_KEEPOUTS;
    return about_one && known ? show->keepout_name[s->keepout] : NULL;
}

/* The desk is first told what limits the motion, and only then which lower lane is not heard: whoever drives knows. */
static enum reason reason_to_show(reason_set all, bool for_desk)
{
    reason_set unheard =
        reason_bit(REASON_OPERATOR_HAS_IT) | reason_bit(REASON_AUDIENCE_CLOSED) | reason_bit(REASON_CROWD_SILENT);
    return reason_first(for_desk && (all & ~unheard) ? all & ~unheard : all);
}

static void write_reasons(struct json_text *t, const struct scene *s, const struct show *show, bool for_desk)
{
    reason_set all = s->reasons | reason_bit(s->stop_reason);
    enum reason shown = reason_to_show(all, for_desk);
    const char *separator = ",\"reasons\":[";
    json_text_raw(t, ",\"reason\":{\"code\":");
    json_text_string(t, reason_code(shown), SHOW_RULES);
    json_text_raw(t, ",\"text\":");
    json_text_string(t, for_desk ? reason_for_desk(shown) : reason_for_viewers(shown), SHOW_RULES);
    json_text_raw(t, ",\"zone\":");
    json_text_string(t, zone_name(s, show, shown), SHOW_NAME);
    json_text_raw(t, "}");
    for (int r = REASON_NONE + 1; r < REASON_COUNT; r++) {
        if (!(all & reason_bit((enum reason)r)))
            continue;
        json_text_raw(t, separator);
        json_text_string(t, reason_code((enum reason)r), SHOW_RULES);
        separator = ",";
    }
    json_text_raw(t, all ? "]" : ",\"reasons\":[]");
}

static void write_round(struct json_text *t, const struct scene *s)
{
    whole(t, ",\"round\":{\"id\":", s->round);
    word(t, ",\"phase\":", phase_name, POLL_GRACE + 1, s->poll_phase);
    whole(t, ",\"left_ms\":", s->round_left_ms);
    for (int c = 0; c < CHOICE_COUNT; c++)
        whole(t, c == 0 ? ",\"votes\":[" : ",", s->crowd.votes[c]);
    whole(t, "],\"needed\":", s->needed);
    json_text_raw(t, ",\"last\":{\"choice\":");
    json_text_string(t, choice_name(s->last_outcome), SHOW_NAME);
    whole(t, ",\"voices\":", s->last_voices);
    json_text_raw(t, "}}");
}

static void write_crowd(struct json_text *t, const struct scene *s)
{
    whole(t, ",\"crowd\":{\"viewers\":", s->crowd.viewers);
    whole(t, ",\"sticks\":", s->crowd.sticks);
    whole(t, ",\"edges\":", s->edges);
    vec(t, ",\"blend\":", (struct vec3){s->blend[0], s->blend[1], s->blend[2]});
    json_text_raw(t, "}");
}

size_t scene_json(const struct scene *s, const struct show *show, bool for_desk, char *buf, size_t size)
{
    struct json_text t;
    json_text_begin(&t, buf, size);
    write_head(&t, s);
    write_motion(&t, s);
    write_reasons(&t, s, show, for_desk);
    real(&t, ",\"scale\":", s->audience_scale, 3);
    write_round(&t, s);
    write_crowd(&t, s);
    json_text_raw(&t, "}");
    return json_text_len(&t);
}
