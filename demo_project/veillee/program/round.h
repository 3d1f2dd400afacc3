/* The evening's round: a keeper walks along the dyke or through the marsh and lights lamps. */
#ifndef ROUND_H
#define ROUND_H

#include "assets_load.h"

/* The pad, so that each press counts once. */
typedef struct {
    u16 held;
} Pad;

u16 pressed(Pad *pad);
void wait_for_sync(void);
/* Never returns when the cartridge holds what it should; else 0. */
int walk_the_round(Room room, Pad *pad);

#endif
