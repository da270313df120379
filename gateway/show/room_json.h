/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* What a page needs to draw the room, sent once when a page connects. */
#ifndef STEADYHAND_SHOW_ROOM_JSON_H
#define STEADYHAND_SHOW_ROOM_JSON_H

#include "gateway/show/show.h"

/* A new NUL-terminated string (free() it), or NULL if out of memory. */
char *room_json_new(const struct show *show);

#endif
