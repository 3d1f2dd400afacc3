/* Assets out of banks into memory, unpacked where they are packed, and from there into the console's video memory. */
#ifndef ASSETS_LOAD_H
#define ASSETS_LOAD_H

#include "hardware.h"
#include "reader.h"

/* Memory that is still free; what is loaded takes its first bytes. */
typedef struct {
    u8 *at;
} Room;

/* Each returns 1, or 0 when the cartridge does not hold it or it does not fit. */
int load(Room *room, u32 hash, unsigned int kind, RwAsset *asset);
int show_palette(Room room, u32 hash);
int show_screen(Room room, u32 hash);
int show_bitmap(Room room, u32 hash);
/* Copies tiles and map of a background; the map's first row is that of the screen. */
int show_tiles(Room room, u32 hash, unsigned int row);
void copy_words(volatile u16 *to, const u8 *from, u32 bytes);
void black(void);

#endif
