/*
 * The handheld that the shipped target pebble8 describes, an invented console: what its manual would say, as far as this program
 * needs it.
 *
 * CPU        Z80 instructions. After power-on it jumps to the address in the header's field "entry", interrupts off, anything in
 *            registers and memory.
 * Memory     8 KiB at 0xC000; the last 512 bytes are the stack.
 * Cartridge  its first 16 KiB at 0x0000, always; any 16 KiB of it at 0x4000, as BANK says.
 * Picture    240 x 160 pixels, drawn by the console from its video memory (12 KiB at 0x8000, read and written at any time) at each
 *            vertical sync.
 *
 *   0x8000  256 tiles of 8 x 8 pixels, 16 bytes each: two for a row, the first with the low bits of eight pixels, the leftmost on top
 *   0x9000  256 cells of figures, like tiles
 *   0xA000  map, 32 columns by 20 rows of words xxPHVccctttttttt, low byte first: mirrored left to right, top to bottom, line of the
 *           palette, tile. The last two columns are not seen.
 *   0xA800  32 colours xBBBBBGGGGGRRRRR, low byte first, in 8 lines of 4
 *   0xA900  64 figures of one cell, four bytes each: column and row of its upper left pixel, both plus 16, and row 0 for none; its
 *           cell; xxxVHccc, as in the map. Pixels of 0 are not drawn. The first ones are in front.
 *
 * Ports:
 *   0x00  write  BANK  which 16 KiB of the cartridge are at 0x4000
 *   0x01  read   SYNC  stops the processor until the next vertical sync
 *   0x02  read   PAD   one bit a button, 1 while held
 */
#ifndef HARDWARE_H
#define HARDWARE_H

__sfr __at 0x00 bank_port;
__sfr __at 0x01 sync_port;
__sfr __at 0x02 pad_port;

/* What reader8.c needs to know. */
#define RW_BANK(number) (bank_port = (unsigned char)(number))

#define TILES ((unsigned char *)0x8000u)
#define CELLS ((unsigned char *)0x9000u)
#define CELL_BYTES 16
#define MAP ((unsigned int *)0xA000u)
#define MAP_COLUMNS 32
#define SCREEN_COLUMNS 30
#define SCREEN_ROWS 20
#define COLOURS ((unsigned int *)0xA800u)
#define COLOUR_COUNT 32
#define FIGURES ((unsigned char *)0xA900u)
#define FIGURE_COUNT 64
#define FIGURE_BYTES 4
#define FIGURE_EDGE 16 /* added to column and row */
#define FIGURE_FLIP_X 8
#define FIGURE_FLIP_Y 16

#define PAD_LEFT 0x01
#define PAD_RIGHT 0x02
#define PAD_UP 0x04
#define PAD_DOWN 0x08
#define PAD_A 0x10
#define PAD_B 0x20
#define PAD_START 0x40

/* The image's size in the cartridge's header: 1 for 64 KiB, 2 for 128, and so on. */
#define HEADER_SIZE (*(const unsigned char *)0x0134u)
#define BANKS (2u << HEADER_SIZE)

#endif
