/* Loads scenes on the building machine: load_cases IMAGE ORDERS ANSWERS [CASES].
   ORDERS, numbers of 4 bytes, little-endian as all here: name hash of the lists, bytes of memory, number of assets; of each its
   hash and kind; number of bundles and their hashes; number of loads; of each the scene's hash, number of slots and what goes
   into them. Each load follows the one before. Without CASES, ANSWERS gets of each load its result and all of memory, then of
   each asset whether it is there, whether in memory, its offset in memory or image, bytes and codec; and of each bundle
   whether it is there, its bytes, and the offset of each asset.
   CASES: number of changes, then offset and new byte (4 and 1 bytes) of each, or 0 and the bytes to cut the image to; every
   case has image and memory of its own at their exact sizes. One number of a case is written: how often a call failed.
   BANK_BYTES, WINDOW, HOME: the console sees banks, one at a time; what was seen of another is gone. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "load.h"

#define MOST 64

typedef struct {
    unsigned long scene, slots, chosen[MOST];
} Load;

static FILE *answers;
static unsigned long lists_hash, memory_bytes, asset_count, bundle_count, load_count, failed;
static unsigned long assets[MOST][2], bundles[MOST];
static Load loads[MOST];
static int counting;
static const unsigned char *image;
static unsigned long image_bytes;
static unsigned char *memory;

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

static void say(unsigned long value)
{
    if (!counting)
        put(value);
}

static unsigned char *copy_of(const unsigned char *from, unsigned long bytes)
{
    unsigned char *copy = malloc(bytes ? bytes : 1);

    if (copy == NULL)
        exit(2);
    if (bytes)
        memcpy(copy, from, bytes);
    return copy;
}

#ifdef BANK_BYTES
static unsigned char *window;
static unsigned long window_bank, window_bytes;

static const unsigned char *see(unsigned long bank, unsigned long address)
{
    unsigned long start = bank * BANK_BYTES;

    free(window);
    window_bank = bank;
    window_bytes = start >= image_bytes ? 0 : image_bytes - start < BANK_BYTES ? image_bytes - start : BANK_BYTES;
    window = copy_of(image + (window_bytes ? start : 0), window_bytes);
    return window + (address - (bank ? WINDOW : HOME));
}

static int open_lists(RwLists *lists)
{
    RwAsset asset;

    return rw_look_up(image, image_bytes, lists_hash, RW_KIND_LISTS, &asset)
        && rw_lists(&asset, see, image_bytes, memory, memory_bytes, lists);
}
#else
static int open_lists(RwLists *lists)
{
    RwAsset asset;

    return rw_find(image, image_bytes, lists_hash, RW_KIND_LISTS, &asset)
        && rw_lists(&asset, image, image_bytes, memory, memory_bytes, lists);
}
#endif

static unsigned long offset_of(const RwAsset *asset)
{
#ifdef BANK_BYTES
    return window_bank * BANK_BYTES + (unsigned long)(asset->at - window);
#else
    return (unsigned long)(asset->at - image);
#endif
}

/* Every byte of what was found can be read. */
static unsigned long sum_of(const RwAsset *asset)
{
    unsigned long sum = 0, rank;

    for (rank = 0; rank < asset->bytes; rank++)
        sum += asset->at[rank];
    return sum;
}

static void look(const RwLists *lists, const RwScene *scene, const unsigned long *chosen)
{
    RwAsset asset;
    unsigned long rank, sum = 0;
    int in_memory;

    for (rank = 0; rank < asset_count; rank++) {
        if (!rw_loaded(lists, scene, chosen, assets[rank][0], (unsigned int)assets[rank][1], &asset)) {
            failed++;
            say(0);
            continue;
        }
        sum += sum_of(&asset);
        in_memory = asset.at >= memory && asset.at < memory + memory_bytes;
        say(1);
        say((unsigned long)in_memory);
        say(in_memory ? (unsigned long)(asset.at - memory) : offset_of(&asset));
        say(asset.bytes);
        say(asset.codec);
    }
    if (sum == 1)
        say(sum);
}

static void look_at_bundles(const RwLists *lists)
{
    RwBundle bundle;
    RwAsset asset;
    unsigned long rank;
    unsigned int part;

    for (rank = 0; rank < bundle_count; rank++) {
        if (!rw_bundle(lists, bundles[rank], &bundle)) {
            failed++;
            say(0);
            continue;
        }
        say(1);
        say(bundle.bytes);
        for (part = 0; rw_bundle_asset(lists, &bundle, part, &asset) && part < 1000; part++)
            say(offset_of(&asset) + 0 * sum_of(&asset));
    }
}

