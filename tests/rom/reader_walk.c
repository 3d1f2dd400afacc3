/* Reads all that is in an image with the generated reader and says it as numbers; reader_walk.py knows the order.
   Knows nothing of files, so that it runs on a console too. */
#include "reader_walk.h"

#define CANVAS 65536ul

static unsigned long canvas[CANVAS];
static unsigned int seldom;

static void say_picture(const RwPicture *picture)
{
    unsigned int x, y;

    say(picture->width);
    say(picture->height);
    if (seldom) { /* its corners, and every byte of a corrupt one is inside when its first and last are */
        say(picture->pixels[0]);
        say(picture->pixels[picture->bytes - 1]);
        say(rw_pixel(picture, 0, 0));
        say(rw_pixel(picture, picture->width - 1, picture->height - 1));
        return;
    }
    for (y = 0; y < picture->height; y++) {
        for (x = 0; x < picture->width; x++)
            say(rw_pixel(picture, x, y));
    }
}

static unsigned long size_of(const RwSprite *sprite)
{
    return (unsigned long)sprite->width * sprite->height;
}

static void draw(const RwSprite *sprite, const RwPiece *piece, unsigned long clear)
{
    unsigned int across, down, column, row;
    long x, y;
    unsigned long pixel;

    for (down = 0; down < piece->picture.height; down++) {
        for (across = 0; across < piece->picture.width; across++) {
            column = piece->flips & RW_FLIP_X ? piece->picture.width - 1 - across : across;
            row = piece->flips & RW_FLIP_Y ? piece->picture.height - 1 - down : down;
            pixel = rw_pixel(&piece->picture, column, row);
            x = (long)piece->x + (long)across;
            y = (long)piece->y + (long)down;
            if (pixel != clear && x >= 0 && y >= 0 && x < (long)sprite->width && y < (long)sprite->height)
                canvas[(unsigned long)y * sprite->width + (unsigned long)x] = pixel;
        }
    }
}

/* What is prepared must say the same as the pieces. */
static void walk_draws(const RwSprite *sprite, unsigned int rank, const RwFrame *frame)
{
    RwDraws draws;
    RwDraw one;
    RwPiece piece;
    unsigned int count;

    if (!rw_draws(sprite, rank, &draws) || draws.left != frame->piece_count) {
        say(FAULT);
        return;
    }
    if (sprite->commands) {
        for (count = 0; count < draws.left * sprite->draw_bytes && more(); count++)
            say(draws.at[count]);
        return;
    }
    for (count = 0; count < frame->piece_count && more(); count++) {
        if (!rw_next_draw(&draws, &one)) {
            say(FAULT);
            continue;
        }
        if (seldom) {
            say(one.pixels[0]);
            say(one.pixels[draws.bytes - 1]);
        }
        if (!rw_frame_piece(sprite, frame, count, &piece) || piece.picture.pixels != one.pixels || piece.x != one.x
            || piece.y != one.y || piece.flips != one.flips || piece.picture.bytes != draws.bytes)
            say(FAULT);
    }
    if (rw_next_draw(&draws, &one))
        say(FAULT);
}

static void walk_frame(const RwSprite *sprite, unsigned int rank, unsigned long clear)
{
    RwFrame frame;
    RwPiece piece;
    unsigned long place;
    unsigned int count;

    if (!rw_frame(sprite, rank, &frame)) {
        say(FAULT);
        return;
    }
    say(frame.piece_count);
    for (place = 0; !seldom && place < size_of(sprite); place++)
        canvas[place] = clear;
    for (count = 0; count < frame.piece_count && more(); count++) {
        if (!rw_frame_piece(sprite, &frame, count, &piece))
            say(FAULT);
        else if (seldom)
            say_picture(&piece.picture);
        else
            draw(sprite, &piece, clear);
    }
    for (place = 0; !seldom && place < size_of(sprite); place++)
        say(canvas[place]);
    if (sprite->draws)
        walk_draws(sprite, rank, &frame);
}

