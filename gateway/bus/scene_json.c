/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/bus/scene_json.h"

#include "gateway/bus/json_text.h"
#include "gateway/bus/reason_text.h"
#include "policy/motion/units.h"

/* A page keeps numbers as IEEE 754 doubles: whole ones are exact up to here (RFC 7493, 2.2). */
#define EXACT_MAX ((1ULL << 53) - 1)

static const char *const lane_name[LANE_COUNT] = {"idle", "audience", "operator"};
static const char *const part_name[] = {"body", "boom", "cord", "tether"};
static const char *const bound_name[] = {"stage", "floor", "ceiling", "keepout", "subject", "reach", "tether-end"};
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
    json_text_raw(t, ",\"state\":");
    json_text_string(t, stop_state_name(s->stop_state), SHOW_NAME);
    if (s->stop_state == STOP_LATCHED)
        whole(t, ",\"category\":", (uint64_t)s->stop_category);
    else
        json_text_raw(t, ",\"category\":null");
    flag(t, ",\"unconfirmed\":", (s->reasons & reason_bit(REASON_STOP_UNCONFIRMED)) != 0);
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
    real(t, ",\"clearance_m\":", s->nearest.distance_m, 4);
    real(t, ",\"margin_m\":", s->margin_m, 4);
    real(t, ",\"braking_m\":", s->braking_m, 4);
    real(t, ",\"swing_deg\":", s->swing_rad * UNITS_DEG_PER_RAD, 2);
    real(t, ",\"uncertainty_m\":", s->uncertainty_m, 4);
    json_text_raw(t, !s->rig_fresh ? ",\"rig\":\"lost\"" : s->rig_fault ? ",\"rig\":\"fault\"" : ",\"rig\":\"ok\"");
    flag(t, ",\"at_rest\":", s->rig_at_rest);
    flag(t, ",\"powered\":", s->rig_powered);
}

/* The desk is first told what limits the motion, and only then which lower lane is not heard: whoever drives knows. */
static enum reason reason_to_show(reason_set all, bool for_desk)
{
    reason_set unheard =
        reason_bit(REASON_OPERATOR_HAS_IT) | reason_bit(REASON_AUDIENCE_CLOSED) | reason_bit(REASON_CROWD_SILENT);
    return reason_first(for_desk && (all & ~unheard) ? all & ~unheard : all);
}

/* What it measured and what was allowed, where that is a number: so that pages need not read sentences. */
static void write_numbers(struct json_text *t, const struct scene *s, enum reason shown)
{
    const struct reason_detail *d = &s->detail[shown];
    const char *unit = reason_unit(shown);
    if (!*unit || (d->value == 0 && d->limit == 0))
        return;
    real(t, ",\"value\":", d->value, 3);
    real(t, ",\"limit\":", d->limit, 3);
    json_text_raw(t, ",\"unit\":");
    json_text_string(t, unit, SHOW_NAME);
}

