/* From power-on to the harbour: is the cartridge whole, who made it and where to write, then the game. */
#include "assets_reader.h"
#include "display.h"
#include "draw.h"
#include "harbour.h"

#define RED 0x001F
#define GREY 0x294A
#define BAR_LEFT 32
#define BAR_TOP 116
#define BAR_HEIGHT 8
#define BAR_PART ((SCREEN_WIDTH - 2 * BAR_LEFT) / CHECK_PARTS)

/* The check takes seconds: a bar grows, so that nobody takes the console for dead. */
static void grow_bar(u16 part)
{
    fill_box((u8 *)BUFFER_0, BAR_LEFT + part * BAR_PART, BAR_TOP, BAR_PART, BAR_HEIGHT, 1);
}

/* A plain screen that cannot be mistaken for a picture of the game. Never returns. */
static void stop_red(void)
{
    clear((u8 *)BUFFER_0);
    set_colour(0, RED);
    for (;;)
        wait_for_sync();
}

static void show_notice(Display *display)
{
    Picture picture;
    Palette palette;

    if (!take_screen(name_hash("boot"), &picture, &palette))
        return;
    draw_window(display->hidden, &picture, 0, 0);
    keep_palette(display, &palette);
    show(display);
    while (!(pressed(display) & (PAD_START | PAD_A)))
        wait_for_sync();
}

int main(void)
{
    Display display;

    open_display(&display);
    set_colour(1, GREY);
    if (!image_is_whole(grow_bar))
        stop_red();
    show_notice(&display);
    run_harbour(&display);
    return 0;
}
