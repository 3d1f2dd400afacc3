/* One call after another of the reader for eight bits, each between its number and 0 at a port; see reader_z80.py. */
#include "assets.h"
#include "reader8.h"

__sfr __at 0x01 call_port;
__sfr __at 0x02 end_port; /* how many calls were well */

static Rw8Asset asset, pool;
static Rw8Sprite sprite;
static Rw8Piece piece;
static Rw8Animation animation;
static Rw8Step step;
static Rw8Palette palette;
static Rw8Colour word;
static unsigned int count;
static unsigned char memory[2600], well;

#define CALL(number, call) call_port = number; well += (call) != 0; call_port = 0
/* Finds a sprite, and one of its frames and pieces. */
#define FIGURE(number, name) \
    CALL(number, rw8_find(BANKS, name##_HASH, RW_KIND_SPRITE, &asset)); \
    CALL(number + 1, rw8_sprite(&asset, &sprite)); \
    give_pool(); \
    CALL(number + 2, rw8_frame(&sprite, 1, &count)); \
    CALL(number + 3, rw8_piece(&piece))

static void give_pool(void)
{
    if (sprite.pool && rw8_find(BANKS, sprite.pool, RW_KIND_POOL, &pool))
        rw8_use_pool(&sprite, &pool);
}

void main(void)
{
    FIGURE(1, ADA);
    FIGURE(5, DOT);
    FIGURE(9, CID);
    FIGURE(13, BEA);
    CALL(17, rw8_animation(&sprite, 0, &animation));
    CALL(18, rw8_step(&animation, 0, &step));
    CALL(19, rw8_find(BANKS, FIGURES_HASH, RW_KIND_PALETTE, &asset));
    CALL(20, rw8_palette(&asset, &palette));
    CALL(21, rw8_colour(&palette, 1, &word));
    CALL(22, rw8_find(BANKS, EVE_HASH, RW_KIND_SPRITE, &asset));
    CALL(23, rw8_unpack(&asset, memory, EVE_UNPACKED_BYTES));
    CALL(24, rw8_find(BANKS, FAY_HASH, RW_KIND_SPRITE, &asset));
    CALL(25, rw8_unpack(&asset, memory, FAY_UNPACKED_BYTES));
    end_port = well;
}
