/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* What good.json says beyond plain.json is in the show as the policy wants it; what plain.json leaves out is as before.
 */
#include <criterion/criterion.h>
#include <stdlib.h>
#include <string.h>

#include "gateway/show/show_reach.h"
#include "gateway/show/show_way.h"
#include "told.h"

#define DEG 0.017453292519943295

static struct told *load(const char *name)
{
    char *text = told_file(name);
    struct told *told = told_of(text, strlen(text));
    cr_assert_eq(told->errors, 0, "%s", told->text);
    free(text);
    return told;
}

static void expect_limits(const struct limits *l, double speed, double accel, double jerk, double floor, double ceiling)
{
    cr_expect_float_eq(l->speed_mps, speed, 1e-12, "%g m/s", l->speed_mps);
    cr_expect_float_eq(l->accel_mps2, accel, 1e-12);
    cr_expect_float_eq(l->jerk_mps3, jerk, 1e-12);
    cr_expect_float_eq(l->floor_m, floor, 1e-12, "floor %g m", l->floor_m);
    cr_expect_float_eq(l->ceiling_m, ceiling, 1e-12);
}

/* Lane and mode, the stricter of the two; setup no looser than the show, low flight lower only. */
Test(fill, limits_of_each_lane_in_each_mode)
{
    struct told *told = load("good.json");
    const struct limits_table *t = &told->show.policy.limits;
    const double far = SHAPE_FAR_M;
    cr_assert(limits_table_valid(t));
    expect_limits(&t->cell[LANE_OPERATOR][LIMITS_SHOW], 0.4, 0.3, 1.5, 1.1, far);
    expect_limits(&t->cell[LANE_OPERATOR][LIMITS_SETUP], 0.15, 0.3, 1.5, 1.1, 2.4);
    expect_limits(&t->cell[LANE_OPERATOR][LIMITS_LOW], 0.1, 0.2, 1, 0.95, far);
    expect_limits(&t->cell[LANE_AUDIENCE][LIMITS_SHOW], 0.2, 0.2, 1, 1.1, far);
    expect_limits(&t->cell[LANE_AUDIENCE][LIMITS_SETUP], 0.15, 0.2, 1, 1.1, 2.4);
    expect_limits(&t->cell[LANE_IDLE][LIMITS_SHOW], 0.2, 0.2, 1, 1.1, far);
    for (int lane = 0; lane < LANE_COUNT; lane++)
        cr_expect(t->cell[lane][LIMITS_LOW].yields && !t->cell[lane][LIMITS_SHOW].yields &&
                  !t->cell[lane][LIMITS_SETUP].yields);
    cr_expect_float_eq(t->unseen_m, 1.8, 1e-12);
    cr_expect_eq(told->show.policy.spotter_timeout_ns, 1000000000u);
    cr_expect_float_eq(told->show.audience_lag_s, 7, 1e-12);
    told_free(told);
}

Test(fill, a_plain_show_is_slow_in_setup_and_has_no_low_flight)
{
    struct told *told = load("plain.json");
    const struct limits_table *t = &told->show.policy.limits;
    cr_assert(limits_table_valid(t));
    expect_limits(&t->cell[LANE_OPERATOR][LIMITS_SHOW], 0.4, 0.3, 2, -SHAPE_FAR_M, SHAPE_FAR_M);
    expect_limits(&t->cell[LANE_OPERATOR][LIMITS_SETUP], 0.25, 0.3, 2, -SHAPE_FAR_M, SHAPE_FAR_M);
    cr_expect_eq(told->show.policy.spotter_timeout_ns, 0);
    cr_expect_float_eq(limits_unseen_mps(t, told->show.audience_lag_s), 0.2, 1e-12); /* as before: 4 m in 20 s */
    cr_expect(!told->show.policy.locates && !told->show.policy.anticipates && !told->show.policy.head.there);
    cr_expect(!told->show.policy.subject.watched && told->show.policy.swing.taps <= 1);
    cr_expect(told_has(told, 7, "warning: /rig:", "nothing keeps the body from swinging up"));
    cr_expect_eq(told->show.policy.guard.volume.outline.limbs, 1);
    cr_expect(told->show.sensor[SHOW_POSE].there && !told->show.sensor[SHOW_HEAD].there);
    told_free(told);
}

