/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/survey/svg.h"

/*
 * Okabe and Ito's palette: orange E69F00, sky blue 56B4E9, bluish green 009E73, yellow F0E442, blue 0072B2, vermilion
 * D55E00, reddish purple CC79A7. Each is used with one pattern only, and lightness falls as things get worse, so that a
 * grey print tells as much. Text has a white rim, to be read on top of anything.
 */
static const char classes[] =
    "<style>\n"
    "@page{margin:8mm}@media print{:root{width:100%;height:100%;max-height:100vh}}\n"
    "text{font-family:'DejaVu Sans',Verdana,Arial,sans-serif;fill:#000;font-size:20px;"
    "paint-order:stroke;stroke:#fff;stroke-width:5px;stroke-linejoin:round}\n"
    ".unreached{fill:url(#unreached);stroke:#000;stroke-width:6;stroke-dasharray:18 8}\n"
    ".unreached-swatch{fill:url(#unreached);stroke:#000;stroke-width:3;stroke-dasharray:9 4}"
    ".fit{fill:none;stroke:#000;stroke-width:3}\n"
    ".name{font-size:32px;font-weight:bold}.head{font-size:24px;font-weight:bold}.bold{font-weight:bold}\n"
    ".small{font-size:17px}.plain{stroke:none}.caution{font-size:17px;stroke:none}\n"
    ".paper{fill:#fff}.cut{fill:#000}\n"
    ".frame{fill:none;stroke:#000;stroke-width:1.5}.rule{stroke:#000;stroke-width:1.5}\n"
    ".box{fill:#fff;stroke:#000;stroke-width:2.5}\n"
    ".grid{stroke:#c8c8c8;stroke-width:1}.floor{stroke:#000;stroke-width:4}\n"
    ".stage{fill:none;stroke:#000;stroke-width:4}.show-floor{stroke:#000;stroke-width:2.5;stroke-dasharray:12 5 3 5}\n"
    ".keep-out{fill:url(#keep-out);stroke:#000;stroke-width:2.5}.padding{fill:none;stroke:#000;stroke-dasharray:2 5;"
    "stroke-width:2}\n"
    ".keep-out-yields{fill:url(#keep-out);stroke:#000;stroke-width:2.5;stroke-dasharray:14 5 3 5}\n"
    ".slow{fill:url(#slow);stroke:#0072B2;stroke-width:2.5;stroke-dasharray:16 6}\n"
    ".no-view{fill:url(#no-view);stroke:#CC79A7;stroke-width:2.5;stroke-dasharray:3 4}\n"
    ".cord{stroke:#0072B2;stroke-width:3}.tether{fill:none;stroke:#009E73;stroke-width:4;stroke-dasharray:10 6}\n"
    ".tether-reach{fill:url(#tether);stroke:#009E73;stroke-width:2;stroke-dasharray:10 6}\n"
    ".anchor{fill:#000;stroke:#fff;stroke-width:2}.platform{fill:#fff;stroke:#000;stroke-width:3}\n"
    ".boom{stroke:#000;stroke-width:5}.body{fill:#fff;fill-opacity:.7;stroke:#000;stroke-width:3}\n"
    ".band-a{fill:url(#band-a);stroke:#000;stroke-width:3}.band-b{fill:url(#band-b);stroke:#000;stroke-width:2}\n"
    ".band-c{fill:url(#band-c);stroke:#000;stroke-width:1.5}.band-d{fill:url(#band-d);stroke:#000;stroke-width:1}\n"
    ".keep-out-line{fill:none;stroke:#000;stroke-width:2.5;stroke-dasharray:7 4}"
    ".slow-line{fill:none;stroke:#0072B2;stroke-width:2.5;stroke-dasharray:16 6}"
    ".no-view-line{fill:none;stroke:#CC79A7;stroke-width:2.5;stroke-dasharray:3 4}.mark{stroke:#000;stroke-width:4}\n"
    ".reach{fill:none;stroke:#000;stroke-width:6;stroke-dasharray:18 8}\n"
    ".fall-0,.fall-1,.fall-2,.fall-3,.fall-4,.fall-5,.fall-6,.fall-7{fill:none;stroke-width:4}\n"
    ".fall-0{stroke:#0072B2}.fall-1{stroke:#D55E00;stroke-dasharray:18 6}.fall-2{stroke:#009E73;stroke-dasharray:4 5}\n"
    ".fall-3{stroke:#CC79A7;stroke-dasharray:18 5 4 5}.fall-4{stroke:#56B4E9;stroke-dasharray:30 8}\n"
    ".fall-5{stroke:#E69F00;stroke-dasharray:9 9}.fall-6{stroke:#000;stroke-dasharray:12 4 2 4 2 4}\n"
    ".fall-7{stroke:#000;stroke-dasharray:2 8}\n"
    ".fall-all{fill:url(#fall);stroke:#000;stroke-width:6}\n"
    ".scale-dark{fill:#000;stroke:#000;stroke-width:1.5}.scale-light{fill:#fff;stroke:#000;stroke-width:1.5}\n"
    "</style>\n";

