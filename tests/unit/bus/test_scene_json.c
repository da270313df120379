/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include <criterion/criterion.h>
#include <jansson.h>
#include <limits.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "gateway/bus/json_text.h"
#include "gateway/bus/reason_text.h"
#include "gateway/bus/scene_json.h"
#include "tests/unit/bus/samples.h"

static struct show show;

static void begin(void)
{
    show.policy.guard.volume.stages = 1;
    show.policy.guard.volume.stage[0].z_lo = 0.5;
    show.policy.guard.volume.stage[0].z_hi = 3;
    show.policy.zones = show.policy.view.shapes = 1;
    snprintf(show.slow_name[0], SHOW_NAME, "%s", "station");
    snprintf(show.view_name[0], SHOW_NAME, "%s", "window");
    show.cords.rig.cords = 4;
    for (int i = 0; i < 4; i++) {
        show.cords.rig.min_n[i] = 4;
        show.cords.rig.max_n[i] = 80;
    }
    show.policy.guard.volume.keepouts = 3;
    snprintf(show.keepout_name[0], SHOW_NAME, "%s", "signal box");
    snprintf(show.keepout_name[1], SHOW_NAME, "%s", "the \"old\" \\ Stellwerk – 東");
    snprintf(show.keepout_name[2], SHOW_NAME, "%s", "tab\there");
}

TestSuite(scene_json, .init = begin);

static json_t *written(const struct scene *s, bool for_desk)
{
    static char buf[SCENE_JSON_MAX];
    json_error_t error;
    size_t len = scene_json(s, &show, for_desk, buf, sizeof buf);
    cr_assert_gt(len, 0);
    cr_assert_eq(buf[len - 1], '}');
    json_t *root = json_loadb(buf, len, JSON_REJECT_DUPLICATES, &error);
    cr_assert(root, "%s in %.*s", error.text, (int)len, buf);
    return root;
}

static void same_real(const char *what, double got, double expected, double step)
{
    double bounded = isnan(expected) ? 0 : fmin(fmax(expected, -BUS_MAX_REAL), BUS_MAX_REAL);
    cr_assert_leq(fabs(got - bounded), 0.5001 * step, "%s: %.17g for %.17g", what, got, expected);
}

static void same_vec(const char *what, const json_t *got, struct vec3 expected)
{
    cr_assert_eq(json_array_size(got), 3, "%s", what);
    same_real(what, json_number_value(json_array_get(got, 0)), expected.x, 1e-4);
    same_real(what, json_number_value(json_array_get(got, 1)), expected.y, 1e-4);
    same_real(what, json_number_value(json_array_get(got, 2)), expected.z, 1e-4);
}

static void check_head(json_t *root, const struct scene *s)
{
    static const char *const states[] = {"parked", "stopped", "armed", "running", "holding"},
                             *const lanes[] = {"idle", "audience", "operator"},
                             *const modes[] = {"closed", "poll", "blend"};
    const char *type, *state, *lane, *mode;
    json_int_t seq, t_ms;
    cr_assert_eq(json_unpack(root, "{s:s,s:I,s:I,s:s,s:s,s:s}", "type", &type, "seq", &seq, "t_ms", &t_ms, "state",
                             &state, "lane", &lane, "mode", &mode),
                 0);
    cr_assert_str_eq(type, "scene");
    cr_assert_eq((uint64_t)seq, s->seq);
    cr_assert_eq((uint64_t)t_ms, s->now_ns / 1000000);
    cr_assert_str_eq(state, states[s->stop_state]);
    json_t *category = json_object_get(root, "category"), *unconfirmed = json_object_get(root, "unconfirmed");
    cr_assert(s->stop_state == STOP_LATCHED
                  ? json_integer_value(category) == (json_int_t)s->stop_category && json_is_integer(category)
                  : json_is_null(category));
    cr_assert(json_is_boolean(unconfirmed) &&
              json_is_true(unconfirmed) == ((s->reasons & reason_bit(REASON_STOP_UNCONFIRMED)) != 0));
    cr_assert_eq(json_is_true(json_object_get(root, "powered")), s->rig_powered);
    cr_assert_str_eq(lane, lanes[s->lane]);
    cr_assert_str_eq(mode, modes[s->mode]);
}

