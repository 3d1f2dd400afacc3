/* Assets out of banks into the console's memories; the picture, the pad. What fails ends in a red screen. */
#ifndef CONSOLE_H
#define CONSOLE_H

#include "hardware.h"
#include "reader8.h"

typedef struct {
    unsigned char held, fresh; /* buttons, and those newly pressed */
} Pad;

/* Shows what is in video memory until the next vertical sync, then reads the pad. */
void wait_for_sync(Pad *pad);
/* A plain red screen, for good. */
void stop_red(void);
/* Forgets all that was unpacked. */
void empty_memory(void);
/* An asset by its name hash. One that is packed is unpacked, to as many bytes as are given; 0 for one that must not be. */
void fetch(unsigned long hash, unsigned char kind, unsigned int bytes, Rw8Asset *asset);
/* Loads a palette; returns the line of its first colour. */
unsigned char show_colours(unsigned long hash);
/* The boot notice, or a background of tiles as large as the screen, with its colours. */
void show_notice(unsigned long hash);
void show_background(unsigned long hash, unsigned int bytes);

#endif
