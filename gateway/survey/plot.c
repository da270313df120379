/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/survey/plot.h"

#include <string.h>

#include "gateway/survey/silhouette.h"

static const char *const class_of[] = {"keep-out", "keep-out-yields", "slow", "no-view"};
static const char *const line_of[] = {"keep-out-line", "keep-out-line", "slow-line", "no-view-line"};

void plot_floor(struct svg *svg, const struct pane *pane)
{
    double y = pane_at(pane, 0, 0).y;
    if (pane->view != PANE_PLAN)
        svg_line(svg, "floor", pane->x, y, pane->x + pane_width(pane), y);
}

static void onto_sheet(const struct pane *pane, struct svg_point *point, int points)
{
    for (int i = 0; i < points; i++)
        point[i] = pane_at(pane, point[i].x, point[i].y);
}

void plot_stage(struct svg *svg, const struct pane *pane, const struct site *site)
{
    struct svg_point point[SILHOUETTE_MAX_POINTS];
    for (int s = 0; s < site->stages; s++) {
        struct shape shape = {.kind = SHAPE_PRISM, .as.prism = site->stage[s]};
        int n = silhouette_of(&shape, pane->view, &pane->world, 0, point);
        onto_sheet(pane, point, n);
        svg_polygon(svg, "stage", point, n);
    }
}

static void plot_height(struct svg *svg, const struct pane *pane, const struct site *site, double z)
{
    struct svg_point from = pane_at(pane, pane_across(pane->view, site->stage_box.lo), z);
    struct svg_point to = pane_at(pane, pane_across(pane->view, site->stage_box.hi), z);
    if (isfinite(z) && pane->view != PANE_PLAN)
        svg_line(svg, "show-floor", from.x, from.y, to.x, to.y);
}

void plot_heights(struct svg *svg, const struct pane *pane, const struct site *site)
{
    plot_height(svg, pane, site, site->low_m);
    plot_height(svg, pane, site, site->high_m);
}

/* ---- Zones ---- */

/* Solids of few points, made larger by the padding to all sides; close enough for a dotted line. */
static void pad(struct svg_point *point, int n, double by)
{
    struct svg_point m = silhouette_middle(point, n);
    for (int i = 0; i < n; i++) {
        double dx = point[i].x - m.x, dy = point[i].y - m.y;
        point[i].x += dx > 0 ? by : dx < 0 ? -by : 0;
        point[i].y += dy > 0 ? by : dy < 0 ? -by : 0;
    }
}

static void padding(struct svg *svg, const struct pane *pane, const struct site_zone *zone, struct svg_point *point,
                    int n)
{
    struct svg_point wide[SILHOUETTE_MAX_POINTS];
    if (zone->padding_m <= 0 || zone->shape.kind == SHAPE_HALF_SPACE)
        return;
    memcpy(wide, point, (size_t)n * sizeof *wide);
    pad(wide, n, zone->padding_m);
    onto_sheet(pane, wide, n);
    svg_polygon(svg, "padding", wide, n);
}

static void plot_zone(struct svg *svg, const struct pane *pane, const struct site *site, const struct site_zone *zone,
                      bool filled)
{
    struct svg_point point[SILHOUETTE_MAX_POINTS];
    int n = silhouette_of(&zone->shape, pane->view, &pane->world, pane_depth(pane->view, site->home), point);
    if (n == 0)
        return;
    if (filled)
        padding(svg, pane, zone, point, n);
    onto_sheet(pane, point, n);
    svg_polygon(svg, filled ? class_of[zone->kind] : line_of[zone->kind], point, n);
}

/* In the middle of what is solid; in the upper left corner of what has something in it, mostly. */
static struct svg_point name_place(const struct pane *pane, const struct site_zone *zone, const struct svg_point *point,
                                   int n)
{
    struct svg_point at = silhouette_middle(point, n);
    if (zone->kind == SITE_SLOW || zone->kind == SITE_NO_VIEW) {
        at = point[0];
        for (int i = 1; i < n; i++)
            at = (struct svg_point){fmin(at.x, point[i].x), fmin(at.y, point[i].y)};
        at.x += 18;
        at.y += 14;
    }
    at.x = fmin(fmax(at.x, pane->x + 16), pane->x + pane_width(pane) - 16);
    at.y = fmin(fmax(at.y, pane->y + 16), pane->y + pane_height(pane) - 16);
    return at;
}

/* Moves a name below those it would hide. */
static void make_room(struct svg_point *at, const struct svg_point *taken, int names)
{
    for (int i = 0; i < names; i++)
        if (fabs(taken[i].x - at->x) < 30 && fabs(taken[i].y - at->y) < 18) {
            at->y = taken[i].y + 18;
            i = -1; /* it may be on another one now; further down there is an end of them */
        }
}

void plot_zones(struct svg *svg, const struct pane *pane, const struct site *site, bool filled)
{
    struct svg_point point[SILHOUETTE_MAX_POINTS], taken[SITE_MAX_ZONES];
    int names = 0;
    for (int i = 0; i < site->zones; i++)
        plot_zone(svg, pane, site, &site->zone[i], filled);
    for (int i = 0; i < site->zones; i++) {
        const struct site_zone *zone = &site->zone[i];
        int n = silhouette_of(&zone->shape, pane->view, &pane->world, pane_depth(pane->view, site->home), point);
        if (n == 0)
            continue;
        onto_sheet(pane, point, n);
        struct svg_point at = name_place(pane, zone, point, n);
        make_room(&at, taken, names);
        taken[names++] = at;
        svg_text(svg, "bold", SVG_MIDDLE, at.x, at.y + 7, "%s", zone->label);
    }
}

