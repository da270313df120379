/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/survey/pane.h"

enum { APART = 52 }; /* of two grid lines, at least */

double pane_across(enum drawable_view view, struct vec3 p)
{
    return drawable_seen(view, p).x;
}

double pane_up(enum drawable_view view, struct vec3 p)
{
    return drawable_seen(view, p).y;
}

struct vec3 pane_world(enum drawable_view view, double across, double up, double depth)
{
    switch (view) {
    case DRAWABLE_FRONT:
        return (struct vec3){across, depth, up};
    case DRAWABLE_SIDE:
        return (struct vec3){depth, across, up};
    case DRAWABLE_PLAN:
    case DRAWABLE_VIEWS:
        break;
    }
    return (struct vec3){across, up, depth};
}

double pane_width(const struct pane *pane)
{
    return pane->scale * (pane_across(pane->view, pane->world.hi) - pane_across(pane->view, pane->world.lo));
}

double pane_height(const struct pane *pane)
{
    return pane->scale * (pane_up(pane->view, pane->world.hi) - pane_up(pane->view, pane->world.lo));
}

struct plan_point pane_at(const struct pane *pane, double across, double up)
{
    return (struct plan_point){pane->x + pane->scale * (across - pane_across(pane->view, pane->world.lo)),
                               pane->y + pane->scale * (pane_up(pane->view, pane->world.hi) - up)};
}

struct plan_point pane_point(const struct pane *pane, struct vec3 p)
{
    return pane_at(pane, pane_across(pane->view, p), pane_up(pane->view, p));
}

double pane_step(double length, int parts)
{
    double step = 0.1;
    for (int i = 0; i < 24 && step * parts < length; i++)
        step *= i % 3 == 1 ? 2.5 : 2;
    return step;
}

static void lines(struct svg *svg, const struct pane *pane, double step, bool upright)
{
    double lo = upright ? pane_across(pane->view, pane->world.lo) : pane_up(pane->view, pane->world.lo);
    double hi = upright ? pane_across(pane->view, pane->world.hi) : pane_up(pane->view, pane->world.hi);
    double right = pane->x + pane_width(pane), bottom = pane->y + pane_height(pane);
    for (long n = lround(ceil(lo / step - 1e-9)); (double)n * step <= hi + 1e-9 * step; n++) {
        double m = (double)n * step;
        struct plan_point at = upright ? pane_at(pane, m, 0) : pane_at(pane, 0, m);
        if (upright) {
            svg_line(svg, "grid", at.x, pane->y, at.x, bottom);
            svg_text(svg, "small", SVG_MIDDLE, at.x, bottom + 24, "%g", m);
        } else {
            svg_line(svg, "grid", pane->x, at.y, right, at.y);
            svg_text(svg, "small", SVG_END, pane->x - 9, at.y + 6, "%g", m);
        }
    }
}

static void scale_bar(struct svg *svg, const struct pane *pane)
{
    double length = pane_step(0.18 * pane_width(pane) / pane->scale, 2), x = pane->x,
           y = pane->y + pane_height(pane) + 38;
    for (int i = 0; i < 2; i++)
        svg_rect(svg, i ? "scale-light" : "scale-dark", x + i * length * pane->scale, y, length * pane->scale, 9);
    svg_text(svg, "small", SVG_START, x + 2 * length * pane->scale + 8, y + 10, "%g m", 2 * length);
}

void pane_grid(struct svg *svg, const struct pane *pane)
{
    static const char *const across[] = {"x [m]", "x [m]", "y [m]"}, *const up[] = {"y [m]", "z [m]", "z [m]"};
    double step = fmax(pane_step(APART / pane->scale, 1), 0.5);
    lines(svg, pane, step, true);
    lines(svg, pane, step, false);
    svg_text(svg, "small bold", SVG_END, pane->x + pane_width(pane), pane->y + pane_height(pane) + 46, "%s",
             across[pane->view]);
    svg_text(svg, "small bold", SVG_START, pane->x - 58, pane->y - 8, "%s", up[pane->view]);
    scale_bar(svg, pane);
}

void pane_frame(struct svg *svg, const struct pane *pane)
{
    svg_rect(svg, "frame", pane->x, pane->y, pane_width(pane), pane_height(pane));
}
