/* A disk that loses power, or fills up, at a chosen operation: an SQLite VFS over the real one.
 *
 * It remembers, for each file, what would be on the medium: what was written is only there once
 * the file has been synced, a rename once the folder has. When the power goes, every operation from
 * then on fails; disk_restore then turns the files into what a restart would find. Calls of
 * rename() and fsync() outside SQLite count too: link with -Wl,--wrap=rename,--wrap=fsync.
 *
 * Operations are writes, truncations, syncs, removals and renames. */
#ifndef TESTS_JOURNAL_DISK_H
#define TESTS_JOURNAL_DISK_H

#include <stdbool.h>

/* Makes it the default VFS, with no failure planned. */
void disk_start(void);

/* Takes it away again, and forgets all files. */
void disk_stop(void);

/* The operation of that number (from 0) and all later ones fail. With a seed, of what was not
 * synced a random half of the sectors has got to the medium; with 0, nothing has. */
void disk_power_off_at(long operation, unsigned seed);

/* From the write of that number (from 0), so many writes find the disk full. */
void disk_full_at(long write, long count);

/* Syncs do nothing but say that they did: to see that a test would notice. */
void disk_lie(bool lies);

/* How many operations and writes there have been. */
long disk_operations(void);
long disk_writes(void);
bool disk_is_off(void);

/* After the power went and everything was closed: what is on the medium becomes the files. */
void disk_restore(void);

#endif
