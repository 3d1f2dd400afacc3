/* One picture is the unit of time, so that a slow picture changes how smooth the walk is and not how fast. */
#include "walk.h"

#include "assets_reader.h"
#include "hardware.h"

#define WALK 1

static const char *const gaits[] = {"idle", "walk", "run"};

static u16 gait(s16 speed)
{
    if (speed == 0)
        return 0;
    return speed >= -2 && speed <= 2 ? WALK : 2;
}

static u16 step_pictures(const Walker *walker)
{
    u16 pictures = READ16(walker->animation.steps + 4 * (u32)walker->step + 2);

    return pictures ? pictures : 1;
}

static void start_animation(Walker *walker, u16 rank)
{
    walker->step = 0;
    if (!walker->present
        || (!take_animation(&walker->sprite, name_hash(gaits[rank]), &walker->animation)
            && !take_animation(&walker->sprite, name_hash(gaits[WALK]), &walker->animation))) {
        walker->animation.count = 0;
        return;
    }
    walker->left = step_pictures(walker);
}

static void next_picture(Walker *walker)
{
    if (!walker->animation.count || --walker->left)
        return;
    if (walker->step + 1 < walker->animation.count)
        walker->step++;
    else if (walker->animation.loops)
        walker->step = 0;
    walker->left = step_pictures(walker);
}

u16 walker_frame(const Walker *walker)
{
    return walker->animation.count ? READ16(walker->animation.steps + 4 * (u32)walker->step) : 0;
}

void start_animations(Walk *walk)
{
    u16 ahead;

    start_animation(&walk->leader, gait(walk->speed));
    start_animation(&walk->partner, gait(walk->speed));
    for (ahead = OUT_OF_STEP; ahead; ahead--)
        next_picture(&walk->partner);
}

void start_walk(Walk *walk, u16 width)
{
    walk->x = 2 * (MARGIN + APART);
    walk->speed = FIRST_SPEED;
    walk->facing_left = 0;
    walk->width = width;
    start_animations(walk);
}

static void set_speed(Walk *walk, s16 speed)
{
    u16 before = gait(walk->speed);

    walk->speed = speed;
    if (speed)
        walk->facing_left = speed < 0;
    if (gait(speed) != before)
        start_animations(walk);
}

void change_speed(Walk *walk, s16 change)
{
    s16 speed = walk->speed + change;

    if (speed >= -FASTEST && speed <= FASTEST)
        set_speed(walk, speed);
}

/* Turns round at either end; a harbour too narrow to walk in has both ends in one place. */
static void move(Walk *walk)
{
    long first = 2 * (MARGIN + APART), last = 2 * ((long)walk->width - MARGIN);

    if (last < first)
        last = first;
    walk->x += walk->speed;
    if ((walk->x >= last && walk->speed > 0) || (walk->x <= first && walk->speed < 0)) {
        walk->x = walk->speed > 0 ? last : first;
        set_speed(walk, -walk->speed);
    }
}

void advance_walk(Walk *walk, u16 pictures)
{
    for (; pictures; pictures--) {
        next_picture(&walk->leader);
        next_picture(&walk->partner);
        move(walk);
    }
}

u16 window_left(const Walk *walk)
{
    long left = (walk->x >> 1) - APART / 2 - SCREEN_WIDTH / 2;
    long last = (long)walk->width - SCREEN_WIDTH;

    if (left > last)
        left = last;
    return left > 0 ? (u16)left : 0;
}
