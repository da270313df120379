/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/survey/draw_reach.h"
#include "gateway/survey/plot.h"

enum { LEVELS = 4, COLUMNS = 2, WIDTH = SHEET_WIDTH - 2 * SHEET_MARGIN };

#define AROUND_M 0.4

/* From the lowest to the highest place of the platform. */
static double height_of(const struct figures *f, int level)
{
    return f->low_m + (f->high_m - f->low_m) * level / (LEVELS - 1);
}

static struct shape_box around_stage(const struct site *site)
{
    struct vec3 more = {AROUND_M, AROUND_M, 0};
    return (struct shape_box){vec_sub(site->stage_box.lo, more), vec_add(site->stage_box.hi, more)};
}

static bool level(struct sheet *sheet, const struct draw_input *in, int which, struct pane *pane, double scale)
{
    double z = height_of(in->figures, which), apart = height_of(in->figures, 1) - height_of(in->figures, 0);
    struct shape_box world = around_stage(in->site);
    char text[48];
    snprintf(text, sizeof text, "Plan at z = %.2f m", z);
    *pane = sheet_pane(sheet, DRAWABLE_PLAN, &world, scale, text, SHEET_MARGIN + which % COLUMNS * (WIDTH / COLUMNS),
                       sheet->y);
    bool good = draw_reach_section(sheet, in, pane, z);
    if (fabs(in->figures->worst.at.z - z) <= apart / 2)
        plot_mark(&sheet->svg, pane, in->figures->worst.at, "W");
    pane_frame(&sheet->svg, pane);
    return good;
}

bool draw_levels(const struct draw_input *in, FILE *out)
{
    struct sheet sheet;
    struct shape_box world = around_stage(in->site);
    struct pane pane;
    double across = fmax(world.hi.x - world.lo.x, 0.6 * (world.hi.y - world.lo.y));
    double scale = (WIDTH / COLUMNS - PANE_LEFT - 6) / across;
    bool good = true;
    if (!sheet_begin(&sheet, in->site, 3, "Reach and tension margin by height",
                     "Sections through the stage from the lowest to the highest place that the platform has in it."))
        return false;
    if (!in->reach || !isfinite(in->figures->low_m))
        return draw_reach_unknown(&sheet, out);
    for (int i = 0; i < LEVELS; i++) {
        good = level(&sheet, in, i, &pane, scale) && good;
        if (i % COLUMNS == COLUMNS - 1)
            sheet.y = pane.y + pane_height(&pane) + PANE_BELOW;
    }
    draw_reach_legend(&sheet, in);
    return sheet_end(&sheet, out) && good;
}
