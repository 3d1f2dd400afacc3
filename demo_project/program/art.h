/* Sprites, backgrounds, palettes and the boot notice as the program uses them; pixels stay in the cartridge. */
#ifndef ART_H
#define ART_H

#include "numbers.h"

typedef struct {
    u16 width;
    u16 height;
    const u8 *pixels;
    u32 palette; /* name hash, 0 for none */
} Picture;

typedef struct {
    u16 first;
    u16 count;
    const u16 *entries;
} Palette;

typedef struct {
    Picture picture; /* its pixels are frame 0 */
    u16 frame_count;
    s16 anchor_x;
    s16 anchor_y;
    u8 clear; /* the pixel that stands for nothing: the first entry of its palette */
    u16 animation_count;
    u16 step_count;
    const u8 *animations;
    const u8 *steps;
} Sprite;

typedef struct {
    const u8 *steps; /* frame and ticks, 16 bits each */
    u16 count;       /* 0: there is no such animation */
    u16 loops;
} Animation;

/* Each returns 0, and leaves nothing to use, when the asset is missing, of another pixel format, or not consistent. */
int take_background(u32 hash, Picture *picture);
int take_screen(u32 hash, Picture *picture, Palette *palette);
int take_palette(u32 hash, Palette *palette);
int take_sprite(u32 hash, Sprite *sprite);

int take_animation(const Sprite *sprite, u32 hash, Animation *animation);

/* Pixels of a frame; a number too high gives frame 0. */
const u8 *frame_pixels(const Sprite *sprite, u16 frame);

#endif
