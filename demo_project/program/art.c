/* Blobs to structures, with every offset checked. The layouts are those the tool documents for blobs, version 1. */
#include "art.h"

#include "assets_reader.h"
#include "hardware.h"

#define VERSION 1
#define INDEX8 0 /* rank of the screen's pixel format in the target file */
#define SPRITE_RECORD 36
#define ANIMATION_RECORD 12
#define STEP_RECORD 4
#define BACKGROUND_RECORD 16
#define SCREEN_RECORD 16
#define PALETTE_RECORD 12

static int find_record(u32 hash, u8 kind, u32 record, Asset *asset)
{
    return find_asset(hash, kind, asset) && asset->bytes >= record && asset->at[0] == VERSION;
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

int take_background(u32 hash, Picture *picture)
{
    Asset asset;

    if (!find_record(hash, KIND_BACKGROUND, BACKGROUND_RECORD, &asset))
        return 0;
    picture->width = READ16(asset.at + 2);
    picture->height = READ16(asset.at + 4);
    picture->palette = READ32(asset.at + 8);
    return take_pixels(&asset, READ32(asset.at + 12), times(picture->width, picture->height), picture);
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

    if (!find_record(hash, KIND_SCREEN, SCREEN_RECORD, &asset))
        return 0;
    picture->width = READ16(asset.at + 2);
    picture->height = READ16(asset.at + 4);
    picture->palette = 0;
    palette->first = 0;
    palette->count = READ16(asset.at + 6);
    return take_entries(&asset, READ32(asset.at + 8), palette)
        && take_pixels(&asset, READ32(asset.at + 12), times(picture->width, picture->height), picture);
}

int take_palette(u32 hash, Palette *palette)
{
    Asset asset;

    if (!find_record(hash, KIND_PALETTE, PALETTE_RECORD, &asset))
        return 0;
    palette->first = READ16(asset.at + 2);
    palette->count = READ16(asset.at + 4);
    return take_entries(&asset, READ32(asset.at + 8), palette);
}

/* Counted in rows, at most 65,535 over all frames, so that products stay exact. */
static int take_frames(const Asset *asset, Sprite *sprite)
{
    u32 rows = times(sprite->frame_count, sprite->picture.height);
    u16 width = sprite->picture.width;

    return times(width, sprite->picture.height) == READ32(asset->at + 20) && rows <= 0xFFFF
        && take_pixels(asset, READ32(asset->at + 32), times((u16)rows, width), &sprite->picture);
}

static int take_tables(const Asset *asset, Sprite *sprite)
{
    u32 animations = READ32(asset->at + 24);
    u32 steps = READ32(asset->at + 28);

    sprite->animation_count = READ16(asset->at + 12);
    sprite->step_count = READ16(asset->at + 14);
    sprite->animations = asset->at + animations;
    sprite->steps = asset->at + steps;
    return !((animations | steps) & 1)
        && lies_inside(animations, (u32)sprite->animation_count * ANIMATION_RECORD, asset->bytes)
        && lies_inside(steps, (u32)sprite->step_count * STEP_RECORD, asset->bytes);
}

static u8 clear_pixel(u32 hash)
{
    Palette palette;

    return hash && take_palette(hash, &palette) ? (u8)palette.first : 0;
}

int take_sprite(u32 hash, Sprite *sprite)
{
    Asset asset;

    if (!find_record(hash, KIND_SPRITE, SPRITE_RECORD, &asset))
        return 0;
    sprite->frame_count = READ16(asset.at + 2);
    sprite->picture.width = READ16(asset.at + 4);
    sprite->picture.height = READ16(asset.at + 6);
    sprite->anchor_x = (s16)READ16(asset.at + 8);
    sprite->anchor_y = (s16)READ16(asset.at + 10);
    sprite->picture.palette = READ32(asset.at + 16);
    sprite->clear = clear_pixel(sprite->picture.palette);
    return take_frames(&asset, sprite) && take_tables(&asset, sprite);
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

const u8 *frame_pixels(const Sprite *sprite, u16 frame)
{
    u16 rows = frame < sprite->frame_count ? frame * sprite->picture.height : 0;

    return sprite->picture.pixels + times(rows, sprite->picture.width);
}
