/* Boxes and points that the author noted on frames, drawn over them; read straight from the cartridge. */
#ifndef BOXES_H
#define BOXES_H

#include "art.h"

typedef struct {
    const u8 *frames; /* 0: there are no notes */
    const u8 *boxes;
    const u8 *points;
    u16 frame_count;
    u8 light; /* pixels that hold the lightest and the darkest colour of the sprite's palette */
    u8 dark;
} Notes;

/* The notes of a sprite of this name: the asset NAME_notes. None when they are missing or not consistent. */
void take_notes(const char *name, const Sprite *sprite, Notes *notes);

/* What is noted on a frame, at the place where draw_frame draws it; nothing without notes. */
void draw_notes(u8 *to, const Notes *notes, const Sprite *sprite, u16 frame, s16 x, s16 y, int mirrored);

#endif