/* What a program that copies by itself is told: the same copies. */
static void list_copies(const RwLists *lists, const RwScene *scene, const unsigned long *chosen)
{
    RwCopy copy;
    unsigned int rank, slot;
    unsigned long member;

    for (rank = 0; rw_scene_copy(lists, scene, rank, &copy); rank++)
        failed += !rw_copy(lists, &copy);
    for (slot = 0; slot < scene->slot_count && slot < MOST; slot++) {
        for (rank = 0; rank < 100 && rw_slot_member(lists, scene, slot, rank, &member); rank++)
            ;
        for (rank = 0; chosen[slot] && rw_slot_copy(lists, scene, slot, chosen[slot], rank, &copy); rank++)
            failed += !rw_copy(lists, &copy);
        if (chosen[slot])
            failed += !rw_load_slot(lists, scene, slot, chosen[slot]);
    }
}

static void run(void)
{
    RwLists lists;
    RwScene scene[2];
    const RwScene *before = 0;
    unsigned long rank, byte;
    int loaded;

    memory = malloc(memory_bytes);
    memset(memory, 0xA5, memory_bytes);
    if (!open_lists(&lists)) {
        failed++;
        say(0);
    } else {
        for (rank = 0; rank < load_count; rank++) {
            if (!rw_scene(&lists, loads[rank].scene, &scene[rank & 1]) || scene[rank & 1].slot_count > MOST) {
                failed++;
                say(0);
                before = 0;
                continue;
            }
            loaded = rw_load(&lists, before, rank ? loads[rank - 1].chosen : 0, &scene[rank & 1], loads[rank].chosen);
            failed += !loaded;
            say((unsigned long)loaded);
            for (byte = 0; byte < memory_bytes && !counting; byte++)
                fputc(memory[byte], answers);
            look(&lists, &scene[rank & 1], loads[rank].chosen);
            if (counting)
                list_copies(&lists, &scene[rank & 1], loads[rank].chosen);
            before = &scene[rank & 1];
        }
        look_at_bundles(&lists);
    }
    free(memory);
#ifdef BANK_BYTES
    free(window);
    window = 0;
#endif
}

static void read_orders(FILE *file)
{
    unsigned long rank, slot;

    lists_hash = number(file);
    memory_bytes = number(file);
    for (rank = 0, asset_count = number(file); rank < asset_count; rank++) {
        assets[rank][0] = number(file);
        assets[rank][1] = number(file);
    }
    for (rank = 0, bundle_count = number(file); rank < bundle_count; rank++)
        bundles[rank] = number(file);
    for (rank = 0, load_count = number(file); rank < load_count; rank++) {
        loads[rank].scene = number(file);
        for (slot = 0, loads[rank].slots = number(file); slot < loads[rank].slots; slot++)
            loads[rank].chosen[slot] = number(file);
    }
}

static void run_case(FILE *cases, unsigned long count, const unsigned char *whole, unsigned long bytes)
{
    unsigned char *copy;
    unsigned long at;

    image_bytes = count ? bytes : number(cases);
    copy = copy_of(whole, image_bytes);
    for (; count; count--) {
        at = number(cases);
        copy[at] = (unsigned char)fgetc(cases);
    }
    image = copy;
    failed = 0;
    run();
    put(failed);
    free(copy);
}

int main(int argc, char **argv)
{
    static unsigned char whole[1 << 20];
    FILE *file;
    unsigned long bytes;
    int head;

    if (argc < 4 || (file = fopen(argv[1], "rb")) == NULL)
        return 2;
    bytes = fread(whole, 1, sizeof whole, file);
    fclose(file);
    if ((file = fopen(argv[2], "rb")) == NULL || (answers = fopen(argv[3], "wb")) == NULL)
        return 2;
    read_orders(file);
    fclose(file);
    if (argc == 4) {
        image = whole;
        image_bytes = bytes;
        run();
        return fclose(answers) != 0;
    }
    counting = 1;
    if ((file = fopen(argv[4], "rb")) == NULL)
        return 2;
    while ((head = fgetc(file)) != EOF) {
        ungetc(head, file);
        run_case(file, number(file), whole, bytes);
    }
    fclose(file);
    return fclose(answers) != 0;
}
