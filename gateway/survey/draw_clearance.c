/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/survey/draw.h"
#include "gateway/survey/plot.h"
#include "gateway/survey/slice.h"
#include "gateway/survey/tell.h"

static const struct slice_bands bands = {{0, 0.1, 0.3}, "m"};

/* Of everything but reach, which has sheets of its own. */
static double clearance(const void *context, struct vec3 platform)
{
    const struct draw_input *in = context;
    return volume_clearance(&in->site->room, &in->site->now, platform).distance_m;
}

static void legend(struct sheet *sheet, const struct draw_input *in)
{
    char nearest[160];
    tell_clearance(nearest, sizeof nearest, in->site, &in->figures->at_home);
    sheet_heading(sheet, "Legend");
    sheet_note(sheet,
               "Coloured: where the platform may be with boom and camera inside the stage. Its colour: how near any "
               "part of the rig (camera, boom, cords, tether) then is to the edge of the stage, or to a keep-out and "
               "its padding, at rest. While it runs it keeps further off: margin, latency, braking and swing.");
    sheet_legend(sheet, SHEET_AREA, "band-a", "touches: never there");
    sheet_legend(sheet, SHEET_AREA, "band-b", "0 to %g m", bands.limit[1]);
    sheet_legend(sheet, SHEET_AREA, "band-c", "%g to %g m", bands.limit[1], bands.limit[2]);
    sheet_legend(sheet, SHEET_AREA, "band-d", "%g m or more", bands.limit[2]);
    sheet_legend(sheet, SHEET_LABEL, "H", "home: %s", nearest);
    sheet_legend(sheet, SHEET_AREA, "stage", "stage");
    sheet_legend(sheet, SHEET_AREA, "keep-out-line", "keep-outs and other zones, as on sheet 1");
}

bool draw_clearance(const struct draw_input *in, FILE *out)
{
    struct sheet sheet;
    struct pane pane[DRAWABLE_VIEWS];
    bool good = true;
    if (!sheet_begin(&sheet, in->site, 4, "Clearance of the rig at rest",
                     "Sections through home: how near anything that moves is to anything it must not touch."))
        return false;
    sheet_sections(&sheet, &in->site->box, in->site->home, pane);
    for (int v = 0; v < DRAWABLE_VIEWS; v++) {
        struct slice slice = {(enum drawable_view)v, drawable_depth((enum drawable_view)v, in->site->home)};
        char id[16];
        snprintf(id, sizeof id, "bands-%d", v);
        plot_floor(&sheet.svg, &pane[v]);
        good = slice_draw(&sheet.svg, &pane[v], in->site, &slice, &bands, clearance, in, id) && good;
        plot_zones(&sheet.svg, &pane[v], in->site, false);
        plot_stage(&sheet.svg, &pane[v], in->site);
        plot_rig(&sheet.svg, &pane[v], in->site);
        plot_anchors(&sheet.svg, &pane[v], in->site);
        pane_frame(&sheet.svg, &pane[v]);
    }
    legend(&sheet, in);
    return sheet_end(&sheet, out) && good;
}
