/* Shows every frame of four sprites in pieces, whole and trimmed, two of them packed, plays their animations, then a background. */
#include "assets.h"
#include "reader8.h"

#define WIDE 64
#define HIGH 64

unsigned char canvas[WIDE * HIGH]; /* what the console shows, a byte a pixel */
static unsigned char memory[2600]; /* for what is unpacked */

typedef struct {
    unsigned long hash;
    unsigned int bytes, pool_bytes; /* unpacked */
} Star;

static const Star stars[] = {
    { ADA_HASH, ADA_UNPACKED_BYTES, 0 },
    { BEA_HASH, BEA_UNPACKED_BYTES, 0 },
    { CID_HASH, CID_UNPACKED_BYTES, FERRY_CELLS_UNPACKED_BYTES },
    { DOT_HASH, DOT_UNPACKED_BYTES, 0 },
};

static unsigned int taken; /* of memory */

static void stop(unsigned char code)
{
    stop_port = code;
    for (;;)
        ;
}

static void fetch(unsigned long hash, unsigned int kind, unsigned int bytes, Rw8Asset *asset)
{
    if (!rw8_find(BANKS, hash, kind, asset))
        stop(2);
    if (asset->codec == RW_CODEC_STORED)
        return;
    if (taken + bytes > sizeof memory || !rw8_unpack(asset, memory + taken, bytes))
        stop(3);
    taken += bytes;
}

/* A cell of eight rows, each of two planes, byte by byte. */
static void draw_cell(const unsigned char *from, int left, int top, unsigned char flips, unsigned char clear)
{
    unsigned char row, column, low, high, pixel;
    int x, y;

    for (row = 0; row < 8; row++) {
        low = *from++;
        high = *from++;
        y = top + (flips & RW_FLIP_Y ? 7 - row : row);
        for (column = 0; column < 8; column++, low <<= 1, high <<= 1) {
            pixel = (unsigned char)(low >> 7 | (high >> 7) << 1);
            x = left + (flips & RW_FLIP_X ? 7 - column : column);
            if (pixel != clear && x >= 0 && x < WIDE && y >= 0 && y < HIGH)
                canvas[y * WIDE + x] = pixel;
        }
    }
}

/* A cell, or a picture of several, cell after cell; the cells of a mirrored picture change places as well. */
static void draw_piece(const Rw8Piece *piece, unsigned char clear)
{
    const unsigned char *from = rw8_show(&piece->place);
    unsigned int across, down, x, y;

    for (down = 0; down < piece->height; down += 8) {
        for (across = 0; across < piece->width; across += 8, from += 16) {
            x = piece->flips & RW_FLIP_X ? piece->width - 8 - across : across;
            y = piece->flips & RW_FLIP_Y ? piece->height - 8 - down : down;
            draw_cell(from, piece->x + (int)x, piece->y + (int)y, piece->flips, clear);
        }
    }
}

static void show_frame(const Rw8Sprite *sprite, unsigned int rank, unsigned char clear)
{
    unsigned int count;
    Rw8Piece piece;

    for (count = 0; count < WIDE * HIGH; count++)
        canvas[count] = clear;
    if (!rw8_frame(sprite, rank, &count))
        stop(4);
    for (; count; count--) {
        if (!rw8_piece(&piece))
            stop(5);
        draw_piece(&piece, clear);
    }
    show_port = 1;
}

static unsigned char load_colours(unsigned long hash)
{
    Rw8Asset asset;
    Rw8Palette palette;
    Rw8Colour word;
    unsigned int rank;

    fetch(hash, RW_KIND_PALETTE, FIGURES_UNPACKED_BYTES, &asset);
    if (!rw8_palette(&asset, &palette))
        stop(6);
    for (rank = 0; rank < palette.entry_count; rank++) {
        if (!rw8_colour(&palette, rank, &word))
            stop(7);
        colour_port = (unsigned char)word;
        colour_port = (unsigned char)(word >> 8);
    }
    return (unsigned char)(palette.first & 3);
}

static void play(const Rw8Sprite *sprite, unsigned char clear)
{
    Rw8Animation animation;
    Rw8Step step;
    unsigned int rank, at, again;

    for (rank = 0; rank < sprite->animation_count; rank++) {
        if (!rw8_animation(sprite, rank, &animation))
            stop(8);
        at = 0;
        do {
            if (!rw8_step(&animation, at, &step))
                stop(9);
            show_frame(sprite, step.frame, clear);
            for (again = 1; again < step.ticks; again++)
                show_port = 1;
            at = rw8_next_step(&animation, at);
        } while (at && at + 1 < animation.step_count);
    }
}

/* The part of a background of tiles that fits, as the console's own unit draws it from map and tiles. */
static void show_background(unsigned long hash)
{
    Rw8Asset asset;
    Rw8Background background;
    Rw8Place tile;
    unsigned int column, row, word;

    fetch(hash, RW_KIND_BACKGROUND, PIER_UNPACKED_BYTES, &asset);
    if (!rw8_background(&asset, &background) || !background.tiled)
        stop(12);
    for (row = 0; row < HIGH / 8; row++) {
        for (column = 0; column < WIDE / 8; column++) {
            if (!rw8_map(&background, column, row, &word) || !rw8_tile(&background, (word & 0xFF) - background.first_tile, &tile))
                stop(13);
            /* Bits of Pebble 8's map: mirrored left to right, top to bottom. */
            draw_cell(rw8_show(&tile), (int)(column * 8), (int)(row * 8),
                      (unsigned char)((word >> 12 & 1 ? RW_FLIP_X : 0) | (word >> 11 & 1 ? RW_FLIP_Y : 0)), 4);
        }
    }
    show_port = 1;
}

void main(void)
{
    Rw8Asset asset, pool;
    Rw8Sprite sprite;
    unsigned char which, clear;
    unsigned int rank;

    for (which = 0; which < sizeof stars / sizeof stars[0]; which++) {
        taken = 0;
        fetch(stars[which].hash, RW_KIND_SPRITE, stars[which].bytes, &asset);
        if (!rw8_sprite(&asset, &sprite))
            stop(10);
        if (sprite.pool) {
            fetch(sprite.pool, RW_KIND_POOL, stars[which].pool_bytes, &pool);
            if (!rw8_use_pool(&sprite, &pool))
                stop(11);
        }
        clear = load_colours(sprite.palette);
        if (sprite.arrangement != RW_SHEET)
            clear = (unsigned char)sprite.clear;
        for (rank = 0; rank < sprite.frame_count; rank++)
            show_frame(&sprite, rank, clear);
        play(&sprite, clear);
    }
    show_background(PIER_HASH);
    stop(1);
}
