/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The body of a scene's frame; inside of frames.c. */
#ifndef STEADYHAND_BUS_FRAMES_SCENE_H
#define STEADYHAND_BUS_FRAMES_SCENE_H

#include "gateway/bus/bytes.h"
#include "gateway/bus/frames.h"

void frames_scene_put(struct bytes_out *out, const struct scene *s);
void frames_scene_get(struct bytes_in *in, struct scene *s); /* clears in->ok where a number is out of range */

/* The enums, sets and indexes; numbers are brought into range as they are written, and checked as they are read. */
bool frames_scene_valid(const struct scene *s);

/* Viewers, votes and sticks: all of a tally but its histograms. */
void frames_scene_put_counts(struct bytes_out *out, const struct tally *tally);
void frames_scene_get_counts(struct bytes_in *in, struct tally *tally);

#endif
