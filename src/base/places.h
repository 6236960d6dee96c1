/* Where files are found, by the XDG Base Directory specification.
 *
 * Our own data (patterns, phrasebooks) is looked for, first hit wins:
 *   1. the folder that $PULLCALL_PATTERNS or $PULLCALL_VOICE names
 *   2. $XDG_DATA_HOME/pullcall/KIND (~/.local/share/pullcall/KIND)
 *   3. ../share/pullcall/KIND, seen from the running program: an installed tree may be moved, and a
 * build tree is laid out the same way
 */
#ifndef BASE_PLACES_H
#define BASE_PLACES_H

#include <stdbool.h>

enum place_kind { PLACE_PATTERNS, PLACE_VOICE };

/* The path of NAME.yaml; the caller frees it. NULL if it is nowhere: *looked then lists the
 * folders, the caller frees that. `beside` is a file whose folder is looked in first, or NULL. */
char *place_find(enum place_kind kind, const char *name, const char *beside, char **looked);

/* The NAME of a file in the same folders whose name is nearly the same, for "did you mean"; the
 * caller frees it. NULL: there is none. */
char *place_nearest(enum place_kind kind, const char *name, const char *beside);

/* The folders of a kind in that order, each freed by the caller; returns how many (at most 3). */
int place_folders(enum place_kind kind, char *folders[static 3]);

/* $XDG_CONFIG_HOME/pullcall/NAME, $XDG_DATA_HOME/pullcall/NAME, and their defaults; NULL without a
 * HOME. The caller frees them. Nothing is created. */
char *place_config(const char *name);
char *place_data(const char *name);

/* $XDG_RUNTIME_DIR/pullcall, or NULL if the variable is not set; the caller frees it. */
char *place_runtime(void);

/* The folder of the running program; the caller frees it. NULL if /proc is not there. */
char *place_program(void);

#endif
