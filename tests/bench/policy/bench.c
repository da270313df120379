/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* What a tick of the policy takes, and how that grows; see ./run. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "tests/bench/policy/drive.h"
#include "tests/bench/policy/other.h"
#include "tests/bench/policy/pairs.h"
#include "tests/bench/policy/room.h"
#include "tests/bench/policy/spread.h"

enum { MOST_ROWS = 16, MOST_RUNS = 64, MOST_TICKS = 1000000 };

#define AIM_DEMO_US 20.0
#define AIM_FULL_US 100.0

struct options {
    const char *show;
    int runs, ticks;
    bool tables; /* growth, and the comparison */
};

/* One line of a table: a room, somebody at the stick, and the runs so far. */
struct row {
    char what[40];
    struct drive drive;
    struct spread run[MOST_RUNS], least[MOST_RUNS];
};

struct table {
    int rows;
    struct row row[MOST_ROWS];
    struct show show[MOST_ROWS];
};

static struct table table; /* a few megabytes */
static double took_ns[MOST_TICKS], least_ns[MOST_TICKS];

static int whole(const char *text, int least, int most)
{
    char *end;
    long v = strtol(text, &end, 10);
    if (*text == '\0' || *end != '\0' || v < least || v > most) {
        fprintf(stderr, "policy bench: %s is not a whole number from %d to %d\n", text, least, most);
        exit(2);
    }
    return (int)v;
}

static struct options read_options(int argc, char **argv)
{
    struct options o = {.runs = 7, .ticks = 20000, .tables = true};
    for (int i = 1; i < argc; i++) {
        const char *value = i + 1 < argc ? argv[i + 1] : "";
        if (strcmp(argv[i], "--short") == 0) {
            o.tables = false;
        } else if (strcmp(argv[i], "--runs") == 0) {
            o.runs = whole(value, 1, MOST_RUNS);
            i++;
        } else if (strcmp(argv[i], "--ticks") == 0) {
            o.ticks = whole(value, 100, MOST_TICKS);
            i++;
        } else if (strcmp(argv[i], "--show") == 0) {
            o.show = value;
            i++;
        } else {
            fprintf(stderr, "usage: run [--runs N] [--ticks N] [--short]\n");
            exit(2);
        }
    }
    return o;
}

static void add_row(const struct show *show, enum drive_wish wish, const char *what)
{
    struct row *row = &table.row[table.rows];
    table.show[table.rows] = *show;
    snprintf(row->what, sizeof row->what, "%s", what);
    drive_init(&row->drive, &table.show[table.rows++], wish);
}

/* All rows of a table take turns, so that what else the machine does falls on all alike. */
static void run_table(const struct options *o)
{
    for (int run = 0; run < o->runs; run++)
        for (int i = 0; i < table.rows; i++) {
            drive_run(&table.row[i].drive, o->ticks, took_ns, least_ns);
            table.row[i].run[run] = spread_of(took_ns, o->ticks);
            table.row[i].least[run] = spread_of(least_ns, o->ticks);
        }
}

/* True if the camera really was driven: a tick that does nothing is no measurement. */
static bool print_row(struct row *row, const struct options *o, double aim_us)
{
    struct spread s = spread_median(row->run, o->runs), least = spread_median(row->least, o->runs);
    const struct drive *d = &row->drive;
    double moving = 100.0 * d->moving / d->ticks, guarded = 100.0 * d->guarded / d->ticks;
    printf("%-30s %9.0f %8.1f %8.1f %8.1f %8.1f %5.0f%% %5.0f%%", row->what, 1e9 / s.mean, s.p50 / 1000, s.p99 / 1000,
           s.most / 1000, least.p99 / 1000, moving, guarded);
    if (aim_us > 0)
        printf("   aim %g: %s", aim_us, s.p99 / 1000 <= aim_us ? "met" : "MISSED");
    printf("\n");
    if (d->refused > d->ticks / 10 || d->moving < d->ticks / 10)
        printf("  not driven: no motion permitted in %d of %d ticks\n", d->refused, d->ticks);
    return d->refused <= d->ticks / 10 && d->moving >= d->ticks / 10;
}

static void print_head(const char *title)
{
    printf("\n%-30s %9s %8s %8s %8s %8s %6s %6s\n", title, "ticks/s", "p50 us", "p99 us", "max us", "p99 least",
           "moving", "held");
}

static struct show demo_of(const struct options *o)
{
    struct show show;
    if (!o->show || show_load(o->show, &show, stderr) != 0)
        exit(1);
    return show;
}

