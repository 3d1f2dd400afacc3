/* Fetches what a scene holds in part, on the building machine: stream_cases IMAGE ORDERS ANSWERS [CASES].
   ORDERS, numbers of 4 bytes, little-endian as all here: name hash of the lists, bytes of memory, hash of a scene, number of slots and
   what goes into them; number of sprites, of each its hash, its pool's or 0, and its slot; number of backgrounds, of each its hash, its
   slot, number of places, of each column and row of the first unit, units across and down.
   Without CASES, ANSWERS gets of each sprite its tables and whole bytes, count and bytes of its buffers, and of each frame, then of each
   animation, the bytes of its runs and 0, and for a frame whether every piece of it is the same in a buffer as in the cartridge; of each
   background its tables and whole bytes and bytes of the window, and of each place the CRC-32 of its units, row by row, in the window's memory. See listed_cases.h. */
#include "listed_cases.h"

static unsigned long orders[4096], chosen[MOST];
static RwLists lists;
static RwScene scene;

/* What the cartridge holds of an asset, at its exact size; 0 when it is not there. */
static unsigned char *take_whole(unsigned long hash, unsigned int kind, RwAsset *asset)
{
    unsigned char *copy;

    if (!rw_in_cartridge(&lists, &scene, chosen, hash, kind, asset))
        return 0;
    copy = copy_of(asset->at, asset->bytes);
    asset->at = copy;
    return copy;
}

/* Tables of what is there in part: in memory, or a switched bank might take them away. */
static int take_tables(unsigned long hash, unsigned int kind, RwAsset *asset)
{
    return rw_loaded(&lists, &scene, chosen, hash, kind, asset) && asset->at >= memory && asset->at < memory + memory_bytes;
}

/* Copies runs into a buffer, as long as they are in the cartridge and fit; returns how many. */
static unsigned int fetch(const RwSprite *sprite, unsigned int frame, const RwAsset *from, const RwBuffers *buffers, RwRun *runs)
{
    unsigned int count = 0;
    unsigned long done = 0;
    RwRun run;

    run.next = 0;
    while (count < MOST && rw_frame_run(sprite, frame, &run)) {
        say(run.bytes);
        if (run.offset > from->bytes || run.bytes > from->bytes - run.offset || run.bytes > buffers->bytes - done) {
            failed++;
            break;
        }
        memcpy(buffers->at + (frame & 1 && buffers->count > 1 ? buffers->bytes : 0) + done, from->at + run.offset, run.bytes);
        done += run.bytes;
        runs[count++] = run;
    }
    say(0);
    return count;
}

/* Whether the pieces of a frame that was fetched are those of the cartridge. */
static int same_pieces(const RwSprite *sprite, const RwSprite *whole, unsigned int frame, const RwFetched *fetched)
{
    RwFrame one, other;
    RwPiece piece, wanted;
    unsigned int rank;

    if (!rw_frame(sprite, frame, &one) || !rw_frame(whole, frame, &other) || one.piece_count != other.piece_count)
        return 0;
    for (rank = 0; rank < one.piece_count; rank++) {
        if (!rw_fetched_piece(sprite, &one, rank, fetched, &piece) || !rw_frame_piece(whole, &other, rank, &wanted))
            return 0;
        if (piece.x != wanted.x || piece.y != wanted.y || piece.flips != wanted.flips || piece.cell != wanted.cell
            || piece.picture.bytes != wanted.picture.bytes || piece.picture.width != wanted.picture.width
            || memcmp(piece.picture.pixels, wanted.picture.pixels, piece.picture.bytes))
            return 0;
    }
    return 1;
}

static void look_at_frames(const RwSprite *sprite, const RwSprite *whole, const RwAsset *from, const RwBuffers *buffers)
{
    RwRun runs[MOST], run;
    RwFetched fetched;
    RwAnimation animation;
    unsigned int frame;
    int same;

    for (frame = 0; frame < sprite->frame_count && frame < MOST; frame++) {
        fetched.at = buffers->at + (frame & 1 && buffers->count > 1 ? buffers->bytes : 0);
        fetched.bytes = buffers->bytes;
        fetched.runs = runs;
        fetched.run_count = fetch(sprite, frame, from, buffers, runs);
        same = same_pieces(sprite, whole, frame, &fetched);
        failed += !same;
        say((unsigned long)same);
    }
    for (frame = 0; frame < MOST && rw_animation(sprite, frame, &animation); frame++) {
        run.next = 0;
        while (rw_animation_run(sprite, &animation, &run))
            say(run.bytes);
        say(0);
    }
}

