/* The generated reader finds what to copy; copy_bytes of loads.c copies it. */
#include "streams.h"

#include "hardware.h"

static int find_part(const Loads *loads, u32 name, u8 kind, RwAsset *tables, RwAsset *whole)
{
    return rw_loaded(&loads->lists, &loads->race, loads->chosen, name, kind, tables) && tables->bytes != tables->unpacked_bytes
        && rw_in_cartridge(&loads->lists, &loads->race, loads->chosen, name, kind, whole);
}

int take_stream(const Loads *loads, u32 pack, u32 name, Stream *stream)
{
    RwAsset tables;
    u16 slot = 0;

    while (slot < COURIER_SLOTS && loads->chosen[slot] != pack)
        slot++;
    stream->run_count[0] = stream->run_count[1] = stream->shown = 0;
    return slot < COURIER_SLOTS && find_part(loads, name, RW_KIND_SPRITE, &tables, &stream->cartridge)
        && rw_buffers(&loads->lists, &loads->race, loads->chosen, slot, name, &stream->buffers)
        && rw_sprite_in_part(&tables, &stream->sprite) && !stream->sprite.pool && stream->buffers.count == BUFFERS;
}

static int fetch(Stream *stream, u16 frame, u16 buffer)
{
    u8 *to = stream->buffers.at + (buffer ? stream->buffers.bytes : 0);
    u32 left = stream->buffers.bytes;
    u16 count = 0;
    RwRun run;

    stream->run_count[buffer] = 0;
    run.next = 0;
    while (rw_frame_run(&stream->sprite, frame, &run)) {
        if (count == MOST_RUNS || run.bytes > left || !lies_inside(run.offset, run.bytes, stream->cartridge.bytes))
            return 0;
        copy_bytes(to, stream->cartridge.at + run.offset, run.bytes);
        to += run.bytes;
        left -= run.bytes;
        stream->runs[buffer][count].offset = run.offset;
        stream->runs[buffer][count++].bytes = run.bytes;
    }
    stream->run_count[buffer] = count;
    stream->frame[buffer] = frame;
    return count != 0;
}

int hold_frame(Stream *stream, u16 frame)
{
    u16 buffer;

    for (buffer = 0; buffer < BUFFERS; buffer++) {
        if (stream->run_count[buffer] && stream->frame[buffer] == frame) {
            stream->shown = buffer;
            return 1;
        }
    }
    stream->shown = 1 - stream->shown;
    return fetch(stream, frame, stream->shown);
}

int take_fetched(const Stream *stream, u16 rank, RwPiece *piece)
{
    RwFetched fetched;
    RwFrame frame;

    fetched.at = stream->buffers.at + (stream->shown ? stream->buffers.bytes : 0);
    fetched.bytes = stream->buffers.bytes;
    fetched.runs = stream->runs[stream->shown];
    fetched.run_count = stream->run_count[stream->shown];
    return rw_frame(&stream->sprite, stream->frame[stream->shown], &frame)
        && rw_fetched_piece(&stream->sprite, &frame, rank, &fetched, piece);
}

static u16 smaller(u16 one, u16 other)
{
    return one < other ? one : other;
}

int take_window(const Loads *loads, u32 pack, u32 name, Window *window)
{
    RwAsset tables;

    window->filled = 0;
    return loads->chosen[COURIER_SLOTS] == pack && find_part(loads, name, RW_KIND_BACKGROUND, &tables, &window->cartridge)
        && rw_buffers(&loads->lists, &loads->race, loads->chosen, COURIER_SLOTS, name, &window->held)
        && rw_background_in_part(&tables, &window->background) && !window->background.tiled
        && window->background.picture.format == RW_FORMAT_INDEX8 && window->held.unit_bytes == 1
        && window->held.columns >= smaller((u16)window->background.picture.width, SCREEN_WIDTH)
        && window->held.rows >= smaller((u16)window->background.picture.height, SCREEN_HEIGHT);
}

static void fetch_columns(const Window *window, u16 left, u16 count, u16 top)
{
    u16 rows = smaller((u16)window->background.picture.height - top, SCREEN_HEIGHT), taken, done;
    RwStrip strip;

    for (; rows; rows--, top++) {
        for (done = 0; done < count; done += taken) {
            taken = (u16)rw_window_strip(&window->background, &window->held, left + done, top, count - done, &strip);
            if (!taken)
                return;
            copy_bytes(window->held.at + strip.to, window->cartridge.at + strip.offset, strip.bytes);
        }
    }
}

void move_window(Window *window, u16 left, u16 top)
{
    u16 width = smaller((u16)window->background.picture.width, SCREEN_WIDTH);
    u16 moved = left > window->left ? left - window->left : window->left - left;

    if (!window->filled || top != window->top || moved >= width)
        fetch_columns(window, left, width, top);
    else if (left > window->left)
        fetch_columns(window, window->left + width, moved, top);
    else
        fetch_columns(window, left, moved, top);
    window->left = left;
    window->top = top;
    window->filled = 1;
}
