/* The evening's round: a keeper walks along the dyke or through the marsh and lights lamps. */
#include "round.h"

#include "assets.h"

#define FAR_ROWS 13
#define FEET 124 /* row on the screen */
#define MIDDLE 128
#define WAY_PIXELS 512
#define KEEPERS 2
#define WAYS 2
#define LAMPS 16
#define FIRST_CELL 700 /* tiles before it are the backgrounds' */
#define REACH 20 /* pixels from which a lamp can be lit */
#define SPEED 1

enum { WALK, IDLE, RAISE };

typedef struct {
    RwAnimation animation;
    unsigned int which, rank, ticks, ended;
} Player;

typedef struct {
    RwSprite keepers[KEEPERS], moth, lamp;
    Player keeper, moths;
    u16 lamp_way[LAMPS], lamp_at[LAMPS];
    u16 lamps, lit, keeper_rank, way, at, left, clock, figures;
} Round;

void wait_for_sync(void)
{
    u32 before = SYNCS;

    while (SYNCS == before)
        ;
}

u16 pressed(Pad *pad)
{
    u16 now = PAD, fresh = now & ~pad->held;

    pad->held = now;
    return fresh;
}

static int begin(Player *player, const RwSprite *sprite, unsigned int which)
{
    player->which = which;
    player->rank = player->ticks = player->ended = 0;
    return rw_animation(sprite, which, &player->animation);
}

/* The frame to show now, and one picture further. */
static unsigned int play(Player *player, const RwSprite *sprite)
{
    RwStep step;

    if (!rw_animation_step(sprite, &player->animation, player->rank, &step))
        return 0;
    if (++player->ticks >= step.ticks) {
        player->ticks = 0;
        player->ended |= player->rank + 1 == player->animation.step_count;
        player->rank = rw_next_step(&player->animation, player->rank);
    }
    return step.frame;
}

/* Shows a frame so that its anchor stands at x, y; mirrored about the anchor when it looks to the left. */
static void put(Round *round, const RwSprite *sprite, unsigned int rank, int x, int y, int left)
{
    RwFrame frame;
    RwPiece piece;
    volatile u16 *figure;
    unsigned int part, flips;

    if (!rw_frame(sprite, rank, &frame))
        return;
    /* Later pieces cover earlier ones, and the console's first figures stand in front. */
    for (part = frame.piece_count; part-- > 0 && round->figures < FIGURE_COUNT;) {
        if (!rw_frame_piece(sprite, &frame, part, &piece))
            return;
        flips = piece.flips ^ (left ? RW_FLIP_X : 0);
        figure = FIGURES + round->figures++ * 4;
        figure[0] = (u16)(y + piece.y - sprite->anchor_y);
        figure[1] = (u16)(left ? x + sprite->anchor_x - piece.x - 8 : x + piece.x - sprite->anchor_x);
        figure[2] = (u16)((FIRST_CELL + piece.cell) | (flips & RW_FLIP_X ? FLIP_X : 0) | (flips & RW_FLIP_Y ? FLIP_Y : 0));
        figure[3] = 1;
    }
}

static int load_sprite(Room *room, u32 hash, const RwPool *pool, RwSprite *sprite)
{
    RwAsset asset;

    return load(room, hash, RW_KIND_SPRITE, &asset) && rw_sprite(&asset, sprite) && rw_use_pool(sprite, pool);
}

static int load_figures(Room *room, Round *round)
{
    RwAsset asset;
    RwPool pool;

    if (!load(room, CELLULES_HASH, RW_KIND_POOL, &asset) || !rw_pool(&asset, &pool) || FIRST_CELL + pool.cell_count > TILE_COUNT)
        return 0;
    copy_words(TILES + FIRST_CELL * (TILE_BYTES / 2), asset.at + pool.pixels, pool.cell_count * TILE_BYTES);
    return load_sprite(room, MIELLE_HASH, &pool, &round->keepers[0]) && load_sprite(room, TOBIN_HASH, &pool, &round->keepers[1])
        && load_sprite(room, PHALENE_HASH, &pool, &round->moth) && load_sprite(room, LAMPE_HASH, &pool, &round->lamp)
        && begin(&round->keeper, &round->keepers[0], IDLE) && begin(&round->moths, &round->moth, 0);
}

