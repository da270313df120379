/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/survey/plot.h"

static const char *const class_of[] = {"keep-out", "keep-out-yields", "slow", "no-view"};
static const char *const line_of[] = {"keep-out-line", "keep-out-line", "slow-line", "no-view-line"};

void plot_floor(struct svg *svg, const struct pane *pane)
{
    double y = pane_at(pane, 0, 0).y;
    if (pane->view != DRAWABLE_PLAN)
        svg_line(svg, "floor", pane->x, y, pane->x + pane_width(pane), y);
}

static void onto_sheet(const struct pane *pane, struct drawable *d)
{
    for (int i = 0; i < d->corners; i++)
        d->corner[i] = pane_at(pane, d->corner[i].x, d->corner[i].y);
}

static void plot_solid(struct svg *svg, const struct pane *pane, const struct shape *shape, const char *class)
{
    struct drawable seen;
    drawable_section(shape, pane->view, &pane->world, 0, &seen);
    onto_sheet(pane, &seen);
    svg_polygon(svg, class, seen.corner, seen.corners);
}

void plot_stage(struct svg *svg, const struct pane *pane, const struct site *site)
{
    for (int s = 0; s < site->stages; s++) {
        struct shape shape = {.kind = SHAPE_PRISM, .as.prism = site->stage[s]};
        plot_solid(svg, pane, &shape, "stage");
    }
}

static void plot_height(struct svg *svg, const struct pane *pane, const struct site *site, double z)
{
    struct plan_point from = pane_at(pane, pane_across(pane->view, site->stage_box.lo), z);
    struct plan_point to = pane_at(pane, pane_across(pane->view, site->stage_box.hi), z);
    if (isfinite(z) && pane->view != DRAWABLE_PLAN)
        svg_line(svg, "show-floor", from.x, from.y, to.x, to.y);
}

void plot_heights(struct svg *svg, const struct pane *pane, const struct site *site)
{
    plot_height(svg, pane, site, site->low_m);
    plot_height(svg, pane, site, site->high_m);
}

/* ---- Zones ---- */

/* The mean of the corners. */
static struct plan_point middle_of(const struct drawable *d)
{
    struct plan_point sum = {0, 0};
    for (int i = 0; i < d->corners; i++) {
        sum.x += d->corner[i].x / d->corners;
        sum.y += d->corner[i].y / d->corners;
    }
    return sum;
}

/* Solids of few points, made larger by the padding to all sides; close enough for a dotted line. */
static void pad(struct drawable *d, double by)
{
    struct plan_point m = middle_of(d);
    for (int i = 0; i < d->corners; i++) {
        double dx = d->corner[i].x - m.x, dy = d->corner[i].y - m.y;
        d->corner[i].x += dx > 0 ? by : dx < 0 ? -by : 0;
        d->corner[i].y += dy > 0 ? by : dy < 0 ? -by : 0;
    }
}

static void padding(struct svg *svg, const struct pane *pane, const struct site_zone *zone, const struct drawable *seen)
{
    struct drawable wide = *seen;
    if (zone->padding_m <= 0 || zone->shape.kind == SHAPE_HALF_SPACE)
        return;
    pad(&wide, zone->padding_m);
    onto_sheet(pane, &wide);
    svg_polygon(svg, "padding", wide.corner, wide.corners);
}

static void see_zone(const struct pane *pane, const struct site *site, const struct site_zone *zone,
                     struct drawable *seen)
{
    drawable_section(&zone->shape, pane->view, &pane->world, drawable_depth(pane->view, site->home), seen);
}

static void plot_zone(struct svg *svg, const struct pane *pane, const struct site *site, const struct site_zone *zone,
                      bool filled)
{
    struct drawable seen;
    see_zone(pane, site, zone, &seen);
    if (seen.corners == 0)
        return;
    if (filled)
        padding(svg, pane, zone, &seen);
    onto_sheet(pane, &seen);
    svg_polygon(svg, filled ? class_of[zone->kind] : line_of[zone->kind], seen.corner, seen.corners);
}

/* In the middle of what is solid; in the upper left corner of what has something in it, mostly. */
static struct plan_point name_place(const struct pane *pane, const struct site_zone *zone, const struct drawable *seen)
{
    struct plan_point at = middle_of(seen);
    if (zone->kind == SITE_SLOW || zone->kind == SITE_NO_VIEW) {
        at = seen->corner[0];
        for (int i = 1; i < seen->corners; i++)
            at = (struct plan_point){fmin(at.x, seen->corner[i].x), fmin(at.y, seen->corner[i].y)};
        at.x += 18;
        at.y += 14;
    }
    at.x = fmin(fmax(at.x, pane->x + 16), pane->x + pane_width(pane) - 16);
    at.y = fmin(fmax(at.y, pane->y + 16), pane->y + pane_height(pane) - 16);
    return at;
}

/* Moves a name below those it would hide. */
static void make_room(struct plan_point *at, const struct plan_point *taken, int names)
{
    for (int i = 0; i < names; i++)
        if (fabs(taken[i].x - at->x) < 30 && fabs(taken[i].y - at->y) < 18) {
            at->y = taken[i].y + 18;
            i = -1; /* it may be on another one now; further down there is an end of them */
        }
}

