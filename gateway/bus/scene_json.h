/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The scene as the pages read it, written by hand into a caller's buffer: no allocation, once per scene, not once per
 * viewer. */
#ifndef STEADYHAND_BUS_SCENE_JSON_H
#define STEADYHAND_BUS_SCENE_JSON_H

#include "gateway/bus/frames.h"
#include "gateway/show/show.h"

enum { SCENE_JSON_MAX = 4096 };

/* Returns the length (no NUL counted), 0 if it does not fit. `for_desk` takes the desk's sentences instead of the
 * viewers'. Numbers are always finite: bounded by BUS_MAX_REAL, NaN written as 0, metres to 0.1 mm.
 *
 * The text is one whole object, its last byte a '}'. To add a member (the desk's "desk" object), write over that byte:
 * json_text_resume() of json_text.h goes on from there. */
size_t scene_json(const struct scene *s, const struct show *show, bool for_desk, char *buf, size_t size);

#endif
