/* From power-on: the boot notice, the title, then the round. A red screen where the cartridge does not hold what it should. */
#include "assets.h"
#include "assets_load.h"
#include "round.h"

#define RED 0x001F

static void wait_for_start(Pad *pad)
{
    do
        wait_for_sync();
    while (!(pressed(pad) & (PAD_START | PAD_A)));
}

static void clear_figures(void)
{
    u16 rank;

    for (rank = 0; rank < FIGURE_COUNT; rank++)
        FIGURES[rank * 4 + 3] = 0;
}

static void stop_red(void)
{
    u16 rank;

    for (rank = 0; rank < COLOUR_COUNT; rank++)
        COLOURS[rank] = RED;
    clear_figures();
    for (;;)
        wait_for_sync();
}

int main(void)
{
    Room room;
    Pad pad;

    room.at = MEMORY;
    pad.held = 0xFFFF;
    clear_figures();
    black();
    if (!show_screen(room, BOOT_HASH))
        stop_red();
    wait_for_start(&pad);
    black();
    if (!show_bitmap(room, TITRE_HASH))
        stop_red();
    wait_for_start(&pad);
    walk_the_round(room, &pad);
    stop_red();
    return 0;
}
