/* The terminal's mode while its keys are read: no echo, no lines, no flow control; Ctrl-C is a key,
 * Ctrl-\ still ends a program that hangs. At most one terminal at a time; pedals_restore_terminal
 * (pedal.h) is the emergency exit. */
#ifndef PEDAL_TERMINAL_H
#define PEDAL_TERMINAL_H

#include <stdbool.h>

/* False when fd is no terminal or not ours to read; *why is static text. */
bool terminal_enter(int fd, const char **why);
void terminal_leave(void);

#endif
