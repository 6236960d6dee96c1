/* Opening a journal: its files, creating it, bringing it up to date, setting it aside. */
#include "journal/internal.h"

#include "base/base.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <libgen.h>
#include <stdlib.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

enum { BUSY_MS = 250, CHECKED_BYTES_MAX = 32 * 1024 * 1024 /* some three thousand jobs */ };

/* "pulc", by which file(1) can know a journal; and the version of tables.sql, which sets both. */
enum { APPLICATION = 0x70756c63, VERSION = 2 };

/* ---- files and folders ---- */

char *journal_default_path(void)
{
	const char *path = getenv("PULLCALL_JOURNAL");

	return path && *path ? memory_copy(path) : path_data("journal.db");
}

const char *journal_path(const struct journal *journal)
{
	return journal->path;
}

char *journal_option(const char *path)
{
	char *usual = journal_default_path(), *word = text_shell_word(path ? path : "");
	bool is_usual = !path || (usual && strcmp(path, usual) == 0);
	char *option = memory_format("%s%s", is_usual ? "" : " --journal ", is_usual ? "" : word);

	free(usual);
	free(word);
	return option;
}

static bool is_missing_or_empty(const char *path)
{
	struct stat found;

	if (stat(path, &found) != 0)
		return errno == ENOENT;
	return S_ISREG(found.st_mode) && found.st_size == 0;
}

/* 0 if there is no such file. */
static int64_t file_size(const char *path)
{
	struct stat found;

	return stat(path, &found) == 0 ? (int64_t)found.st_size : 0;
}