static void check_motion(json_t *root, const struct scene *s)
{
    json_t *pos, *vel, *wanted, *goal;
    double clearance, margin, braking, swing, uncertainty, scale;
    const char *rig;
    int at_rest;
    cr_assert_eq(json_unpack(root, "{s:o,s:o,s:o,s:o,s:F,s:F,s:F,s:F,s:F,s:F,s:s,s:b}", "pos", &pos, "vel", &vel,
                             "wanted", &wanted, "goal", &goal, "clearance_m", &clearance, "margin_m", &margin,
                             "braking_m", &braking, "swing_deg", &swing, "uncertainty_m", &uncertainty, "scale", &scale,
                             "rig", &rig, "at_rest", &at_rest),
                 0);
    same_vec("pos", pos, s->position);
    same_vec("vel", vel, s->velocity);
    same_vec("wanted", wanted, s->wanted);
    if (s->goal_set)
        same_vec("goal", goal, s->goal);
    else
        cr_assert(json_is_null(goal));
    same_real("clearance", clearance, s->nearest.distance_m, 1e-4);
    same_real("margin", margin, s->margin_m, 1e-4);
    same_real("braking", braking, s->braking_m, 1e-4);
    same_real("swing", swing, s->swing_rad * 180 / 3.14159265358979, 1e-2);
    same_real("uncertainty", uncertainty, s->uncertainty_m, 1e-4);
    same_real("scale", scale, s->audience_scale, 1e-3);
    cr_assert_str_eq(rig, !s->rig_fresh ? "lost" : s->rig_fault ? "fault" : "ok");
    cr_assert_eq((bool)at_rest, s->rig_at_rest);
}

static bool of_a_lower_lane(enum reason r)
{
    return r == REASON_OPERATOR_HAS_IT || r == REASON_AUDIENCE_CLOSED || r == REASON_CROWD_SILENT;
}

/* Numbers come with their unit, or not at all. */
static void check_numbers(const json_t *reason, enum reason r, const struct reason_detail *d)
{
    bool has = *reason_unit(r) && (d->value != 0 || d->limit != 0);
    cr_assert_eq(json_object_size(reason), has ? 6 : 3, "%s", reason_code(r));
    if (!has)
        return;
    cr_assert_str_eq(json_string_value(json_object_get(reason, "unit")), reason_unit(r));
    same_real("value", json_number_value(json_object_get(reason, "value")), d->value, 1e-3);
    same_real("limit", json_number_value(json_object_get(reason, "limit")), d->limit, 1e-3);
}

static void check_reasons(json_t *root, const struct scene *s, bool for_desk)
{
    reason_set all = s->reasons | reason_bit(s->stop_reason);
    enum reason first = reason_first(all);
    for (int r = REASON_COUNT - 1; for_desk && r > 0; r--)
        if ((all & reason_bit((enum reason)r)) && !of_a_lower_lane((enum reason)r))
            first = (enum reason)r;
    const char *code, *text;
    char sentence[REASON_TEXT_MAX];
    json_t *zone, *list;
    cr_assert_eq(json_unpack(root, "{s:{s:s,s:s,s:o},s:o}", "reason", "code", &code, "text", &text, "zone", &zone,
                             "reasons", &list),
                 0);
    reason_text_desk(first, s, &show, sentence);
    cr_assert_str_eq(code, reason_code(first));
    cr_assert_str_eq(text, for_desk ? sentence : reason_for_viewers(first));
    const char *named = reason_text_zone(first, s, &show);
    if (named)
        cr_assert_str_eq(json_string_value(zone), named);
    else
        cr_assert(json_is_null(zone));
    check_numbers(json_object_get(root, "reason"), first, &s->detail[first]);
    size_t n = 0;
    for (int r = 1; r < REASON_COUNT; r++)
        if (all & reason_bit((enum reason)r))
            cr_assert_str_eq(json_string_value(json_array_get(list, n++)), reason_code((enum reason)r));
    cr_assert_eq(json_array_size(list), n);
}

static double number(const json_t *object, const char *key)
{
    const json_t *value = json_object_get(object, key);
    cr_assert(json_is_number(value), "%s", key);
    return json_number_value(value);
}

static void check_limits(const json_t *root, const struct scene *s)
{
    static const char *const modes[] = {"setup", "show", "low"};
    const json_t *limits = json_object_get(root, "limits");
    cr_assert_eq(json_object_size(limits), 4);
    cr_assert_str_eq(json_string_value(json_object_get(limits, "mode")), modes[s->limits_mode]);
    double floor_m = isnan(s->floor_m) ? 0.5 : fmax(0.5, s->floor_m); /* never below that of the stage */
    double ceiling_m = isnan(s->ceiling_m) ? 3 : fmin(3, s->ceiling_m);
    same_real("floor", number(limits, "floor_m"), floor_m, 1e-4);
    same_real("ceiling", number(limits, "ceiling_m"), ceiling_m, 1e-4);
    same_real("speed", number(limits, "speed_mps"), s->speed_mps, 1e-4);
}

