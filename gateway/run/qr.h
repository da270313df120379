/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* A QR code (ISO/IEC 18004) for a phone's camera, two modules a character, with the quiet zone of four modules that the
 * standard asks for. */
#ifndef STEADYHAND_RUN_QR_H
#define STEADYHAND_RUN_QR_H

#include <stdbool.h>
#include <stdio.h>

/* `colour`: set black on white with escape sequences (for a terminal). Without, blocks stand for light modules: right
 * on a dark background. False, with nothing printed, if the text does not fit a code or memory is out. */
bool qr_print(FILE *out, const char *text, bool colour);

#endif
