/* Fetches every frame of sprites on a Z80: says of each sprite the bytes of its tables; of each frame the bytes of its runs and 0, then
   how many pieces, and of each the sum of its bytes in the buffer, as 16 bits, low first. Ends with 1; with 2 or 3 after a failure.
   SPRITES: hash and hash of the pool of each. */
#include "assets.h"
#include "reader8.h"

#define TABLES 1024
#define BUFFER 1024
#define MOST 16

__sfr __at 0x01 said_port;
__sfr __at 0x02 end_port;

static const unsigned long sprites[][2] = { SPRITES };
static Rw8Asset asset;
static Rw8Sprite sprite;
static Rw8Piece piece;
static Rw8Run runs[MOST + 1];
static unsigned char tables[TABLES], buffer[BUFFER];
static const unsigned char *from;
static unsigned int count, rank, at, sum, done;

static void say(unsigned int value)
{
    said_port = (unsigned char)value;
    said_port = (unsigned char)(value >> 8);
}

static void copy(unsigned char *to, const Rw8Place *place)
{
    from = rw8_show(place);
    for (at = place->bytes; at; at--)
        *to++ = *from++;
}

static unsigned char open_sprite(unsigned char number)
{
    static Rw8Place place;

    if (!rw8_find(BANKS, sprites[number][0], RW_KIND_SPRITE, &asset) || !rw8_sprite(&asset, &sprite))
        return 0;
    place = sprite.place;
    if (sprites[number][1] && (!rw8_find(BANKS, sprites[number][1], RW_KIND_POOL, &asset) || !rw8_use_pool(&sprite, &asset)))
        return 0;
    rw8_tables_at(&sprite, tables);
    place.bytes = sprite.place.bytes;
    if (place.bytes > TABLES)
        return 0;
    copy(tables, &place);
    say(sprite.place.bytes);
    return 1;
}

static unsigned char fetch(void)
{
    runs[0].next = 0;
    for (count = done = 0; count < MOST && rw8_frame_run(&sprite, rank, &runs[count]); count++) {
        if (runs[count].place.bytes > BUFFER - done)
            return 0;
        say(runs[count].place.bytes);
        copy(buffer + done, &runs[count].place);
        done += runs[count].place.bytes;
        runs[count + 1].next = runs[count].next;
    }
    say(0);
    return count < MOST;
}

static unsigned char show_frame(void)
{
    unsigned int pieces;

    if (!fetch() || !rw8_frame(&sprite, rank, &pieces))
        return 0;
    say(pieces);
    for (; pieces; pieces--) {
        if (!rw8_piece(&piece) || !rw8_fetched(&piece.place, runs, count, buffer) || !piece.place.memory)
            return 0;
        from = rw8_show(&piece.place);
        for (sum = 0, at = piece.place.bytes; at; at--)
            sum += *from++;
        say(sum);
    }
    return 1;
}

void main(void)
{
    static unsigned char number;

    for (number = 0; number < sizeof sprites / sizeof sprites[0]; number++) {
        if (!open_sprite(number)) {
            end_port = 2;
            return;
        }
        for (rank = 0; rank < sprite.frame_count; rank++) {
            if (!show_frame()) {
                end_port = 3;
                return;
            }
        }
    }
    end_port = 1;
}