static void walk_animations(const RwSprite *sprite)
{
    RwAnimation animation, again;
    RwStep step;
    unsigned int rank, at;

    say(sprite->animation_count);
    for (rank = 0; rank < sprite->animation_count && more(); rank++) {
        if (!rw_animation(sprite, rank, &animation) || !rw_find_animation(sprite, animation.hash, &again)) {
            say(FAULT);
            continue;
        }
        say(animation.hash);
        say(animation.loop);
        say(again.step_count);
        for (at = 0; at < animation.step_count && more(); at++) {
            if (!rw_animation_step(sprite, &animation, at, &step)) {
                say(FAULT);
                continue;
            }
            say(step.frame);
            say(step.ticks);
            say(rw_next_step(&animation, at));
        }
    }
}

static void walk_sprite(const unsigned char *image, unsigned long bytes, const RwAsset *asset)
{
    RwSprite sprite;
    RwAsset other;
    RwPool pool;
    RwPalette palette;
    unsigned long clear;
    unsigned int rank;

    if (!rw_sprite(asset, &sprite)) {
        say(FAULT);
        return;
    }
    say(sprite.arrangement);
    say(sprite.width);
    say(sprite.height);
    say((unsigned long)(sprite.anchor_x + 0x8000L));
    say((unsigned long)(sprite.anchor_y + 0x8000L));
    if (sprite.pool && (!look_for(image, bytes, sprite.pool, RW_KIND_POOL, &other) || !rw_pool(&other, &pool)
                        || !rw_use_pool(&sprite, &pool)))
        say(FAULT);
    clear = sprite.clear;
    if (sprite.arrangement == RW_SHEET
        && (!look_for(image, bytes, sprite.palette, RW_KIND_PALETTE, &other) || !rw_palette(&other, &palette)
            || !rw_sheet_clear(&sprite, &palette, &clear)))
        clear = 0xFFFFFFFFul;
    say(sprite.frame_count);
    for (rank = 0; rank < sprite.frame_count && more() && (seldom || size_of(&sprite) <= CANVAS); rank++)
        walk_frame(&sprite, rank, clear);
    walk_animations(&sprite);
}

static void walk_tiles(const RwBackground *background)
{
    RwPlace place;
    RwPicture tile;
    unsigned long rank;
    unsigned int column, row;

    say(background->tiled);
    say(background->tile_count);
    for (rank = 0; rank < background->tile_count && more(); rank++) {
        if (rw_tile(background, rank, &tile))
            say_picture(&tile);
        else
            say(FAULT);
    }
    for (row = 0; row < background->rows; row++) {
        for (column = 0; column < background->columns && more(); column++) {
            if (!rw_map(background, column, row, &place)) {
                say(FAULT);
                continue;
            }
            say(place.tile);
            say(place.line);
            say(place.flips);
        }
    }
}

static void walk_background(const RwAsset *asset)
{
    RwBackground background;

    if (!rw_background(asset, &background)) {
        say(FAULT);
        return;
    }
    if (background.tiled) {
        walk_tiles(&background);
        return;
    }
    say(background.tiled);
    say_picture(&background.picture);
}

static void walk_colours(const RwPalette *palette)
{
    unsigned int rank;
    unsigned long word;

    say(palette->entry_count);
    for (rank = 0; rank < palette->entry_count && more(); rank++)
        say(rw_colour(palette, rank, &word) ? word : FAULT);
}

static void walk_palette(const RwAsset *asset)
{
    RwPalette palette;

    if (!rw_palette(asset, &palette)) {
        say(FAULT);
        return;
    }
    say(palette.first);
    say(palette.line_entries);
    say(palette.transparent);
    walk_colours(&palette);
}

