/* Loads scenes on the building machine: load_cases IMAGE ORDERS ANSWERS [CASES].
   ORDERS, numbers of 4 bytes, little-endian as all here: name hash of the lists, bytes of memory, number of assets; of each its
   hash and kind; number of bundles and their hashes; number of loads; of each the scene's hash, number of slots and what goes
   into them. Each load follows the one before. Without CASES, ANSWERS gets of each load its result and all of memory, then of
   each asset whether it is there, whether in memory, its offset in memory or image, bytes and codec; and of each bundle
   whether it is there, its bytes, and the offset of each asset. See listed_cases.h. */
#include "listed_cases.h"

typedef struct {
    unsigned long scene, slots, chosen[MOST];
} Load;

static unsigned long lists_hash, asset_count, bundle_count, load_count;
static unsigned long assets[MOST][2], bundles[MOST];
static Load loads[MOST];

/* Where the asset is in the image. */
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

    take_memory();
    if (!open_lists(lists_hash, &lists)) {
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
    forget_window();
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
