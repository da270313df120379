/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* How long it takes to solve for tensions, by number of cords; to build the reach of a room of 8 x 6 x 3 m; and to ask
 * it. Time of this thread, the least of some runs: what else the machine does is not counted. */
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include "policy/motion/reach.h"
#include "tests/unit/crowd/random.h"

enum { PLACES = 1024, TURNS = 20, CELLS = REACH_USUAL_CELLS };

static struct vec3 place[PLACES];
static volatile double sink;

static double now_ns(void)
{
    struct timespec t;
    clock_gettime(CLOCK_THREAD_CPUTIME_ID, &t);
    return (double)t.tv_sec * 1e9 + (double)t.tv_nsec;
}

static struct tension_rig rig_of(int cords, bool held_down)
{
    struct tension_rig rig = {.cords = cords, .mass_kg = 2.4};
    for (int k = 0; k < cords; k++) {
        double angle = 6.2832 * (k + 0.5) / cords;
        bool low = held_down && k % 2 == 1;
        rig.anchor[k] = (struct vec3){4 + 4.6 * cos(angle), 3 + 3.6 * sin(angle), low ? -0.1 : 3.1};
        rig.min_n[k] = 1;
        rig.max_n[k] = 60;
    }
    return rig;
}

static void time_tension(int cords, bool held_down)
{
    struct tension_rig rig = rig_of(cords, held_down);
    struct tension_state s;
    double best = INFINITY;
    int feasible = 0;
    for (int turn = 0; turn < TURNS; turn++) {
        double start = now_ns();
        feasible = 0;
        for (int i = 0; i < PLACES; i++) {
            tension_solve(&rig, place[i], (struct vec3){0.1, 0, 0}, &s);
            feasible += s.feasible;
        }
        best = lesser(best, (now_ns() - start) / PLACES);
    }
    printf("tension, %d cords%-16s %7.0f ns a solve, %.0f %% feasible\n", cords, held_down ? ", half from below" : "",
           best, 100.0 * feasible / PLACES);
}

static double time_distance(const struct reach *reach, double way, double enough)
{
    double best = INFINITY;
    for (int turn = 0; turn < TURNS; turn++) {
        double start = now_ns();
        for (int i = 0; i < PLACES; i++)
            sink = reach_path_distance(reach, place[i], vec_add(place[i], (struct vec3){way, way, way / 2}), enough);
        best = lesser(best, (now_ns() - start) / PLACES);
    }
    return best;
}

static void time_reach(int cords, bool held_down, double error_m, uint32_t *cell)
{
    struct reach_config cfg = {.rig = rig_of(cords, held_down),
                               .room = {{0, 0, 0}, {8, 6, 3}},
                               .reserve_mps2 = 0.6,
                               .min_length_m = 0.3,
                               .error_m = error_m};
    struct reach reach;
    double start = now_ns();
    enum reach_result result = reach_build(&reach, &cfg, cell, CELLS);
    double built = now_ns() - start;
    printf("reach, %d cords%s to %g m%s: %.2f s, %u cells (%.1f MB), %.1f m3, error %.3f m; ", cords,
           held_down ? ", half from below," : "", error_m, result == REACH_BUILT ? "" : " (not reached)", built / 1e9,
           reach.cells, reach.cells * 4e-6, reach.reachable_m3, reach.error_m);
    printf("a point %.0f ns, a way of 0.2 m %.0f ns, looking no further than 0.2 m %.0f ns\n",
           time_distance(&reach, 0, INFINITY), time_distance(&reach, 0.13, INFINITY), time_distance(&reach, 0.13, 0.2));
}

int main(void)
{
    struct random r = {1};
    uint32_t *cell = malloc(CELLS * sizeof *cell);
    if (cell == NULL)
        return 1;
    for (int i = 0; i < PLACES; i++) {
        place[i].x = random_between(&r, 1, 7);
        place[i].y = random_between(&r, 1, 5);
        place[i].z = random_between(&r, 0.3, 2.2);
    }
    for (int cords = 3; cords <= VOLUME_MAX_CORDS; cords++)
        time_tension(cords, false);
    time_tension(VOLUME_MAX_CORDS, true);
    time_reach(4, false, 0.2, cell);
    time_reach(4, false, 0.1, cell);
    time_reach(4, false, 0.05, cell);
    time_reach(8, false, 0.1, cell);
    time_reach(8, true, 0.2, cell);
    free(cell);
    return 0;
}
