/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include <stdlib.h>

#include "gateway/survey/draw.h"
#include "gateway/survey/plot.h"
#include "gateway/survey/slice.h"

#define AROUND_M 0.3

enum { INWARDS = 45 }; /* of a name from its line */

static struct shape_box world_of(const struct draw_input *in)
{
    struct shape_box a = in->site->box, b = in->fall->box;
    return (struct shape_box){
        {fmin(a.lo.x, b.lo.x - AROUND_M), fmin(a.lo.y, b.lo.y - AROUND_M), fmin(a.lo.z, b.lo.z - AROUND_M)},
        {fmax(a.hi.x, b.hi.x + AROUND_M), fmax(a.hi.y, b.hi.y + AROUND_M), fmax(a.hi.z, b.hi.z + AROUND_M)}};
}

static void outline(struct svg *svg, const struct pane *pane, const struct fall *fall, const struct fall_outline *o,
                    const char *class)
{
    struct plan_point point[FALL_SIDES];
    for (int i = 0; i < fall->sides; i++)
        point[i] = pane_at(pane, o->corner[i].x, o->corner[i].y);
    if (o->any)
        svg_polygon(svg, class, point, fall->sides);
}

static void class_of(char text[16], int cord)
{
    snprintf(text, 16, "fall-%d", cord % 8);
}

/* The name of a cord's outline stands on it, where it is furthest from its own anchor. */
static void name_outline(struct svg *svg, const struct pane *pane, const struct draw_input *in, int cord)
{
    const struct fall_outline *o = &in->fall->cord[cord];
    struct vec3 a = in->site->room.outline.anchor[cord];
    int far = 0;
    for (int i = 1; i < in->fall->sides; i++)
        if (hypot(o->corner[i].x - a.x, o->corner[i].y - a.y) > hypot(o->corner[far].x - a.x, o->corner[far].y - a.y))
            far = i;
    struct plan_point p = pane_at(pane, o->corner[far].x, o->corner[far].y);
    struct plan_point m = {pane->x + pane_width(pane) / 2, pane->y + pane_height(pane) / 2};
    double inwards = INWARDS / fmax(hypot(m.x - p.x, m.y - p.y), INWARDS);
    if (o->any)
        svg_text(svg, "bold", SVG_MIDDLE, p.x + inwards * (m.x - p.x), p.y + inwards * (m.y - p.y), "P%d", cord + 1);
}

static void in_plan(struct svg *svg, const struct pane *pane, const struct draw_input *in)
{
    const struct fall *fall = in->fall;
    outline(svg, pane, fall, &fall->all, "fall-all");
    for (int k = 0; k < fall->cords; k++) {
        char class[16];
        class_of(class, k);
        outline(svg, pane, fall, &fall->cord[k], class);
    }
    for (int k = 0; k < fall->cords; k++)
        name_outline(svg, pane, in, k);
}

/* Cells are there or not; their mean with their neighbours makes a smooth edge, a little outside of them. */
static bool in_elevation(struct svg *svg, const struct pane *pane, const struct contour_grid *seen)
{
    struct contour_grid smooth = *seen;
    int columns = seen->columns, rows = seen->rows;
    smooth.value = malloc((size_t)columns * (size_t)rows * sizeof *smooth.value);
    for (int i = 0; smooth.value && i < columns * rows; i++) {
        int x = i % columns, y = i / columns, n = 0;
        smooth.value[i] = 0;
        for (int dy = -1; dy <= 1; dy++)
            for (int dx = -1; dx <= 1; dx++)
                if (x + dx >= 0 && x + dx < columns && y + dy >= 0 && y + dy < rows) {
                    smooth.value[i] += seen->value[i + dx + dy * columns];
                    n++;
                }
        smooth.value[i] /= n;
    }
    bool good = smooth.value && slice_region(svg, pane, &smooth, 0.2, "fall-all");
    free(smooth.value);
    return good;
}

static bool view(struct sheet *sheet, const struct draw_input *in, const struct pane *pane)
{
    struct svg *svg = &sheet->svg;
    bool good = true;
    if (pane->view == DRAWABLE_PLAN)
        in_plan(svg, pane, in);
    else
        good = in_elevation(svg, pane, &in->fall->seen[pane->view]);
    plot_floor(svg, pane);
    plot_zones(svg, pane, in->site, false);
    plot_stage(svg, pane, in->site);
    plot_anchors(svg, pane, in->site);
    if (pane->view == DRAWABLE_PLAN && in->fall->beyond_m > 0)
        plot_mark(svg, pane, (struct vec3){in->fall->beyond_at.x, in->fall->beyond_at.y, 0}, "F");
    pane_frame(svg, pane);
    return good;
}

static void legend(struct sheet *sheet, const struct draw_input *in)
{
    const struct fall *fall = in->fall;
    sheet_heading(sheet, "Legend");
    sheet_legend(
        sheet, SHEET_AREA, "fall-all",
        "where any part of the camera can get when one cord parts, whichever, from anywhere on the stage: %.1f m2",
        fall->area_m2);
    for (int k = 0; k < fall->cords; k++) {
        char class[16];
        class_of(class, k);
        sheet_legend(sheet, SHEET_LINE, class, "P%d: when cord %d parts", k + 1, k + 1);
    }
    if (fall->beyond_m > 0)
        sheet_legend(sheet, SHEET_CROSS, "mark", "F: furthest beyond the stage, %.2f m (cord %d)", fall->beyond_m,
                     fall->beyond_cord + 1);
    sheet_legend(sheet, SHEET_AREA, "stage", "stage; dashed: keep-outs and other zones, as on sheet 1");
    sheet_note(sheet,
               "The cords that hold are ropes of the length they had (winches braked) and %.2f m of give; the camera "
               "swings on them anywhere above the floor, boom and body to any side. Outlines are convex, and leave out "
               "no place on the stage; they may be %.1f m too wide.",
               FALL_GIVE_M, fall->tolerance_m);
    sheet_note(sheet,
               "Left out: a second cord that parts under the load of the first, a rope that whips back (further than "
               "anything drawn), winches that pay out, anchors that give, what is hit and thrown.");
}

bool draw_fall(const struct draw_input *in, FILE *out)
{
    static const char *const caption[] = {"Plan, from above", "Front, looking along +y", "Side, looking along -x"};
    struct sheet sheet;
    struct shape_box world = world_of(in);
    struct pane pane[DRAWABLE_VIEWS];
    bool good = true;
    if (!sheet_begin(&sheet, in->site, 5, "Failure footprint: one cord parts",
                     "Where the camera can end up. Keep people out of it, and away from its edge."))
        return false;
    sheet_views(&sheet, &world, caption, pane);
    for (int v = 0; v < DRAWABLE_VIEWS; v++)
        good = view(&sheet, in, &pane[v]) && good;
    legend(&sheet, in);
    return sheet_end(&sheet, out) && good;
}