/* ---- The rig ---- */

static void plot_limb(struct svg *svg, const struct pane *pane, struct vec3 origin, const struct volume_limb *limb)
{
    struct svg_point point[SILHOUETTE_MAX_POINTS];
    struct shape shape = {.kind = SHAPE_CAPSULE};
    shape.as.capsule = (struct shape_capsule){vec_add(origin, limb->a), vec_add(origin, limb->b), limb->radius_m};
    int n = silhouette_of(&shape, pane->view, &pane->world, 0, point);
    onto_sheet(pane, point, n);
    svg_polygon(svg, "body", point, n);
}

/* Straight: the line. Hanging: how far it may be to the sides, in plan; how low, in elevation. */
static void plot_tether(struct svg *svg, const struct pane *pane, const struct volume_tether *tether, struct vec3 end)
{
    struct svg_point a = pane_point(pane, tether->anchor), q = pane_point(pane, end), point[SILHOUETTE_MAX_POINTS];
    if (tether->kind == VOLUME_TETHER_NONE)
        return;
    if (tether->kind == VOLUME_TETHER_HANGING && pane->view == PANE_PLAN) {
        struct shape shape = {.kind = SHAPE_CAPSULE};
        shape.as.capsule = (struct shape_capsule){tether->anchor, end, fmax(tether->side_m + tether->radius_m, 1e-3)};
        int n = silhouette_of(&shape, pane->view, &pane->world, 0, point);
        onto_sheet(pane, point, n);
        svg_polygon(svg, "tether-reach", point, n);
    } else if (tether->kind == VOLUME_TETHER_HANGING) {
        double low = fmax(tether->floor_m, (tether->anchor.z + end.z - tether->length_m) / 2);
        double y = pane_at(pane, 0, fmin(low, fmin(tether->anchor.z, end.z))).y;
        svg_polygon(svg, "tether-reach", (struct svg_point[]){a, q, {q.x, y}, {a.x, y}}, 4);
    }
    svg_line(svg, "tether", a.x, a.y, q.x, q.y);
    svg_rect(svg, "anchor", a.x - 7, a.y - 7, 14, 14);
    svg_text(svg, "bold", SVG_MIDDLE, a.x, a.y - 12, "T");
}

void plot_rig(struct svg *svg, const struct pane *pane, const struct site *site)
{
    const struct volume_outline *outline = &site->room.outline;
    struct vec3 lower = vec_along(site->home, (struct vec3){0, 0, -1}, outline->boom_m);
    struct svg_point p = pane_point(pane, site->home), q = pane_point(pane, lower);
    plot_tether(svg, pane, &outline->tether, lower);
    for (int k = 0; k < outline->cords; k++) {
        struct svg_point a = pane_point(pane, outline->anchor[k]);
        svg_line(svg, "cord", a.x, a.y, p.x, p.y);
    }
    for (int i = 0; i < outline->limbs; i++)
        plot_limb(svg, pane, lower, &outline->limb[i]);
    if (pane->view != PANE_PLAN)
        svg_line(svg, "boom", p.x, p.y, q.x, q.y);
    svg_circle(svg, "platform", p.x, p.y, 7);
    svg_text(svg, "bold", SVG_START, p.x + 13, p.y - 9, "H");
}

/* ---- Anchors ---- */

/* All that fall on this one, in one label; false if it is in the label of an earlier one. */
static bool label_of(const struct pane *pane, const struct volume_outline *outline, int k, char text[48])
{
    struct svg_point here = pane_point(pane, outline->anchor[k]);
    size_t n = 0;
    for (int j = 0; j < outline->cords; j++) {
        struct svg_point p = pane_point(pane, outline->anchor[j]);
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
        struct svg_point p = pane_point(pane, outline->anchor[k]);
        bool left = p.x < pane->x + pane_width(pane) / 2;
        char text[48];
        svg_polygon(svg, "anchor", (struct svg_point[]){{p.x - 10, p.y + 9}, {p.x + 10, p.y + 9}, {p.x, p.y - 10}}, 3);
        if (label_of(pane, outline, k, text))
            svg_text(svg, "bold", left ? SVG_START : SVG_END, p.x + (left ? -10 : 10), p.y - 15, "%s", text);
    }
}

void plot_mark(struct svg *svg, const struct pane *pane, struct vec3 at, const char *label)
{
    struct svg_point p = pane_point(pane, at);
    svg_line(svg, "mark", p.x - 10, p.y - 10, p.x + 10, p.y + 10);
    svg_line(svg, "mark", p.x - 10, p.y + 10, p.x + 10, p.y - 10);
    bool right = p.x > pane->x + pane_width(pane) - 60;
    svg_text(svg, "bold", right ? SVG_END : SVG_START, p.x + (right ? -14 : 14), p.y + 7, "%s", label);
}
