/* Looking after a journal: setting a damaged one aside, backing up, bringing the benches of a shop
 * together, and forgetting a person.
 */
#ifndef JOURNAL_UPKEEP_H
#define JOURNAL_UPKEEP_H

#include "journal/journal.h"

/* Moves a journal that is not open, with its write-ahead log, to a new name beside its own, byte by
 * byte as it is, so that a new one can be begun. *aside is the new name, or *error a sentence; the
 * caller frees either. */
enum journal_status journal_set_aside(const char *path, char **aside, char **error);

/* Copies the journal, as it is at one moment and while it may be written, into one file that needs
 * nothing beside it. The file appears complete or not at all. An older backup of that name is
 * replaced; a file that is not a journal is not (JOURNAL_NOT_OURS). */
enum journal_status journal_backup(struct journal *journal, const char *file);

struct journal_merged {
	int added;      /* jobs that were not here */
	int lengthened; /* jobs that were, and went on in the other journal */
	int known;      /* jobs that were here already, as far as there */
};

/* Takes in the jobs of another journal, which is only read. A job is known by its UUID, so merging
 * the same file again changes nothing; of a job that is in both, the copy with more events stays.
 * All of it or nothing. Names that were forgotten here come back with jobs of an older copy that
 * are added or lengthened. */
enum journal_status journal_merge(struct journal *journal, const char *file,
				  struct journal_merged *out);

struct journal_forgotten {
	int jobs;       /* strung by that person */
	int texts;      /* jobs and events in whose texts the name was replaced */
	int set_aside;  /* damaged journals beside this one, which may hold the name and stay */
	char alias[24]; /* what stands there now: "forgotten-1" */
};

/* Replaces a stringer's name in the whole journal: the stringer of the jobs, and the name as a
 * word, its letters a to z in either case, in plans, patterns, file names, job names and details of
 * events. Then rewrites the file and empties the write-ahead log, so that no page that was freed
 * holds it either. JOURNAL_NONE if the name was nowhere. JOURNAL_BUSY if another program is just
 * reading: the name is replaced, but may still be found in the raw file until this is called once
 * more. Backups, and journals that were set aside, are not changed. */
enum journal_status journal_forget(struct journal *journal, const char *name,
				   struct journal_forgotten *out);

#endif
