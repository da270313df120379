/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Strangers: connections that no application has accepted yet, page loads among them. They have places of their own, so
 * that they take none from whoever was accepted, and no stranger can keep another out: when their places are full, the
 * oldest of the address that has the most of them is cut off, without a word. So who only sits there loses his place,
 * one address that dials without end pushes out nothing but its own, and a newcomer always gets in.
 */
#ifndef STEADYHAND_SERVE_STRANGERS_H
#define STEADYHAND_SERVE_STRANGERS_H

#include "gateway/serve/serve_impl.h"

/* The newest of them. */
void strangers_join(struct serve_peer *peer);

/* Accepted, or gone. Does nothing for who is none. */
void strangers_leave(struct serve_peer *peer);

/* Cuts one off if all places are taken. Not within a callback of the library. */
void strangers_make_room(struct serve *serve);

#endif
