/* The walk of reader_walk.c with the reader for eight bits: the same numbers, read through banks in blocks of their own.
   In cases, which count faults, an asset is read in a block of its own as well. Pixels are taken apart by the other reader.
   STREAMED: tables of sprites are in memory, and each frame is fetched into a buffer, all at their exact sizes. */
#include <stdlib.h>
#include <string.h>

#include "reader8_console.h"
#include "reader8.h"
#include "reader_walk.h"

#define MOST_BANKS 64
#define CANVAS 65536ul

const unsigned char *console_banks[MOST_BANKS];
unsigned int console_bank;

static unsigned int bank_count, seldom;
static unsigned long canvas[CANVAS];
static unsigned char *blocks[8];
static unsigned int block_count;

static unsigned char *block_of(const unsigned char *from, unsigned long bytes, unsigned long room)
{
    unsigned char *block = malloc(room ? room : 1);

    if (!block)
        exit(2);
    memset(block, 0xFF, room);
    if (bytes)
        memcpy(block, from, bytes);
    return block;
}

static void open_banks(const unsigned char *image, unsigned long bytes)
{
    unsigned long start, size;

    for (bank_count = 0; bank_count < MOST_BANKS && bank_count * (unsigned long)RW_BANK_BYTES < bytes; bank_count++) {
        start = bank_count * (unsigned long)RW_BANK_BYTES;
        size = bytes - start < RW_BANK_BYTES ? bytes - start : RW_BANK_BYTES;
        console_banks[bank_count] = block_of(image + start, size, RW_BANK_BYTES);
    }
}

static void close_banks(void)
{
    while (bank_count)
        free((void *)(size_t)console_banks[--bank_count]);
    while (block_count)
        free(blocks[--block_count]);
}

static int look(unsigned long hash, unsigned int kind, Rw8Asset *asset)
{
    const unsigned char *at;
    unsigned int bytes;
    Rw8Asset known;

    if (!rw8_find(bank_count, hash, kind, asset))
        return 0;
    if (asset->codec != RW_CODEC_STORED) {
        bytes = asset->unpacked_bytes ? asset->unpacked_bytes : 60000u;
        blocks[block_count] = block_of(0, 0, bytes);
        return rw8_unpack(asset, blocks[block_count++], bytes);
    }
    if (!seldom && (!rw8_asset_in(asset->place.bank, asset->place.offset, asset->place.bytes, kind, &known)
        || known.place.memory || known.place.bank != asset->place.bank || known.place.offset != asset->place.offset
        || known.place.bytes != asset->place.bytes))
        return 0;
    if (!seldom)
        return 1;
    at = rw8_show(&asset->place);
    bytes = asset->place.bytes;
    blocks[block_count] = block_of(at, bytes, bytes);
    return rw8_asset_at(blocks[block_count++], bytes, kind, asset);
}

static unsigned int part_side(unsigned int format, unsigned int whole, unsigned int cell)
{
    return CELLS >> format & 1 ? cell : whole;
}

static RwPicture picture_of(const Rw8Place *place, unsigned int format, unsigned int width, unsigned int height)
{
    RwPicture picture;

    picture.pixels = rw8_show(place);
    picture.bytes = place->bytes;
    picture.width = width;
    picture.height = height;
    picture.part_width = part_side(format, width, RW_CELL_WIDTH);
    picture.part_height = part_side(format, height, RW_CELL_HEIGHT);
    picture.format = format;
    return picture;
}

static void say_picture(RwPicture picture)
{
    unsigned int x, y;

    say(picture.width);
    say(picture.height);
    if (seldom) {
        say(picture.pixels[0]);
        say(picture.pixels[picture.bytes - 1]);
        say(rw_pixel(&picture, 0, 0));
        say(rw_pixel(&picture, picture.width - 1, picture.height - 1));
        return;
    }
    for (y = 0; y < picture.height; y++) {
        for (x = 0; x < picture.width; x++)
            say(rw_pixel(&picture, x, y));
    }
}

