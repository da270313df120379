/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/survey/sheet.h"

#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#include "gateway/survey/caution.h"

enum { INNER = SHEET_WIDTH - 2 * SHEET_MARGIN, COLUMN = INNER / 2, TALLEST = 760, TEXT = 512 };

/* ---- Text in lines ---- */

/* Bytes of the longest beginning of `text` that fits, cut at a blank where there is one. Characters are taken to be as
 * wide as 0.53 of their height (bold: 0.62), more than text is on the average; those beyond Latin as wide as high. */
static size_t fitting(const char *text, double width, double size, bool bold)
{
    double used = 0, narrow = bold ? 0.62 : 0.53;
    size_t blank = 0, n = 0;
    while (text[n]) {
        unsigned char c = (unsigned char)text[n];
        used += (c >= 0xE0 ? 1.05 : c >= 0x80 && c < 0xC0 ? 0 : narrow) * size;
        if (used > width && (c < 0x80 || c >= 0xC0))
            return blank > 0 ? blank : n > 0 ? n : 1;
        if (c == ' ')
            blank = n + 1;
        n++;
    }
    return n;
}

static void paragraph(struct sheet *sheet, const char *class, double size, double x, double width, const char *text)
{
    bool bold = strstr(class, "bold") || size > 20;
    while (*text) {
        size_t n = fitting(text, width, size, bold);
        sheet->y += size * 1.35;
        svg_text(&sheet->svg, class, SVG_START, x, sheet->y, "%.*s", (int)n, text);
        text += n;
    }
}

void sheet_note(struct sheet *sheet, const char *format, ...)
{
    char text[TEXT];
    va_list args;
    va_start(args, format);
    vsnprintf(text, sizeof text, format, args);
    va_end(args);
    paragraph(sheet, "plain", 20, SHEET_MARGIN, INNER, text);
    sheet->y += 4;
    sheet->column_y[0] = sheet->column_y[1] = sheet->y;
}

void sheet_heading(struct sheet *sheet, const char *text)
{
    sheet->y += 12;
    paragraph(sheet, "head plain", 24, SHEET_MARGIN, INNER, text);
    sheet->y += 4;
    sheet->column_y[0] = sheet->column_y[1] = sheet->y;
}

/* ---- The sheet ---- */

bool sheet_begin(struct sheet *sheet, const struct site *site, int number, const char *title, const char *sentence)
{
    *sheet = (struct sheet){.site = site, .title = title, .number = number, .y = SHEET_MARGIN};
    sheet->svg.out = open_memstream(&sheet->text, &sheet->size);
    if (!sheet->svg.out)
        return false;
    paragraph(sheet, "name plain", 32, SHEET_MARGIN, INNER, site->name);
    sheet_heading(sheet, title);
    paragraph(sheet, "plain", 20, SHEET_MARGIN, INNER, sentence);
    paragraph(sheet, "plain bold", 20, SHEET_MARGIN, INNER, caution_short);
    sheet->y += 8;
    return true;
}

static void title_block(struct sheet *sheet)
{
    static const char *const left[] = {"Show", "Drawing", "Units", "Checked by a qualified rigger"};
    char sheet_of[64];
    double top = sheet->y + 20, row = 36, split = SHEET_MARGIN + 330;
    snprintf(sheet_of, sizeof sheet_of, "%s, sheet %d of %d", sheet->title, sheet->number, SHEET_COUNT);
    const char *const right[] = {sheet->site->name, sheet_of, "m, N; print at any size: the scale bars rule",
                                 "name, date:"};
    svg_rect(&sheet->svg, "box", SHEET_MARGIN, top, INNER, 4 * row);
    svg_line(&sheet->svg, "rule", split, top, split, top + 4 * row);
    for (int i = 0; i < 4; i++) {
        double y = top + i * row;
        if (i > 0)
            svg_line(&sheet->svg, "rule", SHEET_MARGIN, y, SHEET_MARGIN + INNER, y);
        svg_text(&sheet->svg, "plain small", SVG_START, SHEET_MARGIN + 10, y + 24, "%s", left[i]);
        int n = (int)fitting(right[i], SHEET_WIDTH - SHEET_MARGIN - split - 20, 20, false);
        svg_text(&sheet->svg, "plain", SVG_START, split + 10, y + 25, "%.*s", n, right[i]);
    }
    sheet->y = top + 4 * row;
}

static void cautions(struct sheet *sheet)
{
    sheet_heading(sheet, "Cautions");
    for (int i = 0; i < CAUTION_COUNT; i++) {
        double dash = sheet->y + 17 * 1.35;
        svg_text(&sheet->svg, "caution", SVG_START, SHEET_MARGIN, dash, "\xE2\x80\x93");
        paragraph(sheet, "caution", 17, SHEET_MARGIN + 20, INNER - 20, caution_text[i]);
    }
}

