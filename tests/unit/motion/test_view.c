/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/view.h"

#include <criterion/criterion.h>

#include "tests/unit/motion/shapes.h"

#define HALF_TURN 3.14159265358979323846

static double degrees(double d)
{
    return d * HALF_TURN / 180;
}

static struct view_range exactly(double angle)
{
    return (struct view_range){angle, angle};
}

static struct view *plain(void)
{
    static struct view view;
    view = (struct view){.boom_m = 0.4, .camera = {0, 0, -0.05}, .range_m = 10, .shapes = 1};
    view.shape[0] = (struct shape){SHAPE_SPHERE, .as.sphere = {{5, 0, 1.55}, 0.2}};
    cr_assert(view_prepare(&view) && view_valid(&view));
    return &view;
}

/* The lens at (0, 0, 1.55), looking along +x. */
static struct view_span ahead(void)
{
    struct vec3 at = {0, 0, 2};
    return (struct view_span){.from = at, .to = at, .hfov_rad = degrees(40), .vfov_rad = degrees(24)};
}

static double nearest(const struct view *view, const struct view_span *span)
{
    return view_look(view, span, INFINITY).distance_m;
}

Test(view, shows_what_is_in_the_frame_and_nothing_beside_it)
{
    struct view *view = plain();
    struct view_span span = ahead();
    cr_assert_leq(nearest(view, &span), 0, "straight ahead");
    span.azimuth_rad = exactly(degrees(20) + asin(0.2 / 5) - 0.001); /* its left edge at the right edge of the frame */
    cr_assert_leq(nearest(view, &span), 0);
    span.azimuth_rad = exactly(degrees(20) + asin(0.2 / 5) + 0.02);
    cr_assert_gt(nearest(view, &span), 0);
    span.azimuth_rad = exactly(0);
    span.tilt_rad = exactly(degrees(12) + asin(0.2 / 5) + 0.001);
    cr_assert_gt(nearest(view, &span), 0, "the frame is above it");
    span.roll_rad = exactly(degrees(40));
    cr_assert_leq(nearest(view, &span), 0, "but not if it leans: its corner comes down");
    span = ahead();
    span.azimuth_rad = exactly(HALF_TURN);
    cr_assert_gt(nearest(view, &span), 4.5, "behind");
    view->range_m = 4;
    span = ahead();
    cr_assert_gt(nearest(view, &span), 0.5, "too far off to matter");
}

Test(view, says_which_it_is)
{
    struct view *view = plain();
    struct view_span span = ahead();
    view->shapes = 3;
    view->shape[1] = (struct shape){SHAPE_SPHERE, .as.sphere = {{-5, 0, 1.55}, 0.2}};
    view->shape[2] = (struct shape){SHAPE_HALF_SPACE, .as.half_space = {{0, -1, 0}, -8}}; /* beyond y = 8 */
    cr_assert(view_prepare(view) && view_valid(view));
    cr_assert_eq(view_look(view, &span, INFINITY).shape, 0);
    span.azimuth_rad = exactly(HALF_TURN);
    cr_assert_eq(view_look(view, &span, INFINITY).shape, 1);
    span.azimuth_rad = exactly(HALF_TURN / 2);
    struct view_answer a = view_look(view, &span, INFINITY);
    cr_assert(a.shape == 2 && a.distance_m <= 0);
    span.azimuth_rad = exactly(-HALF_TURN / 2);
    a = view_look(view, &span, 0.5);
    cr_assert(a.distance_m >= 0.5);
    view->shapes = 0;
    view_prepare(view);
    a = view_look(view, &span, INFINITY);
    cr_assert(a.distance_m >= INFINITY && a.shape == -1);
}

/* Is the point in the picture, looked at directly? In the frame of the lens, by angles. */
static bool pictured(const struct view *view, const struct view_span *s, struct vec3 platform, double azimuth,
                     double tilt, double roll, struct vec3 p)
{
    struct vec3 o = view->camera;
    double ca = cos(azimuth), sa = sin(azimuth);
    struct vec3 lens = {platform.x + ca * o.x - sa * o.y, platform.y + sa * o.x + ca * o.y,
                        platform.z - view->boom_m + o.z};
    struct vec3 d = vec_sub(p, lens);
    if (vec_norm(d) > view->range_m)
        return false;
    double x = ca * d.x + sa * d.y, y = -sa * d.x + ca * d.y;                              /* undo the azimuth */
    double along = cos(tilt) * x + sin(tilt) * d.z, up = -sin(tilt) * x + cos(tilt) * d.z; /* the tilt */
    double left = cos(roll) * y + sin(roll) * up, top = -sin(roll) * y + cos(roll) * up;   /* the roll */
    return along > 0 && fabs(atan2(left, along)) <= s->hfov_rad / 2 && fabs(atan2(top, along)) <= s->vfov_rad / 2;
}