static void draw(const Rw8Sprite *sprite, const Rw8Piece *piece, unsigned long clear)
{
    RwPicture picture = picture_of(&piece->place, sprite->format, piece->width, piece->height);
    unsigned int across, down;
    long x, y;
    unsigned long pixel;

    for (down = 0; down < piece->height; down++) {
        for (across = 0; across < piece->width; across++) {
            pixel = rw_pixel(&picture, piece->flips & RW_FLIP_X ? piece->width - 1 - across : across,
                             piece->flips & RW_FLIP_Y ? piece->height - 1 - down : down);
            x = (long)piece->x + (long)across;
            y = (long)piece->y + (long)down;
            if (pixel != clear && x >= 0 && y >= 0 && x < (long)sprite->width && y < (long)sprite->height)
                canvas[(unsigned long)y * sprite->width + (unsigned long)x] = pixel;
        }
    }
}

#ifdef STREAMED
#define MOST_RUNS 64

static Rw8Run runs[MOST_RUNS];
static unsigned int run_count;
static unsigned char *buffer;

static void take_tables(Rw8Sprite *sprite)
{
    const unsigned char *from = rw8_show(&sprite->place);

    rw8_tables_at(sprite, from);
    blocks[block_count] = block_of(from, sprite->place.bytes, sprite->place.bytes);
    rw8_tables_at(sprite, blocks[block_count++]);
}

static void fetch(const Rw8Sprite *sprite, unsigned int rank)
{
    unsigned int bytes = 0, count, done;
    Rw8Run run;

    run.next = 0;
    for (run_count = 0; run_count < MOST_RUNS && rw8_frame_run(sprite, rank, &run); run_count++) {
        runs[run_count] = run;
        bytes += run.place.bytes;
    }
    buffer = block_of(0, 0, bytes);
    for (count = done = 0; count < run_count; done += runs[count++].place.bytes)
        memcpy(buffer + done, rw8_show(&runs[count].place), runs[count].place.bytes);
}

static int next_piece(Rw8Piece *piece)
{
    return rw8_piece(piece) && rw8_fetched(&piece->place, runs, run_count, buffer);
}
#else
#define next_piece rw8_piece
#endif

/* Commands are said byte for byte; other draws must say the same as the pieces. */
static void walk_draws(const Rw8Sprite *sprite, unsigned int rank)
{
    Rw8Place draws;
    Rw8Piece piece;
    const unsigned char *at;
    unsigned int count, pieces, byte;
    unsigned char commands;

    if (!rw8_draws(sprite, rank, &draws, &count, &commands) || !rw8_frame(sprite, rank, &pieces) || pieces != count) {
        say(FAULT);
        return;
    }
    at = rw8_show(&draws);
    for (byte = 0; (commands || seldom) && byte < draws.bytes && more(); byte++)
        say(at[byte]);
    for (byte = 0; !commands && !seldom && byte < draws.bytes; byte += 12) {
        if (!rw8_piece(&piece)
            || (at[byte + 3 * LOW] | at[byte + 1 + LOW] << 8) != (int)(piece.place.offset - sprite->cells.offset - sprite->pixels)
            || (at[byte + 4 + LOW] | at[byte + 5 - LOW] << 8) != (piece.x & 0xFFFF)
            || (at[byte + 6 + LOW] | at[byte + 7 - LOW] << 8) != (piece.y & 0xFFFF) || at[byte + 10 + LOW] != piece.flips)
            say(FAULT);
        at = rw8_show(&draws);
    }
}

static void walk_frame(const Rw8Sprite *sprite, unsigned int rank, unsigned long clear)
{
    unsigned long place, size = (unsigned long)sprite->width * sprite->height;
    unsigned int count;
    Rw8Piece piece;

    if (!rw8_frame(sprite, rank, &count)) {
        say(FAULT);
        return;
    }
#ifdef STREAMED
    fetch(sprite, rank);
    rw8_frame(sprite, rank, &count);
#endif
    say(count);
    for (place = 0; !seldom && place < size; place++)
        canvas[place] = clear;
    for (; count && more(); count--) {
        if (!next_piece(&piece))
            say(FAULT);
        else if (seldom)
            say_picture(picture_of(&piece.place, sprite->format, piece.width, piece.height));
        else
            draw(sprite, &piece, clear);
    }
    if (rw8_piece(&piece) && more())
        say(FAULT);
#ifdef STREAMED
    free(buffer);
#endif
    for (place = 0; !seldom && place < size; place++)
        say(canvas[place]);
    if (sprite->arrangement == RW_PREPARED)
        walk_draws(sprite, rank);
}

