/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/survey/draw_reach.h"
#include "gateway/survey/plot.h"
#include "gateway/survey/slice.h"
#include "gateway/survey/tell.h"

static double margin(const void *context, struct vec3 platform)
{
    const struct draw_input *in = context;
    struct tension_state s;
    tension_solve(&in->site->cords->rig, platform, (struct vec3){0, 0, 0}, &s);
    return s.margin_n;
}

static double depth(const void *context, struct vec3 platform)
{
    const struct draw_input *in = context;
    return figures_held(in->reach, platform);
}

/* Round numbers, such that all bands are there to be seen. */
static struct slice_bands bands_of(const struct figures *figures)
{
    double narrow = pane_step(fmax(figures->best.tension_n, 0.1), 8);
    return (struct slice_bands){{0, narrow, 2 * narrow}, "N"};
}

bool draw_reach_section(struct sheet *sheet, const struct draw_input *in, const struct pane *pane, double at)
{
    const struct slice slice = {pane->view, at};
    const struct slice_bands bands = bands_of(in->figures);
    char id[2][48];
    snprintf(id[0], sizeof id[0], "bands-%.0f-%.0f", pane->x, pane->y);
    snprintf(id[1], sizeof id[1], "edge-%.0f-%.0f", pane->x, pane->y);
    plot_floor(&sheet->svg, pane);
    bool good = slice_draw(&sheet->svg, pane, in->site, &slice, &bands, margin, in, id[0]);
    good = good && slice_hatch(&sheet->svg, pane, in->site, &slice, depth, in, id[1]);
    plot_zones(&sheet->svg, pane, in->site, false);
    plot_stage(&sheet->svg, pane, in->site);
    return good;
}

void draw_reach_legend(struct sheet *sheet, const struct draw_input *in)
{
    const struct site *site = in->site;
    const struct slice_bands b = bands_of(in->figures);
    char worst[160];
    tell_margin(worst, sizeof worst, site, &in->figures->worst);
    sheet_heading(sheet, "Legend");
    sheet_note(sheet, "Coloured: where the platform may be with boom and camera inside the stage. Its colour: how far "
                      "every cord can stay from both its limits, at rest.");
    sheet_legend(sheet, SHEET_AREA, "band-a", "beyond a limit: a cord goes slack, or over its most");
    sheet_legend(sheet, SHEET_AREA, "band-b", "0 to %g N from a limit", b.limit[1]);
    sheet_legend(sheet, SHEET_AREA, "band-c", "%g to %g N from a limit", b.limit[1], b.limit[2]);
    sheet_legend(sheet, SHEET_AREA, "band-d", "%g N from any limit, or more", b.limit[2]);
    sheet_legend(
        sheet, SHEET_AREA, "unreached-swatch",
        "out of reach: not proven to hold within limits with %.2g m/s2 in reserve in any direction, %.2g m or more "
        "from every anchor",
        site->cords->reserve_mps2, site->cords->min_length_m);
    sheet_legend(sheet, SHEET_CROSS, "mark", "W: the least margin, %s", worst);
    sheet_legend(sheet, SHEET_AREA, "stage", "stage; dashed: keep-outs and other zones, as on sheet 1");
    for (int k = 0; k < site->cords->rig.cords; k++)
        if (k == 0 || site->cords->rig.min_n[k] < site->cords->rig.min_n[k - 1] ||
            site->cords->rig.max_n[k] < site->cords->rig.max_n[k - 1])
            sheet_note(sheet, "Limits of cord %d%s: %.4g to %.4g N. All that hangs: %.4g kg.", k + 1,
                       k == 0 ? " and those like it" : "", site->cords->rig.min_n[k], site->cords->rig.max_n[k],
                       site->cords->rig.mass_kg);
}

bool draw_reach_unknown(struct sheet *sheet, FILE *out)
{
    sheet_note(sheet,
               "The show file does not say what the cords may carry, nor what hangs on them (rig.cords), so nothing "
               "is known of tensions and reach. Nothing here says that the rig holds.");
    return sheet_end(sheet, out);
}

bool draw_reach(const struct draw_input *in, FILE *out)
{
    struct sheet sheet;
    struct pane pane[DRAWABLE_VIEWS];
    bool good = true;
    if (!sheet_begin(&sheet, in->site, 2, "Reach and tension margin",
                     "Sections through home: where the cords hold the camera, and how far they are from their limits."))
        return false;
    if (!in->reach)
        return draw_reach_unknown(&sheet, out);
    sheet_sections(&sheet, &in->site->box, in->site->home, pane);
    for (int v = 0; v < DRAWABLE_VIEWS; v++) {
        good = draw_reach_section(&sheet, in, &pane[v], drawable_depth((enum drawable_view)v, in->site->home)) && good;
        plot_mark(&sheet.svg, &pane[v], in->figures->worst.at, "W");
        plot_rig(&sheet.svg, &pane[v], in->site);
        plot_anchors(&sheet.svg, &pane[v], in->site);
        pane_frame(&sheet.svg, &pane[v]);
    }
    draw_reach_legend(&sheet, in);
    return sheet_end(&sheet, out) && good;
}