static double within(struct random *r, const struct view_range *range)
{
    return random_between(r, range->lo, range->hi);
}

static struct view_range random_range(struct random *r, double middle, double most)
{
    double half = random_chance(r, 0.3) ? 0 : random_between(r, 0, most);
    return (struct view_range){middle - half, middle + half};
}

static struct vec3 point_in(struct random *r, const struct shape *s)
{
    for (;;) {
        struct vec3 p = shapes_point(r, 3);
        if (shape_distance(s, p) <= 0)
            return p;
    }
}

/* Wherever the platform is on its way and the head in its spans: what was not seen is not in the picture. */
Test(view, never_misses_what_is_in_the_picture)
{
    struct random r = {131};
    int seen = 0, unseen = 0;
    for (int i = 0; i < 2500; i++) {
        static struct view view;
        view = (struct view){.boom_m = 0.3, .camera = random_in_ball(&r, 0.2), .range_m = random_between(&r, 2, 9)};
        view.shapes = 1;
        view.shape[0] = shapes_of(&r, (enum shape_kind)(i % SHAPE_KINDS));
        if (!view_prepare(&view))
            continue;
        struct vec3 from = vec_scale(random_direction(&r), random_between(&r, 2, 5));
        struct view_span span = {
            .from = from,
            .to = vec_add(from, random_in_ball(&r, 0.5)),
            .azimuth_rad = random_range(&r, random_between(&r, -4, 4), 0.4),
            .tilt_rad = random_range(&r, random_between(&r, -1.4, 1.4), 0.2),
            .roll_rad = random_range(&r, random_between(&r, -1, 1), 0.1),
            .hfov_rad = random_between(&r, 0.1, 1.6),
            .vfov_rad = random_between(&r, 0.1, 1.2),
        };
        bool clear = nearest(&view, &span) > 0, shown = false;
        for (int k = 0; k < 60 && !shown; k++) {
            struct vec3 at = vec_along(from, vec_sub(span.to, from), random_between(&r, 0, 1));
            shown = pictured(&view, &span, at, within(&r, &span.azimuth_rad), within(&r, &span.tilt_rad),
                             within(&r, &span.roll_rad), point_in(&r, &view.shape[0]));
        }
        cr_assert(!(clear && shown), "%d: it is in the picture", i);
        seen += shown;
        unseen += clear;
    }
    cr_assert(seen > 200 && unseen > 400, "%d, %d", seen, unseen);
}

static double either(struct random *r, const struct view_range *range)
{
    return random_chance(r, 0.5) ? range->lo : range->hi;
}