static void walk_animations(const Rw8Sprite *sprite)
{
    Rw8Animation animation;
    Rw8Step step;
    unsigned int rank, at;

    say(sprite->animation_count);
    for (rank = 0; rank < sprite->animation_count && more(); rank++) {
        if (!rw8_animation(sprite, rank, &animation)) {
            say(FAULT);
            continue;
        }
        say(animation.loop);
        say(animation.step_count);
        for (at = 0; at < animation.step_count && more(); at++) {
            if (!rw8_step(&animation, at, &step)) {
                say(FAULT);
                continue;
            }
            say(step.frame);
            say(step.ticks);
            say(rw8_next_step(&animation, at));
        }
    }
}

static void walk_sprite(const Rw8Asset *asset)
{
    Rw8Sprite sprite;
    Rw8Asset other;
    Rw8Palette palette;
    unsigned long clear;
    unsigned int rank;

    if (!rw8_sprite(asset, &sprite)) {
        say(FAULT);
        return;
    }
    say(sprite.arrangement);
    say(sprite.width);
    say(sprite.height);
    say((unsigned long)(sprite.anchor_x + 0x8000L));
    say((unsigned long)(sprite.anchor_y + 0x8000L));
    if (sprite.pool && (!look(sprite.pool, RW_KIND_POOL, &other) || !rw8_use_pool(&sprite, &other)))
        say(FAULT);
    clear = sprite.clear;
    if (sprite.arrangement == RW_SHEET) {
        if (look(sprite.palette, RW_KIND_PALETTE, &other) && rw8_palette(&other, &palette) && palette.transparent)
            clear = palette.first & CLEAR_MASK;
        else
            clear = 0xFFFFFFFFul;
    }
#ifdef STREAMED
    take_tables(&sprite);
#endif
    say(sprite.frame_count);
    for (rank = 0; rank < sprite.frame_count && more(); rank++)
        walk_frame(&sprite, rank, clear);
    walk_animations(&sprite);
}

static void walk_tiles(const Rw8Background *background)
{
    Rw8Place tile;
    unsigned int rank, column, row, word;

    say(background->tile_count);
    for (rank = 0; rank < background->tile_count && more(); rank++) {
        if (rw8_tile(background, rank, &tile) && (!seldom || tile.bytes == TILE_BYTES))
            say_picture(picture_of(&tile, background->format, background->tile_width, background->tile_height));
        else
            say(FAULT);
    }
    for (row = 0; row < background->rows; row++) {
        for (column = 0; column < background->columns && more(); column++)
            say(rw8_map(background, column, row, &word) ? word : FAULT);
    }
}

static void walk_background(const Rw8Asset *asset)
{
    Rw8Background background;

    if (!rw8_background(asset, &background)) {
        say(FAULT);
        return;
    }
    say(background.tiled);
    if (background.tiled)
        walk_tiles(&background);
    else
        say_picture(picture_of(&background.tiles, background.format, background.width, background.height));
}

static void walk_colours(const Rw8Palette *palette)
{
    unsigned int rank;
    Rw8Colour word;

    say(palette->entry_count);
    for (rank = 0; rank < palette->entry_count && more(); rank++)
        say(rw8_colour(palette, rank, &word) ? word : FAULT);
}

static void walk_palette(const Rw8Asset *asset)
{
    Rw8Palette palette;

    if (!rw8_palette(asset, &palette)) {
        say(FAULT);
        return;
    }
    say(palette.first);
    say(palette.line_entries);
    say(palette.transparent);
    walk_colours(&palette);
}

static void walk_screen(const Rw8Asset *asset)
{
    Rw8Screen screen;
    Rw8Background tiles;
    Rw8Palette palette;

    if (rw8_screen_tiles(asset, &tiles, &palette)) {
        walk_colours(&palette);
        say(palette.line_entries);
        say(1);
        walk_tiles(&tiles);
        return;
    }
    if (!rw8_screen(asset, &screen)) {
        say(FAULT);
        return;
    }
    walk_colours(&screen.palette);
    say_picture(picture_of(&screen.picture, screen.format, screen.width, screen.height));
}

static void walk_sound(const Rw8Asset *asset)
{
    Rw8Sound sound;
    const unsigned char *samples;
    unsigned int rank;

    if (!rw8_sound(asset, &sound)) {
        say(FAULT);
        return;
    }
    say(sound.rate);
    say(sound.samples.bytes);
    samples = rw8_show(&sound.samples);
    for (rank = 0; rank < sound.samples.bytes && more(); rank++)
        say(samples[rank] + 0x8000ul); /* unsigned samples of eight bits */
}