static void check_nearest(const json_t *root, const struct scene *s)
{
    static const char *const parts[] = {"body", "boom", "cord", "tether"}, *const bounds[] = {"stage",     "floor",
                                                                                              "ceiling",   "keepout",
                                                                                              "subject",   "reach",
                                                                                              "tether-end"};
    const json_t *nearest = json_object_get(root, "nearest"), *zone = json_object_get(nearest, "zone");
    const struct volume_clearance *c = &s->nearest;
    cr_assert_str_eq(json_string_value(json_object_get(nearest, "part")), parts[c->part]);
    cr_assert_str_eq(json_string_value(json_object_get(nearest, "bound")), bounds[c->bound]);
    if (c->part == VOLUME_CORD)
        cr_assert_eq(json_integer_value(json_object_get(nearest, "cord")), c->cord + 1);
    else
        cr_assert_null(json_object_get(nearest, "cord"));
    if (c->bound == VOLUME_KEEPOUT && c->keepout < show.policy.guard.volume.keepouts)
        cr_assert_str_eq(json_string_value(zone), show.keepout_name[c->keepout]);
    else
        cr_assert(json_is_null(zone));
}

static void check_machine(const json_t *root, const struct scene *s)
{
    const json_t *cords = json_object_get(root, "cords"), *head = json_object_get(root, "head");
    const json_t *subject = json_object_get(root, "subject"), *tensions = json_object_get(cords, "tension_n");
    cr_assert_eq(json_is_null(cords), s->cords == 0);
    cr_assert_eq(json_is_null(head), !s->head_known);
    cr_assert_eq(json_is_null(json_object_get(root, "yaw_deg")), !s->yaw_known);
    cr_assert_eq(json_is_null(subject), !s->subject_known);
    if (s->cords > 0) {
        cr_assert_eq(json_array_size(tensions), (size_t)s->cords);
        for (int i = 0; i < s->cords; i++)
            same_real("tension", json_number_value(json_array_get(tensions, (size_t)i)), s->tension_n[i], 1e-2);
        cr_assert_eq(json_integer_value(json_object_get(cords, "least")), s->tension_cord + 1);
        same_real("margin", number(cords, "margin_n"), s->tension_margin_n, 1e-2);
    }
    if (s->head_known) {
        same_real("pan", number(head, "pan_deg"), s->head[HEAD_PAN] * 180 / 3.14159265358979, 1e-2);
        same_real("tilt", number(head, "tilt_deg"), s->head[HEAD_TILT] * 180 / 3.14159265358979, 1e-2);
        same_real("zoom", number(head, "zoom"), s->head[HEAD_ZOOM], 1e-3);
    }
    if (s->subject_known) {
        same_vec("subject", json_object_get(subject, "at"), s->subject);
        same_real("age", number(subject, "age_s"), s->subject_age_s, 1e-2);
    }
}

static void check_round(json_t *root, const struct scene *s)
{
    static const char *const phases[] = {"off", "open", "grace"};
    const char *phase, *choice;
    json_int_t id, left, needed, voices, v[CHOICE_COUNT], viewers, sticks, edges;
    json_t *blend;
    cr_assert_eq(json_unpack(root, "{s:{s:I,s:s,s:I,s:[I,I,I,I,I,I,I !],s:I,s:{s:s,s:I !} !}}", "round", "id", &id,
                             "phase", &phase, "left_ms", &left, "votes", &v[0], &v[1], &v[2], &v[3], &v[4], &v[5],
                             &v[6], "needed", &needed, "last", "choice", &choice, "voices", &voices),
                 0);
    cr_assert(id == s->round && left == s->round_left_ms && needed == s->needed && voices == s->last_voices);
    cr_assert_str_eq(phase, phases[s->poll_phase]);
    cr_assert_str_eq(choice, choice_name(s->last_outcome));
    for (int c = 0; c < CHOICE_COUNT; c++)
        cr_assert_eq(v[c], s->crowd.votes[c]);
    cr_assert_eq(json_unpack(root, "{s:{s:I,s:I,s:I,s:o !}}", "crowd", "viewers", &viewers, "sticks", &sticks, "edges",
                             &edges, "blend", &blend),
                 0);
    cr_assert(viewers == s->crowd.viewers && sticks == s->crowd.sticks && edges == s->edges);
    same_vec("blend", blend, (struct vec3){s->blend[0], s->blend[1], s->blend[2]});
}

