/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The folder that the processes of one show share. Who can enter it can forge passes and speak to core as an edge, so
 * it is its owner's alone (0700). */
#ifndef STEADYHAND_RUN_STATE_DIR_H
#define STEADYHAND_RUN_STATE_DIR_H

#include <stdbool.h>
#include <stddef.h>

/* .steadyhand/<name of the show file without .json>. False if it does not fit. */
bool state_dir_default(const char *show_path, char *path, size_t size);

/* Makes it, and the folders it lies in, where missing. False, with a line on stderr, if it cannot be made, is not
 * ours, or others may enter it. */
bool state_dir_make(const char *path);

/* Only one run at a time uses a folder: returns a descriptor that holds it until closed, or -1 with a line on stderr.
 */
int state_dir_hold(const char *path);

/* Copies the show file into the folder, so that editing it never changes a running show: a child that is started anew
 * reads what the others read. Writes the copy's path. False with a line on stderr. */
bool state_dir_keep_show(const char *path, const char *show_path, char *copy, size_t size);

#endif
