/* Plain loops over bytes, and over longs where both ends are even. */
#include "draw.h"

#include "hardware.h"

static u16 smaller(u16 one, u16 other)
{
    return one < other ? one : other;
}

void clear(u8 *to)
{
    u32 *at = (u32 *)to;
    u16 left;

    for (left = SCREEN_BYTES / 4; left; left--)
        *at++ = 0;
}

void fill_box(u8 *to, u16 left, u16 top, u16 width, u16 height, u8 colour)
{
    u16 across;

    to += (u32)top * SCREEN_WIDTH + left;
    for (; height; height--, to += SCREEN_WIDTH - width) {
        for (across = width; across; across--)
            *to++ = colour;
    }
}

static void copy_longs(u32 *to, const u32 *from, u16 count)
{
    for (; count >= 4; count -= 4) {
        *to++ = *from++;
        *to++ = *from++;
        *to++ = *from++;
        *to++ = *from++;
    }
    for (; count; count--)
        *to++ = *from++;
}

static void copy_bytes(u8 *to, const u8 *from, u16 count)
{
    for (; count >= 4; count -= 4) {
        *to++ = *from++;
        *to++ = *from++;
        *to++ = *from++;
        *to++ = *from++;
    }
    for (; count; count--)
        *to++ = *from++;
}

/* A row of the screen starts at an even address; a window at an odd column reads odd ones. */
static void copy_row(u8 *to, const u8 *from, u16 count)
{
    u16 even = (u32)from & 1 ? 0 : count & ~3;

    copy_longs((u32 *)to, (const u32 *)from, even / 4);
    copy_bytes(to + even, from + even, count - even);
}

void draw_window(u8 *to, const Picture *picture, u16 left, u16 top)
{
    u16 width, height;
    const u8 *from = picture->pixels + (u32)top * picture->width + left;

    if (left >= picture->width || top >= picture->height) {
        clear(to);
        return;
    }
    width = smaller(picture->width - left, SCREEN_WIDTH);
    height = smaller(picture->height - top, SCREEN_HEIGHT);
    if (width < SCREEN_WIDTH || height < SCREEN_HEIGHT)
        clear(to);
    for (; height; height--, to += SCREEN_WIDTH, from += picture->width)
        copy_row(to, from, width);
}

/* Cuts [start, start + *count) to [0, room); returns how many are lost at its front. */
static u16 cut(s16 *start, u16 *count, u16 room)
{
    long first = *start, end = first + *count;
    u16 lost = first < 0 ? (u16)-first : 0;

    if (end > (long)room)
        end = room;
    if (first < 0)
        first = 0;
    *start = (s16)first;
    *count = end > first ? (u16)(end - first) : 0;
    return lost;
}

static void put_row(u8 *to, const u8 *from, u16 count, int step, u8 clear_pixel)
{
    for (; count; count--, to++, from += step) {
        if (*from != clear_pixel)
            *to = *from;
    }
}

void draw_frame(u8 *to, const Sprite *sprite, u16 frame, s16 x, s16 y, int mirrored)
{
    u16 width = sprite->picture.width, height = sprite->picture.height;
    s16 left = x - (mirrored ? width - 1 - sprite->anchor_x : sprite->anchor_x), top = y - sprite->anchor_y;
    u16 lost_left = cut(&left, &width, SCREEN_WIDTH), lost_top = cut(&top, &height, SCREEN_HEIGHT);
    const u8 *from = frame_pixels(sprite, frame) + (u32)lost_top * sprite->picture.width;

    if (!width)
        return;
    from += mirrored ? sprite->picture.width - 1 - lost_left : lost_left;
    to += (u32)(u16)top * SCREEN_WIDTH + left;
    for (; height; height--, to += SCREEN_WIDTH, from += sprite->picture.width)
        put_row(to, from, width, mirrored ? -1 : 1, sprite->clear);
}
