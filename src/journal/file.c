/* Folders, the lock, syncing and moving files. */
#include "journal/internal.h"

#include "base/base.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <libgen.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

char *journal_default_path(void)
{
	const char *path = getenv("PULLCALL_JOURNAL");
	if (path && *path)
		return memory_copy(path);
	return path_data("journal.db");
}

bool journal_is_missing(const struct journal *journal)
{
	struct stat found;

	if (stat(journal->path, &found) != 0)
		return errno == ENOENT;
	return S_ISREG(found.st_mode) && found.st_size == 0;
}

static char *folder_of(const char *path)
{
	char *copy = memory_copy(path);
	char *folder = memory_copy(dirname(copy));

	free(copy);
	return folder;
}

/* mkdir -p, readable by the owner alone. A parent that may not be made may exist all the same; if
 * it does not, its error is the one to report. */
static int make_folders(char *folder)
{
	int refused = 0;

	for (char *slash = folder + 1; (slash = strchr(slash, '/')); slash++) {
		*slash = '\0';
		if (mkdir(folder, 0700) != 0 && errno != EEXIST)
			refused = errno;
		*slash = '/';
	}
	if (mkdir(folder, 0700) == 0 || errno == EEXIST)
		return 0;
	return errno == ENOENT && refused ? refused : errno;
}

enum journal_status journal_make_folders(struct journal *journal)
{
	char *folder = folder_of(journal->path);
	int error = make_folders(folder);

	free(folder);
	return error ? journal_fail_errno(journal, "make its folder", error) : JOURNAL_OK;
}

int journal_sync(const char *path)
{
	int descriptor = open(path, O_RDONLY | O_CLOEXEC);
	int error = descriptor < 0 || fsync(descriptor) != 0 ? errno : 0;

	if (descriptor >= 0)
		close(descriptor);
	return error;
}

enum journal_status journal_sync_folder(struct journal *journal, const char *path)
{
	char *folder = folder_of(path);
	int error = journal_sync(folder);

	free(folder);
	return error ? journal_fail_errno(journal, "sync its folder", error) : JOURNAL_OK;
}

int journal_move(const char *from, const char *to, const char *suffix)
{
	char *old = memory_format("%s%s", from, suffix), *new = memory_format("%s%s", to, suffix);
	int error = rename(old, new) == 0 || errno == ENOENT ? 0 : errno;

	free(old);
	free(new);
	return error;
}

int journal_count_set_aside(const struct journal *journal)
{
	char *folder = folder_of(journal->path), *path = memory_copy(journal->path);
	char *damaged = memory_format("%s.damaged-", basename(path));
	char *stray = memory_format("%s-wal.stray", basename(path));
	DIR *entries = opendir(folder);
	int count = 0;

	for (struct dirent *entry; entries && (entry = readdir(entries));)
		count += strncmp(entry->d_name, damaged, strlen(damaged)) == 0 ||
			 strcmp(entry->d_name, stray) == 0;
	if (entries)
		closedir(entries);
	free(stray);
	free(damaged);
	free(path);
	free(folder);
	return count;
}

/* The process that holds the lock, as written in it, or 0. */
static int holder(int descriptor)
{
	char text[16] = {0};

	return pread(descriptor, text, sizeof text - 1, 0) > 0 ? (int)strtol(text, NULL, 10) : 0;
}

/* flock on a file of its own: the kernel releases it when its holder dies, and closing the database
 * elsewhere in this program does not, as it would a POSIX lock. The file is never removed, or two
 * programs could lock two files. */
enum journal_status journal_lock(struct journal *journal)
{
	char *path = memory_format("%s.lock", journal->path);

	journal->lock = open(path, O_RDWR | O_CREAT | O_CLOEXEC, 0600);
	int error = errno;
	free(path);
	if (journal->lock < 0)
		return journal_fail_errno(journal, "make its lock file", error);
	if (flock(journal->lock, LOCK_EX | LOCK_NB) != 0) {
		error = errno;
		int other = holder(journal->lock);
		close(journal->lock);
		journal->lock = -1;
		if (error != EWOULDBLOCK)
			return journal_fail_errno(journal, "lock it", error);
		return journal_fail(journal, JOURNAL_BUSY,
				    "another program is writing it (process %d)", other);
	}
	/* Only for that message, so a full disk is no failure. */
	if (ftruncate(journal->lock, 0) == 0)
		dprintf(journal->lock, "%d\n", (int)getpid());
	return JOURNAL_OK;
}
