/* From power-on: the boot notice, an album of everybody in the bowl, then the bowl. */
#include "assets.h"
#include "creatures.h"

enum { DIVER, GUPPY, SNAIL, CRAB, BUBBLE, CAST };

static const Cast cast[CAST] = {
    { DIVER_HASH, 0, 0 },
    { GUPPY_HASH, GUPPY_UNPACKED_BYTES, BOWL_CELLS_UNPACKED_BYTES },
    { SNAIL_HASH, SNAIL_UNPACKED_BYTES, BOWL_CELLS_UNPACKED_BYTES },
    { CRAB_HASH, CRAB_UNPACKED_BYTES, 0 },
    { BUBBLE_HASH, BUBBLE_UNPACKED_BYTES, 0 },
};

#define ALBUM_X 120
#define ALBUM_Y 100
#define PICTURES_A_FRAME 8
#define LEAST_X 12
#define MOST_X 228

static Creature creatures[CAST];
static Pad pad;

/* One of them alone; 1 when a button asks to go on. */
static unsigned char show_alone(const Creature *one, unsigned int frame)
{
    begin_figures();
    draw(one, frame, ALBUM_X, ALBUM_Y, 0);
    end_figures();
    wait_for_sync(&pad);
    return pad.fresh & (PAD_A | PAD_START);
}

/* Every frame of each, then each of its animations once. */
static void show_album(void)
{
    Creature *one;
    unsigned char time;
    unsigned int rank;

    for (one = creatures; one < creatures + CAST; one++) {
        for (rank = 0; rank < one->sprite.frame_count; rank++) {
            for (time = 0; time < PICTURES_A_FRAME; time++) {
                if (show_alone(one, rank))
                    return;
            }
        }
        for (rank = 0; rank < one->sprite.animation_count; rank++) {
            begin(one, rank);
            do {
                if (show_alone(one, one->step.frame))
                    return;
                go_on(one);
            } while (!one->ended && (one->at || one->ticks));
        }
    }
}

static void show(unsigned char which, int x, int y, unsigned char mirrored)
{
    draw(creatures + which, creatures[which].step.frame, x, y, mirrored);
    go_on(creatures + which);
}

static void live_in_the_bowl(void)
{
    int diver = 120, bubble_x = 0, bubble_y = 0;
    unsigned int pictures = 0, swims = 0, turn;
    unsigned char left = 0, walks = 0, wanted;

    begin(creatures + DIVER, DIVER_ANIMATION_WAIT);
    begin(creatures + GUPPY, GUPPY_ANIMATION_SWIM);
    begin(creatures + SNAIL, SNAIL_ANIMATION_CRAWL);
    creatures[BUBBLE].ended = 1;
    for (;;) {
        begin_figures();
        if (!creatures[BUBBLE].ended)
            show(BUBBLE, bubble_x, bubble_y--, 0);
        show(DIVER, diver, 140, left);
        turn = pictures % 96;
        if (!turn)
            begin(creatures + CRAB, CRAB_ANIMATION_RIGHT);
        if (turn == 48)
            begin(creatures + CRAB, CRAB_ANIMATION_LEFT);
        show(CRAB, 160 + (int)(turn < 48 ? turn : 96 - turn), 154, 0);
        show(SNAIL, 40 + (int)(pictures >> 4 & 31), 148, 0);
        show(GUPPY, (int)swims - 12, 60 + (int)((pictures & 32 ? 63 - (pictures & 63) : pictures & 63) >> 2), 0);
        end_figures();
        wait_for_sync(&pad);
        pictures++;
        if (++swims == 264)
            swims = 0;
        wanted = pad.held & (PAD_LEFT | PAD_RIGHT);
        if (wanted == (PAD_LEFT | PAD_RIGHT))
            wanted = 0;
        if (!wanted != !walks)
            begin(creatures + DIVER, wanted ? DIVER_ANIMATION_WALK : DIVER_ANIMATION_WAIT);
        walks = wanted;
        if (walks) {
            left = walks & PAD_LEFT;
            if (left ? diver > LEAST_X : diver < MOST_X)
                diver += left ? -1 : 1;
        }
        if (pad.fresh & PAD_B && creatures[BUBBLE].ended) {
            begin(creatures + BUBBLE, BUBBLE_ANIMATION_RISE);
            bubble_x = left ? diver - 4 : diver + 4;
            bubble_y = 112;
        }
    }
}

void main(void)
{
    unsigned char which;

    begin_figures();
    end_figures();
    pad.held = 0xFF; /* so that a button that is held since power-on is not new */
    show_notice(BOOT_HASH);
    do
        wait_for_sync(&pad);
    while (!(pad.fresh & (PAD_A | PAD_START)));
    empty_memory();
    show_background(BOWL_HASH, BOWL_UNPACKED_BYTES);
    empty_memory();
    for (which = 0; which < CAST; which++)
        load_creature(creatures + which, cast + which);
    show_album();
    live_in_the_bowl();
}
