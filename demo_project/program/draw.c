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

static void copy_pixels(u8 *to, const u8 *from, u16 count)
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

/* A row of the screen starts at an even address; a window at an odd column reads odd ones, and may go on at one. */
static void copy_row(u8 *to, const u8 *from, u16 count)
{
    u16 even = ((u32)from | (u32)to) & 1 ? 0 : count & ~3;

    copy_longs((u32 *)to, (const u32 *)from, even / 4);
    copy_pixels(to + even, from + even, count - even);
}

static u16 rest_of(u16 number, u16 by)
{
    while (number >= by)
        number -= by;
    return number;
}

/* Rows of pixels in memory that wraps around both ways. */
static void draw_wrapped(u8 *to, const Picture *picture, u16 left, u16 top, u16 width, u16 height)
{
    u16 column = rest_of(left, picture->columns), row = rest_of(top, picture->rows), passed;
    u16 first = smaller(picture->columns - column, width);
    const u8 *from = picture->pixels;

    for (passed = row; passed; passed--)
        from += picture->columns;
    for (; height; height--, to += SCREEN_WIDTH) {
        copy_row(to, from + column, first);
        copy_row(to + first, from, width - first);
        from += picture->columns;
        if (++row == picture->rows) {
            row = 0;
            from = picture->pixels;
        }
    }
}

void draw_window(u8 *to, const Picture *picture, u16 left, u16 top)
{
    u16 width, height;
    const u8 *from;

    if (left >= picture->width || top >= picture->height) {
        clear(to);
        return;
    }
    width = smaller(picture->width - left, SCREEN_WIDTH);
    height = smaller(picture->height - top, SCREEN_HEIGHT);
    if (width < SCREEN_WIDTH || height < SCREEN_HEIGHT)
        clear(to);
    if (picture->columns) {
        draw_wrapped(to, picture, left, top, width, height);
        return;
    }
    from = picture->pixels + (u32)top * picture->width + left;
    for (; height; height--, to += SCREEN_WIDTH, from += picture->width)
        copy_row(to, from, width);
}

/* Cuts [*start, *start + *count) to [0, room); returns how many are lost at its front. */
static u16 cut(long *start, u16 *count, u16 room)
{
    long first = *start, end = first + *count;

    if (end > (long)room)
        end = room;
    if (first < 0)
        *start = 0;
    *count = end > *start ? (u16)(end - *start) : 0;
    return *count ? (u16)(*start - first) : 0;
}

static void put_row(u8 *to, const u8 *from, u16 count, int step, u8 clear_pixel)
{
    for (; count; count--, to++, from += step) {
        if (*from != clear_pixel)
            *to = *from;
    }
}

/* A part with its top left at (left, top) of the screen. */
static void put_part(u8 *to, const Part *part, long left, long top, u8 clear_pixel)
{
    u16 width = part->width, height = part->height;
    u16 column = cut(&left, &width, SCREEN_WIDTH), row = cut(&top, &height, SCREEN_HEIGHT);
    int step = 1, down = part->width;
    const u8 *from;

    if (!width)
        return;
    if (part->flips & FLIP_ACROSS) {
        column = part->width - 1 - column;
        step = -1;
    }
    if (part->flips & FLIP_DOWN) {
        row = part->height - 1 - row;
        down = -down;
    }
    from = part->pixels + (u32)row * part->width + column;
    to += (u32)(u16)top * SCREEN_WIDTH + left;
    for (; height; height--, to += SCREEN_WIDTH, from += down)
        put_row(to, from, width, step, clear_pixel);
}

/* What is d pixels right of the anchor comes d pixels left of it when mirrored, so a part's right edge leads. */
void draw_frame(u8 *to, const Sprite *sprite, u16 frame, s16 x, s16 y, int mirrored)
{
    u16 rank, count = part_count(sprite, frame);
    long across, down;
    Part part;

    for (rank = 0; rank < count; rank++) {
        take_part(sprite, frame, rank, &part);
        across = (long)part.x - sprite->anchor_x;
        down = (long)part.y - sprite->anchor_y;
        if (mirrored) {
            part.flips ^= FLIP_ACROSS;
            across = 1 - across - (long)part.width;
        }
        put_part(to, &part, x + across, y + down, sprite->clear);
    }
}
