#include "journal/disk.h"

#include <errno.h>
#include <fcntl.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { FILES_MAX = 256, RENAMES_MAX = 8, PATH_ROOM = 300, SECTOR = 512 };

/* A write that is not on the medium yet; bytes NULL: a truncation to offset. */
struct change {
	sqlite3_int64 offset;
	char *bytes;
	int length;
};

/* A file as the medium has it, and what is to come. Known by its inode, as it may be renamed. */
struct medium {
	ino_t inode;
	char path[PATH_ROOM];
	char *bytes;
	size_t size;
	size_t room;
	struct change *changes;
	int change_count;
	int change_room;
	bool removed;
	bool removal_synced;
};

struct moved {
	char from[PATH_ROOM];
	char to[PATH_ROOM];
};

static struct {
	struct medium files[FILES_MAX];
	int file_count;
	struct moved moves[RENAMES_MAX];
	int move_count;
	long operations;
	long writes;
	long off_at; /* -1: never */
	long full_at;
	long full_count;
	unsigned seed;
	bool lies;
} disk;

/* An open file: SQLite sees it, `real` does the work. medium NULL: a temporary file. */
struct handle {
	sqlite3_file file;
	struct medium *medium;
	sqlite3_file *real;
};

static sqlite3_vfs *real_vfs;

bool disk_is_off(void)
{
	return disk.off_at >= 0 && disk.operations > disk.off_at;
}

/* Counts an operation; true if the power is gone. */
static bool power_fails(void)
{
	disk.operations++;
	return disk_is_off();
}

static void medium_resize(struct medium *medium, size_t size)
{
	if (size >= medium->room) {
		medium->room = 2 * size + 1;
		medium->bytes = realloc(medium->bytes, medium->room);
	}
	if (size > medium->size)
		memset(medium->bytes + medium->size, 0, size - medium->size);
	medium->size = size;
}

static void medium_write(struct medium *medium, sqlite3_int64 offset, const char *bytes,
			 size_t length)
{
	if ((size_t)offset + length > medium->size)
		medium_resize(medium, (size_t)offset + length);
	memcpy(medium->bytes + offset, bytes, length);
}

/* Whether the next piece that was not synced has got to the medium all the same. */
static bool survives(void)
{
	return disk.seed && rand_r(&disk.seed) % 2;
}

static void apply(struct medium *medium, const struct change *change, bool synced)
{
	if (!change->bytes) {
		if (synced || survives())
			medium_resize(medium, (size_t)change->offset);
		return;
	}
	for (int at = 0; at < change->length; at += SECTOR) {
		int length = change->length - at < SECTOR ? change->length - at : SECTOR;
		if (synced || survives())
			medium_write(medium, change->offset + at, change->bytes + at,
				     (size_t)length);
	}
}

static void settle(struct medium *medium, bool synced)
{
	for (int i = 0; i < medium->change_count; i++) {
		apply(medium, &medium->changes[i], synced);
		free(medium->changes[i].bytes);
	}
	free(medium->changes);
	medium->changes = NULL;
	medium->change_count = medium->change_room = 0;
}

static void add_change(struct medium *medium, sqlite3_int64 offset, const char *bytes, int length)
{
	if (medium->change_count == medium->change_room) {
		medium->change_room = 2 * medium->change_room + 8;
		medium->changes = realloc(medium->changes,
					  (size_t)medium->change_room * sizeof *medium->changes);
	}
	struct change *change = &medium->changes[medium->change_count++];
	*change = (struct change){.offset = offset, .length = length};
	if (bytes) {
		change->bytes = malloc((size_t)length + 1);
		memcpy(change->bytes, bytes, (size_t)length);
	}
}

static struct medium *find_inode(ino_t inode)
{
	for (int i = 0; i < disk.file_count; i++) {
		if (disk.files[i].inode == inode)
			return &disk.files[i];
	}
	return NULL;
}

/* What is in the file when it is first seen counts as being on the medium. */
static struct medium *track(const char *path)
{
	struct stat found;

	if (stat(path, &found) != 0)
		abort();
	struct medium *medium = find_inode(found.st_ino);
	if (medium)
		return medium;
	if (disk.file_count == FILES_MAX)
		abort();
	medium = &disk.files[disk.file_count++];
	*medium = (struct medium){.inode = found.st_ino};
	snprintf(medium->path, sizeof medium->path, "%s", path);
	int file = open(path, O_RDONLY);
	medium_resize(medium, (size_t)found.st_size);
	if (file < 0 || read(file, medium->bytes, medium->size) != (ssize_t)medium->size)
		abort();
	close(file);
	return medium;
}

static sqlite3_file *real_of(sqlite3_file *file)
{
	return ((struct handle *)file)->real;
}

