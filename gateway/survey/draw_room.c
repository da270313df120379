/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/survey/draw.h"
#include "gateway/survey/plot.h"

static void view(struct sheet *sheet, const struct site *site, const struct pane *pane)
{
    plot_floor(&sheet->svg, pane);
    plot_zones(&sheet->svg, pane, site, true);
    plot_stage(&sheet->svg, pane, site);
    plot_heights(&sheet->svg, pane, site);
    plot_rig(&sheet->svg, pane, site);
    plot_anchors(&sheet->svg, pane, site);
    pane_frame(&sheet->svg, pane);
}

static void describe_zone(struct sheet *sheet, const struct site_zone *zone)
{
    static const char *const kind[] = {"keep-out", "keep-out, yields while a spotter holds", "slow zone",
                                       "keep-out of the picture"};
    char heights[64], more[48] = "";
    double lo, hi;
    site_heights(&zone->shape, &lo, &hi);
    if (isfinite(lo))
        snprintf(heights, sizeof heights, "z %.2f to %.2f m", lo, hi);
    else
        snprintf(heights, sizeof heights, "half-space, drawn in section through home");
    if (zone->padding_m > 0)
        snprintf(more, sizeof more, ", padding %.2f m", zone->padding_m);
    if (zone->kind == SITE_SLOW)
        snprintf(more, sizeof more, ", at most %.2f m/s", zone->speed_mps);
    sheet_legend(sheet, SHEET_LABEL, zone->label, "%s: %s, %s%s", zone->name, kind[zone->kind], heights, more);
}

static void describe_anchor(struct sheet *sheet, const struct draw_input *in, int k)
{
    struct vec3 a = in->site->room.outline.anchor[k];
    char label[SITE_LABEL], pull[64] = "";
    snprintf(label, sizeof label, "A%d", k + 1);
    if (in->reach && in->figures->home_holds)
        snprintf(pull, sizeof pull, ", wanted to pull %.1f N", in->figures->home_n[k]);
    sheet_legend(sheet, SHEET_LABEL, label, "anchor of cord %d: x %.2f, y %.2f, z %.2f m; at home %.2f m long%s", k + 1,
                 a.x, a.y, a.z, vec_norm(vec_sub(a, in->site->home)), pull);
}

static bool has(const struct site *site, enum site_kind kind)
{
    for (int i = 0; i < site->zones; i++)
        if (site->zone[i].kind == kind)
            return true;
    return false;
}

static void legend(struct sheet *sheet, const struct draw_input *in)
{
    const struct site *site = in->site;
    struct vec3 h = site->home;
    sheet_heading(sheet, "Legend");
    sheet_legend(sheet, SHEET_AREA, "stage", "stage: camera and boom stay inside, z %.2f to %.2f m",
                 site->stage_box.lo.z, site->stage_box.hi.z);
    if (isfinite(site->low_m))
        sheet_legend(sheet, SHEET_LINE, "show-floor", "not below z %.2f m unless a spotter holds", site->low_m);
    if (isfinite(site->high_m))
        sheet_legend(sheet, SHEET_LINE, "show-floor", "not above z %.2f m in a show", site->high_m);
    if (has(site, SITE_KEEP_OUT) || has(site, SITE_KEEP_OUT_YIELDS))
        sheet_legend(sheet, SHEET_AREA, "keep-out", "keep-out; dotted around it: its padding");
    if (has(site, SITE_SLOW))
        sheet_legend(sheet, SHEET_AREA, "slow", "slow zone");
    if (has(site, SITE_NO_VIEW))
        sheet_legend(sheet, SHEET_AREA, "no-view", "keep-out of the picture: the camera may pass, not look");
    sheet_legend(sheet, SHEET_LINE, "cord", "cord, with the platform at home");
    sheet_legend(sheet, SHEET_LABEL, "H", "home of the platform: x %.2f, y %.2f, z %.2f m; below it boom and camera",
                 h.x, h.y, h.z);
    if (site->room.outline.tether.kind == VOLUME_TETHER_HANGING)
        sheet_legend(sheet, SHEET_AREA, "tether-reach", "T: tether, %.2f m, and where it may hang",
                     site->room.outline.tether.length_m);
    else if (site->room.outline.tether.kind != VOLUME_TETHER_NONE)
        sheet_legend(sheet, SHEET_LINE, "tether", "T: tether, kept straight, %.2f m at most",
                     site->room.outline.tether.length_m);
    for (int k = 0; k < site->room.outline.cords; k++)
        describe_anchor(sheet, in, k);
    for (int i = 0; i < site->zones; i++)
        describe_zone(sheet, &site->zone[i]);
}

bool draw_room(const struct draw_input *in, FILE *out)
{
    static const char *const caption[] = {"Plan, from above", "Front, looking along +y", "Side, looking along -x"};
    struct sheet sheet;
    struct pane pane[DRAWABLE_VIEWS];
    if (!sheet_begin(&sheet, in->site, 1, "The room, and the rig at home",
                     "Stage, keep-outs, anchors and cords as the show file has them."))
        return false;
    sheet_views(&sheet, &in->site->box, caption, pane);
    for (int v = 0; v < DRAWABLE_VIEWS; v++)
        view(&sheet, in->site, &pane[v]);
    legend(&sheet, in);
    return sheet_end(&sheet, out);
}
