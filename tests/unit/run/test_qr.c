/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/run/qr.h"

#include <criterion/criterion.h>
#include <qrencode.h>
#include <stdlib.h>
#include <string.h>

enum { QUIET = 4, MOST = 200 };

/* One printed row: two rows of painted (1) or empty (0) half cells. Returns the number of cells. */
static int read_row(const char *line, size_t len, unsigned char upper[MOST], unsigned char lower[MOST])
{
    int n = 0;
    for (size_t i = 0; i < len; n++) {
        cr_assert_lt(n, MOST);
        bool blank = line[i] == ' ';
        unsigned char last = blank ? 0 : (unsigned char)line[i + 2];
        upper[n] = last == 0x80 || last == 0x88; /* U+2580, U+2588 */
        lower[n] = last == 0x84 || last == 0x88; /* U+2584, U+2588 */
        i += blank ? 1 : 3;
    }
    return n;
}

/* Dark modules as ISO/IEC 18004 lays them out, the quiet zone around them. */
static bool dark(const QRcode *code, int x, int y)
{
    bool inside = x >= 0 && y >= 0 && x < code->width && y < code->width;
    return inside && (code->data[y * code->width + x] & 1);
}

static void check_row(const char *line, size_t len, const QRcode *code, int y, bool colour)
{
    static const char on[] = "\033[38;5;16;48;5;231m", off[] = "\033[0m"; /* black on white, and back */
    unsigned char upper[MOST], lower[MOST];
    if (colour) {
        cr_assert(strncmp(line, on, sizeof on - 1) == 0 && len > sizeof on + sizeof off);
        line += sizeof on - 1;
        len -= sizeof on - 1 + sizeof off - 1;
        cr_assert_eq(strncmp(line + len, off, sizeof off - 1), 0);
    }
    int n = read_row(line, len, upper, lower);
    cr_assert_eq(n, code->width + 2 * QUIET);
    for (int x = -QUIET; x < code->width + QUIET; x++) {
        cr_assert_eq(upper[x + QUIET] == colour, dark(code, x, y), "%d %d", x, y);
        cr_assert_eq(lower[x + QUIET] == colour, dark(code, x, y + 1), "%d %d", x, y + 1);
    }
}

static void check(bool colour)
{
    static const char text[] = "http://192.168.0.10:8081/stop#pass=sh1.spotter.sam.1.AAAAAAAAAAA.BBBBBBBBBBBBBBBBBBBB";
    char *printed;
    size_t size;
    FILE *out = open_memstream(&printed, &size);
    cr_assert(qr_print(out, text, colour));
    fclose(out);
    QRcode *code = QRcode_encodeString8bit(text, 0, QR_ECLEVEL_L);
    int y = -QUIET;
    for (const char *line = printed; *line; line += strcspn(line, "\n") + 1, y += 2)
        check_row(line, strcspn(line, "\n"), code, y, colour);
    cr_assert_geq(y, code->width + QUIET);
    QRcode_free(code);
    free(printed);
}

Test(qr, blocks_are_the_modules_dark_on_light)
{
    check(true);
}

Test(qr, without_colour_blocks_are_light)
{
    check(false);
}

/* Byte mode of version 40-L holds 2953 bytes (ISO/IEC 18004, table 7). */
Test(qr, what_does_not_fit_is_refused)
{
    char text[2955];
    FILE *out = fopen("/dev/null", "w");
    memset(text, 'a', sizeof text);
    text[2953] = '\0';
    cr_assert(qr_print(out, text, true));
    text[2953] = 'a';
    text[2954] = '\0';
    cr_assert(!qr_print(out, text, true));
    fclose(out);
}