/* The demo's rig in another room. */
static struct show room_of(const struct options *o, struct room_size size)
{
    struct show show = demo_of(o);
    if (!room_make(&size, &show)) {
        fprintf(stderr, "policy bench: the policy does not take a room with %d cords and %d keep-outs\n", size.cords,
                size.keepouts);
        exit(1);
    }
    return show;
}

static bool run_aims(const struct options *o)
{
    bool driven = true;
    struct show demo = demo_of(o), full = room_of(o, (struct room_size){8, 64, 0, 12}), all = full;
    if (!equip(&all)) {
        fprintf(stderr, "policy bench: the policy does not take a room with everything\n");
        exit(1);
    }
    table.rows = 0;
    add_row(&demo, DRIVE_WANDER, "demo show, wandering");
    add_row(&demo, DRIVE_PRESS, "demo show, against walls");
    add_row(&full, DRIVE_WANDER, "8 cords x 64 keep-outs");
    add_row(&full, DRIVE_PRESS, "the same, against walls");
    add_row(&all, DRIVE_WANDER, "8 x 64, everything watched");
    add_row(&all, DRIVE_PRESS, "the same, against walls");
    run_table(o);
    print_head("one tick");
    for (int i = 0; i < table.rows; i++)
        driven = print_row(&table.row[i], o, i < 2 ? AIM_DEMO_US : AIM_FULL_US) && driven;
    return driven;
}

static void add_size(const struct options *o, struct room_size size, const char *before, int n, const char *after)
{
    char what[40];
    struct show show = room_of(o, size);
    snprintf(what, sizeof what, "%s%2d%s", before, n, after);
    add_row(&show, DRIVE_PRESS, what);
}

static bool run_growth(const struct options *o)
{
    static const int keepouts[] = {0, 8, 16, 32, 64}, cords[] = {4, 5, 6, 8}, corners[] = {4, 8, 16, 32};
    bool driven = true;
    table.rows = 0;
    for (int i = 0; i < 5; i++)
        add_size(o, (struct room_size){8, keepouts[i], 0, 12}, "8 cords, ", keepouts[i], " keep-outs");
    for (int i = 0; i < 3; i++)
        add_size(o, (struct room_size){cords[i], 64, 0, 12}, "", cords[i], " cords, 64 keep-outs");
    for (int i = 0; i < 4; i++)
        add_size(o, (struct room_size){8, 12, corners[i], 12}, "12 prisms of ", corners[i], " corners");
    for (int i = 0; i < 4; i++)
        add_size(o, (struct room_size){8, 16, 0, corners[i]}, "16, stage of ", corners[i], " corners");
    run_table(o);
    print_head("against walls");
    for (int i = 0; i < table.rows; i++)
        driven = print_row(&table.row[i], o, 0) && driven;
    return driven;
}

static void print_pair(const char *what, struct pairs_times t)
{
    printf("%-36s %9.0f", what, t.ours_ns);
    if (t.other_ns > 0)
        printf(" %9.0f %8.1f   %.1e", t.other_ns, t.other_ns / t.ours_ns, t.apart_m);
    printf("\n");
}

static void run_pairs(const struct options *o)
{
    static const char *const moving[] = {"", "ball", "capsule", "swept cord"};
    static const char *const still[] = {"turned box", "prism of 6", "sphere", "capsule"};
    char what[64];
    printf("\n%-36s %9s", "distance, ns", "ours");
    if (other_name())
        printf(" %9s %8s   %s", other_name(), "ratio", "differ by up to, m");
    printf("\n");
    for (int points = 1; points <= 3; points++)
        for (int kind = 0; kind < SHAPE_HALF_SPACE; kind++) {
            snprintf(what, sizeof what, "%s to %s", moving[points], still[kind]);
            print_pair(what, pairs_time(points, (enum shape_kind)kind, 5 * o->runs));
        }
    struct show full = room_of(o, (struct room_size){8, 64, 0, 12});
    print_pair("clearance, 8 cords x 64 keep-outs", pairs_time_room(&full, o->runs));
}

int main(int argc, char **argv)
{
    struct options o = read_options(argc, argv);
    printf("%d runs of %d ticks each, taking turns; medians of the runs. Processor time of one thread.\n"
           "p99 least: of each tick the least of three, asked anew from the same state; without what else goes on.\n",
           o.runs, o.ticks);
    bool driven = run_aims(&o);
    if (o.tables) {
        driven = run_growth(&o) && driven;
        run_pairs(&o);
        if (!other_name())
            printf("No general library to compare with: libfcl-dev and a C++ compiler are not installed.\n");
    }
    return driven ? 0 : 1;
}
