/* Finding things in the image by name. Where they stand changes with every edit of the art; their names do not. */
#ifndef ASSETS_READER_H
#define ASSETS_READER_H

#include "numbers.h"

#define KIND_SPRITE 1
#define KIND_BACKGROUND 2
#define KIND_PALETTE 3
#define KIND_SCREEN 5

#define CHECK_PARTS 32

typedef struct {
    const u8 *at;
    u32 bytes;
} Asset;

/* Whether both sums of the header are right. Calls told(n) after each of CHECK_PARTS equal parts, n from 0. */
int image_is_whole(void (*told)(u16 part));

/* The number an asset or animation of this name is known by. */
u32 name_hash(const char *name);

/* Whether there is such an asset, stored as it is and all inside the image. */
int find_asset(u32 hash, u8 kind, Asset *found);

/* Bytes of the image, padding included. */
u32 image_size(void);

/* Whether count bytes from an offset lie inside a whole. */
int lies_inside(u32 offset, u32 count, u32 whole);

#endif