/* A journal that was closed properly has no log: closing moves it into the file. */
static bool has_log(const struct journal *journal)
{
	char *log = memory_format("%s-wal", journal->path);
	int64_t size = file_size(log);

	free(log);
	return size > 0;
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
static enum journal_status make_folders(struct journal *journal)
{
	char *folder = folder_of(journal->path);
	int refused = 0, error = 0;

	for (char *slash = folder + 1; (slash = strchr(slash, '/')); slash++) {
		*slash = '\0';
		if (mkdir(folder, 0700) != 0 && errno != EEXIST)
			refused = errno;
		*slash = '/';
	}
	if (mkdir(folder, 0700) != 0 && errno != EEXIST)
		error = errno == ENOENT && refused ? refused : errno;
	free(folder);
	return error ? journal_fail_errno(journal, "make its folder", error) : JOURNAL_OK;
}

/* No such file is fine. 0 or an errno. */
static int move_beside(const char *from, const char *suffix, const char *to, const char *new_suffix)
{
	char *old = memory_format("%s%s", from, suffix);
	char *new = memory_format("%s%s", to, new_suffix);
	int error = rename(old, new) == 0 || errno == ENOENT ? 0 : errno;

	free(old);
	free(new);
	return error;
}

enum journal_status journal_sync_folder(struct journal *journal, const char *path)
{
	char *folder = folder_of(path);
	int descriptor = open(folder, O_RDONLY | O_CLOEXEC);
	int error = descriptor < 0 || fsync(descriptor) != 0 ? errno : 0;

	if (descriptor >= 0)
		close(descriptor);
	free(folder);
	return error ? journal_fail_errno(journal, "sync its folder", error) : JOURNAL_OK;
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
static enum journal_status lock(struct journal *journal)
{
	char *path = memory_format("%s.lock", journal->path);
	int descriptor = open(path, O_RDWR | O_CREAT | O_CLOEXEC, 0600);
	int error = errno;

	free(path);
	if (descriptor < 0)
		return journal_fail_errno(journal, "make its lock file", error);
	if (flock(descriptor, LOCK_EX | LOCK_NB) != 0) {
		error = errno;
		int other = holder(descriptor);
		close(descriptor);
		return error == EWOULDBLOCK
			       ? journal_fail(journal, JOURNAL_BUSY,
					      "another program is writing it (process %d)", other)
			       : journal_fail_errno(journal, "lock it", error);
	}
	journal->lock = descriptor;
	/* Only for that message, so a full disk is no failure. */
	if (ftruncate(descriptor, 0) == 0)
		dprintf(descriptor, "%d\n", (int)getpid());
	return JOURNAL_OK;
}

/* ---- tables ---- */

/* Brings a journal up to date in one transaction, so that after a power cut it is of the one
 * version or the other: of an old one, renames the tables, creates those of a new journal, and
 * copies the rows. An open job of version 1 has no script; one is made from the plan and the
 * pattern in the journal when the job is continued. */
static enum journal_status migrate(struct journal *journal)
{
	if (journal->version == VERSION)
		return JOURNAL_OK;
	journal_begin_transaction(journal, journal->version ? "bring it up to date" : "begin it");
	journal_do_made(journal, migrate_from_sql);
	journal_do(journal, tables_sql, NULL);
	journal_do(journal, views_sql, NULL);
	journal_do_made(journal, migrate_to_sql);
	enum journal_status status = journal_end_transaction(journal);
	if (status == JOURNAL_OK)
		journal->version = VERSION;
	return status;
}

/* ---- opening ---- */

/* A path as a URI; the option "immutable=1" tells SQLite that nobody can be writing the file. */
static char *uri_of(const char *path, const char *options)
{
	struct text uri = {0};

	text_add(&uri, "file:");
	for (; *path; path++) {
		if (strchr("%?#", *path))
			text_format(&uri, "%%%02x", (unsigned)*path);
		else
			text_add_char(&uri, *path);
	}
	text_format(&uri, "?%s", options);
	return text_take(&uri);
}

/* The SQL aggregate work(run, working, steady_us) over the events of a job in their order: what
 * job_time calls work_us, in one pass and so in a third of the time. */
struct work_sum {
	int64_t run;
	int64_t steady_us;
	int64_t us;
	bool working;
};

static void work_step(sqlite3_context *context, int count, sqlite3_value **values)
{
	struct work_sum *work = sqlite3_aggregate_context(context, sizeof *work);
	int64_t run = sqlite3_value_int64(values[0]), steady_us = sqlite3_value_int64(values[2]);

	(void)count;
	if (!work)
		return;
	if (work->working && run == work->run)
		work->us += steady_us - work->steady_us;
	work->run = run;
	work->working = sqlite3_value_int(values[1]);
	work->steady_us = steady_us;
}

static void work_end(sqlite3_context *context)
{
	const struct work_sum *work = sqlite3_aggregate_context(context, sizeof *work);

	sqlite3_result_int64(context, work ? work->us : 0);
}

/* A journal may come from anywhere: its views and triggers call nothing that reaches outside. */
static void prepare_to_ask(sqlite3 *database)
{
	sqlite3_db_config(database, SQLITE_DBCONFIG_DEFENSIVE, 1, NULL);
	sqlite3_db_config(database, SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0, NULL);
	sqlite3_create_function(database, "work", 3, SQLITE_UTF8 | SQLITE_DIRECTONLY, NULL, NULL,
				work_step, work_end);
}

static enum journal_status connect(struct journal *journal, const char *options)
{
	sqlite3_close(journal->database);
	free(journal->uri);
	journal->uri = uri_of(journal->path, options);
	journal->doing = "open it";
	int result = sqlite3_open_v2(journal->uri, &journal->database,
				     SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE | SQLITE_OPEN_URI |
					     SQLITE_OPEN_EXRESCODE,
				     NULL);

	if (result != SQLITE_OK)
		return journal_fail_sql(journal, result);
	journal_touch_nothing_on_close(journal, true); /* until the file has passed every check */
	prepare_to_ask(journal->database);
	sqlite3_busy_timeout(journal->database, BUSY_MS);
	return journal_do(journal, "PRAGMA cell_size_check = ON", NULL);
}

/* A first page of zeros is how a disk loses a page: more likely a damaged journal than another
 * program's file. */
static enum journal_status explain_not_database(struct journal *journal)
{
	char head[16] = {0};
	static const char zeros[sizeof head];
	FILE *file = fopen(journal->path, "rb");
	bool read = file && fread(head, sizeof head, 1, file) == 1;

	if (file)
		fclose(file);
	if (read && memcmp(head, zeros, sizeof head) == 0)
		return journal_fail(journal, JOURNAL_CORRUPT, "its first page is gone");
	return JOURNAL_NOT_OURS;
}

static enum journal_status identify(struct journal *journal)
{
	int application = 0, version = 0;
	enum journal_status status = journal_ask(
		journal,
		"SELECT application_id, user_version FROM pragma_application_id, pragma_user_version",
		NULL, TARGETS(INTO(application), INTO(version)));

	if (status == JOURNAL_NOT_OURS)
		return explain_not_database(journal);
	if (status != JOURNAL_OK)
		return status;
	/* New, or begun by a program that was killed: what it wrote was just rolled back. */
	bool is_empty = application == 0 && file_size(journal->path) == 0;
	if (!is_empty && (application != APPLICATION || version < 1))
		return journal_fail(journal, JOURNAL_NOT_OURS, "it is not a journal of pullcall");
	if (version > VERSION)
		return journal_fail(
			journal, JOURNAL_NEWER,
			"it was written by a newer pullcall (its version %d, known here "
			"up to %d)",
			version, VERSION);
	journal->version = version;
	return JOURNAL_OK;
}

enum journal_status journal_check(struct journal *journal)
{
	char *answer = NULL;
	enum journal_status status =
		journal_ask(journal, "PRAGMA quick_check(1)", NULL, TARGETS(INTO(answer)));

	if (status == JOURNAL_OK && answer && strcmp(answer, "ok") != 0)
		status = journal_fail(journal, JOURNAL_CORRUPT, "the file is damaged");
	free(answer);
	return status;
}

/* Checking reads the whole file, at about 20 MB a second from a slow medium: not worth it for a
 * large journal that was closed properly. */
static enum journal_status prepare_to_write(struct journal *journal, bool was_left_open)
{
	bool check = journal->lock >= 0 &&
		     (was_left_open || file_size(journal->path) <= CHECKED_BYTES_MAX);
	int moved = 0;

	if (sqlite3_db_readonly(journal->database, "main") != 0)
		return journal_fail(journal, JOURNAL_READ_ONLY, "it may only be read");
	/* Another program may have set the file aside before it was locked. */
	sqlite3_file_control(journal->database, "main", SQLITE_FCNTL_HAS_MOVED, &moved);
	if (moved)
		return journal_fail(journal, JOURNAL_BUSY, "another program has just moved it");
	if (chmod(journal->path, 0600) != 0 && errno != EPERM)
		return journal_fail_errno(journal, "make it private", errno);
	enum journal_status status = check ? journal_check(journal) : JOURNAL_OK;
	if (status == JOURNAL_OK)
		status = journal_do(journal,
				    "PRAGMA synchronous = FULL; PRAGMA foreign_keys = ON;"
				    "PRAGMA secure_delete = ON; SELECT count(*) FROM sqlite_schema",
				    NULL);
	if (status == JOURNAL_OK)
		journal_touch_nothing_on_close(journal, false);
	if (status == JOURNAL_OK)
		status = migrate(journal);
	return status == JOURNAL_OK ? journal_do(journal, "PRAGMA journal_mode = WAL", NULL)
				    : status;
}

static enum journal_status open_to_write(struct journal *journal, bool share)
{
	enum journal_status status = make_folders(journal);
	int error = 0;

	if (status == JOURNAL_OK && is_missing_or_empty(journal->path)) {
		status = lock(journal);
		/* SQLite would remove the log of a journal that is gone. */
		if (status == JOURNAL_OK && is_missing_or_empty(journal->path))
			error = move_beside(journal->path, "-wal", journal->path, "-wal.stray");
		if (error)
			return journal_fail_errno(journal, "begin it", error);
	}
	bool was_left_open = has_log(journal);
	if (status == JOURNAL_OK)
		status = connect(journal, "mode=rwc");
	if (status == JOURNAL_OK)
		status = identify(journal);
	if (status == JOURNAL_OK && journal->lock < 0 && (!share || journal->version != VERSION))
		status = lock(journal);
	return status == JOURNAL_OK ? prepare_to_write(journal, was_left_open) : status;
}

/* SQLite cannot read a log in a read-only folder; without a log the file is complete. */
static enum journal_status reopen_immutable(struct journal *journal)
{
	if (has_log(journal))
		return journal_fail(journal, JOURNAL_READ_ONLY,
				    "it was left open and its folder may not be written: copy it, "
				    "with its -wal file, to where that is allowed");
	enum journal_status status = connect(journal, "mode=ro&immutable=1");
	return status == JOURNAL_OK ? identify(journal) : status;
}

/* Brings an older journal up to date in memory, so that readers know only one version. */
static enum journal_status read_as_new(struct journal *journal)
{
	sqlite3 *memory = NULL;
	sqlite3_open(":memory:", &memory);
	sqlite3_backup *copy = sqlite3_backup_init(memory, "main", journal->database, "main");

	if (copy)
		sqlite3_backup_step(copy, -1);
	int result = copy ? sqlite3_backup_finish(copy) : sqlite3_errcode(memory);
	if (result != SQLITE_OK) {
		sqlite3_close(memory);
		return journal_fail_sql(journal, result);
	}
	sqlite3_close(journal->database);
	journal->database = memory;
	prepare_to_ask(memory);
	return migrate(journal);
}

static enum journal_status open_to_read(struct journal *journal)
{
	if (is_missing_or_empty(journal->path))
		return journal_fail(journal, JOURNAL_NONE, "there is none");
	enum journal_status status = connect(journal, "mode=ro");
	if (status == JOURNAL_OK)
		status = identify(journal);
	if (status == JOURNAL_READ_ONLY)
		status = reopen_immutable(journal);
	if (status == JOURNAL_OK && journal->version != VERSION)
		status = read_as_new(journal);
	return status;
}

/* Of a journal that is not open. */
static struct journal *journal_at(const char *path)
{
	struct journal *journal = memory_new(1, sizeof *journal);

	journal->path = memory_copy(path);
	journal->lock = -1;
	return journal;
}

enum journal_status journal_open(const char *path, enum journal_mode mode, struct journal **out,
				 char **error)
{
	struct journal *journal = journal_at(path);
	enum journal_status status = mode == JOURNAL_READ
					     ? open_to_read(journal)
					     : open_to_write(journal, mode == JOURNAL_SHARE);

	journal->doing = NULL;
	*out = status == JOURNAL_OK ? journal : NULL;
	*error = status == JOURNAL_OK ? NULL : memory_copy(journal_message(journal));
	if (status != JOURNAL_OK)
		journal_close(journal);
	return status;
}

void journal_close(struct journal *journal)
{
	if (!journal)
		return;
	journal_flush(journal);
	for (int i = 0; i < journal->waiting_count; i++)
		free(journal->waiting[i].detail);
	free(journal->waiting);
	sqlite3_close(journal->database);
	if (journal->lock >= 0)
		close(journal->lock); /* only now: closing the database may still write */
	free(journal->message);
	free(journal->path);
	free(journal->uri);
	free(journal);
}

/* ---- setting aside ---- */

/* PATH.damaged-20261125-143829 in UTC, with a number added if that exists. */
static char *free_name(const char *path)
{
	time_t now = (time_t)(clock_wall_us() / SECOND_US);
	char stamp[32] = "";
	struct tm utc;

	if (gmtime_r(&now, &utc))
		strftime(stamp, sizeof stamp, "%Y%m%d-%H%M%S", &utc);
	char *name = memory_format("%s.damaged-%s", path, stamp);
	for (int i = 2; access(name, F_OK) == 0; i++) {
		free(name);
		name = memory_format("%s.damaged-%s-%d", path, stamp, i);
	}
	return name;
}

/* The database first. If the power goes before the log is moved, the next opening to write moves
 * that away; a database left without its log would look complete. */
static enum journal_status move_aside(struct journal *journal, const char *name)
{
	int error = rename(journal->path, name) == 0 ? 0 : errno;

	if (!error)
		error = move_beside(journal->path, "-wal", name, "-wal");
	if (!error)
		error = move_beside(journal->path, "-shm", name, "-shm");
	return error ? journal_fail_errno(journal, "set it aside", error)
		     : journal_sync_folder(journal, journal->path);
}

enum journal_status journal_set_aside(const char *path, char **aside, char **error)
{
	struct journal *journal = journal_at(path);
	char *name = free_name(path);
	enum journal_status status = lock(journal);

	if (status == JOURNAL_OK)
		status = move_aside(journal, name);
	*aside = status == JOURNAL_OK ? memory_copy(name) : NULL;
	*error = status == JOURNAL_OK ? NULL : memory_copy(journal_message(journal));
	journal_close(journal);
	free(name);
	return status;
}