static const unsigned long *stream_sprite(const unsigned long *order)
{
    RwAsset tables, whole, cells;
    RwBuffers buffers;
    RwSprite sprite, all;
    RwPool pool;
    unsigned char *whole_bytes = take_whole(order[0], RW_KIND_SPRITE, &whole), *pool_bytes = 0;
    int good = whole_bytes && take_tables(order[0], RW_KIND_SPRITE, &tables)
        && rw_buffers(&lists, &scene, chosen, (unsigned int)order[2], order[0], &buffers)
        && rw_sprite_in_part(&tables, &sprite) && rw_sprite(&whole, &all) && buffers.count && buffers.bytes;

    cells = whole;
    if (good && order[1]) {
        pool_bytes = take_whole(order[1], RW_KIND_POOL, &cells);
        good = pool_bytes && rw_pool(&cells, &pool) && rw_use_pool(&sprite, &pool) && rw_use_pool(&all, &pool);
    }
    if (good) {
        say(tables.bytes);
        say(tables.unpacked_bytes);
        say(buffers.count);
        say(buffers.bytes);
        look_at_frames(&sprite, &all, &cells, &buffers);
    }
    failed += !good;
    free(whole_bytes);
    free(pool_bytes);
    return order + 3;
}

/* Of a spoilt image nobody looks at the sum: its bytes need only be there. */
static unsigned long crc(unsigned long sum, const unsigned char *at, unsigned long bytes)
{
    int bit;

    if (counting)
        return bytes ? sum ^ (unsigned long)memcmp(at, at + (bytes >> 1), bytes - (bytes >> 1)) : sum;
    for (; bytes; bytes--) {
        sum ^= *at++;
        for (bit = 0; bit < 8; bit++)
            sum = sum >> 1 ^ (sum & 1 ? 0xEDB88320ul : 0);
    }
    return sum;
}

static void look_at_window(const RwBackground *background, const RwBuffers *held, const RwAsset *from, const unsigned long *place)
{
    unsigned long sum = 0xFFFFFFFFul, tiles = background->tiled ? held->tiles * background->tile_bytes : 0, at;
    unsigned int row, column, taken;
    RwStrip strip;

    for (row = 0; row < place[3]; row++) {
        for (column = 0; column < place[2]; column += taken) {
            taken = rw_window_strip(background, held, (unsigned int)place[0] + column, (unsigned int)place[1] + row,
                                    (unsigned int)place[2] - column, &strip);
            if (!taken || strip.offset > from->bytes || strip.bytes > from->bytes - strip.offset) {
                failed++;
                say(0);
                return;
            }
            memcpy(held->at + strip.to, from->at + strip.offset, strip.bytes);
        }
    }
    for (row = 0; row < place[3]; row++) {
        for (column = 0; column < place[2]; column++) {
            at = (place[1] + row) % held->rows * held->columns + (place[0] + column) % held->columns;
            if (tiles + (at + 1) * held->unit_bytes <= held->bytes)
                sum = crc(sum, held->at + tiles + at * held->unit_bytes, held->unit_bytes);
        }
    }
    say(~sum & 0xFFFFFFFFul);
}

/* Every tile that stays in memory can be found there. */
static void look_at_tiles(const RwBackground *background, const RwBackground *whole)
{
    RwPicture one, other;
    unsigned long rank;

    for (rank = 0; background->tiled && rank < whole->tile_count && rank < 1000; rank++)
        failed += !rw_tile(background, rank, &one) || !rw_tile(whole, rank, &other) || memcmp(one.pixels, other.pixels, one.bytes);
}

static const unsigned long *stream_background(const unsigned long *order)
{
    RwAsset tables, whole;
    RwBuffers held;
    RwBackground background, all;
    unsigned char *bytes = take_whole(order[0], RW_KIND_BACKGROUND, &whole);
    unsigned long rank;
    int good = bytes && take_tables(order[0], RW_KIND_BACKGROUND, &tables)
        && rw_buffers(&lists, &scene, chosen, (unsigned int)order[1], order[0], &held)
        && rw_background_in_part(&tables, &background) && rw_background(&whole, &all);

    if (good) {
        say(tables.bytes);
        say(tables.unpacked_bytes);
        say(held.bytes);
        for (rank = 0; rank < order[2]; rank++)
            look_at_window(&background, &held, &whole, order + 3 + 4 * rank);
        if (!held.tiles)
            look_at_tiles(&background, &all);
    }
    failed += !good;
    free(bytes);
    return order + 3 + 4 * order[2];
}

static void run(void)
{
    const unsigned long *order = orders + 2;
    unsigned long rank, count;

    take_memory();
    if (!open_lists(orders[0], &lists) || !rw_scene(&lists, *order++, &scene) || scene.slot_count != *order) {
        failed++;
    } else {
        for (rank = 0, count = *order++; rank < count; rank++)
            chosen[rank] = *order++;
        failed += !rw_load(&lists, 0, 0, &scene, chosen);
        for (count = *order++; count; count--)
            order = stream_sprite(order);
        for (count = *order++; count; count--)
            order = stream_background(order);
    }
    say(failed);
    forget_window();
}

static void read_orders(FILE *file)
{
    unsigned long rank;

    for (rank = 0; rank < 4096 && !at_end(file); rank++)
        orders[rank] = number(file);
    memory_bytes = orders[1];
}
