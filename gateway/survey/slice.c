/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/survey/slice.h"

#include <stdlib.h>

enum { ACROSS = 150 };

static bool grid_new(struct contour_grid *g, const struct site *site, enum drawable_view view)
{
    struct vec3 lo = site->stage_box.lo, size = vec_sub(site->stage_box.hi, lo);
    g->step = fmax(pane_across(view, size), pane_up(view, size)) / ACROSS;
    g->columns = (int)ceil(pane_across(view, size) / g->step) + 1;
    g->rows = (int)ceil(pane_up(view, size) / g->step) + 1;
    g->x = pane_across(view, lo);
    g->y = pane_up(view, lo);
    g->value = malloc((size_t)g->columns * (size_t)g->rows * sizeof *g->value);
    return g->value;
}

static void fill(struct contour_grid *g, const struct slice *slice, slice_value *value, const void *context)
{
    for (int i = 0; i < g->columns * g->rows; i++) {
        double across = g->x + i % g->columns * g->step, up = g->y + (double)(i / g->columns) * g->step;
        g->value[i] = value(context, pane_world(slice->view, across, up, slice->depth));
    }
}

/* ---- Loops onto the sheet ---- */

struct drawn {
    struct svg *svg;
    const struct pane *pane;
};

static void take_loop(void *context, const struct plan_point *point, int points)
{
    const struct drawn *d = context;
    struct plan_point *on_sheet = malloc((size_t)points * sizeof *on_sheet);
    if (!on_sheet) {
        d->svg->bad = true;
        return;
    }
    for (int i = 0; i < points; i++)
        on_sheet[i] = pane_at(d->pane, point[i].x, point[i].y);
    svg_loop(d->svg, on_sheet, points);
    free(on_sheet);
}

bool slice_region(struct svg *svg, const struct pane *pane, const struct contour_grid *g, double threshold,
                  const char *class)
{
    struct drawn drawn = {svg, pane};
    svg_loops_begin(svg, class);
    bool good = contour_trace(g, threshold, take_loop, &drawn);
    svg_loops_end(svg);
    return good;
}

static double fits(const void *context, struct vec3 platform)
{
    const struct site *site = context;
    return volume_clearance(&site->bare, &site->now, platform).distance_m;
}

/* A line around where the camera fits; all that follows is cut to that. */
static bool begin(struct svg *svg, const struct pane *pane, const struct site *site, const struct slice *slice,
                  struct contour_grid *g, const char *id)
{
    fill(g, slice, fits, site);
    bool good = slice_region(svg, pane, g, 0, "fit");
    svg_clip_begin(svg, id);
    good = slice_region(svg, pane, g, 0, "cut") && good;
    svg_clip_use(svg, id);
    return good;
}

bool slice_draw(struct svg *svg, const struct pane *pane, const struct site *site, const struct slice *slice,
                const struct slice_bands *bands, slice_value *value, const void *context, const char *id)
{
    static const char *const class[] = {"band-b", "band-c", "band-d"};
    struct contour_grid g;
    if (!grid_new(&g, site, slice->view))
        return false;
    bool good = begin(svg, pane, site, slice, &g, id);
    svg_rect(svg, "band-a", pane->x, pane->y, pane_width(pane), pane_height(pane));
    fill(&g, slice, value, context);
    for (int b = 0; good && b < SLICE_BANDS - 1; b++)
        good = slice_region(svg, pane, &g, bands->limit[b], class[b]);
    svg_clip_end(svg);
    free(g.value);
    return good;
}

bool slice_hatch(struct svg *svg, const struct pane *pane, const struct site *site, const struct slice *slice,
                 slice_value *value, const void *context, const char *id)
{
    struct contour_grid g;
    if (!grid_new(&g, site, slice->view))
        return false;
    bool good = begin(svg, pane, site, slice, &g, id);
    fill(&g, slice, value, context);
    struct drawn drawn = {svg, pane};
    double right = pane->x + pane_width(pane), bottom = pane->y + pane_height(pane);
    svg_loops_begin(svg, "unreached"); /* all of the view but the loops within it */
    svg_loop(svg, (struct plan_point[]){{pane->x, pane->y}, {right, pane->y}, {right, bottom}, {pane->x, bottom}}, 4);
    good = contour_trace(&g, 0, take_loop, &drawn) && good;
    svg_loops_end(svg);
    svg_clip_end(svg);
    free(g.value);
    return good;
}