static void walk_level(const Rw8Asset *asset)
{
    Rw8Level level;
    unsigned int row, column, number;

    if (!rw8_level(asset, &level)) {
        say(FAULT);
        return;
    }
    say(level.width);
    say(level.height);
    say(level.least);
    say(level.most);
    for (row = 0; row < level.height && more(); row++)
        for (column = 0; column < level.width && more(); column++)
            say(rw8_cell(&level, column, row, &number) ? (unsigned long)number : FAULT);
    say((unsigned long)rw8_cell(&level, level.width, 0, &number));
    say((unsigned long)rw8_cell(&level, 0, level.height, &number));
}

static void walk_text(const Rw8Asset *asset)
{
    Rw8Text text;
    Rw8String string;
    unsigned int language, key, rank;
    unsigned int unit;

    if (!rw8_text(asset, &text)) {
        say(FAULT);
        return;
    }
    say(text.font);
    say(text.end);
    say(text.line_break);
    for (language = 0; language < text.language_count && more(); language++) {
        for (key = 0; key < text.key_count && more(); key++) {
            if (!rw8_string(&text, language, key, &string)) {
                say(FAULT);
                continue;
            }
            say(string.lines);
            say(string.count);
            for (rank = 0; rank < string.count && more(); rank++)
                say(rw8_unit(&string, rank, &unit) ? unit : FAULT);
            say((unsigned long)rw8_show(&string.units)[string.count * text.unit_bytes]); /* of the end, which is inside, one byte */
            say((unsigned long)rw8_unit(&string, string.count, &unit));
        }
    }
    say((unsigned long)rw8_string(&text, text.language_count, 0, &string));
    say((unsigned long)rw8_string(&text, 0, text.key_count, &string));
}

#define READ(name) rw8_##name
#define READ_TYPE(name) Rw8##name
#include "notes_walk.h"

static void walk_font(const Rw8Asset *asset)
{
    Rw8Font font;
    Rw8Glyph glyph, again;
    unsigned int rank;

    if (!rw8_font(asset, &font)) {
        say(FAULT);
        return;
    }
    say(font.left);
    say(font.baseline);
    say(font.line_height);
    say(font.clear);
    say(font.glyph_count);
    for (rank = 0; rank < font.glyph_count && more(); rank++) {
        if (!rw8_glyph_at(&font, rank, &glyph) || !rw8_glyph(&font, glyph.code, &again)) {
            say(FAULT);
            continue;
        }
        say(glyph.code);
        say(again.advance);
        say_picture(picture_of(&again.picture, font.format, font.width, font.height));
    }
    say((unsigned long)rw8_glyph(&font, 0xFFFEu, &glyph));
}

static void walk_bytes(const Rw8Asset *asset)
{
    const unsigned char *from = rw8_show(&asset->place);
    unsigned int at;

    say(asset->place.bytes);
    for (at = 0; at < asset->place.bytes && more(); at++)
        say(from[at]);
}

static void walk_asset(unsigned long hash, unsigned int kind)
{
    Rw8Asset asset;

    if (!look(hash, kind, &asset)) {
        say(FAULT);
        return;
    }
    if (kind == RW_KIND_SPRITE)
        walk_sprite(&asset);
    else if (kind == RW_KIND_BACKGROUND)
        walk_background(&asset);
    else if (kind == RW_KIND_PALETTE)
        walk_palette(&asset);
    else if (kind == RW_KIND_SCREEN)
        walk_screen(&asset);
    else if (kind == RW_KIND_SOUND)
        walk_sound(&asset);
    else if (kind == RW_KIND_FONT)
        walk_font(&asset);
    else if (kind == RW_KIND_LEVEL)
        walk_level(&asset);
    else if (kind == RW_KIND_TEXT)
        walk_text(&asset);
    else if (kind == RW_KIND_NOTES)
        walk_notes(&asset);
    else if (kind != RW_KIND_POOL)
        walk_bytes(&asset);
}

void walk(const unsigned char *image, unsigned long bytes, unsigned long hash, unsigned int kind, unsigned int corners)
{
    seldom = corners;
    open_banks(image, bytes);
    walk_asset(hash, kind);
    close_banks();
}
