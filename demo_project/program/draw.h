/* Drawing into a picture of the screen's size. */
#ifndef DRAW_H
#define DRAW_H

#include "art.h"

void clear(u8 *to);
void fill_box(u8 *to, u16 left, u16 top, u16 width, u16 height, u8 colour);

/* The part of a picture whose top left is at (left, top); what it does not cover becomes 0. */
void draw_window(u8 *to, const Picture *picture, u16 left, u16 top);

/* A frame with its anchor at (x, y), clear pixels left out, cut at the screen's edges; mirrored about its anchor. */
void draw_frame(u8 *to, const Sprite *sprite, u16 frame, s16 x, s16 y, int mirrored);

#endif
