/* Reads a text and notes on a Z80: says every unit of every text after how many there are, then of every frame of the notes how many
   boxes and points, events, ticks, each box and whether it meets its mirror image (column c where 9 - c was), each point also found by
   its kind, and each number. 16 bits, low first. Ends with 1; with 2 after a failure. */
#include "assets.h"
#include "reader8.h"

__sfr __at 0x01 said_port;
__sfr __at 0x02 end_port;

static Rw8Asset asset;
static Rw8Text text;
static Rw8String string;
static Rw8Notes notes;
static Rw8Noted noted;
static Rw8NotedBox box, turned;
static Rw8NotedPoint point;
static unsigned int first, second, rank, unit;
static int number;

static void say(unsigned int value)
{
    said_port = (unsigned char)value;
    said_port = (unsigned char)(value >> 8);
}

static unsigned char say_texts(void)
{
    if (!rw8_find(BANKS, SAID_HASH, RW_KIND_TEXT, &asset) || !rw8_text(&asset, &text))
        return 0;
    say(text.end);
    for (first = 0; first < text.language_count; first++) {
        for (second = 0; second < text.key_count; second++) {
            if (!rw8_string(&text, first, second, &string))
                return 0;
            say(string.count);
            for (rank = 0; rw8_unit(&string, rank, &unit); rank++)
                say(unit);
        }
    }
    return 1;
}

static unsigned char say_noted(void)
{
    if (!rw8_noted(&notes, first, &noted))
        return 0;
    say(noted.box_count);
    say(noted.point_count);
    say(noted.events);
    say(noted.ticks);
    for (rank = 0; rw8_noted_box(&notes, &noted, rank, &box); rank++) {
        turned = box;
        rw8_mirror_box(&turned, 9);
        say(box.kind);
        say((unsigned int)box.x);
        say((unsigned int)box.y);
        say(box.width);
        say(box.height);
        say((unsigned int)rw8_boxes_meet(&box, -100, 0, &turned, -100, 0));
    }
    for (rank = 0; rw8_noted_point(&notes, &noted, rank, &point); rank++) {
        if (!rw8_noted_point_of(&notes, &noted, point.kind, &point))
            return 0;
        say(point.kind);
        say((unsigned int)point.x);
        say((unsigned int)point.y);
    }
    for (rank = 0; rw8_noted_number(&notes, first, rank, &number); rank++)
        say((unsigned int)number);
    return 1;
}

void main(void)
{
    if (!say_texts() || !rw8_find(BANKS, BEA_NOTES_HASH, RW_KIND_NOTES, &asset) || !rw8_notes(&asset, &notes)) {
        end_port = 2;
        return;
    }
    for (first = 0; first < notes.frame_count; first++) {
        if (!say_noted()) {
            end_port = 2;
            return;
        }
    }
    end_port = 1;
}
