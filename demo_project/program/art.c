/* Blobs to structures, with every offset checked. The layouts are those the tool documents for blobs. */
#include "art.h"

#include "assets_reader.h"
#include "hardware.h"

#define VERSION 1
#define PIECED_VERSION 2
#define INDEX8 0 /* rank of the screen's pixel format in the target file */
#define SHEET_RECORD 36
#define PIECED_RECORD 52
#define FRAME_RECORD 8
#define PIECE_RECORD 8
#define ANIMATION_RECORD 12
#define STEP_RECORD 4
#define BACKGROUND_RECORD 16
#define SCREEN_RECORD 16
#define PALETTE_RECORD 12

static int find_record(const Loads *loads, u32 hash, u8 kind, u8 version, u32 record, Asset *asset)
{
    return (loads ? find_loaded(loads, hash, kind, asset) : find_asset(hash, kind, asset)) && asset->bytes >= record && asset->at[0] == version;
}

/* The CPU multiplies 16 bits only. Not inlined: the compiler would take the numbers for wider ones. */
static u32 __attribute__((noinline)) times(u16 one, u16 other)
{
    return (u32)one * other;
}

static int take_pixels(const Asset *asset, u32 offset, u32 count, Picture *picture)
{
    picture->pixels = asset->at + offset;
    return asset->at[1] == INDEX8 && count && lies_inside(offset, count, asset->bytes);
}

int take_background(const Loads *loads, u32 hash, Picture *picture)
{
    Asset asset;

    if (!find_record(loads, hash, KIND_BACKGROUND, VERSION, BACKGROUND_RECORD, &asset))
        return 0;
    picture->width = READ16(asset.at + 2);
    picture->height = READ16(asset.at + 4);
    picture->palette = READ32(asset.at + 8);
    picture->columns = picture->rows = 0;
    return take_pixels(&asset, READ32(asset.at + 12), times(picture->width, picture->height), picture);
}

void take_seen(const Window *window, Picture *picture)
{
    picture->width = (u16)window->background.picture.width;
    picture->height = (u16)window->background.picture.height;
    picture->palette = window->background.palette;
    picture->columns = (u16)window->held.columns;
    picture->rows = (u16)window->held.rows;
    picture->pixels = window->held.at;
}

static int take_entries(const Asset *asset, u32 offset, Palette *palette)
{
    palette->entries = (const u16 *)(asset->at + offset);
    return !(offset & 1) && (u32)palette->first + palette->count <= COLOURS
        && lies_inside(offset, 2 * (u32)palette->count, asset->bytes);
}

int take_screen(u32 hash, Picture *picture, Palette *palette)
{
    Asset asset;

    if (!find_record(0, hash, KIND_SCREEN, VERSION, SCREEN_RECORD, &asset))
        return 0;
    picture->width = READ16(asset.at + 2);
    picture->height = READ16(asset.at + 4);
    picture->palette = 0;
    picture->columns = picture->rows = 0;
    palette->first = 0;
    palette->count = READ16(asset.at + 6);
    return take_entries(&asset, READ32(asset.at + 8), palette)
        && take_pixels(&asset, READ32(asset.at + 12), times(picture->width, picture->height), picture);
}

int take_palette(const Loads *loads, u32 hash, Palette *palette)
{
    Asset asset;

    if (!find_record(loads, hash, KIND_PALETTE, VERSION, PALETTE_RECORD, &asset))
        return 0;
    palette->first = READ16(asset.at + 2);
    palette->count = READ16(asset.at + 4);
    return take_entries(&asset, READ32(asset.at + 8), palette);
}

static void take_head(const Asset *asset, Sprite *sprite)
{
    sprite->frame_count = READ16(asset->at + 2);
    sprite->picture.width = READ16(asset->at + 4);
    sprite->picture.height = READ16(asset->at + 6);
    sprite->anchor_x = (s16)READ16(asset->at + 8);
    sprite->anchor_y = (s16)READ16(asset->at + 10);
    sprite->animation_count = READ16(asset->at + 12);
    sprite->step_count = READ16(asset->at + 14);
    sprite->picture.palette = READ32(asset->at + 16);
    sprite->stream = 0;
}

static int take_animations(const Asset *asset, u32 animations, u32 steps, Sprite *sprite)
{
    sprite->animations = asset->at + animations;
    sprite->steps = asset->at + steps;
    return !((animations | steps) & 1)
        && lies_inside(animations, (u32)sprite->animation_count * ANIMATION_RECORD, asset->bytes)
        && lies_inside(steps, (u32)sprite->step_count * STEP_RECORD, asset->bytes);
}

static u8 clear_pixel(const Loads *loads, u32 hash)
{
    Palette palette;

    return hash && take_palette(loads, hash, &palette) ? (u8)palette.first : 0;
}

/* Counted in rows, at most 65,535 over all frames, so that products stay exact. */
static int take_sheet(const Loads *loads, const Asset *asset, Sprite *sprite)
{
    u32 rows = times(sprite->frame_count, sprite->picture.height);
    u16 width = sprite->picture.width;

    sprite->frames = 0;
    sprite->clear = clear_pixel(loads, sprite->picture.palette);
    return times(width, sprite->picture.height) == READ32(asset->at + 20) && rows <= 0xFFFF
        && take_pixels(asset, READ32(asset->at + 32), times((u16)rows, width), &sprite->picture);
}

/* The end of the piece table, which is where the last piece of any frame ends; more than any blob holds if one is bad. */
static u32 piece_end(const Sprite *sprite, u32 most)
{
    const u8 *frame = sprite->frames;
    u32 first, count, end = 0;
    u16 left;

    for (left = sprite->frame_count; left; left--, frame += FRAME_RECORD) {
        first = READ32(frame);
        count = READ16(frame + 4);
        if (!lies_inside(first, count, most))
            return most + 1;
        if (first + count > end)
            end = first + count;
    }
    return end;
}