static void write_reasons(struct json_text *t, const struct scene *s, const struct show *show, bool for_desk)
{
    reason_set all = s->reasons | reason_bit(s->stop_reason);
    enum reason shown = reason_to_show(all, for_desk);
    const char *separator = ",\"reasons\":[";
    char text[REASON_TEXT_MAX];
    if (for_desk)
        reason_text_desk(shown, s, show, text);
    json_text_raw(t, ",\"reason\":{\"code\":");
    json_text_string(t, reason_code(shown), SHOW_RULES);
    json_text_raw(t, ",\"text\":");
    json_text_string(t, for_desk ? text : reason_for_viewers(shown), SHOW_RULES);
    json_text_raw(t, ",\"zone\":");
    json_text_string(t, reason_text_zone(shown, s, show), SHOW_NAME);
    write_numbers(t, s, shown);
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

/* The stage's own heights, drawn in by those of the mode. */
static void write_limits(struct json_text *t, const struct scene *s, const struct show *show)
{
    const struct volume *volume = &show->policy.guard.volume;
    struct shape_box stage = shape_prism_box(volume->stage, volume->stages);
    json_text_raw(t, ",\"limits\":{\"mode\":");
    json_text_string(t, limits_mode_name(s->limits_mode), SHOW_NAME);
    real(t, ",\"floor_m\":", greater(s->floor_m, stage.lo.z), 4);
    real(t, ",\"ceiling_m\":", lesser(s->ceiling_m, stage.hi.z), 4);
    real(t, ",\"speed_mps\":", s->speed_mps, 4);
    json_text_raw(t, "}");
}

/* Between which two things clearance_m is. Cords count from 1, as people do. */
static void write_nearest(struct json_text *t, const struct scene *s, const struct show *show)
{
    const struct volume_clearance *c = &s->nearest;
    bool zone = c->bound == VOLUME_KEEPOUT && c->keepout >= 0 && c->keepout < show->policy.guard.volume.keepouts &&
                c->keepout < VOLUME_MAX_KEEPOUTS;
    word(t, ",\"nearest\":{\"part\":", part_name, VOLUME_TETHER + 1, c->part);
    if (c->part == VOLUME_CORD)
        whole(t, ",\"cord\":", (uint64_t)c->cord + 1);
    word(t, ",\"bound\":", bound_name, VOLUME_TETHER_END + 1, c->bound);
    json_text_raw(t, ",\"zone\":");
    json_text_string(t, zone ? show->keepout_name[c->keepout] : NULL, SHOW_NAME);
    json_text_raw(t, "}");
}

static void write_cords(struct json_text *t, const struct scene *s)
{
    json_text_raw(t, ",\"cords\":");
    if (s->cords == 0) {
        json_text_raw(t, "null");
        return;
    }
    for (int i = 0; i < s->cords && i < VOLUME_MAX_CORDS; i++)
        real(t, i == 0 ? "{\"tension_n\":[" : ",", s->tension_n[i], 2);
    real(t, "],\"margin_n\":", s->tension_margin_n, 2);
    whole(t, ",\"least\":", (uint64_t)(s->tension_cord + 1));
    json_text_raw(t, "}");
}

static void write_head_axes(struct json_text *t, const struct scene *s)
{
    if (!s->head_known) {
        json_text_raw(t, ",\"head\":null");
        return;
    }
    real(t, ",\"head\":{\"pan_deg\":", s->head[HEAD_PAN] * UNITS_DEG_PER_RAD, 2);
    real(t, ",\"tilt_deg\":", s->head[HEAD_TILT] * UNITS_DEG_PER_RAD, 2);
    real(t, ",\"roll_deg\":", s->head[HEAD_ROLL] * UNITS_DEG_PER_RAD, 2);
    real(t, ",\"zoom\":", s->head[HEAD_ZOOM], 3);
    json_text_raw(t, "}");
}

static void write_machine(struct json_text *t, const struct scene *s)
{
    write_cords(t, s);
    write_head_axes(t, s);
    if (s->yaw_known)
        real(t, ",\"yaw_deg\":", s->yaw_rad * UNITS_DEG_PER_RAD, 2);
    else
        json_text_raw(t, ",\"yaw_deg\":null");
    if (s->subject_known) {
        vec(t, ",\"subject\":{\"at\":", s->subject);
        real(t, ",\"age_s\":", s->subject_age_s, 2);
        json_text_raw(t, "}");
    } else {
        json_text_raw(t, ",\"subject\":null");
    }
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
    write_limits(&t, s, show);
    write_nearest(&t, s, show);
    write_machine(&t, s);
    write_reasons(&t, s, show, for_desk);
    real(&t, ",\"scale\":", s->audience_scale, 3);
    write_round(&t, s);
    write_crowd(&t, s);
    json_text_raw(&t, "}");
    return json_text_len(&t);
}