/* A crumb on the very edge of the picture at the very ends of all spans. */
Test(view, never_misses_what_is_at_the_edge)
{
    struct random r = {134};
    for (int i = 0; i < 20000; i++) {
        static struct view view;
        view = (struct view){.boom_m = 0.3, .camera = random_in_ball(&r, 0.2), .range_m = random_between(&r, 1, 9)};
        view.shapes = 1;
        struct vec3 from = random_in_ball(&r, 3);
        struct view_span span = {
            .from = from,
            .to = vec_add(from, random_in_ball(&r, 0.5)),
            .azimuth_rad = random_range(&r, random_between(&r, -4, 4), 0.5),
            .tilt_rad = random_range(&r, random_between(&r, -1.4, 1.4), 0.3),
            .roll_rad = random_range(&r, random_between(&r, -1, 1), 0.2),
            .hfov_rad = random_between(&r, 0.1, 3),
            .vfov_rad = random_between(&r, 0.1, 3),
            .off_m = random_chance(&r, 0.5) ? 0 : random_between(&r, 0, 0.5),
        };
        double a = either(&r, &span.azimuth_rad), t = either(&r, &span.tilt_rad), l = either(&r, &span.roll_rad);
        double left = (random_chance(&r, 0.5) ? 1 : -1) * tan(0.4999 * span.hfov_rad);
        double up = random_between(&r, -1, 1) * tan(0.4999 * span.vfov_rad), side = left;
        left = cos(l) * side - sin(l) * up; /* roll, tilt, azimuth, each about its axis */
        up = sin(l) * side + cos(l) * up;
        struct vec3 ray = {cos(t) - sin(t) * up, left, sin(t) + cos(t) * up}, o = view.camera;
        struct vec3 lens = {o.x, o.y, o.z - view.boom_m}, seen = vec_scale(ray, 1 / vec_norm(ray));
        seen = vec_along(lens, seen, random_between(&r, 0, 0.999) * view.range_m);
        seen = (struct vec3){cos(a) * seen.x - sin(a) * seen.y, sin(a) * seen.x + cos(a) * seen.y, seen.z};
        seen = vec_add(seen, random_chance(&r, 0.5) ? span.from : span.to);
        seen = vec_along(seen, random_direction(&r), 0.999 * span.off_m);
        view.shape[0] = (struct shape){SHAPE_SPHERE, .as.sphere = {seen, 1e-6}};
        cr_assert(view_prepare(&view));
        cr_assert_leq(nearest(&view, &span), 0, "%d", i);
    }
}

/* And does not cry wolf much: with everything known exactly, what it sees is there. */
Test(view, sees_no_more_than_there_is)
{
    struct random r = {132};
    int wrong = 0, seen = 0;
    for (int i = 0; i < 4000; i++) {
        struct view *view = plain();
        double size = random_between(&r, 0.05, 0.4);
        view->shape[0].as.sphere = (struct shape_sphere){{random_between(&r, 2, 8), 0, 1.55}, size};
        view_prepare(view);
        struct view_span span = ahead();
        span.azimuth_rad = exactly(random_between(&r, -1, 1));
        span.tilt_rad = exactly(random_between(&r, -0.7, 0.7));
        if (nearest(view, &span) > 0)
            continue;
        bool shown = false;
        for (int k = 0; k < 4000 && !shown; k++)
            shown = pictured(view, &span, span.from, span.azimuth_rad.lo, span.tilt_rad.lo, 0,
                             vec_add(view->shape[0].as.sphere.centre, random_in_ball(&r, size)));
        seen++;
        wrong += !shown;
    }
    cr_assert(seen > 500 && wrong < seen / 20, "%d of %d", wrong,
              seen); /* slivers that 4000 points miss, too far ones */
}

/* While the head pans through a wide span, what is above the frame all the while is not seen: parts of the span show
 * that, though the whole of it, widened, would show too much. */
Test(view, wide_spans_are_looked_at_in_parts)
{
    struct view *view = plain();
    struct view_span span = ahead();
    span.azimuth_rad = (struct view_range){-0.3, 0.3};
    double size = asin(0.2 / 5);
    span.tilt_rad = exactly(degrees(12) + size + degrees(4));
    cr_assert(nearest(view, &span) > 0.05 && nearest(view, &span) < 0.4, "%g", nearest(view, &span));
    span.tilt_rad = exactly(degrees(12) + size - degrees(0.5));
    cr_assert_leq(nearest(view, &span), 0);
    span.tilt_rad = exactly(0);
    span.azimuth_rad = (struct view_range){degrees(20) + size + 0.02, degrees(20) + size + 0.6};
    cr_assert_gt(nearest(view, &span), 0, "it is left before that begins");
}

/* A lens so wide, turned so far, that no pyramid holds it. */
Test(view, a_very_wide_lens_that_turns_looks_everywhere)
{
    struct view *view = plain();
    struct view_span span = ahead();
    span.hfov_rad = 2.5;
    span.vfov_rad = 0.2;
    span.azimuth_rad = (struct view_range){-0.5, 0.5};
    view->shape[0].as.sphere = (struct shape_sphere){{3 * cos(1.7), 3 * sin(1.7), 1.55}, 0.05};
    cr_assert(view_prepare(view));
    cr_assert_leq(nearest(view, &span), 0);
}

