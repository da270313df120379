/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/head_way.h"

/* What a cell says: go down or up an axis (2 * axis + up), or one of these. */
enum { AT_HOME = 2 * HEAD_TURNING, NO_WAY };

struct cell {
    int slice[HEAD_TURNING];
};

static int index_of(struct cell c)
{
    return (c.slice[0] * HEAD_WAY_SLICES + c.slice[1]) * HEAD_WAY_SLICES + c.slice[2];
}

static struct cell cell_of(int index)
{
    return (struct cell){{index / (HEAD_WAY_SLICES * HEAD_WAY_SLICES) % HEAD_WAY_SLICES,
                          index / HEAD_WAY_SLICES % HEAD_WAY_SLICES, index % HEAD_WAY_SLICES}};
}

/* Positions beyond the limits count to the outermost slices. */
static struct cell cell_at(const struct head_way *way, const double at[HEAD_TURNING])
{
    struct cell c;
    for (int axis = 0; axis < HEAD_TURNING; axis++) {
        c.slice[axis] = 0;
        while (c.slice[axis] + 1 < way->slices[axis] && at[axis] >= way->cut[axis][c.slice[axis] + 1])
            c.slice[axis]++;
    }
    return c;
}

static bool slice_exists(const struct head_way *way, int axis, int slice)
{
    return slice >= 0 && slice < way->slices[axis];
}

static double middle(const struct head_way *way, int axis, int slice)
{
    return (way->cut[axis][slice] + way->cut[axis][slice + 1]) / 2;
}

/* Keeps the cuts of an axis rising; what is outside its span, or there already, is none. */
static void add_cut(struct head_way *way, int axis, double x)
{
    double *cut = way->cut[axis];
    int i = way->slices[axis], above = i;
    if (!(x > cut[0] && x < cut[i]))
        return;
    while (above > 1 && cut[above - 1] > x)
        above--;
    if (cut[above - 1] == x)
        return;
    for (; i >= above; i--)
        cut[i + 1] = cut[i];
    cut[above] = x;
    way->slices[axis]++;
}

static bool forbidden(const struct head_way *way, struct cell c, const struct head_region region[], int regions,
                      double clear)
{
    for (int r = 0; r < regions; r++) {
        bool inside = true;
        for (int axis = 0; axis < HEAD_TURNING; axis++) {
            double x = middle(way, axis, c.slice[axis]);
            inside = inside && x > region[r].from[axis] - clear && x < region[r].to[axis] + clear;
        }
        if (inside)
            return true;
    }
    return false;
}

struct flood {
    int cells;
    int16_t queue[HEAD_WAY_CELLS];
};

/* Lets the neighbours of a cell that are still without a way, and forbidden or not as asked, lead to it. */
static void spread(struct head_way *way, struct flood *flood, int index, bool into_forbidden)
{
    for (int step = 0; step < 2 * HEAD_TURNING; step++) {
        struct cell near = cell_of(index);
        int axis = step / 2;
        near.slice[axis] += step % 2 ? -1 : 1;
        if (!slice_exists(way, axis, near.slice[axis]))
            continue;
        int there = index_of(near);
        if (way->next[there] != NO_WAY || way->forbidden[there] != into_forbidden || flood->cells >= HEAD_WAY_CELLS)
            continue;
        way->next[there] = (uint8_t)step;
        flood->queue[flood->cells++] = (int16_t)there;
    }
}

static void flood_from(struct head_way *way, struct flood *flood, int home)
{
    if (way->forbidden[home])
        return;
    way->next[home] = AT_HOME;
    flood->queue[flood->cells++] = (int16_t)home;
    for (int i = 0; i < flood->cells && i < HEAD_WAY_CELLS; i++)
        spread(way, flood, flood->queue[i], false);
    for (int i = 0; i < flood->cells && i < HEAD_WAY_CELLS; i++)
        spread(way, flood, flood->queue[i], true);
}

void head_way_plan(struct head_way *way, const struct head_span span[HEAD_TURNING], const struct head_region region[],
                   int regions, double clear)
{
    struct flood flood = {.cells = 0};
    double home[HEAD_TURNING];
    for (int axis = 0; axis < HEAD_TURNING; axis++) {
        way->span[axis] = span[axis];
        way->cut[axis][0] = span[axis].min;
        way->cut[axis][1] = span[axis].max;
        way->slices[axis] = 1;
        for (int r = 0; r < regions; r++) {
            add_cut(way, axis, region[r].from[axis] - clear);
            add_cut(way, axis, region[r].to[axis] + clear);
        }
        home[axis] = span[axis].home;
    }
    for (int i = 0; i < HEAD_WAY_CELLS; i++) {
        struct cell c = cell_of(i);
        bool exists = true;
        for (int axis = 0; axis < HEAD_TURNING; axis++)
            exists = exists && c.slice[axis] < way->slices[axis];
        way->next[i] = NO_WAY;
        way->forbidden[i] = exists && forbidden(way, c, region, regions, clear);
    }
    flood_from(way, &flood, index_of(cell_at(way, home)));
}

bool head_way_target(const struct head_way *way, const double at[HEAD_TURNING], double target[HEAD_TURNING])
{
    struct cell c = cell_at(way, at), home;
    double home_at[HEAD_TURNING];
    for (int axis = 0; axis < HEAD_TURNING; axis++) {
        target[axis] = at[axis];
        home_at[axis] = way->span[axis].home;
    }
    int step = way->next[index_of(c)];
    if (step == NO_WAY)
        return false;
    home = cell_at(way, home_at);
    for (int axis = 0; axis < HEAD_TURNING && step == AT_HOME; axis++)
        target[axis] = home_at[axis];
    if (step == AT_HOME)
        return true;
    int axis = step / 2, on = step % 2 ? 1 : -1;
    while (way->next[index_of(c)] == step && slice_exists(way, axis, c.slice[axis] + on))
        c.slice[axis] += on;
    target[axis] = c.slice[axis] == home.slice[axis] ? home_at[axis] : middle(way, axis, c.slice[axis]);
    return true;
}

bool head_way_open(const struct head_way *way, const double at[HEAD_TURNING])
{
    int index = index_of(cell_at(way, at));
    return way->next[index] != NO_WAY && !way->forbidden[index];
}
