/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Writes one SVG 1.1 picture. Looks come from classes and patterns of one style sheet, svg_style.c: Okabe and Ito's
 * colours, each with a hatching of its own, so that nothing is told by colour alone and a black-and-white print says
 * the same.
 *
 * The same calls give the same bytes. All text is escaped; what XML cannot hold (control characters) or what would
 * reorder its neighbours (bidirectional controls) becomes a replacement character.
 */
#ifndef STEADYHAND_SURVEY_SVG_H
#define STEADYHAND_SURVEY_SVG_H

#include <stdbool.h>
#include <stdio.h>

#include "gateway/show/plan.h"

struct svg {
    FILE *out;
    bool bad; /* a number was not finite: the picture is not to be shown */
};

/* Everything but the content, which is drawn on a struct svg of its own first, as only then its height is known. Title
 * and description are read out by screen readers. */
void svg_begin(struct svg *svg, double width, double height, const char *title, const char *description);
/* False if anything could not be written, or was not a number. */
bool svg_end(struct svg *svg);

/* What is drawn after svg_clip_use() is cut to the shapes drawn before it, until svg_clip_end(). id: unique in the
 * picture. */
void svg_clip_begin(struct svg *svg, const char *id);
void svg_clip_use(struct svg *svg, const char *id);
void svg_clip_end(struct svg *svg);

void svg_line(struct svg *svg, const char *class, double x1, double y1, double x2, double y2);
void svg_rect(struct svg *svg, const char *class, double x, double y, double width, double height);
void svg_circle(struct svg *svg, const char *class, double x, double y, double radius);
void svg_polygon(struct svg *svg, const char *class, const struct plan_point *point, int points);

/* One path of many closed loops, inside and outside told apart by the even-odd rule. */
void svg_loops_begin(struct svg *svg, const char *class);
void svg_loop(struct svg *svg, const struct plan_point *point, int points);
void svg_loops_end(struct svg *svg);

enum svg_align { SVG_START, SVG_MIDDLE, SVG_END };

void svg_text(struct svg *svg, const char *class, enum svg_align align, double x, double y, const char *format, ...)
    __attribute__((format(printf, 6, 7)));

/* The style sheet and the patterns. */
void svg_style(FILE *out);

#endif
