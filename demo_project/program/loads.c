/* The generated load.c does the work; here is what this game asks of it. */
#include "loads.h"

#include "hardware.h"

void copy_bytes(u8 *to, const u8 *from, unsigned long bytes)
{
    u32 *whole = (u32 *)to;
    const u32 *source = (const u32 *)from;
    unsigned long left = bytes >> 2;

    if (!(((u32)to | (u32)from) & 1)) {
        for (; left; left--)
            *whole++ = *source++;
        to = (u8 *)whole;
        from = (const u8 *)source;
        bytes &= 3;
    }
    for (; bytes; bytes--)
        *to++ = *from++;
}

void open_loads(Loads *loads)
{
    RwAsset asset;
    Asset found;

    loads->there = loads->known = 0;
    loads->chosen[0] = loads->chosen[1] = loads->chosen[2] = 0;
    if (!find_asset(name_hash("load"), RW_KIND_LISTS, &found))
        return;
    asset.at = found.at;
    asset.bytes = asset.unpacked_bytes = found.bytes;
    asset.kind = RW_KIND_LISTS;
    asset.codec = RW_CODEC_STORED;
    loads->known = rw_lists(&asset, (const u8 *)CARTRIDGE, image_size(), (u8 *)MEMORY, MEMORY_SIZE, &loads->lists)
        && rw_scene(&loads->lists, name_hash("race"), &loads->race) && loads->race.slot_count == RACE_SLOTS;
}

int load_race(Loads *loads, u32 leader, u32 partner, u32 harbour)
{
    unsigned long wanted[RACE_SLOTS];
    u16 slot;

    if (!loads->known)
        return 0;
    /* Either courier fits either slot: one that stays keeps its own. */
    slot = (leader && leader == loads->chosen[1]) || (partner && partner == loads->chosen[0]);
    wanted[slot] = leader;
    wanted[1 - slot] = partner;
    wanted[COURIER_SLOTS] = harbour;
    loads->there = rw_load(&loads->lists, loads->there ? &loads->race : 0, loads->chosen, &loads->race, wanted);
    for (slot = 0; slot < RACE_SLOTS; slot++)
        loads->chosen[slot] = wanted[slot];
    return loads->there;
}

int find_loaded(const Loads *loads, u32 hash, u8 kind, Asset *found)
{
    RwAsset asset;

    if (!rw_loaded(&loads->lists, &loads->race, loads->chosen, hash, kind, &asset) || asset.codec != RW_CODEC_STORED)
        return 0;
    found->at = asset.at;
    found->bytes = asset.bytes;
    return !((u32)asset.at & 3);
}
