/* Sprites, backgrounds, palettes and the boot notice as the program uses them; pixels stay in the cartridge. */
#ifndef ART_H
#define ART_H

#include "loads.h"
#include "numbers.h"
#include "streams.h"

typedef struct {
    u16 width;
    u16 height;
    const u8 *pixels;
    u32 palette; /* name hash, 0 for none */
    u16 columns; /* of a window: what is in memory, which wraps around; 0 of a whole picture */
    u16 rows;
} Picture;

typedef struct {
    u16 first;
    u16 count;
    const u16 *entries;
} Palette;

#define CELL 16 /* side of the cells that frames in pieces are made of */

#define FLIP_ACROSS 1 /* left to right */
#define FLIP_DOWN 2   /* top to bottom */

typedef struct {
    Picture picture;  /* its pixels are frame 0, or cell 0 of a sprite in pieces */
    const u8 *frames; /* which pieces; 0 when every frame is one picture */
    const u8 *pieces;
    u16 frame_count;
    s16 anchor_x;
    s16 anchor_y;
    u8 clear; /* the pixel that stands for nothing */
    u16 animation_count;
    u16 step_count;
    const u8 *animations;
    const u8 *steps;
    const Stream *stream; /* where its frames are fetched to; 0 when they are where picture says */
} Sprite;

/* A rectangle of a frame, its top left at (x, y) of the frame: all of it, or one cell. */
typedef struct {
    const u8 *pixels;
    u16 width;
    u16 height;
    s16 x;
    s16 y;
    u16 flips;
} Part;

typedef struct {
    const u8 *steps; /* frame and ticks, 16 bits each */
    u16 count;       /* 0: there is no such animation */
    u16 loops;
} Animation;

/* Each returns 0, and leaves nothing to use, when the asset is missing, of another pixel format, or not consistent. It is taken
   from the race in memory; where loads is 0, from the cartridge. */
int take_background(const Loads *loads, u32 hash, Picture *picture);
int take_screen(u32 hash, Picture *picture, Palette *palette);
int take_palette(const Loads *loads, u32 hash, Palette *palette);
int take_sprite(const Loads *loads, u32 hash, Sprite *sprite);

/* The same of what the race holds in part. */
int take_streamed(const Stream *stream, const Loads *loads, u32 hash, Sprite *sprite);
void take_seen(const Window *window, Picture *picture);

int take_animation(const Sprite *sprite, u32 hash, Animation *animation);

/* How many parts a frame is drawn from, in their order, and each of them; a frame too high gives frame 0. A streamed frame has
   been fetched before. */
u16 part_count(const Sprite *sprite, u16 frame);
void take_part(const Sprite *sprite, u16 frame, u16 rank, Part *part);

#endif
