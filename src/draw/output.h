/* A finished picture put on the disk whole or not at all. */
#ifndef DRAW_OUTPUT_H
#define DRAW_OUTPUT_H

#include <stdbool.h>
#include <stddef.h>

/* Writes to a temporary name in the same folder and renames that over the path, so that a full disk
 * leaves what was there before. "-" is standard output; that, a device and a pipe are written
 * straight. False with *why for the caller to free. */
bool output_write(const char *path, const char *bytes, size_t length, char **why);

#endif
