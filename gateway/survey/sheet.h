/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * A drawing sheet: heading, views, legend, notes, title block and cautions. Nearly as an A4 page is, if the legend is
 * not too long, and with text large enough for a phone. No date: the same show gives the same sheet; whoever signs it
 * writes one.
 */
#ifndef STEADYHAND_SURVEY_SHEET_H
#define STEADYHAND_SURVEY_SHEET_H

#include "gateway/survey/pane.h"
#include "gateway/survey/site.h"
#include "gateway/survey/svg.h"

enum { SHEET_WIDTH = 1000, SHEET_MARGIN = 22, SHEET_COUNT = 5 };

struct sheet {
    struct svg svg;     /* to draw on */
    double y;           /* what is above is taken */
    double column_y[2]; /* the same in either column of the legend */
    const struct site *site;
    const char *title;
    int number; /* of SHEET_COUNT */
    char *text; /* what svg has drawn so far */
    size_t size;
};

/* False if out of memory; nothing is to be ended then. Heading, and what this sheet is, in a sentence. */
bool sheet_begin(struct sheet *sheet, const struct site *site, int number, const char *title, const char *sentence);

/* Title block and cautions, and all of it to `out`. False if it could not be written, or was not drawn well. */
bool sheet_end(struct sheet *sheet, FILE *out);

/* A view with its caption and grid drawn already, its upper left corner with the caption at left, top. Finish it with
 * pane_frame(). */
struct pane sheet_pane(struct sheet *sheet, enum drawable_view view, const struct shape_box *world, double scale,
                       const char *caption, double left, double top);

/* The next three views: the plan as wide as the sheet, the elevations beside each other below it. */
void sheet_views(struct sheet *sheet, const struct shape_box *world, const char *const caption[DRAWABLE_VIEWS],
                 struct pane pane[DRAWABLE_VIEWS]);
/* The same for sections through a place: captions say where. */
void sheet_sections(struct sheet *sheet, const struct shape_box *world, struct vec3 through,
                    struct pane pane[DRAWABLE_VIEWS]);

/* Room above a view that its caption takes. */
enum { SHEET_CAPTION = 42 };

enum sheet_swatch { SHEET_AREA, SHEET_LINE, SHEET_TRIANGLE, SHEET_CROSS, SHEET_LABEL };

/* An entry of the legend, in two columns: a sample of the class (for SHEET_LABEL, of the text "class" itself), and what
 * it means. */
void sheet_legend(struct sheet *sheet, enum sheet_swatch swatch, const char *class, const char *format, ...)
    __attribute__((format(printf, 4, 5)));

void sheet_heading(struct sheet *sheet, const char *text);
/* Wrapped to the sheet's width. */
void sheet_note(struct sheet *sheet, const char *format, ...) __attribute__((format(printf, 2, 3)));

#endif
