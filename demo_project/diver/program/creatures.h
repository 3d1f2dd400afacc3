/* Sprites of every arrangement as figures of the console, and their animations. */
#ifndef CREATURES_H
#define CREATURES_H

#include "console.h"

typedef struct {
    unsigned long hash;
    unsigned int bytes, pool_bytes; /* unpacked; 0: not packed */
} Cast;

typedef struct {
    Rw8Sprite sprite;
    unsigned char line; /* of the palette */
    Rw8Animation animation;
    Rw8Step step;
    unsigned int at, ticks; /* its step, and for how many pictures that was shown */
    unsigned char ended; /* 1: the last step of an animation that does not go round was shown for its time */
} Creature;

/* Finds it, with its pool and its colours. */
void load_creature(Creature *creature, const Cast *cast);
/* An animation from its first step on. */
void begin(Creature *creature, unsigned int animation);
/* One picture later. */
void go_on(Creature *creature);

/* Between these two, figures are drawn, the first ones in front. */
void begin_figures(void);
void end_figures(void);
/* A frame with its anchor at a place of the screen, mirrored or not. */
void draw(const Creature *creature, unsigned int frame, int x, int y, unsigned char mirrored);

#endif
