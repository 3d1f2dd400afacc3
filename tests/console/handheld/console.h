/* The invented handheld of the shipped target Pebble 8, as tests/console/pebble_machine.py runs it. */
#ifndef CONSOLE_H
#define CONSOLE_H

__sfr __at 0x00 bank_port; /* number of the bank seen at 0x4000 */
__sfr __at 0x01 show_port; /* any number: one picture is shown */
__sfr __at 0x02 colour_port; /* low and high byte of the next palette entry */
__sfr __at 0x03 stop_port; /* 1: all is well */

#define RW_BANK(number) (bank_port = (unsigned char)(number))

#endif