static const char patterns[] =
    "<defs>\n"
    "<pattern id=\"keep-out\" width=\"12\" height=\"12\" patternUnits=\"userSpaceOnUse\">"
    "<rect width=\"12\" height=\"12\" fill=\"#fff\"/>"
    "<path d=\"M0 12L12 0M-3 3L3 -3M9 15L15 9M0 0L12 12M-3 9L3 15M9 -3L15 3\" stroke=\"#555\" "
    "stroke-width=\"2\"/></pattern>\n"
    "<pattern id=\"slow\" width=\"20\" height=\"20\" patternUnits=\"userSpaceOnUse\">"
    "<path d=\"M0 10H20\" stroke=\"#56B4E9\" stroke-width=\"3\"/></pattern>\n"
    "<pattern id=\"no-view\" width=\"18\" height=\"18\" patternUnits=\"userSpaceOnUse\">"
    "<path d=\"M9 0V18\" stroke=\"#CC79A7\" stroke-width=\"3\"/></pattern>\n"
    "<pattern id=\"tether\" width=\"16\" height=\"16\" patternUnits=\"userSpaceOnUse\">"
    "<circle cx=\"8\" cy=\"8\" r=\"2\" fill=\"#009E73\"/></pattern>\n"
    /* from worst to best: dark and dense to white */
    "<pattern id=\"band-a\" width=\"10\" height=\"10\" patternUnits=\"userSpaceOnUse\">"
    "<rect width=\"10\" height=\"10\" fill=\"#D55E00\"/>"
    "<path d=\"M0 10L10 0M0 0L10 10\" stroke=\"#000\" stroke-width=\"2\"/></pattern>\n"
    "<pattern id=\"band-b\" width=\"12\" height=\"12\" patternUnits=\"userSpaceOnUse\">"
    "<rect width=\"12\" height=\"12\" fill=\"#E69F00\"/>"
    "<path d=\"M0 12L12 0M-3 3L3 -3M9 15L15 9\" stroke=\"#000\" stroke-width=\"2\"/></pattern>\n"
    "<pattern id=\"band-c\" width=\"18\" height=\"18\" patternUnits=\"userSpaceOnUse\">"
    "<rect width=\"18\" height=\"18\" fill=\"#cfe8f7\"/>"
    "<circle cx=\"4.5\" cy=\"4.5\" r=\"2.2\" fill=\"#0072B2\"/><circle cx=\"13.5\" cy=\"13.5\" r=\"2.2\" "
    "fill=\"#0072B2\"/></pattern>\n"
    "<pattern id=\"band-d\" width=\"10\" height=\"10\" patternUnits=\"userSpaceOnUse\">"
    "<rect width=\"10\" height=\"10\" fill=\"#fff\"/></pattern>\n"
    "<pattern id=\"unreached\" width=\"9\" height=\"9\" patternUnits=\"userSpaceOnUse\">"
    "<path d=\"M4.5 0V9\" stroke=\"#000\" stroke-width=\"2.5\"/></pattern>\n"
    "<pattern id=\"fall\" width=\"24\" height=\"24\" patternUnits=\"userSpaceOnUse\">"
    "<rect width=\"24\" height=\"24\" fill=\"#fff\"/>"
    "<path d=\"M0 24L24 0M-6 6L6 -6M18 30L30 18\" stroke=\"#D55E00\" stroke-width=\"2\"/></pattern>\n"
    "</defs>\n";

void svg_style(FILE *out)
{
    fputs(classes, out);
    fputs(patterns, out);
}