Test(fill, cords_and_sensors)
{
    struct told *told = load("good.json");
    const struct show *show = &told->show;
    cr_assert(show->cords.given && show->policy.anticipates && show->policy.locates);
    cr_expect_float_eq(show->cords.rig.max_n[3], 80, 1e-12);
    cr_expect_float_eq(show->cords.rig.mass_kg, 2.4, 1e-12);
    cr_expect_float_eq(show->policy.anticipate.band_share, 0.05, 1e-12);
    cr_expect_float_eq(show->policy.locate.weight_n, 2.4 * 9.80665, 1e-9);
    cr_expect_float_eq(show->policy.locate.body_n, 1.6 * 9.80665, 1e-9);
    cr_expect_float_eq(show->policy.locate.anchor_bias_m, 0.002, 1e-12);
    cr_expect_float_eq(show->policy.locate.floor_m, 0.1, 1e-12);
    cr_expect_float_eq(show->sensor[SHOW_TENSION].share, 0.02, 1e-12);
    cr_expect_float_eq(show->sensor[SHOW_TILT].sigma, 0.1 * DEG, 1e-12);
    cr_expect_float_eq(show->sensor[SHOW_POSE].age_s, 0.01, 1e-12);
    for (int i = 0; i < SHOW_SOURCES; i++)
        cr_expect(show->sensor[i].there, "source %d", i);
    told_free(told);
}

Test(fill, head_swing_and_what_is_seen)
{
    struct told *told = load("good.json");
    const struct policy_config *p = &told->show.policy;
    const struct head_config *head = &p->head.config;
    cr_assert(p->head.there && head_config_valid(head));
    cr_expect_float_eq(head->axis[HEAD_PAN].home, 10 * DEG, 1e-12);
    cr_expect_float_eq(head->axis[HEAD_TILT].limits.jerk, 200 * DEG, 1e-12);
    cr_expect_float_eq(head->axis[HEAD_ZOOM].max, 4, 1e-12);
    cr_expect(head->axis[HEAD_ROLL].min == 0 && head->axis[HEAD_ROLL].max == 0);
    cr_expect_float_eq(head->region[0].to[HEAD_TILT], -40 * DEG, 1e-12);
    cr_expect(isinf(head->region[0].from[HEAD_ROLL]) && head->region[0].from[HEAD_ROLL] < 0);
    cr_expect_float_eq(head->latency_s, 0.08, 1e-12); /* that of the rig */
    cr_expect_float_eq(p->head.cross_s, 8, 1e-12);
    cr_expect_gt(p->swing.taps, 2); /* three impulses */
    cr_assert(p->view.shapes == 1 && p->zones == 1 && p->subject.watched);
    cr_expect_float_eq(p->subject.uncertainty_m, 3 * 0.05, 1e-12, "0.1 m are said, its noise is more");
    cr_assert(p->watches_swing && policy_config_valid(p));
    cr_expect_float_eq(p->swing_watch.mode.omega_radps, 2 * 3.14159265358979 * 0.84, 1e-9);
    cr_expect(view_valid(&p->view) && shape_valid(&p->zone[0].shape));
    cr_expect_str_eq(told->show.view_name[0], "window");
    cr_expect_str_eq(told->show.slow_name[0], "over the station");
    told_free(told);
}

Test(fill, solids_of_every_shape)
{
    struct told *told = load("good.json");
    const struct volume *v = &told->show.policy.guard.volume;
    static const enum shape_kind kinds[] = {SHAPE_BOX,     SHAPE_BOX,        SHAPE_PRISM, SHAPE_SPHERE,
                                            SHAPE_CAPSULE, SHAPE_HALF_SPACE, SHAPE_BOX};
    cr_assert(volume_valid(v));
    for (int i = 0; i < 7; i++)
        cr_expect(v->keepout[i].shape.kind == kinds[i] && shape_valid(&v->keepout[i].shape), "keep-out %d", i);
    cr_expect_float_eq(v->keepout[5].shape.as.half_space.normal.y, -1, 1e-12); /* made of length 1 */
    cr_expect_float_eq(v->keepout[5].shape.as.half_space.offset_m, -6.2, 1e-12);
    cr_expect(v->keepout[6].yields && !v->keepout[0].yields);
    cr_expect_eq(v->outline.limbs, 2);
    cr_expect_eq(v->outline.yaw, VOLUME_YAW_PAN);
    cr_expect_eq(v->outline.tether.kind, VOLUME_TETHER_STRAIGHT);
    told_free(told);
}

static struct told *edited(const char *name, const char *old, const char *by)
{
    char *text = told_file(name), *more;
    char *at = strstr(text, old);
    cr_assert(at);
    *at = '\0';
    cr_assert_gt(asprintf(&more, "%s%s%s", text, by, at + strlen(old)), 0);
    struct told *told = told_of(more, strlen(more));
    cr_assert_eq(told->errors, 0, "%s", told->text);
    free(more);
    free(text);
    return told;
}

