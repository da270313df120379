/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/view.h"

#include "policy/motion/units.h"

/* Parts of the spans that are looked at, one shape, before it counts as seen. */
enum { LOOKS = 24 };

#define FINE_RAD 0.01 /* parts are not cut that are widened by less */

static bool cut(struct view *view, int k)
{
    if (!shape_valid(&view->shape[k]))
        return false;
    int made = shape_pieces(&view->shape[k], &view->piece[view->pieces], VIEW_MAX_PIECES - view->pieces);
    if (made < 0)
        return false;
    for (int i = 0; i < made; i++)
        view->piece_of[view->pieces + i] = (uint8_t)k;
    view->pieces += made;
    return true;
}

bool view_prepare(struct view *view)
{
    view->pieces = 0;
    bool all = view->shapes >= 0 && view->shapes <= VIEW_MAX_SHAPES;
    for (int k = 0; all && k < view->shapes; k++)
        all = cut(view, k);
    if (!all)
        view->pieces = 0;
    return all;
}

static bool numbers_valid(const struct view *view)
{
    return shape_length_valid(view->boom_m) && shape_point_valid(view->camera) && view->range_m > 0 &&
           shape_length_valid(view->range_m) && view->shapes >= 0 && view->shapes <= VIEW_MAX_SHAPES &&
           view->pieces >= 0 && view->pieces <= VIEW_MAX_PIECES;
}

/* Every shape valid, and with pieces if its kind has any. */
bool view_valid(const struct view *view)
{
    bool cut_up[VIEW_MAX_SHAPES] = {false};
    if (!numbers_valid(view))
        return false;
    for (int i = 0; i < view->pieces; i++) {
        if (view->piece_of[i] >= view->shapes || !hull_valid(&view->piece[i]))
            return false;
        cut_up[view->piece_of[i]] = true;
    }
    for (int k = 0; k < view->shapes; k++) {
        if (!shape_valid(&view->shape[k]) || (!cut_up[k] && view->shape[k].kind != SHAPE_HALF_SPACE))
            return false;
    }
    return true;
}

double view_vfov(double hfov_rad, double aspect)
{
    return 2 * atan(tan(hfov_rad / 2) / aspect);
}

/* ---- What is looked into ---- */

/* Where the axes stand, give or take. */
struct aim {
    double azimuth, tilt, roll;
    double turn; /* the lens may be turned out of that by so much */
};

/* The columns of R. */
struct frame {
    struct vec3 ahead, left, up;
};

static struct frame frame_of(const struct aim *aim)
{
    double ca = cos(aim->azimuth), sa = sin(aim->azimuth), ct = cos(aim->tilt), st = sin(aim->tilt);
    double cr = cos(aim->roll), sr = sin(aim->roll);
    struct vec3 left = {-sa, ca, 0}, up = {-ca * st, -sa * st, ct};
    return (struct frame){
        {ca * ct, sa * ct, st}, vec_along(vec_scale(left, cr), up, sr), vec_along(vec_scale(up, cr), left, -sr)};
}

/* Half of a field of view, opened so that it holds everything turned by up to `turn`; `other` is half of the field
 * across it. On the face at angle a, the corner ray (1, tan a, tan b) has cos = |(1, tan a)| / |(1, tan a, tan b)|. */
static double opened(double half, double other, double turn)
{
    double ta = tan(half), tb = tan(other), flat = sqrt((1 + ta * ta) / (1 + ta * ta + tb * tb));
    double reach = sin(turn) / flat;
    return turn < UNITS_HALF_TURN / 2 && reach < 1 ? half + asin(reach) : UNITS_HALF_TURN;
}

static struct vec3 lens_at(const struct view *view, const struct aim *aim, struct vec3 platform)
{
    double c = cos(aim->azimuth), s = sin(aim->azimuth);
    struct vec3 o = view->camera;
    return vec_add(platform, (struct vec3){c * o.x - s * o.y, s * o.x + c * o.y, o.z - view->boom_m});
}

static void look_everywhere(const struct view *view, const struct view_span *span, struct hull *h)
{
    struct aim ahead = {0, 0, 0, 0};
    double aside = sqrt(view->camera.x * view->camera.x + view->camera.y * view->camera.y);
    h->points = 2;
    h->point[0] = lens_at(view, &ahead, span->from);
    h->point[1] = lens_at(view, &ahead, span->to);
    h->ball_m = view->range_m + 2 * aside + span->off_m;
}

static void look_ahead(const struct view *view, const struct view_span *span, const struct aim *aim, double a, double b,
                       struct hull *h)
{
    struct frame f = frame_of(aim);
    struct vec3 way = vec_sub(span->to, span->from), middle = vec_scale(f.ahead, view->range_m);
    double ta = tan(a) * view->range_m, tb = tan(b) * view->range_m;
    h->points = 10;
    h->point[0] = lens_at(view, aim, span->from);
    for (int i = 0; i < 4; i++) {
        struct vec3 corner = vec_along(middle, f.left, i & 1 ? ta : -ta);
        h->point[1 + i] = vec_add(h->point[0], vec_along(corner, f.up, i & 2 ? tb : -tb));
    }
    for (int i = 0; i < 5; i++)
        h->point[5 + i] = vec_add(h->point[i], way);
}

