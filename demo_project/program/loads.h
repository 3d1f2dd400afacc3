/* A race in memory, as the cartridge's load lists say. A cartridge without them is drawn from as it is. */
#ifndef LOADS_H
#define LOADS_H

#include "assets_reader.h"
#include "load.h"

#define COURIER_SLOTS 2 /* the race chooses two couriers, then a harbour */
#define RACE_SLOTS 3

typedef struct {
    int there;  /* a race is in memory */
    int known;  /* the cartridge has load lists with a race of these slots */
    RwLists lists;
    RwScene race;
    unsigned long chosen[RACE_SLOTS];
} Loads;

/* What load.c copies with: four bytes at a time where both ends are even, as the CPU wants them. */
void copy_bytes(u8 *to, const u8 *from, unsigned long bytes);

void open_loads(Loads *loads);

/* Loads a race with one call: what is in its place already stays. Couriers and harbour are name hashes of bundles, or 0. */
int load_race(Loads *loads, u32 leader, u32 partner, u32 harbour);

/* An asset of the race in memory. */
int find_loaded(const Loads *loads, u32 hash, u8 kind, Asset *found);

#endif