void plot_zones(struct svg *svg, const struct pane *pane, const struct site *site, bool filled)
{
    struct plan_point taken[SITE_MAX_ZONES];
    struct drawable seen;
    int names = 0;
    for (int i = 0; i < site->zones; i++)
        plot_zone(svg, pane, site, &site->zone[i], filled);
    for (int i = 0; i < site->zones; i++) {
        const struct site_zone *zone = &site->zone[i];
        see_zone(pane, site, zone, &seen);
        if (seen.corners == 0)
            continue;
        onto_sheet(pane, &seen);
        struct plan_point at = name_place(pane, zone, &seen);
        make_room(&at, taken, names);
        taken[names++] = at;
        svg_text(svg, "bold", SVG_MIDDLE, at.x, at.y + 7, "%s", zone->label);
    }
}

/* ---- The rig ---- */

static void plot_limb(struct svg *svg, const struct pane *pane, struct vec3 origin, const struct volume_limb *limb)
{
    struct shape shape = {.kind = SHAPE_CAPSULE};
    shape.as.capsule = (struct shape_capsule){vec_add(origin, limb->a), vec_add(origin, limb->b), limb->radius_m};
    plot_solid(svg, pane, &shape, "body");
}

/* Straight: the line. Hanging: how far it may be to the sides, in plan; how low, in elevation. */
static void plot_tether(struct svg *svg, const struct pane *pane, const struct volume_tether *tether, struct vec3 end)
{
    struct plan_point a = pane_point(pane, tether->anchor), q = pane_point(pane, end);
    if (tether->kind == VOLUME_TETHER_NONE)
        return;
    if (tether->kind == VOLUME_TETHER_HANGING && pane->view == DRAWABLE_PLAN) {
        struct shape shape = {.kind = SHAPE_CAPSULE};
        shape.as.capsule = (struct shape_capsule){tether->anchor, end, fmax(tether->side_m + tether->radius_m, 1e-3)};
        plot_solid(svg, pane, &shape, "tether-reach");
    } else if (tether->kind == VOLUME_TETHER_HANGING) {
        double low = fmax(tether->floor_m, (tether->anchor.z + end.z - tether->length_m) / 2);
        double y = pane_at(pane, 0, fmin(low, fmin(tether->anchor.z, end.z))).y;
        svg_polygon(svg, "tether-reach", (struct plan_point[]){a, q, {q.x, y}, {a.x, y}}, 4);
    }
    svg_line(svg, "tether", a.x, a.y, q.x, q.y);
    svg_rect(svg, "anchor", a.x - 7, a.y - 7, 14, 14);
    svg_text(svg, "bold", SVG_MIDDLE, a.x, a.y - 12, "T");
}

void plot_rig(struct svg *svg, const struct pane *pane, const struct site *site)
{
    const struct volume_outline *outline = &site->room.outline;
    struct vec3 lower = vec_along(site->home, (struct vec3){0, 0, -1}, outline->boom_m);
    struct plan_point p = pane_point(pane, site->home), q = pane_point(pane, lower);
    plot_tether(svg, pane, &outline->tether, lower);
    for (int k = 0; k < outline->cords; k++) {
        struct plan_point a = pane_point(pane, outline->anchor[k]);
        svg_line(svg, "cord", a.x, a.y, p.x, p.y);
    }
    for (int i = 0; i < outline->limbs; i++)
        plot_limb(svg, pane, lower, &outline->limb[i]);
    if (pane->view != DRAWABLE_PLAN)
        svg_line(svg, "boom", p.x, p.y, q.x, q.y);
    svg_circle(svg, "platform", p.x, p.y, 7);
    svg_text(svg, "bold", SVG_START, p.x + 13, p.y - 9, "H");
}

/* ---- Anchors ---- */

/* All that fall on this one, in one label; false if it is in the label of an earlier one. */
static bool label_of(const struct pane *pane, const struct volume_outline *outline, int k, char text[48])
{
    struct plan_point here = pane_point(pane, outline->anchor[k]);
    size_t n = 0;
    for (int j = 0; j < outline->cords; j++) {
        struct plan_point p = pane_point(pane, outline->anchor[j]);
        if (hypot(p.x - here.x, p.y - here.y) > 14)
            continue;
        if (j < k)
            return false;
        n += (size_t)snprintf(text + n, 48 - n, "%sA%d", n ? " " : "", j + 1);
    }
    return true;
}

void plot_anchors(struct svg *svg, const struct pane *pane, const struct site *site)
{
    const struct volume_outline *outline = &site->room.outline;
    for (int k = 0; k < outline->cords; k++) {
        struct plan_point p = pane_point(pane, outline->anchor[k]);
        bool left = p.x < pane->x + pane_width(pane) / 2;
        char text[48];
        svg_polygon(svg, "anchor", (struct plan_point[]){{p.x - 10, p.y + 9}, {p.x + 10, p.y + 9}, {p.x, p.y - 10}}, 3);
        if (label_of(pane, outline, k, text))
            svg_text(svg, "bold", left ? SVG_START : SVG_END, p.x + (left ? -10 : 10), p.y - 15, "%s", text);
    }
}

void plot_mark(struct svg *svg, const struct pane *pane, struct vec3 at, const char *label)
{
    struct plan_point p = pane_point(pane, at);
    svg_line(svg, "mark", p.x - 10, p.y - 10, p.x + 10, p.y + 10);
    svg_line(svg, "mark", p.x - 10, p.y + 10, p.x + 10, p.y - 10);
    bool right = p.x > pane->x + pane_width(pane) - 60;
    svg_text(svg, "bold", right ? SVG_END : SVG_START, p.x + (right ? -14 : 14), p.y + 7, "%s", label);
}
