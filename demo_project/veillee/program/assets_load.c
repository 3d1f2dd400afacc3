/* Assets out of banks into memory, unpacked where they are packed, and from there into the console's video memory. */
#include "assets_load.h"

#include "unpack.h"

int load(Room *room, u32 hash, unsigned int kind, RwAsset *asset)
{
    const u8 *from;
    u8 *to = room->at;
    u32 left, bytes;
    int done = 1;

    if (!rw_look_up(HOME, HOME_BYTES, hash, kind, asset))
        return 0;
    from = (const u8 *)asset->address;
    bytes = asset->unpacked_bytes;
    if (bytes > (u32)(MEMORY_END - to))
        return 0;
    BANK = (u16)asset->bank;
    if (asset->codec == RW_CODEC_LZ4)
        done = rw_unpack_lz4(from, asset->bytes, to, bytes);
    else if (asset->codec == RW_CODEC_PACKBITS)
        done = rw_unpack_packbits(from, asset->bytes, to, bytes);
    else
        for (left = bytes; left; left--)
            *to++ = *from++;
    if (!done || !rw_asset_at(room->at, bytes, kind, asset))
        return 0;
    room->at += (bytes + 1) & ~1UL;
    return 1;
}

void copy_words(volatile u16 *to, const u8 *from, u32 bytes)
{
    for (; bytes > 1; bytes -= 2, from += 2)
        *to++ = (u16)(from[0] << 8 | from[1]);
}

void black(void)
{
    u16 rank;

    for (rank = 0; rank < COLOUR_COUNT; rank++)
        COLOURS[rank] = 0;
}

static int set_colours(const RwPalette *palette)
{
    unsigned int rank;
    unsigned long word;

    for (rank = 0; rank < palette->entry_count && palette->first + rank < COLOUR_COUNT; rank++) {
        if (!rw_colour(palette, rank, &word))
            return 0;
        COLOURS[palette->first + rank] = (u16)word;
    }
    return 1;
}

int show_palette(Room room, u32 hash)
{
    RwAsset asset;
    RwPalette palette;

    return load(&room, hash, RW_KIND_PALETTE, &asset) && rw_palette(&asset, &palette) && set_colours(&palette);
}

/* A picture as large as the screen, cell after cell: as many tiles, each shown once. */
static int show_whole(const RwPicture *picture, unsigned int line)
{
    u16 row, column, tile = 0;

    if (picture->format != RW_FORMAT_TILE4 || picture->width != SCREEN_COLUMNS * 8 || picture->height != SCREEN_ROWS * 8)
        return 0;
    copy_words(TILES, picture->pixels, (u32)SCREEN_COLUMNS * SCREEN_ROWS * TILE_BYTES);
    for (row = 0; row < SCREEN_ROWS; row++) {
        SCROLL[row] = 0;
        for (column = 0; column < SCREEN_COLUMNS; column++)
            MAP[row * MAP_COLUMNS + column] = (u16)(line << LINE_SHIFT | tile++);
    }
    return 1;
}

int show_bitmap(Room room, u32 hash)
{
    RwAsset asset, colours;
    RwBackground background;
    RwPalette palette;

    return load(&room, hash, RW_KIND_BACKGROUND, &asset) && rw_background(&asset, &background) && !background.tiled
        && load(&room, background.palette, RW_KIND_PALETTE, &colours) && rw_palette(&colours, &palette)
        && show_whole(&background.picture, palette.first >> 4) && set_colours(&palette);
}

/* Tiles to the tile memory as they are, map entries to the map memory from a row on. */
static int put_tiles(const RwBackground *background, unsigned int row)
{
    RwPlace place;
    unsigned int x, y;

    if (background->picture.format != RW_FORMAT_TILE4 || background->columns > MAP_COLUMNS || row + background->rows > MAP_ROWS
        || background->first_tile + background->tile_count > TILE_COUNT)
        return 0;
    copy_words(TILES + background->first_tile * (TILE_BYTES / 2), background->at + background->tiles,
        background->tile_count * TILE_BYTES);
    for (y = 0; y < background->rows; y++)
        for (x = 0; x < background->columns; x++) {
            if (!rw_map(background, x, y, &place))
                return 0;
            MAP[(row + y) * MAP_COLUMNS + x] = (u16)place.word;
        }
    return 1;
}

int show_screen(Room room, u32 hash)
{
    RwAsset asset;
    RwBackground notice;
    RwPalette palette;
    u16 row;

    for (row = 0; row < SCREEN_ROWS; row++)
        SCROLL[row] = 0;
    return load(&room, hash, RW_KIND_SCREEN, &asset) && rw_screen_tiles(&asset, &notice, &palette) && put_tiles(&notice, 0)
        && set_colours(&palette);
}

int show_tiles(Room room, u32 hash, unsigned int row)
{
    RwAsset asset;
    RwBackground background;

    return load(&room, hash, RW_KIND_BACKGROUND, &asset) && rw_background(&asset, &background) && background.tiled
        && background.columns == MAP_COLUMNS && put_tiles(&background, row) && show_palette(room, background.palette);
}
