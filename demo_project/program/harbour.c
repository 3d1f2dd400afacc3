/* Whatever asset is missing is left out: no harbour is a black ground, no courier an empty place. */
#include "harbour.h"

#include "assets_reader.h"
#include "draw.h"
#include "walk.h"

#define GROUND 20       /* lines from the harbour's lower edge up to where feet stand */
#define MOST_PICTURES 8 /* a longer wait, as after a change of harbour, is not made good */
#define HARBOURS 4
#define COURIERS 6
#define FORWARDS 1 /* a step backwards is all others forwards */

typedef struct {
    u16 harbour; /* rank of its name */
    u16 courier; /* of the leader */
    u16 partner;
    int has_ground;
    int paused;
    int noted; /* boxes and points are shown */
    Picture ground;
    Window window; /* of a harbour that the race shows through one */
    Walk walk;
    Loads loads;
} Scene;

static const char *const harbour_names[HARBOURS] = {"slatequay", "emberdock", "northpier", "palmsteps"};
static const char *const courier_names[COURIERS] = {"pell", "bram", "isk", "tove", "orrin", "wick"};
/* What load lists call them: each with its colours. */
static const char *const harbour_packs[HARBOURS] = {"slatequay_pack", "emberdock_pack", "northpier_pack", "palmsteps_pack"};
static const char *const courier_packs[COURIERS] = {"pell_pack", "bram_pack", "isk_pack", "tove_pack", "orrin_pack", "wick_pack"};

/* The first sprite there is from a rank on, going round forwards or backwards; COURIERS when there is none. */
static u16 take_courier(Walker *walker, u16 rank, u16 step)
{
    u16 tried;

    for (tried = 0; tried < COURIERS; tried++, rank += step) {
        if (rank >= COURIERS)
            rank -= COURIERS;
        walker->present = take_sprite(0, name_hash(courier_names[rank]), &walker->sprite);
        if (walker->present) {
            take_notes(courier_names[rank], &walker->sprite, &walker->notes);
            return rank;
        }
    }
    return COURIERS;
}

static void take_pair(Scene *scene, u16 rank, u16 step)
{
    scene->courier = take_courier(&scene->walk.leader, rank, step);
    scene->partner = take_courier(&scene->walk.partner, scene->courier + 1, FORWARDS);
    if (scene->partner == scene->courier)
        scene->walk.partner.present = 0;
}

static void take_harbour(Scene *scene, u16 rank, u16 step)
{
    u16 tried;

    for (tried = 0; tried < HARBOURS; tried++, rank += step) {
        if (rank >= HARBOURS)
            rank -= HARBOURS;
        scene->has_ground = take_background(0, name_hash(harbour_names[rank]), &scene->ground);
        if (scene->has_ground)
            break;
    }
    scene->harbour = scene->has_ground ? rank : 0;
}

static void take_loaded(const Loads *loads, Walker *walker, u16 rank)
{
    u32 hash = name_hash(courier_names[rank]);

    if (!walker->present)
        return;
    if (take_stream(loads, name_hash(courier_packs[rank]), hash, &walker->stream)
        && take_streamed(&walker->stream, loads, hash, &walker->sprite))
        return;
    if (!take_sprite(loads, hash, &walker->sprite))
        walker->present = take_sprite(0, hash, &walker->sprite);
}

static void take_loaded_ground(Scene *scene)
{
    u32 hash = name_hash(harbour_names[scene->harbour]);

    if (take_window(&scene->loads, name_hash(harbour_packs[scene->harbour]), hash, &scene->window))
        take_seen(&scene->window, &scene->ground);
    else if (!take_background(&scene->loads, hash, &scene->ground))
        scene->has_ground = take_background(0, hash, &scene->ground);
}

/* What was found in the cartridge is drawn from memory, when load lists can load it. */
static void load_scene(Scene *scene)
{
    Walk *walk = &scene->walk;
    u32 leader = walk->leader.present ? name_hash(courier_packs[scene->courier]) : 0;
    u32 partner = walk->partner.present ? name_hash(courier_packs[scene->partner]) : 0;

    if (!load_race(&scene->loads, leader, partner, scene->has_ground ? name_hash(harbour_packs[scene->harbour]) : 0))
        return;
    take_loaded(&scene->loads, &walk->leader, scene->courier);
    take_loaded(&scene->loads, &walk->partner, scene->partner);
    if (scene->has_ground)
        take_loaded_ground(scene);
}

static void keep_named_palette(Display *display, const Loads *loads, u32 hash)
{
    Palette palette;

    if (hash && (take_palette(loads->there ? loads : 0, hash, &palette) || take_palette(0, hash, &palette)))
        keep_palette(display, &palette);
}