static void walk_screen(const RwAsset *asset)
{
    RwPalette palette;
    RwPicture picture;
    RwBackground tiles;

    if (rw_screen_tiles(asset, &tiles, &palette)) {
        walk_colours(&palette);
        say(palette.line_entries);
        walk_tiles(&tiles);
        return;
    }
    if (!rw_screen(asset, &picture, &palette)) {
        say(FAULT);
        return;
    }
    walk_colours(&palette);
    say_picture(&picture);
}

static void walk_sound(const RwAsset *asset)
{
    RwSound sound;
    unsigned long rank;
    long level;

    if (!rw_sound(asset, &sound)) {
        say(FAULT);
        return;
    }
    say(sound.rate);
    say(sound.sample_count);
    for (rank = 0; rank < sound.sample_count && more(); rank++)
        say(rw_sample(&sound, rank, &level) ? (unsigned long)(level + 0x8000L) : FAULT);
}

static void walk_level(const RwAsset *asset)
{
    RwLevel level;
    unsigned int row, column, number;

    if (!rw_level(asset, &level)) {
        say(FAULT);
        return;
    }
    say(level.width);
    say(level.height);
    say(level.least);
    say(level.most);
    for (row = 0; row < level.height && more(); row++)
        for (column = 0; column < level.width && more(); column++)
            say(rw_cell(&level, column, row, &number) ? (unsigned long)number : FAULT);
    say((unsigned long)rw_cell(&level, level.width, 0, &number));
    say((unsigned long)rw_cell(&level, 0, level.height, &number));
}

static void walk_text(const RwAsset *asset)
{
    RwText text;
    RwString string;
    unsigned int language, key, rank;
    unsigned long unit;

    if (!rw_text(asset, &text)) {
        say(FAULT);
        return;
    }
    say(text.font);
    say(text.end);
    say(text.line_break);
    for (language = 0; language < text.language_count && more(); language++) {
        for (key = 0; key < text.key_count && more(); key++) {
            if (!rw_string(&text, language, key, &string)) {
                say(FAULT);
                continue;
            }
            say(string.lines);
            say(string.count);
            for (rank = 0; rank < string.count && more(); rank++)
                say(rw_unit(&text, &string, rank, &unit) ? unit : FAULT);
            say((unsigned long)string.units[string.count * text.unit_bytes]); /* of the end, which is inside, one byte */
            say((unsigned long)rw_unit(&text, &string, string.count, &unit));
        }
    }
    say((unsigned long)rw_string(&text, text.language_count, 0, &string));
    say((unsigned long)rw_string(&text, 0, text.key_count, &string));
}

#define READ(name) rw_##name
#define READ_TYPE(name) Rw##name
#include "notes_walk.h"

static void walk_font(const RwAsset *asset)
{
    RwFont font;
    RwGlyph glyph, again;
    unsigned int rank;

    if (!rw_font(asset, &font)) {
        say(FAULT);
        return;
    }
    say(font.left);
    say(font.baseline);
    say(font.line_height);
    say(font.clear);
    say(font.glyph_count);
    for (rank = 0; rank < font.glyph_count && more(); rank++) {
        if (!rw_glyph_at(&font, rank, &glyph) || !rw_glyph(&font, glyph.code, &again)) {
            say(FAULT);
            continue;
        }
        say(glyph.code);
        say(again.advance);
        say_picture(&again.picture);
    }
    say((unsigned long)rw_glyph(&font, 0x10FFFFul, &glyph));
}

/* Sound samples and colours count as data as well: what has no record is said byte for byte. */
static void walk_bytes(const RwAsset *asset)
{
    unsigned long at;

    say(asset->bytes);
    for (at = 0; at < asset->bytes && more(); at++)
        say(asset->at[at]);
}

void walk(const unsigned char *image, unsigned long bytes, unsigned long hash, unsigned int kind, unsigned int corners)
{
    RwAsset asset;

    seldom = corners;
    if (!look_for(image, bytes, hash, kind, &asset)) {
        say(FAULT);
        return;
    }
    if (kind == RW_KIND_SPRITE)
        walk_sprite(image, bytes, &asset);
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