Test(fill, a_tether_may_hang)
{
    struct told *told = edited("plain.json", "\"boom_radius_m\"",
                               "\"tether\": { \"kind\": \"hanging\", \"anchor_m\": [4, 3, 3.3], \"length_m\": 5, "
                               "\"radius_m\": 0.004, \"side_m\": 0.2, \"floor_m\": 0.1 }, \"boom_radius_m\"");
    const struct volume_tether *t = &told->show.policy.guard.volume.outline.tether;
    cr_expect(t->kind == VOLUME_TETHER_HANGING && t->length_m == 5 && t->side_m == 0.2 && t->floor_m == 0.1);
    told_free(told);
}

Test(fill, extensions_are_further_parts_of_the_stage)
{
    struct told *told = edited("plain.json", "\"keep_outs\"",
                               "\"stage_extensions\": [{ \"footprint_m\": [[3, 0.4], [5, 0.4], [5, 1.6], [3, 1.6]], "
                               "\"floor_m\": 1, \"ceiling_m\": 2.4 }], \"keep_outs\"");
    cr_expect_eq(told->show.policy.guard.volume.stages, 2);
    cr_expect_float_eq(told->show.policy.guard.volume.stage[1].y[0], 0.4, 1e-12);
    told_free(told);
}

/* The distance to what the cords cannot hold, at places checked one by one with what the proof rests on. */
Test(fill, reach_is_where_the_cords_hold)
{
    struct told *told = load("good.json");
    struct show *show = &told->show;
    struct show_reach reach;
    struct show_reach_survey survey;
    cr_assert(show_reach_build(show, "show.json", &reach, stderr));
    cr_assert_eq(show->policy.guard.volume.reach, &reach.reach);
    cr_assert(show_reach_look(show, &survey));
    cr_expect(survey.reachable_m3 > 0.5 * survey.stage_m3 && survey.reachable_m3 <= survey.stage_m3);
    cr_expect_gt(survey.margin_n, 0);
    int held = 0, not_held = 0;
    for (int i = 0; i < 2000; i++) {
        struct vec3 at = {0.9 + 6.2 * (i % 20) / 19, 0.9 + 4.2 * (i / 20 % 10) / 9, 1.2 + 1.6 * (i / 200) / 9};
        struct tension_state t;
        tension_solve(&show->cords.rig, at, (struct vec3){0, 0, 0}, &t);
        double reserve = t.reserve_n / show->cords.rig.mass_kg, inside = reach_distance(&reach.reach, at);
        if (inside > 0)
            cr_assert_geq(reserve, show->cords.reserve_mps2, "%g %g %g", at.x, at.y, at.z);
        held += inside > 0;
        not_held += reserve < show->cords.reserve_mps2;
    }
    cr_expect(held > 1000 && not_held > 10, "%d held, %d not", held, not_held);
    show_reach_free(show, &reach);
    cr_expect_null(show->policy.guard.volume.reach);
    told_free(told);
}

Test(fill, a_home_out_of_reach_is_told)
{
    struct told *told = load("good.json");
    struct show_reach reach;
    char *said;
    size_t size;
    FILE *err = open_memstream(&said, &size);
    told->show.home = (struct vec3){4, 3, 3};
    cr_expect_not(show_reach_build(&told->show, "show.json", &reach, err));
    fclose(err);
    cr_expect(strstr(said, "show.json: /room/home_m: expected") && strstr(said, "outside"), "%s", said);
    show_reach_free(&told->show, &reach);
    free(said);
    told_free(told);
}

/* A wall across the stage, low enough for the cords and too high for the body: what is behind it cannot be got to. */
Test(fill, ways_end_at_what_stands_across_them)
{
    struct told *open = load("plain.json"),
                *shut = edited("plain.json", "\"keep_outs\": [",
                               "\"keep_outs\": [{ \"name\": \"wall\", \"from_m\": [5.3, 0.5, 0], "
                               "\"to_m\": [5.4, 5.5, 2.15], \"padding_m\": 0 }, ");
    struct show_way way;
    cr_assert(show_way_look(&open->show, &way));
    cr_expect(way.clear_m3 > 10 && way.way_m3 >= 0.99 * way.clear_m3, "%g of %g", way.way_m3, way.clear_m3);
    cr_assert(show_way_look(&shut->show, &way));
    cr_expect(way.way_m3 > 1 && way.way_m3 < 0.9 * way.clear_m3, "%g of %g", way.way_m3, way.clear_m3);
    told_free(shut);
    told_free(open);
}

Test(fill, no_cords_no_reach)
{
    struct told *told = load("plain.json");
    struct show_reach reach;
    struct show_reach_survey survey;
    cr_expect(show_reach_build(&told->show, "show.json", &reach, stderr));
    cr_expect_null(told->show.policy.guard.volume.reach);
    cr_expect_not(show_reach_look(&told->show, &survey));
    show_reach_free(&told->show, &reach);
    told_free(told);
}