static int load_lamps(Room room, Round *round)
{
    RwAsset asset;
    const u8 *word;

    round->lamps = 0;
    if (!load(&room, LAMPES_HASH, RW_KIND_DATA, &asset))
        return 0;
    for (word = asset.at; word + 4 <= asset.at + asset.bytes && round->lamps < LAMPS; word += 4) {
        round->lamp_way[round->lamps] = word[1];
        round->lamp_at[round->lamps++] = (u16)(word[2] << 8 | word[3]);
    }
    return 1;
}

static int show_way(Room room, const Round *round)
{
    return show_tiles(room, round->way ? MARAIS_HASH : DIGUE_HASH, FAR_ROWS);
}

/* Where a place of the way stands on the screen: -256 to 255. */
static int on_screen(const Round *round, u16 at)
{
    int x = (int)((at - round->left) & (WAY_PIXELS - 1));

    return x < 384 ? x : x - WAY_PIXELS;
}

static void light_lamps(Round *round)
{
    u16 rank;
    int x, here = on_screen(round, round->at & (WAY_PIXELS - 1));

    for (rank = 0; rank < round->lamps; rank++) {
        x = on_screen(round, round->lamp_at[rank]) - here;
        if (round->lamp_way[rank] == round->way && x >= -REACH && x <= REACH)
            round->lit |= (u16)(1 << rank);
    }
}

static int act(Room room, Round *round, u16 fresh)
{
    const RwSprite *sprite;

    if (fresh & (PAD_L | PAD_R))
        round->keeper_rank ^= 1;
    sprite = &round->keepers[round->keeper_rank];
    if (fresh & PAD_B) {
        round->way ^= 1;
        black();
        if (!show_way(room, round) || !show_palette(room, CIEL_HASH) || !show_palette(room, FIGURES_HASH))
            return 0;
    }
    if (fresh & PAD_A) {
        light_lamps(round);
        return begin(&round->keeper, sprite, RAISE);
    }
    return !(fresh & (PAD_L | PAD_R)) || begin(&round->keeper, sprite, IDLE);
}

/* Which animation the pad asks for; raising the lantern goes on to its end first. */
static int choose(Round *round, u16 held)
{
    unsigned int wanted = held & (PAD_LEFT | PAD_RIGHT) ? WALK : IDLE;

    if (round->keeper.which == wanted || (round->keeper.which == RAISE && !round->keeper.ended))
        return 1;
    return begin(&round->keeper, &round->keepers[round->keeper_rank], wanted);
}

static void draw(Round *round, int left)
{
    u16 rank, wave = round->clock % 64, lamp_frame = round->clock / 8 % 2;
    int x;

    round->figures = 0;
    x = 300 - round->clock % 344;
    put(round, &round->moth, play(&round->moths, &round->moth), x, 56 + (wave < 32 ? wave : 64 - wave) / 2, 0);
    put(round, &round->keepers[round->keeper_rank], play(&round->keeper, &round->keepers[round->keeper_rank]), MIDDLE, FEET, left);
    for (rank = 0; rank < round->lamps; rank++) {
        x = on_screen(round, round->lamp_at[rank]);
        if (round->lamp_way[rank] == round->way && x > -8 && x < 264)
            put(round, &round->lamp, round->lit >> rank & 1 ? lamp_frame : 2, x, FEET - 4, 0);
    }
    for (rank = round->figures; rank < FIGURE_COUNT; rank++)
        FIGURES[rank * 4 + 3] = 0;
    for (rank = 0; rank < SCREEN_ROWS; rank++)
        SCROLL[rank] = rank < FAR_ROWS ? round->left / 2 : round->left & (WAY_PIXELS - 1);
}

int walk_the_round(Room room, Pad *pad)
{
    Round round;
    int left = 0;

    round.lit = round.way = round.keeper_rank = round.clock = 0;
    round.at = MIDDLE;
    black();
    if (!load_figures(&room, &round) || !load_lamps(room, &round) || !show_tiles(room, LOINTAIN_HASH, 0) || !show_way(room, &round)
        || !show_palette(room, FIGURES_HASH))
        return 0;
    for (;;) {
        round.left = (round.at - MIDDLE) & (2 * WAY_PIXELS - 1);
        draw(&round, left);
        wait_for_sync();
        round.clock++;
        if (!act(room, &round, pressed(pad)) || !choose(&round, pad->held))
            return 0;
        if (round.keeper.which == WALK) {
            left = (pad->held & PAD_LEFT) != 0;
            round.at += left ? -SPEED : SPEED;
        }
    }
}
