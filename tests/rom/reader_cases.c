/* Walks images on the building machine: reader_cases IMAGE ASSETS ANSWERS [CASES]; see cases.h.
   ASSETS: for each the name hash, kind, offset and bytes. Without CASES all numbers said go to ANSWERS; of a case, how often FAULT was said.
   In cases every asset too is in a block of its own, at its exact size.
   NO_DIRECTORY: the console has none, and places are those of ASSETS. HEAD_BYTES, BANK_BYTES, WINDOW: it sees banks.
   PACKED: assets may be packed. */
#include "cases.h"
#include "reader_walk.h"

#define MOST_SAID 400000ul

static unsigned long said;
static unsigned long places[64][4];
static unsigned int place_count;
static unsigned char *blocks[3]; /* of an asset, and of what it names */
static unsigned int block_count;

void say(unsigned long value)
{
    said++;
    failed += value == FAULT;
    if (!counting)
        put(value);
}

int more(void)
{
    return !counting || said < MOST_SAID;
}

#ifdef PACKED
#include "unpack.h"

/* What is packed is found and read by nothing, and is read when it was unpacked. */
static int unpacked(RwAsset *asset)
{
    unsigned char *memory = copy_of(asset->at, 0);
    RwSprite sprite;
    RwBackground background;
    RwPalette palette;
    RwSound sound;
    RwFont font;
    RwPool pool;
    int made;

    if (rw_sprite(asset, &sprite) || rw_background(asset, &background) || rw_palette(asset, &palette) || rw_sound(asset, &sound)
        || rw_font(asset, &font) || rw_pool(asset, &pool))
        return 0;
    memory = blocks[block_count++] = realloc(memory, asset->unpacked_bytes);
    if (asset->codec == RW_CODEC_LZ4)
        made = rw_unpack_lz4(asset->at, asset->bytes, memory, asset->unpacked_bytes);
    else
        made = rw_unpack_packbits(asset->at, asset->bytes, memory, asset->unpacked_bytes);
    return made && rw_asset_at(memory, asset->unpacked_bytes, asset->kind, asset);
}
#endif

static int find(const unsigned char *from, unsigned long bytes, unsigned long hash, unsigned int kind, RwAsset *asset)
{
#ifdef NO_DIRECTORY
    unsigned int rank;

    for (rank = 0; rank < place_count; rank++) {
        if (places[rank][0] == hash && places[rank][1] == kind && places[rank][2] + places[rank][3] <= bytes)
            return rw_asset_at(from + places[rank][2], places[rank][3], kind, asset);
    }
    return 0;
#elif defined(HEAD_BYTES)
    /* Only header and directory are there, as in the bank that is always seen; the bank is then switched in. */
    unsigned char *head = copy_of(from, HEAD_BYTES);
    int known = rw_look_up(head, HEAD_BYTES, hash, kind, asset);
    unsigned long seen_at = asset->address >= WINDOW ? WINDOW : 0;

    free(head);
    return known && asset->at == 0 && bytes > 0
        && rw_asset_at(from + asset->bank * BANK_BYTES + (asset->address - seen_at), asset->bytes, kind, asset);
#else
    RwAsset seen;

    if (!rw_find(from, bytes, hash, kind, asset))
        return 0;
    return rw_look_up(from, bytes, hash, kind, &seen) && seen.at == 0 && seen.offset == asset->offset;
#endif
}

int look_for(const unsigned char *from, unsigned long bytes, unsigned long hash, unsigned int kind, RwAsset *asset)
{
    if (!find(from, bytes, hash, kind, asset))
        return 0;
#ifdef PACKED
    if (asset->codec != RW_CODEC_STORED)
        return unpacked(asset);
#endif
    if (counting)
        asset->at = blocks[block_count++] = copy_of(asset->at, asset->bytes);
    return 1;
}

static void run(void)
{
    unsigned int rank;

    for (rank = 0; rank < place_count; rank++) {
        said = 0;
        walk(image, image_bytes, places[rank][0], (unsigned int)places[rank][1], (unsigned int)counting);
        while (block_count)
            free(blocks[--block_count]);
    }
}

static void read_orders(FILE *file)
{
    unsigned int part;

    for (; !at_end(file); place_count++) {
        for (part = 0; part < 4; part++)
            places[place_count][part] = number(file);
    }
}