static void keep_palettes(Display *display, const Scene *scene)
{
    drop_palettes(display);
    if (scene->has_ground)
        keep_named_palette(display, &scene->loads, scene->ground.palette);
    if (scene->walk.partner.present)
        keep_named_palette(display, &scene->loads, scene->walk.partner.sprite.picture.palette);
    if (scene->walk.leader.present)
        keep_named_palette(display, &scene->loads, scene->walk.leader.sprite.picture.palette);
}

/* What is streamed is fetched when its frame changes, and drawn from the buffer. */
static void draw_walker(u8 *to, Walker *walker, long x, s16 y, int facing_left)
{
    if (walker->present && (!walker->sprite.stream || hold_frame(&walker->stream, walker_frame(walker))))
        draw_frame(to, &walker->sprite, walker_frame(walker), (s16)x, y, facing_left);
}

static void draw_noted(u8 *to, const Walker *walker, long x, s16 y, int facing_left)
{
    if (walker->present)
        draw_notes(to, &walker->notes, &walker->sprite, walker_frame(walker), (s16)x, y, facing_left);
}

static void draw_scene(u8 *to, Scene *scene)
{
    u16 height = scene->has_ground ? scene->ground.height : SCREEN_HEIGHT;
    u16 top = height > SCREEN_HEIGHT ? height - SCREEN_HEIGHT : 0;
    u16 left = window_left(&scene->walk);
    s16 feet = (s16)(height - top - GROUND);
    long x = (scene->walk.x >> 1) - left;

    if (scene->has_ground && scene->ground.columns)
        move_window(&scene->window, left, top);
    if (scene->has_ground)
        draw_window(to, &scene->ground, left, top);
    else
        clear(to);
    draw_walker(to, &scene->walk.partner, x - APART, feet, scene->walk.facing_left);
    draw_walker(to, &scene->walk.leader, x, feet, scene->walk.facing_left);
    if (scene->noted) {
        draw_noted(to, &scene->walk.partner, x - APART, feet, scene->walk.facing_left);
        draw_noted(to, &scene->walk.leader, x, feet, scene->walk.facing_left);
    }
}

static void start_scene(Display *display, Scene *scene)
{
    open_loads(&scene->loads);
    take_pair(scene, 0, FORWARDS);
    take_harbour(scene, 0, FORWARDS);
    load_scene(scene);
    scene->paused = scene->noted = 0;
    start_walk(&scene->walk, scene->has_ground ? scene->ground.width : SCREEN_WIDTH);
    keep_palettes(display, scene);
}

static void change_harbour(Display *display, Scene *scene, u16 step)
{
    take_pair(scene, scene->courier, FORWARDS);
    take_harbour(scene, scene->harbour + step, step);
    load_scene(scene);
    start_walk(&scene->walk, scene->has_ground ? scene->ground.width : SCREEN_WIDTH);
    keep_palettes(display, scene);
}

static void change_couriers(Display *display, Scene *scene, u16 step)
{
    take_pair(scene, scene->courier + step, step);
    take_harbour(scene, scene->harbour, FORWARDS);
    load_scene(scene);
    start_animations(&scene->walk);
    keep_palettes(display, scene);
}

/* The buttons that only a six-button pad has. */
static void obey_upper_row(Display *display, Scene *scene, u16 buttons)
{
    if (buttons & PAD_X)
        change_harbour(display, scene, HARBOURS - 1);
    if (buttons & PAD_Y)
        change_couriers(display, scene, COURIERS - 1);
    if (buttons & PAD_Z)
        change_speed(&scene->walk, -scene->walk.speed);
}

static void obey(Display *display, Scene *scene, u16 buttons)
{
    if (buttons & PAD_START)
        scene->paused = !scene->paused;
    if (buttons & PAD_A)
        scene->noted = !scene->noted;
    if (buttons & PAD_LEFT)
        change_speed(&scene->walk, -1);
    if (buttons & PAD_RIGHT)
        change_speed(&scene->walk, 1);
    if (buttons & PAD_B)
        change_harbour(display, scene, FORWARDS);
    if (buttons & PAD_C)
        change_couriers(display, scene, FORWARDS);
    obey_upper_row(display, scene, buttons);
}

void run_harbour(Display *display)
{
    Scene scene;
    u32 pictures;

    start_scene(display, &scene);
    draw_scene(display->hidden, &scene);
    show(display);
    for (pictures = 1;; pictures = show(display)) {
        obey(display, &scene, pressed(display));
        if (!scene.paused)
            advance_walk(&scene.walk, pictures < MOST_PICTURES ? (u16)pictures : MOST_PICTURES);
        draw_scene(display->hidden, &scene);
    }
}
