/* Assets out of banks into the console's memories; the picture, the pad. */
#include "console.h"

#define RED 0x001Fu
#define ROOM 6000u

static unsigned char memory[ROOM]; /* for what is unpacked */
static unsigned int taken; /* of it */
static Rw8Background picture;
static Rw8Palette colours;

void wait_for_sync(Pad *pad)
{
    unsigned char before = pad->held;

    pad->held = sync_port; /* whatever it says: reading it waits */
    pad->held = pad_port;
    pad->fresh = pad->held & ~before;
}

void stop_red(void)
{
    unsigned char rank;
    Pad pad;

    for (rank = 0; rank < COLOUR_COUNT; rank++)
        COLOURS[rank] = RED;
    for (;;)
        wait_for_sync(&pad);
}

void empty_memory(void)
{
    taken = 0;
}

void fetch(unsigned long hash, unsigned char kind, unsigned int bytes, Rw8Asset *asset)
{
    if (!rw8_find(BANKS, hash, kind, asset))
        stop_red();
    if (asset->codec == RW_CODEC_STORED)
        return;
    if (bytes > ROOM - taken || !rw8_unpack(asset, memory + taken, bytes))
        stop_red();
    taken += bytes;
}

static void copy(unsigned char *to, const unsigned char *from, unsigned int bytes)
{
    for (; bytes; bytes--)
        *to++ = *from++;
}

static void set_colours(void)
{
    unsigned char rank;
    Rw8Colour word;

    if (colours.first > COLOUR_COUNT || colours.entry_count > COLOUR_COUNT - colours.first)
        stop_red();
    for (rank = 0; rank < (unsigned char)colours.entry_count; rank++) {
        if (!rw8_colour(&colours, rank, &word))
            stop_red();
        COLOURS[colours.first + rank] = word;
    }
}

static void check_size(void)
{
    if (!picture.tiled || picture.columns != SCREEN_COLUMNS || picture.rows != SCREEN_ROWS || picture.tile_bytes != CELL_BYTES
        || picture.entry_bytes != 2 || picture.first_tile > 256 || picture.tile_count > 256 - picture.first_tile)
        stop_red();
}

unsigned char show_colours(unsigned long hash)
{
    Rw8Asset asset;

    fetch(hash, RW_KIND_PALETTE, 0, &asset);
    if (!rw8_palette(&asset, &colours))
        stop_red();
    set_colours();
    return (unsigned char)(colours.first >> 2);
}

/* Tiles and map are in the forms that the console takes, so they are copied as they are. */
void show_notice(unsigned long hash)
{
    Rw8Asset asset;
    unsigned char *map = (unsigned char *)MAP;
    const unsigned char *from;
    unsigned char row;

    fetch(hash, RW_KIND_SCREEN, 0, &asset);
    if (!rw8_screen_tiles(&asset, &picture, &colours))
        stop_red();
    check_size();
    copy(TILES + picture.first_tile * CELL_BYTES, rw8_show(&picture.tiles), picture.tiles.bytes);
    from = rw8_show(&picture.map);
    for (row = 0; row < SCREEN_ROWS; row++, map += MAP_COLUMNS * 2, from += SCREEN_COLUMNS * 2)
        copy(map, from, SCREEN_COLUMNS * 2);
    set_colours();
}

/* Tile by tile and entry by entry, as a game does that shows a part of a larger one. */
void show_background(unsigned long hash, unsigned int bytes)
{
    Rw8Asset asset;
    Rw8Place tile;
    unsigned int *map = MAP;
    unsigned int rank;
    unsigned char column, row;

    fetch(hash, RW_KIND_BACKGROUND, bytes, &asset);
    if (!rw8_background(&asset, &picture))
        stop_red();
    check_size();
    for (rank = 0; rank < picture.tile_count; rank++) {
        if (!rw8_tile(&picture, rank, &tile))
            stop_red();
        copy(TILES + (picture.first_tile + rank) * CELL_BYTES, rw8_show(&tile), CELL_BYTES);
    }
    for (row = 0; row < SCREEN_ROWS; row++, map += MAP_COLUMNS) {
        for (column = 0; column < SCREEN_COLUMNS; column++) {
            if (!rw8_map(&picture, column, row, map + column))
                stop_red();
        }
    }
    show_colours(picture.palette);
}
