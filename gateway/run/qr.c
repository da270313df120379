/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/run/qr.h"

#include <qrencode.h>

enum { QUIET = 4 };

static bool dark(const QRcode *code, int x, int y)
{
    if (x < 0 || y < 0 || x >= code->width || y >= code->width)
        return false;
    return code->data[y * code->width + x] & 1;
}

/* Upper and lower half of a character cell, painted or not. */
static const char *cell(bool upper, bool lower)
{
    static const char *const cells[2][2] = {{" ", "\u2584"}, {"\u2580", "\u2588"}};
    return cells[upper][lower];
}

static void print_row(FILE *out, const QRcode *code, int y, bool colour)
{
    fputs(colour ? "\033[38;5;16;48;5;231m" : "", out);
    for (int x = -QUIET; x < code->width + QUIET; x++)
        fputs(cell(dark(code, x, y) == colour, dark(code, x, y + 1) == colour), out);
    fputs(colour ? "\033[0m\n" : "\n", out);
}

bool qr_print(FILE *out, const char *text, bool colour)
{
    QRcode *code = QRcode_encodeString8bit(text, 0, QR_ECLEVEL_L);
    if (!code)
        return false;
    for (int y = -QUIET; y < code->width + QUIET; y += 2)
        print_row(out, code, y, colour);
    QRcode_free(code);
    return true;
}
