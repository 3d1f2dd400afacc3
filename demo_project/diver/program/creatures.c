/* Sprites of every arrangement as figures of the console, and their animations. */
#include "creatures.h"

static unsigned char count; /* figures drawn so far, a cell each */
static Rw8Asset pool;
static unsigned long pool_hash; /* of the pool that was loaded last, 0 for none */

void load_creature(Creature *creature, const Cast *cast)
{
    Rw8Asset asset;
    Rw8Sprite *sprite = &creature->sprite;

    fetch(cast->hash, RW_KIND_SPRITE, cast->bytes, &asset);
    if (!rw8_sprite(&asset, sprite))
        stop_red();
    if (sprite->pool) {
        if (sprite->pool != pool_hash) {
            fetch(sprite->pool, RW_KIND_POOL, cast->pool_bytes, &pool);
            pool_hash = sprite->pool;
        }
        if (!rw8_use_pool(sprite, &pool))
            stop_red();
    }
    creature->line = show_colours(sprite->palette);
}

static void take_step(Creature *creature)
{
    if (!rw8_step(&creature->animation, creature->at, &creature->step))
        stop_red();
    creature->ticks = 0;
}

void begin(Creature *creature, unsigned int animation)
{
    if (!rw8_animation(&creature->sprite, animation, &creature->animation))
        stop_red();
    creature->at = 0;
    creature->ended = 0;
    take_step(creature);
}

void go_on(Creature *creature)
{
    unsigned int next;

    if (creature->ended || ++creature->ticks < creature->step.ticks)
        return;
    next = rw8_next_step(&creature->animation, creature->at);
    if (next == creature->at && !creature->animation.loop) {
        creature->ended = 1;
        return;
    }
    creature->at = next;
    take_step(creature);
}

void begin_figures(void)
{
    count = 0;
}

void end_figures(void)
{
    for (; count < FIGURE_COUNT; count++)
        FIGURES[count * FIGURE_BYTES + 1] = 0;
}

static void put_cell(const unsigned char *from, int x, int y, unsigned char attributes)
{
    unsigned char *to = CELLS + count * CELL_BYTES;
    unsigned char *figure = FIGURES + count * FIGURE_BYTES;
    unsigned char left;

    x += FIGURE_EDGE;
    y += FIGURE_EDGE;
    if (count == FIGURE_COUNT || x < 0 || x > 255 || y <= 0 || y > 255)
        return;
    for (left = CELL_BYTES; left; left--)
        *to++ = *from++;
    figure[0] = (unsigned char)x;
    figure[1] = (unsigned char)y;
    figure[2] = count;
    figure[3] = attributes;
    count++;
}

/* A cell, or a picture of several, cell after cell; the cells of a mirrored picture change places as well. */
static void put_piece(const Rw8Piece *piece, int x, int y, unsigned char flips, unsigned char line)
{
    const unsigned char *from = rw8_show(&piece->place);
    unsigned char attributes = line, across, down, wide = (unsigned char)piece->width, high = (unsigned char)piece->height;

    if (flips & RW_FLIP_X)
        attributes |= FIGURE_FLIP_X;
    if (flips & RW_FLIP_Y)
        attributes |= FIGURE_FLIP_Y;
    for (down = 0; down < high; down += RW_CELL_HEIGHT) {
        for (across = 0; across < wide; across += RW_CELL_WIDTH, from += CELL_BYTES)
            put_cell(from, x + (flips & RW_FLIP_X ? wide - RW_CELL_WIDTH - across : across),
                     y + (flips & RW_FLIP_Y ? high - RW_CELL_HEIGHT - down : down), attributes);
    }
}

void draw(const Creature *creature, unsigned int frame, int x, int y, unsigned char mirrored)
{
    const Rw8Sprite *sprite = &creature->sprite;
    Rw8Piece piece;
    unsigned int pieces;
    int left;

    if (!rw8_frame(sprite, frame, &pieces))
        stop_red();
    y -= sprite->anchor_y;
    x += mirrored ? sprite->anchor_x : -sprite->anchor_x;
    for (; pieces; pieces--) {
        if (!rw8_piece(&piece))
            stop_red();
        left = mirrored ? x - piece.x - (int)piece.width : x + piece.x;
        put_piece(&piece, left, y + piece.y, mirrored ? piece.flips ^ RW_FLIP_X : piece.flips, creature->line);
    }
}