static int shim_close(sqlite3_file *file)
{
	sqlite3_file *real = real_of(file);
	int result = real->pMethods->xClose(real);

	free(real);
	return result;
}

static int shim_read(sqlite3_file *file, void *bytes, int length, sqlite3_int64 offset)
{
	sqlite3_file *real = real_of(file);

	return disk_is_off() ? SQLITE_IOERR_READ
			     : real->pMethods->xRead(real, bytes, length, offset);
}

static int shim_write(sqlite3_file *file, const void *bytes, int length, sqlite3_int64 offset)
{
	struct handle *handle = (struct handle *)file;
	long write = disk.writes;

	if (handle->medium) {
		disk.writes++;
		if (power_fails())
			return SQLITE_IOERR_WRITE;
		if (write >= disk.full_at && write < disk.full_at + disk.full_count)
			return SQLITE_FULL;
		add_change(handle->medium, offset, bytes, length);
	}
	return handle->real->pMethods->xWrite(handle->real, bytes, length, offset);
}

static int shim_truncate(sqlite3_file *file, sqlite3_int64 size)
{
	struct handle *handle = (struct handle *)file;

	if (handle->medium) {
		if (power_fails())
			return SQLITE_IOERR_TRUNCATE;
		add_change(handle->medium, size, NULL, 0);
	}
	return handle->real->pMethods->xTruncate(handle->real, size);
}

/* The real file is not synced: it would only cost time. */
static int shim_sync(sqlite3_file *file, int flags)
{
	struct handle *handle = (struct handle *)file;

	(void)flags;
	if (handle->medium) {
		if (power_fails())
			return SQLITE_IOERR_FSYNC;
		if (!disk.lies)
			settle(handle->medium, true);
	}
	return SQLITE_OK;
}

static int shim_size(sqlite3_file *file, sqlite3_int64 *size)
{
	return real_of(file)->pMethods->xFileSize(real_of(file), size);
}

static int shim_lock(sqlite3_file *file, int level)
{
	return real_of(file)->pMethods->xLock(real_of(file), level);
}

static int shim_unlock(sqlite3_file *file, int level)
{
	return real_of(file)->pMethods->xUnlock(real_of(file), level);
}

static int shim_check_lock(sqlite3_file *file, int *out)
{
	return real_of(file)->pMethods->xCheckReservedLock(real_of(file), out);
}

/* Room is not asked for ahead: that would change the file's size behind this file's back. */
static int shim_control(sqlite3_file *file, int operation, void *argument)
{
	if (operation == SQLITE_FCNTL_SIZE_HINT || operation == SQLITE_FCNTL_CHUNK_SIZE)
		return SQLITE_OK;
	return real_of(file)->pMethods->xFileControl(real_of(file), operation, argument);
}

static int shim_sector(sqlite3_file *file)
{
	(void)file;
	return SECTOR;
}

/* Nothing is promised about writes that were not synced. */
static int shim_characteristics(sqlite3_file *file)
{
	(void)file;
	return 0;
}

static int shim_map(sqlite3_file *file, int page, int size, int extend, void volatile **out)
{
	return real_of(file)->pMethods->xShmMap(real_of(file), page, size, extend, out);
}

static int shim_shm_lock(sqlite3_file *file, int offset, int count, int flags)
{
	return real_of(file)->pMethods->xShmLock(real_of(file), offset, count, flags);
}

static void shim_barrier(sqlite3_file *file)
{
	real_of(file)->pMethods->xShmBarrier(real_of(file));
}

static int shim_unmap(sqlite3_file *file, int remove)
{
	return real_of(file)->pMethods->xShmUnmap(real_of(file), remove);
}

static const sqlite3_io_methods shim_methods = {
	.iVersion = 2,
	.xClose = shim_close,
	.xRead = shim_read,
	.xWrite = shim_write,
	.xTruncate = shim_truncate,
	.xSync = shim_sync,
	.xFileSize = shim_size,
	.xLock = shim_lock,
	.xUnlock = shim_unlock,
	.xCheckReservedLock = shim_check_lock,
	.xFileControl = shim_control,
	.xSectorSize = shim_sector,
	.xDeviceCharacteristics = shim_characteristics,
	.xShmMap = shim_map,
	.xShmLock = shim_shm_lock,
	.xShmBarrier = shim_barrier,
	.xShmUnmap = shim_unmap,
};

