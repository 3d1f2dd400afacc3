/* Registers are touched here and nowhere else. */
#include "display.h"

#include "draw.h"

void set_colour(u16 entry, u16 colour)
{
    PALETTE_INDEX = entry;
    PALETTE_DATA = colour;
}

void open_display(Display *display)
{
    u16 entry;

    for (entry = 0; entry < COLOURS; entry++)
        set_colour(entry, 0);
    clear((u8 *)BUFFER_0);
    clear((u8 *)BUFFER_1);
    DISPLAY_BASE = BUFFER_0;
    display->hidden = (u8 *)BUFFER_1;
    display->seen = FRAME_COUNT;
    display->held = 0xFFFF;
    display->waiting = 0;
}

void drop_palettes(Display *display)
{
    display->waiting = 0;
}

void keep_palette(Display *display, const Palette *palette)
{
    if (display->waiting < MOST_PALETTES)
        display->palettes[display->waiting++] = *palette;
}

static void load_palette(const Palette *palette)
{
    const u16 *entries = palette->entries;
    u16 left = palette->count;

    PALETTE_INDEX = palette->first;
    for (; left; left--)
        PALETTE_DATA = *entries++;
}

u32 wait_for_sync(void)
{
    u32 start = FRAME_COUNT, now;

    do
        now = FRAME_COUNT;
    while (now == start);
    return now;
}

u32 show(Display *display)
{
    u32 before = display->seen;
    u16 rank;

    DISPLAY_BASE = (u32)display->hidden;
    display->seen = wait_for_sync();
    for (rank = 0; rank < display->waiting; rank++)
        load_palette(&display->palettes[rank]);
    display->waiting = 0;
    display->hidden = (u8 *)(display->hidden == (u8 *)BUFFER_0 ? BUFFER_1 : BUFFER_0);
    return display->seen - before;
}

u16 pressed(Display *display)
{
    u16 now = PAD;
    u16 fresh = now & ~display->held;

    display->held = now;
    return fresh;
}
