/* The console's picture and colours: two buffers that take turns. */
#ifndef DISPLAY_H
#define DISPLAY_H

#include "art.h"
#include "hardware.h"

#define MOST_PALETTES 3 /* a harbour and two couriers */

typedef struct {
    u8 *hidden;   /* the picture being drawn */
    u32 seen;     /* FRAME_COUNT when the shown picture came up */
    u16 held;     /* buttons as last read */
    u16 waiting;  /* palettes for the next picture */
    Palette palettes[MOST_PALETTES];
} Display;

/* All colours black, both buffers 0. */
void open_display(Display *display);

void set_colour(u16 entry, u16 colour);

/* Forgets palettes kept and not loaded yet. */
void drop_palettes(Display *display);

/* Keeps a palette until the next picture comes up, so that no picture is shown in another's colours. */
void keep_palette(Display *display, const Palette *palette);

/* Shows the hidden picture from the next vertical sync and takes the other buffer. Returns vertical syncs since the last. */
u32 show(Display *display);

/* Returns the new FRAME_COUNT. */
u32 wait_for_sync(void);

/* Buttons pressed since the last call; one held since power-on must be let go first. */
u16 pressed(Display *display);

#endif
