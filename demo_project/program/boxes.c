/* Lines of the two colours that differ most, so that they are seen on any ground; kinds differ in the length of their dashes. */
#include "boxes.h"

#include "assets_reader.h"
#include "crc32.h"
#include "hardware.h"

#define KIND_NOTES 12
#define VERSION 1
#define NOTES_RECORD 32
#define FRAME_RECORD 16
#define BOX_RECORD 10
#define POINT_RECORD 6
#define ARM 3 /* pixels from the middle of a point's cross to its end */

/* A box, or half of a point's cross, on the screen. */
typedef struct {
    u8 *to;
    long left, top, right, bottom; /* the last column and row are its own */
    u16 kind;
    u8 light, dark;
} Shape;

static u16 brightness(u16 colour)
{
    return (colour & 31) + (colour >> 5 & 31) + (colour >> 10 & 31);
}

/* Of equal ones the first; what a transparent pixel holds is no colour. */
static void take_colours(const Sprite *sprite, Notes *notes)
{
    Palette palette;
    u16 rank, pixel, now, most = 0, least = 0xFFFF;

    notes->light = notes->dark = 0;
    if (!take_palette(0, sprite->picture.palette, &palette))
        return;
    for (rank = 0; rank < palette.count; rank++) {
        pixel = palette.first + rank;
        now = brightness(palette.entries[rank]);
        if (pixel == sprite->clear)
            continue;
        if (now > most || least == 0xFFFF) {
            most = now;
            notes->light = (u8)pixel;
        }
        if (now < least) {
            least = now;
            notes->dark = (u8)pixel;
        }
    }
}

/* Whether so many records lie in the blob; counted one by one, since the CPU multiplies 16 bits only. */
static int table_lies_inside(u32 offset, u32 count, u32 record, u32 bytes)
{
    if ((offset & 1) || offset > bytes)
        return 0;
    for (bytes -= offset; count && bytes >= record; count--)
        bytes -= record;
    return !count;
}

static int frames_are_right(const Notes *notes, u32 boxes, u32 points)
{
    const u8 *frame = notes->frames;
    u16 left;

    for (left = notes->frame_count; left; left--, frame += FRAME_RECORD) {
        if (!lies_inside(READ32(frame), READ16(frame + 8), boxes) || !lies_inside(READ32(frame + 4), READ16(frame + 10), points))
            return 0;
    }
    return 1;
}

void take_notes(const char *name, const Sprite *sprite, Notes *notes)
{
    Asset asset;
    u32 hash = name_hash(name), boxes, points, frames;

    notes->frames = 0;
    if (!find_asset(crc32(hash, (const u8 *)"_notes", 6), KIND_NOTES, &asset) || asset.bytes < NOTES_RECORD)
        return;
    boxes = READ32(asset.at + 8);
    points = READ32(asset.at + 12);
    frames = READ32(asset.at + 16);
    notes->frame_count = READ16(asset.at + 2);
    notes->boxes = asset.at + READ32(asset.at + 20);
    notes->points = asset.at + READ32(asset.at + 24);
    take_colours(sprite, notes);
    if (asset.at[0] != VERSION || READ32(asset.at + 4) != hash || notes->frame_count != sprite->frame_count
        || !table_lies_inside(frames, notes->frame_count, FRAME_RECORD, asset.bytes)
        || !table_lies_inside(READ32(asset.at + 20), boxes, BOX_RECORD, asset.bytes)
        || !table_lies_inside(READ32(asset.at + 24), points, POINT_RECORD, asset.bytes))
        return;
    notes->frames = asset.at + frames;
    if (!frames_are_right(notes, boxes, points))
        notes->frames = 0;
}

static void put(const Shape *shape, long x, long y, long along)
{
    /* Kind 0 is one line, 1 has dashes of four pixels, 2 of two, 3 of one; then again. */
    u16 length = 3 - (shape->kind & 3);
    u8 colour = length < 3 && ((u32)along >> length & 1) ? shape->dark : shape->light;

    if (x >= 0 && x < SCREEN_WIDTH && y >= 0 && y < SCREEN_HEIGHT)
        shape->to[(u32)(u16)y * SCREEN_WIDTH + x] = colour;
}

static void outline(const Shape *shape)
{
    long at;

    for (at = shape->left; at <= shape->right; at++) {
        put(shape, at, shape->top, at - shape->left);
        put(shape, at, shape->bottom, at - shape->left);
    }
    for (at = shape->top; at <= shape->bottom; at++) {
        put(shape, shape->left, at, at - shape->top);
        put(shape, shape->right, at, at - shape->top);
    }
}

/* Where a column of the frame is on the screen; mirrored about the anchor as draw_frame mirrors. */
static long column_at(const Sprite *sprite, s16 x, s16 column, int mirrored)
{
    long across = (long)column - sprite->anchor_x;

    return mirrored ? x - across : x + across;
}

static void draw_box(Shape *shape, const u8 *box, const Sprite *sprite, s16 x, s16 y, int mirrored)
{
    u16 width = READ16(box + 6) - 1;
    long first = column_at(sprite, x, (s16)READ16(box + 2), mirrored);

    shape->kind = READ16(box);
    shape->left = mirrored ? first - width : first;
    shape->right = shape->left + width;
    shape->top = (long)y + (s16)READ16(box + 4) - sprite->anchor_y;
    shape->bottom = shape->top + READ16(box + 8) - 1;
    outline(shape);
}

static void draw_cross(Shape *shape, const u8 *point, const Sprite *sprite, s16 x, s16 y, int mirrored)
{
    long across = column_at(sprite, x, (s16)READ16(point + 2), mirrored), down = (long)y + (s16)READ16(point + 4) - sprite->anchor_y;

    shape->kind = READ16(point);
    shape->left = across - ARM;
    shape->right = across + ARM;
    shape->top = shape->bottom = down;
    outline(shape);
    shape->left = shape->right = across;
    shape->top = down - ARM;
    shape->bottom = down + ARM;
    outline(shape);
}

void draw_notes(u8 *to, const Notes *notes, const Sprite *sprite, u16 frame, s16 x, s16 y, int mirrored)
{
    const u8 *noted, *one;
    Shape shape;
    u16 left;

    if (!notes->frames || frame >= notes->frame_count)
        return;
    shape.to = to;
    shape.light = notes->light;
    shape.dark = notes->dark;
    noted = notes->frames + (u32)frame * FRAME_RECORD;
    one = notes->boxes + (READ32(noted) << 3) + (READ32(noted) << 1);
    for (left = READ16(noted + 8); left; left--, one += BOX_RECORD)
        draw_box(&shape, one, sprite, x, y, mirrored);
    one = notes->points + (READ32(noted + 4) << 2) + (READ32(noted + 4) << 1);
    for (left = READ16(noted + 10); left; left--, one += POINT_RECORD)
        draw_cross(&shape, one, sprite, x, y, mirrored);
}
