/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/survey/svg.h"

#include <math.h>
#include <stdarg.h>
#include <string.h>

#include "gateway/survey/text.h"

/* A hundredth of a unit is less than a printer's dot. */
static void number(struct svg *svg, double v)
{
    char text[40];
    if (!(fabs(v) < 1e9)) {
        svg->bad = true;
        v = 0;
    }
    int n = snprintf(text, sizeof text, "%.2f", v);
    while (text[n - 1] == '0')
        text[--n] = '\0';
    if (text[n - 1] == '.')
        text[--n] = '\0';
    fputs(strcmp(text, "-0") == 0 ? "0" : text, svg->out);
}

static void attribute(struct svg *svg, const char *name, double v)
{
    fprintf(svg->out, " %s=\"", name);
    number(svg, v);
    fputc('"', svg->out);
}

/* ---- Text ---- */

static void escape(FILE *out, const char *text)
{
    char bytes[TEXT_BYTES];
    while (*text) {
        text = text_next(text, bytes);
        if (strchr("&<>\"'", bytes[0]))
            fprintf(out, "&#%d;", bytes[0]);
        else
            fputs(bytes, out);
    }
}

void svg_text(struct svg *svg, const char *class, enum svg_align align, double x, double y, const char *format, ...)
{
    static const char *const anchors[] = {"start", "middle", "end"};
    char text[512];
    va_list args;
    va_start(args, format);
    vsnprintf(text, sizeof text, format, args);
    va_end(args);
    fprintf(svg->out, "<text class=\"%s\" text-anchor=\"%s\"", class, anchors[align]);
    attribute(svg, "x", x);
    attribute(svg, "y", y);
    fputc('>', svg->out);
    escape(svg->out, text);
    fputs("</text>\n", svg->out);
}

/* ---- The picture ---- */

void svg_begin(struct svg *svg, double width, double height, const char *title, const char *description)
{
    FILE *out = svg->out;
    fputs("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<svg xmlns=\"http://www.w3.org/2000/svg\" version=\"1.1\"", out);
    attribute(svg, "width", width);
    attribute(svg, "height", height);
    fputs(" viewBox=\"0 0 ", out);
    number(svg, width);
    fputc(' ', out);
    number(svg, height);
    fputs("\" role=\"img\" aria-labelledby=\"title description\" style=\"max-width:100%;height:auto\">\n", out);
    fputs("<title id=\"title\">", out);
    escape(out, title);
    fputs("</title>\n<desc id=\"description\">", out);
    escape(out, description);
    fputs("</desc>\n", out);
    svg_style(out);
    svg_rect(svg, "paper", 0, 0, width, height);
}

bool svg_end(struct svg *svg)
{
    fputs("</svg>\n", svg->out);
    return fflush(svg->out) == 0 && !ferror(svg->out) && !svg->bad;
}

void svg_clip_begin(struct svg *svg, const char *id)
{
    fprintf(svg->out, "<clipPath id=\"%s\">\n", id);
}

void svg_clip_use(struct svg *svg, const char *id)
{
    fprintf(svg->out, "</clipPath>\n<g clip-path=\"url(#%s)\">\n", id);
}

void svg_clip_end(struct svg *svg)
{
    fputs("</g>\n", svg->out);
}

void svg_line(struct svg *svg, const char *class, double x1, double y1, double x2, double y2)
{
    fprintf(svg->out, "<line class=\"%s\"", class);
    attribute(svg, "x1", x1);
    attribute(svg, "y1", y1);
    attribute(svg, "x2", x2);
    attribute(svg, "y2", y2);
    fputs("/>\n", svg->out);
}

void svg_rect(struct svg *svg, const char *class, double x, double y, double width, double height)
{
    fprintf(svg->out, "<rect class=\"%s\"", class);
    attribute(svg, "x", x);
    attribute(svg, "y", y);
    attribute(svg, "width", fmax(width, 0));
    attribute(svg, "height", fmax(height, 0));
    fputs("/>\n", svg->out);
}

void svg_circle(struct svg *svg, const char *class, double x, double y, double radius)
{
    fprintf(svg->out, "<circle class=\"%s\"", class);
    attribute(svg, "cx", x);
    attribute(svg, "cy", y);
    attribute(svg, "r", fmax(radius, 0));
    fputs("/>\n", svg->out);
}

void svg_polygon(struct svg *svg, const char *class, const struct plan_point *point, int points)
{
    fprintf(svg->out, "<polygon class=\"%s\" points=\"", class);
    for (int i = 0; i < points; i++) {
        fputs(i ? " " : "", svg->out);
        number(svg, point[i].x);
        fputc(',', svg->out);
        number(svg, point[i].y);
    }
    fputs("\"/>\n", svg->out);
}

void svg_loops_begin(struct svg *svg, const char *class)
{
    fprintf(svg->out, "<path class=\"%s\" fill-rule=\"evenodd\" clip-rule=\"evenodd\" d=\"", class);
}

void svg_loop(struct svg *svg, const struct plan_point *point, int points)
{
    for (int i = 0; i < points; i++) {
        fputc(i ? 'L' : 'M', svg->out);
        number(svg, point[i].x);
        fputc(' ', svg->out);
        number(svg, point[i].y);
    }
    fputs("Z", svg->out);
}

void svg_loops_end(struct svg *svg)
{
    fputs("\"/>\n", svg->out);
}