static int shim_open(sqlite3_vfs *vfs, const char *path, sqlite3_file *file, int flags,
		     int *out_flags)
{
	struct handle *handle = (struct handle *)file;

	(void)vfs;
	*handle = (struct handle){0};
	if (disk_is_off())
		return SQLITE_CANTOPEN;
	handle->real = calloc(1, (size_t)real_vfs->szOsFile);
	int result = real_vfs->xOpen(real_vfs, path, handle->real, flags, out_flags);
	if (result != SQLITE_OK) {
		free(handle->real);
		return result;
	}
	handle->file.pMethods = &shim_methods;
	if (path)
		handle->medium = track(path);
	return SQLITE_OK;
}

static int shim_delete(sqlite3_vfs *vfs, const char *path, int sync_folder)
{
	struct stat found;

	(void)vfs;
	if (power_fails())
		return SQLITE_IOERR_DELETE;
	struct medium *medium = stat(path, &found) == 0 ? find_inode(found.st_ino) : NULL;
	int result = real_vfs->xDelete(real_vfs, path, 0);
	if (medium && result == SQLITE_OK) {
		snprintf(medium->path, sizeof medium->path, "%s", path);
		medium->inode = 0;
		medium->removed = true;
		medium->removal_synced = sync_folder;
	}
	return result;
}

static sqlite3_vfs shim_vfs;

int __real_rename(const char *from, const char *to);
int __wrap_rename(const char *from, const char *to);
int __real_fsync(int descriptor);
int __wrap_fsync(int descriptor);

/* In the real folder and in the books. */
static int move(const char *from, const char *to)
{
	struct stat found;
	struct medium *medium = stat(from, &found) == 0 ? find_inode(found.st_ino) : NULL;

	if (medium)
		snprintf(medium->path, sizeof medium->path, "%s", to);
	return __real_rename(from, to);
}

int __wrap_rename(const char *from, const char *to)
{
	if (!real_vfs)
		return __real_rename(from, to);
	if (power_fails()) {
		errno = EIO;
		return -1;
	}
	int result = move(from, to);
	if (result == 0) {
		if (disk.move_count == RENAMES_MAX)
			abort();
		struct moved *moved = &disk.moves[disk.move_count++];
		snprintf(moved->from, sizeof moved->from, "%s", from);
		snprintf(moved->to, sizeof moved->to, "%s", to);
	}
	return result;
}

int __wrap_fsync(int descriptor)
{
	struct stat found;

	if (!real_vfs)
		return __real_fsync(descriptor);
	if (power_fails()) {
		errno = EIO;
		return -1;
	}
	if (fstat(descriptor, &found) != 0)
		return -1;
	struct medium *medium = find_inode(found.st_ino);
	if (medium)
		settle(medium, true);
	if (S_ISDIR(found.st_mode))
		disk.move_count = 0;
	return 0;
}

static void forget_files(void)
{
	for (int i = 0; i < disk.file_count; i++) {
		disk.seed = 0;
		settle(&disk.files[i], false);
		free(disk.files[i].bytes);
	}
	memset(&disk, 0, sizeof disk);
	disk.off_at = -1;
}

void disk_start(void)
{
	if (real_vfs) /* a test before has failed half-way */
		disk_stop();
	real_vfs = sqlite3_vfs_find("unix");
	forget_files();
	shim_vfs = *real_vfs;
	shim_vfs.szOsFile = sizeof(struct handle);
	shim_vfs.zName = "failing disk";
	shim_vfs.pNext = NULL;
	shim_vfs.xOpen = shim_open;
	shim_vfs.xDelete = shim_delete;
	sqlite3_vfs_register(&shim_vfs, 1);
}

void disk_stop(void)
{
	sqlite3_vfs_unregister(&shim_vfs);
	forget_files();
	real_vfs = NULL;
}

void disk_power_off_at(long operation, unsigned seed)
{
	disk.off_at = operation;
	disk.seed = seed;
}

void disk_full_at(long write, long count)
{
	disk.full_at = write;
	disk.full_count = count;
}

void disk_lie(bool lies)
{
	disk.lies = lies;
}

long disk_operations(void)
{
	return disk.operations;
}

long disk_writes(void)
{
	return disk.writes;
}

static void write_file(const char *path, const struct medium *medium)
{
	FILE *file = fopen(path, "wb");

	if (!file || fwrite(medium->bytes, 1, medium->size, file) != medium->size ||
	    fclose(file) != 0)
		abort();
}

static void restore_file(struct medium *medium)
{
	settle(medium, false);
	/* A removal that was not synced may not have happened. */
	if (!medium->removed || !medium->removal_synced)
		write_file(medium->path, medium);
}

void disk_restore(void)
{
	/* Renames that were not synced are undone, the latest first. */
	for (int i = disk.move_count - 1; i >= 0; i--)
		move(disk.moves[i].to, disk.moves[i].from);
	disk.move_count = 0;
	for (int i = 0; i < disk.file_count; i++)
		restore_file(&disk.files[i]);
}
