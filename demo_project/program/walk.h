/* Two couriers walking through a harbour: where they are and which frame they show. Draws nothing. */
#ifndef WALK_H
#define WALK_H

#include "art.h"
#include "boxes.h"

#define FASTEST 4    /* half pixels a picture */
#define FIRST_SPEED 2
#define APART 84     /* pixels from the leader back to the partner */
#define MARGIN 60    /* pixels both keep from the harbour's ends */
#define OUT_OF_STEP 20 /* pictures the partner's animation is ahead */

typedef struct {
    int present;
    Sprite sprite;
    Stream stream; /* of a courier that the race streams */
    Notes notes;
    Animation animation;
    u16 step;
    u16 left; /* pictures for which the step is still shown */
} Walker;

typedef struct {
    Walker leader;
    Walker partner;
    long x;      /* of the leader, in half pixels of the harbour */
    s16 speed;   /* half pixels a picture; below 0 to the left */
    int facing_left;
    u16 width;   /* of the harbour */
} Walk;

/* At the left end, at the first speed; the sprites of both walkers are taken already. */
void start_walk(Walk *walk, u16 width);

/* Both animations from their first step, as the speed asks; also after other sprites were taken. */
void start_animations(Walk *walk);

/* Faster to the right (1) or to the left (-1). */
void change_speed(Walk *walk, s16 change);

void advance_walk(Walk *walk, u16 pictures);

u16 walker_frame(const Walker *walker);

/* Left edge of the window that has the pair in its middle, as far as the harbour goes. */
u16 window_left(const Walk *walk);

#endif
