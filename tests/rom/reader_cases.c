/* Walks images on the building machine: reader_cases IMAGE ASSETS ANSWERS [CASES].
   ASSETS: for each the name hash, kind, offset and bytes, as numbers of 4 bytes, little-endian as all here. Without CASES
   all numbers said go to ANSWERS. CASES: number of changes, then offset and new byte (4 and 1 bytes) of each; every case is
   walked in an image of its own, and every asset in a block of its own, allocated at their exact sizes, so that the
   sanitizers see the first byte read outside. One number of a case is written: how often FAULT was said. A number of changes
   of 0 cuts the image short to the offset that follows.
   NO_DIRECTORY: the console has none, and places are those of ASSETS. HEAD_BYTES, BANK_BYTES, WINDOW: it sees banks.
   PACKED: assets may be packed. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "reader_walk.h"

#define MOST_SAID 400000ul

static FILE *answers;
static unsigned long said, faults;
static unsigned int counting;
static unsigned long places[64][4];
static unsigned int place_count;
static unsigned char *blocks[3]; /* of an asset, and of what it names */
static unsigned int block_count;

static unsigned long number(FILE *file)
{
    unsigned long low = 0;
    int place;

    for (place = 0; place < 32; place += 8)
        low |= (unsigned long)(fgetc(file) & 0xFF) << place;
    return low;
}

static void put(unsigned long value)
{
    int place;

    for (place = 0; place < 32; place += 8)
        fputc((int)(value >> place & 0xFF), answers);
}

void say(unsigned long value)
{
    said++;
    faults += value == FAULT;
    if (!counting)
        put(value);
}

int more(void)
{
    return !counting || said < MOST_SAID;
}

static unsigned char *copy_of(const unsigned char *image, unsigned long bytes)
{
    unsigned char *copy = malloc(bytes ? bytes : 1);

    if (copy == NULL)
        exit(2);
    memcpy(copy, image, bytes);
    return copy;
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

static int find(const unsigned char *image, unsigned long bytes, unsigned long hash, unsigned int kind, RwAsset *asset)
{
#ifdef NO_DIRECTORY
    unsigned int rank;

    for (rank = 0; rank < place_count; rank++) {
        if (places[rank][0] == hash && places[rank][1] == kind && places[rank][2] + places[rank][3] <= bytes)
            return rw_asset_at(image + places[rank][2], places[rank][3], kind, asset);
    }
    return 0;
#elif defined(HEAD_BYTES)
    /* Only header and directory are there, as in the bank that is always seen; the bank is then switched in. */
    unsigned char *head = copy_of(image, HEAD_BYTES);
    int known = rw_look_up(head, HEAD_BYTES, hash, kind, asset);
    unsigned long seen_at = asset->address >= WINDOW ? WINDOW : 0;

    free(head);
    return known && asset->at == 0 && bytes > 0
        && rw_asset_at(image + asset->bank * BANK_BYTES + (asset->address - seen_at), asset->bytes, kind, asset);
#else
    RwAsset seen;

    if (!rw_find(image, bytes, hash, kind, asset))
        return 0;
    return rw_look_up(image, bytes, hash, kind, &seen) && seen.at == 0 && seen.offset == asset->offset;
#endif
}

int look_for(const unsigned char *image, unsigned long bytes, unsigned long hash, unsigned int kind, RwAsset *asset)
{
    if (!find(image, bytes, hash, kind, asset))
        return 0;
#ifdef PACKED
    if (asset->codec != RW_CODEC_STORED)
        return unpacked(asset);
#endif
    if (counting)
        asset->at = blocks[block_count++] = copy_of(asset->at, asset->bytes);
    return 1;
}

static void walk_all(const unsigned char *image, unsigned long bytes)
{
    unsigned int rank;

    for (rank = 0; rank < place_count; rank++) {
        said = 0;
        walk(image, bytes, places[rank][0], (unsigned int)places[rank][1], counting);
        while (block_count)
            free(blocks[--block_count]);
    }
}

static void run_case(FILE *cases, unsigned long count, const unsigned char *image, unsigned long bytes)
{
    unsigned char *copy;
    unsigned long at;

    if (count == 0)
        bytes = number(cases);
    copy = copy_of(image, bytes);
    while (count--) {
        at = number(cases);
        copy[at] = (unsigned char)fgetc(cases);
    }
    faults = 0;
    walk_all(copy, bytes);
    put(faults);
    free(copy);
}

int main(int argc, char **argv)
{
    static unsigned char image[1 << 20];
    FILE *file;
    unsigned long bytes, count;
    unsigned int part;
    int head;

    if (argc < 4 || (file = fopen(argv[1], "rb")) == NULL)
        return 2;
    bytes = fread(image, 1, sizeof image, file);
    fclose(file);
    if ((file = fopen(argv[2], "rb")) == NULL || (answers = fopen(argv[3], "wb")) == NULL)
        return 2;
    while ((head = fgetc(file)) != EOF) {
        ungetc(head, file);
        for (part = 0; part < 4; part++)
            places[place_count][part] = number(file);
        place_count++;
    }
    fclose(file);
    if (argc == 4) {
        unsigned char *whole = copy_of(image, bytes);

        walk_all(whole, bytes);
        free(whole);
        return fclose(answers) != 0;
    }
    counting = 1;
    if ((file = fopen(argv[4], "rb")) == NULL)
        return 2;
    while ((head = fgetc(file)) != EOF) {
        ungetc(head, file);
        count = number(file);
        run_case(file, count, image, bytes);
    }
    fclose(file);
    return fclose(answers) != 0;
}
