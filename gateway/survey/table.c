/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/survey/table.h"

#include <stdarg.h>

#include "gateway/survey/tell.h"
#include "gateway/survey/text.h"

static void __attribute__((format(printf, 3, 4))) row(FILE *out, const char *what, const char *format, ...)
{
    char text[256];
    va_list args;
    va_start(args, format);
    vsnprintf(text, sizeof text, format, args);
    va_end(args);
    fprintf(out, "  %-24s ", what);
    text_put(out, text);
    fputc('\n', out);
}

static double percent(double part, double whole)
{
    return whole > 0 ? 100 * part / whole : 0;
}

static void tension_rows(const struct draw_input *in, FILE *out)
{
    const struct figures *f = in->figures;
    const struct figures_tension *h = &f->highest;
    char margin[160];
    tell_margin(margin, sizeof margin, in->site, &f->worst);
    const struct tension_rig *rig = &in->site->cords->rig;
    row(out, "reachable", "%.1f m3, %.0f %% of that: proven to within %.2g m, with %.3g m/s2 in reserve",
        f->reachable_m3, percent(f->reachable_m3, f->fits_m3), in->reach->error_m, in->site->cords->reserve_mps2);
    row(out, "reachable and clear", "%.1f m3, %.0f %%", f->usable_m3, percent(f->usable_m3, f->fits_m3));
    row(out, "worst tension margin", "%s", margin);
    if (h->tension_n > 0)
        row(out, "highest tension wanted", "%.1f N of %.4g N, %.0f %%: cord %d at x %.2f y %.2f z %.2f m", h->tension_n,
            rig->max_n[h->cord], percent(h->tension_n, rig->max_n[h->cord]), h->cord + 1, h->at.x, h->at.y, h->at.z);
    else
        row(out, "highest tension wanted", "none: the cords hold the load nowhere on the stage");
}

void table_print(const struct draw_input *in, FILE *out)
{
    const struct figures *f = in->figures;
    struct vec3 size = vec_sub(in->site->stage_box.hi, in->site->stage_box.lo);
    char nearest[160];
    tell_clearance(nearest, sizeof nearest, in->site, &f->at_home);
    row(out, "stage", "%.1f m3, %.2f x %.2f m, z %.2f to %.2f m", f->stage_m3, size.x, size.y, in->site->stage_box.lo.z,
        in->site->stage_box.hi.z);
    row(out, "room for the platform", "%.1f m3, with boom and camera inside the stage", f->fits_m3);
    row(out, "clear of keep-outs", "%.1f m3, %.0f %% of that, at rest", f->clear_m3, percent(f->clear_m3, f->fits_m3));
    if (in->reach)
        tension_rows(in, out);
    else
        row(out, "tensions and reach", "not known: the show file does not say what the cords may carry (rig.cords)");
    row(out, "least clearance at home", "%s", nearest);
    row(out, "one cord parts", "%.1f m2 for the camera to get to, up to %.2f m beyond the stage (cord %d)",
        in->fall->area_m2, in->fall->beyond_m, in->fall->beyond_cord + 1);
}
