/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/show/show_way.h"

#include <math.h>
#include <stdlib.h>

#include "gateway/show/show_reach.h"

enum { PLACES = 20000 };

/* Places in rows, columns and layers, each the middle of its cell. */
struct grid {
    struct vec3 lo, cell;
    int nx, ny, nz;
    unsigned char *state; /* enum place */
    int *next;            /* places found and not yet looked around from */
};

enum place { BLOCKED, CLEAR, FOUND };

static struct vec3 place_at(const struct grid *g, int x, int y, int z)
{
    return (struct vec3){g->lo.x + (x + 0.5) * g->cell.x, g->lo.y + (y + 0.5) * g->cell.y,
                         g->lo.z + (z + 0.5) * g->cell.z};
}

static int index_of(const struct grid *g, int x, int y, int z)
{
    bool inside = x >= 0 && x < g->nx && y >= 0 && y < g->ny && z >= 0 && z < g->nz;
    return inside ? (z * g->ny + y) * g->nx + x : -1;
}

static bool make(const struct shape_box *box, struct grid *g)
{
    struct vec3 size = vec_sub(box->hi, box->lo);
    double step = cbrt(size.x * size.y * size.z / PLACES);
    g->nx = (int)fmin(fmax(ceil(size.x / step), 1), 1000);
    g->ny = (int)fmin(fmax(ceil(size.y / step), 1), 1000);
    g->nz = (int)fmin(fmax(ceil(size.z / step), 1), 1000);
    g->lo = box->lo;
    g->cell = (struct vec3){size.x / g->nx, size.y / g->ny, size.z / g->nz};
    size_t n = (size_t)g->nx * (size_t)g->ny * (size_t)g->nz;
    g->state = malloc(n);
    g->next = malloc(n * sizeof *g->next);
    return g->state && g->next;
}

static int look(const struct show *show, struct grid *g)
{
    const struct guard_config *guard = &show->policy.guard;
    struct volume_now now = show_reach_now(show);
    int clear = 0;
    for (int z = 0; z < g->nz; z++)
        for (int y = 0; y < g->ny; y++)
            for (int x = 0; x < g->nx; x++) {
                double distance = volume_clearance(&guard->volume, &now, place_at(g, x, y, z)).distance_m;
                g->state[index_of(g, x, y, z)] = distance >= guard->margin_m ? CLEAR : BLOCKED;
                clear += distance >= guard->margin_m;
            }
    return clear;
}

static int find(struct grid *g, int x, int y, int z, int found)
{
    int i = index_of(g, x, y, z);
    if (i < 0 || g->state[i] != CLEAR)
        return found;
    g->state[i] = FOUND;
    g->next[found] = i;
    return found + 1;
}

/* How many places hang together with those around home (breadth-first; Moore 1959). */
static int follow(struct grid *g, struct vec3 home)
{
    int hx = (int)floor((home.x - g->lo.x) / g->cell.x), hy = (int)floor((home.y - g->lo.y) / g->cell.y);
    int hz = (int)floor((home.z - g->lo.z) / g->cell.z), found = 0;
    for (int k = 0; k < 27; k++) /* home's own cell may be cut by what is near */
        found = find(g, hx + k % 3 - 1, hy + k / 3 % 3 - 1, hz + k / 9 - 1, found);
    for (int i = 0; i < found; i++) {
        int x = g->next[i] % g->nx, y = g->next[i] / g->nx % g->ny, z = g->next[i] / g->nx / g->ny;
        for (int step = -1; step <= 1; step += 2) {
            found = find(g, x + step, y, z, found);
            found = find(g, x, y + step, z, found);
            found = find(g, x, y, z + step, found);
        }
    }
    return found;
}

bool show_way_look(const struct show *show, struct show_way *out)
{
    struct shape_box box = show_reach_places(show);
    struct grid g = {.state = NULL};
    bool good = make(&box, &g);
    *out = (struct show_way){0};
    if (good) {
        double m3 = g.cell.x * g.cell.y * g.cell.z;
        out->clear_m3 = look(show, &g) * m3;
        out->way_m3 = follow(&g, show->home) * m3;
        out->cell_m = fmax(g.cell.x, fmax(g.cell.y, g.cell.z));
    }
    free(g.state);
    free(g.next);
    return good;
}