static struct hull looked_into(const struct view *view, const struct view_span *span, const struct aim *aim)
{
    struct hull h = {.points = 0};
    double turn = aim->turn + span->turn_rad;
    double a = opened(span->hfov_rad / 2, span->vfov_rad / 2, turn);
    double b = opened(span->vfov_rad / 2, span->hfov_rad / 2, turn);
    h.ball_m = span->off_m + vec_norm(view->camera) * lesser(turn, 2);
    if (a < VIEW_WIDE_RAD && b < VIEW_WIDE_RAD)
        look_ahead(view, span, aim, a, b, &h);
    else
        look_everywhere(view, span, &h);
    hull_bound(&h);
    return h;
}

/* ---- What is seen ---- */

static double to_shape(const struct view *view, const struct hull *seen, int k, double enough)
{
    double least = enough;
    if (view->shape[k].kind == SHAPE_HALF_SPACE)
        return hull_above(seen, &view->shape[k].as.half_space);
    for (int i = 0; i < view->pieces; i++) {
        if (view->piece_of[i] == k && shape_box_gap(&seen->around, &view->piece[i].around) < least)
            least = lesser(least, hull_distance(seen, &view->piece[i], least));
    }
    return least;
}

/* Part of the spans: azimuth, tilt, roll. */
struct part {
    struct view_range range[3];
};

static double size_of(const struct view_range *r)
{
    return r->hi - r->lo;
}

static double middle_of(const struct view_range *r)
{
    return (r->lo + r->hi) / 2;
}

static struct aim aim_of(const struct part *p)
{
    double turn = (size_of(&p->range[0]) + size_of(&p->range[1]) + size_of(&p->range[2])) / 2;
    return (struct aim){middle_of(&p->range[0]), middle_of(&p->range[1]), middle_of(&p->range[2]), turn};
}

/* Cuts off and returns half of it, across its longest range. */
static struct part halved(struct part *p)
{
    int longest = size_of(&p->range[1]) > size_of(&p->range[0]) ? 1 : 0;
    if (size_of(&p->range[2]) > size_of(&p->range[longest]))
        longest = 2;
    struct part rest = *p;
    p->range[longest].hi = rest.range[longest].lo = middle_of(&p->range[longest]);
    return rest;
}

/* In parts, each of which is widened by less: those that may show the shape are halved while that can tell. */
static double in_parts(const struct view *view, const struct view_span *s, int k, double enough)
{
    struct part open[LOOKS + 2] = {{{s->azimuth_rad, s->tilt_rad, s->roll_rad}}};
    double least = enough;
    int left = 1;
    open[left++] = halved(&open[0]);
    for (int looks = 0; left > 0; looks++) {
        struct part *p = &open[--left];
        struct aim aim = aim_of(p);
        struct hull seen = looked_into(view, s, &aim);
        double distance = to_shape(view, &seen, k, least);
        if (distance > 0) {
            least = lesser(least, distance);
        } else if (aim.turn < FINE_RAD || looks >= LOOKS || left + 2 > LOOKS) {
            return lesser(distance, 0);
        } else {
            struct part rest = halved(p);
            left++;
            open[left++] = rest;
        }
    }
    return least;
}

static bool range_valid(const struct view_range *r)
{
    return r->lo <= r->hi && shape_length_valid(fabs(r->lo)) && shape_length_valid(fabs(r->hi)); /* false for NaN */
}

static bool angle_valid(double fov)
{
    return fov > 0 && fov < UNITS_HALF_TURN;
}

static bool span_valid(const struct view_span *s)
{
    return shape_point_valid(s->from) && shape_point_valid(s->to) && range_valid(&s->azimuth_rad) &&
           range_valid(&s->tilt_rad) && range_valid(&s->roll_rad) && angle_valid(s->hfov_rad) &&
           angle_valid(s->vfov_rad) && shape_length_valid(s->off_m) && shape_length_valid(s->turn_rad);
}

/* Is it in the picture in the middle of the spans, where nothing is widened? */
static bool shown(const struct view *view, const struct view_span *span, int k)
{
    struct aim middle = {middle_of(&span->azimuth_rad), middle_of(&span->tilt_rad), middle_of(&span->roll_rad), 0};
    struct hull seen = looked_into(view, span, &middle);
    return to_shape(view, &seen, k, 1) <= 0;
}

struct view_answer view_look(const struct view *view, const struct view_span *span, double enough_m)
{
    struct view_answer answer = {INFINITY, -1};
    if (!span_valid(span))
        return (struct view_answer){-INFINITY, -1};
    struct part all = {{span->azimuth_rad, span->tilt_rad, span->roll_rad}};
    struct aim aim = aim_of(&all);
    struct hull seen = looked_into(view, span, &aim);
    for (int k = 0; k < view->shapes; k++) {
        double enough = lesser(enough_m, answer.distance_m);
        double distance = to_shape(view, &seen, k, enough);
        if (distance <= 0 && aim.turn > FINE_RAD && !shown(view, span, k))
            distance = in_parts(view, span, k, enough);
        if (distance < answer.distance_m)
            answer = (struct view_answer){distance, k};
    }
    return answer;
}