/* Every member is read by one of these, and there is no other. */
static void check_all(const struct scene *s, bool for_desk)
{
    json_t *root = written(s, for_desk);
    cr_assert_eq(json_object_size(root), 31);
    check_head(root, s);
    check_motion(root, s);
    check_limits(root, s);
    check_nearest(root, s);
    check_machine(root, s);
    check_reasons(root, s, for_desk);
    check_round(root, s);
    json_decref(root);
}

Test(scene_json, says_every_field_of_any_scene)
{
    struct random r = {1};
    for (int run = 0; run < 3000; run++) {
        struct scene s = sample_scene(&r);
        if (run % 4 == 1) {
            s.stop_reason = REASON_NONE;
            s.reasons &= reason_bit(REASON_KEEPOUT) | reason_bit(REASON_SPEED_LIMIT);
        }
        check_all(&s, run % 3 == 0);
    }
}

Test(scene_json, is_strict_json_whatever_the_numbers)
{
    struct random r = {2};
    struct scene s = sample_scene(&r);
    for (size_t i = 0; sample_real(&s, i); i++)
        for (int odd = 0; odd < SAMPLE_ODD; odd++) {
            s = sample_scene(&r);
            *sample_real(&s, i) = sample_odd[odd];
            check_all(&s, false);
        }
}

Test(scene_json, names_the_zone_as_the_show_file_does)
{
    struct random r = {3};
    for (int k = -1; k < 5; k++) {
        struct scene s = sample_scene(&r);
        s.stop_reason = REASON_NONE;
        s.reasons = reason_bit(REASON_KEEPOUT);
        s.detail[REASON_KEEPOUT].index = k;
        json_t *root = written(&s, false), *zone = json_object_get(json_object_get(root, "reason"), "zone");
        if (k >= 0 && k < 3)
            cr_assert_str_eq(json_string_value(zone), show.keepout_name[k]);
        else
            cr_assert(json_is_null(zone), "a keep-out that the show does not have");
        json_decref(root);
        s.reasons |= reason_bit(REASON_STOP_OPERATOR);
        check_all(&s, false);
    }
}

Test(scene_json, tells_the_desk_what_blocks_it_and_viewers_who_steers)
{
    struct random r = {4};
    struct scene s = sample_scene(&r);
    s.stop_reason = REASON_NONE;
    s.reasons = reason_bit(REASON_OPERATOR_HAS_IT) | reason_bit(REASON_KEEPOUT);
    s.detail[REASON_KEEPOUT].index = 0;
    for (int desk = 0; desk < 2; desk++) {
        json_t *root = written(&s, desk), *reason = json_object_get(root, "reason");
        cr_assert_str_eq(json_string_value(json_object_get(reason, "code")), desk ? "keepout" : "operator-has-it");
        cr_assert_eq(json_is_string(json_object_get(reason, "zone")), desk);
        json_decref(root);
    }
}

Test(scene_json, nothing_to_explain_is_none)
{
    struct scene s = {.stop_state = STOP_RUNNING};
    json_t *root = written(&s, false);
    cr_assert_str_eq(json_string_value(json_object_get(json_object_get(root, "reason"), "code")), "none");
    cr_assert_eq(json_array_size(json_object_get(root, "reasons")), 0);
    cr_assert(json_is_null(json_object_get(root, "goal")));
    json_decref(root);
}

/* No scene from the bus holds one; the text is JSON all the same. */
Test(scene_json, values_without_a_word_are_null_or_said_to_be_unknown)
{
    struct scene s = {.reasons = reason_bit(REASON_KEEPOUT)};
    s.detail[REASON_KEEPOUT].index = 1000000;
    s.stop_state = STOP_STATE_COUNT;
    s.lane = LANE_COUNT;
    s.mode = CROWD_MODE_COUNT;
    s.poll_phase = (enum poll_phase)99;
    s.last_outcome = CHOICE_COUNT;
    show.policy.guard.volume.keepouts = INT_MAX;
    json_t *root = written(&s, false), *round = json_object_get(root, "round");
    cr_assert_str_eq(json_string_value(json_object_get(root, "state")), "unknown");
    cr_assert(json_is_null(json_object_get(root, "lane")));
    cr_assert(json_is_null(json_object_get(root, "mode")) && json_is_null(json_object_get(round, "phase")));
    cr_assert(json_is_null(json_object_get(json_object_get(round, "last"), "choice")));
    cr_assert(json_is_null(json_object_get(json_object_get(root, "reason"), "zone")));
    json_decref(root);
}
