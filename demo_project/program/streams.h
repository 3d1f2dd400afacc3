/* What a race holds in part: two frames of a courier in buffers, and of a harbour what the screen shows. The rest is fetched. */
#ifndef STREAMS_H
#define STREAMS_H

#include "loads.h"
#include "numbers.h"

#define MOST_RUNS 8 /* of a frame in the cartridge; a courier with more is drawn from there */
#define BUFFERS 2

typedef struct {
    RwSprite sprite; /* its tables are in memory */
    RwBuffers buffers;
    RwAsset cartridge; /* all of it */
    RwRun runs[BUFFERS][MOST_RUNS];
    u16 run_count[BUFFERS]; /* 0: the buffer holds nothing */
    u16 frame[BUFFERS];
    u16 shown; /* the buffer that is drawn from */
} Stream;

typedef struct {
    RwBackground background; /* its record is in memory */
    RwBuffers held;
    RwAsset cartridge;
    u16 left; /* columns from here on are in memory, as many as it has */
    u16 top;
    int filled;
} Window;

/* Each returns 0 when the race does not hold it in part. pack: what was chosen, name: the asset, as hashes. */
int take_stream(const Loads *loads, u32 pack, u32 name, Stream *stream);
int take_window(const Loads *loads, u32 pack, u32 name, Window *window);

/* Fetches a frame into the buffer that is not shown, unless it is in one. 0 when it has too many runs or is not right. */
int hold_frame(Stream *stream, u16 frame);

/* One piece of the frame that was held last. */
int take_fetched(const Stream *stream, u16 rank, RwPiece *piece);

/* Fetches what comes in as the upper left corner of the screen gets to this pixel of the harbour. */
void move_window(Window *window, u16 left, u16 top);

#endif
