/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/survey/contour.h"

#include <math.h>
#include <stdlib.h>

/* A walk along a contour: in this cell, come in over this edge, what is above on the left. Cells run from -1, so that
 * one row of them surrounds the grid. Corners and edges count anticlockwise: corner 0 is at the cell's own place, edge
 * e leads from corner e to corner e + 1. */
struct walker {
    const struct contour_grid *grid;
    double threshold;
    int x, y, edge;
};

static double value_at(const struct contour_grid *grid, int x, int y)
{
    bool within = x >= 0 && y >= 0 && x < grid->columns && y < grid->rows;
    double v = within ? grid->value[(size_t)y * (size_t)grid->columns + (size_t)x] : -INFINITY;
    return isnan(v) ? -INFINITY : v;
}

static double corner(const struct walker *w, int which)
{
    int c = which & 3;
    return value_at(w->grid, w->x + (c == 1 || c == 2), w->y + (c >= 2));
}

static bool above(const struct walker *w, int which)
{
    return corner(w, which) >= w->threshold;
}

/* How far along the edge, from the corner above to the one below. Where the one below has no finite value, what is
 * above ends at its own corner. */
static double crossing(double high, double low, double threshold)
{
    if (!isfinite(low))
        return 0;
    return isfinite(high) ? (high - threshold) / (high - low) : 0.5;
}

static struct plan_point place(const struct walker *w)
{
    static const int dx[] = {0, 1, 1, 0}, dy[] = {0, 0, 1, 1};
    int from = w->edge, to = (w->edge + 1) & 3; /* the left corner is above */
    double share = crossing(corner(w, from), corner(w, to), w->threshold);
    double x = w->x + dx[from] + share * (dx[to] - dx[from]), y = w->y + dy[from] + share * (dy[to] - dy[from]);
    return (struct plan_point){w->grid->x + x * w->grid->step, w->grid->y + y * w->grid->step};
}

/* Into the next cell: to the left, straight on or to the right. */
static void advance(struct walker *w)
{
    bool far_right = above(w, w->edge + 2), far_left = above(w, w->edge + 3);
    int turn = far_left ? (far_right ? 1 : 2) : 3;
    if (far_right && !far_left) {
        double mean = (corner(w, 0) + corner(w, 1) + corner(w, 2) + corner(w, 3)) / 4;
        turn = mean >= w->threshold ? 1 : 3;
    }
    int out = (w->edge + turn) & 3;
    w->x += out == 1 ? 1 : out == 3 ? -1 : 0;
    w->y += out == 2 ? 1 : out == 0 ? -1 : 0;
    w->edge = (out + 2) & 3;
}

/* Walks one loop and marks where it went up, which every loop does somewhere. Returns its number of points. */
static int follow(struct walker w, unsigned char *been, struct plan_point *point)
{
    const int columns = w.grid->columns + 1, x = w.x, y = w.y;
    int points = 0;
    do {
        if (w.edge == 0)
            been[(size_t)(w.y + 1) * (size_t)columns + (size_t)(w.x + 1)] = 1;
        point[points++] = place(&w);
        advance(&w);
    } while (w.x != x || w.y != y || w.edge != 0);
    return points;
}

bool contour_trace(const struct contour_grid *grid, double threshold, contour_take *take, void *context)
{
    size_t cells = (size_t)(grid->columns + 1) * (size_t)(grid->rows + 1);
    unsigned char *been = calloc(cells, 1);
    struct plan_point *point = malloc(2 * cells * sizeof *point); /* a cell is passed twice at most */
    for (int y = -1; been && point && y < grid->rows; y++)
        for (int x = -1; x < grid->columns; x++) {
            struct walker w = {grid, threshold, x, y, 0};
            bool goes_up = above(&w, 0) && !above(&w, 1);
            if (goes_up && !been[(size_t)(y + 1) * (size_t)(grid->columns + 1) + (size_t)(x + 1)])
                take(context, point, follow(w, been, point));
        }
    bool good = been && point;
    free(been);
    free(point);
    return good;
}