Test(view, wider_spans_see_no_less)
{
    struct random r = {133};
    for (int i = 0; i < 3000; i++) {
        struct view *view = plain();
        struct view_span narrow = ahead();
        narrow.azimuth_rad = random_range(&r, random_between(&r, -1.5, 1.5), 0.2);
        narrow.off_m = random_between(&r, 0, 0.3);
        struct view_span wide = narrow;
        wide.azimuth_rad.lo -= 0.3;
        wide.tilt_rad = (struct view_range){-0.1, 0.1};
        wide.hfov_rad += 0.1;
        if (nearest(view, &narrow) <= 0) {
            double half = (narrow.azimuth_rad.hi - narrow.azimuth_rad.lo) / 2;
            if (half > 0)
                continue; /* spans are widened, each in its own way: only points must be seen again */
            cr_assert_leq(nearest(view, &wide), 0, "%d", i);
        }
    }
    struct view *view = plain();
    struct view_span round = ahead();
    round.azimuth_rad = (struct view_range){HALF_TURN - 3, HALF_TURN + 3};
    cr_assert_leq(nearest(view, &round), 0);
    round.azimuth_rad = (struct view_range){-100, 100};
    cr_assert_leq(nearest(view, &round), 0, "a full turn is everywhere");
    round.hfov_rad = 3;
    cr_assert_leq(nearest(view, &round), 0);
}

Test(view, a_span_that_makes_no_sense_shows_everything)
{
    const struct view_span good = ahead();
    static const double bad[] = {(double)NAN, (double)INFINITY, -(double)INFINITY, 1e300};
    struct view *view = plain();
    struct view_span s = good;
    double *const number[] = {&s.from.x,      &s.to.z,        &s.azimuth_rad.hi, &s.azimuth_rad.lo, &s.tilt_rad.lo,
                              &s.tilt_rad.hi, &s.roll_rad.lo, &s.hfov_rad,       &s.vfov_rad,       &s.off_m};
    for (int i = 0; i < 10; i++) {
        for (int k = 0; k < 4; k++) {
            s = good;
            *number[i] = bad[k];
            cr_assert(nearest(view, &s) <= 0, "%d %d", i, k);
        }
    }
    s = good;
    s.tilt_rad = (struct view_range){1, 0};
    cr_assert(nearest(view, &s) <= 0);
}

Test(view, is_valid_only_as_documented)
{
    struct view *view = plain();
    view->shape[0].as.sphere.radius_m = -1;
    cr_assert_not(view_prepare(view) || view_valid(view));
    view = plain();
    view->pieces = 0;
    cr_assert_not(view_valid(view), "not prepared");
    view = plain();
    view->piece_of[0] = 1;
    cr_assert_not(view_valid(view));
    view = plain();
    view->piece[0].points = 0;
    cr_assert_not(view_valid(view));
    view->pieces = VIEW_MAX_PIECES + 1;
    cr_assert_not(view_valid(view));
    view->pieces = -1;
    cr_assert_not(view_valid(view));
    double *const number[] = {&view->boom_m, &view->camera.y, &view->range_m};
    for (int i = 0; i < 3; i++) {
        static const double bad[] = {(double)NAN, (double)INFINITY, 2e6};
        for (int k = 0; k < 3; k++) {
            plain();
            *number[i] = bad[k];
            cr_assert_not(view_valid(view), "%d %d", i, k);
        }
    }
    view = plain();
    view->shapes = VIEW_MAX_SHAPES + 1;
    cr_assert_not(view_prepare(view) || view_valid(view));
    view->shapes = -1;
    cr_assert_not(view_prepare(view) || view_valid(view));
    struct shape comb = {SHAPE_PRISM, .as.prism = {.corners = 32, .z_lo = 0, .z_hi = 1}};
    for (int i = 0; i < 32; i++) {
        comb.as.prism.x[i] = i / 31.0;
        comb.as.prism.y[i] = i == 0 || i == 31 ? 0 : i % 2 ? 1 : 0.5;
    }
    view->shapes = VIEW_MAX_SHAPES;
    for (int k = 0; k < VIEW_MAX_SHAPES; k++)
        view->shape[k] = comb;
    cr_assert_not(view_prepare(view) || view_valid(view), "too many pieces");
    cr_assert_float_eq(view_vfov(HALF_TURN / 2, 1), HALF_TURN / 2, 1e-12);
    cr_assert_float_eq(tan(view_vfov(1, 16.0 / 9) / 2) * 16 / 9, tan(0.5), 1e-12);
}