static int take_pieces(const Asset *asset, u32 offset, u32 cells, Sprite *sprite)
{
    u32 left = piece_end(sprite, asset->bytes / PIECE_RECORD);
    const u8 *piece = sprite->pieces = asset->at + offset;

    if ((offset & 1) || !lies_inside(offset, left * PIECE_RECORD, asset->bytes))
        return 0;
    for (; left; left--, piece += PIECE_RECORD) {
        if (READ16(piece + 4) >= cells || READ16(piece + 6) > (FLIP_ACROSS | FLIP_DOWN))
            return 0;
    }
    return 1;
}

/* Only a sprite with cells of its own: a pool that several share is not taken. */
static int take_pieced(const Asset *asset, Sprite *sprite)
{
    u32 pool = READ32(asset->at + 20), clear = READ32(asset->at + 24), cells = READ32(asset->at + 28);
    u32 frames = READ32(asset->at + 40);

    sprite->frames = asset->at + frames;
    sprite->clear = (u8)clear;
    return !pool && clear <= 0xFF && cells <= 0xFFFF && sprite->frame_count && !(frames & 1)
        && take_pixels(asset, READ32(asset->at + 48), cells * (CELL * CELL), &sprite->picture)
        && lies_inside(frames, (u32)sprite->frame_count * FRAME_RECORD, asset->bytes)
        && take_pieces(asset, READ32(asset->at + 44), cells, sprite);
}

int take_sprite(const Loads *loads, u32 hash, Sprite *sprite)
{
    Asset asset;

    if (find_record(loads, hash, KIND_SPRITE, VERSION, SHEET_RECORD, &asset)) {
        take_head(&asset, sprite);
        return take_sheet(loads, &asset, sprite)
            && take_animations(&asset, READ32(asset.at + 24), READ32(asset.at + 28), sprite);
    }
    if (find_record(loads, hash, KIND_SPRITE, PIECED_VERSION, PIECED_RECORD, &asset)) {
        take_head(&asset, sprite);
        return take_pieced(&asset, sprite)
            && take_animations(&asset, READ32(asset.at + 32), READ32(asset.at + 36), sprite);
    }
    return 0;
}

int take_streamed(const Stream *stream, const Loads *loads, u32 hash, Sprite *sprite)
{
    Asset tables;

    if (!find_loaded(loads, hash, KIND_SPRITE, &tables))
        return 0;
    take_head(&tables, sprite);
    sprite->stream = stream;
    sprite->clear = stream->sprite.arrangement == RW_SHEET ? clear_pixel(loads, sprite->picture.palette) : (u8)stream->sprite.clear;
    return stream->sprite.format == RW_FORMAT_INDEX8 && take_animations(&tables, stream->sprite.animations, stream->sprite.steps, sprite);
}

int take_animation(const Sprite *sprite, u32 hash, Animation *animation)
{
    const u8 *record = sprite->animations;
    u16 left, first;

    for (left = sprite->animation_count; left; left--, record += ANIMATION_RECORD) {
        if (READ32(record) != hash)
            continue;
        first = READ16(record + 4);
        animation->count = READ16(record + 6);
        animation->loops = READ16(record + 8);
        animation->steps = sprite->steps + (u32)first * STEP_RECORD;
        return animation->count && lies_inside(first, animation->count, sprite->step_count);
    }
    return 0;
}

static const u8 *frame_record(const Sprite *sprite, u16 frame)
{
    return sprite->frames + (frame < sprite->frame_count ? (u32)frame * FRAME_RECORD : 0);
}

u16 part_count(const Sprite *sprite, u16 frame)
{
    RwFrame fetched;

    if (sprite->stream)
        return rw_frame(&sprite->stream->sprite, frame < sprite->frame_count ? frame : 0, &fetched) ? (u16)fetched.piece_count : 0;
    return sprite->frames ? READ16(frame_record(sprite, frame) + 4) : 1;
}

static void take_whole(const Sprite *sprite, u16 frame, Part *part)
{
    u16 rows = frame < sprite->frame_count ? frame * sprite->picture.height : 0;

    part->pixels = sprite->picture.pixels + times(rows, sprite->picture.width);
    part->width = sprite->picture.width;
    part->height = sprite->picture.height;
    part->x = part->y = 0;
    part->flips = 0;
}

/* A piece that is not there has no width, and is not drawn. */
static void take_fetched_part(const Stream *stream, u16 rank, Part *part)
{
    RwPiece piece;

    part->width = part->height = 0;
    if (!take_fetched(stream, rank, &piece))
        return;
    part->pixels = piece.picture.pixels;
    part->width = (u16)piece.picture.width;
    part->height = (u16)piece.picture.height;
    part->x = (s16)piece.x;
    part->y = (s16)piece.y;
    part->flips = (u16)piece.flips;
}

void take_part(const Sprite *sprite, u16 frame, u16 rank, Part *part)
{
    const u8 *piece;

    if (sprite->stream) {
        take_fetched_part(sprite->stream, rank, part);
        return;
    }
    if (!sprite->frames) {
        take_whole(sprite, frame, part);
        return;
    }
    piece = sprite->pieces + (READ32(frame_record(sprite, frame)) + rank) * PIECE_RECORD;
    part->pixels = sprite->picture.pixels + (u32)READ16(piece + 4) * (CELL * CELL);
    part->width = part->height = CELL;
    part->x = (s16)READ16(piece);
    part->y = (s16)READ16(piece + 2);
    part->flips = READ16(piece + 6);
}
