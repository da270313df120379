/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/survey/tell.h"

static void tell_part(char *text, size_t size, const struct volume_clearance *c)
{
    switch (c->part) {
    case VOLUME_BODY:
        snprintf(text, size, "the camera");
        break;
    case VOLUME_BOOM:
        snprintf(text, size, "the boom");
        break;
    case VOLUME_CORD:
        snprintf(text, size, "cord %d", c->cord + 1);
        break;
    case VOLUME_TETHER:
        snprintf(text, size, "the tether");
        break;
    }
}

static void tell_bound(char *text, size_t size, const struct site *site, const struct volume_clearance *c)
{
    static const char *const names[] = {
        [VOLUME_STAGE] = "the edge of the stage",          [VOLUME_FLOOR] = "the floor of the mode",
        [VOLUME_CEILING] = "the ceiling of the mode",      [VOLUME_SUBJECT] = "the subject",
        [VOLUME_REACH] = "where a cord leaves its limits", [VOLUME_TETHER_END] = "the end of its length",
    };
    if (c->bound == VOLUME_KEEPOUT && c->keepout < site->zones)
        snprintf(text, size, "%s \"%s\"", site->zone[c->keepout].label, site->zone[c->keepout].name);
    else
        snprintf(text, size, "%s", names[c->bound]);
}

void tell_clearance(char *text, size_t size, const struct site *site, const struct volume_clearance *c)
{
    char part[32], bound[96];
    tell_part(part, sizeof part, c);
    tell_bound(bound, sizeof bound, site, c);
    if (c->distance_m >= 0)
        snprintf(text, size, "%.2f m, %s from %s", c->distance_m, part, bound);
    else
        snprintf(text, size, "none: %s is %.2f m into or beyond %s", part, -c->distance_m, bound);
}

void tell_margin(char *text, size_t size, const struct site *site, const struct figures_tension *worst)
{
    const struct tension_rig *rig = &site->cords->rig;
    snprintf(text, size, "%.1f N %s the %s limit of cord %d (%.4g N), at x %.2f, y %.2f, z %.2f m",
             fabs(worst->tension_n), worst->tension_n >= 0 ? "from" : "beyond", worst->at_max ? "upper" : "lower",
             worst->cord + 1, worst->at_max ? rig->max_n[worst->cord] : rig->min_n[worst->cord], worst->at.x,
             worst->at.y, worst->at.z);
}
