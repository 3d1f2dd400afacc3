/* See cases.h; for programs that follow load lists, with a memory of its exact size.
   BANK_BYTES, WINDOW, HOME: the console sees banks, one at a time; what was seen of another is gone. */
#ifndef LISTED_CASES_H
#define LISTED_CASES_H

#include "cases.h"
#include "load.h"

#define MOST 64

static unsigned long memory_bytes;
static unsigned char *memory;

static void say(unsigned long value)
{
    if (!counting)
        put(value);
}

#ifdef BANK_BYTES
static unsigned char *window;
static unsigned long window_bank;

static const unsigned char *see(unsigned long bank, unsigned long address)
{
    unsigned long start = bank * BANK_BYTES, bytes;

    free(window);
    window_bank = bank;
    bytes = start >= image_bytes ? 0 : image_bytes - start < BANK_BYTES ? image_bytes - start : BANK_BYTES;
    window = copy_of(image + (bytes ? start : 0), bytes);
    return window + (address - (bank ? WINDOW : HOME));
}
#endif

static int open_lists(unsigned long hash, RwLists *lists)
{
    RwAsset asset;

#ifdef BANK_BYTES
    return rw_look_up(image, image_bytes, hash, RW_KIND_LISTS, &asset) && rw_lists(&asset, see, image_bytes, memory, memory_bytes, lists);
#else
    return rw_find(image, image_bytes, hash, RW_KIND_LISTS, &asset) && rw_lists(&asset, image, image_bytes, memory, memory_bytes, lists);
#endif
}

/* As it is after power-on; the same block for all cases, since the sanitizers take long over large ones. */
static void take_memory(void)
{
    if (memory == NULL && (memory = malloc(memory_bytes)) == NULL)
        exit(2);
    memset(memory, 0xA5, memory_bytes);
}

static void forget_window(void)
{
#ifdef BANK_BYTES
    free(window);
    window = 0;
#endif
}

#endif
