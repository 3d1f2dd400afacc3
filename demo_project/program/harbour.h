/* The part of the game that runs: a pair of couriers in a harbour, and the buttons that change them. */
#ifndef HARBOUR_H
#define HARBOUR_H

#include "display.h"

/* Never returns. */
void run_harbour(Display *display);

#endif
