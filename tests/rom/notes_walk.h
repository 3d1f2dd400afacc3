/* The walk of notes on frames, for either reader: READ(name) is its function, READ_TYPE(Name) its type. */

static void walk_noted(const READ_TYPE(Notes) *notes, unsigned int frame)
{
    READ_TYPE(Noted) noted;
    READ_TYPE(NotedBox) box, turned;
    READ_TYPE(NotedPoint) point, again;
    unsigned int rank;
    int number;

    if (!READ(noted)(notes, frame, &noted)) {
        say(FAULT);
        return;
    }
    say(noted.box_count);
    say(noted.point_count);
    say(noted.events);
    say(noted.ticks);
    for (rank = 0; rank < noted.box_count && more(); rank++) {
        if (!READ(noted_box)(notes, &noted, rank, &box) || !READ(noted_box)(notes, &noted, rank, &turned)) {
            say(FAULT);
            continue;
        }
        READ(mirror_box)(&turned, 9);
        say(box.kind);
        say((unsigned long)(box.x + 0x8000L));
        say((unsigned long)(box.y + 0x8000L));
        say(box.width);
        say(box.height);
        say((unsigned long)(turned.x + 0x80000L));
        say((unsigned long)READ(boxes_meet)(&box, 100, 0, &turned, 100, 0));
    }
    for (rank = 0; rank < noted.point_count && more(); rank++) {
        if (!READ(noted_point)(notes, &noted, rank, &point) || !READ(noted_point_of)(notes, &noted, point.kind, &again)) {
            say(FAULT);
            continue;
        }
        READ(mirror_point)(&again, 9);
        say(point.kind);
        say((unsigned long)(point.x + 0x8000L));
        say((unsigned long)(point.y + 0x8000L));
        say((unsigned long)(again.x + 0x80000L));
    }
    for (rank = 0; rank < notes->number_count && more(); rank++)
        say(READ(noted_number)(notes, frame, rank, &number) ? (unsigned long)(number + 0x8000L) : FAULT);
}

static void walk_notes(const READ_TYPE(Asset) *asset)
{
    READ_TYPE(Notes) notes;
    unsigned int frame;
    int number;

    if (!READ(notes)(asset, &notes)) {
        say(FAULT);
        return;
    }
    say(notes.sprite);
    say(notes.frame_count);
    for (frame = 0; frame < notes.frame_count && more(); frame++)
        walk_noted(&notes, frame);
    say((unsigned long)READ(noted_number)(&notes, 0, notes.number_count, &number));
    say((unsigned long)READ(noted_number)(&notes, notes.frame_count, 0, &number));
}