bool sheet_end(struct sheet *sheet, FILE *out)
{
    struct svg page = {.out = out};
    char title[TEXT];
    title_block(sheet);
    cautions(sheet);
    snprintf(title, sizeof title, "%s: %s", sheet->site->name, sheet->title);
    bool good = !sheet->svg.bad && !ferror(sheet->svg.out);
    good = fclose(sheet->svg.out) == 0 && good;
    if (good) {
        svg_begin(&page, SHEET_WIDTH, ceil(sheet->y + SHEET_MARGIN), title, caution_short);
        good = fwrite(sheet->text, 1, sheet->size, out) == sheet->size;
        good = svg_end(&page) && good;
    }
    free(sheet->text);
    return good;
}

/* ---- Views ---- */

struct pane sheet_pane(struct sheet *sheet, enum drawable_view view, const struct shape_box *world, double scale,
                       const char *caption, double left, double top)
{
    struct pane pane = {view, *world, left + PANE_LEFT, top + SHEET_CAPTION, scale};
    double longest = SHEET_WIDTH - SHEET_MARGIN - 0.62 * 20 * (double)strlen(caption);
    svg_text(&sheet->svg, "bold plain", SVG_START, fmin(pane.x + 8, longest), pane.y - 10, "%s", caption);
    pane_grid(&sheet->svg, &pane);
    return pane;
}

void sheet_views(struct sheet *sheet, const struct shape_box *world, const char *const caption[DRAWABLE_VIEWS],
                 struct pane pane[DRAWABLE_VIEWS])
{
    struct vec3 size = vec_sub(world->hi, world->lo);
    double scale = fmin((INNER - PANE_LEFT - 4) / size.x, TALLEST / size.y);
    pane[DRAWABLE_PLAN] =
        sheet_pane(sheet, DRAWABLE_PLAN, world, scale, caption[DRAWABLE_PLAN], SHEET_MARGIN, sheet->y);
    sheet->y = pane[DRAWABLE_PLAN].y + pane_height(&pane[DRAWABLE_PLAN]) + PANE_BELOW;
    double half = fmin((INNER - 2 * PANE_LEFT - 12) / (size.x + size.y), TALLEST / 2 / size.z);
    pane[DRAWABLE_FRONT] =
        sheet_pane(sheet, DRAWABLE_FRONT, world, half, caption[DRAWABLE_FRONT], SHEET_MARGIN, sheet->y);
    double left = pane[DRAWABLE_FRONT].x + pane_width(&pane[DRAWABLE_FRONT]) + 8;
    pane[DRAWABLE_SIDE] = sheet_pane(sheet, DRAWABLE_SIDE, world, half, caption[DRAWABLE_SIDE], left, sheet->y);
    sheet->y = pane[DRAWABLE_SIDE].y + pane_height(&pane[DRAWABLE_SIDE]) + PANE_BELOW;
}

void sheet_sections(struct sheet *sheet, const struct shape_box *world, struct vec3 through,
                    struct pane pane[DRAWABLE_VIEWS])
{
    char text[DRAWABLE_VIEWS][48];
    snprintf(text[DRAWABLE_PLAN], sizeof text[0], "Plan, platform at z = %.2f m", through.z);
    snprintf(text[DRAWABLE_FRONT], sizeof text[0], "Front, platform at y = %.2f m", through.y);
    snprintf(text[DRAWABLE_SIDE], sizeof text[0], "Side, platform at x = %.2f m", through.x);
    sheet_views(sheet, world, (const char *const[]){text[0], text[1], text[2]}, pane);
}

static void sample(struct svg *svg, enum sheet_swatch swatch, const char *class, double x, double y)
{
    double middle = y - 7;
    switch (swatch) {
    case SHEET_AREA:
        svg_rect(svg, class, x + 2, y - 19, 56, 24);
        break;
    case SHEET_LINE:
        svg_line(svg, class, x, middle, x + 60, middle);
        break;
    case SHEET_TRIANGLE:
        svg_polygon(svg, class, (struct plan_point[]){{x + 20, y + 2}, {x + 40, y + 2}, {x + 30, y - 17}}, 3);
        break;
    case SHEET_CROSS:
        svg_line(svg, class, x + 20, middle - 10, x + 40, middle + 10);
        svg_line(svg, class, x + 20, middle + 10, x + 40, middle - 10);
        break;
    case SHEET_LABEL:
        svg_text(svg, "bold", SVG_MIDDLE, x + 30, y, "%s", class);
        break;
    }
}

void sheet_legend(struct sheet *sheet, enum sheet_swatch swatch, const char *class, const char *format, ...)
{
    char text[TEXT];
    va_list args;
    va_start(args, format);
    vsnprintf(text, sizeof text, format, args);
    va_end(args);
    int column = sheet->column_y[1] < sheet->column_y[0];
    double left = SHEET_MARGIN + column * COLUMN;
    sheet->y = sheet->column_y[column] + 5;
    sample(&sheet->svg, swatch, class, left, sheet->y + 27);
    paragraph(sheet, "plain", 20, left + 74, COLUMN - 82, text);
    sheet->column_y[column] = sheet->y + 2;
    sheet->y = fmax(sheet->column_y[0], sheet->column_y[1]);
}
