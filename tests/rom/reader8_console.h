/* A machine with banks for tests: what is read of a bank that was not switched in ends the process. */
#ifndef READER8_CONSOLE_H
#define READER8_CONSOLE_H

extern const unsigned char *console_banks[];
extern unsigned int console_bank;

#define RW_BANK(number) (console_bank = (number))
#define RW_SEEN(number) console_banks[console_bank == (number) ? (number) : ~0u]

#endif
