/* Memory that is either there or ends the program.
 *
 * What pullcall holds is small and bounded by the limits of its readers, so running out means that
 * the machine is in trouble. There is nothing better to do then than to stop at once: the journal
 * is on disk and the job goes on at the same call when the program is started again.
 */
#ifndef BASE_MEMORY_H
#define BASE_MEMORY_H

#include <stdarg.h>
#include <stddef.h>

/* Zeroed memory for count things of size bytes. */
void *memory_new(size_t count, size_t size);

/* Makes room for count things of size bytes; what is new is not zeroed. */
void *memory_resize(void *old, size_t count, size_t size);

/* A copy of text, and a copy of its first length bytes; the caller frees it. NULL gives NULL. */
char *memory_copy(const char *text);
char *memory_copy_part(const char *text, size_t length);

/* Frees *text and puts a copy of `with` in its place. */
void memory_replace(char **text, const char *with);

/* printf into new memory; the caller frees it. */
char *memory_format(const char *format, ...) __attribute__((format(printf, 1, 2)));

#endif
